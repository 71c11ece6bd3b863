package domain

import (
	"sort"
	"time"

	"github.com/shopspring/decimal"
)

// heatReading is a reading ready to be judged: dated in the farm's zone and corrected for its probe.
type heatReading struct {
	at     time.Time
	date   Date
	probe  string          // folded
	name   string          // as written down
	heat   decimal.Decimal // in ninths; see there
	shown  Quantity
	proof  bool // may stand for its point; a reading that may not can still spoil the date
	logger bool
}

// ReadingUse says what became of a reading.
type ReadingUse string

const (
	ReadingStands   ReadingUse = "stands"
	ReadingBefore   ReadingUse = "before"    // from before the heap was built: not of this heap
	ReadingTakenOut ReadingUse = "taken-out" // its void is complete and another reading of that spot and date stands
	ReadingUnread   ReadingUse = "unread"    // in no unit of temperature: it cannot prove heat
)

// CorrectedReading is a reading as it was written down, with what the heap is judged by.
type CorrectedReading struct {
	CompostReading
	Date      Date     // in the farm's zone
	Corrected Quantity // without what the probe was found to read too high, in the unit it was written in
	Use       ReadingUse
	Spot      string          // the probe, the same however it is spelt; empty: none written down
	heat      decimal.Decimal // in ninths; see there
}

// DegF is the corrected temperature in degF.
func (r CorrectedReading) DegF() decimal.Decimal {
	return r.heat.DivRound(ninthsPerF, 6).Add(freezingF)
}

// CorrectedReadings gives every reading in the order written down, dated, corrected, and with its use.
func (b *CompostFacts) CorrectedReadings() []CorrectedReading {
	out := make([]CorrectedReading, 0, len(b.Readings))
	replaced := b.replacements()
	for _, r := range b.Readings {
		c := CorrectedReading{CompostReading: r, Date: DateIn(r.TakenAt, b.zone()), Use: ReadingStands, Spot: foldName(r.Probe)}
		c.heat, c.Corrected = b.corrected(r)
		switch _, ok := ninths(r.Temperature); {
		case c.Date.Before(b.StartedOn):
			c.Use = ReadingBefore
		case r.Void.complete() && replaced[spotDate{c.Spot, c.Date}]:
			c.Use = ReadingTakenOut
		case !ok:
			c.Use = ReadingUnread
		}
		out = append(out, c)
	}
	return out
}

// heatReadings are the readings that judge the heap up to a day, sorted; a zero day means all. One in no unit of
// temperature is among them, as cold as ice: it can spoil a date and prove none.
func (b *CompostFacts) heatReadings(on Date) []heatReading {
	out := make([]heatReading, 0, len(b.Readings))
	for _, r := range b.CorrectedReadings() {
		if r.Use == ReadingBefore || r.Use == ReadingTakenOut || (!on.IsZero() && r.Date.After(on)) {
			continue
		}
		out = append(out, heatReading{
			at: r.TakenAt, date: r.Date, probe: r.Spot, name: r.Probe, heat: r.heat, shown: r.Corrected,
			proof: r.Void == nil && !r.FromMemory && r.Spot != "", logger: r.Logger,
		})
	}
	sort.Slice(out, func(i, j int) bool {
		a, b := out[i], out[j]
		if !a.at.Equal(b.at) {
			return a.at.Before(b.at)
		}
		if a.probe != b.probe {
			return a.probe < b.probe
		}
		if !a.heat.Equal(b.heat) {
			return a.heat.LessThan(b.heat)
		}
		return a.name < b.name
	})
	return out
}

type spotDate struct {
	probe string
	date  Date
}

// replacements are the spots and dates with at least one sound reading, which alone lets another be voided.
func (b *CompostFacts) replacements() map[spotDate]bool {
	out := map[spotDate]bool{}
	for _, r := range b.Readings {
		if r.Void == nil && !r.FromMemory {
			out[spotDate{foldName(r.Probe), DateIn(r.TakenAt, b.zone())}] = true
		}
	}
	return out
}

func (o ProbeOffset) concerns(probe string) bool {
	return foldName(o.Probe) == "" || foldName(o.Probe) == foldName(probe)
}

// corrected takes off what the probe was found to read too high. A unit we do not know counts as ice: it cannot prove
// heat.
func (b *CompostFacts) corrected(r CompostReading) (decimal.Decimal, Quantity) {
	heat, ok := ninths(r.Temperature)
	if !ok {
		return decimal.Zero, r.Temperature
	}
	var last ProbeOffset
	for _, o := range b.ProbeOffsets {
		if !o.concerns(r.Probe) || o.From.After(r.TakenAt) || o.From.Before(last.From) {
			continue
		}
		last = o
	}
	if last.ReadHigh.Value.IsZero() {
		return heat, r.Temperature
	}
	off := degrees(last.ReadHigh)
	part := ninthsPerF
	if r.Temperature.Unit == "degC" {
		part = ninthsPerC
	}
	return heat.Sub(off), Quantity{r.Temperature.Value.Sub(off.DivRound(part, 6)), r.Temperature.Unit}
}

var ninthsPerC, ninthsPerF, freezingF = decimal.NewFromInt(9), decimal.NewFromInt(5), decimal.NewFromInt(32)

// ninths is a temperature as nine times degC, which is five times (degF - 32): a scale on which both units land
// without a division, so that nothing is rounded before it is compared.
func ninths(q Quantity) (decimal.Decimal, bool) {
	switch q.Unit {
	case "degC":
		return q.Value.Mul(ninthsPerC), true
	case "degF":
		return q.Value.Sub(freezingF).Mul(ninthsPerF), true
	}
	return decimal.Decimal{}, false
}

// degrees is a difference of temperature on the same scale.
func degrees(q Quantity) decimal.Decimal {
	if q.Unit == "degC" {
		return q.Value.Mul(ninthsPerC)
	}
	return q.Value.Mul(ninthsPerF)
}

// The limits on that scale: 131 degF = 55 degC = 495, 170 degF = 690.
var hotEnough, tooHot = decimal.NewFromInt(495), decimal.NewFromInt(690)
