package api

import (
	"context"
	"net/http"

	"github.com/danielgtaylor/huma/v2"

	"croftmark/domain"
)

type rulesOutput struct {
	Body []domain.RuleSet
}

type retentionOutput struct {
	Body []domain.RetentionRule
}

type catalogueOutput struct {
	Body []domain.CatalogueRow
}

func (s *Server) registerRules() {
	rules := s.operation(http.MethodGet, "/v1/rules", "rules", "Every rule the book judges by, with who says it and when it was checked", "Rules", domain.Reader, nil)
	huma.Register(s.api, rules, func(context.Context, *noInput) (*rulesOutput, error) {
		return &rulesOutput{Body: domain.RuleSets()}, nil
	})
	keep := s.operation(http.MethodGet, "/v1/retention", "retention", "How long each kind of record is kept, and who says so", "Rules", domain.Reader, nil)
	huma.Register(s.api, keep, func(context.Context, *noInput) (*retentionOutput, error) {
		return &retentionOutput{Body: domain.RetentionRules("")}, nil
	})
	crops := s.operation(http.MethodGet, "/v1/crop-catalogue", "crop-catalogue", "The shipped crops, with the mark of where their figures come from", "Plants", domain.Reader, nil)
	huma.Register(s.api, crops, func(context.Context, *noInput) (*catalogueOutput, error) {
		return &catalogueOutput{Body: domain.Catalogue()}, nil
	})
}
