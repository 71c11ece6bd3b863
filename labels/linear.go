package labels

import (
	"strings"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/oned"

	"croftmark/domain"
)

// LinearCode is what a GS1-128 bar code holds. A label that is too small for the bars prints only the text.
type LinearCode struct {
	Data  string // behind the first FNC1, with "\x1d" for every other
	Human string // the same for people: "(01)19521321001012(10)A-1"
}

// Measures of the bars. GS1 General Specifications 5.4.4.2: a quiet zone of 10 modules on each side.
const (
	linearQuiet = 10
	// barMM is the narrowest bar that handheld scanners of the produce trade read, 10 mil.
	barMM = 0.25
	// widestBarMM is the widest that GS1 allows for cases.
	widestBarMM = 1.016
	// leastBarsMM is how high bars must be at least to be hit by a hand that is in a hurry.
	leastBarsMM     = 7
	linearShareWide = 0.32
	linearShareTall = 0.15
	linearTextMM    = 3.4
)

// encodeLinear gives the modules of a Code 128 symbol that begins with FNC1: true is black.
func encodeLinear(data string) ([]bool, error) {
	const fnc1 = "\u00f1" // how the encoder wants it written
	for _, r := range data {
		if r != '\x1d' && (r <= ' ' || r > '~') {
			return nil, domain.Refuse(domain.CodeInvalid, "Bar code with a broken text", "A bar code can't hold %.60q.", data)
		}
	}
	hints := map[gozxing.EncodeHintType]any{gozxing.EncodeHintType_MARGIN: 0}
	matrix, err := oned.NewCode128Writer().Encode(fnc1+strings.ReplaceAll(data, "\x1d", fnc1), gozxing.BarcodeFormat_CODE_128, 0, 1, hints)
	if err != nil {
		return nil, domain.Refuse(domain.CodeInvalid, "Bar code too long", "A bar code can't hold %.60q.", data)
	}
	modules := make([]bool, matrix.GetWidth())
	for x := range modules {
		modules[x] = matrix.Get(x, 0)
	}
	return modules, nil
}

// placeLinear puts the bars across the bottom, with their text under them, if the label is wide and high enough.
// Otherwise the text goes to the other facts.
func (d *draft) placeLinear(share float64) error {
	if d.label.Linear.Data == "" {
		return nil
	}
	modules, err := encodeLinear(d.label.Linear.Data)
	if err != nil {
		return err
	}
	n, margin := len(modules), dots(marginMM, d.dpi)
	dot := min(d.width/(n+2*linearQuiet), (d.width-2*margin)/n, dots(widestBarMM, d.dpi))
	rest, strip := d.white.cutTop((1 - share) * d.white.height)
	strip.height -= d.mm(marginMM)
	bars, caption := strip.cutTop(strip.height - d.mm(linearTextMM))
	if dot < leastDots(barMM, d.dpi) || bars.height < d.mm(leastBarsMM) {
		return nil
	}
	left, top := (d.width-n*dot)/2, int(bars.y+0.99)
	for from := 0; from < n; from++ {
		to := from
		for to < n && modules[to] {
			to++
		}
		if to > from {
			d.linear = append(d.linear, bar{left + from*dot, top, (to - from) * dot, int(bars.y+bars.height) - top})
			from = to
		}
	}
	below := cell{text: d.label.Linear.Human, centred: true, whole: true}
	caption.x, caption.width = float64(left), float64(n*dot)
	if d.label.Linear.Human != "" {
		d.write(caption, below.fit(caption.width, caption.height, 0), below)
	}
	d.label.Linear.Human = ""
	d.white = rest
	return nil
}
