package domain

import (
	"strings"

	"github.com/google/uuid"
)

// SoilContact says whether the edible part of a crop touches soil, or is splashed by it, as it is grown.
type SoilContact string

const (
	Touches        SoilContact = "touches"
	HeldClear      SoilContact = "clear"
	ContactUnknown SoilContact = "unknown"
)

// Crop is one entry of the farm's crop list, usually taken from the shipped catalogue by its name. Saying that a crop
// does not touch soil where the catalogue says it does, or is no leafy green where the catalogue says it is, needs a
// reason, because it moves harvest days.
type Crop struct {
	ID                   uuid.UUID   `json:"id,omitzero" format:"uuid"`
	Name                 string      `json:"name" maxLength:"120"`
	Variety              string      `json:"variety,omitempty" maxLength:"120"`
	SoilContact          SoilContact `json:"soil_contact" enum:"touches,clear,unknown"`
	TraceabilityListItem string      `json:"traceability_list_item,omitempty" maxLength:"120"`
	RarelyConsumedRaw    bool        `json:"rarely_consumed_raw,omitempty"`
	// Use is food unless said otherwise: a cover crop or feed has no interval of its own (7 CFR 205.203(c)(1)(i)).
	Use string `json:"use,omitempty" enum:"food,cover-crop,feed"`
	// LeafyGreen marks crops that some buyers hold to a longer interval. Left out, the catalogue says; where it does not know,
	// the crop counts as one.
	LeafyGreen     *bool  `json:"leafy_green,omitempty"`
	DaysToHarvest  int    `json:"days_to_harvest,omitempty" minimum:"0" maximum:"1000"`
	SourceMark     string `json:"source_mark,omitempty" maxLength:"300" doc:"Where a catalogue row's figures come from."`
	CatalogueEntry string `json:"catalogue_entry,omitempty" maxLength:"120"`
	Reason         string `json:"reason,omitempty" maxLength:"1000" doc:"Needed when soil contact or leafy_green is milder than the catalogue says."`
	Habits
}

func (x *Crop) Kind() string         { return "crop" }
func (x *Crop) Identity() *uuid.UUID { return &x.ID }
func (x *Crop) DoneOn() Date         { return Date{} }

func (x *Crop) Check(today Date, p *Problems) {
	checkName(p, "/name", x.Name)
	checkText(p, "/variety", x.Variety, 120)
	checkText(p, "/reason", x.Reason, 1000)
	checkText(p, "/source_mark", x.SourceMark, 300)
	checkText(p, "/traceability_list_item", x.TraceabilityListItem, 120)
	p.Check(x.DaysToHarvest >= 0 && x.DaysToHarvest <= 1000, "/days_to_harvest", "%d days cannot be.", x.DaysToHarvest)
	checkOneOf(p, "/soil_contact", x.SoilContact, Touches, HeldClear, ContactUnknown)
	if x.Use != "" {
		checkOneOf(p, "/use", x.Use, "food", "cover-crop", "feed")
	}
	x.checkClasses(p)
	if x.CatalogueEntry == "" {
		return
	}
	row, ok := CatalogueCrop(x.CatalogueEntry)
	if !ok {
		p.Add("/catalogue_entry", "%q is not in the shipped crop catalogue.", x.CatalogueEntry)
		return
	}
	if x.SoilContact == HeldClear && row.SoilContact == Touches {
		p.Check(x.Reason != "", "/reason", "The catalogue says %s touches soil. Say why it does not as you grow it.", row.Name)
	}
}

// Planting is one crop in one or more beds. Several plantings may share a bed at the same time (interplanting); each is
// judged for itself.
type Planting struct {
	ID     uuid.UUID   `json:"id,omitzero" format:"uuid"`
	CropID uuid.UUID   `json:"crop_id" format:"uuid"`
	BedIDs []uuid.UUID `json:"bed_ids" minItems:"1" maxItems:"200"`
	// PlantedOn is the day of sowing or transplanting into the bed.
	PlantedOn Date `json:"planted_on" format:"date"`
	// SoilContact is as grown here; left out, the crop's own holds.
	SoilContact       SoilContact `json:"soil_contact,omitempty" enum:"touches,clear,unknown"`
	Method            string      `json:"method,omitempty" maxLength:"120" doc:"For example direct seeded, transplanted, trellised."`
	SeedLotID         uuid.UUID   `json:"seed_lot_id,omitzero" format:"uuid"`
	ExpectedHarvestOn Date        `json:"expected_harvest_on,omitzero" format:"date"`
	EndedOn           Date        `json:"ended_on,omitzero" format:"date"`
	TrialArm          string      `json:"trial_arm,omitempty" maxLength:"60"`
	// Reason stands behind a soil contact that is milder than the crop's own, because it moves harvest days.
	Reason string `json:"reason,omitempty" maxLength:"1000" doc:"Needed when this planting is said to be clear of the soil and its crop is not."`
	Habits
}

func (x *Planting) Kind() string         { return "planting" }
func (x *Planting) Identity() *uuid.UUID { return &x.ID }
func (x *Planting) DoneOn() Date         { return x.PlantedOn }

// CheckContact notes a planting that is said to be clear of the soil while its crop is not, without a reason.
func (x *Planting) CheckContact(p *Problems, crop *Crop) {
	if x.SoilContact == HeldClear && crop.SoilContact != HeldClear {
		p.Check(strings.TrimSpace(x.Reason) != "", "/reason", "The crop list says %s %s. Say why this planting is clear of the soil, for example trellised.", crop.Name, contactWords[crop.SoilContact])
	}
}

// contactWords say a crop's soil contact in a sentence.
var contactWords = map[SoilContact]string{Touches: "touches soil", ContactUnknown: "may touch soil, nobody said which"}

func (x *Planting) Check(today Date, p *Problems) {
	p.Check(x.CropID != uuid.Nil, "/crop_id", "Say which crop.")
	p.Check(len(x.BedIDs) > 0, "/bed_ids", "Say which bed.")
	checkDistinct(p, "/bed_ids", x.BedIDs)
	checkDay(p, "/planted_on", x.PlantedOn, today)
	if x.SoilContact != "" {
		checkOneOf(p, "/soil_contact", x.SoilContact, Touches, HeldClear, ContactUnknown)
	}
	checkText(p, "/method", x.Method, 120)
	checkText(p, "/trial_arm", x.TrialArm, 60)
	checkText(p, "/reason", x.Reason, 1000)
	checkPlanDay(p, "/expected_harvest_on", x.ExpectedHarvestOn, today)
	p.Check(x.ExpectedHarvestOn.IsZero() || !x.ExpectedHarvestOn.Before(x.PlantedOn), "/expected_harvest_on",
		"%s is before the planting on %s.", x.ExpectedHarvestOn, x.PlantedOn)
	checkOptionalDay(p, "/ended_on", x.EndedOn, today)
	p.Check(x.EndedOn.IsZero() || !x.EndedOn.Before(x.PlantedOn), "/ended_on", "%s is before the planting on %s.", x.EndedOn, x.PlantedOn)
}
