package main

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"io"
	"net"
	"net/url"
	"path/filepath"
	"strings"

	"golang.org/x/crypto/acme"
	"golang.org/x/crypto/acme/autocert"
)

// publicName is a name of the internet that leads to this machine. A public authority gives its certificate by itself and
// renews it (ACME, RFC 8555), after it has seen on port 443 that the name leads here (tls-alpn-01, RFC 8737).
type publicName struct {
	name, directory, email string // the flags

	manager *autocert.Manager
}

func (n *publicName) given() bool { return n.name != "" }

// check names the flag that is wrong, and what to give instead.
func (n *publicName) check() error {
	if !n.given() {
		if n.email != "" {
			return errors.New("--acme-email is for --acme NAME: give the name, or leave the address out")
		}
		return nil
	}
	if net.ParseIP(n.name) != nil || !strings.Contains(strings.Trim(n.name, "."), ".") || strings.ContainsAny(n.name, ":/@ ") {
		return fmt.Errorf("--acme %s: give a name of the internet alone, as beds.example.org; for other addresses leave it out, and the farm has an authority of its own", n.name)
	}
	at, err := url.Parse(n.directory)
	if err != nil || at.Host == "" || at.Scheme != "https" {
		return fmt.Errorf("--acme-directory %s: give the address of an authority's directory, beginning with https:// (RFC 8555, 6.1)", n.directory)
	}
	return nil
}

// open readies the certificates, which lie in the folder and outlive a start. It asks nobody yet.
func (n *publicName) open(dir string, say io.Writer) *tls.Config {
	n.name = strings.ToLower(strings.TrimSuffix(n.name, "."))
	n.manager = &autocert.Manager{
		Prompt: func(terms string) bool {
			fmt.Fprintln(say, "the authority's terms, agreed to by --acme:", terms)
			return true
		},
		Cache:      autocert.DirCache(filepath.Join(dir, "acme")),
		HostPolicy: autocert.HostWhitelist(n.name), // who comes by another name must not make us ask for a certificate
		Client:     &acme.Client{DirectoryURL: n.directory},
		Email:      n.email,
	}
	return &tls.Config{MinVersion: tls.VersionTLS12, GetCertificate: n.manager.GetCertificate, NextProtos: []string{"http/1.1", acme.ALPNProto}}
}

// fetch asks for the certificate at the start, so that the first phone need not wait for it and a name that does not lead
// here shows in the terminal. A later caller tries again by itself.
func (n *publicName) fetch(ctx context.Context, say io.Writer) {
	// A greeting as browsers send it; a barer one would be given a second certificate, for RSA.
	hello := &tls.ClientHelloInfo{ServerName: n.name, CipherSuites: []uint16{tls.TLS_ECDHE_ECDSA_WITH_AES_128_GCM_SHA256},
		SupportedCurves: []tls.CurveID{tls.CurveP256}, SignatureSchemes: []tls.SignatureScheme{tls.ECDSAWithP256AndSHA256}}
	_, err := n.manager.GetCertificate(hello)
	switch {
	case ctx.Err() != nil:
	case err != nil:
		fmt.Fprintf(say, "no certificate for %s yet: %v\nit is asked for again when a phone comes; does the name lead here, and port 443 with it?\n", n.name, err)
	default:
		fmt.Fprintln(say, "a certificate for", n.name, "is here")
	}
}
