package domain

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/shopspring/decimal"
)

// CompostMethod is how a batch is made.
type CompostMethod string

const (
	InVessel          CompostMethod = "in-vessel"
	AeratedStaticPile CompostMethod = "aerated-static-pile"
	TurnedWindrow     CompostMethod = "turned-windrow"
	Worms             CompostMethod = "vermicompost"
	Passive           CompostMethod = "passive"
)

// CompostMethods is the closed list.
var CompostMethods = []CompostMethod{InVessel, AeratedStaticPile, TurnedWindrow, Worms, Passive}

// CompostBatch is one batch: what it was made of and how. Fresh material put in later is a CompostAddition.
type CompostBatch struct {
	ID          uuid.UUID     `json:"id,omitzero" format:"uuid"`
	Code        string        `json:"code" maxLength:"120"`
	Method      CompostMethod `json:"method" enum:"in-vessel,aerated-static-pile,turned-windrow,vermicompost,passive"`
	StartedOn   Date          `json:"started_on" format:"date"`
	Ingredients []Ingredient  `json:"ingredients" maxItems:"50"`
	// Points say how many spots must be read; left out, three.
	Points []PointPlan `json:"points,omitempty" maxItems:"20"`
	Habits
}

func (x *CompostBatch) Kind() string         { return "compost-batch" }
func (x *CompostBatch) Identity() *uuid.UUID { return &x.ID }
func (x *CompostBatch) DoneOn() Date         { return x.StartedOn }

func (x *CompostBatch) Check(today Date, p *Problems) {
	checkName(p, "/code", x.Code)
	checkOneOf(p, "/method", x.Method, CompostMethods...)
	checkDay(p, "/started_on", x.StartedOn, today)
	p.Check(len(x.Ingredients) > 0, "/ingredients", "Write down what went into the batch.")
	p.Check(len(x.Ingredients) <= 50, "/ingredients", "At most 50 ingredients fit one batch.")
	for i, in := range x.Ingredients {
		in.Check(p, fmt.Sprintf("/ingredients/%d", i))
	}
	for i, plan := range x.Points {
		plan.check(p, fmt.Sprintf("/points/%d", i))
	}
}

// CompostReading is one temperature at one spot. Probe names the spot, as marked on the heap or on the logger.
type CompostReading struct {
	TakenAt     time.Time `json:"taken_at"`
	Probe       string    `json:"probe" maxLength:"120"`
	Depth       Quantity  `json:"depth,omitzero"`
	Temperature Quantity  `json:"temperature"`
	// Logger marks a sample of a recording thermometer; a whole day of samples is one reading of the spot.
	Logger bool `json:"logger,omitempty"`
	// FromMemory marks a reading written down afterwards with nothing to show for it: it can spoil a day, not make one.
	FromMemory bool `json:"from_memory,omitempty"`
	// Void takes a reading of a faulty probe out; see ReadingVoid.
	Void *ReadingVoid `json:"void,omitempty"`
}

// ReadingVoid counts only with a reason, two persons, and another reading of the same spot on the same date (A15 of
// the calculations reference 2.3). Without them the reading stays in the judgement.
type ReadingVoid struct {
	Reason       string    `json:"reason"`
	By           uuid.UUID `json:"by"`
	SecondPerson uuid.UUID `json:"second_person"`
}

func (v *ReadingVoid) complete() bool {
	return v != nil && strings.TrimSpace(v.Reason) != "" && v.By != uuid.Nil && v.SecondPerson != uuid.Nil && v.By != v.SecondPerson
}

// No heap is colder or hotter than this; a number beyond is a slip on the keypad (record forms S7).
// -40 and 212 degF, in ninths.
var coldestHeap, hottestHeap = decimal.NewFromInt(-360), decimal.NewFromInt(900)

// Check notes what is wrong with the reading taken alone.
func (r CompostReading) Check(p *Problems, pointer string) {
	p.Check(!r.TakenAt.IsZero(), pointer+"/taken_at", "Say when it was read, with day and hour.")
	checkName(p, pointer+"/probe", r.Probe)
	if t := checkTemperature(r.Temperature); t != nil {
		p.Add(pointer+"/temperature", "%s", t.En)
	}
}

// checkTemperature tells what is wrong with a heap temperature, nil when nothing is.
func checkTemperature(q Quantity) *LocalText {
	n, ok := ninths(q)
	var t LocalText
	switch {
	case !ok:
		t = say("%q is no unit of temperature: use degF or degC.", "%q no es una unidad de temperatura: use degF o degC.", q.Unit)
	case n.GreaterThan(hottestHeap):
		t = say("%s %s is hotter than any heap. Check the decimal point (131.0, not 1310).",
			"%s %s es más caliente que cualquier pila. Revise el punto decimal (131.0, no 1310).", q.Value, q.Unit)
	case n.LessThan(coldestHeap):
		t = say("%s %s is colder than any heap. Check the number.", "%s %s es más frío que cualquier pila. Revise el número.", q.Value, q.Unit)
	default:
		return nil
	}
	return &t
}

// CompostTemperatures is one round of readings.
type CompostTemperatures struct {
	ID       uuid.UUID        `json:"id,omitzero" format:"uuid"`
	BatchID  uuid.UUID        `json:"compost_batch_id,omitzero" format:"uuid"`
	Readings []CompostReading `json:"readings"`
	Habits
}

func (x *CompostTemperatures) Kind() string         { return "compost-temperatures" }
func (x *CompostTemperatures) Identity() *uuid.UUID { return &x.ID }
func (x *CompostTemperatures) DoneOn() Date         { return Date{} }

func (x *CompostTemperatures) Check(today Date, p *Problems) {
	p.Check(len(x.Readings) > 0, "/readings", "Give at least one reading.")
	for i, r := range x.Readings {
		pointer := fmt.Sprintf("/readings/%d", i)
		r.Check(p, pointer)
		if !r.TakenAt.IsZero() {
			checkHour(p, pointer+"/taken_at", r.TakenAt, today)
		}
	}
}

// CompostTurning is one turning of the heap.
type CompostTurning struct {
	ID       uuid.UUID `json:"id,omitzero" format:"uuid"`
	BatchID  uuid.UUID `json:"compost_batch_id,omitzero" format:"uuid"`
	TurnedAt time.Time `json:"turned_at"`
	Habits
}

func (x *CompostTurning) Kind() string         { return "compost-turning" }
func (x *CompostTurning) Identity() *uuid.UUID { return &x.ID }
func (x *CompostTurning) DoneOn() Date         { return Date{} }

func (x *CompostTurning) Check(today Date, p *Problems) {
	checkHour(p, "/turned_at", x.TurnedAt, today)
}

// checkHour is checkDay for an instant; the day in UTC is near enough to find a wrong year.
func checkHour(p *Problems, pointer string, at time.Time, today Date) {
	if at.IsZero() {
		p.Add(pointer, "Say when, with day and hour.")
		return
	}
	checkDay(p, pointer, DateIn(at, time.UTC), today)
}

// CompostAddition is material put into a batch after it was built. Anything but water starts the process again.
type CompostAddition struct {
	ID         uuid.UUID  `json:"id,omitzero" format:"uuid"`
	BatchID    uuid.UUID  `json:"compost_batch_id,omitzero" format:"uuid"`
	AddedAt    time.Time  `json:"added_at"`
	Ingredient Ingredient `json:"ingredient"`
	// CarbonNitrogen is the C:N of the whole heap established anew after the addition.
	CarbonNitrogen Number `json:"carbon_nitrogen,omitzero"`
	Habits
}

func (x *CompostAddition) Kind() string         { return "compost-addition" }
func (x *CompostAddition) Identity() *uuid.UUID { return &x.ID }
func (x *CompostAddition) DoneOn() Date         { return Date{} }

func (x *CompostAddition) Check(today Date, p *Problems) {
	checkHour(p, "/added_at", x.AddedAt, today)
	x.Ingredient.Check(p, "/ingredient")
	checkShare(p, "/carbon_nitrogen", x.CarbonNitrogen, "5000")
}

// Restarts reports whether the process begins again (A12 to A14): everything does but clean water.
func (x *CompostAddition) Restarts() bool {
	name := strings.ToLower(strings.TrimSpace(x.Ingredient.Feedstock))
	return !slices.Contains([]string{"water", "agua"}, name) || x.Ingredient.Origin() == OriginAnimal
}

// CompostCuring is the rest after the heat. FinishedOn is left out while it lasts.
type CompostCuring struct {
	ID         uuid.UUID `json:"id,omitzero" format:"uuid"`
	BatchID    uuid.UUID `json:"compost_batch_id,omitzero" format:"uuid"`
	StartedOn  Date      `json:"started_on" format:"date"`
	FinishedOn Date      `json:"finished_on,omitzero" format:"date"`
	// Yield is how much finished compost there was.
	Yield Quantity `json:"yield,omitzero"`
	// Reheated says that the heap warmed up again by 10 degF or more three days after a turning: it is not done.
	Reheated bool `json:"reheated,omitempty"`
	Habits
}

func (x *CompostCuring) Kind() string         { return "compost-curing" }
func (x *CompostCuring) Identity() *uuid.UUID { return &x.ID }
func (x *CompostCuring) DoneOn() Date         { return x.StartedOn }

func (x *CompostCuring) Check(today Date, p *Problems) {
	checkDay(p, "/started_on", x.StartedOn, today)
	checkOptionalDay(p, "/finished_on", x.FinishedOn, today)
	p.Check(x.FinishedOn.IsZero() || !x.FinishedOn.Before(x.StartedOn), "/finished_on", "Curing cannot end before it began.")
	if !x.Yield.IsZero() {
		x.Yield.Check(p, "/yield", "1000000", Mass, Volume)
	}
}
