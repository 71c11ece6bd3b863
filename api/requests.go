package api

import (
	"context"
	"net/http"
	"reflect"
	"time"

	"github.com/danielgtaylor/huma/v2"
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
	packet := s.operation(http.MethodGet, "/v1/traceback-requests/{id}/packet.json", "packet-json", "The answer as data, with the book's proofs", "Trace", domain.Reader, nil)
	huma.Register(s.api, packet, s.packetJSON)
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

type packetOutput struct {
	Body *domain.Packet
}

// packet gathers the answer and leaves out what its reader may not see.
func (s *Server) packet(ctx context.Context, id uuid.UUID) (*domain.Packet, error) {
	p, err := s.db.Packet(readingOf(ctx), id)
	if err != nil {
		return nil, err
	}
	return p.ForAudience(), nil
}

func (s *Server) packetJSON(ctx context.Context, in *idInput) (*packetOutput, error) {
	p, err := s.packet(ctx, in.ID)
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	return &packetOutput{Body: p}, nil
}
