package storage

import (
	"archive/zip"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"hash"
	"io"
	"os"
	"path/filepath"
	"strings"
	"syscall"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"golang.org/x/mod/sumdb/tlog"
)

// Exported says what a file holds that ExportFile wrote.
type Exported struct {
	Checkpoint
	// WentOnFrom is how many bytes an export that broke off had left whole; 0 when this one began anew.
	WentOnFrom int64
	// Anew says why what an earlier run left was not used; empty when nothing was there.
	Anew string
}

// The file of an export that is under way, and the note beside it of how far it is whole.
const (
	PartSuffix = ".part"
	MarkSuffix = ".part.mark"
)

// keptEvery is how many bytes of an export may have to be written again.
const keptEvery = 4 << 20

// exportMark is the note of how far FILE.part is whole: the checkpoint to which the export is pinned, the bytes on the
// disk with their SHA-256, and the members of the zip so far.
type exportMark struct {
	Farm    uuid.UUID `json:"farm_id"`
	Size    int64     `json:"entries"`
	Root    string    `json:"root"`
	Page    int       `json:"page"`
	Bytes   int64     `json:"bytes"`
	Sum     string    `json:"sha256"`
	Members []member  `json:"members"`
}

// ExportFile writes a farm's whole book into a file. It grows as FILE.part and takes its name when it is whole and on the
// disk. One that breaks off is gone on with by the next call, at the checkpoint at which it began, and gives the bytes that
// it would have given at once. What was left is used only if it is, to the byte, what was written, and if the book still
// holds that checkpoint; otherwise the export begins anew.
func (db *DB) ExportFile(ctx context.Context, farm uuid.UUID, path string, progress func(done, total int64)) (Exported, error) {
	return db.exportFile(ctx, farm, path, verifyPage, keptEvery, progress)
}

func (db *DB) exportFile(ctx context.Context, farm uuid.UUID, path string, page int, every int64, progress func(done, total int64)) (out Exported, err error) {
	p, err := openPart(path)
	if err != nil {
		return out, err
	}
	defer p.file.Close()
	p.every = every
	mark, why := p.left(farm, page)
	var c SignedCheckpoint
	if mark != nil {
		if c, err = db.checkpointAt(ctx, farm, mark.Size, mark.Root); err != nil {
			mark, why = nil, err.Error()
		}
	}
	if mark == nil {
		if c, err = db.SignedCheckpoint(ctx, farm); err != nil {
			return out, err
		}
		mark = &exportMark{Farm: farm, Size: c.Size, Root: c.Root, Page: page}
	}
	out = Exported{Checkpoint: c.Checkpoint, WentOnFrom: mark.Bytes, Anew: why}
	if err := p.goOn(mark); err != nil {
		return out, err
	}
	err = db.read(ctx, farm, func(tx pgx.Tx) error {
		x := &exportWriter{ctx: ctx, tx: tx, farm: farm, page: page, zip: zip.NewWriter(p), before: mark.Members, told: progress, keeper: p.keep}
		return x.write(c)
	})
	if err != nil {
		return out, err
	}
	return out, p.finish(path)
}

// checkpointAt gives the note that was signed at a size, if the book there still has that root.
func (db *DB) checkpointAt(ctx context.Context, farm uuid.UUID, size int64, root string) (c SignedCheckpoint, err error) {
	err = db.read(ctx, farm, func(tx pgx.Tx) error {
		head, key, err := readHead(ctx, tx, farm, "")
		if err != nil {
			return err
		}
		if size < 1 || size > head.size {
			return fmt.Errorf("the book here has not the %d entries of the export that broke off", size)
		}
		tree, err := tlog.TreeHash(size, bookHashes{ctx, tx, farm})
		if err != nil {
			return err
		}
		c.Checkpoint = Checkpoint{Origin: originOf(key), Size: size, Root: tree.String()}
		err = tx.QueryRow(ctx, `select note, verifier from checkpoints where farm_id = $1 and size = $2`, farm, size).Scan(&c.Note, &c.Verifier)
		if err == pgx.ErrNoRows || c.Root != root {
			return fmt.Errorf("the book here is not the one of the export that broke off")
		}
		if err != nil {
			return err
		}
		return c.stands()
	})
	return c, err
}

// part is FILE.part: a writer that passes over what an earlier run wrote.
type part struct {
	file  *os.File
	mark  exportMark
	path  string // of the mark
	sum   hash.Hash
	skip  int64 // bytes that are in the file already
	at    int64
	every int64
}

// openPart takes the part for this run alone.
func openPart(path string) (*part, error) {
	for {
		file, err := os.OpenFile(path+PartSuffix, os.O_CREATE|os.O_RDWR, 0o600)
		if err != nil {
			return nil, err
		}
		if err := syscall.Flock(int(file.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
			return nil, errors.Join(fmt.Errorf("%s is being written by another export", file.Name()), file.Close())
		}
		// Between opening and locking another run may have given it its name: then it is no part any more.
		opened, err := file.Stat()
		if err != nil {
			return nil, errors.Join(err, file.Close())
		}
		if named, err := os.Stat(path + PartSuffix); err == nil && os.SameFile(opened, named) {
			return &part{file: file, path: path + MarkSuffix, sum: sha256.New()}, nil
		}
		if err := file.Close(); err != nil {
			return nil, err
		}
	}
}

// left reads what an earlier run left. It gives nil, and why, if there is something that can't be used.
func (p *part) left(farm uuid.UUID, page int) (*exportMark, string) {
	raw, err := os.ReadFile(p.path)
	if err != nil {
		return nil, ""
	}
	// The note bears its own hash, so that a torn or damaged one is not taken for true.
	sum, text, _ := strings.Cut(string(raw), "\n")
	var m exportMark
	if own := sha256.Sum256([]byte(text)); hex.EncodeToString(own[:]) != sum || json.Unmarshal([]byte(text), &m) != nil {
		return nil, "the note of how far it was is damaged"
	}
	if m.Farm != farm || m.Page != page {
		return nil, "it was of another book"
	}
	if _, err := io.CopyN(p.sum, p.file, m.Bytes); err != nil || hex.EncodeToString(p.sum.Sum(nil)) != m.Sum {
		return nil, "the part that it left is damaged"
	}
	return &m, ""
}

// goOn cuts off what is not known to be whole. The note of an earlier run goes first: it must not speak of other bytes.
func (p *part) goOn(m *exportMark) error {
	p.mark, p.skip = *m, m.Bytes
	if m.Bytes == 0 {
		p.sum.Reset()
		if err := os.Remove(p.path); err != nil && !errors.Is(err, os.ErrNotExist) {
			return err
		}
	}
	if err := p.file.Truncate(m.Bytes); err != nil {
		return err
	}
	_, err := p.file.Seek(m.Bytes, io.SeekStart)
	return err
}

func (p *part) Write(b []byte) (int, error) {
	whole := len(b)
	if passed := min(p.skip-p.at, int64(whole)); passed > 0 {
		p.at += passed
		b = b[passed:]
	}
	n, err := p.file.Write(b)
	p.sum.Write(b[:n])
	p.at += int64(n)
	return whole - len(b) + n, err
}

// keep notes how far the part is whole, once enough was added. The bytes are on the disk before the note says so.
func (p *part) keep(members []*member) error {
	if p.at-p.mark.Bytes < p.every {
		return nil
	}
	if err := p.file.Sync(); err != nil {
		return err
	}
	p.mark.Bytes, p.mark.Sum, p.mark.Members = p.at, hex.EncodeToString(p.sum.Sum(nil)), nil
	for _, m := range members {
		p.mark.Members = append(p.mark.Members, *m)
	}
	text, err := json.Marshal(p.mark)
	if err != nil {
		return err
	}
	own := sha256.Sum256(text)
	return replaceFile(p.path, append([]byte(hex.EncodeToString(own[:])+"\n"), text...))
}

// replaceFile writes a file beside its place and moves it there.
func replaceFile(path string, content []byte) error {
	f, err := os.OpenFile(path+".new", os.O_CREATE|os.O_WRONLY|os.O_TRUNC, 0o600)
	if err != nil {
		return err
	}
	_, err = f.Write(content)
	if err := errors.Join(err, f.Sync(), f.Close()); err != nil {
		return err
	}
	return os.Rename(path+".new", path)
}

// finish gives the part its name.
func (p *part) finish(path string) error {
	if err := p.file.Sync(); err != nil {
		return err
	}
	if err := os.Rename(p.file.Name(), path); err != nil {
		return err
	}
	if err := os.Remove(p.path); err != nil && !errors.Is(err, os.ErrNotExist) {
		return err
	}
	folder, err := os.Open(filepath.Dir(path))
	if err != nil {
		return err
	}
	return errors.Join(folder.Sync(), folder.Close())
}
