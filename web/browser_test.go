//go:build external

package web_test

import (
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

// The app in a real browser, against the real service on a real database.
func TestApp(t *testing.T) {
	root := browser(t)
	for name, test := range map[string]func(*testing.T, func(*testing.T) (*phone, farm)){
		"sign in": signIn, "today": today, "cut": cut, "taps": taps, "spread": spread, "queue": queue, "late refusal": lateRefusal,
		"careful": careful, "Spanish": spanish, "keyboard": keyboard, "names": names, "everyone can use it": accessible, "code": code,
		"picture": picture, "seen": seen, "water": water, "graze": graze, "spray": spray, "pack and load": packAndLoad, "sign": sign, "alerts": alerts, "ask": asking, "log": logs, "pictures": pictures, "photos": photos, "refused picture": refusedPicture, "mending": mending, "mending who": mendingWho, "holding": holding, "taken back": takenBack, "lost labels": lostLabels, "water tests": waterTests, "deliveries": deliveries, "stopping": stopping, "names on paper": namesOnPaper, "shared phone": shared, "desk": desk, "imports": imports,
	} {
		t.Run(name, func(t *testing.T) {
			test(t, func(t *testing.T) (*phone, farm) {
				s := startService(t)
				f := plant(s)
				return newPhone(t, root, s), f
			})
		})
	}
}

type setUp = func(*testing.T) (*phone, farm)

func signIn(t *testing.T, set setUp) {
	p, _ := set(t)
	p.open("/")
	p.fill("token", "cm_WRONG")
	p.tap("Sign in")
	p.sees("The book does not know this token")
	// A link with the token after # signs in, and the token leaves the address.
	p.open("/app/me#" + p.s.token)
	p.do(chromedp.Reload())
	p.sees("You and this phone", "Test Hollow")
	if hash := eval[string](p, `location.hash`); hash != "" {
		t.Errorf("the token stays in the address: %s", hash)
	}
	p.tap("Sign out", "Yes, sign out and clear")
	p.sees("Sign in to the farm’s book")
	if kept := eval[string](p, storeDump); strings.Contains(kept, p.s.token) || strings.Contains(kept, "Test Hollow") {
		t.Errorf("after signing out the phone still holds %.300s", kept)
	}
}

// storeDump writes out all that IndexedDB holds.
const storeDump = `new Promise((done, fail) => {
	const r = indexedDB.open('croftmark')
	r.onerror = fail
	r.onsuccess = () => {
		const tx = r.result.transaction(['kept', 'queue']), all = tx.objectStore('kept').getAll(), queue = tx.objectStore('queue').getAll()
		tx.oncomplete = () => { r.result.close(); done(JSON.stringify([all.result, queue.result])) }
	}
})`

func today(t *testing.T, set setUp) {
	p, _ := set(t)
	p.signIn()
	p.sees("May be cut today", "Opens this week", "Stop", "Record helper, not legal advice.")
	// One line for each planting, with its word; the reason in a sentence.
	lines := eval[[]string](p, `[...document.querySelectorAll('li.line')].map(l => l.innerText.replace(/\s+/g, ' '))`)
	find := func(bed string) string {
		for _, l := range lines {
			if strings.Contains(l, bed) {
				return l
			}
		}
		t.Fatalf("no line for %s in %q", bed, lines)
		return ""
	}
	if l := find("Lower 1"); !strings.HasPrefix(l, "clear ") || !strings.Contains(l, "Cut") {
		t.Errorf("clear bed: %s", l)
	}
	if l := find("Lower 2"); !strings.HasPrefix(l, "wait ") || !strings.Contains(l, "First clear day:") || !strings.Contains(l, "120 days") {
		t.Errorf("waiting bed: %s", l)
	}
	if l := find("Lower 3"); !strings.HasPrefix(l, "stop ") || !strings.Contains(l, "never worked in") {
		t.Errorf("stopped bed: %s", l)
	}
	shapes := eval[int](p, `new Set([...document.querySelectorAll('li.line')].map(l => l.querySelector('.margin svg').innerHTML)).size`)
	words := eval[int](p, `new Set([...document.querySelectorAll('li.line .word')].map(l => l.innerText)).size`)
	if shapes != words || words < 3 {
		t.Errorf("%d words but %d shapes", words, shapes)
	}
	p.tap("Lower 2")
	p.sees("What happened to this ground", "Raw manure", "Brindle Fen", "worked in")
	if label := eval[string](p, `document.querySelector('.strip svg').getAttribute('aria-label')`); !strings.Contains(label, "Time strip from") {
		t.Errorf("the strip is called %q", label)
	}
}

func cut(t *testing.T, set setUp) {
	p, f := set(t)
	p.signIn()
	p.open("/app/cut?bed=" + f.wait + "&planting=" + f.radish)
	p.sees("Lower 2 is not clear for Radish", "needs 120 days", "law, 7 CFR 205.203", "If in doubt, do not harvest.")
	p.seesNot("Done, it is cut")

	p.open("/app/cut?bed=" + f.clear)
	p.tap("2", "4", "css:#crates", "3", "Done, it is cut")
	p.sees("Lot", "Label")
	lots := read[[]struct {
		Code       string
		Quantity   struct{ Value, Unit string }
		Containers int
		DeviceAt   string `json:"device_at"`
		DoneAt     string `json:"done_at"`
	}](p.s, p.s.request(http.MethodGet, "/v1/harvest-lots", nil, 200))
	if len(lots) != 1 || lots[0].Quantity.Value != "24" || lots[0].Quantity.Unit != "bunch" || lots[0].Containers != 3 || lots[0].DeviceAt == "" || lots[0].DoneAt == "" {
		t.Fatalf("in the book: %+v", lots)
	}
	p.sees(lots[0].Code)
	p.do(chromedp.WaitVisible(chromedp.CSS("img.picture")))
	p.waitFor(`document.querySelector('img.picture').naturalWidth > 100`)
	if name := eval[string](p, `document.querySelector('a[download]').download`); name != "label-"+lots[0].Code+".pdf" {
		t.Errorf("label file %s", name)
	}
	p.tap("Label file (PDF)")
	p.sees("The print is in the book.", "All sent")
	prints := read[[]struct{ Copies int }](p.s, p.s.request(http.MethodGet, "/v1/label-prints", nil, 200))
	if len(prints) != 1 || prints[0].Copies != 3 {
		t.Errorf("prints in the book: %+v", prints)
	}

	// What is already cut is not lost, and is held.
	p.open("/app/cut?bed=" + f.wait)
	p.tap("It is already cut", "9", "Write it down as already cut")
	p.sees("Held lot", "The lot is on hold")
}

// The budget of taps, with defaults from context: 6 for a harvest and for a pile reading.
func taps(t *testing.T, set setUp) {
	p, _ := set(t)
	p.signIn()
	count := func(what string, names ...string) {
		t.Helper()
		p.taps = 0
		p.tap(names...)
		p.sees("today")
		p.waitFor(`location.pathname.startsWith('/app/entry/')`)
		t.Logf("%s: %d taps", what, p.taps)
		if p.taps > 6 {
			t.Errorf("%s takes %d taps; 6 are allowed", what, p.taps)
		}
	}
	count("harvest from Today", "Cut Kale in Lower 1", "2", "4", "Done, it is cut")
	p.open("/app/waiting")
	count("next harvest of the same bed, from any page", "Cut", "1", "8", "Done, it is cut")
	p.open("/app/today")
	count("harvest with crates", "Cut Kale in Lower 1", "2", "css:#crates", "2", "Done, it is cut")
	p.open("/app/cut?bed=none")
	count("another bed with two crops", "Lower 5", "Tomato", "3", "0", "Done, it is cut")
	p.open("/app/today")
	count("pile reading of one point", "Pile", "1", "4", "1", "Done, write it down")
	p.open("/app/today")
	count("three points as last time", "Pile", "Top: Same as last: 141 °F", "9", "5", "Done, write it down")
	readings := read[[]struct {
		Readings []struct {
			Probe       string
			Temperature struct{ Value, Unit string }
		}
	}](p.s, p.s.request(http.MethodGet, "/v1/compost-temperatures", nil, 200))
	got := fmt.Sprint(readings)
	if len(readings) != 2 || !strings.Contains(got, "{Top {141 degF}} {Middle {95 degF}}") {
		t.Errorf("in the book: %s", got)
	}
}

func spread(t *testing.T, set setUp) {
	p, f := set(t)
	p.signIn()
	// A lot cut today is judged anew when manure of yesterday is remembered.
	lot := object{"planting_id": f.kale, "bed_ids": []string{f.clear}, "cut_on": day(0), "quantity": object{"value": "5", "unit": "lb"}}
	p.s.post("/v1/harvest-lots", lot)
	p.open("/app/spread?bed=" + f.clear)
	p.tap("Horse manure", "yesterday", "Not yet", "No", "2", ".", "5", "Done, it is spread")
	p.sees("It is in the book.", "This changes how lots already cut are judged:", "was clear, is now stop")
	list := read[[]struct {
		AppliedOn string `json:"applied_on"`
		Method    string
		Amount    struct{ Value, Unit string }
		Touched   string `json:"touched_crop"`
	}](p.s, p.s.request(http.MethodGet, "/v1/applications?limit=1", nil, 200))
	if a := list[0]; a.AppliedOn != day(-1) || a.Method != "surface" || a.Amount.Value != "2.5" || a.Amount.Unit != "yd3" || a.Touched != "no" {
		t.Errorf("in the book: %+v", a)
	}
}

// Fifty entries written without signal, over a restart of the service, with answers lost on the way: none lost, none
// doubled, and the phone is opened anew in between.
func queue(t *testing.T, set setUp) {
	p, f := set(t)
	p.signIn()
	p.waitFor(`navigator.serviceWorker.controller !== null`)
	p.s.stop()
	p.open("/app/today") // from the phone itself
	p.sees("no signal", "No signal. This is what was known", "Lower 1")

	const entries = 50
	for i := 1; i <= entries; i++ {
		eval[bool](p, fmt.Sprintf(`(async () => {
			const until = async f => { for (let i = 0; i < 500; i++) { const x = f(); if (x) return x; await new Promise(r => setTimeout(r, 10)) } throw new Error('never: ' + f) }
			const link = href => { const a = document.querySelector('nav a'); a.href = href; a.click() }
			link('/app/cut?bed=%s&n=%d')
			for (const digit of '%d') (await until(() => [...document.querySelectorAll('.pad button')].find(b => b.innerText === digit))).click(), await new Promise(r => setTimeout(r, 5))
			const done = await until(() => document.querySelector('form .main:not([disabled])'))
			done.click()
			await until(() => location.pathname.startsWith('/app/entry/'))
			return true
		})()`, f.clear, i, i))
	}
	p.sees("50 waiting", "Waiting to be sent")
	p.open("/app/waiting") // a new page: the queue must come from the store
	p.sees("50 waiting", "Waits for signal")

	// Back with signal; three answers are lost after the book has written them, and the service restarts in between.
	p.s.loseAnswers.Store(3)
	p.s.start()
	p.waitFor(`(window.dispatchEvent(new Event('online')), !document.body.innerText.includes('50 waiting'))`)
	p.s.stop()
	time.Sleep(200 * time.Millisecond)
	p.s.start()
	p.waitFor(`document.body.innerText.includes('All sent')`) // by itself, after a pause

	lots := read[[]struct {
		ID       string
		Code     string
		Quantity struct{ Value string }
	}](p.s, p.s.request(http.MethodGet, "/v1/harvest-lots?limit=500", nil, 200))
	seen, codes := map[string]int{}, map[string]bool{}
	for _, l := range lots {
		seen[l.Quantity.Value]++
		codes[l.Code] = true
	}
	for i := 1; i <= entries; i++ {
		if n := seen[fmt.Sprint(i)]; n != 1 {
			t.Errorf("entry %d is in the book %d times", i, n)
		}
	}
	if len(lots) != entries || len(codes) != entries {
		t.Errorf("%d lots with %d codes in the book, not %d", len(lots), len(codes), entries)
	}
	p.sees("Sent lately", lots[0].Code)
	if a, b, c := <-p.s.lost, <-p.s.lost, <-p.s.lost; a != 201 || b != 200 || c != 200 {
		t.Errorf("the lost answers were %d %d %d; the first is a new entry, the others find it written", a, b, c)
	}
}

// The phone believed a bed clear while somebody else wrote down manure: the refusal comes late, is shown, and nothing is
// dropped until a person decides.
func lateRefusal(t *testing.T, set setUp) {
	p, f := set(t)
	p.signIn()
	p.waitFor(`navigator.serviceWorker.controller !== null`)
	offline(p, true)
	p.tap("Cut Kale in Lower 1", "7", "Done, it is cut")
	p.sees("Waiting to be sent", "there is no lot code")
	p.open("/app/me")
	p.sees("1 entry has not been sent and would be lost")
	p.seesNot("Yes, sign out")
	f.spread(p.s, f.clear, day(-1), day(-1))
	offline(p, false)
	p.open("/app/waiting")
	p.sees("1 refused", "Refused by the book", "Lower 1", "needs 120 days", "law, 7 CFR 205.203")
	p.do(chromedp.Reload())
	p.sees("1 refused", "Send as already cut", "Discard")
	p.tap("Discard")
	p.sees("Discard it for good?")
	p.tap("No, keep it", "Send as already cut")
	p.sees("All sent", "Sent lately")
	lots := read[[]struct {
		Held bool
		Cut  bool `json:"already_cut"`
	}](p.s, p.s.request(http.MethodGet, "/v1/harvest-lots", nil, 200))
	if len(lots) != 1 || !lots[0].Held || !lots[0].Cut {
		t.Errorf("in the book: %+v", lots)
	}
	refused := read[[]object](p.s, p.s.request(http.MethodGet, "/v1/harvest-refusals", nil, 200))
	if len(refused) == 0 {
		t.Error("the refused attempt is no evidence in the book")
	}
}

// offline cuts the phone off, as between two fields, while the rest of the farm goes on.
func offline(p *phone, off bool) {
	p.t.Helper()
	p.s.deaf.Store(off)
	if !off {
		eval[bool](p, `window.dispatchEvent(new Event('online'))`)
	}
}

// Manure spread here and not sent: the phone no longer says that the bed may be cut.
func careful(t *testing.T, set setUp) {
	p, f := set(t)
	p.signIn()
	p.waitFor(`navigator.serviceWorker.controller !== null`)
	offline(p, true)
	p.tap("More", "Spread", "Horse manure", "Lower 1", "Done: 1 bed", "Yes, the same day", "Not known", "1", "Done, it is spread")
	p.sees("the phone asks to be careful with these beds")
	p.tap("Today")
	p.sees("Ask first", "as written on this phone. The book has not judged the bed with it yet.")
	p.open("/app/cut?bed=" + f.clear)
	p.sees("ask", "Lower 1 is not clear for Kale", "The book has not judged the bed with it yet.")
	p.seesNot("Done, it is cut")
	offline(p, false)
	p.tap("css:.state")
	p.sees("All sent")
	p.tap("Today")
	p.waitFor(`!document.body.innerText.includes('has not judged the bed')`)
	p.waitFor(`[...document.querySelectorAll('li.line')].some(l => /^ask\s+Lower 1/.test(l.innerText) && l.innerText.includes('nobody said whether it touched the crop'))`)
}

func spanish(t *testing.T, set setUp) {
	p, f := set(t)
	p.signIn()
	p.open("/app/me")
	p.tap("SV") // the language follows the person
	p.sees("Usted y este teléfono")
	english := []string{"Today", "Spread", "Known", "Put on hold", "Pictures", "Take a picture", "Which", "Why", "clear", "caution", "wait", "Record helper", "First clear day", "Waiting", "Done", "All sent", "days before", "never worked in"}
	for path, want := range map[string]string{
		"/app/today": "Se puede cortar hoy", "/app/cut": "¿Qué cama?", "/app/cut?bed=" + f.stop: "no está libre para Garlic", "/app/cut?bed=" + f.clear: "Listo, está cortado",
		"/app/spread": "Escoja qué se echó", "/app/pile": "Leer la pila", "/app/code": "Buscar un código", "/app/bed/" + f.wait: "Qué pasó con esta tierra",
		"/app/beds": "Camas", "/app/waiting": "Por enviar", "/app/me": "¿Quién hace el trabajo?",
		"/app/seen": "¿Qué vio?", "/app/water/field": "Goteo", "/app/graze": "¿Qué animales?", "/app/spray": "no conoce ninguna entrega", "/app/pack": "Lavar y empacar", "/app/load": "Cargar la camioneta",
		"/app/log/cold-room": "Cuarto frío", "/app/sign": "Segunda firma", "/app/alerts": "Ningún lote se cortó antes de tiempo", "/app/lately": "Anotado hace poco", "/app/holds/new": "¿Qué se retiene?", "/app/holds": "Nada está retenido.",
		"/app/back": "¿Quién lo devuelve?", "/app/lost": "¿Dónde está?", "/app/labels/x": "Dañadas", "/app/deliver": "¿Qué llegó?", "/app/water/test": "Coliformes totales", "/app/ask/new": "¿Sobre qué?",
	} {
		p.open(path)
		p.sees(want, "Ayuda para llevar registros, no consejo legal.", "Sabido ahora mismo")
		p.seesNot(english...)
		if lang := eval[string](p, `document.documentElement.lang`); lang != "es" {
			t.Errorf("%s: lang %s", path, lang)
		}
	}
	// A hold that the book put on by itself says why in the words of the page, wherever it is told.
	p.s.post("/v1/harvest-lots", object{"planting_id": f.radish, "bed_ids": []string{f.wait}, "cut_on": day(0), "quantity": object{"value": "5", "unit": "lb"}, "already_cut": true})
	held := written(p, "/v1/holds")["id"].(string)
	for _, path := range []string{"/app/holds", "/app/code/" + written(p, "/v1/harvest-lots")["code"].(string), "/app/mend/holds/" + held} {
		p.open(path)
		p.sees("A la tierra le faltaban días para poder cortarse.")
		p.seesNot("Entered as", "The ground", "wait", "already")
	}
	p.open("/app/today")
	p.sees("libre", "espere", "alto", "120 días", "Primer día libre")
	p.open("/app/cut?bed=" + f.clear)
	p.tap("8", "Listo, está cortado")
	p.sees("Lote", "Etiqueta", "8 manojos")
	people := read[[]struct {
		DoneBy  string `json:"done_by"`
		TypedBy string `json:"typed_by"`
	}](p.s, p.s.request(http.MethodGet, "/v1/harvest-lots", nil, 200))
	if people[0].DoneBy != f.oddNamed || people[0].TypedBy == f.oddNamed {
		t.Errorf("signed %+v; done by %s, typed by the owner of the token", people[0], f.oddNamed)
	}
}

// keyboard does a whole harvest with nothing but Tab, Enter and digits, and looks for the mark of focus all the way.
func keyboard(t *testing.T, set setUp) {
	p, _ := set(t)
	p.open("/")
	p.do(chromedp.WaitVisible(chromedp.ID("token")))
	focused := func() string {
		return eval[string](p, `(e => e.id || e.getAttribute('aria-label') || e.innerText.trim())(document.activeElement)`)
	}
	tabTo := func(name string) {
		t.Helper()
		for range 60 {
			p.do(chromedp.KeyEvent(kb.Tab))
			if mark := eval[bool](p, `(s => document.activeElement === document.body || s.outlineStyle === 'solid' && parseFloat(s.outlineWidth) >= 3)(getComputedStyle(document.activeElement))`); !mark {
				t.Errorf("the focus on %q can't be seen", focused())
			}
			if focused() == name {
				return
			}
		}
		t.Fatalf("Tab never reaches %q", name)
	}
	tabTo("token")
	p.do(chromedp.KeyEvent(p.s.token), chromedp.KeyEvent(kb.Enter))
	p.sees("May be cut today")
	tabTo("Cut Kale in Lower 1")
	p.do(chromedp.KeyEvent(kb.Enter))
	p.sees("How much")
	p.waitFor(`document.activeElement.tagName === 'H1'`)
	tabTo("amount")
	p.do(chromedp.KeyEvent("12"))
	tabTo("Done, it is cut")
	p.do(chromedp.KeyEvent(kb.Enter))
	p.sees("Label", "12 bunches")
	if heading := focused(); heading != "Lot" {
		t.Errorf("after the change of page the focus is on %q", heading)
	}
	p.do(chromedp.WaitVisible(chromedp.CSS("img.picture")))
	tabTo("Label file (PDF)")
	p.do(chromedp.KeyEvent(kb.Enter))
	p.sees("The print is in the book.")
	if prints := read[[]object](p.s, p.s.request(http.MethodGet, "/v1/label-prints", nil, 200)); len(prints) != 1 {
		t.Errorf("%d prints in the book", len(prints))
	}
}

func code(t *testing.T, set setUp) {
	p, f := set(t)
	p.s.post("/v1/harvest-lots", object{"planting_id": f.kale, "bed_ids": []string{f.clear}, "cut_on": day(0), "quantity": object{"value": "5", "unit": "lb"}, "containers": 2})
	lot := read[[]struct{ Code string }](p.s, p.s.request(http.MethodGet, "/v1/harvest-lots", nil, 200))[0].Code
	p.signIn()
	p.tap("Code")
	p.sees("Look up a code", "Read a picture of the label")
	p.fill("code", lot[:8])
	p.sees("the code is not whole yet")
	p.fill("code", "9"+lot[1:])
	p.sees("The check characters do not fit.")
	p.fill("code", strings.ToLower(strings.ReplaceAll(lot, "-", "")))
	p.sees("The check characters fit.")
	p.taps = 0
	p.open("/app/today")
	p.tap("Code", "css:#code")
	p.waitFor(`document.activeElement.id === 'code'`) // and the page has opened: its heading takes the focus first
	p.do(chromedp.KeyEvent(strings.ToLower(strings.ReplaceAll(lot, "-", ""))))
	p.tap("Look it up")
	t.Logf("look-up of a typed code: %d taps and the code", p.taps)
	if p.taps > 3 {
		t.Errorf("a look-up takes %d taps", p.taps)
	}
	p.sees(lot, "Kale", "Lower 1", "on the farm", "Towards the ground", "When it was cut")
	// Without signal the phone answers from what it keeps, and says so.
	p.waitFor(`navigator.serviceWorker.controller !== null`)
	p.s.stop()
	p.open("/app/code/" + lot)
	p.sees("No signal. Answered from what this phone knew", "Lower 1", "Kale")
}

// accessible runs axe on every page in both widths, and measures letters and targets itself.
func accessible(t *testing.T, set setUp) {
	axe := readAxe(t)
	p, f := set(t)
	check := func(page string) { t.Helper(); p.usable(axe, page) }
	p.open("/")
	p.sees("Sign in to the farm’s book")
	check("sign in")
	p.signIn()
	p.open("/app/cut?bed=" + f.clear)
	p.tap("2", "Done, it is cut")
	p.do(chromedp.WaitVisible(chromedp.CSS("img.picture")))
	check("lot and label")
	lot := read[[]struct{ Code string }](p.s, p.s.request(http.MethodGet, "/v1/harvest-lots", nil, 200))[0].Code
	source := well(p.s)
	p.s.post("/v1/customers", object{"name": oddBuyer, "kind": "grocer"})
	p.s.post("/v1/water-tests", object{"source_id": source, "tap": "Shed tap", "sampled_at": day(-3) + "T08:00:00-05:00", "analyte": "generic E. coli", "done_by": f.oddNamed,
		"reported_at": day(-2) + "T08:00:00-05:00", "result": object{"qualifier": "<", "value": "1", "unit": "MPN/100mL"}})
	asked := p.s.post("/v1/traceback-requests", object{"asked_by": "An inspector", "asked_at": day(0) + "T00:01:00-05:00", "for": "authority", "about": object{"lot": lot}})
	p.s.post("/v1/harvest-lots", object{"planting_id": f.tomato, "bed_ids": []string{f.twin}, "cut_on": day(0), "quantity": object{"value": "5", "unit": "lb"}})
	f.spread(p.s, f.twin, day(-1), "")
	p.s.post("/v1/holds", object{"on": object{"bed_id": f.stop}, "reason": "axe"})
	application := written(p, "/v1/applications")["id"].(string)
	for _, size := range [][2]int64{{360, 740}, {1280, 800}} {
		p.do(chromedp.EmulateViewport(size[0], size[1]))
		for path, ready := range map[string]string{
			"/app/today": "Opens this week", "/app/cut?bed=none": "Which bed?", "/app/cut?bed=" + f.stop: "not clear", "/app/cut?bed=" + f.twin: "Which crop?",
			"/app/cut?bed=" + f.clear: "How much", "/app/spread?bed=" + f.clear: "Pick what was spread", "/app/pile": "Oak heap", "/app/code": "Look it up",
			"/app/code/" + lot: "Towards the ground", "/app/bed/" + f.wait: "Brindle Fen", "/app/bed/" + f.odd: "What happened", "/app/beds": "Lower field",
			"/app/waiting": "Sent lately", "/app/me": "Who does the work?", "/app/nowhere": "no such page",
			"/app/more": "Load the van", "/app/seen": "What did you see?", "/app/water/field": "Overhead", "/app/water/wash": "Sanitizer, ppm", "/app/sources": "Old", "/app/sources/" + source: "washing",
			"/app/graze": "Which animals?", "/app/spray": "knows no delivery", "/app/pack": "What goes in?", "/app/pack?lot=" + lot: "Packed", "/app/load": "Who gets it?", "/app/log": "Cold room", "/app/log/training": "Last entries",
			"/app/sign": "Sign this one", "/app/alerts": "To do", "/app/ask": "An inspector", "/app/ask/new": "About what?", "/app/ask/" + asked: "The packet", "/app/chain/" + lot: "Lower field",
			"/app/lately": "Written lately", "/app/mend/applications/" + application: "How it came about", "/app/holds": "axe", "/app/holds/new": "What is put on hold?", "/app/holds/new?lot=" + lot: "Why?",
			"/app/back": "Who sends it back?", "/app/lost": "What may it be?", "/app/labels/" + f.batch: "Spoiled", "/app/deliver": "What came?", "/app/water/test": "Total coliform",
			"/app/batch/" + f.batch: "Readings", "/app/switch": "Share this phone now", "/app/desk": "Open it on a phone", "/app/setup": "From nothing to the first label", "/app/people": "Somebody new",
			"/app/farm": "Rules the farm answers to", "/app/things": "Deliveries", "/app/recalls": "Start one", "/app/imports": "Table (CSV)", "/app/book": "Save the checkpoint",
		} {
			p.open(path)
			p.sees(ready)
			check(fmt.Sprint(path, " at ", size[0]))
		}
	}
	// A record being mended, a hold being released, a picture at its record and on its way.
	p.do(chromedp.EmulateViewport(360, 740))
	p.open("/app/mend/applications/" + application)
	p.tap("What is wrong?", "How much", "4")
	check("mending")
	p.tap("Back", "It never happened: void it")
	check("voiding")
	p.open("/app/holds")
	p.tap("Release Lower 3")
	check("releasing")
	p.open("/app/seen?bed=" + f.odd)
	p.tap("Broken glass", "No")
	attach(p, photo(t))
	p.waitFor(`!!document.querySelector('.pictures img')`)
	check("a picture taken")
	p.tap("Done, write it down")
	p.sees("It is in the book.")
	p.waitFor(`document.querySelector('.pictures img')?.naturalWidth > 0`)
	check("a picture at its record")
	// A refused and a waiting entry.
	p.do(chromedp.EmulateViewport(360, 740))
	p.waitFor(`navigator.serviceWorker.controller !== null`)
	p.open("/app/today")
	p.sees("Lower 1")
	offline(p, true)
	p.tap("Cut Kale in Lower 1", "7", "Done, it is cut")
	p.sees("there is no lot code")
	check("an entry that waits")
	f.spread(p.s, f.clear, day(-1), day(-1))
	offline(p, false)
	p.open("/app/waiting")
	p.sees("1 refused")
	check("a refused entry")
	p.tap("Discard")
	check("asked before discarding")
}

// The manifest makes it installable, and the browser takes it.
func TestManifest(t *testing.T) {
	var m struct {
		Name     string `json:"name"`
		StartURL string `json:"start_url"`
		Display  string `json:"display"`
		Icons    []struct{ Src, Sizes string }
	}
	if err := json.Unmarshal([]byte(text(t, ask(t, "/app/croftmark.webmanifest").Body)), &m); err != nil {
		t.Fatal(err)
	}
	if m.Name == "" || m.Display != "standalone" || ask(t, m.StartURL).StatusCode != 200 || len(m.Icons) < 3 {
		t.Errorf("%+v", m)
	}
	for _, icon := range m.Icons {
		if r := ask(t, icon.Src); r.StatusCode != 200 {
			t.Errorf("%s: %d", icon.Src, r.StatusCode)
		}
	}
}
