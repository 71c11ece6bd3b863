package domain_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"croftmark/domain"

	"github.com/google/go-cmp/cmp"
)

var (
	wideF = domain.TemperatureMapping{Time: "Time", Unit: "degF", Probes: []domain.ProbeColumn{{Column: "A", Probe: "north edge"}, {Column: "B"}}}
	longC = domain.TemperatureMapping{Time: "Zeit", Unit: "degC", Probe: "Sonde", Temperature: "Temp", Clock: domain.ClockDayFirst}
)

// lines writes readings as people compare them.
func lines(readings []domain.CompostReading) []string {
	out := []string{}
	for _, r := range readings {
		out = append(out, fmt.Sprintf("%s %s %s", r.TakenAt.Format(time.RFC3339), r.Probe, r.Temperature))
	}
	return out
}

func TestTemperatureCSVShapes(t *testing.T) {
	t.Parallel()
	us := wideF
	us.Clock = domain.ClockUS
	comma := wideF
	comma.DecimalComma = true
	want := []string{"2026-03-01T08:00:00-05:00 B 140.5 degF", "2026-03-01T08:00:00-05:00 north edge 131.0 degF", "2026-03-01T08:30:00-05:00 north edge 132 degF"}
	metric := []string{"2026-03-01T08:00:00-05:00 Kern 55.0 degC", "2026-03-01T08:15:00-05:00 Kern 54.9 degC"}
	for _, tt := range []struct {
		name    string
		text    string
		mapping domain.TemperatureMapping
		want    []string
	}{
		{"a column per probe", "Time,A,B\n2026-03-01 08:00,131.0,140.5\n2026-03-01 08:30,132,\n", wideF, want},
		{"byte order mark and CRLF", "\ufeffTime,A,B\r\n2026-03-01 08:00,131.0,140.5\r\n2026-03-01 08:30,132,\r\n", wideF, want},
		{"quoted, other columns between", "No,\"Time\",\"B\",x,A\n1,\"2026-03-01 08:00:00\",\"140.5\",\"a, \"\"b\"\"\",131.0\n2,2026-03-01 08:30:00,,,132", wideF, want},
		{"decimal comma in quotes", "Time,A,B\n2026-03-01 08:00,\"131,0\",\"140,5\"\n2026-03-01 08:30,132,", comma, want},
		{"tabs", "Time\tA\tB\n2026-03-01T08:00\t131.0\t140.5\n2026-03-01T08:30\t132\t\n", wideF, want},
		{"American clock", "Time,A,B\n3/1/2026 8:00 AM,131.0,140.5\n03/01/26 8:30 AM,132,\n", us, want},
		{"with offset", "Time,A,B\n2026-03-01T13:00:00Z,131.0,140.5\n2026-03-01T08:30:00-05:00,132,\n", wideF, want},
		{"out of order", "Time,A,B\n2026-03-01 08:30,132,\n2026-03-01 08:00,131.0,140.5\n", wideF, want},
		{"short row", "Time,A,B\n2026-03-01 08:00,131.0,140.5\n2026-03-01 08:30,132\n", wideF, want},
		{"semicolons and decimal comma, day first", "Zeit;Sonde;Temp\n1.3.2026 08:00;Kern;55,0\n01.03.2026 08:15:00;Kern;54,9\n", longC, metric},
		{"a row twice", "Zeit;Sonde;Temp\n1.3.2026 08:00;Kern;55,0\n1.3.2026 08:00;Kern;55,0\n1.3.2026 08:15;Kern;54,9\n", longC, metric},
	} {
		got, report, err := domain.ParseTemperatureCSV(strings.NewReader(tt.text), tt.mapping, newYork)
		if err != nil {
			t.Errorf("%s: %v", tt.name, err)
			continue
		}
		if diff := cmp.Diff(tt.want, lines(got)); diff != "" || report.Readings != len(tt.want) {
			t.Errorf("%s: %s %+v", tt.name, diff, report)
		}
	}
}

func TestTemperatureCSVReport(t *testing.T) {
	t.Parallel()
	text := "Time,A,B\n2026-03-01 08:00,131,\n2026-03-01 07:30,132,140\n2026-03-01 08:00,131,\n2026-03-01 10:00,131,141\n2026-03-01 12:00:01,131,141\n"
	_, r, err := domain.ParseTemperatureCSV(strings.NewReader(text), wideF, newYork)
	if err != nil {
		t.Fatal(err)
	}
	if r.Rows != 5 || r.Readings != 7 || r.Empty != 2 || r.Duplicates != 1 || r.OutOfOrder != 1 || r.GapCount != 3 || len(r.Gaps) != 3 {
		t.Errorf("%+v", r)
	}
	if g := r.Gaps[0]; g.Probe != "B" || g.To.Sub(g.From) != 2*time.Hour+30*time.Minute {
		t.Errorf("%+v", g)
	}
}

// The hour from 1 to 2 on 2026-11-01 runs through twice in New York; the hour from 2 to 3 on 2026-03-08 never.
func TestTemperatureCSVClockChange(t *testing.T) {
	t.Parallel()
	text := "Time,A,B\n2026-11-01 00:30,131,131\n2026-11-01 01:00,132,132\n2026-11-01 01:30,133,133\n2026-11-01 01:00,134,134\n2026-11-01 01:30,135,135\n2026-11-01 02:00,136,136\n"
	got, r, err := domain.ParseTemperatureCSV(strings.NewReader(text), wideF, newYork)
	if err != nil {
		t.Fatal(err)
	}
	if len(got) != 12 || r.Doubled != 8 || r.GapCount != 0 || r.OutOfOrder != 0 || r.Duplicates != 0 {
		t.Errorf("%+v", r)
	}
	for i, reading := range got {
		if want := fmt.Sprint(131 + i/2); reading.Temperature.Value.String() != want || !reading.TakenAt.Equal(got[0].TakenAt.Add(time.Duration(i/2)*30*time.Minute)) {
			t.Errorf("sample %d: %s", i, lines(got[i:i+1]))
		}
	}
	_, r, err = domain.ParseTemperatureCSV(strings.NewReader("Time,A,B\n2026-03-08 01:59,131,\n2026-03-08 02:30,131,\n2026-03-08 03:00,131,\n"), wideF, newYork)
	if err == nil || r.BadCount != 1 || r.Bad[0].Line != 3 {
		t.Errorf("an hour that never was: %v %+v", err, r)
	}
	fixed := time.FixedZone("EST", -5*3600)
	if got, _, err := domain.ParseTemperatureCSV(strings.NewReader("Time,A,B\n2026-03-08 02:30,131,\n"), wideF, fixed); err != nil || len(got) != 1 {
		t.Errorf("a logger that keeps winter time: %v", err)
	}
}

func TestTemperatureCSVNamesEveryBadRowAndImportsNothing(t *testing.T) {
	t.Parallel()
	text := strings.Join([]string{"Time,A,B",
		"2026-03-01 08:00,131,140",    // 2 good
		"2026-02-30 08:00,131,140",    // 3 no such day
		"03/01/2026 08:00,131,140",    // 4 another clock
		"2026-03-01 09:00,1310,140",   // 5 S7 of the record forms
		"2026-03-01 10:00,hot,140",    // 6
		"2026-03-01 08:00,131.5,",     // 7 contradicts line 2
		"2026-03-01 11:00,\"13\"1,12", // 8 quotes
		"2026-03-01 12:00,1.31e2,140", // 9
		"2026-03-01 13:00,NaN,140",    // 10
		",131,140",                    // 11
		"2026-03-01 14:00,\"131,5\",", // 12 comma without leave
	}, "\n")
	got, r, err := domain.ParseTemperatureCSV(strings.NewReader(text), wideF, newYork)
	if got != nil {
		t.Errorf("half imported: %v", lines(got))
	}
	var bad []int
	for _, b := range r.Bad {
		bad = append(bad, b.Line)
		if b.Why.En == "" || b.Why.Es == "" {
			t.Errorf("%+v", b)
		}
	}
	if diff := cmp.Diff([]int{3, 4, 5, 6, 7, 8, 9, 10, 11, 12}, bad); diff != "" {
		t.Error(diff)
	}
	var e *domain.Error
	if !errors.As(err, &e) || e.Code != domain.CodeInvalid || len(e.Fields) != 10 || e.Fields[0].Pointer != "#/lines/3" {
		t.Errorf("%v", err)
	}
	many := "Time,A,B\n" + strings.Repeat("x,1,2\n", 250)
	if _, r, err = domain.ParseTemperatureCSV(strings.NewReader(many), wideF, newYork); len(r.Bad) != 100 || r.BadCount != 250 || !strings.Contains(err.Error(), "150 more lines") {
		t.Errorf("%d of %d named: %v", len(r.Bad), r.BadCount, err)
	}
}

func TestTemperatureCSVRefusals(t *testing.T) {
	t.Parallel()
	without := func(change func(*domain.TemperatureMapping)) domain.TemperatureMapping {
		m := wideF
		change(&m)
		return m
	}
	const good = "Time,A,B\n2026-03-01 08:00,131,140\n"
	for _, tt := range []struct {
		name    string
		r       io.Reader
		mapping domain.TemperatureMapping
		code    domain.Code
	}{
		{"empty", strings.NewReader(" \n"), wideF, domain.CodeInvalid},
		{"UTF-16", strings.NewReader("\xff\xfeT\x00"), wideF, domain.CodeInvalid},
		{"column missing", strings.NewReader("Time,A\n2026-03-01 08:00,131\n"), wideF, domain.CodeInvalid},
		{"column twice", strings.NewReader("Time,A,B,a\n2026-03-01 08:00,131,1,1\n"), wideF, domain.CodeInvalid},
		{"broken header", strings.NewReader("Ti\"me,A,B\n"), wideF, domain.CodeInvalid},
		{"no unit", strings.NewReader(good), without(func(m *domain.TemperatureMapping) { m.Unit = "" }), domain.CodeInvalid},
		{"no probes", strings.NewReader(good), without(func(m *domain.TemperatureMapping) { m.Probes = nil }), domain.CodeInvalid},
		{"both shapes", strings.NewReader(good), without(func(m *domain.TemperatureMapping) { m.Probe = "A" }), domain.CodeInvalid},
		{"one name twice", strings.NewReader(good), without(func(m *domain.TemperatureMapping) {
			m.Probes = []domain.ProbeColumn{{Column: "A"}, {Column: "B", Probe: "A"}}
		}), domain.CodeInvalid},
		{"unknown clock", strings.NewReader(good), without(func(m *domain.TemperatureMapping) { m.Clock = "guess" }), domain.CodeInvalid},
		{"endless line", strings.NewReader("Time,A,B\n\"" + strings.Repeat("x", 1<<20)), wideF, domain.CodeTooLarge},
		{"endless header", strings.NewReader(strings.Repeat("x", 1<<20)), wideF, domain.CodeTooLarge},
		{"endless file", io.MultiReader(strings.NewReader("Time,A,B\n"), io.LimitReader(repeated("2026-03-01 08:00,,\n"), 1<<30)), wideF, domain.CodeTooLarge},
	} {
		got, _, err := domain.ParseTemperatureCSV(tt.r, tt.mapping, newYork)
		var e *domain.Error
		if got != nil || !errors.As(err, &e) || e.Code != tt.code {
			t.Errorf("%s: %d readings, %v", tt.name, len(got), err)
		}
	}
	broken := errors.New("line went dead")
	if _, _, err := domain.ParseTemperatureCSV(io.MultiReader(strings.NewReader(good), iotest.ErrReader(broken)), wideF, newYork); !errors.Is(err, broken) {
		t.Errorf("a broken reader: %v", err)
	}
}

type repeated string

func (s repeated) Read(p []byte) (int, error) {
	n := 0
	for n+len(s) <= len(p) {
		n += copy(p[n:], s)
	}
	if n == 0 {
		return copy(p, s[:1]), nil
	}
	return n, nil
}

// Not parallel: it looks at the clock.
func TestTemperatureCSVLargeFileAndProgress(t *testing.T) {
	const rows = 200_000
	var b bytes.Buffer
	b.WriteString("Time,A,B\n")
	start := time.Date(2026, time.March, 1, 0, 0, 0, 0, time.UTC)
	for i := range rows {
		fmt.Fprintf(&b, "%s,%d.%d,\n", start.Add(time.Duration(i)*time.Minute).Format("2006-01-02 15:04"), 130+i%20, i%10)
	}
	calls, last := 0, 0
	m := wideF
	m.Progress = func(n int) {
		if n <= last {
			t.Errorf("progress went from %d to %d", last, n)
		}
		calls, last = calls+1, n
	}
	began := time.Now()
	got, _, err := domain.ParseTemperatureCSV(&b, m, time.UTC)
	if err != nil || len(got) != rows || !got[0].Logger {
		t.Fatalf("%d readings, %v", len(got), err)
	}
	if took := time.Since(began); took > 5*time.Second {
		t.Errorf("took %v", took)
	}
	if calls < 10 || last != rows {
		t.Errorf("%d calls, last at %d", calls, last)
	}
}

// A file goes straight into the judgement: three logged days at 55 °C are met on the fourth date, when 72 hours are full.
func TestTemperatureCSVIntoCompostCheck(t *testing.T) {
	t.Parallel()
	var b strings.Builder
	b.WriteString("Time;A;B\n")
	for i := range 4*73 + 1 {
		fmt.Fprintf(&b, "%s;55,0;60\n", at(1, 0).Add(time.Duration(i)*15*time.Minute).Format("2006-01-02 15:04"))
	}
	m := wideF
	m.Unit = "degC"
	got, _, err := domain.ParseTemperatureCSV(strings.NewReader(b.String()), m, newYork)
	if err != nil {
		t.Fatal(err)
	}
	batch := heap(domain.InVessel)
	batch.Points = []domain.PointPlan{{Count: 2}}
	batch.Readings = got
	r := checked(t, batch, domain.OrganicSet, domain.Date{})
	if marks(r) != "YYY-" || r.Outcome == domain.ProcessMet {
		t.Errorf("%s %s: three dates, but the fourth is not whole", marks(r), r.Outcome)
	}
	if !strings.Contains(r.Days[3].Why.En, "of 96 samples") {
		t.Errorf("%q", r.Days[3].Why.En)
	}
}

func FuzzParseTemperatureCSV(f *testing.F) {
	for _, seed := range []string{
		"Time,A,B\n2026-03-01 08:00,131.0,140.5\n", "\ufeffTime;A;B\r\n2026-11-01 01:30;55,0;\r\n2026-11-01 01:30;55,1;60\r\n",
		"Time\tA\tB\n2026-03-08 02:30\t1\t2\n", "Time,A,B\n\"2026-03-01 08:00\",\"1\"\"3\",2\n", "Time,A,B\n2026-03-01T08:00:00Z,-40,212\n", "",
	} {
		f.Add(seed, true)
		f.Add(seed, false)
	}
	f.Fuzz(func(t *testing.T, text string, fahrenheit bool) {
		m := wideF
		if !fahrenheit {
			m.Unit = "degC"
		}
		got, report, err := domain.ParseTemperatureCSV(strings.NewReader(text), m, newYork)
		if err != nil {
			if got != nil {
				t.Fatalf("readings beside an error: %v", err)
			}
			return
		}
		if report.BadCount != 0 || report.Readings != len(got) {
			t.Fatalf("%d readings, report %+v", len(got), report)
		}
		seen := map[string]bool{}
		for i, r := range got {
			if i > 0 && r.TakenAt.Before(got[i-1].TakenAt) {
				t.Fatal("out of order")
			}
			key := fmt.Sprint(r.TakenAt.UnixNano(), r.Probe)
			if seen[key] {
				t.Fatalf("%s twice", key)
			}
			seen[key] = true
			var p domain.Problems
			if r.Check(&p, ""); p.Err() != nil {
				t.Fatalf("a reading the book would refuse: %v", p.Err())
			}
			if _, err := json.Marshal(r); err != nil {
				t.Fatal(err)
			}
		}
	})
}
