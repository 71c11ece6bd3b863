package report

import (
	"fmt"
	"math"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/shopspring/decimal"

	"croftmark/domain"
)

func zone(t testing.TB, name string) *time.Location {
	t.Helper()
	z, err := domain.Zone(name)
	if err != nil {
		t.Fatal(err)
	}
	return z
}

func id(n byte) uuid.UUID { return uuid.UUID{15: n} }

var (
	maria, josue = id(1), id(2)
	people       = map[uuid.UUID]string{maria: "María Peña", josue: "Josué Ávila"}
)

func testPaper(language string) Paper {
	return Paper{
		Farm: "Lower Meadow Farm / Rancho El Ñandú", Address: "Orchard Lane 14, Hillsborough NC 27278", Language: language,
		Made:       time.Date(2026, 7, 2, 14, 5, 0, 0, time.UTC),
		Checkpoint: Checkpoint{"croftmark/7QK2", 4127, "Hq1c1v0vG2y0c1nQ8z0bZ5r5l6oH1b0F5y7K9xwJd3E="},
		People:     people,
		Signatures: Signatures{DoneBy: Signature{Name: "María Peña", On: domain.NewDate(2026, 6, 30)}},
	}
}

var start0 = domain.NewDate(2026, 4, 10)

func given(s string) domain.Number { return domain.Given(decimal.RequireFromString(s)) }

// windrow is a turned heap with five points over so many dates: heating up, hot, a date nobody read, a dip, a date over
// 170 °F, and cooling at the end.
func windrow(t testing.TB, days int) domain.CompostFacts {
	z := zone(t, "America/New_York")
	f := domain.CompostFacts{
		Method: domain.TurnedWindrow, StartedOn: start0, Zone: z, Ingredients: recipe(),
		Points: []domain.PointPlan{{Names: []string{"north top", "north mid", "south top", "south mid", "core"}}},
	}
	probes := f.Points[0].Names
	for day := range days {
		if day == 9 || day == 10 || day == 41 {
			continue
		}
		for k, probe := range probes {
			if day == 30 && k == 3 {
				continue
			}
			heat := 150 - 62*math.Exp(-float64(day)/2.2) - 0.9*float64(max(0, day-34)) + 4*math.Sin(float64(day*(k+2))) + float64(k)
			if day == 16 {
				heat -= 18
			}
			if day == 20 && k == 4 {
				heat = 174
			}
			f.Readings = append(f.Readings, domain.CompostReading{
				TakenAt: start0.AddDays(day).In(z).Add(8*time.Hour + time.Duration(k*4)*time.Minute), Probe: probe,
				Temperature: domain.Q(fmt.Sprintf("%.1f", heat), "degF"),
			})
		}
	}
	for _, day := range []int{5, 14, 22, 25, 28, 31, 33, 44} {
		if day < days {
			f.Turnings = append(f.Turnings, domain.CompostTurning{ID: id(byte(30 + day)), TurnedAt: start0.AddDays(day).In(z).Add(10 * time.Hour),
				Habits: domain.Habits{DoneBy: josue}})
		}
	}
	return f
}

func recipe() []domain.Ingredient {
	return []domain.Ingredient{
		{Feedstock: "cattle manure", Amount: domain.Q("3.5", "yd3")},
		{Feedstock: "straw", Amount: domain.Q("1250", "lb"), MoisturePct: given("12"), NitrogenPct: given("0.7"), CarbonNitrogen: given("80")},
		{Feedstock: "old hay from Peña's barn", Amount: domain.Q("400", "lb"), MoisturePct: given("14"), NitrogenPct: given("2.1"), CarbonPct: given("45")},
		{Feedstock: "water", Amount: domain.Q("180", "gal"), MoisturePct: given("100"), Density: given("1685")},
	}
}

// fullBatch is a batch in which everything happened.
func fullBatch(t testing.TB) domain.CompostFacts {
	f := windrow(t, 60)
	z := f.Zone
	f.Additions = []domain.CompostAddition{
		{ID: id(60), AddedAt: start0.AddDays(7).In(z).Add(11 * time.Hour), Ingredient: domain.Ingredient{Feedstock: "water", Amount: domain.Q("60", "gal")}, Habits: domain.Habits{DoneBy: josue}},
		{ID: id(61), AddedAt: start0.AddDays(12).In(z).Add(15 * time.Hour), Ingredient: domain.Ingredient{Feedstock: "cattle manure", Amount: domain.Q("0.5", "yd3")},
			CarbonNitrogen: given("29.4"), Habits: domain.Habits{DoneBy: maria, LateReason: "Found in the pocket notebook a week later", Note: "One loader bucket"}},
	}
	f.Curings = []domain.CompostCuring{{ID: id(62), StartedOn: start0.AddDays(46), FinishedOn: start0.AddDays(78), Habits: domain.Habits{DoneBy: maria, Note: "Under a breathable cover"}}}
	f.LabTests = []domain.CompostLabTest{
		{ID: id(63), SampledOn: start0.AddDays(70), Analyte: domain.FecalColiform, Result: domain.LabResult{Value: given("1000"), Qualifier: "<", Unit: "MPN/g"}, Habits: domain.Habits{DoneBy: maria}},
		{ID: id(64), SampledOn: start0.AddDays(70), Analyte: domain.Salmonella, Result: domain.LabResult{Qualifier: "<", Value: given("3"), Unit: "MPN/4 g"}},
		{ID: id(65), SampledOn: start0.AddDays(70), Analyte: domain.Listeria, Result: domain.LabResult{Detected: new(bool)}},
	}
	f.ProbeOffsets = []domain.ProbeOffset{{Probe: "core", From: start0.AddDays(2).In(z), ReadHigh: domain.Q("1.5", "degF")}}
	f.ProbeAccuracy = domain.Q("2", "degF")
	v := start0.AddDays(18).In(z).Add(7 * time.Hour)
	f.Readings = append(f.Readings, domain.CompostReading{TakenAt: v, Probe: "north mid", Temperature: domain.Q("98", "degF"),
		Void: &domain.ReadingVoid{Reason: "Tip was outside the heap", By: maria, SecondPerson: josue}})
	f.Readings[3].FromMemory = true
	return f
}

func compostPaper(f domain.CompostFacts, language string) CompostPaper {
	on := start0.AddDays(80)
	p := CompostPaper{
		Paper: testPaper(language),
		Batch: domain.CompostBatch{ID: id(9), Code: "C-2026-03", Method: f.Method, StartedOn: f.StartedOn, Ingredients: f.Ingredients, Points: f.Points,
			Habits: domain.Habits{DoneBy: josue, Note: "Built on the concrete pad, 60 ft from the well"}},
		Mix: domain.MixOf(f.Ingredients), Facts: f, On: on,
		Results: domain.CheckCompost(f, on), Standing: f.StandingOn(on, domain.CompostSets...),
	}
	return p
}

// well is a ground source with two taps, a failure with its stop, correction and four retests, a change of supply, and a
// pending sample.
func well(t testing.TB) domain.WaterFacts {
	z := zone(t, "America/New_York")
	at := func(y int, m time.Month, d, hour int) time.Time { return time.Date(y, m, d, hour, 0, 0, 0, z) }
	f := domain.WaterFacts{Zone: z, Size: domain.FarmSmall, Source: domain.WaterSource{
		ID: id(100), Name: "Pozo Nº 1 (north well)", Is: domain.WaterUntreatedGround, From: at(2024, 3, 1, 0),
		Uses: []domain.WaterUse{domain.UseIrrigationTouching, domain.UseWashing, domain.UseHands, domain.UseIce},
		Points: []domain.WaterPoint{{Use: domain.UseWashing, Tap: "Wash tap"}, {Use: domain.UseIce, Tap: "Wash tap"},
			{Use: domain.UseHands, Tap: "Field hydrant"}, {Use: domain.UseIrrigationTouching, Tap: "Field hydrant"}},
		Habits: domain.Habits{Note: "Drilled 1998, 140 ft, cap replaced 2021"},
	}}
	n := byte(101)
	test := func(when time.Time, tap, qualifier, value string) {
		x := domain.WaterTest{ID: id(n), SourceID: id(100), Tap: tap, SampledAt: when, StartedAt: when.Add(5 * time.Hour), ReportedAt: when.Add(50 * time.Hour),
			Analyte: "generic E. coli", Method: "SM 9223 B", Lab: "Piedmont Water Lab", Habits: domain.Habits{DoneBy: maria}}
		if value != "" {
			x.Result = &domain.WaterResult{Qualifier: qualifier, Value: decimal.RequireFromString(value), Unit: "MPN/100mL"}
		} else {
			x.ReportedAt = time.Time{}
		}
		f.Tests = append(f.Tests, x)
		n++
	}
	for _, tap := range []string{"Wash tap", "Field hydrant"} {
		for _, m := range []time.Month{4, 6, 8, 10} {
			test(at(2024, m, 12, 8), tap, "<", "1")
		}
		test(at(2025, 9, 30, 8), tap, "<", "1")
	}
	test(at(2026, 3, 4, 9), "Wash tap", "", "8.5")
	for _, d := range []int{12, 13, 14, 16} {
		test(at(2026, 3, d, 9), "Wash tap", "<", "1")
	}
	for _, d := range []int{12, 13} {
		test(at(2026, 3, d, 9), "Field hydrant", "<", "1")
	}
	test(at(2026, 6, 20, 9), "Field hydrant", "", "")
	test(at(2026, 6, 22, 9), "Wash tap", "<", "10")
	f.Actions = []domain.WaterAction{
		{ID: id(150), At: at(2026, 3, 6, 15)},
		{ID: id(151), At: at(2026, 3, 10, 12), Corrective: true},
	}
	f.Changes = []domain.WaterSupplyChange{{ID: id(152), Tap: "Field hydrant", At: at(2025, 5, 2, 7)}}
	in, out := true, false
	f.Monitoring = []domain.WaterMonitoring{{ID: id(153), Tap: "Wash tap", At: at(2026, 4, 1, 8), InRange: &in}, {ID: id(154), Tap: "Wash tap", At: at(2026, 4, 2, 8), InRange: &out}, {ID: id(155), Tap: "Wash tap", At: at(2026, 4, 3, 8)}}
	f.Assessments = []domain.WaterAssessment{{ID: id(156), MadeOn: domain.NewDate(2026, 2, 1), Outcome: "mitigate"}}
	return f
}

func waterPaper(f domain.WaterFacts, language string) WaterPaper {
	return WaterPaper{Paper: testPaper(language), Facts: f, At: time.Date(2026, 7, 1, 12, 0, 0, 0, time.UTC), Acts: map[uuid.UUID]WaterAct{
		id(150): {By: josue, Said: "Told by the lab on the phone; hydrant and wash tap taped off"},
		id(151): {By: maria, Said: "Cracked cap found and replaced; well shocked with chlorine, flushed"},
	}}
}
