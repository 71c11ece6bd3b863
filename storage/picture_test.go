package storage

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"strings"
	"testing"

	"github.com/bep/imagemeta"

	"croftmark/domain"
)

// corners of a picture: red, green at the end of the first row, blue and white in the last.
func corners(w, h int) *image.RGBA {
	p := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			c := color.RGBA{200, 0, 0, 255}
			switch {
			case x >= w/2 && y < h/2:
				c = color.RGBA{0, 200, 0, 255}
			case x < w/2 && y >= h/2:
				c = color.RGBA{0, 0, 200, 255}
			case x >= w/2:
				c = color.RGBA{250, 250, 250, 255}
			}
			p.SetRGBA(x, y, c)
		}
	}
	return p
}

func jpegOf(t testing.TB, p image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, p, &jpeg.Options{Quality: 95}); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func pngOf(t testing.TB, p image.Image) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := png.Encode(&b, p); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// exifOf makes what a camera writes beside a picture: TIFF with Make, Orientation and a GPS directory (Exif 2.32, 4.6).
func exifOf(orientation uint16) []byte {
	var b bytes.Buffer
	put := func(v any) { binary.Write(&b, binary.BigEndian, v) }
	field := func(tag, kind uint16, count uint32, value any) {
		put(tag)
		put(kind)
		put(count)
		put(value)
	}
	b.WriteString("MM\x00\x2a")
	put(uint32(8))
	put(uint16(3))
	field(0x010f, 2, 4, [4]byte{'C', 'A', 'M', 0}) // Make
	field(0x0112, 3, 1, [2]uint16{orientation, 0}) // Orientation
	field(0x8825, 4, 1, uint32(8+2+3*12+4))        // GPSInfo, which lies right behind
	put(uint32(0))
	put(uint16(4))
	data := uint32(8 + 2 + 3*12 + 4 + 2 + 4*12 + 4)
	field(1, 2, 2, [4]byte{'N'})
	field(2, 5, 3, data)
	field(3, 2, 2, [4]byte{'W'})
	field(4, 5, 3, data+24)
	put(uint32(0))
	put([]uint32{42, 1, 39, 1, 0, 1, 73, 1, 57, 1, 0, 1})
	return b.Bytes()
}

// withEXIF puts the notes of a camera into a JPEG, as an APP1 segment, or into a PNG, as an eXIf chunk.
func withEXIF(picture []byte, orientation uint16) []byte {
	exif := exifOf(orientation)
	if bytes.HasPrefix(picture, []byte("\x89PNG")) {
		const header = 8 + 25 // signature and IHDR
		chunk := append([]byte("eXIf"), exif...)
		out := append([]byte{}, picture[:header]...)
		out = binary.BigEndian.AppendUint32(out, uint32(len(exif)))
		out = append(out, chunk...)
		out = binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(chunk))
		return append(out, picture[header:]...)
	}
	segment := append([]byte("Exif\x00\x00"), exif...)
	out := append([]byte{}, picture[:2]...)
	out = append(out, 0xff, 0xe1)
	out = binary.BigEndian.AppendUint16(out, uint16(len(segment)+2))
	return append(append(out, segment...), picture[2:]...)
}

// The words of TIFF 6.0, section 8, Orientation: on which side the first row and the first column are seen.
var seen = map[int]struct{ row, column string }{
	1: {"top", "left"}, 2: {"top", "right"}, 3: {"bottom", "right"}, 4: {"bottom", "left"},
	5: {"left", "top"}, 6: {"right", "top"}, 7: {"right", "bottom"}, 8: {"left", "bottom"},
}

// A thumbnail is seen as the camera was held, and says nothing of where that was.
func TestThumbnailIsUprightAndSilent(t *testing.T) {
	t.Parallel()
	for name, encode := range map[string]func(testing.TB, image.Image) []byte{"JPEG": jpegOf, "PNG": pngOf} {
		for o := 1; o <= 8; o++ {
			content := withEXIF(encode(t, corners(1200, 800)), uint16(o))
			lat, _, err := whereTaken(content)
			if err != nil || lat < 42.6 || lat > 42.7 {
				t.Fatalf("%s %d: the picture of the test does not say where it was taken: %v (%v)", name, o, lat, err)
			}
			found, err := inspect(content)
			if err != nil {
				t.Fatalf("%s %d: %v", name, o, err)
			}
			small, err := jpeg.Decode(bytes.NewReader(found.thumbnail))
			if err != nil {
				t.Fatal(err)
			}
			w, h := small.Bounds().Dx(), small.Bounds().Dy()
			if o <= 4 && (w != 480 || h != 320) || o >= 5 && (w != 320 || h != 480) {
				t.Errorf("%s %d: the thumbnail is %d × %d", name, o, w, h)
			}
			// Red is where first row and first column meet; green at the other end of the first row.
			side := map[string]int{"top": h / 8, "bottom": h - h/8, "left": w / 8, "right": w - w/8}
			opposite := map[string]string{"top": "bottom", "bottom": "top", "left": "right", "right": "left"}
			at := func(row, column string) string {
				x, y := side[row], side[column]
				if row == "top" || row == "bottom" {
					x, y = y, x
				}
				r, g, b, _ := small.At(x, y).RGBA()
				switch {
				case r > 0x8000 && g > 0x8000:
					return "white"
				case r > 0x8000:
					return "red"
				case g > 0x8000:
					return "green"
				case b > 0x8000:
					return "blue"
				}
				return "dark"
			}
			s := seen[o]
			got := []string{at(s.row, s.column), at(s.row, opposite[s.column]), at(opposite[s.row], s.column), at(opposite[s.row], opposite[s.column])}
			if fmt.Sprint(got) != "[red green blue white]" {
				t.Errorf("%s, orientation %d: corners %v", name, o, got)
			}
			if _, _, err := whereTaken(found.thumbnail); err == nil || bytes.Contains(found.thumbnail, []byte("Exif")) || bytes.Contains(found.thumbnail, []byte("CAM")) {
				t.Errorf("%s %d: the thumbnail tells about the camera or the place (%v)", name, o, err)
			}
		}
	}
}

// A picture drawn anew is as large as before, stands upright, and holds nothing of what the camera wrote.
func TestAPictureDrawnAnewTellsNoPlace(t *testing.T) {
	t.Parallel()
	for kind, encode := range map[string]func(testing.TB, image.Image) []byte{"image/jpeg": jpegOf, "image/png": pngOf} {
		for _, o := range []uint16{1, 3, 6} {
			content := withEXIF(encode(t, corners(120, 80)), o)
			if kind == "image/jpeg" { // a second picture with its own notes, as some phones hang behind the first
				content = append(content, withEXIF(encode(t, corners(16, 16)), 1)...)
			}
			if lat, _, err := whereTaken(content); err != nil || lat < 42.6 {
				t.Fatalf("the picture of the test does not say where it was taken: %v (%v)", lat, err)
			}
			silent, err := withoutNotes(content)
			if err != nil {
				t.Fatal(err)
			}
			if _, _, err := whereTaken(silent); err == nil || bytes.Contains(silent, []byte("Exif")) || bytes.Contains(silent, []byte("eXIf")) || bytes.Contains(silent, []byte("CAM")) {
				t.Errorf("%s %d: it still tells about the camera or the place (%v)", kind, o, err)
			}
			found, err := inspect(silent)
			if err != nil || found.mediaType != kind {
				t.Errorf("%s %d: became %q (%v)", kind, o, found.mediaType, err)
			}
			seen, _, err := image.Decode(bytes.NewReader(silent))
			if err != nil {
				t.Fatal(err)
			}
			w, h, redAt := 120, 80, image.Pt(5, 5)
			switch o {
			case 3:
				redAt = image.Pt(115, 75)
			case 6:
				w, h, redAt = 80, 120, image.Pt(75, 5)
			}
			if r, g, b, _ := seen.At(redAt.X, redAt.Y).RGBA(); seen.Bounds().Dx() != w || seen.Bounds().Dy() != h || r < 0xa000 || g > 0x3000 || b > 0x3000 {
				t.Errorf("%s %d: %v, red is not at %v", kind, o, seen.Bounds(), redAt)
			}
		}
	}
	_, err := withoutNotes([]byte("%PDF-1.4\nstartxref\n9\n%%EOF\n"))
	var refused *domain.Error
	if !errors.As(err, &refused) || !strings.Contains(err.Error(), "without remove_location") {
		t.Errorf("a PDF: %v", err)
	}
}

// whereTaken reads the place out of a picture with a library.
func whereTaken(content []byte) (lat, lon float64, err error) {
	format := imagemeta.JPEG
	if bytes.HasPrefix(content, []byte("\x89PNG")) {
		format = imagemeta.PNG
	}
	var tags imagemeta.Tags
	_, err = imagemeta.Decode(imagemeta.Options{R: bytes.NewReader(content), ImageFormat: format, Sources: imagemeta.EXIF,
		ShouldHandleTag: func(imagemeta.TagInfo) bool { return true },
		HandleTag:       func(tag imagemeta.TagInfo) error { tags.Add(tag); return nil }})
	if err != nil {
		return 0, 0, err
	}
	if _, there := tags.EXIF()["GPSLatitude"]; !there {
		return 0, 0, errors.New("no place")
	}
	return tags.GetLatLong()
}

// What a file is, its content says; what is no whole file of a kind that is taken is refused in words.
func TestInspect(t *testing.T) {
	t.Parallel()
	photo, drawing := jpegOf(t, corners(40, 30)), pngOf(t, corners(40, 30))
	pdf := []byte("%PDF-1.4\n1 0 obj<</Type/Catalog>>endobj\nxref\n0 1\ntrailer<</Root 1 0 R>>\nstartxref\n9\n%%EOF\n")
	bomb := append([]byte{}, drawing...)
	binary.BigEndian.PutUint32(bomb[16:], 60_000)
	binary.BigEndian.PutUint32(bomb[20:], 60_000)
	binary.BigEndian.PutUint32(bomb[29:], crc32.ChecksumIEEE(bomb[12:29]))
	for name, row := range map[string]struct {
		content []byte
		is      string // or says
	}{
		"photo":                {photo, "image/jpeg"},
		"drawing":              {drawing, "image/png"},
		"lab report":           {pdf, "application/pdf"},
		"photo cut short":      {photo[:len(photo)*2/3], "damaged"},
		"drawing cut short":    {drawing[:len(drawing)*2/3], "damaged"},
		"report cut short":     {pdf[:len(pdf)-16], "breaks off"},
		"empty":                {nil, "Only JPEG"},
		"text":                 {[]byte("just words"), "Only JPEG"},
		"a page":               {[]byte("<!doctype html><script>alert(1)</script>"), "Only JPEG"},
		"a drawing with code":  {[]byte(`<svg xmlns="http://www.w3.org/2000/svg"><script/></svg>`), "Only JPEG"},
		"a program":            {[]byte("MZ\x90\x00\x03"), "Only JPEG"},
		"a picture of a kind":  {[]byte("GIF89a\x01\x00\x01\x00\x00\x00\x00;"), "Only JPEG"},
		"a signature alone":    {[]byte("\xff\xd8\xff\xe0"), "can't be read"},
		"unfolds to far more":  {bomb, "at most 50 million"},
		"webp signature alone": {[]byte("RIFF\x1a\x00\x00\x00WEBPVP8 "), "can't be read"},
	} {
		found, err := inspect(row.content)
		if strings.Contains(row.is, "/") {
			if err != nil || found.mediaType != row.is || (found.thumbnail == nil) != (row.is == "application/pdf") {
				t.Errorf("%s: %s, %d bytes of thumbnail, %v", name, found.mediaType, len(found.thumbnail), err)
			}
			continue
		}
		var refused *domain.Error
		if !errors.As(err, &refused) || refused.Code != domain.CodeInvalid || !strings.Contains(err.Error(), row.is) {
			t.Errorf("%s: %v, want it to say %q", name, err, row.is)
		}
	}
	// Notes that are muddled do not make a picture unreadable.
	muddled := withEXIF(photo, 6)
	copy(muddled[20:], bytes.Repeat([]byte{0xff}, 40))
	if found, err := inspect(muddled); err != nil || found.thumbnail == nil {
		t.Errorf("a picture with muddled notes: %v", err)
	}
	// What can be seen through is white, not black.
	if found, err := inspect(pngOf(t, image.NewRGBA(image.Rect(0, 0, 8, 8)))); err != nil {
		t.Error(err)
	} else if small, _ := jpeg.Decode(bytes.NewReader(found.thumbnail)); small.Bounds().Dx() != 8 || color.GrayModel.Convert(small.At(4, 4)).(color.Gray).Y < 250 {
		t.Errorf("an empty drawing is %v", small.At(4, 4))
	}
}

func FuzzInspect(f *testing.F) {
	f.Add(withEXIF(jpegOf(f, corners(40, 30)), 6))
	f.Add(withEXIF(pngOf(f, corners(40, 30)), 3))
	f.Add([]byte("%PDF-1.4\nstartxref\n9\n%%EOF\n"))
	f.Add([]byte("RIFF\x1a\x00\x00\x00WEBPVP8L\x0d\x00\x00\x00\x2f\x00\x00\x00\x10\x07\x10\x11\x11\x88\x88\xfe\x07\x00"))
	f.Fuzz(func(t *testing.T, content []byte) {
		found, err := inspect(content)
		if err != nil {
			var refused *domain.Error
			if !errors.As(err, &refused) {
				t.Fatalf("not refused in words: %v", err)
			}
			return
		}
		if domain.AttachmentTypes[found.mediaType] == "" || bytes.Contains(found.thumbnail, []byte("Exif")) {
			t.Fatalf("taken as %q", found.mediaType)
		}
		if found.mediaType == "application/pdf" {
			return
		}
		silent, err := withoutNotes(content)
		if err != nil {
			t.Fatalf("taken as it is, but not drawn anew: %v", err)
		}
		if _, err := inspect(silent); err != nil {
			t.Fatalf("drawn anew it can't be read: %v", err)
		}
	})
}
