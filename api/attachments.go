package api

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"maps"
	"mime"
	"net/http"
	"reflect"
	"slices"
	"strings"
	"time"

	"github.com/danielgtaylor/huma/v2"

	"croftmark/domain"
)

// attachPath takes files as they are, not as JSON.
const attachPath = "/v1/attachments"

// attachInput is a file with what can be said of it. What kind of file it is, its content says.
type attachInput struct {
	Key     string    `header:"Idempotency-Key" maxLength:"200"`
	TypedBy string    `header:"Typed-By" maxLength:"36" doc:"Person who sends it; refused when somebody else is signed in by now."`
	Type    string    `header:"Content-Type"`
	Name    string    `query:"name" maxLength:"120" doc:"Name of the file."`
	Note    string    `query:"note" maxLength:"4000"`
	DoneAt  time.Time `query:"done_at" doc:"When it was taken."`
	Private bool      `query:"private" doc:"Only leads and the owner see it: for what concerns a person's health."`
	Silent  bool      `query:"remove_location" doc:"Draw the picture anew, upright, without anything that the camera wrote beside it, before it is hashed. What is kept and proven is then the new picture, and the answer says location_removed."`
	RawBody []byte
}

type fileInput struct {
	Hash string `path:"hash" maxLength:"64" doc:"SHA-256 of the content, in small hexadecimal digits."`
}

func (s *Server) registerAttachments() {
	c := collection{path: "attachments", noun: "attachment", create: domain.Crew, correct: domain.Lead, filters: []string{"hash", "media_type"}, tag: "Attachments"}
	stored := s.storedSchema(reflect.TypeFor[domain.Attachment](), "attachment")
	types := slices.Sorted(maps.Keys(domain.AttachmentTypes))
	op := s.operation(http.MethodPost, attachPath, "create-attachments", "Send a photo, lab report or certificate; records name it by its hash", c.tag, c.create, map[string]*huma.Response{
		"201": jsonResponse("Written.", stored), "200": jsonResponse("In the book before.", stored)}, http.StatusConflict)
	op.SkipValidateBody, op.MaxBodyBytes = true, domain.MostAttachmentBytes
	op.RequestBody = &huma.RequestBody{Required: true, Content: map[string]*huma.MediaType{}}
	for _, kind := range types {
		op.RequestBody.Content[kind] = &huma.MediaType{Schema: &huma.Schema{Type: "string", Format: "binary"}}
	}
	huma.Register(s.api, op, s.attach)
	s.registerList(c, "attachment", stored)
	s.registerOne(c, "attachment", stored)
	s.registerChanges(c, "attachment", stored)

	file := s.fileOperation("/v1/files/{hash}", "read-file", "A file as it was sent", c.tag, types[0])
	for _, kind := range types {
		file.Responses["200"].Content[kind] = &huma.MediaType{}
	}
	huma.Register(s.api, file, func(ctx context.Context, in *fileInput) (*fileOutput, error) { return s.file(ctx, in.Hash, false) })
	small := s.fileOperation("/v1/files/{hash}/thumbnail.jpg", "read-thumbnail", "A small picture of a photo, upright and without the place where it was taken", c.tag, "image/jpeg")
	huma.Register(s.api, small, func(ctx context.Context, in *fileInput) (*fileOutput, error) { return s.file(ctx, in.Hash, true) })
}

// mark lets a repeated upload be known again by its key; the file and what is said of it are what was asked for.
func (in *attachInput) mark() *domain.RequestMark {
	if in.Key == "" {
		return nil
	}
	sum := sha256.New()
	fmt.Fprintf(sum, "%q %q %s %t\n", in.Name, in.Note, in.DoneAt.Format(time.RFC3339Nano), in.Private)
	if in.Silent {
		fmt.Fprintln(sum, "remove_location")
	}
	sum.Write(in.RawBody)
	return &domain.RequestMark{Key: "key:" + strings.Trim(in.Key, `"`), Hash: hex.EncodeToString(sum.Sum(nil))}
}

// checkType refuses a file that is called something else than it is: one of the two is a mistake.
func (in *attachInput) checkType() error {
	called, _, err := mime.ParseMediaType(in.Type)
	is := http.DetectContentType(in.RawBody)
	if in.Type == "" || called == "application/octet-stream" || err == nil && called == is {
		return nil
	}
	var p domain.Problems
	p.Add("", "The header Content-Type calls the file something else than its content says, %s. Send it as what it is.", is)
	return p.Err()
}

func (s *Server) attach(ctx context.Context, in *attachInput) (*recordOutput, error) {
	a := &domain.Attachment{Name: in.Name, Private: in.Private, Redrawn: in.Silent, Habits: domain.Habits{Note: in.Note, DoneAt: in.DoneAt}}
	if err := in.checkType(); err != nil {
		return nil, problemOf(ctx, err)
	}
	out, err := s.db.Attach(ctx, actorOf(ctx), in.mark(), a, in.RawBody)
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	written, err := s.answerWritten(ctx, out)
	if err == nil {
		written.Location = attachPath + "/" + out.ID.String()
	}
	return written, err
}

func (s *Server) file(ctx context.Context, hash string, small bool) (*fileOutput, error) {
	f, err := s.db.File(readingOf(ctx), hash, small, readsPrivate(ctx))
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	if small {
		return &fileOutput{ContentType: "image/jpeg", Disposition: "inline", Body: f.Content}, nil
	}
	kind := f.Attachment.MediaType
	name := f.Attachment.Name
	if name == "" {
		name = hash[:12] + domain.AttachmentTypes[kind]
	}
	disposition := "attachment" // what may hold a script is not opened in a page of ours
	if strings.HasPrefix(kind, "image/") {
		disposition = "inline"
	}
	return &fileOutput{ContentType: kind, Disposition: mime.FormatMediaType(disposition, map[string]string{"filename": name}), Body: f.Content}, nil
}
