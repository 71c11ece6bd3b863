// Package cluster runs Croftmark's private PostgreSQL server as a child process.
//
// A farm should not have to run a database. Start finds the PostgreSQL programs of the
// machine, makes a cluster in the data folder the first time, starts the server on a
// socket that only this machine's owner can reach, and takes it down again with Stop. The
// server shares neither port nor folder with any other PostgreSQL of the machine.
//
// The data folder holds:
//
//	lock          held with flock by the one Croftmark that uses the folder; names its process
//	postgres      the PostgreSQL data folder, only ever renamed into place when complete
//	postgres.new  the same while it is being made; safe to throw away
//	postgres.log  what the server has to say
//
// Whatever is killed, and in which order, the next Start recovers: an orphaned server is
// stopped first, a half-made cluster is made again, and every acknowledged row is kept.
package cluster

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"time"
)

// Options says which cluster to start and how careful it has to be.
type Options struct {
	// DataDir is the folder that holds everything; it is made when it is missing.
	DataDir string
	// Durable makes every commit reach the disk and adds checksums to the pages. Only
	// tests, whose rows nobody will miss, may leave it off.
	Durable bool
	// Log receives a few lines about starting and stopping; nil drops them.
	Log *slog.Logger
}

// Cluster is a running server that belongs to this process.
type Cluster struct {
	Address
	process *os.Process
	ended   <-chan struct{}
	lock    *lock
}

// site is what Start has found out about the folder, the account and the programs.
type site struct {
	folder   string
	account  account
	programs programs
	durable  bool
	log      *slog.Logger
}

func (s site) data() string  { return filepath.Join(s.folder, "postgres") }
func (s site) fresh() string { return filepath.Join(s.folder, "postgres.new") }

// Start brings up the cluster in o.DataDir and returns once it accepts connections; ctx
// limits the start only, not the life of the server. It returns an *InUseError when
// another Croftmark holds the folder and wraps ErrMissing when PostgreSQL is not
// installed.
func Start(ctx context.Context, o Options) (*Cluster, error) {
	folder, err := openFolder(o.DataDir)
	if err != nil {
		return nil, err
	}
	held, err := acquire(folder)
	if err != nil {
		return nil, err
	}
	c, err := startLocked(ctx, folder, o)
	if err != nil {
		return nil, errors.Join(err, held.release())
	}
	c.lock = held
	return c, nil
}

func startLocked(ctx context.Context, folder string, o Options) (*Cluster, error) {
	began := time.Now()
	s, err := survey(folder, o)
	if err != nil {
		return nil, err
	}
	if err := s.prepare(ctx); err != nil {
		return nil, err
	}
	if err := s.clearPIDFile(ctx); err != nil {
		return nil, err
	}
	socket, err := s.makeSocketFolder()
	if err != nil {
		return nil, err
	}
	if err := s.writeAccessRules(); err != nil {
		return nil, err
	}
	c, err := s.startServer(ctx, Address{socket: socket})
	if err != nil {
		return nil, err
	}
	s.log.Info("database is ready", "folder", folder, "postgresql", s.programs.major, "took", time.Since(began))
	return c, nil
}

// survey settles which account and which programs run the server, and that the account
// can reach the folder.
func survey(folder string, o Options) (site, error) {
	s := site{folder: folder, durable: o.Durable, log: o.Log}
	if s.log == nil {
		s.log = slog.New(slog.DiscardHandler)
	}
	var err error
	if s.account, err = serverAccount(s.data(), folder); err != nil {
		return site{}, err
	}
	major, err := s.dataMajor()
	if err != nil {
		return site{}, err
	}
	if s.programs, err = systemSearch().find(major); err != nil {
		return site{}, err
	}
	if err := s.checkReachable(folder); err != nil {
		return site{}, err
	}
	return s, s.account.own(filepath.Join(folder, "lock"))
}

// sharedMemoryPatience is how long a start waits for backends that outlived a killed
// server; PostgreSQL rightly refuses to start beside them.
const sharedMemoryPatience = 30 * time.Second

func (s site) startServer(ctx context.Context, at Address) (*Cluster, error) {
	began := time.Now()
	for {
		c, err := s.tryServer(ctx, at)
		if !errors.Is(err, errBackendsRemain) || time.Since(began) > sharedMemoryPatience {
			return c, err
		}
		s.log.Warn("waiting for the last processes of a killed database server", "folder", s.folder)
		if err := pause(ctx, 100*time.Millisecond); err != nil {
			return nil, err
		}
	}
}

func (s site) tryServer(ctx context.Context, at Address) (*Cluster, error) {
	log, err := s.openLog()
	if err != nil {
		return nil, err
	}
	// The server has its own copy of the open file.
	defer log.Close()
	cmd := exec.Command(s.programs.postgres(), s.serverArgs(at.socket)...)
	s.account.dress(cmd, syscall.SIGINT)
	cmd.Stdout, cmd.Stderr = log, log
	logged, err := log.Seek(0, io.SeekEnd)
	if err != nil {
		return nil, fmt.Errorf("read the database log: %w", err)
	}
	ended, err := launch(cmd)
	if err != nil {
		return nil, fmt.Errorf("start the database: %w", err)
	}
	c := &Cluster{Address: at, process: cmd.Process, ended: ended}
	if err := s.waitReady(ctx, c, logged); err != nil {
		// ctx may be what ended the wait; stopping needs time of its own.
		stop, cancel := context.WithTimeout(context.WithoutCancel(ctx), 10*time.Second)
		defer cancel()
		return nil, errors.Join(err, c.stopServer(stop))
	}
	return c, nil
}

// waitReady has no limit of its own: replaying the log of a crash takes as long as it
// takes, and giving up half-way would only start it again.
func (s site) waitReady(ctx context.Context, c *Cluster, logged int64) error {
	for !serverReady(s.data(), c.process.Pid) {
		select {
		case <-c.ended:
			return s.startFailure(logged)
		case <-ctx.Done():
			return fmt.Errorf("the database in %s was not ready in time: %w", s.folder, ctx.Err())
		case <-time.After(5 * time.Millisecond):
		}
	}
	return c.ping(ctx)
}

// Stop asks the server for a fast shutdown, waits for it and frees the folder. When ctx
// ends first the server is made to stop at once, which loses no committed row but makes
// the next start recover. Stop may be called again, and after the server has ended.
func (c *Cluster) Stop(ctx context.Context) error {
	err := c.stopServer(ctx)
	// Best effort: the folder is empty now, and the next start makes it again.
	_ = os.Remove(c.socket)
	return errors.Join(err, c.lock.release())
}

func (c *Cluster) stopServer(ctx context.Context) error {
	c.signal(syscall.SIGINT)
	select {
	case <-c.ended:
		return nil
	case <-ctx.Done():
	}
	c.signal(syscall.SIGQUIT)
	select {
	case <-c.ended:
	case <-time.After(10 * time.Second):
		c.signal(syscall.SIGKILL)
		<-c.ended
	}
	return fmt.Errorf("the database did not stop in time and was stopped at once; it will recover at the next start: %w", ctx.Err())
}

// signal ignores a server that has already ended, the only way it can be refused.
func (c *Cluster) signal(s syscall.Signal) { _ = c.process.Signal(s) }

// Done is closed when the server has ended. Before Stop was called, that means it died
// on its own and Croftmark cannot go on.
func (c *Cluster) Done() <-chan struct{} { return c.ended }

// pause waits for d, or returns the error of ctx when that ends first.
func pause(ctx context.Context, d time.Duration) error {
	select {
	case <-ctx.Done():
		return ctx.Err()
	case <-time.After(d):
		return nil
	}
}
