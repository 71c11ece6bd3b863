package storage_test

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"croftmark/domain"
	"croftmark/storage"
	"croftmark/storage/storagetest"
)

func isSQLState(err error, code string) bool {
	var pg *pgconn.PgError
	return errors.As(err, &pg) && pg.Code == code
}

func TestConstraintsBecomeFieldErrors(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	before := f.entries()
	_, err := f.record(&domain.Plot{Name: "LOWER"})
	wantField(t, err, "#/name", "already a plot")
	_, err = f.record(&domain.Bed{Name: "lower 3", PlotID: f.plot, From: day("2025-01-01")})
	wantField(t, err, "#/name", "already a bed")
	_, err = f.record(&domain.Crop{ID: f.bed, Name: "chard", SoilContact: domain.Touches})
	wantCode(t, err, domain.CodeIDReused)
	_, err = f.record(&domain.Crop{ID: f.actor.FarmID, Name: "chard", SoilContact: domain.Touches})
	wantCode(t, err, domain.CodeIDReused)
	if n := f.entries(); n != before {
		t.Errorf("%d entries after refusals, had %d", n, before)
	}
	lot := f.lot(f.plant("kale", domain.HeldClear, "2026-05-01", f.bed), "2026-07-01", f.bed)
	f.write(lot)
	_, err = f.record(&domain.Disposal{LotID: lot.ID, On: day("2026-07-02"), Quantity: domain.Q("40.01", "lb"), How: "compost"})
	wantField(t, err, "#/quantity", "more than is left")
	f.write(&domain.Disposal{LotID: lot.ID, On: day("2026-07-02"), Quantity: domain.Q("30", "lb"), How: "compost"})
	_, err = f.db.Correct(ctx, f.actor, nil, "harvest-lot", lot.ID, "weighed again", []byte(`{"quantity": {"value": "29.99", "unit": "lb"}}`))
	wantField(t, err, "#/quantity", "")
	_, err = f.db.Correct(ctx, f.actor, nil, "harvest-lot", lot.ID, "in kg", []byte(`{"quantity": {"value": "18", "unit": "kg"}}`))
	wantField(t, err, "#/quantity/unit", "disposed of in lb")
}

// Every constraint that the words are about is one of the schema: a renamed constraint would turn a field error into a
// fault of ours.
func TestConstraintWordsNameRealConstraints(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	for _, name := range append(storage.WordedConstraints(), "records_pkey") {
		n := f.count(`select (select count(*) from pg_constraint where conname = $1) + (select count(*) from pg_indexes where indexname = $1)`, name)
		if n == 0 {
			t.Errorf("no constraint or index is called %s", name)
		}
	}
}

// A killed backend in the middle of a write, at every trip of it in turn, gives unavailable and leaves nothing; the
// pool recovers.
func TestKilledBackend(t *testing.T) {
	t.Parallel()
	kill := &killer{}
	f := newField(t, storage.Config{Tracer: kill, MaxConns: 4})
	kill.owner = connect(t, f.owner)
	// A connection that is prepared for all statements, so that counting finds the same ones each time.
	f.write(f.application(f.manure, "2026-04-01", "2026-04-02", f.bed))
	killed := 0
	for n := 1; ; n++ {
		before := f.entries()
		kill.arm(n)
		a := f.application(f.manure, "2026-04-01", "2026-04-02", f.bed)
		a.Note = fmt.Sprint("stray ", n)
		_, err := f.record(a)
		if !kill.disarm() {
			if err != nil {
				t.Fatal(err)
			}
			break // the write has fewer statements than n
		}
		killed++
		wantCode(t, err, domain.CodeUnavailable)
		if rows := f.count(`select count(*) from records where body ->> 'note' = $1`, a.Note); rows != 0 || f.entries() != before {
			t.Errorf("killed at statement %d (%s): %d rows, %d entries, had %d", n, kill.at, rows, f.entries(), before)
		}
		f.write(&domain.Crop{Name: fmt.Sprint("after ", n), SoilContact: domain.Touches})
	}
	if killed < 4 {
		t.Errorf("killed at %d trips only", killed)
	}
	if n := f.db.HeldConns(); n != 0 {
		t.Errorf("%d connections are still held", n)
	}
	t.Logf("killed at each of %d trips", killed)
}

// killer ends the backend that is about to run the n-th statement. It sees batches as one.
type killer struct {
	statements
	owner *pgx.Conn
	left  int
	at    string
}

func (k *killer) arm(n int) {
	k.left, k.at = n, ""
	k.on = func(conn *pgx.Conn, sql string) {
		if k.left--; k.left != 0 {
			return
		}
		k.at, _, _ = strings.Cut(strings.TrimSpace(sql), "\n")
		pid := conn.PgConn().PID()
		if _, err := k.owner.Exec(ctx, `select pg_terminate_backend($1, 5000)`, pid); err != nil {
			panic(err)
		}
	}
}

func (k *killer) disarm() bool {
	fired := k.left <= 0
	k.on = nil
	return fired
}

func TestDeadlineIsUnavailable(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	past, cancel := context.WithDeadline(ctx, time.Now().Add(-time.Second))
	defer cancel()
	_, err := f.db.Record(past, f.actor, nil, &domain.Crop{Name: "late", SoilContact: domain.Touches})
	wantCode(t, err, domain.CodeUnavailable)
	_, err = f.db.ReadRecord(past, f.actor.FarmID, "bed", f.bed)
	wantCode(t, err, domain.CodeUnavailable)
}

// A connection that the pool finds dead is no fault of the request: it may be sent again, and is written once.
func TestDeadConnectionIsUnavailable(t *testing.T) {
	t.Parallel()
	owner, _ := storagetest.URLs(t)
	conn, err := pgx.Connect(ctx, owner)
	if err != nil {
		t.Fatal(err)
	}
	if err := conn.Close(ctx); err != nil {
		t.Fatal(err)
	}
	_, err = conn.Exec(ctx, "select 1")
	wantCode(t, storage.Translate(err), domain.CodeUnavailable)
}
