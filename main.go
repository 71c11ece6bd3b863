// Croftmark is the record book of a small produce farm: what went on the ground, what may be cut today, which crate came
// from which bed, and who got it.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"log/slog"
	"os"
	"os/signal"
	"syscall"
	_ "time/tzdata" // the farm's zone must be known on a machine without a zone database
)

// version is set when a release is built.
var version = "dev"

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	err := run(ctx, os.Args[1:], os.Stdout, os.Stderr)
	stop()
	if err != nil {
		fmt.Fprintln(os.Stderr, "croftmark:", err)
		os.Exit(1)
	}
}

const usage = `croftmark keeps the record book of a small produce farm.

  croftmark serve   [--data DIR] [--database-url URL] [--listen ADDR] [--public-url URL]
  croftmark demo    [--data DIR] [--listen ADDR]
  croftmark init    --farm NAME --time-zone ZONE --owner NAME [--standard SET]...
  croftmark verify  every entry of every book, against its hashes
  croftmark rebuild the tables from the book
  croftmark trace   CODE [--farm ID]

All take --data DIR (a private PostgreSQL in that folder) or --database-url URL (a server of yours).
`

// settings are what the commands share.
type settings struct {
	dataDir     string
	databaseURL string
	listen      string
	publicURL   string
	out         io.Writer
	log         *slog.Logger
}

// run is the whole program; main only turns its error into an exit status.
func run(ctx context.Context, args []string, stdout, stderr io.Writer) error {
	if len(args) == 0 {
		fmt.Fprint(stderr, usage)
		return errors.New("say what to do")
	}
	s := settings{out: stdout, log: slog.New(slog.NewJSONHandler(stderr, nil))}
	slog.SetDefault(s.log)
	flags := flag.NewFlagSet(args[0], flag.ContinueOnError)
	flags.SetOutput(stderr)
	flags.Usage = func() { fmt.Fprint(stderr, usage) }
	flags.StringVar(&s.dataDir, "data", "", "data folder")
	flags.StringVar(&s.databaseURL, "database-url", os.Getenv("CROFTMARK_DATABASE_URL"), "PostgreSQL to use instead of a private one")
	switch command := args[0]; command {
	case "serve", "demo":
		flags.StringVar(&s.listen, "listen", "127.0.0.1:8080", "address to listen on")
		flags.StringVar(&s.publicURL, "public-url", os.Getenv("CROFTMARK_PUBLIC_URL"), "beginning of links on labels")
		if err := parse(flags, args[1:], 0); err != nil {
			return err
		}
		if command == "demo" {
			return s.demo(ctx)
		}
		return s.serve(ctx, nil)
	case "init":
		var o opening
		o.flags(flags)
		if err := parse(flags, args[1:], 0); err != nil {
			return err
		}
		return s.init(ctx, o)
	case "verify", "rebuild":
		if err := parse(flags, args[1:], 0); err != nil {
			return err
		}
		return s.eachBook(ctx, command)
	case "trace":
		farm := flags.String("farm", "", "farm id, where there are several")
		code := ""
		if len(args) > 1 && args[1] != "" && args[1][0] != '-' {
			code, args = args[1], args[1:]
		}
		if err := parse(flags, args[1:], 1); err != nil {
			return err
		}
		if code == "" {
			code = flags.Arg(0)
		}
		return s.trace(ctx, code, *farm)
	case "help", "-h", "--help":
		fmt.Fprint(stdout, usage)
		return nil
	default:
		fmt.Fprint(stderr, usage)
		return fmt.Errorf("there is no command %q", command)
	}
}

// parse reads flags and refuses words that nothing would look at.
func parse(flags *flag.FlagSet, args []string, most int) error {
	if err := flags.Parse(args); err != nil {
		return err
	}
	if flags.NArg() > most {
		return fmt.Errorf("%q is one word too many", flags.Arg(most))
	}
	return nil
}
