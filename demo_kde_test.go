package main

import (
	"bytes"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"

	"croftmark/domain"
)

// kdeWanted are the elements that each tracking event must have, with their paragraph: 21 CFR 1.1325 to 1.1350 [verified:
// traceability reference 1.6, text of the sections as codified]. Elements asked for only "if any" stand in kdeIfAny. The list
// is written out here and not taken from the program, so that a column lost there is missed here.
var kdeWanted = map[string][]struct{ column, paragraph string }{
	"harvest": {{"h_recipient_loc", "1.1325(a)(1)(i)"}, {"commodity", "1.1325(a)(1)(ii)"}, {"qty", "1.1325(a)(1)(iii)"}, {"uom", "1.1325(a)(1)(iii)"},
		{"farm_loc", "1.1325(a)(1)(iv)"}, {"field_name", "1.1325(a)(1)(v)"}, {"harvest_date", "1.1325(a)(1)(vii)"}, {"ref_type", "1.1325(a)(1)(viii)"}, {"ref_no", "1.1325(a)(1)(viii)"}},
	"cooling": {{"c_recipient_loc", "1.1325(b)(1)(i)"}, {"commodity", "1.1325(b)(1)(ii)"}, {"qty", "1.1325(b)(1)(iii)"}, {"uom", "1.1325(b)(1)(iii)"}, {"cool_loc", "1.1325(b)(1)(iv)"},
		{"cool_date", "1.1325(b)(1)(v)"}, {"farm_loc", "1.1325(b)(1)(vi)"}, {"ref_type", "1.1325(b)(1)(vii)"}, {"ref_no", "1.1325(b)(1)(vii)"}},
	"initial packing": {{"commodity", "1.1330(a)(1)"}, {"received_date", "1.1330(a)(2)"}, {"recv_qty", "1.1330(a)(3)"}, {"recv_uom", "1.1330(a)(3)"}, {"farm_loc", "1.1330(a)(4)"},
		{"field_name", "1.1330(a)(5)"}, {"harvester_name", "1.1330(a)(7)"}, {"harvester_phone", "1.1330(a)(7)"}, {"harvest_date", "1.1330(a)(8)"}, {"tlc", "1.1330(a)(11)"},
		{"product_desc", "1.1330(a)(12)"}, {"pack_qty", "1.1330(a)(13)"}, {"pack_uom", "1.1330(a)(13)"}, {"tlc_source_loc", "1.1330(a)(14)"}, {"pack_date", "1.1330(a)(15)"},
		{"ref_type", "1.1330(a)(16)"}, {"ref_no", "1.1330(a)(16)"}},
	"shipping": {{"tlc", "1.1340(a)(1)"}, {"qty", "1.1340(a)(2)"}, {"uom", "1.1340(a)(2)"}, {"product_desc", "1.1340(a)(3)"}, {"ship_to_loc", "1.1340(a)(4)"}, {"ship_from_loc", "1.1340(a)(5)"},
		{"ship_date", "1.1340(a)(6)"}, {"tlc_source_loc", "1.1340(a)(7)"}, {"ref_type", "1.1340(a)(8)"}, {"ref_no", "1.1340(a)(8)"}},
	"receiving": {{"tlc", "1.1345(a)(1)"}, {"qty", "1.1345(a)(2)"}, {"uom", "1.1345(a)(2)"}, {"product_desc", "1.1345(a)(3)"}, {"prev_source_loc", "1.1345(a)(4)"}, {"recv_loc", "1.1345(a)(5)"},
		{"recv_date", "1.1345(a)(6)"}, {"tlc_source_loc", "1.1345(a)(7)"}, {"ref_type", "1.1345(a)(8)"}, {"ref_no", "1.1345(a)(8)"}},
	"transformation": {{"in_tlc", "1.1350(a)(1)(i)"}, {"in_product_desc", "1.1350(a)(1)(ii)"}, {"in_qty", "1.1350(a)(1)(iii)"}, {"in_uom", "1.1350(a)(1)(iii)"}, {"new_tlc", "1.1350(a)(2)(i)"},
		{"transform_loc", "1.1350(a)(2)(ii)"}, {"completed_date", "1.1350(a)(2)(iii)"}, {"product_desc", "1.1350(a)(2)(iv)"}, {"qty", "1.1350(a)(2)(v)"}, {"uom", "1.1350(a)(2)(v)"},
		{"ref_type", "1.1350(a)(2)(vi)"}, {"ref_no", "1.1350(a)(2)(vi)"}},
}

// kdeIfAny must be a column; its cells may be empty.
var kdeIfAny = map[string][]string{"harvest": {"variety"}, "cooling": {"variety"}, "initial packing": {"variety", "cool_loc", "cool_date", "tlc_source_ref"},
	"shipping": {"tlc_source_ref"}, "receiving": {"tlc_source_ref"}, "transformation": {"tlc_source_ref"}}

// kdeMissing names every element that a workbook does not have, for the events it has rows of. Dates must be dates and
// quantities numbers, so that the sheet can be sorted (21 CFR 1.1455(c)(3)(ii)).
func kdeMissing(t *testing.T, f *excelize.File) (missing []string, rows map[string]int) {
	t.Helper()
	rows = map[string]int{}
	for event, wanted := range kdeWanted {
		if !slices.Contains(f.GetSheetList(), event) {
			continue
		}
		table, err := f.GetRows(event)
		if err != nil || len(table) == 0 {
			t.Fatalf("%s: %v", event, err)
		}
		rows[event] = len(table) - 1
		for _, name := range kdeIfAny[event] {
			if !slices.Contains(table[0], name) {
				missing = append(missing, event+" has no column "+name)
			}
		}
		for _, w := range wanted {
			column := slices.Index(table[0], w.column)
			if column < 0 {
				missing = append(missing, fmt.Sprintf("%s has no column %s (%s)", event, w.column, w.paragraph))
				continue
			}
			for i := range table[1:] {
				missing = append(missing, kdeFault(t, f, event, w.column, w.paragraph, column, i+2)...)
			}
		}
	}
	return missing, rows
}

func kdeFault(t *testing.T, f *excelize.File, event, name, paragraph string, column, row int) []string {
	t.Helper()
	at, err := excelize.CoordinatesToCellName(column+1, row)
	if err != nil {
		t.Fatal(err)
	}
	value, err := f.GetCellValue(event, at)
	if err != nil {
		t.Fatal(err)
	}
	if strings.TrimSpace(value) == "" {
		return []string{fmt.Sprintf("%s %s: %s is missing (%s)", event, at, name, paragraph)}
	}
	kind, err := f.GetCellType(event, at)
	if err != nil {
		t.Fatal(err)
	}
	isNumber := kind == excelize.CellTypeUnset || kind == excelize.CellTypeNumber // dates are numbers with a format
	if wants := strings.HasSuffix(name, "_date") || strings.HasSuffix(name, "qty"); wants != isNumber {
		return []string{fmt.Sprintf("%s %s: %s is %q of type %d (%s)", event, at, name, value, kind, paragraph)}
	}
	if _, err := domain.ParseDate(value); strings.HasSuffix(name, "_date") && err != nil {
		return []string{fmt.Sprintf("%s %s: %s is no day: %q", event, at, name, value)}
	}
	return nil
}

// Every required element of every event is in the workbooks of the demo farm; taking any one of them out is noticed.
func TestDemoWorkbookIsComplete(t *testing.T) {
	owner := runDemo(t)
	seen := map[string]int{}
	for _, request := range []string{askedByAuthority(t, owner), repacked(t, owner)} {
		raw := owner.send(http.MethodGet, "/v1/traceback-requests/"+request+"/packet.xlsx", nil, http.StatusOK)
		missing, rows := kdeMissing(t, openBook(t, raw))
		for _, m := range missing {
			t.Error(m)
		}
		for event, n := range rows {
			seen[event] += n
			if n > 0 {
				checkEachLossIsNoticed(t, raw, event)
			}
		}
		for _, fault := range domain.CheckEPCIS(owner.send(http.MethodGet, "/v1/traceback-requests/"+request+"/epcis.json", nil, http.StatusOK)) {
			t.Error("EPCIS: " + fault)
		}
	}
	for event := range kdeWanted {
		if seen[event] == 0 {
			t.Errorf("no packet of the demo farm has a row of %s", event)
		}
	}
}

func openBook(t *testing.T, raw []byte) *excelize.File {
	t.Helper()
	f, err := excelize.OpenReader(bytes.NewReader(raw))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { f.Close() })
	return f
}

// checkEachLossIsNoticed empties one required cell of the first row at a time.
func checkEachLossIsNoticed(t *testing.T, raw []byte, event string) {
	t.Helper()
	for _, w := range kdeWanted[event] {
		f := openBook(t, raw)
		table, err := f.GetRows(event)
		if err != nil {
			t.Fatal(err)
		}
		at, err := excelize.CoordinatesToCellName(slices.Index(table[0], w.column)+1, 2)
		if err != nil {
			t.Fatal(err)
		}
		if err := f.SetCellValue(event, at, nil); err != nil {
			t.Fatal(err)
		}
		if missing, _ := kdeMissing(t, f); len(missing) != 1 || !strings.Contains(missing[0], w.paragraph) {
			t.Errorf("%s without %s: %q", event, w.column, missing)
		}
	}
}

func askedByAuthority(t *testing.T, owner caller) string {
	t.Helper()
	var asked []struct{ ID, For string }
	owner.get("/v1/traceback-requests", &asked)
	for _, r := range asked {
		if r.For == "authority" {
			return r.ID
		}
	}
	t.Fatal("no authority asked the demo farm anything")
	return ""
}

// repacked packs today's spinach, packs that anew, which is a transformation, ships it, and asks about it.
func repacked(t *testing.T, owner caller) string {
	t.Helper()
	var lots []struct {
		ID, Code string
		Quantity fields
		CutOn    string `json:"cut_on"`
	}
	owner.get("/v1/harvest-lots", &lots)
	var customers []struct{ ID, Kind string }
	owner.get("/v1/customers", &customers)
	to := slices.IndexFunc(customers, func(c struct{ ID, Kind string }) bool { return c.Kind == "grocer" })
	if len(lots) == 0 || to < 0 {
		t.Fatalf("%d lots, customers %+v", len(lots), customers)
	}
	now := time.Now().Format(time.RFC3339)
	pack := func(from, product string) string {
		return owner.post("/v1/pack-lots", fields{"packed_at": now, "product": product, "crates": 3, "quantity": lots[0].Quantity,
			"from": []fields{{"lot": from, "quantity": lots[0].Quantity}}}).Code
	}
	again := pack(pack(lots[0].Code, "Spinach, 5 lb crate"), "Spinach, sorted anew, 5 lb crate")
	owner.post("/v1/shipments", fields{"customer_id": customers[to].ID, "shipped_at": now, "reference": fields{"type": "invoice", "number": "2099"},
		"lines": []fields{{"lot": again, "quantity": lots[0].Quantity}}})
	return owner.post("/v1/traceback-requests", fields{"asked_by": "County produce safety inspector", "asked_at": now, "for": "authority",
		"about": fields{"lot": again}, "question": "What was packed anew?"}).ID
}
