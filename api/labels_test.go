package api_test

import (
	"bytes"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"croftmark/domain"
)

// The prefix 0614141 and its GTIN 10614141000415 stand in GS1's own examples (traceability reference 2.1 [verified: PRISMA]).
const (
	examplePrefix = "0614141"
	exampleItem   = "00041"
	exampleGTIN   = "10614141000415"
)

// numbers gives the farm a prefix and an item reference for each product.
func (f *farm) numbers(products ...string) {
	f.t.Helper()
	items := []fields{}
	for i, p := range products {
		items = append(items, fields{"product": p, "item": fmt.Sprintf("%05d", 41+i)})
	}
	f.post(domain.Owner, "/v1/farm", fields{"name": "Fern Bank", "time_zone": "America/New_York", "gs1_prefix": examplePrefix, "gs1_items": items}).is(http.StatusCreated)
}

// packed cuts the tomato and packs all of it into crates.
func (x *field) packed(crates int) fields {
	x.t.Helper()
	code := x.get(domain.Reader, "/v1/harvest-lots/"+x.cutClear()).is(http.StatusOK).text("code")
	return x.post(domain.Crew, "/v1/pack-lots", fields{"packed_at": "2026-08-09T10:00:00-04:00", "from": []fields{{"lot": code, "quantity": quantity("40", "lb")}},
		"product": "Salad mix", "quantity": quantity("40", "lb"), "crates": crates}).is(http.StatusCreated).fields()
}

func TestItemsFitThePrefix(t *testing.T) {
	t.Parallel()
	f := newFarm(t)
	base := fields{"name": "Fern Bank", "time_zone": "America/New_York", "gs1_prefix": examplePrefix}
	for name, row := range map[string]struct {
		body    fields
		pointer string
	}{
		"short item":      {with(base, "gs1_items", []fields{{"product": "radish", "item": "41"}}), "#/gs1_items/0/item"},
		"letters":         {with(base, "gs1_items", []fields{{"product": "radish", "item": "0004A"}}), "#/gs1_items/0/item"},
		"one number, two": {with(base, "gs1_items", []fields{{"product": "radish", "item": "00041"}, {"product": "kale", "item": "00041"}}), "#/gs1_items/1/item"},
		"one name, two":   {with(base, "gs1_items", []fields{{"product": "radish", "item": "00041"}, {"product": "Radish", "item": "00042"}}), "#/gs1_items/1/product"},
		"no prefix":       {with(without(base, "gs1_prefix"), "gs1_items", []fields{{"product": "radish", "item": "00041"}}), "#/gs1_items"},
		"for examples":    {with(base, "gs1_prefix", "9521321"), "#/gs1_prefix"},
		"unknown fact":    {with(base, "public_page", []string{"buyers"}), "#/public_page/0"},
		"twice":           {with(base, "public_page", []string{"crop", "crop"}), "#/public_page/1"},
	} {
		t.Run(name, func(t *testing.T) {
			f.unchanged(func() {
				at(t, f.post(domain.Owner, "/v1/farm", row.body).problem(http.StatusUnprocessableEntity, domain.CodeInvalid), row.pointer)
			})
		})
	}
}

// With prefix and item the QR is a GS1 Digital Link and the look-up says the same; without either it is the farm's own.
func TestLabelsCarryLicensedNumbersOnly(t *testing.T) {
	t.Parallel()
	x := newField(t)
	code := x.lot(x.radish, "2026-08-08")["code"].(string)
	crate := domain.CrateCode(code, 2)
	look := func() fields { return x.get(domain.Reader, "/v1/crates/"+crate).is(http.StatusOK).fields() }
	read := func() (string, http.Header) {
		a := x.get(domain.Reader, "/v1/labels?format=png&dpi=300&size=4x6in&crate="+crate).is(http.StatusOK)
		return scan(t, a.Body), a.Header
	}
	own := look()
	if text, h := read(); text != own["url"] || !strings.HasSuffix(text, "/"+crate) || own["gs1"] != nil || h.Get("Label-Note") != "" {
		t.Errorf("without a prefix: QR %s, look-up %v, note %q", text, own["gs1"], h.Get("Label-Note"))
	}

	x.numbers("kale") // a prefix, and no item for radish: nothing is made up
	other := look()
	why := other["gs1"].(fields)["why_not"].(string)
	if text, h := read(); text != own["url"] || !strings.Contains(why, "no GS1 item reference") || h.Get("Label-Note") != why {
		t.Errorf("without an item: QR %s, why %q, note %q", text, why, h.Get("Label-Note"))
	}

	x.numbers("Radish")
	numbered := look()
	text, h := read()
	gs1 := numbered["gs1"].(fields)
	if text != numbered["url"] || gs1["gtin"] != exampleGTIN || gs1["why_not"] != nil || h.Get("Label-Note") != "" {
		t.Fatalf("QR %s, look-up %v, note %q", text, numbered["gs1"], h.Get("Label-Note"))
	}
	link, err := domain.ParseDigitalLink(text)
	want := "https://id.gs1.org/01/" + exampleGTIN + "/10/" + code + "/21/" + strings.ReplaceAll(crate, "-", "")
	if err != nil || link.Canonical() != want {
		t.Errorf("%s, %v; want %s", link.Canonical(), err, want)
	}
	svg := string(x.get(domain.Reader, "/v1/labels?format=svg&crate="+crate).is(http.StatusOK).Body)
	if bars := "(01)" + exampleGTIN + "(10)" + code; gs1["text"] != bars || !strings.Contains(svg, bars) {
		t.Errorf("the bars should say %s: %v", bars, gs1["text"])
	}
	// A lot code longer than AI 10 holds: the farm's own address, with a sentence.
	long := x.post(domain.Lead, "/v1/beds", fields{"name": "North east corner tunnel 123456", "plot_id": x.plot, "from": "2024-03-01"}).id()
	planting := x.plant("radish", "touches", "2026-05-01", long)
	for range 9 {
		x.post(domain.Crew, "/v1/harvest-lots", with(x.cutOf(planting, "2026-08-08"), "bed_ids", []string{long})).is(http.StatusCreated)
	}
	tenth := x.post(domain.Crew, "/v1/harvest-lots", with(x.cutOf(planting, "2026-08-08"), "bed_ids", []string{long})).is(http.StatusCreated).text("code")
	got := x.get(domain.Reader, "/v1/lots/"+tenth).fields()
	if len(tenth) <= 20 {
		t.Fatalf("%s has only %d characters", tenth, len(tenth))
	}
	if w := got["gs1"].(fields); w["gtin"] != nil || !strings.Contains(w["why_not"].(string), "1 to 20 letters") || !strings.HasSuffix(got["url"].(string), "/"+tenth) {
		t.Errorf("a lot of %d characters: %v, %v", len(tenth), w, got["url"])
	}
	x.get(domain.Reader, "/v1/labels?lot="+tenth).is(http.StatusOK)
}

// A size without room for the long address says so.
func TestSmallLabelsCarryTheShortAddress(t *testing.T) {
	t.Parallel()
	x := newField(t)
	x.numbers("radish")
	code := x.lot(x.radish, "2026-08-08")["code"].(string)
	crate := domain.CrateCode(code, 2)
	lot := x.get(domain.Reader, "/v1/harvest-lots").list()[0]["id"]
	x.post(domain.Crew, "/v1/holds", fields{"on": fields{"lot_id": lot}, "reason": "Wash water."}).is(http.StatusCreated)
	a := x.get(domain.Reader, "/v1/labels?format=zpl&size=2x1in&crate="+crate).is(http.StatusOK)
	if !strings.Contains(a.Header.Get("Label-Note"), "no room") || !strings.Contains(string(a.Body), "/"+crate+"^FS") || strings.Contains(string(a.Body), "/01/") {
		t.Errorf("note %q in\n%s", a.Header.Get("Label-Note"), a.Body)
	}
}

// The page of a label's GS1 address is the page of its own address, with and without the farm's key, in either case.
func TestGS1AddressIsTheSamePage(t *testing.T) {
	t.Parallel()
	s := newService(t)
	x := s.farm("Fern Bank").field()
	code := x.lot(x.radish, "2026-08-08")["code"].(string)
	crate := domain.CrateCode(code, 2)
	page := func(path string) *answer { t.Helper(); return x.visit(path) }
	pathOf := func(look string) string {
		link, err := url.Parse(x.get(domain.Reader, look).is(http.StatusOK).text("url"))
		if err != nil {
			t.Fatal(err)
		}
		return link.Path
	}
	ownLot, ownCrate := page(pathOf("/v1/lots/"+code)).is(http.StatusOK), page(pathOf("/v1/crates/"+crate)).is(http.StatusOK)
	key := strings.Split(pathOf("/v1/lots/"+code), "/")[2]
	serial := strings.ReplaceAll(crate, "-", "")
	short := "/01/" + exampleGTIN + "/10/" + code
	page(short).is(http.StatusNotFound) // no prefix yet
	page("/L/" + key + short).is(http.StatusNotFound)
	x.numbers("radish")

	for want, paths := range map[*answer][]string{
		ownLot:   {pathOf("/v1/lots/" + code), short, strings.ToLower(short), "/L/" + key + short, "/l/" + strings.ToLower(key+short), short + "?13=260808&linkType=all"},
		ownCrate: {pathOf("/v1/crates/" + crate), short + "/21/" + serial, strings.ToLower(short + "/21/" + serial), "/L/" + key + short + "/21/" + serial},
	} {
		for _, path := range paths {
			if a := page(path).is(http.StatusOK); !bytes.Equal(a.Body, want.Body) {
				t.Errorf("%s is another page:\n%s\n%s", path, a.Body, want.Body)
			}
		}
	}
	otherCrate := strings.ReplaceAll(domain.CrateCode(domain.LotCode(domain.NewDate(2026, 8, 7), "Lower 3", "Radish", 1), 2), "-", "")
	nothing := page("/L/x/y").is(http.StatusNotFound)
	for name, path := range map[string]string{
		"wrong last digit":       "/01/10614141000416/10/" + code,
		"another prefix":         "/01/19521321001012/10/" + code,
		"GTIN of 13 digits":      "/01/0614141000418/10/" + code,
		"unknown lot":            "/01/" + exampleGTIN + "/10/26219-L3-RAD-1-SS",
		"wrong check characters": "/01/" + exampleGTIN + "/10/" + code[:len(code)-1] + "?",
		"serial of another lot":  short + "/21/" + otherCrate,
		"serial of no crate":     short + "/21/" + strings.ReplaceAll(domain.CrateCode(code, 99), "-", ""),
		"lot for a serial":       short + "/21/" + strings.ReplaceAll(code, "-", ""),
		"crate for a lot":        "/01/" + exampleGTIN + "/10/" + crate,
	} {
		if a := page(path); a.Status != http.StatusNotFound || !bytes.Equal(a.Body, nothing.Body) {
			t.Errorf("%s: %d\n%s", name, a.Status, a.Body)
		}
	}

	// Another farm of this service that claims the prefix and makes the same lot: without the key neither is shown.
	twin := s.farm("Claim Jumper").field()
	twin.numbers("radish")
	if made := twin.lot(twin.radish, "2026-08-08")["code"]; made != code {
		t.Fatalf("the twin's lot is %s", made)
	}
	page(short).is(http.StatusNotFound)
	if a := page("/L/" + key + short).is(http.StatusOK); !bytes.Equal(a.Body, ownLot.Body) {
		t.Errorf("with the key:\n%s", a.Body)
	}
}

// A pack lot's labels: cut and packed day, weight, crate numbers and codes with check characters, and HOLD on each.
func TestPackLotLabels(t *testing.T) {
	t.Parallel()
	x := newField(t)
	pack := x.packed(3)
	code := pack["code"].(string)
	zpl := func() string {
		return string(x.get(domain.Reader, "/v1/labels?format=zpl&lot="+code).is(http.StatusOK).Body)
	}
	free := zpl()
	for n := 1; n <= 3; n++ {
		for _, want := range []string{domain.CrateCode(code, n), fmt.Sprintf("Crate %d of 3", n), "Cut 2026-08-07", "Packed 2026-08-09", "Salad mix"} {
			if !strings.Contains(free, want) {
				t.Errorf("no %q on\n%s", want, free)
			}
		}
	}
	if n := strings.Count(free, "Net 13.3"); n != 3 || strings.Contains(free, "HOLD") { // 13.34 + 13.33 + 13.33 = 40
		t.Errorf("%d weights of a third each on\n%s", n, free)
	}
	// A hold on a lot that went in is one on the pack lot (record forms, S20).
	cut := pack["from"].([]any)[0].(map[string]any)["lot_id"]
	x.post(domain.Crew, "/v1/holds", fields{"on": fields{"lot_id": cut}, "reason": "Wash water."}).is(http.StatusCreated)
	var lot struct {
		Held        bool
		HoldRecords []struct {
			LotID string `json:"lot_id"`
		} `json:"hold_records"`
	}
	x.get(domain.Reader, "/v1/lots/"+code).is(http.StatusOK).into(&lot)
	if !lot.Held || len(lot.HoldRecords) != 1 || lot.HoldRecords[0].LotID != cut {
		t.Errorf("%+v, want held by a hold on lot %s", lot, cut)
	}
	if n := strings.Count(zpl(), "HOLD: DO NOT SHIP"); n != 3 {
		t.Errorf("%d of 3 labels say HOLD", n)
	}
	if es := string(x.get(domain.Reader, "/v1/labels?format=zpl&language=es&lot="+code).is(http.StatusOK).Body); strings.Count(es, "RETENIDO: NO ENVIAR") != 3 {
		t.Errorf("in Spanish:\n%s", es)
	}
}

// 500 at a time, told one by one, and the rest with the next request.
func TestFiveHundredLabelsWithProgress(t *testing.T) {
	t.Parallel()
	x := newField(t)
	code := x.packed(620)["code"].(string)
	path := "/v1/labels?size=sheet-30&lot=" + code
	a := x.get(domain.Reader, path).is(http.StatusOK)
	if a.Header.Get("Label-Count") != "500" || a.Header.Get("Label-Next") != "501" {
		t.Errorf("%s labels, next %s", a.Header.Get("Label-Count"), a.Header.Get("Label-Next"))
	}
	lines := strings.Split(strings.TrimSpace(string(x.get(domain.Reader, path+"&progress=true").is(http.StatusOK).Body)), "\n")
	if len(lines) != 501 {
		t.Fatalf("%d lines", len(lines))
	}
	for i, line := range lines[:500] {
		if want := fmt.Sprintf(`{"labels":%d,"of":500}`, i+1); line != want {
			t.Fatalf("line %d is %s, want %s", i, line, want)
		}
	}
	var file struct {
		ContentType string `json:"content_type"`
		Filename    string
		Labels      int
		Next        int
		Content     string
	}
	if err := json.Unmarshal([]byte(lines[500]), &file); err != nil {
		t.Fatal(err)
	}
	content, err := base64.StdEncoding.DecodeString(file.Content)
	if err != nil || !bytes.Equal(content, a.Body) || file.Next != 501 || file.Labels != 500 || file.ContentType != "application/pdf" || file.Filename != "label-"+code+".pdf" {
		t.Errorf("%v, %d bytes for %d, %+v", err, len(content), len(a.Body), file.Next)
	}
	rest := x.get(domain.Reader, path+"&first=501").is(http.StatusOK)
	if rest.Header.Get("Label-Count") != "120" || rest.Header.Get("Label-Next") != "" {
		t.Errorf("the rest: %s labels, next %q", rest.Header.Get("Label-Count"), rest.Header.Get("Label-Next"))
	}
	x.get(domain.Reader, path+"&first=621").problem(http.StatusUnprocessableEntity, domain.CodeInvalid)
	x.get(domain.Reader, path+"&most=501").problem(http.StatusUnprocessableEntity, domain.CodeInvalid)
	if last := strings.Split(strings.TrimSpace(string(x.get(domain.Reader, path+"&progress=true&dpi=299").is(http.StatusOK).Body)), "\n"); !strings.Contains(last[len(last)-1], "/invalid") {
		t.Errorf("a refusal with progress ends with %s", last[len(last)-1])
	}
}

// Record forms S22: same lot, reprint with a reason, and printed = used + void + spoiled.
func TestLabelsReconcile(t *testing.T) {
	t.Parallel()
	x := newField(t)
	pack := x.packed(6)
	lot, code := pack["id"], pack["code"].(string)
	count := func() fields {
		return x.get(domain.Reader, "/v1/lots/"+code).is(http.StatusOK).fields()["labels"].(fields)
	}
	says := func(want string) {
		t.Helper()
		if got := count()["says"]; got != want {
			t.Errorf("%v, want %q: %v", got, want, count())
		}
	}
	says("No label was printed.")
	print := func(body fields) *answer {
		return x.post(domain.Crew, "/v1/label-prints", with(with(body, "lot_id", lot), "size", "4x2in"))
	}
	print(fields{"copies": 4, "crates": []int{1, 2, 3, 4}}).is(http.StatusCreated)
	says("Crates without a label of their own: 2.")
	print(fields{"copies": 2, "crates": []int{5, 6}}).is(http.StatusCreated)
	says("Every crate has one label.")
	at(t, print(fields{"copies": 1, "reprint": true}).problem(http.StatusUnprocessableEntity, domain.CodeInvalid), "#/reason")
	at(t, print(fields{"copies": 1, "crates": []int{7}}).problem(http.StatusUnprocessableEntity, domain.CodeInvalid), "#/crates/0")
	at(t, print(fields{"copies": 1, "crates": []int{1, 2}}).problem(http.StatusUnprocessableEntity, domain.CodeInvalid), "#/copies")
	again := print(fields{"copies": 5, "crates": []int{1, 2, 3, 4, 5}, "reprint": true, "reason": "Printer smeared five."}).is(http.StatusCreated).fields()
	if w := fmt.Sprint(again["warnings"]); !strings.Contains(w, "6 crates and now 11 labels") {
		t.Errorf("warnings %s", w)
	}
	says("Labels more than crates: 5. Find them, and write down what is void or spoiled.")
	discard := fields{"lot_id": lot, "reason": "Smeared.", "spoiled": 4, "void": 1}
	at(t, x.post(domain.Crew, "/v1/label-discards", with(discard, "void", 8)).problem(http.StatusUnprocessableEntity, domain.CodeInvalid), "#/spoiled")
	id := x.post(domain.Crew, "/v1/label-discards", discard).id()
	says("Every crate has one label.")
	c := count()
	for name, want := range map[string]float64{"printed": 11, "reprinted": 5, "spoiled": 4, "void": 1, "lost": 0, "in_use": 6, "crates": 6, "difference": 0} {
		if c[name] != want {
			t.Errorf("%s is %v, want %v", name, c[name], want)
		}
	}
	// A correction is not counted twice, and a void takes it out.
	x.post(domain.Lead, "/v1/label-discards/"+id+"/corrections", fields{"reason": "Recounted.", "changes": fields{"spoiled": 10, "void": nil}}).is(http.StatusCreated)
	says("Crates without a label of their own: 5.")
	x.post(domain.Lead, "/v1/label-discards/"+id+"/void", fields{"reason": "Slip."}).is(http.StatusCreated)
	says("Labels more than crates: 5. Find them, and write down what is void or spoiled.")
}

// Record forms S23: set aside; known again only on evidence, signed; of two candidates it carries both or is culled.
func TestLostLabel(t *testing.T) {
	t.Parallel()
	x := newField(t)
	pack := x.packed(3)
	code := pack["code"].(string)
	crate := func(n int) string { return domain.CrateCode(code, n) }
	other := x.lot(x.radish, "2026-08-08")["code"].(string)
	x.post(domain.Crew, "/v1/label-prints", fields{"lot_id": pack["id"], "size": "4x2in", "copies": 3}).is(http.StatusCreated)
	base := fields{"found_at": "2026-08-10T11:00:00-04:00", "where": "Third stop", "may_be": []string{crate(2), other}, "decision": "set-aside"}
	send := func(role domain.Role, body fields) *answer { return x.post(role, "/v1/lost-labels", body) }

	at(t, send(domain.Lead, with(with(base, "decision", "identified"), "evidence", "Bunch ties are red.")).problem(http.StatusUnprocessableEntity, domain.CodeInvalid), "#/decision")
	at(t, send(domain.Lead, with(with(base, "decision", "identified"), "may_be", []string{crate(2)})).problem(http.StatusUnprocessableEntity, domain.CodeInvalid), "#/evidence")
	at(t, send(domain.Lead, with(with(base, "decision", "carries-all"), "may_be", []string{crate(2)})).problem(http.StatusUnprocessableEntity, domain.CodeInvalid), "#/decision")
	at(t, send(domain.Crew, with(base, "may_be", []string{crate(9)})).problem(http.StatusUnprocessableEntity, domain.CodeInvalid), "#/may_be/0")
	send(domain.Crew, with(base, "decision", "carries-all")).problem(http.StatusForbidden, domain.CodeNotAllowed)
	lost := send(domain.Crew, base).is(http.StatusCreated).fields()
	if lots := lost["lots"].([]any); len(lots) != 2 {
		t.Errorf("lots %v", lots)
	}

	// Whatever it turns out to be, a recall of either lot takes it along and lists the other apart.
	for _, of := range []string{code, other} {
		recall := x.get(domain.Reader, "/v1/recalls/"+x.post(domain.Lead, "/v1/recalls", fields{"start": fields{"lot": of}, "drill": true, "reason": "Drill."}).id()).is(http.StatusOK)
		if text := string(recall.Body); !strings.Contains(text, "A crate without its label, found on 2026-08-10 at Third stop") {
			t.Errorf("a recall of %s does not tell of the crate: %s", of, text)
		}
	}
	// Identified by evidence and signed: one label more is printed, and the sum still ties.
	id := lost["id"].(string)
	x.post(domain.Lead, "/v1/lost-labels/"+id+"/corrections", fields{"reason": "Load list shows it.", "changes": fields{"decision": "identified",
		"may_be": []string{crate(2)}, "evidence": "Crate 2 of the load list is the only one missing."}}).is(http.StatusCreated)
	x.post(domain.Owner, "/v1/lost-labels/"+id+"/reviews", fields{"note": "Seen."}).is(http.StatusCreated)
	x.post(domain.Crew, "/v1/label-prints", fields{"lot_id": pack["id"], "size": "4x2in", "copies": 1, "crates": []int{2}, "reprint": true, "reason": "Label lost."}).is(http.StatusCreated)
	count := x.get(domain.Reader, "/v1/lots/"+code).is(http.StatusOK).fields()["labels"].(fields)
	if count["lost"] != float64(1) || count["says"] != "Every crate has one label." {
		t.Errorf("%v", count)
	}
	recall := x.get(domain.Reader, "/v1/recalls/"+x.post(domain.Lead, "/v1/recalls", fields{"start": fields{"lot": other}, "drill": true, "reason": "Drill."}).id()).is(http.StatusOK)
	if strings.Contains(string(recall.Body), "without its label") {
		t.Errorf("an identified crate still counts for the other lot")
	}
}
