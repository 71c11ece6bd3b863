package labels

import "math"

// Measures of the layout, in millimetres or as a share of the label.
const (
	// marginMM keeps ink off the die-cut edge, which a roll misses by a millimetre or two.
	marginMM = 2
	// leastTextMM is the em of the smallest text, 5 points. Longer names are shortened instead.
	leastTextMM = 1.8
	// besideMM keeps letters that reach a little to the left of their place out of the quiet zone.
	besideMM = 0.5
	// symbolShareWide leaves more than half of a wide label to the text.
	symbolShareWide  = 0.45
	symbolShareTall  = 0.42
	headingShareTall = 0.24
	bannerShareWide  = 0.17
	bannerShareTall  = 0.09
	// pairsFrom is how many times wider than high the column of a wide label must be to take both days in one row.
	pairsFrom = 1.9
)

// layOut places everything that the label says on a label of that size.
func layOut(l Label, size Size, dpi int, drawn drawer) (page, error) {
	if err := checkResolution(dpi); err != nil {
		return page{}, err
	}
	if err := l.checkURLs(); err != nil {
		return page{}, err
	}
	d := draft{
		page:  page{width: dots(size.WidthMM, dpi), height: dots(size.HeightMM, dpi)},
		label: l.tidy(), words: wordsIn(l.Language), dpi: dpi, drawn: drawn,
	}
	d.white = area{0, 0, float64(d.width), float64(d.height)}
	if d.width > d.height {
		err := d.wide()
		return d.page, err
	}
	err := d.tall()
	return d.page, err
}

// QRText gives what the symbol of a label holds: URL, or ShortURL where the size has no room for the other. Printers of
// ZPL draw the symbol themselves and need more room for it.
func QRText(l Label, size Size, dpi int, zpl bool) (string, error) {
	drawn := ourselves
	if zpl {
		drawn = thermalPrinter
	}
	p, err := layOut(l, size, dpi, drawn)
	return p.symbol.url, err
}

// A draft is a page in the making.
type draft struct {
	page
	label Label
	words words
	dpi   int
	drawn drawer
	white area // what is still free, out to the label's edges
}

func (d *draft) mm(length float64) float64 { return length * float64(d.dpi) / 25.4 }

// wide puts the symbol on the left and the text beside it.
func (d *draft) wide() error {
	d.banner(bannerShareWide)
	if err := d.placeLinear(linearShareWide); err != nil {
		return err
	}
	room := area{d.white.x, d.white.y, symbolShareWide * d.white.width, d.white.height}
	if err := d.placeSymbol(room); err != nil {
		return err
	}
	column := d.inMargins()
	left := float64(d.symbol.x+d.symbol.side()+d.symbol.quiet()) + d.mm(besideMM)
	column.x, column.width = left, column.x+column.width-left
	d.stack(column, append(d.heading(), d.facts(column.width > pairsFrom*column.height)...), leastShares)
	return nil
}

// tall puts crop and lot on top, the symbol in the middle and the other facts under it.
func (d *draft) tall() error {
	d.banner(bannerShareTall)
	if err := d.placeLinear(linearShareTall); err != nil {
		return err
	}
	heading, rest := d.inMargins().cutTop(headingShareTall * d.white.height)
	room, _ := rest.cutTop(symbolShareTall * d.white.height)
	room.x, room.width = d.white.x, d.white.width
	if err := d.placeSymbol(room); err != nil {
		return err
	}
	d.symbol.x = (d.width - d.symbol.side()) / 2
	d.symbol.y = int(math.Ceil(rest.y)) + d.symbol.quiet()
	_, facts := rest.cutTop(float64(d.symbol.y+d.symbol.side()+d.symbol.quiet()) - rest.y)
	d.stack(heading, d.heading(), 0)
	d.stack(facts, d.facts(false), leastSharesTall)
	return nil
}

// placeSymbol makes the symbol as large as the room allows: to the left, but not nearer to the edge than the margin,
// and in the middle of the height.
func (d *draft) placeSymbol(room area) error {
	margin := dots(marginMM, d.dpi)
	s, err := d.encode(square{int(min(room.width, room.height)), margin, d.dpi})
	if err != nil {
		return err
	}
	s.x = max(margin, s.quiet())
	s.y = int(room.y) + (int(room.height)-s.side())/2
	d.symbol = s
	return nil
}

// encode takes the long link where it fits at level Q or better, so that a scratched label still reads; else the short
// one, where there is one.
func (d *draft) encode(room square) (symbol, error) {
	s, err := encode(d.label.URL, room, d.drawn)
	if d.label.ShortURL == "" || err == nil && s.level != "M" {
		return s, err
	}
	if short, shortErr := encode(d.label.ShortURL, room, d.drawn); shortErr == nil {
		return short, nil
	}
	return s, err
}

// inMargins is the free area without the margins at the label's edges. Under a banner half a margin is enough.
func (d *draft) inMargins() area {
	inner := d.white.inset(d.mm(marginMM))
	if d.label.Held {
		inner.y -= d.mm(marginMM) / 2
		inner.height += d.mm(marginMM) / 2
	}
	return inner
}

// banner writes the hold across the top in white on black: it must be seen by people who tell no colours apart, and on
// printers that have none.
func (d *draft) banner(share float64) {
	if !d.label.Held {
		return
	}
	margin := d.mm(marginMM)
	strip, rest := d.white.cutTop(margin + share*d.white.height)
	black := area{margin, margin, strip.width - 2*margin, strip.height - margin}
	d.fill(black)
	warning := cell{text: d.words.hold, bold: true, white: true, centred: true, whole: true}
	inner := black.inset(black.height / 10)
	d.write(inner, warning.fit(inner.width, inner.height, 0), warning)
	d.white = rest
}

// heading is what a person looks for first.
func (d *draft) heading() []row {
	return []row{
		{3.2, []cell{{text: d.label.Crop, bold: true, lines: 2}}},
		{1.4, []cell{{text: named(d.words.lot, d.label.LotCode), bold: true, whole: true}}},
	}
}

// facts is the rest of what a trace needs.
func (d *draft) facts(daysInOneRow bool) []row {
	l, w := d.label, d.words
	cut := cell{text: named(w.cut, l.CutOn.String()), bold: true, whole: true}
	packed := cell{text: named(w.packed, l.PackedOn.String()), bold: true, whole: true}
	rows := []row{{1, []cell{{text: l.CrateCode, whole: true}}}}
	if daysInOneRow {
		rows = append(rows, row{1.15, []cell{cut, packed}})
	} else {
		rows = append(rows, row{1.15, []cell{cut}}, row{1.15, []cell{packed}})
	}
	return append(rows,
		row{1, []cell{{text: l.Linear.Human, whole: true}}},
		row{1.15, []cell{{text: named(w.net, l.NetWeight), bold: true}, {text: named(w.bed, l.Bed), bold: true}}},
		row{1.15, []cell{{text: l.Status, bold: true}, {text: w.number(l.Number, l.Of), bold: true}}},
		row{1, []cell{{text: l.Farm}}},
		row{1, []cell{{text: l.Place}}},
	)
}
