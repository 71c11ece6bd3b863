package domain

import "slices"

// PublicFact is something that a farm may show to everybody who scans a label. The code itself is always shown. Nothing
// of buyers is on the list, and no quantity.
type PublicFact string

const (
	ShowCrop      PublicFact = "crop"
	ShowVariety   PublicFact = "variety"
	ShowCutDay    PublicFact = "cut-day"
	ShowPackedDay PublicFact = "packed-day"
	ShowStatus    PublicFact = "status"
	ShowBed       PublicFact = "bed"
	ShowFarm      PublicFact = "farm"
	ShowPlace     PublicFact = "place"
	ShowPhone     PublicFact = "phone"
	ShowHold      PublicFact = "hold"
)

// PublicFacts lists all of them in the order of the page.
var PublicFacts = []PublicFact{ShowHold, ShowCrop, ShowVariety, ShowCutDay, ShowPackedDay, ShowStatus, ShowBed, ShowFarm, ShowPlace, ShowPhone}

// publicDefault is what a farm shows that chose nothing: whose crate it is and what is in it.
var publicDefault = []PublicFact{ShowCrop, ShowFarm}

// Shows reports whether the public page tells a fact.
func (f *Farm) Shows(fact PublicFact) bool {
	chosen := f.PublicPage
	if len(chosen) == 0 {
		chosen = publicDefault
	}
	return slices.Contains(chosen, fact)
}

func (f *Farm) checkPublicPage(p *Problems) {
	seen := map[PublicFact]bool{}
	for i, fact := range f.PublicPage {
		at := "/public_page/" + itoa(i)
		checkOneOf(p, at, fact, PublicFacts...)
		p.Check(!seen[fact], at, "%q is named twice.", fact)
		seen[fact] = true
	}
}
