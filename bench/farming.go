package main

import (
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/shopspring/decimal"

	"croftmark/domain"
)

// A farm of 500 beds on 10 plots, for so many years that its book has the size asked for. What the ground remembers is the
// same in every size from four seasons on; what grows is the number of lots, packing runs and shipments, and the years.
// A check that looks at more than it must is then slower on a bigger book.
const (
	plotCount    = 10
	bedsOnPlot   = 50
	bedCount     = plotCount * bedsOnPlot
	bedsTogether = 2 // beds of one planting
	seasonDays   = 365
	cratesInRun  = 8
)

// smallestBook is what the ground and the plantings of the seasons alone need.
const smallestBook = 5000

// bookMade says where to find things in a book that was written.
type bookMade struct {
	Farm     uuid.UUID
	Owner    uuid.UUID
	Entries  int64
	Lots     int
	Beds     []uuid.UUID // in production, with a standing crop
	Crates   []string    // some crates that were shipped, from all years
	Today    domain.Date
	Compost  uuid.UUID // an input, for deliveries
	PlotID   uuid.UUID
	Crop     uuid.UUID
	Delivery uuid.UUID // a delivery of the last season

	took time.Duration // to restore, when this run did
}

// standing is a planting with all that judging a cut of it needs.
type standing struct {
	planting domain.PlantingFacts
	beds     []int
}

// grower keeps what later entries refer to.
type grower struct {
	*author
	made      bookMade
	plots     []*domain.Plot
	beds      []*domain.BedGround
	exposures [][]domain.Exposure // by bed, the latest last
	crops     []domain.Crop
	inputs    map[domain.Category]*domain.Input
	customers []uuid.UUID
	plantings []standing
	codes     map[string]int // sequence numbers given today, by the beginning of the code
	lotsDue   float64
	next      int
	papers    int
}

func seasonsFor(entries int) int { return min(max(entries/25_000, 4), 12) }

// farming writes the whole book.
func (a *author) farming(entries int, today domain.Date) (*bookMade, error) {
	g := &grower{author: a, inputs: map[domain.Category]*domain.Input{}, exposures: make([][]domain.Exposure, bedCount)}
	seasons := seasonsFor(entries)
	first := today.AddDays(-seasons * seasonDays)
	if err := g.open(first.AddDays(-30)); err != nil {
		return nil, err
	}
	fixed := int(g.seq) + seasons*(2*bedCount/bedsTogether+3*plotCount+3)
	// Two lots go into one packing run, and each run leaves with one shipment: two entries for each lot.
	perDay := float64(entries-fixed) / 2 / float64(seasons*cuttingDays)
	for s := range seasons {
		if err := g.season(first.AddDays(s*seasonDays), s == seasons-1, perDay); err != nil {
			return nil, err
		}
	}
	g.made.Farm, g.made.Owner, g.made.Today, g.made.PlotID, g.made.Crop = g.farm.ID, g.owner, today, g.plots[0].ID, g.crops[0].ID
	g.made.Compost = g.inputs[domain.BoughtCompost].ID
	for _, s := range g.plantings {
		for _, b := range s.beds {
			g.made.Beds = append(g.made.Beds, g.beds[b].ID)
		}
	}
	return &g.made, nil
}

// open writes the farm, its people, ground, crops, inputs and customers.
func (g *grower) open(day domain.Date) error {
	g.on(day)
	g.farm = &domain.Farm{ID: g.id(), Name: "Wether Down", TimeZone: "America/New_York", Standards: []domain.AdoptedStandard{{Set: "us-organic", From: day}, {Set: "us-produce-safety", From: day}},
		Key: fmt.Sprintf("B%06d", g.dice.IntN(1000000))}
	g.owner = g.id()
	records := []domain.Record{g.farm, &domain.Person{ID: g.owner, Name: "Ansel Thornbury", Initials: "AT", Role: domain.Owner}}
	for p := range plotCount {
		plot := &domain.Plot{ID: g.id(), Name: fmt.Sprintf("Field %d", p+1), History: "known", OrganicFrom: day}
		g.plots, records = append(g.plots, plot), append(records, plot)
		for b := range bedsOnPlot {
			bed := &domain.Bed{ID: g.id(), Name: fmt.Sprintf("Bed %d", p*bedsOnPlot+b+1), PlotID: plot.ID, From: day}
			records = append(records, bed)
			g.beds = append(g.beds, &domain.BedGround{ID: bed.ID, Name: bed.Name, PlotID: plot.ID, From: day, Ground: []uuid.UUID{bed.ID}})
		}
	}
	for _, name := range []string{"Radish", "Carrot", "Kale", "Lettuce", "Beet", "Spinach", "Turnip", "Leek"} {
		crop := domain.Crop{ID: g.id(), Name: name, SoilContact: domain.Touches}
		g.crops, records = append(g.crops, crop), append(records, &crop)
	}
	for _, c := range []domain.Category{domain.RawManure, domain.BoughtCompost, domain.Seed} {
		g.inputs[c] = &domain.Input{ID: g.id(), Name: "Yearly " + string(c), Category: c}
		records = append(records, g.inputs[c])
	}
	g.inputs[domain.RawManure].Species, g.inputs[domain.BoughtCompost].Species = "horse", "cattle"
	for i := range 40 {
		c := &domain.Customer{ID: g.id(), Name: fmt.Sprintf("Kitchen %d", i+1), Is: "restaurant", Phone: fmt.Sprintf("518-555-%04d", 100+i)}
		g.customers, records = append(g.customers, c.ID), append(records, c)
	}
	for _, r := range records {
		if err := g.write(r); err != nil {
			return err
		}
	}
	return nil
}

// The days of a season, counted from its first.
const (
	manureDay, firstPlanting, firstCut, firstEnd    = 1, 20, 150, 190
	compostDay, secondPlanting, secondCut, lastCuts = 192, 200, 260, 364
	cuttingDays                                     = firstEnd - firstCut + lastCuts - secondCut
)

func (g *grower) season(first domain.Date, last bool, perDay float64) error {
	lots := map[domain.Category]*domain.InputLot{}
	g.on(first)
	for _, c := range []domain.Category{domain.RawManure, domain.BoughtCompost, domain.Seed} {
		lot := &domain.InputLot{ID: g.id(), InputID: g.inputs[c].ID, Supplier: "Larkhill Yard", SupplierLot: first.String(), ReceivedOn: first, Quantity: quantity("900", "yd3")}
		if c == domain.BoughtCompost {
			lot.Certificate = &domain.Certificate{IssuedOn: first.AddDays(-1), Process: "Turned windrow above 131 degF for 15 days, five turnings"}
			g.made.Delivery = lot.ID
		}
		if lots[c] = lot; c == domain.Seed {
			lot.Quantity = quantity("50", "kg")
		}
		if err := g.write(lot); err != nil {
			return err
		}
	}
	for day := 1; day <= lastCuts; day++ {
		g.on(first.AddDays(day))
		g.codes = map[string]int{}
		var err error
		switch {
		case day == manureDay:
			err = g.spread(lots[domain.RawManure])
		case day == compostDay-2 || day == compostDay:
			err = g.spread(lots[domain.BoughtCompost])
		case day == firstPlanting:
			err = g.plant(lots[domain.Seed].ID, g.day.AddDays(firstEnd-firstPlanting))
		case day == secondPlanting && last:
			err = g.plant(lots[domain.Seed].ID, domain.Date{})
		case day == secondPlanting:
			err = g.plant(lots[domain.Seed].ID, g.day.AddDays(lastCuts-secondPlanting))
		case day >= firstCut && day < firstEnd || day >= secondCut && day < lastCuts:
			err = g.cutting(perDay)
		}
		if err != nil {
			return err
		}
	}
	return nil
}

// spread puts a delivery on all ground, one record for each plot.
func (g *grower) spread(lot *domain.InputLot) error {
	for p := range plotCount {
		beds := g.beds[p*bedsOnPlot : (p+1)*bedsOnPlot]
		x := &domain.Application{ID: g.id(), Source: domain.Source{InputLotID: lot.ID}, AppliedOn: g.day, IncorporatedOn: g.day, Method: "incorporated", Amount: quantity("20", "yd3")}
		for i, b := range beds {
			x.Ground.BedIDs = append(x.Ground.BedIDs, b.ID)
			e := x.ExposureOf(g.inputOf(lot), lot)
			e.BedID = b.ID
			all := append(g.exposures[p*bedsOnPlot+i], e)
			g.exposures[p*bedsOnPlot+i] = all[max(0, len(all)-15):]
		}
		if err := g.write(x); err != nil {
			return err
		}
	}
	return nil
}

func (g *grower) inputOf(lot *domain.InputLot) *domain.Input {
	for _, in := range g.inputs {
		if in.ID == lot.InputID {
			return in
		}
	}
	return nil
}

// plant sows every bed; the crops go round.
func (g *grower) plant(seed uuid.UUID, ends domain.Date) error {
	g.plantings = nil
	for b := 0; b < bedCount; b += bedsTogether {
		crop := g.crops[(b/bedsTogether)%len(g.crops)]
		pl := domain.Planting{ID: g.id(), CropID: crop.ID, PlantedOn: g.day, SeedLotID: seed, EndedOn: ends, Method: "direct seeded"}
		s := standing{planting: domain.PlantingFacts{Crop: crop}}
		for i := range bedsTogether {
			pl.BedIDs, s.beds = append(pl.BedIDs, g.beds[b+i].ID), append(s.beds, b+i)
		}
		s.planting.Planting = pl
		g.plantings = append(g.plantings, s)
		if err := g.write(&pl); err != nil {
			return err
		}
	}
	return nil
}

func quantity(value, unit string) domain.Quantity {
	return domain.Quantity{Value: decimal.RequireFromString(value), Unit: domain.Unit(unit)}
}
