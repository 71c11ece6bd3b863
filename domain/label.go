package domain

import (
	"fmt"
	"time"

	"github.com/google/uuid"
)

// LabelPrint is one print of labels: every printed piece is counted, so that printed = used + void + spoiled can be
// checked (record forms 1.36).
type LabelPrint struct {
	ID     uuid.UUID `json:"id,omitzero" format:"uuid"`
	LotID  uuid.UUID `json:"lot_id" format:"uuid" doc:"A harvest lot or a pack lot."`
	Size   string    `json:"size" maxLength:"20"`
	Copies int       `json:"copies" minimum:"1" maximum:"2000"`
	// Crates are the numbers of the crates that the labels are for; left out, they are for all of the lot.
	Crates  []int  `json:"crates,omitempty" maxItems:"2000"`
	Reprint bool   `json:"reprint,omitempty"`
	Reason  string `json:"reason,omitempty" maxLength:"1000" doc:"Needed for a reprint."`
	Habits
}

func (x *LabelPrint) Kind() string         { return "label-print" }
func (x *LabelPrint) Identity() *uuid.UUID { return &x.ID }
func (x *LabelPrint) DoneOn() Date         { return Date{} }

func (x *LabelPrint) Check(today Date, p *Problems) {
	p.Check(x.LotID != uuid.Nil, "/lot_id", "Say which lot the labels are for.")
	checkText(p, "/size", x.Size, 20)
	p.Check(x.Copies >= 1 && x.Copies <= 2000, "/copies", "Print between 1 and 2000 labels at a time.")
	checkCrates(p, x.Crates)
	p.Check(len(x.Crates) == 0 || x.Copies >= len(x.Crates), "/copies", "%d labels are not enough for %d crates.", x.Copies, len(x.Crates))
	if x.Reprint {
		checkReason(p, "/reason", x.Reason)
	}
}

func checkCrates(p *Problems, crates []int) {
	seen := map[int]bool{}
	for i, n := range crates {
		at := "/crates/" + itoa(i)
		p.Check(n >= 1 && n <= 2000, at, "%d is not the number of a crate.", n)
		p.Check(!seen[n], at, "Crate %d is named twice.", n)
		seen[n] = true
	}
}

// LabelDiscard is labels that were printed and are on no crate: smeared ones, and good ones that were not needed.
type LabelDiscard struct {
	ID      uuid.UUID `json:"id,omitzero" format:"uuid"`
	LotID   uuid.UUID `json:"lot_id" format:"uuid"`
	Spoiled int       `json:"spoiled,omitempty" minimum:"0" maximum:"2000" doc:"Smeared, torn or printed across the edge."`
	Void    int       `json:"void,omitempty" minimum:"0" maximum:"2000" doc:"Good ones that must not be used: too many, or of a lot that changed."`
	Reason  string    `json:"reason" maxLength:"1000"`
	Habits
}

func (x *LabelDiscard) Kind() string         { return "label-discard" }
func (x *LabelDiscard) Identity() *uuid.UUID { return &x.ID }
func (x *LabelDiscard) DoneOn() Date         { return Date{} }

func (x *LabelDiscard) Check(today Date, p *Problems) {
	p.Check(x.LotID != uuid.Nil, "/lot_id", "Say which lot the labels were for.")
	p.Check(x.Spoiled >= 0 && x.Spoiled <= 2000, "/spoiled", "%d labels cannot be.", x.Spoiled)
	p.Check(x.Void >= 0 && x.Void <= 2000, "/void", "%d labels cannot be.", x.Void)
	p.Check(x.Spoiled+x.Void != 0, "/spoiled", "Say how many were spoiled or void.")
	checkReason(p, "/reason", x.Reason)
}

// LabelCount is what became of the labels of a lot.
type LabelCount struct {
	Printed   int `json:"printed" doc:"All, with the reprinted."`
	Reprinted int `json:"reprinted"`
	Spoiled   int `json:"spoiled"`
	Void      int `json:"void"`
	Lost      int `json:"lost" doc:"Fell off a crate that was then known again and got a new one."`
	InUse     int `json:"in_use" doc:"Printed less spoiled, void and lost."`
	Crates    int `json:"crates"`
	// Difference is in use less crates: above zero labels lie about, below zero crates go without.
	Difference int    `json:"difference"`
	Says       string `json:"says"`
}

// Settle works out what is in use and says whether it ties. A lot without counted crates has nothing to tie to.
func (c LabelCount) Settle() LabelCount {
	c.InUse = c.Printed - c.Spoiled - c.Void - c.Lost
	if c.Crates > 0 {
		c.Difference = c.InUse - c.Crates
	}
	switch {
	case c.Printed == 0:
		c.Says = "No label was printed."
	case c.Crates == 0:
		c.Says = fmt.Sprintf("In use: %d. The crates of this lot were not counted.", c.InUse)
	case c.Difference > 0:
		c.Says = fmt.Sprintf("Labels more than crates: %d. Find them, and write down what is void or spoiled.", c.Difference)
	case c.Difference < 0:
		c.Says = fmt.Sprintf("Crates without a label of their own: %d.", -c.Difference)
	default:
		c.Says = "Every crate has one label."
	}
	return c
}

// LostLabel is a crate that was found without its label. It is set aside; it is known again only on evidence, and if it
// may be of two lots it carries both or is culled, never the likelier one (record forms S23).
type LostLabel struct {
	ID       uuid.UUID `json:"id,omitzero" format:"uuid"`
	FoundAt  time.Time `json:"found_at"`
	Where    string    `json:"where" maxLength:"200"`
	May      []string  `json:"may_be" minItems:"1" maxItems:"20" doc:"Codes of the lots or crates that it may be, all of them."`
	Decision string    `json:"decision" enum:"set-aside,identified,carries-all,culled"`
	Evidence string    `json:"evidence,omitempty" maxLength:"1000" doc:"What shows which crate it is: the load list with one crate missing, a weight, a second tag. Not its looks."`
	// Lots is the book's: the lots behind the codes.
	Lots []LostLot `json:"lots,omitempty"`
	Habits
}

// LostLot is a lot that a crate without a label may be of.
type LostLot struct {
	LotID uuid.UUID `json:"lot_id" format:"uuid"`
	Code  string    `json:"code"`
}

func (x *LostLabel) Kind() string          { return "lost-label" }
func (x *LostLabel) Identity() *uuid.UUID  { return &x.ID }
func (x *LostLabel) DoneOn() Date          { return Date{} }
func (x *LostLabel) HappenedAt() time.Time { return x.FoundAt }

func (x *LostLabel) Check(today Date, p *Problems) {
	checkHour(p, "/found_at", x.FoundAt, today)
	checkName(p, "/where", x.Where)
	checkText(p, "/evidence", x.Evidence, 1000)
	checkOneOf(p, "/decision", x.Decision, "set-aside", "identified", "carries-all", "culled")
	p.Check(x.Lots == nil, "/lots", "The book gives this; leave it out.")
	p.Check(len(x.May) > 0, "/may_be", "Name every lot or crate that it may be.")
	seen := map[string]bool{}
	for i, text := range x.May {
		at := "/may_be/" + itoa(i)
		code, err := ParseCode(text)
		if err != nil {
			p.Add(at, "%q is not a code of this book; look at the label again.", text)
			continue
		}
		p.Check(!seen[code.Text], at, "This code is named twice.")
		seen[code.Text] = true
	}
	switch x.Decision {
	case "identified":
		p.Check(len(x.May) == 1, "/decision", "It may be %d different crates, so it is not identified. Let it carry all of them, or cull it.", len(x.May))
		p.Check(x.Evidence != "", "/evidence", "Say what shows which crate it is. Without evidence it stays set aside.")
	case "carries-all":
		p.Check(len(x.May) > 1, "/decision", "It carries all lots that it may be of; name at least two.")
	}
}
