package labels

import (
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"

	"croftmark/domain"
)

// Label is what one label says. Empty fields are left out and the rest grows into their room; only URL is required.
type Label struct {
	URL       string // what the QR symbol holds; in upper case it needs fewer, larger modules
	Crop      string
	LotCode   string
	CrateCode string
	CutOn     domain.Date
	PackedOn  domain.Date
	NetWeight string // with its unit: "20 lb"
	Farm      string
	Place     string
	Bed       string
	Status    string // printed as it stands: "ORGANIC"
	Held      bool
	Language  string // "es"; anything else is English
	Number    int    // crate Number of Of
	Of        int
	Linear    LinearCode // GS1-128 beside the QR symbol; the zero value prints none
	// ShortURL is in the symbol instead of URL where URL would fit the label at a level below Q only, or not at all.
	ShortURL string
}

// tidy makes every text of the label printable: one line, composed accents, and a question mark for a letter that the
// font lacks, so that a reader sees that something is missing.
func (l Label) tidy() Label {
	for _, field := range []*string{&l.Crop, &l.LotCode, &l.CrateCode, &l.NetWeight, &l.Farm, &l.Place, &l.Bed, &l.Status, &l.Linear.Human} {
		*field = printable(*field)
	}
	return l
}

func printable(s string) string {
	onePerSpace := strings.Join(strings.Fields(strings.ToValidUTF8(s, "?")), " ")
	return strings.Map(func(r rune) rune {
		switch {
		case unicode.IsControl(r) || unicode.Is(unicode.Cf, r):
			return -1
		case !hasGlyph(r):
			return '?'
		}
		return r
	}, norm.NFC.String(onePerSpace))
}

// checkURLs refuses links that no printer language carries unharmed.
func (l Label) checkURLs() error {
	if l.ShortURL != "" {
		if err := checkURL(l.ShortURL); err != nil {
			return err
		}
	}
	return checkURL(l.URL)
}

// checkURL refuses a link that no printer language carries unharmed.
func checkURL(url string) error {
	if url == "" {
		return domain.Refuse(domain.CodeInvalid, "Label without a link", "A label needs the link that its QR symbol opens.")
	}
	for _, r := range url {
		if r <= ' ' || r > '~' {
			return domain.Refuse(domain.CodeInvalid, "Label with a broken link",
				"The link of a label may hold only plain characters without spaces: %.80q.", url)
		}
	}
	return nil
}
