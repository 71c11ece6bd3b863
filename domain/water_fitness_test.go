package domain_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
	"github.com/shopspring/decimal"
	"pgregory.net/rapid"

	"croftmark/domain"
)

// waterAt reads "2026-07-06" (nine in the morning) or "2026-07-06 14:30" in UTC.
func waterAt(s string) time.Time {
	if len(s) == len("2026-07-06") {
		s += " 09:00"
	}
	t, err := time.Parse("2006-01-02 15:04", s)
	if err != nil {
		panic(err)
	}
	return t
}

// waterDrawn is an E. coli sample: "<1", "12", "<10" per 100 mL, or "pending". Its id is made from when, where and what.
func waterDrawn(at, tap, result string) domain.WaterTest {
	x := domain.WaterTest{ID: uuid.NewSHA1(uuid.Nil, []byte(at+tap+result)), Tap: tap, SampledAt: waterAt(at), Analyte: "generic E. coli", Method: "EPA 1603"}
	if result != "pending" {
		bare := strings.TrimLeft(result, "<>")
		x.Result = &domain.WaterResult{Qualifier: strings.TrimSuffix(result, bare), Value: decimal.RequireFromString(bare), Unit: "MPN/100mL"}
	}
	return x
}

func waterDrawnOn(result string, days ...string) (tests []domain.WaterTest) {
	for _, d := range days {
		tests = append(tests, waterDrawn(d, "", result))
	}
	return tests
}

// goodWell is untreated ground water with four good tests in the first year, the newest on 2026-06-01.
func goodWell() domain.WaterFacts {
	return domain.WaterFacts{Source: domain.WaterSource{Name: "Well", Is: domain.WaterUntreatedGround}, Size: domain.FarmLarge,
		Tests: waterDrawnOn("<1", "2026-03-01", "2026-04-01", "2026-05-01", "2026-06-01")}
}

func waterFix(at, tap string) domain.WaterAction {
	return domain.WaterAction{ID: uuid.NewSHA1(uuid.Nil, []byte("fix"+at+tap)), Corrective: true, At: waterAt(at), Tap: tap}
}

func waterStop(at, tap string) domain.WaterAction {
	return domain.WaterAction{ID: uuid.NewSHA1(uuid.Nil, []byte("stop"+at+tap)), At: waterAt(at), Tap: tap}
}

func waterSaid(f domain.WaterFitness) string {
	var b strings.Builder
	for _, r := range f.Reasons {
		fmt.Fprintf(&b, "%s %s %s: %s\n", r.Verdict, r.Authority, r.Rule, r.Text)
	}
	return b.String()
}

func TestWaterFitness(t *testing.T) {
	t.Parallel()
	kind := func(k domain.WaterKind) domain.WaterFacts {
		return domain.WaterFacts{Source: domain.WaterSource{Is: k}, Size: domain.FarmLarge}
	}
	with := func(f domain.WaterFacts, change func(*domain.WaterFacts)) domain.WaterFacts { change(&f); return f }
	more := func(f domain.WaterFacts, tests ...domain.WaterTest) domain.WaterFacts {
		f.Tests = append(slices.Clone(f.Tests), tests...)
		return f
	}
	yes, no := true, false
	const law = "us-produce-safety."
	for _, c := range []struct {
		name  string
		facts domain.WaterFacts
		use   domain.WaterUse
		at    string
		want  domain.Verdict
		rule  string // a rule that must have said it
		words string
	}{
		{"well, four good tests", goodWell(), domain.UseWashing, "2026-07-01", domain.Clear, law + "ground-water-yearly-test", "four tests are on file"},
		{"well, never tested", kind(domain.WaterUntreatedGround), domain.UseHands, "2026-07-01", domain.Ask, law + "ground-water-four-tests", "Draw one"},
		{"well, two of four", with(goodWell(), func(f *domain.WaterFacts) { f.Tests = f.Tests[:2] }), domain.UseIce, "2026-07-01", domain.Caution, law + "ground-water-four-tests", "2 of 4"},
		{"well, first year over with three", with(goodWell(), func(f *domain.WaterFacts) { f.Tests = f.Tests[:3] }), domain.UseIce, "2027-03-02", domain.Ask, law + "ground-water-four-tests", "first year is over"},
		{"four bottles of one day are one test", with(goodWell(), func(f *domain.WaterFacts) {
			f.Tests = []domain.WaterTest{waterDrawn("2026-06-01 08:00", "", "<1"), waterDrawn("2026-06-01 09:00", "", "<1"), waterDrawn("2026-06-01 10:00", "", "<1"), waterDrawn("2026-06-01 11:00", "", "<1")}
		}), domain.UseWashing, "2026-07-01", domain.Caution, law + "ground-water-four-tests", "1 of 4"},
		{"well, last day of the year", goodWell(), domain.UseWashing, "2027-06-01", domain.Clear, law + "ground-water-yearly-test", ""},
		{"well, yearly test missed", goodWell(), domain.UseWashing, "2027-06-02", domain.Ask, law + "ground-water-yearly-test", "was due on 2027-06-01"},
		{"before the first sample", goodWell(), domain.UseWashing, "2026-02-01", domain.Ask, law + "ground-water-four-tests", ""},
		{"E. coli in the well", more(goodWell(), waterDrawn("2026-07-01", "", "1.0")), domain.UseWashing, "2026-07-02", domain.Stop, law + "no-e-coli-harvest-water", "E. coli was found"},
		{"condemned since the last good sample", more(goodWell(), waterDrawn("2026-07-01", "", "3")), domain.UseCooling, "2026-06-02", domain.Stop, law + "no-e-coli-harvest-water", ""},
		{"not condemned at the last good sample", more(goodWell(), waterDrawn("2026-07-01", "", "3")), domain.UseCooling, "2026-06-01", domain.Clear, law + "ground-water-yearly-test", ""},
		{"<1.0 is good", more(goodWell(), waterDrawn("2026-07-01", "", "<1.0")), domain.UseWashing, "2026-07-02", domain.Clear, "", ""},
		{"diluted <10 cannot tell", more(goodWell(), waterDrawn("2026-07-01", "", "<10")), domain.UseWashing, "2026-07-02", domain.Ask, law + "no-e-coli-harvest-water", "cannot show"},
		{"diluted, then a good one", more(goodWell(), waterDrawn("2026-07-01", "", "<10"), waterDrawn("2026-07-02", "", "<1")), domain.UseWashing, "2026-07-03", domain.Clear, "", ""},
		{"pending (S2)", more(goodWell(), waterDrawn("2026-07-06", "", "pending")), domain.UseWashing, "2026-07-07", domain.Ask, law + "no-e-coli-harvest-water", "Pending is not a pass"},
		{"other analytes say nothing", with(goodWell(), func(f *domain.WaterFacts) { f.Tests[0].Analyte, f.Tests[1].Analyte = "nitrate", "total coliform" }), domain.UseWashing, "2026-07-01", domain.Caution, "", "2 of 4"},
		{"unlisted method", with(goodWell(), func(f *domain.WaterFacts) { f.Tests[3].Method = "dip stick" }), domain.UseWashing, "2026-07-01", domain.Caution, law + "water-test-method", "dip stick"},
		{"held ten hours", with(goodWell(), func(f *domain.WaterFacts) { f.Tests[3].StartedAt = waterAt("2026-06-01 19:00") }), domain.UseWashing, "2026-07-01", domain.Caution, "guidance.water-sample-holding", "10.0 hours"},
		{"other uses by their own rule (S40): drip", more(goodWell(), waterDrawn("2026-07-01", "", "50")), domain.UseIrrigationNotTouching, "2026-07-02", domain.Clear, "", ""},
		{"the same well on the crop", more(goodWell(), waterDrawn("2026-07-01", "", "50")), domain.UseIrrigationTouching, "2026-07-02", domain.Ask, law + "water-assessment", ""},
		{"a well fit for washing on the crop", goodWell(), domain.UseIrrigationTouching, "2026-07-02", domain.Clear, law + "water-assessment", ""},

		{"pond at harvest", kind(domain.WaterUntreatedSurface), domain.UseHarvest, "2026-07-01", domain.Stop, law + "no-untreated-surface-harvest-water", "never"},
		{"pond at harvest with good tests", with(goodWell(), func(f *domain.WaterFacts) { f.Source.Is = domain.WaterUntreatedSurface }), domain.UseCleaning, "2026-07-01", domain.Stop, law + "no-untreated-surface-harvest-water", ""},
		{"pond on the crop, not assessed", kind(domain.WaterUntreatedSurface), domain.UseIrrigationTouching, "2026-07-01", domain.Ask, law + "water-assessment", ""},
		{"pond under the crop", kind(domain.WaterUntreatedSurface), domain.UseIrrigationNotTouching, "2026-07-01", domain.Clear, "", ""},
		{"pond assessed", with(kind(domain.WaterUntreatedSurface), func(f *domain.WaterFacts) {
			f.Assessments = []domain.WaterAssessment{{MadeOn: domain.NewDate(2026, 3, 1), Outcome: "adequate"}}
		}), domain.UseIrrigationTouching, "2027-03-01", domain.Clear, law + "water-assessment", "Assessed"},
		{"pond assessed over a year ago", with(kind(domain.WaterUntreatedSurface), func(f *domain.WaterFacts) {
			f.Assessments = []domain.WaterAssessment{{MadeOn: domain.NewDate(2026, 3, 1), Outcome: "adequate"}}
		}), domain.UseIrrigationTouching, "2027-03-02", domain.Ask, law + "water-assessment", ""},
		{"pond found not adequate", with(kind(domain.WaterUntreatedSurface), func(f *domain.WaterFacts) {
			f.Assessments = []domain.WaterAssessment{{MadeOn: domain.NewDate(2026, 3, 1), Outcome: "adequate"}, {MadeOn: domain.NewDate(2026, 6, 1), Outcome: "not-adequate"}}
		}), domain.UseIrrigationTouching, "2026-07-01", domain.Stop, law + "water-assessment", ""},

		{"town water without paper", kind(domain.WaterPublicSupply), domain.UseWashing, "2026-07-01", domain.Ask, law + "public-supply-certificate", ""},
		{"town water with paper", with(kind(domain.WaterPublicSupply), func(f *domain.WaterFacts) {
			f.Certificates = []domain.WaterCertificate{{IssuedOn: domain.NewDate(2026, 1, 10)}}
		}), domain.UseWashing, "2027-01-10", domain.Clear, law + "public-supply-certificate", ""},
		{"town water, paper a day too old", with(kind(domain.WaterPublicSupply), func(f *domain.WaterFacts) {
			f.Certificates = []domain.WaterCertificate{{IssuedOn: domain.NewDate(2026, 1, 10)}}
		}), domain.UseWashing, "2027-01-11", domain.Ask, law + "public-supply-certificate", ""},
		{"town water, paper of tomorrow", with(kind(domain.WaterPublicSupply), func(f *domain.WaterFacts) {
			f.Certificates = []domain.WaterCertificate{{IssuedOn: domain.NewDate(2026, 7, 2)}}
		}), domain.UseWashing, "2026-07-01", domain.Ask, law + "public-supply-certificate", ""},

		{"treated, in range today", with(kind(domain.WaterTreatedSurface), func(f *domain.WaterFacts) {
			f.Monitoring = []domain.WaterMonitoring{{At: waterAt("2026-07-01 07:00"), InRange: &yes}}
		}), domain.UseWashing, "2026-07-01", domain.Clear, law + "water-treatment-monitoring", ""},
		{"treated, read yesterday only", with(kind(domain.WaterTreatedGround), func(f *domain.WaterFacts) {
			f.Monitoring = []domain.WaterMonitoring{{At: waterAt("2026-06-30 07:00"), InRange: &yes}}
		}), domain.UseWashing, "2026-07-01", domain.Ask, law + "water-treatment-monitoring", ""},
		{"treated, read yesterday, farm says weekly", with(kind(domain.WaterTreatedGround), func(f *domain.WaterFacts) {
			f.Monitoring, f.MonitorEvery = []domain.WaterMonitoring{{At: waterAt("2026-06-30 07:00"), InRange: &yes}}, 7*24*time.Hour
		}), domain.UseWashing, "2026-07-01", domain.Clear, law + "water-treatment-monitoring", ""},
		{"treated, out of range", with(kind(domain.WaterTreatedGround), func(f *domain.WaterFacts) {
			f.Monitoring = []domain.WaterMonitoring{{At: waterAt("2026-07-01 07:00"), InRange: &yes}, {At: waterAt("2026-07-01 08:00"), InRange: &no}}
		}), domain.UseWashing, "2026-07-01", domain.Stop, law + "water-treatment-monitoring", ""},
		{"treated, found out of range later", with(kind(domain.WaterTreatedGround), func(f *domain.WaterFacts) {
			f.Monitoring = []domain.WaterMonitoring{{At: waterAt("2026-07-01 07:00"), InRange: &yes}, {At: waterAt("2026-07-01 12:00"), InRange: &no}}
		}), domain.UseWashing, "2026-07-01", domain.Stop, law + "water-treatment-monitoring", ""},
		{"treated, nobody said", with(kind(domain.WaterTreatedGround), func(f *domain.WaterFacts) {
			f.Monitoring = []domain.WaterMonitoring{{At: waterAt("2026-07-01 07:00")}}
		}), domain.UseWashing, "2026-07-01", domain.Ask, law + "water-treatment-monitoring", ""},
		{"treated, never read", kind(domain.WaterTreatedGround), domain.UseWashing, "2026-07-01", domain.Ask, law + "water-treatment-monitoring", ""},
		{"rain with good tests", with(goodWell(), func(f *domain.WaterFacts) { f.Source.Is = domain.WaterRain }), domain.UseWashing, "2026-07-01", domain.Ask, law + "no-e-coli-harvest-water", "rain"},
		{"kind not known", kind(""), domain.UseWashing, "2026-07-01", domain.Ask, "", "kind of water"},

		{"stopped by the farm", with(goodWell(), func(f *domain.WaterFacts) { f.Actions = []domain.WaterAction{waterStop("2026-06-20", "")} }), domain.UseWashing, "2026-07-01", domain.Stop, law + "unsafe-water-stop", "2026-06-20"},
		{"stopped for ice only", with(goodWell(), func(f *domain.WaterFacts) {
			f.Actions = []domain.WaterAction{{At: waterAt("2026-06-20"), Uses: []domain.WaterUse{domain.UseIce}}}
		}), domain.UseWashing, "2026-07-01", domain.Clear, "", ""},
		{"stopped, then corrected", with(goodWell(), func(f *domain.WaterFacts) {
			f.Actions = []domain.WaterAction{waterStop("2026-06-20", ""), waterFix("2026-06-25", "")}
		}), domain.UseWashing, "2026-07-01", domain.Clear, "", ""},
		{"corrected, then stopped", with(goodWell(), func(f *domain.WaterFacts) {
			f.Actions = []domain.WaterAction{waterFix("2026-06-19", ""), waterStop("2026-06-20", "")}
		}), domain.UseWashing, "2026-07-01", domain.Stop, "", ""},
		{"four tests, but not within a year", with(kind(domain.WaterUntreatedGround), func(f *domain.WaterFacts) {
			f.Tests = waterDrawnOn("<1", "2025-03-01", "2025-08-01", "2026-01-01", "2026-06-01")
		}), domain.UseWashing, "2026-07-01", domain.Ask, law + "ground-water-four-tests", "first year is over"},
		{"pending from before the switch to town water", with(more(kind(domain.WaterUntreatedGround), waterDrawn("2026-06-01", "", "pending")), func(f *domain.WaterFacts) {
			f.Changes = []domain.WaterSupplyChange{{At: waterAt("2026-06-10"), Is: domain.WaterPublicSupply}}
			f.Certificates = []domain.WaterCertificate{{IssuedOn: domain.NewDate(2026, 1, 10)}}
		}), domain.UseWashing, "2026-07-01", domain.Clear, law + "public-supply-certificate", ""},
		{"a correction that is still to come", with(more(goodWell(), waterDrawn("2026-07-01", "", "5")), func(f *domain.WaterFacts) {
			f.Actions = []domain.WaterAction{waterFix("2026-07-20", "")}
		}), domain.UseWashing, "2026-07-10", domain.Stop, law + "no-e-coli-harvest-water", "find the cause"},
		{"retests spread over more than a year", with(more(goodWell(), waterDrawnOn("<1", "2026-07-02", "2026-07-03", "2026-07-04", "2026-08-01", "2026-12-01", "2027-05-01", "2027-09-01")...), func(f *domain.WaterFacts) {
			f.Tests = append(f.Tests, waterDrawn("2026-07-01", "", "5"))
			f.Actions = []domain.WaterAction{waterFix("2026-07-10", "")}
		}), domain.UseWashing, "2027-09-10", domain.Ask, law + "ground-water-four-tests", "first year is over"},
		{"not in service yet", with(goodWell(), func(f *domain.WaterFacts) { f.Source.From = waterAt("2026-08-01") }), domain.UseWashing, "2026-07-01", domain.Ask, "", "not in service"},
		{"out of service", with(goodWell(), func(f *domain.WaterFacts) { f.Source.To = waterAt("2026-06-30") }), domain.UseWashing, "2026-07-01", domain.Ask, "", "not in service"},
	} {
		t.Run(c.name, func(t *testing.T) {
			got := domain.FitnessOfWater(c.facts, c.use, "", waterAt(c.at))
			if got.Verdict != c.want {
				t.Errorf("%s, want %s\n%s", got.Verdict, c.want, waterSaid(got))
			}
			found := slices.ContainsFunc(got.Reasons, func(r domain.Reason) bool {
				return (c.rule == "" || r.Rule == c.rule) && r.Verdict == c.want && strings.Contains(r.Text, c.words)
			})
			if !found && c.rule+c.words != "" {
				t.Errorf("no reason of %q says %s with %q\n%s", c.rule, c.want, c.words, waterSaid(got))
			}
			for _, r := range got.Reasons {
				if r.Text == "" || r.TextEs == "" || r.Citation == "" || r.Authority == "" || strings.Contains(r.Text+r.TextEs, "%!") {
					t.Errorf("a reason says too little or badly: %+v", r)
				}
			}
		})
	}
}

// One good sample never clears a failure (record-forms S40): the corrective record and four good samples on four days do.
func TestWaterFitAgain(t *testing.T) {
	t.Parallel()
	f := goodWell()
	failing := waterDrawn("2026-07-01", "", "12")
	failing.ReportedAt = waterAt("2026-07-06")
	f.Tests = append(f.Tests, failing)
	verdict := func(at string) domain.Verdict {
		return domain.FitnessOfWater(f, domain.UseWashing, "", waterAt(at)).Verdict
	}
	retest := func(at, result string) { f.Tests = append(f.Tests, waterDrawn(at, "", result)) }

	retest("2026-07-07", "<1")
	if got := verdict("2026-07-30"); got != domain.Stop {
		t.Fatalf("one good sample without a corrective record: %s", got)
	}
	f.Actions = []domain.WaterAction{waterFix("2026-07-03", "")}
	for _, day := range []string{"2026-07-08", "2026-07-09", "2026-07-10", "2026-07-11"} {
		retest(day, "<1")
	}
	if got := verdict("2026-07-30"); got != domain.Stop {
		t.Fatalf("corrected before anybody knew of the failure: %s", got)
	}
	f.Actions = append(f.Actions, waterFix("2026-07-12", ""))
	if got := verdict("2026-07-30"); got != domain.Stop {
		t.Fatalf("good samples from before the correction: %s", got)
	}
	for _, at := range []string{"2026-07-13 08:00", "2026-07-13 16:00", "2026-07-14", "2026-07-15"} {
		retest(at, "<1")
	}
	if got := domain.FitnessOfWater(f, domain.UseWashing, "", waterAt("2026-07-30")); got.Verdict != domain.Stop || !strings.Contains(waterSaid(got), "3 of 4") {
		t.Fatalf("three days of good samples: %s", waterSaid(got))
	}
	retest("2026-07-16", "pending")
	if got := verdict("2026-07-30"); got != domain.Stop {
		t.Fatalf("the fourth is pending: %s", got)
	}
	f.Tests = f.Tests[:len(f.Tests)-1]
	retest("2026-07-16", "<1")
	if got := domain.FitnessOfWater(f, domain.UseWashing, "", waterAt("2026-07-30")); got.Verdict != domain.Clear {
		t.Fatalf("corrected and four good samples: %s", waterSaid(got))
	}
	if got := verdict("2026-07-15 12:00"); got != domain.Stop {
		t.Fatalf("before the fourth good sample: %s", got)
	}
	retest("2026-07-20", "2")
	if got := verdict("2026-07-30"); got != domain.Stop {
		t.Fatalf("failed again: %s", got)
	}
}

// Treated water proves the correction with one good sample; treating a failed well is the other way of 112.45(a).
func TestWaterFitAgainByTreatment(t *testing.T) {
	t.Parallel()
	yes := true
	f := goodWell()
	f.Tests = append(f.Tests, waterDrawn("2026-07-01", "", "12"))
	f.Actions = []domain.WaterAction{waterFix("2026-07-10", "")}
	f.Changes = []domain.WaterSupplyChange{{At: waterAt("2026-07-10"), Is: domain.WaterTreatedGround}}
	f.Monitoring = []domain.WaterMonitoring{{At: waterAt("2026-07-20 07:00"), InRange: &yes}}
	if got := domain.FitnessOfWater(f, domain.UseWashing, "", waterAt("2026-07-20")); got.Verdict != domain.Stop {
		t.Errorf("treated but not proved: %s", waterSaid(got))
	}
	f.Tests = append(f.Tests, waterDrawn("2026-07-11", "", "<1"))
	if got := domain.FitnessOfWater(f, domain.UseWashing, "", waterAt("2026-07-20")); got.Verdict != domain.Clear {
		t.Errorf("treated and proved: %s", waterSaid(got))
	}
}

// A sample at the yard hydrant does not cover the wash tap (record-forms S42), but what it finds stops the source.
func TestWaterFitnessByTap(t *testing.T) {
	t.Parallel()
	f := goodWell()
	for i := range f.Tests {
		f.Tests[i].Tap = "Yard  hydrant"
	}
	for _, tap := range []string{"wash tap", ""} {
		if got := domain.FitnessOfWater(f, domain.UseWashing, tap, waterAt("2026-07-01")); got.Verdict != domain.Ask || !strings.Contains(waterSaid(got), "yard hydrant") {
			t.Errorf("%q covered by the hydrant: %s", tap, waterSaid(got))
		}
	}
	if got := domain.FitnessOfWater(f, domain.UseWashing, "yard hydrant", waterAt("2026-07-01")); got.Verdict != domain.Clear {
		t.Errorf("the hydrant itself: %s", waterSaid(got))
	}
	f.Source.Points = []domain.WaterPoint{{Use: domain.UseWashing, Tap: "yard hydrant"}, {Use: domain.UseIce, Tap: "ice machine"}, {Use: domain.UseIce, Tap: "yard hydrant"}}
	f.Source.Uses = []domain.WaterUse{domain.UseWashing, domain.UseIce}
	all := domain.AllWaterFitness(f, waterAt("2026-07-01"))
	if len(all) != 2 || all[0].Verdict != domain.Clear || all[1].Verdict != domain.Ask {
		t.Errorf("the strictest tap of each use decides: %s", waterSaid(all[0])+waterSaid(all[1]))
	}
	f.Tests = append(f.Tests, waterDrawn("2026-06-15", "barn", "4"))
	if got := domain.FitnessOfWater(f, domain.UseWashing, "", waterAt("2026-07-01")); got.Verdict != domain.Stop {
		t.Errorf("E. coli at the barn stops the source: %s", waterSaid(got))
	}
}

// Stops, corrections and good treatment readings belong to their tap, or to every tap when they name none.
func TestWaterActionsByTap(t *testing.T) {
	t.Parallel()
	yes := true
	town := domain.WaterFacts{Source: domain.WaterSource{Is: domain.WaterPublicSupply}, Certificates: []domain.WaterCertificate{{IssuedOn: domain.NewDate(2026, 1, 1)}}}
	treated := domain.WaterFacts{Source: domain.WaterSource{Is: domain.WaterTreatedGround}}
	for _, c := range []struct {
		name    string
		facts   domain.WaterFacts
		actions []domain.WaterAction
		reading string // tap of a good reading of this morning
		want    domain.Verdict
	}{
		{"another tap stopped", town, []domain.WaterAction{waterStop("2026-06-20", "hydrant")}, "", domain.Clear},
		{"this tap stopped", town, []domain.WaterAction{waterStop("2026-06-20", "Wash")}, "", domain.Stop},
		{"whole source stopped", town, []domain.WaterAction{waterStop("2026-06-20", "")}, "", domain.Stop},
		{"whole source stopped, another tap corrected", town, []domain.WaterAction{waterStop("2026-06-20", ""), waterFix("2026-06-21", "hydrant")}, "", domain.Stop},
		{"whole source stopped, this tap corrected", town, []domain.WaterAction{waterStop("2026-06-20", ""), waterFix("2026-06-21", "wash")}, "", domain.Clear},
		{"treatment read at this tap", treated, nil, "wash", domain.Clear},
		{"treatment read at no tap in particular", treated, nil, "", domain.Clear},
		{"treatment read at another tap", treated, nil, "hydrant", domain.Ask},
	} {
		f := c.facts
		f.Actions = c.actions
		f.Monitoring = []domain.WaterMonitoring{{At: waterAt("2026-07-01 07:00"), Tap: c.reading, InRange: &yes}}
		if got := domain.FitnessOfWater(f, domain.UseWashing, "wash", waterAt("2026-07-01")); got.Verdict != c.want {
			t.Errorf("%s: %s, want %s\n%s", c.name, got.Verdict, c.want, waterSaid(got))
		}
	}
}

// A good reading at one tap does not speak for the whole source.
func TestWaterMonitoringOfWholeSource(t *testing.T) {
	t.Parallel()
	yes := true
	f := domain.WaterFacts{Source: domain.WaterSource{Is: domain.WaterTreatedGround},
		Monitoring: []domain.WaterMonitoring{{At: waterAt("2026-07-01 07:00"), Tap: "wash", InRange: &yes}}}
	if got := domain.FitnessOfWater(f, domain.UseWashing, "", waterAt("2026-07-01")); got.Verdict != domain.Ask {
		t.Errorf("one tap for all: %s", waterSaid(got))
	}
}

// New pipes and other water start again; the old samples stay with the old water (record-forms S41).
func TestWaterFitnessAfterChange(t *testing.T) {
	t.Parallel()
	f := goodWell()
	f.Changes = []domain.WaterSupplyChange{{At: waterAt("2026-06-10")}}
	if got := domain.FitnessOfWater(f, domain.UseWashing, "", waterAt("2026-07-01")); got.Verdict != domain.Ask {
		t.Errorf("old samples cover new pipes: %s", waterSaid(got))
	}
	f = goodWell()
	f.Tests = append(f.Tests, waterDrawn("2026-06-20", "", "7"))
	f.Changes = []domain.WaterSupplyChange{{At: waterAt("2026-06-25"), Is: domain.WaterPublicSupply}}
	f.Certificates = []domain.WaterCertificate{{IssuedOn: domain.NewDate(2026, 1, 1)}}
	if got := domain.FitnessOfWater(f, domain.UseWashing, "", waterAt("2026-07-01")); got.Verdict != domain.Clear {
		t.Errorf("town water under the failure of the well: %s", waterSaid(got))
	}
	if got := domain.FitnessOfWater(f, domain.UseWashing, "", waterAt("2026-06-24")); got.Verdict != domain.Stop {
		t.Errorf("the well before the switch: %s", waterSaid(got))
	}
	f.Changes[0] = domain.WaterSupplyChange{At: waterAt("2026-06-15"), Is: domain.WaterPublicSupply, Tap: "shed"}
	if got := domain.FitnessOfWater(f, domain.UseWashing, "shed", waterAt("2026-07-01")); got.Verdict != domain.Ask {
		t.Errorf("the shed has town water; nobody wrote down where the failed sample was drawn: %s", waterSaid(got))
	}
	f.Tests[4].Tap = "yard"
	if got := domain.FitnessOfWater(f, domain.UseWashing, "shed", waterAt("2026-07-01")); got.Verdict != domain.Clear {
		t.Errorf("the shed has town water; the well failed: %s", waterSaid(got))
	}
}

// Starting days [verified: S34; S32, S33].
func TestWaterRuleStarts(t *testing.T) {
	t.Parallel()
	pond := func(size domain.FarmSize) domain.WaterFacts {
		return domain.WaterFacts{Source: domain.WaterSource{Is: domain.WaterUntreatedSurface}, Size: size}
	}
	for size, days := range map[domain.FarmSize][2]string{
		domain.FarmLarge: {"2023-01-26", "2025-04-07"}, domain.FarmSmall: {"2024-01-26", "2026-04-06"},
		domain.FarmVerySmall: {"2025-01-26", "2027-04-05"}, domain.FarmSizeUnknown: {"2023-01-26", "2025-04-07"}, "huge": {"2023-01-26", "2025-04-07"},
	} {
		for i, use := range []domain.WaterUse{domain.UseWashing, domain.UseIrrigationTouching} {
			first := waterAt(days[i])
			on, before := domain.FitnessOfWater(pond(size), use, "", first), domain.FitnessOfWater(pond(size), use, "", first.AddDate(0, 0, -1))
			if !on.Verdict.Refuses() || on.Reasons[0].Authority != domain.Law {
				t.Errorf("%q %s on %s: %s", size, use, days[i], waterSaid(on))
			}
			if before.Verdict != domain.Caution || before.Reasons[0].Authority != domain.Guidance || !strings.Contains(before.Reasons[0].Text, days[i]) {
				t.Errorf("%q %s the day before %s: %s", size, use, days[i], waterSaid(before))
			}
		}
	}
	for id, r := range domain.WaterRules {
		if r.ID != id || r.Citation == "" || r.Mark == "" || r.CheckedOn.IsZero() || r.Plain.En == "" || r.Plain.Es == "" {
			t.Errorf("row %s is not whole: %+v", id, r)
		}
		if strings.HasPrefix(id, "buyer.") != (r.Authority == domain.Buyer) || (r.Authority == domain.Law) != strings.HasPrefix(id, "us-produce-safety.") {
			t.Errorf("row %s stands under %s", id, r.Authority)
		}
	}
}

func TestWaterSchedule(t *testing.T) {
	t.Parallel()
	well := func(days ...string) domain.WaterFacts {
		f := goodWell()
		f.Tests = waterDrawnOn("<1", days...)
		return f
	}
	failed := well("2026-03-01", "2026-04-01", "2026-05-01", "2026-06-01")
	failed.Tests = append(failed.Tests, waterDrawn("2026-07-01", "", "5"))
	fixed := failed
	fixed.Actions = []domain.WaterAction{waterFix("2026-07-05", "")}
	again := fixed
	again.Tests = append(slices.Clone(fixed.Tests), waterDrawn("2026-07-06", "", "<1"), waterDrawn("2026-07-08", "", "<1"))
	town := domain.WaterFacts{Source: domain.WaterSource{Is: domain.WaterPublicSupply}, Certificates: []domain.WaterCertificate{{IssuedOn: domain.NewDate(2026, 2, 10)}, {IssuedOn: domain.NewDate(2025, 2, 10)}}}
	yes := true
	treated := domain.WaterFacts{Source: domain.WaterSource{Is: domain.WaterTreatedGround}, MonitorEvery: 7 * 24 * time.Hour, Monitoring: []domain.WaterMonitoring{{At: waterAt("2026-07-08"), InRange: &yes}}}
	type due = domain.WaterSchedule
	for _, c := range []struct {
		name  string
		facts domain.WaterFacts
		at    string
		want  due
	}{
		{"never tested", well(), "2026-07-10", due{Plan: domain.PlanFirstYear, Needed: 4, DueOn: domain.NewDate(2026, 7, 10)}},
		{"one", well("2026-03-01"), "2026-04-01", due{Plan: domain.PlanFirstYear, Done: 1, Needed: 4, DueOn: domain.NewDate(2026, 6, 1)}},
		{"three, late", well("2026-03-01", "2026-06-01", "2026-09-01"), "2026-12-15", due{Plan: domain.PlanFirstYear, Done: 3, Needed: 4, DueOn: domain.NewDate(2026, 12, 1), Overdue: true}},
		{"first year over", well("2026-03-01", "2026-06-01", "2026-09-01"), "2027-03-02", due{Plan: domain.PlanFirstYear, Done: 2, Needed: 4, DueOn: domain.NewDate(2027, 3, 2)}},
		{"then yearly", goodWell(), "2026-07-10", due{Plan: domain.PlanYearly, Done: 1, Needed: 1, DueOn: domain.NewDate(2027, 6, 1)}},
		{"yearly, overdue", goodWell(), "2027-06-02", due{Plan: domain.PlanYearly, Done: 1, Needed: 1, DueOn: domain.NewDate(2027, 6, 1), Overdue: true}},
		{"back to four after a failure", failed, "2026-07-10", due{Plan: domain.PlanRetest, Needed: 4, DueOn: domain.NewDate(2026, 7, 1), Overdue: true}},
		{"corrected", fixed, "2026-07-05 12:00", due{Plan: domain.PlanRetest, Needed: 4, DueOn: domain.NewDate(2026, 7, 5)}},
		{"two of four", again, "2026-07-09", due{Plan: domain.PlanRetest, Done: 2, Needed: 4, DueOn: domain.NewDate(2026, 7, 9)}},
		{"town paper", town, "2026-07-10", due{Plan: domain.PlanCertificate, Done: 1, Needed: 1, DueOn: domain.NewDate(2027, 2, 10)}},
		{"treatment", treated, "2026-07-10", due{Plan: domain.PlanMonitoring, Done: 1, Needed: 1, DueOn: domain.NewDate(2026, 7, 15)}},
		{"pond", domain.WaterFacts{Source: domain.WaterSource{Is: domain.WaterUntreatedSurface}}, "2026-07-10", due{Plan: domain.PlanNone}},
	} {
		if diff := cmp.Diff(c.want, domain.WaterTestsDue(c.facts, "", waterAt(c.at)), cmp.Comparer(func(a, b domain.Date) bool { return a == b })); diff != "" {
			t.Errorf("%s: %s", c.name, diff)
		}
	}
	fit := again
	fit.Tests = append(slices.Clone(again.Tests), waterDrawn("2026-07-09", "", "<1"), waterDrawn("2026-07-10", "", "<1"))
	if got := domain.WaterTestsDue(fit, "", waterAt("2026-07-20")); got.Plan != domain.PlanYearly || got.DueOn != domain.NewDate(2027, 7, 10) {
		t.Errorf("fit again: %+v, want the yearly test", got)
	}
	if got := domain.WaterTestsDue(treated, "", waterAt("2026-08-01")); got.DueOn != domain.NewDate(2026, 8, 1) {
		t.Errorf("treatment not read for weeks: due %s, want today", got.DueOn)
	}
	two := goodWell()
	two.Source.Points = []domain.WaterPoint{{Use: domain.UseWashing, Tap: "wash"}, {Use: domain.UseIce, Tap: "ice"}}
	two.Tests = append(two.Tests, waterDrawn("2026-05-20", "wash", "<1"), waterDrawn("2026-07-01", "ice", "<1"))
	if got := domain.WaterTestsDue(two, "", waterAt("2026-07-10")); got.DueOn != domain.NewDate(2026, 8, 20) {
		t.Errorf("the earliest tap: %s, want 2026-08-20", got.DueOn)
	}
}

// waterHistory draws a random book of one source: samples with all kinds of results, stops, corrections and changes.
func waterHistory(rt *rapid.T) domain.WaterFacts {
	f := domain.WaterFacts{Source: domain.WaterSource{Is: rapid.SampledFrom(domain.WaterKinds).Draw(rt, "kind")}, Size: domain.FarmSizeUnknown,
		Certificates: []domain.WaterCertificate{{IssuedOn: domain.NewDate(2026, 1, 1)}}, MonitorEvery: 10 * 24 * time.Hour}
	good := true
	when := func(label string) time.Time {
		return waterAt("2026-01-01").Add(time.Duration(rapid.IntRange(0, 300*24).Draw(rt, label)) * time.Hour)
	}
	taps := rapid.SampledFrom([]string{"", "a", "b"})
	for i := range rapid.IntRange(0, 14).Draw(rt, "tests") {
		at := when("sampled")
		x := waterDrawn(at.Format("2006-01-02 15:04"), taps.Draw(rt, "tap"), rapid.SampledFrom([]string{"<1", "<1", "<1", "<1", "5", "<10", "pending"}).Draw(rt, "result"))
		x.ID = uuid.UUID{1, byte(i)}
		if x.Result != nil && rapid.Bool().Draw(rt, "late") {
			x.ReportedAt = at.Add(120 * time.Hour)
		}
		f.Tests = append(f.Tests, x)
	}
	for i := range rapid.IntRange(0, 5).Draw(rt, "actions") {
		f.Actions = append(f.Actions, domain.WaterAction{ID: uuid.UUID{2, byte(i)}, At: when("acted"), Corrective: rapid.Bool().Draw(rt, "corrective"), Tap: taps.Draw(rt, "tap")})
	}
	for i := range rapid.IntRange(0, 2).Draw(rt, "changes") {
		f.Changes = append(f.Changes, domain.WaterSupplyChange{ID: uuid.UUID{3, byte(i)}, At: when("changed"), Tap: taps.Draw(rt, "tap"),
			Is: rapid.SampledFrom(append([]domain.WaterKind{""}, domain.WaterKinds...)).Draw(rt, "to")})
	}
	for i := range rapid.IntRange(0, 6).Draw(rt, "monitoring") {
		f.Monitoring = append(f.Monitoring, domain.WaterMonitoring{ID: uuid.UUID{4, byte(i)}, At: when("read"), InRange: &good})
	}
	return f
}

// Adding a failing or a pending sample never makes a use fit that was not.
func TestWaterBadNewsNeverHelps(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(rt *rapid.T) {
		f := waterHistory(rt)
		tap := rapid.SampledFrom([]string{"", "a", "b"}).Draw(rt, "asked")
		use := rapid.SampledFrom(domain.WaterUses).Draw(rt, "use")
		at := waterAt("2026-01-01").Add(time.Duration(rapid.IntRange(0, 330*24).Draw(rt, "at")) * time.Hour)
		before := domain.FitnessOfWater(f, use, tap, at)
		news := waterDrawn(at.Add(time.Duration(rapid.IntRange(-3000, 3000).Draw(rt, "beside"))*time.Hour).Format("2006-01-02 15:04"),
			rapid.SampledFrom([]string{"", "a", "b"}).Draw(rt, "tap"), rapid.SampledFrom([]string{"5", ">2419.6", "pending"}).Draw(rt, "news"))
		f.Tests = append(slices.Clone(f.Tests), news)
		after := domain.FitnessOfWater(f, use, tap, at)
		if before.Verdict.Refuses() && !after.Verdict.Refuses() {
			rt.Fatalf("%s became %s by %v\nbefore:\n%safter:\n%s", before.Verdict, after.Verdict, news, waterSaid(before), waterSaid(after))
		}
		if news.Tap == tap && use.AtHarvestOrAfter() && news.SampledAt.Equal(at) && !after.Verdict.Refuses() {
			rt.Fatalf("bad news of this tap at this instant left it %s\n%s", after.Verdict, waterSaid(after))
		}
	})
}

// A pending result of the tap asked about is never a pass, and a detection now always stops.
func TestWaterPendingAndDetectedRefuse(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(rt *rapid.T) {
		f := waterHistory(rt)
		tap := rapid.SampledFrom([]string{"", "a", "b"}).Draw(rt, "asked")
		at := waterAt("2026-01-01").Add(time.Duration(rapid.IntRange(0, 330*24).Draw(rt, "at")) * time.Hour)
		for result, least := range map[string][]domain.Verdict{"pending": {domain.Ask, domain.Stop}, "5": {domain.Stop}} {
			g := f
			g.Tests = append(slices.Clone(f.Tests), waterDrawn(at.Format("2006-01-02 15:04"), tap, result))
			if got := domain.FitnessOfWater(g, domain.UseWashing, tap, at); !slices.Contains(least, got.Verdict) {
				rt.Fatalf("%s: %s\n%s", result, got.Verdict, waterSaid(got))
			}
		}
	})
}

// What is said of the water is the same in whichever order its records are read.
func TestWaterRecordsInAnyOrder(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(rt *rapid.T) {
		f := waterHistory(rt)
		var records []domain.Record
		for i := range f.Tests {
			records = append(records, &f.Tests[i])
		}
		for _, a := range f.Actions {
			records = append(records, &domain.WaterStop{ID: a.ID, Act: map[bool]string{true: "corrected", false: "stopped"}[a.Corrective], Tap: a.Tap, At: a.At})
		}
		for _, c := range f.Changes {
			records = append(records, &domain.WaterChange{ID: c.ID, Tap: c.Tap, At: c.At, Is: c.Is})
		}
		for i, day := range rapid.SliceOfN(rapid.IntRange(0, 3), 0, 4).Draw(rt, "papers") {
			on := domain.NewDate(2026, 1, 1).AddDays(60 * day)
			records = append(records, &domain.WaterPaper{ID: uuid.UUID{5, byte(i)}, IssuedOn: on},
				&domain.WaterReview{ID: uuid.UUID{6, byte(i)}, MadeOn: on, Outcome: []string{"adequate", "mitigate", "not-adequate"}[day%3]})
		}
		for i, m := range f.Monitoring {
			records = append(records, &domain.WaterTreatment{ID: m.ID, TakenAt: m.At, PPM: domain.Given(decimal.NewFromInt(int64(i)))})
		}
		added := func(label string) domain.WaterFacts {
			facts := domain.WaterFacts{Source: f.Source, Size: f.Size, MonitorEvery: f.MonitorEvery}
			for _, r := range rapid.Permutation(records).Draw(rt, label) {
				facts.Add(r)
			}
			return facts
		}
		one, other := added("one order"), added("another")
		dates := cmp.Comparer(func(a, b domain.Date) bool { return a == b })
		at := waterAt("2026-01-01").Add(time.Duration(rapid.IntRange(0, 330*24).Draw(rt, "at")) * time.Hour)
		tap := rapid.SampledFrom([]string{"", "a", "b"}).Draw(rt, "asked")
		for _, use := range domain.WaterUses {
			if diff := cmp.Diff(domain.FitnessOfWater(one, use, tap, at), domain.FitnessOfWater(other, use, tap, at), dates); diff != "" {
				rt.Fatalf("%s: %s", use, diff)
			}
			if diff := cmp.Diff(domain.WaterFailureWindows(one, use), domain.WaterFailureWindows(other, use)); diff != "" {
				rt.Fatalf("%s: %s", use, diff)
			}
		}
	})
}
