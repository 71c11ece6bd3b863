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

type sessionRequest struct {
	Label  string      `json:"label" minLength:"1" maxLength:"120" doc:"Which phone it is, for example: phone in the wash shed."`
	Shared bool        `json:"shared,omitempty" doc:"People take turns on it and say who they are by PIN. A lead opens it."`
	Role   domain.Role `json:"role,omitempty" enum:"owner,lead,crew,reader" doc:"The most that anybody may do on it. Left out: crew on a shared phone."`
}

// sessionBody is what can be said of a session.
type sessionBody struct {
	ID        uuid.UUID   `json:"id" format:"uuid"`
	Label     string      `json:"label"`
	Shared    bool        `json:"shared"`
	Role      domain.Role `json:"role" doc:"The most that anybody may do on it."`
	PersonID  uuid.UUID   `json:"person_id,omitzero" format:"uuid" doc:"Who is at the phone; nobody when left out."`
	OpenedBy  uuid.UUID   `json:"opened_by,omitzero" format:"uuid"`
	CreatedAt time.Time   `json:"created_at,omitzero"`
	ExpiresAt time.Time   `json:"expires_at"`
	EndedAt   time.Time   `json:"ended_at,omitzero"`
}

func bodyOf(s storage.Session) sessionBody {
	return sessionBody{s.ID, s.Label, s.Shared, s.Role, s.PersonID, s.OpenedBy, s.CreatedAt, s.ExpiresAt, s.EndedAt}
}

type sessionOutput struct {
	SetCookie http.Cookie `header:"Set-Cookie"`
	Body      sessionBody
}

type sessionsOutput struct{ Body []sessionBody }

// sessionCookieOf makes the cookie. No script can read it, no page of somebody else makes a browser send it, and where the
// way is encrypted it goes no other way.
func sessionCookieOf(ctx context.Context, secret string, lasts time.Duration) http.Cookie {
	return http.Cookie{Name: sessionCookie, Value: secret, Path: "/", HttpOnly: true, Secure: arrivalOf(ctx).secure,
		SameSite: http.SameSiteStrictMode, MaxAge: int(lasts.Seconds())}
}

func (s *Server) registerSessions() {
	open := s.operation(http.MethodPost, "/v1/sessions", "create-session", "Sign this phone in with a cookie: for yourself, or for all who share it", "People", domain.Reader, nil)
	handleBody(s, open, func(ctx context.Context, _ *bodyInput, body *sessionRequest) (*sessionOutput, error) {
		actor := actorOf(ctx)
		asked, err := sessionAsked(actor, *body)
		if err != nil {
			return nil, err
		}
		secret, made, err := s.db.OpenSession(ctx, actor, asked)
		if err != nil {
			return nil, err
		}
		return &sessionOutput{SetCookie: sessionCookieOf(ctx, secret, made.ExpiresAt.Sub(made.CreatedAt)), Body: bodyOf(made)}, nil
	})
	list := s.operation(http.MethodGet, "/v1/sessions", "list-sessions", "List the farm's phones that were signed in, newest first", "People", domain.Owner, nil)
	huma.Register(s.api, list, func(ctx context.Context, _ *noInput) (*sessionsOutput, error) {
		sessions, err := s.db.Sessions(readingOf(ctx))
		if err != nil {
			return nil, problemOf(ctx, err)
		}
		out := &sessionsOutput{Body: []sessionBody{}}
		for _, session := range sessions {
			out.Body = append(out.Body, bodyOf(session))
		}
		return out, nil
	})
	s.registerRevocation("/v1/sessions/{id}/revoke", "revoke-session", "Sign a phone out; what was written on it stays in the book", s.db.EndSession)
	s.registerPhone()
}

// sessionAsked says what may be opened: only with a token, so that a phone can't make itself last longer, a shared one
// only by a lead, and never with more rights than one's own.
func sessionAsked(actor storage.Actor, body sessionRequest) (storage.Session, error) {
	asked := storage.Session{Label: body.Label, Shared: body.Shared, Role: body.Role}
	switch {
	case actor.Shown.Session:
		return asked, domain.Refuse(domain.CodeNotAllowed, "Already signed in", "This phone has a session. Open another one with a token.")
	case body.Shared && !actor.Role.AtLeast(domain.Lead):
		return asked, domain.Refuse(domain.CodeNotAllowed, "Not yours to do", "A shared phone is signed in by a lead or the owner.")
	case body.Role != "" && !actor.Role.AtLeast(body.Role):
		return asked, domain.Refuse(domain.CodeNotAllowed, "Not yours to give", "You are signed in as %s; a phone of yours can't do what %s may.", actor.Role, body.Role)
	case body.Role == "" && body.Shared:
		asked.Role = domain.Crew
	case body.Role == "":
		asked.Role = domain.Owner // no bound of its own: the person and the token bound it
	}
	return asked, nil
}

// phoneView is what a phone may know before anybody has said who they are: whom it can ask for a PIN.
type phoneView struct {
	Session sessionBody   `json:"session"`
	People  []phonePerson `json:"people" doc:"Who can change over to themselves by PIN."`
}

type phonePerson struct {
	ID       uuid.UUID   `json:"id" format:"uuid"`
	Name     string      `json:"name"`
	Initials string      `json:"initials"`
	Role     domain.Role `json:"role"`
}

type phoneOutput struct{ Body phoneView }

type switchRequest struct {
	PersonID uuid.UUID `json:"person_id" format:"uuid"`
	PIN      string    `json:"pin" maxLength:"8"`
}

// phoneOperation is one of a phone's own session: whoever holds the phone may ask, and nobody without it.
func (s *Server) phoneOperation(method, path, id, summary string) huma.Operation {
	op := s.operation(method, path, id, summary, "People", domain.Reader, nil, http.StatusConflict)
	op.Security = []map[string][]string{{"session": {}}}
	delete(op.Metadata, roleKey)
	op.Metadata[phoneKey] = true
	return op
}

func (s *Server) registerPhone() {
	read := s.phoneOperation(http.MethodGet, "/v1/session", "read-session", "This phone's session, and who can change over on it")
	huma.Register(s.api, read, func(ctx context.Context, _ *noInput) (*phoneOutput, error) {
		return s.phone(ctx, sessionOf(ctx))
	})
	change := s.phoneOperation(http.MethodPost, "/v1/session/switch", "switch-person", "Change over on a shared phone: who is at it now, by PIN")
	handleBody(s, change, func(ctx context.Context, _ *bodyInput, body *switchRequest) (*phoneOutput, error) {
		session, err := sharedOf(ctx)
		if err == nil {
			err = s.pins.take(arrivalOf(ctx).address)
		}
		if err == nil {
			err = s.db.Switch(ctx, session, body.PersonID, body.PIN)
		}
		if err != nil {
			return nil, err
		}
		session.PersonID = body.PersonID
		return s.phone(ctx, session)
	})
	phoneAct(s, "/v1/session/leave", "leave-phone", "Say that nobody is at a shared phone any more", func(ctx context.Context) (*phoneOutput, error) {
		session, err := sharedOf(ctx)
		if err == nil {
			err = s.db.Leave(ctx, session)
		}
		if err != nil {
			return nil, err
		}
		session.PersonID = uuid.Nil
		return s.phone(ctx, session)
	})
	phoneAct(s, "/v1/session/end", "end-session", "Sign this phone out", func(ctx context.Context) (*sessionOutput, error) {
		session := sessionOf(ctx)
		session.EndedAt = s.db.Now()
		out := &sessionOutput{SetCookie: sessionCookieOf(ctx, "", -time.Second), Body: bodyOf(session)}
		return out, s.db.EndSession(ctx, actorOf(ctx), session.ID)
	})
}

// phoneAct makes an operation of a phone's session that says nothing but itself.
func phoneAct[O any](s *Server, path, id, summary string, act func(context.Context) (*O, error)) {
	op := s.phoneOperation(http.MethodPost, path, id, summary)
	handleBody(s, op, func(ctx context.Context, _ *bodyInput, _ *revocation) (*O, error) { return act(ctx) })
}

func (s *Server) phone(ctx context.Context, session storage.Session) (*phoneOutput, error) {
	out := &phoneOutput{Body: phoneView{Session: bodyOf(session), People: []phonePerson{}}}
	if !session.Shared {
		return out, nil
	}
	people, err := s.db.WithPIN(readingOf(ctx))
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	for _, p := range people {
		out.Body.People = append(out.Body.People, phonePerson(p))
	}
	return out, nil
}

// sharedOf gives the phone's session if people take turns on it.
func sharedOf(ctx context.Context) (storage.Session, error) {
	session := sessionOf(ctx)
	if !session.Shared {
		return session, domain.Refuse(domain.CodeRuleRefused, "One person's phone", "Nobody changes over on this phone: it was signed in for one person. Sign it out and open a shared session.")
	}
	return session, nil
}
