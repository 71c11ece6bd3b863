package storage

import (
	"archive/zip"
	"bufio"
	"bytes"
	"context"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"golang.org/x/mod/sumdb/tlog"

	"croftmark/domain"
)

// The export is one zip file, documented in DEVELOPERS.md: manifest.json says whose book it is, book.jsonl holds every
// entry in its canonical bytes, a line each, hashes.txt the nodes of the tree that each entry completed, by which a
// changed one is named, checkpoint.txt the signed checkpoint over all of them, and attachments/ the files that entries
// name, each under its hash. Nothing in it is secret, and the same book always gives the same bytes.
const (
	exportManifest   = "manifest.json"
	exportBook       = "book.jsonl"
	exportCheckpoint = "checkpoint.txt"
	exportHashes     = "hashes.txt"
	exportFiles      = "attachments/"
	exportFormat     = "croftmark-book-1"
)

// manifest is the first file of an export.
type manifest struct {
	Format   string    `json:"format"`
	FarmID   uuid.UUID `json:"farm_id"`
	FarmKey  string    `json:"farm_key"`
	Entries  int64     `json:"entries"`
	Root     string    `json:"root"`
	Verifier string    `json:"verifier_key"`
	Files    int       `json:"attachments,omitempty"`
}

// exportTime stands in every export, so that the same book gives the same file.
var exportTime = time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)

// Export writes a farm's whole book, streaming.
func (db *DB) Export(ctx context.Context, farm uuid.UUID, out io.Writer, progress func(done, total int64)) error {
	c, err := db.SignedCheckpoint(ctx, farm)
	if err != nil {
		return err
	}
	return db.read(ctx, farm, func(tx pgx.Tx) error {
		x := &exportWriter{ctx: ctx, tx: tx, farm: farm, page: verifyPage, zip: zip.NewWriter(out), told: progress}
		return x.write(c)
	})
}

// openedExport is an export whose manifest and signature were read; the entries are still to be.
type openedExport struct {
	manifest manifest
	note     string
	signed   Checkpoint
	book     io.ReadCloser
	hashes   io.ReadCloser // nil in exports of before there was such a file
	zip      *zip.Reader
	named    map[string]int64 // hashes of the files that entries name, with the first entry that does
	tree     *frontier        // of the entries read so far
}

// openExport reads the head of an export and checks that its checkpoint is signed by the key it names and speaks of the
// same book.
func openExport(in io.ReaderAt, size int64) (*openedExport, error) {
	z, err := zip.NewReader(in, size)
	if err != nil {
		return nil, fmt.Errorf("this is not an export of a book: %w", err)
	}
	if err := knownParts(z); err != nil {
		return nil, err
	}
	o := &openedExport{zip: z, named: map[string]int64{}}
	raw, err := readZip(z, exportManifest)
	if err != nil {
		return nil, err
	}
	if err := json.Unmarshal(raw, &o.manifest); err != nil || o.manifest.Format != exportFormat {
		return nil, fmt.Errorf("%s is not of the format %s", exportManifest, exportFormat)
	}
	raw, err = readZip(z, exportCheckpoint)
	if err != nil {
		return nil, err
	}
	o.note = string(raw)
	if o.signed, err = OpenCheckpoint(o.note, o.manifest.Verifier); err != nil {
		return nil, err
	}
	m := o.manifest
	if o.signed.Origin != originOf(m.FarmKey) || o.signed.Size != m.Entries || o.signed.Root != m.Root {
		return nil, fmt.Errorf("the signed checkpoint speaks of another book than the manifest")
	}
	o.book, err = z.Open(exportBook)
	if err != nil {
		return nil, fmt.Errorf("%s is missing in the export", exportBook)
	}
	if o.hashes, err = z.Open(exportHashes); err != nil {
		o.hashes = nil
	}
	return o, nil
}

// knownParts refuses a file with a part that the format does not know, or with one twice: another reader might take the
// other one. Attachments are held to what entries name.
func knownParts(z *zip.Reader) error {
	seen := map[string]bool{}
	for _, f := range z.File {
		known := slices.Contains([]string{exportManifest, exportCheckpoint, exportHashes, exportBook}, f.Name)
		if !known && !strings.HasPrefix(f.Name, exportFiles) || seen[f.Name] {
			return fmt.Errorf("the export holds the part %q, which is not of the format %s or is there twice", f.Name, exportFormat)
		}
		seen[f.Name] = true
	}
	return nil
}

func readZip(z *zip.Reader, name string) ([]byte, error) {
	f, err := z.Open(name)
	if err != nil {
		return nil, fmt.Errorf("%s is missing in the export", name)
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, 1<<20))
}

// each gives the entries one by one, holding each to the hashes; at the end the whole must be what was signed. The first
// entry that is not as it was written is named.
func (o *openedExport) each(fn func(row *entryRow, e *domain.Entry) error) error {
	defer o.book.Close()
	o.tree = newFrontier()
	var nodes *bufio.Reader
	if o.hashes != nil {
		defer o.hashes.Close()
		nodes = bufio.NewReader(o.hashes)
	}
	if err := readAhead(o.pages(), func(p *readPage) error {
		for i := range p.rows {
			if err := o.entry(&p.rows[i], &p.read[i], nodes); err != nil {
				return err
			}
			if err := fn(&p.rows[i], p.read[i].entry); err != nil {
				return err
			}
		}
		return nil
	}); err != nil {
		return err
	}
	return o.whole(o.tree)
}

// pages fetches the lines of the book; what rows of a database say beside their text is filled in as they are gone through.
func (o *openedExport) pages() func() *readPage {
	lines, seq := bufio.NewReaderSize(o.book, 1<<16), int64(0)
	return func() *readPage {
		p := &readPage{}
		for len(p.rows) < verifyPage {
			line, err := lines.ReadBytes('\n')
			if err == io.EOF && len(line) == 0 {
				p.last = true
				return p
			}
			seq++
			if err != nil {
				p.err = &BadEntry{seq, "the file breaks off here"}
				return p
			}
			p.rows = append(p.rows, entryRow{Seq: seq, Leaf: bytes.TrimSuffix(line, []byte("\n"))})
		}
		return p
	}
}

// entry holds an entry to its place in the book and to the hashes.
func (o *openedExport) entry(row *entryRow, read *readEntry, nodes *bufio.Reader) error {
	if read.err != nil {
		return &BadEntry{row.Seq, read.err.Error()}
	}
	e := read.entry
	if e.Seq != row.Seq || e.FarmID != o.manifest.FarmID {
		return &BadEntry{row.Seq, fmt.Sprintf("its text says it is entry %d of farm %s", e.Seq, e.FarmID)}
	}
	if row.Seq == 1 {
		if err := openedAs(e, o.manifest.FarmID, o.manifest.FarmKey); err != nil {
			return err
		}
	}
	row.ID, row.Kind, row.RecordID, row.Hashes = e.ID, e.EntryKind, e.RecordID, o.tree.appendHash(read.hash)
	if e.Request != nil {
		row.RequestKey = &e.Request.Key
	}
	if nodes != nil {
		if err := asHashed(nodes, row.Seq, row.Hashes); err != nil {
			return err
		}
	}
	return o.keep(e)
}

// asHashed holds an entry's hashes to those that the export carries for it.
func asHashed(nodes *bufio.Reader, seq int64, hashes []byte) error {
	line, err := nodes.ReadString('\n')
	if err != nil {
		return &BadEntry{seq, "its hashes are missing in the export"}
	}
	kept, err := base64.StdEncoding.DecodeString(strings.TrimSuffix(line, "\n"))
	switch {
	case err != nil || len(kept) < tlog.HashSize || !bytes.Equal(kept[:tlog.HashSize], hashes[:tlog.HashSize]):
		return &BadEntry{seq, "its text is not what was hashed when it was written"}
	case !bytes.Equal(kept, hashes):
		return &BadEntry{seq, "it and the entries just before it do not fit together: the text of one was changed with its own hash, or the hashes here were"}
	}
	return nil
}

// whole compares what was read with what was signed.
func (o *openedExport) whole(tree *frontier) error {
	if tree.size != o.signed.Size {
		return &BadEntry{tree.size + 1, fmt.Sprintf("missing; %d entries were signed", o.signed.Size)}
	}
	root, err := tree.root()
	if err != nil {
		return err
	}
	if root.String() != o.signed.Root {
		return fmt.Errorf("the entries are not the ones that were signed: some entry before number %d was changed and hashed anew", tree.size+1)
	}
	return nil
}

// VerifyExport reads a whole export with nothing but what is in it and, if given, the public key that a paper carries.
func VerifyExport(in io.ReaderAt, size int64, verifierKey string, progress func(done, total int64)) (v Verified, err error) {
	o, err := openExport(in, size)
	if err != nil {
		return v, err
	}
	if verifierKey != "" && verifierKey != o.manifest.Verifier {
		return v, fmt.Errorf("the export is signed by another key than the one given")
	}
	if err = o.each(func(row *entryRow, _ *domain.Entry) error {
		if progress != nil && row.Seq%verifyPage == 0 {
			progress(row.Seq, o.signed.Size)
		}
		return nil
	}); err == nil {
		err = o.eachFile(func(string, []byte) error { return nil })
	}
	return Verified{FarmID: o.manifest.FarmID, Entries: o.signed.Size, Root: o.signed.Root}, err
}

// copiedAtOnce is how many entries a restore adds in one statement.
const copiedAtOnce = 500

// Restore reads an export into a database that does not hold that farm: the book entry by entry, and the tables from it.
// It is one transaction; a damaged file leaves nothing.
func (db *DB) Restore(ctx context.Context, in io.ReaderAt, size int64, progress func(done, total int64)) (v Verified, err error) {
	o, err := openExport(in, size)
	if err != nil {
		return v, err
	}
	farm := o.manifest.FarmID
	err = db.transact(ctx, farm, "begin", planOnce, nil, func(tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, `insert into book_heads (farm_id, farm_key, seq, frontier) values ($1, $2, 0, '')`, farm, o.manifest.FarmKey); err != nil {
			return err
		}
		x := index{ctx, tx, farm, &pgx.Batch{}}
		var rows []entryRow
		if err := o.each(func(row *entryRow, e *domain.Entry) error {
			if rows = append(rows, *row); len(rows) == copiedAtOnce {
				if err := x.appendEntries(rows, o.tree); err != nil {
					return err
				}
				rows = nil
			}
			if err := x.planAnew(row.Seq); err != nil {
				return err
			}
			if progress != nil && row.Seq%verifyPage == 0 {
				progress(row.Seq, o.signed.Size)
			}
			return x.replay(e)
		}); err != nil {
			return err
		}
		if len(rows) > 0 {
			if err := x.appendEntries(rows, o.tree); err != nil {
				return err
			}
		}
		if err := o.eachFile(func(hash string, content []byte) error { return restoreFile(ctx, tx, farm, hash, content) }); err != nil {
			return err
		}
		// The checkpoint that came with the book is kept as it was signed: papers carry it.
		if err := x.exec(`insert into checkpoints (farm_id, size, note, verifier) values ($1, $2, $3, $4)`, o.signed.Size, o.note, o.manifest.Verifier); err != nil {
			return err
		}
		return x.send()
	})
	return Verified{FarmID: farm, Entries: o.signed.Size, Root: o.signed.Root}, err
}
