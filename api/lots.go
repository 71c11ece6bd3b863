package api

import (
	"context"
	"net/http"

	"github.com/danielgtaylor/huma/v2"
	"github.com/google/uuid"

	"croftmark/domain"
	"croftmark/storage"
)

// lotAnswer is what any code leads to.
type lotAnswer struct {
	Kind        domain.CodeKind   `json:"kind"`
	Code        string            `json:"code"`
	Crate       int               `json:"crate,omitempty" doc:"Number of the crate, when the code was a crate's."`
	LotID       uuid.UUID         `json:"lot_id" format:"uuid"`
	LotCode     string            `json:"lot_code"`
	Crop        string            `json:"crop"`
	Variety     string            `json:"variety,omitempty"`
	PlantingID  uuid.UUID         `json:"planting_id,omitzero" format:"uuid"`
	BedIDs      []uuid.UUID       `json:"bed_ids,omitempty"`
	Beds        []string          `json:"beds"`
	Plot        string            `json:"plot,omitempty"`
	CutFrom     domain.Date       `json:"cut_from,omitzero"`
	CutTo       domain.Date       `json:"cut_to,omitzero"`
	PackedOn    domain.Date       `json:"packed_on,omitzero" doc:"For pack lots and their crates."`
	Status      string            `json:"status,omitempty" enum:"organic,not-organic"`
	From        []domain.PackFrom `json:"from,omitempty" doc:"For pack lots: the lots that went in."`
	Quantity    domain.Quantity   `json:"quantity"`
	OnHand      domain.Quantity   `json:"on_hand"`
	Disposed    domain.Quantity   `json:"disposed"`
	Packed      domain.Quantity   `json:"packed,omitzero" doc:"What went into pack lots."`
	Shipped     domain.Quantity   `json:"shipped,omitzero"`
	Returned    domain.Quantity   `json:"returned,omitzero"`
	Containers  int               `json:"containers"`
	Verdict     domain.Verdict    `json:"verdict" doc:"What is judged now, with all records known now."`
	VerdictThen *domain.Judgement `json:"verdict_then"`
	VerdictNow  domain.Judgement  `json:"verdict_now"`
	Held        bool              `json:"held"`
	Holds       []string          `json:"holds,omitempty" doc:"Reasons of open holds, on the lot or on a lot that went into it."`
	HoldRecords []lotHold         `json:"hold_records,omitempty" doc:"Every hold that the lot, or a lot that went into it, has or had: who put it on and why, who released it and why, or how it is released."`
	Where       string            `json:"where"`
	ShippedTo   string            `json:"shipped_to,omitempty" doc:"Of a crate that has left: who has it."`
	ShippedOn   domain.Date       `json:"shipped_on,omitzero"`
	URL         string            `json:"url" doc:"What the label's QR says where the label has room for it."`
	GS1         *gs1Answer        `json:"gs1,omitempty" doc:"For farms with a GS1 company prefix."`
	Labels      domain.LabelCount `json:"labels"`
	Caution     string            `json:"caution"`
}

// lotHold is a hold with the people behind it.
type lotHold struct {
	ID             uuid.UUID      `json:"id" format:"uuid"`
	LotID          uuid.UUID      `json:"lot_id" format:"uuid" doc:"The lot it was put on: this one, or one that went into it."`
	Reason         string         `json:"reason"`
	AlreadyCut     domain.Verdict `json:"already_cut,omitempty" doc:"Put on by the book, because the lot was entered as already cut: what was judged of its ground then."`
	On             domain.Date    `json:"on"`
	By             string         `json:"by"`
	ReleasedOn     *domain.Date   `json:"released_on,omitempty"`
	ReleasedBy     string         `json:"released_by,omitempty"`
	ReleasedReason string         `json:"released_reason,omitempty"`
	Release        string         `json:"release,omitempty" doc:"Of an open hold: who releases it, and with which call."`
}

func lotHolds(told []storage.HoldTold) (out []lotHold) {
	for _, h := range told {
		x := lotHold{ID: h.ID, LotID: h.TargetID, Reason: h.Reason, AlreadyCut: h.AlreadyCut, On: h.On, By: h.ByName, ReleasedOn: h.ReleasedOn, ReleasedBy: h.ReleasedByName, ReleasedReason: h.ReleasedReason}
		if h.ReleasedOn == nil {
			x.Release = "A lead or the owner releases it with a reason: POST /v1/holds/" + h.ID.String() + "/release"
		}
		out = append(out, x)
	}
	return out
}

type codeInput struct {
	Code string `path:"code" maxLength:"60"`
}

type lotOutput struct {
	Body lotAnswer
}

func (s *Server) registerLots() {
	for _, path := range []string{"lots", "crates"} {
		op := s.operation(http.MethodGet, "/v1/"+path+"/{code}", "read-"+path+"-code", "Look up a code of any kind", "Harvest", domain.Reader, nil)
		huma.Register(s.api, op, s.readCode)
	}
	onHand := s.operation(http.MethodGet, "/v1/lots", "lots-on-hand", "Lots of which something is still on the farm, newest first", "Harvest", domain.Reader, nil)
	huma.Register(s.api, onHand, s.lotsOnHand)
	trace := s.operation(http.MethodGet, "/v1/trace/{code}", "trace", "Towards the ground or towards the eater, from any code: lot, crate, input, batch, source, bed", "Trace", domain.Reader, nil)
	huma.Register(s.api, trace, s.trace)
}

// onHandAnswer is a lot to pick for packing or loading.
type onHandAnswer struct {
	LotID    uuid.UUID       `json:"lot_id" format:"uuid"`
	Kind     string          `json:"kind" enum:"harvest-lot,pack-lot"`
	Code     string          `json:"code"`
	Name     string          `json:"name" doc:"The crop, or what the pack lot is called."`
	CutFrom  domain.Date     `json:"cut_from" doc:"The first day on which anything in it was cut."`
	OnHand   domain.Quantity `json:"on_hand" doc:"What of it may be packed or loaded."`
	KeptBack domain.Quantity `json:"kept_back,omitzero" doc:"What came back and is not for sale: it waits for a decision, or for its disposal."`
	Verdict  domain.Verdict  `json:"verdict"`
	Held     bool            `json:"held" doc:"It is neither packed nor loaded."`
	CrateNet domain.Quantity `json:"crate_net,omitzero"`
	Crates   []crateOnHand   `json:"crates" doc:"Crates that have not left, or have come back for sale."`
}

type crateOnHand struct {
	Number int    `json:"number"`
	Code   string `json:"code"`
}

type onHandOutput struct{ Body []onHandAnswer }

func (s *Server) lotsOnHand(ctx context.Context, _ *noInput) (*onHandOutput, error) {
	on, err := s.dayOrToday(ctx, "")
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	lots, err := s.db.LotsOnHand(readingOf(ctx), on)
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	out := &onHandOutput{Body: []onHandAnswer{}}
	for _, l := range lots {
		a := onHandAnswer{LotID: l.ID, Kind: l.Kind, Code: l.Code, Name: l.Name, CutFrom: l.CutFrom, OnHand: l.OnHand, KeptBack: l.KeptBack, Verdict: l.Verdict, Held: l.Held,
			CrateNet: l.CrateNet, Crates: []crateOnHand{}}
		for _, n := range l.Crates {
			a.Crates = append(a.Crates, crateOnHand{n, domain.CrateCode(l.Code, n)})
		}
		out.Body = append(out.Body, a)
	}
	return out, nil
}

func (s *Server) readCode(ctx context.Context, in *codeInput) (*lotOutput, error) {
	found, err := s.find(readingOf(ctx), in.Code)
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	a := s.answerOf(found)
	if a.Labels, err = s.db.LabelCount(readingOf(ctx), found.lotID(), found.crates()); err != nil {
		return nil, problemOf(ctx, err)
	}
	return &lotOutput{Body: a}, nil
}

// notFoundCode answers a mistyped code in a path like any other thing that is not there, but says what is wrong with it.
func notFoundCode(code string, err error) error {
	if e, ok := err.(*domain.Error); ok {
		return &domain.Error{Code: domain.CodeNotFound, Title: "Not a code of this farm", Detail: e.Detail}
	}
	return domain.NotFound("code", code)
}

func lotAnswerOf(code domain.TraceCode, lot storage.Lot) lotAnswer {
	where := "on the farm"
	switch {
	case lot.OnHand.Value.IsZero() && lot.Disposed.Value.Equal(lot.Harvest.Quantity.Value):
		where = "disposed of"
	case lot.OnHand.Value.IsZero():
		where = "packed, shipped or disposed of"
	}
	return lotAnswer{
		Kind: code.Kind, Code: code.Text, Crate: code.Crate, LotID: lot.ID, LotCode: lot.Code, Crop: lot.Crop.Name, Variety: lot.Crop.Variety,
		PlantingID: lot.Planting.ID, BedIDs: lot.Harvest.BedIDs, Beds: lot.BedNames, Plot: lot.PlotName,
		CutFrom: lot.Harvest.FirstDay(), CutTo: lot.Harvest.LastDay(), Quantity: lot.Harvest.Quantity, OnHand: lot.OnHand, Disposed: lot.Disposed,
		Packed: lot.Packed, Shipped: lot.Shipped, Returned: lot.Returned, Status: lot.Status,
		Containers: lot.Harvest.Containers, Verdict: lot.VerdictNow.Verdict, VerdictThen: lot.Harvest.VerdictThen, VerdictNow: lot.VerdictNow,
		Held: lot.Held, Holds: lot.HoldReasons, HoldRecords: lotHolds(lot.HoldsTold), Where: where, Caution: domain.RecordHelper,
	}
}

type traceInput struct {
	Code      string `path:"code" maxLength:"60" doc:"A lot or crate code, the code of a compost batch, a supplier's lot, the number of a paper, the name of an input, bed or water source, or the id of any of them."`
	Direction string `query:"direction" enum:"back,forward" default:"back"`
}

type traceOutput struct {
	Body *domain.Trace
}

func (s *Server) trace(ctx context.Context, in *traceInput) (*traceOutput, error) {
	t, err := s.traceAnswer(ctx, in)
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	return &traceOutput{Body: t}, nil
}

// traceAnswer traces from whatever the code stands for. Towards the eater a delivery or batch keeps the way over the ground.
func (s *Server) traceAnswer(ctx context.Context, in *traceInput) (*domain.Trace, error) {
	r := readingOf(ctx)
	start, err := s.db.StartOf(r, in.Code)
	if err != nil {
		return nil, err
	}
	forward := in.Direction == "forward"
	switch {
	case forward && start.InputLotID != uuid.Nil:
		return s.db.TraceForward(r, start.InputLotID)
	case forward && start.CompostBatchID != uuid.Nil:
		return s.db.TraceForward(r, start.CompostBatchID)
	}
	return s.db.TraceFrom(r, start, forward)
}
