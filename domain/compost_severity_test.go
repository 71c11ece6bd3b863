package domain_test

import (
	"math"
	"testing"
	"time"

	"croftmark/domain"
)

// The table of the calculations reference 2.6 [computed from the equations of 40 CFR 503.32, verified: 15A NCAC 02T
// .1106 mirror].
func TestSeverityTable(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct {
		celsius        float64
		solid, slurry  float64 // hours
		solidTolerance float64
	}{
		{50, 13.170 * 24, 5.007 * 24, 0.02}, {52, 6.912 * 24, 2.628 * 24, 0.02}, {54, 3.627 * 24, 1.379 * 24, 0.02},
		{55, 63.07, 23.98, 0.01}, {57.5, 28.17, 10.71, 0.01}, {60, 12.58, 4.784, 0.01}, {62, 6.604, 2.511, 0.001},
		{65, 2.511, 57.27 / 60, 0.001}, {67, 79.06 / 60, 30.06 / 60, 0.001}, {70, 30.06 / 60, 0.5, 0.001}, {75, 20.0 / 60, 0.5, 0.001},
	} {
		for _, s := range []struct {
			solids domain.Solids
			want   float64
		}{{domain.Solid, tt.solid}, {domain.Slurry, tt.slurry}} {
			hold, ok := domain.SeverityHold(tt.celsius, s.solids)
			if !ok || math.Abs(hold.Hours()-s.want) > tt.solidTolerance {
				t.Errorf("%v °C, %v: %v h, want %v", tt.celsius, s.solids, hold.Hours(), s.want)
			}
		}
	}
	for _, c := range []float64{49.999, -5, math.NaN()} {
		if _, ok := domain.SeverityHold(c, domain.Solid); ok {
			t.Errorf("%v °C has a hold", c)
		}
	}
}

func hourly(celsius ...float64) []domain.TemperatureSample {
	out := make([]domain.TemperatureSample, len(celsius))
	for i, c := range celsius {
		out[i] = domain.TemperatureSample{At: at(1, i), Celsius: c}
	}
	return out
}

func steady(n int, celsius float64) []domain.TemperatureSample {
	out := make([]float64, n)
	for i := range out {
		out[i] = celsius
	}
	return hourly(out...)
}

// The doses of the calculations reference 2.6 [computed].
func TestSeverityDose(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct {
		name    string
		samples []domain.TemperatureSample
		want    float64
		within  float64
	}{
		{"73 hourly samples at 55", steady(73, 55), 1.1417, 0.0001},
		{"15 days at 55", steady(15*24+1, 55), 5.708, 0.001},
		{"up and down", hourly(48, 52, 54, 55, 56, 57, 58, 58, 57, 56, 55, 54), 0.2066, 0.0001},
		{"a dip to 49", hourly(62, 62, 62, 49, 62, 62, 62), 0.6057, 0.0001},
		{"100 hours at 49.9", steady(101, 49.9), 0, 0},
		{"one sample", steady(1, 70), 0, 0},
		{"a gap of three hours", []domain.TemperatureSample{{At: at(1, 0), Celsius: 62}, {At: at(1, 3), Celsius: 62}}, 0, 0},
	} {
		if got := domain.SeverityDose(tt.samples, domain.Solid); math.Abs(got-tt.want) > tt.within {
			t.Errorf("%s: %v, want %v", tt.name, got, tt.want)
		}
	}
}

func TestSeverityOfBatchIsItsColdestSpot(t *testing.T) {
	t.Parallel()
	b := heap(domain.InVessel)
	for h := range 73 {
		for probe, c := range map[string]string{"edge": "55", "core": "65"} {
			b.Readings = append(b.Readings, domain.CompostReading{TakenAt: at(1, 0).Add(time.Duration(h) * time.Hour), Probe: probe, Temperature: domain.Q(c, "degC")})
		}
	}
	dose, probe, ok := b.Severity()
	if !ok || probe != "edge" || math.Abs(dose-1.1417) > 0.0001 {
		t.Errorf("%v %q %v", dose, probe, ok)
	}
	if _, _, ok := heap(domain.InVessel).Severity(); ok {
		t.Error("a dose without a reading")
	}
}
