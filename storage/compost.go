package storage

import (
	"bytes"
	"context"
	"encoding/json"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"croftmark/domain"
)

// compostEvent is a record that belongs to a batch and can change its judgement.
type compostEvent interface {
	domain.Record
	BatchOf() *uuid.UUID
}

// compostEventRow notes that a record belongs to a batch.
func (x index) compostEventRow(e compostEvent) error {
	return x.exec(`with event as (
			insert into compost_events (farm_id, record_id, batch_id, kind, on_date)
			select $1, $2, $3, $4, greatest(done_on, $5) from records where farm_id = $1 and id = $2
			on conflict (farm_id, record_id) do update set on_date = excluded.on_date returning on_date)
		update compost_standings s set last_on = greatest(s.last_on, event.on_date) from event where s.farm_id = $1 and s.batch_id = $3`,
		*e.Identity(), *e.BatchOf(), e.Kind(), lastReading(e))
}

// lastReading is the day of the latest reading of a record of readings: a logger's file may be typed in under another day.
func lastReading(e compostEvent) (last domain.Date) {
	if t, ok := e.(*domain.CompostTemperatures); ok {
		for _, r := range t.Readings {
			last = domain.Later(last, domain.DateIn(r.TakenAt, time.UTC))
		}
	}
	return last
}

// compostBatch makes the row of a batch's standing; the judgement follows in the same write, as an entry of its own.
func (x index) compostBatch(b *domain.CompostBatch, seq int64) error {
	return x.exec(`insert into compost_standings (farm_id, batch_id, started_on, last_on, steps, judged_seq) values ($1, $2, $3, $3, '[]', $4)
		on conflict (farm_id, batch_id) do update set started_on = excluded.started_on`, b.ID, b.StartedOn, seq)
}

// batchJudgement is the body of a compost-judgement entry: how a batch stands on every day, after a record that reaches
// it.
type batchJudgement struct {
	BatchID  uuid.UUID             `json:"compost_batch_id"`
	Steps    []domain.StandingStep `json:"steps"`
	CausedBy int64                 `json:"caused_by"`
	Seq      int64                 `json:"-"`
}

// batchesJudged writes the standings of batches.
func (x index) batchesJudged(batches []batchJudgement) error {
	if len(batches) == 0 {
		return nil
	}
	n := len(batches)
	ids, steps, seqs := make([]uuid.UUID, n), make([]string, n), make([]int64, n)
	for i, j := range batches {
		raw, err := json.Marshal(j.Steps)
		if err != nil {
			return err
		}
		ids[i], steps[i], seqs[i] = j.BatchID, string(raw), j.Seq
	}
	return x.exec(`update compost_standings s set steps = v.steps::jsonb, judged_seq = v.seq
		from unnest($2::uuid[], $3::text[], $4::bigint[]) as v (id, steps, seq)
		where s.farm_id = $1 and s.batch_id = v.id`, ids, steps, seqs)
}

// decideBatch checks a batch: its code is free, its deliveries exist and are what its ingredients say, and an organic farm
// puts no biosolids in.
func (w *writing) decideBatch(b *domain.CompostBatch) ([]string, error) {
	var taken bool
	if err := w.tx.QueryRow(w.ctx, `select exists (select from records where farm_id = $1 and kind = 'compost-batch' and not voided
		and lower(body ->> 'code') = lower($2) and id <> $3)`, w.actor.FarmID, b.Code, b.ID).Scan(&taken); err != nil {
		return nil, err
	}
	var p domain.Problems
	p.Check(!taken, "/code", "There is already a batch %q. Give another code.", b.Code)
	refs, err := w.refs(deliveriesIn(b.Ingredients)...)
	if err != nil {
		return nil, err
	}
	if err := w.refuseHeldUse(refs, &b.Habits, deliveriesIn(b.Ingredients)...); err != nil {
		return nil, err
	}
	return w.decideIngredients(&p, refs, "/ingredients/", b.Ingredients)
}

func deliveriesIn(ingredients []domain.Ingredient) (ids []uuid.UUID) {
	for _, in := range ingredients {
		if in.InputLotID != uuid.Nil {
			ids = append(ids, in.InputLotID)
		}
	}
	return ids
}

func (w *writing) decideIngredients(p *domain.Problems, refs map[uuid.UUID]ref, pointer string, ingredients []domain.Ingredient) ([]string, error) {
	organic := false
	for _, s := range w.farm.SetsOn(w.today) {
		organic = organic || s == domain.OrganicSet
	}
	for i, in := range ingredients {
		at := pointer
		if strings.HasSuffix(pointer, "/") {
			at += itoa(i)
		}
		if in.InputLotID != uuid.Nil && need(p, refs, at+"/input_lot_id", "input-lot", in.InputLotID) {
			var err error
			if in.Delivery, err = deliveredInput(refs, in.InputLotID); err != nil {
				return nil, err
			}
			in.CheckDelivery(p, at)
		}
		if in.IsBiosolids() && organic {
			return nil, domain.Refuse(domain.CodeRuleRefused, "Biosolids are never organic",
				"Sewage sludge may not go into compost of an organic farm (7 CFR 205.105(g)). If it already did, keep the heap off the farm's ground and tell your certifier.")
		}
	}
	return nil, p.Err()
}

// deliveredInput gives what a delivery is of.
func deliveredInput(refs map[uuid.UUID]ref, delivery uuid.UUID) (*domain.Input, error) {
	var lot domain.InputLot
	if err := refs[delivery].into(&lot); err != nil {
		return nil, err
	}
	var input domain.Input
	return &input, refs[lot.InputID].into(&input)
}

// decideEvent checks that the batch of an event exists and had been built by then.
func (w *writing) decideEvent(e compostEvent) ([]string, error) {
	var added []domain.Ingredient
	if a, ok := e.(*domain.CompostAddition); ok {
		added = append(added, a.Ingredient)
	}
	refs, err := w.refs(append(deliveriesIn(added), *e.BatchOf())...)
	if err != nil {
		return nil, err
	}
	batch, ok := refs[*e.BatchOf()]
	if !ok || batch.Kind != "compost-batch" {
		return nil, domain.NotFound("compost batch", e.BatchOf().String())
	}
	var b domain.CompostBatch
	if err := batch.into(&b); err != nil {
		return nil, err
	}
	var p domain.Problems
	domain.CheckEventDays(&p, e, b.StartedOn, w.zone)
	if err := p.Err(); err != nil {
		return nil, err
	}
	if err := w.refuseHeldUse(refs, domain.HabitsOf(e), deliveriesIn(added)...); err != nil {
		return nil, err
	}
	return w.decideIngredients(&p, refs, "/ingredient", added)
}

// decideProbeFault warns of a name that no heap was read with: a fault under another name than the readings' corrects
// nothing.
func (w *writing) decideProbeFault(x *domain.ProbeFault) ([]string, error) {
	rows, err := w.tx.Query(w.ctx, `select distinct g ->> 'probe' from compost_events v
		join records r on r.farm_id = $1 and r.id = v.record_id and not r.voided
		cross join jsonb_array_elements(r.body -> 'readings') g
		where v.farm_id = $1 and v.kind = 'compost-temperatures' and v.on_date >= $2 and (g ->> 'taken_at')::timestamptz >= $3
		order by 1`, w.actor.FarmID, domain.DateIn(x.From, w.zone).AddDays(-1), x.From)
	if err != nil {
		return nil, err
	}
	since, err := pgx.CollectRows(rows, pgx.RowTo[string])
	if err != nil {
		return nil, err
	}
	return x.Warnings(since), nil
}

// compostSQL gathers all that is known of some batches with what their deliveries are of, and how each stands by the
// latest judgement. Readings of other
// batches and farms are not touched.
const compostSQL = `
with batch as (
	select unnest($2::uuid[]) as id
), part as (
	select id as batch_id, id from batch
	union all select v.batch_id, v.record_id from compost_events v where v.farm_id = $1 and v.batch_id = any($2)
	union all select batch.id, r.id from batch, records r where r.farm_id = $1 and r.kind in ('probe-fault', 'certifier-answer', 'farm')
)
select part.batch_id, r.kind, r.body, r.reviews, s.steps, (
	select jsonb_object_agg(l.id, i.body)
	from jsonb_array_elements(coalesce(r.body -> 'ingredients', '[]') || coalesce(r.body -> 'ingredient', '[]')) g
	join records l on l.farm_id = $1 and l.id = (g ->> 'input_lot_id')::uuid
	join records i on i.farm_id = $1 and i.id = (l.body ->> 'input_id')::uuid)
from part join records r on r.farm_id = $1 and r.id = part.id and not r.voided
left join compost_standings s on s.farm_id = $1 and s.batch_id = r.id
order by part.batch_id, r.first_seq, r.id`

// compostFile is all that is known of a batch, with its standing as judged before.
type compostFile struct {
	batch  *domain.CompostBatch
	rounds []domain.CompostTemperatures
	facts  domain.CompostFacts
	steps  []byte
}

// loadCompost reads batches with all that is known of them. A record that does not say who did it has the one of doers,
// which only papers need.
func loadCompost(ctx context.Context, tx pgx.Tx, farm uuid.UUID, batches []uuid.UUID, doers map[uuid.UUID]uuid.UUID) (map[uuid.UUID]*compostFile, error) {
	rows, err := tx.Query(ctx, compostSQL, farm, batches)
	if err != nil {
		return nil, err
	}
	type part struct {
		BatchID              uuid.UUID
		Kind                 string
		Body, Reviews, Steps []byte
		Deliveries           map[uuid.UUID]*domain.Input
	}
	parts, err := pgx.CollectRows(rows, pgx.RowToStructByPos[part])
	if err != nil {
		return nil, err
	}
	files := map[uuid.UUID]*compostFile{}
	for _, id := range batches {
		files[id] = &compostFile{}
	}
	for _, p := range parts {
		file := files[p.BatchID]
		r := newOf(p.Kind)
		if err := json.Unmarshal(p.Body, r); err != nil {
			return nil, err
		}
		nameDeliveries(r, p.Deliveries)
		if h := domain.HabitsOf(r); h.DoneBy == uuid.Nil {
			h.DoneBy = doers[*r.Identity()]
		}
		if found, ok := r.(*domain.CompostBatch); ok {
			file.batch, file.steps = found, p.Steps
			if file.facts.ReviewedAt, err = latestReview(p.Reviews); err != nil {
				return nil, err
			}
		}
		if round, ok := r.(*domain.CompostTemperatures); ok {
			file.rounds = append(file.rounds, *round)
		}
		if err := file.facts.Add(r); err != nil {
			return nil, err
		}
	}
	for id, file := range files {
		if file.batch == nil {
			return nil, domain.NotFound("compost batch", id.String())
		}
	}
	return files, nil
}

// nameDeliveries says of every ingredient of a record what its delivery is of.
func nameDeliveries(r domain.Record, of map[uuid.UUID]*domain.Input) {
	switch r := r.(type) {
	case *domain.CompostBatch:
		for i := range r.Ingredients {
			r.Ingredients[i].Delivery = of[r.Ingredients[i].InputLotID]
		}
	case *domain.CompostAddition:
		r.Ingredient.Delivery = of[r.Ingredient.InputLotID]
	}
}

// compostDoers gives who did what of a batch by the entries that made its records: the caller, where a record names nobody.
func compostDoers(r Reading, tx pgx.Tx, batch uuid.UUID) (map[uuid.UUID]uuid.UUID, error) {
	rows, err := tx.Query(r.Ctx, `select r.id, (e.leaf::jsonb ->> 'done_by')::uuid
		from records r join book_entries e on e.farm_id = r.farm_id and e.seq = r.first_seq
		where r.farm_id = $1 and (r.id = $2 or r.id in (select record_id from compost_events where farm_id = $1 and batch_id = $2))`, r.Farm, batch)
	if err != nil {
		return nil, err
	}
	doers := map[uuid.UUID]uuid.UUID{}
	var id, by uuid.UUID
	_, err = pgx.ForEachRow(rows, []any{&id, &by}, func() error { doers[id] = by; return nil })
	return doers, err
}

func latestReview(raw []byte) (at time.Time, err error) {
	var reviews []struct {
		At time.Time `json:"at"`
	}
	if err := json.Unmarshal(raw, &reviews); err != nil {
		return at, err
	}
	for _, r := range reviews {
		if r.At.After(at) {
			at = r.At
		}
	}
	return at, nil
}

// rejudgeBatches judges batches again, in the write that records what changed, and tells in which of them the standing
// did change: only those can reach lots.
func (w *writing) rejudgeBatches(batches []uuid.UUID) (changed []uuid.UUID, err error) {
	if len(batches) == 0 {
		return nil, nil
	}
	if err := w.settle(); err != nil {
		return nil, err
	}
	files, err := loadCompost(w.ctx, w.tx, w.actor.FarmID, batches, nil)
	if err != nil {
		return nil, err
	}
	causedBy := w.head.size
	var judged []batchJudgement
	for _, id := range batches {
		steps := files[id].facts.StandingSteps()
		same, err := sameSteps(files[id].steps, steps)
		if err != nil {
			return nil, err
		}
		if same {
			continue
		}
		j := batchJudgement{BatchID: id, Steps: steps, CausedBy: causedBy}
		e, err := w.enter(note{kind: "compost-judgement", recordID: id, body: j})
		if err != nil {
			return nil, err
		}
		j.Seq = e.Seq
		judged, changed = append(judged, j), append(changed, id)
	}
	return changed, w.index().batchesJudged(judged)
}

func sameSteps(stored []byte, steps []domain.StandingStep) (bool, error) {
	now, err := json.Marshal(steps)
	if err != nil {
		return false, err
	}
	if now, err = domain.CanonicalJSON(now); err != nil {
		return false, err
	}
	then, err := domain.CanonicalJSON(stored)
	return bytes.Equal(now, then), err
}

// batchesMadeOf finds the batches that a delivery, or any delivery of an input, went into.
func (w *writing) batchesMadeOf(ids []uuid.UUID) (batches []uuid.UUID, err error) {
	rows, err := w.tx.Query(w.ctx, `with deliveries as (
			select id::text from records where farm_id = $1 and kind = 'input-lot' and (id = any($2) or body ->> 'input_id' = any($2::text[])))
		select b.id from deliveries d join records b on b.body @> jsonb_build_object('ingredients', jsonb_build_array(jsonb_build_object('input_lot_id', d.id)))
			where b.farm_id = $1 and b.kind = 'compost-batch'
		union select v.batch_id from deliveries d join records a on a.farm_id = $1 and a.kind = 'compost-addition' and a.body #>> '{ingredient,input_lot_id}' = d.id
			join compost_events v on v.farm_id = $1 and v.record_id = a.id`, w.actor.FarmID, ids)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowTo[uuid.UUID])
}

// batchesOf says which batches records can change: their own, those made of a delivery that is corrected, or for what
// concerns the whole farm every batch that was still being read or used.
func (w *writing) batchesOf(records []domain.Record) (own []uuid.UUID, err error) {
	since := everDay
	var supplies []uuid.UUID
	for _, r := range records {
		switch r := r.(type) {
		case *domain.CompostBatch:
			own = append(own, r.ID)
		case compostEvent:
			own = append(own, *r.BatchOf())
		case *domain.Input, *domain.InputLot:
			if w.corrected != nil { // a new one has gone into nothing yet
				supplies = append(supplies, *r.Identity())
			}
		case *domain.ProbeFault:
			since = earlier(since, domain.DateIn(r.From, w.zone).AddDays(-1))
		case *domain.CertifierAnswer, *domain.Farm:
			since = domain.NewDate(1900, 1, 1)
		}
	}
	if len(supplies) > 0 {
		return w.batchesMadeOf(supplies)
	}
	if since == everDay {
		slices.SortFunc(own, func(a, b uuid.UUID) int { return bytes.Compare(a[:], b[:]) })
		return slices.Compact(own), nil
	}
	rows, err := w.tx.Query(w.ctx, `select batch_id from compost_standings where farm_id = $1 and last_on >= $2 order by batch_id`, w.actor.FarmID, since)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowTo[uuid.UUID])
}

// Batch is a compost batch with everything that is judged of it.
type Batch struct {
	Record
	Batch    *domain.CompostBatch
	Facts    domain.CompostFacts
	Results  []domain.ProcessResult
	Standing domain.CompostStanding
	Mix      domain.Mix
	Rounds   []domain.CompostTemperatures // the readings as they were written down, with who read
	Today    domain.Date
	Farm     domain.Farm
}

// Compost gives a batch as it stands today, judged under the farm's sets; with none adopted that speak of compost, under
// both federal ones.
func (db *DB) Compost(r Reading, id uuid.UUID) (b Batch, err error) {
	err = db.read(r.Ctx, r.Farm, func(tx pgx.Tx) error {
		rows, err := tx.Query(r.Ctx, `select `+recordColumns+recordSource+`where r.farm_id = $1 and r.id = any($2) order by r.kind`, r.Farm, []uuid.UUID{id, r.Farm})
		if err != nil {
			return err
		}
		found, err := pgx.CollectRows(rows, scanRecord)
		if err != nil {
			return err
		}
		if len(found) != 2 || found[0].Kind != "compost-batch" {
			return domain.NotFound("compost batch", id.String())
		}
		b.Record = found[0]
		if err := json.Unmarshal(found[1].Body, &b.Farm); err != nil {
			return err
		}
		doers, err := compostDoers(r, tx, id)
		if err != nil {
			return err
		}
		files, err := loadCompost(r.Ctx, tx, r.Farm, []uuid.UUID{id}, doers)
		if err != nil {
			return err
		}
		b.Batch, b.Facts, b.Rounds = files[id].batch, files[id].facts, files[id].rounds
		return nil
	})
	if err != nil {
		return b, err
	}
	b.Today = domain.DateIn(db.instant(), b.Facts.Zone)
	b.Results = domain.CheckCompost(b.Facts, b.Today)
	b.Standing = b.Facts.StandingOn(b.Today, b.Farm.SetsOn(b.Today)...)
	b.Mix = domain.MixOf(b.Facts.Ingredients)
	return b, nil
}

func itoa(i int) string { return strconv.Itoa(i) }

// readingsPerRecord keeps an entry of the book small enough to read, hash and send on its own.
const readingsPerRecord = 5000

// Imported names the records that an import made.
type Imported struct {
	IDs   []uuid.UUID
	Entry int64 // of the last record
	// Replayed says that the same file was read in before; the records are those of that time.
	Replayed bool
}

// ImportTemperatures writes the readings of a logger's file as records of the batch, all in one write: all of them are
// in the book afterwards, or none.
func (db *DB) ImportTemperatures(ctx context.Context, actor Actor, mark *domain.RequestMark, batch uuid.UUID, readings []domain.CompostReading) (out Imported, err error) {
	if len(readings) == 0 {
		return out, domain.Refuse(domain.CodeInvalid, "Nothing was read in", "The file holds no reading: only its heading, or empty cells. Choose the file with the temperatures.")
	}
	prior, err := db.write(ctx, actor, mark, func(w *writing) error {
		for start := 0; start < len(readings); start += readingsPerRecord {
			part := readings[start:min(start+readingsPerRecord, len(readings))]
			r := &domain.CompostTemperatures{ID: uuid.Must(uuid.NewV7()), BatchID: batch, Readings: part}
			if err := domain.CheckRecord(r, w.today, w.zone); err != nil {
				return err
			}
			if _, err := w.decideEvent(r); err != nil {
				return err
			}
			written, err := w.newRecord(r)
			if err != nil {
				return err
			}
			out.IDs, out.Entry = append(out.IDs, r.ID), written.Seq
			if err := w.flushRecords(); err != nil {
				return err
			}
			if err := w.index().compostEventRow(r); err != nil {
				return err
			}
		}
		_, err := w.rejudgeAfter(reach{}, &domain.CompostTemperatures{BatchID: batch})
		return err
	})
	if err == nil && prior != nil {
		return db.importedBefore(ctx, actor, prior, len(readings))
	}
	return out, err
}

// importedBefore gives the records that the same file made before: their entries follow one another from the one that
// carries the request.
func (db *DB) importedBefore(ctx context.Context, actor Actor, first *domain.Entry, readings int) (out Imported, err error) {
	entries, err := db.Entries(ctx, actor.FarmID, first.Seq-1, (readings+readingsPerRecord-1)/readingsPerRecord)
	for _, e := range entries {
		out.IDs, out.Entry = append(out.IDs, e.RecordID), e.Seq
	}
	out.Replayed = true
	return out, err
}
