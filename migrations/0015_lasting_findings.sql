-- Glass, a spill and whatever else was found speak until somebody has decided about them, also for what is planted later.
-- +goose Up
update exposures e set ends_on = 'infinity' from records r
  where r.farm_id = e.farm_id and r.id = e.record_id and r.kind = 'finding' and r.body ->> 'kind' in ('glass', 'spill', 'other');
