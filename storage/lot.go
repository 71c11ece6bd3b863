package storage

import (
	"context"
	"encoding/json"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"croftmark/domain"
)

// Lot is a lot as it stands now: its record, what is judged of it now, and where its quantity is.
type Lot struct {
	Record
	Harvest     domain.HarvestLot
	Code        string
	Crop        domain.Crop
	Planting    domain.Planting
	BedNames    []string
	PlotName    string
	VerdictNow  domain.Judgement
	Held        bool
	HoldReasons []string
	HoldsTold   []HoldTold
	OnHand      domain.Quantity
	Disposed    domain.Quantity
	Packed      domain.Quantity
	Shipped     domain.Quantity
	Returned    domain.Quantity
	Status      string // organic, not-organic
	Farm        domain.Farm
}

const lotSQL = `
select l.id, l.code, l.judgement, l.disposed::text, l.packed::text, l.shipped::text, l.returned::text,
	` + organicSQL + `,
	p.body, c.body, f.body,
	(select array_agg(b.name order by b.name) from lot_beds lb join beds b on b.farm_id = $1 and b.id = lb.bed_id where lb.farm_id = $1 and lb.lot_id = l.id),
	(select pl.name from lot_beds lb join beds b on b.farm_id = $1 and b.id = lb.bed_id join plots pl on pl.farm_id = $1 and pl.id = b.plot_id
		where lb.farm_id = $1 and lb.lot_id = l.id order by pl.name limit 1),
	` + holdReasonsSQL + `
from lots l
join plantings pl on pl.farm_id = $1 and pl.id = l.planting_id
join records p on p.farm_id = $1 and p.id = pl.id
join records c on c.farm_id = $1 and c.id = pl.crop_id
join records f on f.farm_id = $1 and f.id = $1
where l.farm_id = $1 and l.code = $2`

// LotByCode finds a lot by the code on its label. The code must be in its canonical form (domain.ParseCode).
func (db *DB) LotByCode(r Reading, code string) (lot Lot, err error) {
	err = db.read(r.Ctx, r.Farm, func(tx pgx.Tx) error {
		lot, err = lotByCode(r.Ctx, tx, r.Farm, code)
		return err
	})
	return lot, err
}

func lotByCode(ctx context.Context, tx pgx.Tx, farm uuid.UUID, code string) (lot Lot, err error) {
	var id uuid.UUID
	var judgement, planting, crop, farmBody []byte
	var disposed, packed, shipped, returned string
	var organic bool
	err = tx.QueryRow(ctx, lotSQL, farm, code).Scan(&id, &lot.Code, &judgement, &disposed, &packed, &shipped, &returned, &organic, &planting, &crop, &farmBody,
		&lot.BedNames, &lot.PlotName, &lot.HoldReasons)
	if err == pgx.ErrNoRows {
		return lot, domain.NotFound("lot", code)
	}
	if err != nil {
		return lot, err
	}
	rows, err := tx.Query(ctx, `select `+recordColumns+recordSource+`where r.farm_id = $1 and r.id = $2`, farm, id)
	if err != nil {
		return lot, err
	}
	if lot.Record, err = pgx.CollectExactlyOneRow(rows, scanRecord); err != nil {
		return lot, err
	}
	for _, part := range []struct {
		raw  []byte
		into any
	}{{lot.Record.Body, &lot.Harvest}, {judgement, &lot.VerdictNow}, {planting, &lot.Planting}, {crop, &lot.Crop}, {farmBody, &lot.Farm}} {
		if err := json.Unmarshal(part.raw, part.into); err != nil {
			return lot, err
		}
	}
	if lot.HoldsTold, err = holdsOnLot(ctx, tx, farm, id); err != nil {
		return lot, err
	}
	lot.Status = statusWord(organic)
	unit, left := lot.Harvest.Quantity.Unit, lot.Harvest.Quantity.Value
	for _, part := range []struct {
		text string
		into *domain.Quantity
		sign int64
	}{{disposed, &lot.Disposed, -1}, {packed, &lot.Packed, -1}, {shipped, &lot.Shipped, -1}, {returned, &lot.Returned, 1}} {
		v, err := decimal.NewFromString(part.text)
		if err != nil {
			return lot, err
		}
		*part.into = domain.Quantity{Value: v, Unit: unit}
		left = left.Add(v.Mul(decimal.NewFromInt(part.sign)))
	}
	lot.OnHand = domain.Quantity{Value: left, Unit: unit}
	lot.Held = len(lot.HoldReasons) > 0 || lot.VerdictNow.Verdict.Refuses()
	return lot, nil
}

// LotState is what lists of lots show beside the record.
type LotState struct {
	Verdict domain.Verdict
	Held    bool
}

// LotStates gives the present verdict of lots by id.
func (db *DB) LotStates(r Reading, ids []uuid.UUID) (out map[uuid.UUID]LotState, err error) {
	out = map[uuid.UUID]LotState{}
	err = db.read(r.Ctx, r.Farm, func(tx pgx.Tx) error {
		rows, err := tx.Query(r.Ctx, `select l.id, l.verdict, `+onHoldSQL+`
			from lots l where l.farm_id = $1 and l.id = any($2)`, r.Farm, ids)
		if err != nil {
			return err
		}
		type state struct {
			ID      uuid.UUID
			Verdict string
			OnHold  bool
		}
		list, err := pgx.CollectRows(rows, pgx.RowToStructByPos[state])
		for _, s := range list {
			v := domain.Verdict(s.Verdict)
			out[s.ID] = LotState{Verdict: v, Held: s.OnHold || v.Refuses()}
		}
		return err
	})
	return out, err
}

// Pack is a pack lot as it stands now.
type Pack struct {
	Record
	Pack     domain.PackLot // its status as it is now
	Now      domain.Judgement
	Held     bool
	Holds    []string
	Told     []HoldTold // every hold that it, or a lot that went into it, has or had
	OnHand   domain.Quantity
	Shipped  domain.Quantity
	Returned domain.Quantity
	Disposed domain.Quantity
	Packed   domain.Quantity
	Farm     domain.Farm
	Crates   []CrateState
	// CutOn is the first day on which anything in it was cut.
	CutOn domain.Date
}

// CrateState says where a crate is: on the farm, or with the customer it last went to. Kept is what was decided about one that
// came back and is not for sale.
type CrateState struct {
	Number   int
	Customer string
	At       *time.Time
	Away     bool
	Kept     string
}

const packSQL = `
select l.id, l.judgement, f.body, (` + withParentsSQL + `
		select min(h.cut_from) from up join lots h on h.farm_id = $1 and h.id = up.id where h.kind = 'harvest-lot'), ` + leftSQL + `::text, l.shipped::text, l.returned::text, l.disposed::text, l.packed::text,
	` + holdReasonsSQL + `, ` + organicSQL + `
from lots l join records f on f.farm_id = $1 and f.id = $1
where l.farm_id = $1 and l.code = $2 and l.kind = 'pack-lot'`

// PackByCode finds a pack lot by the code on its label.
func (db *DB) PackByCode(r Reading, code string) (p Pack, err error) {
	err = db.read(r.Ctx, r.Farm, func(tx pgx.Tx) error {
		var id uuid.UUID
		var judgement, farm []byte
		var sums [5]string
		var organic bool
		err := tx.QueryRow(r.Ctx, packSQL, r.Farm, code).Scan(&id, &judgement, &farm, &p.CutOn, &sums[0], &sums[1], &sums[2], &sums[3], &sums[4], &p.Holds, &organic)
		if err == pgx.ErrNoRows {
			return domain.NotFound("lot", code)
		}
		if err != nil {
			return err
		}
		rows, err := tx.Query(r.Ctx, `select `+recordColumns+recordSource+`where r.farm_id = $1 and r.id = $2`, r.Farm, id)
		if err != nil {
			return err
		}
		if p.Record, err = pgx.CollectExactlyOneRow(rows, scanRecord); err != nil {
			return err
		}
		for _, part := range []struct {
			raw  []byte
			into any
		}{{p.Record.Body, &p.Pack}, {judgement, &p.Now}, {farm, &p.Farm}} {
			if err := json.Unmarshal(part.raw, part.into); err != nil {
				return err
			}
		}
		for i, into := range []*domain.Quantity{&p.OnHand, &p.Shipped, &p.Returned, &p.Disposed, &p.Packed} {
			*into = domain.Quantity{Value: decimal.RequireFromString(sums[i]), Unit: p.Pack.Quantity.Unit}
		}
		p.Pack.Status = statusWord(organic && p.Pack.Status == statusWord(true))
		if p.Told, err = holdsOnLot(r.Ctx, tx, r.Farm, id); err != nil {
			return err
		}
		p.Held = len(p.Holds) > 0 || p.Now.Verdict.Refuses()
		p.Crates, err = crateStates(r, tx, id, p.Pack.Crates)
		return err
	})
	return p, err
}

// crateStates finds where each crate of a lot is now.
func crateStates(r Reading, tx pgx.Tx, lot uuid.UUID, crates int) ([]CrateState, error) {
	rows, err := tx.Query(r.Ctx, `select n, coalesce(s.name, ''), s.at, coalesce(s.direction = 'out', false),
			coalesce((select b.decision from `+notForSaleSQL+` b where b.crate = n limit 1), '')
		from lots l cross join generate_series(1, $3) n left join lateral (
			select c.body ->> 'name' as name, m.at, m.direction from shipment_lines m join records c on c.farm_id = $1 and c.id = m.customer_id
			where m.farm_id = $1 and m.lot_id = $2 and m.crate = n order by m.at desc, m.record_id desc limit 1) s on true
		where l.farm_id = $1 and l.id = $2 order by n`, r.Farm, lot, crates)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowToStructByPos[CrateState])
}
