//go:build external

package web_test

import (
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

// TestFirstRun goes from an empty database to the first label in the browser: open the farm, a plot, beds, a crop, a
// planting, the cut, the label.
func TestFirstRun(t *testing.T) {
	s := emptyService(t)
	p := newPhone(t, browser(t), s)
	p.do(chromedp.EmulateViewport(1280, 800))
	began := time.Now()
	p.open("/app/first#" + s.firstCode)
	p.sees("Open the farm’s book")
	p.write("Name of the farm", `Oak "Hollow" <b>`)
	p.write("Your name", "Ada Moss")
	p.write("Time zone", "America/New_York")
	p.tap("Open the book")
	p.sees("From nothing to the first label", "Keep this token.")
	s.token = eval[string](p, `document.querySelector('.refusal .code').innerText.trim()`)
	p.tap("I have written it down")
	p.write("Name of the plot", "Long field")
	p.tap("It is known", "Write it down")
	p.sees("What are the beds called?")
	p.write("How many?", "3")
	p.tap("Write it down")
	p.sees("3 beds", "Name of the crop")
	p.write("Name of the crop", "Kale")
	p.tap("It touches", "Write it down")
	p.sees("Planted on", "Long field 2")
	p.tap("Long field 2", "Write it down")
	p.waitFor(`!!document.querySelector('.stairs a[href="/app/cut"]')`)
	p.tap("css:.stairs a[href='/app/cut']", "Long field 2")
	p.tap("2", "4", "Done, it is cut")
	p.sees("Lot", "Label file (PDF)")
	p.tap("Label file (PDF)")
	p.sees("The print is in the book.")
	t.Logf("from nothing to the first label: %d taps and fields, %s by machine", p.taps, time.Since(began).Round(time.Second))
	lot := written(p, "/v1/harvest-lots")
	if lot["verdict_now"] != "clear" && lot["verdict_now"] != "caution" {
		t.Errorf("the first lot is judged %v", lot["verdict_now"])
	}
	farm := string(s.request(http.MethodGet, "/v1/farm", nil, 200))
	for _, want := range []string{`Oak \"Hollow\" \u003cb\u003e`, "us-organic", "us-produce-safety", "America/New_York"} {
		if !strings.Contains(farm, want) {
			t.Errorf("the farm lacks %s: %s", want, farm)
		}
	}
	p.open("/app/first#" + s.firstCode)
	p.sees("A farm is here already.")
}

// desk: people and their tokens, the rules adopted, what the farm has, a drill.
func desk(t *testing.T, set setUp) {
	p, f := set(t)
	p.do(chromedp.EmulateViewport(1280, 800))
	p.s.post("/v1/harvest-lots", object{"planting_id": f.kale, "bed_ids": []string{f.clear}, "cut_on": day(0), "quantity": object{"value": "5", "unit": "lb"}})
	lot := written(p, "/v1/harvest-lots")["code"].(string)
	p.signIn()
	p.tap("Desk", "People")
	p.write("Name", "Ida Fenn")
	p.write("PIN for a shared phone", "58241")
	p.tap("Done, write it down")
	p.waitFor(`[...document.querySelectorAll('.lines-table td')].some(c => c.innerText === 'Ida Fenn')`)
	same(t, written(p, "/v1/people"), object{"name": "Ida Fenn", "initials": "IF", "role": "crew"})
	p.tap("Ida Fenn")
	p.write("What is it for?", "own phone")
	p.tap("Make a token")
	p.sees("Show this square to the phone’s camera")
	token := eval[string](p, `[...document.querySelectorAll('p.mono')].map(e => e.innerText.trim()).find(t => t.startsWith('cm_'))`)
	owner := p.s.token
	p.s.token = token
	if me := read[object](p.s, p.s.request(http.MethodGet, "/v1/me", nil, 200)); me["name"] != "Ida Fenn" {
		t.Errorf("the token lets in %v", me["name"])
	}
	p.s.token = owner

	p.open("/app/farm")
	p.write("Certifier", "Valley Organic")
	p.tap("Save")
	p.waitFor(`(async () => (await fetch('/v1/farm', {headers: {Authorization: 'Bearer ` + owner + `'}}).then(r => r.json())).certifier === 'Valley Organic')()`)
	// Each set says what it asks for, and where that is written.
	p.tap("6 rules US organic regulations (7 CFR part 205)")
	p.sees("Wait at least 120 days from working the manure in", "law, 7 CFR 205.203(c)(1)(ii)")
	p.look("rules")
	// What everybody may see who scans a label, and numbers only a licence gives.
	p.tap("Day it was cut", "css:.leaf:nth-of-type(2) button.main")
	page := func() string {
		return string(p.s.request(http.MethodGet, fmt.Sprintf("/l/%s/%s", farmPage(p)["key"], lot), nil, 200))
	}
	p.waitFor(`[...document.querySelectorAll('.pick [aria-pressed=true]')].some(b => b.innerText.includes('Day it was cut'))`)
	for deadline := time.Now().Add(12 * time.Second); !strings.Contains(page(), day(0)); time.Sleep(60 * time.Millisecond) {
		if time.Now().After(deadline) {
			t.Fatalf("the scanned label does not tell the day: %s", page())
		}
	}
	same(t, farmPage(p), object{"public_page": "[crop farm cut-day]", "certifier": "Valley Organic"})
	p.write("Company prefix", "9521321")
	p.tap("css:.leaf:nth-of-type(3) button.main")
	p.sees("Prefixes that begin with 952 are for examples and must not stand on real produce.")
	p.write("Company prefix", "0614141")
	p.tap("One more product")
	p.write("Product 1", "kale")
	p.write("Item reference 1", "41")
	p.tap("css:.leaf:nth-of-type(3) button.main")
	p.sees("Behind the prefix 0614141 there is room for 5 digits")
	p.write("Item reference 1", "00041")
	p.tap("css:.leaf:nth-of-type(3) button.main")
	p.waitFor(`(async () => (await fetch('/v1/farm', {headers: {Authorization: 'Bearer ` + owner + `'}}).then(r => r.json())).gs1_items?.length === 1)()`)
	same(t, farmPage(p), object{"gs1_prefix": "0614141", "gs1_items": "[map[item:00041 product:kale]]", "public_page": "[crop farm cut-day]"})

	p.open("/app/things")
	p.tap("css:details summary")
	p.write("Name", oddBuyer)
	p.tap("grocer", "Write it down")
	p.sees(oddBuyer, "It is in the book.")

	p.open("/app/recalls")
	p.write("Code of a lot or crate", lot)
	p.write("Why", "autumn drill")
	p.tap("Start it")
	p.sees("A drill", "autumn drill", lot, "What is accounted for", "100%")

	p.open("/app/book")
	p.sees(fmt.Sprint(read[object](p.s, p.s.request(http.MethodGet, "/v1/book/checkpoint", nil, 200))["size"], " entries"), "Public key")
}

func farmPage(p *phone) object {
	p.t.Helper()
	return read[object](p.s, p.s.request(http.MethodGet, "/v1/farm", nil, 200))
}

// imports tries a table, shows what is to be mended by line, and writes it when nothing stands in the way.
func imports(t *testing.T, set setUp) {
	p, _ := set(t)
	file := func(name string, rows ...string) string {
		path := filepath.Join(t.TempDir(), name)
		if err := os.WriteFile(path, []byte(strings.Join(rows, "\n")+"\n"), 0o644); err != nil {
			t.Fatal(err)
		}
		return path
	}
	choose := func(path string) {
		p.do(chromedp.SetUploadFiles(chromedp.CSS(`input[type="file"]`), []string{path}))
		p.tap("Try it")
	}
	count := func() int { return len(read[[]object](p.s, p.s.request(http.MethodGet, "/v1/customers", nil, 200))) }
	p.signIn()
	p.open("/app/imports")
	p.tap("Buyers")
	choose(file("bad.csv", "name,kind", "The Tin Larder,grocer", `"<b>No kind</b>",castle`))
	p.sees("2 rows read", "To mend first", "line 3")
	p.seesNot("rows into the book")
	choose(file("good.csv", "name,kind", "The Tin Larder,grocer", "Upper School,school"))
	p.sees("2 rows read", "Nothing stands in the way.")
	if n := count(); n != 0 {
		t.Errorf("a dry run wrote %d buyers", n)
	}
	p.tap(fmt.Sprintf("Write %d rows into the book", 2))
	p.sees("2 records are in the book.")
	if n := count(); n != 2 {
		t.Errorf("%d buyers in the book", n)
	}
}
