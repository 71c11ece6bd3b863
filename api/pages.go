package api

import (
	"html/template"
	"net/http"
	"strings"

	"github.com/labstack/echo/v4"

	"croftmark/domain"
	"croftmark/storage"
)

// lotURL is what a label's QR says. It is all upper case after the host, because a QR symbol of upper-case letters needs
// fewer modules, and the service reads it in either case.
func (s *Server) lotURL(farmKey, code string) string {
	return strings.ToUpper(s.config.PublicURL) + "/L/" + farmKey + "/" + code
}

// scanned is what a person without an account sees when they scan a label: that the code is real and whose it is.
type scanned struct {
	Code, Farm, Crop string
}

var scannedPage = template.Must(template.New("scanned").Parse(`<!doctype html>
<html lang="en"><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">
<title>{{.Code}}</title>
<style>body{font:20px/1.5 system-ui,sans-serif;color:#000;background:#fff;margin:2rem auto;max-width:34rem;padding:0 1rem}
h1{font-size:1.6rem;overflow-wrap:anywhere}dt{font-weight:bold}dd{margin:0 0 1rem}</style>
<h1>{{.Code}}</h1>
<dl><dt>Farm / Granja</dt><dd>{{.Farm}}</dd><dt>Crop / Cultivo</dt><dd>{{.Crop}}</dd></dl>
<p>This label belongs to a lot in the farm's record book. To ask where it came from, name this code to the farm.</p>
<p lang="es">Esta etiqueta es de un lote en el libro de registros de la granja. Para saber de dónde viene, diga este código a la granja.</p>
</html>
`))

func (s *Server) registerPages() {
	for _, path := range []string{"/L/:farm/:code", "/l/:farm/:code"} {
		s.echo.GET(path, s.scanned)
	}
}

func (s *Server) scanned(c echo.Context) error {
	ctx := c.Request().Context()
	farm, err := s.db.FarmByKey(ctx, strings.ToUpper(c.Param("farm")))
	if err != nil {
		return domain.NotFound("lot", c.Param("code"))
	}
	a, list, err := s.lookUp(ctx, storage.Reading{Ctx: ctx, Farm: farm}, c.Param("code"))
	if err != nil {
		return err
	}
	c.Response().Header().Set("Content-Type", "text/html; charset=utf-8")
	c.Response().WriteHeader(http.StatusOK)
	return scannedPage.Execute(c.Response(), scanned{Code: a.Code, Farm: list[0].Farm, Crop: a.Crop})
}
