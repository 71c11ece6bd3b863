package api

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"mime"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"unicode/utf8"

	"github.com/danielgtaylor/huma/v2"
	"github.com/labstack/echo/v4"

	"croftmark/domain"
)

// maxBody is far above any record, and below anything that would hurt.
const maxBody = 1 << 20

type contextKey int

const (
	bodyHashKey contextKey = iota
	actorKey
	requestIDKey
	sessionKey
	arrivalKey
)

// strictBody reads the whole request body before anything else does, and lets only one well-formed JSON document
// through: valid UTF-8, no control characters inside texts, no key twice in an object, nothing after the end. Two
// readers of a sloppy document could otherwise each read another record.
func strictBody(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		r := c.Request()
		if r.Method == http.MethodPost && strings.HasSuffix(r.URL.Path, ".csv") && withCookie(r) && !strings.HasPrefix(r.Header.Get("Content-Type"), "text/csv") {
			return invalidBody("#", "Send the file with the header Content-Type: text/csv.") // a page elsewhere cannot set it
		}
		if r.Method != http.MethodPost || strings.HasSuffix(r.URL.Path, ".csv") || r.URL.Path == attachPath {
			return next(c) // files are read by their own operations, with their own limits
		}
		// A token may come without the header; a cookie may not, because a page elsewhere can send a body without a type.
		if kind := r.Header.Get("Content-Type"); kind != "" && !isJSON(kind) || kind == "" && withCookie(r) {
			return invalidBody("#", "Send the record as JSON, with the header Content-Type: application/json.")
		}
		raw, err := io.ReadAll(http.MaxBytesReader(c.Response(), r.Body, maxBody))
		if err != nil {
			return bodyReadError(err)
		}
		if err := checkJSON(raw); err != nil {
			return err
		}
		hash, err := hashBody(r.Method, r.URL.Path, raw)
		if err != nil {
			return invalidBody("#", err.Error()+".")
		}
		r = r.WithContext(context.WithValue(r.Context(), bodyHashKey, hash))
		r.Body = io.NopCloser(bytes.NewReader(raw))
		r.ContentLength = int64(len(raw))
		if r.Header.Get("Content-Type") == "" {
			r.Header.Set("Content-Type", "application/json")
		}
		c.SetRequest(r)
		return next(c)
	}
}

// withCookie reports whether a request leans on the session's cookie.
func withCookie(r *http.Request) bool {
	_, err := r.Cookie(sessionCookie)
	return err == nil && r.Header.Get("Authorization") == ""
}

func isJSON(contentType string) bool {
	kind, _, err := mime.ParseMediaType(contentType)
	return err == nil && kind == "application/json"
}

func bodyReadError(err error) error {
	var tooLarge *http.MaxBytesError
	if errors.As(err, &tooLarge) {
		return domain.Refuse(domain.CodeTooLarge, "Too large", "A record of more than %d kB is not taken. Send photos and files as attachments, and long lists in parts.", maxBody/1024)
	}
	return invalidBody("#", "The request broke off before its end. Send it again.")
}

func invalidBody(pointer, detail string) *Problem {
	return &Problem{Type: typeBase + string(domain.CodeInvalid), Title: titles[domain.CodeInvalid], Status: http.StatusBadRequest,
		Detail: detail, Errors: []domain.FieldError{{Pointer: pointer, Detail: detail}}}
}

// checkJSON walks the document once.
func checkJSON(raw []byte) error {
	if len(bytes.TrimSpace(raw)) == 0 {
		return invalidBody("#", "The request is empty. Send a JSON object with the record's fields.")
	}
	if !utf8.Valid(raw) {
		return invalidBody("#", "The request is not valid UTF-8. Send text as UTF-8.")
	}
	dec := json.NewDecoder(bytes.NewReader(raw))
	dec.UseNumber()
	if err := checkValue(dec, "#", 0); err != nil {
		return err
	}
	if _, err := dec.Token(); err != io.EOF {
		return invalidBody("#", "There is more than one JSON document. Send one record at a time.")
	}
	return nil
}

// strictQuery refuses what the operation does not know, and what is given twice but is no list: a filter that is quietly
// passed over would give another list than the one asked for.
func strictQuery(ctx huma.Context, next func(huma.Context)) {
	u := ctx.URL()
	asked, err := url.ParseQuery(u.RawQuery)
	wrong := []error{}
	if err != nil {
		wrong = append(wrong, &huma.ErrorDetail{Location: "query", Message: "this can't be read; check signs such as % and ;"})
	}
	for _, name := range slices.Sorted(maps.Keys(asked)) {
		at := slices.IndexFunc(ctx.Operation().Parameters, func(p *huma.Param) bool { return p.In == "query" && p.Name == name })
		switch {
		case at < 0:
			wrong = append(wrong, &huma.ErrorDetail{Location: "query." + name, Message: "there is nothing of that name to ask by; the names are in /v1/openapi.json"})
		case len(asked[name]) > 1 && ctx.Operation().Parameters[at].Schema.Type != huma.TypeArray:
			wrong = append(wrong, &huma.ErrorDetail{Location: "query." + name, Message: "this is given more than once; give it once"})
		case slices.ContainsFunc(asked[name], func(text string) bool { return checkString(text, "") != nil }):
			wrong = append(wrong, &huma.ErrorDetail{Location: "query." + name, Message: "this holds a control character or a broken one; type it again"})
		}
	}
	if len(wrong) > 0 {
		writeProblem(ctx, problemOf(ctx.Context(), humaError(http.StatusUnprocessableEntity, "", wrong...)))
		return
	}
	next(ctx)
}

// maxDepth is deeper than any record.
const maxDepth = 32

func checkValue(dec *json.Decoder, at string, depth int) error {
	token, err := dec.Token()
	if err != nil {
		return invalidBody(at, "The request is not well-formed JSON. Check commas, quotes and brackets.")
	}
	if depth > maxDepth {
		return invalidBody(at, "The request is nested too deeply.")
	}
	switch t := token.(type) {
	case string:
		return checkString(t, at)
	case json.Delim:
		if t == '{' {
			return checkObject(dec, at, depth)
		}
		return checkArray(dec, at, depth)
	}
	return nil
}

func checkObject(dec *json.Decoder, at string, depth int) error {
	seen := map[string]bool{}
	for dec.More() {
		token, err := dec.Token()
		if err != nil {
			return invalidBody(at, "The request is not well-formed JSON. Check commas, quotes and brackets.")
		}
		key := token.(string) // the decoder allows nothing else here
		if seen[key] {
			return invalidBody(at+"/"+key, "This field is given twice. Give it once.")
		}
		seen[key] = true
		if err := checkString(key, at); err != nil {
			return err
		}
		if err := checkValue(dec, at+"/"+key, depth+1); err != nil {
			return err
		}
	}
	return endOf(dec, at)
}

func checkArray(dec *json.Decoder, at string, depth int) error {
	for i := 0; dec.More(); i++ {
		if err := checkValue(dec, fmt.Sprintf("%s/%d", at, i), depth+1); err != nil {
			return err
		}
	}
	return endOf(dec, at)
}

func endOf(dec *json.Decoder, at string) error {
	if _, err := dec.Token(); err != nil {
		return invalidBody(at, "The request is not well-formed JSON. Check commas, quotes and brackets.")
	}
	return nil
}

func checkString(s, at string) error {
	for _, r := range s {
		if r < 0x20 && r != '\n' && r != '\r' && r != '\t' || r == 0x7f {
			return invalidBody(at, "The text holds a control character. Type it again.")
		}
		if r == utf8.RuneError {
			return invalidBody(at, "The text holds a broken character. Type it again.")
		}
	}
	return nil
}

// hashBody marks what was asked: the operation, and the body whatever the order of its fields.
func hashBody(method, path string, raw []byte) (string, error) {
	canonical, err := domain.CanonicalJSON(raw)
	if err != nil {
		return "", err
	}
	sum := sha256.New()
	fmt.Fprintf(sum, "%s %s\n", method, path)
	sum.Write(canonical)
	return hex.EncodeToString(sum.Sum(nil)), nil
}

// bodyHash is the mark of what was asked, for telling a repeated request from a changed one.
func bodyHash(ctx context.Context) string {
	hash, _ := ctx.Value(bodyHashKey).(string)
	return hash
}
