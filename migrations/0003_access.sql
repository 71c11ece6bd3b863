-- Who may touch what. The service role may read and add to the book, never change it; it sees one farm at a time.

-- +goose Up
grant usage on schema public to croftmark_service;
grant select, insert on book_entries to croftmark_service;
grant select, insert, update on book_heads to croftmark_service;
grant select, insert, update, delete on
  records, plots, beds, bed_grounds, bed_pauses, plantings, planting_beds, exposures, holds, lots, lot_beds, disposals
  to croftmark_service;
grant select, insert, update on tokens to croftmark_service;
grant execute on function croftmark_signed_in(bytea), croftmark_farm_by_key(text) to croftmark_service;

-- +goose StatementBegin
create function croftmark_farm() returns uuid language sql stable as $$
  select nullif(current_setting('croftmark.farm_id', true), '')::uuid
$$;
-- +goose StatementEnd

-- +goose StatementBegin
do $$
declare t text;
begin
  foreach t in array array['book_heads', 'book_entries', 'records', 'tokens', 'plots', 'beds', 'bed_grounds',
    'bed_pauses', 'plantings', 'planting_beds', 'exposures', 'holds', 'lots', 'lot_beds', 'disposals']
  loop
    execute format('alter table %I enable row level security', t);
    execute format('create policy %I on %I to croftmark_service using (farm_id = (select croftmark_farm())) with check (farm_id = (select croftmark_farm()))', t || '_own_farm', t);
  end loop;
end
$$;
-- +goose StatementEnd
