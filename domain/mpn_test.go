package domain_test

import (
	"math"
	"strings"
	"testing"

	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"croftmark/domain"
)

func TestMPNPublished(t *testing.T) {
	t.Parallel()
	rows := func(tubes int, volumes []float64, positive ...int) (out []domain.MPNRow) {
		for i, g := range positive {
			out = append(out, domain.MPNRow{Tubes: tubes, VolumeML: volumes[i], Positive: g})
		}
		return out
	}
	bam, sm := []float64{0.1, 0.01, 0.001}, []float64{10, 1, 0.1}
	for _, c := range []struct {
		name, source    string
		rows            []domain.MPNRow
		scale           float64 // of the unit printed
		computed        float64
		published, tens float64 // tens: half of the last digit printed
	}{
		{"5-3-0 of 10", "[verified: FDA/AOAC BAM App. 2 solver sheet]", rows(10, bam, 5, 3, 0), 1, 9.9508, 9.951, 0.0005},
		{"3-1-0", "BAM table [memory]", rows(3, bam, 3, 1, 0), 1, 42.73, 43, 0.5},
		{"3-3-2", "BAM table [memory]", rows(3, bam, 3, 3, 2), 1, 1098.9, 1100, 50},
		{"1-0-0", "BAM table [memory]", rows(3, bam, 1, 0, 0), 1, 3.57, 3.6, 0.05},
		{"2-0-0", "BAM table [memory]", rows(3, bam, 2, 0, 0), 1, 9.18, 9.2, 0.05},
		{"4-2-0", "Standard Methods table [memory]", rows(5, sm, 4, 2, 0), 100, 21.61, 22, 0.5},
		{"5-3-1", "Standard Methods table [memory]", rows(5, sm, 5, 3, 1), 100, 108.64, 110, 5},
	} {
		got, err := domain.MPN(c.rows)
		if err != nil {
			t.Fatal(err)
		}
		if v := got.PerML * c.scale; !waterNear(v, c.computed, 0.0006*c.computed) || !waterNear(v, c.published, c.tens) {
			t.Errorf("%s (%s): %.5f; want %v, published %v", c.name, c.source, v, c.computed, c.published)
		}
	}
}

// 10 tubes each of 0.1, 0.01, 0.001 mL, positives 5, 3, 0 [verified: FDA/AOAC BAM App. 2 solver sheet]; the interval and
// the short-cut recomputed [computed].
func TestMPNInterval(t *testing.T) {
	t.Parallel()
	rows := []domain.MPNRow{{Tubes: 10, VolumeML: 0.1, Positive: 5}, {Tubes: 10, VolumeML: 0.01, Positive: 3}, {Tubes: 10, VolumeML: 0.001, Positive: 0}}
	got, err := domain.MPN(rows)
	if err != nil {
		t.Fatal(err)
	}
	if !waterNear(got.SELog10, 0.15749, 0.000006) || !waterNear(got.Low, 4.889, 0.0006) || !waterNear(got.High, 20.255, 0.0006) {
		t.Errorf("%+v; want SE 0.15749, 4.889 to 20.255", got)
	}
	if !waterNear(got.Low, 4.891, 0.003) || !waterNear(got.High, 20.263, 0.01) || !waterNear(got.SELog10, 0.1575, 0.00005) {
		t.Errorf("%+v; published 4.891 to 20.263, SE 0.1575", got)
	}
	if short, err := domain.Thomas(rows); err != nil || !waterNear(short, 9.970, 0.0006) {
		t.Errorf("Thomas %v %v, want 9.970", short, err)
	}
}

func TestMPNAllNegativeAndAllPositive(t *testing.T) {
	t.Parallel()
	three := func(g ...int) []domain.MPNRow {
		return []domain.MPNRow{{Tubes: 3, VolumeML: 0.1, Positive: g[0]}, {Tubes: 3, VolumeML: 0.01, Positive: g[1]}, {Tubes: 3, VolumeML: 0.001, Positive: g[2]}}
	}
	none, err := domain.MPN(three(0, 0, 0))
	if err != nil || none.PerML != 0 || none.Qualifier != "<" || !waterNear(none.LimitML, 3.0, 0.05) {
		t.Errorf("none positive: %+v %v; BAM table prints <3.0 [memory]", none, err)
	}
	all, err := domain.MPN(three(3, 3, 3))
	if err != nil || !math.IsInf(all.PerML, 1) || all.Qualifier != ">" || !waterNear(all.LimitML, 1098.9, 0.06) {
		t.Errorf("all positive: %+v %v; BAM table prints >1,100 [memory]", all, err)
	}
}

// [computed]; the top value 200.5 [memory].
func TestMPNTray51(t *testing.T) {
	t.Parallel()
	for k, want := range map[int]float64{1: 1.0, 2: 2.0, 5: 5.3, 10: 11.1, 20: 25.4, 30: 45.3, 40: 78.2, 45: 109.1, 49: 165.2, 50: 200.5} {
		closed, qualifier, err := domain.Tray51(k)
		if err != nil || qualifier != "" || !waterNear(closed, want, 0.05+1e-9) {
			t.Errorf("%d wells: %s%v %v, want %v", k, qualifier, closed, err, want)
		}
		solved, err := domain.MPN([]domain.MPNRow{{Tubes: 51, VolumeML: 100.0 / 51, Positive: k}})
		if err != nil || !waterNear(100*solved.PerML, closed, 1e-6) {
			t.Errorf("%d wells: the solver gives %v, the closed form %v", k, 100*solved.PerML, closed)
		}
	}
	if v, q, _ := domain.Tray51(51); q != ">" || !waterNear(v, 200.5, 0.05) {
		t.Errorf("51 wells: %s%v, want >200.5", q, v)
	}
	if v, q, _ := domain.Tray51(0); q != "<" || !waterNear(v, 1.0, 0.05) {
		t.Errorf("no well: %s%v, want <1.0", q, v)
	}
}

// Column ML [computed]; memory column [memory].
func TestMPNTray97(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		large, small  int
		ml            float64
		low, high     float64
		printed       string // of the memory table
		intervalSlack float64
	}{
		{0, 1, 1.0, 0.1, 7, "1.0", 0.3},
		{1, 0, 1.0, 0.1, 7, "1.0", 0.3},
		{10, 0, 11.1, 6.0, 20.6, "", 0.06},
		{10, 5, 16.7, 10.1, 27.8, "", 0.06},
		{30, 10, 60.9, 44, 84, "", 0.6},
		{49, 0, 136.2, 95, 196, "", 0.6},
		{49, 10, 205.4, 140, 302, "", 0.6},
		{49, 20, 345.1, 229, 521, "344.8", 0.6},
		{49, 30, 613.1, 423, 889, "613.1", 0.6},
		{49, 44, 1553.1, 1065, 2266, "1553.1", 0.6},
		{49, 45, 1732.9, 1167, 2573, "1732.9", 0.6},
		{49, 46, 1986.3, 1296, 3044, "1986.3", 0.6},
		{49, 47, 2419.5, 1466, 3993, "2419.6", 0.6},
	} {
		got, err := domain.Tray97(c.large, c.small)
		if err != nil || !waterNear(100*got.PerML, c.ml, 0.06) {
			t.Errorf("%d, %d: %v %v, want %v", c.large, c.small, 100*got.PerML, err, c.ml)
		}
		if !waterNear(100*got.Low, c.low, c.intervalSlack) || !waterNear(100*got.High, c.high, c.intervalSlack) {
			t.Errorf("%d, %d: interval %v to %v, want %v to %v", c.large, c.small, 100*got.Low, 100*got.High, c.low, c.high)
		}
		if c.printed == "" {
			continue
		}
		printed := domain.WaterResult{Value: decimal.RequireFromString(c.printed), Unit: "MPN/100mL"}
		if err := domain.CheckTray97(c.large, c.small, printed); err != nil {
			t.Errorf("%d, %d printed %s: %v", c.large, c.small, c.printed, err)
		}
		printed.Value = printed.Value.Mul(decimal.RequireFromString("1.1"))
		if err := domain.CheckTray97(c.large, c.small, printed); err == nil || !strings.Contains(err.Error(), "#/result/value") {
			t.Errorf("%d, %d: a slip to %s was taken: %v", c.large, c.small, printed.Value, err)
		}
	}
	// The nominal volumes 1.86 and 0.186 mL do not give the published table: 49+47 is 2,081 [computed].
	nominal, err := domain.MPN([]domain.MPNRow{{Tubes: 49, VolumeML: 1.86, Positive: 49}, {Tubes: 48, VolumeML: 0.186, Positive: 47}})
	if err != nil || !waterNear(100*nominal.PerML, 2081, 0.6) {
		t.Errorf("nominal volumes: %v %v, want 2,081", 100*nominal.PerML, err)
	}
	if err := domain.CheckTray97(49, 48, domain.WaterResult{Qualifier: ">", Value: decimal.RequireFromString("2419.6"), Unit: "MPN/100mL"}); err != nil {
		t.Errorf("a full tray is printed >2419.6: %v", err)
	}
	if err := domain.CheckTray97(0, 0, domain.WaterResult{Value: decimal.RequireFromString("1.0"), Unit: "MPN/100mL"}); err == nil {
		t.Error("an empty tray printed 1.0 instead of <1.0 was taken")
	}
}

func TestMPNRefuses(t *testing.T) {
	t.Parallel()
	for want, rows := range map[string][]domain.MPNRow{
		"#/rows":            nil,
		"#/rows/0/tubes":    {{Tubes: -1, VolumeML: 1}},
		"#/rows/0/volume":   {{Tubes: 3, VolumeML: 0, Positive: 1}},
		"#/rows/1/positive": {{Tubes: 3, VolumeML: 1, Positive: 1}, {Tubes: 3, VolumeML: 1, Positive: 4}},
		"#/rows/0/positive": {{Tubes: 3, VolumeML: 1, Positive: -2}},
	} {
		if _, err := domain.MPN(rows); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%v: %v does not name %s", rows, err, want)
		}
	}
	if _, err := domain.MPN([]domain.MPNRow{{Tubes: 3, VolumeML: math.NaN(), Positive: 1}}); err == nil {
		t.Error("a volume that is no number was taken")
	}
	for _, k := range []int{-1, 52} {
		if _, _, err := domain.Tray51(k); err == nil {
			t.Errorf("%d wells of 51 were taken", k)
		}
	}
	if _, err := domain.Tray97(50, 49); err == nil || !strings.Contains(err.Error(), "#/small") {
		t.Errorf("50 and 49 wells: %v", err)
	}
}

// The estimate has the greatest likelihood: no density a little beside it is likelier, and one more positive is more.
func TestMPNIsTheMostLikely(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(rt *rapid.T) {
		var rows []domain.MPNRow
		volume := rapid.Float64Range(0.01, 50).Draw(rt, "volume")
		for range rapid.IntRange(1, 4).Draw(rt, "rows") {
			tubes := rapid.IntRange(2, 20).Draw(rt, "tubes")
			rows = append(rows, domain.MPNRow{Tubes: tubes, VolumeML: volume, Positive: rapid.IntRange(0, tubes).Draw(rt, "positive")})
			volume /= 10
		}
		got, err := domain.MPN(rows)
		if err != nil {
			rt.Fatal(err)
		}
		if got.Qualifier != "" {
			return
		}
		likelihood := func(lambda float64) (l float64) {
			for _, r := range rows {
				if r.Positive > 0 {
					l += float64(r.Positive) * math.Log(-math.Expm1(-lambda*r.VolumeML))
				}
				l -= float64(r.Tubes-r.Positive) * lambda * r.VolumeML
			}
			return l
		}
		best := likelihood(got.PerML)
		for _, beside := range []float64{0.9, 0.99, 1.01, 1.1} {
			if likelihood(got.PerML*beside) > best {
				rt.Fatalf("%v: %v is likelier than %v", rows, got.PerML*beside, got.PerML)
			}
		}
		if !(got.Low < got.PerML && got.PerML < got.High) {
			rt.Fatalf("the interval %v to %v does not hold %v", got.Low, got.High, got.PerML)
		}
	})
}
