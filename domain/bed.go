package domain

import (
	"strconv"
	"strings"

	"github.com/google/uuid"
)

// Bed is a named piece of ground with a first day and, once re-laid, a last one. The name may be given again later; the
// ground keeps what happened to it.
type Bed struct {
	ID     uuid.UUID `json:"id,omitzero" format:"uuid"`
	Name   string    `json:"name" maxLength:"120"`
	PlotID uuid.UUID `json:"plot_id" format:"uuid"`
	From   Date      `json:"from" format:"date" doc:"First day of the bed under this name."`
	Length Quantity  `json:"length,omitzero"`
	Width  Quantity  `json:"width,omitzero"`
	// Outline is the ground's edge as "lat,lon" pairs; for the farm map, not for judging overlap.
	Outline []Location `json:"outline,omitempty" maxItems:"100"`
	// Over, To and InProduction are the book's answer; they are set by a bed layout and by /production.
	Over         []uuid.UUID `json:"over,omitempty" maxItems:"200"`
	To           Date        `json:"to,omitzero" format:"date"`
	InProduction *bool       `json:"in_production,omitempty"`
	Habits
}

func (x *Bed) Kind() string         { return "bed" }
func (x *Bed) Identity() *uuid.UUID { return &x.ID }
func (x *Bed) DoneOn() Date         { return Date{} }

func (x *Bed) Check(today Date, p *Problems) {
	checkName(p, "/name", x.Name)
	p.Check(x.PlotID != uuid.Nil, "/plot_id", "Say which plot the bed lies in.")
	checkDay(p, "/from", x.From, today)
	checkSide(p, "/length", x.Length)
	checkSide(p, "/width", x.Width)
	for i, c := range x.Outline {
		c.check(p, "/outline/"+itoa(i))
	}
	p.Check(len(x.Over) == 0, "/over", "Lay a bed over older beds with /v1/bed-layouts; this field is only read.")
	p.Check(x.To.IsZero(), "/to", "A bed ends by a bed layout; this field is only read.")
	p.Check(x.InProduction == nil, "/in_production", "Use /v1/beds/{id}/production; this field is only read.")
}

func checkSide(p *Problems, pointer string, q Quantity) {
	if !q.IsZero() {
		q.Check(p, pointer, "5000", Length)
	}
}

// BedLayout re-lays beds of one plot on a day: old names end, new names begin, and each new bed names the beds whose
// ground it lies on.
type BedLayout struct {
	ID     uuid.UUID   `json:"id,omitzero" format:"uuid"`
	PlotID uuid.UUID   `json:"plot_id" format:"uuid"`
	On     Date        `json:"on" format:"date"`
	Retire []uuid.UUID `json:"retire,omitempty" maxItems:"200" doc:"Beds whose name ends on that day."`
	Lay    []LaidBed   `json:"lay" minItems:"1" maxItems:"200"`
	Habits
}

// LaidBed is one new bed of a layout.
type LaidBed struct {
	ID     uuid.UUID   `json:"id,omitzero" format:"uuid"`
	Name   string      `json:"name" maxLength:"120"`
	Over   []uuid.UUID `json:"over,omitempty" maxItems:"200" doc:"Beds whose ground it lies on, wholly or partly."`
	Length Quantity    `json:"length,omitzero"`
	Width  Quantity    `json:"width,omitzero"`
}

func (x *BedLayout) Kind() string         { return "bed-layout" }
func (x *BedLayout) Identity() *uuid.UUID { return &x.ID }
func (x *BedLayout) DoneOn() Date         { return x.On }

func (x *BedLayout) Check(today Date, p *Problems) {
	p.Check(x.PlotID != uuid.Nil, "/plot_id", "Say which plot is laid anew.")
	checkDay(p, "/on", x.On, today)
	p.Check(len(x.Lay) > 0, "/lay", "Name at least one new bed.")
	checkDistinct(p, "/retire", x.Retire)
	names := map[string]bool{}
	for i, b := range x.Lay {
		at := "/lay/" + itoa(i)
		checkName(p, at+"/name", b.Name)
		p.Check(!names[strings.ToLower(b.Name)], at+"/name", "%q is named twice in this layout.", b.Name)
		names[strings.ToLower(b.Name)] = true
		checkSide(p, at+"/length", b.Length)
		checkSide(p, at+"/width", b.Width)
		checkDistinct(p, at+"/over", b.Over)
		p.Check(len(b.Over) > 0 || len(x.Retire) == 0, at+"/over",
			"Say which older beds it lies on, so that it keeps their history. Lay a bed on ground that never was a bed in a layout of its own.")
	}
}

// BedProduction takes a bed out of production, or back in, with a reason.
type BedProduction struct {
	ID           uuid.UUID `json:"id,omitzero" format:"uuid"`
	BedID        uuid.UUID `json:"bed_id,omitzero" format:"uuid"`
	InProduction bool      `json:"in_production"`
	On           Date      `json:"on" format:"date"`
	Reason       string    `json:"reason" maxLength:"1000"`
	Habits
}

func (x *BedProduction) Kind() string         { return "bed-production" }
func (x *BedProduction) Identity() *uuid.UUID { return &x.ID }
func (x *BedProduction) DoneOn() Date         { return x.On }

func (x *BedProduction) Check(today Date, p *Problems) {
	checkDay(p, "/on", x.On, today)
	checkReason(p, "/reason", x.Reason)
}

// checkReason notes a missing reason; an act that changes what others rely on always says why.
func checkReason(p *Problems, pointer, s string) {
	if strings.TrimSpace(s) == "" {
		p.Add(pointer, "Say why, in a few words.")
	}
	checkText(p, pointer, s, 1000)
}

func checkDistinct(p *Problems, pointer string, ids []uuid.UUID) {
	seen := map[uuid.UUID]bool{}
	for i, id := range ids {
		p.Check(!seen[id], pointer+"/"+itoa(i), "This one is named twice.")
		seen[id] = true
	}
}

func itoa(i int) string { return strconv.Itoa(i) }
