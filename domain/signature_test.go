package domain_test

import (
	"slices"
	"strings"
	"testing"

	"croftmark/domain"
)

// The list of 21 CFR 112.161(b) as it stands since the water rule of 2024 (verified: text of 112.161(b)), but for
// sprouts, which this book does not know. Lists printed before July 2024 name 112.50(b)(4) and (6) instead.
func TestSignatureFamiliesAreTheListOfTheLaw(t *testing.T) {
	t.Parallel()
	want := map[string]string{"exemption-review": "112.7(b)", "training": "112.30(b)", "water-assessment": "112.50(b)(2)", "water-test": "112.50(b)(5)",
		"water-action": "112.50(b)(7)", "water-treatment": "112.50(b)(11)", "compost-batch": "112.60(b)(2)", "cleaning": "112.140(b)(1), (2)"}
	got := map[string]string{}
	for _, f := range domain.SignatureFamilies(nil) {
		got[f.ID] = f.Rule.Citation
		if f.Rule.Authority != domain.Law || f.Rule.Set != "us-produce-safety" || f.Rule.Mark == "" || f.Rule.From.IsZero() || f.Rule.CheckedOn.IsZero() || f.Name.En == "" || f.Name.Es == "" {
			t.Errorf("%s is not whole: %+v", f.ID, f)
		}
		if want[f.ID] == "" || !strings.HasPrefix(f.Rule.Citation, "21 CFR "+want[f.ID]+",") || !strings.HasSuffix(f.Rule.Citation, "112.161(b)") {
			t.Errorf("%s: %s, want %s", f.ID, f.Rule.Citation, want[f.ID])
		}
	}
	if len(got) != len(want) {
		t.Errorf("%d families, want %d: %v", len(got), len(want), got)
	}
}

func TestWhoIsAskedForASecondSignature(t *testing.T) {
	t.Parallel()
	families := domain.SignatureFamilies(nil)
	family := func(id string) domain.SignatureFamily {
		return families[slices.IndexFunc(families, func(f domain.SignatureFamily) bool { return f.ID == id })]
	}
	adopted := []domain.AdoptedStandard{{Set: "us-produce-safety", From: dayOf("2025-01-01")}, {Set: "us-organic", From: dayOf("2020-01-01")}}
	for name, row := range map[string]struct {
		family    string
		standards []domain.AdoptedStandard
		exemption string
		on        string
		want      bool
	}{
		"covered":                              {"cleaning", adopted, "", "2026-06-01", true},
		"covered, said so":                     {"cleaning", adopted, "none", "2026-06-01", true},
		"before it was adopted":                {"cleaning", adopted, "", "2024-12-31", false},
		"on the day it was adopted":            {"cleaning", adopted, "", "2025-01-01", true},
		"organic only":                         {"cleaning", adopted[1:], "", "2026-06-01", false},
		"nothing adopted":                      {"water-test", nil, "", "2026-06-01", false},
		"not covered":                          {"water-test", adopted, "not-covered", "2026-06-01", false},
		"qualified exempt":                     {"training", adopted, "qualified", "2026-06-01", false},
		"exemption review of an exempt farm":   {"exemption-review", adopted, "qualified", "2026-06-01", true},
		"exemption review of a covered farm":   {"exemption-review", adopted, "", "2026-06-01", false},
		"exemption review of an uncovered one": {"exemption-review", adopted, "not-covered", "2026-06-01", false},
	} {
		rule := family(row.family).Rule
		if got := rule.Asks(&domain.Farm{Standards: row.standards, Exemption: row.exemption}, dayOf(row.on)); got != row.want {
			t.Errorf("%s: asked %t, want %t", name, got, row.want)
		}
	}
	own := ownSheet()
	own.SecondSignature = &domain.SignatureRule{SheetSource: domain.SheetSource{Authority: domain.Buyer, Citation: "the grocer's terms"}}
	more := domain.SignatureFamilies([]domain.LogSheet{own})
	last := more[len(more)-1]
	if last.ID != "egg-washing" || last.Rule.Authority != domain.Buyer || !last.Rule.Asks(&domain.Farm{}, dayOf("2026-06-01")) {
		t.Errorf("a buyer's wish: %+v", last)
	}
}
