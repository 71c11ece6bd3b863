package storage_test

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"github.com/google/uuid"

	"croftmark/domain"
	"croftmark/storage"
)

// logOf is an entry of a sheet; an empty day leaves day and hour to the book.
func logOf(sheet, on string, pairs ...string) *domain.LogEntry {
	e := &domain.LogEntry{Sheet: sheet, Values: map[string]json.RawMessage{}}
	if on != "" {
		e.On = day(on)
	}
	for i := 0; i < len(pairs); i += 2 {
		e.Values[pairs[i]] = json.RawMessage(pairs[i+1])
	}
	return e
}

// ownSheet is a sheet that a farm might add.
func ownSheet() *domain.LogSheet {
	words := domain.LocalText{En: "Egg washing", Es: "Lavado de huevos"}
	farm := domain.SheetSource{Authority: domain.FarmRule, Citation: "our own rule"}
	return &domain.LogSheet{Key: "egg-washing", Title: words,
		Fields: []domain.SheetField{{Key: "trays", Name: words, Type: domain.FieldNumber, Required: true, Limits: []domain.SheetLimit{{Above: "20", Act: words, Asks: farm}}}},
		Asks:   []domain.SheetAsk{{SheetSource: farm, Strength: "good"}}, Keep: []domain.SheetKeep{{SheetSource: farm, Years: 1}}}
}

func (f *field) logEntry(id uuid.UUID) (e domain.LogEntry) {
	f.t.Helper()
	rec, err := f.db.ReadRecord(ctx, f.actor.FarmID, "log-entry", id)
	mustBe(f.t, err)
	decode(f.t, rec.Body, &e)
	return e
}

func TestLogEntriesAreTypedByTheirSheet(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	before := f.entries()
	_, err := f.record(logOf("no-such-sheet", "2026-11-24"))
	wantField(t, err, "#/sheet", "no sheet")
	_, err = f.record(logOf("cleaning", "2026-11-24", "places", `["Tank 1"]`, "speed", `"fast"`))
	wantField(t, err, "#/values/speed", "no such field")
	wantField(t, err, "#/values/method", "missing")
	wantField(t, err, "#/values/checked", "missing")
	_, err = f.record(logOf("cooling", "2026-11-24", "lots", `["26219-L3-RAD-1-SS"]`, "place", `"shed"`, "method", `"room"`))
	wantField(t, err, "#/values/lots/0", "")
	walk := logOf("field-walk", "2026-11-24", "beds", fmt.Sprintf("[%q]", f.plot), "all_clear", `"yes"`)
	_, err = f.record(walk)
	wantField(t, err, "#/values/beds/0", "no bed")
	if n := f.entries(); n != before {
		t.Errorf("%d entries were written by refused records", n-before)
	}

	// Out of limits: written down all the same, with a warning, and open until somebody says what was done.
	out, err := f.record(logOf("cold-room", "", "room", `["Walk-in"]`, "kept", `"cold-crops"`, "air", `{"value": "8.0", "unit": "degC"}`))
	mustBe(t, err)
	if len(out.Warnings) != 1 || !strings.Contains(out.Warnings[0], "at most 41 degF") {
		t.Errorf("warnings %q", out.Warnings)
	}
	e := f.logEntry(out.ID)
	if len(e.OutOfLimits) != 1 || e.OutOfLimits[0].Value != "8.0 degC" || e.On != day("2026-11-25") || e.DoneAt.IsZero() {
		t.Errorf("entry %+v", e)
	}
	open := func() int { return f.count(`select count(*) from log_entries where open_action`) }
	if open() != 1 {
		t.Errorf("%d entries wait for an action", open())
	}
	f.correct("log-entry", out.ID, `{"action": "Moved it, and called the fitter."}`)
	if open() != 0 {
		t.Error("still waits after the action")
	}
	f.correct("log-entry", out.ID, `{"action": null, "values": {"room": ["Walk-in"], "kept": "cold-crops", "air": {"value": "3.0", "unit": "degC"}}}`)
	if e := f.logEntry(out.ID); len(e.OutOfLimits) != 0 || open() != 0 {
		t.Errorf("the corrected reading is out of limits: %+v", e.OutOfLimits)
	}
	for _, changes := range []string{`{"sheet": "pests"}`, `{"out_of_limits": []}`, `{"private": true}`} {
		_, err := f.db.Correct(ctx, f.actor, nil, "log-entry", out.ID, "x", json.RawMessage(changes))
		wantCode(t, err, domain.CodeInvalid)
	}
	_, err = f.db.Correct(ctx, f.actor, nil, "log-entry", out.ID, "x", json.RawMessage(`{"values": {"room": ["Walk-in"]}}`))
	wantField(t, err, "#/values/air", "missing")
	mine := logOf("pests", "2026-11-24", "stations", `["1"]`, "found", `"nothing"`, "signs", `"no"`, "signs_on_product", `"no"`)
	mine.Private = true
	_, err = f.record(mine)
	wantField(t, err, "#/private", "Leave it out")
}

func TestAFarmAddsASheet(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	own := f.write(ownSheet())
	out, err := f.record(logOf("egg-washing", "2026-11-20", "trays", `"21"`))
	if err != nil || len(out.Warnings) != 1 {
		t.Fatalf("%v, %q", err, out.Warnings)
	}
	_, err = f.record(ownSheet())
	wantField(t, err, "#/key", "already")
	built := ownSheet()
	built.Key = "training"
	_, err = f.record(built)
	wantField(t, err, "#/key", "of this program")
	_, err = f.db.Correct(ctx, f.actor, nil, "log-sheet", own, "x", json.RawMessage(`{"key": "eggs"}`))
	wantCode(t, err, domain.CodeInvalid)
	sheet, err := json.Marshal(ownSheet().Fields)
	mustBe(t, err)
	_, err = f.db.Correct(ctx, f.actor, nil, "log-sheet", own, "x", json.RawMessage(`{"fields": `+strings.ReplaceAll(string(sheet), `"trays"`, `"boxes"`)+`}`))
	wantField(t, err, "#/fields", "trays")
	_, err = f.void("log-sheet", own)
	wantCode(t, err, domain.CodeRuleRefused)
	list, err := f.db.Sheets(f.reading())
	if err != nil || len(list) != 1 {
		t.Errorf("%d sheets, %v", len(list), err)
	}
}

// What a person's health is belongs to leads and the owner.
func TestPrivateSheets(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	crew, lead := f.person("Cory", domain.Crew), f.person("Lee", domain.Lead)
	entry := func() *domain.LogEntry {
		return logOf("illness", "2026-11-24", "person_code", `"P3"`, "signs", `["vomiting"]`, "sent_where", `"home"`, "touched_product", `"no"`)
	}
	_, err := f.db.Record(ctx, crew, nil, entry())
	wantCode(t, err, domain.CodeNotAllowed)
	out, err := f.db.Record(ctx, lead, nil, entry())
	mustBe(t, err)
	open := f.write(logOf("visitors", "2026-11-24", "name", `"School"`, "area", `"shed"`, "told_rules", `"yes"`))
	private, err := f.db.PrivateRecords(f.reading(), ids(out.ID, open))
	if err != nil || !private[out.ID] || private[open] {
		t.Errorf("private: %v, %v", private, err)
	}
	for without, want := range map[bool]int{false: 2, true: 1} {
		list, err := f.db.Records(ctx, f.actor.FarmID, "log-entry", storage.Page{Limit: 10, WithoutPrivate: without})
		if err != nil || len(list) != want {
			t.Errorf("without private ones %t: %d entries, want %d (%v)", without, len(list), want, err)
		}
	}
}
