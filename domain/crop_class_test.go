package domain_test

import (
	"strings"
	"testing"
	"time"

	"croftmark/domain"
)

// LGMA-MAN-1Y: a year between raw manure and leafy greens for that buyer (us-rules 7.1 [verified: S9]). A crop class that is
// missing is not met (us-rules 0, principle 2).
func TestWhoIsALeafyGreen(t *testing.T) {
	t.Parallel()
	const year = "wait 2027-01-01 wait:buyer-leafy-greens.raw-manure-one-year"
	for _, c := range []struct {
		crop   domain.Crop
		want   string
		unsaid bool
	}{
		{domain.Crop{Name: "Butterhead", CatalogueEntry: "lettuce, head"}, year, false},
		{domain.Crop{Name: "Lettuce"}, year, false}, // as the desk writes it
		{domain.Crop{Name: "KALE"}, year, false},
		{domain.Crop{Name: "Carrots"}, "clear", false},
		{domain.Crop{Name: "Onion"}, "clear", false},                                                                                     // bulb or green: neither is
		{domain.Crop{Name: "Cabbage"}, year, true},                                                                                       // head or napa: the catalogue does not agree
		{domain.Crop{Name: "Napa", CatalogueEntry: "cabbage, Chinese (napa)"}, year, true},                                               // unclear
		{domain.Crop{Name: "Collards", CatalogueEntry: "collards"}, year, true},                                                          // never settled
		{domain.Crop{Name: "Tomatillos"}, "clear", false},                                                                                // unclear on the list, but a fruit
		{domain.Crop{Name: "Mandrake"}, year, true},                                                                                      // not in the catalogue
		{domain.Crop{Name: "Mandrake", LeafyGreen: new(false)}, "clear", false},                                                          // until the farm says
		{domain.Crop{Name: "Carrot", CatalogueEntry: "carrot", LeafyGreen: new(true)}, year, false},                                      // sold with its tops
		{domain.Crop{Name: "Chard", CatalogueEntry: "chard", LeafyGreen: new(false), Reason: "Asked: not on her list."}, "clear", false}, // with a reason
	} {
		b := newGround("us-organic", "buyer-leafy-greens")
		bed := b.bed("Lower 3")
		b.manure("2026-01-01", "2026-01-01", bed)
		j := b.check(b.plant(c.crop, "2026-04-20", bed), "2026-06-10")
		if got := said(j); got != c.want {
			t.Errorf("%s: %s, want %s", c.crop.Name, got, c.want)
		}
		for _, r := range j.Reasons {
			if r.Verdict == domain.Wait && (strings.HasPrefix(r.Text, "Nobody said whether") != c.unsaid || strings.HasPrefix(r.TextEs, "Nadie dijo") != c.unsaid) {
				t.Errorf("%s: %q, %q", c.crop.Name, r.Text, r.TextEs)
			}
		}
	}
	// Whether the contract speaks about it at all is not known either, so it answers nothing.
	b := newGround("buyer-leafy-greens")
	bed := b.bed("Lower 3")
	b.manure("2026-01-01", "2026-01-01", bed)
	if got := b.check(b.plant(domain.Crop{Name: "Mandrake"}, "2026-04-20", bed), "2026-04-28"); got.Verdict != domain.Ask || len(got.Reasons) != 2 {
		t.Errorf("a crop of no known class, and no other set: %s", said(got))
	}
}

// us-rules 2.1: the list of 21 CFR 112.2(a)(1) is exhaustive [verified: S22]; kale is covered [verified: S22b], and so is
// summer squash.
func TestCropClassesThatFree(t *testing.T) {
	t.Parallel()
	const closed, leafy = "112.2(a)(1)", "The catalogue says"
	for _, c := range []struct {
		crop domain.Crop
		want string
	}{
		{domain.Crop{Name: "Red fire", CatalogueEntry: "lettuce, leaf", RarelyConsumedRaw: true}, closed},
		{domain.Crop{Name: "kale", RarelyConsumedRaw: true}, closed},
		{domain.Crop{Name: "Squash", RarelyConsumedRaw: true}, closed}, // winter squash is, summer squash is not
		{domain.Crop{Name: "Mandrake", RarelyConsumedRaw: true, Reason: "Nobody eats it raw."}, closed},
		{domain.Crop{Name: "Fernglade Red", CatalogueEntry: "potato", RarelyConsumedRaw: true}, ""},
		{domain.Crop{Name: "Potatoes", RarelyConsumedRaw: true}, ""},
		{domain.Crop{Name: "Cranberry", RarelyConsumedRaw: true}, ""}, // on the list, not in the catalogue
		{domain.Crop{Name: "Black Beans", RarelyConsumedRaw: true}, ""},
		{domain.Crop{Name: "Winter squash", RarelyConsumedRaw: true}, ""},
		{domain.Crop{Name: "Beet", CatalogueEntry: "beet"}, ""}, // counting it as covered is the strict side
		{domain.Crop{Name: "Chard", CatalogueEntry: "chard", LeafyGreen: new(false)}, leafy},
		{domain.Crop{Name: "lettuce", LeafyGreen: new(false)}, leafy},
		{domain.Crop{Name: "Napa", CatalogueEntry: "cabbage, Chinese (napa)", LeafyGreen: new(false)}, ""},
	} {
		c.crop.SoilContact = domain.Touches
		err := domain.CheckRecord(&c.crop, dayOf("2026-06-01"), time.UTC)
		if c.want == "" && err != nil || c.want != "" && (err == nil || !strings.Contains(err.Error(), c.want)) {
			t.Errorf("%+v: %v, want %q", c.crop, err, c.want)
		}
	}
}

// What an older book says of a crop that was never on the list frees it of nothing: what touched it is not cut
// (21 CFR 112.56(a)(1)(i), us-rules 2.5 [verified: S39]).
func TestRarelyRawIsNotTakenOnTrust(t *testing.T) {
	t.Parallel()
	for crop, want := range map[string]domain.Verdict{"lettuce, leaf": domain.Stop, "potato": domain.Clear} {
		b := newGround("us-produce-safety")
		bed := b.bed("Lower 3")
		p := b.plant(domain.Crop{Name: crop, CatalogueEntry: crop, RarelyConsumedRaw: true}, "2026-05-01", bed)
		b.manure("2026-05-10", "2026-05-10", bed)
		b.Exposures[0].TouchedCrop = domain.TouchedYes
		if got := b.check(p, "2026-06-10"); got.Verdict != want {
			t.Errorf("%s: %s, want %s", crop, said(got), want)
		}
	}
}
