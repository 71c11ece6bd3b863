-- The look-ups of every request keep their plans: a function in SQL is planned at each call, which took longer than the rest
-- of it; one in PL/pgSQL once for each connection. What they answer stays the same.

-- +goose Up
-- +goose StatementBegin
create or replace function croftmark_signed_in(token_hash bytea)
  returns table (farm_id uuid, token_id uuid, label text, role text, expires_at timestamptz, person jsonb, voided boolean, time_zone text)
  language plpgsql stable security definer set search_path = pg_catalog, pg_temp set plan_cache_mode = force_generic_plan as $$
#variable_conflict use_column
begin
  return query select t.farm_id, t.id, t.label, t.role, t.expires_at, p.body, p.voided, f.body ->> 'time_zone'
  from public.tokens t
    join public.records p on p.farm_id = t.farm_id and p.id = t.person_id and p.kind = 'person'
    join public.records f on f.farm_id = t.farm_id and f.id = t.farm_id
  where t.hash = token_hash and t.revoked_at is null;
end
$$;
-- +goose StatementEnd
-- +goose StatementBegin
create or replace function croftmark_session(session_hash bytea)
  returns table (farm_id uuid, session_id uuid, label text, role text, token_role text, shared boolean, expires_at timestamptz,
    person_until timestamptz, person jsonb, voided boolean, time_zone text)
  language plpgsql stable security definer set search_path = pg_catalog, pg_temp set plan_cache_mode = force_generic_plan as $$
#variable_conflict use_column
begin
  return query select s.farm_id, s.id, s.label, s.role, t.role, s.shared, s.expires_at, s.person_until, p.body, coalesce(p.voided, false), f.body ->> 'time_zone'
  from public.sessions s
    join public.tokens t on t.id = s.token_id and t.revoked_at is null
    join public.records f on f.farm_id = s.farm_id and f.id = s.farm_id
    left join public.records p on p.farm_id = s.farm_id and p.id = s.person_id and p.kind = 'person'
  where s.hash = session_hash and s.ended_at is null;
end
$$;
-- +goose StatementEnd
