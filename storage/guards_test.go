package storage_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"strings"
	"testing"

	"github.com/google/uuid"

	"croftmark/domain"
	"croftmark/storage"
)

// wantBad checks that an error names an entry and says why.
func wantBad(t *testing.T, err error, seq int64, words string) {
	t.Helper()
	var bad *storage.BadEntry
	if !errors.As(err, &bad) || bad.Seq != seq || !strings.Contains(bad.Why, words) {
		t.Errorf("%v, want entry %d: …%s…", err, seq, words)
	}
}

// A kept note must not be given out for a book that was changed since it was signed.
func TestSignedNoteIsHeldAgainstTheBook(t *testing.T) {
	t.Parallel()
	x := newTampering(t, 12)
	signed, err := x.db.SignedCheckpoint(ctx, x.actor.FarmID)
	mustBe(t, err)
	if again, err := x.db.SignedCheckpoint(ctx, x.actor.FarmID); err != nil || again != signed {
		t.Errorf("asked again %+v (%v), want the same note", again, err)
	}
	x.rewrite(9, "done_on", "2020-01-01")
	x.rehashAll()
	if got := x.found(); got != 12 {
		t.Errorf("verify names entry %d, want 12, where the book no longer is what was signed", got)
	}
	_, err = x.db.SignedCheckpoint(ctx, x.actor.FarmID)
	wantBad(t, err, 12, "not the one that was signed")
	var out bytes.Buffer
	wantBad(t, x.db.Export(ctx, x.actor.FarmID, &out, nil), 12, "not the one that was signed")
	x.restore()
	// The book cut back behind a checkpoint, with its end moved: only the note still knows.
	x.run(`delete from book_entries where farm_id = $1 and seq > 8`, x.actor.FarmID)
	x.size = 8
	x.rehashAll()
	_, err = x.db.Verify(ctx, x.actor.FarmID, nil)
	wantBad(t, err, 9, "signed at 12 entries")
}

// rehashAll hashes the book anew from its texts, as somebody would who wants to hide a change.
func (x *tampering) rehashAll() {
	x.t.Helper()
	edge := storage.NewEdge()
	for seq := int64(1); seq <= x.size; seq++ {
		hashes, err := edge.Append([]byte(x.leaf(seq)))
		mustBe(x.t, err)
		x.run(`update book_entries set hashes = $3 where farm_id = $1 and seq = $2`, x.actor.FarmID, seq, hashes)
	}
	x.run(`update book_heads set frontier = $2, seq = $3 where farm_id = $1`, x.actor.FarmID, edge.Pack(), x.size)
}

// Labels and papers name a farm by its key; a book that goes by another key than its first entry says is not that farm's.
func TestFarmKeyIsThatOfTheFirstEntry(t *testing.T) {
	t.Parallel()
	x := newTampering(t, 8)
	x.run(`update book_heads set farm_key = 'ZZZZZZZ' where farm_id = $1`, x.actor.FarmID)
	_, err := x.db.Verify(ctx, x.actor.FarmID, nil)
	wantBad(t, err, 1, "ZZZZZZZ beside it")
	x.restore()
	x.rewrite(1, "kind", "crop")
	x.rehashAll()
	x.run(`update book_entries set kind = 'crop' where farm_id = $1 and seq = 1`, x.actor.FarmID)
	_, err = x.db.Verify(ctx, x.actor.FarmID, nil)
	wantBad(t, err, 1, "begins with its farm")
}

// What is neither voided nor corrected says what mends it, and does not send a person in a circle.
func TestVoidNamesTheRemedy(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	layout := f.write(f.layout("2026-03-01", ids(f.bed), domain.LaidBed{Name: "Slope", Over: ids(f.bed)}))
	for kind, words := range map[string]string{"bed-layout": "Lay the beds anew", "pack-lot": "Pack it anew", "hold-release": "Put the hold on again"} {
		_, err := f.void(kind, layout)
		wantCode(t, err, domain.CodeRuleRefused)
		if !strings.Contains(err.Error(), words) || strings.Contains(err.Error(), "Correct it instead") {
			t.Errorf("void of a %s: %v", kind, err)
		}
	}
	_, err := f.void("bed", f.bed)
	if err == nil || !strings.Contains(err.Error(), "Correct it instead") {
		t.Errorf("void of a bed: %v", err)
	}
}

// A farm is opened with its book; a second one inside it would leave the judgements without their rules.
func TestFarmIsNotARecordOfItsOwn(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	before := f.entries()
	for _, r := range []domain.Record{&domain.Farm{Name: "Second", TimeZone: "America/New_York"}, &domain.HarvestRefused{}} {
		if _, err := f.record(r); err == nil {
			t.Errorf("a %s was written", r.Kind())
		}
	}
	f.nothingStayed(before)
}

func TestPlantingClearOfSoilNeedsAReason(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	crop := f.write(&domain.Crop{Name: "cucumber", SoilContact: domain.Touches})
	p := &domain.Planting{CropID: crop, BedIDs: ids(f.bed), PlantedOn: day("2026-05-01"), SoilContact: domain.HeldClear}
	_, err := f.record(p)
	wantField(t, err, "#/reason", "cucumber touches soil")
	p.Reason = "trellised on strings"
	id := f.write(p)
	wantField(t, f.correctErr("planting", id, `{"reason": null}`), "#/reason", "cucumber touches soil")
	f.write(&domain.Planting{CropID: crop, BedIDs: ids(f.bed), PlantedOn: day("2026-05-02"), SoilContact: domain.Touches})
}

// Water and animals belong to the day as well: a name must not end under them.
func TestLayoutUnderWaterAndAnimals(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	anew := func(on string) *domain.BedLayout {
		return f.layout(on, ids(f.bed), domain.LaidBed{Name: "Slope", Over: ids(f.bed)})
	}
	well := f.well()
	f.write(&domain.Irrigation{SourceID: well, Ground: domain.Ground{BedIDs: ids(f.bed)}, Method: "overhead", StartedAt: at("2026-04-20", 22), EndedAt: at("2026-04-21", 1)})
	_, err := f.record(anew("2026-04-21"))
	wantField(t, err, "#/retire/0", "irrigation) of 2026-04-21")

	hens := f.write(&domain.Grazing{Species: "hens", Ground: domain.Ground{BedIDs: ids(f.bed)}, From: day("2026-04-22")})
	_, err = f.record(anew("2026-05-10"))
	wantField(t, err, "#/retire/0", "Animals are still on that bed")
	f.correct("grazing", hens, `{"to": "2026-05-12"}`)
	_, err = f.record(anew("2026-05-12"))
	wantField(t, err, "#/retire/0", "grazing) of 2026-05-12")
	f.write(anew("2026-05-13"))
}

// Ground that was taken out of production stays out under a new name, until somebody takes the new bed in.
func TestPausePassesToTheNewBed(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	other := f.write(&domain.Bed{Name: "Lower 4", PlotID: f.plot, From: day("2024-03-01")})
	paused := f.write(&domain.BedProduction{BedID: f.bed, On: day("2026-05-01"), Reason: "glass in the soil"})
	l := f.layout("2026-06-01", ids(f.bed, other), domain.LaidBed{Name: "Slope", Over: ids(f.bed, other)})
	f.write(l)
	slope := l.Lay[0].ID
	planting := f.plant("chard", domain.HeldClear, "2026-06-02", slope)
	verdict := func(on string) domain.Judgement {
		t.Helper()
		list, err := f.db.HarvestCheck(f.reading(), slope, planting, day(on))
		mustBe(t, err)
		return list[0].Judgement
	}
	inProduction := func(bed uuid.UUID) *bool {
		t.Helper()
		rec, err := f.db.ReadRecord(ctx, f.actor.FarmID, "bed", bed)
		mustBe(t, err)
		var b domain.Bed
		mustBe(t, json.Unmarshal(rec.Body, &b))
		return b.InProduction
	}
	if j := verdict("2026-09-01"); j.Verdict != domain.Stop || !strings.Contains(j.Reasons[0].Text, "glass in the soil") || j.Reasons[0].Records[0].ID != paused {
		t.Errorf("the new bed is judged %+v, want stop by the old bed's pause", j)
	}
	if in := inProduction(slope); in == nil || *in {
		t.Errorf("the new bed says in_production %v", in)
	}
	// The neighbour's word says nothing about the paused ground.
	f.write(&domain.BedProduction{BedID: other, On: day("2026-05-20"), InProduction: true, Reason: "fine"})
	if j := verdict("2026-09-01"); j.Verdict != domain.Stop {
		t.Errorf("after a word about the other bed: %s", j.Verdict)
	}
	taken := f.write(&domain.BedProduction{BedID: slope, On: day("2026-08-01"), InProduction: true, Reason: "sieved"})
	if j := verdict("2026-07-31"); j.Verdict != domain.Stop {
		t.Errorf("the day before: %s", j.Verdict)
	}
	if j := verdict("2026-09-01"); j.Verdict != domain.Clear {
		t.Errorf("taken back in: %+v", j)
	}
	if in := inProduction(slope); in == nil || !*in {
		t.Errorf("the new bed says in_production %v", in)
	}
	if in := inProduction(f.bed); in == nil || *in {
		t.Errorf("the old bed says in_production %v", in)
	}
	before := f.dump()
	_, err := f.db.Rebuild(ctx, f.actor.FarmID, nil)
	mustBe(t, err)
	if after := f.dump(); len(after) != len(before) || strings.Join(after["records"], "\n") != strings.Join(before["records"], "\n") {
		t.Error("rebuilding gives other records")
	}
	if _, err := f.void("bed-production", taken); err != nil {
		t.Fatal(err)
	}
	if in := inProduction(slope); in == nil || *in {
		t.Errorf("after the void the new bed says in_production %v", in)
	}
	if _, err := f.void("bed-production", paused); err != nil {
		t.Fatal(err)
	}
	if j := verdict("2026-09-01"); j.Verdict != domain.Clear {
		t.Errorf("after the pause was voided: %+v", j)
	}
}
