package report

import (
	"bytes"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

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

// Each letter begins on a page of its own, and nothing else stands there: it goes out alone. A recipient that got nothing
// gets none.
func TestEachLetterHasAPageOfItsOwn(t *testing.T) {
	t.Parallel()
	for _, drill := range []bool{true, false} {
		p := recallPaper(t, drill)
		got := p.Recipients[0].Got[0]
		got.What = "Spinach"
		long := domain.Recipient{Name: "Long Lane Stores"}
		for range 90 {
			long.Got = append(long.Got, got)
		}
		sent := got
		sent.Back = true
		p.Recipients = append(p.Recipients, long, domain.Recipient{Name: "Only Sent Back", Got: []domain.Got{sent}}, domain.Recipient{Name: "Last Inn", Got: []domain.Got{got}})
		pages := pageTexts(t, recallBytes(t, p))
		var begins []string // who the letters are to, in the order of the pages they begin on
		signed, letters := -1, -1
		for i, page := range pages {
			if strings.Contains(page, "Signatures") {
				signed = i
			}
			n := strings.Count(page, "\nTo ")
			if n > 1 {
				t.Errorf("drill %t: %d letters begin on page %d", drill, n, i+1)
			}
			if n == 1 {
				if letters < 0 {
					letters = i
				}
				_, rest, _ := strings.Cut(page, "\nTo ")
				name, _, _ := strings.Cut(rest, "\n")
				begins = append(begins, name)
				for _, other := range []string{"Signatures", "Known gaps", "Who got it"} {
					if strings.Contains(page, other) {
						t.Errorf("drill %t: page %d has a letter and %q", drill, i+1, other)
					}
				}
				if drill && !strings.Contains(page, "THIS IS A DRILL") {
					t.Errorf("page %d does not say that it is a drill", i+1)
				}
			}
		}
		if want := []string{"Copper Kettle Co-op", "Hill Market", "Long Lane Stores", "Last Inn"}; !slices.Equal(begins, want) {
			t.Errorf("drill %t: letters to %q, want %q", drill, begins, want)
		}
		if signed < 0 || letters != signed+1 || len(pages)-letters < 5 {
			t.Errorf("drill %t: signed on page %d, letters from page %d of %d; the long one must take two", drill, signed+1, letters+1, len(pages))
		}
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

// Record forms 4.3: the report of a recall has its start trigger, in words for a reader who has no book: the thing, and the day or
// the hours that were asked about, in the farm's zone. A person's name is not on it (S36).
func TestRecallPaperNamesItsStart(t *testing.T) {
	t.Parallel()
	id, from := uuid.Must(uuid.NewV7()), time.Date(2026, 6, 2, 4, 0, 0, 0, time.UTC)
	to, on := from.Add(30*time.Hour), domain.NewDate(2026, 6, 6)
	for _, x := range []struct {
		start domain.TraceStart
		name  string
		want  string
	}{
		{domain.TraceStart{WaterSourceID: id, From: from, To: to}, "Shed well", "water source Shed well, used from 2026-06-02 00:00 to 2026-06-03 06:00"},
		{domain.TraceStart{WaterSourceID: id, From: from}, "Shed well", "water source Shed well, used from 2026-06-02 00:00"},
		{domain.TraceStart{BedID: id, To: to}, "Lower 4", "bed Lower 4, cut up to 2026-06-03 06:00"},
		{domain.TraceStart{BedID: id}, "Lower 4", "bed Lower 4"},
		{domain.TraceStart{CustomerID: id, On: on}, "Copper Ladle", "customer Copper Ladle, delivered on 2026-06-06"},
		{domain.TraceStart{InputLotID: id}, "Pellets, lot K7, Old Mill Dairy", "delivery Pellets, lot K7, Old Mill Dairy"},
		{domain.TraceStart{InputID: id}, "Pellets", "input Pellets, all deliveries"},
		{domain.TraceStart{CompostBatchID: id}, "Heap 1", "compost batch Heap 1"},
		{domain.TraceStart{PersonID: id, From: from, To: to}, "Luis", "the work of one person, whose name is in the book, done from 2026-06-02 00:00 to 2026-06-03 06:00"},
		{domain.TraceStart{Crop: "Chard", On: on}, "", "Chard, cut or packed on 2026-06-06"},
		{domain.TraceStart{Supplier: "Old Mill Dairy"}, "", "supplier Old Mill Dairy"},
		{domain.TraceStart{Reference: "1182"}, "", "paper 1182"},
		{domain.TraceStart{}, "", "not on record"},
	} {
		p := recallPaper(t, false)
		p.Recall.Start, p.StartName = x.start, x.name
		if got := (recallReport{RecallPaper: p, zone: farmZone(p.Farm)}).start(); got != x.want {
			t.Errorf("%q, want %q", got, x.want)
		}
	}
	p := recallPaper(t, false)
	p.Recall.Start, p.StartName = domain.TraceStart{WaterSourceID: id, From: from}, "Shed well"
	if text := strings.Join(strings.Fields(shownText(t, recallBytes(t, p))), " "); !strings.Contains(text, "water source Shed well, used from 2026-06-02 00:00") {
		t.Errorf("the paper does not name its start:\n%s", text)
	}
}
