package labels

import (
	"iter"
	"math"
	"strings"

	qrcode "github.com/skip2/go-qrcode"

	"croftmark/domain"
)

// quietZone is the white frame around a QR symbol, in modules. ISO/IEC 18004 asks for 4.
const quietZone = 4

// A symbol is a QR symbol whose modules are squares of whole printer dots: a module edge between two dots would come
// out wide in one place and narrow in another.
type symbol struct {
	url     string // what it holds
	modules [][]bool
	level   string // H, Q or M
	dots    int    // printer dots per module
	x, y    int    // of the first module, without the quiet zone
}

// levels says in which order error correction is tried, and how many dots a module must have.
//
// Q is the rule: it survives a hole of a tenth of the symbol. H is taken only where modules still have 4 dots and half
// a millimetre, which a phone reads from a crate at arm's length. M is for links too long for the label at Q. Below 3
// dots a thermal head's one burnt-out dot spoils whole columns, so the label is refused.
var levels = []struct {
	letter   string
	recovery qrcode.RecoveryLevel
	minDots  int
	minMM    float64
}{
	{"H", qrcode.Highest, 4, 0.5},
	{"Q", qrcode.High, 3, 0},
	{"M", qrcode.Medium, 3, 0},
}

// A square is the room for a symbol, in dots. The symbol keeps its quiet zone inside it, and at least the frame.
type square struct{ side, frame, dpi int }

// module gives the dots per module of the largest symbol that fits, if it is so many modules wide.
func (q square) module(modules int) int {
	return min(q.side/(modules+2*quietZone), (q.side-2*q.frame)/modules)
}

// encode gives the largest symbol for the link that fits into a square.
func encode(url string, room square, drawn drawer) (symbol, error) {
	room.side -= 2 * drawn.shift
	for _, level := range levels {
		code, err := drawn.qr(url, level.recovery)
		if err != nil {
			continue // too long for any symbol of that level
		}
		module := min(room.module(17+4*code.VersionNumber), drawn.maxDots)
		if module < level.minDots || module < leastDots(level.minMM, room.dpi) {
			continue
		}
		code.DisableBorder = true
		return symbol{url: url, modules: code.Bitmap(), level: level.letter, dots: module}, nil
	}
	return symbol{}, domain.Refuse(domain.CodeInvalid, "Link too long for the label",
		"The link %.80q is too long for a label of this size. Choose a larger size, or a shorter address for the book.", url)
}

// A drawer is who draws the symbol: this package, or a printer that is only told what it shall hold.
type drawer struct {
	maxDots int  // largest module it can draw
	shift   int  // how many dots away from the asked place it may draw
	oneMode bool // it may encode the whole link in one mode where ours mixes modes and gets a smaller symbol
}

var ourselves = drawer{maxDots: math.MaxInt}

// qr encodes the link in the size that the drawer will need at most.
func (d drawer) qr(url string, level qrcode.RecoveryLevel) (*qrcode.QRCode, error) {
	if !d.oneMode {
		return qrcode.New(url, level)
	}
	filler := "a"
	if strings.Trim(url, alphanumeric) == "" {
		filler = "A"
	}
	largest, err := qrcode.New(strings.Repeat(filler, len(url)), level)
	if err != nil {
		return nil, err
	}
	return qrcode.NewWithForcedVersion(url, largest.VersionNumber, level)
}

// alphanumeric is the set that a QR symbol packs into 5.5 bits each (ISO/IEC 18004).
const alphanumeric = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ $%*+-./:"

func leastDots(mm float64, dpi int) int { return int(math.Ceil(mm*float64(dpi)/25.4 - 0.01)) }

// side is the width of the symbol in dots without its quiet zone.
func (s symbol) side() int { return len(s.modules) * s.dots }

// quiet is the width of the quiet zone in dots.
func (s symbol) quiet() int { return quietZone * s.dots }

// bars gives the black modules as few rectangles: runs of neighbours in a row are one, so that no hairline shows
// between them.
func (s symbol) bars() iter.Seq[bar] {
	return func(yield func(bar) bool) {
		for row, line := range s.modules {
			for from := 0; from < len(line); from++ {
				to := from
				for to < len(line) && line[to] {
					to++
				}
				if to == from {
					continue
				}
				if !yield(bar{s.x + from*s.dots, s.y + row*s.dots, (to - from) * s.dots, s.dots}) {
					return
				}
				from = to
			}
		}
	}
}
