package storage

import (
	"encoding/json"
	"fmt"
	"strings"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"croftmark/domain"
)

// Packet gathers everything an answer to a traceback request holds: the lots asked about, what they came from and what
// became of all of it.
func (db *DB) Packet(r Reading, request uuid.UUID) (p *domain.Packet, err error) {
	err = db.read(r.Ctx, r.Farm, func(tx pgx.Tx) error {
		b := &packetBuilder{r: r, tx: tx, p: &domain.Packet{MadeAt: db.instant()}}
		if err := b.open(request); err != nil {
			return err
		}
		p = b.p
		return b.fill()
	})
	return p, err
}

// packetBuilder fills a packet step by step; each step is set-based.
type packetBuilder struct {
	r       Reading
	tx      pgx.Tx
	p       *domain.Packet
	request domain.TracebackRequest
	lots    []tracedLot
	codes   map[uuid.UUID]string
	people  map[uuid.UUID]string
	hands   map[uuid.UUID]*hand
	facts   *domain.GroundFacts
	spread  map[uuid.UUID]spreading // the applications on the lots' ground
	judged  map[uuid.UUID]domain.Judgement
}

// open reads the request and the farm.
func (b *packetBuilder) open(request uuid.UUID) error {
	rows, err := b.tx.Query(b.r.Ctx, `select kind, body from records where farm_id = $1 and id in ($1, $2) order by kind`, b.r.Farm, request)
	if err != nil {
		return err
	}
	type row struct {
		Kind string
		Body []byte
	}
	found, err := pgx.CollectRows(rows, pgx.RowToStructByPos[row])
	if err != nil {
		return err
	}
	if len(found) != 2 || found[1].Kind != "traceback-request" {
		return domain.NotFound("traceback request", request.String())
	}
	var farm domain.Farm
	if err := json.Unmarshal(found[0].Body, &farm); err != nil {
		return err
	}
	if err := json.Unmarshal(found[1].Body, &b.request); err != nil {
		return err
	}
	q := &b.request
	b.p.Farm = domain.PacketFarm{Name: farm.Name, Address: farm.Address, Phone: farm.Phone, Key: farm.Key, TimeZone: farm.TimeZone,
		Contact: farm.Contact, ContactPhone: farm.ContactPhone, Web: farm.Web, GS1Prefix: farm.GS1Prefix}
	b.p.Request = domain.PacketRequest{ID: q.ID, AskedBy: q.AskedBy, AskedAt: q.AskedAt, DueAt: q.Due(), AnsweredAt: q.AnsweredAt,
		About: q.Question, Answer: q.Answer}
	b.p.Audience = domain.PacketAudience{Kind: domain.ForAuthority, Name: q.AskedBy}
	if q.For == "buyer" {
		b.p.Audience = domain.PacketAudience{Kind: domain.ForOneBuyer, CustomerID: q.CustomerID, Name: q.AskedBy}
	}
	return nil
}

func (b *packetBuilder) fill() error {
	start, err := startLots(b.r, b.tx, b.request.About)
	if err != nil {
		return err
	}
	up, _, err := chain(b.r, b.tx, start, true)
	if err != nil {
		return err
	}
	if b.lots, _, err = chain(b.r, b.tx, lotIDs(up), false); err != nil {
		return err
	}
	if len(b.lots) == 0 {
		b.p.KnownGaps = append(b.p.KnownGaps, "No lot in the book fits the question.")
	}
	b.codes = map[uuid.UUID]string{}
	for _, l := range b.lots {
		b.codes[l.ID] = l.Code
	}
	for _, step := range []func() error{b.fillPeople, b.loadGroundFacts, b.loadSpread, b.fillLots, b.fillHandling, b.fillHands, b.fillBeds, b.fillDeliveries, b.fillMoves, b.fillPlaces,
		b.fillDisposals, b.fillHolds, b.fillChanges, b.fillContact, b.fillFiles, b.fillProofs} {
		if err := step(); err != nil {
			return err
		}
	}
	if b.p.Request.Answer == "" {
		b.p.Request.Answer = b.answer()
	}
	return nil
}

func lotIDs(lots []tracedLot) []uuid.UUID {
	ids := make([]uuid.UUID, len(lots))
	for i, l := range lots {
		ids[i] = l.ID
	}
	return ids
}

// answer is the one sentence at the top, when nobody wrote a better one.
func (b *packetBuilder) answer() string {
	beds := map[string]bool{}
	for _, bed := range b.p.Beds {
		beds[bed.Name] = true
	}
	names := make([]string, 0, len(beds))
	for name := range beds {
		names = append(names, name)
	}
	return fmt.Sprintf("%d lots from %d beds are concerned; %d deliveries went to %d customers.", len(b.p.Lots), len(names), len(b.p.Moves), len(b.p.Customers))
}

// fillPeople reads initials; names never leave the book in a packet.
func (b *packetBuilder) fillPeople() error {
	rows, err := b.tx.Query(b.r.Ctx, `select id, body ->> 'initials' from records where farm_id = $1 and kind = 'person'`, b.r.Farm)
	if err != nil {
		return err
	}
	type person struct {
		ID       uuid.UUID
		Initials string
	}
	list, err := pgx.CollectRows(rows, pgx.RowToStructByPos[person])
	b.people = map[uuid.UUID]string{}
	for _, p := range list {
		b.people[p.ID] = p.Initials
	}
	return err
}

const packetLotsSQL = `
select l.id, l.judgement, x.body, x.seq, ` + leftSQL + `::text,
	l.verdict in ('wait', 'ask', 'stop') or ` + onHoldSQL + `
from lots l join records x on x.farm_id = $1 and x.id = l.id where l.farm_id = $1 and l.id = any($2) order by l.cut_from, l.code`

// fillLots writes the lots, their crates and their plantings.
func (b *packetBuilder) fillLots() error {
	rows, err := b.tx.Query(b.r.Ctx, packetLotsSQL, b.r.Farm, lotIDs(b.lots))
	if err != nil {
		return err
	}
	type row struct {
		ID        uuid.UUID
		Judgement []byte
		Body      []byte
		Seq       int64
		OnHand    string
		Held      bool
	}
	list, err := pgx.CollectRows(rows, pgx.RowToStructByPos[row])
	if err != nil {
		return err
	}
	kinds := map[uuid.UUID]tracedLot{}
	b.judged = map[uuid.UUID]domain.Judgement{}
	for _, l := range b.lots {
		kinds[l.ID] = l
	}
	for _, x := range list {
		var now domain.Judgement
		if err := json.Unmarshal(x.Judgement, &now); err != nil {
			return err
		}
		b.judged[x.ID] = now
		lot := domain.PacketLot{ID: x.ID, Code: b.codes[x.ID], Entry: x.Seq, Held: x.Held, VerdictNow: now.Verdict}
		for _, reason := range now.Reasons {
			lot.Reasons = append(lot.Reasons, reason.Text)
		}
		if kinds[x.ID].Kind == "pack-lot" {
			err = b.packLot(&lot, x.Body)
		} else {
			err = b.harvestLot(&lot, x.Body)
		}
		if err != nil {
			return err
		}
		lot.OnHand, err = quantityOf(x.OnHand, lot.Made.Unit)
		if err != nil {
			return err
		}
		b.p.Lots = append(b.p.Lots, lot)
	}
	return nil
}

func quantityOf(text string, unit domain.Unit) (domain.Quantity, error) {
	v, err := domain.ParseDecimal(text)
	return domain.Quantity{Value: v, Unit: unit}, err
}

func (b *packetBuilder) harvestLot(lot *domain.PacketLot, body []byte) error {
	var h domain.HarvestLot
	if err := json.Unmarshal(body, &h); err != nil {
		return err
	}
	pl := b.facts.Plantings[h.PlantingID]
	lot.Kind, lot.Commodity, lot.Variety, lot.Listed = domain.CodeKindHarvest, pl.Crop.Name, pl.Crop.Variety, pl.Crop.TraceabilityListItem
	lot.CutFrom, lot.CutTo, lot.PlantingID, lot.BedIDs, lot.Made, lot.Containers = h.FirstDay(), h.LastDay(), h.PlantingID, h.BedIDs, h.Quantity, h.Containers
	lot.VerdictThen = h.VerdictThen.Verdict
	if h.Inferred {
		lot.InferredFrom = h.LateReason
	}
	lot.Crew = b.initials(h.Crew)
	b.handled(h.Crew, "cut", h.LastDay())
	for _, known := range b.p.Plantings {
		if known.ID == pl.ID {
			return nil
		}
	}
	planting := domain.PacketPlanting{ID: pl.ID, Crop: pl.Crop.Name, Variety: pl.Crop.Variety, SoilContact: pl.Contact(), PlantedOn: pl.PlantedOn, Method: pl.Method, BedIDs: pl.BedIDs}
	if pl.SeedLotID != uuid.Nil {
		planting.SeedLotIDs = []uuid.UUID{pl.SeedLotID}
	}
	b.p.Plantings = append(b.p.Plantings, planting)
	return nil
}

func (b *packetBuilder) packLot(lot *domain.PacketLot, body []byte) error {
	var x domain.PackLot
	if err := json.Unmarshal(body, &x); err != nil {
		return err
	}
	lot.Kind, lot.Product, lot.PackedAt, lot.Made, lot.Containers, lot.Culls = domain.CodeKindPack, x.Product, x.PackedAt, x.Quantity, x.Crates, x.Culls
	lot.Tank, lot.Line, lot.VerdictThen = x.Tank, x.Line, x.VerdictThen.Verdict
	lot.Commodity = x.Product
	lot.Crew = b.initials(x.Packers)
	b.handled(x.Packers, "packed", domain.DateIn(x.PackedAt, b.p.Zone()))
	for _, f := range x.From {
		lot.Parents = append(lot.Parents, domain.PacketParent{Code: f.Lot, Quantity: f.Taken})
	}
	for n := 1; n <= x.Crates; n++ {
		b.p.Crates = append(b.p.Crates, domain.PacketCrate{Code: domain.CrateCode(x.Code, n), Lot: x.Code, Number: n,
			Net: domain.CrateQuantity(x.Quantity, x.Crates, x.CrateNet, n)})
	}
	return nil
}

func (b *packetBuilder) initials(people []uuid.UUID) (out []string) {
	for _, id := range people {
		out = append(out, b.people[id])
	}
	return out
}

// fillDeliveries writes the deliveries behind the ground and the seed, and the batches of own compost.
func (b *packetBuilder) fillDeliveries() error {
	t := &domain.Trace{Direction: "back"}
	for _, p := range b.p.Plantings {
		for _, id := range p.SeedLotIDs {
			t.Node(domain.TraceNode{Kind: "input-lot", ID: id})
		}
	}
	for _, e := range b.exposures() {
		if e.Kind == "application" {
			t.Node(domain.TraceNode{Kind: "application", ID: e.ID})
		}
	}
	if err := traceSources(b.r, b.tx, t); err != nil {
		return err
	}
	var deliveries, batches []uuid.UUID
	for _, n := range t.Of("input-lot") {
		deliveries = append(deliveries, n.ID)
	}
	for _, n := range t.Of("compost-batch") {
		batches = append(batches, n.ID)
	}
	rows, err := b.tx.Query(b.r.Ctx, `with delivery as materialized (
			select body, (body ->> 'input_id')::uuid as input_id, first_seq from records where farm_id = $1 and id = any($2))
		select l.body, i.body from delivery l join records i on i.farm_id = $1 and i.id = l.input_id order by l.first_seq`, b.r.Farm, deliveries)
	if err != nil {
		return err
	}
	list, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (out domain.PacketInputLot, err error) {
		var lotBody, inputBody []byte
		if err := row.Scan(&lotBody, &inputBody); err != nil {
			return out, err
		}
		return packetDelivery(lotBody, inputBody)
	})
	if err != nil {
		return err
	}
	for i := range list {
		list[i].UsedIn = heapsOf(t, list[i].ID)
	}
	b.p.InputLots = list
	return b.fillBatches(batches)
}

// heapsOf names the batches of compost that a delivery went into: it reached the ground in them and not as it came.
func heapsOf(t *domain.Trace, delivery uuid.UUID) string {
	var heaps []string
	for _, l := range t.Links {
		if to := t.Nodes[l.To]; t.Nodes[l.From].ID == delivery && to.Kind == "compost-batch" {
			heaps = append(heaps, to.Label)
		}
	}
	return strings.Join(heaps, ", ")
}

func packetDelivery(lotBody, inputBody []byte) (out domain.PacketInputLot, err error) {
	var lot domain.InputLot
	var input domain.Input
	if err := json.Unmarshal(lotBody, &lot); err != nil {
		return out, err
	}
	if err := json.Unmarshal(inputBody, &input); err != nil {
		return out, err
	}
	out = domain.PacketInputLot{ID: lot.ID, Name: input.Name, Category: input.Category, Supplier: lot.Supplier, SupplierLot: lot.SupplierLot,
		ReceivedOn: lot.ReceivedOn, Quantity: lot.Quantity}
	if c := lot.Certificate; c != nil {
		out.Certificate = fmt.Sprintf("certificate of %s: %s", c.IssuedOn, c.Process)
	}
	return out, nil
}

func (b *packetBuilder) fillBatches(ids []uuid.UUID) error {
	if len(ids) == 0 {
		return nil
	}
	files, err := loadCompost(b.r.Ctx, b.tx, b.r.Farm, ids, nil)
	if err != nil {
		return err
	}
	for _, id := range ids {
		f := files[id]
		out := domain.PacketBatch{ID: id, Code: f.batch.Code, Method: string(f.batch.Method), StartedOn: f.batch.StartedOn}
		for _, result := range domain.CheckCompost(f.facts, domain.Date{}, domain.CompostSets...) {
			out.MetOn, out.Turnings = domain.Later(out.MetOn, result.MetOn), max(out.Turnings, result.TurningsCounted)
		}
		standing := f.facts.StandingOn(domain.DateIn(b.p.MadeAt, f.facts.Zone))
		out.Standing = standing.Standing
		if len(standing.Reasons) > 0 {
			out.Summary = standing.Reasons[0].Text
		}
		b.p.Batches = append(b.p.Batches, out)
	}
	return nil
}

// fillMoves writes what left and came back, and who has which crate.
func (b *packetBuilder) fillMoves() error {
	rows, err := b.tx.Query(b.r.Ctx, `select distinct r.kind, r.body, r.seq, c.body, (e.leaf::jsonb ->> 'done_by')::uuid, r.first_seq from shipment_lines s
		join records r on r.farm_id = $1 and r.id = s.record_id join book_entries e on e.farm_id = $1 and e.seq = r.first_seq join records c on c.farm_id = $1 and c.id = s.customer_id
		where s.farm_id = $1 and s.lot_id = any($2) order by r.first_seq`, b.r.Farm, lotIDs(b.lots))
	if err != nil {
		return err
	}
	type row struct {
		Kind     string
		Body     []byte
		Seq      int64
		Customer []byte
		By       uuid.UUID
		First    int64
	}
	list, err := pgx.CollectRows(rows, pgx.RowToStructByPos[row])
	if err != nil {
		return err
	}
	for _, x := range list {
		var c domain.Customer
		if err := json.Unmarshal(x.Customer, &c); err != nil {
			return err
		}
		if b.p.Customer(c.ID) == nil {
			b.p.Customers = append(b.p.Customers, packetCustomer(&c))
		}
		move := domain.PacketMove{CustomerID: c.ID, DoneBy: b.people[x.By], Entry: x.Seq}
		var moved []domain.Moved
		if x.Kind == "return" {
			var r domain.Return
			if err := json.Unmarshal(x.Body, &r); err != nil {
				return err
			}
			move.ID, move.Kind, move.At, move.Decision, moved = r.ID, domain.MoveReturn, r.ReturnedAt, r.Decision, r.Moved
		} else {
			var s domain.Shipment
			if err := json.Unmarshal(x.Body, &s); err != nil {
				return err
			}
			move.ID, move.Kind, move.At, move.Reference, moved = s.ID, domain.MoveShipment, s.ShippedAt, s.Reference, s.Moved
			if c.Is == "food-bank" || s.Reference.Type == "donation-receipt" {
				move.Kind = domain.MoveDonation
			}
		}
		b.addMove(move, moved)
	}
	return nil
}

// addMove keeps of a shipment only the lines of the lots in question.
func (b *packetBuilder) addMove(move domain.PacketMove, moved []domain.Moved) {
	lines := map[string]*domain.PacketLine{}
	var order []string
	for _, m := range moved {
		if _, ours := b.codes[m.LotID]; !ours {
			continue
		}
		line := lines[m.Code]
		if line == nil {
			line = &domain.PacketLine{Lot: m.Code, Quantity: domain.Quantity{Unit: m.Quantity.Unit}}
			lines[m.Code], order = line, append(order, m.Code)
		}
		line.Quantity.Value = line.Quantity.Value.Add(m.Quantity.Value)
		if m.Crate > 0 {
			code := domain.CrateCode(m.Code, m.Crate)
			line.Crates = append(line.Crates, code)
			b.placeCrate(code, move)
		}
	}
	for _, code := range order {
		move.Lines = append(move.Lines, *lines[code])
	}
	b.p.Moves = append(b.p.Moves, move)
}

func (b *packetBuilder) placeCrate(code string, move domain.PacketMove) {
	for i := range b.p.Crates {
		if b.p.Crates[i].Code == code {
			b.p.Crates[i].CustomerID = move.CustomerID
			if move.Kind == domain.MoveReturn {
				b.p.Crates[i].CustomerID = uuid.Nil
			}
		}
	}
}

// fillPlaces says where the crates are. Those of a used-up lot were emptied into other lots, or disposed of if none was packed
// from it.
func (b *packetBuilder) fillPlaces() error {
	packedOn := map[string]bool{}
	for _, l := range b.p.Lots {
		for _, parent := range l.Parents {
			packedOn[parent.Code] = true
		}
	}
	for i := range b.p.Crates {
		c := &b.p.Crates[i]
		switch l := b.p.Lot(c.Lot); {
		case c.CustomerID != uuid.Nil:
			c.Where = domain.CrateShipped
		case l.OnHand.Value.Sign() > 0:
			c.Where = domain.CrateOnFarm
		case packedOn[c.Lot]:
			c.Where = domain.CratePackedOn
		default:
			c.Where = domain.CrateDisposed
		}
	}
	return nil
}

func (b *packetBuilder) fillDisposals() error {
	rows, err := b.tx.Query(b.r.Ctx, `select r.body, r.seq, d.lot_id, (e.leaf::jsonb ->> 'done_by')::uuid from disposals d join records r on r.farm_id = $1 and r.id = d.record_id
		join book_entries e on e.farm_id = $1 and e.seq = r.first_seq where d.farm_id = $1 and d.lot_id = any($2) order by r.first_seq`, b.r.Farm, lotIDs(b.lots))
	if err != nil {
		return err
	}
	b.p.Disposals, err = pgx.CollectRows(rows, func(row pgx.CollectableRow) (out domain.PacketDisposal, err error) {
		var body []byte
		var lot, by uuid.UUID
		if err := row.Scan(&body, &out.Entry, &lot, &by); err != nil {
			return out, err
		}
		var d domain.Disposal
		if err := json.Unmarshal(body, &d); err != nil {
			return out, err
		}
		out.ID, out.Lot, out.On, out.Quantity, out.How, out.Note, out.DoneBy = d.ID, b.codes[lot], d.On, d.Quantity, d.How, d.Note, b.people[by]
		return out, nil
	})
	return err
}
