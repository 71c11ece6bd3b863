package domain

import "strings"

// Trained is somebody who handled produce on a day, and when they were last trained before it; zero when no training is on
// record.
type Trained struct {
	Name   string
	LastOn Date
}

// TrainingCautions tells who of the people that handled a crop on a day has no current training on record. It is a
// caution: the lot is not worse for it, and a training that was not written down is found in a minute. crop is nil where
// several were handled.
func TrainingCautions(farm *Farm, crop *Crop, on Date, people []Trained) (out []Reason) {
	for _, r := range trainingRules(farm, on) {
		if r.CoveredOnly && crop != nil && crop.notCovered() {
			continue
		}
		var names []string
		for _, p := range people {
			if !r.trained(p.LastOn, on) {
				names = append(names, p.Name)
			}
		}
		if len(names) == 0 {
			continue
		}
		fill := strings.NewReplacer("{on}", on.String(), "{why}", strings.Join(names, ", "))
		out = append(out, Reason{Rule: r.ID, Authority: r.Authority, Citation: r.Citation, Verdict: r.Unmet,
			Text: fill.Replace(r.Text.En), TextEs: fill.Replace(r.Text.Es)})
	}
	return out
}

// AsksForTraining reports whether any rule that the farm answers to on a day asks for training; 21 CFR 112 asks nothing of
// the kind of exempt farms (112.4, 112.6).
func AsksForTraining(farm *Farm, on Date) bool { return len(trainingRules(farm, on)) > 0 }

func trainingRules(farm *Farm, on Date) (out []*Rule) {
	if farm.exempt() {
		return nil
	}
	for _, set := range farm.SetsOn(on) {
		rules := ruleSets[set].Rules
		for i := range rules {
			if r := &rules[i]; r.Shape == ShapeTraining && r.inForce(on) {
				out = append(out, r)
			}
		}
	}
	return out
}

// trained reports whether a training of one day still counts on another: the anniversary itself is within the year.
func (r *Rule) trained(last, on Date) bool {
	return !last.IsZero() && !on.After(r.clears(last))
}
