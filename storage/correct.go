package storage

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"croftmark/domain"
)

// correctionBody is what a correction entry says: why, what was changed, and the whole record as it stands after.
type correctionBody struct {
	RecordKind string          `json:"record_kind"`
	Changes    json.RawMessage `json:"changes"`
	Record     json.RawMessage `json:"record"`
}

type voidBody struct {
	RecordKind string `json:"record_kind"`
}

// fixed lists the fields of each kind that no correction may change; what they say is the record's identity.
var fixed = map[string][]string{
	"":            {"id", "done_by", "device_at", "bed_id", "lot_id", "hold_id", "compost_batch_id"},
	"bed":         {"plot_id", "from", "over", "to", "in_production"},
	"farm":        {"key"},
	"buyer-link":  {"customer_id", "lot_ids"},
	"lost-label":  {"lots"},
	"hold":        {"on", "already_cut", "released", "done_at"},
	"label-print": {"done_at"},
	"finding":     {"resolution", "earlier_resolutions"},
	"attachment":  {"hash", "media_type", "bytes", "private"},
	"person":      {"pin"}, // it has a route of its own and is in no entry
	"harvest-lot": {"code", "verdict_then", "already_cut"},
	"disposal":    {"lot_id", "quantity", "kind"},
	"log-sheet":   {"key", "private"},
	"log-entry":   {"sheet", "out_of_limits", "private"},
	"shipment":    {"moved"},
}

// uncorrectable kinds are mended by another record of the same kind, not by a correction.
var uncorrectable = map[string]string{
	"bed-layout":      "A bed layout is not corrected, because ground has been judged by it. Lay the beds anew.",
	"hold-release":    "A release is not corrected. Put the hold on again.",
	"harvest-refused": "A refused attempt stays as it was.",
	"disposal":        "A disposal is voided and written anew.",
	"pack-lot":        "A pack lot is not corrected, because crates carry its code. Pack it anew from what is left, and dispose of what was wrong.",
	"return":          "A return is voided and written anew.",
}

// Correct changes fields of a record: the old entry stays readable, the new one says why. Everything computed from the
// record is computed again in the same transaction.
func (db *DB) Correct(ctx context.Context, actor Actor, mark *domain.RequestMark, kind string, id uuid.UUID, reason string, changes json.RawMessage) (out Outcome, err error) {
	if why, no := uncorrectable[kind]; no {
		return out, domain.Refuse(domain.CodeRuleRefused, "Not mended by a correction", "%s", why)
	}
	prior, err := db.write(ctx, actor, mark, func(w *writing) error {
		out, err = w.correct(kind, id, reason, changes)
		return err
	})
	if err == nil && prior != nil {
		rec, err := db.ReadRecord(ctx, actor.FarmID, kind, id)
		return Outcome{Written: Written{Record: rec, Replayed: true}}, err
	}
	return out, err
}

func (w *writing) correct(kind string, id uuid.UUID, reason string, changes json.RawMessage) (out Outcome, err error) {
	old, err := w.current(kind, id)
	if err != nil {
		return out, err
	}
	before, after := newOf(kind), newOf(kind)
	if err := json.Unmarshal(old.Body, before); err != nil {
		return out, err
	}
	if err := mergeChanges(kind, old.Body, changes, after); err != nil {
		return out, err
	}
	w.corrected = after
	if err := w.checkCorrected(before, after); err != nil {
		return out, err
	}
	if !slices.Equal(domain.HabitsOf(before).Attachments, domain.HabitsOf(after).Attachments) {
		if err := w.checkAttachments(after); err != nil {
			return out, err
		}
	}
	record, err := json.Marshal(after)
	if err != nil {
		return out, err
	}
	e, err := w.enter(note{kind: "correction", recordID: id, body: correctionBody{kind, changes, record}, reason: reason, mark: w.mark})
	if err != nil {
		return out, err
	}
	if err := w.index().correction(e); err != nil {
		return out, err
	}
	if err := w.checkMoves(movedBy(before), movedBy(after)); err != nil {
		return out, err
	}
	out.Record = old
	out.Seq, out.Body = e.Seq, record
	out.Rejudged, err = w.rejudgeAfter(joinReach(reachOf(before), reachOf(after), farmReach(before, after)), before, after)
	return out, err
}

// current reads the record as it stands, refusing one that is void.
func (w *writing) current(kind string, id uuid.UUID) (Record, error) {
	rows, err := w.tx.Query(w.ctx, `select `+recordColumns+recordSource+`where r.farm_id = $1 and r.id = $2 and r.kind = $3`, w.actor.FarmID, id, kind)
	if err != nil {
		return Record{}, err
	}
	r, err := pgx.CollectExactlyOneRow(rows, scanRecord)
	if err == pgx.ErrNoRows {
		return r, domain.NotFound(kindWords(kind), id.String())
	}
	if err == nil && r.Voided {
		err = domain.Refuse(domain.CodeRuleRefused, "Already void", "That %s was voided; write a new one instead.", kindWords(kind))
	}
	return r, err
}

// mergeChanges lays the changed fields over the record; null takes a field away. Unknown and fixed fields are refused.
func mergeChanges(kind string, old, changes json.RawMessage, into domain.Record) error {
	var fields, delta map[string]json.RawMessage
	if err := json.Unmarshal(old, &fields); err != nil {
		return err
	}
	var p domain.Problems
	if err := json.Unmarshal(changes, &delta); err != nil || len(delta) == 0 {
		p.Add("/changes", "Name at least one field and its right value.")
		return p.Err()
	}
	for _, name := range append(fixed[""], fixed[kind]...) {
		if _, ok := delta[name]; ok {
			p.Add("/changes/"+name, "This field can't be changed by a correction.")
		}
	}
	for name, value := range delta {
		if strings.Trim(name, "abcdefghijklmnopqrstuvwxyz0123456789_") != "" {
			p.Add("/changes", "There is no field %q. Names are in small letters.", name) // the decoder would take it for its small sister
		}
		if string(value) == "null" {
			delete(fields, name)
		} else {
			fields[name] = value
		}
	}
	merged, err := json.Marshal(fields)
	if err != nil {
		return err
	}
	dec := json.NewDecoder(bytes.NewReader(merged))
	dec.DisallowUnknownFields()
	if err := dec.Decode(into); err != nil {
		p.Add("/changes", "The corrected record can't be read. Check what kind of value each field takes.")
	}
	return p.Err()
}

// checkCorrected holds the corrected record to the same checks as a new one. Fields the book gave are not the caller's
// and are put aside for the check.
func (w *writing) checkCorrected(before, after domain.Record) error {
	if person, ok := after.(*domain.Person); ok {
		if err := w.keepsOwner(before.(*domain.Person), person); err != nil {
			return err
		}
	}
	if lot, ok := after.(*domain.HarvestLot); ok {
		was := before.(*domain.HarvestLot)
		lot.Code, lot.VerdictThen = "", nil
		defer func() { lot.Code, lot.VerdictThen = was.Code, was.VerdictThen }()
		if err := domain.CheckRecord(lot, w.today, w.zone); err != nil {
			return err
		}
		if err := w.checkHarvest(lot, was); err != nil {
			return err
		}
		if err := w.checkCutDay(lot, was); err != nil {
			return err
		}
		return w.checkTaken(lot, was)
	}
	if shipment, ok := after.(*domain.Shipment); ok {
		return w.checkShipment(shipment, before.(*domain.Shipment))
	}
	if hold, ok := after.(*domain.Hold); ok {
		was := before.(*domain.Hold)
		hold.Released, hold.AlreadyCut = nil, ""
		defer func() {
			hold.Released = was.Released
			if hold.Reason == was.Reason { // a reason that a person gave goes before the book's own
				hold.AlreadyCut = was.AlreadyCut
			}
		}()
	}
	if finding, ok := after.(*domain.Finding); ok {
		was := before.(*domain.Finding)
		finding.Resolution, finding.Earlier = nil, nil
		defer func() {
			if domain.SameFinding(was, finding, w.zone) { // else it is decided anew
				finding.Resolution, finding.Earlier = was.Resolution, was.Earlier
			}
		}()
	}
	switch after := after.(type) { // what the book gave is given anew
	case *domain.LostLabel:
		after.Lots = nil
	case *domain.BuyerLink:
		after.LotIDs = nil
	}
	if bed, ok := after.(*domain.Bed); ok {
		was := before.(*domain.Bed)
		bed.Over, bed.To, bed.InProduction = nil, domain.Date{}, nil
		defer func() { bed.Over, bed.To, bed.InProduction = was.Over, was.To, was.InProduction }()
	}
	if entry, ok := after.(*domain.LogEntry); ok { // the book's answers are worked out anew
		entry.OutOfLimits, entry.Private = nil, false
	}
	if err := domain.CheckRecord(after, w.today, w.zone); err != nil {
		return err
	}
	_, err := w.decide(after)
	return err
}

// checkTaken refuses to count a lot in another unit once some of it was taken out in the old one, and to do without a
// crate that has left.
func (w *writing) checkTaken(lot, was *domain.HarvestLot) error {
	if lot.Quantity.Unit == was.Quantity.Unit && lot.Containers >= was.Containers {
		return nil
	}
	var taken bool
	var crate int
	err := w.tx.QueryRow(w.ctx, `select packed + shipped + disposed > 0, (select coalesce(max(crate), 0) from shipment_lines where farm_id = $1 and lot_id = $2)
		from lots where farm_id = $1 and id = $2`, w.actor.FarmID, lot.ID).Scan(&taken, &crate)
	if err != nil {
		return err
	}
	var p domain.Problems
	p.Check(!taken || lot.Quantity.Unit == was.Quantity.Unit, "/quantity/unit", "Some of the lot was packed, shipped or disposed of in %s. Keep the unit.", was.Quantity.Unit)
	p.Check(lot.Containers >= crate, "/containers", "Crate %d of the lot has left; there were at least that many.", crate)
	return p.Err()
}

// checkLots refuses a correction that takes away the planting, the bed or the day from under lots that were cut.
func checkLots(after domain.Record, lots []reachedLot, facts *domain.GroundFacts) error {
	planting, ok := after.(*domain.Planting)
	if !ok {
		return nil
	}
	grounds := map[uuid.UUID][]uuid.UUID{}
	for id, bed := range facts.Beds {
		grounds[id] = bed.Ground
	}
	var p domain.Problems
	for _, lot := range lots {
		if lot.PlantingID != planting.ID {
			continue
		}
		var fits domain.Problems
		domain.CheckLotPlanting(&fits, &domain.HarvestLot{BedIDs: lot.BedIDs, CutFrom: lot.CutFrom, CutTo: lot.CutTo}, planting, grounds)
		p.Check(fits.Err() == nil, "/changes", "Lot %s was cut from this planting on %s, and would no longer fit it. Correct the lot first.", lot.Code, lot.CutFrom)
	}
	return p.Err()
}

// joinReach reaches everything that any of the parts reaches; an end is kept only where all parts have one.
func joinReach(list ...reach) (out reach) {
	for _, r := range list {
		switch {
		case r.empty():
			continue
		case out.empty():
			out = r
			continue
		}
		if r.first.Before(out.first) {
			out.first = r.first
		}
		if r.last.IsZero() || out.last.IsZero() {
			out.last = domain.Date{}
		} else {
			out.last = domain.Later(out.last, r.last)
		}
		out.joinTouches(r)
		out.all = out.all || r.all
		out.beds, out.plots = append(out.beds, r.beds...), append(out.plots, r.plots...)
		out.plantings, out.lots = append(out.plantings, r.plantings...), append(out.lots, r.lots...)
		out.inputLots, out.batches = append(out.inputLots, r.inputLots...), append(out.batches, r.batches...)
	}
	return out
}

// joinTouches joins the sources of two reaches and the time in which their water counts.
func (r *reach) joinTouches(o reach) {
	switch {
	case len(o.sources) == 0:
		return
	case len(r.sources) == 0:
		r.sources, r.touchedFrom, r.touchedTo = o.sources, o.touchedFrom, o.touchedTo
		return
	}
	r.sources = append(r.sources, o.sources...)
	if o.touchedFrom.Before(r.touchedFrom) {
		r.touchedFrom = o.touchedFrom
	}
	if o.touchedTo.IsZero() || r.touchedTo.IsZero() {
		r.touchedTo = time.Time{}
	} else if o.touchedTo.After(r.touchedTo) {
		r.touchedTo = o.touchedTo
	}
}

// farmReach reaches every lot when the adopted standards change, and the lots of a crop or an input when that changes.
func farmReach(before, after domain.Record) reach {
	switch before := before.(type) {
	case *domain.Farm, *domain.Crop, *domain.Input:
		return reach{all: true}
	case *domain.Bed: // judgements name it
		return reach{beds: []uuid.UUID{before.ID}}
	}
	return reach{}
}

// correction writes the record's new state.
func (x index) correction(e *domain.Entry) error {
	var body correctionBody
	if err := json.Unmarshal(e.Body, &body); err != nil {
		return err
	}
	r := newOf(body.RecordKind)
	if r == nil {
		return fmt.Errorf("%s corrects a kind this version does not know", e.EntryTitle())
	}
	if err := json.Unmarshal(body.Record, r); err != nil {
		return err
	}
	var happened *time.Time
	if timed, ok := r.(domain.Timed); ok {
		at := timed.HappenedAt()
		happened = &at
	}
	if err := x.exec(`update records set body = $3::jsonb, seq = $4, done_on = coalesce($5,
			($6::timestamptz at time zone (select body ->> 'time_zone' from records where farm_id = $1 and id = $1))::date, done_on)
		where farm_id = $1 and id = $2`, e.RecordID, string(body.Record), e.Seq, r.DoneOn(), happened); err != nil {
		return err
	}
	if len(movedBy(r)) > 0 {
		if err := x.unmoved(e.RecordID); err != nil {
			return err
		}
	}
	return x.rows(r, e.Seq)
}

// Void takes a record out of all judgements. It stays readable, with the reason.
func (db *DB) Void(ctx context.Context, actor Actor, mark *domain.RequestMark, kind string, id uuid.UUID, reason string) (out Outcome, err error) {
	if !voidable[kind] {
		return out, domain.Refuse(domain.CodeRuleRefused, "Not voided", "%s", whyNotVoided(kind))
	}
	prior, err := db.write(ctx, actor, mark, func(w *writing) error {
		old, err := w.current(kind, id)
		if err != nil {
			return err
		}
		r := newOf(kind)
		if err := json.Unmarshal(old.Body, r); err != nil {
			return err
		}
		if person, ok := r.(*domain.Person); ok {
			if err := w.keepsOwner(person, nil); err != nil {
				return err
			}
		}
		e, err := w.enter(note{kind: "void", recordID: id, body: voidBody{kind}, reason: reason, mark: w.mark})
		if err != nil {
			return err
		}
		if err := w.index().void(e); err != nil {
			return err
		}
		if err := w.checkMoves(movedBy(r)); err != nil {
			return err
		}
		out.Record = old
		out.Record.Seq, out.Record.Voided = e.Seq, true
		out.Rejudged, err = w.rejudgeAfter(reachOf(r), r)
		return err
	})
	if err == nil && prior != nil {
		rec, err := db.ReadRecord(ctx, actor.FarmID, kind, id)
		return Outcome{Written: Written{Record: rec, Replayed: true}}, err
	}
	return out, err
}

// notVoided says of kinds that are neither voided nor corrected what mends them.
var notVoided = map[string]string{
	"bed-layout":      "A bed layout is not voided, because ground has been judged by it. Lay the beds anew.",
	"hold-release":    "A release is not voided. Put the hold on again.",
	"harvest-refused": "A refused attempt stays as it was.",
	"pack-lot":        "A pack lot is not voided, because crates carry its code. Pack it anew from what is left, and dispose of what was wrong.",
}

// whyNotVoided names what can be done instead of a void.
func whyNotVoided(kind string) string {
	if why, ok := notVoided[kind]; ok {
		return why
	}
	return "A " + kindWords(kind) + " is not voided, because other records stand on it. Correct it instead."
}

// voidable kinds can be taken out without leaving other records without ground to stand on.
var voidable = map[string]bool{"application": true, "grazing": true, "bed-production": true, "disposal": true, "label-print": true, "label-discard": true, "lost-label": true, "buyer-link": true, "person": true, "attachment": true,
	"compost-temperatures": true, "compost-turning": true, "compost-addition": true, "compost-curing": true, "compost-lab-test": true,
	"compost-contamination": true, "probe-fault": true, "certifier-answer": true,
	"water-test": true, "water-change": true, "water-certificate": true, "water-inspection": true, "water-assessment": true, "water-action": true,
	"water-treatment": true, "irrigation": true, "handling": true, "finding": true, "corrective-action": true, "shipment": true, "return": true, "log-entry": true}

// void takes the look-up rows of a record away.
func (x index) void(e *domain.Entry) error {
	if err := x.inProduction(e.RecordID, e.Seq, e.RecordID); err != nil {
		return err
	}
	return x.exec(`with e as (delete from exposures where farm_id = $1 and record_id = $2),
		lm as (delete from label_moves where farm_id = $1 and record_id = $2),
		b as (delete from bed_pauses where farm_id = $1 and record_id = $2),
		c as (delete from compost_events where farm_id = $1 and record_id = $2),
		s as (delete from shipment_lines where farm_id = $1 and record_id = $2 returning lot_id, direction, quantity),
		m as (update lots set shipped = shipped - s.away, returned = returned - s.back from (select lot_id,
			sum(case direction when 'out' then quantity else 0 end) as away, sum(case direction when 'back' then quantity else 0 end) as back from s group by lot_id) s
			where lots.farm_id = $1 and lots.id = s.lot_id),
		w as (delete from water_events where farm_id = $1 and record_id = $2),
		t as (delete from water_touches where farm_id = $1 and record_id = $2),
		g as (delete from log_entries where farm_id = $1 and record_id = $2),
		k as (delete from log_marks where farm_id = $1 and record_id = $2),
		d as (delete from disposals where farm_id = $1 and record_id = $2 returning lot_id, quantity),
		l as (update lots set disposed = disposed - d.quantity from d where lots.farm_id = $1 and lots.id = d.lot_id)
		update records set voided = true, seq = $3 where farm_id = $1 and id = $2`, e.RecordID, e.Seq)
}
