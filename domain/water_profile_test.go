package domain_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"croftmark/domain"
)

// waterEvery gives one sample every so many days, the newest last, with the results in turn.
func waterEvery(last string, days, n int, results ...string) (tests []domain.WaterTest) {
	for i := range n {
		at := waterAt(last).AddDate(0, 0, -days*(n-1-i))
		x := waterDrawn(at.Format("2006-01-02 15:04"), "", results[i%len(results)])
		x.ID = uuid.UUID{7, byte(i)}
		tests = append(tests, x)
	}
	return tests
}

// The newest 20 (surface) or 4 (ground) by the instant of sampling, within four years (us-rules 2.7: rolling [memory]).
func TestWaterRollingSet(t *testing.T) {
	t.Parallel()
	on := domain.NewDate(2026, 7, 1)
	tests := waterEvery("2026-06-30", 30, 25, "10")
	tests[0], tests[24] = tests[24], tests[0] // order of entry must not matter
	surface := domain.RollingSet(domain.WaterUntreatedSurface, tests, on, time.UTC)
	if len(surface) != 20 || !surface[0].SampledAt.Equal(waterAt("2026-06-30")) || surface[19].ID != (uuid.UUID{7, 5}) {
		t.Errorf("surface: %d samples from %v to %v", len(surface), surface[19].SampledAt, surface[0].SampledAt)
	}
	if ground := domain.RollingSet(domain.WaterUntreatedGround, tests, on, time.UTC); len(ground) != 4 || ground[3].ID != (uuid.UUID{7, 21}) {
		t.Errorf("ground: %v", ground)
	}
	edge := []domain.WaterTest{waterDrawn("2022-07-01", "", "10"), waterDrawn("2022-06-30", "", "10"), waterDrawn("2026-07-02", "", "10"), waterDrawn("2026-01-01", "", "pending")}
	presence := waterDrawn("2026-02-01", "", "1")
	presence.Result.Unit = "PA/100mL"
	if set := domain.RollingSet(domain.WaterUntreatedSurface, append(edge, presence), on, time.UTC); len(set) != 1 || set[0].ID != edge[0].ID {
		t.Errorf("four years to the day, no future, no pending, no presence: %v", set)
	}
}

func TestWaterIrrigationProfile(t *testing.T) {
	t.Parallel()
	on := domain.NewDate(2026, 7, 1)
	noVolume := waterEvery("2026-06-30", 40, 20, "10")
	noVolume[19].Result.Unit = "MPN"
	for _, c := range []struct {
		name  string
		kind  domain.WaterKind
		tests []domain.WaterTest
		want  domain.ProfileOutcome
		days  int
		said  string
	}{
		{"20 over two years", domain.WaterUntreatedSurface, waterEvery("2026-06-30", 40, 20, "10", "20"), domain.ProfileMeets, 0, "Both numbers are met"},
		{"at 126 itself", domain.WaterUntreatedSurface, waterEvery("2026-06-30", 40, 20, "126"), domain.ProfileMeets, 0, ""},
		{"126.4 is not rounded into compliance", domain.WaterUntreatedSurface, waterEvery("2026-06-30", 40, 20, "126.4"), domain.ProfileFails, 1, "harvest: 1."},
		{"threshold alone fails", domain.WaterUntreatedSurface, waterEvery("2026-06-30", 40, 20, "4", "9", "12", "18", "23", "31", "40", "47", "55", "68", "75", "90", "104", "130", "155", "190", "240", "330", "520", "1100"), domain.ProfileFails, 1, ""},
		{"19 samples", domain.WaterUntreatedSurface, waterEvery("2026-06-30", 45, 19, "10"), domain.ProfileUnknown, 0, "not enough"},
		{"20 within one year", domain.WaterUntreatedSurface, waterEvery("2026-06-30", 15, 20, "10"), domain.ProfileUnknown, 0, "not enough"},
		{"one above the range", domain.WaterUntreatedSurface, waterEvery("2026-06-30", 40, 20, "1", "1", "1", "1", "1", "1", "1", "1", "1", "1", "1", "1", "1", "1", "1", "1", "1", "1", "1", ">2419.6"), domain.ProfileUnknown, 0, "at least"},
		{"one without a volume", domain.WaterUntreatedSurface, noVolume, domain.ProfileUnknown, 0, "without a volume"},
		{"few, but over", domain.WaterUntreatedSurface, waterEvery("2026-06-30", 40, 3, "5000"), domain.ProfileFails, 4, "harvest: 4."},
		{"waiting is not enough", domain.WaterUntreatedSurface, waterEvery("2026-06-30", 40, 20, "12700"), domain.ProfileFails, 5, "waiting is not enough"},
		{"four of a well", domain.WaterUntreatedGround, waterEvery("2026-06-30", 40, 4, "1", "3", "8", "12"), domain.ProfileMeets, 0, ""},
		{"three of a well", domain.WaterUntreatedGround, waterEvery("2026-06-30", 40, 3, "1", "3", "8"), domain.ProfileUnknown, 0, ""},
		{"nothing", domain.WaterUntreatedSurface, nil, domain.ProfileUnknown, 0, ""},
	} {
		got, err := domain.IrrigationProfileOf(c.kind, c.tests, on, time.UTC)
		if err != nil {
			t.Fatal(err)
		}
		if got.Outcome != c.want || got.DieOff.Days != c.days || !strings.Contains(fmt.Sprint(got.Reasons), c.said) {
			t.Errorf("%s: %s, %d days, %v; want %s, %d, %q", c.name, got.Outcome, got.DieOff.Days, got.Reasons, c.want, c.days, c.said)
		}
		for _, r := range got.Reasons {
			if r.Authority != domain.Buyer || r.Verdict.Refuses() || (r.Verdict == domain.Clear) != (c.want == domain.ProfileMeets) {
				t.Errorf("%s: %s by %s; the old numbers are the buyer's and warn", c.name, r.Verdict, r.Authority)
			}
		}
	}
}

// The buyer's numbers are judged only where a buyer asks for them, and never as law.
func TestWaterBuyerProfileIsAdopted(t *testing.T) {
	t.Parallel()
	f := domain.WaterFacts{Source: domain.WaterSource{Is: domain.WaterUntreatedSurface}, Tests: waterEvery("2026-06-30", 40, 20, "500"),
		Assessments: []domain.WaterAssessment{{MadeOn: domain.NewDate(2026, 3, 1), Outcome: "adequate"}}}
	at := waterAt("2026-07-01")
	if got := domain.FitnessOfWater(f, domain.UseIrrigationTouching, "", at); got.Verdict != domain.Clear {
		t.Errorf("without a buyer: %s", waterSaid(got))
	}
	f.BuyerProfile = true
	got := domain.FitnessOfWater(f, domain.UseIrrigationTouching, "", at)
	if got.Verdict != domain.Caution || !strings.Contains(waterSaid(got), "caution buyer buyer.irrigation-water-geometric-mean") {
		t.Errorf("with a buyer: %s", waterSaid(got))
	}
	if got := domain.FitnessOfWater(f, domain.UseIrrigationNotTouching, "", at); got.Verdict != domain.Clear {
		t.Errorf("water that touches nothing: %s", waterSaid(got))
	}
	if got := domain.FitnessOfWater(f, domain.UseIrrigationTouching, "pump 2", at); !strings.Contains(waterSaid(got), "of 0 samples") {
		t.Errorf("samples without a tap speak for pump 2: %s", waterSaid(got))
	}
	for i := range f.Tests {
		f.Tests[i].Tap = "pump 2"
	}
	if got := domain.FitnessOfWater(f, domain.UseIrrigationTouching, "", at); !strings.Contains(waterSaid(got), "500.0 of 20 samples") {
		t.Errorf("the whole pond is all its samples: %s", waterSaid(got))
	}
}
