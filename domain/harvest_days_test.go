package domain_test

import (
	"testing"
	"time"

	"github.com/google/uuid"

	"croftmark/domain"
)

// us-rules 0.1: days are counted by the farm's own calendar, never by the phone's [interpretation]. A cut dated tomorrow
// would pass on day 119 as day 120.
func TestCutIsNotDatedAhead(t *testing.T) {
	t.Parallel()
	today := dayOf("2026-08-07")
	for _, c := range []struct{ why, on, from, to, want string }{
		{"today", "2026-08-07", "", "", ""},
		{"tomorrow", "2026-08-08", "", "", "#/cut_on"},
		{"in a week", "2026-08-14", "", "", "#/cut_on"},
		{"from yesterday to today", "", "2026-08-06", "2026-08-07", ""},
		{"until tomorrow", "", "2026-08-06", "2026-08-08", "#/cut_to"},
		{"from tomorrow", "", "2026-08-08", "2026-08-08", "#/cut_from #/cut_to"},
	} {
		lot := &domain.HarvestLot{PlantingID: uuid.Must(uuid.NewV7()), BedIDs: []uuid.UUID{uuid.Must(uuid.NewV7())}, Quantity: domain.Q("1", "lb")}
		for text, into := range map[string]*domain.Date{c.on: &lot.CutOn, c.from: &lot.CutFrom, c.to: &lot.CutTo} {
			if text != "" {
				*into = dayOf(text)
			}
		}
		if err := domain.CheckRecord(lot, today, time.UTC); pointers(err) != c.want {
			t.Errorf("%s: %v, want %q", c.why, err, c.want)
		}
	}
}

// A hold or a finding that began and ended within the cut counts for it (21 CFR 112.112 [verified: S43]; every
// harvest is tested on its own date, us-rules 0.1 [interpretation]).
func TestEveryDayOfACutIsJudged(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		why    string
		happen func(b *bookOfGround, bed uuid.UUID)
		want   string
	}{
		{"nothing", func(*bookOfGround, uuid.UUID) {}, "clear"},
		{"held on the second and third day", func(b *bookOfGround, bed uuid.UUID) {
			b.Holds = []domain.HoldSpan{{ID: b.id(), On: bed, Reason: "sewage smell", From: dayOf("2026-06-02"), ReleasedOn: dayOf("2026-06-04")}}
		}, "stop stop:every-farm.hold"},
		{"held all the time", func(b *bookOfGround, bed uuid.UUID) {
			b.Holds = []domain.HoldSpan{{ID: b.id(), On: bed, Reason: "sewage smell", From: dayOf("2026-05-02")}}
		}, "stop stop:every-farm.hold"},
		{"glass from the second day to the fifth", func(b *bookOfGround, bed uuid.UUID) {
			b.found("glass", "2026-06-02", &domain.FindingResolution{On: dayOf("2026-06-05"), Decision: "released", Reason: "picked up"}, bed)
		}, "stop stop:every-farm.glass caution:every-farm.glass"},
		{"manure worked in on the third day", func(b *bookOfGround, bed uuid.UUID) {
			b.manure("2026-06-03", "2026-06-03", bed)
		}, "wait 2026-10-01" + touching},
		{"manure of the spring, clear on the third day", func(b *bookOfGround, bed uuid.UUID) {
			b.manure("2026-02-03", "2026-02-03", bed)
		}, "wait 2026-06-03" + touching},
	} {
		b := newGround("us-organic")
		bed := b.bed("Lower 3")
		p := b.plant(lettuce, "2026-05-01", bed)
		c.happen(b, bed)
		if got := said(domain.CutCheck(b.GroundFacts, p.ID, p.BedIDs, dayOf("2026-06-01"), dayOf("2026-06-05"))); got != c.want {
			t.Errorf("%s: %s, want %s", c.why, got, c.want)
		}
	}
}

// A planting is cut while it stands: on the last day of the cut as on the first. And what was found on any of those days
// counts, though the planting is said to have ended (21 CFR 112.112 [verified: S43]).
func TestCutEndsWithThePlanting(t *testing.T) {
	t.Parallel()
	b := newGround("us-organic")
	bed := b.bed("Lower 3")
	p := b.plant(lettuce, "2026-05-01", bed)
	p.EndedOn = dayOf("2026-06-03")
	for to, want := range map[string]string{"2026-06-03": "", "2026-06-04": "#/cut_to"} {
		var problems domain.Problems
		domain.CheckLotPlanting(&problems, &domain.HarvestLot{BedIDs: p.BedIDs, CutFrom: dayOf("2026-06-01"), CutTo: dayOf(to)}, &p.Planting, nil)
		if got := pointers(problems.Err()); got != want {
			t.Errorf("cut until %s: %q, want %q", to, got, want)
		}
	}
	b.found("flood", "2026-06-05", nil, bed)
	if got := said(domain.CutCheck(b.GroundFacts, p.ID, p.BedIDs, dayOf("2026-06-01"), dayOf("2026-06-06"))); got != "stop stop:every-farm.flood-touched" {
		t.Errorf("flood on a day of the cut: %s", got)
	}
}

// Glass, a spill and whatever else was found lie there until somebody decides, also under what is planted the next day
// and years later: do not harvest what is reasonably likely contaminated, 21 CFR 112.112 [verified: S43].
func TestFindingsThatLast(t *testing.T) {
	t.Parallel()
	released := &domain.FindingResolution{On: dayOf("2026-05-10"), Decision: "released", Reason: "picked up"}
	destroyed := &domain.FindingResolution{On: dayOf("2026-05-10"), Decision: "crop-destroyed", Reason: "tilled in and dug out"}
	for _, c := range []struct {
		what    string
		touched domain.Touched
		planted string
		done    *domain.FindingResolution
		want    string
	}{
		{"glass", domain.TouchedUnknown, "2026-04-30", nil, "stop stop:every-farm.glass"},
		{"glass", domain.TouchedUnknown, "2026-05-01", nil, "stop stop:every-farm.glass"},
		{"glass", domain.TouchedUnknown, "2032-05-01", nil, "stop stop:every-farm.glass"},
		{"glass", domain.TouchedUnknown, "2026-05-01", released, "caution caution:every-farm.glass"},
		{"glass", domain.TouchedUnknown, "2026-05-01", destroyed, "stop stop:every-farm.glass"},
		{"other", domain.TouchedNo, "2026-05-01", nil, "ask ask:every-farm.something-found"},
		{"other", domain.TouchedNo, "2026-05-01", released, "caution caution:every-farm.something-found"},
		{"spill", domain.TouchedYes, "2026-04-30", nil, "stop stop:every-farm.drift-touched"},
		{"spill", domain.TouchedYes, "2026-04-30", destroyed, "stop stop:every-farm.drift-touched"},
		{"spill", domain.TouchedYes, "2026-05-01", nil, "ask ask:every-farm.spill-ground"},
		{"spill", domain.TouchedNo, "2026-05-01", nil, "ask ask:every-farm.spill-ground"},
		{"spill", domain.TouchedYes, "2026-05-01", destroyed, "caution caution:every-farm.spill-ground"},
		{"droppings", domain.TouchedYes, "2026-05-01", nil, "clear"},
		{"animal-intrusion", domain.TouchedYes, "2026-05-01", nil, "clear"},
	} {
		b := newGround("us-organic")
		bed := b.bed("Lower 3")
		b.found(c.what, "2026-04-30", c.done, bed).TouchedCrop = c.touched
		b.Exposures[0].TouchedCrop = c.touched
		p := b.plant(carrot, c.planted, bed)
		if got := said(b.check(p, p.PlantedOn.AddDays(60).String())); got != c.want {
			t.Errorf("%s, touched %s, planted %s, %+v: %s, want %s", c.what, c.touched, c.planted, c.done, got, c.want)
		}
	}
}

// found keeps a finding on beds, seen at eight in the morning.
func (b *bookOfGround) found(what, on string, done *domain.FindingResolution, beds ...uuid.UUID) *domain.Finding {
	f := &domain.Finding{ID: b.id(), What: what, FoundAt: dayOf(on).Time().Add(8 * time.Hour), TouchedCrop: domain.TouchedUnknown, Ground: domain.Ground{BedIDs: beds}, Resolution: done}
	b.happen(f.ExposureOf(time.UTC), beds...)
	return f
}
