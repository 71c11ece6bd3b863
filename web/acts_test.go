//go:build external

package web_test

import (
	"bytes"
	"fmt"
	"net/http"
	"regexp"
	"strings"
	"testing"
)

// written gives the newest record of a collection.
func written(p *phone, path string) object {
	p.t.Helper()
	list := read[[]object](p.s, p.s.request(http.MethodGet, path+"?limit=1", nil, 200))
	if len(list) == 0 {
		p.t.Fatalf("nothing in %s", path)
	}
	return list[0]
}

func same(t *testing.T, record object, want object) {
	t.Helper()
	for key, v := range want {
		if fmt.Sprint(record[key]) != fmt.Sprint(v) {
			t.Errorf("%s is %v, not %v", key, record[key], v)
		}
	}
}

// well is a source with a tap for the field and one for the shed.
func well(s *service) string {
	s.t.Helper()
	return s.post("/v1/water-sources", object{"name": `Old "well" <b>`, "kind": "untreated-ground", "points": []object{
		{"tap": "Field hydrant", "use": "irrigation-touching"}, {"tap": "Shed tap", "use": "washing"}}})
}

// seen writes down droppings. Unsent, they make the phone careful about the bed; in the book they speak at the next check.
func seen(t *testing.T, set setUp) {
	p, f := set(t)
	p.signIn()
	p.waitFor(`navigator.serviceWorker.controller !== null`)
	offline(p, true)
	p.tap("More", "What I saw", "Droppings", "Lower 1", "Yes")
	p.write("Which part of the bed?", "north end")
	p.tap("Done, write it down")
	p.sees("Waiting to be sent")
	p.open("/app/cut?bed=" + f.clear)
	p.sees("Droppings: seen on this bed on", "Lower 1 is not clear for Kale")
	offline(p, false)
	p.open("/app/waiting")
	p.sees("All sent")
	same(t, written(p, "/v1/findings"), object{"kind": "droppings", "touched_crop": "yes", "part": "north end"})
	p.open("/app/today")
	p.waitFor(`[...document.querySelectorAll('li.line')].some(l => l.innerText.includes('Lower 1') && l.innerText.includes('Droppings were found'))`)
}

func water(t *testing.T, set setUp) {
	p, _ := set(t)
	source := well(p.s)
	p.s.post("/v1/water-treatments", object{"source_id": source, "tap": "Shed tap", "tank": "Tub 1", "taken_at": day(-1) + "T08:00:00-05:00", "ppm": "60", "ph": "6.8",
		"product": object{"name": "Brightwash 15", "kind": "peracetic-acid", "registration": "00000-0", "percent": "15", "specific_gravity": "1.15", "label_low_ppm": "40", "label_high_ppm": "80"}})
	p.signIn()
	p.tap("More", "Water", "Watered the field", "Lower 1", "Overhead", "Yes", "Done, write it down")
	p.sees("Watered", "It is in the book.", `Old "well" <b>`) // the only source there is, picked by itself
	same(t, written(p, "/v1/irrigations"), object{"method": "overhead", "tap": "Field hydrant", "touched_crop": "yes", "source_id": source})
	p.open("/app/water/wash")
	p.sees("Brightwash 15, label 40 to 80 ppm, as at the last reading")
	p.taps = 0
	p.tap("css:#ppm", "7", "2", "css:#ph", "6", ".", "5", "Done, write it down")
	p.sees("It is in the book.")
	same(t, written(p, "/v1/water-treatments"), object{"ppm": "72", "ph": "6.5", "tank": "Tub 1", "tap": "Shed tap"})
	if product, _ := written(p, "/v1/water-treatments")["product"].(map[string]any); product["label_high_ppm"] != "80" {
		t.Errorf("the label's numbers were not taken over: %v", product)
	}
	p.open("/app/sources")
	p.tap(`Old "well" <b>`)
	p.sees("washing", "21 CFR 112.44")
}

func graze(t *testing.T, set setUp) {
	p, _ := set(t)
	p.signIn()
	p.tap("More", "Animals on the ground", "Chickens", "Lower 5", "Done, write it down")
	p.sees("Animals on the ground", "It is in the book.")
	same(t, written(p, "/v1/grazings"), object{"species": "Chickens", "from": day(0), "to": nil})
	// Remembered late, with the reason; the last day decides.
	p.open("/app/graze")
	p.tap("Sheep", "Lower 5")
	eval[bool](p, `(e => { e.click(); return true })([...document.querySelectorAll('fieldset')].find(f => f.innerText.startsWith('From when')).querySelectorAll('button')[2])`)
	p.do1(`(e => { e.value = '` + day(-20) + `'; e.dispatchEvent(new Event('input', {bubbles: true})) })(document.querySelector('input[type=date]'))`)
	eval[bool](p, `(e => { e.click(); return true })([...document.querySelectorAll('fieldset')].find(f => f.innerText.startsWith('Until when')).querySelectorAll('button')[1])`)
	p.do1(`(e => { e.value = '` + day(-10) + `'; e.dispatchEvent(new Event('input', {bubbles: true})) })(document.querySelectorAll('input[type=date]')[1])`)
	p.write("Why is it written down later?", "nobody told the shed")
	p.tap("Done, write it down")
	p.sees("It is in the book.")
	same(t, written(p, "/v1/grazings"), object{"species": "Sheep", "from": day(-20), "to": day(-10), "late_reason": "nobody told the shed"})
}

// spray writes what its label asks for, and the bed waits for it; without the label the book asks. us-rules 3.3: the days of
// the label of that product on that crop, FIFRA [memory].
func spray(t *testing.T, set setUp) {
	p, f := set(t)
	soap := p.s.post("/v1/inputs", object{"name": "Neem soap", "category": "crop-protection"})
	p.s.post("/v1/input-lots", object{"input_id": soap, "supplier": "Brindle Fen", "received_on": day(-30), "quantity": object{"value": "2", "unit": "gal"}})
	cut := p.s.post("/v1/harvest-lots", object{"planting_id": f.kale, "bed_ids": []string{f.clear}, "cut_on": day(0), "quantity": object{"value": "24", "unit": "lb"}})
	p.signIn()
	p.taps = 0
	p.tap("More", "Spray", "Neem soap", "Lower 1", "Done: 1 bed", "Kale, 24 lb", "On the plants", "3 days", "12 h", "1", "Done, it is sprayed")
	p.sees("Sprayed", "Neem soap", "It is in the book.", "By its label what stood here may be cut from")
	t.Logf("spray a bed: %d taps", p.taps)
	same(t, written(p, "/v1/applications"), object{"method": "foliar", "days_to_harvest": 3, "restricted_entry_hours": 12, "touched_crop": "yes", "applied_on": day(0), "cut_before": []any{cut}, "amount": object{"value": "1", "unit": "gal"}})
	p.open("/app/bed/" + f.clear)
	p.sees("the days to harvest on its label are not over", "First clear day", "Crop protection", "3 days to harvest")
	p.tap("css:a[href^='/app/mend/applications/']")
	p.sees("Sprayed", "Neem soap", "days to harvest on the label", "cut and off the bed before")
	p.tap("What is wrong?")
	p.sees("Days to harvest on the label")
	p.seesNot("Worked in on")
	p.tap("What was cut before", "css:fieldset.ruled button[aria-pressed=true]", "Wrong day", "Done, mend it")
	p.sees("This changes how lots already cut are judged", "was clear, is now wait")
	// Without the label, and without a signal: the phone is careful by itself, and the book asks once it knows.
	p.open("/app/spray?bed=" + f.twin)
	offline(p, true)
	p.tap("Neem soap", "On the soil", "Label not at hand")
	p.sees("the book asks before anything that stood here is cut")
	p.tap("2", "Done, it is sprayed")
	p.sees("waiting to be sent")
	p.tap("Today")
	p.sees("The book has not judged the bed with it yet")
	offline(p, false)
	p.open("/app/bed/" + f.twin)
	p.sees("nobody wrote down the days to harvest")
	same(t, written(p, "/v1/applications"), object{"method": "drench", "days_to_harvest": nil, "restricted_entry_hours": nil, "touched_crop": "no"})
}

// packAndLoad takes a lot from the field through the shed into the van, and counts the taps.
func packAndLoad(t *testing.T, set setUp) {
	p, f := set(t)
	p.s.post("/v1/harvest-lots", object{"planting_id": f.kale, "bed_ids": []string{f.clear}, "cut_on": day(0), "quantity": object{"value": "24", "unit": "lb"}})
	p.s.post("/v1/harvest-lots", object{"planting_id": f.radish, "bed_ids": []string{f.wait}, "cut_on": day(0), "quantity": object{"value": "9", "unit": "lb"}, "already_cut": true})
	p.s.post("/v1/customers", object{"name": oddBuyer, "kind": "grocer"})
	p.signIn()
	p.taps = 0
	p.tap("More", "Wash and pack", "Kale", "6", "Done, it is packed")
	p.sees("Packed lot", "6 crates, each with its own code", "Label")
	t.Logf("pack a whole lot into 6 crates: %d taps", p.taps)
	if p.taps > 6 {
		t.Errorf("packing takes %d taps", p.taps)
	}
	pack := written(p, "/v1/pack-lots")
	same(t, pack, object{"product": "Kale", "quantity": object{"value": "24", "unit": "lb"}, "crates": 6})
	p.taps = 0
	p.tap("Load it", oddBuyer)
	p.sees("6 things loaded")
	p.write("Its number", "INV-7")
	p.tap("Done, it is loaded")
	p.sees("Loaded", "INV-7", "It is in the book.")
	t.Logf("load all of it: %d taps and the number of the paper", p.taps)
	shipped := fmt.Sprint(written(p, "/v1/shipments")["lines"])
	for _, crate := range pack["crate_codes"].([]any) {
		if !strings.Contains(shipped, crate.(string)) {
			t.Errorf("crate %s is not in %s", crate, shipped)
		}
	}
	// What is held is offered neither for packing nor for loading, and that is said.
	p.open("/app/pack")
	p.sees("Nothing is on hand to pack.", "1 held lot is not shown.")
	p.open("/app/load")
	p.sees("Nothing is on hand to load.")

	// Some crates of a lot, by their codes.
	p.s.post("/v1/harvest-lots", object{"planting_id": f.kale, "bed_ids": []string{f.clear}, "cut_on": day(0), "quantity": object{"value": "8", "unit": "lb"}, "containers": 4})
	lot := written(p, "/v1/harvest-lots")["code"].(string)
	p.open("/app/load")
	p.tap(oddBuyer)
	p.write("Code of a crate", pack["crate_codes"].([]any)[0].(string))
	p.tap("Add it")
	p.sees("is not on hand, or it is held.")
	crate := read[[]struct {
		Code   string
		Crates []struct{ Code string }
	}](p.s, p.s.request(http.MethodGet, "/v1/lots", nil, 200))[0]
	if crate.Code != lot || len(crate.Crates) != 4 {
		t.Fatalf("on hand: %+v, not lot %s", crate, lot)
	}
	p.write("Code of a crate", crate.Crates[1].Code)
	p.tap("Add it")
	p.sees("1 thing loaded")
	p.write("Its number", "INV-8")
	p.tap("Done, it is loaded")
	p.sees("Loaded", "INV-8")
	if lines := fmt.Sprint(written(p, "/v1/shipments")["lines"]); !strings.Contains(lines, crate.Crates[1].Code) || strings.Contains(lines, crate.Crates[0].Code) {
		t.Errorf("loaded: %s", lines)
	}
}

func sign(t *testing.T, set setUp) {
	p, f := set(t)
	source := well(p.s)
	for _, tap := range []string{"Shed tap", "Field hydrant"} {
		p.s.post("/v1/water-tests", object{"source_id": source, "tap": tap, "sampled_at": day(-3) + "T08:00:00-05:00", "reported_at": day(-2) + "T08:00:00-05:00", "analyte": "generic E. coli",
			"result": object{"qualifier": "<", "value": "1", "unit": "MPN/100mL"}, "lab": `Lab "5" <i>`, "done_by": f.oddNamed})
	}
	p.signIn()
	p.tap("More", "Sign")
	p.sees("21 CFR 112.50", `Lab "5" <i>`, "<1 MPN/100mL", `שרה "Sol" <i>Vega</i>`)
	p.tap("Pick all", "Sign the 2 picked")
	p.sees("2 signed.", "Nothing waits for a second signature.")
	test := written(p, "/v1/water-tests")
	if reviews, _ := test["review"].([]any); len(reviews) != 1 {
		t.Errorf("signatures in the book: %v", test["review"])
	}
}

func alerts(t *testing.T, set setUp) {
	p, f := set(t)
	p.s.post("/v1/harvest-lots", object{"planting_id": f.kale, "bed_ids": []string{f.clear}, "cut_on": day(0), "quantity": object{"value": "5", "unit": "lb"}})
	f.spread(p.s, f.clear, day(-1), "")
	p.signIn()
	p.tap("More", "Alerts")
	p.sees("was clear, is now stop", "To do", "never worked in")
	p.tap("css:a[href^='/app/alerts/']")
	p.write("What happened", "manure was spread before the cut")
	p.write("What became of the product", "all of it composted")
	p.write("What was mended", "the board in the shed shows spread beds")
	p.tap("Done, close the alert")
	p.sees("What was done", "It is in the book.")
	same(t, written(p, "/v1/corrective-actions"), object{"product_fate": "all of it composted", "closed": true})
	p.open("/app/alerts")
	p.sees("No lot was cut too early, and none is judged worse now than when it was cut.")
}

// asking answers a buyer: the question, the packet from the book, and that the answer went out.
func asking(t *testing.T, set setUp) {
	p, f := set(t)
	p.s.post("/v1/customers", object{"name": oddBuyer, "kind": "grocer"})
	p.s.post("/v1/harvest-lots", object{"planting_id": f.kale, "bed_ids": []string{f.clear}, "cut_on": day(0), "quantity": object{"value": "5", "unit": "lb"}})
	lot := written(p, "/v1/harvest-lots")["code"].(string)
	p.signIn()
	p.tap("More", "Answer a buyer", "Somebody asks", "Buyer", oddBuyer)
	p.write("Code on the label", lot)
	p.write("In their words", "which field?")
	p.tap("Done, write it down")
	p.sees("The packet", "which field?", lot)
	p.do1(`(window.made = [], URL.createObjectURL = (old => b => { window.made.push(b.type + ' ' + b.size); return old.call(URL, b) })(URL.createObjectURL))`)
	p.tap("To print (PDF)")
	p.waitFor(`window.made.some(m => m.startsWith('application/pdf') && Number(m.split(' ')[1]) > 2000)`)
	p.write("What was answered", "Lower 1; packet sent")
	p.tap("Written answer is out")
	p.sees("Answered", "Lower 1; packet sent")
	same(t, written(p, "/v1/traceback-requests"), object{"answer": "Lower 1; packet sent", "for": "buyer"})
}

// logs writes an entry of a sheet whose form is made from the sheet's own fields; a value out of limits says what to do.
func logs(t *testing.T, set setUp) {
	p, _ := set(t)
	p.signIn()
	p.tap("More", "Log sheets", "Cold room")
	p.write("Room", "Cooler 1")
	p.tap("Cold crops: greens, roots")
	p.write("Air", "48")
	p.tap("Done, write it down")
	p.sees("Log entry", "Out of limits", "Move the product")
	entry := written(p, "/v1/log-entries")
	values, _ := entry["values"].(map[string]any)
	same(t, values, object{"room": []any{"Cooler 1"}, "kept": "cold-crops", "air": object{"value": "48", "unit": "degF"}})
	p.open("/app/log/cold-room")
	p.sees("Last entries", "Cooler 1")
	if form := p.fetched("Blank form to print (PDF)"); !bytes.HasPrefix(form, []byte("%PDF")) {
		t.Errorf("the blank form is %.40q", form)
	}
}

// pictures have the same in words beside them.
func pictures(t *testing.T, set setUp) {
	p, f := set(t)
	source := well(p.s)
	p.s.post("/v1/harvest-lots", object{"planting_id": f.radish, "bed_ids": []string{f.wait}, "cut_on": day(0), "quantity": object{"value": "5", "unit": "lb"}, "already_cut": true})
	lot := written(p, "/v1/harvest-lots")["code"].(string)
	p.s.post("/v1/compost-batches/"+f.batch+"/temperatures", object{"readings": []object{
		{"taken_at": day(-1) + "T08:00:00-05:00", "probe": "Top", "temperature": object{"value": "141", "unit": "degF"}},
		{"taken_at": day(-1) + "T08:00:00-05:00", "probe": "Low", "temperature": object{"value": "118", "unit": "degF"}}}})
	p.signIn()
	p.open("/app/chain/" + lot)
	p.sees("The chain", "Brindle Fen", "Horse manure", "Lower field", "worked in ")
	if days := regexp.MustCompile(`\d{4}-\d\d-\d\d`).FindAllString(p.text(), -1); len(days) > 0 {
		t.Errorf("the chain writes days as machines do, %q:\n%s", days, p.text())
	}
	drawn, listed := eval[int](p, `document.querySelectorAll('.chain g').length`), eval[int](p, `document.querySelectorAll('.numbered > li').length`)
	if drawn < 6 || drawn != listed {
		t.Errorf("%d parts are drawn and %d are listed", drawn, listed)
	}
	for path, word := range map[string]string{"/app/batch/" + f.batch: "118 °F, Low", "/app/sources/" + source: "washing"} {
		p.open(path)
		p.sees(word)
		p.waitFor(`!!(e => e?.complete && e.naturalWidth > 0 && e.clientWidth > 250 && e.getBoundingClientRect().right <= innerWidth)(document.querySelector('.drawn img'))`)
		if alt := eval[string](p, `document.querySelector('.drawn img').alt`); !strings.Contains(alt, "The same is written below.") {
			t.Errorf("%s: the picture is called %q", path, alt)
		}
	}
	// The papers are in the language of the page, whoever's token it is.
	p.open("/app/me")
	p.tap("Español")
	for _, path := range []string{"/app/batch/" + f.batch, "/app/sources/" + source} {
		p.open(path)
		p.sees("Papel para el inspector (PDF)")
		p.do1(`window.asked = []; const before = fetch; window.fetch = (...a) => { asked.push(String(a[0])); return before(...a) }`)
		p.tap("Papel para el inspector (PDF)")
		p.waitFor(`asked.some(a => a.endsWith('report.pdf?language=es'))`)
	}
}
