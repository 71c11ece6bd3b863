package storage

import (
	"encoding/json"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"croftmark/domain"
)

// BinderAsked is which binder is wanted.
type BinderAsked struct {
	Scope    string
	From, To domain.Date
	Crop     string // of the exercise; none when empty
}

// binderMost keeps one paper within what can be printed and bound.
const binderMost = 5000

// binderSQL gives every record of the kinds wanted with its first entry and everything that was done to it since.
const binderSQL = `
select r.id, r.kind, r.first_seq, r.done_on, r.body, r.voided, e.leaf,
	coalesce((select jsonb_agg(c.leaf::jsonb order by c.seq) from book_entries c where c.farm_id = $1 and c.record_id = r.id and c.seq > r.first_seq and c.kind in ('correction', 'void', 'review')), '[]')
from records r join book_entries e on e.farm_id = $1 and e.seq = r.first_seq
where r.farm_id = $1 and r.kind = any($2) and (r.kind = any($3) and r.done_on <= $5 or r.done_on between $4 and $5)
order by r.done_on, r.first_seq, r.id limit $6`

// namesSQL gives the names that ids are shown by.
const namesSQL = `
select id, case when $2 and kind = 'customer' then 'a customer (name withheld)' else coalesce(body ->> 'name', body ->> 'code', body ->> 'supplier') end from records where farm_id = $1
	and kind in ('person', 'plot', 'bed', 'crop', 'input', 'compost-batch', 'water-source', 'customer', 'input-lot') and coalesce(body ->> 'name', body ->> 'code', body ->> 'supplier') is not null
union all select l.id, l.code from lots l where l.farm_id = $1
union all select p.id, (c.body ->> 'name') || ' of ' || p.planted_on from plantings p join records c on c.farm_id = $1 and c.id = p.crop_id where p.farm_id = $1`

type binderRow struct {
	ID     uuid.UUID
	Kind   string
	Seq    int64
	On     domain.Date
	Body   json.RawMessage
	Voided bool
	Leaf   string
	Since  json.RawMessage
}

// Binder gathers the records of a period in the order of a scope. It is one reading, so the checkpoint that goes on the
// paper is asked for before it; what came after is not in it.
func (db *DB) Binder(r Reading, asked BinderAsked) (b domain.Binder, err error) {
	scope, ok := domain.BinderScopeNamed(asked.Scope)
	if !ok {
		return b, domain.NotFound("binder", asked.Scope)
	}
	if asked.To.Before(asked.From) {
		var p domain.Problems
		p.Add("/to", "%s is before %s, the first day.", asked.To, asked.From)
		return b, p.Err()
	}
	b = domain.Binder{Scope: scope, From: asked.From, To: asked.To}
	err = db.read(r.Ctx, r.Farm, func(tx pgx.Tx) error {
		names, err := namesOf(r, tx, asked.Scope == "buyer")
		if err != nil {
			return err
		}
		if err := fillBinder(r, tx, &b, names); err != nil || asked.Crop == "" {
			return err
		}
		b.Exercise, err = exercise(r, tx, asked)
		return err
	})
	return b, err
}

// namesOf gives the names of things; a buyer does not learn who else buys.
func namesOf(r Reading, tx pgx.Tx, withhold bool) (map[uuid.UUID]string, error) {
	rows, err := tx.Query(r.Ctx, namesSQL, r.Farm, withhold)
	if err != nil {
		return nil, err
	}
	names := map[uuid.UUID]string{}
	var id uuid.UUID
	var name string
	_, err = pgx.ForEachRow(rows, []any{&id, &name}, func() error { names[id] = name; return nil })
	return names, err
}

func fillBinder(r Reading, tx pgx.Tx, b *domain.Binder, names map[uuid.UUID]string) error {
	kinds := map[string]bool{"farm": true}
	var registers []string
	for _, s := range b.Scope.Sections {
		for _, k := range s.Kinds {
			kinds[k] = true
			if domain.Register(k) {
				registers = append(registers, k)
			}
		}
		kinds["log-entry"] = kinds["log-entry"] || len(s.Sheets) > 0
	}
	var list []string
	for k := range kinds {
		list = append(list, k)
	}
	rows, err := tx.Query(r.Ctx, binderSQL, r.Farm, list, registers, b.From, b.To, binderMost+1)
	if err != nil {
		return err
	}
	found, err := pgx.CollectRows(rows, pgx.RowToStructByPos[binderRow])
	if err != nil {
		return err
	}
	if len(found) > binderMost {
		return domain.Refuse(domain.CodeTooLarge, "More than one binder holds", "There are more than %d records in that time. Ask for a shorter one.", binderMost)
	}
	if err := readFarm(r, tx, &b.Farm); err != nil {
		return err
	}
	zone, err := domain.Zone(b.Farm.TimeZone)
	if err != nil {
		return err
	}
	for i := range found {
		if err := found[i].into(b, names, zone); err != nil {
			return err
		}
	}
	return nil
}

func readFarm(r Reading, tx pgx.Tx, farm *domain.Farm) error {
	var body []byte
	if err := tx.QueryRow(r.Ctx, `select body from records where farm_id = $1 and id = $1`, r.Farm).Scan(&body); err != nil {
		return err
	}
	return json.Unmarshal(body, farm)
}

// into puts the record under every section that shows it. Private entries are counted and left out.
func (x *binderRow) into(b *domain.Binder, names map[uuid.UUID]string, zone *time.Location) error {
	sheet := ""
	if x.Kind == "log-entry" {
		var e domain.LogEntry
		if err := json.Unmarshal(x.Body, &e); err != nil {
			return err
		}
		if e.Private {
			b.Withheld++
			return nil
		}
		sheet = e.Sheet
	}
	record, err := x.record(names, zone)
	if err != nil {
		return err
	}
	for i := range b.Scope.Sections {
		s := &b.Scope.Sections[i]
		shown := sheet != "" && contains(s.Sheets, sheet) || sheet == "" && contains(s.Kinds, x.Kind)
		if shown {
			s.Records = append(s.Records, record)
		}
	}
	return nil
}

func contains(list []string, word string) bool {
	for _, w := range list {
		if w == word {
			return true
		}
	}
	return false
}

func (x *binderRow) record(names map[uuid.UUID]string, zone *time.Location) (r domain.BinderRecord, err error) {
	var e domain.Entry
	if err := json.Unmarshal([]byte(x.Leaf), &e); err != nil {
		return r, err
	}
	says, err := inOrder(x.Kind, x.Body)
	if err != nil {
		return r, err
	}
	r = domain.BinderRecord{ID: x.ID, Kind: kindWords(x.Kind), Entry: x.Seq, On: x.On, Says: domain.SayRecord(says, names), DoneBy: names[e.DoneBy],
		TypedBy: names[e.TypedBy], EnteredAt: e.EnteredAt, LateDays: max(0, e.Late(zone)), LateWhy: e.Reason, Voided: x.Voided}
	if domain.Register(x.Kind) {
		r.LateDays = 0 // what the farm is was not an act of a day
	}
	var since []domain.Entry
	if err := json.Unmarshal(x.Since, &since); err != nil {
		return r, err
	}
	said := e.Body
	for i := range since {
		c := &since[i]
		if c.EntryKind == "review" {
			var body reviewBody
			if err := json.Unmarshal(c.Body, &body); err != nil {
				return r, err
			}
			signed := names[c.DoneBy] + ", " + domain.DateIn(c.EnteredAt, zone).String()
			if body.Own {
				signed += ", who wrote it too, because nobody else could sign"
			}
			r.Signed = append(r.Signed, signed)
			continue
		}
		change := domain.BinderChange{Entry: c.Seq, Kind: c.EntryKind, By: names[c.TypedBy], At: c.EnteredAt, Reason: c.Reason}
		if c.EntryKind == "correction" {
			var body correctionBody
			if err := json.Unmarshal(c.Body, &body); err != nil {
				return r, err
			}
			change.Was = was(said, body.Changes, names)
			said = body.Record
		}
		r.Changes = append(r.Changes, change)
	}
	return r, nil
}

// was gives the changed fields as they stood before.
func was(before, changes json.RawMessage, names map[uuid.UUID]string) []string {
	var old, changed map[string]json.RawMessage
	if json.Unmarshal(before, &old) != nil || json.Unmarshal(changes, &changed) != nil {
		return nil
	}
	kept := map[string]json.RawMessage{}
	var out []string
	for name := range changed {
		if v, ok := old[name]; ok {
			kept[name] = v
		} else {
			out = append(out, strings.ReplaceAll(name, "_", " ")+": not given")
		}
	}
	raw, err := json.Marshal(kept) // in the order of the names
	if err != nil {
		return nil
	}
	return append(domain.SayRecord(raw, names), out...)
}

// inOrder writes a body with its fields in the order of the noun, as people fill them in.
func inOrder(kind string, body json.RawMessage) (json.RawMessage, error) {
	r := newOf(kind)
	if r == nil {
		return body, nil
	}
	if err := json.Unmarshal(body, r); err != nil {
		return nil, err
	}
	return json.Marshal(r)
}

// exercise works the two exercises of an organic inspection on the lots of a crop cut in the period: where all of it
// went, and the way of the lot that left last back to the ground.
func exercise(r Reading, tx pgx.Tx, asked BinderAsked) (*domain.BinderExercise, error) {
	x := &domain.BinderExercise{Crop: asked.Crop}
	rows, err := tx.Query(r.Ctx, `select l.id from lots l join plantings p on p.farm_id = $1 and p.id = l.planting_id join records c on c.farm_id = $1 and c.id = p.crop_id
		where l.farm_id = $1 and lower(c.body ->> 'name') = lower($2) and l.cut_from between $3 and $4`, r.Farm, asked.Crop, asked.From, asked.To)
	if err != nil {
		return nil, err
	}
	cut, err := pgx.CollectRows(rows, pgx.RowTo[uuid.UUID])
	if err != nil {
		return nil, err
	}
	if len(cut) == 0 {
		x.Gaps = []string{"No lot of " + asked.Crop + " was cut in this period, so there is nothing to trace or to balance."}
		return x, nil
	}
	scope, _, err := chain(r, tx, cut, false)
	if err != nil {
		return nil, err
	}
	ids := make([]uuid.UUID, len(scope))
	for i, l := range scope {
		ids[i] = l.ID
	}
	if x.Lots, err = recallLots(r, tx, ids, ids); err != nil {
		return nil, err
	}
	x.Balance = domain.Balances(x.Lots)
	for _, l := range x.Lots {
		if gap := l.PackingGap(); gap != "" {
			x.Gaps = append(x.Gaps, gap)
		}
	}
	err = tx.QueryRow(r.Ctx, `select l.code from shipment_lines s join lots l on l.farm_id = $1 and l.id = s.lot_id
		where s.farm_id = $1 and s.lot_id = any($2) and s.direction = 'out' order by s.at desc, l.code limit 1`, r.Farm, ids).Scan(&x.Start)
	if err == pgx.ErrNoRows {
		x.Gaps = append(x.Gaps, "None of it has been shipped; the trace-back starts from the lot cut last.")
		x.Start, err = x.Lots[len(x.Lots)-1].Code, nil
	}
	return x, err
}
