package storage_test

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"croftmark/domain"
	"croftmark/storage"
)

// S30 and S31: however the question is asked, the same lots are reached; the sums close; others' names are not needed.
func TestRecallReachesTheSameLotsByEveryRoute(t *testing.T) {
	t.Parallel()
	s := newShed(t)
	application := s.spread(s.manure, "2025-11-01", "2025-11-02", s.beds[0])
	mix := s.pack("34", "2", 4)
	mix.Line = "table 1"
	s.write(mix)
	cafe, grocer := s.customer("Copper Ladle", "restaurant"), s.customer("Corner grocer", "grocer")
	s.write(s.ship(cafe, "1182", mix.CrateCodes[0]))
	s.write(s.ship(grocer, "1183", mix.CrateCodes[1], mix.CrateCodes[2]))
	s.write(&domain.Return{CustomerID: grocer, ReturnedAt: at("2026-06-06", 18), Lines: []domain.ShipmentLine{{Crates: mix.CrateCodes[2:3]}}, Decision: "compost"})
	_ = application
	r := storage.Reading{Ctx: ctx, Farm: s.actor.FarmID}

	recall := &domain.Recall{Start: domain.TraceStart{InputLotID: s.manure}, Drill: true, Reason: "yearly drill"}
	s.write(recall)
	got, err := s.db.Recall(r, recall.ID)
	if err != nil {
		t.Fatal(err)
	}
	if len(got.Lots) != 2 || len(got.Recipients) != 2 || len(got.Balance) != 1 {
		t.Fatalf("%d lots, %d recipients, %d balances", len(got.Lots), len(got.Recipients), len(got.Balance))
	}
	// 18 lb of the manured bed and 18 lb of others went in; 34 lb and 2 lb culls came out.
	b := got.Balance[0]
	if b.Made.String() != "36" || !b.Unexplained.IsZero() || b.AccountedPct.String() != "100" {
		t.Errorf("balance %+v", b)
	}
	var want []string
	for _, start := range []domain.TraceStart{{Lot: mix.Code}, {Crate: mix.CrateCodes[3]}, {Reference: "1182"}, {CustomerID: cafe, On: day("2026-06-06")}, {Crop: "salad mix", On: day("2026-06-05")}} {
		back, err := s.db.TraceFrom(r, start, false)
		if err != nil {
			t.Fatal(err)
		}
		var lots []string
		for _, n := range append(back.Of("harvest-lot"), back.Of("pack-lot")...) {
			lots = append(lots, n.ID.String())
		}
		slices.Sort(lots)
		if want == nil {
			want = lots
		}
		if len(lots) != 4 || !slices.Equal(lots, want) {
			t.Errorf("%+v reaches %v, want %v", start, lots, want)
		}
	}
	forward, err := s.db.TraceFrom(r, domain.TraceStart{BedID: s.beds[1]}, true)
	if err != nil || len(forward.Of("customer")) != 2 {
		t.Errorf("forward from a bed: %d customers (%v)", len(forward.Of("customer")), err)
	}
	random := &domain.Recall{RandomCrate: true, Drill: true, Reason: "surprise"}
	s.write(random)
	if random.Start.Crate == "" {
		t.Error("the drill has no crate")
	}
	if other, err := s.db.TraceFrom(r, domain.TraceStart{PersonID: uuid.Must(uuid.NewV7())}, true); err != nil || len(other.Nodes) != 0 {
		t.Errorf("a person who cut nothing: %d nodes (%v)", len(other.Nodes), err)
	}
}

// Record forms 4.3: a recall has its start trigger by name; that of a person stays in the book (S36).
func TestARecallNamesItsStart(t *testing.T) {
	t.Parallel()
	s := newShed(t)
	pile, well, cafe := s.pile("Heap 1", "2025-03-01"), s.well(), s.customer("Copper Ladle", "restaurant")
	for name, starts := range map[string][]domain.TraceStart{
		"Heap 1": {{CompostBatchID: pile}}, "Shed well": {{WaterSourceID: well}}, "Lower 4": {{BedID: s.beds[0]}}, "Copper Ladle": {{CustomerID: cafe, On: day("2026-06-06")}},
		"Input raw-manure, lot K7, Old Mill Dairy": {{InputLotID: s.manure}}, "Input raw-manure": {{InputID: s.inputOf(s.manure)}},
		"": {{PersonID: s.actor.PersonID}, {Lot: s.lots[0].Code}, {BedID: uuid.Must(uuid.NewV7())}},
	} {
		for _, start := range starts {
			recall := &domain.Recall{Start: start, Drill: true, Reason: "yearly drill"}
			s.write(recall)
			if got, err := s.db.Recall(s.reading(), recall.ID); err != nil || got.StartName != name {
				t.Errorf("%+v is called %q (%v), want %q", start, got.StartName, err, name)
			}
		}
	}
}

// A loss that the tolerance let pass was written down by nobody, and the drill says so.
func TestADrillTellsWhatPackingLost(t *testing.T) {
	t.Parallel()
	s := newShed(t)
	mix := s.pack("35", "", 5) // 36 lb went in
	s.write(mix)
	cafe := s.customer("Copper Ladle", "restaurant")
	s.write(s.ship(cafe, "1182", mix.CrateCodes[0]))
	s.write(s.sendBack(cafe, domain.ShipmentLine{Crates: mix.CrateCodes[:1]}))
	drill := &domain.Recall{Start: domain.TraceStart{Lot: mix.Code}, Drill: true, Reason: "yearly drill"}
	s.write(drill)
	got, err := s.db.Recall(s.reading(), drill.ID)
	mustBe(t, err)
	if b := got.Balance[0]; b.Unexplained.String() != "1" || b.AccountedPct.String() != "97.22" {
		t.Errorf("balance %+v, want 1 of 36 lb unexplained", b)
	}
	if len(got.Gaps) != 1 || !strings.Contains(got.Gaps[0], mix.Code) || !strings.Contains(got.Gaps[0], "1 lb did not come out (2.8 %)") {
		t.Errorf("gaps %q, want the pound that packing lost", got.Gaps)
	}
	letter := domain.RecallLetter(&got.Farm, &got.Recall, got.Recipients[0])
	if !strings.Contains(letter, "  "+mix.Product+": lot "+mix.Code+", 7 lb, crates 1, delivered 2026-06-06, paper 1182") ||
		!strings.Contains(letter, "you sent back:\n  "+mix.Product+": lot "+mix.Code+", 7 lb, crates 1, on 2026-06-06") {
		t.Errorf("the letter does not tell what went and what came back:\n%s", letter)
	}
}

// Who only sent something back got nothing to set apart: no letter, and a gap.
func TestNoLetterForWhoOnlySentBack(t *testing.T) {
	t.Parallel()
	back := domain.Recipient{Name: "Corner grocer", Got: []domain.Got{{LotCode: "P26156-SAL-1-B3", Back: true, Quantity: domain.Q("1", "lb")}}}
	both := domain.Recipient{Name: "Copper Ladle", Got: append([]domain.Got{{LotCode: "P26156-SAL-1-B3", Quantity: domain.Q("2", "lb")}}, back.Got...)}
	if back.Delivered() || !both.Delivered() {
		t.Errorf("delivered: only back %t, both %t", back.Delivered(), both.Delivered())
	}
}

// Lots that used one tank or table before the next clean are told apart from the chain, in traces, recalls and packets.
func TestPossibleContactIsToldApart(t *testing.T) {
	t.Parallel()
	s := newShed(t)
	bed := s.write(&domain.Bed{Name: "Lower 9", PlotID: s.plot, From: day("2024-03-01")})
	planting := s.plant("chard", domain.Touches, "2026-04-20", bed)
	pack := func(from *domain.HarvestLot, hour int, line string) *domain.PackLot {
		t.Helper()
		p := &domain.PackLot{PackedAt: at("2026-06-05", hour), Product: "bunches", Quantity: domain.Q("5", "lb"), Line: line,
			From: []domain.PackFrom{{Lot: from.Code, Quantity: domain.Q("5", "lb")}}}
		s.write(p)
		return p
	}
	other := s.lot(planting, "2026-06-05", bed)
	s.write(other)
	before, same := pack(other, 8, "Table 1"), pack(s.lots[0], 10, "table 1")
	after, elsewhere, washed := pack(other, 11, "table 1"), pack(other, 12, "table 2"), pack(other, 15, "table 1")
	// A clean after which it did not look clean ends nothing; one before the first lot cuts that lot off.
	first := pack(other, 6, "table 1")
	for at, looks := range map[time.Time]string{at("2026-06-05", 9): "no", at("2026-06-05", 7): "yes"} {
		s.write(&domain.LogEntry{Sheet: "cleaning", Habits: domain.Habits{DoneAt: at}, Values: map[string]json.RawMessage{
			"places": json.RawMessage(`["Table 1"]`), "method": json.RawMessage(`"scrubbed"`), "checked": json.RawMessage(`"` + looks + `"`)}})
	}
	well := s.well()
	s.write(&domain.Handling{Use: domain.UseCleaning, SourceID: well, Tank: "TABLE 1", LotIDs: []uuid.UUID{other.ID}, StartedAt: at("2026-06-05", 14)})

	want := map[string]bool{before.Code: true, after.Code: true}
	check := func(what string, codes []string) {
		t.Helper()
		got := map[string]bool{}
		for _, c := range codes {
			got[c] = true
		}
		if !maps.Equal(got, want) {
			t.Errorf("%s: possible contact %v, want %v; %s was elsewhere, %s came after a clean and %s before one", what, got, want, elsewhere.Code, washed.Code, first.Code)
		}
	}
	for _, forward := range []bool{false, true} {
		got, err := s.db.TraceFrom(s.reading(), domain.TraceStart{Lot: same.Code}, forward)
		mustBe(t, err)
		var codes []string
		for _, c := range got.Possible {
			codes = append(codes, c.Lot)
			if !strings.Contains(strings.ToLower(c.How), "shared table 1 on 2026-06-05") {
				t.Errorf("how: %q", c.How)
			}
			for _, n := range got.Nodes {
				if n.ID == c.LotID {
					t.Errorf("lot %s is both in the chain and possible contact", c.Lot)
				}
			}
		}
		check(fmt.Sprint("trace, forward ", forward), codes)
		if tree := got.Tree(); !strings.Contains(tree, "possible contact: lot "+after.Code) {
			t.Errorf("the tree does not tell possible contact:\n%s", tree)
		}
	}
	drill := &domain.Recall{Start: domain.TraceStart{Lot: same.Code}, Drill: true, Reason: "yearly drill"}
	s.write(drill)
	got, err := s.db.Recall(s.reading(), drill.ID)
	mustBe(t, err)
	var codes []string
	for _, l := range got.Possible {
		codes = append(codes, l.Code)
	}
	check("recall", codes)
	if len(got.Lots) != 1 {
		t.Errorf("%d lots in the scope, want the one", len(got.Lots))
	}
	codes = nil
	for _, c := range s.ask("State inspector", uuid.Nil, domain.TraceStart{Lot: same.Code}).PossibleContact {
		codes = append(codes, c.Lot)
	}
	check("packet", codes)
	// A crate without a label may hold either of two lots.
	s.write(&domain.LostLabel{FoundAt: at("2026-06-20", 9), Where: "third stop", May: []string{same.Code, elsewhere.Code}, Decision: "set-aside"})
	found, err := s.db.TraceFrom(s.reading(), domain.TraceStart{Lot: same.Code}, true)
	mustBe(t, err)
	told := map[string]string{}
	for _, c := range found.Possible {
		told[c.Lot] = c.How
	}
	if len(told) != 3 || told[elsewhere.Code] != "may be in a crate that lost its label" {
		t.Errorf("with a crate without a label: %v", told)
	}
}

// A lot that went into the recalled one in part is told as its parent, beside the tank that both were in.
func TestPossibleContactNamesAParent(t *testing.T) {
	t.Parallel()
	s := newShed(t)
	well := s.well()
	s.write(s.sample(well, "", at("2026-06-01", 8), "<1"))
	for _, lot := range s.lots[:2] {
		s.write(&domain.Handling{Use: domain.UseWashing, SourceID: well, Tank: "dunk", LotIDs: []uuid.UUID{lot.ID}, StartedAt: at("2026-06-05", 9)})
	}
	pack := &domain.PackLot{PackedAt: at("2026-06-05", 10), Product: "bunches", Quantity: domain.Q("5", "lb"), Tank: "dunk",
		From: []domain.PackFrom{{Lot: s.lots[0].Code, Quantity: domain.Q("5", "lb")}}}
	s.write(pack)
	drill := &domain.Recall{Start: domain.TraceStart{Lot: pack.Code}, Drill: true, Reason: "yearly drill"}
	s.write(drill)
	got, err := s.db.Recall(s.reading(), drill.ID)
	mustBe(t, err)
	how := map[string]string{}
	for _, l := range got.Possible {
		how[l.Code] = l.How
	}
	const tank = "shared dunk on 2026-06-05, with no clean between on record"
	want := map[string]string{s.lots[0].Code: "some of it went into lot " + pack.Code + "; " + tank, s.lots[1].Code: tank}
	if !maps.Equal(how, want) {
		t.Errorf("possible contact %v, want %v", how, want)
	}
}

// A moment of an absurd year is refused, new or as a correction: its day could not be read again from the book.
func TestARecallOfTheYearOneIsRefused(t *testing.T) {
	t.Parallel()
	s := newShed(t)
	drill := &domain.Recall{Start: domain.TraceStart{Lot: s.lots[0].Code}, Drill: true, Reason: "yearly drill"}
	s.write(drill)
	old := &domain.Recall{Start: drill.Start, Drill: true, Reason: "slip", StartedAt: time.Date(1, 1, 1, 1, 0, 0, 0, time.UTC)}
	_, err := s.db.Record(ctx, s.actor, nil, old)
	wantField(t, err, "#", "Check the year")
	_, err = s.db.Correct(ctx, s.actor, nil, "recall", drill.ID, "Read again.", json.RawMessage(`{"started_at": "0001-01-10T00:00:00Z"}`))
	wantField(t, err, "#", "Check the year")
	if _, err := s.db.Recall(s.reading(), drill.ID); err != nil {
		t.Error(err)
	}
}

// A file with a heading only writes nothing, and says so.
func TestATemperatureFileWithoutReadingsIsRefused(t *testing.T) {
	t.Parallel()
	s := newShed(t)
	pile := s.pile("Heap 1", "2025-03-01")
	before := s.entries()
	if _, err := s.db.ImportTemperatures(ctx, s.actor, nil, pile, nil); err == nil || !strings.Contains(err.Error(), "no reading") {
		t.Errorf("an empty file: %v", err)
	}
	if n := s.entries(); n != before {
		t.Errorf("%d entries, had %d", n, before)
	}
}
