package domain

import "strings"

// dayTable is one row per date from the first reading to the last, with the dates nobody read among them.
func (c *compostCase) dayTable(last restart, t heatTally) []CompostDay {
	var out []CompostDay
	for i, d := range c.log.dates {
		if i > 0 {
			out = append(out, c.unread(c.log.dates[i-1].AddDays(1), d.AddDays(-1))...)
		}
		day := c.day(d)
		switch {
		case !last.on.IsZero() && !d.After(last.on):
			day.Qualifies, day.Why = false, last.why
		case d.Before(t.from):
			day.Qualifies, day.Why = false, say("Before the pile was turned on %s and became a windrow.",
				"Antes de que la pila se volteara el %s y pasara a ser hilera.", t.turnedOn)
		}
		out = append(out, day)
	}
	return out
}

// unread gives the rows of dates without a reading; a very long gap shares one row.
func (c *compostCase) unread(from, to Date) (out []CompostDay) {
	if to.DaysSince(from) >= longestGapShown {
		day := c.log.day(from, c.rule)
		day.Through = to
		return []CompostDay{day}
	}
	for d := from; !d.After(to); d = d.AddDays(1) {
		out = append(out, c.log.day(d, c.rule))
	}
	return out
}

var numbersEn = []string{"no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"}
var numbersEs = []string{"cero", "un", "dos", "tres", "cuatro", "cinco", "seis", "siete", "ocho", "nueve", "diez", "once", "doce"}

// counted writes small numbers as words: "two more turnings".
func counted(n int, one, many string) string { return inWords(numbersEn, n, one, many) }

// contados is the same in Spanish; all counted things here are masculine.
func contados(n int, one, many string) string { return inWords(numbersEs, n, one, many) }

func inWords(words []string, n int, one, many string) string {
	number := itoa(n)
	if n < len(words) {
		number = words[n]
	}
	if n == 1 {
		return number + " " + one
	}
	return number + " " + many
}

func capital(s string) string { return strings.ToUpper(s[:1]) + s[1:] }
