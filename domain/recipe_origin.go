package domain

import (
	"slices"
	"strings"
	"unicode"
)

// animalCategories are the inputs that come from animals or may hold what does. Bought compost, worm compost and tea are
// among them: what they were made from is the supplier's to say, and a heap they go into is a heap with manure.
var animalCategories = []Category{RawManure, AgedManure, BoughtCompost, Vermicompost, ProcessedManure, CompostTea, ManureTea, AnimalByproduct, Biosolids}

// FromAnimals reports whether a delivery of the input brings animal material into a compost heap. Plant material does as
// well where animals had it.
func (x *Input) FromAnimals() bool {
	return x != nil && (slices.Contains(animalCategories, x.Category) || strings.TrimSpace(x.Species) != "")
}

// whatAnimals says what makes it animal material: its category, and the animals where they are named.
func (x *Input) whatAnimals() string {
	if x.Species == "" {
		return strings.ToLower(materialWords[x.Category])
	}
	return strings.ToLower(materialWords[x.Category]) + ", " + x.Species
}

// IsBiosolids reports whether the name or the delivery says sewage sludge.
func (in Ingredient) IsBiosolids() bool {
	return IsBiosolids(in.Feedstock) || (in.Delivery != nil && in.Delivery.Category == Biosolids)
}

// animalWords begin the words by which manure and what is left of animals go, in English and Spanish.
var animalWords = []string{"manure", "litter", "dung", "dropping", "guano", "urine", "slaughter", "carcass", "mortalit", "offal",
	"blood", "bone", "fish", "feather", "sludge", "biosolid", "septage", "humanure", "estiércol", "estiercol", "gallinaza", "pollinaza",
	"purín", "purin", "orina", "lodo", "sangre", "hueso", "pescado", "pluma"}

// plantNames hold one of the animal words and mean plants.
var plantNames = strings.NewReplacer("leaf litter", "", "green manure", "", "blood orange", "")

// speaksOfAnimals reports whether the name of a material says that it comes from animals.
func speaksOfAnimals(name string) bool {
	words := strings.FieldsFunc(plantNames.Replace(strings.ToLower(name)), func(r rune) bool { return !unicode.IsLetter(r) })
	return slices.ContainsFunc(words, func(word string) bool {
		return slices.ContainsFunc(animalWords, func(start string) bool { return strings.HasPrefix(word, start) })
	}) || IsBiosolids(name)
}
