package storage_test

import (
	"context"
	"fmt"
	"strings"
	"sync"
	"testing"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"croftmark/domain"
	"croftmark/storage"
)

// statements counts what goes to the database: a batch is one trip and several statements.
type statements struct {
	mu    sync.Mutex
	trips int
	all   []string
	on    func(conn *pgx.Conn, sql string) // before each trip
}

func (s *statements) TraceQueryStart(ctx context.Context, conn *pgx.Conn, data pgx.TraceQueryStartData) context.Context {
	s.note(conn, data.SQL, []string{data.SQL})
	return ctx
}

func (s *statements) TraceQueryEnd(context.Context, *pgx.Conn, pgx.TraceQueryEndData) {}

func (s *statements) TraceBatchStart(ctx context.Context, conn *pgx.Conn, data pgx.TraceBatchStartData) context.Context {
	var list []string
	for _, q := range data.Batch.QueuedQueries {
		list = append(list, q.SQL)
	}
	s.note(conn, list[0], list)
	return ctx
}

func (s *statements) TraceBatchQuery(context.Context, *pgx.Conn, pgx.TraceBatchQueryData) {}
func (s *statements) TraceBatchEnd(context.Context, *pgx.Conn, pgx.TraceBatchEndData)     {}

func (s *statements) note(conn *pgx.Conn, first string, list []string) {
	s.mu.Lock()
	s.trips++
	s.all = append(s.all, list...)
	on := s.on
	s.mu.Unlock()
	if on != nil {
		on(conn, first)
	}
}

// of gives what one act sends.
func (s *statements) of(act func()) (trips int, list []string) {
	s.mu.Lock()
	s.trips, s.all = 0, nil
	s.mu.Unlock()
	act()
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.trips, s.all
}

// brief shows statements by their first words.
func brief(list []string) string {
	var b strings.Builder
	for i, sql := range list {
		fmt.Fprintf(&b, "\n  %2d %.90s", i+1, strings.Join(strings.Fields(sql), " "))
	}
	return b.String()
}

// counting is a farm whose statements are counted.
type counting struct {
	*field
	seen   *statements
	report []string
}

func newCounting(t *testing.T) *counting {
	seen := &statements{}
	return &counting{field: newField(t, storage.Config{Tracer: seen}), seen: seen}
}

// A write makes at most ten trips to the database, begin and commit among them, whatever it reaches. Statements that
// only write go in one trip together.
const mostTrips = 10

func (c *counting) trips(what string, act func() error) int {
	c.t.Helper()
	var err error
	trips, list := c.seen.of(func() { err = act() })
	if err != nil {
		c.t.Errorf("%s: %v", what, err)
	}
	if trips > mostTrips {
		c.t.Errorf("%s makes %d trips, at most %d:%s", what, trips, mostTrips, brief(list))
	}
	c.report = append(c.report, fmt.Sprintf("%s %d (%d)", what, trips, len(list)))
	return trips
}

func (c *counting) recordTrips(what string, r domain.Record) int {
	c.t.Helper()
	return c.trips(what, func() error { _, err := c.record(r); return err })
}

func TestHarvestCheckStatements(t *testing.T) {
	t.Parallel()
	c := newCounting(t)
	beds := c.manyBeds(300)
	crop := c.write(&domain.Crop{Name: "lettuce", SoilContact: domain.Touches})
	for i := 0; i < 300; i += 150 {
		c.write(&domain.Planting{CropID: crop, BedIDs: beds[i : i+150], PlantedOn: day("2026-04-01")})
	}
	c.spread(c.manure, "2026-03-10", "2026-03-11", beds[:3]...)
	check := func(bed uuid.UUID) (trips, answers int, list []string) {
		var got []storage.Checked
		var err error
		trips, list = c.seen.of(func() { got, err = c.db.HarvestCheck(c.reading(), bed, uuid.Nil, day("2026-06-01")) })
		if err != nil {
			t.Fatal(err)
		}
		return trips, len(got), list
	}
	one, n, list := check(beds[0])
	if one > 4 || len(list) > 5 || n != 1 {
		t.Errorf("one bed: %d trips, %d answers:%s", one, n, brief(list))
	}
	farm, n, list := check(uuid.Nil)
	if farm > 4 || len(list) > 5 || n != 300 {
		t.Errorf("300 beds: %d trips, %d answers:%s", farm, n, brief(list))
	}
	// A book fifty times as long: a copy of the entries and records of fifty seasons, as far as a check looks at them.
	c.asOwner(`insert into exposures (farm_id, record_id, bed_id, on_date, ends_on, input_lot_id)
		select farm_id, record_id, bed_id, on_date - 400 * n, ends_on - 400 * n, input_lot_id from exposures, generate_series(1, 50) n`)
	c.asOwner(`insert into records select farm_id, gen_random_uuid(), kind, first_seq, seq, done_on, body, voided, reviews from records, generate_series(1, 50)`)
	oneLater, _, _ := check(beds[0])
	farmLater, n, _ := check(uuid.Nil)
	if oneLater != one || farmLater != farm || n != 300 {
		t.Errorf("on a long book %d and %d trips, on a short one %d and %d", oneLater, farmLater, one, farm)
	}
	t.Logf("trips: one bed %d, whole farm %d", one, farm)
}

func TestWriteStatements(t *testing.T) {
	t.Parallel()
	c := newCounting(t)
	crew := c.person("Cory", domain.Crew)
	signed := func(r domain.Record) domain.Record { domain.HabitsOf(r).DoneBy = crew.PersonID; return r }
	// 200 lots from 200 beds of one planting.
	beds := c.manyBeds(200)
	crop := c.write(&domain.Crop{Name: "lettuce", SoilContact: domain.Touches})
	planting := c.write(&domain.Planting{CropID: crop, BedIDs: beds, PlantedOn: day("2026-04-01")})
	var lots []*domain.HarvestLot
	for _, bed := range beds {
		lot := c.lot(planting, "2026-06-01", bed)
		c.write(lot)
		lots = append(lots, lot)
	}
	count := func(what string, rejudged int, act func() (storage.Outcome, error)) {
		t.Helper()
		c.trips(what, func() error {
			out, err := act()
			if err == nil && len(out.Rejudged) != rejudged {
				err = fmt.Errorf("%d lots judged anew, want %d", len(out.Rejudged), rejudged)
			}
			return err
		})
	}
	record := func(r domain.Record) func() (storage.Outcome, error) {
		return func() (storage.Outcome, error) { return c.record(r) }
	}
	correct := func(kind string, id uuid.UUID, changes string) func() (storage.Outcome, error) {
		return func() (storage.Outcome, error) {
			return c.db.Correct(ctx, c.actor, nil, kind, id, "a slip", []byte(changes))
		}
	}
	late := c.application(c.manure, "2026-03-01", "2026-03-02", beds...)
	count("late application, 200 lots", 200, record(signed(late)))
	count("correct it, 200 lots", 200, correct("application", late.ID, `{"incorporated_on": "2026-03-03"}`))
	count("correct the input, 200 lots", 200, correct("input", c.inputOf(c.manure), `{"category": "mineral"}`))
	count("correct the delivery, 0 lots", 0, correct("input-lot", c.manure, `{"supplier_lot": "K8"}`))
	count("and back, 200 lots", 200, correct("input", c.inputOf(c.manure), `{"category": "raw-manure"}`))
	count("adopt a standard", 200, correct("farm", c.actor.FarmID, `{"standards": []}`))
	count("correct the crop", 0, correct("crop", crop, `{"variety": "Red"}`))
	count("correct the planting", 0, correct("planting", planting, `{"ended_on": "2026-11-01"}`))
	count("correct the plot", 200, correct("plot", c.plot, `{"history": "unknown"}`))
	count("void it, 200 lots", 200, func() (storage.Outcome, error) { return c.void("application", late.ID) })

	grazing := &domain.Grazing{Species: "hens", Ground: domain.Ground{PlotID: c.plot}, From: day("2026-05-01"), To: day("2026-05-02")}
	count("late grazing of the plot", 200, record(signed(grazing)))
	count("void it", 200, func() (storage.Outcome, error) { return c.void("grazing", grazing.ID) })
	c.correct("plot", c.plot, `{"history": "known"}`)
	c.correct("farm", c.actor.FarmID, `{"standards": [{"set": "us-organic", "from": "2002-10-21"}]}`)

	c.recordTrips("crop", signed(&domain.Crop{Name: "chard", SoilContact: domain.Touches}))
	c.recordTrips("person", &domain.Person{Name: "Nia", Initials: "N", Role: domain.Crew})
	c.recordTrips("plot", signed(&domain.Plot{Name: "Upper"}))
	bed := &domain.Bed{Name: "Lower 9", PlotID: c.plot, From: day("2024-03-01")}
	c.recordTrips("bed", signed(bed))
	c.recordTrips("bed layout", signed(c.layout("2026-11-01", ids(bed.ID), domain.LaidBed{Name: "Lower 9a", Over: ids(bed.ID)}, domain.LaidBed{Name: "Lower 9b", Over: ids(bed.ID)})))
	pause := &domain.BedProduction{BedID: beds[0], On: day("2026-05-30"), Reason: "flooded"}
	count("late pause", 1, record(signed(pause)))
	count("correct it", 1, correct("bed-production", pause.ID, `{"on": "2026-06-02"}`))
	count("void it", 0, func() (storage.Outcome, error) { return c.void("bed-production", pause.ID) })
	c.recordTrips("planting", signed(&domain.Planting{CropID: crop, BedIDs: beds[:50], PlantedOn: day("2026-08-01"), SeedLotID: c.manure, ExpectedHarvestOn: day("2026-10-01")}))
	c.recordTrips("input lot", signed(&domain.InputLot{InputID: c.inputOf(c.manure), Supplier: "S", ReceivedOn: day("2026-01-01"), Quantity: domain.Q("1", "yd3")}))
	c.recordTrips("harvest", signed(c.lot(planting, "2026-06-02", beds[:100]...)))
	c.spread(c.manure, "2026-08-20", "", beds[1])
	refusedLot := c.lot(planting, "2026-09-01", beds[1])
	c.trips("harvest refused", func() error {
		_, err := c.db.Record(ctx, c.actor, &domain.RequestMark{Key: "key:1", Hash: "h"}, refusedLot)
		if e := asDomain(err); e != nil && e.Code == domain.CodeHarvestRefused {
			return nil
		}
		return fmt.Errorf("not refused: %v", err)
	})
	already := c.lot(planting, "2026-09-01", beds[1])
	already.AlreadyCut = true
	c.recordTrips("harvest already cut", signed(already))
	count("correct a lot", 1, correct("harvest-lot", already.ID, `{"cut_on": "2026-08-15"}`))
	count("correct its unit", 0, correct("harvest-lot", already.ID, `{"quantity": {"value": "18", "unit": "kg"}}`))
	disposal := &domain.Disposal{LotID: already.ID, On: day("2026-09-02"), Quantity: domain.Q("1", "kg"), How: "compost"}
	c.recordTrips("disposal", signed(disposal))
	count("void it", 0, func() (storage.Outcome, error) { return c.void("disposal", disposal.ID) })
	c.recordTrips("label print", signed(&domain.LabelPrint{LotID: already.ID, Size: "4x2in", Copies: 10}))
	hold := &domain.Hold{On: domain.HoldTarget{BedID: beds[2]}, Reason: "complaint", Habits: domain.Habits{DoneAt: at("2026-05-01", 9)}}
	count("hold on a bed", 2, record(signed(hold)))
	count("correct it", 2, correct("hold", hold.ID, `{"reason": "a louder complaint"}`))
	count("release", 2, record(signed(&domain.Release{HoldID: hold.ID, Reason: "answered", Habits: domain.Habits{DoneAt: at("2026-05-02", 9)}})))
	lead := c.person("Lee", domain.Lead)
	c.trips("second signature", func() error {
		_, err := c.db.Review(ctx, lead, nil, "harvest-lot", already.ID, "")
		return err
	})
	c.trips("repeated request", func() error {
		r := &domain.Crop{Name: "twice", SoilContact: domain.Touches}
		mark := &domain.RequestMark{Key: "key:2", Hash: "h"}
		c.db.Record(ctx, c.actor, mark, r)
		c.seen.trips, c.seen.all = 0, nil
		_, err := c.db.Record(ctx, c.actor, mark, r)
		return err
	})
	c.trips("open a farm", func() error {
		_, err := c.db.OpenFarm(ctx, &domain.Farm{Name: "Another", TimeZone: "America/New_York"}, &domain.Person{Name: "N", Initials: "N"})
		return err
	})
	c.compostStatements(count, record, correct, signed)
	c.shedStatements(lots[10:40], count, record, signed)
	c.waterStatements(lots[5], count, record, signed)
	t.Logf("trips (statements): %s", strings.Join(c.report, ", "))
}

func (f *field) inputOf(delivery uuid.UUID) uuid.UUID {
	f.t.Helper()
	rec, err := f.db.ReadRecord(ctx, f.actor.FarmID, "input-lot", delivery)
	if err != nil {
		f.t.Fatal(err)
	}
	var lot domain.InputLot
	decode(f.t, rec.Body, &lot)
	return lot.InputID
}

type (
	countFunc   func(what string, rejudged int, act func() (storage.Outcome, error))
	recordFunc  func(domain.Record) func() (storage.Outcome, error)
	correctFunc func(kind string, id uuid.UUID, changes string) func() (storage.Outcome, error)
	signFunc    func(domain.Record) domain.Record
)

// compostStatements counts writes about batches; one that concerns every batch makes no more trips with thirty than
// with one.
func (c *counting) compostStatements(count countFunc, record recordFunc, correct correctFunc, signed signFunc) {
	c.t.Helper()
	animal := true
	batch := &domain.CompostBatch{Code: "Heap", Method: domain.AeratedStaticPile, StartedOn: day("2026-03-01"),
		Ingredients: []domain.Ingredient{{Feedstock: "cattle manure", InputLotID: c.manure, Amount: domain.Q("1", "yd3"), AnimalOrigin: &animal}}}
	count("compost batch", 0, record(signed(batch)))
	readings := &domain.CompostTemperatures{BatchID: batch.ID, Readings: []domain.CompostReading{{TakenAt: at("2026-03-02", 7), Probe: "A", Temperature: domain.Q("140.0", "degF")}}}
	count("compost readings", 0, record(signed(readings)))
	addition := &domain.CompostAddition{BatchID: batch.ID, AddedAt: at("2026-03-03", 7), Ingredient: domain.Ingredient{Feedstock: "cattle manure", InputLotID: c.manure, Amount: domain.Q("1", "yd3"), AnimalOrigin: &animal}}
	count("compost addition", 0, record(signed(addition)))
	count("correct it", 0, correct("compost-addition", addition.ID, `{"added_at": "2026-03-04T08:00:00-05:00"}`))
	count("void it", 0, func() (storage.Outcome, error) { return c.void("compost-addition", addition.ID) })
	a := c.application(uuid.Nil, "2026-10-01", "2026-10-02", c.bed)
	a.Source = domain.Source{CompostBatchID: batch.ID}
	count("spread own compost", 0, record(signed(a)))
	fault := func() *domain.ProbeFault {
		return &domain.ProbeFault{Name: "A", From: at("2026-03-01", 0), ReadHigh: domain.Q("6", "degF"), Reason: "ice water"}
	}
	one := c.trips("probe fault, one batch", func() error { _, err := c.record(signed(fault())); return err })
	for n := range 29 {
		c.pile(fmt.Sprint("Heap ", n), "2026-03-01")
	}
	many := c.trips("probe fault, thirty batches", func() error { _, err := c.record(signed(fault())); return err })
	if many > one {
		c.t.Errorf("a probe fault makes %d trips with thirty batches, %d with one", many, one)
	}
	count("correct the farm, thirty batches", 0, correct("farm", c.actor.FarmID, `{"compost": {"curing_days_min": 45}}`))
}

func (c *counting) waterStatements(lot *domain.HarvestLot, count countFunc, record recordFunc, signed signFunc) {
	c.t.Helper()
	well := &domain.WaterSource{Name: "Well", Is: domain.WaterUntreatedGround, Uses: []domain.WaterUse{domain.UseWashing}}
	count("water source", 0, record(signed(well)))
	c.trips("handling", func() error {
		_, err := c.record(signed(&domain.Handling{Use: domain.UseWashing, SourceID: well.ID, LotIDs: ids(lot.ID), StartedAt: at("2026-06-01", 12)}))
		return err
	})
	c.trips("water test", func() error { _, err := c.record(signed(c.sample(well.ID, "", at("2026-06-03", 8), "3"))); return err })
	c.trips("irrigation", func() error {
		_, err := c.record(signed(&domain.Irrigation{SourceID: well.ID, Ground: domain.Ground{PlotID: c.plot}, Method: "overhead", StartedAt: at("2026-05-30", 6)}))
		return err
	})
	finding := &domain.Finding{What: "droppings", Ground: domain.Ground{PlotID: c.plot}, FoundAt: at("2026-05-31", 8), TouchedCrop: domain.TouchedNo}
	c.trips("finding", func() error { _, err := c.record(signed(finding)); return err })
	c.trips("its resolution", func() error {
		_, err := c.record(signed(&domain.FindingResolution{FindingID: finding.ID, On: day("2026-05-31"), Decision: "marked-off", Reason: "flagged and left"}))
		return err
	})
	c.trips("corrective action", func() error {
		_, err := c.record(signed(&domain.CorrectiveAction{FoundOn: day("2026-06-05"), What: "failed", Fix: "shocked", LotIDs: ids(lot.ID)}))
		return err
	})
}

// shedStatements counts packing and shipping: as many trips for thirty lots and two hundred crates as for one.
func (c *counting) shedStatements(lots []*domain.HarvestLot, count countFunc, record recordFunc, signed signFunc) {
	c.t.Helper()
	pack := &domain.PackLot{PackedAt: at("2026-06-02", 13), Product: "salad mix", Quantity: domain.Q("1200", "lb"), Crates: 200}
	for _, lot := range lots {
		pack.From = append(pack.From, domain.PackFrom{Lot: lot.Code, Quantity: lot.Quantity})
	}
	count("pack lot", 0, record(signed(pack)))
	customer := &domain.Customer{Name: "Copper Ladle", Is: "restaurant"}
	count("customer", 0, record(signed(customer)))
	lines := []domain.ShipmentLine{{Crates: pack.CrateCodes}}
	count("shipment of 200 crates", 0, record(signed(&domain.Shipment{CustomerID: customer.ID, ShippedAt: at("2026-06-02", 16), Reference: domain.Reference{Type: "invoice", Number: "1"}, Lines: lines})))
	count("return of 200 crates", 0, record(signed(&domain.Return{CustomerID: customer.ID, ReturnedAt: at("2026-06-02", 18), Lines: lines, Decision: "stock"})))
}
