package api_test

import (
	"context"
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"croftmark/api"
)

// The first farm is opened with the code of the terminal, once; afterwards nobody opens another from a browser.
func TestFirstFarm(t *testing.T) {
	t.Parallel()
	s := newService(t)
	s.api = api.New(s.db, api.Config{PublicURL: publicURL, FirstFarmCode: "RIGHTCODE", Limits: api.Limits{SignIns: api.Limit{AtOnce: 100, Each: time.Second}}})
	call := func(method, body string) (int, string) {
		r := httptest.NewRequest(method, "/first-farm", strings.NewReader(body))
		r.Header.Set("Content-Type", "application/json")
		w := httptest.NewRecorder()
		s.api.Handler().ServeHTTP(w, r)
		return w.Code, w.Body.String()
	}
	open := func(want string) {
		t.Helper()
		if status, body := call(http.MethodGet, ""); status != 200 || !strings.Contains(body, `"open":`+want) {
			t.Errorf("open: %d %s, not %s", status, body, want)
		}
	}
	body := func(code, set string) string {
		return `{"code": "` + code + `", "farm": "Oak Hollow", "time_zone": "America/New_York", "units": "us", "owner": "Ada Moss", "initials": "AM", "language": "en", "standards": ["` + set + `"]}`
	}
	open("true")
	for name, bad := range map[string]struct {
		body   string
		status int
	}{
		"wrong code":    {body("WRONG", "us-organic"), 403},
		"no such rules": {body("RIGHTCODE", "no-such-set"), 422},
		"no zone":       {strings.Replace(body("RIGHTCODE", "us-organic"), "America/New_York", "Nowhere/Land", 1), 422},
		"unknown field": {`{"code": "RIGHTCODE", "farm_name": "x"}`, 422},
		"two documents": {body("RIGHTCODE", "us-organic") + "{}", 400},
		"empty":         {"", 400},
	} {
		if status, answer := call(http.MethodPost, bad.body); status != bad.status || !strings.Contains(answer, `"detail"`) {
			t.Errorf("%s: %d %s", name, status, answer)
		}
	}
	open("true")
	status, answer := call(http.MethodPost, body("RIGHTCODE", "us-organic"))
	var opened struct{ Token string }
	if err := json.Unmarshal([]byte(answer), &opened); err != nil || status != http.StatusCreated || opened.Token == "" {
		t.Fatalf("%d %s", status, answer)
	}
	r := httptest.NewRequest(http.MethodGet, "/v1/farm", nil)
	r.Header.Set("Authorization", "Bearer "+opened.Token)
	w := httptest.NewRecorder()
	s.api.Handler().ServeHTTP(w, r)
	if w.Code != 200 || !strings.Contains(w.Body.String(), `"Oak Hollow"`) || !strings.Contains(w.Body.String(), `"us-organic"`) {
		t.Errorf("the farm: %d %s", w.Code, w.Body)
	}
	open("false")
	for _, code := range []string{"RIGHTCODE", ""} {
		if status, answer := call(http.MethodPost, body(code, "us-organic")); status != 403 {
			t.Errorf("a second farm with %q: %d %s", code, status, answer)
		}
	}
}

// Two copies of the service started on one empty database print a code each. A farm opened at one copy closes the other.
func TestFirstFarmOfAnotherCopy(t *testing.T) {
	t.Parallel()
	s := newService(t)
	opened := false
	s.api = api.New(s.db, api.Config{PublicURL: publicURL, FirstFarmCode: "RIGHTCODE", FirstFarmTaken: func(context.Context) (bool, error) { return opened, nil }})
	call := func(method, body string) (int, string) {
		r := httptest.NewRequest(method, "/first-farm", strings.NewReader(body))
		w := httptest.NewRecorder()
		s.api.Handler().ServeHTTP(w, r)
		return w.Code, w.Body.String()
	}
	if _, body := call(http.MethodGet, ""); !strings.Contains(body, `"open":true`) {
		t.Errorf("before: %s", body)
	}
	opened = true
	if _, body := call(http.MethodGet, ""); !strings.Contains(body, `"open":false`) {
		t.Errorf("after: %s", body)
	}
	body := `{"code": "RIGHTCODE", "farm": "Oak Hollow", "time_zone": "America/New_York", "owner": "Ada Moss", "initials": "AM", "standards": []}`
	if status, answer := call(http.MethodPost, body); status != http.StatusForbidden {
		t.Errorf("a second farm was answered %d %s", status, answer)
	}
}
