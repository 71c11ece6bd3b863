package api

import (
	"context"
	"encoding/json"
	"net/http"
	"reflect"
	"time"

	"github.com/danielgtaylor/huma/v2"
	"github.com/google/uuid"

	"croftmark/domain"
	"croftmark/storage"
)

// newPerson is a person with the PIN that may come along. The PIN is no field of the person: it is kept beside the book.
type newPerson struct {
	domain.Person
	PIN string `json:"pin,omitempty" maxLength:"8" doc:"4 to 8 digits, for changing over on a shared phone. Kept only as a hash, outside the book."`
}

func (s *Server) registerPeople() {
	c := collection{path: "people", noun: "person", create: domain.Owner, correct: domain.Owner, filters: []string{"role"}, tag: "People"}
	stored := s.storedSchema(reflect.TypeFor[domain.Person](), "person")
	op := s.operation(http.MethodPost, "/v1/people", "create-people", "Write down a person", c.tag, c.create, map[string]*huma.Response{
		"201": jsonResponse("Written.", stored), "200": jsonResponse("Written before by the same request.", stored)}, http.StatusConflict)
	handleBody(s, op, func(ctx context.Context, in *bodyInput, body *newPerson) (*recordOutput, error) {
		ctx, err := withoutPIN(ctx, "/v1/people", in.RawBody)
		if err != nil {
			return nil, err
		}
		body.Person.PIN = body.PIN
		return s.create(ctx, in.Key, &body.Person)
	})
	s.registerList(c, "person", stored)
	s.registerOne(c, "person", stored)
	s.registerChanges(c, "person", stored)
	s.registerPIN()
	s.registerMe()
}

// withoutPIN marks the request by what it says beside the PIN. The mark is part of the entry, and with the PIN in it
// anybody who has an export could try all PINs against it.
func withoutPIN(ctx context.Context, path string, raw []byte) (context.Context, error) {
	var fields map[string]json.RawMessage
	if err := json.Unmarshal(raw, &fields); err != nil {
		return ctx, err
	}
	delete(fields, "pin")
	rest, err := json.Marshal(fields)
	if err != nil {
		return ctx, err
	}
	hash, err := hashBody(http.MethodPost, path, rest)
	return context.WithValue(ctx, bodyHashKey, hash), err
}

type pinRequest struct {
	PIN string `json:"pin" maxLength:"8" doc:"4 to 8 digits."`
}

type pinInput struct {
	ID      uuid.UUID `path:"id" format:"uuid"`
	RawBody []byte
}

type pinOutput struct {
	Body struct {
		PersonID uuid.UUID `json:"person_id" format:"uuid"`
	}
}

// registerPIN lets the owner give anybody a PIN, and a person change their own; neither on a shared phone, where whoever
// stands beside could do it.
func (s *Server) registerPIN() {
	op := s.operation(http.MethodPost, "/v1/people/{id}/pin", "set-pin", "Give a person a PIN: the owner, or the person themselves with their own token", "People", domain.Reader, nil)
	t := reflect.TypeFor[pinRequest]()
	s.documentBody(&op, t)
	huma.Register(s.api, op, func(ctx context.Context, in *pinInput) (*pinOutput, error) {
		actor := actorOf(ctx)
		if actor.Shown.Shared || actor.PersonID != in.ID && actor.Role != domain.Owner {
			return nil, problemOf(ctx, domain.Refuse(domain.CodeNotAllowed, "Not yours to do", "The owner gives PINs; you may change your own. Neither is done on a shared phone."))
		}
		var body pinRequest
		if err := s.decode(t, in.RawBody, &body); err != nil {
			return nil, problemOf(ctx, err)
		}
		if err := s.db.SetPIN(ctx, actor, in.ID, body.PIN); err != nil {
			return nil, problemOf(ctx, err)
		}
		out := &pinOutput{}
		out.Body.PersonID = in.ID
		return out, nil
	})
}

// me is who the caller is to this book, and by what.
type me struct {
	PersonID uuid.UUID   `json:"person_id" format:"uuid"`
	Name     string      `json:"name"`
	Initials string      `json:"initials"`
	Role     domain.Role `json:"role" enum:"owner,lead,crew,reader" doc:"What may be done now: the person's role, or less if the token or session says so."`
	Language string      `json:"language,omitempty"`
	EndsOn   domain.Date `json:"ends_on,omitzero" format:"date" doc:"Last day of the person's access."`
	FarmID   uuid.UUID   `json:"farm_id" format:"uuid"`
	Farm     string      `json:"farm"`
	Today    domain.Date `json:"today" format:"date" doc:"The day at the farm."`
	SignedIn shownBy     `json:"signed_in"`
}

type shownBy struct {
	By        string    `json:"by" enum:"token,session"`
	ID        uuid.UUID `json:"id" format:"uuid"`
	Label     string    `json:"label"`
	Shared    bool      `json:"shared,omitempty"`
	ExpiresAt time.Time `json:"expires_at,omitzero"`
}

type meOutput struct{ Body me }

func (s *Server) registerMe() {
	op := s.operation(http.MethodGet, "/v1/me", "read-me", "Who is signed in, and by what", "People", domain.Reader, nil)
	huma.Register(s.api, op, func(ctx context.Context, _ *noInput) (*meOutput, error) {
		actor := actorOf(ctx)
		record, err := s.db.ReadRecord(ctx, actor.FarmID, "person", actor.PersonID)
		if err != nil {
			return nil, problemOf(ctx, err)
		}
		var p domain.Person
		if err := record.Into(&p); err != nil {
			return nil, problemOf(ctx, err)
		}
		today, farm, err := s.db.Today(readingOf(ctx))
		if err != nil {
			return nil, problemOf(ctx, err)
		}
		return &meOutput{me{PersonID: p.ID, Name: p.Name, Initials: p.Initials, Role: actor.Role, Language: p.Language, EndsOn: p.EndsOn,
			FarmID: actor.FarmID, Farm: farm.Name, Today: today, SignedIn: shownOf(actor.Shown)}}, nil
	})
}

func shownOf(c storage.Credential) shownBy {
	by := "token"
	if c.Session {
		by = "session"
	}
	return shownBy{By: by, ID: c.ID, Label: c.Label, Shared: c.Shared, ExpiresAt: c.ExpiresAt}
}
