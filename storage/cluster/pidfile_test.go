package cluster

import (
	"os/exec"
	"strconv"
	"strings"
	"syscall"
	"testing"
)

func TestStalePIDFile(t *testing.T) {
	t.Parallel()
	for name, test := range map[string]struct {
		content func(t *testing.T, s site) string
		removed bool
	}{
		"number of a live process of the same account": {
			func(t *testing.T, s site) string { return pidFileOf(s, asAccount(t, s, "sleep", "60")) }, true,
		},
		"number of a zombie": {
			func(t *testing.T, s site) string {
				pid := asAccount(t, s, "true")
				eventually(t, "a zombie", func() bool { return inspect(pid, s.data()) == zombie })
				return pidFileOf(s, pid)
			}, true,
		},
		"number of no process":    {func(_ *testing.T, s site) string { return pidFileOf(s, 1<<22+1) }, false},
		"empty after a power cut": {func(*testing.T, site) string { return "" }, true},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			folder := seeded(t)
			s := surveyed(t, folder)
			must(t, s.prepare(t.Context()))
			must(t, s.writeOwned(pidPath(s.data()), test.content(t, s)))
			c, log := startLogged(t, folder)
			if removed := strings.Contains(log, "removing the postmaster.pid"); removed != test.removed {
				t.Errorf("removed by us: %t, want %t\n%s", removed, test.removed, log)
			}
			wantKept(t, c, nil, 0)
		})
	}
}

// asAccount starts a program as the server's account; it stays a zombie until the test ends.
func asAccount(t *testing.T, s site, program string, args ...string) int {
	t.Helper()
	cmd := exec.Command(program, args...)
	s.account.dress(cmd, syscall.SIGKILL)
	// The thread that starts it may end before the test does.
	signalOnParentDeath(cmd.SysProcAttr, 0)
	must(t, cmd.Start())
	t.Cleanup(func() {
		_ = cmd.Process.Kill()
		_ = cmd.Wait()
	})
	return cmd.Process.Pid
}

func pidFileOf(s site, pid int) string {
	return strings.Join([]string{strconv.Itoa(pid), s.data(), "1700000000", port, "/tmp", "", "  1 1", "ready   ", ""}, "\n")
}

func TestReadPIDFile(t *testing.T) {
	t.Parallel()
	s := surveyed(t, seeded(t))
	c := start(t, s.folder)
	file, err := readPIDFile(s.data())
	must(t, err)
	if want := (pidFile{pid: c.process.Pid, socket: c.socket, ready: true}); file != want {
		t.Errorf("postmaster.pid says %+v, want %+v", file, want)
	}
	if state := inspect(file.pid, s.data()); state != ours {
		t.Errorf("the server is seen as %d, want %d", state, ours)
	}
	if state := inspect(file.pid, s.folder); state != foreign {
		t.Errorf("the server of another folder is seen as %d, want %d", state, foreign)
	}
}

func TestCommandServes(t *testing.T) {
	t.Parallel()
	for command, want := range map[string]bool{
		"/usr/lib/postgresql/15/bin/postgres -D /farm/postgres -c fsync=on":  true,
		"/usr/lib/postgresql/15/bin/postgres -D /farm/postgres2 -c fsync=on": false,
		"vi /farm/postgres ": false,
	} {
		if got := commandServes(command, "/farm/postgres"); got != want {
			t.Errorf("%s: %t, want %t", command, got, want)
		}
	}
}
