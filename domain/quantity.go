package domain

import (
	"bytes"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"github.com/shopspring/decimal"
)

// Unit is one of the closed list below. A unit that is not on the list is refused, never guessed.
type Unit string

// Measure is what a unit measures; amounts are added and compared only inside one measure.
type Measure string

const (
	Mass        Measure = "mass"
	Volume      Measure = "volume"
	Count       Measure = "count"
	Area        Measure = "area"
	Length      Measure = "length"
	Temperature Measure = "temperature"
)

// unitInfo holds the measure and the exact factor to the base unit of the measure (g, mL, ft2, ft). Counted things are
// their own base: a bunch is not a head. Factors: calculations reference section 0, from the definitions of the units.
type unitInfo struct {
	measure Measure
	factor  string
}

var units = map[Unit]unitInfo{
	"lb": {Mass, "453.59237"}, "oz": {Mass, "28.349523125"}, "kg": {Mass, "1000"}, "g": {Mass, "1"},
	"gal": {Volume, "3785.411784"}, "L": {Volume, "1000"}, "qt": {Volume, "946.352946"},
	"yd3": {Volume, "764554.857984"}, "m3": {Volume, "1000000"}, "bu": {Volume, "35239.07016688"},
	"each": {Count, "1"}, "bunch": {Count, "1"}, "head": {Count, "1"}, "crate": {Count, "1"}, "case": {Count, "1"},
	"ft2": {Area, "1"}, "acre": {Area, "43560"}, "m2": {Area, "10.763910416709722"},
	"ft": {Length, "1"}, "m": {Length, "3.280839895013123"},
	"degF": {Temperature, "1"}, "degC": {Temperature, "1"},
}

// UnitNames lists the closed list in a fixed order, for error texts and the OpenAPI document.
var UnitNames = []string{"lb", "oz", "kg", "g", "gal", "L", "yd3", "m3", "qt", "bu",
	"each", "bunch", "head", "crate", "case", "ft2", "m2", "acre", "ft", "m", "degF", "degC"}

// MeasureOf gives what the unit measures; ok is false for a unit that is not on the list.
func MeasureOf(u Unit) (m Measure, ok bool) {
	info, ok := units[u]
	return info.measure, ok
}

// Quantity is an amount as a person wrote it: the decimal digits stay as written, in the unit they were written in.
type Quantity struct {
	Value decimal.Decimal
	Unit  Unit
}

// Q reads a quantity from constants of the program and of its tests; it panics on a bad one.
func Q(value string, unit Unit) Quantity {
	d, err := decimal.NewFromString(value)
	if err != nil {
		panic(fmt.Sprintf("quantity %q %s: %v", value, unit, err))
	}
	return Quantity{d, unit}
}

type quantityJSON struct {
	Value string `json:"value"`
	Unit  Unit   `json:"unit"`
}

// MarshalJSON writes {"value": "12.5", "unit": "lb"}: a decimal text, never a float.
func (q Quantity) MarshalJSON() ([]byte, error) {
	return json.Marshal(quantityJSON{q.digits(), q.Unit})
}

// digits keeps the zeros that a person wrote after the point: 12.50 is not 12.5 on a scale ticket.
func (q Quantity) digits() string { return q.Value.StringFixed(max(0, -q.Value.Exponent())) }

// UnmarshalJSON reads what MarshalJSON wrote and refuses exponents, unknown fields, and other notations a person would
// not write.
func (q *Quantity) UnmarshalJSON(b []byte) error {
	var in quantityJSON
	dec := json.NewDecoder(bytes.NewReader(b))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&in); err != nil {
		return fmt.Errorf(`a quantity is {"value": "12.5", "unit": "lb"}`)
	}
	v, err := ParseDecimal(in.Value)
	if err != nil {
		return err
	}
	*q = Quantity{v, in.Unit}
	return nil
}

// ParseDecimal reads a plain decimal number such as 12, 12.5 or -3.
func ParseDecimal(s string) (decimal.Decimal, error) {
	if len(s) > 30 || strings.ContainsAny(s, "eE+ ") {
		return decimal.Decimal{}, fmt.Errorf("%q is not a plain number such as 12.5", s)
	}
	d, err := decimal.NewFromString(s)
	if err != nil {
		return decimal.Decimal{}, fmt.Errorf("%q is not a plain number such as 12.5", s)
	}
	return d, nil
}

// IsZero reports that no quantity was given; omitzero leaves it out of JSON.
func (q Quantity) IsZero() bool { return q.Unit == "" && q.Value.IsZero() }

func (q Quantity) String() string { return q.digits() + " " + string(q.Unit) }

// In gives the amount in another unit of the same measure. Counted things convert only to themselves, temperatures
// only between degF and degC.
func (q Quantity) In(u Unit) (decimal.Decimal, error) {
	if q.Unit == u {
		return q.Value, nil
	}
	from, okFrom := units[q.Unit]
	to, okTo := units[u]
	if !okFrom || !okTo || from.measure != to.measure || from.measure == Count {
		return decimal.Decimal{}, fmt.Errorf("%s cannot be counted in %s", q.Unit, u)
	}
	if from.measure == Temperature {
		return convertTemperature(q.Value, u), nil
	}
	base := q.Value.Mul(decimal.RequireFromString(from.factor))
	return base.DivRound(decimal.RequireFromString(to.factor), 12), nil
}

// convertTemperature gives degF from degC, or degC from degF (131 degF is 55 degC exactly).
func convertTemperature(v decimal.Decimal, to Unit) decimal.Decimal {
	nine, five, thirtyTwo := decimal.NewFromInt(9), decimal.NewFromInt(5), decimal.NewFromInt(32)
	if to == "degF" {
		return v.Mul(nine).Div(five).Add(thirtyTwo)
	}
	return v.Sub(thirtyTwo).Mul(five).DivRound(nine, 12)
}

// Check notes what is wrong with a quantity that a record needs: an unknown unit, the wrong measure, a negative or
// absurd amount. The pointer names the quantity ("/amount").
func (q Quantity) Check(p *Problems, pointer string, most string, allowed ...Measure) {
	q.checkUnit(p, pointer+"/unit", allowed)
	if q.Value.Sign() <= 0 {
		p.Add(pointer+"/value", "The amount must be more than zero; %s is not.", q.Value)
	}
	if q.Value.GreaterThan(decimal.RequireFromString(most)) {
		p.Add(pointer+"/value", "%s %s is more than any farm this book is made for. Check the number and the unit.", q.Value, q.Unit)
	}
	if q.Value.Exponent() < -6 {
		p.Add(pointer+"/value", "Write at most six digits after the point.")
	}
}

func (q Quantity) checkUnit(p *Problems, pointer string, allowed []Measure) {
	m, ok := MeasureOf(q.Unit)
	switch {
	case !ok:
		p.Add(pointer, "%q is not a unit we know: use one of %s.", q.Unit, strings.Join(UnitNames, " "))
	case !slices.Contains(allowed, m):
		p.Add(pointer, "%s does not fit here: give a unit of %s.", q.Unit, joinMeasures(allowed))
	}
}

func joinMeasures(ms []Measure) string {
	names := make([]string, len(ms))
	for i, m := range ms {
		names[i] = string(m)
	}
	return strings.Join(names, " or ")
}
