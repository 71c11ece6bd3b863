package storage_test

import (
	"encoding/json"
	"errors"
	"fmt"

	"github.com/google/uuid"
	"pgregory.net/rapid"

	"croftmark/domain"
	"croftmark/storage"
)

// history is a farm on which things happen at random, written down in any order.
type history struct {
	*field
	r            *rapid.T
	beds         []uuid.UUID
	deliveries   []uuid.UUID
	plantings    []*domain.Planting
	lots         []*domain.HarvestLot
	applications []uuid.UUID
	grazings     []uuid.UUID
	pauses       []uuid.UUID
	holds        []uuid.UUID
	wet          wet
	dry          bool // nothing happens with water and nothing is found: intervals alone decide
	blocks       int  // how many times the farm took on new ground
	done, no     int
}

// The days of a history: five years, so that exposures fall out of memory as well.
var firstDay, lastDay = day("2021-01-01"), day("2026-11-20")

func newHistory(base *field, r *rapid.T) *history {
	sets := [][]string{{"us-organic"}, {"us-organic", "us-produce-safety"}, {"buyer-gap", "uk-ready-to-eat"}, {"canada-organic", "us-organic", "buyer-leafy-greens"}, {}}
	h := &history{field: &field{t: base.t, db: base.db, clock: base.clock, owner: base.owner, service: base.service}, r: r}
	chosen := rapid.SampledFrom(sets).Draw(r, "sets")
	h.open(chosen)
	h.beds = []uuid.UUID{h.bed}
	h.newBlock()
	h.dry = rapid.Bool().Draw(r, "dry")
	return h
}

// newBlock gives the farm beds, deliveries and water. What happens later happens there.
func (h *history) newBlock() {
	upper := h.must(&domain.Plot{Name: fmt.Sprint("Upper ", h.blocks)})
	for i, plot := range []uuid.UUID{h.plot, h.plot, upper} {
		h.beds = append(h.beds, h.must(&domain.Bed{Name: fmt.Sprint("Bed ", h.blocks, " ", i), PlotID: plot, From: day("2020-01-01")}))
	}
	for _, c := range []domain.Category{domain.RawManure, domain.BoughtCompost, domain.Mineral, domain.PlantMaterial, domain.AnimalByproduct} {
		input := h.must(&domain.Input{Name: string(c), Category: c})
		delivery := &domain.InputLot{InputID: input, Supplier: "S", ReceivedOn: day("2020-01-01"), Quantity: domain.Q("60", "yd3")}
		if c == domain.BoughtCompost {
			delivery.Certificate = &domain.Certificate{IssuedOn: day("2023-01-01"), ExpiresOn: day("2025-01-01"), Process: "windrow"}
		}
		h.deliveries = append(h.deliveries, h.must(delivery))
	}
	h.newWater()
	h.blocks++
}

// moveOn leaves the ground of before as it is and takes on new ground with its own water and manure, as a farm does that
// writes for many years. On the same few beds, each late record of manure would judge every lot ever cut there anew.
func (h *history) moveOn() {
	*h = history{field: h.field, r: h.r, dry: h.dry, blocks: h.blocks, done: h.done, no: h.no}
	h.plot = h.must(&domain.Plot{Name: fmt.Sprint("Lower ", h.blocks), History: "known"})
	h.bed = h.must(&domain.Bed{Name: fmt.Sprint("Lower ", h.blocks, " 3"), PlotID: h.plot, From: day("2020-01-01")})
	h.beds = []uuid.UUID{h.bed}
	h.newBlock()
}

func (h *history) open(sets []string) {
	farm := &domain.Farm{Name: "Farm of a history", TimeZone: "America/New_York"}
	for _, id := range sets {
		set, _ := domain.RuleSetByID(id)
		farm.Standards = append(farm.Standards, domain.AdoptedStandard{Set: id, From: set.From})
	}
	opened, err := h.db.OpenFarm(ctx, farm, &domain.Person{Name: "Owner", Initials: "O"})
	if err != nil {
		h.r.Fatal(err)
	}
	h.actor = storage.Actor{FarmID: opened.FarmID, PersonID: opened.PersonID, Role: domain.Owner}
	h.plot = h.must(&domain.Plot{Name: "Lower", History: "known"})
	h.bed = h.must(&domain.Bed{Name: "Lower 3", PlotID: h.plot, From: day("2020-01-01")})
}

func (h *history) must(r domain.Record) uuid.UUID {
	out, err := h.record(r)
	if err != nil {
		h.r.Fatalf("%s: %v", r.Kind(), err)
	}
	return out.ID
}

// try writes what may be refused for a reason, and fails on anything that is not one.
func (h *history) try(err error) bool {
	var e *domain.Error
	if err != nil && (!errors.As(err, &e) || e.Code == domain.CodeUnavailable || e.Code == domain.CodeInternal) {
		h.r.Fatalf("neither written nor refused for a reason: %v", err)
	}
	if err != nil {
		h.no++
		return false
	}
	h.done++
	return true
}

// live lets n things happen.
func (h *history) live(n int) {
	type step struct {
		name string
		do   func()
	}
	steps := []step{
		{"apply", h.apply}, {"apply", h.apply}, {"apply plot", h.applyPlot}, {"graze", h.graze}, {"plant", h.plantOne}, {"plant", h.plantOne},
		{"cut", h.cut}, {"cut", h.cut}, {"cut", h.cut}, {"cut", h.cut}, {"cut", h.cut}, {"relay", h.relayOne}, {"pause", h.pause}, {"hold", h.holdOne}, {"release", h.release},
		{"correct", h.correctOne}, {"correct", h.correctOne}, {"void", h.voidOne}, {"dispose", h.dispose}, {"farm", h.changeFarm},
		{"water", h.water}, {"water", h.water}, {"water", h.water}, {"water", h.water}, {"see", h.see}, {"mend water", h.mendWater}, {"mend water", h.mendWater},
	}
	for range 2 {
		h.relayOne()
	}
	for range 3 {
		h.plantOne()
	}
	names := make([]string, len(steps))
	for i, s := range steps {
		names[i] = fmt.Sprint(i, " ", s.name)
	}
	for range n {
		var at int
		fmt.Sscan(rapid.SampledFrom(names).Draw(h.r, "step"), &at)
		steps[at].do()
	}
}

// day draws a day, mostly of the last season, where things meet.
func (h *history) day(label string) domain.Date {
	if rapid.IntRange(0, 3).Draw(h.r, label+" of the last season") > 0 {
		return day("2026-03-01").AddDays(rapid.IntRange(0, 240).Draw(h.r, label))
	}
	return firstDay.AddDays(rapid.IntRange(0, lastDay.DaysSince(firstDay)).Draw(h.r, label))
}

// dayAfter draws a day soon after another, mostly within half a year.
func (h *history) dayAfter(start domain.Date, label string) domain.Date {
	d := start.AddDays(rapid.SampledFrom([]int{0, 1, 3, 10, 40, 89, 90, 119, 120, 130, 200, 400, 1200}).Draw(h.r, label))
	if d.After(lastDay) {
		return lastDay
	}
	return d
}

func pick[T any](h *history, label string, list []T) (x T, ok bool) {
	if len(list) == 0 {
		return x, false
	}
	return list[rapid.IntRange(0, len(list)-1).Draw(h.r, label)], true
}

func (h *history) someBeds(label string) []uuid.UUID {
	bed, _ := pick(h, label, h.beds)
	beds := []uuid.UUID{bed}
	if other, _ := pick(h, label+" too", h.beds); other != bed && rapid.Bool().Draw(h.r, "two beds") {
		beds = append(beds, other)
	}
	return beds
}

func (h *history) applicationOn(g domain.Ground) {
	delivery, _ := pick(h, "delivery", h.deliveries)
	a := &domain.Application{Source: domain.Source{InputLotID: delivery}, Ground: g, AppliedOn: h.day("applied"), Method: "surface", Amount: domain.Q("1", "yd3"),
		TouchedCrop: rapid.SampledFrom([]domain.Touched{"", domain.TouchedYes, domain.TouchedNo, domain.TouchedUnknown}).Draw(h.r, "touched")}
	if rapid.IntRange(0, 3).Draw(h.r, "worked in") > 0 {
		a.IncorporatedOn, a.Method = h.dayAfter(a.AppliedOn, "worked in on"), "incorporated"
	}
	out, err := h.record(a)
	if h.try(err) {
		h.applications = append(h.applications, out.ID)
	}
}

func (h *history) apply()     { h.applicationOn(domain.Ground{BedIDs: h.someBeds("manured")}) }
func (h *history) applyPlot() { h.applicationOn(domain.Ground{PlotID: h.plot}) }

func (h *history) graze() {
	g := &domain.Grazing{Species: "hens", Ground: domain.Ground{BedIDs: h.someBeds("grazed")}, From: h.day("grazed from")}
	if rapid.Bool().Draw(h.r, "went out") {
		g.To = h.dayAfter(g.From, "grazed to")
	}
	if rapid.Bool().Draw(h.r, "whole plot") {
		g.Ground = domain.Ground{PlotID: h.plot}
	}
	out, err := h.record(g)
	if h.try(err) {
		h.grazings = append(h.grazings, out.ID)
	}
}

func (h *history) plantOne() {
	crop, err := h.record(&domain.Crop{Name: "crop", SoilContact: rapid.SampledFrom([]domain.SoilContact{domain.Touches, domain.HeldClear, domain.ContactUnknown}).Draw(h.r, "contact"),
		LeafyGreen: rapid.Ptr(rapid.Bool(), true).Draw(h.r, "leafy")})
	if !h.try(err) {
		return
	}
	p := &domain.Planting{CropID: crop.ID, BedIDs: h.someBeds("planted"), PlantedOn: h.day("planted on")}
	if _, err := h.record(p); h.try(err) {
		h.plantings = append(h.plantings, p)
	}
}

func (h *history) cut() {
	p, ok := pick(h, "cut planting", h.plantings)
	if !ok {
		return
	}
	lot := &domain.HarvestLot{PlantingID: p.ID, BedIDs: p.BedIDs, CutOn: h.dayAfter(p.PlantedOn, "cut on"), Quantity: domain.Q("40", "lb"),
		AlreadyCut: rapid.IntRange(0, 2).Draw(h.r, "already cut") == 0}
	if len(lot.BedIDs) > 1 && rapid.Bool().Draw(h.r, "one bed only") {
		lot.BedIDs = lot.BedIDs[:1]
	} else if len(lot.BedIDs) > 1 {
		lot.BedIDs = ids(lot.BedIDs[1], lot.BedIDs[0])
	}
	if rapid.IntRange(0, 3).Draw(h.r, "several days") == 0 {
		lot.CutFrom, lot.CutTo, lot.CutOn = lot.CutOn, lot.CutOn.AddDays(rapid.IntRange(1, 14).Draw(h.r, "for days")), domain.Date{}
	}
	if _, err := h.record(lot); h.try(err) {
		h.lots = append(h.lots, lot)
	}
}

func (h *history) relayOne() {
	old, _ := pick(h, "old bed", h.beds)
	on := h.day("laid on")
	if rapid.Bool().Draw(h.r, "before the season") {
		on = day("2026-02-01").AddDays(rapid.IntRange(0, 60).Draw(h.r, "on"))
	}
	l := &domain.BedLayout{PlotID: h.plot, On: on, Retire: ids(old), Lay: []domain.LaidBed{{Name: fmt.Sprint("Laid ", h.done), Over: ids(old)}}}
	if other, _ := pick(h, "under it too", h.beds); other != old && rapid.Bool().Draw(h.r, "over two") {
		l.Lay[0].Over, l.Retire = append(l.Lay[0].Over, other), append(l.Retire, other)
	}
	if _, err := h.record(l); h.try(err) {
		h.beds = append(h.beds, l.Lay[0].ID)
	}
}

func (h *history) pause() {
	bed, _ := pick(h, "paused bed", h.beds)
	p := &domain.BedProduction{BedID: bed, On: h.day("paused on"), InProduction: rapid.Bool().Draw(h.r, "in production"), Reason: "water"}
	if out, err := h.record(p); h.try(err) {
		h.pauses = append(h.pauses, out.ID)
	}
}

func (h *history) holdOne() {
	bed, _ := pick(h, "held bed", h.beds)
	hold := &domain.Hold{On: domain.HoldTarget{BedID: bed}, Reason: "a question", Habits: domain.Habits{DoneAt: at(h.day("held on").String(), 9)}}
	if lot, ok := pick(h, "held lot", h.lots); ok && rapid.IntRange(0, 3).Draw(h.r, "hold the lot") == 0 {
		hold.On = domain.HoldTarget{LotID: lot.ID}
	}
	if out, err := h.record(hold); h.try(err) {
		h.holds = append(h.holds, out.ID)
	}
}

func (h *history) release() {
	if hold, ok := pick(h, "released hold", h.holds); ok {
		_, err := h.record(&domain.Release{HoldID: hold, Reason: "answered", Habits: domain.Habits{DoneAt: at(h.day("released on").String(), 9)}})
		h.try(err)
	}
}

func (h *history) changes(kind string, id uuid.UUID, changes map[string]any) bool {
	raw, err := json.Marshal(changes)
	if err != nil {
		h.r.Fatal(err)
	}
	_, err = h.db.Correct(ctx, h.actor, nil, kind, id, "a slip", raw)
	return h.try(err)
}

func (h *history) correctOne() {
	switch rapid.SampledFrom([]string{"application", "grazing", "pause", "hold", "planting", "crop", "lot", "delivery", "bed", "plot"}).Draw(h.r, "what") {
	case "application":
		if id, ok := pick(h, "application", h.applications); ok {
			on := h.day("really on")
			changes := map[string]any{"applied_on": on, "incorporated_on": h.dayAfter(on, "really worked in"), "method": "incorporated"}
			switch rapid.IntRange(0, 3).Draw(h.r, "of it") {
			case 0:
				changes = map[string]any{"ground": domain.Ground{BedIDs: h.someBeds("really where")}}
			case 1:
				delivery, _ := pick(h, "really what", h.deliveries)
				changes = map[string]any{"source": domain.Source{InputLotID: delivery}}
			case 2:
				changes = map[string]any{"incorporated_on": nil, "method": "surface"}
			}
			h.changes("application", id, changes)
		}
	case "grazing":
		if id, ok := pick(h, "grazing", h.grazings); ok {
			from := h.day("really from")
			h.changes("grazing", id, map[string]any{"from": from, "to": h.dayAfter(from, "really to"), "species": rapid.SampledFrom([]string{"hens", "pigs"}).Draw(h.r, "species")})
		}
	case "pause":
		if id, ok := pick(h, "pause", h.pauses); ok {
			h.changes("bed-production", id, map[string]any{"on": h.day("really paused"), "reason": "rest"})
		}
	case "hold":
		if id, ok := pick(h, "hold", h.holds); ok {
			h.changes("hold", id, map[string]any{"reason": "another question"})
		}
	case "planting":
		if p, ok := pick(h, "planting", h.plantings); ok {
			on := h.day("really planted")
			if h.changes("planting", p.ID, map[string]any{"planted_on": on}) {
				p.PlantedOn = on
			}
		}
	case "crop":
		if p, ok := pick(h, "planting of the crop", h.plantings); ok {
			h.changes("crop", p.CropID, map[string]any{"soil_contact": rapid.SampledFrom([]string{"touches", "clear", "unknown"}).Draw(h.r, "really"), "name": "other"})
		}
	case "lot":
		if lot, ok := pick(h, "lot", h.lots); ok {
			h.changes("harvest-lot", lot.ID, map[string]any{"cut_on": h.day("really cut"), "cut_from": nil, "cut_to": nil})
		}
	case "delivery":
		if id, ok := pick(h, "corrected delivery", h.deliveries); ok {
			other, _ := pick(h, "same input as", h.deliveries)
			h.changes("input-lot", id, map[string]any{"input_id": h.inputOf(other), "supplier": "Other"})
		}
	case "bed":
		id, _ := pick(h, "bed", h.beds)
		h.changes("bed", id, map[string]any{"name": fmt.Sprint("Renamed ", h.done)})
	case "plot":
		h.changes("plot", h.plot, map[string]any{"history": rapid.SampledFrom([]string{"known", "unknown"}).Draw(h.r, "history"),
			"prior_use": []domain.PriorUse{{Kind: "pasture", Until: h.day("pasture until")}}})
	}
}

func (h *history) voidOne() {
	switch rapid.IntRange(0, 2).Draw(h.r, "void") {
	case 0:
		if id, ok := pick(h, "application", h.applications); ok {
			_, err := h.void("application", id)
			h.try(err)
		}
	case 1:
		if id, ok := pick(h, "grazing", h.grazings); ok {
			_, err := h.void("grazing", id)
			h.try(err)
		}
	case 2:
		if id, ok := pick(h, "pause", h.pauses); ok {
			_, err := h.void("bed-production", id)
			h.try(err)
		}
	}
}

func (h *history) dispose() {
	if lot, ok := pick(h, "lot", h.lots); ok {
		_, err := h.record(&domain.Disposal{LotID: lot.ID, On: lastDay, Quantity: domain.Q("15", "lb"), How: "compost"})
		h.try(err)
	}
}

func (h *history) changeFarm() {
	if h.blocks > 1 {
		return // it judges every lot of the farm anew, which happens once in years and not each week
	}
	sets := []domain.AdoptedStandard{{Set: "us-organic", From: h.day("organic from")}, {Set: "buyer-gap", From: h.day("gap from"), To: lastDay}}
	h.changes("farm", h.actor.FarmID, map[string]any{"standards": sets[:rapid.IntRange(0, 2).Draw(h.r, "how many")]})
}
