package report

import (
	"io"
	"strings"

	"croftmark/domain"
)

// FormPaper is a blank form of a log sheet: what the farm prints, fills in by pen, and types later.
type FormPaper struct {
	Paper
	Farm  domain.Farm
	Sheet domain.LogSheet
}

// gridMost is how many fields fit side by side; a longer sheet gets a line for each field.
const gridMost = 6

// FormPDF draws the form in the order of the sheet's fields. It refuses a paper without farm or time.
func FormPDF(w io.Writer, p FormPaper) error {
	p.Paper.Farm, p.Paper.Address = p.Farm.Name, p.Farm.Address
	f := form{FormPaper: p, tongue: p.tongue()}
	return layout{paper: p.Paper, zone: farmZone(p.Farm), title: f.local(p.Sheet.Title), period: f.say("blank form", "formato en blanco"), body: f.body}.write(w)
}

type form struct {
	FormPaper
	tongue tongue
	d      *document
}

func (f form) say(en, es string, args ...any) string { return f.tongue.say(en, es, args...) }

// local gives a text in the paper's language, as it stands.
func (f form) local(t domain.LocalText) string {
	if f.tongue {
		return t.Es
	}
	return t.En
}

func (f form) body(d *document) {
	f.d = d
	d.headline(f.local(f.Sheet.Title))
	if f.Sheet.When.En != "" {
		d.paragraph(f.say("When: ", "Cuándo: ") + f.local(f.Sheet.When))
	}
	if f.Sheet.Private {
		d.strong(f.say("Private: for leads and the owner only.", "Privado: solo para encargados y el dueño."))
	}
	if f.Sheet.Caution.En != "" {
		d.box(f.say("Caution", "Atención"), []string{f.local(f.Sheet.Caution)})
	}
	if len(f.Sheet.Fields) <= gridMost {
		f.grid()
	} else {
		f.lines()
	}
	f.limits()
	f.asks()
}

// heads are the columns or lines of the form: day and hour, the fields, what was done, and the signatures.
func (f form) heads() (out []string) {
	out = append(out, f.say("Day and hour", "Día y hora"))
	for i := range f.Sheet.Fields {
		out = append(out, f.fieldName(&f.Sheet.Fields[i]))
	}
	out = append(out, f.say("What was done if out of limits", "Qué se hizo si salió de límite"), f.say("Done by", "Hecho por"))
	if f.Sheet.SecondSignature != nil {
		out = append(out, f.say("Reviewed by, on", "Revisó, fecha"))
	}
	return out
}

// fieldName is a field's name with its unit, and a star where it must be filled in.
func (f form) fieldName(x *domain.SheetField) string {
	name := f.local(x.Name)
	if unit := unitOf(x); unit != "" {
		name += " (" + unit + ")"
	}
	if x.Required {
		name += " *"
	}
	return name
}

var unitSigns = strings.NewReplacer("degF", "°F", "degC", "°C", "yd3", "yd³", "m3", "m³", "ft2", "ft²", "m2", "m²")

// unitOf is a field's unit as it is printed.
func unitOf(x *domain.SheetField) string { return x.UnitLabel + unitSigns.Replace(string(x.Unit)) }

func (f form) grid() {
	t := table{size: 7}
	for range 14 {
		t.rows = append(t.rows, make([]string, len(f.heads())))
	}
	for _, head := range f.heads() {
		t.columns = append(t.columns, column{head, 1})
	}
	for i := range t.rows {
		t.rows[i][0] = "\n\n" // room to write
	}
	f.d.table(t)
	f.d.small(f.say("* must be filled in. Correct with one line through the error, the right value, and your initials.",
		"* se debe llenar. Corrija con una línea sobre el error, el valor correcto y sus iniciales."))
}

func (f form) lines() {
	t := table{size: bodySize, columns: []column{{f.say("Field", "Campo"), 1.2}, {f.say("Words to choose from", "Palabras para escoger"), 1.6}, {f.say("Entry", "Anotación"), 2.4}}}
	t.rows = append(t.rows, []string{f.heads()[0], "", "\n"})
	for i := range f.Sheet.Fields {
		t.rows = append(t.rows, []string{f.heads()[i+1], f.choices(&f.Sheet.Fields[i]), "\n"})
	}
	for _, head := range f.heads()[len(f.Sheet.Fields)+1:] {
		t.rows = append(t.rows, []string{head, "", "\n"})
	}
	f.d.table(t)
	f.d.small(f.say("* must be filled in. Correct with one line through the error, the right value, and your initials.",
		"* se debe llenar. Corrija con una línea sobre el error, el valor correcto y sus iniciales."))
}

func (f form) choices(x *domain.SheetField) string {
	if x.Type == domain.FieldYesNo {
		return f.say("yes / no", "sí / no")
	}
	var words []string
	for _, c := range x.Choices {
		words = append(words, f.local(c.Name))
	}
	return strings.Join(words, " / ")
}

// limits prints what calls for an action, so that whoever writes by pen knows it as well.
func (f form) limits() {
	t := table{columns: []column{{f.say("Field", "Campo"), 1}, {f.say("Within", "Límite"), 1}, {f.say("Otherwise", "Si no"), 2.2}, {f.say("Who says so", "Quién lo dice"), 1.2}}}
	for i := range f.Sheet.Fields {
		x := &f.Sheet.Fields[i]
		for k := range x.Limits {
			l := &x.Limits[k]
			t.rows = append(t.rows, []string{f.local(x.Name), f.within(x, l), f.local(l.Act), f.source(l.Asks)})
		}
	}
	if len(t.rows) > 0 {
		f.d.heading(f.say("Limits", "Límites"))
		f.d.table(t)
	}
}

func (f form) within(x *domain.SheetField, l *domain.SheetLimit) string {
	unit := unitOf(x)
	var parts []string
	if l.Below != "" {
		parts = append(parts, f.say("at least %s %s", "al menos %s %s", l.Below, unit))
	}
	if l.Above != "" {
		parts = append(parts, f.say("at most %s %s", "a lo más %s %s", l.Above, unit))
	}
	if len(l.Is) > 0 {
		parts = append(parts, f.say("not: %s", "no: %s", f.wordNames(x, l.Is)))
	}
	if l.When != nil {
		other := f.Sheet.Field(l.When.Field)
		parts = append(parts, f.say("if %s is %s", "si %s es %s", f.local(other.Name), f.wordNames(other, l.When.Is)))
	}
	return strings.Join(parts, ", ")
}

func (f form) wordNames(x *domain.SheetField, words []string) string {
	var names []string
	for _, word := range words {
		name := map[string]string{"yes": f.say("yes", "sí"), "no": f.say("no", "no")}[word]
		for _, c := range x.Choices {
			if c.Value == word {
				name = f.local(c.Name)
			}
		}
		names = append(names, name)
	}
	return strings.Join(names, ", ")
}

// source says who stands behind something, so that a custom never looks like a law.
func (f form) source(s domain.SheetSource) string {
	who := map[domain.Authority]string{domain.Law: f.say("law", "ley"), domain.Certifier: f.say("certifier", "certificadora"), domain.Buyer: f.say("buyer", "comprador"),
		domain.Guidance: f.say("guidance", "orientación"), domain.FarmRule: f.say("the farm", "la granja")}[s.Authority]
	return who + ": " + s.Citation
}

func (f form) asks() {
	f.d.heading(f.say("Who asks for this sheet", "Quién pide esta hoja"))
	strength := map[string]string{"must-record": f.say("the record is required", "se exige el registro"), "must-do": f.say("the act is required, the paper is not", "se exige el acto, no el papel"),
		"audit": f.say("asked in audits", "se pide en auditorías"), "good": f.say("good to have", "útil")}
	var lines []string
	for _, a := range f.Sheet.Asks {
		line := f.source(a.SheetSource) + " – " + strength[a.Strength]
		if a.Whom.En != "" {
			line += ". " + f.local(a.Whom)
		}
		lines = append(lines, line)
	}
	for _, k := range f.Sheet.Keep {
		lines = append(lines, f.say("Keep %d years (%s)", "Guardar %d años (%s)", k.Years, f.source(k.SheetSource)))
	}
	if s := f.Sheet.SecondSignature; s != nil {
		lines = append(lines, f.say("A second person signs (%s)", "Firma una segunda persona (%s)", f.source(s.SheetSource)))
	} else {
		lines = append(lines, f.say("Nobody asks for a second signature.", "Nadie pide una segunda firma."))
	}
	f.d.list(lines...)
}
