package domain

import (
	_ "embed"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
)

//go:embed duties.json
var dutyFile []byte

// Due is something that is to be done by a day, and who asks for it.
type Due struct {
	Kind    string      `json:"kind" doc:"What sort of duty: water-test, training, signature, reading, opens …"`
	On      Date        `json:"on" doc:"The last day in time; for opens the first day."`
	Overdue bool        `json:"overdue,omitempty"`
	Text    LocalText   `json:"text"`
	Asks    SheetSource `json:"asks"`
	Records []RecordRef `json:"records,omitempty"`
}

// DueAhead is how many days ahead a duty shows on the page of the day. Our own custom.
const DueAhead = 30

// DueListed picks what the page of the day and the daily message list: what is late or due within thirty days. What opens has
// lists of its own, which are asked for when somebody stands at the bed.
func DueListed(all []Due, today Date) []Due {
	list := []Due{}
	for _, d := range all {
		if d.Kind != "opens" && !d.On.After(today.AddDays(DueAhead)) {
			list = append(list, d)
		}
	}
	return list
}

// DueFacts is what the list of duties is derived from.
type DueFacts struct {
	Farm  *Farm
	Today Date
	Now   time.Time
	// Waters are the sources in use; Inspected is the last inspection of each.
	Waters    map[uuid.UUID]*WaterFacts
	Inspected map[uuid.UUID]Date
	// Certificates are the newest papers of each treated input and supplier that was bought lately.
	Certificates []DueCertificate
	People       []DuePerson
	Unsigned     []DueSignatures
	// Batches are heaps that are still being read; LastReading is zero for one that nobody read.
	Batches   []DueBatch
	Opens     []DueBed
	OpenLogs  []DueRecord
	Actions   []DueRecord
	Requests  []DueRequest
	LastDrill Date
	// ExemptionReviewed says that the review of this calendar year is on record.
	ExemptionReviewed bool
}

// DueCertificate is a supplier's paper and the day until which it speaks.
type DueCertificate struct {
	Record RecordRef
	What   string // input and supplier
	Paper  Certificate
}

// DuePerson is somebody of the farm with the last training on record.
type DuePerson struct {
	ID      uuid.UUID
	Name    string
	Trained Date
}

// DueSignatures counts what waits in one family, with the day on which the oldest of it is late.
type DueSignatures struct {
	Family SignatureFamily
	Count  int
	LateOn Date
}

// DueBatch is a heap that is being read.
type DueBatch struct {
	ID          uuid.UUID
	Code        string
	LastReading Date
}

// DueBed is a planting in a bed that becomes clear on a day.
type DueBed struct {
	BedID, PlantingID uuid.UUID
	Bed, Crop         string
	Judgement         Judgement
}

// DueRecord is a record that is open since a day, or until one.
type DueRecord struct {
	Record RecordRef
	What   string
	On     Date
}

// DueRequest is a traceback request without an answer.
type DueRequest struct {
	ID      uuid.UUID
	AskedBy string
	Buyer   bool
	On      Date
}

// A duty is a row of duties.json: who asks for something, how often, in what words.
type duty struct {
	ID        string    `json:"id"`
	Set       string    `json:"set,omitempty"` // asked of farms that answer to it; empty: of any
	Exemption string    `json:"exemption,omitempty"`
	Authority Authority `json:"authority"`
	Citation  string    `json:"citation"`
	Mark      string    `json:"mark"`
	From      Date      `json:"from"`
	CheckedOn Date      `json:"checked_on"`
	Months    int       `json:"months,omitempty"`
	Text      LocalText `json:"text"` // may name {what}
}

var duties = mustLoadDuties(dutyFile)

func mustLoadDuties(raw []byte) map[string]duty {
	var rows []duty
	dec := json.NewDecoder(strings.NewReader(string(raw)))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&rows); err != nil {
		panic(fmt.Errorf("duties.json: %w", err)) // the data is part of the program; a test loads it
	}
	out := map[string]duty{}
	for _, d := range rows {
		out[d.ID] = d
	}
	return out
}

// rule is the duty as far as it concerns whom it asks.
func (d duty) rule() *SignatureRule {
	return &SignatureRule{Set: d.Set, Exemption: d.Exemption, From: d.From}
}

// dueList gathers duties and leaves out what nobody asks of this farm.
type dueList struct {
	f   *DueFacts
	out []Due
}

// add notes a duty by its row. A day that was never counted from is due today.
func (l *dueList) add(id, what string, on Date, refs ...RecordRef) {
	d, ok := duties[id]
	if !ok {
		panic("no duty " + id)
	}
	if !d.rule().Asks(l.f.Farm, l.f.Today) {
		return
	}
	fill := strings.NewReplacer("{what}", what)
	l.put(Due{Kind: id, On: on, Text: LocalText{fill.Replace(d.Text.En), fill.Replace(d.Text.Es)},
		Asks: SheetSource{d.Authority, d.Citation, d.Mark}, Records: refs})
}

func (l *dueList) put(d Due) {
	if d.On.IsZero() {
		d.On = l.f.Today
	}
	d.Overdue = d.On.Before(l.f.Today)
	l.out = append(l.out, d)
}

// yearAfter is the day by which something of a day is done again; zero stays zero.
func yearAfter(id string, last Date) Date {
	if last.IsZero() {
		return last
	}
	return last.AddMonths(duties[id].Months)
}

// DueList derives from rules and records what is to be done, earliest first, and who asks for each of it. It knows nothing
// that is not written down: a duty of which the book has no record is due today.
func DueList(f *DueFacts) []Due {
	l := &dueList{f: f}
	for _, step := range []func(){l.water, l.papers, l.training, l.signatures, l.compost, l.beds, l.open} {
		step()
	}
	slices.SortStableFunc(l.out, func(a, b Due) int { return a.On.DaysSince(b.On) })
	return l.out
}

// plans names the rule behind each plan of tests. Watching a treatment is part of each day of use, not of a calendar.
var plans = map[WaterPlan]string{PlanFirstYear: ruleFourTests, PlanYearly: ruleYearlyTest, PlanCertificate: rulePublicPaper,
	PlanRetest: ruleUnsafe, PlanRetestOnce: ruleUnsafe}

func (l *dueList) water() {
	for id, w := range l.f.Waters {
		ref := RecordRef{Kind: "water-source", ID: id}
		l.add("water-inspection", w.Source.Name, yearAfter("water-inspection", l.f.Inspected[id]), ref)
		if l.assessed(w) {
			var last Date
			for _, a := range w.Assessments {
				last = Later(last, a.MadeOn)
			}
			l.add("water-assessment", w.Source.Name, yearAfter("water-assessment", last), ref)
		}
		l.waterTest(w, ref)
	}
	// A map has no order; the name has.
	slices.SortFunc(l.out, func(a, b Due) int { return strings.Compare(a.Text.En, b.Text.En) })
}

// assessed reports whether the source needs the yearly assessment: for water that touches what is sold, in the field.
func (l *dueList) assessed(w *WaterFacts) bool {
	if l.f.Today.Before(WaterRules[ruleAssessment].StartsOn(l.f.Farm.Size)) {
		return false
	}
	return len(w.Source.Uses) == 0 || slices.Contains(w.Source.Uses, UseIrrigationTouching)
}

func (l *dueList) waterTest(w *WaterFacts, ref RecordRef) {
	s := WaterTestsDue(*w, "", l.f.Now)
	rule, ok := WaterRules[plans[s.Plan]]
	psr := &SignatureRule{Set: produceSafety}
	if !ok || s.DueOn.IsZero() || l.f.Today.Before(rule.StartsOn(l.f.Farm.Size)) || !psr.Asks(l.f.Farm, l.f.Today) {
		return
	}
	text := LocalText{"Test the water of " + w.Source.Name + fmt.Sprintf(" (%d of %d done). ", s.Done, s.Needed) + rule.Plain.En,
		"Analice el agua de " + w.Source.Name + fmt.Sprintf(" (%d de %d hechos). ", s.Done, s.Needed) + rule.Plain.Es}
	if s.Plan == PlanCertificate {
		text = LocalText{"Get the yearly report of " + w.Source.Name + ". " + rule.Plain.En, "Consiga el informe anual de " + w.Source.Name + ". " + rule.Plain.Es}
	}
	l.put(Due{Kind: "water-test", On: s.DueOn, Text: text, Asks: SheetSource{rule.Authority, rule.Citation, rule.Mark}, Records: []RecordRef{ref}})
}

func (l *dueList) papers() {
	for _, c := range l.f.Certificates {
		on := c.Paper.ExpiresOn
		if yearly := yearAfter("input-certificate", c.Paper.IssuedOn); on.IsZero() || yearly.Before(on) {
			on = yearly
		}
		l.add("input-certificate", c.What, on, c.Record)
	}
	if !l.f.ExemptionReviewed {
		year, _ := l.f.Today.YearDay()
		l.add("exemption-review", itoa(year), NewDate(year, time.December, 31))
	}
	l.add("recall-drill", "", yearAfter("recall-drill", l.f.LastDrill))
}

func (l *dueList) training() {
	for _, r := range trainingRules(l.f.Farm, l.f.Today) {
		for _, p := range l.f.People {
			on := Date{}
			if !p.Trained.IsZero() {
				on = r.clears(p.Trained)
			}
			l.put(Due{Kind: "training", On: on, Text: LocalText{"Train " + p.Name + ", and write it down.", "Capacite a " + p.Name + " y anótelo."},
				Asks: SheetSource{r.Authority, r.Citation, r.Mark}, Records: []RecordRef{{Kind: "person", ID: p.ID}}})
		}
	}
}

func (l *dueList) signatures() {
	for _, s := range l.f.Unsigned {
		l.put(Due{Kind: "signature", On: s.LateOn, Asks: s.Family.Rule.SheetSource,
			Text: LocalText{fmt.Sprintf("Sign %d as the second person: %s.", s.Count, s.Family.Name.En), fmt.Sprintf("Firme %d como segunda persona: %s.", s.Count, s.Family.Name.Es)}})
	}
}

func (l *dueList) compost() {
	for _, b := range l.f.Batches {
		if b.LastReading.Before(l.f.Today) {
			on := l.f.Today
			if !b.LastReading.IsZero() {
				on = b.LastReading.AddDays(1)
			}
			l.add("reading", b.Code, on, RecordRef{Kind: "compost-batch", ID: b.ID})
		}
	}
}

// beds tells when ground opens. It is the first day on which a cut is not refused, not a duty.
func (l *dueList) beds() {
	for _, b := range l.f.Opens {
		d := Due{Kind: "opens", On: b.Judgement.ClearOn, Text: LocalText{b.Crop + " in bed " + b.Bed + " is clear from this day, if nothing new comes to it.",
			b.Crop + " en la cama " + b.Bed + " queda libre desde este día, si no llega nada nuevo."},
			Records: []RecordRef{{Kind: "bed", ID: b.BedID}, {Kind: "planting", ID: b.PlantingID}}}
		for _, r := range b.Judgement.Reasons {
			if r.Verdict == Wait && r.ClearOn == b.Judgement.ClearOn {
				d.Asks = SheetSource{Authority: r.Authority, Citation: r.Citation}
			}
		}
		l.put(d)
	}
}

func (l *dueList) open() {
	for _, x := range l.f.OpenLogs {
		l.add("open-action", x.What, x.On, x.Record)
	}
	for _, x := range l.f.Actions {
		l.add("corrective-action", x.What, x.On, x.Record)
	}
	for _, x := range l.f.Requests {
		id := "traceback-request"
		if x.Buyer {
			id = "traceback-buyer"
		}
		l.add(id, x.AskedBy, x.On, RecordRef{Kind: "traceback-request", ID: x.ID})
	}
}
