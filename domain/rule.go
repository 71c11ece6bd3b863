package domain

import (
	"embed"
	"encoding/json"
	"fmt"
	"io/fs"
	"sort"
	"strings"
)

//go:embed rules/*.json
var ruleFiles embed.FS

// Material is how an exposure counts under one rule set.
type Material string

const (
	MaterialRaw        Material = "raw-manure"      // untreated, or treated without proof
	MaterialGrazing    Material = "grazing"         // animals on the ground, or a prior use that left droppings
	MaterialUntreated  Material = "untreated-other" // untreated animal material that is not manure (by-products)
	MaterialTreated    Material = "treated"
	MaterialProhibited Material = "prohibited"      // biosolids
	MaterialSpray      Material = "crop-protection" // the label names the days
	MaterialPlantOnly  Material = "plant-only"      // no interval, still traced
	MaterialNone       Material = "none"            // nothing was put on the ground
)

// Shape says how a rule is computed; its numbers come from the rule data.
type Shape string

const (
	ShapeDaysToHarvest   Shape = "days-to-harvest"  // days or months from the start of the clock to the cut
	ShapeDaysToPlanting  Shape = "days-to-planting" // days or months from the start of the clock to the planting
	ShapeWorkedIn        Shape = "worked-in"        // must have been worked into the soil
	ShapeDaysToWorkIn    Shape = "days-to-work-in"  // worked in within so many days of spreading
	ShapeKeepOffCrop     Shape = "keep-off-crop"    // must not have touched the standing crop
	ShapeNoNumber        Shape = "no-number"        // the rule leaves the interval open; usual advice is shown
	ShapeLabelDays       Shape = "label-days"       // days to harvest from the label of what was sprayed
	ShapeLabelUnknown    Shape = "label-unknown"    // nobody wrote down what the label asks for
	ShapeRestrictedEntry Shape = "restricted-entry" // hours after spraying in which nobody goes in
	ShapeGroundHistory   Shape = "ground-history"   // what the plot was before
	ShapeProduction      Shape = "production"       // bed out of production
	ShapeHeld            Shape = "held"             // an open hold
	ShapeFinding         Shape = "finding"          // what somebody saw on the ground
	ShapeTraining        Shape = "training"         // months since a person's last training; not about the ground
)

// LocalText is a text in the languages of the farm's people.
type LocalText struct {
	En string `json:"en"`
	Es string `json:"es"`
}

// In gives the text in a language; English unless it is "es".
func (t LocalText) In(language string) string {
	if language == "es" {
		return t.Es
	}
	return t.En
}

// Rule is one row of rule data: who says it, where it is written, what it asks, from when to when, and in what words.
type Rule struct {
	ID        string        `json:"id"`
	Set       string        `json:"set"`
	Shape     Shape         `json:"shape"`
	Authority Authority     `json:"authority"`
	Citation  string        `json:"citation"`
	Mark      string        `json:"mark"` // how well the number is known: verified with its source, interpretation, memory
	From      Date          `json:"from"`
	To        Date          `json:"to,omitzero"`
	CheckedOn Date          `json:"checked_on"`
	Materials []Material    `json:"materials,omitempty"`
	Contact   []SoilContact `json:"contact,omitempty"` // empty: any
	Days      int           `json:"days,omitempty"`
	Months    int           `json:"months,omitempty"`
	LeafyOnly bool          `json:"leafy_only,omitempty"`
	// Findings and Touched limit a finding rule; Edge is the strip beside it; After is a planting made afterwards. Lasts is
	// what lies there until somebody has decided about it, whatever was planted since.
	Findings []string  `json:"findings,omitempty"`
	Touched  []Touched `json:"touched,omitempty"`
	Edge     bool      `json:"edge,omitempty"`
	After    bool      `json:"after,omitempty"`
	Lasts    bool      `json:"lasts,omitempty"`
	// Answerable says that a person may release it with a reason; otherwise no decision cures it.
	Answerable bool `json:"answerable,omitempty"`
	// CoveredOnly limits the rule to produce that 21 CFR 112.2(a)(1) does not list as rarely consumed raw.
	CoveredOnly bool      `json:"covered_only,omitempty"`
	Unmet       Verdict   `json:"unmet"` // what it says when it is not satisfied
	Text        LocalText `json:"text"`  // said when not satisfied; may name {days} {material} {start} {day} {on} {clear_on} {bed} {why}
	Plain       LocalText `json:"plain"` // the rule in a grower's words
	Caution     LocalText `json:"caution,omitzero"`
}

// RuleSet is a named set of rules that a farm adopts from a day on.
type RuleSet struct {
	ID   string    `json:"id"`
	Name LocalText `json:"name"`
	From Date      `json:"from"` // first day the set as a whole could be answered to
	// NoWait are materials that the set speaks of and asks no wait for. A set that is silent on one has not answered.
	NoWait []Material `json:"no_wait,omitempty"`
	Rules  []Rule     `json:"rules"`
}

// everyFarm is judged for all farms, whatever they adopted.
const everyFarm = "every-farm"

var ruleSets = mustLoadRules(ruleFiles)

func mustLoadRules(files fs.FS) map[string]RuleSet {
	sets, err := loadRules(files)
	if err != nil {
		panic(err) // the data is part of the program; a test loads it
	}
	return sets
}

func loadRules(files fs.FS) (map[string]RuleSet, error) {
	names, err := fs.Glob(files, "rules/*.json")
	if err != nil {
		return nil, err
	}
	sets := map[string]RuleSet{}
	for _, name := range names {
		raw, err := fs.ReadFile(files, name)
		if err != nil {
			return nil, err
		}
		var set RuleSet
		dec := json.NewDecoder(strings.NewReader(string(raw)))
		dec.DisallowUnknownFields()
		if err := dec.Decode(&set); err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		for i := range set.Rules {
			set.Rules[i].Set = set.ID
			set.Rules[i].ID = set.ID + "." + set.Rules[i].ID
		}
		sets[set.ID] = set
	}
	return sets, nil
}

// RuleSetByID gives a rule set; the set that holds for every farm is not one to adopt and is not found here.
func RuleSetByID(id string) (RuleSet, bool) {
	set, ok := ruleSets[id]
	return set, ok && id != everyFarm
}

// RuleSets lists all sets, including the one for every farm, by id.
func RuleSets() []RuleSet {
	out := make([]RuleSet, 0, len(ruleSets))
	for _, s := range ruleSets {
		out = append(out, s)
	}
	sort.Slice(out, func(i, j int) bool { return out[i].ID < out[j].ID })
	return out
}

// ruleByID gives a rule by its full id; it panics on an id that is not in the data, which a test would meet first.
func ruleByID(id string) *Rule {
	set, _, _ := strings.Cut(id, ".")
	for i := range ruleSets[set].Rules {
		if r := &ruleSets[set].Rules[i]; r.ID == id {
			return r
		}
	}
	panic("no rule " + id)
}

func ruleSetNames() string {
	var names []string
	for _, s := range RuleSets() {
		if s.ID != everyFarm {
			names = append(names, s.ID)
		}
	}
	return strings.Join(names, ", ")
}

// inForce reports whether the rule holds on a day.
func (r *Rule) inForce(d Date) bool {
	return !d.Before(r.From) && (r.To.IsZero() || d.Before(r.To))
}

// clears gives the first day on which an interval that starts on a day is over.
func (r *Rule) clears(start Date) Date {
	return start.AddMonths(r.Months).AddDays(r.Days)
}

func (r *Rule) concerns(m Material) bool {
	for _, x := range r.Materials {
		if x == m {
			return true
		}
	}
	return false
}

// forContact reports whether the rule speaks about a crop of that soil contact.
func (r *Rule) forContact(c SoilContact) bool {
	if len(r.Contact) == 0 {
		return true
	}
	for _, x := range r.Contact {
		if x == c {
			return true
		}
	}
	return false
}
