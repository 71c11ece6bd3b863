package storage

import (
	"fmt"
	"reflect"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"croftmark/domain"
)

// movement is one lot or crate that leaves or comes back.
type movement struct {
	lot      *stockLot
	crate    int
	quantity decimal.Decimal // in the lot's unit
	pointer  string
}

// movements turns lines into lots and crates, checking every code. What the crates hold depends on which way they go.
func (w *writing) movements(lines []domain.ShipmentLine) ([]movement, error) {
	var codes []string
	for _, l := range lines {
		for _, c := range append(append([]string{}, l.Crates...), l.Lot) {
			if code, err := domain.ParseCode(c); err == nil {
				codes = append(codes, code.Lot)
			}
		}
	}
	lots, err := w.stockLots(codes)
	if err != nil {
		return nil, err
	}
	var p domain.Problems
	var out []movement
	for i, l := range lines {
		at := "/lines/" + itoa(i)
		for j, c := range l.Crates {
			out = append(out, crateMovement(&p, lots, fmt.Sprintf("%s/crates/%d", at, j), c))
		}
		if l.Lot != "" {
			out = append(out, lotMovement(&p, lots, at, l))
		}
	}
	return out, p.Err()
}

func crateMovement(p *domain.Problems, lots map[string]*stockLot, pointer, text string) movement {
	code, err := domain.ParseCode(text)
	lot := lots[code.Lot]
	if err != nil || lot == nil || code.Crate > lot.Crates {
		p.Add(pointer, "There is no crate %s in this farm's book.", text)
		return movement{}
	}
	return movement{lot, code.Crate, decimal.Zero, pointer}
}

// weighCrate works out how much leaves in a crate. Old packing records may say it in a measure the lot is not counted in.
func (m *movement) weighCrate(p *domain.Problems) {
	lot := m.lot
	q := domain.CrateQuantity(domain.Quantity{Value: lot.Quantity, Unit: lot.Unit}, lot.Crates, lot.CrateNet, m.crate)
	v, err := q.In(lot.Unit)
	p.Check(err == nil, m.pointer, "Crate %s is said to hold %s, and lot %s is counted in %s. Give the lot and the quantity instead of the crate.",
		domain.CrateCode(lot.Code, m.crate), q, lot.Code, lot.Unit)
	m.quantity = v
}

func lotMovement(p *domain.Problems, lots map[string]*stockLot, at string, l domain.ShipmentLine) movement {
	code, err := domain.ParseCode(l.Lot)
	lot := lots[code.Lot]
	if err != nil || lot == nil {
		p.Add(at+"/lot", "There is no lot %s in this farm's book.", l.Lot)
		return movement{}
	}
	v, err := l.Quantity.In(lot.Unit)
	if err != nil {
		p.Add(at+"/quantity/unit", "Lot %s is counted in %s.", lot.Code, lot.Unit)
	}
	return movement{lot, 0, v, at + "/quantity"}
}

// decideShipment lets nothing held leave, nothing that came back and is not for sale, and no more than there is. A corrected
// shipment was what it had moved before: that is on hand again for it, and its crates keep the quantity they left with.
func (w *writing) decideShipment(s *domain.Shipment, was []domain.Moved) ([]string, error) {
	to, err := w.recipient(s.CustomerID)
	if err != nil {
		return nil, err
	}
	moves, err := w.movements(s.Lines)
	if err != nil {
		return nil, err
	}
	away, err := w.cratesAway(moves)
	if err != nil {
		return nil, err
	}
	back, err := w.cameBackOf(moves)
	if err != nil {
		return nil, err
	}
	var p domain.Problems
	own := sumsOf(was)
	leaving := map[uuid.UUID]decimal.Decimal{}
	for i := range moves {
		m := &moves[i]
		whole, key := crateKey{m.lot.ID, 0}, crateKey{m.lot.ID, m.crate}
		if _, told := leaving[m.lot.ID]; !told {
			m.lot.checkSince(&p, "/shipped_at", "shipped", domain.DateIn(s.ShippedAt, w.zone))
		}
		if before, mine := own[key]; mine && m.crate > 0 {
			m.quantity = before
		} else if away[key] {
			p.Add(m.pointer, "That crate has already left.")
		} else if err := refuseKeptBack(m, back[key]); err != nil {
			return nil, err
		} else if m.crate > 0 {
			m.weighCrate(&p)
		}
		leaving[m.lot.ID] = leaving[m.lot.ID].Add(m.quantity)
		if m.lot.held() && leaving[m.lot.ID].GreaterThan(own[whole]) {
			return nil, heldError(m.lot, "shipped")
		}
		left := m.lot.Free.Add(own[whole])
		p.Check(!leaving[m.lot.ID].GreaterThan(left), m.pointer, "Only %s %s of lot %s are left.", left, m.lot.Unit, m.lot.Code)
	}
	s.Moved = movedOf(moves)
	return append(handledWarnings(to, moves, back), lostStatusWarnings(moves)...), p.Err()
}

// lostStatusWarnings speaks up when a lot leaves that was packed and labelled as organic and is not organic any more.
func lostStatusWarnings(moves []movement) (out []string) {
	told := map[uuid.UUID]bool{}
	for _, m := range moves {
		if m.lot.Labelled && !m.lot.Organic && !told[m.lot.ID] {
			told[m.lot.ID] = true
			out = append(out, "Lot "+m.lot.Code+" was packed as organic and is not organic any more, by what went into it (7 CFR 205.272). Take its labels off and tell the buyer.")
		}
	}
	return out
}

// recipient reads the customer that a shipment names.
func (w *writing) recipient(id uuid.UUID) (*domain.Customer, error) {
	refs, err := w.refs(id)
	if err != nil {
		return nil, err
	}
	var p domain.Problems
	if !need(&p, refs, "/customer_id", "customer", id) {
		return nil, p.Err()
	}
	to := &domain.Customer{}
	return to, refs[id].into(to)
}

// sumsOf adds up what was moved: of each crate, and as crate 0 of the whole lot.
func sumsOf(moved []domain.Moved) map[crateKey]decimal.Decimal {
	out := map[crateKey]decimal.Decimal{}
	for _, m := range moved {
		whole := crateKey{m.LotID, 0}
		out[whole] = out[whole].Add(m.Quantity.Value)
		if m.Crate > 0 {
			out[crateKey{m.LotID, m.Crate}] = m.Quantity.Value
		}
	}
	return out
}

// checkShipment holds a corrected shipment to the book. While its lines stay as they were, so does what they moved.
func (w *writing) checkShipment(s, was *domain.Shipment) error {
	s.Moved = nil
	if err := domain.CheckRecord(s, w.today, w.zone); err != nil {
		return err
	}
	if err := w.checkBackAfter(s, was); err != nil {
		return err
	}
	if !reflect.DeepEqual(s.Lines, was.Lines) {
		_, err := w.decideShipment(s, was.Moved)
		return err
	}
	s.Moved = was.Moved
	if err := w.checkShippedDay(s, was); err != nil {
		return err
	}
	_, err := w.recipient(s.CustomerID)
	return err
}

// decideReturn takes back only what went to that customer, all lines together. A crate comes back with what it left with.
func (w *writing) decideReturn(r *domain.Return) ([]string, error) {
	moves, err := w.movements(r.Lines)
	if err != nil {
		return nil, err
	}
	with, err := w.withCustomer(r.CustomerID, moves)
	if err != nil {
		return nil, err
	}
	if err := w.checkReturnedDay(r, moves); err != nil {
		return nil, err
	}
	var p domain.Problems
	back := map[uuid.UUID]decimal.Decimal{}
	for i := range moves {
		m := &moves[i]
		there := with[crateKey{m.lot.ID, 0}]
		words := "That customer has %s %s of lot %s, and this would bring back %s."
		if m.crate > 0 {
			m.quantity = with[crateKey{m.lot.ID, m.crate}]
			words += " Some came back without its crate before: Give the lot and the quantity instead of the crate."
			if m.quantity.Sign() <= 0 {
				p.Add(m.pointer, "Crate %s is not with that customer.", domain.CrateCode(m.lot.Code, m.crate))
				continue
			}
		}
		back[m.lot.ID] = back[m.lot.ID].Add(m.quantity)
		p.Check(!back[m.lot.ID].GreaterThan(there), m.pointer, words, there, m.lot.Unit, m.lot.Code, back[m.lot.ID])
	}
	r.Moved = movedOf(moves)
	if err := p.Err(); err != nil {
		return nil, err
	}
	if r.Opened || r.Decision == "hold" {
		return []string{"Customers handled it, or its time away is in doubt: do not sell it on to kitchens or grocers."}, nil
	}
	return nil, nil
}

// brokenMovesSQL finds the first line, in the order of the book, that could not have been: more came back than was there,
// or a crate left that was away. The door keeps both from being written; a void or a correction of an earlier line must not
// bring them about.
const brokenMovesSQL = `
select direction, record_id, reference, at, name, code, crate, quantity::text, unit from (
	select s.direction, s.record_id, s.reference, s.at, c.body ->> 'name' as name, l.code, s.crate, s.quantity, l.unit, r.first_seq, s.line,
		sum(case s.direction when 'out' then s.quantity else -s.quantity end) over (partition by s.lot_id, s.customer_id order by r.first_seq, s.line) as has,
		sum(case s.direction when 'out' then s.quantity else -s.quantity end) over (partition by s.lot_id, s.customer_id, s.crate order by r.first_seq, s.line) as in_crate,
		sum(case s.direction when 'out' then 1 else -1 end) over (partition by s.lot_id, s.crate order by r.first_seq, s.line) as away
	from shipment_lines s join records r on r.farm_id = $1 and r.id = s.record_id join records c on c.farm_id = $1 and c.id = s.customer_id
		join lots l on l.farm_id = $1 and l.id = s.lot_id
	where s.farm_id = $1 and s.lot_id = any($2)) as told
where has < 0 or (crate > 0 and (in_crate < 0 or away not in (0, 1)))
order by first_seq, line limit 1`

// checkMoves refuses a void or correction after which a later return or shipment of the same lots could not have been.
func (w *writing) checkMoves(lists ...[]domain.Moved) error {
	var lots []uuid.UUID
	for _, list := range lists {
		for _, m := range list {
			lots = append(lots, m.LotID)
		}
	}
	if len(lots) == 0 {
		return nil
	}
	if err := w.settle(); err != nil {
		return err
	}
	var direction, reference, name, code, quantity, unit string
	var record uuid.UUID
	var at time.Time
	var crate int
	err := w.tx.QueryRow(w.ctx, brokenMovesSQL, w.actor.FarmID, lots).Scan(&direction, &record, &reference, &at, &name, &code, &crate, &quantity, &unit)
	if err == pgx.ErrNoRows {
		return nil
	}
	if err != nil {
		return err
	}
	if crate > 0 {
		code = domain.CrateCode(code, crate)
	}
	on := domain.DateIn(at, w.zone)
	if direction == "back" {
		return domain.Refuse(domain.CodeRuleRefused, "Some of it came back",
			"%s sent back %s %s of %s on %s (return %s), and would not have had it. Void that return first.", name, quantity, unit, code, on, record)
	}
	return domain.Refuse(domain.CodeRuleRefused, "It left again",
		"%s went to %s on %s with %s (shipment %s), and would not have been here. Void or correct that shipment first.", code, name, on, reference, record)
}

// movedBy is what a shipment or return moved; other records move nothing.
func movedBy(r domain.Record) []domain.Moved {
	switch r := r.(type) {
	case *domain.Shipment:
		return r.Moved
	case *domain.Return:
		return r.Moved
	}
	return nil
}

// withCustomer gives what a customer has of the lots of some movements: of each crate, and as crate 0 of the whole lot.
func (w *writing) withCustomer(customer uuid.UUID, moves []movement) (map[crateKey]decimal.Decimal, error) {
	rows, err := w.tx.Query(w.ctx, `select lot_id, crate, sum(case direction when 'out' then quantity else -quantity end)::text
		from shipment_lines where farm_id = $1 and customer_id = $2 and lot_id = any($3) group by lot_id, crate`,
		w.actor.FarmID, customer, lotsOf(moves))
	if err != nil {
		return nil, err
	}
	type part struct {
		Lot      uuid.UUID
		Crate    int
		Quantity string
	}
	parts, err := pgx.CollectRows(rows, pgx.RowToStructByPos[part])
	if err != nil {
		return nil, err
	}
	out := map[crateKey]decimal.Decimal{}
	for _, x := range parts {
		q := decimal.RequireFromString(x.Quantity)
		whole := crateKey{x.Lot, 0}
		out[whole] = out[whole].Add(q)
		if x.Crate > 0 {
			out[crateKey{x.Lot, x.Crate}] = q
		}
	}
	return out, nil
}

func lotsOf(moves []movement) []uuid.UUID {
	lots := []uuid.UUID{}
	for _, m := range moves {
		lots = append(lots, m.lot.ID)
	}
	return lots
}

type crateKey struct {
	lot   uuid.UUID
	crate int
}

// cratesAway finds the crates among the movements that have left and not come back.
func (w *writing) cratesAway(moves []movement) (map[crateKey]bool, error) {
	rows, err := w.tx.Query(w.ctx, `select lot_id, crate from shipment_lines where farm_id = $1 and lot_id = any($2) and crate > 0
		group by lot_id, crate having sum(case direction when 'out' then 1 else -1 end) > 0`, w.actor.FarmID, lotsOf(moves))
	if err != nil {
		return nil, err
	}
	type away struct {
		Lot   uuid.UUID
		Crate int
	}
	list, err := pgx.CollectRows(rows, pgx.RowToStructByPos[away])
	out := map[crateKey]bool{}
	for _, a := range list {
		out[crateKey{a.Lot, a.Crate}] = true
	}
	return out, err
}

// moved writes what left or came back and counts it off or back on.
func (x index) moved(id, customer uuid.UUID, at time.Time, direction, reference string, list []domain.Moved) error {
	ids, crates, amounts := make([]uuid.UUID, len(list)), make([]int, len(list)), make([]string, len(list))
	for i, m := range list {
		ids[i], crates[i], amounts[i] = m.LotID, m.Crate, m.Quantity.Value.String()
	}
	return x.exec(`with moved as (
			select l.line::int as line, l.lot_id, l.crate, l.quantity
			from unnest($7::uuid[], $8::int[], $9::numeric[]) with ordinality as l (lot_id, crate, quantity, line)
		), lines as (
			insert into shipment_lines (farm_id, record_id, line, customer_id, at, direction, reference, lot_id, crate, quantity)
			select $1, $2, line, $3, $4, $5, $6, lot_id, crate, quantity from moved)
		update lots set shipped = shipped + case when $5 = 'out' then m.q else 0 end, returned = returned + case when $5 = 'back' then m.q else 0 end
		from (select lot_id, sum(quantity) as q from moved group by lot_id) m where lots.farm_id = $1 and lots.id = m.lot_id`,
		id, customer, at, direction, reference, ids, crates, amounts)
}

// unmoved takes the lines of a record away and counts them back, before its corrected lines are written.
func (x index) unmoved(id uuid.UUID) error {
	return x.exec(`with gone as (delete from shipment_lines where farm_id = $1 and record_id = $2 returning lot_id, direction, quantity)
		update lots set shipped = shipped - s.away, returned = returned - s.back from (select lot_id,
			sum(case direction when 'out' then quantity else 0 end) as away, sum(case direction when 'back' then quantity else 0 end) as back from gone group by lot_id) s
			where lots.farm_id = $1 and lots.id = s.lot_id`, id)
}

// movedOf is what the book keeps of movements.
func movedOf(moves []movement) []domain.Moved {
	out := make([]domain.Moved, len(moves))
	for i, m := range moves {
		out[i] = domain.Moved{LotID: m.lot.ID, Code: m.lot.Code, Crate: m.crate, Quantity: domain.Quantity{Value: m.quantity, Unit: m.lot.Unit}}
	}
	return out
}
