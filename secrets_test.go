package main

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/json"
	"io"
	"io/fs"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	postgres "github.com/jackc/pgx/v5"

	"croftmark/storage/cluster"
)

// try sends a request that may be refused, and gives what came back with its cookies.
func (c caller) try(method, path, body string, header ...string) *http.Response {
	c.t.Helper()
	request, err := http.NewRequestWithContext(c.t.Context(), method, c.address+path, strings.NewReader(body))
	if err != nil {
		c.t.Fatal(err)
	}
	request.Header.Set("Content-Type", "application/json")
	for i := 0; i < len(header); i += 2 {
		request.Header.Set(header[i], header[i+1])
	}
	response, err := http.DefaultClient.Do(request)
	if err != nil {
		c.t.Fatal(err)
	}
	response.Body.Close()
	return response
}

// unpacked gives all that a zip holds, with the names of its files.
func unpacked(t *testing.T, path string) string {
	t.Helper()
	z, err := zip.OpenReader(path)
	if err != nil {
		t.Fatal(err)
	}
	defer z.Close()
	var all bytes.Buffer
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		all.WriteString(f.Name + "\n")
		if _, err := io.Copy(&all, r); err != nil {
			t.Fatal(err)
		}
	}
	return all.String()
}

// signingKeys reads the private halves of the keys that sign checkpoints.
func signingKeys(t *testing.T, data string) []string {
	t.Helper()
	ctx := context.Background()
	server, err := cluster.Start(ctx, cluster.Options{DataDir: data})
	if err != nil {
		t.Fatal(err)
	}
	defer server.Stop(ctx)
	conn, err := postgres.Connect(ctx, server.OwnerURL("croftmark"))
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close(ctx)
	rows, err := conn.Query(ctx, `select signer from signing_keys`)
	if err != nil {
		t.Fatal(err)
	}
	list, err := postgres.CollectRows(rows, postgres.RowTo[string])
	if err != nil || len(list) == 0 {
		t.Fatalf("%d signing keys (%v)", len(list), err)
	}
	return list
}

// A service at work is shown every kind of secret, rightly and wrongly, also where it does not belong. None of them is in
// what it logs (it has one level and says all it ever says), in what its database logs, in an export or in a backup.
func TestSecretsStayOutOfLogsAndExports(t *testing.T) {
	data := dataFolder(t)
	p := start(t, "demo", "--data", data, "--listen", "127.0.0.1:0")
	c := caller{t, p.address(), ""}
	p.await(`demo farm ready: \d+ requests sent`, 2*time.Minute)
	secrets := map[string]string{}
	for _, role := range []string{"owner", "lead", "crew", "reader"} {
		secrets["token of the "+role] = p.await(`(?m)^`+role+` +\S.* (cm_[0-9A-Z]{32})$`, time.Second)[1]
	}
	owner, lead := caller{t, c.address, secrets["token of the owner"]}, caller{t, c.address, secrets["token of the lead"]}
	var me struct {
		PersonID string `json:"person_id"`
	}
	lead.get("/v1/me", &me)
	const pin, wrongPIN = "73915084", "84627195"
	secrets["PIN"], secrets["wrong PIN"] = pin, wrongPIN
	owner.send(http.MethodPost, "/v1/people/"+me.PersonID+"/pin", fields{"pin": pin}, http.StatusCreated)

	bearer := "Bearer " + lead.token
	opened := c.try(http.MethodPost, "/v1/sessions", `{"label": "shed", "shared": true}`, "Authorization", bearer)
	for _, cookie := range opened.Cookies() {
		secrets["cookie"] = cookie.Value
		for tried, want := range map[string]int{wrongPIN: http.StatusForbidden, pin: http.StatusOK} {
			for range 2 { // a wrong one may make the right one wait
				a := c.try(http.MethodPost, "/v1/session/switch", `{"person_id": "`+me.PersonID+`", "pin": "`+tried+`"}`,
					"Cookie", cookie.Name+"="+cookie.Value, "Sec-Fetch-Site", "same-origin")
				if a.StatusCode >= 500 {
					t.Errorf("PIN %s: %d, want %d or a wait", tried, a.StatusCode, want)
				}
			}
		}
	}
	var made struct{ URL string }
	address := func(c caller, path string) string {
		t.Helper()
		if err := json.Unmarshal(c.send(http.MethodPost, path, fields{}, http.StatusCreated), &made); err != nil {
			t.Fatal(err)
		}
		secret := strings.TrimSuffix(made.URL[strings.LastIndex(made.URL, "/")+1:], ".ics")
		if a := c.try(http.MethodGet, strings.TrimPrefix(made.URL, c.address), ""); a.StatusCode != http.StatusOK {
			t.Errorf("the address of %s: %d", path, a.StatusCode)
		}
		return secret
	}
	secrets["calendar address"] = address(lead, "/v1/calendar-address")
	secrets["address of a buyer's link"] = address(lead, "/v1/buyer-links/"+buyerLink(t, lead)+"/address")

	for name, secret := range secrets {
		for _, path := range []string{"/v1/today?token=" + secret, "/v1/lots/" + secret, "/nowhere/" + secret, "/calendar/" + secret + ".ics", "/b/" + secret, "/v1/records?" + secret} {
			for _, header := range [][]string{nil, {"Authorization", "Bearer " + secret}, {"Authorization", bearer, "Typed-By", secret}, {"Cookie", "croftmark_session=" + secret}} {
				if a := c.try(http.MethodGet, path, "", header...); a.StatusCode >= 500 {
					t.Errorf("%s in %s: %d", name, path, a.StatusCode)
				}
			}
		}
		for _, body := range []string{`{"name": 3, "pin": "` + secret + `"`, `{"pin": "` + secret + `"}`, secret} {
			c.try(http.MethodPost, "/v1/people", body, "Authorization", "Bearer "+owner.token)
		}
	}
	if err := p.stop(); err != nil {
		t.Fatalf("stopped with %v", err)
	}
	dir := t.TempDir()
	file := filepath.Join(dir, "book-of-the-demo.zip")
	places := map[string]string{"the log": p.log.String()}
	for name, args := range map[string][]string{"export": {"export", file}, "backup": {"backup", filepath.Join(dir, "copies"), "--try"}, "verify": {"verify"}} {
		var out, log screen
		if err := run(t.Context(), append(args, "--data", data), &out, &log); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		places["what "+name+" says"] = out.String() + log.String()
	}
	places["the export"] = unpacked(t, file)
	copies, err := filepath.Glob(filepath.Join(dir, "copies", "*.zip"))
	if err != nil || len(copies) != 1 {
		t.Fatalf("copies: %v (%v)", copies, err)
	}
	places["the backup"] = unpacked(t, copies[0])
	err = filepath.WalkDir(data, func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() || !strings.Contains(filepath.Base(path), "log") || strings.Contains(path, "pg_") {
			return err
		}
		raw, err := os.ReadFile(path)
		places[path] = string(raw)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	for i, key := range signingKeys(t, data) {
		secrets["signing key"+strings.Repeat("'", i)] = strings.SplitN(key, "+", 5)[4] // PRIVATE+KEY+name+hash+key; its base64 may hold a plus
	}
	if _, there := places[filepath.Join(data, "postgres.log")]; !there {
		t.Error("the database's own log was not looked at")
	}
	if len(secrets) < 10 || len(places["the log"]) < 10_000 || len(places["the export"]) < 100_000 {
		t.Fatalf("%d secrets, a log of %d bytes, an export of %d: too little to look at", len(secrets), len(places["the log"]), len(places["the export"]))
	}
	for name, secret := range secrets {
		if len(secret) < 8 {
			t.Errorf("the %s is %q", name, secret)
		}
		for place, text := range places {
			if at := strings.Index(text, secret); at >= 0 {
				t.Errorf("the %s is in %s: …%.160s", name, place, text[max(0, at-80):])
			}
		}
	}
}

// buyerLink gives a link for somebody who was sold something.
func buyerLink(t *testing.T, lead caller) string {
	t.Helper()
	var links []struct{ ID string }
	if lead.get("/v1/buyer-links", &links); len(links) > 0 {
		return links[0].ID
	}
	var shipments []struct {
		ID         string
		CustomerID string `json:"customer_id"`
	}
	if lead.get("/v1/shipments", &shipments); len(shipments) == 0 {
		t.Fatal("the demo farm shipped nothing")
	}
	return lead.post("/v1/buyer-links", fields{"customer_id": shipments[0].CustomerID, "shipment_ids": []string{shipments[0].ID},
		"expires_on": time.Now().AddDate(0, 1, 0).Format(time.DateOnly)}).ID
}
