package api_test

import (
	"net/http"
	"testing"

	"croftmark/domain"
)

// A crate that has left says to whom and on which day of the farm: at half past ten in the evening it is the next day in UTC.
func TestCrateThatLeftSaysWhere(t *testing.T) {
	t.Parallel()
	x := newField(t)
	lot := x.lot(x.radish, "2026-08-08")
	pack := x.post(domain.Crew, "/v1/pack-lots", fields{"product": "Radish", "packed_at": "2026-08-08T12:00:00-04:00", "quantity": quantity("40", "lb"), "crates": 2, "from": []fields{{"lot": lot["code"], "quantity": quantity("40", "lb")}}}).is(http.StatusCreated).fields()
	crates := pack["crate_codes"].([]any)
	buyer := x.post(domain.Lead, "/v1/customers", fields{"name": "Copper Ladle", "kind": "restaurant"}).id()
	x.post(domain.Crew, "/v1/shipments", fields{"customer_id": buyer, "shipped_at": "2026-08-08T22:30:00-04:00", "reference": fields{"type": "invoice", "number": "1"},
		"lines": []fields{{"crates": []any{crates[0]}}}}).is(http.StatusCreated)
	look := func(crate any) fields {
		return x.get(domain.Reader, "/v1/crates/"+crate.(string)).is(http.StatusOK).fields()
	}
	if a := look(crates[0]); a["shipped_to"] != "Copper Ladle" || a["shipped_on"] != "2026-08-08" || a["where"] != "shipped to Copper Ladle on 2026-08-08" {
		t.Errorf("shipped to %v on %v: %v", a["shipped_to"], a["shipped_on"], a["where"])
	}
	if a := look(crates[1]); a["shipped_to"] != nil || a["shipped_on"] != nil || a["where"] != "on the farm" {
		t.Errorf("the crate that stayed: %v, %v, %v", a["shipped_to"], a["shipped_on"], a["where"])
	}
}
