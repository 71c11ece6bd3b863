package report

import (
	"io"
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"

	"croftmark/domain"
)

// PlanPaper is all that the farm's traceability plan shows (21 CFR 1.1315).
type PlanPaper struct {
	Paper
	Farm  domain.Farm
	Plots []domain.Plot
	Beds  []domain.Bed // those whose name has ended are left out
	Crops []domain.Crop
	// Held counts what the book holds of each tracking event.
	Held []domain.PlanRecords
	// HarvestCode and PackCode are codes that the farm gave, shown as examples; where one is empty another is made up.
	HarvestCode, PackCode string
}

// PlanPDF writes the traceability plan. It states what the book does and holds; how the farm works is left to be filled
// in by hand. The same paper always gives the same bytes. It refuses a paper without farm or time, and writes nothing then.
func PlanPDF(w io.Writer, p PlanPaper) error {
	language := p.Language
	r := planReport{PlanPaper: p, zone: farmZone(p.Farm)}
	r.Paper = ofFarm(p.Paper, p.Farm)
	r.Paper.Language = language
	r.tongue = r.Paper.tongue()
	r.day = domain.DateIn(p.Made, r.zone)
	r.inForce = domain.BedsInForce(p.Beds, r.day)
	return layout{paper: r.Paper, zone: r.zone, title: r.say("Traceability plan", "Plan de trazabilidad"), body: r.body,
		period: r.say("of %s", "del %s", r.day)}.write(w)
}

type planReport struct {
	PlanPaper
	tongue  tongue
	zone    *time.Location
	day     domain.Date
	inForce []domain.Bed
	d       *document
}

func (r planReport) say(en, es string, args ...any) string { return r.tongue.say(en, es, args...) }

func (r planReport) body(d *document) {
	r.d = d
	d.headline(r.say("Traceability plan", "Plan de trazabilidad"))
	d.paragraph(r.say("This plan follows 21 CFR 1.1315. It is made from the farm's own records. Whether the farm must have a plan depends on what it grows, how much it sells and to whom (21 CFR 1.1305); ask your inspector.",
		"Este plan sigue 21 CFR 1.1315. Está hecho con los registros de la finca. Si la finca debe tener un plan depende de lo que cultiva, cuánto vende y a quién (21 CFR 1.1305); pregunte a su inspector."))
	if r.PlanPaper.Farm.Exemption == "not-covered" {
		d.strong(r.say("The book has this farm as not covered by 21 CFR 112.4(a). Then this rule does not ask for a plan for produce it grows (21 CFR 1.1305(a)(1)(i)). Have your inspector confirm that.",
			"En el libro esta finca consta como no cubierta por 21 CFR 112.4(a). Entonces esta regla no pide un plan para los productos que cultiva (21 CFR 1.1305(a)(1)(i)). Confírmelo con su inspector."))
	}
	var gaps []string
	for _, g := range domain.PlanGaps(r.PlanPaper.Farm, r.Plots, r.Beds, r.Crops, r.day) {
		gaps = append(gaps, r.tongue.of(g))
	}
	d.gapsBox(gaps)
	r.records()
	r.foods()
	r.codes()
	r.contact()
	r.areas()
	r.versions()
	d.signatures()
}

// toFill leaves lines for what no record tells.
func (r planReport) toFill(questions ...string) {
	d := r.d
	d.need(2.5*bodySize + 30) // the words with the first line
	d.text(r.say("For the farm to fill in and keep true:", "Para que la finca lo complete y lo mantenga al día:"), style{bodySize, true}, 0, "")
	for _, q := range questions {
		s := style{bodySize, false}
		lines := wrap(d.clean(q), d.width()*0.46, s.size, s.bold)
		height := max(float64(len(lines))*s.line()+6, 22)
		d.need(height)
		d.lines(margin+10, d.y+4, s, lines)
		d.rule(margin+d.width()*0.5, d.y+height-3, margin+d.width(), d.y+height-3, 0.6)
		d.y += height
	}
	d.y += 4
}

var heldKinds = []struct {
	kind  string
	event domain.LocalText
	rule  string
}{
	{"harvest-lot", domain.LocalText{En: "harvesting", Es: "cosecha"}, "1.1325(a)"},
	{"handling", domain.LocalText{En: "cooling before initial packing", Es: "enfriamiento antes del primer empaque"}, "1.1325(b)"},
	{"pack-lot", domain.LocalText{En: "initial packing or transformation", Es: "primer empaque o transformación"}, "1.1330, 1.1350"},
	{"shipment", domain.LocalText{En: "shipping", Es: "envío"}, "1.1340"},
	{"return", domain.LocalText{En: "taking back what was shipped", Es: "devolución de lo enviado"}, "1.1345"},
}

func (r planReport) records() {
	d := r.d
	d.heading(r.say("1. How the records are kept – 21 CFR 1.1315(a)(1)", "1. Cómo se llevan los registros – 21 CFR 1.1315(a)(1)"))
	d.paragraph(r.say("Format: an electronic book. What the book does:", "Formato: un libro electrónico. Lo que hace el libro:"))
	d.list(
		r.say("It says with every record who did the work, who typed it, when it was done and when it was entered.",
			"Dice en cada registro quién hizo el trabajo, quién lo escribió, cuándo se hizo y cuándo se anotó."),
		r.say("It never changes or removes an entry. A mistake is put right by a new entry that names the old one and says why.",
			"Nunca cambia ni borra un asiento. Un error se corrige con otro asiento que nombra al anterior y dice por qué."),
		r.say("Each entry is part of a tree of hashes. The checkpoint at the foot of this page is the state of the book that this plan was made from.",
			"Cada asiento es parte de un árbol de resúmenes (hash). El punto de control al pie de esta página es el estado del libro con que se hizo este plan."),
		r.say("It gives the records of a lot as a paper, as a spreadsheet that can be sorted, and as plain tables.",
			"Da los registros de un lote como papel, como hoja de cálculo que se puede ordenar y como tablas simples."),
	)
	counts := map[string]domain.PlanRecords{}
	for _, h := range r.Held {
		counts[h.Kind] = h
	}
	t := table{columns: []column{{r.say("What the book holds now", "Lo que el libro tiene ahora"), 3}, {r.say("Section of 21 CFR", "Sección de 21 CFR"), 1.4}, {r.say("Records", "Registros"), 1}, {r.say("From", "Desde"), 1.1}, {r.say("To", "Hasta"), 1.1}}}
	for _, k := range heldKinds {
		h := counts[k.kind]
		row := []string{r.tongue.of(k.event), k.rule, strconv.Itoa(h.Count), "–", "–"}
		if h.Count > 0 {
			row[3], row[4] = h.First.String(), h.Last.String()
		}
		t.rows = append(t.rows, row)
	}
	d.table(t)
	r.toFill(
		r.say("Where the machine that holds the book stands, and who can open it", "Dónde está el equipo que guarda el libro y quién puede abrirlo"),
		r.say("Who writes down harvest, cooling, packing and shipping, and when", "Quién anota cosecha, enfriamiento, empaque y envío, y cuándo"),
		r.say("Where invoices, bills of lading and other papers are kept", "Dónde se guardan facturas, remisiones y otros papeles"),
		r.say("Where a copy of the book (export) is kept, and how often it is made", "Dónde se guarda una copia del libro (exportación) y cada cuánto se hace"),
	)
}

func (r planReport) foods() {
	d := r.d
	d.heading(r.say("2. Which of our foods are on the Food Traceability List – 21 CFR 1.1315(a)(2)", "2. Cuáles de nuestros alimentos están en la Lista de Trazabilidad de Alimentos – 21 CFR 1.1315(a)(2)"))
	d.paragraph(r.say("The book keeps the item of the list beside each crop. These crops have one. Crops marked as rarely eaten raw are exempt (21 CFR 1.1305(e)) and left out.",
		"El libro guarda junto a cada cultivo el renglón de la lista. Estos cultivos tienen uno. Los marcados como poco consumidos crudos están exentos (21 CFR 1.1305(e)) y no aparecen."))
	t := table{none: r.say("No crop of the book is marked as a listed food.", "Ningún cultivo del libro está marcado como alimento de la lista."),
		columns: []column{{r.say("Crop", "Cultivo"), 2}, {r.say("Variety", "Variedad"), 2}, {r.say("Item on the Food Traceability List", "Renglón de la lista (en inglés)"), 3}}}
	for _, c := range domain.ListedCrops(r.Crops) {
		t.rows = append(t.rows, []string{c.Name, orDash(c.Variety), c.TraceabilityListItem})
	}
	d.table(t)
	d.small(r.say("FDA may change the list. The book does not look it up; somebody has to read the current one.", "La FDA puede cambiar la lista. El libro no la consulta; alguien tiene que leer la vigente."))
	r.toFill(r.say("Who compares the crops with the current list, and when", "Quién compara los cultivos con la lista vigente y cuándo"),
		r.say("Day of the list last read", "Fecha de la última lista leída"))
}

func (r planReport) codes() {
	d := r.d
	d.heading(r.say("3. How traceability lot codes are assigned – 21 CFR 1.1315(a)(3)", "3. Cómo se asignan los códigos de lote de trazabilidad – 21 CFR 1.1315(a)(3)"))
	d.paragraph(r.say("The book gives the code, once. Produce that leaves the farm in the crates it was cut into keeps the code of its harvest lot; what is packed, mixed or packed anew gets the code of a pack lot. Shipping never makes a new code (21 CFR 1.1320).",
		"El libro da el código, una sola vez. Lo que sale de la finca en las cajas en que se cortó conserva el código de su lote de cosecha; lo que se empaca, mezcla o reempaca recibe el código de un lote de empaque. Un envío nunca crea otro código (21 CFR 1.1320)."))
	lot, pack := r.HarvestCode, r.PackCode
	words := r.say("The codes of this table are the latest that the book gave.", "Los códigos de esta tabla son los últimos que dio el libro.")
	if lot == "" || pack == "" {
		words = r.say("Codes of this table are partly or all made up: the book has not given one of each kind yet.", "Los códigos de esta tabla son, en parte o todos, inventados: el libro aún no ha dado uno de cada tipo.")
	}
	if lot == "" {
		lot = domain.LotCode(r.day, "Lower 3", "Radish", 1)
	}
	if pack == "" {
		pack = domain.PackLotCode(r.day, "Salad", 1)
	}
	t := table{columns: []column{{r.say("Code of", "Código de"), 1.2}, {r.say("Looks like", "Ejemplo"), 2}, {r.say("Parts", "Partes"), 5}}}
	t.rows = [][]string{
		{r.say("harvest lot", "lote de cosecha"), lot, r.say("year and day of the year of the first cut; bed; crop; number that tells lots of one day, bed and crop apart; two check characters",
			"año y día del año del primer corte; cama; cultivo; número que distingue lotes del mismo día, cama y cultivo; dos caracteres de control")},
		{r.say("pack lot", "lote de empaque"), pack, r.say("P, year and day of the year of packing; product; number; two check characters", "P, año y día del año del empaque; producto; número; dos caracteres de control")},
		{r.say("crate", "caja"), domain.CrateCode(pack, 1), r.say("the code of its lot with the number of the crate, and two check characters of its own", "el código de su lote con el número de la caja y dos caracteres de control propios")},
	}
	d.table(t)
	d.small(words + " " + r.say("The check characters (ISO/IEC 7064 MOD 1271-36) catch every single wrong character and every swap of two neighbours. No code is given twice in this book.",
		"Los caracteres de control (ISO/IEC 7064 MOD 1271-36) detectan todo carácter equivocado y todo cambio de orden entre dos vecinos. Ningún código se da dos veces en este libro."))
	d.facts(fact{r.say("Source of the codes", "Origen de los códigos"), orWords(join(", ", r.PlanPaper.Farm.Name, r.oneLine()), r.say("NOT ON RECORD", "NO CONSTA"))})
}

func (r planReport) oneLine() string { return strings.ReplaceAll(r.Paper.Address, "\n", ", ") }

func (r planReport) contact() {
	f, none := r.PlanPaper.Farm, r.say("NOT ON RECORD", "NO CONSTA")
	r.d.heading(r.say("4. Who answers questions – 21 CFR 1.1315(a)(4)", "4. Quién responde preguntas – 21 CFR 1.1315(a)(4)"))
	r.d.facts(
		fact{r.say("Point of contact", "Persona de contacto"), orWords(f.Contact, none)},
		fact{r.say("Phone, any hour", "Teléfono, a toda hora"), orWords(f.ContactPhone, none)},
		fact{r.say("Farm", "Finca"), r.Paper.Farm},
		fact{r.say("Farm phone", "Teléfono de la finca"), f.Phone},
		fact{r.say("Address", "Dirección"), orWords(r.oneLine(), none)},
	)
}

func (r planReport) areas() {
	d := r.d
	d.heading(r.say("5. Farm map: growing areas – 21 CFR 1.1315(a)(5)", "5. Mapa de la finca: áreas de cultivo – 21 CFR 1.1315(a)(5)"))
	if m := planMap(r.Plots, r.inForce, d.width(), r.tongue); m != nil {
		d.place(m)
		d.small(r.say("North is up. Drawn to scale from the coordinates on record (WGS 84). A square is the point of a plot, a line the edge of a bed. The table below gives every area, also those that are not drawn.",
			"El norte está arriba. A escala, según las coordenadas que constan (WGS 84). Un cuadro es el punto de un terreno, una línea el borde de una cama. La tabla da todas las áreas, también las no dibujadas."))
	} else {
		d.paragraph(r.say("No map is drawn: no plot or bed has coordinates on record.", "No hay mapa: ningún terreno ni cama tiene coordenadas."))
	}
	d.table(r.areaTable())
}

func (r planReport) areaTable() table {
	t := table{none: r.say("No growing area is on record.", "No consta ningún área de cultivo."), columns: []column{{r.say("Plot", "Terreno"), 2}, {r.say("Bed", "Cama"), 2},
		{r.say("North (lat)", "Norte (lat)"), 1.2}, {r.say("East (lon)", "Este (lon)"), 1.2}, {r.say("Size", "Tamaño"), 1.5}, {r.say("Coordinates are of", "Coordenadas de"), 1.6}}}
	whole := r.say("whole plot", "todo el terreno")
	row := func(plot, bed string, at *domain.Location, of, size string) {
		lat, lon := "–", "–"
		if _, ok := degrees(at); ok {
			lat, lon = at.Lat, at.Lon
		} else {
			of = r.say("NOT ON RECORD", "NO CONSTA")
		}
		t.rows = append(t.rows, []string{plot, bed, lat, lon, orDash(size), of})
	}
	bed := func(plot string, at *domain.Location, b domain.Bed) {
		of := r.say("the plot", "el terreno")
		if len(b.Outline) > 0 {
			at, of = &b.Outline[0], r.say("first corner of the bed", "primera esquina de la cama")
		}
		row(plot, b.Name, at, of, join(" × ", amount(b.Length), amount(b.Width)))
	}
	known := map[uuid.UUID]bool{}
	for _, p := range r.Plots {
		known[p.ID] = true
		row(p.Name, whole, p.Location, r.say("the plot", "el terreno"), "")
		for _, b := range r.inForce {
			if b.PlotID == p.ID {
				bed(p.Name, p.Location, b)
			}
		}
	}
	for _, b := range r.inForce {
		if !known[b.PlotID] {
			bed(r.say("not on record", "no consta"), nil, b)
		}
	}
	t.bold = func(i, column int) bool { return column == 0 && t.rows[i][1] == whole }
	return t
}

func (r planReport) versions() {
	r.d.heading(r.say("6. Date and earlier versions – 21 CFR 1.1315(b)", "6. Fecha y versiones anteriores – 21 CFR 1.1315(b)"))
	r.d.facts(fact{r.say("Made", "Hecho"), instant(r.Made, r.zone)})
	r.d.paragraph(r.say("The book can only make the plan of today: print or save each version. Make it anew when crops, fields, the way of coding or the point of contact change.",
		"El libro solo puede hacer el plan de hoy: imprima o guarde cada versión. Hágalo de nuevo cuando cambien cultivos, terrenos, la forma de asignar códigos o la persona de contacto."))
	r.d.paragraph(r.say("[memory] An earlier version is kept for 2 years after it was replaced. We write this from memory and have not read the text of 21 CFR 1.1315(b); ask your inspector before you throw one away.",
		"[de memoria] Una versión anterior se guarda 2 años después de reemplazada. Lo escribimos de memoria, sin haber leído el texto de 21 CFR 1.1315(b); pregunte a su inspector antes de tirar alguna."))
	r.toFill(r.say("Where earlier versions are kept", "Dónde se guardan las versiones anteriores"), r.say("Who looks at this plan again, and when", "Quién revisa este plan y cuándo"))
}
