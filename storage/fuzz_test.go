package storage_test

import (
	"archive/zip"
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
	signednote "golang.org/x/mod/sumdb/note"
	"golang.org/x/mod/sumdb/tlog"

	"croftmark/domain"
	"croftmark/storage"
)

// endless gives the same bytes again and again, so that a fuzzing seed is the same each time.
type endless struct{ n byte }

func (e *endless) Read(p []byte) (int, error) {
	for i := range p {
		e.n++
		p[i] = e.n
	}
	return len(p), nil
}

// smallExport is the parts of an export of two entries, signed.
func smallExport(t testing.TB) (manifest, note, book, verifier string) {
	t.Helper()
	farm := uuid.MustParse("01912345-0000-7000-8000-000000000001")
	edge := storage.NewEdge()
	var lines []string
	for i, body := range []string{`{"id":"01912345-0000-7000-8000-000000000001","key":"ABCDEFG","name":"Low Field","time_zone":"America/New_York"}`, `{"id":"01912345-0000-7000-8000-000000000002","name":"Kale","soil_contact":"clear"}`} {
		e := domain.Entry{Version: domain.EntryVersion, FarmID: farm, Seq: int64(i + 1), ID: uuid.MustParse(fmt.Sprintf("01912345-0000-7000-8000-00000000001%d", i)),
			EntryKind: []string{"farm", "crop"}[i], RecordID: uuid.MustParse(fmt.Sprintf("01912345-0000-7000-8000-00000000000%d", i+1)), Body: json.RawMessage(body),
			DoneOn: day("2026-11-25"), EnteredAt: time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)}
		leaf, err := e.Canonical()
		mustBe(t, err)
		_, err = edge.Append(leaf)
		mustBe(t, err)
		lines = append(lines, string(leaf))
	}
	root, err := edge.Root()
	mustBe(t, err)
	signer, verifier, err := signednote.GenerateKey(&endless{}, "croftmark/ABCDEFG")
	mustBe(t, err)
	s, err := signednote.NewSigner(signer)
	mustBe(t, err)
	signed, err := signednote.Sign(&signednote.Note{Text: "croftmark/ABCDEFG\n2\n" + root.String() + "\n"}, s)
	mustBe(t, err)
	head, err := json.Marshal(map[string]any{"format": "croftmark-book-1", "farm_id": farm, "farm_key": "ABCDEFG", "entries": 2, "root": root.String(), "verifier_key": verifier})
	mustBe(t, err)
	return string(head), string(signed), strings.Join(lines, "\n") + "\n", verifier
}

func zipOf(t testing.TB, parts ...string) []byte {
	t.Helper()
	var out bytes.Buffer
	z := zip.NewWriter(&out)
	for i := 0; i < len(parts); i += 2 {
		w, err := z.Create(parts[i])
		mustBe(t, err)
		_, err = w.Write([]byte(parts[i+1]))
		mustBe(t, err)
	}
	mustBe(t, z.Close())
	return out.Bytes()
}

// An export that verifies holds exactly what its key signed; everything else is refused.
func FuzzVerifyExport(f *testing.F) {
	manifest, note, book, verifier := smallExport(f)
	f.Add(manifest, note, book)
	f.Add(manifest, note, strings.Replace(book, "Kale", "Leek", 1))
	f.Add(manifest, note, book[:len(book)-1])
	f.Add(strings.Replace(manifest, `"entries":2`, `"entries":-2`, 1), strings.Replace(note, "\n2\n", "\n-2\n", 1), book)
	f.Fuzz(func(t *testing.T, m, n, b string) {
		file := zipOf(t, "manifest.json", m, "checkpoint.txt", n, "book.jsonl", b)
		if v, err := storage.VerifyExport(bytes.NewReader(file), int64(len(file)), verifier, nil); err == nil && (b != book || v.Entries != 2) {
			t.Errorf("another book verifies under the key: %q", b)
		}
		_, _ = storage.VerifyExport(bytes.NewReader(file), int64(len(file)), "", nil)
	})
}

// Any bytes for a file: refused in words, never a crash.
func FuzzExportFile(f *testing.F) {
	manifest, note, book, _ := smallExport(f)
	whole := zipOf(f, "manifest.json", manifest, "checkpoint.txt", note, "book.jsonl", book)
	if _, err := storage.VerifyExport(bytes.NewReader(whole), int64(len(whole)), "", nil); err != nil {
		f.Fatalf("the seed does not verify: %v", err)
	}
	f.Add(whole)
	f.Add(whole[:len(whole)/2])
	f.Add([]byte("PK\x05\x06"))
	f.Fuzz(func(t *testing.T, raw []byte) {
		if v, err := storage.VerifyExport(bytes.NewReader(raw), int64(len(raw)), "", nil); err == nil && v.Root == "" {
			t.Error("verified without a root")
		}
	})
}

// A checkpoint opens only as it was signed.
func FuzzOpenCheckpoint(f *testing.F) {
	_, note, _, verifier := smallExport(f)
	want, err := storage.OpenCheckpoint(note, verifier)
	mustBe(f, err)
	f.Add(note, verifier)
	f.Add(strings.Replace(note, "\n2\n", "\n3\n", 1), verifier)
	f.Add(note, "croftmark/ABCDEFG+00000000+AQ==")
	f.Fuzz(func(t *testing.T, signed, key string) {
		if c, err := storage.OpenCheckpoint(signed, verifier); err == nil && c != want {
			t.Errorf("%q opens as %+v", signed, c)
		}
		_, _ = storage.OpenCheckpoint(signed, key)
	})
}

// A reader who holds a proof holds it to the root with the library; no other text or path passes.
func FuzzInclusionProof(f *testing.F) {
	edge := storage.NewEdge()
	var stored []tlog.Hash
	leaves := []string{"harvest", "cool", "pack", "ship"}
	for _, leaf := range leaves {
		packed, err := edge.Append([]byte(leaf))
		mustBe(f, err)
		for ; len(packed) > 0; packed = packed[tlog.HashSize:] {
			stored = append(stored, tlog.Hash(packed[:tlog.HashSize]))
		}
	}
	root, err := edge.Root()
	mustBe(f, err)
	proof, err := tlog.ProveRecord(4, 2, tlog.HashReaderFunc(func(at []int64) (out []tlog.Hash, err error) {
		for _, i := range at {
			out = append(out, stored[i])
		}
		return out, nil
	}))
	mustBe(f, err)
	if err := tlog.CheckRecord(proof, 4, root, 2, tlog.RecordHash([]byte("pack"))); err != nil {
		f.Fatalf("the seed does not prove: %v", err)
	}
	f.Add("pack", int64(2), proof[0][:], proof[1][:])
	f.Add("ship", int64(3), proof[0][:], proof[1][:])
	f.Fuzz(func(t *testing.T, leaf string, at int64, first, second []byte) {
		path := tlog.RecordProof{sha256.Sum256(first), sha256.Sum256(second)}
		if len(first) == tlog.HashSize && len(second) == tlog.HashSize {
			path = tlog.RecordProof{tlog.Hash(first), tlog.Hash(second)}
		}
		if at < 0 || at > 3 {
			return
		}
		if err := tlog.CheckRecord(path, 4, root, at, tlog.RecordHash([]byte(leaf))); err == nil && leaf != leaves[at] {
			t.Errorf("%q is proven at %d", leaf, at)
		}
	})
}
