package storage

import (
	"encoding/json"
	"errors"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"croftmark/domain"
)

// findingDays is how long the ground is asked about a finding that put nothing into the soil and does not last.
const findingDays = 400

// finding writes the exposures of a finding: its own ground, and the beds in the strip beside it.
func (x index) finding(r *domain.Finding) error {
	beds := append(append([]uuid.UUID{}, r.Ground.BedIDs...), r.Edge...)
	return x.exec(`with gone as (delete from exposures where farm_id = $1 and record_id = $2)
		insert into exposures (farm_id, record_id, bed_id, plot_id, on_date, ends_on)
		select $1, $2, g.bed_id, g.plot_id, r.done_on, greatest($4::text::date, r.done_on)
		from records r, (select unnest($3::uuid[]) as bed_id, null::uuid as plot_id
			union all select null, $5::uuid where $5::uuid is not null) as g
		where r.farm_id = $1 and r.id = $2`, r.ID, beds, findingEnds(r), nullID(r.Ground.PlotID))
}

// findingEnds is the last day on which a planting's ground is asked about a finding.
func findingEnds(r *domain.Finding) string {
	on := domain.DateIn(r.FoundAt, time.UTC)
	switch {
	case slices.Contains(domain.LastingFindings(), r.What):
		return neverClears
	case r.Substance == "raw-manure" || r.Substance == "prohibited":
		return on.AddDays(domain.MemoryDays).String()
	}
	return on.AddDays(findingDays).String()
}

// resolutionSQL says on the finding's record what was decided, and keeps what was decided before. A decision that is only
// corrected changes a finding that still carries it; it does not come back to one that was corrected into another.
const resolutionSQL = `with decided as (
		select f.id, (select coalesce(jsonb_agg(d order by n), '[]') from jsonb_array_elements(coalesce(f.body -> 'earlier_resolutions', '[]')
				|| case when f.body ? 'resolution' then jsonb_build_array(f.body -> 'resolution') else '[]' end) with ordinality as x (d, n)
			where d ->> 'id' <> $5::text) as earlier,
			(f.body -> 'resolution' ->> 'id' = $5::text or coalesce(f.body -> 'earlier_resolutions', '[]') @> jsonb_build_array(jsonb_build_object('id', $5::text))) as carried
		from records f where f.farm_id = $1 and f.id = $2)
	update records f set seq = $4, body = jsonb_set(case d.earlier when '[]' then f.body - 'earlier_resolutions'
			else jsonb_set(f.body, '{earlier_resolutions}', d.earlier) end, '{resolution}', $3::jsonb)
	from decided d where f.farm_id = $1 and f.id = d.id
		and (d.carried or exists (select from records r where r.farm_id = $1 and r.id = $5::text::uuid and r.first_seq = $4))`

func (x index) resolution(r *domain.FindingResolution, seq int64) error {
	raw, err := json.Marshal(r)
	if err != nil {
		return err
	}
	return x.exec(resolutionSQL, r.FindingID, string(raw), seq, r.ID.String())
}

func (w *writing) decideFinding(f *domain.Finding) ([]string, error) {
	ids := append(append([]uuid.UUID{}, f.Ground.BedIDs...), f.Edge...)
	if f.Ground.PlotID != uuid.Nil {
		ids = append(ids, f.Ground.PlotID)
	}
	refs, err := w.refs(ids...)
	if err != nil {
		return nil, err
	}
	var p domain.Problems
	on := domain.DateIn(f.FoundAt, w.zone)
	checkGround(&p, refs, f.Ground, on)
	for i, id := range f.Edge {
		at := "/edge_bed_ids/" + itoa(i)
		if need(&p, refs, at, "bed", id) {
			checkInForce(&p, refs[id], at, on)
		}
	}
	return domain.FindingWarnings(f, w.zone), p.Err()
}

// decideResolution checks that the finding is there and that the rule leaves a decision to a person. It gives the finding
// back, because its ground is what is judged again.
func (w *writing) decideResolution(r *domain.FindingResolution) error {
	if !w.actor.Role.AtLeast(domain.Lead) {
		return domain.Refuse(domain.CodeNotAllowed, "Not yours to decide", "Only a lead or the owner decides about a finding.")
	}
	f, err := w.findingOf(r)
	if err != nil {
		return err
	}
	if r.Decision == "released" && !domain.MayRelease(f) {
		return domain.Refuse(domain.CodeRuleRefused, "No decision releases this",
			"What %s touched can't be released by anybody. Destroy the crop and write down crop-destroyed.", domain.FindingName(f))
	}
	var p domain.Problems
	p.Check(!r.On.Before(domain.DateIn(f.FoundAt, w.zone)), "/on", "That is before it was found.")
	return p.Err()
}

func (w *writing) findingOf(r *domain.FindingResolution) (*domain.Finding, error) {
	var body []byte
	err := w.tx.QueryRow(w.ctx, `select body from records where farm_id = $1 and id = $2 and kind = 'finding' and not voided`, w.actor.FarmID, r.FindingID).Scan(&body)
	if err == pgx.ErrNoRows {
		return nil, domain.NotFound("finding", r.FindingID.String())
	}
	if err != nil {
		return nil, err
	}
	f := &domain.Finding{}
	return f, json.Unmarshal(body, f)
}

// findingReach reaches the lots cut from the ground of a finding since it was found.
func (w *writing) findingReach(r domain.Record) (reach, error) {
	var f *domain.Finding
	switch r := r.(type) {
	case *domain.Finding:
		f = r
	case *domain.FindingResolution:
		var err error
		if f, err = w.findingOf(r); err != nil {
			return reach{}, err
		}
	default:
		return reach{}, nil
	}
	first := domain.DateIn(f.FoundAt, w.zone)
	return reach{beds: append(append([]uuid.UUID{}, f.Ground.BedIDs...), f.Edge...), plots: onlyID(f.Ground.PlotID), first: first}, nil
}

// Alert is a lot whose judgement was milder when it was cut than it is now, and that no corrective action has closed.
type Alert struct {
	LotID    uuid.UUID
	Kind     string // harvest-lot or pack-lot
	Code     string
	Crop     string // of a pack lot: the product
	CutOn    domain.Date
	Then     domain.Verdict
	Now      domain.Judgement
	Since    int64 // entry that judged it so
	OnHand   domain.Quantity
	Disposed domain.Quantity
	Shipped  domain.Quantity // less what came back
	// ShippedTo are the customers who got the lot, or something packed from it.
	ShippedTo []Buyer
}

// Buyer is a customer, with how to reach them.
type Buyer struct {
	ID    uuid.UUID `json:"id" format:"uuid"`
	Name  string    `json:"name"`
	Phone string    `json:"phone,omitempty"`
}

// goneSQL follows the lots of root into what was packed from them, and on to the customers who got any of it.
const goneSQL = `made as (
	select id as from_id, id as lot_id from root
	union select m.from_id, e.child_id from made m join lot_edges e on e.farm_id = $1 and e.parent_id = m.lot_id
), gone as (
	select m.from_id, c.id as customer_id, c.body as customer from made m
		join shipment_lines s on s.farm_id = $1 and s.lot_id = m.lot_id and s.direction = 'out'
		join records c on c.farm_id = $1 and c.id = s.customer_id
)`

const alertsSQL = `
with recursive open as (
	select l.id, l.kind, l.code, l.planting_id, l.cut_from, l.judgement, l.judged_seq, l.unit, l.quantity, l.packed, l.shipped, l.returned, l.disposed from lots l
	where l.farm_id = $1 and l.verdict in ('wait', 'ask', 'stop')
		and not exists (select from records a where a.farm_id = $1 and a.kind = 'corrective-action' and not a.voided
			and a.seq > l.judged_seq and a.body @> jsonb_build_object('closed', true, 'lot_ids', jsonb_build_array(l.id::text)))
	order by l.judged_seq desc limit 500
), root as (select id from open), ` + goneSQL + `, went as (
	select from_id, jsonb_agg(distinct jsonb_strip_nulls(jsonb_build_object('id', customer_id, 'name', customer ->> 'name', 'phone', customer ->> 'phone'))) as to
	from gone group by from_id
)
select l.id, l.kind, l.code, coalesce(c.body ->> 'name', x.body ->> 'product', ''), l.cut_from, x.body #>> '{verdict_then,verdict}', l.judgement, l.judged_seq,
	jsonb_build_object('value', trim_scale` + leftSQL + `::text, 'unit', l.unit),
	jsonb_build_object('value', trim_scale(l.disposed)::text, 'unit', l.unit), jsonb_build_object('value', trim_scale(l.shipped - l.returned)::text, 'unit', l.unit), coalesce(w.to, '[]')
from open l join records x on x.farm_id = $1 and x.id = l.id
	left join plantings p on p.farm_id = $1 and p.id = l.planting_id left join records c on c.farm_id = $1 and c.id = p.crop_id
	left join went w on w.from_id = l.id
order by l.judged_seq desc`

// Alerts lists what is open, newest judgement first.
func (db *DB) Alerts(r Reading) (out []Alert, err error) {
	err = db.read(r.Ctx, r.Farm, func(tx pgx.Tx) error {
		rows, err := tx.Query(r.Ctx, alertsSQL, r.Farm)
		if err != nil {
			return err
		}
		out, err = pgx.CollectRows(rows, scanAlert)
		return err
	})
	return out, err
}

func scanAlert(row pgx.CollectableRow) (a Alert, err error) {
	var judgement, left, gone, shipped, to []byte
	if err := row.Scan(&a.LotID, &a.Kind, &a.Code, &a.Crop, &a.CutOn, &a.Then, &judgement, &a.Since, &left, &gone, &shipped, &to); err != nil {
		return a, err
	}
	return a, errors.Join(json.Unmarshal(judgement, &a.Now), json.Unmarshal(left, &a.OnHand), json.Unmarshal(gone, &a.Disposed),
		json.Unmarshal(shipped, &a.Shipped), json.Unmarshal(to, &a.ShippedTo))
}

// decideCorrective checks that the lots and log entries it names exist.
func (w *writing) decideCorrective(c *domain.CorrectiveAction) error {
	refs, err := w.refs(append(slices.Clone(c.LotIDs), c.LogEntryIDs...)...)
	if err != nil {
		return err
	}
	var p domain.Problems
	for i, id := range c.LotIDs {
		kind := "harvest-lot"
		if refs[id].Kind == "pack-lot" {
			kind = "pack-lot"
		}
		need(&p, refs, "/lot_ids/"+itoa(i), kind, id)
	}
	for i, id := range c.LogEntryIDs {
		need(&p, refs, "/log_entry_ids/"+itoa(i), "log-entry", id)
	}
	return p.Err()
}
