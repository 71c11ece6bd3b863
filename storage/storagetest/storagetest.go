// Package storagetest gives each test a database of its own on a real PostgreSQL. There are no mocks: what goes wrong in
// storage is in the SQL. If PostgreSQL cannot start, the tests fail; they never skip.
package storagetest

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"croftmark/domain"
	"croftmark/migrations"
	"croftmark/storage"
	"croftmark/storage/cluster"
)

var (
	once    sync.Once
	server  *cluster.Cluster
	folder  string
	failure error
	clones  sync.Mutex // a template can be copied by one at a time
	number  int
)

// Main runs a package's tests and stops the server they shared. Every package that calls New has
// func TestMain(m *testing.M) { os.Exit(storagetest.Main(m)) }.
func Main(m *testing.M) int {
	code := m.Run()
	if server != nil {
		server.Stop(context.Background())
	}
	if folder != "" {
		os.RemoveAll(folder)
	}
	return code
}

// start makes one server for the test binary, with one migrated database that is copied for each test.
func start() {
	folder, failure = os.MkdirTemp(cluster.FastDir(), "croftmark-test-")
	if failure != nil {
		return
	}
	os.Chmod(folder, 0o755) // as root, the server's account must pass through
	ctx := context.Background()
	server, failure = cluster.Start(ctx, cluster.Options{DataDir: filepath.Join(folder, "data")})
	if failure == nil {
		failure = migrations.Apply(ctx, server.OwnerURL("croftmark"))
	}
}

// URLs gives a fresh migrated database: the owner's URL and the service's.
func URLs(t testing.TB) (owner, service string) {
	t.Helper()
	once.Do(start)
	if failure != nil {
		t.Fatalf("PostgreSQL for the tests: %v", failure)
	}
	clones.Lock()
	defer clones.Unlock()
	number++
	name := fmt.Sprintf("test_%d", number)
	exec(t, fmt.Sprintf(`create database %s template croftmark`, name))
	t.Cleanup(func() { exec(t, fmt.Sprintf(`drop database if exists %s with (force)`, name)) })
	return server.OwnerURL(name), server.ServiceURL(name)
}

func exec(t testing.TB, sql string) {
	t.Helper()
	ctx := context.Background()
	conn, err := pgx.Connect(ctx, server.OwnerURL("postgres"))
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close(ctx)
	if _, err := conn.Exec(ctx, sql); err != nil {
		t.Fatalf("%s: %v", sql, err)
	}
}

// Clock is a clock that tests set.
type Clock struct {
	mu sync.Mutex
	at time.Time
}

// NewClock stands at 09:00 of a day in New York until it is set.
func NewClock(day string) *Clock {
	c := &Clock{}
	c.SetDay(day)
	return c
}

// SetDay moves the clock to 09:00 of a day in New York.
func (c *Clock) SetDay(day string) {
	zone, err := time.LoadLocation("America/New_York")
	if err != nil {
		panic(err)
	}
	d, err := domain.ParseDate(day)
	if err != nil {
		panic(err)
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	c.at = d.In(zone).Add(9 * time.Hour)
}

// Set moves the clock to an instant.
func (c *Clock) Set(at time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.at = at
}

// Now gives the time and moves on by a millisecond, so that no two entries share one.
func (c *Clock) Now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.at = c.at.Add(time.Millisecond)
	return c.at
}

// Open gives a storage on a fresh database.
func Open(t testing.TB, config storage.Config) *storage.DB {
	t.Helper()
	config.OwnerURL, config.ServiceURL = URLs(t)
	db, err := storage.Open(context.Background(), config)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(db.Close)
	return db
}

// Farm opens a farm that answers to the named rule sets and gives its owner.
func Farm(t testing.TB, db *storage.DB, sets ...string) storage.Actor {
	t.Helper()
	farm := &domain.Farm{Name: "Test farm " + strings.Join(sets, " "), TimeZone: "America/New_York"}
	for _, id := range sets {
		set, ok := domain.RuleSetByID(id)
		if !ok {
			t.Fatalf("no rule set %s", id)
		}
		farm.Standards = append(farm.Standards, domain.AdoptedStandard{Set: id, From: set.From})
	}
	opened, err := db.OpenFarm(context.Background(), farm, &domain.Person{Name: "Test Owner", Initials: "TO"})
	if err != nil {
		t.Fatal(err)
	}
	return storage.Actor{FarmID: opened.FarmID, PersonID: opened.PersonID, Role: domain.Owner}
}
