package api_test

import (
	"net/http"
	"regexp"
	"slices"
	"testing"

	"github.com/labstack/echo/v4"

	"croftmark/api"
)

// besideTheDocument are the addresses that no role guards: for people who scan a label or follow a link, for browsers that
// load the app, and for whoever watches over the service. Each has its own tests of what it tells to whom.
var besideTheDocument = []string{
	"GET /L/:farm/:code", "GET /L/:farm/01/:gtin/10/:lot", "GET /L/:farm/01/:gtin/10/:lot/21/:serial",
	"GET /l/:farm/:code", "GET /l/:farm/01/:gtin/10/:lot", "GET /l/:farm/01/:gtin/10/:lot/21/:serial",
	"GET /01/:gtin/10/:lot", "GET /01/:gtin/10/:lot/21/:serial",
	"GET /B/:secret", "GET /b/:secret", "GET /calendar/:file",
	"GET /", "GET /app", "GET /app/*", "GET /phone-address", "GET /first-farm", "POST /first-farm",
	"GET /healthz", "GET /readyz", "GET /metrics",
	"GET /v1/openapi.json", "GET /v1/openapi.yaml", "GET /v1/openapi-3.0.json", "GET /v1/openapi-3.0.yaml",
}

// Every address the service answers is an operation of the document, which the table of roles holds line by line, or is
// named above.
func TestNoRouteIsOutsideTheTables(t *testing.T) {
	t.Parallel()
	known := slices.Clone(besideTheDocument)
	parameter := regexp.MustCompile(`\{(\w+)\}`)
	for _, op := range contractOf(t).operations() {
		known = append(known, op.Method+" "+parameter.ReplaceAllString(op.Path, ":$1"))
	}
	served := map[string]bool{}
	for _, r := range api.New(nil, api.Config{}).Handler().(*echo.Echo).Routes() {
		name := r.Method + " " + r.Path
		served[name] = true
		if !slices.Contains(known, name) && r.Method != echo.RouteNotFound && r.Method != http.MethodHead {
			t.Errorf("%s is neither in the document nor named as open", name)
		}
	}
	for _, name := range besideTheDocument {
		if !served[name] {
			t.Errorf("%s is named as open and not there", name)
		}
	}
}
