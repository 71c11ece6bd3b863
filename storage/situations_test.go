package storage_test

import (
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"croftmark/domain"
	"croftmark/storage"
)

// The hard situations S1 to S42 of the record-forms reference, section 3, each by its number and name.

func (f *field) well(taps ...string) uuid.UUID {
	f.t.Helper()
	s := &domain.WaterSource{Name: "Shed well", Is: domain.WaterUntreatedGround, Uses: []domain.WaterUse{domain.UseWashing}}
	for _, tap := range taps {
		s.Points = append(s.Points, domain.WaterPoint{Use: domain.UseWashing, Tap: tap})
	}
	return f.write(s)
}

func (f *field) sample(source uuid.UUID, tap string, when time.Time, result string) *domain.WaterTest {
	t := &domain.WaterTest{SourceID: source, Tap: tap, SampledAt: when, Analyte: "generic E. coli", Method: "SM 9223 B", Lab: "County lab"}
	t.Result = result100(result)
	if t.Result != nil {
		t.ReportedAt = when.Add(24 * time.Hour)
	}
	return t
}

// result100 reads "<1", "3" or "" for pending.
func result100(s string) *domain.WaterResult {
	if s == "" {
		return nil
	}
	r := &domain.WaterResult{Unit: "MPN/100mL"}
	if s[0] == '<' {
		r.Qualifier, s = "<", s[1:]
	}
	r.Value = domain.Q(s, "each").Value
	return r
}

// goodYear gives the well the four samples that the rule asks for in the first year.
func (f *field) goodYear(source uuid.UUID, tap string) {
	f.t.Helper()
	for _, on := range []string{"2026-02-02", "2026-03-02", "2026-04-02", "2026-05-04"} {
		f.write(f.sample(source, tap, at(on, 8), "<1"))
	}
}

// washed cuts a lot of lettuce and washes it.
func (f *field) washed(planting, bed, source uuid.UUID, tap string, when time.Time) *domain.HarvestLot {
	f.t.Helper()
	lot := &domain.HarvestLot{PlantingID: planting, BedIDs: []uuid.UUID{bed}, CutOn: domain.DateIn(when, when.Location()), Quantity: domain.Q("18", "lb")}
	f.write(lot)
	f.write(&domain.Handling{Use: domain.UseWashing, SourceID: source, Tap: tap, LotIDs: []uuid.UUID{lot.ID}, StartedAt: when})
	return lot
}

func (f *field) now(lot *domain.HarvestLot) storage.Lot {
	f.t.Helper()
	got, err := f.db.LotByCode(storage.Reading{Ctx: ctx, Farm: f.actor.FarmID}, lot.Code)
	if err != nil {
		f.t.Fatal(err)
	}
	return got
}

func (f *field) wantVerdict(lot *domain.HarvestLot, want domain.Verdict) {
	f.t.Helper()
	if got := f.now(lot); got.VerdictNow.Verdict != want {
		f.t.Errorf("lot %s is judged %s, want %s: %+v", lot.Code, got.VerdictNow.Verdict, want, got.VerdictNow.Reasons)
	}
}

// S2 and S40: the result of Monday's sample comes on Saturday. Pending is a question; a fail condemns from the last good
// sample to the stop, at the taps of that water, whatever the beds were called; after the switch to town water nothing.
func TestS2LabResultFiveDaysLater(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{}, "us-produce-safety")
	well := f.well("wash tap", "spare tap")
	f.goodYear(well, "wash tap")
	f.goodYear(well, "spare tap")
	lettuce := f.plant("lettuce", domain.Touches, "2026-05-01", f.bed)
	before := f.washed(lettuce, f.bed, well, "wash tap", at("2026-05-03", 10)) // before the last good sample
	inWindow := f.washed(lettuce, f.bed, well, "wash tap", at("2026-05-20", 10))
	f.wantVerdict(before, domain.Caution) // three of the four samples of a first year were there
	f.wantVerdict(inWindow, domain.Clear)

	pending := f.sample(well, "wash tap", at("2026-06-01", 7), "")
	f.write(pending)
	next := f.relay("2026-06-02", f.bed, "Slope 1")
	again := f.plant("romaine", domain.Touches, "2026-06-02", next)
	shipped := f.washed(again, next, well, "wash tap", at("2026-06-02", 9))
	spare := f.washed(again, next, well, "spare tap", at("2026-06-03", 9))
	f.write(&domain.WaterStop{SourceID: well, Act: "stopped", At: at("2026-06-06", 12), Reason: "The lab phoned: E. coli present."})
	f.write(&domain.WaterChange{SourceID: well, Tap: "wash tap", At: at("2026-06-07", 8), Is: domain.WaterPublicSupply})
	f.write(&domain.WaterPaper{SourceID: well, IssuedOn: day("2026-06-01"), Document: "Town water report 2026"})
	town := f.washed(again, next, well, "wash tap", at("2026-06-08", 9))

	out, err := f.db.Correct(ctx, f.actor, nil, "water-test", pending.ID, "result came",
		[]byte(`{"result":{"value":"3","unit":"MPN/100mL"},"reported_at":"2026-06-06T11:00:00-04:00"}`))
	if err != nil {
		t.Fatal(err)
	}
	f.wantVerdict(before, domain.Caution)
	f.wantVerdict(inWindow, domain.Stop)
	f.wantVerdict(shipped, domain.Stop)
	f.wantVerdict(spare, domain.Stop) // the rule stops the source, not the tap
	f.wantVerdict(town, domain.Clear)
	if len(out.Rejudged) != 3 {
		t.Errorf("%d lots were judged anew, want exactly the three in the window: %+v", len(out.Rejudged), out.Rejudged)
	}
	alerts, err := f.db.Alerts(storage.Reading{Ctx: ctx, Farm: f.actor.FarmID})
	if err != nil || len(alerts) != 3 || alerts[0].Then != domain.Clear {
		t.Fatalf("alerts %+v (%v)", alerts, err)
	}
	f.write(&domain.CorrectiveAction{FoundOn: day("2026-06-06"), What: "well failed", Fix: "well shocked", Fate: "destroyed", Closed: true,
		LotIDs: []uuid.UUID{inWindow.ID, shipped.ID, spare.ID}})
	if alerts, err = f.db.Alerts(storage.Reading{Ctx: ctx, Farm: f.actor.FarmID}); err != nil || len(alerts) != 0 {
		t.Errorf("after the corrective action %d alerts are open (%v)", len(alerts), err)
	}
}

func TestS2PassClears(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{}, "us-produce-safety")
	well := f.well()
	lettuce := f.plant("lettuce", domain.Touches, "2026-05-01", f.bed)
	test := f.sample(well, "", at("2026-06-01", 7), "")
	f.write(test)
	lot := f.washed(lettuce, f.bed, well, "", at("2026-06-02", 9))
	f.wantVerdict(lot, domain.Ask)
	out, err := f.db.Correct(ctx, f.actor, nil, "water-test", test.ID, "result came", []byte(`{"result":{"qualifier":"<","value":"1","unit":"MPN/100mL"},"reported_at":"2026-06-06T11:00:00-04:00"}`))
	if err != nil {
		t.Fatal(err)
	}
	if len(out.Rejudged) != 1 || out.Rejudged[0].Before != domain.Ask || out.Rejudged[0].Verdict.Refuses() {
		t.Errorf("a pass should clear the lot: %+v", out.Rejudged)
	}
}

// S3: the phone's clock was wrong; both times are kept and the book's own decides the order.
func TestS3WrongPhoneClock(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	plot := &domain.Plot{Name: "Upper", History: "known"}
	plot.DeviceAt = time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC)
	f.write(plot)
	entries, err := f.db.History(ctx, f.actor.FarmID, "plot", plot.ID)
	if err != nil || len(entries) != 1 {
		t.Fatal(err)
	}
	e := entries[0]
	if e.DeviceAt.Year() != 2025 || e.EnteredAt.Year() != 2026 || e.DoneOn != day("2026-11-25") {
		t.Errorf("device %s, entered %s, done on %s", e.DeviceAt, e.EnteredAt, e.DoneOn)
	}
}

// S4: readings through the autumn clock change keep their instants; the doubled hour loses nothing.
func TestS4DaylightSaving(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	well := f.well()
	first := time.Date(2026, 11, 1, 5, 30, 0, 0, time.UTC) // 01:30 daylight time
	for _, instant := range []time.Time{first, first.Add(time.Hour)} {
		f.write(&domain.WaterTreatment{SourceID: well, TakenAt: instant, PPM: number("60")})
	}
	w, err := f.db.WaterSource(storage.Reading{Ctx: ctx, Farm: f.actor.FarmID}, well)
	if err != nil || len(w.Facts.Monitoring) != 2 {
		t.Fatalf("%d readings (%v)", len(w.Facts.Monitoring), err)
	}
	if gap := w.Facts.Monitoring[1].At.Sub(w.Facts.Monitoring[0].At); gap != time.Hour {
		t.Errorf("the gap is %s, want 1 h", gap)
	}
}

// S5: bunches were invoiced that nobody wrote down. The harvest is worked out from the invoice, with every bed it can
// have come from; all of them are judged, and the packet says how it came about.
func TestS5MissedPickSoldAnyway(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{}, "us-organic")
	other := f.write(&domain.Bed{Name: "Lower 9", PlotID: f.plot, From: day("2024-03-01")})
	f.spread(f.manure, "2026-03-10", "2026-03-10", other)
	chard := f.plant("chard", domain.Touches, "2026-04-01", f.bed, other)
	lot := f.lot(chard, "2026-06-05", f.bed, other)
	lot.Quantity, lot.Inferred, lot.AlreadyCut = domain.Q("20", "bunch"), true, true
	_, err := f.record(lot)
	wantField(t, err, "#/late_reason", "worked out")
	lot.ID, lot.LateReason = uuid.Nil, "invoice 118 of 6 June has 20 bunches; only beds 3 and 9 had chard"
	f.write(lot)
	f.wantVerdict(lot, domain.Wait) // the stricter of the two beds
	packet, err := f.db.Packet(f.reading(), f.write(&domain.TracebackRequest{AskedBy: "Inspector", AskedAt: at("2026-06-20", 10), For: "authority",
		About: domain.TraceStart{Lot: lot.Code}, Question: "Where did the chard come from?"}))
	if err != nil {
		t.Fatal(err)
	}
	if gaps := strings.Join(packet.Gaps(), "\n"); !strings.Contains(gaps, "Nobody wrote down the harvest of lot "+lot.Code) || !strings.Contains(gaps, "invoice 118") {
		t.Errorf("the packet does not say that the harvest was worked out: %s", gaps)
	}
}

// S6: grazing ended on 20 November, radish on 1 March is day 101.
func TestS6SeasonRollover(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	f.write(&domain.Grazing{Species: "hens", Ground: domain.Ground{BedIDs: []uuid.UUID{f.bed}}, From: day("2025-11-01"), To: day("2025-11-20")})
	radish := f.plant("radish", domain.Touches, "2026-01-20", f.bed)
	_, err := f.record(f.lot(radish, "2026-03-01", f.bed))
	if j := refused(t, err).Judgement; j.ClearOn != day("2026-03-20") || j.Reasons[0].DaysShort != 19 {
		t.Errorf("clear on %s, %d days short; want 2026-03-20 and 19", j.ClearOn, j.Reasons[0].DaysShort)
	}
}

// S7: pH 77 and 1310 degF are stopped with a hint and change nothing.
func TestS7ImpossibleValue(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	well, pile := f.well(), f.pile("Heap 7", "2026-03-01")
	for pointer, r := range map[string]domain.Record{
		"#/ph": &domain.WaterTreatment{SourceID: well, TakenAt: at("2026-06-01", 9), PH: number("77")},
		"#/readings/0/temperature": &domain.CompostTemperatures{BatchID: pile, Readings: []domain.CompostReading{
			{TakenAt: at("2026-03-02", 7), Probe: "A", Temperature: domain.Q("1310", "degF")}}},
	} {
		_, err := f.record(r)
		if e := asDomain(err); e == nil || e.Code != domain.CodeInvalid || e.Fields[0].Pointer != pointer {
			t.Errorf("%s: %v", pointer, err)
		}
	}
}

// S16 and S17: droppings leave a circle and start no 90 or 120 days; a flood that touched the crop is the end of it, and
// the ground keeps it through re-laying.
func TestS16S17FindingsStayOnTheGround(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	lettuce := f.plant("lettuce", domain.Touches, "2026-05-01", f.bed)
	found := func(kind string, touched domain.Touched, on string) *domain.Finding {
		x := &domain.Finding{What: kind, Ground: domain.Ground{BedIDs: []uuid.UUID{f.bed}}, FoundAt: at(on, 8), TouchedCrop: touched}
		f.write(x)
		return x
	}
	found("droppings", domain.TouchedYes, "2026-05-30")
	lot := f.lot(lettuce, "2026-06-01", f.bed)
	f.write(lot)
	f.wantVerdict(lot, domain.Caution)

	flood := found("flood", domain.TouchedUnknown, "2026-06-02")
	_, err := f.record(f.lot(lettuce, "2026-06-10", f.bed))
	if j := refused(t, err).Judgement; j.Verdict != domain.Stop || j.Reasons[0].Rule != "every-farm.flood-touched" {
		t.Errorf("after the flood: %+v", j)
	}
	if _, err := f.record(&domain.FindingResolution{FindingID: flood.ID, On: day("2026-06-11"), Decision: "released", Reason: "looks dry"}); asDomain(err) == nil || asDomain(err).Code != domain.CodeRuleRefused {
		t.Errorf("releasing what a flood touched: %v", err)
	}
	next := f.relay("2026-06-20", f.bed, "Slope 1")
	chard := f.plant("chard", domain.Touches, "2026-06-21", next)
	later := f.lot(chard, "2026-08-01", next)
	f.write(later)
	f.wantVerdict(later, domain.Caution) // planted within 60 days of the flood
}

func TestGlassIsReleasedByAPerson(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	lettuce := f.plant("lettuce", domain.Touches, "2026-05-01", f.bed)
	x := &domain.Finding{What: "glass", Ground: domain.Ground{PlotID: f.plot}, FoundAt: at("2026-06-01", 8), TouchedCrop: domain.TouchedNo}
	f.write(x)
	_, err := f.record(f.lot(lettuce, "2026-06-02", f.bed))
	refused(t, err)
	f.write(&domain.FindingResolution{FindingID: x.ID, On: day("2026-06-03"), Decision: "released", Reason: "swept and walked twice"})
	f.write(f.lot(lettuce, "2026-06-03", f.bed))
}

// What lies on the ground does not go away by planting over it, however long ago it was found (21 CFR 112.112
// [verified: S43]).
func TestGlassUnderALaterPlanting(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	x := &domain.Finding{What: "glass", Ground: domain.Ground{BedIDs: ids(f.bed)}, FoundAt: at("2024-06-01", 8), TouchedCrop: domain.TouchedNo}
	f.write(x)
	lettuce := f.plant("lettuce", domain.Touches, "2026-05-01", f.bed)
	_, err := f.record(f.lot(lettuce, "2026-06-02", f.bed))
	refused(t, err)
	f.write(&domain.FindingResolution{FindingID: x.ID, On: day("2026-06-03"), Decision: "released", Reason: "swept and walked twice"})
	f.write(f.lot(lettuce, "2026-06-03", f.bed))
}

// A decision is about what was seen: it does not carry over when the finding turns out to have been another thing, or in
// another bed (21 CFR 112.83: evaluate whether it can be harvested [memory]; a flood is decided case by case, FDA 2011).
func TestDecisionGoesWithItsFinding(t *testing.T) {
	t.Parallel()
	for change, want := range map[string]domain.Verdict{
		`{"note":"at the north end"}`: domain.Caution, `{"found_at":"2026-05-10T09:00:00-04:00"}`: domain.Caution,
		`{"found_at":"2026-05-11T08:00:00-04:00"}`: domain.Ask, `{"touched_crop":"yes"}`: domain.Ask, `{"kind":"flood","touched_crop":"no"}`: domain.Ask,
		`{"kind":"flood"}`: domain.Stop, `{"kind":"spill","substance":"other"}`: domain.Ask,
	} {
		f := newField(t, storage.Config{})
		lot, found, decided := f.walked()
		f.wantVerdict(lot, domain.Caution)
		f.correct("finding", found, change)
		f.wantVerdict(lot, want)
		_ = f.correctErr("finding-resolution", decided, `{"note":"typed on the phone"}`) // refused or not, it brings nothing back
		f.wantVerdict(lot, want)
	}
	f := newField(t, storage.Config{})
	lot, found, _ := f.walked()
	other := f.write(&domain.Bed{Name: "Lower 9", PlotID: f.plot, From: day("2024-03-01")})
	chard := f.plant("chard", domain.Touches, "2026-04-10", other)
	next := f.lot(chard, "2026-06-01", other)
	f.write(next)
	f.correct("finding", found, `{"ground":{"bed_ids":["`+other.String()+`"]}}`)
	f.wantVerdict(lot, domain.Clear)
	f.wantVerdict(next, domain.Ask)
}

// walked cuts lettuce after animals were in it and somebody had decided.
func (f *field) walked() (lot *domain.HarvestLot, found, decided uuid.UUID) {
	lettuce := f.plant("lettuce", domain.Touches, "2026-04-10", f.bed)
	found = f.write(&domain.Finding{What: "animal-intrusion", Ground: domain.Ground{BedIDs: ids(f.bed)}, FoundAt: at("2026-05-10", 8), TouchedCrop: domain.TouchedUnknown})
	decided = f.write(&domain.FindingResolution{FindingID: found, On: day("2026-05-11"), Decision: "released", Reason: "two rabbits; walked, nothing eaten"})
	lot = f.lot(lettuce, "2026-06-01", f.bed)
	f.write(lot)
	return lot, found, decided
}

// Each decision holds from its day until the next; a later one takes nothing away from the days before it.
func TestDecisionsHoldFromTheirDays(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	lot, found, first := f.walked()
	second := &domain.FindingResolution{FindingID: found, On: day("2026-06-10"), Decision: "crop-destroyed", Reason: "they came back"}
	f.write(second)
	f.wantVerdict(lot, domain.Caution)
	later := f.lot(lot.PlantingID, "2026-06-11", f.bed)
	_, err := f.record(later)
	refused(t, err)
	f.correct("finding-resolution", second.ID, `{"on":"2026-05-20"}`)
	f.wantVerdict(lot, domain.Ask)
	f.correct("finding-resolution", first, `{"on":"2026-05-25"}`)
	f.wantVerdict(lot, domain.Caution)
	before := f.dump()
	_, err = f.db.Rebuild(ctx, f.actor.FarmID, nil)
	mustBe(t, err)
	if diff := cmp.Diff(before, f.dump()); diff != "" {
		t.Errorf("tables before and after a rebuild (-before +after):\n%s", diff)
	}
}

// S12: the neighbour's slurry makes the soil a raw event from that day, whatever happened to the crop.
func TestS12NeighboursSplash(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	f.write(&domain.Finding{What: "drift", Substance: "raw-manure", Ground: domain.Ground{BedIDs: []uuid.UUID{f.bed}}, FoundAt: at("2026-04-10", 8), TouchedCrop: domain.TouchedNo})
	carrot := f.plant("carrot", domain.Touches, "2026-04-20", f.bed)
	_, err := f.record(f.lot(carrot, "2026-08-07", f.bed))
	if j := refused(t, err).Judgement; j.ClearOn != day("2026-08-08") {
		t.Errorf("clear on %s, want 2026-08-08", j.ClearOn)
	}
}

// S35: bed 14 was tapped, it was 41; both beds show it and both are judged again.
func TestS35WrongBedCorrected(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	other := f.write(&domain.Bed{Name: "Lower 4", PlotID: f.plot, From: day("2024-03-01")})
	f.spread(f.manure, "2026-04-01", "2026-04-10", other)
	lettuce := f.plant("lettuce", domain.Touches, "2026-04-20", f.bed, other)
	lot := f.lot(lettuce, "2026-06-10", f.bed)
	f.write(lot)
	f.wantVerdict(lot, domain.Clear)
	out, err := f.db.Correct(ctx, f.actor, nil, "harvest-lot", lot.ID, "tapped the wrong bed", []byte(`{"bed_ids":["`+other.String()+`"]}`))
	if err != nil {
		t.Fatal(err)
	}
	if len(out.Rejudged) != 1 || out.Rejudged[0].Verdict != domain.Wait {
		t.Errorf("rejudged %+v", out.Rejudged)
	}
	got := f.now(lot)
	if !got.Held || got.BedNames[0] != "Lower 4" || got.Harvest.VerdictThen.Verdict != domain.Clear {
		t.Errorf("held %t, beds %v, then %s", got.Held, got.BedNames, got.Harvest.VerdictThen.Verdict)
	}
}

// S42: a sample at the yard hydrant does not cover the wash tap.
func TestS42WrongTap(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{}, "us-produce-safety")
	well := f.well("wash tap", "hydrant")
	f.goodYear(well, "hydrant")
	lettuce := f.plant("lettuce", domain.Touches, "2026-05-01", f.bed)
	f.wantVerdict(f.washed(lettuce, f.bed, well, "wash tap", at("2026-05-20", 10)), domain.Ask)
	_, err := f.record(f.sample(well, "kitchen", at("2026-06-01", 7), "<1"))
	if e := asDomain(err); e == nil || e.Fields[0].Pointer != "#/tap" {
		t.Errorf("a tap of another source: %v", err)
	}
}

// A cut over several days counts what came onto the ground meanwhile.
func TestLongCutCountsWhatCameMeanwhile(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	lettuce := f.plant("lettuce", domain.Touches, "2026-09-01", f.bed)
	f.write(&domain.Grazing{Species: "hens", Ground: domain.Ground{BedIDs: []uuid.UUID{f.bed}}, From: day("2026-11-22"), To: day("2026-11-22")})
	lot := &domain.HarvestLot{PlantingID: lettuce, BedIDs: []uuid.UUID{f.bed}, CutFrom: day("2026-11-20"), CutTo: day("2026-11-24"), Quantity: domain.Q("30", "lb")}
	_, err := f.record(lot)
	refused(t, err)
}
