package main

import (
	"context"
	"fmt"
	"net/http"
	"strings"
	"time"

	"croftmark/bench/rig"
	"croftmark/domain"
)

// What one batch of compost reached: every lot packed into one run, every run into so many crates.
const (
	reachedLots = 500
	cratesEach  = 20
)

// bareForward finds the crates that a batch reached, and who got them, and no more.
const bareForward = `with recursive bed as (select distinct g.bed_id from exposures e join bed_grounds g on g.farm_id = e.farm_id and g.ground_bed_id = e.bed_id
		where e.farm_id = $1 and e.compost_batch_id = $2),
	lot as (select l.id from bed join lot_beds b on b.farm_id = $1 and b.bed_id = bed.bed_id join lots l on l.farm_id = $1 and l.id = b.lot_id
		union select e.child_id from lot join lot_edges e on e.farm_id = $1 and e.parent_id = lot.id)
	select l.code, s.crate, s.reference, r.body ->> 'name' from lot join lots l on l.farm_id = $1 and l.id = lot.id
		join shipment_lines s on s.farm_id = $1 and s.lot_id = lot.id join records r on r.farm_id = $1 and r.id = s.customer_id`

// bareBack finds the lots, beds and applications behind a lot.
const bareBack = `with recursive lot as (select id from lots where farm_id = $1 and code = $2
		union select e.parent_id from lot join lot_edges e on e.farm_id = $1 and e.child_id = lot.id)
	select l.code, b.bed_id, r.body from lot join lots l on l.farm_id = $1 and l.id = lot.id left join lot_beds b on b.farm_id = $1 and b.lot_id = l.id
		left join exposures e on e.farm_id = $1 and e.bed_id = b.bed_id and e.on_date <= l.cut_to left join records r on r.farm_id = $1 and r.id = e.record_id`

// bareContact finds what was packed on the same line as a lot within a week of it, which a trace lists beside the chain: the
// benchmark's farm packs on one table and writes down no clean.
const bareContact = `with recursive lot as (select id from lots where farm_id = $1 and code = $2
		union select e.parent_id from lot join lot_edges e on e.farm_id = $1 and e.child_id = lot.id),
	mine as materialized (select x.body ->> 'line' as line, min(l.cut_from) - 8 as first, max(l.cut_from) + 8 as last
		from lot join lots l on l.farm_id = $1 and l.id = lot.id join records x on x.farm_id = $1 and x.id = l.id where l.kind = 'pack-lot' group by 1)
	select l.id, l.code, x.body ->> 'product', x.body ->> 'packed_at' from lots l join records x on x.farm_id = $1 and x.id = l.id
		where l.farm_id = $1 and l.kind = 'pack-lot' and l.cut_from between (select min(first) from mine) and (select max(last) from mine)
			and x.body ->> 'line' = any(array(select line from mine)) order by l.cut_from, l.code`

// spreadBatch makes the batch and all it reached through the write door: beds of their own, so that nothing else lies there.
func (b *bench) spreadBatch(ctx context.Context, book *openBook) (batch string, err error) {
	day := func(n int) string { return book.Today.AddDays(n).String() }
	at := func(n, hour int) string { return fmt.Sprintf("%sT%02d:00:00-05:00", day(n), hour) }
	make := func(path string, body rig.Record) (m rig.Made) {
		if err == nil {
			m, err = book.Create(ctx, path, body)
		}
		return m
	}
	plot := make("/v1/plots", rig.Record{"name": "Batch field", "history": "known"})
	var beds []string
	for i := range 50 {
		beds = append(beds, make("/v1/beds", rig.Record{"name": fmt.Sprintf("Batch %d", i+1), "plot_id": plot.ID, "from": day(-90)}).ID)
	}
	heap := make("/v1/compost-batches", rig.Record{"code": "Leaf heap", "method": "passive", "started_on": day(-89),
		"ingredients": []rig.Record{{"feedstock": "leaves", "amount": rig.Amount(3000, "lb"), "animal_origin": false}}})
	make("/v1/applications", rig.Record{"source": rig.Record{"compost_batch_id": heap.ID}, "ground": rig.Record{"bed_ids": beds}, "applied_on": day(-70), "incorporated_on": day(-70),
		"method": "incorporated", "amount": rig.Amount(500, "lb")})
	planting := make("/v1/plantings", rig.Record{"crop_id": book.Crop, "bed_ids": beds, "planted_on": day(-60)})
	customer := make("/v1/customers", rig.Record{"name": "Batch kitchen", "kind": "restaurant"})
	for i := range reachedLots {
		when := -10 + i%10
		lot := make("/v1/harvest-lots", rig.Record{"planting_id": planting.ID, "bed_ids": []string{beds[i%len(beds)]}, "cut_on": day(when), "quantity": rig.Amount(40, "lb")})
		pack := make("/v1/pack-lots", rig.Record{"packed_at": at(when, 10), "from": []rig.Record{{"lot": lot.Code, "quantity": rig.Amount(40, "lb")}}, "product": "Radish", "quantity": rig.Amount(40, "lb"), "crates": cratesEach})
		make("/v1/shipments", rig.Record{"customer_id": customer.ID, "shipped_at": at(when, 12), "reference": rig.Record{"type": "invoice", "number": fmt.Sprint("B", i)}, "lines": []rig.Record{{"crates": pack.CrateCodes}}})
	}
	return heap.ID, err
}

// biggest measures what takes long, on the biggest book.
func (b *bench) biggest(ctx context.Context, book *openBook) error {
	batch, err := b.spreadBatch(ctx, book)
	if err != nil {
		return err
	}
	get := func(path string) func(context.Context, int) error {
		return func(ctx context.Context, _ int) error { return book.Must(ctx, http.MethodGet, path, nil, nil) }
	}
	bare := func(of func(n int) any, statements ...string) func(context.Context, int) error {
		return func(ctx context.Context, n int) error {
			for _, sql := range statements {
				rows, err := book.conn.Query(ctx, sql, book.Farm, of(n))
				if err != nil {
					return err
				}
				for rows.Next() {
				}
				if err := rows.Err(); err != nil {
					return err
				}
			}
			return nil
		}
	}
	crate := func(n int) string { return book.Crates[n%len(book.Crates)] }
	lotOf := func(n int) any {
		code, _ := domain.ParseCode(crate(n)) // made by ourselves
		return code.Lot
	}
	recall, err := book.Create(ctx, "/v1/recalls", rig.Record{"start": rig.Record{"compost_batch_id": batch}, "drill": true, "reason": "Drill", "started_at": time.Now().Add(-time.Minute).Format(time.RFC3339)})
	if err != nil {
		return err
	}
	request, err := book.Create(ctx, "/v1/traceback-requests", rig.Record{"asked_by": "Buyer's desk", "asked_at": time.Now().Add(-time.Minute).Format(time.RFC3339), "for": "authority", "about": rig.Record{"crate": crate(0)}, "question": "From where?"})
	if err != nil {
		return err
	}
	packet := "/v1/traceback-requests/" + request.ID + "/packet"
	for _, m := range []struct {
		what    string
		times   int
		one     func(context.Context, int) error
		bare    func(context.Context, int) error
		floorIs string
		target  string
	}{
		{"trace a crate back, p50", 60, func(ctx context.Context, n int) error {
			return book.Must(ctx, http.MethodGet, "/v1/trace/"+crate(n)+"?direction=back", nil, nil)
		}, bare(lotOf, bareBack, bareContact), "bare SQL: lots, beds, applications; lots packed beside them", "≤ 1.5"},
		{fmt.Sprintf("trace a batch forward to %d crates, p50", reachedLots*cratesEach), 5, get("/v1/trace?direction=forward&compost_batch_id=" + batch),
			bare(func(int) any { return batch }, bareForward), "bare SQL: crates and customers", "≤ 1.5"},
		{"recall of that batch, p50", 3, get("/v1/recalls/" + recall.ID), bare(func(int) any { return batch }, bareForward), "bare SQL: crates and customers", ""},
	} {
		b.failed(m.what, m.target, b.lengthy(ctx, m.what+", "+book.name, m.times, m.one, m.bare, m.floorIs, m.target))
	}
	b.failed("packets", "", b.packets(ctx, book, packet))
	b.failed("CSV of readings", "", b.temperatures(ctx, book, batch))
	memory, err := book.service.Memory()
	if err != nil {
		return err
	}
	b.report.add("memory after all that, service, "+book.name, "MB", float64(memory.Service)/1024, floor{}, "")
	return b.exports(ctx, book)
}

// failed notes what did not work. It does not end the run: its place in the table says so.
func (b *bench) failed(what, target string, err error) {
	if err != nil {
		b.report.add(what+": FAILED "+strings.ReplaceAll(fmt.Sprintf("%.400s", err), "|", " "), "", 0, floor{}, target)
	}
}

func (b *bench) lengthy(ctx context.Context, what string, times int, one, bare func(context.Context, int) error, floorIs, target string) error {
	under := floor{}
	if bare != nil {
		l, err := rig.Repeat(ctx, times, bare)
		if err != nil {
			return err
		}
		under = floor{ms(l.Quantile(0.5)), floorIs}
	}
	l, err := rig.Repeat(ctx, times, one)
	if err != nil {
		return err
	}
	b.report.add(what, "ms", ms(l.Quantile(0.5)), under, target)
	return nil
}

// readings makes a logger's file. Its times carry their offset: an hour that the clocks go through twice is refused without.
func readings(today domain.Date, count int) rig.CSV {
	var out strings.Builder
	out.WriteString("when,P1,P2,P3,P4\n")
	at := today.AddDays(-80).Time()
	for i := range count / 4 {
		at = at.Add(2 * time.Minute)
		fmt.Fprintf(&out, "%s,%d,%d,%d,%d\n", at.Format(time.RFC3339), 120+i%20, 121+i%20, 122+i%20, 123+i%20)
	}
	return rig.CSV(out.String())
}
