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

// Number, lot and day: traceability reference 2.1, 2.4 and 2.5, ours [computed, checked with GS1's engine].
func TestGS1Label(t *testing.T) {
	t.Parallel()
	const base = "HTTPS://TRACE.EXAMPLE.ORG/01/19521321001012/10/SPN260615-A"
	day := domain.NewDate(2026, 6, 15)
	for _, c := range []struct {
		name   string
		packed domain.Date
		net    domain.Quantity
		link   string
	}{
		{"plain", domain.Date{}, domain.Quantity{}, base},
		{"day", day, domain.Quantity{}, base + "?13=260615"},
		{"10.00 lb", day, domain.Q("10.00", "lb"), base + "?13=260615&3202=001000"},   // reference 2.3
		{"4.540 kg", domain.Date{}, domain.Q("4.540", "kg"), base + "?3103=004540"},   // reference 2.3
		{"8 oz", domain.Date{}, domain.Q("8", "oz"), base + "?3202=000050"},           // half a pound
		{"never more", domain.Date{}, domain.Q("9.999", "lb"), base + "?3202=000999"}, // cut off, not rounded up
		{"next to nothing", domain.Date{}, domain.Q("0.001", "lb"), base},
		{"counted", domain.Date{}, domain.Q("12", "bunch"), base},
	} {
		got, err := domain.GS1Label(examplePrefix(t), "00101", "SPN260615-A", c.packed, c.net, "HTTPS://TRACE.EXAMPLE.ORG")
		if err != nil || got.Link != c.link || got.GTIN != "19521321001012" || got.IsZero() {
			t.Errorf("%s: %+v, %v; want the link %s", c.name, got, err, c.link)
		}
		if got.Element.Data != "011952132100101210SPN260615-A" || got.Element.Human != "(01)19521321001012(10)SPN260615-A" {
			t.Errorf("%s: the bars hold %q with %q", c.name, got.Element.Data, got.Element.Human)
		}
		if _, err := domain.ParseDigitalLink(got.Link); err != nil {
			t.Errorf("%s: %v", c.name, err)
		}
	}
}

func TestGS1LabelInventsNothing(t *testing.T) {
	t.Parallel()
	for name, row := range map[string]struct {
		prefix domain.GS1Prefix
		item   string
	}{"no prefix": {domain.GS1Prefix{}, "00101"}, "no item": {examplePrefix(t), ""}, "neither": {}} {
		got, err := domain.GS1Label(row.prefix, row.item, "a lot with blanks", domain.Date{}, domain.Quantity{}, "not a stem")
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
		got, err := domain.GS1Label(examplePrefix(t), row.item, row.lot, domain.Date{}, domain.Quantity{}, row.stem)
		var refusal *domain.Error
		if !errors.As(err, &refusal) || !strings.Contains(refusal.Detail, row.says) || !got.IsZero() {
			t.Errorf("%s: %+v, %v; want a refusal that says %q", name, got, err, row.says)
		}
	}
	if _, err := domain.GS1Label(examplePrefix(t), "00101", strings.Repeat("A", 20), domain.Date{}, domain.Quantity{}, "https://a.example"); err != nil {
		t.Errorf("a lot of 20: %v", err)
	}
	if _, err := domain.GS1Label(examplePrefix(t), "00101", "A1", domain.Date{}, domain.Q("10000", "lb"), "https://a.example"); err == nil {
		t.Error("a case of 10,000 lb is taken")
	}
}
