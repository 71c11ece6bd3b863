package domain

import (
	"slices"
	"strings"
)

// fnc1 separates elements in the data of a symbol; scanners hand it over as this character.
const fnc1 = "\x1d"

// mostGS1128 is how many characters one GS1-128 symbol holds, identifiers and separators counted [verified: GenSpecs
// 5.4.4.3].
const mostGS1128 = 48

// GS1Element is what a GS1-128 symbol carries.
type GS1Element struct {
	Values []GS1Value
	// Data is what is encoded behind the first FNC1: elements joined, "\x1d" for FNC1 where one of varying length is
	// followed by another.
	Data string
	// Human is what stands below the bars. The brackets are for people and are not encoded.
	Human string
}

// BuildGS1128 puts elements together: those of fixed length first, in the order given, then the others.
func BuildGS1128(values []GS1Value) (GS1Element, error) {
	e := GS1Element{Values: slices.Clone(values)}
	if len(values) == 0 {
		return e, gs1Refusal("There is nothing to encode.")
	}
	for _, v := range values {
		if err := checkGS1Value(v); err != nil {
			return GS1Element{}, err
		}
	}
	if err := checkGS1Company(values); err != nil {
		return GS1Element{}, err
	}
	slices.SortStableFunc(e.Values, func(a, b GS1Value) int { return btoi(separates(a.AI)) - btoi(separates(b.AI)) })
	for i, v := range e.Values {
		e.Data += v.AI + v.Value
		e.Human += "(" + v.AI + ")" + v.Value
		if separates(v.AI) && i < len(e.Values)-1 {
			e.Data += fnc1
		}
	}
	if n := len(e.Data); n > mostGS1128 {
		return GS1Element{}, gs1Refusal("One bar code holds %d characters; these are %d. Leave something out or shorten the lot.", mostGS1128, n)
	}
	return e, nil
}

func separates(ai string) bool {
	f, _ := gs1FormatOf(ai)
	return f.separator
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}

// ParseGS1128 reads what a scanner hands over: with or without the symbology mark "]C1" and the first FNC1.
func ParseGS1128(data string) (GS1Element, error) {
	rest := strings.TrimPrefix(strings.TrimPrefix(data, "]C1"), fnc1)
	var values []GS1Value
	for rest != "" {
		ai, f, ok := leadingAI(rest)
		if !ok {
			return GS1Element{}, gs1Refusal("%.20q does not begin with an application identifier that this book knows.", rest)
		}
		rest = rest[len(ai):]
		value, after, found := strings.Cut(rest, fnc1)
		if !f.separator {
			if len(rest) < f.digits {
				return GS1Element{}, gs1Refusal("(%s) %s has %d digits; the data end before.", ai, f.title, f.digits)
			}
			value, after, found = rest[:f.digits], strings.TrimPrefix(rest[f.digits:], fnc1), false
		}
		if found && after == "" {
			return GS1Element{}, gs1Refusal("A separator stands at the end, where nothing follows.")
		}
		values, rest = append(values, GS1Value{ai, value}), after
	}
	return BuildGS1128(values)
}

// leadingAI finds the identifier that the data begin with. No identifier is the beginning of another.
func leadingAI(data string) (string, gs1Format, bool) {
	for n := 2; n <= min(4, len(data)); n++ {
		if f, ok := gs1FormatOf(data[:n]); ok {
			return data[:n], f, true
		}
	}
	return "", gs1Format{}, false
}

// ParseGS1Text reads elements as people write them, "(01)19521321001012(10)A-1". A bracket inside a value is written
// with a backslash before it.
func ParseGS1Text(s string) ([]GS1Value, error) {
	var values []GS1Value
	for rest := s; rest != ""; {
		ai, after, ok := strings.Cut(strings.TrimPrefix(rest, "("), ")")
		if rest[0] != '(' || !ok {
			return nil, gs1Refusal("Write each identifier in brackets before its value: (01)19521321001012(10)A-1.")
		}
		var value strings.Builder
		for after != "" && after[0] != '(' {
			if after[0] == '\\' && len(after) > 1 {
				after = after[1:]
			}
			value.WriteByte(after[0])
			after = after[1:]
		}
		v := GS1Value{ai, value.String()}
		if err := checkGS1Value(v); err != nil {
			return nil, err
		}
		values, rest = append(values, v), after
	}
	return values, checkGS1Company(values)
}
