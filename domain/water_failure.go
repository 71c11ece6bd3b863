package domain

import (
	"slices"
	"time"

	"github.com/google/uuid"
)

// waterFailure is a detection and what it condemns at one tap of the source: from (inclusive) until fit again, whenever
// the tap gives water of the origin that failed. Zero instants are not known or not yet.
type waterFailure struct {
	test           *WaterTest
	origin         string // of the water that failed
	here           bool   // the tap gave that water when the sample was drawn
	perhaps        bool   // the sample names no tap, and this is what some other tap gave then
	lastGood       *WaterTest
	stop           *WaterAction
	from, to       time.Time // the window: last good sample to use stopped
	fixedAt, fitAt time.Time
	retested       []time.Time // good samples of the failed water after the correction, one a day
}

// condemns reports whether water of the failed origin is unfit at an instant.
func (x waterFailure) condemns(at time.Time) bool {
	return !at.Before(x.from) && (x.fitAt.IsZero() || at.Before(x.fitAt))
}

// needed is how many good samples make the water fit again after a correction.
func (x waterFailure) needed(kind WaterKind) int {
	if kind == WaterUntreatedGround {
		return 4
	}
	return 1
}

func (x waterFailure) retests(at time.Time) (n int) {
	for _, t := range x.retested {
		if !t.After(at) {
			n++
		}
	}
	return n
}

// failures lists every detection of the source, by the origin of the water it was drawn from, for water of that origin at
// the tap: a tap that is switched onto a failed well gets its failure with its water.
func (f *WaterFacts) failures(tap string, use WaterUse) (xs []waterFailure) {
	for i := range f.Tests {
		t := &f.Tests[i]
		if !t.mayFindEColi() || t.Finding() != Detected {
			continue
		}
		for j, origin := range f.mayComeFrom(t, tap) {
			x := f.failure(t, origin, tap, use)
			x.perhaps = j > 0
			xs = append(xs, x)
		}
	}
	slices.SortStableFunc(xs, func(a, b waterFailure) int { return a.test.SampledAt.Compare(b.test.SampledAt) })
	return xs
}

// mayComeFrom lists the origins of the water that a sample may be of: first that of its tap; where it names none, then
// those that the other taps gave, because it may have been drawn at any of them.
func (f *WaterFacts) mayComeFrom(t *WaterTest, tap string) []string {
	origins := []string{f.originAt(t.Tap, t.SampledAt)}
	if foldName(t.Tap) != "" {
		return origins
	}
	taps := []string{tap}
	for _, ch := range f.Changes {
		taps = append(taps, ch.Tap) // a tap without a change of its own gives what the source gives
	}
	for _, other := range taps {
		if o := f.originAt(other, t.SampledAt); !slices.Contains(origins, o) {
			origins = append(origins, o)
		}
	}
	return origins
}

// failures lists the detections in water of the origin that the tap gives at the instant asked about. Other water in
// between ends none of them: the well that comes back is the well that failed (21 CFR 112.45(a), 112.44(b)).
func (c waterCase) failures() []waterFailure {
	now := c.f.originAt(c.tap, c.at)
	return slices.DeleteFunc(c.f.failures(c.tap, c.use), func(x waterFailure) bool { return x.origin != now })
}

func (f *WaterFacts) failure(t *WaterTest, origin, tap string, use WaterUse) waterFailure {
	supply := f.supplyAt(tap, t.SampledAt)
	x := waterFailure{test: t, origin: origin, here: supply.kind.origin() == origin, from: t.SampledAt}
	x.fixedAt = f.correctionOf(t, tap, use)
	x.to = f.nextWater(tap, t.SampledAt)
	if x.here {
		f.reachBack(&x, tap, supply.waterSince)
	}
	f.retest(&x, tap)
	x.stop = f.stopFor(t.SampledAt, tap, use)
	x.to = earliestOf(x.to, x.fitAt)
	if x.stop != nil {
		x.to = earliestOf(x.to, x.stop.At)
	}
	return x
}

// reachBack lets a failure condemn from the last good sample of the tap on, or from when this water first flowed there.
func (f *WaterFacts) reachBack(x *waterFailure, tap string, since time.Time) {
	if x.lastGood = f.lastGoodOf(tap, since, x.test.SampledAt); x.lastGood != nil {
		since = x.lastGood.SampledAt.Add(time.Microsecond) // exclusive, at the resolution of the book
	}
	if since.Before(x.from) {
		x.from = since
	}
}

// correctionOf gives the first correction of a failure after its result was known: what was done before is none of it.
func (f *WaterFacts) correctionOf(t *WaterTest, tap string, use WaterUse) (at time.Time) {
	known := t.SampledAt
	if t.ReportedAt.After(known) {
		known = t.ReportedAt
	}
	for i := range f.Actions {
		if a := &f.Actions[i]; a.corrects(use, t.Tap, tap) && a.At.After(known) {
			at = earliestOf(at, a.At)
		}
	}
	return at
}

// lastGoodOf gives the last good sample of a tap from one instant on and before another; nil: none.
func (f *WaterFacts) lastGoodOf(tap string, from, before time.Time) (last *WaterTest) {
	for _, p := range f.passes(tap) {
		if p.SampledAt.Before(before) && !p.SampledAt.Before(from) {
			last = p
		}
	}
	return last
}

// retest notes the good samples of the failed water after its correction, and when they made it fit again. A sample of
// other water that the tap gave in between proves nothing about it; for a tap that had other water when the sample was
// drawn, those of the tap that failed prove it too.
func (f *WaterFacts) retest(x *waterFailure, tap string) {
	if x.fixedAt.IsZero() {
		return
	}
	taps := []string{tap}
	if !x.here {
		taps = append(taps, x.test.Tap)
	}
	var lastDay Date
	for _, p := range f.passes(taps...) {
		supply, day := f.supplyAt(p.Tap, p.SampledAt), f.day(p.SampledAt)
		if !p.SampledAt.After(x.fixedAt) || !day.After(lastDay) || supply.kind.origin() != x.origin {
			continue
		}
		lastDay, x.retested = day, append(x.retested, p.SampledAt)
		if x.fitAt.IsZero() && len(x.retested) >= x.needed(supply.kind) {
			x.fitAt = p.SampledAt
		}
	}
}

// stopFor gives the stop that ended the use of water that a sample found bad: the one in force when it was drawn, else
// the first after it.
func (f *WaterFacts) stopFor(sampled time.Time, tap string, use WaterUse) (found *WaterAction) {
	for i := range f.Actions {
		s := &f.Actions[i]
		if st := foldName(s.Tap); s.Corrective || !s.concerns(use) || (st != "" && st != tap) {
			continue
		}
		if s.At.Before(sampled) && slices.ContainsFunc(f.Actions, func(a WaterAction) bool {
			return a.corrects(use, s.Tap, tap) && a.At.After(s.At) && !a.At.After(sampled)
		}) {
			continue // lifted before the sample was drawn
		}
		if found == nil || s.At.Before(found.At) {
			found = s
		}
	}
	return found
}

// earliestOf gives the earlier of two instants; zero is no instant.
func earliestOf(a, b time.Time) time.Time {
	if a.IsZero() || (!b.IsZero() && b.Before(a)) {
		return b
	}
	return a
}

// passes lists the good E. coli samples drawn at exactly these taps, oldest first.
func (f *WaterFacts) passes(taps ...string) (ps []*WaterTest) {
	for i := range f.Tests {
		t := &f.Tests[i]
		drawnHere := slices.ContainsFunc(taps, func(tap string) bool { return foldName(tap) == foldName(t.Tap) })
		if drawnHere && t.IsEColi() && t.Finding() == NoneDetected {
			ps = append(ps, t)
		}
	}
	slices.SortStableFunc(ps, func(a, b *WaterTest) int { return a.SampledAt.Compare(b.SampledAt) })
	return ps
}

// waterSupply is what a tap gives at an instant: since when through these pipes, and since when this water at all.
type waterSupply struct {
	kind              WaterKind
	since, waterSince time.Time
}

func (f *WaterFacts) supplyAt(tap string, at time.Time) waterSupply {
	s := waterSupply{f.Source.Is, f.Source.From, f.Source.From}
	for _, ch := range f.changesOf(tap) {
		if ch.At.After(at) {
			break
		}
		s.since = ch.At
		if ch.Is != "" {
			if ch.Is.origin() != s.kind.origin() {
				s.waterSince = ch.At
			}
			s.kind = ch.Is
		}
	}
	return s
}

// originAt is the water that a tap gives at an instant, whatever is done to it.
func (f *WaterFacts) originAt(tap string, at time.Time) string {
	return f.supplyAt(tap, at).kind.origin()
}

// nextWater is when the tap first gives other water, or none, after an instant; zero: never.
func (f *WaterFacts) nextWater(tap string, after time.Time) time.Time {
	now := f.originAt(tap, after)
	for _, ch := range f.changesOf(tap) {
		if ch.At.After(after) && ch.Is != "" && ch.Is.origin() != now {
			return earliestOf(ch.At, f.Source.To)
		}
	}
	return f.Source.To
}

func (f *WaterFacts) changesOf(tap string) (cs []WaterSupplyChange) {
	for _, ch := range f.Changes {
		if t := foldName(ch.Tap); t == "" || t == foldName(tap) {
			cs = append(cs, ch)
		}
	}
	slices.SortStableFunc(cs, func(a, b WaterSupplyChange) int { return a.At.Compare(b.At) })
	return cs
}

// tapsOnRecord lists the taps that the source's samples and points name; "" when some sample names none.
func (f *WaterFacts) tapsOnRecord() (taps []string) {
	add := func(name string) {
		if t := foldName(name); !slices.Contains(taps, t) {
			taps = append(taps, t)
		}
	}
	for i := range f.Tests {
		add(f.Tests[i].Tap)
	}
	for _, p := range f.Source.Points {
		add(p.Tap)
	}
	slices.Sort(taps)
	return taps
}

// WaterFailureWindow is the time [From, To) in which water of a tap touched produce after the last good sample and
// before its use was stopped. Every lot it touched then has to be looked at.
type WaterFailureWindow struct {
	Tap string
	// From is just after the last good sample of this tap; zero: no good sample, and no start of service on record.
	From time.Time
	// To is when use stopped, or other water came, or the water was fit again; zero: still open.
	To time.Time
	// SampledHere is false for a tap of the same water where the failing sample was not drawn. It is listed because the
	// rule stops the whole source and every lot since its last passing sample (US rules reference 2.6).
	SampledHere bool
	Failing     uuid.UUID
	LastGood    uuid.UUID // Nil: none
	Stop        uuid.UUID // Nil: none
}

// Covers reports whether water drawn at a tap at an instant falls into the window. A tap that was not written down may
// be this one.
func (w WaterFailureWindow) Covers(tap string, at time.Time) bool {
	return sameTap(w.Tap, tap) && !at.Before(w.From) && (w.To.IsZero() || at.Before(w.To))
}

// AllWaterFailureWindows gives the windows of every use that the source lists, each window once. Irrigation has no
// number of its own before harvest, so a failing sample is looked at there with the window for washing.
func AllWaterFailureWindows(f WaterFacts) (ws []WaterFailureWindow) {
	uses := slices.DeleteFunc(slices.Clone(f.Source.Uses), func(u WaterUse) bool { return !u.AtHarvestOrAfter() })
	if len(uses) == 0 {
		uses = []WaterUse{UseWashing}
	}
	for _, u := range uses {
		for _, w := range WaterFailureWindows(f, u) {
			if !slices.Contains(ws, w) {
				ws = append(ws, w)
			}
		}
	}
	return ws
}

// WaterFailureWindows gives the windows of every failing sample for a use at harvest or after, by instant of the sample
// and then by tap; other uses have none, because they are judged by their own rule. A good sample ends what later
// failures reach back to. It does not end a window: after a failure one good sample proves nothing (record-forms S40),
// so a window without a stop stays open until the water is fit again. Results count from the sampling, however late
// they were reported. Use after a stop and before the water is fit again is judged by FitnessOfWater.
func WaterFailureWindows(f WaterFacts, use WaterUse) (ws []WaterFailureWindow) {
	if !use.AtHarvestOrAfter() {
		return nil
	}
	for _, tap := range f.tapsOnRecord() {
		for _, x := range f.failures(tap, use) {
			if !x.here || x.perhaps {
				continue
			}
			w := WaterFailureWindow{Tap: tap, From: x.from, To: x.to, Failing: x.test.ID, SampledHere: foldName(x.test.Tap) == tap}
			if x.lastGood != nil {
				w.LastGood = x.lastGood.ID
			}
			if x.stop != nil {
				w.Stop = x.stop.ID
			}
			if w.To.IsZero() || w.To.After(w.From) { // otherwise use was already stopped when the last good sample was drawn
				ws = append(ws, w)
			}
		}
	}
	at := map[uuid.UUID]time.Time{}
	for i := range f.Tests {
		at[f.Tests[i].ID] = f.Tests[i].SampledAt
	}
	slices.SortStableFunc(ws, func(a, b WaterFailureWindow) int { return at[a.Failing].Compare(at[b.Failing]) })
	return ws
}
