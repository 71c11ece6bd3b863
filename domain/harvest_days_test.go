package domain_test

import (
	"testing"
	"time"

	"github.com/google/uuid"

	"croftmark/domain"
)

// us-rules 0.1: days are counted by the farm's own calendar, never by the phone's [interpretation]. A cut dated tomorrow
// would pass on day 119 as day 120.
func TestCutIsNotDatedAhead(t *testing.T) {
	t.Parallel()
	today := dayOf("2026-08-07")
	for _, c := range []struct{ why, on, from, to, want string }{
		{"today", "2026-08-07", "", "", ""},
		{"tomorrow", "2026-08-08", "", "", "#/cut_on"},
		{"in a week", "2026-08-14", "", "", "#/cut_on"},
		{"from yesterday to today", "", "2026-08-06", "2026-08-07", ""},
		{"until tomorrow", "", "2026-08-06", "2026-08-08", "#/cut_to"},
		{"from tomorrow", "", "2026-08-08", "2026-08-08", "#/cut_from #/cut_to"},
	} {
		lot := &domain.HarvestLot{PlantingID: uuid.Must(uuid.NewV7()), BedIDs: []uuid.UUID{uuid.Must(uuid.NewV7())}, Quantity: domain.Q("1", "lb")}
		for text, into := range map[string]*domain.Date{c.on: &lot.CutOn, c.from: &lot.CutFrom, c.to: &lot.CutTo} {
			if text != "" {
				*into = dayOf(text)
			}
		}
		if err := domain.CheckRecord(lot, today, time.UTC); pointers(err) != c.want {
			t.Errorf("%s: %v, want %q", c.why, err, c.want)
		}
	}
}
