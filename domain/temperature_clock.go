package domain

import (
	"slices"
	"time"
)

// ClockFormat is how a logger writes its times. Day and month are never guessed: 03/04 is two days.
type ClockFormat string

const (
	ClockISO      ClockFormat = ""          // 2026-03-01 14:05, with or without T, seconds and offset
	ClockUS       ClockFormat = "month/day" // 3/1/2026 14:05 or 03/01/26 02:05:00 PM
	ClockDayFirst ClockFormat = "day/month" // 1/3/2026 14:05 or 01.03.2026 14:05
)

var clockLayouts = map[ClockFormat][]string{
	ClockISO: {"2006-01-02 15:04:05", "2006-01-02 15:04", "2006-01-02T15:04:05", "2006-01-02T15:04",
		time.RFC3339Nano, "2006-01-02 15:04:05Z07:00", "2006-01-02 15:04:05 -0700"},
	ClockUS: {"1/2/2006 15:04", "1/2/2006 15:04:05", "1/2/2006 3:04 PM", "1/2/2006 3:04:05 PM",
		"1/2/06 15:04", "1/2/06 15:04:05", "1/2/06 3:04 PM", "1/2/06 3:04:05 PM"},
	ClockDayFirst: {"2/1/2006 15:04", "2/1/2006 15:04:05", "2.1.2006 15:04", "2.1.2006 15:04:05",
		"2/1/06 15:04", "2/1/06 15:04:05", "2.1.06 15:04", "2.1.06 15:04:05", "2/1/2006 3:04 PM", "2/1/2006 3:04:05 PM"},
}

// offsetLayouts from this place on in the ISO list carry their own offset.
const offsetLayouts = 4

// farmClock reads times in a file. It tries the layout that fitted last first, since a file keeps to one.
type farmClock struct {
	format ClockFormat
	zone   *time.Location
	last   int
}

func newFarmClock(format ClockFormat, zone *time.Location) *farmClock {
	return &farmClock{format: format, zone: zone}
}

// clockTime is what a clock showed: one instant, or two in the hour that runs through twice.
type clockTime struct{ first, second time.Time }

// after picks the instant of a doubled hour: the first one that is later than the sample before of the same probe.
func (c clockTime) after(previous time.Time) (at time.Time, doubled bool) {
	if c.second.IsZero() {
		return c.first, false
	}
	if !previous.IsZero() && !c.first.After(previous) {
		return c.second, true
	}
	return c.first, true
}

func (k *farmClock) parse(text string) (clockTime, *LocalText) {
	layouts := clockLayouts[k.format]
	for i := range layouts {
		n := (k.last + i) % len(layouts)
		t, err := time.Parse(layouts[n], text)
		if err != nil {
			continue
		}
		k.last = n
		if t.Year() < 1950 || t.Year() > 2200 {
			break
		}
		if k.format == ClockISO && n >= offsetLayouts {
			return clockTime{first: t.In(k.zone)}, nil
		}
		return k.instants(t)
	}
	why := say("%q is no time as this file should write it.", "%q no es una hora como debe escribirla este archivo.", clip(text))
	return clockTime{}, &why
}

// instants finds when the zone's clock showed a time: once as a rule, twice in the autumn, never in the spring hour that
// is left out. The zone's offsets of the day before and after are all that can apply.
func (k *farmClock) instants(shown time.Time) (clockTime, *LocalText) {
	var at []time.Time
	for _, near := range []time.Time{shown.Add(-26 * time.Hour), shown.Add(26 * time.Hour)} {
		_, offset := near.In(k.zone).Zone()
		t := shown.Add(-time.Duration(offset) * time.Second).In(k.zone)
		if _, real := t.Zone(); real == offset && !slices.ContainsFunc(at, t.Equal) {
			at = append(at, t)
		}
	}
	slices.SortFunc(at, time.Time.Compare)
	switch len(at) {
	case 1:
		return clockTime{first: at[0]}, nil
	case 2:
		return clockTime{at[0], at[1]}, nil
	}
	why := say("The clock never showed %s: it was put forward over that hour.", "El reloj nunca marcó %s: se adelantó sobre esa hora.",
		shown.Format("2006-01-02 15:04"))
	return clockTime{}, &why
}
