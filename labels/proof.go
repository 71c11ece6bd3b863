package labels

import (
	"fmt"
	"io"
	"time"

	"croftmark/domain"
)

// The proof sheet is US letter paper with everything kept inside the width of A4, so that it prints on both.
var proofPaper = Sheet{WidthMM: 215.9, HeightMM: 279.4}

// proofPlaces is where the sample of each size stands. A size that is not named shares the sample of one that is as
// large.
var proofPlaces = []struct {
	size         string
	caption      string
	leftMM, upMM float64 // upMM is the distance from the top
}{
	{"4x6in", "4x6in", 10, 14},
	{"4x2in", "4x2in, sheet-10", 10, 172},
	{"2x1in", "2x1in", 10, 228},
	{"3x2in", "3x2in", 118, 14},
	{"62mm", "62mm", 118, 70},
	{"sheet-21-a4", "sheet-21-a4", 118, 175},
	{"sheet-30", "sheet-30", 118, 218},
}

// Proof writes one page with a sample of every size and two rulers of 100 mm. A printer that scales a page, as most do
// unless told otherwise, shows it on the rulers before it spoils a roll of labels.
func Proof(w io.Writer, dpi int) error {
	if err := checkResolution(dpi); err != nil {
		return err
	}
	doc := newDocument(proofPaper, dpi, time.Unix(0, 0).UTC())
	doc.pdf.AddPage()
	for _, place := range proofPlaces {
		size, err := SizeByName(place.size)
		if err != nil {
			return err
		}
		p, err := layOut(sample, size, dpi, ourselves)
		if err != nil {
			return err
		}
		doc.caption(place.leftMM, place.upMM-1, fmt.Sprintf("%s (%s x %s mm)", place.caption, short(size.WidthMM), short(size.HeightMM)))
		doc.outline(place.leftMM, place.upMM, size)
		doc.draw(p, place.leftMM, place.upMM)
	}
	doc.caption(118, 256, "Both rulers must be 100 mm long. If not, print at 100 % (actual size).")
	doc.caption(118, 261, "Ambas reglas: 100 mm. Si no, imprima al 100 % (tamaño real).")
	doc.rulers()
	return doc.pdf.Output(w)
}

// sample is a label of a farm that does not exist (example.org is reserved by RFC 2606).
var sample = Label{
	URL:  "HTTPS://BOOK.EXAMPLE.ORG/T/26219-L3-RAD-1-C3-SC",
	Crop: "Radish", LotCode: "26219-L3-RAD-1-SS", CrateCode: "26219-L3-RAD-1-C3-SC",
	CutOn: domain.NewDate(2026, 8, 7), PackedOn: domain.NewDate(2026, 8, 8),
	NetWeight: "20 lb", Farm: "Sample farm", Place: "Anywhere", Bed: "Lower 3", Status: "ORGANIC", Number: 3, Of: 12,
}

func (d document) caption(leftMM, baselineMM float64, line string) {
	d.pdf.SetTextColor(0, 0, 0)
	d.pdf.SetFont(fontFamily, "", 8)
	d.pdf.Text(leftMM*pointsPerMM, baselineMM*pointsPerMM, line)
}

func (d document) outline(leftMM, topMM float64, size Size) {
	d.pdf.SetLineWidth(0.2)
	d.pdf.Rect(leftMM*pointsPerMM, topMM*pointsPerMM, size.WidthMM*pointsPerMM, size.HeightMM*pointsPerMM, "D")
}

// Rulers stand along both edges, since a printer may scale one direction only.
const (
	rulerMM      = 100
	rulerLeftMM  = 10
	rulerTopMM   = 262
	rulerRightMM = 200
	rulerUpMM    = 100
)

// rulers draws a mark every millimetre, longer ones at 5 and 10.
func (d document) rulers() {
	d.pdf.SetLineWidth(0.4)
	line := func(x1, y1, x2, y2 float64) {
		d.pdf.Line(x1*pointsPerMM, y1*pointsPerMM, x2*pointsPerMM, y2*pointsPerMM)
	}
	line(rulerLeftMM, rulerTopMM, rulerLeftMM+rulerMM, rulerTopMM)
	line(rulerRightMM, rulerUpMM, rulerRightMM, rulerUpMM+rulerMM)
	for mm := range rulerMM + 1 {
		at, long := float64(mm), markLength(mm)
		line(rulerLeftMM+at, rulerTopMM, rulerLeftMM+at, rulerTopMM-long)
		line(rulerRightMM, rulerUpMM+at, rulerRightMM-long, rulerUpMM+at)
	}
	d.caption(rulerLeftMM, rulerTopMM+4, "0")
	d.caption(rulerLeftMM+rulerMM-6, rulerTopMM+4, "100 mm")
}

func markLength(mm int) float64 {
	switch {
	case mm%10 == 0:
		return 4
	case mm%5 == 0:
		return 3
	}
	return 2
}
