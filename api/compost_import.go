package api

import (
	"bytes"
	"context"
	"fmt"
	"net/http"
	"reflect"
	"strings"
	"time"

	"github.com/danielgtaylor/huma/v2"
	"github.com/google/uuid"

	"croftmark/domain"
)

// maxImport is a year of quarter-hour readings of many probes.
const maxImport = 64 << 20

// importInput takes a logger's file. Probes names the temperature columns, each as COLUMN or COLUMN=PROBE; or probe and
// temperature name the two columns of a file with one reading a row.
type importInput struct {
	ID           uuid.UUID `path:"id" format:"uuid"`
	Key          string    `header:"Idempotency-Key" maxLength:"200"`
	Time         string    `query:"time" required:"true" maxLength:"120" doc:"Name of the column with the time."`
	Probes       []string  `query:"probes,explode" maxItems:"64" doc:"Columns with temperatures, COLUMN or COLUMN=PROBE; give it once for each column. A column's name may hold a comma."`
	Probe        string    `query:"probe" maxLength:"120"`
	Temperature  string    `query:"temperature" maxLength:"120"`
	Unit         string    `query:"unit" required:"true" enum:"degF,degC"`
	Clock        string    `query:"clock" enum:"iso,us,day-first" doc:"How times are written; iso when left out."`
	DecimalComma bool      `query:"decimal_comma"`
	Progress     bool      `query:"progress" doc:"Answer with lines of JSON while reading: {\"rows\": n}, and last the result."`
	RawBody      []byte    `contentType:"text/csv"`
}

// importReport is what was found in the file.
type importReport struct {
	Rows       int      `json:"rows"`
	Readings   int      `json:"readings"`
	Empty      int      `json:"empty_cells,omitempty"`
	Duplicates int      `json:"duplicates,omitempty"`
	OutOfOrder int      `json:"out_of_order,omitempty"`
	Doubled    int      `json:"in_doubled_hour,omitempty"`
	Gaps       int      `json:"gaps,omitempty" doc:"Times of more than two hours without a sample of a probe."`
	Records    []string `json:"records" doc:"Ids of the records made."`
	Entry      int64    `json:"entry"`
}

// clocks maps the query's word to how times are written.
var clocks = map[string]domain.ClockFormat{"": domain.ClockISO, "iso": domain.ClockISO, "us": domain.ClockUS, "day-first": domain.ClockDayFirst}

func (in *importInput) mapping(progress func(int)) domain.TemperatureMapping {
	m := domain.TemperatureMapping{Time: in.Time, Probe: in.Probe, Temperature: in.Temperature, Unit: domain.Unit(in.Unit),
		Clock: clocks[in.Clock], DecimalComma: in.DecimalComma, Progress: progress}
	for _, p := range in.Probes {
		column, probe, _ := strings.Cut(p, "=")
		m.Probes = append(m.Probes, domain.ProbeColumn{Column: column, Probe: probe})
	}
	return m
}

// mark lets a repeated upload be known again by its key; the file and the mapping are what was asked for.
func (in *importInput) mark() *domain.RequestMark {
	return fileMark(in.Key, fmt.Sprintf("%s %s %s %v %s %s %s %t\n", in.ID, in.Time, in.Probe, in.Probes, in.Temperature, in.Unit, in.Clock, in.DecimalComma), in.RawBody)
}

func (s *Server) registerTemperatureImport() {
	report := s.api.OpenAPI().Components.Schemas.Schema(reflect.TypeFor[importReport](), true, "ImportReport")
	op := s.operation(http.MethodPost, "/v1/compost-batches/{id}/temperatures.csv", "import-temperatures", "Read a logger's file into a batch: all of it or nothing", "Compost", domain.Crew,
		map[string]*huma.Response{"201": jsonResponse("Imported.", report), "200": jsonResponse("Imported before by the same request.", report)}, http.StatusConflict, http.StatusRequestEntityTooLarge)
	takesCSV(&op, maxImport)
	huma.Register(s.api, op, s.importTemperatures)
}

func (s *Server) importTemperatures(ctx context.Context, in *importInput) (*huma.StreamResponse, error) {
	zone, err := s.zoneOf(ctx)
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	return s.readFile(ctx, in.Progress, func(progress func(int)) (any, int, error) {
		return s.readTemperatures(ctx, in, in.mapping(progress), zone)
	}), nil
}

// readTemperatures answers with what was in the file, and whether it was read in now or before.
func (s *Server) readTemperatures(ctx context.Context, in *importInput, m domain.TemperatureMapping, zone *time.Location) (r *importReport, status int, err error) {
	readings, found, err := domain.ParseTemperatureCSV(bytes.NewReader(in.RawBody), m, zone)
	if err != nil {
		return nil, 0, badRows(err, found)
	}
	actor := actorOf(ctx)
	out, err := s.db.ImportTemperatures(ctx, actor, in.mark(), in.ID, readings)
	if err != nil {
		return nil, 0, err
	}
	r = &importReport{Rows: found.Rows, Readings: found.Readings, Empty: found.Empty, Duplicates: found.Duplicates,
		OutOfOrder: found.OutOfOrder, Doubled: found.Doubled, Gaps: found.GapCount, Entry: out.Entry}
	for _, id := range out.IDs {
		r.Records = append(r.Records, id.String())
	}
	if out.Replayed {
		return r, http.StatusOK, nil
	}
	return r, http.StatusCreated, nil
}

// badRows tells every bad row by its line number, as far as the list goes.
func badRows(err error, found domain.ImportReport) error {
	e, ok := err.(*domain.Error)
	if !ok || len(found.Bad) == 0 {
		return err
	}
	e.Fields = nil
	for _, row := range found.Bad {
		e.Fields = append(e.Fields, domain.FieldError{Pointer: fmt.Sprintf("#line=%d", row.Line), Detail: row.Why.En})
	}
	return e
}
