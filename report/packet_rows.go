package report

import (
	"slices"
	"strconv"
	"strings"

	"croftmark/domain"
)

// A sheet is a table of the answer with a name, before it becomes a sheet of a workbook or a file in a zip.
type sheet struct {
	name    string
	columns []domain.KDEColumn
	rows    [][]domain.KDECell
}

// sheets are the packet's tables: what it is about, one for each critical tracking event, the growing areas, the mass
// balance, the gaps, and the key to all of it.
func sheets(p *domain.Packet) []sheet {
	tables := domain.KDETables(p)
	out := []sheet{about(p)}
	for _, t := range tables {
		out = append(out, sheet{t.Event, t.Columns, t.Rows})
	}
	out = append(out, balanceSheet(p), gapSheet(p))
	if len(p.Files) > 0 {
		out = append(out, fileSheet(p))
	}
	return append(out, keySheet(tables), wordSheet())
}

func plainColumns(names ...string) (out []domain.KDEColumn) {
	for _, n := range names {
		kind := domain.KDEText
		if name, ok := strings.CutSuffix(n, "#"); ok {
			n, kind = name, domain.KDENumber
		}
		out = append(out, domain.KDEColumn{Name: n, Kind: kind, Need: domain.KDEOurs})
	}
	return out
}

func words(texts ...string) (row []domain.KDECell) {
	for _, s := range texts {
		row = append(row, domain.KDECell{Text: s})
	}
	return row
}

func about(p *domain.Packet) sheet {
	zone := p.Zone()
	s := sheet{name: "about", columns: plainColumns("what", "says")}
	add := func(what, says string) {
		if says != "" {
			s.rows = append(s.rows, words(what, says))
		}
	}
	add("Farm", p.Farm.Location())
	add("Contact", strings.TrimSpace(p.Farm.Contact+" "+p.Farm.ContactPhone))
	add("Question", p.Request.About)
	add("Asked by", p.Request.AskedBy)
	if !p.Request.AskedAt.IsZero() {
		add("Asked", instant(p.Request.AskedAt, zone))
	}
	add("Answer", p.Request.Answer)
	add("Made", instant(p.MadeAt, zone))
	add("Time zone of dates and hours", p.Farm.TimeZone)
	add("Rule", "Key data elements of 21 CFR 1.1325 to 1.1350; sortable spreadsheet of 21 CFR 1.1455(c)(3)(ii). The sheet \"key\" explains every column, \"words\" every code.")
	if p.Checkpoint.Root != "" {
		add("Checkpoint of the book", p.Checkpoint.Origin+" "+strconv.FormatInt(p.Checkpoint.Size, 10)+" "+p.Checkpoint.Root)
	}
	add("Withheld", withheldWords(p))
	add("Caution", domain.RecordHelper)
	return s
}

// withheldWords counts what a buyer's packet leaves out.
func withheldWords(p *domain.Packet) string {
	w := p.Withheld
	var parts []string
	add := func(n int, one, many string) {
		if n == 1 {
			parts = append(parts, "1 "+one)
		} else if n > 1 {
			parts = append(parts, strconv.Itoa(n)+" "+many)
		}
	}
	add(w.Customers, "other recipient", "other recipients")
	add(w.Moves, "movement to or from them", "movements to or from them")
	add(w.Crates, "crate", "crates")
	add(w.Corrections, "correction or late entry about them", "corrections and late entries about them")
	add(w.Proofs, "proof", "proofs")
	add(w.Files, "file", "files")
	if len(parts) == 0 {
		return ""
	}
	return "Names, contacts and papers of other recipients are withheld; the authority gets them on request. Left out: " + strings.Join(parts, ", ") + "."
}

func balanceSheet(p *domain.Packet) sheet {
	s := sheet{name: "mass balance", columns: plainColumns("lot", "unit", "made#", "on_hand#", "packed_on#", "shipped#", "returned#", "disposed#", "unexplained#", "accounted_pct#", "question")}
	for _, b := range p.Balance() {
		row := words(b.Lot, string(b.Unit))
		for _, v := range []domain.Quantity{{Value: b.Made}, {Value: b.OnHand}, {Value: b.PackedOn}, {Value: b.Shipped}, {Value: b.Returned}, {Value: b.Disposed}, {Value: b.Unexplained}, {Value: b.AccountedPct}} {
			c := domain.KDECell{}
			c.Number.Decimal, c.Number.Valid = v.Value, true
			row = append(row, c)
		}
		s.rows = append(s.rows, append(row, domain.KDECell{Text: b.Question}))
	}
	return s
}

func gapSheet(p *domain.Packet) sheet {
	s := sheet{name: "gaps", columns: plainColumns("gap")}
	for _, g := range p.Gaps() {
		s.rows = append(s.rows, words(g))
	}
	if len(s.rows) == 0 {
		s.rows = append(s.rows, words("None that the book can see."))
	}
	return s
}

// fileSheet lists the photos, lab reports and certificates, and where they are.
func fileSheet(p *domain.Packet) sheet {
	s := sheet{name: "files", columns: plainColumns("file", "name", "type", "belongs to", "entry", "sha256", "enclosed in the zip")}
	enclosed := map[string]bool{}
	for _, f := range p.Enclosed() {
		enclosed[f.Hash] = true
	}
	for _, f := range p.Files {
		of := make([]string, len(f.Of))
		for i, o := range f.Of {
			of[i] = strings.ReplaceAll(o.Kind, "-", " ") + " (entry " + strconv.FormatInt(o.Entry, 10) + ")"
		}
		here := "yes"
		if !enclosed[f.Hash] {
			here = "no, ask the farm for it"
		}
		s.rows = append(s.rows, words(f.Path(), f.Name, f.MediaType, strings.Join(of, "; "), strconv.FormatInt(f.Entry, 10), f.Hash, here))
	}
	return s
}

func keySheet(tables []domain.KDETable) sheet {
	s := sheet{name: "key", columns: plainColumns("sheet", "column", "element", "in plain words", "citation", "needed", "how far checked")}
	for _, k := range domain.KDEKey(tables) {
		s.rows = append(s.rows, words(k.Event, k.Column.Name, k.Column.Element, k.Column.Plain, k.Column.Citation, string(k.Column.Need), k.Column.Mark))
	}
	return s
}

func wordSheet() sheet {
	s := sheet{name: "words", columns: plainColumns("word", "meaning")}
	for _, w := range domain.KDEWords {
		s.rows = append(s.rows, words(w.Word, w.Meaning))
	}
	return s
}

// guarded puts an apostrophe before text that a spreadsheet would take for a formula when it opens the file (OWASP "CSV
// injection"; traceability reference 6: cells starting with = + - @). Tab and line ends at the front do the same harm.
func guarded(s string) string {
	if s != "" && strings.ContainsRune("=+-@\t\r\n|", rune(s[0])) || wideFormula(s) {
		return "'" + s
	}
	return s
}

// wideFormula finds the full-width forms of the same signs, which some spreadsheets read alike.
func wideFormula(s string) bool {
	return slices.ContainsFunc([]string{"＝", "＋", "－", "＠"}, func(sign string) bool { return strings.HasPrefix(s, sign) })
}
