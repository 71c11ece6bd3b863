package domain

import (
	"strings"

	"github.com/google/uuid"
)

// Category says what an input is. The category, the animals behind it and the supplier's paper decide how it is judged.
type Category string

const (
	RawManure       Category = "raw-manure"
	AgedManure      Category = "aged-manure"
	BoughtCompost   Category = "bought-compost"
	Vermicompost    Category = "vermicompost"
	ProcessedManure Category = "processed-manure"
	CompostTea      Category = "compost-tea"
	ManureTea       Category = "manure-tea"
	PlantMaterial   Category = "plant-material"
	Mineral         Category = "mineral"
	AnimalByproduct Category = "animal-byproduct"
	PottingMix      Category = "potting-mix"
	Seed            Category = "seed"
	Transplant      Category = "transplant"
	Sanitizer       Category = "sanitizer"
	CropProtection  Category = "crop-protection"
	Biosolids       Category = "biosolids"
)

// Categories is the closed list, in the order people meet it.
var Categories = []Category{RawManure, AgedManure, BoughtCompost, Vermicompost, ProcessedManure, CompostTea, ManureTea,
	PlantMaterial, Mineral, AnimalByproduct, PottingMix, Seed, Transplant, Sanitizer, CropProtection, Biosolids}

// Input is a material the farm buys or fetches: what it is, not one delivery of it.
type Input struct {
	ID       uuid.UUID `json:"id,omitzero" format:"uuid"`
	Name     string    `json:"name" maxLength:"120"`
	Category Category  `json:"category" enum:"raw-manure,aged-manure,bought-compost,vermicompost,processed-manure,compost-tea,manure-tea,plant-material,mineral,animal-byproduct,potting-mix,seed,transplant,sanitizer,crop-protection,biosolids"`
	// Species names the animals behind it. On plant material it says that animals had the heap: it then counts as raw.
	Species string `json:"species,omitempty" maxLength:"120"`
	Habits
}

func (x *Input) Kind() string         { return "input" }
func (x *Input) Identity() *uuid.UUID { return &x.ID }
func (x *Input) DoneOn() Date         { return Date{} }

func (x *Input) Check(today Date, p *Problems) {
	checkName(p, "/name", x.Name)
	checkText(p, "/species", x.Species, 120)
	checkOneOf(p, "/category", x.Category, Categories...)
}

// InputLot is one delivery of an input. It is what an application names, and what a supplier's letter calls back.
type InputLot struct {
	ID          uuid.UUID    `json:"id,omitzero" format:"uuid"`
	InputID     uuid.UUID    `json:"input_id" format:"uuid"`
	Supplier    string       `json:"supplier" maxLength:"200"`
	SupplierLot string       `json:"supplier_lot,omitempty" maxLength:"120"`
	ReceivedOn  Date         `json:"received_on" format:"date"`
	Quantity    Quantity     `json:"quantity"`
	Certificate *Certificate `json:"certificate,omitempty"`
	Habits
}

// Certificate is the supplier's paper that a treated amendment was processed by a valid, monitored process and handled
// cleanly (21 CFR 112.60(b)(1); renewed at least yearly).
type Certificate struct {
	IssuedOn  Date   `json:"issued_on" format:"date"`
	ExpiresOn Date   `json:"expires_on,omitzero" format:"date"`
	Process   string `json:"process" maxLength:"500" doc:"The process the supplier states, in the supplier's words."`
	Handling  string `json:"handling,omitempty" maxLength:"500" doc:"What the supplier states of keeping it clean after treatment: handled, moved and stored apart from raw manure."`
}

func (x *InputLot) Kind() string         { return "input-lot" }
func (x *InputLot) Identity() *uuid.UUID { return &x.ID }
func (x *InputLot) DoneOn() Date         { return x.ReceivedOn }

func (x *InputLot) Check(today Date, p *Problems) {
	p.Check(x.InputID != uuid.Nil, "/input_id", "Say which input this is a delivery of.")
	checkName(p, "/supplier", x.Supplier)
	checkText(p, "/supplier_lot", x.SupplierLot, 120)
	checkDay(p, "/received_on", x.ReceivedOn, today)
	x.Quantity.Check(p, "/quantity", "10000000", Mass, Volume, Count)
	if c := x.Certificate; c != nil {
		checkDay(p, "/certificate/issued_on", c.IssuedOn, today)
		p.Check(c.ExpiresOn.IsZero() || c.ExpiresOn.After(c.IssuedOn), "/certificate/expires_on", "%s is not after the issue on %s.", c.ExpiresOn, c.IssuedOn)
		checkReason(p, "/certificate/process", c.Process)
	}
}

// InputLotWarnings says what a delivery's paper lacks: a treated amendment needs it from the supplier, at least once a
// year, and it states both the process and the clean handling after it (21 CFR 112.60(b)(1)).
func InputLotWarnings(in *Input, lot *InputLot) (warnings []string) {
	papered := &InputLot{Certificate: &Certificate{IssuedOn: lot.ReceivedOn}}
	if standing, _ := InputStanding(in, papered, lot.ReceivedOn); standing != Treated {
		return nil // no paper makes this treated, or it needs none
	}
	switch c := lot.Certificate; {
	case c == nil:
		warnings = append(warnings, "No supplier's certificate is on file: it counts as untreated until there is one.")
	case strings.TrimSpace(c.Handling) == "":
		warnings = append(warnings, "The certificate does not state that it was handled cleanly after treatment. Ask the supplier for it (21 CFR 112.60(b)(1)).")
	}
	return warnings
}

// ValidOn reports whether the certificate covers an application on a day: for one year from its issue at most, whatever
// the paper says (21 CFR 112.60(b)(1): at least annually).
func (c *Certificate) ValidOn(d Date) bool {
	if c == nil || d.Before(c.IssuedOn) {
		return false
	}
	if !c.ExpiresOn.IsZero() && d.After(c.ExpiresOn) {
		return false
	}
	return !d.After(c.IssuedOn.AddMonths(12))
}
