//go:build external

package domain_test

import (
	"bytes"
	"os"
	"regexp"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"croftmark/domain"
)

// notAhead is a pattern of the schema that RE2 does not know: ^(?!x) matches what does not begin with x.
type notAhead struct {
	pattern string
	re      *regexp.Regexp
}

func (n notAhead) MatchString(s string) bool { return !n.re.MatchString(s) }
func (n notAhead) String() string            { return n.pattern }

// patterns reads the schema's patterns. Its only look-aheads are negative ones that are the whole pattern.
func patterns(s string) (jsonschema.Regexp, error) {
	if inner, ok := strings.CutPrefix(s, "^(?!"); ok {
		re, err := regexp.Compile("^" + "(?:" + strings.TrimSuffix(inner, ")") + ")")
		return notAhead{s, re}, err
	}
	return regexp.Compile(s)
}

// The published schema of EPCIS 2.0 has the last word. CROFTMARK_EPCIS_SCHEMA names its file; without it the structure
// is checked by our own rules only.
func TestEPCISAgainstThePublishedSchema(t *testing.T) {
	doc, _ := epcisEvents(t, samplePacket())
	p := samplePacket()
	p.Farm.GLN, p.Lots[3].GTIN = "9521321100015", "19521321001012"
	licensed, _ := epcisEvents(t, p)
	p.Audience = domain.PacketAudience{Kind: domain.ForOneBuyer, CustomerID: bistro}
	buyers, _ := epcisEvents(t, p)
	for name, d := range map[string][]byte{"sample": doc, "licensed numbers": licensed, "buyer": buyers} {
		if faults := domain.CheckEPCIS(d); len(faults) > 0 {
			t.Errorf("%s: %v", name, faults)
		}
	}
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
	c.UseRegexpEngine(patterns)
	c.AssertFormat()
	if err := c.AddResource("epcis.json", parsed); err != nil {
		t.Fatal(err)
	}
	schema, err := c.Compile("epcis.json")
	if err != nil {
		t.Fatal(err)
	}
	valid := func(d []byte) error {
		x, err := jsonschema.UnmarshalJSON(bytes.NewReader(d))
		if err != nil {
			return err
		}
		return schema.Validate(x)
	}
	for name, d := range map[string][]byte{"sample": doc, "licensed numbers": licensed, "buyer": buyers} {
		if err := valid(d); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	for _, m := range mistakes {
		if err := valid(spoil(t, m.event, m.make)); (err == nil) != m.passes {
			t.Errorf("%s: the schema says %v, the table says it passes: %v", m.name, err, m.passes)
		}
	}
}
