package domain

import (
	"fmt"
	"slices"
	"strings"
)

// Gaps says in words what the packet can't tell: what it was given as known, and what it shows itself to lack. A
// declared gap beats a smooth story.
func (p *Packet) Gaps() []string {
	var gaps []string
	add := func(ok bool, format string, args ...any) {
		if text := fmt.Sprintf(format, args...); !ok && !slices.Contains(gaps, text) {
			gaps = append(gaps, text)
		}
	}
	for _, g := range p.KnownGaps {
		add(false, "%s", g)
	}
	p.farmGaps(add)
	for i := range p.Lots {
		p.lotGaps(&p.Lots[i], add)
	}
	p.groundGaps(add)
	p.shedGaps(add)
	for _, b := range p.Balance() {
		add(b.Question == "", "%s", b.Question)
		add(b.Question != "" || b.Unexplained.IsZero(), "%s %s of lot %s are not accounted for (%s %% are).", b.Unexplained, b.Unit, b.Lot, b.AccountedPct)
	}
	p.kdeGaps(add)
	add(p.Checkpoint.Root != "", "No checkpoint of the book was given: this packet can't be held against the book.")
	add(p.Checkpoint.Root == "" || len(p.Proofs) > 0, "No proofs of single records are in this packet; only the state of the book as a whole is named.")
	return gaps
}

type gapAdder func(ok bool, format string, args ...any)

func (p *Packet) farmGaps(add gapAdder) {
	add(p.Farm.located(), "The farm's location description is not complete: name, phone and street address or coordinates.")
	add(p.Farm.Contact != "" && p.Farm.ContactPhone != "", "No contact person with a phone that is answered at any hour is on record.")
	_, err := Zone(p.Farm.TimeZone)
	add(err == nil, "The farm's time zone is not on record; hours are given in UTC.")
	add(p.Request.About != "", "The question as it was received is not on record.")
	add(p.Request.AskedBy != "", "Who asked is not on record.")
	add(!p.Request.AskedAt.IsZero(), "When it was asked is not on record.")
	add(p.Request.Answer != "", "The answer in one sentence was not written.")
	add(len(p.Lots) > 0, "The book found no lot for this question.")
}

func (p *Packet) lotGaps(l *PacketLot, add gapAdder) {
	if l.Kind == CodeKindPack {
		add(len(l.Parents) > 0, "Which lots went into pack lot %s is not on record.", l.Code)
		for _, parent := range l.Parents {
			add(p.Lot(parent.Code) != nil, "Lot %s went into %s and is not in this packet.", parent.Code, l.Code)
			add(!parent.Quantity.IsZero(), "How much of lot %s went into %s is not on record.", parent.Code, l.Code)
		}
		add(l.waterKnown(p), "Which water was used when lot %s was washed and packed is not on record.", l.Code)
	} else {
		add(l.InferredFrom == "", "Nobody wrote down the harvest of lot %s. It was worked out later (%s); its beds are all those it can have come from.", l.Code, l.InferredFrom)
		add(len(l.BedIDs) > 0, "From which bed lot %s was cut is not on record.", l.Code)
		planting := p.Planting(l.PlantingID)
		add(planting != nil, "The planting of lot %s is not in this packet.", l.Code)
		add(planting == nil || len(planting.SeedLotIDs) > 0, "The seed or transplant lot of lot %s is not on record.", l.Code)
		if l.CutFrom.IsZero() {
			add(false, "When lot %s was cut is not on record.", l.Code)
		}
	}
	add(len(l.Crew) > 0, "Who cut or packed lot %s is not on record.", l.Code)
	crates := p.CratesOf(l.Code)
	add(l.Containers == 0 || len(crates) == 0 || len(crates)+p.Withheld.Crates >= l.Containers, "Lot %s has %d crates and only %d are on record.", l.Code, l.Containers, len(crates))
	add(l.VerdictNow != "", "Lot %s was not judged.", l.Code)
}

func (l *PacketLot) waterKnown(p *Packet) bool {
	return slices.ContainsFunc(p.Waters, func(w PacketWater) bool {
		return slices.ContainsFunc(w.Uses, func(u PacketWaterUse) bool { return u.Lot == l.Code })
	}) || slices.ContainsFunc(p.Handling, func(h PacketHandling) bool { return h.Lot == l.Code && h.Water != "" })
}

func (p *Packet) groundGaps(add gapAdder) {
	for i := range p.Beds {
		b := &p.Beds[i]
		add(b.HistoryKnown, "What the ground of %s was used for before the book began is not known.", b.FieldName())
		add(b.Lat != "" && b.Lon != "", "The coordinates of %s are not on record.", b.FieldName())
		for _, g := range b.History {
			add(!g.On.IsZero(), "When %q was done on %s is not on record.", g.What, b.FieldName())
		}
	}
	for _, x := range p.InputLots {
		add(x.Supplier != "", "The supplier of %s is not on record.", x.Name)
		add(x.SupplierLot != "", "The supplier's lot of %s is not on record.", x.Name)
	}
}

func (p *Packet) shedGaps(add gapAdder) {
	for _, w := range p.Waters {
		add(len(w.Tests) > 0, "No sample of the water of %s is in this packet.", w.Name)
		for _, t := range w.Tests {
			add(t.Result != "", "The result of the sample of %s taken on %s (%s) is not known yet.", w.Name, DateIn(t.SampledAt, p.Zone()), t.Analyte)
		}
	}
	for _, h := range p.Handling {
		add(!h.At.IsZero(), "When %s of lot %s was done is not on record.", h.Kind, h.Lot)
		add(p.Lot(h.Lot) != nil, "Lot %s had %s and is not in this packet.", h.Lot, h.Kind)
	}
	for _, c := range p.Customers {
		add(!c.StraightToConsumers(), "Who bought at %s is not known by name.", c.Name)
	}
	for _, m := range p.Moves {
		add(p.Customer(m.CustomerID) != nil, "The customer of a %s is not in this packet.", m.Kind)
		for _, l := range m.Lines {
			add(p.Lot(l.Lot) != nil, "Lot %s moved with %s and is not in this packet.", orWord(l.Lot, "(no lot)"), orWord(strings.TrimSpace(m.Reference.Type+" "+m.Reference.Number), "no paper"))
		}
	}
	for _, x := range p.People {
		add(!x.TrainedOn.IsZero(), "No training of %s is on record.", x.Code)
		yearly := ruleByID("us-produce-safety.training-yearly")
		add(x.TrainedOn.IsZero() || x.LastOn.IsZero() || yearly.trained(x.TrainedOn, x.LastOn),
			"The last training of %s on record, of %s, was more than a year before %s.", x.Code, x.TrainedOn, x.LastOn)
	}
}

// kdeGaps tells each missing element once for all its rows.
func (p *Packet) kdeGaps(add gapAdder) {
	for _, t := range KDETables(p) {
		for i, c := range t.Columns {
			rows, words := 0, ""
			for _, row := range t.Rows {
				if row[i].Gap != "" {
					rows++
					words = row[i].Gap
				}
			}
			add(rows == 0, "Sheet %q, column %s, %d of %d rows: %s (%s).", t.Event, c.Name, rows, len(t.Rows), words, c.Citation)
		}
	}
}
