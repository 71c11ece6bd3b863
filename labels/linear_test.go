package labels

import (
	"bytes"
	"image"
	"image/draw"
	"image/png"
	"strings"
	"testing"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/oned"
	"github.com/makiuchi-d/gozxing/qrcode"

	"croftmark/domain"
)

// numbered is a label with GS1 numbers of the prefix that is kept for examples.
func numbered(t testing.TB, l Label) Label {
	t.Helper()
	prefix, err := domain.ParseGS1Prefix("9521321")
	if err != nil {
		t.Fatal(err)
	}
	numbers, err := domain.GS1Label(prefix, "00101", l.LotCode, l.CrateCode, "HTTPS://BOOK.EXAMPLE.ORG/L/K7M2Q4X")
	if err != nil {
		t.Fatal(err)
	}
	own := l.CrateCode
	if own == "" {
		own = l.LotCode
	}
	l.ShortURL = "HTTPS://BOOK.EXAMPLE.ORG/L/K7M2Q4X/" + own
	l.URL, l.Linear = numbers.Link, LinearCode{Data: numbers.Element.Data, Human: numbers.Element.Human}
	return l
}

func numberedVariants(t testing.TB) map[string]Label {
	longest := plainLabel()
	longest.LotCode, longest.CrateCode = "26219-CNT42-NAM-1-ZZ", "26219-CNT42-NAM-1-C120-8H" // 20 characters each, without hyphens for the crate
	shortest := plainLabel()
	shortest.LotCode, shortest.CrateCode = "P26221-SAL-1-4X", ""
	return map[string]Label{"plain": numbered(t, plainLabel()), "held": numbered(t, heldLabel()), "spanish": numbered(t, longSpanish()),
		"longest": numbered(t, longest), "pack": numbered(t, shortest)}
}

// sizesWithBars have room for any lot of this book.
var sizesWithBars = map[string]bool{"4x2in": true, "4x6in": true, "sheet-10": true}

func decodePNG(t *testing.T, l Label, size Size, dpi int) image.Image {
	t.Helper()
	raw, err := PNG(l, size, dpi)
	if err != nil {
		t.Fatal(err)
	}
	picture, err := png.Decode(bytes.NewReader(raw))
	if err != nil {
		t.Fatal(err)
	}
	return picture
}

// readQR reads the QR symbol cut out of the picture with its quiet zone: this decoder loses its way to some symbols on a
// whole label. The tests with outside tools find it there.
func readQR(t *testing.T, picture image.Image, s symbol) (string, error) {
	t.Helper()
	zone := image.Rect(s.x, s.y, s.x+s.side(), s.y+s.side()).Inset(-s.quiet())
	cut := image.NewGray(image.Rectangle{Max: zone.Size()})
	draw.Draw(cut, cut.Rect, picture, zone.Min, draw.Src)
	bitmap, err := gozxing.NewBinaryBitmapFromImage(cut)
	if err != nil {
		t.Fatal(err)
	}
	result, err := qrcode.NewQRCodeReader().Decode(bitmap, map[gozxing.DecodeHintType]any{gozxing.DecodeHintType_PURE_BARCODE: true})
	if err != nil {
		return "", err
	}
	return result.GetText(), nil
}

func readSymbol(t *testing.T, reader gozxing.Reader, picture image.Image) (string, error) {
	t.Helper()
	bitmap, err := gozxing.NewBinaryBitmapFromImage(picture)
	if err != nil {
		t.Fatal(err)
	}
	hints := map[gozxing.DecodeHintType]any{gozxing.DecodeHintType_TRY_HARDER: true, gozxing.DecodeHintType_ASSUME_GS1: true}
	result, err := reader.Decode(bitmap, hints)
	if err != nil {
		return "", err
	}
	return result.GetText(), nil
}

func TestNumberedLabelReadsBack(t *testing.T) {
	t.Parallel()
	eachStock(t, func(t *testing.T, size Size, dpi int) {
		for name, l := range numberedVariants(t) {
			picture := decodePNG(t, l, size, dpi)
			link, err := readQR(t, picture, mustLayOut(t, l, size, dpi).symbol)
			if want := mustQRText(t, l, size, dpi); err != nil || link != want {
				t.Errorf("%s: the QR symbol reads %q, %v; want %q", name, link, err, want)
			}
			if !sizesWithBars[size.Name] {
				continue
			}
			bars, err := readSymbol(t, oned.NewCode128Reader(), picture)
			if err != nil || bars != "]C1"+l.Linear.Data {
				t.Errorf("%s: the bars read %q, %v; want ]C1%s", name, bars, err, l.Linear.Data)
				continue
			}
			if element, err := domain.ParseGS1128(bars); err != nil || element.Human != l.Linear.Human {
				t.Errorf("%s: %q, %v; want %q", name, element.Human, err, l.Linear.Human)
			}
		}
	})
}

func mustQRText(t *testing.T, l Label, size Size, dpi int) string {
	t.Helper()
	text, err := QRText(l, size, dpi, false)
	if err != nil {
		t.Fatal(err)
	}
	return text
}

// A long link is given up for the short one only where it would cost the level that survives a scratch.
func TestShortLinkWhereTheLongOneHasNoRoom(t *testing.T) {
	t.Parallel()
	eachStock(t, func(t *testing.T, size Size, dpi int) {
		for name, l := range numberedVariants(t) {
			for _, by := range []drawer{ourselves, thermalPrinter} {
				p, err := layOut(l, size, dpi, by)
				if err != nil {
					t.Fatal(err)
				}
				if p.symbol.level == "M" {
					t.Errorf("%s: level M with a short link at hand", name)
				}
				alone := l
				alone.ShortURL = ""
				long, err := layOut(alone, size, dpi, by)
				if fits := err == nil && long.symbol.level != "M"; fits != (p.symbol.url == l.URL) {
					t.Errorf("%s: the long link fits: %t; the symbol holds %s", name, fits, p.symbol.url)
				}
				if text, err := QRText(l, size, dpi, by != ourselves); err != nil || text != p.symbol.url {
					t.Errorf("%s: QRText says %q, %v; the symbol holds %q", name, text, err, p.symbol.url)
				}
			}
		}
	})
	l, small := numbered(t, heldLabel()), mustSize(t, "2x1in")
	if text, err := QRText(l, small, 203, true); err != nil || text != l.ShortURL {
		t.Errorf("a held label of two inches holds %q, %v", text, err)
	}
	l.ShortURL = "not a link"
	_, err := QRText(l, small, 203, true)
	wantRefusal(t, "short link", err, "plain characters")
}

func TestBarsAreWholeDotsWithQuietZone(t *testing.T) {
	t.Parallel()
	eachStock(t, func(t *testing.T, size Size, dpi int) {
		for name, l := range numberedVariants(t) {
			for _, by := range []drawer{ourselves, thermalPrinter} {
				p, err := layOut(l, size, dpi, by)
				if err != nil {
					t.Fatal(err)
				}
				bars := p.linear
				p.linear = nil
				checkBoxes(t, p, dpi)
				if !strings.Contains(textOf(p), l.Linear.Human) {
					t.Errorf("%s: %s is not printed: %s", name, l.Linear.Human, textOf(p))
				}
				if sizesWithBars[size.Name] != (len(bars) > 0) && size.Name != "3x2in" {
					t.Errorf("%s: %d bars", name, len(bars))
				}
				if len(bars) > 0 {
					checkBars(t, name, bars, p, dpi)
				}
			}
		}
	})
}

// checkBars measures the symbol. Every Code 128 symbol begins with a bar of two modules (start C: 2 1 1 2 3 2).
func checkBars(t *testing.T, name string, bars []bar, p page, dpi int) {
	t.Helper()
	dot, last := bars[0].width/2, bars[len(bars)-1]
	if mm := float64(dot) / float64(dpi) * 25.4; mm < 0.2495 || mm > widestBarMM {
		t.Errorf("%s: modules are %.3f mm wide", name, mm)
	}
	zone := area{float64(bars[0].x - 10*dot), float64(bars[0].y), float64(last.x + last.width - bars[0].x + 20*dot), float64(last.height)}
	if !(area{0, 0, float64(p.width), float64(p.height)}).holds(zone) {
		t.Errorf("%s: the quiet zone %+v leaves the label", name, zone)
	}
	if zone.height < float64(dots(leastBarsMM, dpi)) {
		t.Errorf("%s: the bars are %.0f dots high", name, zone.height)
	}
	for _, b := range bars {
		if b.width%dot != 0 || (b.x-bars[0].x)%dot != 0 || b.y != bars[0].y || b.height != last.height {
			t.Errorf("%s: %+v is not made of modules of %d dots", name, b, dot)
		}
	}
	if zone.meets(symbolWithQuietZone(p.symbol)) {
		t.Errorf("%s: the bars %+v run into the QR symbol", name, zone)
	}
	for _, line := range p.texts {
		if zone.meets(inkOf(line)) {
			t.Errorf("%s: %q runs into the bars", name, line.line)
		}
	}
}

// Traceability reference 2.4 [measured with another encoder]: (01) with a lot of 11 characters is 266 modules, with (13)
// 310, an SSCC 156.
func TestLinearWidths(t *testing.T) {
	t.Parallel()
	for data, want := range map[string]int{"011952132100101210SPN260615-A": 266, "01195213210010121326061510SPN260615-A": 310,
		"00095213210000003170": 156} {
		if modules, err := encodeLinear(data); err != nil || len(modules) != want {
			t.Errorf("%s: %d modules, %v; want %d", data, len(modules), err, want)
		}
	}
	for _, bad := range []string{"01ñ", "10A\x00", "10A B", strings.Repeat("A", 90)} {
		_, err := encodeLinear(bad)
		wantRefusal(t, bad, err, "can't hold")
	}
}

// A separator inside comes back as the character that scanners hand over.
func TestLinearCarriesSeparators(t *testing.T) {
	t.Parallel()
	l := plainLabel()
	l.Linear = LinearCode{Data: "011952132100101210A-1\x1d422840", Human: "(01)19521321001012(10)A-1(422)840"}
	got, err := readSymbol(t, oned.NewCode128Reader(), decodePNG(t, l, mustSize(t, "4x2in"), 203))
	if err != nil || got != "]C1"+l.Linear.Data {
		t.Errorf("%q, %v", got, err)
	}
}

// Every format draws the same bars.
func TestEveryFormatDrawsTheBars(t *testing.T) {
	t.Parallel()
	l, size := numbered(t, plainLabel()), mustSize(t, "4x2in")
	p := mustLayOut(t, l, size, 203)
	svg, err := SVG(l, size, 203)
	if err != nil {
		t.Fatal(err)
	}
	rects := readSVG(t, svg).Groups[0].Rects
	for i, b := range p.linear {
		if i >= len(rects) || (bar{rects[i].X, rects[i].Y, rects[i].Width, rects[i].Height}) != b {
			t.Fatalf("SVG: bar %d %+v is not drawn", i, b)
		}
	}
	zpl, err := ZPL(l, size, 203)
	if err != nil {
		t.Fatal(err)
	}
	if n := bytes.Count(zpl, []byte("^GB")); n != len(p.linear) {
		t.Errorf("ZPL: %d bars, want %d", n, len(p.linear))
	}
	for _, line := range strings.Split(strings.TrimSuffix(string(zpl), "\n"), "\n") {
		if !zplLine.MatchString(line) {
			t.Errorf("not a line that a label may have: %q", line)
		}
	}
}
