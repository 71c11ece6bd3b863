package report

import (
	"fmt"
	"math"
	"slices"
	"time"

	"croftmark/domain"
)

// CompostChart is the heat of one batch over time: every probe, the band that the rules ask for, turnings, and below
// which dates count under which rule set.
type CompostChart struct {
	Code     string
	Facts    domain.CompostFacts
	Results  []domain.ProcessResult
	Language string  // "es"; anything else is English
	Width    float64 // of the viewBox; zero is 360, a phone
}

// SVG draws the chart. It has no size of its own and fills the room it is given.
func (c CompostChart) SVG() []byte {
	width := c.Width
	if width <= 0 {
		width = 360
	}
	return c.draw(max(width, 280), 11, true).SVG()
}

// seriesWeight is how thick the line of a probe is.
const seriesWeight = 0.9

// The band of both rules in °F; the hot end is the organic rule's alone.
const (
	bandLow  = 131.0
	bandHigh = 170.0
)

// compostPlot is the chart while it is being drawn.
type compostPlot struct {
	drawing
	c       CompostChart
	say     func(en, es string, args ...any) string
	t       tongue
	em      float64
	axis    timeAxis
	heat    *heat
	top     float64
	foot    float64 // of the plot
	low     float64 // °F at the foot
	high    float64
	events  []heapEvent
	y       float64
	lines   []series
	summed  bool
	zone    *time.Location
	letters float64 // width of the labels on the right
	cut     bool    // some name does not fit there, so that all get numbers
}

// draw lays the chart out for a width with letters of em; a paper has its own heading over it.
func (c CompostChart) draw(width, em float64, titled bool) *drawing {
	p := &compostPlot{c: c, t: tongue(c.Language == "es"), em: em, heat: heatOf(&c.Facts), zone: zoneOf(c.Facts.Zone)}
	p.say = p.t.say
	p.width = width
	p.title = p.say("Temperatures of compost batch %s", "Temperaturas del lote de composta %s", c.Code)
	p.lines, p.summed = p.heat.drawn(p.t)
	p.events = heapEvents(&c.Facts, p.t)
	p.top = em * 3
	if titled {
		p.top = em * 4.4
		p.text(0, em*1.05, cut(p.title, p.width, em*1.05, true), em*1.05, true, start)
	}
	p.scale()
	p.drawBand()
	p.drawGaps()
	p.drawTurnings()
	p.drawEvents()
	p.drawLines()
	p.drawLabels()
	p.y = p.foot + p.drawTimeAxis(p.axis, p.foot, em, p.t)
	p.drawCounted()
	p.drawKey()
	p.height = p.y + em*0.4
	p.desc = p.describe()
	return &p.drawing
}

// scale sets the two axes: whole dates, and tens of degrees around the readings and the band.
func (p *compostPlot) scale() {
	em := p.em
	for _, s := range p.lines {
		p.letters = max(p.letters, min(textWidth(s.name, em*0.9, false), p.width*0.2))
	}
	first, last := p.c.Facts.StartedOn, p.heat.last
	if first.IsZero() {
		first = p.heat.first
	}
	for _, x := range p.c.Facts.Turnings {
		last = domain.Later(last, domain.DateIn(x.TurnedAt, p.zone))
	}
	for _, e := range p.events {
		last = domain.Later(last, e.on)
	}
	last = domain.Later(last, first)
	p.axis = newTimeAxis(first, last, p.zone, em*4.1, p.width-p.letters-em*1.4)
	p.cut = slices.ContainsFunc(p.lines, func(s series) bool { return textWidth(s.name, em*0.9, false) > p.letters })
	p.low, p.high = 90, 180
	if p.heat.low != nil {
		p.low = min(p.low, math.Floor(p.heat.low.f/10)*10)
		p.high = max(p.high, math.Ceil((p.heat.high.f+1)/10)*10)
	}
	p.foot = p.top + em*23
}

func (p *compostPlot) level(f float64) float64 {
	return p.foot - (f-p.low)/(p.high-p.low)*(p.foot-p.top)
}

// drawBand draws the degrees and the band with both edges in both units.
func (p *compostPlot) drawBand() {
	em, a := p.em, p.axis
	y1, y2 := p.level(bandHigh), p.level(bandLow)
	p.rect(a.left, y1, a.right-a.left, y2-y1, 0, 236)
	for f := math.Ceil(p.low/20) * 20; f <= p.high; f += 20 {
		y := p.level(f)
		if math.Abs(y-y1) < em*1.9 || math.Abs(y-y2) < em*1.9 {
			continue
		}
		p.add(path{points: []point{{a.left - em*0.3, y}, {a.right, y}}, weight: 0.4, ink: 190, fill: none})
		p.text(a.left-em*0.5, y+em*0.33, fmt.Sprintf("%.0f", f), em*0.9, false, end)
	}
	for _, edge := range []struct {
		y    float64
		f, c string
	}{{y1, "170 °F", "76.6 °C"}, {y2, "131 °F", "55 °C"}} {
		p.line(a.left-em*0.5, edge.y, a.right, edge.y, 1.3)
		p.text(a.left-em*0.6, edge.y-em*0.15, edge.f, em*0.9, true, end)
		p.text(a.left-em*0.6, edge.y+em*0.85, edge.c, em*0.9, false, end)
	}
	p.text(a.left-em*0.5, p.top-em*0.75, "°F", em*0.9, false, end)
	p.line(a.left, p.top, a.left, p.foot, 0.8)
}

// drawGaps hatches the foot of dates that nobody read, so that a gap is a thing to see and not an absence.
func (p *compostPlot) drawGaps() {
	for _, s := range p.heat.unread() {
		x1, x2 := p.axis.day(s.first), p.axis.day(s.last.AddDays(1))
		p.hatch(x1, p.foot-p.em*1.6, x2-x1, p.em*1.6, p.em*0.4)
	}
}

// drawTurnings marks each turning over the whole height, with a full arrow head where it counts under every set that
// decides and an open one where it does not.
func (p *compostPlot) drawTurnings() {
	for _, x := range p.c.Facts.Turnings {
		at := p.axis.x(x.TurnedAt)
		p.line(at, p.top-p.em*0.2, at, p.foot, 0.7, 4, 2, 1, 2)
		fill := white
		if p.countsEverywhere(x.TurnedAt) {
			fill = black
		}
		p.arrowHead(at, p.top-p.em*0.5, p.em, fill)
	}
}

func (p *compostPlot) countsEverywhere(at time.Time) bool {
	asked := 0
	for _, r := range p.c.Results {
		if r.Picture {
			continue
		}
		asked++
		if !slices.ContainsFunc(r.Turnings, func(t domain.TurningDay) bool { return t.Counted && t.TurnedAt.Equal(at) }) {
			return false
		}
	}
	return asked > 0
}

// drawEvents marks what came into the heap or soiled it: a heavy line with a letter that the key explains.
func (p *compostPlot) drawEvents() {
	em := p.em
	places := make([]float64, len(p.events))
	for i, e := range p.events {
		places[i] = p.axis.x(e.at)
	}
	boxes := spread(places, em*1.6, p.axis.left+em*0.7, p.axis.right-em*0.7)
	for i, e := range p.events {
		x, y := places[i], p.top-em*1.3
		p.line(x, y+em*0.3, x, p.foot, 1.6)
		p.line(x, y+em*0.3, boxes[i], y, 0.6)
		p.lettered(boxes[i], y-em*0.55, em, e.letter)
	}
}

// drawLines draws each probe, a line per run of dates, and then the markers over all lines. The probes take turns with
// their markers from left to right, so that one does not hide another; a probe that was not read in its turn gets one
// later.
func (p *compostPlot) drawLines() {
	column := func(at time.Time) int { return int(p.axis.x(at) * 2) }
	r := p.em * 0.3
	apart := p.em * 0.7 * float64(len(p.lines)+1)
	var markers []func()
	for n, s := range p.lines {
		pen, lines := pens(n), float64(len(p.lines))
		last := -1.0 // the turn that the last marker was drawn in
		for _, run := range s.runs() {
			line := path{weight: seriesWeight, fill: none, dash: pen.dash}
			for _, s := range thinned(run, column) {
				line.points = append(line.points, point{p.axis.x(s.at), p.level(s.f)})
			}
			if len(line.points) > 1 {
				p.add(line)
			}
			for _, at := range line.points {
				turn, late := math.Modf((at.x-p.axis.left)/apart - float64(n)/lines + 1)
				if len(line.points) == 1 || turn > last && late < 1/lines || turn > last+1 {
					markers = append(markers, func() {
						p.add(disc{at, r * 1.4, 0, white}) // a rim, so that it shows on a thicket of lines
						p.marker(pen.marker, at.x, at.y, r)
					})
					last = turn
				}
			}
		}
	}
	for _, draw := range markers {
		draw()
	}
}

// drawLabels names each line at its end.
func (p *compostPlot) drawLabels() {
	em := p.em
	order := make([]int, 0, len(p.lines))
	for i := range p.lines {
		order = append(order, i)
	}
	end := func(i int) point {
		s := p.lines[i].samples[len(p.lines[i].samples)-1]
		return point{p.axis.x(s.at), p.level(s.f)}
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch ya, yb := end(a).y, end(b).y; {
		case ya < yb:
			return -1
		case ya > yb:
			return 1
		}
		return 0
	})
	places := make([]float64, len(order))
	for k, i := range order {
		places[k] = end(i).y
	}
	for k, y := range spread(places, em*1.15, p.top+em*0.5, p.foot-em*0.3) {
		at := end(order[k])
		x := p.axis.right + em*0.9
		p.line(at.x, at.y, p.axis.right+em*0.2, at.y, 0.4, 1, 1.5)
		p.line(p.axis.right+em*0.2, at.y, x-em*0.2, y, 0.4, 1, 1.5)
		p.text(x, y+em*0.32, cut(p.lineName(order[k]), p.width-x, em*0.9, false), em*0.9, false, start)
	}
}

// lineName is the name of a line, with a number where names are too long to be told apart at the end of the line.
func (p *compostPlot) lineName(n int) string {
	if p.cut {
		return fmt.Sprintf("%d: %s", n+1, p.lines[n].name)
	}
	return p.lines[n].name
}
