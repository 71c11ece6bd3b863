package storage

import (
	"context"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"croftmark/domain"
)

// farmPrefix keeps the company prefix of a farm where an address with a GTIN is looked up.
func (x index) farmPrefix(f *domain.Farm) error {
	if err := x.exec(`delete from gs1_prefixes where farm_id = $1`); err != nil || f.GS1Prefix == "" {
		return err
	}
	return x.exec(`insert into gs1_prefixes (farm_id, prefix) values ($1, $2)`, f.GS1Prefix)
}

// FarmByGTIN finds the farm that printed a label with a GTIN and a lot. The number says whose prefix it is and not which
// of two books of this service; if two know the lot it is not found, for neither may speak for the other.
func (db *DB) FarmByGTIN(ctx context.Context, gtin, lot string) (uuid.UUID, error) {
	none := domain.NotFound("lot", lot)
	rows, err := db.pool.Query(ctx, `select * from croftmark_farms_by_gs1_prefix($1)`, domain.GS1Prefixes(gtin))
	if err != nil {
		return uuid.Nil, translate(err)
	}
	farms, err := pgx.CollectRows(rows, pgx.RowTo[uuid.UUID])
	if err != nil {
		return uuid.Nil, translate(err)
	}
	var found []uuid.UUID
	for _, farm := range farms {
		var knows bool
		err := db.read(ctx, farm, func(tx pgx.Tx) error {
			return tx.QueryRow(ctx, `select exists (select from lots where farm_id = $1 and code = $2)`, farm, lot).Scan(&knows)
		})
		if err != nil {
			return uuid.Nil, err
		}
		if knows {
			found = append(found, farm)
		}
	}
	if len(found) != 1 {
		return uuid.Nil, none
	}
	return found[0], nil
}
