package main

import (
	"context"
	"fmt"
	"net/http"

	"croftmark/bench/rig"
)

// bareGround is the least that a check of one bed has to look up: what stands on it, and what its ground remembers.
const bareGround = `select (select jsonb_agg(r.body) from planting_beds p join records r on r.farm_id = p.farm_id and r.id = p.planting_id where p.farm_id = $1 and p.bed_id = $2),
	(select jsonb_agg(r.body) from exposures e join records r on r.farm_id = e.farm_id and r.id = e.record_id where e.farm_id = $1 and e.bed_id = $2 and e.ends_on >= current_date)`

// checks measures the harvest check of one bed and of the whole farm. flat holds the figures of the smallest book.
func (b *bench) checks(ctx context.Context, book *openBook, flat map[string]float64) (map[string]float64, error) {
	bare, err := rig.Repeat(ctx, 300, func(ctx context.Context, n int) error {
		var plantings, exposures []byte
		return book.conn.QueryRow(ctx, bareGround, book.Farm, book.Beds[n*7%len(book.Beds)]).Scan(&plantings, &exposures)
	})
	if err != nil {
		return nil, err
	}
	one := func(ctx context.Context, n int) error {
		return book.Must(ctx, http.MethodGet, fmt.Sprintf("/v1/harvest-check?bed_id=%s&on=%s", book.Beds[n*7%len(book.Beds)], book.Today), nil, nil)
	}
	if _, err := rig.Repeat(ctx, 30, one); err != nil { // connections and plans are made at first use
		return nil, err
	}
	single, err := rig.Repeat(ctx, 400, one)
	if err != nil {
		return nil, err
	}
	whole, err := rig.Repeat(ctx, 15, func(ctx context.Context, n int) error {
		return book.Must(ctx, http.MethodGet, "/v1/harvest-check?on="+book.Today.String(), nil, nil)
	})
	if err != nil {
		return nil, err
	}
	figures := map[string]float64{}
	for _, f := range []struct {
		what   string
		l, low rig.Load
		share  float64
		target string
	}{
		{"harvest check of one bed, p50", single, bare, 0.5, ""},
		{"harvest check of one bed, p99", single, bare, 0.99, "≤ 10 ms"},
		{"harvest check of 500 beds, p50", whole, rig.Load{}, 0.5, ""},
		{"harvest check of 500 beds, slowest of 15", whole, rig.Load{}, 1, ""},
	} {
		value := ms(f.l.Quantile(f.share))
		figures[f.what] = value
		under := floor{ms(f.low.Quantile(f.share)), "bare SQL of one bed's plantings and exposures"}
		if under.value == 0 {
			under.is = ""
		}
		b.report.add(f.what+", "+book.name, "ms", value, under, f.target)
		if small := flat[f.what]; small > 0 {
			b.report.add("  the same, by the smallest book", "ms", value, floor{small, "the same on the " + sizeName(b.books[0])}, "≤ 1.5")
		}
	}
	return figures, nil
}
