package storage_test

import (
	"log/slog"
	"strings"
	"testing"

	"croftmark/domain"
	"croftmark/migrations"
	"croftmark/storage"
	"croftmark/storage/storagetest"
)

// On a server of somebody else the owner of the database is no superuser, and forced row-level security holds for it as
// well. The look-ups across farms work all the same, and nothing else is shown.
func TestOwnerWithoutPowers(t *testing.T) {
	t.Parallel()
	super, service := storagetest.URLs(t)
	conn := connect(t, super)
	for _, sql := range []string{
		`create role hosted_owner nosuperuser nologin`,
		`drop schema public cascade`, // the template's tables belong to a superuser
		`drop schema croftmark_queue cascade`,
		`create schema public authorization hosted_owner`,
		`do $$ begin execute format('grant create on database %I to hosted_owner', current_database()); end $$`,
	} {
		_, err := conn.Exec(ctx, sql)
		mustBe(t, err)
	}
	t.Cleanup(func() { connect(t, super).Exec(ctx, `drop owned by hosted_owner cascade; drop role hosted_owner`) })
	owner := super + "&role=hosted_owner"
	hosted := owner + "&pool_max_conns=3" // what only the pool understands
	mustBe(t, migrations.Apply(ctx, hosted))
	db, err := storage.Open(ctx, storage.Config{OwnerURL: hosted, ServiceURL: service})
	mustBe(t, err)
	t.Cleanup(db.Close)

	farm := &domain.Farm{Name: "Fern Bank", TimeZone: "America/New_York"}
	opened, err := db.OpenFarm(ctx, farm, &domain.Person{Name: "Ola Owner", Initials: "OO"})
	mustBe(t, err)
	actor, err := db.SignedIn(ctx, opened.Token)
	if err != nil || actor.PersonID != opened.PersonID {
		t.Errorf("a token signs in %+v (%v)", actor, err)
	}
	cookie, _, err := db.OpenSession(ctx, actor, storage.Session{Label: "phone", Role: domain.Owner})
	mustBe(t, err)
	if _, at, err := db.Session(ctx, cookie); err != nil || at.PersonID != opened.PersonID {
		t.Errorf("a session signs in %+v (%v)", at, err)
	}
	if id, err := db.FarmByKey(ctx, farm.Key); err != nil || id != opened.FarmID {
		t.Errorf("the label's key gives %s (%v)", id, err)
	}
	if ids, err := storage.FarmIDs(ctx, hosted); err != nil || len(ids) != 1 {
		t.Errorf("farms of the database: %v (%v)", ids, err)
	}
	_, err = db.Record(ctx, actor, nil, &domain.Plot{Name: "Lower", History: "known"})
	mustBe(t, err)
	if _, err := db.Rebuild(ctx, opened.FarmID, nil); err != nil {
		t.Errorf("rebuild: %v", err)
	}
	_, _, err = db.AskDaily(ctx, actor, domain.DailyMessage{Way: domain.ByEmail, To: "ola@example.farm", Hour: 6})
	mustBe(t, err)
	var due int
	if err := connect(t, service).QueryRow(ctx, `select count(*) from croftmark_daily_messages(now() + interval '2 days')`).Scan(&due); err != nil || due != 1 {
		t.Errorf("%d daily messages to send in two days (%v)", due, err)
	}
	var complained strings.Builder
	queue, err := storage.NewQueue(db, storage.QueueConfig{Log: slog.New(slog.NewTextHandler(&complained, nil))})
	mustBe(t, err)
	queue.Start()
	quiet()
	if mustBe(t, queue.Stop(ctx)); complained.Len() > 0 {
		t.Errorf("the queue does not begin: %s", complained.String())
	}
	for table, want := range map[string]int{"records": 3, "tokens": 1, "book_entries": 0, "plots": 0, "pins": 0} {
		var n int
		mustBe(t, connect(t, owner).QueryRow(ctx, `select count(*) from `+table).Scan(&n))
		if n != want {
			t.Errorf("the owner's role sees %d rows of %s, want %d", n, table, want)
		}
	}
	if _, err := connect(t, owner).Exec(ctx, `update tokens set revoked_at = now()`); err != nil {
		t.Error(err)
	}
	if _, err := db.SignedIn(ctx, opened.Token); err != nil {
		t.Errorf("the owner's role changed a token past row-level security: %v", err)
	}
}
