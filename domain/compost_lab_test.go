package domain_test

import (
	"testing"

	"croftmark/domain"
)

func labTest(analyte, qualifier, value, unit string) domain.CompostLabTest {
	t := domain.CompostLabTest{SampledOn: nth(45), Analyte: analyte, Result: domain.LabResult{Qualifier: qualifier, Unit: unit}}
	if value != "" {
		t.Result.Value = num(value)
	}
	return t
}

func notDetected(analyte, limit, unit string) domain.CompostLabTest {
	no := false
	t := domain.CompostLabTest{SampledOn: nth(45), Analyte: analyte, Result: domain.LabResult{Detected: &no, Unit: unit}}
	if limit != "" {
		t.Result.DetectionLimit = num(limit)
	}
	return t
}

// Limits: NOP 5006 [verified: us-rules S5]; 21 CFR 112.55 [verified: us-rules S39]. "-" means no limit for it.
func TestLabLimits(t *testing.T) {
	t.Parallel()
	yes := true
	found := func(analyte string) domain.CompostLabTest {
		return domain.CompostLabTest{SampledOn: nth(45), Analyte: analyte, Result: domain.LabResult{Detected: &yes}}
	}
	const c, s, a, none = domain.Clear, domain.Stop, domain.Ask, domain.Verdict("-")
	for _, tt := range []struct {
		name                  string
		test                  domain.CompostLabTest
		nop, listed, thorough domain.Verdict // NOP 5006, 112.55(b), 112.55(a)
	}{
		{"coliform 999", labTest(domain.FecalColiform, "", "999", "MPN/g"), c, c, none},
		{"coliform exactly 1,000", labTest(domain.FecalColiform, "", "1000", "MPN/g"), c, s, none},
		{"coliform 1,000.1", labTest(domain.FecalColiform, "", "1000.1", "MPN/g"), s, s, none},
		{"coliform <1,000", labTest(domain.FecalColiform, "<", "1000", "MPN / g"), c, c, none},
		{"coliform <1,800", labTest(domain.FecalColiform, "<", "1800", "MPN/g"), a, a, none},
		{"coliform >1,600", labTest(domain.FecalColiform, ">", "1600", "MPN/g"), s, s, none},
		{"coliform >900", labTest(domain.FecalColiform, ">", "900", "MPN/g"), a, a, none},
		{"coliform >1,000", labTest(domain.FecalColiform, ">", "1000", "MPN/g"), s, s, none},
		{"coliform not detected, limit 3", notDetected(domain.FecalColiform, "3", "MPN/g"), c, c, none},
		{"coliform not detected, no limit", notDetected(domain.FecalColiform, "", ""), a, a, none},
		{"salmonella 3", labTest(domain.Salmonella, "", "3", "MPN/4 g"), c, s, s},
		{"salmonella 3.1", labTest(domain.Salmonella, "", "3.1", "MPN/4g"), s, s, s},
		{"salmonella 0.5", labTest(domain.Salmonella, "", "0.5", "MPN/4 g"), c, s, s},
		{"salmonella <3", labTest(domain.Salmonella, "<", "3", "MPN/4 g"), c, c, c},
		{"salmonella <4", labTest(domain.Salmonella, "<", "4", "MPN/4 g"), a, a, a},
		{"salmonella 0, no limit", labTest(domain.Salmonella, "", "0", "MPN/4 g"), c, a, a},
		{"salmonella not detected, finds 3", notDetected(domain.Salmonella, "3", "MPN/4 g"), c, c, c},
		{"salmonella not detected, finds 3.01", notDetected(domain.Salmonella, "3.01", "MPN/4 g"), a, a, a},
		{"salmonella detected", found(domain.Salmonella), a, s, s},
		{"O157 not detected, finds 0.3", notDetected(domain.EColiO157, "0.3", "MPN/g"), none, none, c},
		{"O157 not detected, finds 1", notDetected(domain.EColiO157, "1", "MPN/g"), none, none, a},
		{"O157 detected", found(domain.EColiO157), none, none, s},
		{"listeria not detected, finds 1 in 5 g", notDetected(domain.Listeria, "1", "CFU/5 g"), none, none, c},
		{"listeria 1 in 5 g", labTest(domain.Listeria, "", "1", "CFU/5 g"), none, none, s},
	} {
		for id, want := range map[domain.LabStandardID]domain.Verdict{domain.NOP5006: tt.nop, domain.CFR11255b: tt.listed, domain.CFR11255a: tt.thorough} {
			r, ok, err := domain.JudgeLabTest(tt.test, id)
			if err != nil {
				t.Errorf("%s, %s: %v", tt.name, id, err)
				continue
			}
			if ok != (want != none) || (ok && r.Verdict != want) {
				t.Errorf("%s, %s: %q (%v), want %q", tt.name, id, r.Verdict, ok, want)
			}
			if ok && (r.Text == "" || r.TextEs == "" || r.Citation == "") {
				t.Errorf("%s: %+v", tt.name, r)
			}
		}
	}
}

func TestLabWrongUnitIsRefused(t *testing.T) {
	t.Parallel()
	for _, bad := range []domain.CompostLabTest{
		labTest(domain.FecalColiform, "", "10", "CFU/g"), labTest(domain.FecalColiform, "", "10", "MPN/100 mL"),
		labTest(domain.FecalColiform, "", "10", ""), labTest(domain.Salmonella, "", "1", "MPN/g"),
		notDetected(domain.Salmonella, "3", "MPN/25 g"), labTest(domain.FecalColiform, "", "-1", "MPN/g"),
		labTest(domain.FecalColiform, "~", "10", "MPN/g"), {SampledOn: nth(45), Analyte: domain.FecalColiform},
	} {
		if _, _, err := domain.JudgeLabTest(bad, domain.CFR11255b); err == nil {
			t.Errorf("accepted %+v", bad.Result)
		} else if e, ok := err.(*domain.Error); !ok || e.Code != domain.CodeInvalid {
			t.Errorf("%v", err)
		}
	}
}

// A pass never stands in for a missing process; a failure takes the standing away from the whole heap, also for the
// days before the sample, until fresh material makes it another heap or it is processed again.
func TestLabAndStanding(t *testing.T) {
	t.Parallel()
	raw := static("degF", "140 140 140")
	raw.Curings = []domain.CompostCuring{{StartedOn: nth(4), FinishedOn: nth(40)}}
	raw.LabTests = []domain.CompostLabTest{labTest(domain.FecalColiform, "", "2", "MPN/g"), notDetected(domain.Salmonella, "3", "MPN/4 g")}
	if got := stands(t, raw, 90); got != domain.Untreated {
		t.Errorf("a passed test replaced the process: %s", got)
	}
	for _, tt := range []struct {
		name            string
		test            domain.CompostLabTest
		organic, safety domain.Standing
	}{
		{"passed", labTest(domain.FecalColiform, "", "999", "MPN/g"), domain.Treated, domain.Treated},
		{"exactly 1,000", labTest(domain.FecalColiform, "", "1000", "MPN/g"), domain.Treated, domain.Untreated},
		{"salmonella 2", labTest(domain.Salmonella, "", "2", "MPN/4 g"), domain.Treated, domain.Untreated},
		{"coliform 5,000", labTest(domain.FecalColiform, "", "5000", "MPN/g"), domain.Untreated, domain.Untreated},
		{"listeria found", labTest(domain.Listeria, "", "1", "CFU/5 g"), domain.Untreated, domain.Untreated},
		{"cannot be told", labTest(domain.FecalColiform, "<", "1800", "MPN/g"), domain.Treated, domain.Treated},
	} {
		b := finished()
		b.LabTests = []domain.CompostLabTest{tt.test}
		for _, n := range []int{42, 45, 90} { // the sample is of date 45
			s := b.StandingOn(nth(n), domain.CompostSets...)
			if s.Sets[domain.OrganicSet] != tt.organic || s.Sets[domain.ProduceSafetySet] != tt.safety {
				t.Errorf("%s, date %d: %v", tt.name, n, s.Sets)
			}
		}
	}
	other := finished()
	other.Additions = []domain.CompostAddition{added(43, 9, "cattle manure")}
	other.LabTests = []domain.CompostLabTest{labTest(domain.FecalColiform, "", "5000", "MPN/g")}
	if got := stands(t, other, 42); got != domain.Treated {
		t.Errorf("the sample of date 45 is of another heap: %s", got)
	}
}
