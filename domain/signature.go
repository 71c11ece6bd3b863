package domain

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
)

//go:embed signatures.json
var signatureFile []byte

// SignatureFamily is a family of records that a second person signs, and the rule that asks for it. Families of log
// sheets come from the sheets; the others from signatures.json.
type SignatureFamily struct {
	ID   string        `json:"id"`
	Kind string        `json:"kind"` // of the records
	Name LocalText     `json:"name"` // in the plural
	Rule SignatureRule `json:"rule"`
	// Sheet narrows log entries to those of one sheet.
	Sheet string `json:"sheet,omitempty"`
	// Needs is a field without which there is nothing to sign yet, such as the result of a test.
	Needs string `json:"needs,omitempty"`
	// NeedsEvent is a kind of event without which there is nothing to sign yet; every later event asks for a new signature.
	NeedsEvent string `json:"needs_event,omitempty"`
}

// SignWithin is after how many days a missing signature is late. The rule says "within a reasonable time" and names no
// number (21 CFR 112.161(b)); seven days are this program's own custom.
const SignWithin = 7

var recordFamilies = mustLoadFamilies(signatureFile)

func mustLoadFamilies(raw []byte) (out []SignatureFamily) {
	dec := json.NewDecoder(strings.NewReader(string(raw)))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&out); err != nil {
		panic(fmt.Errorf("signatures.json: %w", err)) // the data is part of the program; a test loads it
	}
	return out
}

// SignatureFamilies lists the families that some rule asks a second signature of: those of the program, and those of the
// farm's own sheets.
func SignatureFamilies(own []LogSheet) []SignatureFamily {
	out := append([]SignatureFamily{}, recordFamilies...)
	for _, sheets := range [][]LogSheet{builtInSheets, own} {
		for i := range sheets {
			if s := &sheets[i]; s.SecondSignature != nil {
				out = append(out, SignatureFamily{ID: s.Key, Kind: "log-entry", Sheet: s.Key, Name: s.Title, Rule: *s.SecondSignature})
			}
		}
	}
	return out
}

// Asks reports whether the rule asks a farm for a second signature under a record of a day. Nothing is shown as required
// that is not: a farm that did not adopt the rule set, or is exempt from it, is not asked by it.
func (r *SignatureRule) Asks(farm *Farm, on Date) bool {
	return !on.Before(r.From) && r.EverAsks(farm) && (r.Set == "" || slices.Contains(farm.SetsOn(on), r.Set))
}

// EverAsks reports whether the rule asks the farm on any day.
func (r *SignatureRule) EverAsks(farm *Farm) bool {
	switch {
	case r.Set == "":
		return true
	case r.Exemption != "" && farm.Exemption != r.Exemption, r.Exemption == "" && r.Set == produceSafety && farm.exempt():
		return false
	}
	return slices.ContainsFunc(farm.Standards, func(s AdoptedStandard) bool { return s.Set == r.Set })
}
