package domain_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"croftmark/domain"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
)

var newYork = func() *time.Location {
	z, err := time.LoadLocation("America/New_York")
	if err != nil {
		panic(err)
	}
	return z
}()

// heapStart is date 1 of the series below.
var heapStart = domain.NewDate(2026, time.March, 1)

// nth is date n of a series; date 0 is the day before it.
func nth(n int) domain.Date { return heapStart.AddDays(n - 1) }

// at is an instant of date n on the farm's clock.
func at(n, hour int) time.Time { return nth(n).In(newYork).Add(time.Duration(hour) * time.Hour) }

// heap is a batch of that method started on date 1, of animal origin, with a C:N of 30.
func heap(method domain.CompostMethod) domain.CompostFacts {
	yes := true
	return domain.CompostFacts{
		Method: method, StartedOn: nth(1), Zone: newYork,
		Ingredients: []domain.Ingredient{{Feedstock: "manure and straw", Amount: domain.Q("1000", "lb"), AnimalOrigin: &yes,
			MoisturePct: num("60"), NitrogenPct: num("1.5"), CarbonNitrogen: num("30")}},
	}
}

var spots = []string{"north edge", "core", "south edge", "west edge"}

// reads adds a round of readings at eight in the morning of date n, one per spot; an empty text is a spot not read.
func reads(b *domain.CompostFacts, n int, unit domain.Unit, values ...string) {
	for i, v := range values {
		if v != "" {
			b.Readings = append(b.Readings, domain.CompostReading{TakenAt: at(n, 8), Probe: spots[i], Temperature: domain.Q(v, unit)})
		}
	}
}

func turns(b *domain.CompostFacts, dates ...int) {
	for _, n := range dates {
		b.Turnings = append(b.Turnings, domain.CompostTurning{TurnedAt: at(n, 12)})
	}
}

// series reads one text per date: "135 150 131", with "-" for a date that nobody read.
func series(b *domain.CompostFacts, unit domain.Unit, dates ...string) {
	for i, d := range dates {
		if d != "-" {
			reads(b, i+1, unit, strings.Fields(d)...)
		}
	}
}

func onePoint(b *domain.CompostFacts) { b.Points = []domain.PointPlan{{Count: 1}} }

// checked gives the result of one set.
func checked(t *testing.T, b domain.CompostFacts, set string, on domain.Date) domain.ProcessResult {
	t.Helper()
	r := domain.CheckCompost(b, on, set)
	if len(r) != 1 || r[0].Set != set {
		t.Fatalf("%s: %d results", set, len(r))
	}
	for _, words := range [][]string{r[0].Reasons, r[0].ReasonsEs} {
		if strings.Contains(strings.Join(words, ""), "%!") {
			t.Errorf("a sentence is badly filled: %q", words)
		}
	}
	return r[0]
}

// marks draws the day table: Y for a date that qualifies.
func marks(r domain.ProcessResult) string {
	var b strings.Builder
	for _, d := range r.Days {
		if d.Qualifies {
			b.WriteByte('Y')
		} else {
			b.WriteByte('-')
		}
	}
	return b.String()
}

const windrow24 = "100 125 133 140 146 128 137 145 149 151 150 139 148 152 150 149 138 147 150 148 136 143 141 139"

func windrow(temperatures string, turnings ...int) domain.CompostFacts {
	b := heap(domain.TurnedWindrow)
	onePoint(&b)
	series(&b, "degF", strings.Fields(temperatures)...)
	turns(&b, turnings...)
	return b
}

func static(unit domain.Unit, dates ...string) domain.CompostFacts {
	b := heap(domain.AeratedStaticPile)
	series(&b, unit, dates...)
	return b
}

func hot15(turnings ...int) domain.CompostFacts {
	return windrow(strings.TrimSpace(strings.Repeat("132 ", 15)), turnings...)
}

// The series of the calculations reference 2.7 [computed: made up to hit each edge of 7 CFR 205.203(c)(2) (verified:
// us-rules S1) and 21 CFR 112.54(b) (memory)]. met 0 means not met.
func TestCompostSeries(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct {
		name                string
		b                   domain.CompostFacts
		organic, safety     int
		organicDays         string
		safetyDays          string
		organicN, organicTu int // counted days and turnings
	}{
		{"T1", static("degF", "96 104 99", "121 128 118", "134 141 131", "139 148 133", "144 152 137", "146 155 136"), 5, 5, "--YYYY", "--YYYY", 3, 0},
		{"T2 one point 130.9", static("degF", "135 150 131", "138 155 130.9", "140 158 133", "141 157 134", "139 152 132"), 5, 5, "Y-YYY", "Y-YYY", 3, 0},
		{"T3 one point 171", static("degF", "140 160 135", "150 171 140", "152 168 141", "149 165 139", "146 160 137"), 5, 3, "Y-YYY", "YYYYY", 3, 0},
		{"T4 a date not read", static("degF", "140 150 133", "-", "142 151 134", "143 150 135"), 0, 0, "Y-YY", "Y-YY", 2, 0},
		{"T5 two points only", static("degF", "140 150", "141 152 134", "142 151 133", "143 150 132"), 4, 4, "-YYY", "-YYY", 3, 0},
		{"T6a", windrow(windrow24, 5, 11, 12, 16, 20), 0, 20, "--YYY-YYYYYYYYYYYYYYYYYY", "--YYY-YYYYYYYYYYYYYYYYYY", 18, 4},
		{"T6b", windrow(windrow24, 5, 8, 11, 14, 16, 20), 21, 18, "--YYY-YYYYYYYYYYYYYYYYYY", "--YYY-YYYYYYYYYYYYYYYYYY", 15, 5},
		{"T6c", windrow(windrow24, 8, 11, 14, 16, 20), 21, 20, "--YYY-YYYYYYYYYYYYYYYYYY", "--YYY-YYYYYYYYYYYYYYYYYY", 15, 5},
		{"T7a", hot15(3, 6, 9, 12, 15), 15, 15, strings.Repeat("Y", 15), strings.Repeat("Y", 15), 15, 5},
		{"T7b two on one date", hot15(1, 1, 3, 3, 5, 7), 0, 0, strings.Repeat("Y", 15), strings.Repeat("Y", 15), 15, 4},
		{"T7c one the day before", hot15(0, 3, 6, 9, 12), 0, 0, strings.Repeat("Y", 15), strings.Repeat("Y", 15), 15, 4},
		{"T9 at 55 degC", static("degC", "55.0 55.0 55.0", "55.0 55.0 55.0", "55.0 55.0 55.0"), 3, 3, "YYY", "YYY", 3, 0},
		{"T9 one point 54.9", static("degC", "55.0 55.0 55.0", "55.0 54.9 55.0", "55.0 55.0 55.0"), 0, 0, "Y-Y", "Y-Y", 1, 0},
		{"T10 76.6 degC", static("degC", "60 76.6 60", "60 76.6 60", "60 76.6 60"), 3, 3, "YYY", "YYY", 3, 0},
		{"T10 76.7 degC", static("degC", "60 76.7 60", "60 76.6 60", "60 76.6 60"), 0, 3, "-YY", "YYY", 2, 0},
		{"170 degF passes", static("degF", "140 170 140", "140 170.0 140", "140 170 140"), 3, 3, "YYY", "YYY", 3, 0},
		{"170.1 degF does not", static("degF", "140 170.1 140", "140 170 140", "140 170 140"), 0, 3, "-YY", "YYY", 2, 0},
		{"exactly 131", static("degF", "131 131 131", "131.0 131.0 131.0", "131 131.00 131"), 3, 3, "YYY", "YYY", 3, 0},
		{"cold while others are hot", static("degF", "150 150 130", "150 150 150", "150 150 150"), 0, 0, "-YY", "-YY", 2, 0},
		{"four turnings", hot15(3, 6, 9, 12), 0, 0, strings.Repeat("Y", 15), strings.Repeat("Y", 15), 15, 4},
		{"units mixed", func() domain.CompostFacts {
			b := static("degF", "131 131 131", "-", "131 131 131")
			reads(&b, 2, "degC", "55", "55", "55")
			return b
		}(), 3, 3, "YYY", "YYY", 3, 0},
		{"readings before the start", func() domain.CompostFacts {
			b := static("degF", "140 140 140", "140 140 140", "140 140 140")
			b.StartedOn = nth(2)
			return b
		}(), 0, 0, "YY", "YY", 2, 0},
	} {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			for _, w := range []struct {
				set, days string
				met       int
			}{{domain.OrganicSet, tt.organicDays, tt.organic}, {domain.ProduceSafetySet, tt.safetyDays, tt.safety}} {
				r := checked(t, tt.b, w.set, domain.Date{})
				if got := marks(r); got != w.days {
					t.Errorf("%s days %s, want %s", w.set, got, w.days)
				}
				want, outcome := domain.Date{}, domain.ProcessRunning
				if w.met > 0 {
					want, outcome = nth(w.met), domain.ProcessMet
				}
				if r.MetOn != want || r.Outcome != outcome {
					t.Errorf("%s: %s on %q, want %s on %q; %q", w.set, r.Outcome, r.MetOn, outcome, want, r.Reasons)
				}
			}
			r := checked(t, tt.b, domain.OrganicSet, domain.Date{})
			if len(r.CountedDays) != tt.organicN || r.TurningsCounted != tt.organicTu {
				t.Errorf("counted %v, %d turnings", r.CountedDays, r.TurningsCounted)
			}
		})
	}
}

// The worked checks of us-rules 1.2, with their own dates (Mar 1 to 15).
func TestCompostWorkedChecks(t *testing.T) {
	t.Parallel()
	dates := func(n int, cold ...int) string {
		var out []string
		for i := 1; i <= n; i++ {
			if slices.Contains(cold, i) {
				out = append(out, "128")
			} else {
				out = append(out, "140")
			}
		}
		return strings.Join(out, " ")
	}
	withRatio := func(b domain.CompostFacts, ratio string) domain.CompostFacts {
		b.Ingredients[0].CarbonNitrogen = num(ratio)
		return b
	}
	for _, tt := range []struct {
		name            string
		b               domain.CompostFacts
		organic, safety int
		ask             bool
	}{
		{"Mar 1-15, turned 3 6 9 12 15", windrow(dates(15), 3, 6, 9, 12, 15), 15, 15, false},
		{"Mar 8 at 128, to Mar 16", windrow(dates(16, 8), 3, 6, 9, 12, 15), 0, 16, true},
		{"Mar 8 at 128, to Mar 23, five turnings in Mar 9-23", windrow(dates(23, 8), 9, 12, 15, 18, 21), 23, 21, false},
		{"only four turnings", windrow(dates(15), 3, 6, 9, 12), 0, 0, false},
		{"static 131.0 three dates in a row", static("degF", "131.0 131.0 131.0", "131.0 131.0 131.0", "131.0 131.0 131.0"), 3, 3, false},
		{"static 131 130.9 131", static("degF", "131 131 131", "130.9 131 131", "131 131 131"), 0, 0, false},
		{"C:N 24", withRatio(windrow(dates(15), 3, 6, 9, 12, 15), "24"), 0, 15, true},
		{"C:N 24.9", withRatio(windrow(dates(15), 3, 6, 9, 12, 15), "24.9"), 0, 15, true},
		{"C:N 25", withRatio(windrow(dates(15), 3, 6, 9, 12, 15), "25"), 15, 15, false},
		{"C:N 40", withRatio(windrow(dates(15), 3, 6, 9, 12, 15), "40"), 15, 15, false},
		{"C:N 40.1", withRatio(windrow(dates(15), 3, 6, 9, 12, 15), "40.1"), 0, 15, true},
	} {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			organic := checked(t, tt.b, domain.OrganicSet, domain.Date{})
			safety := checked(t, tt.b, domain.ProduceSafetySet, domain.Date{})
			for _, w := range []struct {
				r   domain.ProcessResult
				met int
			}{{organic, tt.organic}, {safety, tt.safety}} {
				want := domain.Date{}
				if w.met > 0 {
					want = nth(w.met)
				}
				if w.r.MetOn != want || (w.r.Outcome == domain.ProcessMet) != (w.met > 0) {
					t.Errorf("%s: %s on %q, want %q; %q", w.r.Set, w.r.Outcome, w.r.MetOn, want, w.r.Reasons)
				}
			}
			if organic.AskCertifier != tt.ask {
				t.Errorf("ask the certifier: %v, want %v; %q", organic.AskCertifier, tt.ask, organic.Reasons)
			}
		})
	}
}

func TestCompostUnknownRatioNeverPasses(t *testing.T) {
	t.Parallel()
	b := hot15(3, 6, 9, 12, 15)
	b.Ingredients[0].NitrogenPct.Valid = false
	r := checked(t, b, domain.OrganicSet, domain.Date{})
	if r.Outcome != domain.ProcessNotMet || !r.MetOn.IsZero() || r.TimeMetOn != nth(15) {
		t.Errorf("%s on %q, time %q", r.Outcome, r.MetOn, r.TimeMetOn)
	}
	if s := checked(t, b, domain.ProduceSafetySet, domain.Date{}); s.Outcome != domain.ProcessMet {
		t.Errorf("the produce rule has no C:N [memory]: %s", s.Outcome)
	}
	known := b
	known.CarbonNitrogen = domain.FigureOf(dec("31"))
	if r := checked(t, known, domain.OrganicSet, domain.Date{}); r.Outcome != domain.ProcessMet {
		t.Errorf("a stated C:N was not taken: %q", r.Reasons)
	}
}

func TestCompostOutcomeWhenNotMet(t *testing.T) {
	t.Parallel()
	b := hot15(3, 6, 9, 12)
	if r := checked(t, b, domain.OrganicSet, nth(16)); r.Outcome != domain.ProcessRunning || r.TurningsCounted != 4 {
		t.Errorf("the day after: %s, %d turnings", r.Outcome, r.TurningsCounted)
	}
	if r := checked(t, b, domain.OrganicSet, nth(17)); len(r.CountedDays) != 0 {
		t.Errorf("a date without reading did not break the run: %v", r.CountedDays)
	}
	if r := checked(t, b, domain.ProduceSafetySet, nth(17)); len(r.CountedDays) != 15 {
		t.Errorf("windrow days of the produce rule need not be in a row: %v", r.CountedDays)
	}
	if r := checked(t, b, domain.OrganicSet, nth(40)); r.Outcome != domain.ProcessNotMet {
		t.Errorf("nobody touched it for weeks: %s", r.Outcome)
	}
	b.Curings = []domain.CompostCuring{{StartedOn: nth(16)}}
	if r := checked(t, b, domain.OrganicSet, nth(16)); r.Outcome != domain.ProcessNotMet {
		t.Errorf("curing began: %s", r.Outcome)
	}
}

func TestCompostSaysWhatIsMissing(t *testing.T) {
	t.Parallel()
	b := windrow("132 132 132 132 132 132 132 132 132 132 132 132", 3, 6, 9)
	r := checked(t, b, domain.OrganicSet, domain.Date{})
	if r.Missing[0].En != "Two more turnings and three more days are needed." || r.Missing[0].Es != "Faltan dos volteos más y tres días más." {
		t.Errorf("%+v", r.Missing[0])
	}
	t4 := checked(t, static("degF", "140 150 133", "-", "142 151 134", "143 150 135"), domain.ProduceSafetySet, domain.Date{})
	if t4.Missing[0].En != "One more day is needed." || t4.Missing[0].Es != "Falta un día más." {
		t.Errorf("%+v", t4.Missing[0])
	}
	if r := checked(t, hot15(3, 6, 9, 12), domain.OrganicSet, domain.Date{}); r.Missing[0].En != "One more turning is needed, inside the counted days." {
		t.Errorf("%+v", r.Missing[0])
	}
}

func TestCompostDayTable(t *testing.T) {
	t.Parallel()
	b := static("degF", "140 150", "-", "142 129.5 134", "143 171 135", "143 150 135")
	r := checked(t, b, domain.OrganicSet, domain.Date{})
	type row struct {
		Date      string
		Low, High string
		Read      int
		Why       string
	}
	var got []row
	for _, d := range r.Days {
		low, high := "", ""
		if !d.Lowest.IsZero() {
			low, high = d.Lowest.String(), d.Highest.String()
		}
		got = append(got, row{d.Date.String(), low, high, d.PointsRead, d.Why.En})
		if d.PointsRequired != 3 || d.Why.Es == "" {
			t.Errorf("%+v", d)
		}
	}
	want := []row{
		{"2026-03-01", "140 degF", "150 degF", 2, "2 of 3 required points were read."},
		{"2026-03-02", "", "", 0, "No reading on this date."},
		{"2026-03-03", "129.5 degF", "142 degF", 3, "Point core was 129.5 °F, below 131 °F (55 °C)."},
		{"2026-03-04", "135 degF", "171 degF", 3, "Point core was 171 °F, above 170 °F (76.6 °C), so the date does not count for the organic rule."},
		{"2026-03-05", "135 degF", "150 degF", 3, "Counts: coldest point 135 °F, hottest 150 °F."},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}

func TestCompostTurningTable(t *testing.T) {
	t.Parallel()
	r := checked(t, hot15(0, 3, 3, 6, 9, 12, 20), domain.OrganicSet, domain.Date{})
	var got []string
	for _, x := range r.Turnings {
		got = append(got, fmt.Sprintf("%s %v %s", x.Date, x.Counted, x.Why.En))
	}
	want := []string{
		"2026-02-28 false Before the first counted day, 2026-03-01.",
		"2026-03-03 true Counts: inside the counted days.",
		"2026-03-03 false Two turnings on one date count once.",
		"2026-03-06 true Counts: inside the counted days.",
		"2026-03-09 true Counts: inside the counted days.",
		"2026-03-12 true Counts: inside the counted days.",
		"2026-03-20 false After the last counted day, 2026-03-15.",
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}

func TestCompostMethodsNoRuleCounts(t *testing.T) {
	t.Parallel()
	for _, m := range []domain.CompostMethod{domain.Worms, domain.Passive} {
		b := hot15(3, 6, 9, 12, 15)
		b.Method = m
		for _, set := range domain.CompostSets {
			r := checked(t, b, set, domain.Date{})
			if r.Outcome != domain.ProcessNotMet || !r.AskCertifier || !strings.Contains(r.Reasons[0], "NOP 5021") {
				t.Errorf("%s %s: %s %q", m, set, r.Outcome, r.Reasons)
			}
		}
		if s := b.StandingOn(nth(100)); s.Standing != domain.Untreated {
			t.Errorf("%s stands as %s", m, s.Standing)
		}
	}
}

// The sewage sludge picture has no ceiling and no C:N (calculations reference 2.1) and decides nothing.
func TestCompostSludgePicture(t *testing.T) {
	t.Parallel()
	b := static("degF", "140 180 135", "150 180 140", "152 180 141")
	b.Ingredients[0].CarbonNitrogen = num("20")
	b.Ingredients[0].NitrogenPct = num("2")
	all := domain.CheckCompost(b, domain.Date{})
	if len(all) != 3 || !all[2].Picture || all[2].Outcome != domain.ProcessMet || all[0].Outcome == domain.ProcessMet {
		t.Errorf("%+v", all)
	}
	s := b.StandingOn(nth(90), domain.SludgePicture)
	if _, ok := s.Sets[domain.SludgePicture]; ok || len(s.Sets) != 2 {
		t.Errorf("the picture decides: %v", s.Sets)
	}
}

func TestCompostRequiredPoints(t *testing.T) {
	t.Parallel()
	ft, yd := domain.Q("160", "ft"), domain.Q("220", "yd3")
	for _, tt := range []struct {
		name string
		plan domain.PointPlan
		want int
	}{
		{"nothing known", domain.PointPlan{}, 3},
		{"160 ft", domain.PointPlan{Length: ft}, 4},
		{"220 yd3", domain.PointPlan{Length: ft, Volume: yd}, 5},
		{"the farm's one", domain.PointPlan{Count: 1}, 1},
		{"lowered to the floor by length", domain.PointPlan{Count: 1, Length: ft}, 2},
		{"lowered to the floor by volume", domain.PointPlan{Count: 1, Volume: domain.Q("400.1", "yd3")}, 3},
		{"exactly 150 ft", domain.PointPlan{Length: domain.Q("150", "ft")}, 3},
		{"in metres", domain.PointPlan{Length: domain.Q("50", "m")}, 4},
		{"four names", domain.PointPlan{Names: spots}, 4},
	} {
		if got := tt.plan.Required(); got != tt.want {
			t.Errorf("%s: %d, want %d", tt.name, got, tt.want)
		}
	}
	b := static("degF", "140 140 140", "140 140 140", "140 140 140")
	b.Points = []domain.PointPlan{{Names: []string{"core", "west edge", "south edge"}}}
	if r := checked(t, b, domain.OrganicSet, domain.Date{}); marks(r) != "---" || !strings.Contains(r.Days[0].Why.En, "west edge") {
		t.Errorf("a named point was not missed: %s %s", marks(r), r.Days[0].Why.En)
	}
	// A split heap keeps its days and needs its own points from then on (A17).
	split := static("degF", "140 140 140", "140 140 140", "140")
	split.Points = []domain.PointPlan{{Count: 3}, {From: nth(3), Count: 1}}
	if r := checked(t, split, domain.OrganicSet, domain.Date{}); r.MetOn != nth(3) {
		t.Errorf("split: %s", marks(r))
	}
}

// Without a volume in the plan the ingredients' stands in: one point per 200 yd3 at least (calculations reference 2.2,
// after 14 CCR 17868.3 [verified: CA], and 2.3).
func TestCompostPointsByTheIngredients(t *testing.T) {
	t.Parallel()
	large := func(plans ...domain.PointPlan) domain.CompostFacts {
		b := static("degF", "140 140 140", "140 140 140", "140 140 140")
		b.Ingredients[0].Amount, b.Ingredients[0].Density = domain.Q("1100", "yd3"), num("1000")
		b.Ingredients = append(b.Ingredients, domain.Ingredient{Feedstock: "what the neighbour brought", Amount: domain.Q("9", "lb")}, // of no known volume
			domain.Ingredient{Feedstock: "leaves", Amount: domain.Q("100000", "lb"), Density: num("1000")})
		b.Points = plans
		return b
	}
	for _, tt := range []struct {
		name string
		b    domain.CompostFacts
		want int
	}{
		{"no plan", large(), 24},
		{"lowered to the floor", large(domain.PointPlan{Count: 1}), 6},
		{"the plan's own volume", large(domain.PointPlan{Count: 1, Volume: domain.Q("190", "yd3")}), 1},
		{"split since", large(domain.PointPlan{}, domain.PointPlan{From: nth(2), Count: 1}), 24},
		{"a plan for later only", large(domain.PointPlan{From: nth(2), Count: 1}), 24},
		{"small", static("degF", "140 140 140"), 3},
	} {
		if r := checked(t, tt.b, domain.ProduceSafetySet, domain.Date{}); r.Days[0].PointsRequired != tt.want || (r.Outcome == domain.ProcessMet) != (tt.want == 1) {
			t.Errorf("%s: %d points, %s, want %d", tt.name, r.Days[0].PointsRequired, r.Outcome, tt.want)
		}
	}
	split := large(domain.PointPlan{}, domain.PointPlan{From: nth(2), Count: 1})
	if r := checked(t, split, domain.ProduceSafetySet, domain.Date{}); r.Days[1].PointsRequired != 1 {
		t.Errorf("split: %d points", r.Days[1].PointsRequired)
	}
}

// A15: a void needs a reason, two persons and another reading of the spot on the date.
func TestCompostVoidedReadings(t *testing.T) {
	t.Parallel()
	one, two := uuid.Must(uuid.NewV7()), uuid.Must(uuid.NewV7())
	full := domain.ReadingVoid{Reason: "cable broken", By: one, SecondPerson: two}
	for _, tt := range []struct {
		name        string
		void        *domain.ReadingVoid
		replacement string
		met         bool
	}{
		{"complete and replaced", &full, "140", true},
		{"not replaced", &full, "", false},
		{"replaced by a cold one", &full, "130", false},
		{"no reason", &domain.ReadingVoid{By: one, SecondPerson: two}, "140", false},
		{"the same person twice", &domain.ReadingVoid{Reason: "cable broken", By: one, SecondPerson: one}, "140", false},
		{"not voided", nil, "140", false},
	} {
		b := static("degF", "140 140 140", "140 90 140", "140 140 140")
		b.Readings[4].Void = tt.void
		if tt.replacement != "" {
			b.Readings = append(b.Readings, domain.CompostReading{TakenAt: at(2, 9), Probe: "core", Temperature: domain.Q(tt.replacement, "degF")})
		}
		if r := checked(t, b, domain.OrganicSet, domain.Date{}); (r.Outcome == domain.ProcessMet) != tt.met {
			t.Errorf("%s: %s %q", tt.name, r.Outcome, r.Days[1].Why.En)
		}
	}
	// A badly voided hot reading must not stand for its point either.
	b := static("degF", "140 140 140", "140 140 140", "140 140 140")
	b.Readings[4].Void = &domain.ReadingVoid{}
	if r := checked(t, b, domain.OrganicSet, domain.Date{}); r.Outcome == domain.ProcessMet {
		t.Error("a voided reading made a date")
	}
	b.Readings[4].Void, b.Readings[4].FromMemory = nil, true
	if r := checked(t, b, domain.OrganicSet, domain.Date{}); r.Outcome == domain.ProcessMet {
		t.Error("a reading from memory made a date (A7)")
	}
}

// S19 of the record forms: the probe read 6 degF high; the batch is judged again, the readings stay as written.
func TestCompostProbeOffsetReclassifies(t *testing.T) {
	t.Parallel()
	cured := func() domain.CompostFacts {
		b := static("degF", "136 145 140", "137 145 140", "138 145 140")
		b.Curings = []domain.CompostCuring{{StartedOn: nth(4), FinishedOn: nth(40)}}
		return b
	}
	b := cured()
	if s := b.StandingOn(nth(50)); s.Standing != domain.Treated {
		t.Fatalf("before: %s %v", s.Standing, s.Reasons)
	}
	for _, tt := range []struct {
		name   string
		offset domain.ProbeOffset
		want   domain.Standing
	}{
		{"6 degF high", domain.ProbeOffset{Probe: "north edge", ReadHigh: domain.Q("6", "degF")}, domain.Untreated},
		{"6 degF high, spelled otherwise", domain.ProbeOffset{Probe: " North  Edge", ReadHigh: domain.Q("6", "degF")}, domain.Untreated},
		{"6 degF high, another probe", domain.ProbeOffset{Probe: "north edges", ReadHigh: domain.Q("6", "degF")}, domain.Treated},
		{"5 degF high: exactly 131", domain.ProbeOffset{Probe: "north edge", ReadHigh: domain.Q("5", "degF")}, domain.Treated},
		{"5.1 degF high", domain.ProbeOffset{Probe: "north edge", ReadHigh: domain.Q("5.1", "degF")}, domain.Untreated},
		{"3.3 degC high is 5.94 degF", domain.ProbeOffset{Probe: "north edge", ReadHigh: domain.Q("3.3", "degC")}, domain.Untreated},
		{"2.7 degC high is 4.86 degF", domain.ProbeOffset{Probe: "north edge", ReadHigh: domain.Q("2.7", "degC")}, domain.Treated},
		{"only after the run", domain.ProbeOffset{Probe: "north edge", From: at(4, 0), ReadHigh: domain.Q("6", "degF")}, domain.Treated},
		{"every probe", domain.ProbeOffset{ReadHigh: domain.Q("6", "degF")}, domain.Untreated},
		{"another probe", domain.ProbeOffset{Probe: "west edge", ReadHigh: domain.Q("60", "degF")}, domain.Treated},
		{"low: the core was above 170", domain.ProbeOffset{Probe: "core", ReadHigh: domain.Q("-30", "degF")}, domain.Untreated},
	} {
		b := cured()
		b.ProbeOffsets = []domain.ProbeOffset{tt.offset}
		if s := b.StandingOn(nth(50)); s.Standing != tt.want {
			t.Errorf("%s: %s, want %s", tt.name, s.Standing, tt.want)
		}
	}
	b.ProbeOffsets = []domain.ProbeOffset{{Probe: "north edge", ReadHigh: domain.Q("6", "degF")}, {Probe: "north edge", From: at(1, 7)}}
	if s := b.StandingOn(nth(50)); s.Standing != domain.Treated {
		t.Error("a probe put right is still corrected")
	}
	if b.Readings[0].Temperature.String() != "136 degF" {
		t.Error("the reading itself was changed")
	}
}

// Every required point is read, and the coldest of all decides (calculations reference 2.3 A3, A8, after 21 CFR 112.54(b)
// and 7 CFR 205.203(c)(2)): one spot written three ways is one point.
func TestCompostSpotsByAnySpelling(t *testing.T) {
	t.Parallel()
	round := func(names ...string) domain.CompostFacts {
		b := heap(domain.AeratedStaticPile)
		for n := 1; n <= 3; n++ {
			for _, name := range names {
				b.Readings = append(b.Readings, domain.CompostReading{TakenAt: at(n, 8), Probe: name, Temperature: domain.Q("140", "degF")})
			}
		}
		return b
	}
	if r := checked(t, round("Core", "core", " CORE "), domain.ProduceSafetySet, domain.Date{}); r.Outcome == domain.ProcessMet || r.Days[0].PointsRead != 1 {
		t.Errorf("one spot counts as %d points: %s", r.Days[0].PointsRead, r.Outcome)
	}
	b := round("North edge", "core", "South  edge")
	b.Points = []domain.PointPlan{{Names: []string{"north edge", "Core", "south edge", "CORE"}}}
	if r := checked(t, b, domain.ProduceSafetySet, domain.Date{}); r.MetOn != nth(3) {
		t.Errorf("the plan's spelling is not the readings': %s", r.Days[0].Why.En)
	}
	b.Certifier = []domain.CertifierSettings{{AgreedOn: nth(1), Document: "letter", CorePoints: []string{"CORE", "core"}}}
	if r := checked(t, b, domain.OrganicSet, domain.Date{}); r.MetOn != nth(3) || r.Days[0].PointsRequired != 1 {
		t.Errorf("the letter's spelling is not the readings': %s", r.Days[0].Why.En)
	}
	one, other := uuid.New(), uuid.New()
	b.Readings = append(b.Readings, domain.CompostReading{TakenAt: at(2, 9), Probe: "NORTH EDGE", Temperature: domain.Q("99", "degF"),
		Void: &domain.ReadingVoid{Reason: "fell out", By: one, SecondPerson: other}})
	if r := checked(t, b, domain.ProduceSafetySet, domain.Date{}); r.MetOn != nth(3) {
		t.Errorf("the spot was read again, only spelled otherwise: %s", r.Days[1].Why.En)
	}
	logged := heap(domain.AeratedStaticPile)
	onePoint(&logged)
	for n := 1; n <= 4; n++ {
		for hour := range 24 {
			name := []string{"Logger 1", "logger 1"}[hour%2]
			logged.Readings = append(logged.Readings, domain.CompostReading{TakenAt: at(n, hour), Probe: name, Temperature: domain.Q("140", "degF"), Logger: true})
		}
	}
	if r := checked(t, logged, domain.ProduceSafetySet, domain.Date{}); r.Outcome != domain.ProcessMet || r.Days[0].PointsRead != 1 {
		t.Errorf("one logger of two spellings: %q", r.Days[0].Why.En)
	}
}

// A static pile turned before it is done is a windrow from that date (calculations reference 2.1 [convention]).
func TestCompostStaticPileTurned(t *testing.T) {
	t.Parallel()
	hot := strings.Repeat("140,", 20)
	b := heap(domain.AeratedStaticPile)
	onePoint(&b)
	series(&b, "degF", strings.Split(strings.TrimSuffix(hot, ","), ",")...)
	turns(&b, 2)
	r := checked(t, b, domain.OrganicSet, nth(10))
	if r.Outcome != domain.ProcessRunning || len(r.CountedDays) != 9 || r.TurningsCounted != 1 {
		t.Errorf("%s %v %d", r.Outcome, r.CountedDays, r.TurningsCounted)
	}
	turns(&b, 5, 8, 11, 14)
	if r := checked(t, b, domain.OrganicSet, domain.Date{}); r.MetOn != nth(16) {
		t.Errorf("met on %q, want date 16", r.MetOn)
	}
	done := heap(domain.AeratedStaticPile)
	series(&done, "degF", "140 140 140", "140 140 140", "140 140 140", "140 140 140")
	turns(&done, 3) // at noon, after the third set of readings
	if r := checked(t, done, domain.OrganicSet, domain.Date{}); r.MetOn != nth(3) {
		t.Errorf("a finished pile may be turned: %q %q", r.MetOn, r.Reasons)
	}
	vessel := heap(domain.InVessel)
	series(&vessel, "degF", "140 140 140", "140 140 140", "140 140 140")
	turns(&vessel, 1, 2)
	if r := checked(t, vessel, domain.OrganicSet, domain.Date{}); r.MetOn != nth(3) {
		t.Errorf("a vessel may turn: %q", r.Reasons)
	}
}

// A pile turned on its third hot date was done before the turning only if that date still counts once the rest of it is
// read: static composting needs three dates in a row and no turning (21 CFR 112.54(b)(1) [memory; verified for static:
// LSU Pub. 3838-B], 112.3 [verified]); a cool reading later the same date fails the date (calculations reference 2.3 A10).
func TestCompostStaticPileTurnedOnTheDateThatFails(t *testing.T) {
	t.Parallel()
	b := static("degF", "140 140 140", "140 140 140", "140 140 140", "140 140 140", "140 140 140", "140 140 140")
	b.Readings = append(b.Readings, domain.CompostReading{TakenAt: at(3, 14), Probe: spots[2], Temperature: domain.Q("112", "degF")})
	turns(&b, 3, 4, 5)
	for _, set := range domain.CompostSets {
		r := checked(t, b, set, nth(6))
		if r.Outcome == domain.ProcessMet || !strings.Contains(r.Cautions[0].En, "judged as a turned windrow") {
			t.Errorf("%s: %s on %q, %q", set, r.Outcome, r.MetOn, r.Cautions)
		}
	}
}

func TestCompostCautions(t *testing.T) {
	t.Parallel()
	says := func(r domain.ProcessResult, want string) bool {
		return slices.ContainsFunc(r.Cautions, func(c domain.LocalText) bool { return strings.Contains(c.En, want) && c.Es != "" })
	}
	three := static("degF", "140 140 140", "140 140 140", "140 140 140")
	if r := checked(t, three, domain.OrganicSet, domain.Date{}); r.ElapsedHours != 48 || !says(r, "fourth reading") {
		t.Errorf("A2: %v h, %v", r.ElapsedHours, r.Cautions)
	}
	if r := checked(t, hot15(1, 2, 3, 4, 5), domain.OrganicSet, domain.Date{}); r.Outcome != domain.ProcessMet || !says(r, "close together") {
		t.Errorf("A11: %s %v", r.Outcome, r.Cautions)
	}
	if r := checked(t, hot15(1, 4, 7, 10, 13), domain.OrganicSet, domain.Date{}); says(r, "close together") {
		t.Error("A11: turnings well apart were called close")
	}
	near := hot15(3, 6, 9, 12, 15)
	near.ProbeAccuracy = domain.Q("2", "degF")
	if r := checked(t, near, domain.OrganicSet, domain.Date{}); r.Outcome != domain.ProcessMet || !says(r, "accuracy") {
		t.Errorf("A19: %s %v", r.Outcome, r.Cautions)
	}
	near.ProbeAccuracy = domain.Q("1", "degF")
	if r := checked(t, near, domain.OrganicSet, domain.Date{}); says(r, "accuracy") {
		t.Error("A19: 132 less 1 is still 131")
	}
}
