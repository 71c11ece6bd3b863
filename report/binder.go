package report

import (
	"fmt"
	"io"
	"strings"
	"time"

	"croftmark/domain"
)

// BinderPaper is all that an inspection binder shows.
type BinderPaper struct {
	Paper
	Binder domain.Binder
}

// BinderPDF writes the binder, in English, because inspectors and buyers read it. The index gives the page of each tab.
// The same paper always gives the same bytes. It refuses a paper without farm or time, and writes nothing then.
func BinderPDF(w io.Writer, p BinderPaper) error {
	// Laid out twice: the first time finds the pages that the index names. The index takes as much room both times.
	pages := make([]int, len(p.Binder.Scope.Sections)+1)
	for range 2 {
		r := binderReport{BinderPaper: p, zone: farmZone(p.Binder.Farm), at: pages, found: make([]int, len(pages))}
		draw := io.Discard
		err := layout{paper: ofFarm(p.Paper, p.Binder.Farm), zone: r.zone, title: p.Binder.Scope.Title + ": records",
			period: fmt.Sprintf("%s to %s", p.Binder.From, p.Binder.To), body: r.body}.write(draw)
		if err != nil {
			return err
		}
		pages = r.found
	}
	r := binderReport{BinderPaper: p, zone: farmZone(p.Binder.Farm), at: pages, found: make([]int, len(pages))}
	return layout{paper: ofFarm(p.Paper, p.Binder.Farm), zone: r.zone, title: p.Binder.Scope.Title + ": records",
		period: fmt.Sprintf("%s to %s", p.Binder.From, p.Binder.To), body: r.body}.write(w)
}

type binderReport struct {
	BinderPaper
	zone      *time.Location
	at, found []int // pages of the tabs: known from the layout before, and found in this one
	d         *document
}

func (r binderReport) body(d *document) {
	r.d = d
	d.headline(r.Binder.Scope.Title + ": the records of the farm")
	f := r.Binder.Farm
	var standards []string
	for _, s := range f.Standards {
		standards = append(standards, s.Set+" since "+s.From.String())
	}
	d.facts(
		fact{"Farm", f.Name}, fact{"Address", orWords(f.Address, "not on record")},
		fact{"Contact", orWords(join(", ", f.Contact, f.ContactPhone, f.Phone), "not on record")},
		fact{"Certifier", orWords(f.Certifier, "not on record")},
		fact{"Standards adopted", orWords(strings.Join(standards, "; "), "none")},
		fact{"Period", fmt.Sprintf("%s to %s", r.Binder.From, r.Binder.To)},
		fact{"Order", r.Binder.Scope.Order},
	)
	d.box("How to read it", []string{
		"Each record stands as the book holds it now, with the number of its entry. LATE marks what was written down a day or more after the act, CORRECTED and VOID what was changed since, with what it said before, by whom and why.",
		"The checkpoint at the foot of each page names the state of the book that this paper was made from. The farm can show the proof that any entry printed here is in that book, and that the book then is the beginning of the book now.",
		"What describes the farm itself (people, ground, crops, inputs, sources, customers) is shown whenever it was written; everything else by the day of the act.",
	})
	d.gapsBox(append(append([]string{}, r.Binder.Gaps()...), r.Paper.Gaps...))
	r.index()
	for i, s := range r.Binder.Scope.Sections {
		r.section(i, s)
	}
	if r.Binder.Exercise != nil {
		r.exercise(len(r.Binder.Scope.Sections), r.Binder.Exercise)
	}
	d.signatures()
}

func (r binderReport) index() {
	t := table{columns: []column{{"Tab", 0.5}, {"Records", 4.2}, {"Who asks", 4}, {"How many", 0.9}, {"Page", 0.7}}}
	for i, s := range r.Binder.Scope.Sections {
		t.rows = append(t.rows, []string{fmt.Sprint(i + 1), s.Title, s.Asks, fmt.Sprint(len(s.Records)), fmt.Sprintf("%3d", r.at[i])})
	}
	if x := r.Binder.Exercise; x != nil {
		i := len(r.Binder.Scope.Sections)
		t.rows = append(t.rows, []string{fmt.Sprint(i + 1), "Trace-back and mass balance: " + x.Crop, "7 CFR 205.403 (from memory); the inspector picks the crop", fmt.Sprint(len(x.Lots)) + " lots", fmt.Sprintf("%3d", r.at[i])})
	}
	r.d.heading("Index")
	r.d.table(t)
}

// tab begins a section on a page of its own and remembers which.
func (r binderReport) tab(i int, title, asks string) {
	r.d.newPage()
	r.found[i] = len(r.d.pages)
	r.d.heading(fmt.Sprintf("%d. %s", i+1, title))
	r.d.small("Who asks: " + asks)
}

func (r binderReport) section(i int, s domain.BinderSection) {
	if len(s.Records) > 0 || i == 0 {
		r.tab(i, s.Title, s.Asks)
	} else { // empty tabs share a page
		r.d.heading(fmt.Sprintf("%d. %s", i+1, s.Title))
		r.d.small("Who asks: " + s.Asks)
		r.found[i] = len(r.d.pages)
	}
	t := table{none: "Nothing in the book for this period.", columns: []column{{"Day", 1}, {"Record", 1.3}, {"What it says", 5.2}, {"Who, when, entry", 2.3}}}
	for _, x := range s.Records {
		t.rows = append(t.rows, []string{orDash(x.On.String()), r.title(x), r.says(x), r.who(x)})
	}
	t.bold = func(row, column int) bool { return column == 1 }
	r.d.table(t)
}

func (r binderReport) title(x domain.BinderRecord) string {
	marks := []string{x.Kind}
	if x.LateDays > 0 {
		marks = append(marks, "LATE "+fmt.Sprint(x.LateDays)+" d")
	}
	if x.Voided {
		marks = append(marks, "VOID")
	} else if len(x.Changes) > 0 {
		marks = append(marks, "CORRECTED")
	}
	return strings.Join(marks, "\n")
}

func (r binderReport) says(x domain.BinderRecord) string {
	lines := []string{strings.Join(x.Says, "; ")}
	if x.LateDays > 0 {
		lines = append(lines, "Late because: "+orWords(x.LateWhy, "not said"))
	}
	for _, c := range x.Changes {
		line := fmt.Sprintf("%s, entry %d, %s, %s: %s", strings.ToUpper(c.Kind), c.Entry, clock(c.At, r.zone), orWords(c.By, "not said"), orWords(c.Reason, "no reason given"))
		if len(c.Was) > 0 {
			line += " Before: " + strings.Join(c.Was, "; ")
		}
		lines = append(lines, line)
	}
	return strings.Join(lines, "\n")
}

func (r binderReport) who(x domain.BinderRecord) string {
	lines := []string{"by " + orWords(x.DoneBy, "not said")}
	if x.TypedBy != x.DoneBy {
		lines = append(lines, "typed by "+orWords(x.TypedBy, "not said"))
	}
	lines = append(lines, "entered "+clock(x.EnteredAt, r.zone), fmt.Sprintf("entry %d", x.Entry))
	for _, s := range x.Signed {
		lines = append(lines, "signed: "+s)
	}
	return strings.Join(lines, "\n")
}

// exercise prints the trace-back and the mass balance of one crop.
func (r binderReport) exercise(i int, x *domain.BinderExercise) {
	r.tab(i, "Trace-back and mass balance: "+x.Crop, "7 CFR 205.403 (from memory); one of each at every yearly inspection")
	if len(x.Trace) > 0 {
		r.d.strong("Trace-back of lot " + x.Start)
		for _, line := range x.Trace {
			depth := len(line) - len(strings.TrimLeft(line, " "))
			r.d.text(strings.TrimSpace(line), style{bodySize, false}, float64(min(depth, 20))*4, "")
		}
	}
	lots := recallReport{zone: r.zone, d: r.d}
	lots.Lots, lots.Balance = x.Lots, x.Balance
	r.d.heading("Lots cut in the period, and what was packed from them")
	r.d.table(lots.lotTable(x.Lots, "No lot."))
	lots.balance()
	r.d.small("The balance follows the lots that were cut in the period, to where they are today; opening stock is in the lots of the period before. What was sold is weighed against what was cut: more out than in is a failure at any size.")
}
