package rig

import (
	"context"
	"errors"
	"fmt"
	"net"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"time"

	"github.com/jackc/pgx/v5"
)

// Postgres is a PostgreSQL server on loopback, as a hosted one: reached by address, run by nobody of ours. It lets in
// everybody of this machine, and lies in a folder that is thrown away.
type Postgres struct {
	Data string
	Port int
	cmd  *exec.Cmd
}

// StandbyName is what every standby calls itself to its primary.
const StandbyName = "near"

const database = "book"

// FindProgram looks for one of PostgreSQL's programs where Debian keeps them, the newest version first, and on the path.
func FindProgram(name string) (string, error) {
	found, err := filepath.Glob("/usr/lib/postgresql/*/bin/" + name)
	if err != nil || len(found) == 0 {
		return exec.LookPath(name)
	}
	return slices.MaxFunc(found, func(a, b string) int { return majorOf(a) - majorOf(b) }), nil
}

func majorOf(program string) int {
	major, _ := strconv.Atoi(filepath.Base(filepath.Dir(filepath.Dir(program)))) // the folder is named by it
	return major
}

// asServer makes a command that runs as an ordinary account: PostgreSQL refuses to run as root.
func asServer(ctx context.Context, name string, args ...string) (*exec.Cmd, error) {
	program, err := FindProgram(name)
	if err != nil {
		return nil, err
	}
	cmd := exec.CommandContext(ctx, program, args...)
	cmd.Dir = "/"
	cmd.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	if os.Geteuid() == 0 {
		uid, gid, err := serverAccount()
		if err != nil {
			return nil, err
		}
		cmd.SysProcAttr.Credential = &syscall.Credential{Uid: uid, Gid: gid}
	}
	return cmd, nil
}

func serverAccount() (uid, gid uint32, err error) {
	found, err := user.Lookup("postgres")
	if err != nil {
		return 0, 0, err
	}
	u, uidErr := strconv.ParseUint(found.Uid, 10, 32)
	g, gidErr := strconv.ParseUint(found.Gid, 10, 32)
	return uint32(u), uint32(g), errors.Join(uidErr, gidErr)
}

func runTool(ctx context.Context, name string, args ...string) error {
	cmd, err := asServer(ctx, name, args...)
	if err != nil {
		return err
	}
	if out, err := cmd.CombinedOutput(); err != nil {
		return fmt.Errorf("%s: %w\n%s", name, err, out)
	}
	return nil
}

// newServer makes an empty folder and finds a free port.
func newServer(folder string) (*Postgres, error) {
	if err := os.MkdirAll(folder, 0o700); err != nil {
		return nil, err
	}
	if os.Geteuid() == 0 {
		uid, gid, err := serverAccount()
		if err != nil {
			return nil, err
		}
		if err := os.Chown(folder, int(uid), int(gid)); err != nil {
			return nil, err
		}
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return nil, err
	}
	defer l.Close()
	return &Postgres{Data: folder, Port: l.Addr().(*net.TCPAddr).Port}, nil
}

// NewPrimary makes a server with an empty database and starts it.
func NewPrimary(ctx context.Context, folder string) (*Postgres, error) {
	p, err := newServer(folder)
	if err != nil {
		return nil, err
	}
	if err := runTool(ctx, "initdb", "--pgdata="+folder, "--username=croftmark", "--encoding=UTF8", "--locale=C.UTF-8", "--auth=trust", "--data-checksums"); err != nil {
		return nil, err
	}
	if err := p.Start(ctx); err != nil {
		return nil, err
	}
	for _, sql := range []string{
		"create database " + database,
		"alter system set wal_keep_size = '1GB'", // in the file, where the recovery before a rewind finds it too
		"select pg_reload_conf()",
	} {
		if err := p.exec(ctx, "postgres", sql); err != nil {
			return nil, err
		}
	}
	return p, nil
}

// NewStandby copies a running primary and starts the copy as its standby.
func NewStandby(ctx context.Context, primary *Postgres, folder string) (*Postgres, error) {
	p, err := newServer(folder)
	if err != nil {
		return nil, err
	}
	if err := runTool(ctx, "pg_basebackup", "--pgdata="+folder, "--write-recovery-conf", "--wal-method=stream", "--checkpoint=fast",
		"--dbname="+primary.words("postgres")+" application_name="+StandbyName); err != nil {
		return nil, err
	}
	return p, p.Start(ctx)
}

// Rewind makes a server that was a primary into a standby of the one that took its place. What it alone had is thrown away.
// The checkpoint comes first: until there is one the new primary's files still say the old timeline, and pg_rewind, up to
// version 15, then finds nothing to do.
func (p *Postgres) Rewind(ctx context.Context, primary *Postgres) error {
	if err := primary.exec(ctx, "postgres", "checkpoint"); err != nil {
		return err
	}
	return runTool(ctx, "pg_rewind", "--target-pgdata="+p.Data, "--write-recovery-conf", "--source-server="+primary.words("postgres")+" application_name="+StandbyName)
}

// Start runs the server and waits until it answers.
func (p *Postgres) Start(ctx context.Context) (err error) {
	p.cmd, err = asServer(context.WithoutCancel(ctx), "postgres", "-D", p.Data, "-c", "listen_addresses=127.0.0.1", "-c", "port="+strconv.Itoa(p.Port),
		"-c", "unix_socket_directories=", "-c", "synchronous_commit=on", "-c", "lc_messages=C", "-c", "max_connections=60")
	if err != nil {
		return err
	}
	log, err := os.OpenFile(p.Data+".log", os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	defer log.Close() // the process has its own copy
	p.cmd.Stdout, p.cmd.Stderr = log, log
	if err := p.cmd.Start(); err != nil {
		return err
	}
	for range 300 {
		if err = p.exec(ctx, "postgres", "select 1"); err == nil {
			return nil
		}
		time.Sleep(100 * time.Millisecond)
	}
	return fmt.Errorf("the server in %s does not answer: %w", p.Data, err)
}

// Kill ends the server with signal 9. Its children follow by themselves.
func (p *Postgres) Kill() {
	_ = p.cmd.Process.Kill() // it may have ended by itself
	_ = p.cmd.Wait()
}

// Freeze stops the server and all its children where they are, as a machine that hangs: connections stay, nothing answers.
func (p *Postgres) Freeze() error {
	all := append(below(p.cmd.Process.Pid), p.cmd.Process.Pid)
	var failed error
	for _, pid := range all {
		failed = errors.Join(failed, syscall.Kill(pid, syscall.SIGSTOP))
	}
	return failed
}

// KillFrozen ends a frozen server and its children.
func (p *Postgres) KillFrozen() {
	for _, pid := range below(p.cmd.Process.Pid) {
		_ = syscall.Kill(pid, syscall.SIGKILL)
	}
	p.Kill()
}

// Promote makes a standby the primary.
func (p *Postgres) Promote(ctx context.Context) error {
	return p.exec(ctx, "postgres", "select pg_promote()")
}

// WaitForStandby lets the primary acknowledge nothing that its standby has not written, once the standby is there.
func (p *Postgres) WaitForStandby(ctx context.Context) error {
	if err := p.exec(ctx, "postgres", "alter system set synchronous_standby_names = '"+StandbyName+"'"); err != nil {
		return err
	}
	if err := p.exec(ctx, "postgres", "select pg_reload_conf()"); err != nil {
		return err
	}
	conn, err := pgx.Connect(ctx, p.words("postgres"))
	if err != nil {
		return err
	}
	defer conn.Close(ctx)
	for range 300 {
		var ready bool
		if err := conn.QueryRow(ctx, "select exists (select from pg_stat_replication where sync_state = 'sync' and state = 'streaming')").Scan(&ready); err != nil || ready {
			return err
		}
		time.Sleep(100 * time.Millisecond)
	}
	return errors.New("the standby did not come within half a minute")
}

// WaitForNobody lets the server acknowledge by itself.
func (p *Postgres) WaitForNobody(ctx context.Context) error {
	return errors.Join(p.exec(ctx, "postgres", "alter system reset synchronous_standby_names"), p.exec(ctx, "postgres", "select pg_reload_conf()"))
}

func (p *Postgres) words(name string) string {
	return fmt.Sprintf("host=127.0.0.1 port=%d user=croftmark dbname=%s", p.Port, name)
}

// exec runs one statement on a connection of its own.
func (p *Postgres) exec(ctx context.Context, name, sql string) error {
	ctx, cancel := context.WithTimeout(ctx, 70*time.Second) // promoting may take a minute
	defer cancel()
	conn, err := pgx.Connect(ctx, p.words(name))
	if err != nil {
		return err
	}
	_, err = conn.Exec(ctx, sql)
	return errors.Join(err, conn.Close(ctx))
}

// URLOf gives the address of the book on one or several servers, of which the first that takes writes is to be used.
func URLOf(servers ...*Postgres) string {
	hosts := make([]string, len(servers))
	for i, s := range servers {
		hosts[i] = "127.0.0.1:" + strconv.Itoa(s.Port)
	}
	url := "postgres://croftmark@" + strings.Join(hosts, ",") + "/" + database + "?sslmode=disable"
	if len(servers) > 1 {
		url += "&target_session_attrs=read-write"
	}
	return url
}

// Stop shuts the server down at once, and cleanly: nothing is left for a start to recover.
func (p *Postgres) Stop() {
	_ = p.cmd.Process.Signal(syscall.SIGINT) // it may have ended by itself
	_ = p.cmd.Wait()
}
