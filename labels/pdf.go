package labels

import (
	"context"
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"github.com/go-pdf/fpdf"

	"croftmark/domain"
)

// An Option changes how a PDF is made.
type Option func(*options)

type options struct {
	progress func(done, total int)
	created  time.Time
}

// WithProgress is told after each label how many of how many are drawn.
func WithProgress(progress func(done, total int)) Option {
	return func(o *options) { o.progress = progress }
}

// WithCreated sets the time that the PDF says it was made at. Without it the file says 1970, so that the same labels
// always give the same bytes.
func WithCreated(t time.Time) Option { return func(o *options) { o.created = t } }

// PDF writes the labels, each on a page of exactly its own size, or as many to a sheet as the stock has. The QR modules
// are whole dots of a printer of dpi, so it must be printed at 100 %. The text is real text and can be searched.
//
// It stops with the context's error when that is done, and refuses with an *domain.Error what cannot be printed.
// Nothing is written to w unless every label was drawn.
func PDF(ctx context.Context, w io.Writer, size Size, dpi int, labels []Label, opts ...Option) error {
	o := options{progress: func(int, int) {}, created: time.Unix(0, 0).UTC()}
	for _, opt := range opts {
		opt(&o)
	}
	if len(labels) == 0 {
		return domain.Refuse(domain.CodeInvalid, "No labels", "There is no label to print: choose at least one crate.")
	}
	sheet := size.sheet()
	doc := newDocument(sheet, dpi, o.created)
	for i, l := range labels {
		if err := ctx.Err(); err != nil {
			return err
		}
		p, err := layOut(l, size, dpi, ourselves)
		if err != nil {
			return err
		}
		place := i % (sheet.Columns * sheet.Rows)
		if place == 0 {
			doc.pdf.AddPage()
		}
		doc.draw(p, sheet.LeftMM+float64(place%sheet.Columns)*sheet.StepXMM, sheet.TopMM+float64(place/sheet.Columns)*sheet.StepYMM)
		o.progress(i+1, len(labels))
	}
	return doc.pdf.Output(w)
}

const (
	fontFamily    = "Go"
	pointsPerMM   = 72 / 25.4
	pointsPerInch = 72.0
)

// A document is a PDF that pages are drawn into.
type document struct {
	pdf    *fpdf.Fpdf
	dpi    int
	height float64 // of the sheet in points: PDF counts upwards
}

func newDocument(sheet Sheet, dpi int, created time.Time) document {
	paper := fpdf.SizeType{Wd: toPoints(sheet.WidthMM), Ht: toPoints(sheet.HeightMM)}
	pdf := fpdf.NewCustom(&fpdf.InitType{UnitStr: "pt", Size: paper})
	pdf.SetAutoPageBreak(false, 0)
	pdf.SetCatalogSort(true)
	pdf.SetCreationDate(created)
	pdf.SetModificationDate(created)
	pdf.SetProducer("Croftmark", false)
	pdf.AddUTF8FontFromBytes(fontFamily, "", regular().ttf)
	pdf.AddUTF8FontFromBytes(fontFamily, "B", bold().ttf)
	return document{pdf: pdf, dpi: dpi, height: paper.Ht}
}

// toPoints rounds to hundredths as the library does when it writes the page size: what is drawn is measured from the
// bottom of the page, and must be measured from where that is in the file.
func toPoints(mm float64) float64 { return math.Round(mm*pointsPerMM*100) / 100 }

// draw puts a page at a place on the sheet, moved to the nearest whole dot so that its modules stay on the dots.
func (d document) draw(p page, leftMM, topMM float64) {
	dot := pointsPerInch / float64(d.dpi)
	left, top := float64(dots(leftMM, d.dpi))*dot, float64(dots(topMM, d.dpi))*dot
	d.fill(p, left, top)
	for _, t := range p.texts {
		shade := 0
		if t.white {
			shade = 255
		}
		d.pdf.SetTextColor(shade, shade, shade)
		d.pdf.SetFont(fontFamily, t.style(), t.em*dot)
		d.pdf.Text(left+t.x*dot, top+t.baseline*dot, t.line)
	}
}

// fill draws bars and symbol as one path in a coordinate system of dots, because the library rounds its own coordinates
// to a hundredth of a point and would move edges off the dots.
func (d document) fill(p page, left, top float64) {
	dot := pointsPerInch / float64(d.dpi)
	var path strings.Builder
	fmt.Fprintf(&path, "q 0 g %.9f 0 0 %.9f %.6f %.6f cm\n", dot, -dot, left, d.height-top)
	for _, b := range p.black() {
		path.WriteString(b.path())
	}
	for b := range p.symbol.bars() {
		path.WriteString(b.path())
	}
	path.WriteString("f Q")
	d.pdf.RawWriteStr(path.String())
}

// path is the bar as a rectangle that ends a hundredth of a dot inside its edges: PDF paints every dot that a shape
// touches at all, so an edge that a rounding error puts past the end of a dot would print a whole dot too much.
func (b bar) path() string {
	return fmt.Sprintf("%d.01 %d.01 %d.98 %d.98 re\n", b.x, b.y, b.width-1, b.height-1)
}

// style is the name of the text's font style in a PDF.
func (t text) style() string {
	if t.bold {
		return "B"
	}
	return ""
}
