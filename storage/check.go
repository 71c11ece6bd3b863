package storage

import (
	"context"
	"strconv"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"croftmark/domain"
)

// Reading is who reads: the context and the farm, so that signatures stay short.
type Reading struct {
	Ctx  context.Context
	Farm uuid.UUID
}

// Checked is the judgement of one planting in one bed on one day.
type Checked struct {
	PlantingID uuid.UUID
	BedID      uuid.UUID
	BedName    string
	PlotID     uuid.UUID
	Crop       string
	Contact    domain.SoilContact
	On         domain.Date
	domain.Judgement
}

// pairSQL finds the plantings that stand in beds in force on a day, also those planted under an older name: of one bed, of one planting, or of the whole farm. Each
// is a statement of its own, so that the plan that is kept for it goes by the id.
func pairSQL(bed, planting uuid.UUID) (sql string, args []any) {
	sql = pairsOnFarm
	narrow := func(column string, id uuid.UUID) {
		if id != uuid.Nil {
			args = append(args, id)
			sql += " and " + column + " = $" + strconv.Itoa(len(args)+2)
		}
	}
	narrow("b.id", bed)
	narrow("p.id", planting)
	return sql + " group by p.id, b.id, b.name order by b.name, p.id", args
}

const pairsOnFarm = `
select p.id, b.id from plantings p
join planting_beds pb on pb.farm_id = p.farm_id and pb.planting_id = p.id
join bed_grounds g on g.farm_id = p.farm_id and g.ground_bed_id = pb.bed_id
join beds b on b.farm_id = p.farm_id and b.id = g.bed_id
where p.farm_id = $1 and p.planted_on <= $2 and (p.ended_on is null or p.ended_on >= $2)
	and b.valid_from <= $2 and (b.valid_to is null or b.valid_to > $2)`

// HarvestCheck judges every planting that stands on a day, in one bed, of one planting, or on the whole farm. Two
// statements load all it needs, whatever the size of the book or the number of beds.
func (db *DB) HarvestCheck(r Reading, bed, planting uuid.UUID, on domain.Date) (out []Checked, err error) {
	err = db.readWith(r.Ctx, r.Farm, planOnce, func(tx pgx.Tx) error {
		out, err = harvestCheck(r, tx, bed, planting, on)
		return err
	})
	return out, err
}

type bedPlanting struct{ Planting, Bed uuid.UUID }

func harvestCheck(r Reading, tx pgx.Tx, bed, planting uuid.UUID, on domain.Date) ([]Checked, error) {
	sql, args := pairSQL(bed, planting)
	rows, err := tx.Query(r.Ctx, sql, append([]any{r.Farm, on}, args...)...)
	if err != nil {
		return nil, err
	}
	pairs, err := pgx.CollectRows(rows, pgx.RowToStructByPos[bedPlanting])
	if err != nil {
		return nil, err
	}
	beds, plantings := []uuid.UUID{}, []uuid.UUID{}
	for _, p := range pairs {
		beds, plantings = append(beds, p.Bed), append(plantings, p.Planting)
	}
	if len(pairs) == 0 && bed != uuid.Nil {
		beds = append(beds, bed)
	}
	facts, err := loadGround(r.Ctx, tx, r.Farm, beds, plantings, on, on)
	if err != nil {
		return nil, err
	}
	if bed != uuid.Nil && facts.Beds[bed] == nil {
		return nil, domain.NotFound("bed", bed.String())
	}
	out := make([]Checked, 0, len(pairs))
	for _, p := range pairs {
		b, pl := facts.Beds[p.Bed], facts.Plantings[p.Planting]
		out = append(out, Checked{
			PlantingID: p.Planting, BedID: p.Bed, BedName: b.Name, PlotID: b.PlotID, Crop: pl.Crop.Name, Contact: pl.Contact(), On: on,
			Judgement: domain.HarvestCheck(facts, p.Planting, []uuid.UUID{p.Bed}, on),
		})
	}
	return out, nil
}

// Today gives the farm's calendar day.
func (db *DB) Today(r Reading) (today domain.Date, farm *domain.Farm, err error) {
	rec, err := db.ReadRecord(r.Ctx, r.Farm, "farm", r.Farm)
	if err != nil {
		return today, nil, err
	}
	farm = &domain.Farm{}
	if err := ref(ref{Body: rec.Body}).into(farm); err != nil {
		return today, nil, err
	}
	zone, err := domain.Zone(farm.TimeZone)
	if err != nil {
		return today, nil, err
	}
	return domain.DateIn(db.instant(), zone), farm, nil
}
