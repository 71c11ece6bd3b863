package report

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"croftmark/domain"
)

func recallPaper(t testing.TB, drill bool) RecallPaper {
	at := time.Date(2026, 6, 20, 12, 5, 0, 0, time.UTC)
	lot := domain.LotCode(domain.NewDate(2026, 6, 15), "Lower 3", "Spinach", 1)
	lots := []domain.RecallLot{{Kind: "harvest-lot", Code: lot, Name: "Spinach", On: domain.NewDate(2026, 6, 15), Root: true, Quantity: domain.Q("120", "lb"),
		OnHand: domain.Q("18", "lb"), Shipped: domain.Q("96", "lb"), Returned: domain.Q("0", "lb"), Disposed: domain.Q("5", "lb"), Held: true}}
	got := []domain.Got{{LotCode: lot, Crates: []int{1, 2, 3}, Quantity: domain.Q("60", "lb"), Reference: "BOL-0417", At: at.Add(-90 * time.Hour)}}
	return RecallPaper{Paper: testPaper("es"), Farm: domain.Farm{Name: "Lower Meadow Farm", Address: "Orchard Lane 14", Phone: "919-555-0100", TimeZone: "America/New_York"},
		Recall: domain.Recall{Drill: drill, Reason: "Yearly exercise", Start: domain.TraceStart{Lot: lot}, StartedAt: at, FinishedAt: at.Add(105 * time.Minute)},
		Lots:   lots, Balance: domain.Balances(lots), Minutes: 105, Gaps: []string{"There is no phone number or address for Hill Market."},
		Possible: []domain.RecallLot{{Code: "P26166-KAL-1-XX", Name: "Kale", Quantity: domain.Q("9", "lb")}},
		Recipients: []domain.Recipient{
			{Name: "Copper Kettle Co-op", Is: "grocer", Contact: "Ann Lee", Phone: "919-555-0123", Email: "ann@kettle.example", Got: got, Reached: &domain.Contacted{At: at.Add(time.Hour), Who: "Ann", Answer: "All set apart"}},
			{Name: "Hill Market", Is: "market", Got: got}}}
}

func recallBytes(t testing.TB, p RecallPaper) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := RecallPDF(&b, p); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestRecallPaperSaysWhatItMust(t *testing.T) {
	t.Parallel()
	raw := recallBytes(t, recallPaper(t, true))
	text := strings.Join(strings.Fields(shownText(t, raw)), " ")
	for _, want := range []string{"DRILL", "Yearly exercise", "105 minutes", "Ann Lee", "919-555-0123", "ann@kettle.example", "NOT REACHED", "99.17 %",
		"1 lb are not accounted for", "possible contact", "There is no phone number or address for Hill Market.", "To Hill Market", "state recall coordinator", "2026-06-20 08:05", "page 1 of"} {
		if !strings.Contains(text, want) {
			t.Errorf("the paper does not say %q", want)
		}
	}
	if !bytes.Equal(raw, recallBytes(t, recallPaper(t, true))) {
		t.Error("the same paper has other bytes")
	}
	if strings.Contains(shownText(t, recallBytes(t, recallPaper(t, false))), "DRILL") {
		t.Error("a recall is marked as a drill")
	}
}

func TestRecallPaperForNothing(t *testing.T) {
	t.Parallel()
	var b bytes.Buffer
	if err := RecallPDF(&b, RecallPaper{}); err == nil || b.Len() > 0 {
		t.Error("a paper of nobody is written")
	}
	text := shownText(t, recallBytes(t, RecallPaper{Paper: testPaper("")}))
	if !strings.Contains(text, "The book found no lot for this start.") {
		t.Error("an empty recall does not say so")
	}
}
