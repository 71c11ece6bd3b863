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
		Caution string       `json:"caution"`
	}
}

func (s *Server) registerToday() {
	op := s.operation(http.MethodGet, "/v1/today", "today", "What can be cut, and what opens this week", "Harvest", domain.Reader, nil)
	huma.Register(s.api, op, s.today)
}

func (s *Server) today(ctx context.Context, _ *noInput) (*todayOutput, error) {
	on, err := s.dayOrToday(ctx, "")
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	list, err := s.db.HarvestCheck(readingOf(ctx), parseID(""), parseID(""), on)
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	out := &todayOutput{}
	b := &out.Body
	b.On, b.Caution = on, domain.RecordHelper
	b.Clear, b.Opens, b.Waiting, b.Asks, b.Stops = []checkedBed{}, []checkedBed{}, []checkedBed{}, []checkedBed{}, []checkedBed{}
	for _, c := range list {
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
	return out, nil
}
