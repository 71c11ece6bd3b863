package domain_test

import (
	"slices"
	"testing"
	"time"

	"github.com/google/uuid"

	"croftmark/domain"
)

func goodLost() *domain.LostLabel {
	lot := domain.LotCode(dayOf("2026-11-20"), "Lower 3", "Radish", 1)
	return &domain.LostLabel{FoundAt: time.Date(2026, 11, 24, 15, 0, 0, 0, time.UTC), Where: "third stop", May: []string{lot, domain.PackLotCode(dayOf("2026-11-21"), "Mix", 1)}, Decision: "set-aside"}
}

func goodLink() *domain.BuyerLink {
	return &domain.BuyerLink{CustomerID: someID, ShipmentIDs: []uuid.UUID{otherID}, ExpiresOn: dayOf("2026-12-31")}
}

// Record forms 1.36 and S22, S23.
func TestLabelRecordsAreChecked(t *testing.T) {
	t.Parallel()
	one := goodLost().May[:1]
	for _, c := range []struct {
		why    string
		record domain.Record
		want   string
	}{
		{"for three crates", spoiled(goodPrint, func(x *domain.LabelPrint) { x.Crates = []int{1, 2, 3} }), ""},
		{"crate 0, crate twice, too few labels", spoiled(goodPrint, func(x *domain.LabelPrint) { x.Crates, x.Copies = []int{0, 2, 2}, 2 }), "#/crates/0 #/crates/2 #/copies"},
		{"discard", &domain.LabelDiscard{LotID: someID, Spoiled: 1, Reason: "smeared"}, ""},
		{"nothing of no lot thrown away for no reason", &domain.LabelDiscard{}, "#/lot_id #/spoiled #/reason"},
		{"less than none", &domain.LabelDiscard{LotID: someID, Spoiled: -1, Void: 1, Reason: "x"}, "#/spoiled #/spoiled"},
		{"set aside", goodLost(), ""},
		{"culled", spoiled(goodLost, func(x *domain.LostLabel) { x.Decision = "culled" }), ""},
		{"carries both", spoiled(goodLost, func(x *domain.LostLabel) { x.Decision = "carries-all" }), ""},
		{"carries all of one", spoiled(goodLost, func(x *domain.LostLabel) { x.Decision, x.May = "carries-all", one }), "#/decision"},
		{"identified of two, on no evidence", spoiled(goodLost, func(x *domain.LostLabel) { x.Decision = "identified" }), "#/decision #/evidence"},
		{"identified", spoiled(goodLost, func(x *domain.LostLabel) { x.Decision, x.May, x.Evidence = "identified", one, "load list" }), ""},
		{"guessed", spoiled(goodLost, func(x *domain.LostLabel) { x.Decision = "guessed" }), "#/decision"},
		{"nowhere, of no lot, at no time", &domain.LostLabel{Decision: "set-aside"}, "#/found_at #/where #/may_be"},
		{"mistyped, and twice", spoiled(goodLost, func(x *domain.LostLabel) { x.May = []string{"26219-L3-RAD-1-S5", one[0], one[0]} }), "#/may_be/0 #/may_be/2"},
		{"names the lots itself", spoiled(goodLost, func(x *domain.LostLabel) { x.Lots = []domain.LostLot{} }), "#/lots"},
		{"link", goodLink(), ""},
		{"link by lot", spoiled(goodLink, func(x *domain.BuyerLink) { x.ShipmentIDs, x.Lots = nil, one }), ""},
		{"link to nothing for nobody for ever", &domain.BuyerLink{}, "#/customer_id #/shipment_ids #/expires_on"},
		{"link of yesterday", spoiled(goodLink, func(x *domain.BuyerLink) { x.ExpiresOn = dayOf("2026-11-24") }), "#/expires_on"},
		{"link of a year", spoiled(goodLink, func(x *domain.BuyerLink) { x.ExpiresOn = dayOf("2026-11-25").AddDays(366) }), ""},
		{"link of a year and a day", spoiled(goodLink, func(x *domain.BuyerLink) { x.ExpiresOn = dayOf("2026-11-25").AddDays(367) }), "#/expires_on"},
		{"link to a crate, twice to a lot", spoiled(goodLink, func(x *domain.BuyerLink) { x.Lots = []string{domain.CrateCode(one[0], 1), one[0], one[0]} }), "#/lots/0 #/lots/2"},
		{"link that names the lots itself", spoiled(goodLink, func(x *domain.BuyerLink) { x.LotIDs = []uuid.UUID{someID} }), "#/lot_ids"},
	} {
		err := domain.CheckRecord(c.record, dayOf("2026-11-25"), time.UTC)
		if got := pointers(err); got != c.want || (err == nil) != (c.want == "") {
			t.Errorf("%s %s: %q, want %q (%v)", c.record.Kind(), c.why, got, c.want, err)
		}
	}
}

// printed = used + void + spoiled (record forms S22).
func TestLabelCountSettles(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		count             domain.LabelCount
		inUse, difference int
		says              string
	}{
		{domain.LabelCount{Crates: 6}, 0, -6, "No label was printed."},
		{domain.LabelCount{Printed: 6, Crates: 6}, 6, 0, "Every crate has one label."},
		{domain.LabelCount{Printed: 11, Reprinted: 5, Spoiled: 4, Void: 1, Crates: 6}, 6, 0, "Every crate has one label."},
		{domain.LabelCount{Printed: 7, Reprinted: 1, Lost: 1, Crates: 6}, 6, 0, "Every crate has one label."},
		{domain.LabelCount{Printed: 8, Crates: 6}, 8, 2, "Labels more than crates: 2. Find them, and write down what is void or spoiled."},
		{domain.LabelCount{Printed: 6, Spoiled: 2, Crates: 6}, 4, -2, "Crates without a label of their own: 2."},
		{domain.LabelCount{Printed: 3}, 3, 0, "In use: 3. The crates of this lot were not counted."},
	} {
		got := c.count.Settle()
		if got.InUse != c.inUse || got.Difference != c.difference || got.Says != c.says {
			t.Errorf("%+v: %d in use, difference %d, %q", c.count, got.InUse, got.Difference, got.Says)
		}
	}
}

func TestItemOf(t *testing.T) {
	t.Parallel()
	f := &domain.Farm{GS1Items: []domain.GS1Item{{Product: "Radish", Item: "00041"}, {Product: "radish Red Head", Item: "00042"}}}
	for _, c := range []struct{ product, variety, want string }{
		{"radish", "", "00041"}, {"RADISH", "red head", "00042"}, {"radish", "White Icicle", "00041"}, {"kale", "", ""}, {"radish Red", "Head", "00042"},
	} {
		if got := f.ItemOf(c.product, c.variety); got != c.want {
			t.Errorf("%s %s: %q, want %q", c.product, c.variety, got, c.want)
		}
	}
}

// The prefix of GTIN 10614141000415 is 0614141 (traceability reference 2.1); its indicator and check digit are none of it.
func TestGS1Prefixes(t *testing.T) {
	t.Parallel()
	got := domain.GS1Prefixes("10614141000415")
	if !slices.Contains(got, "0614141") || got[0] != "0614" || got[len(got)-1] != "06141410004" || domain.GS1Prefixes("614141") != nil {
		t.Errorf("%v", got)
	}
}

// A farm that chose nothing shows what is in the crate and whose it is.
func TestPublicPageDefault(t *testing.T) {
	t.Parallel()
	for _, fact := range domain.PublicFacts {
		if got, want := (&domain.Farm{}).Shows(fact), fact == domain.ShowCrop || fact == domain.ShowFarm; got != want {
			t.Errorf("%s is shown: %t", fact, got)
		}
		if (&domain.Farm{PublicPage: []domain.PublicFact{domain.ShowFarm}}).Shows(fact) != (fact == domain.ShowFarm) {
			t.Errorf("with the farm chosen alone: %s", fact)
		}
	}
}
