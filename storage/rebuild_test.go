package storage_test

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"slices"
	"strconv"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"pgregory.net/rapid"

	"croftmark/domain"
	"croftmark/storage"
)

// rich is a book with records of every kind, and corrections, voids, reviews, re-layings and late records among them.
type rich struct {
	*shed
	batch, well, heldLot, person, planting, recall, request, illness, link uuid.UUID
	mix                                                                    *domain.PackLot

	// Who may come in, once phone was called.
	token, cookie string
	only          string // hash of a file that no other farm has
	shown         storage.Credential
	session       storage.Session
}

func newRich(t *testing.T) *rich {
	r := &rich{shed: newShed(t)}
	f := r.field
	lead := f.person("Lee", domain.Lead)
	r.person = f.person("Cory", domain.Crew).PersonID

	// Ground: applications on beds and on the plot, grazings, a pause with its end, a hold and its release, two re-layings.
	late := f.spread(f.manure, "2025-04-01", "2025-04-10", f.bed)
	f.correct("application", late, `{"incorporated_on": "2025-04-12", "note": "north end first"}`)
	f.correct("application", f.spread(f.manure, "2025-04-02", "", f.bed), `{"method": "incorporated", "incorporated_on": "2025-04-20"}`)
	wrong := f.spread(f.manure, "2026-10-01", "2026-10-02", f.bed)
	_, err := f.void("application", wrong)
	mustBe(t, err)
	f.write(&domain.Application{Source: domain.Source{InputLotID: f.manure}, Ground: domain.Ground{PlotID: f.plot}, AppliedOn: day("2024-05-01"),
		IncorporatedOn: day("2024-05-02"), Method: "incorporated", Amount: domain.Q("0.5", "yd3"), TouchedCrop: domain.TouchedNo})
	open := f.write(&domain.Grazing{Species: "hens", Ground: domain.Ground{BedIDs: ids(f.bed)}, From: day("2025-09-01")})
	f.correct("grazing", open, `{"to": "2025-09-20"}`)
	gone := f.write(&domain.Grazing{Species: "geese", Ground: domain.Ground{PlotID: f.plot}, From: day("2025-10-01"), To: day("2025-10-02")})
	_, err = f.void("grazing", gone)
	mustBe(t, err)
	second := f.relay("2026-01-10", f.bed, "Slope 1")
	third := f.relay("2026-02-10", second, "Slope 2")
	f.correct("bed", third, `{"name": "Slope two", "length": {"value": "100", "unit": "ft"}}`)
	pause := f.write(&domain.BedProduction{BedID: third, On: day("2026-03-01"), Reason: "flooded"})
	f.correct("bed-production", pause, `{"reason": "standing water"}`)
	end := f.write(&domain.BedProduction{BedID: third, On: day("2026-03-20"), InProduction: true, Reason: "dry"})
	f.write(&domain.BedProduction{BedID: f.bed, On: day("2025-11-01"), Reason: "rest"})
	_, err = f.void("bed-production", f.write(&domain.BedProduction{BedID: third, On: day("2026-03-25"), Reason: "a slip"}))
	mustBe(t, err)
	f.correct("bed-production", end, `{"on": "2026-03-21"}`)

	// Crops, plantings, harvests: clear, refused, already cut, over two beds; disposals; labels.
	radish := f.plant("radish", domain.Touches, "2026-04-15", third)
	r.planting = radish
	f.correct("planting", radish, `{"expected_harvest_on": "2026-05-20", "method": "direct seeded"}`)
	f.write(&domain.Planting{CropID: f.write(&domain.Crop{Name: "kale", SoilContact: domain.HeldClear}), BedIDs: ids(third), PlantedOn: day("2026-04-16"), SeedLotID: f.delivery("seed", nil), EndedOn: day("2026-09-01")})
	lot := f.lot(radish, "2026-06-20", third)
	lot.CutOn, lot.CutFrom, lot.CutTo, lot.Crew = domain.Date{}, day("2026-06-20"), day("2026-06-22"), ids(r.person)
	f.write(lot)
	f.correct("harvest-lot", lot.ID, `{"containers": 4, "quantity": {"value": "41.50", "unit": "lb"}}`)
	f.write(&domain.Disposal{LotID: lot.ID, On: day("2026-06-23"), Quantity: domain.Q("2.5", "lb"), How: "compost"})
	_, err = f.void("disposal", f.write(&domain.Disposal{LotID: lot.ID, On: day("2026-06-24"), Quantity: domain.Q("3", "lb"), How: "discard"}))
	mustBe(t, err)
	f.write(&domain.LabelPrint{LotID: lot.ID, Size: "4x2in", Copies: 12})
	f.write(&domain.LabelDiscard{LotID: lot.ID, Spoiled: 2, Reason: "smeared"})
	lost := f.write(&domain.LostLabel{FoundAt: at("2026-06-21", 9), Where: "third stop", May: []string{lot.Code}, Decision: "set-aside"})
	f.correct("lost-label", lost, `{"decision": "identified", "evidence": "one crate of the load list is missing"}`)
	f.spread(f.manure, "2026-07-01", "2026-07-05", third)
	_, err = f.record(f.lot(radish, "2026-07-20", third))
	refused(t, err)
	already := f.lot(radish, "2026-07-21", third)
	already.AlreadyCut = true
	f.write(already)
	r.heldLot = already.ID
	late2, err := f.record(f.application(f.manure, "2026-05-28", "2026-05-28", third)) // late: reaches both lots
	mustBe(t, err)
	if len(late2.Rejudged) == 0 {
		t.Fatal("the late application reached nothing")
	}

	hold := f.write(&domain.Hold{On: domain.HoldTarget{BedID: third}, Reason: "a complaint", Habits: domain.Habits{DoneAt: at("2026-06-01", 9)}})
	f.correct("hold", hold, `{"reason": "a louder complaint"}`)
	f.write(&domain.Release{HoldID: hold, Reason: "answered", Habits: domain.Habits{DoneAt: at("2026-06-20", 9)}})
	f.write(&domain.Hold{On: domain.HoldTarget{InputLotID: f.manure}, Reason: "supplier's letter"})
	f.correct("input", f.inputOf(f.manure), `{"species": "cattle"}`)
	f.correct("input-lot", f.manure, `{"supplier_lot": "K8"}`)
	f.correct("crop", f.cropOf(radish), `{"variety": "Red Head"}`)
	f.correct("plot", f.plot, `{"prior_use": [{"kind": "pasture", "until": "2020-01-01"}]}`)
	f.correct("farm", f.actor.FarmID, `{"phone": "555 0100", "gs1_prefix": "0614141", "standards": [{"set": "us-organic", "from": "2002-10-21"}, {"set": "us-produce-safety", "from": "2018-01-26"}]}`)
	f.correct("person", r.person, `{"language": "es"}`)
	_, err = f.db.Review(ctx, lead, nil, "application", late, "seen")
	mustBe(t, err)

	r.logs(lot.Code, third)
	r.packing()
	r.compost()
	r.water(lot.ID, third)
	return r
}

func mustBe(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

func (f *field) cropOf(planting uuid.UUID) uuid.UUID {
	f.t.Helper()
	rec, err := f.db.ReadRecord(ctx, f.actor.FarmID, "planting", planting)
	mustBe(f.t, err)
	var p domain.Planting
	decode(f.t, rec.Body, &p)
	return p.CropID
}

func (r *rich) compost() {
	f := r.field
	f.write(&domain.InputLot{InputID: f.inputOf(f.manure), Supplier: "Barn", ReceivedOn: day("2024-03-01"), Quantity: domain.Q("6", "yd3")})
	held := f.manure
	f.manure = f.delivery("aged-manure", &domain.Certificate{IssuedOn: day("2024-01-01"), Process: "windrow"})
	r.batch = f.counted("Heap 1")
	f.manure = held
	f.write(&domain.CompostTurning{BatchID: r.batch, TurnedAt: at("2026-03-03", 9)})
	animal := false
	addition := f.write(&domain.CompostAddition{BatchID: r.batch, AddedAt: at("2026-04-12", 9), Ingredient: domain.Ingredient{Feedstock: "straw general", Amount: domain.Q("1", "kg"), AnimalOrigin: &animal}})
	_, err := f.void("compost-addition", addition)
	mustBe(f.t, err)
	detected := false
	f.write(&domain.CompostLabTest{BatchID: r.batch, SampledOn: day("2026-04-15"), Analyte: domain.Salmonella, Result: domain.LabResult{Detected: &detected}})
	f.write(&domain.ProbeFault{Name: "C", From: at("2026-02-01", 0), ReadHigh: domain.Q("1", "degF"), Reason: "ice-water check"})
	f.write(&domain.CertifierAnswer{AgreedOn: day("2026-03-01"), Document: "letter 4"})
	a := f.application(uuid.Nil, "2026-04-20", "2026-04-21", r.beds[0])
	a.Source = domain.Source{CompostBatchID: r.batch}
	f.write(a)
	f.write(&domain.CompostContamination{BatchID: r.batch, On: day("2026-05-01"), What: "run-off"})
	f.correct("compost-batch", r.batch, `{"code": "Heap one"}`)
}

func (r *rich) water(lot, bed uuid.UUID) {
	f := r.field
	r.well = f.well()
	f.goodYear(r.well, "")
	f.write(&domain.WaterInspection{SourceID: r.well, MadeOn: day("2026-02-01"), Findings: "cap is tight"})
	f.write(&domain.WaterPaper{SourceID: r.well, IssuedOn: day("2026-02-01"), Document: "binder 2"})
	f.write(&domain.WaterReview{SourceID: r.well, MadeOn: day("2026-02-01"), Outcome: "adequate", Factors: "deep well, no animals near"})
	f.write(&domain.WaterTreatment{SourceID: r.well, TakenAt: at("2026-06-20", 8), PPM: number("60")})
	f.write(&domain.Irrigation{SourceID: r.well, Ground: domain.Ground{BedIDs: ids(bed)}, Method: "overhead", StartedAt: at("2026-06-15", 6)})
	f.write(&domain.Irrigation{SourceID: r.well, Ground: domain.Ground{PlotID: r.plot}, Method: "drip", StartedAt: at("2026-06-16", 6), EndedAt: at("2026-06-16", 8)})
	f.write(&domain.Handling{Use: domain.UseWashing, SourceID: r.well, LotIDs: ids(lot), StartedAt: at("2026-06-22", 12)})
	f.write(&domain.WaterChange{SourceID: r.well, At: at("2026-06-25", 8), Is: domain.WaterPublicSupply})
	bad := f.sample(r.well, "", at("2026-06-23", 8), "")
	f.write(bad)
	f.correct("water-test", bad.ID, `{"result": {"value": "3", "unit": "MPN/100mL"}, "reported_at": "2026-06-26T11:00:00-04:00"}`)
	f.write(&domain.WaterStop{SourceID: r.well, Act: "stopped", At: at("2026-06-26", 12), Reason: "E. coli"})
	f.correct("water-source", r.well, `{"name": "Old well"}`)
	finding := &domain.Finding{What: "droppings", Ground: domain.Ground{BedIDs: ids(bed)}, FoundAt: at("2026-06-18", 8), TouchedCrop: domain.TouchedNo, Edge: ids(r.beds[1])}
	f.write(finding)
	f.write(&domain.FindingResolution{FindingID: finding.ID, On: day("2026-06-18"), Decision: "marked-off", Reason: "flagged"})
	shot := f.attach(domain.Attachment{Name: "droppings.jpg"}, photo(f.t, 7))
	f.correct("finding", finding.ID, `{"part": "north end", "attachments": ["`+shot.Hash+`"]}`)
	_, err := f.void("attachment", f.attach(domain.Attachment{Name: "by mistake.pdf"}, labReport).ID)
	mustBe(f.t, err)
	f.write(&domain.CorrectiveAction{FoundOn: day("2026-06-26"), What: "the well failed", Fix: "shocked", Fate: "destroyed", LotIDs: ids(lot), Closed: true})
}

// logs writes entries of sheets of the program and of the farm.
func (r *rich) logs(lot string, bed uuid.UUID) {
	f := r.field
	own := f.write(ownSheet())
	f.correct("log-sheet", own, `{"title": {"en": "Egg room", "es": "Cuarto de huevos"}}`)
	f.write(logOf("egg-washing", "2026-06-01", "trays", `"30"`))
	f.write(logOf("training", "2026-03-02", "people", fmt.Sprintf("[%q]", r.person), "topics", `["hygiene"]`, "trainer", `"Lee"`))
	cold := f.write(logOf("cold-room", "2026-06-21", "room", `["Walk-in"]`, "kept", `"cold-crops"`, "air", `{"value": "46", "unit": "degF"}`))
	f.correct("log-entry", cold, `{"action": "moved the greens"}`)
	clean := logOf("cleaning", "", "places", `["Tank 1", "Spinner"]`, "method", `"brush and rinse"`, "checked", `"yes"`, "lot_before", fmt.Sprintf("[%q]", lot))
	clean.DoneAt = at("2026-06-20", 14)
	f.write(clean)
	f.correct("log-entry", clean.ID, `{"values": {"places": ["Tank 1"], "method": "brush", "checked": "yes"}}`)
	f.write(logOf("field-walk", "2026-06-20", "beds", fmt.Sprintf("[%q]", bed), "all_clear", `"yes"`))
	r.illness = f.write(logOf("illness", "2026-06-20", "person_code", `"P3"`, "signs", `["cut"]`, "sent_where", `"home"`, "touched_product", `"no"`))
	_, err := f.void("log-entry", f.write(logOf("cleaning", "2026-06-21", "places", `["Tank 2"]`, "method", `"slip"`, "checked", `"yes"`)))
	mustBe(f.t, err)
	f.write(&domain.CorrectiveAction{FoundOn: day("2026-06-21"), What: "the walk-in was warm", Fix: "new seal", LogEntryIDs: ids(cold)})
}

func (r *rich) packing() {
	f := r.field
	r.mix = r.pack("34", "2", 6)
	r.mix.WaterSourceID = f.write(&domain.WaterSource{Name: "Town", Is: domain.WaterPublicSupply, Uses: []domain.WaterUse{domain.UseWashing}})
	f.write(&domain.WaterPaper{SourceID: r.mix.WaterSourceID, IssuedOn: day("2026-02-01"), Document: "town report"})
	f.write(r.mix)
	cafe := r.customer("Copper Ladle", "restaurant")
	sent := f.write(r.ship(cafe, "1128", r.mix.CrateCodes[0], r.mix.CrateCodes[2]))
	f.correct("shipment", sent, `{"reference": {"type": "invoice", "number": "1182"}, "lines": [{"crates": ["`+r.mix.CrateCodes[0]+`", "`+r.mix.CrateCodes[1]+`"]}]}`)
	f.write(&domain.LabelPrint{LotID: r.mix.ID, Size: "4x2in", Copies: 6, Crates: []int{1, 2, 3, 4, 5, 6}})
	r.link = f.write(&domain.BuyerLink{CustomerID: cafe, Lots: []string{r.mix.Code}, ExpiresOn: day("2027-01-31")})
	f.correct("buyer-link", r.link, `{"expires_on": "2027-02-28"}`)
	f.write(&domain.Return{CustomerID: cafe, ReturnedAt: at("2026-06-06", 15), Lines: []domain.ShipmentLine{{Crates: r.mix.CrateCodes[:1]}}, Decision: "stock"})
	f.spread(f.delivery("processed-manure", nil), "2026-05-20", "2026-05-21", r.beds[2]) // late: the whole mix is judged again
	r.recall = f.write(&domain.Recall{Start: domain.TraceStart{Lot: r.mix.Code}, Drill: true, Reason: "yearly drill"})
	f.correct("recall", r.recall, `{"finished_at": "2026-11-25T10:30:00-05:00"}`)
	r.request = f.write(&domain.TracebackRequest{AskedBy: "Inspector", AskedAt: at("2026-11-24", 9), For: "authority", About: domain.TraceStart{Lot: r.mix.Code}})
}

// kindsOf reads the kinds of records from the source: a new one must be in the rich book as well.
func kindsOf(t *testing.T) (kinds []string) {
	t.Helper()
	file, err := parser.ParseFile(token.NewFileSet(), "apply.go", nil, 0)
	mustBe(t, err)
	for _, d := range file.Decls {
		fn, ok := d.(*ast.FuncDecl)
		if !ok || fn.Name.Name != "newOf" {
			continue
		}
		ast.Inspect(fn, func(n ast.Node) bool {
			if c, ok := n.(*ast.CaseClause); ok {
				for _, e := range c.List {
					kind, err := strconv.Unquote(e.(*ast.BasicLit).Value)
					mustBe(t, err)
					kinds = append(kinds, kind)
				}
			}
			return true
		})
	}
	if len(kinds) < 18 {
		t.Fatalf("only %d kinds found", len(kinds))
	}
	return kinds
}

// farmTables lists the tables that hold rows of farms, but for the book, who may come in, and the files beside the book.
func farmTables(t testing.TB, conn *pgx.Conn) []string {
	t.Helper()
	rows, err := conn.Query(ctx, `select c.table_name::text from information_schema.columns c join information_schema.tables t using (table_schema, table_name)
		where c.table_schema = 'public' and c.column_name = 'farm_id' and t.table_type = 'BASE TABLE'
			and table_name not in ('book_heads', 'book_entries', 'tokens', 'sessions', 'pins', 'attachment_files', 'buyer_addresses', 'calendar_addresses', 'daily_messages', 'signing_keys', 'checkpoints') order by 1`)
	mustBe(t, err)
	tables, err := pgx.CollectRows(rows, pgx.RowTo[string])
	mustBe(t, err)
	return tables
}

// dump gives every row of every look-up table of a farm, in a fixed order.
func (f *field) dump() map[string][]string {
	f.t.Helper()
	conn := connect(f.t, f.owner)
	defer conn.Close(ctx)
	out := map[string][]string{}
	for _, table := range farmTables(f.t, conn) {
		rows, err := conn.Query(ctx, `select to_jsonb(x)::text from `+table+` x where farm_id = $1 order by 1`, f.actor.FarmID)
		mustBe(f.t, err)
		list, err := pgx.CollectRows(rows, pgx.RowTo[string])
		mustBe(f.t, err)
		out[table] = list
	}
	return out
}

func TestRebuildEqualsTheTables(t *testing.T) {
	t.Parallel()
	r := newRich(t)
	before := r.dump()
	kinds := map[string]bool{}
	list, err := r.db.Entries(ctx, r.actor.FarmID, 0, 5000)
	mustBe(t, err)
	for _, e := range list {
		kinds[e.EntryKind] = true
	}
	for _, kind := range append(kindsOf(t), "correction", "void", "review", "lot-judgement", "compost-judgement") {
		if !kinds[kind] {
			t.Errorf("the book has no entry of the kind %s: write one, so that rebuilding it is tried", kind)
		}
	}
	for table, rows := range before {
		if len(rows) == 0 {
			t.Errorf("no row in %s: the book should fill every table", table)
		}
		if !slices.Contains(storage.IndexTables, table) {
			t.Errorf("rebuild does not empty %s", table)
		}
	}
	n, err := r.db.Rebuild(ctx, r.actor.FarmID, nil)
	if err != nil || n != int64(len(list)) {
		t.Fatalf("rebuilt from %d of %d entries: %v", n, len(list), err)
	}
	if diff := cmp.Diff(before, r.dump()); diff != "" {
		t.Errorf("tables before and after (-before +after):\n%s", diff)
	}
	// From nothing at all, and with another farm's rows left alone.
	other := r.neighbour()
	theirs := other.dump()
	r.asOwner(`set session_replication_role = replica; ` + emptySQL(before, r.actor.FarmID))
	if _, err := r.db.Rebuild(ctx, r.actor.FarmID, nil); err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(before, r.dump()); diff != "" {
		t.Errorf("tables rebuilt from nothing (-before +after):\n%s", diff)
	}
	if diff := cmp.Diff(theirs, other.dump()); diff != "" {
		t.Errorf("another farm's tables changed:\n%s", diff)
	}
	if _, err := r.db.Verify(ctx, r.actor.FarmID, nil); err != nil {
		t.Error(err)
	}
	rows := 0
	for _, list := range before {
		rows += len(list)
	}
	t.Logf("%d entries, %d rows in %d tables", len(list), rows, len(before))
}

func emptySQL(tables map[string][]string, farm uuid.UUID) (sql string) {
	for table := range tables {
		sql += fmt.Sprintf("delete from %s where farm_id = '%s'; ", table, farm)
	}
	return sql
}

// Any book, whatever happened on the farm, gives its tables again.
func TestRebuildOfRandomBooks(t *testing.T) {
	t.Parallel()
	base := newField(t, storage.Config{})
	entries, books, longest := int64(0), 0, int64(0)
	rapid.Check(t, func(r *rapid.T) {
		h := newHistory(base, r)
		h.live(rapid.SampledFrom([]int{20, 20, 40, 200}).Draw(r, "how long"))
		before := h.dump()
		if _, err := h.db.Rebuild(ctx, h.actor.FarmID, nil); err != nil {
			r.Fatal(err)
		}
		if diff := cmp.Diff(before, h.dump()); diff != "" {
			r.Fatalf("tables before and after (-before +after):\n%s", diff)
		}
		n := h.entries()
		entries, books, longest = entries+n, books+1, max(longest, n)
	})
	t.Logf("%d books of %d entries together, the longest of %d", books, entries, longest)
}
