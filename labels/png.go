package labels

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"math"

	"golang.org/x/image/font"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
)

// PNG draws a label with one pixel per printer dot. The file carries its resolution, so that it prints in true size.
func PNG(l Label, size Size, dpi int) ([]byte, error) {
	p, err := layOut(l, size, dpi, ourselves)
	if err != nil {
		return nil, err
	}
	picture := image.NewGray(image.Rect(0, 0, p.width, p.height))
	draw.Draw(picture, picture.Rect, image.White, image.Point{}, draw.Src)
	for _, b := range p.black() {
		blacken(picture, b)
	}
	for b := range p.symbol.bars() {
		blacken(picture, b)
	}
	for _, t := range p.texts {
		if err := drawText(picture, t); err != nil {
			return nil, err
		}
	}
	var out bytes.Buffer
	if err := png.Encode(&out, picture); err != nil {
		return nil, err
	}
	return withResolution(out.Bytes(), dpi), nil
}

func blacken(picture draw.Image, b bar) {
	draw.Draw(picture, image.Rect(b.x, b.y, b.x+b.width, b.y+b.height), image.Black, image.Point{}, draw.Src)
}

// drawText sets a line letter by letter with the widths that it was measured with: no kerning, as in the other formats.
func drawText(picture draw.Image, t text) error {
	letters, err := opentype.NewFace(t.face().font, &opentype.FaceOptions{Size: t.em, DPI: 72, Hinting: font.HintingNone})
	if err != nil {
		return err
	}
	ink := image.NewUniform(color.Black)
	if t.white {
		ink = image.NewUniform(color.White)
	}
	x := t.x
	for _, r := range t.line {
		dot := fixed.Point26_6{X: toFixed(x), Y: toFixed(t.baseline)}
		if to, mask, at, _, ok := letters.Glyph(dot, r); ok {
			draw.DrawMask(picture, to, ink, image.Point{}, mask, at, draw.Over)
		}
		x += t.face().advance[r] * t.em
	}
	return nil
}

func toFixed(x float64) fixed.Int26_6 { return fixed.Int26_6(math.Round(x * 64)) }

// headerEnd is where the first chunk of a PNG, of fixed length, ends (PNG specification: signature 8, IHDR 25 bytes).
const headerEnd = 8 + 25

// withResolution adds the chunk that says how many pixels make a metre, which the standard library cannot write.
func withResolution(file []byte, dpi int) []byte {
	perMetre := uint32(math.Round(float64(dpi) / 0.0254))
	body := []byte("pHYs")
	body = binary.BigEndian.AppendUint32(body, perMetre)
	body = binary.BigEndian.AppendUint32(body, perMetre)
	body = append(body, 1) // the unit is the metre
	chunk := binary.BigEndian.AppendUint32(nil, uint32(len(body)-4))
	chunk = append(chunk, body...)
	chunk = binary.BigEndian.AppendUint32(chunk, crc32.ChecksumIEEE(body))
	return append(append(append([]byte{}, file[:headerEnd]...), chunk...), file[headerEnd:]...)
}
