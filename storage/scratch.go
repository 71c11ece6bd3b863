package storage

import (
	"context"
	"errors"
	"strings"

	"github.com/google/uuid"
)

// Scratch makes an empty database beside the owner's, for trying a restore, and gives its URL and what drops it.
func Scratch(ctx context.Context, ownerURL string) (scratchURL string, drop func() error, err error) {
	name := "croftmark_try_" + strings.ReplaceAll(uuid.NewString(), "-", "")
	if err := asOwner(ctx, ownerURL, "create database "+name); err != nil {
		return "", nil, err
	}
	return onDatabase(ownerURL, name), func() error {
		return asOwner(context.WithoutCancel(ctx), ownerURL, "drop database "+name+" with (force)")
	}, nil
}

// onDatabase names another database of the same server. The URL may name several hosts, which net/url does not read, or be
// written as words (host=… dbname=…), of which the last counts.
func onDatabase(databaseURL, name string) string {
	scheme, rest, isURL := strings.Cut(databaseURL, "://")
	if !isURL {
		return databaseURL + " dbname=" + name
	}
	rest, query, asked := strings.Cut(rest, "?")
	hosts, _, _ := strings.Cut(rest, "/")
	if asked {
		query = "?" + query
	}
	return scheme + "://" + hosts + "/" + name + query
}

// Analyze lets the database count its tables after a book came in or was made anew. Left to itself it does so a minute later,
// and until then it plans for tables that look empty. It needs the owner's URL.
func Analyze(ctx context.Context, ownerURL string) error { return asOwner(ctx, ownerURL, "analyze") }

func asOwner(ctx context.Context, ownerURL, sql string) error {
	conn, err := connectTo(ctx, ownerURL)
	if err != nil {
		return err
	}
	_, err = conn.Exec(ctx, sql)
	return errors.Join(err, conn.Close(ctx))
}
