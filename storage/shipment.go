package storage

import (
	"fmt"
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

// movements turns lines into lots and crates, checking every code.
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
	q := domain.CrateQuantity(domain.Quantity{Value: lot.Quantity, Unit: lot.Unit}, lot.Crates, lot.CrateNet, code.Crate)
	v, err := q.In(lot.Unit)
	if err != nil {
		v = q.Value
	}
	return movement{lot, code.Crate, v, pointer}
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

// decideShipment lets nothing held leave, and no more than there is.
func (w *writing) decideShipment(s *domain.Shipment) ([]string, error) {
	refs, err := w.refs(s.CustomerID)
	if err != nil {
		return nil, err
	}
	var p domain.Problems
	need(&p, refs, "/customer_id", "customer", s.CustomerID)
	if err := p.Err(); err != nil {
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
	leaving := map[*stockLot]decimal.Decimal{}
	for _, m := range moves {
		if m.lot.held() {
			return nil, heldError(m.lot, "shipped")
		}
		p.Check(m.crate == 0 || !away[crateKey{m.lot.ID, m.crate}], m.pointer, "That crate has already left.")
		leaving[m.lot] = leaving[m.lot].Add(m.quantity)
		p.Check(!leaving[m.lot].GreaterThan(m.lot.OnHand), m.pointer, "Only %s %s of lot %s are left.", m.lot.OnHand, m.lot.Unit, m.lot.Code)
	}
	s.Moved = movedOf(moves)
	return nil, p.Err()
}

// decideReturn takes back only what went to that customer.
func (w *writing) decideReturn(r *domain.Return) ([]string, error) {
	moves, err := w.movements(r.Lines)
	if err != nil {
		return nil, err
	}
	with, err := w.withCustomer(r.CustomerID, moves)
	if err != nil {
		return nil, err
	}
	var p domain.Problems
	for _, m := range moves {
		there := with[crateKey{m.lot.ID, m.crate}]
		p.Check(!m.quantity.GreaterThan(there), m.pointer, "That customer has %s %s of lot %s, not %s.", there, m.lot.Unit, m.lot.Code, m.quantity)
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

// movedOf is what the book keeps of movements.
func movedOf(moves []movement) []domain.Moved {
	out := make([]domain.Moved, len(moves))
	for i, m := range moves {
		out[i] = domain.Moved{LotID: m.lot.ID, Code: m.lot.Code, Crate: m.crate, Quantity: domain.Quantity{Value: m.quantity, Unit: m.lot.Unit}}
	}
	return out
}
