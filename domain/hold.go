package domain

import (
	"slices"

	"github.com/google/uuid"
)

// Hold stops a thing until a named person releases it with a reason. It really stops: a held bed is not cut, a held lot
// is not labelled for sale, packed or shipped.
type Hold struct {
	ID     uuid.UUID  `json:"id,omitzero" format:"uuid"`
	On     HoldTarget `json:"on"`
	Reason string     `json:"reason" maxLength:"1000"`
	// AlreadyCut is the book's: it put the hold on by itself, because the lot was entered as already cut, and this is what was
	// judged of the ground then. A page says it in its own words instead of the reason.
	AlreadyCut Verdict `json:"already_cut,omitempty" enum:"clear,caution,wait,ask,stop"`
	// Released is the book's answer, set by /release.
	Released *Release `json:"released,omitempty"`
	Habits
}

// holdRule is the rule of every farm that what is on hold stays.
func holdRule() *Rule {
	rules := ruleSets[everyFarm].Rules
	return &rules[slices.IndexFunc(rules, func(r Rule) bool { return r.Shape == ShapeHeld })]
}

// HoldTarget is exactly one thing.
type HoldTarget struct {
	BedID          uuid.UUID `json:"bed_id,omitzero" format:"uuid"`
	LotID          uuid.UUID `json:"lot_id,omitzero" format:"uuid"`
	InputLotID     uuid.UUID `json:"input_lot_id,omitzero" format:"uuid"`
	CompostBatchID uuid.UUID `json:"compost_batch_id,omitzero" format:"uuid"`
	WaterSourceID  uuid.UUID `json:"water_source_id,omitzero" format:"uuid"`
}

// alreadyCutGround says what was known of the ground under a lot that was entered as already cut.
var alreadyCutGround = map[Verdict]string{
	Clear:   "The ground was clear.",
	Caution: "The ground was clear, with something about it that is worth a look.",
	Wait:    "The ground needed more days before it may be cut.",
	Ask:     "A question about the ground was open.",
	Stop:    "The ground was not to be cut at all.",
}

// AlreadyCutReason is the reason of the hold that the book puts on a lot entered as already cut, in plain words.
func AlreadyCutReason(ground Verdict) string {
	return "Entered as already cut, so nothing was checked before the cut. " + alreadyCutGround[ground]
}

// Target names the kind of the held thing and its id.
func (t HoldTarget) Target() (kind string, id uuid.UUID) {
	switch {
	case t.BedID != uuid.Nil:
		return "bed", t.BedID
	case t.LotID != uuid.Nil:
		return "harvest-lot", t.LotID
	case t.InputLotID != uuid.Nil:
		return "input-lot", t.InputLotID
	case t.WaterSourceID != uuid.Nil:
		return "water-source", t.WaterSourceID
	default:
		return "compost-batch", t.CompostBatchID
	}
}

func (t HoldTarget) count() (n int) {
	for _, id := range []uuid.UUID{t.BedID, t.LotID, t.InputLotID, t.CompostBatchID, t.WaterSourceID} {
		if id != uuid.Nil {
			n++
		}
	}
	return n
}

func (x *Hold) Kind() string         { return "hold" }
func (x *Hold) Identity() *uuid.UUID { return &x.ID }
func (x *Hold) DoneOn() Date         { return Date{} }

func (x *Hold) Check(today Date, p *Problems) {
	p.Check(x.On.count() == 1, "/on", "Name exactly one thing to hold: bed_id, lot_id, input_lot_id, compost_batch_id or water_source_id.")
	checkReason(p, "/reason", x.Reason)
	p.Check(x.AlreadyCut == "", "/already_cut", "The book puts such a hold on by itself; this field is only read.")
	p.Check(x.Released == nil, "/released", "A hold is released with /v1/holds/{id}/release; this field is only read.")
}

// Release ends a hold. Only a lead or the owner releases, and says why.
type Release struct {
	ID     uuid.UUID `json:"id,omitzero" format:"uuid"`
	HoldID uuid.UUID `json:"hold_id,omitzero" format:"uuid"`
	Reason string    `json:"reason" maxLength:"1000"`
	Habits
}

func (x *Release) Kind() string         { return "hold-release" }
func (x *Release) Identity() *uuid.UUID { return &x.ID }
func (x *Release) DoneOn() Date         { return Date{} }
func (x *Release) Check(today Date, p *Problems) {
	checkReason(p, "/reason", x.Reason)
}
