package report

import (
	"testing"
	"time"

	"croftmark/domain"
)

// A date at either end is written wholly inside the drawing, and clear of the dates beside it.
func TestDatesOfAnAxisStayWhole(t *testing.T) {
	t.Parallel()
	const em, width = 11.0, 360.0
	first := domain.NewDate(2026, time.January, 1)
	for days := range 900 {
		for _, es := range []bool{false, true} {
			d := drawing{width: width}
			d.drawTimeAxis(newTimeAxis(first, first.AddDays(days), time.UTC, em*0.8, width-em*0.8), 0, em, tongue(es))
			end := 0.0
			for _, s := range d.shapes {
				l, ok := s.(label)
				if !ok || l.at.y != em*1.45 {
					continue
				}
				half := textWidth(l.text, l.size, false) / 2
				if l.at.x-half < end || l.at.x+half > width+1e-6 {
					t.Fatalf("%d days: %q stands from %.1f to %.1f, after %.1f, in a width of %.0f", days+1, l.text, l.at.x-half, l.at.x+half, end, width)
				}
				end = l.at.x + half
			}
			if end == 0 {
				t.Fatalf("%d days: no date is written", days+1)
			}
		}
	}
}
