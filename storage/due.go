package storage

import (
	"context"
	"encoding/json"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"croftmark/domain"
)

// Duties is what is to be done on the farm, and by when.
type Duties struct {
	On  domain.Date
	Due []domain.Due
	// ToSign counts what waits for a second signature; MaySign how much of it the actor may sign.
	ToSign, MaySign int
	// Checked is every planting as judged for the day.
	Checked []Checked
}

// Due derives from rules and records what is to be done, earliest first. What is private is told to leads and the owner
// only. A fixed number of statements, whatever the size of the book.
func (db *DB) Due(ctx context.Context, actor Actor) (out Duties, err error) {
	r := Reading{Ctx: ctx, Farm: actor.FarmID}
	err = db.read(ctx, actor.FarmID, func(tx pgx.Tx) error {
		f := &dueLoader{r: r, tx: tx, private: actor.Role.AtLeast(domain.Lead), facts: domain.DueFacts{Now: db.instant()}}
		var err error
		if f.facts.Farm, f.facts.Today, _, err = db.farmAndSheets(r, tx); err != nil {
			return err
		}
		if f.zone, err = domain.Zone(f.facts.Farm.TimeZone); err != nil {
			return err
		}
		if out.Checked, err = harvestCheck(r, tx, uuid.Nil, uuid.Nil, f.facts.Today); err != nil {
			return err
		}
		f.opens(out.Checked)
		signs, err := db.toSign(r, tx, actor.PersonID)
		if err != nil {
			return err
		}
		out.ToSign, out.MaySign = f.signatures(signs)
		for _, step := range []func() error{f.waters, f.certificates, f.people, f.batches, f.logs, f.records} {
			if err := step(); err != nil {
				return err
			}
		}
		out.On, out.Due = f.facts.Today, domain.DueList(&f.facts)
		return nil
	})
	return out, err
}

// dueLoader fills the facts, a statement for each sort of them.
type dueLoader struct {
	r       Reading
	tx      pgx.Tx
	zone    *time.Location
	private bool
	facts   domain.DueFacts
}

func (f *dueLoader) opens(checked []Checked) {
	for _, c := range checked {
		if c.Verdict == domain.Wait {
			f.facts.Opens = append(f.facts.Opens, domain.DueBed{BedID: c.BedID, PlantingID: c.PlantingID, Bed: c.BedName, Crop: c.Crop, Judgement: c.Judgement})
		}
	}
}

func (f *dueLoader) signatures(list []ToSign) (all, mine int) {
	at := map[string]int{}
	for _, x := range list {
		if x.Refusal == "" {
			mine++
		}
		i, seen := at[x.Family.ID]
		if !seen {
			i = len(f.facts.Unsigned)
			at[x.Family.ID] = i
			f.facts.Unsigned = append(f.facts.Unsigned, domain.DueSignatures{Family: x.Family, LateOn: x.LateOn})
		}
		f.facts.Unsigned[i].Count++ // the list is oldest first, so the day of the first stays
	}
	return len(list), mine
}

// waters loads every source with what is known of it, and its last inspection. Readings of a treatment are left out: they
// are part of each day of use.
func (f *dueLoader) waters() error {
	rows, err := f.tx.Query(f.r.Ctx, `select e.source_id, r.kind, r.body from water_events e join records r on r.farm_id = $1 and r.id = e.record_id
			where e.farm_id = $1 and e.kind <> 'water-treatment' and not r.voided
		union all select id, kind, body from records where farm_id = $1 and kind = 'water-source' and not voided`, f.r.Farm)
	if err != nil {
		return err
	}
	list, err := pgx.CollectRows(rows, pgx.RowToStructByPos[waterRow])
	if err != nil {
		return err
	}
	f.facts.Waters, f.facts.Inspected = map[uuid.UUID]*domain.WaterFacts{}, map[uuid.UUID]domain.Date{}
	for _, x := range list {
		if x.Kind != "water-inspection" {
			if err := addWater(f.facts.Waters, f.facts.Farm, x); err != nil {
				return err
			}
			continue
		}
		var made domain.WaterInspection
		if err := json.Unmarshal(x.Body, &made); err != nil {
			return err
		}
		f.facts.Inspected[x.SourceID] = domain.Later(f.facts.Inspected[x.SourceID], made.MadeOn)
	}
	return nil
}

// boughtLately is how far back a supplier counts as one that the farm still buys from.
const boughtLately = 18 // months

// certificates loads the newest paper of each input and supplier.
func (f *dueLoader) certificates() error {
	rows, err := f.tx.Query(f.r.Ctx, `with delivery as materialized (
			select distinct on (body ->> 'input_id', lower(body ->> 'supplier')) id, body, (body ->> 'input_id')::uuid as input_id
			from records where farm_id = $1 and kind = 'input-lot' and not voided and body ? 'certificate' and done_on >= $2
			order by body ->> 'input_id', lower(body ->> 'supplier'), body #>> '{certificate,issued_on}' desc)
		select d.id, d.body ->> 'supplier', i.body ->> 'name', d.body -> 'certificate' from delivery d join records i on i.farm_id = $1 and i.id = d.input_id`,
		f.r.Farm, f.facts.Today.AddMonths(-boughtLately))
	if err != nil {
		return err
	}
	f.facts.Certificates, err = pgx.CollectRows(rows, func(row pgx.CollectableRow) (c domain.DueCertificate, err error) {
		var supplier, input string
		var paper []byte
		if err := row.Scan(&c.Record.ID, &supplier, &input, &paper); err != nil {
			return c, err
		}
		c.Record.Kind, c.What = "input-lot", input+" ("+supplier+")"
		return c, json.Unmarshal(paper, &c.Paper)
	})
	return err
}

// people loads who works on the farm, with the last training of each.
func (f *dueLoader) people() error {
	rows, err := f.tx.Query(f.r.Ctx, `select p.id, p.body ->> 'name', (select max(m.on_date) from log_marks m where m.farm_id = $1 and m.person_id = p.id and m.sheet = 'training')
		from records p where p.farm_id = $1 and p.kind = 'person' and not p.voided and p.body ->> 'role' <> 'reader'
			and coalesce(p.body ->> 'ends_on', '9999') >= $2 order by 2, 1`, f.r.Farm, f.facts.Today.String())
	if err != nil {
		return err
	}
	f.facts.People, err = pgx.CollectRows(rows, pgx.RowToStructByPos[domain.DuePerson])
	return err
}

// readFor is for how many days a heap that nobody reads still counts as one that should be read.
const readFor = 14

// batches loads heaps that are read, or were begun lately, and not yet set to cure.
func (f *dueLoader) batches() error {
	rows, err := f.tx.Query(f.r.Ctx, `select b.id, b.body ->> 'code', max(e.on_date) filter (where e.kind = 'compost-temperatures') from compost_standings s
			join records b on b.farm_id = $1 and b.id = s.batch_id and not b.voided and b.body ->> 'method' not in ('vermicompost', 'passive')
			left join compost_events e on e.farm_id = $1 and e.batch_id = s.batch_id
		where s.farm_id = $1 and s.last_on >= $2 and s.started_on <= $3 group by b.id, b.body
		having not bool_or(coalesce(e.kind, '') = 'compost-curing') and greatest((b.body ->> 'started_on')::date, max(e.on_date) filter (where e.kind = 'compost-temperatures')) >= $2
		order by 2`, f.r.Farm, f.facts.Today.AddDays(-readFor), f.facts.Today)
	if err != nil {
		return err
	}
	f.facts.Batches, err = pgx.CollectRows(rows, pgx.RowToStructByPos[domain.DueBatch])
	return err
}

// logs loads entries that were out of limits and are not answered by their own action or by a corrective action, and
// whether the exemption was reviewed this year.
func (f *dueLoader) logs() error {
	rows, err := f.tx.Query(f.r.Ctx, `select r.id, r.body from log_entries l join records r on r.farm_id = $1 and r.id = l.record_id
		where l.farm_id = $1 and l.open_action and ($2 or not r.body @> '{"private": true}') and not exists (
			select from records a where a.farm_id = $1 and a.kind = 'corrective-action' and not a.voided
				and a.body @> jsonb_build_object('log_entry_ids', jsonb_build_array(r.id::text)))
		order by l.on_date desc limit 100`, f.r.Farm, f.private)
	if err != nil {
		return err
	}
	f.facts.OpenLogs, err = pgx.CollectRows(rows, func(row pgx.CollectableRow) (x domain.DueRecord, err error) {
		var body []byte
		if err := row.Scan(&x.Record.ID, &body); err != nil {
			return x, err
		}
		var e domain.LogEntry
		if err := json.Unmarshal(body, &e); err != nil {
			return x, err
		}
		x.Record.Kind, x.On, x.What = "log-entry", e.On, e.Sheet
		for _, o := range e.OutOfLimits {
			x.What += ", " + o.Field + " " + o.Value + " (" + o.Limit + ")"
		}
		return x, nil
	})
	if err != nil {
		return err
	}
	year, _ := f.facts.Today.YearDay()
	return f.tx.QueryRow(f.r.Ctx, `select exists (select from log_entries where farm_id = $1 and sheet = 'exemption-review' and on_date >= $2)`,
		f.r.Farm, domain.NewDate(year, time.January, 1)).Scan(&f.facts.ExemptionReviewed)
}

// records loads corrective actions and traceback requests that are open, and the last drill.
func (f *dueLoader) records() error {
	rows, err := f.tx.Query(f.r.Ctx, `select id, kind, body from records where farm_id = $1 and not voided and (
			kind = 'corrective-action' and not coalesce((body ->> 'closed')::boolean, false) and body ? 'due_on'
			or kind = 'traceback-request' and not body ? 'answered_at' or kind = 'recall' and body @> '{"drill": true}')
		order by first_seq`, f.r.Farm)
	if err != nil {
		return err
	}
	type row struct {
		ID   uuid.UUID
		Kind string
		Body []byte
	}
	list, err := pgx.CollectRows(rows, pgx.RowToStructByPos[row])
	if err != nil {
		return err
	}
	for _, x := range list {
		if err := f.record(x.ID, x.Kind, x.Body); err != nil {
			return err
		}
	}
	return nil
}

func (f *dueLoader) record(id uuid.UUID, kind string, body []byte) error {
	switch kind {
	case "corrective-action":
		var a domain.CorrectiveAction
		if err := json.Unmarshal(body, &a); err != nil {
			return err
		}
		f.facts.Actions = append(f.facts.Actions, domain.DueRecord{Record: domain.RecordRef{Kind: kind, ID: id}, What: a.What, On: a.DueOn})
	case "traceback-request":
		var q domain.TracebackRequest
		if err := json.Unmarshal(body, &q); err != nil {
			return err
		}
		f.facts.Requests = append(f.facts.Requests, domain.DueRequest{ID: id, AskedBy: q.AskedBy, Buyer: q.For == "buyer", On: domain.DateIn(q.Due(), f.zone)})
	case "recall":
		var d domain.Recall
		if err := json.Unmarshal(body, &d); err != nil {
			return err
		}
		if !d.StartedAt.IsZero() {
			f.facts.LastDrill = domain.Later(f.facts.LastDrill, domain.DateIn(d.StartedAt, f.zone))
		}
	}
	return nil
}
