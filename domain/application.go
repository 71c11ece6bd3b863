package domain

import (
	"time"

	"github.com/google/uuid"
)

// Ground is where something happened: named beds, or a whole plot with every bed it has, had or will have.
type Ground struct {
	BedIDs []uuid.UUID `json:"bed_ids,omitempty" maxItems:"200"`
	PlotID uuid.UUID   `json:"plot_id,omitzero" format:"uuid"`
}

func (g Ground) check(p *Problems, pointer string) {
	named := len(g.BedIDs) > 0
	whole := g.PlotID != uuid.Nil
	p.Check(named != whole, pointer, "Say where: either bed_ids or plot_id, and not both.")
	checkDistinct(p, pointer+"/bed_ids", g.BedIDs)
}

// Source is what was applied: a delivery, or a batch of the farm's own compost.
type Source struct {
	InputLotID     uuid.UUID `json:"input_lot_id,omitzero" format:"uuid"`
	CompostBatchID uuid.UUID `json:"compost_batch_id,omitzero" format:"uuid"`
}

// Touched says whether something touched the crop; unknown never passes as no.
type Touched string

const (
	TouchedYes     Touched = "yes"
	TouchedNo      Touched = "no"
	TouchedUnknown Touched = "unknown"
)

// Application puts an input on ground (7 CFR 205.103; what, who, when, how much, how: 7 USC 6519).
//
// AppliedOn and IncorporatedOn are two facts. The clock of 7 CFR 205.203(c)(1) starts on the day the manure is worked
// into the soil; manure that never was has no clock at all.
type Application struct {
	ID             uuid.UUID `json:"id,omitzero" format:"uuid"`
	Source         Source    `json:"source"`
	Ground         Ground    `json:"ground"`
	AppliedOn      Date      `json:"applied_on" format:"date"`
	IncorporatedOn Date      `json:"incorporated_on,omitzero" format:"date"`
	Method         string    `json:"method" enum:"incorporated,surface,banded,side-dressed,drench,foliar"`
	Amount         Quantity  `json:"amount"`
	TouchedCrop    Touched   `json:"touched_crop,omitempty" enum:"yes,no,unknown" doc:"Did it touch a standing crop? Left out: no crop stood there, or not said; judged as unknown where a crop stood."`
	// DaysToHarvest is of crop protection: how many days its label asks for between spraying and harvest on this crop.
	DaysToHarvest *int `json:"days_to_harvest,omitempty" minimum:"0" maximum:"365" doc:"Days from spraying to harvest, from the label of the product for this crop; 0 is an answer too. Only for crop protection."`
	// EndedAt and RestrictedEntryHours are of crop protection: from the end of spraying so many hours nobody goes in.
	EndedAt              time.Time `json:"ended_at,omitzero" doc:"When spraying ended; the hours of restricted entry count from it. Left out: from the end of that day. Only for crop protection."`
	RestrictedEntryHours *int      `json:"restricted_entry_hours,omitempty" minimum:"0" maximum:"720" doc:"Hours of restricted entry on the label; of a mixture the longest. Only for crop protection."`
	// CutBefore are lots that were cut from this ground on the same day and taken off it before.
	CutBefore []uuid.UUID `json:"cut_before,omitempty" maxItems:"100" doc:"Lots cut here on the day of applied_on and off the ground before it began. Left out: it is judged as if it had been there first."`
	Habits
}

// MostLabelDays bounds the days to harvest of a label; what was sprayed longer ago asks nothing of a harvest any more.
const MostLabelDays = 365

func (x *Application) Kind() string         { return "application" }
func (x *Application) Identity() *uuid.UUID { return &x.ID }
func (x *Application) DoneOn() Date         { return x.AppliedOn }

func (x *Application) Check(today Date, p *Problems) {
	one := (x.Source.InputLotID != uuid.Nil) != (x.Source.CompostBatchID != uuid.Nil)
	p.Check(one, "/source", "Say what was applied: either input_lot_id or compost_batch_id, and not both.")
	x.Ground.check(p, "/ground")
	checkDay(p, "/applied_on", x.AppliedOn, today)
	checkOptionalDay(p, "/incorporated_on", x.IncorporatedOn, today)
	p.Check(x.IncorporatedOn.IsZero() || !x.IncorporatedOn.Before(x.AppliedOn), "/incorporated_on",
		"It was worked in on %s, before it was spread on %s. Swap or correct the two days.", x.IncorporatedOn, x.AppliedOn)
	checkOneOf(p, "/method", x.Method, "incorporated", "surface", "banded", "side-dressed", "drench", "foliar")
	p.Check(x.Method != "incorporated" || !x.IncorporatedOn.IsZero(), "/incorporated_on", "Say on which day it was worked in.")
	x.Amount.Check(p, "/amount", "1000000", Mass, Volume)
	if x.DaysToHarvest != nil {
		p.Check(*x.DaysToHarvest >= 0 && *x.DaysToHarvest <= MostLabelDays, "/days_to_harvest", "%d days to harvest cannot be. Read the label again.", *x.DaysToHarvest)
	}
	x.checkEntry(today, p)
	checkDistinct(p, "/cut_before", x.CutBefore)
	if x.TouchedCrop != "" {
		checkOneOf(p, "/touched_crop", x.TouchedCrop, TouchedYes, TouchedNo, TouchedUnknown)
	}
}

// Grazing is animals on ground, from a day to the last day out. Every stay leaves manure; the clock starts on the last
// day.
type Grazing struct {
	ID      uuid.UUID `json:"id,omitzero" format:"uuid"`
	Species string    `json:"species" maxLength:"120"`
	Ground  Ground    `json:"ground"`
	From    Date      `json:"from" format:"date"`
	To      Date      `json:"to,omitzero" format:"date" doc:"Last day the animals were there. Left out: they are still there."`
	Head    int       `json:"head,omitempty" minimum:"0" maximum:"100000"`
	// CutBefore are lots that were cut from this ground on the first day and taken off it before.
	CutBefore []uuid.UUID `json:"cut_before,omitempty" maxItems:"100" doc:"Lots cut here on the day of from and off the ground before the animals came."`
	Habits
}

func (x *Grazing) Kind() string         { return "grazing" }
func (x *Grazing) Identity() *uuid.UUID { return &x.ID }
func (x *Grazing) DoneOn() Date         { return x.From }

func (x *Grazing) Check(today Date, p *Problems) {
	checkName(p, "/species", x.Species)
	checkDistinct(p, "/cut_before", x.CutBefore)
	x.Ground.check(p, "/ground")
	p.Check(x.Head >= 0 && x.Head <= 100000, "/head", "%d animals cannot be.", x.Head)
	checkDay(p, "/from", x.From, today)
	checkOptionalDay(p, "/to", x.To, today)
	p.Check(x.To.IsZero() || !x.To.Before(x.From), "/to", "The last day out, %s, is before the first day, %s.", x.To, x.From)
}
