package storage

import (
	"context"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"croftmark/domain"
)

// indexTables lists the tables that rebuild makes anew, children before parents.
var indexTables = []string{"gs1_prefixes", "label_moves", "log_marks", "log_entries", "shipment_lines", "lot_edges", "water_touches", "water_events", "compost_events", "compost_standings", "disposals", "lot_beds", "lots", "holds", "exposures", "planting_beds", "plantings",
	"bed_pauses", "bed_grounds", "beds", "plots", "records"}

// Rebuild empties a farm's tables and fills them from its book, in one transaction. The book itself is only read.
func (db *DB) Rebuild(ctx context.Context, farm uuid.UUID, progress func(done, total int64)) (n int64, err error) {
	options := pgx.TxOptions{BeginQuery: "begin; " + setFarm(farm) + "; select 1 from book_heads where farm_id = '" + farm.String() + "' for update"}
	err = pgx.BeginTxFunc(ctx, db.pool, options, func(tx pgx.Tx) error {
		head, _, err := readHead(ctx, tx, farm, "")
		if err != nil {
			return err
		}
		for _, table := range indexTables {
			if _, err := tx.Exec(ctx, `delete from `+table+` where farm_id = $1`, farm); err != nil {
				return err
			}
		}
		x := index{ctx, tx, farm, &pgx.Batch{}}
		for n < head.size {
			page, err := entryRows(ctx, tx, farm, n, verifyPage)
			if err != nil {
				return err
			}
			if len(page) == 0 {
				return &BadEntry{n + 1, "missing"}
			}
			for i := range page {
				e, err := domain.ParseEntry([]byte(page[i].Leaf))
				if err != nil {
					return &BadEntry{page[i].Seq, err.Error()}
				}
				if err := x.replay(e); err != nil {
					return err
				}
				n = e.Seq
			}
			if err := x.send(); err != nil {
				return err
			}
			if progress != nil {
				progress(n, head.size)
			}
		}
		return nil
	})
	return n, translate(err)
}
