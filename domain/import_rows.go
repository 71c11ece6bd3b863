package domain

import (
	"fmt"
	"strconv"
	"strings"

	"github.com/google/uuid"
)

// ImportNames finds things of the book by the names that people use for them. A name that fits nothing, or more than
// one thing, gives no id and a sentence that says what to do.
type ImportNames interface {
	Plot(name string) (uuid.UUID, string)
	Bed(name string, on Date) (uuid.UUID, string)
	Crop(name, variety string) (uuid.UUID, string)
	// Planting is the one of a crop that stood in all the beds on a day; planted tells several apart.
	Planting(crop uuid.UUID, beds []uuid.UUID, on, planted Date) (uuid.UUID, string)
	// InputLot is a delivery of an input that was there on a day.
	InputLot(input, supplierLot string, on Date) (uuid.UUID, string)
	CompostBatch(code string) (uuid.UUID, string)
	Person(nameOrInitials string) (uuid.UUID, string)
}

// importing reads the cells of one row and gathers what is wrong with them.
type importing struct {
	row   ImportRow
	names ImportNames
	bad   []RowProblem
}

// ReadImportRow makes the record that a row describes. It tells every cell that cannot be read; whether the record fits
// the book is the write door's to say.
func ReadImportRow(kind ImportKind, row ImportRow, names ImportNames) (Record, []RowProblem) {
	x := &importing{row: row, names: names}
	_, needed := ImportColumns(kind)
	for _, column := range needed {
		if row.Cells[column] == "" {
			x.wrong(column, "Fill this cell.")
		}
	}
	var r Record
	switch kind {
	case ImportBeds:
		r = x.bed()
	case ImportCrops:
		r = x.crop()
	case ImportCustomers:
		r = x.customer()
	case ImportPlantings:
		r = x.planting()
	case ImportApplications:
		r = x.application()
	case ImportHarvests:
		r = x.harvest()
	}
	h := r.habits()
	h.Note = row.Cells["note"]
	if by := row.Cells["done_by"]; by != "" {
		h.DoneBy = x.id("done_by", names.Person)
	}
	return r, x.bad
}

func (x *importing) wrong(column, format string, args ...any) {
	x.bad = append(x.bad, RowProblem{x.row.Line, column, fmt.Sprintf(format, args...)})
}

// found notes what a look-up says when it finds nothing.
func (x *importing) found(column string, id uuid.UUID, why string) uuid.UUID {
	if why != "" {
		x.wrong(column, "%s", why)
	}
	return id
}

func (x *importing) id(column string, find func(string) (uuid.UUID, string)) uuid.UUID {
	if x.row.Cells[column] == "" {
		return uuid.Nil
	}
	id, why := find(x.row.Cells[column])
	return x.found(column, id, why)
}

func (x *importing) date(column string) Date {
	text := x.row.Cells[column]
	if text == "" {
		return Date{}
	}
	d, err := ParseDate(text)
	if err != nil {
		x.wrong(column, "%q is not a day. Write it as YYYY-MM-DD.", clip(text))
	}
	return d
}

// quantity reads a value and its unit from two columns.
func (x *importing) quantity(value, unit, usual string) Quantity {
	text := x.row.Cells[value]
	if text == "" {
		return Quantity{}
	}
	v, err := ParseDecimal(text)
	if err != nil {
		x.wrong(value, "%q is not a number. Write it with a point, for example 12.5.", clip(text))
	}
	u := Unit(x.row.Cells[unit])
	if u == "" {
		u = Unit(usual)
	}
	if _, ok := MeasureOf(u); !ok && u != "" {
		x.wrong(unit, "%q is not a unit of this book, such as lb, kg, bunch, gal, yd3 or ft.", clip(string(u)))
	}
	return Quantity{Value: v, Unit: u}
}

func (x *importing) whole(column string) int {
	text := x.row.Cells[column]
	if text == "" {
		return 0
	}
	n, err := strconv.Atoi(text)
	if err != nil {
		x.wrong(column, "%q is not a whole number.", clip(text))
	}
	return n
}

// number is a whole number where none is another answer than 0.
func (x *importing) number(column string) *int {
	if x.row.Cells[column] == "" {
		return nil
	}
	n := x.whole(column)
	return &n
}

func (x *importing) yes(column string) bool {
	switch text := strings.ToLower(x.row.Cells[column]); text {
	case "", "no":
		return false
	case "yes":
		return true
	default:
		x.wrong(column, "%q is neither yes nor no.", clip(text))
		return false
	}
}

// beds reads names separated by semicolons.
func (x *importing) beds(on Date) (ids []uuid.UUID) {
	if on.IsZero() || x.row.Cells["beds"] == "" {
		return nil
	}
	for _, name := range strings.Split(x.row.Cells["beds"], ";") {
		id, why := x.names.Bed(strings.TrimSpace(name), on)
		ids = append(ids, x.found("beds", id, why))
	}
	return ids
}

func (x *importing) cropID() uuid.UUID {
	return x.id("crop", func(name string) (uuid.UUID, string) { return x.names.Crop(name, x.row.Cells["variety"]) })
}

func (x *importing) bed() *Bed {
	return &Bed{Name: x.row.Cells["name"], PlotID: x.id("plot", x.names.Plot), From: x.date("from"),
		Length: x.quantity("length", "length_unit", "ft"), Width: x.quantity("width", "width_unit", "ft")}
}

// crop takes a catalogue entry's figures first, and what the row says over them.
func (x *importing) crop() *Crop {
	c := &Crop{}
	if entry := x.row.Cells["catalogue_entry"]; entry != "" {
		row, ok := CatalogueCrop(entry)
		if ok {
			*c = row.Crop()
		} else {
			x.wrong("catalogue_entry", "%q is not in the shipped crop catalogue.", clip(entry))
		}
	}
	c.Name, c.Variety, c.Reason = x.row.Cells["name"], x.row.Cells["variety"], x.row.Cells["reason"]
	if contact := x.row.Cells["soil_contact"]; contact != "" {
		c.SoilContact = SoilContact(contact)
	}
	if item := x.row.Cells["traceability_list_item"]; item != "" {
		c.TraceabilityListItem = item
	}
	if x.row.Cells["rarely_consumed_raw"] != "" {
		c.RarelyConsumedRaw = x.yes("rarely_consumed_raw")
	}
	if x.row.Cells["leafy_green"] != "" {
		leafy := x.yes("leafy_green")
		c.LeafyGreen = &leafy
	}
	if x.row.Cells["days_to_harvest"] != "" {
		c.DaysToHarvest = x.whole("days_to_harvest")
	}
	c.Use = x.row.Cells["use"]
	return c
}

func (x *importing) customer() *Customer {
	c := x.row.Cells
	return &Customer{Name: c["name"], Is: c["kind"], Contact: c["contact"], Phone: c["phone"], Email: c["email"], Address: c["address"]}
}

func (x *importing) planting() *Planting {
	planted := x.date("planted_on")
	return &Planting{CropID: x.cropID(), BedIDs: x.beds(planted), PlantedOn: planted, SoilContact: SoilContact(x.row.Cells["soil_contact"]),
		Reason: x.row.Cells["reason"], Method: x.row.Cells["method"], ExpectedHarvestOn: x.date("expected_harvest_on"), EndedOn: x.date("ended_on")}
}

func (x *importing) application() *Application {
	on := x.date("applied_on")
	a := &Application{AppliedOn: on, IncorporatedOn: x.date("incorporated_on"), Method: x.row.Cells["method"],
		Amount: x.quantity("amount", "unit", ""), TouchedCrop: Touched(x.row.Cells["touched_crop"])}
	a.DaysToHarvest, a.RestrictedEntryHours = x.number("days_to_harvest"), x.number("restricted_entry_hours")
	a.Ground = Ground{BedIDs: x.beds(on), PlotID: x.id("plot", x.names.Plot)}
	a.Source.CompostBatchID = x.id("compost_batch", x.names.CompostBatch)
	if !on.IsZero() {
		a.Source.InputLotID = x.id("input", func(name string) (uuid.UUID, string) {
			return x.names.InputLot(name, x.row.Cells["supplier_lot"], on)
		})
	}
	a.LateReason = x.late()
	return a
}

func (x *importing) harvest() *HarvestLot {
	on := x.date("cut_on")
	lot := &HarvestLot{CutOn: on, BedIDs: x.beds(on), Quantity: x.quantity("quantity", "unit", ""), Containers: x.whole("containers"), AlreadyCut: x.yes("already_cut")}
	crop, planted := x.cropID(), x.date("planted_on")
	if len(x.bad) == 0 {
		id, why := x.names.Planting(crop, lot.BedIDs, on, planted)
		lot.PlantingID = x.found("crop", id, why)
	}
	lot.LateReason = x.late()
	return lot
}

// late says of an act of the past where its record comes from.
func (x *importing) late() string {
	return fmt.Sprintf("read in from a table, line %d", x.row.Line)
}
