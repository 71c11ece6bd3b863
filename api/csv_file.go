package api

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"net/http"
	"strings"

	"github.com/danielgtaylor/huma/v2"

	"croftmark/domain"
)

// takesCSV makes the body of an operation a file, at most so many bytes of it.
func takesCSV(op *huma.Operation, most int64) {
	op.SkipValidateBody, op.MaxBodyBytes = true, most
	op.RequestBody = &huma.RequestBody{Required: true, Content: map[string]*huma.MediaType{"text/csv": {Schema: &huma.Schema{Type: "string"}}}}
}

// fileMark lets a repeated upload be known again by its key: the file, and how it was asked to be read. Without a key
// there is no mark.
func fileMark(key, asked string, file []byte) *domain.RequestMark {
	if key == "" {
		return nil
	}
	sum := sha256.New()
	sum.Write([]byte(asked))
	sum.Write(file)
	return &domain.RequestMark{Key: "key:" + strings.Trim(key, `"`), Hash: hex.EncodeToString(sum.Sum(nil))}
}

// readFile answers the reading of a file with its result and status, or with lines that tell the progress while it is read.
func (s *Server) readFile(ctx context.Context, told bool, read func(progress func(rows int)) (result any, status int, err error)) *huma.StreamResponse {
	return &huma.StreamResponse{Body: func(out huma.Context) {
		var progress func(int)
		if told {
			out.SetHeader("Content-Type", "application/x-ndjson")
			out.SetStatus(http.StatusOK)
			progress = func(rows int) { s.progressLine(out, map[string]int{"rows": rows}) }
		}
		result, status, err := read(progress)
		switch {
		case err != nil && told:
			s.progressLine(out, problemOf(ctx, err))
		case err != nil:
			writeProblem(out, problemOf(ctx, err))
		case told:
			s.progressLine(out, result)
		default:
			out.SetHeader("Content-Type", "application/json")
			out.SetStatus(status)
			json.NewEncoder(out.BodyWriter()).Encode(result)
		}
	}}
}

// progressLine sends one line at once, so that the caller sees it while the rest is being read.
func (s *Server) progressLine(out huma.Context, line any) {
	json.NewEncoder(out.BodyWriter()).Encode(line)
	if f, ok := out.BodyWriter().(http.Flusher); ok {
		f.Flush()
	}
}
