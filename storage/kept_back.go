package storage

import (
	"fmt"
	"slices"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"croftmark/domain"
)

// cameBackSQL is what came back of lot l, without the crates that have left again since.
const cameBackSQL = `select s.crate, s.quantity, r.id as return_id, r.first_seq as seq, r.done_on, r.body ->> 'decision' as decision,
		coalesce((r.body ->> 'opened')::bool, false) as opened
	from (select record_id, crate, quantity from shipment_lines where farm_id = $1 and lot_id = l.id and direction = 'back' offset 0) s
	cross join lateral (select id, first_seq, done_on, body from records where farm_id = $1 and id = s.record_id offset 0) r
	where s.crate = 0 or not exists (
		select from (select record_id from shipment_lines where farm_id = $1 and lot_id = l.id and crate = s.crate offset 0) o
		cross join lateral (select first_seq from records where farm_id = $1 and id = o.record_id offset 0) q where q.first_seq > r.first_seq)`

// notForSaleSQL is the part of it that is to be composted or fed, or that waits for a decision.
const notForSaleSQL = `(select * from (` + cameBackSQL + `) b where b.decision not in ('stock', 'donate'))`

// keptBackSQL is how much of lot l came back, is not for sale and is still on the farm. What was disposed of afterwards is taken
// from it first: the largest sum of what came back less what was disposed of, from any entry of the book to the last.
const keptBackSQL = `least(greatest(` + leftSQL + `, 0), case when l.returned = 0 then 0 else (
	select coalesce(greatest(max(k.kept), 0), 0) from (select sum(e.quantity) over (order by e.seq desc) as kept from (
		select seq, quantity from ` + notForSaleSQL + ` n
		union all select q.first_seq, -d.quantity from disposals d
			cross join lateral (select first_seq from records where farm_id = $1 and id = d.record_id offset 0) q
			where d.farm_id = $1 and d.lot_id = l.id) e) k) end)`

// freeSQL is what of lot l may be packed or shipped.
const freeSQL = `(` + leftSQL + ` - ` + keptBackSQL + `)`

// cameBack is a crate or quantity that came back, with what was decided about it.
type cameBack struct {
	Lot      uuid.UUID
	Crate    int
	ReturnID uuid.UUID
	On       domain.Date
	Decision string
	Opened   bool
}

// forSale reports that it may be sold again, or given away.
func (b cameBack) forSale() bool { return b.Decision == "stock" || b.Decision == "donate" }

// handled reports that customers had their hands on it, or that it came back to be given away.
func (b cameBack) handled() bool { return b.Opened || b.Decision == "donate" }

// refuseKeptBack stands in the way of a crate that came back and is not for sale. What came back without a crate is kept back
// by its quantity.
func refuseKeptBack(m *movement, back []cameBack) error {
	i := slices.IndexFunc(back, func(b cameBack) bool { return m.crate > 0 && !b.forSale() })
	if i < 0 {
		return nil
	}
	b, crate := back[i], domain.CrateCode(m.lot.Code, m.crate)
	if b.Decision == "hold" {
		return domain.Refuse(domain.CodeLotHeld, "Crate "+crate+" waits for a decision",
			"It came back on %s and was put on hold (return %s). A lead decides: void that return and write it anew with the decision, or write down its disposal.", b.On, b.ReturnID)
	}
	return domain.Refuse(domain.CodeLotHeld, "Crate "+crate+" is not for sale",
		"It came back on %s and was set down for %s (return %s). If that was wrong, a lead voids that return and writes it anew.", b.On, kindWords(b.Decision), b.ReturnID)
}

// cameBackOf finds what came back of the lots of some movements, by lot and crate; crate 0 is what came back without one.
func (w *writing) cameBackOf(moves []movement) (map[crateKey][]cameBack, error) {
	rows, err := w.tx.Query(w.ctx, `select l.id, b.crate, b.return_id, b.done_on, b.decision, b.opened from lots l cross join lateral (`+cameBackSQL+`) b
		where l.farm_id = $1 and l.id = any($2) order by b.seq`, w.actor.FarmID, lotsOf(moves))
	if err != nil {
		return nil, err
	}
	list, err := pgx.CollectRows(rows, pgx.RowToStructByPos[cameBack])
	out := map[crateKey][]cameBack{}
	for _, b := range list {
		key := crateKey{b.Lot, b.Crate}
		out[key] = append(out[key], b)
	}
	return out, err
}

// kitchens are the kinds of customer that must not get what other customers have handled (record forms, S25).
var kitchens = []string{"restaurant", "grocer", "wholesale", "school"}

// handledWarnings speaks up when goods that customers handled go to a kitchen or grocer.
func handledWarnings(to *domain.Customer, moves []movement, back map[crateKey][]cameBack) (out []string) {
	if !slices.Contains(kitchens, to.Is) {
		return nil
	}
	for _, m := range moves {
		i := slices.IndexFunc(back[crateKey{m.lot.ID, m.crate}], cameBack.handled)
		if i < 0 {
			continue
		}
		what := "Some of lot " + m.lot.Code
		if m.crate > 0 {
			what = "Crate " + domain.CrateCode(m.lot.Code, m.crate)
		}
		out = append(out, fmt.Sprintf("%s came back on %s, opened by customers or to be given away. Do not sell it on to kitchens, grocers, wholesale or schools.",
			what, back[crateKey{m.lot.ID, m.crate}][i].On))
	}
	return out
}
