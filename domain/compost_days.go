package domain

import (
	"slices"
	"time"
)

// CompostDay is one date of the heap under one rule set: the lowest and highest point in the unit it was read in, how
// many of the required points were read, whether the date counts, and one sentence why.
type CompostDay struct {
	Date           Date      `json:"date"`
	Through        Date      `json:"through,omitzero"` // last date, where many dates in a row without a reading share this row
	Lowest         Quantity  `json:"lowest,omitzero"`
	Highest        Quantity  `json:"highest,omitzero"`
	PointsRead     int       `json:"points_read"`
	PointsRequired int       `json:"points_required"`
	Qualifies      bool      `json:"qualifies"`
	Why            LocalText `json:"why"`

	first, last time.Time // first and last reading that counts
	dipLeftOut  bool      // counts only because a dip after a turning was left out
	byLogger    bool      // a required point rests on a recording thermometer alone
}

// heatLog is the readings of a batch by date, with what is needed to judge a date.
type heatLog struct {
	facts   *CompostFacts
	byDate  map[Date][]heatReading
	dates   []Date
	loggers map[string]*loggerSeries
	plans   []PointPlan
}

func newHeatLog(b *CompostFacts, readings []heatReading) *heatLog {
	l := &heatLog{facts: b, byDate: map[Date][]heatReading{}, plans: b.PointPlans()}
	for _, r := range readings {
		if len(l.byDate[r.date]) == 0 {
			l.dates = append(l.dates, r.date)
		}
		l.byDate[r.date] = append(l.byDate[r.date], r)
	}
	l.loggers = loggersOf(l.byDate)
	return l
}

// day judges one date: every required point read, the lowest of all readings at 131 degF or more, and for the organic
// rule the highest at 170 degF or less (2.4 steps 3 and 4). Never a mean, never a guess for a missing reading. Where
// us-rules 1.2 is content with one core reading a date, the full set of points of the calculations reference is asked;
// the two agree for a farm that plans one point.
func (l *heatLog) day(d Date, rule *compostRule) CompostDay {
	s := CertifierSettings{}
	if rule.certifier {
		s = l.facts.settingsOn(d)
	}
	return l.dayUnder(d, rule, s)
}

func (l *heatLog) dayUnder(d Date, rule *compostRule, s CertifierSettings) CompostDay {
	plan := planOn(l.plans, d)
	day := CompostDay{Date: d, PointsRequired: plan.Required()}
	named := plan.Names
	if len(s.CorePoints) > 0 {
		named, day.PointsRequired = s.CorePoints, len(foldedNames(s.CorePoints))
	}
	all := l.byDate[d]
	if len(all) == 0 {
		day.Why = say("No reading on this date.", "Sin lectura en esta fecha.")
		return day
	}
	kept, dips := l.withoutDips(all, s)
	low, high := extremes(onlyProbes(kept, s.CorePoints))
	if _, hottest := extremes(all); hottest != nil {
		high = hottest
	}
	points := l.points(d, onlyProbes(kept, s.CorePoints), &day)
	day.PointsRead = len(points)
	if low != nil {
		day.Lowest = low.shown
	}
	if high != nil {
		day.Highest = high.shown
	}
	day.dipLeftOut = dips
	day.Why, day.Qualifies = l.verdictOf(day, rule, s, dayHeat{low, high, missingNames(named, points)})
	return day
}

type dayHeat struct {
	low, high *heatReading
	missing   []string
}

// verdictOf finds the one sentence, in the order a grower can act on.
func (l *heatLog) verdictOf(day CompostDay, rule *compostRule, s CertifierSettings, h dayHeat) (LocalText, bool) {
	switch {
	case h.low == nil || day.PointsRead < day.PointsRequired:
		return l.missingPoints(day), false
	case len(h.missing) > 0:
		return say("No reading of the point %s.", "Sin lectura del punto %s.", h.missing[0]), false
	case h.low.heat.LessThan(hotEnough):
		return say("Point %s was %s, below 131 °F (55 °C).", "El punto %s estaba a %s, menos de 131 °F (55 °C).",
			h.low.name, showDegrees(h.low.shown)), false
	case s.GuardBand && h.low.heat.Sub(degrees(l.facts.ProbeAccuracy)).LessThan(hotEnough):
		return say("Point %s was %s; less the thermometer's accuracy that is below 131 °F.",
			"El punto %s estaba a %s; menos la precisión del termómetro queda bajo 131 °F.", h.low.name, showDegrees(h.low.shown)), false
	case rule.ceiling && h.high.heat.GreaterThan(tooHot):
		return say("Point %s was %s, above 170 °F (76.6 °C), so the date does not count for the organic rule.",
			"El punto %s estaba a %s, más de 170 °F (76.6 °C), así que la fecha no cuenta para la regla orgánica.",
			h.high.name, showDegrees(h.high.shown)), false
	case day.dipLeftOut && !l.dayUnder(day.Date.AddDays(1), rule, withoutDipRule(s)).Qualifies:
		return say("It was cool after the turning, and the next date was not hot at every point.",
			"Estaba tibia después del volteo y al día siguiente no todos los puntos estaban calientes."), false
	}
	return say("Counts: coldest point %s, hottest %s.", "Cuenta: punto más frío %s, más caliente %s.",
		showDegrees(h.low.shown), showDegrees(h.high.shown)), true
}

func (l *heatLog) missingPoints(day CompostDay) LocalText {
	for _, series := range sortedLoggers(l.loggers) {
		if t := series.shortfall(day.Date, l.facts.zone()); t != nil && series.perDate[day.Date] > 0 {
			return *t
		}
	}
	return say("%d of %d required points were read.", "Se leyeron %d de %d puntos obligatorios.", day.PointsRead, day.PointsRequired)
}

func withoutDipRule(s CertifierSettings) CertifierSettings {
	s.IgnoreDipAfterTurning = false
	return s
}

// withoutDips leaves out the readings below 131 degF of the 24 hours after a turning, where the certifier agreed.
func (l *heatLog) withoutDips(readings []heatReading, s CertifierSettings) (kept []heatReading, dips bool) {
	if !s.IgnoreDipAfterTurning {
		return readings, false
	}
	for _, r := range readings {
		if r.heat.LessThan(hotEnough) && l.facts.justTurned(r.at) {
			dips = true
			continue
		}
		kept = append(kept, r)
	}
	return kept, dips
}

func (b *CompostFacts) justTurned(at time.Time) bool {
	return slices.ContainsFunc(b.Turnings, func(t CompostTurning) bool {
		return at.After(t.TurnedAt) && at.Sub(t.TurnedAt) <= 24*time.Hour
	})
}

// points gives the spots that were read, and notes on the day from when to when and whether loggers carry it.
func (l *heatLog) points(d Date, readings []heatReading, day *CompostDay) map[string]bool {
	points, byHand, short := map[string]bool{}, map[string]bool{}, map[string]bool{}
	for probe, series := range l.loggers {
		short[probe] = series.shortfall(d, l.facts.zone()) != nil
	}
	for _, r := range readings {
		series := l.loggers[r.probe]
		sampled := series != nil && (r.logger || series.inferred)
		if !r.proof || (sampled && short[r.probe]) {
			continue
		}
		points[r.probe] = true
		byHand[r.probe] = byHand[r.probe] || !sampled
		if day.first.IsZero() {
			day.first = r.at
		}
		day.last = r.at
	}
	for probe := range points {
		day.byLogger = day.byLogger || !byHand[probe]
	}
	return points
}

func onlyProbes(readings []heatReading, probes []string) []heatReading {
	if len(probes) == 0 {
		return readings
	}
	wanted := foldedNames(probes)
	return slices.DeleteFunc(slices.Clone(readings), func(r heatReading) bool { return !wanted[r.probe] })
}

func foldedNames(names []string) map[string]bool {
	out := map[string]bool{}
	for _, n := range names {
		out[foldName(n)] = true
	}
	return out
}

func missingNames(named []string, read map[string]bool) (out []string) {
	for _, n := range named {
		if !read[foldName(n)] {
			out = append(out, n)
		}
	}
	return out
}

func extremes(readings []heatReading) (low, high *heatReading) {
	for i := range readings {
		r := &readings[i]
		if low == nil || r.heat.LessThan(low.heat) {
			low = r
		}
		if high == nil || r.heat.GreaterThan(high.heat) {
			high = r
		}
	}
	return low, high
}

// showDegrees writes a temperature for people: 131.5 °F.
func showDegrees(q Quantity) string {
	unit := map[Unit]string{"degF": "°F", "degC": "°C"}[q.Unit]
	if unit == "" {
		unit = string(q.Unit)
	}
	return q.Value.String() + " " + unit
}
