package api_test

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"io"
	"net/http"
	"slices"
	"strings"
	"testing"

	"croftmark/domain"
)

func picture(t testing.TB, w, h int) []byte {
	t.Helper()
	p := image.NewRGBA(image.Rect(0, 0, w, h))
	for x := range w {
		for y := range h {
			p.Set(x, y, color.RGBA{uint8(x), uint8(y), uint8(x * y), 255})
		}
	}
	var b bytes.Buffer
	if err := png.Encode(&b, p); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

var labReport = []byte("%PDF-1.4\n1 0 obj<</Type/Catalog>>endobj\nxref\n0 1\ntrailer<</Root 1 0 R>>\nstartxref\n9\n%%EOF\n")

func (f *farm) attach(role domain.Role, kind string, content []byte, query string) *answer {
	f.t.Helper()
	r := request(f.t, f.tokens[role], http.MethodPost, "/v1/attachments"+query, content)
	r.Header.Set("Content-Type", kind)
	return f.send(r)
}

// A photo is sent once, named by a record, seen by the farm's people, and by nobody else.
func TestAttachmentsOverHTTP(t *testing.T) {
	t.Parallel()
	x := newField(t)
	shot := picture(t, 900, 600)
	sent := x.attach(domain.Crew, "image/png", shot, "?name=droppings.png&note=by+the+gate&done_at=2026-11-24T08:00:00-05:00").is(http.StatusCreated)
	made := sent.fields()
	hash := made["hash"].(string)
	if made["media_type"] != "image/png" || made["bytes"] != float64(len(shot)) || made["name"] != "droppings.png" || made["note"] != "by the gate" ||
		made["done_on"] != "2026-11-24" || made["typed_by"] != x.people[domain.Crew] || hash != sha256Of(string(shot)) ||
		sent.Header.Get("Location") != "/v1/attachments/"+made["id"].(string) {
		t.Errorf("answered %s", sent.Body)
	}
	x.unchanged(func() { // the same file is the same attachment, whoever sends it under whatever name
		if again := x.attach(domain.Lead, "application/octet-stream", shot, "").is(http.StatusOK); again.text("id") != made["id"] {
			t.Errorf("the same file again: %s", again.Body)
		}
	})
	finding := x.post(domain.Crew, "/v1/findings", fields{"kind": "droppings", "ground": fields{"bed_ids": []string{x.bed}}, "found_at": "2026-09-01T07:00:00-04:00",
		"touched_crop": "no", "attachments": []string{hash}}).id()
	if got := x.get(domain.Reader, "/v1/findings/"+finding).is(http.StatusOK).fields()["attachments"]; len(got.([]any)) != 1 {
		t.Errorf("the finding names %v", got)
	}
	if list := x.get(domain.Reader, "/v1/attachments?hash="+hash).is(http.StatusOK).list(); len(list) != 1 {
		t.Errorf("%d attachments of that hash", len(list))
	}
	got := x.get(domain.Reader, "/v1/files/"+hash).is(http.StatusOK)
	if !bytes.Equal(got.Body, shot) || got.Header.Get("Content-Type") != "image/png" || got.Header.Get("Content-Disposition") != "inline; filename=droppings.png" ||
		got.Header.Get("X-Content-Type-Options") != "nosniff" || got.Header.Get("Cache-Control") != "no-store" {
		t.Errorf("downloaded %d bytes with %v", len(got.Body), got.Header)
	}
	small := x.get(domain.Reader, "/v1/files/"+hash+"/thumbnail.jpg").is(http.StatusOK)
	if p, err := jpeg.Decode(bytes.NewReader(small.Body)); err != nil || p.Bounds().Dx() != 480 || p.Bounds().Dy() != 320 {
		t.Errorf("thumbnail: %v (%v)", p.Bounds(), err)
	}
	other := x.service.farm("Next Door")
	for _, path := range []string{"/v1/files/" + hash, "/v1/files/" + hash + "/thumbnail.jpg", "/v1/attachments/" + made["id"].(string),
		"/v1/files/" + strings.Repeat("0", 64), "/v1/files/nonsense", "/v1/files/" + hash[:63]} {
		other.get(domain.Owner, path).problem(http.StatusNotFound, domain.CodeNotFound)
	}
	x.send(request(t, "", http.MethodGet, "/v1/files/"+hash, nil)).problem(http.StatusUnauthorized, domain.CodeNotSignedIn)
	if id := other.attach(domain.Crew, "image/png", shot, "").id(); id == made["id"] {
		t.Error("another farm was answered this farm's attachment")
	}

	report := x.attach(domain.Crew, "application/pdf", labReport, "?name=E.+coli,+12+%C2%B5%22.pdf").is(http.StatusCreated).text("hash")
	got = x.get(domain.Reader, "/v1/files/"+report).is(http.StatusOK)
	if d := got.Header.Get("Content-Disposition"); !strings.HasPrefix(d, "attachment; filename*=utf-8''") {
		t.Errorf("a PDF is opened here: %q", d)
	}
	x.get(domain.Reader, "/v1/files/"+report+"/thumbnail.jpg").problem(http.StatusNotFound, domain.CodeNotFound)
}

// A photo that was asked to tell no place is kept as it was drawn anew, and its record says so.
func TestRemoveLocationOverHTTP(t *testing.T) {
	t.Parallel()
	f := newFarm(t)
	place := []byte("tEXtLocation\x00Lower meadow, 42.65 N") // a PNG's own note, ISO/IEC 15948, 11.3.4.3
	shot := picture(t, 30, 20)
	note := binary.BigEndian.AppendUint32(nil, uint32(len(place)-4))
	note = binary.BigEndian.AppendUint32(append(note, place...), crc32.ChecksumIEEE(place))
	const header = 8 + 25 // signature and IHDR
	shot = append(append(slices.Clone(shot[:header]), note...), shot[header:]...)
	made := f.attach(domain.Crew, "image/png", shot, "?remove_location=true&name=bed.png").is(http.StatusCreated).fields()
	hash := made["hash"].(string)
	kept := f.get(domain.Reader, "/v1/files/"+hash).is(http.StatusOK).Body
	if made["location_removed"] != true || hash == sha256Of(string(shot)) || hash != sha256Of(string(kept)) || bytes.Contains(kept, []byte("meadow")) {
		t.Errorf("answered %v; the file of %d bytes tells the place: %t", made, len(kept), bytes.Contains(kept, []byte("meadow")))
	}
	as := f.attach(domain.Crew, "image/png", shot, "").is(http.StatusCreated).fields()
	if _, said := as["location_removed"]; said || as["hash"] != sha256Of(string(shot)) {
		t.Errorf("a photo that was not asked to is not what was sent: %v", as)
	}
	f.attach(domain.Crew, "application/pdf", labReport, "?remove_location=true").problem(http.StatusUnprocessableEntity, domain.CodeInvalid)
}

func TestFilesThatAreNotTaken(t *testing.T) {
	t.Parallel()
	f := newFarm(t)
	shot := picture(t, 30, 20)
	f.unchanged(func() {
		for name, row := range map[string]struct {
			kind    string
			content []byte
			query   string
			status  int
			pointer string
		}{
			"called a photo, is a page":     {"image/jpeg", []byte("<!doctype html><script>alert(1)</script>"), "", 422, "#"},
			"a page":                        {"text/html", []byte("<!doctype html><script>alert(1)</script>"), "", 422, "#"},
			"a drawing with code":           {"image/svg+xml", []byte(`<svg xmlns="http://www.w3.org/2000/svg"/>`), "", 422, "#"},
			"called a photo, is a drawing":  {"image/jpeg", shot, "", 422, "#"},
			"cut short":                     {"image/png", shot[:len(shot)/2], "", 422, "#"},
			"a name with a folder":          {"image/png", shot, "?name=..%2Fx.png", 422, "#/name"},
			"in the future":                 {"image/png", shot, "?done_at=2027-11-24T08:00:00-05:00", 422, "#/done_at"},
			"something nobody asked to say": {"image/png", shot, "?kind=photo", 422, "#"},
			"too large":                     {"application/pdf", append(make([]byte, domain.MostAttachmentBytes), labReport...), "", 413, ""},
		} {
			a := f.attach(domain.Crew, row.kind, row.content, row.query)
			if a.Status != row.status {
				t.Errorf("%s: %d, want %d: %.300s", name, a.Status, row.status, a.Body)
				continue
			}
			if row.status == http.StatusUnprocessableEntity {
				p := a.problem(row.status, domain.CodeInvalid)
				if len(p.Errors) == 0 || !strings.HasPrefix(p.Errors[0].Pointer, row.pointer) {
					t.Errorf("%s: %s", name, a.Body)
				}
			}
		}
		f.attach(domain.Reader, "image/png", shot, "").problem(http.StatusForbidden, domain.CodeNotAllowed)
	})
	f.attach(domain.Crew, "image/png", shot, "").is(http.StatusCreated)
}

// What concerns a person's health is not there for crew and readers: neither the file, nor its record, nor its name in
// the book.
func TestPrivateFilesOverHTTP(t *testing.T) {
	t.Parallel()
	f := newFarm(t)
	made := f.attach(domain.Lead, "application/pdf", labReport, "?private=true&name=Carls-doctor.pdf").is(http.StatusCreated)
	id, hash := made.id(), made.text("hash")
	for _, role := range []domain.Role{domain.Crew, domain.Reader} {
		for _, path := range []string{"/v1/attachments/" + id, "/v1/attachments/" + id + "/history", "/v1/files/" + hash} {
			f.get(role, path).problem(http.StatusNotFound, domain.CodeNotFound)
		}
		for _, path := range []string{"/v1/attachments", "/v1/book/entries?limit=500"} {
			if a := f.get(role, path).is(http.StatusOK); strings.Contains(string(a.Body), "doctor") || strings.Contains(string(a.Body), hash) {
				t.Errorf("%s as %s tells of it: %s", path, role, a.Body)
			}
		}
	}
	f.get(domain.Lead, "/v1/files/"+hash).is(http.StatusOK)
	if len(f.get(domain.Owner, "/v1/attachments").is(http.StatusOK).list()) != 1 {
		t.Error("the owner does not see it listed")
	}
}

// The packet's zip for an authority encloses the files, as they were sent.
func TestPacketZipEnclosesFiles(t *testing.T) {
	t.Parallel()
	x := newField(t)
	hash := x.attach(domain.Crew, "application/pdf", labReport, "?name=certificate.pdf").is(http.StatusCreated).text("hash")
	x.post(domain.Crew, "/v1/findings", fields{"kind": "droppings", "ground": fields{"bed_ids": []string{x.bed}}, "found_at": "2026-06-01T07:00:00-04:00",
		"touched_crop": "no", "attachments": []string{hash}}).is(http.StatusCreated)
	code := x.get(domain.Reader, "/v1/harvest-lots/"+x.cutClear()).is(http.StatusOK).text("code")
	for _, ask := range []struct {
		reader string
		files  int
	}{{"authority", 1}, {"buyer", 0}} {
		body := fields{"asked_by": "Somebody", "asked_at": "2026-09-02T09:00:00-04:00", "for": ask.reader, "about": fields{"lot": code}}
		if ask.reader == "buyer" {
			body["customer_id"] = x.post(domain.Lead, "/v1/customers", fields{"name": "Corner Grocer", "kind": "grocer", "phone": "555 0101"}).id()
		}
		id := x.post(domain.Lead, "/v1/traceback-requests", body).id()
		a := x.get(domain.Reader, "/v1/traceback-requests/"+id+"/packet.zip").is(http.StatusOK)
		z, err := zip.NewReader(bytes.NewReader(a.Body), int64(len(a.Body)))
		if err != nil {
			t.Fatal(err)
		}
		found := 0
		for _, f := range z.File {
			if !strings.HasPrefix(f.Name, "files/") {
				continue
			}
			r, err := f.Open()
			if err != nil {
				t.Fatal(err)
			}
			content, err := io.ReadAll(r)
			if err != nil || f.Name != "files/"+hash+".pdf" || !bytes.Equal(content, labReport) {
				t.Errorf("%s holds %d bytes (%v)", f.Name, len(content), err)
			}
			found++
		}
		if listed := strings.Contains(unzipped(t, a.Body), hash); found != ask.files || listed != (ask.files > 0) {
			t.Errorf("the zip for the %s encloses %d files, want %d; it lists it: %t", ask.reader, found, ask.files, listed)
		}
	}
}
