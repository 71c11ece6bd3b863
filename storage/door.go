package storage

import (
	"context"
	"encoding/json"
	"errors"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"croftmark/domain"
)

// Actor is who stands at the door: a person of a farm, and what they showed to get there.
type Actor struct {
	FarmID   uuid.UUID
	PersonID uuid.UUID
	Role     domain.Role // what they may do: the person's role, or less if the token or session says so
	Language string
	Shown    Credential
}

// Credential is a token or a session, without its secret.
type Credential struct {
	ID        uuid.UUID
	Session   bool
	Shared    bool // a session that people switch under
	Label     string
	ExpiresAt time.Time // zero when it does not end by itself
}

// Written is a record as it stands after a write, with what the book knows of it.
type Written struct {
	Record
	Warnings []string
	// Replayed says that the same request was written before; Record is then the first answer.
	Replayed bool
}

// errNoEntry guards the promise that nothing is written that the book does not tell.
var errNoEntry = errors.New("refused to commit a write without an entry")

// writing is one pass through the door: the farm is locked, the time stands still, and what is to be written gathers
// here until the end.
type writing struct {
	ctx   context.Context
	tx    pgx.Tx
	actor Actor
	now   time.Time
	farm  *domain.Farm
	zone  *time.Location
	today domain.Date
	mark  *domain.RequestMark

	head    *frontier
	entries []*domain.Entry
	rows    []entryRow
	records []Record
	lots    []lotVerdict
	queue   pgx.Batch
	// doneBy is the person a record is signed for, when that is not the caller; known is what refs loaded last.
	doneBy uuid.UUID
	known  map[uuid.UUID]ref
	// quiet says that this write has nothing to add to the book: a refused attempt that is already in it.
	quiet bool
	// corrected is the record as a correction leaves it; nil for other writes.
	corrected domain.Record
}

// write is the one door. It opens the only writing transactions there are: lock the farm, find out whether this request
// was written before, run fn, append the entries, commit. Locking the head of the book first makes each farm's writes
// strictly sequential, so "manure was spread yesterday" and "we cut this bed today" cannot slip past each other; farms
// do not wait for one another.
func (db *DB) write(ctx context.Context, actor Actor, mark *domain.RequestMark, fn func(*writing) error) (replayed *domain.Entry, err error) {
	return db.writeAt(ctx, lockSQL, []any{actor.FarmID}, actor, mark, fn)
}

// lockSQL waits until nobody else writes to the farm's book.
const lockSQL = `select from book_heads where farm_id = $1 for update`

// openSQL reads the end of the book, the farm, and the entry this request made earlier, if it did.
const openSQL = `select h.seq, h.frontier, h.farm_key, r.body,
		(select e.leaf from book_entries e where e.farm_id = h.farm_id and e.request_key = $2 and $2 <> '')
	from book_heads h left join records r on r.farm_id = h.farm_id and r.id = h.farm_id
	where h.farm_id = $1`

// writeAt takes the head of the book by a statement that locks it. To begin, to wait for the lock, and to read the end of
// the book is one trip; the last statements of a write and its commit are another. What is read after the lock is read in
// a new snapshot, so it holds everything the farm's previous writer committed.
func (db *DB) writeAt(ctx context.Context, head string, args []any, actor Actor, mark *domain.RequestMark, fn func(*writing) error) (replayed *domain.Entry, err error) {
	w := &writing{ctx: ctx, actor: actor, mark: mark}
	key := ""
	if mark != nil {
		key = mark.Key
	}
	var end opened
	first := func(batch *pgx.Batch) {
		batch.Queue(head, args...)
		batch.Queue(openSQL, actor.FarmID, key).QueryRow(end.scan)
	}
	err = db.transact(ctx, actor.FarmID, "begin", planOnce, first, func(tx pgx.Tx) error {
		w.tx = tx
		w.now = db.instant()
		prior, err := w.open(&end)
		if err != nil {
			return err
		}
		if prior != nil {
			replayed = prior
			return nil
		}
		if err := fn(w); err != nil {
			return err
		}
		return w.flush()
	})
	return replayed, err
}

// opened is what openSQL gives.
type opened struct {
	found        bool
	size         int64
	packed, farm []byte
	key          string
	leaf         *string
}

func (o *opened) scan(row pgx.Row) error {
	err := row.Scan(&o.size, &o.packed, &o.key, &o.farm, &o.leaf)
	if err == pgx.ErrNoRows {
		return nil
	}
	o.found = err == nil
	return err
}

// open takes the end of the book, and the entry this request made earlier, if it did.
func (w *writing) open(end *opened) (prior *domain.Entry, err error) {
	if !end.found {
		return nil, domain.NotFound("farm", w.actor.FarmID.String())
	}
	if w.head, err = readFrontier(end.size, end.packed); err != nil {
		return nil, err
	}
	if err := w.setFarm(end.farm); err != nil {
		return nil, err
	}
	if end.leaf == nil {
		return nil, nil
	}
	return w.sameRequest(*end.leaf)
}

// setFarm takes the farm's record, from which zone and day follow. The first entry of a book has none yet.
func (w *writing) setFarm(body []byte) error {
	if body == nil {
		w.zone, w.today = time.UTC, domain.DateIn(w.now, time.UTC)
		return nil
	}
	w.farm = &domain.Farm{}
	if err := json.Unmarshal(body, w.farm); err != nil {
		return err
	}
	zone, err := domain.Zone(w.farm.TimeZone)
	if err != nil {
		return err
	}
	w.zone, w.today = zone, domain.DateIn(w.now, zone)
	return nil
}

// sameRequest gives the earlier entry when the request is the same, and refuses the id when it is not.
func (w *writing) sameRequest(leaf string) (*domain.Entry, error) {
	e, err := domain.ParseEntry([]byte(leaf))
	if err != nil {
		return nil, err
	}
	if e.Request.Hash != w.mark.Hash {
		return nil, domain.Refuse(domain.CodeIDReused, "This id or key was used for something else",
			"Entry %d already carries %s with other contents. Use a new id for a new record; to change a record send a correction.", e.Seq, w.mark.Key)
	}
	return e, nil
}

// note is what an entry says beside its body.
type note struct {
	kind     string
	recordID uuid.UUID
	body     any
	habits   domain.Habits
	doneOn   domain.Date
	reason   string
	mark     *domain.RequestMark
}

// enter adds an entry to the book. It is written when the door closes; its number is known at once.
func (w *writing) enter(n note) (*domain.Entry, error) {
	body, err := json.Marshal(n.body)
	if err != nil {
		return nil, err
	}
	e := &domain.Entry{
		Version: domain.EntryVersion, FarmID: w.actor.FarmID, Seq: w.head.size + 1, ID: uuid.Must(uuid.NewV7()),
		EntryKind: n.kind, RecordID: n.recordID, Body: body, DoneBy: n.habits.DoneBy, TypedBy: w.actor.PersonID,
		DoneOn: n.doneOn, DoneAt: n.habits.DoneAt, EnteredAt: w.now, DeviceAt: n.habits.DeviceAt, Reason: n.reason, Request: n.mark,
	}
	w.dateEntry(e)
	leaf, err := e.Canonical()
	if err != nil {
		return nil, err
	}
	hashes := w.head.append(leaf)
	row := entryRow{Seq: e.Seq, ID: e.ID, Kind: e.EntryKind, RecordID: e.RecordID, Leaf: leaf, Hashes: hashes}
	if n.mark != nil {
		row.RequestKey = &n.mark.Key
	}
	w.entries, w.rows = append(w.entries, e), append(w.rows, row)
	return e, nil
}

// dateEntry fills in who and when: the caller and now, unless the record says otherwise. An act of an earlier day whose
// hour nobody wrote down keeps only its day; the book does not invent an hour.
func (w *writing) dateEntry(e *domain.Entry) {
	if e.DoneBy == uuid.Nil {
		e.DoneBy = w.actor.PersonID
	}
	if e.DoneOn.IsZero() && !e.DoneAt.IsZero() {
		e.DoneOn = domain.DateIn(e.DoneAt, w.zone)
	}
	if e.DoneOn.IsZero() {
		e.DoneOn = w.today
	}
	if e.DoneAt.IsZero() && e.DoneOn == w.today {
		e.DoneAt = w.now
	}
	e.DoneAt = e.DoneAt.Truncate(time.Microsecond)
	e.DeviceAt = e.DeviceAt.Truncate(time.Microsecond)
}

// flush writes what has gathered and commits. The entries and the new end of the book go in one statement, last of all.
func (w *writing) flush() error {
	if len(w.rows) == 0 {
		if w.quiet {
			return nil
		}
		return errNoEntry
	}
	if err := w.flushRecords(); err != nil {
		return err
	}
	if err := w.flushLots(); err != nil {
		return err
	}
	// A head that moved while it was locked, which can't be, breaks the primary key of the book and commits nothing.
	if err := w.index().appendEntries(w.rows, w.head); err != nil {
		return err
	}
	w.queue.Queue("commit").Exec(func(tag pgconn.CommandTag) error {
		if tag.String() != "COMMIT" {
			return pgx.ErrTxCommitRollback
		}
		return nil
	})
	return w.index().send()
}
