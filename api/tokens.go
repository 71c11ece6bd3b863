package api

import (
	"context"
	"net/http"
	"time"

	"github.com/danielgtaylor/huma/v2"
	"github.com/google/uuid"

	"croftmark/domain"
	"croftmark/storage"
)

type tokenRequest struct {
	PersonID  uuid.UUID   `json:"person_id" format:"uuid"`
	Label     string      `json:"label" minLength:"1" maxLength:"120" doc:"What it is for, for example: phone in the wash shed."`
	ExpiresAt time.Time   `json:"expires_at,omitzero"`
	Role      domain.Role `json:"role,omitempty" enum:"owner,lead,crew,reader" doc:"The most that may be done with it; left out: whatever the person may do."`
}

type tokenOutput struct {
	Body struct {
		ID    uuid.UUID `json:"id" format:"uuid" doc:"For revoking it."`
		Token string    `json:"token" doc:"Shown once and kept nowhere."`
	}
}

// tokenLine is what the owner sees of a token: everything but itself.
type tokenLine struct {
	ID        uuid.UUID   `json:"id" format:"uuid"`
	PersonID  uuid.UUID   `json:"person_id" format:"uuid"`
	Label     string      `json:"label"`
	Role      domain.Role `json:"role,omitempty"`
	CreatedAt time.Time   `json:"created_at"`
	ExpiresAt time.Time   `json:"expires_at,omitzero"`
	RevokedAt time.Time   `json:"revoked_at,omitzero"`
}

func lineOf(t storage.Token) tokenLine {
	return tokenLine{t.ID, t.PersonID, t.Label, t.Role, t.CreatedAt, t.ExpiresAt, t.RevokedAt}
}

type tokensOutput struct{ Body []tokenLine }

func (s *Server) registerTokens() {
	give := s.operation(http.MethodPost, "/v1/tokens", "create-token", "Give a person a token", "People", domain.Owner, nil)
	handleBody(s, give, func(ctx context.Context, _ *bodyInput, body *tokenRequest) (*tokenOutput, error) {
		if !body.ExpiresAt.IsZero() && !body.ExpiresAt.After(s.db.Now()) {
			var p domain.Problems
			p.Add("/expires_at", "That has passed already. Give a time to come.")
			return nil, p.Err()
		}
		out := &tokenOutput{}
		out.Body.ID = uuid.Must(uuid.NewV7())
		var err error
		out.Body.Token, err = s.db.NewToken(ctx, actorOf(ctx), storage.Token{ID: out.Body.ID, PersonID: body.PersonID, Label: body.Label, ExpiresAt: body.ExpiresAt, Role: body.Role})
		return out, err
	})
	list := s.operation(http.MethodGet, "/v1/tokens", "list-tokens", "List the farm's tokens, newest first, with those that have ended", "People", domain.Owner, nil)
	huma.Register(s.api, list, func(ctx context.Context, _ *noInput) (*tokensOutput, error) {
		tokens, err := s.db.Tokens(readingOf(ctx))
		if err != nil {
			return nil, problemOf(ctx, err)
		}
		out := &tokensOutput{Body: []tokenLine{}}
		for _, t := range tokens {
			out.Body = append(out.Body, lineOf(t))
		}
		return out, nil
	})
	s.registerRevocation("/v1/tokens/{id}/revoke", "revoke-token", "End a token and the sessions it opened; what was written with it stays in the book", s.db.RevokeToken)
}

type revocation struct{}

type revokeInput struct {
	ID      uuid.UUID `path:"id" format:"uuid"`
	RawBody []byte
}

func (in *revokeInput) raw() []byte { return in.RawBody }

type revokeOutput struct {
	Body struct {
		ID uuid.UUID `json:"id" format:"uuid"`
	}
}

// registerRevocation makes an operation that ends a credential of the farm. Its body is an empty object.
func (s *Server) registerRevocation(path, id, summary string, revoke func(context.Context, storage.Actor, uuid.UUID) error) {
	op := s.operation(http.MethodPost, path, id, summary, "People", domain.Owner, nil)
	handleBody(s, op, func(ctx context.Context, in *revokeInput, _ *revocation) (*revokeOutput, error) {
		out := &revokeOutput{}
		out.Body.ID = in.ID
		return out, revoke(ctx, actorOf(ctx), in.ID)
	})
}
