package api

import (
	"context"
	"encoding/json"
	"io"
	"strings"

	"github.com/danielgtaylor/huma/v2"

	"croftmark/domain"
	"croftmark/report"
	"croftmark/storage"
)

type binderInput struct {
	Scope string `query:"scope" enum:"organic,produce-safety,buyer" default:"produce-safety" doc:"Whose inspection it is for: it sets the order of the records."`
	From  string `query:"from" format:"date" doc:"A year before the last day when left out."`
	To    string `query:"to" format:"date" doc:"Today when left out."`
	Crop  string `query:"crop" maxLength:"120" doc:"Adds the trace-back and mass balance of this crop."`
	Size  string `query:"size" enum:"letter,a4" default:"letter"`
}

func (s *Server) registerBinder() {
	huma.Register(s.api, s.fileOperation("/v1/binder.pdf", "binder", "The records of a period in the order in which an inspector asks, with index, proofs and gaps", "Papers", "application/pdf"), s.binder)
}

func (s *Server) binder(ctx context.Context, in *binderInput) (*fileOutput, error) {
	to, err := s.dayOrToday(ctx, in.To)
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	from := to.AddMonths(-12)
	if in.From != "" {
		if from, err = s.dayOrToday(ctx, in.From); err != nil {
			return nil, problemOf(ctx, err)
		}
	}
	// The paper's checkpoint is taken first: every record that stands below it is in the book that it names.
	paper, err := s.paper(ctx, &paperInput{Size: in.Size}, domain.Farm{}, storage.Record{Reviews: json.RawMessage(`[]`)})
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	b, err := s.db.Binder(readingOf(ctx), storage.BinderAsked{Scope: in.Scope, From: from, To: to, Crop: in.Crop})
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	if b.Exercise != nil && b.Exercise.Start != "" {
		t, err := s.db.TraceBack(readingOf(ctx), b.Exercise.Start)
		if err != nil {
			return nil, problemOf(ctx, err)
		}
		b.Exercise.Trace = strings.Split(strings.TrimRight(t.Tree(), "\n"), "\n")
	}
	out, err := pdf("binder", func(w io.Writer) error { return report.BinderPDF(w, report.BinderPaper{Paper: paper, Binder: b}) })
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	return out, nil
}
