package report

import (
	"github.com/go-pdf/fpdf"
)

// headline is the title at the beginning of the paper.
func (d *document) headline(text string) {
	s := style{15, true}
	d.y += d.lines(margin, d.y, s, wrap(d.clean(text), d.width(), s.size, s.bold)) + 4
}

// heading begins a section. It is drawn together with what follows it, so that it never stands alone at the foot of a
// page.
func (d *document) heading(text string) { d.pending = text }

var headingStyle = style{11, true}

// head draws the heading that waits, if any, above a block of a height.
func (d *document) head(height float64) {
	if d.pending == "" {
		d.room(height)
		return
	}
	s := headingStyle
	lines := wrap(d.clean(d.pending), d.width(), s.size, s.bold)
	d.pending = ""
	d.room(8 + float64(len(lines))*s.line() + 3 + height)
	if d.y > d.top {
		d.y += 8
	}
	d.y += d.lines(margin, d.y, s, lines) + 3
}

func (d *document) paragraph(text string) { d.text(text, style{bodySize, false}, 0, "") }

func (d *document) strong(text string) { d.text(text, style{bodySize, true}, 0, "") }

// small is for the words under a table or a chart.
func (d *document) small(text string) { d.text(text, style{smallSize, false}, 0, "") }

// list gives each item a dash.
func (d *document) list(items ...string) {
	for _, item := range items {
		d.text(item, style{bodySize, false}, 10, "–")
	}
}

// text flows a paragraph over pages, line by line.
func (d *document) text(text string, s style, indent float64, bullet string) {
	lines := wrap(d.clean(text), d.width()-indent, s.size, s.bold)
	d.need(float64(min(2, len(lines))) * s.line())
	for i, line := range lines {
		d.need(s.line())
		if i == 0 && bullet != "" {
			d.lines(margin, d.y, s, []string{bullet})
		}
		d.y += d.lines(margin+indent, d.y, s, []string{line})
	}
	d.y += 2.5
}

// A fact is a name and what the record says about it.
type fact struct{ name, value string }

// facts is a list of names and values, in two columns; a value that is not given is left out.
func (d *document) facts(list ...fact) {
	const names = 118.0
	for _, f := range list {
		if f.value == "" {
			continue
		}
		s, b := style{bodySize, false}, style{bodySize, true}
		left := wrap(d.clean(f.name), names-8, b.size, true)
		right := wrap(d.clean(f.value), d.width()-names, s.size, s.bold)
		d.need(float64(min(len(right), 6)) * s.line())
		d.lines(margin, d.y, b, left)
		start := d.y
		for _, line := range right {
			before := len(d.pages)
			d.need(s.line())
			if len(d.pages) > before {
				start = d.y
			}
			d.y += d.lines(margin+names, d.y, s, []string{line})
		}
		d.y = max(d.y, start+float64(len(left))*s.line()) + 1.5
	}
	d.y += 2
}

// box frames a titled list; over a page break the frame closes and opens again.
func (d *document) box(title string, items []string) {
	const pad = 6.0
	head, s := style{9.5, true}, style{bodySize, false}
	d.y += 6
	whole := head.line() + 2*pad
	for _, item := range items {
		whole += float64(len(wrap(item, d.width()-2*pad-10, s.size, false)))*s.line() + 1
	}
	if whole > (d.bottom-d.top)/2 {
		whole = head.line() + 2*s.line() + 2*pad
	}
	d.need(whole)
	start := d.y
	closeFrame := func() {
		page, top, bottom := len(d.pages)-1, start, d.y+pad/2
		d.pages[page] = append(d.pages[page], func(pdf *fpdf.Fpdf) {
			stroke(pdf, 1.4)
			pdf.Rect(margin, top, d.width(), bottom-top, "D")
		})
	}
	d.y += pad
	d.y += d.lines(margin+pad, d.y, head, wrap(d.clean(title), d.width()-2*pad, head.size, true)) + 1
	for _, item := range items {
		for i, line := range wrap(d.clean(item), d.width()-2*pad-10, s.size, false) {
			if d.y+s.line()+pad > d.bottom {
				closeFrame()
				d.newPage()
				start = d.y
				d.y += pad
			}
			if i == 0 {
				d.lines(margin+pad, d.y, s, []string{"–"})
			}
			d.y += d.lines(margin+pad+10, d.y, s, []string{line})
		}
		d.y++
	}
	closeFrame()
	d.y += pad + 4
}

// gapsBox says plainly what this paper does not know; that it found nothing missing is said too.
func (d *document) gapsBox(gaps []string) {
	if d.boxes > 0 {
		gaps = append(gaps, d.say("%d letters that this paper has no type for stand as %c.",
			"%d letras para las que este papel no tiene tipo aparecen como %c.", d.boxes, missingGlyph))
	}
	if !d.paper.Checkpoint.given() {
		gaps = append(gaps, d.say("No checkpoint of the book was given: this paper cannot be held against the book.",
			"No se dio punto de control del libro: este papel no se puede cotejar con el libro."))
	}
	gaps = append(gaps, d.paper.Gaps...)
	if len(gaps) == 0 {
		gaps = []string{d.say("None that the book can see.", "Ninguna que el libro pueda ver.")}
	}
	d.box(d.say("Known gaps", "Vacíos conocidos"), gaps)
}

// signatures leaves room for ink, and says what the book holds.
func (d *document) signatures() {
	d.heading(d.say("Signatures", "Firmas"))
	d.need(2*46 + 14)
	d.paragraph(d.say("For this paper: %s, %s.", "Para este papel: %s, %s.", d.title, d.period))
	for _, x := range []struct {
		word string
		s    Signature
		none string
	}{
		{d.say("done by", "hecho por"), d.paper.Signatures.DoneBy, d.say("not signed in the book", "sin firma en el libro")},
		{d.say("reviewed by", "revisado por"), d.paper.Signatures.ReviewedBy, d.say("no review in the book", "sin revisión en el libro")},
	} {
		held := x.none
		if x.s.Name != "" {
			held = d.say("in the book: %s, %s", "en el libro: %s, %s", x.s.Name, shownDate(x.s.On, d.paper.tongue()))
		}
		if x.s.Own {
			held += d.say("; wrote it too, nobody else could sign", "; también lo anotó, nadie más podía firmar")
		}
		s := style{bodySize, false}
		y, line := d.y+24, d.width()*0.66
		d.lines(margin, y-s.size, s, []string{x.word})
		d.rule(margin+60, y+1, margin+line, y+1, 0.6)
		d.lines(margin+line+8, y-s.size, s, []string{d.say("date", "fecha")})
		d.rule(margin+line+34, y+1, margin+d.width(), y+1, 0.6)
		d.lines(margin+60, y+3, style{smallSize, false}, []string{cut(d.clean(held), line-60, smallSize, false)})
		d.y = y + 18
	}
}
