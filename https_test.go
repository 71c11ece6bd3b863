package main

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"encoding/json"
	"fmt"
	"io"
	"math/big"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// fetch asks once, with what is trusted; redirects are answers too.
func fetch(t *testing.T, address string, roots *x509.CertPool) (int, http.Header, string, error) {
	t.Helper()
	return fetchBy(t, "", address, roots)
}

// fetchBy asks for a name that no name server has to know.
func fetchBy(t *testing.T, name, address string, roots *x509.CertPool) (int, http.Header, string, error) {
	t.Helper()
	client := &http.Client{Timeout: 10 * time.Second, Transport: &http.Transport{TLSClientConfig: &tls.Config{ServerName: name, RootCAs: roots}, DisableKeepAlives: true},
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	response, err := client.Get(address)
	if err != nil {
		return 0, nil, "", err
	}
	defer response.Body.Close()
	body, err := io.ReadAll(response.Body)
	return response.StatusCode, response.Header, string(body), err
}

// A phone on a network without the internet: it reads the plain page, compares the fingerprint, takes the certificate, and
// from then on the book is a secure page. Nothing of the book goes over the wire unencrypted there.
func TestPhonesOnAFarmNetwork(t *testing.T) {
	data := dataFolder(t)
	serve := func() (*process, string, string) {
		p := start(t, "serve", "--data", data, "--listen", "127.0.0.1:0", "--https", "127.0.0.1:0")
		app := p.await(`phones at (https://127\.0\.0\.1:\d+)\n`, 30*time.Second)[1]
		return p, app, p.await(`and compare: ([0-9A-F ]+)\n`, 5*time.Second)[1]
	}
	p, app, shown := serve()
	plain := "http" + strings.TrimPrefix(app, "https")
	p.await(`open one at http://127\.0\.0\.1:\d+/app/first#[A-Z2-7]+\n`, 5*time.Second)

	// Somebody who says nothing must not keep the others waiting.
	silent, err := net.Dial("tcp", strings.TrimPrefix(app, "https://"))
	if err != nil {
		t.Fatal(err)
	}
	defer silent.Close()
	for _, path := range []string{"/", "/v1/farm", "/app/today"} {
		status, header, _, err := fetch(t, plain+path, nil)
		if err != nil || status != http.StatusFound || header.Get("Location") != "/trust" {
			t.Errorf("%s without encryption: %d to %q, %v", path, status, header.Get("Location"), err)
		}
	}
	_, _, page, err := fetch(t, plain+"/trust", nil)
	if err != nil || !strings.Contains(page, shown) || !strings.Contains(page, app+"/") || !strings.Contains(page, `lang="es"`) {
		t.Errorf("the page about trust (%v) lacks %q or %q: %s", err, shown, app, page)
	}
	_, header, der, err := fetch(t, plain+"/trust/farm-ca.crt", nil)
	if err != nil || header.Get("Content-Type") != "application/x-x509-ca-cert" {
		t.Fatalf("the certificate comes as %q, %v", header.Get("Content-Type"), err)
	}
	if sum := strings.ToUpper(fmt.Sprintf("%x", sha256.Sum256([]byte(der)))); sum != strings.ReplaceAll(shown, " ", "") {
		t.Errorf("the terminal shows %s, the certificate's fingerprint is %s", shown, sum)
	}
	ca, err := x509.ParseCertificate([]byte(der))
	if err != nil {
		t.Fatal(err)
	}
	trusted := x509.NewCertPool()
	trusted.AddCert(ca)
	if status, _, _, err := fetch(t, app+"/readyz", trusted); err != nil || status != http.StatusOK {
		t.Errorf("the book for a phone that trusts: %d, %v", status, err)
	}
	if _, _, _, err := fetch(t, app+"/readyz", nil); err == nil || !strings.Contains(err.Error(), "unknown authority") {
		t.Errorf("a phone that does not trust got %v", err)
	}
	_, _, told, err := fetch(t, app+"/phone-address", trusted)
	var address struct{ App, Trust string }
	if json.Unmarshal([]byte(told), &address) != nil || address.App != app || address.Trust != plain+"/trust" {
		t.Errorf("the desk is told %s, %v", told, err)
	}
	key, err := os.Stat(filepath.Join(data, "https", "farm-ca-key.pem"))
	if err != nil || key.Mode().Perm() != 0o600 {
		t.Errorf("the authority's key: %v, %v", key.Mode(), err)
	}
	if err := p.stop(); err != nil {
		t.Fatal(err)
	}
	if _, _, again := serve(); again != shown {
		t.Errorf("another start made another authority: %s", again)
	}
}

// Who stole the authority's key could not pass for a place of the internet: the constraints are in the certificate that the
// phones trust (RFC 5280, 4.2.1.10). A leaf of a network address, and one of a new address of the machine, are good.
func TestAuthorityIsOnlyForTheFarm(t *testing.T) {
	now := time.Now()
	a, err := openAuthority(t.TempDir(), func() time.Time { return now })
	if err != nil {
		t.Fatal(err)
	}
	roots := x509.NewCertPool()
	roots.AddCert(a.cert)
	sign := func(change func(*x509.Certificate)) *x509.Certificate {
		t.Helper()
		key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
		if err != nil {
			t.Fatal(err)
		}
		c := &x509.Certificate{SerialNumber: big.NewInt(7), NotBefore: now.Add(-time.Hour), NotAfter: now.Add(time.Hour), ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth}}
		change(c)
		der, err := x509.CreateCertificate(rand.Reader, c, a.cert, key.Public(), a.key)
		if err != nil {
			t.Fatal(err)
		}
		leaf, err := x509.ParseCertificate(der)
		if err != nil {
			t.Fatal(err)
		}
		return leaf
	}
	good := func(leaf *x509.Certificate, name string) error {
		_, err := leaf.Verify(x509.VerifyOptions{Roots: roots, DNSName: name, CurrentTime: now})
		return err
	}
	for _, ip := range []string{"192.168.7.20", "10.1.2.3", "127.0.0.1"} {
		leaf, err := a.issue(net.ParseIP(ip))
		if err != nil {
			t.Fatal(err)
		}
		if err := good(leaf.Leaf, ip); err != nil {
			t.Errorf("%s: %v", ip, err)
		}
		if err := good(leaf.Leaf, a.host+".local"); err != nil {
			t.Errorf("%s: %v", a.host, err)
		}
		if days := leaf.Leaf.NotAfter.Sub(now).Hours() / 24; days > 398 { // Apple and the CA/Browser Forum take no longer ones
			t.Errorf("a leaf for %.0f days", days)
		}
	}
	if err := good(sign(func(c *x509.Certificate) { c.DNSNames = []string{"bank.example.com"} }), "bank.example.com"); err == nil {
		t.Error("it can vouch for a name of the internet")
	}
	if err := good(sign(func(c *x509.Certificate) { c.IPAddresses = []net.IP{net.ParseIP("93.184.216.34")} }), "93.184.216.34"); err == nil {
		t.Error("it can vouch for an address of the internet")
	}
}

// Given certificates are used as they are, and half a pair is said to be half.
func TestGivenCertificates(t *testing.T) {
	a, err := openAuthority(t.TempDir(), time.Now)
	if err != nil {
		t.Fatal(err)
	}
	dir := t.TempDir()
	if _, err := makeAuthority(filepath.Join(dir, "cert.pem"), filepath.Join(dir, "key.pem"), a.host, time.Now()); err != nil {
		t.Fatal(err)
	}
	half := &phones{listen: "127.0.0.1:0", cert: filepath.Join(dir, "cert.pem")}
	if err := half.check(); err == nil || !strings.Contains(err.Error(), "give both --tls-cert and --tls-key") {
		t.Errorf("half a pair: %v", err)
	}
	wrong := &phones{listen: "127.0.0.1:0", cert: filepath.Join(dir, "key.pem"), key: filepath.Join(dir, "cert.pem")}
	if err := wrong.open(dir, io.Discard); err == nil {
		t.Error("swapped files are taken")
	}
	whole := &phones{listen: "127.0.0.1:0", cert: filepath.Join(dir, "cert.pem"), key: filepath.Join(dir, "key.pem")}
	if err := whole.open(dir, io.Discard); err != nil {
		t.Fatal(err)
	}
	defer whole.listener.Close()
	if whole.trust() != "" || whole.authority != nil {
		t.Error("with given certificates there is nothing of ours to trust")
	}
	go http.Serve(whole.listener, whole.handler(http.NotFoundHandler()))
	connection, err := tls.Dial("tcp", whole.listener.Addr().String(), &tls.Config{InsecureSkipVerify: true}) // which certificate it shows is what is looked at
	if err != nil {
		t.Fatal(err)
	}
	defer connection.Close()
	pair, err := tls.LoadX509KeyPair(filepath.Join(dir, "cert.pem"), filepath.Join(dir, "key.pem"))
	if err != nil {
		t.Fatal(err)
	}
	if shown := connection.ConnectionState().PeerCertificates[0]; string(shown.Raw) != string(pair.Certificate[0]) {
		t.Errorf("it shows %s", shown.Subject)
	}
	status, header, _, err := fetch(t, "http://"+whole.listener.Addr().String()+"/", nil)
	if err != nil || status != http.StatusFound || !strings.HasPrefix(header.Get("Location"), "https://") {
		t.Errorf("without encryption: %d to %q, %v", status, header.Get("Location"), err)
	}
}
