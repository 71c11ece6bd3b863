//go:build external

package labels

import (
	"image"
	"os"
	"path/filepath"
	"slices"
	"testing"

	"github.com/makiuchi-d/gozxing/oned"
)

// Both symbols of a label are read from the printed PDF and from the PNG by an independent decoder.
func TestPrintedNumbersScan(t *testing.T) {
	t.Parallel()
	eachStock(t, func(t *testing.T, size Size, dpi int) {
		folder := t.TempDir()
		var names, files []string
		var all []Label
		for name, l := range numberedVariants(t) {
			names, all = append(names, name), append(all, l)
		}
		pictures := printed(t, size, dpi, all)
		for i, l := range all {
			files = append(files, savePNG(t, filepath.Join(folder, names[i]+"-pdf.png"), pictures[i]))
			raw, err := PNG(l, size, dpi)
			if err != nil {
				t.Fatal(err)
			}
			file := filepath.Join(folder, names[i]+"-png.png")
			if err := os.WriteFile(file, raw, 0o600); err != nil {
				t.Fatal(err)
			}
			files = append(files, file)
			p := mustLayOut(t, l, size, dpi)
			for _, picture := range []*image.Gray{pictures[i], readPNG(t, file)} {
				checkInk(t, picture, p, dpi)
				if got, err := readQR(t, picture, p.symbol); err != nil || got != p.symbol.url {
					t.Errorf("%s: the second decoder reads %q, %v", names[i], got, err)
				}
				if len(p.linear) == 0 {
					continue
				}
				if got, err := readSymbol(t, oned.NewCode128Reader(), picture); err != nil || got != "]C1"+l.Linear.Data {
					t.Errorf("%s: the bars read %q, %v", names[i], got, err)
				}
			}
		}
		for i, read := range zbar(t, files...) {
			l := all[i/2]
			want := []string{mustQRText(t, l, size, dpi)}
			if len(mustLayOut(t, l, size, dpi).linear) > 0 {
				want = append(want, l.Linear.Data)
			}
			slices.Sort(want)
			slices.Sort(read)
			if !slices.Equal(read, want) {
				t.Errorf("%s: zbar read %q, want %q", filepath.Base(files[i]), read, want)
			}
		}
	})
}
