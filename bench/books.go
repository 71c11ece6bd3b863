package main

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"log"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"time"

	"github.com/jackc/pgx/v5"

	"croftmark/bench/rig"
	"croftmark/domain"
	"croftmark/storage"
)

// openBook is a restored book with a service on it.
type openBook struct {
	*bookMade
	rig.Client
	service *rig.Service
	conn    *pgx.Conn
	url     string
	name    string
}

// measureBooks makes a book of each size, reads it in, and measures what should not depend on the size; on the biggest
// also what takes long.
func (b *bench) measureBooks(ctx context.Context) error {
	var flat map[string]float64
	for i, size := range b.books {
		book, err := b.readIn(ctx, size)
		if err != nil {
			return fmt.Errorf("book of %d: %w", size, err)
		}
		b.failed("restore", "", b.restoring(ctx, book))
		if i == 0 {
			b.failed("binder of a year", "", b.binder(ctx, book))
		}
		checks, err := b.checks(ctx, book, flat)
		if err == nil && i == len(b.books)-1 {
			err = b.biggest(ctx, book)
		}
		if flat == nil {
			flat = checks
		}
		if err := b.endBook(ctx, book, err); err != nil {
			return fmt.Errorf("book of %d: %w", size, err)
		}
	}
	return nil
}

// readIn gives a served book of a size in a data folder of its own, which may be changed.
func (b *bench) readIn(ctx context.Context, size int) (*openBook, error) {
	data, err := b.data("book")
	if err != nil {
		return nil, err
	}
	book := &openBook{name: sizeName(size)}
	if b.kept == "" {
		book.bookMade, err = b.restored(ctx, size, data)
	} else {
		book.bookMade, err = b.copied(ctx, size, data)
	}
	if err != nil {
		return nil, err
	}
	return book, b.serveBook(ctx, book, data)
}

// restored writes a book into an export file and reads that in with the program.
func (b *bench) restored(ctx context.Context, size int, data string) (*bookMade, error) {
	zone, err := domain.Zone("America/New_York")
	if err != nil {
		return nil, err
	}
	file := filepath.Join(b.folder, sizeName(size)+".zip")
	began := time.Now()
	made, err := writeBook(file, size, domain.DateIn(time.Now(), zone))
	if err != nil {
		return nil, err
	}
	log.Printf("a book of %d entries, %d of them lots, written in %s", made.Entries, made.Lots, time.Since(began).Round(time.Millisecond))
	began = time.Now()
	if _, err := b.program.Run(ctx, "restore", file, "--data", data); err != nil {
		return nil, err
	}
	made.took = time.Since(began)
	return made, os.Remove(file)
}

// copied copies a book that was restored for an earlier run, or restores it now and keeps it untouched: five million
// entries take an hour.
func (b *bench) copied(ctx context.Context, size int, data string) (*bookMade, error) {
	whole := filepath.Join(b.kept, sizeName(size))
	about := whole + ".json"
	made := new(bookMade)
	raw, err := os.ReadFile(about)
	switch {
	case err == nil:
		err = json.Unmarshal(raw, made)
	case errors.Is(err, fs.ErrNotExist):
		made, err = b.keepBook(ctx, size, whole, about)
	}
	if err != nil {
		return nil, err
	}
	return made, copyFolder(ctx, whole, data)
}

// keepBook restores a book and says last that it is whole.
func (b *bench) keepBook(ctx context.Context, size int, whole, about string) (*bookMade, error) {
	if err := os.RemoveAll(whole); err != nil {
		return nil, err
	}
	made, err := b.restored(ctx, size, whole)
	if err != nil {
		return nil, err
	}
	raw, err := json.Marshal(made)
	if err != nil {
		return nil, err
	}
	return made, os.WriteFile(about, raw, 0o644)
}

// copyFolder copies a stopped data folder with its owners and modes, which PostgreSQL insists on.
func copyFolder(ctx context.Context, from, to string) error {
	if out, err := exec.CommandContext(ctx, "cp", "-a", from, to).CombinedOutput(); err != nil {
		return fmt.Errorf("copy the kept book: %w: %s", err, out)
	}
	return nil
}

// serveBook starts the service and takes the time to its first answer.
func (b *bench) serveBook(ctx context.Context, book *openBook, data string) (err error) {
	began := time.Now()
	if book.service, err = b.program.Serve(ctx, data); err != nil {
		return err
	}
	book.Client = rig.Client{Address: book.service.Address, HTTP: rig.NewHTTP()}
	if err := book.Must(ctx, http.MethodGet, "/readyz", nil, nil); err != nil {
		return err
	}
	b.report.add("start to first answer, "+book.name, "ms", ms(time.Since(began)), floor{}, "")
	if book.url, err = book.service.OwnerURL(ctx); err != nil {
		return err
	}
	if book.conn, err = pgx.Connect(ctx, book.url); err != nil {
		return err
	}
	// What autovacuum would have done by the next day.
	if _, err := book.conn.Exec(ctx, "vacuum analyze"); err != nil {
		return err
	}
	if err := book.conn.QueryRow(ctx, "select 'PostgreSQL ' || current_setting('server_version')").Scan(&b.report.Machine.PostgreSQL); err != nil {
		return err
	}
	db, err := storage.Open(ctx, storage.Config{OwnerURL: book.url})
	if err != nil {
		return err
	}
	defer db.Close()
	book.Token, err = db.NewToken(ctx, storage.Actor{FarmID: book.Farm, PersonID: book.Owner, Role: domain.Owner}, storage.Token{PersonID: book.Owner, Label: "benchmark"})
	return err
}

// endBook stops the service, reads the whole book against its hashes, and throws it away.
func (b *bench) endBook(ctx context.Context, book *openBook, failed error) error {
	data := book.service.Data
	if failed == nil {
		failed = b.verifying(ctx, book)
	}
	book.conn.Close(ctx)
	if err := book.service.Stop(); failed == nil {
		failed = err
	}
	if failed != nil {
		return failed
	}
	began := time.Now()
	if _, err := b.program.Run(ctx, "verify", "--data", data); err != nil {
		return err
	}
	b.rate(book.name, "verify, whole command with the start of the database", book.Entries, time.Since(began), floor{}, "")
	return os.RemoveAll(data)
}

// verifying measures the reading and hashing of a book alone, on the running database, against reading the same texts and
// hashing each once.
func (b *bench) verifying(ctx context.Context, book *openBook) error {
	began := time.Now()
	rows, err := book.conn.Query(ctx, `select leaf from book_entries where farm_id = $1 order by seq`, book.Farm)
	if err != nil {
		return err
	}
	var leaf []byte
	if _, err := pgx.ForEachRow(rows, []any{&leaf}, func() error { sha256.Sum256(leaf); return nil }); err != nil {
		return err
	}
	bare := time.Since(began)
	db, err := storage.Open(ctx, storage.Config{OwnerURL: book.url})
	if err != nil {
		return err
	}
	defer db.Close()
	began = time.Now()
	v, err := db.Verify(ctx, book.Farm, nil)
	if err != nil {
		return err
	}
	took := time.Since(began)
	b.rate(book.name, "verify, of the database", v.Entries, took, floor{float64(v.Entries) / bare.Seconds(), "reading the texts in order, SHA-256 of each"}, "≥ 200,000 /s")
	return nil
}

// rate notes entries a second of a whole command, with the start of its private database in it.
func (b *bench) rate(book, what string, entries int64, took time.Duration, under floor, target string) {
	b.report.add(what+", "+book, "entries/s", float64(entries)/took.Seconds(), under, target)
}

func sizeName(n int) string {
	switch {
	case n%1000_000 == 0:
		return fmt.Sprintf("book of %dm", n/1000_000)
	case n%1000 == 0:
		return fmt.Sprintf("book of %dk", n/1000)
	}
	return fmt.Sprintf("book of %d", n)
}
