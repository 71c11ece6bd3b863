package domain

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
)

// CompostContamination is something that got at finished compost: from that day it is untreated (21 CFR 112.51(b)(2)).
type CompostContamination struct {
	ID      uuid.UUID `json:"id,omitzero" format:"uuid"`
	BatchID uuid.UUID `json:"compost_batch_id,omitzero" format:"uuid"`
	On      Date      `json:"on" format:"date"`
	What    string    `json:"kind" enum:"run-off,animals,unclean-tools,other"`
	Habits
}

func (x *CompostContamination) Kind() string         { return "compost-contamination" }
func (x *CompostContamination) Identity() *uuid.UUID { return &x.ID }
func (x *CompostContamination) DoneOn() Date         { return x.On }

func (x *CompostContamination) Check(today Date, p *Problems) {
	checkDay(p, "/on", x.On, today)
	checkOneOf(p, "/kind", x.What, "run-off", "animals", "unclean-tools", "other")
	p.Check(x.What != "other" || x.Note != "", "/note", "Say what happened.")
}

var contaminationWords = map[string]LocalText{
	"run-off":       {"Run-off reached the heap", "Escurrimiento llegó a la pila"},
	"animals":       {"Animals were on the heap", "Hubo animales en la pila"},
	"unclean-tools": {"Unclean tools were used on the heap", "Se usaron herramientas sucias en la pila"},
	"other":         {"The heap was soiled", "La pila se contaminó"},
}

// Fact gives the contamination as the process check reads it.
func (x *CompostContamination) Fact() Contamination {
	return Contamination{On: x.On, What: contaminationWords[x.What]}
}

// ProbeFault says that a probe was found to read wrong from an instant on. Every batch read with it is judged again.
type ProbeFault struct {
	ID uuid.UUID `json:"id,omitzero" format:"uuid"`
	// Name is the probe's as the readings give it, in whatever case; empty means every probe.
	Name string `json:"probe" maxLength:"120"`
	// From is the last time the probe was known to be right.
	From time.Time `json:"from"`
	// ReadHigh is by how much it reads too high; negative: too low; zero: put right.
	ReadHigh Quantity `json:"read_high"`
	Reason   string   `json:"reason" maxLength:"1000"`
	Habits
}

func (x *ProbeFault) Kind() string         { return "probe-fault" }
func (x *ProbeFault) Identity() *uuid.UUID { return &x.ID }
func (x *ProbeFault) DoneOn() Date         { return Date{} }

func (x *ProbeFault) Check(today Date, p *Problems) {
	checkText(p, "/probe", x.Name, 120)
	checkHour(p, "/from", x.From, today)
	checkReason(p, "/reason", x.Reason)
	if m, ok := MeasureOf(x.ReadHigh.Unit); !ok || m != Temperature {
		p.Add("/read_high/unit", "Give the difference in degF or degC.")
	}
	if x.ReadHigh.Value.Abs().IntPart() > 100 {
		p.Add("/read_high/value", "%s degrees off is a broken probe: void its readings instead.", x.ReadHigh.Value)
	}
}

// Warnings says that no heap was read with a probe of that name, given the probes that heaps were read with since.
func (x *ProbeFault) Warnings(since []string) []string {
	named := ProbeOffset{Probe: x.Name}
	if slices.ContainsFunc(since, named.concerns) {
		return nil
	}
	if len(since) == 0 {
		return []string{"No heap was read since then, so this changes no batch yet."}
	}
	return []string{fmt.Sprintf("No heap was read since then with a probe called %q, so this changes no batch. Heaps were read with %s: if it was one of them, correct the name.",
		x.Name, strings.Join(since, ", "))}
}

// Fact gives the fault as the process check reads it.
func (x *ProbeFault) Fact() ProbeOffset {
	return ProbeOffset{Probe: x.Name, From: x.From, ReadHigh: x.ReadHigh}
}

// CertifierAnswer is what the certifier has agreed to in writing about how compost is judged, where the rule is silent.
// Without a document only stricter readings count.
type CertifierAnswer struct {
	ID                    uuid.UUID `json:"id,omitzero" format:"uuid"`
	AgreedOn              Date      `json:"agreed_on" format:"date"`
	Document              string    `json:"document" maxLength:"300" doc:"Where the letter is: name, number, page."`
	GapDaysAllowed        int       `json:"gap_days_allowed,omitempty" minimum:"0" maximum:"15"`
	CorePoints            []string  `json:"core_points,omitempty" maxItems:"100"`
	IgnoreDipAfterTurning bool      `json:"ignore_dip_after_turning,omitempty"`
	ElapsedHours          bool      `json:"elapsed_hours,omitempty"`
	DaysBetweenTurnings   int       `json:"days_between_turnings,omitempty" minimum:"0" maximum:"15"`
	GuardBand             bool      `json:"guard_band,omitempty"`
	Habits
}

func (x *CertifierAnswer) Kind() string         { return "certifier-answer" }
func (x *CertifierAnswer) Identity() *uuid.UUID { return &x.ID }
func (x *CertifierAnswer) DoneOn() Date         { return x.AgreedOn }

func (x *CertifierAnswer) Check(today Date, p *Problems) {
	checkDay(p, "/agreed_on", x.AgreedOn, today)
	checkReason(p, "/document", x.Document)
	p.Check(x.GapDaysAllowed >= 0 && x.GapDaysAllowed <= 15, "/gap_days_allowed", "Between 0 and 15 days.")
	p.Check(x.DaysBetweenTurnings >= 0 && x.DaysBetweenTurnings <= 15, "/days_between_turnings", "Between 0 and 15 days.")
}

// Fact gives the answer as the process check reads it.
func (x *CertifierAnswer) Fact() CertifierSettings {
	return CertifierSettings{AgreedOn: x.AgreedOn, Document: x.Document, GapDaysAllowed: x.GapDaysAllowed, CorePoints: x.CorePoints,
		IgnoreDipAfterTurning: x.IgnoreDipAfterTurning, ElapsedHours: x.ElapsedHours, DaysBetweenTurnings: x.DaysBetweenTurnings, GuardBand: x.GuardBand}
}

// CompostPlan is what the farm's own plan says about its compost.
type CompostPlan struct {
	CuringDaysMin   int      `json:"curing_days_min,omitempty" minimum:"0" maximum:"365" doc:"The rule names no number; 30 when left out."`
	ReviewBeforeUse bool     `json:"review_before_use,omitempty" doc:"The supervisor signs the batch before it counts as treated."`
	ProbeAccuracy   Quantity `json:"probe_accuracy,omitzero"`
}

// BatchOf names the batch an event belongs to.
func (x *CompostTemperatures) BatchOf() *uuid.UUID  { return &x.BatchID }
func (x *CompostTurning) BatchOf() *uuid.UUID       { return &x.BatchID }
func (x *CompostAddition) BatchOf() *uuid.UUID      { return &x.BatchID }
func (x *CompostCuring) BatchOf() *uuid.UUID        { return &x.BatchID }
func (x *CompostLabTest) BatchOf() *uuid.UUID       { return &x.BatchID }
func (x *CompostContamination) BatchOf() *uuid.UUID { return &x.BatchID }

// Add puts a record of the book among the facts of a batch. Records that say nothing about compost are left out.
func (b *CompostFacts) Add(r Record) error {
	switch r := r.(type) {
	case *Farm:
		return b.addFarm(r)
	case *CompostBatch:
		b.Method, b.StartedOn, b.Ingredients, b.Points = r.Method, r.StartedOn, r.Ingredients, r.Points
	case *CompostTemperatures:
		b.Readings = append(b.Readings, r.Readings...)
	case *CompostTurning:
		b.Turnings = append(b.Turnings, *r)
	case *CompostAddition:
		b.Additions = append(b.Additions, *r)
	case *CompostCuring:
		b.Curings = append(b.Curings, *r)
	case *CompostLabTest:
		b.LabTests = append(b.LabTests, *r)
	case *CompostContamination:
		b.Contaminations = append(b.Contaminations, r.Fact())
	case *ProbeFault:
		b.ProbeOffsets = append(b.ProbeOffsets, r.Fact())
	case *CertifierAnswer:
		b.Certifier = append(b.Certifier, r.Fact())
	}
	return nil
}

func (b *CompostFacts) addFarm(f *Farm) (err error) {
	if b.Zone, err = Zone(f.TimeZone); err != nil {
		return err
	}
	if plan := f.Compost; plan != nil {
		b.CuringDaysMin, b.ReviewBeforeUse, b.ProbeAccuracy = plan.CuringDaysMin, plan.ReviewBeforeUse, plan.ProbeAccuracy
	}
	return nil
}

// CheckEventDays notes an event dated before its batch was built.
func CheckEventDays(p *Problems, e Record, built Date, zone *time.Location) {
	early := func(pointer string, d Date) {
		p.Check(!d.Before(built), pointer, "%s is before the batch was built on %s.", d, built)
	}
	switch e := e.(type) {
	case *CompostTemperatures:
		for i, r := range e.Readings {
			early("/readings/"+itoa(i)+"/taken_at", DateIn(r.TakenAt, zone))
		}
	case *CompostTurning:
		early("/turned_at", DateIn(e.TurnedAt, zone))
	case *CompostAddition:
		early("/added_at", DateIn(e.AddedAt, zone))
	case *CompostCuring:
		early("/started_on", e.StartedOn)
	case *CompostLabTest:
		early("/sampled_on", e.SampledOn)
	case *CompostContamination:
		early("/on", e.On)
	}
}

// IsBiosolids recognises sewage sludge and human waste by the names they go by.
func IsBiosolids(feedstock string) bool {
	name := strings.ToLower(strings.Join(strings.Fields(feedstock), " "))
	for _, word := range []string{"biosolid", "biosólido", "sewage", "lodo", "septage", "humanure", "night soil", "nightsoil", "human waste", "human manure", "excremento humano"} {
		if strings.Contains(name, word) {
			return true
		}
	}
	return false
}
