package main

import (
	"context"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	postgres "github.com/jackc/pgx/v5"

	"croftmark/storage/cluster"
)

// besideTheBook are the tables that no entry makes: sign-in, secrets, and what the migrations note. A restored book has
// none of the first, so they are left out of the comparing.
var besideTheBook = []string{"goose_db_version", "tokens", "sessions", "pins", "calendar_addresses", "buyer_addresses", "signing_keys", "checkpoints"}

// asking starts the database of a book's folder and gives what asks it for texts.
func asking(t *testing.T, data string, fn func(texts func(sql string) []string)) {
	t.Helper()
	ctx := context.Background()
	server, err := cluster.Start(ctx, cluster.Options{DataDir: data})
	if err != nil {
		t.Fatal(err)
	}
	defer server.Stop(ctx)
	conn, err := postgres.Connect(ctx, server.OwnerURL("croftmark"))
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close(ctx)
	fn(func(sql string) []string {
		rows, err := conn.Query(ctx, sql)
		if err != nil {
			t.Fatalf("%s: %v", sql, err)
		}
		list, err := postgres.CollectRows(rows, postgres.RowTo[string])
		if err != nil {
			t.Fatalf("%s: %v", sql, err)
		}
		return list
	})
}

// tablesIn reads every row of every table of a book's folder, row for row as text.
func tablesIn(t *testing.T, data string) map[string][]string {
	t.Helper()
	out := map[string][]string{}
	asking(t, data, func(texts func(sql string) []string) {
		for _, table := range texts(`select tablename::text from pg_tables where schemaname = 'public' order by 1`) {
			if !slices.Contains(besideTheBook, table) {
				out[table] = texts(`select x::text from ` + postgres.Identifier{table}.Sanitize() + ` x order by 1`)
			}
		}
	})
	return out
}

// sizesKnown reports whether the database has counted a folder's lots and records, so that it plans for the size they have.
func sizesKnown(t *testing.T, data string) (known bool) {
	t.Helper()
	asking(t, data, func(texts func(sql string) []string) {
		known = slices.Equal(texts(`select relname::text from pg_class where relname in ('lots', 'records') and reltuples > 10 order by 1`), []string{"lots", "records"})
	})
	return known
}

// The demo farm goes through export, restore and export again without a changed byte, and rebuilding its tables, where it
// was written and where it was restored, changes no row.
func TestDemoFarmComesBackWhole(t *testing.T) {
	data, copied := dataFolder(t), dataFolder(t)
	p := start(t, "demo", "--data", data, "--listen", "127.0.0.1:0")
	p.await(`demo farm ready: \d+ requests sent`, 2*time.Minute)
	if err := p.stop(); err != nil {
		t.Fatalf("stopped with %v", err)
	}
	run := func(args ...string) {
		t.Helper()
		if out, err := command(t, args...); err != nil {
			t.Fatalf("%s: %q (%v)", strings.Join(args, " "), out, err)
		}
	}
	same := func(what string, want, got map[string][]string) {
		t.Helper()
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("%s (-before +after):\n%.3000s", what, diff)
		}
	}
	first, again := filepath.Join(t.TempDir(), "first.zip"), filepath.Join(t.TempDir(), "again.zip")
	run("export", first, "--data", data)
	written := tablesIn(t, data)
	for _, table := range []string{"book_entries", "records", "lots", "exposures", "compost_events", "shipment_lines", "attachment_files"} {
		if _, there := written[table]; !there {
			t.Errorf("no table %s among %v", table, slices.Sorted(maps.Keys(written)))
		}
	}
	if n := len(written["book_entries"]); n < 200 {
		t.Fatalf("%d entries in the demo farm", n)
	}
	run("rebuild", "--data", data)
	same("rebuilt", written, tablesIn(t, data))

	run("restore", first, "--data", copied)
	same("restored", written, tablesIn(t, copied))
	if !sizesKnown(t, copied) {
		t.Error("after a restore the database plans as if the book were empty")
	}
	run("rebuild", "--data", copied)
	same("restored and rebuilt", written, tablesIn(t, copied))
	run("export", again, "--data", copied)
	a, err := os.ReadFile(first)
	if err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(again)
	if err != nil {
		t.Fatal(err)
	}
	if string(a) != string(b) {
		t.Errorf("export, restore, export: %d bytes became %d others", len(a), len(b))
	}
	t.Logf("%d entries, %d bytes", len(written["book_entries"]), len(a))
}
