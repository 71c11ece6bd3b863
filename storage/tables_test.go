package storage_test

import (
	"errors"
	"strings"
	"testing"

	"croftmark/storage"
)

// Who changes a table beside the book is found, whatever the table, and the row is named. Looking changes nothing.
func TestTamperedTablesAreNamed(t *testing.T) {
	t.Parallel()
	r := newRich(t)
	before := r.dump()
	if rows, err := r.db.CheckTables(ctx, r.actor.FarmID, nil); err != nil || rows < len(before) {
		t.Fatalf("untouched: %d rows, %v", rows, err)
	}
	conn := connect(t, r.owner)
	for _, sql := range []string{`set session_replication_role = replica`, `create schema kept`} {
		if _, err := conn.Exec(ctx, sql); err != nil {
			t.Fatal(err)
		}
	}
	run := func(sql string) {
		t.Helper()
		if _, err := conn.Exec(ctx, sql); err != nil {
			t.Fatalf("%s: %v", sql, err)
		}
	}
	named := func(what, table, how string) {
		t.Helper()
		_, err := r.db.CheckTables(ctx, r.actor.FarmID, nil)
		var bad *storage.BadRows
		if !errors.As(err, &bad) || bad.Count != 1 || !strings.HasPrefix(bad.Rows[0], table+" ") || !strings.HasSuffix(bad.Rows[0], how) {
			t.Errorf("%s: %v", what, err)
		}
	}
	run(`update lots set verdict = 'clear' where ctid = (select ctid from lots where verdict <> 'clear' limit 1)`)
	named("a lot made clear", "lots", "was changed")
	_, err := r.db.Rebuild(ctx, r.actor.FarmID, nil)
	mustBe(t, err)
	for table := range before {
		run(`create table kept.` + table + ` as table ` + table)
		run(`delete from ` + table + ` where ctid = (select ctid from ` + table + ` limit 1)`)
		named("a row of "+table+" taken out", table, "is missing")
		run(`delete from ` + table + `; insert into ` + table + ` table kept.` + table)
	}
	run(`insert into lot_edges select farm_id, child_id, gen_random_uuid(), quantity from lot_edges limit 1`)
	named("an edge of no packing", "lot_edges", "is of no entry")
	run(`delete from lot_edges; insert into lot_edges table kept.lot_edges`)
	if rows, err := r.db.CheckTables(ctx, r.actor.FarmID, nil); err != nil || rows < len(before) {
		t.Errorf("after all was put back: %d rows, %v", rows, err)
	}
}
