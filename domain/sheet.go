package domain

import (
	"regexp"
	"slices"
	"strings"

	"github.com/google/uuid"
	"github.com/shopspring/decimal"
)

// LogSheet is the definition of a log: which fields an entry has, in which units, what is out of limits, who asks for it
// and how long it is kept. The sheets of the trade are data of the program; a farm adds its own as records.
type LogSheet struct {
	ID    uuid.UUID `json:"id,omitzero" format:"uuid"`
	Key   string    `json:"key" maxLength:"40" doc:"What entries call it: small letters, digits and dashes."`
	Title LocalText `json:"title"`
	// When says at what moment an entry is due, in words.
	When   LocalText    `json:"when,omitzero"`
	Fields []SheetField `json:"fields" minItems:"1" maxItems:"40" doc:"In the order of the form."`
	Asks   []SheetAsk   `json:"asks" minItems:"1" maxItems:"10"`
	Keep   []SheetKeep  `json:"keep" minItems:"1" maxItems:"10"`
	// SecondSignature is given when somebody asks that a second person signs; without it nobody does.
	SecondSignature *SignatureRule `json:"second_signature,omitempty"`
	Private         bool           `json:"private,omitempty" doc:"Entries are written and read by leads and the owner only, and go into no packet."`
	Caution         LocalText      `json:"caution,omitzero"`
	Habits
}

// FieldType is what kind of value a field takes. On the wire every value is a text, a list of texts or a quantity; the
// book holds no floats.
type FieldType string

const (
	FieldText     FieldType = "text"
	FieldNumber   FieldType = "number"   // a plain decimal number as text, in the field's unit_label
	FieldQuantity FieldType = "quantity" // {"value", "unit"}, of the measure of the field's unit
	FieldYesNo    FieldType = "yes-no"
	FieldChoice   FieldType = "choice"
	FieldChoices  FieldType = "choices"
	FieldDate     FieldType = "date"   // YYYY-MM-DD; may lie ahead, such as the next calibration
	FieldTime     FieldType = "time"   // RFC 3339 with offset
	FieldPerson   FieldType = "person" // id of a person of the farm
	FieldPeople   FieldType = "people"
	FieldBeds     FieldType = "beds"  // ids of beds
	FieldLots     FieldType = "lots"  // codes of lots
	FieldNames    FieldType = "names" // short names of things: tanks, lines, tools
)

// FieldTypes lists them all.
var FieldTypes = []FieldType{FieldText, FieldNumber, FieldQuantity, FieldYesNo, FieldChoice, FieldChoices, FieldDate, FieldTime,
	FieldPerson, FieldPeople, FieldBeds, FieldLots, FieldNames}

// SheetField is one field of a sheet.
type SheetField struct {
	Key       string       `json:"key" maxLength:"40"`
	Name      LocalText    `json:"name"`
	Type      FieldType    `json:"type" enum:"text,number,quantity,yes-no,choice,choices,date,time,person,people,beds,lots,names"`
	Unit      Unit         `json:"unit,omitempty" doc:"Of a quantity: its measure is held to, and limits are written in it."`
	UnitLabel string       `json:"unit_label,omitempty" maxLength:"20" doc:"Of a plain number: ppm, pH, minutes."`
	Choices   []Choice     `json:"choices,omitempty" maxItems:"40"`
	Required  bool         `json:"required,omitempty"`
	Limits    []SheetLimit `json:"limits,omitempty" maxItems:"10"`
}

// Choice is a word that a choice field takes.
type Choice struct {
	Value string    `json:"value" maxLength:"40"`
	Name  LocalText `json:"name"`
}

// SheetLimit says which values are out of limits, who says so, and what is usually done then.
type SheetLimit struct {
	Below string      `json:"below,omitempty" maxLength:"30" doc:"A smaller number is out of limits; in the field's unit."`
	Above string      `json:"above,omitempty" maxLength:"30" doc:"A larger number is out of limits; in the field's unit."`
	Is    []string    `json:"is,omitempty" maxItems:"20" doc:"These words are out of limits."`
	When  *SheetWhen  `json:"when,omitempty"`
	Act   LocalText   `json:"act"`
	Asks  SheetSource `json:"asks"`
}

// SheetWhen limits a limit to entries in which another choice or yes-no field says one of some words.
type SheetWhen struct {
	Field string   `json:"field" maxLength:"40"`
	Is    []string `json:"is" minItems:"1" maxItems:"20"`
}

// SheetSource is who stands behind something on a sheet. Mark says how well it is known.
type SheetSource struct {
	Authority Authority `json:"authority" enum:"law,certifier,buyer,guidance,farm"`
	Citation  string    `json:"citation" maxLength:"300"`
	Mark      string    `json:"mark,omitempty" maxLength:"300"`
}

// SheetAsk is one who asks for the sheet, and how strongly.
type SheetAsk struct {
	SheetSource
	// Strength tells the record that a law names from the act that it demands without a paper.
	Strength string `json:"strength" enum:"must-record,must-do,audit,good"`
	Set      string `json:"set,omitempty" maxLength:"60" doc:"Asked of farms that answer to this rule set; empty: of any."`
	// Whom narrows it in words, where no rule set tells whom it concerns.
	Whom LocalText `json:"whom,omitzero"`
}

// SheetKeep is how long entries are kept for somebody.
type SheetKeep struct {
	SheetSource
	Years int    `json:"years" minimum:"1" maximum:"100"`
	Set   string `json:"set,omitempty" maxLength:"60"`
}

// SignatureRule is a rule by which a second person signs.
type SignatureRule struct {
	SheetSource
	Set string `json:"set,omitempty" maxLength:"60" doc:"Asked of farms that answer to this rule set; empty: of any."`
	// Exemption limits it to farms of that status under 21 CFR 112.4 and 112.5; without it, to farms that are not exempt.
	Exemption string `json:"exemption,omitempty" enum:"qualified"`
	From      Date   `json:"from,omitzero" format:"date"`
	CheckedOn Date   `json:"checked_on,omitzero" format:"date"`
}

func (x *LogSheet) Kind() string         { return "log-sheet" }
func (x *LogSheet) Identity() *uuid.UUID { return &x.ID }
func (x *LogSheet) DoneOn() Date         { return Date{} }

// Field finds a field by its key.
func (x *LogSheet) Field(key string) *SheetField {
	if i := slices.IndexFunc(x.Fields, func(f SheetField) bool { return f.Key == key }); i >= 0 {
		return &x.Fields[i]
	}
	return nil
}

var (
	sheetKey = regexp.MustCompile(`^[a-z][a-z0-9-]{0,39}$`)
	fieldKey = regexp.MustCompile(`^[a-z][a-z0-9_]{0,39}$`)
)

// Check holds a farm's own sheet to what every sheet must be, and keeps it from speaking for the law: a farm asks for what
// it likes, but only a rule of this program, with its citation, is shown as legally required.
func (x *LogSheet) Check(_ Date, p *Problems) {
	_, taken := BuiltInSheet(x.Key)
	p.Check(!taken, "/key", "%q is a sheet of this program. Choose another key.", x.Key)
	x.checkShape(p)
	sources := map[string]SheetSource{}
	for i, a := range x.Asks {
		sources["/asks/"+itoa(i)] = a.SheetSource
		p.Check(a.Strength == "audit" || a.Strength == "good", "/asks/"+itoa(i)+"/strength", "A farm's own sheet is asked for by an audit, or good to have: write audit or good.")
	}
	for i, k := range x.Keep {
		sources["/keep/"+itoa(i)] = k.SheetSource
	}
	if s := x.SecondSignature; s != nil {
		sources["/second_signature"] = s.SheetSource
		p.Check(s.Set == "" && s.Exemption == "", "/second_signature", "Only the program's own rules depend on a rule set or an exemption. Leave both out.")
	}
	for i, f := range x.Fields {
		for k, l := range f.Limits {
			sources["/fields/"+itoa(i)+"/limits/"+itoa(k)+"/asks"] = l.Asks
		}
	}
	for pointer, s := range sources {
		p.Check(s.Authority != Law, pointer+"/authority", "A sheet of the farm's own can't be shown as asked for by law. Use certifier, buyer, guidance or farm.")
	}
}

// checkShape holds for the program's own sheets as well.
func (x *LogSheet) checkShape(p *Problems) {
	p.Check(sheetKey.MatchString(x.Key), "/key", "A key is small letters, digits and dashes, and begins with a letter: egg-washing.")
	checkLocal(p, "/title", x.Title, 120)
	checkOptionalLocal(p, "/when", x.When)
	checkOptionalLocal(p, "/caution", x.Caution)
	p.Check(len(x.Fields) > 0, "/fields", "Give at least one field.")
	seen := map[string]bool{}
	for i := range x.Fields {
		f, at := &x.Fields[i], "/fields/"+itoa(i)
		p.Check(fieldKey.MatchString(f.Key), at+"/key", "A field's key is small letters, digits and underscores, and begins with a letter: air_temperature.")
		p.Check(!seen[f.Key], at+"/key", "%q is used twice.", f.Key)
		seen[f.Key] = true
		f.check(x, p, at)
	}
	for i, a := range x.Asks {
		a.SheetSource.check(p, "/asks/"+itoa(i))
		checkOneOf(p, "/asks/"+itoa(i)+"/strength", a.Strength, "must-record", "must-do", "audit", "good")
		checkSet(p, "/asks/"+itoa(i)+"/set", a.Set)
		checkOptionalLocal(p, "/asks/"+itoa(i)+"/whom", a.Whom)
	}
	p.Check(len(x.Asks) > 0, "/asks", "Say who asks for this sheet.")
	p.Check(len(x.Keep) > 0, "/keep", "Say how long entries are kept, and for whom.")
	for i, k := range x.Keep {
		k.SheetSource.check(p, "/keep/"+itoa(i))
		p.Check(k.Years >= 1 && k.Years <= 100, "/keep/"+itoa(i)+"/years", "Give 1 to 100 years.")
		checkSet(p, "/keep/"+itoa(i)+"/set", k.Set)
	}
	if x.SecondSignature != nil {
		x.SecondSignature.SheetSource.check(p, "/second_signature")
		checkSet(p, "/second_signature/set", x.SecondSignature.Set)
	}
}

func checkSet(p *Problems, pointer, set string) {
	if _, ok := RuleSetByID(set); set != "" && !ok {
		p.Add(pointer, "%q is not a rule set of this book. Choose from: %s.", set, ruleSetNames())
	}
}

func (s SheetSource) check(p *Problems, at string) {
	checkOneOf(p, at+"/authority", s.Authority, Law, Certifier, Buyer, Guidance, FarmRule)
	p.Check(strings.TrimSpace(s.Citation) != "", at+"/citation", "Say who asks, or where it is written.")
	checkText(p, at+"/citation", s.Citation, 300)
	checkText(p, at+"/mark", s.Mark, 300)
}

func checkLocal(p *Problems, pointer string, t LocalText, most int) {
	p.Check(strings.TrimSpace(t.En) != "", pointer+"/en", "Give the English words.")
	p.Check(strings.TrimSpace(t.Es) != "", pointer+"/es", "Give the Spanish words.")
	checkText(p, pointer+"/en", t.En, most)
	checkText(p, pointer+"/es", t.Es, most)
}

func checkOptionalLocal(p *Problems, pointer string, t LocalText) {
	if t != (LocalText{}) {
		checkLocal(p, pointer, t, 1000)
	}
}

func (f *SheetField) check(sheet *LogSheet, p *Problems, at string) {
	checkLocal(p, at+"/name", f.Name, 120)
	checkOneOf(p, at+"/type", f.Type, FieldTypes...)
	_, known := MeasureOf(f.Unit)
	p.Check((f.Type == FieldQuantity) == (f.Unit != ""), at+"/unit", "A quantity has a unit, and nothing else has.")
	p.Check(f.Unit == "" || known, at+"/unit", "%q is not a unit we know: use one of %s.", f.Unit, strings.Join(UnitNames, " "))
	p.Check(f.UnitLabel == "" || f.Type == FieldNumber, at+"/unit_label", "Only a number has a label for its unit.")
	chooses := f.Type == FieldChoice || f.Type == FieldChoices
	p.Check(chooses == (len(f.Choices) > 0), at+"/choices", "A choice has words to choose from, and nothing else has.")
	for i, c := range f.Choices {
		p.Check(sheetKey.MatchString(c.Value), at+"/choices/"+itoa(i)+"/value", "A word is small letters, digits and dashes.")
		checkLocal(p, at+"/choices/"+itoa(i)+"/name", c.Name, 120)
	}
	for i := range f.Limits {
		f.Limits[i].check(f, sheet, p, at+"/limits/"+itoa(i))
	}
}

func (l *SheetLimit) check(f *SheetField, sheet *LogSheet, p *Problems, at string) {
	l.Asks.check(p, at+"/asks")
	checkLocal(p, at+"/act", l.Act, 500)
	numbers := f.Type == FieldNumber || f.Type == FieldQuantity
	words := f.Type == FieldChoice || f.Type == FieldChoices || f.Type == FieldYesNo
	p.Check(numbers || l.Below == "" && l.Above == "", at, "Only numbers and quantities have a limit below or above.")
	p.Check(words || len(l.Is) == 0, at+"/is", "Only choices and yes-no fields have words that are out of limits.")
	p.Check(l.Below != "" || l.Above != "" || len(l.Is) > 0, at, "Say what is out of limits: below, above or is.")
	for name, text := range map[string]string{"/below": l.Below, "/above": l.Above} {
		if _, err := ParseDecimal(text); text != "" && err != nil {
			p.Add(at+name, "%s.", err)
		}
	}
	for _, word := range l.Is {
		p.Check(f.takes(word), at+"/is", "%q is not a word of this field.", word)
	}
	if l.When == nil {
		return
	}
	other := sheet.Field(l.When.Field)
	p.Check(other != nil && (other.Type == FieldChoice || other.Type == FieldYesNo), at+"/when/field", "Name a choice or yes-no field of this sheet.")
	for _, word := range l.When.Is {
		p.Check(other == nil || other.takes(word), at+"/when/is", "%q is not a word of that field.", word)
	}
}

// takes reports whether a word is one that the field can hold.
func (f *SheetField) takes(word string) bool {
	if f.Type == FieldYesNo {
		return word == "yes" || word == "no"
	}
	return slices.ContainsFunc(f.Choices, func(c Choice) bool { return c.Value == word })
}

// After notes what a later form of a sheet must not do, because entries of the earlier one must stay readable: fields may
// be added, but none taken away, retyped or robbed of a word, and private stays private.
func (x *LogSheet) After(before *LogSheet, p *Problems) {
	p.Check(x.Key == before.Key, "/key", "Entries call the sheet %q. Keep the key.", before.Key)
	p.Check(x.Private == before.Private, "/private", "Whether entries are private is settled when the sheet is made. Make a new sheet.")
	for _, old := range before.Fields {
		f := x.Field(old.Key)
		if f == nil {
			p.Add("/fields", "Entries may hold %q. Keep the field.", old.Key)
			continue
		}
		p.Check(f.Type == old.Type && f.Unit == old.Unit && f.UnitLabel == old.UnitLabel, "/fields", "Entries hold %q as it is. Keep its type and unit.", old.Key)
		for _, c := range old.Choices {
			p.Check(f.takes(c.Value), "/fields", "Entries may say %q in %q. Keep the word.", c.Value, old.Key)
		}
	}
}

// out reports whether a number lies outside the limit.
func (l *SheetLimit) out(v decimal.Decimal) bool {
	if l.Below != "" && v.LessThan(decimal.RequireFromString(l.Below)) {
		return true
	}
	return l.Above != "" && v.GreaterThan(decimal.RequireFromString(l.Above))
}
