package storage

import (
	"encoding/json"
	"strings"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"croftmark/domain"
)

// stockSQL gathers what came in and what was used of deliveries and batches: of all of them, or of one. They are statements
// of their own, so that the plan that is kept for one delivery goes by its id.
func stockSQL(which string) string {
	return strings.ReplaceAll(stockParts, "WHICH", which)
}

var (
	stockOfAll = stockSQL("")
	stockOfOne = stockSQL("and r.id = $2")
)

const stockParts = `
with delivery as materialized (
	select r.id, r.body, (r.body ->> 'input_id')::uuid as input_id from records r
	where r.farm_id = $1 and r.kind = 'input-lot' and not r.voided WHICH
)
select 'input-lot', l.id, i.body ->> 'name', l.body -> 'quantity',
	coalesce((select jsonb_agg(a.body -> 'amount') from records a where a.farm_id = $1 and a.id in (
		select e.record_id from exposures e where e.farm_id = $1 and e.input_lot_id = l.id)), '[]')
	|| coalesce((select jsonb_agg(g -> 'amount') from records b, jsonb_array_elements(b.body -> 'ingredients') g
		where b.farm_id = $1 and b.kind = 'compost-batch' and not b.voided and g ->> 'input_lot_id' = l.id::text), '[]')
	|| coalesce((select jsonb_agg(b.body #> '{ingredient,amount}') from records b
		where b.farm_id = $1 and b.kind = 'compost-addition' and not b.voided and b.body #>> '{ingredient,input_lot_id}' = l.id::text), '[]')
from delivery l join records i on i.farm_id = $1 and i.id = l.input_id
union all
select 'compost-batch', r.id, r.body ->> 'code',
	(select c.body -> 'yield' from compost_events v join records c on c.farm_id = $1 and c.id = v.record_id
		where v.farm_id = $1 and v.batch_id = r.id and v.kind = 'compost-curing' and c.body ? 'yield' order by c.first_seq desc limit 1),
	coalesce((select jsonb_agg(a.body -> 'amount') from records a where a.farm_id = $1 and a.id in (
		select e.record_id from exposures e where e.farm_id = $1 and e.compost_batch_id = r.id)), '[]')
from records r
where r.farm_id = $1 and r.kind = 'compost-batch' and not r.voided WHICH
order by 3, 2`

// Stock gives what is left of deliveries and batches; with an id only of that one.
func (db *DB) Stock(r Reading, of uuid.UUID) (out []domain.Stock, err error) {
	err = db.read(r.Ctx, r.Farm, func(tx pgx.Tx) error {
		out, err = loadStock(r, tx, of)
		return err
	})
	return out, err
}

func loadStock(r Reading, tx pgx.Tx, of uuid.UUID) ([]domain.Stock, error) {
	sql, args := stockOfAll, []any{r.Farm}
	if of != uuid.Nil {
		sql, args = stockOfOne, []any{r.Farm, of}
	}
	rows, err := tx.Query(r.Ctx, sql, args...)
	if err != nil {
		return nil, err
	}
	return collectStock(rows)
}

func collectStock(rows pgx.Rows) ([]domain.Stock, error) {
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (s domain.Stock, err error) {
		var in, used []byte
		if err := row.Scan(&s.Kind, &s.ID, &s.Name, &in, &used); err != nil {
			return s, err
		}
		if in != nil {
			if err := json.Unmarshal(in, &s.In); err != nil {
				return s, err
			}
		}
		if err := json.Unmarshal(used, &s.Uses); err != nil {
			return s, err
		}
		s.Count()
		return s, nil
	})
}

// askStock asks about the stock of what an application used, behind the statements that write it down: the application has
// happened, so it is never refused for it. The questions are there after the next trip.
func (w *writing) askStock(a *domain.Application) (questions *[]string) {
	of := a.Source.InputLotID
	if of == uuid.Nil {
		of = a.Source.CompostBatchID
	}
	questions = new([]string)
	w.queue.Queue(stockOfOne, w.actor.FarmID, of).Query(func(rows pgx.Rows) error {
		stock, err := collectStock(rows)
		for _, s := range stock {
			if s.Question != "" {
				*questions = append(*questions, s.Question)
			}
		}
		return err
	})
	return questions
}
