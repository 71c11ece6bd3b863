-- What is due, told every day to whoever asks for it, by e-mail or to a webhook.

-- +goose Up
create table daily_messages (
  farm_id    uuid not null constraint daily_messages_farm_known references book_heads,
  id         uuid not null,
  person_id  uuid not null,
  token_id   uuid not null,
  way        text not null constraint daily_messages_way_known check (way in ('email', 'webhook')),
  address    text not null,
  hour       smallint not null constraint daily_messages_hour_of_day check (hour between 0 and 23),
  language   text not null constraint daily_messages_language_known check (language in ('en', 'es')),
  secret     text,
  made_at    timestamptz not null,
  settled_on date not null,
  sent_at    timestamptz,
  failed_at  timestamptz,
  error      text,
  tested_at  timestamptz,
  constraint daily_messages_pkey primary key (farm_id, id),
  constraint daily_messages_token_known foreign key (farm_id, token_id) references tokens (farm_id, id),
  constraint daily_messages_webhook_signs check ((way = 'webhook') = (secret is not null))
);
comment on table daily_messages is 'Who is told every day what is due, and where. Addresses and signing secrets stay outside the book and are in no export. A message ends with the token by which it was asked for.';
comment on column daily_messages.settled_on is 'The last day of the farm that was sent, or given up.';

grant select, insert, update, delete on daily_messages to croftmark_service;
alter table daily_messages enable row level security;
alter table daily_messages force row level security;
create policy daily_messages_owner_looks_up on daily_messages for select to current_user using (true);
create policy daily_messages_own_farm on daily_messages to croftmark_service
  using (farm_id = (select croftmark_farm())) with check (farm_id = (select croftmark_farm()));

-- +goose StatementBegin
create function croftmark_daily_messages(at timestamptz) returns table (farm_id uuid, id uuid, hour int, settled_on date, time_zone text)
  language sql stable security definer set search_path = pg_catalog, pg_temp as $$
  select m.farm_id, m.id, m.hour::int, m.settled_on, f.body ->> 'time_zone'
  from public.daily_messages m join public.records f on f.farm_id = m.farm_id and f.id = m.farm_id
  where m.settled_on < ((at at time zone 'UTC') + interval '14 hours')::date
$$;
-- +goose StatementEnd
comment on function croftmark_daily_messages is 'Which messages are not settled for a day that has begun anywhere (14 hours are the furthest zone)? Ids, hour and zone, nothing that a farm wrote.';
grant execute on function croftmark_daily_messages(timestamptz) to croftmark_service;
revoke execute on function croftmark_daily_messages(timestamptz) from public;

-- The queue's tables lie in a schema of their own; its own migrations make them (migrations.go), and grant there.
create schema croftmark_queue;
grant usage on schema croftmark_queue to croftmark_service;
