package api

import (
	"html/template"
	"net/http"
	"slices"
	"strings"

	"github.com/google/uuid"
	"github.com/labstack/echo/v4"

	"croftmark/domain"
	"croftmark/storage"
)

// lotURL is what a label's QR says. It is all upper case after the host, because a QR symbol of upper-case letters needs
// fewer modules, and the service reads it in either case.
func (s *Server) lotURL(farmKey, code string) string { return s.stem(farmKey) + "/" + code }

// stem is what the addresses on a farm's labels begin with, of its own codes and of its GS1 numbers.
func (s *Server) stem(farmKey string) string {
	return strings.ToUpper(s.config.PublicURL) + "/L/" + farmKey
}

// pageFact is a line of a page for people without an account, in both languages.
type pageFact struct{ Name, Nombre, Value string }

// scanned is what a person without an account sees when they scan a label: the code, and what the farm chose.
type scanned struct {
	Code  string
	Held  bool
	Facts []pageFact
}

const pageStyle = `<meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1"><meta name="robots" content="noindex">
<style>body{font:20px/1.5 system-ui,sans-serif;color:#000;background:#fff;margin:2rem auto;max-width:40rem;padding:0 1rem}
h1{font-size:1.6rem;overflow-wrap:anywhere}h2{font-size:1.2rem;overflow-wrap:anywhere}dt{font-weight:bold}dd{margin:0 0 1rem;white-space:pre-line}
.hold{border:.3rem solid #000;padding:1rem;font-weight:bold}svg{max-width:100%;height:auto;border:1px solid #000}
table{border-collapse:collapse}td,th{border:1px solid #000;padding:.3rem;font-size:.8rem;line-height:1.3;text-align:left;vertical-align:top}</style>`

var scannedPage = template.Must(template.New("scanned").Parse(`<!doctype html>
<html lang="en">` + pageStyle + `<title>{{.Code}}</title>
<h1>{{.Code}}</h1>
{{if .Held}}<p class="hold">On hold: do not sell or eat. Ask the farm.<br><span lang="es">Retenido: no venda ni coma. Pregunte a la granja.</span></p>
{{end}}<dl>{{range .Facts}}<dt>{{.Name}} / {{.Nombre}}</dt><dd>{{.Value}}</dd>{{end}}</dl>
<p>This label belongs to a lot in the farm's record book. To ask where it came from, name this code to the farm.</p>
<p lang="es">Esta etiqueta es de un lote en el libro de registros de la granja. Para saber de dónde viene, diga este código a la granja.</p>
</html>
`))

// nothingPage is the one answer for mistyped codes, codes that are not there, and links that have ended: who tries codes
// learns nothing from the difference.
const nothingPage = `<!doctype html>
<html lang="en">` + pageStyle + `<title>Nothing here</title>
<h1>There is nothing at this address</h1>
<p>Look at the label again, or ask the farm. A link from a farm ends after some time.</p>
<p lang="es">No hay nada en esta dirección. Mire la etiqueta otra vez, o pregunte a la granja. Un enlace de una granja vence después de un tiempo.</p>
</html>
`

// registerPages gives the pages for people without an account their addresses, in capital and in small letters.
func (s *Server) registerPages() {
	for _, l := range []string{"/L", "/l"} {
		s.echo.GET(l+"/:farm/:code", s.scanned)
		for _, serial := range []string{"", "/21/:serial"} {
			s.echo.GET(l+"/:farm/01/:gtin/10/:lot"+serial, s.scannedGS1)
		}
	}
	for _, serial := range []string{"", "/21/:serial"} {
		s.echo.GET("/01/:gtin/10/:lot"+serial, s.scannedGS1)
	}
	for _, b := range []string{"/B", "/b"} {
		s.echo.GET(b+"/:secret", s.buyerPage)
	}
}

// page sends a page; what is not found is the one page for that.
func (s *Server) page(c echo.Context, err error, draw *template.Template, content any) error {
	status := http.StatusOK
	if err != nil {
		if e, ok := err.(*domain.Error); !ok || e.Code != domain.CodeNotFound {
			return err
		}
		status = http.StatusNotFound
	}
	c.Response().Header().Set("Content-Type", "text/html; charset=utf-8")
	c.Response().Header().Set("X-Robots-Tag", "noindex")
	c.Response().WriteHeader(status)
	if status == http.StatusNotFound {
		_, err = c.Response().Write([]byte(nothingPage))
		return err
	}
	return draw.Execute(c.Response(), content)
}

func (s *Server) scanned(c echo.Context) error {
	ctx := c.Request().Context()
	farm, err := s.db.FarmByKey(ctx, strings.ToUpper(c.Param("farm")))
	if err != nil {
		return s.page(c, err, nil, nil)
	}
	f, err := s.find(storage.Reading{Ctx: ctx, Farm: farm}, c.Param("code"))
	return s.page(c, err, scannedPage, scannedOf(f))
}

// scannedGS1 answers the GS1 address of a label with the page of its crate or lot. A number of another farm's prefix, or a
// serial of another lot, is not on any label of the farm.
func (s *Server) scannedGS1(c echo.Context) error {
	f, err := s.findGS1(c)
	return s.page(c, err, scannedPage, scannedOf(f))
}

func (s *Server) findGS1(c echo.Context) (found, error) {
	none := domain.NotFound("lot", "")
	ctx := c.Request().Context()
	gtin, err := domain.ParseGTIN(c.Param("gtin"))
	if err != nil || len(c.Param("gtin")) != len(gtin) {
		return found{}, none
	}
	code, err := domain.ParseCode(c.Param("lot"))
	if err != nil || code.Kind == domain.CodeKindCrate {
		return found{}, none
	}
	if serial := c.Param("serial"); serial != "" {
		crate, err := domain.ParseCode(serial)
		if err != nil || crate.Lot != code.Lot || crate.Kind != domain.CodeKindCrate {
			return found{}, none
		}
		code = crate
	}
	farm, err := s.farmOfGS1(c, gtin, code.Lot)
	if err != nil {
		return found{}, err
	}
	f, err := s.find(storage.Reading{Ctx: ctx, Farm: farm}, code.Text)
	if err == nil && !slices.Contains(domain.GS1Prefixes(gtin), f.farm().GS1Prefix) {
		return found{}, none
	}
	return f, err
}

// farmOfGS1 finds the farm by its key where the address has one, as on our own labels, and else by the company prefix.
func (s *Server) farmOfGS1(c echo.Context, gtin, lot string) (uuid.UUID, error) {
	if key := c.Param("farm"); key != "" {
		return s.db.FarmByKey(c.Request().Context(), strings.ToUpper(key))
	}
	return s.db.FarmByGTIN(c.Request().Context(), gtin, lot)
}

// scannedOf picks what the farm chose to show.
func scannedOf(f found) scanned {
	farm, l := f.farm(), f.label("")
	out := scanned{Code: f.code.Text, Held: l.Held && farm.Shows(domain.ShowHold)}
	status := map[bool]string{true: "organic / orgánico", false: "not organic / no orgánico"}[l.Status != ""]
	for _, x := range []struct {
		fact domain.PublicFact
		line pageFact
	}{
		{domain.ShowCrop, pageFact{"Crop", "Cultivo", l.Crop}},
		{domain.ShowVariety, pageFact{"Variety", "Variedad", f.variety()}},
		{domain.ShowCutDay, pageFact{"Cut", "Corte", l.CutOn.String()}},
		{domain.ShowPackedDay, pageFact{"Packed", "Empaque", l.PackedOn.String()}},
		{domain.ShowStatus, pageFact{"Status", "Estado", status}},
		{domain.ShowBed, pageFact{"Bed", "Cama", strings.Join(f.lot.BedNames, ", ")}},
		{domain.ShowFarm, pageFact{"Farm", "Granja", l.Farm}},
		{domain.ShowPlace, pageFact{"Place", "Lugar", l.Place}},
		{domain.ShowPhone, pageFact{"Phone", "Teléfono", farm.Phone}},
	} {
		if x.line.Value != "" && farm.Shows(x.fact) {
			out.Facts = append(out.Facts, x.line)
		}
	}
	return out
}
