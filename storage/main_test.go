package storage_test

import (
	"context"
	"encoding/json"
	"errors"
	"flag"
	"os"
	"strings"
	"testing"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	_ "pgregory.net/rapid" // its flags are set below

	"croftmark/domain"
	"croftmark/storage"
	"croftmark/storage/storagetest"
)

func TestMain(m *testing.M) {
	// A history of the property tests is dozens of writes to a real database; -rapid.checks asks for more of them.
	if err := flag.Set("rapid.checks", "30"); err != nil {
		panic(err)
	}
	os.Exit(storagetest.Main(m))
}

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
	// owner and service are the database's own URLs, for tests that go behind the package's back.
	owner, service string
}

func newField(t testing.TB, config storage.Config, sets ...string) *field {
	t.Helper()
	f := &field{t: t, clock: storagetest.NewClock("2026-11-25")}
	f.owner, f.service = storagetest.URLs(t)
	config.Now, config.OwnerURL, config.ServiceURL = f.clock.Now, f.owner, f.service
	db, err := storage.Open(ctx, config)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(db.Close)
	f.db = db
	f.settle(sets...)
	return f
}

// neighbour is another farm in the same database.
func (f *field) neighbour(sets ...string) *field {
	f.t.Helper()
	other := &field{t: f.t, db: f.db, clock: f.clock, owner: f.owner, service: f.service}
	other.settle(sets...)
	return other
}

// settle opens the farm and gives it its plot, bed and manure.
func (f *field) settle(sets ...string) {
	f.t.Helper()
	if len(sets) == 0 {
		sets = []string{"us-organic"}
	}
	f.actor = storagetest.Farm(f.t, f.db, sets...)
	f.plot = f.write(&domain.Plot{Name: "Lower", History: "known"})
	f.bed = f.write(&domain.Bed{Name: "Lower 3", PlotID: f.plot, From: day("2024-03-01")})
	f.manure = f.delivery("raw-manure", nil)
}

func (f *field) reading() storage.Reading { return storage.Reading{Ctx: ctx, Farm: f.actor.FarmID} }

// asOwner runs statements as the owner of the database, who can do what the service cannot.
func (f *field) asOwner(sql string, args ...any) {
	f.t.Helper()
	conn := connect(f.t, f.owner)
	defer conn.Close(ctx)
	if _, err := conn.Exec(ctx, sql, args...); err != nil {
		f.t.Fatalf("%s: %v", sql, err)
	}
}

// count asks the owner for one number.
func (f *field) count(sql string, args ...any) (n int) {
	f.t.Helper()
	conn := connect(f.t, f.owner)
	defer conn.Close(ctx)
	if err := conn.QueryRow(ctx, sql, args...).Scan(&n); err != nil {
		f.t.Fatalf("%s: %v", sql, err)
	}
	return n
}

// connect opens one connection for a test.
func connect(t testing.TB, url string) *pgx.Conn {
	t.Helper()
	conn, err := pgx.Connect(ctx, url)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close(ctx) })
	return conn
}

// entries counts the farm's entries.
func (f *field) entries() int64 {
	f.t.Helper()
	c, err := f.db.Checkpoint(ctx, f.actor.FarmID)
	if err != nil {
		f.t.Fatal(err)
	}
	return c.Size
}

// lotByID gives a lot as it stands.
func (f *field) lotByID(id uuid.UUID) storage.Lot {
	f.t.Helper()
	rec, err := f.db.ReadRecord(ctx, f.actor.FarmID, "harvest-lot", id)
	if err != nil {
		f.t.Fatal(err)
	}
	var lot domain.HarvestLot
	decode(f.t, rec.Body, &lot)
	got, err := f.db.LotByCode(f.reading(), lot.Code)
	if err != nil {
		f.t.Fatal(err)
	}
	return got
}

// correct changes a record or fails.
func (f *field) correct(kind string, id uuid.UUID, changes string) storage.Outcome {
	f.t.Helper()
	out, err := f.db.Correct(ctx, f.actor, nil, kind, id, "a slip", json.RawMessage(changes))
	if err != nil {
		f.t.Fatalf("correcting %s: %v", kind, err)
	}
	return out
}

// wantField fails unless the error refuses a field at the pointer and its detail holds some words.
func wantField(t testing.TB, err error, pointer, words string) {
	t.Helper()
	var e *domain.Error
	if !errors.As(err, &e) || e.Code != domain.CodeInvalid || len(e.Fields) == 0 {
		t.Errorf("got %v, want a field error at %s", err, pointer)
		return
	}
	for _, field := range e.Fields {
		if field.Pointer == pointer && strings.Contains(field.Detail, words) {
			return
		}
	}
	t.Errorf("got %+v, want %s: …%s…", e.Fields, pointer, words)
}

// wantCode fails unless the error has the code.
func wantCode(t testing.TB, err error, code domain.Code) {
	t.Helper()
	var e *domain.Error
	if !errors.As(err, &e) || e.Code != code {
		t.Errorf("got %v, want %s", err, code)
	}
}

var ctx = context.Background()

func decode(t testing.TB, raw []byte, v any) {
	t.Helper()
	if err := json.Unmarshal(raw, v); err != nil {
		t.Fatal(err)
	}
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
