package domain

import (
	"fmt"
	"strings"
)

// GS1 numbers belong to whoever licensed the company prefix they begin with. Nothing here makes one up: without a
// prefix every number is refused with a sentence, and a farm without one goes on with codes and addresses of its own
// (traceability reference 2.6).

// GS1CheckDigit gives the last digit of a GTIN, GLN or SSCC from the digits before it: from the right, weighted 3, 1, 3,
// 1 …, the difference to the next ten [verified: GenSpecs section 7.9.1 as cited in traceability reference 2.1].
func GS1CheckDigit(body string) (byte, error) {
	if body == "" || !allDigits(body) {
		return 0, gs1Refusal("%.40q is not a row of digits.", body)
	}
	sum, weight := 0, 3
	for i := len(body) - 1; i >= 0; i-- {
		sum += int(body[i]-'0') * weight
		weight = 4 - weight
	}
	return byte('0' + (10-sum%10)%10), nil
}

func gs1Refusal(format string, args ...any) *Error {
	return Refuse(CodeInvalid, "Not a GS1 number", format, args...)
}

func allDigits(s string) bool {
	for i := range len(s) {
		if s[i] < '0' || s[i] > '9' {
			return false
		}
	}
	return true
}

// checkGS1Digit refuses a number whose last digit does not fit, and says which digit would.
func checkGS1Digit(what, number string) error {
	if !allDigits(number) || len(number) < 2 {
		return gs1Refusal("%.40q is not a %s: it is made of digits only.", number, what)
	}
	want, err := GS1CheckDigit(number[:len(number)-1])
	if err != nil {
		return err
	}
	if got := number[len(number)-1]; got != want {
		return gs1Refusal("The last digit of %s %s is %c, but the others ask for %c. Read it again from the paper it stands on.", what, number, got, want)
	}
	return nil
}

// ParseGTIN reads a GTIN of 8, 12, 13 or 14 digits and gives it with 14. The zeros in front never change the last digit.
func ParseGTIN(s string) (string, error) {
	switch len(s) {
	case 8, 12, 13, 14:
	default:
		return "", gs1Refusal("A GTIN has 8, 12, 13 or 14 digits; %.40q has %d characters.", s, len(s))
	}
	if err := checkGS1Digit("GTIN", s); err != nil {
		return "", err
	}
	if strings.Trim(s, "0") == "" {
		return "", gs1Refusal("A GTIN of zeros only names nothing.")
	}
	return strings.Repeat("0", 14-len(s)) + s, nil
}

// ParseGLN reads a location number of 13 digits.
func ParseGLN(s string) (string, error) { return parseGS1Key("GLN", s, 13) }

// ParseSSCC reads the number of a pallet or stack, 18 digits.
func ParseSSCC(s string) (string, error) { return parseGS1Key("SSCC", s, 18) }

func parseGS1Key(what, s string, digits int) (string, error) {
	if len(s) != digits {
		return "", gs1Refusal("A %s has %d digits; %.40q has %d characters.", what, digits, s, len(s))
	}
	return s, checkGS1Digit(what, s)
}

// GS1Prefix is a company prefix that somebody licensed. The zero value is a farm without one.
type GS1Prefix struct{ digits string }

// ParseGS1Prefix reads a licensed company prefix, with the leading zero if it came for UPC. The empty text is a farm
// without one and no error.
func ParseGS1Prefix(s string) (GS1Prefix, error) {
	switch {
	case s == "":
		return GS1Prefix{}, nil
	case !allDigits(s) || len(s) < 4 || len(s) > 12:
		return GS1Prefix{}, gs1Refusal("A GS1 company prefix has 4 to 12 digits, as on the licence; %.40q does not.", s)
	case s[0] == '2' || strings.HasPrefix(s, "02") || strings.HasPrefix(s, "04"):
		// [verified: LIBPFX, traceability reference 2.6]
		return GS1Prefix{}, gs1Refusal("Numbers that begin with %s are for use inside one shop or company only and must not go into trade.", s[:2])
	}
	return GS1Prefix{s}, nil
}

// GS1Prefixes lists the company prefixes that a GTIN of 14 digits may begin with, behind its indicator: a prefix does not
// say how long it is.
func GS1Prefixes(gtin string) (out []string) {
	for n := 4; n < 12 && len(gtin) == 14; n++ {
		out = append(out, gtin[1:1+n])
	}
	return out
}

// IsZero reports that the farm has no prefix.
func (p GS1Prefix) IsZero() bool { return p.digits == "" }

// IsExample reports a prefix that GS1 keeps for examples. It must never stand on real produce [verified: GS1SG 2.18].
func (p GS1Prefix) IsExample() bool { return strings.HasPrefix(p.digits, "952") }

func (p GS1Prefix) String() string { return p.digits }

// key joins prefix and reference to a number of so many digits with its check digit.
func (p GS1Prefix) key(what, front, reference string, digits int) (string, error) {
	if p.IsZero() {
		return "", Refuse(CodeRuleRefused, "No GS1 company prefix",
			"This farm has no GS1 company prefix, so it can't make a %s. License one from a GS1 member organisation, or go on with the farm's own codes: the law asks for no GS1 number.", what)
	}
	room := digits - 1 - len(front) - len(p.digits)
	if room < 1 || len(reference) != room || !allDigits(reference) {
		return "", gs1Refusal("After the prefix %s a %s has room for %d digits; %.40q does not fit.", p.digits, what, max(room, 0), reference)
	}
	body := front + p.digits + reference
	check, err := GS1CheckDigit(body)
	return body + string(rune(check)), err
}

// GTIN gives the 14 digits of a product: indicator 0 is what the consumer buys, 1 to 8 a case of it, 9 a case of varying
// weight.
func (p GS1Prefix) GTIN(indicator int, item string) (string, error) {
	if indicator < 0 || indicator > 9 {
		return "", gs1Refusal("The first digit of a GTIN-14 is 0 to 9, not %d.", indicator)
	}
	return p.key("GTIN", fmt.Sprint(indicator), item, 14)
}

// GLN gives the number of a place of the farm.
func (p GS1Prefix) GLN(location string) (string, error) { return p.key("GLN", "", location, 13) }

// SSCC gives the number of a pallet or a mixed stack.
func (p GS1Prefix) SSCC(extension int, serial string) (string, error) {
	if extension < 0 || extension > 9 {
		return "", gs1Refusal("The first digit of an SSCC is 0 to 9, not %d.", extension)
	}
	return p.key("SSCC", fmt.Sprint(extension), serial, 18)
}
