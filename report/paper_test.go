//go:build external

package report

import (
	"bytes"
	"fmt"
	"image/png"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"croftmark/domain"
)

// tool runs a program that the tests need; a test without it fails.
func tool(t testing.TB, name string, args ...string) string {
	t.Helper()
	var out, errs bytes.Buffer
	cmd := exec.Command(name, args...)
	cmd.Stdout, cmd.Stderr = &out, &errs
	if err := cmd.Run(); err != nil {
		t.Fatalf("%s %s: %v\n%s\nThe tests need poppler-utils and zbar-tools.", name, strings.Join(args, " "), err, errs.String())
	}
	return out.String()
}

// A printed paper is a PDF on disk.
type printed struct {
	file string
	raw  []byte
}

func printCompost(t testing.TB, p CompostPaper) printed {
	t.Helper()
	var b bytes.Buffer
	if err := CompostPDF(&b, p); err != nil {
		t.Fatal(err)
	}
	return keep(t, b.Bytes())
}

func printWater(t testing.TB, p WaterPaper) printed {
	t.Helper()
	var b bytes.Buffer
	if err := WaterPDF(&b, p); err != nil {
		t.Fatal(err)
	}
	return keep(t, b.Bytes())
}

func keep(t testing.TB, raw []byte) printed {
	t.Helper()
	file := filepath.Join(t.TempDir(), "paper.pdf")
	if err := os.WriteFile(file, raw, 0o644); err != nil {
		t.Fatal(err)
	}
	return printed{file, raw}
}

func (p printed) pages(t testing.TB) []string {
	t.Helper()
	return strings.Split(strings.TrimSuffix(tool(t, "pdftotext", "-layout", p.file, "-"), "\f"), "\f")
}

// flat is the text with all white space as one blank, so that a sentence is found however its lines broke.
func (p printed) flat(t testing.TB) string {
	t.Helper()
	return strings.Join(strings.Fields(tool(t, "pdftotext", "-raw", p.file, "-")), " ")
}

func contains(t *testing.T, text string, wanted ...string) {
	t.Helper()
	for _, w := range wanted {
		if !strings.Contains(text, w) {
			t.Errorf("%q is not on the paper", w)
		}
	}
}

// plain is a sentence as flat gives it.
func plain(s string) string { return strings.Join(strings.Fields(s), " ") }

func TestCompostPaperSaysWhatItMust(t *testing.T) {
	t.Parallel()
	p := compostPaper(fullBatch(t), "")
	text := printCompost(t, p).flat(t)
	contains(t, text, "Lower Meadow Farm / Rancho El Ñandú", "Orchard Lane 14", "UNTREATED", "Organic rule", "7 CFR 205.203(c)(2)", "NOT MET", "MET on 2026-05-11",
		"21 CFR 112.54(b)", "cattle manure", "3.5 yd³", "memory; NRAES-54", "farm's own figures: moisture 12, N 0.7, C:N 80", "old hay from Peña's barn",
		"The organic rule asks for 25:1 to 40:1", "172.5 °F", "Josué Ávila", "Found in the pocket notebook a week later", "C:N of the whole afterwards: 29.4",
		"<1000 MPN/g", "ask: Not detected, but the method must be able to find 1", "done by", "reviewed by", "date", "in the book: María Peña, 2026-06-30", "no review in the book",
		"Known gaps", "Nobody read on: 2026-04-19 – 2026-04-20, 2026-05-21.", "No supervisor's review of this batch is on file.", "Tip was outside the heap",
		"core reads 1.5 °F too high", domain.RecordHelper)
	for _, r := range p.Results {
		for i, d := range r.CountedDays {
			contains(t, text, fmt.Sprintf("■ %d counts", i+1), d.String())
		}
		for _, m := range r.Missing {
			contains(t, text, plain(m.En))
		}
		for _, reason := range r.Reasons {
			contains(t, text, plain(reason))
		}
	}
	if strings.Contains(text, "%!") {
		t.Errorf("a sentence lacks its value")
	}
}

func TestCompostPaperInSpanish(t *testing.T) {
	t.Parallel()
	p := compostPaper(fullBatch(t), "es")
	text := printCompost(t, p).flat(t)
	contains(t, text, "SIN TRATAR", "CUMPLIDA el 2026-05-11", "Vacíos conocidos", "hecho por", "revisado por", "página 1 de", "Día por día", domain.RecordHelperEs, "certificadora",
		"Humedad", "Ñandú")
	for _, english := range []string{"Known gaps", "counts", "page 1", "Signatures", "not said"} {
		if strings.Contains(text, english) {
			t.Errorf("%q is English", english)
		}
	}
}

func TestWaterPaperSaysWhatItMust(t *testing.T) {
	t.Parallel()
	p := waterPaper(well(t), "")
	text := printWater(t, p).flat(t)
	contains(t, text, "Pozo Nº 1 (north well)", "ground water, not treated", "Wash tap", "Field hydrant", "STOP", "ASK", "21 CFR 112.44(a)", "DETECTED", "8.5 MPN/100mL",
		"pending", "cannot tell", "2 / 4", "2026-03-14 OVERDUE", "2027-03-16", "Cracked cap found and replaced", "fit again from 2026-03-16 09:00", "NOT FIT YET",
		"after the good sample of 2025-09-30 08:00", "counted as the limit", "126", "410", "no federal law since 2024-07-05", "same water through other pipes",
		"measures are needed", "Known gaps", "pending is not a pass", "done by", domain.RecordHelper, "Drilled 1998")
	for _, x := range domain.AllWaterFitness(p.Facts, p.At) {
		for _, r := range x.Reasons {
			contains(t, text, plain(r.Text))
		}
	}
	es := printWater(t, waterPaper(well(t), "es")).flat(t)
	contains(t, es, "ALTO", "DETECTADA", "Vacíos conocidos", "AÚN NO ES APTA", "contados como el límite", domain.RecordHelperEs)
	for _, page := range []string{text, es} {
		if strings.Contains(page, "%!") {
			t.Error("a sentence lacks its value")
		}
	}
}

// Each page can be held against the book alone.
func TestEveryPageCarriesItsProof(t *testing.T) {
	t.Parallel()
	p := compostPaper(fullBatch(t), "")
	paper := printCompost(t, p)
	pages := paper.pages(t)
	dir := t.TempDir()
	tool(t, "pdftoppm", "-r", "150", "-gray", "-png", paper.file, filepath.Join(dir, "p"))
	images, err := filepath.Glob(filepath.Join(dir, "*.png"))
	if err != nil || len(images) != len(pages) || len(pages) < 3 {
		t.Fatalf("%d pages of text, %d drawn, %v", len(pages), len(images), err)
	}
	for i, page := range pages {
		contains(t, page, fmt.Sprintf("page %d of %d", i+1, len(pages)), "Made 2026-07-02 10:05 (UTC-04:00).", "croftmark/7QK2, 4127 entries", p.Checkpoint.Root,
			domain.RecordHelper, p.Farm, "Orchard Lane 14", "Compost batch C-2026-03", "readings 2026-04-10 to 2026-06-08")
		if got := strings.TrimSuffix(tool(t, "zbarimg", "--raw", "-q", images[i]), "\n"); got != p.Checkpoint.Lines() {
			t.Errorf("page %d: the symbol reads %q", i+1, got)
		}
	}
}

func TestPageSizes(t *testing.T) {
	t.Parallel()
	for size, want := range map[PageSize]string{{}: "612 x 792 pts (letter)", Letter: "612 x 792 pts (letter)", A4: "595.28 x 841.89 pts (A4)"} {
		p := waterPaper(well(t), "")
		p.Size = size
		info := tool(t, "pdfinfo", printWater(t, p).file)
		if got := regexp.MustCompile(`Page size:\s+(.*)`).FindStringSubmatch(info); got == nil || got[1] != want {
			t.Errorf("%v: %q, want %q", size, got, want)
		}
		contains(t, info, "Pozo Nº 1 (north well)")
	}
}

func TestPapersAreAlwaysTheSame(t *testing.T) {
	t.Parallel()
	first, source := printCompost(t, compostPaper(fullBatch(t), "")).raw, printWater(t, waterPaper(well(t), "es")).raw
	for range 3 {
		if !bytes.Equal(first, printCompost(t, compostPaper(fullBatch(t), "")).raw) || !bytes.Equal(source, printWater(t, waterPaper(well(t), "es")).raw) {
			t.Fatal("the same paper has other bytes")
		}
	}
}

// hard is a batch in which every name and note is as long and as awkward as the book allows.
func hard(t testing.TB) CompostPaper {
	f := fullBatch(t)
	long, word := strings.Repeat("Señor Ñandú's north-western heap ", 3), strings.Repeat("estiércol", 13)
	for i := range f.Readings {
		f.Readings[i].Probe = word[:len(word)-2] + f.Readings[i].Probe
	}
	f.Points = nil
	f.Ingredients[2].Feedstock = word
	f.Additions[1].Ingredient.Feedstock, f.Additions[1].Note = word, strings.Repeat(long, 40)
	f.Contaminations = []domain.Contamination{{On: start0.AddDays(52), What: domain.LocalText{En: long + word, Es: word}}}
	p := compostPaper(f, "")
	p.Farm, p.Address, p.Batch.Code = word+long, strings.Repeat(long, 4), word+word
	p.Batch.Note = strings.Repeat(long+word, 20)
	p.People = map[uuid.UUID]string{maria: word, josue: long + long}
	p.Signatures.DoneBy.Name = word + word + word
	p.Checkpoint.Origin = "croftmark/" + word[:60]
	return p
}

// word is one word of pdftotext -bbox.
var wordBox = regexp.MustCompile(`<(page|word)(?: xMin="([\d.-]+)" yMin="([\d.-]+)" xMax="([\d.-]+)" yMax="([\d.-]+)"| width="([\d.]+)" height="([\d.]+)")>`)

func TestNothingLeavesThePage(t *testing.T) {
	t.Parallel()
	w := waterPaper(well(t), "es")
	w.Facts.Source.Name = strings.Repeat("pozo", 30)
	w.Facts.Source.Points[0].Tap = strings.Repeat("llavedellavadero", 7)
	w.Size = A4
	crowded := hard(t)
	for i := range 60 {
		crowded.Facts.Contaminations = append(crowded.Facts.Contaminations, domain.Contamination{On: start0.AddDays(i), What: domain.LocalText{En: "birds on the heap, again and again and again"}})
	}
	for name, paper := range map[string]printed{"batch": printCompost(t, hard(t)), "crowded": printCompost(t, crowded), "source": printWater(t, w), "plain": printCompost(t, compostPaper(fullBatch(t), ""))} {
		words, width, height := 0, 0.0, 0.0
		for _, m := range wordBox.FindAllStringSubmatch(tool(t, "pdftotext", "-bbox", paper.file, "-"), -1) {
			number := func(i int) float64 { x, _ := strconv.ParseFloat(m[i], 64); return x }
			if m[1] == "page" {
				width, height = number(6), number(7)
				continue
			}
			words++
			if number(2) < margin-1 || number(4) > width-margin+1 || number(3) < 18 || number(5) > height-18 {
				t.Errorf("%s: a word stands at %s,%s to %s,%s on a page of %v by %v", name, m[2], m[3], m[4], m[5], width, height)
			}
		}
		if words < 300 {
			t.Errorf("%s: only %d words", name, words)
		}
	}
}

// A row stands whole on one page, and every page of a table begins with its heads.
func TestRowsAreNeverSplit(t *testing.T) {
	t.Parallel()
	const rows = 70
	body := func(d *document) {
		tb := table{columns: []column{{"Number", 1}, {"HEADOFTHETABLE", 2}}}
		for i := range rows {
			var lines []string
			for k := range i%7 + 1 {
				lines = append(lines, fmt.Sprintf("row%dline%d", i, k))
			}
			tb.rows = append(tb.rows, []string{fmt.Sprint(i), strings.Join(lines, "\n")})
		}
		d.heading("A table")
		d.table(tb)
	}
	var b bytes.Buffer
	if err := (layout{paper: testPaper(""), zone: time.UTC, title: "Test", body: body}).write(&b); err != nil {
		t.Fatal(err)
	}
	pages := keep(t, b.Bytes()).pages(t)
	if len(pages) < 4 {
		t.Fatalf("%d pages", len(pages))
	}
	for i := range rows {
		on := map[int]bool{}
		for k := range i%7 + 1 {
			for n, page := range pages {
				if regexp.MustCompile(fmt.Sprintf(`\brow%dline%d\b`, i, k)).MatchString(page) {
					on[n] = true
				}
			}
		}
		if len(on) != 1 {
			t.Errorf("row %d stands on %d pages", i, len(on))
		}
	}
	for n, page := range pages {
		if strings.Count(page, "HEADOFTHETABLE") != 1 {
			t.Errorf("page %d has the heads %d times", n+1, strings.Count(page, "HEADOFTHETABLE"))
		}
	}
}

// A row that no page could hold is cut, because losing it would be worse.
func TestARowHigherThanAPageLosesNothing(t *testing.T) {
	t.Parallel()
	var words []string
	for i := range 900 {
		words = append(words, fmt.Sprintf("w%dw", i))
	}
	body := func(d *document) {
		d.table(table{columns: []column{{"A", 1}, {"B", 9}}, rows: [][]string{{strings.Join(words, " "), "x"}}})
	}
	var b bytes.Buffer
	if err := (layout{paper: testPaper(""), zone: time.UTC, title: "Test", body: body}).write(&b); err != nil {
		t.Fatal(err)
	}
	text := keep(t, b.Bytes()).flat(t)
	contains(t, text, words...)
}

func TestGapsAreSaidPlainly(t *testing.T) {
	t.Parallel()
	p := compostPaper(domain.CompostFacts{Method: domain.AeratedStaticPile, StartedOn: start0,
		Ingredients: []domain.Ingredient{{Feedstock: "what the neighbour brought", Amount: domain.Q("2", "yd3")}}}, "")
	p.Checkpoint = Checkpoint{}
	p.Gaps = []string{"The notebook of April is lost."}
	p.Batch.Note = "王さん said so"
	text := printCompost(t, p).flat(t)
	contains(t, text, "No temperature is on file.", "give the moisture", "Whether every ingredient is plant or animal is not on file.", "No checkpoint of the book was given",
		"The notebook of April is lost.", "Curing is not on file.", "3 letters that this paper has no type for stand as □.", "□□□ said so", "No lab test is on file.", "this sheet cannot be held against it")
}

func TestPapersRefuseToBeNobodys(t *testing.T) {
	t.Parallel()
	for name, change := range map[string]func(*Paper){
		"no farm": func(p *Paper) { p.Farm = " " },
		"no time": func(p *Paper) { p.Made = time.Time{} },
	} {
		c, w := compostPaper(windrow(t, 3), ""), waterPaper(well(t), "")
		change(&c.Paper)
		change(&w.Paper)
		var b bytes.Buffer
		if CompostPDF(&b, c) == nil || WaterPDF(&b, w) == nil || b.Len() > 0 {
			t.Errorf("%s: written, or %d bytes of it", name, b.Len())
		}
	}
	w := waterPaper(well(t), "")
	w.At = time.Time{}
	if err := WaterPDF(&bytes.Buffer{}, w); err == nil {
		t.Error("a report of water for no moment")
	}
}

// An accent typed after its letter is the same letter.
func TestLettersOfTheFarm(t *testing.T) {
	t.Parallel()
	for in, want := range map[string]string{"Pen\u0303a": "Peña", "ñ á ° ³ ≥ ≤ – □ ■": "ñ á ° ³ ≥ ≤ – □ ■", "a\tb\u00a0c\r\nd": "a b c\nd"} {
		if got, missing := printable(in); got != want || missing > 0 {
			t.Errorf("%q became %q with %d missing", in, got, missing)
		}
	}
	if got, missing := printable("🌱 lettuce"); got != "□ lettuce" || missing != 1 {
		t.Errorf("%q, %d", got, missing)
	}
}

func TestPapersAreGrey(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	tool(t, "pdftoppm", "-r", "40", "-png", printCompost(t, compostPaper(fullBatch(t), "")).file, filepath.Join(dir, "p"))
	images, _ := filepath.Glob(filepath.Join(dir, "*.png"))
	for _, file := range images {
		f, err := os.Open(file)
		if err != nil {
			t.Fatal(err)
		}
		page, err := png.Decode(f)
		f.Close()
		if err != nil {
			t.Fatal(err)
		}
		for y := range page.Bounds().Dy() {
			for x := range page.Bounds().Dx() {
				if r, g, b, _ := page.At(x, y).RGBA(); r != g || g != b {
					t.Fatalf("%s is coloured at %d,%d", file, x, y)
				}
			}
		}
	}
}

// A recording thermometer for every point, every minute for four weeks.
func TestTwoHundredThousandReadings(t *testing.T) {
	t.Parallel()
	z := zone(t, "America/New_York")
	f := domain.CompostFacts{Method: domain.InVessel, StartedOn: start0, Zone: z, Ingredients: recipe()}
	for k := range 5 {
		for i := range 40_000 {
			heat := 1400 + int(90*float64((i*7919)%200-100)/100)
			if k == 2 && i == 23_456 {
				heat = 1987
			}
			f.Readings = append(f.Readings, domain.CompostReading{TakenAt: start0.In(z).Add(time.Duration(i) * time.Minute), Probe: fmt.Sprintf("logger %d", k+1),
				Temperature: domain.Quantity{Value: given(fmt.Sprintf("%d.%d", heat/10, heat%10)).Decimal, Unit: "degF"}, Logger: true})
		}
	}
	p := compostPaper(f, "")
	began := time.Now()
	raw := p.chart().SVG()
	paper := printCompost(t, p)
	if took := time.Since(began); took > 20*time.Second {
		t.Errorf("chart and paper took %s", took)
	}
	if len(raw) > 2<<20 || len(paper.raw) > 4<<20 {
		t.Errorf("the chart has %d bytes and the paper %d", len(raw), len(paper.raw))
	}
	if text := svgText(t, raw); !strings.Contains(text["desc"][0], "hottest 198.7 °F at logger 3") {
		t.Errorf("%s", text["desc"][0])
	}
	drawn := p.chart().draw(360, 11, true)
	top := drawn.height
	for _, s := range drawn.shapes {
		if line, ok := s.(path); ok && line.weight == seriesWeight && len(line.points) > 50 {
			for _, at := range line.points {
				top = min(top, at.y)
			}
		}
	}
	low, high := 90.0, 200.0
	head, foot := 11*4.4, 11*4.4+11*23
	if want := foot - (198.7-low)/(high-low)*(foot-head); top > want+0.1 {
		t.Errorf("the hottest reading is drawn at %.1f, want %.1f", top, want)
	}
}
