package api_test

import (
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"

	"croftmark/domain"
)

// goWords are traces of the program that no caller should see.
var goWords = regexp.MustCompile(`(?i)json:|unmarshal|\bgo (struct|value)|\b(domain|api|storage|uuid|decimal|huma|pgx)\.[A-Z]|\bu?int(8|16|32|64)\b|float64|map\[|\[\]|goroutine|SQLSTATE|\bnil\b|body\.`)

func TestStrictDecoding(t *testing.T) {
	t.Parallel()
	x := newField(t)
	application := func(amount string) string {
		return `{"source": {"input_lot_id": "` + x.manure + `"}, "ground": {"bed_ids": ["` + x.bed + `"]}, "applied_on": "2026-01-01", "method": "surface", "amount": ` + amount + `}`
	}
	lot := func(containers string) string {
		return `{"planting_id": "` + x.radish + `", "bed_ids": ["` + x.bed + `"], "cut_on": "2026-08-08", "quantity": {"value": "1", "unit": "lb"}, "containers": ` + containers + `}`
	}
	const bad, unprocessable, large = http.StatusBadRequest, http.StatusUnprocessableEntity, http.StatusRequestEntityTooLarge
	for name, row := range map[string]struct {
		path    string // /v1/plots when empty
		body    string
		kind    string // content type; application/json when empty
		status  int
		pointer string // of one field error; none for too large
	}{
		"nothing at all":              {"", "", "", bad, "#"},
		"only blanks":                 {"", " \n\t ", "", bad, "#"},
		"not JSON":                    {"", "name=North", "", bad, "#"},
		"single quotes":               {"", "{'name': 'North'}", "", bad, "#"},
		"trailing comma":              {"", `{"name": "North",}`, "", bad, "#"},
		"a comment":                   {"", `{"name": "North"} // mine`, "", bad, "#"},
		"byte order mark":             {"", "\ufeff" + `{"name": "North"}`, "", bad, "#"},
		"cut off":                     {"", `{"name": "Nor`, "", bad, "#/name"},
		"second document":             {"", `{"name": "North"} {"name": "South"}`, "", bad, "#"},
		"stray bracket after the end": {"", `{"name": "North"}]`, "", bad, "#"},
		"null":                        {"", "null", "", unprocessable, "#"},
		"a list":                      {"", `[{"name": "North"}]`, "", unprocessable, "#"},
		"a text":                      {"", `"North"`, "", unprocessable, "#"},
		"a number":                    {"", "7", "", unprocessable, "#"},
		"unknown field":               {"", `{"name": "North", "colour": "red"}`, "", unprocessable, "#/colour"},
		"unknown field further in":    {"", `{"name": "North", "prior_use": [{"kind": "hay", "colour": "red"}]}`, "", unprocessable, "#/prior_use/0/colour"},
		"field in other letters":      {"", `{"name": "North", "History": "known"}`, "", unprocessable, "#/History"},
		"field in both letters":       {"", `{"name": "North", "Name": "South"}`, "", unprocessable, "#/Name"},
		"field the book gives":        {"", `{"name": "North", "entered_at": "2026-01-01T00:00:00Z"}`, "", unprocessable, "#/entered_at"},
		"field missing":               {"", `{}`, "", unprocessable, "#/name"},
		"duplicate key":               {"", `{"name": "North", "name": "South"}`, "", bad, "#/name"},
		"duplicate key by an escape":  {"", `{"name": "North", "n\u0061me": "South"}`, "", bad, "#/name"},
		"duplicate key further in":    {"", `{"name": "North", "location": {"lat": "1", "lat": "2", "lon": "3"}}`, "", bad, "#/location/lat"},
		"number for a text":           {"", `{"name": 5}`, "", unprocessable, "#/name"},
		"list for a text":             {"", `{"name": ["North"]}`, "", unprocessable, "#/name"},
		"object for a list":           {"", `{"name": "North", "prior_use": {"kind": "hay"}}`, "", unprocessable, "#/prior_use"},
		"null for a text":             {"", `{"name": null}`, "", unprocessable, "#/name"},
		"text for yes or no":          {"crops", `{"name": "Kale", "soil_contact": "touches", "leafy_green": "yes"}`, "", unprocessable, "#/leafy_green"},
		"word not on the list":        {"crops", `{"name": "Kale", "soil_contact": "a bit"}`, "", unprocessable, "#/soil_contact"},
		"day no calendar has":         {"beds", `{"name": "B", "plot_id": "` + x.plot + `", "from": "2026-02-30"}`, "", unprocessable, "#/from"},
		"day the other way round":     {"beds", `{"name": "B", "plot_id": "` + x.plot + `", "from": "30/01/2026"}`, "", unprocessable, "#/from"},
		"time without an offset":      {"", `{"name": "North", "done_at": "2026-01-01T10:00:00"}`, "", unprocessable, "#/done_at"},
		"id that is none":             {"beds", `{"name": "B", "plot_id": "Lower", "from": "2026-02-01"}`, "", unprocessable, "#/plot_id"},
		"id of another version":       {"", `{"name": "North", "id": "2f1e4a52-6c53-4a1d-9d0a-0f6f0d6d4f10"}`, "", unprocessable, "#/id"},
		"control character":           {"", `{"name": "No\u0007rth"}`, "", bad, "#/name"},
		"raw control character":       {"", "{\"name\": \"No\x07rth\"}", "", bad, "#/name"},
		"NUL":                         {"", `{"name": "No\u0000rth"}`, "", bad, "#/name"},
		"NUL in a key":                {"", `{"na\u0000me": "North"}`, "", bad, "#"},
		"delete character":            {"", "{\"name\": \"No\x7frth\"}", "", bad, "#/name"},
		"lone surrogate":              {"", `{"name": "No\ud800rth"}`, "", bad, "#/name"},
		"invalid UTF-8":               {"", "{\"name\": \"No\xffrth\"}", "", bad, "#"},
		"UTF-16":                      {"", "\xff\xfe{\x00}\x00", "", bad, "#"},
		"nesting bomb":                {"", strings.Repeat("[", 200000) + strings.Repeat("]", 200000), "", bad, ""},
		"nested objects":              {"", strings.Repeat(`{"name":`, 5000) + "1" + strings.Repeat("}", 5000), "", bad, ""},
		"number for decimal text":     {"applications", application(`{"value": 2, "unit": "yd3"}`), "", unprocessable, "#/amount/value"},
		"amount as a number":          {"applications", application(`2.5`), "", bad, "#"},
		"amount as a text":            {"applications", application(`"2 yd3"`), "", unprocessable, "#/amount"},
		"exponent in a text":          {"applications", application(`{"value": "1e3", "unit": "yd3"}`), "", unprocessable, "#/amount/value"},
		"hexadecimal":                 {"applications", application(`{"value": "0x10", "unit": "yd3"}`), "", unprocessable, "#/amount/value"},
		"comma for a point":           {"applications", application(`{"value": "2,5", "unit": "yd3"}`), "", unprocessable, "#/amount/value"},
		"not a number":                {"applications", application(`{"value": "NaN", "unit": "yd3"}`), "", unprocessable, "#/amount/value"},
		"endless digits":              {"applications", application(`{"value": "` + strings.Repeat("9", 5000) + `", "unit": "yd3"}`), "", unprocessable, "#/amount/value"},
		"no unit":                     {"applications", application(`{"value": "2"}`), "", unprocessable, "#/amount/unit"},
		"float for a count":           {"harvest-lots", lot("1.5"), "", bad, "#"},
		"exponent for a count":        {"harvest-lots", lot("1e400"), "", bad, "#"},
		"huge count":                  {"harvest-lots", lot("99999999999999999999"), "", bad, "#"},
		"too big a count":             {"harvest-lots", lot("2001"), "", unprocessable, "#/containers"},
		"negative count":              {"harvest-lots", lot("-1"), "", unprocessable, "#/containers"},
		"text for a count":            {"harvest-lots", lot(`"3"`), "", unprocessable, "#/containers"},
		"unknown word in the query":   {"plots?colour=red", `{"name": "North"}`, "", unprocessable, "#/query/colour"},
		"plain text":                  {"", `{"name": "North"}`, "text/plain", bad, "#"},
		"a form":                      {"", "name=North", "application/x-www-form-urlencoded", bad, "#"},
		"XML":                         {"", "<name>North</name>", "application/xml", bad, "#"},
		"name of 121 characters":      {"", `{"name": "` + strings.Repeat("n", 121) + `"}`, "", unprocessable, "#/name"},
		"10 MB":                       {"", `{"name": "` + strings.Repeat("n", 10<<20) + `"}`, "", large, ""},
		"10 MB of blanks":             {"", strings.Repeat(" ", 10<<20), "", large, ""},
	} {
		t.Run(name, func(t *testing.T) {
			path := row.path
			if path == "" {
				path = "plots"
			}
			x.unchanged(func() {
				r := request(t, x.tokens[domain.Owner], http.MethodPost, "/v1/"+path, row.body)
				if row.kind != "" {
					r.Header.Set("Content-Type", row.kind)
				}
				a := x.send(r)
				code := domain.CodeInvalid
				if row.status == large {
					code = domain.CodeTooLarge
				}
				a.t = t
				p := a.problem(row.status, code)
				if row.pointer != "" {
					at(t, p, row.pointer)
				}
				if word := goWords.FindString(string(a.Body)); word != "" {
					t.Errorf("the answer says %q: %s", word, a.Body)
				}
				if len(a.Body) > 4000 {
					t.Errorf("the answer is %d bytes long: what was sent is echoed", len(a.Body))
				}
			})
		})
	}
	// The same body without its fault is taken, so that none of the rows above fails for another reason.
	x.post(domain.Owner, "/v1/plots", `{"name": "North", "prior_use": [{"kind": "hay"}], "location": {"lat": "1", "lon": "2"}}`).is(http.StatusCreated)
	x.post(domain.Owner, "/v1/applications", application(`{"value": "2.50", "unit": "yd3"}`)).is(http.StatusCreated)
	x.post(domain.Owner, "/v1/harvest-lots", with(x.cutOf(x.radish, "2026-08-08"), "already_cut", true)).is(http.StatusCreated)
}

// All that is wrong is told at once, so that a person on a phone fixes it in one go.
func TestAllFieldErrorsAtOnce(t *testing.T) {
	t.Parallel()
	x := newField(t)
	p := x.post(domain.Crew, "/v1/applications", fields{"source": fields{}, "ground": fields{}, "applied_on": "2026-12-24",
		"incorporated_on": "2026-01-01", "method": "surface", "amount": quantity("-2", "lb")}).problem(http.StatusUnprocessableEntity, domain.CodeInvalid)
	var pointers []string
	for _, f := range p.Errors {
		pointers = append(pointers, f.Pointer)
	}
	for _, want := range []string{"#/source", "#/ground", "#/applied_on", "#/incorporated_on", "#/amount/value"} {
		if !slices.Contains(pointers, want) {
			t.Errorf("%s is not among %v", want, pointers)
		}
	}
	if !strings.HasPrefix(p.Detail, "5 fields need another look.") {
		t.Errorf("detail %q", p.Detail)
	}
	p = x.post(domain.Crew, "/v1/applications", fields{"aplied_on": "2026-01-01"}).problem(http.StatusUnprocessableEntity, domain.CodeInvalid)
	for _, pointer := range []string{"#/source", "#/ground", "#/applied_on", "#/method", "#/amount", "#/aplied_on"} {
		at(t, p, pointer)
	}
}

func TestBadPathsAndQueries(t *testing.T) {
	t.Parallel()
	x := newField(t)
	for path, row := range map[string]struct {
		status int
		code   domain.Code
	}{
		"/v1/plots/nonsense":                         {http.StatusUnprocessableEntity, domain.CodeInvalid},
		"/v1/plots/" + newID(t):                      {http.StatusNotFound, domain.CodeNotFound},
		"/v1/nothing":                                {http.StatusNotFound, domain.CodeNotFound},
		"/nothing":                                   {http.StatusNotFound, domain.CodeNotFound},
		"/v1/plots/../../etc/passwd":                 {http.StatusNotFound, domain.CodeNotFound},
		"/v1/harvest-check?on=tomorrow":              {http.StatusUnprocessableEntity, domain.CodeInvalid},
		"/v1/harvest-check?on=2026-02-30":            {http.StatusUnprocessableEntity, domain.CodeInvalid},
		"/v1/harvest-check?bed_id=Lower":             {http.StatusUnprocessableEntity, domain.CodeInvalid},
		"/v1/harvest-check?planting_id=" + newID(t):  {http.StatusNotFound, domain.CodeNotFound},
		"/v1/beds/" + x.bed + "/ground?on=2026-13-1": {http.StatusUnprocessableEntity, domain.CodeInvalid},
		"/v1/book/proof/0":                           {http.StatusUnprocessableEntity, domain.CodeInvalid},
		"/v1/book/proof/100000":                      {http.StatusNotFound, domain.CodeNotFound},
		"/v1/book/entries?after=-1":                  {http.StatusUnprocessableEntity, domain.CodeInvalid},
		"/v1/labels":                                 {http.StatusUnprocessableEntity, domain.CodeInvalid},
	} {
		a := x.get(domain.Owner, path)
		if a.Status != row.status {
			t.Errorf("%s: %d, want %d: %s", path, a.Status, row.status, a.Body)
			continue
		}
		a.problem(row.status, row.code)
		if word := goWords.FindString(string(a.Body)); word != "" {
			t.Errorf("%s: the answer says %q: %s", path, word, a.Body)
		}
	}
	// 7 CFR 205.103 keeps it five years; who wants a record gone is told so, and what to do instead.
	if p := x.send(request(t, x.tokens[domain.Owner], http.MethodDelete, "/v1/plots/"+x.plot, nil)).problem(http.StatusMethodNotAllowed, domain.CodeRuleRefused); !strings.Contains(p.Detail, "7 CFR 205.103") {
		t.Errorf("deleting a plot: %s", p.Detail)
	}
	for _, method := range []string{http.MethodPut, http.MethodPatch} {
		x.send(request(t, x.tokens[domain.Owner], method, "/v1/plots/"+x.plot, nil)).problem(http.StatusMethodNotAllowed, domain.CodeNotFound)
	}
}
