package domain

import (
	"cmp"
	"slices"
)

// restart is the last thing that set the process back to nothing: fresh material, another heap, dirt, or a lab result
// that shows the heap was never done (A12, A16; 21 CFR 112.51(b)).
type restart struct {
	on        Date
	why       LocalText
	addition  *CompostAddition
	join      *PileJoin
	soiled    bool // dirt or a failed sample, and not fresh material
	failedLab bool
	metBefore bool // the heat had been complete under this rule when it happened
}

// restarts lists, in order, everything on file that restarts the batch.
func (c *compostCase) restarts() []restart {
	var out []restart
	for i := range c.facts.Additions {
		if a := &c.facts.Additions[i]; a.Restarts() {
			out = append(out, restart{on: c.dateOf(a.AddedAt), addition: a, why: say(
				"%s was added on %[2]s: days and turnings start again from nothing.",
				"El %[2]s se agregó %[1]s: los días y volteos empiezan de nuevo.", a.Ingredient.Feedstock, c.dateOf(a.AddedAt))})
		}
	}
	for i := range c.facts.Joins {
		j := &c.facts.Joins[i]
		out = append(out, restart{on: c.dateOf(j.JoinedAt), join: j, why: say(
			"Heap %s was joined on %s and not both were finished: days and turnings start again from nothing.",
			"La pila %s se juntó el %s y no estaban terminadas las dos: los días y volteos empiezan de nuevo.", j.With, c.dateOf(j.JoinedAt))})
	}
	for _, x := range c.facts.Contaminations {
		out = append(out, restart{on: x.On, soiled: true, why: say(
			"%[1]s on %[3]s: untreated from that day, until it has been through the whole process again.",
			"%[2]s el %[3]s: sin tratar desde ese día, hasta que pase otra vez por todo el proceso.", x.What.En, x.What.Es, x.On)})
	}
	for _, t := range c.facts.LabTests {
		if c.rule.lab != "" && t.condemns(c.rule.lab) {
			out = append(out, restart{on: t.SampledOn, soiled: true, failedLab: true, why: say(
				"The sample of %s failed (%s): it counts as untreated until it has been through the whole process again.",
				"La muestra del %s no pasó (%s): cuenta como sin tratar hasta que pase otra vez por todo el proceso.", t.SampledOn, t.Analyte)})
		}
	}
	out = slices.DeleteFunc(out, func(r restart) bool { return r.on.Before(c.facts.StartedOn) })
	slices.SortStableFunc(out, func(a, b restart) int {
		return cmp.Or(int(a.on.n-b.on.n), cmp.Compare(a.why.En, b.why.En))
	})
	return out
}

// lastRestart cuts the history (2.4 step 1): only dates after it count. The date itself does not: for part of it the
// heap was not what it is now.
func (c *compostCase) lastRestart() (last restart, from Date) {
	from = c.facts.StartedOn
	for _, r := range c.restarts() {
		if !c.past(r.on) {
			continue
		}
		finished := !c.tally(from, r.on).metOn.IsZero()
		if r.join != nil && r.join.Other == Treated && finished {
			continue
		}
		r.metBefore = last.metBefore || finished
		if r.soiled && !finished {
			r.addition, r.join = last.addition, last.join // dirt does not change what the heap was made of
		}
		last, from = r, r.on.AddDays(1)
	}
	return last, from
}

// startingRatio is the C:N that the rule's limits are held against. After fresh material it is established anew: from
// the addition's own record, or from all that was put in so far. A heap that had been through its heat has lost carbon
// that no recipe knows of, so then only a stated figure counts.
func (c *compostCase) startingRatio(last restart) Figure {
	if a := last.addition; a != nil && a.CarbonNitrogen.Valid {
		return FigureOf(a.CarbonNitrogen.Decimal)
	}
	switch {
	case last.metBefore || last.join != nil:
		return Figure{}
	case last.addition == nil && c.facts.CarbonNitrogen.Known():
		return c.facts.CarbonNitrogen
	}
	whole := slices.Clone(c.facts.Ingredients)
	for i := range c.facts.Additions {
		if a := &c.facts.Additions[i]; a.Restarts() && !c.dateOf(a.AddedAt).After(last.on) {
			whole = append(whole, a.Ingredient)
		}
	}
	return MixOf(whole).CarbonNitrogen
}
