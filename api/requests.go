package api

import (
	"context"
	"reflect"
	"time"

	"github.com/google/uuid"

	"croftmark/domain"
)

// requestExtra keeps the clock of a traceback request.
type requestExtra struct {
	DueBy       time.Time `json:"due_by"`
	Overdue     bool      `json:"overdue"`
	MinutesLeft int       `json:"minutes_left"`
	Caution     string    `json:"caution"`
}

func (s *Server) registerRequests() {
	register[domain.TracebackRequest](s, collection{path: "traceback-requests", noun: "traceback request", create: domain.Lead, correct: domain.Lead,
		filters: []string{"for"}, tag: "Trace", extra: reflect.TypeFor[requestExtra](), enrich: s.enrichRequest})
	s.registerPackets()
	s.registerPlan()
}

func (s *Server) enrichRequest(ctx context.Context, id uuid.UUID) (any, error) {
	r, err := s.db.ReadRecord(ctx, actorOf(ctx).FarmID, "traceback-request", id)
	if err != nil {
		return nil, err
	}
	var q domain.TracebackRequest
	if err := r.Into(&q); err != nil {
		return nil, err
	}
	left := q.Due().Sub(s.db.Now())
	return requestExtra{DueBy: q.Due(), Overdue: left < 0 && q.AnsweredAt.IsZero(), MinutesLeft: int(left / time.Minute), Caution: domain.RecordHelper}, nil
}
