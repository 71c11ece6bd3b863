package domain

import (
	"encoding/json"
	"fmt"
	"math/big"

	"github.com/shopspring/decimal"
)

// Figure is a computed number that may be unknown. The zero Figure is unknown, never 0: an input that is missing must
// not turn into a number that passes (calculations reference section 0). Figures are exact fractions, so a mix of
// exactly 25:1 is exactly 25 and not 24.9999999.
type Figure struct{ r *big.Rat }

// FigureOf makes a known figure from a decimal number.
func FigureOf(d decimal.Decimal) Figure { return Figure{d.Rat()} }

// Known reports whether there is a number at all.
func (f Figure) Known() bool { return f.r != nil }

// Within reports that the figure is known and lies in [low, high], ends included, compared unrounded.
func (f Figure) Within(low, high decimal.Decimal) bool {
	return f.Known() && f.r.Cmp(low.Rat()) >= 0 && f.r.Cmp(high.Rat()) <= 0
}

// Equal compares two figures; two unknown figures are equal.
func (f Figure) Equal(o Figure) bool {
	if !f.Known() || !o.Known() {
		return f.Known() == o.Known()
	}
	return f.r.Cmp(o.r) == 0
}

// Decimal is the figure rounded half-up for showing and keeping; never compare the rounded one with a limit.
func (f Figure) Decimal(places int) decimal.NullDecimal {
	if !f.Known() {
		return decimal.NullDecimal{}
	}
	return decimal.NewNullDecimal(decimal.RequireFromString(f.r.FloatString(places)))
}

// Show writes the figure half-up with the given digits, and with more where fewer would show it on the wrong side of
// one of the limits: 24.998 must not be printed as 25.0. Unknown shows as "?".
func (f Figure) Show(places int, limits ...decimal.Decimal) string {
	if !f.Known() {
		return "?"
	}
	for ; places < 12; places++ {
		if sameSide(f.r, f.r.FloatString(places), limits) {
			break
		}
	}
	return decimal.RequireFromString(f.r.FloatString(places)).String()
}

func sameSide(r *big.Rat, rounded string, limits []decimal.Decimal) bool {
	shown := decimal.RequireFromString(rounded)
	for _, l := range limits {
		if shown.Cmp(l) != r.Cmp(l.Rat()) {
			return false
		}
	}
	return true
}

// MarshalJSON writes a decimal text with at most six digits after the point, or null when unknown.
func (f Figure) MarshalJSON() ([]byte, error) {
	if !f.Known() {
		return []byte("null"), nil
	}
	return json.Marshal(f.Decimal(6).Decimal.String())
}

func (f Figure) String() string { return f.Show(3) }

// Number is a number of a record that may be left out: not given is something else than zero. In JSON it is a decimal
// text or a plain number; exponents are refused, since 1e999999999 would fill the memory once it is compared.
type Number struct{ decimal.NullDecimal }

// Given makes a number that is given.
func Given(d decimal.Decimal) Number { return Number{decimal.NewNullDecimal(d)} }

// MarshalJSON writes a decimal text, or null when not given.
func (n Number) MarshalJSON() ([]byte, error) {
	if !n.Valid {
		return []byte("null"), nil
	}
	return json.Marshal(n.Decimal.String())
}

// UnmarshalJSON reads what MarshalJSON wrote, and a bare number.
func (n *Number) UnmarshalJSON(b []byte) error {
	text := string(b)
	if text == "null" {
		*n = Number{}
		return nil
	}
	if text != "" && text[0] == '"' {
		if err := json.Unmarshal(b, &text); err != nil {
			return err
		}
	}
	d, err := ParseDecimal(text)
	if err != nil {
		return err
	}
	*n = Given(d)
	return nil
}

// ratIn is the amount in another unit of the same measure, as an exact fraction; Quantity.In rounds at 12 digits.
func ratIn(q Quantity, u Unit) (*big.Rat, error) {
	from, to := units[q.Unit], units[u]
	if from.measure == "" || from.measure != to.measure || from.measure == Temperature || (from.measure == Count && q.Unit != u) {
		return nil, fmt.Errorf("%s cannot be counted in %s", q.Unit, u)
	}
	base := new(big.Rat).Mul(q.Value.Rat(), decimal.RequireFromString(from.factor).Rat())
	return base.Quo(base, decimal.RequireFromString(to.factor).Rat()), nil
}

// say fills both languages with the same values; where the order of words differs, the format names the index.
func say(en, es string, args ...any) LocalText {
	return LocalText{En: fmt.Sprintf(en, args...), Es: fmt.Sprintf(es, args...)}
}
