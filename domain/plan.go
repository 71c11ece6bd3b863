package domain

import (
	"fmt"
	"strings"

	"github.com/google/uuid"
)

// PlanRecords is how many records of a kind the book holds, and from which days.
type PlanRecords struct {
	Kind        string
	Count       int
	First, Last Date
}

// ListedCrops are the crops that name a food of the Food Traceability List, in the order given. A crop rarely eaten raw is
// exempt (21 CFR 1.1305(e)) and is not among them.
func ListedCrops(crops []Crop) []Crop {
	var out []Crop
	for _, c := range crops {
		if c.TraceabilityListItem != "" && !c.RarelyConsumedRaw {
			out = append(out, c)
		}
	}
	return out
}

// PlanGaps says what the traceability plan of 21 CFR 1.1315(a) lacks on the day, in the order of the plan. A bed with no
// outline of its own is found by the coordinates of its plot. Beds whose name has ended are no growing areas any more.
func PlanGaps(farm Farm, plots []Plot, beds []Bed, crops []Crop, on Date) (gaps []LocalText) {
	lacks := func(missing bool, en, es string, args ...any) {
		if missing {
			gaps = append(gaps, LocalText{En: fmt.Sprintf(en, args...), Es: fmt.Sprintf(es, args...)})
		}
	}
	lacks(blank(farm.Address), "The farm's address is not on record: the plan cannot say where the records and the lot code source are (21 CFR 1.1315(a)(1)).",
		"La dirección de la finca no consta: el plan no puede decir dónde están los registros ni el origen del código de lote (21 CFR 1.1315(a)(1)).")
	lacks(len(crops) == 0, "No crop is on record, so no food of the list can be named (21 CFR 1.1315(a)(2)).",
		"No consta ningún cultivo, así que no se puede nombrar ningún alimento de la lista (21 CFR 1.1315(a)(2)).")
	for _, c := range crops {
		listingGaps(c, lacks)
	}
	lacks(blank(farm.Contact), "Nobody is named as point of contact (21 CFR 1.1315(a)(4)).", "No se nombra a nadie como persona de contacto (21 CFR 1.1315(a)(4)).")
	lacks(blank(farm.ContactPhone), "There is no phone number for the point of contact (21 CFR 1.1315(a)(4)).", "No hay teléfono de la persona de contacto (21 CFR 1.1315(a)(4)).")
	lacks(len(plots) == 0, "No plot is on record, so the farm map is empty (21 CFR 1.1315(a)(5)).", "No consta ningún terreno, así que el mapa está vacío (21 CFR 1.1315(a)(5)).")
	known := map[uuid.UUID]bool{}
	for _, p := range plots {
		known[p.ID] = true
		lacks(!p.Location.known(), "Plot %s has no coordinates (21 CFR 1.1315(a)(5)).", "El terreno %s no tiene coordenadas (21 CFR 1.1315(a)(5)).", p.Name)
	}
	for _, b := range BedsInForce(beds, on) {
		lacks(!known[b.PlotID], "The plot of bed %s is not on record (21 CFR 1.1315(a)(5)).", "El terreno de la cama %s no consta (21 CFR 1.1315(a)(5)).", b.Name)
	}
	return gaps
}

// listingGaps compares what the farm wrote beside a crop with the shipped catalogue, where the crop was taken from it.
func listingGaps(c Crop, lacks func(missing bool, en, es string, args ...any)) {
	lacks(c.TraceabilityListItem != "" && c.RarelyConsumedRaw,
		"%s is marked both as a listed food and as rarely eaten raw. Settle which is right; it is left out of the table (21 CFR 1.1305(e)).",
		"%s está marcado a la vez como alimento de la lista y como poco consumido crudo. Decida cuál es; queda fuera de la tabla (21 CFR 1.1305(e)).", c.Name)
	row, ok := CatalogueCrop(c.CatalogueEntry)
	if !ok || c.TraceabilityListItem != "" || c.RarelyConsumedRaw {
		return
	}
	lacks(row.TraceabilityList == "yes", "%s is not marked as a listed food, but the catalogue has %q for it. Settle which is right (21 CFR 1.1315(a)(2)).",
		"%s no está marcado como alimento de la lista, pero el catálogo le pone %q. Decida cuál es (21 CFR 1.1315(a)(2)).", c.Name, row.TraceabilityListItem)
	lacks(row.TraceabilityList == "unclear", "Whether %s is on the list is unclear in the catalogue. Read the current list (21 CFR 1.1315(a)(2)).",
		"En el catálogo no está claro si %s está en la lista. Lea la lista vigente (21 CFR 1.1315(a)(2)).", c.Name)
}

// BedsInForce are the beds that go by their name on a day.
func BedsInForce(beds []Bed, on Date) []Bed {
	var out []Bed
	for _, b := range beds {
		if !b.From.After(on) && (b.To.IsZero() || on.Before(b.To)) {
			out = append(out, b)
		}
	}
	return out
}

func blank(s string) bool { return strings.TrimSpace(s) == "" }

// known says whether both numbers can be read.
func (l *Location) known() bool {
	if l == nil {
		return false
	}
	var p Problems
	l.check(&p, "")
	return p.Err() == nil
}
