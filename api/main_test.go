package api_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"os"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/uuid"

	"croftmark/api"
	"croftmark/domain"
	"croftmark/storage"
	"croftmark/storage/storagetest"
)

func TestMain(m *testing.M) { os.Exit(storagetest.Main(m)) }

// today is the day on which all tests play, unless they move the clock.
const today = "2026-11-25"

const publicURL = "https://book.example.farm"

// service is one running copy of the program on a database of its own.
type service struct {
	t     testing.TB
	db    *storage.DB
	clock *storagetest.Clock
	api   *api.Server
	log   *lines
}

// lines gathers the log.
type lines struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (l *lines) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.text.Write(p)
}

func (l *lines) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.text.String()
}

func newService(t testing.TB) *service {
	t.Helper()
	s := &service{t: t, clock: storagetest.NewClock(today), log: &lines{}}
	s.db = storagetest.Open(t, storage.Config{Now: s.clock.Now})
	// All requests of a test come from one address, and many of them are meant to fail.
	s.limited(api.Limits{SignIns: api.Limit{AtOnce: 1e6, Each: time.Second}, PINs: api.Limit{AtOnce: 1e6, Each: time.Second}, Public: api.Limit{AtOnce: 1e6, Each: time.Second}})
	return s
}

// limited starts the service anew with other limits.
func (s *service) limited(l api.Limits) {
	s.api = api.New(s.db, api.Config{PublicURL: publicURL, Version: "test", Log: slog.New(slog.NewJSONHandler(s.log, nil)), Limits: l})
}

// answer is what came back.
type answer struct {
	t      testing.TB
	Status int
	Header http.Header
	Body   []byte
}

// send is the one way the tests talk to the service. Every JSON answer is held against the document.
func (s *service) send(r *http.Request) *answer {
	s.t.Helper()
	recorder := httptest.NewRecorder()
	s.api.Handler().ServeHTTP(recorder, r)
	a := &answer{s.t, recorder.Code, recorder.Header(), recorder.Body.Bytes()}
	contractOf(s.t).check(s.t, r, a)
	return a
}

// request makes a request of a person. A body may be text, as sent, or any value, sent as JSON.
func request(t testing.TB, token, method, path string, body any) *http.Request {
	t.Helper()
	var content io.Reader
	switch b := body.(type) {
	case nil:
	case string:
		content = strings.NewReader(b)
	case []byte:
		content = bytes.NewReader(b)
	default:
		raw, err := json.Marshal(b)
		if err != nil {
			t.Fatal(err)
		}
		content = bytes.NewReader(raw)
	}
	r := httptest.NewRequest(method, path, content)
	if token != "" {
		r.Header.Set("Authorization", "Bearer "+token)
	}
	if content != nil {
		r.Header.Set("Content-Type", "application/json")
	}
	return r
}

// is fails unless the answer has the status.
func (a *answer) is(status int) *answer {
	a.t.Helper()
	if a.Status != status {
		a.t.Fatalf("answered %d, want %d: %s", a.Status, status, a.Body)
	}
	return a
}

// problem reads an error answer and fails unless it has the status and the code of the contract.
func (a *answer) problem(status int, code domain.Code) *api.Problem {
	a.t.Helper()
	a.is(status)
	if got := a.Header.Get("Content-Type"); got != "application/problem+json" {
		a.t.Errorf("content type %q, want application/problem+json", got)
	}
	p := &api.Problem{}
	a.into(p)
	if !strings.HasSuffix(p.Type, "/"+string(code)) || p.Status != status || p.Title == "" || p.Detail == "" {
		a.t.Errorf("want a problem %d %s with title and detail, got %s", status, code, a.Body)
	}
	return p
}

// at gives the detail for a pointer, or fails.
func at(t testing.TB, p *api.Problem, pointer string) string {
	t.Helper()
	for _, f := range p.Errors {
		if f.Pointer == pointer {
			return f.Detail
		}
	}
	t.Errorf("no error names %s: %+v (%s)", pointer, p.Errors, p.Detail)
	return ""
}

func (a *answer) into(v any) {
	a.t.Helper()
	if err := json.Unmarshal(a.Body, v); err != nil {
		a.t.Fatalf("%v: %s", err, a.Body)
	}
}

// fields is a JSON object.
type fields = map[string]any

func (a *answer) fields() fields {
	a.t.Helper()
	f := fields{}
	a.into(&f)
	return f
}

func (a *answer) list() []fields {
	a.t.Helper()
	var f []fields
	a.into(&f)
	return f
}

func (a *answer) text(name string) string {
	a.t.Helper()
	s, ok := a.fields()[name].(string)
	if !ok {
		a.t.Fatalf("no text %q in %s", name, a.Body)
	}
	return s
}

// id gives the id of what was made.
func (a *answer) id() string {
	a.t.Helper()
	return a.is(http.StatusCreated).text("id")
}

// farm is a farm with a person of each role.
type farm struct {
	*service
	ID     string
	tokens map[domain.Role]string
	people map[domain.Role]string
}

// newFarm opens a farm on a service of its own.
func newFarm(t testing.TB, sets ...string) *farm {
	t.Helper()
	return newService(t).farm("Fern Bank", sets...)
}

// farm opens one more farm, with a person and a token for each role.
func (s *service) farm(name string, sets ...string) *farm {
	s.t.Helper()
	f := s.loneFarm(name, sets...)
	for _, p := range []struct {
		role domain.Role
		name string
	}{{domain.Lead, "Lena Lead"}, {domain.Crew, "Carl Crew"}, {domain.Reader, "Rita Reader"}} {
		body := fields{"name": p.name, "initials": strings.ToUpper(p.name[:2]), "role": p.role}
		if p.role == domain.Reader {
			body["ends_on"] = "2027-06-30"
		}
		f.people[p.role] = f.post(domain.Owner, "/v1/people", body).id()
		token := f.post(domain.Owner, "/v1/tokens", fields{"person_id": f.people[p.role], "label": "test"}).is(http.StatusCreated)
		f.tokens[p.role] = token.text("token")
	}
	return f
}

// loneFarm opens a farm that has only its owner.
func (s *service) loneFarm(name string, sets ...string) *farm {
	s.t.Helper()
	if len(sets) == 0 {
		sets = []string{"us-organic"}
	}
	about := &domain.Farm{Name: name, TimeZone: "America/New_York"}
	for _, id := range sets {
		set, ok := domain.RuleSetByID(id)
		if !ok {
			s.t.Fatalf("no rule set %s", id)
		}
		about.Standards = append(about.Standards, domain.AdoptedStandard{Set: id, From: set.From})
	}
	opened, err := s.db.OpenFarm(context.Background(), about, &domain.Person{Name: "Ola Owner", Initials: "OO"})
	if err != nil {
		s.t.Fatal(err)
	}
	return &farm{service: s, ID: opened.FarmID.String(), tokens: map[domain.Role]string{domain.Owner: opened.Token},
		people: map[domain.Role]string{domain.Owner: opened.PersonID.String()}}
}

func (f *farm) get(role domain.Role, path string) *answer {
	f.t.Helper()
	return f.send(request(f.t, f.tokens[role], http.MethodGet, path, nil))
}

func (f *farm) post(role domain.Role, path string, body any) *answer {
	f.t.Helper()
	return f.send(request(f.t, f.tokens[role], http.MethodPost, path, body))
}

// size gives the length of the book.
func (f *farm) size() int64 {
	f.t.Helper()
	var c storage.Checkpoint
	f.get(domain.Owner, "/v1/book/checkpoint").is(http.StatusOK).into(&c)
	return c.Size
}

// unchanged runs fn and fails if the book is not the same afterwards, to the byte.
func (f *farm) unchanged(fn func()) {
	f.t.Helper()
	before := f.get(domain.Owner, "/v1/book/checkpoint").is(http.StatusOK).Body
	fn()
	if after := f.get(domain.Owner, "/v1/book/checkpoint").is(http.StatusOK).Body; !bytes.Equal(before, after) {
		f.t.Errorf("the book was %s and is now %s", before, after)
	}
}

// quantity is an amount on the wire.
func quantity(value, unit string) fields { return fields{"value": value, "unit": unit} }

// field is a farm with the ground of the contract's example: bed Lower 3, raw manure, radish and trellised tomato.
type field struct {
	*farm
	plot, bed, input, manure string
	radish, tomato           string // plantings
}

func newField(t testing.TB, sets ...string) *field {
	t.Helper()
	return newFarm(t, sets...).field()
}

func (f *farm) field() *field {
	f.t.Helper()
	x := &field{farm: f}
	x.plot = f.post(domain.Lead, "/v1/plots", fields{"name": "Lower", "history": "known"}).id()
	x.bed = f.post(domain.Lead, "/v1/beds", fields{"name": "Lower 3", "plot_id": x.plot, "from": "2024-03-01"}).id()
	x.input = f.post(domain.Crew, "/v1/inputs", fields{"name": "Horse manure", "category": "raw-manure", "species": "horse"}).id()
	x.manure = f.post(domain.Crew, "/v1/input-lots", fields{"input_id": x.input, "supplier": "Brindle Fen Stables", "supplier_lot": "K7",
		"received_on": "2024-03-01", "quantity": quantity("60", "yd3")}).id()
	x.radish = x.plant("radish", "touches", "2026-05-01", x.bed)
	x.tomato = x.plant("tomato, trellised", "clear", "2026-05-01", x.bed)
	return x
}

func (f *farm) plant(crop, contact, on string, beds ...string) string {
	f.t.Helper()
	id := f.post(domain.Lead, "/v1/crops", fields{"name": crop, "soil_contact": contact}).id()
	return f.post(domain.Crew, "/v1/plantings", fields{"crop_id": id, "bed_ids": beds, "planted_on": on}).id()
}

// manured is an application of raw manure to the bed; an empty second day leaves it on top.
func (x *field) manured(spread, workedIn string) fields {
	a := fields{"source": fields{"input_lot_id": x.manure}, "ground": fields{"bed_ids": []string{x.bed}}, "applied_on": spread,
		"method": "surface", "amount": quantity("2", "yd3")}
	if workedIn != "" {
		a["incorporated_on"], a["method"] = workedIn, "incorporated"
	}
	return a
}

// cutOf is a harvest of a planting from the bed.
func (x *field) cutOf(planting, on string) fields {
	return fields{"planting_id": planting, "bed_ids": []string{x.bed}, "cut_on": on, "quantity": quantity("40", "lb"), "containers": 3,
		"crew": []string{x.people[domain.Crew]}}
}

// with copies an object and sets one field.
func with(f fields, name string, value any) fields {
	out := fields{}
	for k, v := range f {
		out[k] = v
	}
	out[name] = value
	return out
}

// without copies an object and leaves one field out.
func without(f fields, name string) fields {
	out := with(f, name, nil)
	delete(out, name)
	return out
}

// newID gives an id as a client would make it.
func newID(t testing.TB) string {
	t.Helper()
	id, err := uuid.NewV7()
	if err != nil {
		t.Fatal(err)
	}
	return id.String()
}

func describe(r *http.Request) string { return fmt.Sprintf("%s %s", r.Method, r.URL.Path) }
