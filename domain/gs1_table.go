package domain

import (
	"fmt"
	"slices"
	"strings"
)

// GS1Value is one element: an application identifier and what it says.
type GS1Value struct {
	AI    string
	Value string
}

// gs1Role is what an identifier may be in a Digital Link address.
type gs1Role int

const (
	linkNowhere   gs1Role = iota
	linkKey               // names the thing; first in the path
	linkQualifier         // only in the path, behind its key
	linkAttribute         // only after the question mark
	linkEither            // a qualifier behind its key, an attribute elsewhere
)

// gs1Format is one row of the table of identifiers.
type gs1Format struct {
	title      string
	digits     int  // leading digits that must be there
	text       int  // up to so many characters of the set after the digits
	numbers    int  // up to so many digits after the digits
	check      int  // the check digit is the last of the first so many digits; 0: none
	date       bool // YYMMDD; day 00 means the month
	separator  bool // FNC1 when anything follows
	role       gs1Role
	qualifiers [][]string // of a key: orders in which qualifiers may follow; any may be left out
	needs      []string   // one of these must stand beside it; "a+b" is both
	not        []string   // must not stand beside it
}

var ofProduct = []string{"01", "02"}

// gs1Table holds the identifiers a produce farm meets: GS1 Barcode Syntax Dictionary, state of July 2026 [verified:
// GS1SD, traceability reference 2.3]. What is not in it is refused, never guessed. Families such as 310n are listed by
// their first digits in gs1Families.
var gs1Table = map[string]gs1Format{
	"00": {title: "SSCC", digits: 18, check: 18, role: linkKey},
	"01": {title: "GTIN", digits: 14, check: 14, role: linkKey, qualifiers: [][]string{{"22", "10", "21"}, {"235"}}},
	"02": {title: "content", digits: 14, check: 14, role: linkAttribute, needs: []string{"37"}},
	"37": {title: "count", digits: 1, numbers: 7, separator: true, role: linkAttribute, needs: []string{"00+02"}},

	"10":  {title: "batch or lot", text: 20, separator: true, role: linkEither, needs: ofProduct},
	"11":  {title: "production date", digits: 6, date: true, role: linkAttribute, needs: ofProduct},
	"13":  {title: "packaging date", digits: 6, date: true, role: linkAttribute, needs: ofProduct},
	"15":  {title: "best before date", digits: 6, date: true, role: linkAttribute, needs: ofProduct},
	"16":  {title: "sell by date", digits: 6, date: true, role: linkAttribute, needs: ofProduct},
	"17":  {title: "expiry date", digits: 6, date: true, role: linkAttribute, needs: ofProduct},
	"21":  {title: "serial number", text: 20, separator: true, role: linkQualifier, needs: []string{"01"}, not: []string{"235"}},
	"22":  {title: "consumer variant", text: 20, separator: true, role: linkQualifier, needs: []string{"01"}},
	"235": {title: "third-party serial", text: 28, separator: true, role: linkQualifier, needs: []string{"01"}, not: []string{"21"}},
	"240": {title: "additional identification", text: 30, separator: true, role: linkAttribute, needs: ofProduct},
	"241": {title: "customer part number", text: 30, separator: true, role: linkAttribute, needs: ofProduct},
	"250": {title: "secondary serial", text: 30, separator: true, role: linkAttribute, needs: []string{"01+21"}},
	"251": {title: "reference to source entity", text: 30, separator: true, role: linkAttribute, needs: []string{"01"}},
	"30":  {title: "variable count", digits: 1, numbers: 7, separator: true, role: linkAttribute, needs: ofProduct},

	"400": {title: "order number", text: 30, separator: true, role: linkAttribute},
	"410": {title: "ship to", digits: 13, check: 13, role: linkAttribute},
	"412": {title: "purchased from", digits: 13, check: 13, role: linkAttribute},
	"413": {title: "ship for", digits: 13, check: 13, role: linkAttribute},
	"414": {title: "location", digits: 13, check: 13, role: linkKey, qualifiers: [][]string{{"254"}}},
	"254": {title: "part of a location", text: 20, separator: true, role: linkQualifier, needs: []string{"414"}},
	"416": {title: "production location", digits: 13, check: 13, role: linkAttribute},
	"417": {title: "party", digits: 13, check: 13, role: linkKey},
	"422": {title: "country of origin", digits: 3, separator: true, role: linkAttribute, needs: ofProduct, not: []string{"426"}},
	"423": {title: "countries of initial processing", digits: 3, numbers: 12, separator: true, role: linkAttribute, needs: ofProduct},
	"424": {title: "country of processing", digits: 3, separator: true, role: linkAttribute, needs: ofProduct},
	"426": {title: "country of full process", digits: 3, separator: true, role: linkAttribute, needs: ofProduct, not: []string{"422"}},
	"427": {title: "origin subdivision", text: 3, separator: true, role: linkAttribute, needs: []string{"422"}},

	"8003": {title: "reusable crate", digits: 14, check: 14, text: 16, separator: true, role: linkKey},
	"8200": {title: "product address", text: 70, separator: true, role: linkNowhere, needs: []string{"01"}},
	"90":   {title: "agreed between partners", text: 30, separator: true, role: linkAttribute},
}

// gs1Families are identifiers whose last digit varies.
var gs1Families = []struct {
	stem     string
	from, to byte
	gs1Format
}{
	{"310", '0', '5', gs1Format{title: "net weight in kg", digits: 6, role: linkAttribute, needs: ofProduct}},
	{"320", '0', '5', gs1Format{title: "net weight in lb", digits: 6, role: linkAttribute, needs: ofProduct}},
	{"703", '0', '9', gs1Format{title: "processor number", digits: 3, text: 27, separator: true, role: linkAttribute, needs: ofProduct}},
	{"9", '1', '9', gs1Format{title: "internal", text: 90, separator: true, role: linkAttribute}},
}

func gs1FormatOf(ai string) (gs1Format, bool) {
	if f, ok := gs1Table[ai]; ok {
		return f, true
	}
	for _, f := range gs1Families {
		if last := len(f.stem); len(ai) == last+1 && ai[:last] == f.stem && ai[last] >= f.from && ai[last] <= f.to {
			return f.gs1Format, true
		}
	}
	return gs1Format{}, false
}

// gs1Characters are the 82 that a text may hold: no blank, no accents [memory for the full list; the refusal of a blank
// was measured].
const gs1Characters = `!"%&'()*+,-./0123456789:;<=>?ABCDEFGHIJKLMNOPQRSTUVWXYZ_abcdefghijklmnopqrstuvwxyz`

// checkGS1Value holds one element against its format.
func checkGS1Value(v GS1Value) error {
	f, ok := gs1FormatOf(v.AI)
	if !ok {
		return gs1Refusal("(%.20s) is not an application identifier that this book knows.", v.AI)
	}
	name := fmt.Sprintf("(%s) %s", v.AI, f.title)
	most := f.digits + f.numbers + f.text
	switch {
	case v.Value == "":
		return gs1Refusal("%s is empty.", name)
	case len(v.Value) < f.digits || len(v.Value) > most:
		if most == f.digits {
			return gs1Refusal("%s has %d digits; %.100q has %d characters.", name, most, v.Value, len(v.Value))
		}
		return gs1Refusal("%s has up to %d characters; %.100q has %d.", name, most, v.Value, len(v.Value))
	case !allDigits(v.Value[:f.digits]) || f.text == 0 && !allDigits(v.Value):
		return gs1Refusal("%s is made of digits; %q is not.", name, v.Value)
	}
	for _, r := range v.Value[f.digits:] {
		if !strings.ContainsRune(gs1Characters, r) {
			return gs1Refusal("%s can't hold the character %q.", name, r)
		}
	}
	if f.check > 0 {
		if err := checkGS1Digit(name, v.Value[:f.check]); err != nil {
			return err
		}
	}
	switch {
	case v.AI == "8003" && v.Value[0] != '0':
		return gs1Refusal("%s begins with 0.", name)
	case v.AI == "423" && len(v.Value)%3 != 0:
		return gs1Refusal("%s has three digits for each country.", name)
	case f.date && !gs1Date(v.Value):
		return gs1Refusal("%s is not a date: %s is read as year, month, day with two digits each.", name, v.Value)
	}
	return nil
}

// gs1Date accepts YYMMDD, with day 00 for a whole month.
func gs1Date(s string) bool {
	day := s[4:]
	if day == "00" {
		day = "01"
	}
	_, err := ParseDate("20" + s[:2] + "-" + s[2:4] + "-" + day)
	return err == nil
}

// checkGS1Company holds elements against each other: what must stand beside what, and nothing twice.
func checkGS1Company(values []GS1Value) error {
	has := func(ai string) bool {
		return slices.ContainsFunc(values, func(v GS1Value) bool { return v.AI == ai })
	}
	families := map[string]string{}
	for i, v := range values {
		f, _ := gs1FormatOf(v.AI)
		if slices.ContainsFunc(values[:i], func(o GS1Value) bool { return o.AI == v.AI }) {
			return gs1Refusal("(%s) %s stands twice.", v.AI, f.title)
		}
		if len(v.AI) == 4 && (v.AI[:3] == "310" || v.AI[:3] == "320") {
			if other := families[v.AI[:3]]; other != "" {
				return gs1Refusal("(%s) and (%s) both give the net weight; give it once.", other, v.AI)
			}
			families[v.AI[:3]] = v.AI
		}
		for _, other := range f.not {
			if has(other) {
				return gs1Refusal("(%s) %s can't stand beside (%s).", v.AI, f.title, other)
			}
		}
		met := len(f.needs) == 0
		for _, together := range f.needs {
			all := true
			for _, ai := range strings.Split(together, "+") {
				all = all && has(ai)
			}
			met = met || all
		}
		if !met {
			return gs1Refusal("(%s) %s needs (%s) beside it.", v.AI, f.title, strings.ReplaceAll(strings.Join(f.needs, ") or ("), "+", ") and ("))
		}
	}
	return nil
}
