package storage_test

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"croftmark/domain"
)

// ask asks about something and gives the packet of the answer.
func (s *shed) ask(who string, customer uuid.UUID, about domain.TraceStart) *domain.Packet {
	s.t.Helper()
	q := &domain.TracebackRequest{AskedBy: who, AskedAt: at("2026-06-20", 10), For: "authority", About: about, Question: "Where did it come from?"}
	if customer != uuid.Nil {
		q.For, q.CustomerID = "buyer", customer
	}
	s.write(q)
	p, err := s.db.Packet(s.reading(), q.ID)
	mustBe(s.t, err)
	return p
}

// What decides a batch and was written down late is told, and so is what was voided; none of it tells one buyer of another.
func TestAPacketTellsLateAndVoidedRecords(t *testing.T) {
	t.Parallel()
	s := newShed(t)
	batch := s.counted("Heap 1")
	a := s.application(uuid.Nil, "2026-04-20", "2026-04-20", s.beds[0])
	a.Source = domain.Source{CompostBatchID: batch}
	s.write(a)
	wrong := s.application(s.manure, "2026-05-01", "2026-05-01", s.beds[0])
	s.write(wrong)
	_, err := s.void("application", wrong.ID)
	mustBe(t, err)
	after := s.spread(s.manure, "2026-08-01", "2026-08-01", s.beds[0])
	mix := s.pack("34", "2", 4)
	s.write(mix)
	cafe, grocer := s.customer("Copper Ladle", "restaurant"), s.customer("Corner grocer", "grocer")
	mistake := s.ship(cafe, "V-1181", mix.CrateCodes[0])
	s.write(mistake)
	_, err = s.void("shipment", mistake.ID)
	mustBe(t, err)
	sent := s.ship(grocer, "1138", mix.CrateCodes[1])
	s.write(sent)
	s.correct("shipment", sent.ID, `{"reference": {"type": "invoice", "number": "1183"}}`)

	p := s.ask("State inspector", uuid.Nil, domain.TraceStart{Lot: mix.Code})
	late := map[string]int{}
	for _, e := range p.LateEntries {
		late[e.Kind]++
	}
	if late["compost-temperatures"] != 4 || late["compost-curing"] != 1 || late["compost-batch"] != 1 || late["application"] != 2 {
		t.Errorf("late entries %v, want the 4 sheets, the curing, the heap and the two applications by the cut", late)
	}
	told := map[string]domain.PacketCorrection{}
	for _, c := range p.Corrections {
		told[c.Kind+" "+map[bool]string{true: "void", false: c.What}[c.Void]] = c
	}
	if len(told) != 3 || told["application void"].Of == 0 || told["shipment void"].CustomerID != cafe || told["shipment reference"].CustomerID != grocer {
		t.Errorf("corrections %+v", told)
	}
	for _, bed := range p.Beds {
		for _, g := range bed.History {
			if g.On == day("2026-08-01") {
				t.Errorf("bed %s remembers application %s, which came after the cut", bed.Name, after)
			}
		}
	}
	var spread domain.PacketGround
	for _, g := range p.Bed(s.beds[0]).History {
		if g.BatchID == batch {
			spread = g
		}
	}
	if spread.Amount.String() != "2 yd3" || spread.Entry == 0 || spread.DoneBy == "" || *spread.DaysToHarvest != 46 {
		t.Errorf("the batch on the ground: %+v, want 2 yd3, 46 days before the cut (date arithmetic: 2026-04-20 to 2026-06-05)", spread)
	}
	proofs := 0
	for _, proof := range p.Proofs {
		if proof.CustomerID == grocer {
			proofs++
		}
	}
	if proofs != 1 {
		t.Errorf("%d proofs are the grocer's, want that of the shipment", proofs)
	}

	buyer := s.ask("Corner grocer", grocer, domain.TraceStart{Reference: "1183"}).ForAudience()
	raw, err := json.Marshal(buyer)
	mustBe(t, err)
	for _, secret := range []string{"Copper Ladle", "V-1181", cafe.String(), mistake.ID.String()} {
		if strings.Contains(string(raw), secret) {
			t.Errorf("the grocer's packet tells %q", secret)
		}
	}
	if buyer.Withheld.Corrections == 0 {
		t.Error("the grocer's packet does not say that a correction is withheld")
	}
}

// What went in is told in the lot's own unit, and what a food bank got is a donation.
func TestAPacketCountsInTheLotsUnitAndTellsDonations(t *testing.T) {
	t.Parallel()
	s := newShed(t)
	lot := s.chard()
	p := &domain.PackLot{PackedAt: at("2026-06-05", 13), Product: "chard", Quantity: domain.Q("4.536", "kg"), Crates: 2,
		From: []domain.PackFrom{{Lot: lot.Code, Quantity: domain.Q("4.535924", "kg")}}} // 10 lb are 4.5359237 kg (international pound)
	s.write(p)
	bank, cafe := s.customer("Valley food bank", "food-bank"), s.customer("Copper Ladle", "restaurant")
	s.write(s.ship(bank, "D1", p.CrateCodes[0]))
	given := s.ship(cafe, "D2", p.CrateCodes[1])
	given.Reference.Type = "donation-receipt"
	s.write(given)
	s.write(s.sendBack(bank, domain.ShipmentLine{Crates: p.CrateCodes[:1]}))
	sold := s.ship(cafe, "1184", domain.CrateCode(lot.Code, 1))
	s.write(sold)
	packet := s.ask("State inspector", uuid.Nil, domain.TraceStart{Lot: lot.Code})
	if got := packet.Lot(p.Code).Parents[0].Quantity; got.Unit != "lb" || got.Value.Round(5).String() != "10" {
		t.Errorf("%s went in, want 10 lb", got)
	}
	var kinds []string
	for _, m := range packet.Moves {
		kinds = append(kinds, string(m.Kind))
	}
	if got := strings.Join(kinds, " "); got != "donation donation return shipment" {
		t.Errorf("moves %s", got)
	}
	where := map[domain.CratePlace]int{}
	for _, c := range packet.Crates {
		where[c.Where]++
	}
	if where[domain.CrateOnFarm] != 1 || where[domain.CrateShipped] != 1 {
		t.Errorf("crates %v, want the returned one here and the other with the café", where)
	}
	for _, line := range packet.Balance() {
		if !line.Closed() {
			t.Errorf("balance %+v", line)
		}
	}
}

// Salad of three beds to four customers, of whom one sends some back: one bad bed pulls the whole pack lot, and the packet is
// out in seconds.
func TestThreeBedsFourCustomersOneReturn(t *testing.T) {
	t.Parallel()
	s := newShed(t)
	mix := s.pack("34", "2", 8)
	s.write(mix)
	var customers []uuid.UUID
	for n, kind := range []string{"restaurant", "grocer", "market", "school"} {
		to := s.customer("Buyer "+kind, kind)
		customers = append(customers, to)
		s.write(s.ship(to, "12"+kind, mix.CrateCodes[2*n], mix.CrateCodes[2*n+1]))
	}
	s.write(s.sendBack(customers[2], domain.ShipmentLine{Crates: mix.CrateCodes[4:5]}))
	out, err := s.record(s.application(s.manure, "2026-03-10", "2026-03-10", s.beds[1]))
	mustBe(t, err)
	if len(out.Rejudged) != 2 || out.Rejudged[1].LotID != mix.ID || !out.Rejudged[1].Verdict.Refuses() {
		t.Fatalf("rejudged %+v, want the bed's lot and the whole mix", out.Rejudged)
	}
	recall := &domain.Recall{Start: domain.TraceStart{BedID: s.beds[1]}, Reason: "manure remembered late"}
	s.write(recall)
	got, err := s.db.Recall(s.reading(), recall.ID)
	mustBe(t, err)
	if len(got.Lots) != 2 || len(got.Recipients) != 4 || len(got.Balance) != 1 {
		t.Fatalf("%d lots, %d recipients, %d balances; want the bed's lot and the mix, and all four", len(got.Lots), len(got.Recipients), len(got.Balance))
	}
	// 12 lb of the bed and 24 lb of the others: 34 lb went out, 4.25 lb came back, 2 lb were culled.
	if b := got.Balance[0]; b.Made.String() != "36" || b.Shipped.String() != "34" || b.Returned.String() != "4.25" || b.OnHand.String() != "4.25" || b.Disposed.String() != "2" || !b.Unexplained.IsZero() {
		t.Errorf("balance %+v", b)
	}
	held := 0
	for _, l := range got.Lots {
		if l.Held {
			held++
		}
	}
	if held != 2 {
		t.Errorf("%d of 2 lots held", held)
	}
	began := time.Now()
	p := s.ask("State inspector", uuid.Nil, domain.TraceStart{Lot: mix.Code})
	took := time.Since(began)
	t.Logf("packet of %d lots, %d moves and %d proofs in %s", len(p.Lots), len(p.Moves), len(p.Proofs), took.Round(time.Millisecond))
	if len(p.Lots) != 4 || len(p.Beds) != 3 || len(p.Customers) != 4 || len(p.Moves) != 5 || took > 10*time.Second {
		t.Errorf("%d lots, %d beds, %d customers, %d moves in %s", len(p.Lots), len(p.Beds), len(p.Customers), len(p.Moves), took)
	}
}

// A packet names no other buyer by a name, a phone or a paper's number that was corrected since (common practice: a customer
// list is a business's own), nor the customer whom a shipment was first written for.
func TestABuyersPacketTellsNoFormerNames(t *testing.T) {
	t.Parallel()
	s := newShed(t)
	mix := s.pack("34", "2", 4)
	mix.Note = "Kettlewick wanted it chilled"
	s.write(mix)
	cafe := s.write(&domain.Customer{Name: "Kettlewick", Is: "restaurant", Contact: "Odo Brask", Phone: "555 010 7788"})
	grocer := s.customer("Corner grocer", "grocer")
	stranger := s.customer("Marrowby School", "school")
	sent := s.ship(cafe, "INV-77120", mix.CrateCodes[0])
	s.write(sent)
	mine := s.ship(stranger, "1183", mix.CrateCodes[1])
	s.write(mine)
	s.correct("customer", cafe, `{"name": "Copper Ladle", "contact": "Ida Fenn", "phone": "555 010 9911"}`)
	s.correct("shipment", sent.ID, `{"reference": {"type": "invoice", "number": "INV-77210"}}`)
	s.correct("shipment", mine.ID, `{"customer_id": "`+grocer.String()+`"}`)
	gone := &domain.Disposal{LotID: mix.ID, On: day("2026-06-07"), Quantity: domain.Q("1", "lb"), How: "compost"}
	gone.Note = "Odo Brask of Kettlewick (555-010-7788) did not want it with INV-77120, nor did Marrowby School."
	s.write(gone)
	whole := s.ask("State inspector", uuid.Nil, domain.TraceStart{Lot: mix.Code})
	if !strings.Contains(whole.Disposals[0].Note, "Kettlewick") {
		t.Error("the authority's packet does not name the buyer, so the search finds nothing at all")
	}
	buyer := s.ask("Corner grocer", grocer, domain.TraceStart{Reference: "1183"}).ForAudience()
	raw, err := json.Marshal(buyer)
	mustBe(t, err)
	for _, secret := range []string{"Kettlewick", "Odo Brask", "010-7788", "010 7788", "INV-77120", "INV-77210", "Copper Ladle", "Marrowby"} {
		if strings.Contains(string(raw), secret) {
			t.Errorf("the grocer's packet tells %q", secret)
		}
	}
	own := false
	for _, proof := range buyer.Proofs {
		own = own || strings.Contains(proof.Data, mine.ID.String())
	}
	if !own || len(buyer.Moves) != 1 || buyer.Moves[0].ID != mine.ID {
		t.Errorf("moves %+v and %d proofs, want the grocer's own shipment and its proof", buyer.Moves, len(buyer.Proofs))
	}
}
