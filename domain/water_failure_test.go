package domain_test

import (
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
	"pgregory.net/rapid"

	"croftmark/domain"
)

// Record-forms S2: drawn Monday, shipped Tuesday, reported Saturday. The result belongs to Monday.
func TestWaterFailureWindows(t *testing.T) {
	t.Parallel()
	after := func(s string) time.Time { return waterAt(s).Add(time.Microsecond) }
	monday := waterDrawn("2026-07-06", "", "12")
	monday.ReportedAt = waterAt("2026-07-11 15:00")
	good, older := waterDrawn("2026-06-01", "", "<1"), waterDrawn("2026-05-01", "", "<1")
	stop := waterStop("2026-07-11 16:00", "")
	retests := waterDrawnOn("<1", "2026-07-14", "2026-07-15", "2026-07-16", "2026-07-17")
	hydrant, wash := waterDrawn("2026-07-06", "hydrant", "12"), waterDrawn("2026-06-20", "wash", "<1")
	from, to := waterAt("2026-04-15"), waterAt("2026-08-01")
	blink := waterDrawn("2026-07-06", "", "<1")
	blink.SampledAt = monday.SampledAt.Add(-500 * time.Nanosecond)
	second := waterDrawn("2026-09-01", "", "3")
	for _, c := range []struct {
		name  string
		facts domain.WaterFacts
		use   domain.WaterUse
		want  []domain.WaterFailureWindow
	}{
		{"late result", domain.WaterFacts{Tests: []domain.WaterTest{monday, good, older}, Actions: []domain.WaterAction{stop}}, domain.UseWashing,
			[]domain.WaterFailureWindow{{From: after("2026-06-01"), To: stop.At, SampledHere: true, Failing: monday.ID, LastGood: good.ID, Stop: stop.ID}}},
		{"no failure", domain.WaterFacts{Tests: []domain.WaterTest{good, older}}, domain.UseWashing, nil},
		{"not stopped, open", domain.WaterFacts{Tests: []domain.WaterTest{good, monday}}, domain.UseWashing,
			[]domain.WaterFailureWindow{{From: after("2026-06-01"), SampledHere: true, Failing: monday.ID, LastGood: good.ID}}},
		{"a later good sample does not end it", domain.WaterFacts{Tests: []domain.WaterTest{good, monday, retests[0]}}, domain.UseWashing,
			[]domain.WaterFailureWindow{{From: after("2026-06-01"), SampledHere: true, Failing: monday.ID, LastGood: good.ID}}},
		{"never a good sample: since in service", domain.WaterFacts{Source: domain.WaterSource{From: from}, Tests: []domain.WaterTest{monday}, Actions: []domain.WaterAction{stop}}, domain.UseWashing,
			[]domain.WaterFailureWindow{{From: from, To: stop.At, SampledHere: true, Failing: monday.ID, Stop: stop.ID}}},
		{"stopped for ice only", domain.WaterFacts{Tests: []domain.WaterTest{good, monday}, Actions: []domain.WaterAction{{ID: uuid.UUID{9}, At: stop.At, Uses: []domain.WaterUse{domain.UseIce}}}}, domain.UseWashing,
			[]domain.WaterFailureWindow{{From: after("2026-06-01"), SampledHere: true, Failing: monday.ID, LastGood: good.ID}}},
		{"irrigation has its own rule", domain.WaterFacts{Tests: []domain.WaterTest{good, monday}}, domain.UseIrrigationTouching, nil},
		{"stopped before the sample was drawn", domain.WaterFacts{Tests: []domain.WaterTest{good, monday}, Actions: []domain.WaterAction{waterStop("2026-07-03", "")}}, domain.UseWashing,
			[]domain.WaterFailureWindow{{From: after("2026-06-01"), To: waterAt("2026-07-03"), SampledHere: true, Failing: monday.ID, LastGood: good.ID, Stop: waterStop("2026-07-03", "").ID}}},
		{"stopped before the sample, corrected after it", domain.WaterFacts{Tests: []domain.WaterTest{good, monday}, Actions: []domain.WaterAction{waterStop("2026-07-03", ""), waterFix("2026-07-20", "")}}, domain.UseWashing,
			[]domain.WaterFailureWindow{{From: after("2026-06-01"), To: waterAt("2026-07-03"), SampledHere: true, Failing: monday.ID, LastGood: good.ID, Stop: waterStop("2026-07-03", "").ID}}},
		{"stopped and taken up again before the sample", domain.WaterFacts{Tests: []domain.WaterTest{good, monday}, Actions: []domain.WaterAction{waterStop("2026-07-03", ""), waterFix("2026-07-04", ""), stop}}, domain.UseWashing,
			[]domain.WaterFailureWindow{{From: after("2026-06-01"), To: stop.At, SampledHere: true, Failing: monday.ID, LastGood: good.ID, Stop: stop.ID}}},
		{"stopped all along", domain.WaterFacts{Tests: []domain.WaterTest{good, monday}, Actions: []domain.WaterAction{waterStop("2026-05-20", "")}}, domain.UseWashing, nil},
		{"other water before the sample", domain.WaterFacts{Source: domain.WaterSource{Is: domain.WaterPublicSupply}, Tests: []domain.WaterTest{good, monday},
			Changes: []domain.WaterSupplyChange{{At: waterAt("2026-06-15"), Is: domain.WaterUntreatedGround}}, Actions: []domain.WaterAction{stop}}, domain.UseWashing,
			[]domain.WaterFailureWindow{{From: waterAt("2026-06-15"), To: stop.At, SampledHere: true, Failing: monday.ID, Stop: stop.ID}}},
		{"new pipes, same water: the well may be the cause", domain.WaterFacts{Source: domain.WaterSource{Is: domain.WaterUntreatedGround}, Tests: []domain.WaterTest{good, monday},
			Changes: []domain.WaterSupplyChange{{At: waterAt("2026-06-15")}}, Actions: []domain.WaterAction{stop}}, domain.UseWashing,
			[]domain.WaterFailureWindow{{From: after("2026-06-01"), To: stop.At, SampledHere: true, Failing: monday.ID, LastGood: good.ID, Stop: stop.ID}}},
		{"treatment added, same water: the good sample still bounds it", domain.WaterFacts{Source: domain.WaterSource{Is: domain.WaterUntreatedGround}, Tests: []domain.WaterTest{good, monday},
			Changes: []domain.WaterSupplyChange{{At: waterAt("2026-06-15"), Is: domain.WaterTreatedGround}}, Actions: []domain.WaterAction{stop}}, domain.UseWashing,
			[]domain.WaterFailureWindow{{From: after("2026-06-01"), To: stop.At, SampledHere: true, Failing: monday.ID, LastGood: good.ID, Stop: stop.ID}}},
		{"only the other tap was stopped", domain.WaterFacts{Tests: []domain.WaterTest{good, monday}, Actions: []domain.WaterAction{waterStop("2026-07-07", "hydrant")}}, domain.UseWashing,
			[]domain.WaterFailureWindow{{From: after("2026-06-01"), SampledHere: true, Failing: monday.ID, LastGood: good.ID}}},
		{"good half a microsecond before", domain.WaterFacts{Tests: []domain.WaterTest{blink, monday}, Actions: []domain.WaterAction{stop}}, domain.UseWashing,
			[]domain.WaterFailureWindow{{From: monday.SampledAt, To: stop.At, SampledHere: true, Failing: monday.ID, LastGood: blink.ID, Stop: stop.ID}}},
		{"switch to town water ends it", domain.WaterFacts{Source: domain.WaterSource{Is: domain.WaterUntreatedGround}, Tests: []domain.WaterTest{good, monday},
			Changes: []domain.WaterSupplyChange{{At: waterAt("2026-07-12"), Is: domain.WaterPublicSupply}}}, domain.UseWashing,
			[]domain.WaterFailureWindow{{From: after("2026-06-01"), To: waterAt("2026-07-12"), SampledHere: true, Failing: monday.ID, LastGood: good.ID}}},
		{"source given up", domain.WaterFacts{Source: domain.WaterSource{To: to}, Tests: []domain.WaterTest{good, monday}}, domain.UseWashing,
			[]domain.WaterFailureWindow{{From: after("2026-06-01"), To: to, SampledHere: true, Failing: monday.ID, LastGood: good.ID}}},
		{"the hydrant failed, the wash tap has the same water", domain.WaterFacts{Tests: []domain.WaterTest{wash, hydrant}, Actions: []domain.WaterAction{stop}}, domain.UseWashing,
			[]domain.WaterFailureWindow{
				{Tap: "hydrant", To: stop.At, SampledHere: true, Failing: hydrant.ID, Stop: stop.ID},
				{Tap: "wash", From: after("2026-06-20"), To: stop.At, Failing: hydrant.ID, LastGood: wash.ID, Stop: stop.ID}}},
		{"a pass clears: the next failure reaches back to it", domain.WaterFacts{Source: domain.WaterSource{Is: domain.WaterUntreatedGround},
			Tests: append([]domain.WaterTest{good, monday, second}, retests...), Actions: []domain.WaterAction{stop, waterFix("2026-07-13", ""), waterStop("2026-09-05", "")}}, domain.UseWashing,
			[]domain.WaterFailureWindow{
				{From: after("2026-06-01"), To: stop.At, SampledHere: true, Failing: monday.ID, LastGood: good.ID, Stop: stop.ID},
				{From: after("2026-07-17"), To: waterAt("2026-09-05"), SampledHere: true, Failing: second.ID, LastGood: retests[3].ID, Stop: waterStop("2026-09-05", "").ID}}},
	} {
		if diff := cmp.Diff(c.want, domain.WaterFailureWindows(c.facts, c.use)); diff != "" {
			t.Errorf("%s: %s", c.name, diff)
		}
	}
}

func TestWaterFailureWindowCovers(t *testing.T) {
	t.Parallel()
	w := domain.WaterFailureWindow{Tap: "wash", From: waterAt("2026-06-01"), To: waterAt("2026-07-01")}
	for _, c := range []struct {
		tap, at string
		want    bool
	}{
		{"wash", "2026-06-01", true}, {"Wash ", "2026-06-15", true}, {"", "2026-06-15", true}, {"hydrant", "2026-06-15", false},
		{"wash", "2026-07-01", false}, {"wash", "2026-05-31", false},
	} {
		if got := w.Covers(c.tap, waterAt(c.at)); got != c.want {
			t.Errorf("%q on %s: %v", c.tap, c.at, got)
		}
	}
	w.To = time.Time{}
	if !w.Covers("wash", waterAt("2030-01-01")) {
		t.Error("an open window ends")
	}
}

// The window of a failure never starts after the failing sample; it holds no good sample of its tap before the failing
// one; and every failing sample that was not taken while use stood still has its window.
func TestWaterFailureWindowProperties(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(rt *rapid.T) {
		f := waterHistory(rt)
		byID := map[uuid.UUID]domain.WaterTest{}
		for _, x := range f.Tests {
			byID[x.ID] = x
		}
		for _, w := range domain.WaterFailureWindows(f, domain.UseWashing) {
			failing := byID[w.Failing]
			if failing.Finding() != domain.Detected || w.From.After(failing.SampledAt) {
				rt.Fatalf("%+v starts after its sample %v", w, failing)
			}
			for _, x := range f.Tests {
				if x.Tap == w.Tap && x.Finding() == domain.NoneDetected && x.SampledAt.Before(failing.SampledAt) && !x.SampledAt.Before(w.From) {
					rt.Fatalf("%+v holds the good sample %v", w, x)
				}
			}
			if middle := failing.SampledAt; w.Covers(w.Tap, middle) {
				if got := domain.FitnessOfWater(f, domain.UseWashing, w.Tap, middle); got.Verdict != domain.Stop {
					rt.Fatalf("%+v covers an instant that is %s\n%s", w, got.Verdict, waterSaid(got))
				}
			}
		}
		if len(f.Actions) > 0 {
			return
		}
		for _, x := range f.Tests {
			found := false
			for _, w := range domain.WaterFailureWindows(f, domain.UseWashing) {
				found = found || (w.Failing == x.ID && w.SampledHere && w.Covers(x.Tap, x.SampledAt))
			}
			if found != (x.Finding() == domain.Detected) {
				rt.Fatalf("%v has a window: %v", x, found)
			}
		}
	})
}

// Each use has its own stop, so a source used for several may have several windows of one failure; one that waters the
// crop only has the window for washing, with which its irrigation is looked at (21 CFR 112.43: the written assessment
// decides), and no test of its own by 112.44(b).
func TestWaterFailureWindowsByUse(t *testing.T) {
	t.Parallel()
	f := domain.WaterFacts{Source: domain.WaterSource{Is: domain.WaterUntreatedGround, Uses: []domain.WaterUse{domain.UseWashing, domain.UseCooling}}}
	f.Tests = []domain.WaterTest{waterDrawn("2026-05-01", "", "<1"), waterDrawn("2026-06-01", "", "5")}
	f.Actions = []domain.WaterAction{waterStop("2026-06-03", "")}
	f.Actions[0].Uses = []domain.WaterUse{domain.UseWashing}
	ws := domain.AllWaterFailureWindows(f)
	if len(ws) != 2 || ws[0].To != waterAt("2026-06-03") || !ws[1].To.IsZero() {
		t.Errorf("washing was stopped and cooling was not: %+v", ws)
	}
	f.Source.Uses = []domain.WaterUse{domain.UseIrrigationTouching}
	if ws := domain.AllWaterFailureWindows(f); len(ws) != 1 || ws[0].To != waterAt("2026-06-03") {
		t.Errorf("irrigation only: %+v", ws)
	}
	if due := domain.WaterTestsDue(f, "", waterAt("2026-06-10")); due.Plan != domain.PlanNone || !due.DueOn.IsZero() {
		t.Errorf("irrigation only has a test due: %+v", due)
	}
}

// A failed well stays failed while the tap gives town water: before it is used again the cause is found, corrected and
// proved, and the test plan is four again (21 CFR 112.45(a), 112.44(b); record-forms S40: never cleared by one good
// sample).
func TestWaterFailureOutlastsOtherWater(t *testing.T) {
	t.Parallel()
	yes := true
	detour := func(back domain.WaterKind) domain.WaterFacts {
		f := goodWell()
		f.Certificates = []domain.WaterCertificate{{IssuedOn: domain.NewDate(2026, 1, 1)}}
		f.Changes = []domain.WaterSupplyChange{{At: waterAt("2026-07-02"), Is: domain.WaterPublicSupply}, {At: waterAt("2026-07-20"), Is: back}}
		f.Monitoring = []domain.WaterMonitoring{{At: waterAt("2026-07-25 07:00"), InRange: &yes}}
		return f
	}
	failed := func(back domain.WaterKind, more ...domain.WaterTest) domain.WaterFacts {
		f := detour(back)
		f.Tests = append(append(f.Tests, waterDrawn("2026-07-01", "", "12")), more...)
		return f
	}
	with := func(f domain.WaterFacts, actions ...domain.WaterAction) domain.WaterFacts {
		f.Actions = actions
		return f
	}
	ground, fix := domain.WaterUntreatedGround, waterFix("2026-07-05", "")
	four := waterDrawnOn("<1", "2026-07-21", "2026-07-22", "2026-07-23", "2026-07-24")
	pending := detour(ground)
	pending.Tests = append(pending.Tests, waterDrawn("2026-06-30", "", "pending"), four[0])
	for _, c := range []struct {
		name  string
		facts domain.WaterFacts
		at    string
		want  domain.Verdict
	}{
		{"on town water", failed(ground), "2026-07-10", domain.Clear},
		{"back on the well, one good sample", failed(ground, four[0]), "2026-07-25", domain.Stop},
		{"corrected, one good sample", with(failed(ground, four[0]), fix), "2026-07-25", domain.Stop},
		{"four good samples, not corrected", failed(ground, four...), "2026-07-25", domain.Stop},
		{"corrected and four good samples", with(failed(ground, four...), fix), "2026-07-25", domain.Clear},
		{"good samples of town water prove nothing of the well", with(failed(ground, waterDrawnOn("<1", "2026-07-06", "2026-07-07", "2026-07-08", "2026-07-09")...), fix), "2026-07-25", domain.Stop},
		{"back as a treated well, treatment in range", failed(domain.WaterTreatedGround), "2026-07-25", domain.Stop},
		{"treated, corrected and proved", with(failed(domain.WaterTreatedGround, four[0]), fix), "2026-07-25", domain.Clear},
		{"treated, proved with town water only", with(failed(domain.WaterTreatedGround, waterDrawn("2026-07-06", "", "<1")), fix), "2026-07-25", domain.Stop},
		{"stopped by the farm, on town water", with(detour(ground), waterStop("2026-07-01", "")), "2026-07-10", domain.Clear},
		{"stopped by the farm, back on the well", with(detour(domain.WaterTreatedGround), waterStop("2026-07-01", "")), "2026-07-25", domain.Stop},
		{"stopped, back and corrected", with(detour(domain.WaterTreatedGround), waterStop("2026-07-01", ""), fix), "2026-07-25", domain.Clear},
		{"a bottle of the well still at the lab", pending, "2026-07-25", domain.Ask},
	} {
		if got := domain.FitnessOfWater(c.facts, domain.UseWashing, "", waterAt(c.at)); got.Verdict != c.want {
			t.Errorf("%s: %s, want %s\n%s", c.name, got.Verdict, c.want, waterSaid(got))
		}
	}
	if due := domain.WaterTestsDue(failed(ground), "", waterAt("2026-07-25")); due.Plan != domain.PlanRetest || due.Needed != 4 {
		t.Errorf("back on the failed well the plan is %+v", due)
	}
}

// A tap that is switched onto a failed well gets water that failed, and its use waits for the correction and its proof
// like that of any other tap (21 CFR 112.44(a), 112.45(a); us-rules 2.6: the source is stopped, not the tap).
func TestWaterFailureGoesWithTheWater(t *testing.T) {
	t.Parallel()
	yes := true
	joins := func(kind domain.WaterKind, failedAt string, more ...domain.WaterTest) domain.WaterFacts {
		return domain.WaterFacts{Source: domain.WaterSource{Is: domain.WaterUntreatedGround}, Size: domain.FarmLarge,
			Certificates: []domain.WaterCertificate{{IssuedOn: domain.NewDate(2026, 1, 1)}},
			Changes:      []domain.WaterSupplyChange{{Tap: "wash", At: waterAt("2026-01-01"), Is: domain.WaterPublicSupply}, {Tap: "Wash", At: waterAt("2026-07-05"), Is: kind}},
			Tests:        append([]domain.WaterTest{waterDrawn("2026-07-01", failedAt, "12")}, more...),
			Monitoring:   []domain.WaterMonitoring{{At: waterAt("2026-07-07 07:00"), InRange: &yes}, {At: waterAt("2026-08-01 07:00"), InRange: &yes}}}
	}
	corrected := func(f domain.WaterFacts) domain.WaterFacts {
		f.Actions = []domain.WaterAction{waterFix("2026-07-06", "barn")}
		return f
	}
	ground, treated := domain.WaterUntreatedGround, domain.WaterTreatedGround
	var wash []domain.WaterTest
	for _, day := range []string{"2026-07-07", "2026-07-08", "2026-07-09", "2026-07-10"} {
		wash = append(wash, waterDrawn(day, "wash", "<1"))
	}
	for _, c := range []struct {
		name  string
		facts domain.WaterFacts
		tap   string
		at    string
		want  domain.Verdict
	}{
		{"on town water when the barn failed", joins(ground, "barn"), "wash", "2026-07-03", domain.Clear},
		{"put on the failed well", joins(ground, "barn", wash[0]), "wash", "2026-07-07", domain.Stop},
		{"put on the failed well, treated", joins(treated, "barn"), "wash", "2026-07-07", domain.Stop},
		{"four good samples of its own, not corrected", joins(ground, "barn", wash...), "wash", "2026-08-01", domain.Stop},
		{"corrected and four good samples", corrected(joins(ground, "barn", wash...)), "wash", "2026-08-01", domain.Clear},
		{"treated, corrected, proved at the barn", corrected(joins(treated, "barn", waterDrawn("2026-07-08", "barn", "<1"), waterDrawn("2026-07-09", "barn", "<1"),
			waterDrawn("2026-07-10", "barn", "<1"), waterDrawn("2026-07-11", "barn", "<1"))), "wash", "2026-08-01", domain.Clear},
		{"put on a pond, treated", joins(domain.WaterTreatedSurface, "barn"), "wash", "2026-07-07", domain.Clear},
		{"the sample names no tap: it may be of town water", joins(ground, ""), "wash", "2026-07-03", domain.Ask},
		{"the sample names no tap: the well gave it, or the town", joins(ground, ""), "wash", "2026-07-07", domain.Stop},
		{"the sample names no tap, another one has the well", joins(ground, ""), "barn", "2026-07-07", domain.Stop},
		{"the sample was of town water", joins(ground, "wash"), "wash", "2026-07-03", domain.Stop},
		{"the town water failed, not the well", joins(treated, "wash"), "barn", "2026-07-03", domain.Ask},
	} {
		if got := domain.FitnessOfWater(c.facts, domain.UseWashing, c.tap, waterAt(c.at)); got.Verdict != c.want {
			t.Errorf("%s: %s, want %s\n%s", c.name, got.Verdict, c.want, waterSaid(got))
		}
	}
	if ws := domain.WaterFailureWindows(joins(ground, "barn"), domain.UseWashing); len(ws) != 1 || ws[0].Tap != "barn" {
		t.Errorf("the wash tap had other water, and has a window all the same: %+v", ws)
	}
}
