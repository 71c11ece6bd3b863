package api

import (
	"context"
	"net/http"

	"github.com/danielgtaylor/huma/v2"

	"croftmark/domain"
)

type todayOutput struct {
	Body struct {
		On      domain.Date  `json:"on"`
		Clear   []checkedBed `json:"clear" doc:"May be cut today; cautions are in the reasons."`
		Opens   []checkedBed `json:"opens_this_week" doc:"Becomes clear within seven days."`
		Waiting []checkedBed `json:"waiting" doc:"Clear on a later day."`
		Asks    []checkedBed `json:"asks"`
		Stops   []checkedBed `json:"stops"`
		Due     []domain.Due `json:"due" doc:"Overdue, or due within thirty days; earliest first. Each says who asks for it."`
		ToSign  int          `json:"to_sign" doc:"How many records wait for a second signature that somebody asks for."`
		MaySign int          `json:"may_sign" doc:"How many of them may be signed by whoever asks; /v1/reviews lists them for leads and the owner."`
		Caution string       `json:"caution"`
	}
}

func (s *Server) registerToday() {
	op := s.operation(http.MethodGet, "/v1/today", "today", "What can be cut, what opens this week, what is due, what waits for a signature", "Harvest", domain.Reader, nil)
	huma.Register(s.api, op, s.today)
}

func (s *Server) today(ctx context.Context, _ *noInput) (*todayOutput, error) {
	duties, err := s.db.Due(ctx, actorOf(ctx))
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	out := &todayOutput{}
	b := &out.Body
	on := duties.On
	b.On, b.Caution, b.ToSign = on, domain.RecordHelper, duties.ToSign
	if actorOf(ctx).Role.AtLeast(domain.Lead) {
		b.MaySign = duties.MaySign
	}
	b.Clear, b.Opens, b.Waiting, b.Asks, b.Stops = []checkedBed{}, []checkedBed{}, []checkedBed{}, []checkedBed{}, []checkedBed{}
	for _, c := range duties.Checked {
		into := &b.Clear
		switch {
		case c.Verdict == domain.Stop:
			into = &b.Stops
		case c.Verdict == domain.Ask:
			into = &b.Asks
		case c.Verdict == domain.Wait && !c.ClearOn.After(on.AddDays(7)):
			into = &b.Opens
		case c.Verdict == domain.Wait:
			into = &b.Waiting
		}
		*into = append(*into, checkAnswer(c))
	}
	b.Due = domain.DueListed(duties.Due, on)
	return out, nil
}
