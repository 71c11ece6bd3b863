package report

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/go-pdf/fpdf"

	"croftmark/domain"
)

// CompostPaper is all that the report of a batch shows. Results and Standing are the domain's answers for the day On;
// Mix is the domain's recipe of the batch's ingredients.
type CompostPaper struct {
	Paper
	Batch    domain.CompostBatch
	Mix      domain.Mix
	Facts    domain.CompostFacts
	Results  []domain.ProcessResult
	Standing domain.CompostStanding
	On       domain.Date
	// Rounds are the records that the readings came in. With them the paper says who read on each date.
	Rounds []domain.CompostTemperatures
}

// CompostPDF writes the report of a batch. The same paper always gives the same bytes. It refuses a paper without farm
// or time, and writes nothing then.
func CompostPDF(w io.Writer, p CompostPaper) error {
	c := compostReport{CompostPaper: p, t: p.tongue(), heat: heatOf(&p.Facts)}
	period := c.t.say("built %s", "armado %s", shownDate(p.Facts.StartedOn, c.t))
	if !c.heat.last.IsZero() {
		period = c.t.say("readings %s to %s", "lecturas %s a %s", c.heat.first, c.heat.last)
	}
	return layout{
		paper: p.Paper, zone: zoneOf(p.Facts.Zone), period: period,
		title: c.t.say("Compost batch %s", "Lote de composta %s", p.Batch.Code), body: c.body,
	}.write(w)
}

func (p CompostPaper) chart() CompostChart {
	return CompostChart{Code: p.Batch.Code, Facts: p.Facts, Results: p.Results, Language: p.Language}
}

// compostReport is the paper with what several sections need.
type compostReport struct {
	CompostPaper
	t    tongue
	heat *heat
	d    *document
}

// body lays out the sections: first what an inspector looks for, then what it rests on.
func (c compostReport) body(d *document) {
	c.d = d
	d.headline(d.say("Compost batch %s: heat, turnings and standing", "Lote de composta %s: calor, volteos y estado", c.Batch.Code))
	c.summary()
	c.verdicts()
	d.gapsBox(c.gaps())
	c.drawChart()
	c.recipe()
	c.days()
	c.turnings()
	c.entered()
	c.curing()
	c.lab()
	c.thermometers()
	d.signatures()
}

func (c compostReport) summary() {
	on := shownDate(c.On, c.t)
	if c.On.IsZero() {
		on = c.t.say("all that is on file", "todo lo anotado")
	}
	read := fmt.Sprintf("%d", c.readings())
	if c.readings() > 0 {
		read = c.t.say("%d at %d points, %s to %s", "%d en %d puntos, %s a %s", c.readings(), len(c.heat.probes), c.heat.first, c.heat.last)
	}
	c.d.strong(c.t.say("Standing: %s, judged by all that is known now, as of %s.", "Estado: %s, según todo lo que se sabe ahora, al %s.", c.t.standing(c.Standing.Standing), on))
	c.d.facts(
		fact{c.t.say("How it is made", "Cómo se hace"), c.t.method(c.Facts.Method)},
		fact{c.t.say("Built on", "Armado el"), c.t.say("%s by %s", "%s por %s", shownDate(c.Facts.StartedOn, c.t), c.name(c.Batch.DoneBy))},
		fact{c.t.say("Readings", "Lecturas"), read},
		fact{c.t.say("Points to read", "Puntos por leer"), c.plans()},
		fact{c.t.say("Note", "Nota"), c.Batch.Note},
		fact{c.t.say("Written late", "Anotado tarde"), c.Batch.LateReason},
	)
}

func (c compostReport) readings() (n int) {
	for _, p := range c.heat.probes {
		n += len(p.samples)
	}
	return n
}

// plans says how many spots must be read, and from when.
func (c compostReport) plans() string {
	var out []string
	for _, p := range c.Facts.PointPlans() {
		s := fmt.Sprint(p.Required())
		if len(p.Names) > 0 {
			s += " (" + strings.Join(p.Names, ", ") + ")"
		}
		if !p.From.IsZero() {
			s += c.t.say(" from %s", " desde el %s", p.From)
		}
		out = append(out, s)
	}
	return strings.Join(out, "; ")
}

// verdicts sets the rule sets side by side.
func (c compostReport) verdicts() {
	t := table{columns: []column{{"", 1}}, size: 8, none: c.t.say("No rule set was asked.", "No se preguntó a ninguna regla.")}
	rows := []struct {
		name string
		of   func(domain.ProcessResult) string
	}{
		{c.t.say("Heat", "Calor"), c.t.outcome},
		{c.t.say("Dates that count", "Fechas que cuentan"), func(r domain.ProcessResult) string {
			if len(r.CountedDays) == 0 {
				return "0"
			}
			return fmt.Sprintf("%d\n%s", len(r.CountedDays), strings.ReplaceAll(listed(spansOf(r.CountedDays)), ", ", "\n"))
		}},
		{c.t.say("Turnings that count", "Volteos que cuentan"), func(r domain.ProcessResult) string { return fmt.Sprint(r.TurningsCounted) }},
		{c.t.say("Hours they span", "Horas que abarcan"), func(r domain.ProcessResult) string { return fmt.Sprintf("%.1f", r.ElapsedHours) }},
		{c.t.say("Still missing", "Falta"), func(r domain.ProcessResult) string {
			return c.several(r.Missing, c.t.say("nothing", "nada"))
		}},
		{c.t.say("Why", "Por qué"), func(r domain.ProcessResult) string {
			return strings.Join(slices.DeleteFunc(slices.Clone(c.reasons(r)), func(s string) bool { return slices.Contains(c.all(r.Missing), s) }), "\n")
		}},
		{c.t.say("Ask the certifier", "Preguntar a la certificadora"), func(r domain.ProcessResult) string {
			if r.AskCertifier {
				return c.t.say("yes", "sí")
			}
			return c.t.say("no", "no")
		}},
		{c.t.say("Worth a look", "Conviene mirar"), func(r domain.ProcessResult) string {
			return c.several(r.Cautions, "–")
		}},
		{c.t.say("Curing", "Curado"), func(r domain.ProcessResult) string { return c.t.of(r.Curing.Said) }},
		{c.t.say("Release", "Liberación"), func(r domain.ProcessResult) string { return c.t.release(r.Release) }},
		{c.t.say("Standing under this rule", "Estado según esta regla"), c.setStanding},
	}
	for _, r := range c.Results {
		t.columns = append(t.columns, column{c.t.setHead(r), 1.7})
	}
	for _, row := range rows {
		cells := []string{row.name}
		for _, r := range c.Results {
			cells = append(cells, row.of(r))
		}
		says := slices.ContainsFunc(cells[1:], func(s string) bool { return s != "–" })
		if says {
			t.rows = append(t.rows, cells)
		}
	}
	t.bold = func(row, column int) bool { return column == 0 || row == 0 || row == len(t.rows)-1 }
	c.d.heading(c.t.say("What each rule set says", "Qué dice cada regla"))
	c.d.table(t)
}

func (c compostReport) setStanding(r domain.ProcessResult) string {
	s, ok := c.Standing.Sets[r.Set]
	if !ok {
		return "–"
	}
	for _, reason := range c.Standing.Reasons {
		if reason.Rule == r.Set+".compost" {
			return c.t.standing(s) + "\n" + c.t.pick(reason.Text, reason.TextEs)
		}
	}
	return c.t.standing(s)
}

func (c compostReport) reasons(r domain.ProcessResult) []string {
	if c.t && len(r.ReasonsEs) == len(r.Reasons) {
		return r.ReasonsEs
	}
	return r.Reasons
}

func (c compostReport) all(list []domain.LocalText) (out []string) {
	for _, x := range list {
		out = append(out, c.t.of(x))
	}
	return out
}

func (c compostReport) several(list []domain.LocalText, nothing string) string {
	if len(list) == 0 {
		return nothing
	}
	return strings.Join(c.all(list), "\n")
}

func (c compostReport) drawChart() {
	drawn := c.chart().draw(c.d.width(), 7.5, false)
	c.d.heading(c.t.say("Temperatures over time", "Temperaturas a lo largo del tiempo"))
	c.d.place(drawn)
	c.d.small(c.t.say("In words: ", "En palabras: ") + drawn.desc)
}

// place puts a chart on the page, whole: smaller where it would be higher than a page.
func (d *document) place(c *drawing) {
	scale := min(1, (d.bottom-d.top-40)/c.height)
	d.need(c.height*scale + 4)
	top := d.y
	d.draw(func(pdf *fpdf.Fpdf) {
		pdf.TransformBegin()
		pdf.TransformScale(scale*100, scale*100, margin, top)
		c.place(pdf, margin, top)
		pdf.TransformEnd()
		// The end brings back the fill from before the chart, which the library does not notice: text would have it.
		pdf.SetFillColor(0, 0, 0)
	})
	d.y += c.height*scale + 4
}
