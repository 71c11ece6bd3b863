package domain

import "strings"

// LabelNumbers is what a label of a case carries for buyers who scan GS1 numbers. The zero value is a label without any.
type LabelNumbers struct {
	GTIN    string
	Link    string     // Digital Link for the QR symbol; empty for a crate whose code is too long for one
	Element GS1Element // for the linear bar code: GTIN and lot
}

// IsZero reports a label without GS1 numbers.
func (n LabelNumbers) IsZero() bool { return n.GTIN == "" }

// caseIndicator is the first digit of the GTIN of a case of one product.
const caseIndicator = 1

// longestSerial is how many characters AI 21 takes, as AI 10 does (traceability reference 2.3).
const longestSerial = 20

// GS1Label gives the numbers for a case of an item that the farm numbered under its own prefix. Without a prefix or
// without an item reference there are none, which is no error: nothing is made up.
//
// A crate's own code goes into the link as the serial number, without its hyphens, because a serial number must tell a
// case from every other of its GTIN and not only of its lot. The bars hold GTIN and lot only: with more they would be
// too wide for a label of four inches (reference 2.4).
func GS1Label(prefix GS1Prefix, item, lot, crate, stem string) (LabelNumbers, error) {
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
			"GS1 numbers leave room for a lot of 1 to 20 letters, digits and simple signs without blanks; %.60q does not fit.", lot)
	}
	element, err := BuildGS1128(values)
	if err != nil {
		return LabelNumbers{}, err
	}
	serial := strings.ReplaceAll(crate, "-", "")
	if len(serial) > longestSerial {
		return LabelNumbers{GTIN: gtin, Element: element}, nil
	}
	if serial != "" {
		values = append(values, GS1Value{"21", serial})
	}
	link, err := BuildDigitalLink(stem, values)
	if err != nil {
		return LabelNumbers{}, err
	}
	return LabelNumbers{gtin, link, element}, nil
}
