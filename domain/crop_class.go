package domain

import "strings"

// rarelyRaw are the crops that 21 CFR 112.2(a)(1) names as rarely eaten raw. The list is closed: what is not named there
// is covered produce. Those of the catalogue are marked there as well.
var rarelyRaw = nameKeys("asparagus", "black beans", "great northern beans", "kidney beans", "lima beans", "navy beans", "pinto beans",
	"garden beets", "sugar beets", "cashews", "sour cherries", "chickpeas", "cocoa beans", "coffee beans", "collards", "sweet corn",
	"cranberries", "dates", "dill", "eggplants", "figs", "ginger", "hazelnuts", "horseradish", "lentils", "okra", "peanuts", "pecans",
	"peppermint", "potatoes", "pumpkins", "winter squash", "sweet potatoes", "water chestnuts")

func nameKeys(names ...string) map[string]bool {
	keys := map[string]bool{}
	for _, name := range names {
		keys[nameKey(name)] = true
	}
	return keys
}

// pluralEnds turn the end of an English plural into the singular, the longest first.
var pluralEnds = [][2]string{{"ches", "ch"}, {"shes", "sh"}, {"ies", "y"}, {"oes", "o"}, {"s", ""}}

// nameKey makes one key of a crop's name however it is written: in capitals, of one or of many.
func nameKey(name string) string {
	name = strings.ToLower(strings.TrimSpace(name))
	for _, end := range pluralEnds {
		if rest, ok := strings.CutSuffix(name, end[0]); ok {
			return rest + end[1]
		}
	}
	return name
}

// ofCatalogue gives the shipped rows that speak of the crop: the one it was taken from, else those of its name. There may
// be several: "Lettuce" names head, leaf and baby lettuce.
func (x *Crop) ofCatalogue() (rows []CatalogueRow) {
	if row, ok := CatalogueCrop(x.CatalogueEntry); ok {
		return []CatalogueRow{row}
	}
	name := nameKey(x.Name)
	for _, row := range catalogue {
		kind, _, _ := strings.Cut(row.Name, ",")
		switch name {
		case nameKey(row.Name):
			return []CatalogueRow{row}
		case nameKey(kind):
			rows = append(rows, row)
		}
	}
	return rows
}

// leafyGreen says whether the row is a leafy green, as far as it tells: where its place on the traceability list is
// unclear, or was never settled because it is rarely eaten raw, it does not tell, except of fruit.
func (r CatalogueRow) leafyGreen() (leafy, known bool) {
	unsettled := r.TraceabilityList == "unclear" || r.TraceabilityList == "exempt"
	return strings.HasPrefix(r.TraceabilityListItem, "Leafy greens"), !unsettled || r.EdiblePart == "fruit"
}

// leafyGreen says whether the crop is a leafy green: as the farm says, else as the catalogue does, if its rows of that name
// agree. Not known is not "no".
func (x *Crop) leafyGreen() (leafy, known bool) {
	if x.LeafyGreen != nil {
		return *x.LeafyGreen, true
	}
	return x.catalogueLeafy()
}

func (x *Crop) surelyLeafy() bool {
	leafy, _ := x.leafyGreen()
	return leafy
}

func (x *Crop) surelyNotLeafy() bool {
	leafy, known := x.leafyGreen()
	return known && !leafy
}

func (x *Crop) catalogueLeafy() (leafy, known bool) {
	for i, row := range x.ofCatalogue() {
		is, settled := row.leafyGreen()
		if !settled || i > 0 && is != leafy {
			return false, false
		}
		leafy, known = is, true
	}
	return leafy, known
}

// onRarelyRawList reports whether the crop is on the closed list of what is rarely eaten raw. A name that several rows of
// the catalogue have is on it only if all of them are.
func (x *Crop) onRarelyRawList() bool {
	rows := x.ofCatalogue()
	for _, row := range rows {
		if !row.RarelyConsumedRaw {
			return false
		}
	}
	return len(rows) > 0 || rarelyRaw[nameKey(x.Name)]
}

// notCovered reports whether the Produce Safety Rule leaves the crop out as rarely eaten raw. Saying so is not enough: older
// books hold crops that were never on the list.
func (x *Crop) notCovered() bool { return x.RarelyConsumedRaw && x.onRarelyRawList() }

// checkClasses notes classes that free a crop of a rule and that its name or its catalogue row does not bear out.
func (x *Crop) checkClasses(p *Problems) {
	p.Check(!x.RarelyConsumedRaw || x.onRarelyRawList(), "/rarely_consumed_raw",
		"%s is not among the crops rarely eaten raw. The list is closed, see 21 CFR 112.2(a)(1). Leave this out, or give the catalogue_entry of the crop that is on it.", x.Name)
	if leafy, _ := x.catalogueLeafy(); leafy && x.LeafyGreen != nil && !*x.LeafyGreen {
		p.Check(strings.TrimSpace(x.Reason) != "", "/reason", "The catalogue says %s is a leafy green. Leave leafy_green out, or say why it is none.", x.Name)
	}
}
