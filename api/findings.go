package api

import (
	"context"
	"net/http"
	"reflect"

	"github.com/danielgtaylor/huma/v2"
	"github.com/google/uuid"

	"croftmark/domain"
	"croftmark/storage"
)

// alertAnswer is a lot that is judged worse now than when it was cut: then and now, where it is, and what to do.
type alertAnswer struct {
	LotID     uuid.UUID       `json:"lot_id" format:"uuid"`
	Kind      string          `json:"kind" enum:"harvest-lot,pack-lot"`
	Code      string          `json:"code"`
	Crop      string          `json:"crop"`
	CutOn     domain.Date     `json:"cut_on"`
	Then      domain.Verdict  `json:"then"`
	Now       domain.Verdict  `json:"now"`
	ClearOn   domain.Date     `json:"clear_on,omitzero"`
	Reasons   []domain.Reason `json:"reasons"`
	Entry     int64           `json:"entry" doc:"The entry that judged it so."`
	OnHand    domain.Quantity `json:"on_hand"`
	Disposed  domain.Quantity `json:"disposed"`
	Shipped   domain.Quantity `json:"shipped" doc:"Less what came back. Of a harvest lot that was packed, see its pack lots."`
	ShippedTo []storage.Buyer `json:"shipped_to" doc:"Who got the lot, or something packed from it."`
	ToDo      []string        `json:"to_do"`
	Caution   string          `json:"caution"`
}

type alertsOutput struct {
	Body []alertAnswer
}

func (s *Server) registerFindings() {
	register[domain.Finding](s, collection{path: "findings", noun: "finding", create: domain.Crew, correct: domain.Lead, filters: []string{"kind"}, tag: "Findings"})
	resolution := s.operation(http.MethodPost, "/v1/findings/{id}/resolution", "resolve-finding", "Decide about a finding, where the rule leaves it to a person", "Findings", domain.Lead,
		map[string]*huma.Response{"201": jsonResponse("Written; what it reaches was judged again.", s.storedSchema(reflect.TypeFor[domain.FindingResolution](), "finding-resolution"))}, http.StatusConflict)
	handleRecordOn(s, resolution, func(in *changeInput, r *domain.FindingResolution) { r.FindingID = in.ID })
	register[domain.CorrectiveAction](s, collection{path: "corrective-actions", noun: "corrective action", create: domain.Crew, correct: domain.Lead, tag: "Findings"})
	alerts := s.operation(http.MethodGet, "/v1/alerts", "alerts", "Lots judged worse now than when they were cut, until a corrective action closes them", "Findings", domain.Reader, nil)
	huma.Register(s.api, alerts, s.alerts)
}

func (s *Server) alerts(ctx context.Context, _ *noInput) (*alertsOutput, error) {
	list, err := s.db.Alerts(readingOf(ctx))
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	out := &alertsOutput{Body: []alertAnswer{}}
	for _, a := range list {
		out.Body = append(out.Body, alertAnswer{LotID: a.LotID, Kind: a.Kind, Code: a.Code, Crop: a.Crop, CutOn: a.CutOn, Then: a.Then, Now: a.Now.Verdict,
			ClearOn: a.Now.ClearOn, Reasons: a.Now.Reasons, Entry: a.Since, OnHand: a.OnHand, Disposed: a.Disposed, Shipped: a.Shipped, ShippedTo: a.ShippedTo,
			ToDo: domain.AlertSteps(a.Now.Verdict, a.OnHand, len(a.ShippedTo) > 0), Caution: domain.RecordHelper})
	}
	return out, nil
}
