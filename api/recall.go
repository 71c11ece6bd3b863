package api

import (
	"context"
	"io"
	"net/http"
	"reflect"
	"time"

	"github.com/danielgtaylor/huma/v2"
	"github.com/google/uuid"

	"croftmark/domain"
	"croftmark/report"
)

// recallExtra is what a recall's answer has beside its record.
type recallExtra struct {
	Lots       []domain.RecallLot     `json:"lots"`
	Recipients []domain.Recipient     `json:"recipients"`
	Balance    []domain.RecallBalance `json:"balance"`
	Possible   []domain.RecallLot     `json:"possible_contact" doc:"Lots that shared a tank or line; not in the scope."`
	Letters    []recallLetter         `json:"letters"`
	Minutes    int                    `json:"minutes"`
	Gaps       []string               `json:"gaps"`
	Caution    string                 `json:"caution"`
}

type recallLetter struct {
	CustomerID uuid.UUID `json:"customer_id" format:"uuid"`
	Text       string    `json:"text"`
}

const recallCaution = "If somebody may be ill, call the health department first. Your state program and the buyers' own rules decide what is taken back."

func (s *Server) registerRecalls() {
	register[domain.Recall](s, collection{path: "recalls", noun: "recall or drill", create: domain.Lead, correct: domain.Lead, tag: "Trace",
		extra: reflect.TypeFor[recallExtra](), enrich: s.enrichRecall})
	huma.Register(s.api, s.fileOperation("/v1/recalls/{id}/report.pdf", "recall-report", "The report of a recall or drill", "Trace", "application/pdf"), s.recallReport)
	op := s.operation(http.MethodGet, "/v1/trace", "trace-from", "Trace from anything: a document number, a customer and a day, a crop and a day, an input, a batch, water, a bed, a person", "Trace", domain.Reader, nil)
	huma.Register(s.api, op, s.traceFrom)
}

func (s *Server) enrichRecall(ctx context.Context, id uuid.UUID) (any, error) {
	r, err := s.db.Recall(readingOf(ctx), id)
	if err != nil {
		return nil, err
	}
	x := recallExtra{Lots: r.Lots, Recipients: r.Recipients, Balance: r.Balance, Possible: r.Possible, Minutes: r.Minutes, Gaps: r.Gaps,
		Letters: []recallLetter{}, Caution: recallCaution}
	for _, to := range r.Recipients {
		if !to.Delivered() {
			continue
		}
		x.Letters = append(x.Letters, recallLetter{to.CustomerID, domain.RecallLetter(&r.Farm, &r.Recall, to)})
	}
	x.fillEmpty()
	return x, nil
}

// fillEmpty writes empty lists as such.
func (x *recallExtra) fillEmpty() {
	if x.Lots == nil {
		x.Lots = []domain.RecallLot{}
	}
	if x.Recipients == nil {
		x.Recipients = []domain.Recipient{}
	}
	if x.Possible == nil {
		x.Possible = []domain.RecallLot{}
	}
	if x.Gaps == nil {
		x.Gaps = []string{}
	}
}

func (s *Server) recallReport(ctx context.Context, in *paperInput) (*fileOutput, error) {
	r, err := s.db.Recall(readingOf(ctx), in.ID)
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	paper, err := s.paper(ctx, in, r.Farm, r.Record)
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	out, err := pdf("recall", func(w io.Writer) error {
		return report.RecallPDF(w, report.RecallPaper{Paper: paper, Recall: r.Recall, StartName: r.StartName, Farm: r.Farm, Lots: r.Lots, Recipients: r.Recipients,
			Balance: r.Balance, Possible: r.Possible, Gaps: r.Gaps, Minutes: r.Minutes})
	})
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	return out, nil
}

type traceFromInput struct {
	Direction      string    `query:"direction" enum:"back,forward" default:"back"`
	Lot            string    `query:"lot" maxLength:"60"`
	Crate          string    `query:"crate" maxLength:"60"`
	Reference      string    `query:"reference" maxLength:"60" doc:"A document number, as on the buyer's paper, in capitals or not."`
	CustomerID     string    `query:"customer_id" format:"uuid"`
	Crop           string    `query:"crop" maxLength:"120"`
	On             string    `query:"on" format:"date"`
	InputLotID     string    `query:"input_lot_id" format:"uuid"`
	InputID        string    `query:"input_id" format:"uuid" doc:"An input: all deliveries of it."`
	Supplier       string    `query:"supplier" maxLength:"200"`
	CompostBatchID string    `query:"compost_batch_id" format:"uuid"`
	WaterSourceID  string    `query:"water_source_id" format:"uuid"`
	From           time.Time `query:"from" doc:"With water_source_id: its water ran at this hour or later, if only in part; what it reached counts whenever that was cut. With bed_id: cut on this day or later. With person_id: cut or packed on this day or later, or handled at this hour or later."`
	To             time.Time `query:"to" doc:"The other end of from."`
	BedID          string    `query:"bed_id" format:"uuid"`
	PersonID       string    `query:"person_id" format:"uuid"`
}

func (s *Server) traceFrom(ctx context.Context, in *traceFromInput) (*traceOutput, error) {
	start := domain.TraceStart{Lot: in.Lot, Crate: in.Crate, Reference: in.Reference, CustomerID: parseID(in.CustomerID), Crop: in.Crop,
		InputLotID: parseID(in.InputLotID), InputID: parseID(in.InputID), Supplier: in.Supplier, CompostBatchID: parseID(in.CompostBatchID), WaterSourceID: parseID(in.WaterSourceID),
		From: in.From, To: in.To, BedID: parseID(in.BedID), PersonID: parseID(in.PersonID)}
	if in.On != "" {
		on, err := domain.ParseDate(in.On)
		if err != nil {
			return nil, problemOf(ctx, domain.Refuse(domain.CodeInvalid, titles[domain.CodeInvalid], "%v.", err))
		}
		start.On = on
	}
	if err := domain.CheckStart(start); err != nil {
		return nil, problemOf(ctx, err)
	}
	t, err := s.db.TraceFrom(readingOf(ctx), start, in.Direction == "forward")
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	return &traceOutput{Body: t}, nil
}
