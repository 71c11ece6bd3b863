package main

import (
	"bytes"
	"crypto"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"errors"
	"fmt"
	"math/big"
	"net"
	"net/netip"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"
)

// authority is the farm's own certificate authority, for a network without the internet. A phone trusts it once. What it
// may sign is written into it: addresses of private networks and this machine's own name, so that whoever stole its key
// could not pass for any place of the internet.
type authority struct {
	cert *x509.Certificate
	key  crypto.Signer
	host string // this machine's name in the farm's network
	now  func() time.Time

	mu     sync.Mutex
	leaves map[string]*tls.Certificate // by the address that a phone came to
}

const (
	authorityYears = 10
	leafDays       = 397 // browsers refuse much longer ones
	leafSpare      = 30  // days before its end at which a leaf is made anew
)

// privateNetworks are where a farm's phones are: RFC 1918, RFC 4193, link-local and this machine itself.
var privateNetworks = []string{"10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16", "127.0.0.0/8", "fc00::/7", "fe80::/10", "::1/128"}

// openAuthority reads the authority of a folder, or makes it on the first start.
func openAuthority(dir string, now func() time.Time) (*authority, error) {
	a := &authority{host: hostName(), now: now, leaves: map[string]*tls.Certificate{}}
	certPath, keyPath := filepath.Join(dir, "farm-ca.pem"), filepath.Join(dir, "farm-ca-key.pem")
	pair, err := tls.LoadX509KeyPair(certPath, keyPath)
	switch {
	case errors.Is(err, os.ErrNotExist):
		if pair, err = makeAuthority(certPath, keyPath, a.host, now()); err != nil {
			return nil, err
		}
	case err != nil:
		return nil, fmt.Errorf("the certificate authority in %s can't be read: %w", dir, err)
	}
	if a.cert, err = x509.ParseCertificate(pair.Certificate[0]); err != nil {
		return nil, err
	}
	if now().After(a.cert.NotAfter) {
		return nil, fmt.Errorf("the certificate authority ended on %s: move %s and %s away, start again, and let the phones trust the new one", a.cert.NotAfter.Format(time.DateOnly), certPath, keyPath)
	}
	a.key = pair.PrivateKey.(crypto.Signer) // every key that LoadX509KeyPair takes is one
	return a, nil
}

func makeAuthority(certPath, keyPath, host string, now time.Time) (pair tls.Certificate, err error) {
	if err := os.MkdirAll(filepath.Dir(certPath), 0o700); err != nil {
		return pair, err
	}
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return pair, err
	}
	serial, err := newSerial()
	if err != nil {
		return pair, err
	}
	t := &x509.Certificate{
		SerialNumber: serial, Subject: pkix.Name{CommonName: "Croftmark on " + host}, NotBefore: now.Add(-time.Hour), NotAfter: now.AddDate(authorityYears, 0, 0),
		IsCA: true, BasicConstraintsValid: true, MaxPathLenZero: true, KeyUsage: x509.KeyUsageCertSign | x509.KeyUsageCRLSign,
		PermittedDNSDomainsCritical: true, PermittedDNSDomains: []string{"localhost", host, host + ".local"},
	}
	for _, text := range privateNetworks {
		_, network, err := net.ParseCIDR(text)
		if err != nil {
			return pair, err
		}
		t.PermittedIPRanges = append(t.PermittedIPRanges, network)
	}
	der, err := x509.CreateCertificate(rand.Reader, t, t, key.Public(), key)
	if err != nil {
		return pair, err
	}
	raw, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return pair, err
	}
	keyPEM := pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: raw})
	certPEM := pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der})
	// The key comes first: a certificate without its key would be taken for a whole authority.
	if err := errors.Join(os.WriteFile(keyPath, keyPEM, 0o600), os.WriteFile(certPath, certPEM, 0o644)); err != nil {
		return pair, err
	}
	return tls.X509KeyPair(certPEM, keyPEM)
}

func newSerial() (*big.Int, error) {
	return rand.Int(rand.Reader, new(big.Int).Lsh(big.NewInt(1), 127))
}

// certificate gives a leaf for the address that a phone came to; a new address of this machine gets a new one by itself.
func (a *authority) certificate(hello *tls.ClientHelloInfo) (*tls.Certificate, error) {
	ip := localIP(hello.Conn)
	a.mu.Lock()
	defer a.mu.Unlock()
	leaf := a.leaves[ip.String()]
	if leaf == nil || a.now().AddDate(0, 0, leafSpare).After(leaf.Leaf.NotAfter) {
		made, err := a.issue(ip)
		if err != nil {
			return nil, err
		}
		a.leaves[ip.String()], leaf = made, made
	}
	return leaf, nil
}

func (a *authority) issue(ip net.IP) (*tls.Certificate, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	serial, err := newSerial()
	if err != nil {
		return nil, err
	}
	now := a.now()
	ends := now.AddDate(0, 0, leafDays)
	if ends.After(a.cert.NotAfter) {
		ends = a.cert.NotAfter
	}
	t := &x509.Certificate{
		SerialNumber: serial, Subject: pkix.Name{CommonName: a.host}, NotBefore: now.Add(-time.Hour), NotAfter: ends,
		KeyUsage: x509.KeyUsageDigitalSignature, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		DNSNames: []string{"localhost", a.host, a.host + ".local"},
	}
	if ip != nil && (ip.IsPrivate() || ip.IsLoopback() || ip.IsLinkLocalUnicast()) {
		t.IPAddresses = []net.IP{ip}
	}
	der, err := x509.CreateCertificate(rand.Reader, t, a.cert, key.Public(), a.key)
	if err != nil {
		return nil, err
	}
	leaf, err := x509.ParseCertificate(der)
	return &tls.Certificate{Certificate: [][]byte{der, a.cert.Raw}, PrivateKey: key, Leaf: leaf}, err
}

// fingerprint is what people compare between the terminal and the phone: SHA-256, in pairs.
func (a *authority) fingerprint() string {
	sum := sha256.Sum256(a.cert.Raw)
	return strings.ToUpper(string(bytes.Join(pairs(fmt.Sprintf("%x", sum)), []byte(" "))))
}

func pairs(text string) (out [][]byte) {
	for i := 0; i+4 <= len(text); i += 4 {
		out = append(out, []byte(text[i:i+4]))
	}
	return out
}

func localIP(c net.Conn) net.IP {
	if address, ok := c.LocalAddr().(*net.TCPAddr); ok {
		return address.IP
	}
	return nil
}

// hostName is this machine's name as a certificate may carry it.
func hostName() string {
	name, err := os.Hostname()
	name = strings.ToLower(strings.SplitN(name, ".", 2)[0])
	if err != nil || strings.Trim(name, "abcdefghijklmnopqrstuvwxyz0123456789-") != "" || name == "" {
		return "croftmark"
	}
	return name
}

// farmAddress is this machine's address in the farm's network: the first private one of an interface that is up.
func farmAddress() (netip.Addr, bool) {
	addresses, err := net.InterfaceAddrs()
	if err != nil {
		return netip.Addr{}, false
	}
	for _, a := range addresses {
		if network, ok := a.(*net.IPNet); ok && network.IP.IsPrivate() && network.IP.To4() != nil {
			return netip.AddrFromSlice(network.IP.To4())
		}
	}
	return netip.Addr{}, false
}
