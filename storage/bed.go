package storage

import (
	"encoding/json"
	"slices"
	"strconv"
	"strings"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"croftmark/domain"
)

func (x index) plot(r *domain.Plot) error {
	return x.exec(`insert into plots (farm_id, id, name) values ($1, $2, $3)
		on conflict (farm_id, id) do update set name = excluded.name`, r.ID, r.Name)
}

// bed writes a bed laid on ground without older beds, or its corrected name.
func (x index) bed(r *domain.Bed) error {
	return x.exec(`with b as (
			insert into beds (farm_id, id, plot_id, name, valid_from) values ($1, $2, $3, $4, $5)
			on conflict (farm_id, id) do update set name = excluded.name, valid_from = excluded.valid_from)
		insert into bed_grounds (farm_id, bed_id, ground_bed_id) values ($1, $2, $2) on conflict do nothing`,
		r.ID, r.PlotID, r.Name, r.From)
}

// bedLayout ends the retired names and lays the new beds with all the ground under them.
func (x index) bedLayout(r *domain.BedLayout, seq int64) error {
	if len(r.Retire) > 0 {
		err := x.exec(`with b as (update beds set valid_to = $3 where farm_id = $1 and id = any($2))
			update records set body = jsonb_set(body, '{to}', to_jsonb($4::text)), seq = $5 where farm_id = $1 and id = any($2)`,
			r.Retire, r.On, r.On.String(), seq)
		if err != nil {
			return err
		}
	}
	var beds []Record
	var ids, bedIDs, overIDs []uuid.UUID
	var names []string
	for _, b := range r.Lay {
		bed := domain.Bed{ID: b.ID, Name: b.Name, PlotID: r.PlotID, From: r.On, Length: b.Length, Width: b.Width, Over: b.Over}
		body, err := json.Marshal(&bed)
		if err != nil {
			return err
		}
		beds = append(beds, Record{ID: b.ID, Kind: "bed", FirstSeq: seq, Seq: seq, DoneOn: r.On, Body: body, Reviews: noReviews})
		ids, names = append(ids, b.ID), append(names, b.Name)
		for _, o := range b.Over {
			bedIDs, overIDs = append(bedIDs, b.ID), append(overIDs, o)
		}
	}
	if err := x.insertRecords(beds); err != nil {
		return err
	}
	if err := x.exec(`insert into beds (farm_id, id, plot_id, name, valid_from)
		select $1, b.id, $2, b.name, $3 from unnest($4::uuid[], $5::text[]) as b (id, name)`, r.PlotID, r.On, ids, names); err != nil {
		return err
	}
	// The old beds' own ground is already complete, so one step gives all that lies below.
	if err := x.exec(`insert into bed_grounds (farm_id, bed_id, ground_bed_id, direct)
		select $1, b, b, false from unnest($2::uuid[]) as b
		union
		select $1, o.bed_id, g.ground_bed_id, bool_or(g.ground_bed_id = o.over_id)
		from unnest($3::uuid[], $4::uuid[]) as o (bed_id, over_id)
		join bed_grounds g on g.farm_id = $1 and g.bed_id = o.over_id
		group by o.bed_id, g.ground_bed_id`, ids, bedIDs, overIDs); err != nil {
		return err
	}
	return x.exec(productionSQL, seq, uuid.Nil, uuid.Nil, ids)
}

// bedProduction notes a pause and says on the bed's record whether it is in production by the latest decision.
func (x index) bedProduction(r *domain.BedProduction, seq int64) error {
	if err := x.exec(`insert into bed_pauses (farm_id, record_id, bed_id, on_date, in_production, reason) values ($1, $2, $3, $4, $5, $6)
		on conflict (farm_id, record_id) do update set on_date = excluded.on_date, in_production = excluded.in_production, reason = excluded.reason`,
		r.ID, r.BedID, r.On, r.InProduction, r.Reason); err != nil {
		return err
	}
	return x.inProduction(r.ID, seq, uuid.Nil)
}

// productionSQL says on beds what the latest decisions about their ground say, leaving one decision ($3) out that is
// going to be void; nothing where there is none. A bed is out while the latest word about it, or about older ground under
// it, says so and no later word about the bed itself takes it back in (addPause counts the same way). The beds are $5, and
// those on the ground of the decision $4.
const productionSQL = `
with bed as (
	select g.bed_id from bed_pauses p join bed_grounds g on g.farm_id = $1 and g.ground_bed_id = p.bed_id where p.farm_id = $1 and p.record_id = $4
	union select unnest($5::uuid[])
), latest as (
	select g.bed_id, g.ground_bed_id, d.in_production, d.on_date, d.record_id from bed join bed_grounds g on g.farm_id = $1 and g.bed_id = bed.bed_id
		cross join lateral (select p.in_production, p.on_date, p.record_id from bed_pauses p
			where p.farm_id = $1 and p.bed_id = g.ground_bed_id and p.record_id <> $3 order by p.on_date desc, p.record_id desc limit 1) d
), state as (
	select l.bed_id, bool_and(l.in_production or exists (select from bed_pauses own where own.farm_id = $1 and own.bed_id = l.bed_id
		and own.in_production and own.record_id <> $3 and (own.on_date, own.record_id) > (l.on_date, l.record_id))) as in_production
	from latest l group by l.bed_id
)
update records b set seq = $2, body = case when state.in_production is null then b.body - 'in_production'
		else jsonb_set(b.body, '{in_production}', to_jsonb(state.in_production)) end
	from bed left join state on state.bed_id = bed.bed_id
	where b.farm_id = $1 and b.id = bed.bed_id`

// inProduction brings the beds on the ground of a decision up to date.
func (x index) inProduction(pause uuid.UUID, seq int64, without uuid.UUID) error {
	return x.exec(productionSQL, seq, without, pause, nil)
}

func (w *writing) decideBed(b *domain.Bed) error {
	refs, err := w.refs(b.PlotID)
	if err != nil {
		return err
	}
	var p domain.Problems
	need(&p, refs, "/plot_id", "plot", b.PlotID)
	return p.Err()
}

// decideLayout checks a re-laying against the beds as they are: all of one plot, all in force, none laid on itself. A
// bed can only lie on beds that were there before it, so no chain of re-layings can come round to its beginning.
func (w *writing) decideLayout(l *domain.BedLayout) error {
	ids := append([]uuid.UUID{l.PlotID}, l.Retire...)
	for i := range l.Lay {
		ids = append(ids, l.Lay[i].Over...)
		if l.Lay[i].ID != uuid.Nil {
			ids = append(ids, l.Lay[i].ID)
		}
	}
	refs, err := w.refs(ids...)
	if err != nil {
		return err
	}
	var p domain.Problems
	need(&p, refs, "/plot_id", "plot", l.PlotID)
	for i, id := range l.Retire {
		checkLaidBed(&p, refs, l, "/retire/"+strconv.Itoa(i), id)
	}
	for i := range l.Lay {
		at := "/lay/" + strconv.Itoa(i)
		id := l.Lay[i].ID
		_, taken := refs[id]
		switch {
		case id == uuid.Nil:
			l.Lay[i].ID = uuid.Must(uuid.NewV7())
		case taken || id == l.ID || slices.ContainsFunc(l.Lay[:i], func(b domain.LaidBed) bool { return b.ID == id }):
			p.Add(at+"/id", "That id already names another record. A bed can't be laid on itself.")
		case id.Version() != 7:
			p.Add(at+"/id", "%s is not a version 7 UUID.", id)
		}
		for j, id := range l.Lay[i].Over {
			pointer := at + "/over/" + strconv.Itoa(j)
			checkLaidBed(&p, refs, l, pointer, id)
			checkGivenUp(&p, refs[id], l, pointer, id)
		}
	}
	if err := p.Err(); err != nil {
		return err
	}
	return w.checkLayoutDay(l)
}

// layoutSQL finds what stands against a layout on its day: records of the retired beds from that day on, and beds that
// were laid since on ground whose old name a new bed gives, without the new bed naming them too.
const layoutSQL = `
with laid as (
	select lay, over_id from unnest($4::int[], $5::uuid[]) as o (lay, over_id)
)
select e.bed_id, 0, r.kind, max(e.on_date), '' from exposures e join records r on r.farm_id = $1 and r.id = e.record_id
	where e.farm_id = $1 and e.bed_id = any($2) and e.on_date >= $3 group by 1, 3
union all
-- Animals that came before and stayed, or are still there: the day they left is what the new bed counts from.
select e.bed_id, 0, r.kind, max((r.body ->> 'to')::date), '' from exposures e join records r on r.farm_id = $1 and r.id = e.record_id
	where e.farm_id = $1 and e.bed_id = any($2) and e.on_date < $3 and r.kind = 'grazing'
		and coalesce((r.body ->> 'to')::date, 'infinity') >= $3 group by 1, 3
union all
select t.bed_id, 0, r.kind, max((t.to_at at time zone $6)::date), '' from water_touches t join records r on r.farm_id = $1 and r.id = t.record_id
	where t.farm_id = $1 and t.bed_id = any($2) and (t.to_at at time zone $6)::date >= $3 group by 1, 3
union all
select lb.bed_id, 0, 'harvest-lot', max(l.cut_to), max(l.code) from lot_beds lb join lots l on l.farm_id = $1 and l.id = lb.lot_id
	where lb.farm_id = $1 and lb.bed_id = any($2) and l.cut_to >= $3 group by 1
union all
select pb.bed_id, 0, 'planting', max(p.planted_on), '' from planting_beds pb join plantings p on p.farm_id = $1 and p.id = pb.planting_id
	where pb.farm_id = $1 and pb.bed_id = any($2) and p.planted_on >= $3 group by 1
union all
select laid.over_id, laid.lay, 'bed', later.valid_from, later.name
	from laid join beds old on old.farm_id = $1 and old.id = laid.over_id and old.valid_to < $3
	join bed_grounds g on g.farm_id = $1 and g.ground_bed_id = old.id and g.bed_id <> old.id
	join beds later on later.farm_id = $1 and later.id = g.bed_id and later.valid_from < $3
	where not exists (select from laid other join bed_grounds h on h.farm_id = $1 and h.bed_id = other.over_id
		where other.lay = laid.lay and h.ground_bed_id = later.id)
order by 3, 4, 5`

type layoutConflict struct {
	BedID uuid.UUID
	Lay   int
	Kind  string
	On    domain.Date
	Name  string
}

// checkLayoutDay refuses a layout that would take the name away under records already written on it, or lay a bed on
// less history than its ground has.
func (w *writing) checkLayoutDay(l *domain.BedLayout) error {
	var lays []int
	var overs []uuid.UUID
	for i, b := range l.Lay {
		for _, over := range b.Over {
			lays, overs = append(lays, i), append(overs, over)
		}
	}
	rows, err := w.tx.Query(w.ctx, layoutSQL, w.actor.FarmID, l.Retire, l.On, lays, overs, w.zone.String())
	if err != nil {
		return err
	}
	conflicts, err := pgx.CollectRows(rows, pgx.RowToStructByPos[layoutConflict])
	if err != nil {
		return err
	}
	var p domain.Problems
	for _, c := range conflicts {
		if c.Kind == "bed" {
			at := "/lay/" + strconv.Itoa(c.Lay) + "/over/" + strconv.Itoa(slices.Index(l.Lay[c.Lay].Over, c.BedID))
			p.Add(at, "Since then bed %s was laid on that ground, on %s. Name it too, so that the new bed keeps its history.", c.Name, c.On)
			continue
		}
		what := strings.TrimSpace(kindWords(c.Kind) + " " + c.Name)
		fix := "Give a day after it."
		if voidable[c.Kind] {
			fix = "Give a day after it, or void it and write it on the new bed."
		}
		at := "/retire/" + strconv.Itoa(slices.Index(l.Retire, c.BedID))
		if c.On.IsZero() {
			p.Add(at, "Animals are still on that bed. Say first on which day they left (correct the grazing), then lay it anew.")
			continue
		}
		p.Add(at, "There is a record of that bed (%s) of %s, when its name would have ended. %s", what, c.On, fix)
	}
	return p.Err()
}

func checkLaidBed(p *domain.Problems, refs map[uuid.UUID]ref, l *domain.BedLayout, pointer string, id uuid.UUID) {
	if !need(p, refs, pointer, "bed", id) {
		return
	}
	bed := refs[id]
	if *bed.PlotID != l.PlotID {
		p.Add(pointer, "That bed lies in another plot; a layout re-lays one plot.")
	}
	if bed.From.After(l.On) {
		p.Add(pointer, "That bed was only laid on %s, after %s.", bed.From, l.On)
	}
	if bed.To != nil && strings.HasPrefix(pointer, "/retire") {
		p.Add(pointer, "That bed already ended on %s.", bed.To)
	}
}

// checkGivenUp notes a bed under a new one that keeps its own name past the day. Two names for one piece of ground would each
// miss what is written under the other.
func checkGivenUp(p *domain.Problems, bed ref, l *domain.BedLayout, pointer string, id uuid.UUID) {
	switch {
	case bed.Kind != "bed" || slices.Contains(l.Retire, id):
	case bed.To == nil:
		p.Add(pointer, "That bed keeps its name, so one piece of ground would have two. Name it in retire as well; what is left of it is laid anew in the same layout, under its old name if you like.")
	case bed.To.After(l.On):
		p.Add(pointer, "That bed had its name until %s. Give that day or a later one.", bed.To)
	}
}

func (w *writing) decideProduction(b *domain.BedProduction) error {
	refs, err := w.refs(b.BedID)
	if err != nil {
		return err
	}
	if r, ok := refs[b.BedID]; !ok || r.Kind != "bed" {
		return domain.NotFound("bed", b.BedID.String())
	}
	return nil
}

// checkGround checks that beds and plot of a record exist and that the beds were in force on its day.
func checkGround(p *domain.Problems, refs map[uuid.UUID]ref, g domain.Ground, on domain.Date) {
	if g.PlotID != uuid.Nil {
		need(p, refs, "/ground/plot_id", "plot", g.PlotID)
	}
	for i, id := range g.BedIDs {
		pointer := "/ground/bed_ids/" + strconv.Itoa(i)
		if need(p, refs, pointer, "bed", id) {
			checkInForce(p, refs[id], pointer, on)
		}
	}
}

// checkInForce notes a bed whose name did not hold on a day, with what to do instead.
func checkInForce(p *domain.Problems, bed ref, pointer string, on domain.Date) {
	switch {
	case on.Before(*bed.From):
		p.Add(pointer, "That bed was laid on %s; on %s the ground had another name. Name the older bed, or the whole plot.", bed.From, on)
	case bed.To != nil && !on.Before(*bed.To):
		p.Add(pointer, "That bed ended on %s. On %s the ground has the name of the bed laid over it.", bed.To, on)
	}
}

// Ground gives every exposure of a bed's ground up to a day, newest first, through plot and earlier beds.
func (db *DB) Ground(r Reading, bed uuid.UUID, upTo domain.Date) (b *domain.BedGround, list []domain.GroundExposure, err error) {
	err = db.read(r.Ctx, r.Farm, func(tx pgx.Tx) error {
		facts, err := loadGround(r.Ctx, tx, r.Farm, []uuid.UUID{bed}, nil, domain.NewDate(1900, 1, 1), upTo)
		if err != nil {
			return err
		}
		b = facts.Beds[bed]
		if b == nil {
			return domain.NotFound("bed", bed.String())
		}
		list = facts.GroundOf(b, upTo)
		return nil
	})
	return b, list, err
}
