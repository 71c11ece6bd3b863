package domain

import (
	"math/big"

	"github.com/shopspring/decimal"
)

// analysis is what one material is made of, own figures before the table's; a nil part is unknown.
type analysis struct {
	moisture, nitrogen, carbon *big.Rat // percent
	fromTable                  bool
	missing                    []LocalText
}

var hundredPct = decimal.NewFromInt(100)

func (in Ingredient) analyse() analysis {
	row, known := FeedstockByName(in.Feedstock)
	var a analysis
	moisture := firstGiven(in.MoisturePct, row.MoisturePct.Typical)
	a.fromTable = known && (!in.MoisturePct.Valid || !in.ownPair())
	if !moisture.Valid {
		a.missing = append(a.missing, say("%s: give the moisture, percent of wet weight.",
			"%s: indique la humedad, por ciento del peso húmedo.", in.Feedstock))
	} else {
		a.moisture = moisture.Decimal.Rat()
	}
	if moisture.Valid && moisture.Decimal.Equal(hundredPct) {
		// Water brings neither carbon nor nitrogen, so it needs no analysis of its dry matter.
		a.carbon, a.nitrogen = new(big.Rat), new(big.Rat)
		return a
	}
	var problem *LocalText
	a.carbon, a.nitrogen, problem = in.pair(row)
	if problem != nil {
		a.missing = append(a.missing, *problem)
	}
	return a
}

func firstGiven(own, table Number) Number {
	if own.Valid {
		return own
	}
	return table
}

func (in Ingredient) ownPair() bool {
	n := 0
	for _, given := range []bool{in.NitrogenPct.Valid, in.CarbonPct.Valid, in.CarbonNitrogen.Valid} {
		if given {
			n++
		}
	}
	return n >= 2
}

// pair gives carbon and nitrogen, percent of dry mass. Carbon that was measured is taken as it is; carbon that only
// follows from nitrogen times C:N must be possible (F2 and the data-quality rule of the calculations reference 1.3).
func (in Ingredient) pair(row Feedstock) (carbon, nitrogen *big.Rat, problem *LocalText) {
	n, r := in.NitrogenPct, in.CarbonNitrogen
	if in.CarbonPct.Valid && n.Valid {
		return in.CarbonPct.Decimal.Rat(), n.Decimal.Rat(), nil
	}
	if in.CarbonPct.Valid && r.Valid && r.Decimal.Sign() > 0 {
		c := in.CarbonPct.Decimal.Rat()
		return c, quoRat(c, r.Decimal.Rat()), nil
	}
	n, r = firstGiven(n, row.NitrogenPct.Typical), firstGiven(r, row.CarbonNitrogen.Typical)
	if !n.Valid || !r.Valid {
		t := say("%s: give two of nitrogen, carbon and C:N (of dry weight).",
			"%s: indique dos de nitrógeno, carbono y C:N (del peso seco).", in.Feedstock)
		return nil, nil, &t
	}
	implied := n.Decimal.Mul(r.Decimal)
	if implied.GreaterThan(mostCarbon) || implied.LessThan(leastCarbon) {
		t := say("%s: nitrogen %s %% with C:N %s would mean %s %% carbon, which cannot be. Give the carbon (50 %% for wood) and one measured value.",
			"%s: nitrógeno %s %% con C:N %s daría %s %% de carbono, lo que no puede ser. Indique el carbono (50 %% si es madera) y un valor medido.",
			in.Feedstock, n.Decimal, r.Decimal, implied)
		return nil, nil, &t
	}
	if in.CarbonPct.Valid {
		return in.CarbonPct.Decimal.Rat(), n.Decimal.Rat(), nil
	}
	return implied.Rat(), n.Decimal.Rat(), nil
}

// mass is the amount in grams: weighed, or volume times bulk density (F10).
func (in Ingredient) mass() (*big.Rat, *LocalText) {
	if g, err := ratIn(in.Amount, "g"); err == nil {
		return g, nil
	}
	row, _ := FeedstockByName(in.Feedstock)
	density := firstGiven(in.Density, row.Density.Typical)
	yd3, err := ratIn(in.Amount, "yd3")
	if err != nil {
		t := say("%s: give the amount as a weight or a volume.", "%s: indique la cantidad como peso o volumen.", in.Feedstock)
		return nil, &t
	}
	if !density.Valid {
		t := say("%s: give its weight, or the weight of a cubic yard (bucket test).",
			"%s: indique su peso, o el peso de una yarda cúbica (prueba de la cubeta).", in.Feedstock)
		return nil, &t
	}
	lb := mulRat(yd3, density.Decimal.Rat())
	return mulRat(lb, decimal.RequireFromString(units["lb"].factor).Rat()), nil
}

// volume is the loose volume in yd3; nil when the ingredient was weighed and its density is not known.
func (in Ingredient) volume() *big.Rat {
	if yd3, err := ratIn(in.Amount, "yd3"); err == nil {
		return yd3
	}
	row, _ := FeedstockByName(in.Feedstock)
	density := firstGiven(in.Density, row.Density.Typical)
	lb, err := ratIn(in.Amount, "lb")
	if err != nil || !density.Valid {
		return nil
	}
	return quoRat(lb, density.Decimal.Rat())
}

func (in Ingredient) part() (Part, []LocalText) {
	a := in.analyse()
	mass, problem := in.mass()
	if problem != nil {
		a.missing = append(a.missing, *problem)
	}
	p := Part{
		Feedstock: in.Feedstock, MassLb: pounds(mass),
		MoisturePct: Figure{a.moisture}, NitrogenPct: Figure{a.nitrogen}, CarbonPct: Figure{a.carbon},
		CarbonNitrogen: Figure{quoRat(a.carbon, a.nitrogen)},
		contents:       a.contentsOf(mass),
	}
	p.Explained = in.explain(p, a.fromTable)
	return p, a.missing
}

// contentsOf splits a mass into water, carbon and nitrogen.
func (a analysis) contentsOf(mass *big.Rat) contents {
	water := quoRat(mulRat(mass, a.moisture), big.NewRat(100, 1))
	dry := subRat(mass, water)
	return contents{mass, water,
		quoRat(mulRat(dry, a.carbon), big.NewRat(100, 1)), quoRat(mulRat(dry, a.nitrogen), big.NewRat(100, 1))}
}

// MoistureOfSample gives the moisture percent of wet mass from a sample weighed wet and dried, both with the container
// (F1). All three in one unit; an error when they cannot be.
func MoistureOfSample(wet, dried, container decimal.Decimal) (Figure, error) {
	var p Problems
	p.Check(container.Sign() >= 0, "/container", "The container cannot weigh less than nothing.")
	p.Check(wet.GreaterThan(container), "/wet", "The wet sample with its container must weigh more than the container.")
	p.Check(!dried.LessThan(container), "/dried", "The dried sample with its container cannot weigh less than the container.")
	p.Check(!dried.GreaterThan(wet), "/dried", "The dried sample cannot weigh more than the wet one.")
	if err := p.Err(); err != nil {
		return Figure{}, err
	}
	lost, sample := wet.Sub(dried), wet.Sub(container)
	return Figure{quoRat(lost.Mul(hundredPct).Rat(), sample.Rat())}, nil
}
