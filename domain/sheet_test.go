package domain_test

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"
	"time"

	"croftmark/domain"
)

func sheet(t testing.TB, key string) *domain.LogSheet {
	t.Helper()
	s, ok := domain.BuiltInSheet(key)
	if !ok {
		t.Fatalf("no sheet %s", key)
	}
	return s
}

func TestEverySheetIsWhole(t *testing.T) {
	t.Parallel()
	seen := map[string]bool{}
	for _, s := range domain.BuiltInSheets() {
		var p domain.Problems
		domain.CheckSheetShape(&s, &p)
		if err := p.Err(); err != nil {
			t.Errorf("%s: %v", s.Key, err)
		}
		if seen[s.Key] {
			t.Errorf("%s is there twice", s.Key)
		}
		seen[s.Key] = true
		if s.When.En == "" {
			t.Errorf("%s does not say when", s.Key)
		}
		sources := map[string]domain.SheetSource{}
		for _, a := range s.Asks {
			sources["asks "+a.Citation] = a.SheetSource
		}
		for _, k := range s.Keep {
			sources["keep "+k.Citation] = k.SheetSource
		}
		for _, f := range s.Fields {
			for _, l := range f.Limits {
				sources["limit of "+f.Key] = l.Asks
			}
		}
		if s.SecondSignature != nil {
			sources["second signature"] = s.SecondSignature.SheetSource
		}
		for what, source := range sources {
			if source.Mark == "" {
				t.Errorf("%s, %s: nothing says how well it is known", s.Key, what)
			}
			if source.Authority == domain.Law && !strings.Contains(source.Citation, "CFR") {
				t.Errorf("%s, %s: a law without its place: %q", s.Key, what, source.Citation)
			}
		}
	}
	for _, key := range []string{"training", "visitors", "illness", "toilets", "cleaning", "pests", "cold-room", "calibration", "shared-equipment",
		"manure-storage", "complaint", "field-walk", "containers", "exemption-review"} {
		if !seen[key] {
			t.Errorf("the sheet %s is missing", key)
		}
	}
}

// 21 CFR 112.161(b) names the records that a supervisor reviews, dates and signs: of those kept as sheets, training
// (112.30(b)), cleaning (112.140(b)(1), (2)) and the exemption review (112.7(b)). No other sheet of the program may claim
// a second signature.
func TestOnlySheetsOfTheListAskForASecondSignature(t *testing.T) {
	t.Parallel()
	want := map[string]string{"training": "112.30(b)", "cleaning": "112.140(b)", "exemption-review": "112.7(b)"}
	for _, s := range domain.BuiltInSheets() {
		citation, listed := want[s.Key]
		switch {
		case listed != (s.SecondSignature != nil):
			t.Errorf("%s: asks for a second signature: %t, want %t", s.Key, s.SecondSignature != nil, listed)
		case listed && (!strings.Contains(s.SecondSignature.Citation, citation) || !strings.Contains(s.SecondSignature.Citation, "112.161(b)") || s.SecondSignature.Authority != domain.Law):
			t.Errorf("%s: second signature by %+v", s.Key, s.SecondSignature)
		}
	}
}

// What the law names as a record, and not only as an act: 112.30(b) training, 112.140(b) cleaning, 112.7(b) exemption,
// and 1.1325 cooling of listed foods. The other logs are an act, an audit's, or good to have; none may be shown as more.
func TestWhichSheetsTheLawNamesAsRecords(t *testing.T) {
	t.Parallel()
	var got []string
	for _, s := range domain.BuiltInSheets() {
		if slices.ContainsFunc(s.Asks, func(a domain.SheetAsk) bool { return a.Strength == "must-record" }) {
			got = append(got, s.Key)
		}
		for _, a := range s.Asks {
			if strings.HasPrefix(a.Strength, "must") != (a.Authority == domain.Law) {
				t.Errorf("%s: %s asked by %s", s.Key, a.Strength, a.Authority)
			}
		}
	}
	slices.Sort(got)
	if want := []string{"cleaning", "cooling", "exemption-review", "training"}; !slices.Equal(got, want) {
		t.Errorf("the law names %v, want %v", got, want)
	}
}

// 21 CFR 112.164: two years; 7 CFR 205.103: five years for organic records.
func TestHowLongSheetsAreKept(t *testing.T) {
	t.Parallel()
	for key, want := range map[string]int{"training": 2, "cleaning": 2, "shared-equipment": 5, "manure-storage": 5, "complaint": 5} {
		most := 0
		for _, k := range sheet(t, key).Keep {
			most = max(most, k.Years)
		}
		if most != want {
			t.Errorf("%s is kept %d years, want %d", key, most, want)
		}
	}
	for _, s := range domain.BuiltInSheets() {
		if s.Private != (s.Key == "illness") {
			t.Errorf("%s: private %t", s.Key, s.Private)
		}
	}
}

func values(pairs ...string) map[string]json.RawMessage {
	out := map[string]json.RawMessage{}
	for i := 0; i < len(pairs); i += 2 {
		out[pairs[i]] = json.RawMessage(pairs[i+1])
	}
	return out
}

var writtenAt = time.Date(2026, 11, 25, 15, 0, 0, 0, time.UTC)

func settle(t testing.TB, s *domain.LogSheet, v map[string]json.RawMessage) (*domain.LogEntry, *domain.Error) {
	t.Helper()
	e := &domain.LogEntry{Sheet: s.Key, Values: v}
	var p domain.Problems
	e.Settle(s, writtenAt, time.UTC, &p)
	err, _ := p.Err().(*domain.Error)
	return e, err
}

func TestLogValuesAreReadStrictly(t *testing.T) {
	t.Parallel()
	room := values("room", `["Walk-in"]`, "kept", `"cold-crops"`, "air", `{"value": "38.5", "unit": "degF"}`)
	change := func(key, value string) map[string]json.RawMessage {
		v := values(key, value)
		for k, x := range room {
			if _, set := v[k]; !set {
				v[k] = x
			}
		}
		return v
	}
	if _, err := settle(t, sheet(t, "cold-room"), room); err != nil {
		t.Fatal(err)
	}
	for name, row := range map[string]struct {
		key, value, pointer string
	}{
		"a number for a quantity":   {"air", `38`, "#/values/air"},
		"a text for a quantity":     {"air", `"38 F"`, "#/values/air"},
		"another measure":           {"air", `{"value": "38", "unit": "lb"}`, "#/values/air/unit"},
		"a field too many":          {"air", `{"value": "38", "unit": "degF", "x": 1}`, "#/values/air"},
		"a word nobody knows":       {"kept", `"frozen"`, "#/values/kept"},
		"a list for a word":         {"kept", `["cold-crops"]`, "#/values/kept"},
		"a word for a list":         {"room", `"Walk-in"`, "#/values/room"},
		"an empty list":             {"room", `[]`, "#/values/room"},
		"twice the same":            {"room", `["A", "A"]`, "#/values/room/1"},
		"a number in a list":        {"room", `[1]`, "#/values/room/0"},
		"true for yes":              {"door", `true`, "#/values/door"},
		"maybe":                     {"door", `"maybe"`, "#/values/door"},
		"null":                      {"door", `null`, "#/values/door"},
		"an empty text":             {"instrument", `"  "`, "#/values/instrument"},
		"a field of another sheet":  {"soap", `"yes"`, "#/values/soap"},
		"digits nobody reads off":   {"air", `{"value": "38.1234567", "unit": "degF"}`, "#/values/air/value"},
		"a number that is absurd":   {"air", `{"value": "38000000000", "unit": "degF"}`, "#/values/air/value"},
		"an exponent in a quantity": {"air", `{"value": "3e1", "unit": "degF"}`, "#/values/air"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := settle(t, sheet(t, "cold-room"), change(row.key, row.value))
			if err == nil || err.Fields[0].Pointer != row.pointer {
				t.Errorf("got %v, want %s refused", err, row.pointer)
			}
		})
	}
	v := change("door", `"yes"`)
	delete(v, "air")
	if _, err := settle(t, sheet(t, "cold-room"), v); err == nil || err.Fields[0].Pointer != "#/values/air" {
		t.Errorf("a missing reading: %v", err)
	}
	for name, value := range map[string]string{"a name for an id": `["Carl"]`, "a number": `[7]`} {
		_, err := settle(t, sheet(t, "training"), values("people", value, "topics", `["hygiene"]`, "trainer", `"Lee"`))
		if err == nil || err.Fields[0].Pointer != "#/values/people/0" {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestWhatIsOutOfLimits(t *testing.T) {
	t.Parallel()
	cold := func(kept, value, unit string) map[string]json.RawMessage {
		return values("room", `["Walk-in"]`, "kept", `"`+kept+`"`, "air", `{"value": "`+value+`", "unit": "`+unit+`"}`)
	}
	checked := func(kind, reading, wrong string) map[string]json.RawMessage {
		return values("instrument", `"T1"`, "kind", `"`+kind+`"`, "standard", `"ice water"`, "expected", `"32"`, "reading", `"`+reading+`"`, "error", `"`+wrong+`"`, "good", `"yes"`)
	}
	illness := func(touched string) map[string]json.RawMessage {
		return values("person_code", `"P3"`, "signs", `["vomiting"]`, "sent_where", `"home"`, "touched_product", `"`+touched+`"`)
	}
	for name, row := range map[string]struct {
		sheet string
		v     map[string]json.RawMessage
		out   string // field; empty: within
		limit string
	}{
		// At most 41 °F for cold crops: common practice, the figure from memory. The limit itself is within.
		"at the limit":              {"cold-room", cold("cold-crops", "41", "degF"), "", ""},
		"above the limit":           {"cold-room", cold("cold-crops", "41.1", "degF"), "air", "at most 41 degF"},
		"5 °C is 41 °F":             {"cold-room", cold("cold-crops", "5", "degC"), "", ""},
		"5.1 °C is more":            {"cold-room", cold("cold-crops", "5.1", "degC"), "air", "at most 41 degF"},
		"basil is not held to that": {"cold-room", cold("warm-crops", "50", "degF"), "", ""},
		"basil freezes":             {"cold-room", cold("warm-crops", "38", "degF"), "air", "at least 45 degF, at most 65 degF"},
		// Ice water reads 32 °F within 2 °F: common practice.
		"thermometer 2 off":    {"calibration", checked("thermometer", "34", "2"), "", ""},
		"thermometer 2.5 low":  {"calibration", checked("thermometer", "29.5", "-2.5"), "error", "at least -2, at most 2"},
		"a scale is not":       {"calibration", checked("scale", "35", "3"), "", ""},
		"no product touched":   {"illness", illness("no"), "", ""},
		"product touched":      {"illness", illness("yes"), "touched_product", "not yes"},
		"no one got ill":       {"complaint", values("who", `"A buyer"`, "product", `"kale"`, "about", `"quality"`, "others_ill", `"0"`), "", ""},
		"somebody else is ill": {"complaint", values("who", `"A buyer"`, "product", `"kale"`, "about", `"quality"`, "others_ill", `"1"`), "others_ill", "at most 0"},
	} {
		t.Run(name, func(t *testing.T) {
			e, err := settle(t, sheet(t, row.sheet), row.v)
			if err != nil {
				t.Fatal(err)
			}
			if row.out == "" {
				if len(e.OutOfLimits) > 0 || e.OpenAction() {
					t.Errorf("out of limits: %+v", e.OutOfLimits)
				}
				return
			}
			if len(e.OutOfLimits) != 1 || e.OutOfLimits[0].Field != row.out || e.OutOfLimits[0].Limit != row.limit || !e.OpenAction() {
				t.Fatalf("got %+v, want %s: %s", e.OutOfLimits, row.out, row.limit)
			}
			if w := e.Warnings(sheet(t, row.sheet)); len(w) != 1 || !strings.Contains(w[0], "Write down what was done") {
				t.Errorf("warnings %q", w)
			}
			e.Action = "Moved it to the other room."
			if e.OpenAction() {
				t.Error("still open after the action was written")
			}
		})
	}
}

func TestTheDayOfALogEntry(t *testing.T) {
	t.Parallel()
	zone, err := domain.Zone("America/New_York")
	if err != nil {
		t.Fatal(err)
	}
	walk := func(on string, at time.Time) (*domain.LogEntry, error) {
		e := &domain.LogEntry{Sheet: "pests", Values: values("stations", `["1"]`, "found", `"nothing"`, "signs", `"no"`, "signs_on_product", `"no"`)}
		if on != "" {
			e.On = dayOf(on)
		}
		e.DoneAt = at
		var p domain.Problems
		e.Settle(sheet(t, "pests"), writtenAt, zone, &p)
		return e, p.Err()
	}
	late := time.Date(2026, 11, 25, 3, 0, 0, 0, time.UTC) // ten in the evening of the 24th on the farm
	if e, err := walk("", late); err != nil || e.On != dayOf("2026-11-24") {
		t.Errorf("on %s, %v", e.On, err)
	}
	if e, err := walk("", time.Time{}); err != nil || e.On != dayOf("2026-11-25") || !e.DoneAt.Equal(writtenAt) {
		t.Errorf("on %s at %s, %v", e.On, e.DoneAt, err)
	}
	if e, err := walk("2026-11-20", time.Time{}); err != nil || !e.DoneAt.IsZero() {
		t.Errorf("an hour was made up: %s, %v", e.DoneAt, err)
	}
	if _, err := walk("2026-11-25", late); err == nil {
		t.Error("two days were taken")
	}
}

// A farm's own sheet.
func ownSheet() domain.LogSheet {
	words := domain.LocalText{En: "Eggs", Es: "Huevos"}
	farm := domain.SheetSource{Authority: domain.FarmRule, Citation: "our own rule"}
	return domain.LogSheet{Key: "egg-washing", Title: words,
		Fields: []domain.SheetField{
			{Key: "trays", Name: words, Type: domain.FieldNumber, Required: true, Limits: []domain.SheetLimit{{Above: "20", Act: words, Asks: farm}}},
			{Key: "by_hand", Name: words, Type: domain.FieldYesNo}},
		Asks: []domain.SheetAsk{{SheetSource: farm, Strength: "good"}}, Keep: []domain.SheetKeep{{SheetSource: farm, Years: 1}}}
}

func TestAFarmsOwnSheet(t *testing.T) {
	t.Parallel()
	refused := func(name, pointer string, change func(*domain.LogSheet)) {
		t.Run(name, func(t *testing.T) {
			s := ownSheet()
			s.Fields = slices.Clone(s.Fields)
			s.Fields[0].Limits = slices.Clone(s.Fields[0].Limits)
			change(&s)
			var p domain.Problems
			s.Check(domain.NewDate(2026, 11, 25), &p)
			err, _ := p.Err().(*domain.Error)
			if pointer == "" {
				if err != nil {
					t.Error(err)
				}
				return
			}
			if err == nil || !slices.ContainsFunc(err.Fields, func(f domain.FieldError) bool { return f.Pointer == pointer }) {
				t.Errorf("got %v, want %s refused", err, pointer)
			}
		})
	}
	refused("good", "", func(*domain.LogSheet) {})
	refused("a key of the program", "#/key", func(s *domain.LogSheet) { s.Key = "training" })
	refused("a key with blanks", "#/key", func(s *domain.LogSheet) { s.Key = "Egg washing" })
	refused("no Spanish", "#/title/es", func(s *domain.LogSheet) { s.Title.Es = "" })
	refused("asked for by law", "#/asks/0/authority", func(s *domain.LogSheet) { s.Asks[0].Authority = domain.Law })
	refused("a duty", "#/asks/0/strength", func(s *domain.LogSheet) { s.Asks[0].Strength = "must-record" })
	refused("kept by law", "#/keep/0/authority", func(s *domain.LogSheet) { s.Keep[0].Authority = domain.Law })
	refused("a limit by law", "#/fields/0/limits/0/asks/authority", func(s *domain.LogSheet) { s.Fields[0].Limits[0].Asks.Authority = domain.Law })
	refused("signed by law", "#/second_signature/authority", func(s *domain.LogSheet) {
		s.SecondSignature = &domain.SignatureRule{SheetSource: domain.SheetSource{Authority: domain.Law, Citation: "x"}}
	})
	refused("a field twice", "#/fields/1/key", func(s *domain.LogSheet) { s.Fields[1].Key = "trays" })
	refused("a unit for a word", "#/fields/1/unit", func(s *domain.LogSheet) { s.Fields[1].Unit = "lb" })
	refused("a limit of nothing", "#/fields/0/limits/0", func(s *domain.LogSheet) { s.Fields[0].Limits[0].Above = "" })
	refused("a limit that is no number", "#/fields/0/limits/0/above", func(s *domain.LogSheet) { s.Fields[0].Limits[0].Above = "many" })
	refused("a limit by another field", "#/fields/0/limits/0/when/field", func(s *domain.LogSheet) {
		s.Fields[0].Limits[0].When = &domain.SheetWhen{Field: "nothing", Is: []string{"yes"}}
	})
}

func TestALaterFormOfASheetReadsOldEntries(t *testing.T) {
	t.Parallel()
	before := ownSheet()
	for name, row := range map[string]struct {
		change  func(*domain.LogSheet)
		pointer string
	}{
		"a field more": {func(s *domain.LogSheet) {
			s.Fields = append(slices.Clone(s.Fields), domain.SheetField{Key: "more", Type: domain.FieldText})
		}, ""},
		"a field less":  {func(s *domain.LogSheet) { s.Fields = s.Fields[:1] }, "#/fields"},
		"another type":  {func(s *domain.LogSheet) { s.Fields = slices.Clone(s.Fields); s.Fields[0].Type = domain.FieldText }, "#/fields"},
		"another key":   {func(s *domain.LogSheet) { s.Key = "eggs" }, "#/key"},
		"now private":   {func(s *domain.LogSheet) { s.Private = true }, "#/private"},
		"another limit": {func(s *domain.LogSheet) { s.Fields = slices.Clone(s.Fields); s.Fields[0].Limits = nil }, ""},
	} {
		after := ownSheet()
		row.change(&after)
		var p domain.Problems
		after.After(&before, &p)
		err, _ := p.Err().(*domain.Error)
		if row.pointer == "" && err != nil || row.pointer != "" && (err == nil || err.Fields[0].Pointer != row.pointer) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestLogMarks(t *testing.T) {
	t.Parallel()
	carl := "0190a000-0000-7000-8000-000000000001"
	e, err := settle(t, sheet(t, "training"), values("people", `["`+carl+`"]`, "topics", `["hygiene"]`, "trainer", `"Lee"`))
	if err != nil || len(e.Marks()) != 1 || e.Marks()[0].PersonID.String() != carl {
		t.Errorf("training marks %v, %v", e.Marks(), err)
	}
	e, err = settle(t, sheet(t, "cleaning"), values("places", `["Tank 1", "LINE A"]`, "method", `"brush"`, "checked", `"yes"`))
	if err != nil || len(e.Marks()) != 2 || e.Marks()[1].Place != "line a" {
		t.Errorf("cleaning marks %v, %v", e.Marks(), err)
	}
	e, err = settle(t, sheet(t, "field-walk"), values("beds", `["`+carl+`"]`, "all_clear", `"yes"`))
	if err != nil || e.Marks() != nil || len(e.Named(sheet(t, "field-walk"))) != 1 {
		t.Errorf("a walk marks %v, %v", e.Marks(), err)
	}
}
