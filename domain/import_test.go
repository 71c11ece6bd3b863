package domain_test

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"croftmark/domain"
)

// anyName finds everything.
type anyName struct{}

func (anyName) Plot(string) (uuid.UUID, string)             { return nthID(1), "" }
func (anyName) Bed(string, domain.Date) (uuid.UUID, string) { return nthID(2), "" }
func (anyName) Crop(string, string) (uuid.UUID, string)     { return nthID(3), "" }
func (anyName) Planting(uuid.UUID, []uuid.UUID, domain.Date, domain.Date) (uuid.UUID, string) {
	return nthID(4), ""
}
func (anyName) InputLot(string, string, domain.Date) (uuid.UUID, string) { return nthID(5), "" }
func (anyName) CompostBatch(string) (uuid.UUID, string)                  { return nthID(6), "" }
func (anyName) Person(string) (uuid.UUID, string)                        { return nthID(7), "" }

var importKinds = []domain.ImportKind{domain.ImportBeds, domain.ImportCrops, domain.ImportCustomers, domain.ImportPlantings, domain.ImportApplications, domain.ImportHarvests}

// Any file is refused, or read line by line; problems name lines that are in the file.
func FuzzParseImport(f *testing.F) {
	f.Add(uint8(0), []byte("plot,name,from,length\nLower,Bed 1,2024-03-01,100\n"))
	f.Add(uint8(1), []byte("name;variety;catalogue_entry;days_to_harvest;leafy_green\nRadish;Cherry;radish;30;yes\n"))
	f.Add(uint8(3), []byte("crop\tbeds\tplanted_on\nradish\tA; B\t2026-04-12\n"))
	f.Add(uint8(4), []byte("input,beds,applied_on,method,amount,unit\n\"x\ny\",A,2026-04-12,surface,-1e9,lb\n"))
	f.Add(uint8(5), []byte("\ufeffcrop,beds,cut_on,quantity,unit\nradish,A,2026-06-01,12.5,lb,too many\n\"\n"))
	f.Fuzz(func(t *testing.T, pick uint8, raw []byte) {
		kind := importKinds[int(pick)%len(importKinds)]
		rows, bad, err := domain.ParseImport(bytes.NewReader(raw), kind)
		if err != nil {
			return
		}
		lines := bytes.Count(raw, []byte("\n")) + bytes.Count(raw, []byte("\r")) + 1
		for _, row := range rows {
			r, problems := domain.ReadImportRow(kind, row, anyName{})
			bad = append(bad, problems...)
			if len(problems) == 0 {
				_ = domain.CheckRecord(r, dayOf("2026-11-25"), time.UTC)
			}
		}
		for _, p := range bad {
			if p.Line < 2 || p.Line > lines || p.Detail == "" {
				t.Errorf("problem %+v of a file of %d lines", p, lines)
			}
		}
	})
}

// A decimal is read exactly as the book writes it, or refused.
func FuzzParseQuantity(f *testing.F) {
	for _, s := range []string{"12.5", "-0", "1e5", "0x1", "٣", "999999999999999999999999999999", ".5", "1_0", " 1"} {
		f.Add(s, "lb")
	}
	f.Fuzz(func(t *testing.T, text, unit string) {
		v, err := domain.ParseDecimal(text)
		if err != nil {
			return
		}
		if strings.Trim(text, "-.0123456789") != "" {
			t.Errorf("%q was read as %s", text, v)
		}
		q := domain.Quantity{Value: v, Unit: domain.Unit(unit)}
		raw, err := q.MarshalJSON()
		if err != nil {
			return
		}
		var again domain.Quantity
		if err := again.UnmarshalJSON(raw); err == nil && !again.Value.Equal(v) {
			t.Errorf("%s was read again as %s", raw, again.Value)
		}
	})
}
