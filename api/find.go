package api

import (
	"github.com/google/uuid"

	"croftmark/domain"
	"croftmark/labels"
	"croftmark/storage"
)

// found is what a code of the farm leads to: a lot from the field, or a packed one.
type found struct {
	code domain.TraceCode
	lot  storage.Lot
	pack *storage.Pack // nil for a lot from the field
}

// find reads any code of the farm.
func (s *Server) find(r storage.Reading, text string) (found, error) {
	code, err := domain.ParseCode(text)
	if err != nil {
		return found{}, notFoundCode(text, err)
	}
	f := found{code: code}
	if code.Lot[0] == 'P' {
		pack, err := s.db.PackByCode(r, code.Lot)
		f.pack = &pack
		if err == nil && code.Crate > pack.Pack.Crates {
			err = domain.NotFound("crate", code.Text)
		}
		return f, err
	}
	f.lot, err = s.db.LotByCode(r, code.Lot)
	if err == nil && code.Crate > max(1, f.lot.Harvest.Containers) {
		err = domain.NotFound("crate", code.Text)
	}
	return f, err
}

func (f found) farm() domain.Farm {
	if f.pack != nil {
		return f.pack.Farm
	}
	return f.lot.Farm
}

func (f found) lotID() uuid.UUID {
	if f.pack != nil {
		return f.pack.ID
	}
	return f.lot.ID
}

// crates is how many crates were counted; 0 when nobody counted.
func (f found) crates() int {
	if f.pack != nil {
		return f.pack.Pack.Crates
	}
	return f.lot.Harvest.Containers
}

// label is what the labels of all crates of the lot have in common.
func (f found) label(language string) labels.Label {
	l := labels.Label{LotCode: f.code.Lot, Farm: f.farm().Name, Place: f.farm().Address, Language: language}
	status := f.lot.Status
	if f.pack != nil {
		l.Crop, l.CutOn, l.PackedOn, l.Held, status = f.pack.Pack.Product, f.pack.CutOn, f.pack.DoneOn, f.pack.Held, f.pack.Pack.Status
	} else {
		l.Crop, l.CutOn, l.Held = f.lot.Crop.Name, f.lot.Harvest.FirstDay(), f.lot.Held
		if len(f.lot.BedNames) > 0 {
			l.Bed = f.lot.BedNames[0]
		}
	}
	if status == "organic" {
		l.Status = "ORGANIC" // 7 CFR 205.307: nonretail containers say organic and carry the lot
	}
	return l
}

func (f found) variety() string {
	if f.pack != nil {
		return ""
	}
	return f.lot.Crop.Variety
}

// labelsOf gives one label for a crate; for a lot one for each of its crates from the first asked for, or one for the
// whole lot.
func (s *Server) labelsOf(f found, language string, first, most int) []labels.Label {
	if f.code.Crate > 0 {
		return []labels.Label{s.crateLabel(f, language, f.code.Crate)}
	}
	if f.crates() == 0 {
		l := f.label(language)
		l.NetWeight = f.quantity().String()
		s.number(f, &l)
		return []labels.Label{l}
	}
	var out []labels.Label
	for n := first; n <= f.crates() && len(out) < most; n++ {
		out = append(out, s.crateLabel(f, language, n))
	}
	return out
}

func (f found) quantity() domain.Quantity {
	if f.pack != nil {
		return f.pack.Pack.Quantity
	}
	return f.lot.Harvest.Quantity
}

// crateLabel is the label of one crate. Only packed crates have a weight of their own.
func (s *Server) crateLabel(f found, language string, n int) labels.Label {
	l := f.label(language)
	l.CrateCode, l.Number, l.Of = domain.CrateCode(f.code.Lot, n), n, max(n, f.crates())
	if f.pack != nil {
		l.NetWeight = domain.CrateQuantity(f.pack.Pack.Quantity, f.pack.Pack.Crates, f.pack.Pack.CrateNet, n).String()
	}
	s.number(f, &l)
	return l
}

// number gives a label its address, and GS1 numbers where the farm has them.
func (s *Server) number(f found, l *labels.Label) {
	own := l.CrateCode
	if own == "" {
		own = l.LotCode
	}
	farm := f.farm()
	l.URL = s.lotURL(farm.Key, own)
	n, _ := s.gs1(f, l.CrateCode)
	if n.IsZero() {
		return
	}
	l.Linear = labels.LinearCode{Data: n.Element.Data, Human: n.Element.Human}
	if n.Link != "" {
		l.URL, l.ShortURL = n.Link, l.URL
	}
}

// gs1Answer is the GS1 numbers of a lot or crate, or why it has none.
type gs1Answer struct {
	GTIN   string `json:"gtin,omitempty"`
	Text   string `json:"text,omitempty" doc:"What stands under the bars of GS1-128."`
	WhyNot string `json:"why_not,omitempty" doc:"Why the label carries no GS1 number, or the farm's own address in its QR."`
}

// gs1 gives the GS1 numbers of a lot or crate. What is missing is said in a sentence and never made up; the label then
// carries the farm's own address.
func (s *Server) gs1(f found, crate string) (n domain.LabelNumbers, whyNot string) {
	farm := f.farm()
	prefix, err := domain.ParseGS1Prefix(farm.GS1Prefix)
	if err != nil || prefix.IsZero() {
		return n, "The farm has no GS1 company prefix."
	}
	product := f.lot.Crop.Name
	if f.pack != nil {
		product = f.pack.Pack.Product
	}
	item := farm.ItemOf(product, f.variety())
	if item == "" {
		return n, "The farm gave this product no GS1 item reference, so its labels carry the farm's own address. Add it to gs1_items of the farm."
	}
	n, err = domain.GS1Label(prefix, item, f.code.Lot, crate, s.stem(farm.Key))
	switch e, known := err.(*domain.Error); {
	case known:
		return domain.LabelNumbers{}, e.Detail + " The label carries the farm's own address."
	case err != nil:
		return domain.LabelNumbers{}, "The address of this service can't carry GS1 numbers."
	case n.Link == "":
		return n, "The code of this crate is longer than a GS1 serial number may be. The bars carry the GS1 numbers, the QR the farm's own address."
	}
	return n, ""
}

// answerOf tells what a code leads to.
func (s *Server) answerOf(f found) lotAnswer {
	var a lotAnswer
	if f.pack != nil {
		a = packAnswerOf(f.code, *f.pack)
	} else {
		a = lotAnswerOf(f.code, f.lot)
	}
	farm, crate := f.farm(), ""
	if f.code.Crate > 0 {
		crate = f.code.Text
	}
	a.URL = s.lotURL(farm.Key, f.code.Text)
	if farm.GS1Prefix == "" {
		return a
	}
	n, whyNot := s.gs1(f, crate)
	a.GS1 = &gs1Answer{GTIN: n.GTIN, Text: n.Element.Human, WhyNot: whyNot}
	if n.Link != "" {
		a.URL = n.Link
	}
	return a
}
