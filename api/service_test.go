package api_test

import (
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"github.com/google/uuid"
	"github.com/labstack/echo/v4"

	"croftmark/domain"
)

func TestHealthReadyAndMetricsTellNothingOfAFarm(t *testing.T) {
	t.Parallel()
	x := newField(t)
	lot := x.lot(x.radish, "2026-08-08")
	x.get(domain.Reader, "/v1/lots/"+lot["code"].(string)).is(http.StatusOK)
	x.get(domain.Reader, "/invented/by/"+x.bed)
	for path, want := range map[string]string{"/healthz": `"ok"`, "/readyz": `"ready"`, "/metrics": "croftmark_request_seconds_count"} {
		a := x.send(httptest.NewRequest(http.MethodGet, path, nil)).is(http.StatusOK)
		if !strings.Contains(string(a.Body), want) {
			t.Errorf("%s lacks %s", path, want)
		}
		for _, secret := range []string{x.ID, x.bed, lot["code"].(string), "Fern Bank", "Lower 3", "radish", "Brindle", "invented", x.tokens[domain.Owner]} {
			if strings.Contains(string(a.Body), secret) {
				t.Errorf("%s tells %q", path, secret)
			}
		}
	}
	if metrics := string(x.send(httptest.NewRequest(http.MethodGet, "/metrics", nil)).Body); !strings.Contains(metrics, `route="/v1/lots/:code"`) {
		t.Error("requests are not counted by route")
	}
}

func TestReadyzWhenTheDatabaseIsGone(t *testing.T) {
	t.Parallel()
	f := newFarm(t)
	f.db.Close()
	f.send(httptest.NewRequest(http.MethodGet, "/healthz", nil)).is(http.StatusOK)
	for _, path := range []string{"/readyz", "/v1/today"} {
		a := f.get(domain.Owner, path)
		if a.Status < 500 || path == "/readyz" && a.Status != http.StatusServiceUnavailable {
			t.Errorf("%s: %d", path, a.Status)
		}
		if strings.Contains(string(a.Body), "pool") || goWords.Match(a.Body) {
			t.Errorf("%s tells what went wrong inside: %s", path, a.Body)
		}
	}
}

func TestRequestLog(t *testing.T) {
	t.Parallel()
	x := newField(t)
	x.post(domain.Lead, "/v1/plots", fields{"name": "Behind Aunt Edna's", "note": "Edna has a cough."}).is(http.StatusCreated)
	x.get(domain.Reader, "/v1/crops?name=radish").is(http.StatusOK)
	x.get("", "/v1/today").is(http.StatusUnauthorized)
	a := x.get(domain.Owner, "/v1/today").is(http.StatusOK)
	log := x.log.String()
	for _, secret := range []string{x.tokens[domain.Owner], "cm_", "Edna", "name=radish", "Bearer", x.plot, "192.0.2.1"} {
		if strings.Contains(log, secret) {
			t.Errorf("the log tells %q", secret)
		}
	}
	var last struct {
		Msg, Method, Route string
		RequestID          string `json:"request_id"`
		Status             int
	}
	lines := strings.Split(strings.TrimSpace(log), "\n")
	if err := json.Unmarshal([]byte(lines[len(lines)-1]), &last); err != nil {
		t.Fatal(err)
	}
	if last.Msg != "request" || last.Method != "GET" || last.Route != "/v1/today" || last.Status != 200 || last.RequestID != a.Header.Get("X-Request-Id") {
		t.Errorf("last line %+v, header %s", last, a.Header.Get("X-Request-Id"))
	}
}

func TestHeaders(t *testing.T) {
	t.Parallel()
	f := newFarm(t)
	seen := map[string]bool{}
	for _, path := range []string{"/v1/today", "/v1/nothing", "/healthz", "/L/AAAAAAA/x", "/v1/openapi.json", "/v1/plots/x"} {
		r := request(t, f.tokens[domain.Owner], http.MethodGet, path, nil)
		r.Header.Set("X-Request-Id", "chosen-by-the-caller\nSet-Cookie: x=y")
		a := f.send(r)
		for name, want := range map[string]string{"X-Content-Type-Options": "nosniff", "X-Frame-Options": "DENY", "Referrer-Policy": "no-referrer",
			"Cache-Control": "no-store"} {
			if got := a.Header.Get(name); got != want {
				t.Errorf("%s: %s is %q, want %q", path, name, got, want)
			}
		}
		if csp := a.Header.Get("Content-Security-Policy"); !strings.Contains(csp, "default-src 'none'") || !strings.Contains(csp, "frame-ancestors 'none'") {
			t.Errorf("%s: Content-Security-Policy %q", path, csp)
		}
		id := a.Header.Get("X-Request-Id")
		if _, err := uuid.Parse(id); err != nil || seen[id] {
			t.Errorf("%s: X-Request-Id %q", path, id)
		}
		seen[id] = true
		if a.Header.Get("Access-Control-Allow-Origin") != "" || a.Header.Get("Server") != "" {
			t.Errorf("%s: %v", path, a.Header)
		}
	}
}

// A fault of ours is told blandly, with the number to ask for, and the service goes on.
func TestPanicIsABland500(t *testing.T) {
	t.Parallel()
	f := newFarm(t)
	f.api.Handler().(*echo.Echo).GET("/panic", func(echo.Context) error { panic("the secret of Lower 3") })
	a := f.send(httptest.NewRequest(http.MethodGet, "/panic", nil))
	p := a.problem(http.StatusInternalServerError, domain.CodeInternal)
	if strings.Contains(string(a.Body), "secret") || strings.Contains(string(a.Body), "goroutine") || p.RequestID != a.Header.Get("X-Request-Id") {
		t.Errorf("answer to a panic: %s", a.Body)
	}
	if log := f.log.String(); !strings.Contains(log, "the secret of Lower 3") || !strings.Contains(log, p.RequestID) {
		t.Errorf("the log does not say what went wrong: %s", log)
	}
	f.get(domain.Owner, "/v1/today").is(http.StatusOK)
}

func TestServerHasAllTimeouts(t *testing.T) {
	t.Parallel()
	s := newService(t).api.HTTPServer()
	if s.ReadHeaderTimeout <= 0 || s.ReadTimeout <= 0 || s.WriteTimeout <= 0 || s.IdleTimeout <= 0 || s.MaxHeaderBytes <= 0 || s.Handler == nil || s.ErrorLog == nil {
		t.Errorf("server: %+v", s)
	}
	if s.WriteTimeout < s.ReadTimeout {
		t.Errorf("a request that took %s to read must still be answered, not cut at %s", s.ReadTimeout, s.WriteTimeout)
	}
}
