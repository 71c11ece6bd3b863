package domain

import (
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"
)

// The clocks of New York went forward on 2026-03-08 from 02:00 to 03:00 and back on 2026-11-01 from 02:00 to 01:00 (15 U.S.C.
// 260a: second Sunday of March, first Sunday of November).
func TestDayToSend(t *testing.T) {
	t.Parallel()
	york, err := Zone("America/New_York")
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		now     string
		hour    int
		settled string
		day     string // empty: nothing to send
	}{
		"before its hour":                      {"2026-06-05T05:59:59-04:00", 6, "2026-06-04", ""},
		"at its hour":                          {"2026-06-05T06:00:00-04:00", 6, "2026-06-04", "2026-06-05"},
		"late on the same day":                 {"2026-06-05T23:59:59-04:00", 6, "2026-06-04", "2026-06-05"},
		"after midnight the day is over":       {"2026-06-06T00:10:00-04:00", 6, "2026-06-04", ""},
		"off for a week: today only":           {"2026-06-12T06:30:00-04:00", 6, "2026-06-04", "2026-06-12"},
		"sent already":                         {"2026-06-05T07:00:00-04:00", 6, "2026-06-05", ""},
		"the farm's day, not that of UTC":      {"2026-06-06T02:00:00Z", 21, "2026-06-04", "2026-06-05"},
		"the hour that is skipped, before":     {"2026-03-08T01:59:59-05:00", 2, "2026-03-07", ""},
		"the hour that is skipped, after":      {"2026-03-08T03:00:00-04:00", 2, "2026-03-07", "2026-03-08"},
		"the hour that comes twice, first":     {"2026-11-01T01:00:00-04:00", 1, "2026-10-31", "2026-11-01"},
		"the hour that comes twice, again":     {"2026-11-01T01:00:00-05:00", 1, "2026-11-01", ""},
		"a clock that was put back by a day":   {"2026-06-05T07:00:00-04:00", 6, "2026-06-06", ""},
		"midnight":                             {"2026-06-05T00:00:00-04:00", 0, "2026-06-04", "2026-06-05"},
		"the last hour":                        {"2026-06-05T23:00:00-04:00", 23, "2026-06-04", "2026-06-05"},
		"asked for at noon, first of tomorrow": {"2026-06-06T06:00:00-04:00", 6, "2026-06-05", "2026-06-06"},
	} {
		now, err := time.Parse(time.RFC3339, c.now)
		if err != nil {
			t.Fatal(err)
		}
		settled, err := ParseDate(c.settled)
		if err != nil {
			t.Fatal(err)
		}
		got := ""
		if day, send := DayToSend(now, york, c.hour, settled); send {
			got = day.String()
		}
		if got != c.day {
			t.Errorf("%s: %q, want %q", name, got, c.day)
		}
	}
	noon := time.Date(2026, 6, 5, 16, 0, 0, 0, time.UTC)
	for hour, want := range map[int]string{6: "2026-06-05", 12: "2026-06-05", 13: "2026-06-04"} {
		if got := FirstSettled(noon, york, hour).String(); got != want {
			t.Errorf("asked for at noon for %d:00: settled %s, want %s", hour, got, want)
		}
	}
}

func TestDailyMessageCheck(t *testing.T) {
	t.Parallel()
	for to, way := range map[string]string{
		"ola@example.farm": ByEmail, "a.b+due@mail.example.farm": ByEmail, "https://hooks.example.farm/due?k=1": ByWebhook, "http://10.0.0.5:9000/": ByWebhook,
	} {
		if err := (DailyMessage{Way: way, To: to, Hour: 6}).Check(); err != nil {
			t.Errorf("%s: %v", to, err)
		}
	}
	for name, m := range map[string]DailyMessage{
		"/way":      {Way: "pigeon", To: "ola@example.farm"},
		"/hour":     {Way: ByEmail, To: "ola@example.farm", Hour: 24},
		"/language": {Way: ByEmail, To: "ola@example.farm", Language: "fr"},
		"/to":       {Way: ByEmail, To: "Ola <ola@example.farm>"},
		"/to two":   {Way: ByEmail, To: "ola@example.farm, cy@example.farm"},
		"/to line":  {Way: ByEmail, To: "ola@example.farm\r\nBcc: x@example.farm"},
		"/to file":  {Way: ByWebhook, To: "file:///etc/passwd"},
		"/to host":  {Way: ByWebhook, To: "https:///due"},
		"/to user":  {Way: ByWebhook, To: "https://ola:pw@hooks.example.farm/"},
		"/to part":  {Way: ByWebhook, To: "https://hooks.example.farm/#x"},
	} {
		pointer, _, _ := strings.Cut(name, " ")
		e, ok := m.Check().(*Error)
		if !ok || len(e.Fields) != 1 || e.Fields[0].Pointer != "#"+pointer {
			t.Errorf("%s: %+v", name, m.Check())
		}
	}
	if got := (DailyMessage{Way: ByWebhook, To: "https://hooks.example.farm/s3cret"}).Told(); got != "https://hooks.example.farm/…" {
		t.Errorf("others are told %s", got)
	}
}

// Each duty of a letter says who asks for it, late ones say so, and the letter does not say what may be cut.
func TestDailyLetterText(t *testing.T) {
	t.Parallel()
	on, err := ParseDate("2026-06-05")
	if err != nil {
		t.Fatal(err)
	}
	due := []Due{
		{Kind: "training", On: on.AddDays(-3), Overdue: true, Text: LocalText{En: "Train Cory", Es: "Capacitar a Cory"}, Asks: SheetSource{Authority: Law, Citation: "21 CFR 112.21"}},
		{Kind: "reading", On: on, Text: LocalText{En: "Read heap 1", Es: "Leer la pila 1"}, Asks: SheetSource{Authority: FarmRule, Citation: "our sheet"}},
		{Kind: "opens", On: on, Text: LocalText{En: "Lower 3 opens", Es: "Lower 3 se abre"}},
		{Kind: "log", On: on.AddDays(31), Text: LocalText{En: "Far ahead", Es: "Lejos"}},
	}
	l := DailyLetter{ID: uuid.New(), Farm: "Fern\r\nBank", On: on, AskedBy: "Ola Owner", Due: DueListed(due, on), To: DailyMessage{Way: ByEmail, To: "x", Hour: 6}, Secret: "cw_secret"}
	subject, body := l.Text()
	if subject != "Fern Bank: 2 due, 1 late" {
		t.Errorf("subject %q", subject)
	}
	for _, want := range []string{"- 2026-06-02  Train Cory\n  Late.\n  Law: 21 CFR 112.21\n", "- 2026-06-05  Read heap 1\n  The farm: our sheet\n", RecordHelper, "Ola Owner asked for this message, every day from 6:00."} {
		if !strings.Contains(body, want) {
			t.Errorf("no %q in:\n%s", want, body)
		}
	}
	l.Language, l.Test = "es", true
	subject, es := l.Text()
	if subject != "Prueba. Fern Bank: 2 pendientes, 1 atrasados" || !strings.Contains(es, "  Ley: 21 CFR 112.21\n") || !strings.Contains(es, RecordHelperEs) {
		t.Errorf("in Spanish %q:\n%s", subject, es)
	}
	raw, err := l.JSON()
	if err != nil || !strings.Contains(string(raw), `"kind":"due"`) || strings.Contains(string(raw), "cw_secret") || strings.Contains(string(raw), `"opens"`) {
		t.Errorf("%s (%v)", raw, err)
	}
	for _, text := range []string{body, es, string(raw)} {
		for _, never := range []string{"Lower 3", "Far ahead", "Lejos"} {
			if strings.Contains(text, never) {
				t.Errorf("%s in:\n%s", never, text)
			}
		}
	}
	l.Due = nil
	if raw, err := l.JSON(); err != nil || !strings.Contains(string(raw), `"due":[]`) {
		t.Errorf("a day without duties: %s (%v)", raw, err)
	}
}
