package api_test

import (
	"net/http"
	"testing"

	"croftmark/domain"
)

func (f *farm) cleaned(role domain.Role) string {
	f.t.Helper()
	return f.post(role, "/v1/log-entries", fields{"sheet": "cleaning", "values": fields{"places": []string{"Tank 1"}, "method": "brush", "checked": "yes"}}).id()
}

// A lead signs an evening's records in two requests: what waits, and all of it at once.
func TestAnEveningOfSigning(t *testing.T) {
	t.Parallel()
	f := newFarm(t, "us-organic", "us-produce-safety")
	mine := f.cleaned(domain.Lead)
	var records []fields
	for range 12 {
		records = append(records, fields{"kind": "log-entry", "id": f.cleaned(domain.Crew)})
	}
	queue := f.get(domain.Lead, "/v1/reviews").is(http.StatusOK).list()
	if len(queue) != 13 || queue[0]["id"] != mine || queue[0]["may_sign"] != false || queue[0]["why_not"] == "" || queue[1]["may_sign"] != true {
		t.Fatalf("queue %v", queue)
	}
	asks := queue[1]["asks"].(fields)
	if asks["authority"] != "law" || asks["citation"] != "21 CFR 112.140(b)(1), (2), 112.161(b)" || queue[1]["late_on"] != "2026-12-02" {
		t.Errorf("asked for by %v, late on %v", asks, queue[1]["late_on"])
	}
	f.unchanged(func() {
		p := f.post(domain.Lead, "/v1/reviews", fields{"records": append(records[:12:12], fields{"kind": "log-entry", "id": mine})}).problem(http.StatusUnprocessableEntity, domain.CodeInvalid)
		at(t, p, "#/records/12")
		at(t, f.post(domain.Lead, "/v1/reviews", fields{"records": []fields{records[0], records[0]}}).problem(http.StatusUnprocessableEntity, domain.CodeInvalid), "#/records/1")
		f.post(domain.Lead, "/v1/reviews", fields{"records": []fields{}}).problem(http.StatusUnprocessableEntity, domain.CodeInvalid)
		f.post(domain.Lead, "/v1/reviews", fields{"records": nil}).problem(http.StatusUnprocessableEntity, domain.CodeInvalid)
	})
	before := f.size()
	for _, status := range []int{http.StatusCreated, http.StatusOK} {
		r := request(t, f.tokens[domain.Lead], http.MethodPost, "/v1/reviews", fields{"records": records, "note": "evening round"})
		r.Header.Set("Idempotency-Key", "evening-1")
		if signed := f.send(r).is(status).list(); len(signed) != 12 || len(signed[0]["review"].([]any)) != 1 {
			t.Errorf("signed %v", signed)
		}
		if f.size() != before+12 {
			t.Errorf("%d entries for 12 signatures", f.size()-before)
		}
	}
	if queue := f.get(domain.Lead, "/v1/reviews").is(http.StatusOK).list(); len(queue) != 1 {
		t.Errorf("%d still wait", len(queue))
	}
	f.post(domain.Lead, "/v1/log-entries/"+mine+"/reviews", fields{}).problem(http.StatusForbidden, domain.CodeNotAllowed)
	f.post(domain.Owner, "/v1/log-entries/"+mine+"/reviews", fields{}).is(http.StatusCreated)
}

// An organic farm that does not answer to the produce safety rule is asked for no signature by it.
func TestNobodyIsAskedForWhatNoRuleAsks(t *testing.T) {
	t.Parallel()
	f := newFarm(t)
	f.cleaned(domain.Crew)
	if queue := f.get(domain.Lead, "/v1/reviews").is(http.StatusOK).list(); len(queue) != 0 {
		t.Errorf("asked for %v", queue)
	}
}
