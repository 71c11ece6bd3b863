package storage_test

import (
	"bytes"
	"os"
	"strconv"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"croftmark/storage"
	"croftmark/storage/storagetest"
)

// blockEntries is after about how many entries the random farm takes on new ground.
const blockEntries = 500

// A random farm of many entries: rebuilding gives the same tables, the book verifies, and export, restore, export gives
// the same file and the same tables. CROFTMARK_RANDOM_ENTRIES sets how many; the acceptance run is 50000.
func TestRebuildOfALargeRandomBook(t *testing.T) {
	t.Parallel()
	want := int64(600)
	if text := os.Getenv("CROFTMARK_RANDOM_ENTRIES"); text != "" {
		n, err := strconv.ParseInt(text, 10, 64)
		mustBe(t, err)
		want = n
	}
	base := newField(t, storage.Config{})
	began := time.Now()
	h := rapid.Custom(func(r *rapid.T) *history {
		h := newHistory(base, r)
		h.dry = false
		last, since := int64(0), time.Now()
		for n := h.entries(); n < want; n = h.entries() {
			if n >= int64(h.blocks)*blockEntries {
				h.moveOn()
			}
			h.live(50)
			if n-last >= 5000 {
				t.Logf("%d entries by %d records and %d refusals, %.0f entries/s of late", n, h.done, h.no, float64(n-last)/time.Since(since).Seconds())
				last, since = n, time.Now()
			}
		}
		return h
	}).Example(1)
	lived := time.Since(began)
	before := h.dump()
	began = time.Now()
	n, err := h.db.Rebuild(ctx, h.actor.FarmID, nil)
	mustBe(t, err)
	rebuilt := time.Since(began)
	if diff := cmp.Diff(before, h.dump()); n < want || diff != "" {
		t.Fatalf("rebuilt from %d entries (-before +after):\n%.4000s", n, diff)
	}
	began = time.Now()
	_, err = h.db.Verify(ctx, h.actor.FarmID, nil)
	mustBe(t, err)
	verified := time.Since(began)
	first := export(t, h.field)
	owner, service := storagetest.URLs(t)
	other, err := storage.Open(ctx, storage.Config{OwnerURL: owner, ServiceURL: service, Now: h.clock.Now})
	mustBe(t, err)
	t.Cleanup(other.Close)
	began = time.Now()
	_, err = other.Restore(ctx, bytes.NewReader(first), int64(len(first)), nil)
	mustBe(t, err)
	restored := time.Since(began)
	again := &field{t: t, db: other, owner: owner, clock: h.clock, actor: h.actor}
	if diff := cmp.Diff(before, again.dump()); diff != "" {
		t.Errorf("restored tables (-before +after):\n%.4000s", diff)
	}
	if !bytes.Equal(first, export(t, again)) {
		t.Error("export, restore, export is not the same file")
	}
	t.Logf("%d entries written in %s, rebuilt in %s, verified in %s, restored in %s from %d bytes", n, lived.Round(time.Second),
		rebuilt.Round(time.Millisecond), verified.Round(time.Millisecond), restored.Round(time.Millisecond), len(first))
}
