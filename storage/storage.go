// Package storage keeps the farms' books in PostgreSQL. Reading is plain queries; writing goes through one door (door.go)
// that locks the farm, loads what the decision needs, asks package domain, writes, appends the entry and commits.
package storage

import (
	"context"
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgxpool"
)

// Config says where the database is. OwnerURL may migrate; ServiceURL is the role the service works as. Without a
// ServiceURL the owner's connections step down to the service role before their first query.
type Config struct {
	OwnerURL   string
	ServiceURL string
	MaxConns   int32
	// Now is the book's clock; the system's when nil. Tests and the demo farm set it.
	Now func() time.Time
	// Tracer sees every statement; tests count with it.
	Tracer pgx.QueryTracer
}

// DB is the open database. It is safe for use by many goroutines.
type DB struct {
	pool *pgxpool.Pool
	now  func() time.Time
}

// serviceRole is the database role without any way to change the book or to see another farm.
const serviceRole = "croftmark_service"

// Open connects as the service role. It does not migrate; see package migrations.
func Open(ctx context.Context, c Config) (*DB, error) {
	url := c.ServiceURL
	if url == "" {
		url = c.OwnerURL
	}
	config, err := pgxpool.ParseConfig(url)
	if err != nil {
		return nil, fmt.Errorf("database URL: %w", err)
	}
	if c.ServiceURL == "" {
		config.ConnConfig.RuntimeParams["role"] = serviceRole
	}
	config.ConnConfig.RuntimeParams["timezone"] = "UTC"
	config.ConnConfig.Tracer = c.Tracer
	if c.MaxConns > 0 {
		config.MaxConns = c.MaxConns
	}
	pool, err := pgxpool.NewWithConfig(ctx, config)
	if err != nil {
		return nil, err
	}
	if err := pool.Ping(ctx); err != nil {
		pool.Close()
		return nil, fmt.Errorf("the database does not answer: %w", err)
	}
	now := c.Now
	if now == nil {
		now = time.Now
	}
	return &DB{pool: pool, now: now}, nil
}

// Close ends all connections.
func (db *DB) Close() { db.pool.Close() }

// Ping reports whether the database answers.
func (db *DB) Ping(ctx context.Context) error { return db.pool.Ping(ctx) }

// instant is the book's clock: UTC, cut to microseconds, because PostgreSQL keeps no finer and a re-read entry must
// hash the same.
func (db *DB) instant() time.Time { return db.now().UTC().Truncate(time.Microsecond) }

// Now is the book's clock, for papers that say when they were made.
func (db *DB) Now() time.Time { return db.instant() }

// read runs queries of one farm in one snapshot. Row-level security shows that farm only.
func (db *DB) read(ctx context.Context, farm uuid.UUID, fn func(pgx.Tx) error) error {
	options := pgx.TxOptions{IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly,
		BeginQuery: "begin isolation level repeatable read read only; " + setFarm(farm)}
	return translate(pgx.BeginTxFunc(ctx, db.pool, options, fn))
}

// setFarm names the farm for row-level security until the end of the transaction. The id is a UUID, so the text cannot
// hold anything else.
func setFarm(farm uuid.UUID) string {
	return "select set_config('croftmark.farm_id', '" + farm.String() + "', true)"
}
