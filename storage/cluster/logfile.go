package cluster

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"syscall"
)

// logLimit is the size above which a start begins the log anew.
const logLimit = 5 << 20

// errBackendsRemain means that processes of a killed server are still finishing.
var errBackendsRemain = errors.New("processes of an earlier database server are still running")

func (s site) logPath() string { return filepath.Join(s.folder, "postgres.log") }

func (s site) openLog() (*os.File, error) {
	file, err := os.OpenFile(s.logPath(), os.O_WRONLY|os.O_CREATE|os.O_APPEND|syscall.O_NOFOLLOW, 0o600)
	if err != nil {
		return nil, fmt.Errorf("open the database log: %w", err)
	}
	if err := s.readyLog(file); err != nil {
		return nil, errors.Join(fmt.Errorf("open the database log: %w", err), file.Close())
	}
	return file, nil
}

func (s site) readyLog(file *os.File) error {
	info, err := file.Stat()
	if err != nil {
		return err
	}
	if info.Size() > logLimit {
		if err := file.Truncate(0); err != nil {
			return err
		}
	}
	return s.account.own(file.Name())
}

// startFailure explains with the server's own words why it ended; they begin at offset.
func (s site) startFailure(offset int64) error {
	text, err := readFrom(s.logPath(), offset)
	if err != nil {
		return fmt.Errorf("the database ended while starting, and its log cannot be read: %w", err)
	}
	if strings.Contains(text, "pre-existing shared memory block") {
		return errBackendsRemain
	}
	return sentence("The database in %s ended while it was starting. The last lines of %s:\n%s", s.folder, s.logPath(), lastLines(text))
}

func readFrom(path string, offset int64) (string, error) {
	file, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer file.Close()
	text, err := io.ReadAll(io.NewSectionReader(file, offset, logLimit))
	return string(text), err
}

func lastLines(text string) string {
	lines := strings.Split(strings.TrimSpace(text), "\n")
	return strings.Join(lines[max(0, len(lines)-8):], "\n")
}
