package storage

import (
	"context"
	"encoding/json"
	"fmt"

	"github.com/google/uuid"

	"croftmark/domain"
)

// Outcome is what a write answers: the record, and what became of lots already cut.
type Outcome struct {
	Written
	Rejudged []Rejudged
}

// Record writes one new record through the door. A harvest that is refused comes back as an error of the code
// harvest-refused; the attempt itself is then in the book.
func (db *DB) Record(ctx context.Context, actor Actor, mark *domain.RequestMark, r domain.Record) (out Outcome, err error) {
	var refusal *domain.Error
	prior, err := db.write(ctx, actor, mark, func(w *writing) error {
		if err := domain.CheckRecord(r, w.today, w.zone); err != nil {
			return err
		}
		if err := w.giveID(r); err != nil {
			return err
		}
		if by := domain.HabitsOf(r).DoneBy; by != w.actor.PersonID {
			w.doneBy = by
		}
		out, refusal, err = w.dispatch(r)
		return err
	})
	switch {
	case err != nil:
		return Outcome{}, err
	case refusal != nil:
		return Outcome{}, refusal
	case prior != nil:
		return db.replayed(ctx, actor, prior)
	}
	return out, nil
}

// giveID names a record that came without a name.
func (w *writing) giveID(r domain.Record) error {
	id := r.Identity()
	if *id == uuid.Nil {
		*id = uuid.Must(uuid.NewV7())
		return nil
	}
	if id.Version() != 7 {
		var p domain.Problems
		p.Add("/id", "%s is not a version 7 UUID.", *id)
		return p.Err()
	}
	return nil
}

// dispatch decides about a record by its kind, enters it, and judges the lots it reaches again.
func (w *writing) dispatch(r domain.Record) (out Outcome, refusal *domain.Error, err error) {
	switch r := r.(type) {
	case *domain.Farm, *domain.HarvestRefused: // a book is opened with its farm; the book itself writes down a refusal
		return out, nil, domain.Refuse(domain.CodeRuleRefused, "Not written that way", "A %s is not written as a record of its own.", kindWords(r.Kind()))
	case *domain.HarvestLot:
		out.Written, refusal, err = w.recordHarvest(r)
		return out, refusal, err
	case *domain.Disposal:
		out.Written, err = w.recordDisposal(r)
		return out, nil, err
	case *domain.PackLot:
		out.Written, err = w.recordPack(r)
		return out, nil, err
	}
	warnings, err := w.decide(r)
	if err != nil {
		return out, nil, err
	}
	if err := w.checkHabits(r); err != nil {
		return out, nil, err
	}
	if out.Written, err = w.newRecord(r); err != nil {
		return out, nil, err
	}
	out.Warnings = warnings
	if p, ok := r.(*domain.Person); ok && p.PIN != "" {
		if err := w.index().exec(setPIN, p.ID, hashPIN(p.PIN), w.now); err != nil {
			return out, nil, err
		}
	}
	// The record goes in before its look-up rows: they may refer to it.
	if err := w.flushRecords(); err != nil {
		return out, nil, err
	}
	if err := w.index().rows(r, out.Seq); err != nil {
		return out, nil, err
	}
	var questions *[]string
	if a, ok := r.(*domain.Application); ok {
		questions = w.askStock(a)
	}
	if out.Rejudged, err = w.rejudgeAfter(reachOf(r), r); err != nil {
		return out, nil, err
	}
	if questions != nil { // ground was named, so the lots it reaches were looked for and the questions asked
		out.Warnings = append(out.Warnings, *questions...)
	}
	for _, lot := range out.Rejudged {
		if lot.Verdict.Refuses() {
			out.Warnings = append(out.Warnings, fmt.Sprintf("Lot %s, already cut, was judged %s and is now judged %s. It is held; see what was done with it.", lot.Code, lot.Before, lot.Verdict))
		}
	}
	return out, nil, err
}

// decide checks a record against the rest of the book.
func (w *writing) decide(r domain.Record) (warnings []string, err error) {
	switch r := r.(type) {
	case *domain.Bed:
		return nil, w.decideBed(r)
	case *domain.BedLayout:
		return nil, w.decideLayout(r)
	case *domain.BedProduction:
		return nil, w.decideProduction(r)
	case *domain.Planting:
		return w.decidePlanting(r)
	case *domain.InputLot:
		return w.decideInputLot(r)
	case *domain.Application:
		return w.decideApplication(r)
	case *domain.Grazing:
		return nil, w.decideGrazing(r)
	case *domain.Hold:
		return nil, w.decideHold(r)
	case *domain.Release:
		return nil, w.decideRelease(r)
	case *domain.LabelPrint:
		return w.decideLabelPrint(r)
	case *domain.LabelDiscard:
		return nil, w.decideLabelDiscard(r)
	case *domain.LostLabel:
		return w.decideLostLabel(r)
	case *domain.BuyerLink:
		return nil, w.decideBuyerLink(r)
	case *domain.Shipment:
		return w.decideShipment(r, nil)
	case *domain.Return:
		return w.decideReturn(r)
	case *domain.CompostBatch:
		return w.decideBatch(r)
	case compostEvent:
		return w.decideEvent(r)
	case *domain.ProbeFault:
		return w.decideProbeFault(r)
	case domain.OfSource:
		return w.decideOfSource(r, tapOf(r))
	case *domain.Finding:
		return w.decideFinding(r)
	case *domain.FindingResolution:
		return nil, w.decideResolution(r)
	case *domain.Recall:
		return nil, w.decideRecall(r)
	case *domain.CorrectiveAction:
		return nil, w.decideCorrective(r)
	case *domain.Attachment:
		return nil, w.decideAttachment(r)
	case *domain.LogSheet:
		return nil, w.decideLogSheet(r)
	case *domain.LogEntry:
		return w.decideLogEntry(r)
	}
	return nil, nil
}

// checkHabits makes sure that a record signed for somebody names a person of this farm, and that its files are in the
// book. Most records have loaded the person with whatever else they name.
func (w *writing) checkHabits(r domain.Record) error {
	if err := w.checkAttachments(r); err != nil || w.doneBy == uuid.Nil {
		return err
	}
	if _, loaded := w.known[w.doneBy]; !loaded {
		if _, err := w.refs(); err != nil {
			return err
		}
	}
	var p domain.Problems
	need(&p, w.known, "/done_by", "person", w.doneBy)
	return p.Err()
}

// replayed answers a repeated request with its first result.
func (db *DB) replayed(ctx context.Context, actor Actor, e *domain.Entry) (Outcome, error) {
	farm := &domain.Farm{}
	rec, err := db.ReadRecord(ctx, actor.FarmID, "farm", actor.FarmID)
	if err != nil {
		return Outcome{}, err
	}
	if err := json.Unmarshal(rec.Body, farm); err != nil {
		return Outcome{}, err
	}
	zone, err := domain.Zone(farm.TimeZone)
	if err != nil {
		return Outcome{}, err
	}
	first := Record{ID: e.RecordID, Kind: e.EntryKind, FirstSeq: e.Seq, Seq: e.Seq, DoneOn: e.DoneOn, Body: e.Body, Reviews: noReviews, Stamp: stampOf(e, zone)}
	return Outcome{Written: Written{Record: first, Replayed: true}}, nil
}
