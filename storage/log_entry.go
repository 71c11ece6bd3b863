package storage

import (
	"encoding/json"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"croftmark/domain"
)

// logEntry notes an entry by its sheet, and whom or what it is about.
func (x index) logEntry(r *domain.LogEntry) error {
	var people []*uuid.UUID
	var places []*string
	for _, m := range r.Marks() {
		person, place := nullID(m.PersonID), &m.Place
		if person != nil {
			place = nil
		}
		people, places = append(people, person), append(places, place)
	}
	at := &r.DoneAt
	if at.IsZero() {
		at = nil
	}
	return x.exec(`with gone as (delete from log_marks where farm_id = $1 and record_id = $2), entry as (
			insert into log_entries (farm_id, record_id, sheet, on_date, open_action) values ($1, $2, $3, $4, $5)
			on conflict (farm_id, record_id) do update set on_date = excluded.on_date, open_action = excluded.open_action)
		insert into log_marks (farm_id, record_id, sheet, on_date, at, person_id, place)
		select $1, $2, $3, $4, $6, m.person_id, m.place from unnest($7::uuid[], $8::text[]) as m (person_id, place)`,
		r.ID, r.Sheet, r.On, r.OpenAction(), at, people, places)
}

// sheetOf finds a sheet by its key: of the program, or of the farm.
func (w *writing) sheetOf(key string) (*domain.LogSheet, error) {
	if s, ok := domain.BuiltInSheet(key); ok {
		return s, nil
	}
	return sheetOfFarm(w.reading(), w.tx, key)
}

func (w *writing) reading() Reading { return Reading{Ctx: w.ctx, Farm: w.actor.FarmID} }

// sheetOfFarm finds a sheet that the farm made; nil when there is none of the key.
func sheetOfFarm(r Reading, tx pgx.Tx, key string) (*domain.LogSheet, error) {
	var body []byte
	err := tx.QueryRow(r.Ctx, `select body from records where farm_id = $1 and kind = 'log-sheet' and body ->> 'key' = $2`, r.Farm, key).Scan(&body)
	if err == pgx.ErrNoRows {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	s := &domain.LogSheet{}
	return s, json.Unmarshal(body, s)
}

// decideLogSheet keeps keys apart, and lets a sheet change only so that its entries stay readable.
func (w *writing) decideLogSheet(s *domain.LogSheet) error {
	before, err := sheetOfFarm(w.reading(), w.tx, s.Key)
	if err != nil {
		return err
	}
	var p domain.Problems
	if w.corrected != nil {
		s.After(before, &p)
	} else {
		p.Check(before == nil, "/key", "The farm has a sheet %q already. Choose another key, or correct that one.", s.Key)
	}
	return p.Err()
}

// decideLogEntry types an entry by its sheet and checks what it names.
func (w *writing) decideLogEntry(e *domain.LogEntry) ([]string, error) {
	sheet, err := w.sheetOf(e.Sheet)
	if err != nil {
		return nil, err
	}
	var p domain.Problems
	if sheet == nil {
		p.Add("/sheet", "There is no sheet %q. The sheets are at /v1/log-sheets.", e.Sheet)
		return nil, p.Err()
	}
	if sheet.Private && !w.actor.Role.AtLeast(domain.Lead) {
		return nil, domain.Refuse(domain.CodeNotAllowed, "Not yours to write", "The sheet %s is private: leads and the owner write and read it. Tell one of them.", sheet.Title.En)
	}
	e.Settle(sheet, w.now, w.zone, &p)
	if err := p.Err(); err != nil {
		return nil, err
	}
	if err := w.checkNamed(e.Named(sheet), &p); err != nil {
		return nil, err
	}
	return e.Warnings(sheet), p.Err()
}

// checkNamed makes sure that people, beds and lots that values name are of this farm.
func (w *writing) checkNamed(named []domain.NamedValue, p *domain.Problems) error {
	var ids []uuid.UUID
	var codes []string
	for _, n := range named {
		if id, err := uuid.Parse(n.Value); err == nil && n.Kind != "lot" {
			ids = append(ids, id)
		} else if n.Kind == "lot" {
			codes = append(codes, n.Value)
		}
	}
	refs := map[uuid.UUID]ref{}
	if len(ids) > 0 {
		var err error
		if refs, err = w.refs(ids...); err != nil {
			return err
		}
	}
	lots := map[string]bool{}
	if len(codes) > 0 {
		rows, err := w.tx.Query(w.ctx, `select code from lots where farm_id = $1 and code = any($2)`, w.actor.FarmID, codes)
		if err != nil {
			return err
		}
		known, err := pgx.CollectRows(rows, pgx.RowTo[string])
		if err != nil {
			return err
		}
		for _, code := range known {
			lots[code] = true
		}
	}
	for _, n := range named {
		if n.Kind == "lot" {
			p.Check(lots[n.Value], n.Pointer, "There is no lot %s in this farm's book.", n.Value)
			continue
		}
		need(p, refs, n.Pointer, n.Kind, uuid.MustParse(n.Value))
	}
	return nil
}

// Sheets lists the farm's own sheets, oldest first.
func (db *DB) Sheets(r Reading) (out []Record, err error) {
	err = db.read(r.Ctx, r.Farm, func(tx pgx.Tx) error {
		rows, err := tx.Query(r.Ctx, `select `+recordColumns+recordSource+`where r.farm_id = $1 and r.kind = 'log-sheet' order by r.first_seq`, r.Farm)
		if err != nil {
			return err
		}
		out, err = pgx.CollectRows(rows, scanRecord)
		return err
	})
	return out, err
}

// Sheet finds a sheet by its key: of the program, or of the farm.
func (db *DB) Sheet(r Reading, key string) (s *domain.LogSheet, err error) {
	if s, ok := domain.BuiltInSheet(key); ok {
		return s, nil
	}
	err = db.read(r.Ctx, r.Farm, func(tx pgx.Tx) error {
		s, err = sheetOfFarm(r, tx, key)
		if err == nil && s == nil {
			err = domain.NotFound("log sheet", key)
		}
		return err
	})
	return s, err
}

// PrivateRecords tells which of some records only leads and the owner may read.
func (db *DB) PrivateRecords(r Reading, ids []uuid.UUID) (out map[uuid.UUID]bool, err error) {
	out = map[uuid.UUID]bool{}
	err = db.read(r.Ctx, r.Farm, func(tx pgx.Tx) error {
		rows, err := tx.Query(r.Ctx, `select id from records where farm_id = $1 and id = any($2) and kind in ('log-entry', 'attachment') and body @> '{"private": true}'`, r.Farm, ids)
		if err != nil {
			return err
		}
		private, err := pgx.CollectRows(rows, pgx.RowTo[uuid.UUID])
		for _, id := range private {
			out[id] = true
		}
		return err
	})
	return out, err
}
