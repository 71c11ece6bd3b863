package labels

import (
	"strings"
	"testing"

	qrcode "github.com/skip2/go-qrcode"
)

// ISO/IEC 18004: quiet zone of 4 modules on all sides; the table of capacities for the levels.
func TestSymbolHasWholeDotsAndQuietZone(t *testing.T) {
	t.Parallel()
	eachStock(t, func(t *testing.T, size Size, dpi int) {
		for name, l := range variants() {
			p := mustLayOut(t, l, size, dpi)
			s := p.symbol
			if s.dots < 3 {
				t.Errorf("%s: %d dots per module", name, s.dots)
			}
			if s.x < 4*s.dots || s.y < 4*s.dots || s.y+s.side()+4*s.dots > p.height || s.x+s.side()+4*s.dots > p.width {
				t.Errorf("%s: the quiet zone of %+v leaves the label of %dx%d dots", name, area{float64(s.x), float64(s.y), 0, 0}, p.width, p.height)
			}
			sum := 0
			for b := range s.bars() {
				if b.width%s.dots != 0 || b.height != s.dots || (b.x-s.x)%s.dots != 0 || (b.y-s.y)%s.dots != 0 {
					t.Fatalf("%s: %+v is not made of modules of %d dots", name, b, s.dots)
				}
				sum += b.width / s.dots
			}
			if want := blackModules(s); sum != want {
				t.Errorf("%s: %d black modules drawn, want %d", name, sum, want)
			}
		}
	})
}

func blackModules(s symbol) (n int) {
	for _, row := range s.modules {
		for _, black := range row {
			if black {
				n++
			}
		}
	}
	return n
}

func TestErrorCorrectionStepsUpAndDown(t *testing.T) {
	t.Parallel()
	short := "HTTPS://BOOK.EXAMPLE.ORG/T/" + strings.Repeat("A", 14) // 41 characters: 3-Q, 4-H
	long := "HTTPS://BOOK.EXAMPLE.ORG/T/" + strings.Repeat("A", 60)  // 87 characters: 4-M, 5-Q, 7-H
	for _, row := range []struct {
		name      string
		url       string
		room, dpi int
		level     string
		dots      int
	}{
		{"room for H at 4 dots", short, 41 * 4, 203, "H", 4},
		{"one dot short of that", short, 41*4 - 1, 203, "Q", 4},
		{"H with 4 dots of less than half a millimetre", short, 41*6 - 1, 300, "Q", 6},
		{"H at half a millimetre", short, 41 * 6, 300, "H", 6},
		{"as large as the room allows", short, 500, 203, "H", 12},
		{"Q at 3 dots", long, 45 * 3, 203, "Q", 3},
		{"M where Q has no 3 dots", long, 45*3 - 1, 203, "M", 3},
	} {
		s, err := encode(row.url, square{side: row.room, dpi: row.dpi}, ourselves)
		if err != nil || s.level != row.level || s.dots != row.dots {
			t.Errorf("%s: level %s with %d dots, %v; want %s with %d", row.name, s.level, s.dots, err, row.level, row.dots)
		}
	}
	if s, err := encode(short, square{side: 41 * 4, frame: 17, dpi: 203}, ourselves); err != nil || s.side() > 41*4-2*17 {
		t.Errorf("a frame wider than the quiet zone is not kept: %d dots, %v", s.side(), err)
	}
	if s, err := encode(long, square{side: 41*3 - 1, dpi: 203}, ourselves); err == nil {
		t.Errorf("a link that fits at no level gave %s with %d dots", s.level, s.dots)
	}
}

// A thermal printer may encode the link in one mode only, and may draw the symbol lower than asked.
func TestRoomForThePrintersOwnSymbol(t *testing.T) {
	t.Parallel()
	url := "https://a.example/t/" + strings.Repeat("1234567890", 4) // digits pack closer in a mode of their own
	ours, err := qrcode.New(url, qrcode.High)
	if err != nil {
		t.Fatal(err)
	}
	theirs, err := thermalPrinter.qr(url, qrcode.High)
	if err != nil {
		t.Fatal(err)
	}
	// ISO/IEC 18004, capacity of level Q in bytes: version 4 has 46, version 5 has 60.
	if len(url) != 60 || theirs.VersionNumber != 5 || ours.VersionNumber >= 5 {
		t.Errorf("%d bytes: version %d reserved, %d drawn by ourselves; want 5 and fewer", len(url), theirs.VersionNumber, ours.VersionNumber)
	}
	for _, size := range Sizes() {
		p, err := layOut(plainLabel(), size, 300, thermalPrinter)
		if err != nil {
			t.Fatal(err)
		}
		s := p.symbol
		if s.dots > 10 || s.y-s.quiet() < qrDrop || s.y+s.side()+s.quiet()+qrDrop > p.height {
			t.Errorf("%s: no room to miss by %d dots around %d..%d of %d, %d dots a module", size.Name, qrDrop, s.y, s.y+s.side(), p.height, s.dots)
		}
	}
}
