package api_test

import (
	"net/http"
	"slices"
	"strings"
	"testing"

	"croftmark/domain"
)

// roles from the one who may do least.
var roles = []domain.Role{domain.Reader, domain.Crew, domain.Lead, domain.Owner}

// collections names every collection with the roles that may write into it and change what it holds. Everybody of the
// farm reads. A collection whose records are written under another path has no role for writing.
var collections = []struct {
	path          string
	write, change domain.Role
}{
	{"people", domain.Owner, domain.Owner},
	{"plots", domain.Lead, domain.Lead},
	{"beds", domain.Lead, domain.Lead},
	{"bed-layouts", domain.Lead, domain.Lead},
	{"crops", domain.Lead, domain.Lead},
	{"plantings", domain.Crew, domain.Lead},
	{"inputs", domain.Crew, domain.Lead},
	{"input-lots", domain.Crew, domain.Lead},
	{"applications", domain.Crew, domain.Lead},
	{"grazings", domain.Crew, domain.Lead},
	{"holds", domain.Crew, domain.Lead},
	{"harvest-lots", domain.Crew, domain.Lead},
	{"label-prints", domain.Crew, domain.Lead},
	{"label-discards", domain.Crew, domain.Lead},
	{"lost-labels", domain.Crew, domain.Lead},
	{"buyer-links", domain.Lead, domain.Lead},
	{"compost-batches", domain.Crew, domain.Lead},
	{"compost-temperatures", "", domain.Lead},
	{"compost-turnings", "", domain.Lead},
	{"compost-additions", "", domain.Lead},
	{"compost-curings", "", domain.Lead},
	{"compost-lab-tests", "", domain.Lead},
	{"compost-contaminations", "", domain.Lead},
	{"probe-faults", domain.Lead, domain.Lead},
	{"certifier-answers", domain.Lead, domain.Lead},
	{"water-sources", domain.Lead, domain.Lead},
	{"water-tests", domain.Crew, domain.Lead},
	{"water-changes", domain.Lead, domain.Lead},
	{"water-certificates", domain.Lead, domain.Lead},
	{"water-inspections", domain.Crew, domain.Lead},
	{"water-assessments", domain.Lead, domain.Lead},
	{"water-actions", domain.Crew, domain.Lead},
	{"water-treatments", domain.Crew, domain.Lead},
	{"irrigations", domain.Crew, domain.Lead},
	{"handlings", domain.Crew, domain.Lead},
	{"findings", domain.Crew, domain.Lead},
	{"corrective-actions", domain.Crew, domain.Lead},
	{"pack-lots", domain.Crew, domain.Lead},
	{"customers", domain.Lead, domain.Lead},
	{"shipments", domain.Crew, domain.Lead},
	{"returns", domain.Crew, domain.Lead},
	{"recalls", domain.Lead, domain.Lead},
	{"traceback-requests", domain.Lead, domain.Lead},
	{"attachments", domain.Crew, domain.Lead},
	{"log-sheets", domain.Lead, domain.Lead},
	{"log-entries", domain.Crew, domain.Lead},
}

// singles are the operations that belong to no collection's seven.
var singles = map[string]domain.Role{
	"GET /v1/farm":                                   domain.Reader,
	"POST /v1/farm":                                  domain.Owner,
	"GET /v1/files/{hash}":                           domain.Reader,
	"GET /v1/files/{hash}/thumbnail.jpg":             domain.Reader,
	"GET /v1/me":                                     domain.Reader,
	"POST /v1/people/{id}/pin":                       domain.Owner, // and the person themselves
	"POST /v1/tokens":                                domain.Owner,
	"GET /v1/tokens":                                 domain.Owner,
	"POST /v1/tokens/{id}/revoke":                    domain.Owner,
	"POST /v1/sessions":                              domain.Reader,
	"GET /v1/sessions":                               domain.Owner,
	"POST /v1/sessions/{id}/revoke":                  domain.Owner,
	"GET /v1/beds/{id}/ground":                       domain.Reader,
	"POST /v1/beds/{id}/production":                  domain.Lead,
	"GET /v1/harvest-check":                          domain.Reader,
	"GET /v1/harvest-refusals":                       domain.Reader,
	"POST /v1/harvest-lots/{id}/disposal":            domain.Crew,
	"POST /v1/holds/{id}/release":                    domain.Lead,
	"GET /v1/lots":                                   domain.Reader,
	"GET /v1/lots/{code}":                            domain.Reader,
	"GET /v1/crates/{code}":                          domain.Reader,
	"GET /v1/trace/{code}":                           domain.Reader,
	"GET /v1/trace":                                  domain.Reader,
	"GET /v1/recalls/{id}/report.pdf":                domain.Reader,
	"GET /v1/traceback-requests/{id}/packet.json":    domain.Reader,
	"GET /v1/traceback-requests/{id}/packet.pdf":     domain.Reader,
	"GET /v1/traceback-requests/{id}/packet.xlsx":    domain.Reader,
	"GET /v1/traceback-requests/{id}/packet.zip":     domain.Reader,
	"GET /v1/traceback-requests/{id}/epcis.json":     domain.Reader,
	"GET /v1/plan.pdf":                               domain.Reader,
	"GET /v1/book/consistency/{from}":                domain.Reader,
	"GET /v1/labels":                                 domain.Reader,
	"GET /v1/book/entries":                           domain.Reader,
	"GET /v1/book/checkpoint":                        domain.Reader,
	"GET /v1/book/proof/{entry}":                     domain.Reader,
	"GET /v1/calendar.ics":                           domain.Reader,
	"POST /v1/calendar-address":                      domain.Reader,
	"POST /v1/calendar-address/end":                  domain.Reader,
	"POST /v1/daily-messages":                        domain.Reader,
	"GET /v1/daily-messages":                         domain.Reader,
	"POST /v1/daily-messages/{id}/end":               domain.Reader,
	"POST /v1/daily-messages/{id}/test":              domain.Reader,
	"GET /v1/reviews":                                domain.Lead,
	"POST /v1/reviews":                               domain.Lead,
	"GET /v1/log-sheets/{sheet}/form.pdf":            domain.Reader,
	"GET /v1/rules":                                  domain.Reader,
	"GET /v1/crop-catalogue":                         domain.Reader,
	"GET /v1/today":                                  domain.Reader,
	"GET /v1/alerts":                                 domain.Reader,
	"POST /v1/pack-lots/{id}/disposal":               domain.Crew,
	"POST /v1/buyer-links/{id}/address":              domain.Lead,
	"GET /v1/compost-batches/{id}/chart.svg":         domain.Reader,
	"GET /v1/compost-batches/{id}/report.pdf":        domain.Reader,
	"GET /v1/water-sources/{id}/chart.svg":           domain.Reader,
	"GET /v1/water-sources/{id}/report.pdf":          domain.Reader,
	"GET /v1/stock":                                  domain.Reader,
	"GET /v1/feedstocks":                             domain.Reader,
	"POST /v1/compost-recipes":                       domain.Reader,
	"POST /v1/sanitizer-doses":                       domain.Reader,
	"POST /v1/findings/{id}/resolution":              domain.Lead,
	"POST /v1/compost-batches/{id}/temperatures":     domain.Crew,
	"POST /v1/compost-batches/{id}/temperatures.csv": domain.Crew,
	"GET /v1/retention":                              domain.Reader,
	"GET /v1/binder.pdf":                             domain.Reader,
	"POST /v1/imports/beds.csv":                      domain.Lead,
	"POST /v1/imports/crops.csv":                     domain.Lead,
	"POST /v1/imports/customers.csv":                 domain.Lead,
	"POST /v1/imports/plantings.csv":                 domain.Lead,
	"POST /v1/imports/applications.csv":              domain.Lead,
	"POST /v1/imports/harvests.csv":                  domain.Lead,
	"POST /v1/compost-batches/{id}/turnings":         domain.Crew,
	"POST /v1/compost-batches/{id}/additions":        domain.Crew,
	"POST /v1/compost-batches/{id}/curing":           domain.Crew,
	"POST /v1/compost-batches/{id}/lab-tests":        domain.Crew,
	"POST /v1/compost-batches/{id}/contaminations":   domain.Crew,
}

// phoneOnly are the operations of a phone's own session. No token opens them, whatever the role.
var phoneOnly = map[string]bool{"GET /v1/session": true, "POST /v1/session/switch": true, "POST /v1/session/leave": true, "POST /v1/session/end": true}

// neededRoles is the whole table, operation by operation.
func neededRoles() map[string]domain.Role {
	table := map[string]domain.Role{}
	for name, role := range singles {
		table[name] = role
	}
	for _, c := range collections {
		all := "/v1/" + c.path
		if c.write != "" {
			table["POST "+all] = c.write
		}
		table["GET "+all], table["GET "+all+"/{id}"], table["GET "+all+"/{id}/history"] = domain.Reader, domain.Reader, domain.Reader
		table["POST "+all+"/{id}/corrections"], table["POST "+all+"/{id}/void"] = c.change, c.change
		table["POST "+all+"/{id}/reviews"] = domain.Lead
	}
	return table
}

// walk gives a path of the operation that names nothing there is, and a body that says nothing.
func (o operation) walk(t testing.TB, token string) *http.Request {
	t.Helper()
	path := strings.NewReplacer("{id}", newID(t), "{code}", "26219-L3-RAD-1-SS", "{entry}", "1", "{from}", "1", "{hash}", strings.Repeat("a", 64), "{sheet}", "training").Replace(o.Path)
	if strings.Contains(path, "{") {
		t.Fatalf("%s has a parameter that this test does not know", o)
	}
	if o.Method != http.MethodPost {
		return request(t, token, o.Method, path, nil)
	}
	r := request(t, token, o.Method, path, "{}")
	if strings.HasSuffix(path, ".csv") {
		r.Header.Set("Content-Type", "text/csv")
	}
	return r
}

func TestNobodyReadsOrWritesUnasked(t *testing.T) {
	t.Parallel()
	f := newFarm(t)
	f.unchanged(func() {
		for _, op := range contractOf(t).operations() {
			for name, token := range map[string]string{"no token": "", "garbage": "cm_00000000000000000000000000000000", "another scheme": "\x00"} {
				r := op.walk(t, token)
				if token == "\x00" {
					r.Header.Set("Authorization", "Basic "+f.tokens[domain.Owner])
				}
				a := f.send(r)
				if a.Status != http.StatusUnauthorized {
					t.Errorf("%s with %s: %d, want 401", op, name, a.Status)
					continue
				}
				a.problem(http.StatusUnauthorized, domain.CodeNotSignedIn)
				if a.Header.Get("WWW-Authenticate") != "Bearer" {
					t.Errorf("%s: WWW-Authenticate %q", op, a.Header.Get("WWW-Authenticate"))
				}
			}
		}
	})
}

func TestWhatEachRoleMayDo(t *testing.T) {
	t.Parallel()
	f := newFarm(t)
	table := neededRoles()
	f.unchanged(func() {
		for _, op := range contractOf(t).operations() {
			if phoneOnly[op.String()] {
				for _, role := range roles {
					f.send(op.walk(t, f.tokens[role])).problem(http.StatusForbidden, domain.CodeNotAllowed)
				}
				continue
			}
			need, ok := table[op.String()]
			if !ok {
				t.Errorf("%s is not in the table of roles", op)
				continue
			}
			delete(table, op.String())
			for _, role := range roles {
				a := f.send(op.walk(t, f.tokens[role]))
				allowed := slices.Index(roles, role) >= slices.Index(roles, need)
				switch {
				case !allowed && a.Status != http.StatusForbidden:
					t.Errorf("%s as %s: %d, want 403", op, role, a.Status)
				case !allowed:
					a.problem(http.StatusForbidden, domain.CodeNotAllowed)
				case a.Status == http.StatusForbidden || a.Status == http.StatusUnauthorized || a.Status >= 500:
					t.Errorf("%s as %s: %d, want it allowed: %s", op, role, a.Status, a.Body)
				}
			}
		}
	})
	for name := range table {
		t.Errorf("the table of roles names %s, which is not in the document", name)
	}
}

// A token ends with the person's time, and a voided person is out at once.
func TestAccessEnds(t *testing.T) {
	t.Parallel()
	f := newFarm(t)
	f.get(domain.Reader, "/v1/today").is(http.StatusOK)
	f.clock.SetDay("2027-07-05")
	f.get(domain.Reader, "/v1/today").problem(http.StatusUnauthorized, domain.CodeNotSignedIn)
	f.get(domain.Crew, "/v1/today").is(http.StatusOK)
	f.post(domain.Owner, "/v1/people/"+f.people[domain.Crew]+"/void", fields{"reason": "Left the farm."}).is(http.StatusCreated)
	f.get(domain.Crew, "/v1/today").problem(http.StatusUnauthorized, domain.CodeNotSignedIn)

	limited := f.post(domain.Owner, "/v1/tokens", fields{"person_id": f.people[domain.Lead], "label": "for the day", "expires_at": "2027-07-05T18:00:00-04:00"}).
		is(http.StatusCreated).text("token")
	f.send(request(t, limited, http.MethodGet, "/v1/today", nil)).is(http.StatusOK)
	f.clock.SetDay("2027-07-06")
	f.send(request(t, limited, http.MethodGet, "/v1/today", nil)).problem(http.StatusUnauthorized, domain.CodeNotSignedIn)
}
