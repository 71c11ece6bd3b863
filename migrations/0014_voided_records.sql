-- A packet tells of what was voided about its lots. Voided records are few among all that a book holds.
-- +goose Up
create index records_voided on records (farm_id, kind) where voided;
