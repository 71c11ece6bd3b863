package labels

import (
	"bytes"
	"context"
	"encoding/binary"
	"encoding/xml"
	"errors"
	"fmt"
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// svgFile is what the tests read of an SVG.
type svgFile struct {
	Width   string `xml:"width,attr"`
	Height  string `xml:"height,attr"`
	ViewBox string `xml:"viewBox,attr"`
	Groups  []struct {
		Class     string `xml:"class,attr"`
		Rendering string `xml:"shape-rendering,attr"`
		Rects     []struct {
			X      int `xml:"x,attr"`
			Y      int `xml:"y,attr"`
			Width  int `xml:"width,attr"`
			Height int `xml:"height,attr"`
		} `xml:"rect"`
		Texts []struct {
			X      float64 `xml:"x,attr"`
			Length float64 `xml:"textLength,attr"`
			Line   string  `xml:",chardata"`
		} `xml:"text"`
	} `xml:"g"`
}

func readSVG(t testing.TB, raw []byte) (file svgFile) {
	t.Helper()
	if err := xml.Unmarshal(raw, &file); err != nil {
		t.Fatalf("%v in\n%s", err, raw)
	}
	return file
}

func TestSVGDrawsTheMatrix(t *testing.T) {
	t.Parallel()
	eachStock(t, func(t *testing.T, size Size, dpi int) {
		raw, err := SVG(longSpanish(), size, dpi)
		if err != nil {
			t.Fatal(err)
		}
		file, s := readSVG(t, raw), mustLayOut(t, longSpanish(), size, dpi).symbol
		if want := fmt.Sprintf("%smm by %smm", short(size.WidthMM), short(size.HeightMM)); file.Width+" by "+file.Height != want {
			t.Errorf("%s by %s, want %s", file.Width, file.Height, want)
		}
		qr := file.Groups[1]
		if qr.Class != "qr" || qr.Rendering != "crispEdges" {
			t.Errorf("the second group is %q drawn with %q", qr.Class, qr.Rendering)
		}
		drawn := make([][]bool, len(s.modules))
		for i := range drawn {
			drawn[i] = make([]bool, len(s.modules))
		}
		for _, r := range qr.Rects {
			for x := r.X; x < r.X+r.Width; x += s.dots {
				drawn[(r.Y-s.y)/s.dots][(x-s.x)/s.dots] = true
			}
		}
		if diff := cmp.Diff(s.modules, drawn); diff != "" {
			t.Errorf("modules (-want +got):\n%s", diff)
		}
	})
}

func TestSVGEscapesMarkup(t *testing.T) {
	t.Parallel()
	l := plainLabel()
	l.Crop, l.URL = `<script>"&'`, `HTTPS://A.EXAMPLE/<B>&"C"`
	raw, err := SVG(l, mustSize(t, "4x2in"), 203)
	if err != nil {
		t.Fatal(err)
	}
	if bytes.Contains(raw, []byte("<script")) {
		t.Errorf("markup came through:\n%s", raw)
	}
	if line := readSVG(t, raw).Groups[2].Texts[0].Line; line != l.Crop {
		t.Errorf("the crop reads %q, want %q", line, l.Crop)
	}
}

// The PNG specification, pHYs: pixels per unit for both axes, then 1 for the metre. 203 dpi are 7992 dots per metre.
func TestPNGSaysItsResolution(t *testing.T) {
	t.Parallel()
	raw, err := PNG(plainLabel(), mustSize(t, "2x1in"), 203)
	if err != nil {
		t.Fatal(err)
	}
	at := bytes.Index(raw, []byte("pHYs"))
	if at < 0 {
		t.Fatal("no pHYs chunk")
	}
	if got := binary.BigEndian.Uint32(raw[at+4:]); got != 7992 || raw[at+12] != 1 {
		t.Errorf("%d dots per unit %d, want 7992 per metre", got, raw[at+12])
	}
}

// zplLine is every command that a label may contain; data fields hold no character that begins a command.
var zplLine = regexp.MustCompile(`^(\^XA|\^XZ|\^CI28|\^PW\d+|\^LL\d+|\^LH0,0|\^FO\d+,\d+\^GB\d+,\d+,\d+\^FS` +
	`|\^FO\d+,\d+\^BQN,2,([1-9]|10)\^FH_\^FD[HQM]A,[^\^~]+\^FS` +
	`|\^FT\d+,\d+\^A0N,\d+,\d+(\^FB\d+,1,0,C)?(\^FR)?\^FH_\^FD[^\^~]+\^FS)$`)

var zplEscape = regexp.MustCompile(`_5E|_7E|_5F`)

// zplData gives the data fields of a label with their escapes undone.
func zplData(zpl []byte) (fields []string) {
	for _, field := range regexp.MustCompile(`\^FD([^\^]*)\^FS`).FindAllSubmatch(zpl, -1) {
		fields = append(fields, zplEscape.ReplaceAllStringFunc(string(field[1]), func(s string) string {
			return map[string]string{"_5E": "^", "_7E": "~", "_5F": "_"}[s]
		}))
	}
	return fields
}

func TestZPLTextCannotCommandThePrinter(t *testing.T) {
	t.Parallel()
	text := rapid.OneOf(rapid.StringMatching(`(\^XZ|~JR|\^XA|_5E|_|\^FS|ñ| |a|\n|\\&){1,8}`), rapid.String())
	rapid.Check(t, func(rt *rapid.T) {
		l := plainLabel()
		l.Held = rapid.Bool().Draw(rt, "held")
		l.URL = rapid.StringMatching(`HTTPS://[!-~]{1,20}`).Draw(rt, "link")
		l.Crop, l.Farm, l.Status = text.Draw(rt, "crop"), text.Draw(rt, "farm"), text.Draw(rt, "status")
		size := rapid.SampledFrom(Sizes()).Draw(rt, "size")
		zpl, err := ZPL(l, size, 203)
		if err != nil {
			rt.Fatal(err)
		}
		for _, line := range strings.Split(strings.TrimSuffix(string(zpl), "\n"), "\n") {
			if !zplLine.MatchString(line) {
				rt.Errorf("not a line that a label may have: %q", line)
			}
		}
		if link := zplData(zpl)[0]; link[1:] != "A,"+l.URL {
			rt.Errorf("the symbol holds %q, want a level and A,%s", link, l.URL)
		}
	})
}

// ZPL II, ^BQ: model 2, the error correction level and A for automatic mode lead the data, or its first characters are
// taken for them.
func TestZPLSaysTheSame(t *testing.T) {
	t.Parallel()
	eachStock(t, func(t *testing.T, size Size, dpi int) {
		for name, l := range variants() {
			zpl, err := ZPL(l, size, dpi)
			if err != nil {
				t.Fatal(err)
			}
			p, err := layOut(l, size, dpi, thermalPrinter)
			if err != nil {
				t.Fatal(err)
			}
			want := []string{p.symbol.level + "A," + l.URL}
			for _, line := range p.texts {
				want = append(want, line.line)
			}
			if diff := cmp.Diff(want, zplData(zpl)); diff != "" {
				t.Errorf("%s (-want +got):\n%s", name, diff)
			}
			if l.Held && !bytes.Contains(zpl, []byte("^FR^FH_^FD"+wordsIn(l.Language).hold+"^FS")) {
				t.Errorf("%s: the hold does not stand white on black:\n%s", name, zpl)
			}
		}
	})
}

func TestPDFReportsProgressAndStops(t *testing.T) {
	t.Parallel()
	const crates = 500
	labels := make([]Label, crates)
	for i := range labels {
		labels[i] = plainLabel()
		labels[i].Number, labels[i].Of = i+1, crates
	}
	size := mustSize(t, "4x2in")
	var out bytes.Buffer
	seen := 0
	err := PDF(context.Background(), &out, size, 203, labels, WithProgress(func(done, total int) {
		if seen++; done != seen || total != crates {
			t.Errorf("told %d of %d, want %d of %d", done, total, seen, crates)
		}
	}))
	if err != nil || seen != crates || out.Len() == 0 {
		t.Errorf("%d of %d labels told, %d bytes, %v", seen, crates, out.Len(), err)
	}

	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	out.Reset()
	err = PDF(ctx, &out, size, 203, labels, WithProgress(func(done, _ int) {
		if seen = done; done == 10 {
			cancel()
		}
	}))
	if !errors.Is(err, context.Canceled) || seen != 10 || out.Len() != 0 {
		t.Errorf("stopped after %d labels with %d bytes written and %v", seen, out.Len(), err)
	}
}
