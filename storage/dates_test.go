package storage_test

import (
	"context"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"croftmark/domain"
	"croftmark/storage/storagetest"
)

const addedSQL = `select ($1::date[])[i] + ($2::int[])[i], (($1::date[])[i] + make_interval(months => ($3::int[])[i]))::date,
	($1::date[])[i] + ($2::int[])[i] - ($1::date[])[i]
from generate_subscripts($1::date[], 1) as i order by i`

type addedDates struct {
	Days, Months domain.Date
	Between      int
}

// The database counts days exactly as domain does, over leap years and centuries. Months differ in one stated way: where
// the month is too short PostgreSQL takes its last day (29 February + 36 months = 28 February), domain the day after it
// (1 March), because the later day is the safer one.
func TestDatesAgreeWithPostgreSQL(t *testing.T) {
	t.Parallel()
	owner, _ := storagetest.URLs(t)
	ctx := context.Background()
	conn, err := pgx.Connect(ctx, owner)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close(ctx)

	starts, days, months := datesToAdd()
	rows, err := conn.Query(ctx, addedSQL, starts, days, months)
	if err != nil {
		t.Fatal(err)
	}
	got, err := pgx.CollectRows(rows, pgx.RowToStructByPos[addedDates])
	if err != nil || len(got) != len(starts) {
		t.Fatalf("%d of %d rows: %v", len(got), len(starts), err)
	}
	clamped := 0
	for i, start := range starts {
		if want := start.AddDays(days[i]); got[i].Days != want || got[i].Between != want.DaysSince(start) {
			t.Fatalf("%s + %d days: PostgreSQL %s, ours %s", start, days[i], got[i].Days, want)
		}
		want := start.AddMonths(months[i])
		if want.Time().Day() == 1 && start.Time().Day() > 28 {
			clamped++
			want = want.AddDays(-1)
		}
		if got[i].Months != want {
			t.Fatalf("%s + %d months: PostgreSQL %s, ours %s", start, months[i], got[i].Months, start.AddMonths(months[i]))
		}
	}
	if clamped < 10 {
		t.Errorf("only %d short months among %d dates", clamped, len(starts))
	}
}

// datesToAdd draws dates over four centuries and adds those that calendars trip over.
func datesToAdd() (starts []domain.Date, days, months []int) {
	random := rand.New(rand.NewPCG(2026, 11))
	first := domain.NewDate(1800, time.January, 1)
	for range 6000 {
		starts = append(starts, first.AddDays(random.IntN(400*366)))
		days = append(days, random.IntN(4000)-2000)
		months = append(months, random.IntN(120))
	}
	for _, s := range []string{"1900-02-28", "2000-02-28", "2000-02-29", "2024-02-29", "2028-02-29", "2096-02-29", "2100-02-28", "1999-12-31", "2026-11-25", "2027-03-10", "2026-08-31"} {
		for _, n := range []int{1, 90, 120, 365, 366} {
			starts, days, months = append(starts, day(s)), append(days, n), append(months, 6+n/30*6)
		}
	}
	return starts, days, months
}
