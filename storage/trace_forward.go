package storage

import (
	"fmt"
	"slices"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"croftmark/domain"
)

const forwardSQL = `
with batch as (
	select $2::uuid as id
	union select b.id from records b where b.farm_id = $1 and b.kind = 'compost-batch'
		and b.body @> jsonb_build_object('ingredients', jsonb_build_array(jsonb_build_object('input_lot_id', $2::text)))
	union select v.batch_id from compost_events v join records b on b.farm_id = $1 and b.id = v.record_id
		where v.farm_id = $1 and v.kind = 'compost-addition' and b.body #>> '{ingredient,input_lot_id}' = $2::text
), used as (
	select e.record_id, e.bed_id, e.plot_id, e.on_date, null::uuid as batch_id from exposures e where e.farm_id = $1 and e.input_lot_id = $2
	union all
	select e.record_id, e.bed_id, e.plot_id, e.on_date, batch.id from batch join exposures e on e.farm_id = $1 and e.compost_batch_id = batch.id
), bed as (
	select u.record_id, u.batch_id, u.on_date, g.bed_id from used u join bed_grounds g on g.farm_id = $1 and g.ground_bed_id = u.bed_id
	union
	select u.record_id, u.batch_id, u.on_date, b.id from used u join beds b on b.farm_id = $1 and b.plot_id = u.plot_id
)
select bed.record_id, bed.batch_id, bed.on_date, l.id, l.code, c.body ->> 'name', l.cut_from, b.id, b.name
from bed
join lot_beds lb on lb.farm_id = $1 and lb.bed_id = bed.bed_id
join lots l on l.farm_id = $1 and l.id = lb.lot_id and l.cut_to >= bed.on_date
join beds b on b.farm_id = $1 and b.id = bed.bed_id
join plantings p on p.farm_id = $1 and p.id = l.planting_id
join records c on c.farm_id = $1 and c.id = p.crop_id
union all
select null, null, p.planted_on, l.id, l.code, c.body ->> 'name', l.cut_from, null, null
from plantings p
join lots l on l.farm_id = $1 and l.planting_id = p.id
join records c on c.farm_id = $1 and c.id = p.crop_id
where p.farm_id = $1 and p.seed_lot_id = $2
order by 7, 5`

type forwardRow struct {
	ApplicationID *uuid.UUID
	BatchID       *uuid.UUID
	On            domain.Date
	LotID         uuid.UUID
	Code          string
	Crop          string
	CutFrom       domain.Date
	BedID         *uuid.UUID
	Bed           *string
}

// TraceForward goes from a delivery, or from a batch of own compost, to every lot whose ground it reached or that grew
// from it.
func (db *DB) TraceForward(r Reading, start uuid.UUID) (t *domain.Trace, err error) {
	err = db.readWith(r.Ctx, r.Farm, planOnce, func(tx pgx.Tx) error {
		t = &domain.Trace{Direction: "forward"}
		kind, label, err := startOf(r, tx, start)
		if err != nil {
			return err
		}
		t.Start = t.Node(domain.TraceNode{Kind: kind, ID: start, Label: label})
		rows, err := tx.Query(r.Ctx, forwardSQL, r.Farm, start)
		if err != nil {
			return err
		}
		reached, err := pgx.CollectRows(rows, pgx.RowToStructByPos[forwardRow])
		if err != nil {
			return err
		}
		lots := make([]uuid.UUID, 0, len(reached))
		for _, row := range reached {
			lots = append(lots, row.LotID)
		}
		if err := traceDown(r, tx, t, lots, func([]tracedLot) error {
			for _, row := range reached {
				addReached(t, row)
			}
			return nil
		}); err != nil {
			return err
		}
		return traceSources(r, tx, t)
	})
	return t, err
}

// wentSQL finds who got lots. Crates are counted before anything is looked up beside them: a lot has many, and they mostly
// went the same way. The days are the farm's own.
const wentSQL = `
select w.lot_id, w.record_id, w.customer_id, c.body ->> 'name', w.direction, w.reference,
	(w.at at time zone (select body ->> 'time_zone' from records where farm_id = $1 and id = $1))::date, w.crates, w.quantity::text, x.unit
from (select l.lot_id, l.record_id, l.customer_id, l.direction, l.reference, l.at, count(*) filter (where l.crate > 0) as crates, sum(l.quantity) as quantity
	from shipment_lines l where l.farm_id = $1 and l.lot_id = any($2)
	group by l.lot_id, l.record_id, l.customer_id, l.direction, l.reference, l.at offset 0) w
join records c on c.farm_id = $1 and c.id = w.customer_id join lots x on x.farm_id = $1 and x.id = w.lot_id
order by w.at, w.record_id, w.lot_id`

// traceDown adds what was packed from lots, and everybody who got any of it. begin puts the lots it starts from into the
// trace, in its own way.
func traceDown(r Reading, tx pgx.Tx, t *domain.Trace, start []uuid.UUID, begin func([]tracedLot) error) error {
	lots, edges, err := chain(r, tx, start, false)
	if err != nil {
		return err
	}
	if err := begin(slices.DeleteFunc(slices.Clone(lots), func(l tracedLot) bool { return !l.Start })); err != nil {
		return err
	}
	addChain(t, lots, edges)
	kinds, ids := map[uuid.UUID]string{}, make([]uuid.UUID, len(lots))
	for i, l := range lots {
		kinds[l.ID], ids[i] = l.Kind, l.ID
	}
	rows, err := tx.Query(r.Ctx, wentSQL, r.Farm, ids)
	if err != nil {
		return err
	}
	type went struct {
		Lot, Record, Customer      uuid.UUID
		Name, Direction, Reference string
		On                         domain.Date
		Crates                     int
		Quantity, Unit             string
	}
	list, err := pgx.CollectRows(rows, pgx.RowToStructByPos[went])
	if err != nil {
		return err
	}
	for _, w := range list {
		lot := t.Node(domain.TraceNode{Kind: kinds[w.Lot], ID: w.Lot})
		customer := t.Node(domain.TraceNode{Kind: "customer", ID: w.Customer, Label: w.Name})
		if w.Direction == "back" {
			back := t.Node(domain.TraceNode{Kind: "return", ID: w.Record, Label: w.Quantity + " " + w.Unit + " back", On: w.On})
			t.Link(customer, back, "sent back")
			t.Link(back, lot, "came home as")
			continue
		}
		shipment := t.Node(domain.TraceNode{Kind: "shipment", ID: w.Record, Label: w.Reference, On: w.On})
		how := w.Quantity + " " + w.Unit
		if w.Crates > 0 {
			how = fmt.Sprintf("%s in %d crates", how, w.Crates)
		}
		t.Link(lot, shipment, how)
		t.Link(shipment, customer, "went to")
	}
	return traceContact(r, tx, t, ids)
}

// startOf names what a forward trace starts from.
func startOf(r Reading, tx pgx.Tx, id uuid.UUID) (kind, label string, err error) {
	err = tx.QueryRow(r.Ctx, `select kind, coalesce(body ->> 'code', body ->> 'supplier_lot', body ->> 'supplier') from records
		where farm_id = $1 and id = $2 and kind in ('input-lot', 'compost-batch')`, r.Farm, id).Scan(&kind, &label)
	if err == pgx.ErrNoRows {
		err = domain.NotFound("delivery or batch", id.String())
	}
	return kind, label, err
}

func addReached(t *domain.Trace, row forwardRow) {
	lot := t.Node(domain.TraceNode{Kind: "harvest-lot", ID: row.LotID, Label: row.Code + " " + row.Crop, On: row.CutFrom})
	if row.ApplicationID == nil {
		t.Link(t.Start, lot, "grew into")
		return
	}
	application := t.Node(domain.TraceNode{Kind: "application", ID: *row.ApplicationID, Label: "Application", On: row.On})
	from := t.Start
	if row.BatchID != nil && *row.BatchID != t.Nodes[t.Start].ID {
		from = t.Node(domain.TraceNode{Kind: "compost-batch", ID: *row.BatchID})
		t.Link(t.Start, from, "went into")
	}
	t.Link(from, application, "was applied as")
	bed := t.Node(domain.TraceNode{Kind: "bed", ID: *row.BedID, Label: *row.Bed})
	t.Link(application, bed, "went on the ground of")
	t.Link(bed, lot, "was cut as")
}
