package storage

import (
	"fmt"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"croftmark/domain"
)

// labelCount counts the labels of a lot without one record, so that a correction of it is not counted twice.
func labelCount(r Reading, tx pgx.Tx, lot, without uuid.UUID, crates int) (domain.LabelCount, error) {
	c := domain.LabelCount{Crates: crates}
	err := tx.QueryRow(r.Ctx, `select coalesce(sum(printed), 0), coalesce(sum(reprinted), 0), coalesce(sum(spoiled), 0), coalesce(sum(void), 0), coalesce(sum(lost), 0)
		from label_moves where farm_id = $1 and lot_id = $2 and record_id <> $3`, r.Farm, lot, without).
		Scan(&c.Printed, &c.Reprinted, &c.Spoiled, &c.Void, &c.Lost)
	return c.Settle(), err
}

// labelMove keeps what a record did to the labels of a lot, in place of what it said before.
func (x index) labelMove(record, lot uuid.UUID, c domain.LabelCount) error {
	if err := x.exec(`delete from label_moves where farm_id = $1 and record_id = $2`, record); err != nil {
		return err
	}
	return x.exec(`insert into label_moves (farm_id, record_id, lot_id, printed, reprinted, spoiled, void, lost) values ($1, $2, $3, $4, $5, $6, $7, $8)`,
		record, lot, c.Printed, c.Reprinted, c.Spoiled, c.Void, c.Lost)
}

func (x index) labelPrint(l *domain.LabelPrint) error {
	c := domain.LabelCount{Printed: l.Copies}
	if l.Reprint {
		c.Reprinted = l.Copies
	}
	return x.labelMove(l.ID, l.LotID, c)
}

// lostLabel counts a label as lost once its crate is known again and gets another.
func (x index) lostLabel(l *domain.LostLabel) error {
	if l.Decision == "identified" {
		return x.labelMove(l.ID, l.Lots[0].LotID, domain.LabelCount{Lost: 1})
	}
	return x.exec(`delete from label_moves where farm_id = $1 and record_id = $2`, l.ID)
}

// LabelCount tells what became of the labels of a lot that has so many crates.
func (db *DB) LabelCount(r Reading, lot uuid.UUID, crates int) (c domain.LabelCount, err error) {
	err = db.read(r.Ctx, r.Farm, func(tx pgx.Tx) error {
		c, err = labelCount(r, tx, lot, uuid.Nil, crates)
		return err
	})
	return c, err
}

// labelledLot reads the lot that labels are for, of either kind, with its crates.
func (w *writing) labelledLot(id uuid.UUID) (code string, crates int, err error) {
	refs, err := w.refs(id)
	if err != nil {
		return "", 0, err
	}
	var p domain.Problems
	kind := "harvest-lot"
	if refs[id].Kind == "pack-lot" {
		kind = "pack-lot"
	}
	need(&p, refs, "/lot_id", kind, id)
	if err := p.Err(); err != nil {
		return "", 0, err
	}
	if kind == "pack-lot" {
		var lot domain.PackLot
		err = refs[id].into(&lot)
		return lot.Code, lot.Crates, err
	}
	var lot domain.HarvestLot
	err = refs[id].into(&lot)
	return lot.Code, lot.Containers, err
}

// decideLabelPrint checks that lot and crates exist, and warns of labels that no crate needs.
func (w *writing) decideLabelPrint(l *domain.LabelPrint) ([]string, error) {
	code, crates, err := w.labelledLot(l.LotID)
	if err != nil {
		return nil, err
	}
	var p domain.Problems
	for i, n := range l.Crates {
		p.Check(n <= max(1, crates), "/crates/"+itoa(i), "Lot %s has %d crates.", code, max(1, crates))
	}
	if err := p.Err(); err != nil {
		return nil, err
	}
	count, err := labelCount(Reading{w.ctx, w.actor.FarmID}, w.tx, l.LotID, l.ID, crates)
	if err != nil || crates == 0 {
		return nil, err
	}
	count.Printed += l.Copies
	if count = count.Settle(); count.Difference <= 0 {
		return nil, nil
	}
	return []string{fmt.Sprintf("Lot %s has %d crates and now %d labels in use. Write down how many are spoiled or void.", code, crates, count.InUse)}, nil
}

// decideLabelDiscard lets no more labels go than were printed.
func (w *writing) decideLabelDiscard(d *domain.LabelDiscard) error {
	code, crates, err := w.labelledLot(d.LotID)
	if err != nil {
		return err
	}
	count, err := labelCount(Reading{w.ctx, w.actor.FarmID}, w.tx, d.LotID, d.ID, crates)
	if err != nil {
		return err
	}
	var p domain.Problems
	p.Check(d.Spoiled+d.Void <= count.InUse, "/spoiled", "Of lot %s %d labels are in use; %d cannot be spoiled or void. Write down the print first.", code, count.InUse, d.Spoiled+d.Void)
	return p.Err()
}

// decideLostLabel finds the lots behind the codes. Whose crate it is, or that it carries all, is for a lead to say.
func (w *writing) decideLostLabel(l *domain.LostLabel) ([]string, error) {
	if (l.Decision == "identified" || l.Decision == "carries-all") && !w.actor.Role.AtLeast(domain.Lead) {
		return nil, domain.Refuse(domain.CodeNotAllowed, "Not yours to do", "Set the crate aside. Whose it is, a lead decides and signs.")
	}
	codes := make([]string, len(l.May))
	parsed := make([]domain.TraceCode, len(l.May))
	for i, text := range l.May {
		code, err := domain.ParseCode(text)
		if err != nil {
			return nil, err
		}
		parsed[i], codes[i], l.May[i] = code, code.Lot, code.Text
	}
	lots, err := w.stockLots(codes)
	if err != nil {
		return nil, err
	}
	var p domain.Problems
	named := map[uuid.UUID]bool{}
	l.Lots = nil
	for i, code := range parsed {
		lot := lots[code.Lot]
		if lot == nil || code.Crate > max(1, lot.Crates) {
			p.Add("/may_be/"+itoa(i), "There is no lot or crate %s in this farm's book.", code.Text)
			continue
		}
		if !named[lot.ID] {
			l.Lots = append(l.Lots, domain.LostLot{LotID: lot.ID, Code: lot.Code})
		}
		named[lot.ID] = true
	}
	if err := p.Err(); err != nil {
		return nil, err
	}
	return lostLabelWords[l.Decision], nil
}

// lostLabelWords is what a person with the crate in hand does next.
var lostLabelWords = map[string][]string{
	"set-aside":   {"Keep the crate apart. It is not sold until a lead has decided."},
	"identified":  {"Print one label again for this crate, as a reprint, and have the decision signed by a second person."},
	"carries-all": {"Put a label of every lot on the crate. A recall of any of them takes this crate along."},
	"culled":      {"Write down the quantity as disposed of, of a lot that it may be of."},
}

// lostCrates tells of crates without a label that may hold a lot of a scope. They belong to the recall whatever lot
// they turn out to be of.
func lostCrates(r Reading, tx pgx.Tx, scope []uuid.UUID) ([]string, error) {
	rows, err := tx.Query(r.Ctx, `select format('A crate without its label, found on %s at %s, may be of lot %s. Take it along.', r.done_on, r.body ->> 'where',
			(select string_agg(l ->> 'code', ' or ' order by l ->> 'code') from jsonb_array_elements(r.body -> 'lots') l))
		from records r where r.farm_id = $1 and r.kind = 'lost-label' and not r.voided and r.body ->> 'decision' in ('set-aside', 'carries-all')
			and exists (select from jsonb_array_elements(r.body -> 'lots') l where (l ->> 'lot_id')::uuid = any($2))
		order by r.first_seq`, r.Farm, scope)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowTo[string])
}
