-- The days to harvest of a spray's label are asked about for a year after the spraying.
-- +goose Up
update exposures e set ends_on = e.on_date + 365 from records l, records i
  where l.farm_id = e.farm_id and l.id = e.input_lot_id and i.farm_id = e.farm_id and i.id = (l.body ->> 'input_id')::uuid
    and i.body ->> 'category' = 'crop-protection';
