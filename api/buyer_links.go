package api

import (
	"context"
	"html/template"
	"net/http"
	"reflect"
	"strconv"
	"strings"
	"time"

	"github.com/danielgtaylor/huma/v2"
	"github.com/labstack/echo/v4"

	"croftmark/domain"
	"croftmark/labels"
	"croftmark/storage"
)

// addressAnswer is the address of a link. It is told once.
type addressAnswer struct {
	URL       string      `json:"url" doc:"Shown once and kept nowhere. Whoever has it sees what the link shows."`
	ExpiresOn domain.Date `json:"expires_on" doc:"The last day on which it opens."`
}

type addressOutput struct {
	Body addressAnswer
}

// addressRequest is an empty object: the link is in the path.
type addressRequest struct{}

// registerBuyerLinks gives links for buyers their routes. The record says who may see what until when and is in the book;
// the address is a secret beside it, made by an act of its own, so that a link can get a new one.
func (s *Server) registerBuyerLinks() {
	register[domain.BuyerLink](s, collection{path: "buyer-links", noun: "buyer link", create: domain.Lead, correct: domain.Lead, filters: []string{"customer_id"}, tag: "Shipping"})
	answer := s.api.OpenAPI().Components.Schemas.Schema(reflect.TypeFor[addressAnswer](), true, "BuyerAddress")
	op := s.operation(http.MethodPost, "/v1/buyer-links/{id}/address", "buyer-link-address", "Make the address of a link; the one before ends", "Shipping", domain.Lead,
		map[string]*huma.Response{"201": jsonResponse("Made.", answer)})
	handleBody(s, op, func(ctx context.Context, in *changeInput, _ *addressRequest) (*addressOutput, error) {
		secret, link, err := s.db.NewBuyerAddress(readingOf(ctx), in.ID)
		if err != nil {
			return nil, err
		}
		return &addressOutput{Body: addressAnswer{URL: s.config.PublicURL + "/B/" + secret, ExpiresOn: link.ExpiresOn}}, nil
	})
}

// buyerLot is a lot as its buyer sees it.
type buyerLot struct {
	Code  string
	Held  bool
	Facts []pageFact
	Moves []buyerMove
	Label template.HTML
}

// buyerMove is a line of a paper: what went, or came back.
type buyerMove struct {
	On, Reference, Quantity, Crates string
	Back                            bool
}

type buyerContent struct {
	Farm, Customer, Expires string
	Lots                    []buyerLot
}

var buyerPageDraw = template.Must(template.New("buyer").Parse(`<!doctype html>
<html lang="en">` + pageStyle + `<title>{{.Farm}}</title>
<h1>{{.Farm}}: {{.Customer}}</h1>
{{range .Lots}}<h2>{{.Code}}</h2>
{{if .Held}}<p class="hold">On hold: do not sell or use. Call the farm.<br><span lang="es">Retenido: no venda ni use. Llame a la granja.</span></p>
{{end}}<dl>{{range .Facts}}<dt>{{.Name}} / {{.Nombre}}</dt><dd>{{.Value}}</dd>{{end}}</dl>
<table><tr><th>Day<br>Día</th><th>Paper<br>Documento</th><th>Quantity<br>Cantidad</th><th>Crates<br>Cajas</th></tr>
{{range .Moves}}<tr><td>{{.On}}{{if .Back}}<br>back / devuelto{{end}}</td><td>{{.Reference}}</td><td>{{.Quantity}}</td><td>{{.Crates}}</td></tr>
{{end}}</table>
<p>{{.Label}}</p>
{{else}}<p>Nothing of this is on the farm's papers any more. Ask the farm.</p>
<p lang="es">Nada de esto está ya en los papeles de la granja. Pregunte a la granja.</p>
{{end}}<p>This link opens until {{.Expires}}. If somebody may be ill, call the health department first.</p>
<p lang="es">Este enlace abre hasta {{.Expires}}. Si alguien puede estar enfermo, llame primero al departamento de salud.</p>
</html>
`))

func (s *Server) buyerPage(c echo.Context) error {
	content, err := s.buyerContent(c.Request().Context(), strings.ToUpper(c.Param("secret")))
	return s.page(c, err, buyerPageDraw, content)
}

// buyerContent gathers what a link shows: the buyer's own lines, and of each lot what a label says.
func (s *Server) buyerContent(ctx context.Context, secret string) (content buyerContent, err error) {
	view, err := s.db.BuyerView(ctx, secret)
	if err != nil {
		return content, err
	}
	content.Customer, content.Expires = view.Customer, view.Expires.String()
	r := storage.Reading{Ctx: ctx, Farm: view.Farm}
	_, farm, err := s.db.Today(r)
	if err != nil {
		return content, err
	}
	zone, err := domain.Zone(farm.TimeZone)
	if err != nil {
		return content, err
	}
	content.Farm = farm.Name
	at := map[string]int{}
	for _, line := range view.Lines {
		i, seen := at[line.LotCode]
		if !seen {
			lot, err := s.buyerLot(r, line.LotCode)
			if err != nil {
				return content, err
			}
			i, content.Lots = len(content.Lots), append(content.Lots, lot)
			at[line.LotCode] = i
		}
		content.Lots[i].Moves = append(content.Lots[i].Moves, moveOf(line, zone))
	}
	return content, nil
}

func moveOf(line storage.BuyerLine, zone *time.Location) buyerMove {
	m := buyerMove{On: domain.DateIn(line.At, zone).String(), Reference: line.Reference, Quantity: line.Quantity.String(), Back: line.Back}
	var crates []string
	for _, n := range line.Crates {
		crates = append(crates, strconv.Itoa(n))
	}
	m.Crates = strings.Join(crates, ", ")
	return m
}

// buyerLot tells what a buyer must be able to hand on about a lot (21 CFR 1.1340), and shows its label. How much of it
// there was, and who else got some, is not told.
func (s *Server) buyerLot(r storage.Reading, code string) (out buyerLot, err error) {
	f, err := s.find(r, code)
	if err != nil {
		return out, err
	}
	farm, l := f.farm(), f.label("")
	out.Code, out.Held = f.code.Text, l.Held
	for _, fact := range []pageFact{
		{"Crop", "Cultivo", strings.TrimSpace(l.Crop + " " + f.variety())}, {"Cut", "Corte", l.CutOn.String()}, {"Packed", "Empaque", l.PackedOn.String()},
		{"Status", "Estado", l.Status}, {"Farm", "Granja", farm.Name}, {"Place", "Lugar", farm.Address}, {"Phone", "Teléfono", farm.Phone},
		{"Asked day and night", "A toda hora", strings.TrimSpace(farm.Contact + " " + farm.ContactPhone)},
	} {
		if fact.Value != "" {
			out.Facts = append(out.Facts, fact)
		}
	}
	s.number(f, &l)
	size, err := labels.SizeByName("4x2in")
	if err != nil {
		return out, err
	}
	drawn, err := labels.SVG(l, size, 203)
	if err != nil {
		return out, err
	}
	out.Label = template.HTML(drawn) // our own drawing, in which every text is escaped
	return out, nil
}
