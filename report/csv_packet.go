package report

import (
	"archive/zip"
	"encoding/csv"
	"fmt"
	"io"
	"strings"
	"time"

	"croftmark/domain"
)

// PacketCSV writes the packet's tables as a zip of CSV files: UTF-8, one header row, commas, CRLF, quotes doubled (RFC
// 4180). Dates are ISO 8601, hours carry their distance from UTC. The same packet always gives the same bytes.
func PacketCSV(w io.Writer, p *domain.Packet) error {
	z := zip.NewWriter(w)
	if err := addTables(z, p.ForAudience()); err != nil {
		return err
	}
	return z.Close()
}

// PacketZip is the tables with the files of the answer beside them, as they were sent. open gives the content of a file by
// its hash.
func PacketZip(w io.Writer, p *domain.Packet, open func(hash string) ([]byte, error)) error {
	p = p.ForAudience()
	z := zip.NewWriter(w)
	if err := addTables(z, p); err != nil {
		return err
	}
	for _, f := range p.Enclosed() {
		content, err := open(f.Hash)
		if err != nil {
			return err
		}
		file, err := z.CreateHeader(&zip.FileHeader{Name: f.Path(), Method: zip.Store, Modified: p.MadeAt.UTC().Truncate(time.Second)})
		if err != nil {
			return err
		}
		if _, err := file.Write(content); err != nil {
			return err
		}
	}
	return z.Close()
}

func addTables(z *zip.Writer, p *domain.Packet) error {
	for i, s := range sheets(p) {
		file, err := z.CreateHeader(&zip.FileHeader{Name: fmt.Sprintf("%02d-%s.csv", i+1, strings.ReplaceAll(s.name, " ", "-")),
			Method: zip.Deflate, Modified: p.MadeAt.UTC().Truncate(time.Second)})
		if err != nil {
			return err
		}
		if err := writeCSV(file, s, p.Zone()); err != nil {
			return err
		}
	}
	return nil
}

func writeCSV(w io.Writer, s sheet, zone *time.Location) error {
	out := csv.NewWriter(w)
	out.UseCRLF = true
	line := make([]string, len(s.columns))
	for i, c := range s.columns {
		line[i] = c.Name
	}
	if err := out.Write(line); err != nil {
		return err
	}
	for _, row := range s.rows {
		for i, cell := range row {
			line[i] = csvCell(s.columns[i].Kind, cell, zone)
		}
		if err := out.Write(line); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

func csvCell(kind domain.KDEKind, c domain.KDECell, zone *time.Location) string {
	switch {
	case c.Number.Valid:
		return c.Number.Decimal.String() // a number is no formula, also below zero
	case !c.Date.IsZero():
		return c.Date.String()
	case kind == domain.KDEInstant && !c.At.IsZero():
		return c.At.In(zone).Format(time.RFC3339)
	}
	return guarded(c.Text)
}
