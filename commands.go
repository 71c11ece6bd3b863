package main

import (
	"context"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"os"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"croftmark/domain"
	"croftmark/storage"
)

// opening is what init needs to begin a book.
type opening struct {
	farm, zone, owner, initials string
	standards                   []string
}

func (o *opening) flags(flags *flag.FlagSet) {
	flags.StringVar(&o.farm, "farm", "", "name of the farm")
	flags.StringVar(&o.zone, "time-zone", "", "for example America/New_York")
	flags.StringVar(&o.owner, "owner", "", "name of the owner")
	flags.StringVar(&o.initials, "initials", "", "initials of the owner; made from the name when left out")
	flags.Func("standard", "rule set the farm answers to, SET or SET=YYYY-MM-DD; may be given several times", func(s string) error {
		o.standards = append(o.standards, s)
		return nil
	})
}

// adopted reads SET or SET=DATE; a set without a day holds from the day it came into force.
func adopted(text string) (domain.AdoptedStandard, error) {
	id, day, dated := strings.Cut(text, "=")
	set, ok := domain.RuleSetByID(id)
	if !ok {
		var names []string
		for _, s := range domain.RuleSets() {
			if _, adoptable := domain.RuleSetByID(s.ID); adoptable {
				names = append(names, s.ID)
			}
		}
		return domain.AdoptedStandard{}, fmt.Errorf("there is no rule set %q; there are: %s", id, strings.Join(names, ", "))
	}
	if !dated {
		return domain.AdoptedStandard{Set: id, From: set.From}, nil
	}
	from, err := domain.ParseDate(day)
	return domain.AdoptedStandard{Set: id, From: from}, err
}

func initialsOf(name string) string {
	var out []rune
	for _, word := range strings.Fields(name) {
		out = append(out, []rune(word)[0])
	}
	return strings.ToUpper(string(out[:min(len(out), 6)]))
}

// init opens a farm and prints one line of JSON: farm_id, person_id, token.
func (s settings) init(ctx context.Context, o opening) error {
	farm := &domain.Farm{Name: o.farm, TimeZone: o.zone}
	for _, text := range o.standards {
		standard, err := adopted(text)
		if err != nil {
			return err
		}
		farm.Standards = append(farm.Standards, standard)
	}
	if o.initials == "" {
		o.initials = initialsOf(o.owner)
	}
	return s.withDatabase(ctx, func(_ *database, db *storage.DB) error {
		opened, err := db.OpenFarm(ctx, farm, &domain.Person{Name: o.owner, Initials: o.initials})
		if err != nil {
			return err
		}
		return json.NewEncoder(s.out).Encode(opened)
	})
}

// withDatabase runs fn with an open database, also beside a running service.
func (s settings) withDatabase(ctx context.Context, fn func(*database, *storage.DB) error) error {
	d, err := s.openDatabase(ctx, true)
	if err != nil {
		return err
	}
	defer d.close()
	db, err := storage.Open(ctx, d.Config)
	if err != nil {
		return err
	}
	defer db.Close()
	return fn(d, db)
}

// farmOf gives the one farm of the database, or the one named by its id or its key.
func farmOf(ctx context.Context, d *database, db *storage.DB, named string) (uuid.UUID, error) {
	if _, err := uuid.Parse(named); err != nil && named != "" {
		return db.FarmByKey(ctx, strings.ToUpper(named))
	}
	farms, err := storage.FarmIDs(ctx, d.OwnerURL)
	if err != nil {
		return uuid.Nil, err
	}
	var ids []string
	for _, id := range farms {
		if named == id.String() || (named == "" && len(farms) == 1) {
			return id, nil
		}
		ids = append(ids, id.String())
	}
	return uuid.Nil, fmt.Errorf("say which farm with --farm ID; there are: %s", strings.Join(ids, ", "))
}

// export writes a book into a file. One that broke off is gone on with.
func (s settings) export(ctx context.Context, path, farm string) error {
	return s.withDatabase(ctx, func(d *database, db *storage.DB) error {
		id, err := farmOf(ctx, d, db, farm)
		if err != nil {
			return err
		}
		made, err := db.ExportFile(ctx, id, path, s.progress("exported"))
		if made.Anew != "" {
			s.log.Warn("the export began anew: an earlier one broke off and could not be gone on with", "why", made.Anew)
		}
		if made.WentOnFrom > 0 {
			s.log.Info("an export that broke off was gone on with", "entries", made.Size, "whole_bytes", made.WentOnFrom)
		}
		if err != nil {
			return err
		}
		fmt.Fprintf(s.out, "farm %s: %d entries exported to %s, root %s\n", id, made.Size, path, made.Root)
		return nil
	})
}

// progress tells on the error stream how far a long command is: after its first second, and then once a second.
func (s settings) progress(verb string) func(done, total int64) {
	told := time.Now()
	return func(done, total int64) {
		if time.Since(told) < time.Second {
			return
		}
		told = time.Now()
		s.log.Info(verb, "entries", done, "of", total)
	}
}

// restore reads an export into the database.
func (s settings) restore(ctx context.Context, path string) error {
	f, size, err := openFile(path)
	if err != nil {
		return err
	}
	defer f.Close()
	return s.withDatabase(ctx, func(d *database, db *storage.DB) error {
		v, err := db.Restore(ctx, f, size, s.progress("restored"))
		if err != nil {
			return err
		}
		fmt.Fprintf(s.out, "farm %s: %d entries restored, root %s\n", v.FarmID, v.Entries, v.Root)
		fmt.Fprintf(s.out, "no token came with it; make one with: croftmark token --farm %s --role owner\n", v.FarmID)
		return storage.Analyze(ctx, d.OwnerURL)
	})
}

// verifyFile reads an export without any database.
func (s settings) verifyFile(path, key string) error {
	f, size, err := openFile(path)
	if err != nil {
		return err
	}
	defer f.Close()
	v, err := storage.VerifyExport(f, size, key, s.progress("verified"))
	if err != nil {
		return err
	}
	fmt.Fprintf(s.out, "farm %s: %d entries hold, root %s\n", v.FarmID, v.Entries, v.Root)
	return nil
}

func openFile(path string) (*os.File, int64, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, 0, err
	}
	info, err := f.Stat()
	if err != nil {
		return nil, 0, errors.Join(err, f.Close())
	}
	return f, info.Size(), nil
}

// eachBook verifies or rebuilds every book of the database. It goes through all of them before it says that one failed.
func (s settings) eachBook(ctx context.Context, command string) error {
	return s.withDatabase(ctx, func(d *database, db *storage.DB) error {
		farms, err := storage.FarmIDs(ctx, d.OwnerURL)
		if err != nil {
			return err
		}
		var failed error
		for _, farm := range farms {
			if command == "rebuild" {
				n, err := db.Rebuild(ctx, farm, s.progress("rebuilt"))
				if err == nil {
					fmt.Fprintf(s.out, "farm %s: tables rebuilt from %d entries\n", farm, n)
				}
				failed = errors.Join(failed, inBook(farm, err))
				continue
			}
			v, err := db.Verify(ctx, farm, s.progress("verified"))
			if err == nil {
				fmt.Fprintf(s.out, "farm %s: %d entries hold, root %s\n", farm, v.Entries, v.Root)
				err = s.checkTables(ctx, db, farm)
			}
			failed = errors.Join(failed, inBook(farm, err))
		}
		if command == "rebuild" {
			failed = errors.Join(failed, storage.Analyze(ctx, d.OwnerURL))
		}
		return failed
	})
}

// checkTables holds a farm's tables to its book, if that was asked for.
func (s settings) checkTables(ctx context.Context, db *storage.DB, farm uuid.UUID) error {
	if !s.tables {
		return nil
	}
	rows, err := db.CheckTables(ctx, farm, s.progress("compared"))
	if err == nil {
		fmt.Fprintf(s.out, "farm %s: %d rows of the tables are what the book gives\n", farm, rows)
	}
	return err
}

func inBook(farm uuid.UUID, err error) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf("farm %s: %w", farm, err)
}

// trace prints where a lot came from and where it went, for each farm here that has the code.
func (s settings) trace(ctx context.Context, text, farm string) error {
	code, err := domain.ParseCode(text)
	if err != nil {
		return err
	}
	return s.withDatabase(ctx, func(d *database, db *storage.DB) error {
		farms, err := storage.FarmIDs(ctx, d.OwnerURL)
		if err != nil {
			return err
		}
		found := false
		for _, id := range farms {
			if farm != "" && farm != id.String() {
				continue
			}
			err := s.traceIn(db, storage.Reading{Ctx: ctx, Farm: id}, code)
			var notHere *domain.Error
			if errors.As(err, &notHere) && notHere.Code == domain.CodeNotFound {
				continue
			}
			if err != nil {
				return err
			}
			found = true
		}
		if !found {
			return domain.NotFound("lot", code.Text)
		}
		return nil
	})
}

// traceIn prints the two trees of a lot of one farm.
func (s settings) traceIn(db *storage.DB, r storage.Reading, code domain.TraceCode) error {
	back, err := db.TraceBack(r, code.Lot)
	if err != nil {
		return err
	}
	forward, err := db.TraceFrom(r, domain.TraceStart{Lot: code.Lot}, true)
	if err != nil {
		return err
	}
	_, farm, err := db.Today(r)
	if err != nil {
		return err
	}
	// Lots that stand in the first tree are not told again as possible contact of the second.
	forward.Possible = slices.DeleteFunc(forward.Possible, func(c domain.TraceContact) bool {
		return slices.ContainsFunc(back.Nodes, func(n domain.TraceNode) bool { return n.ID == c.LotID })
	})
	fmt.Fprintln(s.out, farm.Name)
	if code.Crate > 0 {
		fmt.Fprintf(s.out, "%s is crate %d of lot %s. What holds for the lot holds for the crate.\n", code.Text, code.Crate, code.Lot)
	}
	fmt.Fprintf(s.out, "\nWhere it came from:\n%s\nWhere the lot went:\n%s", back.Tree(), forward.Tree())
	return nil
}
