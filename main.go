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
	"net"
	"os"
	"os/signal"
	"strings"
	"syscall"
	"time"
	_ "time/tzdata" // the farm's zone must be known on a machine without a zone database

	"golang.org/x/crypto/acme/autocert"
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

  croftmark serve   [--data DIR] [--database-url URL] [--listen ADDR] [--public-url URL] [--trusted-proxy NET]...
                    [--https ADDR [--tls-cert FILE --tls-key FILE | --acme NAME]]   for phones: camera and days without signal
                    [--backup DIR [--backup-every 24h] [--keep 14] [--try]]
                    [--smtp URL --mail-from ADDR [--smtp-password-file FILE]] [--webhook-private]   for daily messages
  croftmark demo    [--data DIR] [--listen ADDR]   the demo farm, in a folder of its own
  croftmark init    --farm NAME --time-zone ZONE --owner NAME [--standard SET]...
  croftmark verify  [FILE] [--key KEY]   every entry against its hashes: of the books here, or of an export
  croftmark verify  --tables             and the tables against the books
  croftmark rebuild the tables from the book
  croftmark export  FILE [--farm ID]     the whole book as one open file
  croftmark backup  DIR [--keep 14] [--try]   a copy of every book, read back; --try restores it for a test
  croftmark restore FILE                 a book into a database that does not hold it
  croftmark trace   CODE [--farm ID]
  croftmark token   --person NAME [--farm ID] [--role ROLE] [--expires DAY]   a fresh token, printed once

All take --data DIR (a private PostgreSQL in that folder) or --database-url URL (a server of yours).
`

// settings are what the commands share.
type settings struct {
	dataDir     string
	databaseURL string
	listen      string
	publicURL   string
	proxies     []*net.IPNet
	phones      phones // the address for phones, if there is one
	backups     backups
	letters     letters
	tables      bool // verify looks at the tables too
	out         io.Writer
	now         func() time.Time // the book's clock; the system's when nil
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
	return s.command(ctx, flags, args[0], args[1:])
}

// command reads the flags of one command and runs it. The one word that some commands take may stand before or after the
// flags.
func (s *settings) command(ctx context.Context, flags *flag.FlagSet, command string, args []string) error {
	word := ""
	if len(args) > 0 && args[0] != "" && args[0][0] != '-' {
		word, args = args[0], args[1:]
	}
	var o opening
	var whose tokenFor
	var farm, key string
	words := 0
	switch command {
	case "serve", "demo":
		s.backups.flags(flags, true)
		s.letters.flags(flags)
		flags.StringVar(&s.listen, "listen", "127.0.0.1:8080", "address to listen on")
		flags.StringVar(&s.publicURL, "public-url", os.Getenv("CROFTMARK_PUBLIC_URL"), "beginning of links on labels")
		flags.Func("trusted-proxy", "network of a proxy, as 10.0.0.0/8, that says truly from where a request came; one on this machine needs none", func(text string) error {
			_, network, err := net.ParseCIDR(text)
			s.proxies = append(s.proxies, network)
			return err
		})
		flags.StringVar(&s.phones.listen, "https", "", "address to serve phones on with https, for example :8443; with a certificate authority of the farm's own, the two files below, or a public name")
		flags.StringVar(&s.phones.cert, "tls-cert", "", "file of a certificate for --https, with its chain (PEM)")
		flags.StringVar(&s.phones.key, "tls-key", "", "file of its key (PEM)")
		flags.StringVar(&s.phones.public.name, "acme", "", "name of the internet that leads to --https on port 443; its certificate comes by itself, by the terms of the authority")
		flags.StringVar(&s.phones.public.directory, "acme-directory", autocert.DefaultACMEDirectory, "the authority's ACME directory")
		flags.StringVar(&s.phones.public.email, "acme-email", "", "where the authority may write about the certificate")
	case "init":
		o.flags(flags)
	case "verify":
		words = 1
		flags.StringVar(&key, "key", "", "public key that a paper of the farm carries")
		flags.BoolVar(&s.tables, "tables", false, "hold the tables to the book as well; writers wait meanwhile")
	case "backup":
		words = 1
		s.backups.flags(flags, false)
	case "trace", "export", "restore", "token":
		words = 1
		flags.StringVar(&farm, "farm", "", "farm id or key, where there are several")
		if command == "token" {
			words = 0
			whose.flags(flags)
		}
	}
	if err := flags.Parse(args); err != nil {
		return err
	}
	rest := flags.Args()
	if word == "" && len(rest) > 0 {
		word, rest = rest[0], rest[1:]
	}
	if len(rest) > 0 || (word != "" && words == 0 && command != "help") {
		return fmt.Errorf("%q is one word too many", strings.Join(append(rest, word)[:1], ""))
	}
	if command == "token" {
		return s.token(ctx, farm, whose)
	}
	if command == "backup" {
		s.backups.dir = word
	}
	if err := s.backups.check(command); err != nil {
		return err
	}
	return s.do(ctx, command, word, farm, key, o)
}

func (s *settings) do(ctx context.Context, command, word, farm, key string, o opening) error {
	switch command {
	case "serve":
		return s.serve(ctx, nil)
	case "demo":
		return s.demo(ctx)
	case "init":
		return s.init(ctx, o)
	case "verify":
		if word != "" {
			return s.verifyFile(word, key)
		}
		return s.eachBook(ctx, command)
	case "rebuild":
		return s.eachBook(ctx, command)
	case "backup":
		return s.backup(ctx, s.backups)
	case "trace":
		return s.trace(ctx, word, farm)
	case "export", "restore":
		if word == "" {
			return fmt.Errorf("name the file: croftmark %s FILE", command)
		}
		if command == "export" {
			return s.export(ctx, word, farm)
		}
		return s.restore(ctx, word)
	case "help", "-h", "--help":
		fmt.Fprint(s.out, usage)
		return nil
	}
	return fmt.Errorf("there is no command %q; croftmark help lists them", command)
}
