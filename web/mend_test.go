//go:build external

package web_test

import (
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
)

// photo writes a picture as a camera of today gives it: far larger than is sent, and with a place in its EXIF.
func photo(t *testing.T) string {
	t.Helper()
	p := image.NewRGBA(image.Rect(0, 0, 3200, 2400))
	for y := range 2400 {
		for x := range 3200 {
			p.Set(x, y, color.RGBA{uint8(x * y / 900), uint8(x / 13), uint8(y / 11), 255})
		}
	}
	var plain strings.Builder
	if err := jpeg.Encode(&plain, p, &jpeg.Options{Quality: 92}); err != nil {
		t.Fatal(err)
	}
	place := "Exif\x00\x00MM\x00*\x00\x00\x00\x08\x00\x00GPS 44.4759 N 73.2121 W"
	length := len(place) + 2
	whole := plain.String()[:2] + "\xff\xe1" + string([]byte{byte(length >> 8), byte(length)}) + place + plain.String()[2:]
	path := filepath.Join(t.TempDir(), "IMG <b>.jpg")
	if err := os.WriteFile(path, []byte(whole), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// attach chooses files as a person does who picks them from the phone's gallery.
func attach(p *phone, paths ...string) {
	p.t.Helper()
	p.do(chromedp.SetUploadFiles(chromedp.CSS(`input[type="file"][multiple]`), paths))
}

// storedPictures counts what the phone keeps of pictures.
func storedPictures(p *phone) int {
	p.t.Helper()
	return eval[int](p, `new Promise((done, fail) => {
		const r = indexedDB.open('croftmark')
		r.onerror = fail
		r.onsuccess = () => { const all = r.result.transaction('pictures').objectStore('pictures').getAllKeys(); all.onsuccess = () => { r.result.close(); done(all.result.length) } }
	})`)
}

// photos go with what they show: made small, without the place, kept without signal and over a restart, sent before the
// record that names them, once, and seen again at the record.
func photos(t *testing.T, set setUp) {
	p, _ := set(t)
	camera := photo(t)
	p.signIn()
	p.waitFor(`navigator.serviceWorker.controller !== null`)
	offline(p, true)
	p.tap("More", "What I saw", "Droppings", "Lower 1", "Yes")
	attach(p, camera)
	p.sees("Made smaller on the phone; the place where it was taken is left out.")
	p.waitFor(`document.querySelector('.pictures img')?.naturalWidth === 1600 && document.querySelector('.pictures img').naturalHeight === 1200`)
	attach(p, camera) // the same once more is the same picture
	p.waitFor(`!document.body.innerText.includes('Making it smaller')`)
	if n := eval[int](p, `document.querySelectorAll('.pictures img').length`); n != 1 {
		t.Errorf("%d pictures of one", n)
	}
	p.tap("Done, write it down")
	p.sees("Waiting to be sent", "1 picture, ", " kB")
	p.open("/app/waiting") // a new page: entry and picture must come from the store
	p.sees("1 waiting", "1 picture, ", " kB")
	if n := storedPictures(p); n != 1 {
		t.Errorf("the phone keeps %d pictures", n)
	}
	// The answer to the picture is lost after the book has it, and the service starts anew: still one file, one finding.
	p.s.loseAnswers.Store(1)
	offline(p, false)
	if status := <-p.s.lost; status != 201 {
		t.Errorf("the picture was answered %d", status)
	}
	p.s.stop()
	p.s.start()
	p.waitFor(`(window.dispatchEvent(new Event('online')), document.body.innerText.includes('All sent'))`)
	files := read[[]struct {
		Hash      string
		MediaType string `json:"media_type"`
		Bytes     int
	}](p.s, p.s.request(http.MethodGet, "/v1/attachments", nil, 200))
	finding := written(p, "/v1/findings")
	if len(files) != 1 || files[0].MediaType != "image/jpeg" || fmt.Sprint(finding["attachments"]) != fmt.Sprint([]any{files[0].Hash}) {
		t.Fatalf("files %+v, the finding names %v", files, finding["attachments"])
	}
	content := p.s.request(http.MethodGet, "/v1/files/"+files[0].Hash, nil, 200)
	if made, err := jpeg.DecodeConfig(strings.NewReader(string(content))); err != nil || made.Width != 1600 || made.Height != 1200 {
		t.Errorf("the file is %d × %d (%v)", made.Width, made.Height, err)
	}
	if strings.Contains(string(content), "GPS") || strings.Contains(string(content), "Exif") {
		t.Error("the file still says where it was taken")
	}
	if n := storedPictures(p); n != 0 {
		t.Errorf("%d pictures stay on the phone after they were sent", n)
	}
	p.tap("css:.sent a[href^='/app/mend/']")
	p.sees("Seen", "How it came about")
	p.waitFor(`document.querySelector('.pictures img')?.naturalWidth === 480`)
	p.tap("Make it large Picture 1")
	p.waitFor(`document.querySelector('.pictures img')?.naturalWidth === 1600`)
}

// refusedPicture is one that the book does not take: the person is told, and may send the record without it.
func refusedPicture(t *testing.T, set setUp) {
	p, f := set(t)
	broken := filepath.Join(t.TempDir(), "broken.pdf")
	if err := os.WriteFile(broken, []byte("%PDF-"), 0o644); err != nil {
		t.Fatal(err)
	}
	nothing := filepath.Join(t.TempDir(), "no.jpg")
	if err := os.WriteFile(nothing, []byte("this is no picture"), 0o644); err != nil {
		t.Fatal(err)
	}
	p.signIn()
	p.open("/app/seen?bed=" + f.clear)
	p.tap("Droppings", "No")
	attach(p, nothing)
	p.sees("This picture cannot be read here.")
	attach(p, broken)
	p.sees("broken.pdf")
	p.tap("Done, write it down")
	p.sees("Refused by the book", "Send without the pictures")
	if n := len(read[[]object](p.s, p.s.request(http.MethodGet, "/v1/findings", nil, 200))); n != 0 {
		t.Errorf("%d findings in the book", n)
	}
	p.tap("Send without the pictures")
	p.sees("Seen and written down", "It is in the book.")
	if a := written(p, "/v1/findings")["attachments"]; a != nil {
		t.Errorf("the finding names %v", a)
	}
}

// mending corrects a field and voids a record; who did it, why, and what stood there before can be read.
func mending(t *testing.T, set setUp) {
	p, f := set(t)
	p.signIn()
	p.open("/app/spread?bed=" + f.clear)
	p.tap("Leaf mould", "today", "Yes, the same day", "No", "2", "5", "Done, it is spread")
	p.sees("It is in the book.")
	p.tap("Look at it, mend a mistake")
	p.sees("Leaf mould", "Lower 1", "How it came about", "25 cubic yd")
	p.tap("What is wrong?", "How much")
	p.tap("Erase", "Erase", "3")
	p.sees("was 25 cubic yd, becomes 3 cubic yd", "Still to say: why")
	p.tap("Slip of the finger", "Done, mend it")
	p.sees("Mended", "It is in the book.")
	same(t, written(p, "/v1/applications"), object{"amount": object{"value": "3", "unit": "yd3"}})
	p.tap("Look at it, mend a mistake")
	p.sees("3 cubic yd", "written down", "mended", "How much: was 25 cubic yd, becomes 3 cubic yd", "Reason: Slip of the finger", "Maren Oakley")

	// Refused: a day that cannot be. The book's sentence is shown, and nothing is changed until a person decides.
	p.tap("What is wrong?", "Worked in on")
	p.waitFor(`!!document.querySelector('input[type=date]')`)
	p.do1(`(e => { e.value = '` + day(-9) + `'; e.dispatchEvent(new Event('input', {bubbles: true})) })(document.querySelector('input[type=date]'))`)
	p.tap("Wrong day", "Done, mend it")
	p.sees("Refused by the book", "before it was spread")
	same(t, written(p, "/v1/applications"), object{"incorporated_on": day(0)})
	p.tap("Discard", "Yes, discard it")
	p.sees("All sent")

	// Without signal: another bed. The phone is careful about both beds until the book has judged.
	id := written(p, "/v1/applications")["id"].(string)
	p.waitFor(`navigator.serviceWorker.controller !== null`)
	p.open("/app/lately")
	p.sees("Written lately", "Spread", "Leaf mould", "mended")
	p.tap(fmt.Sprintf("css:a[href='/app/mend/applications/%s']", id), "What is wrong?", "Beds", "Change Where", "Lower 1", "Lower 5", "Done: 1 bed", "Wrong place")
	offline(p, true)
	p.tap("Done, mend it")
	p.sees("Waiting to be sent")
	p.open("/app/today")
	p.waitFor(`['Lower 1', 'Lower 5'].every(bed => [...document.querySelectorAll('li.line')].some(l => l.innerText.includes(bed) && l.innerText.includes('The book has not judged the bed with it yet.')))`)
	p.s.loseAnswers.Store(1) // written, and sent again: a correction is not doubled
	offline(p, false)
	if status := <-p.s.lost; status != 201 {
		t.Errorf("the correction was answered %d", status)
	}
	p.open("/app/waiting")
	p.waitFor(`(window.dispatchEvent(new Event('online')), document.body.innerText.includes('All sent'))`)
	same(t, written(p, "/v1/applications"), object{"ground": object{"bed_ids": []any{f.twin}}})
	if n := len(read[[]object](p.s, p.s.request(http.MethodGet, "/v1/applications/"+id+"/history", nil, 200))); n != 3 {
		t.Errorf("%d entries about it, not 3", n)
	}

	p.open("/app/mend/applications/" + id)
	p.tap("It never happened: void it", "It was not done", "Done, void it")
	p.sees("Voided", "It is in the book.")
	same(t, written(p, "/v1/applications"), object{"voided": true})
	p.open("/app/mend/applications/" + id)
	p.sees("Void. It counts no more.", "made void", "Reason: It was not done")
	p.seesNot("What is wrong?")

	// A wrong amount of a lot, and a picture added later.
	lot := p.s.post("/v1/harvest-lots", object{"planting_id": f.kale, "bed_ids": []string{f.clear}, "cut_on": day(0), "quantity": object{"value": "50", "unit": "lb"}})
	p.open("/app/mend/harvest-lots/" + lot)
	p.tap("Add a picture to it")
	attach(p, photo(t))
	p.waitFor(`!!document.querySelector('.pictures img')`)
	p.tap("Done, add it")
	p.sees("Mended", "It is in the book.")
	if a, _ := written(p, "/v1/harvest-lots")["attachments"].([]any); len(a) != 1 {
		t.Errorf("the lot names %v", a)
	}

	// A reading of the pile, and one of the crew, who reads but does not mend.
	reading := p.s.post("/v1/compost-batches/"+f.batch+"/temperatures", object{"readings": []object{{"taken_at": day(-1) + "T08:00:00-05:00", "probe": "Top", "temperature": object{"value": "41", "unit": "degF"}}}})
	p.open("/app/mend/compost-temperatures/" + reading)
	p.tap("What is wrong?", "Readings", "Erase", "Erase", "1", "4", "1", "Slip of the finger", "Done, mend it")
	p.sees("Mended")
	if got := fmt.Sprint(written(p, "/v1/compost-temperatures")["readings"]); !strings.Contains(got, "value:141") {
		t.Errorf("in the book: %s", got)
	}
	crew(p, f)
	p.open("/app/mend/harvest-lots/" + lot)
	p.sees("A lead or the owner mends what is in the book.", "How it came about")
	p.seesNot("What is wrong?")
}

// mendingWho puts right who got it, who cut it, which water it was and what was spread: wrong picks from a list, not slips in
// a number.
func mendingWho(t *testing.T, set setUp) {
	p, f := set(t)
	quantity := func(value, unit string) object { return object{"value": value, "unit": unit} }
	lot := p.s.post("/v1/harvest-lots", object{"planting_id": f.kale, "bed_ids": []string{f.clear}, "cut_on": day(0), "quantity": quantity("50", "lb")})
	wrong := p.s.post("/v1/customers", object{"name": "Copper Kettle", "kind": "restaurant"})
	right := p.s.post("/v1/customers", object{"name": "Mill Street Grocer", "kind": "grocer"})
	code := read[object](p.s, p.s.request(http.MethodGet, "/v1/harvest-lots/"+lot, nil, 200))["code"]
	load := p.s.post("/v1/shipments", object{"customer_id": wrong, "shipped_at": day(0) + "T00:30:00-05:00", "reference": object{"type": "invoice", "number": "77"}, "lines": []object{{"lot": code, "quantity": quantity("5", "lb")}}})
	well := p.s.post("/v1/water-sources", object{"name": "Old well", "kind": "untreated-ground", "uses": []string{"irrigation-touching"}, "points": []object{{"use": "irrigation-touching", "tap": "Yard"}}})
	pond := p.s.post("/v1/water-sources", object{"name": "Mill pond", "kind": "untreated-surface", "uses": []string{"irrigation-touching"}, "points": []object{{"use": "irrigation-touching", "tap": "Pump 1"}, {"use": "irrigation-touching", "tap": "Pump 2"}}})
	watered := p.s.post("/v1/irrigations", object{"source_id": well, "tap": "Yard", "ground": object{"bed_ids": []string{f.odd}}, "started_at": day(-1) + "T08:00:00-05:00", "method": "drip"})
	spread := p.s.post("/v1/applications", object{"source": object{"input_lot_id": f.leaves}, "ground": object{"bed_ids": []string{f.odd}}, "applied_on": day(-1), "method": "surface", "amount": quantity("1", "yd3"), "touched_crop": "no"})
	owner := read[object](p.s, p.s.request(http.MethodGet, "/v1/me", nil, 200))["person_id"]
	p.signIn()
	for _, c := range []struct {
		path, id, field string
		picks           []string
		says            string
		want            object
	}{
		{"shipments", load, "Buyer", []string{"Mill Street Grocer"}, "Buyer: was Copper Kettle, becomes Mill Street Grocer", object{"customer_id": right}},
		{"harvest-lots", lot, "Cut by", []string{"Maren Oakley"}, "Cut by: was nothing, becomes Maren Oakley", object{"crew": []any{owner}}},
		{"irrigations", watered, "Which water", []string{"Mill pond", "Pump 2"}, "Which water: was Old well, becomes Mill pond", object{"source_id": pond, "tap": "Pump 2"}},
		{"applications", spread, "What it was", []string{"Horse manure"}, "What it was: was Leaf mould, becomes Horse manure", object{"source": object{"input_lot_id": f.manure}}},
	} {
		p.open("/app/mend/" + c.path + "/" + c.id)
		p.tap(append([]string{"What is wrong?", c.field}, c.picks...)...)
		p.sees(c.says)
		p.tap("Slip of the finger", "Done, mend it")
		p.sees("Mended", "It is in the book.")
		same(t, written(p, "/v1/"+c.path), c.want)
	}
}

// crew signs the phone in for somebody of the crew.
func crew(p *phone, f farm) {
	p.t.Helper()
	owner := p.s.token
	person := p.s.post("/v1/people", object{"name": "Teo Ash", "initials": "TA", "role": "crew", "language": "en"})
	token := read[struct{ Token string }](p.s, p.s.request(http.MethodPost, "/v1/tokens", object{"person_id": person, "label": "test"}, 201)).Token
	p.open("/app/me")
	p.tap("Sign out", "Yes, sign out and clear")
	p.sees("Sign in to the farm’s book")
	p.s.token = token
	p.signIn()
	p.s.token = owner
}

// holding stops a bed without signal: the phone itself no longer offers the cut. The lead releases with a reason.
func holding(t *testing.T, set setUp) {
	p, f := set(t)
	p.signIn()
	p.waitFor(`navigator.serviceWorker.controller !== null`)
	p.open("/app/bed/" + f.clear)
	p.sees("Lower 1")
	offline(p, true)
	p.tap("Put on hold", "Somebody saw animals", "Done, put it on hold")
	p.sees("Waiting to be sent")
	p.open("/app/cut?bed=" + f.clear)
	p.sees("Lower 1 is not clear for Kale", "Put on hold on")
	p.seesNot("Done, it is cut")
	offline(p, false)
	p.open("/app/waiting")
	p.sees("All sent")
	same(t, written(p, "/v1/holds"), object{"on": object{"bed_id": f.clear}, "reason": "Somebody saw animals"})
	p.s.request(http.MethodPost, "/v1/harvest-lots", object{"planting_id": f.kale, "bed_ids": []string{f.clear}, "cut_on": day(0), "quantity": object{"value": "5", "unit": "lb"}}, http.StatusConflict)

	p.open("/app/holds")
	p.sees("On hold", "Lower 1", "Somebody saw animals", "Maren Oakley")
	p.tap("Release Lower 1")
	p.sees("You sign that it may be used again.", "Still to say: why")
	p.write("What shows that it may be used?", "tracks were a neighbour’s boots")
	p.tap("Release it, I answer for it")
	p.sees("The hold is released.", "Nothing is on hold.", "Released lately", "tracks were a neighbour’s boots")
	p.s.post("/v1/harvest-lots", object{"planting_id": f.kale, "bed_ids": []string{f.clear}, "cut_on": day(0), "quantity": object{"value": "5", "unit": "lb"}})

	// A lot held here is not offered for loading, before the book knows of it; and somebody else may have released it first.
	lot := written(p, "/v1/harvest-lots")["code"].(string)
	p.open("/app/pack")
	p.sees(lot) // the phone has asked for the lots since
	p.open("/app/code/" + lot)
	p.sees("Put on hold")
	offline(p, true)
	p.tap("Put on hold", "A buyer complained", "Done, put it on hold")
	p.sees("Waiting to be sent")
	p.open("/app/load")
	p.sees("Nothing is on hand to load.")
	offline(p, false)
	p.open("/app/waiting")
	p.sees("All sent")
	hold := written(p, "/v1/holds")["id"].(string)
	p.open("/app/holds")
	p.tap("Release " + lot)
	p.s.post("/v1/holds/"+hold+"/release", object{"reason": "released at the desk"})
	p.write("What shows that it may be used?", "looked at it")
	p.tap("Release it, I answer for it")
	p.sees("That hold was released before")
	source := well(p.s)
	p.open("/app/sources/" + source)
	p.tap("Put on hold", "Waits for a lab result", "Done, put it on hold")
	p.sees("It is in the book.")
	same(t, written(p, "/v1/holds"), object{"on": object{"water_source_id": source}})
	crew(p, f)
	p.open("/app/holds")
	p.sees("A lead or the owner releases it.")
	p.seesNot("Release it")
}

// takenBack takes crates and a part of a lot back from a buyer; more than went out is refused and shown.
func takenBack(t *testing.T, set setUp) {
	p, f := set(t)
	buyer := p.s.post("/v1/customers", object{"name": oddBuyer, "kind": "grocer"})
	lot := func(amount string, crates int) string {
		body := object{"planting_id": f.kale, "bed_ids": []string{f.clear}, "cut_on": day(0), "quantity": object{"value": amount, "unit": "lb"}}
		if crates > 0 {
			body["containers"] = crates
		}
		p.s.post("/v1/harvest-lots", body)
		return written(p, "/v1/harvest-lots")["code"].(string)
	}
	whole := lot("20", 0)
	lot("12", 3)
	crates := read[[]struct{ Crates []struct{ Code string } }](p.s, p.s.request(http.MethodGet, "/v1/lots", nil, 200))[0].Crates
	p.s.post("/v1/shipments", object{"customer_id": buyer, "shipped_at": day(0) + "T00:05:00-05:00", "reference": object{"type": "invoice", "number": "INV-9"},
		"lines": []object{{"crates": []string{crates[0].Code, crates[1].Code}}, {"lot": whole, "quantity": object{"value": "20", "unit": "lb"}}}})
	p.signIn()
	p.taps = 0
	p.tap("More", "Taken back", oddBuyer, "INV-9", "Crate 2", whole, "4", "Kept apart, on hold")
	p.sees("2 things come back", "If in doubt, keep it apart.")
	p.tap("Done, it is back")
	p.sees("Taken back", "It is in the book.")
	back := written(p, "/v1/returns")
	same(t, back, object{"decision": "hold", "customer_id": buyer})
	if lines := fmt.Sprint(back["lines"]); !strings.Contains(lines, crates[1].Code) || strings.Contains(lines, crates[0].Code) || !strings.Contains(lines, "value:4") {
		t.Errorf("taken back: %s", lines)
	}
	// By a typed code, and more than they had.
	p.open("/app/back")
	p.tap(oddBuyer)
	p.write("Code of a crate or lot", whole)
	p.tap("Add it")
	p.tap("css:#lot-0", "9", "9", "To the compost", "Done, it is back")
	p.sees("Refused by the book", whole)
	if n := len(read[[]object](p.s, p.s.request(http.MethodGet, "/v1/returns", nil, 200))); n != 1 {
		t.Errorf("%d returns in the book", n)
	}
}

// lostLabels writes down a crate without a label, and labels that were thrown away.
func lostLabels(t *testing.T, set setUp) {
	p, f := set(t)
	for range 2 {
		p.s.post("/v1/harvest-lots", object{"planting_id": f.kale, "bed_ids": []string{f.clear}, "cut_on": day(0), "quantity": object{"value": "8", "unit": "lb"}, "containers": 4})
	}
	lots := read[[]object](p.s, p.s.request(http.MethodGet, "/v1/harvest-lots", nil, 200))
	one, two := lots[0]["code"].(string), lots[1]["code"].(string)
	p.signIn()
	p.tap("More", "Crate without a label", "Cold room", one, two, "Known again")
	p.sees("just one code, to be known again", "what shows it")
	p.tap("Carries all these codes", "Done, write it down")
	p.sees("Crate without a label", "It is in the book.")
	same(t, written(p, "/v1/lost-labels"), object{"decision": "carries-all", "where": "Cold room", "may_be": []any{one, two}})
	p.s.post("/v1/label-prints", object{"lot_id": lots[0]["id"], "size": "4x2in", "copies": 5})
	p.open("/app/code/" + one)
	p.sees("Towards the ground") // the page has grown to its length, and nothing moves under the finger
	p.tap("Labels spoiled or left over", "2", "css:#void", "1", "Smeared")
	p.tap("Done, write it down")
	p.sees("Labels thrown away", "It is in the book.")
	same(t, written(p, "/v1/label-discards"), object{"spoiled": 2, "void": 1, "reason": "Smeared", "lot_id": lots[0]["id"]})
	p.open("/app/labels/" + f.kale + "?code=x") // no lot: refused
	p.tap("1", "Torn", "Done, write it down")
	p.sees("Refused by the book")
}

// waterTests writes a lab's paper down: two results of one sample with the picture of the paper.
func waterTests(t *testing.T, set setUp) {
	p, _ := set(t)
	source := well(p.s)
	p.signIn()
	p.tap("More", "Water", "Water test result", "Shed tap")
	p.sees("Still to say: at what hour it was drawn")
	p.do1(`(e => { e.value = '00:01'; e.dispatchEvent(new Event('input', {bubbles: true})) })(document.querySelector('input[type=time]'))`)
	choose := func(which, what string) {
		eval[bool](p, fmt.Sprintf(`(b => { b.click(); return true })([...[...document.querySelectorAll('fieldset')].find(f => f.innerText.startsWith(%q)).querySelectorAll('button')].find(b => b.innerText.trim().startsWith(%q)))`, which, what))
	}
	choose("E. coli:", "None found")
	choose("Total coliform:", "A number")
	p.sees("Total coliform, number")
	p.tap("css:#coliform", "1", "4")
	attach(p, photo(t))
	p.waitFor(`!!document.querySelector('.pictures img')`)
	p.write("Lab", `Lab "5" <i>`)
	p.tap("Done, write it down")
	p.sees("Water test", "It is in the book.")
	p.waitFor(`document.querySelector('.pictures img')?.naturalWidth > 0`)
	tests := read[[]object](p.s, p.s.request(http.MethodGet, "/v1/water-tests", nil, 200))
	if len(tests) != 2 {
		t.Fatalf("%d tests in the book", len(tests))
	}
	same(t, tests[1], object{"analyte": "generic E. coli", "result": object{"qualifier": "<", "value": "1", "unit": "MPN/100mL"}, "tap": "Shed tap", "source_id": source, "lab": `Lab "5" <i>`})
	same(t, tests[0], object{"analyte": "total coliform", "result": object{"value": "14", "unit": "MPN/100mL"}})
	if fmt.Sprint(tests[0]["attachments"]) != fmt.Sprint(tests[1]["attachments"]) || tests[0]["attachments"] == nil {
		t.Errorf("the paper: %v and %v", tests[0]["attachments"], tests[1]["attachments"])
	}
	p.open("/app/mend/water-tests/" + tests[1]["id"].(string))
	p.tap("What is wrong?", "Result", "Present", "Measured again")
	p.tap("Done, mend it")
	p.sees("Mended")
	same(t, read[object](p.s, p.s.request(http.MethodGet, "/v1/water-tests/"+tests[1]["id"].(string), nil, 200)), object{"result": object{"value": "1", "unit": "PA/100mL"}})
	// The page is left while the first of two results is on its way: neither is lost.
	p.open("/app/water/test")
	p.sees("E. coli: what does the paper say?")
	choose("E. coli:", "None found")
	choose("Total coliform:", "None found")
	p.do1(`(e => { e.value = '00:02'; e.dispatchEvent(new Event('input', {bubbles: true})) })(document.querySelector('input[type=time]'))`)
	p.do1(`window.fetch = () => new Promise(() => undefined)`)
	p.tap("Done, write it down")
	p.waitFor(storeDump + `.then(all => JSON.parse(all)[1].length > 0)`)
	p.open("/app/today")
	p.sees("All sent")
	if n := len(read[[]object](p.s, p.s.request(http.MethodGet, "/v1/water-tests", nil, 200))); n != 4 {
		t.Errorf("%d tests in the book", n)
	}
	// Refused: a report from before the sample.
	p.open("/app/water/test")
	p.tap("E. coli")
	choose("E. coli:", "None found")
	p.do1(`for (const [type, value] of [['time', '00:01'], ['date', '` + day(-3) + `']]) { const e = document.querySelector('input[type=' + type + ']'); e.value = value; e.dispatchEvent(new Event('input', {bubbles: true})) }`)
	p.tap("Done, write it down")
	p.sees("Refused by the book", "The report is from before the sample was drawn.")
	if n := len(read[[]object](p.s, p.s.request(http.MethodGet, "/v1/water-tests", nil, 200))); n != 4 {
		t.Errorf("%d tests in the book", n)
	}
}

// deliveries come with their paper; what is new is written down with it.
func deliveries(t *testing.T, set setUp) {
	p, _ := set(t)
	p.signIn()
	p.tap("More", "Delivery came", "Leaf mould", "Brindle Fen", "css:#amount", "1", "2")
	attach(p, photo(t))
	p.waitFor(`!!document.querySelector('.pictures img')`)
	p.tap("Done, it came")
	p.sees("Delivery came", "It is in the book.", "12 cubic yd")
	came := written(p, "/v1/input-lots")
	same(t, came, object{"supplier": "Brindle Fen", "received_on": day(0), "quantity": object{"value": "12", "unit": "yd3"}})
	if a, _ := came["attachments"].([]any); len(a) != 1 {
		t.Errorf("its paper: %v", came["attachments"])
	}
	p.open("/app/deliver")
	p.tap("Something new")
	p.write("Its name", `Goat "bed" <b>`)
	p.tap("Raw manure", "Somebody else")
	p.write("From whom?", oddBuyer)
	p.tap("css:#amount", "3", "Done, it came")
	p.sees("It is in the book.", `Goat "bed" <b>`)
	same(t, written(p, "/v1/inputs"), object{"name": `Goat "bed" <b>`, "category": "raw-manure"})
	same(t, written(p, "/v1/input-lots"), object{"supplier": oddBuyer, "input_id": written(p, "/v1/inputs")["id"]})
}

// stopping: a picture that goes out slowly says how far it is, and can be stopped. What was stopped waits, and goes on when
// the person says so.
func stopping(t *testing.T, set setUp) {
	p, f := set(t)
	p.signIn()
	p.s.slow.Store(true)
	p.open("/app/seen?bed=" + f.clear)
	p.tap("Droppings", "No")
	attach(p, photo(t))
	p.waitFor(`!!document.querySelector('.pictures img')`)
	p.tap("Done, write it down")
	p.sees("1 waiting")
	p.open("/app/waiting")
	p.waitFor(`(window.dispatchEvent(new Event('online')), !!document.querySelector('progress'))`)
	p.sees("Sending the pictures: ", " kB of ")
	p.tap("Stop sending")
	p.sees("Sending is stopped. Everything waits on this phone.", "1 waiting")
	if n := len(read[[]object](p.s, p.s.request(http.MethodGet, "/v1/attachments", nil, 200))); n != 0 {
		t.Errorf("%d files in the book after the stop", n)
	}
	p.tap("Go on sending")
	p.waitFor(`!!document.querySelector('progress')`)
	p.s.held <- true
	p.sees("All sent")
	if n := len(read[[]object](p.s, p.s.request(http.MethodGet, "/v1/findings", nil, 200))); n != 1 {
		t.Errorf("%d findings in the book", n)
	}

}
