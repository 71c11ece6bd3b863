package storage_test

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"croftmark/domain"
	"croftmark/storage"
	"croftmark/storage/storagetest"
)

const straySQL = `insert into records (farm_id, id, kind, first_seq, seq, done_on, body) values ($1, gen_random_uuid(), 'stray', 1, 1, '2026-01-01', '{}')`

// nothingStayed fails when a write left a row, an entry or a connection behind.
func (f *field) nothingStayed(entries int64) {
	f.t.Helper()
	if n := f.count(`select count(*) from records where kind = 'stray' or body ->> 'name' = 'stray'`); n != 0 {
		f.t.Errorf("%d rows stayed", n)
	}
	if n := f.entries(); n != entries {
		f.t.Errorf("the book has %d entries, had %d", n, entries)
	}
	if n := f.db.HeldConns(); n != 0 {
		f.t.Errorf("%d connections are still held", n)
	}
	f.write(&domain.Crop{Name: "afterwards", SoilContact: domain.Touches}) // and the farm is not locked
}

func TestDoorRefusesWriteWithoutEntry(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	before := f.entries()
	err := f.db.Write(ctx, f.actor, func(w *storage.Writing) error { return w.Exec(straySQL, f.actor.FarmID) })
	if !errors.Is(err, storage.ErrNoEntry) {
		t.Errorf("a write that enters nothing: %v, want a refusal", err)
	}
	f.nothingStayed(before)
}

func TestDoorPanicLeavesNothing(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	before := f.entries()
	func() {
		defer func() {
			if recover() == nil {
				t.Error("the panic was swallowed")
			}
		}()
		f.db.Write(ctx, f.actor, func(w *storage.Writing) error {
			if err := w.Exec(straySQL, f.actor.FarmID); err != nil {
				t.Error(err)
			}
			if err := w.Enter(&domain.Crop{Name: "stray", SoilContact: domain.Touches}); err != nil {
				t.Error(err)
			}
			panic("a fault in a decision")
		})
	}()
	f.nothingStayed(before)
}

func TestDoorCancelledBeforeCommit(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	before := f.entries()
	cancelled, cancel := context.WithCancel(ctx)
	err := f.db.Write(cancelled, f.actor, func(w *storage.Writing) error {
		defer cancel()
		return w.Enter(&domain.Crop{Name: "stray", SoilContact: domain.Touches})
	})
	wantCode(t, err, domain.CodeUnavailable)
	f.nothingStayed(before)
}

// atStatement does something when the first statement with these words is about to be sent, by itself or as the last of a
// batch.
type atStatement struct {
	words string
	do    func(*pgx.Conn)
}

func (a *atStatement) TraceQueryStart(ctx context.Context, conn *pgx.Conn, data pgx.TraceQueryStartData) context.Context {
	a.see(conn, data.SQL)
	return ctx
}

func (a *atStatement) TraceQueryEnd(context.Context, *pgx.Conn, pgx.TraceQueryEndData) {}

func (a *atStatement) TraceBatchStart(ctx context.Context, conn *pgx.Conn, data pgx.TraceBatchStartData) context.Context {
	all := data.Batch.QueuedQueries
	a.see(conn, all[len(all)-1].SQL)
	return ctx
}

func (a *atStatement) TraceBatchQuery(context.Context, *pgx.Conn, pgx.TraceBatchQueryData) {}
func (a *atStatement) TraceBatchEnd(context.Context, *pgx.Conn, pgx.TraceBatchEndData)     {}

func (a *atStatement) see(conn *pgx.Conn, sql string) {
	if do := a.do; do != nil && sql == a.words {
		a.do = nil
		do(conn)
	}
}

func TestDoorCancelledAtCommit(t *testing.T) {
	t.Parallel()
	tracer := &atStatement{words: "commit"}
	f := newField(t, storage.Config{Tracer: tracer})
	before := f.entries()
	cancelled, cancel := context.WithCancel(ctx)
	defer cancel()
	tracer.do = func(*pgx.Conn) { cancel() }
	_, err := f.db.Record(cancelled, f.actor, nil, &domain.Crop{Name: "stray", SoilContact: domain.Touches})
	wantCode(t, err, domain.CodeUnavailable)
	f.nothingStayed(before)
}

// writers lets n people write m crops each on one farm, all at once.
func (f *field) writers(n, m int) {
	var group sync.WaitGroup
	for i := range n {
		group.Go(func() {
			for j := range m {
				if _, err := f.record(&domain.Crop{Name: fmt.Sprintf("crop %d %d", i, j), SoilContact: domain.Touches}); err != nil {
					f.t.Errorf("writer %d: %v", i, err)
					return
				}
			}
		})
	}
	group.Wait()
}

// unbroken fails unless the farm's entries are 1..n and every hash fits.
func (f *field) unbroken(n int) {
	f.t.Helper()
	list, err := f.db.Entries(ctx, f.actor.FarmID, 0, n+10)
	if err != nil || len(list) != n {
		f.t.Fatalf("%d entries (%v), want %d", len(list), err, n)
	}
	for i, e := range list {
		if e.Seq != int64(i+1) {
			f.t.Fatalf("entry %d of the list has number %d", i+1, e.Seq)
		}
	}
	if v, err := f.db.Verify(ctx, f.actor.FarmID, nil); err != nil || v.Entries != int64(n) {
		f.t.Errorf("verify: %d entries, %v", v.Entries, err)
	}
}

func TestManyWritersOneBook(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{MaxConns: 16})
	before := int(f.entries())
	f.writers(16, 25)
	f.unbroken(before + 400)
}

func TestManyFarmsAtOnce(t *testing.T) {
	t.Parallel()
	first := newField(t, storage.Config{MaxConns: 16})
	farms := []*field{first}
	for range 7 {
		farms = append(farms, first.neighbour())
	}
	var group sync.WaitGroup
	for _, f := range farms {
		group.Go(func() { f.writers(2, 25) })
	}
	group.Wait()
	for _, f := range farms {
		f.unbroken(6 + 50)
	}
}

func TestFarmsDoNotWaitForEachOther(t *testing.T) {
	t.Parallel()
	a := newField(t, storage.Config{})
	b := a.neighbour()
	lock, err := connect(t, a.owner).Begin(ctx)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := lock.Exec(ctx, `select from book_heads where farm_id = $1 for update`, a.actor.FarmID); err != nil {
		t.Fatal(err)
	}
	soon, cancel := context.WithTimeout(ctx, time.Second)
	defer cancel()
	if _, err := b.db.Record(soon, b.actor, nil, &domain.Crop{Name: "beet", SoilContact: domain.Touches}); err != nil {
		t.Errorf("farm B while farm A is locked: %v", err)
	}
	short, cancel := context.WithTimeout(ctx, 200*time.Millisecond)
	defer cancel()
	_, err = a.db.Record(short, a.actor, nil, &domain.Crop{Name: "beet", SoilContact: domain.Touches})
	wantCode(t, err, domain.CodeUnavailable)
	// Reading does not wait for the writer.
	if _, err := a.db.Checkpoint(soon, a.actor.FarmID); err != nil {
		t.Errorf("reading farm A while it is locked: %v", err)
	}
	if err := lock.Rollback(ctx); err != nil {
		t.Fatal(err)
	}
	a.write(&domain.Crop{Name: "beet", SoilContact: domain.Touches})
}

// A farm that is refused leaves no empty book behind.
func TestOpenFarmIsOneWrite(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	heads := f.count(`select count(*) from book_heads`)
	_, err := f.db.OpenFarm(ctx, &domain.Farm{Name: "", TimeZone: "America/New_York"}, &domain.Person{Name: "N", Initials: "N"})
	wantField(t, err, "#/name", "")
	_, err = f.db.OpenFarm(ctx, &domain.Farm{Name: "Nowhere", TimeZone: "Mars/Olympus"}, &domain.Person{Name: "N", Initials: "N"})
	wantField(t, err, "#/time_zone", "Mars/Olympus")
	if n := f.count(`select count(*) from book_heads`); n != heads {
		t.Errorf("%d books, had %d", n, heads)
	}
}

// Without a URL of the service role the owner's connections step down before their first query.
func TestOwnerStepsDown(t *testing.T) {
	t.Parallel()
	owner, _ := storagetest.URLs(t)
	db, err := storage.Open(ctx, storage.Config{OwnerURL: owner})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(db.Close)
	actor := storagetest.Farm(t, db, "us-organic")
	err = db.Write(ctx, actor, func(w *storage.Writing) error { return w.Exec(`update book_entries set leaf = leaf`) })
	if !isSQLState(err, "42501") {
		t.Errorf("got %v, want permission denied", err)
	}
}
