package domain

import (
	"time"

	"github.com/google/uuid"
)

// PacketLot is a harvest lot or a pack lot.
type PacketLot struct {
	ID   uuid.UUID `json:"id,omitzero"`
	Code string    `json:"code"`
	Kind CodeKind  `json:"kind"`
	// Commodity and Variety are the crop; Product is what was packed, with size and style of the pack.
	Commodity string `json:"commodity,omitempty"`
	Variety   string `json:"variety,omitempty"`
	Product   string `json:"product,omitempty"`
	// Listed is the item of the Food Traceability List, if it is on the list.
	Listed string `json:"traceability_list_item,omitempty"`

	CutFrom    Date        `json:"cut_from,omitzero"`
	CutTo      Date        `json:"cut_to,omitzero"`
	CutAt      time.Time   `json:"cut_at,omitzero"`    // when the hour is known
	PackedAt   time.Time   `json:"packed_at,omitzero"` // pack lots
	PlantingID uuid.UUID   `json:"planting_id,omitzero"`
	BedIDs     []uuid.UUID `json:"bed_ids,omitempty"`

	// InferredFrom says from what a harvest was worked out that nobody wrote down; the beds are then only candidates.
	InferredFrom string `json:"inferred_from,omitempty"`

	Made       Quantity       `json:"made,omitzero"`
	Containers int            `json:"containers,omitempty"`
	Parents    []PacketParent `json:"parents,omitempty"`
	Culls      Quantity       `json:"culls,omitzero"` // of the packing run, out of what went in
	// OnHand is what is on the farm now. Without a unit nobody counted.
	OnHand Quantity `json:"on_hand,omitzero"`

	Place     string    `json:"place,omitempty"` // where it was packed, if not at the farm's address
	GTIN      string    `json:"gtin,omitempty"`
	Reference Reference `json:"reference,omitzero"`
	Entry     int64     `json:"entry,omitempty"`
	Crew      []string  `json:"crew,omitempty"` // initials or codes
	Tank      string    `json:"tank,omitempty"`
	Line      string    `json:"line,omitempty"`

	VerdictThen Verdict  `json:"verdict_then,omitempty"`
	VerdictNow  Verdict  `json:"verdict_now,omitempty"`
	Reasons     []string `json:"reasons,omitempty"`
	Held        bool     `json:"held,omitempty"`
}

// PacketParent is a lot that went into a pack lot.
type PacketParent struct {
	Code       string   `json:"code"`
	Quantity   Quantity `json:"quantity,omitzero"`
	ReceivedOn Date     `json:"received_on,omitzero"`
}

// PacketCrate is one labelled crate, and where it is.
type PacketCrate struct {
	Code   string   `json:"code"`
	Lot    string   `json:"lot"`
	Number int      `json:"number"`
	Net    Quantity `json:"net,omitzero"`
	// Where it is: on the farm, with the customer of CustomerID, opened to be packed on, or out of food.
	Where      CratePlace `json:"where"`
	CustomerID uuid.UUID  `json:"customer_id,omitzero"`
}

// CratePlace says where a crate is.
type CratePlace string

const (
	CrateOnFarm   CratePlace = "farm"
	CrateShipped  CratePlace = "shipped"
	CratePackedOn CratePlace = "packed-on"
	CrateDisposed CratePlace = "disposed"
)

// PacketPlanting is the crop in the ground.
type PacketPlanting struct {
	ID          uuid.UUID   `json:"id,omitzero"`
	Crop        string      `json:"crop"`
	Variety     string      `json:"variety,omitempty"`
	SoilContact SoilContact `json:"soil_contact,omitempty"`
	PlantedOn   Date        `json:"planted_on,omitzero"`
	Method      string      `json:"method,omitempty"`
	BedIDs      []uuid.UUID `json:"bed_ids,omitempty"`
	SeedLotIDs  []uuid.UUID `json:"seed_lot_ids,omitempty"`
}

// PacketInputLot is a delivery from a supplier.
type PacketInputLot struct {
	ID          uuid.UUID `json:"id,omitzero"`
	Name        string    `json:"name"`
	Category    Category  `json:"category,omitempty"`
	Supplier    string    `json:"supplier,omitempty"`
	SupplierLot string    `json:"supplier_lot,omitempty"`
	ReceivedOn  Date      `json:"received_on,omitzero"`
	Quantity    Quantity  `json:"quantity,omitzero"`
	Certificate string    `json:"certificate,omitempty"` // in words
	UsedIn      string    `json:"used_in,omitempty"`     // the batches of compost it went into
}

// PacketBed is a growing area as the grower names it, with everything its ground remembers.
type PacketBed struct {
	ID           uuid.UUID      `json:"id,omitzero"`
	Name         string         `json:"name"`
	EarlierNames []string       `json:"earlier_names,omitempty"`
	Plot         string         `json:"plot,omitempty"`
	Lat          string         `json:"lat,omitempty"`
	Lon          string         `json:"lon,omitempty"`
	From         Date           `json:"from,omitzero"`
	To           Date           `json:"to,omitzero"`
	HistoryKnown bool           `json:"history_known"`
	History      []PacketGround `json:"history,omitempty"`
}

// PacketGround is one thing that happened to the ground of a bed.
type PacketGround struct {
	Kind           string    `json:"kind"` // application, grazing, finding, irrigation, prior-use, …
	What           string    `json:"what"`
	On             Date      `json:"on,omitzero"`
	IncorporatedOn Date      `json:"incorporated_on,omitzero"`
	Supplier       string    `json:"supplier,omitempty"`
	InputLotID     uuid.UUID `json:"input_lot_id,omitzero"`
	BatchID        uuid.UUID `json:"compost_batch_id,omitzero"`
	Amount         Quantity  `json:"amount,omitzero"`
	Via            string    `json:"via,omitempty"` // the bed or plot it was written down for, if another
	// DaysToHarvest counts from the start of the clock to the first cut of Lot; nil where no clock runs.
	DaysToHarvest *int     `json:"days_to_harvest,omitempty"`
	Lot           string   `json:"lot,omitempty"`
	Reasons       []Reason `json:"reasons,omitempty"`
	DoneBy        string   `json:"done_by,omitempty"`
	Entry         int64    `json:"entry,omitempty"`
}

// PacketBatch is a compost batch in short; its own paper has the days.
type PacketBatch struct {
	ID        uuid.UUID `json:"id,omitzero"`
	Code      string    `json:"code"`
	Method    string    `json:"method,omitempty"`
	StartedOn Date      `json:"started_on,omitzero"`
	MetOn     Date      `json:"met_on,omitzero"`
	Turnings  int       `json:"turnings,omitempty"`
	Standing  Standing  `json:"standing,omitempty"`
	Summary   string    `json:"summary,omitempty"`
}

// PacketWater is a water source with the uses that reached the lots, and its samples.
type PacketWater struct {
	ID    uuid.UUID         `json:"id,omitzero"`
	Name  string            `json:"name"`
	Is    string            `json:"kind,omitempty"`
	Uses  []PacketWaterUse  `json:"uses,omitempty"`
	Tests []PacketWaterTest `json:"tests,omitempty"`
}

// PacketWaterUse is water that touched a lot or its bed, and whether it was fit for that.
type PacketWaterUse struct {
	Lot     string    `json:"lot"`
	Use     string    `json:"use"`
	Tap     string    `json:"tap,omitempty"`
	At      time.Time `json:"at,omitzero"`
	Verdict Verdict   `json:"verdict,omitempty"`
	Reasons []string  `json:"reasons,omitempty"`
}

// PacketWaterTest is a sample; no result yet is said so.
type PacketWaterTest struct {
	SampledAt time.Time `json:"sampled_at"`
	Tap       string    `json:"tap,omitempty"`
	Analyte   string    `json:"analyte"`
	Result    string    `json:"result,omitempty"`
	Method    string    `json:"method,omitempty"`
	Lab       string    `json:"lab,omitempty"`
}

// PacketHandling is what was done with a lot in the shed: cooling, washing, storing, cleaning before it, the van.
// Kind "cooling" is active cooling before the first packing, as the traceability rule means it.
type PacketHandling struct {
	ID        uuid.UUID `json:"id,omitzero"`
	Lot       string    `json:"lot"`
	Kind      string    `json:"kind"`
	Method    string    `json:"method,omitempty"`
	At        time.Time `json:"at,omitzero"`
	Until     time.Time `json:"until,omitzero"`
	Place     string    `json:"place,omitempty"` // if not at the farm's address
	TempIn    Quantity  `json:"temperature_in,omitzero"`
	TempOut   Quantity  `json:"temperature_out,omitzero"`
	Water     string    `json:"water,omitempty"` // name of the source
	DoneBy    string    `json:"done_by,omitempty"`
	Reference Reference `json:"reference,omitzero"`
	Entry     int64     `json:"entry,omitempty"`
}

// CoolingKind is the kind of handling that is a critical tracking event.
const CoolingKind = "cooling"

// PacketCustomer is somebody who got a part. Kinds are those of Customer.
type PacketCustomer struct {
	ID      uuid.UUID `json:"id"`
	Name    string    `json:"name"`
	Is      string    `json:"kind,omitempty"`
	Contact string    `json:"contact,omitempty"`
	Phone   string    `json:"phone,omitempty"`
	Email   string    `json:"email,omitempty"`
	Address string    `json:"address,omitempty"`
	GLN     string    `json:"gln,omitempty"`
}

// PacketMoveKind tells what left from what came back.
type PacketMoveKind string

const (
	MoveShipment PacketMoveKind = "shipment"
	MoveDonation PacketMoveKind = "donation"
	MoveReturn   PacketMoveKind = "return"
)

// PacketMove is one shipment, donation or return.
type PacketMove struct {
	ID         uuid.UUID      `json:"id,omitzero"`
	Kind       PacketMoveKind `json:"kind"`
	CustomerID uuid.UUID      `json:"customer_id"`
	At         time.Time      `json:"at,omitzero"`
	Reference  Reference      `json:"reference,omitzero"`
	Lines      []PacketLine   `json:"lines"`
	Decision   string         `json:"decision,omitempty"` // of a return
	Note       string         `json:"note,omitempty"`
	DoneBy     string         `json:"done_by,omitempty"`
	Entry      int64          `json:"entry,omitempty"`
}

// PacketLine is what moved of one lot, in the lot's own unit.
type PacketLine struct {
	Lot      string   `json:"lot"`
	Quantity Quantity `json:"quantity,omitzero"`
	Crates   []string `json:"crates,omitempty"`
}

// PacketFormer is every way in which the book has named customers and the papers of their shipments.
type PacketFormer struct {
	Customers []PacketCustomer
	Moves     []PacketMove
}

// PacketDisposal took quantity of a lot out of food.
type PacketDisposal struct {
	ID       uuid.UUID `json:"id,omitzero"`
	Lot      string    `json:"lot"`
	On       Date      `json:"on,omitzero"`
	Quantity Quantity  `json:"quantity"`
	How      string    `json:"kind,omitempty"`
	Note     string    `json:"note,omitempty"`
	DoneBy   string    `json:"done_by,omitempty"`
	Entry    int64     `json:"entry,omitempty"`
}

// PacketPerson is somebody who handled the lots: initials or a code, what they did, and when they were last trained before it.
type PacketPerson struct {
	Code      string `json:"code"`
	Did       string `json:"did,omitempty"`
	TrainedOn Date   `json:"trained_on,omitzero"`
	// LastOn is the last day on which they handled one of the lots.
	LastOn Date `json:"last_on,omitzero"`
}

// PacketHold is a hold on something in the packet.
type PacketHold struct {
	ID             uuid.UUID `json:"id,omitzero"`
	On             string    `json:"on"`
	Lot            string    `json:"lot,omitempty"` // if it is a lot that is held
	Reason         string    `json:"reason"`
	From           time.Time `json:"from,omitzero"`
	ReleasedAt     time.Time `json:"released_at,omitzero"`
	ReleasedReason string    `json:"released_reason,omitempty"`
	ReleasedBy     string    `json:"released_by,omitempty"`
	By             string    `json:"by,omitempty"`
}

// PacketAlert says that a lot is judged worse now than when it was cut.
type PacketAlert struct {
	Lot      string    `json:"lot"`
	At       time.Time `json:"at,omitzero"`
	Then     Verdict   `json:"then,omitempty"`
	Now      Verdict   `json:"now,omitempty"`
	Text     string    `json:"text,omitempty"`
	ClosedAt time.Time `json:"closed_at,omitzero"`
	Action   string    `json:"corrective_action,omitempty"`
}

// PacketCorrection is a correction or a void, told openly.
type PacketCorrection struct {
	Entry  int64     `json:"entry"`
	Of     int64     `json:"of"`
	Kind   string    `json:"kind"` // of the record
	Void   bool      `json:"void,omitempty"`
	At     time.Time `json:"at,omitzero"`
	By     string    `json:"by,omitempty"`
	What   string    `json:"what,omitempty"`
	Reason string    `json:"reason,omitempty"`
	// CustomerID is set when the record is about a customer; other buyers never see it.
	CustomerID uuid.UUID `json:"customer_id,omitzero"`
}

// PacketLateEntry is a record written down later than it was done.
type PacketLateEntry struct {
	Entry      int64     `json:"entry"`
	Kind       string    `json:"kind"`
	DoneOn     Date      `json:"done_on,omitzero"`
	EnteredAt  time.Time `json:"entered_at,omitzero"`
	By         string    `json:"by,omitempty"`
	Reason     string    `json:"reason,omitempty"`
	CustomerID uuid.UUID `json:"customer_id,omitzero"`
}

// PacketContact is a lot that may have been touched by the same water, line or tool.
type PacketContact struct {
	Lot string `json:"lot"`
	How string `json:"how"`
}

// PacketWithheld counts what a buyer's packet leaves out.
type PacketWithheld struct {
	Customers   int                  `json:"customers,omitempty"`
	Moves       int                  `json:"moves,omitempty"`
	Crates      int                  `json:"crates,omitempty"`
	Corrections int                  `json:"corrections,omitempty"` // and late entries
	Proofs      int                  `json:"proofs,omitempty"`
	Files       int                  `json:"files,omitempty"`
	Lines       []PacketWithheldLine `json:"lines,omitempty"`
}

// PacketWithheldLine is what other buyers got or sent back of a lot, all together.
type PacketWithheldLine struct {
	Kind     PacketMoveKind `json:"kind"`
	Lot      string         `json:"lot"`
	Quantity Quantity       `json:"quantity"`
}

// PacketProof shows that an entry stands in the book: its bytes, its leaf, and the hashes from there to the root.
type PacketProof struct {
	Entry int64  `json:"entry"`
	Kind  string `json:"kind,omitempty"`
	// Data are the bytes of the entry that the leaf is the hash of.
	Data   string   `json:"data,omitempty"`
	Leaf   string   `json:"leaf"`
	Hashes []string `json:"hashes"`
	// CustomerID is set when the entry is about a customer.
	CustomerID uuid.UUID `json:"customer_id,omitzero"`
}

// PacketCheckpoint is the state of the book that the packet was made from.
type PacketCheckpoint struct {
	Origin string `json:"origin"`
	Size   int64  `json:"size"`
	Root   string `json:"root"`
	// Note is the checkpoint as it was signed.
	Note string `json:"note,omitempty"`
}
