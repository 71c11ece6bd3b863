package domain

import (
	"math/big"
	"slices"
	"time"

	"github.com/shopspring/decimal"
)

// CompostFacts is all the book knows of one batch, as known now: a late reading or a probe found wrong changes the
// judgement of every date (calculations reference 2.3 and 2.4). The order of the lists does not matter.
type CompostFacts struct {
	Method      CompostMethod
	StartedOn   Date
	Zone        *time.Location // the farm's; nil is UTC
	Ingredients []Ingredient
	// CarbonNitrogen is the starting ratio where it was established otherwise than from the ingredients.
	CarbonNitrogen Figure
	Points         []PointPlan
	Readings       []CompostReading
	Turnings       []CompostTurning
	Additions      []CompostAddition
	Joins          []PileJoin
	Curings        []CompostCuring
	Contaminations []Contamination
	LabTests       []CompostLabTest
	ProbeOffsets   []ProbeOffset
	Certifier      []CertifierSettings
	// ProbeAccuracy is ± degrees of the thermometer, when known; it only warns unless a setting makes it count (A19).
	ProbeAccuracy Quantity
	// CuringDaysMin is the farm's own figure; 0 is the usual 30 [convention], the rule gives no number.
	CuringDaysMin int
	// ReviewedAt is the supervisor's signature under the batch.
	ReviewedAt time.Time
	// ReviewBeforeUse makes the signature part of the standing, for farms whose plan says so.
	ReviewBeforeUse bool
}

// PointPlan says how many spots must be read from a day on: three, or more for a long or large heap (calculations
// reference 2.3 [convention, stricter than 14 CCR 17868.3]). A heap that was split gets a new plan from that day.
type PointPlan struct {
	From   Date     `json:"from,omitzero" format:"date"`
	Names  []string `json:"names,omitempty" maxItems:"100"`
	Count  int      `json:"count,omitempty" doc:"Spots the farm reads; never below one per 150 ft or 200 yd3."`
	Length Quantity `json:"length,omitzero"`
	Volume Quantity `json:"volume,omitzero"`
}

func (x PointPlan) check(p *Problems, pointer string) {
	p.Check(x.Count >= 0 && x.Count <= 100, pointer+"/count", "Give a number of spots from 1 to 100.")
	if !x.Length.IsZero() {
		x.Length.Check(p, pointer+"/length", "100000", Length)
	}
	if !x.Volume.IsZero() {
		x.Volume.Check(p, pointer+"/volume", "10000000", Volume)
	}
}

// Required is the number of spots to read on a date: the farm's count but not below one per 150 ft or 200 yd3, and
// without a count one per 50 ft or 50 yd3 and at least three.
func (x PointPlan) Required() int {
	least := max(1, perPart(x.Length, "ft", 150), perPart(x.Volume, "yd3", 200), len(foldedNames(x.Names)))
	if x.Count > 0 {
		return max(x.Count, least)
	}
	return max(3, perPart(x.Length, "ft", 50), perPart(x.Volume, "yd3", 50), least)
}

// perPart counts the parts of a size, a begun part as a whole one.
func perPart(q Quantity, u Unit, part int64) int {
	r, err := ratIn(q, u)
	if err != nil {
		return 0
	}
	r = quoRat(r, big.NewRat(part, 1))
	n, rest := new(big.Int).QuoRem(r.Num(), r.Denom(), new(big.Int))
	if rest.Sign() > 0 {
		n.Add(n, big.NewInt(1))
	}
	return int(n.Int64())
}

// PileJoin is another heap put together with this one. The whole takes the worse state: unless both were finished, the
// process starts again (A16).
type PileJoin struct {
	JoinedAt time.Time
	With     string   // code of the other heap
	Other    Standing // its standing at that moment
}

// Contamination is something that makes finished compost untreated from that day: run-off, animals, unclean tools
// (21 CFR 112.51(b)(2), 112.52).
type Contamination struct {
	On   Date
	What LocalText // in plain words: "run-off", "animals on the heap"
}

// ProbeOffset is a probe found wrong: from that instant on it reads so many degrees too high (negative: too low),
// until another offset of the same probe. Zero says it was put right. An empty Probe means every probe.
type ProbeOffset struct {
	Probe    string
	From     time.Time
	ReadHigh Quantity // degrees of difference in degF or degC
}

// CertifierSettings is what the farm's certifier has agreed to in writing. They hold for the organic rule only, from
// the day of the letter; what loosens the strict reading is ignored without a document and a date.
type CertifierSettings struct {
	AgreedOn Date
	Document string
	// GapDaysAllowed is how many dates in a row may be missing from a run: the answer is then "ask", never met (A5).
	GapDaysAllowed int
	// CorePoints names the spots that alone decide a date (A3).
	CorePoints []string
	// IgnoreDipAfterTurning leaves out readings below 131 degF of the 24 hours after a turning, if the next date is
	// hot at every point (A10).
	IgnoreDipAfterTurning bool
	// ElapsedHours asks for 72 (static) or 360 (windrow) hours from the first to the last reading of the run (A2).
	ElapsedHours bool
	// DaysBetweenTurnings asks for so many qualifying dates between two turnings that count (A11).
	DaysBetweenTurnings int
	// GuardBand counts a reading only when it is hot enough less the probe's accuracy (A19).
	GuardBand bool
}

func (s CertifierSettings) documented() bool { return !s.AgreedOn.IsZero() && s.Document != "" }

// settingsOn gives the certifier's settings in force on a date, the latest letter first. Stricter settings need no
// letter; looser ones are dropped without one.
func (b *CompostFacts) settingsOn(d Date) CertifierSettings {
	var best CertifierSettings
	for _, s := range b.Certifier {
		if s.AgreedOn.After(d) || s.AgreedOn.Before(best.AgreedOn) {
			continue
		}
		best = s
	}
	if !best.documented() {
		best.GapDaysAllowed, best.CorePoints, best.IgnoreDipAfterTurning = 0, nil, false
	}
	return best
}

// PointPlans are the plans of the heap, with the usual one where nobody made any for its first days. One that gives no
// volume has that of the ingredients, unless it is of a later day: a heap that was split has less of them.
func (b *CompostFacts) PointPlans() []PointPlan {
	later := func(p PointPlan) bool { return p.From.After(b.StartedOn) }
	plans := slices.Clone(b.Points)
	if !slices.ContainsFunc(plans, func(p PointPlan) bool { return !later(p) }) {
		plans = slices.Insert(plans, 0, PointPlan{})
	}
	for i := range plans {
		if p := &plans[i]; p.Volume.IsZero() && !later(*p) {
			p.Volume = b.builtVolume()
		}
	}
	return plans
}

// builtVolume is what the ingredients measure together before they settle, as far as that is known; zero when nothing is.
func (b *CompostFacts) builtVolume() Quantity {
	sum := new(big.Rat)
	for _, in := range b.Ingredients {
		if v := in.volume(); v != nil {
			sum.Add(sum, v)
		}
	}
	if sum.Sign() == 0 {
		return Quantity{}
	}
	return Quantity{decimal.NewFromBigRat(sum, 6), "yd3"}
}

func planOn(plans []PointPlan, d Date) PointPlan {
	var best PointPlan
	for _, p := range plans {
		if !p.From.After(d) && !p.From.Before(best.From) {
			best = p
		}
	}
	return best
}

func (b *CompostFacts) zone() *time.Location {
	if b.Zone == nil {
		return time.UTC
	}
	return b.Zone
}
