package report

import (
	"slices"
	"strings"

	"croftmark/domain"
)

// entered lists what came into the heap after it was built, and what soiled it.
func (c compostReport) entered() {
	t := table{columns: []column{{"", 0.4}, {c.t.say("When", "Cuándo"), 1.5}, {c.t.say("What", "Qué"), 4}, {c.t.say("What it does", "Qué causa"), 2.4}, {c.t.say("By", "Por"), 2.4}},
		none: c.t.say("Nothing on file: no addition, no joined heap, no contamination.", "Nada anotado: ninguna adición, ninguna pila juntada, ninguna contaminación.")}
	zone := zoneOf(c.Facts.Zone)
	for _, e := range heapEvents(&c.Facts, c.t) {
		who := "–"
		if e.added != nil {
			who = withNote(c.name(e.added.DoneBy), e.added.Habits, c.t)
			if e.added.CarbonNitrogen.Valid {
				who += c.t.say(". C:N of the whole afterwards: %s", ". C:N del total después: %s", e.added.CarbonNitrogen.Decimal)
			}
		}
		does := c.t.say("days and turnings start again from nothing", "los días y volteos empiezan de nuevo")
		if e.water {
			does = c.t.say("nothing: water only", "nada: solo agua")
		}
		t.rows = append(t.rows, []string{e.letter, clock(e.at, zone), e.said, does, who})
	}
	c.d.heading(c.t.say("Additions, joined heaps and contaminations", "Adiciones, pilas juntadas y contaminaciones"))
	c.d.table(t)
}

func (c compostReport) curing() {
	t := table{columns: []column{{c.t.say("From", "Desde"), 1}, {c.t.say("To", "Hasta"), 1.2}, {c.t.say("Warmed up again", "Se recalentó"), 1.2}, {c.t.say("By", "Por"), 3}},
		none: c.t.say("No curing is on file.", "No hay ningún curado anotado.")}
	for _, x := range c.Facts.Curings {
		to, again := c.t.say("not ended", "sin terminar"), c.t.say("no", "no")
		if !x.FinishedOn.IsZero() {
			to = x.FinishedOn.String()
		}
		if x.Reheated {
			again = c.t.say("YES: not done", "SÍ: no está lista")
		}
		t.rows = append(t.rows, []string{x.StartedOn.String(), to, again, withNote(c.name(x.DoneBy), x.Habits, c.t)})
	}
	c.d.heading(c.t.say("Curing", "Curado"))
	c.d.table(t)
	for _, r := range c.Results {
		if !r.Picture && r.Curing.DaysNeeded > 0 {
			c.d.small(c.t.say("%s: %s The farm asks for %d days; the rule names no number.", "%s: %s La finca pide %d días; la regla no da cifra.", c.t.set(r.Set), c.t.of(r.Curing.Said), r.Curing.DaysNeeded))
		}
	}
}

var analytes = map[string]domain.LocalText{
	domain.FecalColiform: {En: "fecal coliform", Es: "coliformes fecales"},
	domain.Salmonella:    {En: "Salmonella", Es: "Salmonella"},
	domain.EColiO157:     {En: "E. coli O157:H7", Es: "E. coli O157:H7"},
	domain.Listeria:      {En: "Listeria monocytogenes", Es: "Listeria monocytogenes"},
}

var labStandards = []struct {
	id   domain.LabStandardID
	name string
}{{domain.NOP5006, "NOP 5006"}, {domain.CFR11255a, "21 CFR 112.55(a)"}, {domain.CFR11255b, "21 CFR 112.55(b)"}}

// lab holds each result against each standard.
func (c compostReport) lab() {
	t := table{columns: []column{{c.t.say("Sampled", "Muestra"), 1.1}, {c.t.say("Looked for", "Se buscó"), 1.3}, {c.t.say("Result", "Resultado"), 1.5}},
		none: c.t.say("No lab test is on file. No rule above asks for one; a test never stands in for missing temperatures.",
			"No hay ningún análisis anotado. Ninguna regla de arriba lo exige; un análisis nunca sustituye temperaturas que faltan.")}
	for _, s := range labStandards {
		t.columns = append(t.columns, column{s.name, 2})
	}
	for _, x := range c.Facts.LabTests {
		cells := []string{x.SampledOn.String(), c.analyte(x.Analyte), c.result(x.Result)}
		for _, s := range labStandards {
			cells = append(cells, c.against(x, s.id))
		}
		t.rows = append(t.rows, cells)
	}
	c.d.heading(c.t.say("Lab tests", "Análisis de laboratorio"))
	c.d.table(t)
}

func (c compostReport) analyte(a string) string {
	if x, ok := analytes[a]; ok {
		return c.t.of(x)
	}
	return a
}

func (c compostReport) result(r domain.LabResult) string {
	var s []string
	if r.Value.Valid {
		s = append(s, r.Qualifier+r.Value.Decimal.String()+" "+r.Unit)
	}
	if r.Detected != nil {
		word := c.t.say("not detected", "no detectado")
		if *r.Detected {
			word = c.t.say("DETECTED", "DETECTADO")
		}
		s = append(s, word)
	}
	if r.DetectionLimit.Valid {
		s = append(s, c.t.say("method finds %s %s", "el método detecta %s %s", r.DetectionLimit.Decimal, r.Unit))
	}
	return strings.Join(s, "; ")
}

func (c compostReport) against(x domain.CompostLabTest, id domain.LabStandardID) string {
	reason, ok, err := domain.JudgeLabTest(x, id)
	switch {
	case err != nil:
		return c.t.say("%s: this result cannot be read.", "%s: este resultado no se puede leer.", c.t.verdict(domain.Ask))
	case !ok:
		return c.t.say("no limit for it", "sin límite para esto")
	}
	return c.t.verdict(reason.Verdict) + ": " + c.t.pick(reason.Text, reason.TextEs)
}

// thermometers tells what is known of the instruments, which readings were taken out, and what the certifier agreed to.
func (c compostReport) thermometers() {
	zone := zoneOf(c.Facts.Zone)
	var said []string
	if !c.Facts.ProbeAccuracy.IsZero() {
		said = append(said, c.t.say("Accuracy of the thermometer: ± %s.", "Precisión del termómetro: ± %s.", amount(c.Facts.ProbeAccuracy)))
	}
	for _, o := range c.Facts.ProbeOffsets {
		probe := c.t.say("every probe", "todas las sondas")
		if o.Probe != "" {
			probe = c.t.say("probe ", "sonda ") + o.Probe
		}
		said = append(said, c.t.say("From %s %s reads %s too high; all figures here are corrected for it.", "Desde %s, %s marca %s de más; todas las cifras de aquí están corregidas.", clock(o.From, zone), probe, orZero(o.ReadHigh)))
	}
	for _, r := range c.heat.takenOut {
		said = append(said, c.t.say("Taken out: %s at %s on %s. Reason: %s. By %s and %s; the point was read again that date.",
			"Retirada: %s en %s el %s. Motivo: %s. Por %s y %s; el punto se leyó otra vez esa fecha.",
			amount(r.Temperature), r.Probe, clock(r.TakenAt, zone), r.Void.Reason, c.name(r.Void.By), c.name(r.Void.SecondPerson)))
	}
	for _, s := range c.Facts.Certifier {
		said = append(said, c.agreed(s))
	}
	c.d.heading(c.t.say("Thermometers and agreements", "Termómetros y acuerdos"))
	if len(said) == 0 {
		said = []string{c.t.say("Nothing on file: no correction of a probe, no reading taken out, no agreement with the certifier.",
			"Nada anotado: ninguna corrección de sonda, ninguna lectura retirada, ningún acuerdo con la certificadora.")}
	}
	c.d.list(said...)
}

func orZero(q domain.Quantity) string {
	if q.IsZero() {
		return "0"
	}
	return amount(q)
}

func (c compostReport) agreed(s domain.CertifierSettings) string {
	var what []string
	add := func(is bool, en, es string, args ...any) {
		if is {
			what = append(what, c.t.say(en, es, args...))
		}
	}
	add(s.GapDaysAllowed > 0, "up to %d dates may be missing in a row", "pueden faltar hasta %d fechas seguidas", s.GapDaysAllowed)
	add(len(s.CorePoints) > 0, "only these points decide: %s", "solo deciden estos puntos: %s", strings.Join(s.CorePoints, ", "))
	add(s.IgnoreDipAfterTurning, "a dip in the 24 hours after a turning is left out", "se omite la baja en las 24 horas después de un volteo")
	add(s.ElapsedHours, "hours are counted besides dates", "además de fechas se cuentan horas")
	add(s.DaysBetweenTurnings > 0, "%d hot dates between turnings", "%d fechas calientes entre volteos", s.DaysBetweenTurnings)
	add(s.GuardBand, "the accuracy of the thermometer is taken off", "se descuenta la precisión del termómetro")
	on, paper := shownDate(s.AgreedOn, c.t), s.Document
	if paper == "" {
		paper = c.t.say("no document on file", "sin documento")
	}
	return c.t.say("Certifier, %s (%s): %s.", "Certificadora, %s (%s): %s.", on, paper, strings.Join(what, "; "))
}

// gaps finds what the records do not say.
func (c compostReport) gaps() (gaps []string) {
	add := func(is bool, en, es string, args ...any) {
		if is {
			gaps = append(gaps, c.t.say(en, es, args...))
		}
	}
	for _, m := range c.Mix.Missing {
		gaps = append(gaps, c.t.of(m))
	}
	add(domain.OriginOfAll(c.Facts.Ingredients) == domain.OriginUnknown, "Whether every ingredient is plant or animal is not on file.", "No consta si cada ingrediente es vegetal o animal.")
	add(c.heat.low == nil, "No temperature is on file.", "No hay ninguna temperatura anotada.")
	unread := c.heat.unread()
	add(len(unread) > 0, "Nobody read on: %s.", "Nadie leyó el: %s.", listed(unread))
	short := c.short()
	add(len(short) > 0, "Fewer points were read than required on: %s.", "Se leyeron menos puntos de los exigidos el: %s.", listed(short))
	add(c.heat.fromMemory > 0, "Readings written from memory, which cannot make a date count: %d.", "Lecturas anotadas de memoria, que no pueden hacer contar una fecha: %d.", c.heat.fromMemory)
	add(len(c.heat.kept) > 0, "Readings that somebody wanted to take out, without reason, two persons or another reading of the point; they stay in: %d.",
		"Lecturas que alguien quiso retirar, sin motivo, dos personas u otra lectura del punto; se quedan: %d.", len(c.heat.kept))
	add(c.heat.before > 0, "Readings from before the batch was built, left out: %d.", "Lecturas de antes de armar el lote, omitidas: %d.", c.heat.before)
	add(c.heat.unreadable > 0, "Readings in a unit that is no temperature, not drawn: %d.", "Lecturas en una unidad que no es de temperatura, no dibujadas: %d.", c.heat.unreadable)
	deep := slices.IndexFunc(c.Facts.Readings, func(r domain.CompostReading) bool { return !r.Depth.IsZero() })
	add(deep < 0 && len(c.Facts.Readings) > 0, "How deep the probes were is not on file.", "No consta a qué profundidad estaban las sondas.")
	add(len(c.Rounds) == 0 && len(c.Facts.Readings) > 0, "Who took the readings is not in this paper.", "Este papel no dice quién tomó las lecturas.")
	add(c.Facts.ProbeAccuracy.IsZero(), "The accuracy of the thermometer is not on file.", "No consta la precisión del termómetro.")
	add(len(c.Facts.Curings) == 0, "Curing is not on file.", "No consta el curado.")
	add(c.Facts.ReviewedAt.IsZero(), "No supervisor's review of this batch is on file.", "No consta la revisión de un supervisor de este lote.")
	add(len(c.Facts.Contaminations) > 0 && len(c.Facts.LabTests) == 0, "No lab test since the contamination.", "Ningún análisis desde la contaminación.")
	late := c.late()
	add(late > 0, "Records written down late, with their reasons below: %d.", "Registros anotados tarde, con sus motivos abajo: %d.", late)
	return gaps
}

// short lists the dates on which some points were read and some were not.
func (c compostReport) short() []dateSpan {
	var dates []domain.Date
	if len(c.Results) > 0 {
		for _, d := range c.Results[0].Days {
			if d.PointsRead < d.PointsRequired && !d.Lowest.IsZero() {
				dates = append(dates, d.Date)
			}
		}
	}
	return spansOf(dates)
}

func (c compostReport) late() (n int) {
	count := func(h domain.Habits) {
		if h.LateReason != "" {
			n++
		}
	}
	count(c.Batch.Habits)
	for i := range c.Facts.Turnings {
		count(c.Facts.Turnings[i].Habits)
	}
	for i := range c.Facts.Additions {
		count(c.Facts.Additions[i].Habits)
	}
	for i := range c.Facts.Curings {
		count(c.Facts.Curings[i].Habits)
	}
	for i := range c.Facts.LabTests {
		count(c.Facts.LabTests[i].Habits)
	}
	for i := range c.Rounds {
		count(c.Rounds[i].Habits)
	}
	return n
}
