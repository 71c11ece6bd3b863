package api

import (
	"bytes"
	"context"
	"net/http"

	"github.com/danielgtaylor/huma/v2"
	"github.com/google/uuid"

	"croftmark/domain"
	"croftmark/labels"
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
	Holds       []string          `json:"holds,omitempty" doc:"Reasons of open holds."`
	Where       string            `json:"where"`
	URL         string            `json:"url" doc:"What the label's QR says."`
	Caution     string            `json:"caution"`
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
	trace := s.operation(http.MethodGet, "/v1/trace/{code}", "trace", "Towards the ground from a lot, or towards the eater from a delivery", "Trace", domain.Reader, nil)
	huma.Register(s.api, trace, s.trace)
	label := s.operation(http.MethodGet, "/v1/labels", "labels", "Labels of a lot or of one crate", "Harvest", domain.Reader,
		map[string]*huma.Response{"200": {Description: "The label in the format asked for, in its exact size.", Content: map[string]*huma.MediaType{
			"application/pdf": {}, "image/png": {}, "image/svg+xml": {}, "text/plain": {}}}})
	huma.Register(s.api, label, s.label)
}

func (s *Server) readCode(ctx context.Context, in *codeInput) (*lotOutput, error) {
	a, _, err := s.lookUp(ctx, readingOf(ctx), in.Code)
	if err != nil {
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

func (s *Server) lotAnswer(code domain.TraceCode, lot storage.Lot) lotAnswer {
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
		Held: lot.Held, Holds: lot.HoldReasons, Where: where, URL: s.lotURL(lot.Farm.Key, code.Text), Caution: domain.RecordHelper,
	}
}

type traceInput struct {
	Code      string `path:"code" maxLength:"60" doc:"A lot or crate code for back; the id of an input lot for forward."`
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

func (s *Server) traceAnswer(ctx context.Context, in *traceInput) (*domain.Trace, error) {
	if in.Direction == "forward" {
		id, err := uuid.Parse(in.Code)
		if err != nil {
			return nil, domain.Refuse(domain.CodeInvalid, titles[domain.CodeInvalid], "Forward starts from the id of an input lot; %q is none.", in.Code)
		}
		return s.db.TraceForward(readingOf(ctx), id)
	}
	code, err := domain.ParseCode(in.Code)
	if err != nil {
		return nil, notFoundCode(in.Code, err)
	}
	return s.db.TraceBack(readingOf(ctx), code.Lot)
}

type labelInput struct {
	Lot    string `query:"lot" maxLength:"60"`
	Crate  string `query:"crate" maxLength:"60"`
	Size   string `query:"size" maxLength:"20" default:"4x2in"`
	Format string `query:"format" enum:"pdf,png,svg,zpl" default:"pdf"`
	DPI    int    `query:"dpi" minimum:"203" maximum:"600" default:"203" doc:"Dots per inch of the printer: 203, 300 or 600."`
}

type labelOutput struct {
	ContentType string `header:"Content-Type"`
	Disposition string `header:"Content-Disposition"`
	Body        []byte
}

var labelTypes = map[string]string{"pdf": "application/pdf", "png": "image/png", "svg": "image/svg+xml", "zpl": "text/plain; charset=utf-8"}

func (s *Server) label(ctx context.Context, in *labelInput) (*labelOutput, error) {
	text := in.Lot
	if text == "" {
		text = in.Crate
	}
	if (in.Lot == "") == (in.Crate == "") {
		return nil, problemOf(ctx, domain.Refuse(domain.CodeInvalid, titles[domain.CodeInvalid], "Say which label: either lot=CODE or crate=CODE."))
	}
	a, list, err := s.lookUp(ctx, readingOf(ctx), text)
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	size, err := labels.SizeByName(in.Size)
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	content, err := drawLabels(ctx, list, size, in.DPI, in.Format)
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	return &labelOutput{ContentType: labelTypes[in.Format], Disposition: `inline; filename="label-` + a.Code + `.` + in.Format + `"`, Body: content}, nil
}

// labelsOf gives one label for a crate; for a lot one for each of its crates, or one for the whole lot.
func (s *Server) labelsOf(code domain.TraceCode, lot storage.Lot, language string) []labels.Label {
	base := labels.Label{Crop: lot.Crop.Name, LotCode: lot.Code, CutOn: lot.Harvest.FirstDay(), Farm: lot.Farm.Name, Place: lot.Farm.Address,
		Held: lot.Held, Language: language}
	if len(lot.BedNames) > 0 {
		base.Bed = lot.BedNames[0]
	}
	if lot.Status == "organic" {
		base.Status = "ORGANIC"
	}
	crate := func(n int) labels.Label {
		l := base
		l.CrateCode, l.Number, l.Of = domain.CrateCode(lot.Code, n), n, max(n, lot.Harvest.Containers)
		l.URL = s.lotURL(lot.Farm.Key, l.CrateCode)
		return l
	}
	if code.Crate > 0 {
		return []labels.Label{crate(code.Crate)}
	}
	if lot.Harvest.Containers == 0 {
		base.URL, base.NetWeight = s.lotURL(lot.Farm.Key, lot.Code), lot.Harvest.Quantity.String()
		return []labels.Label{base}
	}
	var out []labels.Label
	for n := 1; n <= lot.Harvest.Containers; n++ {
		out = append(out, crate(n))
	}
	return out
}

// drawLabels draws all labels as a PDF, or the first in the other formats, which hold one.
func drawLabels(ctx context.Context, list []labels.Label, size labels.Size, dpi int, format string) ([]byte, error) {
	switch format {
	case "png":
		return labels.PNG(list[0], size, dpi)
	case "svg":
		return labels.SVG(list[0], size, dpi)
	case "zpl":
		var all []byte
		for _, l := range list {
			one, err := labels.ZPL(l, size, dpi)
			if err != nil {
				return nil, err
			}
			all = append(all, one...)
		}
		return all, nil
	}
	var b bytes.Buffer
	err := labels.PDF(ctx, &b, size, dpi, list)
	return b.Bytes(), err
}
