package storage

import (
	"encoding/json"
	"slices"
	"strings"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"golang.org/x/mod/sumdb/tlog"

	"croftmark/domain"
)

// fillHolds writes the holds on the lots and their beds: who put them on, who released them, and why.
func (b *packetBuilder) fillHolds() error {
	ids := lotIDs(b.lots)
	for _, bed := range b.p.Beds {
		ids = append(ids, bed.ID)
	}
	holds, err := holdsOn(b.r.Ctx, b.tx, b.r.Farm, ids...)
	for _, h := range holds {
		out := domain.PacketHold{ID: h.ID, On: h.TargetKind, Lot: b.codes[h.TargetID], Reason: h.Reason, From: h.EnteredAt, By: b.people[h.By],
			ReleasedReason: h.ReleasedReason, ReleasedBy: b.people[h.ReleasedBy]}
		if h.ReleasedOn != nil {
			out.ReleasedAt = h.ReleasedOn.In(b.p.Zone())
		}
		b.p.Holds = append(b.p.Holds, out)
	}
	return err
}

// standsOnSQL finds the records that decide about batches and water sources.
const standsOnSQL = `
select record_id from compost_events where farm_id = $1 and batch_id = any($2)
union select record_id from water_events where farm_id = $1 and source_id = any($3)
union select record_id from water_touches where farm_id = $1 and lot_id = any($4)`

// voidedSQL finds records about the lots, their ground, batches and water that were voided: no look-up row tells of them
// any more, and the packet does. Ids are compared as text, as they stand in the bodies.
const voidedSQL = `
select id, coalesce((body ->> 'customer_id')::uuid, '00000000-0000-0000-0000-000000000000') from records
where farm_id = $1 and voided and kind in ('shipment', 'return', 'disposal', 'handling', 'application', 'grazing', 'finding', 'irrigation', 'compost-temperatures',
		'compost-turning', 'compost-addition', 'compost-curing', 'compost-lab-test', 'compost-contamination', 'water-test', 'water-treatment')
	and (exists (select from jsonb_array_elements(body -> 'moved') m where m ->> 'lot_id' = any($2))
		or body ->> 'lot_id' = any($2) or body -> 'lot_ids' ?| $2
		or body ->> 'batch_id' = any($3) or body ->> 'source_id' = any($4)
		or (done_on <= $7 and (body #> '{ground,bed_ids}' ?| $5 or body #>> '{ground,plot_id}' = any($6))))`

// changed gathers the records whose corrections, voids and lateness the packet tells, each with the customer it is about.
func (b *packetBuilder) changed() (about map[uuid.UUID]uuid.UUID, err error) {
	about = map[uuid.UUID]uuid.UUID{}
	add := func(ids ...uuid.UUID) {
		for _, id := range ids {
			about[id] = uuid.Nil
		}
	}
	add(lotIDs(b.lots)...)
	for _, e := range b.exposures() {
		add(e.ID)
	}
	var batches, waters []uuid.UUID
	for _, x := range b.p.Batches {
		batches = append(batches, x.ID)
	}
	for _, x := range b.p.Waters {
		waters = append(waters, x.ID)
	}
	for _, x := range b.p.InputLots {
		add(x.ID)
	}
	for _, x := range b.p.Plantings {
		add(x.ID)
	}
	for _, x := range b.p.Disposals {
		add(x.ID)
	}
	add(batches...)
	rows, err := b.tx.Query(b.r.Ctx, standsOnSQL, b.r.Farm, batches, waters, lotIDs(b.lots))
	if err != nil {
		return nil, err
	}
	events, err := pgx.CollectRows(rows, pgx.RowTo[uuid.UUID])
	if err != nil {
		return nil, err
	}
	add(events...)
	for _, m := range b.p.Moves {
		about[m.ID] = m.CustomerID
	}
	return about, b.addVoided(about, batches, waters)
}

func (b *packetBuilder) addVoided(about map[uuid.UUID]uuid.UUID, batches, waters []uuid.UUID) error {
	var grounds, plots []uuid.UUID
	last := domain.NewDate(1900, 1, 1)
	for _, l := range b.lots {
		last = domain.Later(last, l.To)
		for _, id := range l.Beds {
			bed := b.facts.Beds[id]
			grounds, plots = append(grounds, bed.Ground...), append(plots, bed.PlotID)
		}
	}
	rows, err := b.tx.Query(b.r.Ctx, voidedSQL, b.r.Farm, asTexts(lotIDs(b.lots)), asTexts(batches), asTexts(waters), asTexts(grounds), asTexts(plots), last)
	if err != nil {
		return err
	}
	var id, customer uuid.UUID
	_, err = pgx.ForEachRow(rows, []any{&id, &customer}, func() error {
		about[id] = customer
		return nil
	})
	return err
}

func asTexts(ids []uuid.UUID) []string {
	out := make([]string, len(ids))
	for i, id := range ids {
		out[i] = id.String()
	}
	return out
}

// fillChanges tells corrections, voids and late entries openly: of the lots and their moves, and of what was judged by.
func (b *packetBuilder) fillChanges() error {
	about, err := b.changed()
	if err != nil {
		return err
	}
	ids := make([]uuid.UUID, 0, len(about))
	for id := range about {
		ids = append(ids, id)
	}
	rows, err := b.tx.Query(b.r.Ctx, `select leaf from book_entries where farm_id = $1 and record_id = any($2) order by seq`, b.r.Farm, ids)
	if err != nil {
		return err
	}
	entries, err := pgx.CollectRows(rows, scanEntry)
	if err != nil {
		return err
	}
	first := map[uuid.UUID]*domain.Entry{}
	for _, e := range entries {
		if err := b.change(e, first, about[e.RecordID]); err != nil {
			return err
		}
		if err := b.formerMove(e); err != nil {
			return err
		}
	}
	return b.formerCustomers(about)
}

func (b *packetBuilder) change(e *domain.Entry, first map[uuid.UUID]*domain.Entry, customer uuid.UUID) error {
	by := b.people[e.TypedBy]
	switch e.EntryKind {
	case "correction", "void":
		made := first[e.RecordID]
		what, err := changedFields(e)
		if err != nil {
			return err
		}
		b.p.Corrections = append(b.p.Corrections, domain.PacketCorrection{Entry: e.Seq, Of: made.Seq, Kind: made.EntryKind, Void: e.EntryKind == "void",
			At: e.EnteredAt, By: by, What: what, Reason: e.Reason, CustomerID: customer})
	case "lot-judgement":
		return b.alert(e)
	case "review", "compost-judgement":
	default:
		first[e.RecordID] = e
		if late := e.Late(b.p.Zone()); late > 0 {
			b.p.LateEntries = append(b.p.LateEntries, domain.PacketLateEntry{Entry: e.Seq, Kind: e.EntryKind, DoneOn: e.DoneOn, EnteredAt: e.EnteredAt,
				By: by, Reason: e.Reason, CustomerID: customer})
		}
	}
	return nil
}

// changedFields names the fields that a correction changed; a void changes none.
func changedFields(e *domain.Entry) (string, error) {
	if e.EntryKind == "void" {
		return "", nil
	}
	var body correctionBody
	var changes map[string]json.RawMessage
	if err := json.Unmarshal(e.Body, &body); err != nil {
		return "", err
	}
	if err := json.Unmarshal(body.Changes, &changes); err != nil {
		return "", err
	}
	names := make([]string, 0, len(changes))
	for name := range changes {
		names = append(names, strings.ReplaceAll(name, "_", " "))
	}
	slices.Sort(names)
	return strings.Join(names, ", "), nil
}

// alert tells that a lot's judgement changed after it was cut.
func (b *packetBuilder) alert(e *domain.Entry) error {
	var v lotVerdict
	if err := json.Unmarshal(e.Body, &v); err != nil || !v.Judgement.Verdict.Refuses() {
		return err
	}
	text := ""
	if len(v.Judgement.Reasons) > 0 {
		text = v.Judgement.Reasons[0].Text
	}
	b.p.Alerts = append(b.p.Alerts, domain.PacketAlert{Lot: b.codes[v.LotID], At: e.EnteredAt, Then: v.Before, Now: v.Judgement.Verdict, Text: text})
	return nil
}

func (b *packetBuilder) fillContact() error {
	lots, err := possibleContact(b.r, b.tx, lotIDs(b.lots))
	for _, l := range lots {
		b.p.PossibleContact = append(b.p.PossibleContact, domain.PacketContact{Lot: l.Code, How: l.How})
	}
	return err
}

// fillProofs shows that the entries of the lots and of what moved stand in the book the packet was made from.
func (b *packetBuilder) fillProofs() error {
	head, key, err := readHead(b.r.Ctx, b.tx, b.r.Farm, "")
	if err != nil {
		return err
	}
	root, err := head.root()
	if err != nil {
		return err
	}
	b.p.Checkpoint = domain.PacketCheckpoint{Origin: "croftmark/" + key, Size: head.size, Root: root.String()}
	for _, l := range b.p.Lots {
		if err := b.prove(head.size, l.Entry, uuid.Nil); err != nil {
			return err
		}
	}
	for _, m := range b.p.Moves {
		if err := b.prove(head.size, m.Entry, m.CustomerID); err != nil {
			return err
		}
	}
	if b.p.Audience.Kind != domain.ForAuthority {
		return nil // a buyer gets no files, and is not told of them
	}
	for _, f := range b.p.Files {
		if err := b.prove(head.size, f.Entry, uuid.Nil); err != nil {
			return err
		}
	}
	return nil
}

func (b *packetBuilder) prove(size, seq int64, customer uuid.UUID) error {
	hashes, err := tlog.ProveRecord(size, seq-1, bookHashes{b.r.Ctx, b.tx, b.r.Farm})
	if err != nil {
		return err
	}
	proof := domain.PacketProof{Entry: seq, CustomerID: customer}
	if err := b.tx.QueryRow(b.r.Ctx, `select kind, leaf from book_entries where farm_id = $1 and seq = $2`, b.r.Farm, seq).Scan(&proof.Kind, &proof.Data); err != nil {
		return err
	}
	proof.Leaf = tlog.RecordHash([]byte(proof.Data)).String()
	for _, h := range hashes {
		proof.Hashes = append(proof.Hashes, h.String())
	}
	b.p.Proofs = append(b.p.Proofs, proof)
	return nil
}
