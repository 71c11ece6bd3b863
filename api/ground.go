package api

import (
	"context"
	"net/http"
	"reflect"

	"github.com/danielgtaylor/huma/v2"
	"github.com/google/uuid"

	"croftmark/domain"
)

// groundExposure is one thing that happened to a bed's ground, as answered.
type groundExposure struct {
	Kind           string          `json:"kind"`
	What           string          `json:"what"`
	On             domain.Date     `json:"on"`
	IncorporatedOn domain.Date     `json:"incorporated_on,omitzero"`
	To             domain.Date     `json:"to,omitzero" doc:"For grazing and prior uses: the last day."`
	Standing       domain.Standing `json:"standing"`
	Why            string          `json:"why,omitempty"`
	Supplier       string          `json:"supplier,omitempty"`
	DaysToHarvest  *int            `json:"days_to_harvest,omitempty" doc:"Of crop protection: the days on its label. Left out: nobody wrote them down."`
	Record         struct {
		Kind string    `json:"kind"`
		ID   uuid.UUID `json:"id" format:"uuid"`
	} `json:"record"`
	Via struct {
		Kind string `json:"kind" enum:"bed,earlier-bed,plot"`
		Name string `json:"name"`
	} `json:"via"`
}

type groundInput struct {
	ID uuid.UUID `path:"id" format:"uuid"`
	On string    `query:"on" format:"date" doc:"Up to this day; today when left out."`
}

type groundOutput struct {
	Body struct {
		BedID     uuid.UUID        `json:"bed_id" format:"uuid"`
		Name      string           `json:"name"`
		From      domain.Date      `json:"from"`
		To        domain.Date      `json:"to,omitzero"`
		Exposures []groundExposure `json:"exposures" doc:"Newest first, through plot and earlier beds."`
	}
}

func (s *Server) registerGround() {
	op := s.operation(http.MethodGet, "/v1/beds/{id}/ground", "read-bed-ground", "Everything that happened to this ground", "Ground", domain.Reader, nil)
	huma.Register(s.api, op, s.readGround)

	production := s.operation(http.MethodPost, "/v1/beds/{id}/production", "set-bed-production", "Take a bed out of production, or back in", "Ground", domain.Lead,
		map[string]*huma.Response{"201": jsonResponse("Written.", s.storedSchema(reflect.TypeFor[domain.BedProduction](), "bed-production"))}, http.StatusConflict)
	handleRecordOn(s, production, func(in *changeInput, r *domain.BedProduction) { r.BedID = in.ID })
}

func (s *Server) readGround(ctx context.Context, in *groundInput) (*groundOutput, error) {
	on, err := s.dayOrToday(ctx, in.On)
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	bed, list, err := s.db.Ground(readingOf(ctx), in.ID, on)
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	out := &groundOutput{}
	out.Body.BedID, out.Body.Name, out.Body.From, out.Body.To = bed.ID, bed.Name, bed.From, bed.To
	out.Body.Exposures = make([]groundExposure, len(list))
	for i, e := range list {
		out.Body.Exposures[i] = exposureAnswer(e)
	}
	return out, nil
}

func exposureAnswer(e domain.GroundExposure) groundExposure {
	x := groundExposure{Kind: e.Record.Kind, What: e.What, On: e.On, Standing: e.Standing, Why: e.Why.En, Supplier: e.Supplier, DaysToHarvest: e.LabelDays}
	if e.Record.Kind == "application" {
		x.IncorporatedOn = e.ClockStart
	} else {
		x.To = e.ClockStart
	}
	if e.Record.Kind == "plot" {
		x.Kind = "prior-use"
	}
	x.Record.Kind, x.Record.ID = e.Record.Kind, e.Record.ID
	x.Via.Kind, x.Via.Name = e.Via, e.ViaName
	return x
}

// dayOrToday reads a day from a query, or gives the farm's today.
func (s *Server) dayOrToday(ctx context.Context, text string) (domain.Date, error) {
	if text != "" {
		return domain.ParseDate(text)
	}
	today, _, err := s.db.Today(readingOf(ctx))
	return today, err
}
