package domain_test

import (
	"regexp"
	"slices"
	"strings"
	"testing"

	"croftmark/domain"
)

func ruleNamed(t *testing.T, id string) domain.Rule {
	t.Helper()
	for _, set := range domain.RuleSets() {
		for _, r := range set.Rules {
			if r.ID == id {
				return r
			}
		}
	}
	t.Fatalf("no rule %s", id)
	return domain.Rule{}
}

// us-rules 7.1, rules as data; the marks are those of us-rules 1.1, 1.6 and section 5.
func TestRuleNumbers(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		id           string
		days, months int
		from         string
		authority    domain.Authority
		unmet        domain.Verdict
	}{
		{"us-organic.raw-manure-soil-contact", 120, 0, "2002-10-21", domain.Law, domain.Wait},      // ORG-MAN-120 [verified: S1]
		{"us-organic.raw-manure-no-contact", 90, 0, "2002-10-21", domain.Law, domain.Wait},         // ORG-MAN-90 [verified: S1]
		{"us-organic.raw-manure-worked-in", 0, 0, "2002-10-21", domain.Law, domain.Stop},           // ORG-MAN-INC [verified: S1 for the word; interpretation]
		{"us-organic.grazing-soil-contact", 120, 0, "2002-10-21", domain.Certifier, "wait"},        // ORG-GRAZE [verified: S7, S8; default interpretation]
		{"us-organic.grazing-no-contact", 90, 0, "2002-10-21", domain.Certifier, domain.Wait},      // ORG-GRAZE
		{"us-organic.prohibited-land", 0, 36, "2002-10-21", domain.Law, domain.Wait},               // ORG-LAND-3Y [verified: S11]
		{"us-produce-safety.untreated-off-crop", 0, 0, "2018-01-26", domain.Law, domain.Stop},      // PSR-AMD-CONTACT [verified: S39]; date [memory]
		{"us-produce-safety.untreated-interval-open", 120, 0, "2018-01-26", "guidance", "caution"}, // 112.56(a)(1)(i) reserved [verified: S39]; advice [verified: S9]
		{"us-produce-safety.treated-minimise-contact", 0, 0, "2018-01-26", domain.Law, "caution"},  // PSR-AMD-COMP [verified: S39]
		{"us-produce-safety.training-yearly", 0, 12, "2018-01-26", domain.Law, domain.Caution},     // PSR-TRAIN, 12 months [memory]
		{"buyer-gap.raw-manure-before-planting", 14, 0, "2011-01-01", domain.Buyer, domain.Stop},   // GAP-MAN-PLANT
		{"buyer-gap.raw-manure-before-harvest", 120, 0, "2011-01-01", domain.Buyer, domain.Wait},   // GAP-MAN-PLANT
		{"buyer-gap.raw-manure-work-in-quickly", 3, 0, "2011-01-01", "guidance", domain.Caution},   // GAP-MAN-72H
		{"buyer-leafy-greens.raw-manure-one-year", 0, 12, "2011-01-01", domain.Buyer, "wait"},      // LGMA-MAN-1Y
		{"canada-organic.raw-manure-worked-in", 0, 0, "2020-11-01", domain.Law, domain.Stop},       // CA-MAN-120/90 [memory]
		{"canada-organic.raw-manure-soil-contact", 120, 0, "2020-11-01", domain.Law, domain.Wait},  // CA-MAN-120/90 [memory]
		{"canada-organic.raw-manure-no-contact", 90, 0, "2020-11-01", domain.Law, domain.Wait},     // CA-MAN-120/90 [memory]
		{"uk-ready-to-eat.raw-manure-before-harvest", 0, 12, "2009-01-01", "guidance", "caution"},  // UK-MAN-12/6 [memory]
		{"uk-ready-to-eat.raw-manure-before-planting", 0, 6, "2009-01-01", "guidance", "caution"},  // UK-MAN-12/6 [memory]
	} {
		r := ruleNamed(t, c.id)
		if r.Days != c.days || r.Months != c.months || r.From != dayOf(c.from) || r.Authority != c.authority || r.Unmet != c.unmet {
			t.Errorf("%s: %d days, %d months from %s, %s, %s", c.id, r.Days, r.Months, r.From, r.Authority, r.Unmet)
		}
	}
}

var placeholder = regexp.MustCompile(`\{[^}]*\}`)

func placeholders(s string) []string {
	found := placeholder.FindAllString(s, -1)
	slices.Sort(found)
	return found
}

func TestEveryRuleIsWhole(t *testing.T) {
	t.Parallel()
	known := []string{"{days}", "{material}", "{Material}", "{start}", "{day}", "{on}", "{clear_on}", "{entry}", "{bed}", "{why}"}
	seen := map[string]bool{}
	for _, set := range domain.RuleSets() {
		if set.Name.En == "" || set.Name.Es == "" || set.From.IsZero() || len(set.Rules) == 0 {
			t.Errorf("set %s is not whole", set.ID)
		}
		for _, r := range set.Rules {
			if !strings.HasPrefix(r.ID, set.ID+".") || r.Set != set.ID || seen[r.ID] {
				t.Errorf("%s: id not of its set, or used twice", r.ID)
			}
			seen[r.ID] = true
			if r.Authority == "" || r.Citation == "" || r.Mark == "" || r.From.IsZero() || r.CheckedOn.IsZero() {
				t.Errorf("%s lacks its source", r.ID)
			}
			if r.Text.En == "" || r.Text.Es == "" || r.Plain.En == "" || r.Plain.Es == "" || (r.Caution.En == "") != (r.Caution.Es == "") {
				t.Errorf("%s lacks a language", r.ID)
			}
			en, es := placeholders(r.Text.En), placeholders(r.Text.Es)
			if !slices.Equal(en, es) {
				t.Errorf("%s: %v in English, %v in Spanish", r.ID, en, es)
			}
			for _, name := range en {
				if !slices.Contains(known, name) {
					t.Errorf("%s: %s is filled by nobody", r.ID, name)
				}
			}
			if slices.Contains(en, "{days}") && (r.Days == 0 || r.Months != 0) {
				t.Errorf("%s says {days} and has no days", r.ID)
			}
			if len(placeholders(r.Plain.En+r.Plain.Es+r.Caution.En+r.Caution.Es)) > 0 {
				t.Errorf("%s: plain words are shown as they stand", r.ID)
			}
		}
	}
}

func TestEveryRuleIsComputed(t *testing.T) {
	t.Parallel()
	timed := []domain.Shape{domain.ShapeDaysToHarvest, domain.ShapeDaysToPlanting, domain.ShapeDaysToWorkIn, domain.ShapeNoNumber, domain.ShapeTraining}
	other := []domain.Shape{domain.ShapeWorkedIn, domain.ShapeKeepOffCrop, domain.ShapeGroundHistory, domain.ShapeProduction, domain.ShapeHeld, domain.ShapeFinding, domain.ShapeLabelDays, domain.ShapeLabelUnknown, domain.ShapeRestrictedEntry}
	materials := []domain.Material{domain.MaterialRaw, domain.MaterialGrazing, domain.MaterialUntreated, domain.MaterialTreated, domain.MaterialProhibited, domain.MaterialSpray}
	for _, set := range domain.RuleSets() {
		for _, r := range set.Rules {
			if !slices.Contains(timed, r.Shape) && !slices.Contains(other, r.Shape) {
				t.Errorf("%s: nobody computes %q", r.ID, r.Shape)
			}
			if has := r.Days > 0 || r.Months > 0; has != (slices.Contains(timed, r.Shape) || r.After && !r.Lasts) {
				t.Errorf("%s: %q with %d days and %d months", r.ID, r.Shape, r.Days, r.Months)
			}
			for _, m := range r.Materials {
				if !slices.Contains(materials, m) {
					t.Errorf("%s: no exposure counts as %q", r.ID, m)
				}
			}
			for _, c := range r.Contact {
				if c != domain.Touches && c != domain.HeldClear && c != domain.ContactUnknown {
					t.Errorf("%s: contact %q", r.ID, c)
				}
			}
			if r.Authority == domain.Guidance && r.Unmet != domain.Caution && r.Unmet != domain.Ask {
				t.Errorf("%s: guidance refuses nothing, yet it says %s", r.ID, r.Unmet)
			}
			if r.Unmet == domain.Wait && r.Shape != domain.ShapeDaysToHarvest && r.Shape != domain.ShapeLabelDays && r.Shape != domain.ShapeRestrictedEntry {
				t.Errorf("%s waits for a day that nobody computes", r.ID)
			}
		}
	}
}

// A crop whose contact nobody knows must fall under the strict row of every pair.
func TestUnknownContactIsNeverLeftOut(t *testing.T) {
	t.Parallel()
	for _, set := range domain.RuleSets() {
		for _, r := range set.Rules {
			if slices.Contains(r.Contact, domain.Touches) != slices.Contains(r.Contact, domain.ContactUnknown) {
				t.Errorf("%s: unknown must go with touches", r.ID)
			}
		}
	}
}

func TestRuleSetsToAdopt(t *testing.T) {
	t.Parallel()
	for _, id := range []string{"us-organic", "us-produce-safety", "buyer-gap", "buyer-leafy-greens", "canada-organic", "uk-ready-to-eat"} {
		if set, ok := domain.RuleSetByID(id); !ok || set.ID != id {
			t.Errorf("no set %s", id)
		}
	}
	for _, id := range []string{"every-farm", "", "nonsense"} {
		if _, ok := domain.RuleSetByID(id); ok {
			t.Errorf("%q can be adopted", id)
		}
	}
}
