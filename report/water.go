package report

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"croftmark/domain"
)

// WaterPaper is all that the report of a water source shows, judged for the moment At.
type WaterPaper struct {
	Paper
	Facts domain.WaterFacts
	At    time.Time
	// Acts say who made a stop, a correction, a reading or an assessment, and what was found and done, by record id.
	Acts map[uuid.UUID]WaterAct
}

// WaterAct is the person behind a record that the facts only name, and the words that stand in it.
type WaterAct struct {
	By   uuid.UUID
	Said string
}

// WaterPDF writes the report of a source. The same paper always gives the same bytes. It refuses a paper without farm,
// time or moment, and writes nothing then.
func WaterPDF(w io.Writer, p WaterPaper) error {
	var problems domain.Problems
	problems.Check(!p.At.IsZero(), "/at", "A report of water says for which moment it is.")
	if err := problems.Err(); err != nil {
		return err
	}
	r := waterReport{WaterPaper: p, t: p.tongue(), story: newWaterStory(&p.Facts, p.At)}
	period := r.t.say("as of %s", "al %s", r.story.day(p.At))
	if len(r.story.tests) > 0 {
		period = r.t.say("%s to %s", "%s a %s", r.story.day(r.story.tests[0].SampledAt), r.story.day(p.At))
	}
	return layout{
		paper: p.Paper, zone: r.story.zone, period: period,
		title: r.t.say("Water source %s", "Fuente de agua %s", p.Facts.Source.Name), body: r.body,
	}.write(w)
}

type waterReport struct {
	WaterPaper
	t     tongue
	story *waterStory
	d     *document
}

func (r waterReport) body(d *document) {
	r.d = d
	d.headline(d.say("Water source %s: fitness, tests and failures", "Fuente de agua %s: aptitud, análisis y fallas", r.Facts.Source.Name))
	r.summary()
	r.fitness()
	d.gapsBox(r.gaps())
	r.schedule()
	r.chart()
	r.failures()
	r.tests()
	r.statistics()
	r.supply()
	r.treatment()
	r.papers()
	d.signatures()
}

var farmSizes = map[domain.FarmSize]domain.LocalText{
	domain.FarmLarge:       {En: "large", Es: "grande"},
	domain.FarmSmall:       {En: "small", Es: "pequeña"},
	domain.FarmVerySmall:   {En: "very small", Es: "muy pequeña"},
	domain.FarmSizeUnknown: {En: "not on file, judged as large", Es: "no consta, se juzga como grande"},
}

func (r waterReport) summary() {
	src := &r.Facts.Source
	service := r.t.say("always", "siempre")
	if !src.From.IsZero() {
		service = r.t.say("since %s", "desde el %s", clock(src.From, r.story.zone))
	}
	if !src.To.IsZero() {
		service += r.t.say(" until %s", " hasta el %s", clock(src.To, r.story.zone))
	}
	var taps []string
	for _, p := range src.Points {
		taps = append(taps, p.Tap+" ("+r.t.waterUse(p.Use)+")")
	}
	r.d.facts(
		fact{r.t.say("Kind", "Clase"), r.t.waterKind(src.Is)},
		fact{r.t.say("In service", "En servicio"), service},
		fact{r.t.say("Used for", "Se usa para"), r.t.uses(r.story.uses())},
		fact{r.t.say("Taps", "Llaves"), orDash(strings.Join(taps, "; "))},
		fact{r.t.say("Farm size in the rule", "Tamaño en la regla"), r.t.of(farmSizes[r.Facts.Size])},
		fact{r.t.say("Judged for", "Juzgada para"), instant(r.At, r.story.zone)},
		fact{r.t.say("Note", "Nota"), src.Note},
	)
}

// fitness is the verdict for each use with every rule that spoke, who says it, and where it is written.
func (r waterReport) fitness() {
	t := table{columns: []column{{r.t.say("Use", "Uso"), 1.6}, {r.t.say("Verdict", "Veredicto"), 0.9}, {r.t.say("Why", "Por qué"), 5}, {r.t.say("Who says it", "Quién lo dice"), 2}}}
	var first []bool
	for _, x := range domain.AllWaterFitness(r.Facts, r.At) {
		for i, reason := range x.Reasons {
			use, verdict := "", ""
			if i == 0 {
				use, verdict = r.t.waterUse(x.Use), strings.ToUpper(r.t.verdict(x.Verdict))
			}
			first = append(first, i == 0)
			t.rows = append(t.rows, []string{use, verdict, r.t.verdict(reason.Verdict) + ": " + r.t.pick(reason.Text, reason.TextEs),
				r.t.authority(reason.Authority) + ", " + reason.Citation})
		}
	}
	t.none = r.t.say("No use was judged.", "No se juzgó ningún uso.")
	t.bold = func(row, column int) bool { return column < 2 && first[row] }
	r.d.heading(r.t.say("Is this water fit?", "¿Es apta esta agua?"))
	r.d.paragraph(r.t.say("One verdict for each use; the strictest reason decides. clear: go. caution: worth a look. ask: a fact is missing, not fit until somebody answers. stop: not fit until somebody acts.",
		"Un veredicto por uso; decide el motivo más estricto. libre: adelante. atención: conviene mirar. pregunte: falta un dato, no es apta hasta que alguien responda. alto: no es apta hasta que alguien actúe."))
	r.d.table(t)
}

func (r waterReport) chart() {
	drawn := WaterChart{Facts: r.Facts, At: r.At, Language: r.Language}.draw(r.d.width(), 7.5, false)
	r.d.heading(r.t.say("Tests and failures over time", "Análisis y fallas en el tiempo"))
	r.d.place(drawn)
	r.d.small(r.t.say("In words: ", "En palabras: ") + drawn.desc)
}

// schedule is the next duty of each tap for uses at harvest and after.
func (r waterReport) schedule() {
	t := table{columns: []column{{r.t.say("Tap", "Llave"), 2}, {r.t.say("What is asked", "Qué se pide"), 3}, {r.t.say("Done", "Hecho"), 1}, {r.t.say("Next due", "Próximo"), 1.6}}}
	taps := []string{}
	for _, p := range r.Facts.Source.Points {
		if p.Use.AtHarvestOrAfter() && !slices.ContainsFunc(taps, func(x string) bool { return fold(x) == fold(p.Tap) }) {
			taps = append(taps, p.Tap)
		}
	}
	if len(taps) == 0 {
		taps = []string{""}
	}
	for _, tap := range taps {
		s := domain.WaterTestsDue(r.Facts, tap, r.At)
		due := r.t.say("nothing due", "nada pendiente")
		if !s.DueOn.IsZero() {
			due = s.DueOn.String()
		}
		if s.Overdue {
			due += r.t.say(" OVERDUE", " VENCIDO")
		}
		t.rows = append(t.rows, []string{r.t.tap(tap), r.t.waterPlan(s.Plan), fmt.Sprintf("%d / %d", s.Done, s.Needed), due})
	}
	t.bold = func(row, column int) bool { return column == 3 }
	r.d.heading(r.t.say("What is due (uses at harvest and after)", "Qué toca hacer (usos en la cosecha y después)"))
	r.d.table(t)
}
