package domain_test

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"croftmark/domain"
)

const (
	touching = " wait:organic.raw-manure-soil-contact"
	held     = " wait:organic.raw-manure-no-contact"
)

// 7 CFR 205.203(c)(1)(ii) and (iii): 120 and 90 days [verified: S1]; day N is allowed and day N-1 is not [interpretation
// of "not less than"]; counted from working in [verified: S1 for the word]. Worked checks of us-rules 1.1.
func TestRawManureDays(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		why             string
		crop            domain.Crop
		applied, worked string
		on, want        string
	}{
		{"day 119", radish, "2026-04-10", "2026-04-10", "2026-08-07", "wait 2026-08-08" + touching},
		{"day 120", radish, "2026-04-10", "2026-04-10", "2026-08-08", "clear"},
		{"day 89, held clear", okra, "2026-04-10", "2026-04-10", "2026-07-08", "wait 2026-07-09" + held},
		{"day 90, held clear", okra, "2026-04-10", "2026-04-10", "2026-07-09", "clear"},
		{"unknown contact takes the strict row", mandrake, "2026-04-10", "2026-04-10", "2026-07-09", "wait 2026-08-08" + touching},
		{"spread nine days before it was worked in", radish, "2026-04-01", "2026-04-10", "2026-08-07", "wait 2026-08-08" + touching},
		{"cut on the very day", radish, "2026-04-10", "2026-04-10", "2026-04-10", "wait 2026-08-08" + touching},
		{"cut before it was worked in", radish, "2026-04-01", "2026-04-10", "2026-04-05", "wait 2026-08-08" + touching},
		{"cut before it was spread", radish, "2026-04-01", "2026-04-10", "2026-03-31", "clear"},
		{"never worked in", radish, "2026-04-01", "", "2026-11-20", "stop stop:organic.raw-manure-worked-in"},
		{"us-rules 1.1: lettuce", lettuce, "2027-04-01", "2027-04-01", "2027-07-29", "wait 2027-07-30" + touching},
		{"us-rules 1.1: lettuce on the day", lettuce, "2027-04-01", "2027-04-01", "2027-07-30", "clear"},
		{"us-rules 1.1: trellised tomato", trellis, "2027-04-01", "2027-04-01", "2027-06-29", "wait 2027-06-30" + held},
		{"us-rules 1.1: trellised tomato on the day", trellis, "2027-04-01", "2027-04-01", "2027-06-30", "clear"},
		{"us-rules 0.1: leap year", radish, "2027-11-15", "2027-11-15", "2028-03-13", "wait 2028-03-14" + touching},
		{"us-rules 0.1: across the clock change", radish, "2027-03-10", "2027-03-10", "2027-07-08", "clear"},
		{"record-forms S1: shipped on day 87", lettuce, "2026-03-10", "2026-03-10", "2026-06-05", "wait 2026-07-08" + touching},
	} {
		b := newGround("us-organic")
		bed := b.bed("Lower 3")
		p := b.plant(c.crop, "2020-04-01", bed)
		b.manure(c.applied, c.worked, bed)
		if got := said(b.check(p, c.on)); got != c.want {
			t.Errorf("%s: %s, want %s", c.why, got, c.want)
		}
	}
}

// us-rules 1.1, worked checks: the latest of several governs.
func TestLatestManureGoverns(t *testing.T) {
	t.Parallel()
	b := newGround("us-organic")
	bed := b.bed("Lower 3")
	p := b.plant(carrot, "2026-06-05", bed)
	late := b.manure("2026-06-02", "2026-06-02", bed)
	early := b.manure("2026-05-01", "2026-05-01", bed)
	j := b.check(p, "2026-08-01")
	if got := said(j); got != "wait 2026-09-30"+touching {
		t.Fatal(got)
	}
	r := j.Reasons[0]
	if r.DaysShort != 60 || len(j.Reasons) != 1 {
		t.Errorf("%d days short, %d reasons", r.DaysShort, len(j.Reasons))
	}
	for _, id := range []uuid.UUID{early, late} {
		if !slices.Contains(r.Records, domain.RecordRef{Kind: "application", ID: id}) {
			t.Errorf("%s is not named among %v", id, r.Records)
		}
	}
	if got := said(b.check(p, "2026-08-29")); got != "wait 2026-09-30"+touching {
		t.Errorf("the first wait is over, the second is not: %s", got)
	}
}

// us-rules 1.1 and record-forms S9: two crops in one bed are judged apart, and never by the looser of the two.
func TestTwoCropsInOneBed(t *testing.T) {
	t.Parallel()
	b := newGround("us-organic")
	bed := b.bed("Lower 3")
	leaf, tomato := b.plant(lettuce, "2027-04-20", bed), b.plant(trellis, "2027-05-10", bed)
	b.manure("2027-04-01", "2027-04-01", bed)
	if got := said(b.check(tomato, "2027-07-02")); got != "clear" {
		t.Errorf("tomato: %s", got)
	}
	if got := said(b.check(leaf, "2027-07-02")); got != "wait 2027-07-30"+touching {
		t.Errorf("lettuce: %s", got)
	}
}

func TestContactAsGrown(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		why           string
		crop, planted domain.SoilContact
		want          string
	}{
		{"the planting says held clear", domain.Touches, domain.HeldClear, "clear"},
		{"the planting says it sprawls", domain.HeldClear, domain.Touches, "wait 2026-08-08" + touching},
		{"the planting says nobody knows", domain.HeldClear, domain.ContactUnknown, "wait 2026-08-08" + touching},
		{"the crop's own holds", domain.HeldClear, "", "clear"},
		{"nothing said anywhere", "", "", "wait 2026-08-08" + touching},
	} {
		b := newGround("us-organic")
		bed := b.bed("Lower 3")
		p := b.plant(domain.Crop{Name: "tomato", SoilContact: c.crop}, "2026-05-01", bed)
		p.SoilContact = c.planted
		b.manure("2026-04-10", "2026-04-10", bed)
		if got := said(b.check(p, "2026-07-15")); got != c.want {
			t.Errorf("%s: %s, want %s", c.why, got, c.want)
		}
	}
}

// Grazing counts from the last day out; counting it at all is the strict reading, certifiers differ [verified: S7, S8;
// default interpretation]. Record-forms S6 and S13.
func TestGrazingDays(t *testing.T) {
	t.Parallel()
	const hens = " wait:organic.grazing-soil-contact"
	for _, c := range []struct{ why, sets, in, out, on, want string }{
		{"S6: radish on day 101 of the next year", "us-organic", "2025-11-01", "2025-11-20", "2026-03-01", "wait 2026-03-20" + hens},
		{"S6: on day 120", "us-organic", "2025-11-01", "2025-11-20", "2026-03-20", "clear"},
		{"S13: not from the move in", "us-organic", "2025-07-01", "2025-11-20", "2025-12-24", "wait 2026-03-20" + hens},
		{"cut in the middle of the stay", "us-organic", "2025-07-01", "2025-11-20", "2025-09-01", "wait 2026-03-20" + hens},
		{"still there", "us-organic", "2025-11-01", "", "2026-11-20", "stop stop:organic.grazing-soil-contact"},
		{"still there, only the produce safety rule", "us-produce-safety", "2025-11-01", "", "2026-11-20", "caution caution:produce-safety.untreated-interval-open"},
		{"still there, nothing adopted", "", "2025-11-01", "", "2026-11-20", "ask ask:every-farm.no-rules-adopted"},
		{"still there, a set that is silent on grazing", "canada-organic", "2025-11-01", "", "2026-11-20", "ask ask:every-farm.no-rules-adopted"},
	} {
		b := newGround(strings.Fields(c.sets)...)
		bed := b.bed("Lower 3")
		b.graze(c.in, c.out, bed)
		if got := said(b.check(b.plant(radish, "2024-01-10", bed), c.on)); got != c.want {
			t.Errorf("%s: %s, want %s", c.why, got, c.want)
		}
	}
	b := newGround("us-organic")
	bed := b.bed("Lower 3")
	b.graze("2026-01-01", "2026-02-01", bed)
	if got := said(b.check(b.plant(okra, "2026-03-01", bed), "2026-05-01")); got != "wait 2026-05-02 wait:organic.grazing-no-contact" {
		t.Errorf("held clear: %s", got)
	}
}

func certificate(issued, expires string) domain.InputLot {
	c := &domain.Certificate{IssuedOn: dayOf(issued), Process: "windrow, 15 days at 131 degF, five turnings"}
	if expires != "" {
		c.ExpiresOn = dayOf(expires)
	}
	return domain.InputLot{Supplier: "Hill Compost", Certificate: c}
}

// Treated or untreated at the day of application: 21 CFR 112.51 [verified: S38]; supplier's paper at least once a year,
// 112.60(b)(1) [verified: S40]; ageing is no treatment [memory, interpretation]; plant material has no wait, 205.203(c)(3)
// [verified: S1], unless animals had the heap (record-forms S14).
func TestMaterials(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		why  string
		in   domain.Input
		lot  domain.InputLot
		want string
	}{
		{"raw manure", domain.Input{Category: domain.RawManure}, domain.InputLot{}, "wait 2026-08-08" + touching},
		{"aged manure", domain.Input{Category: domain.AgedManure}, certificate("2026-01-01", ""), "wait 2026-08-08" + touching},
		{"manure tea", domain.Input{Category: domain.ManureTea}, domain.InputLot{}, "wait 2026-08-08" + touching},
		{"compost, paper valid", domain.Input{Category: domain.BoughtCompost}, certificate("2026-01-01", "2026-12-31"), "clear"},
		{"compost, paper without an end, in its year", domain.Input{Category: domain.BoughtCompost}, certificate("2025-04-10", ""), "clear"},
		{"compost, paper without an end, a day past its year", domain.Input{Category: domain.BoughtCompost}, certificate("2025-04-09", ""), "wait 2026-08-08" + touching},
		{"compost, paper ends on the day", domain.Input{Category: domain.BoughtCompost}, certificate("2026-01-01", "2026-04-10"), "clear"},
		{"compost, paper expired", domain.Input{Category: domain.BoughtCompost}, certificate("2026-01-01", "2026-04-09"), "wait 2026-08-08" + touching},
		{"compost, paper issued after it was spread", domain.Input{Category: domain.BoughtCompost}, certificate("2026-04-11", ""), "wait 2026-08-08" + touching},
		{"compost without paper", domain.Input{Category: domain.BoughtCompost}, domain.InputLot{}, "wait 2026-08-08" + touching},
		{"worm compost without paper", domain.Input{Category: domain.Vermicompost}, domain.InputLot{}, "wait 2026-08-08" + touching},
		{"processed manure with paper", domain.Input{Category: domain.ProcessedManure}, certificate("2026-01-01", ""), "clear"},
		{"compost tea without paper", domain.Input{Category: domain.CompostTea}, domain.InputLot{}, "wait 2026-08-08" + touching},
		{"leaf mould", domain.Input{Category: domain.PlantMaterial}, domain.InputLot{}, "clear"},
		{"leaf mould that goats had", domain.Input{Category: domain.PlantMaterial, Species: "goats"}, domain.InputLot{}, "wait 2026-08-08" + touching},
		{"rock dust", domain.Input{Category: domain.Mineral}, domain.InputLot{}, "clear"},
		{"fish meal has no days in the organic rule", domain.Input{Category: domain.AnimalByproduct}, domain.InputLot{}, "clear"},
	} {
		b := newGround("us-organic")
		bed := b.bed("Lower 3")
		p := b.plant(radish, "2026-05-01", bed)
		b.spread(c.in, c.lot, "2026-04-10", "2026-04-10", bed)
		j := b.check(p, "2026-07-01")
		if got := said(j); got != c.want {
			t.Errorf("%s: %s, want %s", c.why, got, c.want)
		}
		if domain.NoInterval(&c.in) && j.Verdict != domain.Clear {
			t.Errorf("%s asks for a wait", c.why)
		}
	}
}

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

// 7 CFR 205.202(b): three years before harvest [verified: S11]; 29 February counts to 1 March [interpretation]; sewage
// sludge never, 205.105(g) [memory].
func TestBiosolids(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ why, sets, applied, on, want string }{
		{"leap day, the day before", "us-organic", "2024-02-29", "2027-02-28", "wait 2027-03-01 wait:organic.prohibited-land"},
		{"leap day, on 1 March", "us-organic", "2024-02-29", "2027-03-01", "clear"},
		{"plain day", "us-organic", "2024-06-10", "2027-06-09", "wait 2027-06-10 wait:organic.prohibited-land"},
		{"plain day, three years on", "us-organic", "2024-06-10", "2027-06-10", "clear"},
		{"a set that is silent on them", "us-produce-safety", "2026-06-10", "2026-07-10", "ask ask:every-farm.no-rules-adopted"},
	} {
		b := newGround(strings.Fields(c.sets)...)
		bed := b.bed("Lower 3")
		b.spread(domain.Input{Category: domain.Biosolids}, domain.InputLot{}, c.applied, "", bed)
		if got := said(b.check(b.plant(radish, "2024-01-01", bed), c.on)); got != c.want {
			t.Errorf("%s: %s, want %s", c.why, got, c.want)
		}
	}
}

// 7 CFR 205.203(c)(1)(i): no wait for a crop that is not for people [verified: S1]; the next food crop inherits the date.
func TestCropNotForPeople(t *testing.T) {
	t.Parallel()
	b := newGround("us-organic", "us-produce-safety", "buyer-gap")
	bed := b.bed("Lower 3")
	b.manure("2026-04-10", "", bed)
	for use, want := range map[string]domain.Verdict{"cover-crop": domain.Clear, "feed": domain.Clear, "food": domain.Stop, "": domain.Stop} {
		if got := b.check(b.plant(domain.Crop{Name: "rye", SoilContact: domain.Touches, Use: use}, "2026-04-20", bed), "2026-06-01"); got.Verdict != want {
			t.Errorf("%q: %s", use, said(got))
		}
	}
}

// 21 CFR 112.56(a) [verified: S39]; rarely consumed raw is not covered, 112.2(a)(1) [verified: S22].
func TestProduceSafety(t *testing.T) {
	t.Parallel()
	raw, treated, fish := domain.Input{Category: domain.RawManure}, domain.Input{Category: domain.BoughtCompost}, domain.Input{Category: domain.AnimalByproduct}
	const open, off = " caution:produce-safety.untreated-interval-open", ":produce-safety.untreated-off-crop"
	for _, c := range []struct {
		why     string
		crop    domain.Crop
		in      domain.Input
		touched domain.Touched
		planted string
		want    string
	}{
		{"the interval is left open: caution and no day", lettuce, raw, domain.TouchedNo, "2026-05-01", "caution" + open},
		{"day 120 and nothing touched", lettuce, raw, domain.TouchedNo, "2026-05-01", "caution" + open},
		{"touched the standing crop", lettuce, raw, domain.TouchedYes, "2026-04-01", "stop stop" + off + open},
		{"nobody knows whether it touched", lettuce, raw, domain.TouchedUnknown, "2026-04-01", "ask ask" + off + open},
		{"nobody said whether it touched", lettuce, raw, "", "2026-04-01", "ask ask" + off + open},
		{"kept off the standing crop", lettuce, raw, domain.TouchedNo, "2026-04-01", "caution" + open},
		{"no crop stood there", lettuce, raw, "", "2026-05-01", "caution" + open},
		{"planted on the day it was spread", lettuce, raw, "", "2026-04-10", "ask ask" + off + open},
		{"fish meal on the crop", lettuce, fish, domain.TouchedYes, "2026-04-01", "stop stop" + off + open},
		{"finished compost on the crop", lettuce, treated, domain.TouchedYes, "2026-04-01", "caution caution:produce-safety.treated-minimise-contact"},
		{"finished compost, not said", lettuce, treated, "", "2026-04-01", "clear"},
		{"rarely consumed raw", potato, raw, domain.TouchedYes, "2026-04-01", "clear"},
	} {
		b := newGround("us-produce-safety")
		bed := b.bed("Lower 3")
		a := domain.Application{ID: b.id(), AppliedOn: dayOf("2026-04-10"), IncorporatedOn: dayOf("2026-04-12"), TouchedCrop: c.touched}
		lot := certificate("2026-01-01", "")
		b.happen(a.ExposureOf(&c.in, &lot), bed)
		j := b.check(b.plant(c.crop, c.planted, bed), "2026-07-01")
		want := c.want
		if c.in.Category == domain.AnimalByproduct { // with the supplier's paper it is treated; without it is not
			lot.Certificate = nil
			b.Exposures[0] = a.ExposureOf(&c.in, &lot)
			b.Exposures[0].BedID = bed
			j = b.check(b.plant(c.crop, c.planted, bed), "2026-07-01")
		}
		if got := said(j); got != want {
			t.Errorf("%s: %s, want %s", c.why, got, want)
		}
		for _, r := range j.Reasons {
			if strings.Contains(r.Rule, "off-crop") && !strings.Contains(r.Text, "2026-04-10") {
				t.Errorf("%s: names another day than that of spreading: %s", c.why, r.Text)
			}
		}
	}
}

func TestOpenIntervalCautionEnds(t *testing.T) {
	t.Parallel()
	b := newGround("us-produce-safety")
	bed := b.bed("Lower 3")
	p := b.plant(lettuce, "2026-05-01", bed)
	b.manure("2026-04-01", "2026-04-10", bed)
	for on, want := range map[string]string{"2026-08-07": "caution caution:produce-safety.untreated-interval-open", "2026-08-08": "clear"} {
		if got := said(b.check(p, on)); got != want {
			t.Errorf("%s: %s, want %s", on, got, want)
		}
	}
}

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

// Section 5 and 7.1 of us-rules: rule sets differ, the strictest decides, and each that spoke is named.
func TestSeveralSets(t *testing.T) {
	t.Parallel()
	b := newGround("us-organic", "buyer-leafy-greens", "us-produce-safety", "canada-organic")
	bed := b.bed("Lower 3")
	p := b.plant(lettuce, "2026-07-20", bed)
	b.manure("2026-04-01", "2026-04-10", bed)
	want := "wait 2027-04-10" + touching + " wait:buyer-leafy-greens.raw-manure-one-year wait:canada-organic.raw-manure-soil-contact caution:produce-safety.untreated-interval-open"
	j := b.check(p, "2026-08-01")
	if got := said(j); got != want {
		t.Errorf("%s, want %s", got, want)
	}
	for _, r := range j.Reasons {
		if r.Citation == "" || r.Authority == "" || r.TextEs == "" || len(r.Records) != 1 {
			t.Errorf("%s is not whole: %+v", r.Rule, r)
		}
	}
	if got := said(b.check(b.plant(carrot, "2026-07-20", bed), "2026-08-08")); got != "clear" {
		t.Errorf("the leafy greens buyer says nothing about carrots: %s", got)
	}
	if got := said(b.check(p, "2026-08-08")); got != "wait 2027-04-10 wait:buyer-leafy-greens.raw-manure-one-year" {
		t.Errorf("the organic wait is over, the buyer's is not: %s", got)
	}
}

// GAP-MAN-PLANT: 14 days before planting and 120 before harvest; GAP-MAN-72H: worked in within three days (us-rules 7.1,
// section 5).
func TestBuyerGap(t *testing.T) {
	t.Parallel()
	const early, days, slow = " stop:buyer-gap.raw-manure-before-planting", " wait:buyer-gap.raw-manure-before-harvest", " caution:buyer-gap.raw-manure-work-in-quickly"
	for _, c := range []struct{ why, applied, worked, planted, on, want string }{
		{"planted on day 13", "2026-04-10", "2026-04-10", "2026-04-23", "2026-09-01", "stop" + early},
		{"planted on day 14", "2026-04-10", "2026-04-10", "2026-04-24", "2026-09-01", "clear"},
		{"planted on the day", "2026-04-10", "2026-04-10", "2026-04-10", "2026-09-01", "stop" + early},
		{"spread among the standing crop", "2026-05-10", "2026-05-10", "2026-04-24", "2026-09-07", "stop" + early},
		{"planted long before the next manure", "2026-04-10", "2026-04-10", "2026-05-01", "2026-08-07", "wait 2026-08-08" + days},
		{"worked in on the third day", "2026-04-10", "2026-04-13", "2026-05-01", "2026-09-01", "clear"},
		{"worked in on the fourth day", "2026-04-10", "2026-04-14", "2026-05-01", "2026-09-01", "caution" + slow},
		{"not worked in yet on the third day", "2026-04-10", "", "2026-05-01", "2026-04-13", "wait 2026-08-08" + days},
		{"never worked in", "2026-04-10", "", "2026-05-01", "2026-09-01", "caution" + slow},
	} {
		b := newGround("buyer-gap")
		bed := b.bed("Lower 3")
		b.manure(c.applied, c.worked, bed)
		j := b.check(b.plant(okra, c.planted, bed), c.on)
		if got := said(j); got != c.want {
			t.Errorf("%s: %s, want %s", c.why, got, c.want)
		}
		for _, r := range j.Reasons {
			if strings.HasSuffix(slow, r.Rule) && !strings.Contains(r.Text, "spread on "+c.applied) {
				t.Errorf("%s: %s", c.why, r.Text)
			}
		}
	}
}

// CA-MAN-120/90 and UK-MAN-12/6 of us-rules 7.1 [memory]; the UK set is voluntary guidance and refuses nothing.
func TestForeignSets(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		why, set    string
		crop        domain.Crop
		planted, on string
		want        string
	}{
		{"Canada, day 119", "canada-organic", radish, "2026-05-01", "2026-08-07", "wait 2026-08-08 wait:canada-organic.raw-manure-soil-contact"},
		{"Canada, day 120", "canada-organic", radish, "2026-05-01", "2026-08-08", "clear"},
		{"Canada, held clear, day 89", "canada-organic", okra, "2026-05-01", "2026-07-08", "wait 2026-07-09 wait:canada-organic.raw-manure-no-contact"},
		{"Canada, held clear, day 90", "canada-organic", okra, "2026-05-01", "2026-07-09", "clear"},
		{"UK, both", "uk-ready-to-eat", radish, "2026-10-09", "2026-12-01", "caution caution:uk-ready-to-eat.raw-manure-before-harvest caution:uk-ready-to-eat.raw-manure-before-planting"},
		{"UK, planted after half a year", "uk-ready-to-eat", radish, "2026-10-10", "2027-04-09", "caution caution:uk-ready-to-eat.raw-manure-before-harvest"},
		{"UK, a year", "uk-ready-to-eat", radish, "2026-10-10", "2027-04-10", "clear"},
	} {
		b := newGround(c.set)
		bed := b.bed("Lower 3")
		b.manure("2026-04-10", "2026-04-10", bed)
		if got := said(b.check(b.plant(c.crop, c.planted, bed), c.on)); got != c.want {
			t.Errorf("%s: %s, want %s", c.why, got, c.want)
		}
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
	b.Holds = []domain.BedHold{
		{ID: b.id(), BedID: bed, Reason: "flooded", From: dayOf("2026-05-01"), ReleasedOn: dayOf("2026-05-10")},
		{ID: b.id(), BedID: old, Reason: "glass", From: dayOf("2026-07-01"), ReleasedOn: dayOf("2026-07-05")},
		{ID: b.id(), BedID: other, Reason: "rats", From: dayOf("2026-08-01")},
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
			b.Holds = []domain.BedHold{{BedID: bed, From: dayOf("2026-04-01"), Reason: "glass"}}
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
		domain.CheckLotPlanting(&p, &domain.HarvestLot{BedIDs: []uuid.UUID{someID}, CutOn: dayOf(c.on)}, planting)
		if got := pointers(p.Err()); got != c.want {
			t.Errorf("%s: %q", c.why, got)
		}
	}
	var p domain.Problems
	domain.CheckLotPlanting(&p, &domain.HarvestLot{BedIDs: []uuid.UUID{someID, otherID}, CutOn: dayOf("2026-07-01")}, planting)
	if got := pointers(p.Err()); got != "#/bed_ids/1" {
		t.Errorf("another bed: %q", got)
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
