package api_test

import (
	"bytes"
	"context"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"croftmark/api"
	"croftmark/domain"
	"croftmark/post"
)

// withPost gives the service a post that reaches receivers on this machine, and no mail server.
func (s *service) withPost() {
	s.t.Helper()
	letters, err := post.New(post.Config{WebhookPrivate: true})
	if err != nil {
		s.t.Fatal(err)
	}
	s.api = api.New(s.db, api.Config{PublicURL: publicURL, Log: slog.New(slog.NewJSONHandler(s.log, nil)), Letters: letters})
}

// received is one request that came to a webhook.
type received struct {
	header http.Header
	body   []byte
}

func receiver(t *testing.T, status *int) (url string, got chan received) {
	got = make(chan received, 10)
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		body, _ := io.ReadAll(r.Body)
		got <- received{r.Header, body}
		w.WriteHeader(*status)
	}))
	t.Cleanup(server.Close)
	return server.URL, got
}

func TestDailyMessages(t *testing.T) {
	t.Parallel()
	f := newFarm(t, "us-organic", "us-produce-safety")
	f.withPost()
	other := f.farm("Other farm")
	status := http.StatusNoContent
	url, got := receiver(t, &status)
	hook := fields{"way": "webhook", "to": url + "/secret-path", "hour": 6}

	mail := f.post(domain.Crew, "/v1/daily-messages", fields{"way": "email", "to": "ola@example.farm", "hour": 6}).problem(http.StatusUnprocessableEntity, domain.CodeInvalid)
	if len(mail.Errors) != 1 || mail.Errors[0].Pointer != "#/way" || !strings.Contains(mail.Detail, "--smtp") || !strings.Contains(mail.Detail, "--mail-from") {
		t.Errorf("mail without a mail server: %+v", mail)
	}
	for pointer, body := range map[string]fields{"#/hour": with(hook, "hour", 24), "#/way": with(hook, "way", "pigeon"), "#/to": with(hook, "to", "gopher://x"), "#/language": with(hook, "language", "fr")} {
		if p := f.post(domain.Crew, "/v1/daily-messages", body).problem(http.StatusUnprocessableEntity, domain.CodeInvalid); len(p.Errors) == 0 || p.Errors[0].Pointer != pointer {
			t.Errorf("%s: %+v", pointer, p)
		}
	}
	var made *answer
	f.unchanged(func() {
		made = f.post(domain.Crew, "/v1/daily-messages", with(hook, "language", "es")).is(http.StatusCreated)
	})
	id, secret := made.id(), made.text("secret")
	path := "/v1/daily-messages/" + id

	if a := f.post(domain.Crew, path+"/test", fields{}).is(http.StatusCreated).fields(); a["sent"] != true {
		t.Errorf("test: %v", a)
	}
	r := <-got
	if r.header.Get(post.HeaderSignature) != post.Sign(secret, r.header.Get(post.HeaderTimestamp), r.body) || !bytes.Contains(r.body, []byte(`"test":true`)) ||
		!bytes.Contains(r.body, []byte(`"asked_by":"Carl Crew"`)) || !bytes.Contains(r.body, []byte(`"citation":"21 CFR`)) {
		t.Errorf("%v\n%s", r.header, r.body)
	}
	wait := f.post(domain.Crew, path+"/test", fields{})
	wait.problem(http.StatusTooManyRequests, domain.CodeTooMany)
	if wait.Header.Get("Retry-After") == "" {
		t.Error("not said how long to wait")
	}
	status = http.StatusBadGateway
	f.clock.Set(f.clock.Now().Add(2 * time.Minute))
	if a := f.post(domain.Crew, path+"/test", fields{}).is(http.StatusCreated).fields(); a["sent"] != false || a["error"] != "the webhook answered 502" {
		t.Errorf("a test that fails: %v", a)
	}

	// Who sees it: its person, and the owner without the secret part of the address.
	for role, want := range map[domain.Role]string{domain.Crew: url + "/secret-path", domain.Owner: url + "/…", domain.Lead: "", domain.Reader: ""} {
		list := f.get(role, "/v1/daily-messages").is(http.StatusOK).list()
		to := ""
		if len(list) > 0 {
			to, _ = list[0]["to"].(string)
		}
		if to != want || len(list) > 1 {
			t.Errorf("%s sees %v", role, list)
		}
	}
	// Ids of others and of another farm are not there.
	for _, a := range []*answer{other.post(domain.Owner, path+"/test", fields{}), other.post(domain.Owner, path+"/end", fields{}),
		f.post(domain.Lead, path+"/test", fields{}), f.post(domain.Lead, path+"/end", fields{}), f.post(domain.Owner, path+"/test", fields{})} {
		a.problem(http.StatusNotFound, domain.CodeNotFound)
	}
	if list := other.get(domain.Owner, "/v1/daily-messages").is(http.StatusOK).list(); len(list) != 0 {
		t.Errorf("another farm sees %v", list)
	}
	answers := string(f.get(domain.Crew, "/v1/daily-messages").is(http.StatusOK).Body)
	var file bytes.Buffer
	if err := f.db.Export(context.Background(), mustID(t, f.ID), &file, nil); err != nil {
		t.Fatal(err)
	}
	for what, text := range map[string]string{"log": f.log.String(), "export": unzipped(t, file.Bytes()), "list": answers} {
		if strings.Contains(text, secret) || what != "list" && strings.Contains(text, "secret-path") || len(text) < 100 {
			t.Errorf("the %s holds a secret, or is empty:\n%s", what, text)
		}
	}
	f.post(domain.Owner, path+"/end", fields{}).is(http.StatusCreated)
	f.post(domain.Crew, path+"/end", fields{}).problem(http.StatusNotFound, domain.CodeNotFound)
}

// A service without any post says so.
func TestNoDailyMessagesWithoutPost(t *testing.T) {
	t.Parallel()
	f := newFarm(t)
	f.post(domain.Crew, "/v1/daily-messages", fields{"way": "webhook", "to": "https://hooks.example.farm/", "hour": 6}).problem(http.StatusConflict, domain.CodeRuleRefused)
}
