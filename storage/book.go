package storage

import (
	"bytes"
	"context"
	"fmt"
	"slices"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"golang.org/x/mod/sumdb/tlog"

	"croftmark/domain"
)

// frontier is the right edge of a farm's Merkle tree (RFC 6962 shape, as golang.org/x/mod/sumdb/tlog builds it): for
// each bit set in the number of entries, the hash of the complete subtree of that size. It is all that is needed to
// append, so appending reads nothing else of the book.
type frontier struct {
	size   int64
	hashes map[int]tlog.Hash // by level
}

// newFrontier is the edge of an empty book.
func newFrontier() *frontier { return &frontier{hashes: map[int]tlog.Hash{}} }

func readFrontier(size int64, packed []byte) (*frontier, error) {
	f := &frontier{size: size, hashes: map[int]tlog.Hash{}}
	for level := 0; size>>level > 0; level++ {
		if size>>level&1 == 0 {
			continue
		}
		if len(packed) < tlog.HashSize {
			return nil, fmt.Errorf("the end of the book is damaged: its hashes do not fit its length")
		}
		f.hashes[level] = tlog.Hash(packed[:tlog.HashSize])
		packed = packed[tlog.HashSize:]
	}
	if len(packed) > 0 {
		return nil, fmt.Errorf("the end of the book is damaged: its hashes do not fit its length")
	}
	return f, nil
}

func (f *frontier) pack() []byte {
	var out []byte
	for level := 0; f.size>>level > 0; level++ {
		if f.size>>level&1 == 1 {
			h := f.hashes[level]
			out = append(out, h[:]...)
		}
	}
	return out
}

// ReadHashes implements tlog.HashReader for the nodes of the right edge, the only ones an append asks for.
func (f *frontier) ReadHashes(indexes []int64) ([]tlog.Hash, error) {
	out := make([]tlog.Hash, len(indexes))
	for i, index := range indexes {
		level, n := tlog.SplitStoredHashIndex(index)
		h, ok := f.hashes[level]
		if !ok || n != f.size>>level-1 {
			return nil, fmt.Errorf("hash %d (level %d, node %d) is not at the edge of %d entries", index, level, n, f.size)
		}
		out[i] = h
	}
	return out, nil
}

// append adds a leaf and gives the nodes it completes, leaf first, packed for the entry's row.
func (f *frontier) append(leaf []byte) []byte { return f.appendHash(tlog.RecordHash(leaf)) }

// appendHash is append by the hash of the leaf.
func (f *frontier) appendHash(h tlog.Hash) []byte {
	packed := bytes.Clone(h[:])
	level := 0
	for ; f.size>>level&1 == 1; level++ {
		h = tlog.NodeHash(f.hashes[level], h)
		packed = append(packed, h[:]...)
		delete(f.hashes, level)
	}
	f.hashes[level] = h
	f.size++
	return packed
}

// root is the hash of the whole book so far.
func (f *frontier) root() (tlog.Hash, error) {
	if f.size == 0 {
		return tlog.TreeHash(0, f)
	}
	return tlog.TreeHash(f.size, f)
}

// bookHashes reads any node of a farm's tree from the entries that completed it.
type bookHashes struct {
	ctx  context.Context
	tx   pgx.Tx
	farm uuid.UUID
}

// ReadHashes implements tlog.HashReader. Node (level, n) was completed by entry ((n+1) << level), counted from 1, and
// lies in that entry's row at position level.
func (b bookHashes) ReadHashes(indexes []int64) ([]tlog.Hash, error) {
	seqs := make([]int64, len(indexes))
	levels := make([]int, len(indexes))
	for i, index := range indexes {
		level, n := tlog.SplitStoredHashIndex(index)
		seqs[i], levels[i] = (n+1)<<level, level
	}
	rows, err := b.tx.Query(b.ctx, `select seq, hashes from book_entries where farm_id = $1 and seq = any($2)`, b.farm, seqs)
	if err != nil {
		return nil, err
	}
	type node struct {
		Seq    int64
		Hashes []byte
	}
	nodes, err := pgx.CollectRows(rows, pgx.RowToStructByPos[node])
	if err != nil {
		return nil, err
	}
	bySeq := map[int64][]byte{}
	for _, n := range nodes {
		bySeq[n.Seq] = n.Hashes
	}
	out := make([]tlog.Hash, len(indexes))
	for i := range indexes {
		at := levels[i] * tlog.HashSize
		packed := bySeq[seqs[i]]
		if len(packed) < at+tlog.HashSize {
			return nil, fmt.Errorf("entry %d lacks the hash of level %d", seqs[i], levels[i])
		}
		out[i] = tlog.Hash(packed[at : at+tlog.HashSize])
	}
	return out, nil
}

// Checkpoint is the state of a farm's book: how many entries, and the hash over all of them.
type Checkpoint struct {
	Origin string `json:"origin"`
	Size   int64  `json:"size"`
	Root   string `json:"root" doc:"Base64 of the Merkle tree hash (RFC 6962)."`
}

// Checkpoint gives the state of the book now.
func (db *DB) Checkpoint(ctx context.Context, farm uuid.UUID) (c Checkpoint, err error) {
	err = db.read(ctx, farm, func(tx pgx.Tx) error {
		f, key, err := readHead(ctx, tx, farm, "")
		if err != nil {
			return err
		}
		root, err := f.root()
		if err != nil {
			return err
		}
		c = Checkpoint{Origin: "croftmark/" + key, Size: f.size, Root: root.String()}
		return nil
	})
	return c, err
}

// readHead gives the end of the book and the farm's key; lock is "" or "for update".
func readHead(ctx context.Context, tx pgx.Tx, farm uuid.UUID, lock string) (*frontier, string, error) {
	var size int64
	var packed []byte
	var key string
	err := tx.QueryRow(ctx, `select seq, frontier, farm_key from book_heads where farm_id = $1 `+lock, farm).Scan(&size, &packed, &key)
	if err == pgx.ErrNoRows {
		return nil, "", domain.NotFound("farm", farm.String())
	}
	if err != nil {
		return nil, "", err
	}
	f, err := readFrontier(size, packed)
	return f, key, err
}

// Proof shows that one entry stands in the book at a checkpoint (RFC 6962 inclusion proof).
type Proof struct {
	Entry      int64      `json:"entry"`
	Leaf       string     `json:"leaf,omitempty" doc:"The entry's canonical JSON, byte for byte as hashed; left out when it is private and not yours to read."`
	LeafHash   string     `json:"leaf_hash" doc:"Base64: the hash that the proof begins with."`
	Hashes     []string   `json:"hashes" doc:"Base64, from the leaf upwards."`
	Checkpoint Checkpoint `json:"checkpoint"`
}

// Proof gives the inclusion proof of an entry, by its number.
func (db *DB) Proof(ctx context.Context, farm uuid.UUID, seq int64) (p Proof, err error) {
	err = db.read(ctx, farm, func(tx pgx.Tx) error {
		f, key, err := readHead(ctx, tx, farm, "")
		if err != nil {
			return err
		}
		if seq < 1 || seq > f.size {
			return domain.NotFound("entry", fmt.Sprint(seq))
		}
		if err := tx.QueryRow(ctx, `select leaf from book_entries where farm_id = $1 and seq = $2`, farm, seq).Scan(&p.Leaf); err != nil {
			return err
		}
		hashes, err := tlog.ProveRecord(f.size, seq-1, bookHashes{ctx, tx, farm})
		if err != nil {
			return err
		}
		root, err := f.root()
		if err != nil {
			return err
		}
		for _, h := range hashes {
			p.Hashes = append(p.Hashes, h.String())
		}
		p.LeafHash = tlog.RecordHash([]byte(p.Leaf)).String()
		p.Entry, p.Checkpoint = seq, Checkpoint{Origin: "croftmark/" + key, Size: f.size, Root: root.String()}
		return nil
	})
	return p, err
}

// entryRow is a row of the book as stored, before anything in it is believed.
type entryRow struct {
	Seq        int64
	ID         uuid.UUID
	Kind       string
	RecordID   uuid.UUID
	RequestKey *string
	Leaf       []byte
	Hashes     []byte
}

const entryColumns = `seq, id, kind, record_id, request_key, leaf, hashes`

// Entries lists a farm's entries after a number, oldest first.
func (db *DB) Entries(ctx context.Context, farm uuid.UUID, after int64, limit int) ([]*domain.Entry, error) {
	return db.entries(ctx, farm, after, limit, entryRows)
}

// NewestEntries lists the last of a farm's entries after a number, and of those the oldest first.
func (db *DB) NewestEntries(ctx context.Context, farm uuid.UUID, after int64, limit int) ([]*domain.Entry, error) {
	return db.entries(ctx, farm, after, limit, newestRows)
}

type listEntries func(ctx context.Context, tx pgx.Tx, farm uuid.UUID, after int64, limit int) ([]entryRow, error)

func (db *DB) entries(ctx context.Context, farm uuid.UUID, after int64, limit int, list listEntries) (out []*domain.Entry, err error) {
	err = db.read(ctx, farm, func(tx pgx.Tx) error {
		rows, err := list(ctx, tx, farm, after, limit)
		if err != nil {
			return err
		}
		for _, r := range rows {
			e, err := domain.ParseEntry(r.Leaf)
			if err != nil {
				return err
			}
			out = append(out, e)
		}
		return nil
	})
	return out, err
}

func entryRows(ctx context.Context, tx pgx.Tx, farm uuid.UUID, after int64, limit int) ([]entryRow, error) {
	rows, err := tx.Query(ctx, `select `+entryColumns+` from book_entries
		where farm_id = $1 and seq > $2 order by seq limit $3`, farm, after, limit)
	if err != nil {
		return nil, err
	}
	return scanEntries(rows)
}

func newestRows(ctx context.Context, tx pgx.Tx, farm uuid.UUID, after int64, limit int) ([]entryRow, error) {
	rows, err := tx.Query(ctx, `select `+entryColumns+` from book_entries
		where farm_id = $1 and seq > $2 order by seq desc limit $3`, farm, after, limit)
	if err != nil {
		return nil, err
	}
	out, err := scanEntries(rows)
	slices.Reverse(out)
	return out, err
}

func scanEntries(rows pgx.Rows) ([]entryRow, error) {
	var r entryRow
	var out []entryRow
	_, err := pgx.ForEachRow(rows, []any{&r.Seq, &r.ID, &r.Kind, &r.RecordID, &r.RequestKey, &r.Leaf, &r.Hashes}, func() error {
		out = append(out, r)
		return nil
	})
	return out, err
}
