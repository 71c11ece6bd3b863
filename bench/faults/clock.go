package main

import (
	"context"
	"fmt"
	"time"

	"croftmark/bench/rig"
	"croftmark/domain"
	"croftmark/migrations"
	"croftmark/storage"
)

// jumps are how far the clock is off while entries are written.
var jumps = []time.Duration{0, -72 * time.Hour, time.Hour, 10 * 365 * 24 * time.Hour, -time.Hour, -20 * 365 * 24 * time.Hour, 0}

// clocks writes while the clock jumps. The machine's own clock is left alone: it belongs to others too; the book's clock is
// set instead, which is all that the write door asks.
func (f *faults) clocks(ctx context.Context) error {
	c, url, err := f.ownDatabase(ctx, "clock")
	if err != nil {
		return err
	}
	defer c.Stop(context.WithoutCancel(ctx))
	if err := migrations.Apply(ctx, url); err != nil {
		return err
	}
	off := time.Duration(0)
	db, err := storage.Open(ctx, storage.Config{OwnerURL: url, Now: func() time.Time { return time.Now().Add(off) }})
	if err != nil {
		return err
	}
	defer db.Close()
	opened, err := db.OpenFarm(ctx, &domain.Farm{Name: "Gorse End", TimeZone: "America/New_York", Standards: rig.Standards()}, &domain.Person{Name: "Vesper Inglenook", Initials: "VI"})
	if err != nil {
		return err
	}
	actor := storage.Actor{FarmID: opened.FarmID, PersonID: opened.PersonID, Role: domain.Owner}
	wrote := 0
	for i, jump := range jumps {
		off = jump
		for n := range 20 {
			if _, err := db.Record(ctx, actor, nil, &domain.Plot{Name: fmt.Sprintf("Plot %d.%d", i, n), History: "known"}); err != nil {
				return fmt.Errorf("with the clock off by %s: %w", jump, err)
			}
			wrote++
		}
	}
	v, err := db.Verify(ctx, opened.FarmID, nil)
	if err == nil && v.Entries != int64(wrote+2) {
		err = fmt.Errorf("%d entries for %d records", v.Entries, wrote)
	}
	if err == nil {
		err = f.rebuilds(ctx, url, "--database-url", url)
	}
	f.say("clock", fmt.Sprintf("%d records written while the book's clock jumped by hours and years both ways: numbers without gaps, hashes hold, rebuild agrees", wrote), err)
	return nil
}
