package storage

import (
	"encoding/json"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"croftmark/domain"
)

// stockLot is a lot as packing and shipping see it.
type stockLot struct {
	ID        uuid.UUID
	Kind      string
	Code      string
	Since     domain.Date // the first day of its cut, or the day it was packed
	Unit      domain.Unit
	Quantity  decimal.Decimal
	Free      decimal.Decimal // what may be packed or shipped: all that is left but what came back and is not for sale
	Verdict   domain.Verdict
	Judgement domain.Judgement
	Holds     []string
	Crates    int
	CrateNet  domain.Quantity
	Organic   bool
	Labelled  bool // packed as organic, which its labels say
}

// held reports that the lot must not be packed or shipped.
func (l *stockLot) held() bool { return l.Verdict.Refuses() || len(l.Holds) > 0 }

// organicSQL tells whether all that went into lot l is organic: every harvest lot, when all its plots were by its day. One lot that
// is corrected onto other ground takes it from all that was packed from it (7 CFR 205.272).
const organicSQL = `(` + withParentsSQL + `
	select coalesce(bool_and((select coalesce(bool_and(coalesce((p.body ->> 'organic_from')::date <= o.cut_from, false)), false) from lot_beds lb
		join beds b on b.farm_id = $1 and b.id = lb.bed_id join records p on p.farm_id = $1 and p.id = b.plot_id
		where lb.farm_id = $1 and lb.lot_id = o.id)), false)
	from up cross join lateral (select id, kind, cut_from from lots where farm_id = $1 and id = up.id offset 0) o where o.kind = 'harvest-lot')`

// stockLotsSQL reads lots by code. A pack lot that was packed as not organic stays so.
const stockLotsSQL = `
select l.id, l.kind, l.code, l.cut_from, l.unit, l.quantity::text, ` + freeSQL + `::text, l.verdict, l.judgement,
	` + holdReasonsSQL + `,
	coalesce((x.body ->> 'crates')::int, (x.body ->> 'containers')::int, 0), x.body -> 'crate_net',
	` + organicSQL + ` and (l.kind <> 'pack-lot' or x.body ->> 'status' = 'organic'), coalesce(x.body ->> 'status' = 'organic', false)
from lots l join records x on x.farm_id = $1 and x.id = l.id
where l.farm_id = $1 and l.code = any($2)`

// stockLots reads lots by their codes.
func (w *writing) stockLots(codes []string) (map[string]*stockLot, error) {
	rows, err := w.tx.Query(w.ctx, stockLotsSQL, w.actor.FarmID, codes)
	if err != nil {
		return nil, err
	}
	return collectLots(rows)
}

// collectLots reads rows of stockLotsSQL by code. Whether the farm answers to the organic rule is told by the lot's own
// plots: a farm that does not has no organic plots.
func collectLots(rows pgx.Rows) (map[string]*stockLot, error) {
	list, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (*stockLot, error) {
		l := &stockLot{}
		var quantity, free string
		var judgement, net []byte
		err := row.Scan(&l.ID, &l.Kind, &l.Code, &l.Since, &l.Unit, &quantity, &free, &l.Verdict, &judgement, &l.Holds, &l.Crates, &net, &l.Organic, &l.Labelled)
		if err != nil {
			return nil, err
		}
		l.Quantity, l.Free = decimal.RequireFromString(quantity), decimal.RequireFromString(free)
		if net != nil {
			if err := json.Unmarshal(net, &l.CrateNet); err != nil {
				return nil, err
			}
		}
		return l, json.Unmarshal(judgement, &l.Judgement)
	})
	if err != nil {
		return nil, err
	}
	out := map[string]*stockLot{}
	for _, l := range list {
		out[l.Code] = l
	}
	return out, nil
}

// heldError is the refusal of anything done with a held lot.
func heldError(l *stockLot, what string) *domain.Error {
	why := ""
	if len(l.Holds) > 0 {
		why = " On hold: " + l.Holds[0]
	} else if len(l.Judgement.Reasons) > 0 {
		why = " " + l.Judgement.Reasons[0].Text
	}
	return &domain.Error{Code: domain.CodeLotHeld, Title: "Lot " + l.Code + " is held",
		Detail: "A held lot is not " + what + "." + why, Judgement: &l.Judgement}
}

// recordPack makes a pack lot: nothing held goes in, statuses never merge, no more goes in than there is, and the sums tie.
func (w *writing) recordPack(p *domain.PackLot) (out Written, err error) {
	parents, err := w.packParents(p)
	if err != nil {
		return out, err
	}
	if err := p.Balance(w.packTolerance()); err != nil {
		return out, err
	}
	if err := p.CheckCrates(w.packTolerance()); err != nil {
		return out, err
	}
	if err := w.checkHabits(p); err != nil {
		return out, err
	}
	var water *domain.GroundFacts
	w.askGround(asked{beds: []uuid.UUID{}, lots: []uuid.UUID{p.ID}, first: w.today, last: w.today}, &water)
	var trained []domain.Trained
	day := domain.DateIn(p.PackedAt, w.zone)
	w.askTraining(day, p.Packers, p.DoneBy, &trained)
	if err := w.index().send(); err != nil {
		return out, err
	}
	if p.WaterSourceID != uuid.Nil {
		refs, err := w.refs(p.WaterSourceID)
		if err != nil {
			return out, err
		}
		if err := refuseHeld(refs, p.WaterSourceID, &p.Habits); err != nil {
			return out, err
		}
		if err := w.packWater(p, water); err != nil {
			return out, err
		}
	}
	var judgements []domain.Judgement
	for _, l := range parents {
		judgements = append(judgements, l.Judgement)
	}
	j := domain.JudgePack(water, p.ID, judgements)
	p.VerdictThen = &j
	if err := w.packCode(p); err != nil {
		return out, err
	}
	if out, err = w.newRecord(p); err != nil {
		return out, err
	}
	if err := w.flushRecords(); err != nil {
		return out, err
	}
	for _, r := range j.Reasons {
		if r.Verdict != domain.Clear {
			out.Warnings = append(out.Warnings, r.Text)
		}
	}
	out.Warnings = append(out.Warnings, w.trainingWarnings(nil, day, trained)...)
	return out, w.index().packLot(p, out.Seq)
}

// packWater judges the water of a run that is only now being written down.
func (w *writing) packWater(p *domain.PackLot, facts *domain.GroundFacts) error {
	source, err := w.waterFacts(p.WaterSourceID)
	if err != nil {
		return err
	}
	facts.Waters[p.WaterSourceID] = source
	facts.LotWater[p.ID] = []domain.WaterTouch{{Record: domain.RecordRef{Kind: "pack-lot", ID: p.ID}, SourceID: p.WaterSourceID, Tap: p.Tap, Tank: p.Tank,
		Use: domain.UseWashing, From: p.PackedAt, To: p.PackedAt}}
	return nil
}

// waterFacts loads what is known of a source inside a write.
func (w *writing) waterFacts(source uuid.UUID) (*domain.WaterFacts, error) {
	rows, err := w.tx.Query(w.ctx, `select r.kind, r.body from records r where r.farm_id = $1 and not r.voided and (r.id = $2
		or r.id in (select record_id from water_events where farm_id = $1 and source_id = $2 and kind <> 'water-inspection'))`, w.actor.FarmID, source)
	if err != nil {
		return nil, err
	}
	type part struct {
		Kind string
		Body []byte
	}
	parts, err := pgx.CollectRows(rows, pgx.RowToStructByPos[part])
	if err != nil {
		return nil, err
	}
	waters := map[uuid.UUID]*domain.WaterFacts{}
	for _, p := range parts {
		if err := addWater(waters, w.farm, waterRow{source, p.Kind, p.Body}); err != nil {
			return nil, err
		}
	}
	if waters[source] == nil {
		var p domain.Problems
		p.Add("/water_source_id", "There is no water source with the id %s in this farm's book.", source)
		return nil, p.Err()
	}
	return waters[source], nil
}

func (w *writing) packTolerance() int {
	if w.farm.PackTolerancePct != nil {
		return *w.farm.PackTolerancePct
	}
	return domain.DefaultPackTolerance
}

// packParents checks every lot that goes in.
func (w *writing) packParents(p *domain.PackLot) ([]*stockLot, error) {
	codes := make([]string, len(p.From))
	for i := range p.From {
		code, err := domain.ParseCode(p.From[i].Lot)
		if err != nil {
			return nil, err
		}
		codes[i], p.From[i].Lot = code.Lot, code.Lot
	}
	lots, err := w.stockLots(codes)
	if err != nil {
		return nil, err
	}
	var problems domain.Problems
	var parents []*stockLot
	for i, code := range codes {
		at := "/from/" + itoa(i)
		l := lots[code]
		if l == nil {
			problems.Add(at+"/lot", "There is no lot %s in this farm's book.", code)
			continue
		}
		if l.held() {
			return nil, heldError(l, "packed")
		}
		q, err := p.From[i].Quantity.In(l.Unit)
		problems.Check(err == nil, at+"/quantity/unit", "Lot %s is counted in %s.", code, l.Unit)
		l.checkSince(&problems, "/packed_at", "packed", domain.DateIn(p.PackedAt, w.zone))
		problems.Check(!q.GreaterThan(l.Free), at+"/quantity", "Only %s %s of lot %s are left.", l.Free, l.Unit, code)
		p.From[i].LotID, p.From[i].Taken = l.ID, domain.Quantity{Value: q, Unit: l.Unit}
		parents = append(parents, l)
	}
	if err := problems.Err(); err != nil {
		return nil, err
	}
	p.Status = statusWord(parents[0].Organic)
	for _, l := range parents {
		if l.Organic != parents[0].Organic {
			return nil, domain.Refuse(domain.CodeRuleRefused, "Organic and other lots never merge",
				"Lot %s is %s and lot %s is %s (7 CFR 205.272). Pack them apart.", parents[0].Code, statusWord(parents[0].Organic), l.Code, statusWord(l.Organic))
		}
	}
	return parents, nil
}

func statusWord(organic bool) string {
	if organic {
		return "organic"
	}
	return "not-organic"
}

// packCode gives the lot and its crates their codes.
func (w *writing) packCode(p *domain.PackLot) error {
	day := domain.DateIn(p.PackedAt, w.zone)
	stem := codeStem(domain.PackLotCode(day, p.Product, 1))
	var last int
	if err := w.tx.QueryRow(w.ctx, lastCodeSQL, w.actor.FarmID, stem, stem+"~").Scan(&last); err != nil {
		return err
	}
	p.Code = domain.PackLotCode(day, p.Product, last+1)
	for n := 1; n <= p.Crates; n++ {
		p.CrateCodes = append(p.CrateCodes, domain.CrateCode(p.Code, n))
	}
	return nil
}

// packLot writes a pack lot, what went into it, and the water of the run.
func (x index) packLot(r *domain.PackLot, seq int64) error {
	judgement, err := json.Marshal(r.VerdictThen)
	if err != nil {
		return err
	}
	if err := x.exec(`insert into lots (farm_id, id, kind, code, cut_from, cut_to, unit, quantity, verdict, judgement, judged_seq)
		select $1, $2, 'pack-lot', $3, done_on, done_on, $4, $5, $6, $7::jsonb, $8 from records where farm_id = $1 and id = $2`,
		r.ID, r.Code, string(r.Quantity.Unit), r.Quantity.Value.String(), string(r.VerdictThen.Verdict), string(judgement), seq); err != nil {
		return err
	}
	if err := x.packEdges(r); err != nil {
		return err
	}
	if r.WaterSourceID == uuid.Nil {
		return nil
	}
	return x.exec(`insert into water_touches (farm_id, record_id, source_id, tap, use, from_at, to_at, lot_id) values ($1, $2, $3, $4, 'washing', $5, $5, $2)`,
		r.ID, r.WaterSourceID, r.Tap, r.PackedAt)
}

// packEdges notes what went in, in each parent's own unit, and counts it off there.
func (x index) packEdges(r *domain.PackLot) error {
	ids, amounts := make([]uuid.UUID, len(r.From)), make([]string, len(r.From))
	for i, f := range r.From {
		ids[i], amounts[i] = f.LotID, f.Taken.Value.String()
	}
	return x.exec(`with went as (select * from unnest($3::uuid[], $4::numeric[]) as w (id, quantity)),
		e as (insert into lot_edges (farm_id, child_id, parent_id, quantity) select $1, $2, id, quantity from went)
		update lots set packed = packed + went.quantity from went where lots.farm_id = $1 and lots.id = went.id`, r.ID, ids, amounts)
}
