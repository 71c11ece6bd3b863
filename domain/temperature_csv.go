package domain

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"
	"unicode/utf8"
)

// TemperatureMapping says how to read a logger's file, whose first row names the columns. Either Probes gives a column
// per probe, or Probe and Temperature name the column with the probe's name and the one with the temperature.
type TemperatureMapping struct {
	Time        string        `json:"time"`
	Probes      []ProbeColumn `json:"probes,omitempty"`
	Probe       string        `json:"probe,omitempty"`
	Temperature string        `json:"temperature,omitempty"`
	Unit        Unit          `json:"unit"`
	// Clock is how the times are written. Times without an offset are on the zone's clock.
	Clock ClockFormat `json:"clock,omitempty"`
	// DecimalComma reads 55,5 as 55.5; in files that separate with semicolons a lone comma is one anyway.
	DecimalComma bool `json:"decimal_comma,omitempty"`
	// Progress, when set, is called every few thousand rows.
	Progress func(rows int) `json:"-"`
}

// ProbeColumn is the column of one probe; without Probe the column's name is the probe's.
type ProbeColumn struct {
	Column string `json:"column"`
	Probe  string `json:"probe,omitempty"`
}

// ImportReport is what was found in a file. With bad rows nothing is imported, and the report names them by line.
type ImportReport struct {
	Rows       int
	Readings   int
	Empty      int // cells without a temperature in a column per probe
	Duplicates int // rows that repeat a probe, an instant and a temperature; kept once
	OutOfOrder int // readings earlier than the one before of the same probe; put in order
	Doubled    int // readings in the hour that the autumn clock change runs through twice
	Gaps       []ReadingGap
	GapCount   int
	Bad        []BadRow
	BadCount   int
}

// ReadingGap is a time of more than two hours without a sample of a probe.
type ReadingGap struct {
	Probe    string
	From, To time.Time
}

// BadRow is a line that cannot be read, and why.
type BadRow struct {
	Line int
	Why  LocalText
}

// ParseTemperatureCSV reads a logger's file. It imports all of it or nothing: on any error there are no readings, and
// the report lists the bad rows. Errors are CodeInvalid (mapping or rows) or CodeTooLarge; a failing reader's own error
// comes through. Readings come in order of time and probe, marked Logger where a probe has a sample at least every
// hour. A nil zone is UTC.
func ParseTemperatureCSV(r io.Reader, m TemperatureMapping, zone *time.Location) ([]CompostReading, ImportReport, error) {
	if zone == nil {
		zone = time.UTC
	}
	f := &temperatureFile{mapping: m, clock: newFarmClock(m.Clock, zone),
		seen: map[sampleKey]seenSample{}, last: map[string]time.Time{}, names: map[string]string{}}
	if err := m.check(); err != nil {
		return nil, f.report, err
	}
	if err := f.read(r); err != nil {
		return nil, f.report, err
	}
	if f.report.BadCount > 0 {
		return nil, f.report, f.badRows()
	}
	readings := f.finish()
	return readings, f.report, nil
}

func (m *TemperatureMapping) check() error {
	var p Problems
	p.Check(m.Time != "", "/time", "Name the column with the time.")
	p.Check(m.Unit == "degF" || m.Unit == "degC", "/unit", "Say in which unit the file is: degF or degC.")
	checkOneOf(&p, "/clock", m.Clock, ClockISO, ClockUS, ClockDayFirst)
	wide, long := len(m.Probes) > 0, m.Probe != "" || m.Temperature != ""
	p.Check(wide != long, "/probes", "Name a column per probe, or one column with the probe and one with the temperature.")
	p.Check(!long || (m.Probe != "" && m.Temperature != ""), "/probe", "Name both the column with the probe and the one with the temperature.")
	p.Check(len(m.Probes) <= csvMostColumns, "/probes", "At most %d probes fit one file.", csvMostColumns)
	names := map[string]bool{}
	for i, c := range m.Probes {
		pointer := fmt.Sprintf("/probes/%d", i)
		checkName(&p, pointer+"/column", c.Column)
		p.Check(!names[c.name()], pointer, "Two columns are named as probe %q.", c.name())
		names[c.name()] = true
	}
	return p.Err()
}

func (c ProbeColumn) name() string {
	if c.Probe != "" {
		return c.Probe
	}
	return c.Column
}

// temperatureFile is one file being read.
type temperatureFile struct {
	mapping  TemperatureMapping
	clock    *farmClock
	comma    bool // a comma in a number is a decimal comma
	columns  temperatureColumns
	readings []CompostReading
	seen     map[sampleKey]seenSample
	last     map[string]time.Time
	names    map[string]string
	report   ImportReport
}

func (f *temperatureFile) read(r io.Reader) error {
	text := bufio.NewReaderSize(&boundedLines{r: r, most: csvMostBytes}, csvLongestLine)
	head, err := text.Peek(csvLongestLine)
	if len(bytes.TrimSpace(head)) == 0 {
		if err != nil && !errors.Is(err, io.EOF) {
			return err
		}
		return Refuse(CodeInvalid, "Nothing imported", "The file is empty.")
	}
	if bytes.HasPrefix(head, []byte("\xef\xbb\xbf")) {
		head = head[3:]
		_, _ = text.Discard(3) // the three bytes were just peeked
	}
	if bytes.HasPrefix(head, []byte("\xff\xfe")) || bytes.HasPrefix(head, []byte("\xfe\xff")) {
		return Refuse(CodeInvalid, "Nothing imported", "The file is UTF-16 text. Save it as CSV UTF-8 and send it again.")
	}
	rows := csv.NewReader(text)
	rows.Comma, rows.FieldsPerRecord, rows.ReuseRecord = separator(head), -1, true
	f.comma = f.mapping.DecimalComma || rows.Comma == ';'
	header, err := rows.Read()
	if err != nil {
		return csvError(err)
	}
	if f.columns, err = f.mapping.find(header); err != nil {
		return err
	}
	return f.readRows(rows)
}

func (f *temperatureFile) readRows(rows *csv.Reader) error {
	for {
		record, err := rows.Read()
		var syntax *csv.ParseError
		switch {
		case errors.Is(err, io.EOF):
			return nil
		case errors.As(err, &syntax):
			f.bad(syntax.StartLine, say("The quotation marks do not pair up.", "Las comillas no están en pares."))
			continue
		case err != nil:
			return csvError(err)
		}
		line, _ := rows.FieldPos(0)
		f.report.Rows++
		if f.report.Rows > csvMostRows {
			return Refuse(CodeTooLarge, "Nothing imported", "The file has more than %d rows. Send it in parts.", csvMostRows)
		}
		f.row(line, record)
		if f.mapping.Progress != nil && f.report.Rows%5000 == 0 {
			f.mapping.Progress(f.report.Rows)
		}
	}
}

// separator is what the header row is divided by: semicolon, tab or comma, whichever stands there most.
func separator(head []byte) rune {
	line, _, _ := bytes.Cut(head, []byte("\n"))
	best := ','
	for _, c := range []rune{';', '\t'} {
		if bytes.Count(line, []byte(string(c))) > bytes.Count(line, []byte(string(best))) {
			best = c
		}
	}
	return best
}

// csvError passes our own refusals and the reader's errors on, and says a broken header in words.
func csvError(err error) error {
	var syntax *csv.ParseError
	if errors.As(err, &syntax) {
		return Refuse(CodeInvalid, "Nothing imported", "The first row cannot be read: the quotation marks do not pair up.")
	}
	if errors.Is(err, io.EOF) {
		return Refuse(CodeInvalid, "Nothing imported", "The file is empty.")
	}
	return err
}

func (f *temperatureFile) bad(line int, why LocalText) {
	f.report.BadCount++
	if len(f.report.Bad) < csvMostBad {
		f.report.Bad = append(f.report.Bad, BadRow{line, why})
	}
}

func (f *temperatureFile) badRows() error {
	var p Problems
	for _, b := range f.report.Bad {
		p.Add(fmt.Sprintf("/lines/%d", b.Line), "%s", b.Why.En)
	}
	if more := f.report.BadCount - len(f.report.Bad); more > 0 {
		p.Add("/lines", "%d more lines cannot be read.", more)
	}
	return p.Err()
}

// clip shortens a cell for a message.
func clip(s string) string {
	s = strings.ToValidUTF8(s, "�")
	if utf8.RuneCountInString(s) > 40 {
		return string([]rune(s)[:40]) + "…"
	}
	return s
}
