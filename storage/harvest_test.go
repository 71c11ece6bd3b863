package storage_test

import (
	"context"
	"encoding/json"
	"errors"
	"testing"

	"github.com/google/uuid"

	"croftmark/domain"
	"croftmark/storage"
)

// refused gives the refusal of a harvest, or fails.
func refused(t *testing.T, err error) *domain.Error {
	t.Helper()
	var e *domain.Error
	if !errors.As(err, &e) || e.Code != domain.CodeHarvestRefused {
		t.Fatalf("got %v, want harvest-refused", err)
	}
	return e
}

// The worked case of the contract: 7 CFR 205.203(c)(1)(ii) and (iii), days counted on the calendar.
func TestHarvestWaitsForItsDay(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	f.spread(f.manure, "2026-04-01", "2026-04-10", f.bed)
	carrot := f.plant("carrot", domain.Touches, "2026-05-01", f.bed)
	tomato := f.plant("tomato, trellised", domain.HeldClear, "2026-05-01", f.bed)

	_, err := f.record(f.lot(carrot, "2026-08-07", f.bed))
	e := refused(t, err)
	if e.Judgement.Verdict != domain.Wait || e.Judgement.ClearOn != day("2026-08-08") {
		t.Errorf("carrot on day 119: %s until %s, want wait until 2026-08-08", e.Judgement.Verdict, e.Judgement.ClearOn)
	}
	want := "Raw manure worked in on 2026-04-10 needs 120 days before a crop that touches soil. 2026-08-07 is day 119. First clear day: 2026-08-08."
	if e.Detail != want {
		t.Errorf("detail:\n got %s\nwant %s", e.Detail, want)
	}
	if r := e.Judgement.Reasons[0]; r.Rule != "us-organic.raw-manure-soil-contact" || r.DaysShort != 1 || len(r.Records) != 1 {
		t.Errorf("reason: %+v", r)
	}
	if _, err := f.record(f.lot(tomato, "2026-07-08", f.bed)); refused(t, err).Judgement.ClearOn != day("2026-07-09") {
		t.Errorf("tomato on day 89: %v", err)
	}
	f.write(f.lot(tomato, "2026-07-09", f.bed))
	f.write(f.lot(carrot, "2026-08-08", f.bed))

	refusals, err := f.db.Records(context.Background(), f.actor.FarmID, "harvest-refused", storage.Page{Limit: 10})
	if err != nil || len(refusals) != 2 {
		t.Errorf("%d refused attempts in the book (%v), want 2", len(refusals), err)
	}
}

func TestRelaidGroundRemembers(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	whole := f.write(&domain.Application{Source: domain.Source{InputLotID: f.manure}, Ground: domain.Ground{PlotID: f.plot},
		AppliedOn: day("2024-05-01"), IncorporatedOn: day("2024-05-02"), Method: "incorporated", Amount: domain.Q("2", "yd3")})
	f.spread(f.manure, "2026-04-01", "2026-04-10", f.bed)
	second := f.relay("2026-05-01", f.bed, "Slope 1")
	third := f.relay("2026-06-01", second, "Slope 2")
	carrot := f.plant("carrot", domain.Touches, "2026-06-02", third)

	_, err := f.record(f.lot(carrot, "2026-08-07", third))
	if j := refused(t, err).Judgement; j.ClearOn != day("2026-08-08") {
		t.Errorf("after two re-layings clear on %s, want 2026-08-08", j.ClearOn)
	}
	f.write(f.lot(carrot, "2026-08-08", third))

	_, ground, err := f.db.Ground(storage.Reading{Ctx: context.Background(), Farm: f.actor.FarmID}, third, day("2026-08-08"))
	if err != nil || len(ground) != 2 {
		t.Fatalf("ground of the newest bed: %d exposures (%v), want 2", len(ground), err)
	}
	if ground[0].Via != "earlier-bed" || ground[0].ViaName != "Lower 3" || ground[1].Via != "plot" || ground[1].Record.ID != whole {
		t.Errorf("ground came via %s %s and %s", ground[0].Via, ground[0].ViaName, ground[1].Via)
	}
}

func (f *field) relay(on string, old uuid.UUID, name string) uuid.UUID {
	f.t.Helper()
	l := &domain.BedLayout{PlotID: f.plot, On: day(on), Retire: []uuid.UUID{old}, Lay: []domain.LaidBed{{Name: name, Over: []uuid.UUID{old}}}}
	f.write(l)
	return l.Lay[0].ID
}

func TestLateManureReachesLotsAlreadyCut(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	lettuce := f.plant("lettuce", domain.Touches, "2026-04-20", f.bed)
	first, err := f.record(f.lot(lettuce, "2026-06-05", f.bed))
	if err != nil {
		t.Fatal(err)
	}
	// S1 of the hard situations, late-entered manure: raw manure of 10 March remembered after the lettuce was cut on 5 June, day 87.
	out, err := f.record(f.application(f.manure, "2026-03-10", "2026-03-10", f.bed))
	if err != nil {
		t.Fatal(err)
	}
	if len(out.Rejudged) != 1 || out.Rejudged[0].LotID != first.ID || out.Rejudged[0].Before != domain.Clear ||
		out.Rejudged[0].Verdict != domain.Wait || out.Rejudged[0].ClearOn != day("2026-07-08") {
		t.Fatalf("rejudged: %+v", out.Rejudged)
	}
	var then domain.HarvestLot
	decode(t, first.Body, &then)
	lot, err := f.db.LotByCode(storage.Reading{Ctx: context.Background(), Farm: f.actor.FarmID}, then.Code)
	if err != nil {
		t.Fatal(err)
	}
	if !lot.Held || lot.VerdictNow.Verdict != domain.Wait || lot.Harvest.VerdictThen.Verdict != domain.Clear {
		t.Errorf("held %t, now %s, then %s; want held, wait, clear", lot.Held, lot.VerdictNow.Verdict, lot.Harvest.VerdictThen.Verdict)
	}

	// Voiding the late record clears the lot again; both changes stay in the book.
	void, err := f.db.Void(context.Background(), f.actor, nil, "application", out.ID, "wrong bed")
	if err != nil || len(void.Rejudged) != 1 || void.Rejudged[0].Verdict != domain.Clear {
		t.Fatalf("after the void: %+v (%v)", void.Rejudged, err)
	}
	history, err := f.db.History(context.Background(), f.actor.FarmID, "harvest-lot", first.ID)
	if err != nil || len(history) != 3 {
		t.Errorf("%d entries about the lot (%v), want 3", len(history), err)
	}
}

// The ground of a lot is every bed under the one it was cut from, also when the old bed's manure is remembered late.
func TestLateManureOnTheOldBedReachesTheNewOne(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	third := f.relay("2026-05-10", f.relay("2026-05-01", f.bed, "Slope 1"), "Slope 2")
	lot := f.lot(f.plant("radish", domain.Touches, "2026-05-11", third), "2026-06-15", third)
	f.write(lot)
	out, err := f.record(f.application(f.manure, "2026-04-01", "2026-04-10", f.bed))
	if err != nil || len(out.Rejudged) != 1 || out.Rejudged[0].LotID != lot.ID || out.Rejudged[0].ClearOn != day("2026-08-08") {
		t.Errorf("rejudged %+v (%v), want the lot of the newest bed", out.Rejudged, err)
	}
}

// What came onto the ground between the first and the last day of a cut reaches the lot as well.
func TestManureDuringTheCut(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	lot := f.lot(f.plant("radish", domain.Touches, "2026-05-01", f.bed), "2026-06-15", f.bed)
	lot.CutOn, lot.CutFrom, lot.CutTo = domain.Date{}, day("2026-06-15"), day("2026-06-20")
	f.write(lot)
	out, err := f.record(f.application(f.manure, "2026-06-17", "2026-06-17", f.bed))
	if err != nil || len(out.Rejudged) != 1 || !out.Rejudged[0].Verdict.Refuses() {
		t.Errorf("manure on the third day of the cut: %+v (%v)", out.Rejudged, err)
	}
	out, err = f.record(f.application(f.manure, "2026-06-21", "2026-06-21", f.bed))
	if err != nil || len(out.Rejudged) != 0 {
		t.Errorf("manure after the cut: %+v (%v)", out.Rejudged, err)
	}
}

func TestAlreadyCutLotIsHeld(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	f.spread(f.manure, "2026-04-01", "", f.bed)
	radish := f.plant("radish", domain.Touches, "2026-05-01", f.bed)
	_, err := f.record(f.lot(radish, "2026-11-20", f.bed))
	if j := refused(t, err).Judgement; j.Verdict != domain.Stop || !j.ClearOn.IsZero() {
		t.Errorf("manure never worked in: %s, clear on %s; want stop without a day", j.Verdict, j.ClearOn)
	}
	lot := f.lot(radish, "2026-11-20", f.bed)
	lot.AlreadyCut = true
	out, err := f.record(lot)
	if err != nil {
		t.Fatal(err)
	}
	got, err := f.db.LotByCode(storage.Reading{Ctx: context.Background(), Farm: f.actor.FarmID}, lot.Code)
	if err != nil || !got.Held || len(got.HoldReasons) != 1 {
		t.Fatalf("held %t, reasons %v (%v)", got.Held, got.HoldReasons, err)
	}
	_, err = f.record(&domain.Disposal{LotID: out.ID, On: day("2026-11-21"), Quantity: domain.Q("41", "lb"), How: "compost"})
	var e *domain.Error
	if !errors.As(err, &e) || e.Code != domain.CodeInvalid || e.Fields[0].Pointer != "#/quantity" {
		t.Errorf("disposing of more than there is: %v", err)
	}
	f.write(&domain.Disposal{LotID: out.ID, On: day("2026-11-21"), Quantity: domain.Q("40", "lb"), How: "compost"})
	got, err = f.db.LotByCode(storage.Reading{Ctx: context.Background(), Farm: f.actor.FarmID}, lot.Code)
	if err != nil || got.OnHand.String() != "0 lb" {
		t.Errorf("on hand after disposal: %s (%v)", got.OnHand, err)
	}
}

func TestTraceNamesTheSupplier(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	f.spread(f.manure, "2026-04-01", "2026-04-10", f.bed)
	newBed := f.relay("2026-05-01", f.bed, "Slope 1")
	carrot := f.plant("carrot", domain.Touches, "2026-05-02", newBed)
	lot := f.lot(carrot, "2026-08-08", newBed)
	f.write(lot)
	r := storage.Reading{Ctx: context.Background(), Farm: f.actor.FarmID}
	back, err := f.db.TraceBack(r, lot.Code)
	if err != nil {
		t.Fatal(err)
	}
	if s := back.Of("supplier"); len(s) != 1 || s[0].Label != "Old Mill Dairy" {
		t.Errorf("suppliers: %+v", s)
	}
	// The days of what went on the ground also stand by themselves, so that a page can write them its own way.
	if spread := back.Of("application"); len(spread) != 1 || spread[0].IncorporatedOn != day("2026-04-10") || spread[0].Label != spread[0].What+", worked in 2026-04-10" {
		t.Errorf("what was spread: %+v", spread)
	}
	if beds := back.Of("bed"); len(beds) != 2 {
		t.Errorf("beds: %+v, want the new one and the one under it", beds)
	}
	forward, err := f.db.TraceForward(r, f.manure)
	if err != nil {
		t.Fatal(err)
	}
	if lots := forward.Of("harvest-lot"); len(lots) != 1 || lots[0].ID != lot.ID {
		t.Errorf("forward lots: %+v", lots)
	}
}

// us-rules 3.3: the days to harvest of a spray's label hold [memory], also once the delivery turns out to have been one.
func TestSprayHoldsTheHarvest(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{}, "us-organic")
	spray := f.delivery(domain.CropProtection, nil)
	lettuce := f.plant("lettuce", domain.Touches, "2026-05-11", f.bed)
	a := f.application(spray, "2026-06-30", "", f.bed)
	a.Method, a.TouchedCrop = "foliar", domain.TouchedYes
	f.write(a)
	_, err := f.record(f.lot(lettuce, "2026-07-20", f.bed))
	if refused(t, err).Judgement.Verdict != domain.Ask {
		t.Errorf("no days written down: %v", err)
	}
	f.correct("application", a.ID, `{"days_to_harvest": 7}`)
	_, err = f.record(f.lot(lettuce, "2026-07-06", f.bed))
	if j := refused(t, err).Judgement; j.ClearOn != day("2026-07-07") {
		t.Errorf("clear on %s, want 2026-07-07", j.ClearOn)
	}
	f.write(f.lot(lettuce, "2026-07-07", f.bed))
	manure := f.application(f.manure, "2026-07-01", "2026-07-01", f.bed)
	manure.DaysToHarvest = new(int)
	if _, err := f.record(manure); asDomain(err) == nil || asDomain(err).Code != domain.CodeInvalid {
		t.Errorf("days to harvest of manure: %v", err)
	}
}

// Cut in the morning, sprayed in the afternoon (common practice): the book can't tell from the days, and takes the strict
// side until somebody says which came first.
func TestSprayedAfterTheCut(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{}, "us-organic")
	spray := f.delivery(domain.CropProtection, nil)
	lettuce := f.plant("lettuce", domain.Touches, "2026-05-11", f.bed)
	lot, earlier := f.lot(lettuce, "2026-06-30", f.bed), f.lot(lettuce, "2026-06-29", f.bed)
	f.write(lot)
	f.write(earlier)
	seven := 7
	a := f.application(spray, "2026-06-30", "", f.bed)
	a.Method, a.TouchedCrop, a.DaysToHarvest = "foliar", domain.TouchedYes, &seven
	out, err := f.record(a)
	if err != nil || len(out.Rejudged) != 1 || out.Rejudged[0].LotID != lot.ID || out.Rejudged[0].Verdict != domain.Wait {
		t.Errorf("after the spray: %+v (%v), want the lot of the same day waiting", out.Rejudged, err)
	}
	for words, id := range map[string]uuid.UUID{"was cut until 2026-06-29": earlier.ID, "There is no harvest lot": lettuce} {
		_, err = f.db.Correct(ctx, f.actor, nil, "application", a.ID, "It was off the bed.", json.RawMessage(`{"cut_before": ["`+id.String()+`"]}`))
		wantField(t, err, "#/cut_before/0", words)
	}
	out = f.correct("application", a.ID, `{"cut_before": ["`+lot.ID.String()+`"]}`)
	if len(out.Rejudged) != 1 || out.Rejudged[0].Verdict != domain.Clear {
		t.Errorf("after it was said: %+v, want the lot clear again", out.Rejudged)
	}
	if _, err = f.record(f.lot(lettuce, "2026-06-30", f.bed)); refused(t, err).Judgement.ClearOn != day("2026-07-07") {
		t.Errorf("cut after the spray: %v", err)
	}
	// Its day corrected, the lot is no longer the one of that day.
	out = f.correct("harvest-lot", lot.ID, `{"cut_on": "2026-07-01"}`)
	if len(out.Rejudged) != 1 || out.Rejudged[0].Verdict != domain.Wait {
		t.Errorf("cut on the day after: %+v, want the lot waiting", out.Rejudged)
	}
}
