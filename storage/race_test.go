package storage_test

import (
	"errors"
	"fmt"
	"slices"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/google/uuid"

	"croftmark/domain"
	"croftmark/storage"
)

// One client writes down raw manure on a bed while another cuts it. Whatever order they come in, there is never an
// unflagged lot: the harvest is refused, or the lot is there, judged anew and held.
func TestManureRacesHarvest(t *testing.T) {
	t.Parallel()
	const farms, rounds = 4, 250 // of each farm
	first := newField(t, storage.Config{MaxConns: 16})
	var refusals, flagged atomic.Int32
	var group sync.WaitGroup
	for n := range farms {
		f := first
		if n > 0 {
			f = first.neighbour()
		}
		r := newRacing(f, rounds)
		group.Go(func() {
			for i := range rounds {
				switch r.round(i) {
				case "refused":
					refusals.Add(1)
				case "flagged":
					flagged.Add(1)
				}
			}
			if _, err := f.db.Verify(ctx, f.actor.FarmID, nil); err != nil {
				t.Error(err)
			}
		})
	}
	group.Wait()
	if refusals.Load()+flagged.Load() != farms*rounds {
		t.Errorf("%d refused and %d flagged of %d rounds", refusals.Load(), flagged.Load(), farms*rounds)
	}
	if refusals.Load() < farms*rounds/50 || flagged.Load() < farms*rounds/50 {
		t.Errorf("%d refused, %d flagged: one order hardly occurred, so this was no race", refusals.Load(), flagged.Load())
	}
	t.Logf("%d rounds: manure first %d, harvest first %d", farms*rounds, refusals.Load(), flagged.Load())
}

// racing is a farm with a planted bed for each round.
type racing struct {
	*field
	beds, plantings []uuid.UUID
}

func newRacing(f *field, rounds int) *racing {
	r := &racing{field: f, beds: f.manyBeds(rounds)}
	crop := f.write(&domain.Crop{Name: "lettuce", SoilContact: domain.Touches})
	for part := range slices.Chunk(r.beds, 125) {
		planting := f.write(&domain.Planting{CropID: crop, BedIDs: part, PlantedOn: day("2026-04-01")})
		for range part {
			r.plantings = append(r.plantings, planting)
		}
	}
	return r
}

// manyBeds lays beds of the plot, 150 at a time.
func (f *field) manyBeds(n int) (beds []uuid.UUID) {
	f.t.Helper()
	for len(beds) < n {
		l := f.layout("2026-01-01", nil)
		for i := len(beds); i < min(n, len(beds)+150); i++ {
			l.Lay = append(l.Lay, domain.LaidBed{Name: fmt.Sprint("Row ", i)})
		}
		f.write(l)
		for _, b := range l.Lay {
			beds = append(beds, b.ID)
		}
	}
	return beds
}

// round lets both clients go at once and says what came of it; a lot that nobody was warned about fails the test.
func (r *racing) round(i int) string {
	bed := r.beds[i]
	lot := r.lot(r.plantings[i], "2026-06-01", bed)
	start := make(chan struct{})
	var clients sync.WaitGroup
	var cut, spread error
	var out storage.Outcome
	clients.Go(func() {
		<-start
		_, cut = r.record(lot)
	})
	clients.Go(func() {
		<-start
		out, spread = r.record(r.application(r.manure, "2026-05-20", "2026-05-21", bed))
	})
	close(start)
	clients.Wait()
	if spread != nil {
		r.t.Errorf("manure: %v", spread)
		return ""
	}
	var refusal *domain.Error
	if errors.As(cut, &refusal) && refusal.Code == domain.CodeHarvestRefused {
		if len(out.Rejudged) != 0 {
			r.t.Errorf("round %d: refused, and yet the manure reached %+v", i, out.Rejudged)
		}
		return "refused"
	}
	if cut != nil {
		r.t.Errorf("harvest: %v", cut)
		return ""
	}
	got, err := r.db.LotByCode(r.reading(), lot.Code)
	if err != nil {
		r.t.Error(err)
		return ""
	}
	if !got.VerdictNow.Verdict.Refuses() || !got.Held {
		r.t.Errorf("round %d: lot %s was cut on manured ground and is judged %s, held %t", i, lot.Code, got.VerdictNow.Verdict, got.Held)
		return ""
	}
	if len(out.Rejudged) != 1 || out.Rejudged[0].LotID != lot.ID {
		r.t.Errorf("round %d: the lot is flagged, and the writer of the manure was told of %+v", i, out.Rejudged)
	}
	return "flagged"
}
