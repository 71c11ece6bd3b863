package main

import (
	"bufio"
	"crypto/tls"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"path/filepath"
	"sync"
	"time"
)

// phones is the door for phones of the farm's network: an address of its own that speaks https. Browsers give a page its
// camera and its store for days without signal only there.
type phones struct {
	listen, cert, key string // the flags: address, and certificates somebody gave
	public            publicName

	authority *authority // nil with given certificates and with a public name
	listener  net.Listener
}

// check says which flags do not go together, before anything starts.
func (p *phones) check() error {
	switch {
	case p.listen == "" && (p.cert != "" || p.key != "" || p.public.given()):
		return errors.New("certificates are for --https ADDR: give the address too, as --https :443")
	case (p.cert == "") != (p.key == ""):
		return errors.New("give both --tls-cert and --tls-key, or none for a certificate authority of the farm's own")
	case p.cert != "" && p.public.given():
		return errors.New("give --acme NAME or the files of a certificate, not both")
	}
	return p.public.check()
}

// open listens, with the certificates that certificates gives.
func (p *phones) open(dataDir string, say io.Writer) error {
	config, err := p.certificates(dataDir, say)
	if err != nil {
		return err
	}
	plain, err := net.Listen("tcp", p.listen)
	if err != nil {
		return fmt.Errorf("can't listen on %s: %w", p.listen, err)
	}
	p.listener = newSplit(plain, config)
	return nil
}

// certificates are those that were given, which need no folder; those of a public name; or those of the farm's own
// authority, which the first start makes.
func (p *phones) certificates(dataDir string, say io.Writer) (*tls.Config, error) {
	if p.cert != "" {
		pair, err := tls.LoadX509KeyPair(p.cert, p.key)
		if err != nil {
			return nil, fmt.Errorf("the given certificate can't be used: %w", err)
		}
		return &tls.Config{MinVersion: tls.VersionTLS12, Certificates: []tls.Certificate{pair}}, nil
	}
	dir, err := bookFolder(dataDir)
	if err != nil {
		return nil, err
	}
	dir = filepath.Join(dir, "https")
	if p.public.given() {
		return p.public.open(dir, say), nil
	}
	if p.authority, err = openAuthority(dir, time.Now); err != nil {
		return nil, err
	}
	return &tls.Config{MinVersion: tls.VersionTLS12, GetCertificate: p.authority.certificate}, nil
}

// address is where a phone finds this machine: its address in the farm's network, or what it listens on.
func (p *phones) address() string {
	host, port, err := net.SplitHostPort(p.listener.Addr().String())
	if err != nil {
		return p.listener.Addr().String()
	}
	if ip := net.ParseIP(host); ip != nil && ip.IsUnspecified() {
		host = "127.0.0.1"
		if own, ok := farmAddress(); ok {
			host = own.String()
		}
	}
	return net.JoinHostPort(host, port)
}

// app is the address of the phone app; trust that of the plain page that a phone opens first, if it has to trust. A public
// name has no port: its authority looked for it on 443, so that is where the world finds it.
func (p *phones) app() string {
	if p.public.given() {
		return "https://" + p.public.name
	}
	return "https://" + p.address()
}

func (p *phones) trust() string {
	if p.authority == nil {
		return ""
	}
	return "http://" + p.address() + "/trust"
}

// handler serves the book to who came encrypted, and to all others nothing but how to come so.
func (p *phones) handler(book http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		switch {
		case p.authority != nil && (r.URL.Path == "/trust" || r.URL.Path == "/trust/farm-ca.crt"):
			p.trustPage(w, r)
		case r.TLS != nil:
			book.ServeHTTP(w, r)
		case p.authority != nil:
			http.Redirect(w, r, "/trust", http.StatusFound)
		default:
			http.Redirect(w, r, "https://"+r.Host+"/", http.StatusFound)
		}
	})
}

// split takes encrypted and plain connections on one address: a phone that types the address without https still gets an
// answer. Which one it is shows in the first byte: a TLS handshake begins with 22 (RFC 8446, 5.1).
type split struct {
	net.Listener
	config *tls.Config
	ready  chan accepted
	closed chan struct{}
	once   sync.Once
}

type accepted struct {
	conn net.Conn
	err  error
}

func newSplit(listener net.Listener, config *tls.Config) *split {
	s := &split{Listener: listener, config: config, ready: make(chan accepted), closed: make(chan struct{})}
	go s.acceptAll()
	return s
}

func (s *split) acceptAll() {
	for {
		conn, err := s.Listener.Accept()
		if err != nil {
			s.give(accepted{err: err})
			if errors.Is(err, net.ErrClosed) {
				return
			}
			continue
		}
		go s.look(conn) // who says nothing must not keep the others waiting
	}
}

const firstByteTime = 10 * time.Second

func (s *split) look(conn net.Conn) {
	conn.SetReadDeadline(time.Now().Add(firstByteTime))
	reader := bufio.NewReader(conn)
	first, err := reader.Peek(1)
	if err != nil {
		conn.Close()
		return
	}
	conn.SetReadDeadline(time.Time{})
	var out net.Conn = &peeked{conn, reader}
	if first[0] == 22 {
		out = tls.Server(out, s.config)
	}
	s.give(accepted{conn: out})
}

func (s *split) give(a accepted) {
	select {
	case s.ready <- a:
	case <-s.closed:
		if a.conn != nil {
			a.conn.Close()
		}
	}
}

func (s *split) Accept() (net.Conn, error) {
	select {
	case a := <-s.ready:
		return a.conn, a.err
	case <-s.closed:
		return nil, net.ErrClosed
	}
}

func (s *split) Close() error {
	s.once.Do(func() { close(s.closed) })
	return s.Listener.Close()
}

// peeked is a connection of which the first bytes were read already.
type peeked struct {
	net.Conn
	reader *bufio.Reader
}

func (p *peeked) Read(b []byte) (int, error) { return p.reader.Read(b) }
