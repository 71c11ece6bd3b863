package storage_test

import (
	"context"
	"os"
	"testing"

	"github.com/google/uuid"

	"croftmark/domain"
	"croftmark/storage"
	"croftmark/storage/storagetest"
)

func TestMain(m *testing.M) { os.Exit(storagetest.Main(m)) }

// field is a farm with one plot, one bed and manure to spread, and short verbs to write its records.
type field struct {
	t     testing.TB
	db    *storage.DB
	clock *storagetest.Clock
	actor storage.Actor
	plot  uuid.UUID
	bed   uuid.UUID
	// manure is a delivery of raw manure from Old Mill Dairy.
	manure uuid.UUID
}

func newField(t testing.TB, config storage.Config, sets ...string) *field {
	t.Helper()
	f := &field{t: t, clock: storagetest.NewClock("2026-11-25")}
	config.Now = f.clock.Now
	f.db = storagetest.Open(t, config)
	if len(sets) == 0 {
		sets = []string{"us-organic"}
	}
	f.actor = storagetest.Farm(t, f.db, sets...)
	f.plot = f.write(&domain.Plot{Name: "Lower", History: "known"})
	f.bed = f.write(&domain.Bed{Name: "Lower 3", PlotID: f.plot, From: day("2024-03-01")})
	f.manure = f.delivery("raw-manure", nil)
	return f
}

func day(s string) domain.Date {
	d, err := domain.ParseDate(s)
	if err != nil {
		panic(err)
	}
	return d
}

func (f *field) record(r domain.Record) (storage.Outcome, error) {
	return f.db.Record(context.Background(), f.actor, nil, r)
}

func (f *field) write(r domain.Record) uuid.UUID {
	f.t.Helper()
	out, err := f.record(r)
	if err != nil {
		f.t.Fatalf("%s: %v", r.Kind(), err)
	}
	return out.ID
}

func (f *field) delivery(category domain.Category, c *domain.Certificate) uuid.UUID {
	f.t.Helper()
	input := f.write(&domain.Input{Name: "Input " + string(category), Category: category})
	return f.write(&domain.InputLot{InputID: input, Supplier: "Old Mill Dairy", SupplierLot: "K7", ReceivedOn: day("2024-03-01"),
		Quantity: domain.Q("6", "yd3"), Certificate: c})
}

func (f *field) spread(lot uuid.UUID, applied, workedIn string, beds ...uuid.UUID) uuid.UUID {
	f.t.Helper()
	return f.write(f.application(lot, applied, workedIn, beds...))
}

func (f *field) application(lot uuid.UUID, applied, workedIn string, beds ...uuid.UUID) *domain.Application {
	a := &domain.Application{Source: domain.Source{InputLotID: lot}, Ground: domain.Ground{BedIDs: beds}, AppliedOn: day(applied),
		Method: "surface", Amount: domain.Q("2", "yd3")}
	if workedIn != "" {
		a.IncorporatedOn, a.Method = day(workedIn), "incorporated"
	}
	return a
}

func (f *field) plant(crop string, contact domain.SoilContact, planted string, beds ...uuid.UUID) uuid.UUID {
	f.t.Helper()
	id := f.write(&domain.Crop{Name: crop, SoilContact: contact})
	return f.write(&domain.Planting{CropID: id, BedIDs: beds, PlantedOn: day(planted)})
}

func (f *field) lot(planting uuid.UUID, cut string, beds ...uuid.UUID) *domain.HarvestLot {
	return &domain.HarvestLot{PlantingID: planting, BedIDs: beds, CutOn: day(cut), Quantity: domain.Q("40", "lb")}
}
