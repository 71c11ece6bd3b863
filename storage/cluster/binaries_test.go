package cluster

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"testing"
)

// fakePrograms makes a folder with programs that only tell their version.
func fakePrograms(t *testing.T, folder string, major int) string {
	t.Helper()
	must(t, os.MkdirAll(folder, 0o755))
	script := fmt.Sprintf("#!/bin/sh\necho 'postgres (PostgreSQL) %d.4 (Test)'\n", major)
	for _, name := range []string{"postgres", "initdb"} {
		writeProgram(t, filepath.Join(folder, name), []byte(script))
	}
	return folder
}

func TestFindPrograms(t *testing.T) {
	t.Parallel()
	dir, err := filepath.EvalSymlinks(t.TempDir())
	must(t, err)
	old := fakePrograms(t, filepath.Join(dir, "lib", "14", "bin"), 14)
	fifteen := fakePrograms(t, filepath.Join(dir, "lib", "15", "bin"), 15)
	seventeen := fakePrograms(t, filepath.Join(dir, "lib", "17", "bin"), 17)
	links, empty := filepath.Join(dir, "links"), filepath.Join(dir, "empty")
	must(t, os.Mkdir(links, 0o755))
	must(t, os.Mkdir(empty, 0o755))
	must(t, os.Symlink(filepath.Join(fifteen, "postgres"), filepath.Join(links, "postgres")))
	globs := []string{filepath.Join(dir, "lib", "*", "bin")}

	for name, test := range map[string]struct {
		search search
		major  int
		want   string
	}{
		"override wins":                     {search{override: fifteen, path: seventeen, globs: globs}, 0, fifteen},
		"path before globs, links resolved": {search{path: empty + ":" + links, globs: globs}, 0, fifteen},
		"newest of the globs":               {search{globs: globs}, 0, seventeen},
		"version of the data folder":        {search{path: seventeen, globs: globs}, 15, fifteen},
		"relative path entry is skipped":    {search{path: ".", globs: globs}, 0, seventeen},
		"too old":                           {search{override: old}, 0, ""},
		"nothing anywhere":                  {search{path: empty}, 0, ""},
		"empty path":                        {search{}, 0, ""},
		"override without programs":         {search{override: empty, globs: globs}, 0, ""},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			found, err := test.search.find(test.major)
			if found.folder != test.want {
				t.Errorf("found %q, want %q", found.folder, test.want)
			}
			if test.want == "" && !errors.Is(err, ErrMissing) {
				t.Errorf("error %v, want ErrMissing", err)
			}
		})
	}
	_, err = search{globs: globs}.find(16)
	wantText(t, err, "PostgreSQL 16", "version 17 and 15", "apt-get install postgresql-16")
}

func TestMissingProgramsSayWhatToInstall(t *testing.T) {
	empty := t.TempDir()
	t.Setenv(binEnv, empty)
	t.Setenv("PATH", "")
	folder := newFolder(t)
	_, err := Start(t.Context(), Options{DataDir: folder, Durable: true})
	wantText(t, err, binEnv, empty, "apt-get install postgresql", "dnf install postgresql-server", "brew install postgresql@17", "--database-url")
	if exists(filepath.Join(folder, "postgres")) || exists(filepath.Join(folder, "postgres.new")) {
		t.Error("a database folder was made without PostgreSQL")
	}
}
