package api

import (
	"net/netip"
	"strings"
	"sync"
	"time"

	"github.com/labstack/echo/v4"
	"golang.org/x/time/rate"

	"croftmark/domain"
)

// Limits bound what one address may ask without having shown who it is. They are kept in memory, by each copy of the
// service for itself.
type Limits struct {
	// SignIns counts credentials that opened nothing. A token can't be guessed; this keeps guessing from being work.
	SignIns Limit
	// PINs counts every try of a PIN, right or wrong, because each costs work. What stops guessing is the wait of the PIN
	// itself, which does not depend on the address.
	PINs Limit
	// Public counts requests for pages that anybody may see.
	Public Limit
}

// Limit is so many at once, and one more after each while.
type Limit struct {
	AtOnce int
	Each   time.Duration
}

// usual are generous: people behind one router share an address.
var usual = Limits{SignIns: Limit{60, time.Second}, PINs: Limit{30, 2 * time.Second}, Public: Limit{240, 50 * time.Millisecond}}

// limiter holds a limit for each address.
type limiter struct {
	limit   Limit
	mu      sync.Mutex
	buckets map[netip.Prefix]*bucket
}

type bucket struct {
	*rate.Limiter
	used time.Time
}

func newLimiter(l, usual Limit) *limiter {
	if l.AtOnce == 0 {
		l = usual
	}
	return &limiter{limit: l, buckets: map[netip.Prefix]*bucket{}}
}

// mostBuckets is when addresses that have been quiet are forgotten.
const mostBuckets = 10_000

// of gives the bucket of an address. An IPv6 caller has a whole /64 to choose from, so that is what is counted.
func (l *limiter) of(address string, now time.Time) *bucket {
	var key netip.Prefix // of an address that can't be read: all of them share one
	if ip, err := netip.ParseAddr(address); err == nil {
		ip = ip.Unmap()
		bits := 64
		if ip.Is4() {
			bits = 32
		}
		key, _ = ip.Prefix(bits) // the bits fit
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	if len(l.buckets) >= mostBuckets {
		full := time.Duration(l.limit.AtOnce) * l.limit.Each
		for k, b := range l.buckets {
			if now.Sub(b.used) > full {
				delete(l.buckets, k)
			}
		}
	}
	b := l.buckets[key]
	if b == nil {
		b = &bucket{Limiter: rate.NewLimiter(rate.Every(l.limit.Each), l.limit.AtOnce)}
		l.buckets[key] = b
	}
	b.used = now
	return b
}

// take counts one more, and refuses it when it is too many.
func (l *limiter) take(address string) error {
	now := time.Now()
	if l.of(address, now).AllowN(now, 1) {
		return nil
	}
	return l.tooMany()
}

// spent refuses when nothing more would be allowed, without counting.
func (l *limiter) spent(address string) error {
	now := time.Now()
	if l.of(address, now).TokensAt(now) >= 1 {
		return nil
	}
	return l.tooMany()
}

func (l *limiter) tooMany() error {
	e := domain.Refuse(domain.CodeTooMany, "Too many tries", "Too many requests came from this address. Wait a moment and try again.")
	e.After = max(l.limit.Each, time.Second)
	return e
}

// limitPublic bounds the pages that anybody may ask for. Operations of the document are bounded where it is found out who
// asks; whether the service is well may be asked without end.
func (s *Server) limitPublic(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		path := c.Path()
		operation := strings.HasPrefix(path, "/v1/") && !strings.HasPrefix(path, "/v1/openapi")
		if operation || path == "/healthz" || path == "/readyz" || path == "/metrics" {
			return next(c)
		}
		if err := s.public.take(c.RealIP()); err != nil {
			return err
		}
		return next(c)
	}
}
