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

type catalogueOutput struct {
	Body []domain.CatalogueRow
}

func (s *Server) registerRules() {
	rules := s.operation(http.MethodGet, "/v1/rules", "rules", "Every rule the book judges by, with who says it and when it was checked", "Rules", domain.Reader, nil)
	huma.Register(s.api, rules, func(context.Context, *noInput) (*rulesOutput, error) {
		return &rulesOutput{Body: domain.RuleSets()}, nil
	})
	crops := s.operation(http.MethodGet, "/v1/crop-catalogue", "crop-catalogue", "The shipped crops, with the mark of where their figures come from", "Plants", domain.Reader, nil)
	huma.Register(s.api, crops, func(context.Context, *noInput) (*catalogueOutput, error) {
		return &catalogueOutput{Body: domain.Catalogue()}, nil
	})
}
