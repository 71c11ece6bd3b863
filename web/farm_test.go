//go:build external

package web_test

// farm is a small farm with a bed for each judgement, and names that try to break the page.
type farm struct {
	plot                                   string
	clear, wait, stop, odd, twin           string // beds
	kale, radish, garlic, oddCrop, tomato  string // plantings
	manure, leaves, batch, owner, oddNamed string
}

const (
	oddBed   = `<b>Ñandú</b> "3" & Co`
	oddCrop  = `<img src=x onerror="window.hacked=1"> שלום lettuce`
	oddBuyer = `The "Tin" <b>Larder</b> מזון`
)

func plant(s *service) farm {
	s.t.Helper()
	var f farm
	quantity := func(value, unit string) object { return object{"value": value, "unit": unit} }
	f.oddNamed = s.post("/v1/people", object{"name": `שרה "Sol" <i>Vega</i>`, "initials": "SV", "role": "crew", "language": "es"})
	f.plot = s.post("/v1/plots", object{"name": "Lower field", "history": "known"})
	bed := func(name string) string {
		return s.post("/v1/beds", object{"name": name, "plot_id": f.plot, "from": day(-400), "length": quantity("100", "ft"), "width": quantity("4", "ft")})
	}
	f.clear, f.wait, f.stop, f.odd, f.twin = bed("Lower 1"), bed("Lower 2"), bed("Lower 3"), bed(oddBed), bed("Lower 5")
	crop := func(name, contact string) string {
		return s.post("/v1/crops", object{"name": name, "soil_contact": contact})
	}
	planting := func(crop, bed string) string {
		return s.post("/v1/plantings", object{"crop_id": crop, "bed_ids": []string{bed}, "planted_on": day(-60)})
	}
	f.kale, f.radish, f.garlic = planting(crop("Kale", "touches"), f.clear), planting(crop("Radish", "touches"), f.wait), planting(crop("Garlic", "touches"), f.stop)
	f.oddCrop, f.tomato = planting(crop(oddCrop, "touches"), f.odd), planting(crop("Tomato", "clear"), f.twin)
	planting(crop("Basil", "clear"), f.twin)
	raw := s.post("/v1/inputs", object{"name": "Horse manure", "category": "raw-manure", "species": "horse"})
	leaf := s.post("/v1/inputs", object{"name": "Leaf mould", "category": "plant-material"})
	lot := func(input string) string {
		return s.post("/v1/input-lots", object{"input_id": input, "supplier": "Brindle Fen", "received_on": day(-300), "quantity": quantity("20", "yd3")})
	}
	f.manure, f.leaves = lot(raw), lot(leaf)
	f.spread(s, f.wait, day(-118), day(-117))
	f.spread(s, f.stop, day(-40), "")
	f.batch = s.post("/v1/compost-batches", object{"code": "Oak heap", "method": "turned-windrow", "started_on": day(-5),
		"ingredients": []object{{"feedstock": "Horse manure with straw", "amount": quantity("6", "yd3"), "animal_origin": true}}})
	return f
}

// spread puts raw manure on a bed, worked in on a day or never.
func (f farm) spread(s *service, bed, on, worked string) {
	s.t.Helper()
	body := object{"source": object{"input_lot_id": f.manure}, "ground": object{"bed_ids": []string{bed}}, "applied_on": on,
		"method": "surface", "amount": object{"value": "1", "unit": "yd3"}, "touched_crop": "no"}
	if worked != "" {
		body["method"], body["incorporated_on"] = "incorporated", worked
	}
	s.post("/v1/applications", body)
}
