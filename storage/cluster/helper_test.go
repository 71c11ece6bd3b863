package cluster

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"log/slog"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
)

// The test binary runs itself again as a second Croftmark when these are set, so that
// there is a whole process to kill.
const (
	helperFolder = "CROFTMARK_TEST_HELPER_FOLDER"
	helperWrites = "CROFTMARK_TEST_HELPER_WRITES"
)

func TestMain(m *testing.M) {
	if folder := os.Getenv(helperFolder); folder != "" {
		if err := helperMain(folder, os.Getenv(helperWrites) != ""); err != nil {
			fmt.Println("error:", err)
			os.Exit(1)
		}
		return
	}
	code := m.Run()
	if template.dir != "" {
		os.RemoveAll(template.dir)
	}
	os.Exit(code)
}

// writeProgram writes a file to be run. No test beside this one may fork while it is open
// for writing: the child would hold it open too, and the kernel refuse to run it ("text
// file busy").
func writeProgram(t *testing.T, path string, content []byte) {
	t.Helper()
	syscall.ForkLock.RLock()
	defer syscall.ForkLock.RUnlock()
	must(t, os.WriteFile(path, content, 0o755))
}

// helperMain starts a cluster and says so. A writing helper then inserts numbers for
// ever, and prints each one once its commit has been acknowledged.
func helperMain(folder string, writes bool) error {
	ctx := context.Background()
	c, err := Start(ctx, Options{DataDir: folder, Durable: true})
	if err != nil {
		return err
	}
	fmt.Println("ready", c.process.Pid)
	if !writes {
		return c.Stop(ctx)
	}
	conn, err := pgx.Connect(ctx, c.OwnerURL(Database))
	if err != nil {
		return err
	}
	for id := 1; ; id++ {
		if _, err := conn.Exec(ctx, "insert into kept values ($1)", id); err != nil {
			return err
		}
		fmt.Println("row", id)
	}
}

// helper is a running second Croftmark.
type helper struct {
	t        *testing.T
	cmd      *exec.Cmd
	output   *bufio.Scanner
	database int
}

func startHelper(t *testing.T, folder string, env ...string) *helper {
	t.Helper()
	h := newHelper(t, folder, env...)
	h.awaitReady()
	return h
}

func newHelper(t *testing.T, folder string, env ...string) *helper {
	t.Helper()
	program, err := os.Executable()
	must(t, err)
	cmd := helperCommand(program, folder, env...)
	out, err := cmd.StdoutPipe()
	must(t, err)
	must(t, cmd.Start())
	h := &helper{t: t, cmd: cmd, output: bufio.NewScanner(out)}
	t.Cleanup(func() {
		_ = cmd.Process.Kill()
		_ = cmd.Wait()
		eventually(t, "the server ends", func() bool { return inspect(h.database, filepath.Join(folder, "postgres")) != ours })
	})
	return h
}

func helperCommand(program, folder string, env ...string) *exec.Cmd {
	cmd := exec.Command(program)
	cmd.Env = append(append(os.Environ(), helperFolder+"="+folder), env...)
	return cmd
}

func (h *helper) awaitReady() {
	h.t.Helper()
	text, found := strings.CutPrefix(h.line(), "ready ")
	pid, err := strconv.Atoi(text)
	if !found || err != nil {
		h.t.Fatalf("second Croftmark says %q, want that it is ready", h.output.Text())
	}
	h.database = pid
}

// line returns "" when the helper has ended.
func (h *helper) line() string {
	if !h.output.Scan() {
		return ""
	}
	return h.output.Text()
}

// acknowledged reads rows until there are enough, calls kill and reads what was still in
// the pipe.
func (h *helper) acknowledged(enough int, kill func()) []int {
	h.t.Helper()
	var rows []int
	for line := h.line(); line != ""; line = h.line() {
		id, err := strconv.Atoi(strings.TrimPrefix(line, "row "))
		if err != nil {
			break // the helper tells of the connection it has lost
		}
		rows = append(rows, id)
		if len(rows) == enough {
			kill()
		}
	}
	if len(rows) < enough {
		h.t.Fatalf("second Croftmark wrote %d rows, want at least %d", len(rows), enough)
	}
	return rows
}

// template is a cluster that is made once and copied, which takes a tenth of the time.
var template struct {
	once sync.Once
	dir  string
	err  error
}

// seeded returns a data folder with a stopped cluster that holds the empty table kept.
func seeded(t *testing.T) string {
	t.Helper()
	template.once.Do(func() { template.dir, template.err = makeTemplate() })
	must(t, template.err)
	folder := newFolder(t)
	must(t, os.MkdirAll(folder, 0o755))
	must(t, os.CopyFS(filepath.Join(folder, "postgres"), os.DirFS(filepath.Join(template.dir, "postgres"))))
	return folder
}

func makeTemplate() (string, error) {
	ctx := context.Background()
	dir, err := os.MkdirTemp(FastDir(), "croftmark-template-")
	if err != nil {
		return "", err
	}
	if err := os.Chmod(dir, 0o755); err != nil {
		return dir, err
	}
	c, err := Start(ctx, Options{DataDir: dir, Durable: true})
	if err != nil {
		return dir, err
	}
	conn, err := pgx.Connect(ctx, c.OwnerURL(Database))
	if err != nil {
		return dir, err
	}
	// No key: a row that came back twice has to show.
	if _, err := conn.Exec(ctx, "create table kept (id bigint not null)"); err != nil {
		return dir, err
	}
	return dir, c.Stop(ctx)
}

// newFolder returns a data folder that is not there yet, in a place that every account
// can reach.
func newFolder(t *testing.T) string {
	t.Helper()
	dir, err := os.MkdirTemp(FastDir(), "croftmark-test-")
	must(t, err)
	folder := filepath.Join(dir, "data")
	t.Cleanup(func() {
		os.RemoveAll(dir)
		// A killed server leaves it.
		os.RemoveAll(filepath.Join(os.TempDir(), socketName(folder)))
	})
	must(t, os.Chmod(dir, 0o755))
	return folder
}

// start runs a durable cluster until the test ends.
func start(t *testing.T, folder string) *Cluster {
	t.Helper()
	c, _ := startLogged(t, folder)
	return c
}

// startLogged also returns what Start has logged.
func startLogged(t *testing.T, folder string) (*Cluster, string) {
	t.Helper()
	var log bytes.Buffer
	ctx, cancel := context.WithTimeout(t.Context(), 20*time.Second)
	defer cancel()
	c, err := Start(ctx, Options{DataDir: folder, Durable: true, Log: slog.New(slog.NewTextHandler(&log, nil))})
	must(t, err)
	t.Cleanup(func() { stop(t, c) })
	return c, log.String()
}

func stop(t *testing.T, c *Cluster) {
	t.Helper()
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	must(t, c.Stop(ctx))
}

func connect(t *testing.T, url string) *pgx.Conn {
	t.Helper()
	conn, err := pgx.Connect(t.Context(), url)
	must(t, err)
	t.Cleanup(func() { conn.Close(context.Background()) })
	return conn
}

func exec1(t *testing.T, conn *pgx.Conn, sql string, args ...any) {
	t.Helper()
	_, err := conn.Exec(t.Context(), sql, args...)
	must(t, err)
}

func query1[T any](t *testing.T, conn *pgx.Conn, sql string, args ...any) T {
	t.Helper()
	rows, err := conn.Query(t.Context(), sql, args...)
	must(t, err)
	value, err := pgx.CollectExactlyOneRow(rows, pgx.RowTo[T])
	must(t, err)
	return value
}

// surveyed is what Start knows about folder before it does anything.
func surveyed(t *testing.T, folder string) site {
	t.Helper()
	folder, err := openFolder(folder)
	must(t, err)
	held, err := acquire(folder)
	must(t, err)
	defer held.release()
	s, err := survey(folder, Options{})
	must(t, err)
	return s
}

func kill9(t *testing.T, pid int) {
	t.Helper()
	must(t, syscall.Kill(pid, syscall.SIGKILL))
}

func eventually(t *testing.T, what string, ok func() bool) {
	t.Helper()
	for began := time.Now(); !ok(); time.Sleep(time.Millisecond) {
		if time.Since(began) > 10*time.Second {
			t.Fatalf("%s: not within 10 s", what)
		}
	}
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func wantText(t *testing.T, err error, parts ...string) {
	t.Helper()
	if err == nil {
		t.Fatalf("no error, want one with %q", parts)
	}
	for _, part := range parts {
		if !strings.Contains(err.Error(), part) {
			t.Errorf("error %q does not contain %q", err, part)
		}
	}
}
