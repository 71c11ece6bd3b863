package domain

import (
	"fmt"
	"strconv"
	"time"
)

// IrrigationProfileOf holds a source against the buyer's numbers (US rules reference 2.7): both must hold, on enough
// samples, and surface water is sampled over at least two years. Too few samples, a result without a volume, or one
// above the range leave it unknown, unless what is known already fails.
func IrrigationProfileOf(kind WaterKind, tests []WaterTest, on Date, zone *time.Location) (IrrigationProfile, error) {
	zone = orUTC(zone)
	set := RollingSet(kind, tests, on, zone)
	profile := IrrigationProfile{Needed: profileSize(kind), Outcome: ProfileUnknown}
	var results []WaterResult
	var unusable int
	for _, t := range set {
		profile.Tests = append(profile.Tests, t.ID)
		if unit, _ := ParseWaterUnit(t.Result.Unit); unit == "CFU/100mL" || unit == "MPN/100mL" {
			results = append(results, *t.Result)
		} else {
			unusable++
		}
	}
	var err error
	if profile.Statistics, err = StatisticsOf(results); err != nil {
		return IrrigationProfile{}, err
	}
	s := &profile.Statistics
	if unusable > 0 {
		s.Said = append(s.Said, LocalText{itoa(unusable) + " without a volume: not counted, so no pass is given.", itoa(unusable) + " sin volumen: no contados; no se da por aprobado."})
	}
	if s.N > 0 {
		threshold := s.GeometricMean // one sample: no spread known, the mean alone can still fail
		if s.ThresholdKnown {
			threshold = s.ThresholdValue
		}
		if profile.DieOff, err = DieOffOf(s.GeometricMean, threshold); err != nil {
			return IrrigationProfile{}, err
		}
		// a result without a volume took a place in the set, so that N stays below Needed
		switch {
		case profile.DieOff.NeedLog > 0:
			profile.Outcome = ProfileFails
		case s.ThresholdKnown && !s.AtLeast && s.N >= profile.Needed && longEnough(kind, tests, on, zone):
			profile.Outcome = ProfileMeets
		}
	}
	profile.Reasons = profile.reasons(set)
	return profile, nil
}

// longEnough asks surface water for samples over two years; a farm that samples often keeps its older ones for that.
func longEnough(kind WaterKind, tests []WaterTest, on Date, zone *time.Location) bool {
	if kind.origin() == "ground" {
		return true
	}
	first, last := Date{}, Date{}
	for _, t := range tests {
		day := DateIn(t.SampledAt, zone)
		if !t.IsEColi() || t.Result == nil || day.After(on) || day.Before(on.AddMonths(-48)) {
			continue
		}
		if first.IsZero() || day.Before(first) {
			first = day
		}
		last = Later(last, day)
	}
	return !first.IsZero() && !last.Before(first.AddMonths(24))
}

// reasons say the two numbers as the buyer's, never as law.
func (p IrrigationProfile) reasons(set []WaterTest) []Reason {
	refs := make([]RecordRef, len(set))
	for i, t := range set {
		refs[i] = RecordRef{"water-test", t.ID}
	}
	v := Caution
	if p.Outcome == ProfileMeets {
		v = Clear
	}
	s, least, leastEs := p.Statistics, "", ""
	if s.AtLeast {
		least, leastEs = "at least ", "al menos "
	}
	gm, stv, wait := oneDecimal(s.GeometricMean, s.N > 0), oneDecimal(s.ThresholdValue, s.ThresholdKnown), p.wait()
	mean := LocalText{
		fmt.Sprintf("Geometric mean %s%s of %d samples (%d wanted); the buyer's number is 126. %s", least, gm, s.N, p.Needed, wait.En),
		fmt.Sprintf("Media geométrica %s%s de %d muestras (se piden %d); el número del comprador es 126. %s", leastEs, gm, s.N, p.Needed, wait.Es)}
	threshold := LocalText{
		fmt.Sprintf("Statistical threshold value %s%s; the buyer's number is 410.", least, stv),
		fmt.Sprintf("Valor umbral estadístico %s%s; el número del comprador es 410.", leastEs, stv)}
	for _, said := range s.Said {
		threshold.En, threshold.Es = threshold.En+" "+said.En, threshold.Es+" "+said.Es
	}
	return []Reason{waterReason(ruleBuyerGM, v, refs, mean), waterReason(ruleBuyerSTV, v, refs, threshold)}
}

func (p IrrigationProfile) wait() LocalText {
	switch {
	case p.Outcome == ProfileMeets:
		return LocalText{"Both numbers are met.", "Se cumplen ambos números."}
	case p.Outcome == ProfileUnknown:
		return LocalText{"What is on file is not enough to say that both numbers are met.", "Lo que hay en archivo no basta para decir que se cumplen ambos números."}
	case !p.DieOff.Fixable:
		return LocalText{fmt.Sprintf("Over the numbers by more than %d days of die-off: waiting is not enough.", dieOffMostDays),
			fmt.Sprintf("Supera los números por más de %d días de mortandad: esperar no basta.", dieOffMostDays)}
	}
	return LocalText{fmt.Sprintf("Over the numbers: this buyer's arithmetic asks for days between watering and harvest: %d.", p.DieOff.Days),
		fmt.Sprintf("Supera los números: el cálculo de este comprador pide días entre el riego y la cosecha: %d.", p.DieOff.Days)}
}

// oneDecimal shows a number; the judgement rests on the full value.
func oneDecimal(x float64, known bool) string {
	if !known {
		return "?"
	}
	return strconv.FormatFloat(x, 'f', 1, 64)
}

// buyer adds the old numbers where a buyer still asks for them.
func (c waterCase) buyer() []Reason {
	if !c.f.BuyerProfile {
		return nil
	}
	var tests []WaterTest
	since := c.f.supplyAt(c.tap, c.at).waterSince
	for _, t := range c.f.Tests {
		if !t.SampledAt.After(c.at) && !t.SampledAt.Before(since) && (c.tap == "" || foldName(t.Tap) == c.tap) {
			tests = append(tests, t)
		}
	}
	profile, err := IrrigationProfileOf(c.f.supplyAt(c.tap, c.at).kind, tests, c.day, c.f.Zone)
	if err != nil { // a result that its own Check refuses: nothing can be averaged
		return []Reason{waterReason(ruleBuyerGM, Caution, nil, LocalText{"Some result on file cannot be read as a count per 100 mL. Correct it.",
			"Algún resultado en archivo no se lee como conteo por 100 mL. Corríjalo."})}
	}
	return profile.Reasons
}
