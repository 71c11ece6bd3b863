package cluster

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// binEnv names the variable that overrides the search for PostgreSQL's programs.
const binEnv = "CROFTMARK_POSTGRES_BIN"

// oldestMajor is the oldest PostgreSQL that Croftmark is tested with.
const oldestMajor = 15

// ErrMissing says that PostgreSQL is not on this machine, and what to type.
var ErrMissing = sentence("Croftmark needs the PostgreSQL programs (version 15 or later), and they are not on this machine. " +
	"Debian and Ubuntu: apt-get install postgresql. Fedora: dnf install postgresql-server. macOS: brew install postgresql@17. " +
	"Or use a PostgreSQL server of your own with --database-url.")

// programs is one folder of PostgreSQL programs of one major version.
type programs struct {
	folder string
	major  int
}

func (p programs) postgres() string { return filepath.Join(p.folder, "postgres") }
func (p programs) initdb() string   { return filepath.Join(p.folder, "initdb") }

// search says where to look. Debian keeps its programs out of the PATH, one folder for
// each version.
type search struct {
	override string
	path     string
	globs    []string
}

func systemSearch() search {
	return search{
		override: os.Getenv(binEnv),
		path:     os.Getenv("PATH"),
		globs: []string{
			"/usr/lib/postgresql/*/bin",
			"/usr/pgsql-*/bin",
			"/opt/homebrew/opt/postgresql@*/bin",
			"/usr/local/opt/postgresql@*/bin",
		},
	}
}

// find returns the first programs that can be used; major, if not zero, is the version
// that wrote the data folder, and no other can open it.
func (s search) find(major int) (programs, error) {
	var others []string
	for _, folder := range s.folders() {
		p, ok := programsIn(folder)
		if ok && (major == 0 || p.major == major) && p.major >= oldestMajor {
			return p, nil
		}
		if ok {
			others = append(others, strconv.Itoa(p.major))
		}
	}
	if major != 0 && len(others) > 0 {
		return programs{}, sentence("The records were written by PostgreSQL %d, but this machine has version %s. Install version %d beside it (Debian and Ubuntu: apt-get install postgresql-%d).",
			major, strings.Join(slices.Compact(others), " and "), major, major)
	}
	if s.override != "" {
		return programs{}, sentence("%s names %s, which holds no usable PostgreSQL. %w", binEnv, s.override, ErrMissing)
	}
	return programs{}, ErrMissing
}

func (s search) folders() []string {
	if s.override != "" {
		return []string{s.override}
	}
	var folders []string
	if program, ok := s.inPath("postgres"); ok {
		folders = append(folders, filepath.Dir(program))
	}
	if program, ok := s.inPath("pg_config"); ok {
		if out, err := exec.Command(program, "--bindir").Output(); err == nil {
			folders = append(folders, strings.TrimSpace(string(out)))
		}
	}
	for _, glob := range s.globs {
		// Glob sorts upwards; the newest version comes first here.
		found, _ := filepath.Glob(glob)
		slices.Reverse(found)
		folders = append(folders, found...)
	}
	return folders
}

// inPath follows links, because initdb is beside the real program. It skips relative
// entries: nothing from the current folder should run as the database.
func (s search) inPath(name string) (string, bool) {
	for _, folder := range filepath.SplitList(s.path) {
		program, err := filepath.EvalSymlinks(filepath.Join(folder, name))
		if err == nil && filepath.IsAbs(folder) && executable(program) {
			return program, true
		}
	}
	return "", false
}

var versionPattern = regexp.MustCompile(`^postgres \(PostgreSQL\) (\d+)`)

func programsIn(folder string) (programs, bool) {
	p := programs{folder: folder}
	if !executable(p.postgres()) || !executable(p.initdb()) {
		return programs{}, false
	}
	out, err := exec.Command(p.postgres(), "--version").Output()
	if err != nil {
		return programs{}, false
	}
	match := versionPattern.FindSubmatch(out)
	if match == nil {
		return programs{}, false
	}
	p.major, err = strconv.Atoi(string(match[1]))
	return p, err == nil
}

func executable(path string) bool {
	info, err := os.Stat(path)
	return err == nil && info.Mode().IsRegular() && info.Mode()&0o111 != 0
}
