package storage_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"croftmark/domain"
	"croftmark/storage"
)

// read takes a table in, as a dry run or for good.
func (f *field) read(kind domain.ImportKind, table string, dry bool) storage.ImportResult {
	f.t.Helper()
	rows, bad, err := domain.ParseImport(strings.NewReader(table), kind)
	mustBe(f.t, err)
	out, err := f.db.Import(ctx, f.actor, nil, kind, rows, bad, dry, nil)
	mustBe(f.t, err)
	return out
}

// wantProblems holds the problems to lines, columns and words.
func wantProblems(t *testing.T, got []domain.RowProblem, want ...string) {
	t.Helper()
	var lines []string
	for _, p := range got {
		lines = append(lines, fmt.Sprintf("%d %s: %s", p.Line, p.Column, p.Detail))
	}
	slices.Sort(lines)
	if len(lines) != len(want) {
		t.Errorf("%d problems, want %d:\n%s", len(lines), len(want), strings.Join(lines, "\n"))
		return
	}
	for i, w := range want {
		at, words, _ := strings.Cut(w, "…")
		if !strings.HasPrefix(lines[i], at) || !strings.Contains(lines[i], words) {
			t.Errorf("problem %q, want %q", lines[i], w)
		}
	}
}

// A farm's past, table by table: each first tried, which leaves the book as it was, and then read in.
func TestImportOfAFarmsPast(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	f.correct("input-lot", f.manure, `{"supplier_lot": "K7"}`)
	f.delivery(domain.CropProtection, nil)
	for _, step := range []struct {
		kind  domain.ImportKind
		table string
		rows  int
	}{
		{domain.ImportBeds, "plot,name,from,length,note\nLower,Bed 1,2024-03-01,100,first\nlower,Bed 2,2024-03-01,,\n", 2},
		{domain.ImportCrops, "\ufeffName;Variety;catalogue_entry;soil_contact\nRadish;Cherry;radish;\nChard;;;clear\n", 2},
		{domain.ImportCustomers, "name,kind,phone\n\"Copper Ladle, the\",restaurant,555 0100\n", 1},
		{domain.ImportPlantings, "crop,variety,beds,planted_on\nradish,cherry,Bed 1; Bed 2,2026-04-12\nChard,,Bed 2,2026-04-20\n", 2},
		{domain.ImportApplications, "input,supplier_lot,beds,applied_on,incorporated_on,method,amount,unit\nInput raw-manure,K7,Bed 1,2026-04-01,2026-04-10,incorporated,2,yd3\n", 1},
		{domain.ImportApplications, "input,beds,applied_on,method,amount,unit,touched_crop,days_to_harvest,restricted_entry_hours\nInput crop-protection,Bed 2,2026-05-25,foliar,1,gal,yes,7,0\n", 1},
		{domain.ImportHarvests, "crop,beds,cut_on,quantity,unit,already_cut\nradish,Bed 2,2026-06-01,12.5,lb,\nradish,Bed 1,2026-08-07,40,lb,yes\nradish,Bed 1,2026-08-08,40,lb,\n", 3},
	} {
		entries, before := f.entries(), f.dump()
		if out := f.read(step.kind, step.table, true); len(out.Problems) > 0 || out.Rows != step.rows || len(out.IDs) > 0 {
			t.Fatalf("dry run of %s: %+v", step.kind, out)
		}
		if diff := cmp.Diff(before, f.dump()); diff != "" || f.entries() != entries {
			t.Fatalf("the dry run of %s wrote: %s", step.kind, diff)
		}
		out := f.read(step.kind, step.table, false)
		if len(out.Problems) > 0 || len(out.IDs) != step.rows || out.Entry != f.entries() {
			t.Fatalf("%s: %+v", step.kind, out)
		}
	}
	// The manure of the table decides the harvests of the table: day 119 and day 120 (7 CFR 205.203(c)(1)(ii)).
	for day, want := range map[string]domain.Verdict{"2026-08-07": domain.Wait, "2026-08-08": domain.Clear} {
		if n := f.count(`select count(*) from lots where cut_from = $1 and verdict = $2`, day, string(want)); n != 1 {
			t.Errorf("%d lots of %s are %s, want 1", n, day, want)
		}
	}
	before := f.dump()
	_, err := f.db.Rebuild(ctx, f.actor.FarmID, nil)
	mustBe(t, err)
	if diff := cmp.Diff(before, f.dump()); diff != "" {
		t.Errorf("rebuilt tables differ: %s", diff)
	}
	if _, err := f.db.Verify(ctx, f.actor.FarmID, nil); err != nil {
		t.Error(err)
	}
}

// Every problem is told by its line, also those between two lines of the table, and nothing is written.
func TestImportTellsEveryLine(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{})
	radish := f.plant("radish", domain.Touches, "2026-04-12", f.bed)
	f.spread(f.manure, "2026-04-01", "2026-04-10", f.bed)
	_ = radish
	for _, c := range []struct {
		kind  domain.ImportKind
		table string
		want  []string
	}{
		{domain.ImportBeds, "plot,name,from,length\nLower,A,2024-03-01,100\nUpper,B,2024-03-01,\nLower,,yesterday,long\nLower,a,2025-01-01,\nLower,Lower 3,2024-03-01,\nLower,C,2999-01-01,\nLower,\"D,2024-03-01,\n", []string{
			"3 plot: …There is no plot \"Upper\"", "4 from: …not a day", "4 length: …not a number", "4 name: …Fill this cell",
			"5 name: …already a bed of that name", "6 name: …already a bed of that name", "7 from: …in the future", "8 : …quotation marks"}},
		{domain.ImportPlantings, "crop,beds,planted_on,soil_contact,done_by\nradish,Lower 3,2026-05-01,clear,\nkale,Lower 3,2023-01-01,,Nobody\n", []string{
			"2 reason: …trellised", "3 beds: …no bed \"Lower 3\" on 2023-01-01", "3 crop: …no crop \"kale\"", "3 done_by: …no person"}},
		{domain.ImportApplications, "input,beds,plot,applied_on,method,amount,unit\nInput raw-manure,Lower 3,Lower,2026-04-01,incorporated,2,cup\nLime,Lower 3,,2026-04-01,surface,2,lb\n", []string{
			"2 unit: …\"cup\" is not a unit", "3 input: …No delivery of \"Lime\""}},
		{domain.ImportHarvests, "crop,beds,cut_on,quantity,unit\nradish,Lower 3,2026-08-07,40,lb\nradish,Lower 3,2026-04-01,40,lb\nradish,Lower 3,2026-08-09,40,lb\n", []string{
			"2 : …write yes under already_cut", "3 crop: …No planting of this crop"}},
	} {
		before, entries := f.dump(), f.entries()
		for _, dry := range []bool{true, false} {
			out := f.read(c.kind, c.table, dry)
			wantProblems(t, out.Problems, c.want...)
			if len(out.IDs) != 0 {
				t.Errorf("%s: %d written beside problems", c.kind, len(out.IDs))
			}
		}
		if diff := cmp.Diff(before, f.dump()); diff != "" || f.entries() != entries {
			t.Errorf("%s left something: %s", c.kind, diff)
		}
	}
	if n := f.count(`select count(*) from records where kind = 'harvest-refused'`); n != 0 {
		t.Errorf("%d refused attempts of a table that was taken back", n)
	}
}

func TestImportHeader(t *testing.T) {
	t.Parallel()
	for table, words := range map[string]string{
		"":                          "The file is empty",
		"plot,name\nLower,A\n":      `"from" is missing`,
		"plot,name,from,colour\n":   `no column "colour"`,
		"plot,name,from,Name\n":     `"name" is there twice`,
		"\xff\xfep\x00":             "UTF-16",
		"plot,\"name,from\nLower\n": "quotation marks",
	} {
		_, _, err := domain.ParseImport(strings.NewReader(table), domain.ImportBeds)
		if err == nil || !strings.Contains(err.Error(), words) {
			t.Errorf("%q: %v, want %s", table, err, words)
		}
	}
	if _, _, err := domain.ParseImport(strings.NewReader("name,kind\n"+strings.Repeat("a,b\n", 2001)), domain.ImportCustomers); err == nil || !strings.Contains(err.Error(), "parts") {
		t.Errorf("2001 rows: %v", err)
	}
}
