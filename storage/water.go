package storage

import (
	"encoding/json"
	"errors"
	"slices"
	"strconv"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"croftmark/domain"
)

// instantOf is the instant by which a record of a source is ordered: the sampling of a test, not its report.
func instantOf(r domain.OfSource, zone *time.Location) time.Time {
	switch r := r.(type) {
	case *domain.WaterTest:
		return r.SampledAt
	case *domain.WaterChange:
		return r.At
	case *domain.WaterStop:
		return r.At
	case *domain.WaterTreatment:
		return r.TakenAt
	case *domain.WaterPaper:
		return r.IssuedOn.In(zone)
	case *domain.WaterReview:
		return r.MadeOn.In(zone)
	case *domain.WaterInspection:
		return r.MadeOn.In(zone)
	}
	return time.Time{}
}

// waterEvent notes that a record tells something about a source.
func (x index) waterEvent(r domain.OfSource) error {
	return x.exec(`insert into water_events (farm_id, record_id, source_id, kind, at) values ($1, $2, $3, $4, $5)
		on conflict (farm_id, record_id) do update set source_id = excluded.source_id, at = excluded.at`,
		*r.Identity(), r.SourceOf(), r.Kind(), instantOf(r, time.UTC).UTC())
}

// irrigation notes where water went on growing crop.
func (x index) irrigation(r *domain.Irrigation) error {
	return x.exec(`with gone as (delete from water_touches where farm_id = $1 and record_id = $2)
		insert into water_touches (farm_id, record_id, source_id, tap, use, from_at, to_at, bed_id, plot_id)
		select $1, $2, $3, $4, 'irrigation', $5, $6, g.bed_id, g.plot_id
		from (select unnest($7::uuid[]) as bed_id, null::uuid as plot_id union all select null, $8::uuid where $8::uuid is not null) as g`,
		r.ID, r.SourceID, r.Tap, r.StartedAt, endOfTouch(r.StartedAt, r.EndedAt), r.Ground.BedIDs, nullID(r.Ground.PlotID))
}

// handling notes which lots water touched after the cut.
func (x index) handling(r *domain.Handling) error {
	return x.exec(`with gone as (delete from water_touches where farm_id = $1 and record_id = $2)
		insert into water_touches (farm_id, record_id, source_id, tap, use, from_at, to_at, lot_id)
		select $1, $2, $3, $4, $5, $6, $7, unnest($8::uuid[])`,
		r.ID, r.SourceID, r.Tap, string(r.Use), r.StartedAt, endOfTouch(r.StartedAt, r.EndedAt), r.LotIDs)
}

func endOfTouch(from, to time.Time) time.Time {
	if to.IsZero() {
		return from
	}
	return to
}

// decideOfSource checks that the source of a record exists, and its tap where the source names its taps.
func (w *writing) decideOfSource(r domain.OfSource, tap string) ([]string, error) {
	ids := []uuid.UUID{r.SourceOf()}
	if x, ok := r.(*domain.Irrigation); ok {
		ids = append(append(ids, x.Ground.BedIDs...), x.Ground.PlotID)
	}
	if x, ok := r.(*domain.Handling); ok {
		ids = append(ids, x.LotIDs...)
	}
	refs, err := w.refs(ids...)
	if err != nil {
		return nil, err
	}
	switch r.(type) {
	case *domain.Irrigation, *domain.Handling:
		if err := refuseHeld(refs, r.SourceOf(), domain.HabitsOf(r)); err != nil {
			return nil, err
		}
	}
	var p domain.Problems
	if need(&p, refs, "/source_id", "water-source", r.SourceOf()) {
		var source domain.WaterSource
		if err := refs[r.SourceOf()].into(&source); err != nil {
			return nil, err
		}
		domain.CheckTap(&p, &source, tap)
	}
	switch x := r.(type) {
	case *domain.Irrigation:
		checkGround(&p, refs, x.Ground, domain.DateIn(x.StartedAt, w.zone))
	case *domain.Handling:
		for i, id := range x.LotIDs {
			need(&p, refs, "/lot_ids/"+strconv.Itoa(i), "harvest-lot", id)
		}
	}
	return nil, p.Err()
}

// tapOf gives the tap a record names.
func tapOf(r domain.OfSource) string {
	switch r := r.(type) {
	case *domain.WaterTest:
		return r.Tap
	case *domain.WaterChange:
		return r.Tap
	case *domain.WaterStop:
		return r.Tap
	case *domain.WaterTreatment:
		return r.Tap
	case *domain.Irrigation:
		return r.Tap
	case *domain.Handling:
		return r.Tap
	}
	return ""
}

// waterReach says from which day on a record about a source can change the judgement of lots: from the last good samples
// before it, because a failure reaches back that far; a treatment reading speaks for its own days only.
func (w *writing) waterReach(r domain.Record) (reach, error) {
	switch r := r.(type) {
	case *domain.WaterSource:
		return reach{sources: []uuid.UUID{r.ID}}, nil
	case *domain.WaterInspection:
		return reach{}, nil
	case *domain.Handling:
		return reach{lots: r.LotIDs}, nil
	case *domain.Irrigation:
		day := domain.DateIn(r.StartedAt, w.zone)
		return reach{beds: r.Ground.BedIDs, plots: onlyID(r.Ground.PlotID), first: day, last: day.AddDays(domain.IrrigationLooksBack)}, nil
	case *domain.WaterTreatment:
		from, to, err := w.betweenReadings(r)
		return reach{sources: []uuid.UUID{r.SourceID}, first: domain.DateIn(from, w.zone).AddDays(-storedAtMost), last: domain.DateIn(to, w.zone).AddDays(domain.IrrigationLooksBack),
			touchedFrom: from, touchedTo: to}, err
	case domain.OfSource:
		from, err := w.failureReach(r.SourceOf(), tapOf(r), instantOf(r, w.zone))
		return reach{sources: []uuid.UUID{r.SourceOf()}, touchedFrom: from}, err
	}
	return reach{}, nil
}

// failureReach gives the instant back to which a failure found at a tap may reach.
func (w *writing) failureReach(source uuid.UUID, tap string, at time.Time) (time.Time, error) {
	rows, err := w.tx.Query(w.ctx, `select r.kind, r.body from records r where r.farm_id = $1 and r.id = $2
		union all select r.kind, r.body from water_events e join records r on r.farm_id = $1 and r.id = e.record_id
			where e.farm_id = $1 and e.source_id = $2 and e.kind = 'water-test' and not r.voided`, w.actor.FarmID, source)
	if err != nil {
		return time.Time{}, err
	}
	var facts domain.WaterFacts
	var kind string
	var body []byte
	_, err = pgx.ForEachRow(rows, []any{&kind, &body}, func() error {
		if kind == "water-test" {
			return grow(&facts.Tests, body)
		}
		return json.Unmarshal(body, &facts.Source)
	})
	return facts.FailureReach(tap, at), err
}

// storedAtMost is how many days after the cut a lot may still be washed or cooled: a crop kept over a year is sold by then.
const storedAtMost = 400

// betweenReadings gives the time about which a reading of treated water decides: from the reading before it to the one
// after it, of the same tap and tank. A reading elsewhere stands between nothing.
func (w *writing) betweenReadings(r *domain.WaterTreatment) (from, to time.Time, err error) {
	from, to = r.TakenAt.Add(-domain.ReadingSpeaksBack), r.TakenAt.Add(domain.ReadingSpeaksOn)
	err = w.tx.QueryRow(w.ctx, `with other as (
			select e.at from water_events e join records x on x.farm_id = $1 and x.id = e.record_id
			where e.farm_id = $1 and e.source_id = $2 and e.kind = 'water-treatment' and e.at between $4 and $5 and e.record_id <> $6 and not x.voided
				and x.body ? 'ppm' and x.body ? 'product' -- another one says nothing of the strength
				and coalesce(x.body ->> 'tap', '') = $7 and coalesce(x.body ->> 'tank', '') = $8)
		select coalesce((select max(at) from other where at <= $3), $4), coalesce((select min(at) from other where at >= $3), $5)`,
		w.actor.FarmID, r.SourceID, r.TakenAt, from, to, r.ID, r.Tap, r.Tank).Scan(&from, &to)
	return from, to, err
}

// waterRow is a record of a source, or a touch, as groundSQL gives it.
type waterRow struct {
	SourceID uuid.UUID       `json:"source_id"`
	Kind     string          `json:"kind"`
	Body     json.RawMessage `json:"body"`
}

type touchRow struct {
	RecordID uuid.UUID       `json:"record_id"`
	SourceID uuid.UUID       `json:"source_id"`
	Tap      string          `json:"tap"`
	Tank     string          `json:"tank"`
	Use      domain.WaterUse `json:"use"`
	From     time.Time       `json:"from"`
	To       time.Time       `json:"to"`
	BedID    uuid.UUID       `json:"bed_id"`
	PlotID   uuid.UUID       `json:"plot_id"`
	LotID    uuid.UUID       `json:"lot_id"`
	Kind     string          `json:"kind"`
	Body     json.RawMessage `json:"body"`
}

// fillWater puts the sources and touches among the facts.
func fillWater(f *domain.GroundFacts, rawSources, rawTouches []byte) error {
	f.Waters, f.BedWater, f.LotWater = map[uuid.UUID]*domain.WaterFacts{}, map[uuid.UUID][]domain.WaterTouch{}, map[uuid.UUID][]domain.WaterTouch{}
	rows, err := list[waterRow](rawSources)
	if err != nil {
		return err
	}
	for _, row := range rows {
		if err := addWater(f.Waters, f.Farm, row); err != nil {
			return err
		}
	}
	touches, err := list[touchRow](rawTouches)
	if err != nil {
		return err
	}
	for _, t := range touches {
		touch := domain.WaterTouch{Record: domain.RecordRef{Kind: t.Kind, ID: t.RecordID}, SourceID: t.SourceID, Tap: t.Tap, Tank: t.Tank, Use: t.Use, From: t.From, To: t.To}
		if t.Kind == "irrigation" {
			touch.Irrigation = &domain.Irrigation{}
			if err := json.Unmarshal(t.Body, touch.Irrigation); err != nil {
				return err
			}
		}
		switch {
		case t.LotID != uuid.Nil:
			f.LotWater[t.LotID] = append(f.LotWater[t.LotID], touch)
		case t.BedID != uuid.Nil:
			f.BedWater[t.BedID] = append(f.BedWater[t.BedID], touch)
		default:
			f.BedWater[t.PlotID] = append(f.BedWater[t.PlotID], touch)
		}
	}
	return nil
}

func addWater(waters map[uuid.UUID]*domain.WaterFacts, farm *domain.Farm, row waterRow) error {
	facts := waters[row.SourceID]
	if facts == nil {
		facts = &domain.WaterFacts{Size: farm.Size, BuyerProfile: farm.BuyerWaterProfile}
		if zone, err := domain.Zone(farm.TimeZone); err == nil {
			facts.Zone = zone
		}
		waters[row.SourceID] = facts
	}
	r := newOf(row.Kind)
	if err := json.Unmarshal(row.Body, r); err != nil {
		return err
	}
	facts.Add(r)
	return nil
}

// Water is a source with everything that is judged of it.
type Water struct {
	Record
	Facts   domain.WaterFacts
	Now     time.Time
	Farm    domain.Farm
	Touched []TouchedLot
	Acts    []WaterActed
}

// WaterActed is what was done about a source, in the words of the person who did it.
type WaterActed struct {
	ID, By uuid.UUID
	Said   string
}

// TouchedLot is a lot that water of a failure's window touched.
type TouchedLot struct {
	LotID  uuid.UUID
	Code   string
	Use    domain.WaterUse
	Tap    string
	Tank   string
	At     time.Time
	Onhand domain.Quantity
	// ShippedTo names the customers who got the lot, or something packed from it.
	ShippedTo []string
}

// WaterSource gives a source with all that is known of it.
func (db *DB) WaterSource(r Reading, id uuid.UUID) (out Water, err error) {
	err = db.read(r.Ctx, r.Farm, func(tx pgx.Tx) error {
		rows, err := tx.Query(r.Ctx, `select `+recordColumns+recordSource+`where r.farm_id = $1 and not r.voided and (r.id in ($1, $2)
			or r.id in (select record_id from water_events where farm_id = $1 and source_id = $2)) order by r.first_seq`, r.Farm, id)
		if err != nil {
			return err
		}
		records, err := pgx.CollectRows(rows, scanRecord)
		if err != nil {
			return err
		}
		at := slices.IndexFunc(records, func(x Record) bool { return x.ID == id && x.Kind == "water-source" })
		if at < 0 {
			return domain.NotFound("water source", id.String())
		}
		out.Record = records[at]
		if err := json.Unmarshal(records[slices.IndexFunc(records, func(x Record) bool { return x.ID == r.Farm })].Body, &out.Farm); err != nil {
			return err
		}
		waters := map[uuid.UUID]*domain.WaterFacts{}
		for _, x := range records {
			if x.Kind == "farm" {
				continue
			}
			if err := addWater(waters, &out.Farm, waterRow{id, x.Kind, x.Body}); err != nil {
				return err
			}
			if x.Kind == "water-action" {
				var stop domain.WaterStop
				if err := json.Unmarshal(x.Body, &stop); err != nil {
					return err
				}
				out.Acts = append(out.Acts, WaterActed{x.ID, x.Stamp.DoneBy, stop.Reason})
			}
		}
		out.Facts, out.Now = *waters[id], db.instant()
		if out.Facts.Holds, err = holdsOfWater(r, tx, id); err != nil {
			return err
		}
		out.Touched, err = touchedLots(r, tx, id)
		return err
	})
	return out, err
}

func holdsOfWater(r Reading, tx pgx.Tx, source uuid.UUID) ([]domain.HoldSpan, error) {
	rows, err := tx.Query(r.Ctx, `select h.id, h.target_id, r.body ->> 'reason', h.on_date, h.released_on from holds h
		join records r on r.farm_id = $1 and r.id = h.id where h.farm_id = $1 and h.target_id = $2 and not r.voided order by h.id`, r.Farm, source)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowToStructByPos[domain.HoldSpan])
}

// touchedSQL finds the lots that water of a source touched: after the cut, and on the growing crop where the lot's own
// judgement speaks of that irrigation. Whether irrigation touched what is sold is decided there and nowhere else.
const touchedSQL = `
with recursive touch as (
	select t.record_id, t.lot_id, t.use, t.tap, t.from_at, coalesce(r.body ->> 'tank', '') as tank from water_touches t
		join records r on r.farm_id = $1 and r.id = t.record_id
		where t.farm_id = $1 and t.source_id = $2 and t.lot_id is not null
	union all
	select t.record_id, lb.lot_id, t.use, t.tap, t.from_at, '' from water_touches t
		join bed_grounds g on g.farm_id = $1 and g.ground_bed_id = t.bed_id join lot_beds lb on lb.farm_id = $1 and lb.bed_id = g.bed_id
		where t.farm_id = $1 and t.source_id = $2
	union all
	select t.record_id, lb.lot_id, t.use, t.tap, t.from_at, '' from water_touches t
		join beds b on b.farm_id = $1 and b.plot_id = t.plot_id join lot_beds lb on lb.farm_id = $1 and lb.bed_id = b.id
		where t.farm_id = $1 and t.source_id = $2
), touched as (
	select distinct t.lot_id, t.use, t.tap, t.from_at, t.tank from touch t join lots l on l.farm_id = $1 and l.id = t.lot_id
	where t.use <> 'irrigation' or l.judgement -> 'reasons' @> jsonb_build_array(jsonb_build_object('records', jsonb_build_array(jsonb_build_object('id', t.record_id))))
), root as (select distinct lot_id as id from touched), ` + goneSQL + `, went as (
	select from_id, jsonb_agg(distinct customer ->> 'name') as names from gone group by from_id
)
select l.id, l.code, t.use, t.tap, t.from_at, t.tank,
	jsonb_build_object('value', ` + leftSQL + `::text, 'unit', l.unit), coalesce(w.names, '[]')
from touched t join lots l on l.farm_id = $1 and l.id = t.lot_id left join went w on w.from_id = l.id
order by t.from_at, l.code, t.use`

func touchedLots(r Reading, tx pgx.Tx, source uuid.UUID) ([]TouchedLot, error) {
	rows, err := tx.Query(r.Ctx, touchedSQL, r.Farm, source)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (t TouchedLot, err error) {
		var left, names []byte
		if err := row.Scan(&t.LotID, &t.Code, &t.Use, &t.Tap, &t.At, &t.Tank, &left, &names); err != nil {
			return t, err
		}
		return t, errors.Join(json.Unmarshal(left, &t.Onhand), json.Unmarshal(names, &t.ShippedTo))
	})
}
