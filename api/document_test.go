package api_test

import (
	"encoding/json"
	"errors"
	"maps"
	"net/http"
	"net/http/httptest"
	"regexp"
	"slices"
	"sort"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/labstack/echo/v4"

	"croftmark/api"
)

// contract is the OpenAPI document, read by a library that is not the one that wrote it.
type contract struct {
	doc *openapi3.T
	raw []byte
}

var loadContract = sync.OnceValues(func() (*contract, error) {
	// The document does not depend on a database.
	recorder := httptest.NewRecorder()
	api.New(nil, api.Config{Version: "test"}).Handler().ServeHTTP(recorder, httptest.NewRequest(http.MethodGet, "/v1/openapi.json", nil))
	doc, err := openapi3.NewLoader().LoadFromData(recorder.Body.Bytes())
	return &contract{doc, recorder.Body.Bytes()}, err
})

func contractOf(t testing.TB) *contract {
	t.Helper()
	c, err := loadContract()
	if err != nil {
		t.Fatalf("the OpenAPI document can't be read: %v", err)
	}
	return c
}

// operation is one operation of the document.
type operation struct {
	Method, Path string
	*openapi3.Operation
}

func (o operation) String() string { return o.Method + " " + o.Path }

// operations lists all of them in a fixed order.
func (c *contract) operations() []operation {
	var out []operation
	for path, item := range c.doc.Paths.Map() {
		for method, op := range item.Operations() {
			out = append(out, operation{method, path, op})
		}
	}
	sort.Slice(out, func(i, j int) bool { return out[i].String() < out[j].String() })
	return out
}

// find gives the operation that a request meets: the template that fits with the fewest parameters.
func (c *contract) find(method, path string) (best operation, ok bool) {
	fewest := 1000
	for template, item := range c.doc.Paths.Map() {
		n, fits := matches(template, path)
		if op := item.GetOperation(method); op != nil && fits && n < fewest {
			best, ok, fewest = operation{method, template, op}, true, n
		}
	}
	return best, ok
}

func matches(template, path string) (parameters int, ok bool) {
	want, got := strings.Split(template, "/"), strings.Split(path, "/")
	if len(want) != len(got) {
		return 0, false
	}
	for i := range want {
		if strings.HasPrefix(want[i], "{") {
			parameters++
		} else if want[i] != got[i] {
			return 0, false
		}
	}
	return parameters, true
}

// check holds an answer against the document: the status must be there, its content type too, and a JSON body must fit
// its schema.
func (c *contract) check(t testing.TB, r *http.Request, a *answer) {
	t.Helper()
	op, ok := c.find(r.Method, r.URL.Path)
	if !ok {
		return
	}
	response := op.Responses.Value(strconv.Itoa(a.Status))
	if response == nil {
		t.Errorf("%s answered %d, which the document does not name: %s", describe(r), a.Status, a.Body)
		return
	}
	kind, _, _ := strings.Cut(a.Header.Get("Content-Type"), ";")
	media := response.Value.Content[kind]
	if media == nil {
		t.Errorf("%s answered %d with %q, which the document does not name", describe(r), a.Status, kind)
		return
	}
	if !strings.HasSuffix(kind, "json") || kind == "application/x-ndjson" { // lines told while working; their own tests read them
		return
	}
	var value any
	if err := json.Unmarshal(a.Body, &value); err != nil {
		t.Errorf("%s answered %d with broken JSON: %v", describe(r), a.Status, err)
		return
	}
	if media.Schema == nil {
		t.Errorf("%s: the document gives no schema for %d", op, a.Status)
		return
	}
	if err := media.Schema.Value.VisitJSON(value, openapi3.EnableJSONSchema2020(), openapi3.MultiErrors()); err != nil {
		t.Errorf("%s answered %d with something else than documented: %s\n%.2000s", describe(r), a.Status, explain(err), a.Body)
	}
}

// explain says in a line each what does not fit and where.
func explain(err error) string {
	var all openapi3.MultiError
	if errors.As(err, &all) {
		var lines []string
		for _, e := range all[:min(len(all), 5)] {
			lines = append(lines, explain(e))
		}
		return strings.Join(lines, "; ")
	}
	var one *openapi3.SchemaError
	if errors.As(err, &one) {
		return "/" + strings.Join(one.JSONPointer(), "/") + ": " + one.Reason
	}
	return err.Error()
}

func TestDocumentIsValid(t *testing.T) {
	c := contractOf(t)
	if !strings.HasPrefix(c.doc.OpenAPI, "3.1") {
		t.Errorf("OpenAPI %s, want 3.1", c.doc.OpenAPI)
	}
	if err := c.doc.Validate(t.Context(), openapi3.IsOpenAPI31OrLater()); err != nil {
		t.Errorf("the document is not valid: %v", err)
	}
}

// The checker itself must be able to fail, or all the tests that lean on it say nothing.
func TestCheckerNoticesWrongAnswers(t *testing.T) {
	c := contractOf(t)
	right := `{"on": "2026-11-25", "clear": [], "opens_this_week": [], "waiting": [], "asks": [], "stops": [], "due": [], "to_sign": 0, "may_sign": 0, "caution": "x"}`
	for name, row := range map[string]struct {
		status int
		kind   string
		body   string
		wrong  bool
	}{
		"as documented":           {200, "application/json", right, false},
		"a field too many":        {200, "application/json", strings.Replace(right, `"on"`, `"extra": 1, "on"`, 1), true},
		"a field missing":         {200, "application/json", strings.Replace(right, `"caution": "x"`, `"caution_": "x"`, 1), true},
		"a day that is none":      {200, "application/json", strings.Replace(right, "2026-11-25", "25/11/2026", 1), true},
		"status nobody named":     {418, "application/json", right, true},
		"content type not named":  {200, "text/plain", right, true},
		"not JSON":                {200, "application/json", "{", true},
		"problem without a title": {401, "application/problem+json", `{"type": "https://x.example/y", "status": 401, "detail": "x"}`, true},
	} {
		t.Run(name, func(t *testing.T) {
			noted := &noting{TB: t}
			a := &answer{t: t, Status: row.status, Header: http.Header{"Content-Type": {row.kind}}, Body: []byte(row.body)}
			c.check(noted, httptest.NewRequest(http.MethodGet, "/v1/today", nil), a)
			if noted.failed != row.wrong {
				t.Errorf("noticed %t, want %t", noted.failed, row.wrong)
			}
		})
	}
}

// noting keeps a failure to itself.
type noting struct {
	testing.TB
	failed bool
}

func (n *noting) Errorf(string, ...any) { n.failed = true }
func (n *noting) Helper()               {}

func TestEveryRouteIsDocumentedAndBack(t *testing.T) {
	documented := map[string]bool{}
	for _, op := range contractOf(t).operations() {
		documented[op.String()] = true
	}
	server := api.New(nil, api.Config{})
	routed := map[string]bool{}
	for _, r := range server.Handler().(*echo.Echo).Routes() {
		if strings.HasPrefix(r.Path, "/v1/openapi") || !strings.HasPrefix(r.Path, "/v1/") {
			continue
		}
		name := r.Method + " " + echoParameters(r.Path)
		routed[name] = true
		if !documented[name] {
			t.Errorf("%s is not in the OpenAPI document", name)
		}
	}
	for name := range documented {
		if !routed[name] {
			t.Errorf("%s is in the OpenAPI document, but nothing answers there", name)
		}
	}
	if len(routed) < 100 {
		t.Errorf("only %d routes looked at", len(routed))
	}
}

// echoParameters writes :id as {id}.
func echoParameters(path string) string {
	parts := strings.Split(path, "/")
	for i, p := range parts {
		if name, ok := strings.CutPrefix(p, ":"); ok {
			parts[i] = "{" + name + "}"
		}
	}
	return strings.Join(parts, "/")
}

func TestEveryOperationSaysWhatItDoes(t *testing.T) {
	ids := map[string]string{}
	for _, op := range contractOf(t).operations() {
		if op.Summary == "" || len(op.Tags) != 1 || op.OperationID == "" {
			t.Errorf("%s: summary %q, tags %v, id %q", op, op.Summary, op.Tags, op.OperationID)
		}
		if other := ids[op.OperationID]; other != "" {
			t.Errorf("%s and %s have the same id %s", op, other, op.OperationID)
		}
		ids[op.OperationID] = op.String()
		var schemes []string
		if op.Security != nil {
			for _, one := range *op.Security {
				schemes = append(schemes, slices.Sorted(maps.Keys(one))...)
			}
		}
		if want := wantSchemes(op); !slices.Equal(schemes, want) {
			t.Errorf("%s says that it opens to %v, want %v", op, schemes, want)
		}
		statuses := []int{400, 401, 403, 404, 422, 429, 500, 503}
		if op.Method == http.MethodPost {
			statuses = append(statuses, 413)
			if op.RequestBody == nil {
				t.Errorf("%s takes a body that is not described", op)
			}
		}
		for _, status := range statuses {
			r := op.Responses.Value(strconv.Itoa(status))
			if r == nil || r.Value.Content["application/problem+json"] == nil {
				t.Errorf("%s does not describe %d", op, status)
			}
		}
		if !slices.ContainsFunc([]int{200, 201}, func(s int) bool { return op.Responses.Value(strconv.Itoa(s)) != nil }) {
			t.Errorf("%s does not describe its success", op)
		}
		for name, p := range op.Responses.Map() {
			if p.Value.Description == nil || *p.Value.Description == "" {
				t.Errorf("%s: nothing said about %s", op, name)
			}
		}
	}
}

// wantSchemes is what opens an operation: a token or a session, and the phone's own operations only a session.
func wantSchemes(op operation) []string {
	if phoneOnly[op.String()] {
		return []string{"session"}
	}
	return []string{"token", "session"}
}

func TestDocumentNamesTheUnits(t *testing.T) {
	raw := string(contractOf(t).raw)
	for _, want := range []string{`"yd3"`, `"degF"`, `"bunch"`, `"application/problem+json"`, `"bearer"`} {
		if !strings.Contains(raw, want) {
			t.Errorf("%s is not in the document", want)
		}
	}
}

// A field that is not snake_case is a Go name that slipped through, and the body it describes can't be sent.
func TestDocumentNamesFieldsInSnakeCase(t *testing.T) {
	snake := regexp.MustCompile(`^[a-z][a-z0-9_]*$`)
	for name, schema := range contractOf(t).doc.Components.Schemas {
		for field := range schema.Value.Properties {
			if !snake.MatchString(field) {
				t.Errorf("%s has a field %q", name, field)
			}
		}
	}
}

// What we decode ourselves is JSON and nothing else; the document must not offer to take any bytes.
func TestDocumentOffersOnlyWhatIsTaken(t *testing.T) {
	t.Parallel()
	for _, op := range contractOf(t).operations() {
		if op.RequestBody == nil || op.RequestBody.Value.Content["application/json"] == nil {
			continue
		}
		if n := len(op.RequestBody.Value.Content); n != 1 {
			t.Errorf("%s takes JSON and %d other types of body", op, n-1)
		}
	}
}
