package domain

import (
	"cmp"
	"slices"
	"time"

	"github.com/shopspring/decimal"
)

// Recording thermometers (calculations reference 2.5 [convention]): a sample at least every hour, at least 95 % of the
// samples of a date, and no gap above two hours. Time between two samples is hot only when both are.
const (
	loggerInterval = time.Hour
	loggerGap      = 2 * time.Hour
	// samplesOfLogger on one date make a series a logger's even when nobody said so: no person reads one spot every
	// two hours around the clock.
	samplesOfLogger = 12
)

// loggerSeries is the samples of one recording thermometer, in order.
type loggerSeries struct {
	probe    string // folded
	name     string // as written down
	inferred bool
	samples  []heatReading
	perDate  map[Date]int
	interval time.Duration // the usual step; above an hour it is too coarse
}

// loggersOf finds the recording thermometers among the readings.
func loggersOf(byDate map[Date][]heatReading) map[string]*loggerSeries {
	dense := map[string]bool{}
	for _, readings := range byDate {
		count := map[string]int{}
		for _, r := range readings {
			if r.logger {
				continue // marked already; readings by hand beside it stay readings by hand
			}
			count[r.probe]++
			dense[r.probe] = dense[r.probe] || count[r.probe] >= samplesOfLogger
		}
	}
	out := map[string]*loggerSeries{}
	for _, readings := range byDate {
		for _, r := range readings {
			if !r.proof || !(r.logger || dense[r.probe]) {
				continue
			}
			s := out[r.probe]
			if s == nil {
				s = &loggerSeries{probe: r.probe, inferred: dense[r.probe], perDate: map[Date]int{}}
				out[r.probe] = s
			}
			s.samples = append(s.samples, r)
		}
	}
	for _, s := range out {
		s.index()
	}
	return out
}

// index sorts the samples, counts each instant once and finds the usual step between them.
func (s *loggerSeries) index() {
	slices.SortFunc(s.samples, func(a, b heatReading) int {
		return cmp.Or(a.at.Compare(b.at), a.heat.Cmp(b.heat), cmp.Compare(a.name, b.name))
	})
	// Of two samples of one instant the colder comes first and stays.
	s.samples = slices.CompactFunc(s.samples, func(a, b heatReading) bool { return a.at.Equal(b.at) })
	s.name = s.samples[0].name
	var steps []time.Duration
	for i, r := range s.samples {
		s.perDate[r.date]++
		if i > 0 {
			steps = append(steps, r.at.Sub(s.samples[i-1].at))
		}
	}
	slices.Sort(steps)
	s.interval = loggerInterval
	if len(steps) > 0 {
		s.interval = min(loggerInterval, max(time.Second, steps[len(steps)/2]))
	}
}

// shortfall tells what a date lacks to stand for the spot; nil when the date is covered.
func (s *loggerSeries) shortfall(d Date, zone *time.Location) *LocalText {
	start, end := d.In(zone), d.AddDays(1).In(zone)
	expected := int(end.Sub(start) / s.interval)
	if got := s.perDate[d]; got*100 < expected*95 {
		t := say("Logger %s has %d of %d samples of this date; 95 %% are needed.",
			"El registrador %s tiene %d de %d muestras de esta fecha; se necesita el 95 %%.", s.name, got, expected)
		return &t
	}
	if gap := s.longestGap(start, end); gap > loggerGap {
		t := say("Logger %s has a gap of %s; two hours are allowed.", "El registrador %s tiene un hueco de %s; se permiten dos horas.", s.name, gap)
		return &t
	}
	return nil
}

// longestGap is the longest time without a sample that touches the date, its ends included.
func (s *loggerSeries) longestGap(start, end time.Time) time.Duration {
	first, _ := slices.BinarySearchFunc(s.samples, start, func(r heatReading, t time.Time) int { return r.at.Compare(t) })
	last := start
	if first > 0 {
		last = s.samples[first-1].at
	}
	longest := time.Duration(0)
	for _, r := range s.samples[first:] {
		longest = max(longest, r.at.Sub(last))
		last = r.at
		if !r.at.Before(end) {
			return longest
		}
	}
	return max(longest, end.Sub(last))
}

func sortedLoggers(m map[string]*loggerSeries) []*loggerSeries {
	out := make([]*loggerSeries, 0, len(m))
	for _, s := range m {
		out = append(out, s)
	}
	slices.SortFunc(out, func(a, b *loggerSeries) int { return cmp.Compare(a.probe, b.probe) })
	return out
}

// stretch is a time without a break in which every logger was hot enough.
type stretch struct{ from, to time.Time }

// hotStretches are the unbroken hot times of one logger among the samples from one instant to before another; nothing
// is interpolated at their ends.
func (s *loggerSeries) hotStretches(ceiling bool, from, until time.Time) (out []stretch) {
	var current *stretch
	var last time.Time
	for _, r := range s.samples {
		if r.at.Before(from) || !r.at.Before(until) {
			continue
		}
		if r.heat.LessThan(hotEnough) || (ceiling && r.heat.GreaterThan(tooHot)) {
			current = nil
			continue
		}
		if current == nil || r.at.Sub(last) > loggerGap {
			out = append(out, stretch{r.at, r.at})
			current = &out[len(out)-1]
		}
		current.to, last = r.at, r.at
	}
	return out
}

// hotTogether are the times in which all loggers of the heap were hot at once.
func (l *heatLog) hotTogether(ceiling bool, from, until time.Time) []stretch {
	var whole []stretch
	for i, s := range sortedLoggers(l.loggers) {
		own := s.hotStretches(ceiling, from, until)
		if i == 0 {
			whole = own
			continue
		}
		whole = overlap(whole, own)
	}
	return whole
}

func overlap(a, b []stretch) (out []stretch) {
	for i, j := 0, 0; i < len(a) && j < len(b); {
		from, to := a[i].from, a[i].to
		if b[j].from.After(from) {
			from = b[j].from
		}
		if b[j].to.Before(to) {
			to = b[j].to
		}
		if from.Before(to) {
			out = append(out, stretch{from, to})
		}
		if a[i].to.Before(b[j].to) {
			i++
		} else {
			j++
		}
	}
	return out
}

// disagreement finds a reading by hand that differs by more than 5 degF from the logger of the same spot, taken within
// half an hour of it: one of the two is wrong and a person must say which.
func (l *heatLog) disagreement() *LocalText {
	most := decimal.NewFromInt(25) // 5 degF in ninths
	for _, d := range l.dates {
		for _, r := range l.byDate[d] {
			s := l.loggers[r.probe]
			if s == nil || s.inferred || r.logger {
				continue
			}
			near := s.nearest(r.at)
			if near != nil && near.heat.Sub(r.heat).Abs().GreaterThan(most) {
				t := say("On %s point %s read %s by hand and %s on the logger. Check both thermometers.",
					"El %s el punto %s marcó %s a mano y %s en el registrador. Revise los dos termómetros.",
					d, r.name, showDegrees(r.shown), showDegrees(near.shown))
				return &t
			}
		}
	}
	return nil
}

func (s *loggerSeries) nearest(at time.Time) *heatReading {
	i, _ := slices.BinarySearchFunc(s.samples, at, func(r heatReading, t time.Time) int { return r.at.Compare(t) })
	var best *heatReading
	for _, k := range []int{i - 1, i} {
		if k < 0 || k >= len(s.samples) {
			continue
		}
		r := &s.samples[k]
		if d := r.at.Sub(at).Abs(); d <= 30*time.Minute && (best == nil || d < best.at.Sub(at).Abs()) {
			best = r
		}
	}
	return best
}
