package storage

import (
	"archive/zip"
	"bytes"
	"compress/flate"
	"context"
	"encoding/base64"
	"encoding/json"
	"hash/crc32"
	"io"
	"math"
	"strings"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
)

// member is one file of an export's zip, as far as it is written.
type member struct {
	Name   string `json:"name"`
	Method uint16 `json:"method"`
	CRC    uint32 `json:"crc32"`
	Packed int64  `json:"packed"` // bytes in the zip
	Plain  int64  `json:"plain"`  // bytes of the file
	After  int64  `json:"after"`  // the last entry in it, for files that hold a line for each
	Whole  bool   `json:"whole"`
}

// exportWriter writes the members of an export in their order, step by step: a page of entries or one attached file. Each
// page is packed by itself, so that the zip can go on after any step with nothing but the list of its members.
type exportWriter struct {
	ctx  context.Context
	tx   pgx.Tx
	farm uuid.UUID
	page int // entries to a step

	zip     *zip.Writer
	members []*member
	before  []member // what an earlier run wrote; its bytes are only counted
	entry   *zip.FileHeader
	to      io.Writer

	told   func(done, total int64)
	keeper func([]*member) error // called after each step, when the bytes of it have left; nil for a stream
}

// write gives the book as it was at a signed checkpoint, whatever was written since.
func (x *exportWriter) write(c SignedCheckpoint) error {
	files, err := fileHashes(x.ctx, x.tx, x.farm, c.Size)
	if err != nil {
		return err
	}
	m := manifest{exportFormat, x.farm, strings.TrimPrefix(c.Origin, "croftmark/"), c.Size, c.Root, c.Verifier, len(files)}
	head, err := json.MarshalIndent(m, "", "  ")
	if err != nil {
		return err
	}
	for _, step := range []func() error{
		func() error { return x.small(exportManifest, append(head, '\n')) },
		func() error { return x.small(exportCheckpoint, []byte(c.Note)) },
		func() error {
			return x.lines(exportHashes, c.Size, func(to []byte, r entryRow) []byte { return base64.StdEncoding.AppendEncode(to, r.Hashes) }, nil)
		},
		func() error {
			return x.lines(exportBook, c.Size, func(to []byte, r entryRow) []byte { return append(to, r.Leaf...) }, x.told)
		},
	} {
		if err := step(); err != nil {
			return err
		}
	}
	for _, hash := range files {
		if err := x.file(hash); err != nil {
			return err
		}
	}
	return x.zip.Close()
}

// begin opens the next member. What an earlier run wrote of it is passed over; it gives the member as it then stands.
func (x *exportWriter) begin(name string, method uint16) (*member, error) {
	m := &member{Name: name, Method: method}
	if n := len(x.members); n < len(x.before) {
		*m = x.before[n]
	}
	x.members = append(x.members, m)
	// The sizes follow the content (flag 0x8): they are not known here.
	x.entry = &zip.FileHeader{Name: name, Method: method, Flags: 0x8, CreatorVersion: 20, ReaderVersion: 20}
	x.entry.SetModTime(exportTime) // a raw header holds the time in this form only
	var err error
	if x.to, err = x.zip.CreateRaw(x.entry); err != nil {
		return nil, err
	}
	x.size(m)
	_, err = io.CopyN(x.to, zeros{}, m.Packed)
	return m, err
}

// size tells the zip how long the member is by now.
func (x *exportWriter) size(m *member) {
	h := x.entry
	h.CRC32, h.CompressedSize64, h.UncompressedSize64 = m.CRC, uint64(m.Packed), uint64(m.Plain)
	h.CompressedSize, h.UncompressedSize = uint32(min(h.CompressedSize64, math.MaxUint32)), uint32(min(h.UncompressedSize64, math.MaxUint32))
	if max(m.Packed, m.Plain) >= math.MaxUint32 {
		h.ReaderVersion = 45 // sizes of eight bytes
	}
}

// zeros stand for bytes that an earlier run wrote; they reach no file.
type zeros struct{}

func (zeros) Read(p []byte) (int, error) {
	clear(p)
	return len(p), nil
}

// add writes a piece of the open member and, if it is the last one, ends it.
func (x *exportWriter) add(m *member, plain []byte, last bool) error {
	packed := plain
	if m.Method == zip.Deflate {
		var err error
		if packed, err = deflated(plain, last); err != nil {
			return err
		}
	}
	if _, err := x.to.Write(packed); err != nil {
		return err
	}
	m.CRC = crc32.Update(m.CRC, crc32.IEEETable, plain)
	m.Plain, m.Packed, m.Whole = m.Plain+int64(len(plain)), m.Packed+int64(len(packed)), last
	x.size(m)
	if x.keeper == nil {
		return nil
	}
	if err := x.zip.Flush(); err != nil {
		return err
	}
	return x.keeper(x.members)
}

// deflated packs a piece so that the next one can follow without knowing it (RFC 1951: a flush ends on a whole byte).
func deflated(plain []byte, last bool) ([]byte, error) {
	var out bytes.Buffer
	w, err := flate.NewWriter(&out, flate.DefaultCompression)
	if err != nil {
		return nil, err
	}
	if _, err = w.Write(plain); err == nil && last {
		err = w.Close()
	} else if err == nil {
		err = w.Flush()
	}
	return out.Bytes(), err
}

func (x *exportWriter) small(name string, content []byte) error {
	m, err := x.begin(name, zip.Deflate)
	if err != nil || m.Whole {
		return err
	}
	return x.add(m, content, true)
}

// lines writes a line for each entry.
func (x *exportWriter) lines(name string, size int64, line func(to []byte, r entryRow) []byte, told func(done, total int64)) error {
	m, err := x.begin(name, zip.Deflate)
	if err != nil {
		return err
	}
	for !m.Whole {
		rows, err := entryRows(x.ctx, x.tx, x.farm, m.After, int(min(int64(x.page), size-m.After)))
		if err != nil {
			return err
		}
		if len(rows) == 0 {
			return &BadEntry{m.After + 1, "missing"}
		}
		var text []byte
		for _, r := range rows {
			text = append(line(text, r), '\n')
			m.After = r.Seq
		}
		if err := x.add(m, text, m.After >= size); err != nil {
			return err
		}
		if told != nil {
			told(m.After, size)
		}
	}
	return nil
}

// file writes an attached file. Pictures are packed already, so they are stored as they are.
func (x *exportWriter) file(hash string) error {
	m, err := x.begin(exportFiles+hash, zip.Store)
	if err != nil || m.Whole {
		return err
	}
	var content []byte
	if err := x.tx.QueryRow(x.ctx, `select content from attachment_files where farm_id = $1 and hash = decode($2, 'hex')`, x.farm, hash).Scan(&content); err != nil {
		return err
	}
	return x.add(m, content, true)
}
