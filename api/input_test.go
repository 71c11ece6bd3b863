package api_test

import (
	"net/http"
	"strings"
	"testing"

	"croftmark/domain"
)

// What a tired person types in the field: each is refused by the field that is wrong, with what to do about it, and
// nothing is written. hint is a piece of the advice.
func TestBadRecordsAreRefused(t *testing.T) {
	t.Parallel()
	x := newField(t)
	upper := x.post(domain.Lead, "/v1/plots", fields{"name": "Upper", "history": "known"}).id()
	upperBed := x.post(domain.Lead, "/v1/beds", fields{"name": "Upper 1", "plot_id": upper, "from": "2024-03-01"}).id()
	oldBed := x.post(domain.Lead, "/v1/beds", fields{"name": "Lower 4", "plot_id": x.plot, "from": "2024-03-01"}).id()
	x.post(domain.Lead, "/v1/bed-layouts", fields{"plot_id": x.plot, "on": "2026-06-01", "retire": []string{oldBed},
		"lay": []fields{{"name": "Lower D", "over": []string{oldBed}}}}).is(http.StatusCreated)
	certificate := fields{"issued_on": "2026-01-01", "expires_on": "2025-01-01", "process": "hot"}
	delivery := fields{"input_id": x.input, "supplier": "Brindle Fen Stables", "received_on": "2026-01-01", "quantity": quantity("1", "yd3")}
	spread, cut := x.manured("2026-04-01", "2026-04-10"), x.cutOf(x.radish, "2026-08-08")
	planting := fields{"crop_id": newID(t), "bed_ids": []string{x.bed}, "planted_on": "2026-05-01"}
	layout := func(lay ...fields) fields { return fields{"plot_id": x.plot, "on": "2026-09-01", "lay": lay} }
	first, second := newID(t), newID(t)

	for name, row := range map[string]struct {
		path    string
		body    fields
		pointer string
		hint    string
	}{
		"spread the day after tomorrow":       {"applications", x.manured("2026-11-27", ""), "#/applied_on", "in the future"},
		"spread in 1905":                      {"applications", x.manured("1905-04-01", ""), "#/applied_on", "too long ago"},
		"worked in before it was spread":      {"applications", with(spread, "incorporated_on", "2026-03-31"), "#/incorporated_on", "before it was spread on 2026-04-01"},
		"worked in in the future":             {"applications", with(spread, "incorporated_on", "2026-12-31"), "#/incorporated_on", "in the future"},
		"worked in, but not when":             {"applications", without(spread, "incorporated_on"), "#/incorporated_on", "which day"},
		"spread before it was delivered":      {"applications", x.manured("2024-02-28", ""), "#/ground/bed_ids/0", "2024-03-01"},
		"spread on a bed of yesteryear":       {"applications", with(x.manured("2026-06-01", ""), "ground", fields{"bed_ids": []string{oldBed}}), "#/ground/bed_ids/0", "ended on 2026-06-01"},
		"spread nowhere":                      {"applications", with(spread, "ground", fields{}), "#/ground", "either bed_ids or plot_id"},
		"spread on bed and plot":              {"applications", with(spread, "ground", fields{"bed_ids": []string{x.bed}, "plot_id": x.plot}), "#/ground", "not both"},
		"spread twice on one bed":             {"applications", with(spread, "ground", fields{"bed_ids": []string{x.bed, x.bed}}), "#/ground/bed_ids/1", "twice"},
		"spread on a bed nobody knows":        {"applications", with(spread, "ground", fields{"bed_ids": []string{newID(t)}}), "#/ground/bed_ids/0", "no bed"},
		"spread on a plot as if a bed":        {"applications", with(spread, "ground", fields{"bed_ids": []string{x.plot}}), "#/ground/bed_ids/0", "no bed"},
		"spread nothing known":                {"applications", with(spread, "source", fields{"input_lot_id": newID(t)}), "#/source/input_lot_id", "no input lot"},
		"spread no source":                    {"applications", with(spread, "source", fields{}), "#/source", "either input_lot_id or compost_batch_id"},
		"no such method":                      {"applications", with(spread, "method", "thrown"), "#/method", "surface"},
		"no such unit":                        {"applications", with(spread, "amount", quantity("2", "wheelbarrow")), "#/amount/unit", "yd3"},
		"unit in capitals":                    {"applications", with(spread, "amount", quantity("2", "YD3")), "#/amount/unit", "yd3"},
		"unit of something else":              {"applications", with(spread, "amount", quantity("2", "degF")), "#/amount/unit", "mass or volume"},
		"less than nothing":                   {"applications", with(spread, "amount", quantity("-2", "yd3")), "#/amount/value", "more than zero"},
		"nothing":                             {"applications", with(spread, "amount", quantity("0", "yd3")), "#/amount/value", "more than zero"},
		"more than any farm has":              {"applications", with(spread, "amount", quantity("100000000", "yd3")), "#/amount/value", "Check the number and the unit"},
		"seven digits after the point":        {"applications", with(spread, "amount", quantity("0.0000001", "yd3")), "#/amount/value", "six digits"},
		"done by nobody known":                {"applications", with(spread, "done_by", newID(t)), "#/done_by", "no person"},
		"done in the future":                  {"plots", fields{"name": "P", "done_at": "2026-11-27T08:00:00-05:00"}, "#/done_at", "in the future"},
		"last day out before the first":       {"grazings", fields{"species": "hens", "ground": fields{"bed_ids": []string{x.bed}}, "from": "2026-05-02", "to": "2026-05-01"}, "#/to", "before the first day"},
		"grazing that has yet to begin":       {"grazings", fields{"species": "hens", "ground": fields{"bed_ids": []string{x.bed}}, "from": "2026-12-02"}, "#/from", "in the future"},
		"plot of the same name":               {"plots", fields{"name": "Lower"}, "#/name", "already a plot of that name"},
		"plot of the same name in capitals":   {"plots", fields{"name": "LOWER"}, "#/name", "already a plot of that name"},
		"plot without a name":                 {"plots", fields{"name": "  "}, "#/name", "Give a name"},
		"name with blanks around":             {"plots", fields{"name": " North "}, "#/name", "blanks"},
		"name of two lines":                   {"plots", fields{"name": "North\nSouth"}, "#/name", "one line"},
		"plot off the globe":                  {"plots", fields{"name": "P", "location": fields{"lat": "91", "lon": "0"}}, "#/location/lat", "degrees"},
		"paddock until tomorrow week":         {"plots", fields{"name": "P", "prior_use": []fields{{"kind": "paddock", "until": "2026-12-24"}}}, "#/prior_use/0/until", "in the future"},
		"bed of the same name":                {"beds", fields{"name": "lower 3", "plot_id": x.plot, "from": "2026-01-01"}, "#/name", "already a bed of that name"},
		"bed of an ended name, but earlier":   {"beds", fields{"name": "Lower 4", "plot_id": x.plot, "from": "2026-01-01"}, "#/name", "already a bed of that name"},
		"bed in no plot":                      {"beds", fields{"name": "B", "plot_id": newID(t), "from": "2026-01-01"}, "#/plot_id", "no plot"},
		"bed of the future":                   {"beds", fields{"name": "B", "plot_id": x.plot, "from": "2027-01-01"}, "#/from", "in the future"},
		"bed longer than the county":          {"beds", fields{"name": "B", "plot_id": x.plot, "from": "2026-01-01", "length": quantity("50000", "ft")}, "#/length/value", "Check the number"},
		"bed measured in pounds":              {"beds", fields{"name": "B", "plot_id": x.plot, "from": "2026-01-01", "width": quantity("4", "lb")}, "#/width/unit", "length"},
		"bed laid by itself over another":     {"beds", fields{"name": "B", "plot_id": x.plot, "from": "2026-01-01", "over": []string{x.bed}}, "#/over", "bed-layouts"},
		"re-laid over a bed of another plot":  {"bed-layouts", layout(fields{"name": "C", "over": []string{upperBed}}), "#/lay/0/over/0", "another plot"},
		"re-laid over nothing known":          {"bed-layouts", layout(fields{"name": "C", "over": []string{newID(t)}}), "#/lay/0/over/0", "no bed"},
		"re-laid over a bed not yet laid":     {"bed-layouts", with(layout(fields{"name": "C", "over": []string{x.bed}}), "on", "2024-02-01"), "#/lay/0/over/0", "only laid on 2024-03-01"},
		"laid on itself":                      {"bed-layouts", layout(fields{"id": x.bed, "name": "C", "over": []string{x.bed}}), "#/lay/0/id", "laid on itself"},
		"laid on itself while new":            {"bed-layouts", layout(fields{"id": first, "name": "C", "over": []string{first}}), "#/lay/0/over/0", "no bed"},
		"two beds each on the other":          {"bed-layouts", layout(fields{"id": first, "name": "C", "over": []string{second}}, fields{"id": second, "name": "D", "over": []string{first}}), "#/lay/1/over/0", "no bed"},
		"two new beds of one name":            {"bed-layouts", layout(fields{"name": "C", "over": []string{x.bed}}, fields{"name": "c", "over": []string{x.bed}}), "#/lay/1/name", "named twice"},
		"new bed of a name in force":          {"bed-layouts", with(layout(fields{"name": "Upper 1", "over": []string{x.bed}}), "retire", []string{x.bed}), "#/name", "already a bed of that name"},
		"laid over a bed that keeps its name": {"bed-layouts", layout(fields{"name": "C", "over": []string{x.bed}}), "#/lay/0/over/0", "Name it in retire as well"},
		"retires a bed that had ended":        {"bed-layouts", with(layout(fields{"name": "C", "over": []string{oldBed}}), "retire", []string{oldBed}), "#/retire/0", "already ended"},
		"retires a bed of another plot":       {"bed-layouts", with(layout(fields{"name": "C", "over": []string{x.bed}}), "retire", []string{upperBed}), "#/retire/0", "another plot"},
		"forgets what the new bed lies on":    {"bed-layouts", with(layout(fields{"name": "C"}), "retire", []string{x.bed}), "#/lay/0/over", "keeps their history"},
		"layout without beds":                 {"bed-layouts", layout(), "#/lay", "at least"},
		"crop of another catalogue":           {"crops", fields{"name": "Kale", "soil_contact": "touches", "catalogue_entry": "kail"}, "#/catalogue_entry", "not in the shipped crop catalogue"},
		"carrot that touches no soil":         {"crops", fields{"name": "Carrot", "soil_contact": "clear", "catalogue_entry": "carrot"}, "#/reason", "Say why"},
		"planting of no crop":                 {"plantings", planting, "#/crop_id", "no crop"},
		"planting in a bed that had ended":    {"plantings", with(with(planting, "bed_ids", []string{oldBed}), "planted_on", "2026-07-01"), "#/bed_ids/0", "ended on 2026-06-01"},
		"planting that ended before it began": {"plantings", with(planting, "ended_on", "2026-04-01"), "#/ended_on", "before the planting"},
		"first harvest before planting":       {"plantings", with(planting, "expected_harvest_on", "2026-04-01"), "#/expected_harvest_on", "before the planting"},
		"delivery of nothing":                 {"input-lots", with(delivery, "quantity", quantity("0", "yd3")), "#/quantity/value", "more than zero"},
		"delivery from nobody":                {"input-lots", with(delivery, "supplier", ""), "#/supplier", "Give a name"},
		"delivery of next month":              {"input-lots", with(delivery, "received_on", "2026-12-24"), "#/received_on", "in the future"},
		"paper that ended before its issue":   {"input-lots", with(delivery, "certificate", certificate), "#/certificate/expires_on", "not after the issue"},
		"paper without a process":             {"input-lots", with(delivery, "certificate", with(certificate, "process", "")), "#/certificate/process", ""},
		"cut the day after tomorrow":          {"harvest-lots", with(cut, "cut_on", "2026-11-27"), "#/cut_on", "in the future"},
		"cut before it was planted":           {"harvest-lots", with(cut, "cut_on", "2026-04-30"), "#/cut_on", "before the planting"},
		"cut without a day":                   {"harvest-lots", without(cut, "cut_on"), "#/cut_on", "which day"},
		"cut on a day and over days":          {"harvest-lots", with(with(cut, "cut_from", "2026-08-08"), "cut_to", "2026-08-09"), "#/cut_on", "either cut_on"},
		"cut backwards":                       {"harvest-lots", with(with(without(cut, "cut_on"), "cut_from", "2026-08-08"), "cut_to", "2026-08-07"), "#/cut_to", "before the first"},
		"cut over three weeks":                {"harvest-lots", with(with(without(cut, "cut_on"), "cut_from", "2026-08-08"), "cut_to", "2026-08-29"), "#/cut_to", "several lots"},
		"cut where it does not stand":         {"harvest-lots", with(cut, "bed_ids", []string{upperBed}), "#/bed_ids/0", "does not stand in this bed"},
		"cut in no bed":                       {"harvest-lots", with(cut, "bed_ids", []string{}), "#/bed_ids", "at least"},
		"cut of no planting":                  {"harvest-lots", with(cut, "planting_id", newID(t)), "#/planting_id", "no planting"},
		"cut by nobody known":                 {"harvest-lots", with(cut, "crew", []string{newID(t)}), "#/crew/0", "no person"},
		"cut less than nothing":               {"harvest-lots", with(cut, "quantity", quantity("-40", "lb")), "#/quantity/value", "more than zero"},
		"cut by the foot":                     {"harvest-lots", with(cut, "quantity", quantity("40", "ft")), "#/quantity/unit", "mass"},
		"cut with a code of one's own":        {"harvest-lots", with(cut, "code", "26219-L3-RAD-1-SS"), "#/code", "leave it out"},
		"cut with a verdict of one's own":     {"harvest-lots", with(cut, "verdict_then", fields{"verdict": "clear", "reasons": []any{}}), "#/verdict_then", "leave it out"},
		"hold on nothing":                     {"holds", fields{"on": fields{}, "reason": "x"}, "#/on", "exactly one"},
		"hold on two things":                  {"holds", fields{"on": fields{"bed_id": x.bed, "input_lot_id": x.manure}, "reason": "x"}, "#/on", "exactly one"},
		"hold without a reason":               {"holds", fields{"on": fields{"bed_id": x.bed}, "reason": ""}, "#/reason", "Say why"},
		"hold that comes released":            {"holds", fields{"on": fields{"bed_id": x.bed}, "reason": "x", "released": fields{"reason": "y"}}, "#/released", "only read"},
		"hold that the book did not put on":   {"holds", fields{"on": fields{"bed_id": x.bed}, "reason": "x", "already_cut": "wait"}, "#/already_cut", "only read"},
		"inspector for ever":                  {"people", fields{"name": "I", "initials": "I", "role": "reader"}, "#/ends_on", "ends on a day"},
		"person of no such role":              {"people", fields{"name": "I", "initials": "I", "role": "boss"}, "#/role", "owner"},
		"reprint without a reason":            {"label-prints", fields{"lot_id": newID(t), "size": "4x2in", "copies": 1, "reprint": true}, "#/reason", "Say why"},
		"no labels":                           {"label-prints", fields{"lot_id": newID(t), "size": "4x2in", "copies": 0}, "#/copies", "1 or more"},
	} {
		t.Run(name, func(t *testing.T) {
			x.unchanged(func() {
				a := x.post(domain.Owner, "/v1/"+row.path, row.body)
				a.t = t
				detail := at(t, a.problem(http.StatusUnprocessableEntity, domain.CodeInvalid), row.pointer)
				if !strings.Contains(detail, row.hint) {
					t.Errorf("%s says %q, want it to say %q", row.pointer, detail, row.hint)
				}
				if word := goWords.FindString(string(a.Body)); word != "" {
					t.Errorf("the answer says %q: %s", word, a.Body)
				}
			})
		})
	}
}

// What looks odd and is right must pass: tomorrow's date from a phone a zone ahead, a bed's old name given again.
func TestOddRecordsThatAreRight(t *testing.T) {
	t.Parallel()
	x := newField(t)
	x.post(domain.Crew, "/v1/applications", with(x.manured("2026-11-26", ""), "ground", fields{"plot_id": x.plot})).is(http.StatusCreated)
	x.post(domain.Lead, "/v1/bed-layouts", fields{"plot_id": x.plot, "on": "2026-11-01", "retire": []string{x.bed},
		"lay": []fields{{"name": "Lower 3", "over": []string{x.bed}}}}).is(http.StatusCreated)
	x.post(domain.Crew, "/v1/applications", with(x.manured("2026-01-05", "2026-01-05"), "ground", fields{"plot_id": x.plot})).is(http.StatusCreated)
	x.post(domain.Lead, "/v1/plots", fields{"name": "Ñandú’s Überhang 田", "note": "Tab\tand\nline."}).is(http.StatusCreated)
}

func TestFarmPage(t *testing.T) {
	t.Parallel()
	f := newFarm(t)
	before := f.get(domain.Reader, "/v1/farm").is(http.StatusOK).fields()
	for _, zone := range []string{"", "Local", "Eastern", "america/nowhere", "../../etc/passwd", "UTC+5"} {
		f.unchanged(func() {
			at(t, f.post(domain.Owner, "/v1/farm", fields{"name": "Fern Bank", "time_zone": zone}).problem(http.StatusUnprocessableEntity, domain.CodeInvalid), "#/time_zone")
		})
	}
	f.unchanged(func() {
		farm := fields{"name": "Fern Bank", "time_zone": "America/New_York", "standards": []fields{{"set": "moon-rules", "from": "2020-01-01"}}}
		detail := at(t, f.post(domain.Owner, "/v1/farm", farm).problem(http.StatusUnprocessableEntity, domain.CodeInvalid), "#/standards/0/set")
		if !strings.Contains(detail, "us-organic") {
			t.Errorf("does not name the sets there are: %s", detail)
		}
		f.post(domain.Owner, "/v1/farm", fields{"name": "Fern Bank", "time_zone": "America/New_York", "key": "AAAAAAA"}).problem(http.StatusUnprocessableEntity, domain.CodeInvalid)
	})
	after := f.post(domain.Owner, "/v1/farm", fields{"name": "Fern Bank and Sons", "time_zone": "America/Chicago", "phone": "555 0100"}).is(http.StatusCreated).fields()
	if after["name"] != "Fern Bank and Sons" || after["key"] != before["key"] || after["id"] != before["id"] {
		t.Errorf("farm: %+v", after)
	}
}

// A rule set that is taken on later judges the lots already cut, and says so.
func TestNewStandardJudgesOldLots(t *testing.T) {
	t.Parallel()
	x := newField(t, "us-produce-safety")
	x.post(domain.Crew, "/v1/applications", x.manured("2026-04-01", "2026-04-10")).is(http.StatusCreated)
	lot := x.post(domain.Crew, "/v1/harvest-lots", with(x.cutOf(x.radish, "2026-08-07"), "already_cut", true)).is(http.StatusCreated).fields()
	if lot["verdict_now"] != "ask" && lot["verdict_now"] != "caution" {
		t.Fatalf("under the produce safety rule alone: %v", lot["verdict_now"])
	}
	got := x.post(domain.Owner, "/v1/farm", fields{"name": "Fern Bank", "time_zone": "America/New_York",
		"standards": []fields{{"set": "us-organic", "from": "2002-10-21"}}}).is(http.StatusCreated).fields()
	rejudged, _ := got["rejudged"].([]any)
	if len(rejudged) != 1 || rejudged[0].(fields)["now"] != "wait" || rejudged[0].(fields)["code"] != lot["code"] {
		t.Errorf("rejudged: %v", got["rejudged"])
	}
}

// The farm's page that is sent again after a broken connection is answered as written before.
func TestFarmPageSentAgain(t *testing.T) {
	t.Parallel()
	f := newFarm(t)
	send := func() *answer {
		r := request(t, f.tokens[domain.Owner], http.MethodPost, "/v1/farm", fields{"name": "Fern Bank", "time_zone": "America/New_York", "phone": "555 0100"})
		r.Header.Set("Idempotency-Key", "page")
		return f.send(r)
	}
	send().is(http.StatusCreated)
	f.unchanged(func() { send().is(http.StatusOK) })
}
