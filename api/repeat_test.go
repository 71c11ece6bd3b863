package api_test

import (
	"fmt"
	"net/http"
	"slices"
	"sync"
	"testing"

	"github.com/google/go-cmp/cmp"

	"croftmark/domain"
)

func TestSameIdSameBody(t *testing.T) {
	t.Parallel()
	x := newField(t)
	body := with(x.cutOf(x.radish, "2026-08-08"), "id", newID(t))
	first := x.post(domain.Crew, "/v1/harvest-lots", body).is(http.StatusCreated)
	if got := first.Header.Get("Location"); got != "/v1/harvest-lots/"+body["id"].(string) {
		t.Errorf("Location %q", got)
	}
	x.unchanged(func() {
		again := x.post(domain.Crew, "/v1/harvest-lots", body).is(http.StatusOK)
		if diff := cmp.Diff(first.fields(), again.fields()); diff != "" {
			t.Errorf("the second answer differs (-first +again):\n%s", diff)
		}
		// White space and the order of fields are not another body.
		x.post(domain.Crew, "/v1/harvest-lots", fmt.Sprintf(`{ "id": %q, "crew": [%q], "containers": 3, "quantity": {"unit": "lb", "value": "40"},
			"cut_on": "2026-08-08", "bed_ids": [%q], "planting_id": %q }`, body["id"], x.people[domain.Crew], x.bed, x.radish)).is(http.StatusOK)
		x.post(domain.Crew, "/v1/harvest-lots", with(body, "containers", 4)).problem(http.StatusConflict, domain.CodeIDReused)
		x.post(domain.Lead, "/v1/plots", fields{"id": body["id"], "name": "North"}).problem(http.StatusConflict, domain.CodeIDReused)
		x.post(domain.Lead, "/v1/plots", fields{"id": x.bed, "name": "North"}).problem(http.StatusConflict, domain.CodeIDReused)
		x.post(domain.Lead, "/v1/bed-layouts", fields{"plot_id": x.plot, "on": "2026-09-01", "lay": []fields{{"id": body["id"], "name": "C"}}}).
			problem(http.StatusUnprocessableEntity, domain.CodeInvalid)
	})
}

func TestIdempotencyKey(t *testing.T) {
	t.Parallel()
	x := newField(t)
	keyed := func(path, key string, body fields) *answer {
		t.Helper()
		r := request(t, x.tokens[domain.Lead], http.MethodPost, path, body)
		r.Header.Set("Idempotency-Key", key)
		return x.send(r)
	}
	first := keyed("/v1/plots", "k-1", fields{"name": "North"}).is(http.StatusCreated)
	x.unchanged(func() {
		again := keyed("/v1/plots", "k-1", fields{"name": "North"}).is(http.StatusOK)
		if diff := cmp.Diff(first.fields(), again.fields()); diff != "" {
			t.Errorf("the second answer differs:\n%s", diff)
		}
		keyed("/v1/plots", "k-1", fields{"name": "South"}).problem(http.StatusConflict, domain.CodeIDReused)
		keyed("/v1/inputs", "k-1", fields{"name": "North", "category": "mineral"}).problem(http.StatusConflict, domain.CodeIDReused)
	})
	correction := fields{"reason": "Slip.", "changes": fields{"name": "Far North"}}
	on := "/v1/plots/" + first.id() + "/corrections"
	keyed(on, "k-2", correction).is(http.StatusCreated)
	x.unchanged(func() {
		if got := keyed(on, "k-2", correction).is(http.StatusOK).text("name"); got != "Far North" {
			t.Errorf("repeated correction: %s", got)
		}
		keyed(on, "k-2", with(correction, "reason", "Another slip.")).problem(http.StatusConflict, domain.CodeIDReused)
	})
	manure := x.post(domain.Crew, "/v1/applications", x.manured("2026-04-01", "2026-04-10")).id()
	keyed("/v1/applications/"+manure+"/void", "k-3", fields{"reason": "Wrong bed."}).is(http.StatusCreated)
	x.unchanged(func() {
		keyed("/v1/applications/"+manure+"/void", "k-3", fields{"reason": "Wrong bed."}).is(http.StatusOK)
	})
	// Without a key, the same body twice is two records.
	before := x.size()
	x.post(domain.Crew, "/v1/applications", x.manured("2026-05-01", "2026-05-01")).is(http.StatusCreated)
	x.post(domain.Crew, "/v1/applications", x.manured("2026-05-01", "2026-05-01")).is(http.StatusCreated)
	if n := x.size() - before; n != 2 {
		t.Errorf("%d entries, want 2", n)
	}
}

func TestSameIdInTwoFarms(t *testing.T) {
	t.Parallel()
	s := newService(t)
	ours, theirs := s.farm("Fern Bank"), s.farm("Next Door")
	body := fields{"id": newID(t), "name": "North"}
	ours.post(domain.Owner, "/v1/plots", body).is(http.StatusCreated)
	ours.unchanged(func() {
		theirs.post(domain.Owner, "/v1/plots", with(body, "name", "Their North")).is(http.StatusCreated)
	})
	ours.post(domain.Owner, "/v1/plots", body).is(http.StatusOK)
	if got := ours.get(domain.Owner, "/v1/plots/"+body["id"].(string)).is(http.StatusOK).text("name"); got != "North" {
		t.Errorf("our plot is named %s", got)
	}
}

// A phone with a bad line sends again and again: one record, one entry, one code.
func TestTwentyTimesAtOnce(t *testing.T) {
	t.Parallel()
	x := newField(t)
	before := x.size()
	body := with(x.cutOf(x.radish, "2026-08-08"), "id", newID(t))
	answers := make([]*answer, 20)
	var wg sync.WaitGroup
	for i := range answers {
		wg.Go(func() { answers[i] = x.post(domain.Crew, "/v1/harvest-lots", body) })
	}
	wg.Wait()
	var statuses []int
	for _, a := range answers {
		statuses = append(statuses, a.Status)
		if got := a.text("code"); got != answers[0].text("code") {
			t.Errorf("codes %s and %s", got, answers[0].text("code"))
		}
	}
	slices.Sort(statuses)
	if want := append(slices.Repeat([]int{http.StatusOK}, 19), http.StatusCreated); !slices.Equal(statuses, want) {
		t.Errorf("statuses %v", statuses)
	}
	if n := x.size() - before; n != 1 {
		t.Errorf("%d entries, want 1", n)
	}
}

// Many lots of one bed and day at once: each has a code of its own.
func TestCodesAreNeverGivenTwice(t *testing.T) {
	t.Parallel()
	x := newField(t)
	codes := make([]string, 12)
	var wg sync.WaitGroup
	for i := range codes {
		wg.Go(func() {
			codes[i] = x.post(domain.Crew, "/v1/harvest-lots", x.cutOf(x.radish, "2026-08-08")).is(http.StatusCreated).text("code")
		})
	}
	wg.Wait()
	slices.Sort(codes)
	if n := len(slices.Compact(codes)); n != 12 {
		t.Errorf("%d codes for 12 lots", n)
	}
}

// A refused harvest that is sent again is refused again, once in the book; when the ground is clear the same id is taken.
func TestRefusedHarvestSentAgain(t *testing.T) {
	t.Parallel()
	x := newField(t)
	manure := x.post(domain.Crew, "/v1/applications", x.manured("2026-04-01", "2026-04-10")).id()
	before := x.size()
	body := with(x.cutOf(x.radish, "2026-08-07"), "id", newID(t))
	first := x.post(domain.Crew, "/v1/harvest-lots", body)
	first.problem(http.StatusConflict, domain.CodeHarvestRefused)
	for range 3 {
		again := x.post(domain.Crew, "/v1/harvest-lots", body)
		again.problem(http.StatusConflict, domain.CodeHarvestRefused)
		if diff := cmp.Diff(without(first.fields(), "request_id"), without(again.fields(), "request_id")); diff != "" {
			t.Errorf("refused otherwise (-first +again):\n%s", diff)
		}
	}
	if n := x.size() - before; n != 1 {
		t.Errorf("%d entries from four attempts, want 1", n)
	}
	x.post(domain.Lead, "/v1/applications/"+manure+"/void", fields{"reason": "Went on the neighbour's ground."}).is(http.StatusCreated)
	x.post(domain.Crew, "/v1/harvest-lots", body).is(http.StatusCreated)
	x.post(domain.Crew, "/v1/harvest-lots", body).is(http.StatusOK)
}

// An id of zeros would be taken for none: the record sent again would be written again.
func TestIDOfZerosIsRefused(t *testing.T) {
	t.Parallel()
	x := newField(t)
	x.unchanged(func() {
		x.post(domain.Lead, "/v1/crops", fields{"id": "00000000-0000-0000-0000-000000000000", "name": "Beet", "soil_contact": "touches"}).problem(http.StatusUnprocessableEntity, domain.CodeInvalid)
	})
}
