package report

import (
	"cmp"
	"slices"
	"time"

	"croftmark/domain"
)

// A sample is one reading in °F, corrected for its probe by the domain.
type sample struct {
	at     time.Time
	date   domain.Date
	f      float64
	logger bool
}

// A series is one probe's samples in order.
type series struct {
	name    string
	samples []sample
}

// heat is the readings of a batch as the chart draws them.
type heat struct {
	probes     []series // by name
	first      domain.Date
	last       domain.Date
	low, high  *sample
	lowAt      string // the probe
	highAt     string
	fromMemory int
	unreadable int // not a temperature
	before     int // from before the batch was built
	takenOut   []domain.CompostReading
	kept       []domain.CompostReading // void was asked for, but the reading stands
}

// heatOf sorts the readings by probe, as the domain corrects and dates them, without those that it leaves out.
func heatOf(f *domain.CompostFacts) *heat {
	h := &heat{}
	byProbe, written := map[string][]sample{}, map[string]string{} // the line bears the name as it was first written
	for _, r := range f.CorrectedReadings() {
		switch r.Use {
		case domain.ReadingBefore:
			h.before++
			continue
		case domain.ReadingUnread:
			h.unreadable++
			continue
		case domain.ReadingTakenOut:
			h.takenOut = append(h.takenOut, r.CompostReading)
			continue
		}
		if r.Void != nil {
			h.kept = append(h.kept, r.CompostReading)
		}
		if r.FromMemory {
			h.fromMemory++
		}
		written[r.Spot] = cmp.Or(written[r.Spot], r.Probe)
		byProbe[r.Spot] = append(byProbe[r.Spot], sample{r.TakenAt, r.Date, r.DegF().InexactFloat64(), r.Logger})
	}
	for spot, samples := range byProbe {
		slices.SortStableFunc(samples, func(a, b sample) int { return cmp.Or(a.at.Compare(b.at), cmp.Compare(a.f, b.f)) })
		h.probes = append(h.probes, series{written[spot], samples})
	}
	slices.SortFunc(h.probes, func(a, b series) int { return cmp.Compare(a.name, b.name) })
	for _, p := range h.probes {
		for i := range p.samples {
			h.note(p.name, &p.samples[i])
		}
	}
	return h
}

func (h *heat) note(probe string, s *sample) {
	if h.low == nil || s.f < h.low.f {
		h.low, h.lowAt = s, probe
	}
	if h.high == nil || s.f > h.high.f {
		h.high, h.highAt = s, probe
	}
	if h.first.IsZero() || s.date.Before(h.first) {
		h.first = s.date
	}
	h.last = domain.Later(h.last, s.date)
}

// mostProbes is how many lines can be told apart on one chart.
const mostProbes = 10

// drawn gives the lines of the chart: every probe, or for a heap with more of them than can be told apart the coldest
// and the hottest reading of each date.
func (h *heat) drawn(t tongue) (lines []series, summed bool) {
	if len(h.probes) <= mostProbes {
		return h.probes, false
	}
	coldest, hottest := map[domain.Date]sample{}, map[domain.Date]sample{}
	for _, p := range h.probes {
		for _, s := range p.samples {
			if c, ok := coldest[s.date]; !ok || s.f < c.f {
				coldest[s.date] = s
			}
			if c, ok := hottest[s.date]; !ok || s.f > c.f {
				hottest[s.date] = s
			}
		}
	}
	return []series{{t.say("coldest point", "punto más frío"), inOrder(coldest)}, {t.say("hottest point", "punto más caliente"), inOrder(hottest)}}, true
}

func inOrder(byDate map[domain.Date]sample) (out []sample) {
	for _, s := range byDate {
		s.logger = false
		out = append(out, s)
	}
	slices.SortFunc(out, func(a, b sample) int { return a.at.Compare(b.at) })
	return out
}

// loggerGap is the longest time without a sample that a line of a recording thermometer may cross.
const loggerGap = 2 * time.Hour

// runs cuts a series where nobody read: a line never crosses a date without a reading of that probe, nor a gap of a
// recording thermometer.
func (s series) runs() (out [][]sample) {
	from := 0
	for i := 1; i <= len(s.samples); i++ {
		if i == len(s.samples) || s.samples[i].apart(s.samples[i-1]) {
			out = append(out, s.samples[from:i])
			from = i
		}
	}
	return out
}

func (s sample) apart(before sample) bool {
	return s.date.DaysSince(before.date) > 1 || (s.logger && before.logger && s.at.Sub(before.at) > loggerGap)
}

// thinned keeps of each pixel column the first, coldest, hottest and last sample, so that no extreme is lost however
// many readings share the column.
func thinned(run []sample, column func(time.Time) int) (out []sample) {
	for i := 0; i < len(run); {
		j, low, high := i, i, i
		for ; j < len(run) && column(run[j].at) == column(run[i].at); j++ {
			if run[j].f < run[low].f {
				low = j
			}
			if run[j].f > run[high].f {
				high = j
			}
		}
		kept := []int{i, low, high, j - 1}
		slices.Sort(kept)
		for _, k := range slices.Compact(kept) {
			out = append(out, run[k])
		}
		i = j
	}
	return out
}

// unread lists the dates without any reading between the first and the last.
func (h *heat) unread() (spans []dateSpan) {
	read := map[domain.Date]bool{}
	for _, p := range h.probes {
		for _, s := range p.samples {
			read[s.date] = true
		}
	}
	if h.first.IsZero() {
		return nil
	}
	for d := h.first; !d.After(h.last); d = d.AddDays(1) {
		if read[d] {
			continue
		}
		if n := len(spans); n > 0 && d.DaysSince(spans[n-1].last) == 1 {
			spans[n-1].last = d
			continue
		}
		spans = append(spans, dateSpan{d, d})
	}
	return spans
}

// dateSpan is dates in a row, both ends included.
type dateSpan struct{ first, last domain.Date }

func (s dateSpan) String() string {
	if s.first == s.last {
		return s.first.String()
	}
	return s.first.String() + " – " + s.last.String()
}

// spansOf joins dates that follow each other.
func spansOf(dates []domain.Date) (out []dateSpan) {
	for _, d := range dates {
		if n := len(out); n > 0 && d.DaysSince(out[n-1].last) == 1 {
			out[n-1].last = d
			continue
		}
		out = append(out, dateSpan{d, d})
	}
	return out
}

func listed[T interface{ String() string }](list []T) string {
	s := ""
	for i, x := range list {
		if i > 0 {
			s += ", "
		}
		s += x.String()
	}
	return s
}

func zoneOf(zone *time.Location) *time.Location {
	if zone == nil {
		return time.UTC
	}
	return zone
}
