package domain_test

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/shopspring/decimal"
	"gonum.org/v1/gonum/stat"
	"pgregory.net/rapid"

	"croftmark/domain"
)

// waterCounts reads "<1 2 3 >2419.6" as results per 100 mL.
func waterCounts(t testing.TB, text string) []domain.WaterResult {
	t.Helper()
	var out []domain.WaterResult
	for _, w := range strings.Fields(strings.ReplaceAll(text, ",", " ")) {
		bare := strings.TrimLeft(w, "<>")
		v, err := domain.ParseDecimal(bare)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, domain.WaterResult{Qualifier: strings.TrimSuffix(w, bare), Value: v, Unit: "MPN/100mL"})
	}
	return out
}

func waterNear(got, want, tolerance float64) bool { return math.Abs(got-want) <= tolerance }

func waterStatistics(t testing.TB, text string) domain.WaterStatistics {
	t.Helper()
	s, err := domain.StatisticsOf(waterCounts(t, text))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

const waterSetA = "<1,<1,<1,2,3,5,8,14,20,31,44,60,75,98,120,180,240,310,520,>2419.6"

func TestWaterStatisticsCheckValues(t *testing.T) {
	t.Parallel()
	repeat := func(s string, n int) string { return strings.TrimSpace(strings.Repeat(s+" ", n)) }
	for _, c := range []struct {
		name, data, source string
		n                  int
		m, s, gm, stv      float64 // m, s and stv of zero: not published
	}{
		{"permit office", "38 95 52", "[verified: Kalamazoo County Environmental Health]", 3, 0, 0, 57.2580889, 0},
		{"operator note", "250 1500 1200", "[verified: R. Weigand, W.Va. 2008]; 766.309 [computed]", 3, 2.8844, 0, 766.309, 0},
		{"drinking-water handbook", "12 28 37 25", "[verified: Example 6.4, log mean 1.373120]; 23.611 [computed]", 4, 1.373120, 0, 23.611, 0},
		{"newspaper of growers", "10 100", "[verified: M. Partyka, UC Davis, in Good Fruit Grower]", 2, 1.5, 0, 31.623, 0},
		{"20, threshold fails", "4,9,12,18,23,31,40,47,55,68,75,90,104,130,155,190,240,330,520,1100", "[computed]", 20, 1.833818, 0.610477, 68.205, 413.476},
		{"at the criterion", repeat("126", 20), "[computed]", 20, 2.100371, 0, 126, 126},
		{"20 pass", "10,15,22,30,36,45,52,60,71,84,95,110,126,140,165,190,235,310,410,640", "us-rules 2.7", 20, 1.925904, 0.476439, 84.31, 344.11},
		{"hundreds", repeat("100", 10) + " " + repeat("400", 10), "us-rules 2.7", 20, 2.301030, 0.308850, 200, 497.71},
		{"ten twice", repeat("60,90,130,180,220,300,350,480,520,610", 2), "us-rules 2.7", 20, 2.364780, 0.329787, 231.62, 613.15},
		{"four", "1,3,8,12", "us-rules 2.7", 4, 0.614848, 0.481558, 4.12, 17.07},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := waterStatistics(t, c.data)
			if s.N != c.n || !waterNear(s.GeometricMean, c.gm, 0.006) {
				t.Errorf("%s: n %d, GM %.6f; want %d, %.6f", c.source, s.N, s.GeometricMean, c.n, c.gm)
			}
			if c.m != 0 && !waterNear(s.MeanLog, c.m, 0.00005) {
				t.Errorf("%s: mean log %.6f, want %.6f", c.source, s.MeanLog, c.m)
			}
			if c.stv != 0 && (!waterNear(s.SDLog, c.s, 0.0000006) || !waterNear(s.ThresholdValue, c.stv, 0.006) || !s.ThresholdKnown) {
				t.Errorf("%s: s %.6f STV %.4f known %v; want %.6f, %.4f", c.source, s.SDLog, s.ThresholdValue, s.ThresholdKnown, c.s, c.stv)
			}
		})
	}
}

// The pair 126 and 410 equals a log SD of 0.400 [computed; that EPA 2012 used 0.4 is memory].
func TestWaterCriteriaPair(t *testing.T) {
	t.Parallel()
	// two logs 0.2·√2 on either side of the mean have a sample SD of 0.4
	d := 0.4 / math.Sqrt2
	low, high := math.Pow(10, math.Log10(126)-d), math.Pow(10, math.Log10(126)+d)
	s := waterStatistics(t, fmt.Sprintf("%.12f %.12f", low, high))
	if !waterNear(s.ThresholdValue, 410.37, 0.005) {
		t.Errorf("STV %.4f, want 410.37", s.ThresholdValue)
	}
}

// Set A of calculations reference 3.3 [computed].
func TestWaterStatisticsCensored(t *testing.T) {
	t.Parallel()
	s := waterStatistics(t, waterSetA)
	if !waterNear(s.GeometricMean, 27.901, 0.0006) || !waterNear(s.ThresholdValue, 574.70, 0.006) {
		t.Errorf("GM %.4f STV %.4f; want 27.901 with the limit, 574.70 with half of it", s.GeometricMean, s.ThresholdValue)
	}
	if !s.AtLeast || s.N != 20 {
		t.Errorf("at least %v, n %d", s.AtLeast, s.N)
	}
	said := fmt.Sprint(s.Said)
	for _, words := range []string{"3 below the limit", "1 above the range", "at least", "half the limit"} {
		if !strings.Contains(said, words) {
			t.Errorf("the answer does not say %q: %s", words, said)
		}
	}
	// the same numbers counted: 1 gives STV 513.94, and doubling the top to 4839.2 gives 28.885 / 586.26 [computed]
	counted := waterStatistics(t, strings.NewReplacer("<", "", ">", "").Replace(waterSetA))
	if !waterNear(counted.ThresholdValue, 513.94, 0.006) || counted.AtLeast {
		t.Errorf("counted: STV %.4f at least %v, want 513.94", counted.ThresholdValue, counted.AtLeast)
	}
	doubled := waterStatistics(t, strings.Replace(waterSetA, ">2419.6", "4839.2", 1))
	if !waterNear(doubled.GeometricMean, 28.885, 0.0006) {
		t.Errorf("doubled: GM %.4f, want 28.885", doubled.GeometricMean)
	}
	doubledCounted := waterStatistics(t, strings.NewReplacer("<", "", ">2419.6", "4839.2").Replace(waterSetA))
	if !waterNear(doubledCounted.ThresholdValue, 586.26, 0.006) {
		t.Errorf("doubled: STV %.4f, want 586.26", doubledCounted.ThresholdValue)
	}
	// dropping what was not detected gives 50.20 / 588.95 [computed]; it is not what the code does
	dropped := waterStatistics(t, strings.NewReplacer("<1,", "", ">", "").Replace(waterSetA))
	if !waterNear(dropped.GeometricMean, 50.20, 0.006) || !waterNear(dropped.ThresholdValue, 588.95, 0.006) {
		t.Errorf("dropped: %.4f %.4f, want 50.20 588.95", dropped.GeometricMean, dropped.ThresholdValue)
	}
	zero, below := waterStatistics(t, "0 10 100"), waterStatistics(t, "<1 10 100")
	if zero.GeometricMean != below.GeometricMean || zero.ThresholdValue != below.ThresholdValue {
		t.Errorf("0 must count as <1: %v %v", zero, below)
	}
	if one := waterStatistics(t, "42"); one.ThresholdKnown || !waterNear(one.GeometricMean, 42, 1e-9) {
		t.Errorf("one value has no threshold: %+v", one)
	}
}

func TestWaterStatisticsRefuses(t *testing.T) {
	t.Parallel()
	bad := []domain.WaterResult{
		{Value: decimal.New(-3, 0), Unit: "CFU/100mL"},
		{Value: decimal.New(5, 0), Unit: "MPN"},
		{Qualifier: "~", Value: decimal.New(5, 0), Unit: "MPN/100mL"},
		{Value: decimal.New(1, 0), Unit: "PA/100mL"},
	}
	for i, r := range bad {
		_, err := domain.StatisticsOf([]domain.WaterResult{{Value: decimal.New(1, 0), Unit: "CFU/100mL"}, r})
		if err == nil || !strings.Contains(err.Error(), "#/results/1/") {
			t.Errorf("row %d: %v does not name the field", i, err)
		}
	}
	mixed, err := domain.StatisticsOf([]domain.WaterResult{{Value: decimal.New(1, 0), Unit: "CFU/100mL"}, {Value: decimal.New(9, 0), Unit: "MPN/100 mL"}})
	if err != nil || !strings.Contains(fmt.Sprint(mixed.Said), "mixed") {
		t.Errorf("mixed methods need a note: %v %v", mixed.Said, err)
	}
}

// gonum is the independent library.
func TestWaterStatisticsAgainstGonum(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(rt *rapid.T) {
		tenths := rapid.SliceOfN(rapid.Int64Range(1, 50_000_000), 2, 40).Draw(rt, "tenths")
		var xs, logs []float64
		var rs []domain.WaterResult
		for _, v := range tenths {
			d := decimal.New(v, -1)
			rs = append(rs, domain.WaterResult{Value: d, Unit: "CFU/100mL"})
			xs, logs = append(xs, d.InexactFloat64()), append(logs, math.Log10(d.InexactFloat64()))
		}
		got, err := domain.StatisticsOf(rs)
		if err != nil {
			rt.Fatal(err)
		}
		gm := stat.GeometricMean(xs, nil)
		m, s := stat.MeanStdDev(logs, nil)
		if stv := math.Pow(10, m+1.282*s); !waterNear(got.GeometricMean/gm, 1, 1e-9) || !waterNear(got.ThresholdValue/stv, 1, 1e-7) {
			rt.Fatalf("GM %v STV %v; gonum %v %v", got.GeometricMean, got.ThresholdValue, gm, stv)
		}
	})
}

// The threshold given is never below the one of either way to count what was not detected.
func TestWaterThresholdIsTheLarger(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(rt *rapid.T) {
		below := rapid.IntRange(1, 10).Draw(rt, "below")
		rest := rapid.SliceOfN(rapid.Int64Range(1, 3000), 2, 15).Draw(rt, "rest")
		var rs []domain.WaterResult
		var limit, half []float64
		for range below {
			rs = append(rs, domain.WaterResult{Qualifier: "<", Value: decimal.New(1, 0), Unit: "MPN/100mL"})
			limit, half = append(limit, 0), append(half, math.Log10(0.5))
		}
		for _, v := range rest {
			rs = append(rs, domain.WaterResult{Value: decimal.New(v, 0), Unit: "MPN/100mL"})
			limit, half = append(limit, math.Log10(float64(v))), append(half, math.Log10(float64(v)))
		}
		got, err := domain.StatisticsOf(rs)
		if err != nil {
			rt.Fatal(err)
		}
		want := 0.0
		for _, logs := range [][]float64{limit, half} {
			m, s := stat.MeanStdDev(logs, nil)
			want = max(want, math.Pow(10, m+1.282*s))
		}
		if !waterNear(got.ThresholdValue/want, 1, 1e-7) {
			rt.Fatalf("STV %v, want %v", got.ThresholdValue, want)
		}
	})
}

func TestDieOffDays(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		gm, stv, need float64
		days          int
		fixable       bool
		source        string
	}{
		{126, 410, 0, 0, true, "calculations 3.4 [computed]"},
		{127, 400, 0.0034, 1, true, "calculations 3.4 [computed]"},
		{235, 1000, 0.3872, 1, true, "calculations 3.4 [computed]"},
		{398.4, 1296, 0.4999, 1, true, "calculations 3.4 [computed]"},
		{400, 1300, 0.5017, 2, true, "calculations 3.4 [computed]"},
		{1260, 4100, 1, 2, true, "calculations 3.4 [computed], float trap"},
		{1260 * (1 + 1e-12), 4100, 1, 2, true, "the same, as it comes out of logarithms"},
		{1261, 4100, 1.0003, 3, true, "calculations 3.4 [computed]"},
		{5000, 16000, 1.5986, 4, true, "calculations 3.4 [computed]"},
		{12600, 41000, 2, 4, true, "calculations 3.4 [computed]"},
		{12700, 41000, 2.0034, 5, false, "calculations 3.4 [computed]"},
		{100, 2500, 0.7852, 2, true, "calculations 3.4 [computed], threshold only"},
		{500, 2000, 1.376 / 2, 2, true, "us-rules 2.7: 1.376 days"},
		{200, 497.71, 0.2007, 1, true, "us-rules 2.7"},
		{231.62, 613.15, 0.2644, 1, true, "us-rules 2.7"},
		{15000, 1, 2.0757, 5, false, "us-rules 2.7: 4.15 days"},
		{126.4, 410, 0.0014, 1, true, "us-rules 2.7: 126.4 fails"},
	} {
		got, err := domain.DieOffOf(c.gm, c.stv)
		if err != nil || !waterNear(got.NeedLog, c.need, 0.0006) || got.Days != c.days || got.Fixable != c.fixable {
			t.Errorf("%v/%v (%s): %+v %v; want need %v, %d days, fixable %v", c.gm, c.stv, c.source, got, err, c.need, c.days, c.fixable)
		}
	}
	// 500/2,000 after 2 days → 50/200 [computed]
	if gm, stv := domain.ResidualAfter(500, 2), domain.ResidualAfter(2000, 2); !waterNear(gm, 50, 1e-9) || !waterNear(stv, 200, 1e-9) {
		t.Errorf("after two days %v/%v, want 50/200", gm, stv)
	}
	for _, bad := range [][2]float64{{0, 10}, {-1, 10}, {10, 0}, {math.NaN(), 10}, {10, math.NaN()}, {math.Inf(1), 1}} {
		if _, err := domain.DieOffOf(bad[0], bad[1]); err == nil {
			t.Errorf("%v was taken", bad)
		}
	}
}

// After the given days the rest is within both criteria, and a day less would not do.
func TestDieOffResidual(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(rt *rapid.T) {
		gm := rapid.Float64Range(0.5, 1e6).Draw(rt, "gm")
		stv := rapid.Float64Range(0.5, 1e6).Draw(rt, "stv")
		d, err := domain.DieOffOf(gm, stv)
		if err != nil {
			rt.Fatal(err)
		}
		within := func(days int) bool {
			const grain = 1 + 5e-9 // what rounding to nine decimals of a logarithm allows
			return domain.ResidualAfter(gm, days) <= domain.GeometricMeanCriterion*grain &&
				domain.ResidualAfter(stv, days) <= domain.ThresholdCriterion*grain
		}
		if !within(d.Days) || (d.Days > 0 && within(d.Days-1)) || d.Fixable != (d.Days <= 4) {
			rt.Fatalf("%v/%v: %+v", gm, stv, d)
		}
	})
}

func TestDieOffDaysBetween(t *testing.T) {
	t.Parallel()
	zone, err := time.LoadLocation("America/New_York")
	if err != nil {
		t.Fatal(err)
	}
	at := func(s string) time.Time {
		v, err := time.ParseInLocation("2006-01-02 15:04", s, zone)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	for _, c := range []struct {
		name, watered, cut string
		want               int
	}{
		{"full days", "2026-06-01 08:00", "2026-06-05 08:00", 4},
		{"an hour short", "2026-06-01 08:00", "2026-06-05 07:00", 3},
		{"over midnight", "2026-06-01 23:00", "2026-06-02 00:30", 0},
		{"spring change: 23 hours", "2027-03-13 12:00", "2027-03-14 12:00", 0},
		{"autumn change: 24 hours inside one day", "2026-11-01 00:00", "2026-11-01 23:30", 0},
		{"cut before watering", "2026-06-02 08:00", "2026-06-01 08:00", 0},
	} {
		if got := domain.DieOffDaysBetween(at(c.watered), at(c.cut), zone); got != c.want {
			t.Errorf("%s: %d, want %d", c.name, got, c.want)
		}
	}
}
