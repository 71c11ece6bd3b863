package domain

import "github.com/google/uuid"

// longestLink is for how many days a link may be given: the traceability records behind it are kept for two years
// (21 CFR 1.1455(c)), and a link is meant for one question and not for all that time.
const longestLink = 366

// BuyerLink lets one buyer see, without an account and until a day, what he got: of some shipments or some lots, and of
// nothing else. Its address is a secret that is not in the book; a void link opens nothing.
type BuyerLink struct {
	ID          uuid.UUID   `json:"id,omitzero" format:"uuid"`
	CustomerID  uuid.UUID   `json:"customer_id" format:"uuid"`
	ShipmentIDs []uuid.UUID `json:"shipment_ids,omitempty" maxItems:"100"`
	Lots        []string    `json:"lots,omitempty" maxItems:"100" doc:"Codes of lots that the buyer got."`
	ExpiresOn   Date        `json:"expires_on" format:"date" doc:"The last day on which it opens, at most 366 days ahead."`
	// LotIDs are the book's: the lots behind the codes.
	LotIDs []uuid.UUID `json:"lot_ids,omitempty"`
	Habits
}

func (x *BuyerLink) Kind() string         { return "buyer-link" }
func (x *BuyerLink) Identity() *uuid.UUID { return &x.ID }
func (x *BuyerLink) DoneOn() Date         { return Date{} }

func (x *BuyerLink) Check(today Date, p *Problems) {
	p.Check(x.CustomerID != uuid.Nil, "/customer_id", "Say which buyer it is for.")
	p.Check(len(x.ShipmentIDs)+len(x.Lots) > 0, "/shipment_ids", "Say which shipments or which lots it shows.")
	checkDistinct(p, "/shipment_ids", x.ShipmentIDs)
	p.Check(x.LotIDs == nil, "/lot_ids", "The book gives this; leave it out.")
	seen := map[string]bool{}
	for i, text := range x.Lots {
		at := "/lots/" + itoa(i)
		code, err := ParseCode(text)
		if err != nil || code.Kind == CodeKindCrate {
			p.Add(at, "%q is not a lot code; look at the label again.", text)
			continue
		}
		p.Check(!seen[code.Lot], at, "This lot is named twice.")
		seen[code.Lot] = true
	}
	switch {
	case x.ExpiresOn.IsZero():
		p.Add("/expires_on", "Give the last day on which the link opens.")
	case x.ExpiresOn.Before(today):
		p.Add("/expires_on", "%s has passed; today is %s.", x.ExpiresOn, today)
	case x.ExpiresOn.DaysSince(today) > longestLink:
		p.Add("/expires_on", "A link opens for at most %d days. Make a new one when it has ended.", longestLink)
	}
}
