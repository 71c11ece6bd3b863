package domain

import (
	_ "embed"
	"encoding/csv"
	"strconv"
	"strings"
)

//go:embed crops.csv
var cropsCSV string

// CatalogueRow is one crop of the shipped catalogue with the mark of where its figures come from.
type CatalogueRow struct {
	Name                 string      `json:"name"`
	BotanicalName        string      `json:"botanical_name"`
	EdiblePart           string      `json:"edible_part"`
	SoilContact          SoilContact `json:"soil_contact"`
	Alternative          string      `json:"alternative,omitempty"` // when the edible part may be held clear
	RarelyConsumedRaw    bool        `json:"rarely_consumed_raw"`
	TraceabilityList     string      `json:"traceability_list"` // yes, no, exempt, unclear
	TraceabilityListItem string      `json:"traceability_list_item,omitempty"`
	DaysLow              int         `json:"days_low,omitempty"`
	DaysHigh             int         `json:"days_high,omitempty"`
	DaysFrom             string      `json:"days_from,omitempty"`
	HarvestUnits         string      `json:"harvest_units,omitempty"`
	Note                 string      `json:"note,omitempty"`
	SourceMark           string      `json:"source_mark"`
	ClassSource          string      `json:"class_source"`
}

var catalogue = mustReadCatalogue(cropsCSV)

func mustReadCatalogue(text string) []CatalogueRow {
	rows, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	if err != nil {
		panic(err) // shipped data; a test reads it
	}
	column := map[string]int{}
	for i, name := range rows[0] {
		column[name] = i
	}
	var out []CatalogueRow
	for _, row := range rows[1:] {
		get := func(name string) string { return row[column[name]] }
		low, _ := strconv.Atoi(get("days_low")) // perennials have no number; zero means not given
		high, _ := strconv.Atoi(get("days_high"))
		out = append(out, CatalogueRow{
			Name: get("crop"), BotanicalName: get("botanical_name"), EdiblePart: get("edible_part"),
			SoilContact: catalogueContact(get("contact_class_default")), Alternative: get("contact_class_alternative"),
			RarelyConsumedRaw: get("rarely_consumed_raw_112_2a1") == "yes",
			TraceabilityList:  get("on_food_traceability_list"), TraceabilityListItem: get("ftl_item"),
			DaysLow: low, DaysHigh: high, DaysFrom: get("days_counted_from"), HarvestUnits: get("usual_harvest_unit"),
			Note: get("note"), SourceMark: get("days_source_mark"), ClassSource: get("class_source"),
		})
	}
	return out
}

// catalogueContact maps the catalogue's class to the words of the book; anything unexpected is unknown, the strict side.
func catalogueContact(class string) SoilContact {
	switch class {
	case "contact":
		return Touches
	case "no_contact":
		return HeldClear
	}
	return ContactUnknown
}

// Catalogue lists the shipped crops in the order of the file.
func Catalogue() []CatalogueRow { return catalogue }

// CatalogueCrop finds a shipped crop by its name.
func CatalogueCrop(name string) (CatalogueRow, bool) {
	for _, row := range catalogue {
		if row.Name == name {
			return row, true
		}
	}
	return CatalogueRow{}, false
}

// Crop makes the farm's own crop from the catalogue row; "unclear" on the traceability list counts as listed until the
// farm answers.
func (r CatalogueRow) Crop() Crop {
	item := r.TraceabilityListItem
	if item == "" && r.TraceabilityList == "unclear" {
		item = "unclear: treated as listed"
	}
	crop := Crop{
		Name: r.Name, SoilContact: r.SoilContact, RarelyConsumedRaw: r.RarelyConsumedRaw,
		TraceabilityListItem: item,
		DaysToHarvest:        r.DaysLow, SourceMark: r.SourceMark, CatalogueEntry: r.Name,
	}
	if leafy, known := r.leafyGreen(); known {
		crop.LeafyGreen = &leafy
	}
	return crop
}
