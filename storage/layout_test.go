package storage_test

import (
	"fmt"
	"testing"

	"github.com/google/uuid"

	"croftmark/domain"
	"croftmark/storage"
)

func (f *field) layout(on string, retire []uuid.UUID, lay ...domain.LaidBed) *domain.BedLayout {
	return &domain.BedLayout{PlotID: f.plot, On: day(on), Retire: retire, Lay: lay}
}

func ids(list ...uuid.UUID) []uuid.UUID { return list }

// A layout dated before what was written on the bed would take the name away under it.
func TestLayoutBeforeLaterRecords(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	anew := func(on string) *domain.BedLayout {
		return f.layout(on, ids(f.bed), domain.LaidBed{Name: "Slope", Over: ids(f.bed)})
	}
	manure := f.spread(f.manure, "2026-04-01", "2026-04-10", f.bed)
	_, err := f.record(anew("2026-03-31"))
	wantField(t, err, "#/retire/0", "application) of 2026-04-01")
	wantField(t, err, "#/retire/0", "void it and write it on the new bed")
	_, err = f.record(anew("2026-04-01")) // the day of re-laying belongs to the new beds
	wantField(t, err, "#/retire/0", "application")

	grazing := f.write(&domain.Grazing{Species: "hens", Ground: domain.Ground{BedIDs: ids(f.bed)}, From: day("2026-04-12"), To: day("2026-04-14")})
	_, err = f.record(anew("2026-04-11"))
	wantField(t, err, "#/retire/0", "grazing) of 2026-04-12")
	planting := f.plant("chard", domain.HeldClear, "2026-04-20", f.bed)
	_, err = f.record(anew("2026-04-15"))
	wantField(t, err, "#/retire/0", "planting) of 2026-04-20")
	lot := f.lot(planting, "2026-09-01", f.bed)
	lot.CutOn, lot.CutFrom, lot.CutTo = domain.Date{}, day("2026-09-01"), day("2026-09-05")
	f.write(lot)
	_, err = f.record(anew("2026-09-03"))
	wantField(t, err, "#/retire/0", lot.Code+") of 2026-09-05")

	// The fix that the refusal names: void, lay, and write it on the new bed.
	f2 := f.neighbour()
	wrong := f2.spread(f2.manure, "2026-04-01", "2026-04-10", f2.bed)
	if _, err := f2.db.Void(ctx, f2.actor, nil, "application", wrong, "before the re-laying was written"); err != nil {
		t.Fatal(err)
	}
	l := f2.layout("2026-03-01", ids(f2.bed), domain.LaidBed{Name: "Slope", Over: ids(f2.bed)})
	f2.write(l)
	f2.spread(f2.manure, "2026-04-01", "2026-04-10", l.Lay[0].ID)

	f.write(anew("2026-09-06"))
	// What was written on the old name stays there, and can be mended there.
	f.correct("application", manure, `{"incorporated_on": "2026-04-11"}`)
	f.correct("grazing", grazing, `{"head": 40}`)
	_, err = f.record(f.application(f.manure, "2026-09-06", "", f.bed))
	wantField(t, err, "#/ground/bed_ids/0", "ended on 2026-09-06")
}

// Re-laying twice keeps the whole history, whichever names the grower uses.
func TestLayoutOverEndedBeds(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	slope := f.relay("2025-03-01", f.bed, "Slope")
	f.spread(f.manure, "2026-04-01", "2026-04-10", slope)

	// Laying a bed on the old name alone would forget the manure that went on the ground since.
	_, err := f.record(f.layout("2026-05-01", nil, domain.LaidBed{Name: "Low", Over: ids(f.bed)}))
	wantField(t, err, "#/lay/0/over/0", "bed Slope was laid on that ground, on 2025-03-01")
	_, err = f.record(f.layout("2026-05-01", ids(f.bed), domain.LaidBed{Name: "Low", Over: ids(f.bed)}))
	wantField(t, err, "#/retire/0", "already ended on 2025-03-01")
	_, err = f.record(f.layout("2025-02-01", ids(f.bed), domain.LaidBed{Name: "Low", Over: ids(f.bed)}))
	wantField(t, err, "#/retire/0", "already ended on 2025-03-01")

	l := f.layout("2026-05-01", ids(slope), domain.LaidBed{Name: "Low", Over: ids(f.bed, slope)})
	f.write(l)
	radish := f.plant("radish", domain.Touches, "2026-05-02", l.Lay[0].ID)
	_, err = f.record(f.lot(radish, "2026-08-07", l.Lay[0].ID))
	if j := refused(t, err).Judgement; j.ClearOn != day("2026-08-08") {
		t.Errorf("clear on %s, want 2026-08-08", j.ClearOn)
	}
	// Ground that lay fallow under its last name is still there to be laid on.
	fallow := f.write(&domain.Bed{Name: "Fallow", PlotID: f.plot, From: day("2024-01-01")})
	spare := f.write(&domain.Bed{Name: "Spare", PlotID: f.plot, From: day("2024-01-01")})
	f.write(f.layout("2025-06-01", ids(fallow, spare), domain.LaidBed{Name: "On the spare", Over: ids(spare)}))
	f.write(f.layout("2026-06-01", nil, domain.LaidBed{Name: "On the fallow", Over: ids(fallow)}))
}

// us-rules 1.1: applications belong to ground, and any overlap counts [interpretation]. A bed laid over one that keeps its
// name would be two names for one ground: what is spread under the one would not be seen under the other.
func TestLayoutOverABedInForce(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	other := f.write(&domain.Bed{Name: "Lower 4", PlotID: f.plot, From: day("2024-03-01")})
	_, err := f.record(f.layout("2026-04-01", ids(other), domain.LaidBed{Name: "Across 1", Over: ids(other, f.bed)}))
	wantField(t, err, "#/lay/0/over/1", "Name it in retire as well")
	_, err = f.record(f.layout("2026-04-01", nil, domain.LaidBed{Name: "Across 1", Over: ids(f.bed)}))
	wantField(t, err, "#/lay/0/over/0", "Name it in retire as well")
	f.relay("2026-05-01", other, "Slope")
	_, err = f.record(f.layout("2026-04-01", nil, domain.LaidBed{Name: "Across 1", Over: ids(other)})) // Lower 4 held until May
	wantField(t, err, "#/lay/0/over/0", "had its name until 2026-05-01")

	// As the refusal says: both are laid anew, what is left of the old bed under its old name. Both remember.
	f.spread(f.manure, "2026-03-20", "2026-03-20", f.bed)
	l := f.layout("2026-04-01", ids(f.bed), domain.LaidBed{Name: "Across 1", Over: ids(f.bed)}, domain.LaidBed{Name: "Lower 3", Over: ids(f.bed)})
	f.write(l)
	for i, b := range l.Lay {
		lettuce := f.plant(fmt.Sprint("lettuce ", i), domain.Touches, "2026-04-10", b.ID)
		_, err = f.record(f.lot(lettuce, "2026-06-01", b.ID))
		if j := refused(t, err).Judgement; j.ClearOn != day("2026-07-18") { // 120 days after 20 March
			t.Errorf("%s is clear on %s, want 2026-07-18", b.Name, j.ClearOn)
		}
	}
}

// record-forms S8 and S17: each new bed inherits every event it overlaps, and a flood's status stays on the ground through
// re-laying. Garlic that a flood touched is not fit to eat, also when it is cut under the name of the bed laid over its own.
func TestLayoutUnderAStandingCrop(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	garlic := f.plant("garlic", domain.Touches, "2024-10-01", f.bed)
	dry := f.write(&domain.Bed{Name: "Lower 4", PlotID: f.plot, From: day("2024-03-01")})
	leeks := f.plant("leeks", domain.Touches, "2024-10-01", dry)
	flood := &domain.Finding{What: "flood", Ground: domain.Ground{BedIDs: ids(f.bed)}, FoundAt: at("2024-11-10", 8), TouchedCrop: domain.TouchedYes}
	f.write(flood)
	next, other := f.relay("2026-05-01", f.relay("2025-06-01", f.bed, "Slope"), "Across"), f.relay("2026-05-01", dry, "Across 2")

	checked, err := f.db.HarvestCheck(storage.Reading{Ctx: ctx, Farm: f.actor.FarmID}, next, uuid.Nil, day("2026-07-01"))
	if err != nil || len(checked) != 1 || checked[0].PlantingID != garlic || checked[0].BedID != next || checked[0].Verdict != domain.Stop {
		t.Fatalf("the check of the new bed: %+v (%v)", checked, err)
	}
	_, err = f.record(f.lot(garlic, "2026-07-01", next))
	j := refused(t, err).Judgement
	if j.Verdict != domain.Stop || j.Reasons[0].Records[0].ID != flood.ID {
		t.Errorf("garlic under the new name: %+v, want stop for the flood", j)
	}
	_, err = f.record(f.lot(garlic, "2026-07-01", f.bed))
	wantField(t, err, "#/bed_ids/0", "ended on 2025-06-01")
	_, err = f.record(f.lot(garlic, "2026-07-01", other))
	wantField(t, err, "#/bed_ids/0", "does not stand in this bed")

	// What nothing happened to goes on being cut; what becomes known of the old ground reaches the lot.
	lot := f.lot(leeks, "2026-07-01", other)
	f.write(lot)
	f.correct("planting", leeks, `{"method": "dibbled"}`)
	f.correct("finding", flood.ID, `{"ground": {"bed_ids": ["`+dry.String()+`"]}}`)
	f.wantVerdict(lot, domain.Stop)
}

func TestLayoutIDs(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	before := f.entries()
	own, twin := uuid.Must(uuid.NewV7()), uuid.Must(uuid.NewV7())
	for _, id := range []uuid.UUID{f.bed, f.plot, f.manure, f.actor.FarmID, f.actor.PersonID} {
		_, err := f.record(f.layout("2026-05-01", ids(f.bed), domain.LaidBed{ID: id, Name: "Slope", Over: ids(f.bed)}))
		wantField(t, err, "#/lay/0/id", "already names another record")
	}
	l := f.layout("2026-05-01", ids(f.bed), domain.LaidBed{ID: own, Name: "Slope", Over: ids(f.bed)})
	l.ID = own
	_, err := f.record(l)
	wantField(t, err, "#/lay/0/id", "already names another record")
	_, err = f.record(f.layout("2026-05-01", ids(f.bed), domain.LaidBed{ID: twin, Name: "Slope 1", Over: ids(f.bed)}, domain.LaidBed{ID: twin, Name: "Slope 2", Over: ids(f.bed)}))
	wantField(t, err, "#/lay/1/id", "already names another record")
	_, err = f.record(f.layout("2026-05-01", ids(f.bed), domain.LaidBed{ID: uuid.New(), Name: "Slope", Over: ids(f.bed)}))
	wantField(t, err, "#/lay/0/id", "version 7")
	_, err = f.record(f.layout("2026-05-01", ids(f.bed), domain.LaidBed{Name: "Slope", Over: ids(twin)}))
	wantField(t, err, "#/lay/0/over/0", "There is no bed")
	if n := f.entries(); n != before {
		t.Errorf("%d entries after refusals, had %d", n, before)
	}
	f.write(f.layout("2026-05-01", ids(f.bed), domain.LaidBed{ID: twin, Name: "Slope", Over: ids(f.bed)}))
	// A bed that a layout laid was made by the layout's entry, and its history says so.
	history, err := f.db.History(ctx, f.actor.FarmID, "bed", twin)
	if err != nil || len(history) != 1 || history[0].EntryKind != "bed-layout" {
		t.Errorf("history of a laid bed: %d entries (%v), want its layout", len(history), err)
	}
	// The old name may be given again, to other ground.
	f.write(&domain.Bed{Name: "Lower 3", PlotID: f.plot, From: day("2026-05-01")})
}

func TestLayoutStaysInItsPlot(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	upper := f.write(&domain.Plot{Name: "Upper", History: "known"})
	bed := f.write(&domain.Bed{Name: "Upper 1", PlotID: upper, From: day("2024-03-01")})
	_, err := f.record(f.layout("2026-05-01", ids(f.bed), domain.LaidBed{Name: "Across", Over: ids(f.bed, bed)}))
	wantField(t, err, "#/lay/0/over/1", "another plot")
	_, err = f.record(f.layout("2024-02-01", ids(f.bed), domain.LaidBed{Name: "Too early", Over: ids(f.bed)}))
	wantField(t, err, "#/retire/0", "only laid on 2024-03-01")
}

// A lot may be cut over several beds, also of two plots: the ground of each of them counts, and every plot's.
func TestHarvestOverTwoPlots(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	upper := f.write(&domain.Plot{Name: "Upper", History: "known"})
	far := f.write(&domain.Bed{Name: "Upper 1", PlotID: upper, From: day("2024-03-01")})
	radish := f.plant("radish", domain.Touches, "2026-04-15", f.bed, far)
	lot := f.lot(radish, "2026-06-01", f.bed, far)
	f.write(lot)
	whole := &domain.Application{Source: domain.Source{InputLotID: f.manure}, Ground: domain.Ground{PlotID: upper},
		AppliedOn: day("2026-04-01"), IncorporatedOn: day("2026-04-02"), Method: "incorporated", Amount: domain.Q("1", "yd3")}
	out, err := f.record(whole)
	if err != nil || len(out.Rejudged) != 1 || out.Rejudged[0].LotID != lot.ID || out.Rejudged[0].ClearOn != day("2026-07-31") {
		t.Fatalf("manure on the second plot: %+v (%v), want the lot waiting until 2026-07-31", out.Rejudged, err)
	}
	if got := f.lotByID(lot.ID); !got.Held || len(got.BedNames) != 2 {
		t.Errorf("held %t, beds %v", got.Held, got.BedNames)
	}
	_, err = f.record(f.lot(radish, "2026-06-02", f.bed, far))
	refused(t, err)
	f.write(f.lot(radish, "2026-06-02", f.bed)) // the first plot alone is clear
}
