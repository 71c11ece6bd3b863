//go:build external

package web_test

import (
	"fmt"
	"net/http"
	"strings"
	"testing"
)

// shared lets two people take turns on one phone: each record carries the name of whoever was at it, also what was written
// without signal and goes out later.
func shared(t *testing.T, set setUp) {
	p, f := set(t)
	teo := p.s.post("/v1/people", object{"name": "Teo Ash", "initials": "TA", "role": "crew", "language": "en"})
	for person, pin := range map[string]string{f.oddNamed: "4802", teo: "7391"} {
		p.s.request(http.MethodPost, "/v1/people/"+person+"/pin", object{"pin": pin}, http.StatusCreated)
	}
	typed := func(quantity, who string) {
		t.Helper()
		for _, lot := range read[[]struct {
			Quantity struct{ Value string }
			TypedBy  string `json:"typed_by"`
			DoneBy   string `json:"done_by"`
		}](p.s, p.s.request(http.MethodGet, "/v1/harvest-lots", nil, 200)) {
			if lot.Quantity.Value == quantity {
				if lot.TypedBy != who || lot.DoneBy != who {
					t.Errorf("lot of %s: typed by %s, done by %s; not %s", quantity, lot.TypedBy, lot.DoneBy, who)
				}
				return
			}
		}
		t.Errorf("no lot of %s in the book", quantity)
	}
	cut := func(quantity string) {
		t.Helper()
		p.open("/app/cut?bed=" + f.clear)
		for _, digit := range quantity {
			p.tap(string(digit))
		}
		p.tap(eval[string](p, `[...document.querySelectorAll('form .main')].pop().innerText`))
	}
	pin := func(digits string) {
		t.Helper()
		for _, digit := range digits {
			p.tap(string(digit))
		}
	}
	p.signIn()
	p.waitFor(`navigator.serviceWorker.controller !== null`)
	p.open("/app/me")
	p.write("What is this phone called?", "Wash shed")
	p.tap("Share this phone now")
	p.sees("Who is at this phone?", "Wash shed", "Teo Ash", `שרה "Sol" <i>Vega</i>`)
	if kept := eval[string](p, storeDump); strings.Contains(kept, p.s.token) {
		t.Error("the shared phone still holds the owner's token")
	}
	p.open("/app/today") // nothing is to be had without a PIN
	p.sees("Pick yourself")
	p.tap("Teo Ash")
	pin("1111")
	p.tap("That is me")
	p.waitFor(`!!document.querySelector('.told.slip')`)
	p.taps = 0
	pin("7391")
	p.tap("That is me")
	p.sees("May be cut today")
	cut("11")
	p.sees("Lot", "11 bunches")
	typed("11", teo)

	p.taps = 0
	p.tap("css:.who", "SV")
	pin("4802")
	p.tap("That is me")
	p.sees("Se puede cortar hoy") // and in her language
	t.Logf("change over: %d taps", p.taps)
	cut("12")
	p.sees("12 manojos")
	typed("12", f.oddNamed)

	// Without signal Teo writes; it waits for his PIN, whoever is at the phone when the signal is back.
	offline(p, true)
	p.open("/app/switch")
	p.tap("Teo Ash")
	p.sees("Sin señal: no se puede revisar su PIN.")
	p.tap("Anotar sin señal")
	cut("13")
	p.sees("Waiting to be sent")
	offline(p, false)
	p.open("/app/waiting")
	p.sees("1 waiting", "A PIN is asked for")
	p.tap("css:.who", "SV")
	pin("4802")
	p.tap("That is me")
	p.sees("1 por enviar")
	if got := string(p.s.request(http.MethodGet, "/v1/harvest-lots", nil, 200)); strings.Contains(got, `"value":"13"`) {
		t.Error("what Teo wrote went out before his PIN")
	}
	p.tap("css:.who", "Teo Ash")
	pin("7391")
	p.tap("Soy yo")
	p.sees("All sent")
	typed("13", teo)

	// Signed out from afar: nothing more is sent, and the phone says so.
	sessions := read[[]struct{ ID string }](p.s, p.s.request(http.MethodGet, "/v1/sessions", nil, 200))
	p.s.request(http.MethodPost, fmt.Sprintf("/v1/sessions/%s/revoke", sessions[0].ID), object{}, http.StatusCreated)
	p.open("/app/today")
	p.sees("This phone was signed out from afar")
}
