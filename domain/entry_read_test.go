package domain_test

import (
	"bytes"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"croftmark/domain"
)

// readAlike fails where the pass over the bytes is sure of an entry that writing it again refuses or reads differently.
func readAlike(t interface{ Fatalf(string, ...any) }, leaf []byte) (sure bool) {
	quick, sure := domain.ReadCanonical(leaf)
	if !sure {
		return false
	}
	slow, err := domain.ParseAgain(leaf)
	if err != nil || !cmp.Equal(quick, slow, cmp.AllowUnexported(domain.Date{})) {
		t.Fatalf("%q: %v %s", leaf, err, cmp.Diff(slow, quick, cmp.AllowUnexported(domain.Date{})))
	}
	return true
}

// What the door writes is read in one pass; only odd texts are left to the slow way.
func TestEntriesAreReadInOnePass(t *testing.T) {
	t.Parallel()
	swap := func(old, new string) string { return strings.Replace(sampleBytes, old, new, 1) }
	for _, leaf := range []string{sampleBytes, bareBytes, swap(`"note":"the far half, <wet>"`, `"note":"\"a\"\n\t\\ — ä","of":[1,-2,true,false,null,{},[]]`)} {
		if !readAlike(t, []byte(leaf)) {
			t.Errorf("not read in one pass: %s", leaf)
		}
	}
}

func TestReadingInOnePassIsSound(t *testing.T) {
	t.Parallel()
	parts := []string{`"`, `\`, `\u0041`, `\n`, `\/`, `\u000b`, ` `, `,`, `:`, `{`, `}`, `[`, `]`, `0`, `-0`, `-1`, `01`, `1.0`, `1e3`, `9007199254740992`, `999999999999999`, `null`, `true`, `"a":1`, `"A":1,`, "\xff", "\x7f", "\x1f",
		"\u2028", `\ud800`, `"2026-02-30"`, `"reason":"",`, `Z`, `+00:00`, `.0Z`, `F`, `"seq":12,`}
	sure := 0
	for _, sample := range []string{sampleBytes, bareBytes} {
		for i := range sample {
			for _, part := range parts {
				for _, cut := range []int{0, 1, 2, len(part)} {
					if i+cut <= len(sample) && readAlike(t, []byte(sample[:i]+part+sample[i+cut:])) {
						sure++
					}
				}
			}
			for bit := range 8 {
				changed := []byte(sample)
				changed[i] ^= 1 << bit
				if readAlike(t, changed) {
					sure++
				}
			}
		}
	}
	if sure < 1000 {
		t.Errorf("only %d changed entries were read in one pass", sure)
	}
}

func TestAnyBodyIsReadAlike(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		raw := rapid.SliceOfN(rapid.SampledFrom([]byte(`{}[]",:\ub019-.etrufalsn `+"\x00\xc3\xa4")), 0, 40).Draw(t, "body")
		readAlike(t, bytes.Replace([]byte(bareBytes), []byte(`{}`), raw, 1))
	})
}

func BenchmarkParseEntry(b *testing.B) {
	leaf := []byte(sampleBytes)
	b.SetBytes(int64(len(leaf)))
	b.Run("in one pass", func(b *testing.B) {
		for b.Loop() {
			domain.ReadCanonical(leaf)
		}
	})
	b.Run("written again", func(b *testing.B) {
		for b.Loop() {
			domain.ParseAgain(leaf)
		}
	})
}
