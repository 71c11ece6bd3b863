package storage

import (
	"bytes"
	"encoding/json"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"croftmark/domain"
)

// reach is what a new or changed record can touch among the lots already cut: lots from some ground, of some plantings,
// or named ones, cut within some days. A zero last day means no end.
type reach struct {
	beds, plots, plantings, lots []uuid.UUID
	inputLots                    []uuid.UUID // lots whose ground got these deliveries
	batches                      []uuid.UUID // lots whose ground got compost of these batches
	holds                        []uuid.UUID // lots whose ground or water these holds are on
	sources                      []uuid.UUID // lots that water of these sources touched, between touchedFrom and touchedTo
	touchedFrom, touchedTo       time.Time
	all                          bool // every lot in the days, when the farm's own rules change
	first, last                  domain.Date
}

func (r reach) empty() bool {
	return !r.all && len(r.beds)+len(r.plots)+len(r.plantings)+len(r.lots)+len(r.inputLots)+len(r.batches)+len(r.sources)+len(r.holds) == 0
}

// reachedSQL finds the lots, with what judging them needs. Ground is reached through every bed laid over it since. Where a
// table grows with the book it is asked for a list of ids, which the planner answers from an index; joined to a list whose
// length it can only guess, it would read all of the farm's.
const reachedSQL = `
with recursive touch as (
	select t.bed_id, t.plot_id, t.lot_id from water_touches t
	where t.farm_id = $1 and t.source_id = any($11) and t.to_at >= $12 and t.from_at <= $13
	union all select t.bed_id, t.plot_id, t.lot_id from holds h join water_touches t on t.farm_id = $1 and t.source_id = h.target_id
	where h.farm_id = $1 and h.id = any($14) and t.to_at >= h.on_date - 1 -- a day to spare for the farm's zone
), grounds as (
	select unnest($2::uuid[]) as id
	union select bed_id from touch where bed_id is not null
	union select e.bed_id from exposures e where e.farm_id = $1 and e.input_lot_id = any($6) and e.bed_id is not null
	union select e.bed_id from exposures e where e.farm_id = $1 and e.compost_batch_id = any($10) and e.bed_id is not null
	union select h.target_id from holds h where h.farm_id = $1 and h.id = any($14)
), plot as (
	select unnest($3::uuid[]) as id
	union select plot_id from touch where plot_id is not null
	union select e.plot_id from exposures e where e.farm_id = $1 and e.input_lot_id = any($6) and e.plot_id is not null
	union select e.plot_id from exposures e where e.farm_id = $1 and e.compost_batch_id = any($10) and e.plot_id is not null
), bed as (
	select g.bed_id as id from bed_grounds g where g.farm_id = $1 and g.ground_bed_id = any(array(select id from grounds))
	union select b.id from beds b where b.farm_id = $1 and b.plot_id = any(array(select id from plot))
), reached as (
	select lb.lot_id as id from lot_beds lb where lb.farm_id = $1 and lb.bed_id = any(array(select id from bed))
	union select l.id from lots l where l.farm_id = $1 and l.planting_id = any($4)
	union select unnest($5::uuid[])
	union select lot_id from touch where lot_id is not null
	union select l.id from lots l where l.farm_id = $1 and $7
), dated as (
	select l.id from lots l where l.farm_id = $1 and l.id = any(array(select id from reached))
		and l.cut_from >= $8::date - 14 and l.cut_to >= $8 and ($9::date is null or l.cut_from <= $9) -- a cut lasts two weeks at most
), whole as (
	select id, 0 as depth from dated
	union
	select e.child_id, w.depth + 1 from whole w
		cross join lateral (select child_id from lot_edges where farm_id = $1 and parent_id = w.id offset 0) e where w.depth < 50
)
select l.id, l.code, coalesce(l.planting_id, '00000000-0000-0000-0000-000000000000'), l.cut_from, l.cut_to, l.verdict, l.judgement,
	(select coalesce(array_agg(lb.bed_id order by lb.bed_id), '{}') from lot_beds lb where lb.farm_id = $1 and lb.lot_id = l.id),
	(select jsonb_agg(jsonb_build_object('id', p.id, 'judgement', p.judgement) order by p.code) from lot_edges e
		join lots p on p.farm_id = $1 and p.id = e.parent_id where e.farm_id = $1 and e.child_id = l.id)
from lots l join (select id, max(depth) as depth from whole group by id) r on r.id = l.id
where l.farm_id = $1 and l.id = any(array(select id from whole))
order by r.depth, l.cut_from, l.id`

type reachedLot struct {
	ID         uuid.UUID
	Code       string
	PlantingID uuid.UUID
	CutFrom    domain.Date
	CutTo      domain.Date
	Verdict    string
	Judgement  []byte
	BedIDs     []uuid.UUID
	Parents    []byte // of a pack lot: what went in, and how it was judged
}

type packParent struct {
	ID        uuid.UUID        `json:"id"`
	Judgement domain.Judgement `json:"judgement"`
}

// Rejudged is a lot whose judgement a record changed: what was believed, and what holds now.
type Rejudged struct {
	LotID  uuid.UUID
	Code   string
	Before domain.Verdict
	domain.Judgement
}

// rejudgeAfter judges what records reach: first the batches they belong to, then the lots, among them those on ground
// that got compost of a batch whose standing changed.
func (w *writing) rejudgeAfter(r reach, records ...domain.Record) ([]Rejudged, error) {
	batches, err := w.batchesOf(records)
	if err != nil {
		return nil, err
	}
	changed, err := w.rejudgeBatches(batches)
	if err != nil {
		return nil, err
	}
	r = joinReach(r, reach{batches: changed})
	for _, record := range records {
		for _, of := range []func(domain.Record) (reach, error){w.waterReach, w.findingReach} {
			more, err := of(record)
			if err != nil {
				return nil, err
			}
			r = joinReach(r, more)
		}
	}
	return w.rejudge(r)
}

// rejudge judges every lot in reach again, in the transaction that records what changed, and enters the changes in the
// book. What was believed at the harvest stays in the lot's own entry.
func (w *writing) rejudge(r reach) ([]Rejudged, error) {
	if r.empty() {
		return nil, nil
	}
	lots, err := w.reached(r)
	if err != nil || len(lots) == 0 {
		return nil, err
	}
	facts, err := w.factsFor(lots)
	if err != nil {
		return nil, err
	}
	if err := checkLots(w.corrected, lots, facts); err != nil {
		return nil, err
	}
	causedBy := w.head.size
	now := map[uuid.UUID]domain.Judgement{}
	var changed []Rejudged
	for _, lot := range lots {
		j, err := judgeReached(facts, lot, now)
		if err != nil {
			return nil, err
		}
		now[lot.ID] = j
		same, err := sameJudgement(lot, j)
		if err != nil {
			return nil, err
		}
		if same {
			continue
		}
		if err := w.enterVerdict(lot, j, causedBy); err != nil {
			return nil, err
		}
		changed = append(changed, Rejudged{LotID: lot.ID, Code: lot.Code, Before: domain.Verdict(lot.Verdict), Judgement: j})
	}
	return changed, nil
}

// judgeReached judges a harvest lot by its ground and water, and a pack lot by what went into it; lots come in the order
// of packing, so what went in has been judged before.
func judgeReached(facts *domain.GroundFacts, lot reachedLot, now map[uuid.UUID]domain.Judgement) (domain.Judgement, error) {
	parents, err := list[packParent](lot.Parents)
	if err != nil || len(parents) == 0 {
		return domain.JudgeLot(facts, lot.ID, lot.PlantingID, lot.BedIDs, lot.CutFrom, lot.CutTo), err
	}
	var judgements []domain.Judgement
	for _, p := range parents {
		if j, ok := now[p.ID]; ok {
			p.Judgement = j
		}
		judgements = append(judgements, p.Judgement)
	}
	return domain.JudgePack(facts, lot.ID, judgements), nil
}

func (w *writing) enterVerdict(lot reachedLot, j domain.Judgement, causedBy int64) error {
	v := lotVerdict{LotID: lot.ID, Before: domain.Verdict(lot.Verdict), Judgement: j, CausedBy: causedBy}
	e, err := w.enter(note{kind: "lot-judgement", recordID: lot.ID, body: v})
	if err != nil {
		return err
	}
	v.Seq = e.Seq
	w.lots = append(w.lots, v)
	return nil
}

// reached finds the lots, in the trip that writes what has gathered.
func (w *writing) reached(r reach) (lots []reachedLot, err error) {
	var last *domain.Date
	if !r.last.IsZero() {
		last = &r.last
	}
	first := r.first
	if first.IsZero() {
		first = domain.NewDate(1900, 1, 1)
	}
	touchedFrom, touchedTo := r.touchedFrom, r.touchedTo
	if touchedFrom.IsZero() {
		touchedFrom = domain.NewDate(1900, 1, 1).Time()
	}
	if touchedTo.IsZero() {
		touchedTo = everDay.Time()
	}
	if err := w.flushRecords(); err != nil {
		return nil, err
	}
	w.queue.Queue(reachedSQL, w.actor.FarmID, r.beds, r.plots, r.plantings, r.lots, r.inputLots, r.all, first, last, r.batches,
		r.sources, touchedFrom, touchedTo, r.holds).Query(func(rows pgx.Rows) error {
		lots, err = pgx.CollectRows(rows, pgx.RowToStructByPos[reachedLot])
		return err
	})
	return lots, w.index().send()
}

// factsFor loads the ground of all the lots at once.
func (w *writing) factsFor(lots []reachedLot) (*domain.GroundFacts, error) {
	beds, plantings := map[uuid.UUID]bool{}, map[uuid.UUID]bool{}
	first, last := lots[0].CutFrom, lots[0].CutTo
	ids := make([]uuid.UUID, 0, len(lots))
	for _, lot := range lots {
		ids = append(ids, lot.ID)
		if lot.PlantingID == uuid.Nil {
			continue // a pack lot has no ground of its own
		}
		plantings[lot.PlantingID] = true
		for _, b := range lot.BedIDs {
			beds[b] = true
		}
		last = domain.Later(last, lot.CutTo)
	}
	return loadFacts(w.ctx, w.tx, w.actor.FarmID, asked{beds: keys(beds), plantings: keys(plantings), lots: ids, first: first, last: last})
}

func keys(set map[uuid.UUID]bool) []uuid.UUID {
	out := make([]uuid.UUID, 0, len(set))
	for id := range set {
		out = append(out, id)
	}
	return out
}

// sameJudgement compares by the bytes the judgement is kept in.
func sameJudgement(lot reachedLot, j domain.Judgement) (bool, error) {
	now, err := json.Marshal(j)
	if err != nil {
		return false, err
	}
	now, err = domain.CanonicalJSON(now)
	if err != nil {
		return false, err
	}
	then, err := domain.CanonicalJSON(lot.Judgement)
	if err != nil {
		return false, err
	}
	return bytes.Equal(now, then), nil
}

// reachOf says which lots a record in its present state can touch.
func reachOf(r domain.Record) reach {
	switch r := r.(type) {
	case *domain.Application:
		return reach{beds: r.Ground.BedIDs, plots: onlyID(r.Ground.PlotID), first: r.AppliedOn}
	case *domain.Grazing:
		return reach{beds: r.Ground.BedIDs, plots: onlyID(r.Ground.PlotID), first: r.From}
	case *domain.BedProduction:
		return reach{beds: []uuid.UUID{r.BedID}, first: r.On}
	case *domain.Hold:
		return reach{holds: []uuid.UUID{r.ID}}
	case *domain.Release:
		return reach{holds: []uuid.UUID{r.HoldID}}
	case *domain.Plot:
		return reach{plots: []uuid.UUID{r.ID}}
	case *domain.Planting:
		return reach{plantings: []uuid.UUID{r.ID}}
	case *domain.InputLot:
		return reach{inputLots: []uuid.UUID{r.ID}}
	case *domain.HarvestLot:
		return reach{lots: []uuid.UUID{r.ID}}
	}
	return reach{}
}

func onlyID(id uuid.UUID) []uuid.UUID {
	if id == uuid.Nil {
		return nil
	}
	return []uuid.UUID{id}
}
