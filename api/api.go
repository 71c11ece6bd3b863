package api

import (
	"context"
	"encoding/json"
	"errors"
	"log/slog"
	"net"
	"net/http"
	"reflect"
	"strings"
	"sync"
	"time"

	"github.com/danielgtaylor/huma/v2"
	"github.com/danielgtaylor/huma/v2/adapters/humaecho"
	"github.com/google/uuid"
	"github.com/labstack/echo/v4"
	"github.com/labstack/echo/v4/middleware"
	"github.com/shopspring/decimal"

	"croftmark/domain"
	"croftmark/storage"
)

// Config is what the service needs beside its database.
type Config struct {
	// PublicURL is the beginning of links on labels, for example https://book.example.farm; no slash at the end.
	PublicURL string
	Version   string
	Log       *slog.Logger
	// TrustedProxies are addresses, beside this machine's own, whose word is taken for where a request came from.
	TrustedProxies []*net.IPNet
	Limits         Limits // the usual ones where they are zero
	// FirstFarmCode lets the first farm be opened from a browser, once. Empty: not at all.
	FirstFarmCode string
	// FirstFarmTaken tells whether a farm is there by now, opened by another copy of the service; nil where there is none.
	FirstFarmTaken func(context.Context) (bool, error)
	// PhoneApp and PhoneTrust give the addresses at which a phone of the farm's network opens the app, and first learns to
	// trust it; nil or empty where there is no such address.
	PhoneApp, PhoneTrust func() string
	Letters              Letters // sends the daily messages; none are when nil
}

// Server answers HTTP requests for all farms of a database. It keeps no state but counts of who asked how often, so any
// number of copies may run.
type Server struct {
	db     *storage.DB
	config Config
	echo   *echo.Echo
	api    huma.API
	meter  *meter
	paths  map[string]string       // where records of a kind are read
	types  map[string]reflect.Type // what records of a kind are made of

	signIns, pins, public *limiter
	first                 *firstFarm
	origins               *http.CrossOriginProtection
}

// requestTimeout ends the work of a request whose caller has long given up.
const requestTimeout = 30 * time.Second

// New wires the routes.
func New(db *storage.DB, config Config) *Server {
	if config.Log == nil {
		config.Log = slog.Default()
	}
	if config.Letters == nil {
		config.Letters = noLetters{}
	}
	setUpHuma()
	s := &Server{db: db, config: config, echo: echo.New(), meter: newMeter(), paths: map[string]string{}, types: map[string]reflect.Type{}}
	s.echo.HideBanner, s.echo.HidePort = true, true
	s.signIns, s.pins, s.public = newLimiter(config.Limits.SignIns, usual.SignIns), newLimiter(config.Limits.PINs, usual.PINs), newLimiter(config.Limits.Public, usual.Public)
	s.origins = newOrigins(config.PublicURL)
	s.echo.IPExtractor = cameFrom(config.TrustedProxies)
	s.echo.HTTPErrorHandler = s.handleError
	s.echo.Use(s.log, s.recover(), secure, middleware.ContextTimeout(requestTimeout), s.limitPublic, strictBody)
	s.api = humaecho.New(s.echo, openAPI(config.Version))
	s.api.UseMiddleware(s.who, strictQuery)
	s.routes()
	jsonAlone(s.api.OpenAPI())
	return s
}

// jsonAlone takes out of the document what huma adds for every body that we decode ourselves: that it could be sent as any
// bytes. strictBody refuses that.
func jsonAlone(document *huma.OpenAPI) {
	for _, item := range document.Paths {
		if item.Post == nil || item.Post.RequestBody == nil {
			continue
		}
		if content := item.Post.RequestBody.Content; content["application/json"] != nil {
			delete(content, "application/octet-stream")
		}
	}
}

// cameFrom finds the address of a caller: who holds the connection, or, when that is a proxy of ours, whom it names.
func cameFrom(proxies []*net.IPNet) echo.IPExtractor {
	trust := []echo.TrustOption{echo.TrustLoopback(true), echo.TrustLinkLocal(false), echo.TrustPrivateNet(false)}
	for _, p := range proxies {
		trust = append(trust, echo.TrustIPRange(p))
	}
	return echo.ExtractIPFromXFFHeader(trust...)
}

// setUpHuma sets what huma keeps in package variables, once for all servers of the process: its errors become ours, and
// "Name" is not taken for "name", or a body could say both.
var setUpHuma = sync.OnceFunc(func() {
	huma.ValidateStrictCasing = true
	huma.NewError = humaError
	huma.NewErrorWithContext = func(_ huma.Context, status int, message string, errs ...error) huma.StatusError {
		return humaError(status, message, errs...)
	}
})

// openAPI begins the OpenAPI 3.1 document. Types of the book that are texts on the wire are told here once.
func openAPI(version string) huma.Config {
	c := huma.DefaultConfig("Croftmark", version)
	c.OpenAPIPath, c.DocsPath, c.SchemasPath, c.CreateHooks = "/v1/openapi", "", "", nil
	c.Info.Description = "Food-safety and harvest-traceability record book for small produce farms. " + domain.RecordHelper
	c.Components.SecuritySchemes = map[string]*huma.SecurityScheme{"token": {Type: "http", Scheme: "bearer"},
		"session": {Type: "apiKey", In: "cookie", Name: sessionCookie}}
	c.Components.Schemas.RegisterTypeAlias(reflect.TypeFor[domain.Date](), reflect.TypeFor[dateText]())
	c.Components.Schemas.RegisterTypeAlias(reflect.TypeFor[domain.Quantity](), reflect.TypeFor[quantityText]())
	c.Components.Schemas.RegisterTypeAlias(reflect.TypeFor[domain.WaterResult](), reflect.TypeFor[waterResultText]())
	c.Components.Schemas.RegisterTypeAlias(reflect.TypeFor[domain.Figure](), reflect.TypeFor[figureText]())
	c.Components.Schemas.RegisterTypeAlias(reflect.TypeFor[uuid.UUID](), reflect.TypeFor[idText]())
	c.Components.Schemas.RegisterTypeAlias(reflect.TypeFor[decimal.Decimal](), reflect.TypeFor[decimalText]())
	return c
}

type dateText string

func (dateText) Schema(huma.Registry) *huma.Schema {
	return &huma.Schema{Type: "string", Format: "date", Description: "A farm-local day."}
}

type idText string

func (idText) Schema(huma.Registry) *huma.Schema {
	return &huma.Schema{Type: "string", Format: "uuid", Description: "A UUID, version 7."}
}

type decimalText string

func (decimalText) Schema(huma.Registry) *huma.Schema {
	return &huma.Schema{Type: "string", Pattern: `^-?[0-9]+(\.[0-9]+)?$`}
}

type figureText string

func (figureText) Schema(huma.Registry) *huma.Schema {
	return &huma.Schema{Type: "string", Nullable: true, Description: "A computed number as decimal text; null while something is missing that it needs."}
}

type quantityText struct{}

func (quantityText) Schema(huma.Registry) *huma.Schema {
	units := make([]any, len(domain.UnitNames))
	for i, u := range domain.UnitNames {
		units[i] = u
	}
	no := false
	s := &huma.Schema{Type: "object", Description: `An amount as written: {"value": "12.5", "unit": "lb"}.`,
		Required: []string{"value", "unit"}, AdditionalProperties: no,
		Properties: map[string]*huma.Schema{
			"value": {Type: "string", MaxLength: ptr(30), Pattern: `^-?[0-9]+(\.[0-9]+)?$`},
			"unit":  {Type: "string", Enum: units},
		}}
	s.PrecomputeMessages()
	return s
}

type waterResultText struct{}

func (waterResultText) Schema(huma.Registry) *huma.Schema {
	s := &huma.Schema{Type: "object", Description: `A lab's result as printed: {"qualifier": "<", "value": "1", "unit": "MPN/100mL"}.`,
		Required: []string{"value", "unit"}, AdditionalProperties: false,
		Properties: map[string]*huma.Schema{
			"qualifier": {Type: "string", Enum: []any{"<", ">"}},
			"value":     {Type: "string", MaxLength: ptr(30), Pattern: `^-?[0-9]+(\.[0-9]+)?$`},
			"unit":      {Type: "string", MaxLength: ptr(60), Description: "As the lab wrote it: " + strings.Join(domain.WaterResultUnits, ", ") + "."},
		}}
	s.PrecomputeMessages()
	return s
}

func ptr[T any](v T) *T { return &v }

// Handler gives the service as a handler, for tests and for main.
func (s *Server) Handler() http.Handler { return s.echo }

// HTTPServer gives a server with all timeouts set: a slow caller can't hold a connection for ever.
func (s *Server) HTTPServer() *http.Server {
	return &http.Server{
		Handler: s.echo, ReadHeaderTimeout: 10 * time.Second, ReadTimeout: 60 * time.Second,
		WriteTimeout: 120 * time.Second, IdleTimeout: 120 * time.Second, MaxHeaderBytes: 64 << 10,
		ErrorLog: slog.NewLogLogger(s.config.Log.Handler(), slog.LevelWarn),
	}
}

// secure sets the headers that keep a browser from being led astray.
func secure(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		h := c.Response().Header()
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("X-Frame-Options", "DENY")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cache-Control", "no-store")
		h.Set("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'")
		return next(c)
	}
}

// log gives every request a number and writes one line for it, without personal data, tokens or query texts.
func (s *Server) log(next echo.HandlerFunc) echo.HandlerFunc {
	return func(c echo.Context) error {
		start := time.Now()
		id := uuid.Must(uuid.NewV7()).String()
		c.Response().Header().Set("X-Request-Id", id)
		c.SetRequest(c.Request().WithContext(context.WithValue(c.Request().Context(), requestIDKey, id)))
		err := next(c)
		if err != nil {
			c.Error(err)
		}
		took, status := time.Since(start), c.Response().Status
		s.meter.observe(c.Request().Method, c.Path(), status, took)
		s.config.Log.Info("request", "request_id", id, "method", c.Request().Method, "route", c.Path(), "status", status,
			"ms", took.Milliseconds(), "bytes", c.Response().Size)
		return nil
	}
}

// recover turns a panic into an error, and keeps its words and stack in the log.
func (s *Server) recover() echo.MiddlewareFunc {
	return middleware.RecoverWithConfig(middleware.RecoverConfig{LogErrorFunc: func(c echo.Context, err error, stack []byte) error {
		s.config.Log.Error("panic", "request_id", requestID(c.Request().Context()), "error", err, "stack", string(stack))
		return err
	}})
}

func requestID(ctx context.Context) string {
	id, _ := ctx.Value(requestIDKey).(string)
	return id
}

// handleError answers what no operation handled: unknown paths, panics, refusals of the body.
func (s *Server) handleError(err error, c echo.Context) {
	if c.Response().Committed {
		return
	}
	var httpError *echo.HTTPError
	if errors.As(err, &httpError) {
		code := codeForStatus(httpError.Code)
		detail := "There is nothing at this address. The addresses are in /v1/openapi.json."
		if httpError.Code == http.StatusMethodNotAllowed {
			detail = "This address is there, but not for that method. The methods are in /v1/openapi.json."
			if kind := s.kindAt(c.Request().URL.Path); kind != "" && c.Request().Method == http.MethodDelete {
				code, detail = domain.CodeRuleRefused, domain.WhyNotDeleted(kind)
			}
		} else if code == domain.CodeInternal {
			detail = "This is our fault, not yours. Nothing was written."
		}
		title := titles[code]
		if code == domain.CodeRuleRefused {
			title = "Not deleted"
		}
		err = &Problem{Type: typeBase + string(code), Title: title, Status: httpError.Code, Detail: detail}
	}
	p := problemOf(c.Request().Context(), err)
	c.Response().Header().Set("Content-Type", "application/problem+json")
	for name, values := range p.GetHeaders() {
		c.Response().Header()[name] = values
	}
	c.Response().WriteHeader(p.Status)
	if err := json.NewEncoder(c.Response()).Encode(p); err != nil {
		s.config.Log.Warn("answer not sent", "error", err)
	}
}

// kindAt gives the kind of the records under an address, if it is that of a collection.
func (s *Server) kindAt(path string) string {
	collection, _, _ := strings.Cut(strings.TrimPrefix(path, "/v1/"), "/")
	for kind, at := range s.paths {
		if at == collection {
			return kind
		}
	}
	return ""
}

func writeProblem(ctx huma.Context, p *Problem) {
	ctx.SetHeader("Content-Type", "application/problem+json")
	for name := range p.GetHeaders() {
		ctx.SetHeader(name, p.GetHeaders().Get(name))
	}
	ctx.SetStatus(p.Status)
	json.NewEncoder(ctx.BodyWriter()).Encode(p)
}
