package api_test

import (
	"net/http"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"croftmark/domain"
)

// A day that was written down wrong moves the clear day of lots already cut; what was believed then stays readable.
func TestCorrectionJudgesLotsAgain(t *testing.T) {
	t.Parallel()
	x := newField(t)
	manure := x.post(domain.Crew, "/v1/applications", x.manured("2026-03-01", "2026-03-01")).id()
	lot := x.post(domain.Crew, "/v1/harvest-lots", x.cutOf(x.radish, "2026-08-07")).is(http.StatusCreated).fields()
	on := "/v1/applications/" + manure

	got := x.post(domain.Lead, on+"/corrections", fields{"reason": "The till log says the 10th of April.",
		"changes": fields{"incorporated_on": "2026-04-10"}}).is(http.StatusCreated).fields()
	want := []any{fields{"lot_id": lot["id"], "code": lot["code"], "then": "clear", "now": "wait", "clear_on": "2026-08-08"}}
	if diff := cmp.Diff(want, got["rejudged"]); diff != "" {
		t.Errorf("rejudged (-want +got):\n%s", diff)
	}
	if got["incorporated_on"] != "2026-04-10" || got["applied_on"] != "2026-03-01" {
		t.Errorf("corrected record: %+v", got)
	}
	now := x.get(domain.Reader, "/v1/harvest-lots/"+lot["id"].(string)).is(http.StatusOK).fields()
	if now["verdict_now"] != "wait" || now["held"] != true || now["verdict_then"].(fields)["verdict"] != "clear" {
		t.Errorf("lot now %v, held %v, then %v", now["verdict_now"], now["held"], now["verdict_then"])
	}

	history := x.get(domain.Reader, on+"/history").is(http.StatusOK).list()
	if len(history) != 2 || history[0]["body"].(fields)["incorporated_on"] != "2026-03-01" || history[1]["kind"] != "correction" ||
		history[1]["reason"] != "The till log says the 10th of April." || history[1]["typed_by"] != x.people[domain.Lead] {
		t.Errorf("history: %+v", history)
	}
	// The lot's own history: the cut, and the judgement that the correction brought.
	history = x.get(domain.Reader, "/v1/harvest-lots/"+lot["id"].(string)+"/history").is(http.StatusOK).list()
	if len(history) != 2 || history[1]["kind"] != "lot-judgement" || history[1]["body"].(fields)["caused_by"] != got["entry"] {
		t.Errorf("the lot's history: %+v", history)
	}

	x.post(domain.Lead, on+"/void", fields{"reason": "Went on another bed."}).is(http.StatusCreated)
	now = x.get(domain.Reader, "/v1/harvest-lots/"+lot["id"].(string)).is(http.StatusOK).fields()
	if now["verdict_now"] != "clear" || now["held"] != false {
		t.Errorf("after the void: %v, held %v", now["verdict_now"], now["held"])
	}
}

// A record that comes late, and the warning that goes with it.
func TestLateRecordJudgesLotsAgain(t *testing.T) {
	t.Parallel()
	x := newField(t)
	lot := x.post(domain.Crew, "/v1/harvest-lots", x.cutOf(x.radish, "2026-06-05")).is(http.StatusCreated).fields()
	late := x.post(domain.Crew, "/v1/applications", with(x.manured("2026-03-10", "2026-03-10"), "late_reason", "The slip lay in the tractor.")).is(http.StatusCreated).fields()
	rejudged, _ := late["rejudged"].([]any)
	if len(rejudged) != 1 || rejudged[0].(fields)["code"] != lot["code"] || late["late_days"] != float64(260) {
		t.Errorf("rejudged %v, %v days late", late["rejudged"], late["late_days"])
	}
	warnings := ""
	for _, w := range late["warnings"].([]any) {
		warnings += w.(string) + "\n"
	}
	if !strings.Contains(warnings, lot["code"].(string)) {
		t.Errorf("no warning names the lot: %s", warnings)
	}
	if got := x.get(domain.Reader, "/v1/applications/"+late["id"].(string)+"/history").list()[0]["reason"]; got != "The slip lay in the tractor." {
		t.Errorf("reason in the book: %v", got)
	}
}

func TestCorrectionsThatAreRefused(t *testing.T) {
	t.Parallel()
	x := newField(t)
	manure := x.post(domain.Crew, "/v1/applications", x.manured("2026-04-01", "2026-04-10")).id()
	lot := x.post(domain.Crew, "/v1/harvest-lots", x.cutOf(x.radish, "2026-08-08")).id()
	application, harvest, bed := "applications/"+manure, "harvest-lots/"+lot, "beds/"+x.bed
	for name, row := range map[string]struct {
		on      string
		body    fields
		pointer string
	}{
		"no reason":               {application, fields{"changes": fields{"note": "x"}}, "#/reason"},
		"empty reason":            {application, fields{"reason": "", "changes": fields{"note": "x"}}, "#/reason"},
		"no changes":              {application, fields{"reason": "x"}, "#/changes"},
		"empty changes":           {application, fields{"reason": "x", "changes": fields{}}, "#/changes"},
		"field nobody knows":      {application, fields{"reason": "x", "changes": fields{"colour": "red"}}, "#/changes/colour"},
		"wrong kind of value":     {application, fields{"reason": "x", "changes": fields{"applied_on": 7}}, "#/changes/applied_on"},
		"the id":                  {application, fields{"reason": "x", "changes": fields{"id": newID(t)}}, "#/changes/id"},
		"field in other letters":  {application, fields{"reason": "x", "changes": fields{"Applied_On": "2026-04-02"}}, "#/changes/Applied_On"},
		"who did it":              {application, fields{"reason": "x", "changes": fields{"done_by": x.people[domain.Lead]}}, "#/changes/done_by"},
		"worked in before spread": {application, fields{"reason": "x", "changes": fields{"incorporated_on": "2026-03-01"}}, "#/incorporated_on"},
		"moved to the future":     {application, fields{"reason": "x", "changes": fields{"applied_on": "2027-04-01"}}, "#/applied_on"},
		"moved to nowhere":        {application, fields{"reason": "x", "changes": fields{"ground": fields{"bed_ids": []string{newID(t)}}}}, "#/ground/bed_ids/0"},
		"needed field taken away": {application, fields{"reason": "x", "changes": fields{"applied_on": nil}}, "#/applied_on"},
		"a bed's plot":            {bed, fields{"reason": "x", "changes": fields{"plot_id": newID(t)}}, "#/changes/plot_id"},
		"a bed's end":             {bed, fields{"reason": "x", "changes": fields{"to": "2026-05-01"}}, "#/changes/to"},
		"a lot's code":            {harvest, fields{"reason": "x", "changes": fields{"code": "26219-L3-RAD-1-SS"}}, "#/changes/code"},
		"a lot's verdict":         {harvest, fields{"reason": "x", "changes": fields{"verdict_then": nil}}, "#/changes/verdict_then"},
		"unhold by correction":    {harvest, fields{"reason": "x", "changes": fields{"already_cut": false}}, "#/changes/already_cut"},
	} {
		t.Run(name, func(t *testing.T) {
			x.unchanged(func() {
				a := x.post(domain.Owner, "/v1/"+row.on+"/corrections", row.body)
				a.t = t
				at(t, a.problem(http.StatusUnprocessableEntity, domain.CodeInvalid), row.pointer)
				if word := goWords.FindString(string(a.Body)); word != "" {
					t.Errorf("the answer says %q: %s", word, a.Body)
				}
			})
		})
	}
}

func TestVoid(t *testing.T) {
	t.Parallel()
	x := newField(t)
	manure := x.post(domain.Crew, "/v1/applications", x.manured("2026-04-01", "2026-04-10")).id()
	on := "/v1/applications/" + manure
	x.unchanged(func() {
		at(t, x.post(domain.Lead, on+"/void", fields{"reason": ""}).problem(http.StatusUnprocessableEntity, domain.CodeInvalid), "#/reason")
		x.post(domain.Crew, on+"/void", fields{"reason": "Wrong bed."}).problem(http.StatusForbidden, domain.CodeNotAllowed)
		x.post(domain.Lead, "/v1/plots/"+x.plot+"/void", fields{"reason": "x"}).problem(http.StatusConflict, domain.CodeRuleRefused)
	})
	x.post(domain.Lead, on+"/void", fields{"reason": "Wrong bed."}).is(http.StatusCreated)
	x.unchanged(func() {
		x.post(domain.Lead, on+"/void", fields{"reason": "Again."}).problem(http.StatusConflict, domain.CodeRuleRefused)
		x.post(domain.Lead, on+"/corrections", fields{"reason": "x", "changes": fields{"note": "y"}}).problem(http.StatusConflict, domain.CodeRuleRefused)
		x.post(domain.Lead, on+"/reviews", fields{}).problem(http.StatusConflict, domain.CodeRuleRefused)
	})
	if got := x.get(domain.Reader, on).is(http.StatusOK).fields(); got["voided"] != true || got["applied_on"] != "2026-04-01" {
		t.Errorf("a void record stays readable: %+v", got)
	}
	ground := x.get(domain.Reader, "/v1/beds/"+x.bed+"/ground").is(http.StatusOK).fields()
	if n := len(ground["exposures"].([]any)); n != 0 {
		t.Errorf("%d exposures left after the void", n)
	}
}

// 21 CFR 112.161(b): records are reviewed, dated and signed by a supervisor or another responsible person. Here: by a
// lead who neither did nor typed it.
func TestSecondSignature(t *testing.T) {
	t.Parallel()
	x := newField(t)
	byCrew := "/v1/applications/" + x.post(domain.Crew, "/v1/applications", x.manured("2026-04-01", "2026-04-10")).id()
	byLead := "/v1/applications/" + x.post(domain.Lead, "/v1/applications", x.manured("2026-04-02", "2026-04-10")).id()
	forLead := "/v1/applications/" + x.post(domain.Crew, "/v1/applications", with(x.manured("2026-04-03", "2026-04-10"), "done_by", x.people[domain.Lead])).id()

	x.post(domain.Crew, byCrew+"/reviews", fields{}).problem(http.StatusForbidden, domain.CodeNotAllowed)
	signed := x.post(domain.Lead, byCrew+"/reviews", fields{"note": "Seen."}).is(http.StatusCreated).fields()
	reviews := signed["review"].([]any)
	if len(reviews) != 1 || reviews[0].(fields)["by"] != x.people[domain.Lead] {
		t.Errorf("signatures: %v", signed["review"])
	}
	x.unchanged(func() {
		x.post(domain.Lead, byLead+"/reviews", fields{}).problem(http.StatusForbidden, domain.CodeNotAllowed)
		x.post(domain.Lead, forLead+"/reviews", fields{}).problem(http.StatusForbidden, domain.CodeNotAllowed)
	})
	x.post(domain.Owner, byLead+"/reviews", fields{}).is(http.StatusCreated)
	x.post(domain.Owner, forLead+"/reviews", fields{}).is(http.StatusCreated)
	history := x.get(domain.Reader, byCrew+"/history").is(http.StatusOK).list()
	if len(history) != 2 || history[1]["kind"] != "review" || history[1]["body"].(fields)["note"] != "Seen." {
		t.Errorf("history: %+v", history)
	}
}

// On a farm of one, the second look is the same person's, and still an act of its own.
func TestSecondSignatureOfOnePerson(t *testing.T) {
	t.Parallel()
	f := newService(t).loneFarm("One Hand")
	sign := func(plot string) *answer {
		t.Helper()
		id := f.post(domain.Owner, "/v1/plots", fields{"name": plot}).id()
		return f.post(domain.Owner, "/v1/plots/"+id+"/reviews", fields{})
	}
	sign("Alone").is(http.StatusCreated)
	f.post(domain.Owner, "/v1/people", fields{"name": "Carl Crew", "initials": "CC", "role": "crew"}).is(http.StatusCreated)
	sign("With crew").is(http.StatusCreated)
	lead := f.post(domain.Owner, "/v1/people", fields{"name": "Lena Lead", "initials": "LL", "role": "lead"}).id()
	sign("With a lead").problem(http.StatusForbidden, domain.CodeNotAllowed)
	f.post(domain.Owner, "/v1/people/"+lead+"/void", fields{"reason": "Left."}).is(http.StatusCreated)
	sign("Alone again").is(http.StatusCreated)
}

// Ground remembers through re-laying: the new bed answers for what went on the old ones, and the old name still finds it.
func TestRelaidGroundThroughHTTP(t *testing.T) {
	t.Parallel()
	x := newField(t)
	whole := x.post(domain.Crew, "/v1/applications", with(x.manured("2024-03-02", "2024-03-02"), "ground", fields{"plot_id": x.plot})).id()
	manure := x.post(domain.Crew, "/v1/applications", x.manured("2026-04-01", "2026-04-10")).id()
	layout := x.post(domain.Lead, "/v1/bed-layouts", fields{"plot_id": x.plot, "on": "2026-07-01", "retire": []string{x.bed},
		"lay": []fields{{"name": "Slope A", "over": []string{x.bed}}, {"name": "Slope B", "over": []string{x.bed}}}}).is(http.StatusCreated).fields()
	slope := layout["lay"].([]any)[1].(fields)["id"].(string)
	ground := x.get(domain.Reader, "/v1/beds/"+slope+"/ground").is(http.StatusOK).fields()
	var got [][2]any
	for _, e := range ground["exposures"].([]any) {
		got = append(got, [2]any{e.(fields)["record"].(fields)["id"], e.(fields)["via"].(fields)["kind"]})
	}
	if diff := cmp.Diff([][2]any{{manure, "earlier-bed"}, {whole, "plot"}}, got); diff != "" {
		t.Errorf("ground of the new bed (-want +got):\n%s", diff)
	}
	turnip := x.plant("turnip", "touches", "2026-07-01", slope)
	p := x.post(domain.Crew, "/v1/harvest-lots", with(x.cutOf(turnip, "2026-08-07"), "bed_ids", []string{slope})).problem(http.StatusConflict, domain.CodeHarvestRefused)
	if p.Title != "Bed Slope B is not clear for turnip" || p.ClearOn.String() != "2026-08-08" {
		t.Errorf("%s, clear on %s", p.Title, p.ClearOn)
	}
	if old := x.get(domain.Reader, "/v1/beds/"+x.bed).is(http.StatusOK).fields(); old["to"] != "2026-07-01" {
		t.Errorf("the old bed: %+v", old)
	}
}
