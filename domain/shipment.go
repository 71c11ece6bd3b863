package domain

import (
	"fmt"
	"time"

	"github.com/google/uuid"
	"github.com/shopspring/decimal"
)

// Customer is somebody who gets crates: a kitchen, a grocer, a market stand, a share list, a food bank. A market is a
// place where nobody's name is known, and still a recipient.
type Customer struct {
	ID      uuid.UUID `json:"id,omitzero" format:"uuid"`
	Name    string    `json:"name" maxLength:"120"`
	Is      string    `json:"kind" enum:"restaurant,grocer,wholesale,school,market,shares,farm-stand,food-bank,other"`
	Contact string    `json:"contact,omitempty" maxLength:"200"`
	Phone   string    `json:"phone,omitempty" maxLength:"60"`
	Email   string    `json:"email,omitempty" maxLength:"200"`
	Address string    `json:"address,omitempty" maxLength:"500"`
	Habits
}

func (x *Customer) Kind() string         { return "customer" }
func (x *Customer) Identity() *uuid.UUID { return &x.ID }
func (x *Customer) DoneOn() Date         { return Date{} }

func (x *Customer) Check(today Date, p *Problems) {
	checkName(p, "/name", x.Name)
	checkOneOf(p, "/kind", x.Is, "restaurant", "grocer", "wholesale", "school", "market", "shares", "farm-stand", "food-bank", "other")
	checkText(p, "/contact", x.Contact, 200)
	checkText(p, "/phone", x.Phone, 60)
	checkText(p, "/email", x.Email, 200)
	checkText(p, "/address", x.Address, 500)
}

// Reference is the paper that goes with a shipment, as the buyer will ask for it.
type Reference struct {
	Type   string `json:"type" enum:"invoice,bill-of-lading,purchase-order,delivery-note,load-list,share-list,donation-receipt"`
	Number string `json:"number" maxLength:"60"`
}

// ShipmentLine is what goes: crates by their codes, or so much of a lot. A line without a lot is refused the same day.
type ShipmentLine struct {
	Crates   []string `json:"crates,omitempty" maxItems:"500"`
	Lot      string   `json:"lot,omitempty" maxLength:"40"`
	Quantity Quantity `json:"quantity,omitzero"`
}

// Shipment is what left the farm, to whom, with which paper: also a market load, a share list or a donation.
type Shipment struct {
	ID         uuid.UUID      `json:"id,omitzero" format:"uuid"`
	CustomerID uuid.UUID      `json:"customer_id" format:"uuid"`
	ShippedAt  time.Time      `json:"shipped_at"`
	Reference  Reference      `json:"reference"`
	Lines      []ShipmentLine `json:"lines" minItems:"1" maxItems:"200"`
	Vehicle    string         `json:"vehicle,omitempty" maxLength:"120"`
	HandedTo   string         `json:"handed_to,omitempty" maxLength:"120"`
	// Moved is the book's: every lot and crate that left, counted in the lot's own unit.
	Moved []Moved `json:"moved,omitempty"`
	Habits
}

// Moved is one lot or crate that left or came back.
type Moved struct {
	LotID    uuid.UUID `json:"lot_id" format:"uuid"`
	Code     string    `json:"code"`
	Crate    int       `json:"crate,omitempty"`
	Quantity Quantity  `json:"quantity"`
}

func (x *Shipment) Kind() string          { return "shipment" }
func (x *Shipment) Identity() *uuid.UUID  { return &x.ID }
func (x *Shipment) DoneOn() Date          { return Date{} }
func (x *Shipment) HappenedAt() time.Time { return x.ShippedAt }

func (x *Shipment) Check(today Date, p *Problems) {
	p.Check(x.CustomerID != uuid.Nil, "/customer_id", "Say who gets it.")
	checkHour(p, "/shipped_at", x.ShippedAt, today)
	checkName(p, "/reference/number", x.Reference.Number)
	checkOneOf(p, "/reference/type", x.Reference.Type, "invoice", "bill-of-lading", "purchase-order", "delivery-note", "load-list", "share-list", "donation-receipt")
	p.Check(x.Moved == nil, "/moved", "The book gives this; leave it out.")
	checkLines(p, x.Lines)
}

func checkLines(p *Problems, lines []ShipmentLine) {
	p.Check(len(lines) > 0, "/lines", "Say what goes.")
	seen := map[string]bool{}
	for i, l := range lines {
		at := "/lines/" + itoa(i)
		byCrate, byLot := len(l.Crates) > 0, l.Lot != ""
		p.Check(byCrate != byLot, at, "Every line names its lot: either crates, or lot and quantity.")
		for j, c := range l.Crates {
			pointer := fmt.Sprintf("%s/crates/%d", at, j)
			code, err := ParseCode(c)
			if err != nil || code.Kind != CodeKindCrate {
				p.Add(pointer, "%q is not a crate code; look at the label again.", c)
				continue
			}
			p.Check(!seen[code.Text], pointer, "This crate is named twice.")
			seen[code.Text] = true
		}
		if byLot {
			if code, err := ParseCode(l.Lot); err != nil || code.Kind == CodeKindCrate {
				p.Add(at+"/lot", "%q is not a lot code; look at the label again.", l.Lot)
			}
			l.Quantity.Check(p, at+"/quantity", "1000000", Mass, Count, Volume)
		}
	}
}

// Return is what came back. The lot stays the lot: a return never gets a new name that hides the first trip.
type Return struct {
	ID         uuid.UUID      `json:"id,omitzero" format:"uuid"`
	CustomerID uuid.UUID      `json:"customer_id" format:"uuid"`
	ReturnedAt time.Time      `json:"returned_at"`
	Lines      []ShipmentLine `json:"lines" minItems:"1" maxItems:"200"`
	HoursAway  Number         `json:"hours_away,omitzero"`
	Air        Quantity       `json:"temperature,omitzero"`
	Opened     bool           `json:"opened,omitempty"`
	Decision   string         `json:"decision" enum:"stock,donate,compost,animal-feed,hold"`
	// Moved is the book's, as on a shipment.
	Moved []Moved `json:"moved,omitempty"`
	Habits
}

func (x *Return) Kind() string          { return "return" }
func (x *Return) Identity() *uuid.UUID  { return &x.ID }
func (x *Return) DoneOn() Date          { return Date{} }
func (x *Return) HappenedAt() time.Time { return x.ReturnedAt }

func (x *Return) Check(today Date, p *Problems) {
	p.Check(x.CustomerID != uuid.Nil, "/customer_id", "Say who sent it back.")
	checkHour(p, "/returned_at", x.ReturnedAt, today)
	checkOneOf(p, "/decision", x.Decision, "stock", "donate", "compost", "animal-feed", "hold")
	p.Check(x.Moved == nil, "/moved", "The book gives this; leave it out.")
	checkLines(p, x.Lines)
}

// CrateQuantity is the quantity in crate n of a lot: the stated net weight, or an equal share that adds up exactly, the
// rest going to the first crates (largest remainder; calculations reference 6). Crates that are said to hold together more
// than the lot share it too, or the last of them would be empty.
func CrateQuantity(lot Quantity, crates int, net Quantity, n int) Quantity {
	if each, err := net.In(lot.Unit); !net.IsZero() && (err != nil || !each.Mul(decimal.NewFromInt(int64(crates))).GreaterThan(lot.Value)) {
		return net
	}
	if crates < 1 {
		return lot
	}
	places := max(1, -lot.Value.Exponent()) + 1
	step := decimal.New(1, -places)
	base := lot.Value.Div(decimal.NewFromInt(int64(crates))).RoundDown(places)
	rest := lot.Value.Sub(base.Mul(decimal.NewFromInt(int64(crates)))).Div(step).IntPart()
	if int64(n) <= rest {
		base = base.Add(step)
	}
	return Quantity{base, lot.Unit}
}
