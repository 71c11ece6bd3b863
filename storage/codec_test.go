package storage_test

import (
	"slices"
	"testing"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"croftmark/domain"
	"croftmark/storage"
)

// Ids and days go to the database and back as what PostgreSQL itself reads and writes, alone, in lists and as NULL.
func TestIDsAndDaysAsTheDatabaseHasThem(t *testing.T) {
	t.Parallel()
	conn := connect(t, newField(t, storage.Config{}).owner)
	mustBe(t, storage.KnowOurTypes(ctx, conn))
	for _, text := range []string{"00000000-0000-0000-0000-000000000000", "019c1a2b-3c4d-7e5f-8a9b-0c1d2e3f4a5b", "ffffffff-ffff-ffff-ffff-ffffffffffff"} {
		id := uuid.MustParse(text)
		var said string
		var back uuid.UUID
		var list []uuid.UUID
		var pointed *uuid.UUID
		mustBe(t, conn.QueryRow(ctx, `select ($1::uuid)::text, $1::uuid, array[$1, $1]::uuid[] || $2::uuid[], $1::uuid`, id, []uuid.UUID{id}).Scan(&said, &back, &list, &pointed))
		if said != text || back != id || !slices.Equal(list, []uuid.UUID{id, id, id}) || *pointed != id {
			t.Errorf("%s: the database says %s, and gives back %s, %v", text, said, back, list)
		}
	}
	for _, text := range []string{"0001-01-01", "1582-10-15", "1970-01-01", "1999-12-31", "2000-01-01", "2024-02-29", "9999-12-31"} {
		d := day(text)
		var said string
		var back domain.Date
		var list []domain.Date
		var pointed *domain.Date
		mustBe(t, conn.QueryRow(ctx, `select ($1::date)::text, $1::date, array[$1]::date[] || $2::date[], $1::date`, d, []domain.Date{d}).Scan(&said, &back, &list, &pointed))
		if said != text || back != d || !slices.Equal(list, []domain.Date{d, d}) || *pointed != d {
			t.Errorf("%s: the database says %s, and gives back %s, %v", text, said, back, list)
		}
	}
	var noDay, noDayPointed, noID bool
	back, pointed, id := day("2026-06-01"), new(domain.Date), new(uuid.UUID)
	mustBe(t, conn.QueryRow(ctx, `select $1::date is null, $2::date is null, $3::uuid is null, null::date, null::date, null::uuid`,
		domain.Date{}, (*domain.Date)(nil), (*uuid.UUID)(nil)).Scan(&noDay, &noDayPointed, &noID, &back, &pointed, &id))
	if !noDay || !noDayPointed || !noID || !back.IsZero() || pointed != nil || id != nil {
		t.Error("NULL", noDay, noDayPointed, noID, back, pointed, id)
	}
	for _, sql := range []string{`select 'infinity'::date`, `select '-infinity'::date`} {
		if err := conn.QueryRow(ctx, sql).Scan(&back); err == nil {
			t.Errorf("%s read as %s", sql, back)
		}
	}
	// As texts too, where a connection asks for them.
	var said domain.Date
	var read uuid.UUID
	mustBe(t, conn.QueryRow(ctx, `select $1::date, $2::uuid`, pgx.QueryExecModeSimpleProtocol, day("2026-06-01"), uuid.Max).Scan(&said, &read))
	if said != day("2026-06-01") || read != uuid.Max {
		t.Error("as texts", said, read)
	}
}
