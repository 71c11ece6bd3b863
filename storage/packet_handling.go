package storage

import (
	"strings"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"croftmark/domain"
)

// handledRecord is the record behind a use of water: its entry, who did it, and in what.
type handledRecord struct {
	ID   uuid.UUID
	Seq  int64
	By   uuid.UUID
	Tank string
}

// handledWords say what somebody did with a lot; other uses of water do not handle the lot itself.
var handledWords = map[domain.WaterUse]string{domain.UseWashing: "washed", domain.UseCooling: "cooled", domain.UseIce: "iced", domain.UseHarvest: "handled at harvest"}

// coldWith names what took the heat out. Icing is cooling as much as cold water is: 21 CFR 1.1310 counts hydrocooling,
// icing, forced air and vacuum among it [memory].
var coldWith = map[domain.WaterUse]string{domain.UseCooling: "cold water", domain.UseIce: "ice"}

// handledRecords reads the records behind what was washed and cooled, in one statement.
func (b *packetBuilder) handledRecords() (map[uuid.UUID]handledRecord, error) {
	var ids []uuid.UUID
	for _, l := range b.lots {
		for _, touch := range b.facts.LotWater[l.ID] {
			ids = append(ids, touch.Record.ID)
		}
	}
	rows, err := b.tx.Query(b.r.Ctx, `select r.id, r.seq, (e.leaf::jsonb ->> 'done_by')::uuid, coalesce(r.body ->> 'tank', '') from records r
		join book_entries e on e.farm_id = $1 and e.seq = r.first_seq where r.farm_id = $1 and r.id = any($2)`, b.r.Farm, ids)
	if err != nil {
		return nil, err
	}
	list, err := pgx.CollectRows(rows, pgx.RowToStructByPos[handledRecord])
	out := map[uuid.UUID]handledRecord{}
	for _, x := range list {
		out[x.ID] = x
	}
	return out, err
}

// fillHandling writes washing, cooling and the water behind them, sources in the order in which they first touched a lot.
func (b *packetBuilder) fillHandling() error {
	records, err := b.handledRecords()
	if err != nil {
		return err
	}
	at := map[uuid.UUID]int{}
	for _, l := range b.lots {
		for _, touch := range b.facts.LotWater[l.ID] {
			facts := b.facts.Waters[touch.SourceID]
			n, seen := at[touch.SourceID]
			if !seen {
				n = len(b.p.Waters)
				at[touch.SourceID], b.p.Waters = n, append(b.p.Waters, *packetWater(touch.SourceID, facts))
			}
			water := &b.p.Waters[n]
			fit := facts.FitnessDuring(touch)
			use := domain.PacketWaterUse{Lot: l.Code, Use: string(touch.Use), Tap: touch.Tap, At: touch.From, Verdict: fit.Verdict}
			for _, reason := range fit.Reasons {
				use.Reasons = append(use.Reasons, reason.Text)
			}
			water.Uses = append(water.Uses, use)
			b.handling(l, touch, records[touch.Record.ID], water.Name)
		}
	}
	return nil
}

// handling writes one use of water as a step of the way of a lot. A packing run is told of with its lot as well.
func (b *packetBuilder) handling(l tracedLot, touch domain.WaterTouch, x handledRecord, water string) {
	kind, how := string(touch.Use), x.Tank
	if with := coldWith[touch.Use]; with != "" {
		kind, how = domain.CoolingKind, strings.TrimSuffix(with+", "+x.Tank, ", ")
	}
	if did := handledWords[touch.Use]; touch.Record.Kind == "handling" && x.By != uuid.Nil && did != "" {
		b.handled([]uuid.UUID{x.By}, did, domain.DateIn(touch.From, b.p.Zone()))
	}
	b.p.Handling = append(b.p.Handling, domain.PacketHandling{ID: touch.Record.ID, Lot: l.Code, Kind: kind, Method: how, At: touch.From,
		Until: touch.To, Water: water, DoneBy: b.people[x.By], Entry: x.Seq})
}

func packetWater(id uuid.UUID, f *domain.WaterFacts) *domain.PacketWater {
	w := &domain.PacketWater{ID: id, Name: f.Source.Name, Is: string(f.Source.Is)}
	for _, t := range f.Tests {
		out := domain.PacketWaterTest{SampledAt: t.SampledAt, Tap: t.Tap, Analyte: t.Analyte, Method: t.Method, Lab: t.Lab}
		if t.Result != nil {
			out.Result = t.Result.String()
		}
		w.Tests = append(w.Tests, out)
	}
	return w
}
