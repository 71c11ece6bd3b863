package storage

import (
	"encoding/json"
	"slices"
	"strings"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"croftmark/domain"
)

func (b *packetBuilder) loadGroundFacts() (err error) {
	a := asked{first: domain.NewDate(1900, 1, 1), last: domain.NewDate(1900, 1, 2), beds: []uuid.UUID{}}
	for _, l := range b.lots {
		a.lots, a.last = append(a.lots, l.ID), domain.Later(a.last, l.To)
		if l.PlantingID != nil {
			a.plantings, a.beds = append(a.plantings, *l.PlantingID), append(a.beds, l.Beds...)
		}
	}
	b.facts, err = loadFacts(b.r.Ctx, b.tx, b.r.Farm, a)
	return err
}

// spreading is an application as the book has it, and who did it.
type spreading struct {
	domain.Application
	seq int64
	by  uuid.UUID
}

func (b *packetBuilder) loadSpread() error {
	b.spread = map[uuid.UUID]spreading{}
	var ids []uuid.UUID
	for _, e := range b.exposures() {
		if e.Kind == "application" {
			ids = append(ids, e.ID)
		}
	}
	rows, err := b.tx.Query(b.r.Ctx, `select r.id, r.body, r.seq, (e.leaf::jsonb ->> 'done_by')::uuid from records r
		join book_entries e on e.farm_id = $1 and e.seq = r.first_seq where r.farm_id = $1 and r.id = any($2)`, b.r.Farm, ids)
	if err != nil {
		return err
	}
	var id uuid.UUID
	var body []byte
	var x spreading
	_, err = pgx.ForEachRow(rows, []any{&id, &body, &x.seq, &x.by}, func() error {
		x.Application = domain.Application{}
		if err := json.Unmarshal(body, &x.Application); err != nil {
			return err
		}
		b.spread[id] = x
		return nil
	})
	return err
}

// exposures names what reached the ground of the lots by their last day; what came on it later is not theirs.
func (b *packetBuilder) exposures() (out []domain.RecordRef) {
	seen := map[domain.RecordRef]bool{}
	for _, l := range b.lots {
		for _, id := range l.Beds {
			for _, e := range b.facts.GroundOf(b.facts.Beds[id], l.To) {
				if !seen[e.Record] && e.Record.Kind != "plot" {
					seen[e.Record] = true
					out = append(out, e.Record)
				}
			}
		}
	}
	return out
}

// fillBeds writes the growing areas with everything their ground remembers, each counted to the cut of each lot.
func (b *packetBuilder) fillBeds() error {
	at := map[uuid.UUID]int{}
	for _, l := range b.lots {
		for _, id := range l.Beds {
			bed := b.facts.Beds[id]
			if n, seen := at[id]; seen {
				b.p.Beds[n].History = append(b.p.Beds[n].History, b.history(bed, l)...)
				continue
			}
			if bed == nil {
				continue
			}
			at[id] = len(b.p.Beds)
			plot := b.facts.Plots[bed.PlotID]
			out := domain.PacketBed{ID: id, Name: bed.Name, Plot: plot.Name, From: bed.From, To: bed.To, HistoryKnown: plot.History == "known"}
			if plot.Location != nil {
				out.Lat, out.Lon = plot.Location.Lat, plot.Location.Lon
			}
			for _, older := range bed.Ground {
				if old := b.facts.Beds[older]; older != id && old != nil {
					out.EarlierNames = append(out.EarlierNames, old.Name)
				}
			}
			out.History = b.history(bed, l)
			b.p.Beds = append(b.p.Beds, out)
		}
	}
	return nil
}

// groundWords tells a stay of animals with its last day, and what was spread with what it counts as.
func groundWords(e domain.GroundExposure) string {
	switch {
	case e.Record.Kind == "grazing":
		return exposureLabel(e)
	case e.Record.Kind == "application" && e.Standing != "":
		return e.What + ", counts as " + strings.ReplaceAll(string(e.Standing), "-", " ")
	}
	return e.What
}

func (b *packetBuilder) history(bed *domain.BedGround, lot tracedLot) (out []domain.PacketGround) {
	for _, e := range b.facts.GroundOf(bed, lot.To) {
		g := domain.PacketGround{Kind: e.Record.Kind, What: groundWords(e), On: e.On, Supplier: e.Supplier, Lot: lot.Code}
		if e.Via != "bed" {
			g.Via = strings.TrimSpace(strings.ReplaceAll(e.Via, "-", " ") + " " + e.ViaName)
		}
		if x, ok := b.spread[e.Record.ID]; ok {
			g.InputLotID, g.BatchID, g.Amount, g.DoneBy, g.Entry = x.Source.InputLotID, x.Source.CompostBatchID, x.Amount, b.people[x.by], x.seq
		}
		if e.Record.Kind == "application" {
			g.IncorporatedOn = e.ClockStart
		}
		for _, reason := range b.judged[lot.ID].Reasons {
			if slices.Contains(reason.Records, e.Record) {
				g.Reasons = append(g.Reasons, reason)
			}
		}
		if !e.ClockStart.IsZero() {
			days := lot.From.DaysSince(e.ClockStart)
			g.DaysToHarvest = &days
		}
		out = append(out, g)
	}
	return out
}
