package api_test

import (
	"archive/zip"
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"io"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"croftmark/api"
	"croftmark/domain"
)

// A lost phone's token is revoked: what it sent before stays, what waits on it is refused, and the session it opened ends.
func TestLostPhone(t *testing.T) {
	t.Parallel()
	x := newField(t)
	made := x.post(domain.Owner, "/v1/tokens", fields{"person_id": x.people[domain.Crew], "label": "Carl's old phone"}).is(http.StatusCreated).fields()
	lost, id := made["token"].(string), made["id"].(string)
	x.tokens["lost"] = lost
	phone := x.phone("lost", fields{"label": "Carl's old phone"})
	sent := x.send(request(t, lost, http.MethodPost, "/v1/applications", x.manured("2025-01-10", "2025-01-10"))).id()
	other := phone.post("/v1/applications", x.manured("2025-01-11", "2025-01-11")).id()
	queued := with(x.manured("2025-01-12", "2025-01-12"), "id", newID(t))

	x.post(domain.Lead, "/v1/tokens/"+id+"/revoke", fields{}).problem(http.StatusForbidden, domain.CodeNotAllowed)
	x.post(domain.Owner, "/v1/tokens/"+id+"/revoke", fields{}).is(http.StatusCreated)
	x.post(domain.Owner, "/v1/tokens/"+id+"/revoke", fields{}).is(http.StatusCreated) // twice is once
	x.unchanged(func() {
		x.send(request(t, lost, http.MethodPost, "/v1/applications", queued)).problem(http.StatusUnauthorized, domain.CodeNotSignedIn)
		x.send(request(t, lost, http.MethodGet, "/v1/today", nil)).problem(http.StatusUnauthorized, domain.CodeNotSignedIn)
		phone.post("/v1/applications", queued).problem(http.StatusUnauthorized, domain.CodeNotSignedIn)
		phone.get("/v1/session").problem(http.StatusUnauthorized, domain.CodeNotSignedIn)
	})
	for _, record := range []string{sent, other} {
		if by := x.get(domain.Owner, "/v1/applications/"+record).is(http.StatusOK).text("typed_by"); by != x.people[domain.Crew] {
			t.Errorf("what was sent before is typed by %s", by)
		}
	}
	// The person has their other token still, and sends what waited with it.
	x.post(domain.Crew, "/v1/applications", queued).is(http.StatusCreated)

	lines := map[string]fields{}
	for _, line := range x.get(domain.Owner, "/v1/tokens").is(http.StatusOK).list() {
		lines[line["id"].(string)] = line
	}
	if lines[id]["revoked_at"] == nil || lines[id]["label"] != "Carl's old phone" || lines[id]["person_id"] != x.people[domain.Crew] {
		t.Errorf("the list says %v", lines[id])
	}
	if len(lines) != 5 { // one for each role, and the lost one
		t.Errorf("%d tokens listed", len(lines))
	}
	x.post(domain.Owner, "/v1/tokens/"+newID(t)+"/revoke", fields{}).problem(http.StatusNotFound, domain.CodeNotFound)
	for _, s := range x.get(domain.Owner, "/v1/sessions").is(http.StatusOK).list() {
		if s["id"] == phone.id && s["ended_at"] == nil {
			t.Errorf("the session of the lost phone is listed as open: %v", s)
		}
	}
	// A phone alone can be signed out as well.
	shed := x.phone(domain.Lead, fields{"label": "Wash shed"})
	x.post(domain.Owner, "/v1/sessions/"+shed.id+"/revoke", fields{}).is(http.StatusCreated)
	shed.get("/v1/today").problem(http.StatusUnauthorized, domain.CodeNotSignedIn)
	x.get(domain.Lead, "/v1/today").is(http.StatusOK)
}

// A token may say less than its person: the owner's phone at the market stall need not be able to change people. What it
// opens is bound the same way.
func TestTokenWithARole(t *testing.T) {
	t.Parallel()
	f := newFarm(t)
	f.tokens["stall"] = f.post(domain.Owner, "/v1/tokens", fields{"person_id": f.people[domain.Owner], "label": "stall", "role": "reader"}).text("token")
	f.get("stall", "/v1/today").is(http.StatusOK)
	f.post("stall", "/v1/inputs", fields{"name": "Straw", "category": "plant-material"}).problem(http.StatusForbidden, domain.CodeNotAllowed)
	p := f.phone("stall", fields{"label": "stall"})
	p.post("/v1/inputs", fields{"name": "Straw", "category": "plant-material"}).problem(http.StatusForbidden, domain.CodeNotAllowed)
	if me := f.get("stall", "/v1/me").is(http.StatusOK).fields(); me["role"] != "reader" || me["person_id"] != f.people[domain.Owner] {
		t.Errorf("me: %v", me)
	}
	// More than the person may do it never says.
	f.tokens["boast"] = f.post(domain.Owner, "/v1/tokens", fields{"person_id": f.people[domain.Crew], "label": "x", "role": "owner"}).text("token")
	f.post("boast", "/v1/plots", fields{"name": "X"}).problem(http.StatusForbidden, domain.CodeNotAllowed)
	at(t, f.post(domain.Owner, "/v1/tokens", fields{"person_id": f.people[domain.Crew], "label": "x", "expires_at": "2020-01-01T00:00:00Z"}).
		problem(http.StatusUnprocessableEntity, domain.CodeInvalid), "#/expires_at")
}

// An inspector's account reads until its day, and needs one.
func TestInspectorsAccountEnds(t *testing.T) {
	t.Parallel()
	f := newFarm(t)
	at(t, f.post(domain.Owner, "/v1/people", fields{"name": "Ines Inspector", "initials": "II", "role": "reader"}).
		problem(http.StatusUnprocessableEntity, domain.CodeInvalid), "#/ends_on")
	id := f.post(domain.Owner, "/v1/people", fields{"name": "Ines Inspector", "initials": "II", "role": "reader", "ends_on": "2026-11-27"}).id()
	f.tokens["inspector"] = f.post(domain.Owner, "/v1/tokens", fields{"person_id": id, "label": "inspection"}).text("token")
	p := f.phone("inspector", fields{"label": "tablet"})
	me := f.get("inspector", "/v1/me").is(http.StatusOK).fields()
	if me["role"] != "reader" || me["ends_on"] != "2026-11-27" || me["farm"] != "Fern Bank" || me["today"] != today {
		t.Errorf("me: %v", me)
	}
	zone, err := domain.Zone("America/New_York")
	if err != nil {
		t.Fatal(err)
	}
	midnight := domain.NewDate(2026, time.November, 28).In(zone)
	f.clock.Set(midnight.Add(-time.Minute)) // by the farm's calendar, not the server's: in UTC it is the 28th already
	f.get("inspector", "/v1/harvest-lots").is(http.StatusOK)
	p.get("/v1/harvest-lots").is(http.StatusOK)
	f.clock.Set(midnight)
	f.get("inspector", "/v1/harvest-lots").problem(http.StatusUnauthorized, domain.CodeNotSignedIn)
	p.get("/v1/harvest-lots").problem(http.StatusUnauthorized, domain.CodeNotSignedIn)
	// The owner can lengthen it.
	f.post(domain.Owner, "/v1/people/"+id+"/corrections", fields{"reason": "The inspection goes on.", "changes": fields{"ends_on": "2026-12-05"}}).is(http.StatusCreated)
	f.get("inspector", "/v1/harvest-lots").is(http.StatusOK)
}

// A farm always has an owner whose time does not end.
func TestLastOwnerStays(t *testing.T) {
	t.Parallel()
	f := newFarm(t)
	owner := "/v1/people/" + f.people[domain.Owner]
	change := func(role domain.Role, path string, changes fields) *answer {
		return f.post(role, path+"/corrections", fields{"reason": "x", "changes": changes})
	}
	f.unchanged(func() {
		f.post(domain.Owner, owner+"/void", fields{"reason": "x"}).problem(http.StatusConflict, domain.CodeRuleRefused)
		at(t, change(domain.Owner, owner, fields{"role": "lead"}).problem(http.StatusUnprocessableEntity, domain.CodeInvalid), "#/changes/role")
		at(t, change(domain.Owner, owner, fields{"ends_on": "2027-01-01"}).problem(http.StatusUnprocessableEntity, domain.CodeInvalid), "#/changes/ends_on")
	})
	change(domain.Owner, owner, fields{"name": "Ola O. Owner"}).is(http.StatusCreated)
	// An owner whose time ends is not enough.
	change(domain.Owner, "/v1/people/"+f.people[domain.Lead], fields{"role": "owner", "ends_on": "2027-01-01"}).is(http.StatusCreated)
	f.post(domain.Owner, owner+"/void", fields{"reason": "x"}).problem(http.StatusConflict, domain.CodeRuleRefused)
	change(domain.Owner, "/v1/people/"+f.people[domain.Lead], fields{"ends_on": nil}).is(http.StatusCreated)
	f.post(domain.Owner, owner+"/void", fields{"reason": "Sold the farm."}).is(http.StatusCreated)
	f.get(domain.Owner, "/v1/me").problem(http.StatusUnauthorized, domain.CodeNotSignedIn)
	f.post(domain.Lead, "/v1/people/"+f.people[domain.Lead]+"/void", fields{"reason": "x"}).problem(http.StatusConflict, domain.CodeRuleRefused)
}

// Whoever tries credentials, or asks for public pages, without end is told to wait. Others are not.
func TestTooManyTries(t *testing.T) {
	t.Parallel()
	f := newFarm(t)
	crew := f.pin(domain.Crew, "4802")
	few := api.Limit{AtOnce: 3, Each: time.Hour}
	f.limited(api.Limits{SignIns: few, PINs: few, Public: few})
	from := func(address, token, path string) *answer {
		r := request(t, token, http.MethodGet, path, nil)
		r.RemoteAddr = address + ":4711"
		return f.send(r)
	}
	for range 3 {
		from("198.51.100.7", "cm_WRONG", "/v1/today").problem(http.StatusUnauthorized, domain.CodeNotSignedIn)
	}
	if a := from("198.51.100.7", "cm_WRONG", "/v1/today"); a.problem(http.StatusTooManyRequests, domain.CodeTooMany) != nil && a.Header.Get("Retry-After") != "3600" {
		t.Errorf("Retry-After %q", a.Header.Get("Retry-After"))
	}
	from("198.51.100.8", "cm_WRONG", "/v1/today").problem(http.StatusUnauthorized, domain.CodeNotSignedIn)
	for range 20 { // right credentials are not counted
		from("198.51.100.9", f.tokens[domain.Crew], "/v1/today").is(http.StatusOK)
	}
	// One IPv6 caller has very many addresses.
	for _, last := range []string{"1", "2", "3"} {
		from("[2001:db8:1:2::"+last+"]", "cm_WRONG", "/v1/today").problem(http.StatusUnauthorized, domain.CodeNotSignedIn)
	}
	from("[2001:db8:1:2:ffff::9]", "cm_WRONG", "/v1/today").problem(http.StatusTooManyRequests, domain.CodeTooMany)
	from("[2001:db8:1:3::1]", "cm_WRONG", "/v1/today").problem(http.StatusUnauthorized, domain.CodeNotSignedIn)

	for range 3 {
		from("198.51.100.7", "", "/L/NOSUCH1/26219-L3-RAD-1-SS").is(http.StatusNotFound)
	}
	from("198.51.100.7", "", "/L/NOSUCH1/26219-L3-RAD-1-SS").problem(http.StatusTooManyRequests, domain.CodeTooMany)
	from("198.51.100.7", "", "/v1/openapi.json").problem(http.StatusTooManyRequests, domain.CodeTooMany)
	from("198.51.100.7", "", "/app/nothing").problem(http.StatusTooManyRequests, domain.CodeTooMany)
	from("198.51.100.7", "", "/healthz").is(http.StatusOK)

	// A proxy on this machine names the caller; anybody else who claims to be a proxy is counted as who they are.
	named := func(remote, forwarded string) *answer {
		r := request(t, "cm_WRONG", http.MethodGet, "/v1/today", nil)
		r.RemoteAddr = remote + ":4711"
		r.Header.Set("X-Forwarded-For", forwarded)
		return f.send(r)
	}
	named("127.0.0.1", "198.51.100.7").problem(http.StatusTooManyRequests, domain.CodeTooMany)
	named("127.0.0.1", "203.0.113.1").problem(http.StatusUnauthorized, domain.CodeNotSignedIn)
	named("198.51.100.7", "203.0.113.2").problem(http.StatusTooManyRequests, domain.CodeTooMany)

	p := f.phone(domain.Owner, fields{"label": "A", "shared": true})
	for range 3 {
		p.change(crew, "4802").is(http.StatusCreated)
	}
	p.change(crew, "4802").problem(http.StatusTooManyRequests, domain.CodeTooMany)
}

// No token, cookie or PIN is in the log, in an export, or in an answer but the one that gives it.
func TestSecretsAreNowhere(t *testing.T) {
	t.Parallel()
	f := newFarm(t)
	secrets := map[string]string{"PIN": "58203174", "wrong PIN": "90817263", "new PIN": "46027195", "wrong token": "cm_WRONGWRONGWRONGWRONGWRONGWRONGWR"}
	for role, token := range f.tokens {
		secrets["token of "+string(role)] = token
	}
	var said bytes.Buffer
	hear := func(a *answer) *answer { said.Write(a.Body); return a }
	key := newID(t)
	body := fields{"id": key, "name": "Nell", "initials": "N", "role": "crew", "pin": secrets["PIN"]}
	nell := hear(f.post(domain.Owner, "/v1/people", body)).id()
	hear(f.post(domain.Owner, "/v1/people", with(body, "pin", secrets["new PIN"]))).is(http.StatusOK) // written before; the PIN is not part of it
	hear(f.post(domain.Owner, "/v1/people", with(body, "name", "Mel"))).problem(http.StatusConflict, domain.CodeIDReused)
	p := f.phone(domain.Owner, fields{"label": "shed", "shared": true})
	secrets["cookie"] = p.cookie.Value
	hear(p.change(nell, secrets["wrong PIN"])).problem(http.StatusForbidden, domain.CodeNotAllowed)
	hear(p.change(nell, secrets["PIN"])).is(http.StatusCreated)
	hear(f.post(domain.Owner, "/v1/people/"+nell+"/pin", fields{"pin": secrets["new PIN"]})).is(http.StatusCreated)
	hear(f.post(domain.Owner, "/v1/people/"+nell+"/corrections", fields{"reason": "x", "changes": fields{"pin": secrets["new PIN"]}})).
		problem(http.StatusUnprocessableEntity, domain.CodeInvalid)
	hear(f.post(domain.Owner, "/v1/people/"+nell+"/pin", fields{"pin": secrets["wrong PIN"] + "x"})).problem(http.StatusUnprocessableEntity, domain.CodeInvalid)
	hear(f.send(request(t, secrets["wrong token"], http.MethodGet, "/v1/me", nil))).problem(http.StatusUnauthorized, domain.CodeNotSignedIn)
	for _, path := range []string{"/v1/me", "/v1/tokens", "/v1/sessions", "/v1/people", "/v1/people/" + nell + "/history", "/v1/book/entries?limit=500"} {
		hear(f.get(domain.Owner, path)).is(http.StatusOK)
	}
	hear(p.get("/v1/session")).is(http.StatusOK)
	hear(p.get("/v1/me")).is(http.StatusOK)

	var file bytes.Buffer
	if err := f.db.Export(context.Background(), mustID(t, f.ID), &file, nil); err != nil {
		t.Fatal(err)
	}
	for what, text := range map[string]string{"log": f.log.String(), "export": unzipped(t, file.Bytes()), "answers": said.String()} {
		if len(text) < 1000 {
			t.Errorf("only %d bytes of %s looked at", len(text), what)
		}
		for name, secret := range secrets {
			if strings.Contains(text, secret) {
				t.Errorf("the %s: %s", what, name)
			}
		}
		for _, mark := range []string{"argon2", "PRIVATE KEY", "Bearer "} {
			if strings.Contains(text, mark) {
				t.Errorf("the %s: %q", what, mark)
			}
		}
	}
	// The entry's mark of the request can't be tried against all PINs.
	for _, e := range f.get(domain.Owner, "/v1/people/"+nell+"/history").is(http.StatusOK).list() {
		hash, _ := e["request"].(fields)["hash"].(string)
		raw := `{"id":"` + key + `","initials":"N","name":"Nell","pin":"` + secrets["PIN"] + `","role":"crew"}`
		if hash == "" || hash == sha256Of("POST /v1/people\n"+raw) {
			t.Errorf("the mark of the request is %q", hash)
		}
		if want := sha256Of("POST /v1/people\n" + strings.Replace(raw, `"pin":"`+secrets["PIN"]+`",`, "", 1)); hash != want {
			t.Errorf("the mark of the request is %s, want that of all but the PIN, %s", hash, want)
		}
	}
}

func mustID(t testing.TB, text string) uuid.UUID {
	t.Helper()
	id, err := uuid.Parse(text)
	if err != nil {
		t.Fatal(err)
	}
	return id
}

// unzipped gives all files of a zip, one after the other.
func unzipped(t testing.TB, file []byte) string {
	t.Helper()
	z, err := zip.NewReader(bytes.NewReader(file), int64(len(file)))
	if err != nil {
		t.Fatal(err)
	}
	var out strings.Builder
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		if _, err := io.Copy(&out, r); err != nil {
			t.Fatal(err)
		}
		r.Close()
	}
	return out.String()
}

func sha256Of(text string) string {
	sum := sha256.Sum256([]byte(text))
	return hex.EncodeToString(sum[:])
}
