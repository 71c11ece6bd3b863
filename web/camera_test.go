//go:build external

package web_test

import (
	"bytes"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"image/png"
	"net/http"
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/chromedp"
)

// labelled cuts a lot of two crates and gives the code of the first and its label as the service draws it.
func labelled(s *service, f farm) (code string, label []byte) {
	s.t.Helper()
	s.post("/v1/harvest-lots", object{"planting_id": f.kale, "bed_ids": []string{f.clear}, "cut_on": day(0), "quantity": object{"value": "5", "unit": "lb"}, "containers": 2})
	lot := read[[]struct {
		Code   string
		Crates []struct{ Code string }
	}](s, s.request(http.MethodGet, "/v1/lots", nil, 200))[0]
	return lot.Crates[0].Code, s.request(http.MethodGet, "/v1/labels?crate="+lot.Crates[0].Code+"&size=4x2in&format=png", nil, 200)
}

// onTable is a photograph of a label lying on a grey table, as large as the camera of an old phone gives it.
func onTable(t *testing.T, label []byte) image.Image {
	t.Helper()
	drawn, err := png.Decode(bytes.NewReader(label))
	if err != nil {
		t.Fatal(err)
	}
	table := image.NewRGBA(image.Rect(0, 0, 1280, 720))
	draw.Draw(table, table.Bounds(), image.NewUniform(color.Gray{150}), image.Point{}, draw.Src)
	size := drawn.Bounds().Size()
	at := image.Rect((1280-size.X)/2, (720-size.Y)/2, (1280+size.X)/2, (720+size.Y)/2)
	draw.Draw(table, at, drawn, drawn.Bounds().Min, draw.Src)
	return table
}

func writeJPEG(t *testing.T, name string, picture image.Image) string {
	t.Helper()
	var b bytes.Buffer
	if err := jpeg.Encode(&b, picture, &jpeg.Options{Quality: 85}); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, b.Bytes(), 0o644); err != nil {
		t.Fatal(err)
	}
	return path
}

// picture reads a code out of a picture of its label, and says so when there is none in it.
func picture(t *testing.T, set setUp) {
	p, f := set(t)
	code, label := labelled(p.s, f)
	blank := writeJPEG(t, "blank.jpg", image.NewGray(image.Rect(0, 0, 640, 480)))
	photo := writeJPEG(t, "label.jpg", onTable(t, label))
	p.signIn()
	p.tap("Code")
	choose := func(path string) {
		p.do(chromedp.SetUploadFiles(chromedp.CSS(`input[type="file"]`), []string{path}))
	}
	choose(blank)
	p.sees("No code is to be seen in that picture.")
	choose(photo)
	p.sees(code, "Kale", "Towards the ground")
	if loaded := eval[int](p, `performance.getEntriesByType('resource').filter(r => /decode-/.test(r.name)).length`); loaded == 0 {
		t.Error("the reader of codes did not come as a part of its own")
	}
}

// TestCamera looks up a code with a camera whose picture is a label: the tap on the code's place and on the camera are all.
func TestCamera(t *testing.T) {
	s := startService(t)
	f := plant(s)
	code, label := labelled(s, f)
	film := writeJPEG(t, "label.mjpeg", onTable(t, label))
	root := browser(t, chromedp.Flag("use-fake-device-for-media-stream", true), chromedp.Flag("use-fake-ui-for-media-stream", true),
		chromedp.Flag("use-file-for-fake-video-capture", film))
	p := newPhone(t, root, s)
	p.signIn()
	if native := eval[bool](p, `!!window.BarcodeDetector`); native {
		t.Log("this browser has a reader of its own")
	}
	p.taps = 0
	p.tap("Code", "Scan with the camera")
	p.sees(code, "Kale", "Towards the ground")
	t.Logf("look-up by camera: %d taps", p.taps)
	if p.taps > 2 {
		t.Errorf("a look-up by camera takes %d taps", p.taps)
	}
	// The camera's light goes off when it is no longer needed.
	p.open("/app/code")
	p.tap("Scan with the camera")
	p.sees(code)
	if live := eval[bool](p, `[...document.querySelectorAll('video')].some(v => v.srcObject)`); live {
		t.Error("the camera is still on")
	}
}
