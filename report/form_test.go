package report

import (
	"bytes"
	"testing"

	"croftmark/domain"
)

func formPaper(sheet domain.LogSheet, language string) FormPaper {
	return FormPaper{Paper: testPaper(language), Sheet: sheet,
		Farm: domain.Farm{Name: "Lower Meadow Farm / Rancho El Ñandú", Address: "Orchard Lane 14, Hillsborough NC 27278", TimeZone: "America/New_York"}}
}

func drawForm(t testing.TB, p FormPaper) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := FormPDF(&b, p); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestFormsAreTheSameEachTime(t *testing.T) {
	t.Parallel()
	for _, sheet := range domain.BuiltInSheets() {
		for _, language := range []string{"", "es"} {
			first := drawForm(t, formPaper(sheet, language))
			if !bytes.Equal(first, drawForm(t, formPaper(sheet, language))) {
				t.Errorf("%s differs from one time to the next", sheet.Key)
			}
		}
	}
}

func TestAFormNamesItsFarm(t *testing.T) {
	t.Parallel()
	p := formPaper(domain.BuiltInSheets()[0], "")
	p.Farm.Name = ""
	var b bytes.Buffer
	if err := FormPDF(&b, p); err == nil || b.Len() > 0 {
		t.Errorf("%d bytes, %v", b.Len(), err)
	}
}
