package domain

import (
	"strings"
	"time"

	"github.com/google/uuid"
)

// Farm is the tenant: one book, one time zone, one set of adopted standards.
type Farm struct {
	ID        uuid.UUID         `json:"id,omitzero" format:"uuid"`
	Name      string            `json:"name" maxLength:"120"`
	Address   string            `json:"address,omitempty" maxLength:"500"`
	Phone     string            `json:"phone,omitempty" maxLength:"60"`
	TimeZone  string            `json:"time_zone" maxLength:"60" doc:"IANA name, for example America/New_York."`
	Standards []AdoptedStandard `json:"standards,omitempty" maxItems:"20"`
	Certifier string            `json:"certifier,omitempty" maxLength:"200"`
	Exemption string            `json:"exemption,omitempty" enum:"none,not-covered,qualified" doc:"Status under 21 CFR 112.4 and 112.5."`
	Units     string            `json:"units,omitempty" enum:"us,metric"`
	Compost   *CompostPlan      `json:"compost,omitempty"`
	// Contact and ContactPhone are who answers a traceback at any hour (21 CFR 1.1315(a)(4)).
	Contact      string `json:"contact,omitempty" maxLength:"120"`
	ContactPhone string `json:"contact_phone,omitempty" maxLength:"60"`
	// Web is an address of the farm's own; ids in files for machines begin with it.
	Web string `json:"web,omitempty" maxLength:"200"`
	// GS1Prefix is a licensed company prefix; without one no GTIN is ever made up.
	GS1Prefix string `json:"gs1_prefix,omitempty" maxLength:"12"`
	// GS1Items are the numbers that the farm gave its products under that prefix.
	GS1Items []GS1Item `json:"gs1_items,omitempty" maxItems:"500"`
	// PublicPage is what everybody sees who scans a label; crop and farm when left out.
	PublicPage []PublicFact `json:"public_page,omitempty" minItems:"1" maxItems:"20" doc:"What a scanned label shows to people without an account; crop and farm when left out."`
	// Size sets when the water rules of 21 CFR part 112 began; not said counts as the earliest.
	Size FarmSize `json:"produce_safety_size,omitempty" enum:"large,small,very-small"`
	// PackTolerancePct is how many percent of a packing run may be missing or gained; 5 when left out.
	PackTolerancePct *int `json:"pack_tolerance_pct,omitempty" minimum:"0" maximum:"50"`
	// BuyerWaterProfile says that a buyer still asks for the numbers of 2015.
	BuyerWaterProfile bool `json:"buyer_water_profile,omitempty"`
	// Key is the farm's short mark in label links; given by the book, never by the caller.
	Key string `json:"key,omitempty" maxLength:"12"`
	Habits
}

// AdoptedStandard is a rule set the farm answers to, from a day on, and until a day when it gave it up.
type AdoptedStandard struct {
	Set  string `json:"set" maxLength:"60"`
	From Date   `json:"from" format:"date"`
	To   Date   `json:"to,omitzero" format:"date"`
}

func (f *Farm) Kind() string         { return "farm" }
func (f *Farm) Identity() *uuid.UUID { return &f.ID }
func (f *Farm) DoneOn() Date         { return Date{} }

func (f *Farm) Check(today Date, p *Problems) {
	checkName(p, "/name", f.Name)
	checkText(p, "/address", f.Address, 500)
	checkText(p, "/phone", f.Phone, 60)
	checkText(p, "/certifier", f.Certifier, 200)
	if f.Exemption != "" {
		checkOneOf(p, "/exemption", f.Exemption, "none", "not-covered", "qualified")
	}
	if f.Units != "" {
		checkOneOf(p, "/units", f.Units, "us", "metric")
	}
	if _, err := Zone(f.TimeZone); err != nil {
		p.Add("/time_zone", "%q is not a time zone we know. Use a name such as America/New_York or America/Los_Angeles.", f.TimeZone)
	}
	f.checkIDs(p)
	f.checkPublicPage(p)
	for i, s := range f.Standards {
		at := "/standards/" + itoa(i)
		if _, ok := RuleSetByID(s.Set); !ok {
			p.Add(at+"/set", "%q is not a rule set of this book. Choose from: %s.", s.Set, ruleSetNames())
		}
		checkPlanDay(p, at+"/from", s.From, today)
		p.Check(!s.From.IsZero(), at+"/from", "Give the day from which the farm answers to this set.")
		p.Check(s.To.IsZero() || !s.To.Before(s.From), at+"/to", "%s is before %s, the first day.", s.To, s.From)
	}
}

// checkIDs notes an address or a company prefix that no id may begin with.
func (f *Farm) checkIDs(p *Problems) {
	checkText(p, "/contact", f.Contact, 120)
	checkText(p, "/contact_phone", f.ContactPhone, 60)
	if f.Web != "" && checkGS1Stem(strings.TrimSuffix(f.Web, "/")) != nil {
		p.Add("/web", "%q is not an address such as https://trace.example.org.", f.Web)
	}
	prefix, err := ParseGS1Prefix(f.GS1Prefix)
	if err != nil {
		p.Add("/gs1_prefix", "Copy the company prefix from the GS1 licence, 4 to 12 digits, or leave it out: nothing asks for one.")
	}
	p.Check(!prefix.IsExample(), "/gs1_prefix", "Prefixes that begin with 952 are for examples and must not stand on real produce.")
	if err == nil {
		f.checkItems(p, prefix)
	}
}

// produceSafety is the rule set from which farms may be exempt.
const produceSafety = "us-produce-safety"

// exempt reports that 21 CFR part 112 does not ask of the farm what it asks of covered ones.
func (f *Farm) exempt() bool { return f.Exemption == "qualified" || f.Exemption == "not-covered" }

// SetsOn lists the rule sets in force for the farm on a day, in the order they were adopted.
func (f *Farm) SetsOn(d Date) []string {
	var sets []string
	for _, s := range f.Standards {
		if !d.Before(s.From) && (s.To.IsZero() || d.Before(s.To)) {
			sets = append(sets, s.Set)
		}
	}
	return sets
}

// Zone gives the time zone of an IANA name. "Local" and the empty name are refused: they mean another place on another
// machine.
func Zone(name string) (*time.Location, error) {
	if name == "" || name == "Local" {
		return nil, Refuse(CodeInvalid, "No such time zone", "%q is not a time zone", name)
	}
	return time.LoadLocation(name)
}
