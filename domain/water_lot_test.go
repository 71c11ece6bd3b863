package domain_test

import (
	"testing"
	"time"

	"github.com/google/uuid"

	"croftmark/domain"
)

// Untreated surface water is never used after the cut, and a use is given up from the moment the water fails
// (21 CFR 112.44(a), 112.45(a)): what changes while a lot lies in the water counts for the lot.
func TestWaterOfAUseThatLasts(t *testing.T) {
	t.Parallel()
	at := func(hour int) time.Time { return time.Date(2026, 7, 6, hour, 0, 0, 0, time.UTC) }
	town := domain.WaterFacts{Source: domain.WaterSource{Is: domain.WaterPublicSupply}, Certificates: []domain.WaterCertificate{{ID: uuid.UUID{1}, IssuedOn: domain.NewDate(2026, 1, 1)}}}
	stopped, pond := town, town
	stopped.Actions = []domain.WaterAction{{ID: uuid.UUID{2}, At: at(12)}}
	pond.Changes = []domain.WaterSupplyChange{{ID: uuid.UUID{3}, At: at(12), Is: domain.WaterUntreatedSurface}}
	for name, c := range map[string]struct {
		facts    domain.WaterFacts
		from, to int
		want     domain.Verdict
	}{
		"town water all day":              {town, 9, 17, domain.Clear},
		"stopped at noon":                 {stopped, 9, 17, domain.Stop},
		"out of the water before noon":    {stopped, 9, 11, domain.Clear},
		"into the pond at noon":           {pond, 9, 17, domain.Stop},
		"an instant, no end written down": {pond, 9, 9, domain.Clear},
	} {
		if got := c.facts.FitnessDuring(domain.WaterTouch{Use: domain.UseWashing, From: at(c.from), To: at(c.to)}); got.Verdict != c.want {
			t.Errorf("%s: %s, want %s: %+v", name, got.Verdict, c.want, got.Reasons)
		}
	}
}

// Water that was not adequate stops that use from then on, and nothing that is done afterwards takes it off the crop that
// it touched (21 CFR 112.43(c), 112.45(a)): every irrigation of the look-back counts, not the last one of the source.
func TestEveryIrrigationCounts(t *testing.T) {
	t.Parallel()
	farm, pond, bed, crop := &domain.Farm{}, uuid.UUID{1}, uuid.UUID{2}, uuid.UUID{3}
	facts := func(days ...int) *domain.GroundFacts {
		f := &domain.GroundFacts{Farm: farm, Beds: map[uuid.UUID]*domain.BedGround{bed: {ID: bed, Ground: []uuid.UUID{bed}}},
			Plantings: map[uuid.UUID]*domain.PlantingFacts{crop: {Planting: domain.Planting{ID: crop, BedIDs: []uuid.UUID{bed}, PlantedOn: domain.NewDate(2026, 5, 1)}}},
			BedWater:  map[uuid.UUID][]domain.WaterTouch{},
			Waters: map[uuid.UUID]*domain.WaterFacts{pond: {Source: domain.WaterSource{ID: pond, Is: domain.WaterUntreatedSurface}, Size: domain.FarmLarge,
				Assessments: []domain.WaterAssessment{{ID: uuid.UUID{4}, MadeOn: domain.NewDate(2026, 6, 1), Outcome: "not-adequate"}, {ID: uuid.UUID{5}, MadeOn: domain.NewDate(2026, 7, 4), Outcome: "adequate"}}}}}
		for _, day := range days {
			at := time.Date(2026, 7, day, 7, 0, 0, 0, time.UTC)
			f.BedWater[bed] = append(f.BedWater[bed], domain.WaterTouch{Record: domain.RecordRef{Kind: "irrigation", ID: uuid.UUID{6, byte(day)}}, SourceID: pond, Use: "irrigation",
				From: at, To: at, Irrigation: &domain.Irrigation{Method: "overhead"}})
		}
		return f
	}
	for name, c := range map[string]struct {
		days []int
		want domain.Verdict
		refs int // irrigations named by what stops it
	}{
		"after the new assessment":        {[]int{5, 6}, domain.Clear, 0},
		"before it":                       {[]int{3}, domain.Stop, 1},
		"before and after it":             {[]int{3, 5}, domain.Stop, 1},
		"twice before it, said only once": {[]int{2, 3, 5}, domain.Stop, 2},
		"on a day after the cut":          {[]int{5, 20}, domain.Clear, 0},
	} {
		got := domain.HarvestCheck(facts(c.days...), crop, []uuid.UUID{bed}, domain.NewDate(2026, 7, 10))
		stops, refs := 0, 0
		for _, r := range got.Reasons {
			if r.Rule != "us-produce-safety.water-assessment" {
				continue
			}
			stops++
			for _, ref := range r.Records {
				if ref.Kind == "irrigation" {
					refs++
				}
			}
		}
		if got.Verdict != c.want || refs != c.refs || stops > 1 {
			t.Errorf("%s: %s with %d irrigations in %d reasons, want %s with %d: %+v", name, got.Verdict, refs, stops, c.want, c.refs, got.Reasons)
		}
	}
}

// The written assessment of 21 CFR 112.43 is asked of covered produce on covered farms: not of crops on the list of
// 112.2(a)(1), not of exempt farms (112.4, 112.5), not of farms that answer to other rules. What one found stands anyway.
func TestWhoIsAskedForAnAssessment(t *testing.T) {
	t.Parallel()
	pond, bed, crop := uuid.UUID{1}, uuid.UUID{2}, uuid.UUID{3}
	adopts := func(sets ...string) (f domain.Farm) {
		for _, set := range sets {
			f.Standards = append(f.Standards, domain.AdoptedStandard{Set: set, From: domain.NewDate(2026, 1, 1)})
		}
		return f
	}
	exempt := adopts("us-produce-safety")
	exempt.Exemption = "qualified"
	lettuce, potato := domain.Crop{Name: "Lettuce"}, domain.Crop{Name: "Potato", CatalogueEntry: "potato", RarelyConsumedRaw: true}
	bad := []domain.WaterAssessment{{ID: uuid.UUID{4}, MadeOn: domain.NewDate(2026, 6, 1), Outcome: "not-adequate"}}
	for name, c := range map[string]struct {
		farm domain.Farm
		crop domain.Crop
		made []domain.WaterAssessment
		want domain.Verdict
	}{
		"covered":                          {adopts("us-produce-safety", "us-organic"), lettuce, nil, domain.Ask},
		"nobody said which rules":          {adopts(), lettuce, nil, domain.Ask},
		"rarely consumed raw":              {adopts("us-produce-safety"), potato, nil, domain.Clear},
		"exempt":                           {exempt, lettuce, nil, domain.Clear},
		"other rules":                      {adopts("canada-organic"), lettuce, nil, domain.Clear},
		"rarely consumed raw, found bad":   {adopts("us-produce-safety"), potato, bad, domain.Stop},
		"other rules, and water found bad": {adopts("canada-organic"), lettuce, bad, domain.Stop},
	} {
		at := time.Date(2026, 7, 5, 7, 0, 0, 0, time.UTC)
		f := &domain.GroundFacts{Farm: &c.farm, Beds: map[uuid.UUID]*domain.BedGround{bed: {ID: bed, Ground: []uuid.UUID{bed}}},
			Plantings: map[uuid.UUID]*domain.PlantingFacts{crop: {Planting: domain.Planting{ID: crop, BedIDs: []uuid.UUID{bed}, PlantedOn: domain.NewDate(2026, 5, 1)}, Crop: c.crop}},
			BedWater: map[uuid.UUID][]domain.WaterTouch{bed: {{Record: domain.RecordRef{Kind: "irrigation", ID: uuid.UUID{6}}, SourceID: pond, Use: "irrigation",
				From: at, To: at, Irrigation: &domain.Irrigation{Method: "overhead"}}}},
			Waters: map[uuid.UUID]*domain.WaterFacts{pond: {Source: domain.WaterSource{ID: pond, Is: domain.WaterUntreatedSurface}, Assessments: c.made}}}
		if got := domain.HarvestCheck(f, crop, []uuid.UUID{bed}, domain.NewDate(2026, 7, 10)); got.Verdict != c.want {
			t.Errorf("%s: %s, want %s: %+v", name, got.Verdict, c.want, got.Reasons)
		}
	}
}

// Drip lies on the ground and wets no trellised fruit; but who says that it is not known has not said no (21 CFR 112.3:
// intended or likely to contact; us-rules, principle 2).
func TestWhatIrrigationTouches(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		method  string
		touched domain.Touched
		contact domain.SoilContact
		want    bool
	}{
		{"drip", "", domain.HeldClear, false}, {"drip", "", domain.Touches, true}, {"drip", domain.TouchedUnknown, domain.HeldClear, true},
		{"drip", domain.TouchedYes, domain.HeldClear, true}, {"overhead", "", domain.HeldClear, true}, {"overhead", domain.TouchedNo, domain.Touches, false},
	} {
		x := domain.Irrigation{Method: c.method, TouchedCrop: c.touched}
		if got := x.Touches(c.contact); got != c.want {
			t.Errorf("%s, %q, crop %s: %v", c.method, c.touched, c.contact, got)
		}
	}
}
