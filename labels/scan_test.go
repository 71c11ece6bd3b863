//go:build external

package labels

import (
	"bytes"
	"context"
	"encoding/xml"
	"fmt"
	"image"
	"image/draw"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode"
)

// run starts one of the tools that read back what was printed. A machine without them cannot vouch for a label, so the
// test fails there.
func run(t *testing.T, tool string, args ...string) string {
	t.Helper()
	path, err := exec.LookPath(tool)
	if err != nil {
		t.Fatalf("%v: the label tests need poppler-utils and zbar-tools", err)
	}
	var faults bytes.Buffer
	command := exec.CommandContext(t.Context(), path, args...)
	command.Stderr = &faults
	out, err := command.Output()
	if err != nil {
		t.Fatalf("%s %v: %v\n%s", tool, args, err, faults.String())
	}
	return string(out)
}

// zbar reads the symbols of each picture, in the order of the pictures.
func zbar(t *testing.T, pictures ...string) [][]string {
	t.Helper()
	out := run(t, "zbarimg", append([]string{"--quiet", "--xml", "-Sdisable", "-Sqrcode.enable", "-Scode128.enable"}, pictures...)...)
	var found struct {
		Sources []struct {
			Href string   `xml:"href,attr"`
			Data []string `xml:"index>symbol>data"`
		} `xml:"source"`
	}
	if err := xml.Unmarshal([]byte(out), &found); err != nil {
		t.Fatalf("%v in %s", err, out)
	}
	read := make([][]string, len(pictures))
	for _, source := range found.Sources {
		if i := slices.Index(pictures, source.Href); i >= 0 {
			read[i] = source.Data
		}
	}
	return read
}

// zxing reads one symbol with a second decoder.
func zxing(t *testing.T, picture image.Image) string {
	t.Helper()
	bitmap, err := gozxing.NewBinaryBitmapFromImage(picture)
	if err != nil {
		t.Fatal(err)
	}
	hints := map[gozxing.DecodeHintType]any{gozxing.DecodeHintType_TRY_HARDER: true}
	result, err := qrcode.NewQRCodeReader().Decode(bitmap, hints)
	if err != nil {
		t.Errorf("second decoder: %v", err)
		return ""
	}
	return result.GetText()
}

func readPNG(t *testing.T, path string) *image.Gray {
	t.Helper()
	file, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	picture, err := png.Decode(file)
	if err != nil {
		t.Fatal(err)
	}
	if gray, ok := picture.(*image.Gray); ok {
		return gray
	}
	gray := image.NewGray(image.Rectangle{Max: picture.Bounds().Size()})
	draw.Draw(gray, gray.Rect, picture, picture.Bounds().Min, draw.Src)
	return gray
}

func savePNG(t *testing.T, path string, picture image.Image) string {
	t.Helper()
	var out bytes.Buffer
	if err := png.Encode(&out, picture); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, out.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// printed renders a PDF as a printer of that resolution would and cuts each label out of its page.
func printed(t *testing.T, size Size, dpi int, labels []Label) (pictures []*image.Gray) {
	t.Helper()
	folder := t.TempDir()
	file := filepath.Join(folder, "labels.pdf")
	var out bytes.Buffer
	if err := PDF(context.Background(), &out, size, dpi, labels); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, out.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	checkPaper(t, file, size.sheet())
	run(t, "pdftoppm", "-r", strconv.Itoa(dpi), "-gray", "-png", file, filepath.Join(folder, "page"))
	pages, err := filepath.Glob(filepath.Join(folder, "page-*.png"))
	if err != nil {
		t.Fatal(err)
	}
	slices.Sort(pages)
	sheet := size.sheet()
	var page *image.Gray
	for i := range labels {
		place := i % (sheet.Columns * sheet.Rows)
		if place == 0 {
			page = readPNG(t, pages[i/(sheet.Columns*sheet.Rows)])
		}
		x := dots(sheet.LeftMM+float64(place%sheet.Columns)*sheet.StepXMM, dpi)
		y := dots(sheet.TopMM+float64(place/sheet.Columns)*sheet.StepYMM, dpi)
		label := image.NewGray(image.Rect(0, 0, dots(size.WidthMM, dpi), dots(size.HeightMM, dpi)))
		draw.Draw(label, label.Rect, page, image.Pt(x, y), draw.Src)
		pictures = append(pictures, label)
	}
	return pictures
}

// checkPaper wants the page size right to a tenth of a millimetre.
func checkPaper(t *testing.T, file string, sheet Sheet) {
	t.Helper()
	for line := range strings.Lines(run(t, "pdfinfo", file)) {
		var width, height float64
		if n, _ := fmt.Sscanf(line, "Page size: %f x %f pts", &width, &height); n == 2 {
			if d := width/pointsPerMM - sheet.WidthMM; d > 0.1 || d < -0.1 {
				t.Errorf("the page is %.2f mm wide, want %.2f", width/pointsPerMM, sheet.WidthMM)
			}
			if d := height/pointsPerMM - sheet.HeightMM; d > 0.1 || d < -0.1 {
				t.Errorf("the page is %.2f mm high, want %.2f", height/pointsPerMM, sheet.HeightMM)
			}
			return
		}
	}
	t.Error("pdfinfo names no page size")
}

func TestPrintedLabelsScan(t *testing.T) {
	t.Parallel()
	names := []string{"plain", "held", "spanish", "bare"}
	eachStock(t, func(t *testing.T, size Size, dpi int) {
		var labels []Label
		for _, name := range names {
			labels = append(labels, variants()[name])
		}
		pictures := printed(t, size, dpi, labels)
		folder := t.TempDir()
		var files []string
		for i, picture := range pictures {
			checkInk(t, picture, mustLayOut(t, labels[i], size, dpi), dpi)
			files = append(files, savePNG(t, filepath.Join(folder, names[i]+"-pdf.png"), picture))
		}
		for i, l := range labels {
			raw, err := PNG(l, size, dpi)
			if err != nil {
				t.Fatal(err)
			}
			file := filepath.Join(folder, names[i]+"-png.png")
			if err := os.WriteFile(file, raw, 0o600); err != nil {
				t.Fatal(err)
			}
			files = append(files, file)
			pictures = append(pictures, readPNG(t, file))
			checkInk(t, pictures[len(pictures)-1], mustLayOut(t, l, size, dpi), dpi)
		}
		for i, read := range zbar(t, files...) {
			want := labels[i%len(labels)].URL
			if len(read) != 1 || read[0] != want {
				t.Errorf("%s: zbar read %q, want %q", filepath.Base(files[i]), read, want)
			}
			if got := zxing(t, pictures[i]); got != want {
				t.Errorf("%s: the second decoder read %q, want %q", filepath.Base(files[i]), got, want)
			}
		}
	})
}

// checkInk compares a rendered label with its layout: every module is the same whole dots in pure black or white, the
// quiet zone is blank, and so is the edge of the label.
func checkInk(t *testing.T, picture *image.Gray, p page, dpi int) {
	t.Helper()
	s := p.symbol
	for y := s.y - s.quiet(); y < s.y+s.side()+s.quiet(); y++ {
		for x := s.x - s.quiet(); x < s.x+s.side()+s.quiet(); x++ {
			want := uint8(255)
			if s.blackAt(x, y) {
				want = 0
			}
			if got := picture.GrayAt(x, y).Y; got != want {
				t.Fatalf("dot %d,%d of the symbol at %d,%d is %d, want %d", x, y, s.x, s.y, got, want)
			}
		}
	}
	margin, edge := dots(marginMM, dpi)-1, picture.Rect.Max
	for _, strip := range []image.Rectangle{image.Rect(0, 0, edge.X, margin), image.Rect(0, edge.Y-margin, edge.X, edge.Y),
		image.Rect(0, 0, margin, edge.Y), image.Rect(edge.X-margin, 0, edge.X, edge.Y)} {
		for y := strip.Min.Y; y < strip.Max.Y; y++ {
			for x := strip.Min.X; x < strip.Max.X; x++ {
				if picture.GrayAt(x, y).Y < 250 {
					t.Fatalf("there is ink at %d,%d in the margin of the label", x, y)
				}
			}
		}
	}
}

func (s symbol) blackAt(x, y int) bool {
	if x < s.x || y < s.y || x >= s.x+s.side() || y >= s.y+s.side() {
		return false
	}
	return s.modules[(y-s.y)/s.dots][(x-s.x)/s.dots]
}

// Level Q recovers about 25 % of the code words (ISO/IEC 18004), so a hole of a tenth of the area must not matter as
// long as it spares the three corners. No label with a short link falls below Q, so this holds for each of them.
func TestTornLabelScans(t *testing.T) {
	t.Parallel()
	atQ := 0
	for _, size := range Sizes() {
		for _, dpi := range thermal {
			for name, l := range map[string]Label{"own": heldLabel(), "numbered": numbered(t, plainLabel())} {
				if tearAndScan(t, size, dpi, name, l) == "Q" {
					atQ++
				}
			}
		}
	}
	if atQ < 5 {
		t.Errorf("only %d labels were at level Q, and this test is about Q", atQ)
	}
}

// tearAndScan whitens a tenth of the symbol in three places and wants both decoders to read it still; it gives the level.
func tearAndScan(t *testing.T, size Size, dpi int, name string, l Label) string {
	t.Helper()
	folder := t.TempDir()
	p := mustLayOut(t, l, size, dpi)
	raw, err := PNG(l, size, dpi)
	if err != nil {
		t.Fatal(err)
	}
	whole := filepath.Join(folder, "whole.png")
	if err := os.WriteFile(whole, raw, 0o600); err != nil {
		t.Fatal(err)
	}
	side := p.symbol.side()
	hole := side*317/1000 + 1 // the root of a tenth
	var files []string
	for i, at := range []image.Point{{side * 34 / 100, side * 34 / 100}, {side * 60 / 100, side * 34 / 100}, {side * 34 / 100, side * 60 / 100}} {
		torn := readPNG(t, whole)
		corner := at.Add(image.Pt(p.symbol.x, p.symbol.y))
		draw.Draw(torn, image.Rectangle{Min: corner, Max: corner.Add(image.Pt(hole, hole))}, image.White, image.Point{}, draw.Src)
		files = append(files, savePNG(t, filepath.Join(folder, fmt.Sprintf("%d.png", i)), torn))
		if got, err := readQR(t, torn, p.symbol); err != nil || got != p.symbol.url {
			t.Errorf("%s at %d dpi, %s, level %s, hole %d: the second decoder read %q, %v", size.Name, dpi, name, p.symbol.level, i, got, err)
		}
	}
	for i, read := range zbar(t, files...) {
		if !slices.Contains(read, p.symbol.url) {
			t.Errorf("%s at %d dpi, %s, level %s, hole %d: zbar read %q", size.Name, dpi, name, p.symbol.level, i, read)
		}
	}
	return p.symbol.level
}

func TestPDFTextCanBeSearched(t *testing.T) {
	t.Parallel()
	file := filepath.Join(t.TempDir(), "labels.pdf")
	var out bytes.Buffer
	if err := PDF(context.Background(), &out, mustSize(t, "4x6in"), 300, []Label{longSpanish(), heldLabel()}); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, out.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	text := run(t, "pdftotext", "-layout", file, "-")
	for _, words := range []string{"RETENIDO: NO ENVIAR", "Ñame morado de la montaña", "ORGÁNICO", "HOLD: DO NOT SHIP", "26219-L3-RAD-1-SS"} {
		if !strings.Contains(text, words) {
			t.Errorf("%q is not in the PDF's text:\n%s", words, text)
		}
	}
}

// A page of 30 labels is read from one picture, as a person would test a sheet; and the proof sheet holds every size.
func TestFullSheetAndProofScan(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	var sheet, proof bytes.Buffer
	if err := PDF(context.Background(), &sheet, mustSize(t, "sheet-30"), 300, slices.Repeat([]Label{plainLabel()}, 31)); err != nil {
		t.Fatal(err)
	}
	if err := Proof(&proof, 300); err != nil {
		t.Fatal(err)
	}
	for name, row := range map[string]struct {
		pdf     []byte
		symbols int
		pages   int
	}{"sheet": {sheet.Bytes(), 30, 2}, "proof": {proof.Bytes(), len(proofPlaces), 1}} {
		file := filepath.Join(folder, name+".pdf")
		if err := os.WriteFile(file, row.pdf, 0o600); err != nil {
			t.Fatal(err)
		}
		if info := run(t, "pdfinfo", file); !strings.Contains(info, fmt.Sprintf("Pages:           %d\n", row.pages)) {
			t.Errorf("%s: want %d pages:\n%s", name, row.pages, info)
		}
		run(t, "pdftoppm", "-r", "300", "-gray", "-png", "-singlefile", file, filepath.Join(folder, name))
		if read := zbar(t, filepath.Join(folder, name+".png"))[0]; len(read) != row.symbols {
			t.Errorf("%s: %d symbols were read, want %d", name, len(read), row.symbols)
		}
	}
	checkRulers(t, readPNG(t, filepath.Join(folder, "proof.png")), 300)
}

// checkRulers measures both rulers of the proof sheet on the rendered page.
func checkRulers(t *testing.T, page *image.Gray, dpi int) {
	t.Helper()
	for name, step := range map[string]image.Point{"horizontal": {1, 0}, "vertical": {0, 1}} {
		at := image.Pt(dots(rulerLeftMM+1, dpi), dots(rulerTopMM, dpi))
		if step.Y == 1 {
			at = image.Pt(dots(rulerRightMM, dpi), dots(rulerUpMM+1, dpi))
		}
		dark := func(p image.Point) bool { return p.In(page.Rect) && page.GrayAt(p.X, p.Y).Y < 128 }
		from, to := at, at
		for dark(from.Sub(step)) {
			from = from.Sub(step)
		}
		for dark(to.Add(step)) {
			to = to.Add(step)
		}
		pixels := (to.X - from.X) + (to.Y - from.Y)
		if mm := float64(pixels) / float64(dpi) * 25.4; mm < 99.7 || mm > 100.3 {
			t.Errorf("the %s ruler is %.1f mm long", name, mm)
		}
	}
}
