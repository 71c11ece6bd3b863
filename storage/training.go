package storage

import (
	"slices"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"croftmark/domain"
)

// trainedRow is a person with the day of the last training on record up to a day of theirs.
type trainedRow struct {
	ID       uuid.UUID
	Name     string
	Initials string
	LastOn   domain.Date
}

// trainedBy gives the last training of people up to the day of each, in the order of their names.
func trainedBy(r Reading, tx pgx.Tx, people []uuid.UUID, days []domain.Date) ([]trainedRow, error) {
	rows, err := tx.Query(r.Ctx, `select p.id, p.body ->> 'name', p.body ->> 'initials', max(m.on_date)
		from unnest($2::uuid[], $3::date[]) as h (id, on_date) join records p on p.farm_id = $1 and p.id = h.id and p.kind = 'person'
			left join log_marks m on m.farm_id = $1 and m.person_id = p.id and m.sheet = 'training' and m.on_date <= h.on_date
		group by p.id, p.body order by 2, 1`, r.Farm, people, days)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowToStructByPos[trainedRow])
}

// trainingWarnings tells whose training is not on record, of those who handled produce on a day: the crew that is named,
// or else whoever did it.
func (w *writing) trainingWarnings(crop *domain.Crop, on domain.Date, crew []uuid.UUID, doneBy uuid.UUID) (out []string, err error) {
	if !domain.AsksForTraining(w.farm, on) {
		return nil, nil
	}
	if len(crew) == 0 {
		crew = []uuid.UUID{doneBy}
	}
	days := slices.Repeat([]domain.Date{on}, len(crew))
	rows, err := trainedBy(w.reading(), w.tx, crew, days)
	if err != nil {
		return nil, err
	}
	people := make([]domain.Trained, len(rows))
	for i, x := range rows {
		people[i] = domain.Trained{Name: x.Name, LastOn: x.LastOn}
	}
	for _, reason := range domain.TrainingCautions(w.farm, crop, on, people) {
		out = append(out, reason.Text)
	}
	return out, nil
}
