package main

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"croftmark/domain"
	"croftmark/storage"
	"croftmark/storage/cluster"
)

// screen is what a run of the program has printed so far.
type screen struct {
	mu   sync.Mutex
	text bytes.Buffer
}

func (s *screen) Write(p []byte) (int, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.text.Write(p)
}

func (s *screen) String() string {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.text.String()
}

// dataFolder gives a folder that the database's account can reach, also when the tests run as root.
func dataFolder(t *testing.T) string {
	t.Helper()
	t.Setenv("CROFTMARK_DATABASE_URL", "")
	t.Setenv("CROFTMARK_PUBLIC_URL", "")
	folder, err := os.MkdirTemp(cluster.FastDir(), "croftmark-run-")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(folder) })
	if err := os.Chmod(folder, 0o755); err != nil {
		t.Fatal(err)
	}
	return filepath.Join(folder, "data")
}

// command runs a command to its end and gives what it printed. One that begins to serve instead is stopped, and has then
// ended without an error.
func command(t *testing.T, args ...string) (string, error) {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), 40*time.Second)
	defer cancel()
	var out, log screen
	err := run(ctx, args, &out, &log)
	return out.String(), err
}

// process is a command that runs until it is told to stop.
type process struct {
	t      *testing.T
	out    screen
	log    screen
	cancel context.CancelFunc
	done   chan error
}

// start runs a service. It is stopped at the end of the test, if the test did not.
func start(t *testing.T, args ...string) *process {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	p := &process{t: t, cancel: cancel, done: make(chan error, 1)}
	go func() { p.done <- run(ctx, args, &p.out, &p.log) }()
	t.Cleanup(func() { p.stop() })
	return p
}

// await gives the first match in what was printed.
func (p *process) await(pattern string, most time.Duration) []string {
	p.t.Helper()
	want := regexp.MustCompile(pattern)
	for end := time.Now().Add(most); ; time.Sleep(10 * time.Millisecond) {
		if m := want.FindStringSubmatch(p.out.String()); m != nil {
			return m
		}
		select {
		case err := <-p.done:
			p.done <- err
			p.t.Fatalf("ended before it printed %s: %v\n%s\n%s", pattern, err, p.out.String(), p.log.String())
		default:
		}
		if time.Now().After(end) {
			p.t.Fatalf("%s was not printed within %s:\n%s", pattern, most, p.out.String())
		}
	}
}

func (p *process) address() string {
	p.t.Helper()
	return p.await(`^listening on (http://127\.0\.0\.1:\d+)\n`, 30*time.Second)[1]
}

// stop tells the service to stop and gives what it ended with.
func (p *process) stop() error {
	p.t.Helper()
	p.cancel()
	select {
	case err := <-p.done:
		p.done <- err
		return err
	case <-time.After(30 * time.Second):
		p.t.Fatal("the service did not stop")
		return nil
	}
}

// caller speaks to a running service as a person.
type caller struct {
	t              *testing.T
	address, token string
}

func (c caller) send(method, path string, body any, want int) []byte {
	c.t.Helper()
	raw, err := json.Marshal(body)
	if err != nil {
		c.t.Fatal(err)
	}
	content := io.Reader(http.NoBody)
	if body != nil {
		content = bytes.NewReader(raw)
	}
	request, err := http.NewRequestWithContext(c.t.Context(), method, c.address+path, content)
	if err != nil {
		c.t.Fatal(err)
	}
	request.Header.Set("Authorization", "Bearer "+c.token)
	response, err := http.DefaultClient.Do(request)
	if err != nil {
		c.t.Fatal(err)
	}
	defer response.Body.Close()
	answer, err := io.ReadAll(response.Body)
	if err != nil {
		c.t.Fatal(err)
	}
	if response.StatusCode != want {
		c.t.Fatalf("%s %s: %d, want %d: %s", method, path, response.StatusCode, want, answer)
	}
	return answer
}

func (c caller) get(path string, into any) {
	c.t.Helper()
	if err := json.Unmarshal(c.send(http.MethodGet, path, nil, http.StatusOK), into); err != nil {
		c.t.Fatal(err)
	}
}

func (c caller) post(path string, body any) (made struct{ ID, Code string }) {
	c.t.Helper()
	if err := json.Unmarshal(c.send(http.MethodPost, path, body, http.StatusCreated), &made); err != nil {
		c.t.Fatal(err)
	}
	return made
}

type fields = map[string]any

// From the first command to the last, on a folder of its own: open a farm, serve it, look beside it, stop.
func TestRun(t *testing.T) {
	data := dataFolder(t)
	line, err := command(t, "init", "--data", data, "--farm", "Fern Bank", "--time-zone", "America/New_York", "--owner", "Ola Owner",
		"--standard", "us-organic", "--standard", "us-produce-safety=2020-01-01")
	if err != nil {
		t.Fatal(err)
	}
	var opened storage.Opened
	if err := json.Unmarshal([]byte(line), &opened); err != nil || strings.Count(line, "\n") != 1 || !strings.HasPrefix(opened.Token, "cm_") {
		t.Fatalf("init printed %q (%v)", line, err)
	}

	p := start(t, "serve", "--data", data, "--listen", "127.0.0.1:0")
	c := caller{t, p.address(), opened.Token}
	var farm domain.Farm
	c.get("/v1/farm", &farm)
	if farm.ID != opened.FarmID || farm.Name != "Fern Bank" || len(farm.Standards) != 2 || farm.Standards[1].From.String() != "2020-01-01" {
		t.Errorf("farm: %+v", farm)
	}
	plot := c.post("/v1/plots", fields{"name": "Lower", "history": "known"}).ID
	bed := c.post("/v1/beds", fields{"name": "Lower 3", "plot_id": plot, "from": "2024-03-01"}).ID
	crop := c.post("/v1/crops", fields{"name": "radish", "soil_contact": "touches"}).ID
	planting := c.post("/v1/plantings", fields{"crop_id": crop, "bed_ids": []string{bed}, "planted_on": "2026-05-01"}).ID
	lot := c.post("/v1/harvest-lots", fields{"planting_id": planting, "bed_ids": []string{bed}, "cut_on": "2026-06-01",
		"quantity": fields{"value": "40", "unit": "lb"}})

	// A second copy on the same folder would be two writers of one book.
	_, err = command(t, "serve", "--data", data, "--listen", "127.0.0.1:0")
	if err == nil || !strings.Contains(err.Error(), "Another Croftmark") || !strings.Contains(err.Error(), data) {
		t.Errorf("a second serve on the folder: %v", err)
	}
	// Looking does not need the service to stop.
	out, err := command(t, "verify", "--data", data)
	if err != nil || !strings.Contains(out, "farm "+opened.FarmID.String()+": 7 entries hold, root ") {
		t.Errorf("verify beside the service: %q (%v)", out, err)
	}
	for _, code := range []string{lot.Code, strings.ToLower(strings.ReplaceAll(lot.Code, "-", ""))} {
		out, err = command(t, "trace", code, "--data", data)
		if err != nil || !strings.HasPrefix(out, "Fern Bank\n\nWhere it came from:\nharvest lot "+lot.Code+" radish (cut ") || !strings.Contains(out, "bed Lower 3") || !strings.Contains(out, "plot Lower") || !strings.Contains(out, "\nWhere the lot went:\n") {
			t.Errorf("trace %s: %q (%v)", code, out, err)
		}
	}
	if _, err := command(t, "trace", "26219-L3-RAD-1-SS", "--data", data); err == nil || !strings.Contains(err.Error(), "There is no lot") {
		t.Errorf("trace of a lot that is not there: %v", err)
	}
	if _, err := command(t, "trace", "26219-L3-RAD-1-ST", "--data", data); err == nil || !strings.Contains(err.Error(), "check characters") {
		t.Errorf("trace of a mistyped code: %v", err)
	}

	if err := p.stop(); err != nil {
		t.Errorf("stopped with %v", err)
	}
	if _, err := http.Get(c.address + "/healthz"); err == nil {
		t.Error("it still answers after it stopped")
	}
	if strings.Contains(p.log.String(), opened.Token) {
		t.Error("the log holds the token")
	}
	out, err = command(t, "rebuild", "--data", data)
	if err != nil || !strings.Contains(out, "tables rebuilt from 7 entries") {
		t.Errorf("rebuild: %q (%v)", out, err)
	}

	// What was answered is there after a restart.
	p = start(t, "serve", "--data", data, "--listen", "127.0.0.1:0")
	var again struct {
		Code string `json:"code"`
	}
	caller{t, p.address(), opened.Token}.get("/v1/harvest-lots/"+lot.ID, &again)
	if again.Code != lot.Code {
		t.Errorf("after a restart the lot is %q", again.Code)
	}
}

func TestRunRefuses(t *testing.T) {
	data := dataFolder(t)
	for name, row := range map[string]struct {
		args []string
		says string
	}{
		"no command":           {nil, "say what to do"},
		"unknown command":      {[]string{"sow"}, `no command "sow"`},
		"unknown flag":         {[]string{"serve", "--dta", data}, "dta"},
		"one word too many":    {[]string{"serve", "here", "--data", data}, "one word too many"},
		"unknown rule set":     {[]string{"init", "--data", data, "--farm", "F", "--time-zone", "America/New_York", "--owner", "O", "--standard", "moon"}, "us-organic"},
		"unknown zone":         {[]string{"init", "--data", data, "--farm", "F", "--time-zone", "Eastern", "--owner", "O"}, "America/New_York"},
		"farm without a name":  {[]string{"init", "--data", data, "--time-zone", "America/New_York", "--owner", "O"}, "Give a name"},
		"owner without a name": {[]string{"init", "--data", data, "--farm", "F", "--time-zone", "America/New_York"}, "Give a name"},
		"proxy that is no net": {[]string{"serve", "--data", data, "--trusted-proxy", "proxy.example"}, "trusted-proxy"},
		"port that is no port": {[]string{"serve", "--data", data, "--listen", "127.0.0.1:no"}, "can't listen on 127.0.0.1:no"},
		"code that is none":    {[]string{"trace", "nonsense", "--data", data}, "check characters"},
	} {
		t.Run(name, func(t *testing.T) {
			out, err := command(t, row.args...)
			if err == nil || !strings.Contains(err.Error(), row.says) {
				t.Errorf("%v: %v, want it to say %q", row.args, err, row.says)
			}
			if strings.Contains(out, "token") || strings.Contains(out, "listening") {
				t.Errorf("%v printed %q", row.args, out)
			}
		})
	}
	out, err := command(t, "help")
	if err != nil || !strings.Contains(out, "croftmark serve") {
		t.Errorf("help: %q (%v)", out, err)
	}
}

// farmToday is the answer of /v1/today, as far as these tests look.
type farmToday struct {
	Clear, Waiting, Asks, Stops []struct{ Bed, Crop, Verdict string }
	Opens                       []struct{ Bed, Crop, Verdict string } `json:"opens_this_week"`
}

// A person who runs the demo sees every kind of answer at once, and a book that looks as if it had been kept for two
// seasons.
func TestDemoFarm(t *testing.T) {
	data := dataFolder(t)
	p := start(t, "demo", "--data", data, "--listen", "127.0.0.1:0")
	address := p.address()
	p.await(`demo farm ready: \d+ requests sent`, 30*time.Second)
	tokens := map[string]string{}
	for _, role := range []string{"owner", "lead", "crew", "reader"} {
		tokens[role] = p.await(`(?m)^`+role+` +\S.* (cm_[0-9A-Z]{32})$`, time.Second)[1]
	}
	owner := caller{t, address, tokens["owner"]}

	var now farmToday
	caller{t, address, tokens["reader"]}.get("/v1/today", &now)
	if len(now.Clear) == 0 || len(now.Opens) == 0 || len(now.Waiting) == 0 || len(now.Asks) == 0 || len(now.Stops) == 0 {
		t.Errorf("clear %d, opens this week %d, waiting %d, asks %d, stops %d", len(now.Clear), len(now.Opens), len(now.Waiting), len(now.Asks), len(now.Stops))
	}
	// One bed, two crops: trellised tomato is past its 90 days, the carrots under it are not past their 120.
	shared := map[string]string{}
	for _, c := range append(now.Clear, now.Waiting...) {
		if c.Bed == "Tunnel North 2" {
			shared[c.Crop] = c.Verdict
		}
	}
	if shared["Tomato, trellised"] != "caution" || shared["Carrot"] != "wait" {
		t.Errorf("the interplanted bed: %v", shared)
	}

	var lots []struct {
		Code, DoneOn string
		Then         struct{ Verdict string } `json:"verdict_then"`
		Now          string                   `json:"verdict_now"`
		Held         bool
		AlreadyCut   bool `json:"already_cut"`
	}
	owner.get("/v1/harvest-lots?limit=200", &lots)
	rejudged, alreadyCut := 0, 0
	for _, l := range lots {
		if l.Then.Verdict == "clear" && l.Now == "wait" && l.Held {
			rejudged++
		}
		if l.AlreadyCut && l.Held {
			alreadyCut++
			var where struct {
				OnHand struct{ Value string } `json:"on_hand"`
			}
			if owner.get("/v1/lots/"+l.Code, &where); where.OnHand.Value != "6" {
				t.Errorf("of the lot cut too early %s are on hand", where.OnHand.Value)
			}
		}
	}
	if len(lots) < 25 || rejudged != 1 || alreadyCut != 1 {
		t.Errorf("%d lots, %d judged anew by a late record, %d entered as already cut", len(lots), rejudged, alreadyCut)
	}
	var refusals []fields
	if owner.get("/v1/harvest-refusals", &refusals); len(refusals) != 1 {
		t.Errorf("%d refused attempts", len(refusals))
	}
	kinds, late := map[string]int{}, 0
	var entries []domain.Entry
	owner.get("/v1/book/entries?limit=500", &entries)
	for i, e := range entries {
		kinds[e.EntryKind]++
		if e.Reason != "" && e.EntryKind == "application" {
			late++
		}
		if i > 0 && e.EnteredAt.Before(entries[i-1].EnteredAt) {
			t.Errorf("%s was entered before the one before it", e.EntryTitle())
		}
	}
	for kind, least := range map[string]int{"plot": 3, "bed": 16, "bed-layout": 1, "bed-production": 1, "input": 8, "input-lot": 12, "application": 12,
		"grazing": 2, "crop": 12, "planting": 20, "hold": 2, "hold-release": 1, "disposal": 1, "lot-judgement": 1, "correction": 3, "review": 2, "void": 1,
		"label-print": 2, "person": 6} {
		if kinds[kind] < least {
			t.Errorf("%d entries of %s, want %d at least", kinds[kind], kind, least)
		}
	}
	first, last := entries[0].EnteredAt, entries[len(entries)-1].EnteredAt
	if span := last.Sub(first); late != 1 || span < 690*24*time.Hour || time.Since(last) > time.Hour {
		t.Errorf("%d late records with a reason; the book spans %s and ends %s", late, span, last)
	}

	// Each sign-in line is worth what it says.
	lead, crew, reader := caller{t, address, tokens["lead"]}, caller{t, address, tokens["crew"]}, caller{t, address, tokens["reader"]}
	plot := fields{"name": "New Ground"}
	crew.send(http.MethodPost, "/v1/plots", plot, http.StatusForbidden)
	reader.send(http.MethodPost, "/v1/plots", plot, http.StatusForbidden)
	lead.send(http.MethodPost, "/v1/people", fields{"name": "X", "initials": "X", "role": "crew"}, http.StatusForbidden)
	lead.send(http.MethodPost, "/v1/plots", plot, http.StatusCreated)

	out, err := command(t, "verify", "--data", data)
	if err != nil || !strings.Contains(out, " entries hold") {
		t.Errorf("verify: %q (%v)", out, err)
	}
	if err := p.stop(); err != nil {
		t.Errorf("stopped with %v", err)
	}

	// Again on the same folder: the same farm with new tokens, not a second one, and not filled twice.
	p = start(t, "demo", "--data", data, "--listen", "127.0.0.1:0")
	address = p.address()
	p.await(`demo farm ready: it was here already`, 30*time.Second)
	fresh := p.await(`(?m)^owner +Maren Oakley +(cm_[0-9A-Z]{32})$`, time.Second)[1]
	if fresh == tokens["owner"] {
		t.Error("the same token was printed again")
	}
	var size struct{ Size int }
	for _, token := range []string{fresh, tokens["owner"]} {
		caller{t, address, token}.get("/v1/book/checkpoint", &size)
		if size.Size != len(entries)+1 { // the lead's new plot
			t.Errorf("%d entries after the second start, want %d", size.Size, len(entries)+1)
		}
	}
}

// A folder with somebody's own book is left alone.
func TestDemoLeavesOtherBooksAlone(t *testing.T) {
	data := dataFolder(t)
	if _, err := command(t, "init", "--data", data, "--farm", "Fern Bank", "--time-zone", "America/New_York", "--owner", "Ola Owner"); err != nil {
		t.Fatal(err)
	}
	out, err := command(t, "demo", "--data", data, "--listen", "127.0.0.1:0")
	if err == nil || !strings.Contains(err.Error(), "already holds the book of another farm") {
		t.Errorf("demo on a folder with a book: %v", err)
	}
	if strings.Contains(out, "cm_") {
		t.Errorf("it printed a token: %s", out)
	}
	if out, err = command(t, "verify", "--data", data); err != nil || strings.Count(out, "\n") != 1 || !strings.Contains(out, ": 2 entries hold") {
		t.Errorf("verify: %q (%v)", out, err)
	}
}

func TestDemoScriptIsReadStrictly(t *testing.T) {
	for name, script := range map[string]string{
		"goes back in time": "{\"on\": -3, \"post\": \"/v1/plots\", \"body\": {}}\n{\"on\": -4, \"post\": \"/v1/plots\", \"body\": {}}",
		"unknown word":      `{"on": -3, "psot": "/v1/plots", "body": {}}`,
		"not JSON":          `{"on": -3`,
	} {
		if _, err := readScript([]byte(script)); err == nil {
			t.Errorf("%s: read without a word", name)
		}
	}
	p := player{saved: map[string]string{"bed.a": "B"}, today: domain.NewDate(2026, 3, 1)}
	got, err := p.fill(`{{today}} {{today-1}} {{today+30}} {{bed.a}}`)
	if err != nil || got != "2026-03-01 2026-02-28 2026-03-31 B" {
		t.Errorf("filled: %q (%v)", got, err)
	}
	if _, err := p.fill(`{{bed.b}}`); err == nil {
		t.Error("an unknown name was filled")
	}
}
