package domain

import (
	"encoding/json"
	"maps"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
)

// LogEntry is one line of a log sheet. Its values are typed by the sheet.
type LogEntry struct {
	ID    uuid.UUID `json:"id,omitzero" format:"uuid"`
	Sheet string    `json:"sheet" maxLength:"40" doc:"Key of the sheet."`
	On    Date      `json:"on,omitzero" format:"date" doc:"The day, when the hour is not known; otherwise give done_at. Left out with done_at: now."`
	// Values holds a text, a list of texts or a quantity for each field that was filled in.
	Values map[string]json.RawMessage `json:"values" doc:"By field key: a text, a list of texts, or a quantity, as the sheet's field says."`
	Action string                     `json:"action,omitempty" maxLength:"2000" doc:"What was done about a value that is out of limits."`
	// OutOfLimits and Private are the book's answers, judged by the sheet as it stood when this was written.
	OutOfLimits []OutOfLimit `json:"out_of_limits,omitempty"`
	Private     bool         `json:"private,omitempty"`
	Habits
}

// OutOfLimit is a value that lies outside a limit of its sheet.
type OutOfLimit struct {
	Field string      `json:"field"`
	Value string      `json:"value"`
	Limit string      `json:"limit"`
	Act   LocalText   `json:"act"`
	Asks  SheetSource `json:"asks"`
}

func (x *LogEntry) Kind() string         { return "log-entry" }
func (x *LogEntry) Identity() *uuid.UUID { return &x.ID }
func (x *LogEntry) DoneOn() Date         { return x.On }

func (x *LogEntry) Check(today Date, p *Problems) {
	checkName(p, "/sheet", x.Sheet)
	checkOptionalDay(p, "/on", x.On, today)
	checkText(p, "/action", x.Action, 2000)
	p.Check(len(x.OutOfLimits) == 0, "/out_of_limits", "The book works this out. Leave it out.")
	p.Check(!x.Private, "/private", "The sheet says whether its entries are private. Leave it out.")
}

// Settle fills in the day, and what the sheet says of the entry. now is the instant of writing.
func (x *LogEntry) Settle(sheet *LogSheet, now time.Time, zone *time.Location, p *Problems) {
	if x.On.IsZero() && x.DoneAt.IsZero() {
		x.DoneAt = now
	}
	if x.On.IsZero() {
		x.On = DateIn(x.DoneAt, zone)
	}
	p.Check(x.DoneAt.IsZero() || DateIn(x.DoneAt, zone) == x.On, "/on", "%s is not the day of done_at. Give one of the two, or both of the same day.", x.On)
	x.OutOfLimits, x.Private = nil, sheet.Private
	for _, key := range slices.Sorted(maps.Keys(x.Values)) {
		if sheet.Field(key) == nil {
			p.Add("/values/"+key, "The sheet %s has no such field. Its fields are: %s.", sheet.Key, strings.Join(sheet.fieldKeys(), ", "))
		}
	}
	read := map[string]LogValue{}
	for i := range sheet.Fields {
		f := &sheet.Fields[i]
		raw, given := x.Values[f.Key]
		if !given {
			p.Check(!f.Required, "/values/"+f.Key, "%s is missing. Give it.", f.Name.En)
			continue
		}
		read[f.Key] = f.read(raw, DateIn(now, zone), p, "/values/"+f.Key)
	}
	for i := range sheet.Fields {
		x.limits(&sheet.Fields[i], read)
	}
}

func (x *LogSheet) fieldKeys() []string {
	keys := make([]string, len(x.Fields))
	for i, f := range x.Fields {
		keys[i] = f.Key
	}
	return keys
}

// limits notes what of a field is out of limits. A quantity is held to the limit in the limit's own unit.
func (x *LogEntry) limits(f *SheetField, read map[string]LogValue) {
	v, given := read[f.Key]
	if !given {
		return
	}
	for i := range f.Limits {
		l := &f.Limits[i]
		if l.When != nil && !slices.Contains(l.When.Is, read[l.When.Field].Word()) {
			continue
		}
		if v.outOf(f, l) {
			x.OutOfLimits = append(x.OutOfLimits, OutOfLimit{Field: f.Key, Value: v.Shown(), Limit: l.words(f), Act: l.Act, Asks: l.Asks})
		}
	}
}

// words says a limit in short: "at most 41 degF".
func (l *SheetLimit) words(f *SheetField) string {
	unit := strings.TrimSpace(string(f.Unit) + f.UnitLabel)
	var parts []string
	for _, side := range []struct{ word, value string }{{"at least", l.Below}, {"at most", l.Above}} {
		if side.value != "" {
			parts = append(parts, strings.TrimSpace(side.word+" "+side.value+" "+unit))
		}
	}
	if len(l.Is) > 0 {
		parts = append(parts, "not "+strings.Join(l.Is, " or "))
	}
	return strings.Join(parts, ", ")
}

// OpenAction reports whether something was out of limits and nothing is written yet about what was done.
func (x *LogEntry) OpenAction() bool {
	return len(x.OutOfLimits) > 0 && strings.TrimSpace(x.Action) == ""
}

// Warnings tells what is out of limits the moment it is written down.
func (x *LogEntry) Warnings(sheet *LogSheet) (out []string) {
	for _, o := range x.OutOfLimits {
		text := sheet.Field(o.Field).Name.En + " " + o.Value + " is out of limits (" + o.Limit + "). " + o.Act.En
		if x.OpenAction() {
			text += " Write down what was done, here as action or as a corrective action."
		}
		out = append(out, text)
	}
	return out
}

// LogMark is a person or a thing that an entry of a built-in sheet is about, for looking up: who was trained, what was
// cleaned.
type LogMark struct {
	PersonID uuid.UUID
	Place    string // in small letters
}

// marked are the fields by which entries are looked up.
var marked = map[string]string{"training": "people", "cleaning": "places", "shared-equipment": "machines"}

// Marks lists the people and things of the entry.
func (x *LogEntry) Marks() (out []LogMark) {
	sheet, ok := BuiltInSheet(x.Sheet)
	if !ok || marked[x.Sheet] == "" {
		return nil
	}
	var p Problems
	for _, text := range sheet.Field(marked[x.Sheet]).read(x.Values[marked[x.Sheet]], Date{}, &p, "").Texts {
		if id, err := uuid.Parse(text); err == nil {
			out = append(out, LogMark{PersonID: id})
		} else {
			out = append(out, LogMark{Place: strings.ToLower(text)})
		}
	}
	return out
}

// Named lists what the values name of the rest of the book: ids of people and beds, each with its pointer, and codes of
// lots.
func (x *LogEntry) Named(sheet *LogSheet) (out []NamedValue) {
	var p Problems
	for i := range sheet.Fields {
		f := &sheet.Fields[i]
		kind := map[FieldType]string{FieldPerson: "person", FieldPeople: "person", FieldBeds: "bed", FieldLots: "lot"}[f.Type]
		raw, given := x.Values[f.Key]
		if kind == "" || !given {
			continue
		}
		v := f.read(raw, Date{}, &p, "")
		at := "/values/" + f.Key
		if f.Type == FieldPerson {
			out = append(out, NamedValue{kind, at, v.Text})
		}
		for k, text := range v.Texts {
			out = append(out, NamedValue{kind, at + "/" + itoa(k), text})
		}
	}
	return out
}

// NamedValue is a value that names a person, a bed (by id) or a lot (by code).
type NamedValue struct{ Kind, Pointer, Value string }
