package api

import (
	"bytes"
	"context"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"maps"
	"net/http"
	"net/url"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/danielgtaylor/huma/v2"
	"github.com/google/uuid"

	"croftmark/domain"
	"croftmark/storage"
)

// stamp is what the book adds to every record it answers.
type stamp struct {
	DoneBy    uuid.UUID       `json:"done_by" format:"uuid"`
	TypedBy   uuid.UUID       `json:"typed_by" format:"uuid"`
	DoneAt    time.Time       `json:"done_at,omitzero" doc:"The instant of the act, where it is known."`
	DoneOn    domain.Date     `json:"done_on" doc:"The farm-local day of the act."`
	EnteredAt time.Time       `json:"entered_at"`
	LateDays  int             `json:"late_days,omitempty" doc:"By how many days it was written down after the act."`
	Entry     int64           `json:"entry" doc:"Number of the latest entry of the book about this record."`
	Review    json.RawMessage `json:"review" doc:"Second signatures: by whom, when, in which entry."`
	Voided    bool            `json:"voided,omitempty"`
	Warnings  []string        `json:"warnings,omitempty"`
	Rejudged  []rejudgedLot   `json:"rejudged,omitempty" doc:"Lots already cut whose judgement this record changed."`
	// For lots only.
	VerdictNow domain.Verdict `json:"verdict_now,omitempty"`
	Held       *bool          `json:"held,omitempty"`
}

type rejudgedLot struct {
	LotID   uuid.UUID      `json:"lot_id" format:"uuid"`
	Code    string         `json:"code"`
	Then    domain.Verdict `json:"then" doc:"What was judged before this record."`
	Now     domain.Verdict `json:"now"`
	ClearOn domain.Date    `json:"clear_on,omitzero"`
}

// answer lays the stamp over a record's own fields.
func answer(r storage.Record, out *storage.Outcome, state *storage.LotState) (json.RawMessage, error) {
	st := stamp{DoneBy: r.Stamp.DoneBy, TypedBy: r.Stamp.TypedBy, DoneAt: r.Stamp.DoneAt, DoneOn: r.DoneOn, EnteredAt: r.Stamp.EnteredAt,
		LateDays: max(0, r.Stamp.LateDays), Entry: r.Seq, Review: r.Reviews, Voided: r.Voided}
	if out != nil {
		st.Warnings = out.Warnings
		for _, l := range out.Rejudged {
			st.Rejudged = append(st.Rejudged, rejudgedLot{l.LotID, l.Code, l.Before, l.Verdict, l.ClearOn})
		}
	}
	if state != nil {
		st.VerdictNow, st.Held = state.Verdict, &state.Held
	}
	extra, err := json.Marshal(st)
	if err != nil {
		return nil, err
	}
	var fields, stamped map[string]json.RawMessage
	if err := json.Unmarshal(r.Body, &fields); err != nil {
		return nil, err
	}
	if err := json.Unmarshal(extra, &stamped); err != nil {
		return nil, err
	}
	for name, value := range stamped {
		fields[name] = value
	}
	return json.Marshal(fields)
}

// recordOf is a noun T whose pointer is a record.
type recordOf[T any] interface {
	*T
	domain.Record
}

// collection says how a noun is reached.
type collection struct {
	path    string // "applications"
	noun    string // "application", for summaries
	create  domain.Role
	correct domain.Role
	filters []string // fields a list can be narrowed by
	tag     string
	// extra describes what enrich adds to the answer of one record: what is judged of it now.
	extra  reflect.Type
	enrich func(ctx context.Context, id uuid.UUID) (any, error)
}

type idInput struct {
	ID uuid.UUID `path:"id" format:"uuid"`
}

type recordOutput struct {
	Status   int
	Location string `header:"Location"`
	Body     json.RawMessage
}

// register gives a noun its routes: write one, list, read one, history, correction, void, second signature.
func register[T any, P recordOf[T]](s *Server, c collection) {
	kind := P(new(T)).Kind()
	schema := s.storedSchema(reflect.TypeFor[T](), kind)
	s.registerCreate(c, schema, reflect.TypeFor[T](), func() domain.Record { return P(new(T)) })
	s.registerList(c, kind, schema)
	s.registerOne(c, kind, schema)
	s.registerChanges(c, kind, schema)
}

// storedSchema describes a record as answered: its own fields with the stamp's.
func (s *Server) storedSchema(t reflect.Type, kind string) *huma.Schema {
	registry := s.api.OpenAPI().Components.Schemas
	own := registry.SchemaFromRef(registry.Schema(t, true, t.Name()).Ref)
	added := registry.SchemaFromRef(registry.Schema(reflect.TypeFor[stamp](), true, "Stamp").Ref)
	merged := &huma.Schema{Type: "object", Properties: map[string]*huma.Schema{}, Description: "A " + kind + " as it stands in the book."}
	for _, part := range []*huma.Schema{own, added} {
		for name, property := range part.Properties {
			merged.Properties[name] = property
		}
	}
	merged.Required = append(append([]string{"id"}, own.Required...), added.Required...)
	slices.Sort(merged.Required)
	merged.Required = slices.Compact(merged.Required)
	s.types[kind] = t
	name := t.Name() + "Stored"
	registry.Map()[name] = merged
	return &huma.Schema{Ref: "#/components/schemas/" + name}
}

// judgedSchema adds what is judged of a record to the schema of the record.
func (s *Server) judgedSchema(stored *huma.Schema, extra reflect.Type) *huma.Schema {
	if extra == nil {
		return stored
	}
	registry := s.api.OpenAPI().Components.Schemas
	own := registry.SchemaFromRef(stored.Ref)
	more := registry.SchemaFromRef(registry.Schema(extra, true, extra.Name()).Ref)
	merged := &huma.Schema{Type: "object", Properties: map[string]*huma.Schema{}, Required: append(append([]string{}, own.Required...), more.Required...)}
	for _, part := range []*huma.Schema{own, more} {
		for name, property := range part.Properties {
			merged.Properties[name] = property
		}
	}
	name := strings.TrimPrefix(stored.Ref, "#/components/schemas/") + "Judged"
	registry.Map()[name] = merged
	return &huma.Schema{Ref: "#/components/schemas/" + name}
}

func jsonResponse(description string, schema *huma.Schema) *huma.Response {
	return &huma.Response{Description: description, Content: map[string]*huma.MediaType{"application/json": {Schema: schema}}}
}

// problems documents the refusals an operation may give.
func (s *Server) problems(op *huma.Operation, statuses ...int) {
	registry := s.api.OpenAPI().Components.Schemas
	ref := registry.Schema(reflect.TypeFor[Problem](), true, "Problem")
	for _, status := range append(statuses, http.StatusBadRequest, http.StatusTooManyRequests, http.StatusInternalServerError, http.StatusServiceUnavailable) {
		op.Responses[strconv.Itoa(status)] = &huma.Response{Description: http.StatusText(status),
			Content: map[string]*huma.MediaType{"application/problem+json": {Schema: ref}}}
	}
}

// operation makes a guarded operation with its answers and refusals.
func (s *Server) operation(method, path, id, summary, tag string, role domain.Role, responses map[string]*huma.Response, refusals ...int) huma.Operation {
	op := huma.Operation{Method: method, Path: path, OperationID: id, Summary: summary, Tags: []string{tag}, Security: guarded,
		Metadata: map[string]any{roleKey: role}, Responses: responses}
	if op.Responses == nil {
		op.Responses = map[string]*huma.Response{}
	}
	if method == http.MethodPost {
		op.DefaultStatus = http.StatusCreated
		refusals = append(refusals, http.StatusRequestEntityTooLarge)
	}
	s.problems(&op, append(refusals, http.StatusUnauthorized, http.StatusForbidden, http.StatusNotFound, http.StatusUnprocessableEntity)...)
	return op
}

// bodyInput takes a record whose shape depends on the operation; huma validates it against the operation's schema.
type bodyInput struct {
	Key     string `header:"Idempotency-Key" maxLength:"200" doc:"Send the same key again after a broken connection: the record is written only once."`
	TypedBy string `header:"Typed-By" maxLength:"36" doc:"Person who typed this. When somebody else is signed in by now it is refused, not signed for by them."`
	RawBody []byte
}

func (s *Server) registerCreate(c collection, stored *huma.Schema, t reflect.Type, empty func() domain.Record) {
	op := s.operation(http.MethodPost, "/v1/"+c.path, "create-"+c.path, "Write down a "+c.noun, c.tag, c.create, map[string]*huma.Response{
		"201": jsonResponse("Written.", stored), "200": jsonResponse("Written before by the same request.", stored)},
		http.StatusConflict, http.StatusRequestEntityTooLarge)
	s.documentBody(&op, t)
	huma.Register(s.api, op, func(ctx context.Context, in *bodyInput) (*recordOutput, error) {
		r := empty()
		if err := s.decode(t, in.RawBody, r); err != nil {
			return nil, problemOf(ctx, err)
		}
		return s.create(ctx, in.Key, r)
	})
}

func (in *bodyInput) raw() []byte { return in.RawBody }

// takesBody is the input of an operation whose body decode reads.
type takesBody[I any] interface {
	*I
	raw() []byte
}

// handleBody registers an operation with a body: read strictly, then handed to act. Every operation that is not one of a
// noun's own seven goes through here.
func handleBody[B, I, O any, P takesBody[I]](s *Server, op huma.Operation, act func(context.Context, P, *B) (*O, error)) {
	t := reflect.TypeFor[B]()
	s.documentBody(&op, t)
	huma.Register(s.api, op, func(ctx context.Context, in *I) (*O, error) {
		body := new(B)
		if err := s.decode(t, P(in).raw(), body); err != nil {
			return nil, problemOf(ctx, err)
		}
		out, err := act(ctx, in, body)
		if err != nil {
			return nil, problemOf(ctx, err)
		}
		return out, nil
	})
}

// documentBody puts the schema of a request body into the document; decode validates against the same one.
func (s *Server) documentBody(op *huma.Operation, t reflect.Type) {
	op.SkipValidateBody = true // decode does it, with the same schema
	op.RequestBody = &huma.RequestBody{Required: true, Content: map[string]*huma.MediaType{
		"application/json": {Schema: s.api.OpenAPI().Components.Schemas.Schema(t, true, t.Name())}}}
}

// decode validates a body against the schema of its noun and reads it. All that is wrong is told at once.
func (s *Server) decode(t reflect.Type, raw []byte, into any) error {
	registry := s.api.OpenAPI().Components.Schemas
	var value any
	if err := json.Unmarshal(raw, &value); err != nil {
		return invalidBody("#", "The request is not well-formed JSON. Check commas, quotes and brackets.")
	}
	result := &huma.ValidateResult{}
	path := huma.NewPathBuffer([]byte{}, 0)
	path.Push("body")
	huma.Validate(registry, registry.Schema(t, true, t.Name()), path, huma.ModeWriteToServer, value, result)
	if len(result.Errors) > 0 {
		return humaError(http.StatusUnprocessableEntity, "", result.Errors...)
	}
	if fields, ok := value.(map[string]any); ok && fields["id"] == uuid.Nil.String() { // which would be taken for none, and written each time
		var p domain.Problems
		p.Add("/id", "An id of zeros names nothing. Leave it out, or make one of version 7.")
		return p.Err()
	}
	dec := json.NewDecoder(bytes.NewReader(raw))
	dec.DisallowUnknownFields()
	if err := dec.Decode(into); err != nil {
		return invalidBody("#", plainWords("json: "+err.Error()))
	}
	return nil
}

// create writes a record and answers 201, or 200 when the same request was written before.
func (s *Server) create(ctx context.Context, key string, r domain.Record) (*recordOutput, error) {
	out, err := s.db.Record(ctx, actorOf(ctx), markOf(ctx, *r.Identity(), key), r)
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	written, err := s.answerWritten(ctx, out)
	if path := s.paths[out.Kind]; err == nil && path != "" {
		written.Location = "/v1/" + path + "/" + out.ID.String()
	}
	return written, err
}

// answerWritten answers a write with the record as it stands: 201, or 200 when the same request was written before.
func (s *Server) answerWritten(ctx context.Context, out storage.Outcome) (*recordOutput, error) {
	states, err := s.lotStates(ctx, []storage.Record{out.Record})
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	body, err := answer(out.Record, &out, states[out.ID])
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	status := http.StatusCreated
	if out.Replayed {
		status = http.StatusOK
	}
	return &recordOutput{Status: status, Body: body}, nil
}

// markOf is how a repeated request is known again: by the record's own id, or by the Idempotency-Key.
func markOf(ctx context.Context, id uuid.UUID, key string) *domain.RequestMark {
	switch {
	case id != uuid.Nil:
		return &domain.RequestMark{Key: "id:" + id.String(), Hash: bodyHash(ctx)}
	case key != "":
		return &domain.RequestMark{Key: "key:" + strings.Trim(key, `"`), Hash: bodyHash(ctx)}
	}
	return nil
}

type listInput struct {
	Limit  int    `query:"limit" minimum:"1" maximum:"500" default:"50"`
	Cursor string `query:"cursor" maxLength:"200" doc:"From the Link header of the page before."`
	Values map[string]string
	cursor cursor
}

// Resolve reads the cursor and keeps the query for the filters the collection knows.
func (in *listInput) Resolve(ctx huma.Context) []error {
	in.Values = map[string]string{}
	u := ctx.URL()
	for name, values := range u.Query() {
		if name != "limit" && name != "cursor" {
			in.Values[name] = values[0]
		}
	}
	var err error
	if in.cursor, err = parseCursor(in.Cursor); err != nil {
		return []error{&huma.ErrorDetail{Location: "query.cursor", Message: "this is not a cursor from a Link header"}}
	}
	return nil
}

type cursor struct {
	seq int64
	id  uuid.UUID
}

func (c cursor) String() string {
	return base64.RawURLEncoding.EncodeToString([]byte(fmt.Sprintf("%d %s", c.seq, c.id)))
}

func parseCursor(s string) (c cursor, err error) {
	if s == "" {
		return c, nil
	}
	raw, err := base64.RawURLEncoding.DecodeString(s)
	if err != nil {
		return c, err
	}
	seq, id, _ := strings.Cut(string(raw), " ")
	if c.seq, err = strconv.ParseInt(seq, 10, 64); err != nil {
		return c, err
	}
	c.id, err = uuid.Parse(id)
	return c, err
}

type listOutput struct {
	Link string `header:"Link"`
	Body []json.RawMessage
}

func (s *Server) registerList(c collection, kind string, stored *huma.Schema) {
	list := s.operation(http.MethodGet, "/v1/"+c.path, "list-"+c.path, "List "+strings.ReplaceAll(c.path, "-", " ")+", newest first", c.tag, domain.Reader,
		map[string]*huma.Response{"200": jsonResponse("Newest first; the Link header leads to the next page.", &huma.Schema{Type: "array", Items: stored})})
	for _, f := range c.filters {
		list.Parameters = append(list.Parameters, &huma.Param{Name: f, In: "query", Schema: &huma.Schema{Type: "string", MaxLength: ptr(200)}})
	}
	huma.Register(s.api, list, func(ctx context.Context, in *listInput) (*listOutput, error) {
		return s.list(ctx, c, kind, in)
	})
}

// registerOne gives the reads of one record: as it stands, and every entry about it.
func (s *Server) registerOne(c collection, kind string, stored *huma.Schema) {
	s.paths[kind] = c.path
	one := s.operation(http.MethodGet, "/v1/"+c.path+"/{id}", "read-"+c.path, "Read a "+c.noun, c.tag, domain.Reader,
		map[string]*huma.Response{"200": jsonResponse("The record as it stands now.", s.judgedSchema(stored, c.extra))})
	huma.Register(s.api, one, func(ctx context.Context, in *idInput) (*recordOutput, error) {
		r, err := s.db.ReadRecord(ctx, actorOf(ctx).FarmID, kind, in.ID)
		if err == nil {
			err = mayRead(ctx, r)
		}
		if err != nil {
			return nil, problemOf(ctx, err)
		}
		out, err := s.answerOne(ctx, r)
		if err != nil || c.enrich == nil {
			return out, err
		}
		extra, err := c.enrich(ctx, in.ID)
		if err != nil {
			return nil, problemOf(ctx, err)
		}
		if out.Body, err = withExtra(out.Body, extra); err != nil {
			return nil, problemOf(ctx, err)
		}
		return out, nil
	})
	history := s.operation(http.MethodGet, "/v1/"+c.path+"/{id}/history", "history-"+c.path, "Every entry about a "+c.noun+", oldest first", c.tag, domain.Reader, nil)
	huma.Register(s.api, history, func(ctx context.Context, in *idInput) (*entriesOutput, error) {
		entries, err := s.db.History(ctx, actorOf(ctx).FarmID, kind, in.ID)
		if err == nil && mayBePrivate[kind] && !readsPrivate(ctx) {
			err = s.refusePrivate(ctx, kind, in.ID)
		}
		if err != nil {
			return nil, problemOf(ctx, err)
		}
		return &entriesOutput{Body: entries}, nil
	})
}

func (s *Server) answerOne(ctx context.Context, r storage.Record) (*recordOutput, error) {
	states, err := s.lotStates(ctx, []storage.Record{r})
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	body, err := answer(r, nil, states[r.ID])
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	return &recordOutput{Status: http.StatusOK, Body: body}, nil
}

// lotStates finds the present verdicts of the lots among records; nothing for other kinds.
func (s *Server) lotStates(ctx context.Context, records []storage.Record) (map[uuid.UUID]*storage.LotState, error) {
	out := map[uuid.UUID]*storage.LotState{}
	var ids []uuid.UUID
	for _, r := range records {
		if r.Kind == "harvest-lot" {
			ids = append(ids, r.ID)
		}
	}
	if len(ids) == 0 {
		return out, nil
	}
	states, err := s.db.LotStates(readingOf(ctx), ids)
	for id, state := range states {
		out[id] = &state
	}
	return out, err
}

func (s *Server) list(ctx context.Context, c collection, kind string, in *listInput) (*listOutput, error) {
	page := storage.Page{Limit: in.Limit, Before: in.cursor.seq, LastID: in.cursor.id, Filter: in.Values, WithoutPrivate: !readsPrivate(ctx)}
	records, err := s.db.Records(ctx, actorOf(ctx).FarmID, kind, page)
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	out := &listOutput{Body: []json.RawMessage{}}
	if len(records) > in.Limit {
		records = records[:in.Limit]
		last := records[in.Limit-1]
		query := url.Values{"limit": {strconv.Itoa(in.Limit)}, "cursor": {cursor{last.FirstSeq, last.ID}.String()}}
		for name, value := range in.Values {
			query.Set(name, value)
		}
		out.Link = fmt.Sprintf(`</v1/%s?%s>; rel="next"`, c.path, query.Encode())
	}
	states, err := s.lotStates(ctx, records)
	if err != nil {
		return nil, problemOf(ctx, err)
	}
	for _, r := range records {
		body, err := answer(r, nil, states[r.ID])
		if err != nil {
			return nil, problemOf(ctx, err)
		}
		out.Body = append(out.Body, body)
	}
	return out, nil
}

type correctionRequest struct {
	Reason  string         `json:"reason" minLength:"1" maxLength:"1000"`
	Changes map[string]any `json:"changes" doc:"The fields to change with their right values; null takes a field away."`
}

type reasonRequest struct {
	Reason string `json:"reason" minLength:"1" maxLength:"1000"`
}

type reviewRequest struct {
	Note string `json:"note,omitempty" maxLength:"1000"`
}

type changeInput struct {
	ID      uuid.UUID `path:"id" format:"uuid"`
	Key     string    `header:"Idempotency-Key" maxLength:"200" doc:"Send the same key again after a broken connection: the act is written only once."`
	RawBody []byte
}

func (in *changeInput) raw() []byte { return in.RawBody }

func (s *Server) registerChanges(c collection, kind string, stored *huma.Schema) {
	responses := func() map[string]*huma.Response {
		return map[string]*huma.Response{"201": jsonResponse("Done; the record as it stands now.", stored),
			"200": jsonResponse("Done before by the same request.", stored)}
	}
	one := "/v1/" + c.path + "/{id}"
	correction := s.operation(http.MethodPost, one+"/corrections", "correct-"+c.path, "Correct a "+c.noun+", with the reason", c.tag, c.correct, responses(), http.StatusConflict)
	handleChange(s, correction, func(ctx context.Context, in *changeInput, body *correctionRequest) (storage.Outcome, error) {
		if err := s.checkChanges(kind, body.Changes); err != nil {
			return storage.Outcome{}, err
		}
		changes, err := json.Marshal(body.Changes)
		if err != nil {
			return storage.Outcome{}, err
		}
		return s.db.Correct(ctx, actorOf(ctx), markOf(ctx, uuid.Nil, in.Key), kind, in.ID, body.Reason, changes)
	})
	void := s.operation(http.MethodPost, one+"/void", "void-"+c.path, "Void a "+c.noun+", with the reason; it stays readable", c.tag, c.correct, responses(), http.StatusConflict)
	handleChange(s, void, func(ctx context.Context, in *changeInput, body *reasonRequest) (storage.Outcome, error) {
		return s.db.Void(ctx, actorOf(ctx), markOf(ctx, uuid.Nil, in.Key), kind, in.ID, body.Reason)
	})
	review := s.operation(http.MethodPost, one+"/reviews", "review-"+c.path, "Sign a "+c.noun+" as the second person", c.tag, domain.Lead, responses(), http.StatusConflict)
	handleChange(s, review, func(ctx context.Context, in *changeInput, body *reviewRequest) (storage.Outcome, error) {
		return s.db.Review(ctx, actorOf(ctx), markOf(ctx, uuid.Nil, in.Key), kind, in.ID, body.Note)
	})
}

// checkChanges holds each changed field to the schema it has in a new record; null takes a field away.
func (s *Server) checkChanges(kind string, changes map[string]any) error {
	registry := s.api.OpenAPI().Components.Schemas
	schema := registry.SchemaFromRef(registry.Schema(s.types[kind], true, s.types[kind].Name()).Ref)
	result := &huma.ValidateResult{}
	for _, name := range slices.Sorted(maps.Keys(changes)) {
		path := huma.NewPathBuffer([]byte{}, 0)
		path.Push("body")
		path.Push("changes")
		path.Push(name)
		property, known := schema.Properties[name]
		switch {
		case !known:
			result.Add(path, nil, "unexpected property")
		case changes[name] != nil:
			huma.Validate(registry, property, path, huma.ModeWriteToServer, changes[name], result)
		}
	}
	if len(result.Errors) > 0 {
		return humaError(http.StatusUnprocessableEntity, "", result.Errors...)
	}
	return nil
}

// handleChange registers an act on a record that exists.
func handleChange[B any](s *Server, op huma.Operation, act func(context.Context, *changeInput, *B) (storage.Outcome, error)) {
	handleBody(s, op, func(ctx context.Context, in *changeInput, body *B) (*recordOutput, error) {
		out, err := act(ctx, in, body)
		if err != nil {
			return nil, err
		}
		return s.answerWritten(ctx, out)
	})
}

type entriesOutput struct {
	Body []*domain.Entry
}
