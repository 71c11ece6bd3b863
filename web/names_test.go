//go:build external

package web_test

import (
	"encoding/xml"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

const (
	oddFarm   = `Fern & "Hollow" <script>window.hacked=1</script> גן`
	oddPerson = `שרה "Sol" <i>Vega</i>`
)

// names holds every page that shows a name to showing it as it was given, set apart from the text around it, and never as
// markup.
func names(t *testing.T, set setUp) {
	p, f := set(t)
	p.s.request(http.MethodPost, "/v1/farm", farmNamed(p.s, oddFarm), http.StatusCreated)
	p.s.post("/v1/customers", object{"name": oddBuyer, "kind": "grocer"})
	p.signIn()
	for path, want := range map[string]string{
		"/app/today": oddBed, "/app/today?": oddFarm, "/app/cut": oddBed, "/app/cut?bed=" + f.odd: oddCrop, "/app/bed/" + f.odd: oddBed, "/app/beds": oddBed, "/app/spread": oddBed, "/app/me": oddPerson,
		"/app/load": oddBuyer, "/app/back": oddBuyer, "/app/holds/new?bed=" + f.odd: oddBed, "/app/lately": oddBed, "/app/book": oddFarm, "/app/log/training": oddPerson,
	} {
		p.open(path)
		p.sees(want)
		if eval[bool](p, `!!window.hacked || !!document.querySelector('main img, main i, main script, bdi b')`) {
			t.Errorf("%s: a name became markup", path)
		}
		if !eval[bool](p, fmt.Sprintf(`[...document.querySelectorAll('bdi')].some(b => b.innerText.includes(%q))`, want)) {
			t.Errorf("%s: the name is not set apart from the text around it", path)
		}
	}
	p.open("/app/cut?bed=" + f.odd)
	p.tap("1", "Done, it is cut")
	p.sees("Label", oddCrop)
}

// farmNamed is the farm as it stands, under another name.
func farmNamed(s *service, name string) object {
	farm := read[object](s, s.request(http.MethodGet, "/v1/farm", nil, 200))
	return object{"name": name, "time_zone": farm["time_zone"], "units": farm["units"], "standards": farm["standards"]}
}

// namesOnPaper holds labels, papers and the public page to the same: the letters of the names come out, and nothing of
// them is taken for markup.
func namesOnPaper(t *testing.T, set setUp) {
	p, f := set(t)
	s := p.s
	s.request(http.MethodPost, "/v1/farm", farmNamed(s, oddFarm), http.StatusCreated)
	buyer := s.post("/v1/customers", object{"name": oddBuyer, "kind": "grocer"})
	s.post("/v1/harvest-lots", object{"planting_id": f.oddCrop, "bed_ids": []string{f.odd}, "cut_on": day(0), "quantity": object{"value": "5", "unit": "lb"}, "done_by": f.oddNamed})
	code := written(p, "/v1/harvest-lots")["code"].(string)
	s.post("/v1/shipments", object{"customer_id": buyer, "shipped_at": day(0) + "T00:05:00-05:00", "reference": object{"type": "invoice", "number": `7 <u>"x"</u>`},
		"lines": []object{{"lot": code, "quantity": object{"value": "5", "unit": "lb"}}}})
	asked := s.post("/v1/traceback-requests", object{"asked_by": oddPerson, "asked_at": day(0) + "T00:01:00-05:00", "for": "authority", "about": object{"lot": code}})

	label := string(s.request(http.MethodGet, "/v1/labels?lot="+code+"&size=4x6in&format=svg", nil, 200))
	wellFormed(t, label) // its letters are drawn; the PDF below tells which
	if strings.Contains(label, "<img") || strings.Contains(label, "<script") || strings.Contains(label, "<b>") {
		t.Error("a name became markup on the label")
	}
	for name, paper := range map[string]struct {
		path string
		want []string
	}{
		"label":  {"/v1/labels?lot=" + code + "&size=4x6in&format=pdf", []string{"onerror", `"3"&Co`}},
		"packet": {"/v1/traceback-requests/" + asked + "/packet.pdf", []string{`onerror="window.hacked=1"`, `<b>Ñandú</b>"3"&Co`, `The"Tin"<b>Larder</b>`, `Fern&"Hollow"<script>`, `"Sol"<i>Vega</i>`, `<u>"x"</u>`}},
		"plan":   {"/v1/plan.pdf", []string{`Fern&"Hollow"<script>`, `<b>Ñandú</b>"3"&Co`}},
		"binder": {"/v1/binder.pdf?scope=organic&from=" + day(-30) + "&to=" + day(0), []string{`Fern&"Hollow"<script>`, `onerror`}},
	} {
		text := squeeze(pdfText(t, s.request(http.MethodGet, paper.path, nil, 200)))
		for _, want := range paper.want {
			if !strings.Contains(text, want) {
				t.Errorf("the %s lacks %q:\n%.3000s", name, want, text)
			}
		}
		for _, lost := range []string{"&amp;", "&lt;", "&quot;", "\ufffd"} {
			if strings.Contains(text, lost) {
				t.Errorf("the %s writes %q", name, lost)
			}
		}
	}
	// What everybody sees who scans a label.
	key := read[object](s, s.request(http.MethodGet, "/v1/farm", nil, 200))["key"].(string)
	p.open("/l/" + key + "/" + code)
	p.sees("lettuce")
	if eval[bool](p, `!!window.hacked || !!document.querySelector('img[src="x"], i, u, script')`) {
		t.Error("a name became markup on the public page")
	}
}

func squeeze(text string) string { return strings.Join(strings.Fields(text), "") }

// wellFormed reads a document to its end as XML.
func wellFormed(t *testing.T, doc string) {
	t.Helper()
	for d := xml.NewDecoder(strings.NewReader(doc)); ; {
		if _, err := d.Token(); err == io.EOF {
			return
		} else if err != nil {
			t.Fatal(err)
		}
	}
}

// pdfText reads a PDF as another program does.
func pdfText(t *testing.T, pdf []byte) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "paper.pdf")
	if err := os.WriteFile(path, pdf, 0o644); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command("pdftotext", "-raw", path, "-").Output()
	if err != nil {
		t.Fatalf("%v: poppler-utils is needed: apt-get install -y poppler-utils", err)
	}
	return string(out)
}
