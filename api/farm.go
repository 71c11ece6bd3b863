package api

import (
	"context"
	"net/http"
	"reflect"

	"github.com/danielgtaylor/huma/v2"
	"github.com/google/uuid"

	"croftmark/domain"
)

type noInput struct{}

func (s *Server) registerFarm() {
	stored := s.storedSchema(reflect.TypeFor[domain.Farm](), "farm")
	read := s.operation(http.MethodGet, "/v1/farm", "read-farm", "The farm of the person signed in", "Farm", domain.Reader,
		map[string]*huma.Response{"200": jsonResponse("The farm.", stored)})
	huma.Register(s.api, read, func(ctx context.Context, _ *noInput) (*recordOutput, error) {
		r, err := s.db.ReadRecord(ctx, actorOf(ctx).FarmID, "farm", actorOf(ctx).FarmID)
		if err != nil {
			return nil, problemOf(ctx, err)
		}
		return s.answerOne(ctx, r)
	})
	write := s.operation(http.MethodPost, "/v1/farm", "write-farm", "Say anew what the farm is and which rules it answers to", "Farm", domain.Owner,
		map[string]*huma.Response{"201": jsonResponse("Written. Lots already cut were judged by it again.", stored),
			"200": jsonResponse("Written before by the same request.", stored)}, http.StatusConflict)
	t := reflect.TypeFor[domain.Farm]()
	s.documentBody(&write, t)
	huma.Register(s.api, write, func(ctx context.Context, in *bodyInput) (*recordOutput, error) {
		if err := s.decode(t, in.RawBody, &domain.Farm{}); err != nil {
			return nil, problemOf(ctx, err)
		}
		farm := actorOf(ctx).FarmID
		out, err := s.db.Correct(ctx, actorOf(ctx), markOf(ctx, uuid.Nil, in.Key), "farm", farm, "The owner wrote the farm's page anew.", in.RawBody)
		if err != nil {
			return nil, problemOf(ctx, err)
		}
		written, err := s.answerWritten(ctx, out)
		if err == nil {
			written.Location = "/v1/farm"
		}
		return written, err
	})
}
