package domain

import (
	"fmt"
	"time"

	"github.com/google/uuid"
)

// WaterKind says where water comes from and whether the farm treats it.
type WaterKind string

const (
	WaterPublicSupply     WaterKind = "public-supply"
	WaterUntreatedGround  WaterKind = "untreated-ground"
	WaterTreatedGround    WaterKind = "treated-ground"
	WaterTreatedSurface   WaterKind = "treated-surface"
	WaterUntreatedSurface WaterKind = "untreated-surface"
	WaterRain             WaterKind = "rain"
)

// WaterKinds is the closed list, in the order of the contract.
var WaterKinds = []WaterKind{WaterPublicSupply, WaterUntreatedGround, WaterTreatedGround, WaterTreatedSurface,
	WaterUntreatedSurface, WaterRain}

// origin is the water itself, whatever is done to it: a well with a lamp on it is still that well.
func (k WaterKind) origin() string {
	switch k {
	case WaterUntreatedGround, WaterTreatedGround:
		return "ground"
	case WaterTreatedSurface, WaterUntreatedSurface:
		return "surface"
	}
	return string(k)
}

// WaterUse is what the water is used for; each use is judged by its own rule.
type WaterUse string

const (
	UseIrrigationTouching    WaterUse = "irrigation-touching" // the part that is sold gets wet
	UseIrrigationNotTouching WaterUse = "irrigation-not-touching"
	UseHarvest               WaterUse = "harvest"
	UseWashing               WaterUse = "washing"
	UseCooling               WaterUse = "cooling"
	UseIce                   WaterUse = "ice"
	UseHands                 WaterUse = "hands"
	UseCleaning              WaterUse = "cleaning" // surfaces and tools that touch food
)

// WaterUses is the closed list.
var WaterUses = []WaterUse{UseIrrigationTouching, UseIrrigationNotTouching, UseHarvest, UseWashing, UseCooling, UseIce,
	UseHands, UseCleaning}

// AtHarvestOrAfter reports the uses of 21 CFR 112.44(a), where no E. coli may be found in 100 mL. A use that is not on
// the list counts among them, because that is the strictest reading.
func (u WaterUse) AtHarvestOrAfter() bool {
	return u != UseIrrigationTouching && u != UseIrrigationNotTouching
}

// WaterSource is one source of water. Another source is another record and never a new name for the old one: the record
// must still tell which water washed last month's lots.
type WaterSource struct {
	ID   uuid.UUID  `json:"id,omitzero" format:"uuid"`
	Name string     `json:"name" maxLength:"120"`
	Is   WaterKind  `json:"kind" enum:"public-supply,untreated-ground,treated-ground,treated-surface,untreated-surface,rain"`
	Uses []WaterUse `json:"uses,omitempty" maxItems:"8"`
	// Points says at which tap each use draws. Without it, only samples that name no tap speak for the source.
	Points []WaterPoint `json:"points,omitempty" maxItems:"40"`
	From   time.Time    `json:"from,omitzero" doc:"First instant in service; left out: always."`
	To     time.Time    `json:"to,omitzero" doc:"First instant out of service; left out: still in service."`
	Habits
}

// WaterPoint is the tap at which a use draws its water.
type WaterPoint struct {
	Use WaterUse `json:"use"`
	Tap string   `json:"tap" maxLength:"120"`
}

func (x *WaterSource) Kind() string         { return "water-source" }
func (x *WaterSource) Identity() *uuid.UUID { return &x.ID }
func (x *WaterSource) DoneOn() Date         { return Date{} }

func (x *WaterSource) Check(today Date, p *Problems) {
	checkName(p, "/name", x.Name)
	checkOneOf(p, "/kind", x.Is, WaterKinds...)
	for i, u := range x.Uses {
		checkOneOf(p, fmt.Sprintf("/uses/%d", i), u, WaterUses...)
	}
	for i, pt := range x.Points {
		checkOneOf(p, fmt.Sprintf("/points/%d/use", i), pt.Use, WaterUses...)
		checkName(p, fmt.Sprintf("/points/%d/tap", i), pt.Tap)
	}
	p.Check(x.To.IsZero() || x.To.After(x.From), "/to", "The source goes out of service before it comes in. Correct the two instants.")
}

// WaterSupplyChange says that from an instant on a tap, or every tap ("" in Tap), gives other water (Is names its kind)
// or the same water through other pipes (Is empty). Samples from before say nothing good about what comes after.
type WaterSupplyChange struct {
	ID  uuid.UUID
	Tap string
	At  time.Time
	Is  WaterKind
}

// WaterCertificate is the yearly paper of a public supply; it holds for twelve months from its issue.
type WaterCertificate struct {
	ID       uuid.UUID
	IssuedOn Date
}

// WaterMonitoring is one look at a treatment. InRange nil means that nobody said.
type WaterMonitoring struct {
	ID      uuid.UUID
	Tap     string
	Tank    string
	At      time.Time
	InRange *bool
}

// WaterAction is a stop, or the record that its cause was found and corrected (21 CFR 112.45(a)). Empty Uses: all uses.
type WaterAction struct {
	ID         uuid.UUID
	Corrective bool // false: use stopped
	Tap        string
	At         time.Time
	Uses       []WaterUse
}

// WaterAssessment is the written pre-harvest assessment: Outcome "adequate", "mitigate" or "not-adequate".
type WaterAssessment struct {
	ID      uuid.UUID
	MadeOn  Date
	Outcome string
}

// WaterFacts is all that the book knows about one source; Add keeps each list oldest first. Leave out what was not known
// yet to judge as it looked then.
type WaterFacts struct {
	Source       WaterSource
	Size         FarmSize
	Zone         *time.Location // nil: UTC
	Changes      []WaterSupplyChange
	Tests        []WaterTest
	Certificates []WaterCertificate
	Monitoring   []WaterMonitoring
	Treatments   []WaterTreatment // the readings that Monitoring is made from
	Actions      []WaterAction
	Assessments  []WaterAssessment
	Holds        []HoldSpan
	// MonitorEvery is the farm's own interval. Zero: a reading on the same farm day, because the law leaves it open.
	MonitorEvery time.Duration
	// BuyerProfile says that a buyer still asks for the numbers of 2015.
	BuyerProfile bool
}
