package domain

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"github.com/google/uuid"
)

// HarvestCheck judges whether a planting may be cut from beds on a day. It looks only at what is known now; calling it
// again later with more records may give another answer, and never an earlier clear day for one more exposure.
func HarvestCheck(f *GroundFacts, plantingID uuid.UUID, bedIDs []uuid.UUID, on Date) Judgement {
	return Judge(mergeReasons(groundReasons(f, plantingID, bedIDs, on)))
}

// JudgeLot judges a lot that was cut: the ground on each day of the cut, and the water that touched it since.
func JudgeLot(f *GroundFacts, lotID, plantingID uuid.UUID, bedIDs []uuid.UUID, first, last Date) Judgement {
	j := CutCheck(f.beforeCutOf(lotID, last), plantingID, bedIDs, first, last)
	return Judge(mergeReasons(append(j.Reasons, waterOfLot(f.Waters, f.LotWater[lotID])...)))
}

// CutCheck judges a cut over one or more days. Every interval is shortest on the first day; but a bed that was held, or
// glass that lay on it, only in between counts as well, so each day is judged and the reasons of all of them stand.
func CutCheck(f *GroundFacts, plantingID uuid.UUID, bedIDs []uuid.UUID, first, last Date) Judgement {
	reasons := HarvestCheck(f, plantingID, bedIDs, first).Reasons
	for day := first.AddDays(1); !day.After(last); day = day.AddDays(1) {
		reasons = addNews(reasons, HarvestCheck(f, plantingID, bedIDs, day).Reasons)
	}
	return Judge(mergeReasons(reasons))
}

// addNews adds what was not said of an earlier day: the same rule about the same records is said once, in the words of
// the first day.
func addNews(said, more []Reason) []Reason {
	old := said
	for _, r := range more {
		known := slices.ContainsFunc(old, func(o Reason) bool {
			return o.Rule == r.Rule && o.Verdict == r.Verdict && o.ClearOn == r.ClearOn && slices.Equal(o.Records, r.Records)
		})
		if !known {
			said = append(said, r)
		}
	}
	return said
}

func groundReasons(f *GroundFacts, plantingID uuid.UUID, bedIDs []uuid.UUID, on Date) (reasons []Reason) {
	planting := f.Plantings[plantingID]
	for _, id := range bedIDs {
		bed := f.Beds[id]
		c := checkCase{facts: f, planting: planting, bed: bed, on: on, ground: f.remembered(bed, planting, on), sets: f.Farm.SetsOn(on)}
		reasons = append(reasons, c.reasons()...)
		reasons = append(reasons, irrigationOf(f, f.waterOfBed(bed), planting, on)...)
	}
	return reasons
}

// waterOfBed gives the irrigation of a bed's ground, through earlier beds and the plot.
func (f *GroundFacts) waterOfBed(bed *BedGround) (out []WaterTouch) {
	for _, id := range bed.Ground {
		out = append(out, f.BedWater[id]...)
	}
	return append(out, f.BedWater[bed.PlotID]...)
}

// checkCase is one planting in one bed on one day.
type checkCase struct {
	facts    *GroundFacts
	planting *PlantingFacts
	bed      *BedGround
	on       Date
	ground   []GroundExposure
	sets     []string
}

func (c *checkCase) reasons() []Reason {
	var out []Reason
	for _, set := range append([]string{everyFarm}, c.sets...) {
		rules := ruleSets[set].Rules
		for i := range rules {
			if rule := &rules[i]; rule.inForce(c.on) && c.applies(rule) {
				out = append(out, c.judge(rule)...)
			}
		}
	}
	return out
}

// applies leaves out rules that do not speak about this crop.
func (c *checkCase) applies(r *Rule) bool {
	switch {
	case !r.forContact(c.planting.Contact()):
		return false
	case r.LeafyOnly && c.planting.Crop.surelyNotLeafy():
		return false
	case r.CoveredOnly && c.planting.Crop.notCovered():
		return false // not covered produce, 21 CFR 112.2(a)(1)
	case len(r.Materials) > 0 && !c.planting.ForPeople():
		return false // 7 CFR 205.203(c)(1)(i)
	}
	return true
}

func (c *checkCase) judge(r *Rule) []Reason {
	switch r.Shape {
	case ShapeGroundHistory:
		return c.judgeHistory(r)
	case ShapeProduction:
		return c.judgeProduction(r)
	case ShapeHeld:
		return c.judgeHolds(r)
	case ShapeFinding:
		return c.judgeFindings(r)
	case ShapeTraining:
		return nil // about the people, who are not known before the cut; see TrainingCautions
	}
	var out []Reason
	for _, e := range c.ground {
		if r.concerns(e.materialUnder(r.Set)) && !(r.ID == everyFarm+".no-rules-adopted" && c.answered(e)) {
			if reason, speaks := c.judgeExposure(r, e); speaks {
				out = append(out, c.unsaidClass(r, reason))
			}
		}
	}
	return out
}

// unsaidClass says beside a rule for leafy greens that nobody said whether the crop is one. It speaks all the same: a crop
// class that is missing is not met.
func (c *checkCase) unsaidClass(r *Rule, reason Reason) Reason {
	crop := &c.planting.Crop
	if !r.LeafyOnly || reason.Verdict == Clear || crop.surelyLeafy() {
		return reason
	}
	reason.Text = fmt.Sprintf("Nobody said whether %s is a leafy green, so it counts as one. %s", crop.Name, reason.Text)
	reason.TextEs = fmt.Sprintf("Nadie dijo si %s es una hoja verde, así que cuenta como tal. %s", crop.Name, reason.TextEs)
	return reason
}

// answered reports whether an adopted set says how long to wait after an exposure, or counts it as harmless. A leafy
// greens contract alone says nothing about carrots, nor surely about a crop of no known class, and silence never passes as fine.
func (c *checkCase) answered(e GroundExposure) bool {
	for _, set := range c.sets {
		m := e.materialUnder(set)
		speaks := m == MaterialRaw || m == MaterialGrazing || m == MaterialProhibited || m == MaterialUntreated
		if _, adopted := RuleSetByID(set); adopted && (!speaks || slices.Contains(ruleSets[set].NoWait, m)) {
			return true
		}
		for _, r := range ruleSets[set].Rules {
			names := r.Shape == ShapeDaysToHarvest || r.Shape == ShapeNoNumber
			if names && r.concerns(m) && r.inForce(c.on) && (!r.LeafyOnly || c.planting.Crop.surelyLeafy()) {
				return true
			}
		}
	}
	return false
}

func (c *checkCase) judgeExposure(r *Rule, e GroundExposure) (Reason, bool) {
	switch r.Shape {
	case ShapeDaysToHarvest:
		return c.judgeDays(r, e)
	case ShapeWorkedIn:
		unmet := e.ClockStart.IsZero() && !e.Open
		return c.reason(r, e, r.Unmet, Date{}), unmet
	case ShapeDaysToPlanting:
		start := c.clockStart(r, e)
		late := !start.IsZero() && !start.After(c.planting.PlantedOn) && c.planting.PlantedOn.Before(r.clears(start))
		during := !start.IsZero() && start.After(c.planting.PlantedOn) // worked in after planting is too late as well
		return c.reason(r, e, r.Unmet, Date{}), late || during
	case ShapeDaysToWorkIn:
		done := e.ClockStart
		if done.IsZero() {
			done = c.on // not yet: slow only once the days have passed
		}
		return c.reasonAt(r, e, r.Unmet, e.On, Date{}), done.DaysSince(e.On) > r.Days
	case ShapeKeepOffCrop:
		return c.judgeTouched(r, e)
	case ShapeLabelDays:
		return c.judgeLabel(r, e)
	case ShapeRestrictedEntry:
		return c.judgeEntry(r, e)
	case ShapeLabelUnknown:
		return c.judgeLabelUnknown(r, e)
	case ShapeNoNumber:
		if e.Open {
			return c.openStay(r, e), true
		}
		start := c.clockStart(r, e)
		return c.reasonAt(r, e, r.Unmet, start, Date{}), c.on.Before(r.clears(start))
	}
	return Reason{}, false
}

// clockStart is the day the clock of a days rule starts: worked in, or last day out. What was only ever spread has no
// start in a set that asks for working in (its worked-in rule speaks instead); elsewhere the spreading day counts.
func (c *checkCase) clockStart(r *Rule, e GroundExposure) Date {
	if !e.ClockStart.IsZero() {
		return e.ClockStart
	}
	if e.materialUnder(r.Set) == MaterialProhibited || !hasWorkedInRule(r.Set) {
		return e.On
	}
	return Date{}
}

func (c *checkCase) judgeDays(r *Rule, e GroundExposure) (Reason, bool) {
	if e.Open {
		return c.openStay(r, e), true
	}
	start := c.clockStart(r, e)
	if start.IsZero() {
		return Reason{}, false
	}
	clear := r.clears(start)
	if c.on.Before(clear) {
		reason := c.reasonAt(r, e, r.Unmet, start, clear)
		reason.DaysShort = clear.DaysSince(c.on)
		return reason, true
	}
	reason := c.reasonAt(r, e, Clear, start, clear)
	reason.Text, reason.TextEs = metText(e, start, clear)
	return reason, true
}

func metText(e GroundExposure, start, clear Date) (en, es string) {
	return fmt.Sprintf("%s: %s. The wait was over on %s.", e.What, start, clear),
		fmt.Sprintf("%s: %s. La espera terminó el %s.", e.whatEs(), start, clear)
}

func hasWorkedInRule(set string) bool {
	for _, r := range ruleSets[set].Rules {
		if r.Shape == ShapeWorkedIn {
			return true
		}
	}
	return false
}

// openStay is for animals that are still on the ground, or a prior use whose end is not written down: no clock runs.
func (c *checkCase) openStay(r *Rule, e GroundExposure) Reason {
	reason := c.reason(r, e, Stop, Date{})
	reason.Text = fmt.Sprintf("%s since %s: no last day is written down, so the days have not started. Write down the last day.", e.What, e.On)
	reason.TextEs = fmt.Sprintf("%s desde %s: no hay último día anotado, así que los días no han empezado. Anote el último día.", e.whatEs(), e.On)
	if e.Record.Kind == "plot" {
		reason.Verdict = Ask
		reason.Text = fmt.Sprintf("%s, and nobody wrote down until when. Find out and write it on the plot, or ask your certifier.", e.What)
		reason.TextEs = fmt.Sprintf("%s, y nadie anotó hasta cuándo. Averígüelo y anótelo en la parcela, o pregunte a su certificadora.", e.whatEs())
	}
	if r.Shape == ShapeNoNumber { // names no days, so it says no more than it ever says
		reason.Verdict = r.Unmet
	}
	return reason
}

// judgeTouched looks at applications that were spread, or worked in, while this planting stood. Whether it touched the crop,
// when nobody said, is a question.
func (c *checkCase) judgeTouched(r *Rule, e GroundExposure) (Reason, bool) {
	p := c.planting
	stood := !e.On.Before(p.PlantedOn) || !e.ClockStart.IsZero() && !e.ClockStart.Before(p.PlantedOn) && !e.ClockStart.After(c.on)
	if e.Record.Kind != "application" || !stood || e.TouchedCrop == TouchedNo {
		return Reason{}, false
	}
	if e.TouchedCrop == TouchedYes {
		return c.reasonAt(r, e, r.Unmet, e.On, Date{}), true
	}
	if r.Unmet == Caution {
		return Reason{}, false
	}
	reason := c.reason(r, e, Ask, Date{})
	reason.Text = fmt.Sprintf("%s of %s was spread or worked in while the crop stood, and nobody said whether it touched the crop. Answer that first.", e.What, e.On)
	reason.TextEs = fmt.Sprintf("%s del %s se aplicó o se incorporó con el cultivo en pie, y nadie dijo si lo tocó. Conteste eso primero.", e.whatEs(), e.On)
	return reason, true
}

func (c *checkCase) judgeHistory(r *Rule) []Reason {
	plot := c.facts.Plots[c.bed.PlotID]
	if plot == nil {
		return nil
	}
	why, verdict := plot.historyGap()
	if verdict == Clear {
		return nil
	}
	reason := fill(r, map[string]string{"why": why.En}, map[string]string{"why": why.Es})
	reason.Verdict = verdict
	reason.Records = []RecordRef{{"plot", plot.ID}}
	return []Reason{reason}
}

// historyGap says what is not known of the plot's past. Nothing said at all is a caution; "unknown" is a question.
func (x *Plot) historyGap() (why LocalText, v Verdict) {
	for _, u := range x.PriorUse {
		if u.Kind == "dump" {
			return LocalText{fmt.Sprintf("Plot %s was a dump.", x.Name), fmt.Sprintf("La parcela %s fue un basurero.", x.Name)}, Ask
		}
	}
	switch {
	case x.History == "unknown":
		return LocalText{fmt.Sprintf("Nobody knows what plot %s was used for before.", x.Name),
			fmt.Sprintf("Nadie sabe para qué se usó antes la parcela %s.", x.Name)}, Ask
	case x.History == "" && len(x.PriorUse) == 0:
		return LocalText{fmt.Sprintf("Nothing is written down about what plot %s was used for before.", x.Name),
			fmt.Sprintf("No hay nada anotado sobre el uso anterior de la parcela %s.", x.Name)}, Caution
	}
	return LocalText{}, Clear
}

func (c *checkCase) judgeProduction(r *Rule) []Reason {
	pause, ok := c.bed.pausedOn(c.on)
	if !ok {
		return nil
	}
	vars := map[string]string{"bed": c.bed.Name, "start": pause.From.String(), "why": pause.Reason}
	reason := fill(r, vars, vars)
	reason.Verdict = r.Unmet
	reason.Records = []RecordRef{pause.Record}
	return []Reason{reason}
}

func (c *checkCase) judgeHolds(r *Rule) []Reason {
	var out []Reason
	for _, h := range c.facts.Holds {
		if h.inForce(c.on) && c.onThisGround(h.On) {
			out = append(out, heldReason(r, h))
		}
	}
	return out
}

// heldReason says since when and why a thing is on hold.
func heldReason(r *Rule, h HoldSpan) Reason {
	vars := map[string]string{"start": h.From.String(), "why": h.Reason}
	reason := fill(r, vars, vars)
	reason.Records = []RecordRef{{"hold", h.ID}}
	return reason
}

func (c *checkCase) onThisGround(bed uuid.UUID) bool {
	for _, id := range c.bed.Ground {
		if id == bed {
			return true
		}
	}
	return false
}

func (c *checkCase) reason(r *Rule, e GroundExposure, v Verdict, clear Date) Reason {
	start := e.ClockStart
	if start.IsZero() {
		start = e.On
	}
	return c.reasonAt(r, e, v, start, clear)
}

func (c *checkCase) reasonAt(r *Rule, e GroundExposure, v Verdict, start, clear Date) Reason {
	vars := map[string]string{
		"days": strconv.Itoa(r.Days), "Material": e.What, "material": strings.ToLower(e.What),
		"start": start.String(), "on": c.on.String(), "day": strconv.Itoa(max(0, c.on.DaysSince(start))),
		"clear_on": clear.String(), "bed": c.bed.Name,
	}
	es := maps.Clone(vars)
	es["Material"], es["material"] = e.whatEs(), strings.ToLower(e.whatEs())
	reason := fill(r, vars, es)
	reason.Verdict, reason.ClearOn, reason.Records = v, clear, []RecordRef{e.Record}
	if e.Why.En != "" && v != Clear {
		reason.Text = e.Why.En + " " + reason.Text
		reason.TextEs = e.Why.Es + " " + reason.TextEs
	}
	return reason
}

// fill writes the rule's text with the facts of the case.
func fill(r *Rule, en, es map[string]string) Reason {
	return Reason{
		Rule: r.ID, Authority: r.Authority, Citation: r.Citation, Verdict: r.Unmet,
		Text: replaceAll(r.Text.En, en), TextEs: replaceAll(r.Text.Es, es),
	}
}

func replaceAll(text string, vars map[string]string) string {
	pairs := make([]string, 0, 2*len(vars))
	for k, v := range vars {
		pairs = append(pairs, "{"+k+"}", v)
	}
	return strings.NewReplacer(pairs...).Replace(text)
}

// mergeReasons keeps one reason per rule and verdict, the one that decides, and gathers the records of the others under
// it, so that a bed manured five times is not told the same thing five times.
func mergeReasons(in []Reason) []Reason {
	type key struct {
		rule    string
		verdict Verdict
		text    string // only where no day tells two reasons apart
	}
	at := map[key]int{}
	var out []Reason
	for _, r := range in {
		k := key{rule: r.Rule, verdict: r.Verdict}
		if r.ClearOn.IsZero() {
			k.text = r.Text
		}
		i, seen := at[k]
		if !seen {
			at[k] = len(out)
			out = append(out, r)
			continue
		}
		records := mergeRecords(out[i].Records, r.Records)
		if r.ClearOn.After(out[i].ClearOn) {
			out[i] = r
		}
		out[i].Records = records
	}
	return dropOvertaken(out)
}

func mergeRecords(a, b []RecordRef) []RecordRef {
	out := append([]RecordRef{}, a...)
	for _, r := range b {
		seen := false
		for _, x := range out {
			seen = seen || x == r
		}
		if !seen {
			out = append(out, r)
		}
	}
	return out
}

// dropOvertaken leaves out "the wait was over" where the same rule also says wait, and puts the strictest first.
func dropOvertaken(in []Reason) []Reason {
	unmet := map[string]bool{}
	for _, r := range in {
		if r.Verdict != Clear {
			unmet[r.Rule] = true
		}
	}
	var out []Reason
	for level := 4; level >= 0; level-- {
		for _, r := range in {
			if severity[r.Verdict] == level && !(r.Verdict == Clear && unmet[r.Rule]) {
				out = append(out, r)
			}
		}
	}
	return out
}

// CheckLotPlanting notes where a lot does not fit the planting it says it was cut from. grounds gives the older beds under
// each bed of the lot: a crop that stood while its bed was laid anew is cut under the new name.
func CheckLotPlanting(p *Problems, lot *HarvestLot, pl *Planting, grounds map[uuid.UUID][]uuid.UUID) {
	planted := func(id uuid.UUID) bool { return slices.Contains(pl.BedIDs, id) }
	for i, id := range lot.BedIDs {
		p.Check(planted(id) || slices.ContainsFunc(grounds[id], planted), "/bed_ids/"+itoa(i), "That planting does not stand in this bed. Choose one of its beds, or the other planting.")
	}
	day := lot.FirstDay()
	p.Check(!day.Before(pl.PlantedOn), "/cut_on", "%s is before the planting on %s.", day, pl.PlantedOn)
	p.Check(pl.EndedOn.IsZero() || !day.After(pl.EndedOn), "/cut_on", "That planting ended on %s.", pl.EndedOn)
	last := lot.LastDay()
	p.Check(pl.EndedOn.IsZero() || last == day || !last.After(pl.EndedOn), "/cut_to", "That planting ended on %s.", pl.EndedOn)
}

// HarvestRefusal is the answer to an attempt to cut what is not clear: the strictest reason in words, and all of them
// beside it.
func HarvestRefusal(f *GroundFacts, lot *HarvestLot, j Judgement) *Error {
	crop := f.Plantings[lot.PlantingID].Crop.Name
	detail := ""
	for _, r := range j.Reasons {
		decides := r.Verdict == j.Verdict && (j.ClearOn.IsZero() || r.ClearOn == j.ClearOn)
		if decides && detail == "" {
			detail = r.Text
		}
	}
	return &Error{Code: CodeHarvestRefused, Title: notClear(f, lot) + " for " + crop, Detail: detail, Judgement: &j}
}

// notClear names the beds of the lot that stand in the way; a bed that is clear for itself is not named.
func notClear(f *GroundFacts, lot *HarvestLot) string {
	var names []string
	for _, id := range lot.BedIDs {
		if CutCheck(f, lot.PlantingID, []uuid.UUID{id}, lot.FirstDay(), lot.LastDay()).Verdict.Refuses() {
			names = append(names, f.Beds[id].Name)
		}
	}
	if len(names) == 1 {
		return "Bed " + names[0] + " is not clear"
	}
	return "Beds " + strings.Join(names, ", ") + " are not clear"
}

// PlantingWarnings judges the expected first harvest at planting time, the cheapest moment to find out.
func PlantingWarnings(f *GroundFacts, plantingID uuid.UUID, bedIDs []uuid.UUID, first Date) []string {
	j := HarvestCheck(f, plantingID, bedIDs, first)
	if !j.Verdict.Refuses() {
		return nil
	}
	text := fmt.Sprintf("First harvest is expected on %s, but the ground will not be clear then (%s).", first, j.Verdict)
	if !j.ClearOn.IsZero() {
		text = fmt.Sprintf("First harvest is expected on %s, but the ground is only clear on %s.", first, j.ClearOn)
	}
	out := []string{text}
	for _, r := range j.Reasons {
		if r.Verdict.Refuses() {
			out = append(out, r.Text)
		}
	}
	return out
}

// NothingPlanted is the answer to "may this be cut?" where nothing is known to grow.
func NothingPlanted(on Date) Reason {
	return Reason{Rule: everyFarm + ".nothing-planted", Authority: FarmRule, Citation: "farm record", Verdict: Ask,
		Text:   "No planting is written down there on " + on.String() + ". Write down what grows in the bed, then ask again.",
		TextEs: "No hay siembra anotada ahí el " + on.String() + ". Anote qué crece en la cama y pregunte de nuevo."}
}
