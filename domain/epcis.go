package domain

import (
	"encoding/json"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
)

// The events are those of EPCIS 2.0 with the words of CBV 2.0, mapped as in the traceability reference 3.4. Ids are
// addresses of the farm's own domain; a GTIN or GLN takes their place only where a licensed one is on record (2.6).

const epcisContext = "https://ref.gs1.org/standards/epcis/2.0.0/epcis-context.jsonld"

// epcisDocument is the whole file. Extensions of ours begin with "cm:".
type epcisDocument struct {
	Context       []any  `json:"@context"`
	ID            string `json:"id"`
	Type          string `json:"type"`
	SchemaVersion string `json:"schemaVersion"`
	CreationDate  string `json:"creationDate"`
	Body          struct {
		Events []epcisEvent `json:"eventList"`
	} `json:"epcisBody"`
}

type epcisEvent struct {
	Type         string          `json:"type"`
	ID           string          `json:"eventID"`
	Time         string          `json:"eventTime"`
	Offset       string          `json:"eventTimeZoneOffset"`
	Action       string          `json:"action,omitempty"`
	Step         string          `json:"bizStep,omitempty"`
	Disposition  string          `json:"disposition,omitempty"`
	EPCs         []string        `json:"epcList,omitempty"`
	Quantities   []epcisQuantity `json:"quantityList,omitempty"`
	Parent       string          `json:"parentID,omitempty"`
	Children     []epcisQuantity `json:"childQuantityList,omitempty"`
	Inputs       []epcisQuantity `json:"inputQuantityList,omitempty"`
	Outputs      []epcisQuantity `json:"outputQuantityList,omitempty"`
	ReadPoint    *epcisPlace     `json:"readPoint,omitempty"`
	Location     *epcisPlace     `json:"bizLocation,omitempty"`
	Transactions []epcisPaper    `json:"bizTransactionList,omitempty"`
	Sources      []epcisSource   `json:"sourceList,omitempty"`
	Destinations []epcisDest     `json:"destinationList,omitempty"`
	Sensors      []epcisSensor   `json:"sensorElementList,omitempty"`
	ILMD         map[string]any  `json:"ilmd,omitempty"`

	Lot          string `json:"cm:lot,omitempty"`
	TimeKnownTo  string `json:"cm:timeKnownTo,omitempty"` // "day" when the hour is not on record
	Unit         string `json:"cm:countedIn,omitempty"`   // of counts, which have no code in the standard
	Text         string `json:"cm:text,omitempty"`
	ReferenceDoc string `json:"cm:referenceDocument,omitempty"`
}

type epcisPlace struct {
	ID string `json:"id"`
}

type epcisQuantity struct {
	Class    string      `json:"epcClass"`
	Quantity json.Number `json:"quantity,omitempty"`
	Unit     string      `json:"uom,omitempty"`
}

type epcisPaper struct {
	Type        string `json:"type,omitempty"`
	Transaction string `json:"bizTransaction"`
}

type epcisSource struct {
	Type   string `json:"type"`
	Source string `json:"source"`
}

type epcisDest struct {
	Type        string `json:"type"`
	Destination string `json:"destination"`
}

type epcisSensor struct {
	Meta   map[string]string `json:"sensorMetadata,omitempty"`
	Report []epcisReading    `json:"sensorReport"`
}

type epcisReading struct {
	Type  string      `json:"type"`
	Value json.Number `json:"value"`
	Unit  string      `json:"uom"`
}

// epcisUnits are the UN/ECE codes; what is counted has none.
var epcisUnits = map[Unit]string{"lb": "LBR", "oz": "ONZ", "kg": "KGM", "g": "GRM", "gal": "GLL", "L": "LTR",
	"yd3": "YDQ", "m3": "MTQ", "qt": "QT", "bu": "BUA"}

// epcisPapers are the business transactions of CBV for the farm's papers; others get a type of the farm's own.
var epcisPapers = map[string]string{"invoice": "inv", "bill-of-lading": "bol", "purchase-order": "po", "delivery-note": "desadv"}

// EPCISDocument writes the packet as events. The same packet always gives the same bytes. It refuses a packet without an
// address of the farm's own, because every id begins with it, and one whose events do not hold what the standard asks.
func EPCISDocument(p *Packet) ([]byte, error) {
	p = p.ForAudience()
	web := strings.TrimSuffix(p.Farm.Web, "/")
	if err := checkGS1Stem(web); err != nil {
		return nil, Refuse(CodeRuleRefused, "No address for ids", "Ids in this file begin with a web address of the farm's own, such as https://trace.example.org, and none is on record.")
	}
	if slices.ContainsFunc(strings.Split(web, "/"), func(s string) bool { f, known := gs1FormatOf(s); return known && f.role == linkKey }) {
		return nil, Refuse(CodeRuleRefused, "No address for ids", "The farm's web address looks like a GS1 number and would be taken for one.")
	}
	prefix, err := ParseGS1Prefix(p.Farm.GS1Prefix)
	if err != nil {
		return nil, err
	}
	e := epcisWriter{p: p, web: web, prefix: prefix, zone: p.Zone()}
	var doc epcisDocument
	doc.Context = []any{epcisContext, map[string]string{"cm": web + "/voc/"}}
	doc.ID = e.own("doc", p.Request.ID.String())
	doc.Type, doc.SchemaVersion = "EPCISDocument", "2.0"
	doc.CreationDate = p.MadeAt.UTC().Format(time.RFC3339)
	if doc.Body.Events, err = e.events(); err != nil {
		return nil, err
	}
	out, err := json.MarshalIndent(doc, "", "  ")
	if err != nil {
		return nil, err
	}
	if faults := CheckEPCIS(out); len(faults) > 0 {
		return nil, Refuse(CodeInvalid, "No EPCIS file from this packet", "%s", strings.Join(faults, "; "))
	}
	return append(out, '\n'), nil
}

type epcisWriter struct {
	p      *Packet
	web    string
	prefix GS1Prefix
	zone   *time.Location
}

// own gives an id on the farm's domain: obj for one thing, class for a lot, loc for a place, bt for a paper (CBV section
// 8; obj and loc [verified: OPC-A3], the others [memory]).
func (e epcisWriter) own(kind string, parts ...string) string {
	s := e.web + "/" + kind
	for _, x := range parts {
		s += "/" + escapeGS1(x)
	}
	return s
}

// class is a lot: GTIN and lot code where a GTIN is on record and fits, an own address otherwise. A GTIN may be the
// buyer's, by agreement; it is never made here.
func (e epcisWriter) class(code string) string {
	lot := e.p.Lot(code)
	if lot != nil && lot.GTIN != "" {
		gtin, err := ParseGTIN(lot.GTIN)
		if err == nil {
			if link, err := BuildDigitalLink(gs1Stem, []GS1Value{{"01", gtin}, {"10", code}}); err == nil {
				return link
			}
		}
	}
	kind := "pack-lot"
	if lot != nil && lot.Kind == CodeKindHarvest {
		kind = "harvest-lot"
	}
	return e.own("class", kind, code)
}

func (e epcisWriter) crate(code string) string { return e.own("obj", "crate", code) }

// place is the farm, or a place of it.
func (e epcisWriter) place(name string) *epcisPlace {
	if name != "" {
		return &epcisPlace{e.own("loc", "place", name)}
	}
	return &epcisPlace{e.location(e.p.Farm.GLN, "farm", e.p.Farm.Key)}
}

func (e epcisWriter) location(gln string, own ...string) string {
	if gln != "" {
		if link, err := BuildDigitalLink(gs1Stem, []GS1Value{{"414", gln}}); err == nil {
			return link
		}
	}
	return e.own("loc", slices.DeleteFunc(own, func(s string) bool { return s == "" })...)
}

func (e epcisWriter) customer(id uuid.UUID) string {
	gln := ""
	if c := e.p.Customer(id); c != nil {
		gln = c.GLN
	}
	return e.location(gln, "customer", id.String())
}

// quantity writes the digits as they are; a quantity nobody wrote down names only the class.
func (e epcisWriter) quantity(lot string, q Quantity) epcisQuantity {
	out := epcisQuantity{Class: e.class(lot)}
	if q.Value.Sign() > 0 {
		out.Quantity, out.Unit = json.Number(q.Value.String()), epcisUnits[q.Unit]
	}
	return out
}

// countUnit names the unit of a count in words.
func countUnit(q Quantity) string {
	if m, ok := MeasureOf(q.Unit); ok && m == Count {
		return string(q.Unit)
	}
	return ""
}

// event begins the event of a record, whose id it carries; without one, the id is made from what it is about.
func (e epcisWriter) event(kind string, record uuid.UUID, about string, at time.Time, day Date) (epcisEvent, error) {
	if record == uuid.Nil {
		record = e.id(about)
	}
	x := epcisEvent{Type: kind, ID: "urn:uuid:" + record.String()}
	if at.IsZero() {
		if day.IsZero() {
			return x, Refuse(CodeInvalid, "No EPCIS file from this packet", "When it happened is not on record for %s, and an event needs a time.", about)
		}
		at, x.TimeKnownTo = day.In(e.zone).Add(12*time.Hour), "day"
	}
	local := at.In(e.zone)
	x.Time, x.Offset = local.Format("2006-01-02T15:04:05.000Z07:00"), local.Format("-07:00")
	return x, nil
}

// id makes the same id from the same words.
func (e epcisWriter) id(about string) uuid.UUID {
	return uuid.NewSHA1(uuid.NameSpaceURL, []byte(e.web+" "+about))
}

// events are all of the packet in the order of time.
func (e epcisWriter) events() ([]epcisEvent, error) {
	var all []epcisEvent
	for _, make := range []func() ([]epcisEvent, error){e.harvests, e.handlings, e.packings, e.moves, e.disposals, e.holds} {
		events, err := make()
		if err != nil {
			return nil, err
		}
		all = append(all, events...)
	}
	slices.SortStableFunc(all, func(a, b epcisEvent) int {
		x, _ := time.Parse(time.RFC3339Nano, a.Time) // just written
		y, _ := time.Parse(time.RFC3339Nano, b.Time)
		return x.Compare(y)
	})
	return all, nil
}

// harvests commission each harvest lot: the first use of its id.
func (e epcisWriter) harvests() (out []epcisEvent, err error) {
	for i := range e.p.Lots {
		l := &e.p.Lots[i]
		if l.Kind != CodeKindHarvest {
			continue
		}
		x, err := e.event("ObjectEvent", l.ID, "lot "+l.Code, l.CutAt, Later(l.CutFrom, l.CutTo))
		if err != nil {
			return nil, err
		}
		x.Action, x.Step, x.Disposition = "ADD", "commissioning", "active"
		x.Quantities, x.Unit = []epcisQuantity{e.quantity(l.Code, l.Made)}, countUnit(l.Made)
		x.ReadPoint = e.place("")
		if len(l.BedIDs) > 0 {
			x.ReadPoint = &epcisPlace{e.own("loc", "bed", l.BedIDs[0].String())}
		}
		x.Location, x.Lot = e.place(""), l.Code
		x.ILMD = e.about(l)
		x.ILMD["cm:harvestDate"] = l.CutFrom.String()
		var fields []string
		for _, id := range l.BedIDs {
			if b := e.p.Bed(id); b != nil {
				fields = append(fields, b.FieldName())
			}
		}
		x.ILMD["cm:fieldName"] = strings.Join(fields, "; ")
		out = append(out, x)
		out = append(out, e.crates(l, x)...)
	}
	return out, nil
}

func (e epcisWriter) about(l *PacketLot) map[string]any {
	out := map[string]any{"cm:lotCode": l.Code}
	for key, value := range map[string]string{"cm:commodity": l.Commodity, "cm:variety": l.Variety, "cm:product": l.Product} {
		if value != "" {
			out[key] = value
		}
	}
	return out
}

// crates put the lot into its crates, at the time of the event that made it.
func (e epcisWriter) crates(l *PacketLot, made epcisEvent) (out []epcisEvent) {
	for _, c := range e.p.CratesOf(l.Code) {
		x := epcisEvent{Type: "AggregationEvent", ID: "urn:uuid:" + e.id("crate "+c.Code).String(), Time: made.Time,
			Offset: made.Offset, TimeKnownTo: made.TimeKnownTo, Action: "ADD", Step: "packing", Disposition: "in_progress",
			Parent: e.crate(c.Code), Children: []epcisQuantity{e.quantity(l.Code, c.Net)}, Unit: countUnit(c.Net), ReadPoint: made.Location, Location: made.Location, Lot: l.Code}
		out = append(out, x)
	}
	return out
}

// packings turn lots into a new one: packing when they come from the field, repackaging when they were packs.
func (e epcisWriter) packings() (out []epcisEvent, err error) {
	for i := range e.p.Lots {
		l := &e.p.Lots[i]
		if l.Kind != CodeKindPack {
			continue
		}
		x, err := e.event("TransformationEvent", l.ID, "lot "+l.Code, l.PackedAt, Date{})
		if err != nil {
			return nil, err
		}
		x.Step, x.Disposition = "commissioning", "active"
		for _, parent := range l.Parents {
			x.Inputs = append(x.Inputs, e.quantity(parent.Code, parent.Quantity))
			if in := e.p.Lot(parent.Code); in != nil && in.Kind == CodeKindPack {
				x.Step = "repackaging"
			}
		}
		x.Outputs, x.Unit = []epcisQuantity{e.quantity(l.Code, l.Made)}, countUnit(l.Made)
		if len(x.Inputs) == 0 { // an event with one side needs an id that another event shares; there is none
			x.Type, x.Action, x.Quantities, x.Outputs = "ObjectEvent", "ADD", x.Outputs, nil
			x.Text = "what went in is not on record"
		}
		x.ReadPoint, x.Location, x.Lot = e.place(l.Place), e.place(l.Place), l.Code
		x.ILMD = e.about(l)
		x.ILMD["cm:packDate"] = DateIn(l.PackedAt, e.zone).String()
		out = append(out, x)
		out = append(out, e.crates(l, x)...)
	}
	return out, nil
}
