package storage_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/shopspring/decimal"

	"croftmark/domain"
)

// maze is a random farm and what the test itself knows of it.
type maze struct {
	*field
	*rand.Rand
	sum *traceCount

	plots, beds, plantings, deliveries, batches, customers []uuid.UUID

	plotOf       map[uuid.UUID]uuid.UUID   // bed to plot
	over         map[uuid.UUID][]uuid.UUID // bed to the beds right under it
	bedsOf       map[uuid.UUID][]uuid.UUID // planting to beds
	plantedOn    map[uuid.UUID]domain.Date
	cropOf       map[uuid.UUID]string
	seedOf       map[uuid.UUID]uuid.UUID // planting to delivery
	wentInto     map[uuid.UUID][]uuid.UUID
	applications []mazeApplication
	lots         []*mazeLot
	byID         map[uuid.UUID]*mazeLot
	moves        []*mazeMove
	disposals    []mazeDisposal
	well         uuid.UUID
	waters       []mazeWater
	hour         time.Time
}

type mazeApplication struct {
	delivery, batch uuid.UUID
	bed, plot       uuid.UUID
	on              domain.Date
}

// mazeWater is one use of the well: on a bed or plot, or on a lot after the cut.
type mazeWater struct {
	bed, plot, lot uuid.UUID
	from, to       time.Time
}

// mazeLot is a harvest lot or a pack lot; amounts are in its own unit.
type mazeLot struct {
	id, planting uuid.UUID
	code, name   string
	beds         []uuid.UUID
	from, to     domain.Date
	unit         domain.Unit
	made, culls  decimal.Decimal
	crates       []string
	took         map[*mazeLot]decimal.Decimal // of each lot that went in, in that lot's unit
}

func (l *mazeLot) packed() bool { return l.took != nil }

// mazeMove is a shipment, or a return; crate is empty for what moved without one.
type mazeMove struct {
	id, customer uuid.UUID
	reference    string
	on           domain.Date
	back         bool
	parts        []mazePart
}

type mazePart struct {
	lot      *mazeLot
	crate    string
	quantity decimal.Decimal
}

type mazeDisposal struct {
	id       uuid.UUID
	lot      *mazeLot
	quantity decimal.Decimal
}

func newMaze(t *testing.T, base *field, seed int, sum *traceCount) *maze {
	m := &maze{field: &field{t: t, db: base.db, clock: base.clock, owner: base.owner, service: base.service}, Rand: rand.New(rand.NewPCG(uint64(seed), 7)), sum: sum,
		plotOf: map[uuid.UUID]uuid.UUID{}, over: map[uuid.UUID][]uuid.UUID{}, bedsOf: map[uuid.UUID][]uuid.UUID{}, plantedOn: map[uuid.UUID]domain.Date{},
		cropOf: map[uuid.UUID]string{}, seedOf: map[uuid.UUID]uuid.UUID{}, wentInto: map[uuid.UUID][]uuid.UUID{}, byID: map[uuid.UUID]*mazeLot{},
		hour: at("2026-09-01", 7)}
	m.settle()
	m.well = m.write(&domain.WaterSource{Name: "Well", Is: domain.WaterUntreatedGround, Uses: []domain.WaterUse{domain.UseCooling, domain.UseIrrigationNotTouching}})
	m.plots, m.beds, m.deliveries = ids(m.plot, m.write(&domain.Plot{Name: "Upper", History: "known"})), ids(m.bed), ids(m.manure)
	m.plotOf[m.bed] = m.plot
	for n := range 4 {
		plot := some(m, m.plots)
		bed := m.write(&domain.Bed{Name: fmt.Sprint("Strip ", n), PlotID: plot, From: day("2024-03-01")})
		m.plotOf[bed], m.beds = plot, append(m.beds, bed)
	}
	for _, c := range []domain.Category{domain.Mineral, domain.PlantMaterial, "seed"} {
		m.deliveries = append(m.deliveries, m.delivery(c, nil))
	}
	for n := range 2 {
		in := some(m, m.deliveries[:3])
		batch := m.write(&domain.CompostBatch{Code: fmt.Sprint("Heap ", n), Method: domain.TurnedWindrow, StartedOn: day("2024-05-10"),
			Ingredients: []domain.Ingredient{{Feedstock: "straw general", InputLotID: in, Amount: domain.Q("0.5", "yd3")}}})
		m.batches, m.wentInto[batch] = append(m.batches, batch), ids(in)
	}
	for n, is := range []string{"restaurant", "grocer", "market", "food-bank"} {
		m.customers = append(m.customers, m.write(&domain.Customer{Name: fmt.Sprint("Buyer ", n), Is: is, Phone: "555 0100"}))
	}
	return m
}

func some[T any](m *maze, list []T) T { return list[m.IntN(len(list))] }

func (m *maze) chance(percent int) bool { return m.IntN(100) < percent }

// wrote reports whether a write that may be refused for a reason was taken.
func (m *maze) wrote(r domain.Record) bool {
	m.t.Helper()
	_, err := m.record(r)
	return m.taken(err)
}

func (m *maze) taken(err error) bool {
	m.t.Helper()
	var e *domain.Error
	if err != nil && (!errors.As(err, &e) || e.Code == domain.CodeUnavailable || e.Code == domain.CodeInternal) {
		m.t.Fatalf("neither written nor refused for a reason: %v", err)
	}
	if err != nil {
		m.sum.refused.Add(1)
	}
	return err == nil
}

// live writes the ground first, because a lot cut from ground that was manured too late goes nowhere, then lets n things
// happen, among them what is remembered late.
func (m *maze) live(n int) {
	for range 5 {
		m.apply("2024-06-01", 500)
	}
	for range 3 {
		m.relayBeds()
	}
	for range 5 {
		m.plantBeds()
	}
	for range 8 {
		m.cut()
	}
	steps := []func(){m.cut, m.cut, m.pack, m.pack, m.pack, m.pack, m.ship, m.ship, m.ship, m.ship, m.sendBack, m.sendBack, m.dispose, m.voidOne,
		m.plantBeds, func() { m.apply("2024-06-01", 500) }, func() { m.apply("2026-08-01", 60) }, m.add, m.correctQuantity, m.correctShipment}
	for range n {
		m.hour = m.hour.Add(time.Duration(1+m.IntN(26)) * time.Hour)
		steps[m.IntN(len(steps))]()
	}
	for range 8 {
		m.water()
	}
	m.count()
}

// count adds up what really happened on the farm.
func (m *maze) count() {
	went := map[*mazeLot]int{}
	for _, l := range m.lots {
		m.sum.lots.Add(1)
		if len(l.took) > 1 {
			m.sum.mixed.Add(1)
		}
		packed := false
		for p := range l.took {
			went[p]++
			packed = packed || p.packed()
		}
		if packed {
			m.sum.repacked.Add(1)
		}
	}
	for _, n := range went {
		if n > 1 {
			m.sum.split.Add(1)
		}
	}
	m.sum.disposals.Add(int64(len(m.disposals)))
}

func (m *maze) zone() *time.Location {
	zone, err := time.LoadLocation("America/New_York")
	if err != nil {
		m.t.Fatal(err)
	}
	return zone
}

func (m *maze) today() domain.Date { return domain.DateIn(m.hour, m.zone()) }

func (m *maze) apply(first string, days int) {
	on := day(first).AddDays(m.IntN(days))
	a := &domain.Application{Source: domain.Source{InputLotID: some(m, m.deliveries[:3])}, AppliedOn: on, IncorporatedOn: on, Method: "incorporated", Amount: domain.Q("0.1", "yd3")}
	if m.chance(30) {
		a.Source = domain.Source{CompostBatchID: some(m, m.batches)}
	}
	known := mazeApplication{delivery: a.Source.InputLotID, batch: a.Source.CompostBatchID, on: on}
	if m.chance(20) {
		known.plot = some(m, m.plots)
		a.Ground.PlotID = known.plot
	} else {
		known.bed = some(m, m.beds)
		a.Ground.BedIDs = ids(known.bed)
	}
	if m.wrote(a) {
		m.applications = append(m.applications, known)
	}
}

// water lets the well run on ground or on a cut lot, around the day of some cut: for hours, over night, or without an end.
func (m *maze) water() {
	l := some(m, m.lots)
	for l.packed() {
		l = some(m, m.lots)
	}
	from := l.from.AddDays(2 - m.IntN(20)).In(m.zone()).Add(time.Duration(6+m.IntN(12)) * time.Hour)
	known := mazeWater{from: from, to: from}
	var ended time.Time
	if m.chance(80) {
		ended = from.Add(time.Duration(1+m.IntN(15)) * time.Hour)
		known.to = ended
	}
	irrigation := &domain.Irrigation{SourceID: m.well, Method: "drip", StartedAt: from, EndedAt: ended}
	var r domain.Record = irrigation
	switch {
	case m.chance(30):
		known.lot = l.id
		r = &domain.Handling{Use: domain.UseCooling, SourceID: m.well, LotIDs: ids(l.id), StartedAt: from, EndedAt: ended}
	case m.chance(20):
		known.plot = m.plotOf[l.beds[0]]
		irrigation.Ground.PlotID = known.plot
	default:
		known.bed = some(m, m.groundList(l.beds[0]))
		irrigation.Ground.BedIDs = ids(known.bed)
	}
	if m.wrote(r) {
		m.waters = append(m.waters, known)
		m.sum.waters.Add(1)
	}
}

// add puts a delivery into a heap that has been spread already, or not.
func (m *maze) add() {
	batch, in := some(m, m.batches), some(m, m.deliveries[:3])
	if m.wrote(&domain.CompostAddition{BatchID: batch, AddedAt: at("2024-05-20", 9), Ingredient: domain.Ingredient{Feedstock: "straw general", InputLotID: in, Amount: domain.Q("0.1", "yd3")}}) {
		m.wentInto[batch] = append(m.wentInto[batch], in)
	}
}

func (m *maze) relayBeds() {
	old := ids(some(m, m.beds))
	plot := m.plotOf[old[0]]
	for _, b := range m.beds {
		if m.plotOf[b] == plot && b != old[0] && m.chance(25) {
			old = append(old, b)
		}
	}
	l := &domain.BedLayout{PlotID: plot, On: day("2026-02-01").AddDays(len(m.beds)), Retire: old, Lay: []domain.LaidBed{{Name: fmt.Sprint("Laid ", len(m.beds)), Over: old}}}
	if m.wrote(l) {
		id := l.Lay[0].ID
		m.plotOf[id], m.over[id], m.beds = plot, old, append(m.beds, id)
	}
}

func (m *maze) plantBeds() {
	name := some(m, []string{"chard", "kale", "salad mix", "leeks"})
	p := &domain.Planting{CropID: m.write(&domain.Crop{Name: name, SoilContact: domain.Touches}), BedIDs: ids(some(m, m.beds)), PlantedOn: day(some(m, []string{"2025-05-01", "2026-04-01"})).AddDays(m.IntN(40))}
	if other := some(m, m.beds); other != p.BedIDs[0] && m.chance(40) {
		p.BedIDs = append(p.BedIDs, other)
	}
	if m.chance(40) {
		p.SeedLotID = m.deliveries[3]
	}
	if m.wrote(p) {
		m.plantings, m.bedsOf[p.ID], m.plantedOn[p.ID], m.cropOf[p.ID], m.seedOf[p.ID] = append(m.plantings, p.ID), p.BedIDs, p.PlantedOn, name, p.SeedLotID
	}
}

func (m *maze) cut() {
	if len(m.plantings) == 0 {
		return
	}
	planting := some(m, m.plantings)
	from := m.plantedOn[planting].AddDays(40 + m.IntN(60))
	to := from.AddDays(m.IntN(3))
	lot := &domain.HarvestLot{PlantingID: planting, BedIDs: m.bedsOf[planting], CutFrom: from, CutTo: to,
		Quantity: some(m, []domain.Quantity{domain.Q("40", "lb"), domain.Q("17.3", "lb"), domain.Q("12.5", "kg"), domain.Q("60", "bunch")})}
	if m.chance(30) {
		lot.BedIDs = lot.BedIDs[:1]
	}
	if m.chance(30) {
		lot.Containers = 3
	}
	if m.wrote(lot) {
		l := &mazeLot{id: lot.ID, planting: planting, code: lot.Code, name: m.cropOf[planting], beds: lot.BedIDs, from: from, to: to, unit: lot.Quantity.Unit, made: lot.Quantity.Value}
		for n := range lot.Containers {
			l.crates = append(l.crates, domain.CrateCode(lot.Code, n+1))
		}
		m.keep(l)
	}
}

func (m *maze) keep(l *mazeLot) { m.lots, m.byID[l.id] = append(m.lots, l), l }

// pack packs one to three lots of one measure into one, or packs a pack lot again, with some loss or gain.
func (m *maze) pack() {
	l := &mazeLot{took: map[*mazeLot]decimal.Decimal{}, name: some(m, []string{"salad mix", "kale", "soup bags"}), from: m.today(), to: m.today()}
	p := &domain.PackLot{PackedAt: m.hour, Product: l.name, Crates: m.IntN(5)}
	in := decimal.Zero
	for _, n := range m.Perm(len(m.lots)) {
		parent := m.lots[n]
		left := m.onHand(parent)
		measure, _ := domain.MeasureOf(parent.unit)
		if l.unit == "" && left.Sign() > 0 {
			l.unit = parent.unit
		}
		if mine, _ := domain.MeasureOf(l.unit); left.Sign() <= 0 || mine != measure || len(l.took) > m.IntN(4) {
			continue
		}
		if m.chance(70) {
			left = left.Div(decimal.NewFromInt(2)).RoundUp(1)
		}
		if left.GreaterThan(m.onHand(parent)) || left.Exponent() < -6 {
			continue
		}
		l.took[parent] = left
		q := domain.Quantity{Value: left, Unit: parent.unit}
		v, err := q.In(l.unit)
		mustBe(m.t, err)
		in = in.Add(v)
		p.From = append(p.From, domain.PackFrom{Lot: parent.code, Quantity: q})
	}
	if len(p.From) == 0 {
		return
	}
	l.made = in.Mul(some(m, []decimal.Decimal{decimal.RequireFromString("0.95"), decimal.RequireFromString("1"), decimal.RequireFromString("1.02")})).Round(2)
	if m.chance(40) {
		l.culls = in.Div(decimal.NewFromInt(50)).Round(2)
		l.made = l.made.Sub(l.culls)
		p.Culls = domain.Quantity{Value: l.culls, Unit: l.unit}
	}
	p.Quantity = domain.Quantity{Value: l.made, Unit: l.unit}
	if p.Crates > 0 && m.chance(30) {
		p.CrateNet = domain.Quantity{Value: l.made.Div(decimal.NewFromInt(int64(p.Crates))).RoundDown(1), Unit: l.unit}
	}
	if (p.CrateNet.Unit == "" || p.CrateNet.Value.Sign() > 0) && m.wrote(p) {
		l.id, l.code, l.crates = p.ID, p.Code, p.CrateCodes
		m.keep(l)
	}
}

func (m *maze) ship() {
	s := &domain.Shipment{CustomerID: some(m, m.customers), ShippedAt: m.hour, Reference: domain.Reference{Type: "invoice", Number: fmt.Sprint(1000 + m.IntN(12))}}
	for range 1 + m.IntN(3) {
		l := some(m, m.lots)
		switch {
		case len(l.crates) > 0 && m.chance(70):
			first := m.IntN(len(l.crates))
			s.Lines = append(s.Lines, domain.ShipmentLine{Crates: l.crates[first:min(len(l.crates), first+1+m.IntN(2))]})
		case m.onHand(l).Sign() > 0:
			q := m.onHand(l).Div(decimal.NewFromInt(int64(1 + m.IntN(4)))).RoundDown(2)
			s.Lines = append(s.Lines, domain.ShipmentLine{Lot: l.code, Quantity: domain.Quantity{Value: q, Unit: l.unit}})
		}
	}
	if len(s.Lines) > 0 && m.wrote(s) {
		m.sum.shipments.Add(1)
		if s.CustomerID == m.customers[3] {
			m.sum.donations.Add(1)
		}
		m.move(s.ID, s.CustomerID, s.Reference.Number, false, s.Moved)
	}
}

// move keeps what the door said that a line moved; the test works crates out anew and holds it to that.
func (m *maze) move(id, customer uuid.UUID, reference string, back bool, moved []domain.Moved) {
	m.t.Helper()
	move := &mazeMove{id: id, customer: customer, reference: reference, on: m.today(), back: back, parts: m.partsOf(moved)}
	m.moves = append(m.moves, move)
	m.checkMove(move)
}

func (m *maze) partsOf(moved []domain.Moved) (parts []mazePart) {
	m.t.Helper()
	for _, x := range moved {
		part := mazePart{lot: m.byID[x.LotID], quantity: x.Quantity.Value}
		if part.lot == nil || x.Quantity.Unit != part.lot.unit {
			m.t.Fatalf("moved %s of lot %s, which is not a lot in %s", x.Quantity, x.Code, x.Quantity.Unit)
		}
		if x.Crate > 0 {
			part.crate = part.lot.crates[x.Crate-1]
		}
		parts = append(parts, part)
	}
	return parts
}

// checkMove holds what customers and the farm have to what can be.
func (m *maze) checkMove(move *mazeMove) {
	m.t.Helper()
	for _, part := range move.parts {
		if has := m.with(move.customer, part.lot, ""); has.Sign() < 0 {
			m.t.Errorf("buyer has %s %s of lot %s after return %v of %s", has, part.lot.unit, part.lot.code, move.back, part.quantity)
		}
		if left := m.onHand(part.lot); left.Sign() < 0 || left.GreaterThan(part.lot.made) {
			m.t.Errorf("%s %s of lot %s on hand, %s were made", left, part.lot.unit, part.lot.code, part.lot.made)
		}
	}
}

// sendBack brings back crates, so much of a lot, or both, also more than there is to bring back.
func (m *maze) sendBack() {
	if len(m.moves) == 0 {
		return
	}
	from := some(m, m.moves)
	r := &domain.Return{CustomerID: from.customer, ReturnedAt: m.hour, Decision: some(m, []string{"stock", "compost", "donate"})}
	whole := true // every line is a crate that the customer has untouched
	for _, part := range from.parts {
		switch has := m.with(from.customer, part.lot, ""); {
		case m.chance(30):
		case part.crate != "" && m.chance(70):
			r.Lines = append(r.Lines, domain.ShipmentLine{Crates: []string{part.crate}})
			whole = whole && m.with(from.customer, part.lot, part.crate).Sign() > 0 && !has.LessThan(part.quantity)
		case has.Sign() > 0:
			for range 1 + m.IntN(2) { // twice more than half is too much together
				q := has.Mul(some(m, []decimal.Decimal{decimal.RequireFromString("0.4"), decimal.RequireFromString("0.6")})).RoundDown(2)
				r.Lines = append(r.Lines, domain.ShipmentLine{Lot: part.lot.code, Quantity: domain.Quantity{Value: q, Unit: part.lot.unit}})
			}
			whole = false
		}
	}
	if len(r.Lines) == 0 {
		return
	}
	if m.wrote(r) {
		m.sum.returns.Add(1)
		m.move(r.ID, r.CustomerID, "", true, r.Moved)
	} else if whole && len(r.Lines) == 1 {
		m.t.Errorf("crate %s is with the customer, and was not taken back", r.Lines[0].Crates[0])
	}
}

func (m *maze) dispose() {
	l := some(m, m.lots)
	d := &domain.Disposal{LotID: l.id, On: m.today(), Quantity: domain.Quantity{Value: m.onHand(l).Div(decimal.NewFromInt(int64(1 + m.IntN(3)))).RoundDown(2), Unit: l.unit}, How: "compost"}
	if d.Quantity.Value.Sign() > 0 && m.wrote(d) {
		m.disposals = append(m.disposals, mazeDisposal{d.ID, l, d.Quantity.Value})
	}
}

func (m *maze) voidOne() {
	if len(m.disposals) > 0 && m.chance(40) {
		n := m.IntN(len(m.disposals))
		if _, err := m.void("disposal", m.disposals[n].id); m.taken(err) {
			m.disposals = slices.Delete(m.disposals, n, n+1)
			m.sum.voids.Add(1)
		}
		return
	}
	if len(m.moves) == 0 {
		return
	}
	n := m.IntN(len(m.moves))
	kind := "shipment"
	if m.moves[n].back {
		kind = "return"
	}
	if _, err := m.void(kind, m.moves[n].id); m.taken(err) {
		gone := m.moves[n]
		m.moves = slices.Delete(m.moves, n, n+1)
		m.sum.voids.Add(1)
		for _, part := range gone.parts {
			if has := m.with(gone.customer, part.lot, part.crate); has.Sign() < 0 {
				m.t.Errorf("buyer has %s of lot %s after the void of a %s", has, part.lot.code, kind)
			}
		}
	}
}

func (m *maze) correctQuantity() {
	l := some(m, m.lots)
	if l.packed() {
		return
	}
	more := l.made.Add(decimal.RequireFromString(some(m, []string{"1.5", "3", "-2"})))
	_, err := m.db.Correct(ctx, m.actor, nil, "harvest-lot", l.id, "weighed again", []byte(fmt.Sprintf(`{"quantity": {"value": "%s", "unit": "%s"}}`, more, l.unit)))
	if m.taken(err) {
		l.made = more
		m.sum.corrections.Add(1)
	}
}

// correctShipment mends the number of the paper, or half of what a line says that went.
func (m *maze) correctShipment() {
	if len(m.moves) == 0 {
		return
	}
	move := some(m, m.moves)
	if move.back {
		return
	}
	rec, err := m.db.ReadRecord(ctx, m.actor.FarmID, "shipment", move.id)
	mustBe(m.t, err)
	var s domain.Shipment
	decode(m.t, rec.Body, &s)
	changes := map[string]any{"reference": domain.Reference{Type: "invoice", Number: fmt.Sprint(1000 + m.IntN(12))}}
	for i, line := range s.Lines {
		if line.Lot != "" && m.chance(60) {
			s.Lines[i].Quantity.Value = line.Quantity.Value.Div(decimal.NewFromInt(2)).RoundUp(2)
			changes["lines"] = s.Lines
		}
	}
	raw, err := json.Marshal(changes)
	mustBe(m.t, err)
	out, err := m.db.Correct(ctx, m.actor, nil, "shipment", move.id, "read wrong", raw)
	if !m.taken(err) {
		return
	}
	m.sum.corrections.Add(1)
	s = domain.Shipment{}
	decode(m.t, out.Body, &s)
	move.reference, move.parts = s.Reference.Number, m.partsOf(s.Moved)
	m.checkMove(move)
}
