package domain_test

import (
	"slices"
	"strings"
	"testing"

	"croftmark/domain"
)

func TestCatalogueRowsSayWhereTheyComeFrom(t *testing.T) {
	t.Parallel()
	rows := domain.Catalogue()
	if len(rows) != 64 {
		t.Errorf("%d rows", len(rows))
	}
	names := map[string]bool{}
	for _, r := range rows {
		if r.Name == "" || names[r.Name] {
			t.Errorf("%q is unnamed or named twice", r.Name)
		}
		names[r.Name] = true
		if r.ClassSource == "" || !(strings.HasPrefix(r.SourceMark, "verified") || r.SourceMark == "memory") {
			t.Errorf("%s: marks %q, %q", r.Name, r.SourceMark, r.ClassSource)
		}
		if !slices.Contains([]string{"yes", "no", "exempt", "unclear"}, r.TraceabilityList) {
			t.Errorf("%s: traceability list %q", r.Name, r.TraceabilityList)
		}
		if r.DaysLow < 0 || (r.DaysHigh > 0 && r.DaysLow > r.DaysHigh) {
			t.Errorf("%s: %d to %d days", r.Name, r.DaysLow, r.DaysHigh)
		}
		var p domain.Problems
		crop := r.Crop()
		if crop.Check(dayOf("2026-11-25"), &p); p.Err() != nil {
			t.Errorf("%s does not pass its own check: %v", r.Name, p.Err())
		}
	}
}

// us-rules 2.1: rarely consumed raw [verified: S22], and its traps. Traceability list: traceability-standards 1.3.
func TestCatalogueCrops(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name    string
		contact domain.SoilContact
		cooked  bool
		item    string
		leafy   string // "": the catalogue does not say
	}{
		{"beet", domain.Touches, true, "", "no"},
		{"tomato", domain.Touches, false, "Tomatoes (fresh)", "no"},
		{"cabbage, Chinese (napa)", domain.Touches, false, "unclear: treated as listed", ""},
		{"corn, sweet", domain.HeldClear, true, "", "no"},
		{"kale", domain.Touches, false, "Leafy greens (fresh)", "yes"},
		{"lettuce, baby / salad mix", domain.Touches, false, "Leafy greens (fresh) or fresh-cut", "yes"},
		{"collards", domain.Touches, true, "", ""},
		{"squash, summer", domain.Touches, false, "", "no"},
		{"squash, winter", domain.Touches, true, "", "no"},
	} {
		row, ok := domain.CatalogueCrop(c.name)
		if !ok {
			t.Errorf("no %s", c.name)
			continue
		}
		crop := row.Crop()
		if crop.SoilContact != c.contact || crop.RarelyConsumedRaw != c.cooked || crop.TraceabilityListItem != c.item || leafyWord(crop.LeafyGreen) != c.leafy {
			t.Errorf("%s: %+v", c.name, crop)
		}
		if crop.CatalogueEntry != c.name || crop.SourceMark != row.SourceMark {
			t.Errorf("%s lost its source", c.name)
		}
	}
	if _, ok := domain.CatalogueCrop("dragon fruit"); ok {
		t.Error("found what is not there")
	}
}

func leafyWord(said *bool) string {
	switch {
	case said == nil:
		return ""
	case *said:
		return "yes"
	}
	return "no"
}

// us-rules 1.1, default contact class by crop [interpretation]. Crops that touch soil unless staked or trellised start
// on the strict side; the grower says otherwise with a reason.
func TestCatalogueContactDefaults(t *testing.T) {
	t.Parallel()
	held := []string{"corn, sweet", "okra", "raspberry / blackberry"}
	for _, r := range domain.Catalogue() {
		want := domain.Touches
		if slices.Contains(held, r.Name) {
			want = domain.HeldClear
		}
		if r.SoilContact != want {
			t.Errorf("%s: %s, want %s", r.Name, r.SoilContact, want)
		}
	}
	for _, name := range []string{"tomato", "cucumber", "bean, snap pole", "pepper, sweet", "eggplant"} {
		if row, _ := domain.CatalogueCrop(name); row.Alternative == "" {
			t.Errorf("%s may be held clear, and the row does not say so", name)
		}
	}
}
