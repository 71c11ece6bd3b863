-- People at the door: tokens that may do less than their person, sessions of phones, PINs, and the files that records
-- name. None of it but the files leaves the building: an export holds no token, no session and no PIN.

-- +goose Up
alter table tokens add column role text constraint tokens_role_known check (role in ('owner', 'lead', 'crew', 'reader'));
comment on column tokens.role is 'The most that may be done with the token; whatever its person may do when null.';

alter table tokens add constraint tokens_farm_id_unique unique (farm_id, id);

create table sessions (
  farm_id      uuid not null constraint sessions_farm_known references book_heads,
  id           uuid not null,
  hash         bytea not null constraint sessions_hash_unique unique,
  token_id     uuid not null,
  role         text not null constraint sessions_role_known check (role in ('owner', 'lead', 'crew', 'reader')),
  shared       boolean not null,
  label        text not null,
  person_id    uuid,
  person_until timestamptz not null,
  created_at   timestamptz not null,
  expires_at   timestamptz not null,
  ended_at     timestamptz,
  constraint sessions_pkey primary key (farm_id, id),
  constraint sessions_token_known foreign key (farm_id, token_id) references tokens (farm_id, id)
);
comment on table sessions is 'Phones that stay signed in by a cookie. Only the SHA-256 of the cookie is kept. A session ends with the token that opened it.';
comment on column sessions.person_id is 'Who is at the phone until person_until; on a shared phone people change by PIN.';

create table pins (
  farm_id      uuid not null constraint pins_farm_known references book_heads,
  person_id    uuid not null,
  hash         text not null,
  set_at       timestamptz not null,
  failures     int not null default 0,
  locked_until timestamptz,
  constraint pins_pkey primary key (farm_id, person_id)
);
comment on table pins is 'Argon2id hashes. failures counts wrong tries in a row; each makes the next wait longer.';

create table attachment_files (
  farm_id    uuid not null constraint attachment_files_farm_known references book_heads,
  hash       bytea not null,
  media_type text not null,
  content    bytea not null,
  thumbnail  bytea,
  constraint attachment_files_pkey primary key (farm_id, hash),
  constraint attachment_files_hash_right check (hash = sha256(content))
);
alter table attachment_files alter column content set storage external, alter column thumbnail set storage external;
comment on table attachment_files is 'The files that attachment records name, found by the SHA-256 of their content. The thumbnail is made from it.';

create index records_with_files on records (farm_id) where body ? 'attachments';
create index records_attachments on records (farm_id, (body ->> 'hash')) where kind = 'attachment';

grant select, insert, update on sessions, pins to croftmark_service;
grant select, insert on attachment_files to croftmark_service;

-- Whose credential is this? The two look-ups across farms, each in one trip: the credential, the person as the book has
-- them now, and the zone by which their last day ends.
drop function croftmark_signed_in(bytea);
-- +goose StatementBegin
create function croftmark_signed_in(token_hash bytea)
  returns table (farm_id uuid, token_id uuid, label text, role text, expires_at timestamptz, person jsonb, voided boolean, time_zone text)
  language sql stable security definer set search_path = pg_catalog, pg_temp as $$
  select t.farm_id, t.id, t.label, t.role, t.expires_at, p.body, p.voided, f.body ->> 'time_zone'
  from public.tokens t
    join public.records p on p.farm_id = t.farm_id and p.id = t.person_id and p.kind = 'person'
    join public.records f on f.farm_id = t.farm_id and f.id = t.farm_id
  where t.hash = token_hash and t.revoked_at is null
$$;
-- +goose StatementEnd
-- +goose StatementBegin
create function croftmark_session(session_hash bytea)
  returns table (farm_id uuid, session_id uuid, label text, role text, token_role text, shared boolean, expires_at timestamptz,
    person_until timestamptz, person jsonb, voided boolean, time_zone text)
  language sql stable security definer set search_path = pg_catalog, pg_temp as $$
  select s.farm_id, s.id, s.label, s.role, t.role, s.shared, s.expires_at, s.person_until, p.body, coalesce(p.voided, false), f.body ->> 'time_zone'
  from public.sessions s
    join public.tokens t on t.id = s.token_id and t.revoked_at is null
    join public.records f on f.farm_id = s.farm_id and f.id = s.farm_id
    left join public.records p on p.farm_id = s.farm_id and p.id = s.person_id and p.kind = 'person'
  where s.hash = session_hash and s.ended_at is null
$$;
-- +goose StatementEnd
grant execute on function croftmark_signed_in(bytea), croftmark_session(bytea) to croftmark_service;
revoke execute on function croftmark_signed_in(bytea), croftmark_session(bytea) from public;

-- Row-level security is forced, so that not even the owner's role reads rows of farms by chance. What the look-ups above
-- and the commands that go through all farms need, the owner is given by name. A later migration that changes rows has
-- to take the force off its table and put it back; a backup needs a role that bypasses row-level security.
-- +goose StatementBegin
do $$
declare t text;
begin
  foreach t in array array['sessions', 'pins', 'attachment_files'] loop
    execute format('alter table %I enable row level security', t);
    execute format('create policy %I on %I to croftmark_service using (farm_id = (select croftmark_farm())) with check (farm_id = (select croftmark_farm()))', t || '_own_farm', t);
  end loop;
  for t in select c.relname from pg_class c join pg_namespace n on n.oid = c.relnamespace
    where n.nspname = 'public' and c.relkind in ('r', 'p') and c.relrowsecurity
  loop
    execute format('alter table %I force row level security', t);
  end loop;
  foreach t in array array['book_heads', 'records', 'tokens', 'sessions'] loop
    execute format('create policy %I on %I for select to current_user using (true)', t || '_owner_looks_up', t);
  end loop;
end
$$;
-- +goose StatementEnd
