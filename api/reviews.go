package api

import (
	"context"
	"encoding/json"
	"net/http"
	"reflect"
	"strconv"

	"github.com/danielgtaylor/huma/v2"
	"github.com/google/uuid"

	"croftmark/domain"
	"croftmark/storage"
)

// waitingAnswer is a record that waits for its second signature, with who asks for it.
type waitingAnswer struct {
	Family  string             `json:"family"`
	Name    domain.LocalText   `json:"name"`
	Kind    string             `json:"kind"`
	ID      uuid.UUID          `json:"id" format:"uuid"`
	Asks    domain.SheetSource `json:"asks" doc:"Who asks for the signature. What nobody asks for is not in the queue."`
	LateOn  domain.Date        `json:"late_on" doc:"The rule says within a reasonable time; after this day it is late by this program's own custom."`
	MaySign bool               `json:"may_sign"`
	WhyNot  string             `json:"why_not,omitempty"`
	Record  json.RawMessage    `json:"record" doc:"The record as it stands."`
}

type waitingOutput struct {
	Body []waitingAnswer
}

type signRequest struct {
	Records []signedRecord `json:"records" minItems:"1" maxItems:"200"`
	Note    string         `json:"note,omitempty" maxLength:"1000"`
}

type signedRecord struct {
	Kind string    `json:"kind" maxLength:"40"`
	ID   uuid.UUID `json:"id" format:"uuid"`
}

type signedAnswer struct {
	Kind   string          `json:"kind"`
	ID     uuid.UUID       `json:"id" format:"uuid"`
	Entry  int64           `json:"entry" doc:"The entry that is the signature, or the latest after it."`
	Review json.RawMessage `json:"review"`
}

type signedOutput struct {
	Status int
	Body   []signedAnswer
}

func (s *Server) registerReviews() {
	queue := s.operation(http.MethodGet, "/v1/reviews", "reviews-waiting", "What waits for a second signature that somebody asks for, oldest first", "Reviews", domain.Lead, nil)
	huma.Register(s.api, queue, s.reviewsWaiting)
	answers := s.api.OpenAPI().Components.Schemas.Schema(reflect.TypeFor[[]signedAnswer](), true, "Signed")
	sign := s.operation(http.MethodPost, "/v1/reviews", "sign-reviews", "Sign many records as the second person: all or none", "Reviews", domain.Lead,
		map[string]*huma.Response{"201": jsonResponse("Signed: an entry for each.", answers), "200": jsonResponse("Signed before by the same request.", answers)}, http.StatusConflict)
	handleBody(s, sign, func(ctx context.Context, in *bodyInput, body *signRequest) (*signedOutput, error) {
		return s.signReviews(ctx, in.Key, body)
	})
}

func (s *Server) reviewsWaiting(ctx context.Context, _ *noInput) (*waitingOutput, error) {
	list, err := s.db.ToSign(ctx, actorOf(ctx))
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	out := &waitingOutput{Body: []waitingAnswer{}}
	for _, x := range list {
		body, err := answer(x.Record, nil, nil)
		if err != nil {
			return nil, problemOf(ctx, err)
		}
		out.Body = append(out.Body, waitingAnswer{Family: x.Family.ID, Name: x.Family.Name, Kind: x.Kind, ID: x.ID, Asks: x.Family.Rule.SheetSource,
			LateOn: x.LateOn, MaySign: x.Refusal == "", WhyNot: x.Refusal, Record: body})
	}
	return out, nil
}

func (s *Server) signReviews(ctx context.Context, key string, body *signRequest) (*signedOutput, error) {
	refs := make([]domain.RecordRef, len(body.Records))
	seen := map[uuid.UUID]bool{}
	var p domain.Problems
	for i, r := range body.Records {
		refs[i] = domain.RecordRef{Kind: r.Kind, ID: r.ID}
		p.Check(!seen[r.ID], "/records/"+strconv.Itoa(i), "This one is named twice.")
		seen[r.ID] = true
	}
	if err := p.Err(); err != nil {
		return nil, problemOf(ctx, err)
	}
	list, replayed, err := s.db.ReviewAll(ctx, actorOf(ctx), markOf(ctx, uuid.Nil, key), refs, body.Note)
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	out := &signedOutput{Status: http.StatusCreated, Body: []signedAnswer{}}
	if replayed {
		out.Status = http.StatusOK
	}
	for _, r := range list {
		out.Body = append(out.Body, signedOf(r))
	}
	return out, nil
}

func signedOf(r storage.Record) signedAnswer {
	return signedAnswer{r.Kind, r.ID, r.Seq, r.Reviews}
}
