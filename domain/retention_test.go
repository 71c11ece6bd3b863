package domain_test

import (
	"strings"
	"testing"

	"croftmark/domain"
)

// The years by 7 CFR 205.103 (five beyond creation), 21 CFR 112.164 (two) and 21 CFR 1.1455(d) (two). A record of
// 2024-02-29 is held by the produce safety rule until 2026-03-01 and by the organic one until 2029-03-01.
func TestRetention(t *testing.T) {
	until := map[string]string{"us-organic.keep-five-years": "2029-03-01", "us-produce-safety.keep-two-years": "2026-03-01",
		"us-traceability.keep-two-years": "2026-03-01", "ground.keep-for-ever": "", "us-produce-safety.keep-methods": ""}
	for _, r := range domain.RetentionRules("") {
		want, ok := until[r.ID]
		if got := r.KeepUntil(dayOf("2024-02-29")); !ok || want == "" != got.IsZero() || want != "" && got.String() != want {
			t.Errorf("%s: until %s, want %q", r.ID, got, want)
		}
		delete(until, r.ID)
		if r.Citation == "" || r.Mark == "" || r.CheckedOn.IsZero() || r.Says.En == "" || r.Says.Es == "" {
			t.Errorf("%s lacks its source, mark or words", r.ID)
		}
		if _, ok := domain.RuleSetByID(r.Set); r.Set != "" && !ok {
			t.Errorf("%s is of the unknown set %q", r.ID, r.Set)
		}
	}
	if len(until) > 0 {
		t.Errorf("missing: %v", until)
	}
	if why := domain.WhyNotDeleted("application"); !strings.Contains(why, "7 CFR 205.103") || !strings.Contains(why, "for ever") || !strings.Contains(why, "void it") {
		t.Error(why)
	}
	if why := domain.WhyNotDeleted("person"); strings.Contains(why, "1.1455") {
		t.Error(why)
	}
}
