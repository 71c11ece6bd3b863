package post

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/netip"
	"net/url"
	"strconv"
	"strings"

	gomail "github.com/wneessen/go-mail"

	"croftmark/domain"
)

// mailServer is the operator's mail server.
type mailServer struct {
	host      string
	port      int
	user      string
	wrapped   bool // encrypted from the start
	ourselves bool // on this machine: nobody listens between
}

func readServer(c Config) (*mailServer, error) {
	u, err := url.Parse(c.SMTP)
	if err != nil || (u.Scheme != "smtp" && u.Scheme != "smtps") || u.Hostname() == "" || strings.Trim(u.Path, "/") != "" {
		return nil, errors.New("--smtp must look like smtp://USER@HOST:587 or smtps://USER@HOST:465") // not quoted: it may hold a password
	}
	if _, has := u.User.Password(); has {
		return nil, errors.New("--smtp must not hold the password: everybody on this machine sees it there; give CROFTMARK_SMTP_PASSWORD or --smtp-password-file")
	}
	m := &mailServer{host: u.Hostname(), port: 587, user: u.User.Username(), wrapped: u.Scheme == "smtps", ourselves: onThisMachine(u.Hostname())}
	if m.wrapped {
		m.port = 465
	}
	if u.Port() != "" {
		if m.port, err = strconv.Atoi(u.Port()); err != nil {
			return nil, fmt.Errorf("the port of --smtp, %q, is no number", u.Port())
		}
	}
	if (m.user == "") != (c.Password == "") {
		return nil, errors.New("a mail server with a user needs a password, and the other way round: name the user in --smtp, and give CROFTMARK_SMTP_PASSWORD or --smtp-password-file")
	}
	return m, nil
}

func onThisMachine(host string) bool {
	ip, err := netip.ParseAddr(host)
	return host == "localhost" || err == nil && ip.IsLoopback()
}

// client is made for each letter: they are few, and a connection of yesterday helps nobody.
func (s *Sender) client() (*gomail.Client, error) {
	m := s.server
	options := []gomail.Option{gomail.WithPort(m.port), gomail.WithTimeout(sendTimeout)}
	switch {
	case m.wrapped:
		options = append(options, gomail.WithSSL())
	case m.ourselves && s.config.tls == nil:
		options = append(options, gomail.WithTLSPolicy(gomail.NoTLS))
	default:
		options = append(options, gomail.WithTLSPolicy(gomail.TLSMandatory))
	}
	if s.config.tls != nil {
		options = append(options, gomail.WithTLSConfig(s.config.tls))
	}
	if m.user != "" {
		options = append(options, gomail.WithSMTPAuth(gomail.SMTPAuthAutoDiscover), gomail.WithUsername(m.user), gomail.WithPassword(s.config.Password))
	}
	return gomail.NewClient(m.host, options...)
}

func (s *Sender) mail(ctx context.Context, l domain.DailyLetter) error {
	m := gomail.NewMsg()
	m.FromMailAddress(s.from)
	if err := m.To(l.To.To); err != nil {
		return errors.New("the address is not one that mail can be sent to")
	}
	subject, body := l.Text()
	m.Subject(subject)
	m.SetDateWithValue(l.SentAt)
	_, domain, _ := strings.Cut(s.from.Address, "@")
	m.SetMessageIDWithValue(name(l) + "@" + domain)
	m.SetGenHeader(gomail.Header("Auto-Submitted"), "auto-generated") // RFC 3834: no machine answers it
	m.SetBodyString(gomail.TypeTextPlain, body)
	client, err := s.client()
	if err != nil {
		return err
	}
	if err := client.DialAndSendWithContext(ctx, m); err != nil {
		return mailFailure(err)
	}
	return nil
}

// mailFailure tells a failure in words, with what the mail server answered.
func mailFailure(err error) error {
	var refused *gomail.SendError
	var network *net.OpError
	switch {
	case errors.As(err, &refused):
		return fmt.Errorf("the mail server refused the letter: %w", err)
	case errors.As(err, &network):
		return fmt.Errorf("the mail server can't be reached: %w", err)
	}
	return fmt.Errorf("the mail server did not take the letter: %w", err)
}
