package domain

import (
	"math"
	"strconv"

	"github.com/shopspring/decimal"
)

// MPNRow is one dilution of a most-probable-number test: so many tubes or wells of so many mL of the sample, and how many
// of them turned positive.
type MPNRow struct {
	Tubes    int
	VolumeML float64
	Positive int
}

// MPNEstimate is the most probable number per mL of sample. Multiply by 100 for a result per 100 mL.
type MPNEstimate struct {
	PerML     float64 // 0 when none is positive, +Inf when all are
	Qualifier string  // "<" none positive, ">" all positive, else ""
	LimitML   float64 // what to print after the qualifier; zero without one
	SELog10   float64 // standard error of log10; zero with a qualifier
	Low, High float64 // 95 % interval per mL; zero with a qualifier
}

// MPN finds the density that makes the counts most likely: λ with Σ g·v/(1−e^(−λv)) = Σ n·v, by bisection of log λ
// (calculations reference 3.5; [verified: single-dilution form in a public derivation; BAM App. 2 assumptions]). With
// none positive the answer is "less than" the smallest number that one positive would give, with all positive "more
// than" the largest that one negative would. An error names the row (pointers /rows/INDEX/tubes, /volume, /positive).
func MPN(rows []MPNRow) (MPNEstimate, error) {
	if err := checkMPN(rows); err != nil {
		return MPNEstimate{}, err
	}
	tubes, positive := 0, 0
	for _, r := range rows {
		tubes, positive = tubes+r.Tubes, positive+r.Positive
	}
	switch positive {
	case 0:
		return MPNEstimate{Qualifier: "<", LimitML: neighbour(rows, 1, math.Min)}, nil
	case tubes:
		return MPNEstimate{PerML: math.Inf(1), Qualifier: ">", LimitML: neighbour(rows, -1, math.Max)}, nil
	}
	e := MPNEstimate{PerML: solveMPN(rows)}
	e.SELog10 = standardError(rows, e.PerML)
	e.Low, e.High = e.PerML*math.Pow(10, -1.96*e.SELog10), e.PerML*math.Pow(10, 1.96*e.SELog10)
	return e, nil
}

func checkMPN(rows []MPNRow) error {
	var p Problems
	p.Check(len(rows) > 0, "/rows", "Give at least one row of tubes.")
	tubes := 0
	for i, r := range rows {
		at := "/rows/" + itoa(i)
		p.Check(r.Tubes > 0 && r.Tubes <= 1000, at+"/tubes", "A row has 1 to 1000 tubes or wells; %d is not.", r.Tubes)
		p.Check(r.VolumeML >= 1e-9 && r.VolumeML <= 1e5, at+"/volume", "A tube holds more than 0 mL of the sample (0.000000001 at least) and at most 100 L; %v is not.", r.VolumeML)
		p.Check(r.Positive >= 0 && r.Positive <= r.Tubes, at+"/positive", "%d positive of %d cannot be. Count again.", r.Positive, r.Tubes)
		tubes += r.Tubes
	}
	p.Check(tubes != 1, "/rows", "One tube alone gives no number.")
	return p.Err()
}

// neighbour gives the extreme of the estimates with one more or one less positive in any one row.
func neighbour(rows []MPNRow, change int, extreme func(a, b float64) float64) float64 {
	var out float64
	for i := range rows {
		near := append([]MPNRow(nil), rows...)
		near[i].Positive += change
		estimate := solveMPN(near)
		if i == 0 {
			out = estimate
		}
		out = extreme(out, estimate)
	}
	return out
}

// solveMPN needs at least one positive and one negative tube. The left side less the right falls from +∞ to below zero,
// so the root is alone.
func solveMPN(rows []MPNRow) float64 {
	excess := func(lambda float64) float64 {
		var sum float64
		for _, r := range rows {
			if r.Positive > 0 {
				sum += float64(r.Positive) * r.VolumeML / -math.Expm1(-lambda*r.VolumeML)
			}
			sum -= float64(r.Tubes) * r.VolumeML
		}
		return sum
	}
	low, high := math.Log(1e-12), math.Log(1e12)
	for range 200 {
		if mid := (low + high) / 2; excess(math.Exp(mid)) > 0 {
			low = mid
		} else {
			high = mid
		}
	}
	return math.Exp((low + high) / 2)
}

// standardError is 1/[ln 10 · √(Σ g·x²·e^x/(e^x−1)²)] with x = λv, written so that a large x does not overflow.
func standardError(rows []MPNRow, lambda float64) float64 {
	var information float64
	for _, r := range rows {
		x := lambda * r.VolumeML
		down := math.Expm1(-x)
		information += float64(r.Positive) * x * x * math.Exp(-x) / (down * down)
	}
	return 1 / (math.Ln10 * math.Sqrt(information))
}

// Thomas is the short-cut positives/√(mL in negatives × mL in all), per mL: a check on the solver, not a result.
func Thomas(rows []MPNRow) (float64, error) {
	if err := checkMPN(rows); err != nil {
		return 0, err
	}
	var positive, negativeML, allML float64
	for _, r := range rows {
		positive += float64(r.Positive)
		negativeML += float64(r.Tubes-r.Positive) * r.VolumeML
		allML += float64(r.Tubes) * r.VolumeML
	}
	if negativeML == 0 {
		return math.Inf(1), nil
	}
	return positive / math.Sqrt(negativeML*allML), nil
}

// Tray51 gives the MPN per 100 mL of 51 equal wells in closed form, 51·ln(51/(51−k)); all 51 positive: more than 200.5,
// none: less than 1.0.
func Tray51(positive int) (perHundred float64, qualifier string, err error) {
	var p Problems
	p.Check(positive >= 0 && positive <= 51, "/positive", "%d of 51 wells cannot be. Count again.", positive)
	if err := p.Err(); err != nil {
		return 0, "", err
	}
	switch positive {
	case 0:
		positive, qualifier = 1, "<"
	case 51:
		positive, qualifier = 50, ">"
	}
	return 51 * math.Log(51/(51-float64(positive))), qualifier, nil
}

// The wells of a 97-well tray. Published tables match these volumes and not the nominal 1.86 and 0.186 mL [computed].
const (
	trayLargeML = 1.8841
	traySmallML = 0.16
)

// Tray97 gives the maximum likelihood estimate for a tray of 49 large and 48 small wells of 100 mL. It is a check against
// slips of the pen only: what counts is the number that the lab printed.
func Tray97(large, small int) (MPNEstimate, error) {
	var p Problems
	p.Check(large >= 0 && large <= 49, "/large", "%d of 49 large wells cannot be. Count again.", large)
	p.Check(small >= 0 && small <= 48, "/small", "%d of 48 small wells cannot be. Count again.", small)
	if err := p.Err(); err != nil {
		return MPNEstimate{}, err
	}
	return MPN([]MPNRow{{49, trayLargeML, large}, {48, traySmallML, small}})
}

// CheckTray97 compares a printed result with the wells counted: within 1 %, or within half of its last printed digit where
// that is coarser (a printed 1.0 is anything from 0.95). The error names /result/value or /result/qualifier and the
// number that was expected; it never replaces the print.
func CheckTray97(large, small int, printed WaterResult) error {
	e, err := Tray97(large, small)
	if err != nil {
		return err
	}
	want := 100 * e.PerML
	if e.Qualifier != "" {
		want = 100 * e.LimitML
	}
	var p Problems
	p.Check(printed.Qualifier == e.Qualifier, "/result/qualifier", "%d large and %d small wells are printed as %s%s. Look at the paper again.",
		large, small, e.Qualifier, strconv.FormatFloat(want, 'f', 1, 64))
	half := decimal.New(5, min(0, printed.Value.Exponent())-1).InexactFloat64()
	off := math.Abs(printed.Value.InexactFloat64() - want)
	p.Check(off <= max(0.01*want, half), "/result/value", "%s does not fit %d large and %d small wells, which give about %s. Look at the paper again.",
		printed.printed(), large, small, strconv.FormatFloat(want, 'f', 1, 64))
	return p.Err()
}
