package cluster

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"time"
)

// pidFile is the part of the server's postmaster.pid that matters here.
type pidFile struct {
	pid    int
	socket string
	ready  bool
}

var errPIDFile = errors.New("postmaster.pid cannot be read")

func readPIDFile(data string) (pidFile, error) {
	text, err := os.ReadFile(pidPath(data))
	if err != nil {
		return pidFile{}, err
	}
	// Lines: process, folder, start time, port, socket folder, address, memory key, status.
	lines := strings.Split(string(text), "\n")
	pid, err := strconv.Atoi(strings.TrimSpace(lines[0]))
	if err != nil || pid <= 0 {
		return pidFile{}, errPIDFile
	}
	file := pidFile{pid: pid}
	if len(lines) > 4 {
		file.socket = lines[4]
	}
	file.ready = len(lines) > 7 && strings.TrimSpace(lines[7]) == "ready"
	return file, nil
}

func pidPath(data string) string { return filepath.Join(data, "postmaster.pid") }

// serverReady asks the file, as pg_ctl does; trying to connect would fill the log.
func serverReady(data string, pid int) bool {
	file, err := readPIDFile(data)
	return err == nil && file.pid == pid && file.ready
}

// clearPIDFile deals with what an earlier run has left. We hold the lock, so a server
// that still works in the folder has lost its Croftmark: it is stopped. PostgreSQL itself
// refuses to start while the number belongs to any live process or zombie, so then the
// file goes. When the process is gone the file stays: PostgreSQL still reads in it whether
// backends of the dead server remain.
func (s site) clearPIDFile(ctx context.Context) error {
	file, err := readPIDFile(s.data())
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if errors.Is(err, errPIDFile) {
		return s.removePIDFile()
	}
	if err != nil {
		return fmt.Errorf("look for an earlier database server: %w", err)
	}
	switch inspect(file.pid, s.data()) {
	case gone:
		return nil
	case ours:
		if err := s.stopOrphan(ctx, file.pid); err != nil {
			return err
		}
		return s.clearPIDFile(ctx)
	default:
		return s.removePIDFile()
	}
}

func (s site) removePIDFile() error {
	s.log.Warn("removing the postmaster.pid of an earlier run", "folder", s.folder)
	if err := os.Remove(pidPath(s.data())); err != nil {
		return fmt.Errorf("remove the postmaster.pid of an earlier run: %w", err)
	}
	return nil
}

// stopOrphan waits as long as ctx allows: on a slow card the last checkpoint takes its time.
func (s site) stopOrphan(ctx context.Context, pid int) error {
	s.log.Warn("stopping a database server that an earlier run has left", "folder", s.folder, "process", pid)
	err := syscall.Kill(pid, syscall.SIGINT)
	if err != nil && !errors.Is(err, syscall.ESRCH) {
		return fmt.Errorf("stop the earlier database server (process %d): %w", pid, err)
	}
	for inspect(pid, s.data()) == ours {
		if err := pause(ctx, 10*time.Millisecond); err != nil {
			return sentence("The database server of an earlier run (process %d) is still shutting down. Try again in a minute: %w", pid, err)
		}
	}
	return nil
}
