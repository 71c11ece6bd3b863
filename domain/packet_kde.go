package domain

import (
	"fmt"
	"strings"
	"time"

	"github.com/shopspring/decimal"
)

// KDENeed says when the rule asks for an element.
type KDENeed string

const (
	KDEMust  KDENeed = "must"       // always; a row without it has a gap
	KDEIfAny KDENeed = "if any"     // when there is one
	KDEOurs  KDENeed = "beyond law" // ours, to read the row by
)

// KDEKind is the type of a column's cells.
type KDEKind string

const (
	KDEText    KDEKind = "text"
	KDEDate    KDEKind = "date"
	KDEInstant KDEKind = "instant"
	KDENumber  KDEKind = "number"
)

// KDEColumn is one key data element, or a column of ours that explains the row.
type KDEColumn struct {
	Name     string  `json:"name"`
	Element  string  `json:"element"`  // the rule's word for it
	Citation string  `json:"citation"` // "21 CFR 1.1325(a)(1)(ii)"
	Need     KDENeed `json:"need"`
	Kind     KDEKind `json:"kind"`
	Plain    string  `json:"plain"`
	Mark     string  `json:"mark"` // how far the citation was checked
}

// KDECell is one value of a column's kind. Gap says in words that an element which must be there is not.
type KDECell struct {
	Text   string
	Date   Date
	At     time.Time
	Number decimal.NullDecimal
	Gap    string
}

// Empty reports a cell without a value.
func (c KDECell) Empty() bool {
	return c.Text == "" && c.Date.IsZero() && c.At.IsZero() && !c.Number.Valid
}

// KDETable is all events of one kind: a row for each event and lot.
type KDETable struct {
	Event   string // "harvest", "cooling", …; also the name of the sheet
	Title   string
	Section string // "21 CFR 1.1325(a)"
	Columns []KDEColumn
	Rows    [][]KDECell
}

// Column gives the place of a column by its name, or -1.
func (t *KDETable) Column(name string) int {
	for i, c := range t.Columns {
		if c.Name == name {
			return i
		}
	}
	return -1
}

const (
	kdeSeen = "verified: text of the section as codified, seen in the state of 2026-06-11"
	kdeOurs = "ours: not asked for by the rule"
)

// kdeRow is what a row is made from; a table uses the parts it needs.
type kdeRow struct {
	p      *Packet
	lot    *PacketLot // the lot of the event: harvest lot, or what was packed
	parent *PacketParent
	in     *PacketLot // the lot behind parent
	event  *PacketHandling
	move   *PacketMove
	line   *PacketLine
	bed    *PacketBed
}

// kdeField is a column with the way to its value.
type kdeField struct {
	name, element, paragraph string
	need                     KDENeed
	kind                     KDEKind
	plain                    string
	value                    func(r kdeRow) KDECell
}

// kdeEvent is a table before it has rows.
type kdeEvent struct {
	event, title, section string
	fields                []kdeField
	rows                  func(p *Packet) []kdeRow
}

// KDETables gives the tables of the electronic sortable spreadsheet of 21 CFR 1.1455(c)(3)(ii), one for each critical
// tracking event that this farm has, and one of its growing areas. FDA names elements and no layout; the layout is ours.
// An element that must be there and is not leaves an empty cell with its Gap, and the last column of the row names it.
func KDETables(p *Packet) []KDETable {
	var tables []KDETable
	for _, e := range kdeEvents {
		rows := e.rows(p)
		if len(rows) == 0 && (e.event == "transformation" || e.event == "receiving") {
			continue // most farms never have these
		}
		tables = append(tables, e.table(rows))
	}
	return tables
}

func (e kdeEvent) table(rows []kdeRow) KDETable {
	t := KDETable{Event: e.event, Title: e.title, Section: "21 CFR " + e.section}
	for _, f := range e.fields {
		c := KDEColumn{Name: f.name, Element: f.element, Need: f.need, Kind: f.kind, Plain: f.plain, Mark: kdeOurs}
		if f.need != KDEOurs {
			c.Citation, c.Mark = "21 CFR "+f.paragraph, kdeSeen
		}
		t.Columns = append(t.Columns, c)
	}
	t.Columns = append(t.Columns, KDEColumn{Name: "gaps", Element: "What is missing", Need: KDEOurs, Kind: KDEText, Mark: kdeOurs,
		Plain: "Names every element of this row that must be there and is not on record. Empty: nothing is missing."})
	for _, r := range rows {
		var cells []KDECell
		var missing []string
		for _, f := range e.fields {
			c := f.value(r)
			if f.need == KDEMust && c.Empty() && c.Gap == "" {
				c.Gap = fmt.Sprintf("%s is not on record", strings.ToLower(f.element[:1])+f.element[1:])
			}
			if c.Gap != "" {
				missing = append(missing, f.name+": "+c.Gap)
			}
			cells = append(cells, c)
		}
		t.Rows = append(t.Rows, append(cells, KDECell{Text: strings.Join(missing, "; ")}))
	}
	return t
}

// KDEKeyRow explains one column.
type KDEKeyRow struct {
	Event  string
	Column KDEColumn
}

// KDEKey explains every column of every table in the order of the tables.
func KDEKey(tables []KDETable) (key []KDEKeyRow) {
	for _, t := range tables {
		for _, c := range t.Columns {
			key = append(key, KDEKeyRow{t.Event, c})
		}
	}
	return key
}

// KDEWords explains the codes and words that stand in the cells (21 CFR 1.1455(c)(1) asks for that).
var KDEWords = []struct{ Word, Meaning string }{
	{"26219-L3-RAD-1-SS", "A harvest lot: year and day of the year of the first cut, bed, crop, a number, two check characters."},
	{"P26221-SAL-1-4X", "A pack lot: P, year and day of the year of packing, product, a number, two check characters."},
	{"…-C12-…", "Crate 12 of that lot."},
	{"traceability lot code", "The lot code on the label. It is given at the first packing and never again; a harvest lot that left the farm in the crates it was cut into keeps its own code."},
	{"initial packing, several rows", "A pack lot that was made from several harvest lots has a row for each; the packed quantity stands in every one of them and must not be added up."},
	{"dates", "Days of the farm's own calendar, in the time zone named on the first sheet."},
	{"book entry", "The number of the entry in the farm's book, where no other paper is on record."},
	{"lb oz kg g gal L qt bu", "pound, ounce, kilogram, gram, US gallon, litre, US quart, US bushel."},
	{"each bunch head crate case", "Counted pieces."},
}

func textCell(s string) KDECell { return KDECell{Text: strings.Join(strings.Fields(s), " ")} }

func dateCell(d Date) KDECell { return KDECell{Date: d} }

func amountCell(q Quantity) KDECell {
	if q.Unit == "" {
		return KDECell{}
	}
	return KDECell{Number: decimal.NewNullDecimal(q.Value)}
}

func unitCell(q Quantity) KDECell { return KDECell{Text: string(q.Unit)} }

// dayCell is the farm's day of an instant.
func (r kdeRow) dayCell(at time.Time) KDECell {
	if at.IsZero() {
		return KDECell{}
	}
	return KDECell{Date: DateIn(at, r.p.Zone())}
}

// offsetCell tells the hour that comes twice in autumn apart.
func (r kdeRow) offsetCell(at time.Time) KDECell {
	if at.IsZero() {
		return KDECell{}
	}
	// With the letters before it a spreadsheet takes it for text and not for a sum.
	return KDECell{Text: at.In(r.p.Zone()).Format("UTC-07:00")}
}

// farmCell is a place of the farm, with the words for what its description lacks.
func (r kdeRow) farmCell(place string) KDECell {
	f := &r.p.Farm
	c := textCell(f.at(place))
	if place == "" && !f.located() || f.Phone == "" || f.Name == "" {
		c.Gap = "the farm's name, phone and address are not all on record"
	}
	return c
}

// customerCell is a customer's location description, with the words for what it lacks.
func (r kdeRow) customerCell() KDECell {
	customer := r.p.Customer(r.move.CustomerID)
	if customer == nil {
		return KDECell{Gap: "the customer is not in this packet"}
	}
	c := textCell(customer.Location())
	switch {
	case customer.StraightToConsumers():
		// nobody's name is known there, and the rule asks for none
	case customer.Phone == "" && customer.Address == "":
		c.Gap = "phone and address of the recipient are not on record"
	case customer.Phone == "":
		c.Gap = "phone of the recipient is not on record"
	case customer.Address == "":
		c.Gap = "address of the recipient is not on record"
	}
	return c
}

// paperOrEntry is the reference document; the entry of the book is one where there is no other.
func paperOrEntry(ref Reference, entry int64) Reference {
	if ref.Number == "" && entry > 0 {
		return Reference{Type: "book entry", Number: fmt.Sprint(entry)}
	}
	return ref
}

// productOf describes what was packed.
func productOf(l *PacketLot) string {
	if l.Product != "" {
		return l.Product
	}
	return describe(strings.TrimSpace(l.Commodity + " " + l.Variety))
}
