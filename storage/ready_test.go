package storage_test

import (
	"testing"

	"croftmark/domain"
	"croftmark/storage"
	"croftmark/storage/storagetest"
)

// A standby lets nobody write. What comes to it is told to come again, and whoever asks is told why.
func TestReadOnlyDatabase(t *testing.T) {
	t.Parallel()
	owner, service := storagetest.URLs(t)
	db, err := storage.Open(ctx, storage.Config{OwnerURL: owner, ServiceURL: service})
	mustBe(t, err)
	t.Cleanup(db.Close)
	if warning, err := db.Ready(ctx); err != nil || warning != "" {
		t.Errorf("ready: %q, %v", warning, err)
	}
	opened, err := db.OpenFarm(ctx, &domain.Farm{Name: "Fern Bank", TimeZone: "America/New_York"}, &domain.Person{Name: "Ola Owner", Initials: "OO"})
	mustBe(t, err)

	standby, err := storage.Open(ctx, storage.Config{OwnerURL: owner, ServiceURL: service + "&default_transaction_read_only=on"})
	mustBe(t, err)
	t.Cleanup(standby.Close)
	_, err = standby.Ready(ctx)
	wantCode(t, err, domain.CodeUnavailable)
	actor, err := standby.SignedIn(ctx, opened.Token)
	mustBe(t, err)
	_, err = standby.Record(ctx, actor, nil, &domain.Plot{Name: "Lower", History: "known"})
	wantCode(t, err, domain.CodeUnavailable)
	_, _, err = standby.OpenSession(ctx, actor, storage.Session{Label: "phone", Role: domain.Owner})
	wantCode(t, err, domain.CodeUnavailable)
	if _, err := standby.Records(ctx, opened.FarmID, "person", storage.Page{Limit: 5}); err != nil {
		t.Errorf("reading after a refused write: %v", err)
	}
}

func TestScratchNamesAnotherDatabase(t *testing.T) {
	for url, want := range map[string]string{
		"postgres://u:p@one:5432,two:5433/book?target_session_attrs=read-write": "postgres://u:p@one:5432,two:5433/try?target_session_attrs=read-write",
		"postgres://u@one/book":            "postgres://u@one/try",
		"postgres://u@one?sslmode=disable": "postgres://u@one/try?sslmode=disable",
		"postgres:///book?host=/run/db":    "postgres:///try?host=/run/db",
		"host=one,two dbname=book":         "host=one,two dbname=book dbname=try",
	} {
		if got := storage.OnDatabase(url, "try"); got != want {
			t.Errorf("%s gives %s", url, got)
		}
	}
}
