package main

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync/atomic"
	"syscall"
	"time"

	"github.com/jackc/pgx/v5"

	"croftmark/bench/rig"
)

// kills ends the service, its database or both with signal 9 at random moments while clients write, and starts again.
func (f *faults) kills(ctx context.Context) error {
	dice := rand.New(rand.NewPCG(f.seed, 1))
	data := f.data("kill")
	service, err := f.program.Serve(ctx, data)
	if err != nil {
		return err
	}
	url, err := service.OwnerURL(ctx)
	if err != nil {
		return err
	}
	farms, err := openFarms(ctx, url, service.Address, 3)
	if err != nil {
		return err
	}
	var address atomic.Pointer[string]
	address.Store(&service.Address)
	w := &writers{farms: farms, address: func() string { return *address.Load() }}
	writing, stop := context.WithCancel(ctx)
	defer stop()
	done := make(chan struct{})
	go func() { defer close(done); w.write(writing, 6, f.seed) }()
	var longest time.Duration
	for round := 1; round <= f.rounds && ctx.Err() == nil; round++ {
		time.Sleep(time.Duration(100+dice.IntN(1500)) * time.Millisecond)
		victim := []string{"service", "database", "both"}[dice.IntN(3)]
		if err := kill(service, victim); err != nil {
			return err
		}
		began := time.Now()
		if service, err = f.again(ctx, data); err != nil {
			return fmt.Errorf("round %d, %s: %w", round, victim, err)
		}
		longest = max(longest, time.Since(began))
		address.Store(&service.Address)
		if err := f.holds(ctx, data, service, w, false); err != nil {
			acked, _ := w.count()
			f.say("kill", fmt.Sprintf("round %d, %s, %d records acknowledged", round, victim, acked), err)
			break
		}
	}
	stop()
	<-done
	err = f.holds(ctx, data, service, w, true)
	acked, again := w.count()
	f.say("kill", fmt.Sprintf("%d rounds of signal 9 to service, database or both under load: %d records acknowledged (%d only at a repeated try), each once in the book; longest start %s",
		f.rounds, acked, again, longest.Round(time.Millisecond)), err)
	return service.Stop()
}

// kill sends signal 9. A service whose database was killed ends by itself.
func kill(service *rig.Service, victim string) error {
	postmaster, err := postmasterOf(service.Data)
	if err != nil {
		return err
	}
	if victim != "service" {
		if err := syscall.Kill(postmaster, syscall.SIGKILL); err != nil {
			return err
		}
	}
	if victim != "database" {
		service.Kill()
		return nil
	}
	return service.Ended(30 * time.Second)
}

func postmasterOf(data string) (int, error) {
	raw, err := os.ReadFile(filepath.Join(data, "postgres", "postmaster.pid"))
	if err != nil {
		return 0, err
	}
	first, _, _ := strings.Cut(string(raw), "\n")
	return strconv.Atoi(first)
}

// again starts the service. The folder may still be held for a moment by what is left of the last one.
func (f *faults) again(ctx context.Context, data string) (service *rig.Service, err error) {
	for range 50 {
		if service, err = f.program.Serve(ctx, data); err == nil {
			return service, nil
		}
		time.Sleep(100 * time.Millisecond)
	}
	return nil, err
}

// holds reads everything beside the running service; at the end also whether a rebuild makes the same tables.
func (f *faults) holds(ctx context.Context, data string, service *rig.Service, w *writers, rebuild bool) error {
	url, err := service.OwnerURL(ctx)
	if err != nil {
		return err
	}
	if err := w.check(ctx, url); err != nil {
		return err
	}
	if _, err := f.program.Run(ctx, "verify", "--data", data); err != nil {
		return err
	}
	if !rebuild {
		return nil
	}
	return f.rebuilds(ctx, url, "--data", data)
}

// rebuilds compares all tables before and after a rebuild from the book. Nobody may write meanwhile.
func (f *faults) rebuilds(ctx context.Context, url string, where ...string) error {
	conn, err := pgx.Connect(ctx, url)
	if err != nil {
		return err
	}
	defer conn.Close(ctx)
	before, err := tables(ctx, conn)
	if err != nil {
		return err
	}
	if _, err := f.program.Run(ctx, append([]string{"rebuild"}, where...)...); err != nil {
		return err
	}
	after, err := tables(ctx, conn)
	if err != nil {
		return err
	}
	var wrong []error
	for name, sum := range before {
		if after[name] != sum {
			wrong = append(wrong, fmt.Errorf("table %s differs after the rebuild", name))
		}
	}
	return errors.Join(wrong...)
}

// tables gives a sum over all rows of every table, whatever their order.
func tables(ctx context.Context, conn *pgx.Conn) (map[string]string, error) {
	rows, err := conn.Query(ctx, `select tablename::text from pg_tables where schemaname = 'public' and tablename not like 'goose%'`)
	if err != nil {
		return nil, err
	}
	names, err := pgx.CollectRows(rows, pgx.RowTo[string])
	if err != nil {
		return nil, err
	}
	out := map[string]string{}
	for _, name := range names {
		var sum string
		if err := conn.QueryRow(ctx, `select count(*) || ' ' || coalesce(md5(string_agg(t::text, chr(10) order by t::text)), '') from `+pgx.Identifier{name}.Sanitize()+` t`).Scan(&sum); err != nil {
			return nil, err
		}
		out[name] = sum
	}
	return out, nil
}
