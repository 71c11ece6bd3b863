package domain_test

import (
	"encoding/json"
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/google/uuid"
	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"croftmark/domain"
)

// The arithmetic of the check in rules reference 6: harvested 120 lb, shipped 96, stock 18, cull 5: 99.17 %.
func TestPacketBalanceCheckValue(t *testing.T) {
	t.Parallel()
	p := onelot("120", "18")
	p.Moves = []domain.PacketMove{{Kind: domain.MoveShipment, Lines: []domain.PacketLine{{Lot: "A", Quantity: domain.Q("96", "lb")}}}}
	p.Disposals = []domain.PacketDisposal{{Lot: "A", Quantity: domain.Q("5", "lb")}}
	b := p.Balance()[0]
	if b.AccountedPct.String() != "99.17" || b.Unexplained.String() != "1" || b.Question != "" || b.Closed() {
		t.Errorf("got %s %%, %s unexplained, %q", b.AccountedPct, b.Unexplained, b.Question)
	}
}

func onelot(made, onHand string) *domain.Packet {
	return &domain.Packet{Lots: []domain.PacketLot{{Code: "A", Kind: domain.CodeKindHarvest, Made: domain.Q(made, "lb"), OnHand: domain.Q(onHand, "lb")}}}
}

func TestPacketBalanceQuestions(t *testing.T) {
	t.Parallel()
	ship := func(q domain.Quantity) []domain.PacketMove {
		return []domain.PacketMove{{Kind: domain.MoveShipment, Lines: []domain.PacketLine{{Lot: "A", Quantity: q}}}}
	}
	t.Run("more than was made is an error in words", func(t *testing.T) {
		p := onelot("10", "2")
		p.Moves = ship(domain.Q("8.5", "lb"))
		b := p.Balance()[0]
		if b.AccountedPct.String() != "105" || b.Unexplained.String() != "-0.5" || !strings.Contains(b.Question, "0.5 lb too much") {
			t.Errorf("%+v", b)
		}
	})
	t.Run("nearly all is not all", func(t *testing.T) {
		p := onelot("100000", "99999.999")
		if b := p.Balance()[0]; b.AccountedPct.String() != "99.99" || b.Closed() {
			t.Errorf("%+v", b)
		}
		p = onelot("100000", "100000.001")
		if b := p.Balance()[0]; b.AccountedPct.String() != "100.01" || b.Question == "" {
			t.Errorf("%+v", b)
		}
	})
	t.Run("other units of one measure", func(t *testing.T) {
		p := onelot("10", "2")
		p.Moves = ship(domain.Q("128", "oz"))
		if b := p.Balance()[0]; !b.Closed() || b.AccountedPct.String() != "100" {
			t.Errorf("%+v", b)
		}
	})
	t.Run("units that can't be counted in each other", func(t *testing.T) {
		p := onelot("10", "2")
		p.Moves = ship(domain.Q("8", "crate"))
		if b := p.Balance()[0]; !strings.Contains(b.Question, "left in crate") {
			t.Errorf("%+v", b)
		}
	})
	t.Run("nobody counted", func(t *testing.T) {
		p := onelot("10", "0")
		p.Lots[0].OnHand = domain.Quantity{}
		if b := p.Balance()[0]; !strings.Contains(b.Question, "on the farm") {
			t.Errorf("%+v", b)
		}
		p.Lots[0].Made = domain.Quantity{}
		if b := p.Balance()[0]; !strings.Contains(b.Question, "how much of lot A was made") {
			t.Errorf("%+v", b)
		}
	})
}

func TestSamplePacketBalances(t *testing.T) {
	t.Parallel()
	for _, b := range samplePacket().Balance() {
		want := "100"
		if b.Lot == packKale {
			want = "96.67" // 58 of 60 lb
		}
		if b.AccountedPct.String() != want || b.Question != "" {
			t.Errorf("%s: %s %%, want %s; %s", b.Lot, b.AccountedPct, want, b.Question)
		}
	}
}

// However a lot is split up, the parts and what is unexplained make the whole, exactly; also in what a buyer may read.
func TestPacketBalanceCloses(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		amount := func(name string) decimal.Decimal {
			return decimal.New(rapid.Int64Range(0, 10_000).Draw(t, name), -int32(rapid.IntRange(0, 4).Draw(t, name+" places")))
		}
		p := &domain.Packet{Lots: []domain.PacketLot{{Code: "A", Made: domain.Quantity{Value: amount("made").Add(decimal.New(1, -3)), Unit: "kg"},
			OnHand: domain.Quantity{Value: amount("on hand"), Unit: "kg"}}, {Code: "B", Parents: []domain.PacketParent{{Code: "A", Quantity: domain.Quantity{Value: amount("packed on"), Unit: "kg"}}}}}}
		for i := range rapid.IntRange(0, 5).Draw(t, "moves") {
			id := uid(byte(1 + i%3))
			p.Customers = append(p.Customers, domain.PacketCustomer{ID: id, Name: fmt.Sprint("customer", i)})
			p.Moves = append(p.Moves, domain.PacketMove{Kind: rapid.SampledFrom([]domain.PacketMoveKind{domain.MoveShipment, domain.MoveDonation, domain.MoveReturn}).Draw(t, "kind"),
				CustomerID: id, Lines: []domain.PacketLine{{Lot: "A", Quantity: domain.Quantity{Value: amount("moved"), Unit: "kg"}}}})
		}
		p.Disposals = []domain.PacketDisposal{{Lot: "A", Quantity: domain.Quantity{Value: amount("disposed"), Unit: "kg"}}}
		b := p.Balance()[0]
		sum := b.OnHand.Add(b.PackedOn).Add(b.Shipped).Sub(b.Returned).Add(b.Disposed).Add(b.Unexplained)
		if !sum.Equal(b.Made) {
			t.Fatalf("%s made, %s found: %+v", b.Made, sum, b)
		}
		if over := b.Unexplained.Sign() < 0; over != (b.Question != "") || over != b.AccountedPct.GreaterThan(decimal.NewFromInt(100)) {
			t.Fatalf("too much is not said: %+v", b)
		}
		if full := b.AccountedPct.Equal(decimal.NewFromInt(100)); full != b.Unexplained.IsZero() {
			t.Fatalf("100 %% and something unexplained: %+v", b)
		}
		for _, buyer := range []uuid.UUID{uid(1), uid(9)} {
			// A sum does not change when some of it is withheld.
			if s := p.ForBuyer(buyer).Balance()[0]; !s.Unexplained.Equal(b.Unexplained) || !s.Shipped.Equal(b.Shipped) || !s.Returned.Equal(b.Returned) {
				t.Fatalf("buyer sees %+v, the book says %+v", s, b)
			}
		}
	})
}

func TestForBuyerKeepsTheirsAndCountsTheRest(t *testing.T) {
	t.Parallel()
	whole := samplePacket()
	before, _ := json.Marshal(whole)
	p := whole.ForBuyer(bistro)
	if after, _ := json.Marshal(whole); string(after) != string(before) {
		t.Error("making a buyer's packet changes the packet")
	}
	if len(p.Customers) != 1 || p.Customers[0].Name != "Bistro Larkspur" || p.Audience.Name != "Bistro Larkspur" || p.Audience.Kind != domain.ForOneBuyer {
		t.Errorf("customers %v, audience %v", p.Customers, p.Audience)
	}
	if len(p.Moves) != 2 || p.Moves[0].Reference.Number != "1182" {
		t.Errorf("moves %v", p.Moves)
	}
	// 40 crates: 17 to the co-op, 3 to the market, 3 to the pantry, 4 to the grocer.
	if w := p.Withheld; w.Customers != 4 || w.Moves != 4 || w.Crates != 27 || w.Corrections != 1 || w.Proofs != 1 || len(w.Lines) != 4 {
		t.Errorf("withheld %+v", w)
	}
	if d := p.Disposals[0].Note; d != "Crate that Bistro Larkspur sent back" {
		t.Errorf("the buyer's own name is struck out: %q", d)
	}
	if h := p.Holds[0].Reason; h != "Water result pending; [another buyer] told by phone" {
		t.Errorf("the hold says %q", h)
	}
	if c := p.Corrections[1].Reason; c != "Asked by [another buyer] ([another buyer]) about invoice 1182 and order [another buyer]" {
		t.Errorf("the correction says %q", c)
	}
	if strings.Contains(strings.Join(p.Gaps(), " "), "packet.") && slices.ContainsFunc(p.Gaps(), func(g string) bool { return strings.Contains(g, "customer of a") }) {
		t.Errorf("what was withheld is told as a gap: %v", p.Gaps())
	}
	again, _ := json.Marshal(p.ForBuyer(bistro))
	if once, _ := json.Marshal(p); string(once) != string(again) {
		t.Error("withholding twice is not the same as once")
	}
	if q := whole.ForBuyer(uid(200)); len(q.Customers)+len(q.Moves) != 0 || q.Withheld.Customers != 5 {
		t.Errorf("a stranger sees %v", q.Customers)
	}
	if whole.ForAudience() != whole {
		t.Error("the authority does not get the whole")
	}
}

// Names that another buyer shares with the farm, the buyer or a crop are no secret, and striking them out would make
// nonsense of the record.
func TestForBuyerStrikesOutNoSharedWords(t *testing.T) {
	t.Parallel()
	p := samplePacket()
	p.Customers[0].Name, p.Customers[0].Phone = "Spinach", p.Customers[1].Phone
	p.Customers[4].Name = "Buyer"
	q := p.ForBuyer(bistro)
	if q.Farm != p.Farm {
		t.Errorf("the farm, whose pantry has the same postal code, is now %+v", q.Farm)
	}
	if q.Lots[0].Commodity != "Spinach" || q.Customers[0].Phone != "(802) 555-0188" {
		t.Errorf("commodity %q, phone %q", q.Lots[0].Commodity, q.Customers[0].Phone)
	}
}

func TestForBuyerStrikesOutHoweverItIsWritten(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]string{
		"Copper Kettle Co-op Warehouse Copper Kettle Co-op Warehouse": "[another buyer] [another buyer]",
		"COPPER  KETTLE\nco-op warehouse":                             "[another buyer]",
		"call 802.555.0177, or 1 (802) 555-0177":                      "call [another buyer], or [another buyer]",
		"9 Mill Street":                                               "[another buyer]",
		"19 Mill Streets":                                             "19 Mill Streets",
		"see BOL-0417.":                                               "see [another buyer].",
		"12 lb on invoice 12, invoice no. 12":                         "12 lb on invoice [another buyer], invoice no. [another buyer]",
		"cut 2026-06-12":                                              "cut 2026-06-12",
		"Bistro Larkspur, invoice 1182, stays":                        "Bistro Larkspur, invoice 1182, stays",
		"shipment " + uid(101).String() + " left":                     "shipment [another buyer] left",
	} {
		p := samplePacket()
		p.Request.Answer = text
		if got := p.ForBuyer(bistro).Request.Answer; got != want {
			t.Errorf("%q becomes %q, want %q", text, got, want)
		}
	}
}

// Who another buyer is stays a secret when the name is mended (common practice: a customer list is a business's own). The
// buyer's own former words stay, and a shipment that was first written for somebody else is the buyer's.
func TestForBuyerStrikesOutFormerNames(t *testing.T) {
	t.Parallel()
	p := samplePacket()
	p.Disposals[0].Note = "The Old Kettle (802-555-0123, INV-77) and the Bistro Lark (INV-78) sent some back with shipment " + uid(102).String()
	p.Proofs[0].Data = `{"note":"for the old kettle"}`
	p.Former = domain.PacketFormer{
		Customers: []domain.PacketCustomer{{ID: coop, Name: "Old Kettle", Phone: "(802) 555-0123"}, {ID: bistro, Name: "Bistro Lark"}},
		Moves: []domain.PacketMove{{CustomerID: coop, Reference: domain.Reference{Type: "invoice", Number: "INV-77"}}, {CustomerID: bistro, Reference: domain.Reference{Type: "invoice", Number: "INV-78"}},
			{ID: uid(102), CustomerID: coop, Reference: domain.Reference{Type: "invoice", Number: "1182"}}},
	}
	q := p.ForBuyer(bistro)
	want := "The [another buyer] ([another buyer], [another buyer]) and the Bistro Lark (INV-78) sent some back with shipment " + uid(102).String()
	if got := q.Disposals[0].Note; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	for _, proof := range q.Proofs {
		if strings.Contains(proof.Data, "kettle") {
			t.Errorf("a proof tells %q", proof.Data)
		}
	}
	if len(q.Former.Customers)+len(q.Former.Moves) != 0 {
		t.Errorf("the buyer's packet keeps %+v", q.Former)
	}
}

// secret words are rare enough that finding one in a file means it leaked.
var secretWord = rapid.StringMatching(`[A-Z][a-z]{2}[qxz][a-z]{4}[qxz][a-z]{2}`)

// leaky is the sample with drawn customers whose words stand everywhere somebody could type them.
func leaky(t *rapid.T) (p *domain.Packet, secrets []string) {
	p = samplePacket()
	var told []string
	// No two customers share a word: one that is also the buyer's own would be no secret.
	drawn := map[string]bool{}
	fresh := func(of *rapid.Generator[string], name string) string {
		s := of.Filter(func(s string) bool { return !drawn[s] }).Draw(t, name)
		drawn[s] = true
		return s
	}
	number := func(name string) string { return fresh(rapid.StringMatching(`[1-9][0-9]{7}`), name) }
	for i := range p.Customers {
		c := &p.Customers[i]
		word := func(what string) string { return fresh(secretWord, what) + " " + fresh(secretWord, what) }
		digits := number("phone")
		c.Name, c.Contact, c.Email = word("name"), word("contact"), fresh(secretWord, "mail")+"@example.org"
		c.Phone = "(802) " + digits[:3] + "-" + digits[3:]
		c.Address = number("house") + " " + word("street") + ", " + fresh(secretWord, "town") + ", VT 05999"
		mine := []string{c.Name, c.Contact, c.Email, c.Phone, c.Address, strings.Split(c.Address, ",")[0]}
		for j := range p.Moves {
			if p.Moves[j].CustomerID == c.ID {
				p.Moves[j].Reference.Number = number("paper")
				mine = append(mine, p.Moves[j].Reference.Number)
			}
		}
		was := domain.PacketCustomer{ID: c.ID, Name: word("former name"), Phone: number("former phone")}
		paper := domain.PacketMove{CustomerID: c.ID, Reference: domain.Reference{Type: "invoice", Number: number("former paper")}}
		p.Former.Customers, p.Former.Moves = append(p.Former.Customers, was), append(p.Former.Moves, paper)
		mine = append(mine, was.Name, was.Phone, paper.Reference.Number)
		told = append(told, mine...)
		if c.ID != bistro {
			secrets = append(secrets, mine...)
		}
	}
	gossip := "Told: " + strings.Join(told, "; ") + ". " + strings.Join(told, " ") + " " + strings.ToUpper(strings.Join(told, " / "))
	p.Request.AskedBy = p.Customers[0].Name
	p.KnownGaps = []string{gossip}
	places := []*string{&p.Request.About, &p.Request.Answer, &p.Holds[0].Reason, &p.Alerts[0].Text, &p.Corrections[0].Reason, &p.LateEntries[0].Reason,
		&p.PossibleContact[0].How, &p.Disposals[0].Note, &p.Lots[0].Reasons[0], &p.Moves[1].Note, &p.Proofs[0].Data, &p.Handling[0].Method, &p.People[0].Did,
		&p.Beds[0].History[0].What, &p.Waters[0].Name, &p.Lots[3].Place, &p.Farm.Contact}
	*rapid.SampledFrom(places).Draw(t, "where it was typed") = gossip
	return p, secrets
}

// finds searches bytes for secrets, whatever the case.
func finds(t interface{ Fatalf(string, ...any) }, what string, out []byte, secrets []string) {
	text := strings.ToLower(string(out))
	for _, s := range secrets {
		if strings.Contains(text, strings.ToLower(s)) {
			t.Fatalf("%s holds another buyer's %q", what, s)
		}
	}
}

func TestForBuyerNeverLeaks(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		p, secrets := leaky(t)
		whole, err := json.Marshal(p)
		if err != nil || !strings.Contains(strings.ToLower(string(whole)), strings.ToLower(secrets[0])) {
			t.Fatalf("the drawn packet holds no secrets: %v", err)
		}
		p.Audience = domain.PacketAudience{Kind: domain.ForOneBuyer, CustomerID: bistro}
		q := p.ForAudience()
		out, err := json.Marshal(q)
		if err != nil {
			t.Fatal(err)
		}
		finds(t, "JSON", out, secrets)
		events, err := domain.EPCISDocument(p)
		if err != nil {
			t.Fatal(err)
		}
		finds(t, "EPCIS", events, secrets)
		finds(t, "the list of gaps", []byte(strings.Join(q.Gaps(), "\n")), secrets)
		for _, table := range domain.KDETables(q) {
			finds(t, "sheet "+table.Event, fmt.Append(nil, table.Rows), secrets)
		}
	})
}

func TestGapsAreSaid(t *testing.T) {
	t.Parallel()
	gaps := strings.Join(samplePacket().Gaps(), "\n")
	for _, want := range []string{
		"The van's temperature on 16 June was not written down.",
		"The seed or transplant lot of lot " + lotRadish + " is not on record.",
		"What the ground of Upper field, Upper 1 was used for before the book began is not known.",
		"The coordinates of Upper field, Upper 1 are not on record.",
		"Which water was used when lot " + packMixed + " was washed and packed is not on record.",
		"The result of the sample of Well 1 taken on 2026-06-14 (generic E. coli) is not known yet.",
		"2 lb of lot " + packKale + " are not accounted for (96.67 % are).",
		"Who bought at Saturday market, Marlow Notch is not known by name.",
		"No training of MP is on record.",
		`Sheet "growing areas", column latitude, 1 of 3 rows`,
	} {
		if !strings.Contains(gaps, want) {
			t.Errorf("not said: %s\nin:\n%s", want, gaps)
		}
	}
	empty := strings.Join((&domain.Packet{}).Gaps(), "\n")
	for _, want := range []string{"location description is not complete", "no lot for this question", "No checkpoint", "time zone is not on record", "answer in one sentence"} {
		if !strings.Contains(empty, want) {
			t.Errorf("an empty packet does not say %q:\n%s", want, empty)
		}
	}
}

// required are the paragraphs of each event: traceability reference 1.6 [verified: eCFR-S].
var required = map[string]string{
	"harvest":         "1.1325(a)(1)(i) 1.1325(a)(1)(ii) 1.1325(a)(1)(iii) 1.1325(a)(1)(iv) 1.1325(a)(1)(v) 1.1325(a)(1)(vii) 1.1325(a)(1)(viii) 1.1325(a)(2)",
	"cooling":         "1.1325(b)(1)(i) 1.1325(b)(1)(ii) 1.1325(b)(1)(iii) 1.1325(b)(1)(iv) 1.1325(b)(1)(v) 1.1325(b)(1)(vi) 1.1325(b)(1)(vii)",
	"initial packing": "1.1330(a)(1) 1.1330(a)(2) 1.1330(a)(3) 1.1330(a)(4) 1.1330(a)(5) 1.1330(a)(7) 1.1330(a)(8) 1.1330(a)(9) 1.1330(a)(10) 1.1330(a)(11) 1.1330(a)(12) 1.1330(a)(13) 1.1330(a)(14) 1.1330(a)(15) 1.1330(a)(16)",
	"shipping":        "1.1340(a)(1) 1.1340(a)(2) 1.1340(a)(3) 1.1340(a)(4) 1.1340(a)(5) 1.1340(a)(6) 1.1340(a)(7) 1.1340(a)(8)",
	"receiving":       "1.1345(a)(1) 1.1345(a)(2) 1.1345(a)(3) 1.1345(a)(4) 1.1345(a)(5) 1.1345(a)(6) 1.1345(a)(7) 1.1345(a)(8)",
	"transformation":  "1.1350(a)(1)(i) 1.1350(a)(1)(ii) 1.1350(a)(1)(iii) 1.1350(a)(2)(i) 1.1350(a)(2)(ii) 1.1350(a)(2)(iii) 1.1350(a)(2)(iv) 1.1350(a)(2)(v) 1.1350(a)(2)(vi)",
	"growing areas":   "1.1315(a)(5)",
}

func TestEveryRequiredElementHasAColumn(t *testing.T) {
	t.Parallel()
	tables := domain.KDETables(samplePacket())
	if len(tables) != len(required) {
		t.Errorf("%d tables, want %d", len(tables), len(required))
	}
	for _, table := range tables {
		var have []string
		for i, c := range table.Columns {
			have = append(have, strings.TrimPrefix(c.Citation, "21 CFR "))
			if c.Plain == "" || c.Element == "" || c.Mark == "" || (c.Need == domain.KDEOurs) != (c.Citation == "") {
				t.Errorf("%s %s is not explained: %+v", table.Event, c.Name, c)
			}
			if table.Column(c.Name) != i {
				t.Errorf("%s has two columns %s", table.Event, c.Name)
			}
		}
		for _, paragraph := range strings.Fields(required[table.Event]) {
			if !slices.Contains(have, paragraph) {
				t.Errorf("%s has no column for 21 CFR %s", table.Event, paragraph)
			}
		}
		if len(table.Rows) == 0 {
			t.Errorf("the sample has no row for %s", table.Event)
		}
	}
	if key := domain.KDEKey(tables); len(key) < 90 {
		t.Errorf("the key explains only %d columns", len(key))
	}
}

// Blanking any value of the sample must lead to a value in its place or to a gap that is declared, in the cell, in the
// row's last column and in the packet's gaps. Never to an empty cell that looks like an answer.
func TestNoRequiredValueIsMissingInSilence(t *testing.T) {
	t.Parallel()
	whole, err := json.Marshal(samplePacket())
	if err != nil {
		t.Fatal(err)
	}
	key := regexp.MustCompile(`"(name|address|phone|lots|commodity|cut_from|bed_ids|made|parents|quantity|packed_at|reference|customers|moves|at|lot|product|plot|lat|lon|beds|handling|entry|place|code|time_zone)":`)
	names := key.FindAllString(string(whole), -1)
	slices.Sort(names)
	for _, name := range append([]string{""}, slices.Compact(names)...) {
		text := string(whole)
		if name != "" {
			text = strings.ReplaceAll(text, name, `"was_`+name[1:]) // as if nobody had written it down
		}
		var p domain.Packet
		if err := json.Unmarshal([]byte(text), &p); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		gaps := strings.Join(p.Gaps(), "\n")
		for _, table := range domain.KDETables(&p) {
			for _, row := range table.Rows {
				for i, c := range table.Columns {
					declared := row[i].Gap != "" && strings.Contains(row[len(row)-1].Text, c.Name+": ") && strings.Contains(gaps, "column "+c.Name)
					if c.Need == domain.KDEMust && row[i].Empty() && !declared {
						t.Errorf("without %s: %s of %s is empty and no gap says so", name, c.Name, table.Event)
					}
					if row[i].Gap != "" && !declared {
						t.Errorf("without %s: the gap of %s of %s is not told", name, c.Name, table.Event)
					}
				}
			}
		}
	}
}

func TestKDETablesOfTheSample(t *testing.T) {
	t.Parallel()
	tables := map[string]domain.KDETable{}
	for _, table := range domain.KDETables(samplePacket()) {
		tables[table.Event] = table
	}
	show := func(c domain.KDECell) string {
		switch {
		case c.Number.Valid:
			return c.Number.Decimal.String()
		case !c.Date.IsZero():
			return c.Date.String()
		}
		return c.Text
	}
	// Values of the worked example, traceability reference 1.8.
	for _, c := range []struct {
		event  string
		row    int
		column string
		want   string
	}{
		{"harvest", 0, "qty", "98"}, {"harvest", 0, "uom", "lb"}, {"harvest", 0, "field_name", "Lower Bench 2 | Lower Bench 3"},
		{"harvest", 0, "ref_type", "field tag"}, {"harvest", 1, "ref_type", "book entry"}, {"harvest", 1, "ref_no", "405"},
		{"harvest", 0, "h_recipient_loc", "Fernglade Acres; +1-802-555-0142; 118 Hollow Road, Marlow Notch, VT 05999"},
		{"harvest", 2, "h_recipient_loc", "Bistro Larkspur; (802) 555-0188; 41 Quarry Lane, Dunmore Falls, VT 05998"},
		{"harvest", 1, "harvest_date", "2026-06-14"}, {"harvest", 1, "harvest_date_to", "2026-06-15"}, {"harvest", 0, "harvest_date_to", ""},
		{"cooling", 0, "cool_loc", "Fernglade Acres; +1-802-555-0142; 120 Hollow Road, Marlow Notch, VT 05999"}, {"cooling", 0, "cool_date", "2026-06-15"},
		{"initial packing", 0, "tlc", lotRadish}, {"initial packing", 0, "pack_date", "2026-06-15"}, {"initial packing", 0, "pack_uom", "bunch"},
		{"initial packing", 1, "tlc", packSpinach}, {"initial packing", 1, "from_lot", lotSpinach}, {"initial packing", 1, "cool_date", "2026-06-15"}, {"initial packing", 1, "received_date", "2026-06-15"},
		{"initial packing", 1, "product_desc", "Spinach, bunched, 4 lb waxed carton"}, {"initial packing", 1, "pack_qty", "96"}, {"initial packing", 2, "cool_date", ""},
		{"shipping", 0, "ref_no", "BOL-0417"}, {"shipping", 0, "ship_date", "2026-06-16"}, {"shipping", 6, "outside_rule", "straight to those who eat it"}, {"shipping", 7, "outside_rule", "given away"},
		{"receiving", 0, "qty", "4"}, {"receiving", 0, "ref_no", "430"},
		{"transformation", 0, "in_tlc", packSpinach}, {"transformation", 0, "new_tlc", packMixed}, {"transformation", 1, "in_qty", "18"},
		{"growing areas", 0, "latitude", "44.102"},
	} {
		table := tables[c.event]
		if c.row >= len(table.Rows) || table.Column(c.column) < 0 {
			t.Errorf("%s has %d rows, no row %d or column %s", c.event, len(table.Rows), c.row, c.column)
			continue
		}
		if got := show(table.Rows[c.row][table.Column(c.column)]); got != c.want {
			t.Errorf("%s row %d: %s is %q, want %q", c.event, c.row, c.column, got, c.want)
		}
	}
}
