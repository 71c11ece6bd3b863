package storage_test

import (
	"bytes"
	"context"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"croftmark/domain"
	"croftmark/storage"
)

// exporting is a farm whose book is exported in small pages, so that there are many places to break off.
type exporting struct {
	*shed
	path string
	want []byte // the export of now, made at once
}

const smallPage = 7

func newExporting(t *testing.T) *exporting {
	t.Helper()
	x := &exporting{shed: richFarm(t), path: filepath.Join(t.TempDir(), "book.zip")}
	for n := range 3 {
		x.attach(domain.Attachment{}, photo(t, n))
	}
	whole := filepath.Join(t.TempDir(), "whole.zip")
	_, err := storage.ExportPages(ctx, x.db, x.actor.FarmID, whole, smallPage, nil)
	mustBe(t, err)
	x.want = x.read(whole)
	return x
}

func (x *exporting) read(path string) []byte {
	x.t.Helper()
	raw, err := os.ReadFile(path)
	mustBe(x.t, err)
	return raw
}

// breakOff ends an export after so many pages, as a killed program or a full disk does.
func (x *exporting) breakOff(pages int) {
	x.t.Helper()
	cut, cancel := context.WithCancel(ctx)
	defer cancel()
	n := 0
	_, err := storage.ExportPages(cut, x.db, x.actor.FarmID, x.path, smallPage, func(int64, int64) {
		if n++; n == pages {
			cancel()
		}
	})
	if err == nil {
		x.t.Fatalf("the export did not break off after %d pages", pages)
	}
	if _, err := os.Stat(x.path); !os.IsNotExist(err) {
		x.t.Errorf("a part has the name of a whole file (%v)", err)
	}
}

// again runs the export to its end and wants the bytes of the one that ran at once.
func (x *exporting) again(goesOn bool, because string) {
	x.t.Helper()
	made, err := storage.ExportPages(ctx, x.db, x.actor.FarmID, x.path, smallPage, nil)
	mustBe(x.t, err)
	if goesOn != (made.WentOnFrom > 0) || !strings.Contains(made.Anew, because) || because == "" && made.Anew != "" {
		x.t.Errorf("went on from %d, anew because %q; want going on %t, because %q", made.WentOnFrom, made.Anew, goesOn, because)
	}
	if got := x.read(x.path); goesOn && !bytes.Equal(got, x.want) {
		x.t.Errorf("%d bytes, not the %d of the export that ran at once", len(got), len(x.want))
	} else if v, err := storage.VerifyExport(bytes.NewReader(got), int64(len(got)), "", nil); err != nil || v.Entries != made.Size {
		x.t.Errorf("it holds %d entries of %d: %v", v.Entries, made.Size, err)
	}
	for _, left := range []string{storage.PartSuffix, storage.MarkSuffix} {
		if _, err := os.Stat(x.path + left); !os.IsNotExist(err) {
			x.t.Errorf("FILE%s is left (%v)", left, err)
		}
	}
	mustBe(x.t, os.Remove(x.path))
}

// Broken off anywhere, also within a write, and with the farm writing on meanwhile: the bytes are those of the checkpoint at
// which the export began.
func TestExportGoesOnToTheSameBytes(t *testing.T) {
	t.Parallel()
	x := newExporting(t)
	random := rand.New(rand.NewPCG(7, 1))
	pages := int(x.entries()+smallPage-1) / smallPage
	for round := range 8 {
		x.breakOff(1 + random.IntN(pages))
		part, err := os.OpenFile(x.path+storage.PartSuffix, os.O_WRONLY|os.O_APPEND, 0)
		mustBe(t, err)
		torn := make([]byte, random.IntN(5000)) // what was on its way when it broke off
		for i := range torn {
			torn[i] = byte(random.Uint32())
		}
		_, err = part.Write(torn)
		mustBe(t, err)
		mustBe(t, part.Close())
		if round%2 == 1 { // and once more, from where it had gone on
			cut, cancel := context.WithCancel(ctx)
			cancel()
			if _, err := storage.ExportPages(cut, x.db, x.actor.FarmID, x.path, smallPage, nil); err == nil {
				t.Error("a cancelled export ended well")
			}
		}
		x.attach(domain.Attachment{}, photo(t, 10+round)) // the farm goes on
		x.again(true, "")
		whole := filepath.Join(t.TempDir(), "whole.zip")
		_, err = storage.ExportPages(ctx, x.db, x.actor.FarmID, whole, smallPage, nil)
		mustBe(t, err)
		if bytes.Equal(x.want, x.read(whole)) {
			t.Error("a longer book gave the same file")
		}
		x.want = x.read(whole)
	}
}

// What was left is used only if it is what was written. Each damage is found, and the export begins anew.
func TestDamagedPartIsNotUsed(t *testing.T) {
	t.Parallel()
	x := newExporting(t)
	flip := func(path string, at int64) {
		raw := x.read(path)
		raw[at] ^= 1
		mustBe(t, os.WriteFile(path, raw, 0o600))
	}
	part, mark := x.path+storage.PartSuffix, x.path+storage.MarkSuffix
	for name, c := range map[string]struct {
		harm func()
		says string
	}{
		"a bit in the first header": {func() { flip(part, 40) }, "part that it left is damaged"},
		"a bit in the entries":      {func() { flip(part, 3000) }, "part that it left is damaged"},
		"cut short":                 {func() { mustBe(t, os.Truncate(part, 2000)) }, "part that it left is damaged"},
		"emptied":                   {func() { mustBe(t, os.Truncate(part, 0)) }, "part that it left is damaged"},
		"a bit in the note":         {func() { flip(mark, 100) }, "note of how far it was is damaged"},
		"a torn note":               {func() { mustBe(t, os.Truncate(mark, 150)) }, "note of how far it was is damaged"},
		"no note":                   {func() { mustBe(t, os.Remove(mark)) }, ""},
	} {
		t.Log(name)
		x.breakOff(4)
		c.harm()
		x.again(false, c.says)
	}
	// A part of another farm, and one of a book that has since been put back to an earlier day.
	x.breakOff(4)
	other := x.neighbour()
	made, err := storage.ExportPages(ctx, other.db, other.actor.FarmID, x.path, smallPage, nil)
	if err != nil || made.WentOnFrom != 0 || made.Anew != "it was of another book" {
		t.Errorf("another farm's export: %+v (%v)", made, err)
	}
	mustBe(t, os.Remove(x.path))
	x.breakOff(4)
	x.asOwner(`set session_replication_role = replica; delete from checkpoints`)
	x.again(false, "not the one of the export that broke off")
}

// Two programs do not write one file.
func TestOneExportToAFile(t *testing.T) {
	t.Parallel()
	x := newExporting(t)
	part, err := os.OpenFile(x.path+storage.PartSuffix, os.O_CREATE|os.O_RDWR, 0o600)
	mustBe(t, err)
	defer part.Close()
	mustBe(t, syscall.Flock(int(part.Fd()), syscall.LOCK_EX))
	if _, err := x.db.ExportFile(ctx, x.actor.FarmID, x.path, nil); err == nil || !strings.Contains(err.Error(), "another export") {
		t.Errorf("a second export to the file: %v", err)
	}
}
