package rig

import (
	"context"
	"fmt"
	"net/http"
	"time"

	"github.com/google/uuid"

	"croftmark/domain"
	"croftmark/storage"
)

// Farm is a small farm that was opened and laid out through the write door, with enough on it to apply and to cut.
type Farm struct {
	Client
	ID       uuid.UUID
	Owner    string
	Fallow   []string // beds without a crop
	Planted  []string // beds with a standing crop, clear to cut
	Planting string
	Lots     []string // deliveries of bought compost
	Today    domain.Date
}

// zoneName is where the invented farms lie.
const zoneName = "America/New_York"

// Record is a body of a request.
type Record map[string]any

// Amount writes a quantity.
func Amount(value int, unit string) Record { return Record{"value": fmt.Sprint(value), "unit": unit} }

// Standards gives the rule sets that the invented farms answer to.
func Standards() (out []domain.AdoptedStandard) {
	for _, id := range []string{"us-organic", "us-produce-safety"} {
		if set, ok := domain.RuleSetByID(id); ok {
			out = append(out, domain.AdoptedStandard{Set: id, From: set.From})
		}
	}
	return out
}

// OpenFarm opens a farm in the service's database and lays it out over HTTP: beds of each kind, and deliveries.
func OpenFarm(ctx context.Context, db *storage.DB, address string, client *http.Client, name string, beds, deliveries int) (*Farm, error) {
	opened, err := db.OpenFarm(ctx, &domain.Farm{Name: name, TimeZone: zoneName, Standards: Standards()}, &domain.Person{Name: "Vesper Inglenook", Initials: "VI"})
	if err != nil {
		return nil, err
	}
	zone, err := domain.Zone(zoneName)
	if err != nil {
		return nil, err
	}
	f := &Farm{Client: Client{Address: address, Token: opened.Token, HTTP: client}, ID: opened.FarmID, Owner: opened.PersonID.String(), Today: domain.DateIn(time.Now(), zone)}
	return f, f.layOut(ctx, beds, deliveries)
}

// maker posts records one after the other and keeps the first error.
type maker struct {
	ctx context.Context
	c   Client
	err error
}

func (m *maker) make(path string, body Record) string {
	if m.err != nil {
		return ""
	}
	var made Made
	made, m.err = m.c.Create(m.ctx, path, body)
	return made.ID
}

func (f *Farm) layOut(ctx context.Context, beds, deliveries int) error {
	m := &maker{ctx: ctx, c: f.Client}
	plot := m.make("/v1/plots", Record{"name": "Long Acre", "history": "known"})
	bed := func(name string) string {
		return m.make("/v1/beds", Record{"name": name, "plot_id": plot, "from": f.Today.AddDays(-700)})
	}
	for i := range beds {
		f.Fallow = append(f.Fallow, bed(fmt.Sprintf("Fallow %d", i+1)))
		f.Planted = append(f.Planted, bed(fmt.Sprintf("Row %d", i+1)))
	}
	crop := m.make("/v1/crops", Record{"name": "Radish", "soil_contact": "touches"})
	f.Planting = m.make("/v1/plantings", Record{"crop_id": crop, "bed_ids": f.Planted, "planted_on": f.Today.AddDays(-60)})
	compost := m.make("/v1/inputs", Record{"name": "Screened compost", "category": "bought-compost", "species": "cattle"})
	for i := range deliveries {
		f.Lots = append(f.Lots, m.make("/v1/input-lots", Record{"input_id": compost, "supplier": "Larkhill Yard", "supplier_lot": fmt.Sprint(i + 1),
			"received_on": f.Today.AddDays(-300), "quantity": Amount(400, "yd3"),
			"certificate": Record{"issued_on": f.Today.AddDays(-310), "process": "Turned windrow above 131 degF for 15 days, five turnings"}}))
	}
	m.make("/v1/applications", Record{"source": Record{"input_lot_id": f.Lots[0]}, "ground": Record{"bed_ids": f.Planted},
		"applied_on": f.Today.AddDays(-200), "incorporated_on": f.Today.AddDays(-200), "method": "incorporated", "amount": Amount(40, "yd3")})
	return m.err
}

// Application spreads compost of a delivery on a fallow bed today. The numbers choose which.
func (f *Farm) Application(bed, lot int) Record {
	return Record{"source": Record{"input_lot_id": f.Lots[lot%len(f.Lots)]}, "ground": Record{"bed_ids": []string{f.Fallow[bed%len(f.Fallow)]}},
		"applied_on": f.Today, "incorporated_on": f.Today, "method": "incorporated", "amount": Amount(1, "yd3")}
}

// Harvest cuts a planted bed today.
func (f *Farm) Harvest(bed int) Record {
	return Record{"planting_id": f.Planting, "bed_ids": []string{f.Planted[bed%len(f.Planted)]}, "cut_on": f.Today, "quantity": Amount(40, "bunch"),
		"crew": []string{f.Owner}}
}
