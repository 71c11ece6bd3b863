package storage_test

import (
	"slices"
	"testing"

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
