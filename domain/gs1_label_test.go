package domain_test

import (
	"errors"
	"strings"
	"testing"

	"croftmark/domain"
)

func examplePrefix(t *testing.T) domain.GS1Prefix {
	t.Helper()
	p, err := domain.ParseGS1Prefix("9521321") // kept for examples: traceability reference 2.1
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// Number and lot: traceability reference 2.1, 2.4 and 2.5, ours [computed, checked with GS1's engine]. That a serial
// follows the lot in the path: `…/01/09521234543213/10/ABC123/21/12345` of reference 2.5 [verified: GS1SE tests].
func TestGS1Label(t *testing.T) {
	t.Parallel()
	const base = "HTTPS://TRACE.EXAMPLE.ORG/01/19521321001012/10/SPN260615-A"
	for _, c := range []struct{ name, crate, link string }{
		{"lot", "", base},
		{"crate", "SPN-A-C2-8H", base + "/21/SPNAC28H"},
		{"longest crate", "ABCDE-FGHIJ-KLMNO-PQRST", base + "/21/ABCDEFGHIJKLMNOPQRST"},
		{"a crate of 21 keeps its bars and has no link", "ABCDE-FGHIJ-KLMNO-PQRST-U", ""},
	} {
		got, err := domain.GS1Label(examplePrefix(t), "00101", "SPN260615-A", c.crate, "HTTPS://TRACE.EXAMPLE.ORG")
		if err != nil || got.Link != c.link || got.GTIN != "19521321001012" || got.IsZero() {
			t.Errorf("%s: %+v, %v; want the link %s", c.name, got, err, c.link)
		}
		if got.Element.Data != "011952132100101210SPN260615-A" || got.Element.Human != "(01)19521321001012(10)SPN260615-A" {
			t.Errorf("%s: the bars hold %q with %q", c.name, got.Element.Data, got.Element.Human)
		}
		if c.link == "" {
			continue
		}
		if _, err := domain.ParseDigitalLink(got.Link); err != nil {
			t.Errorf("%s: %v", c.name, err)
		}
	}
}

// The serial number of a label leads back to the crate: a code typed without its hyphens reads the same.
func TestGS1SerialIsTheCrate(t *testing.T) {
	t.Parallel()
	lot := domain.LotCode(domain.NewDate(2026, 8, 7), "Lower 3", "Radish", 1)
	crate := domain.CrateCode(lot, 12)
	got, err := domain.GS1Label(examplePrefix(t), "00101", lot, crate, "https://a.example/L/KEY")
	if err != nil {
		t.Fatal(err)
	}
	link, err := domain.ParseDigitalLink(got.Link)
	if err != nil || len(link.Path) != 3 || link.Path[1].Value != lot || link.Stem != "https://a.example/L/KEY" {
		t.Fatalf("%+v, %v", link, err)
	}
	if code, err := domain.ParseCode(link.Path[2].Value); err != nil || code.Text != crate || code.Lot != lot {
		t.Errorf("%+v, %v; want crate %s", code, err, crate)
	}
}

func TestGS1LabelInventsNothing(t *testing.T) {
	t.Parallel()
	for name, row := range map[string]struct {
		prefix domain.GS1Prefix
		item   string
	}{"no prefix": {domain.GS1Prefix{}, "00101"}, "no item": {examplePrefix(t), ""}, "neither": {}} {
		got, err := domain.GS1Label(row.prefix, row.item, "a lot with blanks", "", "not a stem")
		if err != nil || !got.IsZero() || got.Link != "" || got.Element.Data != "" {
			t.Errorf("%s: %+v, %v", name, got, err)
		}
	}
}

func TestGS1LabelRefuses(t *testing.T) {
	t.Parallel()
	for name, row := range map[string]struct{ item, lot, stem, says string }{
		"lot of 21":    {"00101", strings.Repeat("A", 21), "https://a.example", "1 to 20"},
		"blank in lot": {"00101", "A 1", "https://a.example", "1 to 20"},
		"accent":       {"00101", "Ñ1", "https://a.example", "1 to 20"},
		"no lot":       {"00101", "", "https://a.example", "1 to 20"},
		"short item":   {"101", "A1", "https://a.example", "room for 5 digits"},
		"no stem":      {"00101", "A1", "", "https://"},
	} {
		got, err := domain.GS1Label(examplePrefix(t), row.item, row.lot, "", row.stem)
		var refusal *domain.Error
		if !errors.As(err, &refusal) || !strings.Contains(refusal.Detail, row.says) || !got.IsZero() {
			t.Errorf("%s: %+v, %v; want a refusal that says %q", name, got, err, row.says)
		}
	}
	if _, err := domain.GS1Label(examplePrefix(t), "00101", strings.Repeat("A", 20), "", "https://a.example"); err != nil {
		t.Errorf("a lot of 20: %v", err)
	}
}
