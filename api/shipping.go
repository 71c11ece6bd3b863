package api

import (
	"net/http"
	"reflect"
	"strings"
	"time"

	"github.com/danielgtaylor/huma/v2"

	"croftmark/domain"
	"croftmark/storage"
)

// registerShipping gives the way from the shed to the buyer its routes.
func (s *Server) registerShipping() {
	register[domain.PackLot](s, collection{path: "pack-lots", noun: "pack lot", create: domain.Crew, correct: domain.Lead, filters: []string{"product", "status"}, tag: "Packing"})
	register[domain.Customer](s, collection{path: "customers", noun: "customer", create: domain.Lead, correct: domain.Lead, filters: []string{"kind", "name"}, tag: "Shipping"})
	register[domain.Shipment](s, collection{path: "shipments", noun: "shipment", create: domain.Crew, correct: domain.Lead, filters: []string{"customer_id"}, tag: "Shipping"})
	register[domain.Return](s, collection{path: "returns", noun: "return", create: domain.Crew, correct: domain.Lead, filters: []string{"customer_id"}, tag: "Shipping"})
	s.registerBuyerLinks()
	disposal := s.operation(http.MethodPost, "/v1/pack-lots/{id}/disposal", "dispose-pack-lot", "Take quantity of a pack lot out of food", "Packing", domain.Crew,
		map[string]*huma.Response{"201": jsonResponse("Written.", s.storedSchema(reflect.TypeFor[domain.Disposal](), "disposal"))}, http.StatusConflict)
	handleRecordOn(s, disposal, func(in *changeInput, d *domain.Disposal) { d.LotID = in.ID })
}

// packAnswerOf tells a pack lot or one of its crates: what it is, what went into it, where it is.
func packAnswerOf(code domain.TraceCode, p storage.Pack) lotAnswer {
	a := lotAnswer{
		Kind: code.Kind, Code: code.Text, Crate: code.Crate, LotID: p.ID, LotCode: p.Pack.Code, Crop: p.Pack.Product, Beds: []string{},
		CutFrom: p.CutOn, PackedOn: p.DoneOn, Status: p.Pack.Status, From: p.Pack.From,
		Quantity: p.Pack.Quantity, OnHand: p.OnHand, Disposed: p.Disposed, Shipped: p.Shipped, Returned: p.Returned, Containers: p.Pack.Crates,
		Verdict: p.Now.Verdict, VerdictThen: p.Pack.VerdictThen, VerdictNow: p.Now, Held: p.Held, Holds: p.Holds, HoldRecords: lotHolds(p.Told),
		Where: packPlace(p), Caution: domain.RecordHelper,
	}
	if code.Crate > 0 && code.Crate <= len(p.Crates) {
		a.Where = "on the farm"
		c := p.Crates[code.Crate-1]
		if c.Kept != "" {
			a.Where = "on the farm, not for sale: it came back and was set down for " + strings.ReplaceAll(c.Kept, "-", " ")
		}
		if c.Away {
			a.ShippedTo, a.ShippedOn = c.Customer, dayOfFarm(p.Farm, *c.At)
			a.Where = "shipped to " + a.ShippedTo + " on " + a.ShippedOn.String()
		}
	}
	return a
}

// dayOfFarm is the day on the farm's calendar; in UTC an evening there is the next day already.
func dayOfFarm(farm domain.Farm, at time.Time) domain.Date {
	zone, err := domain.Zone(farm.TimeZone)
	if err != nil { // the book takes no farm without one
		zone = time.UTC
	}
	return domain.DateIn(at, zone)
}

// packPlace says in words where a pack lot is.
func packPlace(p storage.Pack) string {
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
