package api_test

import (
	"net/http"
	"strings"
	"testing"

	"croftmark/domain"
)

// samples writes one record into every collection of the farm and gives their ids. A new collection needs a line here:
// the walk over other farms' records does not let it out.
func (x *field) samples() map[string]string {
	x.t.Helper()
	made := map[string]string{"plots": x.plot, "beds": x.bed, "inputs": x.input, "input-lots": x.manure, "plantings": x.radish,
		"people": x.people[domain.Crew]}
	write := func(collection, path string, body fields) string {
		x.t.Helper()
		a := x.post(domain.Owner, "/v1/"+path, body)
		made[collection] = a.id()
		if got := a.Header.Get("Location"); got != "/v1/"+collection+"/"+a.id() {
			x.t.Errorf("%s: Location %q", path, got)
		}
		x.get(domain.Reader, a.Header.Get("Location")).is(http.StatusOK)
		return made[collection]
	}
	add := func(collection string, body fields) string { x.t.Helper(); return write(collection, collection, body) }

	made["crops"] = x.get(domain.Owner, "/v1/crops").is(http.StatusOK).list()[0]["id"].(string)
	ash := x.post(domain.Lead, "/v1/beds", fields{"name": "Ash 1", "plot_id": x.plot, "from": "2024-03-01"}).id()
	add("bed-layouts", fields{"plot_id": x.plot, "on": "2026-02-01", "retire": []string{ash},
		"lay": []fields{{"name": "Ash A", "over": []string{ash}}}})
	add("applications", x.manured("2025-01-10", "2025-01-10"))
	add("grazings", fields{"species": "hens", "ground": fields{"bed_ids": []string{x.bed}}, "from": "2025-01-01", "to": "2025-01-02"})
	lot := add("harvest-lots", x.cutOf(x.radish, "2026-08-08"))
	add("label-prints", fields{"lot_id": lot, "size": "4x2in", "copies": 3})
	add("label-discards", fields{"lot_id": lot, "spoiled": 1, "reason": "Smeared."})
	add("lost-labels", fields{"found_at": "2026-08-09T10:00:00-04:00", "where": "Third stop", "decision": "set-aside",
		"may_be": []any{x.get(domain.Reader, "/v1/harvest-lots/"+lot).is(http.StatusOK).text("code")}})
	add("holds", fields{"on": fields{"bed_id": x.bed}, "reason": "Glass in the bed."})

	batch := add("compost-batches", fields{"code": "W1", "method": "turned-windrow", "started_on": "2026-03-01",
		"ingredients": []fields{{"feedstock": "horse manure", "amount": quantity("900", "lb"), "moisture_pct": "70", "nitrogen_pct": "1.6",
			"carbon_nitrogen": "30", "animal_origin": true}}})
	heap := "compost-batches/" + batch
	write("compost-temperatures", heap+"/temperatures", fields{"readings": []fields{
		{"taken_at": "2026-03-02T08:00:00-05:00", "probe": "P1", "temperature": quantity("140", "degF")}}})
	write("compost-turnings", heap+"/turnings", fields{"turned_at": "2026-03-05T09:00:00-05:00"})
	write("compost-additions", heap+"/additions", fields{"added_at": "2026-03-06T09:00:00-05:00",
		"ingredient": fields{"feedstock": "straw", "amount": quantity("50", "lb"), "animal_origin": false}})
	write("compost-curings", heap+"/curing", fields{"started_on": "2026-04-20"})
	write("compost-lab-tests", heap+"/lab-tests", fields{"sampled_on": "2026-05-20", "analyte": "salmonella", "result": fields{"detected": false}})
	write("compost-contaminations", heap+"/contaminations", fields{"on": "2026-05-21", "kind": "animals", "note": "Hens on the heap."})
	add("probe-faults", fields{"probe": "P1", "from": "2026-03-01T00:00:00-05:00", "read_high": quantity("6", "degF"), "reason": "Ice water test."})
	add("certifier-answers", fields{"agreed_on": "2026-01-10", "document": "Letter of 10 January."})

	well := add("water-sources", fields{"name": "Well", "kind": "untreated-ground", "uses": []string{"washing"}})
	add("water-tests", fields{"source_id": well, "sampled_at": "2026-06-01T08:00:00-04:00", "analyte": "generic E. coli",
		"result": fields{"qualifier": "<", "value": "1", "unit": "MPN/100mL"}, "method": "SM 9223 B", "lab": "Test lab"})
	add("water-changes", fields{"source_id": well, "at": "2026-06-02T08:00:00-04:00", "kind": "treated-ground"})
	add("water-certificates", fields{"source_id": well, "issued_on": "2026-01-05", "document": "Yearly report"})
	add("water-inspections", fields{"source_id": well, "made_on": "2026-03-05", "findings": "Cap tight."})
	add("water-assessments", fields{"source_id": well, "made_on": "2026-03-06", "factors": "Wellhead above flood line.", "outcome": "adequate"})
	add("water-actions", fields{"source_id": well, "at": "2026-07-01T08:00:00-04:00", "act": "stopped", "reason": "Test came back bad."})
	add("water-treatments", fields{"source_id": well, "taken_at": "2026-07-02T08:00:00-04:00", "ppm": "60", "ph": "6.8"})
	add("irrigations", fields{"source_id": well, "ground": fields{"bed_ids": []string{x.bed}}, "started_at": "2026-06-03T08:00:00-04:00",
		"method": "drip", "touched_crop": "no"})
	add("handlings", fields{"source_id": well, "lot_ids": []string{lot}, "use": "washing", "started_at": "2026-08-08T10:00:00-04:00"})

	add("findings", fields{"kind": "droppings", "ground": fields{"bed_ids": []string{x.bed}}, "found_at": "2026-09-01T07:00:00-04:00", "touched_crop": "no"})
	add("corrective-actions", fields{"what": "Labels mixed up.", "found_on": "2026-08-09", "fix": "Relabelled."})

	words := fields{"en": "Egg washing", "es": "Lavado de huevos"}
	ours := fields{"authority": "farm", "citation": "our own rule"}
	add("log-sheets", fields{"key": "egg-washing", "title": words, "fields": []fields{{"key": "trays", "name": words, "type": "number", "required": true}},
		"asks": []fields{with(ours, "strength", "good")}, "keep": []fields{with(ours, "years", 1)}})
	add("log-entries", fields{"sheet": "training", "on": "2026-03-02", "values": fields{"people": []string{x.people[domain.Crew]},
		"topics": []string{"hygiene"}, "trainer": "Lena Lead"}})

	customer := add("customers", fields{"name": "Corner Grocer", "kind": "grocer", "phone": "555 0101"})
	code := x.get(domain.Reader, "/v1/harvest-lots/"+x.cutClear()).is(http.StatusOK).text("code")
	pack := x.post(domain.Owner, "/v1/pack-lots", fields{"packed_at": "2026-08-09T10:00:00-04:00", "from": []fields{{"lot": code, "quantity": quantity("40", "lb")}},
		"product": "Tomatoes", "quantity": quantity("40", "lb"), "crates": 2}).is(http.StatusCreated).fields()
	made["pack-lots"] = pack["id"].(string)
	crate := []fields{{"crates": []any{pack["crate_codes"].([]any)[0]}}}
	add("shipments", fields{"customer_id": customer, "shipped_at": "2026-08-10T07:00:00-04:00", "reference": fields{"type": "invoice", "number": "1001"}, "lines": crate})
	add("buyer-links", fields{"customer_id": customer, "shipment_ids": []string{made["shipments"]}, "expires_on": "2026-12-31"})
	add("returns", fields{"customer_id": customer, "returned_at": "2026-08-11T07:00:00-04:00", "lines": crate, "decision": "compost"})
	add("recalls", fields{"start": fields{"input_lot_id": x.manure}, "drill": true, "reason": "Yearly drill.", "started_at": "2026-09-01T09:00:00-04:00"})
	add("traceback-requests", fields{"asked_by": "State inspector", "asked_at": "2026-09-02T09:00:00-04:00", "for": "authority",
		"about": fields{"lot": code}})

	shot := x.attach(domain.Owner, "image/png", picture(x.t, 40, 30), "?name=glass.png").is(http.StatusCreated)
	made["attachments"], made["files"] = shot.id(), shot.text("hash")
	made["tokens"] = x.post(domain.Owner, "/v1/tokens", fields{"person_id": x.people[domain.Crew], "label": "Old phone"}).id()
	x.withPost()
	made["daily-messages"] = x.post(domain.Reader, "/v1/daily-messages", fields{"way": "webhook", "to": "https://hooks.example/due", "hour": 6}).id()
	made["sessions"] = x.post(domain.Owner, "/v1/sessions", fields{"label": "Wash shed", "shared": true}).id()
	return made
}

// cutClear cuts the tomato on ground that is clear and gives the lot's id.
func (x *field) cutClear() string {
	x.t.Helper()
	return x.post(domain.Crew, "/v1/harvest-lots", x.cutOf(x.tomato, "2026-08-07")).id()
}

// bodyFor gives a body that fits an operation on a record.
func bodyFor(op operation) any {
	last := op.Path[strings.LastIndexByte(op.Path, '/')+1:]
	switch last {
	case "corrections":
		return fields{"reason": "Slip.", "changes": fields{"note": "seen"}}
	case "void":
		return fields{"reason": "Slip."}
	case "reviews", "revoke", "address", "end", "test":
		return fields{}
	case "pin":
		return fields{"pin": "480261"}
	case "production":
		return fields{"in_production": false, "on": "2026-10-01", "reason": "Wet."}
	case "disposal":
		return fields{"on": "2026-10-01", "quantity": quantity("1", "lb"), "kind": "compost"}
	case "release":
		return fields{"reason": "Looked at."}
	case "resolution":
		return fields{"decision": "released", "on": "2026-10-01", "reason": "Looked at."}
	case "temperatures":
		return fields{"readings": []fields{{"taken_at": "2026-03-02T08:00:00-05:00", "probe": "P1", "temperature": quantity("140", "degF")}}}
	case "temperatures.csv":
		return "when,P1\n2026-03-02 08:00,140\n"
	case "turnings":
		return fields{"turned_at": "2026-03-05T09:00:00-05:00"}
	case "additions":
		return fields{"added_at": "2026-03-06T09:00:00-05:00", "ingredient": fields{"feedstock": "straw", "amount": quantity("50", "lb"), "animal_origin": false}}
	case "curing":
		return fields{"started_on": "2026-04-20"}
	case "lab-tests":
		return fields{"sampled_on": "2026-05-20", "analyte": "salmonella", "result": fields{"detected": false}}
	case "contaminations":
		return fields{"on": "2026-05-21", "kind": "animals", "note": "Hens on the heap."}
	}
	return nil
}

// Every address that is read answers the least of its roles with 200, and with what the document says.
func TestEveryReadAnswersAsDocumented(t *testing.T) {
	t.Parallel()
	x := newField(t)
	made := x.samples()
	lot := x.get(domain.Owner, "/v1/harvest-lots/"+made["harvest-lots"]).is(http.StatusOK).text("code")
	query, roles := map[string]string{"/v1/labels": "?lot=" + lot, "/v1/trace": "?lot=" + lot}, neededRoles()
	for _, op := range contractOf(t).operations() {
		if op.Method != http.MethodGet {
			continue
		}
		collection := strings.Split(op.Path, "/")[2]
		path := strings.NewReplacer("{id}", made[collection], "{code}", lot, "{entry}", "3", "{from}", "5", "{sheet}", "egg-washing", "{hash}", made["files"]).Replace(op.Path)
		a := x.get(roles[op.String()], path+query[op.Path])
		if phoneOnly[op.String()] {
			a = x.phone(domain.Owner, fields{"label": "x"}).get(path)
		}
		if a.Status != http.StatusOK {
			t.Errorf("%s: %d: %s", op, a.Status, a.Body)
		}
		if op.Path == "/v1/"+collection && strings.HasPrefix(string(a.Body), "[]") && made[collection] != "" {
			t.Errorf("%s: the record that was written is not in the list", op)
		}
	}
}

// Another farm's records are not there: 404, never 403, and nothing of them in the answer.
func TestOtherFarmsRecordsAreNotThere(t *testing.T) {
	t.Parallel()
	s := newService(t)
	theirs := s.farm("Fern Bank").field()
	made := theirs.samples()
	ours := s.farm("Next Door")
	lot := theirs.get(domain.Owner, "/v1/harvest-lots/"+made["harvest-lots"]).is(http.StatusOK).text("code")
	query := map[string]string{"/v1/harvest-check": "?bed_id=" + made["beds"], "/v1/labels": "?lot=" + lot}

	theirs.unchanged(func() {
		ours.unchanged(func() {
			for _, op := range contractOf(t).operations() {
				path, id, body := strings.NewReplacer("{code}", lot, "{sheet}", "egg-washing").Replace(op.Path), "", any(nil)
				if strings.Contains(path, "{id}") {
					parts := strings.Split(path, "/")
					if id = made[parts[2]]; id == "" {
						t.Errorf("no sample of %s", parts[2])
						continue
					}
					path = strings.Replace(path, "{id}", id, 1)
					if op.Method == http.MethodPost {
						if body = bodyFor(op); body == nil {
							t.Errorf("no body that fits %s", op)
							continue
						}
					}
				}
				path += query[op.Path]
				if path == op.Path {
					continue // names nothing of theirs
				}
				ask := func(path string) *answer {
					r := request(t, ours.tokens[domain.Owner], op.Method, path, body)
					if strings.HasSuffix(path, ".csv") {
						r.URL.RawQuery = "time=when&probes=P1&unit=degF"
						r.Header.Set("Content-Type", "text/csv")
					}
					return ours.send(r)
				}
				a := ask(path)
				switch {
				case a.Status == http.StatusNotFound:
					// A guessed id is answered in the same words, so nobody learns which ids there are.
					told, guess := a.problem(http.StatusNotFound, domain.CodeNotFound).Detail, newID(t)
					if id != "" {
						nobodys := ask(strings.Replace(path, id, guess, 1)).problem(http.StatusNotFound, domain.CodeNotFound).Detail
						if strings.ReplaceAll(nobodys, guess, id) != told {
							t.Errorf("%s tells another farm's id from one that nobody has: %q, %q", op, told, nobodys)
						}
					}
				case id != "" && a.Status == http.StatusConflict: // kinds that nobody voids or corrects say so before they look
					p, nobodys := a.problem(http.StatusConflict, domain.CodeRuleRefused), ask(strings.Replace(path, id, newID(t), 1))
					if nobodys.problem(http.StatusConflict, domain.CodeRuleRefused).Detail != p.Detail {
						t.Errorf("%s tells another farm's id from one that nobody has: %s", op, a.Body)
					}
				default:
					t.Errorf("%s of another farm: %d, want 404: %s", op, a.Status, a.Body)
				}
				for _, leak := range []string{"Fern Bank", "Lower 3", "Brindle", "Carl Crew"} {
					if strings.Contains(string(a.Body), leak) {
						t.Errorf("%s of another farm tells %q: %s", op, leak, a.Body)
					}
				}
			}
		})
	})
}

// Another farm's ids inside a body are refused by the field that names them, as ids that nobody knows.
func TestOtherFarmsIdsInBodies(t *testing.T) {
	t.Parallel()
	s := newService(t)
	theirs, ours := s.farm("Fern Bank").field(), s.farm("Next Door").field()
	lot := theirs.post(domain.Crew, "/v1/harvest-lots", theirs.cutOf(theirs.radish, "2026-08-08")).id()
	for name, row := range map[string]struct {
		path    string
		body    fields
		pointer string
	}{
		"bed in their plot":         {"beds", fields{"name": "B", "plot_id": theirs.plot, "from": "2024-03-01"}, "#/plot_id"},
		"layout over their bed":     {"bed-layouts", fields{"plot_id": ours.plot, "on": "2026-01-01", "lay": []fields{{"name": "C", "over": []string{theirs.bed}}}}, "#/lay/0/over/0"},
		"planting in their bed":     {"plantings", fields{"crop_id": newID(t), "bed_ids": []string{theirs.bed}, "planted_on": "2026-01-01"}, "#/bed_ids/0"},
		"delivery of their input":   {"input-lots", fields{"input_id": theirs.input, "supplier": "S", "received_on": "2026-01-01", "quantity": quantity("1", "lb")}, "#/input_id"},
		"their manure on our bed":   {"applications", with(ours.manured("2026-01-01", ""), "source", fields{"input_lot_id": theirs.manure}), "#/source/input_lot_id"},
		"our manure on their bed":   {"applications", with(ours.manured("2026-01-01", ""), "ground", fields{"bed_ids": []string{theirs.bed}}), "#/ground/bed_ids/0"},
		"our manure on their plot":  {"applications", with(ours.manured("2026-01-01", ""), "ground", fields{"plot_id": theirs.plot}), "#/ground/plot_id"},
		"hens on their bed":         {"grazings", fields{"species": "hens", "ground": fields{"bed_ids": []string{theirs.bed}}, "from": "2026-01-01"}, "#/ground/bed_ids/0"},
		"hold on their lot":         {"holds", fields{"on": fields{"lot_id": lot}, "reason": "x"}, "#/on"},
		"cut of their planting":     {"harvest-lots", with(ours.cutOf(theirs.radish, "2026-08-08"), "bed_ids", []string{ours.bed}), "#/planting_id"},
		"cut by their crew":         {"harvest-lots", with(ours.cutOf(ours.radish, "2026-08-08"), "crew", []string{theirs.people[domain.Crew]}), "#/crew/0"},
		"cut signed by their owner": {"harvest-lots", with(ours.cutOf(ours.radish, "2026-08-08"), "done_by", theirs.people[domain.Owner]), "#/done_by"},
		"labels of their lot":       {"label-prints", fields{"lot_id": lot, "size": "4x2in", "copies": 1}, "#/lot_id"},
		"spread by their crew":      {"applications", with(ours.manured("2026-01-01", ""), "done_by", theirs.people[domain.Crew]), "#/done_by"},
	} {
		t.Run(name, func(t *testing.T) {
			ours.unchanged(func() {
				at(t, ours.post(domain.Owner, "/v1/"+row.path, row.body).problem(http.StatusUnprocessableEntity, domain.CodeInvalid), row.pointer)
			})
		})
	}
	ours.post(domain.Owner, "/v1/tokens", fields{"person_id": theirs.people[domain.Owner], "label": "x"}).problem(http.StatusNotFound, domain.CodeNotFound)
}
