package report

import (
	"fmt"
	"slices"

	"croftmark/domain"
)

// treatment sums up the readings of a treatment for each tap and lists those that were out of range.
func (r waterReport) treatment() {
	r.d.heading(r.t.say("Treatment readings", "Lecturas del tratamiento"))
	sorted := slices.Clone(r.Facts.Monitoring)
	slices.SortStableFunc(sorted, func(a, b domain.WaterMonitoring) int { return a.At.Compare(b.At) })
	type sum struct {
		tap           string
		in, out, open int
		first, last   string
	}
	var sums []*sum
	byTap := map[string]*sum{}
	t := table{columns: []column{{r.t.say("Out of range at", "Fuera de rango"), 1.4}, {r.t.say("Tap", "Llave"), 1.5}, {r.t.say("By, and what was done", "Por, y qué se hizo"), 4}},
		none: r.t.say("No reading out of range.", "Ninguna lectura fuera de rango.")}
	for _, m := range sorted {
		x := byTap[fold(m.Tap)]
		if x == nil {
			x = &sum{tap: r.t.tap(m.Tap), first: clock(m.At, r.story.zone)}
			byTap[fold(m.Tap)] = x
			sums = append(sums, x)
		}
		x.last = clock(m.At, r.story.zone)
		switch {
		case m.InRange == nil:
			x.open++
		case *m.InRange:
			x.in++
		default:
			x.out++
			t.rows = append(t.rows, []string{x.last, x.tap, orDash(r.act(m.ID))})
		}
	}
	if len(sums) == 0 {
		r.d.paragraph(r.t.say("No reading of a treatment is on file.", "No hay ninguna lectura de tratamiento anotada."))
		return
	}
	all := table{columns: []column{{r.t.say("Tap", "Llave"), 2}, {r.t.say("In range", "En rango"), 1}, {r.t.say("Out of range", "Fuera de rango"), 1}, {r.t.say("Nobody said", "Nadie lo dijo"), 1},
		{r.t.say("First", "Primera"), 1.5}, {r.t.say("Last", "Última"), 1.5}}}
	for _, x := range sums {
		all.rows = append(all.rows, []string{x.tap, fmt.Sprint(x.in), fmt.Sprint(x.out), fmt.Sprint(x.open), x.first, x.last})
	}
	r.d.table(all)
	r.d.table(t)
}

var assessed = map[string]domain.LocalText{
	"adequate":     {En: "adequate", Es: "adecuada"},
	"mitigate":     {En: "measures are needed", Es: "hacen falta medidas"},
	"not-adequate": {En: "NOT ADEQUATE", Es: "NO ADECUADA"},
}

// papers lists the written assessments and the supplier's reports.
func (r waterReport) papers() {
	var said []string
	assessments := slices.Clone(r.Facts.Assessments)
	slices.SortStableFunc(assessments, func(a, b domain.WaterAssessment) int { return a.MadeOn.DaysSince(b.MadeOn) })
	for _, a := range assessments {
		outcome, ok := assessed[a.Outcome]
		if !ok {
			outcome = domain.LocalText{En: "no conclusion", Es: "sin conclusión"}
		}
		said = append(said, r.t.say("Written assessment of %s: %s", "Evaluación escrita del %s: %s", a.MadeOn, r.t.of(outcome))+r.act(a.ID)+".")
	}
	certificates := slices.Clone(r.Facts.Certificates)
	slices.SortStableFunc(certificates, func(a, b domain.WaterCertificate) int { return a.IssuedOn.DaysSince(b.IssuedOn) })
	for _, c := range certificates {
		said = append(said, r.t.say("Water report of the supplier, issued %s; it holds for twelve months.", "Informe de agua del proveedor, emitido el %s; vale doce meses.", c.IssuedOn))
	}
	if len(said) == 0 {
		said = []string{r.t.say("None on file.", "Ninguno anotado.")}
	}
	r.d.heading(r.t.say("Assessments and supplier's reports", "Evaluaciones e informes del proveedor"))
	r.d.list(said...)
}

// gaps finds what the records do not say.
func (r waterReport) gaps() (gaps []string) {
	add := func(n int, en, es string) {
		if n > 0 {
			gaps = append(gaps, r.t.say(en, es, n))
		}
	}
	var pending, cannot, noTap, noStart, noMethod, noPerson, late int
	for _, t := range r.story.tests {
		if t.LateReason != "" {
			late++
		}
		if t.DoneBy == [16]byte{} {
			noPerson++
		}
		if !t.Speaks() {
			continue
		}
		switch t.Finding() {
		case domain.PendingResult:
			pending++
		case domain.CannotTell:
			cannot++
		}
		if t.Tap == "" {
			noTap++
		}
		if t.StartedAt.IsZero() {
			noStart++
		}
		if t.Method == "" {
			noMethod++
		}
	}
	if len(r.story.tests) == 0 {
		gaps = append(gaps, r.t.say("No test of this source is on file.", "No hay ningún análisis de esta fuente."))
	}
	add(pending, "Samples without a result; pending is not a pass: %d.", "Muestras sin resultado; pendiente no es aprobado: %d.")
	add(cannot, "Results that cannot show that there is none in 100 mL: %d.", "Resultados que no pueden mostrar que no hay ninguna en 100 mL: %d.")
	add(noTap, "Samples that name no tap: %d.", "Muestras que no dicen la llave: %d.")
	add(noStart, "Samples for which nobody wrote when the lab began: %d.", "Muestras sin la hora en que empezó el laboratorio: %d.")
	add(noMethod, "Samples without the method of the lab: %d.", "Muestras sin el método del laboratorio: %d.")
	add(noPerson, "Samples for which nobody is named who drew them: %d.", "Muestras sin nombre de quien las tomó: %d.")
	add(late, "Tests written down late, with their reasons below: %d.", "Análisis anotados tarde, con sus motivos abajo: %d.")
	var open, noStop int
	for _, w := range r.story.fails {
		if w.To.IsZero() {
			open++
		}
		if w.Stop == [16]byte{} {
			noStop++
		}
	}
	add(open, "Failure windows that are still open: %d.", "Ventanas de falla que siguen abiertas: %d.")
	add(noStop, "Failure windows without a record that use was stopped: %d.", "Ventanas de falla sin registro de que se detuvo el uso: %d.")
	if len(r.Facts.Source.Points) == 0 {
		gaps = append(gaps, r.t.say("At which tap each use draws its water is not on file.", "No consta de qué llave toma agua cada uso."))
	}
	nameless := 0
	for _, a := range r.Facts.Actions {
		if r.Acts[a.ID].Said == "" {
			nameless++
		}
	}
	add(nameless, "Stops and corrections for which this paper does not say what was found and done: %d.", "Paros y correcciones de los que este papel no dice qué se halló e hizo: %d.")
	if r.Facts.Size == domain.FarmSizeUnknown {
		gaps = append(gaps, r.t.say("The size of the farm in the rule is not on file; the earliest starting days are taken.", "No consta el tamaño de la finca en la regla; se toman los primeros días de vigencia."))
	}
	gaps = append(gaps, r.t.say("Inspections of the source and its pipes, and the times of watering, are not in this paper.",
		"Las inspecciones de la fuente y sus tuberías, y las horas de riego, no están en este papel."))
	if r.Paper.Signatures.ReviewedBy.Name == "" {
		gaps = append(gaps, r.t.say("No supervisor's review is on file.", "No consta la revisión de un supervisor."))
	}
	return gaps
}
