package report

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"croftmark/domain"
)

// A heapEvent is something that came into the heap or soiled it.
type heapEvent struct {
	letter string
	at     time.Time
	on     domain.Date
	said   string
	water  bool // changes nothing
	added  *domain.CompostAddition
}

// heapEvents lists additions, joins and contaminations in order of time, lettered.
func heapEvents(f *domain.CompostFacts, t tongue) (list []heapEvent) {
	zone := zoneOf(f.Zone)
	for i := range f.Additions {
		a := &f.Additions[i]
		said := t.say("%s of %s added", "se agregó %s de %s", amount(a.Ingredient.Amount), a.Ingredient.Feedstock)
		if !a.Restarts() {
			said += t.say(" (does not restart the count)", " (no reinicia la cuenta)")
		}
		list = append(list, heapEvent{at: a.AddedAt, said: said, water: !a.Restarts(), added: a})
	}
	for _, j := range f.Joins {
		list = append(list, heapEvent{at: j.JoinedAt, said: t.say("joined with heap %s (%s)", "se juntó con la pila %s (%s)", j.With, strings.ToLower(t.standing(j.Other)))})
	}
	for _, c := range f.Contaminations {
		list = append(list, heapEvent{at: c.On.In(zone), said: t.say("contaminated: ", "contaminada: ") + t.of(c.What)})
	}
	for i := range list {
		list[i].on = domain.DateIn(list[i].at, zone)
	}
	slices.SortStableFunc(list, func(a, b heapEvent) int { return a.at.Compare(b.at) })
	for i := range list {
		list[i].letter = letterOf(i)
	}
	return list
}

// letterOf counts A to Z, then A2 to Z2.
func letterOf(n int) string {
	letter := string(rune('A' + n%26))
	if n >= 26 {
		letter += fmt.Sprint(n/26 + 1)
	}
	return letter
}

// drawCounted draws a row of cells per rule set: full where the date counts, dotted where it was hot and is not in the
// count, empty where it was read and not hot, and no cell where nobody read.
func (p *compostPlot) drawCounted() {
	em := p.em
	for _, r := range p.c.Results {
		p.y += em * 0.35
		text := p.say("%s: dates that count %d", "%s: fechas que cuentan %d", p.t.set(r.Set), len(r.CountedDays))
		if p.c.Facts.Method == domain.TurnedWindrow || r.TurningsCounted > 0 {
			text += p.say(", turnings %d", ", volteos %d", r.TurningsCounted)
		}
		if r.Picture {
			text += p.say(" (decides nothing)", " (no decide nada)")
		}
		for _, line := range wrap(text, p.width-p.axis.left, em*0.9, true) {
			p.text(p.axis.left, p.y+em*0.85, line, em*0.9, true, start)
			p.y += em * 1.25
		}
		counted := map[domain.Date]bool{}
		for _, d := range r.CountedDays {
			counted[d] = true
		}
		for _, day := range r.Days {
			p.cell(day, counted[day.Date])
		}
		p.line(p.axis.left, p.y+em*1.1, p.axis.right, p.y+em*1.1, 0.3)
		for _, x := range r.Turnings {
			if at := p.axis.x(x.TurnedAt); x.Counted {
				p.add(path{points: []point{{at, p.y + em*1.1}, {at + em*0.25, p.y + em*1.55}, {at - em*0.25, p.y + em*1.55}}, closed: true, fill: black})
			}
		}
		p.y += em * 1.6
	}
}

func (p *compostPlot) cell(day domain.CompostDay, counted bool) {
	if day.Date.Before(p.axis.first) || day.Date.After(p.axis.last) || (day.PointsRead == 0 && day.Lowest.IsZero()) {
		return
	}
	em := p.em
	x1, x2 := p.axis.day(day.Date), p.axis.day(day.Date.AddDays(1))
	gap := min(0.6, (x2-x1)*0.12)
	fill := white
	if counted {
		fill = black
	}
	p.rect(x1+gap, p.y, x2-x1-2*gap, em*0.95, 0.5, fill)
	if !counted && day.Qualifies {
		p.add(disc{point{(x1 + x2) / 2, p.y + em*0.48}, min((x2-x1)*0.22, em*0.2), 0, black})
	}
}

// drawKey says what the marks mean and lists the lettered ones.
func (p *compostPlot) drawKey() {
	em := p.em
	var k key
	for _, e := range p.events {
		k.add(func(x, y float64) { p.lettered(x+em*1.1, y, em, e.letter) }, e.on.String()+"  "+e.said)
	}
	for i := range p.lines {
		k.add(func(x, y float64) {
			p.line(x, y, x+em*2.2, y, 0.9, pens(i).dash...)
			p.marker(pens(i).marker, x+em*1.1, y, em*0.26)
		}, p.say("point %s", "punto %s", p.lineName(i)))
	}
	if p.summed {
		k.add(nil, p.say("%d points were read; only the coldest and the hottest reading of each date are drawn.",
			"Se leyeron %d puntos; solo se dibuja la lectura más fría y la más caliente de cada fecha.", len(p.heat.probes)))
	}
	if len(p.c.Facts.Turnings) > 0 {
		k.add(func(x, y float64) { p.arrowHead(x+em*0.5, y, em, black); p.arrowHead(x+em*1.6, y, em, white) },
			p.say("turning: full where it counts under every rule that decides, open where not; under a row: counts there",
				"volteo: lleno si cuenta en todas las reglas que deciden, abierto si no; bajo una fila: cuenta allí"))
	}
	box := func(x, y, width float64, fill shade) { p.rect(x, y-em*0.4, width, em*0.8, 0.5, fill) }
	k.add(func(x, y float64) {
		box(x+em*0.1, y, em*0.9, black)
		box(x+em*1.3, y, em*0.9, white)
		p.add(disc{point{x + em*1.75, y}, em * 0.18, 0, black})
	}, p.say("date counts; with a dot: hot enough, but not in the count", "la fecha cuenta; con punto: bastante caliente, pero fuera de la cuenta"))
	k.add(func(x, y float64) { box(x+em*0.1, y, em*0.9, white) }, p.say("read, does not count; no cell: nobody read", "leída, no cuenta; sin cuadro: nadie leyó"))
	if len(p.heat.unread()) > 0 {
		k.add(func(x, y float64) { p.hatch(x+em*0.1, y-em*0.4, em*2.1, em*0.8, em*0.35) }, p.say("nobody read on these dates", "nadie leyó en estas fechas"))
	}
	k.add(func(x, y float64) { p.rect(x+em*0.1, y-em*0.4, em*2.1, em*0.8, 0, 236) },
		p.say("131 to 170 °F (55 to 76.6 °C); only the organic rule has the upper edge", "131 a 170 °F (55 a 76.6 °C); solo la regla orgánica tiene el borde de arriba"))
	p.y = p.keyed(k, p.y+em*0.4, em)
}

// describe is the chart in words, for those who cannot see it.
func (p *compostPlot) describe() string {
	var s []string
	add := func(en, es string, args ...any) { s = append(s, p.say(en, es, args...)) }
	h := p.heat
	if h.low == nil {
		add("No temperature is on file.", "No hay ninguna temperatura anotada.")
	} else {
		names := make([]string, len(h.probes))
		for i, x := range h.probes {
			names[i] = x.name
		}
		add("%d points (%s) from %s to %s.", "%d puntos (%s) del %s al %s.", len(names), strings.Join(names, ", "), h.first, h.last)
		add("Coldest reading %.1f °F at %s on %s, hottest %.1f °F at %s on %s.", "Lectura más fría %.1f °F en %s el %s, más caliente %.1f °F en %s el %s.",
			h.low.f, h.lowAt, h.low.date, h.high.f, h.highAt, h.high.date)
	}
	for _, r := range p.c.Results {
		counted := p.say("none", "ninguna")
		if len(r.CountedDays) > 0 {
			counted = listed(spansOf(r.CountedDays))
		}
		add("%s: %s; dates that count %d (%s), turnings that count %d.", "%s: %s; fechas que cuentan %d (%s), volteos que cuentan %d.",
			p.t.set(r.Set), p.t.outcome(r), len(r.CountedDays), counted, r.TurningsCounted)
	}
	if n := len(p.c.Facts.Turnings); n > 0 {
		on := make([]domain.Date, n)
		for i, x := range p.c.Facts.Turnings {
			on[i] = domain.DateIn(x.TurnedAt, p.zone)
		}
		slices.SortFunc(on, func(a, b domain.Date) int { return a.DaysSince(b) })
		add("Turned on %s.", "Volteada el %s.", listed(on))
	}
	for _, e := range p.events {
		add("%s: %s.", "%s: %s.", e.on, e.said)
	}
	if gaps := h.unread(); len(gaps) > 0 {
		add("Nobody read on %s.", "Nadie leyó el %s.", listed(gaps))
	}
	return strings.Join(s, " ")
}
