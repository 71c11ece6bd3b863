package domain

import (
	"fmt"
	"slices"
	"strings"
	"time"
)

// WaterFitness is the judgement of a source for one use.
type WaterFitness struct {
	Use WaterUse `json:"use"`
	Judgement
}

// AllWaterFitness judges every use that the source lists; all uses when it lists none.
func AllWaterFitness(f WaterFacts, at time.Time) []WaterFitness {
	uses := f.Source.Uses
	if len(uses) == 0 {
		uses = WaterUses
	}
	out := make([]WaterFitness, len(uses))
	for i, u := range uses {
		out[i] = FitnessOfWater(f, u, "", at)
	}
	return out
}

// FitnessOfWater judges a source for a use at an instant. With a tap, only samples of that tap speak for it, though a
// detection at any tap stops the source (US rules reference 2.6: "mark source stopped"). Without one, every tap that
// Points names for the use is judged and the strictest decides; a source without points is covered only by samples that
// name no tap.
//
// A failing sample condemns from the last good sample of the tap until the water is fit again. What the reference leaves
// open is read strictly: 2.6 resumes after the corrective record and then tests four times; record-forms S40 wants the
// retests before the water is fit. Here untreated ground water is fit again only with a corrective record made after
// the result was known AND four good samples after it, on four days; other water with the record and one good sample,
// which proves the correction (112.45(a)). One good sample alone never clears anything.
func FitnessOfWater(f WaterFacts, use WaterUse, tap string, at time.Time) WaterFitness {
	return f.fitnessIn("", use, tap, at)
}

// fitnessIn judges as FitnessOfWater does, for water that stood in a tank; "" is a tank that was not written down, or none.
func (f *WaterFacts) fitnessIn(tank string, use WaterUse, tap string, at time.Time) WaterFitness {
	var reasons []Reason
	for _, t := range f.tapsFor(use, tap) {
		c := waterCase{f: f, use: use, tap: t, tank: foldName(tank), at: at, day: f.day(at)}
		reasons = append(reasons, c.reasons()...)
	}
	return WaterFitness{use, Judge(reasons)}
}

// tapsFor gives the taps to judge for a use: the one asked about, or those that the source names.
func (f *WaterFacts) tapsFor(use WaterUse, tap string) []string {
	if tap != "" {
		return []string{foldName(tap)}
	}
	var taps []string
	for _, p := range f.Source.Points {
		if t := foldName(p.Tap); p.Use == use && !slices.Contains(taps, t) {
			taps = append(taps, t)
		}
	}
	if len(taps) == 0 {
		taps = []string{""}
	}
	return taps
}

func (f *WaterFacts) day(at time.Time) Date { return DateIn(at, orUTC(f.Zone)) }

// waterCase is one question: this use, this tap, this tank, this instant.
type waterCase struct {
	f    *WaterFacts
	use  WaterUse
	tap  string
	tank string
	at   time.Time
	day  Date
}

// waterReason is a reason of a rule by its id.
func waterReason(rule string, v Verdict, records []RecordRef, text LocalText) Reason {
	r := WaterRules[rule]
	return Reason{Rule: r.ID, Authority: r.Authority, Citation: r.Citation, Verdict: v, Records: records, Text: text.En, TextEs: text.Es}
}

// say writes a reason about the tap. Before the rule's first day for farms of this size it is advice, and refuses
// nothing.
func (c waterCase) say(rule string, v Verdict, records []RecordRef, en, es string, args ...any) Reason {
	text := LocalText{fmt.Sprintf(en, args...), fmt.Sprintf(es, args...)}
	if c.tap != "" {
		text = LocalText{"Tap " + c.tap + ": " + text.En, "Llave " + c.tap + ": " + text.Es}
	}
	out := waterReason(rule, v, records, text)
	if from := WaterRules[rule].StartsOn(c.f.Size); from.After(c.day) && v != Clear {
		out.Verdict, out.Authority = Caution, Guidance
		out.Text += fmt.Sprintf(" For a farm of this size the rule starts on %s.", from)
		out.TextEs += fmt.Sprintf(" Para una granja de este tamaño la regla empieza el %s.", from)
	}
	return out
}

func testRefs(tests ...*WaterTest) []RecordRef {
	refs := make([]RecordRef, len(tests))
	for i, t := range tests {
		refs[i] = RecordRef{"water-test", t.ID}
	}
	return refs
}

func (c waterCase) reasons() []Reason {
	rs := append(c.holds(), c.stops()...)
	if src := c.f.Source; c.at.Before(src.From) || (!src.To.IsZero() && !c.at.Before(src.To)) {
		rs = append(rs, c.say(ruleNoEColi, Ask, nil, "This source was not in service then. Say which water was used.",
			"Esta fuente no estaba en servicio entonces. Diga qué agua se usó."))
	}
	switch c.use {
	case UseIrrigationNotTouching:
		return append(rs, c.say(ruleNotAgWater, Clear, nil, "This water does not touch what is sold.", "Esta agua no toca lo que se vende."))
	case UseIrrigationTouching:
		return append(append(rs, c.assessment()), c.buyer()...)
	}
	return append(rs, c.harvestReasons()...)
}

// holds are the farm's own decision about the whole source, for every use.
func (c waterCase) holds() (rs []Reason) {
	for _, h := range c.f.Holds {
		if h.inForce(c.day) {
			rs = append(rs, heldReason(holdRule(), h))
		}
	}
	return rs
}

// stops are the farm's own: each holds for the water that flowed then, until a corrective record for the same tap and use
// came after it. Other water in between lifts nothing.
func (c waterCase) stops() (rs []Reason) {
	for _, s := range c.f.Actions {
		if s.Corrective || s.At.After(c.at) || !s.concerns(c.use) || !sameTap(s.Tap, c.tap) {
			continue
		}
		lifted := slices.ContainsFunc(c.f.Actions, func(a WaterAction) bool {
			return a.corrects(c.use, s.Tap, c.tap) && a.At.After(s.At) && !a.At.After(c.at)
		})
		if !lifted && c.sameWater(s.Tap, s.At) {
			rs = append(rs, c.say(ruleUnsafe, Stop, []RecordRef{{"water-action", s.ID}},
				"Use was stopped on %s. Write down what was found and corrected before using it again.",
				"El uso se detuvo el %s. Anote qué se halló y corrigió antes de volver a usarla.", c.f.day(s.At)))
		}
	}
	return rs
}

// sameWater reports whether the tap now gives the water that it, or a tap named then, gave at an earlier instant.
func (c waterCase) sameWater(named string, then time.Time) bool {
	now := c.f.originAt(c.tap, c.at)
	return now == c.f.originAt(c.tap, then) || now == c.f.originAt(named, then)
}

func (a WaterAction) concerns(use WaterUse) bool {
	return len(a.Uses) == 0 || slices.Contains(a.Uses, use)
}

// corrects reports a correction of one of the named taps, or of the whole source.
func (a WaterAction) corrects(use WaterUse, taps ...string) bool {
	if !a.Corrective || !a.concerns(use) {
		return false
	}
	tap := foldName(a.Tap)
	return tap == "" || slices.ContainsFunc(taps, func(t string) bool { return foldName(t) == tap })
}

// sameTap is for what speaks against the water: a tap, or a tank, that is not named may be any of them.
func sameTap(a, b string) bool {
	a, b = foldName(a), foldName(b)
	return a == b || a == "" || b == ""
}

// harvestReasons judges the uses at harvest and after.
func (c waterCase) harvestReasons() []Reason {
	var rs []Reason
	for _, x := range c.failures() {
		if x.condemns(c.at) {
			rs = append(rs, c.failed(x))
		}
	}
	rs = append(rs, c.unanswered()...)
	switch kind := c.f.supplyAt(c.tap, c.at).kind; kind {
	case WaterPublicSupply:
		return append(rs, c.publicPaper())
	case WaterUntreatedGround:
		return append(rs, c.groundTests()...)
	case WaterTreatedGround, WaterTreatedSurface:
		return append(rs, c.monitoring())
	case WaterUntreatedSurface:
		return append(rs, c.say(ruleNoSurface, Stop, nil, "Untreated surface water is never used at harvest or after it. Use other water.",
			"El agua superficial sin tratar nunca se usa en la cosecha ni después. Use otra agua."))
	case WaterRain:
		// 112.44(b) tests untreated ground water and nothing says how often caught rain must be; so good samples alone
		// do not settle it.
		return append(rs, c.say(ruleNoEColi, Ask, nil, "The rule does not say how often caught rain is tested. Ask your produce safety program before using it here.",
			"La regla no dice cada cuánto se analiza el agua de lluvia. Pregunte a su programa de inocuidad antes de usarla aquí."))
	}
	return append(rs, c.say(ruleNoEColi, Ask, nil, "Say what kind of water this is.", "Diga qué clase de agua es."))
}

func (c waterCase) failed(x waterFailure) Reason {
	refs := testRefs(x.test)
	if x.perhaps {
		return c.say(ruleNoEColi, Ask, refs,
			"E. coli was found in the sample of %s, and nobody wrote down its tap: it may be this water. Say where it was drawn, or find the cause, correct it and test again.",
			"Se halló E. coli en la muestra del %s y nadie anotó su llave: puede ser esta agua. Diga dónde se tomó, o busque la causa, corríjala y analice de nuevo.", c.f.day(x.test.SampledAt))
	}
	if x.fixedAt.IsZero() || x.fixedAt.After(c.at) {
		return c.say(ruleNoEColi, Stop, refs,
			"E. coli was found in the sample of %s. Stop washing, cooling, ice and hands with this source, hold what it touched, find the cause and write down the correction.",
			"Se halló E. coli en la muestra del %s. Deje de usar esta fuente para lavar, enfriar, hielo y manos; retenga lo que tocó, busque la causa y anote la corrección.", c.f.day(x.test.SampledAt))
	}
	return c.say(ruleNoEColi, Stop, refs,
		"E. coli was found in the sample of %s. Corrected on %s; %d of %d good samples after it. Not fit before the last of them.",
		"Se halló E. coli en la muestra del %s. Corregido el %s; %d de %d muestras buenas después. No es apta antes de la última.",
		c.f.day(x.test.SampledAt), c.f.day(x.fixedAt), x.retests(c.at), x.needed(c.f.supplyAt(c.tap, c.at).kind))
}

// unanswered are samples without an answer: pending is never pass, and neither is a result that cannot tell, until a
// later good sample of the same tap and water. A bottle that was lost is voided with a reason.
func (c waterCase) unanswered() (rs []Reason) {
	var newest time.Time
	for _, p := range c.f.passes(c.tap) {
		if !p.SampledAt.After(c.at) && c.sameWater(p.Tap, p.SampledAt) {
			newest = p.SampledAt
		}
	}
	for i := range c.f.Tests {
		t := &c.f.Tests[i]
		if !t.mayFindEColi() || !sameTap(t.Tap, c.tap) || t.SampledAt.After(c.at) || !c.sameWater(t.Tap, t.SampledAt) {
			continue
		}
		switch day := c.f.day(t.SampledAt); {
		case t.Finding() == PendingResult:
			rs = append(rs, c.say(ruleNoEColi, Ask, testRefs(t), "The sample of %s has no result yet. Pending is not a pass.",
				"La muestra del %s aún no tiene resultado. Pendiente no es aprobado.", day))
		case t.IsEColi() && t.Finding() == CannotTell && t.SampledAt.After(newest):
			rs = append(rs, c.say(ruleNoEColi, Ask, testRefs(t), "The result %s of %s cannot show that there is none in 100 mL. Have an undiluted sample of 100 mL tested in time.",
				"El resultado %s del %s no puede mostrar que no hay ninguna en 100 mL. Haga analizar a tiempo una muestra sin diluir de 100 mL.", t.Result, day))
		}
	}
	return rs
}

func (c waterCase) publicPaper() Reason {
	for _, p := range c.f.Certificates {
		if !c.day.Before(p.IssuedOn) && !c.day.After(p.IssuedOn.AddMonths(12)) {
			return c.say(rulePublicPaper, Clear, []RecordRef{{"water-certificate", p.ID}}, "Water report of %s on file.", "Informe de agua del %s en archivo.", p.IssuedOn)
		}
	}
	return c.say(rulePublicPaper, Ask, nil, "No water report of the supplier from the last twelve months is on file. Get it from the supplier.",
		"No hay informe del proveedor de los últimos doce meses. Pídalo al proveedor.")
}

// groundTests judges the series: four in the first year, then one a year.
func (c waterCase) groundTests() []Reason {
	s := c.series()
	if len(s.tests) == 0 {
		if other := c.otherTaps(); other != "" {
			return []Reason{c.say(ruleFourTests, Ask, nil, "Not covered: the samples on file are of %s. Draw one here.",
				"No cubierto: las muestras en archivo son de %s. Tome una aquí.", other)}
		}
		return []Reason{c.say(ruleFourTests, Ask, nil, "No good sample of this water is on file. Draw one here.",
			"No hay muestra buena de esta agua en archivo. Tome una aquí.")}
	}
	last := s.tests[len(s.tests)-1]
	refs := testRefs(s.tests[max(0, len(s.tests)-4):]...)
	var r Reason
	switch due := c.f.day(last.SampledAt).AddMonths(12); {
	case !s.qualified && c.day.After(c.f.day(s.tests[0].SampledAt).AddMonths(12)):
		r = c.say(ruleFourTests, Ask, refs, "Four tests within one year are not on file; the first year is over. Test four times.",
			"No hay cuatro análisis en un año y el primer año terminó. Analice cuatro veces.")
	case !s.qualified:
		r = c.say(ruleFourTests, Caution, refs, "%d of 4 tests of the first year are on file, all good.", "%d de 4 análisis del primer año en archivo, todos buenos.", s.days)
	case c.day.After(due):
		r = c.say(ruleYearlyTest, Ask, refs, "The yearly test was due on %s.", "El análisis anual vencía el %s.", due)
	default:
		r = c.say(ruleYearlyTest, Clear, refs, "None found on %s; four tests are on file. Next test by %s.",
			"Ninguna hallada el %s; hay cuatro análisis. Próximo análisis hasta el %s.", c.f.day(last.SampledAt), due)
	}
	return append([]Reason{r}, c.howTested(last)...)
}

// otherTaps names the taps whose samples do not cover this one.
func (c waterCase) otherTaps() string {
	var taps []string
	for _, t := range c.f.tapsOnRecord() {
		if t != c.tap && t != "" {
			taps = append(taps, t)
		}
	}
	return strings.Join(taps, ", ")
}

// howTested are the cautions about the sample that the answer rests on.
func (c waterCase) howTested(t *WaterTest) (rs []Reason) {
	if _, ok := WaterMethodOf(t.Method); !ok {
		rs = append(rs, c.say(ruleMethod, Caution, testRefs(t), "The method %q is not on our list. Ask the lab whether it is equivalent to EPA 1603.",
			"El método %q no está en nuestra lista. Pregunte al laboratorio si equivale a EPA 1603.", t.Method))
	}
	if HoldingOf(t.SampledAt, t.StartedAt) == Caution {
		rs = append(rs, c.say(ruleHolding, Caution, testRefs(t), "The sample waited %.1f hours; 8 is the usual limit.",
			"La muestra esperó %.1f horas; lo usual es 8.", t.StartedAt.Sub(t.SampledAt).Hours()))
	}
	return rs
}

// assessment judges water on the growing crop. Row 7.2 only reminds of a missing assessment and principle 2 of the same
// reference counts a missing document as not met; the stricter is taken, so it is asked for.
func (c waterCase) assessment() Reason {
	switch c.f.supplyAt(c.tap, c.at).kind {
	case WaterPublicSupply, WaterUntreatedGround, WaterTreatedGround, WaterTreatedSurface:
		if !Judge(c.harvestReasons()).Verdict.Refuses() {
			return c.say(ruleAssessment, Clear, nil, "Good enough for washing by its records; no assessment of its own is needed.",
				"Por sus registros sirve para lavar; no necesita evaluación propia.")
		}
	}
	var newest *WaterAssessment
	for i := range c.f.Assessments {
		if a := &c.f.Assessments[i]; !a.MadeOn.After(c.day) && (newest == nil || !a.MadeOn.Before(newest.MadeOn)) {
			newest = a
		}
	}
	if newest == nil || c.day.After(newest.MadeOn.AddMonths(12)) {
		return c.say(ruleAssessment, Ask, nil, "No written assessment from the last twelve months is on file.", "No hay evaluación escrita de los últimos doce meses.")
	}
	refs := []RecordRef{{"water-assessment", newest.ID}}
	switch newest.Outcome {
	case "adequate":
		return c.say(ruleAssessment, Clear, refs, "Assessed on %s.", "Evaluada el %s.", newest.MadeOn)
	case "mitigate":
		return c.say(ruleAssessment, Caution, refs, "Assessed on %s: measures are needed. Carry them out in time.", "Evaluada el %s: hacen falta medidas. Cúmplalas a tiempo.", newest.MadeOn)
	case "not-adequate":
		return c.say(ruleAssessment, Stop, refs, "Assessed on %s as not adequate. Stop this use and correct it.", "Evaluada el %s como no adecuada. Detenga este uso y corrija.", newest.MadeOn)
	}
	return c.say(ruleAssessment, Ask, refs, "The assessment of %s has no conclusion.", "La evaluación del %s no tiene conclusión.", newest.MadeOn)
}
