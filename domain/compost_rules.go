package domain

import "slices"

// The rule sets that say how compost must be made, and the picture of the sewage sludge rule that the heat history can
// be held beside. The picture decides nothing: a farm's compost does not become treated by it.
const (
	OrganicSet       = "us-organic"
	ProduceSafetySet = "us-produce-safety"
	SludgePicture    = "40-cfr-503"
)

// CompostSets are the sets that decide the standing of a batch.
var CompostSets = []string{OrganicSet, ProduceSafetySet}

// compostRule is what one set asks of the heat. Numbers: 7 CFR 205.203(c)(2) [verified: us-rules S1]; 21 CFR 112.54(b)
// [memory; static, 3 consecutive days and curing also verified: LSU AgCenter Pub. 3838-B]; 40 CFR 503 appendix B
// [verified: Wyoming water-quality ch. 15 App. B mirror].
type compostRule struct {
	set        string
	citation   string
	lab        LabStandardID
	ceiling    bool // 170 degF
	ratio      bool // starting C:N 25 to 40
	certifier  bool // the certifier's settings hold here
	inARow     bool // windrow dates must follow each other; static dates must under every set
	picture    bool
	staticDays int
	turnedDays int
	turnings   int
}

var compostRules = []compostRule{
	{set: OrganicSet, citation: "7 CFR 205.203(c)(2)", lab: NOP5006, ceiling: true, ratio: true, certifier: true, inARow: true,
		staticDays: 3, turnedDays: 15, turnings: 5},
	// Windrow dates need not follow each other under the produce rule [memory: 21 CFR 112.54(b)(2)].
	{set: ProduceSafetySet, citation: "21 CFR 112.54(b)", lab: CFR11255b, staticDays: 3, turnedDays: 15, turnings: 5},
	{set: SludgePicture, citation: "40 CFR part 503 appendix B", inARow: true, picture: true,
		staticDays: 3, turnedDays: 15, turnings: 5},
}

// rulesOf picks the rules of the sets, in the order of the table.
func rulesOf(sets []string) (out []*compostRule) {
	for i := range compostRules {
		if slices.Contains(sets, compostRules[i].set) {
			out = append(out, &compostRules[i])
		}
	}
	return out
}
