package report

import (
	"slices"
	"strconv"
	"strings"

	"github.com/google/uuid"

	"croftmark/domain"
)

// tests lists every sample. A result belongs to the moment it was drawn, however late it was reported.
func (r waterReport) tests() {
	zone := r.story.zone
	t := table{
		columns: []column{{r.t.say("Drawn", "Tomada"), 1.3}, {r.t.say("Tap", "Llave"), 1.2}, {r.t.say("Looked for", "Se buscó"), 1}, {r.t.say("Result", "Resultado"), 1.3},
			{r.t.say("In 100 mL", "En 100 mL"), 1.2}, {r.t.say("Method and lab", "Método y laboratorio"), 2.3}, {r.t.say("Hours to the lab", "Horas al laboratorio"), 1.1},
			{r.t.say("Reported", "Informado"), 1.3}, {r.t.say("By", "Por"), 1.5}},
		none: r.t.say("No test is on file.", "No hay ningún análisis anotado."),
	}
	for _, x := range r.story.tests {
		result, found := r.t.finding(domain.PendingResult), r.t.say("not E. coli: speaks for no use", "no es E. coli: no vale para ningún uso")
		if x.Result != nil {
			result = x.Result.String()
		}
		if x.Speaks() {
			found = r.t.finding(x.Finding())
		}
		held := r.t.say("not said", "no consta")
		if !x.StartedAt.IsZero() {
			held = strconv.FormatFloat(x.StartedAt.Sub(x.SampledAt).Hours(), 'f', 1, 64)
		}
		t.rows = append(t.rows, []string{clock(x.SampledAt, zone), r.t.tap(x.Tap), x.Analyte, result, found, r.method(x), held,
			orDash(clock(x.ReportedAt, zone)), withNote(r.name(x.DoneBy), x.Habits, r.t)})
	}
	t.bold = func(row, column int) bool {
		x := r.story.tests[row]
		return column == 4 && x.Speaks() && x.Finding() != domain.NoneDetected
	}
	r.d.heading(r.t.say("Tests", "Análisis"))
	r.d.table(t)
	r.methods()
}

// method is what the lab wrote, and which lab.
func (r waterReport) method(x domain.WaterTest) string {
	if x.Lab == "" {
		return orDash(x.Method)
	}
	return orDash(x.Method) + "\n" + x.Lab
}

// methods says once for each method whether the rule lists it.
func (r waterReport) methods() {
	var seen []string
	for _, x := range r.story.tests {
		if x.Method == "" || slices.Contains(seen, x.Method) {
			continue
		}
		seen = append(seen, x.Method)
		if m, ok := domain.WaterMethodOf(x.Method); ok {
			r.d.small(r.t.say("Method %q is on the list as %s.", "El método %q está en la lista como %s.", x.Method, m.Name))
		} else {
			r.d.small(r.t.say("Method %q is not on our list; ask the lab whether it is equivalent to EPA 1603.", "El método %q no está en nuestra lista; pregunte al laboratorio si equivale a EPA 1603.", x.Method))
		}
	}
}

// statistics are the numbers of 2015, which are a buyer's measure now and no law.
func (r waterReport) statistics() {
	r.d.heading(r.t.say("Counts over time (a buyer's measure)", "Conteos en el tiempo (medida de un comprador)"))
	r.d.paragraph(r.t.say("The geometric mean and the statistical threshold value come from the rule of 2015. They are no federal law since 2024-07-05; some buyers still ask for them. A result below or above what the lab can count is used as said here, and none is left out.",
		"La media geométrica y el valor umbral estadístico vienen de la regla de 2015. Ya no son ley federal desde el 2024-07-05; algunos compradores todavía los piden. Un resultado por debajo o por encima de lo que el laboratorio cuenta se usa como se dice aquí, y ninguno se omite."))
	profile, err := domain.IrrigationProfileOf(r.kindNow(), r.testsKnown(), r.story.day(r.At), r.story.zone)
	if err != nil {
		r.d.strong(r.t.say("Some result on file cannot be read as a count per 100 mL, so nothing is worked out.", "Algún resultado no se lee como conteo por 100 mL, así que no se calcula nada."))
		return
	}
	s := profile.Statistics
	number := func(x float64, known bool) string {
		if !known {
			return "?"
		}
		return r.least(s) + strconv.FormatFloat(x, 'f', 1, 64)
	}
	t := table{columns: []column{{"", 3}, {r.t.say("Of this source", "De esta fuente"), 2}, {r.t.say("The buyer's number", "Número del comprador"), 2}}}
	t.rows = [][]string{
		{r.t.say("Geometric mean, E. coli in 100 mL", "Media geométrica, E. coli en 100 mL"), number(s.GeometricMean, s.N > 0), strconv.Itoa(domain.GeometricMeanCriterion)},
		{r.t.say("Statistical threshold value, E. coli in 100 mL", "Valor umbral estadístico, E. coli en 100 mL"), number(s.ThresholdValue, s.ThresholdKnown), strconv.Itoa(domain.ThresholdCriterion)},
		{r.t.say("Samples used", "Muestras usadas"), strconv.Itoa(s.N), strconv.Itoa(profile.Needed)},
	}
	r.d.table(t)
	said := []string{r.t.say("Outcome: ", "Resultado: ") + r.t.of(profiles[profile.Outcome]) + "."}
	for _, x := range s.Said {
		said = append(said, r.t.of(x))
	}
	if profile.DieOff.NeedLog > 0 {
		said = append(said, r.t.say("Days between the last watering and harvest by the buyer's arithmetic: %d.", "Días entre el último riego y la cosecha según el cálculo del comprador: %d.", profile.DieOff.Days))
	}
	r.d.list(said...)
}

func (r waterReport) least(s domain.WaterStatistics) string {
	if s.AtLeast {
		return r.t.say("at least ", "al menos ")
	}
	return ""
}

// kindNow is the kind of water at the moment, after the changes of the whole source.
func (r waterReport) kindNow() domain.WaterKind {
	kind := r.Facts.Source.Is
	for _, c := range r.changes() {
		if c.Is != "" && c.Tap == "" && !c.At.After(r.At) {
			kind = c.Is
		}
	}
	return kind
}

func (r waterReport) changes() []domain.WaterSupplyChange {
	sorted := slices.Clone(r.Facts.Changes)
	slices.SortStableFunc(sorted, func(a, b domain.WaterSupplyChange) int { return a.At.Compare(b.At) })
	return sorted
}

func (r waterReport) testsKnown() (known []domain.WaterTest) {
	for _, t := range r.story.tests {
		if !t.SampledAt.After(r.At) {
			known = append(known, t)
		}
	}
	return known
}

// failures tells of each failing sample what it reaches back to, and what was done.
func (r waterReport) failures() {
	zone := r.story.zone
	t := table{
		columns: []column{{r.t.say("Tap", "Llave"), 1.2}, {r.t.say("Failing sample", "Muestra mala"), 1.5}, {r.t.say("Water not to be trusted", "Agua en duda"), 2.3},
			{r.t.say("For", "Para"), 1.6}, {r.t.say("What was done", "Qué se hizo"), 3.4}},
		none: r.t.say("No failing sample on file for uses at harvest and after.", "Ninguna muestra mala anotada para usos en la cosecha y después."),
	}
	for _, w := range r.story.fails {
		failing := r.story.test(w.Failing)
		where := clock(failing.SampledAt, zone)
		if failing.Result != nil {
			where += "\n" + failing.Result.String()
		}
		if !w.SampledHere {
			where += "\n" + r.t.say("drawn at %s, same water", "tomada en %s, la misma agua", r.t.tap(failing.Tap))
		}
		uses := r.t.uses(w.uses)
		if len(w.uses) == len(r.harvestUses()) && len(w.uses) > 1 {
			uses = r.t.say("every use at harvest and after", "todo uso en la cosecha y después")
		}
		t.rows = append(t.rows, []string{r.t.tap(r.story.shown[w.Tap]), where, r.story.span(w, r.t), uses, r.steps(w, failing)})
	}
	r.d.heading(r.t.say("Failure windows and what was done", "Ventanas de falla y qué se hizo"))
	r.d.paragraph(r.t.say("A failing sample puts all water in doubt that was used after the last good sample and before use was stopped. Every lot that it touched then has to be looked at.",
		"Una muestra mala pone en duda toda el agua usada después de la última muestra buena y antes de que se detuviera el uso. Hay que revisar cada lote que tocó entonces."))
	r.d.table(t)
}

func (r waterReport) harvestUses() (uses []domain.WaterUse) {
	for _, u := range r.story.uses() {
		if u.AtHarvestOrAfter() {
			uses = append(uses, u)
		}
	}
	return uses
}

// steps lists the stop, the corrections and the good samples that followed a failing one at the tap.
func (r waterReport) steps(w waterWindow, failing domain.WaterTest) string {
	type step struct {
		at   string
		said string
	}
	var list []step
	add := func(at, said string) { list = append(list, step{at, said}) }
	zone := r.story.zone
	if failing.ReportedAt.After(failing.SampledAt) {
		add(clock(failing.ReportedAt, zone), r.t.say("result reported", "resultado informado"))
	}
	for _, a := range r.Facts.Actions {
		tap := fold(a.Tap)
		mine := tap == "" || tap == w.Tap || tap == fold(failing.Tap)
		switch {
		case !mine || a.At.After(r.At):
		case !a.Corrective && (a.ID == w.Stop || a.At.After(failing.SampledAt)):
			add(clock(a.At, zone), r.t.say("use stopped", "uso detenido")+r.act(a.ID))
		case a.Corrective && a.At.After(failing.SampledAt):
			add(clock(a.At, zone), r.t.say("cause corrected", "causa corregida")+r.act(a.ID))
		}
	}
	for _, t := range r.story.tests {
		if fold(t.Tap) == w.Tap && t.IsEColi() && t.SampledAt.After(failing.SampledAt) && !t.SampledAt.After(r.At) && (w.fit.IsZero() || !t.SampledAt.After(w.fit)) {
			add(clock(t.SampledAt, zone), r.t.say("sample: ", "muestra: ")+r.t.finding(t.Finding()))
		}
	}
	slices.SortStableFunc(list, func(a, b step) int { return strings.Compare(a.at, b.at) })
	var lines []string
	for _, s := range list {
		lines = append(lines, s.at+" "+s.said)
	}
	if w.fit.IsZero() {
		lines = append(lines, r.t.say("NOT FIT YET", "AÚN NO ES APTA"))
	} else {
		lines = append(lines, r.t.say("fit again from %s", "apta otra vez desde el %s", clock(w.fit, zone)))
	}
	return strings.Join(lines, "\n")
}

// act adds who did it and what was written, as far as the paper was given it.
func (r waterReport) act(id uuid.UUID) string {
	a, ok := r.Acts[id]
	if !ok {
		return ""
	}
	said := r.t.say(" by %s", " por %s", r.name(a.By))
	if a.Said != "" {
		said += ": " + a.Said
	}
	return said
}

// supply lists when other water, or the same water through other pipes, began to flow.
func (r waterReport) supply() {
	if len(r.Facts.Changes) == 0 {
		return
	}
	t := table{columns: []column{{r.t.say("When", "Cuándo"), 1.3}, {r.t.say("Tap", "Llave"), 1.5}, {r.t.say("What changed", "Qué cambió"), 4}}}
	for _, c := range r.changes() {
		tap := r.t.say("every tap", "todas las llaves")
		if c.Tap != "" {
			tap = c.Tap
		}
		what := r.t.say("same water through other pipes", "la misma agua por otra tubería")
		if c.Is != "" {
			what = r.t.say("from here on: ", "desde aquí: ") + r.t.waterKind(c.Is)
		}
		t.rows = append(t.rows, []string{clock(c.At, r.story.zone), tap, what + r.act(c.ID)})
	}
	r.d.heading(r.t.say("Changes of supply", "Cambios de suministro"))
	r.d.table(t)
	r.d.small(r.t.say("Samples from before a change say nothing good about the water after it.", "Las muestras de antes de un cambio no prueban nada bueno del agua de después."))
}
