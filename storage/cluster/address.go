package cluster

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"syscall"

	"github.com/jackc/pgx/v5"
)

// The two roles of every cluster and the database they share.
const (
	OwnerRole   = "croftmark_owner"
	ServiceRole = "croftmark_service"
	Database    = "croftmark"
)

// port only names the socket file; the server listens on no network.
const port = "5432"

// socketPathLimit keeps below what the kernels allow, 107 bytes on Linux and 103 on macOS.
const socketPathLimit = 103

// Address says where a cluster's server listens.
type Address struct{ socket string }

// OwnerURL connects to database as croftmark_owner, a superuser: for migrations only.
func (a Address) OwnerURL(database string) string { return a.url(database, OwnerRole) }

// ServiceURL connects to database as croftmark_service, which can neither change the
// schema nor see past row security.
func (a Address) ServiceURL(database string) string { return a.url(database, ServiceRole) }

// url names port and sslmode so that PGPORT and PGSSLMODE of the caller cannot change them.
func (a Address) url(database, role string) string {
	query := url.Values{"host": {a.socket}, "port": {port}, "user": {role}, "sslmode": {"disable"}}
	u := url.URL{
		Scheme: "postgres",
		Path:   "/" + database,
		// libpq, so also pg_dump and psql, takes a plus sign for itself.
		RawQuery: strings.ReplaceAll(query.Encode(), "+", "%20"),
	}
	return u.String()
}

func (a Address) ping(ctx context.Context) error {
	conn, err := pgx.Connect(ctx, a.OwnerURL("postgres"))
	if err != nil {
		return fmt.Errorf("connect to the database: %w", err)
	}
	return conn.Close(ctx)
}

// makeSocketFolder makes the folder of the socket, mode 700, for the server's account.
func (s site) makeSocketFolder() (string, error) {
	folder, err := s.socketFolder()
	if err != nil {
		return "", err
	}
	if err := s.clearSocketFolder(folder); err != nil {
		return "", err
	}
	if err := os.Mkdir(folder, 0o700); err != nil {
		return "", fmt.Errorf("make the folder of the database socket: %w", err)
	}
	return folder, s.account.own(folder)
}

// socketFolder is in the temporary folder because a socket's path must be short, which a
// path below the data folder need not be. A root session's own temporary folder may be
// closed to the server's account, hence the second choice.
func (s site) socketFolder() (string, error) {
	for _, base := range []string{os.TempDir(), "/tmp"} {
		folder := filepath.Join(base, socketName(s.folder))
		file := filepath.Join(folder, ".s.PGSQL."+port)
		if filepath.IsAbs(base) && len(file) <= socketPathLimit && s.canEnter(base) {
			return folder, nil
		}
	}
	return "", sentence("The temporary folder %s cannot hold the database's socket: its path is too long, or it is closed to the account %s. Set TMPDIR to another folder.",
		os.TempDir(), s.account.name)
}

// socketName is short and differs for each data folder.
func socketName(folder string) string {
	sum := sha256.Sum256([]byte(folder))
	return "pg-" + hex.EncodeToString(sum[:8])
}

// clearSocketFolder removes what a killed server left: PostgreSQL would refuse to start
// while its number there belongs to any process. It refuses a folder that somebody else
// made under our name, because they could put a server of their own into it.
func (s site) clearSocketFolder(folder string) error {
	info, err := os.Lstat(folder)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return fmt.Errorf("look at the folder of the database socket: %w", err)
	}
	if info.Sys().(*syscall.Stat_t).Uid != s.account.uid && !s.account.dropped {
		return sentence("The folder %s belongs to another account. Remove it, or set TMPDIR to another folder, and start Croftmark again.", folder)
	}
	if err := os.RemoveAll(folder); err != nil {
		return fmt.Errorf("clear the folder of the database socket: %w", err)
	}
	return nil
}
