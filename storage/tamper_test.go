package storage_test

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"testing"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"golang.org/x/mod/sumdb/tlog"
	"pgregory.net/rapid"

	"croftmark/domain"
	"croftmark/storage"
)

// tampering is a book and an owner of the database who may do anything to it.
type tampering struct {
	*field
	conn *pgx.Conn
	size int64
}

// newTampering keeps a copy of the untouched book beside it.
func newTampering(t testing.TB, entries int64) *tampering {
	f := newField(t, storage.Config{})
	for n := f.entries(); n < entries; n++ {
		if n == 10 { // one entry with a request key
			mark := &domain.RequestMark{Key: "key:eleven", Hash: "00"}
			if _, err := f.db.Record(ctx, f.actor, mark, &domain.Crop{Name: "with a key", SoilContact: domain.Touches}); err != nil {
				t.Fatal(err)
			}
			continue
		}
		f.write(&domain.Crop{Name: fmt.Sprintf("crop “%d” ñ", n), SoilContact: domain.Touches})
	}
	x := &tampering{field: f, conn: connect(t, f.owner), size: entries}
	x.run(`set session_replication_role = replica`) // no foreign key stops the owner
	x.run(`create table kept_entries as table book_entries; create table kept_heads as table book_heads`)
	return x
}

func (x *tampering) run(sql string, args ...any) {
	x.t.Helper()
	if _, err := x.conn.Exec(ctx, sql, args...); err != nil {
		x.t.Fatalf("%s: %v", sql, err)
	}
}

func (x *tampering) restore() {
	x.t.Helper()
	x.run(`truncate book_entries; insert into book_entries table kept_entries;
		delete from book_heads; insert into book_heads table kept_heads`)
}

// found gives the entry that Verify names, or 0 for a book it finds in order.
func (x *tampering) found() int64 {
	x.t.Helper()
	_, err := x.db.Verify(ctx, x.actor.FarmID, nil)
	if err == nil {
		return 0
	}
	var bad *storage.BadEntry
	if !errors.As(err, &bad) {
		x.t.Fatalf("verify: %v, want a bad entry", err)
	}
	return bad.Seq
}

func (x *tampering) leaf(seq int64) (leaf string) {
	x.t.Helper()
	if err := x.conn.QueryRow(ctx, `select leaf from book_entries where farm_id = $1 and seq = $2`, x.actor.FarmID, seq).Scan(&leaf); err != nil {
		x.t.Fatal(err)
	}
	return leaf
}

// rewrite changes one field of an entry's text, keeping the canonical form that a careful forger would keep.
func (x *tampering) rewrite(seq int64, name string, value any) {
	x.t.Helper()
	var fields map[string]any
	decode(x.t, []byte(x.leaf(seq)), &fields)
	if value == nil {
		delete(fields, name)
	} else {
		fields[name] = value
	}
	raw, err := json.Marshal(fields)
	if err != nil {
		x.t.Fatal(err)
	}
	if raw, err = domain.CanonicalJSON(raw); err != nil {
		x.t.Fatal(err)
	}
	x.setLeaf(seq, string(raw))
}

func (x *tampering) setLeaf(seq int64, leaf string) {
	x.t.Helper()
	x.run(`update book_entries set leaf = $3 where farm_id = $1 and seq = $2`, x.actor.FarmID, seq, leaf)
}

func TestTamperedBookNamesTheEntry(t *testing.T) {
	t.Parallel()
	x := newTampering(t, 21)
	other := x.neighbour()
	x.run(`delete from kept_entries; insert into kept_entries table book_entries; delete from kept_heads; insert into kept_heads table book_heads`)
	farm := x.actor.FarmID
	update := func(seq int64, set string, args ...any) func() {
		return func() {
			x.run(`update book_entries set `+set+` where farm_id = $1 and seq = $2`, append([]any{farm, seq}, args...)...)
		}
	}
	text := func(seq int64, name string, value any) func() { return func() { x.rewrite(seq, name, value) } }
	cases := []struct {
		name string
		do   func()
		want int64
	}{
		{"untouched", func() {}, 0},
		{"text: what it says", text(9, "body", map[string]any{"id": uuid.NewString(), "name": "spinach", "soil_contact": "clear"}), 9},
		{"text: done_by", text(9, "done_by", uuid.NewString()), 9},
		{"text: typed_by", text(9, "typed_by", uuid.NewString()), 9},
		{"text: done_on", text(9, "done_on", "2026-11-24"), 9},
		{"text: done_at", text(9, "done_at", "2026-11-25T13:00:00Z"), 9},
		{"text: done_at left out", text(9, "done_at", nil), 9},
		{"text: entered_at", text(9, "entered_at", "2026-11-25T13:00:00Z"), 9},
		{"text: device_at added", text(9, "device_at", "2026-11-25T13:00:00Z"), 9},
		{"text: reason added", text(9, "reason", "late"), 9},
		{"text: seq", text(9, "seq", 10), 9},
		{"text: farm", text(9, "farm_id", other.actor.FarmID.String()), 9},
		{"text: id", text(9, "id", uuid.NewString()), 9},
		{"text: kind", text(9, "kind", "plot"), 9},
		{"text: record", text(9, "record_id", uuid.NewString()), 9},
		{"text: version", text(9, "v", 2), 9},
		{"text: request taken away", text(11, "request", nil), 11},
		{"text: request added", text(9, "request", map[string]any{"key": "k", "hash": "h"}), 9},
		{"text: unknown field", text(9, "extra", "1"), 9},
		{"text: the first entry", text(1, "done_on", "2020-01-01"), 1},
		{"text: the last entry", text(21, "done_on", "2020-01-01"), 21},
		{"text: white space", func() { x.setLeaf(9, x.leaf(9)+" ") }, 9},
		{"text: not JSON", func() { x.setLeaf(9, "gone") }, 9},
		{"text: empty", func() { x.setLeaf(9, "") }, 9},
		{"row: id", update(9, `id = gen_random_uuid()`), 9},
		{"row: kind", update(9, `kind = 'plot'`), 9},
		{"row: record", update(9, `record_id = gen_random_uuid()`), 9},
		{"row: request key taken away", update(11, `request_key = null`), 11},
		{"row: request key", update(11, `request_key = 'key:twelve'`), 11},
		{"row: request key added", update(9, `request_key = 'key:nine'`), 9},
		{"row: own hash", update(9, `hashes = set_byte(hashes, 0, get_byte(hashes, 0) # 1)`), 9},
		{"row: hash of a node above", update(8, `hashes = set_byte(hashes, 127, get_byte(hashes, 127) # 1)`), 8},
		{"row: a hash too many", update(9, `hashes = hashes || hashes`), 9},
		{"row: a hash too few", update(8, `hashes = substr(hashes, 1, 96)`), 8},
		{"row: moved to another farm", update(9, `farm_id = $3, seq = 100`, other.actor.FarmID), 9},
		{"row: moved to the end", update(9, `seq = 22`), 9},
		{"deleted in the middle", func() { x.run(`delete from book_entries where farm_id = $1 and seq = 9`, farm) }, 9},
		{"deleted in the middle, the rest moved up", func() {
			x.run(`delete from book_entries where farm_id = $1 and seq = 9`, farm)
			x.run(`update book_entries set seq = seq + 1000 where farm_id = $1 and seq > 9`, farm)
			x.run(`update book_entries set seq = seq - 1001 where farm_id = $1 and seq > 1000`, farm)
		}, 9},
		{"deleted at the end", func() { x.run(`delete from book_entries where farm_id = $1 and seq > 18`, farm) }, 19},
		{"deleted altogether", func() { x.run(`delete from book_entries where farm_id = $1`, farm) }, 1},
		{"inserted at the end", func() { x.forge(22) }, 22},
		{"inserted in the middle", func() {
			x.run(`update book_entries set seq = seq + 1000 where farm_id = $1 and seq >= 9`, farm)
			x.run(`update book_entries set seq = seq - 999 where farm_id = $1 and seq >= 1000`, farm)
			x.run(`insert into book_entries select farm_id, 9, gen_random_uuid(), kind, record_id, null, leaf, hashes from book_entries where farm_id = $1 and seq = 8`, farm)
		}, 9},
		{"two texts swapped", func() {
			a, b := x.leaf(7), x.leaf(13)
			x.setLeaf(7, b)
			x.setLeaf(13, a)
		}, 7},
		{"two entries swapped", func() {
			x.run(`update book_entries set seq = case seq when 7 then 1013 else 1007 end where farm_id = $1 and seq in (7, 13)`, farm)
			x.run(`update book_entries set seq = seq - 1000 where farm_id = $1 and seq > 1000`, farm)
		}, 7},
		{"order turned round", func() {
			x.run(`update book_entries set seq = 1000 + 22 - seq where farm_id = $1`, farm)
			x.run(`update book_entries set seq = seq - 1000 where farm_id = $1`, farm)
		}, 1},
		{"end: one short", func() { x.run(`update book_heads set seq = seq - 1 where farm_id = $1`, farm) }, 21},
		{"end: one long", func() { x.run(`update book_heads set seq = seq + 1 where farm_id = $1`, farm) }, 22},
		{"end: nothing", func() { x.run(`update book_heads set seq = 0, frontier = '' where farm_id = $1`, farm) }, 1},
		{"end: hashes", func() {
			x.run(`update book_heads set frontier = set_byte(frontier, 70, get_byte(frontier, 70) # 1) where farm_id = $1`, farm)
		}, 21},
		{"end: hashes cut", func() { x.run(`update book_heads set frontier = substr(frontier, 1, 64) where farm_id = $1`, farm) }, 21},
		{"end: cut with the entries, hashes left", func() {
			x.run(`delete from book_entries where farm_id = $1 and seq > 18`, farm)
			x.run(`update book_heads set seq = 18 where farm_id = $1`, farm)
		}, 18},
		// A forger who also writes the leaf's own hash anew is found where a node over it was kept: at an even entry in
		// its own row, at an odd one in the next.
		{"text with its own hash, even", func() { x.rewrite(8, "done_on", "2020-01-01"); x.rehash(8) }, 8},
		{"text with its own hash, odd", func() { x.rewrite(9, "done_on", "2020-01-01"); x.rehash(9) }, 10},
		{"text with its own hash, last", func() { x.rewrite(21, "done_on", "2020-01-01"); x.rehash(21) }, 21},
		{"the other farm's book", func() { x.run(`delete from book_entries where farm_id = $1`, other.actor.FarmID) }, 0},
	}
	for _, c := range cases {
		c.do()
		if got := x.found(); got != c.want {
			t.Errorf("%s: verify names entry %d, want %d", c.name, got, c.want)
		}
		x.restore()
	}
	if got := x.found(); got != 0 {
		t.Errorf("after all was put back verify names entry %d", got)
	}
	t.Logf("%d ways to tamper", len(cases)-2)
}

// rehash writes an entry's own hash anew, and leaves the nodes above.
func (x *tampering) rehash(seq int64) {
	h := tlog.RecordHash([]byte(x.leaf(seq)))
	x.run(`update book_entries set hashes = overlay(hashes placing $3 from 1) where farm_id = $1 and seq = $2`, x.actor.FarmID, seq, h[:])
}

// forge appends a well-formed entry with right hashes, without moving the end of the book.
func (x *tampering) forge(seq int64) {
	x.t.Helper()
	list, err := x.db.Entries(ctx, x.actor.FarmID, 0, int(seq))
	if err != nil {
		x.t.Fatal(err)
	}
	edge := storage.NewEdge()
	var hashes []byte
	last := *list[len(list)-1]
	last.Seq, last.ID, last.Request = seq, uuid.Must(uuid.NewV7()), nil
	for _, e := range append(list, &last) {
		leaf, err := e.Canonical()
		if err != nil {
			x.t.Fatal(err)
		}
		if hashes, err = edge.Append(leaf); err != nil {
			x.t.Fatal(err)
		}
	}
	leaf, _ := last.Canonical()
	x.run(`insert into book_entries values ($1, $2, $3, $4, $5, null, $6, $7)`, x.actor.FarmID, seq, last.ID, last.EntryKind, last.RecordID, string(leaf), hashes)
}

// What Verify cannot see by itself: a book rewritten from some entry on with all its hashes. A checkpoint that left the
// building shows it.
func TestRewrittenBookNeedsACheckpoint(t *testing.T) {
	t.Parallel()
	x := newTampering(t, 21)
	kept, err := x.db.Checkpoint(ctx, x.actor.FarmID)
	if err != nil {
		t.Fatal(err)
	}
	x.rewrite(9, "done_on", "2020-01-01")
	edge := storage.NewEdge()
	for seq := int64(1); seq <= x.size; seq++ {
		hashes, err := edge.Append([]byte(x.leaf(seq)))
		if err != nil {
			t.Fatal(err)
		}
		x.run(`update book_entries set hashes = $3 where farm_id = $1 and seq = $2`, x.actor.FarmID, seq, hashes)
	}
	x.run(`update book_heads set frontier = $2 where farm_id = $1`, x.actor.FarmID, edge.Pack())
	if got := x.found(); got != 0 {
		t.Errorf("verify names entry %d of a book that fits together", got)
	}
	now, err := x.db.Checkpoint(ctx, x.actor.FarmID)
	if err != nil || now.Root == kept.Root || now.Size != kept.Size {
		t.Errorf("checkpoint %+v (%v), kept %+v: want another root at the same size", now, err, kept)
	}
}

// Any changed byte of any text is found at exactly that entry.
func TestAnyChangedByteIsFound(t *testing.T) {
	t.Parallel()
	x := newTampering(t, 40)
	rapid.Check(t, func(r *rapid.T) {
		for range 10 {
			seq := rapid.Int64Range(1, x.size).Draw(r, "entry")
			leaf := []byte(x.leaf(seq))
			at := rapid.IntRange(0, len(leaf)-1).Filter(func(i int) bool { return leaf[i] < 0x80 }).Draw(r, "byte")
			to := rapid.ByteRange(0x20, 0x7e).Filter(func(b byte) bool { return b != leaf[at] }).Draw(r, "becomes")
			was := slices.Clone(leaf)
			leaf[at] = to
			x.setLeaf(seq, string(leaf))
			got := x.found()
			x.setLeaf(seq, string(was))
			if got != seq {
				r.Fatalf("byte %d of entry %d from %q to %q: verify names %d", at, seq, was[at], to, got)
			}
		}
	})
	if got := x.found(); got != 0 {
		t.Errorf("after all was put back verify names entry %d", got)
	}
}

// The service's role is refused whatever could change the book or lift its own limits.
func TestServiceCannotChangeTheBook(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	other := f.neighbour()
	conn := connect(t, f.service)
	farm, otherFarm := f.actor.FarmID.String(), other.actor.FarmID.String()
	for _, sql := range []string{
		`update book_entries set leaf = leaf`,
		`update book_entries set hashes = hashes where farm_id = '` + farm + `'`,
		`delete from book_entries`,
		`truncate book_entries`,
		`truncate book_entries, records cascade`,
		`delete from book_heads where farm_id = '` + farm + `'`,
		`truncate book_heads cascade`,
		`delete from tokens`,
		`alter table book_entries disable row level security`,
		`alter table book_entries no force row level security`,
		`drop policy book_entries_own_farm on book_entries`,
		`create policy everything on book_entries using (true)`,
		`alter table book_entries drop constraint book_entries_pkey`,
		`drop table book_entries`,
		`create trigger t before insert on book_entries for each row execute function suppress_redundant_updates_trigger()`,
		`create rule r as on insert to book_entries do instead nothing`,
		`alter function croftmark_farm() stable`,
		`create or replace function croftmark_farm() returns uuid language sql as 'select null::uuid'`,
		`set role croftmark_owner`,
		`set session authorization croftmark_owner`,
		`set session_replication_role = replica`,
		`alter role croftmark_service bypassrls`,
		`select * from goose_db_version`,
		`insert into book_entries (farm_id, seq, id, kind, record_id, leaf, hashes) values ('` + otherFarm + `', 99, gen_random_uuid(), 'plot', gen_random_uuid(), '', '\x0000000000000000000000000000000000000000000000000000000000000000')`,
		`update book_heads set farm_id = '` + otherFarm + `' where farm_id = '` + farm + `'`,
	} {
		tx, err := conn.Begin(ctx)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := tx.Exec(ctx, `select set_config('croftmark.farm_id', $1, true)`, farm); err != nil {
			t.Fatal(err)
		}
		if _, err := tx.Exec(ctx, sql); !isSQLState(err, "42501") {
			t.Errorf("%s: %v, want permission denied", sql, err)
		}
		tx.Rollback(ctx)
	}
	for _, x := range []*field{f, other} {
		if _, err := x.db.Verify(ctx, x.actor.FarmID, nil); err != nil {
			t.Error(err)
		}
	}
}
