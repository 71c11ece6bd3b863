-- From the shed to the buyer: what was packed from what, and what went to whom and came back.

-- +goose Up
alter table lots alter column planting_id drop not null;
alter table lots add column packed numeric not null default 0;
alter table lots add column shipped numeric not null default 0;
alter table lots add column returned numeric not null default 0;
alter table lots drop constraint lots_disposed_at_most_all;
alter table lots add constraint lots_used_at_most_all check (packed + shipped - returned + disposed <= quantity);
alter table lots add constraint lots_harvested_from_planting check (kind <> 'harvest-lot' or planting_id is not null);
comment on column lots.packed is 'What went into pack lots. On hand is quantity - packed - shipped + returned - disposed.';

create table lot_edges (
  farm_id   uuid not null,
  child_id  uuid not null,
  parent_id uuid not null,
  quantity  numeric not null,
  constraint lot_edges_pkey primary key (farm_id, child_id, parent_id),
  constraint lot_edges_child foreign key (farm_id, child_id) references lots (farm_id, id),
  constraint lot_edges_parent foreign key (farm_id, parent_id) references lots (farm_id, id),
  constraint lot_edges_not_itself check (child_id <> parent_id)
);
comment on table lot_edges is 'Which lots went into which pack lot; quantity is in the parent''s unit.';
create index lot_edges_of_parent on lot_edges (farm_id, parent_id, child_id);

create table shipment_lines (
  farm_id     uuid not null,
  record_id   uuid not null,
  line        int not null,
  customer_id uuid not null,
  at          timestamptz not null,
  direction   text not null constraint shipment_lines_direction check (direction in ('out', 'back')),
  reference   text not null,
  lot_id      uuid not null,
  crate       int not null,
  quantity    numeric not null,
  constraint shipment_lines_pkey primary key (farm_id, record_id, line),
  constraint shipment_lines_lot foreign key (farm_id, lot_id) references lots (farm_id, id),
  constraint shipment_lines_customer foreign key (farm_id, customer_id) references records (farm_id, id)
);
comment on table shipment_lines is 'Everything that left (out) or came back, by lot and crate (0: no crate); quantity in the lot''s unit.';
create index shipment_lines_of_lot on shipment_lines (farm_id, lot_id, crate, at);
create index shipment_lines_of_customer on shipment_lines (farm_id, customer_id, at);
create index shipment_lines_of_reference on shipment_lines (farm_id, reference);

grant select, insert, update, delete on lot_edges, shipment_lines to croftmark_service;
alter table lot_edges enable row level security;
create policy lot_edges_own_farm on lot_edges to croftmark_service
  using (farm_id = (select croftmark_farm())) with check (farm_id = (select croftmark_farm()));
alter table shipment_lines enable row level security;
create policy shipment_lines_own_farm on shipment_lines to croftmark_service
  using (farm_id = (select croftmark_farm())) with check (farm_id = (select croftmark_farm()));
