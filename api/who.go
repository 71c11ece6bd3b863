package api

import (
	"context"
	"errors"
	"mime"
	"net/http"
	"slices"
	"strings"

	"github.com/danielgtaylor/huma/v2"
	"github.com/danielgtaylor/huma/v2/adapters/humaecho"

	"croftmark/domain"
	"croftmark/storage"
)

const (
	// roleKey is where an operation says which role it needs at least.
	roleKey = "role"
	// phoneKey marks an operation of a phone's own session, whoever is at the phone.
	phoneKey = "phone"
)

// sessionCookie is the name of the cookie of the phone app.
const sessionCookie = "croftmark_session"

// guarded are the security schemes of an operation that belongs to a farm: a token, or the cookie of a session.
var guarded = []map[string][]string{{"token": {}}, {"session": {}}}

// who finds out who is asking, before the body is looked at, and refuses what the person's role does not include.
func (s *Server) who(ctx huma.Context, next func(huma.Context)) {
	need, guarded := ctx.Operation().Metadata[roleKey].(domain.Role)
	_, phone := ctx.Operation().Metadata[phoneKey]
	if !guarded && !phone {
		next(ctx)
		return
	}
	c := humaecho.Unwrap(ctx)
	session, actor, err := s.shown(c.Request(), c.RealIP())
	switch {
	case err != nil:
	case phone && session.FarmID != actor.FarmID:
		err = domain.Refuse(domain.CodeNotAllowed, "Not on a phone", "This belongs to a phone that was signed in with a session. Open one with POST /v1/sessions.")
	case phone:
	case actor.PersonID != storage.Actor{}.PersonID:
		err = mayDo(actor, need, ctx.Header("Typed-By"))
	default:
		err = domain.Refuse(domain.CodeNotSignedIn, "Nobody is at this phone", "Choose who you are and type your PIN.")
	}
	if err != nil {
		s.deny(ctx, err)
		return
	}
	secure := c.IsTLS() || ctx.Header("X-Forwarded-Proto") == "https" || strings.HasPrefix(s.config.PublicURL, "https://")
	ctx = huma.WithValue(huma.WithValue(ctx, actorKey, actor), sessionKey, session)
	next(huma.WithValue(ctx, arrivalKey, arrival{address: c.RealIP(), secure: secure}))
}

// arrival is how a request came: from which address, and whether its way was encrypted.
type arrival struct {
	address string
	secure  bool
}

// mayDo refuses what the role does not include, and what somebody else typed: on a shared phone, entries that wait
// for a signal must not go out under the name of the next person.
func mayDo(actor storage.Actor, need domain.Role, typedBy string) error {
	if typedBy != "" && typedBy != actor.PersonID.String() {
		return domain.Refuse(domain.CodeNotAllowed, "Typed by somebody else", "This was typed by another person than the one signed in now. They have to send it themselves.")
	}
	if !actor.Role.AtLeast(need) {
		return domain.Refuse(domain.CodeNotAllowed, "Not yours to do", "This needs the role %s; you are signed in as %s.", need, actor.Role)
	}
	return nil
}

// shown looks at what the caller shows: a token in the header Authorization, or else the cookie of a session.
func (s *Server) shown(r *http.Request, address string) (session storage.Session, actor storage.Actor, err error) {
	header := r.Header.Get("Authorization")
	cookie, _ := r.Cookie(sessionCookie)
	token, bearer := strings.CutPrefix(header, "Bearer ")
	if header == "" && !withCookie(r) || header != "" && (!bearer || token == "") {
		return session, actor, domain.Refuse(domain.CodeNotSignedIn, "Sign in first", "Send the token of a person of the farm in the header Authorization: Bearer TOKEN.")
	}
	if err := s.signIns.spent(address); err != nil {
		return session, actor, err
	}
	if bearer {
		actor, err = s.db.SignedIn(r.Context(), token)
	} else if err = s.fromOurPages(r); err == nil {
		session, actor, err = s.db.Session(r.Context(), cookie.Value)
	}
	var refused *domain.Error
	if errors.As(err, &refused) && refused.Code == domain.CodeNotSignedIn {
		s.signIns.take(address) // the next one may be too many, this one gets its answer
	}
	return session, actor, err
}

// simpleTypes can be sent to us by a page of somebody else without asking us first.
var simpleTypes = []string{"", "text/plain", "application/x-www-form-urlencoded", "multipart/form-data"}

// fromOurPages refuses a request with a cookie that a page of somebody else may have made a browser send. The cookie is
// SameSite=Strict as well; a browser that does not know of that is stopped here.
func (s *Server) fromOurPages(r *http.Request) error {
	if r.Method == http.MethodGet || r.Method == http.MethodHead {
		return nil
	}
	kind, _, _ := mime.ParseMediaType(r.Header.Get("Content-Type"))
	if s.origins.Check(r) == nil && !slices.Contains(simpleTypes, kind) {
		return nil
	}
	return domain.Refuse(domain.CodeNotAllowed, "Not from here", "With a session only the pages of this service may send, as application/json or as the file's own type. Send a token instead.")
}

// newOrigins is the check of where a page comes from: from this service, as the browser sees it or as the labels name it.
func newOrigins(publicURL string) *http.CrossOriginProtection {
	p := http.NewCrossOriginProtection()
	p.AddTrustedOrigin(publicURL) // one that is no origin is none that a browser would send
	return p
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

// sessionOf gives the session of the phone that asks; none when a token was shown.
func sessionOf(ctx context.Context) storage.Session {
	session, _ := ctx.Value(sessionKey).(storage.Session)
	return session
}

func arrivalOf(ctx context.Context) arrival {
	a, _ := ctx.Value(arrivalKey).(arrival)
	return a
}

func readingOf(ctx context.Context) storage.Reading {
	return storage.Reading{Ctx: ctx, Farm: actorOf(ctx).FarmID}
}
