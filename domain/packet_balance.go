package domain

import (
	"fmt"

	"github.com/shopspring/decimal"
)

// PacketBalanceLine is the mass balance of one lot in its own unit:
//
//	made = on hand + packed on + shipped - returned + disposed ± unexplained
//
// Donations count as shipped. PackedOn went into other lots, with the culls of those runs. A lot whose sums do not tell
// asks a Question; its numbers are then what is known and no more.
type PacketBalanceLine struct {
	Lot         string          `json:"lot"`
	Unit        Unit            `json:"unit"`
	Made        decimal.Decimal `json:"made"`
	OnHand      decimal.Decimal `json:"on_hand"`
	PackedOn    decimal.Decimal `json:"packed_on"`
	Shipped     decimal.Decimal `json:"shipped"`
	Returned    decimal.Decimal `json:"returned"`
	Disposed    decimal.Decimal `json:"disposed"`
	Unexplained decimal.Decimal `json:"unexplained"`
	// AccountedPct is what is accounted for, in percent to two places. It says 100.00 only when all is.
	AccountedPct decimal.Decimal `json:"accounted_pct"`
	Question     string          `json:"question,omitempty"`
}

// Closed reports that every bit is accounted for.
func (l PacketBalanceLine) Closed() bool { return l.Question == "" && l.Unexplained.IsZero() }

// Balance gives a line for each lot, in the order of the lots.
func (p *Packet) Balance() []PacketBalanceLine {
	lines := make([]PacketBalanceLine, 0, len(p.Lots))
	for i := range p.Lots {
		lines = append(lines, p.balanceOf(&p.Lots[i]))
	}
	return lines
}

func (p *Packet) balanceOf(lot *PacketLot) PacketBalanceLine {
	b := PacketBalanceLine{Lot: lot.Code, Unit: lot.Made.Unit, Made: lot.Made.Value}
	if lot.Made.IsZero() || lot.Made.Value.Sign() <= 0 {
		b.Question = fmt.Sprintf("Nobody wrote down how much of lot %s was made, so it can't be balanced.", lot.Code)
		return b
	}
	add := func(to *decimal.Decimal, q Quantity, what string) {
		v, err := q.In(b.Unit)
		if err != nil {
			if b.Question == "" {
				b.Question = fmt.Sprintf("Lot %s was made in %s, but some of it %s in %s: the sums can't be told.", lot.Code, b.Unit, what, orWord(string(q.Unit), "no unit"))
			}
			return
		}
		*to = to.Add(v)
	}
	if lot.OnHand.Unit == "" {
		b.Question = fmt.Sprintf("Nobody wrote down how much of lot %s is on the farm.", lot.Code)
	} else {
		add(&b.OnHand, lot.OnHand, "is on the farm")
	}
	for _, child := range p.Lots {
		for _, parent := range child.Parents {
			if parent.Code == lot.Code {
				add(&b.PackedOn, parent.Quantity, "was packed on")
			}
		}
	}
	moved := func(kind PacketMoveKind, q Quantity) {
		if kind == MoveReturn {
			add(&b.Returned, q, "came back")
			return
		}
		add(&b.Shipped, q, "left")
	}
	for _, m := range p.Moves {
		for _, l := range m.Lines {
			if l.Lot == lot.Code {
				moved(m.Kind, l.Quantity)
			}
		}
	}
	for _, l := range p.Withheld.Lines {
		if l.Lot == lot.Code {
			moved(l.Kind, l.Quantity)
		}
	}
	for _, d := range p.Disposals {
		if d.Lot == lot.Code {
			add(&b.Disposed, d.Quantity, "was disposed of")
		}
	}
	b.close()
	return b
}

// close finds the difference and the percentage, and says it in words when more is accounted for than was made.
func (b *PacketBalanceLine) close() {
	found := b.OnHand.Add(b.PackedOn).Add(b.Shipped).Sub(b.Returned).Add(b.Disposed)
	b.Unexplained = b.Made.Sub(found)
	b.AccountedPct = percentOf(found, b.Made)
	if b.Question == "" && b.Unexplained.Sign() < 0 {
		b.Question = fmt.Sprintf("More of lot %s is accounted for (%s %s) than was made (%s %s): %s %s too much. A lot was mixed up or a weight is wrong; find the record before this goes out.",
			b.Lot, found, b.Unit, b.Made, b.Unit, b.Unexplained.Neg(), b.Unit)
	}
}

// percentOf rounds to two places, but never to 100 what is not 100.
func percentOf(part, whole decimal.Decimal) decimal.Decimal {
	hundred, step := decimal.NewFromInt(100), decimal.New(1, -2)
	pct := part.Mul(hundred).DivRound(whole, 2)
	switch {
	case !pct.Equal(hundred) || part.Equal(whole):
		return pct
	case part.LessThan(whole):
		return hundred.Sub(step)
	}
	return hundred.Add(step)
}

func orWord(s, word string) string {
	if s == "" {
		return word
	}
	return s
}
