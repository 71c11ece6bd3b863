package storage_test

import (
	"encoding/json"
	"testing"

	"github.com/google/uuid"

	"croftmark/domain"
)

// Common practice: a lot is cut, then packed, shipped and returned, and a record of another order is a slip of the thumb that
// would have another day's water judge the lot. Days are compared, because hours are written from memory.
func TestTheDaysOfALotFollowEachOther(t *testing.T) {
	t.Parallel()
	s := newShed(t) // cut on 2026-06-05
	early := s.pack("34", "2", 4)
	early.PackedAt = at("2026-06-04", 13)
	_, err := s.record(early)
	wantField(t, err, "#/packed_at", "was cut on 2026-06-05 and can't have been packed before that, on 2026-06-04")
	mix := s.pack("34", "2", 4)
	mix.PackedAt = at("2026-06-05", 5) // before the knife was out, by a rough hour
	s.write(mix)
	cafe := s.customer("Copper Ladle", "restaurant")
	sent := s.ship(cafe, "1182", mix.CrateCodes[:2]...)
	sent.ShippedAt = at("2026-06-04", 20)
	_, err = s.record(sent)
	wantField(t, err, "#/shipped_at", "was packed on 2026-06-05 and can't have been shipped before that, on 2026-06-04")
	sent.ShippedAt, sent.Moved = at("2026-06-06", 7), nil
	s.write(sent)
	back := s.sendBack(cafe, domain.ShipmentLine{Crates: mix.CrateCodes[:1]})
	back.ReturnedAt = at("2026-06-05", 18)
	_, err = s.record(back)
	wantField(t, err, "#/returned_at", "first got lot "+mix.Code+" on 2026-06-06 and can't have sent it back before that, on 2026-06-05")
	back.ReturnedAt = at("2026-06-06", 6)
	s.write(back)
	gone := &domain.Disposal{LotID: mix.ID, On: day("2026-06-04"), Quantity: domain.Q("1", "lb"), How: "compost"}
	_, err = s.record(gone)
	wantField(t, err, "#/on", "was packed on 2026-06-05 and can't have been disposed of before that, on 2026-06-04")
	gone.On = day("2026-06-05")
	s.write(gone)

	fix := func(kind string, id uuid.UUID, changes string) error {
		_, err := s.db.Correct(ctx, s.actor, nil, kind, id, "a slip", json.RawMessage(changes))
		return err
	}
	cut := s.lots[0].ID
	wantField(t, fix("harvest-lot", cut, `{"cut_on": "2026-06-06"}`), "#/cut_on", "was packed into "+mix.Code+" on 2026-06-05 and can't have been cut after that, on 2026-06-06")
	mustBe(t, fix("harvest-lot", cut, `{"cut_on": null, "cut_from": "2026-06-04", "cut_to": "2026-06-06"}`)) // what was cut first was packed
	wantField(t, fix("shipment", sent.ID, `{"shipped_at": "2026-06-04T12:00:00Z"}`), "#/shipped_at", "was packed on 2026-06-05")
	wantField(t, fix("shipment", sent.ID, `{"shipped_at": "2026-06-07T12:00:00Z"}`), "#/shipped_at", "came back on 2026-06-06 and can't have left after that, on 2026-06-07")
	mustBe(t, fix("shipment", sent.ID, `{"shipped_at": "2026-06-05T20:00:00Z"}`))
}

// A cut is not moved behind the day on which some of it was loaded or thrown away either.
func TestACutStaysBeforeWhatLeft(t *testing.T) {
	t.Parallel()
	s := newShed(t)
	fix := func(lot uuid.UUID) error {
		_, err := s.db.Correct(ctx, s.actor, nil, "harvest-lot", lot, "a slip", json.RawMessage(`{"cut_on": "2026-06-08"}`))
		return err
	}
	cafe := s.customer("Copper Ladle", "restaurant")
	sent := s.ship(cafe, "1182")
	sent.Lines = []domain.ShipmentLine{ofLot(s.lots[0].Code, "5")}
	s.write(sent)
	wantField(t, fix(s.lots[0].ID), "#/cut_on", "was shipped with 1182 on 2026-06-06")
	gone := &domain.Disposal{LotID: s.lots[1].ID, On: day("2026-06-07"), Quantity: domain.Q("1", "lb"), How: "compost"}
	s.write(gone)
	wantField(t, fix(s.lots[1].ID), "#/cut_on", "was disposed of on 2026-06-07")
	_, err := s.void("disposal", gone.ID)
	mustBe(t, err)
	mustBe(t, fix(s.lots[1].ID))
}
