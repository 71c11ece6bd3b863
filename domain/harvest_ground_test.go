package domain_test

import (
	"strings"
	"testing"

	"github.com/google/uuid"

	"croftmark/domain"
)

// Unknown never passes as fine (design, idea 4): no adopted set, or none that speaks about what happened, is a question.
func TestNoRuleSpeaks(t *testing.T) {
	t.Parallel()
	const ask = "ask ask:every-farm.no-rules-adopted"
	for _, c := range []struct {
		why, sets string
		crop      domain.Crop
		want      string
	}{
		{"nothing adopted", "", radish, ask},
		{"nothing adopted, rarely eaten raw", "", potato, ask},
		{"a leafy greens contract, and a radish", "buyer-leafy-greens", radish, ask},
		{"a leafy greens contract, and lettuce", "buyer-leafy-greens", lettuce, "wait 2027-04-10 wait:buyer-leafy-greens.raw-manure-one-year"},
		{"a set this book does not know", "moon-organic", radish, ask},
		{"one that speaks beside one that does not", "buyer-leafy-greens us-organic", radish, "wait 2026-08-08" + touching},
		{"the produce safety rule leaves out what is cooked", "us-produce-safety", potato, "clear"},
	} {
		b := newGround(strings.Fields(c.sets)...)
		bed := b.bed("Lower 3")
		b.manure("2026-04-01", "2026-04-10", bed)
		if got := said(b.check(b.plant(c.crop, "2026-04-20", bed), "2026-07-01")); got != c.want {
			t.Errorf("%s: %s, want %s", c.why, got, c.want)
		}
	}
}

// us-rules section 5: Canada counts from working in as the US does [memory]; and a set that says nothing about by-products
// such as fish meal has not answered for them. The organic rule names days for raw manure only [verified: S1].
func TestSetsThatAreSilent(t *testing.T) {
	t.Parallel()
	const ask = "ask ask:every-farm.no-rules-adopted"
	for sets, want := range map[string]string{"": ask, "buyer-gap": ask, "buyer-leafy-greens": ask, "canada-organic": ask, "uk-ready-to-eat": ask, "moon-organic": ask,
		"us-organic": "clear", "canada-organic us-organic": "clear", "us-produce-safety": "caution caution:produce-safety.untreated-interval-open"} {
		b := newGround(strings.Fields(sets)...)
		bed := b.bed("Lower 3")
		b.spread(domain.Input{Category: domain.AnimalByproduct}, domain.InputLot{}, "2026-05-10", "2026-05-10", bed)
		if got := said(b.check(b.plant(radish, "2026-05-01", bed), "2026-06-01")); got != want {
			t.Errorf("fish meal, %q: %s, want %s", sets, got, want)
		}
	}
	b := newGround("canada-organic")
	bed := b.bed("Lower 3")
	b.manure("2026-04-01", "", bed)
	if got := said(b.check(b.plant(lettuce, "2026-05-01", bed), "2026-07-30")); got != "stop stop:canada-organic.raw-manure-worked-in" {
		t.Errorf("manure left on top, Canada: %s", got)
	}
}

// Field history: common practice, asked for by certifiers and auditors; record-forms S18.
func TestPriorUse(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		why     string
		history string
		use     []domain.PriorUse
		want    string
	}{
		{"nothing said", "", nil, "caution caution:every-farm.ground-history"},
		{"known to be clean", "known", nil, "clear"},
		{"nobody knows", "unknown", nil, "ask ask:every-farm.ground-history"},
		{"hay", "", []domain.PriorUse{{Kind: "hay"}}, "clear"},
		{"dump", "known", []domain.PriorUse{{Kind: "dump", Until: dayOf("1990-01-01")}}, "ask ask:every-farm.ground-history"},
		{"stable until spring", "known", []domain.PriorUse{{Kind: "stable", Until: dayOf("2026-04-10")}}, "wait 2026-08-08 wait:organic.grazing-soil-contact"},
		{"stable long ago", "known", []domain.PriorUse{{Kind: "stable", Until: dayOf("2019-04-10")}}, "clear"},
		{"stable nobody knows until when", "known", []domain.PriorUse{{Kind: "stable"}}, "ask ask:organic.grazing-soil-contact"},
		{"paddock that ended after the cut", "known", []domain.PriorUse{{Kind: "paddock", Until: dayOf("2026-08-01")}}, "wait 2026-11-29 wait:organic.grazing-soil-contact"},
	} {
		b := newGround("us-organic")
		bed := b.bed("Lower 3")
		b.Plots[b.plot].History, b.Plots[b.plot].PriorUse = c.history, c.use
		if got := said(b.check(b.plant(radish, "2026-05-01", bed), "2026-07-01")); got != c.want {
			t.Errorf("%s: %s, want %s", c.why, got, c.want)
		}
	}
	for set, want := range map[string]string{
		"us-produce-safety": "caution caution:produce-safety.untreated-interval-open", "uk-ready-to-eat": "ask ask:uk-ready-to-eat.raw-manure-before-harvest",
		"": "ask ask:every-farm.no-rules-adopted", "buyer-gap": "ask ask:every-farm.no-rules-adopted",
	} {
		b := newGround(strings.Fields(set)...)
		bed := b.bed("Lower 3")
		b.Plots[b.plot].PriorUse = []domain.PriorUse{{Kind: "pasture"}}
		j := b.check(b.plant(radish, "2026-05-01", bed), "2026-07-01")
		if got := said(j); got != want {
			t.Errorf("pasture with no end, %q: %s, want %s", set, got, want)
		}
		if strings.Contains(j.Reasons[0].Text, "1950") {
			t.Errorf("pasture with no end, %q: a made-up year: %s", set, j.Reasons[0].Text)
		}
	}
}

func TestOutOfProductionAndHolds(t *testing.T) {
	t.Parallel()
	const paused, hold = "stop stop:every-farm.out-of-production", "stop stop:every-farm.hold"
	b := newGround("us-organic")
	old := b.bed("Old 1")
	bed := b.bed("Lower 3", old)
	other := b.bed("Lower 4")
	p := b.plant(radish, "2026-01-01", bed, other)
	b.Beds[bed].OutOfProduction = []domain.Pause{{From: dayOf("2026-03-01"), To: dayOf("2026-04-01"), Reason: "resting"}, {From: dayOf("2026-10-01"), Reason: "given up"}}
	b.Holds = []domain.HoldSpan{
		{ID: b.id(), On: bed, Reason: "flooded", From: dayOf("2026-05-01"), ReleasedOn: dayOf("2026-05-10")},
		{ID: b.id(), On: old, Reason: "glass", From: dayOf("2026-07-01"), ReleasedOn: dayOf("2026-07-05")},
		{ID: b.id(), On: other, Reason: "rats", From: dayOf("2026-08-01")},
	}
	for _, c := range []struct {
		on, want string
		bed      uuid.UUID
	}{
		{"2026-02-28", "clear", bed}, {"2026-03-01", paused, bed}, {"2026-03-31", paused, bed}, {"2026-04-01", "clear", bed}, {"2026-11-01", paused, bed},
		{"2026-04-30", "clear", bed}, {"2026-05-01", hold, bed}, {"2026-05-09", hold, bed}, {"2026-05-10", "clear", bed},
		{"2026-07-03", hold, bed},    // what lies under it is held
		{"2026-09-01", "clear", bed}, // the neighbour's hold is not this bed's
		{"2026-09-01", hold, other},
	} {
		if got := said(b.check(p, c.on, c.bed)); got != c.want {
			t.Errorf("%s on %s: %s, want %s", b.Beds[c.bed].Name, c.on, got, c.want)
		}
	}
	if text := b.check(p, "2026-09-01", other).Reasons[0].Text; text != "On hold since 2026-08-01 (rats). A lead or the owner releases it with a reason." {
		t.Error(text)
	}
}

func TestTwoHoldsAreBothTold(t *testing.T) {
	t.Parallel()
	b := newGround("us-organic")
	bed := b.bed("Lower 3")
	for _, why := range []string{"glass", "rats"} {
		b.Holds = append(b.Holds, domain.HoldSpan{ID: b.id(), On: bed, Reason: why, From: dayOf("2026-08-01")})
	}
	j := b.check(b.plant(radish, "2026-01-01", bed), "2026-09-01")
	if len(j.Reasons) != 2 || !strings.Contains(j.Reasons[0].Text, "glass") || !strings.Contains(j.Reasons[1].Text, "rats") {
		t.Errorf("%+v", j.Reasons)
	}
}

// A planting stands from its first day to its last, both counted.
func TestTouchedOnTheLastDayOfThePlanting(t *testing.T) {
	t.Parallel()
	b := newGround("us-produce-safety")
	bed := b.bed("Lower 3")
	p := b.plant(lettuce, "2026-04-01", bed)
	p.EndedOn = dayOf("2026-06-10")
	b.manure("2026-06-10", "2026-06-10", bed)
	b.Exposures[0].TouchedCrop = domain.TouchedYes
	if j := b.check(p, "2026-06-10"); j.Verdict != domain.Stop {
		t.Error(said(j))
	}
}

// Record-forms S8: beds re-laid across the slope inherit everything they lie on.
func TestRelaidBedsInherit(t *testing.T) {
	t.Parallel()
	b := newGround("us-organic")
	first := b.bed("Down 1")
	left, right := b.bed("Across 1", first), b.bed("Across 2", first)
	diamond := b.bed("Slant 1", left, right)
	top := b.bed("Slant 2", diamond)
	fresh := b.bed("Fresh 1")
	p := b.plant(radish, "2026-07-10", top, fresh)
	b.manure("2026-04-10", "2026-04-10", first)
	b.graze("2026-04-01", "2026-04-05", left)
	want := "wait 2026-08-08" + touching + " wait:organic.grazing-soil-contact"
	if got := said(b.check(p, "2026-08-01", top)); got != want {
		t.Errorf("%s, want %s", got, want)
	}
	if got := said(b.check(p, "2026-08-01", fresh)); got != "clear" {
		t.Errorf("fresh ground: %s", got)
	}
	if got := said(b.check(p, "2026-08-01", fresh, top)); got != want {
		t.Errorf("both: %s", got)
	}
	ground := b.GroundOf(b.Beds[top], dayOf("2026-08-01"))
	if len(ground) != 2 || ground[0].Via != "earlier-bed" || ground[0].ViaName != "Down 1" || ground[1].ViaName != "Across 1" {
		t.Errorf("%+v", ground)
	}
}

func TestPlotExposureReachesBedsLaidLater(t *testing.T) {
	t.Parallel()
	b := newGround("us-organic")
	bed := b.bed("New 1")
	b.Beds[bed].From = dayOf("2026-06-01")
	b.manure("2026-04-01", "2026-04-10") // the whole plot, before the bed was laid
	if got := said(b.check(b.plant(radish, "2026-06-02", bed), "2026-08-01")); got != "wait 2026-08-08"+touching {
		t.Error(got)
	}
	if ground := b.GroundOf(b.Beds[bed], dayOf("2026-08-01")); len(ground) != 1 || ground[0].Via != "plot" || ground[0].ViaName != "Lower" {
		t.Errorf("%+v", ground)
	}
}

func TestAdoptedFromAndTo(t *testing.T) {
	t.Parallel()
	b := newGround()
	b.Farm.Standards = []domain.AdoptedStandard{
		{Set: "us-produce-safety", From: dayOf("2020-01-01")},
		{Set: "us-organic", From: dayOf("2026-06-01"), To: dayOf("2026-07-01")},
	}
	bed := b.bed("Lower 3")
	p := b.plant(radish, "2026-05-01", bed)
	b.manure("2026-04-10", "2026-04-10", bed)
	const open = " caution:produce-safety.untreated-interval-open"
	for on, want := range map[string]string{
		"2026-05-31": "caution" + open,
		"2026-06-01": "wait 2026-08-08" + touching + open, // manure from before the farm adopted it counts
		"2026-06-30": "wait 2026-08-08" + touching + open,
		"2026-07-01": "caution" + open,
	} {
		if got := said(b.check(p, on)); got != want {
			t.Errorf("%s: %s, want %s", on, got, want)
		}
	}
}

// One heap may count as treated under one rule set and as raw under another.
func TestStandingDiffersBySet(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		sets      string
		materials map[string]domain.Material
		want      string
	}{
		{"us-organic us-produce-safety", map[string]domain.Material{"us-organic": domain.MaterialTreated}, "caution caution:produce-safety.untreated-interval-open"},
		{"us-organic us-produce-safety", map[string]domain.Material{"us-produce-safety": domain.MaterialTreated}, "wait 2026-08-08" + touching},
		{"us-organic buyer-leafy-greens", map[string]domain.Material{"us-organic": domain.MaterialTreated}, "clear"},
		{"buyer-leafy-greens", map[string]domain.Material{"us-organic": domain.MaterialTreated}, "ask ask:every-farm.no-rules-adopted"},
	} {
		b := newGround(strings.Fields(c.sets)...)
		bed := b.bed("Lower 3")
		b.manure("2026-04-10", "2026-04-10", bed)
		b.Exposures[0].Materials = c.materials
		b.Exposures[0].WhatEs = ""
		if got := said(b.check(b.plant(radish, "2026-05-01", bed), "2026-07-01")); got != c.want {
			t.Errorf("%s with %v: %s, want %s", c.sets, c.materials, got, c.want)
		}
	}
}

// Manure spread while a cut goes on sets the later clear day (7 CFR 205.203(c)(1): 90 and 120 days); the first day's wait
// must not hide it. 2026-04-10 + 120 = 2026-08-08, 2026-06-03 + 120 = 2026-10-01.
func TestCutOverTwoWaitsTakesTheLaterDay(t *testing.T) {
	b := newGround("us-organic")
	bed := b.bed("Lower 3")
	p := b.plant(catalogueCrop("radish"), "2026-04-12", bed)
	b.manure("2026-04-10", "2026-04-10", bed)
	late := b.manure("2026-06-03", "2026-06-03", bed)
	j := domain.CutCheck(b.GroundFacts, p.ID, p.BedIDs, dayOf("2026-06-01"), dayOf("2026-06-05"))
	if j.Verdict != domain.Wait || j.ClearOn != dayOf("2026-10-01") {
		t.Errorf("%s, clear on %s, want wait until 2026-10-01", j.Verdict, j.ClearOn)
	}
	named := false
	for _, r := range j.Reasons {
		for _, record := range r.Records {
			named = named || record.ID == late
		}
	}
	if !named {
		t.Error("the manure that decides is not named")
	}
}
