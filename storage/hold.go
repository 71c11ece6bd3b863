package storage

import (
	"context"
	"encoding/json"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"croftmark/domain"
)

// hold writes the look-up row of a hold, from the day of its record. What it is on, and since when, is not corrected.
func (x index) hold(r *domain.Hold) error {
	kind, id := r.On.Target()
	return x.exec(`insert into holds (farm_id, id, target_kind, target_id, on_date)
		select $1, $2, $3, $4, done_on from records where farm_id = $1 and id = $2
		on conflict (farm_id, id) do nothing`, r.ID, kind, id)
}

// release ends a hold, in the look-up row and on the hold's record.
func (x index) release(r *domain.Release, seq int64) error {
	raw, err := json.Marshal(r)
	if err != nil {
		return err
	}
	return x.exec(`with h as (update holds set released_on = (select done_on from records where farm_id = $1 and id = $3) where farm_id = $1 and id = $2)
		update records set body = jsonb_set(body, '{released}', $4::jsonb), seq = $5 where farm_id = $1 and id = $2`,
		r.HoldID, r.ID, string(raw), seq)
}

// withParentsSQL is lot l and every lot that went into it, however far back. Each step up is one look-up by the lot's id.
const withParentsSQL = `with recursive up (id) as (select l.id union select e.parent_id from up
	cross join lateral (select parent_id from lot_edges where farm_id = $1 and child_id = up.id offset 0) e)`

// openHoldsSQL are the open holds on any of those: one bad lot pulls all that was packed from it (record forms, S20).
const openHoldsSQL = `up cross join lateral (select id from holds where farm_id = $1 and target_id = up.id and released_on is null offset 0) h`

// onHoldSQL tells whether lot l, or any lot that went into it, is on hold.
const onHoldSQL = `exists (` + withParentsSQL + ` select from ` + openHoldsSQL + `)`

// holdReasonsSQL says why lot l is on hold: first what was said of itself, then what was said of lots that went into it.
const holdReasonsSQL = `(` + withParentsSQL + ` select coalesce(array_agg(case when up.id = l.id then r.body ->> 'reason'
		else format('lot %s, which went into it: %s', o.code, r.body ->> 'reason') end order by up.id <> l.id, h.id), '{}')
	from ` + openHoldsSQL + ` join records r on r.farm_id = $1 and r.id = h.id join lots o on o.farm_id = $1 and o.id = up.id)`

// decideHold checks that the held thing exists.
func (w *writing) decideHold(h *domain.Hold) error {
	kind, id := h.On.Target()
	refs, err := w.refs(id)
	if err != nil {
		return err
	}
	var p domain.Problems
	if kind == "harvest-lot" && refs[id].Kind == "pack-lot" {
		kind = "pack-lot"
	}
	need(&p, refs, "/on", kind, id)
	return p.Err()
}

// refuseHeld stands in the way of using a held delivery, batch or source. What has already happened must be written down
// all the same: then a late_reason says so.
func refuseHeld(known map[uuid.UUID]ref, id uuid.UUID, h *domain.Habits) error {
	if !known[id].Held || h.LateReason != "" {
		return nil
	}
	return domain.Refuse(domain.CodeLotHeld, "On hold", "This %s is on hold and may not be used. A lead or the owner releases it. If it was used already, say why that is written down late (late_reason).",
		kindWords(known[id].Kind))
}

// refuseHeldUse stands in the way of a new record that uses held deliveries. A correction mends what was written down of a
// use that has happened.
func (w *writing) refuseHeldUse(known map[uuid.UUID]ref, h *domain.Habits, deliveries ...uuid.UUID) error {
	if w.corrected != nil {
		return nil
	}
	for _, id := range deliveries {
		if err := refuseHeld(known, id, h); err != nil {
			return err
		}
	}
	return nil
}

// decideRelease checks that the hold is there and open. Only a lead or the owner releases.
func (w *writing) decideRelease(r *domain.Release) error {
	if !w.actor.Role.AtLeast(domain.Lead) {
		return domain.Refuse(domain.CodeNotAllowed, "Not yours to release", "Only a lead or the owner releases a hold.")
	}
	refs, err := w.refs(r.HoldID)
	if err != nil {
		return err
	}
	found, ok := refs[r.HoldID]
	if !ok || found.Kind != "hold" {
		return domain.NotFound("hold", r.HoldID.String())
	}
	var h domain.Hold
	if err := found.into(&h); err != nil {
		return err
	}
	if h.Released != nil {
		return domain.Refuse(domain.CodeInvalid, "Already released", "That hold was released before: %s", h.Released.Reason)
	}
	if !r.DoneAt.IsZero() {
		var p domain.Problems
		p.Check(!domain.DateIn(r.DoneAt, w.zone).Before(found.DoneOn), "/done_at", "The hold was only put on on %s.", found.DoneOn)
		return p.Err()
	}
	return nil
}

// HoldTold is a hold on a lot or bed with the people behind it: who put it on and why, who released it and why. Nobody has
// released an open hold.
type HoldTold struct {
	ID             uuid.UUID
	TargetKind     string
	TargetID       uuid.UUID
	Reason         string
	AlreadyCut     domain.Verdict // of a hold that the book put on by itself; empty otherwise
	On             domain.Date
	EnteredAt      time.Time
	ReleasedOn     *domain.Date
	ReleasedReason string
	By             uuid.UUID
	ByName         string
	ReleasedBy     uuid.UUID
	ReleasedByName string
}

// holdsSQL takes ids out of JSON in parts of their own, as groundSQL does.
const holdsSQL = `
with held as materialized (
	select h.id, h.target_kind, h.target_id, h.on_date, h.released_on, r.body ->> 'reason' as reason, coalesce(r.body ->> 'already_cut', '') as already_cut,
		coalesce(r.body #>> '{released,reason}', '') as released_reason,
		(r.body #>> '{released,id}')::uuid as release_id, e.leaf::jsonb as leaf, r.first_seq
	from holds h join records r on r.farm_id = $1 and r.id = h.id join book_entries e on e.farm_id = $1 and e.seq = r.first_seq
	where h.farm_id = $1 and h.target_id = any($2)
), release as materialized (
	select h.id, (x.leaf::jsonb ->> 'done_by')::uuid as by from held h join book_entries x on x.farm_id = $1 and x.record_id = h.release_id and x.kind = 'hold-release'
), signed as materialized (
	select h.*, (h.leaf ->> 'done_by')::uuid as by, coalesce(x.by, '00000000-0000-0000-0000-000000000000') as released_by
	from held h left join release x on x.id = h.id
)
select s.id, s.target_kind, s.target_id, s.reason, s.already_cut, s.on_date, (s.leaf ->> 'entered_at')::timestamptz, s.released_on, s.released_reason,
	s.by, coalesce(p.body ->> 'name', ''), s.released_by, coalesce(q.body ->> 'name', '')
from signed s left join records p on p.farm_id = $1 and p.id = s.by left join records q on q.farm_id = $1 and q.id = s.released_by
order by s.first_seq`

// holdsOn tells every hold that things have or had, oldest first.
func holdsOn(ctx context.Context, tx pgx.Tx, farm uuid.UUID, targets ...uuid.UUID) ([]HoldTold, error) {
	rows, err := tx.Query(ctx, holdsSQL, farm, targets)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowToStructByPos[HoldTold])
}

// holdsOnLot tells every hold that a lot, or a lot that went into it, has or had.
func holdsOnLot(ctx context.Context, tx pgx.Tx, farm, lot uuid.UUID) ([]HoldTold, error) {
	rows, err := tx.Query(ctx, `select up.id from lots l cross join lateral (`+withParentsSQL+` select id from up) up where l.farm_id = $1 and l.id = $2`, farm, lot)
	if err != nil {
		return nil, err
	}
	with, err := pgx.CollectRows(rows, pgx.RowTo[uuid.UUID])
	if err != nil {
		return nil, err
	}
	return holdsOn(ctx, tx, farm, with...)
}
