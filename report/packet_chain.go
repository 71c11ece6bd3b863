package report

import (
	"fmt"
	"slices"
	"strings"

	"github.com/google/uuid"

	"croftmark/domain"
)

// The chain is the way of the food as boxes and arrows, from supplier to customer, a level for each step from the top
// down. A level that would hold more boxes than a page has room for ends with one box for the rest; crates that went the
// same way are one box.

// mostAbreast is how many boxes stand side by side.
const mostAbreast = 6

type chainBox struct {
	key   string
	level int
	lines []string // the first in bold
	open  bool     // drawn with a broken frame: not on record, or withheld
	bend  bool     // no box: an arrow on its way past this level
	merge []string // keys of the boxes that this one stands for

	crates   int // how many, of a box of crates
	x, width float64
}

type chainArrow struct{ from, to string }

// A chain is boxes on levels, and the arrows between them.
type chain struct {
	levels []string // what each level is
	boxes  []*chainBox
	arrows []chainArrow
}

func (c *chain) box(level int, key string, lines ...string) *chainBox {
	for _, b := range c.boxes {
		if b.key == key {
			return b
		}
	}
	b := &chainBox{key: key, level: level, lines: lines}
	c.boxes = append(c.boxes, b)
	return b
}

func (c *chain) arrow(from, to string) {
	a := chainArrow{from, to}
	if from != to && !slices.Contains(c.arrows, a) {
		c.arrows = append(c.arrows, a)
	}
}

func (c *chain) find(key string) *chainBox {
	if i := slices.IndexFunc(c.boxes, func(b *chainBox) bool { return b.key == key || slices.Contains(b.merge, key) }); i >= 0 {
		return c.boxes[i]
	}
	return nil
}

func (c *chain) on(level int) (out []*chainBox) {
	for _, b := range c.boxes {
		if b.level == level {
			out = append(out, b)
		}
	}
	return out
}

// chainOf reads the chain from a packet.
func chainOf(p *domain.Packet) *chain {
	depth := packDepths(p)
	deepest := 0
	for _, d := range depth {
		deepest = max(deepest, d)
	}
	c := &chain{levels: []string{"Supplier", "Ground", "Harvest lot", "Wash, cool"}}
	for d := range deepest {
		c.levels = append(c.levels, []string{"Pack lot", "Packed again"}[min(d, 1)])
	}
	crates, end := len(c.levels), len(c.levels)+1
	c.levels = append(c.levels, "Crates", "Where it is")
	c.supplies(p)
	for i := range p.Lots {
		l := &p.Lots[i]
		if l.Kind == domain.CodeKindHarvest {
			cut := l.CutFrom.String()
			c.box(2, l.Code, l.Code, strings.TrimSpace(l.Commodity+" "+l.Variety), amount(l.Made)+", cut "+cut)
			for _, id := range l.BedIDs {
				c.arrow("bed "+id.String(), l.Code)
			}
			continue
		}
		c.box(3+depth[l.Code], l.Code, l.Code, l.Product, amount(l.Made)+", packed "+clock(l.PackedAt, p.Zone()))
	}
	for i := range p.Lots {
		l := &p.Lots[i]
		wash := c.handling(p, l)
		for _, parent := range l.Parents {
			if c.find(parent.Code) == nil {
				c.box(2, parent.Code, parent.Code, "not in this packet").open = true
			}
			// The act in the shed stands between the field and the first pack; later packs are drawn from their packs.
			in := p.Lot(parent.Code)
			own := c.handling(p, in)
			switch {
			case in != nil && in.Kind == domain.CodeKindPack:
				c.arrow(parent.Code, l.Code)
			case wash != "":
				c.arrow(parent.Code, wash)
				c.arrow(wash, l.Code)
			case own != "":
				c.arrow(parent.Code, own)
				c.arrow(own, l.Code)
			default:
				c.arrow(parent.Code, l.Code)
			}
		}
		c.ends(p, l, crates, end)
	}
	for level := range c.levels {
		c.group(level)
	}
	return c
}

// packDepths counts how many times a lot was packed: 1 from the field, more from packs. A lot that would come from itself
// counts once.
func packDepths(p *domain.Packet) map[string]int {
	depth := map[string]int{}
	var of func(code string, seen []string) int
	of = func(code string, seen []string) int {
		l := p.Lot(code)
		if l == nil || l.Kind != domain.CodeKindPack || slices.Contains(seen, code) {
			return 0
		}
		d := 0
		for _, parent := range l.Parents {
			d = max(d, of(parent.Code, append(seen, code)))
		}
		return d + 1
	}
	for _, l := range p.Lots {
		if l.Kind == domain.CodeKindPack {
			depth[l.Code] = of(l.Code, nil)
		}
	}
	return depth
}

// supplies are what came to the ground from outside or from the own heap, and the beds.
func (c *chain) supplies(p *domain.Packet) {
	supplier := func(id uuid.UUID) string {
		for _, x := range p.InputLots {
			if x.ID == id {
				return c.box(0, "input "+id.String(), x.Name, orWords(x.Supplier, "supplier not on record"), orWords(x.SupplierLot, "no lot on record")).key
			}
		}
		return ""
	}
	for i := range p.Beds {
		b := &p.Beds[i]
		bed := c.box(1, "bed "+b.ID.String(), b.FieldName()).key
		for _, g := range b.History {
			from := supplier(g.InputLotID)
			for _, batch := range p.Batches {
				if batch.ID == g.BatchID && g.BatchID != uuid.Nil {
					from = c.box(0, "batch "+batch.ID.String(), "Compost "+batch.Code, "own batch", string(batch.Standing)).key
				}
			}
			if from == "" && g.Supplier != "" {
				from = c.box(0, "supplier "+g.Supplier+g.What, g.What, g.Supplier).key
			}
			if from != "" {
				c.arrow(from, bed)
			}
		}
	}
	for _, planting := range p.Plantings {
		for _, seed := range planting.SeedLotIDs {
			for _, id := range planting.BedIDs {
				if from := supplier(seed); from != "" {
					c.arrow(from, "bed "+id.String())
				}
			}
		}
	}
}

// handling is the box of all that was done with a lot in the shed before it was packed or left.
func (c *chain) handling(p *domain.Packet, l *domain.PacketLot) string {
	if l == nil {
		return ""
	}
	var acts, waters []string
	add := func(list []string, s string) []string {
		if s == "" || slices.Contains(list, s) {
			return list
		}
		return append(list, s)
	}
	if l.Kind == domain.CodeKindPack {
		// what was done with its harvest lots in the field and on the way belongs to the same step
		for _, parent := range l.Parents {
			for _, h := range p.Handling {
				if in := p.Lot(parent.Code); in != nil && in.Kind == domain.CodeKindHarvest && h.Lot == parent.Code {
					acts, waters = add(acts, h.Kind), add(waters, h.Water)
				}
			}
		}
	}
	for _, h := range p.Handling {
		if h.Lot == l.Code {
			acts, waters = add(acts, h.Kind), add(waters, h.Water)
		}
	}
	if len(acts) == 0 {
		return ""
	}
	lines := []string{strings.Join(acts, ", ")}
	if len(waters) > 0 {
		lines = append(lines, "water: "+strings.Join(waters, ", "))
	}
	if l.Kind == domain.CodeKindHarvest && !slices.ContainsFunc(p.Moves, func(m domain.PacketMove) bool {
		return slices.ContainsFunc(m.Lines, func(x domain.PacketLine) bool { return x.Lot == l.Code })
	}) && c.find("shed "+l.Code) == nil {
		return "" // its pack lots have the box
	}
	return c.box(3, "shed "+l.Code, lines...).key
}

// ends are where a lot is: everything that went to one place is one box.
func (c *chain) ends(p *domain.Packet, l *domain.PacketLot, crates, end int) {
	from := l.Code
	if l.Kind == domain.CodeKindHarvest {
		if shed := c.handling(p, l); shed != "" {
			c.arrow(l.Code, shed)
			from = shed
		}
	}
	target := func(who uuid.UUID) string {
		customer := p.Customer(who)
		switch {
		case customer != nil:
			return c.box(end, "to "+who.String(), append([]string{customer.Name}, papersOf(p, who)...)...).key
		case who != uuid.Nil:
			return c.box(end, "to unknown", "a customer", "not in this packet").key
		}
		return c.box(end, "here", "On the farm or out of food").key
	}
	put := func(who uuid.UUID, n int, words string) {
		b := c.box(crates, "crates to "+who.String(), "")
		b.crates += n
		b.lines[0] = fmt.Sprintf("%d crates", b.crates)
		switch b.crates {
		case 0:
			b.lines[0] = "no labelled crates"
		case 1:
			b.lines[0] = "1 crate"
		}
		b.lines = append(b.lines, words)
		c.arrow(from, b.key)
		c.arrow(b.key, target(who))
	}
	type way struct {
		where domain.CratePlace
		who   uuid.UUID
	}
	numbers := map[way][]int{}
	var ways []way
	inCrates := map[string]bool{}
	for _, x := range p.CratesOf(l.Code) {
		w := way{x.Where, x.CustomerID}
		if numbers[w] == nil {
			ways = append(ways, w)
		}
		numbers[w] = append(numbers[w], x.Number)
		inCrates[x.Code] = true
	}
	said := map[domain.CratePlace]string{domain.CrateOnFarm: " on hand", domain.CrateDisposed: " disposed of"}
	for _, w := range ways {
		if w.where != domain.CratePackedOn { // of those, the arrow to the new pack lot tells
			put(w.who, len(numbers[w]), l.Code+" no. "+domain.NumberRuns(numbers[w])+said[w.where])
		}
	}
	for _, m := range p.Moves {
		for _, line := range m.Lines {
			if line.Lot == l.Code && m.Kind != domain.MoveReturn && !slices.ContainsFunc(line.Crates, func(s string) bool { return inCrates[s] }) {
				put(m.CustomerID, 0, l.Code+" "+amount(line.Quantity))
			}
		}
	}
	if len(ways) == 0 && l.OnHand.Value.Sign() > 0 {
		put(uuid.Nil, 0, l.Code+" "+amount(l.OnHand)+" on hand")
	}
	for _, w := range p.Withheld.Lines {
		if w.Lot == l.Code && w.Kind != domain.MoveReturn {
			b := c.box(end, "withheld", "Other recipients", fmt.Sprintf("%d, names withheld", p.Withheld.Customers))
			b.open = true
			c.arrow(from, b.key)
		}
	}
}

// papersOf lists the papers of what a customer got.
func papersOf(p *domain.Packet, who uuid.UUID) (out []string) {
	var numbers []string
	for _, m := range p.Moves {
		if m.CustomerID == who && m.Kind != domain.MoveReturn && m.Reference.Number != "" {
			numbers = append(numbers, strings.ReplaceAll(m.Reference.Type, "-", " ")+" "+m.Reference.Number)
		}
	}
	if len(numbers) > 2 {
		numbers = append(numbers[:1], fmt.Sprintf("and %d more papers", len(numbers)-1))
	}
	return numbers
}

// group makes one box of those of a level that have no room.
func (c *chain) group(level int) {
	boxes := c.on(level)
	if len(boxes) <= mostAbreast {
		return
	}
	rest := boxes[mostAbreast-1:]
	names := make([]string, 0, len(rest))
	merged := &chainBox{key: fmt.Sprint("rest ", level), level: level}
	for _, b := range rest {
		names = append(names, b.lines[0])
		merged.merge = append(merged.merge, b.key)
	}
	merged.lines = []string{fmt.Sprintf("and %d more", len(rest)), strings.Join(names, "; ")}
	c.boxes = slices.DeleteFunc(c.boxes, func(b *chainBox) bool { return slices.Contains(rest, b) })
	c.boxes = append(c.boxes, merged)
}

func orWords(s, words string) string {
	if strings.TrimSpace(s) == "" {
		return words
	}
	return s
}
