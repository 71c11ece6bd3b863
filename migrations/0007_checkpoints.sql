-- Signed checkpoints: what leaves the building so that nobody can rewrite the book unseen. The private key stays here and
-- is in no export.

-- +goose Up
create table signing_keys (
  farm_id  uuid primary key,
  verifier text not null,
  signer   text not null,
  constraint signing_keys_farm_known foreign key (farm_id) references book_heads
);

create table checkpoints (
  farm_id uuid not null,
  size    bigint not null,
  note    text not null,
  verifier text not null,
  constraint checkpoints_pkey primary key (farm_id, size),
  constraint checkpoints_farm_known foreign key (farm_id) references book_heads
);
comment on table checkpoints is 'Each signed checkpoint that was given out, as signed, with the public key of that time.';

grant select, insert on signing_keys, checkpoints to croftmark_service;
alter table signing_keys enable row level security;
create policy signing_keys_own_farm on signing_keys to croftmark_service
  using (farm_id = (select croftmark_farm())) with check (farm_id = (select croftmark_farm()));
alter table checkpoints enable row level security;
create policy checkpoints_own_farm on checkpoints to croftmark_service
  using (farm_id = (select croftmark_farm())) with check (farm_id = (select croftmark_farm()));
