package migrations

import (
	"context"
	"fmt"
	"io"
	"log/slog"

	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/riverqueue/river/riverdriver/riverpgxv5"
	"github.com/riverqueue/river/rivermigrate"
)

// queueSchema is where the job queue keeps its tables, apart from those of the farms, and from another program's queue in the
// same database.
const queueSchema = "croftmark_queue"

// The queue's tables are not by farm: a worker takes the next job, whosever it is. So they may hold ids only, and the service
// has no more than what taking and keeping jobs needs: nothing on the list of migrations, no truncate, no trigger.
const queueGrants = `
grant select, insert, update, delete on croftmark_queue.river_job, croftmark_queue.river_leader, croftmark_queue.river_queue, croftmark_queue.river_notification to croftmark_service;
grant usage on sequence croftmark_queue.river_job_id_seq, croftmark_queue.river_notification_id_seq to croftmark_service;
revoke execute on all functions in schema croftmark_queue from public;
grant execute on all functions in schema croftmark_queue to croftmark_service`

// queueLock keeps two copies of the service from preparing the queue at once. The number stands for nothing.
const queueLock = 7261893341

// applyQueue brings the queue's tables up to date. They are of river's own making and numbering.
func applyQueue(ctx context.Context, ownerURL string) error {
	config, err := pgxpool.ParseConfig(ownerURL)
	if err != nil {
		return fmt.Errorf("database URL: %w", err)
	}
	config.MinConns, config.MaxConns = 0, 3
	pool, err := pgxpool.NewWithConfig(ctx, config)
	if err != nil {
		return err
	}
	defer pool.Close()
	conn, err := pool.Acquire(ctx)
	if err != nil {
		return err
	}
	defer conn.Release()
	if _, err := conn.Exec(ctx, `select pg_advisory_lock($1)`, int64(queueLock)); err != nil {
		return err
	}
	defer conn.Exec(context.WithoutCancel(ctx), `select pg_advisory_unlock($1)`, int64(queueLock))
	quiet := slog.New(slog.NewTextHandler(io.Discard, nil))
	migrator, err := rivermigrate.New(riverpgxv5.New(pool), &rivermigrate.Config{Schema: queueSchema, Logger: quiet})
	if err != nil {
		return err
	}
	done, err := migrator.Migrate(ctx, rivermigrate.DirectionUp, nil)
	if err != nil {
		return err
	}
	var granted bool // the last time may have ended between the two
	err = conn.QueryRow(ctx, `select has_table_privilege('croftmark_service', 'croftmark_queue.river_job', 'insert')`).Scan(&granted)
	if err == nil && (!granted || len(done.Versions) > 0) {
		_, err = conn.Exec(ctx, queueGrants)
	}
	return err
}
