package api

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/hex"
	"io/fs"
	"net/http"
	"path"
	"regexp"
	"strings"

	"github.com/labstack/echo/v4"

	"croftmark/web"
)

// appPolicy lets the app's pages load what the service itself serves, and nothing from elsewhere. Labels are shown from
// memory (blob:). A script that got into a name would not run, and a page of ours cannot be framed.
const appPolicy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; connect-src 'self'; " +
	"manifest-src 'self'; worker-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"

// appFile is a built file of the phone app, ready to send.
type appFile struct {
	content, packed []byte
	kind, tag       string
	lasting         bool // its name holds a hash of its content, so it never changes
}

var appTypes = map[string]string{
	".html": "text/html; charset=utf-8", ".js": "text/javascript; charset=utf-8", ".css": "text/css; charset=utf-8",
	".svg": "image/svg+xml", ".png": "image/png", ".webmanifest": "application/manifest+json",
}

var hashedName = regexp.MustCompile(`-[A-Z0-9]{8}\.(js|css)$`)

// registerWeb serves the phone app: its page at / and at every address under /app/ that is not a file, and its files
// beside them.
func (s *Server) registerWeb() {
	files := appFiles()
	page := files["index.html"]
	answer := func(c echo.Context) error {
		name := c.Param("*")
		if file, ok := files[name]; ok && name != "index.html" {
			return file.send(c, name)
		}
		if strings.Contains(name, ".") {
			return echo.ErrNotFound // a file that is not there; a page instead of it would only confuse
		}
		return page.send(c, "index.html")
	}
	s.echo.GET("/phone-address", func(c echo.Context) error {
		return c.JSON(http.StatusOK, map[string]string{"app": told(s.config.PhoneApp), "trust": told(s.config.PhoneTrust)})
	})
	for _, route := range []string{"/", "/app", "/app/*"} {
		s.echo.GET(route, answer)
		s.echo.HEAD(route, answer)
	}
}

// told asks for an address, where there is somebody to ask.
func told(address func() string) string {
	if address == nil {
		return ""
	}
	return address()
}

// appFiles reads the embedded files once. They are part of the program, so an error is a broken build.
func appFiles() map[string]appFile {
	files := map[string]appFile{}
	err := fs.WalkDir(web.Files, "dist", func(name string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() {
			return err
		}
		content, err := web.Files.ReadFile(name)
		if err != nil {
			return err
		}
		sum := sha256.Sum256(content)
		short := strings.TrimPrefix(name, "dist/")
		files[short] = appFile{content: content, packed: pack(content), kind: appTypes[path.Ext(name)],
			tag: hex.EncodeToString(sum[:12]), lasting: hashedName.MatchString(short)}
		return nil
	})
	if err != nil {
		panic(err)
	}
	return files
}

// pack compresses what gets smaller by it; nil for pictures.
func pack(content []byte) []byte {
	var b bytes.Buffer
	w, _ := gzip.NewWriterLevel(&b, gzip.BestCompression) // the level is a valid one
	w.Write(content)                                      // a buffer takes everything
	w.Close()
	if b.Len() >= len(content) {
		return nil
	}
	return b.Bytes()
}

func (f appFile) send(c echo.Context, name string) error {
	h := c.Response().Header()
	h.Set("Content-Type", f.kind)
	h.Set("Content-Security-Policy", appPolicy)
	h.Set("Permissions-Policy", "camera=(self), microphone=(), geolocation=()")
	h.Set("Vary", "Accept-Encoding")
	h.Set("Cache-Control", "no-cache") // kept, but asked for again each time
	if f.lasting {
		h.Set("Cache-Control", "public, max-age=31536000, immutable")
	}
	if name == "worker.js" {
		h.Set("Service-Worker-Allowed", "/")
	}
	content, tag := f.content, f.tag
	if f.packed != nil && strings.Contains(c.Request().Header.Get("Accept-Encoding"), "gzip") {
		content, tag = f.packed, f.tag+"-gz"
		h.Set("Content-Encoding", "gzip")
	}
	h.Set("ETag", `"`+tag+`"`)
	if strings.Contains(c.Request().Header.Get("If-None-Match"), `"`+tag+`"`) {
		h.Del("Content-Encoding")
		return c.NoContent(http.StatusNotModified)
	}
	if c.Request().Method == http.MethodHead {
		return c.NoContent(http.StatusOK)
	}
	return c.Blob(http.StatusOK, f.kind, content)
}
