package domain

import (
	"slices"
	"time"
)

// ProcessOutcome is where the heat stands under one rule set.
type ProcessOutcome string

const (
	ProcessMet     ProcessOutcome = "met"
	ProcessRunning ProcessOutcome = "running"
	ProcessNotMet  ProcessOutcome = "not-met"
)

// ReleaseState tells time met from ready to use (calculations reference 2.4 step 8).
type ReleaseState string

const (
	Released           ReleaseState = "released"
	TimeMetNotReleased ReleaseState = "time met, not released"
	NotReleased        ReleaseState = "not released"
)

// ProcessResult is the process check of a batch under one rule set. CountedDays are the dates that count so far: the
// current run where dates must follow each other. MetOn is given for ProcessMet only; TimeMetOn is the date on which
// days and turnings were complete, even where the starting C:N keeps the rule from being met.
type ProcessResult struct {
	Set             string         `json:"set"`
	Outcome         ProcessOutcome `json:"outcome"`
	MetOn           Date           `json:"met_on,omitzero"`
	CountedDays     []Date         `json:"counted_days"`
	TurningsCounted int            `json:"turnings_counted"`
	Reasons         []string       `json:"reasons"`
	ReasonsEs       []string       `json:"reasons_es"`

	Picture      bool         `json:"picture,omitempty"` // the sewage sludge picture: shown, decides nothing
	TimeMetOn    Date         `json:"time_met_on,omitzero"`
	ElapsedHours float64      `json:"elapsed_hours"` // from the first to the last reading of the counted days
	Days         []CompostDay `json:"days"`
	Turnings     []TurningDay `json:"turnings"`
	Missing      []LocalText  `json:"missing"` // what is still needed, in words
	Cautions     []LocalText  `json:"cautions"`
	AskCertifier bool         `json:"ask_certifier"`
	Curing       CuringState  `json:"curing"`
	Release      ReleaseState `json:"release"`
}

// CheckCompost judges the heat of a batch from what happened up to the day on (zero: everything on file), as known now,
// one result per rule set in the order of compostRules. Sets that say nothing about compost give no result; without any
// set, all are judged with the sewage sludge picture last.
func CheckCompost(b CompostFacts, on Date, sets ...string) []ProcessResult {
	if len(sets) == 0 {
		sets = []string{OrganicSet, ProduceSafetySet, SludgePicture}
	}
	rules := rulesOf(sets)
	out := make([]ProcessResult, 0, len(rules))
	for _, rule := range rules {
		out = append(out, newCompostCase(&b, rule, on).result())
	}
	return out
}

// compostCase is one batch under one rule on one day.
type compostCase struct {
	facts *CompostFacts
	rule  *compostRule
	on    Date
	log   *heatLog
	days  map[Date]CompostDay
}

func newCompostCase(b *CompostFacts, rule *compostRule, on Date) *compostCase {
	return &compostCase{facts: b, rule: rule, on: on, log: newHeatLog(b, b.heatReadings(on)), days: map[Date]CompostDay{}}
}

// day judges a date once and remembers it.
func (c *compostCase) day(d Date) CompostDay {
	day, ok := c.days[d]
	if !ok {
		day = c.log.day(d, c.rule)
		c.days[d] = day
	}
	return day
}

func (c *compostCase) dateOf(t time.Time) Date { return DateIn(t, c.facts.zone()) }

// past reports that a day is not after the day of judging.
func (c *compostCase) past(d Date) bool { return c.on.IsZero() || !d.After(c.on) }

// heatTally is how far the heat got in the dates from a restart on.
type heatTally struct {
	method   CompostMethod
	from     Date // dates before do not count
	turnedOn Date // a static pile was turned on this date and is a windrow since
	run      []Date
	turnings []Date
	metOn    Date
	hours    float64
	// scattered is the first date on which days and turnings were complete, though not in a row.
	scattered Date
	longGap   int // the longest gap in dates among the scattered ones
}

// tally walks the dates from one date to before another (zero: to the end), steps 5 to 7 of 2.4. A passive heap is not
// counted although 21 CFR 112.3 has static composting include passive air: the organic rule names aerated piles only,
// and the stricter reading holds for both until the certifier or an inspector has said otherwise.
func (c *compostCase) tally(from, until Date) heatTally {
	t := c.methodFrom(from, until)
	if t.method == Worms || t.method == Passive {
		return t
	}
	var loose []Date
	for _, d := range c.log.dates {
		if d.Before(t.from) || (!until.IsZero() && !d.Before(until)) || !t.metOn.IsZero() {
			continue
		}
		day := c.day(d)
		inARow := c.rule.inARow || t.method != TurnedWindrow
		if inARow && (!day.Qualifies || (len(t.run) > 0 && d.DaysSince(t.run[len(t.run)-1]) != 1)) {
			t.run, t.turnings, t.hours = nil, nil, 0
		}
		if !day.Qualifies {
			continue
		}
		t.run, loose = append(t.run, d), append(loose, d)
		c.complete(&t, day)
		c.scatter(&t, loose)
	}
	if until.IsZero() && t.metOn.IsZero() && c.broken(t) {
		t.run, t.turnings, t.hours = nil, nil, 0
	}
	return t
}

// broken reports that a run of dates ended before the day of judging: yesterday has no reading and never will.
func (c *compostCase) broken(t heatTally) bool {
	inARow := c.rule.inARow || t.method != TurnedWindrow
	return inARow && !c.on.IsZero() && len(t.run) > 0 && c.on.DaysSince(t.run[len(t.run)-1]) > 1
}

// methodFrom gives the method in force. A static pile that is turned before it is done is a windrow from that date:
// the produce rule's static composting must not turn (2.1 [convention], after 21 CFR 112.3 [verified]). Done means that
// the rule was met by what was read before the turning, and still is when the whole date of the turning is read: a cool
// reading later that day spoils the date.
func (c *compostCase) methodFrom(from, until Date) heatTally {
	t := heatTally{method: c.facts.Method, from: from}
	if t.method != AeratedStaticPile {
		return t
	}
	for _, turned := range c.turnings() {
		d := c.dateOf(turned.TurnedAt)
		if d.Before(from) || (!until.IsZero() && !d.Before(until)) {
			continue
		}
		if !c.staticMetBefore(from, turned.TurnedAt) || !c.staticMetBefore(from, d.AddDays(1).In(c.facts.zone())) {
			t.method, t.from, t.turnedOn = TurnedWindrow, d, d
		}
		return t
	}
	return t
}

func (c *compostCase) staticMetBefore(from Date, at time.Time) bool {
	still := *c.facts
	still.Turnings = nil
	var before []heatReading
	for _, d := range c.log.dates {
		for _, r := range c.log.byDate[d] {
			if r.at.Before(at) {
				before = append(before, r)
			}
		}
	}
	earlier := &compostCase{facts: &still, rule: c.rule, on: c.on, log: newHeatLog(&still, before), days: map[Date]CompostDay{}}
	return !earlier.tally(from, Date{}).metOn.IsZero()
}

// complete closes the tally when the date just added makes days, turnings and hours enough. The closing date is always
// one that counts itself: a fifth turning after the last hot date waits for the next one (A9, stricter than step 7).
func (c *compostCase) complete(t *heatTally, day CompostDay) {
	first, last := c.day(t.run[0]).first, day.last
	t.hours = last.Sub(first).Hours()
	t.turnings = nil
	if t.method == TurnedWindrow {
		t.turnings = c.countTurnings(t.run)
	}
	if len(t.run) < c.daysNeeded(t.method) || len(t.turnings) < c.turningsNeeded(t.method) || day.dipLeftOut {
		return
	}
	s := c.settings(day.Date)
	if s.ElapsedHours && t.hours < float64(24*c.daysNeeded(t.method)) {
		return
	}
	if t.method != TurnedWindrow && c.byLogger(t.run) && !c.hotFor72Hours(t.from, t.run) {
		return
	}
	t.metOn = day.Date
}

func (c *compostCase) settings(d Date) CertifierSettings {
	if !c.rule.certifier {
		return CertifierSettings{}
	}
	return c.facts.settingsOn(d)
}

func (c *compostCase) daysNeeded(m CompostMethod) int {
	if m == TurnedWindrow {
		return c.rule.turnedDays
	}
	return c.rule.staticDays
}

func (c *compostCase) turningsNeeded(m CompostMethod) int {
	if m == TurnedWindrow {
		return c.rule.turnings
	}
	return 0
}

func (c *compostCase) byLogger(run []Date) bool {
	return slices.ContainsFunc(run, func(d Date) bool { return c.day(d).byLogger })
}

// hotFor72Hours looks for one unbroken stretch of 72 hours on the loggers that ends within the run (2.5; the stricter of
// dates and hours wins).
func (c *compostCase) hotFor72Hours(from Date, run []Date) bool {
	end := run[len(run)-1].AddDays(1).In(c.facts.zone())
	hot := c.log.hotTogether(c.rule.ceiling, from.In(c.facts.zone()), end)
	return slices.ContainsFunc(hot, func(s stretch) bool { return s.to.Sub(s.from) >= 72*time.Hour })
}

// scatter notes the first date on which a windrow has its days and turnings, only not in a row: the text of the organic
// rule is silent on that, so the certifier is asked and nothing passes (A5; us-rules 1.2).
func (c *compostCase) scatter(t *heatTally, loose []Date) {
	if !t.scattered.IsZero() || !c.rule.certifier || len(loose) < c.daysNeeded(t.method) {
		return
	}
	if t.method == TurnedWindrow && len(c.countTurnings(loose)) < c.rule.turnings {
		return
	}
	for i, d := range loose[1:] {
		t.longGap = max(t.longGap, d.DaysSince(loose[i])-1)
	}
	if t.longGap > 0 && (t.method == TurnedWindrow || t.longGap <= c.settings(loose[len(loose)-1]).GapDaysAllowed) {
		t.scattered = loose[len(loose)-1]
	}
}
