package main

import (
	"context"
	"fmt"
	"net/http"
	"sync"
	"sync/atomic"
	"time"

	"github.com/jackc/pgx/v5"

	"croftmark/bench/rig"
	"croftmark/storage"
)

// manyFarms measures what many farms in one database cost: opening them, writing to all of them in turn, memory,
// connections, and the room that a farm takes.
func (b *bench) manyFarms(ctx context.Context) error {
	data, err := b.data("many")
	if err != nil {
		return err
	}
	service, err := b.program.Serve(ctx, data)
	if err != nil {
		return err
	}
	defer service.Stop()
	url, err := service.OwnerURL(ctx)
	if err != nil {
		return err
	}
	conn, err := pgx.Connect(ctx, url)
	if err != nil {
		return err
	}
	defer conn.Close(ctx)
	empty, err := databaseMB(ctx, conn)
	if err != nil {
		return err
	}
	began := time.Now()
	farms, err := openMany(ctx, url, service.Address, b.many)
	if err != nil {
		return err
	}
	what := fmt.Sprintf("%d farms", b.many)
	b.report.add(what+", opened and laid out, 8 at once", "/s", float64(b.many)/time.Since(began).Seconds(), floor{}, "")
	if _, err := conn.Exec(ctx, "vacuum analyze"); err != nil {
		return err
	}
	full, err := databaseMB(ctx, conn)
	if err != nil {
		return err
	}
	b.report.add(what+", room for one in the database", "kB", (full-empty)*1024/float64(b.many), floor{}, "")
	for _, kind := range []struct {
		name string
		one  func(context.Context, *rig.Farm, int) error
	}{{"application", apply}, {"harvest", cut}, {"today", askToday}} {
		for _, among := range []int{1, b.many} {
			// Every client goes round by a step of its own, so that no two stay on one farm.
			l, err := rig.Drive(ctx, 32, b.long, func(ctx context.Context, client, n int) error {
				return kind.one(ctx, farms[(client*(among/32)+n)%among], n)
			})
			if err != nil {
				return err
			}
			name := fmt.Sprintf("%s, 32 clients, on %d of %s", kind.name, among, what)
			b.report.add(name, "/s", l.PerSecond(), floor{}, "")
			b.report.add(name+", p99", "ms", ms(l.Quantile(0.99)), floor{}, "")
		}
	}
	if err := b.afterMany(ctx, conn, service, what); err != nil {
		return err
	}
	if err := service.Stop(); err != nil {
		return err
	}
	_, err = b.program.Run(ctx, "verify", "--data", data)
	return err
}

// afterMany adds what the service and its database hold after the load.
func (b *bench) afterMany(ctx context.Context, conn *pgx.Conn, service *rig.Service, what string) error {
	memory, err := service.Memory()
	if err != nil {
		return err
	}
	var connections int
	if err := conn.QueryRow(ctx, "select count(*) from pg_stat_activity where backend_type = 'client backend' and pid <> pg_backend_pid()").Scan(&connections); err != nil {
		return err
	}
	b.report.add(what+", memory of the service after the load", "MB", float64(memory.Service)/1024, floor{}, "")
	b.report.add(what+", memory of the database after the load", "MB", float64(memory.Database)/1024, floor{}, "")
	b.report.add(what+", connections to the database", "", float64(connections), floor{}, "")
	return nil
}

func askToday(ctx context.Context, f *rig.Farm, _ int) error {
	return f.Must(ctx, http.MethodGet, "/v1/today", nil, nil)
}

// openMany opens small farms, eight at a time.
func openMany(ctx context.Context, url, address string, count int) ([]*rig.Farm, error) {
	db, err := storage.Open(ctx, storage.Config{OwnerURL: url, MaxConns: 8})
	if err != nil {
		return nil, err
	}
	defer db.Close()
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	client, farms := rig.NewHTTP(), make([]*rig.Farm, count)
	var next atomic.Int64
	var all sync.WaitGroup
	for range 8 {
		all.Go(func() {
			for i := int(next.Add(1)) - 1; i < count && ctx.Err() == nil; i = int(next.Add(1)) - 1 {
				var err error
				if farms[i], err = rig.OpenFarm(ctx, db, address, client, fmt.Sprintf("Sallow Bank %d", i+1), 2, 2); err != nil {
					cancel(err)
				}
			}
		})
	}
	all.Wait()
	return farms, context.Cause(ctx)
}

func databaseMB(ctx context.Context, conn *pgx.Conn) (mb float64, err error) {
	err = conn.QueryRow(ctx, "select pg_database_size(current_database()) / 1048576.0").Scan(&mb)
	return mb, err
}
