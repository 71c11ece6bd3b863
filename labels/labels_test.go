package labels

import (
	"bytes"
	"context"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"croftmark/domain"
)

var update = flag.Bool("update", false, "write the golden files of this package anew")

// The resolutions of thermal label printers.
var thermal = []int{203, 300}

// plainLabel is an everyday label.
func plainLabel() Label { return sample }

func heldLabel() Label {
	l := sample
	l.Held = true
	return l
}

// longSpanish has more to say than any label has room for.
func longSpanish() Label {
	l := sample
	l.Language, l.Held = "es", true
	l.URL = "https://libro.example.org/t/26219-CN4-NAM-12-C112-0X"
	l.Crop = "Ñame morado de la montaña alta, cosecha temprana de la ladera sur"
	l.LotCode, l.CrateCode = "26219-CN4-NAM-12-ZZ", "26219-CN4-NAM-12-C112-0X"
	l.Farm = "Cooperativa Agrícola de los Pequeños Productores del Valle de Santa María de la Concepción"
	l.Place = "San Cristóbal de las Casas, Chiapas, México"
	l.Bed, l.NetWeight, l.Status = "Cama Ñandú número 4, junto al pozo", "12.5 kg", "ORGÁNICO"
	l.Number, l.Of = 112, 500
	return l
}

// bareLabel has nothing but what it must.
func bareLabel() Label { return Label{URL: "HTTPS://BOOK.EXAMPLE.ORG/T/26219-X-XXX-1-00"} }

func variants() map[string]Label {
	return map[string]Label{"plain": plainLabel(), "held": heldLabel(), "spanish": longSpanish(), "bare": bareLabel()}
}

// eachStock runs a test for every size and thermal resolution.
func eachStock(t *testing.T, test func(t *testing.T, size Size, dpi int)) {
	for _, size := range Sizes() {
		for _, dpi := range thermal {
			t.Run(size.Name+" at "+map[int]string{203: "203", 300: "300"}[dpi]+" dpi", func(t *testing.T) {
				t.Parallel()
				test(t, size, dpi)
			})
		}
	}
}

func mustLayOut(t testing.TB, l Label, size Size, dpi int) page {
	t.Helper()
	p, err := layOut(l, size, dpi, ourselves)
	if err != nil {
		t.Fatalf("%s at %d dpi: %v", size.Name, dpi, err)
	}
	return p
}

func mustSize(t testing.TB, name string) Size {
	t.Helper()
	size, err := SizeByName(name)
	if err != nil {
		t.Fatal(err)
	}
	return size
}

func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), string(got)); diff != "" {
		t.Errorf("%s (-want +got):\n%s", path, diff)
	}
}

func TestGoldenFiles(t *testing.T) {
	t.Parallel()
	zpl, err := ZPL(heldLabel(), mustSize(t, "4x2in"), 203)
	if err != nil {
		t.Fatal(err)
	}
	golden(t, "held-4x2in-203.zpl", zpl)
	svg, err := SVG(longSpanish(), mustSize(t, "3x2in"), 300)
	if err != nil {
		t.Fatal(err)
	}
	golden(t, "spanish-3x2in-300.svg", svg)
}

func TestSameLabelsGiveSameBytes(t *testing.T) {
	t.Parallel()
	var all []Label
	for _, name := range []string{"plain", "held", "spanish", "bare"} {
		all = append(all, variants()[name])
	}
	size := mustSize(t, "4x2in")
	makers := map[string]func() ([]byte, error){
		"PDF": func() ([]byte, error) {
			var out bytes.Buffer
			err := PDF(context.Background(), &out, size, 203, all)
			return out.Bytes(), err
		},
		"proof": func() ([]byte, error) { var out bytes.Buffer; err := Proof(&out, 300); return out.Bytes(), err },
		"PNG":   func() ([]byte, error) { return PNG(longSpanish(), size, 300) },
		"SVG":   func() ([]byte, error) { return SVG(longSpanish(), size, 300) },
		"ZPL":   func() ([]byte, error) { return ZPL(longSpanish(), size, 300) },
	}
	for name, make := range makers {
		first, err := make()
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		for range 4 {
			if again, _ := make(); !bytes.Equal(first, again) {
				t.Errorf("%s: the same label gave other bytes the second time", name)
			}
		}
	}
}

func TestRefusals(t *testing.T) {
	t.Parallel()
	size := mustSize(t, "2x1in")
	endless := "HTTPS://BOOK.EXAMPLE.ORG/" + strings.Repeat("A", 400)
	for name, row := range map[string]struct {
		label Label
		dpi   int
		says  string
	}{
		"no link":            {Label{Crop: "Kale"}, 203, "needs the link"},
		"space in the link":  {Label{URL: "HTTPS://A B"}, 203, "plain characters"},
		"break in the link":  {Label{URL: "HTTPS://A\n^XZ"}, 203, "plain characters"},
		"link too long":      {Label{URL: endless}, 203, "Choose a larger size"},
		"unheard-of printer": {plainLabel(), 96, "203, 300 or 600"},
	} {
		for format, make := range map[string]func(Label, Size, int) ([]byte, error){"PNG": PNG, "SVG": SVG, "ZPL": ZPL} {
			_, err := make(row.label, size, row.dpi)
			wantRefusal(t, name+" in "+format, err, row.says)
		}
		err := PDF(context.Background(), &bytes.Buffer{}, size, row.dpi, []Label{row.label})
		wantRefusal(t, name+" in PDF", err, row.says)
	}
	wantRefusal(t, "no labels", PDF(context.Background(), &bytes.Buffer{}, size, 203, nil), "at least one crate")
	_, err := SizeByName("A0")
	wantRefusal(t, "unknown size", err, "4x2in, 4x6in")
}

func wantRefusal(t *testing.T, name string, err error, says string) {
	t.Helper()
	refusal, ok := err.(*domain.Error)
	if !ok || refusal.Code != domain.CodeInvalid || !strings.Contains(refusal.Detail, says) {
		t.Errorf("%s: %v; want a refusal that says %q", name, err, says)
	}
}
