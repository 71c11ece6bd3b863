package domain

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
)

// Finding is what somebody saw on the ground: flood, droppings, drift, broken glass. It belongs to the ground and stays
// there through re-laying.
type Finding struct {
	ID          uuid.UUID `json:"id,omitzero" format:"uuid"`
	What        string    `json:"kind" enum:"flood,standing-water,droppings,animal-intrusion,drift,spill,glass,other"`
	Ground      Ground    `json:"ground"`
	FoundAt     time.Time `json:"found_at"`
	TouchedCrop Touched   `json:"touched_crop" enum:"yes,no,unknown"`
	// Substance says what drifted or spilled: it decides what the ground remembers.
	Substance string   `json:"substance,omitempty" enum:"raw-manure,prohibited,other"`
	Radius    Quantity `json:"radius,omitzero" doc:"What was marked off around it."`
	Part      string   `json:"part,omitempty" maxLength:"300" doc:"Which part of the bed, in words: north end, from stake 4."`
	// Edge names beds within the strip beside a flood where machines turn (30 ft by common guidance).
	Edge       []uuid.UUID `json:"edge_bed_ids,omitempty" maxItems:"100"`
	LeftBehind Quantity    `json:"left_behind,omitzero" doc:"What was marked off and not picked."`
	// Resolution is the book's answer, set by /resolution.
	Resolution *FindingResolution `json:"resolution,omitempty"`
	// Earlier are decisions before that one. Each holds from its day until the next.
	Earlier []FindingResolution `json:"earlier_resolutions,omitempty" doc:"The book's: what was decided before."`
	Habits
}

func (x *Finding) Kind() string         { return "finding" }
func (x *Finding) Identity() *uuid.UUID { return &x.ID }
func (x *Finding) DoneOn() Date         { return Date{} }

func (x *Finding) Check(today Date, p *Problems) {
	checkOneOf(p, "/kind", x.What, "flood", "standing-water", "droppings", "animal-intrusion", "drift", "spill", "glass", "other")
	x.Ground.check(p, "/ground")
	checkHour(p, "/found_at", x.FoundAt, today)
	checkOneOf(p, "/touched_crop", x.TouchedCrop, TouchedYes, TouchedNo, TouchedUnknown)
	drifts := x.What == "drift" || x.What == "spill"
	p.Check(!drifts || x.Substance != "", "/substance", "Say what it was: raw-manure, prohibited or other.")
	p.Check(x.What != "other" || x.Note != "", "/note", "Say what was seen.")
	p.Check(x.Resolution == nil, "/resolution", "A finding is resolved with /v1/findings/{id}/resolution; this field is only read.")
	p.Check(len(x.Earlier) == 0, "/earlier_resolutions", "A finding is resolved with /v1/findings/{id}/resolution; this field is only read.")
	for _, q := range []struct {
		pointer string
		value   Quantity
		measure []Measure
	}{{"/radius", x.Radius, []Measure{Length}}, {"/left_behind", x.LeftBehind, []Measure{Mass, Count}}} {
		if !q.value.IsZero() {
			q.value.Check(p, q.pointer, "100000", q.measure...)
		}
	}
}

// decidedOn gives the decision in force on a day: the latest of those not after it.
func (x *Finding) decidedOn(day Date) (out *FindingResolution) {
	consider := func(r *FindingResolution) {
		if !r.On.After(day) && (out == nil || !r.On.Before(out.On)) {
			out = r
		}
	}
	for i := range x.Earlier {
		consider(&x.Earlier[i])
	}
	if x.Resolution != nil {
		consider(x.Resolution)
	}
	return out
}

// SameFinding reports whether a corrected finding is still the one that was decided about: the same thing, on the same
// ground, on the same day. Two rabbits walked off in one bed say nothing of a flood in another.
func SameFinding(before, after *Finding, zone *time.Location) bool {
	return before.What == after.What && before.TouchedCrop == after.TouchedCrop && before.Substance == after.Substance &&
		before.Ground.PlotID == after.Ground.PlotID && sameIDs(before.Ground.BedIDs, after.Ground.BedIDs) &&
		DateIn(before.FoundAt, zone) == DateIn(after.FoundAt, zone)
}

// sameIDs compares two lists in any order; neither names an id twice.
func sameIDs(a, b []uuid.UUID) bool {
	return len(a) == len(b) && !slices.ContainsFunc(a, func(id uuid.UUID) bool { return !slices.Contains(b, id) })
}

// FindingResolution is a person's decision about a finding, where the rule leaves one to make.
type FindingResolution struct {
	ID        uuid.UUID `json:"id,omitzero" format:"uuid"`
	FindingID uuid.UUID `json:"finding_id,omitzero" format:"uuid"`
	On        Date      `json:"on" format:"date"`
	Decision  string    `json:"decision" enum:"released,crop-destroyed,marked-off" doc:"What was decided about the crop and the ground."`
	Reason    string    `json:"reason" maxLength:"2000"`
	Habits
}

func (x *FindingResolution) Kind() string         { return "finding-resolution" }
func (x *FindingResolution) Identity() *uuid.UUID { return &x.ID }
func (x *FindingResolution) DoneOn() Date         { return x.On }

func (x *FindingResolution) Check(today Date, p *Problems) {
	checkDay(p, "/on", x.On, today)
	checkOneOf(p, "/decision", x.Decision, "released", "crop-destroyed", "marked-off")
	checkReason(p, "/reason", x.Reason)
}

var findingWords = map[string]LocalText{
	"flood": {"Flood water", "Agua de inundación"}, "standing-water": {"Standing rain water", "Agua de lluvia estancada"},
	"droppings": {"Droppings", "Excremento"}, "animal-intrusion": {"Animals in the crop", "Animales en el cultivo"},
	"drift": {"Drift or splash", "Deriva o salpicadura"}, "spill": {"A spill", "Un derrame"}, "glass": {"Broken glass", "Vidrio roto"},
	"other": {"Something found", "Algo encontrado"},
}

// ExposureOf makes what the ground remembers of a finding. Neighbour's manure that reached the soil is a raw event from
// that day; a prohibited substance closes the ground for organic sale; the rest is judged by its own rules.
func (x *Finding) ExposureOf(zone *time.Location) Exposure {
	on := DateIn(x.FoundAt, zone)
	e := Exposure{Record: RecordRef{"finding", x.ID}, What: findingWords[x.What].En, On: on, ClockStart: on,
		TouchedCrop: x.TouchedCrop, Standing: PlantOnly, Material: MaterialNone, Finding: x}
	switch x.Substance {
	case "raw-manure":
		e.What, e.Material, e.Standing = "Manure drift or splash", MaterialRaw, Untreated
	case "prohibited":
		e.What, e.Material, e.Standing = "Drift of a prohibited substance", MaterialProhibited, Untreated
	}
	return e
}

// CorrectiveAction closes what a changed judgement opened: cause, fate of the product, mending for now and for good.
type CorrectiveAction struct {
	ID      uuid.UUID   `json:"id,omitzero" format:"uuid"`
	FoundOn Date        `json:"found_on" format:"date"`
	What    string      `json:"what" maxLength:"2000"`
	Cause   string      `json:"cause,omitempty" maxLength:"2000"`
	LotIDs  []uuid.UUID `json:"lot_ids,omitempty" maxItems:"1000"`
	// LogEntryIDs are entries of log sheets whose values were out of limits.
	LogEntryIDs []uuid.UUID `json:"log_entry_ids,omitempty" maxItems:"100"`
	Fate        string      `json:"product_fate,omitempty" maxLength:"2000"`
	Fix         string      `json:"fix" maxLength:"2000"`
	ForGood     string      `json:"fix_for_good,omitempty" maxLength:"2000"`
	DueOn       Date        `json:"due_on,omitzero" format:"date"`
	Closed      bool        `json:"closed,omitempty" doc:"The alert of these lots is closed with it."`
	Habits
}

func (x *CorrectiveAction) Kind() string         { return "corrective-action" }
func (x *CorrectiveAction) Identity() *uuid.UUID { return &x.ID }
func (x *CorrectiveAction) DoneOn() Date         { return x.FoundOn }

func (x *CorrectiveAction) Check(today Date, p *Problems) {
	checkDay(p, "/found_on", x.FoundOn, today)
	checkReason(p, "/what", x.What)
	checkReason(p, "/fix", x.Fix)
	checkDistinct(p, "/lot_ids", x.LotIDs)
	checkDistinct(p, "/log_entry_ids", x.LogEntryIDs)
	checkPlanDay(p, "/due_on", x.DueOn, today)
	p.Check(!x.Closed || x.Fate != "", "/product_fate", "Say what became of the product before you close it.")
}

// FindingName names a finding for messages.
func FindingName(x *Finding) string { return strings.ToLower(findingWords[x.What].En) }

// MayRelease reports whether any rule that speaks about the finding leaves the decision to a person.
func MayRelease(x *Finding) bool {
	stops := false
	for _, r := range ruleSets[everyFarm].Rules {
		if r.Shape == ShapeFinding && !r.Edge && !r.After && slices.Contains(r.Findings, x.What) && r.touchedFits(x.TouchedCrop) && r.Unmet != Caution {
			if r.Answerable {
				return true
			}
			stops = true
		}
	}
	return !stops
}

// FindingWarnings says what a finding means the moment it is written down.
func FindingWarnings(x *Finding, zone *time.Location) (out []string) {
	for i := range ruleSets[everyFarm].Rules {
		r := &ruleSets[everyFarm].Rules[i]
		if r.Shape == ShapeFinding && !r.Edge && !r.After && slices.Contains(r.Findings, x.What) && r.touchedFits(x.TouchedCrop) {
			out = append(out, r.Plain.En)
		}
	}
	if x.Substance == "raw-manure" {
		on := DateIn(x.FoundAt, zone)
		out = append(out, fmt.Sprintf("The soil counts as manured on %s: crops that touch soil from %s under the organic rule.", on,
			ruleByID("us-organic.raw-manure-soil-contact").clears(on)))
	}
	return out
}
