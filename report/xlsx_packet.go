package report

import (
	"fmt"
	"io"
	"math"
	"regexp"
	"strings"
	"time"

	"github.com/xuri/excelize/v2"

	"croftmark/domain"
)

// PacketXLSX writes the packet's tables as a workbook: a sheet for each event, one header row that stays in sight, a
// filter to sort by, dates as dates and numbers as numbers. Hours are of the farm's clock, because a spreadsheet knows no
// zones; the column beside them has the distance from UTC.
func PacketXLSX(w io.Writer, p *domain.Packet) (err error) {
	p = p.ForAudience()
	f := excelize.NewFile()
	defer func() {
		if e := f.Close(); err == nil {
			err = e
		}
	}()
	styles, err := newSheetStyles(f)
	if err != nil {
		return err
	}
	made := p.MadeAt.UTC().Format(time.RFC3339)
	if err := f.SetDocProps(&excelize.DocProperties{Creator: p.Farm.Name, LastModifiedBy: "Croftmark", Title: "Answer to a traceback request", Created: made, Modified: made}); err != nil {
		return err
	}
	for i, s := range sheets(p) {
		if i == 0 {
			err = f.SetSheetName("Sheet1", s.name)
		} else {
			_, err = f.NewSheet(s.name)
		}
		if err != nil {
			return err
		}
		if err := writeSheet(f, s, styles, p.Zone()); err != nil {
			return fmt.Errorf("sheet %s: %w", s.name, err)
		}
	}
	return f.Write(w)
}

type sheetStyles struct{ head, text, date, instant, number int }

func newSheetStyles(f *excelize.File) (s sheetStyles, err error) {
	day, hour := "yyyy-mm-dd", "yyyy-mm-dd hh:mm"
	top := &excelize.Alignment{Vertical: "top", WrapText: true}
	for _, x := range []struct {
		to    *int
		style excelize.Style
	}{
		{&s.head, excelize.Style{Font: &excelize.Font{Bold: true, Family: "Calibri", Size: 11}, Alignment: top, Fill: excelize.Fill{Type: "pattern", Pattern: 1, Color: []string{"E8E8E8"}}}},
		{&s.text, excelize.Style{Alignment: top}},
		{&s.date, excelize.Style{CustomNumFmt: &day, Alignment: top}},
		{&s.instant, excelize.Style{CustomNumFmt: &hour, Alignment: top}},
		{&s.number, excelize.Style{Alignment: top}},
	} {
		if *x.to, err = f.NewStyle(&x.style); err != nil {
			return s, err
		}
	}
	return s, nil
}

func writeSheet(f *excelize.File, s sheet, styles sheetStyles, zone *time.Location) error {
	last, err := excelize.CoordinatesToCellName(len(s.columns), len(s.rows)+1)
	if err != nil {
		return err
	}
	if err := f.AutoFilter(s.name, "A1:"+last, nil); err != nil {
		return err
	}
	if err := forPrinting(f, s.name); err != nil {
		return err
	}
	sw, err := f.NewStreamWriter(s.name)
	if err != nil {
		return err
	}
	if err := sw.SetPanes(&excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"}); err != nil {
		return err
	}
	columns := widths(s)
	for i, width := range columns {
		if err := sw.SetColWidth(i+1, i+1, width); err != nil {
			return err
		}
	}
	head := make([]any, len(s.columns))
	for i, c := range s.columns {
		head[i] = excelize.Cell{StyleID: styles.head, Value: c.Name}
	}
	if err := sw.SetRow("A1", head); err != nil {
		return err
	}
	for n, row := range s.rows {
		cells := make([]any, len(row))
		for i, c := range row {
			cells[i] = sheetCell(s.columns[i].Kind, c, styles, zone)
		}
		if err := sw.SetRow(fmt.Sprintf("A%d", n+2), cells, excelize.RowOpts{Height: rowHeight(row, columns)}); err != nil {
			return err
		}
	}
	return sw.Flush()
}

// forPrinting makes a sheet as wide as a page that lies on its side, with the header on every page.
func forPrinting(f *excelize.File, name string) error {
	fit, landscape, wide, high := true, "landscape", 1, 0
	if err := f.SetSheetProps(name, &excelize.SheetPropsOptions{FitToPage: &fit}); err != nil {
		return err
	}
	if err := f.SetPageLayout(name, &excelize.PageLayoutOptions{Orientation: &landscape, FitToWidth: &wide, FitToHeight: &high}); err != nil {
		return err
	}
	return f.SetDefinedName(&excelize.DefinedName{Name: "_xlnm.Print_Titles", RefersTo: "'" + name + "'!$1:$1", Scope: name})
}

// sheetCell types a cell. A text is always a text cell, never a formula; it is guarded all the same, because a sheet that
// is saved as CSV and opened again would forget that. A plain phone number can do no harm and stays as it is.
func sheetCell(kind domain.KDEKind, c domain.KDECell, styles sheetStyles, zone *time.Location) any {
	switch {
	case c.Number.Valid:
		v, _ := c.Number.Decimal.Float64() // spreadsheets hold nothing finer
		return excelize.Cell{StyleID: styles.number, Value: v}
	case !c.Date.IsZero():
		return excelize.Cell{StyleID: styles.date, Value: c.Date.Time()}
	case kind == domain.KDEInstant && !c.At.IsZero():
		y, m, d := c.At.In(zone).Date()
		hour, minute, second := c.At.In(zone).Clock()
		return excelize.Cell{StyleID: styles.instant, Value: time.Date(y, m, d, hour, minute, second, 0, time.UTC)}
	case c.Text == "":
		return nil
	}
	text := c.Text
	if !phone.MatchString(text) {
		text = guarded(text)
	}
	return excelize.Cell{StyleID: styles.text, Value: fitting(text)}
}

var phone = regexp.MustCompile(`^\+[0-9 ().-]+$`)

// fitting cuts a text to what a cell may hold and says so.
func fitting(s string) string {
	const most = excelize.TotalCellChars
	runes := []rune(s)
	if len(runes) <= most {
		return s
	}
	const cutOff = " [cut here: a cell holds no more]"
	return string(runes[:most-len(cutOff)]) + cutOff
}

// rowHeight makes room for the longest wrapped cell; not every program does that by itself.
func rowHeight(row []domain.KDECell, columns []float64) float64 {
	const line, most = 15.0, 400.0
	lines := 1.0
	for i, c := range row {
		lines = max(lines, math.Ceil(float64(len([]rune(c.Text)))/(columns[i]-3)))
	}
	return min(lines*line, most)
}

// widths fit the longest word groups of a column, between a date and a short sentence.
func widths(s sheet) []float64 {
	out := make([]float64, len(s.columns))
	for i, c := range s.columns {
		most := len(c.Name)
		for _, row := range s.rows {
			for _, line := range strings.Split(row[i].Text, "\n") {
				most = max(most, len(line))
			}
		}
		out[i] = min(max(float64(most)+3, 12), 46)
	}
	return out
}
