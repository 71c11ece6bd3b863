package report

import (
	"bytes"
	"strings"
	"testing"

	"croftmark/domain"
)

func planPaper(language string) PlanPaper {
	l := func(lat, lon string) domain.Location { return domain.Location{Lat: lat, Lon: lon} }
	at := l("36.0751", "-79.0992")
	made := domain.DateIn(testPaper("").Made, farmZone(domain.Farm{TimeZone: "America/New_York"}))
	return PlanPaper{Paper: testPaper(language), Farm: domain.Farm{Name: "Lower Meadow Farm", TimeZone: "America/New_York", Contact: "María Peña", ContactPhone: "919-555-0100"},
		Plots: []domain.Plot{{ID: id(1), Name: "Lower Meadow", Location: &at}, {ID: id(2), Name: "Hill"}},
		Beds: []domain.Bed{{Name: "L3", PlotID: id(1), Outline: []domain.Location{l("36.0752", "-79.0993"), l("36.0752", "-79.0985"), l("36.0756", "-79.0985"), l("36.0756", "-79.0993")}},
			{Name: "H1", PlotID: id(2)}, {Name: "Old One", PlotID: id(1), To: made.AddDays(-1)}},
		Crops: []domain.Crop{{Name: "Spinach", TraceabilityListItem: "Leafy greens (fresh)"}, {Name: "Potato", RarelyConsumedRaw: true}},
		Held:  []domain.PlanRecords{{Kind: "harvest-lot", Count: 41, First: made.AddDays(-200), Last: made.AddDays(-2)}}, HarvestCode: domain.LotCode(made, "L3", "Spinach", 1)}
}

func planBytes(t testing.TB, p PlanPaper) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := PlanPDF(&b, p); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func planText(t testing.TB, p PlanPaper) string {
	t.Helper()
	return strings.Join(strings.Fields(shownText(t, planBytes(t, p))), " ")
}

// The parts are those of 21 CFR 1.1315(a)(1) to (5) [verified: traceability reference 1.5]; (b) is there from memory and
// the paper says so.
func TestPlanPaperSaysWhatItMust(t *testing.T) {
	t.Parallel()
	p := planPaper("")
	for language, wants := range map[string][]string{
		"":   {"[memory] An earlier version is kept for 2 years", "Plot Hill has no coordinates", "For the farm to fill in", "whole plot", "harvesting", "Known gaps"},
		"es": {"[de memoria] Una versión anterior se guarda 2 años", "El terreno Hill no tiene coordenadas", "Para que la finca lo complete", "todo el terreno", "cosecha", "Vacíos conocidos"},
	} {
		p.Language = language
		text := planText(t, p)
		for _, want := range append(wants, "1.1315(a)(1)", "1.1315(a)(2)", "1.1315(a)(3)", "1.1315(a)(4)", "1.1315(a)(5)", "1.1315(b)", "Leafy greens (fresh)", "María Peña",
			"-79.0992", "36.0752", "ISO/IEC 7064", p.HarvestCode, "41") {
			if !strings.Contains(text, want) {
				t.Errorf("language %q: the plan does not say %q", language, want)
			}
		}
		for _, not := range []string{"Potato", "Old One"} {
			if strings.Contains(text, not) {
				t.Errorf("language %q: %s is named: it is not on the list, or no growing area any more", language, not)
			}
		}
	}
	if !bytes.Equal(planBytes(t, p), planBytes(t, p)) {
		t.Error("the same plan has other bytes")
	}
	english := planText(t, planPaper(""))
	for _, spanish := range []string{"Vacíos", "terreno", "cama"} {
		if strings.Contains(english, spanish) {
			t.Errorf("the English plan says %q", spanish)
		}
	}
	if strings.Contains(english, "112.4(a)") {
		t.Error("a farm whose status is not said is told of an exemption")
	}
	p = planPaper("")
	p.Farm.Exemption = "not-covered"
	if !strings.Contains(planText(t, p), "1.1305(a)(1)(i)") {
		t.Error("a farm that is not covered is not told that it may need no plan")
	}
}

func TestPlanPaperForNothing(t *testing.T) {
	t.Parallel()
	var b bytes.Buffer
	if err := PlanPDF(&b, PlanPaper{}); err == nil || b.Len() > 0 {
		t.Error("a plan of nobody is written")
	}
	text := planText(t, PlanPaper{Paper: testPaper("")})
	for _, want := range []string{"No map is drawn", "NOT ON RECORD", "Nobody is named as point of contact", "made up"} {
		if !strings.Contains(text, want) {
			t.Errorf("an empty plan does not say %q", want)
		}
	}
}

// Scale and direction of the map: a plot 100 m north of another stands above it, one 100 m east right of it, equally far.
// A degree of latitude is 111.32 km (WGS 84, common practice for maps of a few hundred meters).
func TestPlanMapIsToScale(t *testing.T) {
	t.Parallel()
	p := func(name, lat, lon string) domain.Plot {
		return domain.Plot{Name: name, Location: &domain.Location{Lat: lat, Lon: lon}}
	}
	// 100 m are 0.000898 degrees of latitude, and at 60 degrees north twice as many of longitude.
	d := planMap([]domain.Plot{p("A", "60", "10"), p("N", "60.000898", "10"), p("E", "60", "10.001797")}, nil, 500, false)
	var at []point
	for _, s := range d.shapes {
		if x, ok := s.(path); ok && x.closed && x.fill == black && len(x.points) == 4 {
			at = append(at, x.points[0])
		}
	}
	if len(at) != 3 {
		t.Fatalf("%d plots are drawn, not 3", len(at))
	}
	north, east := at[0].y-at[1].y, at[2].x-at[0].x
	if north <= 0 || east <= 0 || north/east < 0.99 || north/east > 1.01 {
		t.Errorf("100 m north are %.2f points up, 100 m east %.2f to the right", north, east)
	}
	if planMap([]domain.Plot{p("X", "NaN", "1"), p("Y", "", "")}, nil, 500, false) != nil {
		t.Error("a map of no coordinates is drawn")
	}
}
