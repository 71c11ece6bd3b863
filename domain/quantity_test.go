package domain_test

import (
	"encoding/json"
	"strings"
	"testing"

	"github.com/shopspring/decimal"

	"croftmark/domain"
)

// Calculations reference section 0, exact unit constants [computed from definitions; bushel 2150.42 cubic inches verified:
// Univ. of Illinois Extension 2009; ft3/yd3/m3/gal factors verified: Alberta Agriculture, Nutrient Management Planning
// Guide Table 4.1.3]. The digits are as many as the reference prints.
func TestUnitFactors(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		one, in domain.Unit
		want    string
	}{
		{"lb", "g", "453.59237"},
		{"oz", "g", "28.349523125"},
		{"kg", "lb", "2.204622622"},
		{"kg", "g", "1000"},
		{"gal", "L", "3.785411784"},
		{"yd3", "gal", "201.974"},
		{"yd3", "m3", "0.764555"},
		{"bu", "L", "35.23907"},
		{"acre", "ft2", "43560"}, // not the 43,500 that one conversion sheet prints [verified: NOFA Appendix A; computed]
		{"acre", "m2", "4046.86"},
		{"lb", "oz", "16"},        // by definition
		{"gal", "qt", "4"},        // by definition
		{"m", "ft", "3.28083990"}, // 1 ft = 0.3048 m by definition
		{"bunch", "bunch", "1"},
	} {
		got, err := domain.Q("1", c.one).In(c.in)
		if err != nil {
			t.Errorf("%s in %s: %v", c.one, c.in, err)
			continue
		}
		want := decimal.RequireFromString(c.want)
		if !got.Round(-want.Exponent()).Equal(want) {
			t.Errorf("1 %s = %s %s, want %s", c.one, got, c.in, c.want)
		}
	}
}

// Calculations reference section 0 [computed] and us-rules 0.1, unit conversion: 54.9 degC fails 131 degF, 55.0 passes;
// 76.6 degC passes the 170 degF ceiling and 76.7 fails.
func TestTemperatureConversionIsExact(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		value    string
		from, to domain.Unit
		want     string
	}{
		{"131", "degF", "degC", "55"}, {"55", "degC", "degF", "131"}, {"54.9", "degC", "degF", "130.82"},
		{"76.6", "degC", "degF", "169.88"}, {"76.7", "degC", "degF", "170.06"}, {"-40", "degC", "degF", "-40"}, {"32", "degF", "degC", "0"},
		{"170", "degF", "degC", "76.666666666667"}, {"12.5", "degC", "degC", "12.5"},
	} {
		got, err := domain.Q(c.value, c.from).In(c.to)
		if err != nil || !got.Equal(decimal.RequireFromString(c.want)) {
			t.Errorf("%s %s = %s %s (%v), want %s", c.value, c.from, got, c.to, err, c.want)
		}
	}
}

func TestUnitsThatDoNotConvert(t *testing.T) {
	t.Parallel()
	for _, pair := range [][2]domain.Unit{{"bunch", "head"}, {"crate", "case"}, {"lb", "gal"}, {"ft", "ft2"}, {"degF", "lb"}, {"lb", "stone"}, {"stone", "lb"}, {"", "lb"}} {
		if v, err := domain.Q("1", pair[0]).In(pair[1]); err == nil {
			t.Errorf("1 %s became %s %s", pair[0], v, pair[1])
		}
	}
}

func TestUnitListIsComplete(t *testing.T) {
	t.Parallel()
	seen := map[string]bool{}
	for _, name := range domain.UnitNames {
		if _, ok := domain.MeasureOf(domain.Unit(name)); !ok || seen[name] {
			t.Errorf("%q is unknown or named twice", name)
		}
		seen[name] = true
	}
	if len(seen) != 22 {
		t.Errorf("%d units", len(seen))
	}
	for _, u := range []domain.Unit{"", "lbs", "LB", "pound", "l", "tons", "°F"} {
		if _, ok := domain.MeasureOf(u); ok {
			t.Errorf("%q passed for a unit", u)
		}
	}
}

func TestQuantityJSONIsStrict(t *testing.T) {
	t.Parallel()
	for _, text := range []string{`{"value":"12.5","unit":"lb"}`, `{"value":"12.50","unit":"lb"}`, `{"value":"120","unit":"bunch"}`, `{"value":"0.000","unit":"g"}`, `{"value":"-4","unit":"degC"}`} {
		var q domain.Quantity
		if err := json.Unmarshal([]byte(text), &q); err != nil {
			t.Errorf("%s: %v", text, err)
		}
		if back, err := json.Marshal(q); err != nil || string(back) != text {
			t.Errorf("%s became %s (%v)", text, back, err)
		}
	}
	for _, text := range []string{`{"value":12.5,"unit":"lb"}`, `{"value":"1e3","unit":"lb"}`, `{"value":"1E3","unit":"lb"}`, `{"value":"+1","unit":"lb"}`,
		`{"value":"1 000","unit":"lb"}`, `{"value":"1,5","unit":"lb"}`, `{"value":"","unit":"lb"}`, `{"value":"NaN","unit":"lb"}`, `{"value":"0x10","unit":"lb"}`,
		`{"value":"1.2.3","unit":"lb"}`, `{"unit":"lb"}`, `"12 lb"`, `12`, `null`, `[]`, `{"value":"1","unit":"lb","about":true}`,
		`{"value":"` + strings.Repeat("9", 31) + `","unit":"lb"}`} {
		var q domain.Quantity
		if err := json.Unmarshal([]byte(text), &q); err == nil {
			t.Errorf("%s was read as %s", text, q)
		}
	}
}

func TestQuantityCheckSaysAllAtOnce(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		why  string
		q    domain.Quantity
		want string
	}{
		{"fine", domain.Q("12.5", "lb"), ""},
		{"as much as may be", domain.Q("1000", "lb"), ""},
		{"unknown unit", domain.Q("1", "stone"), "#/amount/unit"},
		{"unknown unit and negative", domain.Q("-1", "stone"), "#/amount/unit #/amount/value"},
		{"another measure", domain.Q("1", "acre"), "#/amount/unit"},
		{"nothing", domain.Q("0", "lb"), "#/amount/value"},
		{"negative", domain.Q("-3", "lb"), "#/amount/value"},
		{"absurd", domain.Q("1000.1", "lb"), "#/amount/value"},
		{"too many digits", domain.Q("1.0000001", "lb"), "#/amount/value"},
		{"not given", domain.Quantity{}, "#/amount/unit #/amount/value"},
	} {
		var p domain.Problems
		c.q.Check(&p, "/amount", "1000", domain.Mass, domain.Volume)
		if got := pointers(p.Err()); got != c.want {
			t.Errorf("%s: %q, want %q", c.why, got, c.want)
		}
	}
}

func TestQuantityNotGiven(t *testing.T) {
	t.Parallel()
	if !(domain.Quantity{}).IsZero() || domain.Q("0", "lb").IsZero() || domain.Q("1", "").IsZero() {
		t.Error("not given is another thing than zero")
	}
	if got := domain.Q("12.5", "lb").String(); got != "12.5 lb" {
		t.Errorf("%q", got)
	}
	defer func() {
		if recover() == nil {
			t.Error("a bad constant passed")
		}
	}()
	domain.Q("twelve", "lb")
}
