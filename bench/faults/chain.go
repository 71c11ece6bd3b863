package main

import (
	"fmt"
	"strings"

	"github.com/google/uuid"

	"croftmark/bench/rig"
)

// chained makes the bodies that only fit what this run made before: a packing run takes from a lot that is whole, a shipment
// takes crates that are here, a return brings back what went out. It gives nil where nothing fits.
func (m *mutator) chained(path string) rig.Record {
	switch path {
	case "/v1/pack-lots":
		return m.pack()
	case "/v1/shipments":
		return m.ship()
	case "/v1/returns":
		return m.takeBack()
	case "/v1/bed-layouts":
		return m.layOut()
	}
	if kind := path[strings.LastIndexByte(path, '/')+1:]; plain[kind] != nil {
		return clone(plain[kind])
	}
	return nil
}

// plain are bodies for operations that leave no entry, or of which the demo farm has none, by the last part of the address.
var plain = map[string]rig.Record{
	"pin":             {"pin": "480261"},
	"contaminations":  {"on": "2026-05-21", "kind": "animals", "note": "Hens on the heap."},
	"probe-faults":    {"probe": "P1", "from": "2026-03-01T00:00:00-05:00", "read_high": rig.Amount(6, "degF"), "reason": "Ice water test."},
	"sanitizer-doses": {"product": rig.Record{"name": "Bleach 6 percent", "active": "sodium-hypochlorite", "percent": "6"}, "target_ppm": "50", "water": rig.Amount(50, "gal")},
	"log-sheets": {"key": "egg-washing", "title": rig.Record{"en": "Egg washing", "es": "Lavado de huevos"},
		"fields": []rig.Record{{"key": "trays", "name": rig.Record{"en": "Trays", "es": "Bandejas"}, "type": "number", "required": true}},
		"asks":   []rig.Record{{"authority": "farm", "citation": "our own rule", "strength": "good"}},
		"keep":   []rig.Record{{"authority": "farm", "citation": "our own rule", "years": 1}}},
	"compost-recipes": {"ingredients": []rig.Record{{"feedstock": "horse manure", "amount": rig.Amount(900, "lb"), "moisture_pct": "70", "nitrogen_pct": "1.6", "carbon_nitrogen": "30", "animal_origin": true}}},
	"sessions":        {"label": "Wash shed", "shared": true},
}

// follow keeps what later requests of a chain need of an accepted one.
func (m *mutator) follow(path string, body rig.Record, made rig.Made) {
	switch path {
	case "/v1/harvest-lots":
		if made.Code != "" && body["quantity"] != nil {
			m.cut = append(m.cut, rig.Record{"lot": made.Code, "quantity": body["quantity"]})
		}
	case "/v1/pack-lots":
		m.crates = append(m.crates, made.CrateCodes...)
	case "/v1/shipments":
		m.away = append(m.away, body)
	}
}

func (m *mutator) pack() rig.Record {
	if len(m.cut) == 0 {
		return nil
	}
	from := m.cut[len(m.cut)-1]
	m.cut = m.cut[:len(m.cut)-1]
	return clone(rig.Record{"packed_at": m.now(), "from": []rig.Record{from}, "product": "Radish, 10 bunches", "quantity": from["quantity"], "crates": 1 + m.dice.IntN(4)})
}

func (m *mutator) ship() rig.Record {
	if len(m.crates) == 0 {
		return nil
	}
	n := 1 + m.dice.IntN(min(3, len(m.crates)))
	crates := m.crates[:n]
	m.crates = m.crates[n:]
	m.count++
	return clone(rig.Record{"customer_id": m.id("customers"), "shipped_at": m.now(), "reference": rig.Record{"type": "invoice", "number": fmt.Sprint(m.count)},
		"lines": []rig.Record{{"crates": crates}}})
}

func (m *mutator) takeBack() rig.Record {
	if len(m.away) == 0 {
		return nil
	}
	gone := m.away[len(m.away)-1]
	m.away = m.away[:len(m.away)-1]
	return clone(rig.Record{"customer_id": gone["customer_id"], "returned_at": m.now(), "lines": gone["lines"], "decision": "compost"})
}

func (m *mutator) layOut() rig.Record {
	body := m.bodies["/v1/beds"]
	if len(body) == 0 {
		return nil
	}
	m.count++
	old := m.id("beds")
	return rig.Record{"id": uuid.Must(uuid.NewV7()).String(), "plot_id": body[m.dice.IntN(len(body))]["plot_id"], "on": m.now()[:10], "retire": []any{old},
		"lay": []any{map[string]any{"name": fmt.Sprintf("Laid %d", m.count), "over": []any{old}}}}
}
