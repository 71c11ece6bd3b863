package cluster

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/jackc/pgx/v5/pgconn"
)

func TestFirstAndSecondStart(t *testing.T) {
	t.Parallel()
	folder := newFolder(t)
	first := start(t, folder)
	conn := connect(t, first.OwnerURL(Database))
	for setting, want := range map[string]string{
		"fsync": "on", "full_page_writes": "on", "synchronous_commit": "on", "data_checksums": "on",
		"listen_addresses": "", "TimeZone": "UTC", "server_encoding": "UTF8", "lc_collate": "C.UTF-8",
		"max_connections": "60", "shared_buffers": "64MB", "max_wal_size": "512MB",
	} {
		if got := query1[string](t, conn, "select current_setting($1)", setting); got != want {
			t.Errorf("%s is %q, want %q", setting, got, want)
		}
	}
	owner := query1[string](t, conn, "select pg_get_userbyid(datdba) from pg_database where datname = $1", Database)
	if owner != OwnerRole {
		t.Errorf("the database belongs to %s, want %s", owner, OwnerRole)
	}
	rules, err := os.ReadFile(filepath.Join(folder, "postgres", "pg_hba.conf"))
	must(t, err)
	if string(rules) != accessRules {
		t.Errorf("pg_hba.conf is %q, want %q", rules, accessRules)
	}
	exec1(t, conn, "create table lot (code text)")
	exec1(t, conn, "insert into lot values ('carrots')")
	stop(t, first)
	<-first.Done()
	if exists(first.socket) {
		t.Errorf("the socket folder %s is still there after Stop", first.socket)
	}

	second := start(t, folder)
	if got := query1[string](t, connect(t, second.ServiceURL("postgres")), "select current_user::text"); got != ServiceRole {
		t.Errorf("the service is %s, want %s", got, ServiceRole)
	}
	if got := query1[string](t, connect(t, second.OwnerURL(Database)), "select code from lot"); got != "carrots" {
		t.Errorf("lot is %q, want carrots", got)
	}
}

func TestServiceRoleIsHeldDown(t *testing.T) {
	t.Parallel()
	c := start(t, seeded(t))
	owner, service := connect(t, c.OwnerURL(Database)), connect(t, c.ServiceURL(Database))
	exec1(t, owner, "insert into kept values (1)")
	exec1(t, owner, "alter table kept enable row level security")
	exec1(t, owner, "grant select on kept to croftmark_service")

	if seen := query1[int](t, service, "select count(*)::int from kept"); seen != 0 {
		t.Errorf("the service sees %d rows that no policy shows it", seen)
	}
	for _, refused := range []string{
		"create role intruder",
		"create database other",
		"alter role croftmark_service bypassrls",
		"alter role croftmark_service superuser",
		"set role croftmark_owner",
		"set session authorization croftmark_owner",
		"alter table kept disable row level security",
		"create table mine (id int)",
		"copy kept to program 'true'",
	} {
		_, err := service.Exec(t.Context(), refused)
		var denied *pgconn.PgError
		if !errors.As(err, &denied) || denied.Code != "42501" {
			t.Errorf("%s: error %v, want insufficient privilege", refused, err)
		}
	}
	if _, err := service.Exec(t.Context(), "set row_security = off; select * from kept"); err == nil {
		t.Error("the service can read past row security")
	}
}

func TestSecondCopyIsRefused(t *testing.T) {
	t.Parallel()
	folder := seeded(t)
	other := startHelper(t, folder, helperWrites+"=yes")
	_, err := Start(t.Context(), Options{DataDir: folder, Durable: true})
	var inUse *InUseError
	if !errors.As(err, &inUse) {
		t.Fatalf("error %v, want an InUseError", err)
	}
	if inUse.PID != other.cmd.Process.Pid || inUse.Folder != folder {
		t.Errorf("error names process %d and folder %s, want %d and %s", inUse.PID, inUse.Folder, other.cmd.Process.Pid, folder)
	}
	wantText(t, err, "Another Croftmark (process ", ") is already using "+folder, "--data")
}

func TestAttach(t *testing.T) {
	t.Parallel()
	folder := seeded(t)
	other := startHelper(t, folder, helperWrites+"=yes")
	at, err := Attach(t.Context(), folder)
	must(t, err)
	if got := query1[string](t, connect(t, at.ServiceURL(Database)), "select current_user::text"); got != ServiceRole {
		t.Errorf("attached as %s, want %s", got, ServiceRole)
	}
	if got := query1[string](t, connect(t, at.OwnerURL(Database)), "select current_user::text"); got != OwnerRole {
		t.Errorf("attached as %s, want %s", got, OwnerRole)
	}
	if line := other.line(); !strings.HasPrefix(line, "row ") {
		t.Errorf("the other Croftmark says %q, want that it goes on writing", line)
	}
}

func TestAttachWhileStarting(t *testing.T) {
	t.Parallel()
	folder := seeded(t)
	other := newHelper(t, folder, helperWrites+"=yes")
	eventually(t, "the other Croftmark takes the folder", func() bool {
		_, err := holder(folder)
		return err == nil
	})
	at, err := Attach(t.Context(), folder)
	must(t, err)
	connect(t, at.OwnerURL(Database))
	other.awaitReady()
}

func TestAttachWithoutServer(t *testing.T) {
	t.Parallel()
	stopped := seeded(t)
	stop(t, start(t, stopped))
	for name, folder := range map[string]string{
		"stopped": stopped, "never started": seeded(t), "no folder": newFolder(t),
	} {
		if _, err := Attach(t.Context(), folder); !errors.Is(err, ErrNotRunning) {
			t.Errorf("%s: error %v, want ErrNotRunning", name, err)
		}
	}
}

func TestStartWithEndedContext(t *testing.T) {
	t.Parallel()
	folder := seeded(t)
	s := surveyed(t, folder)
	must(t, s.prepare(t.Context()))
	socket, err := s.makeSocketFolder()
	must(t, err)
	must(t, s.writeAccessRules())
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := s.tryServer(ctx, Address{socket: socket}); err == nil {
		t.Fatal("the server started although the context had ended")
	}
	// Nothing of the given-up server may be in the way.
	start(t, folder)
}

func TestLooseSettingsForTests(t *testing.T) {
	t.Parallel()
	c, err := Start(t.Context(), Options{DataDir: seeded(t)})
	must(t, err)
	t.Cleanup(func() { stop(t, c) })
	conn := connect(t, c.OwnerURL(Database))
	for _, setting := range []string{"fsync", "full_page_writes"} {
		if got := query1[string](t, conn, "select current_setting($1)", setting); got != "off" {
			t.Errorf("%s is %s, want off", setting, got)
		}
	}
}

func TestURLTakesAnyName(t *testing.T) {
	t.Parallel()
	at := Address{socket: "/tmp/a farm+field"}
	const want = "postgres:///eggs%20&%20hens?host=%2Ftmp%2Fa%20farm%2Bfield&port=5432&sslmode=disable&user=croftmark_owner"
	if got := at.OwnerURL("eggs & hens"); got != want {
		t.Errorf("URL is %s, want %s", got, want)
	}
}
