package report

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"croftmark/domain"
)

// PacketPDF writes the answer to a traceback request as a paper, in English, because buyers and authorities read it. The
// zero size is letter. The same packet always gives the same bytes. A packet without farm name or time is refused, and
// nothing is written then.
func PacketPDF(w io.Writer, p *domain.Packet, size PageSize) error {
	p = p.ForAudience()
	r := packetReport{p: p, zone: p.Zone()}
	paper := Paper{Farm: p.Farm.Name, Address: p.Farm.Address, Size: size, Made: p.MadeAt,
		Checkpoint: Checkpoint{Origin: p.Checkpoint.Origin, Size: p.Checkpoint.Size, Root: p.Checkpoint.Root}}
	for _, gap := range p.Gaps() {
		if !strings.HasPrefix(gap, "No checkpoint of the book") { // the box says that itself
			paper.Gaps = append(paper.Gaps, gap)
		}
	}
	period := "for " + orWords(p.Audience.Name, string(p.Audience.Kind))
	if !p.Request.AskedAt.IsZero() {
		period += "\nasked " + clock(p.Request.AskedAt, r.zone)
	}
	return layout{paper: paper, zone: r.zone, title: "Answer to a traceback request", period: period, body: r.body}.write(w)
}

type packetReport struct {
	p    *domain.Packet
	zone *time.Location
	d    *document
	toc  []tocLine
}

type tocLine struct {
	title string
	page  int
}

func (r packetReport) body(d *document) {
	r.d, r.toc = d, nil
	r.cover()
	r.chain()
	r.harvests()
	r.ground()
	r.water()
	r.handling()
	r.people()
	r.supplies()
	r.balance()
	r.recipients()
	r.related()
	r.open()
	r.records()
	r.index()
}

// section begins a numbered part with room for what comes first, and remembers its page.
func (r *packetReport) section(title string) { r.sectionWith(title, 60) }

func (r *packetReport) sectionWith(title string, room float64) {
	title = fmt.Sprintf("%d. %s", len(r.toc)+1, title)
	r.d.heading(title)
	r.d.need(room)
	r.toc = append(r.toc, tocLine{title, len(r.d.pages)})
}

func (r *packetReport) cover() {
	p, d := r.p, r.d
	d.headline("Answer to a traceback request")
	r.section("The question and the answer")
	hour := func(t time.Time) string {
		if t.IsZero() {
			return ""
		}
		return instant(t, r.zone)
	}
	d.facts(
		fact{"Answer", orWords(p.Request.Answer, "not written")},
		fact{"Question", orWords(p.Request.About, "not on record")},
		fact{"Asked by", orWords(p.Request.AskedBy, "not on record")},
		fact{"Asked", hour(p.Request.AskedAt)},
		fact{"Due", hour(p.Request.DueAt)},
		fact{"Answered", orWords(hour(p.Request.AnsweredAt), "not yet, as of this paper")},
		fact{"Made for", orWords(p.Audience.Name, string(p.Audience.Kind))},
		fact{"Farm", p.Farm.Location()},
		fact{"Contact, any hour", strings.TrimSpace(p.Farm.Contact + " " + p.Farm.ContactPhone)},
		fact{"Lots", r.lotsInShort()},
		fact{"Withheld", withheldWords(p)},
	)
	d.gapsBox(nil)
}

// lotsInShort names the lots with how they are judged.
func (r *packetReport) lotsInShort() string {
	var parts []string
	for _, l := range r.p.Lots {
		s := l.Code
		if l.VerdictNow != "" {
			s += " (" + string(l.VerdictNow)
			if l.Held {
				s += ", held"
			}
			s += ")"
		}
		parts = append(parts, s)
	}
	return strings.Join(parts, ", ")
}

func (r *packetReport) chain() {
	drawn := chainOf(r.p).draw(r.d.width(), 6.5)
	r.sectionWith("The way of the food", min(drawn.height, r.d.bottom-r.d.top-40))
	r.d.place(drawn)
	r.d.small("From the top down: who supplied, which ground, what was cut, what was done with it, what was packed, in which crates, and where they are. A broken frame: not on record, or withheld. What went to one place is one box of crates.")
}

func (r *packetReport) harvests() {
	r.section("Harvest")
	t := table{none: "No harvest lot is in this packet.", columns: []column{{"Lot", 1.9}, {"Crop", 1.5}, {"Beds", 2}, {"Planted", 1}, {"Cut", 1.4}, {"Quantity", 0.9}, {"By", 0.7}, {"Judged then, now", 1.1}}}
	for i := range r.p.Lots {
		l := &r.p.Lots[i]
		if l.Kind != domain.CodeKindHarvest {
			continue
		}
		var beds []string
		for _, id := range l.BedIDs {
			if b := r.p.Bed(id); b != nil {
				name := b.FieldName()
				if len(b.EarlierNames) > 0 {
					name += " (before: " + strings.Join(b.EarlierNames, ", ") + ")"
				}
				beds = append(beds, name)
			}
		}
		planted := ""
		if x := r.p.Planting(l.PlantingID); x != nil {
			planted = x.PlantedOn.String()
		}
		cutOn := l.CutFrom.String()
		if !l.CutAt.IsZero() {
			cutOn = clock(l.CutAt, r.zone)
		}
		if l.CutTo != l.CutFrom && !l.CutTo.IsZero() {
			cutOn += " to " + l.CutTo.String()
		}
		t.rows = append(t.rows, []string{l.Code, strings.TrimSpace(l.Commodity + " " + l.Variety), strings.Join(beds, "; "), orDash(planted), orDash(cutOn), orDash(amount(l.Made)),
			orDash(strings.Join(l.Crew, ", ")), string(l.VerdictThen) + ", " + string(l.VerdictNow)})
	}
	r.d.table(t)
	r.packLots()
	for _, l := range r.p.Lots {
		if len(l.Reasons) > 0 {
			r.d.small(l.Code + ": " + strings.Join(l.Reasons, " "))
		}
	}
}

func (r *packetReport) packLots() {
	t := table{none: "No pack lot is in this packet.", columns: []column{{"Pack lot", 1.9}, {"Product", 2}, {"Packed", 1.3}, {"From", 2.6}, {"Quantity", 0.9}, {"Culls", 0.7}, {"By", 0.7}, {"Judged then, now", 1.1}}}
	for _, l := range r.p.Lots {
		if l.Kind != domain.CodeKindPack {
			continue
		}
		var from []string
		for _, parent := range l.Parents {
			from = append(from, amount(parent.Quantity)+" of "+parent.Code)
		}
		t.rows = append(t.rows, []string{l.Code, l.Product, orDash(clock(l.PackedAt, r.zone)), orDash(strings.Join(from, "; ")), orDash(amount(l.Made)), orDash(amount(l.Culls)), orDash(strings.Join(l.Crew, ", ")),
			string(l.VerdictThen) + ", " + string(l.VerdictNow)})
	}
	r.d.table(t)
}

func (r *packetReport) ground() {
	r.section("The ground and what it remembers")
	if len(r.p.Beds) == 0 {
		r.d.paragraph("No bed is in this packet.")
	}
	for _, b := range r.p.Beds {
		known := "What it was before the book began is known."
		if !b.HistoryKnown {
			known = "What it was before the book began is NOT known."
		}
		place := "coordinates not on record"
		if b.Lat != "" && b.Lon != "" {
			place = b.Lat + ", " + b.Lon
		}
		r.d.need(50)
		r.d.strong(b.FieldName() + " (" + place + ")")
		r.d.paragraph(known)
		t := table{none: "Nothing was written down for this ground.", columns: []column{{"Day", 1.3}, {"What", 2.4}, {"Worked in", 1.3}, {"Amount", 0.9}, {"Supplier", 1.5}, {"Days to harvest", 2.4}, {"Rule and verdict", 3}}}
		history := slices.Clone(b.History)
		slices.SortStableFunc(history, func(x, y domain.PacketGround) int { return y.On.DaysSince(x.On) })
		for _, g := range history {
			what := g.What
			if g.Via != "" {
				what += " (written down for " + g.Via + ")"
			}
			days := "–"
			if g.DaysToHarvest != nil {
				days = fmt.Sprintf("%d to %s", *g.DaysToHarvest, g.Lot)
			}
			var reasons []string
			for _, reason := range g.Reasons {
				reasons = append(reasons, fmt.Sprintf("%s (%s, %s): %s", reason.Verdict, reason.Authority, reason.Citation, reason.Text))
			}
			t.rows = append(t.rows, []string{orDash(g.On.String()), what, orDash(g.IncorporatedOn.String()), orDash(amount(g.Amount)), orDash(g.Supplier), days, orDash(strings.Join(reasons, " "))})
		}
		r.d.table(t)
	}
}

func (r *packetReport) water() {
	r.section("Water")
	uses := table{none: "No use of water is in this packet.", columns: []column{{"Source", 1.6}, {"Lot", 2}, {"Use and tap", 2.2}, {"When", 1.4}, {"Verdict", 0.8}, {"Why", 2.6}}}
	tests := table{none: "No sample is in this packet.", columns: []column{{"Source", 1.6}, {"Tap", 1.2}, {"Sampled", 1.4}, {"What for", 1.6}, {"Result", 1.6}, {"Method", 1.2}, {"Laboratory", 1.8}}}
	for _, w := range r.p.Waters {
		name := strings.TrimSpace(w.Name + " " + bracketed(strings.ReplaceAll(w.Is, "-", " ")))
		for _, u := range w.Uses {
			uses.rows = append(uses.rows, []string{name, u.Lot, strings.TrimSpace(strings.ReplaceAll(u.Use, "-", " ") + ", " + u.Tap), orDash(clock(u.At, r.zone)), string(u.Verdict), orDash(strings.Join(u.Reasons, " "))})
		}
		for _, s := range w.Tests {
			tests.rows = append(tests.rows, []string{w.Name, orDash(s.Tap), clock(s.SampledAt, r.zone), s.Analyte, orWords(s.Result, "NO RESULT YET"), orDash(s.Method), orDash(s.Lab)})
		}
	}
	r.d.table(uses)
	r.d.table(tests)
}

func bracketed(s string) string {
	if s == "" {
		return ""
	}
	return "(" + s + ")"
}

func (r *packetReport) handling() {
	r.section("Handling and cooling")
	t := table{none: "No handling was written down.", columns: []column{{"Lot", 2}, {"What", 1.4}, {"How", 2}, {"When", 2.2}, {"Temperature", 1.5}, {"Water", 1}, {"By", 0.6}, {"Paper", 1.6}}}
	for _, h := range r.p.Handling {
		when := clock(h.At, r.zone)
		if h.Until.After(h.At) {
			when += " to " + h.Until.In(r.zone).Format("15:04")
		}
		var heat []string
		for _, q := range []domain.Quantity{h.TempIn, h.TempOut} {
			if !q.IsZero() {
				heat = append(heat, amount(q))
			}
		}
		t.rows = append(t.rows, []string{h.Lot, h.Kind, orDash(h.Method), orDash(when), orDash(strings.Join(heat, " to ")), orDash(h.Water), orDash(h.DoneBy), orDash(paperOf(h.Reference, h.Entry))})
	}
	r.d.table(t)
}

func paperOf(ref domain.Reference, entry int64) string {
	if ref.Number == "" && entry > 0 {
		return fmt.Sprintf("book entry %d", entry)
	}
	return strings.TrimSpace(strings.ReplaceAll(ref.Type, "-", " ") + " " + ref.Number)
}

func (r *packetReport) people() {
	r.section("People")
	t := table{none: "Nobody is named in this packet.", columns: []column{{"Initials or code", 1.2}, {"Did", 4}, {"Last training on record", 2}}}
	for _, x := range r.p.People {
		t.rows = append(t.rows, []string{x.Code, orDash(x.Did), orWords(x.TrainedOn.String(), "none on record")})
	}
	r.d.table(t)
	r.d.small("Health facts are private and stand in no packet.")
}

func (r *packetReport) supplies() {
	r.section("Seed and supplies")
	t := table{none: "No delivery is in this packet.", columns: []column{{"What", 2.4}, {"Kind", 1.4}, {"Supplier", 1.8}, {"Supplier's lot", 1.2}, {"Received", 1}, {"Quantity", 1}, {"Certificate", 2.2}}}
	for _, x := range r.p.InputLots {
		name := x.Name
		if x.UsedIn != "" {
			name += " (went into compost " + x.UsedIn + ")"
		}
		t.rows = append(t.rows, []string{name, strings.ReplaceAll(string(x.Category), "-", " "), orWords(x.Supplier, "not on record"), orWords(x.SupplierLot, "not on record"), orDash(x.ReceivedOn.String()), orDash(amount(x.Quantity)), orDash(x.Certificate)})
	}
	r.d.table(t)
	batches := table{none: "No compost batch is in this packet.", columns: []column{{"Compost batch", 1.2}, {"Method", 1.4}, {"Started", 1}, {"Heat met", 1}, {"Turned", 0.7}, {"Counts as", 1.2}, {"In short", 3.4}}}
	for _, b := range r.p.Batches {
		batches.rows = append(batches.rows, []string{b.Code, orDash(b.Method), orDash(b.StartedOn.String()), orDash(b.MetOn.String()), fmt.Sprint(b.Turnings), tongue(false).standing(b.Standing), orDash(b.Summary)})
	}
	r.d.table(batches)
}

func (r *packetReport) balance() {
	r.section("Mass balance")
	r.d.paragraph("made = on hand + packed on + shipped - returned + disposed ± not accounted for, each lot in its own unit. Culls of a run are in what was packed on; what was given away is in what was shipped.")
	t := table{none: "No lot is in this packet.", columns: []column{{"Lot", 2.1}, {"Unit", 0.7}, {"Made", 0.8}, {"On hand", 0.8}, {"Packed on", 0.8}, {"Shipped", 0.9}, {"Returned", 1}, {"Disposed", 1}, {"Not accounted for", 1}, {"Accounted %", 1.2}}}
	var questions []string
	for _, b := range r.p.Balance() {
		onHand := b.OnHand.String()
		if r.p.Lot(b.Lot).OnHand.Unit == "" {
			onHand = "not counted"
		}
		t.rows = append(t.rows, []string{b.Lot, string(b.Unit), b.Made.String(), onHand, b.PackedOn.String(), b.Shipped.String(), b.Returned.String(), b.Disposed.String(), b.Unexplained.String(), b.AccountedPct.StringFixed(2)})
		if b.Question != "" {
			questions = append(questions, b.Question)
		}
	}
	t.bold = func(row, column int) bool { return column >= 8 }
	r.d.table(t)
	r.d.list(questions...)
}
