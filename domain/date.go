package domain

import (
	"database/sql/driver"
	"fmt"
	"time"
)

// Date is a calendar day as the farm lives it: no hour, no zone. The zero Date means "not given".
//
// Intervals in food-safety rules are counted in days of the farm's calendar, never in hours divided by 24: across the
// spring clock change 120 days are 2,879 hours, and a count in hours would open a bed late or early.
type Date struct {
	n int32 // days since 0000-12-31, so that no real date is zero
}

// daysToUnix is the n of 1970-01-01.
const daysToUnix = 719163

// NewDate gives the day y-m-d. Like time.Date it carries overflowing days into the next month.
func NewDate(y int, m time.Month, d int) Date {
	return dateOf(time.Date(y, m, d, 0, 0, 0, 0, time.UTC))
}

func dateOf(t time.Time) Date {
	secs := t.Unix()
	days := secs / 86400
	if secs%86400 < 0 {
		days--
	}
	return Date{int32(days + daysToUnix)}
}

// DateIn gives the calendar day on which the instant t falls in the farm's zone.
func DateIn(t time.Time, zone *time.Location) Date {
	y, m, d := t.In(zone).Date()
	return NewDate(y, m, d)
}

// ParseDate reads YYYY-MM-DD and refuses anything else, including days that no calendar has.
func ParseDate(s string) (Date, error) {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil || t.Year() < 1 {
		return Date{}, fmt.Errorf("%q is not a date: write it as YYYY-MM-DD, for example 2026-04-10", s)
	}
	return dateOf(t), nil
}

// Time is midnight UTC of the day, for libraries that know only time.Time.
func (d Date) Time() time.Time { return time.Unix(int64(d.n-daysToUnix)*86400, 0).UTC() }

// In is the first instant of the day in the farm's zone.
func (d Date) In(zone *time.Location) time.Time {
	y, m, day := d.Time().Date()
	t := time.Date(y, m, day, 0, 0, 0, 0, zone)
	if DateIn(t, zone).Before(d) { // some zones change their clocks at midnight, and that midnight never comes
		_, t = t.ZoneBounds()
	}
	return t
}

// IsZero reports that no date was given.
func (d Date) IsZero() bool { return d.n == 0 }

// AddDays gives the day n calendar days later. The start day is day 0, so a wait of 120 days from d ends on
// d.AddDays(120): that day is allowed, the one before is day 119 and is not.
func (d Date) AddDays(n int) Date { return Date{d.n + int32(n)} }

// AddMonths gives the same day of the month n months later; where that month is too short, the first day of the month
// after it. The later day is the safer one: 29 February plus three years is 1 March.
func (d Date) AddMonths(n int) Date {
	y, m, day := d.Time().Date()
	next := NewDate(y, m+time.Month(n)+1, 1)
	if same := NewDate(y, m+time.Month(n), day); same.Before(next) {
		return same
	}
	return next // Feb 29 + 12 months = Mar 1
}

// DaysSince counts the days from the other date to this one.
func (d Date) DaysSince(start Date) int { return int(d.n - start.n) }

func (d Date) Before(o Date) bool { return d.n < o.n }
func (d Date) After(o Date) bool  { return d.n > o.n }

// Later gives the later of two dates; a date not given is earlier than all.
func Later(a, b Date) Date {
	if b.After(a) {
		return b
	}
	return a
}

// YearDay gives the year and the day of the year, 1 to 366.
func (d Date) YearDay() (year, day int) { t := d.Time(); return t.Year(), t.YearDay() }

func (d Date) String() string {
	if d.IsZero() {
		return ""
	}
	return d.Time().Format(time.DateOnly)
}

// MarshalText writes YYYY-MM-DD; a date not given is an empty text, which omitzero leaves out of JSON.
func (d Date) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

// UnmarshalText reads what MarshalText wrote.
func (d *Date) UnmarshalText(b []byte) error {
	if len(b) == 0 {
		*d = Date{}
		return nil
	}
	parsed, err := ParseDate(string(b))
	if err != nil {
		return err
	}
	*d = parsed
	return nil
}

// Value hands the day to a database driver as a date, or NULL when not given.
func (d Date) Value() (driver.Value, error) {
	if d.IsZero() {
		return nil, nil
	}
	return d.Time(), nil
}

// Scan takes a date column; NULL becomes the zero Date.
func (d *Date) Scan(src any) error {
	switch v := src.(type) {
	case nil:
		*d = Date{}
	case time.Time:
		*d = dateOf(v)
	case string:
		return d.UnmarshalText([]byte(v))
	default:
		return fmt.Errorf("cannot read a date from %T", src)
	}
	return nil
}
