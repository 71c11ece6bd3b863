package domain

import (
	"slices"
	"time"
)

// waterSeries are the good samples of a tap that still speak for it: since the water or the pipes last changed, and since
// the last failure was corrected. The newest four within one year qualify; four bottles of one day are one test.
type waterSeries struct {
	tests     []*WaterTest // oldest first, one a day
	days      int
	qualified bool
}

func (c waterCase) series() (s waterSeries) {
	start := c.f.supplyAt(c.tap, c.at).since
	for _, x := range c.failures() {
		if x.perhaps || x.test.SampledAt.After(c.at) {
			continue
		}
		for _, t := range []time.Time{x.test.SampledAt, x.fixedAt} {
			if t.After(start) {
				start = t
			}
		}
	}
	var days []Date
	for _, p := range c.f.passes(c.tap) {
		day := c.f.day(p.SampledAt)
		if p.SampledAt.Before(start) || p.SampledAt.After(c.at) || (len(days) > 0 && day == days[len(days)-1]) {
			continue
		}
		days, s.tests = append(days, day), append(s.tests, p)
		if n := len(days); n >= 4 && !day.After(days[n-4].AddMonths(12)) {
			s.qualified = true
		}
	}
	s.days = len(days)
	return s
}

// WaterPlan names what a source has to show next.
type WaterPlan string

const (
	PlanFirstYear   WaterPlan = "four-in-first-year"
	PlanRetest      WaterPlan = "four-after-failure"
	PlanRetestOnce  WaterPlan = "one-after-failure"
	PlanYearly      WaterPlan = "yearly"
	PlanCertificate WaterPlan = "yearly-certificate"
	PlanMonitoring  WaterPlan = "treatment-monitoring"
	PlanNone        WaterPlan = "none" // no test by this rule: raw surface water is not used here, rain has no number
)

// WaterSchedule is what is due next, and by which farm day. The zero DueOn means that nothing is due.
type WaterSchedule struct {
	Plan    WaterPlan
	Done    int
	Needed  int
	DueOn   Date
	Overdue bool
}

// WaterTestsDue gives the next duty of the source for uses at harvest and after (21 CFR 112.44(b) and (c), 112.46).
// Without a tap the earliest duty of all taps that Points names is given. The four samples of a first year are spread
// three months apart, the last at most a year after the first: the rule only says "in the season or over a year"
// [convention]. After a failure the next sample is due at once. A source that lists only irrigation has no such duty: its
// yearly written assessment decides (112.43).
func WaterTestsDue(f WaterFacts, tap string, at time.Time) (first WaterSchedule) {
	if uses := f.Source.Uses; len(uses) > 0 && !slices.ContainsFunc(uses, WaterUse.AtHarvestOrAfter) {
		return WaterSchedule{Plan: PlanNone}
	}
	taps := []string{}
	for _, p := range f.Source.Points {
		if tap == "" && p.Use.AtHarvestOrAfter() {
			taps = append(taps, p.Tap)
		}
	}
	if len(taps) == 0 {
		taps = []string{tap}
	}
	for i, t := range taps {
		c := waterCase{f: &f, use: UseWashing, tap: foldName(t), at: at, day: f.day(at)}
		s := c.due()
		s.Overdue = !s.DueOn.IsZero() && s.DueOn.Before(c.day)
		if i == 0 || (!s.DueOn.IsZero() && (first.DueOn.IsZero() || s.DueOn.Before(first.DueOn))) {
			first = s
		}
	}
	return first
}

func (c waterCase) due() WaterSchedule {
	kind := c.f.supplyAt(c.tap, c.at).kind
	for _, x := range c.failures() {
		if !x.perhaps && x.condemns(c.at) && !x.test.SampledAt.After(c.at) && kind != WaterUntreatedSurface {
			return c.retestDue(x, kind)
		}
	}
	switch kind {
	case WaterPublicSupply:
		return c.certificateDue()
	case WaterUntreatedGround:
		return c.groundDue()
	case WaterTreatedGround, WaterTreatedSurface:
		return c.monitoringDue()
	}
	return WaterSchedule{Plan: PlanNone}
}

func (c waterCase) retestDue(x waterFailure, kind WaterKind) WaterSchedule {
	s := WaterSchedule{Plan: PlanRetestOnce, Done: x.retests(c.at), Needed: x.needed(kind), DueOn: c.f.day(x.test.SampledAt)}
	if s.Needed == 4 {
		s.Plan = PlanRetest
	}
	if !x.fixedAt.IsZero() && !x.fixedAt.After(c.at) {
		s.DueOn = c.f.day(x.fixedAt)
	}
	if s.Done > 0 {
		s.DueOn = c.f.day(x.retested[s.Done-1]).AddDays(1) // one sample a day counts
	}
	return s
}

func (c waterCase) certificateDue() WaterSchedule {
	s := WaterSchedule{Plan: PlanCertificate, Needed: 1, DueOn: c.day}
	var newest Date
	for _, p := range c.f.Certificates {
		if !p.IssuedOn.After(c.day) {
			newest = Later(newest, p.IssuedOn)
		}
	}
	if !newest.IsZero() {
		s.Done, s.DueOn = 1, newest.AddMonths(12)
	}
	return s
}

func (c waterCase) groundDue() WaterSchedule {
	series := c.series()
	switch {
	case series.days == 0:
		return WaterSchedule{Plan: PlanFirstYear, Needed: 4, DueOn: c.day}
	case series.qualified:
		last := series.tests[len(series.tests)-1]
		return WaterSchedule{Plan: PlanYearly, Done: 1, Needed: 1, DueOn: c.f.day(last.SampledAt).AddMonths(12)}
	}
	first := c.f.day(series.tests[0].SampledAt)
	if c.day.After(first.AddMonths(12)) { // the first year went by without four: only the last year's samples help now
		recent := 0
		for _, t := range series.tests {
			if !c.day.After(c.f.day(t.SampledAt).AddMonths(12)) {
				recent++
			}
		}
		return WaterSchedule{Plan: PlanFirstYear, Done: recent, Needed: 4, DueOn: c.day}
	}
	return WaterSchedule{Plan: PlanFirstYear, Done: series.days, Needed: 4, DueOn: first.AddMonths(3 * series.days)}
}

func (c waterCase) monitoringDue() WaterSchedule {
	s := WaterSchedule{Plan: PlanMonitoring, Needed: 1, DueOn: c.day}
	for _, m := range c.f.Monitoring {
		if m.InRange == nil || !*m.InRange || m.At.After(c.at) || (m.Tap != "" && foldName(m.Tap) != c.tap) {
			continue
		}
		next := c.f.day(m.At).AddDays(1)
		if c.f.MonitorEvery > 0 {
			next = c.f.day(m.At.Add(c.f.MonitorEvery))
		}
		s.Done, s.DueOn = 1, Later(next, s.DueOn)
	}
	return s
}
