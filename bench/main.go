// Command bench measures the service as a farm meets it, over HTTP and in its commands, and prints each figure beside a
// floor that was measured in the same run: what the machine, PostgreSQL or the drawing library need for the same work
// without us. Figures of different runs are not to be compared; ratios are.
package main

import (
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"log"
	"os"
	"os/signal"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"time"

	"croftmark/bench/rig"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	if err := run(ctx, os.Args[1:]); err != nil {
		log.Fatal("bench: ", err)
	}
}

// options are what a run can be told.
type options struct {
	folder string        // where data folders go
	kept   string        // where restored books are kept for the next run; empty when they are not
	books  []int         // sizes of the books, in entries
	long   time.Duration // of each measurement under load
	farms  int
	many   int
	only   string
	json   string
}

func readOptions(args []string) (o options, err error) {
	flags := flag.NewFlagSet("bench", flag.ContinueOnError)
	flags.StringVar(&o.folder, "folder", "", "folder for the data; a temporary one, removed at the end, when left out")
	flags.StringVar(&o.kept, "keep", "", "folder to keep restored books in; a later run measures copies of them")
	books := flags.String("books", "10k,100k", "sizes of the books in entries, for example 10k,100k,1m,5m")
	flags.DurationVar(&o.long, "long", 4*time.Second, "how long each measurement under load takes")
	flags.IntVar(&o.farms, "farms", 50, "number of farms that are written to at once")
	flags.IntVar(&o.many, "many", 200, "number of farms of the part many; 1000 for the long form")
	flags.StringVar(&o.only, "only", "", "measure these parts only: labels, writes, many, books")
	flags.StringVar(&o.json, "json", "", "file for the figures as JSON")
	if err := flags.Parse(args); err != nil {
		return o, err
	}
	for _, text := range strings.Split(*books, ",") {
		n, err := readSize(text)
		if err != nil {
			return o, err
		}
		o.books = append(o.books, n)
	}
	return o, nil
}

// readSize reads 500, 10k or 1m.
func readSize(text string) (int, error) {
	times := 1
	for suffix, factor := range map[string]int{"k": 1000, "m": 1000_000} {
		if rest, ok := strings.CutSuffix(strings.ToLower(text), suffix); ok {
			text, times = rest, factor
		}
	}
	n, err := strconv.Atoi(text)
	if err != nil || n*times < smallestBook {
		return 0, fmt.Errorf("%q is no size of a book; the smallest is %d entries", text, smallestBook)
	}
	return n * times, nil
}

// bench is one run.
type bench struct {
	options
	program rig.Program
	report  report
}

func run(ctx context.Context, args []string) error {
	o, err := readOptions(args)
	if err != nil {
		return err
	}
	if o.folder == "" {
		if o.folder, err = os.MkdirTemp("", "croftmark-bench"); err != nil {
			return err
		}
		defer os.RemoveAll(o.folder)
		if err := os.Chmod(o.folder, 0o711); err != nil { // the database's account must pass through
			return err
		}
	}
	for _, folder := range []string{o.folder, o.kept} {
		if folder == "" {
			continue
		}
		if err := os.MkdirAll(folder, 0o711); err != nil { // the database's account must pass through
			return err
		}
	}
	b := &bench{options: o, report: newReport()}
	if b.program, err = rig.Build(ctx, o.folder); err != nil {
		return err
	}
	for _, part := range []struct {
		name string
		do   func(context.Context) error
	}{{"labels", b.labels}, {"writes", b.writes}, {"many", b.manyFarms}, {"books", b.measureBooks}} {
		if o.only != "" && !strings.Contains(o.only, part.name) {
			continue
		}
		log.Println("measuring", part.name)
		if err := part.do(ctx); err != nil {
			return fmt.Errorf("%s: %w", part.name, err)
		}
	}
	b.report.table(os.Stdout)
	return b.keep()
}

// keep writes the figures as JSON, if asked to.
func (b *bench) keep() error {
	if b.json == "" {
		return nil
	}
	raw, err := json.MarshalIndent(b.report, "", "  ")
	if err != nil {
		return err
	}
	return os.WriteFile(b.json, append(raw, '\n'), 0o644)
}

// data gives an empty data folder.
func (b *bench) data(name string) (string, error) {
	folder := filepath.Join(b.folder, name)
	return folder, os.RemoveAll(folder)
}
