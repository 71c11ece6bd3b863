package main

import (
	"encoding/json"
	"fmt"
	"strings"
	"time"

	"github.com/google/uuid"
)

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
	MaxLength  int                `json:"maxLength"`
	Minimum    float64            `json:"minimum"`
	Maximum    float64            `json:"maximum"`
}

// nonsense is what stands in place of a value now and then.
var nonsense = []any{nil, true, -1, 1 << 50, "", "nobody", "\u0000", strings.Repeat("ñ", 3000), []any{}, map[string]any{"a": []any{nil}}, "9999-99-99", "2026-02-30",
	"00000000-0000-0000-0000-000000000000", "'; drop table records; --", "١٢", "1e9", json.Number("1e400"), "-0.000", "../../etc", "%00"}

// value makes up a value of a schema. Deep ones are cut off.
func (m *mutator) value(s *schema, depth int) any {
	if s == nil || m.dice.IntN(m.sane) == 0 {
		return nonsense[m.dice.IntN(len(nonsense))]
	}
	if s.Ref != "" {
		return m.value(m.doc.Components.Schemas[s.Ref[strings.LastIndexByte(s.Ref, '/')+1:]], depth)
	}
	if len(s.Enum) > 0 {
		return s.Enum[m.dice.IntN(len(s.Enum))]
	}
	switch kind := fmt.Sprint(s.Type); {
	case strings.Contains(kind, "object"):
		return m.object(s, depth)
	case strings.Contains(kind, "array"):
		list := []any{}
		for range m.dice.IntN(4) {
			if depth < 6 {
				list = append(list, m.value(s.Items, depth+1))
			}
		}
		return list
	case strings.Contains(kind, "integer"), strings.Contains(kind, "number"):
		return int(s.Minimum) + m.dice.IntN(max(int(min(s.Maximum, 1000)-s.Minimum), 20))
	case strings.Contains(kind, "boolean"):
		return m.dice.IntN(2) == 0
	}
	return m.text(s)
}

func (m *mutator) object(s *schema, depth int) any {
	out := map[string]any{}
	for _, name := range sortedKeys(s.Properties) {
		chance := 3
		for _, r := range s.Required {
			if r == name {
				chance = 20 + m.sane/100
			}
		}
		if m.dice.IntN(21) < chance && depth < 6 {
			out[name] = m.value(s.Properties[name], depth+1)
		}
	}
	if m.dice.IntN(m.sane) == 0 {
		out["unheard_of"] = 1
	}
	return out
}

func (m *mutator) text(s *schema) string {
	days := time.Duration(m.dice.IntN(800)-780) * 24 * time.Hour
	switch {
	case s.Format == "uuid" && m.dice.IntN(6) > 0:
		return m.known[m.dice.IntN(len(m.known))]
	case s.Format == "uuid":
		return uuid.Must(uuid.NewV7()).String()
	case s.Format == "date":
		return time.Now().Add(days).Format(time.DateOnly)
	case s.Format == "date-time":
		return time.Now().Add(days).Format(time.RFC3339)
	case strings.HasPrefix(s.Pattern, "^-?[0-9]"):
		return fmt.Sprintf("%d.%d", m.dice.IntN(300)-5, m.dice.IntN(100))
	}
	words := []string{"Gorse End", "ñandú", "26219-L3-RAD-1-SS", "P26221-SAL-1-4X", "turnip", m.known[m.dice.IntN(len(m.known))], time.Now().Add(days).Format(time.DateOnly)}
	return words[m.dice.IntN(len(words))]
}
