//go:build external

package web_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"croftmark/api"
	"croftmark/domain"
	"croftmark/post"
	"croftmark/storage"
	"croftmark/storage/storagetest"
)

func TestMain(m *testing.M) { os.Exit(storagetest.Main(m)) }

// service is the real service on a database of its own. It can be stopped and started again at the same address.
type service struct {
	t              *testing.T
	owner, service string // database URLs
	address        string
	db             *storage.DB
	server         *http.Server
	loseAnswers    atomic.Int64 // so many answers to POSTs are written into the book and then lost on the way
	lost           chan int     // the statuses of those answers
	deaf           atomic.Bool  // browsers get no answer at all
	slow           atomic.Bool  // pictures are held up until the test lets them go
	held           chan bool
	token          string // of the farm's owner
	firstCode      string // opens the first farm from a browser
}

// emptyService has no farm yet.
func emptyService(t *testing.T) *service {
	t.Helper()
	s := &service{t: t, address: "127.0.0.1:0", lost: make(chan int, 100), held: make(chan bool), firstCode: "FIRSTCODEOFTHETEST"}
	s.owner, s.service = storagetest.URLs(t)
	s.start()
	t.Cleanup(s.stop)
	return s
}

func startService(t *testing.T) *service {
	t.Helper()
	s := emptyService(t)
	set := func(id string) domain.AdoptedStandard {
		rules, ok := domain.RuleSetByID(id)
		if !ok {
			t.Fatalf("no rule set %s", id)
		}
		return domain.AdoptedStandard{Set: id, From: rules.From}
	}
	farm := &domain.Farm{Name: "Test Hollow", TimeZone: "America/New_York", Units: "us",
		Standards: []domain.AdoptedStandard{set("us-organic"), set("us-produce-safety")}}
	opened, err := s.db.OpenFarm(t.Context(), farm, &domain.Person{Name: "Maren Oakley", Initials: "MO", Language: "en"})
	if err != nil {
		t.Fatal(err)
	}
	s.token = opened.Token
	return s
}

func (s *service) start() {
	s.t.Helper()
	db, err := storage.Open(context.Background(), storage.Config{OwnerURL: s.owner, ServiceURL: s.service})
	if err != nil {
		s.t.Fatal(err)
	}
	listener, err := net.Listen("tcp", s.address)
	if err != nil {
		s.t.Fatal(err)
	}
	s.db, s.address = db, listener.Addr().String()
	// Webhooks of the tests lie on this machine; there is no mail server.
	letters, err := post.New(post.Config{WebhookPrivate: true})
	if err != nil {
		s.t.Fatal(err)
	}
	inner := api.New(db, api.Config{PublicURL: s.url(), Log: slog.New(slog.DiscardHandler), FirstFarmCode: s.firstCode, Letters: letters}).Handler()
	s.server = &http.Server{Handler: http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if s.deaf.Load() && strings.Contains(r.UserAgent(), "Chrome") {
			panic(http.ErrAbortHandler)
		}
		if r.Method == http.MethodPost && s.loseAnswers.Add(-1) >= 0 {
			answer := httptest.NewRecorder()
			inner.ServeHTTP(answer, r)
			s.lost <- answer.Code
			panic(http.ErrAbortHandler)
		}
		if s.slow.Load() && r.Method == http.MethodPost && r.URL.Path == "/v1/attachments" {
			content, _ := io.ReadAll(r.Body) // only then does the server notice that the browser has gone
			r.Body = io.NopCloser(bytes.NewReader(content))
			s.wait(r)
		}
		inner.ServeHTTP(w, r)
	})}
	go s.server.Serve(listener)
}

// wait holds a request up until the test lets it go, or the browser gives it up.
func (s *service) wait(r *http.Request) {
	select {
	case <-s.held:
	case <-r.Context().Done():
		panic(http.ErrAbortHandler)
	}
}

func (s *service) stop() {
	if s.server != nil {
		s.server.Close()
		s.db.Close()
		s.server = nil
	}
}

func (s *service) url() string { return "http://" + s.address }

// request talks to the service as any other client would.
func (s *service) request(method, path string, body any, want int) []byte {
	s.t.Helper()
	var content io.Reader
	if body != nil {
		raw, err := json.Marshal(body)
		if err != nil {
			s.t.Fatal(err)
		}
		content = bytes.NewReader(raw)
	}
	r, err := http.NewRequest(method, s.url()+path, content)
	if err != nil {
		s.t.Fatal(err)
	}
	r.Header.Set("Authorization", "Bearer "+s.token)
	response, err := http.DefaultClient.Do(r)
	if err != nil {
		s.t.Fatal(err)
	}
	defer response.Body.Close()
	answer, err := io.ReadAll(response.Body)
	if err != nil {
		s.t.Fatal(err)
	}
	if response.StatusCode != want {
		s.t.Fatalf("%s %s: %d, not %d: %s", method, path, response.StatusCode, want, answer)
	}
	return answer
}

type object = map[string]any

// post writes a record and gives its id.
func (s *service) post(path string, body object) string {
	s.t.Helper()
	return read[struct{ ID string }](s, s.request(http.MethodPost, path, body, http.StatusCreated)).ID
}

func read[T any](s *service, raw []byte) (v T) {
	s.t.Helper()
	if err := json.Unmarshal(raw, &v); err != nil {
		s.t.Fatal(err)
	}
	return v
}

// day gives a day of the farm, so many days from today.
func day(n int) string {
	zone, err := time.LoadLocation("America/New_York")
	if err != nil {
		panic(err)
	}
	return domain.DateIn(time.Now(), zone).AddDays(n).String()
}

// browser is one Chromium for all tests; each phone is a browser context of its own and shares nothing with the others.
func browser(t *testing.T, more ...chromedp.ExecAllocatorOption) context.Context {
	t.Helper()
	path, err := exec.LookPath("chromium")
	if err != nil {
		t.Fatalf("%v: the browser tests need chromium: apt-get install -y --no-install-recommends chromium", err)
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.UserDataDir(t.TempDir()), chromedp.DisableGPU,
		chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-quic", true))
	if os.Getuid() == 0 {
		options = append(options, chromedp.NoSandbox)
	}
	options = append(options, more...)
	allocator, stop := chromedp.NewExecAllocator(context.Background(), options...)
	t.Cleanup(stop)
	root, end := chromedp.NewContext(allocator)
	t.Cleanup(end)
	if err := chromedp.Do(root); err != nil { // starts it
		t.Fatal(err)
	}
	return root
}

// phone is a person with the app in front of them.
type phone struct {
	t    *testing.T
	ctx  context.Context
	s    *service
	taps int
}

func newPhone(t *testing.T, root context.Context, s *service) *phone {
	t.Helper()
	ctx, end := chromedp.NewContext(root, chromedp.WithNewBrowserContext())
	t.Cleanup(end)
	if err := chromedp.Do(ctx); err != nil { // the tab lives as long as the context of its first use
		t.Fatal(err)
	}
	p := &phone{t: t, ctx: ctx, s: s}
	p.do(chromedp.EmulateViewport(360, 740))
	return p
}

func (p *phone) do(steps ...chromedp.Action[chromedp.Void]) {
	p.t.Helper()
	ctx, late := context.WithTimeout(p.ctx, 15*time.Second)
	defer late()
	if err := chromedp.Do(ctx, steps...); err != nil {
		p.t.Fatalf("%v\non the page:\n%s", err, eval[string](p, `location.pathname + "\n" + document.body.innerText`))
	}
}

func eval[T any](p *phone, script string) T {
	p.t.Helper()
	ctx, late := context.WithTimeout(p.ctx, 20*time.Second)
	defer late()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[T](script, chromedp.EvalAwaitPromise))
	if err != nil {
		p.t.Fatalf("%v in %.200s", err, script)
	}
	return v
}

// do1 runs a script for what it does.
func (p *phone) do1(script string) {
	p.t.Helper()
	eval[bool](p, `(() => { `+script+`; return true })()`)
}

func (p *phone) open(path string) { p.t.Helper(); p.do(chromedp.Navigate(p.s.url() + path)) }

// text is all that can be read on the page.
func (p *phone) text() string { p.t.Helper(); return eval[string](p, `document.body.innerText`) }

// sees waits until a text can be read on the page.
func (p *phone) sees(texts ...string) {
	p.t.Helper()
	for _, text := range texts {
		deadline := time.Now().Add(12 * time.Second)
		for !strings.Contains(p.text(), text) {
			if time.Now().After(deadline) {
				p.t.Fatalf("does not see %q on\n%s", text, p.text())
			}
			time.Sleep(50 * time.Millisecond)
		}
	}
}

func (p *phone) seesNot(texts ...string) {
	p.t.Helper()
	page := p.text()
	for _, text := range texts {
		if strings.Contains(page, text) {
			p.t.Errorf("sees %q on\n%s", text, page)
		}
	}
}

// stillJS brings a thing into view and says whether it has stayed in its place since it was last asked: a page that
// still grows would let a tap fall beside it, as it would for a finger.
const stillJS = `(e => { if (!e) return false; e.scrollIntoView({block: 'center'}); const r = e.getBoundingClientRect(); const at = [r.x, r.y] + '';
	const still = e.stoodAt === at; e.stoodAt = at; return still })(%s)`

// tap taps a button or link with a text or accessible name, or anything a CSS selector names, and counts the taps. It
// brings the thing to the middle of the screen first, as a thumb would.
func (p *phone) tap(names ...string) {
	p.t.Helper()
	for _, name := range names {
		p.taps++
		find := fmt.Sprintf(`[...document.querySelectorAll("button:not([disabled]), a, summary")].find(e => e.getClientRects().length
			&& [e, ...e.querySelectorAll('*')].some(x => (x.innerText ?? '').replace(/\s+/g, ' ').trim() === %[1]q || x.ariaLabel === %[1]q))`, name)
		if css, ok := strings.CutPrefix(name, "css:"); ok {
			find = fmt.Sprintf(`document.querySelector(%q)`, css)
		}
		p.waitFor(`!!` + find)
		p.waitFor(fmt.Sprintf(stillJS, find))
		at := eval[[]float64](p, `(e => { const r = e.getBoundingClientRect(); return [r.x + r.width / 2, r.y + r.height / 2] })(`+find+`)`)
		p.do(chromedp.MouseClickXY(at[0], at[1]))
	}
}

// fill types into a field as a person who first clears it.
func (p *phone) fill(id, text string) {
	p.t.Helper()
	p.do(chromedp.WaitVisible(chromedp.ID(id)))
	eval[bool](p, fmt.Sprintf(`(e => { e.focus(); e.select(); return true })(document.getElementById(%q))`, id))
	p.do(chromedp.KeyEvent(text))
}

// write types into the field that a label, or the head of its column and row, names.
func (p *phone) write(label, text string) {
	p.t.Helper()
	find := fmt.Sprintf(`([...document.querySelectorAll('label.field')].find(l => l.innerText.replace(/\s+/g, ' ').trim().startsWith(%[1]q))
		?? [...document.querySelectorAll('td input')].find(e => e.ariaLabel === %[1]q))`, label)
	p.waitFor(`!!` + find)
	eval[bool](p, `(l => { const e = l.localName === 'input' ? l : l.htmlFor ? document.getElementById(l.htmlFor) : l.querySelector('input, textarea'); e.scrollIntoView({block: 'center'}); e.focus(); e.select(); return true })(`+find+`)`)
	p.taps++
	p.do(chromedp.KeyEvent(text))
}

func (p *phone) signIn() {
	p.t.Helper()
	p.open("/")
	p.fill("token", p.s.token)
	p.tap("Sign in")
	p.sees("Known just now", "Today")
}

// waitFor waits until a script gives true.
func (p *phone) waitFor(script string) {
	p.t.Helper()
	deadline := time.Now().Add(12 * time.Second)
	for !eval[bool](p, script) {
		if time.Now().After(deadline) {
			p.t.Fatalf("never true: %.300s\non the page:\n%s", script, p.text())
		}
		time.Sleep(60 * time.Millisecond)
	}
}
