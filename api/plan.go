package api

import (
	"context"
	"encoding/json"
	"io"

	"github.com/danielgtaylor/huma/v2"

	"croftmark/report"
	"croftmark/storage"
)

type planInput struct {
	Language string `query:"language" enum:"en,es" doc:"The person's own when left out."`
	Size     string `query:"size" enum:"letter,a4" default:"letter"`
}

func (s *Server) registerPlan() {
	huma.Register(s.api, s.fileOperation("/v1/plan.pdf", "traceability-plan", "The traceability plan of the farm, with the map of its growing areas (21 CFR 1.1315)", "Trace", "application/pdf"), s.planPaper)
}

func (s *Server) planPaper(ctx context.Context, in *planInput) (*fileOutput, error) {
	plan, err := s.db.Plan(readingOf(ctx))
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	paper, err := s.paper(ctx, &paperInput{Language: in.Language, Size: in.Size}, plan.Farm, storage.Record{Reviews: json.RawMessage(`[]`)})
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	out, err := pdf("traceability-plan", func(w io.Writer) error {
		return report.PlanPDF(w, report.PlanPaper{Paper: paper, Farm: plan.Farm, Plots: plan.Plots, Beds: plan.Beds, Crops: plan.Crops,
			Held: plan.Held, HarvestCode: plan.HarvestCode, PackCode: plan.PackCode})
	})
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	return out, nil
}
