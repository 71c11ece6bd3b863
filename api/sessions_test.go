package api_test

import (
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"croftmark/api"
	"croftmark/domain"
)

// phone is a browser that was signed in with a session: it sends its cookie and says, as browsers do, that the page it
// shows is ours.
type phone struct {
	*farm
	cookie *http.Cookie
	id     string
}

// phone opens a session with the token of a role.
func (f *farm) phone(role domain.Role, body fields) *phone {
	f.t.Helper()
	a := f.post(role, "/v1/sessions", body)
	p := &phone{farm: f, id: a.id()}
	for _, c := range (&http.Response{Header: a.Header}).Cookies() {
		if c.Name == "croftmark_session" {
			p.cookie = c
		}
	}
	if p.cookie == nil {
		f.t.Fatalf("no cookie in %v", a.Header)
	}
	return p
}

func (p *phone) request(method, path string, body any) *http.Request {
	r := request(p.t, "", method, path, body)
	r.AddCookie(&http.Cookie{Name: p.cookie.Name, Value: p.cookie.Value})
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	return r
}

func (p *phone) get(path string) *answer {
	p.t.Helper()
	return p.send(p.request(http.MethodGet, path, nil))
}

func (p *phone) post(path string, body any) *answer {
	p.t.Helper()
	return p.send(p.request(http.MethodPost, path, body))
}

func (p *phone) change(person, pin string) *answer {
	p.t.Helper()
	return p.post("/v1/session/switch", fields{"person_id": person, "pin": pin})
}

// pin gives a person of a role a PIN.
func (f *farm) pin(role domain.Role, pin string) string {
	f.t.Helper()
	f.post(domain.Owner, "/v1/people/"+f.people[role]+"/pin", fields{"pin": pin}).is(http.StatusCreated)
	return f.people[role]
}

// People take turns on the phone in the wash shed: each record is signed by the one who is at it, from the first after
// the change.
func TestSwitchOnASharedPhone(t *testing.T) {
	t.Parallel()
	x := newField(t)
	crew, lead := x.pin(domain.Crew, "4802"), x.pin(domain.Lead, "739150")
	p := x.phone(domain.Lead, fields{"label": "Wash shed", "shared": true})

	// Nobody is at it yet: it knows whom to ask, and nothing of the book.
	view := p.get("/v1/session").is(http.StatusOK).fields()
	people, session := view["people"].([]any), view["session"].(fields)
	if len(people) != 2 || session["person_id"] != nil || session["role"] != "crew" || people[0].(fields)["name"] != "Carl Crew" {
		t.Errorf("an empty phone says %v", view)
	}
	p.get("/v1/today").problem(http.StatusUnauthorized, domain.CodeNotSignedIn)
	p.post("/v1/applications", x.manured("2025-01-10", "2025-01-10")).problem(http.StatusUnauthorized, domain.CodeNotSignedIn)

	signed := func(who string) {
		t.Helper()
		a := p.post("/v1/applications", x.manured("2025-01-10", "2025-01-10")).is(http.StatusCreated).fields()
		if a["done_by"] != who || a["typed_by"] != who {
			t.Errorf("signed by %v, typed by %v, want %s", a["done_by"], a["typed_by"], who)
		}
	}
	if at := p.change(crew, "4802").is(http.StatusCreated).fields()["session"].(fields)["person_id"]; at != crew {
		t.Errorf("at the phone: %v", at)
	}
	signed(crew)
	p.change(lead, "739150").is(http.StatusCreated)
	signed(lead)
	p.change(crew, "4802").is(http.StatusCreated)
	signed(crew)

	// The phone is bound to crew, whoever is at it.
	p.change(lead, "739150").is(http.StatusCreated)
	if role := p.get("/v1/me").is(http.StatusOK).text("role"); role != "crew" {
		t.Errorf("the lead is %s on a phone for crew", role)
	}
	p.post("/v1/plots", fields{"name": "X"}).problem(http.StatusForbidden, domain.CodeNotAllowed)

	// What the crew typed without signal does not go out under the lead's name.
	waiting := p.request(http.MethodPost, "/v1/applications", x.manured("2025-01-11", "2025-01-11"))
	waiting.Header.Set("Typed-By", crew)
	x.unchanged(func() { p.send(waiting).problem(http.StatusForbidden, domain.CodeNotAllowed) })
	p.change(crew, "4802").is(http.StatusCreated)
	waiting = p.request(http.MethodPost, "/v1/applications", x.manured("2025-01-11", "2025-01-11"))
	waiting.Header.Set("Typed-By", crew)
	p.send(waiting).is(http.StatusCreated)

	// After a working day nobody is at it any more, and likewise after leaving.
	x.clock.Set(x.clock.Now().Add(13 * time.Hour))
	p.get("/v1/today").problem(http.StatusUnauthorized, domain.CodeNotSignedIn)
	p.change(crew, "4802").is(http.StatusCreated)
	signed(crew)
	if set := p.post("/v1/session/leave", fields{}).is(http.StatusCreated).Header.Values("Set-Cookie"); len(set) > 0 {
		t.Errorf("leaving sets the cookie %q", set)
	}
	p.get("/v1/today").problem(http.StatusUnauthorized, domain.CodeNotSignedIn)

	// A person who left the farm is not offered and can't change over; one who is at the phone is out at once.
	p.change(crew, "4802").is(http.StatusCreated)
	x.farm.post(domain.Owner, "/v1/people/"+crew+"/void", fields{"reason": "Left the farm."}).is(http.StatusCreated)
	p.get("/v1/today").problem(http.StatusUnauthorized, domain.CodeNotSignedIn)
	p.change(crew, "4802").problem(http.StatusNotFound, domain.CodeNotFound)
	if people := p.get("/v1/session").is(http.StatusOK).fields()["people"].([]any); len(people) != 1 {
		t.Errorf("offered: %v", people)
	}
	// Without a PIN nobody changes over, and not to another farm's people.
	p.change(x.people[domain.Owner], "0000").problem(http.StatusNotFound, domain.CodeNotFound)
	other := x.service.farm("Next Door")
	p.change(other.pin(domain.Crew, "4802"), "4802").problem(http.StatusNotFound, domain.CodeNotFound)
}

// Each wrong try after the second makes the next one wait longer, also for the right PIN; the wait is the person's, not
// the phone's. In the end the owner has to give a new one.
func TestWrongPINsWait(t *testing.T) {
	t.Parallel()
	f := newFarm(t)
	crew, lead := f.pin(domain.Crew, "4802"), f.pin(domain.Lead, "739150")
	p, second := f.phone(domain.Owner, fields{"label": "A", "shared": true}), f.phone(domain.Owner, fields{"label": "B", "shared": true})
	wrong := func(p *phone) *answer { return p.change(crew, "1111") }
	wrong(p).problem(http.StatusForbidden, domain.CodeNotAllowed)
	wrong(second).problem(http.StatusForbidden, domain.CodeNotAllowed)
	p.change(crew, "4802").is(http.StatusCreated) // forgives the slips
	p.post("/v1/session/leave", fields{}).is(http.StatusCreated)
	wait := 0 * time.Second
	for n := 1; n <= domain.PINTries; n++ {
		wrong(p).problem(http.StatusForbidden, domain.CodeNotAllowed)
		want := map[int]time.Duration{1: 0, 2: 0, 3: 30 * time.Second, 4: time.Minute, 5: 2 * time.Minute, 6: 4 * time.Minute, 20: time.Hour}
		if d, told := want[n]; told && domain.PINDelay(n) != d {
			t.Errorf("after %d wrong tries the wait is %s, want %s", n, domain.PINDelay(n), d)
		}
		if next := domain.PINDelay(n); next < wait {
			t.Errorf("after %d wrong tries the wait shrinks to %s", n, next)
		} else {
			wait = next
		}
		if wait == 0 {
			continue
		}
		// The right PIN does not open either, on no phone, and trying does not count.
		a := second.change(crew, "4802")
		a.problem(http.StatusTooManyRequests, domain.CodeTooMany)
		if n < domain.PINTries {
			var seconds int
			if fmt.Sscan(a.Header.Get("Retry-After"), &seconds); seconds < int(wait.Seconds())-1 || seconds > int(wait.Seconds()) {
				t.Errorf("after %d wrong tries Retry-After is %q, the wait %s", n, a.Header.Get("Retry-After"), wait)
			}
		}
		f.clock.Set(f.clock.Now().Add(wait))
	}
	p.change(lead, "739150").is(http.StatusCreated) // somebody else is not kept out
	f.clock.Set(f.clock.Now().Add(100 * time.Hour))
	if d := p.change(crew, "4802").problem(http.StatusTooManyRequests, domain.CodeTooMany).Detail; !strings.Contains(d, "owner") {
		t.Errorf("an ended PIN says %q", d)
	}
	f.pin(domain.Crew, "4803")
	p.change(crew, "4803").is(http.StatusCreated)
}

// Many tries at the same time are counted one by one: none slips past the wait.
func TestWrongPINsAtOnce(t *testing.T) {
	t.Parallel()
	f := newFarm(t)
	crew := f.pin(domain.Crew, "4802")
	p := f.phone(domain.Owner, fields{"label": "A", "shared": true})
	answers := make(chan int)
	const tries = 12
	for i := range tries {
		go func() { answers <- p.change(crew, fmt.Sprintf("90%02d", i)).Status }()
	}
	count := map[int]int{}
	for range tries {
		count[<-answers]++
	}
	if count[http.StatusForbidden] != 3 || count[http.StatusTooManyRequests] != tries-3 {
		t.Errorf("answers to %d tries at once: %v, want 3 tried and the others told to wait", tries, count)
	}
}

func TestPINs(t *testing.T) {
	t.Parallel()
	f := newFarm(t)
	path := "/v1/people/" + f.people[domain.Crew] + "/pin"
	for _, bad := range []string{"", "123", "123456789", "12a4", "１２３４", "1111", "1234", "9876", "000000"} {
		a := f.post(domain.Owner, path, fields{"pin": bad}).problem(http.StatusUnprocessableEntity, domain.CodeInvalid)
		if detail := at(t, a, "#/pin"); bad != "" && strings.Contains(detail, bad) {
			t.Errorf("the refusal repeats the PIN %q: %s", bad, detail)
		}
	}
	// One's own with one's own token; another's only as owner; nobody's on a shared phone.
	f.post(domain.Crew, path, fields{"pin": "4802"}).is(http.StatusCreated)
	f.post(domain.Lead, path, fields{"pin": "4802"}).problem(http.StatusForbidden, domain.CodeNotAllowed)
	p := f.phone(domain.Owner, fields{"label": "A", "shared": true, "role": "owner"})
	p.change(f.people[domain.Crew], "4802").is(http.StatusCreated)
	p.post(path, fields{"pin": "5913"}).problem(http.StatusForbidden, domain.CodeNotAllowed)

	// With a new person, in the same write; a PIN that is refused leaves no person.
	f.unchanged(func() {
		at(t, f.post(domain.Owner, "/v1/people", fields{"name": "N", "initials": "N", "role": "crew", "pin": "1111"}).
			problem(http.StatusUnprocessableEntity, domain.CodeInvalid), "#/pin")
	})
	made := f.post(domain.Owner, "/v1/people", fields{"name": "Nell", "initials": "N", "role": "crew", "pin": "58203174"})
	if strings.Contains(string(made.is(http.StatusCreated).Body), "58203174") {
		t.Errorf("the answer holds the PIN: %s", made.Body)
	}
	p.change(made.id(), "58203174").is(http.StatusCreated)
	at(t, f.post(domain.Owner, "/v1/people/"+made.id()+"/corrections", fields{"reason": "x", "changes": fields{"pin": "58203175"}}).
		problem(http.StatusUnprocessableEntity, domain.CodeInvalid), "#/changes/pin")
}

// A session is the phone of one person, or one that a lead opens for all; never more than its opener may do.
func TestOpeningASession(t *testing.T) {
	t.Parallel()
	f := newFarm(t)
	own := f.phone(domain.Crew, fields{"label": "Carl's phone"})
	me := own.get("/v1/me").is(http.StatusOK).fields()
	if by := me["signed_in"].(fields); me["person_id"] != f.people[domain.Crew] || me["role"] != "crew" || by["by"] != "session" || by["id"] != own.id || by["label"] != "Carl's phone" {
		t.Errorf("on one's own phone: %v", me)
	}
	own.post("/v1/session/switch", fields{"person_id": f.people[domain.Lead], "pin": "4802"}).problem(http.StatusConflict, domain.CodeRuleRefused)
	own.post("/v1/sessions", fields{"label": "another"}).problem(http.StatusForbidden, domain.CodeNotAllowed)
	f.post(domain.Crew, "/v1/sessions", fields{"label": "x", "shared": true}).problem(http.StatusForbidden, domain.CodeNotAllowed)
	f.post(domain.Lead, "/v1/sessions", fields{"label": "x", "shared": true, "role": "owner"}).problem(http.StatusForbidden, domain.CodeNotAllowed)

	c := own.cookie
	if !c.HttpOnly || c.SameSite != http.SameSiteStrictMode || !c.Secure || c.Path != "/" || c.Domain != "" || c.MaxAge < 3600 {
		t.Errorf("the cookie is %s", c)
	}
	f.api = api.New(f.db, api.Config{PublicURL: "http://192.168.1.5:8080", Version: "test"})
	if plain := f.phone(domain.Crew, fields{"label": "x"}); plain.cookie.Secure {
		t.Error("a cookie over plain HTTP is marked Secure, so the browser would not keep it")
	}
	behind := request(t, f.tokens[domain.Crew], http.MethodPost, "/v1/sessions", fields{"label": "x"})
	behind.Header.Set("X-Forwarded-Proto", "https")
	if a := f.send(behind).is(http.StatusCreated); !strings.Contains(a.Header.Get("Set-Cookie"), "; Secure") {
		t.Errorf("behind a proxy with a certificate: %s", a.Header.Get("Set-Cookie"))
	}

	ended := own.post("/v1/session/end", fields{}).is(http.StatusCreated)
	if set := ended.Header.Get("Set-Cookie"); !strings.HasPrefix(set, "croftmark_session=;") || !strings.Contains(set, "Max-Age=0") {
		t.Errorf("signing out sets %q", set)
	}
	own.get("/v1/me").problem(http.StatusUnauthorized, domain.CodeNotSignedIn)
	f.get(domain.Crew, "/v1/me").is(http.StatusOK) // the token is another matter
}

// With a cookie the roles are the same as with a token, over every operation.
func TestSessionsMayDoWhatTheirRoleMay(t *testing.T) {
	t.Parallel()
	f := newFarm(t)
	table := neededRoles()
	f.unchanged(func() {
		for _, role := range roles {
			p := f.phone(role, fields{"label": "phone"})
			for _, op := range contractOf(t).operations() {
				if phoneOnly[op.String()] {
					continue
				}
				r := op.walk(t, "")
				r.AddCookie(&http.Cookie{Name: p.cookie.Name, Value: p.cookie.Value})
				r.Header.Set("Sec-Fetch-Site", "same-origin")
				a := f.send(r)
				allowed := slices.Index(roles, role) >= slices.Index(roles, table[op.String()])
				if op.String() == "POST /v1/sessions" {
					allowed = a.Status == http.StatusUnprocessableEntity // the body is looked at first, and is empty here
				}
				if forbidden := a.Status == http.StatusForbidden; forbidden == allowed || a.Status == http.StatusUnauthorized || a.Status >= 500 {
					t.Errorf("%s on the phone of %s: %d, allowed %t: %s", op, role, a.Status, allowed, a.Body)
				}
			}
		}
	})
}

// A page of somebody else can't make a browser that holds the cookie write anything.
func TestNoForeignPageWrites(t *testing.T) {
	t.Parallel()
	f := newFarm(t)
	p := f.phone(domain.Owner, fields{"label": "phone"})
	ask := func(header map[string]string) *answer {
		r := request(t, "", http.MethodPost, "/v1/plots", fields{"name": "Plot " + newID(t)})
		r.AddCookie(&http.Cookie{Name: p.cookie.Name, Value: p.cookie.Value})
		for name, value := range header {
			r.Header.Set(name, value)
			if value == "" {
				r.Header.Del(name)
			}
		}
		return f.send(r)
	}
	f.unchanged(func() {
		for name, header := range map[string]map[string]string{
			"another site":              {"Sec-Fetch-Site": "cross-site"},
			"a neighbour of the domain": {"Sec-Fetch-Site": "same-site", "Origin": "https://other.example.farm"},
			"an old browser elsewhere":  {"Origin": "https://elsewhere.example"},
			"no origin at all":          {"Origin": "null"},
		} {
			if a := ask(header); a.Status != http.StatusForbidden {
				t.Errorf("%s: %d, want 403: %s", name, a.Status, a.Body)
			}
		}
		// What a page elsewhere can send without asking is refused before anybody looks at the cookie.
		for _, kind := range []string{"", "text/plain", "application/x-www-form-urlencoded", "multipart/form-data; boundary=x"} {
			if a := ask(map[string]string{"Content-Type": kind, "Sec-Fetch-Site": "same-origin"}); a.Status != http.StatusBadRequest {
				t.Errorf("%s: %d, want 400", kind, a.Status)
			}
		}
	})
	for name, header := range map[string]map[string]string{
		"our page":                    {"Sec-Fetch-Site": "same-origin", "Origin": "http://example.com"},
		"our page, older browser":     {"Origin": "http://example.com"}, // the Host of the test's requests
		"our public address, proxied": {"Sec-Fetch-Site": "cross-site", "Origin": publicURL},
		"a script without a browser":  {},
	} {
		if a := ask(header); a.Status != http.StatusCreated {
			t.Errorf("%s: %d, want 201: %s", name, a.Status, a.Body)
		}
	}
	// A token in the header is never sent by a browser on its own, so it needs none of this.
	r := request(t, f.tokens[domain.Owner], http.MethodPost, "/v1/plots", fields{"name": "By token"})
	r.Header.Set("Sec-Fetch-Site", "cross-site")
	f.send(r).is(http.StatusCreated)
}
