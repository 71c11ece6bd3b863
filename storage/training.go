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

// trainedSQL gives the last training of people up to the day of each, in the order of their names.
const trainedSQL = `select p.id, p.body ->> 'name', p.body ->> 'initials', max(m.on_date)
	from unnest($2::uuid[], $3::date[]) as h (id, on_date) join records p on p.farm_id = $1 and p.id = h.id and p.kind = 'person'
		left join log_marks m on m.farm_id = $1 and m.person_id = p.id and m.sheet = 'training' and m.on_date <= h.on_date
	group by p.id, p.body order by 2, 1`

func trainedBy(r Reading, tx pgx.Tx, people []uuid.UUID, days []domain.Date) ([]trainedRow, error) {
	rows, err := tx.Query(r.Ctx, trainedSQL, r.Farm, people, days)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowToStructByPos[trainedRow])
}

// askTraining asks for the training of those who handled produce on a day: the crew that is named, or else whoever did
// it. The answer is there after the next trip; where no rule asks for training, nobody is looked up.
func (w *writing) askTraining(on domain.Date, crew []uuid.UUID, doneBy uuid.UUID, into *[]domain.Trained) {
	if !domain.AsksForTraining(w.farm, on) {
		return
	}
	if doneBy == uuid.Nil {
		doneBy = w.actor.PersonID
	}
	if len(crew) == 0 {
		crew = []uuid.UUID{doneBy}
	}
	days := slices.Repeat([]domain.Date{on}, len(crew))
	w.queue.Queue(trainedSQL, w.actor.FarmID, crew, days).Query(func(rows pgx.Rows) error {
		list, err := pgx.CollectRows(rows, pgx.RowToStructByPos[trainedRow])
		for _, x := range list {
			*into = append(*into, domain.Trained{Name: x.Name, LastOn: x.LastOn})
		}
		return err
	})
}

// trainingWarnings tells whose training is not on record.
func (w *writing) trainingWarnings(crop *domain.Crop, on domain.Date, trained []domain.Trained) (out []string) {
	for _, reason := range domain.TrainingCautions(w.farm, crop, on, trained) {
		out = append(out, reason.Text)
	}
	return out
}
