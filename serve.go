package main

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"net"
	"net/http"
	"os"
	"runtime/debug"
	"sync"
	"time"

	"croftmark/api"
	"croftmark/migrations"
	"croftmark/storage"
	"croftmark/storage/cluster"
)

// database is where the books are: a private cluster of ours, somebody else's server, or a cluster that another copy of
// the program already runs. What comes after sees two URLs and never knows which it was.
type database struct {
	storage.Config
	cluster *cluster.Cluster
}

// close stops the private cluster, if it is ours.
func (d *database) close() {
	if d.cluster != nil {
		ctx, cancel := context.WithTimeout(context.Background(), 20*time.Second)
		defer cancel()
		d.cluster.Stop(ctx)
	}
}

// ended is closed when the private database ends by itself.
func (d *database) ended() <-chan struct{} {
	if d.cluster != nil {
		return d.cluster.Done()
	}
	return nil
}

// bookFolder is the folder that was given, or the usual one.
func bookFolder(given string) (string, error) {
	if given != "" {
		return given, nil
	}
	return cluster.DefaultDataDir()
}

// openDatabase finds or starts the database and brings it up to date. With beside, a folder that another copy of the
// program holds is used through that copy's server.
func (s settings) openDatabase(ctx context.Context, beside bool) (*database, error) {
	d := &database{Config: storage.Config{Now: s.now}}
	if s.databaseURL != "" {
		d.OwnerURL = s.databaseURL
		return d, migrations.Apply(ctx, d.OwnerURL)
	}
	dir, err := bookFolder(s.dataDir)
	if err != nil {
		return nil, err
	}
	var address cluster.Address
	started, err := cluster.Start(ctx, cluster.Options{DataDir: dir, Durable: true, Log: s.log})
	var inUse *cluster.InUseError
	switch {
	case err == nil:
		d.cluster, address = started, started.Address
	case beside && errors.As(err, &inUse):
		running, err := cluster.Attach(ctx, dir)
		if err != nil {
			return nil, err
		}
		address = *running
	default:
		return nil, err
	}
	d.OwnerURL, d.ServiceURL = address.OwnerURL(cluster.Database), address.ServiceURL(cluster.Database)
	if err := migrations.Apply(ctx, d.OwnerURL); err != nil {
		d.close()
		return nil, err
	}
	return d, nil
}

// running is a service that answers.
type running struct {
	address  string
	ownerURL string
	db       *storage.DB
}

// usualMemory is how much memory the service tries to stay within: a year of a logger's readings in one file would take twice
// that otherwise, and old laptops have little. It is no hard end; GOMEMLIMIT in the environment says otherwise.
const usualMemory = 256 << 20

func boundMemory() {
	if os.Getenv("GOMEMLIMIT") == "" {
		debug.SetMemoryLimit(usualMemory)
	}
}

// serve runs the service until it is told to stop. ready, if given, is called once it answers.
func (s settings) serve(ctx context.Context, ready func(context.Context, running) error) error {
	boundMemory()
	if err := s.phones.check(); err != nil {
		return err
	}
	sender, err := s.letters.open()
	if err != nil {
		return err
	}
	d, err := s.openDatabase(ctx, false)
	if err != nil {
		return err
	}
	defer d.close()
	db, err := storage.Open(ctx, d.Config)
	if err != nil {
		return err
	}
	defer db.Close()
	listener, err := net.Listen("tcp", s.listen)
	if err != nil {
		return fmt.Errorf("can't listen on %s: %w", s.listen, err)
	}
	address := "http://" + listener.Addr().String()
	public := s.publicURL
	if public == "" {
		public = address
	}
	code, err := firstFarmCode(ctx, d.OwnerURL, ready != nil)
	if err != nil {
		return err
	}
	config := api.Config{PublicURL: public, Version: version, Log: s.log, TrustedProxies: s.proxies, FirstFarmCode: code, Letters: sender,
		FirstFarmTaken: func(ctx context.Context) (bool, error) { return anyFarm(ctx, d.OwnerURL) }}
	if s.phones.listen != "" {
		if err := s.phones.open(s.dataDir, s.out); err != nil {
			return err
		}
		config.PhoneApp, config.PhoneTrust = s.phones.app, s.phones.trust
		if s.publicURL == "" {
			config.PublicURL = s.phones.app()
		}
	}
	book := api.New(db, config)
	server := book.HTTPServer()
	fmt.Fprintln(s.out, "listening on", address)
	if code != "" {
		fmt.Fprintf(s.out, "no farm is here yet; open one at %s/app/first#%s\n", address, code)
	}
	failed := make(chan error, 3)
	go func() { failed <- server.Serve(listener) }()
	if s.phones.listener != nil {
		secure := book.HTTPServer()
		secure.Handler = s.phones.handler(secure.Handler)
		fmt.Fprintln(s.out, "phones at", s.phones.app())
		if trust := s.phones.trust(); trust != "" {
			fmt.Fprintf(s.out, "to trust it on a phone, open %s and compare: %s\n", trust, s.phones.authority.fingerprint())
		}
		go func() { failed <- secure.Serve(s.phones.listener) }()
		if s.phones.public.given() {
			go s.phones.public.fetch(ctx, s.out)
		}
		defer func() { shutdown(secure) }()
	}
	if s.backups.dir != "" {
		copies, stop := context.WithCancel(ctx)
		var copying sync.WaitGroup
		copying.Go(func() { s.backupOften(copies, d.OwnerURL, db, s.backups) })
		defer copying.Wait() // before the database closes
		defer stop()
	}
	stopLetters, err := s.sendDaily(db, sender)
	if err != nil {
		return errors.Join(err, shutdown(server))
	}
	defer stopLetters()
	if ready != nil {
		go func() {
			if err := ready(ctx, running{address, d.OwnerURL, db}); err != nil {
				failed <- err
			}
		}()
	}
	select {
	case <-ctx.Done():
		err = nil
	case err = <-failed:
	case <-d.ended():
		err = errors.New("the database has ended; start again, nothing that was answered is lost")
	}
	return errors.Join(err, shutdown(server))
}

// firstFarmCode makes the code that opens the first farm from a browser. Where there is a farm, or one is on its way from
// the demo, there is none.
func firstFarmCode(ctx context.Context, ownerURL string, filled bool) (string, error) {
	if filled {
		return "", nil
	}
	if there, err := anyFarm(ctx, ownerURL); err != nil || there {
		return "", err
	}
	return rand.Text(), nil
}

func anyFarm(ctx context.Context, ownerURL string) (bool, error) {
	farms, err := storage.FarmIDs(ctx, ownerURL)
	return len(farms) > 0, err
}

// shutdown lets requests that are under way finish.
func shutdown(server *http.Server) error {
	ctx, cancel := context.WithTimeout(context.Background(), 15*time.Second)
	defer cancel()
	return server.Shutdown(ctx)
}
