// Command faults breaks things while farms write, and then reads the books: every acknowledged entry must be there exactly
// once, every book must hold against its hashes, and the tables must be what a rebuild makes of it. It prints one line for
// each fault and ends with status 1 if any promise was broken.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"log"
	"os"
	"os/signal"
	"path/filepath"
	"strings"
	"syscall"
	"time"

	"croftmark/bench/rig"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	if err := run(ctx, os.Args[1:]); err != nil {
		log.Fatal("faults: ", err)
	}
}

// options are what a run can be told.
type options struct {
	folder   string
	rounds   int
	requests int
	long     time.Duration
	only     string
	seed     uint64
}

// faults is one run.
type faults struct {
	options
	program rig.Program
	broken  []error
}

func run(ctx context.Context, args []string) error {
	f := &faults{}
	flags := flag.NewFlagSet("faults", flag.ContinueOnError)
	flags.StringVar(&f.folder, "folder", "", "folder for the data; a temporary one, removed at the end, when left out")
	flags.IntVar(&f.rounds, "rounds", 6, "how often to kill and start again")
	flags.IntVar(&f.requests, "requests", 30, "random requests for each route")
	flags.DurationVar(&f.long, "long", 0, "the most time for random requests; no end when left out")
	flags.StringVar(&f.only, "only", "", "these faults only: kill, cut, copies, standby, flood, random, disk, clock")
	flags.Uint64Var(&f.seed, "seed", uint64(time.Now().UnixNano()), "of the random choices; printed, so that a run can be had again")
	if err := flags.Parse(args); err != nil {
		return err
	}
	var err error
	if f.folder == "" {
		if f.folder, err = os.MkdirTemp("", "croftmark-faults"); err != nil {
			return err
		}
		defer os.RemoveAll(f.folder)
	}
	if err := errors.Join(os.MkdirAll(f.folder, 0o711), os.Chmod(f.folder, 0o711)); err != nil { // the database's account must pass through
		return err
	}
	if f.program, err = rig.Build(ctx, f.folder); err != nil {
		return err
	}
	fmt.Println("seed", f.seed)
	for _, fault := range []struct {
		name string
		do   func(context.Context) error
	}{{"kill", f.kills}, {"cut", f.cuts}, {"copies", f.copies}, {"standby", f.standbys}, {"flood", f.floods}, {"random", f.randomRequests}, {"disk", f.disks}, {"clock", f.clocks}} {
		if f.only != "" && !strings.Contains(f.only, fault.name) {
			continue
		}
		if err := fault.do(ctx); err != nil {
			return fmt.Errorf("%s: %w", fault.name, err)
		}
	}
	return errors.Join(f.broken...)
}

// say tells how a fault went; a broken promise is kept for the end.
func (f *faults) say(fault, told string, err error) {
	verdict := "held"
	if err != nil {
		verdict = "BROKEN"
		f.broken = append(f.broken, fmt.Errorf("%s: %w", fault, err))
	}
	fmt.Printf("%-8s %-6s %s\n", fault, verdict, told)
}

func (f *faults) data(name string) string { return filepath.Join(f.folder, name) }
