package storage_test

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
	"pgregory.net/rapid"

	"croftmark/domain"
	"croftmark/storage"
)

// After any history, what is kept of each lot equals judging it from nothing but the records: the facts are put together
// here by hand, and the lots are judged one by one. What was entered along the way leads to the same end in any order.
func TestJudgementsEqualJudgingAfresh(t *testing.T) {
	t.Parallel()
	base := newField(t, storage.Config{})
	lots, rejudged, done, no := 0, 0, 0, 0
	verdicts := map[domain.Verdict]int{}
	rapid.Check(t, func(r *rapid.T) {
		h := newHistory(base, r)
		h.live(rapid.SampledFrom([]int{40, 80, 120, 160}).Draw(r, "how long"))
		s := readScratch(h)
		for _, rec := range s.all("harvest-lot") {
			var lot domain.HarvestLot
			h.into(rec, &lot)
			want := s.judge(&lot)
			got, err := h.db.LotByCode(h.reading(), lot.Code)
			if err != nil {
				r.Fatal(err)
			}
			if diff := cmp.Diff(lines(h, want), lines(h, got.VerdictNow)); diff != "" {
				r.Fatalf("lot %s, cut %s to %s (-afresh +kept):\n%s", lot.Code, lot.FirstDay(), lot.LastDay(), diff)
			}
			states, err := h.db.LotStates(h.reading(), []uuid.UUID{lot.ID})
			if err != nil || states[lot.ID].Verdict != want.Verdict {
				r.Fatalf("lot %s is listed as %s (%v), want %s", lot.Code, states[lot.ID].Verdict, err, want.Verdict)
			}
			lots++
			verdicts[want.Verdict]++
		}
		rejudged += h.count(`select count(*) from book_entries where farm_id = $1 and kind = 'lot-judgement'`, h.actor.FarmID)
		done, no = done+h.done, no+h.no
	})
	if lots < 50 || rejudged < 50 || len(verdicts) < 4 {
		t.Errorf("%d lots, judged again %d times, %v: too little happened", lots, rejudged, verdicts)
	}
	t.Logf("%d lots judged again %d times, %v; %d writes, %d refused", lots, rejudged, verdicts, done, no)
}

func lines(h *history, j domain.Judgement) []string {
	raw, err := json.MarshalIndent(j, "", " ")
	if err != nil {
		h.r.Fatal(err)
	}
	return strings.Split(string(raw), "\n")
}

func (h *history) into(rec storage.Record, v any) {
	if err := json.Unmarshal(rec.Body, v); err != nil {
		h.r.Fatal(err)
	}
}

// scratch is a farm's records and the facts made of them without any look-up table.
type scratch struct {
	h       *history
	records map[uuid.UUID]storage.Record
	facts   *domain.GroundFacts
}

func (s *scratch) all(kind string) (out []storage.Record) {
	for _, rec := range s.records {
		if rec.Kind == kind && !rec.Voided {
			out = append(out, rec)
		}
	}
	slices.SortFunc(out, func(a, b storage.Record) int { return strings.Compare(a.ID.String(), b.ID.String()) })
	return out
}

// each reads every record of a kind that still holds.
func each[T any](s *scratch, kind string, visit func(storage.Record, *T)) {
	for _, rec := range s.all(kind) {
		v := new(T)
		s.h.into(rec, v)
		visit(rec, v)
	}
}

func readScratch(h *history) *scratch {
	s := &scratch{h: h, records: map[uuid.UUID]storage.Record{}, facts: &domain.GroundFacts{Beds: map[uuid.UUID]*domain.BedGround{},
		Plots: map[uuid.UUID]*domain.Plot{}, Plantings: map[uuid.UUID]*domain.PlantingFacts{}}}
	for _, kind := range append(slices.Clone(waterKinds), "farm", "plot", "bed", "bed-production", "crop", "planting", "input", "input-lot", "application", "grazing", "hold", "hold-release", "harvest-lot") {
		list, err := h.db.Records(ctx, h.actor.FarmID, kind, storage.Page{Limit: 1000})
		if err != nil {
			h.r.Fatal(err)
		}
		for _, rec := range list {
			s.records[rec.ID] = rec
		}
	}
	each(s, "farm", func(_ storage.Record, f *domain.Farm) { s.facts.Farm = f })
	each(s, "plot", func(_ storage.Record, p *domain.Plot) { s.facts.Plots[p.ID] = p })
	s.ground()
	s.pauses()
	s.exposures()
	s.waters()
	s.holds()
	each(s, "planting", func(_ storage.Record, p *domain.Planting) {
		facts := &domain.PlantingFacts{Planting: *p}
		h.into(s.records[p.CropID], &facts.Crop)
		s.facts.Plantings[p.ID] = facts
	})
	return s
}

func (s *scratch) holds() {
	each(s, "hold", func(rec storage.Record, x *domain.Hold) {
		var released domain.Date
		each(s, "hold-release", func(rec storage.Record, r *domain.Release) {
			if r.HoldID == x.ID {
				released = rec.DoneOn
			}
		})
		if x.On.BedID != uuid.Nil {
			s.facts.Holds = append(s.facts.Holds, domain.HoldSpan{ID: x.ID, On: x.On.BedID, Reason: x.Reason, From: rec.DoneOn, ReleasedOn: released})
		}
		if water := s.facts.Waters[x.On.WaterSourceID]; water != nil {
			water.Holds = append(water.Holds, domain.HoldSpan{ID: x.ID, On: x.On.WaterSourceID, Reason: x.Reason, From: rec.DoneOn, ReleasedOn: released})
		}
	})
}

// ground follows every bed down through the re-layings.
func (s *scratch) ground() {
	over := map[uuid.UUID][]uuid.UUID{}
	each(s, "bed", func(_ storage.Record, b *domain.Bed) {
		over[b.ID] = b.Over
		s.facts.Beds[b.ID] = &domain.BedGround{ID: b.ID, Name: b.Name, PlotID: b.PlotID, From: b.From, To: b.To}
	})
	for id, bed := range s.facts.Beds {
		bed.Ground = domain.Closure(id, over)
	}
}

// pauses lays the decisions of each bed end to end, by their days.
func (s *scratch) pauses() {
	decisions := map[uuid.UUID][]*domain.BedProduction{}
	each(s, "bed-production", func(_ storage.Record, p *domain.BedProduction) { decisions[p.BedID] = append(decisions[p.BedID], p) })
	for bed := range s.facts.Beds {
		for _, ground := range s.facts.Beds[bed].Ground {
			s.pausesFrom(bed, ground, decisions)
		}
		slices.SortFunc(s.facts.Beds[bed].OutOfProduction, func(a, b domain.Pause) int {
			return strings.Compare(a.From.String()+a.Record.ID.String(), b.From.String()+b.Record.ID.String())
		})
	}
}

// pausesFrom lays what was said of an older ground over a bed; a word about the bed itself that takes it into production
// ends it too.
func (s *scratch) pausesFrom(bed, ground uuid.UUID, decisions map[uuid.UUID][]*domain.BedProduction) {
	list := slices.Clone(decisions[ground])
	if ground != bed {
		for _, own := range decisions[bed] {
			if own.InProduction {
				list = append(list, own)
			}
		}
	}
	slices.SortFunc(list, func(a, b *domain.BedProduction) int {
		return strings.Compare(a.On.String()+a.ID.String(), b.On.String()+b.ID.String())
	})
	var open *domain.Pause
	var pauses []*domain.Pause
	for _, p := range list {
		if p.InProduction && open != nil {
			open.To, open = p.On, nil
		} else if !p.InProduction && open == nil {
			open = &domain.Pause{From: p.On, Reason: p.Reason, Record: domain.RecordRef{Kind: "bed-production", ID: p.ID}}
			pauses = append(pauses, open)
		}
	}
	for _, p := range pauses {
		s.facts.Beds[bed].OutOfProduction = append(s.facts.Beds[bed].OutOfProduction, *p)
	}
}

// onGround lays an exposure on each bed, or on the whole plot.
func (s *scratch) onGround(e domain.Exposure, g domain.Ground) {
	for _, bed := range g.BedIDs {
		e.BedID = bed
		s.facts.Exposures = append(s.facts.Exposures, e)
	}
	if g.PlotID != uuid.Nil {
		e.BedID, e.PlotID = uuid.Nil, g.PlotID
		s.facts.Exposures = append(s.facts.Exposures, e)
	}
}

func (s *scratch) exposures() {
	each(s, "application", func(_ storage.Record, a *domain.Application) {
		var delivery domain.InputLot
		var input domain.Input
		s.h.into(s.records[a.Source.InputLotID], &delivery)
		s.h.into(s.records[delivery.InputID], &input)
		s.onGround(a.ExposureOf(&input, &delivery), a.Ground)
	})
	each(s, "grazing", func(_ storage.Record, g *domain.Grazing) { s.onGround(g.ExposureOf(), g.Ground) })
}

// judge judges one lot by itself.
func (s *scratch) judge(lot *domain.HarvestLot) domain.Judgement {
	beds := slices.Clone(lot.BedIDs)
	slices.SortFunc(beds, func(a, b uuid.UUID) int { return strings.Compare(a.String(), b.String()) })
	return domain.JudgeLot(s.facts, lot.ID, lot.PlantingID, beds, lot.FirstDay(), lot.LastDay())
}
