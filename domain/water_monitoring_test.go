package domain_test

import (
	"slices"
	"testing"
	"time"

	"github.com/google/uuid"
	"pgregory.net/rapid"

	"croftmark/domain"
)

// look is a reading of 6 July at a tap and in a tank.
func look(at, tap, tank string, inRange bool) domain.WaterMonitoring {
	return domain.WaterMonitoring{ID: uuid.NewSHA1(uuid.Nil, []byte(at+tap+tank)), Tap: tap, Tank: tank, At: waterAt("2026-07-06 " + at), InRange: &inRange}
}

// Every tank has its readings, and one out of range holds what was washed in it since the last good one (21 CFR 112.46(c);
// calculations 4.4; record-forms 1.17: below the target stop, correct, check again). A good one elsewhere says nothing.
func TestWaterMonitoringByTapAndTank(t *testing.T) {
	t.Parallel()
	type looks = []domain.WaterMonitoring
	for _, c := range []struct {
		name      string
		looks     looks
		tap, tank string
		want      domain.Verdict
	}{
		{"no tank is ever named", looks{look("08:00", "", "", true)}, "", "", domain.Clear},
		{"no tank is ever named: good after bad", looks{look("08:00", "", "", false), look("08:05", "", "", true)}, "", "", domain.Clear},
		{"the use names its tank and no look does", looks{look("08:00", "", "", true)}, "", "A", domain.Clear},
		{"a look names its tank and the use does not", looks{look("08:00", "", "A", true)}, "", "", domain.Clear},
		{"tank A bad, tank B good, washed in A", looks{look("08:00", "", "A", false), look("08:01", "", "B", true)}, "", "A", domain.Stop},
		{"tank A bad, tank B good, washed in B", looks{look("08:00", "", "A", false), look("08:01", "", "B", true)}, "", "b ", domain.Clear},
		{"tank A bad, tank B good, washed in nobody knows which", looks{look("08:00", "", "A", false), look("08:01", "", "B", true)}, "", "", domain.Stop},
		{"tank A bad, then good", looks{look("08:00", "", "A", false), look("08:01", "", "B", true), look("08:30", "", "a", true)}, "", "", domain.Clear},
		{"tank A bad and good at one instant", looks{look("08:00", "", "A", true), look("08:00", "", "A", false)}, "", "A", domain.Stop},
		{"only tank B was looked at", looks{look("08:00", "", "B", true)}, "", "A", domain.Ask},
		{"tank A found bad later, tank B good before that", looks{look("08:00", "", "A", true), look("09:10", "", "B", true), look("09:20", "", "A", false)}, "", "A", domain.Stop},
		{"tank A good, and only then bad", looks{look("08:00", "", "A", true), look("09:10", "", "A", true), look("09:20", "", "A", false)}, "", "A", domain.Clear},
		{"a bad look at no tank in particular, then a good one of this tank", looks{look("08:00", "", "", false), look("08:05", "", "A", true)}, "", "A", domain.Clear},
		{"a bad look at no tank in particular, then a good one of some tank", looks{look("08:00", "", "", false), look("08:05", "", "A", true)}, "", "", domain.Stop},
		{"bad at this tap, good at none in particular", looks{look("08:00", "Wash", "", false), look("08:05", "", "", true)}, "wash", "", domain.Stop},
		{"bad at this tap, good at another", looks{look("08:00", "wash", "", false), look("08:05", "ice", "", true)}, "wash", "", domain.Stop},
		{"bad at none in particular, good at this tap", looks{look("08:00", "", "", false), look("08:05", "wash", "", true)}, "wash", "", domain.Clear},
		{"bad at another tap", looks{look("08:00", "ice", "", false), look("08:05", "wash", "", true)}, "wash", "", domain.Clear},
		{"bad at this tap, good in its other tank", looks{look("08:00", "wash", "A", false), look("08:05", "wash", "B", true)}, "wash", "A", domain.Stop},
	} {
		f := domain.WaterFacts{Source: domain.WaterSource{Is: domain.WaterTreatedSurface}, Size: domain.FarmLarge, Monitoring: c.looks}
		at := waterAt("2026-07-06 09:00")
		if got := f.FitnessDuring(domain.WaterTouch{Use: domain.UseWashing, Tap: c.tap, Tank: c.tank, From: at, To: at}); got.Verdict != c.want {
			t.Errorf("%s: %s, want %s: %+v", c.name, got.Verdict, c.want, got.Reasons)
		}
	}
}

// A bad look more never makes a use fit that was not, and a good one of another tank never either.
func TestWaterMonitoringOfAnotherTankNeverHelps(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(rt *rapid.T) {
		place := rapid.SampledFrom([]string{"", "a", "b"})
		when := func(label string) string {
			return waterAt("2026-07-06").Add(time.Duration(rapid.IntRange(-180, 180).Draw(rt, label)) * time.Minute).Format("15:04")
		}
		f := domain.WaterFacts{Source: domain.WaterSource{Is: domain.WaterTreatedGround}, Size: domain.FarmLarge}
		for range rapid.IntRange(0, 8).Draw(rt, "looks") {
			f.Monitoring = append(f.Monitoring, look(when("at"), place.Draw(rt, "tap"), place.Draw(rt, "tank"), rapid.Bool().Draw(rt, "good")))
		}
		use := domain.WaterTouch{Use: domain.UseWashing, Tap: place.Draw(rt, "used tap"), Tank: rapid.SampledFrom([]string{"a", "b"}).Draw(rt, "used tank"), From: waterAt("2026-07-06")}
		use.To = use.From
		before := f.FitnessDuring(use)
		for _, news := range []domain.WaterMonitoring{look(when("bad"), place.Draw(rt, "bad tap"), place.Draw(rt, "bad tank"), false), look(when("elsewhere"), place.Draw(rt, "other tap"), "c", true)} {
			g := f
			g.Monitoring = append(slices.Clone(f.Monitoring), news)
			if after := g.FitnessDuring(use); before.Verdict.Refuses() && !after.Verdict.Refuses() {
				rt.Fatalf("%s became %s by %+v", before.Verdict, after.Verdict, news)
			}
		}
	})
}
