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

// checkedBed is the judgement of one planting in one bed.
type checkedBed struct {
	BedID       uuid.UUID          `json:"bed_id" format:"uuid"`
	Bed         string             `json:"bed"`
	PlotID      uuid.UUID          `json:"plot_id" format:"uuid"`
	PlantingID  uuid.UUID          `json:"planting_id" format:"uuid"`
	Crop        string             `json:"crop"`
	SoilContact domain.SoilContact `json:"soil_contact"`
	Verdict     domain.Verdict     `json:"verdict"`
	ClearOn     domain.Date        `json:"clear_on,omitzero"`
	Reasons     []domain.Reason    `json:"reasons"`
}

type harvestCheckInput struct {
	BedID      string `query:"bed_id" format:"uuid"`
	PlantingID string `query:"planting_id" format:"uuid"`
	On         string `query:"on" format:"date" doc:"Today when left out."`
}

type harvestCheckOutput struct {
	Body struct {
		On domain.Date `json:"on"`
		// The strictest of all checks; crops that share a bed are told apart in checks.
		Verdict domain.Verdict  `json:"verdict" doc:"The strictest of the checks below. Crops that share a bed are judged apart: look at checks."`
		ClearOn domain.Date     `json:"clear_on,omitzero"`
		Reasons []domain.Reason `json:"reasons"`
		Checks  []checkedBed    `json:"checks"`
		Caution string          `json:"caution"`
	}
}

func (s *Server) registerHarvest() {
	op := s.operation(http.MethodGet, "/v1/harvest-check", "harvest-check", "May this bed, this planting, or each bed of the farm be cut on a day?", "Harvest", domain.Reader, nil)
	huma.Register(s.api, op, s.harvestCheck)

	disposal := s.operation(http.MethodPost, "/v1/harvest-lots/{id}/disposal", "dispose-harvest-lot", "Take quantity of a lot out of food", "Harvest", domain.Crew,
		map[string]*huma.Response{"201": jsonResponse("Written.", s.storedSchema(reflect.TypeFor[domain.Disposal](), "disposal"))}, http.StatusConflict)
	handleRecordOn(s, disposal, func(in *changeInput, d *domain.Disposal) { d.LotID = in.ID })

	release := s.operation(http.MethodPost, "/v1/holds/{id}/release", "release-hold", "Release a hold, with the reason", "Holds", domain.Lead,
		map[string]*huma.Response{"201": jsonResponse("Written.", s.storedSchema(reflect.TypeFor[domain.Release](), "hold-release"))}, http.StatusConflict)
	handleRecordOn(s, release, func(in *changeInput, r *domain.Release) { r.HoldID = in.ID })

	refused := s.operation(http.MethodGet, "/v1/harvest-refusals", "list-harvest-refusals", "Attempts to cut what was not clear, newest first", "Harvest", domain.Reader,
		map[string]*huma.Response{"200": jsonResponse("Newest first.", &huma.Schema{Type: "array", Items: s.storedSchema(reflect.TypeFor[domain.HarvestRefused](), "harvest-refused")})})
	huma.Register(s.api, refused, func(ctx context.Context, in *listInput) (*listOutput, error) {
		return s.list(ctx, collection{path: "harvest-refusals"}, "harvest-refused", in)
	})
}

// handleRecordOn registers writing a record that belongs to the one named in the path.
func handleRecordOn[T any, P recordOf[T]](s *Server, op huma.Operation, link func(*changeInput, *T)) {
	handleBody(s, op, func(ctx context.Context, in *changeInput, body *T) (*recordOutput, error) {
		link(in, body)
		return s.create(ctx, in.Key, P(body))
	})
}

func (s *Server) harvestCheck(ctx context.Context, in *harvestCheckInput) (*harvestCheckOutput, error) {
	on, err := s.dayOrToday(ctx, in.On)
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	bed, planting := parseID(in.BedID), parseID(in.PlantingID)
	list, err := s.db.HarvestCheck(readingOf(ctx), bed, planting, on)
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	if len(list) == 0 && planting != uuid.Nil {
		if _, err := s.db.ReadRecord(ctx, actorOf(ctx).FarmID, "planting", planting); err != nil {
			return nil, problemOf(ctx, err)
		}
	}
	out := &harvestCheckOutput{}
	out.Body.On, out.Body.Caution, out.Body.Checks = on, domain.RecordHelper, []checkedBed{}
	var all []domain.Reason
	for _, c := range list {
		out.Body.Checks = append(out.Body.Checks, checkAnswer(c))
		if bed != uuid.Nil || planting != uuid.Nil {
			all = append(all, c.Reasons...)
		}
	}
	if len(list) == 0 && (bed != uuid.Nil || planting != uuid.Nil) {
		all = append(all, domain.NothingPlanted(on))
	}
	j := domain.Judge(all)
	if bed == uuid.Nil && planting == uuid.Nil {
		j = strictestOf(list)
	}
	out.Body.Verdict, out.Body.ClearOn, out.Body.Reasons = j.Verdict, j.ClearOn, j.Reasons
	if out.Body.Reasons == nil {
		out.Body.Reasons = []domain.Reason{}
	}
	return out, nil
}

// strictestOf sums a whole farm up in one word; the reasons stay with their beds.
func strictestOf(list []storage.Checked) domain.Judgement {
	j := domain.Judgement{Verdict: domain.Clear}
	for _, c := range list {
		j.Verdict = domain.Stricter(j.Verdict, c.Verdict)
	}
	return j
}

func checkAnswer(c storage.Checked) checkedBed {
	reasons := c.Reasons
	if reasons == nil {
		reasons = []domain.Reason{}
	}
	return checkedBed{BedID: c.BedID, Bed: c.BedName, PlotID: c.PlotID, PlantingID: c.PlantingID, Crop: c.Crop, SoilContact: c.Contact,
		Verdict: c.Verdict, ClearOn: c.ClearOn, Reasons: reasons}
}

// parseID reads an id that huma has already checked; none gives the nil id.
func parseID(s string) uuid.UUID {
	id, err := uuid.Parse(s)
	if err != nil {
		return uuid.Nil
	}
	return id
}
