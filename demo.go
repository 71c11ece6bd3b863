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
	"time"

	"github.com/google/uuid"

	"croftmark/domain"
	"croftmark/storage"
)

// demoScript is the demo farm: one request a line, in the order a farm would write them. Days are told relative to today,
// so that some beds are always clear, some wait, one stops and one asks.
//
//go:embed testdata/demo.jsonl
var demoScript []byte

// demoStep is one request. Save names the id of what it makes; Expect is the status when it is not 201.
type demoStep struct {
	Post   string          `json:"post"`
	Save   string          `json:"save"`
	Expect int             `json:"expect"`
	Body   json.RawMessage `json:"body"`
}

// demo fills an empty book with the demo farm through the HTTP interface, serves it, and prints a sign-in line per role.
func (s settings) demo(ctx context.Context) error {
	return s.serve(ctx, func(ctx context.Context, address string, db *storage.DB) error {
		farm := &domain.Farm{Name: "Fernglade Hollow", Address: "12 Millrace Lane, Ashby Fork", TimeZone: "America/New_York"}
		for _, set := range []string{"us-organic", "us-produce-safety"} {
			standard, err := adopted(set)
			if err != nil {
				return err
			}
			farm.Standards = append(farm.Standards, standard)
		}
		opened, err := db.OpenFarm(ctx, farm, &domain.Person{Name: "Maren Oakley", Initials: "MO"})
		if err != nil {
			return err
		}
		fmt.Fprintln(s.out, "owner   Maren Oakley    ", opened.Token)
		p := player{address: address, token: opened.Token, saved: map[string]string{"owner": opened.PersonID.String()}}
		p.today = domain.DateIn(time.Now(), mustZone(farm.TimeZone))
		if err := p.play(ctx, demoScript); err != nil {
			return fmt.Errorf("demo farm: %w", err)
		}
		actor := storage.Actor{FarmID: opened.FarmID, PersonID: opened.PersonID, Role: domain.Owner}
		for _, person := range []struct{ role, save string }{{"lead", "lead"}, {"crew", "crew"}, {"reader", "reader"}} {
			token, err := db.NewToken(ctx, actor, uuid.MustParse(p.saved[person.save]), "demo", time.Time{})
			if err != nil {
				return err
			}
			fmt.Fprintf(s.out, "%-7s %-16s %s\n", person.role, p.names[person.save], token)
		}
		fmt.Fprintf(s.out, "demo farm ready: %d records written through %s\n", p.count, address)
		return nil
	})
}

func mustZone(name string) *time.Location {
	zone, err := domain.Zone(name)
	if err != nil {
		panic(err) // a constant of this file
	}
	return zone
}

// player sends a script of requests.
type player struct {
	address, token string
	today          domain.Date
	saved          map[string]string
	names          map[string]string
	count          int
}

func (p *player) play(ctx context.Context, script []byte) error {
	p.names = map[string]string{}
	for i, line := range bytes.Split(bytes.TrimSpace(script), []byte("\n")) {
		if len(bytes.TrimSpace(line)) == 0 {
			continue
		}
		var step demoStep
		if err := json.Unmarshal(line, &step); err != nil {
			return fmt.Errorf("line %d: %w", i+1, err)
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
	request, err := http.NewRequestWithContext(ctx, http.MethodPost, p.address+path, strings.NewReader(body))
	if err != nil {
		return err
	}
	request.Header.Set("Authorization", "Bearer "+p.token)
	request.Header.Set("Content-Type", "application/json")
	response, err := http.DefaultClient.Do(request)
	if err != nil {
		return err
	}
	defer response.Body.Close()
	answer, err := io.ReadAll(response.Body)
	if err != nil {
		return err
	}
	want := step.Expect
	if want == 0 {
		want = http.StatusCreated
	}
	if response.StatusCode != want {
		return fmt.Errorf("answered %d, not %d: %s", response.StatusCode, want, answer)
	}
	p.count++
	return p.save(step.Save, answer)
}

// save keeps the id of what was made, and for a layout the ids of its beds as NAME.0, NAME.1 …
func (p *player) save(name string, answer []byte) error {
	if name == "" {
		return nil
	}
	var made struct {
		ID   string `json:"id"`
		Name string `json:"name"`
		Lay  []struct {
			ID string `json:"id"`
		} `json:"lay"`
	}
	if err := json.Unmarshal(answer, &made); err != nil {
		return err
	}
	p.saved[name], p.names[name] = made.ID, made.Name
	for i, bed := range made.Lay {
		p.saved[name+"."+strconv.Itoa(i)] = bed.ID
	}
	return nil
}

// placeholder is {{today}}, {{today-120}}, {{today+7}} or {{NAME}}.
var placeholder = regexp.MustCompile(`\{\{([a-z0-9.-]+?)([+-]\d+)?\}\}`)

func (p *player) fill(text string) (string, error) {
	var unknown error
	out := placeholder.ReplaceAllStringFunc(text, func(match string) string {
		parts := placeholder.FindStringSubmatch(match)
		if parts[1] == "today" {
			days, _ := strconv.Atoi(parts[2]) // empty is no days
			return p.today.AddDays(days).String()
		}
		id, ok := p.saved[parts[1]]
		if !ok {
			unknown = errors.Join(unknown, fmt.Errorf("nothing is saved as %q", parts[1]))
		}
		return id
	})
	return out, unknown
}
