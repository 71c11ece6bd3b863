package domain

import (
	"slices"
	"strings"
)

// The elements are those of 21 CFR 1.1325 to 1.1350 as listed in the traceability reference 1.6 [verified: eCFR-S]. The
// names of the columns are ours.

var kdeEvents = []kdeEvent{
	{"harvest", "Harvesting", "1.1325(a)", slices.Concat([]kdeField{
		{"lot", "Harvest lot", "", KDEOurs, KDEText, "Code of the harvest lot in the farm's book.", func(r kdeRow) KDECell { return textCell(r.lot.Code) }},
		{"listed_item", "Item of the Food Traceability List", "", KDEOurs, KDEText, "Empty: the book does not have this crop on the list.", func(r kdeRow) KDECell { return textCell(r.lot.Listed) }},
		{"h_recipient_loc", "Location of the next holder", "1.1325(a)(1)(i)", KDEMust, KDEText, "Who had it next, other than a carrier: name, phone, address. The farm itself where it packed the lot.", nextHolder},
	}, kdeCrop("1.1325(a)(1)(ii)", harvestLot), kdeAmount("qty", "uom", "1.1325(a)(1)(iii)", "Quantity harvested", func(r kdeRow) Quantity { return r.lot.Made }), []kdeField{
		{"farm_loc", "Location of the farm of harvest", "1.1325(a)(1)(iv)", KDEMust, KDEText, "Name, phone and address of the farm where it was cut.", atFarm},
		{"field_name", "Field or growing area", "1.1325(a)(1)(v)", KDEMust, KDEText, "The beds by the names the grower uses; the sheet of growing areas has their coordinates.", fieldOf(harvestLot)},
		{"harvest_date", "Date of harvest", "1.1325(a)(1)(vii)", KDEMust, KDEDate, "First day of the cut.", func(r kdeRow) KDECell { return dateCell(r.lot.CutFrom) }},
		{"harvest_date_to", "Last day of harvest", "", KDEOurs, KDEDate, "Given when the cut took more than one day.", lastCut},
		{"harvester_name", "Harvester's business", "1.1325(a)(2)", KDEMust, KDEText, "Passed on to the first packer together with the phone.", func(r kdeRow) KDECell { return textCell(r.p.Farm.Name) }},
		{"harvester_phone", "Harvester's phone", "1.1325(a)(2)", KDEMust, KDEText, "Phone of that business.", func(r kdeRow) KDECell { return textCell(r.p.Farm.Phone) }},
	}, kdePaper("1.1325(a)(1)(viii)", func(r kdeRow) Reference { return paperOrEntry(r.lot.Reference, r.lot.Entry) })), harvestRows},

	{"cooling", "Cooling before initial packing", "1.1325(b)", slices.Concat([]kdeField{
		{"lot", "Harvest lot", "", KDEOurs, KDEText, "Code of the harvest lot in the farm's book.", func(r kdeRow) KDECell { return textCell(r.lot.Code) }},
		{"c_recipient_loc", "Location of the next holder", "1.1325(b)(1)(i)", KDEMust, KDEText, "Who had it next after cooling: name, phone, address.", nextHolder},
	}, kdeCrop("1.1325(b)(1)(ii)", harvestLot), kdeAmount("qty", "uom", "1.1325(b)(1)(iii)", "Quantity cooled", func(r kdeRow) Quantity { return r.lot.Made }), []kdeField{
		{"cool_loc", "Where it was cooled", "1.1325(b)(1)(iv)", KDEMust, KDEText, "Name, phone and address of the place of cooling.", func(r kdeRow) KDECell { return r.farmCell(r.event.Place) }},
		{"cool_date", "Date of cooling", "1.1325(b)(1)(v)", KDEMust, KDEDate, "Day of cooling.", func(r kdeRow) KDECell { return r.dayCell(r.event.At) }},
		{"cooled_at", "Hour of cooling", "", KDEOurs, KDEInstant, "Begin of cooling, farm time.", func(r kdeRow) KDECell { return KDECell{At: r.event.At} }},
		{"cooled_at_utc", "Distance of the hour from UTC", "", KDEOurs, KDEText, "Tells the hour that comes twice in autumn apart.", func(r kdeRow) KDECell { return r.offsetCell(r.event.At) }},
		{"method", "Method of cooling", "", KDEOurs, KDEText, "Cold water, ice, forced air, vacuum.", func(r kdeRow) KDECell { return textCell(r.event.Method) }},
		{"farm_loc", "Location of the farm of harvest", "1.1325(b)(1)(vi)", KDEMust, KDEText, "Name, phone and address of the farm where it was cut.", atFarm},
	}, kdePaper("1.1325(b)(1)(vii)", func(r kdeRow) Reference { return paperOrEntry(r.event.Reference, r.event.Entry) })), coolingRows},

	{"initial packing", "Initial packing", "1.1330(a)", slices.Concat([]kdeField{
		{"from_lot", "Harvest lot", "", KDEOurs, KDEText, "The harvest lot that was received for packing.", func(r kdeRow) KDECell { return textCell(r.in.Code) }},
		{"listed_item", "Item of the Food Traceability List", "", KDEOurs, KDEText, "Empty: the book does not have this crop on the list.", func(r kdeRow) KDECell { return textCell(r.in.Listed) }},
	}, kdeCrop("1.1330(a)(1)", parentLot), []kdeField{
		{"received_date", "Date received", "1.1330(a)(2)", KDEMust, KDEDate, "Of an own harvest without another date: the last day of the cut, since the farm had it from then on.", receivedOn},
	}, kdeAmount("recv_qty", "recv_uom", "1.1330(a)(3)", "Quantity received", func(r kdeRow) Quantity { return r.parent.Quantity }), []kdeField{
		{"farm_loc", "Location of the farm of harvest", "1.1330(a)(4)", KDEMust, KDEText, "Name, phone and address of the farm where it was cut.", atFarm},
		{"field_name", "Field or growing area", "1.1330(a)(5)", KDEMust, KDEText, "The beds by the names the grower uses.", fieldOf(parentLot)},
		{"harvester_name", "Harvester's business", "1.1330(a)(7)", KDEMust, KDEText, "Business that cut it.", func(r kdeRow) KDECell { return textCell(r.p.Farm.Name) }},
		{"harvester_phone", "Harvester's phone", "1.1330(a)(7)", KDEMust, KDEText, "Phone of that business.", func(r kdeRow) KDECell { return textCell(r.p.Farm.Phone) }},
		{"harvest_date", "Date of harvest", "1.1330(a)(8)", KDEMust, KDEDate, "First day of the cut.", func(r kdeRow) KDECell { return dateCell(r.in.CutFrom) }},
		{"cool_loc", "Where it was cooled", "1.1330(a)(9)", KDEIfAny, KDEText, "If it was cooled before packing.", cooledWhere},
		{"cool_date", "Date of cooling", "1.1330(a)(10)", KDEIfAny, KDEDate, "If it was cooled before packing.", cooledWhen},
		{"tlc", "Traceability lot code", "1.1330(a)(11)", KDEMust, KDEText, "The code that was given here and stands on the label.", lotCodeCell},
		{"product_desc", "Product description", "1.1330(a)(12)", KDEMust, KDEText, "What was packed, with size and style of the pack.", productCell},
	}, kdeAmount("pack_qty", "pack_uom", "1.1330(a)(13)", "Quantity packed", func(r kdeRow) Quantity { return r.lot.Made }), []kdeField{
		{"tlc_source_loc", "Location of the lot code source", "1.1330(a)(14)", KDEMust, KDEText, "Where it was packed and the code was given.", atPlace},
		{"tlc_source_ref", "Lot code source reference", "1.1330(a)(14)", KDEIfAny, KDEText, "Stands in for that location in what buyers get.", sourceRef},
		{"pack_date", "Date of initial packing", "1.1330(a)(15)", KDEMust, KDEDate, "Day of packing; of a lot packed while cutting, the day of the cut.", packedOn},
	}, kdePaper("1.1330(a)(16)", func(r kdeRow) Reference { return paperOrEntry(r.lot.Reference, r.lot.Entry) })), packingRows},

	{"shipping", "Shipping", "1.1340(a)", slices.Concat([]kdeField{
		{"tlc", "Traceability lot code", "1.1340(a)(1)", KDEMust, KDEText, "Code on the label of what left.", func(r kdeRow) KDECell { return textCell(r.line.Lot) }},
	}, kdeAmount("qty", "uom", "1.1340(a)(2)", "Quantity shipped", func(r kdeRow) Quantity { return r.line.Quantity }), []kdeField{
		{"product_desc", "Product description", "1.1340(a)(3)", KDEMust, KDEText, "What was shipped.", productCell},
		{"ship_to_loc", "Location of the next recipient", "1.1340(a)(4)", KDEMust, KDEText, "Who got it, other than a carrier: name, phone, address.", kdeRow.customerCell},
		{"ship_from_loc", "Where it left from", "1.1340(a)(5)", KDEMust, KDEText, "Name, phone and address of the place it left from.", atFarm},
		{"ship_date", "Date shipped", "1.1340(a)(6)", KDEMust, KDEDate, "Day it left.", func(r kdeRow) KDECell { return r.dayCell(r.move.At) }},
		{"shipped_at", "Hour shipped", "", KDEOurs, KDEInstant, "Hour it left, farm time.", func(r kdeRow) KDECell { return KDECell{At: r.move.At} }},
		{"shipped_at_utc", "Distance of the hour from UTC", "", KDEOurs, KDEText, "Tells the hour that comes twice in autumn apart.", func(r kdeRow) KDECell { return r.offsetCell(r.move.At) }},
		{"tlc_source_loc", "Location of the lot code source", "1.1340(a)(7)", KDEMust, KDEText, "Where the code was given.", atPlace},
		{"tlc_source_ref", "Lot code source reference", "1.1340(a)(7)", KDEIfAny, KDEText, "May stand in for that location.", sourceRef},
	}, kdePaper("1.1340(a)(8)", func(r kdeRow) Reference { return paperOrEntry(r.move.Reference, r.move.Entry) }), []kdeField{
		{"crates", "Crates", "", KDEOurs, KDEText, "Codes of the crates that left.", func(r kdeRow) KDECell { return textCell(strings.Join(r.line.Crates, " ")) }},
		{"outside_rule", "Outside the rule", "", KDEOurs, KDEText, "Food given away, or sold straight to those who eat it, is no shipment in the rule (21 CFR 1.1310) and stands here all the same.", outsideRule},
	}), func(p *Packet) []kdeRow { return moveRows(p, false) }},

	{"receiving", "Receiving what came back", "1.1345(a)", slices.Concat([]kdeField{
		{"tlc", "Traceability lot code", "1.1345(a)(1)", KDEMust, KDEText, "The lot stays the lot: what comes back keeps its code.", func(r kdeRow) KDECell { return textCell(r.line.Lot) }},
	}, kdeAmount("qty", "uom", "1.1345(a)(2)", "Quantity received", func(r kdeRow) Quantity { return r.line.Quantity }), []kdeField{
		{"product_desc", "Product description", "1.1345(a)(3)", KDEMust, KDEText, "What came back.", productCell},
		{"prev_source_loc", "Location of the previous source", "1.1345(a)(4)", KDEMust, KDEText, "Who sent it back: name, phone, address.", kdeRow.customerCell},
		{"recv_loc", "Where it was received", "1.1345(a)(5)", KDEMust, KDEText, "Name, phone and address of the place it came back to.", atFarm},
		{"recv_date", "Date received", "1.1345(a)(6)", KDEMust, KDEDate, "Day it came back.", func(r kdeRow) KDECell { return r.dayCell(r.move.At) }},
		{"tlc_source_loc", "Location of the lot code source", "1.1345(a)(7)", KDEMust, KDEText, "Where the code was given.", atPlace},
		{"tlc_source_ref", "Lot code source reference", "1.1345(a)(7)", KDEIfAny, KDEText, "May stand in for that location.", sourceRef},
	}, kdePaper("1.1345(a)(8)", func(r kdeRow) Reference { return paperOrEntry(r.move.Reference, r.move.Entry) }), []kdeField{
		{"decision", "What became of it", "", KDEOurs, KDEText, "Back to stock, given away, compost, animals, hold.", func(r kdeRow) KDECell { return textCell(r.move.Decision) }},
	}), func(p *Packet) []kdeRow { return moveRows(p, true) }},

	{"transformation", "Transformation (packs made of packs)", "1.1350(a)", slices.Concat([]kdeField{
		{"in_tlc", "Traceability lot code of what went in", "1.1350(a)(1)(i)", KDEMust, KDEText, "Code on the label of the pack that was opened.", func(r kdeRow) KDECell { return textCell(r.parent.Code) }},
		{"in_product_desc", "Product description of what went in", "1.1350(a)(1)(ii)", KDEMust, KDEText, "What it was.", func(r kdeRow) KDECell { return textCell(productOf(r.in)) }},
	}, kdeAmount("in_qty", "in_uom", "1.1350(a)(1)(iii)", "Quantity used", func(r kdeRow) Quantity { return r.parent.Quantity }), []kdeField{
		{"new_tlc", "New traceability lot code", "1.1350(a)(2)(i)", KDEMust, KDEText, "The code that was given here.", lotCodeCell},
		{"transform_loc", "Location of the lot code source", "1.1350(a)(2)(ii)", KDEMust, KDEText, "Where it was done and the new code was given.", atPlace},
		{"tlc_source_ref", "Lot code source reference", "1.1350(a)(2)(ii)", KDEIfAny, KDEText, "Stands in for that location in what buyers get.", sourceRef},
		{"completed_date", "Date completed", "1.1350(a)(2)(iii)", KDEMust, KDEDate, "Day it was done.", packedOn},
		{"product_desc", "Product description", "1.1350(a)(2)(iv)", KDEMust, KDEText, "What was made.", productCell},
	}, kdeAmount("qty", "uom", "1.1350(a)(2)(v)", "Quantity made", func(r kdeRow) Quantity { return r.lot.Made }),
		kdePaper("1.1350(a)(2)(vi)", func(r kdeRow) Reference { return paperOrEntry(r.lot.Reference, r.lot.Entry) })), transformationRows},

	{"growing areas", "Growing areas of the farm map", "1.1315(a)(5)", []kdeField{
		{"field_name", "Name of the field or growing area", "1.1315(a)(5)", KDEMust, KDEText, "As it stands on the rows of harvest and packing.", func(r kdeRow) KDECell { return textCell(r.bed.FieldName()) }},
		{"earlier_names", "Earlier names", "", KDEOurs, KDEText, "Names of beds that this one lies on.", func(r kdeRow) KDECell { return textCell(strings.Join(r.bed.EarlierNames, "; ")) }},
		{"latitude", "Geographic coordinates, north", "1.1315(a)(5)", KDEMust, KDENumber, "Degrees north (WGS 84).", func(r kdeRow) KDECell { return degreesCell(r.bed.Lat) }},
		{"longitude", "Geographic coordinates, east", "1.1315(a)(5)", KDEMust, KDENumber, "Degrees east (WGS 84).", func(r kdeRow) KDECell { return degreesCell(r.bed.Lon) }},
		{"farm_loc", "Location of the farm", "1.1315(a)(5)", KDEMust, KDEText, "Name, phone and address of the farm.", atFarm},
		{"valid_from", "Bed in use from", "", KDEOurs, KDEDate, "First day the bed lay there under this name.", func(r kdeRow) KDECell { return dateCell(r.bed.From) }},
		{"valid_to", "Bed in use until", "", KDEOurs, KDEDate, "Day it was laid anew; empty while it is in use.", func(r kdeRow) KDECell { return dateCell(r.bed.To) }},
	}, areaRows},
}
