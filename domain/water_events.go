package domain

import (
	"bytes"
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
)

// OfSource is a record that belongs to a water source.
type OfSource interface {
	Record
	SourceOf() uuid.UUID
}

// WaterChange says that from an instant on a tap gives other water, or the same through other pipes.
type WaterChange struct {
	ID       uuid.UUID `json:"id,omitzero" format:"uuid"`
	SourceID uuid.UUID `json:"source_id" format:"uuid"`
	Tap      string    `json:"tap,omitempty" maxLength:"120" doc:"Left out: every tap of the source."`
	At       time.Time `json:"at"`
	// Is names the kind of water from then on; left out, the pipes changed and the water did not.
	Is WaterKind `json:"kind,omitempty" enum:"public-supply,untreated-ground,treated-ground,treated-surface,untreated-surface,rain"`
	Habits
}

func (x *WaterChange) Kind() string         { return "water-change" }
func (x *WaterChange) Identity() *uuid.UUID { return &x.ID }
func (x *WaterChange) DoneOn() Date         { return Date{} }
func (x *WaterChange) SourceOf() uuid.UUID  { return x.SourceID }

func (x *WaterChange) Check(today Date, p *Problems) {
	checkHour(p, "/at", x.At, today)
	checkText(p, "/tap", x.Tap, 120)
	if x.Is != "" {
		checkOneOf(p, "/kind", x.Is, WaterKinds...)
	}
}

// WaterPaper is the yearly paper of a public supply (21 CFR 112.44(c), 112.50(b)(6)).
type WaterPaper struct {
	ID       uuid.UUID `json:"id,omitzero" format:"uuid"`
	SourceID uuid.UUID `json:"source_id" format:"uuid"`
	IssuedOn Date      `json:"issued_on" format:"date"`
	Document string    `json:"document" maxLength:"300" doc:"Where the paper is: name, number, page."`
	Habits
}

func (x *WaterPaper) Kind() string         { return "water-certificate" }
func (x *WaterPaper) Identity() *uuid.UUID { return &x.ID }
func (x *WaterPaper) DoneOn() Date         { return x.IssuedOn }
func (x *WaterPaper) SourceOf() uuid.UUID  { return x.SourceID }

func (x *WaterPaper) Check(today Date, p *Problems) {
	checkDay(p, "/issued_on", x.IssuedOn, today)
	checkReason(p, "/document", x.Document)
}

// WaterInspection is the yearly look over a water system (21 CFR 112.42, 112.50(b)(1)).
type WaterInspection struct {
	ID        uuid.UUID `json:"id,omitzero" format:"uuid"`
	SourceID  uuid.UUID `json:"source_id" format:"uuid"`
	MadeOn    Date      `json:"made_on" format:"date"`
	Findings  string    `json:"findings" maxLength:"4000" doc:"What was seen: cap, casing, backflow, pooling, animals, neighbours."`
	Corrected string    `json:"corrected,omitempty" maxLength:"2000"`
	Habits
}

func (x *WaterInspection) Kind() string         { return "water-inspection" }
func (x *WaterInspection) Identity() *uuid.UUID { return &x.ID }
func (x *WaterInspection) DoneOn() Date         { return x.MadeOn }
func (x *WaterInspection) SourceOf() uuid.UUID  { return x.SourceID }

func (x *WaterInspection) Check(today Date, p *Problems) {
	checkDay(p, "/made_on", x.MadeOn, today)
	checkReason(p, "/findings", x.Findings)
	checkText(p, "/findings", x.Findings, 4000)
}

// WaterReview is the written yearly assessment of pre-harvest water (21 CFR 112.43).
type WaterReview struct {
	ID       uuid.UUID `json:"id,omitzero" format:"uuid"`
	SourceID uuid.UUID `json:"source_id" format:"uuid"`
	MadeOn   Date      `json:"made_on" format:"date"`
	Outcome  string    `json:"outcome" enum:"adequate,mitigate,not-adequate"`
	Factors  string    `json:"factors" maxLength:"8000" doc:"System, practices, crop, environment, other facts (21 CFR 112.43(a))."`
	Measures string    `json:"measures,omitempty" maxLength:"4000" doc:"Measures chosen and by when; for a wait before harvest also what supports its length."`
	// Hazard says whether it is of the kind that must be met in the same season: neighbouring animals, animal amendments
	// or human waste.
	Hazard string `json:"hazard,omitempty" enum:"none,adjacent,other"`
	Habits
}

func (x *WaterReview) Kind() string         { return "water-assessment" }
func (x *WaterReview) Identity() *uuid.UUID { return &x.ID }
func (x *WaterReview) DoneOn() Date         { return x.MadeOn }
func (x *WaterReview) SourceOf() uuid.UUID  { return x.SourceID }

func (x *WaterReview) Check(today Date, p *Problems) {
	checkDay(p, "/made_on", x.MadeOn, today)
	checkOneOf(p, "/outcome", x.Outcome, "adequate", "mitigate", "not-adequate")
	p.Check(strings.TrimSpace(x.Factors) != "", "/factors", "Write down what was looked at; a bare outcome is no assessment.")
	p.Check(x.Outcome == "adequate" || strings.TrimSpace(x.Measures) != "", "/measures", "Say what will be done about it, and by when.")
}

// WaterStop is a stop of use, or the record that the cause was found and corrected (21 CFR 112.45(a), 112.50(b)(7)).
type WaterStop struct {
	ID       uuid.UUID  `json:"id,omitzero" format:"uuid"`
	SourceID uuid.UUID  `json:"source_id" format:"uuid"`
	Act      string     `json:"act" enum:"stopped,corrected"`
	Tap      string     `json:"tap,omitempty" maxLength:"120" doc:"Left out: every tap."`
	Uses     []WaterUse `json:"uses,omitempty" maxItems:"8" doc:"Left out: every use."`
	At       time.Time  `json:"at"`
	Reason   string     `json:"reason" maxLength:"2000" doc:"For a correction: cause, what was changed, how it was checked."`
	Habits
}

func (x *WaterStop) Kind() string         { return "water-action" }
func (x *WaterStop) Identity() *uuid.UUID { return &x.ID }
func (x *WaterStop) DoneOn() Date         { return Date{} }
func (x *WaterStop) SourceOf() uuid.UUID  { return x.SourceID }

func (x *WaterStop) Check(today Date, p *Problems) {
	checkOneOf(p, "/act", x.Act, "stopped", "corrected")
	checkHour(p, "/at", x.At, today)
	checkReason(p, "/reason", x.Reason)
	for i, u := range x.Uses {
		checkOneOf(p, fmt.Sprintf("/uses/%d", i), u, WaterUses...)
	}
}

// WaterTreatment is one look at treated or wash water (21 CFR 112.46, 112.50(b)(11)).
type WaterTreatment struct {
	ID          uuid.UUID `json:"id,omitzero" format:"uuid"`
	SourceID    uuid.UUID `json:"source_id" format:"uuid"`
	Tap         string    `json:"tap,omitempty" maxLength:"120"`
	Tank        string    `json:"tank,omitempty" maxLength:"120"`
	TakenAt     time.Time `json:"taken_at"`
	PPM         Number    `json:"ppm,omitzero"`
	PH          Number    `json:"ph,omitzero"`
	Water       Quantity  `json:"water_temperature,omitzero"`
	Pulp        Quantity  `json:"pulp_temperature,omitzero"`
	ContactMins int       `json:"contact_minutes,omitempty" minimum:"0" maximum:"240"`
	Crop        string    `json:"crop,omitempty" maxLength:"120"`
	Organic     bool      `json:"organic,omitempty"`
	Rinsed      Touched   `json:"rinsed,omitempty" enum:"yes,no,unknown"`
	// Product is the row of the label; without it the strength can't be judged.
	Product *ProductRow `json:"product,omitempty"`
	Habits
}

// ProductRow is what the registered label of a sanitizer says for one use.
type ProductRow struct {
	Name            string        `json:"name" maxLength:"120"`
	Is              SanitizerKind `json:"kind" enum:"sodium-hypochlorite,calcium-hypochlorite,peracetic-acid"`
	Registration    string        `json:"registration" maxLength:"60"`
	Percent         Number        `json:"percent"`
	SpecificGravity Number        `json:"specific_gravity,omitzero"`
	LabelLow        Number        `json:"label_low_ppm"`
	LabelHigh       Number        `json:"label_high_ppm"`
}

// Product gives the row as the sums use it.
func (x *ProductRow) Product() SanitizerProduct {
	return SanitizerProduct{Name: x.Name, Kind: x.Is, Registration: x.Registration, Percent: x.Percent.Decimal,
		SpecificGravity: x.SpecificGravity.Decimal, LabelLow: x.LabelLow.Decimal, LabelHigh: x.LabelHigh.Decimal}
}

func (x *WaterTreatment) Kind() string         { return "water-treatment" }
func (x *WaterTreatment) Identity() *uuid.UUID { return &x.ID }
func (x *WaterTreatment) DoneOn() Date         { return Date{} }
func (x *WaterTreatment) SourceOf() uuid.UUID  { return x.SourceID }

func (x *WaterTreatment) Check(today Date, p *Problems) {
	checkHour(p, "/taken_at", x.TakenAt, today)
	x.Reading().Check(p)
	if x.Product != nil {
		x.Product.Product().Check(p)
	}
	p.Check(x.PPM.Valid || x.PH.Valid || !x.Water.IsZero(), "/ppm", "Write down at least one measured value.")
}

// Reading gives the reading as the wash-water judgement reads it.
func (x *WaterTreatment) Reading() WashReading {
	r := WashReading{ID: x.ID, Tank: x.Tank, TakenAt: x.TakenAt, Water: x.Water, Pulp: x.Pulp, Crop: x.Crop, Organic: x.Organic, Rinsed: x.Rinsed}
	if x.PPM.Valid {
		r.PPM = &x.PPM.Decimal
	}
	if x.PH.Valid {
		r.PH = &x.PH.Decimal
	}
	return r
}

// monitoring gives the reading as a look at the treatment; in range only when the label's row says so.
func (x *WaterTreatment) monitoring() WaterMonitoring {
	m := WaterMonitoring{ID: x.ID, Tap: x.Tap, Tank: x.Tank, At: x.TakenAt}
	if x.Product != nil {
		if in, known := x.Reading().InRange(x.Product.Product()); known {
			m.InRange = &in
		}
	}
	return m
}

// Irrigation is water on growing crop.
type Irrigation struct {
	ID        uuid.UUID `json:"id,omitzero" format:"uuid"`
	SourceID  uuid.UUID `json:"source_id" format:"uuid"`
	Tap       string    `json:"tap,omitempty" maxLength:"120"`
	Ground    Ground    `json:"ground"`
	Method    string    `json:"method" enum:"drip,overhead,flood,hand,frost-protection"`
	StartedAt time.Time `json:"started_at"`
	EndedAt   time.Time `json:"ended_at,omitzero"`
	// Touched says whether the part that is sold got wet; overhead counts as yes unless said otherwise, drip as unknown on
	// crops that touch soil.
	TouchedCrop Touched `json:"touched_crop,omitempty" enum:"yes,no,unknown"`
	Habits
}

func (x *Irrigation) Kind() string         { return "irrigation" }
func (x *Irrigation) Identity() *uuid.UUID { return &x.ID }
func (x *Irrigation) DoneOn() Date         { return Date{} }
func (x *Irrigation) SourceOf() uuid.UUID  { return x.SourceID }

func (x *Irrigation) Check(today Date, p *Problems) {
	x.Ground.check(p, "/ground")
	checkOneOf(p, "/method", x.Method, "drip", "overhead", "flood", "hand", "frost-protection")
	checkHour(p, "/started_at", x.StartedAt, today)
	p.Check(x.EndedAt.IsZero() || !x.EndedAt.Before(x.StartedAt), "/ended_at", "It ended before it began. Correct one of the two.")
}

// Touches reports whether the water may have touched the part that is sold of a crop of that soil contact (21 CFR 112.3:
// intended or likely to contact).
func (x *Irrigation) Touches(contact SoilContact) bool {
	switch {
	case x.TouchedCrop == TouchedYes, x.TouchedCrop == TouchedUnknown: // said to be not known is no "no"
		return true
	case x.TouchedCrop == TouchedNo:
		return false
	case x.Method == "drip":
		return contact != HeldClear
	}
	return true
}

// Handling is what was done with lots after the cut that used water: washing, cooling, ice, rinsing of hands and tools.
type Handling struct {
	ID        uuid.UUID   `json:"id,omitzero" format:"uuid"`
	Use       WaterUse    `json:"use" enum:"harvest,washing,cooling,ice,hands,cleaning"`
	SourceID  uuid.UUID   `json:"source_id" format:"uuid"`
	Tap       string      `json:"tap,omitempty" maxLength:"120"`
	Tank      string      `json:"tank,omitempty" maxLength:"120"`
	LotIDs    []uuid.UUID `json:"lot_ids" minItems:"1" maxItems:"200"`
	StartedAt time.Time   `json:"started_at"`
	EndedAt   time.Time   `json:"ended_at,omitzero"`
	Habits
}

func (x *Handling) Kind() string         { return "handling" }
func (x *Handling) Identity() *uuid.UUID { return &x.ID }
func (x *Handling) DoneOn() Date         { return Date{} }
func (x *Handling) SourceOf() uuid.UUID  { return x.SourceID }

func (x *Handling) Check(today Date, p *Problems) {
	checkOneOf(p, "/use", x.Use, UseHarvest, UseWashing, UseCooling, UseIce, UseHands, UseCleaning)
	p.Check(len(x.LotIDs) > 0, "/lot_ids", "Say which lots.")
	checkDistinct(p, "/lot_ids", x.LotIDs)
	checkHour(p, "/started_at", x.StartedAt, today)
	p.Check(x.EndedAt.IsZero() || !x.EndedAt.Before(x.StartedAt), "/ended_at", "It ended before it began. Correct one of the two.")
}

func (x *WaterTest) SourceOf() uuid.UUID { return x.SourceID }

// Add puts a record of the book among the facts of a source: the oldest first, and of one instant the lowest id, so that
// what is said of the water is the same in whichever order its records are read.
func (f *WaterFacts) Add(r Record) {
	switch r := r.(type) {
	case *WaterSource:
		f.Source = *r
	case *WaterTest:
		f.Tests = inOrder(f.Tests, *r, func(x WaterTest) (time.Time, uuid.UUID) { return x.SampledAt, x.ID })
	case *WaterChange:
		f.Changes = inOrder(f.Changes, WaterSupplyChange{ID: r.ID, Tap: r.Tap, At: r.At, Is: r.Is},
			func(x WaterSupplyChange) (time.Time, uuid.UUID) { return x.At, x.ID })
	case *WaterPaper:
		f.Certificates = inOrder(f.Certificates, WaterCertificate{ID: r.ID, IssuedOn: r.IssuedOn},
			func(x WaterCertificate) (time.Time, uuid.UUID) { return x.IssuedOn.Time(), x.ID })
	case *WaterReview:
		f.Assessments = inOrder(f.Assessments, WaterAssessment{ID: r.ID, MadeOn: r.MadeOn, Outcome: r.Outcome},
			func(x WaterAssessment) (time.Time, uuid.UUID) { return x.MadeOn.Time(), x.ID })
	case *WaterStop:
		f.Actions = inOrder(f.Actions, WaterAction{ID: r.ID, Corrective: r.Act == "corrected", Tap: r.Tap, At: r.At, Uses: r.Uses},
			func(x WaterAction) (time.Time, uuid.UUID) { return x.At, x.ID })
	case *WaterTreatment:
		f.Monitoring = inOrder(f.Monitoring, r.monitoring(), func(x WaterMonitoring) (time.Time, uuid.UUID) { return x.At, x.ID })
		f.Treatments = inOrder(f.Treatments, *r, func(x WaterTreatment) (time.Time, uuid.UUID) { return x.TakenAt, x.ID })
	}
}

// inOrder puts x among xs by when it was and its id. Records mostly come oldest first, so its place is sought from the end.
func inOrder[T any](xs []T, x T, key func(T) (time.Time, uuid.UUID)) []T {
	at, id := key(x)
	i := len(xs)
	for ; i > 0; i-- {
		if before, other := key(xs[i-1]); cmp.Or(before.Compare(at), bytes.Compare(other[:], id[:])) <= 0 {
			break
		}
	}
	return slices.Insert(xs, i, x)
}

// CheckTap notes a tap that the source does not have. A source that names no taps takes any.
func CheckTap(p *Problems, s *WaterSource, tap string) {
	if tap == "" || len(s.Points) == 0 {
		return
	}
	var names []string
	for _, pt := range s.Points {
		if sameTap(pt.Tap, tap) {
			return
		}
		if !slices.Contains(names, pt.Tap) {
			names = append(names, pt.Tap)
		}
	}
	p.Add("/tap", "%s has no tap %q; it has: %s. Name one of them, or the source this tap belongs to.", s.Name, tap, strings.Join(names, ", "))
}
