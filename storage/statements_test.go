package storage_test

import (
	"context"
	"sync"

	"github.com/jackc/pgx/v5"
)

// statements counts what goes to the database: a batch is one trip and several statements.
type statements struct {
	mu    sync.Mutex
	trips int
	all   []string
	on    func(conn *pgx.Conn, sql string) // before each trip
}

func (s *statements) TraceQueryStart(ctx context.Context, conn *pgx.Conn, data pgx.TraceQueryStartData) context.Context {
	s.note(conn, data.SQL, []string{data.SQL})
	return ctx
}

func (s *statements) TraceQueryEnd(context.Context, *pgx.Conn, pgx.TraceQueryEndData) {}

func (s *statements) TraceBatchStart(ctx context.Context, conn *pgx.Conn, data pgx.TraceBatchStartData) context.Context {
	var list []string
	for _, q := range data.Batch.QueuedQueries {
		list = append(list, q.SQL)
	}
	s.note(conn, list[0], list)
	return ctx
}

func (s *statements) TraceBatchQuery(context.Context, *pgx.Conn, pgx.TraceBatchQueryData) {}
func (s *statements) TraceBatchEnd(context.Context, *pgx.Conn, pgx.TraceBatchEndData)     {}

func (s *statements) note(conn *pgx.Conn, first string, list []string) {
	s.mu.Lock()
	s.trips++
	s.all = append(s.all, list...)
	on := s.on
	s.mu.Unlock()
	if on != nil {
		on(conn, first)
	}
}

// of gives what one act sends.
func (s *statements) of(act func()) (trips int, list []string) {
	s.mu.Lock()
	s.trips, s.all = 0, nil
	s.mu.Unlock()
	act()
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.trips, s.all
}
