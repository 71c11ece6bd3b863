package storage_test

import (
	"slices"
	"testing"

	"croftmark/domain"
)

// What can be packed or loaded: what was packed away or has left is gone from the list, and what came back
// for sale is on it again.
func TestLotsOnHand(t *testing.T) {
	t.Parallel()
	s := newShed(t)
	list := func() map[string]string {
		t.Helper()
		lots, err := s.db.LotsOnHand(s.reading(), day("2026-06-07"))
		if err != nil {
			t.Fatal(err)
		}
		out := map[string]string{}
		for _, l := range lots {
			out[l.Code] = l.OnHand.String()
		}
		return out
	}
	if got := list(); len(got) != 3 || got[s.lots[0].Code] != "18 lb" {
		t.Fatalf("before packing: %v", got)
	}
	mix := s.pack("34", "2", 6)
	mix.CrateNet = domain.Quantity{}
	s.write(mix)
	grocer := s.customer("Grocer", "grocer")
	s.write(s.ship(grocer, "7", mix.CrateCodes[0], mix.CrateCodes[3]))
	s.write(&domain.Return{CustomerID: grocer, ReturnedAt: at("2026-06-06", 15), Lines: []domain.ShipmentLine{{Crates: []string{mix.CrateCodes[3]}}}, Decision: "hold"})
	lots, err := s.db.LotsOnHand(s.reading(), day("2026-06-07"))
	if err != nil {
		t.Fatal(err)
	}
	if len(lots) != 1 || lots[0].Code != mix.Code || lots[0].Name != "salad mix" || lots[0].KeptBack.IsZero() || !slices.Equal(lots[0].Crates, []int{2, 3, 5, 6}) || lots[0].Kind != "pack-lot" {
		t.Errorf("after packing, loading and a return: %+v", lots)
	}
	if lots, err := s.db.LotsOnHand(s.reading(), day("2028-06-07")); err != nil || len(lots) != 0 {
		t.Errorf("two years later: %+v, %v", lots, err)
	}
}
