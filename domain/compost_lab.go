package domain

import (
	"strings"

	"github.com/google/uuid"
	"github.com/shopspring/decimal"
)

// Analytes of compost that the rules name.
const (
	FecalColiform = "fecal-coliform"
	Salmonella    = "salmonella"
	EColiO157     = "e-coli-o157-h7"
	Listeria      = "l-monocytogenes"
)

// labUnits are the units a rule is written in, per analyte. Another unit is refused: MPN per 100 mL or CFU per gram
// cannot be turned into them without knowing what the lab did.
var labUnits = map[string][]string{
	FecalColiform: {"MPN/g", "MPN/mL"},
	Salmonella:    {"MPN/4 g", "MPN/4 mL"},
	EColiO157:     {"MPN/g", "MPN/mL"},
	Listeria:      {"CFU/5 g", "CFU/5 mL"},
}

// LabResult is what the lab printed: a number with its qualifier, or detected or not. DetectionLimit is the least the
// method finds, in the same unit; without it "not detected" proves nothing.
type LabResult struct {
	Qualifier      string `json:"qualifier,omitempty" enum:"<,>"`
	Value          Number `json:"value,omitzero"`
	Unit           string `json:"unit,omitempty"`
	Detected       *bool  `json:"detected,omitempty"`
	DetectionLimit Number `json:"detection_limit,omitzero"`
}

// CompostLabTest is one result of one sample; the result belongs to the day of sampling. A test of an analyte that no
// rule names is kept and judged by none.
type CompostLabTest struct {
	ID        uuid.UUID `json:"id,omitzero" format:"uuid"`
	BatchID   uuid.UUID `json:"compost_batch_id,omitzero" format:"uuid"`
	SampledOn Date      `json:"sampled_on" format:"date"`
	Analyte   string    `json:"analyte" enum:"fecal-coliform,salmonella,e-coli-o157-h7,l-monocytogenes"`
	Result    LabResult `json:"result"`
	Habits
}

func (x *CompostLabTest) Kind() string         { return "compost-lab-test" }
func (x *CompostLabTest) Identity() *uuid.UUID { return &x.ID }
func (x *CompostLabTest) DoneOn() Date         { return x.SampledOn }

func (x *CompostLabTest) Check(today Date, p *Problems) {
	checkDay(p, "/sampled_on", x.SampledOn, today)
	checkOneOf(p, "/analyte", x.Analyte, FecalColiform, Salmonella, EColiO157, Listeria)
	checkOneOf(p, "/result/qualifier", x.Result.Qualifier, "", "<", ">")
	r := x.Result
	p.Check(r.Value.Valid || r.Detected != nil, "/result", "Give the number the lab printed, or whether it was detected.")
	p.Check(!r.Value.Valid || r.Value.Decimal.Sign() >= 0, "/result/value", "A result cannot be below zero.")
	p.Check(!r.DetectionLimit.Valid || r.DetectionLimit.Decimal.Sign() > 0, "/result/detection_limit", "The least the method finds must be more than zero.")
	if r.Value.Valid || r.DetectionLimit.Valid {
		p.Check(x.unitFits(), "/result/unit", "%q does not fit %s: the rules count in %s. Ask the lab for that unit.",
			r.Unit, x.Analyte, strings.Join(labUnits[x.Analyte], " or "))
	}
}

func (x *CompostLabTest) unitFits() bool {
	squeezed := strings.ReplaceAll(x.Result.Unit, " ", "")
	for _, u := range labUnits[x.Analyte] {
		if strings.EqualFold(squeezed, strings.ReplaceAll(u, " ", "")) {
			return true
		}
	}
	return false
}

// LabStandardID names a microbial standard.
type LabStandardID string

const (
	NOP5006   LabStandardID = "nop-5006"
	CFR11255a LabStandardID = "21-cfr-112.55(a)"
	CFR11255b LabStandardID = "21-cfr-112.55(b)"
)

// labLimit is one line of a standard. Where absent is set, the organism must not be found by a method that finds
// limit; otherwise the number must be below limit, or may equal it when inclusive.
type labLimit struct {
	analyte   string
	limit     decimal.Decimal
	inclusive bool
	absent    bool
}

type labStandard struct {
	citation  string
	authority Authority
	limits    []labLimit
}

// Numbers: NOP 5006 [verified: us-rules S5], 21 CFR 112.55 [verified: us-rules S39]. Exactly 1,000 MPN/g passes the
// first ("not more than") and fails the second ("less than").
var labStandards = map[LabStandardID]labStandard{
	NOP5006: {"NOP 5006", Guidance, []labLimit{
		{analyte: FecalColiform, limit: decimal.NewFromInt(1000), inclusive: true},
		{analyte: Salmonella, limit: decimal.NewFromInt(3), inclusive: true},
	}},
	CFR11255a: {"21 CFR 112.55(a)", Law, []labLimit{
		{analyte: Listeria, limit: decimal.NewFromInt(1), absent: true},
		{analyte: Salmonella, limit: decimal.NewFromInt(3), absent: true},
		{analyte: EColiO157, limit: decimal.RequireFromString("0.3"), absent: true},
	}},
	CFR11255b: {"21 CFR 112.55(b)", Law, []labLimit{
		{analyte: Salmonella, limit: decimal.NewFromInt(3), absent: true},
		{analyte: FecalColiform, limit: decimal.NewFromInt(1000)},
	}},
}

// JudgeLabTest holds one result against one standard: Clear when it keeps the limit, Stop when it breaks it, Ask when
// the paper does not say enough. ok is false when the standard has no limit for that analyte. The error, CodeInvalid,
// refuses a result in a unit the rule is not written in.
func JudgeLabTest(t CompostLabTest, id LabStandardID) (r Reason, ok bool, err error) {
	standard := labStandards[id]
	for _, l := range standard.limits {
		if l.analyte != t.Analyte {
			continue
		}
		var p Problems
		t.Check(t.SampledOn, &p)
		if err := p.Err(); err != nil {
			return Reason{}, false, err
		}
		v, text := l.judge(t.Result)
		return Reason{Rule: string(id) + "." + l.analyte, Authority: standard.authority, Citation: standard.citation,
			Verdict: v, Text: text.En, TextEs: text.Es, Records: []RecordRef{{"compost-lab-test", t.ID}}}, true, nil
	}
	return Reason{}, false, nil
}

func (l labLimit) judge(r LabResult) (Verdict, LocalText) {
	if l.absent {
		return l.judgeAbsent(r)
	}
	switch {
	case !r.Value.Valid:
		return l.judgeWord(r)
	case r.Qualifier == "<" && !r.Value.Decimal.GreaterThan(l.limit), r.Qualifier == "" && l.keeps(r.Value.Decimal):
		return Clear, say("%s%s keeps the limit of %s.", "%s%s cumple el límite de %s.", r.Qualifier, r.Value.Decimal, l.limit)
	case r.Qualifier == "", r.Qualifier == ">" && !r.Value.Decimal.LessThan(l.limit):
		return Stop, say("%s%s breaks the limit of %s.", "%s%s no cumple el límite de %s.", r.Qualifier, r.Value.Decimal, l.limit)
	}
	return Ask, say("%s%s does not tell on which side of %s it lies. Ask the lab.",
		"%s%s no dice de qué lado de %s está. Pregunte al laboratorio.", r.Qualifier, r.Value.Decimal, l.limit)
}

func (l labLimit) keeps(v decimal.Decimal) bool {
	return v.LessThan(l.limit) || (l.inclusive && v.Equal(l.limit))
}

// judgeWord judges a bare "detected" or "not detected" against a limit in numbers: not detected keeps it when the
// method would have found the limit.
func (l labLimit) judgeWord(r LabResult) (Verdict, LocalText) {
	if !*r.Detected && r.DetectionLimit.Valid && !r.DetectionLimit.Decimal.GreaterThan(l.limit) {
		return Clear, say("Not detected, by a method that finds %s.", "No detectado, con un método que detecta %s.", r.DetectionLimit.Decimal)
	}
	return Ask, say("Ask the lab for the number; the limit is %s.", "Pida el número al laboratorio; el límite es %s.", l.limit)
}

// judgeAbsent: any number found is found, however small. "<3" is "not detected" by a method that finds 3.
func (l labLimit) judgeAbsent(r LabResult) (Verdict, LocalText) {
	if r.found() {
		return Stop, say("It was found; none may be.", "Se encontró; no debe haber nada.")
	}
	finds := r.DetectionLimit
	if r.Qualifier == "<" && !finds.Valid {
		finds = r.Value
	}
	if !finds.Valid || finds.Decimal.GreaterThan(l.limit) {
		return Ask, say("Not detected, but the method must be able to find %s. Ask the lab for its detection limit.",
			"No detectado, pero el método debe poder detectar %s. Pida al laboratorio su límite de detección.", l.limit)
	}
	return Clear, say("Not detected, by a method that finds %s.", "No detectado, con un método que detecta %s.", finds.Decimal)
}

func (r LabResult) found() bool {
	if r.Detected != nil && *r.Detected {
		return true
	}
	return r.Value.Valid && r.Qualifier != "<" && (r.Qualifier == ">" || r.Value.Decimal.Sign() > 0)
}

// condemns reports whether a result takes the standing away under a rule set: its microbial limit broken, or a
// pathogen found at all (21 CFR 112.51(b): known to be contaminated). Something found without a number to hold against
// the limit condemns too, and so does a result that cannot be read.
// Nothing a lab finds ever stands in for a missing process record.
func (t CompostLabTest) condemns(id LabStandardID) bool {
	if (t.Analyte == EColiO157 || t.Analyte == Listeria) && t.Result.found() {
		return true
	}
	r, ok, err := JudgeLabTest(t, id)
	return err != nil || (ok && (r.Verdict == Stop || (r.Verdict == Ask && t.Result.found())))
}
