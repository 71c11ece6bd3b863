package cluster

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"time"
)

// marker is written into a cluster when everything in it has been made. A cluster
// without it was not made by Croftmark, or not to the end.
const marker = "croftmark.complete"

// firstStatements run once, in PostgreSQL's single-user mode, which needs no server, no
// socket and no password.
var firstStatements = strings.Join([]string{
	"create role " + ServiceRole + " login nosuperuser nobypassrls nocreatedb nocreaterole noreplication;",
	"create database " + Database + " owner " + OwnerRole + ";",
	"",
}, "\n")

// prepare makes sure that a complete cluster is in place. It deletes only postgres.new
// without a marker, into which nobody but this code has ever written.
func (s site) prepare(ctx context.Context) error {
	installed, err := s.installed()
	if err != nil {
		return err
	}
	if !installed {
		if err := s.bootstrap(ctx); err != nil {
			return err
		}
	}
	if err := s.account.ownTree(s.data()); err != nil {
		return fmt.Errorf("prepare the database folder: %w", err)
	}
	// A copy put back by hand often has a mode that PostgreSQL refuses.
	return os.Chmod(s.data(), 0o700)
}

// installed refuses to touch a folder that it does not know.
func (s site) installed() (bool, error) {
	entries, err := os.ReadDir(s.data())
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return false, nil
	case errors.Is(err, fs.ErrPermission):
		return false, otherAccount(s.folder)
	case err != nil:
		return false, fmt.Errorf("read the database folder: %w", err)
	case len(entries) == 0:
		return false, os.Remove(s.data())
	case exists(filepath.Join(s.data(), marker)) && exists(filepath.Join(s.data(), "PG_VERSION")):
		return true, nil
	}
	return false, sentence("The folder %s holds files that Croftmark did not put there, or only a part of its records, so it was left as it is. Move it away or put back a whole copy, or choose another folder with --data.", s.data())
}

func (s site) bootstrap(ctx context.Context) error {
	if exists(filepath.Join(s.fresh(), marker)) {
		return s.install()
	}
	began := time.Now()
	if err := s.discard(ctx); err != nil {
		return err
	}
	if err := s.build(ctx); err != nil {
		// ctx may have ended; the cleaning up must still be done.
		return errors.Join(err, s.discard(context.WithoutCancel(ctx)))
	}
	if err := s.install(); err != nil {
		return err
	}
	s.log.Info("made a new database", "folder", s.folder, "took", time.Since(began))
	return nil
}

// discard tries again for a moment: a child of a killed initdb may still be writing.
func (s site) discard(ctx context.Context) error {
	var err error
	for range 40 {
		if err = os.RemoveAll(s.fresh()); err == nil {
			return nil
		}
		if pause(ctx, 50*time.Millisecond) != nil {
			break
		}
	}
	return fmt.Errorf("remove the half-made database: %w", err)
}

func (s site) build(ctx context.Context) error {
	if err := os.Mkdir(s.fresh(), 0o700); err != nil {
		return fmt.Errorf("make the database folder: %w", err)
	}
	if err := s.account.own(s.fresh()); err != nil {
		return err
	}
	if err := s.initdb(ctx); err != nil {
		return err
	}
	if err := s.createRoles(ctx); err != nil {
		return err
	}
	return s.writeOwned(filepath.Join(s.fresh(), marker), "Croftmark finished making this database.\n")
}

func (s site) initdb(ctx context.Context) error {
	args := []string{
		"--pgdata=" + s.fresh(), "--username=" + OwnerRole, "--encoding=UTF8",
		"--auth-local=peer", "--auth-host=reject",
	}
	args = append(args, localeArgs(s.programs.major)...)
	if s.durable {
		args = append(args, "--data-checksums")
	} else {
		args = append(args, "--no-sync")
	}
	return s.run(ctx, "", s.programs.initdb(), args...)
}

// localeArgs ask for sorting by code point in UTF-8. From version 17 PostgreSQL brings
// that itself, for systems without the locale.
func localeArgs(major int) []string {
	args := []string{"--locale=" + locale()}
	if locale() == "C" && major >= 17 {
		args = append(args, "--locale-provider=builtin", "--builtin-locale=C.UTF-8")
	}
	return args
}

func (s site) createRoles(ctx context.Context) error {
	return s.run(ctx, firstStatements, s.programs.postgres(),
		"--single", "-D", s.fresh(), "-c", "exit_on_error=on", "-c", "fsync="+onOff(s.durable), "postgres")
}

// run runs one of PostgreSQL's own tools to its end, as the server's account.
func (s site) run(ctx context.Context, stdin, program string, args ...string) error {
	cmd := exec.CommandContext(ctx, program, args...)
	s.account.dress(cmd, syscall.SIGKILL)
	cmd.Stdin = strings.NewReader(stdin)
	cmd.WaitDelay = 5 * time.Second
	if out, err := output(cmd); err != nil {
		return sentence("The database could not be made: %s ended with %w.\n%s", filepath.Base(program), err, lastLines(string(out)))
	}
	return nil
}

// install is the one step that makes a cluster count, and rename does it whole or not.
func (s site) install() error {
	if err := os.Rename(s.fresh(), s.data()); err != nil {
		return fmt.Errorf("put the new database in place: %w", err)
	}
	return syncFolder(s.folder)
}

// dataMajor reads which PostgreSQL wrote the data; zero when there is none yet.
func (s site) dataMajor() (int, error) {
	folder := s.data()
	if !exists(folder) && exists(filepath.Join(s.fresh(), marker)) {
		folder = s.fresh()
	}
	path := filepath.Join(folder, "PG_VERSION")
	text, err := os.ReadFile(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return 0, nil
	case errors.Is(err, fs.ErrPermission):
		return 0, otherAccount(s.folder)
	case err != nil:
		return 0, fmt.Errorf("read the version of the database: %w", err)
	}
	major, err := strconv.Atoi(strings.TrimSpace(string(text)))
	if err != nil {
		return 0, sentence("%s does not hold the version of a database: %w", path, err)
	}
	return major, nil
}

func syncFolder(folder string) error {
	dir, err := os.Open(folder)
	if err != nil {
		return err
	}
	return errors.Join(dir.Sync(), dir.Close())
}
