package domain

import (
	"bytes"
	_ "embed"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
)

// A binder is what is laid on the table when somebody inspects: the records of a period in the order in which the
// inspector asks, with what was late, corrected or void left in plain sight.

//go:embed binder.json
var binderFile []byte

// BinderScope is whose inspection a binder is for, and in which order its records come.
type BinderScope struct {
	Scope    string          `json:"scope"`
	Title    string          `json:"title"`
	Order    string          `json:"order"`
	Sections []BinderSection `json:"sections"`
}

// BinderSection is one tab of the binder: kinds of records and log sheets, and who asks for them.
type BinderSection struct {
	Title  string   `json:"title"`
	Kinds  []string `json:"kinds,omitempty"`
	Sheets []string `json:"sheets,omitempty"`
	Asks   string   `json:"asks"`
	// Records are filled in from the book, oldest first.
	Records []BinderRecord `json:"records,omitempty"`
}

// binderRegisters are kinds that describe the farm rather than a day's act; they are shown whenever they were written.
var binderRegisters = []string{"farm", "person", "plot", "bed", "crop", "input", "water-source", "customer"}

// BinderScopeNamed gives the sections of a scope, empty of records.
func BinderScopeNamed(scope string) (s BinderScope, ok bool) {
	var all []BinderScope
	if err := json.Unmarshal(binderFile, &all); err != nil {
		panic(fmt.Errorf("binder.json: %w", err)) // the data is part of the program; a test loads it
	}
	i := slices.IndexFunc(all, func(s BinderScope) bool { return s.Scope == scope })
	if i < 0 {
		return s, false
	}
	return all[i], true
}

// Register reports whether a kind is shown whatever the period.
func Register(kind string) bool { return slices.Contains(binderRegisters, kind) }

// BinderRecord is one record as it stands, with everything that happened to it.
type BinderRecord struct {
	ID        uuid.UUID
	Kind      string
	Entry     int64
	On        Date
	Says      []string // what it says, field by field
	DoneBy    string
	TypedBy   string
	EnteredAt time.Time
	LateDays  int
	LateWhy   string
	Voided    bool
	Changes   []BinderChange
	Signed    []string // second signatures
}

// BinderChange is a correction or a void: what was changed, by whom, when and why.
type BinderChange struct {
	Entry  int64
	Kind   string
	By     string
	At     time.Time
	Reason string
	Was    []string
}

// Binder is a whole binder.
type Binder struct {
	Farm     Farm
	Scope    BinderScope
	From, To Date
	// Withheld counts private records (health) that the binder leaves out.
	Withheld int
	Exercise *BinderExercise
}

// BinderExercise is the trace-back and mass balance of one crop that an organic inspection asks for (7 CFR 205.403; the
// inspector picks, the farm shows).
type BinderExercise struct {
	Crop    string
	Start   string   // the lot the trace-back starts from
	Trace   []string // its way to the ground, line by line
	Lots    []RecallLot
	Balance []RecallBalance
	Gaps    []string
}

// Gaps are what the binder can tell that it lacks; a declared gap beats a smooth story.
func (b *Binder) Gaps() (out []string) {
	late, unsigned := 0, 0
	for _, s := range b.Scope.Sections {
		if len(s.Records) == 0 {
			out = append(out, fmt.Sprintf("Nothing is in the book under “%s” for this period.", s.Title))
		}
		for _, r := range s.Records {
			if r.LateDays > 0 {
				late++
			}
			if r.LateDays > 0 && r.LateWhy == "" {
				unsigned++
			}
		}
	}
	if late > 0 {
		out = append(out, fmt.Sprintf("%d records were written down a day or more after the act; each is marked LATE. %d of them do not say why.", late, unsigned))
	}
	if b.Withheld > 0 {
		out = append(out, fmt.Sprintf("%d private records (health of people) are withheld.", b.Withheld))
	}
	if b.Exercise != nil {
		out = append(out, b.Exercise.Gaps...)
	}
	return out
}

// SayRecord writes what a record's body says, a field each, with the names that things have now in place of their ids.
// What every record has beside its own fields is left to the caller.
func SayRecord(body json.RawMessage, names map[uuid.UUID]string) []string {
	var out []string
	dec := json.NewDecoder(bytes.NewReader(body))
	dec.UseNumber()
	if _, err := dec.Token(); err != nil {
		return nil
	}
	for dec.More() {
		key, err := dec.Token()
		if err != nil {
			return out
		}
		var value json.RawMessage
		if err := dec.Decode(&value); err != nil {
			return out
		}
		name, _ := key.(string)
		if slices.Contains([]string{"id", "key", "done_by", "device_at", "late_reason", "attachments", "text_es", "records"}, name) {
			continue
		}
		if text := sayValue(value, names); text != "" {
			out = append(out, fieldWords(name)+": "+text)
		}
	}
	return out
}

// fieldWords is a field's name as people read it: an id is shown as the thing's name.
func fieldWords(name string) string {
	words := strings.ReplaceAll(name, "_", " ")
	if rest, ok := strings.CutSuffix(words, " ids"); ok {
		return rest + "s"
	}
	return strings.TrimSuffix(words, " id")
}

func sayValue(raw json.RawMessage, names map[uuid.UUID]string) string {
	var q Quantity
	if raw[0] == '{' && q.UnmarshalJSON(raw) == nil {
		return q.String()
	}
	var v any
	dec := json.NewDecoder(bytes.NewReader(raw))
	dec.UseNumber()
	if dec.Decode(&v) != nil {
		return ""
	}
	switch v := v.(type) {
	case string:
		if id, err := uuid.Parse(v); err == nil {
			if name, ok := names[id]; ok {
				return name
			}
			return "record " + id.String()[:8]
		}
		return v
	case bool:
		return map[bool]string{true: "yes", false: "no"}[v]
	case json.Number:
		return v.String()
	case []any:
		return sayList(raw, names)
	case map[string]any:
		return "(" + strings.Join(SayRecord(raw, names), "; ") + ")"
	}
	return ""
}

// sayListMost keeps a logger's thousand readings from filling a binder; the count says what is not printed.
const sayListMost = 40

func sayList(raw json.RawMessage, names map[uuid.UUID]string) string {
	var items []json.RawMessage
	if json.Unmarshal(raw, &items) != nil {
		return ""
	}
	var out []string
	for i, item := range items {
		if i == sayListMost {
			out = append(out, fmt.Sprintf("and %d more, in the book", len(items)-i))
			break
		}
		out = append(out, sayValue(item, names))
	}
	return strings.Join(out, ", ")
}
