package cluster

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"time"
)

// InUseError says that another process holds the data folder.
type InUseError struct {
	PID    int
	Folder string
}

func (e *InUseError) Error() string {
	return fmt.Sprintf("Another Croftmark (process %d) is already using %s. Stop it first, or give this one another --data folder.", e.PID, e.Folder)
}

// lock is an flock on DATA/lock. The kernel drops it however the process dies, so there
// is no stale lock to clean up.
type lock struct{ file *os.File }

func acquire(folder string) (*lock, error) {
	file, err := openLock(folder, os.O_RDWR|os.O_CREATE)
	if err != nil {
		return nil, err
	}
	if err := flockPatiently(file); err != nil {
		defer file.Close()
		if errors.Is(err, syscall.EWOULDBLOCK) {
			return nil, &InUseError{PID: recordedPID(file), Folder: folder}
		}
		return nil, fmt.Errorf("lock %s: %w", file.Name(), err)
	}
	if err := recordPID(file); err != nil {
		return nil, errors.Join(fmt.Errorf("write %s: %w", file.Name(), err), file.Close())
	}
	return &lock{file: file}, nil
}

// flockPatiently tries for a moment, because holder takes the lock for an instant when it
// looks whether anybody has it.
func flockPatiently(file *os.File) error {
	var err error
	for range 5 {
		if err = syscall.Flock(int(file.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err == nil {
			return nil
		}
		time.Sleep(10 * time.Millisecond)
	}
	return err
}

// release leaves the file in place: removing it would let two processes lock two
// different files of the same name.
func (l *lock) release() error {
	err := errors.Join(l.file.Truncate(0), l.file.Close())
	if errors.Is(err, os.ErrClosed) {
		return nil
	}
	return err
}

// holder returns the process that holds folder, or wraps ErrNotRunning.
func holder(folder string) (int, error) {
	file, err := openLock(folder, os.O_RDONLY)
	if errors.Is(err, fs.ErrNotExist) {
		return 0, fmt.Errorf("%s: %w", folder, ErrNotRunning)
	}
	if err != nil {
		return 0, err
	}
	defer file.Close()
	err = syscall.Flock(int(file.Fd()), syscall.LOCK_SH|syscall.LOCK_NB)
	if err == nil {
		return 0, fmt.Errorf("%s: %w", folder, ErrNotRunning)
	}
	if errors.Is(err, syscall.EWOULDBLOCK) {
		return recordedPID(file), nil
	}
	return 0, fmt.Errorf("lock %s: %w", file.Name(), err)
}

func openLock(folder string, flags int) (*os.File, error) {
	file, err := os.OpenFile(filepath.Join(folder, "lock"), flags|syscall.O_NOFOLLOW, 0o600)
	if errors.Is(err, fs.ErrPermission) {
		return nil, otherAccount(folder)
	}
	return file, err
}

func recordPID(file *os.File) error {
	if err := file.Truncate(0); err != nil {
		return err
	}
	_, err := file.WriteAt([]byte(strconv.Itoa(os.Getpid())+"\n"), 0)
	return err
}

// recordedPID returns 0 when the holder has not yet written its number.
func recordedPID(file *os.File) int {
	text, err := io.ReadAll(io.NewSectionReader(file, 0, 32))
	if err != nil {
		return 0
	}
	pid, err := strconv.Atoi(strings.TrimSpace(string(text)))
	if err != nil {
		return 0
	}
	return pid
}
