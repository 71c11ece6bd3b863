package domain_test

import (
	"errors"
	"math/big"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"croftmark/domain"
)

// The day of the examples: 2026-08-07 is day 219 of its year.
var cutOn = domain.NewDate(2026, 8, 7)

func TestLotCodeParts(t *testing.T) {
	t.Parallel()
	for _, row := range []struct{ bed, crop, want string }{
		{"Lower 3", "radish", "26219-L3-RAD-1-"},
		{"North tunnel 12", "lettuce, head", "26219-NT12-LET-1-"},
		{"Cama Ñandú 4", "corn, sweet", "26219-CN4-COR-1-"},
		{"L3", "maíz", "26219-L3-MAI-1-"},
		{"b12a", "ñame", "26219-BA12-NAM-1-"},
		{"The big old north tunnel 12", "pea", "26219-TBO12-PEA-1-"},
		{"Bed 1234567", "bo", "26219-B1234-BOX-1-"},
		{"1234567", "72", "26219-12345-XXX-1-"},
		{"—", "", "26219-X-XXX-1-"},
	} {
		got := domain.LotCode(cutOn, row.bed, row.crop, 1)
		if got[:len(got)-2] != row.want {
			t.Errorf("bed %q, crop %q: %s, want %s and two check characters", row.bed, row.crop, got, row.want)
		}
	}
}

// The codes that the documentation shows, so that it cannot drift from the program.
func TestCodesAsDocumented(t *testing.T) {
	t.Parallel()
	lot := domain.LotCode(cutOn, "Lower 3", "radish", 1)
	pack := domain.PackLotCode(domain.NewDate(2026, 8, 9), "salad mix", 1)
	got := []string{lot, domain.CrateCode(lot, 12), pack, domain.CrateCode(pack, 2)}
	want := []string{"26219-L3-RAD-1-SS", "26219-L3-RAD-1-C12-8H", "P26221-SAL-1-4X", "P26221-SAL-1-C2-WP"}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("codes (-want +got):\n%s", diff)
	}
}

// ISO/IEC 7064, worked example for MOD 1271-36: ISO79 takes the check characters 3W. [memory]
// The text is no lot code, so the congruence is checked on the whole, and codes are checked in the test below it.
func TestCodeRemainderOfPublishedExample(t *testing.T) {
	t.Parallel()
	if got := remainder(t, "ISO793W"); got != 1 {
		t.Errorf("ISO79 with 3W leaves %d, want 1", got)
	}
}

// A valid text, read as a number in base 36, is 1 modulo 1271 (ISO/IEC 7064, pure systems). [memory]
func TestEveryCodeLeavesRemainderOne(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(rt *rapid.T) {
		code := anyCode(rt)
		if got := remainder(rt, strings.ReplaceAll(code, "-", "")); got != 1 {
			rt.Fatalf("%s leaves %d, want 1", code, got)
		}
	})
}

func remainder(t interface{ Fatalf(string, ...any) }, text string) int64 {
	n, ok := new(big.Int).SetString(text, 36)
	if !ok {
		t.Fatalf("%q is no number in base 36", text)
	}
	return n.Mod(n, big.NewInt(1271)).Int64()
}

func anyCode(rt *rapid.T) string {
	day := domain.NewDate(2000, 1, 1).AddDays(rapid.IntRange(0, 36000).Draw(rt, "day"))
	seq := rapid.IntRange(1, 99999).Draw(rt, "seq")
	name := rapid.OneOf(rapid.StringMatching(`[A-Z]{0,3} ?[0-9]{0,3}`), rapid.StringMatching(`[OIL0-1]{0,5}`), rapid.String())
	code := domain.LotCode(day, name.Draw(rt, "bed"), name.Draw(rt, "crop"), seq)
	if rapid.Bool().Draw(rt, "packed") {
		code = domain.PackLotCode(day, name.Draw(rt, "product"), seq)
	}
	if rapid.Bool().Draw(rt, "crate") {
		code = domain.CrateCode(code, rapid.IntRange(1, 99999).Draw(rt, "crate number"))
	}
	return code
}

func TestParseCodeReadsWhatWasMade(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(rt *rapid.T) {
		code := anyCode(rt)
		typed := rapid.SampledFrom([]string{
			code, strings.ToLower(code), strings.ReplaceAll(code, "-", ""), strings.ReplaceAll(code, "-", " "),
			strings.ReplaceAll(code, "-", " – "), "  " + code + "\n",
		}).Draw(rt, "typed")
		got, err := domain.ParseCode(typed)
		if err != nil || got.Text != code {
			rt.Fatalf("ParseCode(%q) = %+v, %v; want %s", typed, got, err, code)
		}
	})
}

func TestParseCodeTellsKinds(t *testing.T) {
	t.Parallel()
	const lot, pack = "26219-L3-RAD-1-SS", "P26221-SAL-1-4X"
	for typed, want := range map[string]domain.TraceCode{
		lot:                     {Kind: domain.CodeKindHarvest, Text: lot, Lot: lot},
		"26219-L3-RAD-1-C12-8H": {Kind: domain.CodeKindCrate, Text: "26219-L3-RAD-1-C12-8H", Lot: lot, Crate: 12},
		pack:                    {Kind: domain.CodeKindPack, Text: pack, Lot: pack},
		"p26221sal1c2wp":        {Kind: domain.CodeKindCrate, Text: "P26221-SAL-1-C2-WP", Lot: pack, Crate: 2},
		// look-alikes, in parts where only one reading is possible
		"262I9-L3-RAD-l-SS":     {Kind: domain.CodeKindHarvest, Text: lot, Lot: lot},
		"26219-L3-RAD-1-CI2-8H": {Kind: domain.CodeKindCrate, Text: "26219-L3-RAD-1-C12-8H", Lot: lot, Crate: 12},
	} {
		got, err := domain.ParseCode(typed)
		if err != nil {
			t.Errorf("%s: %v", typed, err)
		}
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("%s (-want +got):\n%s", typed, diff)
		}
	}
}

func TestMistypedCodeIsAskedForAgain(t *testing.T) {
	t.Parallel()
	for _, typed := range []string{"26219-L3-RAD-1-SZ", "26219-L3-RAD-2-SS", "", "-", "SS", "radish", "26219-L3-RAD-01-SS",
		strings.Repeat("2", 5000), "\xff\xfe", "26219-Ł3-RAD-1-SS"} {
		_, err := domain.ParseCode(typed)
		var refusal *domain.Error
		if !errors.As(err, &refusal) || refusal.Code != domain.CodeInvalid {
			t.Errorf("%.40q: %v, want an error with the code invalid", typed, err)
			continue
		}
		for _, words := range []string{"check characters", "do not fit", "Look at the label again"} {
			if !strings.Contains(refusal.Detail, words) {
				t.Errorf("%.40q: %q does not say %q", typed, refusal.Detail, words)
			}
		}
	}
}

// mustCatch wants a refusal, or the very code that was meant: a look-alike put right is no harm.
func mustCatch(rt *rapid.T, code, typed string) {
	if got, err := domain.ParseCode(typed); err == nil && got.Text != code {
		rt.Fatalf("%s, typed as %s, was taken for %s", code, typed, got.Text)
	}
}

// ISO/IEC 7064 MOD 1271-36 catches every single substitution and every swap of neighbours. [memory]
func TestCodeCatchesEverySingleSlip(t *testing.T) {
	t.Parallel()
	const alphabet = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"
	rapid.Check(t, func(rt *rapid.T) {
		code := anyCode(rt)
		for i := range code {
			if code[i] == '-' {
				continue
			}
			for _, wrong := range alphabet {
				typed := code[:i] + string(wrong) + code[i+1:]
				mustCatch(rt, code, typed)
				mustCatch(rt, code, strings.ReplaceAll(typed, "-", ""))
			}
			if next := i + 1 + strings.Count(code[i+1:min(i+2, len(code))], "-"); next < len(code) {
				typed := []byte(code)
				typed[i], typed[next] = typed[next], typed[i]
				mustCatch(rt, code, string(typed))
				mustCatch(rt, code, strings.ReplaceAll(string(typed), "-", ""))
			}
		}
	})
}

func FuzzParseCode(f *testing.F) {
	for _, seed := range []string{"26219-L3-RAD-1-SS", "p26221sal1c2wp", "262I9 L3 RAD l SS", "−–- ", "ŉıſ", "C1-C1-C1-C1-C1-C1"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, typed string) {
		first, err := domain.ParseCode(typed)
		if err != nil {
			return
		}
		again, err := domain.ParseCode(first.Text)
		if err != nil || again != first {
			t.Errorf("%q reads as %+v, and that as %+v, %v", typed, first, again, err)
		}
		if lot, err := domain.ParseCode(first.Lot); err != nil || lot.Crate != 0 {
			t.Errorf("%q: its lot %s reads as %+v, %v", typed, first.Lot, lot, err)
		}
	})
}
