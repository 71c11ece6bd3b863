package main

import (
	"fmt"
	"strings"

	"github.com/google/uuid"

	"croftmark/domain"
)

// cutting writes a day's lots, packs them two by two and ships what was packed.
func (g *grower) cutting(perDay float64) error {
	for g.lotsDue += perDay; g.lotsDue >= 2; g.lotsDue -= 2 {
		s := g.plantings[g.next%len(g.plantings)]
		g.next++
		var lots []*domain.HarvestLot
		for _, b := range s.beds {
			lot, err := g.cut(s, b)
			if err != nil {
				return err
			}
			lots = append(lots, lot)
		}
		if err := g.packAndShip(lots, s.planting.Crop.Name); err != nil {
			return err
		}
	}
	return nil
}

// cut judges and writes a lot as the door would.
func (g *grower) cut(s standing, b int) (*domain.HarvestLot, error) {
	bed := g.beds[b]
	plot := g.plots[b/bedsOnPlot]
	facts := &domain.GroundFacts{Farm: g.farm, Beds: map[uuid.UUID]*domain.BedGround{bed.ID: bed}, Plots: map[uuid.UUID]*domain.Plot{plot.ID: plot},
		Plantings: map[uuid.UUID]*domain.PlantingFacts{s.planting.ID: &s.planting}, Exposures: g.exposures[b]}
	j := domain.CutCheck(facts, s.planting.ID, []uuid.UUID{bed.ID}, g.day, g.day)
	if j.Verdict.Refuses() {
		return nil, fmt.Errorf("the made farm may not cut %s on %s: %s", bed.Name, g.day, j.Verdict)
	}
	lot := &domain.HarvestLot{ID: g.id(), PlantingID: s.planting.ID, BedIDs: []uuid.UUID{bed.ID}, CutOn: g.day, Quantity: quantity("40", "lb"), VerdictThen: &j}
	lot.Code = g.code(func(n int) string { return domain.LotCode(g.day, bed.Name, s.planting.Crop.Name, n) })
	g.made.Lots++
	return lot, g.write(lot)
}

// code gives the next code of a day. The sequence is the part before the check characters.
func (g *grower) code(of func(n int) string) string {
	parts := strings.Split(of(1), "-")
	stem := strings.Join(parts[:len(parts)-2], "-")
	g.codes[stem]++
	return of(g.codes[stem])
}

func (g *grower) packAndShip(lots []*domain.HarvestLot, product string) error {
	p := &domain.PackLot{ID: g.id(), PackedAt: g.hour(14), Product: product, Quantity: quantity("80", "lb"), Crates: cratesInRun, CrateNet: quantity("10", "lb"), Line: "Table 1", Status: "organic"}
	var judgements []domain.Judgement
	for _, lot := range lots {
		p.From = append(p.From, domain.PackFrom{Lot: lot.Code, Quantity: lot.Quantity, LotID: lot.ID, Taken: lot.Quantity})
		judgements = append(judgements, *lot.VerdictThen)
	}
	j := domain.JudgePack(&domain.GroundFacts{}, p.ID, judgements)
	p.VerdictThen = &j
	p.Code = g.code(func(n int) string { return domain.PackLotCode(g.day, product, n) })
	for n := 1; n <= p.Crates; n++ {
		p.CrateCodes = append(p.CrateCodes, domain.CrateCode(p.Code, n))
	}
	g.made.Lots++
	if err := g.write(p); err != nil {
		return err
	}
	g.papers++
	s := &domain.Shipment{ID: g.id(), CustomerID: g.customers[g.papers%len(g.customers)], ShippedAt: g.hour(16), Reference: domain.Reference{Type: "invoice", Number: fmt.Sprint(10000 + g.papers)},
		Lines: []domain.ShipmentLine{{Crates: p.CrateCodes}}}
	for n := range p.Crates {
		s.Moved = append(s.Moved, domain.Moved{LotID: p.ID, Code: p.Code, Crate: n + 1, Quantity: p.CrateNet})
	}
	if g.papers%97 == 0 {
		g.made.Crates = append(g.made.Crates, p.CrateCodes[0])
	}
	return g.write(s)
}
