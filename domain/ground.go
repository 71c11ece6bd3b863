package domain

import (
	"fmt"
	"slices"
	"sort"
	"time"

	"github.com/google/uuid"
)

// Exposure is one thing that happened to a piece of ground and that the ground remembers: an application, a grazing, a
// prior use. It belongs to a bed's ground or to a whole plot, never to a name.
type Exposure struct {
	Record RecordRef
	BedID  uuid.UUID // the bed it was recorded on; nil when PlotID is set
	PlotID uuid.UUID // a whole plot with every bed it ever has

	What        string    // the material in plain words: "Raw manure", "Grazing by hens"
	WhatEs      string    // the same in Spanish; masculine singular, as the rules' Spanish texts expect
	On          Date      // spread, or first day of the stay
	ClockStart  Date      // worked in, or last day out; zero when there is none yet
	Open        bool      // animals still there, or a prior use whose end nobody knows
	TouchedCrop Touched   // for applications
	Why         LocalText // why it counts as it does, when that needs saying
	Species     string
	// Materials says how it counts under each rule set; sets not named count it as Material.
	Material     Material
	Materials    map[string]Material
	Standing     Standing
	Supplier     string
	Finding      *Finding    // for findings
	LabelDays    *int        // for crop protection: days to harvest by the label; nil when nobody wrote them down
	EntryHours   *int        // for crop protection: hours of restricted entry by the label; nil when nobody wrote them down
	SprayedUntil time.Time   // when spraying ended; zero when only the day is known
	CutBefore    []uuid.UUID // lots that were off this ground, on the same day, before it happened
}

// materialUnder gives how the exposure counts under a rule set.
func (e *Exposure) materialUnder(set string) Material {
	if m, ok := e.Materials[set]; ok {
		return m
	}
	return e.Material
}

// whatEs is the material in Spanish; where nobody gave it, the English words are better than none.
func (e *Exposure) whatEs() string {
	if e.WhatEs != "" {
		return e.WhatEs
	}
	return e.What
}

// BedGround is what the judgements know of a bed: its name and days, and every older bed whose ground it lies on.
type BedGround struct {
	ID     uuid.UUID
	Name   string
	PlotID uuid.UUID
	From   Date
	To     Date // zero while the name is in force
	// Ground lists the bed itself and every older bed under it, through any number of re-layings.
	Ground          []uuid.UUID
	OutOfProduction []Pause
}

// Pause is a time out of production: from a day, to a day or still. BedID is the bed it was said of, which may be an
// older one: ground does not come back into production by being laid anew.
type Pause struct {
	BedID    uuid.UUID
	From, To Date
	Reason   string
	Record   RecordRef
}

// pausedOn gives the pause in force on a day.
func (b *BedGround) pausedOn(d Date) (Pause, bool) {
	for _, p := range b.OutOfProduction {
		if !d.Before(p.From) && (p.To.IsZero() || d.Before(p.To)) {
			return p, true
		}
	}
	return Pause{}, false
}

// GroundFacts is everything the judgements of a set of beds need, loaded at once.
type GroundFacts struct {
	Farm      *Farm
	Beds      map[uuid.UUID]*BedGround
	Plots     map[uuid.UUID]*Plot
	Plantings map[uuid.UUID]*PlantingFacts
	Exposures []Exposure
	Holds     []HoldSpan // on beds
	// Waters are the sources whose water reached this ground or these lots; the touches say where and when.
	Waters   map[uuid.UUID]*WaterFacts
	BedWater map[uuid.UUID][]WaterTouch // irrigation, by bed or plot
	LotWater map[uuid.UUID][]WaterTouch // handling, by lot

	byBed, byPlot map[uuid.UUID][]*Exposure
	zone          *time.Location
}

// HoldSpan is a hold on a bed or a water source, from a day until the day of its release, if it was released.
type HoldSpan struct {
	ID         uuid.UUID
	On         uuid.UUID // the held bed or source
	Reason     string
	From       Date
	ReleasedOn Date
}

func (h HoldSpan) inForce(on Date) bool {
	return !on.Before(h.From) && (h.ReleasedOn.IsZero() || on.Before(h.ReleasedOn))
}

// PlantingFacts is a planting with its crop.
type PlantingFacts struct {
	Planting
	Crop Crop
}

// Contact is the soil contact of the planting as grown; not said anywhere means unknown, the strict side.
func (p *PlantingFacts) Contact() SoilContact {
	if p.SoilContact != "" {
		return p.SoilContact
	}
	if p.Crop.SoilContact != "" {
		return p.Crop.SoilContact
	}
	return ContactUnknown
}

// ForPeople reports whether the crop is food.
func (p *PlantingFacts) ForPeople() bool { return p.Crop.Use == "" || p.Crop.Use == "food" }

// index builds the look-ups by ground once.
func (f *GroundFacts) index() {
	if f.byBed != nil {
		return
	}
	f.byBed, f.byPlot = map[uuid.UUID][]*Exposure{}, map[uuid.UUID][]*Exposure{}
	for i := range f.Exposures {
		e := &f.Exposures[i]
		if e.BedID != uuid.Nil {
			f.byBed[e.BedID] = append(f.byBed[e.BedID], e)
		} else {
			f.byPlot[e.PlotID] = append(f.byPlot[e.PlotID], e)
		}
	}
	for _, p := range f.Plots {
		for _, e := range p.priorExposures() {
			f.byPlot[p.ID] = append(f.byPlot[p.ID], &e)
		}
	}
}

// beforeCutOf leaves out what happened on the last day of a cut when the lot was off the ground, as the record itself says:
// the last heads in the morning, the spray in the afternoon. Days alone can't tell the two apart, so the strict side is
// taken unless somebody has said so.
func (f *GroundFacts) beforeCutOf(lotID uuid.UUID, last Date) *GroundFacts {
	after := func(e Exposure) bool { return e.On == last && slices.Contains(e.CutBefore, lotID) }
	if !slices.ContainsFunc(f.Exposures, after) {
		return f
	}
	g := *f
	g.Exposures = slices.DeleteFunc(slices.Clone(f.Exposures), after)
	g.byBed, g.byPlot = nil, nil
	return &g
}

// zoneOf is where the farm's clocks stand; a farm without a zone is judged by universal time.
func (f *GroundFacts) zoneOf() *time.Location {
	if f.zone == nil {
		f.zone = time.UTC
		if zone, err := Zone(f.Farm.TimeZone); err == nil {
			f.zone = zone
		}
	}
	return f.zone
}

// GroundExposure is an exposure as it reached a bed.
type GroundExposure struct {
	*Exposure
	Via     string // "bed", "earlier-bed", "plot"
	ViaName string
}

// GroundOf lists every exposure of a bed's ground that began on or before a day, newest first: those of the bed, of
// every bed it lies on, and of its plot, also from before the bed existed.
func (f *GroundFacts) GroundOf(bed *BedGround, upTo Date) []GroundExposure {
	f.index()
	var out []GroundExposure
	take := func(es []*Exposure, via, name string) {
		for _, e := range es {
			if !e.On.After(upTo) || e.Record.Kind == "plot" { // a prior use began before the day it ended, nobody knows when
				out = append(out, GroundExposure{e, via, name})
			}
		}
	}
	for _, id := range bed.Ground {
		if id == bed.ID {
			take(f.byBed[id], "bed", bed.Name)
			continue
		}
		name := ""
		if old := f.Beds[id]; old != nil {
			name = old.Name
		}
		take(f.byBed[id], "earlier-bed", name)
	}
	plotName := ""
	if p := f.Plots[bed.PlotID]; p != nil {
		plotName = p.Name
	}
	take(f.byPlot[bed.PlotID], "plot", plotName)
	sort.SliceStable(out, func(i, j int) bool {
		if out[i].On != out[j].On {
			return out[i].On.After(out[j].On)
		}
		return out[i].Record.ID.String() < out[j].Record.ID.String() // in whatever order the facts came
	})
	return out
}

// MemoryDays is how long before a planting an exposure that has ended is looked at: longer than the longest interval of
// any rule (36 months).
const MemoryDays = 1100

// remembered is the ground of a bed as far as a rule can still ask about it. Counting from the planting, not from the
// cut, keeps what was done to a crop that stands for years; and a judgement does not depend on what else was loaded.
func (f *GroundFacts) remembered(bed *BedGround, planting *PlantingFacts, on Date) []GroundExposure {
	since := on
	if planting.PlantedOn.Before(on) {
		since = planting.PlantedOn
	}
	return slices.DeleteFunc(f.GroundOf(bed, on), func(e GroundExposure) bool {
		lasts := e.Finding != nil && e.Finding.lasts()
		return !lasts && !e.ClockStart.IsZero() && e.ClockStart.AddDays(MemoryDays).Before(since)
	})
}

// priorExposures turns prior uses that left droppings into exposures of the whole plot. A use whose end nobody wrote
// down stays open.
func (x *Plot) priorExposures() []Exposure {
	var out []Exposure
	for _, u := range x.PriorUse {
		if animalUse[u.Kind] == "" {
			continue
		}
		on := u.Until
		if on.IsZero() {
			on = earliest
		}
		out = append(out, Exposure{
			Record: RecordRef{"plot", x.ID}, PlotID: x.ID, Material: MaterialGrazing, Standing: Untreated,
			What: fmt.Sprintf("Earlier use as %s", u.Kind), WhatEs: "Uso anterior como " + animalUse[u.Kind], On: on, ClockStart: u.Until, Open: u.Until.IsZero(),
		})
	}
	return out
}

// Closure gives the bed itself and every older bed under it, through any number of re-layings. over maps each bed to
// the beds it was laid on. A bed that is met twice is listed once, so a cycle, were there one, would still end.
func Closure(id uuid.UUID, over map[uuid.UUID][]uuid.UUID) []uuid.UUID {
	seen := map[uuid.UUID]bool{id: true}
	list := []uuid.UUID{id}
	for i := 0; i < len(list); i++ {
		for _, o := range over[list[i]] {
			if !seen[o] {
				seen[o] = true
				list = append(list, o)
			}
		}
	}
	return list
}
