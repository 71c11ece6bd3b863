package storage

import (
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"croftmark/domain"
)

// contactDays is how far apart two lots may have used a tank, table or crate and still be possible contact when no clean lies
// between on record. Cleaning what touches food at least once on each day of use is common practice; a week leaves room for
// cleans that nobody wrote down, and is our choice.
const contactDays = 7

// Who used which tank or line when, and when it was cleaned: by a handling for cleaning, or by an entry of the cleaning sheet
// that names the place, the hour, and that it looked clean. A crate that lost its label is a place of its own: it may hold any
// of the lots that it was put down to. What limits each part is added to it. A pack run brings its code and product along,
// because there may be a thousand; the others are few and looked up at the end.
const (
	tankUses = `
	select t.lot_id, lower(h.body ->> 'tank') as place, 'shared ' || (h.body ->> 'tank') as how, t.from_at as at, t.use = 'cleaning' as clean,
		null as code, null as product from water_touches t
		join records h on h.farm_id = $1 and h.id = t.record_id where t.farm_id = $1 and t.lot_id is not null and h.kind = 'handling' and h.body ? 'tank'`
	packUses = `
	select l.id, lower(x.body ->> w.name), 'shared ' || (x.body ->> w.name), (x.body ->> 'packed_at')::timestamptz, false, l.code, x.body ->> 'product'
		from lots l join records x on x.farm_id = $1 and x.id = l.id
		cross join (values ('tank'), ('line')) as w (name) where l.farm_id = $1 and l.kind = 'pack-lot' and x.body ? w.name`
	lostCrateUses = `
	select (c ->> 'lot_id')::uuid, 'lost label ' || x.id, 'may be in a crate that lost its label', x.done_on::timestamptz, false, null, null
		from records x, jsonb_array_elements(x.body -> 'lots') c where x.farm_id = $1 and x.kind = 'lost-label' and not x.voided`
	logCleans = `
	select null::uuid, m.place, '', m.at, true, null, null from log_marks m join records x on x.farm_id = $1 and x.id = m.record_id
		where m.farm_id = $1 and m.sheet = 'cleaning' and m.place is not null and x.body #>> '{values,checked}' = 'yes'`
)

const possibleContactSQL = `
with lost as materialized (` + lostCrateUses + `
), mine as materialized (
	select * from (` + tankUses + ` and t.lot_id = any($2) union all ` + packUses + ` and l.id = any($2)
		union all select * from lost as l (lot_id) where lot_id = any($2)) as u where not clean
), span as materialized (
	select min(at) - make_interval(days => $3) as first, max(at) + make_interval(days => $3) as last from mine
), near as materialized (` + tankUses + ` and t.from_at between (select first from span) and (select last from span)
	union all ` + packUses + ` and l.cut_from between (select first::date - 1 from span) and (select last::date + 1 from span)
	union all ` + logCleans + ` and m.place = any(array(select place from mine)) and m.at between (select first from span) and (select last from span)
	union all select * from lost
), went as materialized (
	select e.parent_id as lot_id, min(c.code) as into_lot from lot_edges e join lots c on c.farm_id = $1 and c.id = e.child_id
	where e.farm_id = $1 and e.child_id = any($2) group by e.parent_id
), found as materialized (
	select distinct on (o.lot_id) o.lot_id, o.code, o.product, o.how, o.at, o.place like 'lost label %' as lost
	from mine s join near o on o.place = s.place and not o.clean and o.at between s.at - make_interval(days => $3) and s.at + make_interval(days => $3)
	where not o.lot_id = any($2) and not exists (select from near c where c.clean and c.place = s.place and c.at between least(s.at, o.at) and greatest(s.at, o.at))
	order by o.lot_id, o.at
)
select f.lot_id, coalesce(f.code, (select l.code from lots l where l.farm_id = $1 and l.id = f.lot_id)) as code,
	coalesce(f.product, (select coalesce(x.body ->> 'product', c.body ->> 'name') from lots l join records x on x.farm_id = $1 and x.id = l.id
		left join plantings p on p.farm_id = $1 and p.id = l.planting_id left join records c on c.farm_id = $1 and c.id = p.crop_id
		where l.farm_id = $1 and l.id = f.lot_id), ''), f.how, f.at, f.lost, coalesce(w.into_lot, '')
from found f left join went w on w.lot_id = f.lot_id
order by f.at, code`

// contact is a lot that may have touched one of the scope, and how.
type contact struct {
	Lot        uuid.UUID
	Code, Name string
	How        string
	At         time.Time
	Lost       bool   // in a crate without a label
	Into       string // the lot of the scope that some of it went into
}

// said tells in words how a lot may have touched one of the scope.
func (c contact) said(zone *time.Location) string {
	how := c.How
	if !c.Lost {
		how += " on " + domain.DateIn(c.At, zone).String() + ", with no clean between on record"
	}
	if c.Into != "" {
		how = "some of it went into lot " + c.Into + "; " + how
	}
	return how
}

// contacts finds lots outside the scope that used the same tank or line before the next clean, or that may be in the
// same crate without a label, the first use first. They are listed apart, and pulled by nobody: whether it mattered is for
// a person to say.
func contacts(r Reading, tx pgx.Tx, scope []uuid.UUID) ([]domain.TraceContact, error) {
	rows, err := tx.Query(r.Ctx, possibleContactSQL, r.Farm, scope, contactDays)
	if err != nil {
		return nil, err
	}
	found, err := pgx.CollectRows(rows, pgx.RowToStructByPos[contact])
	if err != nil || len(found) == 0 {
		return nil, err
	}
	zone, err := farmZone(r, tx)
	if err != nil {
		return nil, err
	}
	list := make([]domain.TraceContact, len(found))
	for i, c := range found {
		list[i] = domain.TraceContact{LotID: c.Lot, Lot: c.Code, What: c.Name, How: c.said(zone)}
	}
	return list, nil
}

// possibleContact gives the lots of possible contact with where their quantity is.
func possibleContact(r Reading, tx pgx.Tx, scope []uuid.UUID) ([]domain.RecallLot, error) {
	found, err := contacts(r, tx, scope)
	if err != nil || len(found) == 0 {
		return nil, err
	}
	ids, how := make([]uuid.UUID, len(found)), map[uuid.UUID]string{}
	for i, c := range found {
		ids[i], how[c.LotID] = c.LotID, c.How
	}
	lots, err := recallLots(r, tx, ids, ids)
	for i := range lots {
		lots[i].How = how[lots[i].ID]
	}
	return lots, err
}

// traceContact lists possible contact of the lots of a trace apart from its chain.
func traceContact(r Reading, tx pgx.Tx, t *domain.Trace, lots []uuid.UUID) (err error) {
	t.Possible, err = contacts(r, tx, lots)
	return err
}
