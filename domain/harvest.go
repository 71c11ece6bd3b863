package domain

import (
	"strings"

	"github.com/google/uuid"
)

// HarvestLot is one crop cut from one planting in one go: the traced unit. A harvest of two crops is two lots, each
// judged for itself; a cut over several days is judged on each of them.
type HarvestLot struct {
	ID         uuid.UUID   `json:"id,omitzero" format:"uuid"`
	PlantingID uuid.UUID   `json:"planting_id" format:"uuid"`
	BedIDs     []uuid.UUID `json:"bed_ids" minItems:"1" maxItems:"200"`
	CutOn      Date        `json:"cut_on,omitzero" format:"date" doc:"The day of the cut; or give cut_from and cut_to."`
	CutFrom    Date        `json:"cut_from,omitzero" format:"date"`
	CutTo      Date        `json:"cut_to,omitzero" format:"date"`
	Quantity   Quantity    `json:"quantity"`
	Containers int         `json:"containers,omitempty" minimum:"0" maximum:"2000"`
	Crew       []uuid.UUID `json:"crew,omitempty" maxItems:"100"`
	// AlreadyCut enters a harvest that has happened on ground that was not clear. The lot is held.
	AlreadyCut bool `json:"already_cut,omitempty"`
	// Inferred says that nobody saw this harvest written down: it was worked out later from an invoice or a count. The beds
	// are then all those it can have come from, and late_reason says from what it was worked out.
	Inferred bool `json:"inferred,omitempty" doc:"Worked out later, not seen: bed_ids are all beds it can have come from."`
	// Code and VerdictThen are the book's: what the label says, and what was judged when the lot was entered.
	Code        string     `json:"code,omitempty" maxLength:"40"`
	VerdictThen *Judgement `json:"verdict_then,omitempty"`
	Habits
}

func (x *HarvestLot) Kind() string         { return "harvest-lot" }
func (x *HarvestLot) Identity() *uuid.UUID { return &x.ID }
func (x *HarvestLot) DoneOn() Date         { return x.FirstDay() }

// FirstDay is the first day of the cut.
func (x *HarvestLot) FirstDay() Date {
	if !x.CutOn.IsZero() {
		return x.CutOn
	}
	return x.CutFrom
}

// LastDay is the last day of the cut.
func (x *HarvestLot) LastDay() Date {
	if !x.CutOn.IsZero() {
		return x.CutOn
	}
	return x.CutTo
}

func (x *HarvestLot) Check(today Date, p *Problems) {
	p.Check(x.PlantingID != uuid.Nil, "/planting_id", "Say which planting was cut.")
	p.Check(len(x.BedIDs) > 0, "/bed_ids", "Say which bed was cut.")
	checkDistinct(p, "/bed_ids", x.BedIDs)
	checkDistinct(p, "/crew", x.Crew)
	x.checkDays(today, p)
	x.Quantity.Check(p, "/quantity", "1000000", Mass, Count, Volume)
	p.Check(x.Containers >= 0 && x.Containers <= 2000, "/containers", "%d containers cannot be.", x.Containers)
	p.Check(!x.Inferred || strings.TrimSpace(x.LateReason) != "", "/late_reason", "Say from what this harvest was worked out: the invoice, the count, who remembers it.")
	p.Check(x.Code == "", "/code", "The book gives the code; leave it out.")
	p.Check(x.VerdictThen == nil, "/verdict_then", "The book gives the verdict; leave it out.")
}

func (x *HarvestLot) checkDays(today Date, p *Problems) {
	if !x.CutOn.IsZero() {
		p.Check(x.CutFrom.IsZero() && x.CutTo.IsZero(), "/cut_on", "Give either cut_on, or cut_from and cut_to.")
		checkCutDay(p, "/cut_on", x.CutOn, today)
		return
	}
	if x.CutFrom.IsZero() && x.CutTo.IsZero() {
		p.Add("/cut_on", "Say on which day it was cut.")
		return
	}
	checkCutDay(p, "/cut_from", x.CutFrom, today)
	checkCutDay(p, "/cut_to", x.CutTo, today)
	if x.CutFrom.IsZero() || x.CutTo.IsZero() {
		return
	}
	p.Check(!x.CutTo.Before(x.CutFrom), "/cut_to", "The last day, %s, is before the first, %s.", x.CutTo, x.CutFrom)
	p.Check(x.CutTo.DaysSince(x.CutFrom) <= 14, "/cut_to", "A lot cut over more than two weeks is several lots. Enter them one by one.")
}

// checkCutDay is checkDay without the day that a phone may be ahead: intervals are counted in the farm's own days, and a
// cut dated tomorrow would be judged with a day that has not passed.
func checkCutDay(p *Problems, pointer string, d, today Date) {
	if d == today.AddDays(1) {
		p.Add(pointer, "%s is tomorrow on the farm; today is %s. Write the cut down on its own day.", d, today)
		return
	}
	checkDay(p, pointer, d, today)
}

// Disposal takes quantity of a lot out of food for good.
type Disposal struct {
	ID       uuid.UUID `json:"id,omitzero" format:"uuid"`
	LotID    uuid.UUID `json:"lot_id,omitzero" format:"uuid"`
	On       Date      `json:"on" format:"date"`
	Quantity Quantity  `json:"quantity"`
	How      string    `json:"kind" enum:"discard,compost,animal-feed,other"`
	Habits
}

func (x *Disposal) Kind() string         { return "disposal" }
func (x *Disposal) Identity() *uuid.UUID { return &x.ID }
func (x *Disposal) DoneOn() Date         { return x.On }

func (x *Disposal) Check(today Date, p *Problems) {
	checkDay(p, "/on", x.On, today)
	checkOneOf(p, "/kind", x.How, "discard", "compost", "animal-feed", "other")
	x.Quantity.Check(p, "/quantity", "1000000", Mass, Count, Volume)
}

// HarvestRefused keeps an attempt to cut what was not clear: a harvest that was stopped is evidence.
type HarvestRefused struct {
	ID        uuid.UUID   `json:"id"`
	Attempt   *HarvestLot `json:"attempt"`
	Judgement Judgement   `json:"judgement"`
	Habits
}

func (x *HarvestRefused) Kind() string                  { return "harvest-refused" }
func (x *HarvestRefused) Identity() *uuid.UUID          { return &x.ID }
func (x *HarvestRefused) DoneOn() Date                  { return x.Attempt.FirstDay() }
func (x *HarvestRefused) Check(today Date, p *Problems) {}
