-- The book: one append-only log per farm. Everything else in this database is an index of it and can be rebuilt.

-- +goose Up
-- +goose StatementBegin
do $$
begin
  if not exists (select from pg_roles where rolname = 'croftmark_service') then
    create role croftmark_service nologin nosuperuser nobypassrls nocreatedb nocreaterole;
  end if;
end
$$;
-- +goose StatementEnd

create table book_heads (
  farm_id  uuid primary key,
  farm_key text not null constraint book_heads_farm_key_unique unique,
  seq      bigint not null constraint book_heads_seq_not_negative check (seq >= 0),
  frontier bytea not null
);
comment on table book_heads is 'The end of each farm''s book. Locking a row makes that farm''s writes strictly sequential.';
comment on column book_heads.frontier is 'Right edge of the Merkle tree: one 32-byte hash for each bit set in seq, lowest level first.';

create table book_entries (
  farm_id     uuid not null constraint book_entries_farm_known references book_heads,
  seq         bigint not null constraint book_entries_seq_positive check (seq > 0),
  id          uuid not null,
  kind        text not null,
  record_id   uuid not null,
  request_key text,
  leaf        text not null,
  hashes      bytea not null,
  constraint book_entries_pkey primary key (farm_id, seq),
  constraint book_entries_id_unique unique (farm_id, id),
  constraint book_entries_hashes_whole check (octet_length(hashes) % 32 = 0 and octet_length(hashes) > 0)
);
comment on table book_entries is 'The book. leaf is the entry''s canonical JSON, byte for byte as hashed; hashes are the tree nodes it completed, leaf first.';
create index book_entries_record on book_entries (farm_id, record_id, seq);
create unique index book_entries_request_unique on book_entries (farm_id, request_key) where request_key is not null;

create table records (
  farm_id   uuid not null constraint records_farm_known references book_heads,
  id        uuid not null,
  kind      text not null,
  first_seq bigint not null,
  seq       bigint not null,
  done_on   date not null,
  body      jsonb not null,
  voided    boolean not null default false,
  reviews   jsonb not null default '[]',
  constraint records_pkey primary key (farm_id, id)
);
comment on table records is 'What each record says now, after corrections. first_seq is the entry that made it, seq the latest that changed it.';
create index records_newest on records (farm_id, kind, first_seq desc);

create table tokens (
  hash       bytea primary key,
  id         uuid not null constraint tokens_id_unique unique,
  farm_id    uuid not null constraint tokens_farm_known references book_heads,
  person_id  uuid not null,
  label      text not null,
  created_at timestamptz not null,
  expires_at timestamptz,
  revoked_at timestamptz
);
comment on table tokens is 'Credentials stay outside the book: only the SHA-256 of a random token is kept, and it is in no export.';
create index tokens_farm on tokens (farm_id);

-- +goose StatementBegin
create function croftmark_signed_in(token_hash bytea)
  returns table (farm_id uuid, person_id uuid, token_id uuid, expires_at timestamptz)
  language sql stable security definer set search_path = pg_catalog, pg_temp as $$
  select t.farm_id, t.person_id, t.id, t.expires_at from public.tokens t
  where t.hash = token_hash and t.revoked_at is null
$$;
-- +goose StatementEnd
comment on function croftmark_signed_in is 'The one look-up across farms that the service may make: whose token is this?';

-- +goose StatementBegin
create function croftmark_farm_by_key(key text) returns uuid
  language sql stable security definer set search_path = pg_catalog, pg_temp as $$
  select farm_id from public.book_heads where farm_key = key
$$;
-- +goose StatementEnd
