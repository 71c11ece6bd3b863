package labels

import "slices"

// A page is one label laid out in printer dots, from its top left corner. Every format draws it as it stands.
type page struct {
	width, height int
	symbol        symbol
	bars          []bar // filled black, under the texts
	linear        []bar // the bars of the linear code
	texts         []text
}

// black gives everything black but the symbol.
func (p page) black() []bar { return slices.Concat(p.bars, p.linear) }

// A bar is a filled rectangle in dots.
type bar struct{ x, y, width, height int }

// A text is one line, placed by its baseline.
type text struct {
	line        string
	x, baseline float64
	em          float64
	bold, white bool
	centred     bool // between x and x plus its width: a printer with a narrower font centres it anew
}

func (t text) face() *typeface { return face(t.bold) }

// width is what the line measures in dots.
func (t text) width() float64 { return t.face().width(t.line) * t.em }

// An area is the part of a page that something is laid out into.
type area struct{ x, y, width, height float64 }

// cutTop takes a strip off the top of the area.
func (a area) cutTop(height float64) (strip, rest area) {
	return area{a.x, a.y, a.width, height}, area{a.x, a.y + height, a.width, a.height - height}
}

// inset makes an area smaller on all sides.
func (a area) inset(by float64) area {
	return area{a.x + by, a.y + by, a.width - 2*by, a.height - 2*by}
}

// write sets a fitted text into the area: centred in height, from the left or centred in width.
func (p *page) write(into area, content fitted, style cell) {
	line := content.em * lineHeight
	y := into.y + (into.height-line*float64(len(content.lines)))/2
	for _, s := range content.lines {
		t := text{line: s, x: into.x, baseline: y + inkAbove*content.em, em: content.em,
			bold: style.bold, white: style.white, centred: style.centred}
		if style.centred {
			t.x += (into.width - t.width()) / 2
		}
		p.texts = append(p.texts, t)
		y += line
	}
}

// fill blackens an area, kept to whole dots inside it.
func (p *page) fill(a area) {
	x, y := int(a.x+0.99), int(a.y+0.99)
	p.bars = append(p.bars, bar{x, y, int(a.x+a.width) - x, int(a.y+a.height) - y})
}
