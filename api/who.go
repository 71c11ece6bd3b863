package api

import (
	"context"
	"strings"

	"github.com/danielgtaylor/huma/v2"

	"croftmark/domain"
	"croftmark/storage"
)

// roleKey is where an operation says which role it needs at least.
const roleKey = "role"

// bearer is the security scheme of every operation that belongs to a farm.
var bearer = []map[string][]string{{"token": {}}}

// who finds out who is asking, before the body is looked at, and refuses what the person's role does not include.
func (s *Server) who(ctx huma.Context, next func(huma.Context)) {
	need, guarded := ctx.Operation().Metadata[roleKey].(domain.Role)
	if !guarded {
		next(ctx)
		return
	}
	token, ok := strings.CutPrefix(ctx.Header("Authorization"), "Bearer ")
	if !ok || token == "" {
		s.deny(ctx, domain.Refuse(domain.CodeNotSignedIn, "Sign in first", "Send the token of a person of the farm in the header Authorization: Bearer TOKEN."))
		return
	}
	actor, err := s.db.SignedIn(ctx.Context(), token)
	if err != nil {
		s.deny(ctx, err)
		return
	}
	if !actor.Role.AtLeast(need) {
		s.deny(ctx, domain.Refuse(domain.CodeNotAllowed, "Not yours to do", "This needs the role %s; you are signed in as %s.", need, actor.Role))
		return
	}
	next(huma.WithValue(ctx, actorKey, actor))
}

func (s *Server) deny(ctx huma.Context, err error) {
	p := problemOf(ctx.Context(), err)
	if p.Status == 401 {
		ctx.SetHeader("WWW-Authenticate", "Bearer")
	}
	writeProblem(ctx, p)
}

// actorOf gives who is asking; only guarded operations have one.
func actorOf(ctx context.Context) storage.Actor {
	actor, _ := ctx.Value(actorKey).(storage.Actor)
	return actor
}

func readingOf(ctx context.Context) storage.Reading {
	return storage.Reading{Ctx: ctx, Farm: actorOf(ctx).FarmID}
}
