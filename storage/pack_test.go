package storage_test

import (
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"croftmark/domain"
	"croftmark/storage"
)

// shed is a field whose plot is organic, with three beds of salad cut on one day.
type shed struct {
	*field
	beds []uuid.UUID
	lots []*domain.HarvestLot
}

func newShed(t *testing.T) *shed {
	s := &shed{field: newField(t, storage.Config{})}
	if _, err := s.db.Correct(ctx, s.actor, nil, "plot", s.plot, "certified", []byte(`{"organic_from":"2024-01-01"}`)); err != nil {
		t.Fatal(err)
	}
	for i, name := range []string{"Lower 4", "Lower 5", "Lower 6"} {
		bed := s.write(&domain.Bed{Name: name, PlotID: s.plot, From: day("2024-03-01")})
		crop := s.plant("salad mix "+name, domain.Touches, "2026-04-20", bed)
		lot := s.lot(crop, "2026-06-05", bed)
		lot.Quantity = []domain.Quantity{domain.Q("18", "lb"), domain.Q("12", "lb"), domain.Q("6", "lb")}[i]
		s.write(lot)
		s.beds, s.lots = append(s.beds, bed), append(s.lots, lot)
	}
	return s
}

func (s *shed) pack(quantity, culls string, crates int) *domain.PackLot {
	p := &domain.PackLot{PackedAt: at("2026-06-05", 13), Product: "salad mix", Quantity: domain.Q(quantity, "lb"), Crates: crates}
	if culls != "" {
		p.Culls = domain.Q(culls, "lb")
	}
	for _, l := range s.lots {
		p.From = append(p.From, domain.PackFrom{Lot: l.Code, Quantity: l.Quantity})
	}
	return p
}

func (s *shed) customer(name, kind string) uuid.UUID {
	return s.write(&domain.Customer{Name: name, Is: kind, Phone: "555 0100"})
}

func (s *shed) ship(to uuid.UUID, number string, crates ...string) *domain.Shipment {
	return &domain.Shipment{CustomerID: to, ShippedAt: at("2026-06-06", 7), Reference: domain.Reference{Type: "invoice", Number: number},
		Lines: []domain.ShipmentLine{{Crates: crates}}}
}

// S20: 18 + 12 + 6 lb in, 2 lb culls, 34 lb out; one bad bed pulls the whole pack lot.
func TestS20SaladMixFromThreeBeds(t *testing.T) {
	t.Parallel()
	s := newShed(t)
	mix := s.pack("34", "2", 6)
	out, err := s.record(mix)
	if err != nil {
		t.Fatal(err)
	}
	if mix.Status != "organic" || len(mix.CrateCodes) != 6 || mix.VerdictThen.Verdict != domain.Clear {
		t.Errorf("status %s, %d crates, %s", mix.Status, len(mix.CrateCodes), mix.VerdictThen.Verdict)
	}
	cafe := s.customer("Copper Ladle", "restaurant")
	s.write(s.ship(cafe, "1182", mix.CrateCodes[0], mix.CrateCodes[1]))
	for _, number := range []string{"1183", "1184", "1185"} {
		other := s.customer("Buyer "+number, "grocer")
		n := len(number) - 4 + int(number[3]-'1') // 1183 -> crate 3 and so on
		s.write(s.ship(other, number, mix.CrateCodes[n]))
	}
	late, err := s.record(s.application(s.manure, "2026-03-10", "2026-03-10", s.beds[2]))
	if err != nil {
		t.Fatal(err)
	}
	if len(late.Rejudged) != 2 || late.Rejudged[1].LotID != out.ID || late.Rejudged[1].Verdict != domain.Wait {
		t.Fatalf("rejudged %+v, want the bed's lot and then the whole mix", late.Rejudged)
	}
	_, err = s.record(s.ship(cafe, "1190", mix.CrateCodes[5]))
	if e := asDomain(err); e == nil || e.Code != domain.CodeLotHeld {
		t.Errorf("a held lot left: %v", err)
	}
	again := &domain.PackLot{PackedAt: at("2026-06-07", 9), Product: "retail bags", Quantity: domain.Q("5", "lb"), From: []domain.PackFrom{{Lot: mix.Code, Quantity: domain.Q("5", "lb")}}}
	if _, err = s.record(again); asDomain(err) == nil || asDomain(err).Code != domain.CodeLotHeld {
		t.Errorf("a held lot was packed: %v", err)
	}
}

// S20, one bad parent pulls the whole pack lot: what was packed from a held lot, and what was packed from that, is held with
// it, until that one hold is released.
func TestAHoldReachesWhatWasPacked(t *testing.T) {
	t.Parallel()
	s := newShed(t)
	mix := s.pack("34", "2", 6)
	s.write(mix)
	bags := &domain.PackLot{PackedAt: at("2026-06-05", 15), Product: "bags", Quantity: domain.Q("10", "lb"), Crates: 2, From: []domain.PackFrom{{Lot: mix.Code, Quantity: domain.Q("10", "lb")}}}
	s.write(bags)
	cafe := s.customer("Copper Ladle", "restaurant")
	recall := &domain.Recall{Start: domain.TraceStart{Lot: s.lots[1].Code}, Reason: "complaint"}
	s.write(recall)
	hold := &domain.Hold{On: domain.HoldTarget{LotID: s.lots[1].ID}, Reason: "complaint"}
	s.write(hold)
	held := func(want bool) {
		t.Helper()
		states, err := s.db.LotStates(s.reading(), []uuid.UUID{mix.ID, bags.ID})
		mustBe(t, err)
		onHand, err := s.db.LotsOnHand(s.reading(), day("2026-06-07"))
		mustBe(t, err)
		recalled, err := s.db.Recall(s.reading(), recall.ID)
		mustBe(t, err)
		if len(onHand) != 2 || len(recalled.Lots) != 3 {
			t.Fatalf("%d lots on hand, %d in the recall", len(onHand), len(recalled.Lots))
		}
		for _, l := range onHand {
			if l.Held != want {
				t.Errorf("on hand %s: held %t, want %t", l.Code, l.Held, want)
			}
		}
		for _, l := range recalled.Lots {
			if l.Held != want {
				t.Errorf("recalled %s: held %t, want %t", l.Code, l.Held, want)
			}
		}
		for _, lot := range []*domain.PackLot{mix, bags} {
			p, err := s.db.PackByCode(s.reading(), lot.Code)
			mustBe(t, err)
			if p.Held != want || states[lot.ID].Held != want || len(p.Told) != 1 || p.Told[0].ID != hold.ID {
				t.Errorf("%s: held %t and %t, want %t; holds %+v", lot.Code, p.Held, states[lot.ID].Held, want, p.Told)
			}
		}
	}
	held(true)
	again := &domain.PackLot{PackedAt: at("2026-06-07", 9), Product: "retail bags", Quantity: domain.Q("5", "lb"), From: []domain.PackFrom{{Lot: bags.Code, Quantity: domain.Q("5", "lb")}}}
	for _, r := range []domain.Record{s.ship(cafe, "1182", mix.CrateCodes[0]), s.ship(cafe, "1183", bags.CrateCodes[0]), again} {
		_, err := s.record(r)
		wantCode(t, err, domain.CodeLotHeld)
		if e := asDomain(err); e == nil || !strings.Contains(e.Detail, "lot "+s.lots[1].Code+", which went into it: complaint") {
			t.Errorf("%v, want a refusal that names the held lot", err)
		}
	}
	s.write(&domain.Release{HoldID: hold.ID, Reason: "it was another farm's"})
	held(false)
	s.write(s.ship(cafe, "1182", mix.CrateCodes[0]))
	s.write(s.ship(cafe, "1183", bags.CrateCodes[0]))
}

func TestPackRefusals(t *testing.T) {
	t.Parallel()
	s := newShed(t)
	if _, err := s.record(s.pack("30", "", 0)); asDomain(err) == nil || asDomain(err).Code != domain.CodeNotBalanced {
		t.Errorf("6 of 36 lb missing: %v", err)
	}
	tooMuch := s.pack("34", "2", 0)
	tooMuch.From[0].Quantity = domain.Q("19", "lb")
	if _, err := s.record(tooMuch); asDomain(err) == nil || asDomain(err).Fields[0].Pointer != "#/from/0/quantity" {
		t.Errorf("more than there is: %v", err)
	}
	other := s.write(&domain.Plot{Name: "Rented", History: "known"})
	bed := s.write(&domain.Bed{Name: "R1", PlotID: other, From: day("2024-03-01")})
	lot := s.lot(s.plant("chard", domain.Touches, "2026-04-01", bed), "2026-06-05", bed)
	s.write(lot)
	mixed := s.pack("74", "2", 0)
	mixed.From = append(mixed.From, domain.PackFrom{Lot: lot.Code, Quantity: lot.Quantity})
	if _, err := s.record(mixed); asDomain(err) == nil || asDomain(err).Code != domain.CodeRuleRefused {
		t.Errorf("organic and other merged: %v", err)
	}
	hold := &domain.Hold{On: domain.HoldTarget{LotID: s.lots[0].ID}, Reason: "complaint"}
	s.write(hold)
	if _, err := s.record(s.pack("34", "2", 0)); asDomain(err) == nil || asDomain(err).Code != domain.CodeLotHeld {
		t.Errorf("held lot packed: %v", err)
	}
	s.write(&domain.Release{HoldID: hold.ID, Reason: "it was another farm's"})
	s.write(s.pack("34", "2", 0))
}

// 7 CFR 205.272, S35: a lot that is corrected onto ground that is not organic takes the word from all that was packed from it, and
// is not packed with organic lots any more. Corrected back, it gives it back.
func TestAPackLotIsOrganicAsLongAsAllThatWentIn(t *testing.T) {
	t.Parallel()
	s := newShed(t)
	mix := s.pack("34", "2", 4)
	s.write(mix)
	bags := packOf(mix.Code, "10")
	s.write(bags)
	other := s.write(&domain.Bed{Name: "R1", PlotID: s.write(&domain.Plot{Name: "Rented", History: "known"}), From: day("2024-03-01")})
	whole := s.chard()
	status := func(want string) {
		t.Helper()
		for _, code := range []string{mix.Code, bags.Code} {
			p, err := s.db.PackByCode(s.reading(), code)
			mustBe(t, err)
			if p.Pack.Status != want {
				t.Errorf("lot %s is %s, want %s", code, p.Pack.Status, want)
			}
		}
	}
	status("organic")
	planting := s.lots[1].PlantingID
	s.correct("planting", planting, `{"bed_ids": ["`+s.beds[1].String()+`", "`+other.String()+`"]}`)
	s.correct("harvest-lot", s.lots[1].ID, `{"bed_ids": ["`+other.String()+`"]}`)
	status("not-organic")
	out, err := s.record(s.ship(s.customer("Corner grocer", "grocer"), "1182", mix.CrateCodes[0], mix.CrateCodes[1]))
	mustBe(t, err)
	if len(out.Warnings) != 1 || !strings.Contains(out.Warnings[0], "not organic any more") {
		t.Errorf("it left with %v, want a warning about its labels", out.Warnings)
	}
	both := packOf(mix.Code, "5")
	both.Quantity, both.From = domain.Q("10", "lb"), append(both.From, domain.PackFrom{Lot: whole.Code, Quantity: domain.Q("5", "lb")})
	_, err = s.record(both)
	wantCode(t, err, domain.CodeRuleRefused)
	s.correct("harvest-lot", s.lots[1].ID, `{"bed_ids": ["`+s.beds[1].String()+`"]}`)
	status("organic")
}

// S25: what came home keeps its lot, and can go out again; the sums tie.
func TestS25ReturnsKeepTheLot(t *testing.T) {
	t.Parallel()
	s := newShed(t)
	mix := s.pack("34", "2", 4)
	s.write(mix)
	market := s.customer("Saturday market", "market")
	first := s.ship(market, "load 12", mix.CrateCodes[0], mix.CrateCodes[1])
	s.write(first)
	if _, err := s.record(s.ship(market, "load 13", mix.CrateCodes[0])); asDomain(err) == nil || asDomain(err).Fields[0].Pointer != "#/lines/0/crates/0" {
		t.Errorf("a crate that is away left again: %v", err)
	}
	back := &domain.Return{CustomerID: market, ReturnedAt: at("2026-06-06", 15), Lines: []domain.ShipmentLine{{Crates: mix.CrateCodes[:1]}}, HoursAway: number("8"), Decision: "stock"}
	s.write(back)
	cafe := s.customer("Copper Ladle", "restaurant")
	s.write(s.ship(cafe, "1186", mix.CrateCodes[0]))
	if _, err := s.record(&domain.Return{CustomerID: cafe, ReturnedAt: at("2026-06-07", 15), Lines: []domain.ShipmentLine{{Crates: mix.CrateCodes[1:2]}}, Decision: "stock"}); asDomain(err) == nil {
		t.Errorf("a crate came back from somebody who never had it: %v", err)
	}
	pack, err := s.db.PackByCode(storage.Reading{Ctx: ctx, Farm: s.actor.FarmID}, mix.Code)
	if err != nil || pack.OnHand.String() != "17.0 lb" {
		t.Errorf("on hand %s (%v), want 34 - 2 crates of 8.5", pack.OnHand, err)
	}
}

func TestHeldInputIsNotUsed(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	f.write(&domain.Hold{On: domain.HoldTarget{InputLotID: f.manure}, Reason: "supplier's letter"})
	a := f.application(f.manure, "2026-04-01", "2026-04-02", f.bed)
	if _, err := f.record(a); asDomain(err) == nil || asDomain(err).Code != domain.CodeLotHeld {
		t.Errorf("held delivery used: %v", err)
	}
	a.LateReason = "It was spread before the letter came."
	f.write(a)
	f.refusedWhileHeld()
	well := f.well()
	f.write(&domain.Hold{On: domain.HoldTarget{WaterSourceID: well}, Reason: "flood over the wellhead"})
	water := &domain.Irrigation{SourceID: well, Ground: domain.Ground{BedIDs: []uuid.UUID{f.bed}}, Method: "overhead", StartedAt: at("2026-06-01", 6).Add(time.Minute)}
	if _, err := f.record(water); asDomain(err) == nil || asDomain(err).Code != domain.CodeLotHeld {
		t.Errorf("held source used: %v", err)
	}
}

// S31, S32: a delivery that a letter calls back is neither sown nor put on a heap, new or standing. What was done before is
// written down late, and what is written down of it is mended.
func (f *field) refusedWhileHeld() {
	f.t.Helper()
	crop := f.write(&domain.Crop{Name: "kale", SoilContact: domain.Touches})
	sown := func() *domain.Planting {
		return &domain.Planting{CropID: crop, BedIDs: []uuid.UUID{f.bed}, PlantedOn: day("2026-04-20"), SeedLotID: f.manure}
	}
	of := domain.Ingredient{Feedstock: "kale seed", InputLotID: f.manure, Amount: domain.Q("1", "yd3")}
	heap := func(code string, in domain.Ingredient) *domain.CompostBatch {
		return &domain.CompostBatch{Code: code, Method: "turned-windrow", StartedOn: day("2026-04-01"), Ingredients: []domain.Ingredient{in}}
	}
	standing := f.write(heap("B1", domain.Ingredient{Feedstock: "straw", Amount: domain.Q("1", "yd3")}))
	added := func() *domain.CompostAddition {
		return &domain.CompostAddition{BatchID: standing, AddedAt: at("2026-04-02", 9), Ingredient: of}
	}
	for name, r := range map[string]domain.Record{"sown": sown(), "in a heap": heap("B2", of), "added to a heap": added()} {
		if _, err := f.record(r); asDomain(err) == nil || asDomain(err).Code != domain.CodeLotHeld {
			f.t.Errorf("held delivery %s: %v", name, err)
		}
	}
	const late = "It was done before the letter came."
	planting, batch, addition := sown(), heap("B2", of), added()
	planting.LateReason, batch.LateReason, addition.LateReason = late, late, late
	f.write(planting)
	f.write(batch)
	f.write(addition)
	f.correct("planting", planting.ID, `{"note": "the east half"}`)
}

// Common practice: what a crate holds is counted off the lot, so it is weighed in the lot's measure. A book from before this
// was asked for still ships and takes back, but six bunches are never read as six pounds.
func TestCratesAreHeldAgainstTheLot(t *testing.T) {
	t.Parallel()
	s := newShed(t)
	for _, net := range []domain.Quantity{domain.Q("6", "bunch"), domain.Q("6", "lb")} { // 6 crates of 6 lb are 36 lb, and 34 lb and 5 % are 35.7 lb
		wrong := s.pack("34", "2", 6)
		wrong.CrateNet = net
		_, err := s.record(wrong)
		wantField(t, err, "#/crate_net", "leave")
	}
	mix := s.pack("34", "2", 6)
	mix.CrateNet = domain.Q("5.9", "lb")
	s.write(mix)
	cafe := s.customer("Copper Ladle", "restaurant")
	s.write(s.ship(cafe, "1182", mix.CrateCodes...))
	if got := s.onHand(mix.Code); got != "0" && got != "0.00" {
		t.Errorf("%s lb on hand after all six crates left", got)
	}
	s.write(s.sendBack(cafe, domain.ShipmentLine{Crates: mix.CrateCodes[:1]}))
	s.asOwner(`update records set body = jsonb_set(body, '{crate_net}', '{"value": "6", "unit": "bunch"}') where id = $1`, mix.ID)
	_, err := s.record(s.ship(cafe, "1183", mix.CrateCodes[0]))
	wantField(t, err, "#/lines/0/crates/0", "Give the lot and the quantity")
	back := s.sendBack(cafe, domain.ShipmentLine{Crates: mix.CrateCodes[1:2]})
	s.write(back)
	if got := back.Moved[0].Quantity.String(); got != "5.67 lb" {
		t.Errorf("%s came back of a crate that left with 5.67 lb", got)
	}
}
