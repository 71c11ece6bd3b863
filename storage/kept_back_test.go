package storage_test

import (
	"strings"
	"testing"

	"github.com/google/uuid"

	"croftmark/domain"
	"croftmark/storage"
)

// onHandOf gives a lot as it is picked for packing and loading.
func (s *shed) onHandOf(code string) storage.LotOnHand {
	s.t.Helper()
	lots, err := s.db.LotsOnHand(s.reading(), day("2026-06-08"))
	mustBe(s.t, err)
	for _, l := range lots {
		if l.Code == code {
			return l
		}
	}
	s.t.Fatalf("lot %s is not on hand", code)
	return storage.LotOnHand{}
}

// packOf packs so much of a lot anew.
func packOf(code, pounds string) *domain.PackLot {
	return &domain.PackLot{PackedAt: at("2026-06-07", 9), Product: "bags", Quantity: domain.Q(pounds, "lb"), From: []domain.PackFrom{{Lot: code, Quantity: domain.Q(pounds, "lb")}}}
}

// S25, the decision about what came back: a crate on hold, or set down for compost or animals, neither leaves again nor is
// packed, and the rest of its lot does and is. A lead decides by writing the return anew.
func TestWhatCameBackIsNotSoldBeforeItIsDecided(t *testing.T) {
	t.Parallel()
	for _, decision := range []string{"hold", "compost", "animal-feed"} {
		t.Run(decision, func(t *testing.T) {
			t.Parallel()
			s := newShed(t)
			mix := s.pack("34", "2", 4) // 8.5 lb in each
			s.write(mix)
			market := s.customer("Saturday market", "market")
			s.write(s.ship(market, "load 12", mix.CrateCodes[0]))
			back := s.sendBack(market, domain.ShipmentLine{Crates: mix.CrateCodes[:1]})
			back.Decision = decision
			s.write(back)
			again := s.ship(market, "load 13", mix.CrateCodes[0])
			_, err := s.record(again)
			wantCode(t, err, domain.CodeLotHeld)
			if e := asDomain(err); e == nil || !strings.Contains(e.Detail, back.ID.String()) {
				t.Errorf("%v, want a refusal that names the return", err)
			}
			_, err = s.record(packOf(mix.Code, "26"))
			wantField(t, err, "#/from/0/quantity", "25.5 lb")
			l := s.onHandOf(mix.Code)
			if l.OnHand.Value.String() != "25.5" || l.KeptBack.Value.String() != "8.5" || len(l.Crates) != 3 || l.Held || s.onHand(mix.Code) != "34" && s.onHand(mix.Code) != "34.0" {
				t.Errorf("%+v; %s lb of the lot on the farm", l, s.onHand(mix.Code))
			}
			s.write(s.ship(market, "load 14", mix.CrateCodes[1:4]...))
			if l := s.onHandOf(mix.Code); !l.Held || len(l.Crates) != 0 {
				t.Errorf("nothing but the crate that came back is left: %+v", l)
			}
			_, err = s.void("return", back.ID)
			mustBe(t, err)
			s.write(s.sendBack(market, domain.ShipmentLine{Crates: mix.CrateCodes[:1]}))
			s.write(again)
		})
	}
}

// What came back without its crate is kept back by its weight, until its disposal is written: the sums tie (S25).
func TestQuantityKeptBackGoesWithItsDisposal(t *testing.T) {
	t.Parallel()
	s := newShed(t)
	mix := s.pack("34", "2", 0)
	s.write(mix)
	market := s.customer("Saturday market", "market")
	out := func(number, pounds string) *domain.Shipment {
		x := s.ship(market, number)
		x.Lines = []domain.ShipmentLine{ofLot(mix.Code, pounds)}
		return x
	}
	kept := func(free, kept string) {
		t.Helper()
		if l := s.onHandOf(mix.Code); l.OnHand.Value.String() != free || !l.KeptBack.IsZero() != (kept != "0") || kept != "0" && l.KeptBack.Value.String() != kept {
			t.Errorf("%s free and %s kept back, want %s and %s", l.OnHand, l.KeptBack, free, kept)
		}
	}
	dispose := func(pounds string) {
		t.Helper()
		s.write(&domain.Disposal{LotID: mix.ID, On: day("2026-06-07"), Quantity: domain.Q(pounds, "lb"), How: "compost"})
	}
	dispose("2") // of what never left: it is not taken from what comes back later
	s.write(out("load 12", "14"))
	back := s.sendBack(market, ofLot(mix.Code, "9"))
	back.Decision = "compost"
	s.write(back)
	kept("18", "9")
	_, err := s.record(out("load 13", "19"))
	wantField(t, err, "#/lines/0/quantity", "18 lb")
	dispose("4")
	kept("18", "5")
	dispose("5")
	kept("18", "0")
	s.write(out("load 13", "10"))
	held := s.sendBack(market, ofLot(mix.Code, "3"))
	held.Decision = "hold"
	s.write(held)
	kept("8", "3")
	before := s.onHandOf(mix.Code)
	_, err = s.db.Rebuild(ctx, s.actor.FarmID, nil)
	mustBe(t, err)
	if after := s.onHandOf(mix.Code); after.OnHand.String() != before.OnHand.String() || after.KeptBack.String() != before.KeptBack.String() {
		t.Errorf("%+v before the rebuild, %+v after", before, after)
	}
}

// S25: what customers handled is not sent to kitchens and grocers without a word. A market may have it.
func TestHandledGoodsForAKitchenAreWarnedOf(t *testing.T) {
	t.Parallel()
	s := newShed(t)
	mix := s.pack("34", "2", 4)
	s.write(mix)
	market, school := s.customer("Saturday market", "market"), s.customer("Valley school", "school")
	s.write(s.ship(market, "load 12", mix.CrateCodes[:3]...))
	opened, given, shut := s.sendBack(market, domain.ShipmentLine{Crates: mix.CrateCodes[:1]}), s.sendBack(market, domain.ShipmentLine{Crates: mix.CrateCodes[1:2]}), s.sendBack(market, domain.ShipmentLine{Crates: mix.CrateCodes[2:3]})
	opened.Opened, given.Decision = true, "donate"
	s.write(opened)
	s.write(given)
	s.write(shut)
	warned := func(to uuid.UUID, number, crate string) bool {
		t.Helper()
		x := s.ship(to, number, crate)
		out, err := s.record(x)
		mustBe(t, err)
		_, err = s.void("shipment", x.ID)
		mustBe(t, err)
		return len(out.Warnings) == 1 && strings.Contains(out.Warnings[0], crate)
	}
	for i, want := range []bool{true, true, false, false} {
		if warned(school, "1190", mix.CrateCodes[i]) != want {
			t.Errorf("crate %d to a school: warned %t", i+1, !want)
		}
		if warned(market, "load 13", mix.CrateCodes[i]) {
			t.Errorf("crate %d to the market: warned", i+1)
		}
	}
}
