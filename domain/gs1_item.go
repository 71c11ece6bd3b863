package domain

import "strings"

// GS1Item is the item reference that the farm gave a product under its own company prefix: the middle digits of its GTIN.
type GS1Item struct {
	Product string `json:"product" maxLength:"120" doc:"As the crop or the packed product is called; a crop with its variety, \"radish Red Head\", before the crop alone."`
	Item    string `json:"item" maxLength:"8" doc:"The digits between prefix and check digit."`
}

// checkItems notes an item that does not fill the room behind the prefix, and two products that share a name or a number.
func (f *Farm) checkItems(p *Problems, prefix GS1Prefix) {
	if prefix.IsZero() {
		p.Check(len(f.GS1Items) == 0, "/gs1_items", "Item references stand behind a GS1 company prefix; give gs1_prefix as well.")
		return
	}
	names, numbers := map[string]bool{}, map[string]bool{}
	for i, item := range f.GS1Items {
		at := "/gs1_items/" + itoa(i)
		checkName(p, at+"/product", item.Product)
		if _, err := prefix.GTIN(caseIndicator, item.Item); err != nil {
			p.Add(at+"/item", "Behind the prefix %s there is room for %d digits; copy them from the farm's own list of numbers.", prefix, max(0, 12-len(prefix.digits)))
		}
		name := strings.ToLower(item.Product)
		p.Check(!names[name], at+"/product", "This product is named twice.")
		p.Check(!numbers[item.Item], at+"/item", "Another product has this number already. Every kind of case has its own.")
		names[name], numbers[item.Item] = true, true
	}
}

// ItemOf gives the item reference of a product, or "" when the farm gave it none. A variety has its own before the crop's.
func (f *Farm) ItemOf(product, variety string) string {
	for _, name := range []string{product + " " + variety, product} {
		for _, item := range f.GS1Items {
			if strings.EqualFold(item.Product, name) {
				return item.Item
			}
		}
	}
	return ""
}
