package main

import (
	"encoding/json"
	"go/parser"
	"go/token"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// listed is what the go command says of one of our packages.
type listed struct {
	ImportPath   string
	Dir          string
	GoFiles      []string
	Imports      []string
	TestImports  []string
	XTestImports []string
}

const module = "croftmark"

func ourPackages(t *testing.T) []listed {
	t.Helper()
	raw, err := exec.Command("go", "list", "-json=ImportPath,Dir,GoFiles,Imports,TestImports,XTestImports", "./...").Output()
	if err != nil {
		t.Fatalf("go list: %v", err)
	}
	var out []listed
	for dec := json.NewDecoder(strings.NewReader(string(raw))); dec.More(); {
		var p listed
		if err := dec.Decode(&p); err != nil {
			t.Fatal(err)
		}
		out = append(out, p)
	}
	if len(out) < 7 {
		t.Fatalf("only %d packages found", len(out))
	}
	return out
}

// under reports whether an import path is a package or lies below it.
func under(path, root string) bool { return path == root || strings.HasPrefix(path, root+"/") }

func underAny(path string, roots []string) bool {
	return slices.ContainsFunc(roots, func(root string) bool { return under(path, root) })
}

func fromUs(path string) bool { return under(path, module) }

// fromOthers reports an import from outside the standard library and this module.
func fromOthers(path string) bool {
	first, _, _ := strings.Cut(path, "/")
	return strings.Contains(first, ".")
}

// An arrow says what the packages below from may import. Tests are free, except of what forTests says.
type arrow struct {
	from  string
	allow func(path string) bool
	why   string
}

func only(roots ...string) func(string) bool {
	return func(path string) bool { return !fromUs(path) && !fromOthers(path) || underAny(path, roots) }
}

func except(roots ...string) func(string) bool {
	return func(path string) bool { return !underAny(path, roots) }
}

const (
	pgx  = "github.com/jackc/pgx"
	echo = "github.com/labstack/echo"
	huma = "github.com/danielgtaylor/huma"
)

var arrows = []arrow{
	{module + "/domain", only(module+"/domain", "github.com/google/uuid", "github.com/shopspring/decimal", "golang.org/x/text"),
		"the rules are pure: no database, no HTTP, no clock, so that a rule can be read and tested by itself"},
	{module + "/storage", except(module+"/api", module+"/web", module+"/labels", module+"/report", echo, huma),
		"storage keeps the book for whoever asks; it must not know about pages, labels or HTTP"},
	{module + "/migrations", except(module+"/api", module+"/storage", module+"/domain", module+"/web", module+"/labels", module+"/report", echo, huma),
		"migrations are applied before anything else works"},
	{module + "/labels", except(module+"/api", module+"/storage", module+"/web", module+"/report", pgx, echo, huma),
		"a label is drawn from a lot's values; it knows no HTTP and no SQL"},
	{module + "/report", except(module+"/api", module+"/storage", module+"/web", pgx, echo, huma),
		"a paper is drawn from values; it knows no HTTP and no SQL"},
	{module + "/post", except(module+"/api", module+"/storage", module+"/web", module+"/labels", module+"/report", pgx, echo, huma),
		"a letter comes to the post whole; it asks no database whom it belongs to"},
	{module + "/web", func(path string) bool { return !fromUs(path) },
		"web only embeds the built pages; logic in it would be a second door"},
	{module + "/bench", except(module+"/api", module+"/web", echo, huma),
		"a measurement goes through HTTP and the commands, as a farm does, and not past them"},
	{module + "/api", func(path string) bool { return path != module && !under(path, pgx) },
		"SQL belongs to storage: a query in a handler would go past the door and past row-level security"},
}

// Packages that only the named ones may import.
var kept = []struct {
	path string
	by   []string
	why  string
}{
	{echo, []string{module + "/api"}, "a change of the HTTP framework should touch one folder"},
	{huma, []string{module + "/api"}, "a change of the HTTP framework should touch one folder"},
	{pgx, []string{module + "/storage", module + "/migrations", module + "/bench"}, "the database is reached through storage alone; the benchmark measures it bare"},
	{"github.com/riverqueue/river", []string{module + "/storage", module + "/migrations"}, "the queue's tables are reached through storage alone"},
	{"github.com/wneessen/go-mail", []string{module + "/post"}, "mail leaves by one door"},
	{module + "/api", []string{module}, "nothing stands above the interface but the program"},
	{module + "/bench", nil, "the benchmark and the fault program look at the service from outside; nothing may lean on them"},
	{module + "/storage/storagetest", nil, "test helpers must not end up in the program"},
}

func TestImportDirections(t *testing.T) {
	for _, p := range ourPackages(t) {
		for _, path := range p.Imports {
			for _, a := range arrows {
				if under(p.ImportPath, a.from) && !a.allow(path) {
					t.Errorf("%s imports %s: %s", p.ImportPath, path, a.why)
				}
			}
			for _, k := range kept {
				inside := under(p.ImportPath, k.path)
				if under(path, k.path) && !inside && !mayImport(p.ImportPath, k.by) {
					t.Errorf("%s imports %s: %s", p.ImportPath, path, k.why)
				}
			}
		}
		if under(p.ImportPath, module+"/domain") {
			for _, path := range slices.Concat(p.TestImports, p.XTestImports) {
				if underAny(path, []string{pgx, echo, module + "/storage", module + "/api"}) {
					t.Errorf("a test of %s imports %s: a rule is tested by itself", p.ImportPath, path)
				}
			}
		}
	}
}

// mayImport allows packages below the named ones; the module's own name stands for the program alone.
func mayImport(path string, by []string) bool {
	return slices.ContainsFunc(by, func(b string) bool { return path == b || b != module && under(path, b) })
}

// domain is pure all the way down: what its imports import counts as well.
func TestImportsOfDomainAllTheWayDown(t *testing.T) {
	raw, err := exec.Command("go", "list", "-deps", "-f", "{{if not .Standard}}{{.ImportPath}}{{end}}", "./domain").Output()
	if err != nil {
		t.Fatal(err)
	}
	for _, path := range strings.Fields(string(raw)) {
		if !underAny(path, []string{module + "/domain", "github.com/google/uuid", "github.com/shopspring/decimal", "golang.org/x/text"}) {
			t.Errorf("domain reaches %s: its judgements must not depend on more than values and the standard library", path)
		}
	}
}

// The rules themselves are held to something: each of them must catch a wrong import.
func TestImportRulesCatch(t *testing.T) {
	for _, c := range []struct{ from, path string }{
		{module + "/domain", "github.com/jackc/pgx/v5"}, {module + "/domain", module + "/storage"}, {module + "/domain", "golang.org/x/mod/sumdb/tlog"},
		{module + "/storage", module + "/api"}, {module + "/storage/cluster", "github.com/labstack/echo/v4"}, {module + "/labels", module + "/api"},
		{module + "/labels", pgx + "/v5"}, {module + "/web", module + "/domain"}, {module + "/migrations", module + "/storage"}, {module + "/api", pgx + "/v5/pgxpool"},
		{module + "/post", module + "/storage"}, {module + "/bench", module + "/api"}, {module + "/bench/rig", echo + "/v4"},
	} {
		caught := false
		for _, a := range arrows {
			caught = caught || under(c.from, a.from) && !a.allow(c.path)
		}
		if !caught {
			t.Errorf("no rule keeps %s from importing %s", c.from, c.path)
		}
	}
}

func TestImportedPackagesTellTheirStory(t *testing.T) {
	for _, p := range ourPackages(t) {
		documented := len(p.GoFiles) == 0
		for _, name := range p.GoFiles {
			file, err := parser.ParseFile(token.NewFileSet(), filepath.Join(p.Dir, name), nil, parser.PackageClauseOnly|parser.ParseComments)
			if err != nil {
				t.Fatal(err)
			}
			documented = documented || file.Doc != nil && len(file.Doc.Text()) > 40
		}
		if !documented {
			t.Errorf("%s has no package comment: whoever opens a folder should be told first what it is for", p.ImportPath)
		}
	}
}

// registries are hosts of package registries and their mirrors. Put together here so that this file does not name one.
var registries = regexp.MustCompile(`(?i)\b(` + strings.Join([]string{
	`proxy\.golang\.` + `org`, `sum\.golang\.` + `org`, `goproxy\.` + `\w+`, `registry\.npmjs\.` + `org`, `registry\.yarnpkg\.` + `com`, `npmmirror\.` + `com`,
	`pypi\.` + `org`, `files\.pythonhosted\.` + `org`, `deb\.debian\.` + `org`, `archive\.ubuntu\.` + `com`, `crates\.` + `io`, `rubygems\.` + `org`,
	`repo1?\.maven\.` + `\w+`, `registry-1\.docker\.` + `io`, `artifactory\.` + `\w+`, `[a-z0-9-]+\.pkg\.` + `dev`,
}, "|") + `)\b`)

func TestImportsNameNoRegistry(t *testing.T) {
	raw, err := exec.Command("git", "ls-files", "-z").Output()
	if err != nil {
		t.Fatalf("git ls-files: %v", err)
	}
	read := 0
	for _, name := range strings.Split(strings.TrimRight(string(raw), "\x00"), "\x00") {
		text, err := os.ReadFile(name)
		if os.IsNotExist(err) {
			continue // removed, and not yet committed so
		}
		if err != nil {
			t.Fatal(err)
		}
		read++
		if at := registries.Find(text); at != nil {
			t.Errorf("%s names %s: where packages come from is the builder's setting, and a name that is not reachable breaks a build elsewhere", name, at)
		}
	}
	if read < 100 {
		t.Errorf("only %d files read", read)
	}
}
