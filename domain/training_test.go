package domain_test

import (
	"strings"
	"testing"

	"croftmark/domain"
)

// 21 CFR 112.21: on hire and at least once annually thereafter [memory for the yearly part; the record: 112.30(b)].
func TestTrainingCautions(t *testing.T) {
	t.Parallel()
	farm := func(sets ...string) *domain.Farm {
		f := &domain.Farm{}
		for _, s := range sets {
			f.Standards = append(f.Standards, domain.AdoptedStandard{Set: s, From: dayOf("2020-01-01")})
		}
		return f
	}
	carl, ana := domain.Trained{Name: "Carl", LastOn: dayOf("2025-06-15")}, domain.Trained{Name: "Ana"}
	covered, cooked := &domain.Crop{Name: "lettuce"}, &domain.Crop{Name: "beet", RarelyConsumedRaw: true}
	for name, row := range map[string]struct {
		farm   *domain.Farm
		crop   *domain.Crop
		on     string
		people []domain.Trained
		names  string
	}{
		"within the year":            {farm("us-produce-safety"), covered, "2026-06-14", []domain.Trained{carl}, ""},
		"on the anniversary":         {farm("us-produce-safety"), covered, "2026-06-15", []domain.Trained{carl}, ""},
		"a day later":                {farm("us-produce-safety"), covered, "2026-06-16", []domain.Trained{carl}, "Carl"},
		"never trained":              {farm("us-produce-safety"), covered, "2026-06-01", []domain.Trained{carl, ana}, "Ana"},
		"both":                       {farm("us-produce-safety"), covered, "2026-07-01", []domain.Trained{carl, ana}, "Carl, Ana"},
		"several crops":              {farm("us-produce-safety"), nil, "2026-07-01", []domain.Trained{ana}, "Ana"},
		"not covered produce":        {farm("us-produce-safety"), cooked, "2026-07-01", []domain.Trained{ana}, ""},
		"nobody asks":                {farm("us-organic"), covered, "2026-07-01", []domain.Trained{ana}, ""},
		"before the farm was asked":  {farm("us-produce-safety"), covered, "2019-12-31", []domain.Trained{ana}, ""},
		"a qualified exempt farm":    {&domain.Farm{Standards: farm("us-produce-safety").Standards, Exemption: "qualified"}, covered, "2026-07-01", []domain.Trained{ana}, ""},
		"nobody is known by name":    {farm("us-produce-safety"), covered, "2026-07-01", nil, ""},
		"beside the other standards": {farm("us-organic", "us-produce-safety"), covered, "2026-07-01", []domain.Trained{ana}, "Ana"},
	} {
		got := domain.TrainingCautions(row.farm, row.crop, dayOf(row.on), row.people)
		if row.names == "" {
			if len(got) > 0 {
				t.Errorf("%s: %+v", name, got)
			}
			continue
		}
		if len(got) != 1 || got[0].Verdict != domain.Caution || got[0].Authority != domain.Law || !strings.Contains(got[0].Text, ": "+row.names+".") || !strings.Contains(got[0].TextEs, ": "+row.names+".") {
			t.Errorf("%s: %+v, want a caution about %s", name, got, row.names)
		}
	}
}
