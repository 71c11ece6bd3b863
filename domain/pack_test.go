package domain_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"croftmark/domain"
)

// Common practice: a scale ticket's sums tie, so what the crates hold is counted in the lot's measure and adds up to the lot.
// 10 lb and 5 % are 10.5 lb; 2.5 kg are 5.51 lb (international pound).
func TestCratesHoldNoMoreThanTheLot(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		lot, net domain.Quantity
		crates   int
		says     string
	}{
		{domain.Q("20", "lb"), domain.Q("6", "bunch"), 2, "counted in lb"},
		{domain.Q("20", "bunch"), domain.Q("6", "lb"), 2, "counted in bunch"},
		{domain.Q("10", "lb"), domain.Q("3", "lb"), 10, "10 crates of 3 lb hold 30 lb"},
		{domain.Q("10", "lb"), domain.Q("2.5", "kg"), 2, "hold 11.02"},
		{domain.Q("10", "lb"), domain.Q("1.06", "lb"), 10, "10.6"},
		{domain.Q("10", "lb"), domain.Q("1.05", "lb"), 10, ""},
		{domain.Q("20", "lb"), domain.Q("3", "lb"), 2, ""},
		{domain.Q("10", "lb"), domain.Quantity{}, 10, ""},
	} {
		x := &domain.PackLot{PackedAt: time.Date(2026, 6, 5, 13, 0, 0, 0, time.UTC), Product: "salad mix", Quantity: c.lot, Crates: c.crates, CrateNet: c.net,
			From: []domain.PackFrom{{Lot: domain.LotCode(dayOf("2026-06-05"), "Lower 4", "salad", 1), Quantity: c.lot}}}
		err := domain.CheckRecord(x, dayOf("2026-06-06"), time.UTC)
		if err == nil {
			err = x.CheckCrates(domain.DefaultPackTolerance)
		}
		e, _ := err.(*domain.Error)
		right := func(f domain.FieldError) bool {
			return f.Pointer == "#/crate_net" && strings.Contains(f.Detail, c.says)
		}
		if (c.says == "") != (err == nil) || err != nil && (e == nil || len(e.Fields) != 1 || !slices.ContainsFunc(e.Fields, right)) {
			t.Errorf("%s in %d crates of %s: %v, want %q", c.lot, c.crates, c.net, err, c.says)
		}
	}
}

// Crates that are said to hold more than the lot share it, so that the last one is not left without (calculations reference 6:
// shares add up to the lot).
func TestCratesShareALotTheyOverfill(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		net  domain.Quantity
		n    int
		want string
	}{
		{domain.Q("1", "lb"), 10, "1 lb"},
		{domain.Q("3", "lb"), 10, "1.00 lb"},
		{domain.Q("1.05", "lb"), 1, "1.00 lb"},
		{domain.Q("6", "bunch"), 1, "6 bunch"},
	} {
		if got := domain.CrateQuantity(domain.Q("10", "lb"), 10, c.net, c.n).String(); got != c.want {
			t.Errorf("crate %d of %s: %s, want %s", c.n, c.net, got, c.want)
		}
	}
}
