package api_test

import (
	"fmt"
	"net/http"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"croftmark/domain"
)

// The refusal of the contract, field by field. 7 CFR 205.203(c)(1)(ii): 120 days; the day of working in is day 0.
func TestRefusalOfTheContract(t *testing.T) {
	t.Parallel()
	x := newField(t)
	manure := x.post(domain.Crew, "/v1/applications", x.manured("2026-04-01", "2026-04-10")).id()
	before := x.size()

	a := x.post(domain.Crew, "/v1/harvest-lots", x.cutOf(x.radish, "2026-08-07"))
	a.problem(http.StatusConflict, domain.CodeHarvestRefused)
	got := a.fields()
	spanish := got["reasons"].([]any)[0].(fields)["text_es"].(string)
	if !strings.Contains(spanish, "Primer día libre: 2026-08-08") {
		t.Errorf("in Spanish: %q", spanish)
	}
	if got["request_id"] != a.Header.Get("X-Request-Id") {
		t.Errorf("request_id %v, header %s", got["request_id"], a.Header.Get("X-Request-Id"))
	}
	detail := "Raw manure worked in on 2026-04-10 needs 120 days before a crop that touches soil. 2026-08-07 is day 119. First clear day: 2026-08-08."
	reasons := []any{fields{"rule": "us-organic.raw-manure-soil-contact", "authority": "law", "citation": "7 CFR 205.203(c)(1)(ii)",
		"verdict": "wait", "clear_on": "2026-08-08", "days_short": float64(1), "text": detail, "text_es": spanish,
		"records": []any{fields{"kind": "application", "id": manure}}}}
	want := fields{"type": got["type"], "title": "Bed Lower 3 is not clear for radish", "status": float64(409), "detail": detail,
		"verdict": "wait", "clear_on": "2026-08-08", "reasons": reasons, "request_id": got["request_id"],
		"caution": "Record helper, not legal advice. Your certifier or inspector decides. If in doubt, do not harvest."}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("refusal (-want +got):\n%s", diff)
	}

	check := x.get(domain.Reader, "/v1/harvest-check?bed_id="+x.bed+"&planting_id="+x.radish+"&on=2026-08-07").is(http.StatusOK).fields()
	for _, name := range []string{"verdict", "clear_on", "reasons", "caution"} {
		if diff := cmp.Diff(want[name], check[name]); diff != "" {
			t.Errorf("harvest-check differs in %s (-refusal +check):\n%s", name, diff)
		}
	}

	// The attempt is in the book, and nothing else came of it.
	if n := x.size(); n != before+1 {
		t.Errorf("%d entries from a refused attempt, want 1", n-before)
	}
	refusals := x.get(domain.Reader, "/v1/harvest-refusals").is(http.StatusOK).list()
	if len(refusals) != 1 || refusals[0]["judgement"].(fields)["verdict"] != "wait" || refusals[0]["done_by"] != x.people[domain.Crew] {
		t.Errorf("refused attempts: %+v", refusals)
	}
	if lots := x.get(domain.Reader, "/v1/harvest-lots").is(http.StatusOK).list(); len(lots) != 0 {
		t.Errorf("lots: %+v", lots)
	}

	// Day 120 is allowed; the trellised crop was on day 90.
	x.post(domain.Crew, "/v1/harvest-lots", x.cutOf(x.tomato, "2026-07-08")).problem(http.StatusConflict, domain.CodeHarvestRefused)
	x.post(domain.Crew, "/v1/harvest-lots", x.cutOf(x.tomato, "2026-07-09")).is(http.StatusCreated)
	lot := x.post(domain.Crew, "/v1/harvest-lots", x.cutOf(x.radish, "2026-08-08")).is(http.StatusCreated).fields()
	if lot["verdict_now"] != "clear" || lot["held"] != false || !strings.HasPrefix(lot["code"].(string), "26220-L3-RAD-1-") {
		t.Errorf("the lot of day 120: %+v", lot)
	}
}

// Crops that share a bed are judged apart; the whole bed's verdict is the strictest.
func TestHarvestCheckTellsCropsOfABedApart(t *testing.T) {
	t.Parallel()
	x := newField(t)
	x.post(domain.Crew, "/v1/applications", x.manured("2026-04-01", "2026-04-10")).is(http.StatusCreated)
	body := x.get(domain.Crew, "/v1/harvest-check?bed_id="+x.bed+"&on=2026-07-20").is(http.StatusOK).fields()
	verdicts := map[string]any{}
	for _, c := range body["checks"].([]any) {
		verdicts[c.(fields)["crop"].(string)] = c.(fields)["verdict"]
	}
	if diff := cmp.Diff(map[string]any{"radish": "wait", "tomato, trellised": "clear"}, verdicts); diff != "" || body["verdict"] != "wait" {
		t.Errorf("bed %v, crops: %s", body["verdict"], diff)
	}
	alone := x.get(domain.Crew, "/v1/harvest-check?planting_id="+x.tomato+"&on=2026-07-20").is(http.StatusOK).fields()
	if alone["verdict"] != "clear" {
		t.Errorf("the tomato alone: %v", alone["verdict"])
	}
}

func TestStopAskAndCaution(t *testing.T) {
	t.Parallel()
	x := newField(t)
	x.post(domain.Crew, "/v1/applications", x.manured("2026-04-01", "")).is(http.StatusCreated)
	p := x.post(domain.Crew, "/v1/harvest-lots", x.cutOf(x.radish, "2026-11-20")).problem(http.StatusConflict, domain.CodeHarvestRefused)
	if p.Verdict != domain.Stop || !p.ClearOn.IsZero() || p.Reasons[0].Rule != "us-organic.raw-manure-worked-in" {
		t.Errorf("manure left on top: %s %s %+v", p.Verdict, p.ClearOn, p.Reasons)
	}

	plot := x.post(domain.Lead, "/v1/plots", fields{"name": "Ash Corner", "history": "unknown"}).id()
	bed := x.post(domain.Lead, "/v1/beds", fields{"name": "Ash 1", "plot_id": plot, "from": "2026-03-01"}).id()
	beet := x.plant("beet", "touches", "2026-05-01", bed)
	p = x.post(domain.Crew, "/v1/harvest-lots", with(x.cutOf(beet, "2026-11-20"), "bed_ids", []string{bed})).problem(http.StatusConflict, domain.CodeHarvestRefused)
	if p.Verdict != domain.Ask || p.Reasons[0].Records[0].Kind != "plot" {
		t.Errorf("ground that nobody knows: %s %+v", p.Verdict, p.Reasons)
	}

	plot = x.post(domain.Lead, "/v1/plots", fields{"name": "New Ground"}).id()
	bed = x.post(domain.Lead, "/v1/beds", fields{"name": "New 1", "plot_id": plot, "from": "2026-03-01"}).id()
	kale := x.plant("kale", "touches", "2026-05-01", bed)
	lot := x.post(domain.Crew, "/v1/harvest-lots", with(x.cutOf(kale, "2026-11-20"), "bed_ids", []string{bed})).is(http.StatusCreated).fields()
	if lot["verdict_now"] != "caution" || len(lot["warnings"].([]any)) != 1 {
		t.Errorf("ground that nobody described: %v, warnings %v", lot["verdict_now"], lot["warnings"])
	}
}

// A harvest that has happened does not vanish: it is entered, held, and what becomes of it is written down.
func TestAlreadyCutIsHeldAndDisposedOf(t *testing.T) {
	t.Parallel()
	x := newField(t)
	x.post(domain.Crew, "/v1/applications", x.manured("2026-04-01", "2026-04-10")).is(http.StatusCreated)
	made := x.post(domain.Crew, "/v1/harvest-lots", with(x.cutOf(x.radish, "2026-08-07"), "already_cut", true)).is(http.StatusCreated)
	lot := made.fields()
	if lot["held"] != true || lot["verdict_now"] != "wait" || lot["verdict_then"].(fields)["verdict"] != "wait" {
		t.Errorf("held %v, now %v", lot["held"], lot["verdict_now"])
	}
	on := "/v1/harvest-lots/" + made.id() + "/disposal"
	away := fields{"on": "2026-08-09", "quantity": quantity("15", "lb"), "kind": "compost", "note": "Red bin."}
	at(t, x.post(domain.Crew, on, with(away, "quantity", quantity("41", "lb"))).problem(http.StatusUnprocessableEntity, domain.CodeInvalid), "#/quantity")
	at(t, x.post(domain.Crew, on, with(away, "quantity", quantity("15", "bunch"))).problem(http.StatusUnprocessableEntity, domain.CodeInvalid), "#/quantity/unit")
	x.post(domain.Crew, on, away).is(http.StatusCreated)
	at(t, x.post(domain.Crew, on, with(away, "quantity", quantity("26", "lb"))).problem(http.StatusUnprocessableEntity, domain.CodeInvalid), "#/quantity")
	seen := x.get(domain.Reader, "/v1/lots/"+lot["code"].(string)).is(http.StatusOK).fields()
	if diff := cmp.Diff(fields{"value": "25", "unit": "lb"}, seen["on_hand"]); diff != "" || seen["held"] != true || seen["where"] != "on the farm" {
		t.Errorf("on hand %v, held %v, %v", seen["on_hand"], seen["held"], seen["where"])
	}
}

// Also on clear ground a lot entered as already cut is held. The answer says why, and who may release it and how; afterwards who
// did, and why.
func TestAlreadyCutOnClearGroundWaitsForAPerson(t *testing.T) {
	t.Parallel()
	x := newField(t)
	made := x.post(domain.Crew, "/v1/harvest-lots", with(x.cutOf(x.radish, "2026-08-08"), "already_cut", true)).is(http.StatusCreated)
	lot := made.fields()
	if lot["held"] != true || lot["verdict_then"].(fields)["verdict"] != "clear" {
		t.Errorf("held %v, then %v; want held on clear ground", lot["held"], lot["verdict_then"])
	}
	seen := func() (held bool, hold fields) {
		t.Helper()
		a := x.get(domain.Reader, "/v1/lots/"+made.text("code")).is(http.StatusOK).fields()
		return a["held"].(bool), a["hold_records"].([]any)[0].(fields)
	}
	held, hold := seen()
	release := "/v1/holds/" + hold["id"].(string) + "/release"
	warning := fmt.Sprint(lot["warnings"])
	for _, words := range []string{"already cut", "The ground was clear.", "lead or the owner", "POST " + release} {
		if !strings.Contains(warning, words) {
			t.Errorf("the answer lacks %q: %s", words, warning)
		}
	}
	if !held || !strings.HasSuffix(hold["reason"].(string), "The ground was clear.") || hold["already_cut"] != "clear" || hold["by"] == "" || !strings.HasSuffix(hold["release"].(string), "POST "+release) {
		t.Errorf("held %t, %v", held, hold)
	}
	customer := x.post(domain.Lead, "/v1/customers", fields{"name": "Copper Ladle", "kind": "restaurant"}).id()
	ship := fields{"customer_id": customer, "shipped_at": "2026-08-08T12:00:00-04:00", "reference": fields{"type": "invoice", "number": "1182"},
		"lines": []fields{{"lot": made.text("code"), "quantity": quantity("5", "lb")}}}
	x.post(domain.Crew, "/v1/shipments", ship).problem(http.StatusConflict, domain.CodeLotHeld)
	x.post(domain.Crew, release, fields{"reason": "Looked."}).problem(http.StatusForbidden, domain.CodeNotAllowed)
	x.post(domain.Lead, release, fields{"reason": "Walked the bed; nothing there."}).is(http.StatusCreated)
	held, hold = seen()
	if held || hold["released_reason"] != "Walked the bed; nothing there." || hold["released_by"] == nil || hold["released_by"] == hold["by"] || hold["release"] != nil {
		t.Errorf("after the release: held %t, %v", held, hold)
	}
	x.post(domain.Crew, "/v1/shipments", ship).is(http.StatusCreated)
}

func TestHoldStopsABedUntilALeadReleasesIt(t *testing.T) {
	t.Parallel()
	x := newField(t)
	hold := x.post(domain.Crew, "/v1/holds", fields{"on": fields{"bed_id": x.bed}, "reason": "Glass in the bed."}).id()
	p := x.post(domain.Crew, "/v1/harvest-lots", x.cutOf(x.radish, today)).problem(http.StatusConflict, domain.CodeHarvestRefused)
	if p.Verdict != domain.Stop || !strings.Contains(p.Detail, "Glass in the bed.") {
		t.Errorf("on hold: %s, %s", p.Verdict, p.Detail)
	}
	release := "/v1/holds/" + hold + "/release"
	x.post(domain.Crew, release, fields{"reason": "Looked."}).problem(http.StatusForbidden, domain.CodeNotAllowed)
	at(t, x.post(domain.Lead, release, fields{"reason": " "}).problem(http.StatusUnprocessableEntity, domain.CodeInvalid), "#/reason")
	x.post(domain.Lead, release, fields{"reason": "Two of us looked over every foot."}).is(http.StatusCreated)
	x.post(domain.Lead, release, fields{"reason": "Again."}).problem(http.StatusUnprocessableEntity, domain.CodeInvalid)
	x.post(domain.Crew, "/v1/harvest-lots", x.cutOf(x.radish, today)).is(http.StatusCreated)
	released := x.get(domain.Reader, "/v1/holds/"+hold).is(http.StatusOK).fields()["released"].(fields)
	if released["reason"] != "Two of us looked over every foot." {
		t.Errorf("released: %+v", released)
	}
}

func TestBedOutOfProduction(t *testing.T) {
	t.Parallel()
	x := newField(t)
	production := "/v1/beds/" + x.bed + "/production"
	at(t, x.post(domain.Lead, production, fields{"in_production": false, "on": "2026-11-01", "reason": ""}).problem(http.StatusUnprocessableEntity, domain.CodeInvalid), "#/reason")
	x.post(domain.Lead, production, fields{"in_production": false, "on": "2026-11-01", "reason": "Water stands here."}).is(http.StatusCreated)
	p := x.post(domain.Crew, "/v1/harvest-lots", x.cutOf(x.radish, "2026-11-02")).problem(http.StatusConflict, domain.CodeHarvestRefused)
	if p.Verdict != domain.Stop || !strings.Contains(p.Detail, "Water stands here.") {
		t.Errorf("out of production: %s, %s", p.Verdict, p.Detail)
	}
	if bed := x.get(domain.Reader, "/v1/beds/"+x.bed).is(http.StatusOK).fields(); bed["in_production"] != false {
		t.Errorf("in_production %v", bed["in_production"])
	}
	x.post(domain.Crew, "/v1/harvest-lots", x.cutOf(x.radish, "2026-10-31")).is(http.StatusCreated)
	x.post(domain.Lead, production, fields{"in_production": true, "on": "2026-11-10", "reason": "Drain is in."}).is(http.StatusCreated)
	x.post(domain.Crew, "/v1/harvest-lots", x.cutOf(x.radish, "2026-11-10")).is(http.StatusCreated)
}

// The planting itself is where it is cheapest to hear that the ground will not be clear in time.
func TestPlantingWarns(t *testing.T) {
	t.Parallel()
	x := newField(t)
	x.post(domain.Crew, "/v1/applications", x.manured("2026-10-01", "2026-10-01")).is(http.StatusCreated)
	crop := x.post(domain.Lead, "/v1/crops", fields{"name": "turnip", "soil_contact": "touches"}).id()
	planting := fields{"crop_id": crop, "bed_ids": []string{x.bed}, "planted_on": today, "expected_harvest_on": "2027-01-28"}
	got := x.post(domain.Crew, "/v1/plantings", planting).is(http.StatusCreated).fields()
	if w, _ := got["warnings"].([]any); len(w) == 0 || !strings.Contains(w[0].(string), "2027-01-29") {
		t.Errorf("warnings %v, want the first clear day 2027-01-29", got["warnings"])
	}
	got = x.post(domain.Crew, "/v1/plantings", with(planting, "expected_harvest_on", "2027-01-29")).is(http.StatusCreated).fields()
	if got["warnings"] != nil {
		t.Errorf("warned of a day that is clear: %v", got["warnings"])
	}
}

func TestTodaySortsTheBeds(t *testing.T) {
	t.Parallel()
	x := newField(t)
	x.post(domain.Crew, "/v1/applications", x.manured("2026-08-01", "2026-08-01")).is(http.StatusCreated) // day 116 today: tomato is clear
	x.clock.SetDay("2026-11-21")
	read := func() map[string]int {
		body := x.get(domain.Reader, "/v1/today").is(http.StatusOK).fields()
		n := map[string]int{}
		for _, name := range []string{"clear", "opens_this_week", "waiting", "asks", "stops"} {
			n[name] = len(body[name].([]any))
		}
		return n
	}
	if diff := cmp.Diff(map[string]int{"clear": 1, "opens_this_week": 0, "waiting": 1, "asks": 0, "stops": 0}, read()); diff != "" {
		t.Errorf("eight days before: %s", diff)
	}
	x.clock.SetDay("2026-11-22")
	if diff := cmp.Diff(map[string]int{"clear": 1, "opens_this_week": 1, "waiting": 0, "asks": 0, "stops": 0}, read()); diff != "" {
		t.Errorf("seven days before: %s", diff)
	}
	x.clock.SetDay("2026-11-29")
	if diff := cmp.Diff(map[string]int{"clear": 2, "opens_this_week": 0, "waiting": 0, "asks": 0, "stops": 0}, read()); diff != "" {
		t.Errorf("on the day: %s", diff)
	}
}
