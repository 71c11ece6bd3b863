package main

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"

	"croftmark/bench/rig"
)

// rowsOf names the tables that one accepted write adds a row to, beside the end of the book that it moves. bodySQL gives
// the longest-winded part of a row, so that the floor writes as many bytes.
var rowsOf = map[string][]string{
	"application": {"book_entries", "records", "exposures"},
	"harvest":     {"book_entries", "records", "lots", "lot_beds"},
}

// makeFloor builds a statement that commits the same rows as one write of a kind, into tables of the same shape with the
// same indexes and constraints: each row is a copy of one that the service wrote, with new keys. The rows it leaves in are
// ours to drop; row-level security, triggers and foreign keys are not copied, so the floor is lower than an honest rival's.
func makeFloor(ctx context.Context, conn *pgx.Conn, kind, farm string) (string, error) {
	parts := []string{}
	for i, table := range rowsOf[kind] {
		copied := "floor_" + table
		if _, err := conn.Exec(ctx, "drop table if exists "+copied+"; create table "+copied+" (like "+table+" including all)"); err != nil {
			return "", err
		}
		columns, err := columnsOf(ctx, conn, table)
		if err != nil {
			return "", err
		}
		given := make([]string, len(columns))
		for j, c := range columns {
			given[j] = fresh(table, c, "$MODEL_"+strconv.Itoa(i)+"."+c)
		}
		model := table + "_model"
		if _, err := conn.Exec(ctx, fmt.Sprintf("drop table if exists %s; create table %s as %s", model, model, modelSQL(kind, table, farm))); err != nil {
			return "", err
		}
		values := strings.ReplaceAll(strings.Join(given, ", "), "$MODEL_"+strconv.Itoa(i), "m")
		parts = append(parts, fmt.Sprintf("r%d as (insert into %s (%s) select %s from %s m)", i, copied, strings.Join(columns, ", "), values, model))
	}
	if _, err := conn.Exec(ctx, `drop table if exists floor_heads; create table floor_heads (like book_heads including all);
		insert into floor_heads select gen_random_uuid(), 'floor ' || g, 1, (select frontier from book_heads limit 1) from generate_series(1, 1000) g;
		drop sequence if exists floor_seq; create sequence floor_seq cache 50; analyze floor_heads`); err != nil {
		return "", err
	}
	return "with " + strings.Join(parts, ", ") + " update floor_heads set seq = seq + 1 where farm_key = 'floor ' || (:client_id + 1)", nil
}

// fresh gives a new value for columns that must differ from row to row, and the model's for all others.
func fresh(table, column, model string) string {
	switch table + "." + column {
	case "book_entries.seq":
		return "nextval('floor_seq')"
	case "book_entries.id", "book_entries.record_id", "records.id", "exposures.record_id", "lots.id", "lot_beds.lot_id":
		return "gen_random_uuid()"
	case "lots.code":
		return "lpad(nextval('floor_seq')::text, length(" + model + "), 'x')"
	}
	return model
}

// modelSQL picks the newest row that a write of the kind left.
func modelSQL(kind, table, farm string) string {
	record := map[string]string{"application": "application", "harvest": "harvest-lot"}[kind]
	key := map[string]string{"book_entries": "record_id", "records": "id", "exposures": "record_id", "lots": "id", "lot_beds": "lot_id"}[table]
	return fmt.Sprintf(`select * from %s where farm_id = '%s' and %s = (select id from records where farm_id = '%s' and kind = '%s' order by first_seq desc limit 1) limit 1`,
		table, farm, key, farm, record)
}

func columnsOf(ctx context.Context, conn *pgx.Conn, table string) ([]string, error) {
	rows, err := conn.Query(ctx, `select column_name::text from information_schema.columns where table_name = $1 and table_schema = 'public' order by ordinal_position`, table)
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, pgx.RowTo[string])
}

// commits measures how many times a second clients commit the statement: with pgbench, or with a loop of our own
// where there is none. The statement may use :client_id.
func commits(ctx context.Context, url, statement, folder string, clients int, long time.Duration) (floor, error) {
	program, err := rig.FindProgram("pgbench")
	if err != nil {
		return commitLoop(ctx, url, statement, clients, long)
	}
	script := filepath.Join(folder, "floor.sql")
	if err := os.WriteFile(script, []byte(statement+";\n"), 0o644); err != nil {
		return floor{}, err
	}
	out, err := exec.CommandContext(ctx, program, "--no-vacuum", "--protocol=prepared", "--file="+script, "--client="+strconv.Itoa(clients),
		"--jobs="+strconv.Itoa(min(clients, 2)), "--time="+strconv.Itoa(max(int(long.Seconds()), 1)), url).CombinedOutput()
	if err != nil {
		return floor{}, fmt.Errorf("pgbench: %w\n%s", err, out)
	}
	found := tps.FindSubmatch(out)
	if found == nil {
		return floor{}, fmt.Errorf("pgbench said no rate:\n%s", out)
	}
	rate, err := strconv.ParseFloat(string(found[1]), 64)
	return floor{rate, "pgbench, same rows in one statement"}, err
}

var tps = regexp.MustCompile(`tps = ([0-9.]+)`)

func commitLoop(ctx context.Context, url, statement string, clients int, long time.Duration) (floor, error) {
	config, err := pgxpool.ParseConfig(url)
	if err != nil {
		return floor{}, err
	}
	config.MaxConns = int32(clients)
	pool, err := pgxpool.NewWithConfig(ctx, config)
	if err != nil {
		return floor{}, err
	}
	defer pool.Close()
	l, err := rig.Drive(ctx, clients, long, func(ctx context.Context, client, _ int) error {
		_, err := pool.Exec(ctx, strings.ReplaceAll(statement, ":client_id", strconv.Itoa(client)))
		return err
	})
	return floor{l.PerSecond(), "pgx loop, same rows in one statement"}, err
}
