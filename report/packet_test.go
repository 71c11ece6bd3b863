package report

import (
	"archive/zip"
	"bytes"
	"compress/zlib"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
	"unicode/utf16"

	"github.com/google/uuid"
	"github.com/xuri/excelize/v2"
	"pgregory.net/rapid"

	"croftmark/domain"
)

// samplePacket is the packet of domain's tests, read from its golden file.
func samplePacket(t testing.TB) *domain.Packet {
	t.Helper()
	raw, err := os.ReadFile("../domain/testdata/packet-spinach.json")
	if err != nil {
		t.Fatal(err)
	}
	var p domain.Packet
	if err := json.Unmarshal(raw, &p); err != nil {
		t.Fatal(err)
	}
	return &p
}

type fataler interface{ Fatalf(string, ...any) }

func packetFile(t fataler, write func(io.Writer, *domain.Packet) error, p *domain.Packet) []byte {
	var b bytes.Buffer
	if err := write(&b, p); err != nil {
		t.Fatalf("%v", err)
	}
	return b.Bytes()
}

func letterPDF(w io.Writer, p *domain.Packet) error { return PacketPDF(w, p, Letter) }

var (
	pdfStream = regexp.MustCompile(`(?s)stream\n(.*?)\nendstream`)
	pdfString = regexp.MustCompile(`(?s)\(((?:\\.|[^\\)])*)\) Tj`)
	pdfEscape = regexp.MustCompile(`(?s)\\(.)`)
)

// pageStreams takes the pages out of a PDF of ours, inflated.
func pageStreams(t fataler, pdf []byte) (pages [][]byte) {
	for _, m := range pdfStream.FindAllSubmatch(pdf, -1) {
		z, err := zlib.NewReader(bytes.NewReader(m[1]))
		if err != nil {
			continue // not compressed: no page
		}
		page, err := io.ReadAll(z)
		if err != nil {
			t.Fatalf("stream of the PDF: %v", err)
		}
		if pdfString.Match(page) { // fonts show no text
			pages = append(pages, page)
		}
	}
	return pages
}

// pageTexts gives the text of each page; its strings are of UTF-16.
func pageTexts(t fataler, pdf []byte) (texts []string) {
	for _, page := range pageStreams(t, pdf) {
		var lines []string
		for _, s := range pdfString.FindAllSubmatch(page, -1) {
			raw := pdfEscape.ReplaceAllFunc(s[1], func(b []byte) []byte {
				if b[1] == 'r' {
					return []byte("\r")
				}
				return b[1:]
			})
			var units []uint16
			for i := 0; i+1 < len(raw); i += 2 {
				units = append(units, uint16(raw[i])<<8|uint16(raw[i+1]))
			}
			lines = append(lines, string(utf16.Decode(units)))
		}
		texts = append(texts, strings.Join(lines, "\n"))
	}
	return texts
}

func shownText(t fataler, pdf []byte) string { return strings.Join(pageTexts(t, pdf), "\n") }

// paleText finds text that a page shows in another fill than black, by following its fills and q, Q (ISO 32000-1, 8.4.2).
func paleText(page []byte) (pale []string) {
	fill, saved := "0", []string{}
	for _, m := range pdfFill.FindAllSubmatch(page, -1) {
		switch op := string(m[0]); {
		case op == "q" || op == "Q" && len(saved) > 0:
			if op == "q" {
				saved = append(saved, fill)
			} else {
				fill, saved = saved[len(saved)-1], saved[:len(saved)-1]
			}
		case len(m[1]) > 0:
			fill = strings.TrimRight(string(m[1]), "0.")
			if fill == "" {
				fill = "0"
			}
		case strings.HasSuffix(op, "Tj") && fill != "0":
			pale = append(pale, fill)
		}
	}
	return pale
}

// pdfFill takes strings first, so that letters in them are no operators.
var pdfFill = regexp.MustCompile(`(?s)\((?:\\.|[^\\)])*\) Tj|\bq\b|\bQ\b|([0-9.]+) g\b`)

func TestTextOfEveryPaperIsBlack(t *testing.T) {
	t.Parallel()
	compost, water := &bytes.Buffer{}, &bytes.Buffer{}
	if err := errors.Join(CompostPDF(compost, compostPaper(fullBatch(t), "")), WaterPDF(water, waterPaper(well(t), ""))); err != nil {
		t.Fatal(err)
	}
	for name, file := range map[string][]byte{"plan": planBytes(t, planPaper("")), "packet": packetFile(t, letterPDF, samplePacket(t)),
		"recall": recallBytes(t, recallPaper(t, true)), "compost": compost.Bytes(), "water": water.Bytes()} {
		for i, page := range pageStreams(t, file) {
			if pale := paleText(page); len(pale) > 0 {
				t.Errorf("%s, page %d: %d strings are not black: %v", name, i+1, len(pale), pale)
			}
		}
	}
}

func TestPacketPaperSaysWhatItMust(t *testing.T) {
	t.Parallel()
	p := samplePacket(t)
	text := shownText(t, packetFile(t, letterPDF, p))
	flat := strings.Join(strings.Fields(text), " ")
	for _, want := range []string{
		"It was cut on 15 June from Lower Bench 2 and 3", "Known gaps", "The van's temperature on 16 June was not written down.",
		"Lower Bench B", "Raw cow manure", "120 days are asked for; 224 went by.", "NO RESULT YET", "cold water", "book entry 408",
		"none on record", "Granite State Pellet", "96.67", "Copper Kettle Co-op", "Ines Duarte", "BOL-0417", "same wash tank", "still held",
		"Two digits swapped on the phone", "Phone was wet", "f26101db", "Index of pages", "Health facts are private",
		"Checkpoint of the book: croftmark/7QK2, 433 entries, root",
	} {
		if !strings.Contains(flat, want) {
			t.Errorf("the paper does not say %q", want)
		}
	}
	// The order of a good answer: record forms 4.2.
	last := -1
	for i, title := range []string{"1. The question and the answer", "2. The way of the food", "3. Harvest", "4. The ground", "5. Water", "6. Handling", "7. People", "8. Seed",
		"9. Mass balance", "10. Where it went", "11. Other lots", "12. Holds", "13. Records", "14. Index"} {
		at := strings.Index(text, "\n"+title)
		if at <= last {
			t.Errorf("part %d, %q, is missing or out of order", i+1, title)
		}
		last = at
	}
	pages := strings.Count(text, "page ")
	for n := 1; n <= pages; n++ {
		if !strings.Contains(text, fmt.Sprintf("page %d of ", n)) && n <= 4 {
			t.Errorf("page %d is not numbered", n)
		}
	}
}

func TestPacketPaperForNothing(t *testing.T) {
	t.Parallel()
	var b bytes.Buffer
	if err := PacketPDF(&b, &domain.Packet{}, Letter); err == nil || b.Len() > 0 {
		t.Errorf("a packet without farm and time gives %d bytes, %v", b.Len(), err)
	}
	p := &domain.Packet{MadeAt: samplePacket(t).MadeAt, Farm: domain.PacketFarm{Name: "Fernglade Acres"}, Audience: domain.PacketAudience{Kind: domain.ForAuthority}}
	text := shownText(t, packetFile(t, letterPDF, p))
	for _, want := range []string{"The book found no lot for this question.", "Nothing left the farm.", "not written"} {
		if !strings.Contains(text, want) {
			t.Errorf("an empty packet does not say %q", want)
		}
	}
}

func TestPacketFilesAreAlwaysTheSame(t *testing.T) {
	t.Parallel()
	for name, write := range map[string]func(io.Writer, *domain.Packet) error{"PDF": letterPDF, "CSV": PacketCSV} {
		if !bytes.Equal(packetFile(t, write, samplePacket(t)), packetFile(t, write, samplePacket(t))) {
			t.Errorf("the same packet gives another %s", name)
		}
	}
}

// Every box must stand on the page and be wide enough for its words, and no two may overlap; also when there is more of
// everything than anybody has.
func TestChainStaysReadable(t *testing.T) {
	t.Parallel()
	big := samplePacket(t)
	for i := range 30 {
		id := uuid.UUID{0: 9, 15: byte(i)}
		big.Customers = append(big.Customers, domain.PacketCustomer{ID: id, Name: fmt.Sprintf("Customer with quite a long name %d", i)})
		big.Crates = append(big.Crates, domain.PacketCrate{Code: fmt.Sprint("x", i), Lot: big.Lots[3].Code, Number: 100 + 2*i, Where: domain.CrateShipped, CustomerID: id})
		big.Beds = append(big.Beds, domain.PacketBed{ID: id, Name: fmt.Sprintf("Bed %d", i)})
		big.Lots[0].BedIDs = append(big.Lots[0].BedIDs, id)
	}
	loop := samplePacket(t)
	loop.Lots[3].Parents[0].Code = loop.Lots[5].Code // a lot that comes from itself must not hang the drawing
	sample := samplePacket(t)
	for name, p := range map[string]*domain.Packet{"sample": sample, "buyer": sample.ForBuyer(sample.Customers[1].ID), "large": big, "loop": loop, "empty": {}} {
		c := chainOf(p)
		d := c.draw(522, 6.5)
		if name == "sample" && d.height > 520 {
			t.Errorf("the sample takes %.0f points of a page", d.height)
		}
		rows := map[int][]*chainBox{}
		for _, b := range c.boxes {
			if b.x < 0 || b.x+b.width > 522.01 {
				t.Errorf("%s: box %v leaves the page", name, b.lines)
			}
			if !b.bend && b.width < 58 {
				t.Errorf("%s: box %v is %.0f points wide", name, b.lines, b.width)
			}
			for _, o := range rows[b.level] {
				if b.x < o.x+o.width && o.x < b.x+b.width {
					t.Errorf("%s: boxes %v and %v overlap", name, b.lines, o.lines)
				}
			}
			rows[b.level] = append(rows[b.level], b)
		}
	}
	said := chainOf(sample).draw(522, 6.5).desc
	for _, want := range []string{"17 crates", "no. 1–10", "Copper Kettle Co-op Warehouse", "3 crates", "no. 16 disposed of", "no. 20–21 on hand", "Well 1", "Ridgeline Seed", "Lower Bench 3"} {
		if !strings.Contains(said, want) {
			t.Errorf("the drawing does not say %q: %s", want, said)
		}
	}
}

func TestRuns(t *testing.T) {
	t.Parallel()
	for want, numbers := range map[string][]int{"": nil, "3": {3}, "1–3": {1, 2, 3}, "1–2, 4, 7–8": {1, 2, 4, 7, 8}} {
		if got := domain.NumberRuns(numbers); got != want {
			t.Errorf("%v is written %q, want %q", numbers, got, want)
		}
	}
}

func TestWorkbookIsTypedAndSortable(t *testing.T) {
	t.Parallel()
	p := samplePacket(t)
	p.Lots[0].Variety = `=HYPERLINK("http://example.org","x")`
	f, err := excelize.OpenReader(bytes.NewReader(packetFile(t, PacketXLSX, p)))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	want := []string{"about", "harvest", "cooling", "initial packing", "shipping", "receiving", "transformation", "growing areas", "mass balance", "gaps", "key", "words"}
	if got := f.GetSheetList(); !slices.Equal(got, want) {
		t.Errorf("sheets %v, want %v", got, want)
	}
	for _, name := range f.GetSheetList() {
		panes, err := f.GetPanes(name)
		if err != nil || !panes.Freeze || panes.YSplit != 1 {
			t.Errorf("%s: the header does not stay in sight: %+v, %v", name, panes, err)
		}
		if merged, err := f.GetMergeCells(name); err != nil || len(merged) > 0 {
			t.Errorf("%s has merged cells", name)
		}
		dimension, err := f.GetSheetDimension(name)
		if err != nil {
			t.Error(err)
		}
		rows, err := f.GetRows(name)
		if err != nil || len(rows) < 2 {
			t.Errorf("%s has no rows (%s), %v", name, dimension, err)
		}
	}
	filters := 0
	for _, name := range f.GetDefinedName() {
		if strings.Contains(name.Name, "FilterDatabase") {
			filters++
		}
	}
	if filters != len(want) {
		t.Errorf("%d sheets have a filter, want %d", filters, len(want))
	}
	table := domain.KDETables(p)[0]
	cell := func(column string) string {
		at, err := excelize.CoordinatesToCellName(table.Column(column)+1, 2)
		if err != nil {
			t.Fatal(err)
		}
		return at
	}
	kind := func(column string) (excelize.CellType, string) {
		k, err := f.GetCellType("harvest", cell(column))
		if err != nil {
			t.Fatal(err)
		}
		v, err := f.GetCellValue("harvest", cell(column))
		if err != nil {
			t.Fatal(err)
		}
		return k, v
	}
	isNumber := func(k excelize.CellType) bool { return k == excelize.CellTypeUnset || k == excelize.CellTypeNumber }
	if k, v := kind("qty"); !isNumber(k) || v != "98" {
		t.Errorf("the quantity is %q of type %v", v, k)
	}
	if k, v := kind("harvest_date"); !isNumber(k) || v != "2026-06-15" {
		t.Errorf("the date is shown as %q of type %v", v, k)
	}
	if raw, err := f.GetCellValue("harvest", cell("harvest_date"), excelize.Options{RawCellValue: true}); err != nil || raw != "46188" { // days since 1899-12-30
		t.Errorf("the date is %q, %v", raw, err)
	}
	if k, v := kind("variety"); isNumber(k) || k == excelize.CellTypeFormula || v != `'=HYPERLINK("http://example.org","x")` {
		t.Errorf("a formula typed as a variety is %q of type %v", v, k)
	}
	if formula, err := f.GetCellFormula("harvest", cell("variety")); err != nil || formula != "" {
		t.Errorf("a variety became the formula %q", formula)
	}
	if _, v := kind("harvester_phone"); v != "+1-802-555-0142" {
		t.Errorf("the phone is %q", v)
	}
	shipping := domain.KDETables(p)[3]
	at, _ := excelize.CoordinatesToCellName(shipping.Column("shipped_at")+1, 2)
	if v, err := f.GetCellValue("shipping", at); err != nil || v != "2026-06-16 10:02" { // of the farm's clock
		t.Errorf("the hour is %q, %v", v, err)
	}
}

func TestCSVFollowsTheRules(t *testing.T) {
	t.Parallel()
	p := samplePacket(t)
	p.Lots[0].Variety = "@SUM(A1)\n\"quoted\", with comma"
	raw := packetFile(t, PacketCSV, p)
	z, err := zip.NewReader(bytes.NewReader(raw), int64(len(raw)))
	if err != nil {
		t.Fatal(err)
	}
	if len(z.File) != 12 || z.File[1].Name != "02-harvest.csv" {
		t.Errorf("%d files, the second is %s", len(z.File), z.File[1].Name)
	}
	for _, file := range z.File {
		r, err := file.Open()
		if err != nil {
			t.Fatal(err)
		}
		body, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		if bytes.Count(body, []byte("\n")) != bytes.Count(body, []byte("\r\n")) {
			t.Errorf("%s has a line that does not end with CRLF", file.Name) // RFC 4180 section 2
		}
		rows, err := csv.NewReader(bytes.NewReader(body)).ReadAll() // refuses rows of other lengths
		if err != nil || len(rows) < 2 {
			t.Errorf("%s: %d rows, %v", file.Name, len(rows), err)
		}
		for _, row := range rows {
			for _, cell := range row {
				if cell != "" && strings.ContainsRune("=+@\t\r", rune(cell[0])) {
					t.Errorf("%s holds the unguarded cell %q", file.Name, cell)
				}
			}
		}
		if file.Name == "02-harvest.csv" {
			head, first := rows[0], rows[1]
			if got := first[slices.Index(head, "variety")]; got != `'@SUM(A1) "quoted", with comma` {
				t.Errorf("variety is %q", got)
			}
			if got := first[slices.Index(head, "harvest_date")]; got != "2026-06-15" {
				t.Errorf("date is %q", got)
			}
		}
		if file.Name == "08-growing-areas.csv" && rows[1][slices.Index(rows[0], "longitude")] != "-72.881" {
			t.Errorf("a longitude west is %q", rows[1])
		}
	}
}

func TestGuarded(t *testing.T) {
	t.Parallel()
	for _, bad := range []string{"=1+1", "+1", "-1", "@x", "\t=1", "\r=1", "＝1", "|calc"} {
		if got := guarded(bad); got != "'"+bad {
			t.Errorf("%q becomes %q", bad, got)
		}
	}
	for _, good := range []string{"", "lot-1", "3 lb", "'quoted"} {
		if got := guarded(good); got != good {
			t.Errorf("%q becomes %q", good, got)
		}
	}
}

// A leak is a packet with the words that tell who other buyers are, typed wherever somebody could type them.
type leak struct {
	packet  *domain.Packet
	buyer   string
	secrets []string
}

func drawLeak(t *rapid.T) leak {
	drawn := map[string]bool{} // no two customers share a word: one that is also the buyer's own would be no secret
	fresh := func(pattern, name string) string {
		s := rapid.StringMatching(pattern).Filter(func(s string) bool { return !drawn[s] }).Draw(t, name)
		drawn[s] = true
		return s
	}
	word := func(name string) string { return fresh(`[A-Z][a-z]{2}[qxz][a-z]{4}[qxz]`, name) }
	p := samplePacketOf(t)
	buyer := rapid.SampledFrom(p.Customers).Draw(t, "buyer").ID
	p.Audience = domain.PacketAudience{Kind: domain.ForOneBuyer, CustomerID: buyer}
	var secrets, told []string
	for i := range p.Customers {
		c := &p.Customers[i]
		c.Name, c.Contact, c.Phone = word("name"), word("contact"), fresh(`[1-9]{3}-555-[0-9]{4}`, "phone")
		c.Email, c.Address = word("mail")+"@example.org", fresh(`[1-9][0-9]{4}`, "house")+" "+word("street")
		mine := []string{c.Name, c.Contact, c.Phone, c.Email, c.Address}
		for j := range p.Moves {
			if p.Moves[j].CustomerID == c.ID {
				p.Moves[j].Reference.Number = "R" + fresh(`[0-9]{9}`, "paper")
				mine = append(mine, p.Moves[j].Reference.Number)
			}
		}
		told = append(told, mine...)
		if c.ID != buyer {
			secrets = append(secrets, mine...)
		}
	}
	gossip := strings.Join(told, " and ")
	p.Request.Answer, p.Corrections[0].Reason, p.Holds[0].Reason, p.KnownGaps = gossip, gossip, gossip, []string{gossip}
	p.Beds[0].Name, p.Lots[3].Place = p.Beds[0].Name+" near "+secrets[0], gossip
	return leak{p, p.Customer(buyer).Name, secrets}
}

// No paper or file of a buyer's packet holds what tells who another buyer is. The packet itself is searched many more
// times in domain; a paper takes a while to make.
func TestBuyersFilesNeverLeak(t *testing.T) {
	t.Parallel()
	cases := rapid.Custom(drawLeak)
	for seed := range 12 {
		x := cases.Example(seed)
		for name, text := range map[string]string{
			"the PDF":      strings.Join(strings.Fields(shownText(t, packetFile(t, letterPDF, x.packet))), " "),
			"the workbook": unzipped(t, packetFile(t, PacketXLSX, x.packet)),
			"the CSV":      unzipped(t, packetFile(t, PacketCSV, x.packet)),
		} {
			lower := strings.ToLower(text)
			for _, s := range x.secrets {
				if strings.Contains(lower, strings.ToLower(s)) {
					t.Errorf("seed %d: %s holds another buyer's %q", seed, name, s)
				}
			}
			if !strings.Contains(lower, strings.ToLower(x.buyer)) {
				t.Errorf("seed %d: %s does not name the buyer, so the search finds nothing at all", seed, name)
			}
		}
	}
}

func samplePacketOf(t fataler) *domain.Packet {
	raw, err := os.ReadFile("../domain/testdata/packet-spinach.json")
	if err != nil {
		t.Fatalf("%v", err)
	}
	var p domain.Packet
	if err := json.Unmarshal(raw, &p); err != nil {
		t.Fatalf("%v", err)
	}
	return &p
}

// unzipped joins the files of a zip.
func unzipped(t fataler, raw []byte) string {
	z, err := zip.NewReader(bytes.NewReader(raw), int64(len(raw)))
	if err != nil {
		t.Fatalf("%v", err)
	}
	var all strings.Builder
	for _, file := range z.File {
		r, err := file.Open()
		if err == nil {
			_, err = io.Copy(&all, r)
		}
		if err != nil {
			t.Fatalf("%v", err)
		}
	}
	return all.String()
}
