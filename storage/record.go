package storage

import (
	"context"
	"encoding/json"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"croftmark/domain"
)

// Record is what a record says now, and what the book knows of it.
type Record struct {
	ID       uuid.UUID
	Kind     string
	FirstSeq int64 // the entry that made it
	Seq      int64 // the latest entry that changed it
	DoneOn   domain.Date
	Body     json.RawMessage
	Voided   bool
	Reviews  json.RawMessage
	Stamp    Stamp
}

// Stamp is who wrote a record and when, from the entry that made it.
type Stamp struct {
	DoneBy    uuid.UUID
	TypedBy   uuid.UUID
	DoneAt    time.Time
	EnteredAt time.Time
	LateDays  int
}

func stampOf(e *domain.Entry, zone *time.Location) Stamp {
	return Stamp{DoneBy: e.DoneBy, TypedBy: e.TypedBy, DoneAt: e.DoneAt, EnteredAt: e.EnteredAt, LateDays: e.Late(zone)}
}

// SecondSignature is a signature under a record, as the record keeps it.
type SecondSignature struct {
	By  uuid.UUID `json:"by"`
	At  time.Time `json:"at"`
	Own bool      `json:"own"` // the signer had a hand in the record; nobody else could sign
}

// LatestReview gives the last second signature under a record; without one it is zero.
func (r Record) LatestReview() (SecondSignature, error) {
	var list []SecondSignature
	if err := json.Unmarshal(r.Reviews, &list); err != nil || len(list) == 0 {
		return SecondSignature{}, err
	}
	return list[len(list)-1], nil
}

// noReviews is the empty list of second signatures.
var noReviews = json.RawMessage(`[]`)

// put gathers the new state of a record that an entry made or changed.
func (w *writing) put(r Record) {
	if r.Reviews == nil {
		r.Reviews = noReviews
	}
	w.records = append(w.records, r)
}

// flushRecords queues the gathered records before whatever is queued next.
func (w *writing) flushRecords() error {
	records := w.records
	w.records = nil
	return w.index().insertRecords(records)
}

// settle writes all that has gathered, so that later statements of this transaction read it.
func (w *writing) settle() error {
	if err := w.flushRecords(); err != nil {
		return err
	}
	return w.index().send()
}

// insertRecords adds new records. An id that is taken breaks records_pkey and the whole write is refused.
func (x index) insertRecords(records []Record) error {
	n := len(records)
	if n == 0 {
		return nil
	}
	ids, kinds, firsts, seqs := make([]uuid.UUID, n), make([]string, n), make([]int64, n), make([]int64, n)
	days, bodies, voids, reviews := make([]domain.Date, n), make([]string, n), make([]bool, n), make([]string, n)
	for i, r := range records {
		ids[i], kinds[i], firsts[i], seqs[i] = r.ID, r.Kind, r.FirstSeq, r.Seq
		days[i], bodies[i], voids[i], reviews[i] = r.DoneOn, string(r.Body), r.Voided, string(r.Reviews)
	}
	return x.exec(`insert into records (farm_id, id, kind, first_seq, seq, done_on, body, voided, reviews)
		select $1, r.id, r.kind, r.first_seq, r.seq, r.done_on, r.body::jsonb, r.voided, r.reviews::jsonb
		from unnest($2::uuid[], $3::text[], $4::bigint[], $5::bigint[], $6::date[], $7::text[], $8::bool[], $9::text[])
			as r (id, kind, first_seq, seq, done_on, body, voided, reviews)`,
		ids, kinds, firsts, seqs, days, bodies, voids, reviews)
}

// newRecord turns a record into an entry and its row. kind-specific rows are the caller's, before or after.
func (w *writing) newRecord(r domain.Record) (Written, error) {
	h := *domain.HabitsOf(r)
	on := r.DoneOn()
	if timed, ok := r.(domain.Timed); ok {
		// The record's own instant says on which day the ground or the water was touched, also when somebody wrote it up later.
		on = domain.DateIn(timed.HappenedAt(), w.zone)
		if h.DoneAt.IsZero() {
			h.DoneAt = timed.HappenedAt()
		}
	}
	id := *r.Identity()
	e, err := w.enter(note{kind: r.Kind(), recordID: id, body: r, habits: h, doneOn: on, reason: h.LateReason, mark: w.mark})
	if err != nil {
		return Written{}, err
	}
	w.mark = nil // one entry carries the mark; what follows in the same write does not
	rec := Record{ID: id, Kind: r.Kind(), FirstSeq: e.Seq, Seq: e.Seq, DoneOn: e.DoneOn, Body: e.Body, Reviews: noReviews, Stamp: stampOf(e, w.zone)}
	w.put(rec)
	return Written{Record: rec}, nil
}

// recordColumns reads a record with the leaf of the entry that made it and the farm's zone, for the stamp. The farm is $1.
const recordColumns = `r.id, r.kind, r.first_seq, r.seq, r.done_on, r.body, r.voided, r.reviews, e.leaf,
	(select body ->> 'time_zone' from records where farm_id = $1 and id = $1)`

const recordSource = ` from records r join book_entries e on e.farm_id = r.farm_id and e.seq = r.first_seq `

func scanRecord(row pgx.CollectableRow) (Record, error) { return scanRecordAfter(row) }

// scanRecordAfter reads other columns before those of the record.
func scanRecordAfter(row pgx.CollectableRow, before ...any) (Record, error) {
	var r Record
	var leaf, zoneName string
	if err := row.Scan(append(before, &r.ID, &r.Kind, &r.FirstSeq, &r.Seq, &r.DoneOn, &r.Body, &r.Voided, &r.Reviews, &leaf, &zoneName)...); err != nil {
		return r, err
	}
	var e domain.Entry
	if err := json.Unmarshal([]byte(leaf), &e); err != nil {
		return r, err
	}
	zone, err := domain.Zone(zoneName)
	if err != nil {
		return r, err
	}
	r.Stamp = stampOf(&e, zone)
	return r, nil
}

// ReadRecord gives one record of a kind. A record of another farm is not found.
func (db *DB) ReadRecord(ctx context.Context, farm uuid.UUID, kind string, id uuid.UUID) (r Record, err error) {
	err = db.read(ctx, farm, func(tx pgx.Tx) error {
		rows, err := tx.Query(ctx, `select `+recordColumns+recordSource+`where r.farm_id = $1 and r.id = $2 and r.kind = $3`, farm, id, kind)
		if err != nil {
			return err
		}
		r, err = pgx.CollectExactlyOneRow(rows, scanRecord)
		if err == pgx.ErrNoRows {
			return domain.NotFound(kind, id.String())
		}
		return err
	})
	return r, err
}

// Page asks for part of a list, newest first.
type Page struct {
	Limit  int
	Before int64     // first_seq of the last record of the page before; 0 for the first page
	LastID uuid.UUID // its id: several records may come from one entry
	// Filter keeps records whose body holds these fields with these values.
	Filter map[string]string
	// WithoutPrivate leaves out what only leads and the owner may read.
	WithoutPrivate bool
}

// Records lists records of a kind, newest first, one more than asked for so that the caller knows whether there are
// more.
func (db *DB) Records(ctx context.Context, farm uuid.UUID, kind string, p Page) (out []Record, err error) {
	filter, err := json.Marshal(p.Filter)
	if err != nil {
		return nil, err
	}
	if len(p.Filter) == 0 {
		filter = []byte(`{}`)
	}
	err = db.read(ctx, farm, func(tx pgx.Tx) error {
		rows, err := tx.Query(ctx, `select `+recordColumns+recordSource+`
			where r.farm_id = $1 and r.kind = $2 and r.body @> $3::jsonb
				and ($4 = 0 or (r.first_seq, r.id) < ($4, $5))
				and not ($7 and r.body @> '{"private": true}')
			order by r.first_seq desc, r.id desc limit $6`, farm, kind, string(filter), p.Before, p.LastID, p.Limit+1, p.WithoutPrivate)
		if err != nil {
			return err
		}
		out, err = pgx.CollectRows(rows, scanRecord)
		return err
	})
	return out, err
}

// scanEntry reads an entry from its leaf, the one column of the row.
func scanEntry(row pgx.CollectableRow) (*domain.Entry, error) {
	var leaf string
	if err := row.Scan(&leaf); err != nil {
		return nil, err
	}
	return domain.ParseEntry([]byte(leaf))
}

// History lists every entry about a record, oldest first.
func (db *DB) History(ctx context.Context, farm uuid.UUID, kind string, id uuid.UUID) (out []*domain.Entry, err error) {
	err = db.read(ctx, farm, func(tx pgx.Tx) error {
		var known bool
		if err := tx.QueryRow(ctx, `select exists (select from records where farm_id = $1 and id = $2 and kind = $3)`, farm, id, kind).Scan(&known); err != nil {
			return err
		}
		if !known {
			return domain.NotFound(kind, id.String())
		}
		// A bed laid by a bed layout was made by the layout's entry, which is about another record.
		rows, err := tx.Query(ctx, `select leaf from (
				select seq, leaf from book_entries where farm_id = $1 and record_id = $2
				union
				select e.seq, e.leaf from records r join book_entries e on e.farm_id = $1 and e.seq = r.first_seq where r.farm_id = $1 and r.id = $2
			) as about order by seq`, farm, id)
		if err != nil {
			return err
		}
		out, err = pgx.CollectRows(rows, scanEntry)
		return err
	})
	return out, err
}

// ref is a record that a new record names, with what is needed to check it.
type ref struct {
	ID     uuid.UUID
	Kind   string
	Voided bool
	Body   json.RawMessage
	PlotID *uuid.UUID   // beds only
	From   *domain.Date // beds only
	To     *domain.Date // beds only, once ended
	DoneOn domain.Date
	Held   bool
}

// refs loads the named records at once, the inputs behind named input lots, and the person the record is signed for. What
// was asked before goes in the same trip.
func (w *writing) refs(ids ...uuid.UUID) (map[uuid.UUID]ref, error) {
	if w.doneBy != uuid.Nil {
		ids = append(ids, w.doneBy)
	}
	w.known = map[uuid.UUID]ref{}
	w.queue.Queue(`select r.id, r.kind, r.voided, r.body, b.plot_id, b.valid_from, b.valid_to, r.done_on,
			exists (select from holds h where h.farm_id = $1 and h.target_id = r.id and h.released_on is null)
		from records r left join beds b on b.farm_id = r.farm_id and b.id = r.id
		where r.farm_id = $1 and r.id = any($2::uuid[] || array(
			select (l.body->>'input_id')::uuid from records l where l.farm_id = $1 and l.id = any($2) and l.kind = 'input-lot'))`,
		w.actor.FarmID, ids).Query(func(rows pgx.Rows) error {
		list, err := pgx.CollectRows(rows, pgx.RowToStructByPos[ref])
		for _, r := range list {
			w.known[r.ID] = r
		}
		return err
	})
	if err := w.index().send(); err != nil {
		return nil, err
	}
	return w.known, nil
}

// need notes a problem unless the id names a record of the kind that still holds.
func need(p *domain.Problems, known map[uuid.UUID]ref, pointer, kind string, id uuid.UUID) bool {
	r, ok := known[id]
	if !ok || r.Kind != kind {
		p.Add(pointer, "There is no %s with the id %s in this farm's book.", kindWords(kind), id)
		return false
	}
	if r.Voided {
		p.Add(pointer, "That %s was voided.", kindWords(kind))
		return false
	}
	return true
}

// into reads the body of a referenced record.
func (r ref) into(v any) error { return json.Unmarshal(r.Body, v) }

// Into reads a record's body into its noun.
func (r Record) Into(v any) error { return json.Unmarshal(r.Body, v) }
