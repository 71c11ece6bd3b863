package domain

import (
	"cmp"
	"math"
	"slices"
	"time"
)

// Solids tells the two curves of 40 CFR 503.32 apart.
type Solids int

const (
	Solid  Solids = iota // solids of 7 % or more: compost
	Slurry               // thinner than 7 %
)

// holdAt gives the numerator of the curve, in days, and the shortest hold it credits.
func (s Solids) holdAt() (days float64, shortest time.Duration) {
	if s == Slurry {
		return 50_070_000, 30 * time.Minute
	}
	return 131_700_000, 20 * time.Minute
}

// severityFrom is the lowest temperature in °C for which the equations hold.
const severityFrom = 50.0

// SeverityHold gives how long a temperature in °C must be held without a break: D = 131,700,000 / 10^(0.14 t) days,
// 50,070,000 for slurry, and never less than 20 (30) minutes. ok is false below 50 °C, where the equations say nothing
// (calculations reference 2.6 [verified: 15A NCAC 02T .1106 mirror of 40 CFR 503.32]).
func SeverityHold(celsius float64, s Solids) (hold time.Duration, ok bool) {
	if celsius < severityFrom || math.IsNaN(celsius) {
		return 0, false
	}
	days, shortest := s.holdAt()
	hours := days / math.Pow(10, 0.14*celsius) * 24
	return max(shortest, time.Duration(hours*float64(time.Hour))), true
}

// TemperatureSample is one reading in °C for the severity picture.
type TemperatureSample struct {
	At      time.Time
	Celsius float64
}

// SeverityDose adds up the parts of a full hold that a heat history holds, 1 being one full hold. Between two
// neighbouring samples the lower temperature counts, below 50 °C nothing, and across a gap of more than two hours
// nothing either. Adding parts is our extension: the regulation speaks of one temperature held without a break. It is a
// picture of how strong the heat was and no route by which compost becomes treated.
func SeverityDose(samples []TemperatureSample, s Solids) float64 {
	sorted := slices.Clone(samples)
	slices.SortFunc(sorted, func(a, b TemperatureSample) int {
		return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.Celsius, b.Celsius))
	})
	dose := 0.0
	for i := 1; i < len(sorted); i++ {
		step := sorted[i].At.Sub(sorted[i-1].At)
		hold, ok := SeverityHold(min(sorted[i].Celsius, sorted[i-1].Celsius), s)
		if ok && step <= loggerGap {
			dose += step.Hours() / hold.Hours()
		}
	}
	return dose
}

// Severity gives the dose of the coldest spot of a batch from its readings as they stand corrected, and which spot that
// is. Readings by hand once a day lie too far apart to count, so their dose is 0. ok is false without any reading.
func (b CompostFacts) Severity() (dose float64, probe string, ok bool) {
	spots, written := map[string][]TemperatureSample{}, map[string]string{}
	for _, r := range b.heatReadings(Date{}) {
		if r.proof {
			written[r.probe] = cmp.Or(written[r.probe], r.name)
			spots[r.probe] = append(spots[r.probe], TemperatureSample{r.at, r.heat.InexactFloat64() / 9})
		}
	}
	for name, samples := range spots {
		d := SeverityDose(samples, Solid)
		if !ok || d < dose || (d == dose && name < probe) {
			dose, probe, ok = d, name, true
		}
	}
	return dose, written[probe], ok
}
