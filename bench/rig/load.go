package rig

import (
	"context"
	"errors"
	"slices"
	"sync"
	"time"
)

// Load is what a number of clients got done.
type Load struct {
	Took  time.Duration
	Times []time.Duration // of each request, sorted
}

// PerSecond is the rate of all clients together.
func (l Load) PerSecond() float64 { return float64(len(l.Times)) / l.Took.Seconds() }

// Quantile gives the time that a share of the requests did not exceed (nearest rank).
func (l Load) Quantile(share float64) time.Duration {
	if len(l.Times) == 0 {
		return 0
	}
	return l.Times[min(int(share*float64(len(l.Times))), len(l.Times)-1)]
}

// Drive lets clients do one thing after another, each by itself, until the time is up. The first error ends it.
func Drive(ctx context.Context, clients int, long time.Duration, one func(ctx context.Context, client, n int) error) (Load, error) {
	ctx, cancel := context.WithCancelCause(ctx)
	defer cancel(nil)
	times := make([][]time.Duration, clients)
	began := time.Now()
	var all sync.WaitGroup
	for c := range clients {
		all.Go(func() {
			for n := 0; ctx.Err() == nil && time.Since(began) < long; n++ {
				start := time.Now()
				if err := one(ctx, c, n); err != nil {
					cancel(err)
					return
				}
				times[c] = append(times[c], time.Since(start))
			}
		})
	}
	all.Wait()
	l := Load{Took: time.Since(began), Times: slices.Concat(times...)}
	slices.Sort(l.Times)
	if cause := context.Cause(ctx); cause != nil && !errors.Is(cause, context.Canceled) {
		return l, cause
	}
	return l, ctx.Err()
}

// Repeat does one thing a number of times, one after the other.
func Repeat(ctx context.Context, times int, one func(ctx context.Context, n int) error) (Load, error) {
	l := Load{}
	began := time.Now()
	for n := range times {
		start := time.Now()
		if err := one(ctx, n); err != nil {
			return l, err
		}
		l.Times = append(l.Times, time.Since(start))
	}
	l.Took = time.Since(began)
	slices.Sort(l.Times)
	return l, nil
}
