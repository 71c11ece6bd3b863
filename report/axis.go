package report

import (
	"time"

	"croftmark/domain"
)

// timeAxis maps instants to places between left and right. Days are the farm's: the day of the clock change is an hour
// shorter or longer than the others.
type timeAxis struct {
	first, last domain.Date // both wholly on the axis
	zone        *time.Location
	from, to    time.Time
	left, right float64
}

func newTimeAxis(first, last domain.Date, zone *time.Location, left, right float64) timeAxis {
	return timeAxis{first, last, zone, first.In(zone), last.AddDays(1).In(zone), left, right}
}

func (a timeAxis) x(at time.Time) float64 {
	share := float64(at.Sub(a.from)) / float64(a.to.Sub(a.from))
	return a.left + min(max(share, 0), 1)*(a.right-a.left)
}

// day is where a date begins.
func (a timeAxis) day(d domain.Date) float64 { return a.x(d.In(a.zone)) }

func (a timeAxis) days() int { return a.last.DaysSince(a.first) + 1 }

// step is from one tick to the next: so many days, or so many months.
type step struct{ days, months int }

var steps = []step{{1, 0}, {2, 0}, {7, 0}, {14, 0}, {0, 1}, {0, 2}, {0, 3}, {0, 6}, {0, 12}, {0, 24}, {0, 60}, {0, 120}}

func (s step) long() float64 { return float64(s.days) + 30.44*float64(s.months) }

// ticks gives the dates to write, so far apart that their labels have room.
func (a timeAxis) ticks(room float64) (dates []domain.Date) {
	perDay := (a.right - a.left) / float64(a.days())
	chosen := steps[len(steps)-1]
	for _, s := range steps {
		if s.long()*perDay >= room {
			chosen = s
			break
		}
	}
	if chosen.months == 0 {
		for d := a.first; !d.After(a.last); d = d.AddDays(chosen.days) {
			dates = append(dates, d)
		}
		return dates
	}
	year, month, _ := a.first.Time().Date()
	month -= (month - 1) % time.Month(min(chosen.months, 12))
	for d := domain.NewDate(year, month, 1); !d.After(a.last); d = d.AddMonths(chosen.months) {
		if !d.Before(a.first) {
			dates = append(dates, d)
		}
	}
	if len(dates) == 0 {
		dates = []domain.Date{a.first}
	}
	return dates
}

// drawTimeAxis writes the dates under a line and the year where it begins, and gives the height used.
func (d *drawing) drawTimeAxis(a timeAxis, y, em float64, t tongue) float64 {
	d.line(a.left, y, a.right, y, 0.8)
	if (a.right-a.left)/float64(a.days()) >= 3 {
		for day := a.first; !day.After(a.last.AddDays(1)); day = day.AddDays(1) {
			d.line(a.day(day), y, a.day(day), y+em*0.25, 0.4)
		}
	}
	year := 0
	for _, day := range a.ticks(em * 4.2) {
		x := a.day(day)
		d.line(x, y, x, y+em*0.5, 0.8)
		when := day.Time()
		text := t.say("%[1]s %[2]d", "%[2]d %[1]s", t.month(when.Month()), when.Day())
		half := textWidth(text, em*0.9, false) / 2
		d.text(min(max(x, half), d.width-half), y+em*1.45, text, em*0.9, false, middle) // a date at the very end stays whole
		if when.Year() != year {
			year = when.Year()
			d.text(x, y+em*2.5, when.Format("2006"), em*0.9, false, middle)
		}
	}
	return em * 2.9
}
