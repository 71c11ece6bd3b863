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

// TraceBack goes from a lot or crate towards the ground: through pack lots to the harvest lots, their plantings, beds with
// all older beds under them, everything that went on that ground before the cut, the water, and the suppliers behind it.
func (db *DB) TraceBack(r Reading, code string) (t *domain.Trace, err error) {
	err = db.readWith(r.Ctx, r.Farm, planOnce, func(tx pgx.Tx) error {
		lots, err := lotsByCode(r, tx, code)
		if err != nil {
			return err
		}
		t, err = traceBack(r, tx, lots)
		return err
	})
	return t, err
}

func lotsByCode(r Reading, tx pgx.Tx, code string) ([]uuid.UUID, error) {
	var id uuid.UUID
	err := tx.QueryRow(r.Ctx, `select id from lots where farm_id = $1 and code = $2`, r.Farm, code).Scan(&id)
	if err == pgx.ErrNoRows {
		return nil, domain.NotFound("lot", code)
	}
	return []uuid.UUID{id}, err
}

// tracedLot is a lot of a trace with its place in the chain.
type tracedLot struct {
	ID         uuid.UUID
	Kind       string
	Code       string
	Name       string
	PlantingID *uuid.UUID
	From, To   domain.Date
	Beds       []uuid.UUID
	Start      bool
}

type lotEdge struct {
	Child, Parent uuid.UUID
	Quantity      string
	Unit          string
}

// The walks from lots along what was packed from what: up towards the ground, and down towards the eater. They are two
// statements, so that the plan of each can be kept: one for both ways would read every edge of the book.
var (
	chainUpSQL   = chainSQL("child_id", "parent_id")
	chainDownSQL = chainSQL("parent_id", "child_id")
)

// chainSQL looks up the edges of one lot at a step (offset 0 keeps the step whole): the database guesses how far a walk goes,
// and for hundreds of lots it would rather read every edge.
func chainSQL(from, to string) string {
	return `
with recursive chain as (
	select unnest($2::uuid[]) as id
	union
	select e.id from chain c cross join lateral (
		select e.` + to + ` as id from lot_edges e where e.farm_id = $1 and e.` + from + ` = c.id offset 0) e
)
select l.id, l.kind, l.code, coalesce(x.body ->> 'product', c.body ->> 'name', ''), l.planting_id, l.cut_from, l.cut_to,
	(select coalesce(array_agg(lb.bed_id order by lb.bed_id), '{}') from lot_beds lb where lb.farm_id = $1 and lb.lot_id = l.id), l.id = any($2)
from chain cross join lateral (select l.id, l.kind, l.code, l.planting_id, l.cut_from, l.cut_to from lots l where l.farm_id = $1 and l.id = chain.id offset 0) l
join records x on x.farm_id = $1 and x.id = l.id
left join plantings p on p.farm_id = $1 and p.id = l.planting_id left join records c on c.farm_id = $1 and c.id = p.crop_id
order by l.cut_from, l.code`
}

// chain gives every lot reached from the start along packing, with the edges between them.
func chain(r Reading, tx pgx.Tx, start []uuid.UUID, up bool) ([]tracedLot, []lotEdge, error) {
	walk := chainDownSQL
	if up {
		walk = chainUpSQL
	}
	rows, err := tx.Query(r.Ctx, walk, r.Farm, start)
	if err != nil {
		return nil, nil, err
	}
	lots, err := pgx.CollectRows(rows, pgx.RowToStructByPos[tracedLot])
	if err != nil {
		return nil, nil, err
	}
	ids := make([]uuid.UUID, len(lots))
	for i, l := range lots {
		ids[i] = l.ID
	}
	rows, err = tx.Query(r.Ctx, `select e.child_id, e.parent_id, e.quantity::text, l.unit from lot_edges e join lots l on l.farm_id = $1 and l.id = e.parent_id
		where e.farm_id = $1 and e.child_id = any($2) and e.parent_id = any($2) order by e.child_id, e.parent_id`, r.Farm, ids)
	if err != nil {
		return nil, nil, err
	}
	edges, err := pgx.CollectRows(rows, pgx.RowToStructByPos[lotEdge])
	return lots, edges, err
}

// addChain puts lots and what was packed from what into a trace.
func addChain(t *domain.Trace, lots []tracedLot, edges []lotEdge) {
	for _, l := range lots {
		t.Node(domain.TraceNode{Kind: l.Kind, ID: l.ID, Label: l.Code + " " + l.Name, On: l.From})
	}
	kinds := map[uuid.UUID]string{}
	for _, l := range lots {
		kinds[l.ID] = l.Kind
	}
	for _, e := range edges {
		t.Link(t.Node(domain.TraceNode{Kind: kinds[e.Parent], ID: e.Parent}), t.Node(domain.TraceNode{Kind: kinds[e.Child], ID: e.Child}),
			"went in with "+e.Quantity+" "+e.Unit)
	}
}

func traceBack(r Reading, tx pgx.Tx, start []uuid.UUID) (*domain.Trace, error) {
	lots, edges, err := chain(r, tx, start, true)
	if err != nil {
		return nil, err
	}
	t := &domain.Trace{Direction: "back"}
	addChain(t, startFirst(lots), edges)
	a := asked{first: domain.NewDate(1900, 1, 1)}
	for _, l := range lots {
		a.lots, a.last = append(a.lots, l.ID), domain.Later(a.last, l.To)
		if l.PlantingID != nil {
			a.plantings, a.beds = append(a.plantings, *l.PlantingID), append(a.beds, l.Beds...)
		}
	}
	facts, err := loadFacts(r.Ctx, tx, r.Farm, a)
	if err != nil {
		return nil, err
	}
	for _, l := range lots {
		node := t.Node(domain.TraceNode{Kind: l.Kind, ID: l.ID})
		traceWater(t, facts, l.ID, node)
		if l.PlantingID == nil {
			continue
		}
		pl := facts.Plantings[*l.PlantingID]
		planting := t.Node(domain.TraceNode{Kind: "planting", ID: pl.ID, Label: pl.Crop.Name, On: pl.PlantedOn})
		t.Link(planting, node, "cut as")
		traceSeed(t, pl.Planting, planting)
		for _, id := range l.Beds {
			traceGround(t, facts, facts.Beds[id], planting, l.To)
		}
	}
	if err := traceContact(r, tx, t, a.lots); err != nil {
		return nil, err
	}
	return t, traceSources(r, tx, t)
}

// startFirst puts the lots asked about before the others, so that the trace begins with them.
func startFirst(lots []tracedLot) (out []tracedLot) {
	for _, first := range []bool{true, false} {
		for _, l := range lots {
			if l.Start == first {
				out = append(out, l)
			}
		}
	}
	return out
}

// traceWater adds the sources whose water touched a lot after the cut.
func traceWater(t *domain.Trace, f *domain.GroundFacts, lot uuid.UUID, node int) {
	for _, touch := range f.LotWater[lot] {
		source := f.Waters[touch.SourceID]
		n := t.Node(domain.TraceNode{Kind: "water-source", ID: touch.SourceID, Label: source.Source.Name})
		how := string(touch.Use)
		if touch.Tap != "" {
			how += " at " + touch.Tap
		}
		t.Link(n, node, how)
	}
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
		t.Gap(fmt.Sprintf("What plot %s was used for before is not written down.", plot.Name))
	}
	for _, e := range f.GroundOf(bed, upTo) {
		if e.Record.Kind == "plot" {
			continue // a prior use is told by the plot itself
		}
		what := t.Node(exposureNode(e))
		t.Link(what, node, "went on "+strings.ReplaceAll(e.Via, "-", " ")+" "+e.ViaName)
	}
}

// exposureNode tells what went on the ground: in one label, and in its parts.
func exposureNode(e domain.GroundExposure) domain.TraceNode {
	n := domain.TraceNode{Kind: e.Record.Kind, ID: e.Record.ID, Label: exposureLabel(e), On: e.On}
	switch e.Record.Kind {
	case "application":
		n.What, n.IncorporatedOn = e.What, e.ClockStart
	case "grazing":
		n.What = e.What
		if !e.Open {
			n.To = e.ClockStart
		}
	}
	return n
}

func exposureLabel(e domain.GroundExposure) string {
	switch {
	case e.Record.Kind == "grazing" && e.Open:
		return e.What + ", still there"
	case e.Record.Kind == "grazing":
		return e.What + ", last day " + e.ClockStart.String()
	case e.Record.Kind != "application":
		return e.What // a finding is not worked in
	case e.ClockStart.IsZero():
		return e.What + ", not worked in"
	}
	return e.What + ", worked in " + e.ClockStart.String()
}

// traceSeed adds the seed or transplant lot of a planting.
func traceSeed(t *domain.Trace, pl domain.Planting, planting int) {
	if pl.SeedLotID == uuid.Nil {
		t.Gap("The seed or transplant lot of a planting is not written down.")
		return
	}
	t.Link(t.Node(domain.TraceNode{Kind: "input-lot", ID: pl.SeedLotID}), planting, "sown or planted from")
}

// sourcesSQL finds the deliveries behind applications, behind the batches of own compost that were applied, and behind
// plantings. The second column is the batch a delivery went into.
const sourcesSQL = `
with used as materialized (
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
), delivery as materialized (
	select u.application_id, u.batch_id, l.id, l.body, (l.body ->> 'input_id')::uuid as input_id
	from used u join records l on l.farm_id = $1 and l.id = u.lot_id
)
select l.application_id, l.batch_id, l.id, l.body, i.id, i.body
from delivery l join records i on i.farm_id = $1 and i.id = l.input_id`

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
	rows, err := tx.Query(r.Ctx, `select distinct a.record_id, b.id, b.body ->> 'code', b.done_on from exposures a
		join records b on b.farm_id = $1 and b.id = a.compost_batch_id
		where a.farm_id = $1 and a.record_id = any($2) order by 1`, r.Farm, applications)
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
