package storage

import (
	"strconv"

	"github.com/google/uuid"

	"croftmark/domain"
)

// planting writes a planting and its beds. A planting's row stays when it is corrected, because lots hang on it.
func (x index) planting(r *domain.Planting) error {
	if err := x.exec(`insert into plantings (farm_id, id, crop_id, seed_lot_id, planted_on, ended_on) values ($1, $2, $3, $4, $5, $6)
		on conflict (farm_id, id) do update set crop_id = excluded.crop_id, seed_lot_id = excluded.seed_lot_id,
			planted_on = excluded.planted_on, ended_on = excluded.ended_on`,
		r.ID, r.CropID, nullID(r.SeedLotID), r.PlantedOn, r.EndedOn); err != nil {
		return err
	}
	return x.exec(`with gone as (delete from planting_beds where farm_id = $1 and planting_id = $2 and not bed_id = any($3))
		insert into planting_beds (farm_id, planting_id, bed_id) select $1, $2, unnest($3::uuid[]) on conflict do nothing`, r.ID, r.BedIDs)
}

func earlier(a, b domain.Date) domain.Date {
	if b.Before(a) {
		return b
	}
	return a
}

// nullID writes the nil UUID as NULL.
func nullID(id uuid.UUID) *uuid.UUID {
	if id == uuid.Nil {
		return nil
	}
	return &id
}

// decidePlanting checks a planting, and warns when its first harvest is expected before the ground will be clear: the
// cheapest moment to find out.
func (w *writing) decidePlanting(pl *domain.Planting) (warnings []string, err error) {
	ids := append([]uuid.UUID{pl.CropID}, pl.BedIDs...)
	if pl.SeedLotID != uuid.Nil {
		ids = append(ids, pl.SeedLotID)
	}
	refs, err := w.refs(ids...)
	if err != nil {
		return nil, err
	}
	var p domain.Problems
	haveCrop := need(&p, refs, "/crop_id", "crop", pl.CropID)
	for i, id := range pl.BedIDs {
		pointer := "/bed_ids/" + strconv.Itoa(i)
		if need(&p, refs, pointer, "bed", id) {
			checkInForce(&p, refs[id], pointer, pl.PlantedOn)
		}
	}
	if pl.SeedLotID != uuid.Nil {
		need(&p, refs, "/seed_lot_id", "input-lot", pl.SeedLotID)
		if err := w.refuseHeldUse(refs, &pl.Habits, pl.SeedLotID); err != nil {
			return nil, err
		}
	}
	facts := &domain.PlantingFacts{Planting: *pl}
	if haveCrop {
		if err := refs[pl.CropID].into(&facts.Crop); err != nil {
			return nil, err
		}
		pl.CheckContact(&p, &facts.Crop)
	}
	if err := p.Err(); err != nil || w.corrected != nil {
		return nil, err
	}
	return w.plantingWarnings(pl, facts)
}

func (w *writing) plantingWarnings(pl *domain.Planting, facts *domain.PlantingFacts) ([]string, error) {
	first := pl.ExpectedHarvestOn
	if first.IsZero() && facts.Crop.DaysToHarvest > 0 {
		first = pl.PlantedOn.AddDays(facts.Crop.DaysToHarvest)
	}
	if first.IsZero() {
		return nil, nil
	}
	ground, err := loadGround(w.ctx, w.tx, w.actor.FarmID, pl.BedIDs, nil, earlier(w.today.AddDays(-1), pl.PlantedOn), first)
	if err != nil {
		return nil, err
	}
	ground.Plantings = map[uuid.UUID]*domain.PlantingFacts{pl.ID: facts}
	return domain.PlantingWarnings(ground, pl.ID, pl.BedIDs, first), nil
}
