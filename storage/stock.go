package storage

import (
	"encoding/json"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"croftmark/domain"
)

// stockSQL gathers what came in and what was used of deliveries and batches: of all of them, or of one.
const stockSQL = `
with delivery as materialized (
	select l.id, l.body, (l.body ->> 'input_id')::uuid as input_id from records l
	where l.farm_id = $1 and l.kind = 'input-lot' and not l.voided and ($2::uuid is null or l.id = $2)
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
select 'compost-batch', b.id, b.body ->> 'code',
	(select c.body -> 'yield' from compost_events v join records c on c.farm_id = $1 and c.id = v.record_id
		where v.farm_id = $1 and v.batch_id = b.id and v.kind = 'compost-curing' and c.body ? 'yield' order by c.first_seq desc limit 1),
	coalesce((select jsonb_agg(a.body -> 'amount') from records a where a.farm_id = $1 and a.id in (
		select e.record_id from exposures e where e.farm_id = $1 and e.compost_batch_id = b.id)), '[]')
from records b
where b.farm_id = $1 and b.kind = 'compost-batch' and not b.voided and ($2::uuid is null or b.id = $2)
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
	rows, err := tx.Query(r.Ctx, stockSQL, r.Farm, nullID(of))
	if err != nil {
		return nil, err
	}
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

// stockQuestions asks about the stock of what an application used, once it is written: the application has happened, so
// it is never refused for it.
func (w *writing) stockQuestions(a *domain.Application) (questions []string, err error) {
	of := a.Source.InputLotID
	if of == uuid.Nil {
		of = a.Source.CompostBatchID
	}
	stock, err := loadStock(Reading{w.ctx, w.actor.FarmID}, w.tx, of)
	for _, s := range stock {
		if s.Question != "" {
			questions = append(questions, s.Question)
		}
	}
	return questions, err
}
