package domain

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"github.com/shopspring/decimal"
)

// temperatureColumns are the positions of the mapped columns in the file.
type temperatureColumns struct {
	time, probe, temperature int
	wide                     []wideColumn
}

type wideColumn struct {
	at    int
	probe string
}

// find looks the mapped columns up in the header row; the error names every one that is missing or there twice.
func (m *TemperatureMapping) find(header []string) (temperatureColumns, error) {
	var p Problems
	at := func(pointer, name string) int {
		found := -1
		for i, h := range header {
			if !strings.EqualFold(strings.TrimSpace(h), strings.TrimSpace(name)) {
				continue
			}
			p.Check(found < 0, pointer, "The file has two columns %q.", name)
			found = i
		}
		p.Check(found >= 0, pointer, "The file has no column %q. It has: %s.", name, clip(strings.Join(header, ", ")))
		return found
	}
	c := temperatureColumns{time: at("/time", m.Time)}
	if len(m.Probes) == 0 {
		c.probe, c.temperature = at("/probe", m.Probe), at("/temperature", m.Temperature)
	}
	for _, w := range m.Probes {
		c.wide = append(c.wide, wideColumn{at("/probes", w.Column), w.name()})
	}
	return c, p.Err()
}

type sampleKey struct {
	probe string
	at    int64
}

type seenSample struct {
	value decimal.Decimal
	line  int
}

// row reads one line, or notes the first thing that is wrong with it.
func (f *temperatureFile) row(line int, record []string) {
	cell := func(i int) string {
		if i < len(record) {
			return strings.TrimSpace(record[i])
		}
		return ""
	}
	local, why := f.clock.parse(cell(f.columns.time))
	if why != nil {
		f.bad(line, *why)
		return
	}
	if len(f.columns.wide) == 0 {
		if cell(f.columns.temperature) == "" {
			f.bad(line, say("There is no temperature.", "No hay temperatura."))
			return
		}
		f.sample(line, cell(f.columns.probe), cell(f.columns.temperature), local)
		return
	}
	for _, w := range f.columns.wide {
		if text := cell(w.at); text == "" {
			f.report.Empty++
		} else if !f.sample(line, w.probe, text, local) {
			return
		}
	}
}

// sample adds one temperature; false means the line was noted as bad.
func (f *temperatureFile) sample(line int, probe, text string, local clockTime) bool {
	probe, named := f.name(probe)
	if !named {
		f.bad(line, say("%q is no name of a probe.", "%q no es el nombre de una sonda.", clip(probe)))
		return false
	}
	value, err := f.number(text)
	q := Quantity{value, f.mapping.Unit}
	if err != nil {
		f.bad(line, say("%q is no temperature.", "%q no es una temperatura.", clip(text)))
		return false
	}
	if why := checkTemperature(q); why != nil {
		f.bad(line, *why)
		return false
	}
	at, doubled := local.after(f.last[probe])
	key := sampleKey{probe, at.UnixNano()}
	if before, ok := f.seen[key]; ok {
		f.report.Duplicates++
		if !before.value.Equal(value) {
			f.bad(line, say("Probe %s has %s here and %s on line %d for the same instant.",
				"La sonda %s tiene %s aquí y %s en la línea %d para el mismo instante.", probe, value, before.value, before.line))
			return false
		}
		return true
	}
	if doubled {
		f.report.Doubled++
	}
	if at.Before(f.last[probe]) {
		f.report.OutOfOrder++
	}
	f.seen[key], f.last[probe] = seenSample{value, line}, at
	f.readings = append(f.readings, CompostReading{TakenAt: at, Probe: probe, Temperature: q})
	return true
}

// name keeps one copy of each probe's name, checked once, so that a reading does not hold on to the text of its whole
// row. ok is false for a name that the book would refuse.
func (f *temperatureFile) name(probe string) (kept string, ok bool) {
	if kept, ok := f.names[probe]; ok {
		return kept, true
	}
	var p Problems
	if checkName(&p, "", probe); p.Err() != nil {
		return probe, false
	}
	probe = strings.Clone(probe)
	f.names[probe] = probe
	return probe, true
}

// number reads 131.5, and 131,5 where a comma is a decimal comma. A thousands mark has no place in a temperature.
func (f *temperatureFile) number(text string) (decimal.Decimal, error) {
	if f.comma && strings.Count(text, ",") == 1 && !strings.Contains(text, ".") {
		text = strings.Replace(text, ",", ".", 1)
	}
	return ParseDecimal(text)
}

// finish sorts the readings, finds the gaps and marks the recording thermometers.
func (f *temperatureFile) finish() []CompostReading {
	slices.SortFunc(f.readings, func(a, b CompostReading) int {
		return cmp.Or(a.TakenAt.Compare(b.TakenAt), cmp.Compare(a.Probe, b.Probe))
	})
	steps := map[string][]time.Duration{}
	last := map[string]time.Time{}
	for _, r := range f.readings {
		if before, ok := last[r.Probe]; ok {
			step := r.TakenAt.Sub(before)
			steps[r.Probe] = append(steps[r.Probe], step)
			if step > loggerGap {
				f.gap(ReadingGap{r.Probe, before, r.TakenAt})
			}
		}
		last[r.Probe] = r.TakenAt
	}
	logger := map[string]bool{}
	for probe, s := range steps {
		slices.Sort(s)
		logger[probe] = s[len(s)/2] <= loggerInterval
	}
	for i := range f.readings {
		f.readings[i].Logger = logger[f.readings[i].Probe]
	}
	f.report.Readings = len(f.readings)
	return f.readings
}

func (f *temperatureFile) gap(g ReadingGap) {
	f.report.GapCount++
	if len(f.report.Gaps) < csvMostBad {
		f.report.Gaps = append(f.report.Gaps, g)
	}
}
