-- Log sheets: which entries there are of each sheet, and whom or what they are about.

-- +goose Up
create table log_entries (
  farm_id     uuid not null,
  record_id   uuid not null,
  sheet       text not null,
  on_date     date not null,
  open_action boolean not null,
  constraint log_entries_pkey primary key (farm_id, record_id),
  constraint log_entries_record foreign key (farm_id, record_id) references records (farm_id, id)
);
comment on column log_entries.open_action is 'Something was out of limits and the entry does not say what was done.';
create index log_entries_of_sheet on log_entries (farm_id, sheet, on_date);
create index log_entries_open on log_entries (farm_id, on_date) where open_action;

create table log_marks (
  farm_id   uuid not null,
  record_id uuid not null,
  sheet     text not null,
  on_date   date not null,
  at        timestamptz,
  person_id uuid,
  place     text,
  constraint log_marks_one check (num_nonnulls(person_id, place) = 1),
  constraint log_marks_record foreign key (farm_id, record_id) references records (farm_id, id)
);
comment on table log_marks is 'Who was trained and what was cleaned; place in small letters. at is null while nobody wrote down the hour.';
create index log_marks_of_record on log_marks (farm_id, record_id);
create index log_marks_of_person on log_marks (farm_id, person_id, sheet, on_date) where person_id is not null;
create index log_marks_of_place on log_marks (farm_id, place, sheet, at) where place is not null;

grant select, insert, update, delete on log_entries, log_marks to croftmark_service;
alter table log_entries enable row level security;
create policy log_entries_own_farm on log_entries to croftmark_service
  using (farm_id = (select croftmark_farm())) with check (farm_id = (select croftmark_farm()));
alter table log_marks enable row level security;
create policy log_marks_own_farm on log_marks to croftmark_service
  using (farm_id = (select croftmark_farm())) with check (farm_id = (select croftmark_farm()));
