package storage

import (
	"context"
	"runtime"
	"sync"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"golang.org/x/mod/sumdb/tlog"

	"croftmark/domain"
)

// verifyPage is how many entries are read at a time.
const verifyPage = 5000

// readPage is a page of the book with what its entries say by themselves.
type readPage struct {
	rows []entryRow
	read []readEntry
	err  error
}

// readEntry is an entry read from its text, and the hash of that text.
type readEntry struct {
	entry *domain.Entry
	hash  tlog.Hash
	err   error
}

// readAhead reads a farm's book from its first entry, page by page, and reads and hashes the entries of a page on all
// processors while the page before is gone through in order. It ends with the first error.
func readAhead(ctx context.Context, tx pgx.Tx, farm uuid.UUID, each func(*readPage) error) error {
	pages, stopped := make(chan *readPage, 1), make(chan struct{})
	var reading sync.WaitGroup
	defer reading.Wait() // the connection is the caller's again
	defer close(stopped)
	reading.Go(func() {
		defer close(pages)
		for after := int64(0); ; {
			p := &readPage{}
			p.rows, p.err = entryRows(ctx, tx, farm, after, verifyPage)
			if p.err == nil {
				p.readAll()
			}
			select {
			case pages <- p:
			case <-stopped:
				return
			}
			if p.err != nil || len(p.rows) < verifyPage {
				return
			}
			after = p.rows[len(p.rows)-1].Seq
		}
	})
	for p := range pages {
		if p.err != nil {
			return p.err
		}
		if err := each(p); err != nil {
			return err
		}
	}
	return nil
}

// readAll reads the entries of a page, each processor a part of them.
func (p *readPage) readAll() {
	p.read = make([]readEntry, len(p.rows))
	share := len(p.rows)/runtime.GOMAXPROCS(0) + 1
	var all sync.WaitGroup
	for from := 0; from < len(p.rows); from += share {
		all.Go(func() {
			for i := from; i < min(from+share, len(p.rows)); i++ {
				leaf := []byte(p.rows[i].Leaf)
				p.read[i].hash = tlog.RecordHash(leaf)
				p.read[i].entry, p.read[i].err = domain.ParseEntry(leaf)
			}
		})
	}
	all.Wait()
}
