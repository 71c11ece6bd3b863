//go:build external

package web_test

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"croftmark/storage/cluster"
)

// routes are the names of all pages, as the app itself lists them: a page that is added is looked at without being named here.
func routes(t *testing.T) (names []string) {
	t.Helper()
	for file, list := range map[string]string{"src/app.tsx": `(?s)const pages:.*?= \{(.*?)\n\}`, "src/parts/later.tsx": `(?s)deskNames = \[(.*?)\]`} {
		source, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		found := regexp.MustCompile(list).FindSubmatch(source)
		if found == nil {
			t.Fatalf("%s lists no pages", file)
		}
		for _, name := range regexp.MustCompile(`(?:^|[\s,{'])([a-z]+)(?::|')`).FindAllSubmatch(found[1], -1) {
			names = append(names, string(name[1]))
		}
	}
	slices.Sort(names)
	if len(names) < 30 {
		t.Fatalf("only %d pages: %q", len(names), names)
	}
	return names
}

// demoFarm runs the program with the demo farm, and gives its address and the owner's token.
func demoFarm(t *testing.T) (address, token string) {
	t.Helper()
	program := filepath.Join(t.TempDir(), "croftmark")
	if out, err := exec.Command("go", "build", "-o", program, "..").CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	// PostgreSQL does not run as root, so its folder must be open to others, and the path of its socket short.
	data, err := os.MkdirTemp(cluster.FastDir(), "croftmark-screens-")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(data) })
	if err := os.Chmod(data, 0o755); err != nil {
		t.Fatal(err)
	}
	demo := exec.Command(program, "demo", "--data", filepath.Join(data, "farm"), "--listen", "127.0.0.1:0")
	var said bytes.Buffer
	demo.Stderr = &said
	out, err := demo.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := demo.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		demo.Process.Signal(os.Interrupt)
		demo.Wait()
	})
	lines := bufio.NewScanner(out)
	for lines.Scan() {
		line := lines.Text()
		if at, ok := strings.CutPrefix(line, "listening on "); ok {
			address = at
		}
		if strings.HasPrefix(line, "owner ") {
			token = line[strings.LastIndex(line, " ")+1:]
		}
		if strings.HasPrefix(line, "demo farm ready") {
			go func() {
				for lines.Scan() {
				}
			}()
			return address, token
		}
	}
	t.Fatalf("the demo farm never got ready: %s", said.String())
	return "", ""
}

var (
	// holes are what a page says where something it counted on was not there.
	holes  = regexp.MustCompile(`\b(undefined|NaN|null|Invalid Date)\b|\[object `)
	aThing = regexp.MustCompile(`^([0-9a-f]{8}-[0-9a-f-]{27}|[A-Z0-9-]{6,})$`)
	inName = regexp.MustCompile(`[^a-z0-9]+`)
)

// shapeOf names a page by its address without the ids and codes, so that each kind of page is opened once.
func shapeOf(path string) string {
	path, asked, _ := strings.Cut(strings.TrimPrefix(path, "/app/"), "?")
	parts := strings.Split(path, "/")
	for i, part := range parts {
		if i > 0 && (aThing.MatchString(part) || parts[0] == "log") { // all log sheets are one kind of page
			parts[i] = "one"
		}
	}
	for _, pair := range strings.Split(asked, "&") {
		if key, _, ok := strings.Cut(pair, "="); ok {
			parts = append(parts, "by", key)
		}
	}
	return inName.ReplaceAllString(strings.Join(parts, "-"), "-")
}

const (
	linksHere = `[...document.querySelectorAll('a[href^="/app/"]')].map(a => a.getAttribute('href'))`
	noneLoads = `![...document.querySelectorAll('[role="status"]')].some(e => /^(Working|Un momento|One moment)/.test(e.innerText)) && !!document.querySelector('h1')`
	cutOff    = `[...document.querySelectorAll('body *')].filter(e => e.getClientRects().length && e.scrollWidth > e.clientWidth + 1 && getComputedStyle(e).overflowX === 'hidden'
		&& !e.classList.contains('unseen')).map(e => e.outerHTML.slice(0, 120))`
)

// walkPages opens every page of the app: those that it lists, and one of each kind that a link on them leads to.
func walkPages(t *testing.T, p *phone, look func(shape string)) {
	t.Helper()
	var todo []string
	for _, name := range routes(t) {
		todo = append(todo, "/app/"+name)
	}
	// A page that no link leads to at once.
	for _, batch := range read[[]struct{ ID string }](p.s, p.s.request(http.MethodGet, "/v1/compost-batches?limit=1", nil, 200)) {
		todo = append(todo, "/app/batch/"+batch.ID)
	}
	seen := map[string]bool{}
	for len(todo) > 0 {
		path := todo[0]
		todo = todo[1:]
		shape := shapeOf(path)
		if seen[shape] {
			continue
		}
		seen[shape] = true
		p.open(path)
		p.waitFor(noneLoads)
		todo = append(todo, eval[[]string](p, linksHere)...)
		look(shape)
	}
}

var (
	hyphened   = regexp.MustCompile(`[A-Za-z0-9]+([-_][A-Za-z0-9]+)+`)
	fieldInTS  = regexp.MustCompile(`\b([a-z_]+):`)
	quotedInTS = regexp.MustCompile(`'([a-z_]+)'`)
)

// document is the description of the interface that the service itself gives.
func document(s *service) (doc object) {
	return read[object](s, s.request(http.MethodGet, "/v1/openapi.json", nil, 200))
}

// rawValues gives the values of the interface that no person would write: choices with a hyphen or an underscore.
func rawValues(v any, found map[string]bool) map[string]bool {
	switch v := v.(type) {
	case object:
		if list, ok := v["enum"].([]any); ok {
			for _, x := range list {
				if s, ok := x.(string); ok && hyphened.MatchString(s) {
					found[s] = true
				}
			}
		}
		for _, x := range v {
			rawValues(x, found)
		}
	case []any:
		for _, x := range v {
			rawValues(x, found)
		}
	}
	return found
}

// cutOut gives the part of a source between two texts.
func cutOut(t *testing.T, path, from, to string) string {
	t.Helper()
	source, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	_, rest, ok := strings.Cut(string(source), from)
	part, _, end := strings.Cut(rest, to)
	if !ok || !end {
		t.Fatalf("%s has nothing between %q and %q", path, from, to)
	}
	return part
}

// TestFieldsHaveWords holds every field of a record that the app shows to a name on the page, so that no page shows the name
// that machines use.
func TestFieldsHaveWords(t *testing.T) {
	t.Parallel()
	known := map[string]bool{}
	for _, m := range quotedInTS.FindAllStringSubmatch(cutOut(t, "src/parts/facts.tsx", "bookkeeping = [", "]"), -1) {
		known[m[1]] = true
	}
	for _, words := range []string{cutOut(t, "src/words/acts.en.ts", "  facts: {", "\n  },"), cutOut(t, "src/words/mend.en.ts", "    fields: {", "\n    }")} {
		for _, m := range fieldInTS.FindAllStringSubmatch(words, -1) {
			known[m[1]] = true
		}
	}
	doc := document(startService(t))
	schemas, paths := doc["components"].(object)["schemas"].(object), doc["paths"].(object)
	kinds := regexp.MustCompile(`of\('([a-z-]+)'`).FindAllStringSubmatch(cutOut(t, "src/book/kinds.ts", "mendKinds", "\n}"), -1)
	if len(kinds) < 15 {
		t.Fatalf("only %d kinds: %q", len(kinds), kinds)
	}
	for _, kind := range kinds {
		var schema struct {
			Get struct {
				Responses map[string]struct {
					Content map[string]struct{ Schema object }
				}
			}
		}
		raw, err := json.Marshal(paths["/v1/"+kind[1]+"/{id}"])
		if err != nil {
			t.Fatal(err)
		}
		if err := json.Unmarshal(raw, &schema); err != nil {
			t.Fatal(err)
		}
		fields := fieldsOf(schemas, schema.Get.Responses["200"].Content["application/json"].Schema)
		if len(fields) < 5 {
			t.Errorf("%s has only the fields %q", kind[1], fields)
		}
		for _, name := range fields {
			if !known[name] {
				t.Errorf("%s: the page has no word for %s", kind[1], name)
			}
		}
	}
}

// fieldsOf lists the properties of a schema and of those that it is made of.
func fieldsOf(schemas, schema object) (names []string) {
	if ref, ok := schema["$ref"].(string); ok {
		return fieldsOf(schemas, schemas[ref[strings.LastIndexByte(ref, '/')+1:]].(object))
	}
	if all, ok := schema["allOf"].([]any); ok {
		for _, part := range all {
			names = append(names, fieldsOf(schemas, part.(object))...)
		}
	}
	properties, _ := schema["properties"].(object)
	for name := range properties {
		names = append(names, name)
	}
	return names
}

// TestScreens opens every page on the demo farm, on a phone and on a laptop: nothing is cut off, and axe finds nothing. With
// CROFTMARK_SCREENS it goes through both languages and takes pictures into the folder named there, for people to look at;
// CROFTMARK_SCREENS_OF is a pattern of the pages that are wanted.
func TestScreens(t *testing.T) {
	folder := os.Getenv("CROFTMARK_SCREENS")
	wanted, err := regexp.Compile(os.Getenv("CROFTMARK_SCREENS_OF"))
	if err != nil {
		t.Fatal(err)
	}
	axe := readAxe(t)
	address, token := demoFarm(t)
	p := newPhone(t, browser(t), &service{t: t, address: strings.TrimPrefix(address, "http://"), token: token})
	p.signIn()
	raw := rawValues(document(p.s), map[string]bool{})
	if !raw["not-organic"] {
		t.Fatalf("the document lists no values: %v", raw)
	}
	languages := []string{"English"}
	if folder != "" {
		languages = append(languages, "Español")
	}
	for _, language := range languages {
		p.open("/app/me")
		p.tap(language)
		pages := 0
		walkPages(t, p, func(shape string) {
			if folder != "" && !wanted.MatchString(shape) {
				return
			}
			pages++
			for _, size := range [][2]int64{{360, 740}, {1280, 800}} {
				p.do(chromedp.EmulateViewport(size[0], size[1]))
				time.Sleep(100 * time.Millisecond) // drawings measure the room they have
				page := fmt.Sprint(shape, " at ", size[0])
				if hole := holes.FindString(p.text()); hole != "" {
					t.Errorf("%s says %q:\n%s", shape, hole, p.text())
				}
				for _, value := range hyphened.FindAllString(p.text(), -1) {
					if raw[value] {
						t.Errorf("%s shows the value %q; write a word", page, value)
					}
				}
				for _, cut := range eval[[]string](p, cutOff) {
					t.Errorf("%s: cut off: %s", page, cut)
				}
				if folder == "" {
					p.usable(axe, page)
				} else {
					p.picture(filepath.Join(folder, fmt.Sprintf("%s-%d-%s.png", shape, size[0], language[:2])), size)
				}
			}
		})
		t.Logf("%d pages in %s", pages, language)
	}
}

// picture takes the whole page: a window as high as the page shows all of it, with the places where they belong.
func (p *phone) picture(path string, size [2]int64) {
	p.t.Helper()
	p.do(chromedp.EmulateViewport(size[0], min(max(size[1], int64(eval[int](p, `document.documentElement.scrollHeight`))), 5000)))
	picture, err := chromedp.Run(p.ctx, chromedp.CaptureScreenshot())
	if err != nil {
		p.t.Fatal(err)
	}
	if err := os.WriteFile(path, picture, 0o644); err != nil {
		p.t.Fatal(err)
	}
}

// look takes a picture of the page as a test has it, on a phone and on a laptop, if pictures are wanted.
func (p *phone) look(name string) {
	p.t.Helper()
	folder := os.Getenv("CROFTMARK_SCREENS")
	if folder == "" {
		return
	}
	for _, size := range [][2]int64{{360, 740}, {1280, 800}} {
		p.do(chromedp.EmulateViewport(size[0], size[1]))
		p.picture(filepath.Join(folder, fmt.Sprintf("act-%s-%d.png", name, size[0])), size)
	}
	p.do(chromedp.EmulateViewport(1280, 800))
}
