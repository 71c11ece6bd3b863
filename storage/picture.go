package storage

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"net/http"
	"time"

	"github.com/bep/imagemeta"
	"golang.org/x/image/draw"
	_ "golang.org/x/image/webp" // a decoder

	"croftmark/domain"
)

// inspected is what is known of a file by its content alone.
type inspected struct {
	mediaType string
	thumbnail []byte // a small JPEG of a picture; nothing of a document
}

const (
	thumbnailSide    = 480
	thumbnailQuality = 80
	// mostPixels bounds what a small file may unfold to. It is above what a phone's camera takes.
	mostPixels = 50_000_000
)

// opening bounds how many pictures are unfolded at once, because each takes its memory.
var opening = make(chan struct{}, 2)

// inspect tells the type of a file by what is in it, and makes the thumbnail of a picture. A file that is no whole picture
// or document of a kind that is taken is refused in words.
func inspect(content []byte) (inspected, error) {
	if kind := http.DetectContentType(content); kind == "application/pdf" {
		tail := content[max(0, len(content)-2048):]
		if !bytes.Contains(tail, []byte("startxref")) || !bytes.Contains(tail, []byte("%%EOF")) {
			return inspected{}, badFile("The PDF breaks off before its end. Send it again.")
		}
		return inspected{mediaType: kind}, nil
	}
	opening <- struct{}{}
	defer func() { <-opening }()
	picture, kind, err := unfold(content)
	if err != nil {
		return inspected{}, err
	}
	small, err := thumbnail(picture, orientation(content, kind))
	return inspected{kind, small}, err
}

// unfold reads the points of a picture, which take far more room than the file. Its caller holds a place in opening.
func unfold(content []byte) (picture image.Image, kind string, err error) {
	kind = http.DetectContentType(content)
	if domain.AttachmentTypes[kind] == "" {
		return nil, "", badFile("Only JPEG, PNG and WebP pictures and PDF files are taken; what counts is the content, not the name.")
	}
	about, format, err := image.DecodeConfig(bytes.NewReader(content))
	if err != nil || "image/"+format != kind {
		return nil, "", badFile("The picture can't be read. Take or save it again.")
	}
	if about.Width < 1 || about.Height < 1 || about.Width > mostPixels/about.Height {
		return nil, "", badFile("The picture has %d × %d points; at most %d million fit. Save it smaller.", about.Width, about.Height, mostPixels/1_000_000)
	}
	picture, _, err = image.Decode(bytes.NewReader(content))
	if err != nil {
		return nil, "", badFile("The picture breaks off or is damaged. Take or save it again.")
	}
	return picture, kind, nil
}

// redrawnQuality keeps small print on a photographed paper readable.
const redrawnQuality = 95

// withoutNotes draws a picture anew from its points, upright and at its full size, so that nothing of what the camera wrote
// beside them is left: place, time, camera, a preview, a second picture behind the first. A PNG stays one, since it may be
// a drawing or a screen; the others become JPEGs.
func withoutNotes(content []byte) ([]byte, error) {
	if http.DetectContentType(content) == "application/pdf" {
		return nil, badFile("The place can be taken out of a picture only. Send the PDF without remove_location, or a picture of the page.")
	}
	opening <- struct{}{}
	defer func() { <-opening }()
	picture, kind, err := unfold(content)
	if err != nil {
		return nil, err
	}
	if o := orientation(content, kind); o != 1 {
		b := picture.Bounds()
		points := image.NewRGBA(image.Rect(0, 0, b.Dx(), b.Dy()))
		draw.Draw(points, points.Bounds(), picture, b.Min, draw.Src)
		picture = upright(points, o)
	}
	var out bytes.Buffer
	if kind == "image/png" {
		err = png.Encode(&out, picture)
	} else {
		err = jpeg.Encode(&out, picture, &jpeg.Options{Quality: redrawnQuality})
	}
	if err == nil && out.Len() > domain.MostAttachmentBytes {
		err = badFile("Drawn anew without its place the picture is larger than %d MB. Save it smaller.", domain.MostAttachmentBytes>>20)
	}
	return out.Bytes(), err
}

func badFile(format string, args ...any) error {
	var p domain.Problems
	p.Add("", "%s", fmt.Sprintf(format, args...))
	return p.Err()
}

// thumbnail draws a picture small and upright. It is drawn anew from its points, so nothing that lay beside them, such as
// where and with which camera it was taken, comes along.
func thumbnail(picture image.Image, orientation int) ([]byte, error) {
	// A fine scaler looks at every point, which takes seconds for a large photo. A coarse one goes most of the way, and
	// leaves four points for each that is kept.
	if b := picture.Bounds(); max(b.Dx(), b.Dy()) > 4*thumbnailSide {
		picture = scaled(picture, 4*thumbnailSide, draw.ApproxBiLinear)
	}
	small := scaled(picture, thumbnailSide, draw.CatmullRom)
	var out bytes.Buffer
	err := jpeg.Encode(&out, upright(small, orientation), &jpeg.Options{Quality: thumbnailQuality})
	return out.Bytes(), err
}

// scaled draws a picture on white so that its longer side is at most so long.
func scaled(picture image.Image, longest int, scaler draw.Scaler) *image.RGBA {
	from := picture.Bounds()
	w, h := from.Dx(), from.Dy()
	if long := max(w, h); long > longest {
		w, h = max(1, w*longest/long), max(1, h*longest/long)
	}
	out := image.NewRGBA(image.Rect(0, 0, w, h))
	draw.Draw(out, out.Bounds(), image.NewUniform(color.White), image.Point{}, draw.Src) // behind what can be seen through
	scaler.Scale(out, out.Bounds(), picture, from, draw.Over, nil)
	return out
}

// orientation reads how a camera was held: 1 to 8 as in TIFF 6.0, section 8; 1 when it does not say.
func orientation(content []byte, kind string) int {
	format := map[string]imagemeta.ImageFormat{"image/jpeg": imagemeta.JPEG, "image/png": imagemeta.PNG, "image/webp": imagemeta.WebP}[kind]
	said := 1
	const tag = "Orientation"
	// An error leaves it as it is: a picture with muddled notes is still a picture.
	_, _ = imagemeta.Decode(imagemeta.Options{R: bytes.NewReader(content), ImageFormat: format, Sources: imagemeta.EXIF, Timeout: 2 * time.Second,
		ShouldHandleTag: func(t imagemeta.TagInfo) bool { return t.Tag == tag },
		HandleTag: func(t imagemeta.TagInfo) error {
			if n, ok := t.Value.(uint16); ok && n >= 1 && n <= 8 {
				said = int(n)
			}
			return imagemeta.ErrStopWalking
		}})
	return said
}

// upright turns and mirrors a picture by its orientation.
func upright(src *image.RGBA, orientation int) *image.RGBA {
	w, h := src.Bounds().Dx(), src.Bounds().Dy()
	// at gives the stored point that is seen at x, y.
	at := map[int]func(x, y int) (int, int){
		2: func(x, y int) (int, int) { return w - 1 - x, y },
		3: func(x, y int) (int, int) { return w - 1 - x, h - 1 - y },
		4: func(x, y int) (int, int) { return x, h - 1 - y },
		5: func(x, y int) (int, int) { return y, x },
		6: func(x, y int) (int, int) { return y, h - 1 - x },
		7: func(x, y int) (int, int) { return w - 1 - y, h - 1 - x },
		8: func(x, y int) (int, int) { return w - 1 - y, x },
	}[orientation]
	if at == nil {
		return src
	}
	size := image.Rect(0, 0, w, h)
	if orientation >= 5 { // lies on its side
		size = image.Rect(0, 0, h, w)
	}
	out := image.NewRGBA(size)
	for y := range size.Dy() {
		for x := range size.Dx() {
			fromX, fromY := at(x, y)
			out.SetRGBA(x, y, src.RGBAAt(fromX, fromY))
		}
	}
	return out
}
