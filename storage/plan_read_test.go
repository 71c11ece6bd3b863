package storage_test

import (
	"testing"

	"croftmark/domain"
	"croftmark/storage"
)

// The plan of 21 CFR 1.1315 is made from what the book holds: every area, crop and code of the farm, and nothing voided.
func TestPlanIsMadeFromTheBook(t *testing.T) {
	t.Parallel()
	f := newRich(t)
	plan, err := f.db.Plan(f.reading())
	if err != nil {
		t.Fatal(err)
	}
	held := map[string]domain.PlanRecords{}
	for _, h := range plan.Held {
		held[h.Kind] = h
	}
	for kind, want := range f.counted() {
		if held[kind].Count != want || held[kind].First.IsZero() || held[kind].Last.Before(held[kind].First) {
			t.Errorf("%s: %+v, want %d records with their days", kind, held[kind], want)
		}
	}
	if plan.Farm.ID != f.actor.FarmID || len(plan.Plots) == 0 || len(plan.Beds) == 0 || len(plan.Crops) == 0 || plan.PackCode != f.mix.Code {
		t.Errorf("plan: %+v", plan)
	}
	code, err := domain.ParseCode(plan.HarvestCode)
	if err != nil || code.Kind != domain.CodeKindHarvest {
		t.Errorf("harvest code %q: %v", plan.HarvestCode, err)
	}
}

// counted reads afresh what the plan counts by its own query.
func (f *rich) counted() map[string]int {
	f.t.Helper()
	out := map[string]int{}
	for _, kind := range []string{"harvest-lot", "pack-lot", "shipment", "return"} {
		list, err := f.db.Records(ctx, f.actor.FarmID, kind, storage.Page{Limit: 500})
		if err != nil {
			f.t.Fatal(err)
		}
		for _, r := range list {
			if !r.Voided {
				out[kind]++
			}
		}
		if out[kind] == 0 {
			f.t.Fatalf("the rich book has no %s", kind)
		}
	}
	return out
}
