package storage_test

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
	"golang.org/x/mod/sumdb/tlog"

	"croftmark/domain"
	"croftmark/storage"
	"croftmark/storage/storagetest"
)

// richFarm writes a bit of everything.
func richFarm(t *testing.T) *shed {
	s := newShed(t)
	s.counted("Heap 1")
	s.spread(s.manure, "2025-11-01", "2025-11-02", s.beds[0])
	mix := s.pack("34", "2", 4)
	s.write(mix)
	s.write(s.ship(s.customer("Copper Ladle", "restaurant"), "1182", mix.CrateCodes[0]))
	well := s.well()
	s.goodYear(well, "")
	s.write(&domain.Handling{Use: domain.UseWashing, SourceID: well, LotIDs: []uuid.UUID{s.lots[0].ID}, StartedAt: at("2026-06-05", 12)})
	late, err := s.record(s.application(s.manure, "2026-03-10", "2026-03-10", s.beds[2]))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.db.Void(ctx, s.actor, nil, "application", late.ID, "another bed"); err != nil {
		t.Fatal(err)
	}
	return s
}

func export(t *testing.T, f *field) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := f.db.Export(ctx, f.actor.FarmID, &b, nil); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestExportRestoreExport(t *testing.T) {
	t.Parallel()
	s := richFarm(t)
	first := export(t, s.field)
	if v, err := storage.VerifyExport(bytes.NewReader(first), int64(len(first)), "", nil); err != nil || v.Entries == 0 {
		t.Fatalf("the export does not verify: %v", err)
	}
	before := s.dump()
	owner, service := storagetest.URLs(t)
	other, err := storage.Open(ctx, storage.Config{OwnerURL: owner, ServiceURL: service, Now: s.clock.Now})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(other.Close)
	if _, err := other.Restore(ctx, bytes.NewReader(first), int64(len(first)), nil); err != nil {
		t.Fatal(err)
	}
	restored := &field{t: t, db: other, owner: owner, clock: s.clock, actor: s.actor}
	if diff := cmp.Diff(before, restored.dump()); diff != "" {
		t.Errorf("the restored tables differ:\n%s", diff)
	}
	if _, err := other.Verify(ctx, s.actor.FarmID, nil); err != nil {
		t.Error(err)
	}
	if second := export(t, restored); !bytes.Equal(first, second) {
		t.Error("export, restore, export is not the same file")
	}
	if _, err := other.Restore(ctx, bytes.NewReader(first), int64(len(first)), nil); err == nil {
		t.Error("a book was restored over itself")
	}
	// The restored book goes on.
	restored.write(&domain.Plot{Name: "After", History: "known"})
	if bytes.Contains(first, []byte("PRIVATE+KEY")) || bytes.Contains(first, []byte("cm_")) {
		t.Error("the export holds a secret")
	}
}

// rewritten gives the export with its book changed.
func rewritten(t *testing.T, file []byte, change func(lines []string) []string) []byte {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(file), int64(len(file)))
	if err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	w := zip.NewWriter(&out)
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		content, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		if f.Name == "book.jsonl" {
			lines := strings.Split(strings.TrimSuffix(string(content), "\n"), "\n")
			content = []byte(strings.Join(change(lines), "\n") + "\n")
		}
		part, err := w.Create(f.Name)
		if err != nil {
			t.Fatal(err)
		}
		part.Write(content)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func TestTamperedExportIsRefused(t *testing.T) {
	t.Parallel()
	s := richFarm(t)
	file := export(t, s.field)
	cut := int64(0) // the first entry of the tail that was cut off
	for name, c := range map[string]struct {
		change func([]string) []string
		entry  int64 // -1: the first one that was cut off
	}{
		"tail cut":   {func(l []string) []string { n := len(l) - 2; cut = int64(n + 1); return l[:n] }, -1},
		"re-ordered": {func(l []string) []string { return append(append(append([]string{}, l[:3]...), l[8], l[3]), l[4:]...) }, 4},
		"edited to another good entry": {func(l []string) []string {
			l[7] = strings.Replace(l[7], `"reason":"`, `"reason":"x`, 1)
			l[6] = strings.Replace(l[6], `"entered_at":"2026`, `"entered_at":"2025`, 1)
			return l
		}, 7},
		"swapped":    {func(l []string) []string { l[4], l[5] = l[5], l[4]; return l }, 5},
		"removed":    {func(l []string) []string { return append(l[:6:6], l[7:]...) }, 7},
		"inserted":   {func(l []string) []string { return append(append(append([]string{}, l[:3]...), l[2]), l[3:]...) }, 4},
		"edited":     {func(l []string) []string { l[7] = strings.Replace(l[7], "2", "3", 1); return l }, 8},
		"not json":   {func(l []string) []string { l[2] = "x"; return l }, 3},
		"blank line": {func(l []string) []string { l[2] = l[2] + " "; return l }, 3},
	} {
		bad := rewritten(t, file, c.change)
		_, err := storage.VerifyExport(bytes.NewReader(bad), int64(len(bad)), "", nil)
		if c.entry < 0 {
			c.entry = cut
		}
		var named *storage.BadEntry
		if !errors.As(err, &named) || named.Seq != c.entry {
			t.Errorf("%s: %v, want entry %d", name, err, c.entry)
		}
		other := storagetest.Open(t, storage.Config{})
		if _, err := other.Restore(ctx, bytes.NewReader(bad), int64(len(bad)), nil); err == nil {
			t.Errorf("%s: restored all the same", name)
		}
		if list, err := other.Entries(ctx, s.actor.FarmID, 0, 10); err == nil && len(list) > 0 {
			t.Errorf("%s: the refused restore left entries", name)
		}
	}
}

// A paper from March proves March: its checkpoint opens with the public key, and the book now begins with that book.
func TestOldCheckpointStillHolds(t *testing.T) {
	t.Parallel()
	s := newShed(t)
	old, err := s.db.SignedCheckpoint(ctx, s.actor.FarmID)
	if err != nil {
		t.Fatal(err)
	}
	s.write(s.pack("34", "2", 4))
	opened, err := storage.OpenCheckpoint(old.Note, old.Verifier)
	if err != nil || opened != old.Checkpoint {
		t.Fatalf("opened %+v (%v)", opened, err)
	}
	if _, err := storage.OpenCheckpoint(strings.Replace(old.Note, fmt.Sprintf("\n%d\n", old.Size), fmt.Sprintf("\n%d\n", old.Size+1), 1), old.Verifier); err == nil {
		t.Error("a changed checkpoint opened")
	}
	c, err := s.db.Consistency(ctx, s.actor.FarmID, old.Size)
	if err != nil {
		t.Fatal(err)
	}
	var proof tlog.TreeProof
	for _, h := range c.Hashes {
		proof = append(proof, hashOf(t, h))
	}
	if err := tlog.CheckTree(proof, c.To.Size, hashOf(t, c.To.Root), old.Size, hashOf(t, old.Root)); err != nil {
		t.Error(err)
	}
	if tlog.CheckTree(proof, c.To.Size, hashOf(t, c.To.Root), old.Size, tlog.Hash{1}) == nil {
		t.Error("a wrong root was proven")
	}
}

func hashOf(t *testing.T, s string) tlog.Hash {
	t.Helper()
	h, err := tlog.ParseHash(s)
	if err != nil {
		t.Fatal(err)
	}
	return h
}

// What stands beside the entries in an export is held to them as well: no part of it can be changed, left out or added.
func TestTamperedExportPartsAreRefused(t *testing.T) {
	t.Parallel()
	s := richFarm(t)
	s.attach(domain.Attachment{Name: "report.pdf"}, labReport)
	file := export(t, s.field)
	swap := func(old, new string) func([]byte) []byte {
		return func(c []byte) []byte {
			changed := bytes.Replace(c, []byte(old), []byte(new), 1)
			if bytes.Equal(changed, c) {
				t.Errorf("%q is not in the part that is to be changed", old)
			}
			return changed
		}
	}
	gone := func([]byte) []byte { return nil }
	line := func(n int, change func(string) string) func([]byte) []byte {
		return func(c []byte) []byte {
			lines := strings.Split(string(c), "\n")
			lines[n] = change(lines[n])
			return []byte(strings.Join(lines, "\n"))
		}
	}
	other := func(text string) string { // another good character of base64 or of a number, in the middle
		at, to := len(text)/2, "1"
		if text[at] == '1' {
			to = "2"
		}
		return text[:at] + to + text[at+1:]
	}
	for what, c := range map[string]struct {
		part   string
		change func([]byte) []byte
	}{
		"manifest: format":       {"manifest.json", swap("croftmark-book-1", "croftmark-book-2")},
		"manifest: farm":         {"manifest.json", swap(s.actor.FarmID.String(), uuid.NewString())},
		"manifest: farm key":     {"manifest.json", swap(`"farm_key": "`, `"farm_key": "A`)},
		"manifest: entries":      {"manifest.json", swap(`"entries": `, `"entries": 1`)},
		"manifest: root":         {"manifest.json", swap(`"root": "`, `"root": "A`)},
		"manifest: verifier":     {"manifest.json", swap(`"verifier_key": "`, `"verifier_key": "A`)},
		"manifest: attachments":  {"manifest.json", swap(`"attachments": 1`, `"attachments": 2`)},
		"manifest: left out":     {"manifest.json", gone},
		"checkpoint: origin":     {"checkpoint.txt", line(0, other)},
		"checkpoint: size":       {"checkpoint.txt", line(1, other)},
		"checkpoint: root":       {"checkpoint.txt", line(2, other)},
		"checkpoint: signature":  {"checkpoint.txt", line(4, other)},
		"checkpoint: left out":   {"checkpoint.txt", gone},
		"hashes: one changed":    {"hashes.txt", line(3, other)},
		"hashes: one taken out":  {"hashes.txt", line(3, func(string) string { return "" })},
		"book: left out":         {"book.jsonl", gone},
		"attachment: changed":    {"attachments/", func(c []byte) []byte { return append(c[:len(c):len(c)], '\n') }},
		"attachment: left out":   {"attachments/", gone},
		"attachment: one added":  {"+attachments/" + strings.Repeat("ab", 32), func([]byte) []byte { return []byte("%PDF-1.4 x") }},
		"book: twice":            {"+book.jsonl", func([]byte) []byte { return []byte("{}\n") }},
		"a part that none names": {"+notes.txt", func([]byte) []byte { return []byte("x") }},
	} {
		bad := withPart(t, file, c.part, c.change)
		if _, err := storage.VerifyExport(bytes.NewReader(bad), int64(len(bad)), "", nil); err == nil {
			t.Errorf("%s: the file is said to hold", what)
		}
		empty := storagetest.Open(t, storage.Config{})
		if _, err := empty.Restore(ctx, bytes.NewReader(bad), int64(len(bad)), nil); err == nil {
			t.Errorf("%s: restored all the same", what)
		}
	}
}

// withPart gives an export with the parts of a name, or beginning with it, changed; one that becomes nothing is left out. A
// name after + is added.
func withPart(t *testing.T, file []byte, name string, change func([]byte) []byte) []byte {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(file), int64(len(file)))
	mustBe(t, err)
	var out bytes.Buffer
	w := zip.NewWriter(&out)
	put := func(name string, content []byte) {
		part, err := w.Create(name)
		mustBe(t, err)
		_, err = part.Write(content)
		mustBe(t, err)
	}
	for _, f := range z.File {
		r, err := f.Open()
		mustBe(t, err)
		content, err := io.ReadAll(r)
		mustBe(t, err)
		if strings.HasPrefix(f.Name, name) {
			if content = change(content); content == nil {
				continue
			}
		}
		put(f.Name, content)
	}
	if added, ok := strings.CutPrefix(name, "+"); ok {
		put(added, change(nil))
	}
	mustBe(t, w.Close())
	return out.Bytes()
}
