package storage

import (
	"context"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"golang.org/x/mod/sumdb/tlog"

	"croftmark/domain"
)

// What the tests see of the package's inside.

// Writing is one pass through the door.
type Writing = writing

var (
	ErrNoEntry  = errNoEntry
	IndexTables = indexTables
)

const (
	ReachedSQL = reachedSQL
	StartSQL   = startSQL
	VoidedSQL  = voidedSQL
)

var KnowOurTypes = knowOurTypes

// Write goes through the door with any act.
func (db *DB) Write(ctx context.Context, actor Actor, act func(*Writing) error) error {
	_, err := db.write(ctx, actor, nil, act)
	return err
}

// Exec runs a statement in the writing transaction, beside the book.
func (w *writing) Exec(sql string, args ...any) error {
	_, err := w.tx.Exec(w.ctx, sql, args...)
	return err
}

// Enter writes a record without look-up rows.
func (w *writing) Enter(r domain.Record) error {
	if err := w.giveID(r); err != nil {
		return err
	}
	_, err := w.newRecord(r)
	return err
}

// HeldConns counts connections that are taken out of the pool.
func (db *DB) HeldConns() int32 { return db.pool.Stat().AcquiredConns() }

// Edge is the right edge of a tree.
type Edge struct{ f *frontier }

func NewEdge() *Edge { return &Edge{newFrontier()} }

func ReadEdge(size int64, packed []byte) (*Edge, error) {
	f, err := readFrontier(size, packed)
	return &Edge{f}, err
}

func (e *Edge) Append(leaf []byte) ([]byte, error) { return e.f.append(leaf), nil }
func (e *Edge) Pack() []byte                       { return e.f.pack() }
func (e *Edge) Root() (tlog.Hash, error)           { return e.f.root() }

// WordedConstraints lists the constraints that become field errors.
func WordedConstraints() []string {
	var names []string
	for name := range constraintWords {
		names = append(names, name)
	}
	return names
}

// Translate is how an error of the database is told to callers.
func Translate(err error) error { return translate(err) }

// ExportPages is ExportFile with pages of so many entries, and a note after each.
func ExportPages(ctx context.Context, db *DB, farm uuid.UUID, path string, page int, progress func(done, total int64)) (Exported, error) {
	return db.exportFile(ctx, farm, path, page, 1, progress)
}

// OnDatabase lets tests name another database of a URL.
var OnDatabase = onDatabase

// GenericPlans asks a statement so many times in a read, and says how often its plan was made without looking at the values.
func GenericPlans(ctx context.Context, db *DB, farm uuid.UUID, times int, sql string, args ...any) (generic int, err error) {
	err = db.read(ctx, farm, func(tx pgx.Tx) error {
		for range times {
			rows, err := tx.Query(ctx, sql, args...)
			if err != nil {
				return err
			}
			rows.Close()
			if err := rows.Err(); err != nil {
				return err
			}
		}
		return tx.QueryRow(ctx, `select generic_plans from pg_prepared_statements where statement = $1`, sql).Scan(&generic)
	})
	return generic, err
}
