package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"time"

	"croftmark/bench/rig"
)

// failovers is how often the primary is lost: killed, killed again after the servers changed places, and hung.
var failovers = []string{"killed", "killed", "hung"}

// noticed is how long somebody or something needs to see that the primary is gone and to promote the standby. It is a
// choice of this program; the time that the service needs by itself is counted from the promotion.
const noticed = 2 * time.Second

// standbys loses a primary while farms write, promotes its synchronous standby, and makes the old primary the new
// standby. One service goes on all the while, with an address that names both servers.
func (f *faults) standbys(ctx context.Context) error {
	primary, err := rig.NewPrimary(ctx, f.data("one"))
	if err != nil {
		return err
	}
	defer primary.Kill()
	standby, err := rig.NewStandby(ctx, primary, f.data("two"))
	if err != nil {
		return err
	}
	defer standby.Kill()
	if err := primary.WaitForStandby(ctx); err != nil {
		return err
	}
	url := rig.URLOf(primary, standby)
	service, err := f.program.ServeOn(ctx, url, f.data("standby.log"))
	if err != nil {
		return err
	}
	defer service.Stop()
	farms, err := openFarms(ctx, url, service.Address, 3)
	if err != nil {
		return err
	}
	w := &writers{farms: farms, address: func() string { return service.Address }}
	for round, how := range failovers {
		told, err := f.failover(ctx, w, primary, standby, service, how, uint64(round))
		f.say("standby", told, err)
		if err != nil {
			return nil
		}
		primary, standby = standby, primary // the old one is down
		if round == 0 {
			f.unfenced(ctx, standby, farms[0])
		}
		if err := f.giveBack(ctx, primary, standby); err != nil {
			return err
		}
	}
	f.onStandby(ctx, standby, farms[0])
	return nil
}

// failover loses the primary, promotes the standby, and reads what it holds. The old primary is dead when it returns.
func (f *faults) failover(ctx context.Context, w *writers, primary, standby *rig.Postgres, service *rig.Service, how string, round uint64) (string, error) {
	writing, stop := context.WithCancel(ctx)
	defer stop()
	done := make(chan struct{})
	go func() { defer close(done); w.write(writing, 6, f.seed+round) }()
	time.Sleep(3 * time.Second)
	lost := time.Now()
	if how == "killed" {
		primary.Kill()
	} else if err := primary.Freeze(); err != nil {
		return "", err
	}
	time.Sleep(noticed / 2)
	said, err := ready(ctx, service)
	if err == nil && said.Status != http.StatusServiceUnavailable {
		err = fmt.Errorf("without a primary the service calls itself ready: %d %s", said.Status, said.Body)
	}
	if how != "killed" {
		primary.KillFrozen() // the fence: nobody who still waits for an answer of it gets one
	}
	time.Sleep(time.Until(lost.Add(noticed)))
	promoted := time.Now()
	if err := standby.Promote(ctx); err != nil {
		return "", err
	}
	time.Sleep(8 * time.Second)
	stop()
	<-done
	alone, silenceErr := w.silence(promoted)
	again, readyErr := ready(ctx, service)
	if readyErr == nil && again.Status != http.StatusOK {
		readyErr = fmt.Errorf("after the promotion the service is not ready: %d %s", again.Status, again.Body)
	}
	acked, repeated := w.count()
	told := fmt.Sprintf("primary %s under load, synchronous standby promoted after %s: written again %s after the promotion, without a new start; %d records acknowledged, %d of them at a repeated try, each once in the book",
		how, noticed, alone.Round(time.Millisecond), acked, repeated)
	return told, errors.Join(err, silenceErr, readyErr, f.whole(ctx, rig.URLOf(standby), w))
}

func ready(ctx context.Context, service *rig.Service) (rig.Answer, error) {
	client := rig.Client{Address: service.Address, HTTP: &http.Client{Timeout: 10 * time.Second}}
	return client.Send(ctx, http.MethodGet, "/readyz", nil)
}

// unfenced starts the old primary as it was, as a machine that comes back by itself. A service that knows only it must not
// have anything acknowledged: the old primary still waits for its standby.
func (f *faults) unfenced(ctx context.Context, old *rig.Postgres, farm *rig.Farm) {
	acknowledged, warned, err := f.writeToOld(ctx, old, farm)
	if err == nil && (acknowledged == http.StatusCreated || !warned) {
		err = fmt.Errorf("a write was answered %d; /readyz warned: %t", acknowledged, warned)
	}
	f.say("standby", fmt.Sprintf("old primary started again as it was: it acknowledges nothing (%d after waiting), and /readyz says why", acknowledged), err)
}

func (f *faults) writeToOld(ctx context.Context, old *rig.Postgres, farm *rig.Farm) (status int, warned bool, err error) {
	if err := old.Start(ctx); err != nil {
		return 0, false, err
	}
	defer old.Stop()
	service, err := f.program.ServeOn(ctx, rig.URLOf(old), f.data("old.log"))
	if err != nil {
		return 0, false, err
	}
	defer service.Kill()
	said, err := ready(ctx, service)
	if err != nil {
		return 0, false, err
	}
	client := farm.Client
	client.Address, client.HTTP = service.Address, &http.Client{Timeout: time.Minute}
	a, err := client.Send(ctx, http.MethodPost, "/v1/applications", farm.Application(1, 1))
	return a.Status, strings.Contains(string(said.Body), "standby"), err
}

// giveBack makes the old primary the standby of the new one, and has the new one wait for it.
func (f *faults) giveBack(ctx context.Context, primary, old *rig.Postgres) error {
	if err := old.Rewind(ctx, primary); err != nil {
		return err
	}
	if err := old.Start(ctx); err != nil {
		return err
	}
	return primary.WaitForStandby(ctx)
}

// onStandby runs a service that knows the standby alone: it answers questions, and tells writers to come again.
func (f *faults) onStandby(ctx context.Context, standby *rig.Postgres, farm *rig.Farm) {
	statuses, err := f.askStandby(ctx, standby, farm)
	f.say("standby", fmt.Sprintf("a service that knows only the standby: statuses %v; no 500", statuses), err)
}

func (f *faults) askStandby(ctx context.Context, standby *rig.Postgres, farm *rig.Farm) (map[int]int, error) {
	service, err := f.program.ServeOn(ctx, rig.URLOf(standby), f.data("readonly.log"))
	if err != nil {
		return nil, err
	}
	defer service.Kill()
	client := farm.Client
	client.Address = service.Address
	var doc document
	if err := client.Must(ctx, http.MethodGet, "/v1/openapi.json", nil, &doc); err != nil {
		return nil, err
	}
	statuses := map[int]int{}
	var wrong []error
	for _, path := range sortedKeys(doc.Paths) {
		if _, reads := doc.Paths[path]["get"]; !reads || strings.Contains(path, "{") {
			continue
		}
		a, err := client.Send(ctx, http.MethodGet, path, nil)
		if err != nil {
			return statuses, err
		}
		if statuses[a.Status]++; a.Status >= 500 && a.Status != http.StatusServiceUnavailable {
			wrong = append(wrong, fmt.Errorf("GET %s answered %d: %.300s", path, a.Status, a.Body))
		}
	}
	for path, body := range map[string]any{"/v1/applications": farm.Application(1, 1), "/v1/harvest-lots": farm.Harvest(1), "/v1/sessions": rig.Record{"label": "phone"},
		"/v1/tokens": rig.Record{"person_id": farm.Owner, "label": "phone"}, "/v1/calendar-address": rig.Record{}} {
		a, err := client.Send(ctx, http.MethodPost, path, body)
		if err != nil {
			return statuses, err
		}
		if statuses[a.Status]++; a.Status != http.StatusServiceUnavailable || a.Header.Get("Retry-After") == "" {
			wrong = append(wrong, fmt.Errorf("POST %s on a standby answered %d, Retry-After %q: %.300s", path, a.Status, a.Header.Get("Retry-After"), a.Body))
		}
	}
	said, err := ready(ctx, service)
	var problem struct{ Detail string }
	if err == nil && (said.Status != http.StatusServiceUnavailable || json.Unmarshal(said.Body, &problem) != nil || !strings.Contains(problem.Detail, "read-only")) {
		err = fmt.Errorf("/readyz on a standby: %d %s", said.Status, said.Body)
	}
	return statuses, errors.Join(slices.Concat(wrong, []error{err})...)
}
