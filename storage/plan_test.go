package storage_test

import (
	"encoding/json"
	"testing"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"croftmark/domain"
	"croftmark/storage"
)

// hostedSQL fills the look-up tables with the books of 8 farms: 300 beds each on 10 plots, 600 plantings, 4,000 lots,
// 20,000 exposures, 2,000 pauses, as fifteen years would leave them. It goes past the book, which plans do not look at.
const hostedSQL = `
set session_replication_role = replica;
create temp table f as select gen_random_uuid() as farm, n from generate_series(1, 8) n;
insert into book_heads select farm, 'K' || n, 0, '' from f;
create temp table p as select farm, gen_random_uuid() as id, m as n from f, generate_series(0, 9) m;
create temp table b as select p.farm, p.id as plot, gen_random_uuid() as id, p.n * 30 + m as n from p, generate_series(0, 29) m;
create temp table c as select farm, gen_random_uuid() as id, m as n from f, generate_series(0, 19) m;
create temp table i as select farm, gen_random_uuid() as id, gen_random_uuid() as lot, m as n from f, generate_series(0, 9) m;
create temp table g as select b.farm, b.id as bed, gen_random_uuid() as id, b.n, m from b, generate_series(0, 1) m;
create temp table l as select g.farm, g.bed, g.id as planting, gen_random_uuid() as id, row_number() over (partition by g.farm) as n from g, generate_series(1, 7) k;
create temp table x as select b.farm, b.id as bed, gen_random_uuid() as id, date '2026-11-01' - (k * 82)::int as on_date, k from b, generate_series(0, 66) k;
insert into records (farm_id, id, kind, first_seq, seq, done_on, body)
	select farm, farm, 'farm', 1, 1, date '2026-01-01', '{"name": "F", "time_zone": "America/New_York"}'::jsonb from f
	union all select farm, id, 'plot', 1, 1, date '2026-01-01', jsonb_build_object('id', id, 'name', 'P' || n) from p
	union all select farm, id, 'bed', 1, 1, date '2026-01-01', jsonb_build_object('id', id, 'name', 'B' || n) from b
	union all select farm, id, 'crop', 1, 1, date '2026-01-01', jsonb_build_object('id', id, 'name', 'C' || n, 'soil_contact', 'touches') from c
	union all select farm, id, 'input', 1, 1, date '2026-01-01', jsonb_build_object('id', id, 'name', 'I' || n, 'category', 'raw-manure') from i
	union all select farm, lot, 'input-lot', 1, 1, date '2026-01-01', jsonb_build_object('id', lot, 'input_id', id, 'supplier', 'S', 'received_on', '2010-01-01') from i
	union all select g.farm, g.id, 'planting', 1, 1, date '2026-01-01', jsonb_build_object('id', g.id, 'crop_id', c.id, 'planted_on', '2026-04-01') from g join c on c.farm = g.farm and c.n = g.n % 20
	union all select x.farm, x.id, 'application', 1, 1, x.on_date, jsonb_build_object('id', x.id, 'source', jsonb_build_object('input_lot_id', i.lot),
		'ground', jsonb_build_object('bed_ids', jsonb_build_array(x.bed)), 'applied_on', x.on_date, 'incorporated_on', x.on_date, 'method', 'incorporated')
		from x join i on i.farm = x.farm and i.n = x.k % 10;
insert into plots select farm, id, 'P' || n from p;
insert into beds (farm_id, id, plot_id, name, valid_from) select farm, id, plot, 'B' || n, date '2010-01-01' from b;
insert into bed_grounds (farm_id, bed_id, ground_bed_id) select farm, id, id from b;
insert into plantings (farm_id, id, crop_id, planted_on, ended_on) select g.farm, g.id, c.id, date '2026-04-01' - 400 * m, case when m > 0 then date '2025-11-01' end from g join c on c.farm = g.farm and c.n = g.n % 20;
insert into planting_beds select farm, id, bed from g;
insert into exposures (farm_id, record_id, bed_id, on_date, ends_on, input_lot_id)
	select x.farm, x.id, x.bed, x.on_date, x.on_date + 1100, i.lot from x join i on i.farm = x.farm and i.n = x.k % 10;
insert into lots (farm_id, id, kind, code, planting_id, cut_from, cut_to, unit, quantity, verdict, judgement, judged_seq)
	select farm, id, 'harvest-lot', lpad((n % 90000)::text, 5, '0') || '-L' || n || '-RAD-1-SS', planting, date '2026-11-01' - (n % 1500)::int, date '2026-11-01' - (n % 1500)::int, 'lb', 40, 'clear', '{}', 1 from l;
insert into lot_beds select farm, id, bed from l;
insert into bed_pauses select farm, gen_random_uuid(), id, date '2026-01-01' - m, m % 2 = 0, 'rest' from b, generate_series(1, 6) m;
insert into holds select farm, gen_random_uuid(), 'bed', id, date '2026-01-01', date '2026-01-02' from b, generate_series(1, 3) m where b.n % 3 = 0;
insert into book_entries (farm_id, seq, id, kind, record_id, leaf, hashes)
	select farm_id, row_number() over (partition by farm_id), gen_random_uuid(), kind, id, '{}', '\x0000000000000000000000000000000000000000000000000000000000000000' from records where farm_id in (select farm from f);
analyze`

// Tables that a look-up must never read from end to end.
var neverWhole = map[string]bool{"exposures": true, "beds": true, "lots": true, "records": true, "book_entries": true}

// hosted is a database of many farms, seen as the service sees one of them.
type hosted struct {
	t    *testing.T
	tx   pgx.Tx
	farm uuid.UUID
}

func newHosted(t *testing.T) *hosted {
	f := newField(t, storage.Config{})
	f.asOwner(hostedSQL)
	h := &hosted{t: t}
	owner := connect(t, f.owner)
	if err := owner.QueryRow(ctx, `select farm_id from book_heads where farm_key = 'K7'`).Scan(&h.farm); err != nil {
		t.Fatal(err)
	}
	if n := f.count(`select count(*) from exposures where farm_id = $1`, h.farm); n < 20000 {
		t.Fatalf("%d exposures on the farm", n)
	}
	var err error
	if h.tx, err = connect(t, f.service).Begin(ctx); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { h.tx.Rollback(ctx) })
	if _, err := h.tx.Exec(ctx, `select set_config('croftmark.farm_id', $1, true)`, h.farm.String()); err != nil {
		t.Fatal(err)
	}
	return h
}

func (h *hosted) ids(sql string, args ...any) []uuid.UUID {
	h.t.Helper()
	rows, err := h.tx.Query(ctx, sql, args...)
	if err != nil {
		h.t.Fatal(err)
	}
	list, err := pgx.CollectRows(rows, pgx.RowTo[uuid.UUID])
	if err != nil || len(list) == 0 {
		h.t.Fatalf("%s: %d rows, %v", sql, len(list), err)
	}
	return list
}

type planNode struct {
	Type     string     `json:"Node Type"`
	Relation string     `json:"Relation Name"`
	Index    string     `json:"Index Name"`
	Plans    []planNode `json:"Plans"`
}

func (n planNode) walk(visit func(planNode)) {
	visit(n)
	for _, p := range n.Plans {
		p.walk(visit)
	}
}

// wholeReads lists what a statement's plan reads from end to end.
func (h *hosted) wholeReads(sql string, args ...any) (whole []string) {
	h.t.Helper()
	var raw []byte
	if err := h.tx.QueryRow(ctx, "explain (format json) "+sql, args...).Scan(&raw); err != nil {
		h.t.Fatal(err)
	}
	var plans []struct{ Plan planNode }
	if err := json.Unmarshal(raw, &plans); err != nil {
		h.t.Fatal(err)
	}
	plans[0].Plan.walk(func(n planNode) {
		if n.Type == "Seq Scan" && neverWhole[n.Relation] {
			whole = append(whole, n.Relation)
		}
	})
	return whole
}

// No look-up of a judgement reads a table that grows with the book from end to end, whether the plan is made for the
// very values or for any.
func TestPlansUseIndexes(t *testing.T) {
	t.Parallel()
	h := newHosted(t)
	one := h.ids(`select id from beds order by id limit 1`)
	all := h.ids(`select id from beds`)
	plantings := h.ids(`select planting_id from planting_beds where bed_id = any($1)`, one)
	every := h.ids(`select id from plantings where ended_on is null`)
	lots := h.ids(`select id from lots limit 3`)
	deliveries := h.ids(`select id from records where kind = 'input-lot' limit 1`)
	plots := h.ids(`select id from plots limit 1`)
	if len(all) != 300 || len(every) != 300 {
		t.Fatalf("%d beds, %d plantings", len(all), len(every))
	}
	on, long := day("2026-06-01"), day("1900-01-01")
	none := []uuid.UUID{}
	from, to := on.AddDays(-400).Time(), on.AddDays(2).Time()
	type look struct {
		name string
		sql  string
		args []any
	}
	ground := func(name string, beds, plantings []uuid.UUID, first domain.Date) look {
		return look{"ground of " + name, storage.GroundSQL, []any{h.farm, beds, plantings, first, on, none, from, to}}
	}
	reached := func(name string, beds, plots, plantings, lots, deliveries []uuid.UUID) look {
		return look{"lots reached from " + name, storage.ReachedSQL, []any{h.farm, beds, plots, plantings, lots, deliveries, false, day("2026-03-01"), nil, none, none, long.Time(), to, none}}
	}
	looks := []look{
		{"plantings of a bed", storage.PairSQL, []any{h.farm, one[0], nil, on}},
		{"one planting", storage.PairSQL, []any{h.farm, nil, plantings[0], on}},
		{"plantings of the farm", storage.PairSQL, []any{h.farm, nil, nil, on}},
		ground("one bed", one, plantings, on),
		ground("one bed, all its time", one, none, long),
		ground("every bed", all, every, on),
		reached("a bed", one, none, none, none, none),
		reached("a plot", none, plots, none, none, none),
		reached("a planting", none, none, plantings, none, none),
		reached("lots", none, none, none, lots, none),
		reached("a delivery", none, none, none, none, deliveries),
		{"next lot code", storage.LastCodeSQL, []any{h.farm, "00042-L", "00042-L~"}},
	}
	for _, mode := range []string{"force_custom_plan", "force_generic_plan"} {
		if _, err := h.tx.Exec(ctx, `set local plan_cache_mode = `+mode); err != nil {
			t.Fatal(err)
		}
		for _, l := range looks {
			if whole := h.wholeReads(l.sql, l.args...); len(whole) > 0 {
				t.Errorf("%s (%s) reads all of %v", l.name, mode, whole)
			}
		}
	}
	// The check itself must be able to fail.
	if _, err := h.tx.Exec(ctx, `set local enable_indexscan = off; set local enable_bitmapscan = off; set local enable_indexonlyscan = off`); err != nil {
		t.Fatal(err)
	}
	if whole := h.wholeReads(storage.GroundSQL, looks[3].args...); len(whole) == 0 {
		t.Error("without indexes the plan reads nothing from end to end: the test sees nothing")
	}
}
