package storage_test

import (
	"context"
	"errors"
	"log/slog"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"croftmark/domain"
	"croftmark/storage"
)

// box is where letters arrive, and sometimes do not.
type box struct {
	mu      sync.Mutex
	letters []domain.DailyLetter
	tries   int
	fails   int // so many tries yet fail
}

func (b *box) send(_ context.Context, l domain.DailyLetter) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.tries++
	if b.fails > 0 {
		b.fails--
		return errors.New("mailbox mark-of-why is full")
	}
	b.letters = append(b.letters, l)
	return nil
}

func (b *box) days() (days []string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, l := range b.letters {
		days = append(days, l.On.String())
	}
	return days
}

// postal is a farm whose messages go into a box.
type postal struct {
	*field
	box *box
	log strings.Builder
}

func newPostal(t *testing.T) *postal {
	p := &postal{field: newField(t, storage.Config{}, "us-organic", "us-produce-safety"), box: &box{}}
	p.actor.Shown.ID = p.newToken(p.actor)
	return p
}

// token gives the id of a token of somebody of the farm.
func (f *field) newToken(who storage.Actor) uuid.UUID {
	f.t.Helper()
	id := uuid.Must(uuid.NewV7())
	_, err := f.db.NewToken(ctx, f.actor, storage.Token{ID: id, PersonID: who.PersonID, Label: "for mail"})
	mustBe(f.t, err)
	return id
}

func (p *postal) ask(who storage.Actor, hour int) uuid.UUID {
	p.t.Helper()
	id, _, err := p.db.AskDaily(ctx, who, domain.DailyMessage{Way: domain.ByEmail, To: "ola@secret-mailbox.example", Hour: hour})
	mustBe(p.t, err)
	return id
}

// open starts a copy of the sending service; it is stopped with the test or before.
func (p *postal) open(waits ...time.Duration) (stop func()) { return p.openOn(p.db, waits...) }

func (p *postal) openOn(db *storage.DB, waits ...time.Duration) (stop func()) {
	p.t.Helper()
	if waits == nil {
		waits = []time.Duration{time.Millisecond, time.Millisecond}
	}
	q, err := storage.NewQueue(db, storage.QueueConfig{Send: p.box.send, Log: slog.New(slog.NewTextHandler(&locked{w: &p.log}, nil)),
		Every: 20 * time.Millisecond, Poll: 20 * time.Millisecond, Waits: waits})
	mustBe(p.t, err)
	q.Start()
	stop = sync.OnceFunc(func() {
		ended, cancel := context.WithTimeout(ctx, 20*time.Second)
		defer cancel()
		mustBe(p.t, q.Stop(ended))
	})
	p.t.Cleanup(stop)
	return stop
}

type locked struct {
	mu sync.Mutex
	w  *strings.Builder
}

func (l *locked) Write(b []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.w.Write(b)
}

// at sets the farm's clock.
func (p *postal) at(text string) {
	p.t.Helper()
	at, err := time.Parse(time.RFC3339, text)
	mustBe(p.t, err)
	p.clock.Set(at)
}

func (p *postal) message(id uuid.UUID) storage.DailyMessage {
	p.t.Helper()
	list, err := p.db.DailyMessages(ctx, p.actor)
	mustBe(p.t, err)
	i := slices.IndexFunc(list, func(m storage.DailyMessage) bool { return m.ID == id })
	if i < 0 {
		p.t.Fatalf("message %s is not listed", id)
	}
	return list[i]
}

// settles waits until a day of a message is settled.
func (p *postal) settles(id uuid.UUID, on string) storage.DailyMessage {
	p.t.Helper()
	for end := time.Now().Add(20 * time.Second); ; time.Sleep(10 * time.Millisecond) {
		m := p.message(id)
		if m.SettledOn.String() == on {
			return m
		}
		if time.Now().After(end) {
			p.t.Fatalf("%s is not settled: %+v\n%s", on, m, p.log.String())
		}
	}
}

func (p *postal) wantDays(want ...string) {
	p.t.Helper()
	if got := p.box.days(); !slices.Equal(got, want) {
		p.t.Errorf("letters of %v, want %v", got, want)
	}
}

// A service that began on a standby sends nothing and goes on; when that has become the primary it sends.
func TestDailyMessageWaitsForAPrimary(t *testing.T) {
	t.Parallel()
	p := newPostal(t)
	p.at("2026-11-25T12:00:00-05:00")
	p.ask(p.actor, 6)
	readOnly := func(set string) {
		p.asOwner(`begin read write; do $$ begin execute format('alter database %I ` + set + `', current_database()); end $$; commit`)
	}
	readOnly("set default_transaction_read_only = on")
	standby, err := storage.Open(ctx, storage.Config{OwnerURL: p.owner, ServiceURL: p.service, Now: p.clock.Now})
	mustBe(t, err)
	t.Cleanup(standby.Close)
	stop := p.openOn(standby)
	p.at("2026-11-26T06:00:00-05:00")
	quiet()
	p.wantDays()
	stop()
	if !strings.Contains(p.log.String(), "can not be sent yet") {
		t.Errorf("the log does not say why nothing is sent: %s", p.log.String())
	}
	stop = p.openOn(standby)
	defer stop()
	quiet()
	readOnly("reset default_transaction_read_only")
	p.asOwner(`select pg_terminate_backend(pid) from pg_stat_activity where datname = current_database() and usename = 'croftmark_service'`)
	for end := time.Now().Add(20 * time.Second); len(p.box.days()) == 0 && time.Now().Before(end); {
		time.Sleep(10 * time.Millisecond)
	}
	p.wantDays("2026-11-26")
}

// quiet waits so long that two services would have looked a dozen times.
func quiet() { time.Sleep(300 * time.Millisecond) }

// Two services on one database: each day goes out once. A day without a service is left out; a service that was off at the
// hour sends when it is back.
func TestDailyMessageOncePerDay(t *testing.T) {
	t.Parallel()
	p := newPostal(t)
	p.at("2026-11-25T12:00:00-05:00")
	id := p.ask(p.actor, 6)
	stopOne, stopTwo := p.open(), p.open()
	quiet()
	p.wantDays() // the hour of today had come before it was asked for
	p.at("2026-11-26T05:59:00-05:00")
	quiet()
	p.wantDays()
	p.at("2026-11-26T06:00:00-05:00")
	m := p.settles(id, "2026-11-26")
	quiet()
	p.wantDays("2026-11-26")
	if m.SentAt.IsZero() || m.Error != "" {
		t.Errorf("after it was sent: %+v", m)
	}
	l := p.box.letters[0]
	if l.ID != id || l.FarmID != p.actor.FarmID || l.AskedBy != "Test Owner" || len(l.Due) == 0 || l.To.To != "ola@secret-mailbox.example" {
		t.Errorf("letter: %+v", l)
	}
	for _, d := range l.Due {
		if d.Asks.Citation == "" {
			t.Errorf("nobody asks for %v", d.Text)
		}
	}
	stopOne()
	stopTwo()
	p.at("2026-11-29T15:00:00-05:00") // off for two days and half of this one
	p.open()
	p.open()
	p.settles(id, "2026-11-29")
	quiet()
	p.wantDays("2026-11-26", "2026-11-29")
}

// A try that fails is followed by others; the person sees why, and the next day begins anew after it was given up.
func TestDailyMessageIsTriedAgainAndGivenUp(t *testing.T) {
	t.Parallel()
	p := newPostal(t)
	p.at("2026-11-25T12:00:00-05:00")
	id := p.ask(p.actor, 6)
	p.open()
	p.box.fails = 2
	p.at("2026-11-26T06:00:00-05:00")
	if m := p.settles(id, "2026-11-26"); m.Error != "" || !m.FailedAt.IsZero() || p.box.tries != 3 {
		t.Errorf("sent at the third try: %+v, %d tries", m, p.box.tries)
	}
	p.wantDays("2026-11-26")
	p.box.mu.Lock()
	p.box.fails = 3
	p.box.mu.Unlock()
	p.at("2026-11-27T06:00:00-05:00")
	m := p.settles(id, "2026-11-27")
	if m.Error != "mailbox mark-of-why is full" || m.FailedAt.IsZero() || m.SentAt.After(m.FailedAt) {
		t.Errorf("given up: %+v", m)
	}
	quiet()
	if p.box.tries != 6 {
		t.Errorf("%d tries, want 3 for each of two days", p.box.tries)
	}
	p.at("2026-11-28T06:00:00-05:00")
	if m := p.settles(id, "2026-11-28"); m.Error != "" {
		t.Errorf("the next day: %+v", m)
	}
	p.wantDays("2026-11-26", "2026-11-28")

	// The queue's own tables lie outside row-level security: they hold ids and days, and nothing that a farm wrote.
	rows, err := connect(t, p.owner).Query(ctx, `select to_jsonb(j)::text from croftmark_queue.river_job j union all select to_jsonb(q)::text from croftmark_queue.river_queue q
		union all select to_jsonb(n)::text from croftmark_queue.river_notification n union all select to_jsonb(l)::text from croftmark_queue.river_leader l`)
	mustBe(t, err)
	kept, err := pgx.CollectRows(rows, pgx.RowTo[string])
	mustBe(t, err)
	all := strings.Join(kept, "\n")
	if !strings.Contains(all, id.String()) || !strings.Contains(all, "the message says why") {
		t.Errorf("the queue holds %s", all)
	}
	for _, text := range []string{all, p.log.String()} {
		for _, never := range []string{"secret-mailbox", "mark-of-why", "Test farm", "Test Owner", "Lower"} {
			if strings.Contains(text, never) {
				t.Errorf("the queue or the log holds %q", never)
			}
		}
	}
}

// Nothing goes to somebody whose time, token or wish has ended, and nothing of a day that is over.
func TestDailyMessageEnds(t *testing.T) {
	t.Parallel()
	p := newPostal(t)
	p.at("2026-11-25T12:00:00-05:00")
	cory, dan := p.person("Cory", domain.Crew), p.person("Dan", domain.Crew)
	cory.Shown.ID, dan.Shown.ID = p.newToken(cory), p.newToken(dan)
	left, revoked, ended := p.ask(cory, 6), p.ask(dan, 6), p.ask(p.actor, 6)
	_, err := p.db.Void(ctx, p.actor, nil, "person", cory.PersonID, "left the farm")
	mustBe(t, err)
	mustBe(t, p.db.RevokeToken(ctx, p.actor, dan.Shown.ID))
	wantCode(t, p.db.EndDaily(ctx, dan, ended), domain.CodeNotFound) // not his
	mustBe(t, p.db.EndDaily(ctx, p.actor, ended))
	p.open()
	p.at("2026-11-26T07:00:00-05:00")
	for _, id := range []uuid.UUID{left, revoked} {
		if m := p.settles(id, "2026-11-26"); !m.Ended || !strings.Contains(m.Error, "has ended") {
			t.Errorf("%+v", m)
		}
	}
	quiet()
	p.wantDays()
	mustBe(t, p.db.EndDaily(ctx, p.actor, revoked)) // the owner may end anybody's

	// The mail server is away until the day is over.
	late := p.ask(p.actor, 8)
	p.box.mu.Lock()
	p.box.fails = 1 << 20
	p.box.mu.Unlock()
	stop := p.open(slices.Repeat([]time.Duration{30 * time.Millisecond}, 5000)...)
	p.at("2026-11-26T23:59:00-05:00")
	for p.message(late).Error == "" {
		time.Sleep(10 * time.Millisecond)
	}
	stop()
	p.box.mu.Lock()
	p.box.fails = 0
	p.box.mu.Unlock()
	p.at("2026-11-27T00:30:00-05:00")
	p.open()
	if m := p.settles(late, "2026-11-26"); !strings.Contains(m.Error, "the day was over") {
		t.Errorf("after midnight: %+v", m)
	}
	quiet()
	p.wantDays()
}

// Nobody fills mailboxes: five messages to a person, and a test once a minute.
func TestDailyMessageLimits(t *testing.T) {
	t.Parallel()
	p := newPostal(t)
	var id uuid.UUID
	for range 5 {
		id = p.ask(p.actor, 6)
	}
	_, _, err := p.db.AskDaily(ctx, p.actor, domain.DailyMessage{Way: domain.ByEmail, To: "ola@example.farm"})
	wantCode(t, err, domain.CodeRuleRefused)
	l, err := p.db.TestLetter(ctx, p.actor, id)
	if err != nil || !l.Test || l.ID != id {
		t.Errorf("test: %+v (%v)", l, err)
	}
	_, err = p.db.TestLetter(ctx, p.actor, id)
	wantCode(t, err, domain.CodeTooMany)
	p.clock.Set(p.clock.Now().Add(time.Minute))
	_, err = p.db.TestLetter(ctx, p.actor, id)
	mustBe(t, err)
	mustBe(t, p.db.RevokeToken(ctx, p.actor, p.actor.Shown.ID))
	p.clock.Set(p.clock.Now().Add(time.Minute))
	_, err = p.db.TestLetter(ctx, p.actor, id)
	wantCode(t, err, domain.CodeRuleRefused)
}

// The queue's schema is outside row-level security, because a worker takes the next job whosever it is. So the service has no
// more there than taking and keeping jobs needs, and what stands in a job is held to ids above.
func TestQueueIsGuarded(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	rows, err := connect(t, f.owner).Query(ctx, `select c.relname::text, p.p from pg_class c join pg_namespace n on n.oid = c.relnamespace,
			unnest(array['select', 'insert', 'update', 'delete', 'truncate', 'references', 'trigger']) p
		where n.nspname = 'croftmark_queue' and c.relkind in ('r', 'p', 'v', 'm', 'f') and has_table_privilege('croftmark_service', c.oid, p.p) order by 1, 2`)
	mustBe(t, err)
	got := map[string][]string{}
	var table, privilege string
	_, err = pgx.ForEachRow(rows, []any{&table, &privilege}, func() error { got[table] = append(got[table], privilege); return nil })
	mustBe(t, err)
	work := []string{"delete", "insert", "select", "update"}
	for _, table := range []string{"river_job", "river_leader", "river_notification", "river_queue"} {
		if !slices.Equal(got[table], work) {
			t.Errorf("on %s the service may %v, want %v", table, got[table], work)
		}
		delete(got, table)
	}
	if len(got) != 0 {
		t.Errorf("the service may more than its work needs: %v", got)
	}
	if n := f.count(`select count(*) from pg_namespace where nspname = 'croftmark_queue' and has_schema_privilege('croftmark_service', oid, 'create')`); n != 0 {
		t.Error("the service may make tables beside the queue")
	}
	if n := f.count(`select count(*) from pg_proc p join pg_namespace n on n.oid = p.pronamespace where n.nspname = 'croftmark_queue' and p.prosecdef`); n != 0 {
		t.Errorf("%d functions of the queue run as the owner", n)
	}
}

// daily asks for a message of the farm's owner.
func (f *field) daily() uuid.UUID {
	f.t.Helper()
	mine := f.actor
	mine.Shown.ID = f.newToken(mine)
	id, _, err := f.db.AskDaily(ctx, mine, domain.DailyMessage{Way: domain.ByWebhook, To: "https://hooks.example.farm/due"})
	mustBe(f.t, err)
	return id
}
