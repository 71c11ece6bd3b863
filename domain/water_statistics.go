package domain

import (
	"math"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
)

// The superseded numbers of 2015, which some buyers still ask for (US rules reference 2.7). They are never law.
const (
	GeometricMeanCriterion = 126.0 // CFU or MPN per 100 mL
	ThresholdCriterion     = 410.0
	thresholdZ             = 1.282 // 90th percentile of the normal distribution, as the published form prints it
	dieOffPerDay           = 0.5   // log10 a day [memory: 2015 rule 112.45]
	dieOffMostDays         = 4
)

// WaterStatistics are the geometric mean and the statistical threshold value of a set of counts, per 100 mL.
type WaterStatistics struct {
	N              int
	MeanLog, SDLog float64 // of log10, with the limit in place of what was below or above it; SDLog n-1
	GeometricMean  float64 // zero when N is zero
	ThresholdValue float64
	ThresholdKnown bool // two samples or more
	AtLeast        bool // some result lay above the range: both values are minimums, and no pass is given
	Said           []LocalText
}

// StatisticsOf computes GM = 10^m and STV = 10^(m + 1.282 s) (calculations reference 3.1, 3.3). A result below its limit
// counts as the limit; 0 as a result below 1. Half the limit would lower the mean and can raise the threshold, so the
// larger threshold of the two is given. A result above the range counts as the limit, and the answer says "at least".
// Nothing is dropped. An error names results that are no counts per 100 mL (pointer /results/INDEX).
func StatisticsOf(results []WaterResult) (WaterStatistics, error) {
	var p Problems
	var logs, halves []float64
	var below, zeros, above int
	kinds := map[string]bool{}
	for i, r := range results {
		pointer := "/results/" + itoa(i)
		r.Check(&p, pointer)
		unit, _ := ParseWaterUnit(r.Unit)
		if unit != "CFU/100mL" && unit != "MPN/100mL" {
			p.Add(pointer+"/unit", "Only counts per 100 mL can be averaged: CFU/100mL or MPN/100mL, not %q.", r.Unit)
			continue
		}
		kinds[unit] = true
		v := r.Value.InexactFloat64()
		half := v
		switch {
		case r.Value.Sign() == 0:
			v, half, zeros = 1, 0.5, zeros+1
		case r.Qualifier == "<":
			half, below = v/2, below+1
		case r.Qualifier == ">":
			above++
		}
		logs, halves = append(logs, math.Log10(v)), append(halves, math.Log10(half))
	}
	if err := p.Err(); err != nil {
		return WaterStatistics{}, err
	}
	s := summarize(logs, halves)
	s.AtLeast = above > 0
	s.Said = append(s.Said, sayCensored(below, zeros, above)...)
	if len(kinds) > 1 {
		s.Said = append(s.Said, LocalText{"Colony counts (CFU) and most probable numbers (MPN) are mixed in this set; neither is converted to the other.",
			"En este conjunto se mezclan colonias (UFC) y números más probables (NMP); ninguno se convierte en el otro."})
	}
	return s, nil
}

func summarize(logs, halves []float64) WaterStatistics {
	s := WaterStatistics{N: len(logs)}
	if s.N == 0 {
		s.Said = []LocalText{{"No result yet.", "Aún no hay resultados."}}
		return s
	}
	s.MeanLog, s.SDLog = meanAndSD(logs)
	s.GeometricMean = math.Pow(10, s.MeanLog)
	if s.N == 1 {
		s.Said = []LocalText{{"One sample has no spread: the threshold value is not known.", "Una sola muestra no tiene dispersión: no se conoce el valor umbral."}}
		return s
	}
	m, sd := meanAndSD(halves)
	limit, half := s.MeanLog+thresholdZ*s.SDLog, m+thresholdZ*sd
	s.ThresholdKnown, s.ThresholdValue = true, math.Pow(10, max(limit, half))
	if half > limit {
		s.Said = []LocalText{{"The threshold value counts results below the limit as half the limit, because that gives the larger value.",
			"El valor umbral cuenta los resultados bajo el límite como la mitad del límite, porque así es mayor."}}
	}
	return s
}

// meanAndSD gives the mean and the sample standard deviation (n-1). Deviations are taken from the first value, so that
// equal values have a deviation of exactly zero.
func meanAndSD(xs []float64) (mean, sd float64) {
	n := float64(len(xs))
	var sum float64
	for _, x := range xs {
		sum += x - xs[0]
	}
	shift := sum / n
	var squares float64
	for _, x := range xs {
		d := x - xs[0] - shift
		squares += d * d
	}
	if n > 1 {
		sd = math.Sqrt(squares / (n - 1))
	}
	return xs[0] + shift, sd
}

func sayCensored(below, zeros, above int) (said []LocalText) {
	if below > 0 {
		said = append(said, LocalText{itoa(below) + " below the limit: counted as the limit.", itoa(below) + " bajo el límite: contados como el límite."})
	}
	if zeros > 0 {
		said = append(said, LocalText{itoa(zeros) + " written as 0: counted as below 1, because nothing has a logarithm of zero.", itoa(zeros) + " escritos como 0: contados como bajo 1, porque el cero no tiene logaritmo."})
	}
	if above > 0 {
		said = append(said, LocalText{itoa(above) + " above the range: both values are at least this high. Have a diluted sample tested.", itoa(above) + " sobre el rango: ambos valores son al menos así de altos. Haga analizar una muestra diluida."})
	}
	return said
}

// round9 rounds a logarithm before it is compared or rounded up: log10(1260/126) is one, and not one more day.
func round9(x float64) float64 { return math.Round(x*1e9) / 1e9 }

// DieOff is how far counts lie over the criteria and how many days between the last watering and harvest bring them down.
type DieOff struct {
	NeedLog float64 // log10 units, not below zero
	Days    int
	Fixable bool // false above four days: waiting is not enough
}

// DieOffOf computes need = max(0, log10(GM/126), log10(STV/410)) and ceil(need/0.5) days (calculations reference 3.4,
// [memory: 2015 rule 112.45]). It is the buyers' arithmetic; under the present federal rule the farm keeps its own
// support for an interval. An error refuses values that are not above zero (pointers /geometric_mean, /threshold_value).
func DieOffOf(geometricMean, threshold float64) (DieOff, error) {
	var p Problems
	p.Check(geometricMean > 0 && !math.IsInf(geometricMean, 0), "/geometric_mean", "A geometric mean is more than zero; %v is not one.", geometricMean)
	p.Check(threshold > 0 && !math.IsInf(threshold, 0), "/threshold_value", "A threshold value is more than zero; %v is not one.", threshold)
	if err := p.Err(); err != nil {
		return DieOff{}, err
	}
	need := max(0, round9(math.Log10(geometricMean/GeometricMeanCriterion)), round9(math.Log10(threshold/ThresholdCriterion)))
	days := int(math.Ceil(round9(need / dieOffPerDay)))
	return DieOff{need, days, days <= dieOffMostDays}, nil
}

// ResidualAfter gives what is left of a count after days of die-off.
func ResidualAfter(count float64, days int) float64 {
	return count * math.Pow(10, -dieOffPerDay*float64(days))
}

// DieOffDaysBetween counts the days between the last watering and harvest. The references differ: calculations 3.4
// counts full 24 hours, US rules 0.1 counts days of the farm's calendar and never hours. The smaller count is taken.
func DieOffDaysBetween(lastWatered, harvest time.Time, zone *time.Location) int {
	zone = orUTC(zone)
	byHours := int(math.Floor(harvest.Sub(lastWatered).Hours() / 24))
	return max(0, min(byHours, DateIn(harvest, zone).DaysSince(DateIn(lastWatered, zone))))
}

// orUTC stands in for a zone that was not given.
func orUTC(zone *time.Location) *time.Location {
	if zone == nil {
		return time.UTC
	}
	return zone
}

// ProfileOutcome is the answer to the buyer's numbers; unknown never passes as meets.
type ProfileOutcome string

const (
	ProfileMeets   ProfileOutcome = "meets"
	ProfileFails   ProfileOutcome = "fails"
	ProfileUnknown ProfileOutcome = "unknown"
)

// IrrigationProfile is a source held against the buyer's numbers on a day.
type IrrigationProfile struct {
	Statistics WaterStatistics
	Tests      []uuid.UUID // the rolling set, newest first
	Needed     int
	Outcome    ProfileOutcome
	DieOff     DieOff
	Reasons    []Reason // authority buyer, at most a caution: rows BUY-W-GM and BUY-W-STV warn
}

// RollingSet gives the newest results of generic E. coli counts up to a day: 20 for surface water, 4 for ground water,
// all within four years, newest first by the instant of sampling and never by the day of entry. The four years are
// printed for surface water only; for ground water the same bound is the stricter reading.
func RollingSet(kind WaterKind, tests []WaterTest, on Date, zone *time.Location) []WaterTest {
	most := profileSize(kind)
	zone = orUTC(zone)
	var set []WaterTest
	for _, t := range tests {
		day := DateIn(t.SampledAt, zone)
		if t.IsEColi() && t.Result != nil && !isPresence(*t.Result) && !day.After(on) && !day.Before(on.AddMonths(-48)) {
			set = append(set, t)
		}
	}
	slices.SortStableFunc(set, func(a, b WaterTest) int {
		if c := b.SampledAt.Compare(a.SampledAt); c != 0 {
			return c
		}
		return strings.Compare(a.ID.String(), b.ID.String())
	})
	return set[:min(most, len(set))]
}

func profileSize(kind WaterKind) int {
	if kind.origin() == "ground" {
		return 4
	}
	return 20
}

// isPresence reports present/absent, which says nothing about how many and cannot enter a mean.
func isPresence(r WaterResult) bool {
	unit, _ := ParseWaterUnit(r.Unit)
	return strings.HasPrefix(unit, "PA")
}
