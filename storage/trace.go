package storage

import (
	"encoding/json"
	"fmt"
	"strings"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"croftmark/domain"
)

// everDay is later than any day in a book, for traces that ask about all days.
var everDay = domain.NewDate(9000, 1, 1)

// TraceBack goes from a lot towards the ground: planting, beds with all older beds under them, everything that went on
// that ground before the cut, and the suppliers behind it.
func (db *DB) TraceBack(r Reading, code string) (t *domain.Trace, err error) {
	err = db.read(r.Ctx, r.Farm, func(tx pgx.Tx) error {
		lot, err := lotByCode(r.Ctx, tx, r.Farm, code)
		if err != nil {
			return err
		}
		facts, err := loadGround(r.Ctx, tx, r.Farm, lot.Harvest.BedIDs, []uuid.UUID{lot.Planting.ID}, domain.NewDate(1900, 1, 1), lot.Harvest.LastDay())
		if err != nil {
			return err
		}
		t = &domain.Trace{Direction: "back"}
		t.Start = t.Node(domain.TraceNode{Kind: "harvest-lot", ID: lot.ID, Label: lot.Code + " " + lot.Crop.Name, On: lot.Harvest.FirstDay()})
		planting := t.Node(domain.TraceNode{Kind: "planting", ID: lot.Planting.ID, Label: lot.Crop.Name, On: lot.Planting.PlantedOn})
		t.Link(planting, t.Start, "cut from")
		if err := traceSeed(r, tx, t, lot.Planting, planting); err != nil {
			return err
		}
		for _, id := range lot.Harvest.BedIDs {
			traceGround(t, facts, facts.Beds[id], planting, lot.Harvest.LastDay())
		}
		return traceSources(r, tx, t)
	})
	return t, err
}

// traceGround adds a bed, the older beds under it, and what reached its ground up to a day.
func traceGround(t *domain.Trace, f *domain.GroundFacts, bed *domain.BedGround, planting int, upTo domain.Date) {
	node := t.Node(domain.TraceNode{Kind: "bed", ID: bed.ID, Label: bed.Name, On: bed.From})
	t.Link(node, planting, "grew in")
	for _, id := range bed.Ground {
		if old := f.Beds[id]; id != bed.ID && old != nil {
			t.Link(t.Node(domain.TraceNode{Kind: "bed", ID: old.ID, Label: old.Name, On: old.From}), node, "lies under")
		}
	}
	plot := f.Plots[bed.PlotID]
	t.Link(t.Node(domain.TraceNode{Kind: "plot", ID: plot.ID, Label: plot.Name}), node, "holds")
	if plot.History != "known" {
		t.Gaps = append(t.Gaps, fmt.Sprintf("What plot %s was used for before is not written down.", plot.Name))
	}
	for _, e := range f.GroundOf(bed, upTo) {
		if e.Record.Kind == "plot" {
			continue // a prior use is told by the plot itself
		}
		what := t.Node(domain.TraceNode{Kind: e.Record.Kind, ID: e.Record.ID, Label: exposureLabel(e), On: e.On})
		t.Link(what, node, "went on "+strings.ReplaceAll(e.Via, "-", " ")+" "+e.ViaName)
	}
}

func exposureLabel(e domain.GroundExposure) string {
	switch {
	case e.Record.Kind == "grazing" && e.Open:
		return e.What + ", still there"
	case e.Record.Kind == "grazing":
		return e.What + ", last day " + e.ClockStart.String()
	case e.ClockStart.IsZero():
		return e.What + ", not worked in"
	}
	return e.What + ", worked in " + e.ClockStart.String()
}

// traceSeed adds the seed or transplant lot of a planting.
func traceSeed(r Reading, tx pgx.Tx, t *domain.Trace, pl domain.Planting, planting int) error {
	if pl.SeedLotID == uuid.Nil {
		t.Gaps = append(t.Gaps, "The seed or transplant lot of this planting is not written down.")
		return nil
	}
	t.Link(t.Node(domain.TraceNode{Kind: "input-lot", ID: pl.SeedLotID}), planting, "sown or planted from")
	return nil
}

// sourcesSQL finds the deliveries behind applications, behind the batches of own compost that were applied, and behind
// plantings. The second column is the batch a delivery went into.
const sourcesSQL = `
with used as (
	select a.id as application_id, null::uuid as batch_id, (a.body #>> '{source,input_lot_id}')::uuid as lot_id
	from records a where a.farm_id = $1 and a.id = any($2) and a.body #> '{source,input_lot_id}' is not null
	union all
	select null, b.id, (g ->> 'input_lot_id')::uuid
	from records b, jsonb_array_elements(b.body -> 'ingredients') g
	where b.farm_id = $1 and b.id = any($4) and g ? 'input_lot_id'
	union all
	select null, v.batch_id, (b.body #>> '{ingredient,input_lot_id}')::uuid
	from compost_events v join records b on b.farm_id = $1 and b.id = v.record_id
	where v.farm_id = $1 and v.batch_id = any($4) and v.kind = 'compost-addition' and b.body #> '{ingredient,input_lot_id}' is not null
	union all
	select null, null, unnest($3::uuid[])
)
select u.application_id, u.batch_id, l.id, l.body, i.id, i.body
from used u
join records l on l.farm_id = $1 and l.id = u.lot_id
join records i on i.farm_id = $1 and i.id = (l.body ->> 'input_id')::uuid`

type sourceRow struct {
	ApplicationID *uuid.UUID
	BatchID       *uuid.UUID
	LotID         uuid.UUID
	Lot           json.RawMessage
	InputID       uuid.UUID
	Input         json.RawMessage
}

// traceSources adds the deliveries and suppliers behind the applications and seed lots of a trace, in one step.
func traceSources(r Reading, tx pgx.Tx, t *domain.Trace) error {
	var applications, seedLots []uuid.UUID
	for _, n := range t.Of("application") {
		applications = append(applications, n.ID)
	}
	for _, n := range t.Of("input-lot") {
		seedLots = append(seedLots, n.ID)
	}
	batches, err := traceBatches(r, tx, t, applications)
	if err != nil {
		return err
	}
	rows, err := tx.Query(r.Ctx, sourcesSQL, r.Farm, applications, seedLots, batches)
	if err != nil {
		return err
	}
	sources, err := pgx.CollectRows(rows, pgx.RowToStructByPos[sourceRow])
	if err != nil {
		return err
	}
	for _, s := range sources {
		if err := addSource(t, s); err != nil {
			return err
		}
	}
	return nil
}

// traceBatches adds the batches of own compost behind applications, and gives all batches of the trace.
func traceBatches(r Reading, tx pgx.Tx, t *domain.Trace, applications []uuid.UUID) (batches []uuid.UUID, err error) {
	rows, err := tx.Query(r.Ctx, `select a.id, b.id, b.body ->> 'code', b.done_on from records a
		join records b on b.farm_id = $1 and b.id = (a.body #>> '{source,compost_batch_id}')::uuid
		where a.farm_id = $1 and a.id = any($2)`, r.Farm, applications)
	if err != nil {
		return nil, err
	}
	type used struct {
		Application, Batch uuid.UUID
		Code               string
		Built              domain.Date
	}
	list, err := pgx.CollectRows(rows, pgx.RowToStructByPos[used])
	if err != nil {
		return nil, err
	}
	for _, u := range list {
		node := t.Node(domain.TraceNode{Kind: "compost-batch", ID: u.Batch, Label: u.Code, On: u.Built})
		t.Link(node, t.Node(domain.TraceNode{Kind: "application", ID: u.Application}), "was applied as")
	}
	for _, n := range t.Of("compost-batch") {
		batches = append(batches, n.ID)
	}
	return batches, nil
}

func addSource(t *domain.Trace, s sourceRow) error {
	var lot domain.InputLot
	if err := json.Unmarshal(s.Lot, &lot); err != nil {
		return err
	}
	var input domain.Input
	if err := json.Unmarshal(s.Input, &input); err != nil {
		return err
	}
	label := input.Name
	if lot.SupplierLot != "" {
		label += " lot " + lot.SupplierLot
	}
	node := t.Node(domain.TraceNode{Kind: "input-lot", ID: s.LotID})
	t.Nodes[node].Label, t.Nodes[node].On = label, lot.ReceivedOn
	if s.ApplicationID != nil {
		t.Link(node, t.Node(domain.TraceNode{Kind: "application", ID: *s.ApplicationID}), "was applied as")
	}
	if s.BatchID != nil {
		t.Link(node, t.Node(domain.TraceNode{Kind: "compost-batch", ID: *s.BatchID}), "went into")
	}
	t.Link(t.Node(domain.TraceNode{Kind: "input", ID: s.InputID, Label: input.Name}), node, "is")
	t.Link(t.Node(domain.TraceNode{Kind: "supplier", Label: lot.Supplier}), node, "supplied")
	return nil
}

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
	err = db.read(r.Ctx, r.Farm, func(tx pgx.Tx) error {
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
		for _, row := range reached {
			addReached(t, row)
		}
		return traceSources(r, tx, t)
	})
	return t, err
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
