package domain_test

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"github.com/shopspring/decimal"

	"croftmark/domain"
)

func waterResult(qualifier, value, unit string) *domain.WaterResult {
	return &domain.WaterResult{Qualifier: qualifier, Value: decimal.RequireFromString(value), Unit: unit}
}

// Calculations reference 3.3: <1.0 passes, 1.0 fails, a missing volume or a diluted <10 is unknown [convention;
// us-rules 2.6].
func TestWaterResultInHundred(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		qualifier, value, unit string
		want                   domain.WaterFinding
	}{
		{"<", "1", "MPN/100mL", domain.NoneDetected},
		{"<", "1.0", "MPN/100 mL", domain.NoneDetected},
		{"<", "1", "cfu per 100 ml", domain.NoneDetected},
		{"", "0", "CFU/100mL", domain.NoneDetected},
		{"", "0", "P/A/100mL", domain.NoneDetected},
		{"", "1", "PA/100mL", domain.Detected},
		{"", "1.0", "MPN/100mL", domain.Detected},
		{"", "0.5", "MPN/100mL", domain.Detected},
		{">", "2419.6", "MPN/100mL", domain.Detected},
		{"<", "10", "MPN/100mL", domain.CannotTell},
		{"<", "1.1", "MPN/100mL", domain.CannotTell},
		{"<", "1", "MPN", domain.CannotTell},
		{"", "0", "PA", domain.CannotTell},
		{"", "0", "", domain.CannotTell},
		{"", "3", "CFU", domain.Detected}, // found in whatever volume: the stricter reading
		{"~", "0", "CFU/100mL", domain.CannotTell},
		{"", "-1", "CFU/100mL", domain.CannotTell},
	} {
		if got := waterResult(c.qualifier, c.value, c.unit).InHundred(); got != c.want {
			t.Errorf("%s%s %s: %s, want %s", c.qualifier, c.value, c.unit, got, c.want)
		}
	}
}

func TestWaterResultJSONKeepsPrint(t *testing.T) {
	t.Parallel()
	for _, text := range []string{`{"qualifier":"\u003c","value":"1.0","unit":"MPN/100mL"}`, `{"value":"2419.6","unit":"MPN/100mL"}`, `{"value":"300","unit":"CFU/100mL"}`} {
		var r domain.WaterResult
		if err := json.Unmarshal([]byte(text), &r); err != nil {
			t.Fatal(err)
		}
		back, err := json.Marshal(r)
		if err != nil || string(back) != text {
			t.Errorf("%s became %s (%v)", text, back, err)
		}
	}
	for _, text := range []string{`{"value":"1e3","unit":"MPN/100mL"}`, `{"value":5,"unit":"MPN/100mL"}`, `[]`} {
		if err := json.Unmarshal([]byte(text), new(domain.WaterResult)); err == nil {
			t.Errorf("%s was taken", text)
		}
	}
}

func TestWaterTestRefuses(t *testing.T) {
	t.Parallel()
	today := domain.NewDate(2026, 7, 10)
	sampled := time.Date(2026, 7, 6, 9, 0, 0, 0, time.UTC)
	base := domain.WaterTest{SampledAt: sampled, Analyte: "generic E. coli", Result: waterResult("<", "1", "MPN/100mL"), Method: "EPA 1603", Lab: "county lab"}
	var fine domain.Problems
	if base.Check(today, &fine); fine.Err() != nil {
		t.Fatal(fine.Err())
	}
	for _, c := range []struct {
		name, pointer, fix string
		change             func(*domain.WaterTest)
	}{
		{"negative count", "#/result/value", "write <", func(x *domain.WaterTest) { x.Result = waterResult("", "-4", "CFU/100mL") }},
		{"less than nothing", "#/result/value", "limit the lab prints", func(x *domain.WaterTest) { x.Result = waterResult("<", "0", "CFU/100mL") }},
		{"absurd count", "#/result/value", "Check the number", func(x *domain.WaterTest) { x.Result = waterResult("", "10000000000", "CFU/100mL") }},
		{"unknown unit", "#/result/unit", "use one of", func(x *domain.WaterTest) { x.Result = waterResult("", "4", "germs") }},
		{"unit of mass", "#/result/unit", "use one of", func(x *domain.WaterTest) { x.Result = waterResult("", "4", "mg/L") }},
		{"unknown qualifier", "#/result/qualifier", "leave it out", func(x *domain.WaterTest) { x.Result = waterResult("≈", "4", "CFU/100mL") }},
		{"present twice", "#/result/value", "1 or 0", func(x *domain.WaterTest) { x.Result = waterResult("", "2", "PA/100mL") }},
		{"sample after the report", "#/reported_at", "Correct", func(x *domain.WaterTest) { x.ReportedAt = sampled.Add(-time.Hour) }},
		{"test started before the sample", "#/started_at", "Correct", func(x *domain.WaterTest) { x.StartedAt = sampled.Add(-time.Hour) }},
		{"sampled in the future", "#/sampled_at", "future", func(x *domain.WaterTest) { x.SampledAt = sampled.AddDate(1, 0, 0) }},
		{"not said when", "#/sampled_at", "Say when", func(x *domain.WaterTest) { x.SampledAt = time.Time{} }},
		{"no analyte", "#/analyte", "Give", func(x *domain.WaterTest) { x.Analyte = "" }},
	} {
		x := base
		c.change(&x)
		var p domain.Problems
		x.Check(today, &p)
		if err := p.Err(); err == nil || !strings.Contains(err.Error(), c.pointer) || !strings.Contains(err.Error(), c.fix) {
			t.Errorf("%s: %v does not say %s %q", c.name, err, c.pointer, c.fix)
		}
	}
	var p domain.Problems
	source := domain.WaterSource{Name: "Well", Is: "spring", Uses: []domain.WaterUse{"drinking"}, From: sampled, To: sampled.Add(-time.Hour)}
	source.Check(today, &p)
	for _, pointer := range []string{"#/kind", "#/uses/0", "#/to"} {
		if err := p.Err(); err == nil || !strings.Contains(err.Error(), pointer) {
			t.Errorf("source: %v does not name %s", err, pointer)
		}
	}
}

// Methods equivalent to EPA 1603: the first six [verified: FDA page ucm575251]; Hach [name memory]; SM 9223 B [memory].
func TestWaterMethods(t *testing.T) {
	t.Parallel()
	for written, want := range map[string]string{
		"EPA 1603": "EPA 1603 (2014)", "Method 1603 (mTEC)": "EPA 1603 (2014)", "EPA1103.1": "EPA 1103.1 (2010)", "1604": "EPA 1604 (2002)",
		"SM 9213 D": "SM 9213 D (2007)", "SM 9222B followed by SM 9222 G": "SM 9222 B then 9222 G with NA-MUG (1997)", "ASTM D5392-93": "ASTM D5392-93",
		"m-ColiBlue24": "Hach 10029 m-ColiBlue24", "SM9223B": "SM 9223 B, enzyme substrate (Colilert family)", "Colilert-18 Quanti-Tray": "SM 9223 B, enzyme substrate (Colilert family)",
	} {
		if got, ok := domain.WaterMethodOf(written); !ok || got.Name != want {
			t.Errorf("%q: %q %v, want %q", written, got.Name, ok, want)
		}
	}
	for _, written := range []string{"", "in-house", "job 16034", "SM 9222 B", "dipstick"} {
		if got, ok := domain.WaterMethodOf(written); ok {
			t.Errorf("%q was taken as %s", written, got.Name)
		}
	}
}

// Over 8 hours caution, over 24 no test, unless the lab says otherwise [memory].
func TestWaterHolding(t *testing.T) {
	t.Parallel()
	sampled := time.Date(2026, 7, 6, 9, 0, 0, 0, time.UTC)
	for hours, want := range map[float64]domain.Verdict{2: domain.Clear, 8: domain.Clear, 8.01: domain.Caution, 24: domain.Caution, 24.01: domain.Stop} {
		if got := domain.HoldingOf(sampled, sampled.Add(time.Duration(hours*float64(time.Hour)))); got != want {
			t.Errorf("%v hours: %s, want %s", hours, got, want)
		}
	}
	late := domain.WaterTest{SampledAt: sampled, StartedAt: sampled.Add(30 * time.Hour), Result: waterResult("<", "1", "MPN/100mL")}
	if got := late.Finding(); got != domain.CannotTell {
		t.Errorf("none found after 30 hours: %s", got)
	}
	late.Result = waterResult("", "12", "MPN/100mL")
	if got := late.Finding(); got != domain.Detected {
		t.Errorf("found after 30 hours: %s", got)
	}
	for analyte, want := range map[string]bool{"generic E. coli": true, "e-coli": true, "E.coli": true, "ecoli": true, "Escherichia coli": true,
		"Total coliform/E. coli": true, "total coliform": false, "E. coli O157:H7": false, "nitrate": false, "": false,
		"Shiga toxin-producing E. coli (STEC)": false, "STEC E. coli": false, "E. coli O26": false, "E. coli O-111": false, "EHEC (E. coli)": false, "E. coli, VTEC": false,
		"ETEC Escherichia coli": false, "E. coli stx1/stx2": false, "verotoxigenic E. coli": false} {
		if got := (&domain.WaterTest{Analyte: analyte}).IsEColi(); got != want {
			t.Errorf("%q counts as generic E. coli: %v", analyte, got)
		}
	}
}

// No detectable generic E. coli in 100 mL is what the rule wants (21 CFR 112.44(a)): a test for one kind of it passes
// nothing, and what it finds was E. coli in the water all the same.
func TestWaterTestForOneKindOfEColi(t *testing.T) {
	t.Parallel()
	for _, analyte := range []string{"E. coli O26", "E. coli O157:H7", "E. coli, STEC", "Shiga toxin stx1/stx2"} {
		for result, want := range map[string]domain.Verdict{"<1": domain.Caution, "3": domain.Stop, "pending": domain.Ask} {
			f := goodWell()
			f.Tests = f.Tests[:3]
			kind := waterDrawn("2026-06-01", "", result)
			kind.Analyte = analyte
			f.Tests = append(f.Tests, kind)
			if got := domain.FitnessOfWater(f, domain.UseWashing, "", waterAt("2026-07-01")); got.Verdict != want {
				t.Errorf("three good samples and %s of %s: %s, want %s\n%s", result, analyte, got.Verdict, want, waterSaid(got))
			}
			if kind.Speaks() == (result == "<1") { // papers list what was found, or may be, beside the generic samples
				t.Errorf("%s of %s: speaks %v", result, analyte, kind.Speaks())
			}
		}
	}
	oxygen := waterDrawn("2026-06-15", "", "8")
	oxygen.Analyte = "O2"
	f := goodWell()
	f.Tests = append(f.Tests, oxygen)
	if got := domain.FitnessOfWater(f, domain.UseWashing, "", waterAt("2026-07-01")); got.Verdict != domain.Clear {
		t.Errorf("dissolved oxygen counts as E. coli: %s", waterSaid(got))
	}
}
