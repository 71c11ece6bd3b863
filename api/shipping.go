package api

import (
	"context"
	"net/http"
	"reflect"
	"time"

	"github.com/danielgtaylor/huma/v2"

	"croftmark/domain"
	"croftmark/labels"
	"croftmark/storage"
)

// registerShipping gives the way from the shed to the buyer its routes.
func (s *Server) registerShipping() {
	register[domain.PackLot](s, collection{path: "pack-lots", noun: "pack lot", create: domain.Crew, correct: domain.Lead, filters: []string{"product", "status"}, tag: "Packing"})
	register[domain.Customer](s, collection{path: "customers", noun: "customer", create: domain.Lead, correct: domain.Lead, filters: []string{"kind", "name"}, tag: "Shipping"})
	register[domain.Shipment](s, collection{path: "shipments", noun: "shipment", create: domain.Crew, correct: domain.Lead, filters: []string{"customer_id"}, tag: "Shipping"})
	register[domain.Return](s, collection{path: "returns", noun: "return", create: domain.Crew, correct: domain.Lead, filters: []string{"customer_id"}, tag: "Shipping"})
	disposal := s.operation(http.MethodPost, "/v1/pack-lots/{id}/disposal", "dispose-pack-lot", "Take quantity of a pack lot out of food", "Packing", domain.Crew,
		map[string]*huma.Response{"201": jsonResponse("Written.", s.storedSchema(reflect.TypeFor[domain.Disposal](), "disposal"))}, http.StatusConflict)
	handleRecordOn(s, disposal, func(in *changeInput, d *domain.Disposal) { d.LotID = in.ID })
}

// packAnswer tells a pack lot or one of its crates: what it is, what went into it, where it is.
func (s *Server) packAnswer(code domain.TraceCode, p storage.Pack) lotAnswer {
	a := lotAnswer{
		Kind: code.Kind, Code: code.Text, Crate: code.Crate, LotID: p.ID, LotCode: p.Pack.Code, Crop: p.Pack.Product, Beds: []string{},
		PackedOn: p.DoneOn, Status: p.Pack.Status, From: p.Pack.From,
		Quantity: p.Pack.Quantity, OnHand: p.OnHand, Disposed: p.Disposed, Shipped: p.Shipped, Returned: p.Returned, Containers: p.Pack.Crates,
		Verdict: p.Now.Verdict, VerdictThen: p.Pack.VerdictThen, VerdictNow: p.Now, Held: p.Held, Holds: p.Holds,
		Where: packPlace(code, p), URL: s.lotURL(p.Farm.Key, code.Text), Caution: domain.RecordHelper,
	}
	return a
}

// packPlace says in words where a pack lot or crate is.
func packPlace(code domain.TraceCode, p storage.Pack) string {
	if code.Crate > 0 && code.Crate <= len(p.Crates) {
		if c := p.Crates[code.Crate-1]; c.Away {
			return "shipped to " + c.Customer + " on " + c.At.Format(time.DateOnly)
		}
		return "on the farm"
	}
	switch {
	case p.OnHand.Value.IsZero() && p.Shipped.Value.Sign() > 0:
		return "shipped"
	case p.OnHand.Value.IsZero():
		return "used up or disposed of"
	case p.Shipped.Value.Sign() > 0:
		return "partly on the farm, partly shipped"
	}
	return "on the farm"
}

// packLabels gives the labels of a pack lot's crates, or of the lot when it has none.
func (s *Server) packLabels(code domain.TraceCode, p storage.Pack, language string) []labels.Label {
	base := labels.Label{Crop: p.Pack.Product, LotCode: p.Pack.Code, PackedOn: p.DoneOn, Farm: p.Farm.Name, Place: p.Farm.Address,
		Held: p.Held, Language: language}
	if p.Pack.Status == "organic" {
		base.Status = "ORGANIC" // 7 CFR 205.307: nonretail containers say organic and carry the lot
	}
	crate := func(n int) labels.Label {
		l := base
		l.CrateCode, l.Number, l.Of = domain.CrateCode(p.Pack.Code, n), n, p.Pack.Crates
		l.NetWeight = domain.CrateQuantity(p.Pack.Quantity, p.Pack.Crates, p.Pack.CrateNet, n).String()
		l.URL = s.lotURL(p.Farm.Key, l.CrateCode)
		return l
	}
	if code.Crate > 0 {
		return []labels.Label{crate(code.Crate)}
	}
	if p.Pack.Crates == 0 {
		base.URL, base.NetWeight = s.lotURL(p.Farm.Key, p.Pack.Code), p.Pack.Quantity.String()
		return []labels.Label{base}
	}
	var out []labels.Label
	for n := 1; n <= p.Pack.Crates; n++ {
		out = append(out, crate(n))
	}
	return out
}

// lookUp reads any code of the farm.
func (s *Server) lookUp(ctx context.Context, r storage.Reading, text string) (lotAnswer, []labels.Label, error) {
	code, err := domain.ParseCode(text)
	if err != nil {
		return lotAnswer{}, nil, notFoundCode(text, err)
	}
	language := actorOf(ctx).Language
	if code.Lot[0] == 'P' {
		pack, err := s.db.PackByCode(r, code.Lot)
		if err == nil && code.Crate > pack.Pack.Crates {
			err = domain.NotFound("crate", code.Text)
		}
		if err != nil {
			return lotAnswer{}, nil, err
		}
		return s.packAnswer(code, pack), s.packLabels(code, pack, language), nil
	}
	lot, err := s.db.LotByCode(r, code.Lot)
	if err == nil && code.Crate > max(1, lot.Harvest.Containers) {
		err = domain.NotFound("crate", code.Text)
	}
	if err != nil {
		return lotAnswer{}, nil, err
	}
	return s.lotAnswer(code, lot), s.labelsOf(code, lot, language), nil
}
