package domain_test

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"croftmark/domain"
)

func TestReasonSaysWhyItCountsAsRaw(t *testing.T) {
	t.Parallel()
	b := newGround("us-organic")
	bed := b.bed("Lower 3")
	b.spread(domain.Input{Category: domain.BoughtCompost}, certificate("2025-01-01", "2025-12-31"), "2026-04-10", "2026-04-10", bed)
	r := b.check(b.plant(radish, "2026-05-01", bed), "2026-07-01").Reasons[0]
	want := "The supplier's certificate of 2025-01-01 did not cover 2026-04-10, so it counts as untreated. Bought compost worked in on 2026-04-10 needs 120 days before a crop that touches soil. 2026-07-01 is day 82. First clear day: 2026-08-08."
	if r.Text != want {
		t.Error(cmp.Diff(want, r.Text))
	}
	wantEs := "El certificado del proveedor del 2025-01-01 no cubría el 2026-04-10, así que cuenta como sin tratar. Compost comprado incorporado el 2026-04-10 necesita 120 días antes de un cultivo que toca el suelo. El 2026-07-01 es el día 82. Primer día libre: 2026-08-08."
	if r.TextEs != wantEs {
		t.Error(cmp.Diff(wantEs, r.TextEs))
	}
}

// Own compost that does not count is told of in both languages, each without words of the other.
func TestReasonNamesOwnCompostInBothLanguages(t *testing.T) {
	t.Parallel()
	b := newGround("us-organic")
	bed := b.bed("Lower 3")
	a := &domain.Application{AppliedOn: dayOf("2026-04-10"), IncorporatedOn: dayOf("2026-04-10")}
	e := a.BatchExposure(&domain.CompostBatch{Code: "Windrow 2"}, nil)
	e.BedID = bed
	b.Exposures = append(b.Exposures, e)
	r := b.check(b.plant(radish, "2026-05-01", bed), "2026-07-01").Reasons[0]
	if want := "The batch has not been judged. Own compost Windrow 2 worked in on 2026-04-10 needs 120 days"; !strings.HasPrefix(r.Text, want) {
		t.Errorf("%q, want %q", r.Text, want)
	}
	if want := "El lote no ha sido juzgado. Compost propio Windrow 2 incorporado el 2026-04-10 necesita 120 días"; !strings.HasPrefix(r.TextEs, want) {
		t.Errorf("%q, want %q", r.TextEs, want)
	}
}

// The refusal of the interface's contract, to the letter.
func TestHarvestRefusalWords(t *testing.T) {
	t.Parallel()
	b := newGround("us-organic")
	bed := b.bed("Lower 3")
	p := b.plant(radish, "2026-07-01", bed)
	id := b.manure("2026-04-10", "2026-04-10", bed)
	lot := &domain.HarvestLot{PlantingID: p.ID, BedIDs: []uuid.UUID{bed}, CutOn: dayOf("2026-08-07")}
	refusal := domain.HarvestRefusal(b.GroundFacts, lot, b.check(p, "2026-08-07"))
	want := &domain.Error{
		Code: domain.CodeHarvestRefused, Title: "Bed Lower 3 is not clear for radish",
		Detail: "Raw manure worked in on 2026-04-10 needs 120 days before a crop that touches soil. 2026-08-07 is day 119. First clear day: 2026-08-08.",
		Judgement: &domain.Judgement{Verdict: domain.Wait, ClearOn: dayOf("2026-08-08"), Reasons: []domain.Reason{{
			Rule: "us-organic.raw-manure-soil-contact", Authority: domain.Law, Citation: "7 CFR 205.203(c)(1)(ii)", Verdict: domain.Wait, ClearOn: dayOf("2026-08-08"), DaysShort: 1,
			Text:    "Raw manure worked in on 2026-04-10 needs 120 days before a crop that touches soil. 2026-08-07 is day 119. First clear day: 2026-08-08.",
			TextEs:  "Estiércol crudo incorporado el 2026-04-10 necesita 120 días antes de un cultivo que toca el suelo. El 2026-08-07 es el día 119. Primer día libre: 2026-08-08.",
			Records: []domain.RecordRef{{Kind: "application", ID: id}},
		}}},
	}
	if diff := cmp.Diff(want, refusal, cmp.AllowUnexported(domain.Date{})); diff != "" {
		t.Error(diff)
	}
}

func TestRefusalNamesTheBedsInTheWay(t *testing.T) {
	t.Parallel()
	b := newGround("us-organic")
	clean, first, second := b.bed("Lower 3"), b.bed("Lower 4"), b.bed("Lower 5")
	p := b.plant(radish, "2026-07-01", clean, first, second)
	b.manure("2026-04-10", "2026-04-10", first)
	b.manure("2026-05-10", "2026-05-10", second)
	for _, c := range []struct {
		beds  []uuid.UUID
		title string
		clear string
	}{
		{[]uuid.UUID{clean, first}, "Bed Lower 4 is not clear for radish", "2026-08-08"},
		{[]uuid.UUID{clean, first, second}, "Beds Lower 4, Lower 5 are not clear for radish", "2026-09-07"},
	} {
		lot := &domain.HarvestLot{PlantingID: p.ID, BedIDs: c.beds, CutFrom: dayOf("2026-07-20"), CutTo: dayOf("2026-07-22")}
		j := b.check(p, "2026-07-20", c.beds...)
		e := domain.HarvestRefusal(b.GroundFacts, lot, j)
		if e.Title != c.title || j.ClearOn.String() != c.clear || !strings.Contains(e.Detail, "First clear day: "+c.clear) {
			t.Errorf("%s, clear on %s: %s", e.Title, j.ClearOn, e.Detail)
		}
	}
}

// Whatever the days, a text never counts backwards and leaves no gap unfilled.
func TestTextsAreFilled(t *testing.T) {
	t.Parallel()
	var sets []string
	for _, s := range domain.RuleSets() {
		sets = append(sets, s.ID)
	}
	for _, adopted := range [][]string{nil, sets} {
		for _, crop := range []domain.Crop{lettuce, trellis, mandrake} {
			b := newGround(adopted...)
			bed := b.bed("Lower 3")
			p := b.plant(crop, "2026-03-01", bed)
			for _, category := range domain.Categories {
				for _, worked := range []string{"", "2026-06-01"} {
					b.spread(domain.Input{Category: category}, domain.InputLot{}, "2026-05-01", worked, bed)
					b.Exposures[len(b.Exposures)-1].TouchedCrop = domain.TouchedYes
				}
			}
			b.graze("2026-04-01", "2026-06-10", bed)
			b.graze("2026-04-01", "", bed)
			b.Plots[b.plot].History, b.Plots[b.plot].PriorUse = "unknown", []domain.PriorUse{{Kind: "stable"}, {Kind: "manure-heap", Until: dayOf("2026-01-01")}}
			b.Beds[bed].OutOfProduction = []domain.Pause{{From: dayOf("2026-04-01"), Reason: "resting"}}
			b.Holds = []domain.HoldSpan{{On: bed, From: dayOf("2026-04-01"), Reason: "glass"}}
			for _, on := range []string{"2026-05-02", "2027-01-01"} {
				for _, r := range b.check(p, on).Reasons {
					for _, text := range []string{r.Text, r.TextEs} {
						if text == "" || strings.ContainsAny(text, "{}%") || strings.Contains(text, "day -") || strings.Contains(text, "día -") || strings.Contains(text, "  ") {
							t.Errorf("%s: %q", r.Rule, text)
						}
					}
					for _, english := range []string{"manure", "Bought", "Grazing", "Earlier", "stable"} {
						if strings.Contains(r.TextEs, english) {
							t.Errorf("%s: English in %q", r.Rule, r.TextEs)
						}
					}
				}
			}
		}
	}
}

func TestPlantingWarnings(t *testing.T) {
	t.Parallel()
	b := newGround("us-organic")
	bed := b.bed("Lower 3")
	p := b.plant(radish, "2026-07-01", bed)
	b.manure("2026-04-10", "2026-04-10", bed)
	got := domain.PlantingWarnings(b.GroundFacts, p.ID, p.BedIDs, dayOf("2026-07-28"))
	if len(got) != 2 || got[0] != "First harvest is expected on 2026-07-28, but the ground is only clear on 2026-08-08." {
		t.Errorf("%q", got)
	}
	if got := domain.PlantingWarnings(b.GroundFacts, p.ID, p.BedIDs, dayOf("2026-08-08")); got != nil {
		t.Errorf("%q", got)
	}
	b = newGround("us-organic")
	bed = b.bed("Lower 3")
	b.manure("2026-04-10", "", bed)
	p = b.plant(radish, "2026-07-01", bed)
	got = domain.PlantingWarnings(b.GroundFacts, p.ID, p.BedIDs, dayOf("2026-08-28"))
	if len(got) != 2 || got[0] != "First harvest is expected on 2026-08-28, but the ground will not be clear then (stop)." {
		t.Errorf("%q", got)
	}
}

func TestApplicationWarnings(t *testing.T) {
	t.Parallel()
	worked := &domain.Application{AppliedOn: dayOf("2026-04-01"), IncorporatedOn: dayOf("2026-04-10")}
	onTop := &domain.Application{AppliedOn: dayOf("2026-04-01")}
	for _, c := range []struct {
		a        *domain.Application
		category domain.Category
		want     string
	}{
		{worked, domain.RawManure, "crops that touch soil from 2026-08-08, crops held clear from 2026-07-09"},
		{worked, domain.AgedManure, "Ageing is not a treatment: aged manure counts as raw. Counts as raw manure."},
		{onTop, domain.RawManure, "is not worked in"},
		{onTop, domain.Biosolids, "never allowed in organic growing"},
		{onTop, domain.Mineral, ""},
	} {
		got := strings.Join(domain.ApplicationWarnings(c.a, &domain.Input{Category: c.category}, &domain.InputLot{}), "|")
		if !strings.Contains(got, c.want) || (c.want == "") != (got == "") {
			t.Errorf("%s: %q", c.category, got)
		}
	}
}

func TestLotFitsItsPlanting(t *testing.T) {
	t.Parallel()
	planting := &domain.Planting{BedIDs: []uuid.UUID{someID}, PlantedOn: dayOf("2026-07-01"), EndedOn: dayOf("2026-09-01")}
	for _, c := range []struct{ why, on, want string }{
		{"first day", "2026-07-01", ""}, {"last day", "2026-09-01", ""}, {"before it was planted", "2026-06-30", "#/cut_on"}, {"after it ended", "2026-09-02", "#/cut_on"},
	} {
		var p domain.Problems
		domain.CheckLotPlanting(&p, &domain.HarvestLot{BedIDs: []uuid.UUID{someID}, CutOn: dayOf(c.on)}, planting, nil)
		if got := pointers(p.Err()); got != c.want {
			t.Errorf("%s: %q", c.why, got)
		}
	}
	var p domain.Problems
	domain.CheckLotPlanting(&p, &domain.HarvestLot{BedIDs: []uuid.UUID{someID, otherID}, CutOn: dayOf("2026-07-01")}, planting, nil)
	if got := pointers(p.Err()); got != "#/bed_ids/1" {
		t.Errorf("another bed: %q", got)
	}
	var laidAnew domain.Problems
	domain.CheckLotPlanting(&laidAnew, &domain.HarvestLot{BedIDs: []uuid.UUID{otherID}, CutOn: dayOf("2026-07-01")}, planting, map[uuid.UUID][]uuid.UUID{otherID: {otherID, someID}})
	if err := laidAnew.Err(); err != nil {
		t.Errorf("the bed laid over its own: %v", err)
	}
}

func TestJudgeTakesTheStrictest(t *testing.T) {
	t.Parallel()
	order := []domain.Verdict{domain.Clear, domain.Caution, domain.Wait, domain.Ask, domain.Stop}
	for i, a := range order {
		for j, b := range order {
			if got := domain.Stricter(a, b); got != order[max(i, j)] {
				t.Errorf("%s and %s: %s", a, b, got)
			}
		}
		if a.Refuses() != (i >= 2) {
			t.Errorf("%s refuses: %v", a, a.Refuses())
		}
	}
	wait := domain.Reason{Verdict: domain.Wait, ClearOn: dayOf("2026-08-08")}
	if j := domain.Judge([]domain.Reason{wait, {Verdict: domain.Ask}}); j.Verdict != domain.Ask || !j.ClearOn.IsZero() {
		t.Errorf("a day is promised although somebody must answer first: %+v", j)
	}
	if out, err := json.Marshal(domain.Judge(nil)); err != nil || string(out) != `{"verdict":"clear","reasons":[]}` {
		t.Errorf("%s %v", out, err)
	}
}

func TestEveryMaterialHasWords(t *testing.T) {
	t.Parallel()
	for _, category := range domain.Categories {
		a := domain.Application{ID: someID, AppliedOn: dayOf("2026-04-10")}
		e := a.ExposureOf(&domain.Input{Category: category}, &domain.InputLot{Supplier: "Old Mill Dairy"})
		if e.What == "" || e.WhatEs == "" || e.Material == "" || e.Standing == "" || e.Supplier != "Old Mill Dairy" {
			t.Errorf("%s: %+v", category, e)
		}
	}
}

func TestLotDays(t *testing.T) {
	t.Parallel()
	one := domain.HarvestLot{CutOn: dayOf("2026-08-08")}
	several := domain.HarvestLot{CutFrom: dayOf("2026-08-08"), CutTo: dayOf("2026-08-10")}
	if one.FirstDay() != one.LastDay() || several.FirstDay() != dayOf("2026-08-08") || several.LastDay() != dayOf("2026-08-10") {
		t.Errorf("%s to %s", several.FirstDay(), several.LastDay())
	}
}
