package domain

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"time"
)

// CheckEPCIS holds a document against what the standard's schema asks of the events that this book writes (traceability
// reference 3.2, 3.3, 3.6), and against three things that the schema lets pass and nobody wants: no events, an empty list
// of things, an aggregation without its parent. It is no full validator.
func CheckEPCIS(doc []byte) (faults []string) {
	dec := json.NewDecoder(bytes.NewReader(doc))
	dec.UseNumber()
	var d map[string]any
	if err := dec.Decode(&d); err != nil {
		return []string{"this is not JSON"}
	}
	note := func(ok bool, format string, args ...any) {
		if !ok {
			faults = append(faults, fmt.Sprintf(format, args...))
		}
	}
	note(d["@context"] != nil, "@context is missing")
	note(d["type"] == "EPCISDocument", "type is not EPCISDocument")
	note(jsonText(d["schemaVersion"]) != "", "schemaVersion is missing")
	note(isTime(d["creationDate"]), "creationDate is not a time with its zone")
	body, _ := d["epcisBody"].(map[string]any)
	events, _ := body["eventList"].([]any)
	note(len(events) > 0, "there is no event")
	for i, x := range events {
		event, ok := x.(map[string]any)
		note(ok, "event %d is not an object", i)
		for _, fault := range checkEPCISEvent(event) {
			note(false, "event %d: %s", i, fault)
		}
	}
	return faults
}

var (
	epcisOffset = regexp.MustCompile(`^[+-]((0[0-9]|1[0-3]):[0-5][0-9]|14:00)$`)
	epcisUnit   = regexp.MustCompile(`^[A-Z0-9]{2,3}$`)
)

// The words of CBV 2.0 [verified: GS1EP schema, traceability reference 3.3].
var (
	cbvSteps = strings.Fields(`accepting arriving assembling collecting commissioning consigning creating_class_instance
		cycle_counting decommissioning departing destroying disassembling dispensing encoding entering_exiting holding
		inspecting installing killing loading other packing picking receiving removing repackaging repairing replacing
		reserving retail_selling sampling sensor_reporting shipping staging_outbound stock_taking stocking storing
		transporting unloading unpacking void_shipping`)
	cbvDispositions = strings.Fields(`active available completeness_inferred completeness_verified conformant
		container_closed container_open damaged destroyed dispensed disposed encoded expired in_progress in_transit inactive
		mismatch_class mismatch_instance mismatch_quantity needs_replacement no_pedigree_match non_conformant
		non_sellable_other partially_dispensed recalled reserved retail_sold returned sellable_accessible
		sellable_not_accessible stolen unavailable unknown`)
	cbvPapers = strings.Fields(`bol cert desadv inv pedigree po poc prodorder recadv rma testprd testres upevt`)
)

// epcisFields are the fields that every event may have, and those of each type.
var (
	epcisCommon = strings.Fields(`@context type eventTime recordTime eventTimeZoneOffset eventID certificationInfo
		errorDeclaration bizStep disposition readPoint bizLocation bizTransactionList sourceList destinationList sensorElementList`)
	epcisFields = map[string][]string{
		"ObjectEvent":         strings.Fields("action epcList quantityList persistentDisposition ilmd"),
		"AggregationEvent":    strings.Fields("action parentID childEPCs childQuantityList"),
		"AssociationEvent":    strings.Fields("action parentID childEPCs childQuantityList"),
		"TransformationEvent": strings.Fields("inputEPCList inputQuantityList outputEPCList outputQuantityList transformationID persistentDisposition ilmd"),
		"TransactionEvent":    strings.Fields("action parentID epcList quantityList"),
	}
)

func checkEPCISEvent(x map[string]any) (faults []string) {
	note := func(ok bool, format string, args ...any) {
		if !ok {
			faults = append(faults, fmt.Sprintf(format, args...))
		}
	}
	kind := jsonText(x["type"])
	own, known := epcisFields[kind]
	note(known, "%q is no type of event", kind)
	note(isTime(x["eventTime"]), "eventTime is not a time with its zone")
	note(epcisOffset.MatchString(jsonText(x["eventTimeZoneOffset"])), "eventTimeZoneOffset is missing or is not like -04:00")
	for name := range x {
		note(strings.Contains(name, ":") || slices.Contains(epcisCommon, name) || slices.Contains(own, name), "%s is no field of %s and has no prefix", name, kind)
	}
	if kind != "TransformationEvent" {
		note(slices.Contains([]string{"ADD", "OBSERVE", "DELETE"}, jsonText(x["action"])), "action is not ADD, OBSERVE or DELETE")
	}
	checkWord(note, "bizStep", x["bizStep"], cbvSteps)
	checkWord(note, "disposition", x["disposition"], cbvDispositions)
	for _, name := range []string{"epcList", "inputEPCList", "outputEPCList", "childEPCs"} {
		checkEPCs(note, name, x[name])
	}
	for _, name := range []string{"quantityList", "inputQuantityList", "outputQuantityList", "childQuantityList"} {
		checkQuantities(note, name, x[name])
	}
	checkILMD(note, kind, x)
	checkSides(note, kind, x)
	for _, name := range []string{"readPoint", "bizLocation"} {
		if place, ok := x[name].(map[string]any); x[name] != nil {
			note(ok && isURI(place["id"]), "%s has no id that is a URI", name)
		}
	}
	for _, t := range jsonList(x["bizTransactionList"]) {
		paper, _ := t.(map[string]any)
		note(isURI(paper["bizTransaction"]), "a business transaction is not a URI")
		checkWord(note, "type of a business transaction", paper["type"], cbvPapers)
	}
	checkEnds(note, "sourceList", "source", x)
	checkEnds(note, "destinationList", "destination", x)
	return faults
}

type noter func(ok bool, format string, args ...any)

// checkWord takes a word of the list or a URI of somebody's own; the old URNs of the list are refused.
func checkWord(note noter, name string, v any, words []string) {
	if v == nil {
		return
	}
	s := jsonText(v)
	old := strings.HasPrefix(s, "urn:epcglobal:cbv")
	note(slices.Contains(words, s) || isURI(v) && !old, "%s %q is neither a word of the standard nor a URI of one's own", name, s)
}

func checkEPCs(note noter, name string, v any) {
	if v == nil {
		return
	}
	items := jsonList(v)
	note(len(items) > 0, "%s is empty", name)
	seen := map[string]bool{}
	for _, x := range items {
		note(isURI(x), "%s holds %q, which is not a URI", name, jsonText(x))
		note(!seen[jsonText(x)], "%s holds %q twice", name, jsonText(x))
		seen[jsonText(x)] = true
	}
}

func checkQuantities(note noter, name string, v any) {
	if v == nil {
		return
	}
	items := jsonList(v)
	note(len(items) > 0, "%s is empty", name)
	for _, x := range items {
		q, _ := x.(map[string]any)
		note(isURI(q["epcClass"]), "%s holds a class that is not a URI", name)
		if q["quantity"] != nil {
			_, number := q["quantity"].(json.Number)
			note(number, "%s holds a quantity that is not a number", name)
		}
		note(q["uom"] == nil || epcisUnit.MatchString(jsonText(q["uom"])), "%s holds the unit %q, which is no UN/ECE code", name, jsonText(q["uom"]))
	}
}

func checkILMD(note noter, kind string, x map[string]any) {
	if x["ilmd"] == nil {
		return
	}
	ilmd, ok := x["ilmd"].(map[string]any)
	note(ok, "ilmd is not an object")
	for name := range ilmd {
		note(strings.Contains(name, ":"), "ilmd holds %s, which has no prefix", name)
	}
	note(kind == "TransformationEvent" || jsonText(x["action"]) == "ADD", "ilmd stands only where something begins")
}

// checkSides asks for the things an event is about.
func checkSides(note noter, kind string, x map[string]any) {
	switch kind {
	case "ObjectEvent":
		note(x["epcList"] != nil || x["quantityList"] != nil || x["sensorElementList"] != nil && x["readPoint"] != nil, "it names no thing")
	case "AggregationEvent", "AssociationEvent":
		note(jsonText(x["action"]) == "OBSERVE" || isURI(x["parentID"]), "parentID is missing")
		note(x["childEPCs"] != nil || x["childQuantityList"] != nil || jsonText(x["action"]) == "DELETE", "it names no child")
	case "TransformationEvent":
		in, out := x["inputEPCList"] != nil || x["inputQuantityList"] != nil, x["outputEPCList"] != nil || x["outputQuantityList"] != nil
		note(in && out || (in || out) && isURI(x["transformationID"]), "one side only, and no transformationID to find the other by")
	case "TransactionEvent":
		note(len(jsonList(x["bizTransactionList"])) > 0, "bizTransactionList is missing")
	}
}

func checkEnds(note noter, listName, name string, x map[string]any) {
	for _, item := range jsonList(x[listName]) {
		end, _ := item.(map[string]any)
		note(isURI(end[name]), "%s holds a %s that is not a URI", listName, name)
		checkWord(note, "type in "+listName, end["type"], []string{"owning_party", "possessing_party", "location"})
		note(end["type"] != nil, "%s holds a %s without its type", listName, name)
	}
}

func jsonText(v any) string { s, _ := v.(string); return s }

func jsonList(v any) []any { l, _ := v.([]any); return l }

// isTime asks for date, hour and zone.
func isTime(v any) bool {
	_, err := time.Parse(time.RFC3339Nano, jsonText(v))
	return err == nil
}

func isURI(v any) bool {
	u, err := url.Parse(jsonText(v))
	return err == nil && u.IsAbs() && (u.Host != "" || u.Opaque != "") && !strings.ContainsAny(jsonText(v), " \t\n")
}
