package storage

import (
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"croftmark/domain"
)

// startSQL finds the lots that a question starts from, whichever way it is asked but by the code of a lot or crate. Each way is one part; the parts that
// were not asked about find nothing. From and to say when the asked bed was cut or when the water ran, also
// in part: what water reached is cut later, and counts whenever that was. A person cut, packed or handled what names them in the crew or at
// the table, or was done by them. Names and numbers of papers are compared without regard to case; the spellings of a number are
// found in the index of numbers.
const startSQL = `
with recursive deliveries as (
	select $3::uuid as id where $3::uuid is not null
	union select id from records where $4 <> '' and farm_id = $1 and kind = 'input-lot' and lower(body ->> 'supplier') = lower($4)
	union select id from records where $2::uuid is not null and farm_id = $1 and kind = 'input-lot' and body ->> 'input_id' = $2::text
), batch as (
	select $5::uuid as id where $5::uuid is not null
	union select b.id from records b join deliveries d on b.body @> jsonb_build_object('ingredients', jsonb_build_array(jsonb_build_object('input_lot_id', d.id::text)))
		where b.farm_id = $1 and b.kind = 'compost-batch'
	union select v.batch_id from deliveries d join records b on b.farm_id = $1 and b.kind = 'compost-addition' and b.body #>> '{ingredient,input_lot_id}' = d.id::text
		join compost_events v on v.farm_id = $1 and v.record_id = b.id
), used as (
	select e.bed_id, e.plot_id, e.on_date, date 'infinity' as cut_by from deliveries d join exposures e on e.farm_id = $1 and e.input_lot_id = d.id
	union select e.bed_id, e.plot_id, e.on_date, 'infinity' from batch b join exposures e on e.farm_id = $1 and e.compost_batch_id = b.id
	union select $6::uuid, null, $7::date, $8::date where $6::uuid is not null
	union select t.bed_id, t.plot_id, (t.from_at at time zone 'UTC')::date - 1, 'infinity' from water_touches t
		where t.farm_id = $1 and t.source_id = $9 and t.lot_id is null and t.from_at <= $11 and t.to_at >= $10
), ground as (
	select g.bed_id, u.on_date, u.cut_by from used u join bed_grounds g on g.farm_id = $1 and g.ground_bed_id = u.bed_id
	union select b.id, u.on_date, u.cut_by from used u join beds b on b.farm_id = $1 and b.plot_id = u.plot_id
), packed as (
	select l.id as pack_id, l.id from lots l where l.farm_id = $1 and $16 <> '' and l.kind = 'pack-lot' and l.cut_from = $17
	union select p.pack_id, e.parent_id from packed p
		cross join lateral (select e.parent_id from lot_edges e where e.farm_id = $1 and e.child_id = p.id offset 0) e
)
select l.id from ground g cross join lateral (select lb.lot_id from lot_beds lb where lb.farm_id = $1 and lb.bed_id = g.bed_id offset 0) lb
	cross join lateral (select l.id from lots l where l.farm_id = $1 and l.id = lb.lot_id and l.cut_to >= g.on_date and l.cut_from <= g.cut_by offset 0) l
union select l.id from deliveries d join plantings p on p.farm_id = $1 and p.seed_lot_id = d.id join lots l on l.farm_id = $1 and l.planting_id = p.id
union select t.lot_id from water_touches t where t.farm_id = $1 and t.source_id = $9 and t.lot_id is not null and t.from_at <= $11 and t.to_at >= $10
union select lot_id from shipment_lines where farm_id = $1 and $12 <> '' and reference in (
	select reference from shipment_lines where farm_id = $1 and lower(btrim(reference)) = lower($12))
union select lot_id from shipment_lines where farm_id = $1 and customer_id = $13 and direction = 'out' and at >= $14 and at < $15
union select l.id from lots l join plantings p on p.farm_id = $1 and p.id = l.planting_id join records c on c.farm_id = $1 and c.id = p.crop_id
	where l.farm_id = $1 and $16 <> '' and lower(c.body ->> 'name') = lower($16) and l.cut_from <= $17 and l.cut_to >= $17
union select p.pack_id from packed p join lots l on l.farm_id = $1 and l.id = p.id join plantings g on g.farm_id = $1 and g.id = l.planting_id
	join records c on c.farm_id = $1 and c.id = g.crop_id where lower(c.body ->> 'name') = lower($16)
union select l.id from lots l join records x on x.farm_id = $1 and x.id = l.id
	where l.farm_id = $1 and $16 <> '' and l.kind = 'pack-lot' and lower(x.body ->> 'product') = lower($16) and l.cut_from = $17
union select l.id from lots l join records x on x.farm_id = $1 and x.id = l.id
	join book_entries e on e.farm_id = $1 and e.seq = x.first_seq
	where l.farm_id = $1 and $18::uuid is not null and l.cut_to >= $7 and l.cut_from <= $8
		and (x.body -> 'crew' ? $18::text or x.body -> 'packers' ? $18::text or e.leaf::jsonb ->> 'done_by' = $18::text)
union select t.lot_id from records x join book_entries e on e.farm_id = $1 and e.seq = x.first_seq
	join water_touches t on t.farm_id = $1 and t.record_id = x.id
	where x.farm_id = $1 and x.kind = 'handling' and $18::uuid is not null and x.done_on <= $8 and t.from_at <= $11 and t.to_at >= $10
		and e.leaf::jsonb ->> 'done_by' = $18::text`

// startLots gives the lots that a question starts from. A code has a statement of its own: it is asked most, and planning the
// other ways takes longer than looking it up. Ground is followed bed by bed and lot by lot, as a chain is.
func startLots(r Reading, tx pgx.Tx, s domain.TraceStart) ([]uuid.UUID, error) {
	for _, text := range []string{s.Lot, s.Crate} {
		if text != "" {
			code, err := domain.ParseCode(text)
			if err != nil {
				return nil, err
			}
			return lotsByCode(r, tx, code.Lot)
		}
	}
	zone, err := farmZone(r, tx)
	if err != nil {
		return nil, err
	}
	from, to := s.From, s.To
	if from.IsZero() {
		from = domain.NewDate(1900, 1, 1).Time()
	}
	if to.IsZero() {
		to = everDay.Time()
	}
	on := s.On
	if on.IsZero() {
		on = domain.NewDate(1900, 1, 1)
	}
	rows, err := tx.Query(r.Ctx, startSQL, r.Farm, nullID(s.InputID), nullID(s.InputLotID), strings.TrimSpace(s.Supplier), nullID(s.CompostBatchID), nullID(s.BedID),
		domain.DateIn(from, zone), domain.DateIn(to, zone), s.WaterSourceID, from, to, strings.TrimSpace(s.Reference), s.CustomerID, on.In(zone), on.AddDays(1).In(zone),
		strings.TrimSpace(s.Crop), on, nullID(s.PersonID))
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowTo[uuid.UUID])
}

// farmZone reads the zone of the farm's days.
func farmZone(r Reading, tx pgx.Tx) (*time.Location, error) {
	var name string
	if err := tx.QueryRow(r.Ctx, `select body ->> 'time_zone' from records where farm_id = $1 and id = $1`, r.Farm).Scan(&name); err != nil {
		return nil, err
	}
	return domain.Zone(name)
}

// TraceFrom answers a question from any start, towards the ground or towards the eater.
func (db *DB) TraceFrom(r Reading, s domain.TraceStart, forward bool) (t *domain.Trace, err error) {
	plans := planEach
	if s.Lot != "" || s.Crate != "" {
		plans = planOnce // then all of it is looked up by ids
	}
	err = db.readWith(r.Ctx, r.Farm, plans, func(tx pgx.Tx) error {
		lots, err := startLots(r, tx, s)
		if err != nil {
			return err
		}
		if len(lots) == 0 {
			t = &domain.Trace{Direction: "back", Gaps: []string{"No lot in the book fits this question."}}
			return nil
		}
		if !forward {
			t, err = traceBack(r, tx, lots)
			return err
		}
		t = &domain.Trace{Direction: "forward"}
		return traceDown(r, tx, t, lots, func(reached []tracedLot) error { return addStart(r, tx, t, s, reached) })
	})
	return t, err
}

// addStart begins a trace with the record that was asked about, and links it to the lots it reached. A lot, a paper, a day or
// a supplier is no record of its own.
func addStart(r Reading, tx pgx.Tx, t *domain.Trace, s domain.TraceStart, reached []tracedLot) error {
	for _, id := range []uuid.UUID{s.BedID, s.WaterSourceID, s.InputID, s.InputLotID, s.CompostBatchID, s.PersonID} {
		if id == uuid.Nil {
			continue
		}
		var kind, name string
		err := tx.QueryRow(r.Ctx, `select kind, coalesce(body ->> 'name', body ->> 'code', body ->> 'supplier_lot', body ->> 'supplier', '')
			from records where farm_id = $1 and id = $2`, r.Farm, id).Scan(&kind, &name)
		if err != nil {
			return err
		}
		start := t.Node(domain.TraceNode{Kind: kind, ID: id, Label: name})
		for _, l := range reached {
			t.Link(start, t.Node(domain.TraceNode{Kind: l.Kind, ID: l.ID, Label: l.Code + " " + l.Name, On: l.From}), "reached")
		}
	}
	return nil
}

// namedSQL finds what a code, a name or an id stands for. Names are compared without regard to case.
const namedSQL = `
select distinct kind, id, coalesce(body ->> 'name', body ->> 'code', body ->> 'supplier', '') from records
where farm_id = $1 and not voided and kind in ('input', 'input-lot', 'compost-batch', 'water-source', 'bed', 'person', 'harvest-lot', 'pack-lot')
	and (id = $2 or ($2::uuid is null and (
		(kind in ('compost-batch', 'harvest-lot', 'pack-lot') and lower(body ->> 'code') = lower($3))
		or (kind in ('bed', 'water-source', 'input') and lower(body ->> 'name') = lower($3))
		or (kind = 'input-lot' and lower(body ->> 'supplier_lot') = lower($3)))))
union all
select 'shipment', null::uuid, min(reference) from shipment_lines where farm_id = $1 and $2::uuid is null and $3 <> '' and lower(btrim(reference)) = lower($3) having count(*) > 0`

// named is one thing that a code can stand for.
type named struct {
	Kind string
	ID   *uuid.UUID
	Name string
}

// start is the question that begins with the thing.
func (n named) start() (s domain.TraceStart) {
	switch n.Kind {
	case "input":
		s.InputID = *n.ID
	case "input-lot":
		s.InputLotID = *n.ID
	case "compost-batch":
		s.CompostBatchID = *n.ID
	case "water-source":
		s.WaterSourceID = *n.ID
	case "bed":
		s.BedID = *n.ID
	case "person":
		s.PersonID = *n.ID
	case "shipment":
		s.Reference = n.Name
	default:
		s.Lot = n.Name
	}
	return s
}

// StartOf finds what a code stands for: the code of a lot or crate; an id; the code of a compost batch, a supplier's lot, the
// number of a paper, or the name of an input, bed or water source. A name that several things bear is refused, and they are
// told apart.
func (db *DB) StartOf(r Reading, code string) (s domain.TraceStart, err error) {
	if parsed, err := domain.ParseCode(code); err == nil && parsed.Crate > 0 {
		return domain.TraceStart{Crate: parsed.Text}, nil
	} else if err == nil {
		return domain.TraceStart{Lot: parsed.Text}, nil
	}
	var id *uuid.UUID
	if parsed, err := uuid.Parse(code); err == nil {
		id = &parsed
	}
	var found []named
	err = db.read(r.Ctx, r.Farm, func(tx pgx.Tx) error {
		rows, err := tx.Query(r.Ctx, namedSQL, r.Farm, id, strings.TrimSpace(code))
		if err != nil {
			return err
		}
		found, err = pgx.CollectRows(rows, pgx.RowToStructByPos[named])
		return err
	})
	switch {
	case err != nil:
		return s, err
	case len(found) == 0:
		return s, domain.NotFound("lot, crate, input, batch, source or bed", code)
	case len(found) > 1:
		return s, severalNamed(code, found)
	}
	return found[0].start(), nil
}

func severalNamed(code string, found []named) error {
	var list []string
	for _, n := range found {
		what := kindWords(n.Kind) + " " + n.Name
		if n.ID != nil {
			what += " (" + n.ID.String() + ")"
		}
		list = append(list, what)
	}
	return domain.Refuse(domain.CodeInvalid, "That names several things", "%.60q stands for %s. Ask with the id of the one you mean.", code, strings.Join(list, ", "))
}
