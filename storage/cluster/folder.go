package cluster

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
)

// DefaultDataDir is where the records go when nobody says otherwise: /var/lib/croftmark
// for root, the account's own data folder for everybody else.
func DefaultDataDir() (string, error) {
	if os.Geteuid() == 0 {
		return "/var/lib/croftmark", nil
	}
	// The XDG rules say to ignore a relative path.
	if data := os.Getenv("XDG_DATA_HOME"); filepath.IsAbs(data) {
		return filepath.Join(data, "croftmark"), nil
	}
	home, err := os.UserHomeDir()
	if err != nil {
		return "", sentence("This account has no home folder, so Croftmark does not know where to keep its records. Name a folder with --data.")
	}
	return filepath.Join(home, ".local", "share", "croftmark"), nil
}

// openFolder makes the data folder when needed and returns its one true path, from which
// the socket's name is derived.
func openFolder(dataDir string) (string, error) {
	if dataDir == "" {
		return "", sentence("No data folder was given. Name one with --data.")
	}
	abs, err := filepath.Abs(dataDir)
	if err != nil {
		return "", fmt.Errorf("data folder %s: %w", dataDir, err)
	}
	err = makeFolder(abs)
	if errors.Is(err, fs.ErrPermission) {
		return "", closedFolder(abs)
	}
	if err != nil {
		return "", fmt.Errorf("make the data folder %s: %w", abs, err)
	}
	return resolve(abs)
}

func resolve(dataDir string) (string, error) {
	abs, err := filepath.Abs(dataDir)
	if err != nil {
		return "", fmt.Errorf("data folder %s: %w", dataDir, err)
	}
	folder, err := filepath.EvalSymlinks(abs)
	if errors.Is(err, fs.ErrPermission) {
		return "", closedFolder(abs)
	}
	return folder, err
}

// makeFolder leaves an existing folder as it is. When root makes one, the server's
// account must be able to pass through it, though not to list it.
func makeFolder(dir string) error {
	if info, err := os.Stat(dir); err == nil && info.IsDir() {
		return nil
	}
	if err := os.MkdirAll(filepath.Dir(dir), 0o755); err != nil {
		return err
	}
	mode := fs.FileMode(0o700)
	if os.Geteuid() == 0 {
		mode = 0o711
	}
	if err := os.Mkdir(dir, mode); err != nil {
		return err
	}
	// Mkdir's mode is cut by the umask.
	return os.Chmod(dir, mode)
}

// closedFolder finds the folder that keeps this process away from dir.
func closedFolder(dir string) error {
	enter := func(folder string) bool {
		const search = 1
		return !errors.Is(syscall.Access(folder, search), syscall.EACCES)
	}
	if blocked := firstBlocked(dir, enter); blocked != "" {
		return blockedError(dir, blocked, "the account that runs Croftmark")
	}
	parent := dir
	for !exists(parent) {
		parent = filepath.Dir(parent)
	}
	return sentence("Croftmark may not write in the folder %s, so it cannot keep its records in %s. Choose another folder with --data.", parent, dir)
}

// checkReachable names the folder that would keep the server's account out.
func (s site) checkReachable(dir string) error {
	if s.canEnter(dir) {
		return nil
	}
	blocked := firstBlocked(dir, s.canEnter)
	if blocked == "/" {
		return sentence("The account %s cannot run %s. Reinstall PostgreSQL, or name another folder of its programs in %s.",
			s.account.name, s.programs.postgres(), binEnv)
	}
	return blockedError(dir, blocked, "the account "+s.account.name+" that runs the database")
}

// canEnter asks the kernel by starting a program there as the account; reading mode bits
// would miss access lists and security modules.
func (s site) canEnter(dir string) bool {
	cmd := exec.Command(s.programs.postgres(), "--version")
	s.account.dress(cmd, syscall.SIGKILL)
	cmd.Dir = dir
	_, err := output(cmd)
	return err == nil
}

// firstBlocked goes from / down to dir.
func firstBlocked(dir string, enter func(string) bool) string {
	folder := "/"
	for _, name := range strings.Split(strings.Trim(dir, "/"), "/") {
		if !enter(folder) {
			return folder
		}
		folder = filepath.Join(folder, name)
	}
	if !enter(folder) {
		return folder
	}
	return ""
}

func blockedError(dir, blocked, who string) error {
	return sentence("Croftmark cannot keep its records in %s: the folder %s does not let %s in. Choose another folder with --data, or open that one with `chmod a+x %s`.",
		dir, blocked, who, blocked)
}

func otherAccount(folder string) error {
	return sentence("The data folder %s belongs to another account. Run Croftmark from that account or with sudo, or choose another folder with --data.", folder)
}

func exists(path string) bool {
	_, err := os.Lstat(path)
	return err == nil
}
