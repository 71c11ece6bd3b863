package domain_test

import (
	"encoding/binary"
	"slices"
	"testing"

	"github.com/google/uuid"
	"pgregory.net/rapid"

	"croftmark/domain"
)

// season is a drawn farm: layers of beds, what happened on them, and one planting that stands on the newest bed.
type season struct {
	sets      []string
	over      [][]int // for each bed, the older beds it lies on
	exposures []domain.Exposure
	holds     []domain.HoldSpan
	pause     bool
	history   string
	uses      []domain.PriorUse
	crop      domain.Crop
	contact   domain.SoilContact
	planted   domain.Date
	on        domain.Date
}

func nthID(n int) (id uuid.UUID) {
	binary.BigEndian.PutUint64(id[8:], uint64(n))
	return id
}

const plotNumber, plantingNumber, firstBed = 1, 2, 100

func drawDay(t *rapid.T, name string) domain.Date {
	return dayOf("2026-01-01").AddDays(rapid.IntRange(0, 365).Draw(t, name))
}

// drawExposure draws an application or a grazing that began by the last day, on a bed or on the whole plot.
func drawExposure(t *rapid.T, number, beds int, last domain.Date) domain.Exposure {
	began := last.AddDays(-rapid.IntRange(0, 400).Draw(t, "days before"))
	ended := began.AddDays(rapid.IntRange(0, 40).Draw(t, "days of it"))
	open := rapid.IntRange(0, 5).Draw(t, "without an end") == 0
	var e domain.Exposure
	if rapid.IntRange(0, 3).Draw(t, "grazing") == 0 {
		g := domain.Grazing{ID: nthID(number), Species: "hens", From: began, To: ended}
		if open {
			g.To = domain.Date{}
		}
		e = g.ExposureOf()
	} else {
		a := domain.Application{ID: nthID(number), AppliedOn: began, IncorporatedOn: ended,
			TouchedCrop: rapid.SampledFrom([]domain.Touched{"", domain.TouchedYes, domain.TouchedNo, domain.TouchedUnknown}).Draw(t, "touched")}
		if open {
			a.IncorporatedOn = domain.Date{}
		}
		lot := domain.InputLot{}
		if rapid.Bool().Draw(t, "paper") {
			lot = certificate("2025-06-01", "")
		}
		e = a.ExposureOf(&domain.Input{Category: rapid.SampledFrom(domain.Categories).Draw(t, "category")}, &lot)
	}
	if bed := rapid.IntRange(-1, beds-1).Draw(t, "where"); bed >= 0 {
		e.BedID = nthID(firstBed + bed)
	} else {
		e.PlotID = nthID(plotNumber)
	}
	return e
}

func drawSeason(t *rapid.T) season {
	all := []string{"us-organic", "us-produce-safety", "buyer-gap", "buyer-leafy-greens", "canada-organic", "uk-ready-to-eat"}
	s := season{
		sets:    rapid.SliceOfNDistinct(rapid.SampledFrom(all), 0, 4, rapid.ID[string]).Draw(t, "sets"),
		crop:    rapid.SampledFrom([]domain.Crop{radish, lettuce, okra, potato, trellis, mandrake, {Name: "rye", Use: "cover-crop"}}).Draw(t, "crop"),
		contact: rapid.SampledFrom([]domain.SoilContact{"", domain.Touches, domain.HeldClear, domain.ContactUnknown}).Draw(t, "contact"),
		planted: drawDay(t, "planted"), history: rapid.SampledFrom([]string{"known", "known", "known", "", "unknown"}).Draw(t, "history"),
		pause: rapid.IntRange(0, 9).Draw(t, "pause") == 0,
	}
	s.on = s.planted.AddDays(rapid.IntRange(0, 200).Draw(t, "grown"))
	beds := rapid.IntRange(1, 5).Draw(t, "beds")
	for i := range beds {
		var over []int
		for o := range i {
			if rapid.Bool().Draw(t, "lies on") {
				over = append(over, o)
			}
		}
		s.over = append(s.over, over)
	}
	for i := range rapid.IntRange(0, 5).Draw(t, "exposures") {
		s.exposures = append(s.exposures, drawExposure(t, 1000+i, beds, s.on))
	}
	if rapid.IntRange(0, 4).Draw(t, "held") == 0 {
		s.holds = []domain.HoldSpan{{ID: nthID(3), On: nthID(firstBed + rapid.IntRange(0, beds-1).Draw(t, "held bed")), Reason: "glass", From: drawDay(t, "held from")}}
	}
	if rapid.IntRange(0, 3).Draw(t, "prior use") == 0 {
		s.uses = []domain.PriorUse{{Kind: rapid.SampledFrom([]string{"hay", "stable", "pasture", "dump"}).Draw(t, "use")}}
		if rapid.Bool().Draw(t, "until") {
			s.uses[0].Until = drawDay(t, "used until")
		}
	}
	return s
}

// judge builds the facts anew and judges the planting on the newest bed.
func (s season) judge(on domain.Date) domain.Judgement {
	f := &domain.GroundFacts{
		Farm: &domain.Farm{}, Beds: map[uuid.UUID]*domain.BedGround{}, Holds: s.holds, Exposures: slices.Clone(s.exposures),
		Plots: map[uuid.UUID]*domain.Plot{nthID(plotNumber): {ID: nthID(plotNumber), Name: "Lower", History: s.history, PriorUse: s.uses}},
	}
	for _, set := range s.sets {
		f.Farm.Standards = append(f.Farm.Standards, domain.AdoptedStandard{Set: set, From: dayOf("2021-01-01")})
	}
	over := map[uuid.UUID][]uuid.UUID{}
	for i, older := range s.over {
		id := nthID(firstBed + i)
		for _, o := range older {
			over[id] = append(over[id], nthID(firstBed+o))
		}
		f.Beds[id] = &domain.BedGround{ID: id, Name: "bed", PlotID: nthID(plotNumber), Ground: domain.Closure(id, over)}
	}
	newest := nthID(firstBed + len(s.over) - 1)
	if s.pause {
		f.Beds[newest].OutOfProduction = []domain.Pause{{From: dayOf("2026-05-01"), To: dayOf("2026-09-01"), Reason: "resting"}}
	}
	p := domain.Planting{ID: nthID(plantingNumber), BedIDs: []uuid.UUID{newest}, PlantedOn: s.planted, SoilContact: s.contact}
	f.Plantings = map[uuid.UUID]*domain.PlantingFacts{p.ID: {Planting: p, Crop: s.crop}}
	return domain.HarvestCheck(f, p.ID, p.BedIDs, on)
}

// noMilder fails when the second judgement lets more pass, or sooner, than the first.
func noMilder(t *rapid.T, before, after domain.Judgement) {
	if domain.Stricter(before.Verdict, after.Verdict) != after.Verdict {
		t.Fatalf("%s became milder: %s", said(before), said(after))
	}
	if after.Verdict == domain.Wait && after.ClearOn.Before(before.ClearOn) {
		t.Fatalf("%s became clear earlier: %s", said(before), said(after))
	}
}

func TestMoreExposureIsNeverMilder(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		s := drawSeason(t)
		before := s.judge(s.on)
		s.exposures = append(s.exposures, drawExposure(t, 2000, len(s.over), s.on))
		noMilder(t, before, s.judge(s.on))
	})
}

func TestOneMoreLayerLosesNothing(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		s := drawSeason(t)
		s.pause = false // a pause belongs to the name, not to the ground
		before := s.judge(s.on)
		s.over = append(s.over, []int{len(s.over) - 1})
		after := s.judge(s.on)
		noMilder(t, before, after)
		if said(before) != said(after) {
			t.Fatalf("the same ground under a new name: %s became %s", said(before), said(after))
		}
	})
}

func TestOrderDoesNotMatter(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		s := drawSeason(t)
		before := s.judge(s.on)
		s.exposures = rapid.Permutation(s.exposures).Draw(t, "order")
		if after := s.judge(s.on); before.Verdict != after.Verdict || before.ClearOn != after.ClearOn {
			t.Fatalf("%s became %s", said(before), said(after))
		}
	})
}

func TestStrictestReasonDecides(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		s := drawSeason(t)
		j := s.judge(s.on)
		strictest, latest := domain.Clear, domain.Date{}
		for _, r := range j.Reasons {
			strictest = domain.Stricter(strictest, r.Verdict)
			if r.Verdict == domain.Wait {
				latest = domain.Later(latest, r.ClearOn)
				if r.DaysShort != r.ClearOn.DaysSince(s.on) || r.DaysShort <= 0 {
					t.Fatalf("%s: %d days short of %s", r.Rule, r.DaysShort, r.ClearOn)
				}
			}
			if (r.Verdict == domain.Ask || r.Verdict == domain.Stop) && !r.ClearOn.IsZero() {
				t.Fatalf("%s says %s and promises %s", r.Rule, r.Verdict, r.ClearOn)
			}
		}
		if j.Verdict != strictest {
			t.Fatalf("%s although a reason says %s", said(j), strictest)
		}
		if j.Verdict != domain.Wait {
			latest = domain.Date{}
		}
		if j.ClearOn != latest {
			t.Fatalf("%s, latest %s", said(j), latest)
		}
	})
}

func TestFirstClearDayIsTheFirst(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		s := drawSeason(t)
		j := s.judge(s.on)
		if j.Verdict != domain.Wait {
			return
		}
		if then := s.judge(j.ClearOn); then.Verdict == domain.Wait {
			t.Fatalf("%s on %s, and on its day %s", said(j), s.on, said(then))
		}
		if eve := s.judge(j.ClearOn.AddDays(-1)); domain.Stricter(eve.Verdict, domain.Wait) != eve.Verdict {
			t.Fatalf("%s on %s, and the day before its day %s", said(j), s.on, said(eve))
		}
	})
}

func TestClosureEndsAndListsOnce(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 12).Draw(t, "beds")
		over := map[uuid.UUID][]uuid.UUID{} // may come round to its beginning
		for i := range n {
			for _, o := range rapid.SliceOfN(rapid.IntRange(0, n-1), 0, 4).Draw(t, "over") {
				over[nthID(i)] = append(over[nthID(i)], nthID(o))
			}
		}
		list := domain.Closure(nthID(0), over)
		if list[0] != nthID(0) {
			t.Fatal("the bed itself comes first")
		}
		seen := map[uuid.UUID]bool{}
		for _, id := range list {
			if seen[id] {
				t.Fatalf("%s twice", id)
			}
			seen[id] = true
		}
		for id := range seen {
			for _, o := range over[id] {
				if !seen[o] {
					t.Fatalf("%s lies on %s, which is lost", id, o)
				}
			}
		}
	})
}

// The drawn seasons are worth drawing: they meet every verdict.
func TestSeasonsMeetEveryVerdict(t *testing.T) {
	t.Parallel()
	met := map[domain.Verdict]bool{}
	for seed := range 400 {
		s := rapid.Custom(drawSeason).Example(seed)
		met[s.judge(s.on).Verdict] = true
	}
	if len(met) != 5 {
		t.Errorf("only %v", met)
	}
}
