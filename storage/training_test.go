package storage_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/uuid"

	"croftmark/domain"
	"croftmark/storage"
)

func training(on string, people ...uuid.UUID) *domain.LogEntry {
	list := make([]string, len(people))
	for i, id := range people {
		list[i] = fmt.Sprintf("%q", id)
	}
	return logOf("training", on, "people", "["+strings.Join(list, ", ")+"]", "topics", `["hygiene", "what-not-to-harvest"]`, "trainer", `"Lee"`)
}

// untrained gives the warnings about training.
func untrained(out storage.Outcome) (about []string) {
	for _, w := range out.Warnings {
		if strings.Contains(w, "No training") {
			about = append(about, w)
		}
	}
	return about
}

// An entry of the training sheet is what the harvest looks at: nothing is refused, and everybody without one is named.
func TestHarvestNamesWhoIsNotTrained(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{}, "us-organic", "us-produce-safety")
	cory, nia := f.person("Cory", domain.Crew).PersonID, f.person("Nia", domain.Crew).PersonID
	radish := f.plant("radish", domain.Touches, "2026-05-01", f.bed)
	cut := func(on string, crew ...uuid.UUID) []string {
		t.Helper()
		lot := f.lot(radish, on, f.bed)
		lot.Crew = crew
		out, err := f.record(lot)
		mustBe(t, err)
		if lot.VerdictThen.Verdict != domain.Clear {
			t.Fatalf("the lot is judged %s: training is about people, not about the ground", lot.VerdictThen.Verdict)
		}
		return untrained(out)
	}
	want := func(got []string, names string) {
		t.Helper()
		if names == "" && len(got) > 0 || names != "" && (len(got) != 1 || !strings.Contains(got[0], ": "+names+".")) {
			t.Errorf("warned %q, want about %q", got, names)
		}
	}
	want(cut("2026-07-01", cory, nia), "Cory, Nia")
	f.write(training("2026-03-02", cory))
	want(cut("2026-07-02", cory, nia), "Nia")
	want(cut("2026-05-02", nia), "Nia")
	first := f.write(training("2026-02-01", nia))
	want(cut("2026-07-03", cory, nia), "")
	want(cut("2026-07-04"), "Test Owner") // nobody named: whoever did it
	_, err := f.void("log-entry", first)
	mustBe(t, err)
	want(cut("2026-07-05", cory, nia), "Nia")
	f.clock.SetDay("2027-07-10")
	want(cut("2027-03-02", cory), "")
	want(cut("2027-03-03", cory), "Cory")

	organic := f.neighbour("us-organic")
	chard := organic.plant("chard", domain.Touches, "2026-05-01", organic.bed)
	out, err := organic.record(organic.lot(chard, "2026-07-01", organic.bed))
	if err != nil || len(untrained(out)) > 0 {
		t.Errorf("a farm that nobody asks is warned: %q, %v", out.Warnings, err)
	}
}

// The packet shows who handled the lots by initials, with the last training before it; what is missing is a gap.
func TestPacketShowsTraining(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{}, "us-organic", "us-produce-safety")
	cory, nia, ola := f.person("Cory", domain.Crew).PersonID, f.person("Nia", domain.Crew).PersonID, f.person("Oskar", domain.Crew).PersonID
	radish := f.plant("radish", domain.Touches, "2026-05-01", f.bed)
	lot := f.lot(radish, "2026-07-01", f.bed)
	lot.Crew = ids(cory, nia, ola)
	f.write(lot)
	request := f.write(&domain.TracebackRequest{AskedBy: "Inspector", AskedAt: at("2026-11-24", 9), For: "authority", About: domain.TraceStart{Lot: lot.Code}})
	about := func() (gaps []string) {
		t.Helper()
		p, err := f.db.Packet(f.reading(), request)
		mustBe(t, err)
		if len(p.People) != 3 || p.People[0].Did != "cut" || p.People[0].LastOn != day("2026-07-01") {
			t.Errorf("people %+v", p.People)
		}
		for _, gap := range p.Gaps() {
			if strings.Contains(gap, "raining") {
				gaps = append(gaps, gap)
			}
		}
		return gaps
	}
	if gaps := about(); len(gaps) != 3 {
		t.Errorf("gaps %q", gaps)
	}
	f.write(training("2026-03-02", cory))
	f.write(training("2025-06-30", ola))
	f.write(training("2026-07-02", nia)) // a day too late
	initials := func(id uuid.UUID) string {
		var p domain.Person
		rec, err := f.db.ReadRecord(ctx, f.actor.FarmID, "person", id)
		mustBe(t, err)
		decode(t, rec.Body, &p)
		return p.Initials
	}
	want := []string{"No training of " + initials(nia) + " is on record.",
		"The last training of " + initials(ola) + " on record, of 2025-06-30, was more than a year before 2026-07-01."}
	if gaps := about(); !slices.Equal(gaps, want) {
		t.Errorf("gaps %q, want %q", gaps, want)
	}
}

// Asking for the training costs a harvest one trip, whatever the crew.
func TestTrainingTrips(t *testing.T) {
	t.Parallel()
	seen := &statements{}
	c := &counting{field: newField(t, storage.Config{Tracer: seen}, "us-organic", "us-produce-safety"), seen: seen}
	radish := c.plant("radish", domain.Touches, "2026-05-01", c.bed)
	var crew []uuid.UUID
	for i := range 20 {
		crew = append(crew, c.person(fmt.Sprintf("Hand %d", i), domain.Crew).PersonID)
	}
	lot := c.lot(radish, "2026-07-01", c.bed)
	lot.Crew = crew
	c.recordTrips("harvest by twenty people", lot)
	c.recordTrips("training of twenty people", training("2026-03-02", crew...))
}
