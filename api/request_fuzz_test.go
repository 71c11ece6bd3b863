package api_test

import (
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"croftmark/domain"
)

// Whatever a stranger or a person of the farm puts into path, query and headers, the service answers in order: no answer
// is its own failure, and nobody without credentials gets more than a page, a code or a refusal.
func FuzzRequest(f *testing.F) {
	farm := newFarm(f)
	get := []string{"/v1/harvest-check", "/v1/today", "/v1/trace", "/v1/labels", "/v1/applications", "/v1/book/entries", "/v1/book/consistency/x", "/v1/stock",
		"/v1/lots/x", "/v1/crates/x", "/v1/files/x", "/v1/binder.pdf", "/v1/log-sheets/x/form.pdf", "/L/x/x", "/l/x/01/x/10/x", "/01/x/10/x/21/x", "/b/x", "/calendar/x", "/v1/session"}
	for i, seed := range []struct{ id, query, header string }{
		{"", "on=2026-08-07&bed_id=01912345-0000-7000-8000-000000000001", ""}, {"26219-L3-RAD-1-SS", "size=4x2in&format=zpl&lot=%00", "x"}, {"..%2f..", "limit=-1&before=%ff", "\xff"},
		{"09521321001012", "from=2026-02-30&to=9999-12-31&scope=organic&crop=%27", "01912345-0000-7000-8000-000000000001"}, {"%00", "a=b;c=d&&=&%zz", "cm_"},
	} {
		for pick := range get {
			f.Add(uint8(pick+i), seed.id, seed.query, seed.header, i%2 == 0)
		}
	}
	f.Fuzz(func(t *testing.T, pick uint8, id, query, header string, known bool) {
		path := get[int(pick)%len(get)]
		path = strings.ReplaceAll(path, "/x", "/"+strings.ReplaceAll(url.PathEscape(id), ".", "%2E"))
		r := httptest.NewRequest(http.MethodGet, "/", nil)
		r.URL = &url.URL{Path: path, RawQuery: query}
		if unescaped, err := url.PathUnescape(path); err == nil {
			r.URL.Path, r.URL.RawPath = unescaped, path
		}
		r.Header["Typed-By"], r.Header["Cookie"], r.Header["Idempotency-Key"] = []string{header}, []string{"croftmark_session=" + header}, []string{header}
		r.Header["Accept-Language"], r.Header["X-Forwarded-For"], r.Header["Sec-Fetch-Site"] = []string{header}, []string{header}, []string{"same-origin"}
		if known {
			r.Header.Set("Authorization", "Bearer "+farm.tokens[domain.Lead])
		}
		w := httptest.NewRecorder()
		farm.api.Handler().ServeHTTP(w, r)
		if w.Code >= 500 {
			t.Fatalf("%s?%s with %q: %d %.300s", path, query, header, w.Code, w.Body)
		}
		if !known && w.Code < 300 && strings.HasPrefix(r.URL.Path, "/v1/") {
			t.Fatalf("%s?%s with %q was answered without credentials: %d", path, query, header, w.Code)
		}
	})
}
