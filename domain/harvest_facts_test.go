package domain_test

import (
	"encoding/binary"
	"strings"

	"github.com/google/uuid"

	"croftmark/domain"
)

// bookOfGround builds the facts of a farm with one plot of known history, with short verbs for what happens on it.
type bookOfGround struct {
	*domain.GroundFacts
	plot uuid.UUID
	last uint64
	over map[uuid.UUID][]uuid.UUID
}

func newGround(sets ...string) *bookOfGround {
	b := &bookOfGround{over: map[uuid.UUID][]uuid.UUID{}, GroundFacts: &domain.GroundFacts{
		Farm: &domain.Farm{Name: "Low Field", TimeZone: "America/New_York"},
		Beds: map[uuid.UUID]*domain.BedGround{}, Plots: map[uuid.UUID]*domain.Plot{}, Plantings: map[uuid.UUID]*domain.PlantingFacts{},
	}}
	for _, s := range sets {
		b.Farm.Standards = append(b.Farm.Standards, domain.AdoptedStandard{Set: s, From: dayOf("2003-01-01")})
	}
	b.plot = b.id()
	b.Plots[b.plot] = &domain.Plot{ID: b.plot, Name: "Lower", History: "known"}
	return b
}

func (b *bookOfGround) id() (id uuid.UUID) {
	b.last++
	binary.BigEndian.PutUint64(id[8:], b.last)
	return id
}

// bed lays a bed, on older beds or on fresh ground.
func (b *bookOfGround) bed(name string, over ...uuid.UUID) uuid.UUID {
	id := b.id()
	b.over[id] = over
	b.Beds[id] = &domain.BedGround{ID: id, Name: name, PlotID: b.plot, From: dayOf("2020-03-01"), Ground: domain.Closure(id, b.over)}
	return id
}

func (b *bookOfGround) plant(crop domain.Crop, on string, beds ...uuid.UUID) *domain.PlantingFacts {
	p := &domain.PlantingFacts{Crop: crop, Planting: domain.Planting{ID: b.id(), BedIDs: beds, PlantedOn: dayOf(on)}}
	b.Plantings[p.ID] = p
	return p
}

// happen keeps an exposure on a bed, or on the whole plot when no bed is named.
func (b *bookOfGround) happen(e domain.Exposure, beds ...uuid.UUID) uuid.UUID {
	if len(beds) == 0 {
		e.PlotID = b.plot
		b.Exposures = append(b.Exposures, e)
	}
	for _, bed := range beds {
		e.BedID = bed
		b.Exposures = append(b.Exposures, e)
	}
	return e.Record.ID
}

// spread applies a material; worked may be empty: left on top.
func (b *bookOfGround) spread(in domain.Input, lot domain.InputLot, applied, worked string, beds ...uuid.UUID) uuid.UUID {
	a := domain.Application{ID: b.id(), AppliedOn: dayOf(applied), TouchedCrop: domain.TouchedNo}
	if worked != "" {
		a.IncorporatedOn = dayOf(worked)
	}
	return b.happen(a.ExposureOf(&in, &lot), beds...)
}

func (b *bookOfGround) manure(applied, worked string, beds ...uuid.UUID) uuid.UUID {
	return b.spread(domain.Input{Category: domain.RawManure, Species: "cattle"}, domain.InputLot{}, applied, worked, beds...)
}

// graze lets hens in; out may be empty: still there.
func (b *bookOfGround) graze(in, out string, beds ...uuid.UUID) uuid.UUID {
	g := domain.Grazing{ID: b.id(), Species: "hens", From: dayOf(in)}
	if out != "" {
		g.To = dayOf(out)
	}
	return b.happen(g.ExposureOf(), beds...)
}

func (b *bookOfGround) check(p *domain.PlantingFacts, on string, beds ...uuid.UUID) domain.Judgement {
	if len(beds) == 0 {
		beds = p.BedIDs
	}
	facts := *b.GroundFacts // a fresh look-up each time
	return domain.HarvestCheck(&facts, p.ID, beds, dayOf(on))
}

func catalogueCrop(name string) domain.Crop {
	row, ok := domain.CatalogueCrop(name)
	if !ok {
		panic(name)
	}
	return row.Crop()
}

var (
	radish   = catalogueCrop("radish")
	lettuce  = catalogueCrop("lettuce, leaf")
	carrot   = catalogueCrop("carrot")
	okra     = catalogueCrop("okra")
	potato   = catalogueCrop("potato")
	trellis  = domain.Crop{Name: "tomato, trellised", SoilContact: domain.HeldClear}
	mandrake = domain.Crop{Name: "mandrake"}
)

// said sums a judgement up in one line: the verdict, the first clear day, and the rules that did not say clear.
func said(j domain.Judgement) string {
	out := string(j.Verdict)
	if !j.ClearOn.IsZero() {
		out += " " + j.ClearOn.String()
	}
	for _, r := range j.Reasons {
		if r.Verdict != domain.Clear {
			out += " " + string(r.Verdict) + ":" + strings.TrimPrefix(r.Rule, "us-")
		}
	}
	return out
}
