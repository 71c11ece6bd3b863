package domain

import (
	"slices"
	"strings"

	"github.com/google/uuid"
	"github.com/shopspring/decimal"
)

// Groups of columns that several events share.

func kdeCrop(paragraph string, of func(kdeRow) *PacketLot) []kdeField {
	return []kdeField{
		{"commodity", "Commodity", paragraph, KDEMust, KDEText, "The crop.", func(r kdeRow) KDECell { return textCell(of(r).Commodity) }},
		{"variety", "Variety", paragraph, KDEIfAny, KDEText, "If there is one.", func(r kdeRow) KDECell { return textCell(of(r).Variety) }},
	}
}

func kdeAmount(qty, uom, paragraph, element string, of func(kdeRow) Quantity) []kdeField {
	return []kdeField{
		{qty, element, paragraph, KDEMust, KDENumber, "The number, in the unit of the next column.", func(r kdeRow) KDECell { return amountCell(of(r)) }},
		{uom, "Unit of measure", paragraph, KDEMust, KDEText, "The unit of the number before it.", func(r kdeRow) KDECell { return unitCell(of(r)) }},
	}
}

func kdePaper(paragraph string, of func(kdeRow) Reference) []kdeField {
	return []kdeField{
		{"ref_type", "Reference document type", paragraph, KDEMust, KDEText, "What kind of paper or record tells of this event.", func(r kdeRow) KDECell { return textCell(of(r).Type) }},
		{"ref_no", "Reference document number", paragraph, KDEMust, KDEText, "Its number.", func(r kdeRow) KDECell { return textCell(of(r).Number) }},
	}
}

func harvestLot(r kdeRow) *PacketLot { return r.lot }
func parentLot(r kdeRow) *PacketLot  { return r.in }

func atFarm(r kdeRow) KDECell      { return r.farmCell("") }
func atPlace(r kdeRow) KDECell     { return r.farmCell(r.lot.Place) }
func lotCodeCell(r kdeRow) KDECell { return textCell(r.lot.Code) }
func productCell(r kdeRow) KDECell { return textCell(productOf(r.lot)) }
func sourceRef(r kdeRow) KDECell   { return textCell(r.p.Farm.SourceReference) }

// nextHolder is the farm for what it packed or still has, and every customer that got the lot as it was cut.
func nextHolder(r kdeRow) KDECell {
	var holders, gaps []string
	add := func(c KDECell) {
		if c.Text != "" && !slices.Contains(holders, c.Text) {
			holders = append(holders, c.Text)
		}
		if c.Gap != "" && !slices.Contains(gaps, c.Gap) {
			gaps = append(gaps, c.Gap)
		}
	}
	left := false
	for i := range r.p.Moves {
		m := &r.p.Moves[i]
		if m.Kind != MoveReturn && slices.ContainsFunc(m.Lines, func(l PacketLine) bool { return l.Lot == r.lot.Code }) {
			left = true
			add(kdeRow{p: r.p, move: m}.customerCell())
		}
	}
	for _, w := range r.p.Withheld.Lines {
		if w.Lot == r.lot.Code && w.Kind != MoveReturn {
			left = true
			add(KDECell{Text: "other buyers (withheld)"})
		}
	}
	if !left || r.p.isParent(r.lot.Code) {
		add(r.farmCell(""))
	}
	return KDECell{Text: strings.Join(holders, " | "), Gap: strings.Join(gaps, ", ")}
}

func (p *Packet) isParent(code string) bool {
	return slices.ContainsFunc(p.Lots, func(l PacketLot) bool {
		return slices.ContainsFunc(l.Parents, func(x PacketParent) bool { return x.Code == code })
	})
}

// fieldOf names the beds of a lot; a bed that the packet lacks is a gap.
func fieldOf(of func(kdeRow) *PacketLot) func(kdeRow) KDECell {
	return func(r kdeRow) KDECell {
		lot := of(r)
		var names []string
		var c KDECell
		for _, id := range lot.BedIDs {
			if b := r.p.Bed(id); b != nil {
				names = append(names, b.FieldName())
			} else {
				c.Gap = "a bed of the lot is not in this packet"
			}
		}
		c.Text = strings.Join(names, " | ")
		return c
	}
}

func lastCut(r kdeRow) KDECell {
	if r.lot.CutTo == r.lot.CutFrom {
		return KDECell{}
	}
	return dateCell(r.lot.CutTo)
}

func receivedOn(r kdeRow) KDECell {
	if !r.parent.ReceivedOn.IsZero() {
		return dateCell(r.parent.ReceivedOn)
	}
	return dateCell(Later(r.in.CutFrom, r.in.CutTo))
}

// packedOn is the day of packing; a harvest lot that left as it was cut was packed while cutting.
func packedOn(r kdeRow) KDECell {
	if r.lot.PackedAt.IsZero() && r.lot.Kind == CodeKindHarvest {
		return dateCell(Later(r.lot.CutFrom, r.lot.CutTo))
	}
	return r.dayCell(r.lot.PackedAt)
}

func (r kdeRow) cooling() *PacketHandling {
	for i := range r.p.Handling {
		if h := &r.p.Handling[i]; h.Lot == r.in.Code && h.Kind == CoolingKind {
			return h
		}
	}
	return nil
}

func cooledWhere(r kdeRow) KDECell {
	if h := r.cooling(); h != nil {
		return r.farmCell(h.Place)
	}
	return KDECell{}
}

func cooledWhen(r kdeRow) KDECell {
	h := r.cooling()
	if h == nil {
		return KDECell{}
	}
	c := r.dayCell(h.At)
	if c.Empty() {
		c.Gap = "it was cooled, but the day is not on record"
	}
	return c
}

func outsideRule(r kdeRow) KDECell {
	if r.move.Kind == MoveDonation {
		return textCell("given away")
	}
	if c := r.p.Customer(r.move.CustomerID); c != nil && c.StraightToConsumers() {
		return textCell("straight to those who eat it")
	}
	return KDECell{}
}

func degreesCell(s string) KDECell {
	d, err := ParseDecimal(s)
	if s == "" || err != nil {
		return KDECell{}
	}
	return KDECell{Number: decimal.NewNullDecimal(d)}
}

func harvestRows(p *Packet) (rows []kdeRow) {
	for i := range p.Lots {
		if p.Lots[i].Kind == CodeKindHarvest {
			rows = append(rows, kdeRow{p: p, lot: &p.Lots[i]})
		}
	}
	return rows
}

func coolingRows(p *Packet) (rows []kdeRow) {
	for i := range p.Handling {
		h := &p.Handling[i]
		if lot := p.Lot(h.Lot); h.Kind == CoolingKind && lot != nil && lot.Kind == CodeKindHarvest {
			rows = append(rows, kdeRow{p: p, lot: lot, event: h})
		}
	}
	return rows
}

// packingRows are a row for each harvest lot in a pack lot, and one for a harvest lot that left as it was cut: it was
// packed while cutting, and its own code is its traceability lot code.
func packingRows(p *Packet) (rows []kdeRow) {
	for i := range p.Lots {
		lot := &p.Lots[i]
		if lot.Kind == CodeKindHarvest {
			if p.left(lot.Code) {
				rows = append(rows, kdeRow{p: p, lot: lot, in: lot, parent: &PacketParent{Code: lot.Code, Quantity: lot.Made}})
			}
			continue
		}
		for j := range lot.Parents {
			parent := &lot.Parents[j]
			in := p.Lot(parent.Code)
			if in == nil {
				in = &PacketLot{Code: parent.Code} // every element of it is then a gap
			}
			if in.Kind != CodeKindPack {
				rows = append(rows, kdeRow{p: p, lot: lot, in: in, parent: parent})
			}
		}
		if len(lot.Parents) == 0 {
			rows = append(rows, kdeRow{p: p, lot: lot, in: &PacketLot{}, parent: &PacketParent{}})
		}
	}
	return rows
}

// left reports that some of a lot went out.
func (p *Packet) left(code string) bool {
	return slices.ContainsFunc(p.Moves, func(m PacketMove) bool {
		return m.Kind != MoveReturn && slices.ContainsFunc(m.Lines, func(l PacketLine) bool { return l.Lot == code })
	}) || slices.ContainsFunc(p.Withheld.Lines, func(w PacketWithheldLine) bool { return w.Lot == code && w.Kind != MoveReturn })
}

func transformationRows(p *Packet) (rows []kdeRow) {
	for i := range p.Lots {
		lot := &p.Lots[i]
		for j := range lot.Parents {
			if in := p.Lot(lot.Parents[j].Code); in != nil && in.Kind == CodeKindPack {
				rows = append(rows, kdeRow{p: p, lot: lot, in: in, parent: &lot.Parents[j]})
			}
		}
	}
	return rows
}

func moveRows(p *Packet, back bool) (rows []kdeRow) {
	for i := range p.Moves {
		m := &p.Moves[i]
		if (m.Kind == MoveReturn) != back {
			continue
		}
		for j := range m.Lines {
			lot := p.Lot(m.Lines[j].Lot)
			if lot == nil {
				lot = &PacketLot{}
			}
			rows = append(rows, kdeRow{p: p, lot: lot, move: m, line: &m.Lines[j]})
		}
	}
	return rows
}

// areaRows are the beds of the harvest lots, each once.
func areaRows(p *Packet) (rows []kdeRow) {
	var seen []uuid.UUID
	for _, lot := range p.Lots {
		for _, id := range lot.BedIDs {
			if b := p.Bed(id); b != nil && !slices.Contains(seen, id) {
				seen = append(seen, id)
				rows = append(rows, kdeRow{p: p, bed: b})
			}
		}
	}
	return rows
}
