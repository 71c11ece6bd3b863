package api

import (
	"context"
	"encoding/json"
	"io"
	"net/http"
	"reflect"

	"github.com/danielgtaylor/huma/v2"
	"github.com/google/uuid"

	"croftmark/domain"
	"croftmark/report"
	"croftmark/storage"
)

// sheetAnswer is a sheet as listed: of the program, or of the farm.
type sheetAnswer struct {
	domain.LogSheet
	BuiltIn bool  `json:"built_in" doc:"Of the program; otherwise the farm made it, and it has an id."`
	Entry   int64 `json:"entry,omitempty"`
}

type sheetsOutput struct {
	Body []sheetAnswer
}

type formInput struct {
	Sheet    string `path:"sheet" maxLength:"40" doc:"Key of the sheet."`
	Language string `query:"language" enum:"en,es" doc:"The person's own when left out."`
	Size     string `query:"size" enum:"letter,a4" default:"letter"`
}

func (s *Server) registerLogSheets() {
	sheets := collection{path: "log-sheets", noun: "log sheet", create: domain.Lead, correct: domain.Lead, tag: "Logs"}
	empty := func() domain.Record { return &domain.LogSheet{} }
	stored := s.storedSchema(reflect.TypeFor[domain.LogSheet](), "log-sheet")
	s.registerCreate(sheets, stored, reflect.TypeFor[domain.LogSheet](), empty)
	s.registerOne(sheets, "log-sheet", stored)
	s.registerChanges(sheets, "log-sheet", stored)
	list := s.operation(http.MethodGet, "/v1/log-sheets", "list-log-sheets", "Every sheet: those of the program, then those the farm added", "Logs", domain.Reader, nil)
	huma.Register(s.api, list, s.logSheets)
	huma.Register(s.api, s.fileOperation("/v1/log-sheets/{sheet}/form.pdf", "log-form", "A blank form to print, in the order of the sheet's fields", "Logs", "application/pdf"), s.logForm)
	register[domain.LogEntry](s, collection{path: "log-entries", noun: "log entry", create: domain.Crew, correct: domain.Lead, filters: []string{"sheet", "on"}, tag: "Logs"})
}

func (s *Server) logSheets(ctx context.Context, _ *noInput) (*sheetsOutput, error) {
	own, err := s.db.Sheets(readingOf(ctx))
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	out := &sheetsOutput{}
	for _, sheet := range domain.BuiltInSheets() {
		out.Body = append(out.Body, sheetAnswer{LogSheet: sheet, BuiltIn: true})
	}
	for _, r := range own {
		a := sheetAnswer{Entry: r.Seq}
		if err := r.Into(&a.LogSheet); err != nil {
			return nil, problemOf(ctx, err)
		}
		out.Body = append(out.Body, a)
	}
	return out, nil
}

func (s *Server) logForm(ctx context.Context, in *formInput) (*fileOutput, error) {
	sheet, err := s.db.Sheet(readingOf(ctx), in.Sheet)
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	_, farm, err := s.db.Today(readingOf(ctx))
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	paper, err := s.paper(ctx, &paperInput{Language: in.Language, Size: in.Size}, *farm, storage.Record{Reviews: json.RawMessage(`[]`)})
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	out, err := pdf(sheet.Key+"-form", func(w io.Writer) error {
		return report.FormPDF(w, report.FormPaper{Paper: paper, Farm: *farm, Sheet: *sheet})
	})
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	return out, nil
}

// mayBePrivate are the kinds of which some only leads and the owner read.
var mayBePrivate = map[string]bool{"log-entry": true, "attachment": true}

// mayRead refuses what only leads and the owner read, in the words of what is not there.
func mayRead(ctx context.Context, r storage.Record) error {
	if !mayBePrivate[r.Kind] || readsPrivate(ctx) {
		return nil
	}
	var says struct {
		Private bool `json:"private"`
	}
	if err := r.Into(&says); err != nil {
		return err
	}
	if says.Private {
		return domain.NotFound(r.Kind, r.ID.String())
	}
	return nil
}

// refusePrivate does the same for what is read by its id alone.
func (s *Server) refusePrivate(ctx context.Context, kind string, id uuid.UUID) error {
	private, err := s.db.PrivateRecords(readingOf(ctx), []uuid.UUID{id})
	if err == nil && private[id] {
		err = domain.NotFound(kind, id.String())
	}
	return err
}

func readsPrivate(ctx context.Context) bool { return actorOf(ctx).Role.AtLeast(domain.Lead) }

// withheld stands in for what an entry of the book says of a person's health.
var withheld = json.RawMessage(`{"withheld":"private: leads and the owner read it"}`)

// withhold takes the words out of entries about private records, for people who may not read them. The entries stay in
// their places: that something was written, when and by whom is no secret.
func (s *Server) withhold(ctx context.Context, entries []*domain.Entry) error {
	if readsPrivate(ctx) || len(entries) == 0 {
		return nil
	}
	ids := make([]uuid.UUID, len(entries))
	for i, e := range entries {
		ids[i] = e.RecordID
	}
	private, err := s.db.PrivateRecords(readingOf(ctx), ids)
	if err != nil {
		return err
	}
	for _, e := range entries {
		if private[e.RecordID] {
			e.Body, e.Reason = withheld, ""
		}
	}
	return nil
}

// withholdLeaf leaves the hash of such an entry in its proof: it shows that the entry is in its place, not what it says.
func (s *Server) withholdLeaf(ctx context.Context, p *storage.Proof) error {
	e, err := domain.ParseEntry([]byte(p.Leaf))
	if err != nil {
		return err
	}
	if err := s.withhold(ctx, []*domain.Entry{e}); err != nil {
		return err
	}
	if string(e.Body) == string(withheld) {
		p.Leaf = ""
	}
	return nil
}
