package storage_test

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/google/uuid"

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

// The photos and papers of what an answer speaks of go with it to an authority, each with a proof; to a buyer none does,
// because nobody can look through them for other buyers' names. What is private, or belongs elsewhere, goes nowhere.
func TestPacketFiles(t *testing.T) {
	t.Parallel()
	s := newShed(t)
	s.spread(s.manure, "2025-11-01", "2025-11-02", s.beds[0])
	certificate := s.attach(domain.Attachment{Name: "certificate.pdf"}, labReport)
	s.correct("input-lot", s.manure, `{"attachments": ["`+certificate.Hash+`"]}`)
	shot := s.attach(domain.Attachment{Name: "droppings.jpg"}, photo(t, 1))
	finding := &domain.Finding{What: "droppings", Ground: domain.Ground{BedIDs: ids(s.beds[0])}, FoundAt: at("2026-04-18", 8), TouchedCrop: domain.TouchedNo}
	finding.Attachments = []string{shot.Hash, certificate.Hash}
	s.write(finding)
	elsewhere := &domain.Plot{Name: "Far", History: "known"}
	elsewhere.Attachments = []string{s.attach(domain.Attachment{Name: "far.jpg"}, photo(t, 2)).Hash}
	s.write(elsewhere)
	s.attach(domain.Attachment{Name: "doctor.jpg", Private: true}, photo(t, 3))
	mix := s.pack("34", "2", 4)
	s.write(mix)
	cafe := s.customer("Copper Ladle", "restaurant")
	s.write(s.ship(cafe, "1182", mix.CrateCodes[0]))
	ask := func(by string, customer bool) *domain.Packet {
		r := &domain.TracebackRequest{AskedBy: by, AskedAt: at("2026-06-20", 10), For: "authority", About: domain.TraceStart{Lot: mix.Code}}
		if customer {
			r.For, r.CustomerID = "buyer", cafe
		}
		s.write(r)
		p, err := s.db.Packet(s.reading(), r.ID)
		mustBe(t, err)
		return p.ForAudience()
	}
	p := ask("Inspector", false)
	if len(p.Files) != 2 || p.Files[0].Name != "certificate.pdf" || p.Files[1].Name != "droppings.jpg" || len(p.Files[0].Of) != 2 || p.Files[0].Of[0].Kind != "input-lot" ||
		p.Files[1].Of[0].Kind != "finding" {
		t.Errorf("files: %+v", p.Files)
	}
	proven := 0
	for _, proof := range p.Proofs {
		if proof.Kind == "attachment" && (strings.Contains(proof.Data, certificate.Hash) || strings.Contains(proof.Data, shot.Hash)) {
			proven++
		}
	}
	if proven != 2 {
		t.Errorf("%d of 2 files are proven to be in the book", proven)
	}
	p = ask("Copper Ladle", true)
	raw, err := json.Marshal(p)
	mustBe(t, err)
	if len(p.Files) != 0 || p.Withheld.Files != 2 || strings.Contains(string(raw), shot.Hash) || strings.Contains(string(raw), certificate.Hash) {
		t.Errorf("a buyer is told of %d files, %d withheld", len(p.Files), p.Withheld.Files)
	}
}

// Icing before packing is cooling, a critical tracking event (21 CFR 1.1310 and 1.1325(b); the word in 1.1310 [memory]).
func TestPacketTellsIcingAsCooling(t *testing.T) {
	t.Parallel()
	s := newShed(t)
	s.write(&domain.Handling{Use: domain.UseIce, SourceID: s.well(), Tank: "tote 2", LotIDs: []uuid.UUID{s.lots[0].ID}, StartedAt: at("2026-06-05", 9)})
	packet := s.ask("State inspector", uuid.Nil, domain.TraceStart{Lot: s.lots[0].Code})
	if len(packet.Handling) != 1 || packet.Handling[0].Kind != domain.CoolingKind || packet.Handling[0].Method != "ice, tote 2" {
		t.Errorf("handling %+v", packet.Handling)
	}
}
