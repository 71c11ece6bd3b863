package storage

import (
	"context"
	"encoding/json"
	"fmt"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"croftmark/domain"
)

// index keeps the tables in step with the book. The write door and rebuild both go through it, so the tables are the
// same whichever way they came about. Its statements gather and go to the database in one trip, before the next
// statement that reads.
type index struct {
	ctx   context.Context
	tx    pgx.Tx
	farm  uuid.UUID
	queue *pgx.Batch
}

// queueMost is how many statements gather at most, so that a rebuild does not hold a whole book in memory.
const queueMost = 500

// newOf makes an empty record of a kind, for reading bodies; nil for kinds that are not records of their own.
func newOf(kind string) domain.Record {
	switch kind {
	case "farm":
		return &domain.Farm{}
	case "person":
		return &domain.Person{}
	case "plot":
		return &domain.Plot{}
	case "bed":
		return &domain.Bed{}
	case "bed-layout":
		return &domain.BedLayout{}
	case "bed-production":
		return &domain.BedProduction{}
	case "crop":
		return &domain.Crop{}
	case "planting":
		return &domain.Planting{}
	case "input":
		return &domain.Input{}
	case "input-lot":
		return &domain.InputLot{}
	case "application":
		return &domain.Application{}
	case "grazing":
		return &domain.Grazing{}
	case "hold":
		return &domain.Hold{}
	case "hold-release":
		return &domain.Release{}
	case "harvest-lot":
		return &domain.HarvestLot{}
	case "harvest-refused":
		return &domain.HarvestRefused{}
	case "disposal":
		return &domain.Disposal{}
	case "compost-batch":
		return &domain.CompostBatch{}
	case "compost-temperatures":
		return &domain.CompostTemperatures{}
	case "compost-turning":
		return &domain.CompostTurning{}
	case "compost-addition":
		return &domain.CompostAddition{}
	case "compost-curing":
		return &domain.CompostCuring{}
	case "compost-lab-test":
		return &domain.CompostLabTest{}
	case "compost-contamination":
		return &domain.CompostContamination{}
	case "probe-fault":
		return &domain.ProbeFault{}
	case "certifier-answer":
		return &domain.CertifierAnswer{}
	case "water-source":
		return &domain.WaterSource{}
	case "water-test":
		return &domain.WaterTest{}
	case "water-change":
		return &domain.WaterChange{}
	case "water-certificate":
		return &domain.WaterPaper{}
	case "water-inspection":
		return &domain.WaterInspection{}
	case "water-assessment":
		return &domain.WaterReview{}
	case "water-action":
		return &domain.WaterStop{}
	case "water-treatment":
		return &domain.WaterTreatment{}
	case "irrigation":
		return &domain.Irrigation{}
	case "handling":
		return &domain.Handling{}
	case "finding":
		return &domain.Finding{}
	case "finding-resolution":
		return &domain.FindingResolution{}
	case "corrective-action":
		return &domain.CorrectiveAction{}
	case "pack-lot":
		return &domain.PackLot{}
	case "customer":
		return &domain.Customer{}
	case "shipment":
		return &domain.Shipment{}
	case "return":
		return &domain.Return{}
	case "recall":
		return &domain.Recall{}
	case "traceback-request":
		return &domain.TracebackRequest{}
	case "label-print":
		return &domain.LabelPrint{}
	case "attachment":
		return &domain.Attachment{}
	case "log-sheet":
		return &domain.LogSheet{}
	case "log-entry":
		return &domain.LogEntry{}
	case "label-discard":
		return &domain.LabelDiscard{}
	case "lost-label":
		return &domain.LostLabel{}
	case "buyer-link":
		return &domain.BuyerLink{}
	}
	return nil
}

// rows writes the look-up rows of a record in its present state, replacing what an earlier state left. Kinds without
// look-ups have none.
func (x index) rows(r domain.Record, seq int64) error {
	switch r := r.(type) {
	case *domain.Farm:
		return x.farmPrefix(r)
	case *domain.LabelPrint:
		return x.labelPrint(r)
	case *domain.LabelDiscard:
		return x.labelMove(r.ID, r.LotID, domain.LabelCount{Spoiled: r.Spoiled, Void: r.Void})
	case *domain.LostLabel:
		return x.lostLabel(r)
	case *domain.Plot:
		return x.plot(r)
	case *domain.Bed:
		return x.bed(r)
	case *domain.BedLayout:
		return x.bedLayout(r, seq)
	case *domain.BedProduction:
		return x.bedProduction(r, seq)
	case *domain.Planting:
		return x.planting(r)
	case *domain.Input:
		return x.input(r)
	case *domain.InputLot:
		return x.inputLot(r)
	case *domain.Application:
		return x.application(r)
	case *domain.Grazing:
		return x.grazing(r)
	case *domain.Hold:
		return x.hold(r)
	case *domain.Release:
		return x.release(r, seq)
	case *domain.HarvestLot:
		return x.harvestLot(r, seq)
	case *domain.Disposal:
		return x.disposal(r)
	case *domain.PackLot:
		return x.packLot(r, seq)
	case *domain.Shipment:
		return x.moved(r.ID, r.CustomerID, r.ShippedAt, "out", r.Reference.Number, r.Moved)
	case *domain.Return:
		return x.moved(r.ID, r.CustomerID, r.ReturnedAt, "back", "", r.Moved)
	case *domain.CompostBatch:
		return x.compostBatch(r, seq)
	case compostEvent:
		return x.compostEventRow(r)
	case *domain.Irrigation:
		return x.irrigation(r)
	case *domain.Handling:
		return x.handling(r)
	case domain.OfSource:
		return x.waterEvent(r)
	case *domain.Finding:
		return x.finding(r)
	case *domain.FindingResolution:
		return x.resolution(r, seq)
	case *domain.LogEntry:
		return x.logEntry(r)
	}
	return nil
}

// replay writes the rows of one entry that is already in the book: the second half of a write, done again.
func (x index) replay(e *domain.Entry) error {
	switch e.EntryKind {
	case "correction":
		return x.correction(e)
	case "void":
		return x.void(e)
	case "review":
		return x.review(e)
	case "compost-judgement":
		var j batchJudgement
		if err := json.Unmarshal(e.Body, &j); err != nil {
			return err
		}
		j.Seq = e.Seq
		return x.batchesJudged([]batchJudgement{j})
	case "lot-judgement":
		var v lotVerdict
		if err := json.Unmarshal(e.Body, &v); err != nil {
			return err
		}
		v.Seq = e.Seq
		return x.judged([]lotVerdict{v})
	}
	r := newOf(e.EntryKind)
	if r == nil {
		return fmt.Errorf("%s has a kind this version does not know", e.EntryTitle())
	}
	if err := json.Unmarshal(e.Body, r); err != nil {
		return fmt.Errorf("%s: %w", e.EntryTitle(), err)
	}
	row := Record{ID: e.RecordID, Kind: e.EntryKind, FirstSeq: e.Seq, Seq: e.Seq, DoneOn: e.DoneOn, Body: e.Body, Reviews: noReviews}
	if err := x.insertRecords([]Record{row}); err != nil {
		return err
	}
	return x.rows(r, e.Seq)
}

// exec queues a statement; its error may come with a later one.
func (x index) exec(sql string, args ...any) error {
	x.queue.Queue(sql, append([]any{x.farm}, args...)...)
	if x.queue.Len() < queueMost {
		return nil
	}
	return x.send()
}

// send writes what has gathered, in order.
func (x index) send() error {
	if x.queue.Len() == 0 {
		return nil
	}
	batch := *x.queue
	*x.queue = pgx.Batch{}
	return x.tx.SendBatch(x.ctx, &batch).Close()
}
