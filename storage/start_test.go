package storage_test

import (
	"maps"
	"testing"
	"time"

	"github.com/google/uuid"

	"croftmark/domain"
	"croftmark/storage"
)

// What a customer sent back on a day was not delivered on it.
func TestACustomersDayIsWhatWasDelivered(t *testing.T) {
	t.Parallel()
	s := newShed(t)
	mix, chard := s.pack("34", "2", 4), s.chard()
	s.write(mix)
	cafe := s.customer("Copper Ladle", "restaurant")
	s.write(s.ship(cafe, "1182", mix.CrateCodes[0]))
	second := s.ship(cafe, "1183", domain.CrateCode(chard.Code, 1))
	second.ShippedAt = at("2026-06-08", 7)
	s.write(second)
	back := s.sendBack(cafe, domain.ShipmentLine{Crates: mix.CrateCodes[:1]})
	back.ReturnedAt = at("2026-06-08", 8)
	s.write(back)
	got, err := s.db.TraceFrom(s.reading(), domain.TraceStart{CustomerID: cafe, On: day("2026-06-08")}, true)
	mustBe(t, err)
	if len(got.Of("pack-lot")) != 0 || len(got.Of("harvest-lot")) != 1 {
		t.Errorf("%d pack lots and %d harvest lots, want only the chard that was delivered", len(got.Of("pack-lot")), len(got.Of("harvest-lot")))
	}
}

// Whatever a code or name stands for, a trace starts from it (the contract: lot, crate, input, batch, source, bed).
func TestATraceStartsFromAnyCode(t *testing.T) {
	t.Parallel()
	s := newShed(t)
	batch := s.pile("Heap 1", "2025-03-01")
	mix := s.pack("34", "2", 4)
	s.write(mix)
	well := s.well()
	s.write(s.ship(s.customer("Copper Ladle", "restaurant"), "1182", mix.CrateCodes[0]))
	s.write(&domain.Handling{Use: domain.UseWashing, SourceID: well, LotIDs: []uuid.UUID{s.lots[0].ID}, StartedAt: at("2026-06-05", 12)})
	var lot domain.InputLot
	rec, err := s.db.ReadRecord(ctx, s.actor.FarmID, "input-lot", s.manure)
	mustBe(t, err)
	decode(t, rec.Body, &lot)
	for code, want := range map[string]domain.TraceStart{
		mix.Code: {Lot: mix.Code}, mix.CrateCodes[1]: {Crate: mix.CrateCodes[1]}, s.lots[1].ID.String(): {Lot: s.lots[1].Code},
		mix.ID.String(): {Lot: mix.Code}, s.manure.String(): {InputLotID: s.manure}, lot.InputID.String(): {InputID: lot.InputID},
		"k7": {InputLotID: s.manure}, "heap 1": {CompostBatchID: batch}, batch.String(): {CompostBatchID: batch},
		well.String(): {WaterSourceID: well}, s.beds[2].String(): {BedID: s.beds[2]}, "lower 6": {BedID: s.beds[2]}, "1182": {Reference: "1182"},
	} {
		got, err := s.db.StartOf(s.reading(), code)
		if err != nil || got != want {
			t.Errorf("%s: %+v (%v), want %+v", code, got, err, want)
		}
	}
	s.write(&domain.CompostBatch{Code: "lower 6", Method: domain.Passive, StartedOn: day("2026-03-01"),
		Ingredients: []domain.Ingredient{{Feedstock: "straw general", Amount: domain.Q("1", "yd3")}}})
	_, err = s.db.StartOf(s.reading(), "Lower 6")
	wantCode(t, err, domain.CodeInvalid)
	_, err = s.db.StartOf(s.reading(), "26999-XX")
	wantCode(t, err, domain.CodeNotFound)
	_, err = s.db.StartOf(s.reading(), uuid.Must(uuid.NewV7()).String())
	wantCode(t, err, domain.CodeNotFound)
}

// reachedFrom names the lots that a question starts from, with what was packed of them.
func (f *field) reachedFrom(s domain.TraceStart) (lots set) {
	f.t.Helper()
	got, err := f.db.TraceFrom(f.reading(), s, true)
	mustBe(f.t, err)
	return nodesOf(got, "harvest-lot", "pack-lot")
}

// S2 and S40 of the record-forms reference: a failure reaches every lot that the water touched in the window, also what grew
// on and was cut after it. Only what was cut before the water ran is left out.
func TestAWindowOfWaterReachesWhatWasCutLater(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	planting, well := f.plant("lettuce", domain.Touches, "2026-04-01", f.bed), f.well()
	irrigated := &domain.Irrigation{SourceID: well, Ground: domain.Ground{BedIDs: ids(f.bed)}, Method: "overhead", StartedAt: at("2026-06-03", 6), EndedAt: at("2026-06-03", 8)}
	f.write(irrigated)
	before, later := f.lot(planting, "2026-05-20", f.bed), f.lot(planting, "2026-06-11", f.bed)
	later.AlreadyCut = true // the water is not known to be fit
	f.write(before)
	f.write(later)
	window := domain.TraceStart{WaterSourceID: well, From: at("2026-06-02", 0), To: at("2026-06-06", 0)}
	if got := f.reachedFrom(window); !maps.Equal(got, set{later.ID: true}) {
		t.Errorf("the window reaches %v, want the lot cut on 11 June, %s", got, later.ID)
	}
	drill := &domain.Recall{Start: window, Drill: true, Reason: "the well failed"}
	f.write(drill)
	if got, err := f.db.Recall(f.reading(), drill.ID); err != nil || len(got.Lots) != 1 {
		t.Errorf("%d lots in the recall (%v), want one", len(got.Lots), err)
	}
	// With a bed the window is of the cut.
	if got := f.reachedFrom(domain.TraceStart{BedID: f.bed, From: at("2026-05-01", 0), To: at("2026-06-06", 0)}); !maps.Equal(got, set{before.ID: true}) {
		t.Errorf("the bed in its window reaches %v, want the lot cut on 20 May, %s", got, before.ID)
	}
}

// S2 and S40: water that was running when the window began ran inside it, on ground and on what was cut; water that had ended
// did not.
func TestAWindowOfWaterHoldsWhatWasRunning(t *testing.T) {
	t.Parallel()
	s := newShed(t)
	well := s.well()
	for i, ended := range []int{10, 8} {
		s.write(&domain.Handling{Use: domain.UseWashing, SourceID: well, LotIDs: ids(s.lots[i].ID), StartedAt: at("2026-06-05", 7), EndedAt: at("2026-06-05", ended)})
	}
	s.write(&domain.Irrigation{SourceID: well, Ground: domain.Ground{BedIDs: ids(s.beds[2])}, Method: "drip", StartedAt: at("2026-06-01", 20), EndedAt: at("2026-06-02", 6)})
	for _, x := range []struct {
		from, to time.Time
		want     set
	}{
		{at("2026-06-05", 9), at("2026-06-06", 0), set{s.lots[0].ID: true}},
		{at("2026-06-05", 8), at("2026-06-06", 0), set{s.lots[0].ID: true, s.lots[1].ID: true}},
		{at("2026-06-05", 11), at("2026-06-06", 0), set{}},
		{at("2026-06-02", 0), at("2026-06-03", 0), set{s.lots[2].ID: true}},
		{at("2026-06-02", 7), at("2026-06-03", 0), set{}},
		{at("2026-06-01", 0), at("2026-06-01", 19), set{}},
	} {
		if got := s.reachedFrom(domain.TraceStart{WaterSourceID: well, From: x.from, To: x.to}); !maps.Equal(got, x.want) {
			t.Errorf("water from %s to %s reaches %v, want %v", x.from, x.to, got, x.want)
		}
	}
}

// The contract has all dates in the farm's own days: what left, or came back, at nine in the evening did so on that day, which
// is the next one in UTC.
func TestATraceTellsTheFarmsDays(t *testing.T) {
	t.Parallel()
	s := newShed(t)
	chard, cafe := s.chard(), s.customer("Copper Ladle", "restaurant")
	sent := s.ship(cafe, "1182", domain.CrateCode(chard.Code, 1))
	sent.ShippedAt = at("2026-06-06", 21)
	s.write(sent)
	back := s.sendBack(cafe, domain.ShipmentLine{Crates: []string{domain.CrateCode(chard.Code, 1)}})
	back.ReturnedAt = at("2026-06-08", 22)
	s.write(back)
	got, err := s.db.TraceFrom(s.reading(), domain.TraceStart{Lot: chard.Code}, true)
	mustBe(t, err)
	for kind, want := range map[string]string{"shipment": "2026-06-06", "return": "2026-06-08"} {
		if nodes := got.Of(kind); len(nodes) != 1 || nodes[0].On.String() != want {
			t.Errorf("%s: %+v, want one on %s", kind, nodes, want)
		}
	}
}

// S36 of the record-forms reference: the shift of a person leads to the lots that they cut, packed or handled, whether the
// record names a crew, packers, or only who did it.
func TestAPersonsShiftReachesWhatTheyDid(t *testing.T) {
	t.Parallel()
	s := newShed(t)
	luis := s.person("Luis", domain.Crew).PersonID
	shift := domain.TraceStart{PersonID: luis, From: at("2026-06-05", 6), To: at("2026-06-05", 12)}
	if got := s.reachedFrom(shift); len(got) != 0 {
		t.Fatalf("Luis did nothing yet, and %d lots are reached", len(got))
	}
	by := domain.Habits{DoneBy: luis}
	cut := s.lot(s.plant("chard", domain.Touches, "2026-04-20", s.beds[0]), "2026-06-05", s.beds[0])
	cut.Habits = by
	s.write(cut)
	pack := &domain.PackLot{PackedAt: at("2026-06-05", 10), Product: "bunches", Quantity: domain.Q("5", "lb"), Habits: by,
		From: []domain.PackFrom{{Lot: s.lots[0].Code, Quantity: domain.Q("5", "lb")}}}
	s.write(pack)
	well := s.well()
	for i, hour := range []int{11, 14} { // the second after the shift
		s.write(&domain.Handling{Use: domain.UseCooling, SourceID: well, LotIDs: ids(s.lots[i+1].ID), StartedAt: at("2026-06-05", hour), Habits: by})
	}
	if got, want := s.reachedFrom(shift), (set{cut.ID: true, pack.ID: true, s.lots[1].ID: true}); !maps.Equal(got, want) {
		t.Errorf("the shift reaches %v, want %v", got, want)
	}
	shift.From, shift.To = at("2026-06-06", 6), at("2026-06-06", 12)
	if got := s.reachedFrom(shift); len(got) != 0 {
		t.Errorf("the day after reaches %v", got)
	}
}

// S30 of the record-forms reference: by whatever way a buyer asks for a paper, and however they type its number, the same lots
// are reached. Two spellings in the book are one paper.
func TestAPaperIsFoundHoweverItIsTyped(t *testing.T) {
	t.Parallel()
	s := newShed(t)
	mix, chard := s.pack("34", "2", 4), s.chard()
	s.write(mix)
	cafe := s.customer("Copper Ladle", "restaurant")
	s.write(s.ship(cafe, "INV-1182", mix.CrateCodes[0]))
	s.write(s.ship(cafe, "Inv-1182", domain.CrateCode(chard.Code, 1)))
	s.write(s.ship(cafe, "INV-11820", domain.CrateCode(chard.Code, 2)))
	want := s.reachedFrom(domain.TraceStart{CustomerID: cafe, On: day("2026-06-06")})
	for _, typed := range []string{"INV-1182", "inv-1182", "Inv-1182", " inv-1182 "} {
		start, err := s.db.StartOf(s.reading(), typed)
		mustBe(t, err)
		for way, start := range map[string]domain.TraceStart{"path": start, "reference": {Reference: typed}} {
			if got := s.reachedFrom(start); len(got) != 2 || !maps.Equal(got, want) {
				t.Errorf("%s %q reaches %v, want %v", way, typed, got, want)
			}
		}
	}
	if got := s.reachedFrom(domain.TraceStart{Reference: "1182"}); len(got) != 0 {
		t.Errorf("part of a number reaches %v", got)
	}
}

// S30 of the record-forms reference, "your kale" of a date: the crop and the day of packing reach what was packed with some of
// that crop in it, whatever the product is called, also through lots that were packed before.
func TestACropAndADayReachWhatWasPackedOfIt(t *testing.T) {
	t.Parallel()
	s := newShed(t)
	chard := s.chard()
	pack := func(product, from string, on string) *domain.PackLot {
		t.Helper()
		p := &domain.PackLot{PackedAt: at(on, 10), Product: product, Quantity: domain.Q("5", "lb"), From: []domain.PackFrom{{Lot: from, Quantity: domain.Q("5", "lb")}}}
		s.write(p)
		return p
	}
	greens := pack("braising greens", chard.Code, "2026-06-06")
	soup := pack("soup bags", greens.Code, "2026-06-08")
	pack("bunches", s.lots[0].Code, "2026-06-06")
	named := pack("Chard", s.lots[1].Code, "2026-06-06")
	for on, want := range map[string]set{
		"2026-06-05": {chard.ID: true, greens.ID: true, soup.ID: true},
		"2026-06-06": {greens.ID: true, soup.ID: true, named.ID: true},
		"2026-06-08": {soup.ID: true},
		"2026-06-09": {},
	} {
		if got := s.reachedFrom(domain.TraceStart{Crop: "chard", On: day(on)}); !maps.Equal(got, want) {
			t.Errorf("chard of %s reaches %v, want %v", on, got, want)
		}
	}
}
