package domain

import "github.com/shopspring/decimal"

// The organic rule's limits for the starting mix, ends included (7 CFR 205.203(c)(2)(i); us-rules 1.2: numbers
// [verified: S1], inclusive [interpretation]).
var leastCN, mostCN = decimal.NewFromInt(25), decimal.NewFromInt(40)

// Moisture that is usual advice for a mix, percent of wet mass (calculations reference 1.2 [verified: Cooperband 2002]).
var leastMoisture, mostMoisture = decimal.NewFromInt(40), decimal.NewFromInt(65)

// OrganicRatio judges the starting C:N of a mix against 25:1 to 40:1. known is false when the ratio is unknown, and
// then ok is false too.
func (m Mix) OrganicRatio() (ok, known bool) {
	return m.CarbonNitrogen.Within(leastCN, mostCN), m.CarbonNitrogen.Known()
}

func (in Ingredient) explain(p Part, fromTable bool) LocalText {
	from := say("own figures", "datos propios")
	if row, ok := FeedstockByName(in.Feedstock); ok && fromTable {
		from = say("shipped table, %s: %s", "tabla incluida, %s: %s", row.Mark, row.Source)
	}
	return say("%[1]s: %[2]s lb, %[3]s %% water, of the dry part %[4]s %% carbon and %[5]s %% nitrogen, C:N %[6]s (%[7]s).",
		"%[1]s: %[2]s lb, %[3]s %% de agua, de la parte seca %[4]s %% de carbono y %[5]s %% de nitrógeno, C:N %[6]s (%[8]s).",
		in.Feedstock, p.MassLb.Show(1), p.MoisturePct.Show(1), p.CarbonPct.Show(1), p.NitrogenPct.Show(2),
		p.CarbonNitrogen.Show(1), from.En, from.Es)
}

// explain says how each number of the mix came about, and what it means for the pile.
func (m Mix) explain() []LocalText {
	out := []LocalText{
		say("Weight of the mix: %s lb.", "Peso de la mezcla: %s lb.", m.MassLb.Show(1)),
		m.explainRatio(), m.explainMoisture(),
	}
	if m.VolumeYd3.Known() {
		out = append(out, say("Volume before settling: %s yd3. Volumes do not add up: small pieces fill the gaps.",
			"Volumen antes de asentarse: %s yd3. Los volúmenes no se suman: las piezas pequeñas llenan los huecos.", m.VolumeYd3.Show(2)))
	}
	return out
}

func (m Mix) explainRatio() LocalText {
	ok, known := m.OrganicRatio()
	shown := m.CarbonNitrogen.Show(1, leastCN, mostCN)
	switch {
	case !known:
		return say("The C:N of the mix is not known yet; see what is missing.", "Todavía no se conoce la C:N de la mezcla; vea lo que falta.")
	case ok:
		return say("C:N %s:1 = %s lb carbon / %s lb nitrogen. The organic rule asks for 25:1 to 40:1.",
			"C:N %s:1 = %s lb de carbono / %s lb de nitrógeno. La regla orgánica pide de 25:1 a 40:1.",
			shown, m.CarbonLb.Show(2), m.NitrogenLb.Show(3))
	}
	return say("C:N %s:1 = %s lb carbon / %s lb nitrogen is outside 25:1 to 40:1, which the organic rule asks for.",
		"C:N %s:1 = %s lb de carbono / %s lb de nitrógeno está fuera de 25:1 a 40:1, que es lo que pide la regla orgánica.",
		shown, m.CarbonLb.Show(2), m.NitrogenLb.Show(3))
}

func (m Mix) explainMoisture() LocalText {
	shown := m.MoisturePct.Show(1, leastMoisture, mostMoisture)
	switch {
	case !m.MoisturePct.Known():
		return say("The moisture of the mix is not known yet; see what is missing.", "Todavía no se conoce la humedad de la mezcla; vea lo que falta.")
	case m.MoisturePct.r.Cmp(leastMoisture.Rat()) < 0:
		return say("Moisture %s %%: too dry, composting will be slow. Usual advice is 40 to 65 %%.",
			"Humedad %s %%: muy seca, el compostaje será lento. Lo usual es de 40 a 65 %%.", shown)
	case m.MoisturePct.r.Cmp(mostMoisture.Rat()) > 0:
		return say("Moisture %s %%: too wet, air cannot get in. Usual advice is 40 to 65 %%.",
			"Humedad %s %%: muy húmeda, no entra el aire. Lo usual es de 40 a 65 %%.", shown)
	}
	return say("Moisture %s %%, within the usual 40 to 65 %%.", "Humedad %s %%, dentro de lo usual: 40 a 65 %%.", shown)
}
