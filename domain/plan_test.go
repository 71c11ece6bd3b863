package domain_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/google/uuid"

	"croftmark/domain"
)

// What a plan must have: 21 CFR 1.1315(a)(1) to (5) [verified: traceability reference 1.5].
func TestPlanGaps(t *testing.T) {
	t.Parallel()
	on := domain.NewDate(2026, 6, 1)
	plot, other := uuid.UUID{15: 1}, uuid.UUID{15: 2}
	place := &domain.Location{Lat: "36.07", Lon: "-79.09"}
	full := func(change func(*domain.Farm, *domain.Plot, *domain.Bed, *domain.Crop)) []domain.LocalText {
		f := domain.Farm{Address: "Lane 1", Contact: "Ann", ContactPhone: "1"}
		p := domain.Plot{ID: plot, Name: "Lower", Location: place}
		b := domain.Bed{Name: "L1", PlotID: plot, From: on}
		c := domain.Crop{Name: "Spinach", CatalogueEntry: "spinach", TraceabilityListItem: "Leafy greens (fresh)"}
		change(&f, &p, &b, &c)
		return domain.PlanGaps(f, []domain.Plot{p}, []domain.Bed{b}, []domain.Crop{c}, on)
	}
	for _, c := range []struct {
		name   string
		change func(*domain.Farm, *domain.Plot, *domain.Bed, *domain.Crop)
		want   string // empty: no gap
	}{
		{"nothing missing", func(*domain.Farm, *domain.Plot, *domain.Bed, *domain.Crop) {}, ""},
		{"no address", func(f *domain.Farm, _ *domain.Plot, _ *domain.Bed, _ *domain.Crop) { f.Address = " " }, "1.1315(a)(1)"},
		{"no contact", func(f *domain.Farm, _ *domain.Plot, _ *domain.Bed, _ *domain.Crop) { f.Contact = "" }, "1.1315(a)(4)"},
		{"no phone of the contact", func(f *domain.Farm, _ *domain.Plot, _ *domain.Bed, _ *domain.Crop) { f.ContactPhone = "" }, "1.1315(a)(4)"},
		{"no coordinates", func(_ *domain.Farm, p *domain.Plot, _ *domain.Bed, _ *domain.Crop) { p.Location = nil }, "Plot Lower has no coordinates"},
		{"coordinates that are none", func(_ *domain.Farm, p *domain.Plot, _ *domain.Bed, _ *domain.Crop) {
			p.Location = &domain.Location{Lat: "97", Lon: "north"}
		}, "Plot Lower has no coordinates"},
		{"bed of no plot", func(_ *domain.Farm, _ *domain.Plot, b *domain.Bed, _ *domain.Crop) { b.PlotID = other }, "plot of bed L1"},
		{"bed of no plot that has ended", func(_ *domain.Farm, _ *domain.Plot, b *domain.Bed, _ *domain.Crop) {
			b.PlotID, b.From, b.To = other, on.AddDays(-9), on
		}, ""},
		{"listed in the catalogue, not by the farm", func(_ *domain.Farm, _ *domain.Plot, _ *domain.Bed, c *domain.Crop) { c.TraceabilityListItem = "" }, "Spinach is not marked"},
		{"exempt and listed", func(_ *domain.Farm, _ *domain.Plot, _ *domain.Bed, c *domain.Crop) { c.RarelyConsumedRaw = true }, "1.1305(e)"},
		{"not clear in the catalogue", func(_ *domain.Farm, _ *domain.Plot, _ *domain.Bed, c *domain.Crop) {
			*c = domain.Crop{Name: "Tomatillo", CatalogueEntry: "tomatillo"}
		}, "Tomatillo"},
		{"not of the catalogue", func(_ *domain.Farm, _ *domain.Plot, _ *domain.Bed, c *domain.Crop) { *c = domain.Crop{Name: "Oca"} }, ""},
	} {
		gaps := full(c.change)
		switch {
		case c.want == "" && len(gaps) > 0:
			t.Errorf("%s: %v", c.name, gaps)
		case c.want != "" && (len(gaps) != 1 || !strings.Contains(gaps[0].En, c.want) || gaps[0].Es == "" || gaps[0].Es == gaps[0].En):
			t.Errorf("%s: %v, want one with %q in two languages", c.name, gaps, c.want)
		}
	}
	if n := len(domain.PlanGaps(domain.Farm{}, nil, nil, nil, on)); n != 5 {
		t.Errorf("an empty farm has %d gaps, not one for each part of the plan and one for the phone", n)
	}
}

func TestListedCropsAndBedsInForce(t *testing.T) {
	t.Parallel()
	listed := domain.ListedCrops([]domain.Crop{{Name: "Kale", TraceabilityListItem: "Leafy greens (fresh)"}, {Name: "Carrot"}, {Name: "Dill", TraceabilityListItem: "Herbs (fresh)", RarelyConsumedRaw: true}})
	if len(listed) != 1 || listed[0].Name != "Kale" {
		t.Errorf("listed: %v", listed)
	}
	on := domain.NewDate(2026, 6, 1)
	beds := []domain.Bed{{Name: "ends today", From: on.AddDays(-9), To: on}, {Name: "ends tomorrow", From: on.AddDays(-9), To: on.AddDays(1)}, {Name: "begins today", From: on}, {Name: "begins tomorrow", From: on.AddDays(1)}}
	var names []string
	for _, b := range domain.BedsInForce(beds, on) {
		names = append(names, b.Name)
	}
	if !slices.Equal(names, []string{"ends tomorrow", "begins today"}) {
		t.Errorf("in force: %v", names)
	}
}
