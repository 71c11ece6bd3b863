package domain

import (
	_ "embed"
	"encoding/csv"
	"fmt"
	"slices"
	"strings"
	"sync"

	"github.com/shopspring/decimal"
)

//go:embed feedstocks.csv
var feedstocksCSV string

// Origin says whether a material comes from animals. Not answered is its own answer: it never passes for plant.
type Origin string

const (
	OriginUnknown Origin = ""
	OriginAnimal  Origin = "animal"
	OriginPlant   Origin = "plant"
)

// Span is a typical figure with the range it was seen in; any of the three may be missing in the source.
type Span struct {
	Typical, Low, High Number
}

// Feedstock is a row of the shipped table: typical figures of a compost material, each with the source it came from.
// Nitrogen is percent of dry mass, moisture percent of wet mass, density pounds per cubic yard. Most rows are from
// memory of a 1992 handbook and say so in Mark; a farm's own analysis always goes before the table (calculations
// reference 1.3).
type Feedstock struct {
	Name, Group    string
	Origin         Origin
	NitrogenPct    Span
	CarbonNitrogen Span
	MoisturePct    Span
	Density        Span
	Mark           string // "verified", "memory", …, as the source table marks it
	Source, Note   string
}

// feedstockTable is parsed once. The file is part of the program, so a bad row is a fault of ours and a test finds it.
var feedstockTable = sync.OnceValue(func() []Feedstock {
	rows, err := csv.NewReader(strings.NewReader(feedstocksCSV)).ReadAll()
	if err != nil {
		panic(fmt.Sprintf("shipped feedstock table: %v", err))
	}
	table := make([]Feedstock, 0, len(rows)-1)
	for _, row := range rows[1:] {
		table = append(table, feedstockOf(row))
	}
	return table
})

func feedstockOf(row []string) Feedstock {
	return Feedstock{
		Name: row[0], Group: row[1], Origin: originOf(row[2]),
		NitrogenPct:    spanOf(row[3:6]),
		CarbonNitrogen: spanOf(row[6:9]),
		MoisturePct:    spanOf(row[9:12]),
		Density:        spanOf(row[12:15]),
		Mark:           row[16], Source: row[17], Note: row[18],
	}
}

// originOf leaves "maybe" (kitchen scraps) and "treated?" (finished compost) open: a person must answer those.
func originOf(s string) Origin {
	switch s {
	case "yes":
		return OriginAnimal
	case "no":
		return OriginPlant
	}
	return OriginUnknown
}

func spanOf(cells []string) Span {
	var d [3]Number
	for i, cell := range cells {
		if cell != "" {
			d[i] = Given(decimal.RequireFromString(cell))
		}
	}
	return Span{d[0], d[1], d[2]}
}

// Feedstocks gives the shipped table in its own order. The caller owns the slice.
func Feedstocks() []Feedstock { return slices.Clone(feedstockTable()) }

// FeedstockByName finds a row of the shipped table, whatever the case of the letters.
func FeedstockByName(name string) (Feedstock, bool) {
	name = strings.TrimSpace(name)
	for _, f := range feedstockTable() {
		if strings.EqualFold(f.Name, name) {
			return f, true
		}
	}
	return Feedstock{}, false
}
