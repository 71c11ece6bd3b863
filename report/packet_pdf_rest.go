package report

import (
	"fmt"
	"strings"

	"croftmark/domain"
)

func (r *packetReport) recipients() {
	r.section("Where it went")
	if words := withheldWords(r.p); words != "" {
		r.d.strong(words)
		for _, w := range r.p.Withheld.Lines {
			r.d.list(fmt.Sprintf("%s of lot %s, all other recipients together (%s)", amount(w.Quantity), w.Lot, w.Kind))
		}
	}
	t := table{none: "Nothing left the farm.", columns: []column{{"Recipient", 2.2}, {"Contact", 2.7}, {"When", 1.2}, {"What", 1}, {"Paper", 1.4}, {"Lots and quantities", 2.5}, {"By", 0.5}}}
	for i := range r.p.Moves {
		m := &r.p.Moves[i]
		name, contact := "not in this packet", ""
		if c := r.p.Customer(m.CustomerID); c != nil {
			name = strings.TrimSpace(c.Name + " " + bracketed(strings.ReplaceAll(c.Is, "-", " ")) + "\n" + c.Address)
			contact = strings.TrimSpace(c.Contact + "\n" + c.Phone + "\n" + c.Email)
		}
		var lines []string
		for _, l := range m.Lines {
			line := amount(l.Quantity) + " of " + l.Lot
			if n := r.crateNumbers(l); n != "" {
				line += ", crates " + n
			}
			lines = append(lines, line)
		}
		what := string(m.Kind)
		if m.Decision != "" {
			what += ": " + strings.ReplaceAll(m.Decision, "-", " ")
		}
		t.rows = append(t.rows, []string{name, orDash(contact), orDash(clock(m.At, r.zone)), what, orDash(paperOf(m.Reference, m.Entry)), strings.Join(lines, "\n"), orDash(m.DoneBy)})
	}
	t.bold = func(row, column int) bool { return false }
	r.d.table(t)
	gone := table{none: "Nothing was disposed of.", columns: []column{{"Disposed of", 2}, {"Day", 1}, {"Quantity", 1}, {"How", 1.2}, {"Note", 3.6}, {"By", 0.6}}}
	for _, x := range r.p.Disposals {
		gone.rows = append(gone.rows, []string{x.Lot, orDash(x.On.String()), amount(x.Quantity), strings.ReplaceAll(x.How, "-", " "), orDash(x.Note), orDash(x.DoneBy)})
	}
	r.d.table(gone)
}

// crateNumbers writes the crates of a line as numbers of their lot.
func (r *packetReport) crateNumbers(l domain.PacketLine) string {
	var numbers []int
	for _, code := range l.Crates {
		if c, err := domain.ParseCode(code); err == nil && c.Crate > 0 {
			numbers = append(numbers, c.Crate)
		}
	}
	return domain.NumberRuns(numbers)
}

func (r *packetReport) related() {
	r.section("Other lots that may have been touched")
	t := table{none: "No other lot shared water, line or tools, as far as the book can see.", columns: []column{{"Lot", 1}, {"How", 4}}}
	for _, x := range r.p.PossibleContact {
		t.rows = append(t.rows, []string{x.Lot, x.How})
	}
	r.d.table(t)
	if len(t.rows) > 0 {
		r.d.small("These lots are told apart from the lots in question: they share handling with them, not ground.")
	}
}

func (r *packetReport) open() {
	r.section("Holds, alerts, corrections and late entries")
	holds := table{none: "Nothing is or was held.", columns: []column{{"Held", 2}, {"Since", 1.3}, {"Why", 3.2}, {"Released", 1.3}, {"Why released", 2}, {"By", 0.6}}}
	for _, h := range r.p.Holds {
		holds.rows = append(holds.rows, []string{h.On, clock(h.From, r.zone), h.Reason, orWords(clock(h.ReleasedAt, r.zone), "still held"), orDash(h.ReleasedReason), orDash(h.By)})
	}
	r.d.table(holds)
	alerts := table{none: "No lot is judged worse than when it was cut or packed.", columns: []column{{"Alert for lot", 2}, {"When", 1.3}, {"Then, now", 1.1}, {"What", 3.4}, {"Closed by", 2}}}
	for _, a := range r.p.Alerts {
		closed := "open"
		if !a.ClosedAt.IsZero() {
			closed = clock(a.ClosedAt, r.zone) + " " + a.Action
		}
		alerts.rows = append(alerts.rows, []string{a.Lot, clock(a.At, r.zone), string(a.Then) + ", " + string(a.Now), a.Text, closed})
	}
	r.d.table(alerts)
	fixes := table{none: "Nothing was corrected or voided.", columns: []column{{"Correction", 1}, {"Of entry", 0.8}, {"Record", 1.3}, {"When", 1.3}, {"What", 2.4}, {"Why", 2.6}, {"By", 0.6}}}
	for _, c := range r.p.Corrections {
		what := c.What
		if c.Void {
			what = strings.TrimSpace("VOID " + what)
		}
		fixes.rows = append(fixes.rows, []string{fmt.Sprint(c.Entry), fmt.Sprint(c.Of), strings.ReplaceAll(c.Kind, "-", " "), clock(c.At, r.zone), orDash(what), orDash(c.Reason), orDash(c.By)})
	}
	r.d.table(fixes)
	late := table{none: "Nothing was written down late.", columns: []column{{"Late entry", 1}, {"Record", 1.4}, {"Done on", 1}, {"Written down", 1.4}, {"Why late", 3.6}, {"By", 0.6}}}
	for _, x := range r.p.LateEntries {
		late.rows = append(late.rows, []string{fmt.Sprint(x.Entry), strings.ReplaceAll(x.Kind, "-", " "), orDash(x.DoneOn.String()), clock(x.EnteredAt, r.zone), orWords(x.Reason, "not said"), orDash(x.By)})
	}
	r.d.table(late)
}

// records are the entries of the book that this packet rests on, with what proves each of them.
func (r *packetReport) records() {
	r.section("Records in the book and their proofs")
	if r.p.Checkpoint.Root != "" {
		r.d.paragraph(fmt.Sprintf("Each entry below is a leaf of the book's tree of %d entries, whose root stands in the footer of every page. The hashes beside it lead from its leaf to that root; the file of this packet holds the bytes of the entries, so that anybody can compute it.", r.p.Checkpoint.Size))
	}
	t := table{none: "No proofs of single records are in this packet.", columns: []column{{"Entry", 0.7}, {"Record", 1.3}, {"Leaf", 4}, {"Hashes up to the root", 1}}}
	for _, x := range r.p.Proofs {
		t.rows = append(t.rows, []string{fmt.Sprint(x.Entry), strings.ReplaceAll(x.Kind, "-", " "), x.Leaf, fmt.Sprint(len(x.Hashes))})
	}
	r.d.table(t)
}

// index comes last: it can tell where everything began.
func (r *packetReport) index() {
	r.section("Index of pages")
	t := table{columns: []column{{"Part", 6}, {"Page", 1}}}
	for _, line := range r.toc {
		t.rows = append(t.rows, []string{line.title, fmt.Sprint(line.page)})
	}
	r.d.table(t)
}
