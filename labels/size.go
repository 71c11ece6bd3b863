package labels

import (
	"math"
	"slices"
	"strings"

	"croftmark/domain"
)

// Size is a label stock that can be bought anywhere: a roll of single labels, or sheets for an office printer.
type Size struct {
	Name              string
	WidthMM, HeightMM float64 // of one label
	Sheet             Sheet   // zero for a roll
}

// Sheet is how labels stand on a sheet. Steps are from one label's edge to the same edge of the next.
type Sheet struct {
	WidthMM, HeightMM float64
	Columns, Rows     int
	LeftMM, TopMM     float64
	StepXMM, StepYMM  float64
}

// The stock that a label can be made for. The 62 mm roll is endless and is cut after 100 mm: long enough for the text
// to stand under the symbol in full size.
var sizes = []Size{
	{Name: "4x2in", WidthMM: 101.6, HeightMM: 50.8},
	{Name: "4x6in", WidthMM: 101.6, HeightMM: 152.4},
	{Name: "3x2in", WidthMM: 76.2, HeightMM: 50.8},
	{Name: "2x1in", WidthMM: 50.8, HeightMM: 25.4},
	{Name: "62mm", WidthMM: 62, HeightMM: 100},
	{Name: "sheet-30", WidthMM: 66.675, HeightMM: 25.4, Sheet: Sheet{
		WidthMM: 215.9, HeightMM: 279.4, Columns: 3, Rows: 10, LeftMM: 4.7625, TopMM: 12.7, StepXMM: 69.85, StepYMM: 25.4}},
	{Name: "sheet-10", WidthMM: 101.6, HeightMM: 50.8, Sheet: Sheet{
		WidthMM: 215.9, HeightMM: 279.4, Columns: 2, Rows: 5, LeftMM: 3.96875, TopMM: 12.7, StepXMM: 106.3625, StepYMM: 50.8}},
	{Name: "sheet-21-a4", WidthMM: 63.5, HeightMM: 38.1, Sheet: Sheet{
		WidthMM: 210, HeightMM: 297, Columns: 3, Rows: 7, LeftMM: 7.25, TopMM: 15.15, StepXMM: 66, StepYMM: 38.1}},
}

// Sizes lists every size, the one for cases first.
func Sizes() []Size { return slices.Clone(sizes) }

// SizeByName finds a size; an unknown name is an *domain.Error that lists the names there are.
func SizeByName(name string) (Size, error) {
	names := make([]string, len(sizes))
	for i, s := range sizes {
		if s.Name == name {
			return s, nil
		}
		names[i] = s.Name
	}
	return Size{}, domain.Refuse(domain.CodeInvalid, "No such label size",
		"There is no label size %.40q. Choose one of %s.", name, strings.Join(names, ", "))
}

// OnSheet reports whether labels of this size come several to a page.
func (s Size) OnSheet() bool { return s.Sheet.Columns > 0 }

// sheet gives the page; a label from a roll is a page of its own.
func (s Size) sheet() Sheet {
	if s.OnSheet() {
		return s.Sheet
	}
	return Sheet{WidthMM: s.WidthMM, HeightMM: s.HeightMM, Columns: 1, Rows: 1}
}

// The resolutions that label printers have; 600 is for sheets from an office printer.
var resolutions = []int{203, 300, 600}

func checkResolution(dpi int) error {
	if slices.Contains(resolutions, dpi) {
		return nil
	}
	return domain.Refuse(domain.CodeInvalid, "No such print resolution",
		"Labels are made for 203, 300 or 600 dots per inch, not for %d.", dpi)
}

// dots gives the whole printer dots that fit into a length. The small addition takes back what binary fractions lose:
// 50.8 mm at 203 dpi are 406 dots and not 405.
func dots(mm float64, dpi int) int { return int(math.Floor(mm*float64(dpi)/25.4 + 0.01)) }
