package domain

import "github.com/google/uuid"

// Plot is a named piece of ground that holds beds. What it was before is part of what its beds inherit.
type Plot struct {
	ID          uuid.UUID  `json:"id,omitzero" format:"uuid"`
	Name        string     `json:"name" maxLength:"120"`
	Location    *Location  `json:"location,omitempty"`
	PriorUse    []PriorUse `json:"prior_use,omitempty" maxItems:"30"`
	History     string     `json:"history,omitempty" enum:"known,unknown" doc:"Is it known what this ground was used for before?"`
	OrganicFrom Date       `json:"organic_from,omitzero" format:"date"`
	Habits
}

// Location is a point of the farm map (WGS 84 degrees), for the traceability plan of 21 CFR 1.1315(a)(5).
type Location struct {
	Lat string `json:"lat" maxLength:"20" doc:"Degrees north as a decimal text."`
	Lon string `json:"lon" maxLength:"20" doc:"Degrees east as a decimal text."`
}

// PriorUse is what the ground was used for before it was grown on. Uses that leave droppings count like grazing whose
// last day is Until.
type PriorUse struct {
	Kind  string `json:"kind" enum:"vegetables,hay,grassland,fallow,orchard,pasture,paddock,stable,manure-heap,dump,other"`
	Until Date   `json:"until,omitzero" format:"date"`
	Note  string `json:"note,omitempty" maxLength:"1000"`
}

// animalUse lists the prior uses that left droppings or manure in the ground, with their names in Spanish.
var animalUse = map[string]string{"pasture": "pastizal", "paddock": "corral", "stable": "establo", "manure-heap": "estercolero"}

func (x *Plot) Kind() string         { return "plot" }
func (x *Plot) Identity() *uuid.UUID { return &x.ID }
func (x *Plot) DoneOn() Date         { return Date{} }

func (x *Plot) Check(today Date, p *Problems) {
	checkName(p, "/name", x.Name)
	if x.History != "" {
		checkOneOf(p, "/history", x.History, "known", "unknown")
	}
	for i, u := range x.PriorUse {
		at := "/prior_use/" + itoa(i)
		checkOneOf(p, at+"/kind", u.Kind, "vegetables", "hay", "grassland", "fallow", "orchard", "pasture", "paddock", "stable", "manure-heap", "dump", "other")
		checkOptionalDay(p, at+"/until", u.Until, today)
		checkText(p, at+"/note", u.Note, 1000)
	}
	if x.Location != nil {
		x.Location.check(p, "/location")
	}
	checkPlanDay(p, "/organic_from", x.OrganicFrom, today)
}

func (l Location) check(p *Problems, pointer string) {
	checkDegrees(p, pointer+"/lat", l.Lat, 90)
	checkDegrees(p, pointer+"/lon", l.Lon, 180)
}

func checkDegrees(p *Problems, pointer, s string, most int64) {
	d, err := ParseDecimal(s)
	if err != nil || d.Abs().IntPart() > most || (d.Abs().IntPart() == most && !d.Abs().IsInteger()) {
		p.Add(pointer, "%q is not a number of degrees between -%d and %d.", s, most, most)
	}
}
