package report

import (
	"strings"
	"sync"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// The Go fonts, as on the labels: Latin with all its accents, 0 unlike O, BSD licence.
var (
	regular = sync.OnceValue(func() typeface { return readTypeface(goregular.TTF) })
	bold    = sync.OnceValue(func() typeface { return readTypeface(gobold.TTF) })
)

// typeface is how wide each letter is, in ems.
type typeface map[rune]float64

// lastRune is the end of what the Go fonts cover.
const lastRune = 0x2FFF

// missingGlyph stands for a letter that the fonts do not have.
const missingGlyph = '□'

// readTypeface panics on a broken font: the fonts are compiled in, and every test reads both.
func readTypeface(ttf []byte) typeface {
	parsed, err := sfnt.Parse(ttf)
	if err != nil {
		panic(err)
	}
	face := typeface{}
	unitsPerEm := fixed.Int26_6(parsed.UnitsPerEm()) << 6
	var buffer sfnt.Buffer
	for r := rune(' '); r <= lastRune; r++ {
		glyph, err := parsed.GlyphIndex(&buffer, r)
		if err != nil || glyph == 0 {
			continue
		}
		width, err := parsed.GlyphAdvance(&buffer, glyph, unitsPerEm, font.HintingNone)
		if err == nil {
			face[r] = float64(width) / float64(unitsPerEm)
		}
	}
	return face
}

// textWidth measures a line of text of a size.
func textWidth(line string, size float64, isBold bool) float64 {
	face := regular()
	if isBold {
		face = bold()
	}
	sum := 0.0
	for _, r := range line {
		sum += face[r]
	}
	return sum * size
}

// combined joins a letter and the accent that was typed after it, as some keyboards do.
var combined = strings.NewReplacer(
	"a\u0301", "á", "e\u0301", "é", "i\u0301", "í", "o\u0301", "ó", "u\u0301", "ú", "n\u0303", "ñ", "u\u0308", "ü",
	"A\u0301", "Á", "E\u0301", "É", "I\u0301", "Í", "O\u0301", "Ó", "U\u0301", "Ú", "N\u0303", "Ñ", "U\u0308", "Ü")

// printable is the text with a box for every letter that the fonts do not have; missing counts them. Line ends stay.
func printable(s string) (out string, missing int) {
	var b strings.Builder
	for _, r := range combined.Replace(s) {
		_, known := regular()[r]
		switch {
		case r == '\r':
		case r == '\t', r == '\u00a0', r == '\u202f':
			b.WriteByte(' ')
		case known, r == '\n':
			b.WriteRune(r)
		default:
			b.WriteRune(missingGlyph)
			missing++
		}
	}
	return b.String(), missing
}

// wrap breaks a text into lines of a width: at blanks, and inside a word that is wider than the line.
func wrap(s string, width, size float64, isBold bool) (lines []string) {
	for _, paragraph := range strings.Split(s, "\n") {
		line := ""
		for _, word := range strings.Fields(paragraph) {
			if line != "" && textWidth(line+" "+word, size, isBold) <= width {
				line += " " + word
				continue
			}
			if line != "" {
				lines = append(lines, line)
			}
			pieces := breakWord(word, width, size, isBold)
			lines = append(lines, pieces[:len(pieces)-1]...)
			line = pieces[len(pieces)-1]
		}
		lines = append(lines, line)
	}
	return lines
}

// breakWord cuts a word into pieces that fit, at least a letter each.
func breakWord(word string, width, size float64, isBold bool) (pieces []string) {
	start, used := 0, 0.0
	for i, r := range word {
		w := textWidth(string(r), size, isBold)
		if i > start && used+w > width {
			pieces = append(pieces, word[start:i])
			start, used = i, 0
		}
		used += w
	}
	return append(pieces, word[start:])
}

// cut shortens a line to a width and marks that it did.
func cut(s string, width, size float64, isBold bool) string {
	if textWidth(s, size, isBold) <= width {
		return s
	}
	letters := []rune(s)
	for len(letters) > 1 && textWidth(string(letters)+"…", size, isBold) > width {
		letters = letters[:len(letters)-1]
	}
	return strings.TrimRight(string(letters), " ") + "…"
}
