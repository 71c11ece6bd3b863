package cluster

import (
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"runtime"
	"strconv"
	"syscall"
)

// account is who the server runs as. PostgreSQL refuses to run as root.
type account struct {
	name     string
	uid, gid uint32
	// dropped means that this process is root and the server is not.
	dropped bool
}

// serverAccount keeps the folders with the ordinary account that owns the first of them
// that is there, so that one start with sudo does not lock their owner out.
func serverAccount(folders ...string) (account, error) {
	if os.Geteuid() != 0 {
		return ownAccount()
	}
	for _, folder := range folders {
		if a, ok := ownerOf(folder); ok {
			return a, nil
		}
	}
	for _, name := range []string{"postgres", "nobody"} {
		if found, err := user.Lookup(name); err == nil {
			return newAccount(found, true)
		}
	}
	return account{}, sentence("PostgreSQL does not run as root, and this machine has neither an account postgres nor an account nobody. Run Croftmark from an ordinary account.")
}

func ownAccount() (account, error) {
	uid := os.Geteuid()
	found, err := user.LookupId(strconv.Itoa(uid))
	if err != nil {
		return account{}, sentence("The account number %d has no name on this machine, which PostgreSQL needs. In a container, add it to /etc/passwd or use an account that is there.", uid)
	}
	return newAccount(found, false)
}

func ownerOf(folder string) (account, bool) {
	info, err := os.Stat(folder)
	if err != nil {
		return account{}, false
	}
	uid := info.Sys().(*syscall.Stat_t).Uid
	if uid == 0 {
		return account{}, false
	}
	found, err := user.LookupId(strconv.FormatUint(uint64(uid), 10))
	if err != nil {
		return account{}, false
	}
	a, err := newAccount(found, true)
	return a, err == nil
}

func newAccount(u *user.User, dropped bool) (account, error) {
	uid, err := strconv.ParseUint(u.Uid, 10, 32)
	if err != nil {
		return account{}, fmt.Errorf("account %s: %w", u.Username, err)
	}
	gid, err := strconv.ParseUint(u.Gid, 10, 32)
	if err != nil {
		return account{}, fmt.Errorf("account %s: %w", u.Username, err)
	}
	return account{name: u.Username, uid: uint32(uid), gid: uint32(gid), dropped: dropped}, nil
}

// dress prepares cmd to run as the account, away from our folder and environment, and to
// get the signal when we die.
func (a account) dress(cmd *exec.Cmd, onOurDeath syscall.Signal) {
	cmd.Dir = "/"
	cmd.Env = []string{"PATH=/usr/bin:/bin", "LC_ALL=" + locale(), "TZ=UTC"}
	// A group of its own: Ctrl-C in a terminal must not shut the database down under
	// requests that are still being answered.
	attributes := &syscall.SysProcAttr{Setpgid: true}
	if a.dropped {
		attributes.Credential = &syscall.Credential{Uid: a.uid, Gid: a.gid}
	}
	signalOnParentDeath(attributes, onOurDeath)
	cmd.SysProcAttr = attributes
}

// locale sorts by code point and is the same on every machine; only macOS lacks it.
func locale() string {
	if runtime.GOOS == "darwin" {
		return "C"
	}
	return "C.UTF-8"
}

// own gives path itself to the account; there is nothing to do when we are the account.
func (a account) own(path string) error {
	if !a.dropped {
		return nil
	}
	if err := os.Lchown(path, int(a.uid), int(a.gid)); err != nil {
		return fmt.Errorf("give %s to the account %s: %w", path, a.name, err)
	}
	return nil
}

// ownTree gives a whole folder to the account, as after root has put back a copy of it.
func (a account) ownTree(folder string) error {
	info, err := os.Stat(folder)
	if err != nil || !a.dropped || info.Sys().(*syscall.Stat_t).Uid == a.uid {
		return err
	}
	return filepath.WalkDir(folder, func(path string, _ fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		return a.own(path)
	})
}
