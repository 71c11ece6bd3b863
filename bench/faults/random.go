package main

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"math/rand/v2"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"slices"
	"sort"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"croftmark/bench/rig"
)

// perRound is how many requests each route gets before the book is read and a new one is begun: a farm that only grows
// would let the later requests be few and slow.
const perRound = 60

// tally counts the answers of one route.
type tally struct {
	sent, accepted, entries int
	took                    time.Duration
}

// randomRequests sends requests made from the service's own document and the records of the demo farm: most of them right
// but for one field, some of them nonsense, by all roles, some twice. None may be answered with a fault of the service;
// none that is refused may leave an entry, but for the one refusal that is evidence, the harvest on ground that is not
// clear; and what is accepted is in the book, once.
func (f *faults) randomRequests(ctx context.Context) error {
	filled := f.data("random")
	service, _, err := f.program.Demo(ctx, filled)
	if err != nil {
		return err
	}
	if err := service.Stop(); err != nil {
		return err
	}
	routes, statuses, found := map[string]*tally{}, map[int]int{}, map[string]error{}
	began, rounds := time.Now(), 0
	for done := 0; done < f.requests && ctx.Err() == nil && (f.long == 0 || time.Since(began) < f.long); rounds++ {
		n := min(perRound, f.requests-done)
		if err := f.randomRound(ctx, filled, uint64(rounds), n, began, routes, statuses, found); err != nil {
			return err
		}
		done += n
	}
	var sent, accepted, never int
	fewest := f.requests
	for _, t := range routes {
		sent, accepted, fewest = sent+t.sent, accepted+t.accepted, min(fewest, t.sent)
		if t.accepted == 0 {
			never++
		}
	}
	f.routeTable(routes)
	f.say("random", fmt.Sprintf("%d random requests to %d routes in %d rounds, at least %d each: %d accepted, on all but %d routes; statuses %v; no refused one left an entry, accepted ones exactly theirs; after each round the hashes hold and a rebuild makes the same tables",
		sent, len(routes), rounds, fewest, accepted, never, statuses), errors.Join(slices.Collect(maps.Values(found))...))
	return nil
}

// routeTable writes how often each route was tried and accepted, the least accepted first.
func (f *faults) routeTable(routes map[string]*tally) {
	names := sortedKeys(routes)
	slices.SortStableFunc(names, func(a, b string) int { return cmp.Compare(routes[a].accepted, routes[b].accepted) })
	for _, name := range names {
		r := routes[name]
		fmt.Printf("%-8s        %7d sent %7d accepted %7d entries %8.2f ms each  %s\n", "random", r.sent, r.accepted, r.entries, r.took.Seconds()*1000/float64(r.sent), name)
	}
}

// randomRound sends n requests to every route of a fresh copy of the demo farm, and reads the book.
func (f *faults) randomRound(ctx context.Context, filled string, round uint64, n int, began time.Time, routes map[string]*tally, statuses map[int]int, found map[string]error) error {
	data := f.data("random-round")
	if err := os.RemoveAll(data); err != nil {
		return err
	}
	if out, err := exec.CommandContext(ctx, "cp", "-a", filled, data).CombinedOutput(); err != nil {
		return fmt.Errorf("copy the demo farm: %w\n%s", err, out)
	}
	service, tokens, err := f.program.Demo(ctx, data)
	if err != nil {
		return err
	}
	defer service.Stop()
	dbURL, err := service.OwnerURL(ctx)
	if err != nil {
		return err
	}
	conn, err := pgx.Connect(ctx, dbURL)
	if err != nil {
		return err
	}
	defer conn.Close(context.WithoutCancel(ctx))
	s := &served{service, &rig.Farm{Client: rig.Client{Address: service.Address, Token: tokens["owner"], HTTP: rig.NewHTTP()}}, conn}
	m := &mutator{farm: s, tokens: tokens, dice: rand.New(rand.NewPCG(f.seed, 3+round)), routes: routes, sane: 12}
	if err := s.farm.Must(ctx, http.MethodGet, "/v1/openapi.json", nil, &m.doc); err != nil {
		return err
	}
	if m.known, err = learn(ctx, s, m.doc); err != nil {
		return err
	}
	if m.people, err = peopleOf(ctx, s, tokens); err != nil {
		return err
	}
	for range n {
		if f.long > 0 && time.Since(began) > f.long {
			break
		}
		for _, path := range sortedKeys(m.doc.Paths) {
			for _, method := range sortedKeys(m.doc.Paths[path]) {
				if ctx.Err() != nil {
					return ctx.Err()
				}
				status, err := m.try(ctx, method, path, m.doc.Paths[path][method])
				statuses[status]++
				if name := method + " " + path; err != nil && found[name] == nil {
					found[name] = err // one of a kind is enough to go and look
					fmt.Printf("%-8s found  %v\n", "random", err)
				}
			}
		}
	}
	if _, err := f.program.Run(ctx, "verify", "--data", data); err != nil {
		found["verify"] = err
	}
	if err := f.rebuilds(ctx, dbURL, "--data", data); err != nil {
		found["rebuild"] = err
	}
	return nil
}

// peopleOf gives the ids of those whose tokens are used: what ends them would end the run.
func peopleOf(ctx context.Context, s *served, tokens map[string]string) (out []string, err error) {
	for _, token := range tokens {
		client := s.farm.Client
		client.Token = token
		var me struct {
			PersonID string `json:"person_id"`
		}
		if err := client.Must(ctx, http.MethodGet, "/v1/me", nil, &me); err != nil {
			return nil, err
		}
		out = append(out, me.PersonID)
	}
	return out, nil
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
	*known
	doc    document
	dice   *rand.Rand
	farm   *served
	tokens map[string]string // by role
	people []string
	routes map[string]*tally
	sane   int // one value in so many is nonsense
	count  int
}

// asks are roles in the share they are used in.
var asks = []string{"owner", "owner", "owner", "owner", "lead", "lead", "lead", "crew", "crew", "reader"}

// try sends one request and holds the answer to the promises.
func (m *mutator) try(ctx context.Context, method, path string, op operation) (int, error) {
	role := asks[m.dice.IntN(len(asks))]
	client := m.farm.farm.Client
	client.Token = m.tokens[role]
	address := m.address(method, path, op)
	var body any
	if method == "post" {
		body = m.body(path, op)
		if m.dice.IntN(4) == 0 {
			client.Key = uuid.NewString()
		}
	}
	before, err := m.farm.entries(ctx)
	if err != nil {
		return 0, err
	}
	began := time.Now()
	a, err := client.Send(ctx, strings.ToUpper(method), address, body)
	if err != nil {
		return 0, fmt.Errorf("%s %s: %w", method, address, err)
	}
	took := time.Since(began)
	after, err := m.farm.entries(ctx)
	if err != nil {
		return 0, err
	}
	route := m.route(method + " " + path)
	route.sent++
	route.took += took
	route.entries += int(after - before)
	what := fmt.Sprintf("%s %s by %s of %.1500s answered %d and left %d entries: %.400s", method, address, role, shown(body), a.Status, after-before, a.Body)
	if err := promised(method, role, address, a, after-before); err != nil {
		return a.Status, fmt.Errorf("%w: %s", err, what)
	}
	if a.Status >= 300 {
		return a.Status, nil
	}
	route.accepted++
	if method != "post" {
		return a.Status, nil
	}
	m.remember(path, body, a)
	if err := m.once(ctx, client, address, body, a, after-before); err != nil {
		return a.Status, fmt.Errorf("%w: %s", err, what)
	}
	return a.Status, nil
}

func (m *mutator) route(name string) *tally {
	if m.routes[name] == nil {
		m.routes[name] = &tally{}
	}
	return m.routes[name]
}

func shown(body any) []byte {
	switch b := body.(type) {
	case rig.CSV:
		return b
	case rig.File:
		return fmt.Appendf(nil, "%d bytes", len(b))
	}
	raw, _ := json.Marshal(body) // for people to read
	return raw
}

// promised holds an answer to what is true of every one.
func promised(method, role, address string, a rig.Answer, entries int64) error {
	var made rig.Made
	switch {
	case a.Status >= 500:
		return errors.New("a fault of the service")
	case a.Status >= 400 && entries != 0 && !strings.Contains(string(a.Body), "harvest-refused"):
		return errors.New("a refused request left entries")
	case entries != 0 && method != "post":
		return errors.New("a question left entries")
	case entries != 0 && role == "reader":
		return errors.New("a reader wrote")
	case a.Status == http.StatusUnauthorized:
		return errors.New("somebody was signed out by what others wrote")
	case a.Status == http.StatusCreated && json.Unmarshal(a.Body, &made) == nil && made.Entry > 0 && entries == 0:
		return errors.New("an entry was promised and is not there")
	case a.Status == http.StatusOK && entries != 0 && !strings.Contains(address, "progress=true"): // which answers before it has written
		return errors.New("something that was written before was written again")
	}
	return nil
}

// once sends an accepted request again: with the same id or key it may add nothing, and with other contents it is refused.
func (m *mutator) once(ctx context.Context, client rig.Client, address string, body any, first rig.Answer, entries int64) error {
	record, isRecord := body.(rig.Record)
	marked := client.Key != "" || isRecord && record["id"] != nil && record["id"] != ""
	if entries == 0 || !marked || m.dice.IntN(2) == 0 {
		return nil
	}
	before, err := m.farm.entries(ctx)
	if err != nil {
		return err
	}
	same, err := client.Send(ctx, http.MethodPost, address, body)
	if err != nil {
		return err
	}
	other := rig.Answer{Status: http.StatusConflict}
	if isRecord {
		changed := clone(record)
		changed["note"] = "Something else than before."
		if other, err = client.Send(ctx, http.MethodPost, address, changed); err != nil {
			return err
		}
	}
	after, err := m.farm.entries(ctx)
	var a, b rig.Made
	bothRead := json.Unmarshal(first.Body, &a) == nil && json.Unmarshal(same.Body, &b) == nil
	switch {
	case err != nil:
		return err
	case after != before:
		return fmt.Errorf("sent again it left %d more entries (answers %d and %d)", after-before, same.Status, other.Status)
	case same.Status != http.StatusOK || bothRead && a.ID != b.ID:
		return fmt.Errorf("sent again it was answered %d: %.300s", same.Status, same.Body)
	case other.Status < 400 || other.Status >= 500:
		return fmt.Errorf("other contents under the same id were answered %d: %.300s", other.Status, other.Body)
	}
	return nil
}

// remember keeps what was accepted, so that later requests build on it.
func (m *mutator) remember(path string, body any, a rig.Answer) {
	var made rig.Made
	if json.Unmarshal(a.Body, &made) != nil {
		return
	}
	if record, ok := body.(rig.Record); ok {
		kept := clone(record)
		delete(kept, "id")
		m.add(path, kept)
		m.follow(path, kept, made)
	}
	if !strings.Contains(path, "{") {
		m.made(strings.TrimPrefix(path, "/v1/"), made)
	}
}

// address fills in the places of a path and some of the questions.
func (m *mutator) address(method, path string, op operation) string {
	collection := strings.Split(path, "/")[2]
	query := url.Values{}
	address := path
	for _, p := range op.Parameters {
		switch {
		case p.In == "path":
			address = strings.ReplaceAll(address, "{"+p.Name+"}", url.PathEscape(m.place(method, collection, p.Name, p.Schema)))
		case p.In == "query" && (p.Required && m.dice.IntN(20) > 0 || m.dice.IntN(4) == 0):
			m.sane = []int{8, 40, 4000}[m.dice.IntN(3)]
			value := m.value(p.Schema, p.Name, 0)
			if list, ok := value.([]any); ok {
				for _, one := range list {
					query.Add(p.Name, fmt.Sprint(one))
				}
				continue
			}
			query.Set(p.Name, fmt.Sprint(value))
		}
	}
	if strings.HasSuffix(path, "temperatures.csv") && m.dice.IntN(3) > 0 {
		query = url.Values{"time": {"when"}, "probes": {"P1"}, "unit": {"degF"}}
	}
	if len(query) > 0 {
		address += "?" + query.Encode()
	}
	return address
}

// place gives what stands in a path. Tokens and sessions of this run are not named, nor are its people changed.
func (m *mutator) place(method, collection, name string, s *schema) string {
	switch name {
	case "id":
		id := m.id(collection)
		if method == "post" && slices.Contains(m.people, id) {
			return uuid.Must(uuid.NewV7()).String()
		}
		return id
	case "hash":
		return pick(m, m.hashes)
	case "sheet":
		return []string{"training", "cleaning", "illness", "cold-storage", "nothing"}[m.dice.IntN(5)]
	case "code":
		return pick(m, m.codes)
	}
	m.sane = 10
	return fmt.Sprint(m.value(s, name, 0))
}
