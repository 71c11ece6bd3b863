package api

import (
	"context"
	"encoding/json"
	"net/http"
	"reflect"
	"strings"
	"time"

	"github.com/danielgtaylor/huma/v2"
	"github.com/google/uuid"

	"croftmark/domain"
	"croftmark/storage"
)

// compostExtra is what a batch's answer has beside its record: the recipe, the process under each rule set, and how the
// batch stands.
type compostExtra struct {
	Recipe struct {
		CarbonNitrogen domain.Figure      `json:"carbon_nitrogen"`
		MoisturePct    domain.Figure      `json:"moisture_pct"`
		Explained      []domain.LocalText `json:"explained"`
		Missing        []domain.LocalText `json:"missing,omitempty"`
	} `json:"recipe"`
	Process  []domain.ProcessResult     `json:"process"`
	Standing domain.Standing            `json:"standing"`
	Sets     map[string]domain.Standing `json:"standing_by_set"`
	Reasons  []domain.Reason            `json:"standing_reasons"`
	Lab      []labJudgement             `json:"lab,omitempty"`
	Severity *severity                  `json:"severity,omitempty" doc:"The time-temperature figure of 40 CFR 503.32, as a picture only: 1 is one full hold."`
	Caution  string                     `json:"caution"`
}

type labJudgement struct {
	Standard domain.LabStandardID `json:"standard"`
	domain.Reason
}

type severity struct {
	Dose  float64 `json:"dose"`
	Probe string  `json:"coldest_probe"`
}

// labStandards in the order they are shown.
var labStandards = []domain.LabStandardID{domain.NOP5006, domain.CFR11255b, domain.CFR11255a}

func compostAnswer(b storage.Batch) (compostExtra, error) {
	var x compostExtra
	x.Recipe.CarbonNitrogen, x.Recipe.MoisturePct = b.Mix.CarbonNitrogen, b.Mix.MoisturePct
	x.Recipe.Explained, x.Recipe.Missing = b.Mix.Explained, b.Mix.Missing
	x.Process, x.Standing, x.Sets, x.Reasons = b.Results, b.Standing.Standing, b.Standing.Sets, b.Standing.Reasons
	x.Caution = domain.RecordHelper
	for _, test := range b.Facts.LabTests {
		for _, standard := range labStandards {
			reason, ok, err := domain.JudgeLabTest(test, standard)
			if err != nil {
				return x, err
			}
			if ok {
				x.Lab = append(x.Lab, labJudgement{standard, reason})
			}
		}
	}
	if dose, probe, ok := b.Facts.Severity(); ok {
		x.Severity = &severity{dose, probe}
	}
	return x, nil
}

// registerCompost gives batches their routes. A batch's own answer holds what is judged of it.
func (s *Server) registerCompost() {
	register[domain.CompostBatch](s, collection{path: "compost-batches", noun: "compost batch", create: domain.Crew, correct: domain.Lead,
		filters: []string{"code", "method"}, tag: "Compost", extra: reflect.TypeFor[compostExtra](), enrich: s.enrichBatch})
	onBatch[domain.CompostTemperatures](s, "temperatures", "probe readings", func(r *domain.CompostTemperatures, id uuid.UUID) { r.BatchID = id })
	onBatch[domain.CompostTurning](s, "turnings", "a turning", func(r *domain.CompostTurning, id uuid.UUID) { r.BatchID = id })
	onBatch[domain.CompostAddition](s, "additions", "an addition", func(r *domain.CompostAddition, id uuid.UUID) { r.BatchID = id })
	onBatch[domain.CompostCuring](s, "curing", "curing", func(r *domain.CompostCuring, id uuid.UUID) { r.BatchID = id })
	onBatch[domain.CompostLabTest](s, "lab-tests", "a lab result", func(r *domain.CompostLabTest, id uuid.UUID) { r.BatchID = id })
	onBatch[domain.CompostContamination](s, "contaminations", "what got at the heap", func(r *domain.CompostContamination, id uuid.UUID) { r.BatchID = id })
	register[domain.ProbeFault](s, collection{path: "probe-faults", noun: "probe fault", create: domain.Lead, correct: domain.Lead, filters: []string{"probe"}, tag: "Compost"})
	register[domain.CertifierAnswer](s, collection{path: "certifier-answers", noun: "certifier's answer", create: domain.Lead, correct: domain.Lead, tag: "Compost"})
	s.registerRecipe()
	s.registerStock()
	s.registerTemperatureImport()
}

func (s *Server) enrichBatch(ctx context.Context, id uuid.UUID) (any, error) {
	b, err := s.db.Compost(readingOf(ctx), id)
	if err != nil {
		return nil, err
	}
	return compostAnswer(b)
}

// onBatch registers the events of a batch: written under the batch's path, and as a collection of their own for reading,
// correcting and voiding.
func onBatch[T any, P recordOf[T]](s *Server, part, noun string, link func(P, uuid.UUID)) {
	kind := P(new(T)).Kind()
	stored := s.storedSchema(reflect.TypeFor[T](), kind)
	op := s.operation(http.MethodPost, "/v1/compost-batches/{id}/"+part, "write-"+kind, "Write down "+noun+" of a batch", "Compost", domain.Crew,
		map[string]*huma.Response{"201": jsonResponse("Written; the batch and what it reaches were judged again.", stored),
			"200": jsonResponse("Written before by the same request.", stored)}, http.StatusConflict, http.StatusRequestEntityTooLarge)
	handleRecordOn[T, P](s, op, func(in *changeInput, r *T) { link(P(r), in.ID) })
	c := collection{path: strings.TrimSuffix(kind, "s") + "s", noun: noun, create: domain.Crew, correct: domain.Lead, filters: []string{"compost_batch_id"}, tag: "Compost"}
	s.registerList(c, kind, stored)
	s.registerOne(c, kind, stored)
	s.registerChanges(c, kind, stored)
}

type recipeRequest struct {
	Ingredients []domain.Ingredient `json:"ingredients" minItems:"1" maxItems:"50"`
	Add         *domain.Ingredient  `json:"add,omitempty" doc:"Material to add; leave its amount at 1 lb."`
	And         *domain.Ingredient  `json:"and,omitempty" doc:"A second material, for both goals at once; water is one."`
	Goal        struct {
		CarbonNitrogen domain.Number `json:"carbon_nitrogen,omitzero"`
		MoisturePct    domain.Number `json:"moisture_pct,omitzero"`
	} `json:"goal,omitzero"`
}

type mixAnswer struct {
	CarbonNitrogen domain.Figure      `json:"carbon_nitrogen"`
	MoisturePct    domain.Figure      `json:"moisture_pct"`
	MassLb         domain.Figure      `json:"mass_lb"`
	CarbonLb       domain.Figure      `json:"carbon_lb"`
	NitrogenLb     domain.Figure      `json:"nitrogen_lb"`
	VolumeYd3      domain.Figure      `json:"volume_yd3" doc:"Before settling: volumes do not add."`
	Explained      []domain.LocalText `json:"explained"`
	Missing        []domain.LocalText `json:"missing,omitempty"`
}

func answerMix(m domain.Mix) mixAnswer {
	return mixAnswer{m.CarbonNitrogen, m.MoisturePct, m.MassLb, m.CarbonLb, m.NitrogenLb, m.VolumeYd3, m.Explained, m.Missing}
}

type recipeOutput struct {
	Body struct {
		Mix      mixAnswer         `json:"mix"`
		Possible *bool             `json:"possible,omitempty"`
		Amounts  []domain.Quantity `json:"amounts,omitempty" doc:"Of each material to add, rounded to the safe side."`
		Said     *domain.LocalText `json:"said,omitempty"`
		Then     *mixAnswer        `json:"then,omitempty" doc:"The mix with the amounts added."`
		Caution  string            `json:"caution"`
	}
}

type feedstocksOutput struct {
	Body []feedstockAnswer
}

type feedstockAnswer struct {
	Name           string        `json:"name"`
	Group          string        `json:"group"`
	Origin         domain.Origin `json:"origin,omitempty"`
	NitrogenPct    domain.Number `json:"nitrogen_pct,omitzero"`
	CarbonNitrogen domain.Number `json:"carbon_nitrogen,omitzero"`
	MoisturePct    domain.Number `json:"moisture_pct,omitzero"`
	Density        domain.Number `json:"density_lb_yd3,omitzero"`
	Mark           string        `json:"mark"`
	Source         string        `json:"source"`
	Note           string        `json:"note,omitempty"`
}

func (s *Server) registerRecipe() {
	table := s.operation(http.MethodGet, "/v1/feedstocks", "feedstocks", "Typical figures of compost materials, each with its source", "Compost", domain.Reader, nil)
	huma.Register(s.api, table, func(context.Context, *noInput) (*feedstocksOutput, error) {
		out := &feedstocksOutput{}
		for _, f := range domain.Feedstocks() {
			out.Body = append(out.Body, feedstockAnswer{f.Name, f.Group, f.Origin, f.NitrogenPct.Typical, f.CarbonNitrogen.Typical,
				f.MoisturePct.Typical, f.Density.Typical, f.Mark, f.Source, f.Note})
		}
		return out, nil
	})
	op := s.operation(http.MethodPost, "/v1/compost-recipes", "compost-recipe", "Work out a recipe, and how much to add to reach a goal; nothing is written down", "Compost", domain.Reader, nil)
	op.DefaultStatus = http.StatusOK
	handleBody(s, op, func(_ context.Context, _ *bodyInput, body *recipeRequest) (*recipeOutput, error) {
		return workOutRecipe(body), nil
	})
}

func workOutRecipe(in *recipeRequest) *recipeOutput {
	out := &recipeOutput{}
	out.Body.Mix, out.Body.Caution = answerMix(domain.MixOf(in.Ingredients)), domain.RecordHelper
	var s domain.Supplement
	goal := in.Goal
	switch {
	case in.Add != nil && in.And != nil && goal.CarbonNitrogen.Valid && goal.MoisturePct.Valid:
		s = domain.AddForBoth(in.Ingredients, *in.Add, *in.And, goal.CarbonNitrogen.Decimal, goal.MoisturePct.Decimal)
	case in.Add != nil && goal.CarbonNitrogen.Valid:
		s = domain.AddForCarbonNitrogen(in.Ingredients, *in.Add, goal.CarbonNitrogen.Decimal)
	case in.Add != nil && goal.MoisturePct.Valid:
		s = domain.AddForMoisture(in.Ingredients, *in.Add, goal.MoisturePct.Decimal)
	case goal.MoisturePct.Valid:
		s = domain.AddWater(in.Ingredients, goal.MoisturePct.Decimal)
	default:
		return out
	}
	then := answerMix(s.Mix)
	out.Body.Possible, out.Body.Amounts, out.Body.Said, out.Body.Then = &s.Possible, s.Amounts, &s.Said, &then
	return out
}

type stockOutput struct {
	Body []domain.Stock
}

func (s *Server) registerStock() {
	op := s.operation(http.MethodGet, "/v1/stock", "stock", "What came in, was used and should be left of every delivery and batch", "Inputs", domain.Reader, nil)
	huma.Register(s.api, op, func(ctx context.Context, _ *noInput) (*stockOutput, error) {
		list, err := s.db.Stock(readingOf(ctx), uuid.Nil)
		if err != nil {
			return nil, problemOf(ctx, err)
		}
		if list == nil {
			list = []domain.Stock{}
		}
		return &stockOutput{Body: list}, nil
	})
}

// zoneOf gives the farm's time zone.
func (s *Server) zoneOf(ctx context.Context) (*time.Location, error) {
	_, farm, err := s.db.Today(readingOf(ctx))
	if err != nil {
		return nil, err
	}
	return domain.Zone(farm.TimeZone)
}

// withExtra lays more fields over an answer.
func withExtra(body json.RawMessage, extra any) (json.RawMessage, error) {
	more, err := json.Marshal(extra)
	if err != nil {
		return nil, err
	}
	var fields, added map[string]json.RawMessage
	if err := json.Unmarshal(body, &fields); err != nil {
		return nil, err
	}
	if err := json.Unmarshal(more, &added); err != nil {
		return nil, err
	}
	for name, value := range added {
		fields[name] = value
	}
	return json.Marshal(fields)
}
