package domain

import (
	"fmt"
	"strings"
	"time"
)

// MostEntryHours bounds the restricted-entry interval of a label; thirty days are longer than any that is common practice.
const MostEntryHours = 720

// unknownEntryDays is for how long a spray without hours is worth a caution: labels mostly ask for 4 to 48 [memory].
const unknownEntryDays = 2

// EntryFrom is the first instant at which people may go in again: so many hours after the spraying ended, by the clock and
// not by the calendar (us-rules 3.3 and 7.3 PEST-REI).
func EntryFrom(ended time.Time, hours int) time.Time {
	return ended.Add(time.Duration(hours) * time.Hour)
}

// judgeEntry holds a harvest to the hours in which nobody goes in. A day is what a harvest is judged by: on the day the
// hours end, and on a day for which nobody wrote hours down, it only says so.
func (c *checkCase) judgeEntry(r *Rule, e GroundExposure) (Reason, bool) {
	if e.EntryHours == nil {
		reason := c.reasonAt(r, e, Caution, e.On, Date{})
		reason.Text = fmt.Sprintf("%s of %s: nobody wrote down how long nobody goes in. Read the label before anyone does.", e.What, e.On)
		reason.TextEs = fmt.Sprintf("%s del %s: nadie anotó cuánto tiempo nadie entra. Lea la etiqueta antes de que alguien entre.", e.whatEs(), e.On)
		return reason, c.on.DaysSince(e.On) <= unknownEntryDays
	}
	if *e.EntryHours == 0 {
		return Reason{}, false // the label keeps nobody out
	}
	zone := c.facts.zoneOf()
	ended := e.SprayedUntil
	if ended.IsZero() {
		ended = e.On.AddDays(1).In(zone) // nobody wrote the hour down: the end of the day is the strict side
	}
	entry := EntryFrom(ended, *e.EntryHours).In(zone)
	day := DateIn(entry, zone)
	v, clear := r.Unmet, day
	if c.on == day {
		v, clear = Caution, Date{}
	}
	reason := c.reasonAt(r, e, v, e.On, clear)
	at := strings.NewReplacer("{entry}", entry.Format("2006-01-02 15:04"))
	reason.Text, reason.TextEs = at.Replace(reason.Text), at.Replace(reason.TextEs)
	if v.Refuses() {
		reason.DaysShort = day.DaysSince(c.on)
	}
	return reason, c.on.Before(day) || c.on == day && entry.After(day.In(zone))
}

// checkEntry notes hours and an end of spraying that cannot be.
func (x *Application) checkEntry(today Date, p *Problems) {
	if h := x.RestrictedEntryHours; h != nil {
		p.Check(*h >= 0 && *h <= MostEntryHours, "/restricted_entry_hours", "%d hours cannot be. Read the label again.", *h)
	}
	if x.EndedAt.IsZero() {
		return
	}
	checkHour(p, "/ended_at", x.EndedAt, today)
	days := DateIn(x.EndedAt, time.UTC).DaysSince(x.AppliedOn)
	p.Check(days >= -1 && days <= 2, "/ended_at", "It ended on another day than %s, on which it was done. Correct one of the two.", x.AppliedOn)
}
