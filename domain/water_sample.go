package domain

import (
	"encoding/json"
	"fmt"
	"regexp"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/shopspring/decimal"
)

// WaterResult is a laboratory result as printed. Units are the closed list of WaterResultUnits.
type WaterResult struct {
	Qualifier string          // "<" below the limit that Value gives, ">" above it, "" counted
	Value     decimal.Decimal // as printed; 0 or 1 for absent or present
	Unit      string
}

// WaterResultUnits lists what a result can be given in. The units without a volume exist on real papers; they are kept,
// and never count as a pass.
var WaterResultUnits = []string{"CFU/100mL", "MPN/100mL", "PA/100mL", "CFU", "MPN", "PA"}

// ParseWaterUnit finds the unit that a lab wrote with other blanks or capitals ("MPN/100 mL").
func ParseWaterUnit(s string) (string, bool) {
	bare := strings.ToLower(strings.NewReplacer(" ", "", "-", "", "per", "/").Replace(s))
	for _, u := range WaterResultUnits {
		if bare == strings.ToLower(u) || bare == strings.ToLower(strings.Replace(u, "PA", "P/A", 1)) {
			return u, true
		}
	}
	return "", false
}

type waterResultJSON struct {
	Qualifier string `json:"qualifier,omitempty"`
	Value     string `json:"value"`
	Unit      string `json:"unit"`
}

// MarshalJSON keeps the printed digits: "1.0" stays "1.0", because it says how fine the method was.
func (r WaterResult) MarshalJSON() ([]byte, error) {
	return json.Marshal(waterResultJSON{r.Qualifier, r.printed(), r.Unit})
}

// UnmarshalJSON reads {"qualifier": "<", "value": "1", "unit": "MPN/100mL"}.
func (r *WaterResult) UnmarshalJSON(b []byte) error {
	var in waterResultJSON
	if err := json.Unmarshal(b, &in); err != nil {
		return fmt.Errorf(`a water result is {"qualifier": "<", "value": "1", "unit": "MPN/100mL"}`)
	}
	v, err := ParseDecimal(in.Value)
	if err != nil {
		return err
	}
	*r = WaterResult{in.Qualifier, v, in.Unit}
	return nil
}

func (r WaterResult) printed() string {
	return r.Value.StringFixed(max(0, -r.Value.Exponent()))
}

func (r WaterResult) String() string { return r.Qualifier + r.printed() + " " + r.Unit }

// Check notes what no laboratory prints. The pointer names the result ("/result").
func (r WaterResult) Check(p *Problems, pointer string) {
	unit, ok := ParseWaterUnit(r.Unit)
	p.Check(ok, pointer+"/unit", "%q is not a unit of a water result: use one of %s.", r.Unit, strings.Join(WaterResultUnits, ", "))
	p.Check(r.Qualifier == "" || r.Qualifier == "<" || r.Qualifier == ">", pointer+"/qualifier",
		"%q is not a qualifier: write <, > or leave it out.", r.Qualifier)
	switch {
	case r.Value.Sign() < 0:
		p.Add(pointer+"/value", "A count cannot be less than zero; %s is. For none found write < and the limit the lab prints.", r.printed())
	case r.Qualifier == "<" && r.Value.Sign() == 0:
		p.Add(pointer+"/value", "Nothing is less than zero: after < write the limit the lab prints, for example 1.")
	case r.Value.GreaterThan(decimal.New(1, 9)):
		p.Add(pointer+"/value", "%s is more than any water test counts. Check the number.", r.printed())
	}
	if ok && strings.HasPrefix(unit, "PA") && (r.Qualifier != "" || !(r.Value.IsZero() || r.Value.Equal(decimal.New(1, 0)))) {
		p.Add(pointer+"/value", "Present or absent is written as 1 or 0 without a qualifier.")
	}
}

// WaterFinding is what a result says about "no detectable generic E. coli in 100 mL".
type WaterFinding string

const (
	NoneDetected  WaterFinding = "none-detected"
	Detected      WaterFinding = "detected"
	CannotTell    WaterFinding = "cannot-tell"
	PendingResult WaterFinding = "pending"
)

// InHundred says whether the result shows none in 100 mL: <1 does, 1.0 does not, <10 of a diluted sample and a result
// without a volume cannot. A count is a detection in whatever volume it was found: with the volume missing the reference
// only says "unknown", and the stricter reading is taken. (Calculations reference 3.3; 21 CFR 112.44(a).)
func (r WaterResult) InHundred() WaterFinding {
	unit, _ := ParseWaterUnit(r.Unit) // not on the list: "", which names no volume
	switch {
	case r.Qualifier == ">", r.Qualifier == "" && r.Value.Sign() > 0:
		return Detected
	case !strings.HasSuffix(unit, "/100mL"):
		return CannotTell
	case r.Qualifier == "<" && (r.Value.Sign() <= 0 || r.Value.GreaterThan(decimal.New(1, 0))):
		return CannotTell
	case r.Value.Sign() < 0 || (r.Qualifier != "" && r.Qualifier != "<"):
		return CannotTell
	}
	return NoneDetected
}

// WaterTest is one sample. Its result belongs to the instant and the tap where it was drawn, whenever it was reported.
type WaterTest struct {
	ID         uuid.UUID    `json:"id,omitzero" format:"uuid"`
	SourceID   uuid.UUID    `json:"source_id,omitzero" format:"uuid"`
	Tap        string       `json:"tap,omitempty" maxLength:"120"`
	SampledAt  time.Time    `json:"sampled_at"`
	StartedAt  time.Time    `json:"started_at,omitzero" doc:"When the lab started the test; left out: not known."`
	ReportedAt time.Time    `json:"reported_at,omitzero"`
	Analyte    string       `json:"analyte" maxLength:"120"`
	Result     *WaterResult `json:"result,omitempty" doc:"Left out: pending."`
	Method     string       `json:"method,omitempty" maxLength:"200"`
	Lab        string       `json:"lab,omitempty" maxLength:"200"`
	Habits
}

func (x *WaterTest) Kind() string         { return "water-test" }
func (x *WaterTest) Identity() *uuid.UUID { return &x.ID }
func (x *WaterTest) DoneOn() Date         { return Date{} }

func (x *WaterTest) Check(today Date, p *Problems) {
	checkText(p, "/tap", x.Tap, 120)
	checkText(p, "/method", x.Method, 200)
	checkText(p, "/lab", x.Lab, 200)
	checkName(p, "/analyte", x.Analyte)
	if x.SampledAt.IsZero() {
		p.Add("/sampled_at", "Say when the sample was drawn: the result belongs to that moment.")
		return
	}
	checkDay(p, "/sampled_at", dateOf(x.SampledAt), today)
	p.Check(x.StartedAt.IsZero() || !x.StartedAt.Before(x.SampledAt), "/started_at",
		"The lab cannot start before the sample was drawn. Correct one of the two.")
	p.Check(x.ReportedAt.IsZero() || !x.ReportedAt.Before(x.SampledAt), "/reported_at",
		"The report is from before the sample was drawn. Correct reported_at or sampled_at.")
	if x.Result != nil {
		x.Result.Check(p, "/result")
	}
}

var (
	eColiName  = regexp.MustCompile(`(?i)\b(e[\s._-]*coli|escherichia\s+coli)\b`)
	serogroup  = regexp.MustCompile(`(?i)\bO-?\d{1,3}\b|157`)
	pathotypes = regexp.MustCompile(`(?i)\b(STEC|EHEC|ETEC|VTEC|EPEC|EIEC|EAEC)\b|\bO-?157|shiga|\bstx|verotox|verocytotox`)
)

// IsEColi reports a test for generic E. coli. Other analytes are kept and speak for no use; a test for one kind of it, by
// serogroup, pathotype or toxin, does not show that the generic kind is absent (21 CFR 112.44(a)).
func (x *WaterTest) IsEColi() bool {
	return eColiName.MatchString(x.Analyte) && !x.ofOneKind()
}

// ofOneKind reports a test for a kind of E. coli only.
func (x *WaterTest) ofOneKind() bool {
	return pathotypes.MatchString(x.Analyte) || (eColiName.MatchString(x.Analyte) && serogroup.MatchString(x.Analyte))
}

// Speaks reports a test that says something of a use of the water: a generic one always, one for a kind only while it has
// found it or may have.
func (x *WaterTest) Speaks() bool {
	return x.IsEColi() || x.ofOneKind() && x.Finding() != NoneDetected
}

// mayFindEColi reports a test whose detection is one of E. coli, of whatever kind.
func (x *WaterTest) mayFindEColi() bool { return x.IsEColi() || x.ofOneKind() }

// Finding is the answer of the test to "none in 100 mL?". A test that lay more than 24 hours before the lab started it
// cannot show that there was none, but what it found was there. (Calculations reference 3.5, [memory].)
func (x *WaterTest) Finding() WaterFinding {
	if x.Result == nil {
		return PendingResult
	}
	found := x.Result.InHundred()
	if found == NoneDetected && HoldingOf(x.SampledAt, x.StartedAt) == Stop {
		return CannotTell
	}
	return found
}

// HoldingOf judges the hours between drawing and testing: caution over 8, stop over 24, unless the lab says otherwise.
// Hours are elapsed time. Not known (a zero instant) gives clear here: the caller sees that the field is empty.
func HoldingOf(sampled, started time.Time) Verdict {
	held := started.Sub(sampled)
	switch {
	case started.IsZero() || held <= 8*time.Hour:
		return Clear
	case held <= 24*time.Hour:
		return Caution
	}
	return Stop
}

// WaterMethod is a laboratory method for generic E. coli.
type WaterMethod struct {
	Name   string
	Counts bool   // gives a number; presence/absence alone cannot enter a geometric mean
	Mark   string // how well its place on the list is known
	names  *regexp.Regexp
}

// WaterMethods are those listed as equivalent to EPA Method 1603 (21 CFR 112.151; calculations reference 3.5).
var WaterMethods = []WaterMethod{
	{"EPA 1603 (2014)", true, "verified: FDA page ucm575251", regexp.MustCompile(`(^|\D)1603(\D|$)`)},
	{"EPA 1103.1 (2010)", true, "verified: FDA page ucm575251", regexp.MustCompile(`(^|\D)1103\.1(\D|$)`)},
	{"EPA 1604 (2002)", true, "verified: FDA page ucm575251", regexp.MustCompile(`(^|\D)1604(\D|$)`)},
	{"SM 9213 D (2007)", true, "verified: FDA page ucm575251", regexp.MustCompile(`(?i)(^|\D)9213[\s-]*D`)},
	{"SM 9222 B then 9222 G with NA-MUG (1997)", true, "verified: FDA page ucm575251",
		regexp.MustCompile(`(?i)(^|\D)9222[\s-]*B.*(9222[\s-]*G|/\s*G\b)`)},
	{"ASTM D5392-93", true, "verified: FDA page ucm575251", regexp.MustCompile(`(?i)D[\s-]*5392`)},
	{"Hach 10029 m-ColiBlue24", true, "a Hach method is listed: verified; its name: memory",
		regexp.MustCompile(`(?i)coliblue|(^|\D)10029(\D|$)`)},
	{"SM 9223 B, enzyme substrate (Colilert family)", true, "memory", regexp.MustCompile(`(?i)(^|\D)9223[\s-]*B|colilert`)},
}

// WaterMethodOf finds a listed method in what the lab wrote. A method that is not found is a caution, not a refusal.
func WaterMethodOf(written string) (WaterMethod, bool) {
	for _, m := range WaterMethods {
		if m.names.MatchString(written) {
			return m, true
		}
	}
	return WaterMethod{}, false
}
