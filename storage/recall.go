package storage

import (
	"cmp"
	"encoding/json"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"croftmark/domain"
)

// Recalled is a recall with everything that follows from it, as the book stands now.
type Recalled struct {
	Record
	Recall domain.Recall
	Farm   domain.Farm
	// StartName is what the thing it starts from is called; empty where the start names itself, and for a person, whom a paper
	// for others does not name.
	StartName  string
	Lots       []domain.RecallLot
	Recipients []domain.Recipient
	Balance    []domain.RecallBalance
	// Possible are lots that shared a tank, line or parent with the scope; they are not in it.
	Possible []domain.RecallLot
	Minutes  int
	Gaps     []string
}

// decideRecall gives a drill its random crate, and every recall its start.
func (w *writing) decideRecall(r *domain.Recall) error {
	if r.StartedAt.IsZero() {
		r.StartedAt = w.now
	}
	if !r.RandomCrate {
		return nil
	}
	var code string
	var crate int
	err := w.tx.QueryRow(w.ctx, `select l.code, s.crate from shipment_lines s join lots l on l.farm_id = $1 and l.id = s.lot_id
		where s.farm_id = $1 and s.direction = 'out' order by random() limit 1`, w.actor.FarmID).Scan(&code, &crate)
	if err == pgx.ErrNoRows {
		return domain.Refuse(domain.CodeInvalid, "Nothing to draw from", "Nothing has left the farm yet; start the drill from a lot.")
	}
	if err != nil {
		return err
	}
	r.Start = domain.TraceStart{Lot: code}
	if crate > 0 {
		r.Start = domain.TraceStart{Crate: domain.CrateCode(code, crate)}
	}
	return nil
}

// Recall works a recall out.
func (db *DB) Recall(r Reading, id uuid.UUID) (out Recalled, err error) {
	err = db.read(r.Ctx, r.Farm, func(tx pgx.Tx) error {
		rows, err := tx.Query(r.Ctx, `select `+recordColumns+recordSource+`where r.farm_id = $1 and r.id in ($1, $2) order by r.kind`, r.Farm, id)
		if err != nil {
			return err
		}
		found, err := pgx.CollectRows(rows, scanRecord)
		if err != nil {
			return err
		}
		if len(found) != 2 || found[1].Kind != "recall" {
			return domain.NotFound("recall", id.String())
		}
		out.Record = found[1]
		if err := json.Unmarshal(found[0].Body, &out.Farm); err != nil {
			return err
		}
		if err := json.Unmarshal(found[1].Body, &out.Recall); err != nil {
			return err
		}
		return out.work(r, tx)
	})
	end := out.Recall.FinishedAt
	if end.IsZero() {
		end = db.instant()
	}
	out.Minutes = int(end.Sub(out.Recall.StartedAt) / time.Minute)
	return out, err
}

func (o *Recalled) work(r Reading, tx pgx.Tx) error {
	start, err := startLots(r, tx, o.Recall.Start)
	if err != nil {
		return err
	}
	if o.StartName, err = startName(r, tx, o.Recall.Start); err != nil {
		return err
	}
	scope, _, err := chain(r, tx, start, false)
	if err != nil {
		return err
	}
	ids := make([]uuid.UUID, len(scope))
	for i, l := range scope {
		ids[i] = l.ID
	}
	if o.Lots, err = recallLots(r, tx, ids, ids); err != nil {
		return err
	}
	o.Balance = domain.Balances(o.Lots)
	if o.Recipients, err = recipients(r, tx, ids, o.Recall.Reached); err != nil {
		return err
	}
	o.nameWhatTheyGot()
	if o.Possible, err = possibleContact(r, tx, ids); err != nil {
		return err
	}
	if o.Gaps, err = lostCrates(r, tx, ids); err != nil {
		return err
	}
	for _, l := range o.Lots {
		if gap := l.PackingGap(); gap != "" {
			o.Gaps = append(o.Gaps, gap)
		}
		if !l.Held && l.OnHand.Value.Sign() > 0 && !o.Recall.Drill {
			o.Gaps = append(o.Gaps, fmt.Sprintf("%s of lot %s are still on the farm and not on hold.", l.OnHand, l.Code))
		}
	}
	for _, p := range o.Recipients {
		if !p.Delivered() {
			o.Gaps = append(o.Gaps, p.Name+" sent some of it back, and no delivery to them is on record.")
		}
		if p.Phone == "" && p.Email == "" {
			o.Gaps = append(o.Gaps, "There is no phone number or address for "+p.Name+".")
		}
	}
	if len(o.Lots) == 0 {
		o.Gaps = append(o.Gaps, "No lot in the book fits this start.")
	}
	return nil
}

// startName gives what the thing that a start names by its id is called. A person is left out (S36: private).
func startName(r Reading, tx pgx.Tx, s domain.TraceStart) (name string, err error) {
	id := cmp.Or(s.CustomerID, s.InputLotID, s.InputID, s.CompostBatchID, s.WaterSourceID, s.BedID)
	if id == uuid.Nil {
		return "", nil
	}
	err = tx.QueryRow(r.Ctx, `select coalesce(x.body ->> 'name', x.body ->> 'code',
			concat_ws(', ', i.body ->> 'name', 'lot ' || (x.body ->> 'supplier_lot'), x.body ->> 'supplier'))
		from records x left join records i on i.farm_id = $1 and x.kind = 'input-lot' and i.id = (x.body ->> 'input_id')::uuid
		where x.farm_id = $1 and x.id = $2`, r.Farm, id).Scan(&name)
	if err == pgx.ErrNoRows {
		return "", nil
	}
	return name, err
}

// nameWhatTheyGot writes the product beside each lot code: who reads the letter knows no codes.
func (o *Recalled) nameWhatTheyGot() {
	names := map[string]string{}
	for _, l := range o.Lots {
		names[l.Code] = l.Name
	}
	for i := range o.Recipients {
		for k := range o.Recipients[i].Got {
			g := &o.Recipients[i].Got[k]
			g.What = names[g.LotCode]
		}
	}
}

const recallLotsSQL = `
select l.id, l.kind, l.code, coalesce(x.body ->> 'product', c.body ->> 'name', ''), l.cut_from, l.unit, l.quantity::text,
	` + leftSQL + `::text, l.shipped::text, l.returned::text, l.disposed::text,
	l.verdict in ('wait', 'ask', 'stop') or ` + onHoldSQL + `,
	x.body -> 'culls',
	(select jsonb_agg(jsonb_build_object('taken', jsonb_build_object('value', e.quantity::text, 'unit', p.unit), 'outside', not e.parent_id = any($3)))
		from lot_edges e join lots p on p.farm_id = $1 and p.id = e.parent_id where e.farm_id = $1 and e.child_id = l.id),
	not exists (select from lot_edges e where e.farm_id = $1 and e.child_id = l.id)
from lots l join records x on x.farm_id = $1 and x.id = l.id
left join plantings p on p.farm_id = $1 and p.id = l.planting_id left join records c on c.farm_id = $1 and c.id = p.crop_id
where l.farm_id = $1 and l.id = any($2)
order by l.cut_from, l.code`

// recallLots reads lots with where their quantity is; scope tells which parents are inside.
func recallLots(r Reading, tx pgx.Tx, ids, scope []uuid.UUID) ([]domain.RecallLot, error) {
	rows, err := tx.Query(r.Ctx, recallLotsSQL, r.Farm, ids, scope)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (l domain.RecallLot, err error) {
		var unit domain.Unit
		var sums [5]string
		var culls, added []byte
		if err := row.Scan(&l.ID, &l.Kind, &l.Code, &l.Name, &l.On, &unit, &sums[0], &sums[1], &sums[2], &sums[3], &sums[4], &l.Held, &culls, &added, &l.Root); err != nil {
			return l, err
		}
		for i, into := range []*domain.Quantity{&l.Quantity, &l.OnHand, &l.Shipped, &l.Returned, &l.Disposed} {
			*into = domain.Quantity{Value: decimal.RequireFromString(sums[i]), Unit: unit}
		}
		if culls != nil {
			if err := json.Unmarshal(culls, &l.Culls); err != nil {
				return l, err
			}
		}
		parts, err := list[wentIn](added)
		if err != nil || len(parts) == 0 {
			return l, err
		}
		return l, fillWentIn(&l, parts)
	})
}

// wentIn is a part of a pack lot: how much of a parent went in, and whether that parent is outside the scope.
type wentIn struct {
	Taken   domain.Quantity `json:"taken"`
	Outside bool            `json:"outside"`
}

// fillWentIn adds up what went into a pack lot, in its own unit, and finds what of it did not come out.
func fillWentIn(l *domain.RecallLot, parts []wentIn) error {
	unit := l.Quantity.Unit
	in, outside := decimal.Zero, decimal.Zero
	for _, part := range parts {
		v, err := part.Taken.In(unit)
		if err != nil {
			return err
		}
		in = in.Add(v)
		if part.Outside {
			outside = outside.Add(v)
		}
	}
	out := l.Quantity.Value
	if !l.Culls.IsZero() {
		culls, err := l.Culls.In(unit)
		if err != nil {
			return err
		}
		out = out.Add(culls)
	}
	if outside.Sign() > 0 {
		l.Added = domain.Quantity{Value: outside, Unit: unit}
	}
	l.WentIn = domain.Quantity{Value: in, Unit: unit}
	l.Difference = domain.Quantity{Value: domain.RoundRest(in.Sub(out)), Unit: unit}
	return nil
}

func recipients(r Reading, tx pgx.Tx, lots []uuid.UUID, reached []domain.Contacted) ([]domain.Recipient, error) {
	rows, err := tx.Query(r.Ctx, `select c.id, c.body, l.code, s.reference, s.at, s.direction = 'back', l.unit,
			coalesce(array_agg(s.crate order by s.crate) filter (where s.crate > 0), '{}'), sum(s.quantity)::text
		from shipment_lines s join lots l on l.farm_id = $1 and l.id = s.lot_id join records c on c.farm_id = $1 and c.id = s.customer_id
		where s.farm_id = $1 and s.lot_id = any($2)
		group by c.id, c.body, l.code, s.reference, s.at, s.direction, l.unit, s.record_id order by c.id, s.at, l.code`, r.Farm, lots)
	if err != nil {
		return nil, err
	}
	type line struct {
		Customer  uuid.UUID
		Body      []byte
		Code      string
		Reference string
		At        time.Time
		Back      bool
		Unit      domain.Unit
		Crates    []int
		Quantity  string
	}
	lines, err := pgx.CollectRows(rows, pgx.RowToStructByPos[line])
	if err != nil {
		return nil, err
	}
	var out []domain.Recipient
	for _, l := range lines {
		if n := len(out); n == 0 || out[n-1].CustomerID != l.Customer {
			var c domain.Customer
			if err := json.Unmarshal(l.Body, &c); err != nil {
				return nil, err
			}
			out = append(out, domain.Recipient{CustomerID: l.Customer, Name: c.Name, Is: c.Is, Contact: c.Contact, Phone: c.Phone, Email: c.Email})
		}
		to := &out[len(out)-1]
		to.Got = append(to.Got, domain.Got{LotCode: l.Code, Crates: l.Crates, Reference: l.Reference, At: l.At, Back: l.Back,
			Quantity: domain.Quantity{Value: decimal.RequireFromString(l.Quantity), Unit: l.Unit}})
	}
	for i := range out {
		for _, c := range reached {
			if c.CustomerID == out[i].CustomerID {
				out[i].Reached = &c
			}
		}
	}
	return out, nil
}
