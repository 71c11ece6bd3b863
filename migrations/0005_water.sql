-- Water: what is known of each source, and where its water went. Findings lie among the exposures of ground.

-- +goose Up
create table water_events (
  farm_id   uuid not null,
  record_id uuid not null,
  source_id uuid not null,
  kind      text not null,
  at        timestamptz not null,
  constraint water_events_pkey primary key (farm_id, record_id),
  constraint water_events_source foreign key (farm_id, source_id) references records (farm_id, id)
);
create index water_events_of_source on water_events (farm_id, source_id, at);

create table water_touches (
  farm_id   uuid not null,
  record_id uuid not null,
  source_id uuid not null,
  tap       text not null,
  use       text not null,
  from_at   timestamptz not null,
  to_at     timestamptz not null,
  bed_id    uuid,
  plot_id   uuid,
  lot_id    uuid,
  constraint water_touches_one_place check (num_nonnulls(bed_id, plot_id, lot_id) = 1),
  constraint water_touches_source foreign key (farm_id, source_id) references records (farm_id, id),
  constraint water_touches_bed foreign key (farm_id, bed_id) references beds (farm_id, id),
  constraint water_touches_plot foreign key (farm_id, plot_id) references plots (farm_id, id),
  constraint water_touches_lot foreign key (farm_id, lot_id) references lots (farm_id, id)
);
create index water_touches_of_record on water_touches (farm_id, record_id);
create index water_touches_of_bed on water_touches (farm_id, bed_id, from_at) where bed_id is not null;
create index water_touches_of_plot on water_touches (farm_id, plot_id, from_at) where plot_id is not null;
create index water_touches_of_lot on water_touches (farm_id, lot_id) where lot_id is not null;
create index water_touches_of_source on water_touches (farm_id, source_id, from_at);

create index lots_refused on lots (farm_id, judged_seq) where verdict in ('wait', 'ask', 'stop');

grant select, insert, update, delete on water_events, water_touches to croftmark_service;
alter table water_events enable row level security;
create policy water_events_own_farm on water_events to croftmark_service
  using (farm_id = (select croftmark_farm())) with check (farm_id = (select croftmark_farm()));
alter table water_touches enable row level security;
create policy water_touches_own_farm on water_touches to croftmark_service
  using (farm_id = (select croftmark_farm())) with check (farm_id = (select croftmark_farm()));
