package post

import (
	"bytes"
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"strconv"
	"strings"
	"syscall"
	"time"

	"croftmark/domain"
)

// The headers of a webhook. The signature is over the timestamp, a dot, and the body as it is sent.
const (
	HeaderTimestamp = "Croftmark-Timestamp" // seconds since 1970
	HeaderSignature = "Croftmark-Signature" // v1= and the HMAC-SHA256 in hexadecimal
	HeaderDelivery  = "Croftmark-Delivery"  // the same at each try of one day
)

// Sign gives the signature of a body that is sent at a time.
func Sign(secret, timestamp string, body []byte) string {
	mac := hmac.New(sha256.New, []byte(secret))
	mac.Write([]byte(timestamp + "."))
	mac.Write(body)
	return "v1=" + hex.EncodeToString(mac.Sum(nil))
}

// hooks are the clients that post to webhooks: one for https, and one for plain http, which goes to private networks only.
type hooks struct {
	secure, plain *http.Client
	agent         string
}

var errAddress = errors.New("the address lies on this machine or on a private network")
var errOpenNetwork = errors.New("without encryption it is sent to private networks only")

func newHooks(c Config) hooks {
	return hooks{agent: "croftmark/" + c.Version,
		secure: hookClient(c, func(ip netip.Addr) error {
			if c.WebhookPrivate || isPublic(ip) {
				return nil
			}
			return errAddress
		}),
		plain: hookClient(c, func(ip netip.Addr) error {
			if !isPublic(ip) {
				return nil
			}
			return errOpenNetwork
		})}
}

// hookClient makes a client that looks at the address it really connects to, after the name was resolved: a name that
// changes between asking and connecting gains nothing. It uses no proxy, and follows no redirect.
func hookClient(c Config, allow func(netip.Addr) error) *http.Client {
	dialer := &net.Dialer{Timeout: 10 * time.Second, Control: func(_, address string, _ syscall.RawConn) error {
		at, err := netip.ParseAddrPort(address)
		if err != nil {
			return err
		}
		return allow(at.Addr())
	}}
	transport := &http.Transport{DialContext: dialer.DialContext, TLSClientConfig: c.tls, TLSHandshakeTimeout: 10 * time.Second,
		ResponseHeaderTimeout: 15 * time.Second, MaxResponseHeaderBytes: 16 << 10, DisableKeepAlives: true, ForceAttemptHTTP2: true}
	return &http.Client{Transport: transport, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
}

// notPublic are networks that lead nowhere or back inside, beside those that netip knows: carriers' own (RFC 6598), protocol
// assignments and examples (RFC 5736, 5737, 3849), benchmarks (RFC 2544), reserved (RFC 1112), and IPv6 that wraps IPv4
// (RFC 4380, 3056, 6052).
var notPublic = networks("0.0.0.0/8", "100.64.0.0/10", "192.0.0.0/24", "192.0.2.0/24", "192.88.99.0/24", "198.18.0.0/15", "198.51.100.0/24", "203.0.113.0/24",
	"240.0.0.0/4", "::/96", "64:ff9b::/96", "64:ff9b:1::/48", "100::/64", "2001::/23", "2001:db8::/32", "2002::/16", "fec0::/10")

func networks(texts ...string) (list []netip.Prefix) {
	for _, t := range texts {
		list = append(list, netip.MustParsePrefix(t))
	}
	return list
}

// isPublic reports whether an address is one of the open internet.
func isPublic(ip netip.Addr) bool {
	ip = ip.Unmap().WithZone("")
	for _, n := range notPublic {
		if n.Contains(ip) {
			return false
		}
	}
	return ip.IsGlobalUnicast() && !ip.IsPrivate()
}

// post sends a letter as JSON, signed. Any answer of 2xx is taken; what else it says is not read out to anybody.
func (h hooks) post(ctx context.Context, l domain.DailyLetter) error {
	body, err := l.JSON()
	if err != nil {
		return err
	}
	request, err := http.NewRequestWithContext(ctx, http.MethodPost, l.To.To, bytes.NewReader(body))
	if err != nil {
		return errors.New("the address can't be read")
	}
	timestamp := strconv.FormatInt(l.SentAt.Unix(), 10)
	request.Header.Set("Content-Type", "application/json")
	request.Header.Set("User-Agent", h.agent)
	request.Header.Set(HeaderTimestamp, timestamp)
	request.Header.Set(HeaderSignature, Sign(l.Secret, timestamp, body))
	request.Header.Set(HeaderDelivery, name(l))
	client := h.secure
	if strings.EqualFold(request.URL.Scheme, "http") {
		client = h.plain
	}
	response, err := client.Do(request)
	if err != nil {
		return hookFailure(err)
	}
	defer response.Body.Close()
	if _, err := io.CopyN(io.Discard, response.Body, 4<<10); err != nil && !errors.Is(err, io.EOF) {
		return errors.New("the webhook broke off its answer")
	}
	switch {
	case response.StatusCode >= 300 && response.StatusCode < 400:
		return fmt.Errorf("the webhook answered %d: it points elsewhere, and redirects are not followed", response.StatusCode)
	case response.StatusCode < 200 || response.StatusCode > 299:
		return fmt.Errorf("the webhook answered %d", response.StatusCode)
	}
	return nil
}

// hookFailure tells a failure without the address, which may be a secret.
func hookFailure(err error) error {
	for _, ours := range []error{errAddress, errOpenNetwork} {
		if errors.Is(err, ours) {
			return ours
		}
	}
	var timeout interface{ Timeout() bool }
	if errors.As(err, &timeout) && timeout.Timeout() {
		return errors.New("the webhook did not answer in time")
	}
	var inner *url.Error
	if errors.As(err, &inner) {
		err = inner.Err
	}
	var lookup *net.DNSError
	var network *net.OpError
	switch {
	case errors.As(err, &lookup):
		return errors.New("the name of the webhook is not known")
	case errors.As(err, &network):
		return errors.New("the webhook can't be reached")
	}
	return fmt.Errorf("the webhook could not be spoken to: %w", err)
}
