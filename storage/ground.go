package storage

import (
	"context"
	"encoding/json"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"croftmark/domain"
)

// groundSQL gathers in one statement everything that judging a set of beds needs: the beds with all older beds under
// them, their plots, the plantings asked for, every exposure that could still matter between two days or since those
// plantings, pauses, holds, and the farm. Each part is one JSON list, so the answer is one row whatever the size of the book.
//
// An id is taken out of a JSON body in a part of its own (delivery) before it is joined: under row-level security the
// planner may not use an index for a comparison that calls a function on another table's column, and would read all of
// the farm's records instead.
const groundSQL = `
with below as materialized (
	select bed_id, ground_bed_id from bed_grounds where farm_id = $1 and bed_id = any($2)
), planted as materialized (
	select w.bed_id, min(p.planted_on) as since from below w
		join planting_beds pb on pb.farm_id = $1 and pb.bed_id = w.ground_bed_id and pb.planting_id = any($3)
		join plantings p on p.farm_id = $1 and p.id = pb.planting_id
	group by w.bed_id
), ground as materialized (
	select w.ground_bed_id as id, least($4::date, min(p.since)) as since from below w left join planted p on p.bed_id = w.bed_id
	group by w.ground_bed_id
), bed as materialized (
	select b.id, b.plot_id, b.name, b.valid_from, b.valid_to from ground g join beds b on b.farm_id = $1 and b.id = g.id
), plot as materialized (
	select b.plot_id as id, min(g.since) as since from bed b join ground g on g.id = b.id where b.id = any($2) group by b.plot_id
), reached as materialized (
	select e.record_id, e.bed_id, e.plot_id, e.input_lot_id, e.compost_batch_id from ground g
		join exposures e on e.farm_id = $1 and e.bed_id = g.id and e.ends_on >= g.since and e.on_date <= $5
	union all
	select e.record_id, e.bed_id, e.plot_id, e.input_lot_id, e.compost_batch_id from plot p
		join exposures e on e.farm_id = $1 and e.plot_id = p.id and e.ends_on >= p.since and e.on_date <= $5
)
, touched as materialized (
	select t.* from ground g join water_touches t on t.farm_id = $1 and t.bed_id = g.id and t.from_at >= $7 and t.from_at < $8
	union all
	select t.* from plot p join water_touches t on t.farm_id = $1 and t.plot_id = p.id and t.from_at >= $7 and t.from_at < $8
	union all
	select t.* from water_touches t where t.farm_id = $1 and t.lot_id = any($6)
), source as materialized (
	select source_id as id, min(from_at) - $9::interval as since, max(greatest(from_at, to_at)) + $10::interval as until from touched group by source_id
), delivery as materialized (
	select l.id, l.body, (l.body ->> 'input_id')::uuid as input_id
	from (select distinct input_lot_id as id from reached) x join records l on l.farm_id = $1 and l.id = x.id
)
select
	(select body from records where farm_id = $1 and id = $1),
	(select jsonb_agg(jsonb_build_object('id', id, 'plot_id', plot_id, 'name', name, 'from', valid_from, 'to', valid_to)) from bed),
	(select jsonb_agg(jsonb_build_array(bed_id, ground_bed_id)) from below),
	(select jsonb_agg(r.body) from plot p join records r on r.farm_id = $1 and r.id = p.id),
	(select jsonb_agg(jsonb_build_object('planting', p.body, 'crop', c.body))
		from plantings x join records p on p.farm_id = $1 and p.id = x.id join records c on c.farm_id = $1 and c.id = x.crop_id
		where x.farm_id = $1 and x.id = any($3)),
	(select jsonb_agg(jsonb_build_object('bed_id', x.bed_id, 'plot_id', x.plot_id, 'kind', r.kind, 'body', r.body, 'lot', l.body, 'input', i.body,
			'batch', c.body, 'steps', s.steps))
		from reached x
		join records r on r.farm_id = $1 and r.id = x.record_id
		left join delivery l on l.id = x.input_lot_id
		left join records i on i.farm_id = $1 and i.id = l.input_id
		left join records c on c.farm_id = $1 and c.id = x.compost_batch_id
		left join compost_standings s on s.farm_id = $1 and s.batch_id = x.compost_batch_id),
	(select jsonb_agg(jsonb_build_object('id', p.record_id, 'bed_id', w.bed_id, 'said_of', p.bed_id, 'on', p.on_date, 'in_production', p.in_production, 'reason', p.reason)
			order by p.on_date, p.record_id)
		from below w join bed_pauses p on p.farm_id = $1 and p.bed_id = w.ground_bed_id),
	(select jsonb_agg(jsonb_build_object('id', h.id, 'on', h.target_id, 'from', h.on_date, 'released_on', h.released_on, 'reason', r.body ->> 'reason')
			order by h.id)
		from (select id from ground union all select id from source) g
		join holds h on h.farm_id = $1 and h.target_id = g.id join records r on r.farm_id = $1 and r.id = h.id),
	(select jsonb_agg(w) from (
		select s.id as source_id, r.kind, r.body from source s join records r on r.farm_id = $1 and r.id = s.id
		union all
		select e.source_id, e.kind, r.body from water_events e join records r on r.farm_id = $1 and r.id = e.record_id
		where e.farm_id = $1 and e.source_id = any(array(select id from source)) and e.kind <> 'water-inspection'
			and (e.kind <> 'water-treatment' or exists (select from source s where s.id = e.source_id and e.at between s.since and s.until))) w),
	(select jsonb_agg(jsonb_build_object('record_id', t.record_id, 'source_id', t.source_id, 'tap', t.tap, 'tank', coalesce(r.body ->> 'tank', ''), 'use', t.use, 'from', t.from_at, 'to', t.to_at,
			'bed_id', t.bed_id, 'plot_id', t.plot_id, 'lot_id', t.lot_id, 'kind', r.kind, 'body', case when r.kind = 'irrigation' then r.body end)
			order by t.from_at, t.record_id)
		from touched t join records r on r.farm_id = $1 and r.id = t.record_id)`

type groundBed struct {
	ID     uuid.UUID   `json:"id"`
	PlotID uuid.UUID   `json:"plot_id"`
	Name   string      `json:"name"`
	From   domain.Date `json:"from"`
	To     domain.Date `json:"to"`
}

type groundExposure struct {
	BedID  uuid.UUID       `json:"bed_id"`
	PlotID uuid.UUID       `json:"plot_id"`
	Kind   string          `json:"kind"`
	Body   json.RawMessage `json:"body"`
	Lot    json.RawMessage `json:"lot"`
	Input  json.RawMessage `json:"input"`
	Batch  json.RawMessage `json:"batch"`
	Steps  json.RawMessage `json:"steps"`
}

type groundPause struct {
	ID           uuid.UUID   `json:"id"`
	BedID        uuid.UUID   `json:"bed_id"`
	SaidOf       uuid.UUID   `json:"said_of"` // the bed or an older one under it
	On           domain.Date `json:"on"`
	InProduction bool        `json:"in_production"`
	Reason       string      `json:"reason"`
}

type groundHold struct {
	ID         uuid.UUID   `json:"id"`
	On         uuid.UUID   `json:"on"` // a bed or a water source
	From       domain.Date `json:"from"`
	ReleasedOn domain.Date `json:"released_on"`
	Reason     string      `json:"reason"`
}

type groundPlanting struct {
	Planting domain.Planting `json:"planting"`
	Crop     domain.Crop     `json:"crop"`
}

// asked names what is to be judged: beds, plantings and lots, on days from first to last.
type asked struct {
	beds, plantings, lots []uuid.UUID
	first, last           domain.Date
}

// loadGround loads the facts for judging beds (and the named plantings) on days from first to last.
func loadGround(ctx context.Context, tx pgx.Tx, farm uuid.UUID, beds, plantings []uuid.UUID, first, last domain.Date) (*domain.GroundFacts, error) {
	return loadFacts(ctx, tx, farm, asked{beds: beds, plantings: plantings, first: first, last: last})
}

// loadFacts loads the facts for judging beds and lots. Irrigation is looked at as far back as any judgement asks, with a
// day to spare on either side for the farm's zone.
func loadFacts(ctx context.Context, tx pgx.Tx, farm uuid.UUID, a asked) (*domain.GroundFacts, error) {
	return scanFacts(tx.QueryRow(ctx, groundSQL, a.args(farm)...))
}

// askGround is loadFacts in the next trip.
func (w *writing) askGround(a asked, into **domain.GroundFacts) {
	w.queue.Queue(groundSQL, a.args(w.actor.FarmID)...).QueryRow(func(row pgx.Row) (err error) {
		*into, err = scanFacts(row)
		return err
	})
}

func (a asked) args(farm uuid.UUID) []any {
	return []any{farm, a.beds, a.plantings, a.first, a.last, a.lots,
		a.first.AddDays(-domain.IrrigationLooksBack - 1).Time(), a.last.AddDays(2).Time(), domain.ReadingSpeaksOn, domain.ReadingSpeaksBack}
}

func scanFacts(row pgx.Row) (*domain.GroundFacts, error) {
	var rawFarm, rawBeds, rawBelow, rawPlots, rawPlantings, rawExposures, rawPauses, rawHolds, rawSources, rawTouches []byte
	err := row.Scan(&rawFarm, &rawBeds, &rawBelow, &rawPlots, &rawPlantings, &rawExposures, &rawPauses, &rawHolds, &rawSources, &rawTouches)
	if err != nil {
		return nil, err
	}
	f := &domain.GroundFacts{Farm: &domain.Farm{}, Beds: map[uuid.UUID]*domain.BedGround{}, Plots: map[uuid.UUID]*domain.Plot{},
		Plantings: map[uuid.UUID]*domain.PlantingFacts{}}
	steps := []func() error{
		func() error { return json.Unmarshal(rawFarm, f.Farm) },
		func() error { return fillBeds(f, rawBeds, rawBelow, rawPauses) },
		func() error { return fillPlots(f, rawPlots) },
		func() error { return fillPlantings(f, rawPlantings) },
		func() error { return fillExposures(f, rawExposures) },
		func() error { return fillWater(f, rawSources, rawTouches) },
		func() error { return fillHolds(f, rawHolds) },
	}
	for _, step := range steps {
		if err := step(); err != nil {
			return nil, err
		}
	}
	return f, nil
}

// list reads a JSON list that PostgreSQL gives as NULL when it is empty.
func list[T any](raw []byte) ([]T, error) {
	if raw == nil {
		return nil, nil
	}
	var out []T
	err := json.Unmarshal(raw, &out)
	return out, err
}

func fillBeds(f *domain.GroundFacts, rawBeds, rawBelow, rawPauses []byte) error {
	beds, err := list[groundBed](rawBeds)
	if err != nil {
		return err
	}
	for _, b := range beds {
		f.Beds[b.ID] = &domain.BedGround{ID: b.ID, Name: b.Name, PlotID: b.PlotID, From: b.From, To: b.To}
	}
	below, err := list[[2]uuid.UUID](rawBelow)
	if err != nil {
		return err
	}
	for _, pair := range below {
		if bed := f.Beds[pair[0]]; bed != nil {
			bed.Ground = append(bed.Ground, pair[1])
		}
	}
	pauses, err := list[groundPause](rawPauses)
	if err != nil {
		return err
	}
	for _, p := range pauses {
		addPause(f.Beds[p.BedID], p)
	}
	return nil
}

// addPause opens a pause or ends the open ones; the list comes in order of days. What was said of an older bed is ended by
// a word about that bed or about the new one.
func addPause(bed *domain.BedGround, p groundPause) {
	if bed == nil {
		return
	}
	open := false
	for i := range bed.OutOfProduction {
		at := &bed.OutOfProduction[i]
		if !at.To.IsZero() {
			continue
		}
		if p.InProduction && (at.BedID == p.SaidOf || p.SaidOf == bed.ID) {
			at.To = p.On
		}
		open = open || at.BedID == p.SaidOf
	}
	if !p.InProduction && !open {
		bed.OutOfProduction = append(bed.OutOfProduction,
			domain.Pause{BedID: p.SaidOf, From: p.On, Reason: p.Reason, Record: domain.RecordRef{Kind: "bed-production", ID: p.ID}})
	}
}

func fillPlots(f *domain.GroundFacts, raw []byte) error {
	plots, err := list[*domain.Plot](raw)
	for _, p := range plots {
		f.Plots[p.ID] = p
	}
	return err
}

func fillPlantings(f *domain.GroundFacts, raw []byte) error {
	plantings, err := list[groundPlanting](raw)
	for _, p := range plantings {
		f.Plantings[p.Planting.ID] = &domain.PlantingFacts{Planting: p.Planting, Crop: p.Crop}
	}
	return err
}

func fillExposures(f *domain.GroundFacts, raw []byte) error {
	exposures, err := list[groundExposure](raw)
	if err != nil {
		return err
	}
	for _, x := range exposures {
		e, err := x.read(f.Farm)
		if err != nil {
			return err
		}
		e.BedID, e.PlotID = x.BedID, x.PlotID
		f.Exposures = append(f.Exposures, e)
	}
	return nil
}

func (x groundExposure) read(farm *domain.Farm) (domain.Exposure, error) {
	if x.Kind == "finding" {
		var finding domain.Finding
		if err := json.Unmarshal(x.Body, &finding); err != nil {
			return domain.Exposure{}, err
		}
		zone, err := domain.Zone(farm.TimeZone)
		return finding.ExposureOf(zone), err
	}
	if x.Kind == "grazing" {
		var g domain.Grazing
		err := json.Unmarshal(x.Body, &g)
		return g.ExposureOf(), err
	}
	var a domain.Application
	if err := json.Unmarshal(x.Body, &a); err != nil {
		return domain.Exposure{}, err
	}
	if a.Source.CompostBatchID != uuid.Nil {
		return x.ofBatch(&a)
	}
	var lot domain.InputLot
	if err := json.Unmarshal(x.Lot, &lot); err != nil {
		return domain.Exposure{}, err
	}
	var input domain.Input
	if err := json.Unmarshal(x.Input, &input); err != nil {
		return domain.Exposure{}, err
	}
	return a.ExposureOf(&input, &lot), nil
}

// ofBatch reads an application of the farm's own compost with the batch's standing on its day.
func (x groundExposure) ofBatch(a *domain.Application) (domain.Exposure, error) {
	var batch domain.CompostBatch
	if err := json.Unmarshal(x.Batch, &batch); err != nil {
		return domain.Exposure{}, err
	}
	steps, err := list[domain.StandingStep](x.Steps)
	return a.BatchExposure(&batch, steps), err
}

func fillHolds(f *domain.GroundFacts, raw []byte) error {
	holds, err := list[groundHold](raw)
	for _, h := range holds {
		span := domain.HoldSpan{ID: h.ID, On: h.On, Reason: h.Reason, From: h.From, ReleasedOn: h.ReleasedOn}
		if water := f.Waters[h.On]; water != nil {
			water.Holds = append(water.Holds, span)
		} else {
			f.Holds = append(f.Holds, span)
		}
	}
	return err
}
