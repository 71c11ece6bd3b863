package main

import (
	"context"
	"fmt"
	"net/http"
	"time"

	"github.com/jackc/pgx/v5"

	"croftmark/bench/rig"
	"croftmark/storage"
)

// writeTargets say what share of the floor the service should reach, by clients and farms.
func writeTarget(clients int, oneFarm bool) string {
	switch {
	case clients == 1:
		return "≥ 0.6"
	case clients == 32 && !oneFarm:
		return "≥ 0.5"
	}
	return ""
}

// writes measures durable writes through HTTP against PostgreSQL committing the same rows.
func (b *bench) writes(ctx context.Context) error {
	data, err := b.data("writes")
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
	if err := conn.QueryRow(ctx, "select 'PostgreSQL ' || current_setting('server_version')").Scan(&b.report.Machine.PostgreSQL); err != nil {
		return err
	}
	rest, err := service.Memory()
	if err != nil {
		return err
	}
	b.report.add("memory at rest, service", "MB", float64(rest.Service)/1024, floor{}, "≤ 80 MB")
	b.report.add("memory at rest, its database", "MB", float64(rest.Database)/1024, floor{}, "")
	farms, err := b.openFarms(ctx, url, service.Address)
	if err != nil {
		return err
	}
	// What autovacuum would have done within a minute.
	if _, err := conn.Exec(ctx, "vacuum analyze"); err != nil {
		return err
	}
	for _, kind := range []string{"application", "harvest"} {
		if err := b.writeKind(ctx, conn, service, url, kind, farms); err != nil {
			return fmt.Errorf("%s: %w", kind, err)
		}
	}
	loaded, err := service.Memory()
	if err != nil {
		return err
	}
	b.report.add("memory after the load of 32 clients, service", "MB", float64(loaded.Service)/1024, floor{}, "")
	if err := service.Stop(); err != nil {
		return err
	}
	_, err = b.program.Run(ctx, "verify", "--data", data)
	return err
}

// openFarms opens the farms that are written to. The first has room for the load of all clients.
func (b *bench) openFarms(ctx context.Context, url, address string) ([]*rig.Farm, error) {
	db, err := storage.Open(ctx, storage.Config{OwnerURL: url})
	if err != nil {
		return nil, err
	}
	defer db.Close()
	client := rig.NewHTTP()
	farms := make([]*rig.Farm, b.farms)
	for i := range farms {
		// No delivery is spread hundreds of times: what is left of it is summed up at each write.
		deliveries := 10
		if i == 0 {
			deliveries = 200
		}
		if farms[i], err = rig.OpenFarm(ctx, db, address, client, fmt.Sprintf("Sallow Bank %d", i+1), 8, deliveries); err != nil {
			return nil, err
		}
	}
	return farms, nil
}

func (b *bench) writeKind(ctx context.Context, conn *pgx.Conn, service *rig.Service, url, kind string, farms []*rig.Farm) error {
	one := map[string]func(context.Context, *rig.Farm, int) error{"application": apply, "harvest": cut}[kind]
	if err := one(ctx, farms[0], 0); err != nil { // the row that the floor copies
		return err
	}
	statement, err := makeFloor(ctx, conn, kind, farms[0].ID.String())
	if err != nil {
		return err
	}
	for _, among := range []int{1, len(farms)} {
		for _, clients := range []int{1, 8, 32} {
			if among > 1 && clients == 1 {
				continue // one client writes to one farm at a time, whichever
			}
			under, err := commits(ctx, url, statement, b.folder, clients, b.long)
			if err != nil {
				return err
			}
			before, err := service.Processor()
			if err != nil {
				return err
			}
			l, err := rig.Drive(ctx, clients, b.long, func(ctx context.Context, client, n int) error {
				return one(ctx, farms[(client+n*clients)%among], client+n*clients)
			})
			if err != nil {
				return err
			}
			after, err := service.Processor()
			if err != nil {
				return err
			}
			what := fmt.Sprintf("%s, %d clients, %d farms", kind, clients, among)
			b.report.add(what, "/s", l.PerSecond(), under, writeTarget(clients, among == 1))
			b.report.add(what+", p50", "ms", ms(l.Quantile(0.5)), floor{}, "")
			b.report.add(what+", p99", "ms", ms(l.Quantile(0.99)), floor{}, "")
			spent, each := after.Since(before), time.Duration(max(len(l.Times), 1))
			b.report.add(what+", processor time of the service", "ms", ms(spent.Service/each), floor{}, "")
			b.report.add(what+", processor time of the database", "ms", ms(spent.Database/each), floor{}, "")
		}
	}
	return nil
}

func apply(ctx context.Context, f *rig.Farm, n int) error {
	return f.Must(ctx, http.MethodPost, "/v1/applications", f.Application(n, n), nil)
}

func cut(ctx context.Context, f *rig.Farm, n int) error {
	return f.Must(ctx, http.MethodPost, "/v1/harvest-lots", f.Harvest(n), nil)
}
