package domain_test

import (
	"strings"
	"testing"

	"croftmark/domain"
)

// 21 CFR 112.60(b)(1) [verified: S40]: the supplier states the process and the clean handling, at least once a year.
func TestInputLotWarnings(t *testing.T) {
	t.Parallel()
	full := certificate("2026-01-01", "")
	full.ReceivedOn = dayOf("2026-02-01")
	full.Certificate.Handling = "loaded with a clean bucket, covered"
	bare := certificate("2026-01-01", "")
	for _, c := range []struct {
		why  string
		in   domain.Category
		lot  domain.InputLot
		says string
	}{
		{"paper with both statements", domain.BoughtCompost, full, ""},
		{"paper without handling", domain.BoughtCompost, bare, "handled cleanly"},
		{"no paper", domain.ProcessedManure, domain.InputLot{}, "untreated until"},
		{"raw manure needs none", domain.RawManure, domain.InputLot{}, ""},
		{"leaf mould needs none", domain.PlantMaterial, domain.InputLot{}, ""},
		{"seed needs none", domain.Seed, domain.InputLot{}, ""},
	} {
		got := strings.Join(domain.InputLotWarnings(&domain.Input{Category: c.in}, &c.lot), " ")
		if (c.says == "") != (got == "") || !strings.Contains(got, c.says) {
			t.Errorf("%s: %q, want %q", c.why, got, c.says)
		}
	}
}
