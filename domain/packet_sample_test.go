package domain_test

import (
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"croftmark/domain"
)

var updatePacket = flag.Bool("update-packet", false, "write testdata/packet-spinach.json again")

func uid(n byte) uuid.UUID { return uuid.UUID{0: 1, 6: 0x70, 8: 0x80, 15: n} }

var (
	coop, bistro, market, pantry, grocer = uid(1), uid(2), uid(3), uid(4), uid(5)
	bedTwo, bedThree, bedUpper           = uid(11), uid(12), uid(13)
	lotSpinach                           = domain.LotCode(domain.NewDate(2026, 6, 15), "Lower Bench 2", "spinach", 1)
	lotKale                              = domain.LotCode(domain.NewDate(2026, 6, 15), "Upper 1", "kale", 1)
	lotRadish                            = domain.LotCode(domain.NewDate(2026, 6, 15), "Lower Bench 3", "radish", 1)
	packSpinach                          = domain.PackLotCode(domain.NewDate(2026, 6, 15), "spinach", 1)
	packKale                             = domain.PackLotCode(domain.NewDate(2026, 6, 15), "kale", 1)
	packMixed                            = domain.PackLotCode(domain.NewDate(2026, 6, 16), "greens", 1)
)

// samplePacket is the worked example of the traceability reference 1.8 (all invented), grown to three beds, five
// customers and forty crates.
func samplePacket() *domain.Packet {
	zone, err := domain.Zone("America/New_York")
	if err != nil {
		panic(err)
	}
	at := func(day, hour, minute int) time.Time { return time.Date(2026, 6, day, hour, minute, 0, 0, zone) }
	june := func(day int) domain.Date { return domain.NewDate(2026, 6, day) }
	days := func(n int) *int { return &n }
	q := domain.Q
	p := &domain.Packet{
		MadeAt: at(18, 9, 45),
		Farm: domain.PacketFarm{Name: "Fernglade Acres", Address: "118 Hollow Road, Marlow Notch, VT 05999", Phone: "+1-802-555-0142", Contact: "M. Peña",
			ContactPhone: "+1-802-555-0143", Key: "7QK2", TimeZone: "America/New_York", Lat: "44.1020", Lon: "-72.8810", Web: "https://t.fernglade.example",
			SourceReference: "https://fernglade.example/tlc-source"},
		Request: domain.PacketRequest{ID: uid(90), AskedBy: "State produce safety program", AskedAt: at(18, 9, 10), DueAt: at(19, 9, 10), AnsweredAt: at(18, 9, 45),
			About:  "Spinach, code " + packSpinach + ", bought 2026-06-16: where was it grown, what touched it, who else has it?",
			Answer: "It was cut on 15 June from Lower Bench 2 and 3, packed that day into 24 crates, and went to three customers; 2 crates are here and held."},
		Audience: domain.PacketAudience{Kind: domain.ForAuthority, Name: "State produce safety program"},
		Lots: []domain.PacketLot{
			{ID: uid(21), Code: lotSpinach, Kind: domain.CodeKindHarvest, Commodity: "Spinach", Variety: "Tadorna", Listed: "Leafy greens (fresh)", CutFrom: june(15), CutTo: june(15), CutAt: at(15, 6, 20),
				PlantingID: uid(31), BedIDs: []uuid.UUID{bedTwo, bedThree}, Made: q("98", "lb"), OnHand: q("0", "lb"), Crew: []string{"JA", "LT"}, Entry: 402,
				Reference: domain.Reference{Type: "field tag", Number: "FT-0615-3"}, VerdictThen: domain.Clear, VerdictNow: domain.Ask, Reasons: []string{"Water used for washing is in question since the sample of 2026-06-14."}},
			{ID: uid(22), Code: lotKale, Kind: domain.CodeKindHarvest, Commodity: "Kale", Variety: "Winterbor", Listed: "Leafy greens (fresh)", CutFrom: june(14), CutTo: june(15),
				PlantingID: uid(32), BedIDs: []uuid.UUID{bedUpper}, Made: q("62", "lb"), OnHand: q("0", "lb"), Crew: []string{"JA"}, Entry: 405, VerdictThen: domain.Clear, VerdictNow: domain.Clear},
			{ID: uid(23), Code: lotRadish, Kind: domain.CodeKindHarvest, Commodity: "Radish", CutFrom: june(15), CutTo: june(15),
				PlantingID: uid(33), BedIDs: []uuid.UUID{bedThree}, Made: q("40", "bunch"), OnHand: q("10", "bunch"), Crew: []string{"LT"}, Entry: 406, VerdictThen: domain.Clear, VerdictNow: domain.Clear},
			{ID: uid(24), Code: packSpinach, Kind: domain.CodeKindPack, Commodity: "Spinach", Variety: "Tadorna", Product: "Spinach, bunched, 4 lb waxed carton", Listed: "Leafy greens (fresh)", PackedAt: at(15, 13, 40),
				Parents: []domain.PacketParent{{Code: lotSpinach, Quantity: q("98", "lb")}}, Culls: q("2", "lb"), Made: q("96", "lb"), OnHand: q("8", "lb"), Containers: 24,
				Place: "120 Hollow Road, Marlow Notch, VT 05999", Reference: domain.Reference{Type: "pack log", Number: "PK-0615-2"}, Entry: 409, Crew: []string{"SR"}, Tank: "tank 1", Line: "table A",
				VerdictThen: domain.Clear, VerdictNow: domain.Ask, Held: true, Reasons: []string{"Water used for washing is in question since the sample of 2026-06-14."}},
			{ID: uid(25), Code: packKale, Kind: domain.CodeKindPack, Commodity: "Kale", Variety: "Winterbor", Product: "Kale, bunched, 10 lb crate", Listed: "Leafy greens (fresh)", PackedAt: at(15, 15, 5),
				Parents: []domain.PacketParent{{Code: lotKale, Quantity: q("62", "lb"), ReceivedOn: june(15)}}, Culls: q("2", "lb"), Made: q("60", "lb"), OnHand: q("0", "lb"), Containers: 6,
				Entry: 410, Crew: []string{"SR"}, Tank: "tank 1", VerdictThen: domain.Clear, VerdictNow: domain.Clear},
			{ID: uid(26), Code: packMixed, Kind: domain.CodeKindPack, Commodity: "Mixed greens", Product: "Mixed greens box, 3 lb", Listed: "Leafy greens (fresh)", PackedAt: at(16, 8, 15),
				Parents: []domain.PacketParent{{Code: packSpinach, Quantity: q("12", "lb")}, {Code: packKale, Quantity: q("18", "lb")}}, Made: q("30", "lb"), OnHand: q("0", "lb"), Containers: 10,
				Entry: 415, Crew: []string{"SR", "LT"}, VerdictThen: domain.Clear, VerdictNow: domain.Ask},
		},
		Plantings: []domain.PacketPlanting{
			{ID: uid(31), Crop: "Spinach", Variety: "Tadorna", SoilContact: domain.Touches, PlantedOn: domain.NewDate(2026, 4, 28), Method: "direct sown", BedIDs: []uuid.UUID{bedTwo, bedThree}, SeedLotIDs: []uuid.UUID{uid(41)}},
			{ID: uid(32), Crop: "Kale", Variety: "Winterbor", SoilContact: domain.Touches, PlantedOn: domain.NewDate(2026, 4, 20), Method: "transplants", BedIDs: []uuid.UUID{bedUpper}, SeedLotIDs: []uuid.UUID{uid(42)}},
			{ID: uid(33), Crop: "Radish", SoilContact: domain.Touches, PlantedOn: domain.NewDate(2026, 5, 10), Method: "direct sown", BedIDs: []uuid.UUID{bedThree}},
		},
		InputLots: []domain.PacketInputLot{
			{ID: uid(41), Name: "Spinach seed, Tadorna", Category: domain.Seed, Supplier: "Ridgeline Seed", SupplierLot: "RS-88213", ReceivedOn: domain.NewDate(2026, 2, 3), Quantity: q("2", "lb")},
			{ID: uid(42), Name: "Kale transplants", Category: domain.Transplant, Supplier: "Old Mill Nursery", SupplierLot: "T-0417", ReceivedOn: domain.NewDate(2026, 4, 17), Quantity: q("600", "each")},
			{ID: uid(43), Name: "Pelleted poultry manure", Category: domain.ProcessedManure, Supplier: "Granite State Pellet", SupplierLot: "K-551", ReceivedOn: domain.NewDate(2026, 3, 20), Quantity: q("500", "lb"), Certificate: "heat treatment, issued 2026-01-12, to 2027-01-12"},
		},
		Beds: []domain.PacketBed{
			{ID: bedTwo, Name: "Lower Bench 2", EarlierNames: []string{"Lower Bench B"}, Plot: "Lower Bench", Lat: "44.1020", Lon: "-72.8810", From: domain.NewDate(2024, 4, 1), HistoryKnown: true, History: []domain.PacketGround{
				{Kind: "application", What: "Compost, own batch C-2026-01", On: domain.NewDate(2026, 4, 12), IncorporatedOn: domain.NewDate(2026, 4, 12), BatchID: uid(51), Amount: q("1.5", "yd3"), DaysToHarvest: days(64), Lot: lotSpinach, DoneBy: "JA", Entry: 301,
					Reasons: []domain.Reason{{Rule: "us-organic.compost", Authority: domain.Law, Citation: "7 CFR 205.203(c)(2)", Verdict: domain.Clear, Text: "Composted by the book: no days to wait."}}},
				{Kind: "application", What: "Raw cow manure", On: domain.NewDate(2025, 11, 3), IncorporatedOn: domain.NewDate(2025, 11, 3), Supplier: "Hollow Dairy", Amount: q("2", "yd3"), Via: "Lower Bench B", DaysToHarvest: days(224), Lot: lotSpinach, DoneBy: "MP", Entry: 190,
					Reasons: []domain.Reason{{Rule: "us-organic.raw-manure-soil-contact", Authority: domain.Law, Citation: "7 CFR 205.203(c)(1)(ii)", Verdict: domain.Clear, Text: "120 days are asked for; 224 went by."}}},
				{Kind: "irrigation", What: "Drip, well 1", On: june(12), DoneBy: "LT", Entry: 388},
			}},
			{ID: bedThree, Name: "Lower Bench 3", Plot: "Lower Bench", Lat: "44.1021", Lon: "-72.8812", From: domain.NewDate(2024, 4, 1), HistoryKnown: true, History: []domain.PacketGround{
				{Kind: "application", What: "Pelleted poultry manure", On: domain.NewDate(2026, 4, 12), IncorporatedOn: domain.NewDate(2026, 4, 12), InputLotID: uid(43), Supplier: "Granite State Pellet", Amount: q("40", "lb"), DaysToHarvest: days(64), Lot: lotSpinach, DoneBy: "JA", Entry: 302},
				{Kind: "grazing", What: "Grazing by hens", On: domain.NewDate(2025, 10, 1), DaysToHarvest: days(239), Lot: lotRadish, Entry: 170},
			}},
			{ID: bedUpper, Name: "Upper 1", Plot: "Upper field", From: domain.NewDate(2025, 3, 1), HistoryKnown: false},
		},
		Batches: []domain.PacketBatch{{ID: uid(51), Code: "C-2026-01", Method: "turned windrow", StartedOn: domain.NewDate(2026, 1, 10), MetOn: domain.NewDate(2026, 2, 6), Turnings: 6, Standing: domain.Treated, Summary: "15 days at 131 °F or more with five turnings, met on 2026-02-06."}},
		Waters: []domain.PacketWater{{ID: uid(61), Name: "Well 1", Is: "untreated-ground", Uses: []domain.PacketWaterUse{
			{Lot: lotSpinach, Use: "irrigation-touching", Tap: "field hydrant", At: at(12, 6, 0), Verdict: domain.Clear},
			{Lot: packSpinach, Use: "washing", Tap: "wash tap", At: at(15, 12, 50), Verdict: domain.Ask, Reasons: []string{"The sample of 2026-06-14 has no result yet."}}},
			Tests: []domain.PacketWaterTest{
				{SampledAt: at(1, 8, 0), Tap: "wash tap", Analyte: "generic E. coli", Result: "< 1 MPN/100mL", Method: "SM 9223 B", Lab: "Piedmont Water Lab"},
				{SampledAt: at(14, 8, 0), Tap: "wash tap", Analyte: "generic E. coli", Method: "SM 9223 B", Lab: "Piedmont Water Lab"}}}},
		Handling: []domain.PacketHandling{
			{ID: uid(71), Lot: lotSpinach, Kind: domain.CoolingKind, Method: "cold water", At: at(15, 7, 5), Until: at(15, 7, 35), Place: "120 Hollow Road, Marlow Notch, VT 05999", TempIn: q("68", "degF"), TempOut: q("38.3", "degF"), Water: "Well 1", DoneBy: "LT", Reference: domain.Reference{Type: "cooler log", Number: "CL-0615-1"}, Entry: 403},
			{ID: uid(72), Lot: packSpinach, Kind: "washing", Method: "tank 1, double wash", At: at(15, 12, 50), Water: "Well 1", DoneBy: "SR", Entry: 408},
			{ID: uid(73), Lot: packSpinach, Kind: "cold room", At: at(15, 14, 0), TempOut: q("37", "degF"), DoneBy: "SR", Entry: 411},
			{ID: uid(74), Lot: packKale, Kind: "washing", Method: "tank 1", At: at(15, 14, 40), Water: "Well 1", DoneBy: "SR", Entry: 412},
		},
		Customers: []domain.PacketCustomer{
			{ID: coop, Name: "Copper Kettle Co-op Warehouse", Is: "wholesale", Contact: "Ines Duarte", Phone: "+1-802-555-0177", Email: "receiving@copperkettle.example", Address: "9 Mill Street, Dunmore Falls, VT 05998"},
			{ID: bistro, Name: "Bistro Larkspur", Is: "restaurant", Contact: "Chef Tomas Wren", Phone: "(802) 555-0188", Address: "41 Quarry Lane, Dunmore Falls, VT 05998"},
			{ID: market, Name: "Saturday market, Marlow Notch", Is: "market", Address: "Town green, Marlow Notch"},
			{ID: pantry, Name: "Notch Community Pantry", Is: "food-bank", Phone: "+1-802-555-0191", Address: "3 Church Street, Marlow Notch, VT 05999"},
			{ID: grocer, Name: "Dunmore Falls Grocery", Is: "grocer", Phone: "+1-802-555-0123", Address: "77 Main Street, Dunmore Falls, VT 05998"},
		},
		Disposals: []domain.PacketDisposal{{ID: uid(81), Lot: packSpinach, On: june(18), Quantity: q("4", "lb"), How: "compost", Note: "Crate that Bistro Larkspur sent back", DoneBy: "SR", Entry: 431}},
		People:    []domain.PacketPerson{{Code: "JA", Did: "cut, spread compost", TrainedOn: domain.NewDate(2026, 3, 2)}, {Code: "LT", Did: "cut, cooled", TrainedOn: domain.NewDate(2026, 3, 2)}, {Code: "SR", Did: "washed, packed", TrainedOn: domain.NewDate(2026, 5, 20)}, {Code: "MP", Did: "spread manure"}},
		Holds:     []domain.PacketHold{{ID: uid(82), On: "pack lot " + packSpinach, Lot: packSpinach, Reason: "Water result pending; Copper Kettle Co-op Warehouse told by phone", From: at(18, 9, 20), By: "MP"}},
		Alerts:    []domain.PacketAlert{{Lot: packSpinach, At: at(18, 9, 15), Then: domain.Clear, Now: domain.Ask, Text: "Judged worse than when it was packed: wash water of 15 June."}},
		Corrections: []domain.PacketCorrection{
			{Entry: 412, Of: 404, Kind: "harvest-lot", At: at(15, 17, 30), By: "JA", What: "quantity 89 lb, now 98 lb", Reason: "Two digits swapped on the phone"},
			{Entry: 421, Of: 418, Kind: "shipment", At: at(16, 18, 0), By: "MP", What: "3 crates, now 4", Reason: "Driver's sheet says 4", CustomerID: grocer},
			{Entry: 433, Of: 409, Kind: "pack-lot", At: at(18, 9, 30), By: "MP", What: "line added", Reason: "Asked by Ines  Duarte (802 555 0177) about invoice 1182 and order 12"},
		},
		LateEntries:     []domain.PacketLateEntry{{Entry: 405, Kind: "harvest-lot", DoneOn: june(15), EnteredAt: at(16, 20, 10), By: "JA", Reason: "Phone was wet"}, {Entry: 430, Kind: "return", DoneOn: june(17), EnteredAt: at(18, 8, 0), By: "MP", Reason: "Came after the office was closed", CustomerID: bistro}},
		PossibleContact: []domain.PacketContact{{Lot: packKale, How: "same wash tank (tank 1) before the next clean, 2026-06-15"}},
		KnownGaps:       []string{"The van's temperature on 16 June was not written down."},
		Checkpoint:      domain.PacketCheckpoint{Origin: "croftmark/7QK2", Size: 433, Root: "Hq1c1v0vG2y0c1nQ8z0bZ5r5l6oH1b0F5y7K9xwJd3E="},
		Proofs: []domain.PacketProof{
			{Entry: 402, Kind: "harvest-lot", Data: `{"code":"` + lotSpinach + `"}`, Leaf: "f26101db", Hashes: []string{"aa11", "bb22"}},
			{Entry: 416, Kind: "shipment", Data: `{"customer_id":"` + coop.String() + `"}`, Leaf: "cd23a38f", Hashes: []string{"cc33"}, CustomerID: coop},
			{Entry: 417, Kind: "shipment", Data: `{"customer_id":"` + bistro.String() + `"}`, Leaf: "185d26a4", Hashes: []string{"dd44"}, CustomerID: bistro},
		},
	}
	crate := func(lot string, n int, net string, where domain.CratePlace, who uuid.UUID) string {
		code := domain.CrateCode(lot, n)
		p.Crates = append(p.Crates, domain.PacketCrate{Code: code, Lot: lot, Number: n, Net: q(net, "lb"), Where: where, CustomerID: who})
		return code
	}
	crates := func(lot string, from, to int, net string, where domain.CratePlace, who uuid.UUID) (codes []string) {
		for n := from; n <= to; n++ {
			codes = append(codes, crate(lot, n, net, where, who))
		}
		return codes
	}
	toCoop := crates(packSpinach, 1, 10, "4", domain.CrateShipped, coop)
	toBistro := crates(packSpinach, 11, 15, "4", domain.CrateShipped, bistro)
	back := crates(packSpinach, 16, 16, "4", domain.CrateDisposed, uuid.Nil)
	toMarket := crates(packSpinach, 17, 19, "4", domain.CrateShipped, market)
	crates(packSpinach, 20, 21, "4", domain.CrateOnFarm, uuid.Nil)
	crates(packSpinach, 22, 24, "4", domain.CratePackedOn, uuid.Nil)
	toPantry := crates(packKale, 1, 3, "10", domain.CrateShipped, pantry)
	kaleToCoop := crates(packKale, 4, 4, "10", domain.CrateShipped, coop)
	crates(packKale, 5, 6, "10", domain.CratePackedOn, uuid.Nil)
	mixedToCoop := crates(packMixed, 1, 6, "3", domain.CrateShipped, coop)
	mixedToGrocer := crates(packMixed, 7, 10, "3", domain.CrateShipped, grocer)
	line := func(lot, amount string, unit domain.Unit, codes []string) domain.PacketLine {
		return domain.PacketLine{Lot: lot, Quantity: q(amount, unit), Crates: codes}
	}
	p.Moves = []domain.PacketMove{
		{ID: uid(101), Kind: domain.MoveShipment, CustomerID: coop, At: at(16, 10, 2), Reference: domain.Reference{Type: "bill-of-lading", Number: "BOL-0417"}, Entry: 416, DoneBy: "MP",
			Lines: []domain.PacketLine{line(packSpinach, "40", "lb", toCoop), line(packKale, "10", "lb", kaleToCoop), line(packMixed, "18", "lb", mixedToCoop)}},
		{ID: uid(102), Kind: domain.MoveShipment, CustomerID: bistro, At: at(16, 11, 30), Reference: domain.Reference{Type: "invoice", Number: "1182"}, Entry: 417, DoneBy: "MP",
			Lines: []domain.PacketLine{line(packSpinach, "24", "lb", append(toBistro, back...)), line(lotRadish, "30", "bunch", nil)}},
		{ID: uid(103), Kind: domain.MoveShipment, CustomerID: grocer, At: at(16, 12, 10), Reference: domain.Reference{Type: "invoice", Number: "12"}, Entry: 418, DoneBy: "MP", Lines: []domain.PacketLine{line(packMixed, "12", "lb", mixedToGrocer)}},
		{ID: uid(104), Kind: domain.MoveShipment, CustomerID: market, At: at(16, 6, 30), Reference: domain.Reference{Type: "load-list", Number: "SAT-24"}, Entry: 414, DoneBy: "JA", Lines: []domain.PacketLine{line(packSpinach, "12", "lb", toMarket)}},
		{ID: uid(105), Kind: domain.MoveDonation, CustomerID: pantry, At: at(16, 16, 0), Reference: domain.Reference{Type: "donation-receipt", Number: "NCP-77"}, Entry: 420, DoneBy: "JA", Lines: []domain.PacketLine{line(packKale, "30", "lb", toPantry)}},
		{ID: uid(106), Kind: domain.MoveReturn, CustomerID: bistro, At: at(17, 18, 40), Entry: 430, DoneBy: "MP", Decision: "compost", Note: "Crate opened", Lines: []domain.PacketLine{line(packSpinach, "4", "lb", back)}},
	}
	return p
}

// The sample is a golden file of the packet's JSON, and what the tests of the papers read.
func TestPacketAsJSON(t *testing.T) {
	got, err := json.MarshalIndent(samplePacket(), "", "  ")
	if err != nil {
		t.Fatal(err)
	}
	const file = "testdata/packet-spinach.json"
	if *updatePacket {
		if err := os.WriteFile(file, append(got, '\n'), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), string(got)+"\n"); diff != "" {
		t.Errorf("the packet's JSON has changed (-was +is):\n%s", diff)
	}
	var back domain.Packet
	if err := json.Unmarshal(want, &back); err != nil {
		t.Fatal(err)
	}
	again, err := json.MarshalIndent(&back, "", "  ")
	if err != nil || string(again)+"\n" != string(want) {
		t.Errorf("read and written again it is another text: %v", err)
	}
	if fmt.Sprint(back.Gaps()) != fmt.Sprint(samplePacket().Gaps()) {
		t.Error("read back, the packet has other gaps")
	}
}
