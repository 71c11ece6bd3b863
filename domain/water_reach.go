package domain

import "time"

// FailureReach gives the instant back to which a failure found at a tap may reach: the earliest of the last samples without
// a finding that each tap of the source had before the instant. It is zero while some tap has none, because that one is
// condemned from the start of service, whatever was found at the others: every lot since the last passing sample is looked
// at (US rules reference 2.6). Tests and Source must be loaded.
func (f *WaterFacts) FailureReach(tap string, at time.Time) time.Time {
	var reach time.Time
	for n, t := range append(f.tapsOnRecord(), foldName(tap)) {
		var last time.Time
		for _, p := range f.passes(t) {
			if p.SampledAt.Before(at) {
				last = p.SampledAt
			}
		}
		if n == 0 || last.Before(reach) {
			reach = last
		}
	}
	return reach
}
