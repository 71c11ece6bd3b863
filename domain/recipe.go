package domain

import (
	"math/big"

	"github.com/google/uuid"
	"github.com/shopspring/decimal"
)

// Ingredient is one material of a compost recipe. Amount is a mass, or a volume that Density (lb/yd3) turns into one.
// MoisturePct is percent of wet mass; NitrogenPct and CarbonPct are percent of dry mass; CarbonNitrogen is their
// ratio. What is left out is taken from the shipped table when Feedstock is a row of it, and is unknown otherwise.
type Ingredient struct {
	Feedstock      string    `json:"feedstock"`
	InputLotID     uuid.UUID `json:"input_lot_id,omitzero"`
	Amount         Quantity  `json:"amount"`
	Density        Number    `json:"density_lb_yd3,omitzero"`
	MoisturePct    Number    `json:"moisture_pct,omitzero"`
	NitrogenPct    Number    `json:"nitrogen_pct,omitzero"`
	CarbonPct      Number    `json:"carbon_pct,omitzero"`
	CarbonNitrogen Number    `json:"carbon_nitrogen,omitzero"`
	// AnimalOrigin is nil when nobody answered; then the shipped table speaks, or it stays open.
	AnimalOrigin *bool `json:"animal_origin,omitempty"`
	// Delivery is what InputLotID is a delivery of, as the book knows it; it is no part of the record.
	Delivery *Input `json:"-"`
}

// Limits of carbon in sound plant and manure analyses, percent of dry mass; a pair of nitrogen and C:N that implies
// more or less was averaged from different samples (calculations reference 1.3 [computed]).
var leastCarbon, mostCarbon = decimal.NewFromInt(25), decimal.NewFromInt(60)

// OriginOfAll is plant only when every ingredient certainly is; one open answer leaves the whole open, and no
// ingredient on file is open too.
func OriginOfAll(ingredients []Ingredient) Origin {
	whole := OriginPlant
	for _, in := range ingredients {
		switch in.Origin() {
		case OriginAnimal:
			return OriginAnimal
		case OriginUnknown:
			whole = OriginUnknown
		}
	}
	if len(ingredients) == 0 {
		return OriginUnknown
	}
	return whole
}

// Origin is what the record says, except that calling a manure plant material does not make it so: neither where the
// shipped table or the name itself says manure, nor where the delivery is of animals.
func (in Ingredient) Origin() Origin {
	row, _ := FeedstockByName(in.Feedstock)
	switch {
	case row.Origin == OriginAnimal, in.AnimalOrigin != nil && *in.AnimalOrigin, in.Delivery.FromAnimals(), speaksOfAnimals(in.Feedstock):
		return OriginAnimal
	case in.AnimalOrigin != nil:
		return OriginPlant
	}
	return row.Origin
}

// Check notes what is wrong with the ingredient taken alone.
func (in Ingredient) Check(p *Problems, pointer string) {
	checkName(p, pointer+"/feedstock", in.Feedstock)
	in.Amount.Check(p, pointer+"/amount", "1000000000", Mass, Volume)
	checkShare(p, pointer+"/moisture_pct", in.MoisturePct, "100")
	checkShare(p, pointer+"/nitrogen_pct", in.NitrogenPct, "60")
	checkShare(p, pointer+"/carbon_pct", in.CarbonPct, "100")
	checkShare(p, pointer+"/carbon_nitrogen", in.CarbonNitrogen, "5000")
	checkShare(p, pointer+"/density_lb_yd3", in.Density, "4000")
	in.checkOrigin(p, pointer+"/animal_origin")
}

// CheckDelivery notes an answer that the delivery contradicts, once the book has said what the delivery is of.
func (in Ingredient) CheckDelivery(p *Problems, pointer string) {
	if in.Delivery.FromAnimals() {
		in.checkOrigin(p, pointer+"/animal_origin")
	}
}

// checkOrigin refuses the answer that no animals were behind what the delivery, the shipped table or the name says is
// theirs.
func (in Ingredient) checkOrigin(p *Problems, pointer string) {
	if in.AnimalOrigin == nil || *in.AnimalOrigin {
		return
	}
	row, _ := FeedstockByName(in.Feedstock)
	switch {
	case in.Delivery.FromAnimals():
		p.Add(pointer, "The delivery is %s (%s), which is or holds animal material. Answer yes, or name another delivery.", in.Delivery.Name, in.Delivery.whatAnimals())
	case row.Origin == OriginAnimal:
		p.Add(pointer, "%s comes from animals.", row.Name)
	case speaksOfAnimals(in.Feedstock):
		p.Add(pointer, "%q names animal material. Answer yes, or name the plants it is.", in.Feedstock)
	}
}

func checkShare(p *Problems, pointer string, n Number, most string) {
	if n.Valid && (n.Decimal.Sign() < 0 || n.Decimal.GreaterThan(decimal.RequireFromString(most))) {
		p.Add(pointer, "%s cannot be: give a number from 0 to %s.", n.Decimal, most)
	}
}

// Part is one ingredient with the figures the mix was computed from, and a sentence that says where they come from.
type Part struct {
	Feedstock                           string
	MassLb                              Figure
	MoisturePct, NitrogenPct, CarbonPct Figure
	CarbonNitrogen                      Figure
	Explained                           LocalText
	contents                            contents
}

// Mix is a computed recipe. A figure is unknown when any ingredient lacks what it needs, and Missing then names it.
type Mix struct {
	Parts          []Part
	MassLb         Figure
	CarbonLb       Figure
	NitrogenLb     Figure
	MoisturePct    Figure
	CarbonNitrogen Figure
	// VolumeYd3 is the sum before settling: volumes do not add, small pieces fill the gaps of large ones.
	VolumeYd3 Figure
	Missing   []LocalText
	Explained []LocalText
}

// contents is what an amount of material holds, in grams; a nil part is unknown.
type contents struct{ mass, water, carbon, nitrogen *big.Rat }

// MixOf computes moisture and C:N of the ingredients together (F4, F5 of the calculations reference 1.1): sums of
// water, carbon and nitrogen, never an average of ratios, which is wrong whenever nitrogen or moisture differ.
func MixOf(ingredients []Ingredient) Mix {
	var m Mix
	total := contents{new(big.Rat), new(big.Rat), new(big.Rat), new(big.Rat)}
	volume := new(big.Rat)
	for _, in := range ingredients {
		part, missing := in.part()
		m.Parts = append(m.Parts, part)
		m.Missing = append(m.Missing, missing...)
		total = total.plus(part.contents)
		volume = addRat(volume, in.volume())
	}
	if len(ingredients) == 0 {
		m.Missing = append(m.Missing, say("No ingredient is on file.", "No hay ningún ingrediente anotado."))
		return m
	}
	m.MassLb, m.CarbonLb, m.NitrogenLb = pounds(total.mass), pounds(total.carbon), pounds(total.nitrogen)
	m.MoisturePct = Figure{quoRat(timesRat(total.water, 100), total.mass)}
	m.CarbonNitrogen = Figure{quoRat(total.carbon, total.nitrogen)}
	m.VolumeYd3 = Figure{volume}
	m.Explained = m.explain()
	return m
}

func (b contents) plus(o contents) contents {
	return contents{addRat(b.mass, o.mass), addRat(b.water, o.water), addRat(b.carbon, o.carbon), addRat(b.nitrogen, o.nitrogen)}
}

// addRat and its sisters carry an unknown through: nil in, nil out.
func addRat(a, b *big.Rat) *big.Rat {
	if a == nil || b == nil {
		return nil
	}
	return new(big.Rat).Add(a, b)
}

func subRat(a, b *big.Rat) *big.Rat {
	if a == nil || b == nil {
		return nil
	}
	return new(big.Rat).Sub(a, b)
}

func mulRat(a, b *big.Rat) *big.Rat {
	if a == nil || b == nil {
		return nil
	}
	return new(big.Rat).Mul(a, b)
}

func timesRat(a *big.Rat, n int64) *big.Rat { return mulRat(a, big.NewRat(n, 1)) }

func quoRat(a, b *big.Rat) *big.Rat {
	if a == nil || b == nil || b.Sign() == 0 {
		return nil
	}
	return new(big.Rat).Quo(a, b)
}

func pounds(grams *big.Rat) Figure {
	return Figure{quoRat(grams, decimal.RequireFromString(units["lb"].factor).Rat())}
}
