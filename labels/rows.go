package labels

// A cell is a piece of text and how it is set.
type cell struct {
	text    string
	bold    bool
	white   bool
	centred bool
	whole   bool // never shortened: codes, dates, warnings
	lines   int  // at most; 0 is one
}

// A row is cells side by side, with a share of the height of its column.
type row struct {
	share float64
	cells []cell
}

// gapInRow parts two cells of a row, as a share of the column's width.
const gapInRow = 0.04

// present drops empty cells and rows without any.
func present(rows []row) []row {
	var kept []row
	for _, r := range rows {
		var cells []cell
		for _, c := range r.cells {
			if c.text != "" {
				cells = append(cells, c)
			}
		}
		if len(cells) > 0 {
			kept = append(kept, row{r.share, cells})
		}
	}
	return kept
}

// When little is printed, rows do not grow without end: a column is divided into at least so many shares.
const (
	leastShares     = 7 // about two thirds of a full label
	leastSharesTall = 4 // the same without crop and lot
)

// stack sets rows under one another in a column; each gets its share of the height.
func (d *draft) stack(column area, rows []row, atLeast float64) {
	rows = present(rows)
	sum := 0.0
	for _, r := range rows {
		sum += r.share
	}
	unit := column.height / max(sum, atLeast)
	for _, r := range rows {
		var strip area
		strip, column = column.cutTop(r.share * unit)
		d.setRow(strip, r)
	}
}

// setRow sets the cells of a row side by side. A long name shrinks alone: the weight beside it stays large.
func (d *draft) setRow(strip area, r row) {
	least := d.mm(leastTextMM)
	gap := strip.width * gapInRow
	n := float64(len(r.cells))
	width := (strip.width - gap*(n-1)) / n
	for i, c := range r.cells {
		into := area{strip.x + float64(i)*(width+gap), strip.y, width, strip.height}
		d.write(into, c.fit(width, strip.height, least), c)
	}
}

func (c cell) fit(width, height, least float64) fitted {
	if c.whole {
		least = 0
	}
	return fit(c.text, face(c.bold), width, height, max(c.lines, 1), least)
}
