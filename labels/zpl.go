package labels

import (
	"bytes"
	"fmt"
	"math"
	"strings"
)

// A thermal printer draws the symbol itself. Its modules have at most 10 dots, and it draws the symbol 10 dots lower
// than asked; a printer that does not must not lose the quiet zone for it.
var thermalPrinter = drawer{maxDots: 10, shift: qrDrop, oneMode: true}

const qrDrop = 10

// ZPL writes a label in the language of thermal label printers, with letters in UTF-8. It draws with the printer's own
// font, which is narrower than the one that was measured.
func ZPL(l Label, size Size, dpi int) ([]byte, error) {
	p, err := layOut(l, size, dpi, thermalPrinter)
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	fmt.Fprintf(&out, "^XA\n^CI28\n^PW%d\n^LL%d\n^LH0,0\n", p.width, p.height)
	for _, b := range p.black() {
		fmt.Fprintf(&out, "^FO%d,%d^GB%d,%d,%d^FS\n", b.x, b.y, b.width, b.height, min(b.width, b.height))
	}
	s := p.symbol
	fmt.Fprintf(&out, "^FO%d,%d^BQN,2,%d^FH_^FD%sA,%s^FS\n", s.x, s.y-qrDrop, s.dots, s.level, zplText(s.url))
	for _, t := range p.texts {
		writeZPLText(&out, t)
	}
	out.WriteString("^XZ\n")
	return out.Bytes(), nil
}

func writeZPLText(out *bytes.Buffer, t text) {
	em := int(t.em)
	fmt.Fprintf(out, "^FT%d,%d^A0N,%d,%d", int(math.Ceil(t.x)), int(math.Round(t.baseline)), em, em)
	if t.centred {
		fmt.Fprintf(out, "^FB%d,1,0,C", int(t.width()))
	}
	if t.white {
		out.WriteString("^FR")
	}
	fmt.Fprintf(out, "^FH_^FD%s^FS\n", zplText(t.line))
}

// zplText writes the characters that begin a command, and the one that begins an escape, by their number. What is in a
// crop's name must never command a printer.
func zplText(s string) string {
	return strings.NewReplacer("^", "_5E", "~", "_7E", "_", "_5F").Replace(s)
}
