package domain

import "slices"

// curingDaysMin where the farm gave no figure of its own [convention]; the rule asks for adequate curing and names no
// number (calculations reference 2.4).
const curingDaysMin = 30

// CuringState is how far curing got. Days count from the later of its first day and the day the heat was met.
type CuringState struct {
	StartedOn  Date      `json:"started_on,omitzero"`
	FinishedOn Date      `json:"finished_on,omitzero"`
	Days       int       `json:"days"`
	DaysNeeded int       `json:"days_needed"`
	Done       bool      `json:"done"`
	Said       LocalText `json:"said"`
}

// curingAfter judges the curing that follows the heat, as of a day (zero: everything on file). Curing that is still
// going on is not done, however long it has lasted.
func (b *CompostFacts) curingAfter(met, on Date) CuringState {
	s := CuringState{DaysNeeded: curingDaysMin}
	if b.CuringDaysMin > 0 {
		s.DaysNeeded = b.CuringDaysMin
	}
	s.Said = say("Curing is not on file; it is part of the process.", "El curado no está anotado; es parte del proceso.")
	if met.IsZero() {
		return s
	}
	for _, x := range b.Curings {
		if !on.IsZero() && x.StartedOn.After(on) {
			continue
		}
		if one := x.after(met, on, b.reheatedBy(on), s.DaysNeeded); one.better(s) {
			s = one
		}
	}
	return s
}

// reheatedBy is the end of the last curing in which the heap warmed up again, of those begun by a day; zero without one.
// What was cured until then was not cured enough, and only a later curing makes it so (21 CFR 112.54(b): adequate curing;
// calculations reference 2.4: until it no longer reheats).
func (b *CompostFacts) reheatedBy(on Date) (last Date) {
	for _, x := range b.Curings {
		if x.Reheated && (on.IsZero() || !x.StartedOn.After(on)) {
			last = Later(last, Later(x.StartedOn, x.FinishedOn))
		}
	}
	return last
}

func (x CompostCuring) after(met, on, reheated Date, needed int) CuringState {
	s := CuringState{StartedOn: x.StartedOn, FinishedOn: x.FinishedOn, DaysNeeded: needed}
	begun := Later(x.StartedOn, met)
	if s.FinishedOn.IsZero() || (!on.IsZero() && s.FinishedOn.After(on)) {
		s.FinishedOn = Date{}
		s.Said = say("Curing since %s; its end is not on file.", "Curado desde el %s; no está anotado el final.", x.StartedOn)
		return s
	}
	s.Days = max(0, s.FinishedOn.DaysSince(begun))
	switch {
	case x.Reheated || !s.FinishedOn.After(reheated):
		s.Said = say("The heap warmed up again after curing: it is not done.", "La pila se volvió a calentar después del curado: no está lista.")
	case s.Days < needed:
		s.Said = say("Cured %d days after the heat; the farm's figure is %d.", "Curado %d días después del calor; la cifra de la finca es %d.", s.Days, needed)
	default:
		s.Done = true
		s.Said = say("Cured from %s to %s, %d days.", "Curado del %s al %s, %d días.", begun, s.FinishedOn, s.Days)
	}
	return s
}

// better prefers curing that is done, then the earlier end, then the later start.
func (s CuringState) better(o CuringState) bool {
	switch {
	case s.Done != o.Done:
		return s.Done
	case s.Done:
		return s.FinishedOn.Before(o.FinishedOn)
	}
	return !s.StartedOn.Before(o.StartedOn)
}

// CompostStanding is the standing of a batch on a day, for the strictest of the adopted sets and for each of them.
type CompostStanding struct {
	Standing Standing
	Sets     map[string]Standing
	Reasons  []Reason // Clear or Caution: the harvest rules decide what an untreated batch means for a bed
}

// StandingOn gives the standing of the batch on a day, from all the book knows now: a reading corrected today changes
// what was treated last month. Treated needs heat met, cured, and neither fresh material nor dirt since, all by that
// day; a failed lab sample of the same heap takes it away even for the days before the sample. Sets that say nothing
// about compost are left out; with none left, both that do are judged.
//
// Curing is asked under the organic set too: its text is silent on curing, step 8 of 2.4 asks it of every batch, and
// the stricter reading holds.
func (b CompostFacts) StandingOn(on Date, sets ...string) CompostStanding {
	rules := slices.DeleteFunc(rulesOf(sets), func(r *compostRule) bool { return r.picture })
	if len(rules) == 0 {
		rules = rulesOf(CompostSets)
	}
	out := CompostStanding{Standing: Treated, Sets: map[string]Standing{}}
	for _, rule := range rules {
		standing, reason := newCompostCase(&b, rule, on).standing()
		out.Sets[rule.set] = standing
		out.Reasons = append(out.Reasons, reason)
	}
	for _, s := range out.Sets {
		if stricterStanding(s, out.Standing) {
			out.Standing = s
		}
	}
	return out
}

// stricterStanding: untreated before all; a heap of plants is what it is under every set.
func stricterStanding(a, b Standing) bool {
	return a == Untreated && b != Untreated || a == PlantOnly && b == Treated
}

func (c *compostCase) standing() (Standing, Reason) {
	if failed := c.laterFailure(); failed != nil {
		return c.untreated(failed.why)
	}
	if c.facts.biosolidsBy(c.on) {
		return c.untreated(say("Sewage sludge or human waste went in, and no heat makes that compost: it is never organic, and on produce only as 40 CFR part 503 allows.",
			"Entraron lodos cloacales o excremento humano, y ningún calor lo hace composta: nunca es orgánico, y en alimentos solo como permite 40 CFR parte 503."))
	}
	if c.plantOnly() {
		return PlantOnly, c.reason(Clear, say("Only plant material went in; no heat is asked for.", "Solo entró material vegetal; no se exige calor."))
	}
	if !c.on.IsZero() && c.on.Before(c.facts.StartedOn) {
		return c.untreated(say("The batch was not built yet.", "El lote aún no existía."))
	}
	r := c.result()
	switch {
	case r.Outcome != ProcessMet:
		return c.untreated(firstSaid(r))
	case !r.Curing.Done:
		return c.untreated(r.Curing.Said)
	case c.facts.ReviewBeforeUse && r.Release != Released:
		return c.untreated(say("The supervisor has not reviewed it.", "El supervisor no lo ha revisado."))
	}
	return Treated, c.reason(Clear, say("Heat met on %s; cured until %s.", "Calor cumplido el %s; curado hasta el %s.", r.MetOn, r.Curing.FinishedOn))
}

func firstSaid(r ProcessResult) LocalText {
	if len(r.Reasons) == 0 {
		return say("The process is not met.", "El proceso no está cumplido.")
	}
	return LocalText{En: r.Reasons[0], Es: r.ReasonsEs[0]}
}

func (c *compostCase) untreated(why LocalText) (Standing, Reason) {
	return Untreated, c.reason(Caution, LocalText{En: "Untreated: " + why.En, Es: "Sin tratar: " + why.Es})
}

func (c *compostCase) reason(v Verdict, t LocalText) Reason {
	return Reason{Rule: c.rule.set + ".compost", Authority: Law, Citation: c.rule.citation, Verdict: v, Text: t.En, TextEs: t.Es}
}

// plantOnly reports that everything put in by the day of judging is certainly of plants, and that no animal, run-off or
// dirty tool got at it: a soiled heap must go through the heat like manure.
func (c *compostCase) plantOnly() bool {
	for _, r := range c.restarts() {
		if r.soiled && c.past(r.on) {
			return false
		}
	}
	in := append([]Ingredient{}, c.facts.Ingredients...)
	for _, a := range c.facts.Additions {
		if c.past(c.dateOf(a.AddedAt)) && a.Restarts() {
			in = append(in, a.Ingredient)
		}
	}
	for _, j := range c.facts.Joins {
		if c.past(c.dateOf(j.JoinedAt)) && j.Other != PlantOnly {
			return false
		}
	}
	return OriginOfAll(in) == OriginPlant
}

// biosolidsBy reports whether sewage sludge or human waste had gone into the heap by a day (zero: ever). It is prohibited
// in organic growing (7 CFR 205.105(g)), and on produce allowed as biosolids under 40 CFR part 503 only (21 CFR 112.53),
// which no record of a heap shows.
func (b *CompostFacts) biosolidsBy(on Date) bool {
	return slices.ContainsFunc(b.Ingredients, Ingredient.IsBiosolids) || slices.ContainsFunc(b.Additions, func(a CompostAddition) bool {
		return a.Ingredient.IsBiosolids() && (on.IsZero() || !DateIn(a.AddedAt, b.zone()).After(on))
	})
}

// laterFailure finds a failed lab sample taken after the day of judging from the same heap: nothing new came in
// between, so the heap was not treated on that day either.
func (c *compostCase) laterFailure() *restart {
	for _, r := range c.restarts() {
		if c.past(r.on) {
			continue
		}
		if r.failedLab {
			return &r
		}
		return nil
	}
	return nil
}
