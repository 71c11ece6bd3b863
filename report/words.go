package report

import (
	"fmt"
	"strings"
	"time"

	"croftmark/domain"
)

// tongue is the language of a paper: true is Spanish.
type tongue bool

// say picks the language and fills in the same values; where their order differs the format names the index.
func (t tongue) say(en, es string, args ...any) string {
	format := en
	if t {
		format = es
	}
	if len(args) == 0 {
		return format
	}
	return fmt.Sprintf(format, args...)
}

func (t tongue) of(x domain.LocalText) string { return t.pick(x.En, x.Es) }

func (t tongue) pick(en, es string) string {
	if t && es != "" {
		return es
	}
	return en
}

// instant writes a moment in the farm's zone with its distance from UTC: the hour that comes twice in autumn is told
// apart by it.
func instant(at time.Time, zone *time.Location) string {
	return at.In(zone).Format("2006-01-02 15:04 (UTC-07:00)")
}

// clock is the short form for tables.
func clock(at time.Time, zone *time.Location) string {
	if at.IsZero() {
		return ""
	}
	return at.In(zone).Format("2006-01-02 15:04")
}

func shownDate(d domain.Date, t tongue) string {
	if d.IsZero() {
		return t.say("no date", "sin fecha")
	}
	return d.String()
}

var unitsShown = map[domain.Unit]string{"degF": "°F", "degC": "°C", "yd3": "yd³", "m3": "m³", "ft2": "ft²", "m2": "m²"}

// amount writes a quantity with the digits that were written down, and a computed one without its zeros; nothing for
// none.
func amount(q domain.Quantity) string {
	if q.IsZero() {
		return ""
	}
	unit := string(q.Unit)
	if shown := unitsShown[q.Unit]; shown != "" {
		unit = shown
	}
	if q.Value.Exponent() < -2 {
		return q.Value.String() + " " + unit
	}
	return q.Value.StringFixed(max(0, -q.Value.Exponent())) + " " + unit
}

var months = [2]string{"Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec", "ene feb mar abr may jun jul ago sep oct nov dic"}

func (t tongue) month(m time.Month) string {
	list := months[0]
	if t {
		list = months[1]
	}
	return strings.Fields(list)[m-1]
}

var verdictsEs = map[domain.Verdict]string{domain.Clear: "libre", domain.Caution: "atención", domain.Wait: "espere",
	domain.Ask: "pregunte", domain.Stop: "alto"}

// verdict is the one vocabulary of judgement in the language of the paper.
func (t tongue) verdict(v domain.Verdict) string { return t.pick(string(v), verdictsEs[v]) }

var authoritiesEs = map[domain.Authority]string{domain.Law: "ley", domain.Certifier: "certificadora", domain.Buyer: "comprador",
	domain.Guidance: "orientación", domain.FarmRule: "finca"}

func (t tongue) authority(a domain.Authority) string { return t.pick(string(a), authoritiesEs[a]) }

var standings = map[domain.Standing]domain.LocalText{
	domain.Treated:   {En: "TREATED", Es: "TRATADO"},
	domain.Untreated: {En: "UNTREATED", Es: "SIN TRATAR"},
	domain.PlantOnly: {En: "PLANT MATERIAL ONLY", Es: "SOLO MATERIAL VEGETAL"},
}

func (t tongue) standing(s domain.Standing) string {
	if x, ok := standings[s]; ok {
		return t.of(x)
	}
	return string(s)
}

var methods = map[domain.CompostMethod]domain.LocalText{
	domain.InVessel:          {En: "in a closed vessel", Es: "en recipiente cerrado"},
	domain.AeratedStaticPile: {En: "static pile with forced air", Es: "pila estática aireada"},
	domain.TurnedWindrow:     {En: "turned windrow", Es: "hilera volteada"},
	domain.Worms:             {En: "worms (vermicompost)", Es: "lombrices (lombricomposta)"},
	domain.Passive:           {En: "passive heap", Es: "pila pasiva"},
}

func (t tongue) method(m domain.CompostMethod) string {
	if x, ok := methods[m]; ok {
		return t.of(x)
	}
	return string(m)
}

// ruleSets are the names of the sets that say how compost is made.
var ruleSets = map[string]struct {
	name     domain.LocalText
	citation string
}{
	domain.OrganicSet:       {domain.LocalText{En: "Organic rule", Es: "Regla orgánica"}, "7 CFR 205.203(c)(2)"},
	domain.ProduceSafetySet: {domain.LocalText{En: "Produce safety rule", Es: "Regla de inocuidad"}, "21 CFR 112.54(b)"},
	domain.SludgePicture:    {domain.LocalText{En: "Sewage sludge picture", Es: "Comparación con lodos"}, "40 CFR 503 app. B"},
}

func (t tongue) set(id string) string {
	if x, ok := ruleSets[id]; ok {
		return t.of(x.name)
	}
	return id
}

// setHead is the head of a rule set's column.
func (t tongue) setHead(r domain.ProcessResult) string {
	head := t.set(r.Set)
	if x := ruleSets[r.Set]; x.citation != "" {
		head += "\n" + x.citation
	}
	if r.Picture {
		head += "\n" + t.say("(decides nothing)", "(no decide nada)")
	}
	return head
}

// outcome says where the heat stands.
func (t tongue) outcome(r domain.ProcessResult) string {
	switch r.Outcome {
	case domain.ProcessMet:
		return t.say("MET on %s", "CUMPLIDA el %s", r.MetOn)
	case domain.ProcessNotMet:
		return t.say("NOT MET", "NO CUMPLIDA")
	}
	return t.say("NOT MET YET, running", "AÚN NO CUMPLIDA, en curso")
}

var releases = map[domain.ReleaseState]domain.LocalText{
	domain.Released:           {En: "released", Es: "liberada"},
	domain.TimeMetNotReleased: {En: "time met, not released", Es: "tiempo cumplido, sin liberar"},
	domain.NotReleased:        {En: "not released", Es: "sin liberar"},
}

func (t tongue) release(s domain.ReleaseState) string {
	if x, ok := releases[s]; ok {
		return t.of(x)
	}
	return string(s)
}
