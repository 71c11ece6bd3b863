package domain_test

import (
	"encoding/json"
	"testing"
	"time"

	"pgregory.net/rapid"

	"croftmark/domain"
)

func dayOf(s string) domain.Date {
	d, err := domain.ParseDate(s)
	if err != nil {
		panic(err)
	}
	return d
}

// us-rules 0.1, check values for date code [interpretation: the start day is day 0].
func TestAddDaysCheckValues(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ why, start, plus90, plus120 string }{
		{"crosses new year", "2026-11-25", "2027-02-23", "2027-03-25"},
		{"common year", "2026-11-15", "2027-02-13", "2027-03-15"},
		{"leap year is one calendar day earlier", "2027-11-15", "2028-02-13", "2028-03-14"},
		{"starts on leap day", "2028-02-29", "2028-05-29", "2028-06-28"},
		{"crosses the US spring clock change", "2027-03-10", "2027-06-08", "2027-07-08"},
		{"plain season", "2026-04-10", "2026-07-09", "2026-08-08"},
	} {
		start := dayOf(c.start)
		if got := start.AddDays(90).String(); got != c.plus90 {
			t.Errorf("%s: %s + 90 = %s, want %s", c.why, c.start, got, c.plus90)
		}
		if got := start.AddDays(120).String(); got != c.plus120 {
			t.Errorf("%s: %s + 120 = %s, want %s", c.why, c.start, got, c.plus120)
		}
		if n := dayOf(c.plus120).DaysSince(start); n != 120 {
			t.Errorf("%s: %d days", c.why, n)
		}
	}
}

// us-rules 0.1: 29 February plus k years to a common year is 1 March [interpretation]; us-rules 1.6 check values for three
// years [verified: S11; arithmetic interpretation].
func TestAddMonthsTakesTheLaterDay(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		start  string
		months int
		want   string
	}{
		{"2024-02-29", 36, "2027-03-01"},
		{"2024-06-10", 36, "2027-06-10"},
		{"2024-02-29", 12, "2025-03-01"},
		{"2024-02-29", 48, "2028-02-29"},
		{"2096-02-29", 48, "2100-03-01"}, // 2100 is no leap year
		{"1996-02-29", 48, "2000-02-29"}, // 2000 is one
		{"2026-08-31", 6, "2027-03-01"},  // the first day after the short month, not the third
		{"2026-08-29", 6, "2027-03-01"},
		{"2026-08-28", 6, "2027-02-28"},
		{"2026-05-31", 6, "2026-12-01"},
		{"2026-12-31", 12, "2027-12-31"},
		{"2026-12-31", 0, "2026-12-31"},
		{"2026-03-31", -1, "2026-03-01"},
	} {
		if got := dayOf(c.start).AddMonths(c.months).String(); got != c.want {
			t.Errorf("%s + %d months = %s, want %s", c.start, c.months, got, c.want)
		}
	}
}

func TestDateAgainstTimeOverAllDays(t *testing.T) {
	t.Parallel()
	want := time.Date(1950, 1, 1, 0, 0, 0, 0, time.UTC)
	end := time.Date(2101, 1, 1, 0, 0, 0, 0, time.UTC)
	first := domain.NewDate(1950, 1, 1)
	for n := 0; want.Before(end); n++ {
		d := domain.NewDate(want.Year(), want.Month(), want.Day())
		text := want.Format(time.DateOnly)
		parsed, err := domain.ParseDate(text)
		if err != nil || parsed != d || d.String() != text || !d.Time().Equal(want) {
			t.Fatalf("%s: %v %v %v", text, parsed, err, d)
		}
		if d != first.AddDays(n) || d.DaysSince(first) != n {
			t.Fatalf("%s is day %d", d, n)
		}
		if y, yd := d.YearDay(); y != want.Year() || yd != want.YearDay() {
			t.Fatalf("%s is day %d of %d", d, yd, y)
		}
		want = want.AddDate(0, 0, 1)
	}
}

func TestDateArithmeticAgainstTime(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		d := domain.NewDate(1950, 1, 1).AddDays(rapid.IntRange(0, 55000).Draw(t, "day"))
		days := rapid.IntRange(-2000, 2000).Draw(t, "days")
		if got, want := d.AddDays(days).String(), d.Time().AddDate(0, 0, days).Format(time.DateOnly); got != want {
			t.Fatalf("%s + %d days = %s, want %s", d, days, got, want)
		}
		months := rapid.IntRange(0, 80).Draw(t, "months")
		got, want := d.AddMonths(months).Time(), d.Time().AddDate(0, months, 0)
		if want.Day() != d.Time().Day() { // the month is too short: time carries, we take the first of the next
			want = time.Date(want.Year(), want.Month(), 1, 0, 0, 0, 0, time.UTC)
		}
		if !got.Equal(want) {
			t.Fatalf("%s + %d months = %s, want %s", d, months, got, want)
		}
	})
}

func TestDateInTheFarmsZone(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ why, instant, zone, want string }{
		{"last second before the spring change day ends", "2027-03-15T03:59:59Z", "America/New_York", "2027-03-14"},
		{"first second after it", "2027-03-15T04:00:00Z", "America/New_York", "2027-03-15"},
		{"still winter time in the night before", "2027-03-14T04:59:59Z", "America/New_York", "2027-03-13"},
		{"autumn: first pass of half past one", "2026-11-01T05:30:00Z", "America/New_York", "2026-11-01"},
		{"autumn: second pass of half past one", "2026-11-01T06:30:00Z", "America/New_York", "2026-11-01"},
		{"autumn: the day has 25 hours", "2026-11-02T04:59:59Z", "America/New_York", "2026-11-01"},
		{"Los Angeles is a day behind", "2026-11-02T05:00:00Z", "America/Los_Angeles", "2026-11-01"},
		{"Phoenix has no summer time", "2026-07-01T06:59:59Z", "America/Phoenix", "2026-06-30"},
		{"Honolulu", "2026-07-01T09:59:59Z", "Pacific/Honolulu", "2026-06-30"},
		{"London in summer is ahead of UTC", "2026-06-30T23:30:00Z", "Europe/London", "2026-07-01"},
		{"Auckland", "2026-06-30T12:00:00Z", "Pacific/Auckland", "2026-07-01"},
	} {
		at, err := time.Parse(time.RFC3339, c.instant)
		if err != nil {
			t.Fatal(err)
		}
		zone, err := domain.Zone(c.zone)
		if err != nil {
			t.Fatal(err)
		}
		if got := domain.DateIn(at, zone).String(); got != c.want {
			t.Errorf("%s: %s in %s is %s, want %s", c.why, c.instant, c.zone, got, c.want)
		}
	}
}

// us-rules 0.1: 120 days across the US spring change of 2027-03-14 are 2,879 clock hours, and a count in hours divided
// by 24 gives 119 [interpretation].
func TestClockChangeDoesNotMoveDays(t *testing.T) {
	t.Parallel()
	zone, err := domain.Zone("America/New_York")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		change, start string
		hours         float64
	}{{"spring", "2027-03-10", 2879}, {"autumn", "2026-10-20", 2881}, {"none", "2026-04-10", 2880}} {
		start := dayOf(c.start)
		end := start.AddDays(120)
		if hours := end.In(zone).Sub(start.In(zone)).Hours(); hours != c.hours || end.DaysSince(start) != 120 {
			t.Errorf("%s change: %v hours, %d days", c.change, hours, end.DaysSince(start))
		}
	}
}

// In zones that change their clocks at midnight that midnight does not exist; the day still begins somewhere.
func TestFirstInstantOfADay(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"America/New_York", "America/Los_Angeles", "America/Havana", "America/Asuncion", "America/Sao_Paulo", "UTC"} {
		zone, err := domain.Zone(name)
		if err != nil {
			t.Fatal(err)
		}
		for d := domain.NewDate(1990, 1, 1); d.Before(domain.NewDate(2035, 1, 1)); d = d.AddDays(1) {
			first := d.In(zone)
			if got := domain.DateIn(first, zone); got != d {
				t.Fatalf("%s: %s begins on %s", name, d, got)
			}
			if before := domain.DateIn(first.Add(-time.Nanosecond), zone); before != d.AddDays(-1) {
				t.Fatalf("%s: before the first instant of %s comes %s", name, d, before)
			}
		}
	}
}

func TestParseDateRefusesJunk(t *testing.T) {
	t.Parallel()
	for _, s := range []string{"", "2026", "2026-4-10", "2026-04-31", "2026-02-29", "2100-02-29", "0000-01-01", "10.04.2026", "04/10/2026",
		"2026-04-10T00:00:00Z", " 2026-04-10", "2026-04-10 ", "2026-13-01", "2026-00-10", "2026-01-00", "20260410", "-026-01-01", "12026-01-01", "２026-01-01"} {
		if d, err := domain.ParseDate(s); err == nil {
			t.Errorf("%q was read as %s", s, d)
		}
	}
}

func TestDateNotGiven(t *testing.T) {
	t.Parallel()
	var d domain.Date
	if !d.IsZero() || d.String() != "" || !d.Before(domain.NewDate(1, 1, 1)) || domain.NewDate(1, 1, 1).IsZero() {
		t.Errorf("zero date: %q", d)
	}
	if v, err := d.Value(); v != nil || err != nil {
		t.Errorf("not given is NULL in the database, not %v %v", v, err)
	}
	if domain.Later(d, dayOf("2026-04-10")) != dayOf("2026-04-10") || domain.Later(dayOf("2026-04-10"), d) != dayOf("2026-04-10") {
		t.Error("a date not given is earlier than all")
	}
	out, err := json.Marshal(struct {
		On  domain.Date `json:"on"`
		End domain.Date `json:"end,omitzero"`
	}{On: dayOf("2026-04-10")})
	if err != nil || string(out) != `{"on":"2026-04-10"}` {
		t.Errorf("%s %v", out, err)
	}
}

func TestDateScan(t *testing.T) {
	t.Parallel()
	var d domain.Date
	for _, src := range []any{"2026-04-10", time.Date(2026, 4, 10, 0, 0, 0, 0, time.UTC)} {
		if err := d.Scan(src); err != nil || d != dayOf("2026-04-10") {
			t.Errorf("%v: %s %v", src, d, err)
		}
	}
	if err := d.Scan(nil); err != nil || !d.IsZero() {
		t.Errorf("NULL: %s %v", d, err)
	}
	if d.Scan(5) == nil || d.Scan("soon") == nil {
		t.Error("junk was read")
	}
	if v, err := dayOf("2026-04-10").Value(); err != nil || !v.(time.Time).Equal(time.Date(2026, 4, 10, 0, 0, 0, 0, time.UTC)) {
		t.Errorf("%v %v", v, err)
	}
}

func FuzzParseDate(f *testing.F) {
	for _, s := range []string{"2026-04-10", "2024-02-29", "2023-02-29", "0001-01-01", "9999-12-31", "junk", ""} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		d, err := domain.ParseDate(s)
		if err != nil {
			return
		}
		if d.String() != s || d.IsZero() {
			t.Fatalf("%q became %q", s, d)
		}
		if next := d.AddDays(1); !next.After(d) || next.DaysSince(d) != 1 {
			t.Fatalf("the day after %s is %s", d, next)
		}
	})
}
