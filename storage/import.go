package storage

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"strings"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"croftmark/domain"
)

// ImportResult is what became of a table, or in a dry run what would have become of it.
type ImportResult struct {
	Rows     int
	IDs      []uuid.UUID // of the records written; none in a dry run
	Entry    int64       // the last entry written
	Problems []domain.RowProblem
	Warnings []domain.RowProblem
	Rejudged []Rejudged
	Replayed bool
}

// errUndone ends an import that leaves nothing: a dry run, or one with problems.
var errUndone = errors.New("the import was taken back")

// Import writes the rows of a table through the door: all of them, or nothing when any has a problem. A dry run does all
// the same and takes it back, so that it finds what the real one would, also between the rows of the table.
func (db *DB) Import(ctx context.Context, actor Actor, mark *domain.RequestMark, kind domain.ImportKind, rows []domain.ImportRow, bad []domain.RowProblem, dry bool, progress func(rows int)) (out ImportResult, err error) {
	out.Rows, out.Problems = len(rows), bad
	prior, err := db.write(ctx, actor, mark, func(w *writing) error {
		for i, row := range rows {
			if err := w.importRow(kind, row, &out); err != nil {
				return err
			}
			if progress != nil && (i+1)%100 == 0 {
				progress(i + 1)
			}
		}
		if dry || len(out.Problems) > 0 || len(out.IDs) == 0 {
			return errUndone
		}
		out.Entry = w.head.size
		return nil
	})
	switch {
	case errors.Is(err, errUndone):
		out.IDs, err = nil, nil
	case err == nil && prior != nil:
		out.Replayed, out.IDs, out.Entry = true, []uuid.UUID{prior.RecordID}, prior.Seq
	}
	return out, err
}

// importRow writes one row under a savepoint, so that a row the database refuses is told like one that we refuse, and
// the rest is still looked at.
func (w *writing) importRow(kind domain.ImportKind, row domain.ImportRow, out *ImportResult) error {
	record, bad := domain.ReadImportRow(kind, row, bookNames{w})
	if len(bad) > 0 {
		out.Problems = append(out.Problems, bad...)
		return nil
	}
	before := w.here()
	if _, err := w.tx.Exec(w.ctx, "savepoint row"); err != nil {
		return err
	}
	written, err := w.writeRow(record)
	if err == nil {
		_, err = w.tx.Exec(w.ctx, "release savepoint row")
	}
	var refused *domain.Error
	switch err = translate(err); {
	case err == nil:
	case errors.As(err, &refused) && refused.Code != domain.CodeUnavailable:
		w.back(before)
		out.Problems = append(out.Problems, rowProblems(row.Line, refused)...)
		_, err := w.tx.Exec(w.ctx, "rollback to savepoint row")
		return err
	default:
		return err
	}
	out.IDs, out.Rejudged = append(out.IDs, written.ID), append(out.Rejudged, written.Rejudged...)
	for _, text := range written.Warnings {
		out.Warnings = append(out.Warnings, domain.RowProblem{Line: row.Line, Detail: text})
	}
	return nil
}

// writeRow is what Record does with one record, in the transaction of the whole table.
func (w *writing) writeRow(r domain.Record) (Outcome, error) {
	if err := domain.CheckRecord(r, w.today, w.zone); err != nil {
		return Outcome{}, err
	}
	if err := w.giveID(r); err != nil {
		return Outcome{}, err
	}
	w.doneBy, w.known = uuid.Nil, nil
	if by := domain.HabitsOf(r).DoneBy; by != w.actor.PersonID {
		w.doneBy = by
	}
	out, refusal, err := w.dispatch(r)
	if err == nil && refusal != nil {
		err = refusal
	}
	if err != nil {
		return out, err
	}
	if err := w.flushLots(); err != nil {
		return out, err
	}
	return out, w.settle()
}

// rowProblems tells a refusal by the columns of the table.
func rowProblems(line int, e *domain.Error) (out []domain.RowProblem) {
	for _, f := range e.Fields {
		column, _, _ := strings.Cut(strings.TrimPrefix(f.Pointer, "#/"), "/")
		if plain, ok := importedAs[column]; ok {
			column = plain
		}
		out = append(out, domain.RowProblem{Line: line, Column: column, Detail: f.Detail})
	}
	if len(out) > 0 {
		return out
	}
	detail := e.Detail
	if e.Code == domain.CodeHarvestRefused {
		detail += " If it was cut all the same, write yes under already_cut: the lot is then held."
	}
	return []domain.RowProblem{{Line: line, Detail: detail}}
}

// importedAs gives the column that a field of a record is read from, where they differ.
var importedAs = map[string]string{"bed_ids": "beds", "ground": "beds", "source": "input", "plot_id": "plot", "crop_id": "crop", "planting_id": "crop"}

// place is how far a write has come, to go back to.
type place struct {
	head                          frontier
	entries, rows, records, lotsN int
	mark                          *domain.RequestMark
}

func (w *writing) here() place {
	return place{frontier{w.head.size, maps.Clone(w.head.hashes)}, len(w.entries), len(w.rows), len(w.records), len(w.lots), w.mark}
}

// back forgets what was gathered since a place.
func (w *writing) back(p place) {
	*w.head = p.head
	w.entries, w.rows, w.records, w.lots = w.entries[:p.entries], w.rows[:p.rows], w.records[:p.records], w.lots[:p.lotsN]
	w.mark, w.queue = p.mark, pgx.Batch{}
}

// bookNames finds things by their names in the book as it stands in this write.
type bookNames struct{ w *writing }

// one gives the id when exactly one was found, and otherwise the sentence for none or for several.
func (b bookNames) one(none, several, sql string, args ...any) (uuid.UUID, string) {
	w := b.w
	rows, err := w.tx.Query(w.ctx, sql, append([]any{w.actor.FarmID}, args...)...)
	if err != nil {
		return uuid.Nil, "The book could not be read."
	}
	ids, err := pgx.CollectRows(rows, pgx.RowTo[uuid.UUID])
	switch {
	case err != nil:
		return uuid.Nil, "The book could not be read."
	case len(ids) == 0:
		return uuid.Nil, none
	case len(ids) > 1:
		return uuid.Nil, several
	}
	return ids[0], ""
}

func (b bookNames) Plot(name string) (uuid.UUID, string) {
	none := fmt.Sprintf("There is no plot %q. Write the plot down first.", name)
	return b.one(none, none, `select id from plots where farm_id = $1 and lower(name) = lower($2)`, name)
}

func (b bookNames) Bed(name string, on domain.Date) (uuid.UUID, string) {
	none := fmt.Sprintf("There was no bed %q on %s.", name, on)
	return b.one(none, none, `select id from beds where farm_id = $1 and lower(name) = lower($2) and valid_from <= $3 and (valid_to is null or valid_to > $3)`, name, on)
}

func (b bookNames) Crop(name, variety string) (uuid.UUID, string) {
	return b.one(fmt.Sprintf("There is no crop %q in the crop list.", strings.TrimSpace(name+" "+variety)),
		fmt.Sprintf("There are several crops %q. Give the variety.", name),
		`select id from records where farm_id = $1 and kind = 'crop' and not voided and lower(body ->> 'name') = lower($2)
			and ($3 = '' or lower(body ->> 'variety') = lower($3)) limit 2`, name, variety)
}

func (b bookNames) Planting(crop uuid.UUID, beds []uuid.UUID, on, planted domain.Date) (uuid.UUID, string) {
	return b.one(fmt.Sprintf("No planting of this crop stood in all of these beds on %s.", on),
		"Several plantings of this crop stood there. Give planted_on.",
		`select p.id from plantings p where p.farm_id = $1 and p.crop_id = $2 and p.planted_on <= $4 and (p.ended_on is null or p.ended_on >= $4)
			and ($5::date is null or p.planted_on = $5) and $3::uuid[] <@ array(
				select g.bed_id from planting_beds pb join bed_grounds g on g.farm_id = $1 and g.ground_bed_id = pb.bed_id where pb.farm_id = $1 and pb.planting_id = p.id)
			limit 2`, crop, beds, on, planted)
}

func (b bookNames) InputLot(input, supplierLot string, on domain.Date) (uuid.UUID, string) {
	return b.one(fmt.Sprintf("No delivery of %q is in the book by %s. Write the delivery down first.", input, on),
		fmt.Sprintf("There are several deliveries of %q. Give supplier_lot.", input),
		`with input as materialized (select id::text from records where farm_id = $1 and kind = 'input' and lower(body ->> 'name') = lower($2))
		select l.id from records l where l.farm_id = $1 and l.kind = 'input-lot' and l.body ->> 'input_id' in (select id from input) and l.done_on <= $4
			and ($3 = '' or lower(l.body ->> 'supplier_lot') = lower($3)) limit 2`, input, supplierLot, on)
}

func (b bookNames) CompostBatch(code string) (uuid.UUID, string) {
	none := fmt.Sprintf("There is no compost batch %q.", code)
	return b.one(none, none, `select id from records where farm_id = $1 and kind = 'compost-batch' and lower(body ->> 'code') = lower($2) limit 2`, code)
}

func (b bookNames) Person(name string) (uuid.UUID, string) {
	return b.one(fmt.Sprintf("There is no person %q in the book.", name), fmt.Sprintf("%q fits several people. Give the whole name.", name),
		`select id from records where farm_id = $1 and kind = 'person' and not voided and (lower(body ->> 'name') = lower($2) or lower(body ->> 'initials') = lower($2)) limit 2`, name)
}
