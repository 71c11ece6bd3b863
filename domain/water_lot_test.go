package domain_test

import (
	"testing"
	"time"

	"github.com/google/uuid"

	"croftmark/domain"
)

// Untreated surface water is never used after the cut, and a use is given up from the moment the water fails
// (21 CFR 112.44(a), 112.45(a)): what changes while a lot lies in the water counts for the lot.
func TestWaterOfAUseThatLasts(t *testing.T) {
	t.Parallel()
	at := func(hour int) time.Time { return time.Date(2026, 7, 6, hour, 0, 0, 0, time.UTC) }
	town := domain.WaterFacts{Source: domain.WaterSource{Is: domain.WaterPublicSupply}, Certificates: []domain.WaterCertificate{{ID: uuid.UUID{1}, IssuedOn: domain.NewDate(2026, 1, 1)}}}
	stopped, pond := town, town
	stopped.Actions = []domain.WaterAction{{ID: uuid.UUID{2}, At: at(12)}}
	pond.Changes = []domain.WaterSupplyChange{{ID: uuid.UUID{3}, At: at(12), Is: domain.WaterUntreatedSurface}}
	for name, c := range map[string]struct {
		facts    domain.WaterFacts
		from, to int
		want     domain.Verdict
	}{
		"town water all day":              {town, 9, 17, domain.Clear},
		"stopped at noon":                 {stopped, 9, 17, domain.Stop},
		"out of the water before noon":    {stopped, 9, 11, domain.Clear},
		"into the pond at noon":           {pond, 9, 17, domain.Stop},
		"an instant, no end written down": {pond, 9, 9, domain.Clear},
	} {
		if got := c.facts.FitnessDuring(domain.WaterTouch{Use: domain.UseWashing, From: at(c.from), To: at(c.to)}); got.Verdict != c.want {
			t.Errorf("%s: %s, want %s: %+v", name, got.Verdict, c.want, got.Reasons)
		}
	}
}
