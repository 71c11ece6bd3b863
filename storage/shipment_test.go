package storage_test

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/google/uuid"

	"croftmark/domain"
)

// chard gives a harvest lot of 40 lb in three crates.
func (s *shed) chard() *domain.HarvestLot {
	s.t.Helper()
	lot := s.lot(s.plant("chard", domain.Touches, "2026-04-20", s.beds[0]), "2026-06-05", s.beds[0])
	lot.Containers = 3
	s.write(lot)
	return lot
}

func (s *shed) sendBack(from uuid.UUID, lines ...domain.ShipmentLine) *domain.Return {
	return &domain.Return{CustomerID: from, ReturnedAt: at("2026-06-06", 18), Lines: lines, Decision: "stock"}
}

// ofLot is a line of so many pounds.
func ofLot(code, pounds string) domain.ShipmentLine {
	return domain.ShipmentLine{Lot: code, Quantity: domain.Q(pounds, "lb")}
}

func (s *shed) onHand(code string) string {
	s.t.Helper()
	p, err := s.db.PackByCode(s.reading(), code)
	mustBe(s.t, err)
	return p.OnHand.Value.String()
}

func TestNoMoreComesBackThanWentOut(t *testing.T) {
	t.Parallel()
	s := newShed(t)
	mix := s.pack("34", "2", 4)
	s.write(mix)
	cafe := s.customer("Copper Ladle", "restaurant")
	s.write(s.ship(cafe, "1182", mix.CrateCodes[0], mix.CrateCodes[1])) // 17 lb
	_, err := s.record(s.sendBack(cafe, ofLot(mix.Code, "9"), ofLot(mix.Code, "9")))
	wantField(t, err, "#/lines/1/quantity", "17 lb")
	_, err = s.record(s.sendBack(cafe, ofLot(mix.Code, "10"), domain.ShipmentLine{Crates: mix.CrateCodes[:1]}))
	wantField(t, err, "#/lines/1/crates/0", "Give the lot and the quantity")
	s.write(s.sendBack(cafe, ofLot(mix.Code, "8.5"), domain.ShipmentLine{Crates: mix.CrateCodes[:1]}))
	_, err = s.record(s.sendBack(cafe, domain.ShipmentLine{Crates: mix.CrateCodes[:1]}))
	wantField(t, err, "#/lines/0/crates/0", "not with that customer")
}

// A crate comes back with what it left with, also when the lot was weighed again in between.
func TestACrateComesBackWithWhatItLeftWith(t *testing.T) {
	t.Parallel()
	s := newShed(t)
	lot := s.chard()
	crate := domain.CrateCode(lot.Code, 1)
	market := s.customer("Saturday market", "market")
	s.write(s.ship(market, "load 12", crate))
	s.correct("harvest-lot", lot.ID, `{"quantity": {"value": "43", "unit": "lb"}}`)
	back := s.sendBack(market, domain.ShipmentLine{Crates: []string{crate}})
	s.write(back)
	if got := back.Moved[0].Quantity.String(); got != "13.34 lb" {
		t.Errorf("%s came back of a crate that left with 13.34 lb", got)
	}
	if got := s.lotByID(lot.ID).OnHand.String(); got != "43.00 lb" {
		t.Errorf("%s on hand, want all 43 lb", got)
	}
}

func TestAShipmentWithAReturnIsNotVoided(t *testing.T) {
	t.Parallel()
	s := newShed(t)
	mix := s.pack("34", "2", 4)
	s.write(mix)
	market, cafe := s.customer("Saturday market", "market"), s.customer("Copper Ladle", "restaurant")
	load := s.ship(market, "load 12", mix.CrateCodes[0], mix.CrateCodes[1])
	s.write(load)
	back := s.sendBack(market, domain.ShipmentLine{Crates: mix.CrateCodes[:1]})
	s.write(back)
	before := s.entries()
	_, err := s.void("shipment", load.ID)
	wantCode(t, err, domain.CodeRuleRefused)
	if e := asDomain(err); e == nil || !strings.Contains(e.Detail, back.ID.String()) || !strings.Contains(e.Detail, "2026-06-06") {
		t.Errorf("%v, want a refusal that names the return", err)
	}
	again := s.ship(cafe, "1186", mix.CrateCodes[0])
	again.ShippedAt = at("2026-06-07", 7)
	s.write(again)
	_, err = s.void("return", back.ID)
	wantCode(t, err, domain.CodeRuleRefused)
	if e := asDomain(err); e == nil || !strings.Contains(e.Detail, "1186") {
		t.Errorf("%v, want a refusal that names the shipment of the same crate", err)
	}
	if s.entries() != before+1 || s.onHand(mix.Code) != "17" {
		t.Errorf("%d entries, want %d; %s lb on hand", s.entries(), before+1, s.onHand(mix.Code))
	}
	for _, step := range []struct {
		kind string
		id   uuid.UUID
	}{{"shipment", again.ID}, {"return", back.ID}, {"shipment", load.ID}} {
		if _, err := s.void(step.kind, step.id); err != nil {
			t.Fatalf("void of the %s: %v", step.kind, err)
		}
	}
	if got := s.onHand(mix.Code); got != "34" && got != "34.0" {
		t.Errorf("%s lb on hand after all was voided, want 34", got)
	}
}

func TestCorrectingAShipment(t *testing.T) {
	t.Parallel()
	s := newShed(t)
	mix := s.pack("34", "2", 4)
	s.write(mix)
	cafe, grocer := s.customer("Copper Ladle", "restaurant"), s.customer("Corner grocer", "grocer")
	sent := s.ship(cafe, "1128", mix.CrateCodes[0], mix.CrateCodes[1])
	s.write(sent)
	s.write(s.ship(grocer, "1183", mix.CrateCodes[2]))
	now := func() (x domain.Shipment) {
		t.Helper()
		rec, err := s.db.ReadRecord(ctx, s.actor.FarmID, "shipment", sent.ID)
		mustBe(t, err)
		decode(t, rec.Body, &x)
		return x
	}
	s.correct("shipment", sent.ID, `{"reference": {"type": "invoice", "number": "1182"}, "vehicle": "white van", "note": "the 8 and the 2 were swapped"}`)
	if x := now(); x.Reference.Number != "1182" || x.Vehicle != "white van" || len(x.Moved) != 2 || s.onHand(mix.Code) != "8.5" {
		t.Errorf("%+v, %s lb on hand", x, s.onHand(mix.Code))
	}
	reached := func(number string) int {
		t.Helper()
		got, err := s.db.TraceFrom(s.reading(), domain.TraceStart{Reference: number}, true)
		mustBe(t, err)
		return len(got.Of("pack-lot"))
	}
	if reached("1182") != 1 || reached("1128") != 0 {
		t.Errorf("1182 reaches %d lots and 1128 %d, want 1 and 0", reached("1182"), reached("1128"))
	}
	fix := func(changes string) error {
		_, err := s.db.Correct(ctx, s.actor, nil, "shipment", sent.ID, "a slip", json.RawMessage(changes))
		return err
	}
	lines := func(lines ...domain.ShipmentLine) string {
		raw, err := json.Marshal(map[string]any{"lines": lines})
		mustBe(t, err)
		return string(raw)
	}
	wantField(t, fix(lines(domain.ShipmentLine{Crates: mix.CrateCodes[1:3]})), "#/lines/0/crates/1", "already left")
	wantField(t, fix(lines(ofLot(mix.Code, "26"))), "#/lines/0/quantity", "25.5 lb")
	wantField(t, fix(`{"moved": []}`), "#/changes/moved", "can't be changed")
	// One of the two crates stayed behind, and a third went instead.
	mustBe(t, fix(lines(domain.ShipmentLine{Crates: []string{mix.CrateCodes[1], mix.CrateCodes[3]}})))
	if x := now(); len(x.Moved) != 2 || x.Moved[1].Crate != 4 || s.onHand(mix.Code) != "8.5" {
		t.Errorf("%+v, %s lb on hand", x.Moved, s.onHand(mix.Code))
	}
	s.write(s.ship(grocer, "1184", mix.CrateCodes[0]))
	back := s.sendBack(cafe, domain.ShipmentLine{Crates: mix.CrateCodes[3:4]})
	s.write(back)
	for _, changes := range []string{`{"customer_id": "` + grocer.String() + `"}`, lines(domain.ShipmentLine{Crates: mix.CrateCodes[1:2]})} {
		if err := fix(changes); asDomain(err) == nil || asDomain(err).Code != domain.CodeRuleRefused || !strings.Contains(asDomain(err).Detail, back.ID.String()) {
			t.Errorf("%s: %v, want a refusal that names the return", changes, err)
		}
	}
	// A lot held since does not stand in the way of mending the paper's number, and is not added to a shipment.
	s.write(&domain.Hold{On: domain.HoldTarget{LotID: mix.ID}, Reason: "complaint"})
	s.write(&domain.Hold{On: domain.HoldTarget{LotID: s.chard().ID}, Reason: "complaint"})
	mustBe(t, fix(`{"handed_to": "the cook"}`))
	chard := s.chard()
	s.write(&domain.Hold{On: domain.HoldTarget{LotID: chard.ID}, Reason: "complaint"})
	wantCode(t, fix(lines(domain.ShipmentLine{Crates: []string{mix.CrateCodes[1], mix.CrateCodes[3]}}, ofLot(chard.Code, "1"))), domain.CodeLotHeld)
}
