package domain

import (
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
)

// Packet is everything an answer to a traceback request holds, as plain data: what the book knows about the lots in
// question, from the seed and the ground to whoever got them. It is filled from the book, never typed, and every paper
// and file of the answer is made from it.
//
// People stand in it by initials or codes only. It has no room for health facts, and none may be put into its texts.
type Packet struct {
	MadeAt   time.Time      `json:"made_at"`
	Farm     PacketFarm     `json:"farm"`
	Request  PacketRequest  `json:"request"`
	Audience PacketAudience `json:"audience"`

	// Lots are the lots in question with every lot they were packed from; parents may stand anywhere in the list.
	Lots      []PacketLot      `json:"lots"`
	Crates    []PacketCrate    `json:"crates,omitempty"`
	Plantings []PacketPlanting `json:"plantings,omitempty"`
	// InputLots are deliveries: seed, transplants, amendments.
	InputLots []PacketInputLot `json:"input_lots,omitempty"`
	Beds      []PacketBed      `json:"beds,omitempty"`
	Batches   []PacketBatch    `json:"compost_batches,omitempty"`
	Waters    []PacketWater    `json:"water_sources,omitempty"`
	Handling  []PacketHandling `json:"handling,omitempty"`

	Customers []PacketCustomer `json:"customers,omitempty"`
	Moves     []PacketMove     `json:"moves,omitempty"`
	Disposals []PacketDisposal `json:"disposals,omitempty"`
	People    []PacketPerson   `json:"people,omitempty"`

	Holds       []PacketHold       `json:"holds,omitempty"`
	Alerts      []PacketAlert      `json:"alerts,omitempty"`
	Corrections []PacketCorrection `json:"corrections,omitempty"`
	LateEntries []PacketLateEntry  `json:"late_entries,omitempty"`
	// PossibleContact are lots that share a tank, a line, a cooler or a tool with the lots in question and no ground.
	PossibleContact []PacketContact `json:"possible_contact,omitempty"`

	// Files are photos, lab reports and certificates of what the packet speaks of, for the authority only: they can't be
	// searched for other buyers' names.
	Files []PacketFile `json:"files,omitempty"`

	// Former is how customers and papers were written before they were corrected. It is in no file, and only there to strike
	// other buyers out by.
	Former PacketFormer `json:"-"`

	// KnownGaps are said by whoever filled the packet; Gaps adds what the packet itself shows to be missing.
	KnownGaps  []string         `json:"known_gaps,omitempty"`
	Withheld   PacketWithheld   `json:"withheld,omitzero"`
	Proofs     []PacketProof    `json:"proofs,omitempty"`
	Checkpoint PacketCheckpoint `json:"checkpoint,omitzero"`
}

// PacketFarm is whose book it is, with the location description that the traceability rule asks for: business name,
// phone, street address or coordinates, city, state, postal code.
type PacketFarm struct {
	Name         string `json:"name"`
	Address      string `json:"address,omitempty"`
	Phone        string `json:"phone,omitempty"`
	Contact      string `json:"contact,omitempty"` // who answers the phone at any hour
	ContactPhone string `json:"contact_phone,omitempty"`
	Key          string `json:"key,omitempty"`
	TimeZone     string `json:"time_zone"`
	Lat          string `json:"lat,omitempty"`
	Lon          string `json:"lon,omitempty"`
	// Web is an address of the farm's own, https://host or https://host/path: ids in files for machines begin with it.
	Web string `json:"web,omitempty"`
	// GS1Prefix and GLN are licensed numbers, or empty.
	GS1Prefix string `json:"gs1_prefix,omitempty"`
	GLN       string `json:"gln,omitempty"`
	// SourceReference stands in for the farm's location in what buyers get (21 CFR 1.1310).
	SourceReference string `json:"source_reference,omitempty"`
}

// PacketRequest is the question as it was received, and the answer in one sentence.
type PacketRequest struct {
	ID         uuid.UUID `json:"id,omitzero"`
	AskedBy    string    `json:"asked_by,omitempty"`
	AskedAt    time.Time `json:"asked_at,omitzero"`
	DueAt      time.Time `json:"due_at,omitzero"`
	AnsweredAt time.Time `json:"answered_at,omitzero"`
	About      string    `json:"about,omitempty"`
	Answer     string    `json:"answer,omitempty"`
}

// PacketAudienceKind says who reads the packet.
type PacketAudienceKind string

const (
	ForAuthority PacketAudienceKind = "authority"
	ForOneBuyer  PacketAudienceKind = "buyer"
)

// PacketAudience is who reads the packet. A buyer's packet names no other buyer.
type PacketAudience struct {
	Kind       PacketAudienceKind `json:"kind"`
	CustomerID uuid.UUID          `json:"customer_id,omitzero"`
	Name       string             `json:"name,omitempty"`
}

// Zone is the farm's zone; UTC if the packet names none that is known, which Gaps then says.
func (p *Packet) Zone() *time.Location {
	if z, err := Zone(p.Farm.TimeZone); err == nil {
		return z
	}
	return time.UTC
}

// Lot finds a lot by its code.
func (p *Packet) Lot(code string) *PacketLot {
	if i := slices.IndexFunc(p.Lots, func(l PacketLot) bool { return l.Code == code }); i >= 0 {
		return &p.Lots[i]
	}
	return nil
}

// Customer finds a customer.
func (p *Packet) Customer(id uuid.UUID) *PacketCustomer {
	if i := slices.IndexFunc(p.Customers, func(c PacketCustomer) bool { return c.ID == id }); i >= 0 {
		return &p.Customers[i]
	}
	return nil
}

// Bed finds a bed.
func (p *Packet) Bed(id uuid.UUID) *PacketBed {
	if i := slices.IndexFunc(p.Beds, func(b PacketBed) bool { return b.ID == id }); i >= 0 {
		return &p.Beds[i]
	}
	return nil
}

// Planting finds a planting.
func (p *Packet) Planting(id uuid.UUID) *PacketPlanting {
	if i := slices.IndexFunc(p.Plantings, func(x PacketPlanting) bool { return x.ID == id }); i >= 0 {
		return &p.Plantings[i]
	}
	return nil
}

// CratesOf lists the crates of a lot by number.
func (p *Packet) CratesOf(lot string) (out []PacketCrate) {
	for _, c := range p.Crates {
		if c.Lot == lot {
			out = append(out, c)
		}
	}
	slices.SortStableFunc(out, func(a, b PacketCrate) int { return a.Number - b.Number })
	return out
}

// StraightToConsumers reports that the food went straight to those who eat it, where nobody's name is known.
func (c *PacketCustomer) StraightToConsumers() bool {
	return c.Is == "market" || c.Is == "shares" || c.Is == "farm-stand"
}

// Location is the location description of 21 CFR 1.1310 in one line.
func (f *PacketFarm) Location() string { return f.at("") }

// at is the location of a place of the farm: its own words, with the farm's name and phone.
func (f *PacketFarm) at(place string) string {
	address := f.Address
	if place != "" {
		address = place
	}
	if address == "" && f.Lat != "" && f.Lon != "" {
		address = f.Lat + ", " + f.Lon
	}
	return describe(f.Name, f.Phone, address)
}

// located reports that the description has all that the rule asks for.
func (f *PacketFarm) located() bool {
	return f.Name != "" && f.Phone != "" && (f.Address != "" || f.Lat != "" && f.Lon != "")
}

// Location is the customer's location description in one line.
func (c *PacketCustomer) Location() string { return describe(c.Name, c.Phone, c.Address) }

func describe(parts ...string) string {
	var given []string
	for _, p := range parts {
		if p = strings.Join(strings.Fields(p), " "); p != "" {
			given = append(given, p)
		}
	}
	return strings.Join(given, "; ")
}

// FieldName is the growing area as the grower names it: plot and bed.
func (b *PacketBed) FieldName() string {
	if b.Plot == "" || strings.Contains(strings.ToLower(b.Name), strings.ToLower(b.Plot)) {
		return b.Name
	}
	return b.Plot + ", " + b.Name
}
