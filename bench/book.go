package main

import (
	"archive/zip"
	"bufio"
	"crypto/rand"
	"encoding/json"
	"fmt"
	"io"
	prng "math/rand/v2"
	"os"
	"time"

	"github.com/google/uuid"
	"golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"

	"croftmark/domain"
)

// author writes a book as the door would have written it, entry by entry, into an export file: canonical bytes, numbers
// without gaps, the hash tree over all of them. Reading the file back in is the program's own restore, so nothing here
// touches a table, and its own verify has to agree with every hash.
type author struct {
	farm  *domain.Farm
	owner uuid.UUID
	zone  *time.Location
	out   *bufio.Writer
	tree  tree
	seq   int64
	day   domain.Date
	tick  int // entries of the day so far
	dice  *prng.Rand
}

// tree is the right edge of an RFC 6962 tree: complete subtrees from large to small.
type tree struct {
	nodes []tlog.Hash
	sizes []int64
}

func (t *tree) append(leaf []byte) {
	t.nodes, t.sizes = append(t.nodes, tlog.RecordHash(leaf)), append(t.sizes, 1)
	for n := len(t.nodes); n > 1 && t.sizes[n-1] == t.sizes[n-2]; n = len(t.nodes) {
		t.nodes[n-2], t.sizes[n-2] = tlog.NodeHash(t.nodes[n-2], t.nodes[n-1]), t.sizes[n-2]*2
		t.nodes, t.sizes = t.nodes[:n-1], t.sizes[:n-1]
	}
}

func (t *tree) root() tlog.Hash {
	h := t.nodes[len(t.nodes)-1]
	for i := len(t.nodes) - 2; i >= 0; i-- {
		h = tlog.NodeHash(t.nodes[i], h)
	}
	return h
}

// now is when the next entry is typed in: in the evening of the day, a moment after the one before.
func (a *author) now() time.Time {
	return a.day.In(a.zone).Add(18*time.Hour + time.Duration(a.tick)*100*time.Millisecond).UTC()
}

// hour is an hour of the day of which records tell.
func (a *author) hour(h int) time.Time {
	return a.day.In(a.zone).Add(time.Duration(h) * time.Hour)
}

// id gives the next id. Version 7 with the book's own time, so that ids lie in order as they would have.
func (a *author) id() (id uuid.UUID) {
	ms := a.now().UnixMilli()
	for i := range 6 {
		id[i] = byte(ms >> (40 - 8*i))
	}
	x, y := a.dice.Uint64(), a.dice.Uint64()
	for i := range 8 {
		id[6+i] = byte(x >> (8 * i))
	}
	id[14], id[15] = byte(y), byte(y>>8)
	id[6], id[8] = id[6]&0x0f|0x70, id[8]&0x3f|0x80
	return id
}

// on goes on to a day.
func (a *author) on(day domain.Date) { a.day, a.tick = day, 0 }

// write adds an entry of a new record.
func (a *author) write(r domain.Record) error {
	body, err := json.Marshal(r)
	if err != nil {
		return err
	}
	a.seq++
	a.tick++
	now := a.now()
	e := &domain.Entry{Version: domain.EntryVersion, FarmID: a.farm.ID, Seq: a.seq, ID: a.id(), EntryKind: r.Kind(), RecordID: *r.Identity(), Body: body,
		DoneBy: a.owner, TypedBy: a.owner, DoneOn: a.day, DoneAt: now, EnteredAt: now}
	if timed, ok := r.(domain.Timed); ok {
		e.DoneAt = timed.HappenedAt()
	}
	leaf, err := e.Canonical()
	if err != nil {
		return err
	}
	a.tree.append(leaf)
	a.out.Write(leaf) // the writer keeps its first error for the end
	return a.out.WriteByte('\n')
}

// writeBook makes an export file with a book of about so many entries.
func writeBook(path string, entries int, today domain.Date) (b *bookMade, err error) {
	file, err := os.Create(path)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	z := zip.NewWriter(file)
	book, err := z.Create("book.jsonl")
	if err != nil {
		return nil, err
	}
	zone, err := domain.Zone("America/New_York")
	if err != nil {
		return nil, err
	}
	a := &author{zone: zone, out: bufio.NewWriterSize(book, 1<<20), dice: prng.New(prng.NewPCG(8, uint64(entries)))}
	if b, err = a.farming(entries, today); err != nil {
		return nil, err
	}
	if err := a.out.Flush(); err != nil {
		return nil, err
	}
	if err := a.sign(z); err != nil {
		return nil, err
	}
	b.Entries = a.seq
	return b, z.Close()
}

// sign adds the two other files of an export, with a key made for it.
func (a *author) sign(z *zip.Writer) error {
	origin, root := "croftmark/"+a.farm.Key, a.tree.root().String()
	private, public, err := note.GenerateKey(rand.Reader, origin)
	if err != nil {
		return err
	}
	signer, err := note.NewSigner(private)
	if err != nil {
		return err
	}
	signed, err := note.Sign(&note.Note{Text: fmt.Sprintf("%s\n%d\n%s\n", origin, a.seq, root)}, signer)
	if err != nil {
		return err
	}
	manifest, err := json.MarshalIndent(map[string]any{"format": "croftmark-book-1", "farm_id": a.farm.ID, "farm_key": a.farm.Key, "entries": a.seq,
		"root": root, "verifier_key": public}, "", "  ")
	if err != nil {
		return err
	}
	for name, content := range map[string][]byte{"manifest.json": manifest, "checkpoint.txt": signed} {
		if err := addFile(z, name, content); err != nil {
			return err
		}
	}
	return nil
}

func addFile(z *zip.Writer, name string, content []byte) error {
	var w io.Writer
	w, err := z.Create(name)
	if err != nil {
		return err
	}
	_, err = w.Write(content)
	return err
}
