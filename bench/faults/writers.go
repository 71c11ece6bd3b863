package main

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"math/rand/v2"
	"net/http"
	"sync"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"croftmark/bench/rig"
	"croftmark/storage"
)

// writers are clients that write records with ids of their own and send each until it is acknowledged, as the phone does.
type writers struct {
	farms   []*rig.Farm
	address func() string // where to send next

	mu    sync.Mutex
	acked map[string]int // how often a record's id was acknowledged as new
	again int            // acknowledgements of a record that had been written before
	times []time.Time    // of the acknowledgements
	odd   error          // an answer that may not be
}

// openFarms opens farms on a running service.
func openFarms(ctx context.Context, ownerURL, address string, count int) ([]*rig.Farm, error) {
	db, err := storage.Open(ctx, storage.Config{OwnerURL: ownerURL})
	if err != nil {
		return nil, err
	}
	defer db.Close()
	farms := make([]*rig.Farm, count)
	for i := range farms {
		if farms[i], err = rig.OpenFarm(ctx, db, address, rig.NewHTTP(), fmt.Sprintf("Gorse End %d", i+1), 4, 4); err != nil {
			return nil, err
		}
		farms[i].HTTP.Timeout = 20 * time.Second
	}
	return farms, nil
}

// write runs clients until ctx ends. A client whose answer does not come sends the same record again, for ever.
func (w *writers) write(ctx context.Context, clients int, seed uint64) {
	var all sync.WaitGroup
	for c := range clients {
		all.Go(func() {
			dice := rand.New(rand.NewPCG(seed, uint64(c)))
			for ctx.Err() == nil {
				w.one(ctx, w.farms[dice.IntN(len(w.farms))], dice)
			}
		})
	}
	all.Wait()
}

// one writes one record, as often as it takes.
func (w *writers) one(ctx context.Context, farm *rig.Farm, dice *rand.Rand) {
	path, body := "/v1/applications", farm.Application(dice.IntN(100), dice.IntN(100))
	if dice.IntN(3) == 0 {
		path, body = "/v1/harvest-lots", farm.Harvest(dice.IntN(100))
	}
	id := uuid.Must(uuid.NewV7()).String()
	body["id"] = id
	for ctx.Err() == nil {
		client := farm.Client
		client.Address = w.address()
		a, err := client.Send(ctx, http.MethodPost, path, body)
		switch {
		case err != nil || a.Status == http.StatusServiceUnavailable:
			if err == nil && a.Header.Get("Retry-After") == "" {
				w.strange(fmt.Errorf("%s answered 503 without saying when to come again: %.300s", path, a.Body))
			}
			time.Sleep(20 * time.Millisecond)
			continue
		case a.Status == http.StatusCreated || a.Status == http.StatusOK:
			w.note(id, a.Status == http.StatusOK)
		default:
			w.note(id, false)
			w.strange(fmt.Errorf("%s answered %d: %.300s", path, a.Status, a.Body))
		}
		return
	}
}

func (w *writers) note(id string, before bool) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.acked == nil {
		w.acked = map[string]int{}
	}
	w.acked[id]++
	w.times = append(w.times, time.Now())
	if before {
		w.again++
	}
}

func (w *writers) strange(err error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.odd == nil {
		w.odd = err
	}
}

// check reads the books behind the service's back: every acknowledged record has exactly one entry, and nothing was
// answered that may not be.
func (w *writers) check(ctx context.Context, ownerURL string) error {
	w.mu.Lock()
	acked, odd := maps.Clone(w.acked), w.odd
	w.mu.Unlock()
	if odd != nil {
		return odd
	}
	conn, err := pgx.Connect(ctx, ownerURL)
	if err != nil {
		return err
	}
	defer conn.Close(ctx)
	rows, err := conn.Query(ctx, `select record_id::text, count(*) from book_entries where kind in ('application', 'harvest-lot') group by 1`)
	if err != nil {
		return err
	}
	written := map[string]int{}
	var id string
	var n int
	if _, err := pgx.ForEachRow(rows, []any{&id, &n}, func() error { written[id] = n; return nil }); err != nil {
		return err
	}
	for id := range acked {
		if written[id] != 1 {
			return fmt.Errorf("record %s was acknowledged and has %d entries", id, written[id])
		}
	}
	return nil
}

// count gives how many records were acknowledged, and how many of them only at a repeated try.
func (w *writers) count() (acked, again int) {
	w.mu.Lock()
	defer w.mu.Unlock()
	return len(w.acked), w.again
}

// silence gives how long nothing was acknowledged after a moment.
func (w *writers) silence(from time.Time) (time.Duration, error) {
	w.mu.Lock()
	defer w.mu.Unlock()
	for _, at := range w.times { // in order
		if at.After(from) {
			return at.Sub(from), nil
		}
	}
	return 0, errors.New("nothing was acknowledged any more")
}
