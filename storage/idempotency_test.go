package storage_test

import (
	"reflect"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/google/uuid"

	"croftmark/domain"
	"croftmark/storage"
)

func TestSameRequestIsWrittenOnce(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	mark := &domain.RequestMark{Key: "key:a", Hash: "one"}
	crop := func() *domain.Crop { return &domain.Crop{Name: "chard", SoilContact: domain.Touches} }
	first, err := f.db.Record(ctx, f.actor, mark, crop())
	if err != nil || first.Replayed {
		t.Fatal(err)
	}
	before := f.entries()
	again, err := f.db.Record(ctx, f.actor, mark, crop())
	if err != nil || !again.Replayed || again.ID != first.ID || again.Seq != first.Seq {
		t.Errorf("the same again: %+v (%v), want the first answer", again.Record, err)
	}
	var a, b domain.Crop
	decode(t, first.Body, &a)
	decode(t, again.Body, &b)
	if !reflect.DeepEqual(a, b) {
		t.Errorf("first body %+v, replayed %+v", a, b)
	}
	_, err = f.db.Record(ctx, f.actor, &domain.RequestMark{Key: "key:a", Hash: "other"}, crop())
	wantCode(t, err, domain.CodeIDReused)
	if n := f.entries(); n != before {
		t.Errorf("%d entries, had %d", n, before)
	}
	// The key is the farm's own: a neighbour may use the same.
	g := f.neighbour()
	if out, err := g.db.Record(ctx, g.actor, mark, crop()); err != nil || out.Replayed {
		t.Errorf("the neighbour's first: %v, replayed %t", err, out.Replayed)
	}
	// A later correction does not change what the first answer was.
	f.correct("crop", first.ID, `{"name": "swiss chard"}`)
	again, err = f.db.Record(ctx, f.actor, mark, crop())
	decode(t, again.Body, &b)
	if err != nil || b.Name != "chard" {
		t.Errorf("replayed after a correction: %q (%v), want the first answer", b.Name, err)
	}
}

func TestSameRequestAtOnce(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{MaxConns: 16})
	for round := range 10 {
		id := uuid.Must(uuid.NewV7())
		mark := &domain.RequestMark{Key: "id:" + id.String(), Hash: "h"}
		before := f.entries()
		var written, replayed atomic.Int32
		var group sync.WaitGroup
		start := make(chan struct{})
		for range 12 {
			group.Go(func() {
				<-start
				out, err := f.db.Record(ctx, f.actor, mark, &domain.Crop{ID: id, Name: "chard", SoilContact: domain.Touches})
				switch {
				case err != nil:
					t.Errorf("round %d: %v", round, err)
				case out.Replayed:
					replayed.Add(1)
				default:
					written.Add(1)
				}
			})
		}
		close(start)
		group.Wait()
		if written.Load() != 1 || replayed.Load() != 11 || f.entries() != before+1 {
			t.Errorf("round %d: written %d times, replayed %d, %d new entries", round, written.Load(), replayed.Load(), f.entries()-before)
		}
	}
}

func TestChangesAreWrittenOnce(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	a := f.spread(f.manure, "2026-04-01", "2026-04-10", f.bed)
	lead := f.person("Lee", domain.Lead)
	for _, c := range []struct {
		name string
		act  func(*domain.RequestMark) (storage.Outcome, error)
	}{
		{"correction", func(m *domain.RequestMark) (storage.Outcome, error) {
			return f.db.Correct(ctx, f.actor, m, "application", a, "a slip", []byte(`{"note": "north"}`))
		}},
		{"review", func(m *domain.RequestMark) (storage.Outcome, error) {
			return f.db.Review(ctx, lead, m, "application", a, "")
		}},
		{"void", func(m *domain.RequestMark) (storage.Outcome, error) {
			return f.db.Void(ctx, f.actor, m, "application", a, "a slip")
		}},
	} {
		mark := &domain.RequestMark{Key: "key:" + c.name, Hash: "h"}
		first, err := c.act(mark)
		if err != nil || first.Replayed {
			t.Fatalf("%s: %v", c.name, err)
		}
		before := f.entries()
		again, err := c.act(mark)
		if err != nil || !again.Replayed || again.ID != a || f.entries() != before {
			t.Errorf("%s again: %v, replayed %t, %d new entries", c.name, err, again.Replayed, f.entries()-before)
		}
		_, err = c.act(&domain.RequestMark{Key: mark.Key, Hash: "other"})
		wantCode(t, err, domain.CodeIDReused)
	}
}

// A refused attempt is kept once for each answer, and does not use up the id: when the day has come it is a harvest.
func TestRefusedAttemptIsKeptOnce(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	f.spread(f.manure, "2026-04-01", "2026-04-10", f.bed)
	radish := f.plant("radish", domain.Touches, "2026-05-01", f.bed)
	lot := f.lot(radish, "2026-08-07", f.bed)
	lot.ID = uuid.Must(uuid.NewV7())
	mark := &domain.RequestMark{Key: "id:" + lot.ID.String(), Hash: "h"}
	for range 3 {
		_, err := f.db.Record(ctx, f.actor, mark, lot)
		refused(t, err)
	}
	refusals := func() int {
		list, err := f.db.Records(ctx, f.actor.FarmID, "harvest-refused", storage.Page{Limit: 10})
		if err != nil {
			t.Fatal(err)
		}
		return len(list)
	}
	if n := refusals(); n != 1 {
		t.Errorf("%d refused attempts, want 1", n)
	}
	f.spread(f.manure, "2026-04-20", "2026-04-20", f.bed) // now it is refused until another day
	_, err := f.db.Record(ctx, f.actor, mark, lot)
	refused(t, err)
	if n := refusals(); n != 2 {
		t.Errorf("%d refused attempts after the answer changed, want 2", n)
	}
	f.correct("planting", radish, `{"soil_contact": "clear", "reason": "on strings"}`)
	if out, err := f.db.Record(ctx, f.actor, mark, lot); err != nil || out.Replayed || out.ID != lot.ID {
		t.Errorf("once it is clear: %v, replayed %t", err, out.Replayed)
	}
}
