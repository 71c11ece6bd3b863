package api

import (
	"encoding/json"
	"reflect"
	"slices"
	"testing"
	"time"

	"croftmark/domain"
)

// Whatever a stranger sends as a body is refused or read, and what was read is the same when it is written and read again.
func FuzzBody(f *testing.F) {
	s := New(nil, Config{})
	var kinds []string
	for kind := range s.types {
		kinds = append(kinds, kind)
	}
	slices.Sort(kinds)
	for i, body := range []string{
		`{"name": "Lower 3", "plot_id": "01912345-0000-7000-8000-000000000001", "from": "2024-03-01", "length": {"value": "100", "unit": "ft"}}`,
		`{"source": {"input_lot_id": "01912345-0000-7000-8000-000000000001"}, "ground": {"bed_ids": ["01912345-0000-7000-8000-000000000001"]}, "applied_on": "2026-04-01", "method": "surface", "amount": {"value": "2", "unit": "yd3"}}`,
		`{"name": "a", "name": "b"}`, `{"name": "\u0000"}`, `[1e999]`, `{}{}`, `"\ud800"`, `{"NAME": "x"}`, `{"attachments": [{}]}`, `nul`, ``,
	} {
		f.Add(uint8(i), []byte(body))
	}
	f.Fuzz(func(t *testing.T, pick uint8, raw []byte) {
		if checkJSON(raw) != nil {
			return
		}
		if _, err := hashBody("POST", "/v1/x", raw); err != nil {
			return // a number that the book cannot hold
		}
		of := s.types[kinds[int(pick)%len(kinds)]]
		read := reflect.New(of).Interface()
		if err := s.decode(of, raw, read); err != nil {
			return
		}
		if r, ok := read.(domain.Record); ok {
			_ = domain.CheckRecord(r, domain.NewDate(2026, 11, 25), time.UTC)
		}
		once, err := json.Marshal(read)
		if err != nil {
			t.Fatalf("what was read cannot be written: %v", err)
		}
		again := reflect.New(of).Interface()
		if err := json.Unmarshal(once, again); err != nil {
			t.Fatalf("what was written cannot be read: %v: %s", err, once)
		}
		if twice, _ := json.Marshal(again); string(twice) != string(once) {
			t.Fatalf("written twice differently:\n%s\n%s", once, twice)
		}
	})
}

// A cursor comes back from the caller: it is read as it was given, or refused.
func FuzzCursor(f *testing.F) {
	f.Add(cursor{seq: 7}.String())
	f.Add("")
	f.Add("Nw")
	f.Fuzz(func(t *testing.T, text string) {
		c, err := parseCursor(text)
		if err != nil || text == "" {
			return
		}
		if again, err := parseCursor(c.String()); err != nil || again != c {
			t.Errorf("%q gives %v, read again %v (%v)", text, c, again, err)
		}
	})
}
