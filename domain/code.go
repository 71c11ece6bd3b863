package domain

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// CodeKind says what a printed code names.
type CodeKind string

const (
	CodeKindHarvest CodeKind = "harvest-lot"
	CodeKindPack    CodeKind = "pack-lot"
	CodeKindCrate   CodeKind = "crate"
)

// TraceCode is a code from a label after it was read and its check characters were found to fit.
type TraceCode struct {
	Kind  CodeKind
	Text  string // as printed: upper case, with hyphens
	Lot   string // the lot's own code; the same as Text unless this is a crate
	Crate int    // the number of the crate in its lot; 0 for a lot
}

// A code is made of parts joined by hyphens, and the last part is two check characters over all the others:
//
//	26219-L3-RAD-1-SS      harvest lot: first cut day (year, day of the year), bed, crop, sequence
//	26219-L3-RAD-1-C12-8H  crate 12 of that lot
//	P26221-SAL-1-4X        pack lot: packed day, product, sequence
//	P26221-SAL-1-C2-WP     crate 2 of that pack lot
//
// The crop is exactly three letters and a number never starts with zero, so a code typed without its hyphens can be
// taken apart in one way only: a crate has a digit before its C, a lot has two letters before it.
var (
	harvestShape = regexp.MustCompile(`^(\d{5})([A-Z0-9]{1,5})([A-Z]{3})([1-9]\d{0,4})(C[1-9]\d{0,4})?$`)
	packShape    = regexp.MustCompile(`^(P\d{5})([A-Z]{3})([1-9]\d{0,4})(C[1-9]\d{0,4})?$`)
)

// longestTyped is far more than any code needs with a space after every character.
const longestTyped = 100

// LotCode makes the code of a harvest lot. The sequence counts from 1 and tells lots of one day, bed and crop apart:
// the bed and crop parts are only hints for people, two beds may share one.
func LotCode(cut Date, bed, crop string, seq int) string {
	return seal([]string{dayPart(cut), bedPart(bed), cropPart(crop), strconv.Itoa(seq)})
}

// PackLotCode makes the code of a pack lot. It starts with P, a harvest lot with a digit.
func PackLotCode(packed Date, product string, seq int) string {
	return seal([]string{"P" + dayPart(packed), cropPart(product), strconv.Itoa(seq)})
}

// CrateCode makes the code of crate n of a lot, counted from 1, from a code that LotCode or PackLotCode made. It has
// check characters of its own, so that a slip in the crate number is caught as well.
func CrateCode(lot string, n int) string {
	parts := strings.Split(lot, "-")
	return seal(append(parts[:len(parts)-1], "C"+strconv.Itoa(n)))
}

// ParseCode reads a code as people type it: lower case, spaces or any dash between the parts, or nothing between them.
// O for 0 and I or L for 1 are put right where the part allows only digits, and 0 for O and 1 for I in the crop, but
// only if the check characters then fit. Elsewhere they stand as typed: the more a reader guesses, the less the check
// characters protect. An error is always an *Error.
func ParseCode(s string) (TraceCode, error) {
	if len(s) <= longestTyped {
		parts := strings.FieldsFunc(strings.ToUpper(s), isSeparator)
		for _, spelling := range [][]string{parts, respelled(parts)} {
			if c, ok := readCode(strings.Join(spelling, "")); ok {
				return c, nil
			}
		}
	}
	return TraceCode{}, Refuse(CodeInvalid, "Not a code of this book",
		"The check characters of %.40q do not fit. Look at the label again: a lot code looks like 26219-L3-RAD-1-SS.", s)
}

func isSeparator(r rune) bool { return unicode.IsSpace(r) || unicode.Is(unicode.Pd, r) || r == '−' }

// readCode takes a code without hyphens apart; ok is false if it has no such shape or its check characters do not fit.
func readCode(compact string) (c TraceCode, ok bool) {
	if len(compact) < 2 {
		return TraceCode{}, false
	}
	body := compact[:len(compact)-2]
	kind, parts := CodeKindHarvest, harvestShape.FindStringSubmatch(body)
	if parts == nil {
		kind, parts = CodeKindPack, packShape.FindStringSubmatch(body)
	}
	if parts == nil || checkCharacters(body) != compact[len(body):] {
		return TraceCode{}, false
	}
	lot, crate := parts[1:len(parts)-1], parts[len(parts)-1]
	c = TraceCode{Kind: kind, Lot: seal(lot)}
	c.Text = c.Lot
	if crate != "" {
		c.Kind, c.Text = CodeKindCrate, seal(append(lot, crate))
		c.Crate, _ = strconv.Atoi(crate[1:]) // the shape allows digits only
	}
	return c, true
}

var (
	asDigits  = strings.NewReplacer("O", "0", "I", "1", "L", "1")
	asLetters = strings.NewReplacer("0", "O", "1", "I")
)

// respelled puts look-alikes right in the parts that are digits only or letters only. It needs every hyphen in place:
// with one wrong character, the only character it can touch is then that one, and a single wrong character is always
// caught. Guessing the parts too could make two changes, and two can slip through.
func respelled(parts []string) []string {
	fixed := slices.Clone(parts)
	crop := 2
	if len(parts) > 0 && strings.HasPrefix(parts[0], "P") {
		crop = 1
	}
	whole := len(parts) == crop+3 || len(parts) == crop+4
	if !whole || len(parts[0]) != len("P26221")+1-crop {
		return fixed
	}
	fixed[0] = asDigits.Replace(parts[0])
	fixed[crop] = asLetters.Replace(parts[crop])
	for i := crop + 1; i < len(parts)-1; i++ {
		fixed[i] = asDigits.Replace(parts[i])
	}
	return fixed
}

// seal joins the parts and adds the check characters.
func seal(parts []string) string {
	return strings.Join(parts, "-") + "-" + checkCharacters(strings.Join(parts, ""))
}

const checkAlphabet = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"

// checkCharacters gives the two check characters of ISO/IEC 7064 MOD 1271-36 for a text of digits and upper-case
// letters. Read as one number in base 36, text and check characters together leave the remainder 1 modulo 1271. Every
// single wrong character and every swap of two neighbours changes that remainder.
func checkCharacters(text string) string {
	remainder := 0
	for _, r := range text + "00" {
		remainder = (remainder*36 + strings.IndexRune(checkAlphabet, r)) % 1271
	}
	check := (1271 + 1 - remainder) % 1271
	return string([]byte{checkAlphabet[check/36], checkAlphabet[check%36]})
}

// dayPart writes the year with two digits and the day of the year with three.
func dayPart(d Date) string {
	year, day := d.YearDay()
	return fmt.Sprintf("%02d%03d", year%100, day)
}

// longestBed keeps a code short enough to be read out over a field radio.
const longestBed = 5

// bedPart gives the initials of the words of a bed's name and its numbers: "North tunnel 12" is NT12. A name too long
// loses initials before it loses digits, since the number is what stands on the bed's stake.
func bedPart(name string) string {
	var initials, digits []byte
	for _, run := range bedRuns.FindAllString(plain(name), -1) {
		if run[0] <= '9' {
			digits = append(digits, run...)
		} else {
			initials = append(initials, run[0])
		}
	}
	if len(initials)+len(digits) == 0 {
		return "X"
	}
	digits = digits[:min(len(digits), longestBed-min(len(initials), 1))]
	initials = initials[:min(len(initials), longestBed-len(digits))]
	return string(initials) + string(digits)
}

var bedRuns = regexp.MustCompile(`[A-Z]+|[0-9]+`)

// cropPart gives the first three letters of a name, filled up with X.
func cropPart(name string) string {
	letters := strings.Join(cropRuns.FindAllString(plain(name), -1), "")
	return (letters + "XXX")[:3]
}

var cropRuns = regexp.MustCompile(`[A-Z]+`)

// plain writes a name in upper case with its accents taken off: Ñandú is NANDU.
func plain(name string) string {
	unmarked := strings.Map(func(r rune) rune {
		if unicode.Is(unicode.Mn, r) {
			return -1
		}
		return r
	}, norm.NFD.String(name))
	return strings.ToUpper(unmarked)
}
