package api_test

import (
	"net/http"
	"strings"
	"testing"

	"croftmark/domain"
)

// What goes wrong when water is written down: refused by field, with the fix, and nothing is written.
func TestBadWaterRecordsAreRefused(t *testing.T) {
	t.Parallel()
	x := newField(t)
	well := x.post(domain.Lead, "/v1/water-sources", fields{"name": "Well", "kind": "untreated-ground", "uses": []string{"washing"},
		"points": []fields{{"use": "washing", "tap": "wash tap"}}}).id()
	x.post(domain.Lead, "/v1/water-sources", fields{"name": "Town", "kind": "public-supply", "points": []fields{{"use": "hands", "tap": "kitchen tap"}}}).is(http.StatusCreated)
	sample := fields{"source_id": well, "tap": "wash tap", "sampled_at": "2026-06-01T08:00:00-04:00", "reported_at": "2026-06-03T08:00:00-04:00",
		"analyte": "generic E. coli", "method": "EPA 1603", "lab": "County lab", "result": fields{"qualifier": "<", "value": "1", "unit": "CFU/100mL"}}
	reading := fields{"source_id": well, "tap": "wash tap", "taken_at": "2026-06-01T08:00:00-04:00", "ppm": "60", "ph": "6.8"}
	for name, row := range map[string]struct {
		path          string
		body          fields
		pointer, hint string
	}{
		"a negative count":            {"water-tests", with(sample, "result", fields{"value": "-3", "unit": "CFU/100mL"}), "#/result/value", "write <"},
		"sampled after the report":    {"water-tests", with(sample, "reported_at", "2026-05-31T08:00:00-04:00"), "#/reported_at", "Correct"},
		"a tap of another source":     {"water-tests", with(sample, "tap", "kitchen tap"), "#/tap", "has no tap"},
		"ppm in the place of pH":      {"water-treatments", with(reading, "ph", "60"), "#/ph", "ppm"},
		"a treatment of another tap":  {"water-treatments", with(reading, "tap", "kitchen tap"), "#/tap", "has no tap"},
		"less than no sanitizer":      {"water-treatments", with(reading, "ppm", "-1"), "#/ppm", ""},
		"a sample of no known source": {"water-tests", with(sample, "source_id", newID(t)), "#/source_id", "no water source"},
	} {
		t.Run(name, func(t *testing.T) {
			x.unchanged(func() {
				a := x.post(domain.Owner, "/v1/"+row.path, row.body)
				a.t = t
				if detail := at(t, a.problem(http.StatusUnprocessableEntity, domain.CodeInvalid), row.pointer); !strings.Contains(detail, row.hint) {
					t.Errorf("%s says %q, want it to say %q", row.pointer, detail, row.hint)
				}
			})
		})
	}
}
