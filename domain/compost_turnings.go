package domain

import (
	"slices"
	"sort"
	"time"
)

// TurningDay says of one turning whether it counts, and why.
type TurningDay struct {
	TurnedAt time.Time `json:"turned_at"`
	Date     Date      `json:"date"`
	Counted  bool      `json:"counted"`
	Why      LocalText `json:"why"`
}

// turnings up to the day of judging, in order.
func (c *compostCase) turnings() []CompostTurning {
	var out []CompostTurning
	for _, t := range c.facts.Turnings {
		if c.past(c.dateOf(t.TurnedAt)) {
			out = append(out, t)
		}
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].TurnedAt.Before(out[j].TurnedAt) })
	return out
}

// countTurnings gives the dates of the turnings that count: inside the counted days, ends included, each date once
// (A9), and far enough apart where the certifier asks for it (A11).
func (c *compostCase) countTurnings(run []Date) (counted []Date) {
	first, last := run[0], run[len(run)-1]
	apart := c.settings(last).DaysBetweenTurnings
	for _, t := range c.turnings() {
		d := c.dateOf(t.TurnedAt)
		if d.Before(first) || d.After(last) {
			continue
		}
		if n := len(counted); n > 0 && (counted[n-1] == d || datesBetween(run, counted[n-1], d) < apart) {
			continue
		}
		counted = append(counted, d)
	}
	return counted
}

func datesBetween(run []Date, a, b Date) (n int) {
	for _, d := range run {
		if d.After(a) && d.Before(b) {
			n++
		}
	}
	return n
}

func (c *compostCase) turningTable(last restart, t heatTally) []TurningDay {
	var out []TurningDay
	seen := map[Date]bool{}
	for _, x := range c.turnings() {
		row := TurningDay{TurnedAt: x.TurnedAt, Date: c.dateOf(x.TurnedAt)}
		row.Counted = slices.Contains(t.turnings, row.Date) && !seen[row.Date]
		row.Why = whyTurning(row, last, t, seen[row.Date])
		seen[row.Date] = true
		out = append(out, row)
	}
	return out
}

func whyTurning(row TurningDay, last restart, t heatTally, again bool) LocalText {
	switch {
	case row.Counted:
		return say("Counts: inside the counted days.", "Cuenta: dentro de los días contados.")
	case !last.on.IsZero() && !row.Date.After(last.on):
		return last.why
	case t.method != TurnedWindrow:
		return say("This method counts no turnings.", "Este método no cuenta volteos.")
	case again:
		return say("Two turnings on one date count once.", "Dos volteos en una fecha cuentan como uno.")
	case len(t.run) == 0:
		return say("No counted days stand around it.", "No hay días contados a su alrededor.")
	case row.Date.Before(t.run[0]):
		return say("Before the first counted day, %s.", "Antes del primer día contado, %s.", t.run[0])
	case row.Date.After(t.run[len(t.run)-1]):
		return say("After the last counted day, %s.", "Después del último día contado, %s.", t.run[len(t.run)-1])
	}
	return say("Too close to the turning before it, as your certifier counts.", "Demasiado cerca del volteo anterior, según cuenta su certificadora.")
}
