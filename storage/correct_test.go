package storage_test

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"croftmark/domain"
	"croftmark/storage"
)

func (f *field) correctErr(kind string, id uuid.UUID, changes string) error {
	_, err := f.db.Correct(ctx, f.actor, nil, kind, id, "a slip", json.RawMessage(changes))
	return err
}

func (f *field) void(kind string, id uuid.UUID) (storage.Outcome, error) {
	return f.db.Void(ctx, f.actor, nil, kind, id, "a slip")
}

// person adds somebody to the farm and gives them as an actor.
func (f *field) person(name string, role domain.Role) storage.Actor {
	f.t.Helper()
	id := f.write(&domain.Person{Name: name, Initials: name[:2], Role: role})
	return storage.Actor{FarmID: f.actor.FarmID, PersonID: id, Role: role}
}

func TestVoidIsOnceAndFinal(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	a := f.spread(f.manure, "2026-04-01", "2026-04-10", f.bed)
	if _, err := f.void("application", a); err != nil {
		t.Fatal(err)
	}
	before := f.entries()
	_, err := f.void("application", a)
	wantCode(t, err, domain.CodeRuleRefused)
	wantCode(t, f.correctErr("application", a, `{"applied_on": "2026-04-02"}`), domain.CodeRuleRefused)
	_, err = f.db.Review(ctx, f.actor, nil, "application", a, "")
	wantCode(t, err, domain.CodeRuleRefused)
	_, err = f.void("plot", f.plot)
	wantCode(t, err, domain.CodeRuleRefused)
	_, err = f.void("grazing", a) // of another kind
	wantCode(t, err, domain.CodeNotFound)
	if n := f.entries(); n != before {
		t.Errorf("%d entries after refusals, had %d", n, before)
	}
	rec, err := f.db.ReadRecord(ctx, f.actor.FarmID, "application", a)
	if err != nil || !rec.Voided {
		t.Errorf("a voided record stays readable: %v, voided %t", err, rec.Voided)
	}
}

func TestFixedFieldsStayFixed(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	other := f.write(&domain.Plot{Name: "Upper"})
	a := f.spread(f.manure, "2026-04-01", "2026-04-10", f.bed)
	pause := f.write(&domain.BedProduction{BedID: f.bed, On: day("2026-05-01"), Reason: "flooded"})
	hold := f.write(&domain.Hold{On: domain.HoldTarget{BedID: f.bed}, Reason: "asked the certifier"})
	id := uuid.Must(uuid.NewV7()).String()
	for _, c := range []struct {
		kind    string
		id      uuid.UUID
		field   string
		changes string
	}{
		{"application", a, "id", `{"id": "` + id + `"}`},
		{"application", a, "done_by", `{"done_by": "` + f.actor.PersonID.String() + `"}`},
		{"bed", f.bed, "from", `{"from": "2026-05-01"}`},
		{"bed", f.bed, "plot_id", `{"plot_id": "` + other.String() + `"}`},
		{"bed", f.bed, "to", `{"to": "2026-05-01"}`},
		{"bed", f.bed, "over", `{"over": []}`},
		{"farm", f.actor.FarmID, "key", `{"key": "OTHER"}`},
		{"bed-production", pause, "bed_id", `{"bed_id": "` + f.bed.String() + `"}`},
		{"hold", hold, "on", `{"on": {"bed_id": "` + f.bed.String() + `"}}`},
		{"hold", hold, "released", `{"released": null}`},
		{"hold", hold, "done_at", `{"done_at": "2026-01-01T12:00:00Z"}`},
	} {
		wantField(t, f.correctErr(c.kind, c.id, c.changes), "#/changes/"+c.field, "can't be changed")
	}
	// Names in other letters would reach the same field through the decoder.
	for _, changes := range []string{`{"Done_by": "` + id + `"}`, `{"DEVICE_AT": "2026-01-01T12:00:00Z"}`, `{"Id": "` + id + `"}`, `{"releaſed": {}}`} {
		wantField(t, f.correctErr("hold", hold, changes), "#/changes", "")
	}
	wantField(t, f.correctErr("application", a, `{"applied_onn": "2026-04-01"}`), "#/changes", "can't be read")
	wantField(t, f.correctErr("application", a, `{}`), "#/changes", "at least one field")
	wantField(t, f.correctErr("application", a, `[]`), "#/changes", "at least one field")
	wantField(t, f.correctErr("application", a, `{"applied_on": null}`), "#/applied_on", "")
}

func TestHoldIsCorrectedAndReleasedOnce(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	radish := f.plant("radish", domain.Touches, "2026-09-01", f.bed)
	hold := f.write(&domain.Hold{On: domain.HoldTarget{BedID: f.bed}, Reason: "birds", Habits: domain.Habits{DoneAt: at("2026-11-01", 8)}})
	lot := f.lot(radish, "2026-11-20", f.bed)
	lot.AlreadyCut = true
	f.write(lot)
	out := f.correct("hold", hold, `{"reason": "gulls"}`)
	if len(out.Rejudged) != 1 || out.Rejudged[0].Verdict != domain.Stop {
		t.Errorf("after the reason was corrected: %+v, want the lot's judgement to say it", out.Rejudged)
	}
	_, err := f.record(&domain.Release{HoldID: hold, Reason: "gone", Habits: domain.Habits{DoneAt: at("2026-10-31", 8)}})
	wantField(t, err, "#/done_at", "only put on on 2026-11-01")
	crew := f.person("Cory", domain.Crew)
	_, err = f.db.Record(ctx, crew, nil, &domain.Release{HoldID: hold, Reason: "gone"})
	wantCode(t, err, domain.CodeNotAllowed)
	_, err = f.record(&domain.Release{HoldID: lot.ID, Reason: "gone"})
	wantCode(t, err, domain.CodeNotFound)

	// A release on the day of the cut clears the lots of that day.
	freed, err := f.record(&domain.Release{HoldID: hold, Reason: "netted", Habits: domain.Habits{DoneAt: at("2026-11-20", 7)}})
	if err != nil || len(freed.Rejudged) != 1 || freed.Rejudged[0].Verdict != domain.Clear {
		t.Errorf("after the release: %+v (%v), want the lot judged clear", freed.Rejudged, err)
	}
	if got := f.lotByID(lot.ID); !got.Held || got.VerdictNow.Verdict != domain.Clear {
		t.Errorf("held %t, judged %s: the lot's own hold is not released with the bed's", got.Held, got.VerdictNow.Verdict)
	}
	_, err = f.record(&domain.Release{HoldID: hold, Reason: "again"})
	wantCode(t, err, domain.CodeInvalid)
	f.correct("hold", hold, `{"reason": "herring gulls"}`) // also after its release
	rec, err := f.db.ReadRecord(ctx, f.actor.FarmID, "hold", hold)
	var h domain.Hold
	decode(t, rec.Body, &h)
	if err != nil || h.Released == nil || h.Released.Reason != "netted" || h.Reason != "herring gulls" {
		t.Errorf("hold after both: %+v (%v)", h, err)
	}
}

// What a person says of a hold goes before what the book said; what they do not touch stays.
func TestHoldOfTheBookIsCorrected(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	f.spread(f.manure, "2026-04-01", "2026-04-10", f.bed)
	lot := f.lot(f.plant("radish", domain.Touches, "2026-05-01", f.bed), "2026-07-01", f.bed)
	lot.AlreadyCut = true
	f.write(lot)
	told := func() storage.HoldTold {
		t.Helper()
		return f.lotByID(lot.ID).HoldsTold[0]
	}
	if h := told(); h.AlreadyCut != domain.Wait || h.Reason != domain.AlreadyCutReason(domain.Wait) {
		t.Errorf("the book's hold: %+v", h)
	}
	id := told().ID
	f.correct("hold", id, `{"note": "in the blue bin"}`)
	if h := told(); h.AlreadyCut != domain.Wait {
		t.Errorf("after a note was added: %+v", h)
	}
	_, err := f.db.Correct(ctx, f.actor, nil, "hold", id, "x", []byte(`{"already_cut": "clear"}`))
	wantField(t, err, "#/changes/already_cut", "can't be changed")
	f.correct("hold", id, `{"reason": "cut by the neighbour"}`)
	if h := told(); h.AlreadyCut != "" || h.Reason != "cut by the neighbour" {
		t.Errorf("after the reason was corrected: %+v", h)
	}
}

func TestHoldsOnLotsAndDeliveries(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	lot := f.lot(f.plant("kale", domain.HeldClear, "2026-05-01", f.bed), "2026-07-01", f.bed)
	f.write(lot)
	first := f.write(&domain.Hold{On: domain.HoldTarget{LotID: lot.ID}, Reason: "a complaint"})
	second := f.write(&domain.Hold{On: domain.HoldTarget{LotID: lot.ID}, Reason: "another"})
	got := f.lotByID(lot.ID)
	if !got.Held || len(got.HoldReasons) != 2 || got.VerdictNow.Verdict != domain.Clear {
		t.Errorf("held %t for %v, judged %s", got.Held, got.HoldReasons, got.VerdictNow.Verdict)
	}
	f.write(&domain.Release{HoldID: first, Reason: "answered"})
	if got := f.lotByID(lot.ID); !got.Held || len(got.HoldReasons) != 1 {
		t.Errorf("one of two holds released: held %t for %v", got.Held, got.HoldReasons)
	}
	f.write(&domain.Release{HoldID: second, Reason: "answered"})
	if got := f.lotByID(lot.ID); got.Held {
		t.Error("still held after both releases")
	}
	f.write(&domain.Hold{On: domain.HoldTarget{InputLotID: f.manure}, Reason: "supplier's letter"})
	spread := f.application(f.manure, "2026-08-01", "2026-08-02", f.bed)
	if _, err := f.record(spread); asDomain(err) == nil || asDomain(err).Code != domain.CodeLotHeld {
		t.Errorf("spreading a held delivery: %v, want lot-held", err)
	}
	spread.LateReason = "It was spread before the letter came."
	out, err := f.record(spread)
	if err != nil || len(out.Warnings) == 0 || out.Warnings[0] != "What was applied is on hold. Tell the person who put it on hold; see what this ground is used for." {
		t.Errorf("a held delivery that was spread already: %v (%v), want a warning first", out.Warnings, err)
	}
	for _, on := range []domain.HoldTarget{{LotID: f.bed}, {BedID: lot.ID}, {InputLotID: uuid.Must(uuid.NewV7())}} {
		_, err := f.record(&domain.Hold{On: on, Reason: "x"})
		wantField(t, err, "#/on", "There is no")
	}
}

func TestPausesFollowTheirRecords(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	inProduction := func() *bool {
		rec, err := f.db.ReadRecord(ctx, f.actor.FarmID, "bed", f.bed)
		if err != nil {
			t.Fatal(err)
		}
		var bed domain.Bed
		decode(t, rec.Body, &bed)
		return bed.InProduction
	}
	radish := f.plant("radish", domain.Touches, "2026-05-01", f.bed)
	lot := f.lot(radish, "2026-07-10", f.bed)
	f.write(lot)
	pause, err := f.record(&domain.BedProduction{BedID: f.bed, On: day("2026-07-01"), Reason: "flooded"})
	if err != nil || len(pause.Rejudged) != 1 || inProduction() == nil || *inProduction() {
		t.Fatalf("a late pause: %+v (%v), in production %v", pause.Rejudged, err, inProduction())
	}
	// The judgement names the bed, so it says the new name when the old one was a slip.
	if out := f.correct("bed", f.bed, `{"name": "Lower three"}`); len(out.Rejudged) != 1 || !strings.Contains(out.Rejudged[0].Reasons[0].Text, "Lower three") {
		t.Errorf("bed renamed: %+v", out.Rejudged)
	}
	end, err := f.record(&domain.BedProduction{BedID: f.bed, On: day("2026-07-05"), InProduction: true, Reason: "dry"})
	if err != nil || len(end.Rejudged) != 1 || end.Rejudged[0].Verdict != domain.Clear || !*inProduction() {
		t.Fatalf("its end: %+v (%v)", end.Rejudged, err)
	}
	if out := f.correct("bed-production", end.ID, `{"on": "2026-07-11"}`); len(out.Rejudged) != 1 || !out.Rejudged[0].Verdict.Refuses() {
		t.Errorf("end moved past the cut: %+v", out.Rejudged)
	}
	if out, err := f.void("bed-production", end.ID); err != nil || *inProduction() {
		t.Errorf("end voided: %+v (%v), in production %v", out.Rejudged, err, *inProduction())
	}
	if out, err := f.void("bed-production", pause.ID); err != nil || len(out.Rejudged) != 1 || inProduction() != nil {
		t.Errorf("pause voided: %+v (%v), in production %v, want nothing said", out.Rejudged, err, inProduction())
	}
}

// A planting is not corrected away from under the lots cut from it.
func TestPlantingKeepsItsLots(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	second := f.write(&domain.Bed{Name: "Lower 4", PlotID: f.plot, From: day("2024-03-01")})
	radish := f.plant("radish", domain.Touches, "2026-05-01", f.bed, second)
	lot := f.lot(radish, "2026-07-10", f.bed)
	f.write(lot)
	before := f.entries()
	for _, changes := range []string{
		`{"bed_ids": ["` + second.String() + `"]}`,
		`{"planted_on": "2026-07-11"}`,
		`{"ended_on": "2026-07-09"}`,
	} {
		wantField(t, f.correctErr("planting", radish, changes), "#/changes", "Lot "+lot.Code)
	}
	if n := f.entries(); n != before {
		t.Errorf("%d entries after refusals, had %d", n, before)
	}
	f.correct("planting", radish, `{"bed_ids": ["`+f.bed.String()+`"], "planted_on": "2026-07-10", "ended_on": "2026-07-10"}`)
	_, err := f.record(f.lot(radish, "2026-07-10", second))
	wantField(t, err, "#/bed_ids/0", "does not stand in this bed")
	other := f.plant("kale", domain.HeldClear, "2026-05-01", f.bed)
	wantField(t, f.correctErr("harvest-lot", lot.ID, `{"planting_id": "`+other.String()+`", "bed_ids": ["`+second.String()+`"]}`), "#/bed_ids/0", "does not stand")
	f.correct("harvest-lot", lot.ID, `{"planting_id": "`+other.String()+`"}`)
	f.correct("planting", radish, `{"bed_ids": ["`+second.String()+`"]}`) // no lot is left to stand on it
}

// A delivery that turns out to have been another input changes what its ground remembers.
func TestDeliveryOfAnotherInput(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	lime := f.delivery("mineral", nil)
	f.spread(lime, "2026-04-01", "2026-04-10", f.bed)
	radish := f.plant("radish", domain.Touches, "2026-05-01", f.bed)
	lot := f.lot(radish, "2026-06-15", f.bed)
	f.write(lot)
	manure := f.write(&domain.Input{Name: "Horse manure", Category: domain.RawManure})
	out := f.correct("input-lot", lime, `{"input_id": "`+manure.String()+`"}`)
	if len(out.Rejudged) != 1 || out.Rejudged[0].ClearOn != day("2026-08-08") {
		t.Errorf("mineral that was manure: %+v, want the lot waiting until 2026-08-08", out.Rejudged)
	}
	_, err := f.record(f.lot(radish, "2026-08-07", f.bed))
	refused(t, err)
	// And the other way: the input was typed as manure and is a mineral.
	if out := f.correct("input", manure, `{"category": "mineral"}`); len(out.Rejudged) != 1 || out.Rejudged[0].Verdict != domain.Clear {
		t.Errorf("manure that was mineral: %+v", out.Rejudged)
	}
}

// A crop that stands for years keeps what was done to it at planting; a bed planted anew does not.
func TestPerennialsRemember(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{}, "us-organic", "buyer-gap")
	f.clock.SetDay("2026-11-25")
	old := f.write(&domain.Bed{Name: "Long", PlotID: f.plot, From: day("2015-01-01")})
	delivery := f.write(&domain.InputLot{InputID: f.write(&domain.Input{Name: "Barn", Category: domain.RawManure}), Supplier: "Barn", ReceivedOn: day("2015-01-01"), Quantity: domain.Q("6", "yd3")})
	f.spread(delivery, "2021-04-01", "2021-04-02", old)
	asparagus := f.plant("asparagus", domain.Touches, "2021-04-09", old)
	chard := f.plant("chard", domain.HeldClear, "2026-05-01", old)
	_, err := f.record(f.lot(asparagus, "2026-05-10", old))
	if j := refused(t, err).Judgement; j.Verdict != domain.Stop || j.Reasons[0].Rule != "buyer-gap.raw-manure-before-planting" {
		t.Errorf("manure a week before a planting, five years later: %s by %s; the buyer's rule about planting holds as long as it stands", j.Verdict, j.Reasons[0].Rule)
	}
	lot := f.lot(chard, "2026-08-10", old)
	f.write(lot)
	if len(lot.VerdictThen.Reasons) != 0 {
		t.Errorf("manure five years before a planting still speaks: %+v", lot.VerdictThen.Reasons)
	}
}

// A judgement does not depend on which lots are judged together: a farm-wide change leaves the others' as they are.
func TestJudgementsDoNotLeanOnEachOther(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	bed := f.write(&domain.Bed{Name: "Long", PlotID: f.plot, From: day("2019-01-01")})
	delivery := f.write(&domain.InputLot{InputID: f.write(&domain.Input{Name: "Barn", Category: domain.RawManure}), Supplier: "Barn", ReceivedOn: day("2019-01-01"), Quantity: domain.Q("6", "yd3")})
	f.spread(delivery, "2020-04-01", "2020-04-02", bed)
	early := f.plant("early", domain.Touches, "2020-09-01", bed)
	late := f.plant("late", domain.Touches, "2026-05-01", bed)
	f.write(f.lot(early, "2020-11-01", bed))
	f.write(f.lot(late, "2026-07-01", bed))
	// Nor on the order in which the grower names the beds.
	second := f.write(&domain.Bed{Name: "Short", PlotID: f.plot, From: day("2019-01-01")})
	both := f.plant("both", domain.Touches, "2020-09-01", bed, second)
	f.spread(delivery, "2020-04-05", "2020-04-06", second)
	f.spread(delivery, "2020-04-05", "2020-04-06", bed)
	f.write(f.lot(both, "2020-11-02", bed, second))
	f.write(f.lot(both, "2020-11-02", second, bed))
	if out := f.correct("farm", f.actor.FarmID, `{"phone": "1"}`); len(out.Rejudged) != 0 {
		t.Errorf("a new phone number changed %d judgements: %+v", len(out.Rejudged), out.Rejudged)
	}
}

func TestReviews(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	a := f.spread(f.manure, "2026-04-01", "2026-04-10", f.bed)
	review := func(actor storage.Actor) error {
		_, err := f.db.Review(ctx, actor, nil, "application", a, "seen")
		return err
	}
	if err := review(f.actor); err != nil {
		t.Fatalf("alone on the farm the owner signs as well: %v", err)
	}
	wantCode(t, review(f.actor), domain.CodeRuleRefused) // twice, and nothing changed
	lead := f.person("Lee", domain.Lead)
	f.correct("application", a, `{"note": "north end"}`)
	wantCode(t, review(f.actor), domain.CodeNotAllowed) // now somebody else can
	if err := review(lead); err != nil {
		t.Error(err)
	}
	wantCode(t, review(lead), domain.CodeRuleRefused)
	f.correct("application", a, `{"note": "south end"}`)
	if err := review(lead); err != nil {
		t.Errorf("after a correction the signature is given anew: %v", err)
	}
	rec, err := f.db.ReadRecord(ctx, f.actor.FarmID, "application", a)
	var signed []struct{ By uuid.UUID }
	decode(t, rec.Reviews, &signed)
	if err != nil || len(signed) != 3 || signed[2].By != lead.PersonID {
		t.Errorf("signatures %+v (%v)", signed, err)
	}
	_, err = f.db.Review(ctx, lead, nil, "application", uuid.Must(uuid.NewV7()), "")
	wantCode(t, err, domain.CodeNotFound)
}

// Who signed for somebody is a person of the farm, in every kind of record.
func TestDoneByIsAPersonOfTheFarm(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	stranger := f.neighbour().actor.PersonID
	radish := f.plant("radish", domain.Touches, "2026-05-01", f.bed)
	lot := f.lot(radish, "2026-07-01", f.bed)
	f.write(lot)
	for _, r := range []domain.Record{
		f.lot(radish, "2026-07-02", f.bed),
		&domain.Disposal{LotID: lot.ID, On: day("2026-07-02"), Quantity: domain.Q("1", "lb"), How: "compost"},
		f.application(f.manure, "2026-08-01", "", f.bed),
		&domain.Crop{Name: "chard", SoilContact: domain.Touches},
		&domain.BedProduction{BedID: f.bed, On: day("2026-10-01"), Reason: "rest"},
	} {
		for _, id := range []uuid.UUID{stranger, f.bed, uuid.Must(uuid.NewV7())} {
			domain.HabitsOf(r).DoneBy = id
			_, err := f.record(r)
			wantField(t, err, "#/done_by", "There is no person")
		}
	}
	crew := f.person("Cory", domain.Crew)
	mine := f.lot(radish, "2026-07-03", f.bed)
	mine.DoneBy, mine.Crew = crew.PersonID, []uuid.UUID{crew.PersonID}
	out, err := f.record(mine)
	if err != nil || out.Stamp.DoneBy != crew.PersonID || out.Stamp.TypedBy != f.actor.PersonID {
		t.Fatalf("signed for the crew: %+v (%v)", out.Stamp, err)
	}
	// Somebody who has left is no reason that an old lot cannot be mended.
	if _, err := f.void("person", crew.PersonID); err != nil {
		t.Fatal(err)
	}
	f.correct("harvest-lot", mine.ID, `{"containers": 4}`)
	gone := f.lot(radish, "2026-07-04", f.bed)
	gone.Crew = []uuid.UUID{crew.PersonID}
	_, err = f.record(gone)
	wantField(t, err, "#/crew/0", "was voided")
}

// What is read back says the same as the answer to the write, also in the evening, when it is tomorrow in Greenwich.
func TestStampsUseTheFarmsDay(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	f.clock.Set(at("2026-11-25", 21))
	out, err := f.record(&domain.Crop{Name: "chard", SoilContact: domain.Touches})
	if err != nil {
		t.Fatal(err)
	}
	rec, err := f.db.ReadRecord(ctx, f.actor.FarmID, "crop", out.ID)
	if err != nil || rec.Stamp.LateDays != 0 || out.Stamp.LateDays != 0 || rec.DoneOn != day("2026-11-25") {
		t.Errorf("late by %d days when read, %d when written, done on %s (%v)", rec.Stamp.LateDays, out.Stamp.LateDays, rec.DoneOn, err)
	}
	if !rec.Stamp.EnteredAt.Equal(out.Stamp.EnteredAt) || rec.Stamp.EnteredAt.Sub(at("2026-11-25", 21)) > time.Second {
		t.Errorf("entered at %s", rec.Stamp.EnteredAt)
	}
}
