package domain

import (
	"maps"
	"slices"
)

// StandingStep says how a batch stands from a day on, until the next step. An application looks up the step of its own
// day; nothing of the heat needs to be read again for that.
type StandingStep struct {
	From     Date                `json:"from,omitzero"`
	Standing Standing            `json:"standing"`
	Sets     map[string]Standing `json:"sets"`
	Why      LocalText           `json:"why"`
	// Prohibited says that sewage sludge or human waste is in it, which is never organic.
	Prohibited bool `json:"prohibited,omitempty"`
}

// StandingSteps gives the standing of the batch over all days, from the records known now. It can only change on the
// day the batch was built, when something got into it, when curing ended, when a sample was drawn, when it was signed or
// read after that; between those days it stays, because heat alone makes nothing treated before its curing has ended.
func (b CompostFacts) StandingSteps() []StandingStep {
	var out []StandingStep
	for _, day := range b.changeDays() {
		s := b.StandingOn(day)
		step := StandingStep{From: day, Standing: s.Standing, Sets: s.Sets, Why: s.why(), Prohibited: b.biosolidsBy(day)}
		if n := len(out); n == 0 || !sameStep(out[n-1], step) {
			out = append(out, step)
		}
	}
	if len(out) > 0 {
		out[0].From = Date{} // before it was built it was not treated either
	}
	return out
}

// why gives the words of the strictest set.
func (s CompostStanding) why() LocalText {
	for _, r := range s.Reasons {
		if (r.Verdict == Caution) == (s.Standing == Untreated) {
			return LocalText{En: r.Text, Es: r.TextEs}
		}
	}
	return LocalText{}
}

func sameStep(a, b StandingStep) bool {
	return a.Standing == b.Standing && maps.Equal(a.Sets, b.Sets) && a.Why == b.Why && a.Prohibited == b.Prohibited
}

// changeDays lists the days on which the standing may change, in order.
func (b *CompostFacts) changeDays() []Date {
	days := map[Date]bool{b.StartedOn: true}
	add := func(d Date) {
		if d.After(b.StartedOn) {
			days[d], days[d.AddDays(1)] = true, true
		}
	}
	for _, x := range b.Curings {
		add(x.StartedOn)
		add(x.FinishedOn)
	}
	for _, x := range b.Additions {
		add(DateIn(x.AddedAt, b.zone()))
	}
	for _, x := range b.Joins {
		add(DateIn(x.JoinedAt, b.zone()))
	}
	for _, x := range b.Contaminations {
		add(x.On)
	}
	for _, x := range b.LabTests {
		add(x.SampledOn)
	}
	for _, x := range b.Certifier {
		add(x.AgreedOn)
	}
	if !b.ReviewedAt.IsZero() {
		add(DateIn(b.ReviewedAt, b.zone()))
		add(b.readAfterReview())
	}
	return slices.SortedFunc(maps.Keys(days), func(a, c Date) int { return a.DaysSince(c) })
}

// readAfterReview is the day of the first reading that the signature does not cover, where the plan asks for one: from
// then on it must be signed again.
func (b *CompostFacts) readAfterReview() Date {
	if b.ReviewBeforeUse {
		for _, r := range b.heatReadings(Date{}) {
			if !r.at.Before(b.ReviewedAt) {
				return r.date
			}
		}
	}
	return Date{}
}

// StepOn gives the step in force on a day.
func StepOn(steps []StandingStep, on Date) StandingStep {
	current := StandingStep{Standing: Untreated, Why: LocalText{"The batch has not been judged.", "El lote no ha sido juzgado."}}
	for _, s := range steps {
		if s.From.After(on) {
			break
		}
		current = s
	}
	return current
}

// BatchExposure makes what the ground remembers of an application of the farm's own compost, by the batch's standing on
// that day: a batch that turns out not to count makes each application raw manure from the application's own date. One
// with sewage sludge in it is that under every set but the organic one, which prohibits it (7 CFR 205.105(g)).
func (x *Application) BatchExposure(batch *CompostBatch, steps []StandingStep) Exposure {
	step := StepOn(steps, x.AppliedOn)
	e := Exposure{
		Record: RecordRef{"application", x.ID}, What: "Own compost " + batch.Code, WhatEs: "Compost propio " + batch.Code, On: x.AppliedOn, ClockStart: x.IncorporatedOn,
		TouchedCrop: x.TouchedCrop, Standing: step.Standing, Supplier: "own farm", CutBefore: x.CutBefore,
		Material: compostMaterial(step.Standing), Materials: map[string]Material{},
	}
	if step.Standing == Untreated {
		e.Why = step.Why
	}
	for set, s := range step.Sets {
		e.Materials[set] = compostMaterial(s)
	}
	if step.Prohibited {
		e.Materials[OrganicSet] = MaterialProhibited
	}
	return e
}

func compostMaterial(s Standing) Material {
	switch s {
	case Treated:
		return MaterialTreated
	case PlantOnly:
		return MaterialPlantOnly
	}
	return MaterialRaw
}
