package domain

import "fmt"

// Standing is the regulation's pair for amendments, and the third case that has no interval.
type Standing string

const (
	Treated   Standing = "treated"
	Untreated Standing = "untreated"
	PlantOnly Standing = "plant-only"
)

// InputStanding judges a delivery at the day it was applied: a paper that came later, or had run out, does not count.
// why says in a few words what decided, for the reason shown to the grower.
func InputStanding(in *Input, lot *InputLot, applied Date) (s Standing, why LocalText) {
	switch in.Category {
	case RawManure, ManureTea:
		return Untreated, LocalText{}
	case AgedManure:
		return Untreated, LocalText{"Ageing is not a treatment: aged manure counts as raw.", "Envejecer no es tratar: el estiércol añejo cuenta como crudo."}
	case PlantMaterial:
		if in.Species != "" {
			return Untreated, LocalText{"Animals had this heap: it counts as raw.", "Hubo animales en este montón: cuenta como crudo."}
		}
		return PlantOnly, LocalText{}
	case Mineral, Seed, Transplant, Sanitizer, CropProtection:
		return PlantOnly, LocalText{}
	case Biosolids:
		return Untreated, LocalText{}
	}
	if lot.Certificate.ValidOn(applied) {
		return Treated, LocalText{}
	}
	return Untreated, missingPaper(lot, applied)
}

func missingPaper(lot *InputLot, applied Date) LocalText {
	if lot.Certificate == nil {
		return LocalText{
			"No supplier's certificate is on file, so it counts as untreated.",
			"No hay certificado del proveedor, así que cuenta como sin tratar."}
	}
	return LocalText{
		fmt.Sprintf("The supplier's certificate of %s did not cover %s, so it counts as untreated.", lot.Certificate.IssuedOn, applied),
		fmt.Sprintf("El certificado del proveedor del %s no cubría el %s, así que cuenta como sin tratar.", lot.Certificate.IssuedOn, applied)}
}

// materialOf says how a delivery of that standing counts under the rules. By-products that are not manure have no
// 90/120 days in the organic rule, but stay untreated for the produce safety rule.
func materialOf(c Category, s Standing) Material {
	switch {
	case c == Biosolids:
		return MaterialProhibited
	case c == CropProtection:
		return MaterialSpray
	case s == PlantOnly:
		return MaterialPlantOnly
	case s == Treated:
		return MaterialTreated
	case c == AnimalByproduct:
		return MaterialUntreated
	default:
		return MaterialRaw
	}
}

// NoIntervalCategories are the materials that never ask for a wait; they are still traced. Plant material is one of
// them only as long as no animals had the heap.
var NoIntervalCategories = []Category{PlantMaterial, Mineral, Seed, Transplant, Sanitizer}

// NoInterval reports whether an input never asks for a wait.
func NoInterval(in *Input) bool {
	for _, c := range NoIntervalCategories {
		if in.Category == c {
			return in.Category != PlantMaterial || in.Species == ""
		}
	}
	return false
}

var materialWords = map[Category]string{
	RawManure: "Raw manure", AgedManure: "Aged manure", BoughtCompost: "Bought compost", Vermicompost: "Worm compost",
	ProcessedManure: "Processed manure", CompostTea: "Compost tea", ManureTea: "Manure tea", PlantMaterial: "Plant material",
	Mineral: "Mineral", AnimalByproduct: "Animal by-product", PottingMix: "Potting mix", Seed: "Seed", Transplant: "Transplants",
	Sanitizer: "Sanitizer", CropProtection: "Crop protection", Biosolids: "Biosolids",
}

// materialWordsEs are nouns of one gender and number, so that "incorporado" and "aplicado" agree with all of them.
var materialWordsEs = map[Category]string{
	RawManure: "Estiércol crudo", AgedManure: "Estiércol añejo", BoughtCompost: "Compost comprado", Vermicompost: "Humus de lombriz",
	ProcessedManure: "Estiércol procesado", CompostTea: "Té de compost", ManureTea: "Té de estiércol", PlantMaterial: "Material vegetal",
	Mineral: "Mineral", AnimalByproduct: "Subproducto animal", PottingMix: "Sustrato", Seed: "Lote de semilla",
	Transplant: "Lote de plántulas", Sanitizer: "Desinfectante", CropProtection: "Producto fitosanitario", Biosolids: "Biosólido",
}

// ExposureOf makes what the ground remembers of an application. The ground it went on is the caller's to fill in.
func (x *Application) ExposureOf(in *Input, lot *InputLot) Exposure {
	standing, why := InputStanding(in, lot, x.AppliedOn)
	e := Exposure{
		Record: RecordRef{"application", x.ID}, What: materialWords[in.Category], WhatEs: materialWordsEs[in.Category],
		On: x.AppliedOn, ClockStart: x.IncorporatedOn,
		TouchedCrop: x.TouchedCrop, Why: why, Species: in.Species, Standing: standing, Supplier: lot.Supplier,
		Material: materialOf(in.Category, standing), LabelDays: x.DaysToHarvest, CutBefore: x.CutBefore,
		EntryHours: x.RestrictedEntryHours, SprayedUntil: x.EndedAt,
	}
	return e
}

// ExposureOf makes what the ground remembers of a grazing.
func (x *Grazing) ExposureOf() Exposure {
	return Exposure{
		Record: RecordRef{"grazing", x.ID}, What: "Grazing by " + x.Species, WhatEs: "Pastoreo de " + x.Species, On: x.From, ClockStart: x.To,
		Open: x.To.IsZero(), Species: x.Species, Standing: Untreated, Material: MaterialGrazing, CutBefore: x.CutBefore,
	}
}

// ApplicationWarnings says, the moment an application is written down, what it means for the next harvests.
func ApplicationWarnings(a *Application, in *Input, lot *InputLot) []string {
	return ExposureWarnings(a, a.ExposureOf(in, lot))
}

// ExposureWarnings says the same of any exposure.
func ExposureWarnings(a *Application, e Exposure) []string {
	switch {
	case e.materialUnder(OrganicSet) == MaterialProhibited:
		return []string{"Biosolids are never allowed in organic growing (7 CFR 205.105(g)). Tell your certifier today."}
	case e.Material == MaterialSpray:
		return []string{sprayWarning(e)}
	case e.Material != MaterialRaw:
		return nil
	case a.IncorporatedOn.IsZero():
		return []string{joinWhy(e.Why.En, "Counts as raw manure and is not worked in: nothing that people eat may be cut from this ground under the organic rule until it is worked in and the days have passed.")}
	}
	return []string{joinWhy(e.Why.En, fmt.Sprintf("Counts as raw manure. Under the organic rule, crops that touch soil from %s, crops held clear from %s.",
		ruleByID("us-organic.raw-manure-soil-contact").clears(a.IncorporatedOn), ruleByID("us-organic.raw-manure-no-contact").clears(a.IncorporatedOn)))}
}

func joinWhy(why, text string) string {
	if why == "" {
		return text
	}
	return why + " " + text
}
