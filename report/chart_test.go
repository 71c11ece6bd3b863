package report

import (
	"bytes"
	"encoding/xml"
	"flag"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"croftmark/domain"
)

var update = flag.Bool("update", false, "write the golden files anew")

func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	file := filepath.Join("testdata", name)
	if *update {
		if err := os.MkdirAll("testdata", 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(file, got, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(want, got) {
		t.Errorf("%s differs (-want +got):\n%s", file, cmp.Diff(strings.Split(string(want), "\n"), strings.Split(string(got), "\n")))
	}
}

func charts(t *testing.T) map[string]func() []byte {
	heap, source := fullBatch(t), well(t)
	results := domain.CheckCompost(heap, start0.AddDays(80))
	at := waterPaper(source, "").At
	return map[string]func() []byte{
		"compost-phone-en.svg": CompostChart{Code: "C-2026-03", Facts: heap, Results: results}.SVG,
		"compost-wide-es.svg":  CompostChart{Code: "C-2026-03", Facts: heap, Results: results, Language: "es", Width: 800}.SVG,
		"water-phone-en.svg":   WaterChart{Facts: source, At: at}.SVG,
		"water-wide-es.svg":    WaterChart{Facts: source, At: at, Language: "es", Width: 800}.SVG,
	}
}

func TestChartsAreAsDrawnBefore(t *testing.T) {
	t.Parallel()
	for name, svg := range charts(t) {
		golden(t, name, svg())
		if !bytes.Equal(svg(), svg()) {
			t.Errorf("%s is drawn in two ways", name)
		}
	}
}

// svgText is every text of an SVG by element.
func svgText(t testing.TB, raw []byte) map[string][]string {
	t.Helper()
	out := map[string][]string{}
	d := xml.NewDecoder(bytes.NewReader(raw))
	var open []string
	for {
		token, err := d.Token()
		if err == io.EOF {
			return out
		}
		if err != nil {
			t.Fatalf("%v in\n%.2000s", err, raw)
		}
		switch x := token.(type) {
		case xml.StartElement:
			open = append(open, x.Name.Local)
			out["<"+x.Name.Local] = append(out["<"+x.Name.Local], "")
		case xml.EndElement:
			open = open[:len(open)-1]
		case xml.CharData:
			if len(open) > 0 {
				out[open[len(open)-1]] = append(out[open[len(open)-1]], string(x))
			}
		}
	}
}

func TestChartsSayInWordsWhatTheyShow(t *testing.T) {
	t.Parallel()
	all := charts(t)
	for name, want := range map[string][]string{
		"compost-phone-en.svg": {"5 points (core, north mid, north top, south mid, south top) from 2026-04-10 to 2026-06-08", "Organic rule: NOT MET",
			"Produce safety rule: MET on 2026-05-11; dates that count 17 (2026-04-23 – 2026-04-25, 2026-04-27 – 2026-05-09, 2026-05-11), turnings that count 5",
			"2026-04-22: 0.5 yd³ of cattle manure added", "Nobody read on 2026-04-19 – 2026-04-20, 2026-05-21."},
		"compost-wide-es.svg": {"Regla de inocuidad: CUMPLIDA el 2026-05-11", "Nadie leyó el 2026-04-19"},
		"water-phone-en.svg": {"2026-03-04 DETECTED", "2026-06-20 pending", "2026-06-22 cannot tell", "2026-03-06: use stopped (every tap)", "2026-03-16: fit again after the failure (Wash tap)",
			"Failure window at Wash tap after the good sample of 2025-09-30 08:00 until 2026-03-06 15:00", "Next due 2026-03-14, OVERDUE"},
		"water-wide-es.svg": {"2026-03-04 DETECTADA", "uso detenido"},
	} {
		text := svgText(t, all[name]())
		if len(text["title"]) != 1 || len(text["desc"]) != 1 {
			t.Fatalf("%s: %d titles, %d descriptions", name, len(text["title"]), len(text["desc"]))
		}
		for _, w := range want {
			if !strings.Contains(text["desc"][0], w) {
				t.Errorf("%s: %q is not in %s", name, w, text["desc"][0])
			}
		}
	}
}

func TestChartsLabelTheBandTheProbesAndTheDays(t *testing.T) {
	t.Parallel()
	texts := strings.Join(svgText(t, charts(t)["compost-phone-en.svg"]())["text"], "\n")
	for _, want := range []string{"131 °F", "55 °C", "170 °F", "76.6 °C", "core", "north mid", "Apr 10", "2026", "Organic rule: dates that count 0, turnings 0"} {
		if !strings.Contains(texts, want) {
			t.Errorf("%q is not written in\n%s", want, texts)
		}
	}
}

// Everything is a grey, so that a photocopy shows it.
func TestChartsHaveNoColours(t *testing.T) {
	t.Parallel()
	grey := regexp.MustCompile(`^#([0-9a-f]{3}|[0-9a-f]{6})$`)
	for name, svg := range charts(t) {
		for _, colour := range regexp.MustCompile(`(?:fill|stroke)="([^"]*)"`).FindAllSubmatch(svg(), -1) {
			c := string(colour[1])
			if c == "none" {
				continue
			}
			third := (len(c) - 1) / 3
			if !grey.MatchString(c) || c[1:1+third] != c[1+third:1+2*third] || c[1:1+third] != c[1+2*third:] {
				t.Errorf("%s paints with %s", name, c)
			}
		}
	}
}

// Names are typed by people.
func TestMarkupInNamesIsText(t *testing.T) {
	t.Parallel()
	const evil = `<script>alert("&")</script>`
	f := windrow(t, 20)
	f.Points = nil
	for i := range f.Readings {
		if f.Readings[i].Probe == "core" {
			f.Readings[i].Probe = evil
		}
	}
	f.Contaminations = []domain.Contamination{{On: start0.AddDays(8), What: domain.LocalText{En: evil, Es: evil}}}
	w := well(t)
	w.Source.Name, w.Source.Points[0].Tap = evil, evil
	for _, raw := range [][]byte{
		CompostChart{Code: evil, Facts: f, Results: domain.CheckCompost(f, domain.Date{})}.SVG(),
		WaterChart{Facts: w, At: time.Date(2026, 7, 1, 0, 0, 0, 0, time.UTC)}.SVG(),
	} {
		text := svgText(t, raw)
		if len(text["<script"]) > 0 {
			t.Errorf("a name became an element:\n%.600s", raw)
		}
		if !strings.Contains(text["title"][0], evil) {
			t.Errorf("the title is %q", text["title"][0])
		}
	}
}

// However a probe is spelt, it is one line, as it is one spot to the domain.
func TestOneLineForOneProbe(t *testing.T) {
	t.Parallel()
	f := fullBatch(t)
	before := len(heatOf(&f).probes)
	again := f.Readings[0]
	f.Readings = append(f.Readings, again)
	f.Readings[len(f.Readings)-1].Probe = " " + strings.ToUpper(again.Probe) + " "
	f.Readings[len(f.Readings)-1].TakenAt = again.TakenAt.Add(time.Hour)
	h := heatOf(&f)
	if len(h.probes) != before {
		t.Errorf("%d lines, not %d: %v", len(h.probes), before, h.probes)
	}
	if again.Probe == "" || again.Probe == strings.ToUpper(again.Probe) {
		t.Fatalf("the probe %q has one spelling only", again.Probe)
	}
}

// A line is never drawn over a date on which the probe was not read.
func TestLinesStopAtGaps(t *testing.T) {
	t.Parallel()
	f := fullBatch(t)
	h := heatOf(&f)
	for _, s := range h.probes {
		for _, run := range s.runs() {
			for i := 1; i < len(run); i++ {
				if run[i].date.DaysSince(run[i-1].date) > 1 {
					t.Errorf("%s: a line from %s to %s", s.name, run[i-1].date, run[i].date)
				}
			}
		}
	}
	drawn := CompostChart{Facts: f}.draw(800, 11, true)
	for _, s := range drawn.shapes {
		if p, ok := s.(path); ok && p.weight == seriesWeight && !p.closed && len(p.points) > 5 {
			for i := 1; i < len(p.points); i++ {
				if step := p.points[i].x - p.points[i-1].x; step > 1.5*(800-11*4.1)/60 {
					t.Errorf("a step of %.1f in a line", step)
				}
			}
		}
	}
	logger := series{"l", []sample{{at: start0.In(time.UTC), date: start0, f: 140, logger: true}, {at: start0.In(time.UTC).Add(3 * time.Hour), date: start0, f: 140, logger: true}}}
	if len(logger.runs()) != 2 {
		t.Error("a line over three hours without a sample of a recording thermometer")
	}
}

// The chart corrects and dates the readings as the domain does.
func TestChartAgreesWithTheDomain(t *testing.T) {
	t.Parallel()
	z := zone(t, "America/New_York")
	rapid.Check(t, func(rt *rapid.T) {
		f := windrow(t, rapid.IntRange(1, 20).Draw(rt, "days"))
		f.Points = nil
		for i := range rapid.IntRange(0, 4).Draw(rt, "offsets") {
			probe := rapid.SampledFrom([]string{"", "core", "north mid"}).Draw(rt, "probe")
			f.ProbeOffsets = append(f.ProbeOffsets, domain.ProbeOffset{Probe: probe, From: start0.AddDays(i * 3).In(z),
				ReadHigh: domain.Q(fmt.Sprintf("%.1f", rapid.Float64Range(-5, 5).Draw(rt, "high")), rapid.SampledFrom([]domain.Unit{"degF", "degC"}).Draw(rt, "unit"))})
		}
		h := heatOf(&f)
		for _, day := range domain.CheckCompost(f, domain.Date{}, domain.ProduceSafetySet)[0].Days {
			low, high := math.Inf(1), math.Inf(-1)
			for _, p := range h.probes {
				for _, s := range p.samples {
					if s.date == day.Date {
						low, high = min(low, s.f), max(high, s.f)
					}
				}
			}
			if day.Lowest.IsZero() {
				if !math.IsInf(low, 1) {
					rt.Errorf("%s: drawn, but the domain saw no reading", day.Date)
				}
				continue
			}
			if wantLow, wantHigh := day.Lowest.Value.InexactFloat64(), day.Highest.Value.InexactFloat64(); math.Abs(low-wantLow) > 1e-4 || math.Abs(high-wantHigh) > 1e-4 {
				rt.Errorf("%s: drawn %.2f to %.2f, judged %.2f to %.2f", day.Date, low, high, wantLow, wantHigh)
			}
		}
	})
}

func TestThinningKeepsTheExtremes(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(rt *rapid.T) {
		heats := rapid.SliceOfN(rapid.Float64Range(60, 190), 1, 400).Draw(rt, "heats")
		var run []sample
		for i, f := range heats {
			run = append(run, sample{at: time.Unix(int64(i)*60, 0), f: f})
		}
		wide := rapid.IntRange(1, 50).Draw(rt, "samples in a column")
		column := func(at time.Time) int { return int(at.Unix()/60) / wide }
		kept := thinned(run, column)
		if len(kept) > 4*(len(run)/wide+1) {
			rt.Errorf("%d of %d kept", len(kept), len(run))
		}
		low, high := map[int]float64{}, map[int]float64{}
		for _, list := range [][]sample{run, kept} {
			for i, s := range list {
				if i > 0 && !s.at.After(list[i-1].at) {
					rt.Fatal("out of order")
				}
				c := column(s.at)
				if v, ok := low[c]; !ok || s.f < v {
					low[c] = s.f
				}
				if v, ok := high[c]; !ok || s.f > v {
					high[c] = s.f
				}
			}
		}
		for c := range low {
			var foundLow, foundHigh bool
			for _, s := range kept {
				foundLow = foundLow || column(s.at) == c && s.f == low[c]
				foundHigh = foundHigh || column(s.at) == c && s.f == high[c]
			}
			if !foundLow || !foundHigh {
				rt.Errorf("column %d lost an extreme", c)
			}
		}
	})
}

func TestReadingsTakenOutAreNotDrawn(t *testing.T) {
	t.Parallel()
	f := fullBatch(t)
	h := heatOf(&f)
	if len(h.takenOut) != 1 || h.low.f < 80 {
		t.Errorf("%d taken out, coldest %.1f", len(h.takenOut), h.low.f)
	}
	f.Readings[len(f.Readings)-1].Void.SecondPerson = maria
	if h = heatOf(&f); len(h.takenOut) != 0 || len(h.kept) != 1 {
		t.Errorf("a void by one person alone took %d out and kept %d", len(h.takenOut), len(h.kept))
	}
}

func TestManyProbesAreSummedUp(t *testing.T) {
	t.Parallel()
	f := windrow(t, 20)
	for i := range f.Readings {
		f.Readings[i].Probe = fmt.Sprintf("point %d", i%24)
	}
	raw := CompostChart{Facts: f}.SVG()
	if text := svgText(t, raw); !strings.Contains(strings.Join(text["text"], " "), "24 points were read") {
		t.Errorf("%q", text["text"])
	}
}

func TestChartsOfNothing(t *testing.T) {
	t.Parallel()
	for _, raw := range [][]byte{CompostChart{}.SVG(), WaterChart{At: time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)}.SVG(),
		CompostChart{Facts: domain.CompostFacts{StartedOn: start0}, Width: 1}.SVG()} {
		if text := svgText(t, raw); text["desc"][0] == "" {
			t.Error("nothing is said")
		}
	}
}

// Days are the farm's: the day of the clock change is an hour shorter than the others.
func TestDaysOfTheFarm(t *testing.T) {
	t.Parallel()
	z := zone(t, "America/New_York")
	first := domain.NewDate(2026, 3, 7)
	a := newTimeAxis(first, first.AddDays(2), z, 0, 71)
	if day, short := a.day(first.AddDays(1))-a.day(first), a.day(first.AddDays(2))-a.day(first.AddDays(1)); day != 24 || short != 23 {
		t.Errorf("an ordinary day is %v wide and the short one %v", day, short)
	}
	for _, days := range []int{1, 2, 9, 40, 400, 4000} {
		ticks := newTimeAxis(first, first.AddDays(days-1), z, 0, 300).ticks(40)
		if len(ticks) == 0 || len(ticks) > 8 {
			t.Errorf("%d days have %d ticks", days, len(ticks))
		}
	}
}

func TestSpreadStaysInsideAndInOrder(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(rt *rapid.T) {
		places := rapid.SliceOfN(rapid.Float64Range(-50, 150), 0, 40).Draw(rt, "places")
		slices.Sort(places)
		got := spread(places, 10, 0, 100)
		gap := 10.0
		if len(places) > 1 {
			gap = min(gap, 100/float64(len(places)-1))
		}
		for i, p := range got {
			if p < -1e-6 || p > 100+1e-6 || i > 0 && p-got[i-1] < gap-1e-6 {
				rt.Fatalf("%v became %v", places, got)
			}
		}
	})
}
