package domain

import "time"

// Timed is a record whose own field says at which instant it happened.
type Timed interface {
	HappenedAt() time.Time
}

func (x *CompostTurning) HappenedAt() time.Time  { return x.TurnedAt }
func (x *CompostAddition) HappenedAt() time.Time { return x.AddedAt }
func (x *WaterTest) HappenedAt() time.Time       { return x.SampledAt }
func (x *WaterChange) HappenedAt() time.Time     { return x.At }
func (x *WaterStop) HappenedAt() time.Time       { return x.At }
func (x *WaterTreatment) HappenedAt() time.Time  { return x.TakenAt }
func (x *Irrigation) HappenedAt() time.Time      { return x.StartedAt }
func (x *Handling) HappenedAt() time.Time        { return x.StartedAt }
func (x *Finding) HappenedAt() time.Time         { return x.FoundAt }

// HappenedAt is the first of the readings.
func (x *CompostTemperatures) HappenedAt() (first time.Time) {
	for _, r := range x.Readings {
		if first.IsZero() || r.TakenAt.Before(first) {
			first = r.TakenAt
		}
	}
	return first
}
