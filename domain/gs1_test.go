package domain_test

import (
	"errors"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"croftmark/domain"
)

func TestGS1CheckDigit(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ body, want, source string }{
		{"629104150021", "3", "GS1 web example [verified: LIBGTIN]"},
		{"0952123454321", "3", "[verified: GS1SE, BWIPP]"},
		{"952012345678", "8", "[verified: GS1SE]"},
		{"95201234567891234", "5", "SSCC [verified: GS1SE]"},
		{"1061414100041", "5", "[verified: schema docs PRISMA]"},
		{"2345678", "5", "GTIN-8 [verified: LIBGTIN2]"},
		{"03600029145", "2", "GTIN-12 [memory], arithmetic [computed]"},
		{"1952132100101", "2", "case, ours [computed]"},
		{"952132110001", "5", "GLN, ours [computed]"},
		{"09521321000000317", "0", "SSCC, ours [computed]"},
	} {
		got, err := domain.GS1CheckDigit(c.body)
		if err != nil || string(rune(got)) != c.want {
			t.Errorf("check digit of %s is %c (%v), want %s: %s", c.body, got, err, c.want, c.source)
		}
	}
	for _, bad := range []string{"", "12a", "１２３", "-1"} {
		if _, err := domain.GS1CheckDigit(bad); err == nil {
			t.Errorf("%q has a check digit", bad)
		}
	}
}

func TestParseGTIN(t *testing.T) {
	t.Parallel()
	for in, want := range map[string]string{
		"6291041500213": "06291041500213", "036000291452": "00036000291452", "23456785": "00000023456785",
		"10614141000415": "10614141000415",
	} {
		if got, err := domain.ParseGTIN(in); err != nil || got != want {
			t.Errorf("ParseGTIN(%s) = %s, %v; want %s", in, got, err, want)
		}
	}
	// The last digit of 65457886676767 should be 3 [computed, traceability reference 2.7].
	for _, bad := range []string{"65457886676767", "6291041500214", "62910415002", "629104150021x", "", "00000000000000"} {
		if _, err := domain.ParseGTIN(bad); err == nil {
			t.Errorf("%q is taken for a GTIN", bad)
		}
	}
	_, err := domain.ParseGTIN("65457886676767")
	if err == nil || !strings.Contains(err.Error(), "ask for 3") {
		t.Errorf("the refusal does not say which digit would fit: %v", err)
	}
	if _, err := domain.ParseGLN("9521321100015"); err != nil {
		t.Error(err)
	}
	if _, err := domain.ParseSSCC("952012345678912345"); err != nil {
		t.Error(err)
	}
	if _, err := domain.ParseSSCC("9521321100015"); err == nil {
		t.Error("13 digits are taken for an SSCC")
	}
}

// A prefix that is missing must never lead to a number, and neither may one that is for use inside a shop.
func TestNoNumberIsInvented(t *testing.T) {
	t.Parallel()
	none, err := domain.ParseGS1Prefix("")
	if err != nil || !none.IsZero() {
		t.Fatalf("a farm without a prefix is an error: %v", err)
	}
	for name, make := range map[string]func() (string, error){
		"GTIN": func() (string, error) { return none.GTIN(1, "00101") },
		"GLN":  func() (string, error) { return none.GLN("10001") },
		"SSCC": func() (string, error) { return none.SSCC(0, "000000317") },
	} {
		number, err := make()
		var refusal *domain.Error
		if number != "" || !errors.As(err, &refusal) || !strings.Contains(refusal.Detail, "no GS1 company prefix") {
			t.Errorf("%s without a prefix: %q, %v", name, number, err)
		}
	}
	for _, bad := range []string{"2001234", "0212345", "0412345", "123", "1234567890123", "95213x1", " 9521321"} {
		if _, err := domain.ParseGS1Prefix(bad); err == nil {
			t.Errorf("prefix %q is taken", bad)
		}
	}
}

func TestGS1PrefixMakesNumbers(t *testing.T) {
	t.Parallel()
	p, err := domain.ParseGS1Prefix("9521321") // the numbers below: traceability reference 2.1, ours [computed]
	if err != nil || !p.IsExample() {
		t.Fatalf("%v, example %v", err, p.IsExample())
	}
	check := func(got string, err error, want string) {
		t.Helper()
		if err != nil || got != want {
			t.Errorf("got %s, %v; want %s", got, err, want)
		}
	}
	got, err := p.GTIN(1, "00101")
	check(got, err, "19521321001012")
	got, err = p.GLN("10001")
	check(got, err, "9521321100015")
	got, err = p.SSCC(0, "000000317")
	check(got, err, "095213210000003170")
	for _, bad := range []string{"0010", "001010", "0010a", ""} {
		if _, err := p.GTIN(1, bad); err == nil {
			t.Errorf("item %q is taken", bad)
		}
	}
	if _, err := p.GTIN(10, "00101"); err == nil {
		t.Error("indicator 10 is taken")
	}
	if _, err := p.SSCC(-1, "000000317"); err == nil {
		t.Error("extension -1 is taken")
	}
}

// Any single wrong digit is caught; that is what the digit is for.
func TestGS1CheckDigitCatchesOneWrongDigit(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		body := rapid.StringMatching(`[0-9]{13}`).Draw(t, "body")
		digit, err := domain.GS1CheckDigit(body)
		if err != nil {
			t.Fatal(err)
		}
		number := []byte(body + string(rune(digit)))
		at := rapid.IntRange(0, 13).Draw(t, "at")
		number[at] = '0' + (number[at]-'0'+byte(rapid.IntRange(1, 9).Draw(t, "by")))%10
		if _, err := domain.ParseGTIN(string(number)); err == nil {
			t.Fatalf("%s differs from %s%c in one digit and is taken", number, body, digit)
		}
	})
}

func TestDigitalLinkVectors(t *testing.T) {
	t.Parallel()
	const gs1se = "[verified: GS1SE tests; BWIPP wiki]"
	const ours = "ours, checked with the same engine [measured]"
	for _, c := range []struct {
		uri    string
		valid  bool
		source string
	}{
		{"https://id.gs1.org/01/09521234543213/10/ABC123/21/12345", true, gs1se},
		{"https://id.gs1.org/01/09520123456788/10/ABC1/21/12345?17=180426", true, gs1se},
		{"https://id.gs1.org/01/09520123456788?3103=000195", true, gs1se},
		{"https://id.gs1.org/00/952012345678912345?02=09520123456788&37=25&10=ABC123", true, gs1se},
		{"https://id.gs1.org/414/9520123456788/254/32a%2Fb", true, gs1se},
		{"https://example.com/products/01/09521234543213", true, gs1se},
		{"https://id.gs1.org/01/09520123456788/235/XYZ?10=ABC123", true, gs1se},
		{"https://example.com/01/09520123456788?10=ABC123", false, gs1se},
		{"https://id.gs1.org/01/09520123456788/10/ABC1/22/2A", false, gs1se + ", with values"},
		{"https://id.gs1.org/01/09520123456788/10/ABC123?99=XYZ789&10=ABC123", false, gs1se},
		{"https://a/stem/00/006141411234567890/", false, gs1se},
		{"https://a/01/416000336108", false, gs1se},
		{"https://a/01/12312312312333?99=ABC&999=faux", false, gs1se},
		{"https://a/gtin/12312312312333", false, gs1se},
		{"HTTPS://TRACE.EXAMPLE.ORG/01/19521321001012/10/SPN260615-A", true, ours},
		{"https://trace.example.org/01/19521321001012?250=TRAY7", false, ours},
		{"https://trace.example.org/00/095213210000003170?02=19521321001012", false, ours},
		{"https://t.fernglade.example/c/K7M2Q4XD93HV", false, "engine says \"no GS1 keys\" [measured, 2.6]"},

		{"HtTp://id.gs1.org/01/09520123456788", false, "mixed case, rule of 2.5"},
		{"ftp://id.gs1.org/01/09520123456788", false, "scheme, rule of 2.5"},
		{"https://exa_mple.org/01/09520123456788", false, "host, rule of 2.5"},
		{"https:///01/09520123456788", false, "no host, rule of 2.5"},
		{"https://[2001:db8::1]:8080/01/09520123456788", true, "IPv6 and port, rule of 2.5"},
		{"https://a/01/09520123456788?21=1", false, "21 never after the question mark"},
		{"https://a/01/09520123456788?8200=x", false, "8200 never"},
		{"https://a/414/9520123456788?254=x", false, "254 never after the question mark"},
		{"https://a/01/09520123456788/21/1/235/2", false, "235 alone"},
		{"https://a/01/09520123456788/10/%00", false, "NUL refused"},
		{"https://a/01/09520123456788/10/", false, "no empty value"},
		{"https://a/01/09520123456788/10/a+b", true, "+ in the path is a plus"},
		{"https://a/01/09520123456788?240=a+b", false, "+ in the query is a blank, which the set does not hold"},
		{"https://a/01/09520123456788?17=260631", false, "no such day [measured with GS1SE]"},
		{"https://a/01/09520123456788?17=260600", true, "day 00 [measured with GS1SE]"},
		{"https://a/01/09520123456788?linkType=all&s=x#part", true, "words and fragment ignored"},
		{"https://a/01/09520123456788?17=", false, "no empty value"},
		{"https://a/01/09520123456789", false, "check digit"},
	} {
		if _, err := domain.ParseDigitalLink(c.uri); (err == nil) != c.valid {
			t.Errorf("%s: %v, want valid %v: %s", c.uri, err, c.valid, c.source)
		}
	}
}

func TestDigitalLinkCanonical(t *testing.T) {
	t.Parallel()
	l, err := domain.ParseDigitalLink("HTTPS://TRACE.EXAMPLE.ORG/01/19521321001012/10/SPN260615-A?linkType=all")
	if err != nil {
		t.Fatal(err)
	}
	if want := "https://id.gs1.org/01/19521321001012/10/SPN260615-A"; l.Canonical() != want { // [measured, 2.5]
		t.Errorf("canonical is %s, want %s", l.Canonical(), want)
	}
	if l.Stem != "HTTPS://TRACE.EXAMPLE.ORG" {
		t.Errorf("stem is %s", l.Stem)
	}
}

func TestBuildDigitalLink(t *testing.T) {
	t.Parallel()
	got, err := domain.BuildDigitalLink("https://example.com/products/", []domain.GS1Value{{AI: "13", Value: "260615"}, {AI: "21", Value: "4"}, {AI: "10", Value: "A/1"}, {AI: "01", Value: "19521321001012"}})
	if want := "https://example.com/products/01/19521321001012/10/A%2F1/21/4?13=260615"; err != nil || got != want {
		t.Errorf("got %s, %v; want %s", got, err, want)
	}
	for name, values := range map[string][]domain.GS1Value{
		"no key":       {{AI: "10", Value: "A"}},
		"two keys":     {{AI: "01", Value: "19521321001012"}, {AI: "00", Value: "095213210000003170"}},
		"wrong digit":  {{AI: "01", Value: "19521321001013"}},
		"blank in lot": {{AI: "01", Value: "19521321001012"}, {AI: "10", Value: "A 1"}},
	} {
		if got, err := domain.BuildDigitalLink("https://example.com", values); err == nil {
			t.Errorf("%s gives %s", name, got)
		}
	}
	if got, err := domain.BuildDigitalLink("example.com", []domain.GS1Value{{AI: "01", Value: "19521321001012"}}); err == nil {
		t.Errorf("no scheme gives %s", got)
	}
}

func TestBuildGS1128(t *testing.T) {
	t.Parallel()
	const gs = "\x1d"
	for _, c := range []struct{ text, data, source string }{
		{"(01)19521321001012(13)260615(10)SPN260615-A(21)0042", "0119521321001012" + "13260615" + "10SPN260615-A" + gs + "210042", "GS1's engine [measured, 2.4]"},
		{"(01)19521321001012(10)SPN260615-A(422)840", "0119521321001012" + "10SPN260615-A" + gs + "422840", "needs FNC1 after the lot [measured, 2.4]"},
		{"(10)SPN260615-A(01)19521321001012", "0119521321001012" + "10SPN260615-A", "fixed lengths first, no FNC1 at the end [verified: GS1UK]"},
		{"(01)19521321001012(3202)001000", "01195213210010123202001000", "10.00 lb [computed, 2.3]"},
		{"(00)095213210000003170(02)19521321001012(37)24", "00095213210000003170" + "0219521321001012" + "3724", "content and count"},
	} {
		values, err := domain.ParseGS1Text(c.text)
		if err != nil {
			t.Errorf("%s: %v", c.text, err)
			continue
		}
		e, err := domain.BuildGS1128(values)
		if err != nil || e.Data != c.data {
			t.Errorf("%s gives %q, %v; want %q: %s", c.text, e.Data, err, c.data, c.source)
			continue
		}
		for _, scanned := range []string{c.data, gs + c.data, "]C1" + c.data} {
			if back, err := domain.ParseGS1128(scanned); err != nil || back.Data != c.data {
				t.Errorf("%q is read back as %q, %v", scanned, back.Data, err)
			}
		}
	}
}

func TestGS1128Refusals(t *testing.T) {
	t.Parallel()
	for name, text := range map[string]string{
		"check digit":           "(01)19521321001013",
		"lot without a product": "(10)A-1",
		"count without content": "(00)095213210000003170(37)24",
		"origin twice told":     "(01)19521321001012(422)840(426)840",
		"two net weights":       "(01)19521321001012(3102)000454(3103)004540",
		"subdivision alone":     "(01)19521321001012(427)VT",
		"unknown identifier":    "(01)19521321001012(999)1",
		"lot too long":          "(01)19521321001012(10)123456789012345678901",
		"accent":                "(01)19521321001012(10)Ñ1",
		"no such day":           "(01)19521321001012(13)260631",
		"twice":                 "(01)19521321001012(10)A(10)B",
		"no brackets":           "0119521321001012",
		"empty":                 "(01)",
		"count of words":        "(01)19521321001012(30)many",
		"crate not with 0":      "(8003)19521321001012",
	} {
		if _, err := domain.ParseGS1Text(text); err == nil {
			t.Errorf("%s: %s is taken", name, text)
		}
	}
	// 16 + 2 + 20 + 1 + 2 + 8 = 49: one more than a symbol holds [verified: GenSpecs 5.4.4.3].
	at := func(serial string) []domain.GS1Value {
		return []domain.GS1Value{{AI: "01", Value: "19521321001012"}, {AI: "10", Value: "12345678901234567890"}, {AI: "21", Value: serial}}
	}
	if e, err := domain.BuildGS1128(at("1234567")); err != nil || len(e.Data) != 48 {
		t.Errorf("48 characters: %d, %v", len(e.Data), err)
	}
	if _, err := domain.BuildGS1128(at("12345678")); err == nil {
		t.Error("49 characters are taken")
	}
	for _, data := range []string{"", "0119521321001012\x1d\x1d", "01195213", "0119521321001012" + "10\x1d", "0119521321001012" + "10A\x1d", "xx"} {
		if e, err := domain.ParseGS1128(data); err == nil {
			t.Errorf("%q is read as %s", data, e.Human)
		}
	}
	if values, err := domain.ParseGS1Text(`(01)19521321001012(10)A\(1\)`); err != nil || values[1].Value != "A(1)" {
		t.Errorf("bracket in a lot: %v, %v", values, err)
	}
}

// Whatever is read can be written and read again, and says the same.
func FuzzParseDigitalLink(f *testing.F) {
	for _, seed := range []string{"https://id.gs1.org/01/09521234543213/10/ABC123/21/12345", "https://id.gs1.org/414/9520123456788/254/32a%2Fb",
		"https://id.gs1.org/00/952012345678912345?02=09520123456788&37=25&10=ABC123", "https://a/01/%", "http://[::1]/01/09521234543213?;&=", "://", "https:///"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, s string) {
		l, err := domain.ParseDigitalLink(s)
		if err != nil {
			return
		}
		again, err := domain.ParseDigitalLink(l.Canonical())
		if err != nil || again.Canonical() != l.Canonical() {
			t.Fatalf("%q: canonical %q is read as %q, %v", s, l.Canonical(), again.Canonical(), err)
		}
		built, err := domain.BuildDigitalLink(l.Stem, l.Values())
		if err != nil {
			t.Fatalf("%q can't be built again: %v", s, err)
		}
		if back, err := domain.ParseDigitalLink(built); err != nil || back.Canonical() != l.Canonical() {
			t.Fatalf("%q built again is %q, %v", s, built, err)
		}
	})
}

func FuzzParseGS1128(f *testing.F) {
	for _, seed := range []string{"0119521321001012" + "13260615" + "10SPN260615-A\x1d210042", "]C10119521321001012", "\x1d8003", "42", "3724"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, s string) {
		e, err := domain.ParseGS1128(s)
		if err != nil {
			return
		}
		if back, err := domain.ParseGS1128(e.Data); err != nil || back.Data != e.Data {
			t.Fatalf("%q is written as %q and read as %q, %v", s, e.Data, back.Data, err)
		}
	})
}
