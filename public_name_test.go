package main

import (
	"crypto/tls"
	"crypto/x509"
	"fmt"
	"io"
	"log"
	"net"
	"net/http"
	"net/http/httptest"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/letsencrypt/pebble/v2/ca"
	"github.com/letsencrypt/pebble/v2/db"
	"github.com/letsencrypt/pebble/v2/va"
	"github.com/letsencrypt/pebble/v2/wfe"
	"github.com/miekg/dns"
)

const publicHost = "beds.example.org" // a name for examples, RFC 2606, 3

// publicAuthority is a certificate authority of other people's making that speaks ACME (RFC 8555) and looks for itself
// whether a name leads where it should (RFC 8737), here at the given port instead of 443.
type publicAuthority struct {
	directory string
	roots     *x509.CertPool
	orders    atomic.Int32 // how often one asked for a certificate
}

func newPublicAuthority(t *testing.T, port int) *publicAuthority {
	t.Helper()
	t.Setenv("PEBBLE_VA_NOSLEEP", "1") // it waits a random time before it looks, for tests of clients' patience
	quiet := log.New(io.Discard, "", 0)
	book := db.NewMemoryStore()
	issuer := ca.New(quiet, book, "", "ecdsa", 0, 1, map[string]ca.Profile{"default": {ValidityPeriod: 90 * 24 * 3600}})
	looks := va.New(quiet, port, port, true, nameServer(t), book)
	front := wfe.New(quiet, book, looks, issuer, nil, true, false, 1, 1)
	a := &publicAuthority{roots: x509.NewCertPool()}
	doors := front.Handler()
	server := httptest.NewTLSServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if strings.Contains(r.URL.Path, "order-plz") {
			a.orders.Add(1)
		}
		doors.ServeHTTP(w, r)
	}))
	t.Cleanup(server.Close)
	trustInThisProcess(t, server)
	a.directory = server.URL + wfe.DirectoryPath
	if !a.roots.AppendCertsFromPEM(issuer.GetRootCert(0).PEM()) {
		t.Fatal("the authority has no root")
	}
	return a
}

// trustInThisProcess stands for the system's list of authorities, which is read once and can't be added to.
func trustInThisProcess(t *testing.T, server *httptest.Server) {
	t.Helper()
	before := http.DefaultTransport
	http.DefaultTransport = server.Client().Transport
	t.Cleanup(func() { http.DefaultTransport = before })
}

// nameServer says that publicHost is this machine and knows no other name.
func nameServer(t *testing.T) string {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	server := &dns.Server{Listener: listener, Handler: dns.HandlerFunc(func(w dns.ResponseWriter, asked *dns.Msg) {
		answer := new(dns.Msg).SetReply(asked)
		switch q := asked.Question[0]; {
		case q.Name != publicHost+".":
			answer.Rcode = dns.RcodeNameError
		case q.Qtype == dns.TypeA:
			answer.Answer = []dns.RR{&dns.A{Hdr: dns.RR_Header{Name: q.Name, Rrtype: dns.TypeA, Class: dns.ClassINET}, A: net.IPv4(127, 0, 0, 1)}}
		}
		w.WriteMsg(answer)
	})}
	go server.ActivateAndServe()
	t.Cleanup(func() { server.Shutdown() })
	return listener.Addr().String()
}

// freePort is one that nobody listens on: the authority has to know it before the service takes it.
func freePort(t *testing.T) int {
	t.Helper()
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer listener.Close()
	return listener.Addr().(*net.TCPAddr).Port
}

// handshake is what a browser finds that asks for a name at the port.
func handshake(port int, name string, roots *x509.CertPool) (*x509.Certificate, error) {
	conn, err := tls.DialWithDialer(&net.Dialer{Timeout: 20 * time.Second}, "tcp", net.JoinHostPort("127.0.0.1", strconv.Itoa(port)),
		&tls.Config{ServerName: name, RootCAs: roots})
	if err != nil {
		return nil, err
	}
	defer conn.Close()
	return conn.ConnectionState().PeerCertificates[0], nil
}

// A certificate for a public name comes by itself, is kept for the next start, and none is asked for in another name.
func TestACertificateForAPublicName(t *testing.T) {
	port := freePort(t)
	authority := newPublicAuthority(t, port)
	data := dataFolder(t)
	serve := func() *process {
		p := start(t, "serve", "--data", data, "--listen", "127.0.0.1:0", "--https", fmt.Sprintf("127.0.0.1:%d", port),
			"--acme", publicHost, "--acme-directory", authority.directory)
		p.await(`phones at https://beds\.example\.org\n`, 30*time.Second)
		p.await(`a certificate for beds\.example\.org is here\n`, 60*time.Second)
		return p
	}
	p := serve()
	first, err := handshake(port, publicHost, authority.roots)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := handshake(port, "other.example.org", authority.roots); err == nil {
		t.Error("there is a certificate for a name that was not given")
	}
	for address, want := range map[string]int{
		fmt.Sprintf("https://127.0.0.1:%d/readyz", port):            http.StatusOK,
		fmt.Sprintf("https://127.0.0.1:%d/trust/farm-ca.crt", port): http.StatusNotFound, // nothing has to be trusted by hand
		fmt.Sprintf("http://127.0.0.1:%d/v1/farm", port):            http.StatusFound,
	} {
		if status, _, _, err := fetchBy(t, publicHost, address, authority.roots); err != nil || status != want {
			t.Errorf("%s answers %d instead of %d, %v", address, status, want, err)
		}
	}
	if err := p.stop(); err != nil {
		t.Fatal(err)
	}
	serve()
	second, err := handshake(port, publicHost, authority.roots)
	if err != nil {
		t.Fatal(err)
	}
	if !second.Equal(first) || authority.orders.Load() != 1 {
		t.Errorf("after a restart the certificate is another (%v), with %d orders", !second.Equal(first), authority.orders.Load())
	}
}

// A name that leads elsewhere gets no certificate; the terminal says so, and the service goes on.
func TestAPublicNameThatLeadsElsewhere(t *testing.T) {
	authority := newPublicAuthority(t, freePort(t))
	p := start(t, "serve", "--data", dataFolder(t), "--listen", "127.0.0.1:0", "--https", "127.0.0.1:0",
		"--acme", publicHost, "--acme-directory", authority.directory)
	p.await(`no certificate for beds\.example\.org yet: .*unable to satisfy.*no viable challenge.*\n.*does the name lead here`, 60*time.Second)
	if status, _, _, err := fetch(t, p.address()+"/readyz", nil); err != nil || status != http.StatusOK {
		t.Errorf("the service answers %d, %v", status, err)
	}
}

func TestFlagsOfAPublicName(t *testing.T) {
	for given, want := range map[string]string{
		"--acme beds.example.org":                                         "--https",
		"--https :0 --acme beds":                                          "--acme beds: give a name",
		"--https :0 --acme 192.0.2.7":                                     "--acme 192.0.2.7: give a name",
		"--https :0 --acme https://beds.example.org":                      "give a name of the internet alone",
		"--https :0 --acme-email a@example.org":                           "--acme-email is for --acme",
		"--https :0 --acme beds.example.org --acme-directory ftp://a/dir": "--acme-directory ftp://a/dir: give",
		"--https :0 --acme beds.example.org --acme-directory http://a/d":  "--acme-directory http://a/d: give",
		"--https :0 --acme beds.example.org --tls-cert a --tls-key b":     "not both",
		"--https :0 --tls-cert a":                                         "give both",
	} {
		data := dataFolder(t)
		_, err := command(t, append([]string{"serve", "--data", data, "--listen", "127.0.0.1:0"}, strings.Fields(given)...)...)
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, not %q", given, err, want)
		}
	}
}
