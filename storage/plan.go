package storage

import (
	"encoding/json"

	"github.com/jackc/pgx/v5"

	"croftmark/domain"
)

// Plan is what the traceability plan of 21 CFR 1.1315 is made from: the farm's own words, and what its book holds.
type Plan struct {
	Farm  domain.Farm
	Today domain.Date
	Plots []domain.Plot
	Beds  []domain.Bed // also those whose name has ended
	Crops []domain.Crop
	// Held counts the records of the tracking events; a kind that has none is left out.
	Held []domain.PlanRecords
	// HarvestCode and PackCode are the latest lot codes that were given; empty where there is none.
	HarvestCode, PackCode string
}

// planHeldSQL counts by kind of record; of handling only cooling is a tracking event.
const planHeldSQL = `select kind, count(*), min(done_on), max(done_on) from records
	where farm_id = $1 and not voided and (kind in ('harvest-lot', 'pack-lot', 'shipment', 'return') or kind = 'handling' and body ->> 'use' = 'cooling')
	group by kind order by kind`

// Plan reads the farm, its ground and crops, and counts what the book holds of each tracking event.
func (db *DB) Plan(r Reading) (p Plan, err error) {
	today, farm, err := db.Today(r)
	if err != nil {
		return p, err
	}
	p.Farm, p.Today = *farm, today
	err = db.read(r.Ctx, r.Farm, func(tx pgx.Tx) error {
		if err := p.ground(r, tx); err != nil {
			return err
		}
		rows, err := tx.Query(r.Ctx, planHeldSQL, r.Farm)
		if err != nil {
			return err
		}
		if p.Held, err = pgx.CollectRows(rows, pgx.RowToStructByPos[domain.PlanRecords]); err != nil {
			return err
		}
		if p.HarvestCode, err = newestCode(r, tx, "harvest-lot"); err != nil {
			return err
		}
		p.PackCode, err = newestCode(r, tx, "pack-lot")
		return err
	})
	return p, err
}

// newestCode gives the code of the latest lot of a kind, or "" where there is none. It goes from the newest record backwards,
// so that it reads one lot and not all of them.
func newestCode(r Reading, tx pgx.Tx, kind string) (code string, err error) {
	err = tx.QueryRow(r.Ctx, `select l.code from (select id from records where farm_id = $1 and kind = $2 and not voided order by first_seq desc limit 1) n
		join lots l on l.farm_id = $1 and l.id = n.id`, r.Farm, kind).Scan(&code)
	if err == pgx.ErrNoRows {
		return "", nil
	}
	return code, err
}

// ground reads plots, beds and crops in the order they were written down.
func (p *Plan) ground(r Reading, tx pgx.Tx) error {
	rows, err := tx.Query(r.Ctx, `select kind, body from records where farm_id = $1 and kind in ('plot', 'bed', 'crop') and not voided order by first_seq, id`, r.Farm)
	if err != nil {
		return err
	}
	var kind string
	var body []byte
	_, err = pgx.ForEachRow(rows, []any{&kind, &body}, func() error {
		switch kind {
		case "plot":
			return grow(&p.Plots, body)
		case "bed":
			return grow(&p.Beds, body)
		}
		return grow(&p.Crops, body)
	})
	return err
}

func grow[T any](list *[]T, body []byte) error {
	var x T
	err := json.Unmarshal(body, &x)
	*list = append(*list, x)
	return err
}
