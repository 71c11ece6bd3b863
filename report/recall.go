package report

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/shopspring/decimal"

	"croftmark/domain"
)

// RecallPaper is all that the report of a recall or of its drill shows, as the book works it out.
type RecallPaper struct {
	Paper
	Recall domain.Recall
	// StartName is what the thing it started from is called, where the start only has its id.
	StartName  string
	Farm       domain.Farm
	Lots       []domain.RecallLot
	Recipients []domain.Recipient
	Balance    []domain.RecallBalance
	// Possible are lots that shared a tank, line or parent with the scope; they are not in it.
	Possible []domain.RecallLot
	Gaps     []string
	Minutes  int
}

const recallCaution = "The health department, the state recall coordinator and the rules of your buyers decide what has to be recalled, how far and how fast. This paper decides nothing. Call them early; in a real recall before the letters go out, if you can."

// RecallPDF writes the report of a recall or of a drill, in English, because buyers and authorities read it. The same
// paper always gives the same bytes. It refuses a paper without farm or time, and writes nothing then.
func RecallPDF(w io.Writer, p RecallPaper) error {
	r := recallReport{RecallPaper: p, zone: farmZone(p.Farm)}
	title := "Recall report"
	if p.Recall.Drill {
		title = "DRILL – recall report"
	}
	period := "start not on record"
	if !p.Recall.StartedAt.IsZero() {
		period = "started " + clock(p.Recall.StartedAt, r.zone)
	}
	return layout{paper: ofFarm(p.Paper, p.Farm), zone: r.zone, title: title, period: period, body: r.body}.write(w)
}

// ofFarm fills in whose paper it is from the farm's record, and keeps the paper in English.
func ofFarm(p Paper, f domain.Farm) Paper {
	if strings.TrimSpace(p.Farm) == "" {
		p.Farm = f.Name
	}
	if strings.TrimSpace(p.Address) == "" {
		p.Address = f.Address
	}
	p.Language = ""
	return p
}

func farmZone(f domain.Farm) *time.Location {
	if z, err := domain.Zone(f.TimeZone); err == nil {
		return z
	}
	return time.UTC
}

type recallReport struct {
	RecallPaper
	zone *time.Location
	d    *document
}

func (r recallReport) body(d *document) {
	r.d = d
	if r.Recall.Drill {
		s := style{54, true}
		d.y += d.lines(margin, d.y, s, []string{"DRILL"}) + 2
		d.strong("This is an exercise. Nothing was recalled and nobody has to send anything back.")
	}
	d.headline("Report of a recall" + map[bool]string{true: " drill"}[r.Recall.Drill])
	r.summary()
	d.box("Who decides", []string{recallCaution})
	d.gapsBox(slices.Clone(r.gaps()))
	r.lots()
	r.balance()
	r.recipients()
	r.possible()
	d.signatures()
	r.letters()
}

func (r recallReport) summary() {
	hour := func(t time.Time, none string) string {
		if t.IsZero() {
			return none
		}
		return instant(t, r.zone)
	}
	took := fmt.Sprintf("%d minutes", r.Minutes)
	switch {
	case r.Recall.StartedAt.IsZero():
		took = "not known"
	case r.Recall.FinishedAt.IsZero():
		took += " so far"
	}
	reached := 0
	for _, to := range r.Recipients {
		if to.Reached != nil {
			reached++
		}
	}
	r.d.facts(
		fact{"Kind", map[bool]string{true: "DRILL, an exercise", false: "recall"}[r.Recall.Drill]},
		fact{"Reason", orWords(r.Recall.Reason, "not written")},
		fact{"Started from", r.start()},
		fact{"Started", hour(r.Recall.StartedAt, "not on record")},
		fact{"Finished", hour(r.Recall.FinishedAt, "not finished")},
		fact{"Time taken", took},
		fact{"Lots in scope", fmt.Sprint(len(r.Lots))},
		fact{"Recipients reached", fmt.Sprintf("%d of %d", reached, len(r.Recipients))},
		fact{"Contact at the farm", orWords(strings.TrimSpace(r.RecallPaper.Farm.Contact+" "+r.RecallPaper.Farm.ContactPhone), "not on record")},
	)
}

// start is what the recall began with, as a reader without the book can use it (record forms 4.3).
func (r recallReport) start() string {
	what := r.trigger()
	if r.Recall.RandomCrate {
		what += ", drawn at random"
	}
	return what
}

// trigger names the thing, and the day or the hours that were asked about. A person is not named: the paper goes to buyers, and
// with its reason it would tell of somebody's health (S36).
func (r recallReport) trigger() string {
	s, name := r.Recall.Start, orWords(r.StartName, "whose name is in the book")
	switch {
	case s.Lot != "":
		return "lot " + s.Lot
	case s.Crate != "":
		return "crate " + s.Crate
	case s.Reference != "":
		return "paper " + s.Reference
	case s.Crop != "":
		return s.Crop + ", cut or packed on " + s.On.String()
	case s.Supplier != "":
		return "supplier " + s.Supplier
	case s.CustomerID != uuid.Nil:
		return "customer " + name + ", delivered on " + s.On.String()
	case s.InputLotID != uuid.Nil:
		return "delivery " + name
	case s.InputID != uuid.Nil:
		return "input " + name + ", all deliveries"
	case s.CompostBatchID != uuid.Nil:
		return "compost batch " + name
	case s.WaterSourceID != uuid.Nil:
		return "water source " + name + r.window("used")
	case s.BedID != uuid.Nil:
		return "bed " + name + r.window("cut")
	case s.PersonID != uuid.Nil:
		return "the work of one person, whose name is in the book" + r.window("done")
	}
	return "not on record"
}

// window tells between which hours something was done, as far as that was asked.
func (r recallReport) window(done string) string {
	from, to := clock(r.Recall.Start.From, r.zone), clock(r.Recall.Start.To, r.zone)
	switch {
	case from == "" && to == "":
		return ""
	case to == "":
		return ", " + done + " from " + from
	case from == "":
		return ", " + done + " up to " + to
	}
	return ", " + done + " from " + from + " to " + to
}

// gaps are those that the book found, and those that this paper sees.
func (r recallReport) gaps() (gaps []string) {
	gaps = append(gaps, r.Gaps...)
	for _, to := range r.Recipients {
		if to.Reached == nil {
			gaps = append(gaps, to.Name+" is not on record as reached.")
		}
	}
	for _, b := range r.Balance {
		if !b.Unexplained.IsZero() {
			gaps = append(gaps, b.Said)
		}
	}
	return gaps
}

func (r recallReport) lots() {
	r.d.heading("Lots in scope")
	r.d.table(r.lotTable(r.Lots, "The book found no lot for this start."))
}

func (r recallReport) lotTable(lots []domain.RecallLot, none string) table {
	t := table{none: none, columns: []column{{"Lot", 2}, {"What", 1.8}, {"Cut or packed", 1.1}, {"Quantity", 1}, {"On hand", 1}, {"Shipped", 1}, {"Returned", 1}, {"Disposed", 1}, {"Held", 0.6}}}
	for _, l := range lots {
		held := "no"
		if l.Held {
			held = "yes"
		}
		t.rows = append(t.rows, []string{l.Code, orDash(l.Name), orDash(l.On.String()), orDash(amount(l.Quantity)), orDash(amount(l.OnHand)),
			orDash(amount(l.Shipped)), orDash(amount(l.Returned)), orDash(amount(l.Disposed)), held})
	}
	t.bold = func(_, column int) bool { return column == 0 }
	return t
}

func (r recallReport) balance() {
	r.d.heading("Balance: made = on hand + shipped − returned + disposed + unexplained")
	t := table{none: "There is no quantity to balance.", columns: []column{{"Unit", 0.8}, {"Made", 1}, {"On hand", 1}, {"Shipped", 1}, {"Returned", 1}, {"Disposed", 1}, {"Unexplained", 1.1}, {"Accounted for", 1.2}}}
	for _, b := range r.Balance {
		pct := b.AccountedPct.String() + " %"
		if b.Made.Sign() <= 0 {
			pct = "cannot be told"
		}
		row := []string{string(b.Unit)}
		for _, v := range []decimal.Decimal{b.Made, b.OnHand, b.Shipped, b.Returned, b.Disposed, b.Unexplained} {
			row = append(row, v.String())
		}
		t.rows = append(t.rows, append(row, pct))
	}
	t.bold = func(row, column int) bool { return column == 7 || column == 6 && !r.Balance[row].Unexplained.IsZero() }
	r.d.table(t)
	for _, b := range r.Balance {
		r.d.strong(b.Said)
	}
	if len(r.Balance) > 0 {
		r.d.small("Weights are added in pounds; counted things stay apart. Made is what was cut, and what went into a pack lot from outside the scope; what was thrown out in packing counts as disposed. More than 100 % is an error as well.")
	}
}

func (r recallReport) recipients() {
	r.d.heading("Who got it, and who was reached")
	t := table{none: "Nothing of these lots left the farm, as far as the book knows.", columns: []column{{"Recipient", 1.7}, {"Contact", 2.2}, {"What they got", 3.3}, {"Reached", 1.9}}}
	for _, to := range r.Recipients {
		reached := "NOT REACHED"
		if c := to.Reached; c != nil {
			reached = join("\n", "yes, "+orWords(clock(c.At, r.zone), "time not said"), c.Who, c.Answer)
		}
		t.rows = append(t.rows, []string{join("\n", to.Name, strings.ReplaceAll(to.Is, "-", " ")), orWords(join("\n", to.Contact, to.Phone, to.Email), "none on record"), r.got(to.Got), reached})
	}
	t.bold = func(row, column int) bool { return column == 3 && r.Recipients[row].Reached == nil }
	r.d.table(t)
}

func (r recallReport) got(list []domain.Got) string {
	var lines []string
	for _, g := range list {
		line := amount(g.Quantity) + " of " + g.LotCode
		if g.Back {
			line = "CAME BACK: " + line
		}
		if len(g.Crates) > 0 {
			line += ", crates " + domain.NumberRuns(g.Crates)
		}
		if !g.At.IsZero() {
			line += ", " + clock(g.At, r.zone)
		}
		if g.Reference != "" {
			line += ", paper " + g.Reference
		}
		lines = append(lines, line)
	}
	return orWords(strings.Join(lines, "\n"), "not on record")
}

// join leaves out what is not given.
func join(between string, parts ...string) string {
	return strings.Join(slices.DeleteFunc(parts, func(s string) bool { return strings.TrimSpace(s) == "" }), between)
}

func (r recallReport) possible() {
	r.d.heading("Lots in possible contact, not in scope")
	if len(r.Possible) > 0 {
		r.d.paragraph("These lots used the same tank or packing line as the scope before the next clean on record, or may be in a crate that lost its label. They are not in the sums above and nobody was told of them. Whether it matters is for a person to say; ask the health department.")
	}
	t := table{none: "The book knows of no lot that shared a tank or line with these.", columns: []column{{"Lot", 1.8}, {"What", 1.6}, {"Cut or packed", 1}, {"Quantity", 0.8}, {"On hand", 0.8}, {"Shipped", 0.8}, {"Held", 0.5}, {"How", 3}}}
	for _, l := range r.Possible {
		held := "no"
		if l.Held {
			held = "yes"
		}
		t.rows = append(t.rows, []string{l.Code, orDash(l.Name), orDash(l.On.String()), orDash(amount(l.Quantity)), orDash(amount(l.OnHand)), orDash(amount(l.Shipped)), held, orDash(l.How)})
	}
	t.bold = func(_, column int) bool { return column == 0 }
	r.d.table(t)
}

// letters come last, each on a page of its own, so that each can go out alone. Who got nothing gets none.
func (r recallReport) letters() {
	for _, to := range r.Recipients {
		if !to.Delivered() {
			continue
		}
		r.d.newPage()
		if r.Recall.Drill {
			s := style{32, true}
			r.d.y += r.d.lines(margin, r.d.y, s, []string{"DRILL"}) + 2
		}
		farm, recall := r.RecallPaper.Farm, r.Recall
		if farm.Name == "" {
			farm.Name = r.Paper.Farm
		}
		for _, line := range strings.Split(domain.RecallLetter(&farm, &recall, to), "\n") {
			if strings.TrimSpace(line) == "" {
				r.d.y += bodySize / 2
				continue
			}
			indent := 0.0
			if strings.HasPrefix(line, "  ") {
				indent = 14
			}
			r.d.text(line, style{10, strings.HasPrefix(line, "THIS IS A DRILL")}, indent, "")
		}
	}
}
