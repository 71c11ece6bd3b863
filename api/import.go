package api

import (
	"bytes"
	"context"
	"fmt"
	"net/http"
	"reflect"
	"strings"

	"github.com/danielgtaylor/huma/v2"

	"croftmark/domain"
	"croftmark/storage"
)

// tableInput takes a table of one kind as CSV.
type tableInput struct {
	Key      string `header:"Idempotency-Key" maxLength:"200"`
	DryRun   bool   `query:"dry_run" doc:"Look at everything, say every problem by line, and write nothing."`
	Progress bool   `query:"progress" doc:"Answer with lines of JSON while writing: {\"rows\": n}, and last the result."`
	RawBody  []byte `contentType:"text/csv"`
}

// tableReport is what became of the table.
type tableReport struct {
	DryRun   bool                `json:"dry_run"`
	Rows     int                 `json:"rows"`
	Written  int                 `json:"written" doc:"Records written; none in a dry run, and none when any line has a problem."`
	Problems []domain.RowProblem `json:"problems"`
	Warnings []domain.RowProblem `json:"warnings"`
	Rejudged []rejudgedLot       `json:"rejudged,omitempty" doc:"Lots already cut whose judgement the table changed, or would change."`
	Entry    int64               `json:"entry,omitempty"`
}

// maxTable is room for the most rows a table may have.
const maxTable = 4 << 20

// importKinds are offered in the order in which a new book takes them.
var importKinds = []domain.ImportKind{domain.ImportBeds, domain.ImportCrops, domain.ImportCustomers, domain.ImportPlantings, domain.ImportApplications, domain.ImportHarvests}

func (s *Server) registerImports() {
	report := s.api.OpenAPI().Components.Schemas.Schema(reflect.TypeFor[tableReport](), true, "TableReport")
	for _, kind := range importKinds {
		op := s.operation(http.MethodPost, "/v1/imports/"+string(kind)+".csv", "import-"+string(kind), "Read a table of "+string(kind)+": all of it or nothing", "Imports", domain.Lead,
			map[string]*huma.Response{"200": jsonResponse("A dry run: what the table would do; or an upload that was written before.", report), "201": jsonResponse("Written.", report)}, http.StatusConflict)
		op.Responses["200"].Content["application/x-ndjson"] = &huma.MediaType{} // with progress
		takesCSV(&op, maxTable)
		all, needed := domain.ImportColumns(kind)
		op.Description = fmt.Sprintf("The first row names the columns: %s. Needed are %s. Things are named as in the book, several beds of a line by semicolons; days are YYYY-MM-DD.", strings.Join(all, ", "), strings.Join(needed, ", "))
		huma.Register(s.api, op, func(ctx context.Context, in *tableInput) (*huma.StreamResponse, error) {
			return s.importTable(ctx, kind, in), nil
		})
	}
}

// mark lets a repeated upload be known again by its key.
func (in *tableInput) mark(kind domain.ImportKind) *domain.RequestMark {
	if in.DryRun {
		return nil
	}
	return fileMark(in.Key, string(kind)+"\n", in.RawBody)
}

func (s *Server) importTable(ctx context.Context, kind domain.ImportKind, in *tableInput) *huma.StreamResponse {
	return s.readFile(ctx, in.Progress, func(progress func(int)) (any, int, error) {
		result, err := s.readTable(ctx, kind, in, progress)
		if err != nil || result.Written == 0 {
			return result, http.StatusOK, err
		}
		return result, http.StatusCreated, nil
	})
}

func (s *Server) readTable(ctx context.Context, kind domain.ImportKind, in *tableInput, progress func(int)) (*tableReport, error) {
	rows, bad, err := domain.ParseImport(bytes.NewReader(in.RawBody), kind)
	if err != nil {
		return nil, err
	}
	if len(rows)+len(bad) == 0 {
		return nil, domain.Refuse(domain.CodeInvalid, "Nothing imported", "The file has no rows below the names of the columns.")
	}
	out, err := s.db.Import(ctx, actorOf(ctx), in.mark(kind), kind, rows, bad, in.DryRun, progress)
	if err != nil {
		return nil, err
	}
	if len(out.Problems) > 0 && !in.DryRun {
		return nil, badTable(out.Problems)
	}
	return reportOf(in, out), nil
}

func reportOf(in *tableInput, out storage.ImportResult) *tableReport {
	r := &tableReport{DryRun: in.DryRun, Rows: out.Rows, Written: len(out.IDs), Problems: emptyList(out.Problems), Warnings: emptyList(out.Warnings), Entry: out.Entry}
	if out.Replayed {
		r.Written = 0
	}
	for _, l := range out.Rejudged {
		r.Rejudged = append(r.Rejudged, rejudgedLot{l.LotID, l.Code, l.Before, l.Verdict, l.ClearOn})
	}
	return r
}

// badTable refuses a table with every problem by its line.
func badTable(problems []domain.RowProblem) error {
	e := domain.Refuse(domain.CodeInvalid, "Nothing imported: some lines need another look", "%d problems. First, line %d: %s", len(problems), problems[0].Line, problems[0].Detail)
	for _, p := range problems {
		detail := p.Detail
		if p.Column != "" {
			detail = p.Column + ": " + detail
		}
		e.Fields = append(e.Fields, domain.FieldError{Pointer: fmt.Sprintf("#line=%d", p.Line), Detail: detail})
	}
	return e
}
