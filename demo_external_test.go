//go:build external

package main

import (
	"bytes"
	"net/http"
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
)

// unlike is a pattern of the schema that RE2 does not know: ^(?!x) matches what does not begin with x.
type unlike struct{ *regexp.Regexp }

func (u unlike) MatchString(s string) bool { return !u.Regexp.MatchString(s) }

// The published schema of EPCIS 2.0 holds the events of the demo farm. CROFTMARK_EPCIS_SCHEMA names its file; without it
// the demo's other tests hold them to our own rules only.
func TestDemoEventsAgainstThePublishedSchema(t *testing.T) {
	file := os.Getenv("CROFTMARK_EPCIS_SCHEMA")
	if file == "" {
		t.Log("CROFTMARK_EPCIS_SCHEMA is not set: checked by our own rules only")
		return
	}
	raw, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	parsed, err := jsonschema.UnmarshalJSON(bytes.NewReader(raw))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	c.UseRegexpEngine(func(s string) (jsonschema.Regexp, error) {
		if inner, ok := strings.CutPrefix(s, "^(?!"); ok {
			re, err := regexp.Compile("^(?:" + strings.TrimSuffix(inner, ")") + ")")
			return unlike{re}, err
		}
		return regexp.Compile(s)
	})
	c.AssertFormat()
	if err := c.AddResource("epcis.json", parsed); err != nil {
		t.Fatal(err)
	}
	schema, err := c.Compile("epcis.json")
	if err != nil {
		t.Fatal(err)
	}
	owner := runDemo(t)
	repacked(t, owner) // so that there is a transformation as well
	var asked []struct{ ID, For string }
	owner.get("/v1/traceback-requests", &asked)
	if len(asked) < 3 {
		t.Fatalf("%d requests", len(asked))
	}
	for _, r := range asked {
		doc := owner.send(http.MethodGet, "/v1/traceback-requests/"+r.ID+"/epcis.json", nil, http.StatusOK)
		x, err := jsonschema.UnmarshalJSON(bytes.NewReader(doc))
		if err != nil {
			t.Fatal(err)
		}
		if err := schema.Validate(x); err != nil {
			t.Errorf("%s: %v", r.For, err)
		}
		spoiled, err := jsonschema.UnmarshalJSON(bytes.NewReader(bytes.ReplaceAll(doc, []byte(`"LBR"`), []byte(`"lb"`))))
		if err != nil {
			t.Fatal(err)
		}
		if bytes.Contains(doc, []byte(`"LBR"`)) && schema.Validate(spoiled) == nil {
			t.Errorf("%s: the schema let the unit lb pass; reference 3.6 says that it refuses it", r.For)
		}
	}
}
