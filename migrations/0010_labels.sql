-- What scanned labels need: farms by their GS1 prefix, and the addresses of links for buyers.

-- +goose Up
create table gs1_prefixes (
  farm_id uuid not null,
  prefix  text not null,
  constraint gs1_prefixes_pkey primary key (farm_id),
  constraint gs1_prefixes_farm_known foreign key (farm_id) references book_heads
);
comment on table gs1_prefixes is 'The company prefix of each farm that has one, so that an address with a GTIN finds the farm.';
create index gs1_prefixes_by_prefix on gs1_prefixes (prefix);
insert into gs1_prefixes (farm_id, prefix)
  select farm_id, body ->> 'gs1_prefix' from records where kind = 'farm' and id = farm_id and body ->> 'gs1_prefix' <> '';

create table label_moves (
  farm_id   uuid not null,
  record_id uuid not null,
  lot_id    uuid not null,
  printed   int not null default 0,
  reprinted int not null default 0,
  spoiled   int not null default 0,
  void      int not null default 0,
  lost      int not null default 0,
  constraint label_moves_pkey primary key (farm_id, record_id, lot_id),
  constraint label_moves_lot foreign key (farm_id, lot_id) references lots (farm_id, id)
);
comment on table label_moves is 'What each print, discard and lost label did to the labels of a lot; printed counts the reprinted as well.';
insert into label_moves (farm_id, record_id, lot_id, printed, reprinted)
  select farm_id, id, (body ->> 'lot_id')::uuid, (body ->> 'copies')::int, case when (body ->> 'reprint')::bool then (body ->> 'copies')::int else 0 end
  from records where kind = 'label-print' and not voided;
create index label_moves_of_lot on label_moves (farm_id, lot_id);

create table buyer_addresses (
  farm_id uuid not null,
  link_id uuid not null,
  hash    bytea not null constraint buyer_addresses_hash_unique unique,
  made_at timestamptz not null,
  constraint buyer_addresses_pkey primary key (farm_id, link_id),
  constraint buyer_addresses_farm_known foreign key (farm_id) references book_heads
);
comment on table buyer_addresses is 'Secrets stay outside the book: only the SHA-256 of a random address is kept, and it is in no export.';

grant select, insert, update, delete on gs1_prefixes, label_moves to croftmark_service;
grant select, insert, update on buyer_addresses to croftmark_service;
alter table gs1_prefixes enable row level security;
alter table gs1_prefixes force row level security;
create policy gs1_prefixes_owner_looks_up on gs1_prefixes for select to current_user using (true);
create policy gs1_prefixes_own_farm on gs1_prefixes to croftmark_service
  using (farm_id = (select croftmark_farm())) with check (farm_id = (select croftmark_farm()));
alter table label_moves enable row level security;
alter table label_moves force row level security;
create policy label_moves_own_farm on label_moves to croftmark_service
  using (farm_id = (select croftmark_farm())) with check (farm_id = (select croftmark_farm()));
alter table buyer_addresses enable row level security;
alter table buyer_addresses force row level security;
create policy buyer_addresses_owner_looks_up on buyer_addresses for select to current_user using (true);
create policy buyer_addresses_own_farm on buyer_addresses to croftmark_service
  using (farm_id = (select croftmark_farm())) with check (farm_id = (select croftmark_farm()));

-- +goose StatementBegin
create function croftmark_farms_by_gs1_prefix(prefixes text[]) returns setof uuid
  language sql stable security definer set search_path = pg_catalog, pg_temp as $$
  select farm_id from public.gs1_prefixes where prefix = any(prefixes) order by farm_id
$$;
-- +goose StatementEnd
comment on function croftmark_farms_by_gs1_prefix is 'Which farms may have printed a label with this GTIN?';

-- +goose StatementBegin
create function croftmark_buyer_link(address_hash bytea) returns table (farm_id uuid, link_id uuid)
  language sql stable security definer set search_path = pg_catalog, pg_temp as $$
  select a.farm_id, a.link_id from public.buyer_addresses a where a.hash = address_hash
$$;
-- +goose StatementEnd
comment on function croftmark_buyer_link is 'Whose link is this address? Whether it still opens is told by the link''s record.';
grant execute on function croftmark_farms_by_gs1_prefix(text[]), croftmark_buyer_link(bytea) to croftmark_service;
revoke execute on function croftmark_farms_by_gs1_prefix(text[]), croftmark_buyer_link(bytea) from public;
