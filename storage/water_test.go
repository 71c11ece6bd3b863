package storage_test

import (
	"slices"
	"testing"
	"time"

	"github.com/google/uuid"

	"croftmark/domain"
	"croftmark/storage"
)

// fitness judges a source now, by what a reader of the farm is given.
func (f *field) fitness(source uuid.UUID, use domain.WaterUse) domain.Judgement {
	f.t.Helper()
	w, err := f.db.WaterSource(f.reading(), source)
	if err != nil {
		f.t.Fatal(err)
	}
	return domain.FitnessOfWater(w.Facts, use, "", w.Now).Judgement
}

// A hold on a source says so in its fitness, stands in the way of using it, and speaks against what it touched all the
// same; a release ends it for what comes after.
func TestHeldWaterIsNotFit(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{}, "us-produce-safety")
	well := f.well()
	f.goodYear(well, "")
	lettuce := f.plant("lettuce", domain.Touches, "2026-05-01", f.bed)
	before := f.washed(lettuce, f.bed, well, "", at("2026-06-01", 9))
	f.wantVerdict(before, domain.Clear)
	hold := f.write(&domain.Hold{On: domain.HoldTarget{WaterSourceID: well}, Reason: "smells of eggs", Habits: domain.Habits{DoneAt: at("2026-06-02", 7)}})
	for _, use := range domain.WaterUses {
		if got := f.fitness(well, use); got.Verdict != domain.Stop || got.Reasons[0].Rule != "every-farm.hold" || got.Reasons[0].Records[0].ID != hold {
			t.Errorf("%s from a held well is judged %+v", use, got)
		}
	}
	lot := f.lot(lettuce, "2026-06-03", f.bed)
	f.write(lot)
	wash := &domain.Handling{Use: domain.UseWashing, SourceID: well, LotIDs: []uuid.UUID{lot.ID}, StartedAt: at("2026-06-03", 9)}
	_, err := f.record(wash)
	wantCode(t, err, domain.CodeLotHeld)
	wash.LateReason = "washed before anybody looked at the board"
	f.write(wash)
	f.wantVerdict(lot, domain.Stop)
	f.wantVerdict(before, domain.Clear)
	f.write(&domain.Release{HoldID: hold, Reason: "flushed, sample good", Habits: domain.Habits{DoneAt: at("2026-06-05", 7)}})
	if got := f.fitness(well, domain.UseWashing); got.Verdict != domain.Clear {
		t.Errorf("after the release the well is judged %+v", got)
	}
	f.wantVerdict(lot, domain.Stop) // it was washed while the water was held
	f.wantVerdict(f.washed(lettuce, f.bed, well, "", at("2026-06-06", 9)), domain.Clear)
}

// What was seen counts from the day it was seen, however late it was written down and whatever day was written first.
func TestFindingCountsFromTheDayItWasSeen(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{}, "us-produce-safety")
	lettuce := f.plant("lettuce", domain.Touches, "2026-05-01", f.bed)
	lot := f.lot(lettuce, "2026-06-10", f.bed)
	f.write(lot)
	f.wantVerdict(lot, domain.Clear)
	late := &domain.Finding{What: "flood", Ground: domain.Ground{BedIDs: []uuid.UUID{f.bed}}, FoundAt: at("2026-06-09", 6), TouchedCrop: domain.TouchedYes,
		Habits: domain.Habits{DoneAt: at("2026-06-12", 18), LateReason: "written up after the weekend"}}
	f.write(late)
	f.wantVerdict(lot, domain.Stop)
	if _, err := f.void("finding", late.ID); err != nil {
		t.Fatal(err)
	}
	f.wantVerdict(lot, domain.Clear)
	wrong := f.write(&domain.Finding{What: "flood", Ground: domain.Ground{BedIDs: []uuid.UUID{f.bed}}, FoundAt: at("2026-06-20", 6), TouchedCrop: domain.TouchedYes})
	f.wantVerdict(lot, domain.Clear)
	f.correct("finding", wrong, `{"found_at":"2026-06-09T06:00:00-04:00"}`)
	f.wantVerdict(lot, domain.Stop)
}

// A failing sample names every lot of its window that the water touched, on the crop and in the shed, what is left of it,
// and who got it, also where it went out in a pack lot.
func TestFailedWaterNamesLotsAndCustomers(t *testing.T) {
	t.Parallel()
	s := newShed(t)
	well := s.well()
	s.goodYear(well, "")
	s.write(&domain.Irrigation{SourceID: well, Ground: domain.Ground{BedIDs: s.beds[:1]}, Method: "overhead", StartedAt: at("2026-05-20", 6)})
	s.write(&domain.Handling{Use: domain.UseWashing, SourceID: well, LotIDs: []uuid.UUID{s.lots[1].ID}, StartedAt: at("2026-06-05", 11)})
	mix := s.pack("34", "2", 6)
	s.write(mix)
	cafe := s.customer("Bellweather Cafe", "restaurant")
	s.write(s.ship(cafe, "INV-7", mix.CrateCodes...))
	s.write(s.sample(well, "", at("2026-06-08", 7), "3"))
	w, err := s.db.WaterSource(s.reading(), well)
	if err != nil {
		t.Fatal(err)
	}
	windows := domain.AllWaterFailureWindows(w.Facts)
	if len(windows) != 1 || !windows[0].To.IsZero() {
		t.Fatalf("windows %+v", windows)
	}
	got := map[uuid.UUID]storage.TouchedLot{}
	for _, lot := range w.Touched {
		if windows[0].Covers(lot.Tap, lot.At) {
			got[lot.LotID] = lot
		}
	}
	for i, use := range []domain.WaterUse{"irrigation", domain.UseWashing} {
		lot := got[s.lots[i].ID]
		if lot.Use != use || !slices.Equal(lot.ShippedTo, []string{"Bellweather Cafe"}) || lot.Onhand.Value.Sign() != 0 {
			t.Errorf("lot %s: %+v", s.lots[i].Code, lot)
		}
	}
	alerts, err := s.db.Alerts(s.reading())
	if err != nil {
		t.Fatal(err)
	}
	told := map[string]storage.Alert{}
	for _, a := range alerts {
		told[a.Code] = a
	}
	for _, code := range []string{s.lots[1].Code, mix.Code} {
		a, ok := told[code]
		if !ok || a.OnHand.Value.Sign() != 0 || len(a.ShippedTo) != 1 || a.ShippedTo[0].Name != "Bellweather Cafe" || a.ShippedTo[0].Phone != "555 0100" {
			t.Errorf("alert of %s: %+v (there: %v)", code, a, ok)
		}
	}
	if mixed := told[mix.Code]; mixed.Kind != "pack-lot" || mixed.Crop != "salad mix" || mixed.Shipped.String() != "34 lb" {
		t.Errorf("alert of the pack lot: %+v", mixed)
	}
	s.write(&domain.CorrectiveAction{FoundOn: day("2026-06-09"), What: "well failed", Fix: "well shocked", Fate: "destroyed", Closed: true,
		LotIDs: []uuid.UUID{s.lots[0].ID, s.lots[1].ID, mix.ID}})
	if alerts, err = s.db.Alerts(s.reading()); err != nil || len(alerts) != 0 {
		t.Errorf("%d alerts are open after the corrective action (%v)", len(alerts), err)
	}
	if len(got) != 2 {
		t.Errorf("touched %+v, want the watered and the washed lot", got)
	}
}

// A crop kept in store is washed long after the cut: the reading of that day speaks for it.
func TestStoredCropIsJudgedByTheReadingOfItsDay(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{}, "us-produce-safety")
	pond := f.write(&domain.WaterSource{Name: "Pond, treated", Is: domain.WaterTreatedSurface, Uses: []domain.WaterUse{domain.UseWashing}})
	carrot := f.plant("carrot", domain.Touches, "2025-05-01", f.bed)
	lot := f.lot(carrot, "2025-10-01", f.bed)
	f.write(lot)
	read := func(when time.Time, ppm string) {
		f.write(&domain.WaterTreatment{SourceID: pond, TakenAt: when, PH: number("7"), PPM: number(ppm), Product: &domain.ProductRow{Name: "Label", Is: domain.SodiumHypochlorite,
			Registration: "1-1", Percent: number("5.25"), LabelLow: number("25"), LabelHigh: number("100")}})
	}
	read(at("2026-03-02", 8), "50")
	f.write(&domain.Handling{Use: domain.UseWashing, SourceID: pond, LotIDs: []uuid.UUID{lot.ID}, StartedAt: at("2026-03-02", 10)})
	f.wantVerdict(lot, domain.Clear)
	read(at("2026-03-09", 8), "2") // nobody knows since when it was too weak
	f.wantVerdict(lot, domain.Stop)
	w, err := f.db.WaterSource(f.reading(), pond)
	if err != nil {
		t.Fatal(err)
	}
	weak := domain.TreatmentIntervals(w.Facts.Treatments)
	if len(weak) != 1 || !weak[0].To.IsZero() || len(w.Touched) != 1 || !weak[0].Covers(w.Touched[0].Tank, w.Touched[0].At) {
		t.Errorf("too weak in %+v, touched %+v", weak, w.Touched)
	}
	read(at("2026-03-02", 12), "50") // found later on another sheet
	f.wantVerdict(lot, domain.Clear)
}

// washedLot is a lot of carrots cut on 1 September, and a treated pond to wash it in.
func washedLot(t *testing.T) (f *field, pond uuid.UUID, lot *domain.HarvestLot, read func(hour int, tank, ppm, ph string)) {
	t.Helper()
	f = newField(t, storage.Config{}, "us-produce-safety")
	pond = f.write(&domain.WaterSource{Name: "Pond, treated", Is: domain.WaterTreatedSurface, Uses: []domain.WaterUse{domain.UseWashing}})
	lot = f.lot(f.plant("carrot", domain.Touches, "2026-05-01", f.bed), "2026-09-01", f.bed)
	f.write(lot)
	return f, pond, lot, func(hour int, tank, ppm, ph string) {
		x := &domain.WaterTreatment{SourceID: pond, Tank: tank, TakenAt: at("2026-09-02", hour), Product: &domain.ProductRow{Name: "Label", Is: domain.SodiumHypochlorite,
			Registration: "1-1", Percent: number("5.25"), LabelLow: number("25"), LabelHigh: number("100")}}
		if ppm != "" {
			x.PPM = number(ppm)
		}
		if ph != "" {
			x.PH = number(ph)
		}
		f.write(x)
	}
}

// A lot that lay in the water from nine to three was in the water of noon as well: treated surface water has no detectable
// E. coli as long as its treatment works, and it is monitored (21 CFR 112.44(a), 112.46).
func TestLotIsJudgedByAllItsTimeInTheWater(t *testing.T) {
	t.Parallel()
	f, pond, lot, read := washedLot(t)
	read(8, "", "50", "7")
	read(10, "", "50", "7")
	f.write(&domain.Handling{Use: domain.UseWashing, SourceID: pond, LotIDs: []uuid.UUID{lot.ID}, StartedAt: at("2026-09-02", 9), EndedAt: at("2026-09-02", 15)})
	f.wantVerdict(lot, domain.Clear)
	read(16, "", "50", "7")
	f.wantVerdict(lot, domain.Clear)
	read(12, "", "0", "7")
	f.wantVerdict(lot, domain.Stop)
}

// A look that measured no strength neither shows that the treatment works nor hides the next one, which says that it did
// not (21 CFR 112.46; us-rules, principle 2: what is not known never passes).
func TestLookWithoutStrengthHidesNothing(t *testing.T) {
	t.Parallel()
	f, pond, lot, read := washedLot(t)
	f.write(&domain.Handling{Use: domain.UseWashing, SourceID: pond, LotIDs: []uuid.UUID{lot.ID}, StartedAt: at("2026-09-02", 9)})
	read(7, "", "", "7")
	f.wantVerdict(lot, domain.Ask)
	read(8, "", "50", "")
	read(10, "", "", "7")
	f.wantVerdict(lot, domain.Clear)
	read(11, "", "0", "")
	f.wantVerdict(lot, domain.Stop)
}

// A tap that never had a good sample is condemned from the start of service, so its lots are judged again as well, although
// another tap was fine in between: every lot since the last passing sample (21 CFR 112.45(a); US rules reference 2.6).
func TestFailureReachesTapsWithoutAGoodSample(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{}, "us-produce-safety")
	town := f.write(&domain.WaterSource{Name: "Town water", Is: domain.WaterPublicSupply, Uses: []domain.WaterUse{domain.UseWashing},
		Points: []domain.WaterPoint{{Use: domain.UseWashing, Tap: "Shed"}, {Use: domain.UseWashing, Tap: "Porch"}}})
	f.write(&domain.WaterPaper{SourceID: town, IssuedOn: day("2026-01-01"), Document: "report of the town"})
	lot := f.washed(f.plant("lettuce", domain.Touches, "2026-03-01", f.bed), f.bed, town, "Shed", at("2026-04-20", 10))
	f.write(f.sample(town, "Porch", at("2026-05-01", 8), "<1"))
	f.wantVerdict(lot, domain.Clear)
	f.write(f.sample(town, "Porch", at("2026-06-01", 8), "3"))
	f.wantVerdict(lot, domain.Stop)
}

// Two weeks of town water correct nothing in the well: what is washed with it afterwards is washed with water that failed
// (21 CFR 112.45(a), 112.44(b)).
func TestFailedWellComesBackFailed(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{}, "us-produce-safety")
	well := f.well()
	f.goodYear(well, "")
	f.write(f.sample(well, "", at("2026-07-01", 7), "3"))
	f.write(&domain.WaterPaper{SourceID: well, IssuedOn: day("2026-02-01"), Document: "town report"})
	f.write(&domain.WaterChange{SourceID: well, At: at("2026-07-02", 7), Is: domain.WaterPublicSupply})
	back := f.write(&domain.WaterChange{SourceID: well, At: at("2026-07-20", 7), Is: domain.WaterUntreatedGround})
	f.write(f.sample(well, "", at("2026-07-21", 7), "<1"))
	lettuce := f.plant("lettuce", domain.Touches, "2026-05-01", f.bed)
	town, after := f.washed(lettuce, f.bed, well, "", at("2026-07-10", 9)), f.washed(lettuce, f.bed, well, "", at("2026-07-23", 9))
	f.wantVerdict(town, domain.Clear)
	f.wantVerdict(after, domain.Stop)
	if _, err := f.void("water-change", back); err != nil {
		t.Fatal(err)
	}
	f.wantVerdict(after, domain.Clear)
}

// A tank that was out of range is put right and measured again before what was washed in it counts as washed well; the
// reading of the tank beside it is no measure of it (21 CFR 112.46(c); calculations 4.4). It makes no difference in which
// order the readings are written down.
func TestTanksAreJudgedOneByOne(t *testing.T) {
	t.Parallel()
	f, pond, lot, read := washedLot(t)
	read(8, "A", "0", "7")
	read(9, "B", "50", "7")
	f.write(&domain.Handling{Use: domain.UseWashing, SourceID: pond, Tank: "A", LotIDs: []uuid.UUID{lot.ID}, StartedAt: at("2026-09-02", 12)})
	f.wantVerdict(lot, domain.Stop)
	read(10, "A", "50", "7") // found on another sheet
	f.wantVerdict(lot, domain.Clear)
	read(13, "B", "50", "7")
	read(14, "A", "0", "7") // nobody knows since when
	f.wantVerdict(lot, domain.Stop)
	read(13, "A", "50", "7")
	f.wantVerdict(lot, domain.Clear)

	beside := f.lot(f.plant("beet", domain.Touches, "2026-05-01", f.bed), "2026-09-01", f.bed)
	f.write(beside)
	pack := &domain.PackLot{PackedAt: at("2026-09-02", 15), Product: "beets", Quantity: domain.Q("40", "lb"), Crates: 1, WaterSourceID: pond, Tank: "A",
		From: []domain.PackFrom{{Lot: beside.Code, Quantity: domain.Q("40", "lb")}}, Habits: domain.Habits{LateReason: "written up in the evening"}}
	if f.write(pack); pack.VerdictThen.Verdict != domain.Stop {
		t.Errorf("packed in tank A at fifteen it is %+v", pack.VerdictThen)
	}
	read(15, "A", "50", "7")
	if got, err := f.db.PackByCode(f.reading(), pack.Code); err != nil || got.Now.Verdict != domain.Clear {
		t.Errorf("packed in tank A after it was put right: %+v (%v)", got.Now, err)
	}
}
