package domain_test

import (
	"fmt"
	"slices"
	"testing"

	"croftmark/domain"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// drawnHeap is a heap with up to 24 dates of readings around the limits, some missing, and some turnings. Whole days of
// heat are likely, so that many heaps come out met.
func drawnHeap(t *rapid.T, method domain.CompostMethod) domain.CompostFacts {
	b := heap(method)
	b.Points = []domain.PointPlan{{Count: rapid.IntRange(1, 3).Draw(t, "points")}}
	// rapid prefers the front of a list, so the readings that spoil a date stand at its end.
	value := rapid.SampledFrom(append(slices.Repeat([]string{"131", "140", "150", "169", "170"}, 20), "130.9", "170.1", ""))
	dates := rapid.IntRange(1, 24).Draw(t, "dates")
	if rapid.Bool().Draw(t, "a long heat") {
		dates = 24
	}
	for n := 1; n <= dates; n++ {
		var round []string
		for i := range 3 {
			round = append(round, value.Draw(t, fmt.Sprintf("reading %d %d", n, i)))
		}
		reads(&b, n, "degF", round...)
	}
	for range rapid.IntRange(0, 14).Draw(t, "turnings") {
		turns(&b, rapid.IntRange(0, 25).Draw(t, "turned"))
	}
	return b
}

func met(b domain.CompostFacts) map[string]bool {
	out := map[string]bool{}
	for _, r := range domain.CheckCompost(b, domain.Date{}) {
		out[r.Set] = r.Outcome == domain.ProcessMet
	}
	return out
}

var methods = rapid.SampledFrom([]domain.CompostMethod{domain.InVessel, domain.AeratedStaticPile, domain.TurnedWindrow})

// Taking away a reading that is in range never makes a heap count. (A reading out of range spoils its date, so taking
// that one away may well help: that is why a void needs a reason, two persons and a replacement.)
func TestCompostPropertyFewerReadingsNeverHelp(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		b := drawnHeap(t, methods.Draw(t, "method"))
		if len(b.Readings) == 0 {
			return
		}
		before := met(b)
		i := rapid.IntRange(0, len(b.Readings)-1).Draw(t, "taken away")
		gone := b.Readings[i].Temperature.Value
		if gone.LessThan(dec("131")) || gone.GreaterThan(dec("170")) {
			return
		}
		b.Readings = slices.Delete(slices.Clone(b.Readings), i, i+1)
		// A pile whose static days fall away becomes a windrow at its first turning; it must not come out better.
		for set, now := range met(b) {
			if now && !before[set] {
				t.Fatalf("%s: met without reading %d, not met with it", set, i)
			}
		}
	})
}

// One more turning never makes a windrow or a vessel fail. (A static pile that is turned before it is done becomes a
// windrow by convention, so it is not among them.)
func TestCompostPropertyMoreTurningsNeverHurt(t *testing.T) {
	t.Parallel()
	method := rapid.SampledFrom([]domain.CompostMethod{domain.InVessel, domain.TurnedWindrow})
	rapid.Check(t, func(t *rapid.T) {
		b := drawnHeap(t, method.Draw(t, "method"))
		if rapid.Bool().Draw(t, "spaced") {
			b.Certifier = []domain.CertifierSettings{{DaysBetweenTurnings: 2}}
		}
		before := met(b)
		turns(&b, rapid.IntRange(0, 25).Draw(t, "one more"))
		for set, now := range met(b) {
			if before[set] && !now {
				t.Fatalf("%s: met before, not with one more turning", set)
			}
		}
	})
}

func TestCompostPropertyOrderDoesNotMatter(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		b := drawnHeap(t, methods.Draw(t, "method"))
		for range rapid.IntRange(0, 2).Draw(t, "additions") {
			b.Additions = append(b.Additions, added(rapid.IntRange(1, 24).Draw(t, "added"), 12, "oat straw"))
		}
		shuffled := b
		shuffled.Readings = rapid.Permutation(b.Readings).Draw(t, "readings")
		shuffled.Turnings = rapid.Permutation(b.Turnings).Draw(t, "turnings")
		shuffled.Additions = rapid.Permutation(b.Additions).Draw(t, "additions")
		one, two := domain.CheckCompost(b, domain.Date{}), domain.CheckCompost(shuffled, domain.Date{})
		for i := range one {
			if diff := cmp.Diff(view(one[i]), view(two[i])); diff != "" {
				t.Fatal(diff)
			}
		}
		sameDate := cmp.Comparer(func(a, b domain.Date) bool { return a == b })
		if diff := cmp.Diff(b.StandingOn(nth(30)), shuffled.StandingOn(nth(30)), sameDate); diff != "" {
			t.Fatal(diff)
		}
	})
}

// view is the result as people see it.
func view(r domain.ProcessResult) []string {
	out := []string{r.Set, string(r.Outcome), r.MetOn.String(), r.TimeMetOn.String(), fmt.Sprint(r.CountedDays, r.TurningsCounted, r.ElapsedHours, r.AskCertifier, r.Release)}
	out = append(out, r.Reasons...)
	for _, d := range r.Days {
		out = append(out, fmt.Sprint(d.Date, d.Lowest, d.Highest, d.PointsRead, d.PointsRequired, d.Qualifies, d.Why))
	}
	for _, x := range r.Turnings {
		out = append(out, fmt.Sprint(x.Date, x.Counted, x.Why))
	}
	return out
}

// The drawn heaps must reach both outcomes, or the properties above say nothing.
func TestCompostPropertyHeapsReachBothOutcomes(t *testing.T) {
	t.Parallel()
	for _, method := range []domain.CompostMethod{domain.InVessel, domain.AeratedStaticPile, domain.TurnedWindrow} {
		heaps := rapid.Custom(func(t *rapid.T) domain.CompostFacts { return drawnHeap(t, method) })
		seen := map[string]int{}
		for seed := range 300 {
			for set, m := range met(heaps.Example(seed)) {
				seen[fmt.Sprint(set, " ", m)]++
			}
		}
		for _, set := range domain.CompostSets {
			if seen[set+" true"] < 10 || seen[set+" false"] < 10 {
				t.Errorf("%s %s: %v", method, set, seen)
			}
		}
	}
}
