package report

import (
	"fmt"
	"slices"
	"strings"

	"croftmark/domain"
)

// recipe shows each ingredient with the figures that the mix was computed from, and whose figures they are.
func (c compostReport) recipe() {
	t := table{
		columns: []column{{c.t.say("Ingredient", "Ingrediente"), 2.4}, {c.t.say("Amount", "Cantidad"), 1.2}, {c.t.say("Weight lb", "Peso lb"), 1.1},
			{c.t.say("Moisture %", "Humedad %"), 1.1}, {c.t.say("N % of dry", "N % de lo seco"), 1}, {c.t.say("C % of dry", "C % de lo seco"), 1}, {"C:N", 0.8},
			{c.t.say("Where the figures come from", "De dónde salen las cifras"), 4}},
		none: c.t.say("No ingredient is on file.", "No hay ningún ingrediente anotado."),
	}
	for i, part := range c.Mix.Parts {
		amountSaid, from := "", c.t.of(part.Explained)
		if i < len(c.Batch.Ingredients) && c.Batch.Ingredients[i].Feedstock == part.Feedstock {
			amountSaid, from = amount(c.Batch.Ingredients[i].Amount), c.figuresFrom(c.Batch.Ingredients[i])
		}
		t.rows = append(t.rows, []string{part.Feedstock, amountSaid, part.MassLb.Show(1), part.MoisturePct.Show(1), part.NitrogenPct.Show(2),
			part.CarbonPct.Show(1), ratioOf(part), from})
	}
	c.d.heading(c.t.say("Recipe", "Receta"))
	c.d.table(t)
	for _, x := range c.Mix.Explained {
		c.d.strong(c.t.of(x))
	}
	c.d.paragraph(c.t.say("C:N is how many pounds of carbon the mix holds for each pound of nitrogen. The carbon and the nitrogen of all ingredients are added up first and divided then; the average of the ingredients' ratios would be wrong. Water brings neither. Moisture is the water of all ingredients out of the whole wet weight. \"?\" means not known, and not known never passes.",
		"C:N dice cuántas libras de carbono tiene la mezcla por cada libra de nitrógeno. Primero se suman el carbono y el nitrógeno de todos los ingredientes y después se divide; el promedio de las relaciones sería incorrecto. El agua no trae ninguno de los dos. La humedad es el agua de todos los ingredientes sobre el peso húmedo total. «?» significa que no se sabe, y lo que no se sabe nunca se da por bueno."))
}

// ratioOf shows a dash for what brings neither carbon nor nitrogen, such as water.
func ratioOf(p domain.Part) string {
	if p.NitrogenPct.Known() && p.NitrogenPct.Decimal(6).Decimal.IsZero() && !p.CarbonNitrogen.Known() {
		return "–"
	}
	return p.CarbonNitrogen.Show(1)
}

// figuresFrom says of one ingredient which figures are the farm's own and which the shipped table gave.
func (c compostReport) figuresFrom(in domain.Ingredient) string {
	row, known := domain.FeedstockByName(in.Feedstock)
	var own, table []string
	for _, f := range []struct {
		name       string
		own, table domain.Number
	}{
		{c.t.say("moisture", "humedad"), in.MoisturePct, row.MoisturePct.Typical}, {"N", in.NitrogenPct, row.NitrogenPct.Typical},
		{"C", in.CarbonPct, domain.Number{}}, {"C:N", in.CarbonNitrogen, row.CarbonNitrogen.Typical},
		{c.t.say("lb per yd³", "lb por yd³"), in.Density, row.Density.Typical},
	} {
		switch {
		case f.own.Valid:
			own = append(own, f.name+" "+f.own.Decimal.String())
		case f.table.Valid && !f.table.Decimal.IsZero():
			table = append(table, f.name+" "+f.table.Decimal.String())
		}
	}
	var said []string
	if len(own) > 0 {
		said = append(said, c.t.say("farm's own figures: ", "datos de la finca: ")+strings.Join(own, ", "))
	}
	if known && len(table) > 0 {
		said = append(said, c.t.say("shipped table (%s; %s): ", "tabla incluida (%s; %s): ", row.Mark, row.Source)+strings.Join(table, ", "))
	}
	if len(said) == 0 {
		return c.t.say("nothing on file", "nada anotado")
	}
	return strings.Join(said, ". ")
}

// days is the day table: every date with its extremes, and under each rule set whether it counts and why not.
func (c compostReport) days() {
	t := table{
		columns: []column{{c.t.say("Date", "Fecha"), 1.45}, {c.t.say("Lowest point", "Punto más bajo"), 1.15}, {c.t.say("Highest point", "Punto más alto"), 1.15}, {c.t.say("Points read / required", "Puntos leídos / exigidos"), 1.25}},
		none:    c.t.say("No temperature is on file.", "No hay ninguna temperatura anotada."),
	}
	readers := c.readers()
	if len(readers) > 0 {
		t.columns = append(t.columns, column{c.t.say("Read by", "Leyó"), 1.4})
	}
	rows := map[domain.Date][]string{}
	var dates []domain.Date
	for k, r := range c.Results {
		t.columns = append(t.columns, column{c.t.setHead(r), 3.4})
		counted := map[domain.Date]int{}
		for i, d := range r.CountedDays {
			counted[d] = i + 1
		}
		for _, day := range r.Days {
			if rows[day.Date] == nil {
				dates = append(dates, day.Date)
				rows[day.Date] = c.dayCells(day, readers)
			}
			for len(rows[day.Date]) < len(t.columns)-1 {
				rows[day.Date] = append(rows[day.Date], "")
			}
			rows[day.Date] = append(rows[day.Date], c.dayVerdict(c.Results[k], day, counted[day.Date]))
		}
	}
	slices.SortFunc(dates, func(a, b domain.Date) int { return a.DaysSince(b) })
	for _, d := range dates {
		cells := rows[d]
		for len(cells) < len(t.columns) {
			cells = append(cells, "")
		}
		t.rows = append(t.rows, cells)
	}
	notes := c.noted(t.rows)
	t.bold = func(row, column int) bool { return strings.HasPrefix(t.rows[row][column], "■") }
	c.d.heading(c.t.say("Day by day", "Día por día"))
	c.d.paragraph(c.t.say("A date counts by its coldest point, never by an average; a point that was not read is never guessed. ■ counts, with its number in the count; □ was hot enough and is not in the count; – does not count. Dates are the farm's own days.",
		"Una fecha cuenta por su punto más frío, nunca por un promedio; un punto que no se leyó nunca se adivina. ■ cuenta, con su número en la cuenta; □ estuvo bastante caliente y queda fuera de la cuenta; – no cuenta. Las fechas son los días de la finca."))
	c.d.list(notes...)
	c.d.table(t)
}

// noted replaces a long reason that stands in many cells by the number of a note, and gives the notes.
func (c compostReport) noted(rows [][]string) (notes []string) {
	const long, many = 50, 5
	times := map[string]int{}
	for _, cells := range rows {
		for _, cell := range cells {
			times[cell]++
		}
	}
	number := map[string]int{}
	for _, cells := range rows {
		for i, cell := range cells {
			if len(cell) < long || times[cell] < many {
				continue
			}
			mark, text, _ := strings.Cut(cell, " ")
			if number[cell] == 0 {
				notes = append(notes, c.t.say("note %d: %s", "nota %d: %s", len(notes)+1, text))
				number[cell] = len(notes)
			}
			cells[i] = c.t.say("%s note %d", "%s nota %d", mark, number[cell])
		}
	}
	return notes
}

func (c compostReport) dayCells(day domain.CompostDay, readers map[domain.Date]string) []string {
	date := day.Date.String()
	if !day.Through.IsZero() {
		date += " – " + day.Through.String()
	}
	cells := []string{date, orDash(amount(day.Lowest)), orDash(amount(day.Highest)), fmt.Sprintf("%d / %d", day.PointsRead, day.PointsRequired)}
	if len(readers) > 0 {
		cells = append(cells, orDash(readers[day.Date]))
	}
	return cells
}

func orDash(s string) string {
	if s == "" {
		return "–"
	}
	return s
}

// dayVerdict says whether the date is in the count, and if it was hot and is not, why.
func (c compostReport) dayVerdict(r domain.ProcessResult, day domain.CompostDay, number int) string {
	switch {
	case number > 0:
		return c.t.say("■ %d  counts", "■ %d  cuenta", number)
	case !day.Qualifies:
		return "– " + c.t.of(day.Why)
	case !r.TimeMetOn.IsZero() && day.Date.After(r.TimeMetOn):
		return c.t.say("□ Hot enough, after days and turnings were complete on %s.", "□ Bastante caliente, después de completarse días y volteos el %s.", r.TimeMetOn)
	case r.Outcome == domain.ProcessNotMet && len(r.CountedDays) == 0 && (c.Facts.Method == domain.Worms || c.Facts.Method == domain.Passive):
		return c.t.say("□ Hot enough, but this method is not counted by days of heat.", "□ Bastante caliente, pero este método no se cuenta por días de calor.")
	}
	return c.t.say("□ Hot enough, but the dates in a row were broken after it.", "□ Bastante caliente, pero las fechas seguidas se cortaron después.")
}

// readers names who read on each date, from the records that the readings came in.
func (c compostReport) readers() map[domain.Date]string {
	zone := zoneOf(c.Facts.Zone)
	names := map[domain.Date][]string{}
	for i := range c.Rounds {
		name := c.name(c.Rounds[i].DoneBy)
		for _, r := range c.Rounds[i].Readings {
			d := domain.DateIn(r.TakenAt, zone)
			if !slices.Contains(names[d], name) {
				names[d] = append(names[d], name)
			}
		}
	}
	out := map[domain.Date]string{}
	for d, list := range names {
		slices.Sort(list)
		out[d] = strings.Join(list, ", ")
	}
	return out
}

// turnings says of each turning whether it counts under each rule set, and why not.
func (c compostReport) turnings() {
	zone := zoneOf(c.Facts.Zone)
	t := table{
		columns: []column{{c.t.say("Turned at", "Volteada"), 1.95}, {c.t.say("By", "Por"), 1.2}},
		none:    c.t.say("No turning is on file.", "No hay ningún volteo anotado."),
	}
	for _, r := range c.Results {
		t.columns = append(t.columns, column{c.t.setHead(r), 3})
	}
	sorted := slices.Clone(c.Facts.Turnings)
	slices.SortStableFunc(sorted, func(a, b domain.CompostTurning) int { return a.TurnedAt.Compare(b.TurnedAt) })
	used := make([]int, len(c.Results))
	for _, x := range sorted {
		cells := []string{clock(x.TurnedAt, zone), withNote(c.name(x.DoneBy), x.Habits, c.t)}
		for k, r := range c.Results {
			cell := c.t.say("– after the day of judging", "– después del día del juicio")
			if i := used[k]; i < len(r.Turnings) && r.Turnings[i].TurnedAt.Equal(x.TurnedAt) {
				used[k]++
				cell = "– " + c.t.of(r.Turnings[i].Why)
				if r.Turnings[i].Counted {
					cell = "■ " + c.t.of(r.Turnings[i].Why)
				}
			}
			cells = append(cells, cell)
		}
		t.rows = append(t.rows, cells)
	}
	t.bold = func(row, column int) bool { return strings.HasPrefix(t.rows[row][column], "■") }
	c.d.heading(c.t.say("Turnings", "Volteos"))
	c.d.table(t)
}

// withNote adds what was noted and that it was written down late.
func withNote(who string, h domain.Habits, t tongue) string {
	if h.Note != "" {
		who += ". " + h.Note
	}
	if h.LateReason != "" {
		who += t.say(" (written late: %s)", " (anotado tarde: %s)", h.LateReason)
	}
	return who
}
