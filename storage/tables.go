package storage

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
)

// BadRows names the rows of the look-up tables that are not what the book gives: changed, missing, or of no entry.
type BadRows struct {
	Rows  []string // the first of them, in words
	Count int
}

func (b *BadRows) Error() string {
	more := ""
	if b.Count > len(b.Rows) {
		more = fmt.Sprintf("; and %d more", b.Count-len(b.Rows))
	}
	return "the tables are not what the book gives: " + strings.Join(b.Rows, "; ") + more + ". croftmark rebuild makes them anew"
}

// badRowsTold is how many bad rows are named; after that only their number matters.
const badRowsTold = 20

// errLookedOnly ends the transaction in which the tables were made anew for comparing, and so undoes it.
var errLookedOnly = errors.New("looked only")

// CheckTables makes a farm's tables anew from its book, holds them to those that were there, and puts everything back. It
// gives how many rows were compared, and *BadRows if any was changed beside the book. The book is to be verified by itself.
// Writers wait meanwhile. It keeps a digest of every row in memory, some 200 bytes each.
func (db *DB) CheckTables(ctx context.Context, farm uuid.UUID, progress func(done, total int64)) (rows int, err error) {
	bad := &BadRows{}
	err = db.aloneAt(ctx, farm, func(tx pgx.Tx) error {
		there := map[string]rowDigests{}
		for _, table := range indexTables {
			digests, err := digestRows(ctx, tx, table, farm)
			if err != nil {
				return err
			}
			there[table] = digests
		}
		if _, err := rebuild(ctx, tx, farm, progress); err != nil {
			return err
		}
		for _, table := range slices.Backward(indexTables) {
			want, err := digestRows(ctx, tx, table, farm)
			if err != nil {
				return err
			}
			rows += len(want)
			bad.compare(table, there[table], want)
		}
		return errLookedOnly
	})
	if !errors.Is(err, errLookedOnly) {
		return rows, err
	}
	if bad.Count > 0 {
		return rows, bad
	}
	return rows, nil
}

// rowDigests are the MD5 of rows by their key. Nobody attacks them: both sides are worked out here and now.
type rowDigests map[string][16]byte

// keySQL gives what tells the rows of a table apart: the primary key without the farm, or where there is none the record
// and the row's own digest, counted where rows are alike.
const keySQL = `select coalesce(string_agg(format('x.%I::text', a.attname), ' || '' '' || ' order by a.attnum),
		$$x.record_id::text || ' ' || md5(to_jsonb(x)::text) || ' ' || row_number() over (partition by x.record_id, to_jsonb(x)::text)$$)
	from pg_index i join pg_attribute a on a.attrelid = i.indrelid and a.attnum = any(i.indkey)
	where i.indrelid = $1::text::regclass and i.indisprimary and (a.attname <> 'farm_id' or i.indnkeyatts = 1)`

// digestRows reads a table of a farm.
func digestRows(ctx context.Context, tx pgx.Tx, table string, farm uuid.UUID) (rowDigests, error) {
	var key string
	if err := tx.QueryRow(ctx, keySQL, table).Scan(&key); err != nil {
		return nil, err
	}
	rows, err := tx.Query(ctx, `select `+key+`, decode(md5(to_jsonb(x)::text), 'hex') from `+table+` x where farm_id = $1`, farm)
	if err != nil {
		return nil, err
	}
	out := rowDigests{}
	var name string
	var digest []byte
	_, err = pgx.ForEachRow(rows, []any{&name, &digest}, func() error {
		out[name] = [16]byte(digest)
		return nil
	})
	return out, err
}

// compare notes what differs between the rows that were there and those that the book gives, in the order of their keys.
func (b *BadRows) compare(table string, there, want rowDigests) {
	told := map[string]string{}
	for key, digest := range want {
		if was, ok := there[key]; !ok {
			told[key] = "is missing"
		} else if was != digest {
			told[key] = "was changed"
		}
	}
	for key := range there {
		if _, ok := want[key]; !ok {
			told[key] = "is of no entry"
		}
	}
	keys := make([]string, 0, len(told))
	for key := range told {
		keys = append(keys, key)
	}
	slices.Sort(keys)
	for _, key := range keys {
		if b.Count++; len(b.Rows) < badRowsTold {
			b.Rows = append(b.Rows, table+" "+key+" "+told[key])
		}
	}
}
