package domain

import (
	"fmt"
	"regexp"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/shopspring/decimal"
)

// WashReading is one look at a wash tank. Nil or zero: not measured.
type WashReading struct {
	ID      uuid.UUID
	Tank    string
	TakenAt time.Time
	PPM     *decimal.Decimal // free chlorine or peracetic acid
	PH      *decimal.Decimal
	Water   Quantity // degF or degC
	Pulp    Quantity
	Crop    string
	Organic bool
	// Rinsed with drinking water afterwards: yes, no; empty: not said.
	Rinsed Touched
	// TargetLow and TargetHigh are the farm's own range inside the label's; nil: the label's alone.
	TargetLow, TargetHigh *decimal.Decimal
}

var fourteen = decimal.New(14, 0)

// Check notes values that cannot be, with a hint about the slip that makes them; it never mends one. What is rare but
// possible passes here, and JudgeWashReading looks at it.
func (r WashReading) Check(p *Problems) {
	p.Check(!r.TakenAt.IsZero(), "/taken_at", "Say when it was measured.")
	if r.PH != nil && (r.PH.Sign() < 0 || r.PH.GreaterThan(fourteen)) {
		p.Add("/ph", "pH lies between 0 and 14; %s does not. %s", r.PH, r.slip())
	}
	if r.PPM != nil {
		p.Check(r.PPM.Sign() >= 0, "/ppm", "A reading cannot be below 0 ppm; %s is.", r.PPM)
		p.Check(!r.PPM.GreaterThan(decimal.New(5000, 0)), "/ppm", "%s ppm is stronger than any wash tank. Check the number and the strip.", r.PPM)
	}
	checkTankTemperature(p, "/water", r.Water)
	checkTankTemperature(p, "/pulp", r.Pulp)
}

// slip guesses what the thumb meant.
func (r WashReading) slip() string {
	switch {
	case r.PPM != nil && r.PPM.Sign() >= 0 && !r.PPM.GreaterThan(fourteen) && r.PH.Sign() > 0:
		return fmt.Sprintf("Did you swap ppm (%s) and pH (%s)?", r.PPM, r.PH)
	case r.PH.GreaterThan(fourteen) && !r.PH.GreaterThan(decimal.New(140, 0)) && r.PH.IsInteger():
		return fmt.Sprintf("Did you mean %s? Or is it the ppm?", r.PH.Shift(-1))
	case r.PH.GreaterThan(fourteen):
		return "Is it the ppm?"
	}
	return "Check the meter."
}

func checkTankTemperature(p *Problems, pointer string, q Quantity) {
	if q.IsZero() {
		return
	}
	f, err := q.In("degF")
	if err != nil {
		p.Add(pointer+"/unit", "%s is no unit of temperature: use degF or degC.", q.Unit)
		return
	}
	if f.LessThan(decimal.New(23, 0)) || f.GreaterThan(decimal.New(212, 0)) {
		p.Add(pointer+"/value", "%s cannot be. Is a point missing, or is it %s?", q, map[Unit]string{"degF": "degC", "degC": "degF"}[q.Unit])
	}
}

// InRange reports whether the ppm lies in the label's range and the farm's own; known is false when nothing was measured,
// and then it is not in range either.
func (r WashReading) InRange(product SanitizerProduct) (in, known bool) {
	if r.PPM == nil {
		return false, false
	}
	low, high := r.rangeOf(product)
	return !r.PPM.LessThan(low) && !r.PPM.GreaterThan(high), true
}

// rangeOf is the narrower of the label's range and the farm's.
func (r WashReading) rangeOf(product SanitizerProduct) (low, high decimal.Decimal) {
	low, high = product.LabelLow, product.LabelHigh
	if r.TargetLow != nil && r.TargetLow.GreaterThan(low) {
		low = *r.TargetLow
	}
	if r.TargetHigh != nil && r.TargetHigh.LessThan(high) {
		high = *r.TargetHigh
	}
	return low, high
}

func washReason(rule string, by Authority, citation string, v Verdict, r WashReading, en, es string) Reason {
	return Reason{Rule: rule, Authority: by, Citation: citation, Verdict: v, Text: en, TextEs: es, Records: []RecordRef{{"wash-reading", r.ID}}}
}

// JudgeWashReading judges one reading against a product: ppm against the label and the farm's range, pH, water against
// pulp, and chlorine on organic produce. The error names the missing parts of the product row or impossible values.
//
// The references differ on ppm out of range: calculations 4.4 stops the line, US rules 3.4 warns and requires an action.
// The stricter is taken.
func JudgeWashReading(r WashReading, product SanitizerProduct) (Judgement, error) {
	var p Problems
	product.Check(&p)
	r.Check(&p)
	if err := p.Err(); err != nil {
		return Judgement{}, err
	}
	reasons := []Reason{r.strengthReason(product)}
	if product.Kind.chlorine() {
		reasons = append(reasons, r.phReasons()...)
		reasons = append(reasons, r.organicReasons()...)
	}
	return Judge(append(reasons, r.temperatureReasons()...)), nil
}

func (r WashReading) strengthReason(product SanitizerProduct) Reason {
	label := "product label, registration number " + product.Registration
	if r.PPM == nil {
		return washReason("wash.strength", Law, label, Ask, r, "The strength was not measured. Measure the ppm and write it down.", "No se midió la fuerza. Mida las ppm y anótelas.")
	}
	low, high := r.rangeOf(product)
	by, citation := Law, label
	if !r.PPM.LessThan(product.LabelLow) && !r.PPM.GreaterThan(product.LabelHigh) {
		by, citation = FarmRule, "the farm's own range"
	}
	switch {
	case r.PPM.LessThan(low):
		return washReason("wash.strength", by, citation, Stop, r,
			fmt.Sprintf("%s ppm is below %s. Stop the line, correct, measure again; wash again or hold what was washed since the last good reading.", r.PPM, low),
			fmt.Sprintf("%s ppm está por debajo de %s. Pare la línea, corrija, mida otra vez; lave de nuevo o retenga lo lavado desde la última lectura buena.", r.PPM, low))
	case r.PPM.GreaterThan(high):
		return washReason("wash.strength", by, citation, Stop, r,
			fmt.Sprintf("%s ppm is above %s. Stop the line, thin or change the water, measure again.", r.PPM, high),
			fmt.Sprintf("%s ppm supera %s. Pare la línea, diluya o cambie el agua, mida otra vez.", r.PPM, high))
	}
	text := LocalText{fmt.Sprintf("%s ppm is in range.", r.PPM), fmt.Sprintf("%s ppm está en rango.", r.PPM)}
	if celsius, err := r.Water.In("degC"); err == nil && r.PH != nil && product.Kind.chlorine() {
		if share, err := HypochlorousShare(r.PH.InexactFloat64(), celsius.InexactFloat64()); err == nil {
			said := working(r.PPM.InexactFloat64(), share)
			text.En, text.Es = text.En+" "+said.En, text.Es+" "+said.Es
		}
	}
	return washReason("wash.strength", Law, label, Clear, r, text.En, text.Es)
}

// phReasons: the usual window is 6.5 to 7.5 [verified: UF/IFAS CH160; farm wash SOP].
func (r WashReading) phReasons() []Reason {
	const citation = "UF/IFAS CH160, usual pH 6.5 to 7.5"
	switch {
	case r.PH == nil:
		return []Reason{washReason("wash.ph", Guidance, citation, Caution, r, "pH was not measured; it decides how much of the chlorine works.", "No se midió el pH; decide cuánto cloro actúa.")}
	case r.PH.LessThan(decimal.New(65, -1)):
		return []Reason{washReason("wash.ph", Guidance, citation, Caution, r, fmt.Sprintf("pH %s is low: chlorine can turn to gas.", r.PH), fmt.Sprintf("El pH %s es bajo: el cloro puede volverse gas.", r.PH))}
	case r.PH.GreaterThan(decimal.New(75, -1)):
		return []Reason{washReason("wash.ph", Guidance, citation, Caution, r, fmt.Sprintf("pH %s is high: little of the chlorine works.", r.PH), fmt.Sprintf("El pH %s es alto: poco cloro actúa.", r.PH))}
	}
	return nil
}

// organicReasons: above 4 ppm a rinse with drinking water must follow (US rules reference 1.7; row ORG-CL-4).
func (r WashReading) organicReasons() []Reason {
	if !r.Organic || r.PPM == nil || !r.PPM.GreaterThan(decimal.New(4, 0)) || r.Rinsed == TouchedYes {
		return nil
	}
	return []Reason{
		washReason("us-organic.chlorine-rinse", Guidance, "NOP 5026", Caution, r,
			fmt.Sprintf("%s ppm on organic produce: above 4 ppm a rinse with drinking water must follow.", r.PPM),
			fmt.Sprintf("%s ppm en producto orgánico: sobre 4 ppm debe seguir un enjuague con agua potable.", r.PPM)),
		washReason("us-organic.chlorine-rinse", Certifier, "NOP 5026", Ask, r,
			"No rinse with drinking water is on record. Write it down, or ask your certifier.",
			"No consta un enjuague con agua potable. Anótelo o pregunte a su certificadora."),
	}
}

// drawsIn finds crops that suck water in through the stem scar when the water is colder than they are.
var drawsIn = regexp.MustCompile(`(?i)\b(tomato(es)?|(water|musk)?melons?|cantaloupes?|honeydews?|peppers?|apples?|mango(e?s)?)\b`)

// temperatureReasons: water about 10 degF warmer than the pulp for tomato, melon, pepper and apple [memory; principle
// verified, US rules reference 3.4]. One leaflet prints 50 degF, which is read as a misprint and not used. Mango is named
// in one of the references only and is kept, being the stricter.
func (r WashReading) temperatureReasons() []Reason {
	const rule, citation = "wash.water-warmer-than-pulp", "extension guidance on infiltration"
	if !drawsIn.MatchString(r.Crop) {
		return nil
	}
	if r.Water.IsZero() || r.Pulp.IsZero() {
		return []Reason{washReason(rule, Guidance, citation, Caution, r, "Measure the water and the pulp: colder water is drawn into this crop.", "Mida el agua y la pulpa: el agua más fría entra en este cultivo.")}
	}
	water, errWater := r.Water.In("degF")
	pulp, errPulp := r.Pulp.In("degF")
	if errWater != nil || errPulp != nil || !water.LessThan(pulp) {
		return nil
	}
	return []Reason{washReason(rule, Guidance, citation, Caution, r,
		fmt.Sprintf("The water (%s) is colder than the pulp (%s) and can be drawn in. Use water about 10 degF warmer, or a very short dip.", r.Water, r.Pulp),
		fmt.Sprintf("El agua (%s) está más fría que la pulpa (%s) y puede entrar. Use agua unos 10 °F más caliente o un remojo muy corto.", r.Water, r.Pulp))}
}

// WashInterval is the time [From, To) in which a tank may have been out of range: from just after the last good reading
// to the next good one. Every lot washed in it has to be looked at.
type WashInterval struct {
	Tank     string
	From     time.Time // zero: no good reading before
	To       time.Time // zero: no good reading since
	Readings []uuid.UUID
}

// WashIntervals finds the intervals of readings out of range, tank by tank, in order of time. A reading without a
// strength is neither good nor bad: it opens nothing and ends nothing.
func WashIntervals(readings []WashReading, product SanitizerProduct) (out []WashInterval) {
	type tank struct {
		good, goodBefore time.Time
		open             int // index into out, plus one; 0: none
	}
	tanks := map[string]*tank{}
	for _, r := range washOrder(readings, product) {
		t := tanks[r.Tank]
		if t == nil {
			t = &tank{}
			tanks[r.Tank] = t
		}
		in, known := r.InRange(product)
		switch {
		case !known:
		case in:
			if t.open > 0 {
				out[t.open-1].To, t.open = r.TakenAt, 0
			}
			if r.TakenAt.After(t.good) {
				t.goodBefore, t.good = t.good, r.TakenAt
			}
		case t.open > 0:
			out[t.open-1].Readings = append(out[t.open-1].Readings, r.ID)
		default:
			last := t.good
			if last.Equal(r.TakenAt) {
				last = t.goodBefore // good and bad at one instant: it was bad then
			}
			w := WashInterval{Tank: r.Tank, Readings: []uuid.UUID{r.ID}}
			if !last.IsZero() {
				w.From = last.Add(time.Microsecond) // exclusive, at the resolution of the book
			}
			out = append(out, w)
			t.open = len(out)
		}
	}
	return out
}

// TreatmentIntervals gives the intervals of a source's readings out of range, product by product: what one label calls
// weak another calls right. A reading without a product's row can't be judged and is left out.
func TreatmentIntervals(treatments []WaterTreatment) (out []WashInterval) {
	products := map[string]SanitizerProduct{}
	readings := map[string][]WashReading{}
	var names []string
	for i := range treatments {
		t := &treatments[i]
		if t.Product == nil {
			continue
		}
		p := t.Product.Product()
		name := fmt.Sprint(p)
		if _, known := products[name]; !known {
			products[name], names = p, append(names, name)
		}
		readings[name] = append(readings[name], t.Reading())
	}
	for _, name := range names {
		out = append(out, WashIntervals(readings[name], products[name])...)
	}
	slices.SortStableFunc(out, func(a, b WashInterval) int { return a.From.Compare(b.From) })
	return out
}

// Covers reports whether water of a tank at an instant falls into the interval. A tank that was not written down may be
// this one.
func (w WashInterval) Covers(tank string, at time.Time) bool {
	same := tank == "" || w.Tank == "" || foldName(tank) == foldName(w.Tank)
	return same && !at.Before(w.From) && (w.To.IsZero() || at.Before(w.To))
}

// washOrder sorts by instant; of two readings at one instant the one out of range comes last, and so decides.
func washOrder(readings []WashReading, product SanitizerProduct) []WashReading {
	sorted := slices.Clone(readings)
	slices.SortStableFunc(sorted, func(a, b WashReading) int {
		if c := a.TakenAt.Compare(b.TakenAt); c != 0 {
			return c
		}
		inA, _ := a.InRange(product)
		inB, _ := b.InRange(product)
		switch {
		case inA == inB:
			return 0
		case inA:
			return -1
		}
		return 1
	})
	return sorted
}

// WashGap is a stretch between two looks at a tank that is longer than the farm allows.
type WashGap struct {
	Tank     string
	From, To time.Time
}

// WashGaps finds stretches between readings longer than the farm's interval, in elapsed time: the hour that comes twice
// in autumn is two hours.
func WashGaps(readings []WashReading, every time.Duration) (gaps []WashGap) {
	sorted := slices.Clone(readings)
	slices.SortStableFunc(sorted, func(a, b WashReading) int { return a.TakenAt.Compare(b.TakenAt) })
	last := map[string]time.Time{}
	for _, r := range sorted {
		if before, ok := last[r.Tank]; ok && r.TakenAt.Sub(before) > every {
			gaps = append(gaps, WashGap{r.Tank, before, r.TakenAt})
		}
		last[r.Tank] = r.TakenAt
	}
	return gaps
}
