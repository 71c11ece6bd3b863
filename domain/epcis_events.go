package domain

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"
)

// handlings are coolings and other acts in the shed. There is no word of the standard for cooling or washing, so the
// step is an address of the farm's own.
func (e epcisWriter) handlings() (out []epcisEvent, err error) {
	for i := range e.p.Handling {
		h := &e.p.Handling[i]
		lot := e.p.Lot(h.Lot)
		if lot == nil || h.At.IsZero() {
			continue
		}
		x, err := e.event("ObjectEvent", h.ID, "handling "+h.Lot+" "+fmt.Sprint(i), h.At, Date{})
		if err != nil {
			return nil, err
		}
		x.Action, x.Step, x.Disposition = "OBSERVE", e.own("voc", strings.ReplaceAll(h.Kind, " ", "-")), "in_progress"
		x.Quantities, x.Unit = []epcisQuantity{e.quantity(lot.Code, lot.Made)}, countUnit(lot.Made)
		x.ReadPoint, x.Location, x.Lot, x.Text = e.place(h.Place), e.place(h.Place), lot.Code, h.Method
		for _, reading := range []struct {
			q  Quantity
			at time.Time
		}{{h.TempIn, h.At}, {h.TempOut, h.Until}} {
			if celsius, err := reading.q.In("degC"); err == nil && !reading.q.IsZero() {
				s := epcisSensor{Report: []epcisReading{{"Temperature", json.Number(celsius.Round(2).String()), "CEL"}}}
				if !reading.at.IsZero() {
					s.Meta = map[string]string{"time": reading.at.UTC().Format(time.RFC3339)}
				}
				x.Sensors = append(x.Sensors, s)
			}
		}
		out = append(out, x)
	}
	return out, nil
}

// moves are what left and what came back.
func (e epcisWriter) moves() (out []epcisEvent, err error) {
	for i := range e.p.Moves {
		m := &e.p.Moves[i]
		x, err := e.event("ObjectEvent", m.ID, fmt.Sprint(m.Kind, " ", i, " ", m.Reference.Number), m.At, Date{})
		if err != nil {
			return nil, err
		}
		x.Action = "OBSERVE"
		farm, customer := e.place("").ID, e.customer(m.CustomerID)
		from, to := farm, customer
		switch c := e.p.Customer(m.CustomerID); {
		case m.Kind == MoveReturn:
			x.Step, x.Disposition, from, to = "receiving", "returned", customer, farm
			x.Location = e.place("")
		case m.Kind == MoveShipment && c != nil && c.StraightToConsumers():
			x.Step, x.Disposition = "retail_selling", "retail_sold"
		default:
			x.Step, x.Disposition = "shipping", "in_transit"
		}
		x.ReadPoint = e.place("")
		x.Sources = []epcisSource{{"location", from}}
		x.Destinations = []epcisDest{{"location", to}}
		if m.Reference.Number != "" {
			kind, known := epcisPapers[m.Reference.Type]
			if !known && m.Reference.Type != "" {
				kind = e.own("voc", "btt", m.Reference.Type)
			}
			x.Transactions = []epcisPaper{{kind, e.own("bt", m.Reference.Type, m.Reference.Number)}}
			x.ReferenceDoc = strings.TrimSpace(m.Reference.Type + " " + m.Reference.Number)
		}
		var units []string
		for _, l := range m.Lines {
			for _, c := range l.Crates {
				if uri := e.crate(c); !slices.Contains(x.EPCs, uri) {
					x.EPCs = append(x.EPCs, uri)
				}
			}
			x.Quantities = append(x.Quantities, e.quantity(l.Lot, l.Quantity))
			if u := countUnit(l.Quantity); u != "" && !slices.Contains(units, u) {
				units = append(units, u)
			}
		}
		x.Unit = strings.Join(units, ", ")
		if len(x.EPCs) > 0 { // the crates say it all, and naming the lot as well would count it twice
			var loose []epcisQuantity
			for i, l := range m.Lines {
				if len(l.Crates) == 0 {
					loose = append(loose, x.Quantities[i])
				}
			}
			x.Quantities = loose
		}
		out = append(out, x)
	}
	return out, nil
}

// disposals take quantity out for good.
func (e epcisWriter) disposals() (out []epcisEvent, err error) {
	for i := range e.p.Disposals {
		d := &e.p.Disposals[i]
		x, err := e.event("ObjectEvent", d.ID, "disposal "+d.Lot+" "+fmt.Sprint(i), time.Time{}, d.On)
		if err != nil {
			return nil, err
		}
		x.Action, x.Step, x.Disposition = "DELETE", "destroying", "destroyed"
		x.Quantities, x.Unit = []epcisQuantity{e.quantity(d.Lot, d.Quantity)}, countUnit(d.Quantity)
		x.ReadPoint, x.Lot, x.Text = e.place(""), d.Lot, d.How
		out = append(out, x)
	}
	return out, nil
}

// holds stop a lot; the release is an event of its own.
func (e epcisWriter) holds() (out []epcisEvent, err error) {
	for i := range e.p.Holds {
		h := &e.p.Holds[i]
		lot := e.p.Lot(h.Lot)
		if lot == nil || h.From.IsZero() {
			continue
		}
		for _, end := range []struct {
			at                      time.Time
			part, step, disposition string
			why                     string
		}{{h.From, "hold", "holding", "non_sellable_other", h.Reason}, {h.ReleasedAt, "release", e.own("voc", "hold-released"), "sellable_not_accessible", h.ReleasedReason}} {
			if end.at.IsZero() {
				continue
			}
			about := fmt.Sprint(end.part, " ", i, " of lot ", lot.Code)
			id := h.ID
			if end.part == "release" {
				id = e.id(about + " " + h.ID.String())
			}
			x, err := e.event("ObjectEvent", id, about, end.at, Date{})
			if err != nil {
				return nil, err
			}
			x.Action, x.Step, x.Disposition = "OBSERVE", end.step, end.disposition
			x.Quantities = []epcisQuantity{e.quantity(lot.Code, Quantity{})}
			x.ReadPoint, x.Lot, x.Text = e.place(""), lot.Code, end.why
			out = append(out, x)
		}
	}
	return out, nil
}
