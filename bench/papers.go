package main

import (
	"bytes"
	"context"
	"encoding/csv"
	"fmt"
	"io"
	"net/http"
	"strconv"
	"time"

	"github.com/go-pdf/fpdf"
	"github.com/jackc/pgx/v5"
	"github.com/xuri/excelize/v2"

	"croftmark/bench/rig"
)

// paper measures a document against drawing one as long without reading or deciding anything.
func (b *bench) paper(ctx context.Context, book *openBook, what, path string, times int, bare func([]byte) error, floorIs string) error {
	a, err := book.Send(ctx, http.MethodGet, path, nil)
	if err != nil {
		return err
	}
	if a.Status != http.StatusOK {
		return fmt.Errorf("%s: %d %.400s", path, a.Status, a.Body)
	}
	low, err := rig.Repeat(ctx, times, func(context.Context, int) error { return bare(a.Body) })
	if err != nil {
		return err
	}
	took, err := rig.Repeat(ctx, times, func(ctx context.Context, _ int) error { return book.Must(ctx, http.MethodGet, path, nil, nil) })
	if err != nil {
		return err
	}
	b.report.add(what+", "+book.name, "ms", ms(took.Quantile(0.5)), floor{ms(low.Quantile(0.5)), floorIs}, "")
	return nil
}

const barePagesIs = "as many pages of forty lines in a built-in font"

// pagesIn counts the pages of a PDF that this library wrote.
func pagesIn(pdf []byte) int { return bytes.Count(pdf, []byte("/Type /Page\n")) }

// barePages draws as many pages as a PDF has.
func barePages(like []byte) error {
	pages := pagesIn(like)
	if pages == 0 {
		return fmt.Errorf("a PDF without a page")
	}
	pdf := fpdf.New("P", "pt", "Letter", "")
	pdf.SetFont("Helvetica", "", 9)
	for page := range pages {
		pdf.AddPage()
		for line := range 40 {
			pdf.Text(40, float64(40+18*line), fmt.Sprintf("Line %d of page %d, about as long as one line of a paper for an inspector is", line+1, page+1))
		}
	}
	return pdf.Output(io.Discard)
}

const bareCellsIs = "the same cells in a plain workbook"

// bareCells gives a writer of the cells of a workbook into a new one; they are read before the clock runs.
func bareCells(like []byte) (func([]byte) error, error) {
	book, err := excelize.OpenReader(bytes.NewReader(like))
	if err != nil {
		return nil, err
	}
	defer book.Close()
	sheets := map[string][][]string{}
	for _, name := range book.GetSheetList() {
		if sheets[name], err = book.GetRows(name); err != nil {
			return nil, err
		}
	}
	return func([]byte) error { return writeCells(sheets) }, nil
}

func writeCells(sheets map[string][][]string) error {
	f := excelize.NewFile()
	defer f.Close()
	for name, rows := range sheets {
		if _, err := f.NewSheet(name); err != nil {
			return err
		}
		to, err := f.NewStreamWriter(name)
		if err != nil {
			return err
		}
		for i, row := range rows {
			cells := make([]any, len(row))
			for j, c := range row {
				cells[j] = c
			}
			if err := to.SetRow("A"+strconv.Itoa(i+1), cells); err != nil {
				return err
			}
		}
		if err := to.Flush(); err != nil {
			return err
		}
	}
	return f.Write(io.Discard)
}

// packets measures what answers a buyer about a crate.
func (b *bench) packets(ctx context.Context, book *openBook, packet string) error {
	if err := b.paper(ctx, book, "packet of a crate as PDF, p50", packet+".pdf", 5, barePages, barePagesIs); err != nil {
		return err
	}
	a, err := book.Send(ctx, http.MethodGet, packet+".xlsx", nil)
	if err != nil {
		return err
	}
	bare, err := bareCells(a.Body)
	if err != nil {
		return err
	}
	return b.paper(ctx, book, "packet of a crate as workbook, p50", packet+".xlsx", 5, bare, bareCellsIs)
}

// binder measures the binder of the last year.
func (b *bench) binder(ctx context.Context, book *openBook) error {
	const path = "/v1/binder.pdf?scope=organic"
	a, err := book.Send(ctx, http.MethodGet, path, nil)
	if err != nil {
		return err
	}
	return b.paper(ctx, book, fmt.Sprintf("binder of a year, %d pages, p50", pagesIn(a.Body)), path, 3, barePages, barePagesIs)
}

const readingCount = 200_000

// temperatures measures the reading in of a logger's file against parsing it and copying its rows into a bare table.
func (b *bench) temperatures(ctx context.Context, book *openBook, batch string) error {
	file := readings(book.Today, readingCount)
	if _, err := book.conn.Exec(ctx, `create table floor_readings (at timestamptz not null, probe smallint not null, value numeric not null, primary key (at, probe))`); err != nil {
		return err
	}
	began := time.Now()
	rows, err := bareReadings(file)
	if err != nil {
		return err
	}
	if _, err := book.conn.CopyFrom(ctx, pgx.Identifier{"floor_readings"}, []string{"at", "probe", "value"}, pgx.CopyFromRows(rows)); err != nil {
		return err
	}
	bare := time.Since(began)
	began = time.Now()
	path := "/v1/compost-batches/" + batch + "/temperatures.csv?time=when&probes=P1&probes=P2&probes=P3&probes=P4&unit=degF"
	if err := book.Must(ctx, http.MethodPost, path, file, nil); err != nil {
		return err
	}
	b.report.add(fmt.Sprintf("CSV of %d readings, %s", readingCount, book.name), "ms", ms(time.Since(began)), floor{ms(bare), "parsing the file, COPY of its rows"}, "")
	_, err = book.conn.Exec(ctx, `drop table floor_readings`)
	return err
}

func bareReadings(file rig.CSV) (rows [][]any, err error) {
	lines, err := csv.NewReader(bytes.NewReader(file)).ReadAll()
	if err != nil {
		return nil, err
	}
	for _, line := range lines[1:] {
		at, err := time.Parse(time.RFC3339, line[0])
		if err != nil {
			return nil, err
		}
		for probe, text := range line[1:] {
			value, err := strconv.ParseFloat(text, 64)
			if err != nil {
				return nil, err
			}
			rows = append(rows, []any{at, int16(probe), value})
		}
	}
	return rows, nil
}
