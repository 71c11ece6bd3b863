package main

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
)

// document is what is read of the OpenAPI document.
type document struct {
	Paths      map[string]map[string]operation `json:"paths"`
	Components struct {
		Schemas map[string]*schema `json:"schemas"`
	} `json:"components"`
}

type operation struct {
	Parameters []struct {
		Name     string  `json:"name"`
		In       string  `json:"in"`
		Required bool    `json:"required"`
		Schema   *schema `json:"schema"`
	} `json:"parameters"`
	RequestBody struct {
		Content map[string]struct {
			Schema *schema `json:"schema"`
		} `json:"content"`
	} `json:"requestBody"`
}

// takes tells whether an operation can be asked by a name.
func (o operation) takes(name string) bool {
	for _, p := range o.Parameters {
		if p.In == "query" && p.Name == name {
			return true
		}
	}
	return false
}

// schema is the part of JSON Schema that the document uses.
type schema struct {
	Ref        string             `json:"$ref"`
	Type       any                `json:"type"` // a name, or a list with null
	Format     string             `json:"format"`
	Pattern    string             `json:"pattern"`
	Enum       []any              `json:"enum"`
	Required   []string           `json:"required"`
	Properties map[string]*schema `json:"properties"`
	Items      *schema            `json:"items"`
	MinItems   int                `json:"minItems"`
	Minimum    float64            `json:"minimum"`
	Maximum    float64            `json:"maximum"`
}

// fields gives the schema of an operation's body; nil when it takes no JSON.
func (d document) fields(op operation) *schema {
	return d.resolve(op.RequestBody.Content["application/json"].Schema)
}

func (d document) resolve(s *schema) *schema {
	for s != nil && s.Ref != "" {
		s = d.Components.Schemas[s.Ref[strings.LastIndexByte(s.Ref, '/')+1:]]
	}
	return s
}

func (m *mutator) resolve(s *schema) *schema { return m.doc.resolve(s) }

// senseless is what stands in place of a value now and then.
var senseless = []any{nil, true, -1, 1 << 50, "", "nobody", "\u0000", strings.Repeat("ñ", 3000), []any{}, map[string]any{"a": []any{nil}}, "9999-99-99", "2026-02-30",
	"00000000-0000-0000-0000-000000000000", "'; drop table records; --", "١٢", "1e9", json.Number("1e400"), "-0.000", "../../etc", "%00", "0001-01-01", "9999-12-31",
	"0001-01-01T00:00:00Z", "9999-12-31T23:59:59Z", "99999999999999999999999999", "0.0000000000000000000000001"}

func (m *mutator) nonsense() any {
	value := senseless[m.dice.IntN(len(senseless))]
	if _, deep := value.(map[string]any); deep {
		return map[string]any{"a": []any{nil}} // one of its own: it may be changed further, which would change it for all
	}
	return value
}

// value makes up a value of a schema for a field of a name. Deep ones are cut off.
func (m *mutator) value(s *schema, name string, depth int) any {
	s = m.resolve(s)
	if s == nil || m.dice.IntN(m.sane) == 0 {
		return m.nonsense()
	}
	if len(s.Enum) > 0 {
		return s.Enum[m.dice.IntN(len(s.Enum))]
	}
	switch kind := fmt.Sprint(s.Type); {
	case strings.Contains(kind, "object"):
		return m.object(s, depth)
	case strings.Contains(kind, "array"):
		list := []any{}
		for range s.MinItems + m.dice.IntN(3) {
			if depth < 6 {
				list = append(list, m.value(s.Items, name, depth+1))
			}
		}
		return list
	case strings.Contains(kind, "integer"), strings.Contains(kind, "number"):
		return int(s.Minimum) + m.dice.IntN(max(int(min(s.Maximum, 1000)-s.Minimum), 20))
	case strings.Contains(kind, "boolean"):
		return m.dice.IntN(2) == 0
	}
	return m.text(s, name)
}

func (m *mutator) object(s *schema, depth int) any {
	out := map[string]any{}
	for _, name := range sortedKeys(s.Properties) {
		chance := 3
		if slices.Contains(s.Required, name) {
			chance = 20 + m.sane/100
		}
		if m.dice.IntN(21) < chance && depth < 6 {
			out[name] = m.value(s.Properties[name], name, depth+1)
		}
	}
	if m.dice.IntN(m.sane) == 0 {
		out["unheard_of"] = 1
	}
	return out
}

// text makes up a text: an id of the right collection, a day of the last two years, a code that is there.
func (m *mutator) text(s *schema, name string) string {
	days := time.Duration(m.dice.IntN(800)-780) * 24 * time.Hour
	switch {
	case s.Format == "uuid":
		return m.id(collectionOf(name))
	case s.Format == "date":
		return time.Now().Add(days).Format(time.DateOnly)
	case s.Format == "date-time":
		return time.Now().Add(days).Format(time.RFC3339)
	case strings.HasPrefix(s.Pattern, "^-?[0-9]"):
		return fmt.Sprintf("%d.%d", m.dice.IntN(300)-5, m.dice.IntN(100))
	case name == "attachments" || name == "hash":
		return pick(m, m.hashes)
	case name == "lot", name == "crate", name == "code", name == "crates", name == "may_be":
		return pick(m, m.codes)
	}
	words := []string{"Gorse End", "ñandú", "26219-L3-RAD-1-SS", "P26221-SAL-1-4X", "turnip", pick(m, m.every), pick(m, m.codes), time.Now().Add(days).Format(time.DateOnly)}
	return words[m.dice.IntN(len(words))]
}

// id gives one of a collection, seldom one of another or of none.
func (m *mutator) id(collection string) string {
	switch list := m.ids[collection]; {
	case m.dice.IntN(20) == 0:
		return uuid.Must(uuid.NewV7()).String()
	case len(list) > 0 && m.dice.IntN(12) > 0:
		return pick(m, list)
	}
	return pick(m, m.every)
}

func pick(m *mutator, list []string) string {
	if len(list) == 0 {
		return "nothing"
	}
	return list[m.dice.IntN(len(list))]
}
