package domain_test

import (
	"encoding/json"
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"croftmark/domain"
)

type eventJSON map[string]any

func epcisEvents(t *testing.T, p *domain.Packet) (doc []byte, events []eventJSON) {
	t.Helper()
	doc, err := domain.EPCISDocument(p)
	if err != nil {
		t.Fatal(err)
	}
	var d struct {
		Body struct {
			Events []eventJSON `json:"eventList"`
		} `json:"epcisBody"`
	}
	if err := json.Unmarshal(doc, &d); err != nil {
		t.Fatal(err)
	}
	return doc, d.Body.Events
}

func first(t *testing.T, events []eventJSON, kind, step string) eventJSON {
	t.Helper()
	i := slices.IndexFunc(events, func(e eventJSON) bool { return e["type"] == kind && e["bizStep"] == step })
	if i < 0 {
		t.Fatalf("no %s with step %s", kind, step)
	}
	return events[i]
}

// The mapping of the traceability reference 3.4.
func TestEPCISOfTheSample(t *testing.T) {
	t.Parallel()
	doc, events := epcisEvents(t, samplePacket())
	if faults := domain.CheckEPCIS(doc); faults != nil {
		t.Error(faults)
	}
	count := map[string]int{}
	for _, e := range events {
		step, _ := e["bizStep"].(string)
		count[e["type"].(string)+" "+step]++
	}
	for what, want := range map[string]int{
		"ObjectEvent commissioning": 3, "TransformationEvent commissioning": 2, "TransformationEvent repackaging": 1, "AggregationEvent packing": 40,
		"ObjectEvent shipping": 4, "ObjectEvent retail_selling": 1, "ObjectEvent receiving": 1, "ObjectEvent destroying": 1, "ObjectEvent holding": 1,
		"ObjectEvent https://t.fernglade.example/voc/cooling": 1, "ObjectEvent https://t.fernglade.example/voc/washing": 2,
	} {
		if count[what] != want {
			t.Errorf("%d of %s, want %d", count[what], what, want)
		}
	}
	harvest := first(t, events, "ObjectEvent", "commissioning")
	if harvest["action"] != "ADD" || harvest["disposition"] != "active" || harvest["ilmd"].(map[string]any)["cm:harvestDate"] == nil {
		t.Errorf("harvest: %v", harvest)
	}
	pack := first(t, events, "TransformationEvent", "commissioning")
	in, out := pack["inputQuantityList"].([]any)[0].(map[string]any), pack["outputQuantityList"].([]any)[0].(map[string]any)
	if in["quantity"] != 98.0 || in["uom"] != "LBR" || out["quantity"] != 96.0 || out["epcClass"] != "https://t.fernglade.example/class/pack-lot/"+packSpinach {
		t.Errorf("packing: %v to %v", in, out)
	}
	if pack["action"] != nil || pack["eventTime"] != "2026-06-15T13:40:00.000-04:00" || pack["eventTimeZoneOffset"] != "-04:00" {
		t.Errorf("packing: %v", pack)
	}
	back := first(t, events, "ObjectEvent", "receiving")
	if back["disposition"] != "returned" || len(back["epcList"].([]any)) != 1 || back["quantityList"] != nil {
		t.Errorf("return: %v", back)
	}
	var papers []any
	for _, e := range events {
		if e["bizStep"] == "shipping" {
			papers = append(papers, e["bizTransactionList"].([]any)[0].(map[string]any)["type"])
		}
	}
	if want := []any{"bol", "inv", "inv", "https://t.fernglade.example/voc/btt/donation-receipt"}; !slices.Equal(papers, want) {
		t.Errorf("papers %v, want %v", papers, want)
	}
	if strings.Contains(string(doc), "id.gs1.org") {
		t.Error("a farm without a GS1 number has one in its file")
	}
	ids := map[any]bool{}
	last := time.Time{}
	for _, e := range events {
		if ids[e["eventID"]] || !strings.HasPrefix(e["eventID"].(string), "urn:uuid:") {
			t.Errorf("event id %v is no UUID or stands twice", e["eventID"])
		}
		ids[e["eventID"]] = true
		at, err := time.Parse(time.RFC3339Nano, e["eventTime"].(string))
		if err != nil || at.Before(last) {
			t.Errorf("%v comes after %v, %v", e["eventTime"], last, err)
		}
		last = at
	}
	again, _ := epcisEvents(t, samplePacket())
	if string(doc) != string(again) {
		t.Error("the same packet gives another file")
	}
}

// Numbers of GS1 are used where they are on record and sound, and never made.
func TestEPCISUsesLicensedNumbers(t *testing.T) {
	t.Parallel()
	p := samplePacket()
	p.Farm.GLN, p.Lots[3].GTIN = "9521321100015", "19521321001012"
	p.Lots[4].GTIN = "19521321001013" // its last digit is wrong
	doc, _ := epcisEvents(t, p)
	for _, want := range []string{"https://id.gs1.org/01/19521321001012/10/" + packSpinach, "https://id.gs1.org/414/9521321100015", "https://t.fernglade.example/class/pack-lot/" + packKale} {
		if !strings.Contains(string(doc), want) {
			t.Errorf("the file does not hold %s", want)
		}
	}
	if strings.Contains(string(doc), "19521321001013") {
		t.Error("a GTIN with a wrong digit got into the file")
	}
}

func TestEPCISRefusals(t *testing.T) {
	t.Parallel()
	for name, change := range map[string]func(p *domain.Packet){
		"no address":                func(p *domain.Packet) { p.Farm.Web = "" },
		"no scheme":                 func(p *domain.Packet) { p.Farm.Web = "fernglade.example" },
		"address like a GS1 number": func(p *domain.Packet) { p.Farm.Web = "https://fernglade.example/01/09521234543213" },
		"shop prefix":               func(p *domain.Packet) { p.Farm.GS1Prefix = "2001234" },
		"nothing happened":          func(p *domain.Packet) { *p = domain.Packet{Farm: p.Farm, MadeAt: p.MadeAt, Audience: p.Audience} },
		"packed nobody knows when":  func(p *domain.Packet) { p.Lots[3].PackedAt = time.Time{} },
		"cut nobody knows when": func(p *domain.Packet) {
			p.Lots[0].CutAt, p.Lots[0].CutFrom, p.Lots[0].CutTo = time.Time{}, domain.Date{}, domain.Date{}
		},
		"shipped nobody knows when":    func(p *domain.Packet) { p.Moves[0].At = time.Time{} },
		"shipment that names no thing": func(p *domain.Packet) { p.Moves[0].Lines = nil },
	} {
		p := samplePacket()
		change(p)
		doc, err := domain.EPCISDocument(p)
		var refusal *domain.Error
		if doc != nil || !errors.As(err, &refusal) || refusal.Detail == "" {
			t.Errorf("%s: %d bytes, %v", name, len(doc), err)
		}
	}
}

// The offset is that of the farm at that instant: winter and summer, and the hour that comes twice.
func TestEPCISOffsets(t *testing.T) {
	t.Parallel()
	for zone, cases := range map[string]map[string]string{
		"America/New_York": {"2026-01-10T15:00:00Z": "-05:00", "2026-07-10T15:00:00Z": "-04:00", "2026-11-01T05:30:00Z": "-04:00", "2026-11-01T06:30:00Z": "-05:00"},
		"Asia/Kolkata":     {"2026-01-10T15:00:00Z": "+05:30"},
		"Etc/UTC":          {"2026-01-10T15:00:00Z": "+00:00"},
		// Kiribati's 14 hours are the most that the schema takes.
		"Pacific/Kiritimati": {"2026-01-10T15:00:00Z": "+14:00"},
	} {
		for at, want := range cases {
			p := samplePacket()
			p.Farm.TimeZone = zone
			moment, err := time.Parse(time.RFC3339, at)
			if err != nil {
				t.Fatal(err)
			}
			p.Moves[0].At = moment
			_, events := epcisEvents(t, p)
			i := slices.IndexFunc(events, func(e eventJSON) bool { return e["cm:referenceDocument"] == "bill-of-lading BOL-0417" })
			if got := events[i]["eventTimeZoneOffset"]; got != want {
				t.Errorf("%s in %s has the offset %v, want %s", at, zone, got, want)
			}
			if shown := events[i]["eventTime"].(string); !strings.HasSuffix(shown, want) && !(want == "+00:00" && strings.HasSuffix(shown, "Z")) {
				t.Errorf("time %s and offset %s differ", shown, want)
			}
		}
	}
}

// mistakes are those of the traceability reference 3.6 [measured with two validators, unless marked ours]: each made in
// an event that is otherwise sound.
var mistakes = []struct {
	name  string
	event string // "object", "aggregation", "transformation"
	make  func(e eventJSON)
	// passes says that the schema takes it and only our own rule refuses it.
	passes bool
}{
	{"offset missing", "object", func(e eventJSON) { delete(e, "eventTimeZoneOffset") }, false},
	{"offset Z", "object", func(e eventJSON) { e["eventTimeZoneOffset"] = "Z" }, false},
	{"offset beyond 14:00", "object", func(e eventJSON) { e["eventTimeZoneOffset"] = "+14:30" }, false},
	{"time without offset", "object", func(e eventJSON) { e["eventTime"] = "2026-06-16T10:02:00" }, false},
	{"date only", "object", func(e eventJSON) { e["eventTime"] = "2026-06-16" }, false},
	{"action in lower case", "object", func(e eventJSON) { e["action"] = "add" }, false},
	{"action missing", "object", func(e eventJSON) { delete(e, "action") }, false},
	{"step Shipping", "object", func(e eventJSON) { e["bizStep"] = "Shipping" }, false},
	{"step harvesting", "object", func(e eventJSON) { e["bizStep"] = "harvesting" }, false},
	{"step as the old URN", "object", func(e eventJSON) { e["bizStep"] = "urn:epcglobal:cbv:bizstep:shipping" }, false},
	{"unit lb", "object", func(e eventJSON) { e["quantityList"].([]any)[0].(map[string]any)["uom"] = "lb" }, false},
	{"quantity as text", "object", func(e eventJSON) { e["quantityList"].([]any)[0].(map[string]any)["quantity"] = "98" }, false},
	{"class that is no URI", "object", func(e eventJSON) { e["quantityList"].([]any)[0].(map[string]any)["epcClass"] = "26166-SPI" }, false},
	{"extension without prefix", "object", func(e eventJSON) { e["crew"] = "JA" }, false},
	{"ilmd without prefix", "object", func(e eventJSON) { e["ilmd"].(map[string]any)["variety"] = "Tadorna" }, false},
	{"ilmd with OBSERVE", "object", func(e eventJSON) { e["action"] = "OBSERVE" }, false},
	{"ilmd with DELETE", "object", func(e eventJSON) { e["action"] = "DELETE" }, false},
	{"transformation with action", "transformation", func(e eventJSON) { e["action"] = "ADD" }, false},
	{"inputs only, no transformationID", "transformation", func(e eventJSON) { delete(e, "outputQuantityList") }, false},
	{"EPC twice", "object", func(e eventJSON) { e["epcList"] = []any{"https://t.example/obj/1", "https://t.example/obj/1"} }, false},
	{"EPC that is no URI", "object", func(e eventJSON) { e["epcList"] = []any{"crate 12"} }, false},
	{"no thing at all", "object", func(e eventJSON) { delete(e, "quantityList") }, false},
	{"empty epcList", "object", func(e eventJSON) { e["epcList"] = []any{} }, true},
	{"aggregation without parent", "aggregation", func(e eventJSON) { delete(e, "parentID") }, true},
}

// spoil makes one mistake in the file of the sample.
func spoil(t *testing.T, kind string, make func(e eventJSON)) []byte {
	t.Helper()
	doc, _ := epcisEvents(t, samplePacket())
	var d map[string]any
	if err := json.Unmarshal(doc, &d); err != nil {
		t.Fatal(err)
	}
	for _, x := range d["epcisBody"].(map[string]any)["eventList"].([]any) {
		e := x.(map[string]any)
		if e["type"] == map[string]string{"object": "ObjectEvent", "aggregation": "AggregationEvent", "transformation": "TransformationEvent"}[kind] {
			make(e)
			break
		}
	}
	out, err := json.Marshal(d)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func TestCheckEPCISCatchesEveryMistake(t *testing.T) {
	t.Parallel()
	if faults := domain.CheckEPCIS(spoil(t, "object", func(eventJSON) {})); len(faults) > 0 {
		t.Fatalf("the sample itself: %v", faults)
	}
	for _, m := range mistakes {
		if faults := domain.CheckEPCIS(spoil(t, m.event, m.make)); len(faults) == 0 {
			t.Errorf("%s passes", m.name)
		}
	}
	for name, doc := range map[string]string{"no JSON": "{", "nothing": "{}", "no events": `{"@context":"x","type":"EPCISDocument","schemaVersion":"2.0","creationDate":"2026-06-16T21:10:00Z","epcisBody":{"eventList":[]}}`} {
		if domain.CheckEPCIS([]byte(doc)) == nil {
			t.Errorf("%s passes", name)
		}
	}
}

// What the schema takes, our check takes as well: own steps, GS1's own words as addresses, units of UN/ECE.
func TestCheckEPCISTakesWhatIsRight(t *testing.T) {
	t.Parallel()
	for name, make := range map[string]func(e eventJSON){
		"own step":        func(e eventJSON) { e["bizStep"] = "https://fernglade.example/voc/input-application" },
		"step as address": func(e eventJSON) { e["bizStep"] = "https://ref.gs1.org/cbv/BizStep-shipping" },
		"own extension":   func(e eventJSON) { e["cm:crew"] = "JA" },
		"kilograms":       func(e eventJSON) { e["quantityList"].([]any)[0].(map[string]any)["uom"] = "KGM" },
	} {
		if faults := domain.CheckEPCIS(spoil(t, "object", make)); len(faults) > 0 {
			t.Errorf("%s: %v", name, faults)
		}
	}
	// The minimal document of the traceability reference 3.5 [measured].
	minimal := `{"@context":"https://ref.gs1.org/standards/epcis/2.0.0/epcis-context.jsonld","type":"EPCISDocument","schemaVersion":"2.0","creationDate":"2026-06-16T21:10:00Z",
		"epcisBody":{"eventList":[{"type":"ObjectEvent","eventTime":"2026-06-16T10:02:00Z","eventTimeZoneOffset":"-04:00","action":"OBSERVE",
		"epcList":["https://id.gs1.org/00/095213210000003170"],"bizStep":"shipping","disposition":"in_transit"}]}}`
	if faults := domain.CheckEPCIS([]byte(minimal)); len(faults) > 0 {
		t.Error(faults)
	}
}
