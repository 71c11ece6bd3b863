package api

import (
	"context"
	"errors"
	"net/http"
	"strconv"
	"time"

	"github.com/labstack/echo/v4"
	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"

	"croftmark/domain"
)

// meter counts requests by route and status. It holds no data of any farm.
type meter struct {
	registry *prometheus.Registry
	requests *prometheus.HistogramVec
}

func newMeter() *meter {
	m := &meter{registry: prometheus.NewRegistry(), requests: prometheus.NewHistogramVec(prometheus.HistogramOpts{
		Name: "croftmark_request_seconds", Help: "Time to answer a request.", Buckets: []float64{.001, .002, .005, .01, .02, .05, .1, .5, 2, 10},
	}, []string{"method", "route", "status"})}
	m.registry.MustRegister(m.requests, collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	return m
}

func (m *meter) observe(method, route string, status int, took time.Duration) {
	if route == "" {
		route, method = "none", "any" // what callers invent must not become metric names
	}
	m.requests.WithLabelValues(method, route, strconv.Itoa(status)).Observe(took.Seconds())
}

// readiness is the answer of /readyz.
type readiness struct {
	Status  string `json:"status"`
	Warning string `json:"warning,omitempty"` // what readers do not notice and somebody should see to
}

// readyPatience is how long the database may think about whether it is there. Who asks is a program that asks again.
const readyPatience = 8 * time.Second

func (s *Server) registerHealth() {
	s.echo.GET("/healthz", func(c echo.Context) error {
		return c.JSON(http.StatusOK, map[string]string{"status": "ok"})
	})
	s.echo.GET("/readyz", func(c echo.Context) error {
		ctx, cancel := context.WithTimeout(c.Request().Context(), readyPatience)
		defer cancel()
		warning, err := s.db.Ready(ctx)
		if err != nil {
			s.config.Log.Warn("not ready", "request_id", requestID(ctx), "error", err)
			if e := new(domain.Error); !errors.As(err, &e) || e.Code != domain.CodeUnavailable {
				err = domain.Refuse(domain.CodeUnavailable, titles[domain.CodeUnavailable], "The database does not answer. Try again in a moment.")
			}
			return err
		}
		return c.JSON(http.StatusOK, readiness{"ready", warning})
	})
	metrics := promhttp.HandlerFor(s.meter.registry, promhttp.HandlerOpts{})
	s.echo.GET("/metrics", echo.WrapHandler(metrics))
}
