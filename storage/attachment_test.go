package storage_test

import (
	"archive/zip"
	"bytes"
	"errors"
	"image"
	"image/color"
	"image/jpeg"
	"io"
	"strings"
	"testing"

	"croftmark/domain"
	"croftmark/storage"
	"croftmark/storage/storagetest"
)

// photo is a small picture; another number gives another one.
func photo(t testing.TB, number int) []byte {
	t.Helper()
	p := image.NewRGBA(image.Rect(0, 0, 32, 24))
	for i := range p.Pix {
		p.Pix[i] = byte(i * (number + 3))
	}
	p.Set(0, 0, color.White)
	var b bytes.Buffer
	mustBe(t, jpeg.Encode(&b, p, nil))
	return b.Bytes()
}

var labReport = []byte("%PDF-1.4\n1 0 obj<</Type/Catalog>>endobj\nxref\n0 1\ntrailer<</Root 1 0 R>>\nstartxref\n9\n%%EOF\n")

func (f *field) attach(a domain.Attachment, content []byte) *domain.Attachment {
	f.t.Helper()
	if _, err := f.db.Attach(ctx, f.actor, nil, &a, content); err != nil {
		f.t.Fatal(err)
	}
	return &a
}

// A file is an entry by its hash; the same file again is the same entry. Records name it, and only what is there.
func TestAttachments(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	a := f.attach(domain.Attachment{Name: "north end.jpg"}, photo(t, 1))
	before := f.entries()
	again := &domain.Attachment{Name: "another name.jpg"}
	out, err := f.db.Attach(ctx, f.actor, nil, again, photo(t, 1))
	if err != nil || !out.Replayed || out.ID != a.ID || f.entries() != before {
		t.Errorf("the same file again: %+v (%v)", out.Record, err)
	}
	finding := &domain.Finding{What: "glass", Ground: domain.Ground{BedIDs: ids(f.bed)}, FoundAt: at("2026-06-18", 8), TouchedCrop: domain.TouchedNo}
	finding.Attachments = []string{a.Hash}
	f.write(finding)
	f.correct("finding", finding.ID, `{"attachments": ["`+a.Hash+`", "`+f.attach(domain.Attachment{}, photo(t, 2)).Hash+`"]}`)

	named := func(hashes ...string) error {
		h := &domain.Hold{On: domain.HoldTarget{BedID: f.bed}, Reason: "x"}
		h.Attachments = hashes
		_, err := f.record(h)
		return err
	}
	unknown := strings.Repeat("a", 64)
	wantField(t, named(a.Hash, unknown), "#/attachments/1", "not in the book")
	wantField(t, named(a.Hash, a.Hash), "#/attachments/1", "twice")
	wantField(t, named("north end.jpg"), "#/attachments/0", "SHA-256")
	wantField(t, named(strings.ToUpper(a.Hash)), "#/attachments/0", "SHA-256")
	_, err = f.db.Correct(ctx, f.actor, nil, "finding", finding.ID, "x", []byte(`{"attachments": ["`+unknown+`"]}`))
	wantField(t, err, "#/attachments/0", "not in the book")
	_, err = f.db.Correct(ctx, f.actor, nil, "attachment", a.ID, "x", []byte(`{"hash": "`+unknown+`"}`))
	wantField(t, err, "#/changes/hash", "can't be changed")
	f.correct("attachment", a.ID, `{"name": "south end.jpg"}`)
	_, err = f.record(&domain.Attachment{Hash: unknown, MediaType: "image/png", Bytes: 3})
	wantField(t, err, "#/hash", "Send the file")

	// Another farm's file is not there, though its hash is known.
	g := f.neighbour()
	h := &domain.Hold{On: domain.HoldTarget{BedID: g.bed}, Reason: "x"}
	h.Attachments = []string{a.Hash}
	_, err = g.record(h)
	wantField(t, err, "#/attachments/0", "not in the book")

	// A voided one is not named anew, and can be sent again.
	_, err = f.void("attachment", a.ID)
	mustBe(t, err)
	wantField(t, named(a.Hash), "#/attachments/0", "not in the book")
	if fresh := f.attach(domain.Attachment{}, photo(t, 1)); fresh.ID == a.ID {
		t.Error("a voided attachment was answered again")
	}
	mustBe(t, named(a.Hash))
	if n := f.count(`select count(*) from attachment_files`); n != 2 {
		t.Errorf("%d files are kept, want 2", n)
	}
	big := append(append([]byte{}, labReport...), make([]byte, domain.MostAttachmentBytes)...)
	_, err = f.db.Attach(ctx, f.actor, nil, &domain.Attachment{}, append(big, labReport...))
	wantField(t, err, "#/bytes", "at most 20 MB")
}

// What concerns a person's health is seen by leads and the owner, and hangs on no record that others read.
func TestPrivateAttachments(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	crew := f.person("Cory", domain.Crew)
	secret := f.attach(domain.Attachment{Private: true, Name: "doctor.pdf"}, labReport)
	open := f.attach(domain.Attachment{}, photo(t, 1))
	for _, row := range []struct {
		hash    string
		private bool
		there   bool
	}{{secret.Hash, false, false}, {secret.Hash, true, true}, {open.Hash, false, true}, {open.Hash, true, true}} {
		if _, err := f.db.File(f.reading(), row.hash, false, row.private); (err == nil) != row.there {
			t.Errorf("%s for one who may read private things %t: %v", row.hash[:8], row.private, err)
		}
	}
	_, err := f.db.Attach(ctx, f.actor, nil, &domain.Attachment{Private: true}, photo(t, 1))
	wantCode(t, err, domain.CodeRuleRefused)
	hold := func(actor storage.Actor, hash string) error {
		h := &domain.Hold{On: domain.HoldTarget{BedID: f.bed}, Reason: "x"}
		h.Attachments = []string{hash}
		_, err := f.db.Record(ctx, actor, nil, h)
		return err
	}
	wantField(t, hold(f.actor, secret.Hash), "#/attachments/0", "private")
	wantField(t, hold(crew, secret.Hash), "#/attachments/0", "not in the book")
	mustBe(t, hold(crew, open.Hash))
}

// The files go with the book, each held to the hash that its entry names.
func TestExportHoldsTheFiles(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	plain := export(t, f)
	if strings.Contains(string(plain), "attachments/") {
		t.Error("a book without files speaks of them")
	}
	for i := range 3 {
		f.attach(domain.Attachment{}, photo(t, i))
	}
	last := f.attach(domain.Attachment{Name: "report.pdf"}, labReport)
	file := export(t, f)
	if n := bytes.Count(file, labReport); n != 1 {
		t.Errorf("the report is in the export %d times", n)
	}
	fresh := func() *storage.DB { return storagetest.Open(t, storage.Config{Now: f.clock.Now}) }
	db := fresh()
	if _, err := db.Restore(ctx, bytes.NewReader(file), int64(len(file)), nil); err != nil {
		t.Fatal(err)
	}
	restored := &field{t: t, db: db, clock: f.clock, actor: f.actor}
	for _, small := range []bool{false, true} {
		hash := restored.attach(domain.Attachment{}, photo(t, 2)).Hash // there already: gives the hash
		was, err := f.db.File(f.reading(), hash, small, false)
		mustBe(t, err)
		is, err := db.File(restored.reading(), hash, small, false)
		if err != nil || !bytes.Equal(was.Content, is.Content) {
			t.Errorf("restored, thumbnail %t: %d bytes, was %d (%v)", small, len(is.Content), len(was.Content), err)
		}
	}
	if second := export(t, restored); !bytes.Equal(file, second) {
		t.Error("export, restore, export is not the same file")
	}
	if _, err := db.Verify(ctx, f.actor.FarmID, nil); err != nil {
		t.Error(err)
	}

	name := "attachments/" + last.Hash
	for what, c := range map[string]struct {
		change func(name string, content []byte) (string, []byte)
		says   string
	}{
		"changed": {func(n string, c []byte) (string, []byte) {
			if n == name {
				c = append(c, '\n')
			}
			return n, c
		}, "is not the one that was written down"},
		"left out": {func(n string, c []byte) (string, []byte) {
			if n == name {
				return "", nil
			}
			return n, c
		}, "is missing"},
		"renamed": {func(n string, c []byte) (string, []byte) {
			if n == name {
				n = "attachments/" + strings.Repeat("b", 64)
			}
			return n, c
		}, "which no entry names"},
		"exchanged": {func(n string, c []byte) (string, []byte) {
			if n == name {
				c = photo(t, 0)
			}
			return n, c
		}, "is not the one that was written down"},
	} {
		bad := rezipped(t, file, c.change)
		_, err := storage.VerifyExport(bytes.NewReader(bad), int64(len(bad)), "", nil)
		if err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v, want it to say %q", what, err, c.says)
		}
		db := fresh()
		if _, err := db.Restore(ctx, bytes.NewReader(bad), int64(len(bad)), nil); err == nil {
			t.Errorf("%s: restored all the same", what)
		}
		if list, err := db.Entries(ctx, f.actor.FarmID, 0, 10); err == nil && len(list) > 0 {
			t.Errorf("%s: the refused restore left entries", what)
		}
	}

	// In the database the owner can take the guard away and change a file; it is found and named.
	f.asOwner(`alter table attachment_files drop constraint attachment_files_hash_right; update attachment_files set content = content || '\x00' where media_type = 'application/pdf'`)
	_, err := f.db.Verify(ctx, f.actor.FarmID, nil)
	wantBadEntry(t, err, f.entries())
	f.asOwner(`delete from attachment_files where media_type = 'application/pdf'`)
	_, err = f.db.Verify(ctx, f.actor.FarmID, nil)
	wantBadEntry(t, err, f.entries())
}

func wantBadEntry(t testing.TB, err error, seq int64) {
	t.Helper()
	var bad *storage.BadEntry
	if !errors.As(err, &bad) || bad.Seq != seq {
		t.Errorf("%v, want entry %d named", err, seq)
	}
}

// rezipped gives the export with its files changed; one without a name is left out.
func rezipped(t *testing.T, file []byte, change func(name string, content []byte) (string, []byte)) []byte {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(file), int64(len(file)))
	mustBe(t, err)
	var out bytes.Buffer
	w := zip.NewWriter(&out)
	for _, f := range z.File {
		r, err := f.Open()
		mustBe(t, err)
		content, err := io.ReadAll(r)
		mustBe(t, err)
		name, content := change(f.Name, content)
		if name == "" {
			continue
		}
		part, err := w.Create(name)
		mustBe(t, err)
		_, err = part.Write(content)
		mustBe(t, err)
	}
	mustBe(t, w.Close())
	return out.Bytes()
}
