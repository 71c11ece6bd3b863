package domain

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"errors"
	"io"
	"slices"
	"strings"
	"unicode/utf8"
)

// An import takes a table that a farm kept elsewhere. The first row names the columns; things are named as people name
// them (plot, bed, crop, customer), never by id.
const (
	importMostRows    = 2000
	importMostBytes   = 4 << 20
	importLongestCell = 4000
)

// ImportKind is a noun that can be read in from a table.
type ImportKind string

// The kinds in the order in which a new book takes them.
const (
	ImportBeds         ImportKind = "beds"
	ImportCrops        ImportKind = "crops"
	ImportCustomers    ImportKind = "customers"
	ImportPlantings    ImportKind = "plantings"
	ImportApplications ImportKind = "applications"
	ImportHarvests     ImportKind = "harvests"
)

// importColumns lists each kind's columns; those with a star must be there.
var importColumns = map[ImportKind][]string{
	ImportBeds:         {"plot*", "name*", "from*", "length", "length_unit", "width", "width_unit", "note"},
	ImportCrops:        {"name*", "variety", "soil_contact", "catalogue_entry", "traceability_list_item", "rarely_consumed_raw", "leafy_green", "use", "days_to_harvest", "reason", "note"},
	ImportCustomers:    {"name*", "kind*", "contact", "phone", "email", "address", "note"},
	ImportPlantings:    {"crop*", "variety", "beds*", "planted_on*", "soil_contact", "reason", "method", "expected_harvest_on", "ended_on", "done_by", "note"},
	ImportApplications: {"input", "supplier_lot", "compost_batch", "beds", "plot", "applied_on*", "incorporated_on", "method*", "amount*", "unit*", "touched_crop", "days_to_harvest", "restricted_entry_hours", "done_by", "note"},
	ImportHarvests:     {"crop*", "variety", "planted_on", "beds*", "cut_on*", "quantity*", "unit*", "containers", "already_cut", "done_by", "note"},
}

// ImportColumns gives the names of a kind's columns, and which of them a table must have.
func ImportColumns(kind ImportKind) (all, needed []string) {
	for _, c := range importColumns[kind] {
		name, must := strings.CutSuffix(c, "*")
		all = append(all, name)
		if must {
			needed = append(needed, name)
		}
	}
	return all, needed
}

// ImportRow is one line of a table: its cells by column, empty ones left out, without the blanks around them.
type ImportRow struct {
	Line  int
	Cells map[string]string
}

// RowProblem says what is wrong, or worth a look, with one cell of a line.
type RowProblem struct {
	Line   int    `json:"line" doc:"Line of the file; the row of names is line 1."`
	Column string `json:"column,omitempty"`
	Detail string `json:"detail"`
}

// ParseImport reads a table of a kind. Lines that cannot be read are told among the problems and the others are still
// read, so that a person mends everything in one go. An error says that the whole file is not such a table.
func ParseImport(r io.Reader, kind ImportKind) (rows []ImportRow, bad []RowProblem, err error) {
	text := bufio.NewReaderSize(&boundedLines{r: r, most: importMostBytes}, csvLongestLine)
	head, err := text.Peek(csvLongestLine)
	if err != nil && !errors.Is(err, io.EOF) && len(head) == 0 {
		return nil, nil, err
	}
	if bytes.HasPrefix(head, []byte("\xff\xfe")) || bytes.HasPrefix(head, []byte("\xfe\xff")) {
		return nil, nil, Refuse(CodeInvalid, "Nothing imported", "The file is UTF-16 text. Save it as CSV UTF-8 and send it again.")
	}
	if bytes.HasPrefix(head, []byte("\xef\xbb\xbf")) {
		head = head[3:]
		_, _ = text.Discard(3) // the three bytes were just peeked
	}
	table := csv.NewReader(text)
	table.Comma, table.FieldsPerRecord = separator(head), -1
	header, err := table.Read()
	if err != nil {
		return nil, nil, csvError(err)
	}
	columns, err := importHeader(kind, header)
	if err != nil {
		return nil, nil, err
	}
	for {
		cells, err := table.Read()
		var syntax *csv.ParseError
		switch {
		case errors.Is(err, io.EOF):
			return rows, bad, nil
		case errors.As(err, &syntax):
			bad = append(bad, RowProblem{Line: syntax.StartLine, Detail: "The quotation marks do not pair up."})
			continue
		case err != nil:
			return nil, nil, csvError(err)
		}
		if len(rows)+len(bad) >= importMostRows {
			return nil, nil, Refuse(CodeTooLarge, "Nothing imported", "The file has more than %d rows. Send it in parts.", importMostRows)
		}
		line, _ := table.FieldPos(0)
		row, problems := importCells(line, columns, cells)
		bad = append(bad, problems...)
		if len(problems) == 0 && len(row.Cells) > 0 {
			rows = append(rows, row)
		}
	}
}

// importHeader holds the row of names to the kind's columns.
func importHeader(kind ImportKind, header []string) ([]string, error) {
	all, needed := ImportColumns(kind)
	if all == nil {
		return nil, NotFound("import of", string(kind))
	}
	var p Problems
	var columns []string
	for _, name := range header {
		name = strings.ToLower(strings.ReplaceAll(strings.TrimSpace(name), " ", "_"))
		p.Check(slices.Contains(all, name), "/line=1", "There is no column %q for %s. The columns are: %s.", clip(name), kind, strings.Join(all, ", "))
		p.Check(!slices.Contains(columns, name), "/line=1", "The column %q is there twice.", clip(name))
		columns = append(columns, name)
	}
	for _, name := range needed {
		p.Check(slices.Contains(columns, name), "/line=1", "The column %q is missing.", name)
	}
	return columns, p.Err()
}

func importCells(line int, columns, cells []string) (row ImportRow, bad []RowProblem) {
	row = ImportRow{Line: line, Cells: map[string]string{}}
	for i, cell := range cells {
		cell = strings.TrimSpace(cell)
		switch {
		case cell == "":
		case i >= len(columns):
			bad = append(bad, RowProblem{line, "", "The line has more cells than the first row has names. Put text that holds the separator in quotation marks."})
			return row, bad
		case !utf8.ValidString(cell):
			bad = append(bad, RowProblem{line, columns[i], "The text is not valid UTF-8. Save the file as CSV UTF-8."})
		case utf8.RuneCountInString(cell) > importLongestCell:
			bad = append(bad, RowProblem{line, columns[i], "The text is too long."})
		default:
			row.Cells[columns[i]] = cell
		}
	}
	return row, bad
}
