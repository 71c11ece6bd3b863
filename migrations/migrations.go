// Package migrations holds the numbered SQL files that make the database, and applies them. They only go forward: a
// mistake is mended by the next file, never by going back.
package migrations

import (
	"context"
	"embed"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5/pgxpool"
	"github.com/jackc/pgx/v5/stdlib"
	"github.com/pressly/goose/v3"
	"github.com/pressly/goose/v3/lock"
)

//go:embed *.sql
var files embed.FS

// Files gives the embedded SQL, for the test clusters that are kept by what is in it.
func Files() embed.FS { return files }

// Apply brings the database at the URL up to date, under a lock so that two copies of the service may start at once.
// The URL's role must own the schema.
func Apply(ctx context.Context, ownerURL string) error {
	pooled, err := pgxpool.ParseConfig(ownerURL) // the URL may say how many connections the pool has
	if err != nil {
		return fmt.Errorf("database URL: %w", err)
	}
	config := pooled.ConnConfig
	if config.ConnectTimeout == 0 {
		config.ConnectTimeout = 5 * time.Second // one server of several may hang
	}
	db := stdlib.OpenDB(*config)
	defer db.Close()
	locker, err := lock.NewPostgresSessionLocker()
	if err != nil {
		return err
	}
	provider, err := goose.NewProvider(goose.DialectPostgres, db, files, goose.WithSessionLocker(locker))
	if err != nil {
		return err
	}
	if _, err := provider.Up(ctx); err != nil {
		return fmt.Errorf("preparing the database: %w", err)
	}
	if err := applyQueue(ctx, ownerURL); err != nil {
		return fmt.Errorf("preparing the queue of daily messages: %w", err)
	}
	return nil
}
