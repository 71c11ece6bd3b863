package storage_test

import (
	"encoding/hex"
	"fmt"
	"strings"
	"testing"

	"github.com/google/uuid"
	"golang.org/x/mod/sumdb/tlog"

	"croftmark/domain"
	"croftmark/storage"
)

// memory is the tree as golang.org/x/mod/sumdb/tlog keeps it, all hashes in one list.
type memory []tlog.Hash

func (m memory) ReadHashes(indexes []int64) ([]tlog.Hash, error) {
	var out []tlog.Hash
	for _, i := range indexes {
		out = append(out, m[i])
	}
	return out, nil
}

func (m *memory) add(t testing.TB, n int64, leaf []byte) {
	t.Helper()
	hashes, err := tlog.StoredHashes(n, leaf, m)
	if err != nil {
		t.Fatal(err)
	}
	*m = append(*m, hashes...)
}

// The root kept with a book equals the tree hash over its entries, for every length from 0 to 200.
func TestCheckpointsEqualTheTreeInMemory(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	empty := uuid.Must(uuid.NewV7())
	f.asOwner(`insert into book_heads (farm_id, farm_key, seq, frontier) values ($1, 'EMPTY', 0, '')`, empty)
	zero, err := f.db.Checkpoint(ctx, empty)
	if err != nil {
		t.Fatal(err)
	}
	roots := map[int64]string{0: zero.Root}
	for size := f.entries(); ; {
		c, err := f.db.Checkpoint(ctx, f.actor.FarmID)
		if err != nil {
			t.Fatal(err)
		}
		roots[size] = c.Root
		if size == 200 {
			break
		}
		f.write(&domain.Crop{Name: fmt.Sprint("crop ", size), SoilContact: domain.Touches})
		size++
	}
	list, err := f.db.Entries(ctx, f.actor.FarmID, 0, 500)
	if err != nil || len(list) != 200 {
		t.Fatalf("%d entries (%v)", len(list), err)
	}
	var tree memory
	edge := storage.NewEdge()
	compared := 0
	for n := int64(0); n <= 200; n++ {
		want, err := tlog.TreeHash(n, tree)
		if err != nil {
			t.Fatal(err)
		}
		got, err := edge.Root()
		if err != nil || got != want {
			t.Fatalf("edge of %d entries: %s (%v), want %s", n, got, err, want)
		}
		if root, ok := roots[n]; ok {
			compared++
			if root != want.String() {
				t.Fatalf("checkpoint of %d entries: %s, want %s", n, root, want)
			}
		}
		if again, err := storage.ReadEdge(n, edge.Pack()); err != nil || string(again.Pack()) != string(edge.Pack()) {
			t.Fatalf("edge of %d entries does not survive packing: %v", n, err)
		}
		if n == 200 {
			break
		}
		leaf, err := list[n].Canonical()
		if err != nil {
			t.Fatal(err)
		}
		tree.add(t, n, leaf)
		if _, err := edge.Append(leaf); err != nil {
			t.Fatal(err)
		}
	}
	if compared < 196 { // a farm's book begins with two entries, and the field of the test has six
		t.Errorf("only %d checkpoints compared", compared)
	}
}

func TestEveryEntryHasAProof(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	for n := f.entries(); n < 130; n++ {
		f.write(&domain.Crop{Name: fmt.Sprint("crop ", n), SoilContact: domain.Touches})
	}
	now, err := f.db.Checkpoint(ctx, f.actor.FarmID)
	if err != nil {
		t.Fatal(err)
	}
	for seq := int64(1); seq <= 130; seq++ {
		p, err := f.db.Proof(ctx, f.actor.FarmID, seq)
		if err != nil {
			t.Fatal(err)
		}
		if p.Checkpoint != now || p.Entry != seq {
			t.Fatalf("proof of entry %d is for %+v at %+v", seq, p.Entry, p.Checkpoint)
		}
		root, err := tlog.ParseHash(p.Checkpoint.Root)
		if err != nil {
			t.Fatal(err)
		}
		var proof tlog.RecordProof
		for _, s := range p.Hashes {
			h, err := tlog.ParseHash(s)
			if err != nil {
				t.Fatal(err)
			}
			proof = append(proof, h)
		}
		if err := tlog.CheckRecord(proof, 130, root, seq-1, tlog.RecordHash([]byte(p.Leaf))); err != nil {
			t.Errorf("entry %d: %v", seq, err)
		}
		changed := strings.Replace(p.Leaf, `"v":1`, `"v":2`, 1)
		if changed == p.Leaf || tlog.CheckRecord(proof, 130, root, seq-1, tlog.RecordHash([]byte(changed))) == nil {
			t.Errorf("entry %d: a changed text passes", seq)
		}
		if tlog.CheckRecord(proof, 130, root, seq%130, tlog.RecordHash([]byte(p.Leaf))) == nil {
			t.Errorf("entry %d: passes at another number", seq)
		}
	}
	for _, seq := range []int64{-1, 0, 131} {
		_, err := f.db.Proof(ctx, f.actor.FarmID, seq)
		wantCode(t, err, domain.CodeNotFound)
	}
}

// Vectors in the shape of RFC 6962, measured with an independent tool over the leaves "harvest", "cool", "pack", "ship";
// the empty tree is SHA-256 of nothing.
func TestTreeVectors(t *testing.T) {
	t.Parallel()
	edge := storage.NewEdge()
	roots := []string{
		"e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
		"f26101db…7b8a", "cd23a38fc7b9fc1d2e2ba5397b67d6243655db03ce13124a41caa9b57d362c86", "185d26a4…00e1",
		"66ef2142e577b9677075017226456e9684526c1ada0ae58e632fe6af97444650",
	}
	for n, leaf := range []string{"harvest", "cool", "pack", "ship", ""} {
		root, err := edge.Root()
		if err != nil {
			t.Fatal(err)
		}
		got := hex.EncodeToString(root[:])
		if head, tail, _ := strings.Cut(roots[n], "…"); !strings.HasPrefix(got, head) || !strings.HasSuffix(got, tail) {
			t.Errorf("root of %d leaves: %s, want %s", n, got, roots[n])
		}
		if _, err := edge.Append([]byte(leaf)); err != nil {
			t.Fatal(err)
		}
	}
	hashes, err := storage.NewEdge().Append(nil)
	if want := "6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d"; err != nil || hex.EncodeToString(hashes) != want {
		t.Errorf("leaf of no data: %x (%v), want %s", hashes, err, want)
	}
	var tree memory
	for n, leaf := range []string{"harvest", "cool", "pack", "ship"} {
		tree.add(t, int64(n), []byte(leaf))
	}
	proof, err := tlog.ProveRecord(4, 2, tree)
	want := "f40da8ce87a1c920029eb41928290bb6479d2c360cee3e03df99a2df040cb89fcd23a38fc7b9fc1d2e2ba5397b67d6243655db03ce13124a41caa9b57d362c86"
	if err != nil || len(proof) != 2 || hex.EncodeToString(proof[0][:])+hex.EncodeToString(proof[1][:]) != want {
		t.Errorf("proof of leaf 2 among 4: %x (%v)", proof, err)
	}
}

// An end of the book whose hashes do not fit its length stops the next write instead of growing a wrong tree.
func TestDamagedEndStopsWriting(t *testing.T) {
	t.Parallel()
	for size, packed := range map[int64]int{6: 32, 7: 64, 8: 0, 4: 33} {
		if _, err := storage.ReadEdge(size, make([]byte, packed)); err == nil {
			t.Errorf("%d bytes pass as the edge of %d entries", packed, size)
		}
	}
	f := newField(t, storage.Config{})
	f.asOwner(`update book_heads set seq = seq + 1 where farm_id = $1`, f.actor.FarmID)
	if _, err := f.record(&domain.Crop{Name: "chard", SoilContact: domain.Touches}); err == nil {
		t.Error("a write on a damaged book went through")
	}
	f.asOwner(`update book_heads set seq = seq - 1 where farm_id = $1`, f.actor.FarmID)
	f.write(&domain.Crop{Name: "chard", SoilContact: domain.Touches})
}
