package domain_test

import (
	"encoding/json"
	"math"
	"strings"
	"testing"
	"time"

	"croftmark/domain"
)

// A sheet that a farm defines is refused or holds: an entry by it is typed by its fields without a surprise, and what it
// says is written and read the same.
func FuzzLogSheet(f *testing.F) {
	const sheet = `{"key": "egg-washing", "title": {"en": "Egg washing", "es": "Lavado"}, "asked_by": [{"authority": "practice", "citation": "own"}], "keep": {"years": 2}, "fields": [
		{"key": "trays", "type": "number", "label": {"en": "Trays", "es": "Bandejas"}, "required": true},
		{"key": "water", "type": "quantity", "units": ["degF"], "label": {"en": "Water", "es": "Agua"}}]}`
	f.Add([]byte(sheet), []byte(`{"sheet": "egg-washing", "on": "2026-11-20", "values": {"trays": "3"}}`))
	f.Add([]byte(`{"fields": [{}]}`), []byte(`{"values": {"": null}}`))
	f.Add([]byte(`{"fields": [{"key": "a", "type": "choice"}, {"key": "a", "type": "table"}]}`), []byte(`{"values": {"a": [["1e999999999"]]}}`))
	now := time.Date(2026, 11, 25, 14, 0, 0, 0, time.UTC)
	for _, built := range domain.BuiltInSheets() {
		raw, err := json.Marshal(built)
		if err != nil {
			f.Fatal(err)
		}
		f.Add(raw, []byte(`{"sheet": "`+built.Key+`", "on": "2026-11-20", "values": {"places": ["Tank 1"], "checked": "yes", "temperature": {"value": "41", "unit": "degF"}}}`))
	}
	f.Fuzz(func(t *testing.T, rawSheet, rawEntry []byte) {
		var sheet domain.LogSheet
		var entry domain.LogEntry
		if json.Unmarshal(rawSheet, &sheet) != nil || json.Unmarshal(rawEntry, &entry) != nil {
			return
		}
		_ = domain.CheckRecord(&entry, domain.NewDate(2026, 11, 25), time.UTC)
		if domain.CheckRecord(&sheet, domain.NewDate(2026, 11, 25), time.UTC) != nil {
			return
		}
		var p domain.Problems
		entry.Settle(&sheet, now, time.UTC, &p)
		if p.Err() != nil {
			return
		}
		_, _, _ = entry.Warnings(&sheet), entry.Marks(), entry.Named(&sheet)
		once, err := json.Marshal(&entry)
		if err != nil {
			t.Fatalf("what was taken cannot be written: %v", err)
		}
		var again domain.LogEntry
		if err := json.Unmarshal(once, &again); err != nil {
			t.Fatalf("what was written cannot be read: %v: %s", err, once)
		}
	})
}

// Elements in brackets, as people type them, are refused or read.
func FuzzParseGS1Text(f *testing.F) {
	for _, seed := range []string{"(01)19521321001012(10)A-1", `(10)A\(1\)`, "(", "(01)", "()", `(10)\`, "(13)260615(3103)000500", "(414)9521321000018"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, s string) {
		values, err := domain.ParseGS1Text(s)
		if err != nil {
			return
		}
		var written strings.Builder
		escape := strings.NewReplacer(`\`, `\\`, "(", `\(`)
		for _, v := range values {
			written.WriteString("(" + v.AI + ")" + escape.Replace(v.Value))
		}
		again, err := domain.ParseGS1Text(written.String())
		if err != nil || len(again) != len(values) {
			t.Fatalf("%q written as %q is read as %v, %v", s, written.String(), again, err)
		}
		for i := range again {
			if again[i] != values[i] {
				t.Fatalf("%q written as %q is read as %v", s, written.String(), again)
			}
		}
	})
}

// Tubes of a most-probable-number test give a number between its own bounds, or a refusal.
func FuzzMPN(f *testing.F) {
	f.Add(10.0, 5, 3, 1.0, 5, 1)
	f.Add(0.0, 0, 0, -1.0, 1, 2)
	f.Add(1e-300, 1, 1, 1e300, 1, 0)
	f.Fuzz(func(t *testing.T, ml1 float64, tubes1, positive1 int, ml2 float64, tubes2, positive2 int) {
		e, err := domain.MPN([]domain.MPNRow{{VolumeML: ml1, Tubes: tubes1, Positive: positive1}, {VolumeML: ml2, Tubes: tubes2, Positive: positive2}})
		switch {
		case err != nil:
		case e.Qualifier == "" && !(e.PerML > 0 && e.Low <= e.PerML && e.PerML <= e.High && !math.IsInf(e.PerML, 1)):
			t.Fatalf("%g mL %d/%d, %g mL %d/%d: %+v", ml1, positive1, tubes1, ml2, positive2, tubes2, e)
		case e.Qualifier != "" && !(e.LimitML > 0):
			t.Fatalf("%g mL %d/%d, %g mL %d/%d: %+v", ml1, positive1, tubes1, ml2, positive2, tubes2, e)
		}
	})
}

// A PIN is 4 to 8 plain digits, or refused.
func FuzzCheckPIN(f *testing.F) {
	for _, seed := range []string{"4802", "1234", "٤٨٠٢", "", "480\x00", "999999999"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, pin string) {
		var p domain.Problems
		domain.CheckPIN(&p, "/pin", pin)
		err := p.Err()
		plain := len(pin) >= 4 && len(pin) <= 8 && strings.Trim(pin, "0123456789") == ""
		if !plain && err == nil {
			t.Fatalf("%q was taken", pin)
		}
	})
}
