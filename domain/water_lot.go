package domain

import (
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"
)

// WaterTouch is water of a source that reached a bed's ground or a lot, at an instant, for a use.
type WaterTouch struct {
	Record   RecordRef
	SourceID uuid.UUID
	Tap      string
	Tank     string // the wash tank; empty: none, or not written down
	Use      WaterUse
	From, To time.Time // To is From where no end is written down
	// Irrigation is set when the water went on growing crop; the crop decides whether it touched what is sold.
	Irrigation *Irrigation
}

// IrrigationLooksBack is how many days of irrigation before a cut are looked at; older water is history of the ground.
const IrrigationLooksBack = 120

// A reading of treated water is looked at for water used up to so long before it (bad news reaches back to the last good
// reading) and after it (bad news holds until the next reading). Both bounds are this program's own: no rule names one,
// and water without a reading of the same day is asked about anyway.
const (
	ReadingSpeaksBack = 60 * 24 * time.Hour
	ReadingSpeaksOn   = IrrigationLooksBack * 24 * time.Hour
)

// FitnessDuring judges the water of one use over the whole of its time: at its start, at its end, and at whatever is on
// record between, because a lot washed from nine to three stood in the water of noon as well (21 CFR 112.44(a), 112.46).
func (f *WaterFacts) FitnessDuring(t WaterTouch) Judgement {
	var reasons []Reason
	for _, at := range f.changesWithin(t.From, t.To) {
		reasons = append(reasons, f.fitnessIn(t.Tank, t.Use, t.Tap, at).Reasons...)
	}
	return Judge(mergeReasons(reasons))
}

// changesWithin gives the instants of a use at which the answer can change.
func (f *WaterFacts) changesWithin(from, to time.Time) []time.Time {
	at := []time.Time{from}
	add := func(t time.Time) {
		if t.After(from) && !t.After(to) {
			at = append(at, t)
		}
	}
	add(to)
	for _, x := range f.Changes {
		add(x.At)
	}
	for _, x := range f.Monitoring {
		add(x.At)
	}
	for _, x := range f.Actions {
		add(x.At)
	}
	return at
}

// waterOfLot judges the water that touched a lot after the cut: each handling by the fitness of the source for that use
// in that time, with all that is known now, and by the windows of samples that failed.
func waterOfLot(waters map[uuid.UUID]*WaterFacts, touches []WaterTouch) (out []Reason) {
	for _, t := range touches {
		f := waters[t.SourceID]
		if f == nil {
			continue
		}
		if window, hit := failedWindow(WaterFailureWindows(*f, t.Use), t); hit {
			out = append(out, failedReason(f, t, window, Stop))
			continue
		}
		out = append(out, t.against(f.FitnessDuring(t))...)
	}
	return out
}

// irrigationOf judges the water that touched a crop while it grew, each time by the water of that time: a use that had to
// stop is not made good by better water later (21 CFR 112.43(c), 112.45(a)). The law sets no number before harvest: a
// source that failed for washing is worth a look here, and the written assessment decides (21 CFR 112.43).
func irrigationOf(facts *GroundFacts, touches []WaterTouch, pl *PlantingFacts, on Date) (out []Reason) {
	windows := map[uuid.UUID][]WaterFailureWindow{} // a source waters a crop many times
	for _, t := range touches {
		f := facts.Waters[t.SourceID]
		if f == nil || !t.Irrigation.Touches(pl.Contact()) {
			continue
		}
		day := f.day(t.From)
		if day.After(on) || day.Before(pl.PlantedOn) || on.DaysSince(day) > IrrigationLooksBack {
			continue
		}
		if _, known := windows[t.SourceID]; !known {
			windows[t.SourceID] = WaterFailureWindows(*f, UseWashing)
		}
		if window, hit := failedWindow(windows[t.SourceID], t); hit {
			out = append(out, failedReason(f, t, window, Caution))
		}
		for _, r := range t.against(FitnessOfWater(*f, UseIrrigationTouching, t.Tap, t.From).Judgement) {
			if r.Rule == ruleAssessment && r.Verdict == Ask && !asksAssessment(facts.Farm, &pl.Crop, day) {
				continue
			}
			out = append(out, r)
		}
	}
	return out
}

// asksAssessment reports whether 21 CFR 112.43 asks the farm for a written assessment of the water on this crop: not where
// the farm answers to other rules, is exempt (112.4, 112.5), or grows what the rule leaves out (112.2(a)(1)). A farm that
// has not said which rules it answers to is asked. What an assessment found counts for every farm.
func asksAssessment(farm *Farm, crop *Crop, on Date) bool {
	sets := farm.SetsOn(on)
	return (len(sets) == 0 || slices.Contains(sets, produceSafety)) && !farm.exempt() && !crop.notCovered()
}

// against gives what speaks against the water of a touch, with the record of the touch.
func (t WaterTouch) against(j Judgement) (out []Reason) {
	for _, r := range j.Reasons {
		if r.Verdict != Clear {
			r.Records = append([]RecordRef{t.Record}, r.Records...)
			out = append(out, r)
		}
	}
	return out
}

// failedWindow finds the failure's window that the water of a touch falls into.
func failedWindow(windows []WaterFailureWindow, t WaterTouch) (WaterFailureWindow, bool) {
	for _, w := range windows {
		ended := t.To.Before(w.From)
		began := !w.To.IsZero() && !t.From.Before(w.To)
		if sameTap(w.Tap, t.Tap) && !ended && !began {
			return w, true
		}
	}
	return WaterFailureWindow{}, false
}

func failedReason(f *WaterFacts, t WaterTouch, w WaterFailureWindow, v Verdict) Reason {
	sampled := Date{}
	for i := range f.Tests {
		if f.Tests[i].ID == w.Failing {
			sampled = f.day(f.Tests[i].SampledAt)
		}
	}
	r := waterReason(ruleNoEColi, v, []RecordRef{t.Record, {"water-test", w.Failing}}, LocalText{
		fmt.Sprintf("Water of %s touched it on %s (%s), and the sample of %s found E. coli. Hold it; ask your state produce safety program.", f.Source.Name, f.day(t.From), t.Use, sampled),
		fmt.Sprintf("Agua de %s lo tocó el %s (%s), y la muestra del %s encontró E. coli. Reténgalo; pregunte a su programa estatal de inocuidad.", f.Source.Name, f.day(t.From), t.Use, sampled)})
	if v == Caution {
		r.Authority = Guidance
		r.Text = fmt.Sprintf("Water of %s went on the growing crop on %s, and the sample of %s found E. coli. The written water assessment decides what follows.", f.Source.Name, f.day(t.From), sampled)
		r.TextEs = fmt.Sprintf("Agua de %s se usó en el cultivo el %s, y la muestra del %s encontró E. coli. La evaluación escrita del agua decide qué sigue.", f.Source.Name, f.day(t.From), sampled)
	}
	return r
}
