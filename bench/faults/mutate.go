package main

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"croftmark/bench/rig"
)

// body makes the body of a request: one that was once taken, with its days moved to now, its name made new, and most often
// one field changed; or, where none is known, one made up from the schema.
func (m *mutator) body(path string, op operation) any {
	switch {
	case op.RequestBody.Content["text/csv"].Schema != nil:
		return m.table(path)
	case op.RequestBody.Content["image/png"].Schema != nil:
		return m.file()
	}
	fields := m.doc.fields(op)
	if fields == nil {
		return nil
	}
	seeds := m.bodies[path]
	if strings.HasSuffix(path, "/corrections") {
		return m.correction(path)
	}
	if body := m.chained(path); body != nil && m.dice.IntN(4) > 0 {
		m.sane = 12
		if m.dice.IntN(2) == 0 {
			m.change(body, fields, 0)
		}
		return body
	}
	if len(seeds) == 0 || m.dice.IntN(12) == 0 {
		m.sane = []int{8, 40, 4000}[m.dice.IntN(3)]
		return m.value(fields, "", 0)
	}
	body := clone(seeds[m.dice.IntN(len(seeds))])
	m.freshen(body)
	m.sane = 12
	for range []int{0, 0, 0, 1, 1, 1, 1, 2, 3}[m.dice.IntN(9)] {
		m.change(body, fields, 0)
	}
	if m.dice.IntN(5) == 0 {
		body["id"] = uuid.Must(uuid.NewV7()).String()
	}
	return body
}

// correction changes one field of a record to what it is in another.
func (m *mutator) correction(path string) any {
	collection := "/v1/" + strings.Split(path, "/")[2]
	changes := rig.Record{}
	if seeds := m.bodies[collection]; len(seeds) > 0 && m.dice.IntN(8) > 0 {
		body := clone(seeds[m.dice.IntN(len(seeds))])
		m.freshen(body)
		names := sortedKeys(body)
		for range 1 + m.dice.IntN(2) {
			if len(names) > 0 {
				name := names[m.dice.IntN(len(names))]
				changes[name] = body[name]
			}
		}
		if m.dice.IntN(6) == 0 {
			changes[[]string{"note", "quantity", "done_by", "on"}[m.dice.IntN(4)]] = m.nonsense()
		}
	} else if post, ok := m.doc.Paths[collection]["post"]; ok {
		m.sane = 20
		m.change(changes, m.doc.fields(post), 0)
	}
	return rig.Record{"reason": "Read again.", "changes": changes}
}

func clone(body rig.Record) rig.Record {
	raw, _ := json.Marshal(body) // it came from JSON
	var out rig.Record
	_ = json.Unmarshal(raw, &out)
	return out
}

// freshen moves all days of a body together, so that what is between them stays, and gives it a name of its own.
func (m *mutator) freshen(body rig.Record) {
	if m.dice.IntN(2) == 0 {
		days := m.dice.IntN(60) - 30
		for name, value := range body {
			body[name] = moved(value, days)
		}
	}
	for _, name := range []string{"name", "code", "supplier_lot"} {
		if text, ok := body[name].(string); ok && m.dice.IntN(10) > 0 {
			m.count++
			body[name] = fmt.Sprintf("%.20s %d", text, m.count)
		}
	}
}

// now is an instant that the farm's records may bear.
func (m *mutator) now() string { return time.Now().Add(-time.Minute).Format(time.RFC3339) }

// moved moves the days and instants of a value.
func moved(value any, days int) any {
	switch v := value.(type) {
	case string:
		if at, err := time.Parse(time.DateOnly, v); err == nil {
			return at.AddDate(0, 0, days).Format(time.DateOnly)
		}
		if at, err := time.Parse(time.RFC3339, v); err == nil {
			return at.AddDate(0, 0, days).Format(time.RFC3339)
		}
	case []any:
		for i := range v {
			v[i] = moved(v[i], days)
		}
	case map[string]any:
		for name := range v {
			v[name] = moved(v[name], days)
		}
	}
	return value
}

// change alters one field, somewhere in a body: takes it away, gives it another value, or adds one that was not there.
func (m *mutator) change(body map[string]any, fields *schema, depth int) {
	fields = m.resolve(fields)
	if fields == nil {
		return
	}
	names := sortedKeys(body)
	if len(names) == 0 || m.dice.IntN(4) == 0 {
		names = sortedKeys(fields.Properties)
	}
	if len(names) == 0 {
		return
	}
	name := names[m.dice.IntN(len(names))]
	inner := m.resolve(fields.Properties[name])
	if object, ok := body[name].(map[string]any); ok && inner != nil && depth < 5 && m.dice.IntN(3) > 0 {
		m.change(object, inner, depth+1)
		return
	}
	if list, ok := body[name].([]any); ok && len(list) > 0 && inner != nil && m.dice.IntN(3) > 0 {
		body[name] = m.changeList(list, name, inner, depth)
		return
	}
	switch m.dice.IntN(6) {
	case 0:
		delete(body, name)
	case 1:
		body[name] = m.nonsense()
	default:
		body[name] = m.value(fields.Properties[name], name, depth)
	}
}

// changeList alters one member, doubles it, or takes it away.
func (m *mutator) changeList(list []any, name string, fields *schema, depth int) []any {
	i := m.dice.IntN(len(list))
	if object, ok := list[i].(map[string]any); ok && depth < 5 && m.dice.IntN(4) > 0 {
		m.change(object, fields.Items, depth+1)
		return list
	}
	switch m.dice.IntN(3) {
	case 0:
		return slices.Delete(list, i, i+1)
	case 1:
		return append(list, list[i])
	}
	list[i] = m.value(fields.Items, name, depth)
	return list
}

// csvFiles are CSV files that can be read in, by the last part of the address; %d makes names new.
var csvFiles = map[string]string{
	"beds.csv":         "plot,bed,from\nLong Meadow,Import %d,2024-03-01\nLong Meadow,Import %[1]d b,2024-03-01\n",
	"crops.csv":        "name,soil_contact\nKohlrabi %d,touches\n",
	"customers.csv":    "name,kind,phone\nCopper Ladle %d,restaurant,555 0100\n",
	"plantings.csv":    "crop,beds,planted_on\nRadish,Import %d,2025-04-01\n",
	"applications.csv": "supplier_lot,beds,applied_on,amount,unit\nL%d,Import 1,2025-04-01,1,yd3\n",
	"harvests.csv":     "crop,beds,cut_on,quantity,unit\nRadish,Import %d,2025-08-01,40,lb\n",
	"temperatures.csv": "when,P1,P%d\n2026-03-02 08:00,140,139\n2026-03-03 08:00,141,142\n",
}

func (m *mutator) table(path string) any {
	m.count++
	text := fmt.Sprintf(csvFiles[path[strings.LastIndexByte(path, '/')+1:]], m.count%7)
	switch m.dice.IntN(6) {
	case 0:
		return rig.CSV(strings.Replace(text, ",", ";", m.dice.IntN(3)))
	case 1:
		return rig.CSV(text[:m.dice.IntN(len(text))])
	case 2:
		return rig.CSV(strings.Replace(text, "20", fmt.Sprint(m.nonsense()), 1))
	}
	return rig.CSV(text)
}

// onePixel is the smallest picture there is.
var onePixel = []byte("\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR\x00\x00\x00\x01\x00\x00\x00\x01\x08\x06\x00\x00\x00\x1f\x15\xc4\x89\x00\x00\x00\rIDATx\x9cc\xf8\xff\xff?\x00\x05\xfe\x02\xfe\xa75\x81\x84\x00\x00\x00\x00IEND\xaeB`\x82")

func (m *mutator) file() any {
	m.count++
	if m.dice.IntN(3) == 0 {
		file := slices.Clone(onePixel)
		file[m.dice.IntN(len(file))] ^= byte(1 + m.dice.IntN(255))
		return rig.File(file)
	}
	return rig.File(append(slices.Clone(onePixel), fmt.Sprint(m.count)...)) // what follows the picture makes it another file
}
