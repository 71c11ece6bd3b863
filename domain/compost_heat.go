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
	probe  string
	heat   decimal.Decimal // in ninths; see there
	shown  Quantity
	proof  bool // may stand for its point; a reading that may not can still spoil the date
	logger bool
}

// heatReadings corrects, dates and sorts the readings up to a day; a zero day means all. Readings from before the batch
// was built are not of this heap.
func (b *CompostFacts) heatReadings(on Date) []heatReading {
	out := make([]heatReading, 0, len(b.Readings))
	replaced := b.replacements()
	for _, r := range b.Readings {
		d := DateIn(r.TakenAt, b.zone())
		if d.Before(b.StartedOn) || (!on.IsZero() && d.After(on)) {
			continue
		}
		if r.Void.complete() && replaced[spotDate{r.Probe, d}] {
			continue
		}
		heat, shown := b.corrected(r)
		out = append(out, heatReading{
			at: r.TakenAt, date: d, probe: r.Probe, heat: heat, shown: shown,
			proof: r.Void == nil && !r.FromMemory && r.Probe != "", logger: r.Logger,
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
		return a.heat.LessThan(b.heat)
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
			out[spotDate{r.Probe, DateIn(r.TakenAt, b.zone())}] = true
		}
	}
	return out
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
		if (o.Probe != "" && o.Probe != r.Probe) || o.From.After(r.TakenAt) || o.From.Before(last.From) {
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
