package domain

import (
	"fmt"
	"slices"
	"sort"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/shopspring/decimal"
)

// TraceStart is whatever a question starts from. However it is asked, the same lots are reached.
type TraceStart struct {
	Lot            string    `json:"lot,omitempty" maxLength:"60"`
	Crate          string    `json:"crate,omitempty" maxLength:"60"`
	Reference      string    `json:"reference,omitempty" maxLength:"60" doc:"A document number, as on the buyer's paper, in capitals or not."`
	CustomerID     uuid.UUID `json:"customer_id,omitzero" format:"uuid"`
	Crop           string    `json:"crop,omitempty" maxLength:"120"`
	On             Date      `json:"on,omitzero" format:"date" doc:"With customer_id: the day of delivery; with crop: the day of cutting, or of packing with some of that crop in it."`
	InputLotID     uuid.UUID `json:"input_lot_id,omitzero" format:"uuid"`
	InputID        uuid.UUID `json:"input_id,omitzero" format:"uuid" doc:"An input: all deliveries of it."`
	Supplier       string    `json:"supplier,omitempty" maxLength:"200"`
	CompostBatchID uuid.UUID `json:"compost_batch_id,omitzero" format:"uuid"`
	WaterSourceID  uuid.UUID `json:"water_source_id,omitzero" format:"uuid"`
	From           time.Time `json:"from,omitzero" doc:"With water_source_id: its water ran at this hour or later, if only in part; what it reached counts whenever that was cut. With bed_id: cut on this day or later. With person_id: cut or packed on this day or later, or handled at this hour or later."`
	To             time.Time `json:"to,omitzero" doc:"The other end of from."`
	BedID          uuid.UUID `json:"bed_id,omitzero" format:"uuid"`
	PersonID       uuid.UUID `json:"person_id,omitzero" format:"uuid"`
}

// check notes a start that names nothing or several things.
func (s TraceStart) check(p *Problems, pointer string) {
	n := 0
	for _, given := range []bool{s.Lot != "", s.Crate != "", s.Reference != "", s.CustomerID != uuid.Nil, s.Crop != "", s.InputLotID != uuid.Nil, s.InputID != uuid.Nil,
		s.Supplier != "", s.CompostBatchID != uuid.Nil, s.WaterSourceID != uuid.Nil, s.BedID != uuid.Nil, s.PersonID != uuid.Nil} {
		if given {
			n++
		}
	}
	p.Check(n == 1, pointer, "Name exactly one thing to start from: a lot, crate, reference, customer and day, crop and day, input, input lot, supplier, compost batch, water source, bed or person.")
	p.Check((s.CustomerID == uuid.Nil && s.Crop == "") || !s.On.IsZero(), pointer+"/on", "Give the day.")
	for name, code := range map[string]string{"lot": s.Lot, "crate": s.Crate} {
		if code != "" {
			if _, err := ParseCode(code); err != nil {
				p.Add(pointer+"/"+name, "%q is not a code of this book; look at the label again.", code)
			}
		}
	}
	p.Check(s.To.IsZero() || !s.To.Before(s.From), pointer+"/to", "That is before from.")
}

// CheckStart holds a start taken from a query to the same checks.
func CheckStart(s TraceStart) error {
	var p Problems
	s.check(&p, "")
	return p.Err()
}

// Recall is a recall, or the drill of one. A drill changes no lot; neither does a recall: lots are held by holds.
type Recall struct {
	ID    uuid.UUID  `json:"id,omitzero" format:"uuid"`
	Start TraceStart `json:"start"`
	// RandomCrate asks the book to choose a crate that has left the farm, for a drill that nobody prepared for.
	RandomCrate bool      `json:"random_crate,omitempty"`
	Drill       bool      `json:"drill"`
	Reason      string    `json:"reason" maxLength:"2000"`
	StartedAt   time.Time `json:"started_at,omitzero"`
	FinishedAt  time.Time `json:"finished_at,omitzero"`
	// Reached tells who was reached, as it goes on.
	Reached []Contacted `json:"reached,omitempty" maxItems:"500"`
	Habits
}

// Contacted is one call or letter to a recipient.
type Contacted struct {
	CustomerID uuid.UUID `json:"customer_id" format:"uuid"`
	At         time.Time `json:"at"`
	Who        string    `json:"who,omitempty" maxLength:"200"`
	Answer     string    `json:"answer,omitempty" maxLength:"1000"`
}

func (x *Recall) Kind() string          { return "recall" }
func (x *Recall) Identity() *uuid.UUID  { return &x.ID }
func (x *Recall) DoneOn() Date          { return Date{} }
func (x *Recall) HappenedAt() time.Time { return x.StartedAt }

func (x *Recall) Check(today Date, p *Problems) {
	checkReason(p, "/reason", x.Reason)
	p.Check(!x.RandomCrate || x.Drill, "/random_crate", "Only a drill starts from a random crate.")
	if !x.RandomCrate {
		x.Start.check(p, "/start")
	}
	p.Check(x.FinishedAt.IsZero() || !x.FinishedAt.Before(x.StartedAt), "/finished_at", "It finished before it started.")
}

// RecallLot is a lot in the scope of a recall, with where its quantity is.
type RecallLot struct {
	ID       uuid.UUID `json:"id" format:"uuid"`
	Kind     string    `json:"kind"`
	Code     string    `json:"code"`
	Name     string    `json:"name"`
	On       Date      `json:"on"`
	Quantity Quantity  `json:"quantity"`
	OnHand   Quantity  `json:"on_hand"`
	Shipped  Quantity  `json:"shipped"`
	Returned Quantity  `json:"returned"`
	Disposed Quantity  `json:"disposed"`
	Held     bool      `json:"held"`
	// Culls and Added are a pack lot's: what was thrown out, and what came in from lots outside the scope.
	Culls Quantity `json:"culls,omitzero"`
	Added Quantity `json:"added_from_other_lots,omitzero"`
	// WentIn is a pack lot's: all that went into it. Difference is what of that came out neither packed nor culled; below zero
	// more came out.
	WentIn     Quantity `json:"went_in,omitzero"`
	Difference Quantity `json:"packing_difference,omitzero"`
	// How is possible contact's: what was shared, and when.
	How string `json:"how,omitempty"`
	// Root says that nothing in the scope went into it: its quantity counts as made.
	Root bool `json:"root"`
}

// Recipient is somebody who got some of it.
type Recipient struct {
	CustomerID uuid.UUID  `json:"customer_id" format:"uuid"`
	Name       string     `json:"name"`
	Is         string     `json:"kind"`
	Contact    string     `json:"contact,omitempty"`
	Phone      string     `json:"phone,omitempty"`
	Email      string     `json:"email,omitempty"`
	Got        []Got      `json:"got"`
	Reached    *Contacted `json:"reached,omitempty"`
}

// Got is one delivery, or what came back of it.
type Got struct {
	LotCode   string    `json:"lot"`
	What      string    `json:"what,omitempty"` // product or crop
	Crates    []int     `json:"crates,omitempty"`
	Quantity  Quantity  `json:"quantity"`
	Reference string    `json:"reference,omitempty"`
	At        time.Time `json:"at"`
	Back      bool      `json:"back,omitempty"`
}

// PackingGap says in words what a packing run lost or gained, or nothing when its sums tie. A loss that the tolerance allowed
// at the time was still written down by nobody.
func (l RecallLot) PackingGap() string {
	if l.Difference.IsZero() || l.Difference.Value.IsZero() {
		return ""
	}
	pct := l.Difference.Value.Abs().Mul(decimal.NewFromInt(100)).DivRound(l.WentIn.Value, 1)
	if l.Difference.Value.Sign() < 0 {
		return fmt.Sprintf("%s went into lot %s and %s %s more came out (%s %%). Wash water is the usual reason; nobody wrote it down.",
			l.WentIn, l.Code, l.Difference.Value.Neg(), l.Difference.Unit, pct)
	}
	return fmt.Sprintf("%s went into lot %s and %s did not come out (%s %%). Trimming and drops are the usual reasons; nobody wrote them down.",
		l.WentIn, l.Code, l.Difference, pct)
}

// RecallBalance is made = on hand + shipped - returned + disposed + unexplained, in one unit. What is unexplained is rounded to
// a millionth, so that weights changed into pounds tie.
type RecallBalance struct {
	Unit         Unit            `json:"unit"`
	Made         decimal.Decimal `json:"made"`
	OnHand       decimal.Decimal `json:"on_hand"`
	Shipped      decimal.Decimal `json:"shipped"`
	Returned     decimal.Decimal `json:"returned"`
	Disposed     decimal.Decimal `json:"disposed"`
	Unexplained  decimal.Decimal `json:"unexplained"`
	AccountedPct decimal.Decimal `json:"accounted_pct"`
	Said         string          `json:"said"`
}

// Balances adds the lots of a scope up, unit by unit. Masses are added in pounds, because lots are weighed in what is at
// hand; counted things stay apart. The culls of packing count as disposed.
func Balances(lots []RecallLot) []RecallBalance {
	sums := map[Unit]*RecallBalance{}
	for _, l := range lots {
		unit := l.Quantity.Unit
		if m, _ := MeasureOf(unit); m == Mass {
			unit = "lb"
		}
		b := sums[unit]
		if b == nil {
			b = &RecallBalance{Unit: unit}
			sums[unit] = b
		}
		add := func(into *decimal.Decimal, q Quantity) {
			if v, err := q.In(unit); err == nil && !q.IsZero() {
				*into = into.Add(v)
			}
		}
		if l.Root {
			add(&b.Made, l.Quantity)
		}
		add(&b.Made, l.Added)
		add(&b.OnHand, l.OnHand)
		add(&b.Shipped, l.Shipped)
		add(&b.Returned, l.Returned)
		add(&b.Disposed, l.Disposed)
		add(&b.Disposed, l.Culls)
	}
	out := make([]RecallBalance, 0, len(sums))
	for _, b := range sums {
		out = append(out, b.close())
	}
	sort.Slice(out, func(i, j int) bool { return out[i].Unit < out[j].Unit })
	return out
}

// restPlaces rounds what is left of a sum over units to far below what any scale shows.
const restPlaces = 6

// RoundRest takes the crumbs of conversion off what is left of a sum; digits that a person wrote stay.
func RoundRest(rest decimal.Decimal) decimal.Decimal {
	if -rest.Exponent() > restPlaces {
		return rest.Round(restPlaces)
	}
	return rest
}

// close works out the rest. Below 100 % there is a gap; above it something was counted twice or weighed wrong, which is an
// error as well (calculations reference 6).
func (b *RecallBalance) close() RecallBalance {
	accounted := b.OnHand.Add(b.Shipped).Sub(b.Returned).Add(b.Disposed)
	b.Unexplained = RoundRest(b.Made.Sub(accounted))
	if b.Made.Sign() > 0 {
		b.AccountedPct = accounted.Mul(decimal.NewFromInt(100)).Div(b.Made).Round(2)
	}
	switch {
	case b.Unexplained.IsZero():
		b.Said = "Every " + string(b.Unit) + " is accounted for."
	case b.Unexplained.Sign() > 0:
		b.Said = fmt.Sprintf("%s %s are not accounted for: trimming, wash loss or a missing record. Say which.", b.Unexplained, b.Unit)
	default:
		b.Said = fmt.Sprintf("%s %s more are accounted for than were made: a weight or a lot is wrong.", b.Unexplained.Neg(), b.Unit)
	}
	return *b
}

// Delivered reports that something went to the recipient. Who is on record only for sending back gets no letter.
func (r Recipient) Delivered() bool {
	return slices.ContainsFunc(r.Got, func(g Got) bool { return !g.Back })
}

// RecallLetter is what to tell a recipient; what others got is not in it.
func RecallLetter(farm *Farm, r *Recall, to Recipient) string {
	var b strings.Builder
	if r.Drill {
		b.WriteString("THIS IS A DRILL. Nothing has to be sent back.\n\n")
	}
	writeLines(&b, farm.Name, farm.Address, farm.Phone)
	fmt.Fprintf(&b, "\nTo %s\n\nPlease set apart and do not sell, serve or give away:\n", to.Name)
	zone, err := Zone(farm.TimeZone)
	if err != nil {
		zone = time.UTC
	}
	back := ""
	for _, g := range to.Got {
		line := "  "
		if g.What != "" {
			line += g.What + ": "
		}
		line += fmt.Sprintf("lot %s, %s, ", g.LotCode, g.Quantity)
		if len(g.Crates) > 0 {
			line += "crates " + NumberRuns(g.Crates) + ", "
		}
		if g.Back {
			back += line + "on " + g.At.In(zone).Format(time.DateOnly) + "\n"
			continue
		}
		b.WriteString(line + "delivered " + g.At.In(zone).Format(time.DateOnly))
		if g.Reference != "" {
			fmt.Fprintf(&b, ", paper %s", g.Reference)
		}
		b.WriteString("\n")
	}
	if back != "" {
		b.WriteString("\nOf this you sent back:\n" + back)
	}
	if farm.Contact != "" || farm.ContactPhone != "" {
		fmt.Fprintf(&b, "\nCall %s.\n", strings.TrimSpace(farm.Contact+" "+farm.ContactPhone))
	}
	fmt.Fprintf(&b, "\nReason: %s\n\nTell us how much of it you still have, and who got the rest. If somebody is ill, call a doctor and the health department first.\n", r.Reason)
	return b.String()
}

// writeLines writes what is given, a line each.
func writeLines(b *strings.Builder, lines ...string) {
	for _, line := range lines {
		if strings.TrimSpace(line) != "" {
			b.WriteString(line + "\n")
		}
	}
}

// NumberRuns writes numbers in rising order as 1–10, 12, 14–15.
func NumberRuns(numbers []int) string {
	var parts []string
	for i := 0; i < len(numbers); {
		j := i
		for j+1 < len(numbers) && numbers[j+1] == numbers[j]+1 {
			j++
		}
		part := itoa(numbers[i])
		if j > i {
			part += "–" + itoa(numbers[j])
		}
		parts = append(parts, part)
		i = j + 1
	}
	return strings.Join(parts, ", ")
}
