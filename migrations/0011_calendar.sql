-- The addresses of calendars: a calendar program can't send a token in a header, so a person's feed has a secret address.

-- +goose Up
create table calendar_addresses (
  farm_id   uuid not null constraint calendar_addresses_farm_known references book_heads,
  person_id uuid not null,
  hash      bytea not null constraint calendar_addresses_hash_unique unique,
  made_at   timestamptz not null,
  constraint calendar_addresses_pkey primary key (farm_id, person_id)
);
comment on table calendar_addresses is 'Secrets stay outside the book: only the SHA-256 of a random address is kept, and it is in no export. One for each person; a new one ends the one before.';

grant select, insert, update, delete on calendar_addresses to croftmark_service;
alter table calendar_addresses enable row level security;
alter table calendar_addresses force row level security;
create policy calendar_addresses_owner_looks_up on calendar_addresses for select to current_user using (true);
create policy calendar_addresses_own_farm on calendar_addresses to croftmark_service
  using (farm_id = (select croftmark_farm())) with check (farm_id = (select croftmark_farm()));

-- +goose StatementBegin
create function croftmark_calendar(address_hash bytea) returns table (farm_id uuid, person jsonb, voided boolean, time_zone text)
  language sql stable security definer set search_path = pg_catalog, pg_temp as $$
  select a.farm_id, p.body, p.voided, f.body ->> 'time_zone'
  from public.calendar_addresses a
    join public.records p on p.farm_id = a.farm_id and p.id = a.person_id and p.kind = 'person'
    join public.records f on f.farm_id = a.farm_id and f.id = a.farm_id
  where a.hash = address_hash
$$;
-- +goose StatementEnd
comment on function croftmark_calendar is 'Whose calendar is this address?';
grant execute on function croftmark_calendar(bytea) to croftmark_service;
revoke execute on function croftmark_calendar(bytea) from public;
