package domain_test

import (
	"slices"
	"strings"
	"testing"

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
		{"compost, paper that claims two years, past the first", domain.Input{Category: domain.BoughtCompost}, certificate("2025-04-09", "2027-04-09"), "wait 2026-08-08" + touching},
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
		{"hoed in after it was planted, touching it", lettuce, raw, domain.TouchedYes, "2026-04-11", "stop stop" + off + open},
		{"hoed in after it was planted, not said", lettuce, raw, "", "2026-04-11", "ask ask" + off + open},
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
