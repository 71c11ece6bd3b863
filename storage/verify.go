package storage

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"golang.org/x/mod/sumdb/tlog"

	"croftmark/domain"
)

// Verified is the result of reading a whole book.
type Verified struct {
	FarmID  uuid.UUID
	Entries int64
	Root    string
}

// BadEntry names the first entry that is not as it was written.
type BadEntry struct {
	Seq int64
	Why string
}

func (b *BadEntry) Error() string { return fmt.Sprintf("entry %d: %s", b.Seq, b.Why) }

// Verify reads a farm's book from its first entry and recomputes every hash. A changed, missing, added or re-ordered
// entry gives a *BadEntry with the first number where the book and its hashes part. Who changes a text together with its
// own hash is found at the next entry that closes a part of the tree over it. Who rewrites the book and all its hashes
// is found at the next checkpoint that was signed; against somebody who rewrites those as well only a checkpoint that
// left the building helps.
func (db *DB) Verify(ctx context.Context, farm uuid.UUID, progress func(done, total int64)) (v Verified, err error) {
	err = db.read(ctx, farm, func(tx pgx.Tx) error {
		// The end of the book is evidence to be checked, so it is not read by the code that trusts it.
		var size int64
		var packed []byte
		var key string
		err := tx.QueryRow(ctx, `select seq, frontier, farm_key from book_heads where farm_id = $1`, farm).Scan(&size, &packed, &key)
		if err == pgx.ErrNoRows {
			return domain.NotFound("farm", farm.String())
		}
		if err != nil {
			return err
		}
		check := &verifier{farm: farm, key: key, tree: newFrontier()}
		if check.signed, err = signedSizes(ctx, tx, farm); err != nil {
			return err
		}
		err = readAhead(pagesOf(ctx, tx, farm), func(p *readPage) error {
			if err := check.page(p); err != nil {
				return err
			}
			if progress != nil {
				progress(check.tree.size, size)
			}
			return nil
		})
		if err != nil {
			return err
		}
		if v, err = check.end(size, packed); err != nil {
			return err
		}
		return verifyFiles(ctx, tx, farm)
	})
	return v, err
}

// verifier rebuilds the tree entry by entry.
type verifier struct {
	farm   uuid.UUID
	key    string
	tree   *frontier
	signed map[int64]SignedCheckpoint // by the size they were signed at
}

// signedSizes reads the checkpoints that were given out.
func signedSizes(ctx context.Context, tx pgx.Tx, farm uuid.UUID) (map[int64]SignedCheckpoint, error) {
	rows, err := tx.Query(ctx, `select size, note, verifier from checkpoints where farm_id = $1`, farm)
	if err != nil {
		return nil, err
	}
	out := map[int64]SignedCheckpoint{}
	_, err = pgx.CollectRows(rows, func(row pgx.CollectableRow) (c SignedCheckpoint, err error) {
		err = row.Scan(&c.Size, &c.Note, &c.Verifier)
		out[c.Size] = c
		return c, err
	})
	return out, err
}

// openedAs holds a book to its first entry, the farm, which carries the key that labels and papers name.
func openedAs(e *domain.Entry, farm uuid.UUID, key string) error {
	var body domain.Farm
	if e.EntryKind != "farm" || e.RecordID != farm || json.Unmarshal(e.Body, &body) != nil {
		return &BadEntry{1, "a book begins with its farm; this entry is something else"}
	}
	if body.Key != key {
		return &BadEntry{1, fmt.Sprintf("the farm's key is %s in the book and %s beside it", body.Key, key)}
	}
	return nil
}

// given holds the book so far to the checkpoint that was signed here, if one was.
func (c *verifier) given() error {
	signed, ok := c.signed[c.tree.size]
	if !ok {
		return nil
	}
	root, err := c.tree.root()
	if err != nil {
		return err
	}
	signed.Checkpoint = Checkpoint{Origin: originOf(c.key), Size: c.tree.size, Root: root.String()}
	return signed.stands()
}

// page goes through entries in order; what each says by itself was looked at while the page before was.
func (c *verifier) page(p *readPage) error {
	for i := range p.rows {
		if err := c.entry(&p.rows[i], &p.read[i]); err != nil {
			return err
		}
	}
	return nil
}

func (c *verifier) entry(r *entryRow, read *readEntry) error {
	seq := c.tree.size + 1
	bad := func(format string, args ...any) error { return &BadEntry{seq, fmt.Sprintf(format, args...)} }
	if r.Seq != seq {
		return bad("missing; the next entry there is has number %d", r.Seq)
	}
	if read.err != nil {
		return bad("%v", read.err)
	}
	e := read.entry
	switch {
	case e.Seq != seq:
		return bad("its text says it is entry %d", e.Seq)
	case e.FarmID != c.farm:
		return bad("its text belongs to another farm")
	case e.ID != r.ID || e.EntryKind != r.Kind || e.RecordID != r.RecordID:
		return bad("its text and its row name different things")
	case (e.Request == nil) != (r.RequestKey == nil) || e.Request != nil && e.Request.Key != *r.RequestKey:
		return bad("its text and its row name different requests")
	}
	if seq == 1 {
		if err := openedAs(e, c.farm, c.key); err != nil {
			return err
		}
	}
	hashes := c.tree.appendHash(read.hash)
	switch {
	case len(r.Hashes) < tlog.HashSize || !bytes.Equal(hashes[:tlog.HashSize], r.Hashes[:tlog.HashSize]):
		return bad("its text is not what was hashed when it was written")
	case !bytes.Equal(hashes, r.Hashes):
		return bad("it and the entries just before it do not fit together: the text of one was changed with its own hash, or the hashes here were")
	}
	return c.given()
}

// end compares what was read with the end of the book.
func (c *verifier) end(size int64, packed []byte) (Verified, error) {
	for at := range c.signed {
		if at > c.tree.size {
			return Verified{}, &BadEntry{c.tree.size + 1, fmt.Sprintf("missing; a checkpoint was signed at %d entries", at)}
		}
	}
	switch {
	case c.tree.size < size:
		return Verified{}, &BadEntry{c.tree.size + 1, fmt.Sprintf("missing; the book should end with entry %d", size)}
	case c.tree.size > size:
		return Verified{}, &BadEntry{size + 1, fmt.Sprintf("one too many; the book should end with entry %d", size)}
	case !bytes.Equal(c.tree.pack(), packed):
		return Verified{}, &BadEntry{size, "the end of the book does not fit the entries before it"}
	}
	root, err := c.tree.root()
	return Verified{FarmID: c.farm, Entries: size, Root: root.String()}, err
}
