package cluster

import (
	"context"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"
)

// wantKept checks that every acknowledged row is there exactly once, and beyond them only
// rows whose acknowledgement the crash can have cut off.
func wantKept(t *testing.T, c *Cluster, acknowledged []int, writers int) {
	t.Helper()
	conn := connect(t, c.OwnerURL(Database))
	found := query1[int](t, conn, "select count(*)::int from kept where id = any($1)", acknowledged)
	distinct := query1[int](t, conn, "select count(distinct id)::int from kept where id = any($1)", acknowledged)
	total := query1[int](t, conn, "select count(*)::int from kept")
	if found != len(acknowledged) || distinct != len(acknowledged) {
		t.Errorf("%d rows acknowledged, found %d, %d of them different", len(acknowledged), found, distinct)
	}
	if total > len(acknowledged)+writers {
		t.Errorf("%d rows in all, want at most %d", total, len(acknowledged)+writers)
	}
	t.Logf("%d rows acknowledged, all found", len(acknowledged))
}

func TestServerKilledWhileWriting(t *testing.T) {
	t.Parallel()
	folder := seeded(t)
	c := start(t, folder)
	const writers = 3
	acknowledged := writeUntilDeath(t, c, writers)
	<-c.Done()
	stop(t, c)
	wantKept(t, start(t, folder), acknowledged, writers)
}

// writeUntilDeath kills the server while several connections commit one row after another.
func writeUntilDeath(t *testing.T, c *Cluster, writers int) []int {
	t.Helper()
	var (
		group sync.WaitGroup
		mu    sync.Mutex
		rows  []int
	)
	conns := make([]*pgx.Conn, writers)
	for i := range conns {
		conns[i] = connect(t, c.OwnerURL(Database))
	}
	for writer, conn := range conns {
		group.Go(func() {
			for id := writer; ; id += writers {
				if _, err := conn.Exec(t.Context(), "insert into kept values ($1)", id); err != nil {
					return
				}
				mu.Lock()
				rows = append(rows, id)
				if len(rows) == 300 {
					_ = syscall.Kill(c.process.Pid, syscall.SIGKILL)
				}
				mu.Unlock()
			}
		})
	}
	group.Wait()
	if len(rows) < 300 {
		t.Fatalf("writing ended after %d rows, before the server was killed", len(rows))
	}
	return rows
}

func TestProgramKilledWhileWriting(t *testing.T) {
	t.Parallel()
	folder := seeded(t)
	other := startHelper(t, folder, helperWrites+"=yes")
	rows := other.acknowledged(100, func() { kill9(t, other.cmd.Process.Pid) })
	wantKept(t, start(t, folder), rows, 1)
}

func TestServerEndsWithKilledProgram(t *testing.T) {
	t.Parallel()
	if runtime.GOOS != "linux" {
		t.Skip("only Linux tells a child that its parent has died")
	}
	folder := seeded(t)
	data := filepath.Join(folder, "postgres")
	other := startHelper(t, folder, helperWrites+"=yes")
	kill9(t, other.cmd.Process.Pid)
	eventually(t, "the server ends", func() bool { return inspect(other.database, data) != ours })
	if exists(pidPath(data)) {
		t.Error("postmaster.pid is still there, so the server did not shut down in order")
	}
}

func TestProgramAndServerKilledWhileWriting(t *testing.T) {
	t.Parallel()
	for name, serverFirst := range map[string]bool{"server first": true, "program first": false} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			folder := seeded(t)
			other := startHelper(t, folder, helperWrites+"=yes")
			victims := []int{other.cmd.Process.Pid, other.database}
			if serverFirst {
				victims = []int{other.database, other.cmd.Process.Pid}
			}
			rows := other.acknowledged(100, func() {
				for _, pid := range victims {
					kill9(t, pid)
				}
			})
			wantKept(t, start(t, folder), rows, 1)
		})
	}
}

// A backend that computes does not notice that its server is gone, and PostgreSQL refuses
// to start beside it, whether or not the postmaster.pid of the dead server is there.
func TestStartWaitsForBackendOfKilledServer(t *testing.T) {
	t.Parallel()
	for name, withPIDFile := range map[string]bool{"with postmaster.pid": true, "without": false} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			folder := seeded(t)
			c := start(t, folder)
			keepBackendBusy(t, c)
			kill9(t, c.process.Pid)
			<-c.Done()
			stop(t, c)
			if !withPIDFile {
				must(t, os.Remove(pidPath(filepath.Join(folder, "postgres"))))
			}
			again, log := startLogged(t, folder)
			if !strings.Contains(log, "waiting for the last processes") {
				t.Errorf("the log does not tell of the wait:\n%s", log)
			}
			wantKept(t, again, nil, 0)
		})
	}
}

func keepBackendBusy(t *testing.T, c *Cluster) {
	t.Helper()
	conn := connect(t, c.OwnerURL(Database))
	var running sync.WaitGroup
	t.Cleanup(running.Wait)
	running.Go(func() {
		_, _ = conn.Exec(context.Background(), "do $$ declare until timestamptz := clock_timestamp() + '1 s'; "+
			"begin while clock_timestamp() < until loop end loop; end $$")
	})
	watch := connect(t, c.OwnerURL(Database))
	eventually(t, "the backend is busy", func() bool {
		return query1[bool](t, watch, "select exists(select from pg_stat_activity where state = 'active' and query like 'do $$ declare%')")
	})
}

// Outside Linux the kernel does not tell the server that its Croftmark was killed.
func TestOrphanServerIsStopped(t *testing.T) {
	t.Parallel()
	folder := seeded(t)
	s := surveyed(t, folder)
	must(t, s.prepare(t.Context()))
	socket, err := s.makeSocketFolder()
	must(t, err)
	must(t, s.writeAccessRules())
	s.durable = true
	orphan, err := s.tryServer(t.Context(), Address{socket: socket})
	must(t, err)
	conn := connect(t, orphan.OwnerURL(Database))
	exec1(t, conn, "insert into kept values (7)")

	c, log := startLogged(t, folder)
	if !strings.Contains(log, "stopping a database server") {
		t.Errorf("the log does not tell of the orphan:\n%s", log)
	}
	select {
	case <-orphan.Done():
	default:
		t.Error("the orphan still runs")
	}
	wantKept(t, c, []int{7}, 0)
}

func TestStopIsHardWhenTimeIsUp(t *testing.T) {
	t.Parallel()
	folder := seeded(t)
	c := start(t, folder)
	conn := connect(t, c.OwnerURL(Database))
	exec1(t, conn, "insert into kept values (1)")
	ended, cancel := context.WithTimeout(t.Context(), -time.Second)
	defer cancel()
	wantText(t, c.Stop(ended), "recover at the next start")
	<-c.Done()
	wantKept(t, start(t, folder), []int{1}, 0)
}
