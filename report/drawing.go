package report

import (
	"encoding/xml"
	"fmt"
	"hash/fnv"
	"math"
	"strconv"
	"strings"

	"github.com/go-pdf/fpdf"
)

// A drawing is a chart as shapes in one coordinate system, with what it shows in words. It becomes an SVG or a part of a
// page, and looks the same in both.
type drawing struct {
	width, height float64
	title, desc   string
	shapes        []shape
}

type shape interface {
	svg(b *strings.Builder)
	pdf(pdf *fpdf.Fpdf, left, top float64)
}

type point struct{ x, y float64 }

// shade is a grey from 0, black, to 255, white; none is not painted.
type shade int

const (
	none  shade = -1
	black shade = 0
	white shade = 255
)

// A path is a line through points, or an area when closed.
type path struct {
	points []point
	closed bool
	weight float64 // of the line; zero: no line
	ink    shade   // of the line; zero is black
	fill   shade
	dash   []float64
}

// A disc is a small circle.
type disc struct {
	at     point
	radius float64
	weight float64
	fill   shade
}

// A label is one line of text, placed by its baseline.
type label struct {
	at     point
	text   string
	size   float64
	bold   bool
	anchor anchor
}

type anchor int

const (
	start anchor = iota
	middle
	end
)

func (d *drawing) add(s ...shape) { d.shapes = append(d.shapes, s...) }

func (d *drawing) line(x1, y1, x2, y2, weight float64, dash ...float64) {
	d.add(path{points: []point{{x1, y1}, {x2, y2}}, weight: weight, fill: none, dash: dash})
}

func (d *drawing) rect(x, y, width, height, weight float64, fill shade) {
	d.add(path{points: []point{{x, y}, {x + width, y}, {x + width, y + height}, {x, y + height}}, closed: true, weight: weight, fill: fill})
}

func (d *drawing) text(x, y float64, text string, size float64, isBold bool, a anchor) {
	if text != "" {
		d.add(label{point{x, y}, text, size, isBold, a})
	}
}

// hatch fills a rectangle with slanted lines. They are lines and no pattern, so that they print the same everywhere.
func (d *drawing) hatch(x, y, width, height, step float64) {
	for c := step / 2; c < width+height; c += step {
		// the line from (x+c, y) down to the left, cut to the rectangle
		from, to := point{x + c, y}, point{x + c - height, y + height}
		if c > width {
			from = point{x + width, y + c - width}
		}
		if c < height {
			to = point{x, y + c}
		}
		d.add(path{points: []point{from, to}, weight: 0.5, fill: none})
	}
}

// SVG writes the drawing with a viewBox and no size of its own, so that it fills whatever room it is given.
func (d *drawing) SVG() []byte {
	id := d.id()
	var b strings.Builder
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %s %s" role="img" aria-labelledby="%s-t %s-d" font-family="Go, Helvetica, Arial, sans-serif" fill="#000" stroke-linejoin="round">`,
		num(d.width), num(d.height), id, id)
	fmt.Fprintf(&b, "\n<title id=\"%s-t\">%s</title>\n<desc id=\"%s-d\">%s</desc>\n", id, escaped(d.title), id, escaped(d.desc))
	fmt.Fprintf(&b, "<rect width=\"%s\" height=\"%s\" fill=\"#fff\"/>\n", num(d.width), num(d.height))
	for _, s := range d.shapes {
		s.svg(&b)
	}
	b.WriteString("</svg>\n")
	return []byte(b.String())
}

// id tells the title of one chart from that of another on the same page.
func (d *drawing) id() string {
	h := fnv.New32a()
	h.Write([]byte(d.title + "\n" + d.desc))
	return "c" + strconv.FormatUint(uint64(h.Sum32()), 36)
}

// place draws the whole on a page.
func (d *drawing) place(pdf *fpdf.Fpdf, left, top float64) {
	for _, s := range d.shapes {
		s.pdf(pdf, left, top)
	}
	pdf.SetDashPattern(nil, 0)
	pdf.SetDrawColor(0, 0, 0)
}

// num writes a coordinate in hundredths, which are finer than any screen or printer.
func num(x float64) string {
	return strconv.FormatFloat(math.Round(x*100)/100+0, 'f', -1, 64) // + 0 makes -0 plain
}

// escaped makes text safe inside SVG, whatever somebody called a probe.
func escaped(s string) string {
	var b strings.Builder
	_ = xml.EscapeText(&b, []byte(s)) // a strings.Builder takes everything
	return b.String()
}

func (s shade) hex() string {
	switch {
	case s == none:
		return "none"
	case s == black:
		return "#000"
	case s == white:
		return "#fff"
	}
	return fmt.Sprintf("#%02x%02x%02x", int(s), int(s), int(s))
}

func (p path) svg(b *strings.Builder) {
	b.WriteString(`<path d="`)
	for i, at := range p.points {
		switch i {
		case 0:
			b.WriteByte('M')
		case 1:
			b.WriteByte('L')
		default:
			b.WriteByte(' ')
		}
		b.WriteString(num(at.x))
		b.WriteByte(' ')
		b.WriteString(num(at.y))
	}
	if p.closed {
		b.WriteByte('Z')
	}
	b.WriteString(`" fill="` + p.fill.hex() + `"`)
	if p.weight > 0 {
		b.WriteString(` stroke="` + p.ink.hex() + `" stroke-width="` + num(p.weight) + `"`)
	}
	if len(p.dash) > 0 {
		b.WriteString(` stroke-dasharray="`)
		for i, x := range p.dash {
			if i > 0 {
				b.WriteByte(' ')
			}
			b.WriteString(num(x))
		}
		b.WriteByte('"')
	}
	b.WriteString("/>\n")
}

func (c disc) svg(b *strings.Builder) {
	line := ""
	if c.weight > 0 {
		line = ` stroke="#000" stroke-width="` + num(c.weight) + `"`
	}
	fmt.Fprintf(b, `<circle cx="%s" cy="%s" r="%s" fill="%s"%s/>`+"\n", num(c.at.x), num(c.at.y), num(c.radius), c.fill.hex(), line)
}

func (l label) svg(b *strings.Builder) {
	weight, place := "", ""
	if l.bold {
		weight = ` font-weight="bold"`
	}
	if l.anchor != start {
		place = ` text-anchor="` + [...]string{"start", "middle", "end"}[l.anchor] + `"`
	}
	// The length is fixed because every reader has other letters than these, and wider ones would run into each other.
	fmt.Fprintf(b, `<text x="%s" y="%s" font-size="%s"%s%s textLength="%s" lengthAdjust="spacingAndGlyphs">%s</text>`+"\n",
		num(l.at.x), num(l.at.y), num(l.size), weight, place, num(textWidth(l.text, l.size, l.bold)), escaped(l.text))
}

// operators of a PDF path: painted, outlined or both.
func operator(fill shade, weight float64) string {
	switch {
	case fill == none:
		return "D"
	case weight == 0:
		return "F"
	}
	return "DF"
}

func ink(pdf *fpdf.Fpdf, line, fill shade, weight float64, dash []float64) {
	pdf.SetDrawColor(int(line), int(line), int(line))
	pdf.SetLineWidth(weight)
	pdf.SetDashPattern(dash, 0)
	pdf.SetLineJoinStyle("round")
	if fill != none {
		pdf.SetFillColor(int(fill), int(fill), int(fill))
	}
}

func (p path) pdf(pdf *fpdf.Fpdf, left, top float64) {
	ink(pdf, p.ink, p.fill, p.weight, p.dash)
	for i, at := range p.points {
		if i == 0 {
			pdf.MoveTo(left+at.x, top+at.y)
			continue
		}
		pdf.LineTo(left+at.x, top+at.y)
	}
	if p.closed {
		pdf.ClosePath()
	}
	pdf.DrawPath(operator(p.fill, p.weight))
}

func (c disc) pdf(pdf *fpdf.Fpdf, left, top float64) {
	ink(pdf, black, c.fill, c.weight, nil)
	pdf.Circle(left+c.at.x, top+c.at.y, c.radius, operator(c.fill, c.weight))
}

func (l label) pdf(pdf *fpdf.Fpdf, left, top float64) {
	text, _ := printable(l.text)
	width := textWidth(text, l.size, l.bold)
	x := left + l.at.x - width*[...]float64{0, 0.5, 1}[l.anchor]
	write(pdf, x, top+l.at.y, style{l.size, l.bold}, text)
}
