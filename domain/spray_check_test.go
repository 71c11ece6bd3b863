package domain_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/shopspring/decimal"

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
		a := domain.Application{ID: b.id(), AppliedOn: dayOf("2026-06-01"), Method: "foliar", TouchedCrop: domain.TouchedYes, DaysToHarvest: c.label, RestrictedEntryHours: new(int)}
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
		a := domain.Application{ID: b.id(), AppliedOn: dayOf(on), DaysToHarvest: &days, RestrictedEntryHours: new(int)}
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

// us-rules 3.3: hours of restricted entry count from the end of the spraying by the clock, with its two check values over the
// change to and from summer time; the label is the law [memory].
func TestRestrictedEntry(t *testing.T) {
	t.Parallel()
	zone, err := domain.Zone("America/New_York")
	if err != nil {
		t.Fatal(err)
	}
	at := func(s string) time.Time {
		out, err := time.ParseInLocation("2006-01-02 15:04", s, zone)
		if err != nil {
			t.Fatal(err)
		}
		return out
	}
	hours := func(n int) *int { return &n }
	const wait, caution = "wait every-farm.spray-restricted-entry ", "caution every-farm.spray-restricted-entry "
	for name, c := range map[string]struct {
		sprayed, ended string
		hours          *int
		on, want, says string
	}{
		"over the spring change, that evening":  {"2027-03-13", "2027-03-13 20:00", hours(12), "2027-03-13", wait + "2027-03-14", "before 2027-03-14 09:00."},
		"over the spring change, the day after": {"2027-03-13", "2027-03-13 20:00", hours(12), "2027-03-14", caution, "before 2027-03-14 09:00."},
		"over the autumn change":                {"2026-10-31", "2026-10-31 18:00", hours(12), "2026-11-01", caution, "before 2026-11-01 05:00."},
		"over":                                  {"2026-10-31", "2026-10-31 18:00", hours(12), "2026-11-02", "", ""},
		"over within the day":                   {"2026-06-01", "2026-06-01 06:30", hours(4), "2026-06-01", caution, "before 2026-06-01 10:30."},
		"to midnight sharp":                     {"2026-06-01", "2026-06-01 20:00", hours(4), "2026-06-02", "", ""},
		"the hour of the end is not known":      {"2026-06-01", "", hours(4), "2026-06-01", wait + "2026-06-02", "before 2026-06-02 04:00."},
		"two days":                              {"2026-06-01", "2026-06-01 08:00", hours(48), "2026-06-02", wait + "2026-06-03", ""},
		"no hours on the label":                 {"2026-06-01", "2026-06-01 08:00", hours(0), "2026-06-01", "", ""},
		"nobody wrote them down":                {"2026-06-01", "", nil, "2026-06-02", caution, "how long nobody goes in"},
		"nor does it matter any more":           {"2026-06-01", "", nil, "2026-06-04", "", ""},
	} {
		b := newGround("us-organic")
		bed := b.bed("Lower 3")
		a := domain.Application{ID: b.id(), AppliedOn: dayOf(c.sprayed), Method: "foliar", DaysToHarvest: hours(0), RestrictedEntryHours: c.hours}
		if c.ended != "" {
			a.EndedAt = at(c.ended)
		}
		b.happen(a.ExposureOf(&domain.Input{Category: domain.CropProtection}, &domain.InputLot{}), bed)
		got, text := "", ""
		for _, r := range b.check(b.plant(lettuce, "2026-05-01", bed), c.on).Reasons {
			if r.Rule == "every-farm.spray-restricted-entry" {
				got, text = string(r.Verdict)+" "+r.Rule+" "+strings.TrimPrefix(r.ClearOn.String(), "0001-01-01"), r.Text
			}
		}
		if got != c.want || !strings.Contains(text, c.says) {
			t.Errorf("%s: %q %q, want %q %q", name, got, text, c.want, c.says)
		}
	}
}

// An end or hours that cannot be are named, and so are those of what has no label.
func TestEntryIsChecked(t *testing.T) {
	t.Parallel()
	hours := func(n int) *int { return &n }
	ok := domain.Application{Source: domain.Source{InputLotID: uuid.UUID{1}}, Ground: domain.Ground{PlotID: uuid.UUID{2}}, AppliedOn: dayOf("2026-06-01"), Method: "foliar",
		Amount: domain.Quantity{Value: decimal.NewFromInt(1), Unit: "gal"}}
	for pointer, change := range map[string]func(x *domain.Application){
		"/restricted_entry_hours": func(x *domain.Application) { x.RestrictedEntryHours = hours(721) },
		"/ended_at":               func(x *domain.Application) { x.EndedAt = time.Date(2026, 6, 4, 8, 0, 0, 0, time.UTC) },
		"": func(x *domain.Application) {
			x.RestrictedEntryHours, x.EndedAt = hours(12), time.Date(2026, 6, 2, 2, 0, 0, 0, time.UTC)
		},
	} {
		x := ok
		change(&x)
		var p, q domain.Problems
		x.Check(dayOf("2026-06-10"), &p)
		x.CheckLabel(&q, domain.CropProtection)
		x.CheckLabel(&q, domain.RawManure)
		if err := p.Err(); (err == nil) != (pointer == "") || err != nil && !strings.Contains(fmt.Sprint(err.(*domain.Error).Fields), "#"+pointer+" ") {
			t.Errorf("%s: %v", pointer, err)
		}
		if q.Err() == nil {
			t.Errorf("%s: manure has a label", pointer)
		}
	}
}
