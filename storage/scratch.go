package storage

import (
	"context"
	"errors"
	"net/url"
	"strings"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
)

// Scratch makes an empty database beside the owner's, for trying a restore, and gives its URL and what drops it.
func Scratch(ctx context.Context, ownerURL string) (scratchURL string, drop func() error, err error) {
	at, err := url.Parse(ownerURL)
	if err != nil {
		return "", nil, err
	}
	name := "croftmark_try_" + strings.ReplaceAll(uuid.NewString(), "-", "")
	if err := asOwner(ctx, ownerURL, "create database "+name); err != nil {
		return "", nil, err
	}
	at.Path = "/" + name
	return at.String(), func() error {
		return asOwner(context.WithoutCancel(ctx), ownerURL, "drop database "+name+" with (force)")
	}, nil
}

func asOwner(ctx context.Context, ownerURL, sql string) error {
	conn, err := pgx.Connect(ctx, ownerURL)
	if err != nil {
		return translate(err)
	}
	_, err = conn.Exec(ctx, sql)
	return errors.Join(err, conn.Close(ctx))
}
