package labels

import (
	"sync"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// The Go fonts carry Latin with all its accents, tell 0 from O and 1 from l, and may be embedded: BSD licence.
var (
	regular = sync.OnceValue(func() *typeface { return readTypeface(goregular.TTF) })
	bold    = sync.OnceValue(func() *typeface { return readTypeface(gobold.TTF) })
)

// A typeface knows how wide its letters are.
type typeface struct {
	ttf     []byte
	font    *sfnt.Font
	advance map[rune]float64 // in ems
}

// The ink of a line in ems above and below its baseline: room for the accent on Ñ and for the tail of g.
const (
	inkAbove = 0.96
	inkBelow = 0.22
)

// lastRune is the end of what the Go fonts cover.
const lastRune = 0x2FFF

// readTypeface panics on a broken font: the fonts are compiled in, and a test reads both.
func readTypeface(ttf []byte) *typeface {
	parsed, err := sfnt.Parse(ttf)
	if err != nil {
		panic(err)
	}
	face := &typeface{ttf: ttf, font: parsed, advance: map[rune]float64{}}
	unitsPerEm := fixed.Int26_6(parsed.UnitsPerEm()) << 6
	var buffer sfnt.Buffer
	for r := rune(' '); r <= lastRune; r++ {
		glyph, err := parsed.GlyphIndex(&buffer, r)
		if err != nil || glyph == 0 {
			continue
		}
		width, err := parsed.GlyphAdvance(&buffer, glyph, unitsPerEm, font.HintingNone)
		if err == nil {
			face.advance[r] = float64(width) / float64(unitsPerEm)
		}
	}
	return face
}

func face(isBold bool) *typeface {
	if isBold {
		return bold()
	}
	return regular()
}

// width measures a line in ems.
func (f *typeface) width(line string) float64 {
	sum := 0.0
	for _, r := range line {
		sum += f.advance[r]
	}
	return sum
}

func hasGlyph(r rune) bool {
	_, inRegular := regular().advance[r]
	_, inBold := bold().advance[r]
	return inRegular && inBold
}
