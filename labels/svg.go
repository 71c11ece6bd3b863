package labels

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"strconv"
)

// SVG draws a label in true size; one unit of its drawing is one printer dot. Every line is held to its measured width
// by textLength, so that it stays in its place in a viewer that has another font.
func SVG(l Label, size Size, dpi int) ([]byte, error) {
	p, err := layOut(l, size, dpi, ourselves)
	if err != nil {
		return nil, err
	}
	perMM := float64(dpi) / 25.4
	var out bytes.Buffer
	fmt.Fprintf(&out, `<svg xmlns="http://www.w3.org/2000/svg" width="%smm" height="%smm" viewBox="0 0 %s %s">`+"\n",
		short(size.WidthMM), short(size.HeightMM), short(size.WidthMM*perMM), short(size.HeightMM*perMM))
	out.WriteString(`<rect class="paper" width="100%" height="100%" fill="#fff"/>` + "\n")
	out.WriteString(`<g class="bars" fill="#000" shape-rendering="crispEdges">` + "\n")
	for _, b := range p.black() {
		writeBar(&out, b)
	}
	out.WriteString("</g>\n" + `<g class="qr" fill="#000" shape-rendering="crispEdges">` + "\n")
	for b := range p.symbol.bars() {
		writeBar(&out, b)
	}
	out.WriteString("</g>\n" + `<g class="text" font-family="Go, Arial, Helvetica, sans-serif">` + "\n")
	for _, t := range p.texts {
		writeText(&out, t)
	}
	out.WriteString("</g>\n</svg>\n")
	return out.Bytes(), nil
}

func writeBar(out *bytes.Buffer, b bar) {
	fmt.Fprintf(out, `<rect x="%d" y="%d" width="%d" height="%d"/>`+"\n", b.x, b.y, b.width, b.height)
}

func writeText(out *bytes.Buffer, t text) {
	weight, fill := "normal", "#000"
	if t.bold {
		weight = "bold"
	}
	if t.white {
		fill = "#fff"
	}
	fmt.Fprintf(out, `<text x="%s" y="%s" font-size="%s" font-weight="%s" fill="%s" textLength="%s" lengthAdjust="spacingAndGlyphs">`,
		short(t.x), short(t.baseline), short(t.em), weight, fill, short(t.width()))
	xml.EscapeText(out, []byte(t.line)) // a buffer takes every write
	out.WriteString("</text>\n")
}

// short writes a number with up to two decimals.
func short(x float64) string {
	rounded, _ := strconv.ParseFloat(strconv.FormatFloat(x, 'f', 2, 64), 64)
	return strconv.FormatFloat(rounded, 'f', -1, 64)
}
