package api_test

import (
	"bytes"
	"net/http"
	"strconv"
	"strings"
	"testing"

	"croftmark/domain"
)

func illness(touched string) fields {
	return fields{"sheet": "illness", "on": "2026-11-24", "note": "a feverish note", "values": fields{"person_code": "code-of-three", "signs": []string{"vomiting"},
		"sent_where": "home", "touched_product": touched}}
}

// Health facts are for leads and the owner: no list, record, history, entry of the book or proof tells them to others.
func TestHealthFactsStayWithLeadsAndOwner(t *testing.T) {
	t.Parallel()
	f := newFarm(t)
	f.post(domain.Crew, "/v1/log-entries", illness("no")).problem(http.StatusForbidden, domain.CodeNotAllowed)
	made := f.post(domain.Lead, "/v1/log-entries", illness("no"))
	one := "/v1/log-entries/" + made.id()
	f.post(domain.Owner, one+"/corrections", fields{"reason": "a feverish reason", "changes": fields{"note": "a feverish note, mended"}}).is(http.StatusCreated)
	open := f.post(domain.Crew, "/v1/log-entries", fields{"sheet": "visitors", "values": fields{"name": "School", "area": "shed", "told_rules": "yes"}}).id()
	entry := f.size() - 2 // the illness, its correction, the visitors
	proof := "/v1/book/proof/" + strconv.FormatInt(entry, 10)
	secrets := []string{"feverish", "vomiting", "code-of-three"}
	told := func(a *answer) bool {
		for _, s := range secrets {
			if bytes.Contains(a.Body, []byte(s)) {
				return true
			}
		}
		return false
	}
	reads := []string{"/v1/log-entries", "/v1/log-entries?sheet=illness", one, one + "/history", "/v1/book/entries?limit=500", proof}
	for _, role := range []domain.Role{domain.Lead, domain.Owner} {
		for _, path := range reads {
			if a := f.get(role, path).is(http.StatusOK); !told(a) {
				t.Errorf("%s as %s does not tell: %s", path, role, a.Body)
			}
		}
	}
	for _, role := range []domain.Role{domain.Crew, domain.Reader} {
		for _, path := range reads {
			a := f.get(role, path)
			if told(a) {
				t.Errorf("%s tells the %s: %s", path, role, a.Body)
			}
			if strings.HasPrefix(path, one) {
				a.problem(http.StatusNotFound, domain.CodeNotFound)
			}
		}
		if list := f.get(role, "/v1/log-entries").is(http.StatusOK).list(); len(list) != 1 || list[0]["id"] != open {
			t.Errorf("the %s reads %v", role, list)
		}
		p := f.get(role, proof).is(http.StatusOK).fields()
		if p["leaf"] != nil || p["leaf_hash"] == "" || p["leaf_hash"] != f.get(domain.Owner, proof).fields()["leaf_hash"] {
			t.Errorf("the proof for the %s: %v", role, p)
		}
	}
	if f.get(domain.Reader, "/v1/book/proof/1").is(http.StatusOK).text("leaf") == "" {
		t.Error("other entries are withheld as well")
	}
}

func TestLogSheetsAreListed(t *testing.T) {
	t.Parallel()
	x := newField(t)
	x.samples()
	list := x.get(domain.Reader, "/v1/log-sheets").is(http.StatusOK).list()
	if n := len(domain.BuiltInSheets()); len(list) != n+1 || list[0]["built_in"] != true || list[n]["built_in"] != false || list[n]["key"] != "egg-washing" {
		t.Errorf("%d sheets, the last %v", len(list), list[len(list)-1])
	}
	for _, key := range []string{"training", "egg-washing"} {
		for _, query := range []string{"", "?language=es&size=a4"} {
			a := x.get(domain.Reader, "/v1/log-sheets/"+key+"/form.pdf"+query).is(http.StatusOK)
			if !bytes.HasPrefix(a.Body, []byte("%PDF-")) || !strings.Contains(a.Header.Get("Content-Disposition"), key+"-form.pdf") {
				t.Errorf("%s%s: %q, %.20s", key, query, a.Header.Get("Content-Disposition"), a.Body)
			}
		}
	}
	x.get(domain.Reader, "/v1/log-sheets/nothing/form.pdf").problem(http.StatusNotFound, domain.CodeNotFound)
}

func TestLogEntryProblemsNameTheirField(t *testing.T) {
	t.Parallel()
	f := newFarm(t)
	f.unchanged(func() {
		p := f.post(domain.Crew, "/v1/log-entries", fields{"sheet": "cold-room", "values": fields{"room": []string{"Walk-in"}, "air": "38", "speed": "fast"}}).
			problem(http.StatusUnprocessableEntity, domain.CodeInvalid)
		at(t, p, "#/values/air")
		at(t, p, "#/values/speed")
		f.post(domain.Crew, "/v1/log-entries", fields{"sheet": "cold-room", "values": fields{"air": 38.5}}).problem(http.StatusBadRequest, domain.CodeInvalid)
		at(t, f.post(domain.Crew, "/v1/log-entries", fields{"sheet": "cold-room"}).problem(http.StatusUnprocessableEntity, domain.CodeInvalid), "#/values")
	})
	a := f.post(domain.Crew, "/v1/log-entries", fields{"sheet": "cold-room", "values": fields{"room": []string{"Walk-in"}, "kept": "cold-crops", "air": quantity("48", "degF")}})
	got := a.is(http.StatusCreated).fields()
	if warnings, _ := got["warnings"].([]any); len(warnings) != 1 || len(got["out_of_limits"].([]any)) != 1 {
		t.Errorf("answer %s", a.Body)
	}
}
