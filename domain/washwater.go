package domain

import (
	"fmt"
	"math"

	"github.com/shopspring/decimal"
)

// SanitizerKind says which chemistry a product is.
type SanitizerKind string

const (
	SodiumHypochlorite  SanitizerKind = "sodium-hypochlorite"
	CalciumHypochlorite SanitizerKind = "calcium-hypochlorite" // dry, dosed by weight
	PeraceticAcid       SanitizerKind = "peracetic-acid"
)

// SanitizerKinds is the closed list.
var SanitizerKinds = []SanitizerKind{SodiumHypochlorite, CalciumHypochlorite, PeraceticAcid}

func (k SanitizerKind) chlorine() bool { return k != PeraceticAcid }

// SanitizerProduct is one product for one use, as its registered label says. A sanitizer is a pesticide: without the row
// there is no dose.
type SanitizerProduct struct {
	Name         string
	Kind         SanitizerKind
	Registration string // the number on the label
	Percent      decimal.Decimal
	// SpecificGravity turns weight percent into weight by volume; zero: the label prints weight by volume. About 1.08 at
	// 5.25 %, 1.11 at 8.25 %, 1.18 at 12.5 % [memory]; take it from the product's own sheet.
	SpecificGravity decimal.Decimal
	LabelLow        decimal.Decimal // ppm
	LabelHigh       decimal.Decimal // ppm
}

// Check notes what the row lacks, with pointers under /product.
func (x SanitizerProduct) Check(p *Problems) {
	checkOneOf(p, "/product/kind", x.Kind, SanitizerKinds...)
	p.Check(x.Registration != "", "/product/registration", "Write the registration number from the label. Without it no dose is given.")
	p.Check(x.Percent.Sign() > 0 && x.Percent.LessThanOrEqual(decimal.New(100, 0)), "/product/percent",
		"Write the percent of the active part from the label, above 0 and at most 100; %s is not.", x.Percent)
	p.Check(x.SpecificGravity.IsZero() || (x.SpecificGravity.GreaterThanOrEqual(decimal.New(5, -1)) && x.SpecificGravity.LessThanOrEqual(decimal.New(2, 0))),
		"/product/specific_gravity", "A specific gravity lies between 0.5 and 2; %s does not. Leave it out if the label prints weight by volume.", x.SpecificGravity)
	p.Check(x.LabelHigh.Sign() > 0 && x.LabelLow.Sign() >= 0 && x.LabelLow.LessThanOrEqual(x.LabelHigh), "/product/label_range",
		"Write the lowest and highest ppm that the label allows for this use. Without it no dose is given.")
}

// strength is mg of active part in one mL, or in one mg·1000 of a dry product.
func (x SanitizerProduct) strength() float64 {
	s := x.Percent.InexactFloat64() * 10
	if x.Kind != CalciumHypochlorite && x.SpecificGravity.Sign() > 0 {
		s *= x.SpecificGravity.InexactFloat64()
	}
	return s
}

// Dose is a starting dose to measure against, never a proof: what counts is the ppm measured afterwards. A liquid product
// has a volume, a dry one a weight.
type Dose struct {
	Millilitres float64
	Grams       float64
	Ratio       float64 // one part of product in so many parts of the whole
	Said        []LocalText
}

const (
	mlPerFluidOunce = 29.5735295625
	gramsPerOunce   = 28.349523125
	mlPerCup        = 8 * mlPerFluidOunce
)

// FluidOunces, Tablespoons, Teaspoons, Cups and Ounces give the dose in kitchen measures.
func (d Dose) FluidOunces() float64 { return d.Millilitres / mlPerFluidOunce }
func (d Dose) Tablespoons() float64 { return 2 * d.FluidOunces() }
func (d Dose) Teaspoons() float64   { return 6 * d.FluidOunces() }
func (d Dose) Cups() float64        { return d.Millilitres / mlPerCup }
func (d Dose) Ounces() float64      { return d.Grams / gramsPerOunce }

var doseSaid = []LocalText{
	{"A starting dose: add it, mix, measure, and write down what you measured. Products weaken with age and heat.",
		"Dosis inicial: agréguela, mezcle, mida y anote lo medido. Los productos pierden fuerza con el tiempo y el calor."},
	{"Never mix a chlorine product with acid or ammonia.", "Nunca mezcle un producto de cloro con ácido ni amoníaco."},
}

// DoseFor gives the product for a target of so many ppm in fresh water (calculations reference 4.2):
// mL = ppm × litres ÷ (percent × 10), in grams for a dry product. It is refused without a complete product row, and for a
// target outside the label range: errors name /product/..., /target and /water.
func DoseFor(product SanitizerProduct, target decimal.Decimal, water Quantity) (Dose, error) {
	return TopUp(product, decimal.Zero, target, water)
}

// TopUp gives the product that lifts a tank from the measured ppm to the target. The error names /measured when the tank
// is already there: too strong a tank is thinned or changed, never dosed.
func TopUp(product SanitizerProduct, measured, target decimal.Decimal, water Quantity) (Dose, error) {
	var p Problems
	product.Check(&p)
	water.Check(&p, "/water", "1000000", Volume)
	p.Check(target.Sign() > 0, "/target", "The target is more than 0 ppm; %s is not.", target)
	p.Check(measured.Sign() >= 0, "/measured", "A reading cannot be below 0 ppm; %s is.", measured)
	p.Check(measured.Sign() <= 0 || measured.LessThan(target), "/measured", "The tank already measures %s ppm; the target is %s. Do not add product.", measured, target)
	if product.LabelHigh.Sign() > 0 {
		p.Check(!target.LessThan(product.LabelLow) && !target.GreaterThan(product.LabelHigh), "/target",
			"The label allows %s to %s ppm for this use; %s is outside. The label is the law.", product.LabelLow, product.LabelHigh, target)
	}
	if err := p.Err(); err != nil {
		return Dose{}, err
	}
	litres, err := water.In("L")
	if err != nil {
		return Dose{}, err
	}
	amount := target.Sub(measured).InexactFloat64() * litres.InexactFloat64() / product.strength()
	dose := Dose{Ratio: product.strength() * 1000 / target.Sub(measured).InexactFloat64(), Said: doseSaid}
	if product.Kind == CalciumHypochlorite {
		dose.Grams = amount
	} else {
		dose.Millilitres = amount
	}
	return dose, nil
}

// PPMFromDose gives the ppm that so many mL (grams of a dry product) make in water: the simple form of the dose, read
// backwards.
func PPMFromDose(product SanitizerProduct, amount float64, water Quantity) (float64, error) {
	var p Problems
	product.Check(&p)
	water.Check(&p, "/water", "1000000", Volume)
	p.Check(amount >= 0 && !math.IsInf(amount, 0), "/amount", "An amount of product is not below zero; %v is.", amount)
	if err := p.Err(); err != nil {
		return 0, err
	}
	litres, err := water.In("L")
	if err != nil {
		return 0, err
	}
	return amount * product.strength() / litres.InexactFloat64(), nil
}

// Dilution says how a mixture was written down. "1:10" is read in two ways that differ by a tenth, so the book keeps
// which one was meant: one part in ten of the whole, or one part and ten parts of water.
type Dilution struct {
	Product float64
	Water   float64 // parts of water, when Plus
	Whole   float64 // parts of the whole, when not Plus
	Plus    bool
}

// PPM gives the strength of the mixture for a percent that is weight by volume. The error names /dilution.
func (d Dilution) PPM(percent float64) (float64, error) {
	whole := d.Whole
	if d.Plus {
		whole = d.Product + d.Water
	}
	if !(d.Product > 0) || !(whole >= d.Product) || !(percent > 0 && percent <= 100) || math.IsInf(whole, 0) {
		var p Problems
		p.Add("/dilution", "A mixture is some parts of product in at least as many parts of the whole, of a product of 0 to 100 percent.")
		return 0, p.Err()
	}
	return percent * 10000 * d.Product / whole, nil
}

// AvailableChlorine gives the percent of available chlorine of a percent of sodium hypochlorite (ratio of molar masses,
// 70.906 to 74.442) [computed].
func AvailableChlorine(hypochloritePercent float64) float64 { return hypochloritePercent * 0.9525 }

// HypochlorousShare is the part of free chlorine that works, between 0 and 1: 1/(1 + 10^(pH − pKa)), with
// pKa = 3000/T − 10.0686 + 0.0253·T and T in kelvin [memory: Morris 1966]. The error names /ph or /temperature.
func HypochlorousShare(ph, celsius float64) (float64, error) {
	var p Problems
	p.Check(ph >= 0 && ph <= 14, "/ph", "pH lies between 0 and 14; %v does not.", ph)
	p.Check(celsius >= 0 && celsius <= 60, "/temperature", "Wash water lies between 0 and 60 degC; %v does not.", celsius)
	if err := p.Err(); err != nil {
		return 0, err
	}
	return 1 / (1 + math.Pow(10, ph-hypochlorousPKa(celsius))), nil
}

func hypochlorousPKa(celsius float64) float64 {
	kelvin := celsius + 273.15
	return 3000/kelvin - 10.0686 + 0.0253*kelvin
}

// working says how strong a reading works in plain words: 50 ppm at pH 8.0 and 25 degC works like 13.
func working(ppm, share float64) LocalText {
	return LocalText{fmt.Sprintf("Works like %.0f ppm of the form that kills.", ppm*share), fmt.Sprintf("Actúa como %.0f ppm de la forma que mata.", ppm*share)}
}
