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

// Letters hands over the daily letters of what is due.
type Letters interface {
	// Accepts refuses a message that this service could not send, and says what its operator would have to set.
	Accepts(domain.DailyMessage) error
	// Send hands a letter over, or says in words for its person why it could not.
	Send(context.Context, domain.DailyLetter) error
}

// noLetters is a service without any way to send.
type noLetters struct{}

func (noLetters) Accepts(domain.DailyMessage) error {
	return domain.Refuse(domain.CodeRuleRefused, "Nothing is sent here", "This service sends no daily messages.")
}

func (n noLetters) Send(context.Context, domain.DailyLetter) error {
	return n.Accepts(domain.DailyMessage{})
}

type dailyAnswer struct {
	ID     uuid.UUID `json:"id" format:"uuid"`
	Secret string    `json:"secret,omitempty" doc:"Signs what is posted to a webhook. Shown once."`
}

type dailyOutput struct{ Body dailyAnswer }

// dailyLine is a message as it is listed.
type dailyLine struct {
	ID        uuid.UUID   `json:"id" format:"uuid"`
	PersonID  uuid.UUID   `json:"person_id" format:"uuid"`
	Person    string      `json:"person"`
	Way       string      `json:"way"`
	To        string      `json:"to" doc:"Of somebody else's webhook only the beginning."`
	Hour      int         `json:"hour"`
	Language  string      `json:"language"`
	MadeAt    time.Time   `json:"made_at"`
	SettledOn domain.Date `json:"settled_on" doc:"The last day that was sent, or given up."`
	SentAt    time.Time   `json:"sent_at,omitzero"`
	FailedAt  time.Time   `json:"failed_at,omitzero" doc:"Of the last failure, if nothing was sent since."`
	Error     string      `json:"error,omitempty"`
	Ended     bool        `json:"ended,omitempty" doc:"The person's time, or the token by which it was asked for, has ended: nothing is sent any more."`
}

type dailyListOutput struct{ Body []dailyLine }

type dailyTestOutput struct {
	Body struct {
		Sent  bool   `json:"sent"`
		Error string `json:"error,omitempty" doc:"Why not."`
	}
}

func (s *Server) registerDailyMessages() {
	ask := s.operation(http.MethodPost, "/v1/daily-messages", "ask-daily-message", "Be told every day what is due, by e-mail or webhook", "Harvest", domain.Reader, nil, http.StatusConflict)
	handleBody(s, ask, func(ctx context.Context, _ *emptyInput, body *domain.DailyMessage) (*dailyOutput, error) {
		if err := body.Check(); err != nil {
			return nil, err
		}
		if err := s.config.Letters.Accepts(*body); err != nil {
			return nil, err
		}
		id, secret, err := s.db.AskDaily(ctx, actorOf(ctx), *body)
		return &dailyOutput{dailyAnswer{id, secret}}, err
	})
	list := s.operation(http.MethodGet, "/v1/daily-messages", "list-daily-messages", "List your daily messages; the owner sees everybody's", "Harvest", domain.Reader, nil)
	huma.Register(s.api, list, func(ctx context.Context, _ *noInput) (*dailyListOutput, error) {
		kept, err := s.db.DailyMessages(ctx, actorOf(ctx))
		if err != nil {
			return nil, problemOf(ctx, err)
		}
		out := &dailyListOutput{Body: []dailyLine{}}
		for _, m := range kept {
			out.Body = append(out.Body, dailyLineOf(actorOf(ctx), m))
		}
		return out, nil
	})
	end := s.operation(http.MethodPost, "/v1/daily-messages/{id}/end", "end-daily-message", "End a daily message", "Harvest", domain.Reader, nil)
	handleBody(s, end, func(ctx context.Context, in *revokeInput, _ *addressRequest) (*endedOutput, error) {
		if err := s.db.EndDaily(ctx, actorOf(ctx), in.ID); err != nil {
			return nil, err
		}
		out := &endedOutput{}
		out.Body.Ended = true
		return out, nil
	})
	test := s.operation(http.MethodPost, "/v1/daily-messages/{id}/test", "test-daily-message", "Send your daily message now, for a test", "Harvest", domain.Reader, nil, http.StatusConflict, http.StatusTooManyRequests)
	handleBody(s, test, func(ctx context.Context, in *revokeInput, _ *addressRequest) (*dailyTestOutput, error) {
		letter, err := s.db.TestLetter(ctx, actorOf(ctx), in.ID)
		if err != nil {
			return nil, err
		}
		out := &dailyTestOutput{}
		if err := s.config.Letters.Send(ctx, letter); err != nil {
			out.Body.Error = domain.FailureText(err)
		}
		out.Body.Sent = out.Body.Error == ""
		return out, nil
	})
}

func dailyLineOf(actor storage.Actor, m storage.DailyMessage) dailyLine {
	to := m.To
	if m.PersonID != actor.PersonID {
		to = m.Told()
	}
	return dailyLine{m.ID, m.PersonID, m.Person, m.Way, to, m.Hour, m.Language, m.MadeAt, m.SettledOn, m.SentAt, m.FailedAt, m.Error, m.Ended}
}
