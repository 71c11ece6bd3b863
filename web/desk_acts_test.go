//go:build external

package web_test

import (
	"bytes"
	"context"
	"encoding/base64"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"croftmark/post"
	"croftmark/storage"
)

// What is done at the desk, in a window of a laptop.
func TestDesk(t *testing.T) {
	root := browser(t)
	for name, test := range map[string]func(*testing.T, *phone, farm){
		"lay beds anew": layAnew, "links for buyers": buyerLinks, "files": files, "papers": papers, "a packet and its time": packet, "daily messages": dailyMessages, "places by keyboard": placesByKeyboard, "drawings on paper": onPaper,
	} {
		t.Run(name, func(t *testing.T) {
			s := startService(t)
			f := plant(s)
			p := newPhone(t, root, s)
			p.do(chromedp.EmulateViewport(1280, 800))
			p.signIn()
			test(t, p, f)
		})
	}
}

// layAnew re-lays two beds as three, and takes one piece of old ground away from one of them.
func layAnew(t *testing.T, p *phone, f farm) {
	p.open("/app/layout")
	p.tap("Lower field", "Lower 1", "Lower 2")
	p.write("What are the new beds called?", "Long")
	p.write("How many?", "3")
	p.sees("Each new bed lies on all of the old ones")
	p.tap(`css:input[aria-label="Long 1 lies on Lower 2"]`)
	p.tap("Lay them anew")
	p.sees("The new beds are in the book")
	laid := written(p, "/v1/bed-layouts")
	if got := len(laid["retire"].([]any)); got != 2 {
		t.Errorf("%d beds end", got)
	}
	for i, want := range [][]any{{f.clear}, {f.clear, f.wait}, {f.clear, f.wait}} {
		bed := laid["lay"].([]any)[i].(object)
		over := bed["over"].([]any)
		if bed["name"] != fmt.Sprint("Long ", i+1) || len(over) != len(want) || !slices.Equal(over, want) {
			t.Errorf("bed %d: %v, not over %v", i, bed, want)
		}
	}
	// The ground under the new beds keeps its manure.
	p.open("/app/bed/" + laid["lay"].([]any)[1].(object)["id"].(string))
	p.sees("Long 2", "Brindle Fen")
	p.open("/app/bed/" + laid["lay"].([]any)[0].(object)["id"].(string))
	p.sees("Long 1", "Kale", "The book knows of nothing that was put on this ground.") // what stands there is cut under the new name
	p.seesNot("Brindle Fen")
}

// shipped cuts, packs nothing, and ships a lot to a buyer; it gives the lot's code.
func shipped(p *phone, f farm) (code, buyer string) {
	buyer = p.s.post("/v1/customers", object{"name": oddBuyer, "kind": "grocer"})
	p.s.post("/v1/harvest-lots", object{"planting_id": f.kale, "bed_ids": []string{f.clear}, "cut_on": day(0), "quantity": object{"value": "5", "unit": "lb"}})
	code = written(p, "/v1/harvest-lots")["code"].(string)
	p.s.post("/v1/shipments", object{"customer_id": buyer, "shipped_at": time.Now().Format(time.RFC3339), "lines": []object{{"lot": code, "quantity": object{"value": "2", "unit": "lb"}}},
		"reference": object{"type": "invoice", "number": "2042"}})
	return code, buyer
}

func status(t *testing.T, url string) int {
	t.Helper()
	response, err := http.Get(url)
	if err != nil {
		t.Fatal(err)
	}
	response.Body.Close()
	return response.StatusCode
}

// buyerLinks makes a link for a shipment, opens its address as the buyer, makes the address anew, and ends it.
func buyerLinks(t *testing.T, p *phone, f farm) {
	_, buyer := shipped(p, f)
	p.do(chromedp.Reload())
	p.sees("Known just now")
	p.open("/app/links")
	p.sees("None yet.")
	p.tap(oddBuyer)
	p.tap("css:.pick.wide button", "Make the link")
	p.sees("it is shown once")
	same(t, written(p, "/v1/buyer-links"), object{"customer_id": buyer})
	address := func() string { return eval[string](p, `document.querySelector('.once input').value`) }
	first := address()
	if got := status(t, first); got != 200 {
		t.Errorf("the buyer gets %d", got)
	}
	p.tap("Copy it")
	p.sees("opied")
	p.tap("Done")
	p.seesNot("it is shown once")
	p.tap("css:.plain .acts button:first-child")
	p.sees("it is shown once")
	second := address()
	if status(t, first) == 200 || status(t, second) != 200 {
		t.Errorf("the old address answers %d, the new one %d", status(t, first), status(t, second))
	}
	p.tap("css:.plain .acts button:last-child")
	p.write("Why does it end?", "sent to the wrong buyer")
	p.tap("End it now")
	p.sees("has ended")
	if got := status(t, second); got == 200 {
		t.Error("an ended link still opens")
	}
}

// onePage is a PDF of one empty page.
func onePage() []byte {
	var b bytes.Buffer
	var at []int
	b.WriteString("%PDF-1.4\n")
	for i, object := range []string{"<</Type/Catalog/Pages 2 0 R>>", "<</Type/Pages/Kids[3 0 R]/Count 1>>", "<</Type/Page/Parent 2 0 R/MediaBox[0 0 200 200]>>"} {
		at = append(at, b.Len())
		fmt.Fprintf(&b, "%d 0 obj%sendobj\n", i+1, object)
	}
	table := b.Len()
	fmt.Fprintf(&b, "xref\n0 4\n0000000000 65535 f \n")
	for _, offset := range at {
		fmt.Fprintf(&b, "%010d 00000 n \n", offset)
	}
	fmt.Fprintf(&b, "trailer<</Size 4/Root 1 0 R>>\nstartxref\n%d\n%%%%EOF\n", table)
	return b.Bytes()
}

// files sends a lab report and names it in the water test it belongs to; what is no such file is refused in words.
func files(t *testing.T, p *phone, f farm) {
	source := well(p.s)
	p.s.post("/v1/water-tests", object{"source_id": source, "tap": "Shed tap", "sampled_at": day(-3) + "T08:00:00-05:00", "analyte": "generic E. coli", "done_by": f.oddNamed,
		"reported_at": day(-2) + "T08:00:00-05:00", "result": object{"qualifier": "<", "value": "1", "unit": "MPN/100mL"}})
	file := func(name string, content []byte) string {
		path := filepath.Join(t.TempDir(), name)
		if err := os.WriteFile(path, content, 0o644); err != nil {
			t.Fatal(err)
		}
		return path
	}
	choose := func(path string) { p.do(chromedp.SetUploadFiles(chromedp.CSS(`input[type="file"]`), []string{path})) }
	p.open("/app/files")
	p.sees("None yet.")
	choose(file("broken.pdf", []byte("%PDF-1.4\nhalf a file")))
	p.tap("Send it")
	p.sees("The PDF breaks off before its end")
	choose(file(`lab "4471" <b>.pdf`, onePage()))
	p.write("What is it?", "October sample")
	p.tap("Send it")
	p.sees("It belongs to a record:", "October sample")
	sent := written(p, "/v1/attachments")
	p.tap("Water test", "css:.pick.wide button", "Name it in this record")
	p.sees("names 1 file")
	if got := written(p, "/v1/water-tests")["attachments"]; !slices.Equal(got.([]any), []any{sent["hash"]}) {
		t.Errorf("the water test names %v, not %v", got, sent["hash"])
	}
	if got := len(p.fetched("Save a copy")); got != len(onePage()) {
		t.Errorf("the copy has %d bytes, not %d", got, len(onePage()))
	}
}

// fetched taps a button and gives the file that the browser is handed.
func (p *phone) fetched(name string) []byte {
	p.t.Helper()
	p.do1(`window.handed = []; if (!window.make) { window.make = URL.createObjectURL; URL.createObjectURL = file => { handed.push(file); return window.make(file) } }`)
	p.tap(name)
	p.waitFor(`handed.length === 1`)
	content, err := base64.StdEncoding.DecodeString(eval[string](p, `new Promise((done, fail) => { const r = new FileReader(); r.onload = () => done(r.result.split(',')[1]); r.onerror = fail; r.readAsDataURL(handed[0]) })`))
	if err != nil {
		p.t.Fatal(err)
	}
	return content
}

// papers fetches the binder, the plan and a blank form, stops one on its way, and makes and ends a calendar's address.
func papers(t *testing.T, p *phone, f farm) {
	p.open("/app/papers")
	p.sees("Binder for an inspection")
	p.tap("Organic", "Kale")
	for _, name := range []string{"Get the binder (PDF)", "Get the plan (PDF)", "Worker training"} {
		if got := p.fetched(name); !bytes.HasPrefix(got, []byte("%PDF-")) {
			t.Errorf("%s: %.40q", name, got)
		}
	}
	// A binder that takes long can be stopped.
	p.do1(`window.real = fetch; window.fetch = (path, init) => new Promise((_, no) => init.signal.addEventListener('abort', () => no(new DOMException('stopped', 'AbortError'))))`)
	p.tap("Get the binder (PDF)")
	p.sees("Stop")
	p.tap("Stop")
	p.waitFor(`![...document.querySelectorAll('button')].some(b => b.innerText === 'Stop')`)
	p.do1(`window.fetch = window.real`)

	p.tap("Make my address")
	p.sees("it is shown once")
	address := eval[string](p, `document.querySelector('.once input').value`)
	if got := status(t, address); got != 200 {
		t.Errorf("the calendar answers %d", got)
	}
	p.tap("End my address")
	p.sees("opens nothing any more")
	if got := status(t, address); got == 200 {
		t.Error("an ended calendar still opens")
	}
}

// hook is where a webhook of the test leads. It answers with a status, and keeps what came with a letter.
type hook struct {
	*httptest.Server
	status atomic.Int64
	came   chan hookLetter
}

type hookLetter struct {
	timestamp, signature string
	body                 []byte
}

func newHook(t *testing.T) *hook {
	h := &hook{came: make(chan hookLetter, 20)}
	h.status.Store(http.StatusNoContent)
	h.Server = httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		body, _ := io.ReadAll(r.Body)
		h.came <- hookLetter{r.Header.Get(post.HeaderTimestamp), r.Header.Get(post.HeaderSignature), body}
		w.WriteHeader(int(h.status.Load()))
	}))
	t.Cleanup(h.Close)
	return h
}

// dailyMessages asks for a message by webhook, checks its signature with the secret that the page showed, sees why one that
// failed did not arrive, and ends it. What can't be sent is refused beside its field.
func dailyMessages(t *testing.T, p *phone, f farm) {
	h := newHook(t)
	listed := func() []object {
		return read[[]object](p.s, p.s.request(http.MethodGet, "/v1/daily-messages", nil, 200))
	}
	p.open("/app/messages")
	p.sees("None yet.")
	p.write("E-mail address", "maren@example.farm")
	p.tap("Ask for it")
	p.sees("This service sends no e-mail.")
	p.tap("css:.pick button:nth-child(2)")
	p.write("Address (https://…)", "not an address")
	p.tap("Ask for it")
	p.sees("Give an address that begins with https://")
	p.waitFor(`(e => document.activeElement === e && document.getElementById(e.getAttribute('aria-describedby')).innerText.includes('begins with https://'))(document.querySelector('[aria-invalid="true"]'))`) // what is wrong stands beside its field
	if n := len(listed()); n != 0 {
		t.Fatalf("%d messages after two that were refused", n)
	}
	p.write("Address (https://…)", h.URL+"/due")
	p.do1(`const e = document.querySelector('select'); e.value = '5'; e.dispatchEvent(new Event('change', {bubbles: true}))`)
	p.tap("Español", "Ask for it")
	p.sees("it is shown once", "to nobody else")
	secret := eval[string](p, `document.querySelector('.once input').value`)
	same(t, listed()[0], object{"way": "webhook", "to": h.URL + "/due", "hour": 5.0, "language": "es"})
	p.look("message-asked")
	p.tap("Done")
	p.seesNot("it is shown once")

	test := `css:.plain .acts button:first-child`
	p.tap(test)
	p.sees("The test was sent.")
	letter := <-h.came
	if want := post.Sign(secret, letter.timestamp, letter.body); letter.signature != want {
		t.Errorf("the secret that was shown signs %s, the letter bears %s", want, letter.signature)
	}
	p.tap(test) // a second one within the minute
	p.sees("The test was not sent:", "within the minute")

	// The queue's clock stands at tomorrow noon: the message is due, and its webhook takes none.
	noon, err := time.Parse(time.RFC3339, day(1)+"T12:00:00-05:00")
	if err != nil {
		t.Fatal(err)
	}
	shift := time.Until(noon)
	h.status.Store(http.StatusServiceUnavailable)
	ahead, err := storage.Open(t.Context(), storage.Config{OwnerURL: p.s.owner, ServiceURL: p.s.service, Now: func() time.Time { return time.Now().Add(shift) }})
	if err != nil {
		t.Fatal(err)
	}
	defer ahead.Close()
	sender, err := post.New(post.Config{WebhookPrivate: true})
	if err != nil {
		t.Fatal(err)
	}
	queue, err := storage.NewQueue(ahead, storage.QueueConfig{Send: sender.Send, Log: slog.New(slog.DiscardHandler), Every: 50 * time.Millisecond, Poll: 50 * time.Millisecond, Waits: []time.Duration{time.Millisecond}})
	if err != nil {
		t.Fatal(err)
	}
	queue.Start()
	for end := time.Now().Add(20 * time.Second); listed()[0]["error"] == nil; time.Sleep(50 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("the queue notes no failure: %v", listed())
		}
	}
	if err := queue.Stop(t.Context()); err != nil {
		t.Fatal(err)
	}
	p.open("/app/messages")
	p.sees("It did not arrive", "the webhook answered 503")
	p.tap("css:header .who", "Español")
	p.open("/app/messages")
	p.sees("No llegó", "el webhook contestó 503")
	p.usable(readAxe(t), "a failed message")
	p.look("message-failed")
	p.tap("css:.plain .acts button:last-child", "Sí, terminarlo")
	p.sees("Todavía ninguno.")
	if n := len(listed()); n != 0 {
		t.Errorf("%d messages after the only one was ended", n)
	}
}

// packet asks with a time to answer by, and fetches the answer in every form.
func packet(t *testing.T, p *phone, f farm) {
	lot, _ := shipped(p, f)
	// A phone on the farm; the hour is told on the farm's clock.
	p.do(chromedp.Func(func(ctx context.Context, t *chromedp.Target) error {
		_, err := cdp.Call(ctx, t, emulation.SetTimezoneOverride, emulation.SetTimezoneOverrideParams{TimezoneID: "America/New_York"})
		return err
	}))
	p.open("/app/ask/new")
	p.tap("Inspector or agency")
	p.write("Who asks?", "An inspector")
	p.write("Code on the label", lot)
	p.do1(`const e = document.querySelector('input[type="datetime-local"]'); e.value = '` + day(2) + `T15:30'; e.dispatchEvent(new Event('input', {bubbles: true}))`)
	p.tap("Done, write it down")
	p.sees("The packet", "15:30")
	due, _ := written(p, "/v1/traceback-requests")["due_at"].(string)
	at, err := time.Parse(time.RFC3339, due)
	farmZone, zoneErr := time.LoadLocation("America/New_York")
	if err != nil || zoneErr != nil || at.In(farmZone).Format("2006-01-02T15:04") != day(2)+"T15:30" {
		t.Errorf("due %q (%v, %v)", due, err, zoneErr)
	}
	for name, begins := range map[string]string{"To print (PDF)": "%PDF-", "Table (XLSX)": "PK", "Files (CSV)": "PK", "Tracking events (EPCIS)": "{"} {
		if got := p.fetched(name); !bytes.HasPrefix(got, []byte(begins)) {
			t.Errorf("%s: %.40q", name, got)
		}
	}
}

// placesByKeyboard reaches each of the desk's places with the keyboard alone, sees where the focus is, and reaches everything
// that can be done on each.
func placesByKeyboard(t *testing.T, p *phone, f farm) {
	p.open("/app/desk")
	p.sees("Open it on a phone")
	places := eval[[]string](p, `[...document.querySelectorAll('.column.second a')].map(a => a.pathname)`)
	if len(places) < 11 {
		t.Fatalf("only %q", places)
	}
	for _, place := range places {
		p.open(place)
		p.waitFor(noneLoads)
		p.do1(`document.querySelectorAll('details').forEach(d => d.open = true)`)
		want := eval[int](p, `[...document.querySelectorAll('a, button:not([disabled]), input, select, textarea, summary, [tabindex="0"]')].filter(e => e.getClientRects().length || e.classList.contains('skip')).length`)
		p.do1(`document.activeElement.blur(); window.reached = new Set(); window.blind = []; document.addEventListener('focusin', e => { reached.add(e.target);
			if (e.target.matches(':focus-visible') && parseFloat(getComputedStyle(e.target).outlineWidth) < 3) blind.push(e.target.outerHTML.slice(0, 100)) })`)
		// A field for a day takes a key for each of its parts.
		for range want + 2 + 5*eval[int](p, `document.querySelectorAll('input[type="date"]').length`) {
			p.do(chromedp.KeyEvent(kb.Tab))
		}
		if got := eval[int](p, `[...reached].filter(e => e.isConnected && e !== document.body).length`); got < want {
			t.Errorf("%s: the keyboard reaches %d of %d", place, got, want)
		}
		for _, blind := range eval[[]string](p, `blind`) {
			t.Errorf("%s: nobody sees the focus on %s", place, blind)
		}
	}
	p.open("/app/desk")
	p.waitFor(noneLoads)
	p.do1(`document.querySelector('.column.second a[href="/app/papers"]').focus()`)
	p.do(chromedp.KeyEvent(kb.Enter))
	p.sees("Binder for an inspection")
	if on := eval[string](p, `document.activeElement.tagName`); on != "H1" {
		t.Errorf("after opening a place the focus is on %s", on)
	}
}

// onPaper prints every drawing: black on white, without buttons and places, with the same in words beside it.
func onPaper(t *testing.T, p *phone, f farm) {
	lot, _ := shipped(p, f)
	source := well(p.s)
	p.s.post("/v1/water-tests", object{"source_id": source, "tap": "Shed tap", "sampled_at": day(-3) + "T08:00:00-05:00", "analyte": "generic E. coli", "done_by": f.oddNamed,
		"reported_at": day(-2) + "T08:00:00-05:00", "result": object{"qualifier": "<", "value": "1", "unit": "MPN/100mL"}})
	p.s.post("/v1/compost-batches/"+f.batch+"/temperatures", object{"readings": []object{{"taken_at": time.Now().Add(-time.Hour).Format(time.RFC3339), "probe": "north", "temperature": object{"value": "141", "unit": "degF"}}}})
	p.do(chromedp.Reload())
	p.sees("Known just now")
	for path, words := range map[string][]string{
		"/app/beds": {"Lower 2", "wait", "120 days"}, "/app/bed/" + f.wait: {"Lower 2", "Raw manure", "Brindle Fen", "today"}, "/app/chain/" + lot: {lot, "Lower 1", "Kale"},
		"/app/batch/" + f.batch: {"Oak heap", "141 °F", "north"}, "/app/sources/" + source: {"washing"},
	} {
		p.open(path)
		p.sees(words[0])
		p.waitFor(`document.querySelectorAll('.plan, .strip svg, .drawn img').length > 0 && [...document.images].every(i => i.complete)`)
		paper, err := chromedp.Run(p.ctx, chromedp.PrintToPDF())
		if err != nil {
			t.Fatal(err)
		}
		file := filepath.Join(t.TempDir(), "paper.pdf")
		if err := os.WriteFile(file, paper, 0o644); err != nil {
			t.Fatal(err)
		}
		text, err := exec.Command("pdftotext", "-layout", file, "-").Output()
		if err != nil {
			t.Fatalf("pdftotext, of poppler-utils: %v", err)
		}
		for _, word := range words {
			if !strings.Contains(string(text), word) {
				t.Errorf("%s on paper lacks %q:\n%s", path, word, text)
			}
		}
		for _, word := range []string{"Known just now", "Load the van", "Print this page", "Spread here"} {
			if strings.Contains(string(text), word) {
				t.Errorf("%s on paper shows %q", path, word)
			}
		}
		if folder := os.Getenv("CROFTMARK_SCREENS"); folder != "" {
			if err := os.WriteFile(filepath.Join(folder, "paper-"+shapeOf(path)+".pdf"), paper, 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
}
