package report

import (
	"github.com/go-pdf/fpdf"
	qrcode "github.com/skip2/go-qrcode"
)

// A symbol is the QR symbol of a checkpoint: rows of modules without the quiet zone.
type symbol [][]bool

// quietZone is the white frame around the symbol, in modules (ISO/IEC 18004).
const quietZone = 4

// symbolOf encodes a checkpoint; without one there is no symbol.
func symbolOf(c Checkpoint) (symbol, error) {
	if !c.given() {
		return nil, nil
	}
	code, err := qrcode.New(c.Lines(), qrcode.Medium)
	if err != nil {
		return nil, err
	}
	code.DisableBorder = true
	return code.Bitmap(), nil
}

// draw fills a square of the page with the symbol and its quiet zone. Modules of a row that touch are one bar.
func (s symbol) draw(pdf *fpdf.Fpdf, x, y, side float64) {
	module := side / float64(len(s)+2*quietZone)
	pdf.SetFillColor(0, 0, 0)
	for row, modules := range s {
		for from := 0; from < len(modules); from++ {
			to := from
			for to < len(modules) && modules[to] {
				to++
			}
			if to > from {
				pdf.Rect(x+float64(quietZone+from)*module, y+float64(quietZone+row)*module, float64(to-from)*module, module, "F")
				from = to
			}
		}
	}
}
