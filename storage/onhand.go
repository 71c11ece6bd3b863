package storage

import (
	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"croftmark/domain"
)

// leftSQL is what is still on the farm of lot l, in the lot's own unit.
const leftSQL = `(l.quantity - l.packed - l.shipped + l.returned - l.disposed)`

// LotOnHand is a lot of which something is still on the farm, as it is picked for packing and loading.
type LotOnHand struct {
	ID       uuid.UUID
	Kind     string // harvest-lot, pack-lot
	Code     string
	Name     string // the crop, or what the pack lot is called
	CutFrom  domain.Date
	OnHand   domain.Quantity // what may be packed or shipped
	KeptBack domain.Quantity // what came back and is not for sale
	Verdict  domain.Verdict
	Held     bool // so is a lot of which all that is left is kept back
	CrateNet domain.Quantity
	Crates   []int // numbers of the crates that have not left, or have come back for sale
}

// onHandDays is how far back lots are looked for. What keeps longest, from one autumn into the next, is within it.
const onHandDays = 400

const onHandSQL = `
select l.id, l.kind, l.code, coalesce(c.body ->> 'name', x.body ->> 'product', ''), l.cut_from, l.unit,
	` + freeSQL + `::text, ` + keptBackSQL + `::text, l.verdict,
	` + onHoldSQL + `,
	coalesce(x.body #>> '{crate_net,value}', ''), coalesce(x.body #>> '{crate_net,unit}', ''),
	array(select n from generate_series(1, coalesce((x.body ->> 'crates')::int, (x.body ->> 'containers')::int, 0)) n
		where coalesce((select s.direction from shipment_lines s where s.farm_id = $1 and s.lot_id = l.id and s.crate = n
			order by s.at desc, s.record_id desc limit 1), 'back') = 'back'
			and not exists (select from ` + notForSaleSQL + ` b where b.crate = n) order by n)
from lots l
join records x on x.farm_id = $1 and x.id = l.id
left join plantings p on p.farm_id = $1 and p.id = l.planting_id
left join records c on c.farm_id = $1 and c.id = p.crop_id
where l.farm_id = $1 and l.cut_from >= $2 and ` + leftSQL + ` > 0 and not x.voided
order by l.cut_from desc, l.id desc limit 500`

// LotsOnHand lists lots of which something is left, newest first, at most 500. It looks back from a day.
func (db *DB) LotsOnHand(r Reading, on domain.Date) (out []LotOnHand, err error) {
	err = db.read(r.Ctx, r.Farm, func(tx pgx.Tx) error {
		rows, err := tx.Query(r.Ctx, onHandSQL, r.Farm, on.AddDays(-onHandDays))
		if err != nil {
			return err
		}
		out, err = pgx.CollectRows(rows, func(row pgx.CollectableRow) (l LotOnHand, err error) {
			var unit, free, kept, net, netUnit string
			err = row.Scan(&l.ID, &l.Kind, &l.Code, &l.Name, &l.CutFrom, &unit, &free, &kept, &l.Verdict, &l.Held, &net, &netUnit, &l.Crates)
			if err != nil {
				return l, err
			}
			l.CrateNet.Unit = domain.Unit(netUnit)
			if l.OnHand, err = quantityOf(free, domain.Unit(unit)); err != nil {
				return l, err
			}
			if l.KeptBack, err = quantityOf(kept, domain.Unit(unit)); err != nil || l.KeptBack.Value.IsZero() {
				l.KeptBack = domain.Quantity{}
			}
			l.Held = l.Held || l.Verdict.Refuses() || l.OnHand.Value.Sign() <= 0
			if err != nil || net == "" {
				return l, err
			}
			l.CrateNet.Value, err = decimal.NewFromString(net)
			return l, err
		})
		return err
	})
	return out, err
}
