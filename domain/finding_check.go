package domain

import (
	"slices"

	"github.com/google/uuid"
)

// judgeFindings applies a finding rule to everything seen on the ground of the bed.
func (c *checkCase) judgeFindings(r *Rule) (out []Reason) {
	for _, e := range c.ground {
		x := e.Finding
		if x == nil || !slices.Contains(r.Findings, x.What) || !r.touchedFits(x.TouchedCrop) {
			continue
		}
		if r.Edge != c.onEdge(x) || !c.plantingFits(r, e) {
			continue
		}
		reason := c.reasonAt(r, e, r.Unmet, e.On, Date{})
		if x.Part != "" {
			reason.Text, reason.TextEs = reason.Text+" ("+x.Part+")", reason.TextEs+" ("+x.Part+")"
		}
		out = append(out, c.resolved(r, x, reason))
	}
	return out
}

func (r *Rule) touchedFits(t Touched) bool {
	return len(r.Touched) == 0 || slices.Contains(r.Touched, t)
}

// onEdge reports that the finding reached this bed only as the strip beside it.
func (c *checkCase) onEdge(x *Finding) bool {
	if x.Ground.PlotID != uuid.Nil {
		return false
	}
	for _, id := range x.Ground.BedIDs {
		if c.onThisGround(id) {
			return false
		}
	}
	return true
}

// plantingFits: most rules speak about the crop that stood there; a replanting rule about what was planted afterwards,
// for as many days as it names. What lasts lies there for both, with no end of days.
func (c *checkCase) plantingFits(r *Rule, e GroundExposure) bool {
	p := c.planting
	stood := !e.On.Before(p.PlantedOn) // and not after the cut, see GroundOf; the planting stood at least until then
	switch {
	case r.After:
		return !stood && (r.Lasts || p.PlantedOn.Before(r.clears(e.On)))
	case r.Lasts:
		return true
	}
	return stood
}

// lasts reports whether any rule speaks about the finding until somebody has decided, however long that takes.
func (x *Finding) lasts() bool { return slices.Contains(LastingFindings(), x.What) }

// LastingFindings are the kinds of findings that the ground is asked about until somebody has decided: what lies there
// does not go away by planting over it.
func LastingFindings() (out []string) {
	for _, r := range ruleSets[everyFarm].Rules {
		if r.Lasts {
			out = append(out, r.Findings...)
		}
	}
	return out
}

// resolved takes a person's decision into account, from its day on and only where the rule leaves one to make. The
// decision stays visible.
func (c *checkCase) resolved(r *Rule, x *Finding, reason Reason) Reason {
	done := x.decidedOn(c.on)
	if done == nil {
		return reason
	}
	if done.Decision == "crop-destroyed" && !r.After {
		return reason // a decision about the crop that stood there, not about cutting it
	}
	if !r.Answerable {
		return reason
	}
	reason.Verdict = Caution
	reason.Text += " Decided on " + done.On.String() + ": " + done.Reason
	reason.TextEs += " Decidido el " + done.On.String() + ": " + done.Reason
	reason.Records = append(reason.Records, RecordRef{"finding-resolution", done.ID})
	return reason
}
