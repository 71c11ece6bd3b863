package domain

import (
	"time"

	"github.com/google/uuid"
)

// TracebackRequest is a question from outside: where did this come from, who else got it, by when is an answer due.
type TracebackRequest struct {
	ID      uuid.UUID `json:"id,omitzero" format:"uuid"`
	AskedBy string    `json:"asked_by" maxLength:"200"`
	AskedAt time.Time `json:"asked_at"`
	DueAt   time.Time `json:"due_at,omitzero" doc:"24 hours after asking when left out (21 CFR 1.1455(c))."`
	// For is who reads the answer: a buyer sees no other buyer's name.
	For        string     `json:"for" enum:"authority,buyer"`
	CustomerID uuid.UUID  `json:"customer_id,omitzero" format:"uuid" doc:"With for buyer: which one."`
	About      TraceStart `json:"about"`
	Question   string     `json:"question,omitempty" maxLength:"2000" doc:"In the asker's words."`
	AnsweredAt time.Time  `json:"answered_at,omitzero"`
	Answer     string     `json:"answer,omitempty" maxLength:"2000"`
	Habits
}

func (x *TracebackRequest) Kind() string          { return "traceback-request" }
func (x *TracebackRequest) Identity() *uuid.UUID  { return &x.ID }
func (x *TracebackRequest) DoneOn() Date          { return Date{} }
func (x *TracebackRequest) HappenedAt() time.Time { return x.AskedAt }

func (x *TracebackRequest) Check(today Date, p *Problems) {
	checkName(p, "/asked_by", x.AskedBy)
	checkHour(p, "/asked_at", x.AskedAt, today)
	checkOneOf(p, "/for", x.For, "authority", "buyer")
	p.Check((x.For == "buyer") == (x.CustomerID != uuid.Nil), "/customer_id", "Name the customer when the answer is for a buyer, and only then.")
	x.About.check(p, "/about")
	p.Check(x.DueAt.IsZero() || !x.DueAt.Before(x.AskedAt), "/due_at", "That is before it was asked.")
	p.Check(x.AnsweredAt.IsZero() || !x.AnsweredAt.Before(x.AskedAt), "/answered_at", "That is before it was asked.")
	checkText(p, "/question", x.Question, 2000)
	checkText(p, "/answer", x.Answer, 2000)
}

// Due is when the answer must be out.
func (x *TracebackRequest) Due() time.Time {
	if x.DueAt.IsZero() {
		return x.AskedAt.Add(24 * time.Hour)
	}
	return x.DueAt
}
