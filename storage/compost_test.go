package storage_test

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/shopspring/decimal"

	"croftmark/domain"
	"croftmark/storage"
)

// at is an hour of a day on the farm's clock.
func at(s string, hour int) time.Time {
	zone, err := time.LoadLocation("America/New_York")
	if err != nil {
		panic(err)
	}
	return day(s).In(zone).Add(time.Duration(hour) * time.Hour)
}

func number(s string) domain.Number { return domain.Given(decimal.RequireFromString(s)) }

// pile builds an aerated static pile whose mix is the 30.33:1 example of the US rules reference, section 1.2.
func (f *field) pile(code, started string) uuid.UUID {
	f.t.Helper()
	animal, plant := true, false
	return f.write(&domain.CompostBatch{Code: code, Method: domain.AeratedStaticPile, StartedOn: day(started),
		Ingredients: []domain.Ingredient{
			{Feedstock: "cattle manure", InputLotID: f.manure, Amount: domain.Q("1000", "kg"), MoisturePct: number("80"), NitrogenPct: number("2.7"), CarbonPct: number("51.3"), AnimalOrigin: &animal},
			{Feedstock: "straw general", Amount: domain.Q("200", "kg"), MoisturePct: number("12"), NitrogenPct: number("0.7"), CarbonPct: number("56"), AnimalOrigin: &plant},
		}})
}

// heat writes one morning's readings at three points.
func (f *field) heat(batch uuid.UUID, on, low string) {
	f.t.Helper()
	r := &domain.CompostTemperatures{BatchID: batch}
	for i, value := range []string{"140.0", "150.0", low} {
		r.Readings = append(r.Readings, domain.CompostReading{TakenAt: at(on, 7), Probe: string(rune('A' + i)), Temperature: domain.Q(value, "degF")})
	}
	f.write(r)
}

func (f *field) counted(code string) uuid.UUID {
	f.t.Helper()
	batch := f.pile(code, "2026-03-01")
	for _, on := range []string{"2026-03-02", "2026-03-03", "2026-03-04", "2026-03-05"} {
		f.heat(batch, on, "133.0")
	}
	f.write(&domain.CompostCuring{BatchID: batch, StartedOn: day("2026-03-06"), FinishedOn: day("2026-04-10")})
	return batch
}

// S19 of the hard situations: the probe turns out to read 6 degF high; the batch never counted, each of its
// applications is raw manure from its own date, and the lot inside the interval is flagged.
func TestBatchReclassifiedAfterUse(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	batch := f.counted("Heap 1")
	a := f.application(uuid.Nil, "2026-04-20", "2026-04-20", f.bed)
	a.Source = domain.Source{CompostBatchID: batch}
	f.write(a)
	radish := f.plant("radish", domain.Touches, "2026-04-22", f.bed)
	lot := f.lot(radish, "2026-06-01", f.bed)
	f.write(lot)
	if lot.VerdictThen.Verdict != domain.Clear {
		t.Fatalf("treated compost, no interval: %s, want clear", lot.VerdictThen.Verdict)
	}
	out, err := f.record(&domain.ProbeFault{Name: "C", From: at("2026-02-01", 0), ReadHigh: domain.Q("6", "degF"), Reason: "ice-water check"})
	if err != nil {
		t.Fatal(err)
	}
	if len(out.Rejudged) != 1 || out.Rejudged[0].LotID != lot.ID || out.Rejudged[0].Verdict != domain.Wait || out.Rejudged[0].ClearOn != day("2026-08-18") {
		t.Fatalf("rejudged: %+v, want the lot waiting until 2026-08-18", out.Rejudged)
	}
	if _, err := f.record(f.lot(radish, "2026-08-17", f.bed)); err == nil {
		t.Error("day 119 after an untreated batch was allowed")
	}
	f.write(f.lot(radish, "2026-08-18", f.bed))
}

func TestSurfaceCompostNeedsItsRecord(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	batch := f.pile("Heap 2", "2026-03-01")
	a := f.application(uuid.Nil, "2026-05-01", "", f.bed)
	a.Source = domain.Source{CompostBatchID: batch}
	out, err := f.record(a)
	if err != nil || len(out.Warnings) == 0 || !strings.Contains(out.Warnings[0], "Counts as raw manure") {
		t.Fatalf("%v (%v), want a warning that it counts as raw", out.Warnings, err)
	}
	lettuce := f.plant("lettuce", domain.Touches, "2026-05-02", f.bed)
	_, err = f.record(f.lot(lettuce, "2026-06-20", f.bed))
	if j := refused(t, err).Judgement; j.Verdict != domain.Stop {
		t.Errorf("compost without a process on the surface: %s, want stop", j.Verdict)
	}
	// The readings come in late from the notebook; the batch counts, and so does the bed.
	for _, on := range []string{"2026-03-02", "2026-03-03", "2026-03-04"} {
		f.heat(batch, on, "131.0")
	}
	f.write(&domain.CompostCuring{BatchID: batch, StartedOn: day("2026-03-05"), FinishedOn: day("2026-04-20")})
	f.write(f.lot(lettuce, "2026-06-20", f.bed))
	got, err := f.db.Compost(storage.Reading{Ctx: ctx, Farm: f.actor.FarmID}, batch)
	if err != nil || got.Standing.Standing != domain.Treated || len(got.Results) != 3 {
		t.Errorf("standing %s of %d results (%v)", got.Standing.Standing, len(got.Results), err)
	}
	// A record that names nobody was done by the one who wrote it: so says its entry, and so does the paper.
	me := f.actor.PersonID
	if got.Batch.DoneBy != me || len(got.Rounds) != 3 || got.Rounds[0].DoneBy != me || len(got.Facts.Curings) != 1 || got.Facts.Curings[0].DoneBy != me {
		t.Errorf("done by %s, %d rounds, curings %+v, want all by %s", got.Batch.DoneBy, len(got.Rounds), got.Facts.Curings, me)
	}
}

func TestBiosolidsRefusedOnOrganicFarm(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	_, err := f.record(&domain.CompostBatch{Code: "X", Method: domain.Passive, StartedOn: day("2026-03-01"),
		Ingredients: []domain.Ingredient{{Feedstock: "Biosolids", Amount: domain.Q("1", "yd3")}}})
	if e := asDomain(err); e == nil || e.Code != domain.CodeRuleRefused {
		t.Errorf("got %v, want rule-refused", err)
	}
}

func asDomain(err error) *domain.Error {
	e, _ := err.(*domain.Error)
	return e
}

func TestTraceGoesThroughTheHeap(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	batch := f.counted("Heap 3")
	a := f.application(uuid.Nil, "2026-04-20", "", f.bed)
	a.Source = domain.Source{CompostBatchID: batch}
	f.write(a)
	radish := f.plant("radish", domain.Touches, "2026-04-22", f.bed)
	lot := f.lot(radish, "2026-06-01", f.bed)
	f.write(lot)
	r := storage.Reading{Ctx: ctx, Farm: f.actor.FarmID}
	back, err := f.db.TraceBack(r, lot.Code)
	if err != nil {
		t.Fatal(err)
	}
	if b, s := back.Of("compost-batch"), back.Of("supplier"); len(b) != 1 || len(s) != 1 || s[0].Label != "Old Mill Dairy" {
		t.Errorf("back: batches %+v, suppliers %+v", b, s)
	}
	for _, start := range []uuid.UUID{batch, f.manure} {
		forward, err := f.db.TraceForward(r, start)
		if err != nil {
			t.Fatal(err)
		}
		if lots := forward.Of("harvest-lot"); len(lots) != 1 || lots[0].ID != lot.ID {
			t.Errorf("forward from %s: %+v", start, lots)
		}
	}
}

func TestStockAsks(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	big := f.application(f.manure, "2026-04-01", "2026-04-02", f.bed)
	big.Amount = domain.Q("9", "yd3")
	out, err := f.record(big)
	if err != nil || len(out.Warnings) != 2 || !strings.Contains(out.Warnings[1], "than there was (6 yd3)") {
		t.Errorf("warnings %v (%v)", out.Warnings, err)
	}
	stock, err := f.db.Stock(storage.Reading{Ctx: ctx, Farm: f.actor.FarmID}, f.manure)
	if err != nil || len(stock) != 1 || stock[0].Left.String() != "-3 yd3" {
		t.Errorf("stock %+v (%v)", stock, err)
	}
}

// A probe found to read low reaches every batch read with it since, also one whose later readings had changed nothing.
func TestProbeFaultReachesQuietBatches(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	batch := f.pile("Heap 9", "2026-03-01")
	for _, on := range []string{"2026-03-02", "2026-03-03", "2026-03-04", "2026-03-05", "2026-03-06"} {
		r := &domain.CompostTemperatures{BatchID: batch, Habits: domain.Habits{DoneAt: at(on, 7)}}
		for _, probe := range []string{"A", "B", "C"} {
			r.Readings = append(r.Readings, domain.CompostReading{TakenAt: at(on, 7), Probe: probe, Temperature: domain.Q("128.0", "degF")})
		}
		f.write(r)
	}
	f.write(&domain.CompostCuring{BatchID: batch, StartedOn: day("2026-03-07"), FinishedOn: day("2026-04-10"), Habits: domain.Habits{DoneAt: at("2026-03-07", 7)}})
	a := f.application(uuid.Nil, "2026-04-20", "2026-04-20", f.bed)
	a.Source = domain.Source{CompostBatchID: batch}
	f.write(a)
	lot := f.lot(f.plant("radish", domain.Touches, "2026-04-22", f.bed), "2026-06-01", f.bed)
	lot.AlreadyCut = true
	f.write(lot)
	var out storage.Outcome
	var err error
	for _, probe := range []string{"A", "B", "C"} {
		if out, err = f.record(&domain.ProbeFault{Name: probe, From: at("2026-03-04", 0), ReadHigh: domain.Q("-6", "degF"), Reason: "ice-water check"}); err != nil {
			t.Fatal(err)
		}
	}
	if len(out.Rejudged) != 1 || out.Rejudged[0].LotID != lot.ID || out.Rejudged[0].Verdict.Refuses() {
		t.Errorf("rejudged %+v, want the lot of the batch cleared", out.Rejudged)
	}
}

func TestAdditionNamesItsDelivery(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	batch, plant := f.pile("Heap 8", "2026-03-01"), false
	_, err := f.record(&domain.CompostAddition{BatchID: batch, AddedAt: at("2026-03-05", 9),
		Ingredient: domain.Ingredient{Feedstock: "straw general", InputLotID: f.bed, Amount: domain.Q("1", "kg"), AnimalOrigin: &plant}})
	wantField(t, err, "#/ingredient/input_lot_id", "There is no input lot")
}

// A delivery of manure is manure whatever the ingredient is called (7 CFR 205.203(c)(1); 21 CFR 112.51(b)).
func TestDeliveryOfManureIsNoPlant(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	plant := false
	heap := func(code string, in domain.Ingredient) *domain.CompostBatch {
		in.InputLotID, in.Amount = f.manure, domain.Q("1000", "kg")
		return &domain.CompostBatch{Code: code, Method: domain.Passive, StartedOn: day("2026-03-01"),
			Ingredients: []domain.Ingredient{{Feedstock: "straw general", Amount: domain.Q("100", "kg"), AnimalOrigin: &plant}, in}}
	}
	_, err := f.record(heap("Heap 1", domain.Ingredient{Feedstock: "Old Mill mix", AnimalOrigin: &plant}))
	wantField(t, err, "#/ingredients/1/animal_origin", "The delivery is Input raw-manure (raw manure)")
	quiet := f.write(heap("Heap 2", domain.Ingredient{Feedstock: "straw general"}))
	if b, err := f.db.Compost(f.reading(), quiet); err != nil || b.Standing.Standing != domain.Untreated {
		t.Errorf("manure called straw: %s (%v), want untreated", b.Standing.Standing, err)
	}
	a := f.application(uuid.Nil, "2026-04-20", "2026-04-20", f.bed)
	a.Source = domain.Source{CompostBatchID: quiet}
	f.write(a)
	radish := f.plant("radish", domain.Touches, "2026-04-22", f.bed)
	if _, err := f.record(f.lot(radish, "2026-06-01", f.bed)); err == nil {
		t.Error("harvest allowed 42 days after a heap made of the raw manure delivery")
	}
}

// Water is all that may go into a heap without starting it again (calculations reference 2.3 A12, A13), and a delivery of
// manure is not water.
func TestAdditionFromManureIsNoWater(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	batch, plant := f.counted("Heap 1"), false
	water := domain.Ingredient{Feedstock: "Water", InputLotID: f.manure, Amount: domain.Q("100", "kg"), AnimalOrigin: &plant}
	_, err := f.record(&domain.CompostAddition{BatchID: batch, AddedAt: at("2026-04-12", 9), Ingredient: water})
	wantField(t, err, "#/ingredient/animal_origin", "The delivery is")
	water.AnimalOrigin = nil
	f.write(&domain.CompostAddition{BatchID: batch, AddedAt: at("2026-04-12", 9), Ingredient: water})
	if b, err := f.db.Compost(f.reading(), batch); err != nil || b.Standing.Standing != domain.Untreated {
		t.Errorf("manure called water: %s (%v), want untreated", b.Standing.Standing, err)
	}
}

// A delivery that turns out to be manure makes the heap it went into one with manure, from the day it was built.
func TestCorrectedInputReachesTheHeap(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	leaves, plant := f.delivery(domain.PlantMaterial, nil), false
	batch := f.write(&domain.CompostBatch{Code: "Heap 1", Method: domain.Passive, StartedOn: day("2026-03-01"),
		Ingredients: []domain.Ingredient{{Feedstock: "leaves", InputLotID: leaves, Amount: domain.Q("100", "kg"), AnimalOrigin: &plant}}})
	a := f.application(uuid.Nil, "2026-04-20", "2026-04-20", f.bed)
	a.Source = domain.Source{CompostBatchID: batch}
	f.write(a)
	lot := f.lot(f.plant("radish", domain.Touches, "2026-04-22", f.bed), "2026-06-01", f.bed)
	f.write(lot)
	rec, err := f.db.ReadRecord(ctx, f.actor.FarmID, "input-lot", leaves)
	mustBe(t, err)
	var delivery domain.InputLot
	mustBe(t, json.Unmarshal(rec.Body, &delivery))
	out := f.correct("input", delivery.InputID, `{"species": "goats"}`)
	if len(out.Rejudged) != 1 || out.Rejudged[0].LotID != lot.ID || out.Rejudged[0].Verdict != domain.Wait {
		t.Errorf("rejudged %+v, want the lot waiting", out.Rejudged)
	}
}

// A fault found on a probe corrects the readings under that name in any spelling, those of every probe when it names none,
// and under a name that no heap was read with it warns (112.54(b): the heat is what a sound thermometer says).
func TestProbeFaultFindsItsReadings(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		probe, warning string
		want           domain.Standing
	}{
		{" c ", "", domain.Untreated},
		{"", "", domain.Untreated},
		{"D", "Heaps were read with A, B, C", domain.Treated},
	} {
		f := newField(t, storage.Config{})
		batch := f.counted("Heap 1")
		out, err := f.record(&domain.ProbeFault{Name: c.probe, From: at("2026-03-01", 0), ReadHigh: domain.Q("6", "degF"), Reason: "ice-water check"})
		if err != nil {
			t.Fatal(err)
		}
		if said := strings.Join(out.Warnings, " "); (said == "") != (c.warning == "") || !strings.Contains(said, c.warning) {
			t.Errorf("%q: warned %q, want %q", c.probe, said, c.warning)
		}
		if b, err := f.db.Compost(f.reading(), batch); err != nil || b.Standing.Standing != c.want {
			t.Errorf("%q: %s (%v), want %s", c.probe, b.Standing.Standing, err, c.want)
		}
	}
	f := newField(t, storage.Config{})
	if out, err := f.record(&domain.ProbeFault{Name: "A", From: at("2026-03-01", 0), ReadHigh: domain.Q("6", "degF"), Reason: "ice-water check"}); err != nil || len(out.Warnings) != 1 {
		t.Errorf("nothing read yet: %q (%v)", out.Warnings, err)
	}
}
