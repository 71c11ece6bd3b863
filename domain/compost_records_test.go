package domain_test

import (
	"errors"
	"testing"

	"croftmark/domain"
)

func TestCompostRecordsCheckThemselves(t *testing.T) {
	t.Parallel()
	today := nth(30)
	reading := domain.CompostReading{TakenAt: at(1, 8), Probe: "core", Temperature: domain.Q("131", "degF")}
	with := func(change func(*domain.CompostReading)) *domain.CompostTemperatures {
		r := reading
		change(&r)
		return &domain.CompostTemperatures{Readings: []domain.CompostReading{r}}
	}
	for _, tt := range []struct {
		name   string
		record domain.Record
		want   string // pointer of the one wrong field
	}{
		{"good reading", with(func(*domain.CompostReading) {}), ""},
		{"0 degC is a reading", with(func(r *domain.CompostReading) { r.Temperature = domain.Q("0", "degC") }), ""},
		{"1310 for 131.0", with(func(r *domain.CompostReading) { r.Temperature = domain.Q("1310", "degF") }), "#/readings/0/temperature"},
		{"in pounds", with(func(r *domain.CompostReading) { r.Temperature = domain.Q("131", "lb") }), "#/readings/0/temperature"},
		{"no spot", with(func(r *domain.CompostReading) { r.Probe = "" }), "#/readings/0/probe"},
		{"next year", with(func(r *domain.CompostReading) { r.TakenAt = at(400, 8) }), "#/readings/0/taken_at"},
		{"no readings", &domain.CompostTemperatures{}, "#/readings"},
		{"turning without a time", &domain.CompostTurning{}, "#/turned_at"},
		{"good turning", &domain.CompostTurning{TurnedAt: at(3, 8)}, ""},
		{"curing backwards", &domain.CompostCuring{StartedOn: nth(5), FinishedOn: nth(4)}, "#/finished_on"},
		{"method unknown", &domain.CompostBatch{Code: "C-1", Method: "heap", StartedOn: nth(1),
			Ingredients: []domain.Ingredient{{Feedstock: "x", Amount: domain.Q("1", "lb")}}}, "#/method"},
		{"nothing in it", &domain.CompostBatch{Code: "C-1", Method: domain.Passive, StartedOn: nth(1)}, "#/ingredients"},
		{"lab test in CFU", &domain.CompostLabTest{SampledOn: nth(1), Analyte: domain.FecalColiform, Result: domain.LabResult{Value: num("1"), Unit: "CFU/g"}}, "#/result/unit"},
	} {
		err := domain.CheckRecord(tt.record, today, newYork)
		if tt.want == "" {
			if err != nil {
				t.Errorf("%s: %v", tt.name, err)
			}
			continue
		}
		var e *domain.Error
		if !errors.As(err, &e) || len(e.Fields) != 1 || e.Fields[0].Pointer != tt.want {
			t.Errorf("%s: %v, want %s", tt.name, err, tt.want)
		}
	}
}
