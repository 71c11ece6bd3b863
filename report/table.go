package report

import "github.com/go-pdf/fpdf"

// A column has a head and a share of the width.
type column struct {
	head  string
	share float64
}

// A table is rows of cells. It breaks between rows only, and every page begins with the heads again.
type table struct {
	columns []column
	rows    [][]string
	size    float64 // of the text; zero: the size of small print
	// bold says which cells stand out; nil: none.
	bold func(row, column int) bool
	none string // said when there is no row
}

const cellPad = 2.5

// A laid row is a row with its cells broken into lines.
type laidRow struct {
	cells  [][]string
	bold   []bool
	height float64
}

func (d *document) table(t table) {
	if len(t.rows) == 0 {
		d.paragraph(t.none)
		return
	}
	if t.size == 0 {
		t.size = smallSize + 0.5
	}
	widths := t.widths(d.width())
	heads, allBold := make([]string, len(t.columns)), make([]bool, len(t.columns))
	for i, c := range t.columns {
		heads[i], allBold[i] = c.head, true
	}
	head := d.layRow(heads, allBold, widths, t.size)
	room := d.bottom - d.top - head.height
	rows := make([]laidRow, 0, len(t.rows))
	for i, cells := range t.rows {
		b := make([]bool, len(cells))
		for k := range cells {
			b[k] = t.bold != nil && t.bold(i, k)
		}
		rows = append(rows, d.layRow(cells, b, widths, t.size).fitting(room, t.size*leading)...)
	}
	d.need(head.height + rows[0].height)
	d.drawRow(head, widths, t.size, true)
	for _, row := range rows {
		if d.y+row.height > d.bottom {
			d.newPage()
			d.drawRow(head, widths, t.size, true)
		}
		d.drawRow(row, widths, t.size, false)
	}
	d.y += 5
}

func (t table) widths(whole float64) []float64 {
	sum := 0.0
	for _, c := range t.columns {
		sum += c.share
	}
	out := make([]float64, len(t.columns))
	for i, c := range t.columns {
		out[i] = whole * c.share / sum
	}
	return out
}

func (d *document) layRow(cells []string, isBold []bool, widths []float64, size float64) laidRow {
	row := laidRow{bold: isBold}
	most := 1
	for i, text := range cells {
		lines := wrap(d.clean(text), widths[i]-2*cellPad, size, isBold[i])
		row.cells = append(row.cells, lines)
		most = max(most, len(lines))
	}
	row.height = float64(most)*size*leading + 2*cellPad
	return row
}

// fitting cuts a row that no page could hold, which is the only row that is ever cut.
func (r laidRow) fitting(room, line float64) (rows []laidRow) {
	if r.height <= room {
		return []laidRow{r}
	}
	most := int((room - 2*cellPad) / line)
	for {
		part, rest := laidRow{bold: r.bold}, laidRow{bold: r.bold}
		longest, left := 1, 0
		for _, lines := range r.cells {
			n := min(most, len(lines))
			part.cells, rest.cells = append(part.cells, lines[:n]), append(rest.cells, lines[n:])
			longest, left = max(longest, n), max(left, len(lines)-n)
		}
		part.height = float64(longest)*line + 2*cellPad
		rows = append(rows, part)
		if left == 0 {
			return rows
		}
		r = rest
	}
}

func (d *document) drawRow(r laidRow, widths []float64, size float64, isHead bool) {
	top, x := d.y, margin
	if isHead {
		d.draw(func(pdf *fpdf.Fpdf) {
			pdf.SetFillColor(232, 232, 232)
			pdf.Rect(margin, top, d.width(), r.height, "F")
			stroke(pdf, 0.8)
			pdf.Line(margin, top, margin+d.width(), top)
		})
	}
	for i, lines := range r.cells {
		d.lines(x+cellPad, top+cellPad, style{size, r.bold[i]}, lines)
		x += widths[i]
	}
	d.y += r.height
	y := d.y
	d.draw(func(pdf *fpdf.Fpdf) {
		stroke(pdf, 0.8)
		if !isHead {
			stroke(pdf, 0.4)
			pdf.SetDrawColor(140, 140, 140)
		}
		pdf.Line(margin, y, margin+d.width(), y)
	})
}
