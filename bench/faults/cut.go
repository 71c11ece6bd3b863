package main

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"sync"
	"sync/atomic"
	"time"

	"croftmark/bench/rig"
	"croftmark/storage/cluster"
)

// proxy stands between a service and its database and cuts connections around a commit: before the database hears of
// it, or after, when the answer is on its way. Only the second leaves the service not knowing whether it wrote.
type proxy struct {
	to            string // the database's socket
	mu            sync.Mutex
	dice          *rand.Rand
	before, after atomic.Int64
}

// cutEvery is how many commits go through for one that does not.
const cutEvery = 20

func (p *proxy) serve(l net.Listener) {
	for {
		in, err := l.Accept()
		if err != nil {
			return // closed at the end
		}
		out, err := net.Dial("unix", p.to)
		if err != nil {
			in.Close()
			continue
		}
		go p.questions(in, out)
		go func() {
			io.Copy(in, out) // ends with either side
			in.Close()
		}()
	}
}

// questions passes on what the service says.
func (p *proxy) questions(in, out net.Conn) {
	defer in.Close()
	defer out.Close()
	buffer := make([]byte, 1<<16)
	for {
		n, err := in.Read(buffer)
		if err != nil {
			return
		}
		cut := 0
		if bytes.Contains(buffer[:n], []byte("commit\x00")) {
			cut = p.choose()
		}
		if cut == 1 {
			p.before.Add(1)
			return
		}
		if cut == 2 {
			in.Close() // nobody hears the answer
			p.after.Add(1)
		}
		if _, err := out.Write(buffer[:n]); err != nil || cut == 2 {
			time.Sleep(5 * time.Millisecond) // the commit is on its way; let it arrive
			return
		}
	}
}

func (p *proxy) choose() int {
	p.mu.Lock()
	defer p.mu.Unlock()
	if n := p.dice.IntN(2 * cutEvery); n < 2 {
		return n + 1
	}
	return 0
}

// ownDatabase runs a private database by itself, so that services can be put on it as on somebody else's server.
func (f *faults) ownDatabase(ctx context.Context, name string) (*cluster.Cluster, string, error) {
	c, err := cluster.Start(ctx, cluster.Options{DataDir: f.data(name), Durable: true})
	if err != nil {
		return nil, "", err
	}
	return c, c.OwnerURL(cluster.Database), nil
}

// through gives the address of a database by way of another socket.
func through(databaseURL, folder string) (string, string, error) {
	u, err := url.Parse(databaseURL)
	if err != nil {
		return "", "", err
	}
	q := u.Query()
	socket := filepath.Join(q.Get("host"), ".s.PGSQL."+q.Get("port"))
	q.Set("host", folder)
	u.RawQuery = q.Encode()
	return u.String(), socket, nil
}

func (f *faults) cuts(ctx context.Context) error {
	c, direct, err := f.ownDatabase(ctx, "cut")
	if err != nil {
		return err
	}
	defer c.Stop(context.WithoutCancel(ctx))
	folder, err := os.MkdirTemp("", "cut") // a socket's path must be short
	if err != nil {
		return err
	}
	defer os.RemoveAll(folder)
	cutURL, socket, err := through(direct, folder)
	if err != nil {
		return err
	}
	l, err := net.Listen("unix", filepath.Join(folder, filepath.Base(socket)))
	if err != nil {
		return err
	}
	defer l.Close()
	calm, err := f.program.ServeOn(ctx, direct, f.data("calm.log"))
	if err != nil {
		return err
	}
	farms, err := openFarms(ctx, direct, calm.Address, 3)
	if err != nil {
		return err
	}
	if err := calm.Stop(); err != nil {
		return err
	}
	p := &proxy{to: socket, dice: rand.New(rand.NewPCG(f.seed, 2))}
	go p.serve(l)
	service, err := f.serveThroughCuts(ctx, cutURL)
	if err != nil {
		return err
	}
	defer service.Stop()
	w := &writers{farms: farms, address: func() string { return service.Address }}
	writing, stop := context.WithTimeout(ctx, 10*time.Second)
	w.write(writing, 6, f.seed)
	stop()
	err = f.whole(ctx, direct, w)
	acked, again := w.count()
	f.say("cut", fmt.Sprintf("connection cut around the commit, %d times before and %d times after the database heard it: %d records acknowledged, %d of them at a repeated try, each once in the book",
		p.before.Load(), p.after.Load(), acked, again), err)
	return nil
}

// serveThroughCuts starts the service; the start itself may be cut as well.
func (f *faults) serveThroughCuts(ctx context.Context, url string) (service *rig.Service, err error) {
	for range 20 {
		if service, err = f.program.ServeOn(ctx, url, f.data("cut.log")); err == nil {
			return service, nil
		}
	}
	return nil, err
}

// whole checks what was acknowledged, the hashes, and that a rebuild makes the same tables.
func (f *faults) whole(ctx context.Context, url string, w *writers) error {
	if err := w.check(ctx, url); err != nil {
		return err
	}
	if _, err := f.program.Run(ctx, "verify", "--database-url", url); err != nil {
		return err
	}
	return f.rebuilds(ctx, url, "--database-url", url)
}

// copies runs two services on one database and kills one of them while clients write through both.
func (f *faults) copies(ctx context.Context) error {
	c, url, err := f.ownDatabase(ctx, "copies")
	if err != nil {
		return err
	}
	defer c.Stop(context.WithoutCancel(ctx))
	// Both at once, and the database is empty: one makes the tables, the other waits for it.
	var services [2]*rig.Service
	var failed [2]error
	var starting sync.WaitGroup
	for i := range services {
		starting.Go(func() { services[i], failed[i] = f.program.ServeOn(ctx, url, f.data(fmt.Sprintf("copy%d.log", i))) })
	}
	starting.Wait()
	if err := errors.Join(failed[:]...); err != nil {
		f.say("copies", "two services started at once on an empty database", err)
		return nil
	}
	defer services[1].Stop()
	farms, err := openFarms(ctx, url, services[0].Address, 3)
	if err != nil {
		return err
	}
	if err := sharedSignIns(ctx, farms[0], services[0].Address, services[1].Address); err != nil {
		f.say("copies", "tokens and sessions of one copy at the other", err)
	}
	var turn atomic.Int64
	w := &writers{farms: farms, address: func() string { return services[turn.Add(1)%2].Address }}
	writing, stop := context.WithTimeout(ctx, 8*time.Second)
	defer stop()
	time.AfterFunc(4*time.Second, services[0].Kill)
	w.write(writing, 8, f.seed)
	err = f.whole(ctx, url, w)
	acked, again := w.count()
	f.say("copies", fmt.Sprintf("two services started at once on one empty database, clients take turns, one service killed half-way: %d records acknowledged, %d of them at a repeated try, each once in the book", acked, again), err)
	return nil
}

// sharedSignIns makes a token at one copy, uses it at the other, ends it there, and finds it ended at the first.
func sharedSignIns(ctx context.Context, farm *rig.Farm, one, other string) error {
	here, there := farm.Client, farm.Client
	here.Address, there.Address = one, other
	var token struct{ ID, Token string }
	if err := here.Must(ctx, http.MethodPost, "/v1/tokens", rig.Record{"person_id": farm.Owner, "label": "phone"}, &token); err != nil {
		return err
	}
	there.Token = token.Token
	if err := there.Must(ctx, http.MethodGet, "/v1/me", nil, nil); err != nil {
		return err
	}
	if err := there.Must(ctx, http.MethodPost, "/v1/tokens/"+token.ID+"/revoke", rig.Record{}, nil); err != nil {
		return err
	}
	here.Token = token.Token
	a, err := here.Send(ctx, http.MethodGet, "/v1/me", nil)
	if err == nil && a.Status != http.StatusUnauthorized {
		err = fmt.Errorf("a token that was ended at one copy was answered %d at the other", a.Status)
	}
	return err
}
