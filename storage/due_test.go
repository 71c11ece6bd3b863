package storage_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/google/uuid"

	"croftmark/domain"
	"croftmark/storage"
)

// duty gives the day of a duty about something as one person sees it, with a star when it is overdue; empty when there is
// none.
func (f *field) duty(actor storage.Actor, kind, about string) string {
	f.t.Helper()
	list, err := f.db.Due(ctx, actor)
	mustBe(f.t, err)
	i := slices.IndexFunc(list.Due, func(d domain.Due) bool { return d.Kind == kind && strings.Contains(d.Text.En, about) })
	switch {
	case i < 0:
		return ""
	case list.Due[i].Overdue:
		return list.Due[i].On.String() + "*"
	}
	return list.Due[i].On.String()
}

func (f *field) wantDuty(kind, about, want string) {
	f.t.Helper()
	if got := f.duty(f.actor, kind, about); got != want {
		f.t.Errorf("%s about %q is due on %q, want %q", kind, about, got, want)
	}
}

// Each duty comes from the records and goes when the record that answers it is written. Today is 2026-11-25.
func TestDutiesComeFromRecordsAndGo(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{}, "us-organic", "us-produce-safety", "buyer-gap")
	well := f.write(&domain.WaterSource{Name: "Deep well", Is: domain.WaterUntreatedGround, Uses: []domain.WaterUse{domain.UseWashing, domain.UseIrrigationTouching}})
	f.wantDuty("water-inspection", "Deep well", "2026-11-25")
	f.write(&domain.WaterInspection{SourceID: well, MadeOn: day("2026-02-01"), Findings: "cap is tight"})
	f.wantDuty("water-inspection", "Deep well", "2027-02-01")
	f.wantDuty("water-assessment", "Deep well", "2026-11-25")
	f.write(&domain.WaterReview{SourceID: well, MadeOn: day("2025-11-01"), Outcome: "adequate", Factors: "deep"})
	f.wantDuty("water-assessment", "Deep well", "2026-11-01*")
	f.wantDuty("water-test", "Deep well", "2026-11-25")
	f.goodYear(well, "")
	if got := f.duty(f.actor, "water-test", "Deep well"); got == "2026-11-25" || got == "" {
		t.Errorf("after a year of good samples the next is due on %q", got)
	}

	cory := f.person("Cory", domain.Crew)
	f.wantDuty("training", "Cory", "2026-11-25")
	f.write(training("2026-03-02", cory.PersonID))
	f.wantDuty("training", "Cory", "2027-03-02")
	f.write(&domain.Person{Name: "Gone Gwen", Initials: "GG", Role: domain.Crew, EndsOn: day("2026-10-01")})
	f.write(&domain.Person{Name: "Rita Reader", Initials: "RR", Role: domain.Reader, EndsOn: day("2027-10-01")})
	f.wantDuty("training", "Gwen", "")
	f.wantDuty("training", "Rita", "")

	input := f.write(&domain.Input{Name: "Poultry pellets", Category: "processed-manure"})
	paper := func(received, issued string) {
		f.write(&domain.InputLot{InputID: input, Supplier: "Mill", ReceivedOn: day(received), Quantity: domain.Q("1", "yd3"),
			Certificate: &domain.Certificate{IssuedOn: day(issued), Process: "dried"}})
	}
	paper("2026-01-10", "2025-12-20")
	f.wantDuty("input-certificate", "Poultry pellets (Mill)", "2026-12-20")
	paper("2026-06-10", "2026-06-01")
	f.wantDuty("input-certificate", "Poultry pellets (Mill)", "2027-06-01")

	batch := f.pile("Heap 9", "2026-11-20")
	f.wantDuty("reading", "Heap 9", "2026-11-25")
	f.heat(batch, "2026-11-23", "140.0")
	f.wantDuty("reading", "Heap 9", "2026-11-24*")
	f.heat(batch, "2026-11-25", "140.0")
	f.wantDuty("reading", "Heap 9", "")
	f.pile("Old heap", "2026-03-01")
	f.wantDuty("reading", "Old heap", "")

	f.wantDuty("recall-drill", "", "2026-11-25")
	f.write(&domain.Recall{Start: domain.TraceStart{BedID: f.bed}, Drill: true, Reason: "yearly drill", StartedAt: at("2026-10-01", 9)})
	f.wantDuty("recall-drill", "", "2027-10-01")
	request := f.write(&domain.TracebackRequest{AskedBy: "Inspector", AskedAt: at("2026-11-24", 9), For: "authority", About: domain.TraceStart{BedID: f.bed}})
	f.wantDuty("traceback-request", "Inspector", "2026-11-25")
	f.correct("traceback-request", request, `{"answered_at": "2026-11-24T15:00:00-05:00"}`)
	f.wantDuty("traceback-request", "Inspector", "")

	warm := f.write(logOf("cold-room", "2026-11-24", "room", `["Walk-in"]`, "kept", `"cold-crops"`, "air", `{"value": "46", "unit": "degF"}`))
	f.wantDuty("open-action", "46 degF (at most 41 degF)", "2026-11-24*")
	action := &domain.CorrectiveAction{FoundOn: day("2026-11-24"), What: "the walk-in was warm", Fix: "new seal", DueOn: day("2026-12-01"), LogEntryIDs: ids(warm)}
	f.write(action)
	f.wantDuty("open-action", "46 degF", "")
	f.wantDuty("corrective-action", "the walk-in was warm", "2026-12-01")
	f.correct("corrective-action", action.ID, `{"closed": true, "product_fate": "sold within two days"}`)
	f.wantDuty("corrective-action", "the walk-in was warm", "")

	f.write(logOf("cleaning", "2026-11-20", "places", `["Tank 1"]`, "method", `"brush"`, "checked", `"yes"`))
	f.wantDuty("signature", "Cleaning and sanitizing", "2026-12-02") // written today, seven days of our own custom
	radish := f.plant("radish", domain.Touches, "2026-11-01", f.bed)
	f.spread(f.manure, "2026-10-01", "2026-10-01", f.bed)
	f.wantDuty("opens", "radish in bed Lower 3", "2027-01-29") // 120 days, 7 CFR 205.203(c)(1)(ii)
	_ = radish
}

// What somebody's health is shows among the duties of leads and the owner only.
func TestPrivateDuties(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	crew := f.person("Cory", domain.Crew)
	f.write(logOf("illness", "2026-11-24", "person_code", `"P3"`, "signs", `["vomiting"]`, "sent_where", `"home"`, "touched_product", `"yes"`))
	if f.duty(f.actor, "open-action", "illness") == "" {
		t.Error("the owner does not see it")
	}
	if got := f.duty(crew, "open-action", ""); got != "" {
		t.Errorf("the crew sees it, due on %s", got)
	}
}

// The page of the day costs a fixed number of trips, whatever there is.
func TestDueTrips(t *testing.T) {
	t.Parallel()
	seen := &statements{}
	c := &counting{field: newField(t, storage.Config{Tracer: seen}, "us-organic", "us-produce-safety"), seen: seen}
	look := func() int {
		trips, _ := seen.of(func() {
			if _, err := c.db.Due(ctx, c.actor); err != nil {
				t.Fatal(err)
			}
		})
		return trips
	}
	c.write(logOf("cleaning", "2026-11-19", "places", `["Tank 1"]`, "method", `"brush"`, "checked", `"yes"`)) // one thing waits to be signed
	before := look()
	var people []uuid.UUID
	for range 12 {
		people = append(people, c.person("Hand", domain.Crew).PersonID)
		c.write(&domain.WaterSource{Name: "Well " + uuid.NewString(), Is: domain.WaterUntreatedGround})
		c.write(logOf("cleaning", "2026-11-20", "places", `["Tank 1"]`, "method", `"brush"`, "checked", `"yes"`))
	}
	c.write(training("2026-03-02", people...))
	if after := look(); after != before {
		t.Errorf("%d trips on a quiet farm, %d on a busy one", before, after)
	}
}
