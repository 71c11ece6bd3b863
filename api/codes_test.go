package api_test

import (
	"bytes"
	"image"
	"image/png"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"github.com/makiuchi-d/gozxing"
	"github.com/makiuchi-d/gozxing/qrcode"

	"croftmark/domain"
)

func (x *field) lot(planting, on string) fields {
	x.t.Helper()
	return x.post(domain.Crew, "/v1/harvest-lots", x.cutOf(planting, on)).is(http.StatusCreated).fields()
}

func TestLotByCode(t *testing.T) {
	t.Parallel()
	x := newField(t)
	code := x.lot(x.radish, "2026-08-08")["code"].(string)
	crate := domain.CrateCode(code, 2)
	typed := func(s string) string { return strings.ToLower(strings.ReplaceAll(s, "-", "")) }
	for _, text := range []string{code, strings.ToLower(code), typed(code), strings.ReplaceAll(code, "-", " ")} {
		for _, path := range []string{"/v1/lots/", "/v1/crates/"} {
			got := x.get(domain.Reader, path+url.PathEscape(text)).is(http.StatusOK).fields()
			if got["code"] != code || got["kind"] != "harvest-lot" || got["crop"] != "radish" || got["plot"] != "Lower" || got["verdict"] != "clear" {
				t.Errorf("%s%s: %+v", path, text, got)
			}
		}
	}
	for _, text := range []string{crate, typed(crate)} {
		got := x.get(domain.Reader, "/v1/crates/"+text).is(http.StatusOK).fields()
		if got["code"] != crate || got["kind"] != "crate" || got["crate"] != float64(2) || got["lot_code"] != code {
			t.Errorf("%s: %+v", text, got)
		}
	}

	// One wrong character is noticed, and the hint says where to look.
	wrong := []byte(code)
	wrong[len(wrong)-4] = 'Z'
	p := x.get(domain.Reader, "/v1/lots/"+string(wrong)).problem(http.StatusNotFound, domain.CodeNotFound)
	if !strings.Contains(p.Detail, "check characters") || !strings.Contains(p.Detail, "Look at the label again") {
		t.Errorf("mistyped: %s", p.Detail)
	}
	// A right code of a lot that is not here.
	p = x.get(domain.Reader, "/v1/lots/26219-L3-RAD-1-SS").problem(http.StatusNotFound, domain.CodeNotFound)
	if strings.Contains(p.Detail, "check characters") {
		t.Errorf("a right code: %s", p.Detail)
	}
	x.get(domain.Reader, "/v1/crates/"+domain.CrateCode(code, 3)).is(http.StatusOK)
	x.get(domain.Reader, "/v1/crates/"+domain.CrateCode(code, 4)).problem(http.StatusNotFound, domain.CodeNotFound)
	x.get(domain.Reader, "/v1/lots/"+strings.Repeat("9", 61)).problem(http.StatusUnprocessableEntity, domain.CodeInvalid)
}

func TestTraceThroughHTTP(t *testing.T) {
	t.Parallel()
	x := newField(t)
	manure := x.post(domain.Crew, "/v1/applications", x.manured("2026-01-10", "2026-01-10")).id()
	code := x.lot(x.radish, "2026-08-08")["code"].(string)
	labels := func(trace fields) string {
		var all []string
		for _, n := range trace["nodes"].([]any) {
			all = append(all, n.(fields)["kind"].(string)+" "+n.(fields)["label"].(string))
		}
		return strings.Join(all, "\n")
	}
	back := labels(x.get(domain.Reader, "/v1/trace/"+domain.CrateCode(code, 1)).is(http.StatusOK).fields())
	for _, want := range []string{"harvest-lot " + code, "bed Lower 3", "plot Lower", "application Raw manure", "supplier Brindle Fen Stables"} {
		if !strings.Contains(back, want) {
			t.Errorf("%q is not in the trace:\n%s", want, back)
		}
	}
	forward := x.get(domain.Reader, "/v1/trace/"+x.manure+"?direction=forward").is(http.StatusOK).fields()
	if !strings.Contains(labels(forward), "harvest-lot "+code) || !strings.Contains(string(x.get(domain.Reader, "/v1/trace/"+x.manure+"?direction=forward").Body), manure) {
		t.Errorf("forward: %s", labels(forward))
	}
	x.get(domain.Reader, "/v1/trace/"+newID(t)+"?direction=forward").problem(http.StatusNotFound, domain.CodeNotFound)
	x.get(domain.Reader, "/v1/trace/"+code+"?direction=sideways").problem(http.StatusUnprocessableEntity, domain.CodeInvalid)
	x.get(domain.Reader, "/v1/trace/nonsense").problem(http.StatusNotFound, domain.CodeNotFound)
}

// The code of a trace may be any that the farm uses, in both directions (the contract).
func TestTraceFromAnyCodeThroughHTTP(t *testing.T) {
	t.Parallel()
	x := newField(t)
	x.post(domain.Crew, "/v1/applications", x.manured("2026-01-10", "2026-01-10")).is(http.StatusCreated)
	cut := x.post(domain.Crew, "/v1/harvest-lots", with(x.cutOf(x.radish, "2026-08-08"), "containers", 2)).is(http.StatusCreated)
	code := cut.text("code")
	cafe := x.post(domain.Lead, "/v1/customers", fields{"name": "Copper Ladle", "kind": "restaurant"}).id()
	ship := fields{"customer_id": cafe, "shipped_at": "2026-08-08T12:00:00-04:00", "reference": fields{"type": "invoice", "number": "1182"},
		"lines": []fields{{"crates": []string{domain.CrateCode(code, 1)}}}}
	sent := x.post(domain.Crew, "/v1/shipments", ship).is(http.StatusCreated).id()
	input := x.get(domain.Reader, "/v1/input-lots/"+x.manure).text("input_id")
	for _, start := range []string{code, domain.CrateCode(code, 2), cut.id(), x.bed, "lower%203", x.manure, input, "1182"} {
		for direction, want := range map[string][]string{"forward": {cut.id(), sent, cafe}, "back": {cut.id(), x.bed, x.manure}} {
			got := x.get(domain.Reader, "/v1/trace/"+start+"?direction="+direction).is(http.StatusOK)
			for _, id := range want {
				if !strings.Contains(string(got.Body), id) {
					t.Errorf("%s from %s lacks %s:\n%s", direction, start, id, got.Body)
				}
			}
		}
	}
	x.post(domain.Lead, "/v1/beds", fields{"name": "1182", "plot_id": x.get(domain.Reader, "/v1/beds/"+x.bed).text("plot_id"), "from": "2026-03-01"}).is(http.StatusCreated)
	p := x.get(domain.Reader, "/v1/trace/1182").problem(http.StatusUnprocessableEntity, domain.CodeInvalid)
	if !strings.Contains(p.Detail, "bed 1182") || !strings.Contains(p.Detail, "shipment 1182") {
		t.Errorf("a name that two things bear: %s", p.Detail)
	}

	// A slip on the paper is mended with a reason; what went stays as it was.
	fix := fields{"reason": "read wrong", "changes": fields{"reference": fields{"type": "invoice", "number": "1183"}, "vehicle": "white van"}}
	x.post(domain.Crew, "/v1/shipments/"+sent+"/corrections", fix).problem(http.StatusForbidden, domain.CodeNotAllowed)
	x.post(domain.Lead, "/v1/shipments/"+sent+"/corrections", fix).is(http.StatusCreated)
	if got := x.get(domain.Reader, "/v1/trace/1183?direction=forward").is(http.StatusOK); !strings.Contains(string(got.Body), sent) {
		t.Errorf("the new number does not find the shipment:\n%s", got.Body)
	}
	x.post(domain.Crew, "/v1/returns", fields{"customer_id": cafe, "returned_at": "2026-08-08T15:00:00-04:00", "decision": "stock",
		"lines": []fields{{"crates": []string{domain.CrateCode(code, 1)}}}}).is(http.StatusCreated)
	void := x.post(domain.Lead, "/v1/shipments/"+sent+"/void", fields{"reason": "never left"}).problem(http.StatusConflict, domain.CodeRuleRefused)
	if !strings.Contains(void.Detail, "Copper Ladle sent back") {
		t.Errorf("void under a return: %s", void.Detail)
	}
}

// scan reads the QR of a picture with a decoder that is not the one that drew it. That decoder loses about one upright
// label in 250, which zbar reads, and finds it when the picture is turned.
func scan(t *testing.T, picture []byte) string {
	t.Helper()
	upright, err := png.Decode(bytes.NewReader(picture))
	if err != nil {
		t.Fatal(err)
	}
	text, err := readQR(upright)
	if err != nil {
		text, err = readQR(quarterTurn(upright))
	}
	if err != nil {
		t.Fatalf("the QR can't be read: %v", err)
	}
	return text
}

func readQR(picture image.Image) (string, error) {
	bitmap, err := gozxing.NewBinaryBitmapFromImage(picture)
	if err != nil {
		return "", err
	}
	result, err := qrcode.NewQRCodeReader().Decode(bitmap, map[gozxing.DecodeHintType]any{gozxing.DecodeHintType_TRY_HARDER: true})
	if err != nil {
		return "", err
	}
	return result.GetText(), nil
}

func quarterTurn(picture image.Image) image.Image {
	b := picture.Bounds()
	turned := image.NewGray(image.Rect(0, 0, b.Dy(), b.Dx()))
	for y := range b.Dy() {
		for x := range b.Dx() {
			turned.Set(b.Dy()-1-y, x, picture.At(x, y))
		}
	}
	return turned
}

func TestLabels(t *testing.T) {
	t.Parallel()
	x := newField(t)
	lot := x.lot(x.radish, "2026-08-08")
	code := lot["code"].(string)
	for format, row := range map[string]struct{ kind, begins string }{
		"":    {"application/pdf", "%PDF-"},
		"pdf": {"application/pdf", "%PDF-"},
		"png": {"image/png", "\x89PNG"},
		"svg": {"image/svg+xml", "<"},
		"zpl": {"text/plain; charset=utf-8", "^XA"},
	} {
		for _, what := range []string{"lot=" + code, "crate=" + domain.CrateCode(code, 1)} {
			path := "/v1/labels?" + what
			if format != "" {
				path += "&format=" + format
			}
			a := x.get(domain.Reader, path).is(http.StatusOK)
			if a.Header.Get("Content-Type") != row.kind || !bytes.HasPrefix(a.Body, []byte(row.begins)) {
				t.Errorf("%s: %s, begins %.12q", path, a.Header.Get("Content-Type"), a.Body)
			}
			if d := a.Header.Get("Content-Disposition"); !strings.HasPrefix(d, `inline; filename="label-26220-L3-RAD-1-`) {
				t.Errorf("%s: Content-Disposition %q", path, d)
			}
		}
	}
	for _, path := range []string{"?lot=" + code + "&format=gif", "?lot=" + code + "&size=9x9in", "?lot=" + code + "&dpi=72", "?lot=" + code + "&crate=" + code, "?lot="} {
		x.get(domain.Reader, "/v1/labels"+path).problem(http.StatusUnprocessableEntity, domain.CodeInvalid)
	}
	x.get(domain.Reader, "/v1/labels?lot=26219-L3-RAD-1-SS").problem(http.StatusNotFound, domain.CodeNotFound)
	x.get(domain.Reader, "/v1/labels?lot=nonsense").problem(http.StatusNotFound, domain.CodeNotFound)
}

// What a buyer's phone reads from the label leads to the lot, in whatever letters the phone sends it.
func TestScannedLabelLeadsToTheLot(t *testing.T) {
	t.Parallel()
	x := newField(t)
	code := x.lot(x.radish, "2026-08-08")["code"].(string)
	crate := domain.CrateCode(code, 2)
	read := scan(t, x.get(domain.Reader, "/v1/labels?format=png&dpi=300&crate="+crate).is(http.StatusOK).Body)
	if want := x.get(domain.Reader, "/v1/crates/"+crate).text("url"); read != want {
		t.Errorf("QR says %s, the look-up %s", read, want)
	}
	link, err := url.Parse(read)
	if err != nil || !strings.EqualFold(link.Scheme+"://"+link.Host, publicURL) {
		t.Fatalf("QR says %s (%v)", read, err)
	}
	for _, path := range []string{link.Path, strings.ToLower(link.Path), strings.ToUpper(link.Path)} {
		a := x.send(httptest.NewRequest(http.MethodGet, path, nil)).is(http.StatusOK)
		page := string(a.Body)
		if a.Header.Get("Content-Type") != "text/html; charset=utf-8" || !strings.Contains(page, crate) || !strings.Contains(page, "Fern Bank") || !strings.Contains(page, "radish") {
			t.Errorf("%s: %s\n%s", path, a.Header.Get("Content-Type"), page)
		}
		for _, secret := range []string{"Brindle", "Lower 3", "Carl", "40"} {
			if strings.Contains(strings.ReplaceAll(page, "max-width:34rem", ""), ">"+secret) {
				t.Errorf("the page for everybody tells %q", secret)
			}
		}
	}
	for _, path := range []string{"/L/AAAAAAA/" + crate, "/L/" + strings.Split(link.Path, "/")[2] + "/26219-L3-RAD-1-SS", "/L/x/y", "/l/%00/%00"} {
		if a := x.send(httptest.NewRequest(http.MethodGet, path, nil)); a.Status != http.StatusNotFound || strings.Contains(string(a.Body), "Fern Bank") {
			t.Errorf("%s: %d %s", path, a.Status, a.Body)
		}
	}
}

func TestHeldLotsLabelSaysSo(t *testing.T) {
	t.Parallel()
	x := newField(t)
	lot := x.lot(x.radish, "2026-08-08")
	svg := "/v1/labels?format=svg&lot=" + lot["code"].(string)
	if free := x.get(domain.Reader, svg).is(http.StatusOK); strings.Contains(string(free.Body), "HOLD") {
		t.Errorf("a free lot's label says HOLD")
	}
	free := x.get(domain.Reader, "/v1/labels?format=png&lot="+lot["code"].(string)).Body
	hold := x.post(domain.Crew, "/v1/holds", fields{"on": fields{"lot_id": lot["id"]}, "reason": "Wash water was bad."}).id()
	held := x.get(domain.Reader, svg).is(http.StatusOK)
	if !strings.Contains(string(held.Body), "HOLD: DO NOT SHIP") {
		t.Errorf("a held lot's label does not say HOLD: %.2000s", held.Body)
	}
	if bytes.Equal(free, x.get(domain.Reader, "/v1/labels?format=png&lot="+lot["code"].(string)).Body) {
		t.Error("the held lot's picture is the free one's")
	}
	x.post(domain.Lead, "/v1/holds/"+hold+"/release", fields{"reason": "Retested."}).is(http.StatusCreated)
	if again := x.get(domain.Reader, svg); strings.Contains(string(again.Body), "HOLD") {
		t.Error("the label still says HOLD after the release")
	}
}

func TestNamesComeOutEscaped(t *testing.T) {
	t.Parallel()
	x := newService(t).farm(`<b>Fern & "Co"</b>`).field()
	planting := x.plant(`<script>alert('1')</script>`, "touches", "2026-05-01", x.bed)
	code := x.lot(planting, "2026-08-08")["code"].(string)
	link, err := url.Parse(x.get(domain.Reader, "/v1/lots/"+code).text("url"))
	if err != nil {
		t.Fatal(err)
	}
	a := x.send(httptest.NewRequest(http.MethodGet, link.Path, nil)).is(http.StatusOK)
	page := string(a.Body)
	for _, raw := range []string{"<script", "<b>", `"Co"`} {
		if strings.Contains(page, raw) {
			t.Errorf("the page holds %s:\n%s", raw, page)
		}
	}
	if !strings.Contains(page, "&lt;script&gt;") || !strings.Contains(page, "&lt;b&gt;Fern &amp;") {
		t.Errorf("the names are not there:\n%s", page)
	}
	if csp := a.Header.Get("Content-Security-Policy"); !strings.Contains(csp, "default-src 'none'") || strings.Contains(csp, "script-src") {
		t.Errorf("Content-Security-Policy %q", csp)
	}
	svg := string(x.get(domain.Reader, "/v1/labels?format=svg&lot="+code).is(http.StatusOK).Body)
	if strings.Contains(svg, "<script") || strings.Contains(svg, "<b>") {
		t.Errorf("markup in the SVG label: %.3000s", svg)
	}
	zpl := string(x.get(domain.Reader, "/v1/labels?format=zpl&lot="+code).is(http.StatusOK).Body)
	if strings.Count(zpl, "^XA") != 3 {
		t.Errorf("%d labels for three crates", strings.Count(zpl, "^XA"))
	}
}
