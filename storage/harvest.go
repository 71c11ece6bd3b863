package storage

import (
	"bytes"
	"encoding/json"
	"slices"
	"strconv"
	"strings"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"croftmark/domain"
)

// harvestLot writes a lot and its beds. The judgement of an existing row is not touched here: it belongs to the entries
// that judge.
func (x index) harvestLot(r *domain.HarvestLot, seq int64) error {
	judgement, err := json.Marshal(r.VerdictThen)
	if err != nil {
		return err
	}
	return x.exec(`with lot as (
			insert into lots (farm_id, id, kind, code, planting_id, cut_from, cut_to, unit, quantity, verdict, judgement, judged_seq)
			values ($1, $2, 'harvest-lot', $3, $4, $5, $6, $7, $8, $9, $10::jsonb, $11)
			on conflict (farm_id, id) do update set planting_id = excluded.planting_id, cut_from = excluded.cut_from,
				cut_to = excluded.cut_to, unit = excluded.unit, quantity = excluded.quantity),
		gone as (delete from lot_beds where farm_id = $1 and lot_id = $2 and not bed_id = any($12))
		insert into lot_beds (farm_id, lot_id, bed_id) select $1, $2, unnest($12::uuid[]) on conflict do nothing`,
		r.ID, r.Code, r.PlantingID, r.FirstDay(), r.LastDay(), string(r.Quantity.Unit), r.Quantity.Value.String(),
		string(r.VerdictThen.Verdict), string(judgement), seq, r.BedIDs)
}

func (x index) disposal(r *domain.Disposal) error {
	return x.exec(`with d as (
			insert into disposals (farm_id, record_id, lot_id, on_date, unit, quantity) values ($1, $2, $3, $4, $5, $6))
		update lots set disposed = disposed + $7 where farm_id = $1 and id = $3`,
		r.ID, r.LotID, r.On, string(r.Quantity.Unit), r.Quantity.Value.String(), r.Quantity.Value.String())
}

// recordHarvest is the write the whole book is for: judge, and either make the lot or keep the refused attempt as
// evidence. refusal is not an error of the transaction: the attempt is committed.
func (w *writing) recordHarvest(lot *domain.HarvestLot) (out Written, refusal *domain.Error, err error) {
	// What is asked here comes in the trip that loads what the lot names.
	var facts *domain.GroundFacts
	w.askGround(asked{beds: lot.BedIDs, plantings: []uuid.UUID{lot.PlantingID}, first: lot.FirstDay(), last: lot.LastDay()}, &facts)
	var trained []domain.Trained
	w.askTraining(lot.FirstDay(), lot.Crew, lot.DoneBy, &trained)
	if err := w.checkHarvest(lot, nil); err != nil {
		return out, nil, err
	}
	if err := w.checkHabits(lot); err != nil {
		return out, nil, err
	}
	// The beds in the order of the table, as when it is judged again: the same facts give the same words.
	beds := slices.SortedFunc(slices.Values(lot.BedIDs), func(a, b uuid.UUID) int { return bytes.Compare(a[:], b[:]) })
	j := domain.CutCheck(facts, lot.PlantingID, beds, lot.FirstDay(), lot.LastDay())
	crop := facts.Plantings[lot.PlantingID].Crop.Name
	if j.Verdict.Refuses() && !lot.AlreadyCut {
		return out, domain.HarvestRefusal(facts, lot, j), w.refuse(lot, j)
	}
	lot.VerdictThen = &j
	if lot.Code, err = w.lotCode(lot, facts.Beds[lot.BedIDs[0]].Name, crop); err != nil {
		return out, nil, err
	}
	if out, err = w.newRecord(lot); err != nil {
		return out, nil, err
	}
	if err := w.index().harvestLot(lot, out.Seq); err != nil {
		return out, nil, err
	}
	if lot.AlreadyCut {
		var hold uuid.UUID
		hold, err = w.holdLot(lot)
		out.Warnings = append(out.Warnings, alreadyCutWarning(hold, j))
	}
	for _, r := range j.Reasons {
		if r.Verdict == domain.Caution {
			out.Warnings = append(out.Warnings, r.Text)
		}
	}
	if err != nil {
		return out, nil, err
	}
	out.Warnings = append(out.Warnings, w.trainingWarnings(&facts.Plantings[lot.PlantingID].Crop, lot.FirstDay(), trained)...)
	return out, nil, nil
}

// checkHarvest checks the lot against the book. was is the lot before a correction: people it named then may have left
// since.
func (w *writing) checkHarvest(lot, was *domain.HarvestLot) error {
	crew := lot.Crew
	if was != nil {
		crew = slices.DeleteFunc(slices.Clone(crew), func(id uuid.UUID) bool { return slices.Contains(was.Crew, id) })
	}
	grounds := map[uuid.UUID][]uuid.UUID{}
	w.askGrounds(lot.BedIDs, grounds)
	ids := append(append([]uuid.UUID{lot.PlantingID}, lot.BedIDs...), crew...)
	refs, err := w.refs(ids...)
	if err != nil {
		return err
	}
	var p domain.Problems
	havePlanting := need(&p, refs, "/planting_id", "planting", lot.PlantingID)
	for i, id := range lot.BedIDs {
		pointer := "/bed_ids/" + strconv.Itoa(i)
		if need(&p, refs, pointer, "bed", id) {
			checkInForce(&p, refs[id], pointer, lot.FirstDay())
			if refs[id].From != nil && !lot.FirstDay().Before(*refs[id].From) && lot.LastDay() != lot.FirstDay() {
				checkInForce(&p, refs[id], pointer, lot.LastDay())
			}
		}
	}
	checkPeople(&p, refs, "/crew", crew)
	if havePlanting {
		var pl domain.Planting
		if err := refs[lot.PlantingID].into(&pl); err != nil {
			return err
		}
		domain.CheckLotPlanting(&p, lot, &pl, grounds)
	}
	return p.Err()
}

// askGrounds gathers in the next trip which older beds lie under each bed, and the bed itself.
func (w *writing) askGrounds(beds []uuid.UUID, into map[uuid.UUID][]uuid.UUID) {
	w.queue.Queue(`select bed_id, ground_bed_id from bed_grounds where farm_id = $1 and bed_id = any($2)`, w.actor.FarmID, beds).Query(func(rows pgx.Rows) error {
		var bed, below uuid.UUID
		_, err := pgx.ForEachRow(rows, []any{&bed, &below}, func() error {
			into[bed] = append(into[bed], below)
			return nil
		})
		return err
	})
}

// refuse keeps the attempt. A repeated attempt that is refused for the same reasons is not written twice.
func (w *writing) refuse(lot *domain.HarvestLot, j domain.Judgement) error {
	r := &domain.HarvestRefused{ID: uuid.Must(uuid.NewV7()), Attempt: lot, Judgement: j, Habits: lot.Habits}
	if w.mark != nil {
		w.mark = &domain.RequestMark{Key: "refused:" + w.mark.Key + ":" + string(j.Verdict) + ":" + j.ClearOn.String() + ":" + w.mark.Hash, Hash: w.mark.Hash}
		var before bool
		err := w.tx.QueryRow(w.ctx, `select exists (select from book_entries where farm_id = $1 and request_key = $2)`,
			w.actor.FarmID, w.mark.Key).Scan(&before)
		if err != nil || before {
			w.quiet = before
			return err
		}
	}
	_, err := w.newRecord(r)
	return err
}

// lastCodeSQL finds the last sequence given to codes of a stem. A range, because an index serves it under row-level
// security and starts_with not; digits sort before the tilde.
const lastCodeSQL = `select coalesce(max(split_part(substr(code, length($2) + 1), '-', 1)::int), 0)
	from lots where farm_id = $1 and code > $2 and code < $3`

// lotCode gives the next code of a day, bed and crop.
func (w *writing) lotCode(lot *domain.HarvestLot, bed, crop string) (string, error) {
	stem := codeStem(domain.LotCode(lot.FirstDay(), bed, crop, 1))
	var last int
	if err := w.tx.QueryRow(w.ctx, lastCodeSQL, w.actor.FarmID, stem, stem+"~").Scan(&last); err != nil {
		return "", err
	}
	return domain.LotCode(lot.FirstDay(), bed, crop, last+1), nil
}

// codeStem cuts the sequence and the check characters off a code.
func codeStem(code string) string {
	for range 2 {
		code = code[:strings.LastIndexByte(code, '-')]
	}
	return code + "-"
}

// holdLot puts a lot that was entered as already cut on hold, in the same write. That the ground turns out clear does not free
// it: nobody looked before the knife, so a person has to say that it may go.
func (w *writing) holdLot(lot *domain.HarvestLot) (uuid.UUID, error) {
	hold := &domain.Hold{ID: uuid.Must(uuid.NewV7()), On: domain.HoldTarget{LotID: lot.ID},
		Reason: domain.AlreadyCutReason(lot.VerdictThen.Verdict), AlreadyCut: lot.VerdictThen.Verdict}
	if _, err := w.newRecord(hold); err != nil {
		return hold.ID, err
	}
	if err := w.flushRecords(); err != nil { // the hold's day is its record's
		return hold.ID, err
	}
	return hold.ID, w.index().hold(hold)
}

// alreadyCutWarning says why the lot is held, who can free it, and how.
func alreadyCutWarning(hold uuid.UUID, j domain.Judgement) string {
	words := "The lot is on hold. It gets no saleable label and is not packed or shipped; write down what becomes of it. " +
		domain.AlreadyCutReason(j.Verdict) + " A lead or the owner releases the hold and says why: POST /v1/holds/" + hold.String() + "/release."
	if j.Verdict.Refuses() {
		words += " The lot then still waits for its ground to be judged otherwise."
	}
	return words
}

// recordDisposal takes quantity out of a lot.
func (w *writing) recordDisposal(d *domain.Disposal) (out Written, err error) {
	var unit string
	var lot stockLot
	err = w.tx.QueryRow(w.ctx, `select unit, kind, code, cut_from from lots where farm_id = $1 and id = $2`, w.actor.FarmID, d.LotID).Scan(&unit, &lot.Kind, &lot.Code, &lot.Since)
	if err == pgx.ErrNoRows {
		return out, domain.NotFound("lot", d.LotID.String())
	}
	if err != nil {
		return out, err
	}
	var p domain.Problems
	p.Check(string(d.Quantity.Unit) == unit, "/quantity/unit", "The lot is counted in %s; give the disposal in %s too.", unit, unit)
	lot.checkSince(&p, "/on", "disposed of", d.On)
	if err := p.Err(); err != nil {
		return out, err
	}
	if err := w.checkHabits(d); err != nil {
		return out, err
	}
	if out, err = w.newRecord(d); err != nil {
		return out, err
	}
	return out, w.index().disposal(d)
}

func (w *writing) index() index { return index{w.ctx, w.tx, w.actor.FarmID, &w.queue} }

func kindWords(kind string) string { return strings.ReplaceAll(kind, "-", " ") }

// lotVerdict is the body of a lot-judgement entry: what a lot is judged now, after a record that reaches it.
type lotVerdict struct {
	LotID     uuid.UUID        `json:"lot_id"`
	Before    domain.Verdict   `json:"before"`
	Judgement domain.Judgement `json:"judgement"`
	CausedBy  int64            `json:"caused_by"` // number of the entry that brought it about
	Seq       int64            `json:"-"`
}

// judged writes the verdicts of lots.
func (x index) judged(lots []lotVerdict) error {
	if len(lots) == 0 {
		return nil
	}
	n := len(lots)
	ids, verdicts, judgements, seqs := make([]uuid.UUID, n), make([]string, n), make([]string, n), make([]int64, n)
	for i, v := range lots {
		raw, err := json.Marshal(v.Judgement)
		if err != nil {
			return err
		}
		ids[i], verdicts[i], judgements[i], seqs[i] = v.LotID, string(v.Judgement.Verdict), string(raw), v.Seq
	}
	return x.exec(`update lots l set verdict = v.verdict, judgement = v.judgement::jsonb, judged_seq = v.seq
		from unnest($2::uuid[], $3::text[], $4::text[], $5::bigint[]) as v (id, verdict, judgement, seq)
		where l.farm_id = $1 and l.id = v.id`, ids, verdicts, judgements, seqs)
}

func (w *writing) flushLots() error {
	lots := w.lots
	w.lots = nil
	return w.index().judged(lots)
}
