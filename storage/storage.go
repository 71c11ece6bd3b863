// Package storage keeps the farms' books in PostgreSQL. Reading is plain queries; writing goes through one door (door.go)
// that locks the farm, loads what the decision needs, asks package domain, writes, appends the entry and commits.
package storage

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
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

// A server that hangs must not hold a request until its time is up: with several in the URL, the next one is tried.
// A connect_timeout in the URL goes before.
const (
	connectPatience = 5 * time.Second
	pingPatience    = 3 * time.Second
)

// readOnlyServer is the SQLSTATE of a write that a standby refuses.
const readOnlyServer = "25006"

// stayConnected tells whether a connection is still good after an error of the server. One that leads to a server which has
// become a standby is not: the next one finds the new primary, if the URL names it.
func stayConnected(_ *pgconn.PgConn, e *pgconn.PgError) bool {
	return !strings.EqualFold(e.Severity, "FATAL") && e.Code != readOnlyServer
}

// connectTo opens one connection beside the pool, as the role of the URL.
func connectTo(ctx context.Context, databaseURL string) (*pgx.Conn, error) {
	pooled, err := pgxpool.ParseConfig(databaseURL) // the URL may say how many connections the pool has
	if err != nil {
		return nil, fmt.Errorf("database URL: %w", err)
	}
	config := pooled.ConnConfig
	if config.ConnectTimeout == 0 {
		config.ConnectTimeout = connectPatience
	}
	conn, err := pgx.ConnectConfig(ctx, config)
	return conn, translate(err)
}

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
	config.ConnConfig.RuntimeParams["jit"] = "off" // no statement runs long enough to be worth compiling
	config.ConnConfig.Tracer = c.Tracer
	config.ConnConfig.OnPgError = stayConnected
	if config.ConnConfig.ConnectTimeout == 0 {
		config.ConnConfig.ConnectTimeout = connectPatience
	}
	config.AfterConnect = knowOurTypes
	config.PingTimeout = pingPatience
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

// Ready reports whether the database answers and takes writes: a domain error of the code unavailable says what is wrong. A
// warning is for what readers do not notice: a primary whose synchronous standby is away acknowledges nothing.
func (db *DB) Ready(ctx context.Context) (warning string, err error) {
	var readOnly, alone bool
	err = db.pool.QueryRow(ctx, `select current_setting('transaction_read_only')::boolean,
		current_setting('synchronous_standby_names') <> '' and current_setting('synchronous_commit') not in ('off', 'local')
			and not exists (select from pg_stat_replication)`).Scan(&readOnly, &alone)
	switch {
	case err != nil:
		return "", translate(err)
	case readOnly:
		return "", readOnlyNow()
	case alone:
		return "The database waits for a standby that is not connected. It answers questions, and acknowledges no write until the standby is back.", nil
	}
	return "", nil
}

// instant is the book's clock: UTC, cut to microseconds, because PostgreSQL keeps no finer and a re-read entry must
// hash the same.
func (db *DB) instant() time.Time { return db.now().UTC().Truncate(time.Microsecond) }

// Now is the book's clock, for papers that say when they were made.
func (db *DB) Now() time.Time { return db.instant() }

// read runs queries of one farm in one snapshot. Row-level security shows that farm only.
func (db *DB) read(ctx context.Context, farm uuid.UUID, fn func(pgx.Tx) error) error {
	return db.readWith(ctx, farm, planEach, fn)
}

// readWith is read with a say in how its statements are planned.
func (db *DB) readWith(ctx context.Context, farm uuid.UUID, plans planning, fn func(pgx.Tx) error) error {
	return db.transact(ctx, farm, "begin isolation level repeatable read read only", plans, nil, fn)
}

// planning is the database's plan_cache_mode for a transaction.
type planning string

const (
	// planEach lets the database look at the values of a statement each time it plans it. Left to itself it stops after
	// five times, and then a question that can be asked in several ways is answered by reading for each: a second a
	// million lots.
	planEach planning = "force_custom_plan"
	// planOnce keeps the first plan of a statement on each connection, until a table it reads is analyzed. It is for
	// statements that look up rows by ids, where no value could change the plan and planning takes longer than the rest.
	planOnce planning = "force_generic_plan"
)

// scans is the database's enable_seqscan. Reading a whole table looks cheap while a farm is new, and a plan that does so would
// be kept while its tables fill; every table has an index by farm.
func (p planning) scans() string {
	if p == planOnce {
		return "off"
	}
	return "on"
}

// nameFarmSQL begins every transaction: it names the farm to row-level security, and says how statements are planned.
const nameFarmSQL = `select set_config('croftmark.farm_id', $1, true), set_config('plan_cache_mode', $2, true), set_config('enable_seqscan', $3, true)`

// transact runs fn in a transaction and commits unless it fails. To begin, to name the farm for row-level security, and
// what first adds are one trip; the farm is named until the end of the transaction.
func (db *DB) transact(ctx context.Context, farm uuid.UUID, begin string, plans planning, first func(*pgx.Batch), fn func(pgx.Tx) error) error {
	conn, err := db.pool.Acquire(ctx)
	if err != nil {
		return translate(err)
	}
	defer conn.Release() // closes a connection that is still in a transaction
	batch := &pgx.Batch{}
	batch.BeginTx(pgx.TxOptions{BeginQuery: begin})
	batch.Queue(nameFarmSQL, farm.String(), string(plans), plans.scans())
	if first != nil {
		first(batch)
	}
	results := conn.SendBatch(ctx, batch)
	tx := results.Tx()
	err = results.Close()
	if err == nil {
		err = fn(tx)
	}
	if conn.Conn().PgConn().TxStatus() == 'I' {
		return translate(err) // fn ended it, or it never began
	}
	if err != nil {
		_ = tx.Rollback(ctx) // a connection that can't is closed, and the database rolls back
		return translate(err)
	}
	return translate(tx.Commit(ctx))
}
