package api_test

import (
	"bytes"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"croftmark/domain"
)

// sold is a pack lot of which two buyers got some.
type sold struct {
	*field
	code, grocer, cafe, toGrocer, toCafe string
	crates                               []any
}

func newSold(t *testing.T) *sold {
	t.Helper()
	x := &sold{field: newField(t)}
	pack := x.packed(4)
	x.code, x.crates = pack["code"].(string), pack["crate_codes"].([]any)
	x.grocer = x.post(domain.Lead, "/v1/customers", fields{"name": "Corner Grocer", "kind": "grocer"}).id()
	x.cafe = x.post(domain.Lead, "/v1/customers", fields{"name": "Copper Ladle", "kind": "restaurant"}).id()
	ship := func(customer, number string, crates ...any) string {
		return x.post(domain.Crew, "/v1/shipments", fields{"customer_id": customer, "shipped_at": "2026-08-10T07:00:00-04:00",
			"reference": fields{"type": "invoice", "number": number}, "lines": []fields{{"crates": crates}}}).id()
	}
	x.toGrocer, x.toCafe = ship(x.grocer, "1001", x.crates[0], x.crates[1]), ship(x.cafe, "2002", x.crates[2])
	return x
}

// address makes the address of a link and gives its path.
func (x *sold) address(link string) string {
	x.t.Helper()
	a := x.post(domain.Lead, "/v1/buyer-links/"+link+"/address", fields{}).is(http.StatusCreated)
	u, err := url.Parse(a.text("url"))
	if err != nil || u.Scheme+"://"+u.Host != publicURL {
		x.t.Fatalf("%s: %v", a.Body, err)
	}
	return u.Path
}

func TestBuyerSeesHisOwnAndNothingElse(t *testing.T) {
	t.Parallel()
	x := newSold(t)
	x.post(domain.Crew, "/v1/returns", fields{"customer_id": x.grocer, "returned_at": "2026-08-11T07:00:00-04:00", "lines": []fields{{"crates": []any{x.crates[1]}}}, "decision": "stock"}).is(http.StatusCreated)
	for name, body := range map[string]fields{"by shipment": {"shipment_ids": []string{x.toGrocer}}, "by lot": {"lots": []string{strings.ToLower(x.code)}}} {
		link := x.post(domain.Lead, "/v1/buyer-links", with(with(body, "customer_id", x.grocer), "expires_on", "2026-12-31")).id()
		a := x.visit(x.address(link)).is(http.StatusOK)
		page := string(a.Body)
		for _, want := range []string{"Corner Grocer", x.code, "Salad mix", "2026-08-07", "2026-08-09", "1001", "20 lb", "1, 2", "devuelto", "10 lb", "<svg", "2026-12-31"} {
			if !strings.Contains(page, want) {
				t.Errorf("%s: no %q on the page", name, want)
			}
		}
		for _, secret := range []string{"Copper Ladle", "2002", x.crates[2].(string), "40 lb", "30", "Carl", "Lower 3", x.grocer, "<script"} {
			if strings.Contains(strings.ReplaceAll(facts(page), "2026-08", ""), secret) {
				t.Errorf("%s: the page tells %q", name, secret)
			}
		}
		if a.Header.Get("Cache-Control") != "no-store" || a.Header.Get("Referrer-Policy") != "no-referrer" || a.Header.Get("X-Robots-Tag") != "noindex" {
			t.Errorf("headers %v", a.Header)
		}
	}
	// What became of the lot since is told at once.
	link := x.post(domain.Lead, "/v1/buyer-links", fields{"customer_id": x.grocer, "lots": []string{x.code}, "expires_on": "2026-12-31"}).id()
	path := x.address(link)
	id := x.get(domain.Reader, "/v1/lots/"+x.code).text("lot_id")
	x.post(domain.Crew, "/v1/holds", fields{"on": fields{"lot_id": id}, "reason": "Complaint."}).is(http.StatusCreated)
	if page := string(x.visit(path).is(http.StatusOK).Body); !strings.Contains(page, "On hold: do not sell or use") || !strings.Contains(page, "HOLD: DO NOT SHIP") || strings.Contains(page, "Complaint") {
		t.Error("the hold is not told, or its reason is")
	}
}

// facts is a page without its drawing and style, whose numbers mean nothing.
func facts(page string) string {
	for _, cut := range [][2]string{{"<style>", "</style>"}, {"<g class=\"bars\"", "<g class=\"text\""}, {"<svg", ">"}} {
		for {
			before, rest, ok := strings.Cut(page, cut[0])
			_, after, closed := strings.Cut(rest, cut[1])
			if !ok || !closed {
				break
			}
			page = before + after
		}
	}
	return page
}

func TestBuyerLinkEnds(t *testing.T) {
	t.Parallel()
	x := newSold(t)
	nothing := x.visit("/L/x/y").is(http.StatusNotFound).Body
	gone := func(what, path string) {
		t.Helper()
		if a := x.visit(path); a.Status != http.StatusNotFound || !bytes.Equal(a.Body, nothing) {
			t.Errorf("%s: %d", what, a.Status)
		}
	}
	body := fields{"customer_id": x.grocer, "shipment_ids": []string{x.toGrocer}, "expires_on": "2026-11-26"}
	link := x.post(domain.Lead, "/v1/buyer-links", body).id()
	first := x.address(link)
	x.visit(first).is(http.StatusOK)
	x.visit(strings.ToLower(first)).is(http.StatusOK)
	second := x.address(link)
	gone("the address before", first)
	x.visit(second).is(http.StatusOK)
	gone("one letter off", second[:len(second)-1])
	x.clock.SetDay("2026-11-26")
	x.visit(second).is(http.StatusOK)
	x.clock.SetDay("2026-11-27")
	gone("after its last day", second)
	x.post(domain.Lead, "/v1/buyer-links/"+link+"/address", fields{}).problem(http.StatusNotFound, domain.CodeNotFound)
	x.post(domain.Lead, "/v1/buyer-links/"+link+"/corrections", fields{"reason": "He asked again.", "changes": fields{"expires_on": "2026-12-31"}}).is(http.StatusCreated)
	x.visit(second).is(http.StatusOK)
	x.post(domain.Lead, "/v1/buyer-links/"+link+"/void", fields{"reason": "Sent to the wrong person."}).is(http.StatusCreated)
	gone("a void link", second)
	if book := string(x.get(domain.Owner, "/v1/book/entries?limit=500").is(http.StatusOK).Body); strings.Contains(book, strings.TrimPrefix(second, "/B/")) {
		t.Error("the secret stands in the book")
	}
	if strings.Contains(x.log.String(), strings.TrimPrefix(second, "/B/")) {
		t.Error("the secret stands in the log")
	}
}

func TestBuyerLinkIsForWhatHeGot(t *testing.T) {
	t.Parallel()
	x := newSold(t)
	good := fields{"customer_id": x.grocer, "shipment_ids": []string{x.toGrocer}, "expires_on": "2026-12-31"}
	other := x.lot(x.radish, "2026-08-08")["code"]
	for name, row := range map[string]struct {
		body    fields
		pointer string
	}{
		"somebody else's shipment": {with(good, "shipment_ids", []string{x.toCafe}), "#/shipment_ids/0"},
		"no shipment":              {with(good, "shipment_ids", []string{newID(t)}), "#/shipment_ids/0"},
		"a lot he never got":       {with(without(good, "shipment_ids"), "lots", []any{other}), "#/lots/0"},
		"no lot":                   {with(good, "lots", []string{"26219-L3-RAD-1-SS"}), "#/lots/0"},
		"a crate":                  {with(good, "lots", x.crates[:1]), "#/lots/0"},
		"nothing":                  {without(good, "shipment_ids"), "#/shipment_ids"},
		"ended":                    {with(good, "expires_on", "2026-11-24"), "#/expires_on"},
		"for ever":                 {with(good, "expires_on", "2029-01-01"), "#/expires_on"},
		"nobody":                   {with(good, "customer_id", newID(t)), "#/customer_id"},
	} {
		t.Run(name, func(t *testing.T) {
			x.unchanged(func() {
				at(t, x.post(domain.Lead, "/v1/buyer-links", row.body).problem(http.StatusUnprocessableEntity, domain.CodeInvalid), row.pointer)
			})
		})
	}
	x.post(domain.Crew, "/v1/buyer-links", good).problem(http.StatusForbidden, domain.CodeNotAllowed)
}
