package storage_test

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
	"pgregory.net/rapid"

	"croftmark/domain"
	"croftmark/storage"
)

// wet is the water of a history: sources, what became known of them, what they touched, and what was seen on the ground.
type wet struct {
	sources, tests, actions, irrigations, handlings, findings []uuid.UUID
}

var historyTaps = []string{"", "wash tap", "Spare tap"}

// newWater gives the farm a well with two taps, a pond, a rain tank and town water.
func (h *history) newWater() {
	for i, kind := range []domain.WaterKind{domain.WaterUntreatedGround, domain.WaterUntreatedSurface, domain.WaterRain, domain.WaterPublicSupply, domain.WaterTreatedSurface} {
		source := &domain.WaterSource{Name: fmt.Sprint("Water ", h.blocks, " ", i), Is: kind}
		if kind == domain.WaterUntreatedGround {
			source.Points = []domain.WaterPoint{{Use: domain.UseWashing, Tap: "wash tap"}, {Use: domain.UseCooling, Tap: "spare tap"}}
		}
		h.wet.sources = append(h.wet.sources, h.must(source))
	}
}

// water lets one thing happen that has to do with water.
func (h *history) water() {
	if h.dry {
		return
	}
	source, _ := pick(h, "source", h.wet.sources)
	tap := rapid.SampledFrom(historyTaps).Draw(h.r, "tap")
	if source != h.wet.sources[0] {
		tap = ""
	}
	when := h.hour("water at")
	switch rapid.SampledFrom([]string{"sample", "sample", "act", "change", "paper", "assess", "treat", "irrigate", "irrigate", "wash", "wash", "hold"}).Draw(h.r, "water") {
	case "sample":
		h.keep(&h.wet.tests, h.drawn(source, tap, when))
	case "act":
		h.keep(&h.wet.actions, &domain.WaterStop{SourceID: source, Tap: tap, Act: rapid.SampledFrom([]string{"stopped", "corrected"}).Draw(h.r, "act"), At: when, Reason: "the lab phoned"})
	case "change":
		h.keep(nil, &domain.WaterChange{SourceID: source, Tap: tap, At: when, Is: rapid.SampledFrom(append([]domain.WaterKind{""}, domain.WaterKinds...)).Draw(h.r, "kind")})
	case "paper":
		h.keep(nil, &domain.WaterPaper{SourceID: source, IssuedOn: h.day("issued"), Document: "town report"})
	case "assess":
		h.keep(nil, &domain.WaterReview{SourceID: source, MadeOn: h.day("assessed"), Factors: "all of them", Measures: "wait",
			Outcome: rapid.SampledFrom([]string{"adequate", "mitigate", "not-adequate"}).Draw(h.r, "outcome")})
	case "treat":
		h.keep(nil, h.reading50(source, tap, when))
	case "irrigate":
		h.keep(&h.wet.irrigations, &domain.Irrigation{SourceID: source, Tap: tap, Ground: domain.Ground{BedIDs: h.someBeds("watered")}, StartedAt: when,
			Method: rapid.SampledFrom([]string{"drip", "overhead"}).Draw(h.r, "method"), Habits: domain.Habits{LateReason: "the book was in the shed"}})
	case "wash":
		if lot, ok := pick(h, "washed lot", h.lots); ok {
			// Soon after the cut, so that a day's water decides about what it touched.
			when = at(lot.LastDay().AddDays(rapid.IntRange(0, 2).Draw(h.r, "days later")).String(), 9)
			h.keep(&h.wet.handlings, &domain.Handling{Use: domain.UseWashing, SourceID: source, Tap: tap, Tank: h.tank(), LotIDs: []uuid.UUID{lot.ID}, StartedAt: when,
				Habits: domain.Habits{LateReason: "the book was in the shed"}})
		}
	case "hold":
		h.keep(&h.holds, &domain.Hold{On: domain.HoldTarget{WaterSourceID: source}, Reason: "smells", Habits: domain.Habits{DoneAt: when}})
	}
}

func (h *history) hour(label string) time.Time {
	return at(h.day(label).String(), rapid.IntRange(0, 23).Draw(h.r, label+" hour"))
}

// keep writes what may be refused, and keeps its id when it was written.
func (h *history) keep(list *[]uuid.UUID, r domain.Record) {
	if out, err := h.record(r); h.try(err) && list != nil {
		*list = append(*list, out.ID)
	}
}

func (h *history) drawn(source uuid.UUID, tap string, when time.Time) *domain.WaterTest {
	t := &domain.WaterTest{SourceID: source, Tap: tap, SampledAt: when, Analyte: "generic E. coli", Method: "SM 9223 B", Lab: "County lab"}
	if t.Result = result100(rapid.SampledFrom([]string{"", "<1", "<1", "<1", "3", "<10"}).Draw(h.r, "result")); t.Result != nil {
		t.ReportedAt = when.Add(24 * time.Hour)
	}
	return t
}

func (h *history) tank() string {
	return rapid.SampledFrom([]string{"", "A", "B"}).Draw(h.r, "tank")
}

func (h *history) reading50(source uuid.UUID, tap string, when time.Time) *domain.WaterTreatment {
	return &domain.WaterTreatment{SourceID: source, Tap: tap, Tank: h.tank(), TakenAt: when, PH: number("7"), PPM: number(rapid.SampledFrom([]string{"2", "50"}).Draw(h.r, "ppm")),
		Product: &domain.ProductRow{Name: "Label", Is: domain.SodiumHypochlorite, Registration: "1-1", Percent: number("5.25"), LabelLow: number("25"), LabelHigh: number("100")}}
}

// see finds something on the ground, or decides about what was found.
func (h *history) see() {
	if h.dry {
		return
	}
	if id, ok := pick(h, "finding", h.wet.findings); ok && rapid.IntRange(0, 2).Draw(h.r, "decide") == 0 {
		h.keep(nil, &domain.FindingResolution{FindingID: id, On: lastDay, Reason: "looked at it", Decision: rapid.SampledFrom([]string{"released", "crop-destroyed", "marked-off"}).Draw(h.r, "decision")})
		return
	}
	f := &domain.Finding{What: rapid.SampledFrom([]string{"flood", "standing-water", "droppings", "animal-intrusion", "drift", "glass"}).Draw(h.r, "seen"),
		Ground: domain.Ground{BedIDs: h.someBeds("seen on")}, FoundAt: h.hour("seen"), TouchedCrop: rapid.SampledFrom([]domain.Touched{domain.TouchedYes, domain.TouchedNo, domain.TouchedUnknown}).Draw(h.r, "on the crop")}
	if f.What == "drift" {
		f.Substance = rapid.SampledFrom([]string{"raw-manure", "prohibited", "other"}).Draw(h.r, "substance")
	}
	if edge, _ := pick(h, "edge", h.beds); f.What == "flood" && !slices.Contains(f.Ground.BedIDs, edge) {
		f.Edge = ids(edge)
	}
	h.keep(&h.wet.findings, f)
}

// mendWater corrects or takes back what was written about water and findings.
func (h *history) mendWater() {
	gone := func(kind string, list []uuid.UUID) {
		if id, ok := pick(h, kind, list); ok {
			_, err := h.void(kind, id)
			h.try(err)
		}
	}
	switch rapid.SampledFrom([]string{"result", "result", "tap", "where", "lots", "found", "void test", "void action", "void irrigation", "void handling", "void finding"}).Draw(h.r, "mend") {
	case "result":
		if id, ok := pick(h, "test", h.wet.tests); ok {
			h.changes("water-test", id, map[string]any{"result": result100(rapid.SampledFrom([]string{"<1", "3"}).Draw(h.r, "came")), "reported_at": at(lastDay.String(), 8)})
		}
	case "tap":
		if id, ok := pick(h, "test", h.wet.tests); ok {
			h.changes("water-test", id, map[string]any{"sampled_at": h.hour("really sampled")})
		}
	case "where":
		if id, ok := pick(h, "irrigation", h.wet.irrigations); ok {
			h.changes("irrigation", id, map[string]any{"ground": domain.Ground{BedIDs: h.someBeds("really watered")}})
		}
	case "lots":
		if id, ok := pick(h, "handling", h.wet.handlings); ok {
			if lot, ok := pick(h, "really washed", h.lots); ok {
				h.changes("handling", id, map[string]any{"lot_ids": ids(lot.ID), "started_at": at(lot.LastDay().String(), 15)})
			}
		}
	case "found":
		if id, ok := pick(h, "finding", h.wet.findings); ok {
			h.changes("finding", id, map[string]any{"ground": domain.Ground{BedIDs: h.someBeds("really seen on")}, "edge_bed_ids": nil, "found_at": h.hour("really seen")})
		}
	case "void test":
		gone("water-test", h.wet.tests)
	case "void action":
		gone("water-action", h.wet.actions)
	case "void irrigation":
		gone("irrigation", h.wet.irrigations)
	case "void handling":
		gone("handling", h.wet.handlings)
	case "void finding":
		gone("finding", h.wet.findings)
	}
}

var waterKinds = []string{"water-source", "water-test", "water-change", "water-certificate", "water-assessment", "water-action", "water-treatment", "irrigation", "handling", "finding"}

// waters reads every source with what is known of it, and what its water touched, straight from the records.
func (s *scratch) waters() {
	s.facts.Waters, s.facts.BedWater, s.facts.LotWater = map[uuid.UUID]*domain.WaterFacts{}, map[uuid.UUID][]domain.WaterTouch{}, map[uuid.UUID][]domain.WaterTouch{}
	zone, err := domain.Zone(s.facts.Farm.TimeZone)
	if err != nil {
		s.h.r.Fatal(err)
	}
	each(s, "water-source", func(rec storage.Record, x *domain.WaterSource) {
		s.facts.Waters[rec.ID] = &domain.WaterFacts{Size: s.facts.Farm.Size, BuyerProfile: s.facts.Farm.BuyerWaterProfile, Zone: zone}
		s.facts.Waters[rec.ID].Add(x)
	})
	known[domain.WaterTest](s, "water-test")
	known[domain.WaterChange](s, "water-change")
	known[domain.WaterPaper](s, "water-certificate")
	known[domain.WaterReview](s, "water-assessment")
	known[domain.WaterStop](s, "water-action")
	known[domain.WaterTreatment](s, "water-treatment")
	each(s, "irrigation", func(rec storage.Record, x *domain.Irrigation) {
		touch := domain.WaterTouch{Record: domain.RecordRef{Kind: rec.Kind, ID: rec.ID}, SourceID: x.SourceID, Tap: x.Tap, Use: "irrigation", From: x.StartedAt, To: x.StartedAt, Irrigation: x}
		for _, bed := range x.Ground.BedIDs {
			s.facts.BedWater[bed] = append(s.facts.BedWater[bed], touch)
		}
	})
	each(s, "handling", func(rec storage.Record, x *domain.Handling) {
		for _, lot := range x.LotIDs {
			s.facts.LotWater[lot] = append(s.facts.LotWater[lot], domain.WaterTouch{Record: domain.RecordRef{Kind: rec.Kind, ID: rec.ID}, SourceID: x.SourceID, Tap: x.Tap, Tank: x.Tank, Use: x.Use, From: x.StartedAt, To: x.StartedAt})
		}
	})
	for _, touches := range []map[uuid.UUID][]domain.WaterTouch{s.facts.BedWater, s.facts.LotWater} {
		for _, list := range touches {
			slices.SortFunc(list, func(a, b domain.WaterTouch) int {
				if c := a.From.Compare(b.From); c != 0 {
					return c
				}
				return strings.Compare(a.Record.ID.String(), b.Record.ID.String())
			})
		}
	}
	each(s, "finding", func(_ storage.Record, x *domain.Finding) {
		ground := x.Ground
		ground.BedIDs = append(slices.Clone(ground.BedIDs), x.Edge...)
		s.onGround(x.ExposureOf(zone), ground)
	})
}

// known adds every record of a kind to its source.
func known[T any, P interface {
	*T
	domain.OfSource
}](s *scratch, kind string) {
	each(s, kind, func(_ storage.Record, x *T) {
		s.facts.Waters[P(x).SourceOf()].Add(P(x))
	})
}
