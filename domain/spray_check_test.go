package domain_test

import (
	"testing"

	"github.com/google/uuid"

	"croftmark/domain"
)

// us-rules 3.3 and 7.3 PEST-PHI: the days of the label, which is the law (FIFRA) [memory]; harvest on or after the day of
// spraying and those days, 0 on the day itself [interpretation]. Unknown never passes as fine.
func TestDaysToHarvestOfASpray(t *testing.T) {
	t.Parallel()
	const wait, ask = "wait 2026-06-08 wait:every-farm.spray-days-to-harvest", "ask ask:every-farm.spray-days-unknown"
	days := func(n int) *int { return &n }
	for _, c := range []struct {
		why, planted string
		label        *int
		on, want     string
	}{
		{"seven days, on the sixth", "2026-05-01", days(7), "2026-06-07", wait},
		{"seven days, on the seventh", "2026-05-01", days(7), "2026-06-08", "clear"},
		{"no days at all", "2026-05-01", days(0), "2026-06-01", "clear"},
		{"sprayed before it was planted", "2026-06-02", days(7), "2026-06-07", wait},
		{"nobody wrote them down", "2026-05-01", nil, "2026-06-30", ask},
		{"nor for a year", "2026-05-01", nil, "2027-06-01", ask},
		{"no label asks for longer", "2026-05-01", nil, "2027-06-02", "clear"},
		{"planted the next day, nobody wrote them down", "2026-06-02", nil, "2026-07-20", ask + "-planted-after"},
		{"planted in another season", "2026-07-01", nil, "2026-08-20", "clear"},
		{"cut before it was sprayed", "2026-05-01", nil, "2026-05-31", "clear"},
	} {
		b := newGround("us-organic", "us-produce-safety")
		bed := b.bed("Lower 3")
		a := domain.Application{ID: b.id(), AppliedOn: dayOf("2026-06-01"), Method: "foliar", TouchedCrop: domain.TouchedYes, DaysToHarvest: c.label}
		b.happen(a.ExposureOf(&domain.Input{Category: domain.CropProtection}, &domain.InputLot{}), bed)
		if got := said(b.check(b.plant(lettuce, c.planted, bed), c.on)); got != c.want {
			t.Errorf("%s: %s, want %s", c.why, got, c.want)
		}
	}
}

// Several products each have to be over, us-rules 3.3.
func TestLatestSprayGoverns(t *testing.T) {
	t.Parallel()
	b := newGround("us-organic")
	bed := b.bed("Lower 3")
	p := b.plant(lettuce, "2026-05-01", bed)
	for on, days := range map[string]int{"2026-06-01": 14, "2026-06-05": 3} {
		a := domain.Application{ID: b.id(), AppliedOn: dayOf(on), DaysToHarvest: &days}
		b.happen(a.ExposureOf(&domain.Input{Category: domain.CropProtection}, &domain.InputLot{}), bed)
	}
	if got := said(b.check(p, "2026-06-06")); got != "wait 2026-06-15 wait:every-farm.spray-days-to-harvest" {
		t.Error(got)
	}
}

// What was off the ground before the spray, the manure or the animals came is not judged by them, if the record says so;
// common practice is to cut in the morning and to spray in the afternoon. Without a word about it the strict side is taken,
// and the bed waits for the next cut anyway.
func TestCutBeforeItHappened(t *testing.T) {
	t.Parallel()
	seven := 7
	for name, c := range map[string]struct {
		first, last string
		said        bool
		want        domain.Verdict
	}{
		"said so":                         {"2026-06-01", "2026-06-01", true, domain.Clear},
		"nobody said which came first":    {"2026-06-01", "2026-06-01", false, domain.Wait},
		"a cut of three days, on its end": {"2026-05-30", "2026-06-01", true, domain.Clear},
		"and the cut went on":             {"2026-05-31", "2026-06-02", true, domain.Wait},
	} {
		for _, what := range []string{"spray", "manure", "hens"} {
			b := newGround("us-organic", "us-produce-safety")
			bed, lot := b.bed("Lower 3"), b.id()
			var before []uuid.UUID
			if c.said {
				before = []uuid.UUID{b.id(), lot}
			}
			day := dayOf("2026-06-01")
			switch what {
			case "spray":
				a := domain.Application{ID: b.id(), AppliedOn: day, Method: "foliar", DaysToHarvest: &seven, CutBefore: before}
				b.happen(a.ExposureOf(&domain.Input{Category: domain.CropProtection}, &domain.InputLot{}), bed)
			case "manure":
				a := domain.Application{ID: b.id(), AppliedOn: day, IncorporatedOn: day, Method: "incorporated", TouchedCrop: domain.TouchedNo, CutBefore: before}
				b.happen(a.ExposureOf(&domain.Input{Category: domain.RawManure, Species: "horse"}, &domain.InputLot{}), bed)
			default:
				g := domain.Grazing{ID: b.id(), Species: "hens", From: day, To: day, CutBefore: before}
				b.happen(g.ExposureOf(), bed)
			}
			p := b.plant(lettuce, "2026-04-20", bed)
			got := domain.JudgeLot(b.GroundFacts, lot, p.ID, []uuid.UUID{bed}, dayOf(c.first), dayOf(c.last)).Verdict
			if got != c.want {
				t.Errorf("%s, %s: %s, want %s", name, what, got, c.want)
			}
			if next := domain.HarvestCheck(b.GroundFacts, p.ID, []uuid.UUID{bed}, day).Verdict; next != domain.Wait {
				t.Errorf("%s, %s: the next cut is %s", name, what, next)
			}
		}
	}
}
