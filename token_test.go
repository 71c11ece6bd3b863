package main

import (
	"encoding/json"
	"net/http"
	"path/filepath"
	"strings"
	"testing"

	"croftmark/domain"
	"croftmark/storage"
	"croftmark/storage/cluster"
)

// An export has no tokens, so a restored farm needs a way in: the token command, run where the database is.
func TestTokenOpensARestoredFarm(t *testing.T) {
	data := dataFolder(t)
	line, err := command(t, "init", "--data", data, "--farm", "Fern Bank", "--time-zone", "America/New_York", "--owner", "Ola Owner")
	if err != nil {
		t.Fatal(err)
	}
	var opened storage.Opened
	if err := json.Unmarshal([]byte(line), &opened); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(filepath.Dir(data), "book.zip")
	if _, err := command(t, "export", file, "--data", data); err != nil {
		t.Fatal(err)
	}
	fresh := filepath.Join(filepath.Dir(data), "fresh")
	out, err := command(t, "restore", file, "--data", fresh)
	if err != nil || !strings.Contains(out, "croftmark token --farm "+opened.FarmID.String()) {
		t.Fatalf("restore does not say how to get in: %q (%v)", out, err)
	}
	made := tokenMade(t, "--data", fresh, "--farm", opened.FarmID.String(), "--role", "owner")
	if made.FarmID != opened.FarmID || made.PersonID != opened.PersonID || made.Token == opened.Token || !strings.HasPrefix(made.Token, "cm_") {
		t.Errorf("token made for %+v, want one for %+v", made, opened)
	}

	p := start(t, "serve", "--data", fresh, "--listen", "127.0.0.1:0")
	owner := caller{t, p.address(), made.Token}
	var farm domain.Farm
	owner.get("/v1/farm", &farm)
	crew := owner.post("/v1/people", fields{"name": "Cory Crew", "initials": "CC", "role": "crew"}).ID
	left := owner.post("/v1/people", fields{"name": "Lou Left", "initials": "LL", "role": "crew", "ends_on": "2020-01-01"}).ID
	caller{t, owner.address, opened.Token}.send(http.MethodGet, "/v1/farm", nil, http.StatusUnauthorized)

	// Beside the running service, by name, initials or id, in one farm's key.
	for _, name := range []string{"cory crew", "CC", crew} {
		made := tokenMade(t, "--data", fresh, "--farm", strings.ToLower(farm.Key), "--person", name)
		if made.PersonID.String() != crew {
			t.Errorf("%q gives a token of %s", name, made.PersonID)
		}
		caller{t, owner.address, made.Token}.get("/v1/farm", &farm)
	}
	for says, args := range map[string][]string{
		"say for whom":              {},
		"there is nobody":           {"--person", "Nora Nobody"},
		"Cory Crew (CC, crew, ":     {"--person", "Nora Nobody"},
		"nobody of that name; ther": {"--person", left},
		"There is no farm":          {"--person", "CC", "--farm", "NOSUCHX"},
		"--expires 2020-01-01 has":  {"--person", "CC", "--expires", "2020-01-01"},
		"is not a date":             {"--person", "CC", "--expires", "tomorrow"},
	} {
		out, err := command(t, append([]string{"token", "--data", fresh}, args...)...)
		if err == nil || !strings.Contains(err.Error(), says) || out != "" {
			t.Errorf("token %v: %q, %v; want it to say %q", args, out, err, says)
		}
	}
	second := owner.post("/v1/people", fields{"name": "Cory Crew", "initials": "C2", "role": "lead"}).ID
	if _, err := command(t, "token", "--data", fresh, "--person", "Cory Crew"); err == nil || !strings.Contains(err.Error(), second) || !strings.Contains(err.Error(), crew) {
		t.Errorf("two of one name: %v", err)
	}
	if made := tokenMade(t, "--data", fresh, "--person", "Cory Crew", "--role", "lead"); made.PersonID.String() != second {
		t.Errorf("the role does not tell two of one name apart")
	}
	if strings.Contains(p.log.String(), "cm_") {
		t.Error("the log holds a token")
	}
}

func tokenMade(t *testing.T, args ...string) (made storage.Opened) {
	t.Helper()
	out, err := command(t, append([]string{"token"}, args...)...)
	if err != nil {
		t.Fatalf("token %v: %v", args, err)
	}
	if err := json.Unmarshal([]byte(out), &made); err != nil || strings.Count(out, "\n") != 1 {
		t.Fatalf("token %v printed %q (%v)", args, out, err)
	}
	return made
}

// The README's two ways in, demo and then init, must not meet in one folder.
func TestDemoHasItsOwnFolder(t *testing.T) {
	book, err := cluster.DefaultDataDir()
	if err != nil {
		t.Fatal(err)
	}
	demo, err := demoDataDir()
	if err != nil || demo == book || filepath.Dir(demo) != filepath.Dir(book) || !filepath.IsAbs(demo) {
		t.Errorf("the demo farm lies in %s, a farm's book in %s (%v)", demo, book, err)
	}
}
