package api

import (
	"bytes"
	"context"
	"io"
	"net/http"

	"github.com/danielgtaylor/huma/v2"
	"github.com/google/uuid"

	"croftmark/domain"
	"croftmark/report"
	"croftmark/storage"
)

type fileOutput struct {
	ContentType string `header:"Content-Type"`
	Disposition string `header:"Content-Disposition"`
	Body        []byte
}

type paperInput struct {
	ID       uuid.UUID `path:"id" format:"uuid"`
	Language string    `query:"language" enum:"en,es" doc:"The person's own when left out."`
	Size     string    `query:"size" enum:"letter,a4" default:"letter"`
}

type chartInput struct {
	ID       uuid.UUID `path:"id" format:"uuid"`
	Language string    `query:"language" enum:"en,es"`
	Width    float64   `query:"width" minimum:"0" maximum:"4000" doc:"Of the drawing; a phone's when left out."`
}

func (s *Server) registerReports() {
	huma.Register(s.api, s.fileOperation("/v1/compost-batches/{id}/chart.svg", "compost-chart", "Every probe over time, turnings and counted days", "Compost", "image/svg+xml"), s.compostChart)
	huma.Register(s.api, s.fileOperation("/v1/compost-batches/{id}/report.pdf", "compost-report", "The paper of a batch for an inspector", "Compost", "application/pdf"), s.compostReport)
	huma.Register(s.api, s.fileOperation("/v1/water-sources/{id}/chart.svg", "water-chart", "Samples, failures and changes of a source over time", "Water", "image/svg+xml"), s.waterChart)
	huma.Register(s.api, s.fileOperation("/v1/water-sources/{id}/report.pdf", "water-report", "The paper of a water source for an inspector", "Water", "application/pdf"), s.waterReport)
}

// fileOperation is a read that answers with a file.
func (s *Server) fileOperation(path, id, summary, tag, contentType string) huma.Operation {
	return s.operation(http.MethodGet, path, id, summary, tag, domain.Reader, map[string]*huma.Response{
		"200": {Description: "The file.", Content: map[string]*huma.MediaType{contentType: {}}}})
}

func languageOf(ctx context.Context, asked string) string {
	if asked != "" {
		return asked
	}
	return actorOf(ctx).Language
}

func (s *Server) compostChart(ctx context.Context, in *chartInput) (*fileOutput, error) {
	b, err := s.db.Compost(readingOf(ctx), in.ID)
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	chart := report.CompostChart{Code: b.Batch.Code, Facts: b.Facts, Results: b.Results, Language: languageOf(ctx, in.Language), Width: in.Width}
	return &fileOutput{ContentType: "image/svg+xml", Disposition: "inline", Body: chart.SVG()}, nil
}

func (s *Server) waterChart(ctx context.Context, in *chartInput) (*fileOutput, error) {
	w, err := s.db.WaterSource(readingOf(ctx), in.ID)
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	chart := report.WaterChart{Facts: w.Facts, At: w.Now, Language: languageOf(ctx, in.Language), Width: in.Width}
	return &fileOutput{ContentType: "image/svg+xml", Disposition: "inline", Body: chart.SVG()}, nil
}

// paper gathers what all papers have in common.
func (s *Server) paper(ctx context.Context, in *paperInput, farm domain.Farm, rec storage.Record) (report.Paper, error) {
	p := report.Paper{Farm: farm.Name, Address: farm.Address, Language: languageOf(ctx, in.Language), Size: pageSizeOf(in.Size), Made: s.db.Now()}
	c, err := s.db.Checkpoint(ctx, actorOf(ctx).FarmID)
	if err != nil {
		return p, err
	}
	p.Checkpoint = report.Checkpoint{Origin: c.Origin, Size: c.Size, Root: c.Root}
	if p.People, err = s.db.People(readingOf(ctx)); err != nil {
		return p, err
	}
	p.Signatures.DoneBy = report.Signature{Name: p.People[rec.Stamp.DoneBy], On: rec.DoneOn}
	last, err := rec.LatestReview()
	if err != nil || last.By == uuid.Nil {
		return p, err
	}
	zone, err := domain.Zone(farm.TimeZone)
	p.Signatures.ReviewedBy = report.Signature{Name: p.People[last.By], On: domain.DateIn(last.At, zone), Own: last.Own}
	return p, err
}

func pageSizeOf(name string) report.PageSize {
	if name == "a4" {
		return report.A4
	}
	return report.Letter
}

func pdf(name string, draw func(io.Writer) error) (*fileOutput, error) {
	return drawn("application/pdf", "inline", name+".pdf", draw)
}

// drawn makes a file before anything of it is sent, so that a refusal is never half a file.
func drawn(contentType, disposition, name string, draw func(io.Writer) error) (*fileOutput, error) {
	var b bytes.Buffer
	if err := draw(&b); err != nil {
		return nil, err
	}
	return &fileOutput{ContentType: contentType, Disposition: disposition + `; filename="` + name + `"`, Body: b.Bytes()}, nil
}

func (s *Server) compostReport(ctx context.Context, in *paperInput) (*fileOutput, error) {
	b, err := s.db.Compost(readingOf(ctx), in.ID)
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	paper, err := s.paper(ctx, in, b.Farm, b.Record)
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	out, err := pdf("compost-batch", func(w io.Writer) error {
		return report.CompostPDF(w, report.CompostPaper{Paper: paper, Batch: *b.Batch, Mix: b.Mix, Facts: b.Facts, Results: b.Results,
			Standing: b.Standing, On: b.Today, Rounds: b.Rounds})
	})
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	return out, nil
}

func (s *Server) waterReport(ctx context.Context, in *paperInput) (*fileOutput, error) {
	water, err := s.db.WaterSource(readingOf(ctx), in.ID)
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	paper, err := s.paper(ctx, in, water.Farm, water.Record)
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	acts := map[uuid.UUID]report.WaterAct{}
	for _, a := range water.Acts {
		acts[a.ID] = report.WaterAct{By: a.By, Said: a.Said}
	}
	out, err := pdf("water-source", func(w io.Writer) error {
		return report.WaterPDF(w, report.WaterPaper{Paper: paper, Facts: water.Facts, At: water.Now, Acts: acts})
	})
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	return out, nil
}
