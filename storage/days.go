package storage

import (
	"maps"
	"slices"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"croftmark/domain"
)

// The days of a lot follow each other: cut, packed, shipped, returned. Days are compared and not hours, because hours are
// written from memory. Only what is being written is held to this; a book that says otherwise is rebuilt as it is.

// checkSince refuses a day on which the lot was not there yet.
func (l *stockLot) checkSince(p *domain.Problems, pointer, what string, on domain.Date) {
	made := "cut"
	if l.Kind == "pack-lot" {
		made = "packed"
	}
	p.Check(!on.Before(l.Since), pointer, "Lot %s was %s on %s and can't have been %s before that, on %s. Correct the day that is wrong.", l.Code, made, l.Since, what, on)
}

// checkShippedDay holds a shipment whose day alone is corrected to the days of what it moved.
func (w *writing) checkShippedDay(s, was *domain.Shipment) error {
	on := domain.DateIn(s.ShippedAt, w.zone)
	if on == domain.DateIn(was.ShippedAt, w.zone) {
		return nil
	}
	codes := make([]string, len(was.Moved))
	for i, m := range was.Moved {
		codes[i] = m.Code
	}
	lots, err := w.stockLots(codes)
	if err != nil {
		return err
	}
	var p domain.Problems
	for _, code := range slices.Sorted(maps.Keys(lots)) {
		lots[code].checkSince(&p, "/shipped_at", "shipped", on)
	}
	return p.Err()
}

// backBeforeSQL finds lots that a customer sent back before getting any, were the shipment $4 on the day $6.
const backBeforeSQL = `
select l.code, (min(s.at) filter (where s.direction = 'back') at time zone $5)::date from shipment_lines s join lots l on l.farm_id = $1 and l.id = s.lot_id
where s.farm_id = $1 and s.customer_id = $2 and s.lot_id = any($3) and s.record_id <> $4 group by l.code
having (min(s.at) filter (where s.direction = 'back') at time zone $5)::date < least((min(s.at) filter (where s.direction = 'out') at time zone $5)::date, $6::date)
order by l.code`

// checkBackAfter refuses to move a shipment behind the day on which some of it came back.
func (w *writing) checkBackAfter(s, was *domain.Shipment) error {
	on := domain.DateIn(s.ShippedAt, w.zone)
	if !on.After(domain.DateIn(was.ShippedAt, w.zone)) {
		return nil
	}
	lots := make([]uuid.UUID, len(was.Moved))
	for i, m := range was.Moved {
		lots[i] = m.LotID
	}
	rows, err := w.tx.Query(w.ctx, backBeforeSQL, w.actor.FarmID, s.CustomerID, lots, s.ID, w.farm.TimeZone, on)
	if err != nil {
		return err
	}
	var p domain.Problems
	var code string
	var back domain.Date
	if _, err = pgx.ForEachRow(rows, []any{&code, &back}, func() error {
		p.Add("/shipped_at", "Some of lot %s came back on %s and can't have left after that, on %s. Correct the day that is wrong.", code, back, on)
		return nil
	}); err != nil {
		return err
	}
	return p.Err()
}

// checkReturnedDay refuses a day before the customer first got something of the lot.
func (w *writing) checkReturnedDay(r *domain.Return, moves []movement) error {
	rows, err := w.tx.Query(w.ctx, `select l.code, (min(s.at) at time zone $4)::date from shipment_lines s join lots l on l.farm_id = $1 and l.id = s.lot_id
		where s.farm_id = $1 and s.customer_id = $2 and s.lot_id = any($3) and s.direction = 'out' group by l.code order by l.code`,
		w.actor.FarmID, r.CustomerID, lotsOf(moves), w.farm.TimeZone)
	if err != nil {
		return err
	}
	on := domain.DateIn(r.ReturnedAt, w.zone)
	var p domain.Problems
	var code string
	var first domain.Date
	if _, err = pgx.ForEachRow(rows, []any{&code, &first}, func() error {
		p.Check(!on.Before(first), "/returned_at", "That customer first got lot %s on %s and can't have sent it back before that, on %s. Correct the day that is wrong.", code, first, on)
		return nil
	}); err != nil {
		return err
	}
	return p.Err()
}

// leftFirstSQL finds the first day on which some of a lot was packed, shipped or disposed of.
const leftFirstSQL = `
select what, on_day from (
	select 'packed into ' || c.code as what, c.cut_from as on_day from lot_edges e join lots c on c.farm_id = $1 and c.id = e.child_id
		where e.farm_id = $1 and e.parent_id = $2
	union all select 'shipped with ' || reference, (at at time zone $3)::date from shipment_lines where farm_id = $1 and lot_id = $2 and direction = 'out'
	union all select 'disposed of', on_date from disposals where farm_id = $1 and lot_id = $2) as went
order by on_day, what limit 1`

// checkCutDay refuses to move a cut behind a day on which the lot was packed, shipped or disposed of.
func (w *writing) checkCutDay(lot, was *domain.HarvestLot) error {
	if !lot.FirstDay().After(was.FirstDay()) {
		return nil
	}
	var what string
	var on domain.Date
	err := w.tx.QueryRow(w.ctx, leftFirstSQL, w.actor.FarmID, lot.ID, w.farm.TimeZone).Scan(&what, &on)
	if err == pgx.ErrNoRows {
		return nil
	}
	if err != nil {
		return err
	}
	pointer := "/cut_on"
	if lot.CutOn.IsZero() {
		pointer = "/cut_from"
	}
	var p domain.Problems
	p.Check(!lot.FirstDay().After(on), pointer, "Some of the lot was %s on %s and can't have been cut after that, on %s. Correct the day that is wrong.", what, on, lot.FirstDay())
	return p.Err()
}
