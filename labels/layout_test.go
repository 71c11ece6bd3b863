package labels

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// inkOf is the box that the ink of a line stays in.
func inkOf(t text) area {
	return area{t.x, t.baseline - inkAbove*t.em, t.width(), lineHeight * t.em}
}

func (a area) meets(b area) bool {
	const hair = 0.01
	return a.x+a.width > b.x+hair && b.x+b.width > a.x+hair && a.y+a.height > b.y+hair && b.y+b.height > a.y+hair
}

func (a area) holds(b area) bool {
	const hair = 0.01
	return b.x >= a.x-hair && b.y >= a.y-hair && b.x+b.width <= a.x+a.width+hair && b.y+b.height <= a.y+a.height+hair
}

func symbolWithQuietZone(s symbol) area {
	side := float64(s.side() + 2*s.quiet())
	return area{float64(s.x - s.quiet()), float64(s.y - s.quiet()), side, side}
}

// checkBoxes finds every text that leaves its label, or runs into the symbol or into another text.
func checkBoxes(t interface{ Errorf(string, ...any) }, p page, dpi int) {
	paper := area{0, 0, float64(p.width), float64(p.height)}
	symbol := symbolWithQuietZone(p.symbol)
	if !paper.holds(symbol) {
		t.Errorf("symbol %+v leaves the label %+v", symbol, paper)
	}
	printable := paper.inset(float64(dots(marginMM, dpi)))
	for i, line := range p.texts {
		ink := inkOf(line)
		if !printable.holds(ink) {
			t.Errorf("%q at %+v leaves the label %+v", line.line, ink, printable)
		}
		if symbol.meets(ink) {
			t.Errorf("%q at %+v runs into the symbol at %+v", line.line, ink, symbol)
		}
		for _, other := range p.texts[i+1:] {
			if ink.meets(inkOf(other)) {
				t.Errorf("%q and %q overlap", line.line, other.line)
			}
		}
		for _, b := range p.bars {
			black := area{float64(b.x), float64(b.y), float64(b.width), float64(b.height)}
			if line.white && !black.holds(ink) || !line.white && black.meets(ink) {
				t.Errorf("%q at %+v and the black bar %+v do not go together", line.line, ink, black)
			}
			if symbol.meets(black) {
				t.Errorf("the black bar %+v runs into the symbol at %+v", black, symbol)
			}
		}
	}
}

func TestNothingRunsOffTheLabel(t *testing.T) {
	t.Parallel()
	eachStock(t, func(t *testing.T, size Size, dpi int) {
		for _, l := range variants() {
			for _, by := range []drawer{ourselves, thermalPrinter} {
				p, err := layOut(l, size, dpi, by)
				if err != nil {
					t.Fatal(err)
				}
				checkBoxes(t, p, dpi)
			}
		}
	})
}

func TestNoNameRunsOffTheLabel(t *testing.T) {
	t.Parallel()
	name := rapid.OneOf(rapid.String(), rapid.StringMatching(`([A-ZÁÑÜ]?[a-zñáü]{0,18} ){0,9}`), rapid.StringMatching(`W{0,90}`))
	rapid.Check(t, func(rt *rapid.T) {
		l := plainLabel()
		for _, field := range []*string{&l.Crop, &l.LotCode, &l.CrateCode, &l.NetWeight, &l.Farm, &l.Place, &l.Bed, &l.Status} {
			*field = name.Draw(rt, "text")
		}
		l.Held = rapid.Bool().Draw(rt, "held")
		size := rapid.SampledFrom(Sizes()).Draw(rt, "size")
		p, err := layOut(l, size, 203, ourselves)
		if err != nil {
			rt.Fatal(err)
		}
		checkBoxes(rt, p, 203)
	})
}

// The widths that the layout measures must be the ones that the PDF draws with.
func TestMeasuresAsThePDFDoes(t *testing.T) {
	t.Parallel()
	doc := newDocument(Sheet{WidthMM: 100, HeightMM: 100}, 203, sample.CutOn.Time())
	for _, line := range []string{"Radish, Cherry Belle", "26219-L3-RAD-1-SS", "ÑANDÚ ñandú áéíóúü¿¡", "WWWWiiii… 0O1lI"} {
		for _, isBold := range []bool{false, true} {
			drawn := text{line: line, em: 100, bold: isBold}
			doc.pdf.SetFont(fontFamily, drawn.style(), 100)
			if pdf, ours := doc.pdf.GetStringWidth(line), drawn.width(); math.Abs(pdf-ours) > ours/200 {
				t.Errorf("%q: %.1f points in the PDF, measured as %.1f", line, pdf, ours)
			}
		}
	}
	if err := doc.pdf.Error(); err != nil {
		t.Fatal(err)
	}
}

// textOf joins what is printed, in reading order.
func textOf(p page) string {
	var lines []string
	for _, t := range p.texts {
		lines = append(lines, t.line)
	}
	return strings.Join(lines, " ")
}

// "Everything needed for a trace must be readable without a scanner."
func TestTraceIsReadableWithoutScanner(t *testing.T) {
	t.Parallel()
	eachStock(t, func(t *testing.T, size Size, dpi int) {
		printed := textOf(mustLayOut(t, heldLabel(), size, dpi))
		for _, words := range []string{"HOLD: DO NOT SHIP", "Radish", "Lot 26219-L3-RAD-1-SS", "26219-L3-RAD-1-C3-SC", "Cut 2026-08-07",
			"Packed 2026-08-08", "Net 20 lb", "Bed Lower 3", "ORGANIC", "Crate 3 of 12", "Sample farm", "Anywhere"} {
			if !strings.Contains(printed, words) {
				t.Errorf("%q is not on the label: %s", words, printed)
			}
		}
		spanish := textOf(mustLayOut(t, longSpanish(), size, dpi))
		for _, words := range []string{"RETENIDO: NO ENVIAR", "Ñame morado", "Lote 26219-CN4-NAM-12-ZZ", "26219-CN4-NAM-12-C112-0X",
			"Corte 2026-08-07", "Empaque 2026-08-08", "Neto 12.5 kg", "ORGÁNICO", "Caja 112 de 500", "Cooperativa", "San Cristóbal"} {
			if !strings.Contains(spanish, words) {
				t.Errorf("%q is not on the label: %s", words, spanish)
			}
		}
	})
}

func TestCropIsTheLargestText(t *testing.T) {
	t.Parallel()
	eachStock(t, func(t *testing.T, size Size, dpi int) {
		p := mustLayOut(t, plainLabel(), size, dpi)
		for _, other := range p.texts[1:] {
			if other.em >= p.texts[0].em {
				t.Errorf("%q is as large as the crop %q", other.line, p.texts[0].line)
			}
		}
		if tall := p.texts[0].em / float64(dpi) * 25.4; tall < 4 {
			t.Errorf("the crop is only %.1f mm high", tall)
		}
	})
}

func TestPrintable(t *testing.T) {
	t.Parallel()
	for in, want := range map[string]string{
		"n\u0303ame":           "ñame", // composed: the font has no combining accents
		" two\r\n lines\t":     "two lines",
		"bell\a\u202e":         "bell",
		"大根":                   "??",
		"broken \xff":          "broken ?",
		"Ñandú “A” – 20 °C, €": "Ñandú “A” – 20 °C, €",
	} {
		if got := printable(in); got != want {
			t.Errorf("printable(%q) = %q, want %q", in, got, want)
		}
	}
}

func TestLongNamesShrinkThenShorten(t *testing.T) {
	t.Parallel()
	const width, height, least = 100, 20, 8
	for _, row := range []struct {
		name, in, want string
		shrunk         bool
	}{
		{"short", "Kale", "Kale", false},
		{"longer", "Kale, lacinato", "Kale, lacinato", true},
		{"too long", "Kale, lacinato, from the lower field", "Kale, lacinato, from the…", true},
	} {
		got := fit(row.in, bold(), width, height, 1, least)
		if strings.Join(got.lines, "|") != row.want {
			t.Errorf("%s: %q, want %q", row.name, got.lines, row.want)
		}
		if shrunk := got.em < height/lineHeight; shrunk != row.shrunk || got.em < least {
			t.Errorf("%s: em %.1f", row.name, got.em)
		}
	}
	if got := fit("26219-L3-RAD-1-SS and more", bold(), width, height, 1, 0); strings.Contains(got.lines[0], ellipsis) {
		t.Errorf("a text without a least size was shortened: %q", got.lines)
	}
}
