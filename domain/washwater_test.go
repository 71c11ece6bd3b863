package domain_test

import (
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"croftmark/domain"
)

// washProduct is a product whose label allows a wide range, so that the arithmetic of the published tables can be tried.
func washProduct(kind domain.SanitizerKind, percent string) domain.SanitizerProduct {
	return domain.SanitizerProduct{Name: "test product", Kind: kind, Registration: "0000-1", Percent: decimal.RequireFromString(percent),
		LabelLow: decimal.New(1, 0), LabelHigh: decimal.New(600, 0)}
}

func washNumber(s string) *decimal.Decimal {
	d := decimal.RequireFromString(s)
	return &d
}

func TestWashDoses(t *testing.T) {
	t.Parallel()
	bleach, paa := domain.SodiumHypochlorite, domain.PeraceticAcid
	for _, c := range []struct {
		kind                  domain.SanitizerKind
		percent, from, target string
		water                 domain.Quantity
		ml, floz, tbsp        float64
		tolerance             float64 // of mL
		source                string
	}{
		{bleach, "5.25", "0", "50", domain.Q("10", "gal"), 36.05, 1.219, 2.44, 0.006, "[computed]"},
		{bleach, "5.25", "0", "100", domain.Q("100", "gal"), 721.0, 24.38, 48.8, 0.06, "[computed]"},
		{bleach, "8.25", "0", "25", domain.Q("10", "gal"), 11.47, 0.388, 0.776, 0.006, "[computed]"},
		{bleach, "8.25", "0", "50", domain.Q("50", "gal"), 114.7, 3.879, 7.76, 0.06, "[computed]"},
		{bleach, "12.5", "0", "25", domain.Q("100", "gal"), 75.7, 2.560, 5.12, 0.06, "[computed]"},
		{bleach, "12.5", "0", "100", domain.Q("100", "gal"), 302.8, 10.24, 20.5, 0.06, "[computed]"},
		{bleach, "8.25", "18", "50", domain.Q("50", "gal"), 73.4, 2.48, 4.96, 0.06, "top-up [computed]"},
		{paa, "5.3", "0", "60", domain.Q("13", "gal"), 55.71, 1.884, 3.768, 0.006, "[verified: Univ. of Vermont Extension, C. Callahan, 2023: 56 mL, 3.77 tbsp]; recomputed"},
		{paa, "5.3", "0", "27", domain.Q("100", "gal"), 192.8, 6.52, 13.04, 0.06, "[computed]"},
		{paa, "5.3", "0", "96", domain.Q("13", "gal"), 89.1, 3.01, 6.03, 0.06, "[computed]"},
	} {
		got, err := domain.TopUp(washProduct(c.kind, c.percent), *washNumber(c.from), *washNumber(c.target), c.water)
		if err != nil {
			t.Fatal(err)
		}
		if !waterNear(got.Millilitres, c.ml, c.tolerance) || !waterNear(got.FluidOunces(), c.floz, 0.006) || !waterNear(got.Tablespoons(), c.tbsp, 0.06) {
			t.Errorf("%s %% to %s ppm in %s %s: %.4f mL, %.4f fl oz, %.4f tbsp; want %v, %v, %v", c.percent, c.target, c.water, c.source,
				got.Millilitres, got.FluidOunces(), got.Tablespoons(), c.ml, c.floz, c.tbsp)
		}
		if got.Grams != 0 || len(got.Said) == 0 {
			t.Errorf("%s %%: grams %v, said %v", c.percent, got.Grams, got.Said)
		}
	}
}

// Published check [verified: Univ. of Vermont Extension, C. Callahan, via Food Safety Resource Clearinghouse 2023]:
// 60 ppm in 13 gal is 56 mL = 3.77 tbsp = 11.30 tsp = 0.24 cup, 1:883; 500 ppm in 16 fl oz is 4.46 mL = 0.30 tbsp =
// 0.91 tsp, 1:106, and a printed 0.2 fl oz, which is 0.151 [computed].
func TestWashDosePeraceticAcid(t *testing.T) {
	t.Parallel()
	tub, err := domain.DoseFor(washProduct(domain.PeraceticAcid, "5.3"), decimal.New(60, 0), domain.Q("13", "gal"))
	if err != nil || !waterNear(tub.Millilitres, 56, 0.5) || !waterNear(tub.Tablespoons(), 3.77, 0.005) || !waterNear(tub.Teaspoons(), 11.30, 0.005) ||
		!waterNear(tub.Cups(), 0.235, 0.0006) || !waterNear(tub.Ratio, 883.3, 0.06) {
		t.Errorf("tub: %+v %v", tub, err)
	}
	bottle, err := domain.DoseFor(washProduct(domain.PeraceticAcid, "5.3"), decimal.New(500, 0), domain.Q("0.473176", "L"))
	if err != nil || !waterNear(bottle.Millilitres, 4.46, 0.005) || !waterNear(bottle.Tablespoons(), 0.302, 0.0006) || !waterNear(bottle.Teaspoons(), 0.91, 0.006) ||
		!waterNear(bottle.FluidOunces(), 0.151, 0.0006) || !waterNear(bottle.Ratio, 106.0, 0.06) {
		t.Errorf("bottle: %+v %v", bottle, err)
	}
}

func TestWashDoseForms(t *testing.T) {
	t.Parallel()
	// 65 % calcium hypochlorite, 100 ppm in 100 gal: 58.24 g, 2.05 oz [computed]; the 65 % form [verified: UF CH160]
	dry, err := domain.DoseFor(washProduct(domain.CalciumHypochlorite, "65"), decimal.New(100, 0), domain.Q("100", "gal"))
	if err != nil || !waterNear(dry.Grams, 58.24, 0.006) || !waterNear(dry.Ounces(), 2.05, 0.006) || dry.Millilitres != 0 {
		t.Errorf("dry: %+v %v", dry, err)
	}
	// 1 tbsp of 5.25 % in 1 gal gives 205 ppm [computed]
	if got, err := domain.PPMFromDose(washProduct(domain.SodiumHypochlorite, "5.25"), 14.7868, domain.Q("1", "gal")); err != nil || !waterNear(got, 205, 0.5) {
		t.Errorf("a tablespoon in a gallon: %v %v", got, err)
	}
	// 1 in 10 of 5.25 % is 5,250 ppm [verified: bleach safety sheet]; 1 part and 10 parts is 4,773 [computed]
	if got, err := (domain.Dilution{Product: 1, Whole: 10}).PPM(5.25); err != nil || !waterNear(got, 5250, 1e-6) {
		t.Errorf("1 in 10: %v %v", got, err)
	}
	if got, err := (domain.Dilution{Product: 1, Water: 10, Plus: true}).PPM(5.25); err != nil || !waterNear(got, 4773, 0.5) {
		t.Errorf("1 + 10: %v %v", got, err)
	}
	if _, err := (domain.Dilution{Product: 2, Whole: 1}).PPM(5.25); err == nil {
		t.Error("two parts in one were taken")
	}
	// available chlorine [computed from molar masses]
	for percent, want := range map[float64]float64{5.25: 5.00, 8.25: 7.86, 12.5: 11.91} {
		if got := domain.AvailableChlorine(percent); !waterNear(got, want, 0.006) {
			t.Errorf("%v %%: %v, want %v", percent, got, want)
		}
	}
	// weight percent counts for more: gravity 1.11 at 8.25 % [memory]
	heavy := washProduct(domain.SodiumHypochlorite, "8.25")
	heavy.SpecificGravity = decimal.RequireFromString("1.11")
	light, err1 := domain.DoseFor(washProduct(domain.SodiumHypochlorite, "8.25"), decimal.New(50, 0), domain.Q("50", "gal"))
	dense, err2 := domain.DoseFor(heavy, decimal.New(50, 0), domain.Q("50", "gal"))
	if err1 != nil || err2 != nil || !waterNear(dense.Millilitres, 103.36, 0.02) || !(dense.Millilitres < light.Millilitres) {
		t.Errorf("w/w %v, w/v %v (%v %v)", dense.Millilitres, light.Millilitres, err1, err2)
	}
}

func TestWashDoseRefuses(t *testing.T) {
	t.Parallel()
	good := washProduct(domain.SodiumHypochlorite, "8.25")
	capped := good
	capped.LabelHigh = decimal.New(25, 0) // one bleach label caps produce wash at 25 ppm [verified: UMass Extension]
	for _, c := range []struct {
		name, want       string
		product          domain.SanitizerProduct
		measured, target string
		water            domain.Quantity
	}{
		{"no product row: percent", "#/product/percent", domain.SanitizerProduct{}, "0", "50", domain.Q("10", "gal")},
		{"no product row: label range", "#/product/label_range", domain.SanitizerProduct{}, "0", "50", domain.Q("10", "gal")},
		{"no product row: registration", "#/product/registration", domain.SanitizerProduct{}, "0", "50", domain.Q("10", "gal")},
		{"over the label", "#/target", capped, "0", "50", domain.Q("10", "gal")},
		{"unit of mass", "#/water/unit", good, "0", "50", domain.Q("10", "lb")},
		{"unknown unit", "#/water/unit", good, "0", "50", domain.Q("10", "buckets")},
		{"no water", "#/water/value", good, "0", "50", domain.Q("0", "gal")},
		{"already there", "#/measured", good, "50", "50", domain.Q("10", "gal")},
		{"negative reading", "#/measured", good, "-1", "50", domain.Q("10", "gal")},
	} {
		_, err := domain.TopUp(c.product, *washNumber(c.measured), *washNumber(c.target), c.water)
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v does not name %s", c.name, err, c.want)
		}
	}
}

// A dose read backwards gives the ppm it was made for.
func TestWashDoseAndBack(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(rt *rapid.T) {
		product := washProduct(rapid.SampledFrom(domain.SanitizerKinds).Draw(rt, "kind"), "1")
		product.Percent = decimal.New(rapid.Int64Range(10, 1000).Draw(rt, "percent"), -1)
		ppm := rapid.Int64Range(1, 600).Draw(rt, "ppm")
		water := domain.Quantity{Value: decimal.New(rapid.Int64Range(1, 500).Draw(rt, "gal"), 0), Unit: "gal"}
		dose, err := domain.DoseFor(product, decimal.New(ppm, 0), water)
		if err != nil {
			rt.Fatal(err)
		}
		back, err := domain.PPMFromDose(product, dose.Millilitres+dose.Grams, water)
		if err != nil || !waterNear(back, float64(ppm), 1e-6) {
			rt.Fatalf("%v %v, want %d", back, err, ppm)
		}
	})
}

// Percent HOCl [computed] from Morris 1966 [memory]; pKa 7.54 at 25 degC [verified: general chemistry texts].
func TestWashHypochlorousShare(t *testing.T) {
	t.Parallel()
	temperatures := []float64{5, 10, 20, 25}
	for ph, row := range map[float64][]float64{
		6.0: {98.3, 98.0, 97.4, 97.2}, 6.5: {94.7, 93.9, 92.3, 91.6}, 7.0: {85.0, 83.1, 79.2, 77.5}, 7.5: {64.2, 60.8, 54.7, 52.1},
		8.0: {36.2, 32.9, 27.6, 25.6}, 8.5: {15.2, 13.4, 10.8, 9.8}, 9.0: {5.4, 4.7, 3.7, 3.3},
	} {
		for i, want := range row {
			got, err := domain.HypochlorousShare(ph, temperatures[i])
			if err != nil || !waterNear(100*got, want, 0.0501) {
				t.Errorf("pH %v at %v degC: %.3f %v, want %v", ph, temperatures[i], 100*got, err, want)
			}
		}
	}
	if half, err := domain.HypochlorousShare(7.5366, 25); err != nil || !waterNear(half, 0.5, 0.0001) {
		t.Errorf("at the pKa of 7.5366 half is HOCl, not %v", half)
	}
	if share, _ := domain.HypochlorousShare(8, 25); !waterNear(50*share, 13, 0.5) {
		t.Errorf("50 ppm at pH 8 work like %v, want 13", 50*share)
	}
	if _, err := domain.HypochlorousShare(77, 25); err == nil {
		t.Error("pH 77 was taken")
	}
}

func TestWashReadingRefuses(t *testing.T) {
	t.Parallel()
	now := time.Date(2026, 7, 1, 9, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		name, pointer, hint string
		reading             domain.WashReading
	}{
		{"keypad: pH 77", "#/ph", "Did you mean 7.7?", domain.WashReading{TakenAt: now, PH: washNumber("77")}},
		{"ppm typed in place of pH", "#/ph", "Is it the ppm?", domain.WashReading{TakenAt: now, PH: washNumber("150")}},
		{"ppm and pH swapped", "#/ph", "Did you swap ppm (7) and pH (50)?", domain.WashReading{TakenAt: now, PH: washNumber("50"), PPM: washNumber("7")}},
		{"negative pH", "#/ph", "Check the meter", domain.WashReading{TakenAt: now, PH: washNumber("-1")}},
		{"negative ppm", "#/ppm", "below 0", domain.WashReading{TakenAt: now, PPM: washNumber("-5")}},
		{"absurd ppm", "#/ppm", "Check the number", domain.WashReading{TakenAt: now, PPM: washNumber("50000")}},
		{"1310 degF", "#/water/value", "degC", domain.WashReading{TakenAt: now, Water: domain.Q("1310", "degF")}},
		{"pulp in pounds", "#/pulp/unit", "degF or degC", domain.WashReading{TakenAt: now, Pulp: domain.Q("70", "lb")}},
		{"no time", "#/taken_at", "when", domain.WashReading{PPM: washNumber("50")}},
	} {
		var p domain.Problems
		c.reading.Check(&p)
		err := p.Err()
		if err == nil || !strings.Contains(err.Error(), c.pointer) || !strings.Contains(err.Error(), c.hint) {
			t.Errorf("%s: %v does not say %s %q", c.name, err, c.pointer, c.hint)
		}
	}
	var p domain.Problems
	rare := domain.WashReading{TakenAt: now, PH: washNumber("9.4"), PPM: washNumber("0"), Water: domain.Q("33", "degF")}
	if rare.Check(&p); p.Err() != nil {
		t.Errorf("rare but possible was refused: %v", p.Err())
	}
}

func washVerdicts(j domain.Judgement, rule string) (vs []domain.Verdict) {
	for _, r := range j.Reasons {
		if r.Rule == rule {
			vs = append(vs, r.Verdict)
		}
	}
	return vs
}

func TestWashReadingJudged(t *testing.T) {
	t.Parallel()
	product := washProduct(domain.SodiumHypochlorite, "8.25")
	product.LabelLow, product.LabelHigh = decimal.New(25, 0), decimal.New(100, 0)
	base := func(change func(*domain.WashReading)) domain.WashReading {
		r := domain.WashReading{Tank: "1", TakenAt: time.Date(2026, 7, 1, 9, 0, 0, 0, time.UTC), PPM: washNumber("50"), PH: washNumber("7.0"),
			Water: domain.Q("60", "degF"), Pulp: domain.Q("70", "degF"), Crop: "lettuce"}
		change(&r)
		return r
	}
	infiltration := "wash.water-warmer-than-pulp"
	for _, c := range []struct {
		name    string
		change  func(*domain.WashReading)
		want    domain.Verdict
		rule    string // whose verdicts are named
		verdict []domain.Verdict
	}{
		{"in range", func(*domain.WashReading) {}, domain.Clear, "wash.strength", []domain.Verdict{domain.Clear}},
		{"label low itself", func(r *domain.WashReading) { r.PPM = washNumber("25") }, domain.Clear, "", nil},
		{"just below the label", func(r *domain.WashReading) { r.PPM = washNumber("24.9") }, domain.Stop, "", nil},
		{"label high itself", func(r *domain.WashReading) { r.PPM = washNumber("100") }, domain.Clear, "", nil},
		{"just above the label", func(r *domain.WashReading) { r.PPM = washNumber("100.1") }, domain.Stop, "", nil},
		{"below the farm's own range", func(r *domain.WashReading) { r.TargetLow = washNumber("60") }, domain.Stop, "", nil},
		{"farm range does not widen the label", func(r *domain.WashReading) { r.PPM, r.TargetLow = washNumber("10"), washNumber("5") }, domain.Stop, "", nil},
		{"not measured", func(r *domain.WashReading) { r.PPM = nil }, domain.Ask, "", nil},
		{"pH 6.5", func(r *domain.WashReading) { r.PH = washNumber("6.5") }, domain.Clear, "", nil},
		{"pH 6.4", func(r *domain.WashReading) { r.PH = washNumber("6.4") }, domain.Caution, "wash.ph", []domain.Verdict{domain.Caution}},
		{"pH 7.6", func(r *domain.WashReading) { r.PH = washNumber("7.6") }, domain.Caution, "wash.ph", []domain.Verdict{domain.Caution}},
		{"pH not measured", func(r *domain.WashReading) { r.PH = nil }, domain.Caution, "wash.ph", []domain.Verdict{domain.Caution}},
		{"tomato in colder water", func(r *domain.WashReading) { r.Crop = "Cherry tomatoes" }, domain.Caution, infiltration, []domain.Verdict{domain.Caution}},
		{"bell pepper in colder water", func(r *domain.WashReading) { r.Crop = "bell pepper" }, domain.Caution, infiltration, []domain.Verdict{domain.Caution}},
		{"melon, degC and degF", func(r *domain.WashReading) { r.Crop, r.Water = "muskmelon", domain.Q("20", "degC") }, domain.Caution, infiltration, []domain.Verdict{domain.Caution}},
		{"apple in equal water", func(r *domain.WashReading) { r.Crop, r.Water = "apple", domain.Q("70", "degF") }, domain.Clear, infiltration, nil},
		{"apple, pulp not measured", func(r *domain.WashReading) { r.Crop, r.Pulp = "apple", domain.Quantity{} }, domain.Caution, infiltration, []domain.Verdict{domain.Caution}},
		{"peppermint is no pepper", func(r *domain.WashReading) { r.Crop = "peppermint" }, domain.Clear, infiltration, nil},
		{"organic over 4 ppm, no rinse said", func(r *domain.WashReading) { r.Organic = true }, domain.Ask, "us-organic.chlorine-rinse", []domain.Verdict{domain.Caution, domain.Ask}},
		{"organic over 4 ppm, not rinsed", func(r *domain.WashReading) { r.Organic, r.Rinsed = true, domain.TouchedNo }, domain.Ask, "us-organic.chlorine-rinse", []domain.Verdict{domain.Caution, domain.Ask}},
		{"organic over 4 ppm, rinsed", func(r *domain.WashReading) { r.Organic, r.Rinsed = true, domain.TouchedYes }, domain.Clear, "us-organic.chlorine-rinse", nil},
	} {
		got, err := domain.JudgeWashReading(base(c.change), product)
		if err != nil {
			t.Fatalf("%s: %v", c.name, err)
		}
		if got.Verdict != c.want {
			t.Errorf("%s: %s, want %s (%v)", c.name, got.Verdict, c.want, got.Reasons)
		}
		if diff := cmp.Diff(c.verdict, washVerdicts(got, c.rule)); c.rule != "" && diff != "" {
			t.Errorf("%s, %s: %s", c.name, c.rule, diff)
		}
		for _, r := range got.Reasons {
			if r.Text == "" || r.TextEs == "" || r.Citation == "" || r.Authority == "" {
				t.Errorf("%s: a reason says too little: %+v", c.name, r)
			}
		}
	}
	if _, err := domain.JudgeWashReading(base(func(*domain.WashReading) {}), domain.SanitizerProduct{}); err == nil {
		t.Error("a reading was judged without a product row")
	}
	four := base(func(r *domain.WashReading) { r.Organic, r.PPM = true, washNumber("4") })
	low := product
	low.LabelLow = decimal.New(1, 0)
	if got, err := domain.JudgeWashReading(four, low); err != nil || got.Verdict != domain.Clear {
		t.Errorf("organic at 4 ppm: %v %v, want clear", got, err)
	}
}

func TestWashIntervals(t *testing.T) {
	t.Parallel()
	product := washProduct(domain.SodiumHypochlorite, "8.25")
	product.LabelLow, product.LabelHigh = decimal.New(25, 0), decimal.New(100, 0)
	at := func(minute int) time.Time { return time.Date(2026, 7, 1, 8, minute, 0, 0, time.UTC) }
	reading := func(n byte, tank string, minute int, ppm string) domain.WashReading {
		r := domain.WashReading{ID: uuid.UUID{n}, Tank: tank, TakenAt: at(minute)}
		if ppm != "" {
			r.PPM = washNumber(ppm)
		}
		return r
	}
	justAfter := func(minute int) time.Time { return at(minute).Add(time.Microsecond) }
	for _, c := range []struct {
		name     string
		readings []domain.WashReading
		want     []domain.WashInterval
	}{
		{"all good", []domain.WashReading{reading(1, "a", 0, "50"), reading(2, "a", 30, "40")}, nil},
		{"since the last good one, in any order", []domain.WashReading{reading(3, "a", 50, "60"), reading(2, "a", 30, "10"), reading(1, "a", 0, "50")},
			[]domain.WashInterval{{Tank: "a", From: justAfter(0), To: at(50), Readings: []uuid.UUID{{2}}}}},
		{"never good", []domain.WashReading{reading(1, "a", 5, "0")}, []domain.WashInterval{{Tank: "a", Readings: []uuid.UUID{{1}}}}},
		{"too strong counts too; still open", []domain.WashReading{reading(1, "a", 0, "50"), reading(2, "a", 30, "101"), reading(3, "a", 40, "120")},
			[]domain.WashInterval{{Tank: "a", From: justAfter(0), Readings: []uuid.UUID{{2}, {3}}}}},
		{"tanks apart", []domain.WashReading{reading(1, "a", 0, "50"), reading(2, "b", 10, "10"), reading(3, "a", 20, "50"), reading(4, "b", 30, "50")},
			[]domain.WashInterval{{Tank: "b", To: at(30), Readings: []uuid.UUID{{2}}}}},
		{"not measured ends nothing", []domain.WashReading{reading(1, "a", 0, "50"), reading(2, "a", 10, ""), reading(3, "a", 20, "5"), reading(4, "a", 30, "")},
			[]domain.WashInterval{{Tank: "a", From: justAfter(0), Readings: []uuid.UUID{{3}}}}},
		{"good and bad at one instant is bad", []domain.WashReading{reading(1, "a", 0, "50"), reading(2, "a", 20, "5"), reading(3, "a", 20, "50")},
			[]domain.WashInterval{{Tank: "a", From: justAfter(0), Readings: []uuid.UUID{{2}}}}},
	} {
		if diff := cmp.Diff(c.want, domain.WashIntervals(c.readings, product)); diff != "" {
			t.Errorf("%s: %s", c.name, diff)
		}
	}
}

// Readings through the autumn clock change: 1:40 before and 1:10 after it are half an hour apart, 1:10 and 2:10 across it
// are two hours (record-forms S4).
func TestWashGapsAcrossClockChange(t *testing.T) {
	t.Parallel()
	zone, err := time.LoadLocation("America/New_York")
	if err != nil {
		t.Fatal(err)
	}
	firstOneTen := time.Date(2026, 11, 1, 5, 10, 0, 0, time.UTC).In(zone) // 1:10 EDT
	firstOneForty := firstOneTen.Add(30 * time.Minute)
	secondOneTen := firstOneTen.Add(time.Hour) // 1:10 EST
	twoTen := firstOneTen.Add(2 * time.Hour)
	gaps := domain.WashGaps([]domain.WashReading{{Tank: "a", TakenAt: secondOneTen}, {Tank: "a", TakenAt: firstOneForty}}, 30*time.Minute)
	if len(gaps) != 0 {
		t.Errorf("half an hour was called a gap: %v", gaps)
	}
	gaps = domain.WashGaps([]domain.WashReading{{Tank: "a", TakenAt: firstOneTen}, {Tank: "a", TakenAt: twoTen}, {Tank: "b", TakenAt: firstOneForty}}, time.Hour)
	if len(gaps) != 1 || gaps[0].To.Sub(gaps[0].From) != 2*time.Hour || gaps[0].Tank != "a" {
		t.Errorf("two hours between 1:10 and 2:10: %v", gaps)
	}
}
