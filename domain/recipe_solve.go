package domain

import (
	"math/big"

	"github.com/shopspring/decimal"
)

// Supplement answers "how much of this must I add?". Amounts are rounded to a tenth of their unit toward the safe side
// and Mix is the recipe computed again with the rounded amounts; Exact are the unrounded ones in the same unit. When
// Possible is false there is no such amount, and Said tells why in words: never a negative weight.
type Supplement struct {
	Possible bool
	Amounts  []Quantity
	Exact    []Figure
	Mix      Mix
	Said     LocalText
}

// poundsPerGallon of water (F8 of the calculations reference 1.1).
var poundsPerGallon = decimal.RequireFromString("8.345")

var plainWater = Ingredient{Feedstock: "water", MoisturePct: Given(hundredPct)}

// AddForCarbonNitrogen solves how much of a material brings the mix to a C:N goal (F7). Input that is missing is
// answered in words, as is a goal that the material cannot reach.
func AddForCarbonNitrogen(base []Ingredient, material Ingredient, goal decimal.Decimal) Supplement {
	return solveOne(base, material, ratioGoal(goal))
}

// AddForMoisture solves how much of a material brings the mix to a moisture goal in percent of wet mass (F6).
func AddForMoisture(base []Ingredient, material Ingredient, goal decimal.Decimal) Supplement {
	return solveOne(base, material, moistureGoal(goal))
}

// AddWater solves the water for a moisture goal (F8), in the unit of the mix, and says it in gallons as well.
func AddWater(base []Ingredient, goal decimal.Decimal) Supplement {
	s := AddForMoisture(base, plainWater, goal)
	if !s.Possible || len(s.Amounts) == 0 {
		return s
	}
	lb, err := ratIn(s.Amounts[0], "lb")
	if err != nil {
		return s
	}
	gallons := Figure{quoRat(lb, poundsPerGallon.Rat())}
	s.Said = say("Add %s of water (%s gal): moisture %s %%.", "Agregue %s de agua (%s gal): humedad %s %%.",
		s.Amounts[0], gallons.Show(1), s.Mix.MoisturePct.Show(2, goal))
	return s
}

// AddForBoth solves the amounts of two materials, one of which may be water, for a C:N and a moisture goal at once
// (F9, two linear equations).
func AddForBoth(base []Ingredient, first, second Ingredient, ratio, moisture decimal.Decimal) Supplement {
	mix, a, b := MixOf(base), onePound(first), onePound(second)
	wet, cn := moistureGoal(moisture), ratioGoal(ratio)
	a1, b1, c1 := wet.offset(a), wet.offset(b), wet.offset(mix)
	a2, b2, c2 := cn.offset(a), cn.offset(b), cn.offset(mix)
	if anyUnknown(a1, b1, c1, a2, b2, c2) {
		return Supplement{Mix: mix, Said: missingOf(mix, a, b)}
	}
	// Cramer's rule on a1·x + b1·y = -c1 and a2·x + b2·y = -c2.
	det := cross(a1, b2, a2, b1)
	if det.Sign() == 0 {
		return Supplement{Mix: mix, Said: say("These two materials cannot move both numbers: choose another one.",
			"Estos dos materiales no pueden mover ambos números: elija otro.")}
	}
	x, y := quoRat(cross(b1, c2, b2, c1), det), quoRat(cross(a2, c1, a1, c2), det)
	if x.Sign() < 0 || y.Sign() < 0 {
		return Supplement{Mix: mix, Said: say("No mix of %[1]s and %[2]s meets both goals, C:N %[3]s and %[4]s %% moisture.",
			"Ninguna mezcla de %[1]s y %[2]s cumple las dos metas, C:N %[3]s y %[4]s %% de humedad.",
			first.Feedstock, second.Feedstock, ratio, moisture)}
	}
	return settle(base, []Ingredient{first, second}, []*big.Rat{x, y}, []mixGoal{cn, wet})
}

func cross(a, b, c, d *big.Rat) *big.Rat {
	return subRat(mulRat(a, b), mulRat(c, d))
}

// mixGoal is a number the mix should have. offset is how far a mix is from it, as a sum over its materials, so that
// offsets add and the goal is met at zero.
type mixGoal struct {
	offset func(Mix) *big.Rat
	figure func(Mix) Figure
	goal   decimal.Decimal
	// low and high are the limits that rounding must not step over when the goal lies within them.
	low, high decimal.Decimal
}

func ratioGoal(goal decimal.Decimal) mixGoal {
	return mixGoal{
		offset: func(m Mix) *big.Rat {
			return subRat(m.CarbonLb.r, mulRat(goal.Rat(), m.NitrogenLb.r))
		},
		figure: func(m Mix) Figure { return m.CarbonNitrogen },
		goal:   goal, low: leastCN, high: mostCN,
	}
}

func moistureGoal(goal decimal.Decimal) mixGoal {
	return mixGoal{
		offset: func(m Mix) *big.Rat {
			return mulRat(m.MassLb.r, subRat(m.MoisturePct.r, goal.Rat()))
		},
		figure: func(m Mix) Figure { return m.MoisturePct },
		goal:   goal, low: leastMoisture, high: mostMoisture,
	}
}

// held reports that the mix keeps the limits, whenever the goal itself does.
func (g mixGoal) held(m Mix) bool {
	if g.goal.LessThan(g.low) || g.goal.GreaterThan(g.high) {
		return true
	}
	return g.figure(m).Within(g.low, g.high)
}

func solveOne(base []Ingredient, material Ingredient, g mixGoal) Supplement {
	mix, pound := MixOf(base), onePound(material)
	have, per := g.offset(mix), g.offset(pound)
	if anyUnknown(have, per) {
		return Supplement{Mix: mix, Said: missingOf(mix, pound)}
	}
	if have.Sign() == 0 {
		return Supplement{Possible: true, Mix: mix, Said: say("The mix is at the goal already; add nothing.", "La mezcla ya está en la meta; no agregue nada.")}
	}
	if per.Sign() == 0 {
		return Supplement{Mix: mix, Said: say("%s sits exactly at the goal itself, so the mix cannot be changed with it.",
			"%s está justo en la meta, así que con ese material no se puede cambiar la mezcla.", material.Feedstock)}
	}
	amount := quoRat(new(big.Rat).Neg(have), per)
	if amount.Sign() < 0 {
		return Supplement{Mix: mix, Said: say("%s lies on the same side of the goal as the mix: more of it leads away. Choose another material.",
			"%s está del mismo lado de la meta que la mezcla: agregar más aleja. Elija otro material.", material.Feedstock)}
	}
	return settle(base, []Ingredient{material}, []*big.Rat{amount}, []mixGoal{g})
}

func anyUnknown(rs ...*big.Rat) bool {
	for _, r := range rs {
		if r == nil {
			return true
		}
	}
	return false
}

func missingOf(mixes ...Mix) LocalText {
	t := say("This cannot be worked out yet.", "Todavía no se puede calcular.")
	for _, m := range mixes {
		for _, missing := range m.Missing {
			t.En, t.Es = t.En+" "+missing.En, t.Es+" "+missing.Es
		}
	}
	return t
}

func onePound(in Ingredient) Mix {
	in.Amount = Q("1", "lb")
	return MixOf([]Ingredient{in})
}

// settle rounds the solved pounds to tenths of the unit the farm weighs in. It rounds up first, because up is past the
// goal; where up would step over a limit it tries down, and computes the mix again with what it settled on.
func settle(base, materials []Ingredient, lb []*big.Rat, goals []mixGoal) Supplement {
	unit := weighingUnit(base)
	s := Supplement{}
	perLb, _ := ratIn(Q("1", "lb"), unit)
	for _, x := range lb {
		s.Exact = append(s.Exact, Figure{mulRat(x, perLb)})
	}
	for downs := range 1 << len(lb) {
		s.Amounts = nil
		whole := append([]Ingredient(nil), base...)
		for i, exact := range s.Exact {
			q := Quantity{roundTenth(exact, downs>>i&1 == 0), unit}
			s.Amounts = append(s.Amounts, q)
			materials[i].Amount = q
			whole = append(whole, materials[i])
		}
		s.Mix = MixOf(whole)
		if s.Possible = allHeld(goals, s.Mix); s.Possible {
			s.Said = amountsSaid(materials, s.Mix)
			return s
		}
	}
	s.Amounts = nil
	s.Said = say("No amount in tenths of a %s stays within the limits.", "Ninguna cantidad en décimas de %s queda dentro de los límites.", unit)
	return s
}

func allHeld(goals []mixGoal, m Mix) bool {
	for _, g := range goals {
		if !g.held(m) {
			return false
		}
	}
	return true
}

func amountsSaid(materials []Ingredient, m Mix) LocalText {
	var list string
	for i, in := range materials {
		if i > 0 {
			list += " + "
		}
		list += in.Amount.String() + " " + in.Feedstock
	}
	return say("Add %s: C:N %s, moisture %s %%.", "Agregue %s: C:N %s, humedad %s %%.", list,
		m.CarbonNitrogen.Show(2, leastCN, mostCN), m.MoisturePct.Show(1, leastMoisture, mostMoisture))
}

// weighingUnit is the unit of the first ingredient that was weighed, and lb when all were measured by volume.
func weighingUnit(base []Ingredient) Unit {
	for _, in := range base {
		if m, _ := MeasureOf(in.Amount.Unit); m == Mass {
			return in.Amount.Unit
		}
	}
	return "lb"
}

func roundTenth(f Figure, up bool) decimal.Decimal {
	tenths := timesRat(f.r, 10)
	n, rest := new(big.Int).QuoRem(tenths.Num(), tenths.Denom(), new(big.Int))
	if up && rest.Sign() > 0 {
		n.Add(n, big.NewInt(1))
	}
	return decimal.NewFromBigInt(n, -1)
}
