package main

import (
	"bytes"
	"context"
	"fmt"

	"github.com/go-pdf/fpdf"
	qrcode "github.com/skip2/go-qrcode"

	"croftmark/bench/rig"
	"croftmark/domain"
	"croftmark/labels"
)

const labelCount = 1000

// labels measures a thousand labels in one PDF against the two libraries doing the least of it: the symbol, drawn in runs,
// and three lines in a built-in font that knows no letter beyond Latin-1.
func (b *bench) labels(ctx context.Context) error {
	size, err := labels.SizeByName("4x2in")
	if err != nil {
		return err
	}
	list := make([]labels.Label, labelCount)
	for i := range list {
		lot := domain.LotCode(domain.NewDate(2026, 8, 7), fmt.Sprintf("Bed %d", i+1), "Radish", 1)
		list[i] = labels.Label{URL: "HTTPS://BOOK.EXAMPLE/K/ABCDEFG/" + lot, Crop: "Radish", LotCode: lot, CutOn: domain.NewDate(2026, 8, 7), NetWeight: "20 lb", Farm: "Wether Down", Status: "ORGANIC"}
	}
	bare, err := rig.Repeat(ctx, 3, func(context.Context, int) error { return bareLabels(list) })
	if err != nil {
		return err
	}
	ours, err := rig.Repeat(ctx, 3, func(ctx context.Context, _ int) error {
		var out bytes.Buffer
		return labels.PDF(ctx, &out, size, 203, list)
	})
	b.report.add("1,000 labels of 4 x 2 in as one PDF, middle of 3", "ms", ms(ours.Quantile(0.5)), floor{ms(bare.Quantile(0.5)), "bare QR and PDF drawing"}, "≤ 1.5")
	return err
}

func bareLabels(list []labels.Label) error {
	pdf := fpdf.NewCustom(&fpdf.InitType{UnitStr: "pt", Size: fpdf.SizeType{Wd: 288, Ht: 144}})
	pdf.SetFont("Helvetica", "", 12)
	for _, l := range list {
		code, err := qrcode.New(l.URL, qrcode.Medium)
		if err != nil {
			return err
		}
		code.DisableBorder = true
		pdf.AddPage()
		const module = 4
		for y, row := range code.Bitmap() {
			for x := 0; x < len(row); x++ {
				from := x
				for x < len(row) && row[x] {
					x++
				}
				if x > from {
					pdf.Rect(10+float64(from*module), 10+float64(y*module), float64((x-from)*module), module, "F")
				}
			}
		}
		for i, text := range []string{l.LotCode, l.Crop, l.Farm} {
			pdf.Text(160, float64(30+20*i), text)
		}
	}
	var out bytes.Buffer
	return pdf.Output(&out)
}
