// Package post hands over the daily letters of what is due: by e-mail through a mail server of the operator's, or to a
// person's own webhook. It knows no database; a letter comes to it whole.
package post

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"net/mail"
	"net/netip"
	"net/url"
	"strconv"
	"time"

	"croftmark/domain"
)

// Config is what whoever runs the service sets.
type Config struct {
	// SMTP is the mail server: smtp://USER@HOST:587 with STARTTLS, smtps://USER@HOST:465 encrypted from the start. On this
	// machine itself smtp://localhost:25 is spoken to in the clear. Empty: no e-mail is sent.
	SMTP string
	// From is the address that letters come from.
	From string
	// Password is of the user that SMTP names.
	Password string
	// WebhookPrivate lets webhooks lie on this machine and on private networks, there also without encryption.
	WebhookPrivate bool
	Version        string
	// tls is for tests with certificates of their own.
	tls *tls.Config
}

// Sender sends letters. It is safe for use by many goroutines.
type Sender struct {
	config Config
	server *mailServer // nil without e-mail
	from   *mail.Address
	hooks  hooks
}

// sendTimeout is the most that one letter may take.
const sendTimeout = 20 * time.Second

// New checks the settings; errors are for whoever starts the service, and hold no password.
func New(c Config) (*Sender, error) {
	s := &Sender{config: c, hooks: newHooks(c)}
	switch {
	case c.SMTP == "" && c.From == "":
		return s, nil
	case c.SMTP == "" || c.From == "":
		return nil, errors.New("e-mail needs both --smtp and --mail-from")
	}
	var err error
	if s.server, err = readServer(c); err != nil {
		return nil, err
	}
	if s.from, err = mail.ParseAddress(c.From); err != nil {
		return nil, fmt.Errorf("--mail-from %q is not an e-mail address", c.From)
	}
	return s, nil
}

// Accepts refuses a message that this service could not send, and says what its operator would have to set.
func (s *Sender) Accepts(m domain.DailyMessage) error {
	var p domain.Problems
	switch m.Way {
	case domain.ByEmail:
		p.Check(s.server != nil, "/way", "This service sends no e-mail. Whoever runs it must start it with --smtp and --mail-from; a webhook works without.")
	case domain.ByWebhook:
		u, err := url.Parse(m.To)
		if err != nil {
			p.Add("/to", "Give an address that begins with https://.")
			return p.Err()
		}
		p.Check(u.Scheme == "https" || s.config.WebhookPrivate, "/to", "Give an address that begins with https://. One without encryption is taken only on a private network, if whoever runs the service starts it with --webhook-private.")
		if ip, err := netip.ParseAddr(u.Hostname()); err == nil {
			p.Check(s.config.WebhookPrivate || isPublic(ip), "/to", "That is an address of this machine or of a private network. Whoever runs the service must allow it with --webhook-private.")
		}
	}
	return p.Err()
}

// Send hands a letter over. The error says in words for its person why that failed.
func (s *Sender) Send(ctx context.Context, l domain.DailyLetter) error {
	if err := s.Accepts(l.To); err != nil { // the settings may have changed since it was asked for
		var e *domain.Error
		if errors.As(err, &e) {
			return errors.New(e.Detail)
		}
		return err
	}
	ctx, cancel := context.WithTimeout(ctx, sendTimeout)
	defer cancel()
	if l.To.Way == domain.ByEmail {
		return s.mail(ctx, l)
	}
	return s.hooks.post(ctx, l)
}

// name names a letter of a day, the same at each try, so that whoever gets it twice can tell.
func name(l domain.DailyLetter) string {
	day := l.On.String()
	if l.Test {
		day = "test-" + strconv.FormatInt(l.SentAt.Unix(), 10)
	}
	return l.ID.String() + "-" + day
}
