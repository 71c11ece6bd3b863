package storage

import (
	"strconv"

	"github.com/google/uuid"

	"croftmark/domain"
)

// neverClears marks exposures that no day ends by itself, such as manure that was never worked in.
const neverClears = "infinity"

// input keeps the exposures of an input's deliveries in step when its category or species is corrected.
func (x index) input(r *domain.Input) error {
	return x.exposureEnds(`l.body @> jsonb_build_object('input_id', $2::text)`, r.ID)
}

// inputLot keeps the exposures of a delivery in step when it turns out to have been another input.
func (x index) inputLot(r *domain.InputLot) error {
	return x.exposureEnds(`l.id = $2`, r.ID)
}

// exposureEnds sets the end of the exposures of some deliveries anew, by the input they are of now.
func (x index) exposureEnds(which string, id uuid.UUID) error {
	return x.exec(`with delivery as materialized (
			select l.id, (l.body ->> 'input_id')::uuid as input_id from records l where l.farm_id = $1 and l.kind = 'input-lot' and `+which+`)
		update exposures e set ends_on = case
			when i.body ->> 'category' = any($3) and (coalesce(i.body ->> 'species', '') = '' or i.body ->> 'category' <> 'plant-material') then e.on_date
			when i.body ->> 'category' = $5 then e.on_date + $6::int
			when a.body ->> 'incorporated_on' is null then 'infinity'::date
			else (a.body ->> 'incorporated_on')::date + $4::int end
		from delivery l join records i on i.farm_id = $1 and i.id = l.input_id, records a
		where e.farm_id = $1 and e.input_lot_id = l.id and a.farm_id = $1 and a.id = e.record_id`,
		id, domain.NoIntervalCategories, domain.MemoryDays, string(domain.CropProtection), domain.MostLabelDays)
}

// application writes one exposure for each bed, or one for the plot. A material without any interval is kept for the
// trace and asks nothing of a harvest.
func (x index) application(r *domain.Application) error {
	ends := neverClears
	if !r.IncorporatedOn.IsZero() {
		ends = r.IncorporatedOn.AddDays(domain.MemoryDays).String()
	}
	return x.exec(`with gone as (delete from exposures where farm_id = $1 and record_id = $2),
		delivery as materialized (select (body ->> 'input_id')::uuid as input_id from records where farm_id = $1 and id = $3),
		material as (
			select i.body ->> 'category' as category, coalesce(i.body ->> 'species', '') as species
			from delivery l join records i on i.farm_id = $1 and i.id = l.input_id)
		insert into exposures (farm_id, record_id, bed_id, plot_id, on_date, ends_on, input_lot_id, compost_batch_id)
		select $1, $2, g.bed_id, g.plot_id, $6::date,
			case when exists (select from material m where m.category = any($8) and (m.species = '' or m.category <> 'plant-material'))
				then $6::date when exists (select from material m where m.category = $10) then $6::date + $11::int else $7::text::date end, $3, $4
		from (select unnest($5::uuid[]) as bed_id, null::uuid as plot_id
			union all select null, $9::uuid where $9::uuid is not null) as g`,
		r.ID, nullID(r.Source.InputLotID), nullID(r.Source.CompostBatchID), r.Ground.BedIDs, r.AppliedOn, ends,
		domain.NoIntervalCategories, nullID(r.Ground.PlotID), string(domain.CropProtection), domain.MostLabelDays)
}

func (x index) grazing(r *domain.Grazing) error {
	ends := neverClears
	if !r.To.IsZero() {
		ends = r.To.AddDays(domain.MemoryDays).String()
	}
	return x.exec(`with gone as (delete from exposures where farm_id = $1 and record_id = $2)
		insert into exposures (farm_id, record_id, bed_id, plot_id, on_date, ends_on)
		select $1, $2, g.bed_id, g.plot_id, $4::date, $5::text::date
		from (select unnest($3::uuid[]) as bed_id, null::uuid as plot_id
			union all select null, $6::uuid where $6::uuid is not null) as g`,
		r.ID, r.Ground.BedIDs, r.From, ends, nullID(r.Ground.PlotID))
}

// decideApplication checks an application against the book and says what follows from it.
func (w *writing) decideApplication(a *domain.Application) (warnings []string, err error) {
	ids := append([]uuid.UUID{}, a.Ground.BedIDs...)
	for _, id := range []uuid.UUID{a.Ground.PlotID, a.Source.InputLotID, a.Source.CompostBatchID} {
		if id != uuid.Nil {
			ids = append(ids, id)
		}
	}
	refs, err := w.refs(append(ids, a.CutBefore...)...)
	if err != nil {
		return nil, err
	}
	var p domain.Problems
	checkGround(&p, refs, a.Ground, a.AppliedOn)
	if err := checkCutBefore(&p, refs, a.CutBefore, a.AppliedOn); err != nil {
		return nil, err
	}
	if a.Source.CompostBatchID != uuid.Nil {
		return w.decideBatchUse(&p, refs, a)
	}
	if !need(&p, refs, "/source/input_lot_id", "input-lot", a.Source.InputLotID) {
		return nil, p.Err()
	}
	if err := refuseHeld(refs, a.Source.InputLotID, &a.Habits); err != nil {
		return nil, err
	}
	var lot domain.InputLot
	var input domain.Input
	if err := refs[a.Source.InputLotID].into(&lot); err != nil {
		return nil, err
	}
	if err := refs[lot.InputID].into(&input); err != nil {
		return nil, err
	}
	a.CheckLabel(&p, input.Category)
	p.Check(!a.AppliedOn.Before(lot.ReceivedOn), "/applied_on", "That delivery only came on %s.", lot.ReceivedOn)
	if err := p.Err(); err != nil {
		return nil, err
	}
	return append(heldWarnings(refs[lot.ID]), domain.ApplicationWarnings(a, &input, &lot)...), nil
}

func (w *writing) decideGrazing(g *domain.Grazing) error {
	ids := append([]uuid.UUID{}, g.Ground.BedIDs...)
	if g.Ground.PlotID != uuid.Nil {
		ids = append(ids, g.Ground.PlotID)
	}
	refs, err := w.refs(append(ids, g.CutBefore...)...)
	if err != nil {
		return err
	}
	var p domain.Problems
	checkGround(&p, refs, g.Ground, g.From)
	if err := checkCutBefore(&p, refs, g.CutBefore, g.From); err != nil {
		return err
	}
	return p.Err()
}

// checkCutBefore notes lots that were not cut on the day of what they are said to have been cut before.
func checkCutBefore(p *domain.Problems, refs map[uuid.UUID]ref, lots []uuid.UUID, on domain.Date) error {
	for i, id := range lots {
		at := "/cut_before/" + strconv.Itoa(i)
		if !need(p, refs, at, "harvest-lot", id) {
			continue
		}
		var lot domain.HarvestLot
		if err := refs[id].into(&lot); err != nil {
			return err
		}
		p.Check(lot.LastDay() == on, at, "Lot %s was cut until %s, this is of %s. Only for a cut of the same day it has to be said which came first.", lot.Code, lot.LastDay(), on)
	}
	return nil
}

func (w *writing) decideInputLot(l *domain.InputLot) ([]string, error) {
	refs, err := w.refs(l.InputID)
	if err != nil {
		return nil, err
	}
	var p domain.Problems
	if !need(&p, refs, "/input_id", "input", l.InputID) {
		return nil, p.Err()
	}
	var input domain.Input
	if err := refs[l.InputID].into(&input); err != nil {
		return nil, err
	}
	return domain.InputLotWarnings(&input, l), nil
}

// checkPeople notes ids that name no person of the farm.
func checkPeople(p *domain.Problems, refs map[uuid.UUID]ref, pointer string, ids []uuid.UUID) {
	for i, id := range ids {
		need(p, refs, pointer+"/"+strconv.Itoa(i), "person", id)
	}
}

// decideBatchUse checks an application of own compost and says how the batch stands on that day.
func (w *writing) decideBatchUse(p *domain.Problems, refs map[uuid.UUID]ref, a *domain.Application) ([]string, error) {
	if !need(p, refs, "/source/compost_batch_id", "compost-batch", a.Source.CompostBatchID) {
		return nil, p.Err()
	}
	if err := refuseHeld(refs, a.Source.CompostBatchID, &a.Habits); err != nil {
		return nil, err
	}
	var batch domain.CompostBatch
	if err := refs[a.Source.CompostBatchID].into(&batch); err != nil {
		return nil, err
	}
	a.CheckLabel(p, domain.BoughtCompost)
	p.Check(!a.AppliedOn.Before(batch.StartedOn), "/applied_on", "That batch was only built on %s.", batch.StartedOn)
	if err := p.Err(); err != nil {
		return nil, err
	}
	var raw []byte
	if err := w.tx.QueryRow(w.ctx, `select steps from compost_standings where farm_id = $1 and batch_id = $2`, w.actor.FarmID, batch.ID).Scan(&raw); err != nil {
		return nil, err
	}
	steps, err := list[domain.StandingStep](raw)
	if err != nil {
		return nil, err
	}
	return append(heldWarnings(refs[batch.ID]), domain.ExposureWarnings(a, a.BatchExposure(&batch, steps))...), nil
}

// heldWarnings speaks up when what was applied is on hold. The application has happened, so it is written down.
func heldWarnings(source ref) []string {
	if !source.Held {
		return nil
	}
	return []string{"What was applied is on hold. Tell the person who put it on hold; see what this ground is used for."}
}
