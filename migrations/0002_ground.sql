-- What the judgements look up: ground, what happened to it, what grows on it, what was cut from it.

-- +goose Up
create extension if not exists btree_gist;

create table plots (
  farm_id uuid not null,
  id      uuid not null,
  name    text not null,
  constraint plots_pkey primary key (farm_id, id),
  constraint plots_record foreign key (farm_id, id) references records (farm_id, id)
);
create unique index plots_name_unique on plots (farm_id, lower(name));

create table beds (
  farm_id    uuid not null,
  id         uuid not null,
  plot_id    uuid not null,
  name       text not null,
  valid_from date not null,
  valid_to   date,
  constraint beds_pkey primary key (farm_id, id),
  constraint beds_plot foreign key (farm_id, plot_id) references plots (farm_id, id),
  constraint beds_days check (valid_to is null or valid_to >= valid_from),
  constraint beds_name_in_force_once exclude using gist
    (farm_id with =, lower(name) with =, daterange(valid_from, valid_to) with &&)
);
create index beds_of_plot on beds (farm_id, plot_id);

create table bed_grounds (
  farm_id       uuid not null,
  bed_id        uuid not null,
  ground_bed_id uuid not null,
  direct        boolean not null default false,
  constraint bed_grounds_pkey primary key (farm_id, bed_id, ground_bed_id),
  constraint bed_grounds_bed foreign key (farm_id, bed_id) references beds (farm_id, id),
  constraint bed_grounds_ground foreign key (farm_id, ground_bed_id) references beds (farm_id, id)
);
comment on table bed_grounds is 'Every bed with itself and all older beds whose ground it lies on, through any number of re-layings. direct marks the beds it was laid on.';
create index bed_grounds_reverse on bed_grounds (farm_id, ground_bed_id, bed_id);

create table bed_pauses (
  farm_id       uuid not null,
  record_id     uuid not null,
  bed_id        uuid not null,
  on_date       date not null,
  in_production boolean not null,
  reason        text not null,
  constraint bed_pauses_pkey primary key (farm_id, record_id),
  constraint bed_pauses_bed foreign key (farm_id, bed_id) references beds (farm_id, id)
);
create index bed_pauses_of_bed on bed_pauses (farm_id, bed_id, on_date);

create table plantings (
  farm_id    uuid not null,
  id         uuid not null,
  crop_id    uuid not null,
  seed_lot_id uuid,
  planted_on date not null,
  ended_on   date,
  constraint plantings_pkey primary key (farm_id, id),
  constraint plantings_crop foreign key (farm_id, crop_id) references records (farm_id, id)
);
create index plantings_of_crop on plantings (farm_id, crop_id);
create index plantings_of_seed on plantings (farm_id, seed_lot_id) where seed_lot_id is not null;

create table planting_beds (
  farm_id     uuid not null,
  planting_id uuid not null,
  bed_id      uuid not null,
  constraint planting_beds_pkey primary key (farm_id, planting_id, bed_id),
  constraint planting_beds_planting foreign key (farm_id, planting_id) references plantings (farm_id, id) on delete cascade,
  constraint planting_beds_bed foreign key (farm_id, bed_id) references beds (farm_id, id)
);
create index planting_beds_of_bed on planting_beds (farm_id, bed_id, planting_id);

create table exposures (
  farm_id          uuid not null,
  record_id        uuid not null,
  bed_id           uuid,
  plot_id          uuid,
  on_date          date not null,
  ends_on          date not null,
  input_lot_id     uuid,
  compost_batch_id uuid,
  constraint exposures_one_ground check ((bed_id is null) <> (plot_id is null)),
  constraint exposures_days check (ends_on >= on_date),
  constraint exposures_bed foreign key (farm_id, bed_id) references beds (farm_id, id),
  constraint exposures_plot foreign key (farm_id, plot_id) references plots (farm_id, id)
);
comment on table exposures is 'What ground remembers. ends_on is the last day on which any rule could still ask about it; infinity while it has no end.';
create index exposures_of_bed on exposures (farm_id, bed_id, ends_on) where bed_id is not null;
create index exposures_of_plot on exposures (farm_id, plot_id, ends_on) where plot_id is not null;
create index exposures_of_record on exposures (farm_id, record_id);
create index exposures_of_input_lot on exposures (farm_id, input_lot_id) where input_lot_id is not null;
create index exposures_of_batch on exposures (farm_id, compost_batch_id) where compost_batch_id is not null;

create table holds (
  farm_id     uuid not null,
  id          uuid not null,
  target_kind text not null,
  target_id   uuid not null,
  on_date     date not null,
  released_on date,
  constraint holds_pkey primary key (farm_id, id)
);
create index holds_of_target on holds (farm_id, target_id);

create table lots (
  farm_id     uuid not null,
  id          uuid not null,
  kind        text not null,
  code        text collate "C" not null,
  planting_id uuid not null,
  cut_from    date not null,
  cut_to      date not null,
  unit        text not null,
  quantity    numeric not null constraint lots_quantity_positive check (quantity > 0),
  disposed    numeric not null default 0 constraint lots_disposed_not_negative check (disposed >= 0),
  verdict     text not null,
  judgement   jsonb not null,
  judged_seq  bigint not null,
  constraint lots_pkey primary key (farm_id, id),
  constraint lots_code_unique unique (farm_id, code),
  constraint lots_disposed_at_most_all check (disposed <= quantity),
  constraint lots_planting foreign key (farm_id, planting_id) references plantings (farm_id, id)
);
comment on column lots.verdict is 'The verdict as judged by the latest entry that could change it (judged_seq); always equal to judging the whole book afresh.';
create index lots_by_cut on lots (farm_id, cut_from);
create index lots_of_planting on lots (farm_id, planting_id);

create table lot_beds (
  farm_id uuid not null,
  lot_id  uuid not null,
  bed_id  uuid not null,
  constraint lot_beds_pkey primary key (farm_id, lot_id, bed_id),
  constraint lot_beds_lot foreign key (farm_id, lot_id) references lots (farm_id, id),
  constraint lot_beds_bed foreign key (farm_id, bed_id) references beds (farm_id, id)
);
create index lot_beds_of_bed on lot_beds (farm_id, bed_id, lot_id);

create table disposals (
  farm_id   uuid not null,
  record_id uuid not null,
  lot_id    uuid not null,
  on_date   date not null,
  unit      text not null,
  quantity  numeric not null,
  constraint disposals_pkey primary key (farm_id, record_id),
  constraint disposals_lot foreign key (farm_id, lot_id) references lots (farm_id, id)
);
create index disposals_of_lot on disposals (farm_id, lot_id);
