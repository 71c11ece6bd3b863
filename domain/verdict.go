package domain

import "github.com/google/uuid"

// Verdict is the one vocabulary of judgement, on the page, in JSON, on labels and here.
type Verdict string

const (
	// Clear: every adopted rule is satisfied on that day.
	Clear Verdict = "clear"
	// Caution: guidance; worth a look, refuses nothing.
	Caution Verdict = "caution"
	// Wait: a rule is not yet satisfied, and there is a first day on which it is.
	Wait Verdict = "wait"
	// Ask: a fact is missing, or the rule leaves it to the certifier. Refused until somebody answers.
	Ask Verdict = "ask"
	// Stop: no day cures it by itself; somebody must act or decide.
	Stop Verdict = "stop"
)

var severity = map[Verdict]int{Clear: 0, Caution: 1, Wait: 2, Ask: 3, Stop: 4}

// Stricter gives the more severe of two verdicts.
func Stricter(a, b Verdict) Verdict {
	if severity[b] > severity[a] {
		return b
	}
	return a
}

// Refuses reports whether the verdict stands in the way of a harvest.
func (v Verdict) Refuses() bool { return severity[v] >= severity[Wait] }

// Authority says who stands behind a rule. Law, certifier, buyer and guidance are shown differently everywhere.
type Authority string

const (
	Law       Authority = "law"
	Certifier Authority = "certifier"
	Buyer     Authority = "buyer"
	Guidance  Authority = "guidance"
	FarmRule  Authority = "farm"
)

// RecordRef names a record of the book that a reason rests on.
type RecordRef struct {
	Kind string    `json:"kind"`
	ID   uuid.UUID `json:"id"`
}

// Reason is one rule that spoke, and from which records.
type Reason struct {
	Rule      string      `json:"rule"`
	Authority Authority   `json:"authority"`
	Citation  string      `json:"citation"`
	Verdict   Verdict     `json:"verdict"`
	ClearOn   Date        `json:"clear_on,omitzero"`
	DaysShort int         `json:"days_short,omitempty"`
	Text      string      `json:"text"`
	TextEs    string      `json:"text_es,omitempty"`
	Records   []RecordRef `json:"records,omitempty"`
}

// Judgement is an answer with its reasons. The strictest reason decides; ClearOn is given only for wait, and is the
// latest of the days that the waiting reasons name.
type Judgement struct {
	Verdict Verdict  `json:"verdict"`
	ClearOn Date     `json:"clear_on,omitzero"`
	Reasons []Reason `json:"reasons"`
}

// Judge folds reasons into a judgement.
func Judge(reasons []Reason) Judgement {
	j := Judgement{Verdict: Clear, Reasons: reasons}
	if reasons == nil {
		j.Reasons = []Reason{} // a list in JSON, also when nobody spoke
	}
	for _, r := range reasons {
		j.Verdict = Stricter(j.Verdict, r.Verdict)
		if r.Verdict == Wait {
			j.ClearOn = Later(j.ClearOn, r.ClearOn)
		}
	}
	if j.Verdict != Wait {
		j.ClearOn = Date{}
	}
	return j
}

// RecordHelper is said beside every judgement.
const RecordHelper = "Record helper, not legal advice. Your certifier or inspector decides. If in doubt, do not harvest."

// RecordHelperEs is the same in Spanish.
const RecordHelperEs = "Ayuda para llevar registros, no consejo legal. Decide su certificadora o inspector. Si hay duda, no coseche."
