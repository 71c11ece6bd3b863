package domain_test

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
	"github.com/gowebpki/jcs"
	"pgregory.net/rapid"

	"croftmark/domain"
)

// RFC 8785, the published examples that hold no floats: section 3.2.2 without its numbers, section 3.2.3 whole, and the
// two zeros of appendix B [memory; each compared here with an independent implementation].
func TestCanonicalJSONPublishedExamples(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ section, raw, want string }{
		{"3.2.2", `{
  "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/",
  "literals": [null, true, false]
}`, `{"literals":[null,true,false],"string":"€$\u000f\nA'B\"\\\\\"/"}`},
		{"3.2.3", `{
  "\u20ac": "Euro Sign",
  "\r": "Carriage Return",
  "\ufb33": "Hebrew Letter Dalet With Dagesh",
  "1": "One",
  "\ud83d\ude00": "Emoji: Grinning Face",
  "\u0080": "Control",
  "\u00f6": "Latin Small Letter O With Diaeresis"
}`, `{"\r":"Carriage Return","1":"One","` + "\u0080" + `":"Control","ö":"Latin Small Letter O With Diaeresis",` +
			`"€":"Euro Sign","😀":"Emoji: Grinning Face","` + "\ufb33" + `":"Hebrew Letter Dalet With Dagesh"}`},
		{"appendix B", `[0, -0]`, `[0,0]`},
	} {
		got, err := domain.CanonicalJSON([]byte(c.raw))
		if err != nil || string(got) != c.want {
			t.Errorf("%s: %s (%v), want %s", c.section, got, err, c.want)
		}
		other, err := jcs.Transform([]byte(c.raw))
		if err != nil || string(other) != c.want {
			t.Errorf("%s: the other implementation gives %s (%v)", c.section, other, err)
		}
	}
}

func anyJSON(depth int) *rapid.Generator[any] {
	return rapid.Custom(func(t *rapid.T) any {
		kinds := 5
		if depth == 0 {
			kinds = 3
		}
		switch rapid.IntRange(0, kinds).Draw(t, "kind") {
		case 0:
			return nil
		case 1:
			return rapid.Bool().Draw(t, "bool")
		case 2:
			return rapid.Int64Range(-(1<<53-1), 1<<53-1).Draw(t, "number")
		case 4:
			return rapid.SliceOfN(anyJSON(depth-1), 0, 4).Draw(t, "list")
		case 5:
			return rapid.MapOfN(rapid.String(), anyJSON(depth-1), 0, 5).Draw(t, "object")
		default:
			return rapid.String().Draw(t, "text")
		}
	})
}

func TestCanonicalJSONAgainstAnotherImplementation(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		raw, err := json.Marshal(anyJSON(3).Draw(t, "value"))
		if err != nil {
			t.Fatal(err)
		}
		got, err := domain.CanonicalJSON(raw)
		if err != nil {
			t.Fatalf("%s: %v", raw, err)
		}
		want, err := jcs.Transform(raw)
		if err != nil || !bytes.Equal(got, want) {
			t.Fatalf("%s: %s, want %s (%v)", raw, got, want, err)
		}
		if again, err := domain.CanonicalJSON(got); err != nil || !bytes.Equal(again, got) {
			t.Fatalf("a second time: %s (%v)", again, err)
		}
	})
}

func TestCanonicalJSONRefuses(t *testing.T) {
	t.Parallel()
	for _, raw := range []string{`1.5`, `1.0`, `1e3`, `{"value":12.5}`, `[0.1]`, `9007199254740992`, `-9007199254740992`, `9007199254740993`,
		`92233720368547758080`, ``, `{`, `{} {}`, `{}]`, `[1]}`, `1 2`, `{"a":1,}`, `nul`, "\"\xff\"", `{'a':1}`} {
		if got, err := domain.CanonicalJSON([]byte(raw)); err == nil {
			t.Errorf("%s became %s", raw, got)
		}
	}
	for _, raw := range []string{`9007199254740991`, `-9007199254740991`, ` 1 `, "{}\n"} {
		if _, err := domain.CanonicalJSON([]byte(raw)); err != nil {
			t.Errorf("%s: %v", raw, err)
		}
	}
}

func sampleEntry() *domain.Entry {
	return &domain.Entry{
		Version: domain.EntryVersion, FarmID: uuid.MustParse("0190a6d2-0000-7000-8000-00000000000f"), Seq: 12,
		ID: uuid.MustParse("0190a6d2-0000-7000-8000-00000000000e"), EntryKind: "application",
		RecordID: uuid.MustParse("0190a6d2-0000-7000-8000-00000000000a"),
		Body:     json.RawMessage(`{"amount":{"unit":"yd3","value":"4.50"},"applied_on":"2026-04-01","note":"the far half, <wet>"}`),
		DoneBy:   uuid.MustParse("0190a6d2-0000-7000-8000-00000000000b"), TypedBy: uuid.MustParse("0190a6d2-0000-7000-8000-00000000000c"),
		DoneOn: dayOf("2026-04-01"), DoneAt: time.Date(2026, 4, 1, 14, 5, 0, 0, time.UTC),
		EnteredAt: time.Date(2026, 4, 3, 1, 2, 3, 456789000, time.UTC), DeviceAt: time.Date(2026, 4, 3, 1, 2, 1, 0, time.UTC),
		Reason:  "año nuevo — found in the notebook",
		Request: &domain.RequestMark{Key: "k-1", Hash: "00ff"},
	}
}

// sampleBytes is frozen: books already written hold entries of this form. When it fails the change is wrong, not the test.
const sampleBytes = `{"body":{"amount":{"unit":"yd3","value":"4.50"},"applied_on":"2026-04-01","note":"the far half, <wet>"},` +
	`"device_at":"2026-04-03T01:02:01Z","done_at":"2026-04-01T14:05:00Z","done_by":"0190a6d2-0000-7000-8000-00000000000b",` +
	`"done_on":"2026-04-01","entered_at":"2026-04-03T01:02:03.456789Z","farm_id":"0190a6d2-0000-7000-8000-00000000000f",` +
	`"id":"0190a6d2-0000-7000-8000-00000000000e","kind":"application","reason":"año nuevo — found in the notebook",` +
	`"record_id":"0190a6d2-0000-7000-8000-00000000000a","request":{"hash":"00ff","key":"k-1"},"seq":12,` +
	`"typed_by":"0190a6d2-0000-7000-8000-00000000000c","v":1}`

// A bare entry leaves out all that may be left out; also frozen.
const bareBytes = `{"body":{},"done_by":"00000000-0000-0000-0000-000000000000","done_on":"2026-04-01","entered_at":"2026-04-03T00:00:00Z",` +
	`"farm_id":"00000000-0000-0000-0000-000000000000","id":"00000000-0000-0000-0000-000000000000","kind":"hold",` +
	`"record_id":"00000000-0000-0000-0000-000000000000","seq":1,"typed_by":"00000000-0000-0000-0000-000000000000","v":1}`

func TestEntryBytesAreFrozen(t *testing.T) {
	t.Parallel()
	bare := &domain.Entry{Version: 1, Seq: 1, EntryKind: "hold", Body: json.RawMessage(`{}`), DoneOn: dayOf("2026-04-01"), EnteredAt: time.Date(2026, 4, 3, 0, 0, 0, 0, time.UTC)}
	for want, e := range map[string]*domain.Entry{sampleBytes: sampleEntry(), bareBytes: bare} {
		got, err := e.Canonical()
		if err != nil || string(got) != want {
			t.Errorf("%v: %s", err, cmp.Diff(want, string(got)))
		}
		back, err := domain.ParseEntry([]byte(want))
		if err != nil || !cmp.Equal(back, e, cmp.AllowUnexported(domain.Date{})) {
			t.Errorf("%v: %s", err, cmp.Diff(e, back, cmp.AllowUnexported(domain.Date{})))
		}
	}
}

func TestEntrySurvivesTheBook(t *testing.T) {
	t.Parallel()
	id := rapid.Custom(func(t *rapid.T) uuid.UUID {
		return uuid.UUID(rapid.SliceOfN(rapid.Byte(), 16, 16).Draw(t, "id"))
	})
	instant := rapid.Custom(func(t *rapid.T) time.Time {
		return time.UnixMicro(rapid.Int64Range(-6e14, 4e15).Draw(t, "micro")).UTC()
	})
	rapid.Check(t, func(t *rapid.T) {
		raw, err := json.Marshal(anyJSON(2).Draw(t, "body"))
		if err != nil {
			t.Fatal(err)
		}
		body, err := domain.CanonicalJSON(raw)
		if err != nil {
			t.Fatal(err)
		}
		e := &domain.Entry{
			Version: 1, FarmID: id.Draw(t, "farm"), Seq: rapid.Int64Range(1, 1<<53-1).Draw(t, "seq"), ID: id.Draw(t, "id"),
			EntryKind: rapid.String().Draw(t, "kind"), RecordID: id.Draw(t, "record"), Body: body, DoneBy: id.Draw(t, "by"), TypedBy: id.Draw(t, "typed"),
			DoneOn: dayOf("1950-01-01").AddDays(rapid.IntRange(0, 60000).Draw(t, "day")), EnteredAt: instant.Draw(t, "entered"), Reason: rapid.String().Draw(t, "reason"),
		}
		if rapid.Bool().Draw(t, "timed") {
			e.DoneAt, e.DeviceAt, e.Request = instant.Draw(t, "done"), instant.Draw(t, "device"), &domain.RequestMark{Key: "k", Hash: "h"}
		}
		leaf, err := e.Canonical()
		if err != nil {
			t.Fatal(err)
		}
		back, err := domain.ParseEntry(leaf)
		if err != nil || !cmp.Equal(back, e, cmp.AllowUnexported(domain.Date{})) {
			t.Fatalf("%v: %s", err, cmp.Diff(e, back, cmp.AllowUnexported(domain.Date{})))
		}
	})
}

func TestEveryChangedByteShows(t *testing.T) {
	t.Parallel()
	leaf := []byte(sampleBytes)
	for i := range leaf {
		for bit := range 8 {
			changed := bytes.Clone(leaf)
			changed[i] ^= 1 << bit
			e, err := domain.ParseEntry(changed)
			if err != nil {
				continue
			}
			if cmp.Equal(e, sampleEntry(), cmp.AllowUnexported(domain.Date{})) {
				t.Fatalf("byte %d, bit %d: the same entry from %s", i, bit, changed)
			}
		}
	}
}

func TestParseEntryRefusesOtherForms(t *testing.T) {
	t.Parallel()
	swap := func(old, new string) string {
		return string(bytes.Replace([]byte(sampleBytes), []byte(old), []byte(new), 1))
	}
	for why, leaf := range map[string]string{
		"white space": swap(`{"body"`, `{ "body"`), "a line end": sampleBytes + "\n", "a second document": sampleBytes + sampleBytes,
		"an unknown field": swap(`"seq":12`, `"row":1,"seq":12`), "a field in capitals": swap(`"seq"`, `"SEQ"`),
		"a field twice": swap(`"seq":12`, `"seq":12,"seq":12`), "an escape that is not needed": swap(`<wet>`, `\u003cwet>`),
		"a float in the body": swap(`"value":"4.50"`, `"value":4.50`), "a number as text": swap(`"seq":12`, `"seq":"12"`),
		"an id in capitals": swap(`00000000000f`, `00000000000F`), "zeros after the second": swap(`05:00Z`, `05:00.000Z`),
		"a day that is none": swap(`"done_on":"2026-04-01"`, `"done_on":"2026-04-31"`), "nothing": "", "null": "null",
		"a text that is not UTF-8": swap(`wet`, "w\xfft"),
	} {
		if e, err := domain.ParseEntry([]byte(leaf)); err == nil {
			t.Errorf("%s: read as %s", why, e.EntryTitle())
		}
	}
}

func TestEntryLateByFarmDays(t *testing.T) {
	t.Parallel()
	zone, err := domain.Zone("America/New_York")
	if err != nil {
		t.Fatal(err)
	}
	e := sampleEntry() // entered 2026-04-03 01:02 UTC, the evening before on the farm
	if e.Late(zone) != 1 || e.Late(time.UTC) != 2 {
		t.Errorf("%d and %d days late", e.Late(zone), e.Late(time.UTC))
	}
	e.EntryKind = "harvest-lot"
	if e.EntryTitle() != "entry 12 (harvest lot)" {
		t.Errorf("%q", e.EntryTitle())
	}
}

func FuzzParseEntry(f *testing.F) {
	for _, s := range []string{sampleBytes, bareBytes, `{}`, `null`, `{"v":1}`, sampleBytes[:len(sampleBytes)-1]} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, leaf []byte) {
		e, err := domain.ParseEntry(leaf)
		if err != nil {
			return
		}
		again, err := e.Canonical()
		if err != nil || !bytes.Equal(again, leaf) {
			t.Fatalf("%s became %s (%v)", leaf, again, err)
		}
		other, err := jcs.Transform(leaf)
		if err != nil || !bytes.Equal(other, leaf) {
			t.Fatalf("%s is not canonical to another implementation: %s (%v)", leaf, other, err)
		}
	})
}

// A program must not guess at entries of a version it does not know.
func TestUnknownVersionIsRefused(t *testing.T) {
	for _, v := range []int{0, 2} {
		e := domain.Entry{Version: v, Seq: 7, EntryKind: "crop", Body: json.RawMessage(`{}`)}
		leaf, err := e.Canonical()
		if err != nil {
			t.Fatal(err)
		}
		if _, err := domain.ParseEntry(leaf); err == nil || !strings.Contains(err.Error(), "version") {
			t.Errorf("version %d: %v", v, err)
		}
	}
}
