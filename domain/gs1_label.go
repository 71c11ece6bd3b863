package domain

import (
	"fmt"
	"strings"

	"github.com/shopspring/decimal"
)

// LabelNumbers is what a label of a case carries for buyers who scan GS1 numbers. The zero value is a label without any.
type LabelNumbers struct {
	GTIN    string
	Link    string     // Digital Link for the QR symbol
	Element GS1Element // for the linear bar code: GTIN and lot
}

// IsZero reports a label without GS1 numbers.
func (n LabelNumbers) IsZero() bool { return n.GTIN == "" }

// caseIndicator is the first digit of the GTIN of a case of one product.
const caseIndicator = 1

// GS1Label gives the numbers for a case of an item that the farm numbered under its own prefix. Without a prefix or
// without an item reference there are none, which is no error: nothing is made up.
//
// Day and weight go into the link only, and only where they are given: with them the bars would be too wide for a label
// of four inches.
func GS1Label(prefix GS1Prefix, item, lot string, packed Date, net Quantity, stem string) (LabelNumbers, error) {
	if prefix.IsZero() || item == "" {
		return LabelNumbers{}, nil
	}
	gtin, err := prefix.GTIN(caseIndicator, item)
	if err != nil {
		return LabelNumbers{}, err
	}
	values := []GS1Value{{"01", gtin}, {"10", lot}}
	if checkGS1Value(values[1]) != nil {
		return LabelNumbers{}, Refuse(CodeInvalid, "Lot does not fit a GS1 label",
			"GS1 numbers leave room for a lot of 1 to 20 letters, digits and simple signs without blanks; %.60q does not fit. Print this label without GS1 numbers.", lot)
	}
	element, err := BuildGS1128(values)
	if err != nil {
		return LabelNumbers{}, err
	}
	if !packed.IsZero() {
		values = append(values, GS1Value{"13", strings.ReplaceAll(packed.String(), "-", "")[2:]})
	}
	if v, ok, err := gs1Weight(net); err != nil {
		return LabelNumbers{}, err
	} else if ok {
		values = append(values, v)
	}
	link, err := BuildDigitalLink(stem, values)
	if err != nil {
		return LabelNumbers{}, err
	}
	return LabelNumbers{gtin, link, element}, nil
}

// gs1Weight writes a net weight: pounds and ounces with two decimals, kilograms and grams with three. What is finer is
// cut off, so that no label promises more than is inside. Counted things and volumes have no weight.
func gs1Weight(net Quantity) (v GS1Value, ok bool, err error) {
	unit, ai, decimals := Unit("lb"), "3202", int32(2)
	if net.Unit == "kg" || net.Unit == "g" {
		unit, ai, decimals = "kg", "3103", 3
	}
	if m, known := MeasureOf(net.Unit); !known || m != Mass {
		return GS1Value{}, false, nil
	}
	weight, err := net.In(unit)
	if err != nil {
		return GS1Value{}, false, gs1Refusal("%v.", err)
	}
	steps := weight.Shift(decimals).Truncate(0)
	switch {
	case steps.Sign() <= 0:
		return GS1Value{}, false, nil
	case steps.GreaterThan(decimal.NewFromInt(999999)):
		return GS1Value{}, false, gs1Refusal("A net weight of %s has too many digits for a label.", net)
	}
	return GS1Value{ai, fmt.Sprintf("%06d", steps.IntPart())}, true, nil
}
