package web_test

import (
	"compress/gzip"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"os"
	"regexp"
	"strings"
	"sync"
	"testing"

	"croftmark/api"
	"croftmark/web"
)

// handler is one service for all tests of files.
var handler = sync.OnceValue(func() http.Handler {
	return api.New(nil, api.Config{Log: slog.New(slog.DiscardHandler)}).Handler()
})

// ask sends one request for a file of the app; the app's files need no database.
func ask(t *testing.T, path string, headers ...string) *http.Response {
	t.Helper()
	r := httptest.NewRequest(http.MethodGet, path, nil)
	for i := 0; i+1 < len(headers); i += 2 {
		r.Header.Set(headers[i], headers[i+1])
	}
	w := httptest.NewRecorder()
	handler().ServeHTTP(w, r)
	return w.Result()
}

func text(t *testing.T, r io.Reader) string {
	t.Helper()
	b, err := io.ReadAll(r)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// assets are the files that the page names.
func assets(t *testing.T) []string {
	t.Helper()
	page := text(t, ask(t, "/").Body)
	var out []string
	for _, m := range regexp.MustCompile(`(?:src|href)="(/app/[^"]+)"`).FindAllStringSubmatch(page, -1) {
		out = append(out, m[1])
	}
	if len(out) < 4 {
		t.Fatalf("the page names only %q", out)
	}
	return out
}

func TestThePageIsServedAtEveryAddressOfTheApp(t *testing.T) {
	t.Parallel()
	for _, path := range []string{"/", "/app", "/app/", "/app/today", "/app/bed/01a21401-9841-7b06-b820-ac1a97b5e1fd", "/app/code/26219-L3-RAD-1-SS"} {
		r := ask(t, path)
		policy := r.Header.Get("Content-Security-Policy")
		if r.StatusCode != 200 || r.Header.Get("Content-Type") != "text/html; charset=utf-8" || r.Header.Get("Cache-Control") != "no-cache" {
			t.Errorf("%s: %d %v", path, r.StatusCode, r.Header)
		}
		if !strings.Contains(policy, "script-src 'self'") || strings.Contains(policy, "unsafe") || !strings.Contains(policy, "frame-ancestors 'none'") {
			t.Errorf("%s: policy %q", path, policy)
		}
	}
	if r := ask(t, "/app/app-00000000.js"); r.StatusCode != 404 {
		t.Errorf("a file that is not there: %d", r.StatusCode)
	}
}

func TestFilesAreTypedAndCached(t *testing.T) {
	t.Parallel()
	types := map[string]string{"js": "text/javascript; charset=utf-8", "css": "text/css; charset=utf-8", "svg": "image/svg+xml",
		"png": "image/png", "webmanifest": "application/manifest+json"}
	for _, path := range append(assets(t), "/app/worker.js") {
		r := ask(t, path)
		ending := path[strings.LastIndex(path, ".")+1:]
		if r.StatusCode != 200 || r.Header.Get("Content-Type") != types[ending] {
			t.Errorf("%s: %d %s", path, r.StatusCode, r.Header.Get("Content-Type"))
		}
		hashed := regexp.MustCompile(`/(app|look|chunk)-`).MatchString(path)
		if got := strings.Contains(r.Header.Get("Cache-Control"), "immutable"); got != hashed {
			t.Errorf("%s: Cache-Control %q", path, r.Header.Get("Cache-Control"))
		}
		tag := r.Header.Get("ETag")
		if again := ask(t, path, "If-None-Match", tag); tag == "" || again.StatusCode != http.StatusNotModified || text(t, again.Body) != "" {
			t.Errorf("%s: asked again with %s: %d", path, tag, again.StatusCode)
		}
	}
	if got := ask(t, "/app/worker.js").Header.Get("Service-Worker-Allowed"); got != "/" {
		t.Errorf("the service worker may serve %q", got)
	}
}

// A first visit on a bad line: the page and everything it names.
func TestFirstLoadIsSmall(t *testing.T) {
	t.Parallel()
	total := 0
	for _, path := range append(assets(t), "/", "/app/worker.js") {
		r := ask(t, path, "Accept-Encoding", "gzip")
		body := text(t, r.Body)
		total += len(body)
		if r.Header.Get("Content-Encoding") == "gzip" {
			unpacked, err := gzip.NewReader(strings.NewReader(body))
			if err != nil {
				t.Fatal(err)
			}
			if plain := text(t, ask(t, path).Body); text(t, unpacked) != plain {
				t.Errorf("%s: compressed and plain differ", path)
			}
		}
	}
	t.Logf("first load: %d bytes compressed", total)
	if total > 200_000 {
		t.Errorf("first load is %d bytes; 200000 is the most", total)
	}
}

// Nothing of the app comes from elsewhere, and the lock file does not tell where its packages came from.
func TestNothingComesFromElsewhere(t *testing.T) {
	t.Parallel()
	lock, err := os.ReadFile("package-lock.json")
	if err != nil {
		t.Fatal(err)
	}
	if strings.Contains(string(lock), `"resolved"`) {
		t.Error("package-lock.json has resolved addresses; see .npmrc")
	}
	entries, err := web.Files.ReadDir("dist")
	if err != nil {
		t.Fatal(err)
	}
	address := regexp.MustCompile(`https?://[a-zA-Z0-9][a-zA-Z0-9.-]*`)
	for _, e := range entries {
		content, err := web.Files.ReadFile("dist/" + e.Name())
		if err != nil {
			t.Fatal(err)
		}
		for _, found := range address.FindAllString(string(content), -1) {
			if found != "http://www.w3.org" { // names of XML vocabularies
				t.Errorf("%s names %s", e.Name(), found)
			}
		}
	}
}
