package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"math/rand/v2"
	"net/http"
	"net/url"
	"slices"
	"sort"
	"strings"
)

// document is what is read of the OpenAPI document.
type document struct {
	Paths      map[string]map[string]operation `json:"paths"`
	Components struct {
		Schemas map[string]*schema `json:"schemas"`
	} `json:"components"`
}

type operation struct {
	Parameters []struct {
		Name   string  `json:"name"`
		In     string  `json:"in"`
		Schema *schema `json:"schema"`
	} `json:"parameters"`
	RequestBody struct {
		Content map[string]struct {
			Schema *schema `json:"schema"`
		} `json:"content"`
	} `json:"requestBody"`
}

// randomRequests sends requests made from the service's own document: most of them nearly right, some of them nonsense.
// None may be answered with a fault of the service, and none that is refused may leave an entry, but for the one refusal
// that is evidence: the harvest on ground that is not clear.
func (f *faults) randomRequests(ctx context.Context) error {
	s, err := f.serveFarm(ctx, "random")
	if err != nil {
		return err
	}
	defer s.end(context.WithoutCancel(ctx))
	var doc document
	if err := s.farm.Must(ctx, http.MethodGet, "/v1/openapi.json", nil, &doc); err != nil {
		return err
	}
	m := &mutator{doc: doc, dice: rand.New(rand.NewPCG(f.seed, 3)), known: append(slices.Concat(s.farm.Fallow, s.farm.Planted, s.farm.Lots), s.farm.Planting, s.farm.Owner), farm: s}
	var wrong []error
	sent, statuses := 0, map[int]int{}
	for _, path := range sortedKeys(doc.Paths) {
		for _, method := range sortedKeys(doc.Paths[path]) {
			if strings.HasPrefix(path, "/v1/tokens/") || strings.HasPrefix(path, "/v1/sessions") {
				continue // would sign this program out
			}
			for range f.requests {
				status, err := m.try(ctx, method, path, doc.Paths[path][method])
				if sent++; err != nil {
					wrong = append(wrong, err)
					break // one of a kind is enough to go and look
				}
				statuses[status]++
			}
		}
	}
	f.say("random", fmt.Sprintf("%d random requests to %d paths: statuses %v; no refused one left an entry", sent, len(doc.Paths), statuses), errors.Join(wrong...))
	_, err = f.program.Run(ctx, "verify", "--data", s.Data)
	return err
}

func sortedKeys[V any](m map[string]V) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	return keys
}

// mutator makes requests up.
type mutator struct {
	doc   document
	dice  *rand.Rand
	known []string // ids that name something
	farm  *served
	sane  int // one value in so many is nonsense
}

// try sends one request and holds the answer to the promises.
func (m *mutator) try(ctx context.Context, method, path string, op operation) (int, error) {
	before, err := m.farm.entries(ctx)
	if err != nil {
		return 0, err
	}
	m.sane = []int{8, 40, 4000}[m.dice.IntN(3)]
	query := url.Values{}
	address := path
	for _, p := range op.Parameters {
		value := fmt.Sprint(m.value(p.Schema, 0))
		switch {
		case p.In == "path":
			address = strings.ReplaceAll(address, "{"+p.Name+"}", url.PathEscape(value))
		case p.In == "query" && m.dice.IntN(3) == 0:
			query.Set(p.Name, value)
		}
	}
	if len(query) > 0 {
		address += "?" + query.Encode()
	}
	var body any
	for _, content := range op.RequestBody.Content {
		body = m.value(content.Schema, 0)
	}
	a, err := m.farm.farm.Send(ctx, strings.ToUpper(method), address, body)
	if err != nil {
		return 0, err
	}
	after, err := m.farm.entries(ctx)
	if err != nil {
		return 0, err
	}
	sent, _ := json.Marshal(body) // for people to read
	switch {
	case a.Status >= 500:
		err = fmt.Errorf("%s %s answered %d to %.1500s: %.300s", method, address, a.Status, sent, a.Body)
	case a.Status >= 400 && after != before && !strings.Contains(string(a.Body), "harvest-refused"):
		err = fmt.Errorf("%s %s was refused with %d and left %d entries: %.1500s", method, address, a.Status, after-before, sent)
	}
	var made struct {
		ID string `json:"id"`
	}
	if a.Status < 300 && json.Unmarshal(a.Body, &made) == nil && made.ID != "" {
		m.known = append(m.known, made.ID)
	}
	return a.Status, err
}
