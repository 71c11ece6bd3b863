package api_test

import (
	"net/http"
	"strings"
	"testing"

	"croftmark/domain"
)

// table sends a CSV file.
func (f *farm) table(role domain.Role, path, file, key string) *answer {
	f.t.Helper()
	r := request(f.t, f.tokens[role], http.MethodPost, path, file)
	r.Header.Set("Content-Type", "text/csv")
	if key != "" {
		r.Header.Set("Idempotency-Key", key)
	}
	return f.send(r)
}

func TestImportTable(t *testing.T) {
	t.Parallel()
	f := newFarm(t)
	const path, good = "/v1/imports/customers.csv", "name,kind,phone\nCopper Ladle,restaurant,555 0100\nSaturday market,market,\n"
	const bad = "name,kind\nCopper Ladle,kitchen\n,market\n"
	f.unchanged(func() {
		a := f.table(domain.Lead, path+"?dry_run=true", bad, "").is(http.StatusOK).fields()
		if a["dry_run"] != true || a["written"] != float64(0) || len(a["problems"].([]any)) != 2 {
			t.Errorf("dry run: %v", a)
		}
		p := f.table(domain.Lead, path, bad, "").problem(http.StatusUnprocessableEntity, domain.CodeInvalid)
		if len(p.Errors) != 2 || p.Errors[0].Pointer != "#line=2" && p.Errors[1].Pointer != "#line=2" {
			t.Errorf("problems %+v", p.Errors)
		}
		f.table(domain.Lead, path, "name,kind\n", "").problem(http.StatusUnprocessableEntity, domain.CodeInvalid)
		f.table(domain.Lead, path, "name,colour\nx,y\n", "").problem(http.StatusUnprocessableEntity, domain.CodeInvalid)
		f.table(domain.Lead, path+"?dry_run=true", good, "k1").is(http.StatusOK)
		f.table(domain.Crew, path, good, "").problem(http.StatusForbidden, domain.CodeNotAllowed)
		f.table(domain.Lead, path, strings.Repeat("x", 5<<20), "").problem(http.StatusRequestEntityTooLarge, domain.CodeTooLarge)
	})
	if a := f.table(domain.Lead, path, good, "k1").is(http.StatusCreated).fields(); a["written"] != float64(2) || a["entry"] != float64(f.size()) {
		t.Errorf("written: %v", a)
	}
	f.unchanged(func() {
		f.table(domain.Lead, path, good, "k1").is(http.StatusOK)
		f.table(domain.Lead, path, bad, "k1").problem(http.StatusConflict, domain.CodeIDReused)
	})
	if list := f.get(domain.Reader, "/v1/customers").list(); len(list) != 2 {
		t.Errorf("%d customers, want 2", len(list))
	}
	// With progress the answer is lines, the last one the result.
	many := "name,kind\n" + strings.Repeat("Guest,market\n", 250)
	lines := strings.Split(strings.TrimSpace(string(f.table(domain.Lead, path+"?progress=true", many, "").is(http.StatusOK).Body)), "\n")
	if len(lines) != 3 || lines[0] != `{"rows":100}` || !strings.Contains(lines[2], `"written":250`) {
		t.Errorf("lines %q", lines)
	}
}
