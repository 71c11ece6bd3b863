package report

import (
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/go-pdf/fpdf"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"

	"croftmark/domain"
)

const (
	fontFamily = "Go"
	margin     = 45.0 // room for the holes of a binder
	leading    = 1.25 // from line to line, in sizes
	bodySize   = 8.5
	smallSize  = 7.0
	qrSide     = 66.0
)

// A layout is a paper before it is laid on pages.
type layout struct {
	paper         Paper
	zone          *time.Location
	title, period string
	body          func(*document)
}

// write refuses a paper that lacks its farm or its time. Nothing is written to w unless the whole paper was laid out.
func (l layout) write(w io.Writer) error {
	if err := l.paper.check(); err != nil {
		return err
	}
	d := newDocument(l)
	l.body(d)
	if missing := d.missing; missing > 0 { // the box of gaps comes early and tells about the whole paper
		d = newDocument(l)
		d.boxes = missing
		l.body(d)
	}
	return d.output(w)
}

// A mark is one thing drawn on a page.
type mark func(pdf *fpdf.Fpdf)

// A document lays a paper out page by page. Pages are lists of marks and become a PDF at the end, when it is known how
// many there are.
type document struct {
	paper   Paper
	zone    *time.Location
	title   string
	period  string
	size    PageSize
	pages   [][]mark
	y       float64 // where the next block begins
	top     float64 // of the body, below the header
	bottom  float64 // of the body, above the footer
	pending string  // the heading of the next block
	missing int     // letters met so far that the fonts do not have
	boxes   int     // how many there are in the whole paper
	say     func(en, es string, args ...any) string
}

func newDocument(l layout) *document {
	p := l.paper
	d := &document{paper: p, zone: l.zone, size: p.size(), say: p.tongue().say}
	d.title, d.period = d.clean(l.title), d.clean(l.period)
	d.paper.Farm, d.paper.Address = d.clean(p.Farm), d.clean(p.Address)
	d.top = d.header(nil) + 10
	d.bottom = d.size.Height - 24 - qrSide - 10
	d.newPage()
	return d
}

// clean makes text printable and remembers how much was not.
func (d *document) clean(s string) string {
	out, missing := printable(s)
	d.missing += missing
	return out
}

func (d *document) width() float64 { return d.size.Width - 2*margin }

func (d *document) newPage() {
	d.pages = append(d.pages, nil)
	d.y = d.top
}

// need begins a new page unless so much room is left, and draws the heading that waits. What is higher than a page
// begins on a new one.
func (d *document) need(height float64) { d.head(height) }

func (d *document) room(height float64) {
	if d.y+height > d.bottom && d.y > d.top {
		d.newPage()
	}
}

func (d *document) draw(m mark) {
	last := len(d.pages) - 1
	d.pages[last] = append(d.pages[last], m)
}

// style is how a text looks.
type style struct {
	size float64
	bold bool
}

func (s style) line() float64 { return s.size * leading }

func write(pdf *fpdf.Fpdf, x, baseline float64, s style, text string) {
	if text == "" {
		return
	}
	weight := ""
	if s.bold {
		weight = "B"
	}
	pdf.SetFont(fontFamily, weight, s.size)
	pdf.SetTextColor(0, 0, 0)
	pdf.Text(x, baseline, text)
}

// lines draws wrapped text from the top of its first line and gives the height it takes.
func (d *document) lines(x, top float64, s style, lines []string) float64 {
	d.draw(func(pdf *fpdf.Fpdf) {
		for i, line := range lines {
			write(pdf, x, top+s.size*0.95+float64(i)*s.line(), s, line)
		}
	})
	return float64(len(lines)) * s.line()
}

func (d *document) rule(x1, y1, x2, y2, weight float64) {
	d.draw(func(pdf *fpdf.Fpdf) { stroke(pdf, weight); pdf.Line(x1, y1, x2, y2) })
}

func stroke(pdf *fpdf.Fpdf, weight float64) {
	pdf.SetDrawColor(0, 0, 0)
	pdf.SetLineWidth(weight)
	pdf.SetDashPattern(nil, 0)
}

// header draws farm, address, title and period, and gives where it ends. Without a PDF it only measures.
func (d *document) header(pdf *fpdf.Fpdf) float64 {
	left, right := d.width()*0.56, d.width()*0.42
	end := 24.0
	column := func(x, width float64, texts ...string) {
		y := 24.0
		for i, text := range texts {
			s := style{8.5, i == 0}
			if text == "" {
				continue
			}
			for _, line := range wrap(text, width, s.size, s.bold) {
				if pdf != nil {
					write(pdf, x, y+s.size*0.95, s, line)
				}
				y += s.line()
			}
		}
		end = max(end, y)
	}
	column(margin, left, d.paper.Farm, d.paper.Address)
	column(margin+d.width()-right, right, d.title, d.period)
	end += 3
	if pdf != nil {
		stroke(pdf, 0.8)
		pdf.Line(margin, end, margin+d.width(), end)
	}
	return end
}

// footer draws what makes a loose sheet worth something: page, instant, checkpoint and caution.
func (d *document) footer(pdf *fpdf.Fpdf, page int, code symbol) {
	top := d.bottom + 8
	stroke(pdf, 0.8)
	pdf.Line(margin, top-3, margin+d.width(), top-3)
	width := d.width()
	if len(code) > 0 {
		width -= qrSide + 10
		code.draw(pdf, margin+d.width()-qrSide, top, qrSide)
	}
	y := top
	put := func(s style, text string) {
		for _, line := range wrap(text, width, s.size, s.bold) {
			write(pdf, margin, y+s.size*0.95, s, line)
			y += s.line()
		}
	}
	put(style{8.5, true}, d.say("page %d of %d", "página %d de %d", page, len(d.pages)))
	put(style{smallSize, false}, d.say("Made %s.", "Hecho %s.", instant(d.paper.Made, d.zone)))
	if c := d.paper.Checkpoint; c.given() {
		put(style{smallSize, false}, d.say("Checkpoint of the book: %s, %d entries, root", "Punto de control del libro: %s, %d asientos, raíz", d.clean(c.Origin), c.Size))
		put(style{smallSize, false}, d.clean(c.Root))
	} else {
		put(style{smallSize, false}, d.say("No checkpoint of the book: this sheet cannot be held against it.", "Sin punto de control del libro: esta hoja no se puede cotejar con él."))
	}
	put(style{smallSize, true}, d.say(domain.RecordHelper, domain.RecordHelperEs))
}

// output turns the pages into a PDF.
func (d *document) output(w io.Writer) error {
	code, err := symbolOf(d.paper.Checkpoint)
	if err != nil {
		return fmt.Errorf("checkpoint of the paper: %w", err)
	}
	pdf := fpdf.NewCustom(&fpdf.InitType{UnitStr: "pt", Size: fpdf.SizeType{Wd: d.size.Width, Ht: d.size.Height}})
	pdf.SetAutoPageBreak(false, 0)
	pdf.SetCatalogSort(true)
	pdf.SetCreationDate(d.paper.Made.UTC())
	pdf.SetModificationDate(d.paper.Made.UTC())
	pdf.SetProducer("Croftmark", false)
	pdf.SetTitle(strings.ReplaceAll(d.title, "\n", " "), true)
	pdf.SetAuthor(d.paper.Farm, true)
	pdf.SetLang(d.say("en-US", "es-US"))
	pdf.AddUTF8FontFromBytes(fontFamily, "", goregular.TTF)
	pdf.AddUTF8FontFromBytes(fontFamily, "B", gobold.TTF)
	for i, page := range d.pages {
		pdf.AddPage()
		d.header(pdf)
		for _, m := range page {
			m(pdf)
		}
		d.footer(pdf, i+1, code)
	}
	return pdf.Output(w)
}
