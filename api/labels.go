package api

import (
	"bytes"
	"context"
	"encoding/base64"
	"fmt"
	"net/http"

	"github.com/danielgtaylor/huma/v2"

	"croftmark/domain"
	"croftmark/labels"
)

// mostLabels is how many labels one request draws: more is a roll, and a printer wants paper in between.
const mostLabels = 500

type labelInput struct {
	Lot      string `query:"lot" maxLength:"60"`
	Crate    string `query:"crate" maxLength:"60"`
	First    int    `query:"first" minimum:"1" maximum:"2000" default:"1" doc:"Number of the first crate of the lot."`
	Most     int    `query:"most" minimum:"1" maximum:"500" default:"500" doc:"How many labels at most."`
	Size     string `query:"size" maxLength:"20" default:"4x2in"`
	Format   string `query:"format" enum:"pdf,png,svg,zpl" default:"pdf"`
	DPI      int    `query:"dpi" minimum:"203" maximum:"600" default:"203" doc:"Dots per inch of the printer: 203, 300 or 600."`
	Language string `query:"language" enum:"en,es" doc:"The person's own when left out."`
	Progress bool   `query:"progress" doc:"Answer with lines of JSON while drawing: {\"labels\": n, \"of\": m}, and last one with content_type, filename, labels, next, note and the file as content in base64."`
}

// labelFile is the last line of an answer with progress.
type labelFile struct {
	ContentType string `json:"content_type"`
	Filename    string `json:"filename"`
	Labels      int    `json:"labels"`
	Next        int    `json:"next,omitempty"`
	Note        string `json:"note,omitempty"`
	Content     string `json:"content"`
}

var labelTypes = map[string]string{"pdf": "application/pdf", "png": "image/png", "svg": "image/svg+xml", "zpl": "text/plain; charset=utf-8"}

func (s *Server) registerLabels() {
	register[domain.LabelPrint](s, collection{path: "label-prints", noun: "label print", create: domain.Crew, correct: domain.Lead, filters: []string{"lot_id"}, tag: "Labels"})
	register[domain.LabelDiscard](s, collection{path: "label-discards", noun: "label discard", create: domain.Crew, correct: domain.Lead, filters: []string{"lot_id"}, tag: "Labels"})
	register[domain.LostLabel](s, collection{path: "lost-labels", noun: "lost label", create: domain.Crew, correct: domain.Lead, filters: []string{"decision"}, tag: "Labels"})
	op := s.operation(http.MethodGet, "/v1/labels", "labels", "Labels of a lot or of one crate", "Labels", domain.Reader,
		map[string]*huma.Response{"200": {Description: "The labels in the format asked for, in their exact size.", Content: map[string]*huma.MediaType{
			"application/pdf": {}, "image/png": {}, "image/svg+xml": {}, "text/plain": {}, "application/x-ndjson": {}}, Headers: map[string]*huma.Param{
			"Label-Count": {Description: "How many labels the file holds.", Schema: &huma.Schema{Type: "integer"}},
			"Label-Next":  {Description: "Number of the first crate that is not in it; not there when all are.", Schema: &huma.Schema{Type: "integer"}},
			"Label-Note":  {Description: "Why a label carries no GS1 number, or the farm's own address in its QR.", Schema: &huma.Schema{Type: "string"}}}}})
	huma.Register(s.api, op, s.label)
}

// sheet is what a request for labels asks to be drawn.
type sheet struct {
	in   *labelInput
	size labels.Size
	list []labels.Label
	name string
	next int
	note string
}

// sheetOf finds the labels that are asked for.
func (s *Server) sheetOf(ctx context.Context, in *labelInput) (*sheet, error) {
	text := in.Lot + in.Crate
	if (in.Lot == "") == (in.Crate == "") {
		return nil, domain.Refuse(domain.CodeInvalid, titles[domain.CodeInvalid], "Say which label: either lot=CODE or crate=CODE.")
	}
	size, err := labels.SizeByName(in.Size)
	if err != nil {
		return nil, err
	}
	f, err := s.find(readingOf(ctx), text)
	if err != nil {
		return nil, err
	}
	sh := &sheet{in: in, size: size, list: s.labelsOf(f, languageOf(ctx, in.Language), in.First, min(in.Most, mostLabels)), name: "label-" + f.code.Text + "." + in.Format}
	if len(sh.list) == 0 {
		return nil, domain.Refuse(domain.CodeInvalid, titles[domain.CodeInvalid], "The lot has %d crates; there is no crate %d.", f.crates(), in.First)
	}
	if in.Format == "png" || in.Format == "svg" {
		sh.list = sh.list[:1] // a picture holds one label
	}
	if after := in.First + len(sh.list); f.code.Crate == 0 && after <= f.crates() {
		sh.next = after
	}
	sh.note, err = s.noteOf(f, sh)
	return sh, err
}

// noteOf says what a farm with a GS1 prefix should know about the labels.
func (s *Server) noteOf(f found, sh *sheet) (string, error) {
	if f.farm().GS1Prefix == "" {
		return "", nil
	}
	l := sh.list[len(sh.list)-1] // its code is the longest
	if _, whyNot := s.gs1(f, l.CrateCode); whyNot != "" {
		return whyNot, nil
	}
	text, err := labels.QRText(l, sh.size, sh.in.DPI, sh.in.Format == "zpl")
	if err == nil && text != l.URL {
		return "This size has no room for the long GS1 address, so the QR carries the farm's own. The GS1 numbers stand beside it.", nil
	}
	return "", err
}

func (s *Server) label(ctx context.Context, in *labelInput) (*huma.StreamResponse, error) {
	sh, err := s.sheetOf(ctx, in)
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	if in.Progress {
		return &huma.StreamResponse{Body: func(out huma.Context) { s.labelsWithProgress(ctx, out, sh) }}, nil
	}
	content, err := sh.draw(ctx, nil)
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	return &huma.StreamResponse{Body: func(out huma.Context) {
		out.SetHeader("Content-Type", labelTypes[in.Format])
		out.SetHeader("Content-Disposition", `inline; filename="`+sh.name+`"`)
		out.SetHeader("Label-Count", fmt.Sprint(len(sh.list)))
		if sh.next > 0 {
			out.SetHeader("Label-Next", fmt.Sprint(sh.next))
		}
		if sh.note != "" {
			out.SetHeader("Label-Note", sh.note)
		}
		out.BodyWriter().Write(content)
	}}, nil
}

// labelsWithProgress tells every label that is drawn, and the file last. A refusal is the last line too.
func (s *Server) labelsWithProgress(ctx context.Context, out huma.Context, sh *sheet) {
	out.SetHeader("Content-Type", "application/x-ndjson")
	out.SetStatus(http.StatusOK)
	content, err := sh.draw(ctx, func(done, total int) { s.progressLine(out, map[string]int{"labels": done, "of": total}) })
	if err != nil {
		s.progressLine(out, problemOf(ctx, err))
		return
	}
	s.progressLine(out, labelFile{ContentType: labelTypes[sh.in.Format], Filename: sh.name, Labels: len(sh.list), Next: sh.next, Note: sh.note,
		Content: base64.StdEncoding.EncodeToString(content)})
}

// draw draws the labels; progress, if given, hears of each.
func (sh *sheet) draw(ctx context.Context, progress func(done, total int)) ([]byte, error) {
	if progress == nil {
		progress = func(int, int) {}
	}
	var b bytes.Buffer
	if sh.in.Format == "pdf" {
		err := labels.PDF(ctx, &b, sh.size, sh.in.DPI, sh.list, labels.WithProgress(progress))
		return b.Bytes(), err
	}
	one := map[string]func(labels.Label, labels.Size, int) ([]byte, error){"png": labels.PNG, "svg": labels.SVG, "zpl": labels.ZPL}[sh.in.Format]
	for i, l := range sh.list {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		content, err := one(l, sh.size, sh.in.DPI)
		if err != nil {
			return nil, err
		}
		b.Write(content)
		progress(i+1, len(sh.list))
	}
	return b.Bytes(), nil
}
