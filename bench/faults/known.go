package main

import (
	"context"
	"encoding/json"
	"net/http"
	"slices"
	"strings"

	"croftmark/bench/rig"
)

// actKinds names the kinds of entry that are written under a record's own address, by the last part of the address.
var actKinds = map[string]string{
	"production": "bed-production", "disposal": "disposal", "release": "hold-release", "resolution": "finding-resolution",
	"temperatures": "compost-temperatures", "turnings": "compost-turning", "additions": "compost-addition", "curing": "compost-curing",
	"lab-tests": "compost-lab-test", "contaminations": "compost-contamination",
}

// given are the fields that the book puts into a record by itself; a request made from one leaves them out. A code that is
// asked for is made up.
var given = []string{"id", "verdict_then", "crate_codes", "moved", "out_of_limits", "reached", "released", "key"}

// known is what requests are made from: what the farm under test has, and what was accepted so far.
type known struct {
	ids    map[string][]string     // by collection
	bodies map[string][]rig.Record // of requests that were once taken, by address
	codes  []string                // of lots and crates
	cut    []rig.Record            // lots of this run that nothing was taken from: code and quantity
	crates []string                // of this run, not yet shipped
	away   []rig.Record            // shipments of this run that nothing came back of
	hashes []string                // of files
	every  []string                // all ids
}

// most is how many of each are kept; a random one goes when there are more.
const most = 300

// learn reads the farm: the ids from its lists, over HTTP, and the bodies from its book, behind the service's back.
func learn(ctx context.Context, s *served, doc document) (*known, error) {
	k := &known{ids: map[string][]string{}, bodies: map[string][]rig.Record{}}
	kinds := map[string]string{} // by collection
	for path, methods := range doc.Paths {
		if _, lists := methods["get"]; !lists || doc.Paths[path+"/{id}/corrections"] == nil {
			continue
		}
		collection := strings.TrimPrefix(path, "/v1/")
		if err := k.readList(ctx, s, collection, methods["get"].takes("limit")); err != nil {
			return nil, err
		}
		if list := k.ids[collection]; len(list) > 0 {
			var kind string
			if err := s.conn.QueryRow(ctx, "select kind from records where id = $1", list[0]).Scan(&kind); err != nil {
				return nil, err
			}
			kinds[collection] = kind
		}
	}
	return k, k.readBook(ctx, s, doc, kinds)
}

// readList takes ids, codes and hashes from a list. What the service brings along, as log sheets, has no id.
func (k *known) readList(ctx context.Context, s *served, collection string, long bool) error {
	address := "/v1/" + collection
	if long {
		address += "?limit=500"
	}
	var list []struct {
		rig.Made
		Hash string `json:"hash"`
	}
	if err := s.farm.Must(ctx, http.MethodGet, address, nil, &list); err != nil {
		return err
	}
	for _, r := range list {
		k.made(collection, r.Made)
		if r.Hash != "" {
			k.hashes = append(k.hashes, r.Hash)
		}
	}
	return nil
}

// readBook takes the bodies of entries as seeds for the requests that wrote them.
func (k *known) readBook(ctx context.Context, s *served, doc document, kinds map[string]string) error {
	rows, err := s.conn.Query(ctx, "select kind, leaf::jsonb -> 'body' from book_entries order by seq")
	if err != nil {
		return err
	}
	defer rows.Close()
	byKind := map[string][]rig.Record{}
	for rows.Next() {
		var kind string
		var raw []byte
		if err := rows.Scan(&kind, &raw); err != nil {
			return err
		}
		var body rig.Record
		if json.Unmarshal(raw, &body) == nil {
			byKind[kind] = append(byKind[kind], body)
		}
	}
	for path, methods := range doc.Paths {
		post, writes := methods["post"]
		if !writes {
			continue
		}
		kind := kinds[strings.TrimPrefix(path, "/v1/")]
		if parts := strings.Split(path, "/"); len(parts) == 5 {
			kind = actKinds[parts[4]]
		}
		if path == "/v1/farm" {
			kind = "farm"
		}
		fields := doc.fields(post)
		for _, body := range byKind[kind] {
			k.add(path, asked(body, fields))
		}
	}
	return rows.Err()
}

// asked leaves in a body what a request may hold.
func asked(body rig.Record, fields *schema) rig.Record {
	out := rig.Record{}
	for name, value := range body {
		if fields == nil || fields.Properties[name] == nil || slices.Contains(given, name) && !slices.Contains(fields.Required, name) {
			continue
		}
		if name == "code" && !slices.Contains(fields.Required, name) {
			continue
		}
		out[name] = value
	}
	return out
}

// add keeps a body that was taken.
func (k *known) add(path string, body rig.Record) {
	list := append(k.bodies[path], body)
	if len(list) > most {
		list = slices.Delete(list, 0, 1)
	}
	k.bodies[path] = list
}

// made keeps what an accepted request made.
func (k *known) made(collection string, m rig.Made) {
	if m.ID == "" {
		return
	}
	if list := k.ids[collection]; len(list) < most {
		k.ids[collection], k.every = append(list, m.ID), append(k.every, m.ID)
	}
	if m.Code != "" && strings.HasSuffix(collection, "-lots") {
		k.codes = append(append(k.codes, m.Code), m.CrateCodes...)
	}
}

// collectionOf guesses from a field's name what it names.
func collectionOf(field string) string {
	field = strings.TrimSuffix(strings.TrimSuffix(field, "_ids"), "_id")
	switch field {
	case "done_by", "crew", "packers", "person", "people", "typed_by", "trainer", "bound":
		return "people"
	case "source", "water_source":
		return "water-sources"
	case "compost_batch", "batch":
		return "compost-batches"
	case "lot":
		return "harvest-lots"
	case "seed_lot", "input_lot":
		return "input-lots"
	case "retire", "over":
		return "beds"
	case "pack_lot", "bed", "plot", "planting", "crop", "input", "customer", "shipment", "hold", "finding", "water_test", "recall":
		return strings.ReplaceAll(field, "_", "-") + "s"
	}
	return ""
}
