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
const verifyPage = 2000

// readPage is a page of a book with what its entries say by themselves.
type readPage struct {
	rows []entryRow
	read []readEntry
	last bool
	err  error // met behind the rows
}

// readEntry is an entry read from its text, and the hash of that text.
type readEntry struct {
	entry *domain.Entry
	hash  tlog.Hash
	err   error
}

// readAhead goes through a book page by page. While the entries of a page are gone through in order, those of the next are
// read and hashed on all processors, and the page after that is fetched. It ends with the first error.
func readAhead(fetch func() *readPage, each func(*readPage) error) error {
	stopped := make(chan struct{})
	var working sync.WaitGroup
	defer working.Wait() // what is fetched from is the caller's again
	defer close(stopped)
	fetched, read := make(chan *readPage, 1), make(chan *readPage, 1)
	working.Go(func() {
		defer close(fetched)
		for more := true; more; {
			p := fetch()
			more = pass(p, fetched, stopped) && !p.last && p.err == nil
		}
	})
	working.Go(func() {
		defer close(read)
		for p := range fetched {
			if p.readAll(); !pass(p, read, stopped) {
				return
			}
		}
	})
	for p := range read {
		if err := each(p); err != nil {
			return err
		}
		if p.err != nil {
			return p.err
		}
	}
	return nil
}

// pass hands a page on, unless nobody wants it any more.
func pass(p *readPage, to chan<- *readPage, stopped <-chan struct{}) bool {
	select {
	case to <- p:
		return true
	case <-stopped:
		return false
	}
}

// pagesOf fetches a farm's book from its first entry.
func pagesOf(ctx context.Context, tx pgx.Tx, farm uuid.UUID) func() *readPage {
	after := int64(0)
	return func() *readPage {
		rows, err := entryRows(ctx, tx, farm, after, verifyPage)
		if len(rows) > 0 {
			after = rows[len(rows)-1].Seq
		}
		return &readPage{rows: rows, last: len(rows) < verifyPage, err: err}
	}
}

// readAll reads the entries of a page, each processor a part of them.
func (p *readPage) readAll() {
	p.read = make([]readEntry, len(p.rows))
	share := len(p.rows)/runtime.GOMAXPROCS(0) + 1
	var all sync.WaitGroup
	for from := 0; from < len(p.rows); from += share {
		all.Go(func() {
			for i := from; i < min(from+share, len(p.rows)); i++ {
				p.read[i].hash = tlog.RecordHash(p.rows[i].Leaf)
				p.read[i].entry, p.read[i].err = domain.ParseEntry(p.rows[i].Leaf)
			}
		})
	}
	all.Wait()
}
