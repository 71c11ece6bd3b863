package domain

import (
	"net/mail"
	"net/url"
	"time"
)

// The ways in which a person is told every day what is due.
const (
	ByEmail   = "email"
	ByWebhook = "webhook"
)

// DailyMessage is a person's wish to be told every day what is due. It is no record of the book: where somebody is reached
// is kept beside it, like a token.
type DailyMessage struct {
	Way      string `json:"way" enum:"email,webhook"`
	To       string `json:"to" minLength:"3" maxLength:"500" doc:"The e-mail address, or the https address that is posted to."`
	Hour     int    `json:"hour" minimum:"0" maximum:"23" doc:"The hour of the farm's day from which it is sent."`
	Language string `json:"language,omitempty" enum:"en,es" doc:"The person's own when left out."`
}

// Check refuses what could not be sent.
func (m DailyMessage) Check() error {
	var p Problems
	checkOneOf(&p, "/way", m.Way, ByEmail, ByWebhook)
	p.Check(m.Hour >= 0 && m.Hour <= 23, "/hour", "Give an hour of the day from 0 to 23.")
	if m.Language != "" {
		checkOneOf(&p, "/language", m.Language, "en", "es")
	}
	switch m.Way {
	case ByEmail:
		a, err := mail.ParseAddress(m.To)
		p.Check(err == nil && a.Address == m.To && len(m.To) <= 254, "/to", "Give one e-mail address and nothing else, as ola@example.farm.")
	case ByWebhook:
		u, err := url.Parse(m.To)
		p.Check(err == nil && (u.Scheme == "https" || u.Scheme == "http") && u.Hostname() != "" && u.User == nil && u.Fragment == "" && len(m.To) <= 500,
			"/to", "Give an address that begins with https://, without a name or password in it, and without a # part.")
	}
	return p.Err()
}

// Told gives where it goes as others of the farm may see it: the rest of a webhook's address may be a secret of its person.
func (m DailyMessage) Told() string {
	if u, err := url.Parse(m.To); m.Way == ByWebhook && err == nil {
		return u.Scheme + "://" + u.Host + "/…"
	}
	return m.To
}

// DayToSend gives the farm's day for which a message is to be sent at an instant, if there is one: once its hour has come, and
// only if no later day is settled than the one before. A day that has passed unsent is left out. On the day on which clocks
// skip the hour it is sent when they have; an hour that comes twice sends once, because the day is settled by then.
func DayToSend(now time.Time, zone *time.Location, hour int, settled Date) (Date, bool) {
	today := DateIn(now, zone)
	return today, today.After(settled) && now.In(zone).Hour() >= hour
}

// FirstSettled gives the day that counts as settled when a message is asked for: today if its hour has come already, so that
// the first one comes at the hour that was asked for.
func FirstSettled(now time.Time, zone *time.Location, hour int) Date {
	today := DateIn(now, zone)
	if now.In(zone).Hour() >= hour {
		return today
	}
	return today.AddDays(-1)
}
