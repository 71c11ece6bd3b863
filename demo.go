package main

import (
	"bytes"
	"context"
	_ "embed"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net/http"
	"regexp"
	"strconv"
	"strings"
	"sync"
	"time"

	"github.com/google/uuid"

	"croftmark/domain"
	"croftmark/storage"
	"croftmark/storage/cluster"
)

// demoScript is the demo farm: one request a line, in the order a farm would write them. Days are told relative to today,
// so that some beds are always clear, some wait, one stops and one asks.
//
//go:embed testdata/demo.jsonl
var demoScript []byte

// demoStep is one request. On is the day it is written down, counted from today; As names who writes it, the owner when
// left out; Save names the id of what it makes; Expect is the status when it is not 201.
type demoStep struct {
	On     int             `json:"on"`
	As     string          `json:"as"`
	Post   string          `json:"post"`
	Save   string          `json:"save"`
	Expect int             `json:"expect"`
	Body   json.RawMessage `json:"body"`
}

const demoFarm = "Fernglade Hollow"

// demo fills an empty book with the demo farm through the HTTP interface, serves it, and prints a sign-in line per role.
// A book that holds the demo farm already is served as it is.
func (s settings) demo(ctx context.Context) error {
	clock := &demoClock{}
	s.now = clock.now
	if s.dataDir == "" && s.databaseURL == "" {
		dir, err := demoDataDir()
		if err != nil {
			return err
		}
		s.dataDir = dir
	}
	return s.serve(ctx, func(ctx context.Context, r running) error {
		farms, err := storage.FarmIDs(ctx, r.ownerURL)
		if err != nil {
			return err
		}
		if len(farms) > 0 {
			return s.demoAgain(ctx, r, farms)
		}
		farm := &domain.Farm{Name: demoFarm, Address: "12 Millrace Lane, Ashby Fork, NY 00000", Phone: "518-555-0140", TimeZone: "America/New_York", Units: "us",
			Contact: "Maren Oakley", ContactPhone: "518-555-0141", Web: "https://fernglade.example", Size: domain.FarmSmall, Exemption: "none"}
		for _, set := range []string{"us-organic", "us-produce-safety"} {
			standard, err := adopted(set)
			if err != nil {
				return err
			}
			farm.Standards = append(farm.Standards, standard)
		}
		zone := mustZone(farm.TimeZone)
		p := player{address: r.address, clock: clock, zone: zone, today: domain.DateIn(time.Now(), zone)}
		steps, err := readScript(demoScript)
		if err != nil {
			return err
		}
		clock.set(p.today.AddDays(steps[0].On), p.today, zone)
		opened, err := r.db.OpenFarm(ctx, farm, &domain.Person{Name: "Maren Oakley", Initials: "MO", Language: "en"})
		if err != nil {
			return err
		}
		p.saved, p.tokens = map[string]string{}, map[string]string{"": opened.Token}
		if err := p.play(ctx, steps); err != nil {
			return fmt.Errorf("demo farm: %w", err)
		}
		clock.set(p.today, p.today, zone)
		if err := s.signIns(ctx, r.db, opened.FarmID); err != nil {
			return err
		}
		fmt.Fprintf(s.out, "demo farm ready: %d requests sent to %s\n", len(steps), r.address)
		return nil
	})
}

// demoDataDir is the demo farm's folder when none is named. It is not the one in which init opens a farm's own book.
func demoDataDir() (string, error) {
	dir, err := cluster.DefaultDataDir()
	return dir + "-demo", err
}

// demoAgain gives new sign-in lines for a demo farm that was filled before. It touches no other farm's book.
func (s settings) demoAgain(ctx context.Context, r running, farms []uuid.UUID) error {
	for _, id := range farms {
		_, farm, err := r.db.Today(storage.Reading{Ctx: ctx, Farm: id})
		if err != nil {
			return err
		}
		if farm.Name != demoFarm {
			continue
		}
		if err := s.signIns(ctx, r.db, id); err != nil {
			return err
		}
		fmt.Fprintf(s.out, "demo farm ready: it was here already, and is served as it is through %s\n", r.address)
		return nil
	}
	return errors.New("this data folder already holds the book of another farm, so the demo farm was not put into it; choose an empty folder with --data")
}

// signIns prints a line with a new token for the first person of each role whose time has not ended.
func (s settings) signIns(ctx context.Context, db *storage.DB, farm uuid.UUID) error {
	people, err := activePeople(ctx, db, farm)
	if err != nil {
		return err
	}
	for _, role := range []domain.Role{domain.Owner, domain.Lead, domain.Crew, domain.Reader} {
		for _, p := range people {
			if p.Role != role {
				continue
			}
			token, err := db.NewToken(ctx, storage.Actor{FarmID: farm}, storage.Token{PersonID: p.ID, Label: "demo"})
			if err != nil {
				return err
			}
			fmt.Fprintf(s.out, "%-7s %-18s %s\n", role, p.Name, token)
			break
		}
	}
	return nil
}

func mustZone(name string) *time.Location {
	zone, err := domain.Zone(name)
	if err != nil {
		panic(err) // a constant of this file
	}
	return zone
}

// demoClock is the book's clock while the demo farm is written: each day's records are typed in that evening, as on a
// real farm. On the last day, and ever after, it is the system's.
type demoClock struct {
	mu sync.Mutex
	at time.Time
}

func (c *demoClock) now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.at.IsZero() {
		return time.Now()
	}
	c.at = c.at.Add(7 * time.Second)
	return c.at
}

func (c *demoClock) set(day, today domain.Date, zone *time.Location) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.at = day.In(zone).Add(17*time.Hour + 30*time.Minute); !day.Before(today) {
		c.at = time.Time{}
	}
}

// player sends a script of requests.
type player struct {
	address string
	clock   *demoClock
	zone    *time.Location
	today   domain.Date
	saved   map[string]string // ids by the names the script gave
	tokens  map[string]string // by the names of people; the owner's has none
}

func readScript(script []byte) ([]demoStep, error) {
	var steps []demoStep
	for i, line := range bytes.Split(bytes.TrimSpace(script), []byte("\n")) {
		var step demoStep
		dec := json.NewDecoder(bytes.NewReader(line))
		dec.DisallowUnknownFields()
		if err := dec.Decode(&step); err != nil {
			return nil, fmt.Errorf("demo script, line %d: %w", i+1, err)
		}
		if i > 0 && step.On < steps[i-1].On {
			return nil, fmt.Errorf("demo script, line %d: it goes back in time", i+1)
		}
		steps = append(steps, step)
	}
	return steps, nil
}

func (p *player) play(ctx context.Context, steps []demoStep) error {
	for i, step := range steps {
		if i > 0 && step.On != steps[i-1].On {
			p.clock.set(p.today.AddDays(step.On), p.today, p.zone)
		}
		if err := p.send(ctx, step); err != nil {
			return fmt.Errorf("line %d, %s: %w", i+1, step.Post, err)
		}
	}
	return nil
}

func (p *player) send(ctx context.Context, step demoStep) error {
	body, err := p.fill(string(step.Body))
	if err != nil {
		return err
	}
	path, err := p.fill(step.Post)
	if err != nil {
		return err
	}
	token, err := p.tokenOf(ctx, step.As)
	if err != nil {
		return err
	}
	want := step.Expect
	if want == 0 {
		want = http.StatusCreated
	}
	answer, err := p.post(ctx, token, path, body, want)
	if err != nil {
		return err
	}
	return p.save(step.Save, answer)
}

// tokenOf gives the token of a person of the script; the owner hands it out at first use.
func (p *player) tokenOf(ctx context.Context, name string) (string, error) {
	if token, ok := p.tokens[name]; ok {
		return token, nil
	}
	body, err := p.fill(`{"person_id": "{{` + name + `}}", "label": "demo script"}`)
	if err != nil {
		return "", err
	}
	answer, err := p.post(ctx, p.tokens[""], "/v1/tokens", body, http.StatusCreated)
	if err != nil {
		return "", err
	}
	var made struct {
		Token string `json:"token"`
	}
	err = json.Unmarshal(answer, &made)
	p.tokens[name] = made.Token
	return made.Token, err
}

func (p *player) post(ctx context.Context, token, path, body string, want int) ([]byte, error) {
	request, err := http.NewRequestWithContext(ctx, http.MethodPost, p.address+path, strings.NewReader(body))
	if err != nil {
		return nil, err
	}
	request.Header.Set("Authorization", "Bearer "+token)
	request.Header.Set("Content-Type", "application/json")
	response, err := http.DefaultClient.Do(request)
	if err != nil {
		return nil, err
	}
	defer response.Body.Close()
	answer, err := io.ReadAll(response.Body)
	if err != nil {
		return nil, err
	}
	if response.StatusCode != want {
		return nil, fmt.Errorf("answered %d, not %d: %s", response.StatusCode, want, answer)
	}
	return answer, nil
}

// save keeps the id of what was made, for a layout the ids of its beds as NAME.0, NAME.1 …, and for a lot its code as
// NAME.code and the codes of its crates as NAME.crate.1, NAME.crate.2 …
func (p *player) save(name string, answer []byte) error {
	if name == "" {
		return nil
	}
	var made struct {
		ID         string   `json:"id"`
		Code       string   `json:"code"`
		CrateCodes []string `json:"crate_codes"`
		Lay        []struct {
			ID string `json:"id"`
		} `json:"lay"`
	}
	if err := json.Unmarshal(answer, &made); err != nil {
		return err
	}
	p.saved[name], p.saved[name+".code"] = made.ID, made.Code
	for i, crate := range made.CrateCodes {
		p.saved[name+".crate."+strconv.Itoa(i+1)] = crate
	}
	for i, bed := range made.Lay {
		p.saved[name+"."+strconv.Itoa(i)] = bed.ID
	}
	return nil
}

// placeholder is {{today}}, {{today-120}}, {{today+7}}, with an hour of the farm's day {{today-3 08:10}}, or {{NAME}}.
var placeholder = regexp.MustCompile(`\{\{([a-z0-9.-]+?)([+-]\d+)?(?: (\d\d:\d\d))?\}\}`)

func (p *player) fill(text string) (string, error) {
	var unknown error
	out := placeholder.ReplaceAllStringFunc(text, func(match string) string {
		parts := placeholder.FindStringSubmatch(match)
		if parts[1] == "today" {
			days, _ := strconv.Atoi(parts[2]) // empty is no days
			day := p.today.AddDays(days)
			if parts[3] == "" {
				return day.String()
			}
			at, err := time.ParseInLocation("2006-01-02 15:04", day.String()+" "+parts[3], p.zone)
			unknown = errors.Join(unknown, err)
			return at.Format(time.RFC3339)
		}
		id, ok := p.saved[parts[1]]
		if !ok {
			unknown = errors.Join(unknown, fmt.Errorf("nothing is saved as %q", parts[1]))
		}
		return id
	})
	return out, unknown
}
