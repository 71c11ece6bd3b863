package storage_test

import (
	"bytes"
	"encoding/json"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"croftmark/domain"
	"croftmark/storage"
)

// What row-level security protects from, and what not. Every query of this package names the farm it is about, and names
// it again to the database at the start of its transaction (croftmark.farm_id). A query that forgot its farm would so show
// the rows of that farm and no other. It does not protect from code that sets another farm's id itself: the setting is
// a word of the session, not a credential. That is why nothing but storage holds a connection, and takes the farm from
// the token of the person who asks.

// As a person of farm A, with ids and codes of farm B, nothing of B is read or written: every public method answers not
// found, a field error, or nothing. A new method must be added here.
func TestNothingOfAnotherFarm(t *testing.T) {
	t.Parallel()
	b := newRich(t)
	a := b.neighbour()
	b.phone()
	b.only = b.attach(domain.Attachment{}, photo(t, 8)).Hash
	own := a.plant("radish", domain.Touches, "2026-04-01", a.bed)
	before := b.dump()
	beforeEntries, mine := b.entries(), a.entries()
	notFound := func(err error) error { wantCode(t, err, domain.CodeNotFound); return nil }
	empty := func(n int, err error) error {
		if err == nil && n != 0 {
			t.Errorf("%d things of another farm", n)
		}
		return err
	}
	r, theirs := a.reading(), b.reading()
	lot := b.lots[0]
	on := day("2026-06-05")
	methods := map[string]func() error{
		"Alerts": func() error { list, err := a.db.Alerts(r); return empty(len(list), err) },
		"BuyerView": func() error { // opened by its secret, whoever holds it, and by nothing else
			secret, _, err := b.db.NewBuyerAddress(theirs, b.link)
			if err != nil {
				return err
			}
			if v, err := a.db.BuyerView(ctx, secret); err != nil || v.Farm != b.actor.FarmID || len(v.Lines) == 0 {
				t.Errorf("the secret opens %+v, %v", v, err)
			}
			_, err = a.db.BuyerView(ctx, b.link.String())
			return notFound(err)
		},
		"NewBuyerAddress": func() error { _, _, err := a.db.NewBuyerAddress(r, b.link); return notFound(err) },
		"FarmByGTIN": func() error { // an id from a label's address, as FarmByKey
			farm, err := a.db.FarmByGTIN(ctx, "10614141000415", lot.Code)
			if farm != b.actor.FarmID {
				t.Errorf("the label of farm B leads to %s", farm)
			}
			return err
		},
		"LabelCount": func() error {
			c, err := a.db.LabelCount(r, b.mix.ID, 6)
			return empty(c.Printed, err)
		},
		"Attach": func() error { // a file that B has is A's own when A sends it
			out, err := a.db.Attach(ctx, a.actor, nil, &domain.Attachment{}, photo(t, 7))
			if err == nil && out.Replayed {
				t.Error("a file of another farm was answered as ours")
			}
			mine++
			return err
		},
		"Checkpoint": func() error { _, err := a.db.Checkpoint(ctx, uuid.Must(uuid.NewV7())); return notFound(err) },
		"Consistency": func() error { // of a size that only the other farm's book has
			_, err := a.db.Consistency(ctx, a.actor.FarmID, beforeEntries)
			return notFound(err)
		},
		"Compost": func() error { _, err := a.db.Compost(r, b.batch); return notFound(err) },
		"Correct": func() error {
			_, err := a.db.Correct(ctx, a.actor, nil, "harvest-lot", lot.ID, "x", json.RawMessage(`{"containers": 9}`))
			return notFound(err)
		},
		"NewestEntries": func() error {
			list, err := a.db.NewestEntries(ctx, a.actor.FarmID, 0, 1000)
			for _, e := range list {
				if e.FarmID != a.actor.FarmID {
					t.Errorf("entry %d of another farm", e.Seq)
				}
			}
			return err
		},
		"Entries": func() error {
			list, err := a.db.Entries(ctx, a.actor.FarmID, 0, 1000)
			for _, e := range list {
				if e.FarmID != a.actor.FarmID {
					t.Errorf("entry %d of another farm", e.Seq)
				}
			}
			return err
		},
		"AskDaily": func() error { // with a token of B's, which is no token of A
			mine := a.actor
			mine.Shown.ID = b.newToken(b.actor)
			_, _, err := a.db.AskDaily(ctx, mine, domain.DailyMessage{Way: domain.ByEmail, To: "a@example.farm"})
			if err == nil {
				t.Error("a message hangs on a token of another farm")
			}
			return nil
		},
		"DailyMessages": func() error {
			b.daily()
			list, err := a.db.DailyMessages(ctx, a.actor)
			return empty(len(list), err)
		},
		"EndDaily":   func() error { return notFound(a.db.EndDaily(ctx, a.actor, b.daily())) },
		"TestLetter": func() error { _, err := a.db.TestLetter(ctx, a.actor, b.daily()); return notFound(err) },
		"EndSession": func() error { return notFound(a.db.EndSession(ctx, a.actor, b.session.ID)) },
		"Export":     func() error { return notFound(a.db.Export(ctx, uuid.Must(uuid.NewV7()), &bytes.Buffer{}, nil)) },
		"ExportFile": func() error {
			_, err := a.db.ExportFile(ctx, uuid.Must(uuid.NewV7()), filepath.Join(t.TempDir(), "book.zip"), nil)
			return notFound(err)
		},
		"File": func() error {
			_, err := a.db.File(r, b.only, false, true)
			return notFound(err)
		},
		"FarmByKey": func() error { // the one look-up across farms: it gives an id from a label's link, and nothing else
			_, err := a.db.FarmByKey(ctx, "NOSUCH")
			return notFound(err)
		},
		"Ground": func() error { _, _, err := a.db.Ground(r, b.bed, on); return notFound(err) },
		"HarvestCheck": func() error {
			_, err := a.db.HarvestCheck(r, b.bed, uuid.Nil, on)
			notFound(err)
			list, err := a.db.HarvestCheck(r, uuid.Nil, b.planting, on)
			return empty(len(list), err)
		},
		"History": func() error { _, err := a.db.History(ctx, a.actor.FarmID, "harvest-lot", lot.ID); return notFound(err) },
		"Binder": func() error {
			binder, err := a.db.Binder(r, storage.BinderAsked{Scope: "produce-safety", From: day("2020-01-01"), To: day("2026-11-25"), Crop: "spinach"})
			for _, s := range binder.Scope.Sections {
				for _, rec := range s.Records {
					if strings.Contains(strings.Join(rec.Says, " "), "Copper Ladle") || rec.ID == b.bed {
						t.Errorf("the binder shows another farm's %s", rec.Kind)
					}
				}
			}
			return err
		},
		"Import": func() error { // names of B's beds and crops are not known to A
			rows := []domain.ImportRow{{Line: 2, Cells: map[string]string{"crop": "spinach", "beds": "Third", "planted_on": "2026-06-01"}}}
			out, err := a.db.Import(ctx, a.actor, nil, domain.ImportPlantings, rows, nil, false, nil)
			if len(out.Problems) == 0 {
				t.Error("a bed of another farm was found by its name")
			}
			return empty(len(out.IDs), err)
		},
		"ImportTemperatures": func() error {
			_, err := a.db.ImportTemperatures(ctx, a.actor, nil, b.batch, []domain.CompostReading{{TakenAt: at("2026-03-02", 7), Probe: "A", Temperature: domain.Q("140.0", "degF")}})
			return notFound(err)
		},
		"Leave": func() error { // a session of B named as one of A
			return a.db.Leave(ctx, storage.Session{ID: b.session.ID, FarmID: a.actor.FarmID})
		},
		"LotByCode": func() error { _, err := a.db.LotByCode(r, lot.Code); return notFound(err) },
		"LotsOnHand": func() error {
			list, err := a.db.LotsOnHand(r, on)
			for _, l := range list {
				if l.ID == lot.ID || l.ID == b.mix.ID {
					t.Errorf("a lot of another farm: %+v", l)
				}
			}
			return err
		},
		"LotStates": func() error { m, err := a.db.LotStates(r, ids(lot.ID)); return empty(len(m), err) },
		"NewToken": func() error {
			_, err := a.db.NewToken(ctx, a.actor, storage.Token{PersonID: b.person, Label: "x"})
			return notFound(err)
		},
		"OpenSession": func() error { // with a token that is B's
			actor := a.actor
			actor.Shown = b.shown
			if _, _, err := a.db.OpenSession(ctx, actor, storage.Session{Label: "x", Role: domain.Crew}); err == nil {
				t.Error("a token of another farm opened a session")
			}
			return nil
		},
		"Packet":     func() error { _, err := a.db.Packet(r, b.request); return notFound(err) },
		"PackByCode": func() error { _, err := a.db.PackByCode(r, b.mix.Code); return notFound(err) },
		"People": func() error {
			people, err := a.db.People(r)
			if _, there := people[b.person]; there || len(people) != 1 {
				t.Errorf("people of another farm: %v", people)
			}
			return err
		},
		"Plan": func() error {
			plan, err := a.db.Plan(r)
			for _, bed := range plan.Beds {
				if bed.ID == b.bed {
					t.Error("a bed of another farm is in the plan")
				}
			}
			return empty(len(plan.Held)+len(plan.HarvestCode)+len(plan.PackCode), err)
		},
		"PrivateRecords": func() error { m, err := a.db.PrivateRecords(r, ids(b.illness)); return empty(len(m), err) },
		"Proof":          func() error { _, err := a.db.Proof(ctx, a.actor.FarmID, beforeEntries); return notFound(err) },
		"ReadRecord": func() error {
			_, err := a.db.ReadRecord(ctx, a.actor.FarmID, "farm", b.actor.FarmID)
			notFound(err)
			_, err = a.db.ReadRecord(ctx, a.actor.FarmID, "harvest-lot", lot.ID)
			return notFound(err)
		},
		"CheckTables": func() error { _, err := a.db.CheckTables(ctx, a.actor.FarmID, nil); return err },
		"Rebuild":     func() error { _, err := a.db.Rebuild(ctx, a.actor.FarmID, nil); return err },
		"Recall":      func() error { _, err := a.db.Recall(r, b.recall); return notFound(err) },
		"Record":      func() error { a.writeTheirs(b, own); return nil },
		"Records": func() error {
			list, err := a.db.Records(ctx, a.actor.FarmID, "harvest-lot", storage.Page{Limit: 500})
			return empty(len(list), err)
		},
		"Restore": func() error { // over a book that is there
			var file bytes.Buffer
			if err := b.db.Export(ctx, b.actor.FarmID, &file, nil); err != nil {
				return err
			}
			if _, err := a.db.Restore(ctx, bytes.NewReader(file.Bytes()), int64(file.Len()), nil); err == nil {
				t.Error("a book was restored over itself")
			}
			return nil
		},
		"RevokeToken": func() error { return notFound(a.db.RevokeToken(ctx, a.actor, b.shown.ID)) },
		"Review": func() error {
			_, err := a.db.Review(ctx, a.actor, nil, "harvest-lot", lot.ID, "")
			return notFound(err)
		},
		"Session": func() error {
			s, actor, err := a.db.Session(ctx, b.cookie)
			if s.FarmID != b.actor.FarmID || actor.FarmID != b.actor.FarmID {
				t.Errorf("a session of farm B opens %+v for %+v", s, actor)
			}
			return err
		},
		"Sessions": func() error {
			list, err := a.db.Sessions(r)
			return empty(len(list), err)
		},
		"Sheet":  func() error { _, err := a.db.Sheet(r, "egg-washing"); return notFound(err) },
		"Sheets": func() error { list, err := a.db.Sheets(r); return empty(len(list), err) },
		"SetPIN": func() error { return notFound(a.db.SetPIN(ctx, a.actor, b.person, "480261")) },
		"ReviewAll": func() error {
			_, _, err := a.db.ReviewAll(ctx, a.actor, nil, []domain.RecordRef{{Kind: "harvest-lot", ID: lot.ID}}, "")
			wantField(t, err, "#/records/0", "There is no harvest lot")
			return nil
		},
		"CalendarOf": func() error { // the address alone says whose it is; it opens that farm's, as a reader sees it
			secret, err := b.db.NewCalendarAddress(ctx, b.actor)
			if err != nil {
				return err
			}
			actor, err := a.db.CalendarOf(ctx, secret)
			if actor.FarmID != b.actor.FarmID || actor.Role != domain.Reader {
				t.Errorf("an address of farm B opens %+v", actor)
			}
			_, unknown := a.db.CalendarOf(ctx, "nothing")
			notFound(unknown)
			return err
		},
		"NewCalendarAddress": func() error { _, err := a.db.NewCalendarAddress(ctx, a.actor); return err },
		"EndCalendarAddress": func() error { // of another farm's person: nothing ends
			secret, err := b.db.NewCalendarAddress(ctx, b.actor)
			if err != nil {
				return err
			}
			if err := a.db.EndCalendarAddress(ctx, storage.Actor{FarmID: a.actor.FarmID, PersonID: b.actor.PersonID}); err != nil {
				return err
			}
			_, err = b.db.CalendarOf(ctx, secret)
			return err
		},
		"Due": func() error {
			list, err := a.db.Due(ctx, a.actor)
			for _, d := range list.Due {
				if strings.Contains(d.Text.En, "Old well") || strings.Contains(d.Text.En, "Heap one") || strings.Contains(d.Text.En, "Cory") {
					t.Errorf("a duty of another farm: %+v", d)
				}
			}
			return err
		},
		"ToSign":           func() error { list, err := a.db.ToSign(ctx, a.actor); return empty(len(list), err) },
		"SignedCheckpoint": func() error { _, err := a.db.SignedCheckpoint(ctx, uuid.Must(uuid.NewV7())); return notFound(err) },
		"SignedIn": func() error {
			token, err := b.db.NewToken(ctx, b.actor, storage.Token{PersonID: b.person, Label: "phone"})
			if err != nil {
				return err
			}
			actor, err := a.db.SignedIn(ctx, token)
			if actor.FarmID != b.actor.FarmID || actor.PersonID != b.person || actor.Role != domain.Crew {
				t.Errorf("a token of farm B signs in %+v", actor)
			}
			return err
		},
		"StartOf": func() error {
			for _, code := range []string{b.batch.String(), b.bed.String(), "1182", "Heap one"} {
				if start, err := a.db.StartOf(r, code); asDomain(err) == nil {
					t.Errorf("%s stands for %+v of another farm (%v)", code, start, err)
				}
			}
			return nil
		},
		"Stock": func() error { list, err := a.db.Stock(r, b.manure); return empty(len(list), err) },
		"Switch": func() error {
			return notFound(a.db.Switch(ctx, storage.Session{ID: b.session.ID, FarmID: a.actor.FarmID, Role: domain.Owner}, b.person, "7391"))
		},
		"Today": func() error {
			_, farm, err := a.db.Today(r)
			if err == nil && farm.ID != a.actor.FarmID {
				t.Errorf("today of farm %s", farm.ID)
			}
			return err
		},
		"Tokens": func() error {
			list, err := a.db.Tokens(r)
			if len(list) != 1 {
				t.Errorf("%d tokens, want the owner's own", len(list))
			}
			return err
		},
		"TraceBack":    func() error { _, err := a.db.TraceBack(r, lot.Code); return notFound(err) },
		"TraceForward": func() error { _, err := a.db.TraceForward(r, b.manure); return notFound(err) },
		"TraceFrom": func() error {
			for _, start := range []domain.TraceStart{{Lot: b.mix.Code}, {Crate: b.mix.CrateCodes[1]}, {Reference: "1182"}, {InputLotID: b.manure}, {CompostBatchID: b.batch},
				{WaterSourceID: b.well}, {BedID: b.bed}, {PersonID: b.person}, {InputID: b.inputOf(b.manure)}, {Supplier: "Barn"}} {
				for _, forward := range []bool{true, false} {
					if trace, err := a.db.TraceFrom(r, start, forward); err == nil && len(trace.Nodes) > 0 {
						t.Errorf("%+v reaches %d things of another farm", start, len(trace.Nodes))
					} else if err != nil && asDomain(err) == nil {
						return err
					}
				}
			}
			return nil
		},
		"Verify":      func() error { _, err := a.db.Verify(ctx, uuid.Must(uuid.NewV7()), nil); return notFound(err) },
		"Void":        func() error { _, err := a.db.Void(ctx, a.actor, nil, "person", b.person, "x"); return notFound(err) },
		"WithPIN":     func() error { list, err := a.db.WithPIN(r); return empty(len(list), err) },
		"WaterSource": func() error { _, err := a.db.WaterSource(r, b.well); return notFound(err) },
	}
	ofNoFarm := []string{"Close", "Now", "OpenFarm", "Ready"}
	ofTests := []string{"HeldConns", "Write"}
	db := reflect.TypeFor[*storage.DB]()
	for i := range db.NumMethod() {
		name := db.Method(i).Name
		if try := methods[name]; try != nil {
			if err := try(); err != nil {
				t.Errorf("%s: %v", name, err)
			}
		} else if !slices.Contains(ofNoFarm, name) && !slices.Contains(ofTests, name) {
			t.Errorf("%s is not tried with another farm's ids: add it", name)
		}
	}
	if n := a.entries(); n != mine {
		t.Errorf("farm A has %d entries, had %d", n, mine)
	}
	after := b.dump()
	for table, rows := range before {
		if !slices.Equal(rows, after[table]) {
			t.Errorf("%s of farm B changed", table)
		}
	}
	if s, at, err := b.db.Session(ctx, b.cookie); err != nil || at.PersonID != b.person || s.ID != b.session.ID {
		t.Errorf("the phone of farm B is now %+v with %+v at it (%v)", s, at, err)
	}
	if err := b.db.Switch(ctx, b.session, b.person, "7391"); err != nil {
		t.Errorf("the PIN of farm B no longer opens: %v", err)
	}
	if _, err := b.db.SignedIn(ctx, b.token); err != nil {
		t.Errorf("the token of farm B no longer opens: %v", err)
	}
	// The same with B's own reading finds everything, so the ids were right.
	if _, err := b.db.TraceBack(theirs, lot.Code); err != nil {
		t.Error(err)
	}
	if _, err := b.db.WaterSource(theirs, b.well); err != nil {
		t.Error(err)
	}
}

// phone signs a shared phone of the farm in and puts the crew at it.
func (r *rich) phone() {
	r.t.Helper()
	var err error
	r.token, err = r.db.NewToken(ctx, r.actor, storage.Token{PersonID: r.actor.PersonID, Label: "owner's"})
	mustBe(r.t, err)
	owner, err := r.db.SignedIn(ctx, r.token)
	mustBe(r.t, err)
	r.shown = owner.Shown
	r.cookie, r.session, err = r.db.OpenSession(ctx, owner, storage.Session{Label: "wash shed", Shared: true, Role: domain.Crew})
	mustBe(r.t, err)
	mustBe(r.t, r.db.SetPIN(ctx, r.actor, r.person, "7391"))
	mustBe(r.t, r.db.Switch(ctx, r.session, r.person, "7391"))
}

// writeTheirs tries to write records of farm A that name things of farm B.
func (f *field) writeTheirs(b *rich, own uuid.UUID) {
	f.t.Helper()
	a := f.application(b.manure, "2026-04-01", "", f.bed)
	c := f.application(uuid.Nil, "2026-04-01", "", f.bed)
	c.Source = domain.Source{CompostBatchID: b.batch}
	crop := b.cropOf(b.planting)
	for _, try := range []struct {
		record  domain.Record
		pointer string
	}{
		{&domain.Bed{Name: "X", PlotID: b.plot, From: day("2026-01-01")}, "#/plot_id"},
		{&domain.BedLayout{PlotID: b.plot, On: day("2026-01-01"), Lay: []domain.LaidBed{{Name: "X"}}}, "#/plot_id"},
		{&domain.BedLayout{PlotID: f.plot, On: day("2026-11-01"), Lay: []domain.LaidBed{{Name: "X", Over: ids(b.bed)}}}, "#/lay/0/over/0"},
		{&domain.BedProduction{BedID: b.bed, On: day("2026-01-01"), Reason: "x"}, ""},
		{&domain.Planting{CropID: crop, BedIDs: ids(f.bed), PlantedOn: day("2026-04-01")}, "#/crop_id"},
		{&domain.Planting{CropID: f.cropOf(own), BedIDs: ids(b.bed), PlantedOn: day("2026-04-01")}, "#/bed_ids/0"},
		{&domain.Planting{CropID: f.cropOf(own), BedIDs: ids(f.bed), PlantedOn: day("2026-04-01"), SeedLotID: b.manure}, "#/seed_lot_id"},
		{&domain.InputLot{InputID: b.inputOf(b.manure), Supplier: "S", ReceivedOn: day("2026-01-01"), Quantity: domain.Q("1", "lb")}, "#/input_id"},
		{a, "#/source/input_lot_id"},
		{c, "#/source/compost_batch_id"},
		{f.application(f.manure, "2026-04-01", "", b.bed), "#/ground/bed_ids/0"},
		{&domain.Grazing{Species: "hens", Ground: domain.Ground{PlotID: b.plot}, From: day("2026-04-01")}, "#/ground/plot_id"},
		{f.lot(b.planting, "2026-06-01", f.bed), "#/planting_id"},
		{f.lot(own, "2026-06-01", b.bed), "#/bed_ids/0"},
		{&domain.Disposal{LotID: b.heldLot, On: day("2026-08-01"), Quantity: domain.Q("1", "lb"), How: "compost"}, ""},
		{&domain.LabelPrint{LotID: b.heldLot, Size: "4x2in", Copies: 1}, "#/lot_id"},
		{&domain.LabelDiscard{LotID: b.heldLot, Void: 1, Reason: "x"}, "#/lot_id"},
		{&domain.LostLabel{FoundAt: at("2026-06-05", 13), Where: "x", Decision: "set-aside", May: []string{b.mix.CrateCodes[0]}}, "#/may_be/0"},
		{&domain.BuyerLink{CustomerID: b.link, ShipmentIDs: ids(b.link), ExpiresOn: day("2027-01-01")}, "#/shipment_ids/0"},
		{&domain.Hold{On: domain.HoldTarget{BedID: b.bed}, Reason: "x"}, "#/on"},
		{&domain.Hold{On: domain.HoldTarget{LotID: b.heldLot}, Reason: "x"}, "#/on"},
		{&domain.Release{HoldID: b.heldLot, Reason: "x"}, ""},
		{&domain.CompostTurning{BatchID: b.batch, TurnedAt: at("2026-03-05", 9)}, ""},
		{&domain.WaterTest{SourceID: b.well, SampledAt: at("2026-06-01", 7), Analyte: "generic E. coli"}, "#/source_id"},
		{&domain.Finding{What: "flood", Ground: domain.Ground{BedIDs: ids(b.bed)}, FoundAt: at("2026-06-01", 7), TouchedCrop: domain.TouchedNo}, "#/ground/bed_ids/0"},
		{&domain.CorrectiveAction{FoundOn: day("2026-06-01"), What: "x", Fix: "y", LotIDs: ids(b.heldLot)}, "#/lot_ids/0"},
		{&domain.CorrectiveAction{FoundOn: day("2026-06-01"), What: "x", Fix: "y", LogEntryIDs: ids(b.illness)}, "#/log_entry_ids/0"},
		{logOf("egg-washing", "2026-06-01", "trays", `"1"`), "#/sheet"},
		{logOf("training", "2026-06-01", "people", `["`+b.person.String()+`"]`, "topics", `["hygiene"]`, "trainer", `"Lee"`), "#/values/people/0"},
		{logOf("field-walk", "2026-06-01", "beds", `["`+b.bed.String()+`"]`, "all_clear", `"yes"`), "#/values/beds/0"},
		{logOf("cooling", "2026-06-01", "lots", `["`+b.lots[0].Code+`"]`, "place", `"shed"`, "method", `"room"`), "#/values/lots/0"},
		{&domain.PackLot{PackedAt: at("2026-06-05", 13), Product: "mix", Quantity: domain.Q("1", "lb"), From: []domain.PackFrom{{Lot: b.lots[0].Code, Quantity: domain.Q("1", "lb")}}}, "#/from/0/lot"},
	} {
		_, err := f.record(try.record)
		if try.pointer == "" {
			wantCode(f.t, err, domain.CodeNotFound)
		} else {
			wantField(f.t, err, try.pointer, "")
		}
	}
}

// Every table of the schema holds its rows by farm, with row-level security on and a policy; a new table that does not
// is found here.
func TestEveryTableIsGuarded(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	rows, err := connect(t, f.owner).Query(ctx, `select c.relname::text, c.relrowsecurity and c.relforcerowsecurity,
			exists (select from pg_policies p where p.schemaname = 'public' and p.tablename = c.relname and p.cmd = 'ALL' and 'croftmark_service' = any(p.roles)
				and p.qual like '%farm_id%croftmark_farm()%' and p.with_check like '%farm_id%croftmark_farm()%'),
			(select count(*) from pg_policies p where p.schemaname = 'public' and p.tablename = c.relname and p.policyname <> c.relname || '_owner_looks_up'),
			exists (select from pg_policies p where p.schemaname = 'public' and p.tablename = c.relname and p.policyname = c.relname || '_owner_looks_up'
				and (p.cmd <> 'SELECT' or p.roles <> array[pg_get_userbyid(c.relowner)])),
			exists (select from pg_attribute a where a.attrelid = c.oid and a.attname = 'farm_id' and a.attnotnull),
			coalesce((select a.attname::text from pg_index i join pg_attribute a on a.attrelid = c.oid and a.attnum = i.indkey[0] where i.indrelid = c.oid and i.indisprimary), ''),
			has_table_privilege('croftmark_service', c.oid, 'truncate') or has_table_privilege('croftmark_service', c.oid, 'trigger') or has_table_privilege('croftmark_service', c.oid, 'references')
		from pg_class c join pg_namespace n on n.oid = c.relnamespace
		where n.nspname = 'public' and c.relkind in ('r', 'p', 'm', 'f') and c.relname <> 'goose_db_version' order by 1`)
	mustBe(t, err)
	type table struct {
		Name     string
		Secured  bool
		Policy   bool
		Policies int
		Loose    bool
		HasFarm  bool
		FirstKey string
		TooMuch  bool
	}
	tables, err := pgx.CollectRows(rows, pgx.RowToStructByPos[table])
	if err != nil || len(tables) < 15 {
		t.Fatalf("%d tables, %v", len(tables), err)
	}
	for _, x := range tables {
		if !x.Secured || !x.Policy || x.Policies != 1 {
			t.Errorf("%s: row-level security on and forced %t, own-farm policy %t, %d policies; want exactly the one", x.Name, x.Secured, x.Policy, x.Policies)
		}
		if x.Loose {
			t.Errorf("%s: the owner's look-up is for reading, and for the owner alone", x.Name)
		}
		if !x.HasFarm {
			t.Errorf("%s has no farm_id that must be given", x.Name)
		}
		if x.FirstKey != "" && x.FirstKey != "farm_id" && x.Name != "tokens" {
			t.Errorf("the key of %s starts with %s: farms would not lie together", x.Name, x.FirstKey)
		}
		if x.TooMuch {
			t.Errorf("the service may truncate, trigger or reference %s", x.Name)
		}
	}
	var super, bypass, inherits bool
	err = connect(t, f.owner).QueryRow(ctx, `select rolsuper or rolcreaterole or rolcreatedb or rolreplication, rolbypassrls,
		exists (select from pg_auth_members m where m.member = r.oid) from pg_roles r where rolname = 'croftmark_service'`).Scan(&super, &bypass, &inherits)
	if err != nil || super || bypass || inherits {
		t.Errorf("the service's role: powers %t, bypasses row-level security %t, member of another %t (%v)", super, bypass, inherits, err)
	}
	views := f.count(`select count(*) from pg_class c join pg_namespace n on n.oid = c.relnamespace where n.nspname = 'public' and c.relkind = 'v'`)
	if views != 0 {
		t.Errorf("%d views: a view reads with its owner's eyes, past row-level security, unless it says security_invoker", views)
	}
	free := f.count(`select count(*) from pg_proc p join pg_namespace n on n.oid = p.pronamespace where n.nspname = 'public' and p.prosecdef
		and not coalesce(p.proconfig, '{}') && array['search_path=pg_catalog, pg_temp']`)
	if free != 0 {
		t.Errorf("%d functions run as the owner and look tables up where the caller says", free)
	}
}

// With no farm named the service sees nothing, and with one named only that one.
func TestServiceSeesOneFarmAtATime(t *testing.T) {
	t.Parallel()
	a := newField(t, storage.Config{})
	b := a.neighbour()
	conn := connect(t, a.service)
	tables := append(farmTables(t, connect(t, a.owner)), "book_heads", "book_entries", "tokens", "sessions", "pins", "attachment_files", "signing_keys", "checkpoints")
	see := func(tx pgx.Tx, table string) (own, all int) {
		if err := tx.QueryRow(ctx, `select count(*) filter (where farm_id::text = current_setting('croftmark.farm_id', true)), count(*) from `+table).Scan(&own, &all); err != nil {
			t.Fatalf("%s: %v", table, err)
		}
		return own, all
	}
	seen := 0
	for _, farm := range []string{"", a.actor.FarmID.String(), b.actor.FarmID.String(), uuid.Nil.String()} {
		tx, err := conn.Begin(ctx)
		mustBe(t, err)
		if farm != "" {
			_, err = tx.Exec(ctx, `select set_config('croftmark.farm_id', $1, true)`, farm)
			mustBe(t, err)
		}
		for _, table := range tables {
			own, all := see(tx, table)
			if own != all || (farm == "" || farm == uuid.Nil.String()) && all != 0 {
				t.Errorf("as farm %q: %d rows of %s, %d of them its own", farm, all, table, own)
			}
			seen += own
		}
		mustBe(t, tx.Rollback(ctx))
	}
	if seen < 20 {
		t.Errorf("only %d rows seen at all", seen)
	}
	// The name of the farm ends with the transaction: a connection goes back to the pool without one.
	tx, err := conn.Begin(ctx)
	mustBe(t, err)
	if _, all := see(tx, "records"); all != 0 {
		t.Errorf("%d records seen after the farm's transaction ended", all)
	}
	mustBe(t, tx.Rollback(ctx))
	// A text that is no farm's id is an error, not another farm.
	tx, err = conn.Begin(ctx)
	mustBe(t, err)
	_, err = tx.Exec(ctx, `select set_config('croftmark.farm_id', 'x'' or true', true)`)
	mustBe(t, err)
	if _, err := tx.Exec(ctx, `select count(*) from records`); err == nil {
		t.Error("a farm id that is none was taken")
	}
	mustBe(t, tx.Rollback(ctx))

	// Rows of another farm can be neither added nor moved there, nor reached by a query that names no farm.
	for _, sql := range []string{
		`insert into plots (farm_id, id, name) values ('` + b.actor.FarmID.String() + `', gen_random_uuid(), 'X')`,
		`update plots set farm_id = '` + b.actor.FarmID.String() + `'`,
		`insert into tokens (hash, id, farm_id, person_id, label, created_at) values ('\x00', gen_random_uuid(), '` + b.actor.FarmID.String() + `', gen_random_uuid(), 'x', now())`,
	} {
		tx, err := conn.Begin(ctx)
		mustBe(t, err)
		_, err = tx.Exec(ctx, `select set_config('croftmark.farm_id', $1, true)`, a.actor.FarmID.String())
		mustBe(t, err)
		if _, err := tx.Exec(ctx, sql); !isSQLState(err, "42501") {
			t.Errorf("%s: %v, want permission denied", sql, err)
		}
		mustBe(t, tx.Rollback(ctx))
	}
	tx, err = conn.Begin(ctx)
	mustBe(t, err)
	_, err = tx.Exec(ctx, `select set_config('croftmark.farm_id', $1, true)`, a.actor.FarmID.String())
	mustBe(t, err)
	tag, err := tx.Exec(ctx, `update plots set name = name || '!'`)
	if err != nil || tag.RowsAffected() != 1 {
		t.Errorf("an update of every plot reached %d of one farm's one (%v)", tag.RowsAffected(), err)
	}
	// What row-level security does not protect from: whoever holds the connection may name another farm.
	_, err = tx.Exec(ctx, `select set_config('croftmark.farm_id', $1, true)`, b.actor.FarmID.String())
	mustBe(t, err)
	if own, all := see(tx, "plots"); own != 1 || all != 1 {
		t.Errorf("after naming the other farm %d of %d plots; this test says what is so, mend the text above", own, all)
	}
	mustBe(t, tx.Rollback(ctx))
}
