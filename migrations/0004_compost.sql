-- The farm's own compost: what happened to each batch, and how it stands.

-- +goose Up
create table compost_events (
  farm_id   uuid not null,
  record_id uuid not null,
  batch_id  uuid not null,
  kind      text not null,
  on_date   date not null,
  constraint compost_events_pkey primary key (farm_id, record_id),
  constraint compost_events_batch foreign key (farm_id, batch_id) references records (farm_id, id)
);
create index compost_events_of_batch on compost_events (farm_id, batch_id, kind);

create table compost_standings (
  farm_id    uuid not null,
  batch_id   uuid not null,
  started_on date not null,
  last_on    date not null,
  steps      jsonb not null,
  judged_seq bigint not null,
  constraint compost_standings_pkey primary key (farm_id, batch_id),
  constraint compost_standings_batch foreign key (farm_id, batch_id) references records (farm_id, id)
);
comment on table compost_standings is 'How each batch stands on any day, as judged by the latest entry that could change it; always equal to judging its records afresh.';

grant select, insert, update, delete on compost_events, compost_standings to croftmark_service;
alter table compost_events enable row level security;
create policy compost_events_own_farm on compost_events to croftmark_service
  using (farm_id = (select croftmark_farm())) with check (farm_id = (select croftmark_farm()));
alter table compost_standings enable row level security;
create policy compost_standings_own_farm on compost_standings to croftmark_service
  using (farm_id = (select croftmark_farm())) with check (farm_id = (select croftmark_farm()));
