package api_test

import (
	"bytes"
	"net/http"
	"strings"
	"testing"

	"github.com/emersion/go-ical"

	"croftmark/domain"
)

// events reads a feed with a library that is not the one that wrote it, and gives its events by UID.
func events(t testing.TB, body []byte) map[string]ical.Event {
	t.Helper()
	for i, line := range bytes.Split(body, []byte("\r\n")) {
		if len(line) > 75 {
			t.Errorf("line %d has %d octets, RFC 5545 section 3.1 allows 75", i+1, len(line))
		}
	}
	cal, err := ical.NewDecoder(bytes.NewReader(body)).Decode()
	if err != nil {
		t.Fatalf("the feed can't be read: %v\n%s", err, body)
	}
	if err := ical.NewEncoder(&bytes.Buffer{}).Encode(cal); err != nil { // checks the properties that RFC 5545 asks for
		t.Errorf("the feed is not whole: %v", err)
	}
	out := map[string]ical.Event{}
	for _, e := range cal.Events() {
		uid, err := e.Props.Text(ical.PropUID)
		if _, twice := out[uid]; err != nil || uid == "" || twice {
			t.Errorf("UID %q, used twice %t, %v", uid, twice, err)
		}
		out[uid] = e
	}
	return out
}

func eventText(t testing.TB, e ical.Event, name string) string {
	t.Helper()
	text, err := e.Props.Text(name)
	if err != nil {
		t.Error(err)
	}
	return text
}

// find gives the one event whose summary holds some words.
func findEvent(t testing.TB, all map[string]ical.Event, words string) ical.Event {
	t.Helper()
	for _, e := range all {
		if strings.Contains(eventText(t, e, ical.PropSummary), words) {
			return e
		}
	}
	t.Fatalf("no event about %q", words)
	return ical.Event{}
}

func TestCalendarOfWhatIsDue(t *testing.T) {
	t.Parallel()
	f := newFarm(t, "us-organic", "us-produce-safety")
	f.post(domain.Lead, "/v1/log-entries", illness("yes")).is(http.StatusCreated)
	f.post(domain.Lead, "/v1/log-entries", fields{"sheet": "training", "on": "2025-11-20", "values": fields{"people": []string{f.people[domain.Crew]},
		"topics": []string{"hygiene"}, "trainer": "Lena Lead"}}).is(http.StatusCreated)
	body := f.get(domain.Lead, "/v1/calendar.ics").is(http.StatusOK).Body
	all := events(t, body)
	if !bytes.Contains(body, []byte("\r\nREFRESH-INTERVAL;VALUE=DURATION:PT6H\r\n")) { // RFC 7986 section 5.7
		t.Errorf("the interval of looking again is not as it should be: %.300s", body)
	}
	carl := findEvent(t, all, "Train Carl Crew")
	start, err := carl.DateTimeStart(nil)
	end, err2 := carl.DateTimeEnd(nil)
	if err != nil || err2 != nil || start.Format("2006-01-02") != today || end.Sub(start).Hours() != 24 || carl.Props.Get(ical.PropDateTimeStart).ValueType() != ical.ValueDate {
		t.Errorf("late duties stand on today, for a whole day: %s to %s (%v, %v)", start, end, err, err2)
	}
	about := eventText(t, carl, ical.PropDescription)
	if !strings.Contains(about, "Late since 2026-11-20") || !strings.Contains(about, "Law: 21 CFR 112.21") || !strings.Contains(about, domain.RecordHelper) {
		t.Errorf("description %q", about)
	}
	if bytes.Contains(body, []byte("illness")) {
		t.Error("a calendar is copied to other places; health facts are in it")
	}
	// The same duty keeps its UID.
	for uid := range events(t, f.get(domain.Owner, "/v1/calendar.ics").is(http.StatusOK).Body) {
		if _, there := all[uid]; !there {
			t.Errorf("another UID for the same duty: %s", uid)
		}
	}
}

// A calendar program has nothing but the address: it opens the calendar and nothing else, until it is ended.
func TestCalendarAddress(t *testing.T) {
	t.Parallel()
	f := newFarm(t, "us-organic", "us-produce-safety")
	make := func() string {
		t.Helper()
		url := f.post(domain.Crew, "/v1/calendar-address", fields{}).is(http.StatusCreated).text("url")
		path, ok := strings.CutPrefix(url, publicURL)
		if !ok || len(path) < len("/calendar/")+32 {
			t.Fatalf("address %q", url)
		}
		return path
	}
	ask := func(path string) *answer { return f.send(request(t, "", http.MethodGet, path, nil)) }
	first := make()
	a := ask(first).is(http.StatusOK)
	if !strings.HasPrefix(a.Header.Get("Content-Type"), "text/calendar") || len(events(t, a.Body)) == 0 {
		t.Errorf("%s: %.200s", a.Header.Get("Content-Type"), a.Body)
	}
	secret := strings.TrimSuffix(strings.TrimPrefix(first, "/calendar/"), ".ics")
	f.send(request(t, secret, http.MethodGet, "/v1/today", nil)).problem(http.StatusUnauthorized, domain.CodeNotSignedIn)
	if strings.Contains(f.log.String(), secret) {
		t.Error("the address is in the log")
	}
	for _, wrong := range []string{"/calendar/" + secret, "/calendar/" + secret[1:] + ".ics", "/calendar/x.ics"} {
		ask(wrong).problem(http.StatusNotFound, domain.CodeNotFound)
	}
	second := make()
	ask(first).problem(http.StatusNotFound, domain.CodeNotFound)
	ask(second).is(http.StatusOK)
	f.post(domain.Crew, "/v1/calendar-address/end", fields{}).is(http.StatusCreated)
	ask(second).problem(http.StatusNotFound, domain.CodeNotFound)
	third := make()
	f.post(domain.Owner, "/v1/people/"+f.people[domain.Crew]+"/void", fields{"reason": "Left the farm."}).is(http.StatusCreated)
	ask(third).problem(http.StatusNotFound, domain.CodeNotFound)
}

func TestTodaySaysWhatIsDueAndWaits(t *testing.T) {
	t.Parallel()
	f := newFarm(t, "us-organic", "us-produce-safety")
	f.cleaned(domain.Crew)
	f.cleaned(domain.Lead)
	for role, may := range map[domain.Role]float64{domain.Owner: 2, domain.Lead: 1, domain.Crew: 0, domain.Reader: 0} {
		got := f.get(role, "/v1/today").is(http.StatusOK).fields()
		if got["to_sign"] != 2.0 || got["may_sign"] != may {
			t.Errorf("as %s: %v wait, %v may be signed; want 2 and %v", role, got["to_sign"], got["may_sign"], may)
		}
		kinds := map[string]bool{}
		for _, d := range got["due"].([]any) {
			kinds[d.(fields)["kind"].(string)] = true
			if d.(fields)["asks"].(fields)["citation"] == "" {
				t.Errorf("nobody asks for %v", d)
			}
		}
		if !kinds["training"] || !kinds["signature"] {
			t.Errorf("as %s: due %v", role, kinds)
		}
	}
}
