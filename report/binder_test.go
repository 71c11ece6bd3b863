package report

import (
	"bytes"
	"testing"
	"time"

	"croftmark/domain"
)

func sampleBinder() BinderPaper {
	scope, _ := domain.BinderScopeNamed("organic")
	for i := range scope.Sections {
		for n := range 40 * (i % 3) {
			scope.Sections[i].Records = append(scope.Sections[i].Records, domain.BinderRecord{Kind: "application", Entry: int64(n + 1), On: domain.NewDate(2026, 4, 1),
				Says: []string{"amount: 2 yd3", "method: incorporated"}, DoneBy: "A", TypedBy: "B", EnteredAt: time.Date(2026, 4, 3, 12, 0, 0, 0, time.UTC), LateDays: 2})
		}
	}
	return BinderPaper{Paper: Paper{Made: time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC), Checkpoint: Checkpoint{"croftmark/ABCDEFG", 40, "x9a="}},
		Binder: domain.Binder{Farm: domain.Farm{Name: "Low Field", TimeZone: "America/New_York"}, Scope: scope, From: domain.NewDate(2026, 1, 1), To: domain.NewDate(2026, 11, 25)}}
}

// The pages in the index are the pages on which the tabs begin, and a second drawing is the same to the byte.
func TestBinderIndexAndBytes(t *testing.T) {
	p := sampleBinder()
	var first, second bytes.Buffer
	if err := BinderPDF(&first, p); err != nil {
		t.Fatal(err)
	}
	if err := BinderPDF(&second, p); err != nil || !bytes.Equal(first.Bytes(), second.Bytes()) {
		t.Errorf("drawn twice differently (%v)", err)
	}
	pages := make([]int, len(p.Binder.Scope.Sections)+1)
	for range 2 {
		r := binderReport{BinderPaper: p, zone: time.UTC, at: pages, found: make([]int, len(pages))}
		d := newDocument(layout{paper: ofFarm(p.Paper, p.Binder.Farm), zone: time.UTC, title: "t", period: "p"})
		r.body(d)
		pages = r.found
	}
	last := 1
	for i, s := range p.Binder.Scope.Sections {
		if pages[i] < last || len(s.Records) > 0 && pages[i] == last {
			t.Errorf("tab %d is on page %d after page %d", i+1, pages[i], last)
		}
		last = pages[i]
	}
	if err := BinderPDF(&first, BinderPaper{}); err == nil {
		t.Error("a binder of no farm was drawn")
	}
}
