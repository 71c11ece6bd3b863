package api

import (
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

func (s *Server) registerHealth() {
	s.echo.GET("/healthz", func(c echo.Context) error {
		return c.JSON(http.StatusOK, map[string]string{"status": "ok"})
	})
	s.echo.GET("/readyz", func(c echo.Context) error {
		if err := s.db.Ping(c.Request().Context()); err != nil {
			s.config.Log.Warn("not ready", "request_id", requestID(c.Request().Context()), "error", err)
			return domain.Refuse(domain.CodeUnavailable, titles[domain.CodeUnavailable], "The database does not answer. Try again in a moment.")
		}
		return c.JSON(http.StatusOK, map[string]string{"status": "ready"})
	})
	metrics := promhttp.HandlerFor(s.meter.registry, promhttp.HandlerOpts{})
	s.echo.GET("/metrics", echo.WrapHandler(metrics))
}
