package domain

import (
	"fmt"
	"slices"
	"time"
)

// daysWithoutRecord after which a heap nobody reads or turns is no longer running [convention].
const daysWithoutRecord = 14

// longestGapShown is how many dates in a row without a reading get a row each in the day table.
const longestGapShown = 31

func (c *compostCase) result() ProcessResult {
	last, from := c.lastRestart()
	t := c.tally(from, Date{})
	r := ProcessResult{
		Set: c.rule.set, Picture: c.rule.picture, CountedDays: append([]Date{}, t.run...), TurningsCounted: len(t.turnings),
		TimeMetOn: t.metOn, ElapsedHours: t.hours, Release: NotReleased,
		Days: c.dayTable(last, t), Turnings: c.turningTable(last, t),
	}
	ratio := c.startingRatio(last)
	r.Missing, r.Cautions = c.missing(t, ratio), c.cautions(t)
	r.Curing = c.facts.curingAfter(t.metOn, c.on)
	c.conclude(&r, last, t, ratio)
	return r
}

// conclude sets outcome, release and the reasons.
func (c *compostCase) conclude(r *ProcessResult, last restart, t heatTally, ratio Figure) {
	var said []LocalText
	if !last.on.IsZero() {
		said = append(said, last.why)
	}
	r.Outcome = ProcessRunning
	switch {
	case t.method == Worms || t.method == Passive:
		r.Outcome, r.AskCertifier, r.Missing = ProcessNotMet, true, nil
		said = append(said, say("Neither rule counts this method by days of heat. Your certifier may accept it under NOP 5021 in your organic plan; until that is on file it is untreated.",
			"Ninguna de las reglas cuenta este método por días de calor. Su certificadora puede aceptarlo según NOP 5021 en su plan orgánico; hasta tenerlo por escrito está sin tratar."))
	case c.ratioRefused(t, ratio):
		r.Outcome, r.AskCertifier = ProcessNotMet, true
		said = append(said, c.ratioText(ratio))
	case !t.metOn.IsZero():
		r.Outcome, r.MetOn = ProcessMet, t.metOn
		said = append(said, c.metText(t))
	case c.heatOver(t):
		r.Outcome, r.AskCertifier = ProcessNotMet, c.rule.certifier
		said = append(said, say("The hot phase is over and the rule was not met.", "La fase caliente terminó y no se cumplió la regla."))
	}
	if t.metOn.IsZero() && !t.scattered.IsZero() {
		r.AskCertifier = true
		said = append(said, say("The days and turnings are there by %s, but not in a row. The rule is silent on that: ask your certifier.",
			"Los días y volteos están completos al %s, pero no seguidos. La regla no lo aclara: pregunte a su certificadora.", t.scattered))
	}
	if !t.metOn.IsZero() {
		r.Release = c.release(r, t)
		said = append(said, r.Curing.Said)
	}
	c.speak(r, append(said, r.Missing...))
}

func (c *compostCase) speak(r *ProcessResult, said []LocalText) {
	r.Reasons, r.ReasonsEs = []string{}, []string{}
	for _, s := range said {
		r.Reasons, r.ReasonsEs = append(r.Reasons, s.En), append(r.ReasonsEs, s.Es)
	}
}

// ratioRefused: a starting C:N outside the limits is not met whatever the heat; one that nobody knows is not met once
// the heat is over, because unknown never passes.
func (c *compostCase) ratioRefused(t heatTally, ratio Figure) bool {
	if !c.rule.ratio || ratio.Within(leastCN, mostCN) {
		return false
	}
	return ratio.Known() || !t.metOn.IsZero()
}

func (c *compostCase) ratioText(ratio Figure) LocalText {
	if !ratio.Known() {
		return say("The starting C:N is not on file; the organic rule asks for 25:1 to 40:1.",
			"No está anotada la C:N inicial; la regla orgánica pide de 25:1 a 40:1.")
	}
	return say("The starting C:N is %s:1; the organic rule asks for 25:1 to 40:1. Your certifier may accept other compost under NOP 5021.",
		"La C:N inicial es %s:1; la regla orgánica pide de 25:1 a 40:1. Su certificadora puede aceptar otra composta según NOP 5021.",
		ratio.Show(1, leastCN, mostCN))
}

func (c *compostCase) metText(t heatTally) LocalText {
	if t.method == TurnedWindrow {
		return say("Met on %s: %d days of heat and %d turnings (%s).", "Cumplido el %s: %d días de calor y %d volteos (%s).",
			t.metOn, len(t.run), len(t.turnings), c.rule.citation)
	}
	return say("Met on %s: %d days of heat in a row (%s).", "Cumplido el %s: %d días seguidos de calor (%s).", t.metOn, len(t.run), c.rule.citation)
}

// heatOver reports that no more hot dates are to be expected: curing began and no date has counted since, or nobody has
// read or turned the heap for two weeks.
func (c *compostCase) heatOver(t heatTally) bool {
	lastHot := t.from
	if len(t.run) > 0 {
		lastHot = t.run[len(t.run)-1]
	}
	for _, x := range c.facts.Curings {
		if c.past(x.StartedOn) && !x.StartedOn.Before(lastHot) {
			return true
		}
	}
	if c.on.IsZero() {
		return false
	}
	lastSeen := Later(c.facts.StartedOn, t.from)
	if n := len(c.log.dates); n > 0 {
		lastSeen = Later(lastSeen, c.log.dates[n-1])
	}
	for _, x := range c.turnings() {
		lastSeen = Later(lastSeen, c.dateOf(x.TurnedAt))
	}
	return c.on.DaysSince(lastSeen) > daysWithoutRecord
}

// release holds the time met against what step 8 of 2.4 asks besides: curing and a supervisor's review dated after the
// last reading. Sewage sludge is never released. Fresh material and dirt cannot stand here: they restart the process and void the time.
func (c *compostCase) release(r *ProcessResult, t heatTally) ReleaseState {
	if !c.facts.reviewedAfter(c.log, c.on) {
		r.Missing = append(r.Missing, say("A supervisor's review dated after the last reading.",
			"La revisión de un supervisor con fecha posterior a la última lectura."))
	}
	if r.Outcome == ProcessMet && r.Curing.Done && !c.facts.biosolidsBy(c.on) && c.facts.reviewedAfter(c.log, c.on) {
		return Released
	}
	return TimeMetNotReleased
}

func (b *CompostFacts) reviewedAfter(l *heatLog, on Date) bool {
	if b.ReviewedAt.IsZero() || (!on.IsZero() && DateIn(b.ReviewedAt, b.zone()).After(on)) {
		return false
	}
	last := time.Time{}
	if n := len(l.dates); n > 0 {
		readings := l.byDate[l.dates[n-1]]
		last = readings[len(readings)-1].at
	}
	return b.ReviewedAt.After(last)
}

// missing says what is still needed of heat and recipe: "Two more turnings and three more days are needed."
func (c *compostCase) missing(t heatTally, ratio Figure) (out []LocalText) {
	if t.metOn.IsZero() {
		days := max(0, c.daysNeeded(t.method)-len(t.run))
		turnings := max(0, c.turningsNeeded(t.method)-len(t.turnings))
		out = append(out, stillNeeded(days, turnings))
	}
	if c.rule.ratio && !ratio.Known() {
		out = append(out, say("The C:N of the starting mix: give moisture and two of nitrogen, carbon and C:N for every ingredient.",
			"La C:N de la mezcla inicial: indique humedad y dos de nitrógeno, carbono y C:N de cada ingrediente."))
	}
	return out
}

func stillNeeded(days, turnings int) LocalText {
	switch {
	case days > 0 && turnings > 0:
		return LocalText{
			En: capital(fmt.Sprintf("%s and %s are needed.", counted(turnings, "more turning", "more turnings"), counted(days, "more day", "more days"))),
			Es: fmt.Sprintf("Faltan %s y %s.", contados(turnings, "volteo más", "volteos más"), contados(days, "día más", "días más")),
		}
	case turnings > 0:
		return LocalText{
			En: capital(counted(turnings, "more turning is needed", "more turnings are needed") + ", inside the counted days."),
			Es: lacks(turnings) + contados(turnings, "volteo más", "volteos más") + ", dentro de los días contados.",
		}
	case days > 0:
		return LocalText{
			En: capital(counted(days, "more day is needed.", "more days are needed.")),
			Es: lacks(days) + contados(days, "día más.", "días más."),
		}
	}
	return say("Days and turnings are there; a longer unbroken heat is still needed.",
		"Los días y volteos están completos; todavía falta calor sin interrupción.")
}

func lacks(n int) string {
	if n == 1 {
		return "Falta "
	}
	return "Faltan "
}

// cautions are worth a look and decide nothing.
func (c *compostCase) cautions(t heatTally) (out []LocalText) {
	if t.method != TurnedWindrow && !t.metOn.IsZero() && t.hours < 72 {
		out = append(out, say("Three daily readings span less than 72 hours: take a fourth reading.",
			"Tres lecturas diarias abarcan menos de 72 horas: tome una cuarta lectura."))
	}
	if !t.turnedOn.IsZero() {
		out = append(out, say("The static pile was turned on %s before it was done: from that date it is judged as a turned windrow.",
			"La pila estática se volteó el %s antes de terminar: desde esa fecha se juzga como hilera volteada.", t.turnedOn))
	}
	if clustered(t) {
		out = append(out, say("Turnings stand close together: leave hot days between them, so that the outside gets hot too.",
			"Los volteos están muy juntos: deje días calientes entre ellos, para que también se caliente la parte de afuera."))
	}
	if w := c.withinAccuracy(t); w != nil {
		out = append(out, *w)
	}
	if w := c.log.disagreement(); w != nil {
		out = append(out, *w)
	}
	return out
}

// clustered: two counted turnings without a counted date between them, or five inside five dates (A11).
func clustered(t heatTally) bool {
	for i := 1; i < len(t.turnings); i++ {
		if datesBetween(t.run, t.turnings[i-1], t.turnings[i]) == 0 {
			return true
		}
		if i >= 4 && t.turnings[i].DaysSince(t.turnings[i-4]) < 5 {
			return true
		}
	}
	return false
}

// withinAccuracy warns of a counted date whose coldest point is hot only by less than the thermometer's accuracy (A19).
func (c *compostCase) withinAccuracy(t heatTally) *LocalText {
	if c.facts.ProbeAccuracy.IsZero() {
		return nil
	}
	i := slices.IndexFunc(t.run, func(d Date) bool {
		low, ok := ninths(c.day(d).Lowest)
		return ok && low.Sub(degrees(c.facts.ProbeAccuracy)).LessThan(hotEnough)
	})
	if i < 0 {
		return nil
	}
	w := say("On %s the coldest point is above 131 °F by less than the thermometer's accuracy.",
		"El %s el punto más frío supera 131 °F por menos que la precisión del termómetro.", t.run[i])
	return &w
}
