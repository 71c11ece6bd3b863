package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"time"

	"github.com/google/uuid"

	"croftmark/migrations"
	"croftmark/storage"
)

// backups says where copies of the books are laid, how often while the service runs, and how many of each book are kept.
type backups struct {
	dir   string
	every time.Duration
	keep  int
	try   bool
}

func (b *backups) flags(flags *flag.FlagSet, serving bool) {
	flags.IntVar(&b.keep, "keep", 14, "how many copies of each book to keep")
	flags.BoolVar(&b.try, "try", false, "restore each copy into a database made for it, and take that away again")
	if serving {
		flags.StringVar(&b.dir, "backup", "", "folder for copies of the books; none are made when left out")
		flags.DurationVar(&b.every, "backup-every", 24*time.Hour, "how often")
	}
}

// check refuses what would leave no copy or make them without end.
func (b *backups) check(command string) error {
	switch {
	case command == "backup" && b.dir == "":
		return errors.New("name the folder: croftmark backup DIR")
	case b.dir == "":
		return nil
	case b.keep < 1:
		return errors.New("--keep must be 1 or more")
	case command != "backup" && b.every < time.Minute:
		return errors.New("--backup-every must be a minute or more")
	}
	return nil
}

// backup copies every book once, for the command.
func (s settings) backup(ctx context.Context, b backups) error {
	return s.withDatabase(ctx, func(d *database, db *storage.DB) error {
		return s.backupAll(ctx, d.OwnerURL, db, b)
	})
}

// backupOften copies every book at once and then again and again until the service stops. A copy that fails is told in
// the log and tried at the next time; the service goes on.
func (s settings) backupOften(ctx context.Context, ownerURL string, db *storage.DB, b backups) {
	next := time.NewTicker(b.every)
	defer next.Stop()
	for {
		if err := s.backupAll(ctx, ownerURL, db, b); err != nil && ctx.Err() == nil {
			s.log.Error("backup failed", "error", err)
		}
		select {
		case <-ctx.Done():
			return
		case <-next.C:
		}
	}
}

func (s settings) backupAll(ctx context.Context, ownerURL string, db *storage.DB, b backups) error {
	farms, err := storage.FarmIDs(ctx, ownerURL)
	if err != nil {
		return err
	}
	if err := os.MkdirAll(b.dir, 0o700); err != nil {
		return err
	}
	var failed error
	for _, farm := range farms {
		failed = errors.Join(failed, inBook(farm, s.backupOne(ctx, ownerURL, db, farm, b)))
	}
	return failed
}

// backupOne writes one copy, reads it back, and only then takes old ones away.
func (s settings) backupOne(ctx context.Context, ownerURL string, db *storage.DB, farm uuid.UUID, b backups) error {
	path := filepath.Join(b.dir, "book-"+farm.String()+"-"+db.Now().Format("20060102T150405.000000Z")+".zip")
	if _, err := db.ExportFile(ctx, farm, path, s.progress("copied")); err != nil {
		os.Remove(path + storage.PartSuffix) // the next copy has another name and would not go on with this one
		os.Remove(path + storage.MarkSuffix)
		return err
	}
	f, size, err := openFile(path)
	if err != nil {
		return err
	}
	defer f.Close()
	v, err := storage.VerifyExport(f, size, "", s.progress("read back"))
	if err != nil {
		return errors.Join(fmt.Errorf("the copy %s does not hold: %w", path, err), os.Remove(path))
	}
	if b.try {
		if err := s.tryRestore(ctx, ownerURL, f, size, v); err != nil {
			return fmt.Errorf("the copy %s could not be restored: %w", path, err)
		}
	}
	fmt.Fprintf(s.out, "farm %s: %d entries copied to %s, root %s\n", farm, v.Entries, path, v.Root)
	return errors.Join(sweepParts(b.dir, farm), rotate(b.dir, farm, b.keep))
}

// sweepParts takes away what copies that broke off have left. One that grew within the hour may be another program's.
func sweepParts(dir string, farm uuid.UUID) error {
	parts, err := filepath.Glob(filepath.Join(dir, "book-"+farm.String()+"-*Z.zip"+storage.PartSuffix+"*"))
	for _, path := range parts {
		if info, gone := os.Stat(path); gone == nil && time.Since(info.ModTime()) > time.Hour {
			err = errors.Join(err, os.Remove(path))
		}
	}
	return err
}

// rotate takes away all but the newest copies of a book. Files of other names are not ours.
func rotate(dir string, farm uuid.UUID, keep int) error {
	files, err := filepath.Glob(filepath.Join(dir, "book-"+farm.String()+"-*Z.zip"))
	if err != nil {
		return err
	}
	slices.Sort(files) // the name ends with the instant
	var failed error
	for len(files) > keep {
		failed, files = errors.Join(failed, os.Remove(files[0])), files[1:]
	}
	return failed
}

// tryRestore restores a copy into a database made for it beside the others, reads every entry there, and drops it.
func (s settings) tryRestore(ctx context.Context, ownerURL string, f *os.File, size int64, want storage.Verified) error {
	scratch, drop, err := storage.Scratch(ctx, ownerURL)
	if err != nil {
		return err
	}
	return errors.Join(s.restoreInto(ctx, scratch, f, size, want), drop())
}

func (s settings) restoreInto(ctx context.Context, ownerURL string, f *os.File, size int64, want storage.Verified) error {
	if err := migrations.Apply(ctx, ownerURL); err != nil {
		return err
	}
	db, err := storage.Open(ctx, storage.Config{OwnerURL: ownerURL})
	if err != nil {
		return err
	}
	defer db.Close()
	if _, err := db.Restore(ctx, f, size, s.progress("restored for a test")); err != nil {
		return err
	}
	got, err := db.Verify(ctx, want.FarmID, s.progress("verified"))
	if err == nil && got != want {
		err = fmt.Errorf("it came back as %d entries with root %s, not %d with %s", got.Entries, got.Root, want.Entries, want.Root)
	}
	return err
}
