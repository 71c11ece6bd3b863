package domain

import (
	"slices"
	"time"
)

// monitoring judges a treatment by the last look before the instant and the first one after it, place by place: when the
// next look finds it out of range, nobody knows since when, and a good look at another tank says nothing of this one. A
// look further away than ReadingSpeaksBack or ReadingSpeaksOn says nothing about this water, nor does one that measured
// no strength, or one of a product whose label nobody wrote down.
func (c waterCase) monitoring() Reason {
	before, after := c.looks()
	for _, looks := range [][]*WaterMonitoring{before, after} {
		if m := c.outOfRange(looks); m != nil {
			return c.say(ruleMonitoring, Stop, []RecordRef{{"water-treatment", m.ID}}, "The treatment was out of range on %s. Put it right, measure again, and look at what was touched since the last good reading.",
				"El tratamiento estuvo fuera de rango el %s. Corríjalo, mida de nuevo y revise lo tocado desde la última lectura buena.", c.f.day(m.At))
		}
	}
	good := c.inRange(before)
	if good == nil || !c.fresh(good.At) {
		return c.say(ruleMonitoring, Ask, nil, "No reading shows that the treatment works at this time. Measure and write it down.",
			"Ninguna lectura muestra que el tratamiento funciona ahora. Mida y anótelo.")
	}
	return c.say(ruleMonitoring, Clear, []RecordRef{{"water-treatment", good.ID}}, "Treatment in range on %s.", "Tratamiento en rango el %s.", c.f.day(good.At))
}

// looks gives, of each tap and tank that may be this one's, the last look up to the instant and the first one after it.
func (c waterCase) looks() (before, after []*WaterMonitoring) {
	since := c.f.supplyAt(c.tap, c.at).since
	for i := range c.f.Monitoring {
		m := &c.f.Monitoring[i]
		switch {
		case m.InRange == nil, m.At.Before(since), !sameTap(m.Tap, c.tap):
		case m.At.After(c.at.Add(ReadingSpeaksBack)), m.At.Before(c.at.Add(-ReadingSpeaksOn)):
		case !m.At.After(c.at):
			before = c.keepNearest(before, m)
		default:
			after = c.keepNearest(after, m)
		}
	}
	return before, after
}

// keepNearest keeps one look of each tap and tank: the nearest to the instant, and of two at one instant the bad one.
func (c waterCase) keepNearest(looks []*WaterMonitoring, m *WaterMonitoring) []*WaterMonitoring {
	i := slices.IndexFunc(looks, func(x *WaterMonitoring) bool { return x.samePlace(m) })
	switch {
	case i < 0:
		return append(looks, m)
	case c.nearer(m, looks[i]) || (m.At.Equal(looks[i].At) && !*m.InRange):
		looks[i] = m
	}
	return looks
}

func (c waterCase) nearer(a, b *WaterMonitoring) bool {
	return a.At.Sub(c.at).Abs() < b.At.Sub(c.at).Abs()
}

func (m *WaterMonitoring) samePlace(x *WaterMonitoring) bool {
	return foldName(m.Tap) == foldName(x.Tap) && foldName(m.Tank) == foldName(x.Tank)
}

// outOfRange finds the bad look that decides, if any: at this tap and tank, or at one that may be it.
func (c waterCase) outOfRange(looks []*WaterMonitoring) (found *WaterMonitoring) {
	for _, m := range looks {
		answered := slices.ContainsFunc(looks, func(good *WaterMonitoring) bool { return c.answers(good, m) })
		if !*m.InRange && sameTap(m.Tank, c.tank) && !answered && (found == nil || c.nearer(m, found)) {
			found = m
		}
	}
	return found
}

// answers reports whether a good look shows that what a bad one found does not hold for this water: it is nearer, and at
// the same tap and tank, or at this very one where the bad one does not say.
func (c waterCase) answers(good, bad *WaterMonitoring) bool {
	at := func(good, bad, this string) bool {
		good, bad = foldName(good), foldName(bad)
		return good == bad || (bad == "" && good == this)
	}
	return *good.InRange && c.nearer(good, bad) && at(good.Tap, bad.Tap, c.tap) && at(good.Tank, bad.Tank, c.tank)
}

// inRange finds the nearest good look that speaks for this water. One of a named tap speaks for that tap only; where the
// use names its tank and looks name theirs, one of that tank is wanted.
func (c waterCase) inRange(looks []*WaterMonitoring) (found *WaterMonitoring) {
	named := c.tank != "" && slices.ContainsFunc(looks, func(m *WaterMonitoring) bool { return foldName(m.Tank) != "" })
	for _, m := range looks {
		here := (foldName(m.Tap) == "" || foldName(m.Tap) == c.tap) && (!named || foldName(m.Tank) == c.tank)
		if *m.InRange && here && (found == nil || c.nearer(m, found)) {
			found = m
		}
	}
	return found
}

func (c waterCase) fresh(read time.Time) bool {
	if c.f.MonitorEvery > 0 {
		return c.at.Sub(read) <= c.f.MonitorEvery
	}
	return c.f.day(read) == c.day
}
