package domain

import "fmt"

// judgeLabel holds a harvest to the label of what was sprayed: the day of spraying and so many days (us-rules 3.3).
func (c *checkCase) judgeLabel(r *Rule, e GroundExposure) (Reason, bool) {
	if e.LabelDays == nil || c.sprayedLongAgo(e) {
		return Reason{}, false
	}
	clear := e.On.AddDays(*e.LabelDays)
	if !c.on.Before(clear) {
		reason := c.reasonAt(r, e, Clear, e.On, clear)
		reason.Text, reason.TextEs = metText(e, e.On, clear)
		return reason, true
	}
	reason := c.reasonAt(r, e, r.Unmet, e.On, clear)
	reason.DaysShort = clear.DaysSince(c.on)
	return reason, true
}

// judgeLabelUnknown asks for the days of the label where the crop stood when it was sprayed; a rule about what was planted
// afterwards asks for as many days as it names.
func (c *checkCase) judgeLabelUnknown(r *Rule, e GroundExposure) (Reason, bool) {
	planted := c.planting.PlantedOn
	stood := !planted.After(e.On)
	if r.After {
		stood = planted.After(e.On) && planted.Before(r.clears(e.On))
	}
	asks := e.LabelDays == nil && stood && !c.sprayedLongAgo(e)
	return c.reasonAt(r, e, r.Unmet, e.On, Date{}), asks
}

func (c *checkCase) sprayedLongAgo(e GroundExposure) bool {
	return c.on.After(e.On.AddDays(MostLabelDays))
}

// CheckLabel notes what only the label of crop protection says, of a material that has no such label.
func (x *Application) CheckLabel(p *Problems, c Category) {
	p.Check(x.RestrictedEntryHours == nil || c == CropProtection, "/restricted_entry_hours", "Only crop protection has hours of restricted entry on its label. Leave them out.")
	p.Check(x.EndedAt.IsZero() || c == CropProtection, "/ended_at", "The end is asked for of crop protection only. Leave it out.")
	p.Check(x.DaysToHarvest == nil || c == CropProtection, "/days_to_harvest", "Only crop protection has days to harvest on its label. Leave them out.")
}

func sprayWarning(e Exposure) string {
	if e.LabelDays == nil {
		return "Write down the days to harvest from the label; until then what stood here is a question at the harvest."
	}
	return fmt.Sprintf("By its label what stood here may be cut from %s.", e.On.AddDays(*e.LabelDays))
}
