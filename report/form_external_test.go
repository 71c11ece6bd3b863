//go:build external

package report

import (
	"strings"
	"testing"

	"croftmark/domain"
)

// Another program reads the forms: every field is there in the order of the sheet, with who asks and how long it is kept,
// and a form says that nobody asks for a second signature where nobody does.
func TestFormsInTheOrderOfTheSheet(t *testing.T) {
	t.Parallel()
	for _, sheet := range domain.BuiltInSheets() {
		for _, language := range []string{"", "es"} {
			file := keep(t, drawForm(t, formPaper(sheet, language)))
			pick := func(l domain.LocalText) string {
				if language == "es" {
					return l.Es
				}
				return l.En
			}
			text := file.flat(t)
			contains(t, text, pick(sheet.Title), "Lower Meadow Farm / Rancho El Ñandú")
			for _, a := range sheet.Asks {
				contains(t, text, a.Citation)
			}
			signs := strings.Contains(text, map[string]string{"": "Nobody asks for a second signature", "es": "Nadie pide una segunda firma"}[language])
			if signs == (sheet.SecondSignature != nil) {
				t.Errorf("%s %s: says that nobody signs: %t", sheet.Key, language, signs)
			}
			if len(sheet.Fields) <= gridMost {
				continue // the heads of a grid break into columns that a reader of text mixes up
			}
			rest := text
			for _, field := range sheet.Fields {
				_, after, found := strings.Cut(rest, plain(pick(field.Name)))
				if !found {
					t.Errorf("%s %s: %q is not on the form after the field before it", sheet.Key, language, pick(field.Name))
					break
				}
				rest = after
			}
		}
	}
}

// The words of a grid's heads are on the page, whichever way they broke.
func TestGridFormsHoldTheirHeads(t *testing.T) {
	t.Parallel()
	for _, sheet := range domain.BuiltInSheets() {
		if len(sheet.Fields) > gridMost {
			continue
		}
		text := keep(t, drawForm(t, formPaper(sheet, ""))).flat(t)
		for _, field := range sheet.Fields {
			for _, word := range strings.Fields(field.Name.En) {
				contains(t, text, word)
			}
		}
	}
}
