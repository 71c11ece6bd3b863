package storage

import (
	"context"
	"errors"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"croftmark/domain"
)

// indexTables lists the tables that rebuild makes anew, children before parents.
var indexTables = []string{"gs1_prefixes", "label_moves", "log_marks", "log_entries", "shipment_lines", "lot_edges", "water_touches", "water_events", "compost_events", "compost_standings", "disposals", "lot_beds", "lots", "holds", "exposures", "planting_beds", "plantings",
	"bed_pauses", "bed_grounds", "beds", "plots", "records"}

// planAnew forgets the plans of a replay now and then. They are made while the tables are nearly empty, when reading all of
// the farm's rows costs nothing, and would be kept while the tables fill: a long book would never end.
func (x index) planAnew(seq int64) error {
	if seq%1000 != 0 {
		return nil
	}
	if err := x.send(); err != nil {
		return err
	}
	_, err := x.tx.Exec(x.ctx, "discard plans")
	return err
}

// Rebuild empties a farm's tables and fills them from its book, in one transaction. The book itself is only read.
func (db *DB) Rebuild(ctx context.Context, farm uuid.UUID, progress func(done, total int64)) (n int64, err error) {
	err = db.aloneAt(ctx, farm, func(tx pgx.Tx) error {
		n, err = rebuild(ctx, tx, farm, progress)
		return err
	})
	return n, err
}

// aloneAt runs fn while nobody writes to the farm's book.
func (db *DB) aloneAt(ctx context.Context, farm uuid.UUID, fn func(pgx.Tx) error) error {
	lock := func(batch *pgx.Batch) { batch.Queue(lockSQL, farm) }
	return db.transact(ctx, farm, "begin", planOnce, lock, fn)
}

func rebuild(ctx context.Context, tx pgx.Tx, farm uuid.UUID, progress func(done, total int64)) (n int64, err error) {
	head, _, err := readHead(ctx, tx, farm, "")
	if err != nil {
		return 0, err
	}
	for _, table := range indexTables {
		if _, err := tx.Exec(ctx, `delete from `+table+` where farm_id = $1`, farm); err != nil {
			return 0, err
		}
	}
	x := index{ctx, tx, farm, &pgx.Batch{}}
	for n < head.size {
		page, err := entryRows(ctx, tx, farm, n, verifyPage)
		if err != nil {
			return n, err
		}
		if len(page) == 0 {
			return n, &BadEntry{n + 1, "missing"}
		}
		for i := range page {
			e, err := domain.ParseEntry(page[i].Leaf)
			if err != nil {
				return n, &BadEntry{page[i].Seq, err.Error()}
			}
			if err := errors.Join(x.planAnew(e.Seq), x.replay(e)); err != nil {
				return n, err
			}
			n = e.Seq
		}
		if err := x.send(); err != nil {
			return n, err
		}
		if progress != nil {
			progress(n, head.size)
		}
	}
	return n, nil
}
