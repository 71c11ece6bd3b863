package domain

import (
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/shopspring/decimal"
)

// PackLot is what comes out of a packing run: one new lot from one or many lots. Every lot that went in is a parent of
// all of it; blame is never shared out by weight.
type PackLot struct {
	ID       uuid.UUID  `json:"id,omitzero" format:"uuid"`
	PackedAt time.Time  `json:"packed_at"`
	From     []PackFrom `json:"from" minItems:"1" maxItems:"100"`
	Product  string     `json:"product" maxLength:"120"`
	Quantity Quantity   `json:"quantity"`
	Culls    Quantity   `json:"culls,omitzero"`
	Crates   int        `json:"crates" minimum:"0" maximum:"2000"`
	CrateNet Quantity   `json:"crate_net,omitzero" doc:"What each crate holds, in a unit of the lot's own measure; without it the crates share the lot equally."`
	// WaterSourceID and Tap name the water used in the run.
	WaterSourceID uuid.UUID   `json:"water_source_id,omitzero" format:"uuid"`
	Tap           string      `json:"tap,omitempty" maxLength:"120"`
	Tank          string      `json:"tank,omitempty" maxLength:"120"`
	Line          string      `json:"line,omitempty" maxLength:"120" doc:"Table or line; lots that share it before the next clean are possible contact."`
	Packers       []uuid.UUID `json:"packers,omitempty" maxItems:"100"`
	CooledAt      time.Time   `json:"cooled_at,omitzero"`
	// Code, CrateCodes, Status and VerdictThen are the book's.
	Code        string     `json:"code,omitempty" maxLength:"40"`
	CrateCodes  []string   `json:"crate_codes,omitempty"`
	Status      string     `json:"status,omitempty" enum:"organic,not-organic"`
	VerdictThen *Judgement `json:"verdict_then,omitempty"`
	Habits
}

// PackFrom is one lot that went in, by its code, and how much of it.
type PackFrom struct {
	Lot      string   `json:"lot" maxLength:"40"`
	Quantity Quantity `json:"quantity"`
	// LotID and Taken are the book's: the lot, and the quantity counted in the lot's own unit.
	LotID uuid.UUID `json:"lot_id,omitzero" format:"uuid"`
	Taken Quantity  `json:"taken,omitzero"`
}

func (x *PackLot) Kind() string          { return "pack-lot" }
func (x *PackLot) Identity() *uuid.UUID  { return &x.ID }
func (x *PackLot) DoneOn() Date          { return Date{} }
func (x *PackLot) HappenedAt() time.Time { return x.PackedAt }

func (x *PackLot) Check(today Date, p *Problems) {
	checkHour(p, "/packed_at", x.PackedAt, today)
	checkName(p, "/product", x.Product)
	x.Quantity.Check(p, "/quantity", "1000000", Mass, Count, Volume)
	if !x.Culls.IsZero() && x.Culls.Value.Sign() != 0 {
		x.Culls.Check(p, "/culls", "1000000", Mass, Count, Volume)
	}
	p.Check(x.Crates >= 0 && x.Crates <= 2000, "/crates", "%d crates cannot be.", x.Crates)
	x.checkCrateNet(p)
	p.Check(len(x.From) > 0, "/from", "Say which lots went in.")
	seen := map[string]bool{}
	for i, f := range x.From {
		at := "/from/" + itoa(i)
		f.Quantity.Check(p, at+"/quantity", "1000000", Mass, Count, Volume)
		p.Check(f.LotID == uuid.Nil && f.Taken.IsZero(), at, "The book gives lot_id and taken; leave them out.")
		code, err := ParseCode(f.Lot)
		if err != nil {
			p.Add(at+"/lot", "%q is not a code of this book; look at the label again.", f.Lot)
			continue
		}
		p.Check(!seen[code.Lot], at+"/lot", "This lot is named twice; give it once with all its quantity.")
		seen[code.Lot] = true
	}
	checkDistinct(p, "/packers", x.Packers)
	p.Check(x.Code == "" && x.CrateCodes == nil && x.VerdictThen == nil && x.Status == "", "/code", "The book gives code, crate codes, status and verdict; leave them out.")
}

// checkCrateNet asks for what each crate holds in the measure of the lot: six bunches can't be taken off twenty pounds.
func (x *PackLot) checkCrateNet(p *Problems) {
	if x.CrateNet.IsZero() {
		return
	}
	x.CrateNet.Check(p, "/crate_net", "10000", Mass, Count, Volume)
	_, netKnown := MeasureOf(x.CrateNet.Unit)
	_, lotKnown := MeasureOf(x.Quantity.Unit)
	if _, err := x.CrateNet.In(x.Quantity.Unit); err != nil && netKnown && lotKnown {
		p.Add("/crate_net", "The lot is counted in %s and each crate in %s. Say in %s what each crate holds, or leave it out and the crates share the lot equally.",
			x.Quantity.Unit, x.CrateNet.Unit, x.Quantity.Unit)
	}
}

// CheckCrates refuses crates that are said to hold together more than the lot and the tolerance: the last of them could never
// leave.
func (x *PackLot) CheckCrates(tolerancePct int) error {
	net, err := x.CrateNet.In(x.Quantity.Unit)
	if x.CrateNet.IsZero() || err != nil { // a unit of another measure is refused by Check
		return nil
	}
	all := net.Mul(decimal.NewFromInt(int64(x.Crates)))
	most := x.Quantity.Value.Mul(decimal.NewFromInt(int64(100 + tolerancePct))).Div(decimal.NewFromInt(100))
	var p Problems
	p.Check(!all.GreaterThan(most), "/crate_net", "%d crates of %s hold %s %s, and the lot is only %s; up to %d %% more is allowed. Correct the number that is wrong, or leave crate_net out and the crates share the lot equally.",
		x.Crates, x.CrateNet, all, x.Quantity.Unit, x.Quantity, tolerancePct)
	return p.Err()
}

// DefaultPackTolerance is how many percent of what went in may be missing or gained without a word: scales, drops, wash
// water (calculations reference 6 [convention: wash gain 5 %]).
const DefaultPackTolerance = 5

// Balance holds what came out against what went in. Sums that do not tie within the tolerance name the difference.
func (x *PackLot) Balance(tolerancePct int) error {
	var p Problems
	in := decimal.Zero
	for i, f := range x.From {
		v, err := f.Quantity.In(x.Quantity.Unit)
		if err != nil {
			p.Add("/from/"+itoa(i)+"/quantity/unit", "The pack lot is counted in %s; give this in a unit that can be counted in %s.", x.Quantity.Unit, x.Quantity.Unit)
			continue
		}
		in = in.Add(v)
	}
	out := x.Quantity.Value
	if !x.Culls.IsZero() {
		v, err := x.Culls.In(x.Quantity.Unit)
		if err != nil {
			p.Add("/culls/unit", "Give the culls in a unit that can be counted in %s.", x.Quantity.Unit)
		}
		out = out.Add(v)
	}
	if err := p.Err(); err != nil {
		return err
	}
	missing := in.Sub(out)
	allowed := in.Mul(decimal.NewFromInt(int64(tolerancePct))).Div(decimal.NewFromInt(100))
	if missing.Abs().GreaterThan(allowed) {
		word := "are missing"
		if missing.Sign() < 0 {
			word = "are too much"
		}
		return &Error{Code: CodeNotBalanced, Title: "What went in and what came out do not tie",
			Detail: fmt.Sprintf("%s %s went in, %s %s came out with the culls: %s %s %s. Up to %d %% is allowed. Find the difference or write down the culls.",
				in, x.Quantity.Unit, out, x.Quantity.Unit, missing.Abs(), x.Quantity.Unit, word, tolerancePct)}
	}
	return nil
}

// JudgePack judges a pack lot: the strictest of everything that went in, and the water of the run.
func JudgePack(f *GroundFacts, lotID uuid.UUID, parents []Judgement) Judgement {
	var reasons []Reason
	for _, p := range parents {
		for _, r := range p.Reasons {
			if r.Verdict != Clear {
				reasons = append(reasons, r)
			}
		}
	}
	return Judge(mergeReasons(append(reasons, waterOfLot(f.Waters, f.LotWater[lotID])...)))
}
