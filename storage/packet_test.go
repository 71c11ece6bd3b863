package storage_test

import (
	"encoding/json"
	"strings"
	"testing"

	"croftmark/domain"
	"croftmark/storage"
)

// A grocer asks by invoice: the answer holds the chain to the supplier and the sums, and names no other buyer.
func TestPacketAnswersABuyer(t *testing.T) {
	t.Parallel()
	s := newShed(t)
	s.spread(s.manure, "2025-11-01", "2025-11-02", s.beds[0])
	mix := s.pack("34", "2", 4)
	s.write(mix)
	cafe, grocer := s.customer("Copper Ladle", "restaurant"), s.customer("Corner grocer", "grocer")
	s.write(s.ship(cafe, "1182", mix.CrateCodes[0]))
	s.write(s.ship(grocer, "1183", mix.CrateCodes[1], mix.CrateCodes[2]))
	ask := &domain.TracebackRequest{AskedBy: "Corner grocer", AskedAt: at("2026-06-20", 10), For: "buyer", CustomerID: grocer,
		About: domain.TraceStart{Reference: "1183"}, Question: "Where did invoice 1183 come from?"}
	s.write(ask)
	packet, err := s.db.Packet(storage.Reading{Ctx: ctx, Farm: s.actor.FarmID}, ask.ID)
	if err != nil {
		t.Fatal(err)
	}
	if len(packet.Lots) != 4 || len(packet.Moves) != 2 || len(packet.Customers) != 2 || len(packet.Beds) != 3 || len(packet.InputLots) != 1 || len(packet.Proofs) != 6 {
		t.Errorf("%d lots, %d moves, %d customers, %d beds, %d deliveries, %d proofs", len(packet.Lots), len(packet.Moves), len(packet.Customers),
			len(packet.Beds), len(packet.InputLots), len(packet.Proofs))
	}
	for _, line := range packet.Balance() {
		if !line.Closed() {
			t.Errorf("balance of %s: %+v", line.Lot, line)
		}
	}
	raw, err := json.Marshal(packet.ForAudience())
	if err != nil {
		t.Fatal(err)
	}
	text := string(raw)
	for _, secret := range []string{"Copper Ladle", "1182", cafe.String()} {
		if strings.Contains(text, secret) {
			t.Errorf("the grocer's packet tells %q", secret)
		}
	}
	if !strings.Contains(text, "Old Mill Dairy") || !strings.Contains(text, "1183") {
		t.Error("the packet lacks the supplier or the invoice asked about")
	}
}
