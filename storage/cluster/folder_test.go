package cluster

import (
	"errors"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"
)

// ordinary runs a second Croftmark to its end as an ordinary account and returns what it
// said. Unless the tests run as root, they are ordinary themselves.
func ordinary(t *testing.T, folder string) string {
	t.Helper()
	cmd := helperCommand(reachableSelf(t), folder)
	if os.Geteuid() == 0 {
		uid, gid := nobody(t)
		cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: uid, Gid: gid}}
		cmd.Dir = "/"
	}
	out, err := cmd.CombinedOutput()
	var ended *exec.ExitError
	if err != nil && !errors.As(err, &ended) {
		t.Fatalf("the second Croftmark never ran: %v", err)
	}
	return string(out)
}

func nobody(t *testing.T) (uid, gid uint32) {
	t.Helper()
	found, err := user.Lookup("nobody")
	must(t, err)
	a, err := newAccount(found, true)
	must(t, err)
	return a.uid, a.gid
}

// reachableSelf copies the test program to where any account may run it.
func reachableSelf(t *testing.T) string {
	t.Helper()
	self, err := os.Executable()
	must(t, err)
	content, err := os.ReadFile(self)
	must(t, err)
	dir, err := os.MkdirTemp("", "croftmark-test-")
	must(t, err)
	t.Cleanup(func() { os.RemoveAll(dir) })
	must(t, os.Chmod(dir, 0o755))
	program := filepath.Join(dir, "croftmark")
	writeProgram(t, program, content)
	return program
}

// giveToNobody makes dir the ordinary account's own when the tests run as root.
func giveToNobody(t *testing.T, dir string) {
	t.Helper()
	must(t, os.MkdirAll(dir, 0o700))
	if os.Geteuid() == 0 {
		uid, gid := nobody(t)
		must(t, os.Chown(dir, int(uid), int(gid)))
	}
}

func TestOrdinaryAccount(t *testing.T) {
	t.Parallel()
	home := newFolder(t)
	giveToNobody(t, home)
	folder := filepath.Join(home, "share", "croftmark")
	if said := ordinary(t, folder); !strings.HasPrefix(said, "ready ") {
		t.Fatalf("an ordinary account cannot start: %s", said)
	}
	// One start by root in between must not lock the owner out.
	stop(t, start(t, folder))
	if said := ordinary(t, folder); !strings.HasPrefix(said, "ready ") {
		t.Fatalf("the owner cannot start after root has: %s", said)
	}
}

func TestClosedParentIsNamed(t *testing.T) {
	t.Parallel()
	closed := newFolder(t)
	must(t, os.Mkdir(closed, 0o000))
	if os.Geteuid() == 0 {
		_, err := Start(t.Context(), Options{DataDir: filepath.Join(closed, "farm", "data"), Durable: true})
		wantText(t, err, "the folder "+closed+" does not let the account ", "chmod a+x "+closed)
	}
	said := ordinary(t, filepath.Join(closed, "farm", "data"))
	if want := "the folder " + closed + " does not let the account "; !strings.Contains(said, want) {
		t.Errorf("an ordinary account is told %q, want %q", said, want)
	}
}

func TestReadOnlyParentIsNamed(t *testing.T) {
	t.Parallel()
	parent := newFolder(t)
	must(t, os.Mkdir(parent, 0o555))
	said := ordinary(t, filepath.Join(parent, "farm", "data"))
	if want := "may not write in the folder " + parent; !strings.Contains(said, want) {
		t.Errorf("an ordinary account is told %q, want %q", said, want)
	}
}

func TestFolderOfAnotherAccount(t *testing.T) {
	t.Parallel()
	if os.Geteuid() != 0 {
		t.Skip("only root can make a folder for another account")
	}
	folder := seeded(t)
	stop(t, start(t, folder))
	if said := ordinary(t, folder); !strings.Contains(said, "belongs to another account") {
		t.Errorf("an ordinary account is told %q", said)
	}
}

func TestSocketFolderOfSomebodyElse(t *testing.T) {
	t.Parallel()
	if os.Geteuid() != 0 {
		t.Skip("only root can make a folder for another account")
	}
	folder := seeded(t)
	socket, err := surveyed(t, folder).socketFolder()
	must(t, err)
	must(t, os.Mkdir(socket, 0o777))
	uid, gid := nobody(t)
	must(t, os.Chown(socket, int(uid), int(gid)))
	c := start(t, folder)
	info, err := os.Stat(c.socket)
	must(t, err)
	if owner := info.Sys().(*syscall.Stat_t).Uid; owner == uid || info.Mode().Perm() != 0o700 {
		t.Errorf("the socket folder belongs to %d with mode %o", owner, info.Mode().Perm())
	}
}

func TestLongTemporaryFolder(t *testing.T) {
	long := filepath.Join(t.TempDir(), strings.Repeat("long", 25))
	must(t, os.MkdirAll(long, 0o755))
	t.Setenv("TMPDIR", long)
	c := start(t, seeded(t))
	if filepath.Dir(c.socket) != "/tmp" {
		t.Errorf("the socket is in %s, want it in /tmp", c.socket)
	}
}

func TestDefaultDataDir(t *testing.T) {
	if os.Geteuid() == 0 {
		dir, err := DefaultDataDir()
		must(t, err)
		if dir != "/var/lib/croftmark" {
			t.Errorf("root's folder is %s", dir)
		}
		return
	}
	t.Setenv("HOME", "/home/ana")
	for xdg, want := range map[string]string{
		"":         "/home/ana/.local/share/croftmark",
		"relative": "/home/ana/.local/share/croftmark",
		"/data":    "/data/croftmark",
	} {
		t.Setenv("XDG_DATA_HOME", xdg)
		dir, err := DefaultDataDir()
		must(t, err)
		if dir != want {
			t.Errorf("with %q the folder is %s, want %s", xdg, dir, want)
		}
	}
}

func TestServerHasItsOwnProcessGroup(t *testing.T) {
	t.Parallel()
	c := start(t, seeded(t))
	status, err := exec.Command("ps", "-o", "pgid=", "-p", strconv.Itoa(c.process.Pid)).Output()
	must(t, err)
	if group := strings.TrimSpace(string(status)); group != strconv.Itoa(c.process.Pid) {
		t.Errorf("the server is in process group %s, want its own %d", group, c.process.Pid)
	}
}
