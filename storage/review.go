package storage

import (
	"context"
	"encoding/json"
	"slices"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"croftmark/domain"
)

type reviewBody struct {
	RecordKind string `json:"record_kind"`
	Note       string `json:"note,omitempty"`
	// Own says that the signer did, typed or corrected it too, because nobody else of the farm could sign. Papers say so.
	Own bool `json:"own,omitempty"`
}

// Review is the second signature under one record: dated, an entry of its own, by another lead or owner than those who
// did, typed or corrected it. Where each of them had a hand in it, any of them signs, and the signature says so: two dated
// acts are less than two persons, but a record that nobody could sign would be worth less still.
func (db *DB) Review(ctx context.Context, actor Actor, mark *domain.RequestMark, kind string, id uuid.UUID, text string) (out Outcome, err error) {
	prior, err := db.write(ctx, actor, mark, func(w *writing) error {
		states, err := w.signable([]uuid.UUID{id})
		if err != nil {
			return err
		}
		if refusal := states[id].refusal(kind, id); refusal != nil {
			return refusal
		}
		list, rejudged, err := w.sign([]domain.RecordRef{{Kind: kind, ID: id}}, states, text)
		if err == nil {
			out.Record, out.Rejudged = list[0], rejudged
		}
		return err
	})
	if err == nil && prior != nil {
		rec, err := db.ReadRecord(ctx, actor.FarmID, kind, id)
		return Outcome{Written: Written{Record: rec, Replayed: true}}, err
	}
	return out, err
}

// ReviewAll signs many records at once, all or none: a signature for each, in one write. What can't be signed is told for
// every record.
func (db *DB) ReviewAll(ctx context.Context, actor Actor, mark *domain.RequestMark, refs []domain.RecordRef, text string) (out []Record, replayed bool, err error) {
	ids := make([]uuid.UUID, len(refs))
	for i, r := range refs {
		ids[i] = r.ID
	}
	prior, err := db.write(ctx, actor, mark, func(w *writing) error {
		states, err := w.signable(ids)
		if err != nil {
			return err
		}
		var p domain.Problems
		p.Check(len(refs) > 0, "/records", "Name at least one record to sign.")
		for i, r := range refs {
			if refusal := states[r.ID].refusal(r.Kind, r.ID); refusal != nil {
				p.Add("/records/"+itoa(i), "%s", refusal.Detail)
			}
		}
		if err := p.Err(); err != nil {
			return err
		}
		out, _, err = w.sign(refs, states, text)
		return err
	})
	if err == nil && prior != nil {
		err = db.read(ctx, actor.FarmID, func(tx pgx.Tx) error {
			out, err = recordsByID(Reading{Ctx: ctx, Farm: actor.FarmID}, tx, ids)
			return err
		})
		return out, true, err
	}
	return out, false, err
}

// sign enters a signature for each record and gives them as they stand then.
func (w *writing) sign(refs []domain.RecordRef, states map[uuid.UUID]signable, text string) (out []Record, rejudged []Rejudged, err error) {
	var batches []domain.Record
	ids := make([]uuid.UUID, len(refs))
	for i, r := range refs {
		ids[i] = r.ID
		e, err := w.enter(note{kind: "review", recordID: r.ID, body: reviewBody{r.Kind, text, states[r.ID].Own}, mark: w.mark})
		if err != nil {
			return nil, nil, err
		}
		w.mark = nil // the first of them carries it
		if err := w.index().review(e); err != nil {
			return nil, nil, err
		}
		if r.Kind == "compost-batch" { // the signature may be part of its standing
			batches = append(batches, &domain.CompostBatch{ID: r.ID})
		}
	}
	if err := w.settle(); err != nil {
		return nil, nil, err
	}
	if len(batches) > 0 {
		if rejudged, err = w.rejudgeAfter(reach{}, batches...); err != nil {
			return nil, nil, err
		}
	}
	out, err = recordsByID(w.reading(), w.tx, ids)
	return out, rejudged, err
}

// recordsByID reads records in the order of their ids; all of them are known to be there.
func recordsByID(r Reading, tx pgx.Tx, ids []uuid.UUID) ([]Record, error) {
	rows, err := tx.Query(r.Ctx, `select `+recordColumns+recordSource+`where r.farm_id = $1 and r.id = any($2) order by array_position($2, r.id)`, r.Farm, ids)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, scanRecord)
}

// signable is what decides whether a person may sign a record.
type signable struct {
	ID     uuid.UUID
	Kind   string
	Voided bool
	Own    bool // did, typed or corrected by the person; of a batch, or something that happened to it
	Signed bool // by the person, and nothing changed since; of a batch, nothing happened to it either
	Others bool // somebody else of the farm may sign who had no hand in it
}

// signableSQL looks at all entries about the records but signatures and judgements. A bed laid by a bed layout was made by
// the layout's entry, which is about another record. What is signed under a compost batch is its temperatures, turnings
// and curing (21 CFR 112.60(b)(2)), so whoever wrote those had a hand in it.
const signableSQL = `
with hand as materialized (
	select r.id, e.leaf::jsonb as entry from records r join book_entries e on e.farm_id = $1 and (e.record_id = r.id or e.seq = r.first_seq)
	where r.farm_id = $1 and r.id = any($2) and e.kind not in ('review', 'lot-judgement', 'compost-judgement')
	union all
	select c.batch_id, e.leaf::jsonb from compost_events c join book_entries e on e.farm_id = $1 and e.record_id = c.record_id
	where c.farm_id = $1 and c.batch_id = any($2) and e.kind <> 'review'
), author as materialized (
	select id, entry ->> 'typed_by' as by from hand union select id, entry ->> 'done_by' from hand
)
select r.id, r.kind, r.voided,
	exists (select from author a where a.id = r.id and a.by = $3),
	exists (select from jsonb_array_elements(r.reviews) v where v ->> 'by' = $3
		and not exists (select from book_entries e where e.farm_id = $1 and e.record_id = r.id and e.seq > (v ->> 'entry')::bigint
			and e.kind not in ('review', 'lot-judgement', 'compost-judgement'))
		and not exists (select from compost_events c join records e on e.farm_id = $1 and e.id = c.record_id
			where c.farm_id = $1 and c.batch_id = r.id and e.seq > (v ->> 'entry')::bigint)),
	exists (select from records p where p.farm_id = $1 and p.kind = 'person' and not p.voided and p.id::text <> $3
		and p.body ->> 'role' in ('owner', 'lead') and coalesce(p.body ->> 'ends_on', '9999') >= $4
		and not exists (select from author a where a.id = r.id and a.by = p.id::text))
from records r where r.farm_id = $1 and r.id = any($2)`

func (w *writing) signable(ids []uuid.UUID) (map[uuid.UUID]signable, error) {
	rows, err := w.tx.Query(w.ctx, signableSQL, w.actor.FarmID, ids, w.actor.PersonID.String(), w.today.String())
	if err != nil {
		return nil, err
	}
	return signableByID(rows)
}

func signableByID(rows pgx.Rows) (map[uuid.UUID]signable, error) {
	list, err := pgx.CollectRows(rows, pgx.RowToStructByPos[signable])
	out := map[uuid.UUID]signable{}
	for _, s := range list {
		out[s.ID] = s
	}
	return out, err
}

// refusal says why the person does not sign, or nothing.
func (s signable) refusal(kind string, id uuid.UUID) *domain.Error {
	switch {
	case s.ID == uuid.Nil || s.Kind != kind:
		return domain.NotFound(kindWords(kind), id.String())
	case s.Voided:
		return domain.Refuse(domain.CodeRuleRefused, "Already void", "That %s was voided; write a new one instead.", kindWords(kind))
	case s.Signed:
		return domain.Refuse(domain.CodeRuleRefused, "Already signed", "You have signed this %s, and nothing has changed since.", kindWords(kind))
	case s.Own && s.Others:
		return domain.Refuse(domain.CodeNotAllowed, "Somebody else signs",
			"The second signature is given by another lead or owner than those who did, typed or corrected it, or what happened to it. Ask one of them. Whoever corrects a mistake has a hand in it too, so a lead or owner who means to sign lets another correct it.")
	}
	return nil
}

// review adds a signature to the record.
func (x index) review(e *domain.Entry) error {
	var body reviewBody
	if err := json.Unmarshal(e.Body, &body); err != nil {
		return err
	}
	return x.exec(`update records set seq = $3, reviews = reviews || (jsonb_build_object('by', $4::text, 'at', $5::text, 'entry', $3::bigint)
			|| case when $6 then '{"own": true}'::jsonb else '{}' end) where farm_id = $1 and id = $2`,
		e.RecordID, e.Seq, e.TypedBy.String(), e.EnteredAt.Format("2006-01-02T15:04:05.999999Z07:00"), body.Own)
}

// ToSign is a record that waits for its second signature.
type ToSign struct {
	Record
	Family domain.SignatureFamily
	// Refusal says why the person who asks can't be the one who signs; empty when they may.
	Refusal string
	// LateOn is the day after which the signature is late, by this program's own custom.
	LateOn domain.Date
}

// signYears is how far back the queue looks: as long as 21 CFR 112.164 has the records kept.
const signYears = 2

// toSignMost is how many records the queue shows at once, oldest first.
const toSignMost = 500

// toSignSQL finds the records of the families that nobody has signed since they were last changed. A family whose
// signature is about events, as of a compost batch, waits again when one came or changed later. The kinds and
// sheets are given as lists too: by a join alone the database would read every record of the book.
const toSignSQL = `
with family as (
	select * from unnest($2::int[], $3::text[], $4::text[], $5::text[], $6::text[]) as f (n, kind, sheet, needs, event)
), open as (
	select f.n, f.event, r.id, coalesce((r.reviews #>> '{-1,entry}')::bigint, 0) as signed, r.seq from family f
		join records r on r.farm_id = $1 and r.kind = any($9) and r.kind = f.kind and r.done_on >= $7 and not r.voided and (f.needs = '' or r.body ? f.needs)
	where f.sheet = ''
	union all
	select f.n, f.event, r.id, coalesce((r.reviews #>> '{-1,entry}')::bigint, 0), r.seq from family f
		join log_entries l on l.farm_id = $1 and l.sheet = any($4) and l.sheet = f.sheet and l.on_date >= $7
		join records r on r.farm_id = $1 and r.id = l.record_id and (f.needs = '' or r.body ? f.needs)
	where f.sheet <> ''
), waiting as (
	select o.n, o.id from open o where (o.event = '' or exists (select from compost_events c where c.farm_id = $1 and c.batch_id = o.id and c.kind = o.event))
		and (o.signed < o.seq or o.event <> '' and exists (select from compost_events c join records e on e.farm_id = $1 and e.id = c.record_id
			where c.farm_id = $1 and c.batch_id = o.id and e.seq > o.signed))
)
select w.n, ` + recordColumns + ` from waiting w join records r on r.farm_id = $1 and r.id = w.id
	join book_entries e on e.farm_id = $1 and e.seq = r.first_seq
order by r.first_seq limit $8`

// ToSign lists what waits for a second signature that somebody asks for, oldest first, and says which of it the actor may
// sign.
func (db *DB) ToSign(ctx context.Context, actor Actor) (out []ToSign, err error) {
	r := Reading{Ctx: ctx, Farm: actor.FarmID}
	err = db.read(ctx, actor.FarmID, func(tx pgx.Tx) error {
		out, err = db.toSign(r, tx, actor.PersonID)
		return err
	})
	return out, err
}

func (db *DB) toSign(r Reading, tx pgx.Tx, person uuid.UUID) ([]ToSign, error) {
	farm, today, own, err := db.farmAndSheets(r, tx)
	if err != nil {
		return nil, err
	}
	families := slices.DeleteFunc(domain.SignatureFamilies(own), func(f domain.SignatureFamily) bool { return !f.Rule.EverAsks(farm) })
	out, err := unsigned(r, tx, families, today)
	if err != nil {
		return nil, err
	}
	kept := out[:0]
	for _, x := range out {
		if x.Family.Rule.Asks(farm, x.DoneOn) {
			kept = append(kept, x)
		}
	}
	if len(kept) == 0 {
		return kept, nil
	}
	ids := make([]uuid.UUID, len(kept))
	for i, x := range kept {
		ids[i] = x.ID
	}
	rows, err := tx.Query(r.Ctx, signableSQL, r.Farm, ids, person.String(), today.String())
	if err != nil {
		return nil, err
	}
	states, err := signableByID(rows)
	if err != nil {
		return nil, err
	}
	zone, err := domain.Zone(farm.TimeZone)
	if err != nil {
		return nil, err
	}
	for i, x := range kept {
		kept[i].LateOn = domain.DateIn(x.Stamp.EnteredAt, zone).AddDays(domain.SignWithin)
		if refusal := states[x.ID].refusal(x.Kind, x.ID); refusal != nil {
			kept[i].Refusal = refusal.Detail
		}
	}
	return kept, nil
}

// farmAndSheets reads the farm with its calendar day, and the sheets it made.
func (db *DB) farmAndSheets(r Reading, tx pgx.Tx) (farm *domain.Farm, today domain.Date, own []domain.LogSheet, err error) {
	var body, sheets []byte
	err = tx.QueryRow(r.Ctx, `select body, (select jsonb_agg(s.body order by s.first_seq) from records s where s.farm_id = $1 and s.kind = 'log-sheet')
		from records where farm_id = $1 and id = $1`, r.Farm).Scan(&body, &sheets)
	if err != nil {
		return nil, today, nil, err
	}
	farm = &domain.Farm{}
	if err := json.Unmarshal(body, farm); err != nil {
		return nil, today, nil, err
	}
	zone, err := domain.Zone(farm.TimeZone)
	if err != nil {
		return nil, today, nil, err
	}
	own, err = list[domain.LogSheet](sheets)
	return farm, domain.DateIn(db.instant(), zone), own, err
}

func unsigned(r Reading, tx pgx.Tx, families []domain.SignatureFamily, today domain.Date) ([]ToSign, error) {
	n := len(families)
	numbers, kinds, sheets, needs, events := make([]int32, n), make([]string, n), make([]string, n), make([]string, n), make([]string, n)
	var ofNoSheet []string
	for i, f := range families {
		if f.Sheet == "" {
			ofNoSheet = append(ofNoSheet, f.Kind)
		}
		numbers[i], kinds[i], sheets[i], needs[i], events[i] = int32(i), f.Kind, f.Sheet, f.Needs, f.NeedsEvent
	}
	rows, err := tx.Query(r.Ctx, toSignSQL, r.Farm, numbers, kinds, sheets, needs, events, today.AddMonths(-12*signYears), toSignMost, ofNoSheet)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (x ToSign, err error) {
		var family int
		if x.Record, err = scanRecordAfter(row, &family); err == nil {
			x.Family = families[family]
		}
		return x, err
	})
}
