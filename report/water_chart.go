package report

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"croftmark/domain"
)

// WaterChart is the tests of one water source over time, a lane for each tap, with failure windows, changes of supply,
// stops, the day the water was fit again, and the next due date.
type WaterChart struct {
	Facts    domain.WaterFacts
	At       time.Time // the moment it shows
	Language string    // "es"; anything else is English
	Width    float64   // of the viewBox; zero is 360, a phone
}

// SVG draws the chart. It has no size of its own and fills the room it is given.
func (c WaterChart) SVG() []byte {
	width := c.Width
	if width <= 0 {
		width = 360
	}
	return c.draw(max(width, 280), 11, true).SVG()
}

type waterPlot struct {
	drawing
	story  *waterStory
	say    func(en, es string, args ...any) string
	t      tongue
	em     float64
	axis   timeAxis
	due    domain.WaterSchedule
	events []waterEvent
	y      float64
	lanes  map[string]float64 // the middle of a tap's lane
}

func (c WaterChart) draw(width, em float64, titled bool) *drawing {
	p := &waterPlot{story: newWaterStory(&c.Facts, c.At), t: tongue(c.Language == "es"), em: em, lanes: map[string]float64{}}
	p.say, p.width = p.t.say, width
	p.events = p.story.events(p.t)
	p.due = domain.WaterTestsDue(c.Facts, "", c.At)
	p.title = p.say("Water source %s: tests and failures over time", "Fuente de agua %s: análisis y fallas en el tiempo", c.Facts.Source.Name)
	if titled {
		for _, line := range wrap(p.title, width, em*1.05, true) {
			p.y += em * 1.25
			p.text(0, p.y, line, em*1.05, true, start)
		}
	}
	p.scale()
	behind := len(p.shapes)
	for _, tap := range p.story.taps {
		p.lane(tap)
	}
	lanes := slices.Clone(p.shapes[behind:])
	p.shapes = p.shapes[:behind]
	p.nowAndDue(p.y) // drawn first, so that no line crosses a word
	p.add(lanes...)
	p.y += p.drawTimeAxis(p.axis, p.y, em, p.t)
	p.key()
	p.height = p.y + em*0.4
	p.desc = p.describe()
	return &p.drawing
}

// scale takes in all that happened up to the moment shown, and the due date if it is not far off.
func (p *waterPlot) scale() {
	now := p.story.day(p.story.at)
	first, last := now.AddDays(-30), now
	earlier := func(at time.Time) {
		if d := p.story.day(at); !at.IsZero() && d.Before(first) {
			first = d
		}
	}
	for _, t := range p.story.tests {
		earlier(t.SampledAt)
	}
	for _, e := range p.events {
		earlier(e.at)
	}
	if !p.due.DueOn.IsZero() && p.due.DueOn.DaysSince(now) <= 400 {
		last = domain.Later(last, p.due.DueOn)
	}
	spare := max(1, last.DaysSince(first)/40) // so that nothing sits on the very edge
	p.axis = newTimeAxis(first.AddDays(-spare), last.AddDays(spare), p.story.zone, p.em*0.8, p.width-p.em*0.8)
}

// lane draws one tap: its name, then windows, samples and lettered events on one line.
func (p *waterPlot) lane(tap string) {
	em := p.em
	p.y += em * 0.6
	name := p.say("Tap: ", "Llave: ") + p.story.shown[tap]
	if tap == "" {
		name = p.say("No tap named", "Sin llave indicada")
	}
	p.text(p.axis.left, p.y+em, cut(name, p.width-p.axis.left, em, true), em, true, start)
	p.y += em * 3.1
	mid := p.y + em*1.3
	p.lanes[tap] = mid
	for _, w := range p.story.fails {
		if w.Tap == tap {
			p.window(w, mid)
		}
	}
	p.line(p.axis.left, mid, p.axis.right, mid, 0.8)
	p.laneEvents(tap, mid)
	p.laneTests(tap, mid)
	p.y = mid + em*4.4
}

// window hatches the time in which water of the tap touched produce after the last good sample.
func (p *waterPlot) window(w waterWindow, mid float64) {
	em, from, to := p.em, w.From, w.To
	x1, x2 := p.axis.left, p.axis.x(p.story.at)
	if !from.IsZero() {
		x1 = p.axis.x(from)
	}
	if !to.IsZero() {
		x2 = p.axis.x(to)
	}
	x2 = max(x2, x1+0.8)
	p.rect(x1, mid-em*1.1, x2-x1, em*2.2, 0, white)
	p.hatch(x1, mid-em*1.1, x2-x1, em*2.2, em*0.5)
	p.line(x1, mid-em*1.1, x1, mid+em*1.1, 0.9)
	if !to.IsZero() {
		p.line(x2, mid-em*1.1, x2, mid+em*1.1, 0.9)
	}
	p.line(x1, mid-em*1.1, x2, mid-em*1.1, 0.6)
	p.line(x1, mid+em*1.1, x2, mid+em*1.1, 0.6)
	if to.IsZero() {
		text := p.say("still open", "sigue abierta")
		half := textWidth(text, em*0.85, true) / 2
		p.text(min(max((x1+x2)/2, p.axis.left+half), p.axis.right-half), mid+em*4.1, text, em*0.85, true, middle)
	}
}

func (p *waterPlot) laneEvents(tap string, mid float64) {
	em := p.em
	var here []waterEvent
	var places []float64
	for _, e := range p.events {
		if e.tap == "" || e.tap == tap {
			here, places = append(here, e), append(places, p.axis.x(e.at))
		}
	}
	for i, x := range spread(places, em*1.6, p.axis.left+em*0.7, p.axis.right-em*0.7) {
		p.line(places[i], mid-em*1.5, places[i], mid+em*1.3, 1.6)
		p.line(places[i], mid-em*1.5, x, mid-em*2, 0.6)
		p.lettered(x, mid-em*2.4, em, here[i].letter)
	}
}

var sampleMarks = map[domain.WaterFinding]markerShape{domain.NoneDetected: openDisc, domain.Detected: fullSquare,
	domain.PendingResult: openTriangle, domain.CannotTell: openDiamond}

// laneTests draws the samples with a word under each, as far as words have room in two rows. A detection always gets
// its word.
func (p *waterPlot) laneTests(tap string, mid float64) {
	em, size := p.em, p.em*0.85
	free := [2]float64{math.Inf(-1), math.Inf(-1)}
	for _, t := range p.story.tests {
		if fold(t.Tap) != tap || !t.Speaks() || t.SampledAt.After(p.story.at) {
			continue
		}
		found := t.Finding()
		x := p.axis.x(t.SampledAt)
		p.marker(sampleMarks[found], x, mid, em*0.42)
		word := p.t.finding(found)
		half := textWidth(word, size, found == domain.Detected) / 2
		at := min(max(x, p.axis.left+half), p.axis.right-half)
		for row := range free {
			if at-half > free[row]+em*0.3 || (row == 1 && found == domain.Detected) {
				p.rect(at-half, mid+em*(1.4+float64(row)), 2*half, em*0.95, 0, white)
				p.text(at, mid+em*(2.1+float64(row)), word, size, found == domain.Detected, middle)
				free[row] = at + half
				break
			}
		}
	}
}

// nowAndDue draws the moment shown and the next due date over all lanes.
func (p *waterPlot) nowAndDue(foot float64) {
	em := p.em
	top := p.lanes[p.story.taps[0]] - em*1.2
	x := p.axis.x(p.story.at)
	p.line(x, top, x, foot, 0.6, 1, 1.5)
	if p.due.DueOn.IsZero() || p.due.DueOn.After(p.axis.last) {
		return
	}
	x = p.axis.day(p.due.DueOn)
	p.line(x, top, x, foot, 1.1, 5, 2)
	p.marker(fullDiamond, x, foot-em*0.5, em*0.45)
}

func (p *waterPlot) key() {
	em := p.em
	var k key
	for _, e := range p.events {
		k.add(func(x, y float64) { p.lettered(x+em*1.1, y, em, e.letter) }, e.at.In(p.story.zone).Format("2006-01-02 15:04")+"  "+p.eventSaid(e))
	}
	for _, found := range []domain.WaterFinding{domain.NoneDetected, domain.Detected, domain.PendingResult, domain.CannotTell} {
		k.add(func(x, y float64) { p.marker(sampleMarks[found], x+em*1.1, y, em*0.42) },
			p.say("E. coli in 100 mL: %s", "E. coli en 100 mL: %s", p.t.finding(found)))
	}
	if len(p.story.fails) > 0 {
		k.add(func(x, y float64) { p.hatch(x+em*0.1, y-em*0.45, em*2.1, em*0.9, em*0.4) },
			p.say("failure window: look at every lot that this water touched", "ventana de falla: revise cada lote que tocó esta agua"))
	}
	k.add(func(x, y float64) { p.line(x+em*1.1, y-em*0.6, x+em*1.1, y+em*0.6, 0.6, 1, 1.5) },
		p.say("moment shown: %s", "momento mostrado: %s", instant(p.story.at, p.story.zone)))
	k.add(func(x, y float64) {
		if !p.due.DueOn.IsZero() {
			p.line(x, y, x+em*2.2, y, 1.1, 5, 2)
			p.marker(fullDiamond, x+em*1.1, y, em*0.45)
		}
	}, p.dueSaid())
	p.y = p.keyed(k, p.y+em*0.4, em)
}

func (p *waterPlot) eventSaid(e waterEvent) string {
	if e.tap == "" {
		return e.said + p.say(" (every tap)", " (todas las llaves)")
	}
	return e.said + " (" + p.story.shownTap(e.tap) + ")"
}

func (s *waterStory) shownTap(tap string) string {
	if shown := s.shown[tap]; shown != "" {
		return shown
	}
	return tap
}

func (p *waterPlot) dueSaid() string {
	if p.due.DueOn.IsZero() {
		return p.say("nothing due: %s", "nada pendiente: %s", p.t.waterPlan(p.due.Plan))
	}
	late := ""
	if p.due.Overdue {
		late = p.say(", OVERDUE", ", VENCIDO")
	}
	return p.say("next due %s%s: %s (%d of %d done)", "próximo hasta el %s%s: %s (%d de %d hechos)", p.due.DueOn, late, p.t.waterPlan(p.due.Plan), p.due.Done, p.due.Needed)
}

// describe is the chart in words, for those who cannot see it.
func (p *waterPlot) describe() string {
	var s []string
	for _, tap := range p.story.taps {
		var tests []string
		for _, t := range p.story.tests {
			if fold(t.Tap) == tap && t.Speaks() && !t.SampledAt.After(p.story.at) {
				tests = append(tests, fmt.Sprintf("%s %s", p.story.day(t.SampledAt), p.t.finding(t.Finding())))
			}
		}
		said := p.say("no E. coli sample", "ninguna muestra de E. coli")
		if len(tests) > 0 {
			said = strings.Join(tests, ", ")
		}
		s = append(s, p.say("Tap %s: %s.", "Llave %s: %s.", p.t.tap(p.story.shown[tap]), said))
	}
	for _, w := range p.story.fails {
		s = append(s, p.say("Failure window at %s %s.", "Ventana de falla en %s %s.", p.t.tap(p.story.shown[w.Tap]), p.story.span(w, p.t)))
	}
	for _, e := range p.events {
		s = append(s, p.say("%s: %s.", "%s: %s.", p.story.day(e.at), p.eventSaid(e)))
	}
	due := p.dueSaid()
	return strings.Join(append(s, strings.ToUpper(due[:1])+due[1:]+"."), " ")
}

// span says from when to when a window reaches.
func (s *waterStory) span(w waterWindow, t tongue) string {
	from := t.say("from the beginning", "desde el principio")
	if !w.From.IsZero() {
		from = t.say("from %s", "desde el %s", clock(w.From, s.zone))
	}
	if w.LastGood != uuid.Nil {
		from = t.say("after the good sample of %s", "después de la muestra buena del %s", clock(s.test(w.LastGood).SampledAt, s.zone))
	}
	if w.To.IsZero() {
		return from + t.say(", still open", ", sigue abierta")
	}
	return from + t.say(" until %s", " hasta el %s", clock(w.To, s.zone))
}
