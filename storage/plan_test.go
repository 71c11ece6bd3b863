package storage_test

import (
	"context"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"croftmark/domain"
	"croftmark/storage"
)

// hostedSQL fills the look-up tables with the books of 4 farms: 300 beds each on 10 plots, 600 plantings, 12,000 lots,
// 20,000 exposures, 1,800 pauses, as fifteen years would leave them. It goes past the book, which plans do not look at.
const hostedSQL = `
set session_replication_role = replica;
create temp table f as select gen_random_uuid() as farm, n from generate_series(1, 4) n;
insert into book_heads select farm, 'K' || n, 0, '' from f;
create temp table p as select farm, gen_random_uuid() as id, m as n from f, generate_series(0, 9) m;
create temp table b as select p.farm, p.id as plot, gen_random_uuid() as id, p.n * 30 + m as n from p, generate_series(0, 29) m;
create temp table c as select farm, gen_random_uuid() as id, m as n from f, generate_series(0, 19) m;
create temp table i as select farm, gen_random_uuid() as id, gen_random_uuid() as lot, m as n from f, generate_series(0, 9) m;
create temp table g as select b.farm, b.id as bed, gen_random_uuid() as id, b.n, m from b, generate_series(0, 1) m;
create temp table l as select g.farm, g.bed, g.id as planting, gen_random_uuid() as id, row_number() over (partition by g.farm) as n from g, generate_series(1, 20) k;
create temp table x as select b.farm, b.id as bed, gen_random_uuid() as id, date '2026-11-01' - (k * 82)::int as on_date, k from b, generate_series(0, 66) k;
insert into records (farm_id, id, kind, first_seq, seq, done_on, body)
	select farm, farm, 'farm', 1, 1, date '2026-01-01', '{"name": "F", "time_zone": "America/New_York"}'::jsonb from f
	union all select farm, id, 'plot', 1, 1, date '2026-01-01', jsonb_build_object('id', id, 'name', 'P' || n) from p
	union all select farm, id, 'bed', 1, 1, date '2026-01-01', jsonb_build_object('id', id, 'name', 'B' || n) from b
	union all select farm, id, 'crop', 1, 1, date '2026-01-01', jsonb_build_object('id', id, 'name', 'C' || n, 'soil_contact', 'touches') from c
	union all select farm, id, 'input', 1, 1, date '2026-01-01', jsonb_build_object('id', id, 'name', 'I' || n, 'category', 'raw-manure') from i
	union all select farm, lot, 'input-lot', 1, 1, date '2026-01-01', jsonb_build_object('id', lot, 'input_id', id, 'supplier', 'S', 'received_on', '2010-01-01', 'quantity', '{"value": "6", "unit": "yd3"}'::jsonb) from i
	union all select g.farm, g.id, 'planting', 1, 1, date '2026-01-01', jsonb_build_object('id', g.id, 'crop_id', c.id, 'bed_ids', jsonb_build_array(g.bed), 'planted_on', '2026-04-01') from g join c on c.farm = g.farm and c.n = g.n % 20
	union all select x.farm, x.id, 'application', 1, 1, x.on_date, jsonb_build_object('id', x.id, 'source', jsonb_build_object('input_lot_id', i.lot),
		'ground', jsonb_build_object('bed_ids', jsonb_build_array(x.bed)), 'applied_on', x.on_date, 'incorporated_on', x.on_date, 'method', 'incorporated', 'amount', '{"value": "1", "unit": "yd3"}'::jsonb)
		from x join i on i.farm = x.farm and i.n = x.k % 10;
insert into plots select farm, id, 'P' || n from p;
insert into beds (farm_id, id, plot_id, name, valid_from) select farm, id, plot, 'B' || n, date '2010-01-01' from b;
insert into bed_grounds (farm_id, bed_id, ground_bed_id) select farm, id, id from b;
insert into plantings (farm_id, id, crop_id, planted_on, ended_on) select g.farm, g.id, c.id, date '2026-04-01' - 400 * m, case when m > 0 then date '2025-11-01' end from g join c on c.farm = g.farm and c.n = g.n % 20;
insert into planting_beds select farm, id, bed from g;
insert into exposures (farm_id, record_id, bed_id, on_date, ends_on, input_lot_id)
	select x.farm, x.id, x.bed, x.on_date, x.on_date + 1100, i.lot from x join i on i.farm = x.farm and i.n = x.k % 10;
insert into exposures (farm_id, record_id, bed_id, on_date, ends_on, compost_batch_id) select farm, gen_random_uuid(), id, '2020-01-01', '2023-01-05', gen_random_uuid() from b, generate_series(1, 5);
insert into exposures (farm_id, record_id, plot_id, on_date, ends_on, input_lot_id) select farm, gen_random_uuid(), id, '2020-01-01', '2023-01-05', gen_random_uuid() from p, generate_series(1, 50);
insert into lots (farm_id, id, kind, code, planting_id, cut_from, cut_to, unit, quantity, verdict, judgement, judged_seq)
	select farm, id, 'harvest-lot', lpad((n % 90000)::text, 5, '0') || '-L' || n || '-RAD-1-SS', planting, date '2026-11-01' - (n % 200)::int, date '2026-11-01' - (n % 200)::int,
		'lb', 40, case when n % 10 = 0 then 'wait' else 'clear' end, '{"verdict": "clear", "reasons": null}', 1 from l;
insert into records (farm_id, id, kind, first_seq, seq, done_on, body)
	select farm, id, 'harvest-lot', 1, 1, date '2026-11-01' - (n % 200)::int, jsonb_build_object('id', id, 'planting_id', planting, 'bed_ids', jsonb_build_array(bed),
		'cut_on', date '2026-11-01' - (n % 200)::int, 'quantity', jsonb_build_object('value', '40', 'unit', 'lb'), 'code', lpad((n % 90000)::text, 5, '0') || '-L' || n || '-RAD-1-SS', 'verdict_then', '{"verdict": "clear", "reasons": null}'::jsonb) from l;
insert into lot_beds select farm, id, bed from l;
insert into bed_pauses select farm, gen_random_uuid(), id, date '2026-01-01' - m, m % 2 = 0, 'rest' from b, generate_series(1, 6) m;
insert into holds select farm, gen_random_uuid(), 'bed', id, date '2026-01-01', date '2026-01-02' from b, generate_series(1, 3) m where b.n % 3 = 0;
insert into compost_standings select farm, gen_random_uuid(), '2026-01-01', '2026-02-01', '[]', 1 from b;
insert into compost_events select farm, gen_random_uuid(), gen_random_uuid(), 'compost-temperatures', '2026-01-01' from b, generate_series(1, 10);
insert into water_events select farm, gen_random_uuid(), gen_random_uuid(), 'water-test', '2026-01-01' from b, generate_series(1, 5);
insert into water_touches select farm, gen_random_uuid(), gen_random_uuid(), '', 'irrigation', '2026-01-01', '2026-01-01', id from b, generate_series(1, 20);
insert into water_touches (farm_id, record_id, source_id, tap, use, from_at, to_at, lot_id) select farm, gen_random_uuid(), gen_random_uuid(), '', 'washing', '2026-01-01', '2026-01-01', id from l;
insert into water_touches (farm_id, record_id, source_id, tap, use, from_at, to_at, plot_id) select farm, gen_random_uuid(), gen_random_uuid(), '', 'irrigation', '2026-01-01', '2026-01-01', id from p, generate_series(1, 50);
insert into lot_edges select farm, gen_random_uuid(), id, 10 from l;
insert into label_moves (farm_id, record_id, lot_id, printed) select farm, gen_random_uuid(), id, 3 from l;
insert into shipment_lines select farm, gen_random_uuid(), 1, gen_random_uuid(), '2026-01-01', 'out', n::text, id, 1, 5 from l;
insert into book_entries (farm_id, seq, id, kind, record_id, leaf, hashes)
	select farm_id, 1000000 + row_number() over (partition by farm_id), gen_random_uuid(), kind, id, '{}', '\x0000000000000000000000000000000000000000000000000000000000000000' from records where farm_id in (select farm from f);
update records set first_seq = e.seq from book_entries e where e.farm_id = records.farm_id and e.record_id = records.id and records.farm_id in (select farm from f);
analyze`

// Tables that grow with the book. A statement about some things of a farm reads neither the whole of them nor all that
// the farm has in them.
var growing = []string{"exposures", "lots", "records", "book_entries", "lot_beds", "compost_events", "water_events", "water_touches", "lot_edges", "shipment_lines", "label_moves"}

type planNode struct {
	Type     string     `json:"Node Type"`
	Relation string     `json:"Relation Name"`
	Index    string     `json:"Index Name"`
	Cond     string     `json:"Index Cond"`
	Once     string     `json:"One-Time Filter"`
	Plans    []planNode `json:"Plans"`
}

// column finds the columns that an index condition compares.
var column = regexp.MustCompile(`\((?:\w+\.)?(\w+) (?:=|<|>|<=|>=) `)

// ownFarm is the test that row-level security puts before a scan: is the farm asked for the one named?
var ownFarm = regexp.MustCompile(`\(\$\d+ = (?:'[0-9a-f-]{36}'::uuid|\$\d+)\)`)

// narrow reports that the index is asked for more than the farm.
func (n planNode) narrow() bool {
	return slices.ContainsFunc(column.FindAllStringSubmatch(n.Cond, -1), func(m []string) bool { return m[1] != "farm_id" })
}

// whole lists what the node and those below it read too much of.
func (n planNode) whole() (out []string) {
	if rest := ownFarm.ReplaceAllString(n.Once, ""); strings.Trim(rest, "() AND") != "" {
		return nil // a branch that is taken for a change of the farm's own rules only
	}
	table := n.Relation
	for _, name := range growing {
		if strings.HasPrefix(n.Index, name+"_") {
			table = name
		}
	}
	if slices.Contains(growing, table) {
		switch n.Type {
		case "Seq Scan":
			out = append(out, table+" from end to end")
		case "Index Scan", "Index Only Scan", "Bitmap Index Scan":
			if !n.narrow() && n.Index != "records_voided" { // which holds the few that were voided
				out = append(out, "all the farm's "+table+" by "+n.Index)
			}
		}
	}
	for _, p := range n.Plans {
		out = append(out, p.whole()...)
	}
	return out
}

// hosted is a database of many farms, seen as the service sees one of them.
type hosted struct {
	*field
	tx pgx.Tx
}

func newHosted(t *testing.T, tracer pgx.QueryTracer) *hosted {
	f := newField(t, storage.Config{Tracer: tracer})
	f.asOwner(hostedSQL)
	h := &hosted{field: f}
	owner := connect(t, f.owner)
	mustBe(t, owner.QueryRow(ctx, `select farm_id from book_heads where farm_key = 'K3'`).Scan(&f.actor.FarmID))
	if n := f.count(`select count(*) from exposures where farm_id = $1`, f.actor.FarmID); n < 20000 {
		t.Fatalf("%d exposures on the farm", n)
	}
	var err error
	h.tx, err = connect(t, f.service).Begin(ctx)
	mustBe(t, err)
	t.Cleanup(func() { h.tx.Rollback(ctx) })
	_, err = h.tx.Exec(ctx, `select set_config('croftmark.farm_id', $1, true)`, f.actor.FarmID.String())
	mustBe(t, err)
	return h
}

func (h *hosted) ids(sql string, args ...any) []uuid.UUID {
	h.t.Helper()
	rows, err := h.tx.Query(ctx, sql, args...)
	mustBe(h.t, err)
	list, err := pgx.CollectRows(rows, pgx.RowTo[uuid.UUID])
	if err != nil || len(list) == 0 {
		h.t.Fatalf("%s: %d rows, %v", sql, len(list), err)
	}
	return list
}

// wholeReads lists what a statement's plan reads too much of.
func (h *hosted) wholeReads(sql string, args ...any) []string {
	h.t.Helper()
	var raw []byte
	if err := h.tx.QueryRow(ctx, "explain (format json) "+sql, args...).Scan(&raw); err != nil {
		h.t.Fatalf("%s: %v", sql, err)
	}
	var plans []struct{ Plan planNode }
	decode(h.t, raw, &plans)
	return plans[0].Plan.whole()
}

// said is a statement as it went to the database.
type said struct {
	sql  string
	args []any
}

// listener keeps every statement with its values.
type listener struct{ list []said }

func (l *listener) TraceQueryStart(ctx context.Context, _ *pgx.Conn, data pgx.TraceQueryStartData) context.Context {
	l.list = append(l.list, said{data.SQL, data.Args})
	return ctx
}
func (l *listener) TraceQueryEnd(context.Context, *pgx.Conn, pgx.TraceQueryEndData) {}
func (l *listener) TraceBatchStart(ctx context.Context, _ *pgx.Conn, data pgx.TraceBatchStartData) context.Context {
	for _, q := range data.Batch.QueuedQueries {
		l.list = append(l.list, said{q.SQL, q.Arguments})
	}
	return ctx
}
func (l *listener) TraceBatchQuery(context.Context, *pgx.Conn, pgx.TraceBatchQueryData) {}
func (l *listener) TraceBatchEnd(context.Context, *pgx.Conn, pgx.TraceBatchEndData)     {}

// The acts of a day, on a farm with fifteen years behind it among other farms: no statement that goes to the database for
// them reads the whole of a table that grows with the book, or all that the farm has in it, whether the plan is made for
// the very values or for any.
func TestPlansUseIndexes(t *testing.T) {
	t.Parallel()
	heard := &listener{}
	h := newHosted(t, heard)
	bed := h.ids(`select id from beds order by id limit 1`)[0]
	planting := h.ids(`select planting_id from planting_beds pb join plantings p on p.id = pb.planting_id where bed_id = $1 and ended_on is null`, bed)[0]
	delivery := h.ids(`select id from records where kind = 'input-lot' limit 1`)[0]
	lot := h.ids(`select lb.lot_id from lot_beds lb where lb.bed_id = $1 limit 1`, bed)[0]
	application := h.ids(`select record_id from exposures where bed_id = $1 and input_lot_id is not null order by on_date desc limit 1`, bed)[0]
	var code string
	mustBe(t, h.tx.QueryRow(ctx, `select code from lots where id = $1`, lot).Scan(&code))
	r, on := h.reading(), day("2026-06-01")
	fresh := h.write(&domain.Bed{Name: "Fresh", PlotID: h.write(&domain.Plot{Name: "Fresh", History: "known"}), From: day("2024-01-01")})
	kale := h.lot(h.plant("kale", domain.Touches, "2026-04-01", fresh), "2026-06-05", fresh)
	h.write(kale)
	packed := &domain.PackLot{PackedAt: at("2026-11-02", 9), Product: "bags", Quantity: domain.Q("2", "lb"), From: []domain.PackFrom{{Lot: kale.Code, Quantity: domain.Q("2", "lb")}}}
	shipped := &domain.Shipment{CustomerID: h.write(&domain.Customer{Name: "Cafe", Is: "restaurant"}), ShippedAt: at("2026-11-02", 12), Reference: domain.Reference{Type: "invoice", Number: "1182"},
		Lines: []domain.ShipmentLine{{Lot: kale.Code, Quantity: domain.Q("1", "lb")}}}
	cut := func(on string) domain.Record { return h.lot(planting, on, bed) }
	acts := []struct {
		name string
		act  func() error
	}{
		{"check a bed", func() error { _, err := h.db.HarvestCheck(r, bed, uuid.Nil, on); return err }},
		{"check a planting", func() error { _, err := h.db.HarvestCheck(r, uuid.Nil, planting, on); return err }},
		{"check every bed", func() error { _, err := h.db.HarvestCheck(r, uuid.Nil, uuid.Nil, on); return err }},
		{"the ground of a bed", func() error { _, _, err := h.db.Ground(r, bed, on); return err }},
		{"a lot by its code", func() error { _, err := h.db.LotByCode(r, code); return err }},
		{"the labels of a lot", func() error { _, err := h.db.LabelCount(r, lot, 3); return err }},
		{"print labels", func() error {
			_, err := h.record(&domain.LabelPrint{LotID: lot, Size: "4x2in", Copies: 1})
			return err
		}},
		{"the state of a lot", func() error { _, err := h.db.LotStates(r, ids(lot)); return err }},
		{"lots on hand", func() error { _, err := h.db.LotsOnHand(r, day("2026-11-02")); return err }},
		{"pack", func() error { _, err := h.record(packed); return err }},
		{"ship", func() error { _, err := h.record(shipped); return err }},
		{"a pack lot by its code", func() error { _, err := h.db.PackByCode(r, packed.Code); return err }},
		{"one record", func() error { _, err := h.db.ReadRecord(ctx, r.Farm, "harvest-lot", lot); return err }},
		{"the newest records of a kind", func() error { _, err := h.db.Records(ctx, r.Farm, "application", storage.Page{Limit: 50}); return err }},
		{"trace back", func() error { _, err := h.db.TraceBack(r, code); return err }},
		{"cut", func() error { _, err := h.record(cut("2026-10-30")); return orRefused(err) }},
		{"already cut", func() error {
			l := h.lot(planting, "2026-10-30", bed)
			l.AlreadyCut = true
			_, err := h.record(l)
			return err
		}},
		{"spread", func() error { _, err := h.record(h.application(delivery, "2026-09-01", "2026-09-02", bed)); return err }},
		{"correct it", func() error {
			_, err := h.db.Correct(ctx, h.actor, nil, "application", application, "a slip", []byte(`{"method": "surface"}`))
			return err
		}},
		{"void it", func() error { _, err := h.void("application", application); return err }},
		{"graze", func() error {
			_, err := h.record(&domain.Grazing{Species: "hens", Ground: domain.Ground{BedIDs: ids(bed)}, From: day("2026-09-01")})
			return err
		}},
		{"hold", func() error {
			_, err := h.record(&domain.Hold{On: domain.HoldTarget{BedID: bed}, Reason: "x"})
			return err
		}},
		{"pause", func() error {
			_, err := h.record(&domain.BedProduction{BedID: bed, On: day("2026-10-01"), Reason: "x"})
			return err
		}},
		{"correct a lot", func() error {
			_, err := h.db.Correct(ctx, h.actor, nil, "harvest-lot", lot, "a slip", []byte(`{"containers": 3}`))
			return err
		}},
		{"dispose", func() error {
			_, err := h.record(&domain.Disposal{LotID: lot, On: day("2026-11-02"), Quantity: domain.Q("1", "lb"), How: "compost"})
			return err
		}},
	}
	statements := 0
	plansOf := func(name string, act func() error, modes ...string) {
		heard.list = nil
		if err := act(); err != nil {
			t.Errorf("%s: %v", name, err)
		}
		for _, s := range heard.list {
			if verb, _, _ := strings.Cut(strings.TrimSpace(s.sql), " "); !slices.Contains([]string{"select", "with", "insert", "update", "delete"}, strings.TrimSpace(verb)) {
				continue // begin and commit
			}
			statements++
			for _, mode := range modes {
				_, err := h.tx.Exec(ctx, `set local plan_cache_mode = `+mode)
				mustBe(t, err)
				if whole := h.wholeReads(s.sql, s.args...); len(whole) > 0 {
					t.Errorf("%s (%s) reads %v:\n  %.200s", name, mode, whole, strings.Join(strings.Fields(s.sql), " "))
				}
			}
		}
	}
	for _, a := range acts {
		plansOf(a.name, a.act, "force_custom_plan", "force_generic_plan")
	}
	if statements < 80 {
		t.Errorf("only %d statements heard", statements)
	}
	// What is only read is planned for its values each time.
	plansOf("what waits for a signature", func() error { _, err := h.db.ToSign(ctx, h.actor); return err }, "force_custom_plan")
	var plan string
	mustBe(t, h.tx.QueryRow(ctx, "explain (format json) "+storage.VoidedSQL, r.Farm, []string{lot.String()}, nil, nil, nil, nil, on).Scan(&plan))
	if !strings.Contains(plan, "records_voided") {
		t.Errorf("what was voided is looked for among all records:\n%s", plan)
	}
	t.Logf("%d statements of %d acts, two plans each", statements, len(acts))
	// The check itself must be able to fail.
	_, err := h.tx.Exec(ctx, `set local enable_indexscan = off; set local enable_bitmapscan = off; set local enable_indexonlyscan = off`)
	mustBe(t, err)
	if whole := h.wholeReads(storage.ReachedSQL, r.Farm, ids(bed), nil, nil, nil, nil, false, on, nil, nil, nil, on.Time(), on.Time(), nil); len(whole) == 0 {
		t.Error("without indexes the plan reads nothing from end to end: the test sees nothing")
	}
}

// A read is planned for the values it asks about, however often it was asked: the ways in which a question can start are one
// statement, and a plan for all of them would read for each.
func TestReadsArePlannedForTheirValues(t *testing.T) {
	t.Parallel()
	f, on := newRich(t), day("2026-06-01")
	generic, err := storage.GenericPlans(ctx, f.db, f.actor.FarmID, 20, storage.StartSQL, f.actor.FarmID, nil, nil, "", nil, nil, on, on, uuid.Nil,
		on.Time(), on.Time(), "", uuid.Nil, on.Time(), on.Time(), "", on, nil)
	mustBe(t, err)
	if generic > 0 {
		t.Errorf("%d of 20 plans were made without looking at the values", generic)
	}
}

// The number of a paper is looked up by the index of numbers, whatever its spelling: its lines are not read one after another.
func TestAPaperIsLookedUpByItsNumber(t *testing.T) {
	t.Parallel()
	heard := &listener{}
	h := newHosted(t, heard)
	heard.list = nil
	_, err := h.db.TraceFrom(h.reading(), domain.TraceStart{Reference: "77"}, true)
	mustBe(t, err)
	looked := 0
	for _, s := range heard.list {
		if s.sql != storage.StartSQL {
			continue
		}
		looked++
		for _, whole := range h.wholeReads(s.sql, s.args...) {
			if whole != "all the farm's shipment_lines by shipment_lines_of_reference" {
				t.Errorf("reads %s", whole)
			}
		}
	}
	if looked != 1 {
		t.Errorf("%d look-ups of the number heard", looked)
	}
}

// On a farm that was opened a moment ago reading a whole table would be the cheapest, and the plan is kept while the table
// fills: what writes and checks send is planned as if the tables were full.
func TestPlansOfYoungFarm(t *testing.T) {
	t.Parallel()
	heard := &listener{}
	f := newField(t, storage.Config{Tracer: heard})
	planting := f.plant("lettuce", domain.Touches, "2026-04-01", f.bed)
	f.asOwner("analyze")
	tx, err := connect(t, f.service).Begin(ctx)
	mustBe(t, err)
	t.Cleanup(func() { tx.Rollback(ctx) })
	h := &hosted{field: f, tx: tx}
	heard.list = nil
	f.write(f.application(f.manure, "2026-09-01", "2026-09-02", f.bed))
	f.write(f.lot(planting, "2026-06-01", f.bed))
	_, err = f.db.HarvestCheck(f.reading(), f.bed, uuid.Nil, day("2026-06-01"))
	mustBe(t, err)
	statements := 0
	for _, s := range heard.list {
		switch verb, _, _ := strings.Cut(strings.TrimSpace(s.sql), " "); {
		case strings.HasPrefix(s.sql, "select set_config"):
			_, err := tx.Exec(ctx, s.sql, s.args...) // it says how the next ones are planned
			mustBe(t, err)
		case !strings.HasPrefix(verb, "begin") && verb != "commit":
			statements++
			for _, whole := range h.wholeReads(s.sql, s.args...) {
				if strings.HasSuffix(whole, "from end to end") {
					t.Errorf("reads %s:\n  %.200s", whole, strings.Join(strings.Fields(s.sql), " "))
				}
			}
		}
	}
	if statements < 15 {
		t.Errorf("only %d statements heard", statements)
	}
}

func orRefused(err error) error {
	if e := asDomain(err); e != nil && e.Code == domain.CodeHarvestRefused {
		return nil
	}
	return err
}
