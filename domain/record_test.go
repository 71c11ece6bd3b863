package domain_test

import (
	"errors"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"croftmark/domain"
)

// pointers lists what an error found wrong, in order; empty when nothing was.
func pointers(err error) string {
	var e *domain.Error
	if !errors.As(err, &e) || e.Code != domain.CodeInvalid {
		return ""
	}
	var out []string
	for _, f := range e.Fields {
		if strings.TrimSpace(f.Detail) == "" {
			out = append(out, "(no words)")
		}
		out = append(out, f.Pointer)
	}
	return strings.Join(out, " ")
}

var (
	someID  = uuid.MustParse("0190a6d2-0000-7000-8000-000000000001")
	otherID = uuid.MustParse("0190a6d2-0000-7000-8000-000000000002")
)

// Good records of every noun; the rows below spoil one thing at a time.
func goodFarm() *domain.Farm {
	return &domain.Farm{Name: "Low Field", TimeZone: "America/New_York", Standards: []domain.AdoptedStandard{{Set: "us-organic", From: dayOf("2024-01-01")}}}
}
func goodPlot() *domain.Plot {
	return &domain.Plot{Name: "Lower", PriorUse: []domain.PriorUse{{Kind: "hay", Until: dayOf("2020-10-01")}}, Location: &domain.Location{Lat: "43.1", Lon: "-72.4"}}
}
func goodBed() *domain.Bed {
	return &domain.Bed{Name: "Lower 3", PlotID: someID, From: dayOf("2024-03-01"), Length: domain.Q("100", "ft")}
}
func goodLayout() *domain.BedLayout {
	return &domain.BedLayout{PlotID: someID, On: dayOf("2026-11-01"), Retire: []uuid.UUID{otherID}, Lay: []domain.LaidBed{{Name: "New 1", Over: []uuid.UUID{otherID}}}}
}
func goodCrop() *domain.Crop {
	return &domain.Crop{Name: "radish", SoilContact: domain.Touches, CatalogueEntry: "radish"}
}
func goodPlanting() *domain.Planting {
	return &domain.Planting{CropID: someID, BedIDs: []uuid.UUID{otherID}, PlantedOn: dayOf("2026-07-01")}
}
func goodApplication() *domain.Application {
	return &domain.Application{Source: domain.Source{InputLotID: someID}, Ground: domain.Ground{BedIDs: []uuid.UUID{otherID}}, AppliedOn: dayOf("2026-04-01"),
		IncorporatedOn: dayOf("2026-04-10"), Method: "incorporated", Amount: domain.Q("4", "yd3")}
}
func goodGrazing() *domain.Grazing {
	return &domain.Grazing{Species: "hens", Ground: domain.Ground{PlotID: someID}, From: dayOf("2026-10-01"), To: dayOf("2026-11-20")}
}
func goodHold() *domain.Hold {
	return &domain.Hold{On: domain.HoldTarget{BedID: someID}, Reason: "flooded corner"}
}
func goodLot() *domain.HarvestLot {
	return &domain.HarvestLot{PlantingID: someID, BedIDs: []uuid.UUID{otherID}, CutOn: dayOf("2026-11-24"), Quantity: domain.Q("120", "bunch")}
}
func goodDisposal() *domain.Disposal {
	return &domain.Disposal{LotID: someID, On: dayOf("2026-11-24"), Quantity: domain.Q("3", "lb"), How: "compost"}
}
func goodPrint() *domain.LabelPrint {
	return &domain.LabelPrint{LotID: someID, Size: "4x2in", Copies: 12}
}

// spoiled makes a good record and breaks something in it.
func spoiled[T domain.Record](good func() T, spoil func(T)) domain.Record {
	r := good()
	spoil(r)
	return r
}

func TestRecordsSayWhatIsWrongAndWhere(t *testing.T) {
	t.Parallel()
	long, control, broken := strings.Repeat("x", 121), "Lower\x07 3", "Lower \xff"
	for _, c := range []struct {
		why    string
		record domain.Record
		want   string
	}{
		{"farm", goodFarm(), ""},
		{"no zone", spoiled(goodFarm, func(f *domain.Farm) { f.TimeZone = "" }), "#/time_zone"},
		{"zone of this machine", spoiled(goodFarm, func(f *domain.Farm) { f.TimeZone = "Local" }), "#/time_zone"},
		{"wrong zone name", spoiled(goodFarm, func(f *domain.Farm) { f.TimeZone = "America/Vermont" }), "#/time_zone"},
		{"zone that climbs out of the folder", spoiled(goodFarm, func(f *domain.Farm) { f.TimeZone = "../../etc/passwd" }), "#/time_zone"},
		{"unknown standard without a day", spoiled(goodFarm, func(f *domain.Farm) { f.Standards[0] = domain.AdoptedStandard{Set: "organic"} }), "#/standards/0/set #/standards/0/from"},
		{"the set for all farms is not adopted", spoiled(goodFarm, func(f *domain.Farm) { f.Standards[0].Set = "every-farm" }), "#/standards/0/set"},
		{"given up before it was adopted", spoiled(goodFarm, func(f *domain.Farm) { f.Standards[0].To = dayOf("2023-12-31") }), "#/standards/0/to"},
		{"unknown words and a broken phone", spoiled(goodFarm, func(f *domain.Farm) { f.Exemption, f.Units, f.Phone = "small", "stones", broken }), "#/phone #/exemption #/units"},

		{"plot", goodPlot(), ""},
		{"plot without a name, history guessed", spoiled(goodPlot, func(x *domain.Plot) { x.Name, x.History = " ", "maybe" }), "#/name #/history"},
		{"prior use unknown and ahead", spoiled(goodPlot, func(x *domain.Plot) {
			x.PriorUse = []domain.PriorUse{{Kind: "zoo", Until: dayOf("2027-01-01"), Note: control}}
		}), "#/prior_use/0/kind #/prior_use/0/until #/prior_use/0/note"},
		{"off the globe", spoiled(goodPlot, func(x *domain.Plot) { x.Location = &domain.Location{Lat: "90.1", Lon: "-180.5"} }), "#/location/lat #/location/lon"},
		{"at its very edge", spoiled(goodPlot, func(x *domain.Plot) { x.Location = &domain.Location{Lat: "-90", Lon: "180.0"} }), ""},
		{"degrees in words", spoiled(goodPlot, func(x *domain.Plot) { x.Location = &domain.Location{Lat: "43°N"} }), "#/location/lat #/location/lon"},

		{"bed", goodBed(), ""},
		{"name too long", spoiled(goodBed, func(x *domain.Bed) { x.Name = long }), "#/name"},
		{"name with a control character", spoiled(goodBed, func(x *domain.Bed) { x.Name = control }), "#/name"},
		{"name not in UTF-8", spoiled(goodBed, func(x *domain.Bed) { x.Name = broken }), "#/name"},
		{"name over two lines", spoiled(goodBed, func(x *domain.Bed) { x.Name = "Lower\n3" }), "#/name"},
		{"blanks around the name", spoiled(goodBed, func(x *domain.Bed) { x.Name = " Lower 3" }), "#/name"},
		{"in no plot, from the day after tomorrow", spoiled(goodBed, func(x *domain.Bed) { x.PlotID, x.From = uuid.Nil, dayOf("2026-11-27") }), "#/plot_id #/from"},
		{"from tomorrow: the phone may be a zone ahead", spoiled(goodBed, func(x *domain.Bed) { x.From = dayOf("2026-11-26") }), ""},
		{"from before anyone answers for", spoiled(goodBed, func(x *domain.Bed) { x.From = dayOf("1926-03-01") }), "#/from"},
		{"length in pounds, width negative", spoiled(goodBed, func(x *domain.Bed) { x.Length, x.Width = domain.Q("3", "lb"), domain.Q("-3", "ft") }), "#/length/unit #/width/value"},
		{"outline off the globe", spoiled(goodBed, func(x *domain.Bed) { x.Outline = []domain.Location{{Lat: "43", Lon: "200"}} }), "#/outline/0/lon"},
		{"sets what the book sets", spoiled(goodBed, func(x *domain.Bed) {
			yes := true
			x.Over, x.To, x.InProduction = []uuid.UUID{otherID}, dayOf("2026-01-01"), &yes
		}), "#/over #/to #/in_production"},

		{"layout", goodLayout(), ""},
		{"on fresh ground", spoiled(goodLayout, func(x *domain.BedLayout) { x.Retire, x.Lay[0].Over = nil, nil }), ""},
		{"re-laid and forgetting what lies under it", spoiled(goodLayout, func(x *domain.BedLayout) { x.Lay[0].Over = nil }), "#/lay/0/over"},
		{"nothing laid nowhere", &domain.BedLayout{}, "#/plot_id #/on #/lay"},
		{"one name twice, one bed twice", spoiled(goodLayout, func(x *domain.BedLayout) {
			x.Lay = append(x.Lay, domain.LaidBed{Name: "new 1", Over: []uuid.UUID{otherID, otherID}, Length: domain.Q("9000", "ft")})
			x.Retire = []uuid.UUID{otherID, otherID}
		}), "#/retire/1 #/lay/1/name #/lay/1/length/value #/lay/1/over/1"},

		{"out of production for no reason", &domain.BedProduction{BedID: someID, On: dayOf("2026-11-24"), Reason: " "}, "#/reason"},
		{"out of production", &domain.BedProduction{BedID: someID, On: dayOf("2026-11-24"), Reason: "resting"}, ""},

		{"crop", goodCrop(), ""},
		{"milder than the catalogue without a reason", spoiled(goodCrop, func(x *domain.Crop) { x.SoilContact = domain.HeldClear }), "#/reason"},
		{"milder with one", spoiled(goodCrop, func(x *domain.Crop) { x.SoilContact, x.Reason = domain.HeldClear, "grown on benches" }), ""},
		{"contact not said, catalogue unknown", spoiled(goodCrop, func(x *domain.Crop) { x.SoilContact, x.CatalogueEntry = "", "mandrake" }), "#/soil_contact #/catalogue_entry"},
		{"for nobody, in minus three days", spoiled(goodCrop, func(x *domain.Crop) { x.Use, x.DaysToHarvest, x.Variety = "sale", -3, long }), "#/variety #/days_to_harvest #/use"},

		{"planting", goodPlanting(), ""},
		{"of nothing nowhere never", &domain.Planting{}, "#/crop_id #/bed_ids #/planted_on"},
		{"harvest expected before planting", spoiled(goodPlanting, func(x *domain.Planting) { x.ExpectedHarvestOn = dayOf("2026-06-01") }), "#/expected_harvest_on"},
		{"harvest expected in the next century", spoiled(goodPlanting, func(x *domain.Planting) { x.ExpectedHarvestOn = dayOf("2126-06-01") }), "#/expected_harvest_on"},
		{"ended before planting", spoiled(goodPlanting, func(x *domain.Planting) { x.EndedOn = dayOf("2026-06-30") }), "#/ended_on"},
		{"contact guessed, method broken, bed twice", spoiled(goodPlanting, func(x *domain.Planting) {
			x.SoilContact, x.Method, x.BedIDs = "sometimes", broken, []uuid.UUID{otherID, otherID}
		}), "#/bed_ids/1 #/soil_contact #/method"},

		{"application", goodApplication(), ""},
		{"worked in before it was spread", spoiled(goodApplication, func(x *domain.Application) { x.IncorporatedOn = dayOf("2026-03-31") }), "#/incorporated_on"},
		{"worked in on the day it was spread", spoiled(goodApplication, func(x *domain.Application) { x.IncorporatedOn = x.AppliedOn }), ""},
		{"worked in on no day", spoiled(goodApplication, func(x *domain.Application) { x.IncorporatedOn = domain.Date{} }), "#/incorporated_on"},
		{"left on top", spoiled(goodApplication, func(x *domain.Application) { x.IncorporatedOn, x.Method = domain.Date{}, "surface" }), ""},
		{"two sources, two places", spoiled(goodApplication, func(x *domain.Application) {
			x.Source.CompostBatchID, x.Ground.PlotID = otherID, someID
		}), "#/source #/ground"},
		{"no source, no place, no amount, unknown method and touch", &domain.Application{AppliedOn: dayOf("2026-04-01"), Method: "thrown", TouchedCrop: "a bit"},
			"#/source #/ground #/method #/amount/unit #/amount/value #/touched_crop"},
		{"will be spread", spoiled(goodApplication, func(x *domain.Application) { x.AppliedOn, x.IncorporatedOn = dayOf("2026-12-24"), dayOf("2026-12-24") }), "#/applied_on #/incorporated_on"},
		{"an amount of heads", spoiled(goodApplication, func(x *domain.Application) { x.Amount = domain.Q("4", "head") }), "#/amount/unit"},

		{"grazing", goodGrazing(), ""},
		{"still there", spoiled(goodGrazing, func(x *domain.Grazing) { x.To = domain.Date{} }), ""},
		{"out before in, by nobody, minus two", spoiled(goodGrazing, func(x *domain.Grazing) { x.Species, x.To, x.Head = "", dayOf("2026-09-30"), -2 }), "#/species #/head #/to"},

		{"hold", goodHold(), ""},
		{"on nothing", &domain.Hold{}, "#/on #/reason"},
		{"on two things, already released", spoiled(goodHold, func(x *domain.Hold) { x.On.LotID, x.Released = otherID, &domain.Release{} }), "#/on #/released"},
		{"release without a reason", &domain.Release{HoldID: someID}, "#/reason"},

		{"lot", goodLot(), ""},
		{"cut over three days", spoiled(goodLot, func(x *domain.HarvestLot) {
			x.CutOn, x.CutFrom, x.CutTo = domain.Date{}, dayOf("2026-11-20"), dayOf("2026-11-22")
		}), ""},
		{"cut on no day", spoiled(goodLot, func(x *domain.HarvestLot) { x.CutOn = domain.Date{} }), "#/cut_on"},
		{"both ways of saying the day", spoiled(goodLot, func(x *domain.HarvestLot) { x.CutTo = x.CutOn }), "#/cut_on"},
		{"last day missing", spoiled(goodLot, func(x *domain.HarvestLot) { x.CutOn, x.CutFrom = domain.Date{}, dayOf("2026-11-20") }), "#/cut_to"},
		{"first day missing", spoiled(goodLot, func(x *domain.HarvestLot) { x.CutOn, x.CutTo = domain.Date{}, dayOf("2026-11-20") }), "#/cut_from"},
		{"days swapped", spoiled(goodLot, func(x *domain.HarvestLot) {
			x.CutOn, x.CutFrom, x.CutTo = domain.Date{}, dayOf("2026-11-22"), dayOf("2026-11-20")
		}), "#/cut_to"},
		{"cut for a month", spoiled(goodLot, func(x *domain.HarvestLot) {
			x.CutOn, x.CutFrom, x.CutTo = domain.Date{}, dayOf("2026-10-20"), dayOf("2026-11-20")
		}), "#/cut_to"},
		{"will be cut", spoiled(goodLot, func(x *domain.HarvestLot) { x.CutOn = dayOf("2026-11-27") }), "#/cut_on"},
		{"gives code and verdict itself, crates below zero", spoiled(goodLot, func(x *domain.HarvestLot) {
			x.Code, x.VerdictThen, x.Containers, x.Crew = "A", &domain.Judgement{}, -1, []uuid.UUID{someID, someID}
		}), "#/crew/1 #/containers #/code #/verdict_then"},
		{"nothing cut from nowhere", &domain.HarvestLot{CutOn: dayOf("2026-11-24")}, "#/planting_id #/bed_ids #/quantity/unit #/quantity/value"},

		{"disposal", goodDisposal(), ""},
		{"disposal by gift, of an area", spoiled(goodDisposal, func(x *domain.Disposal) { x.How, x.Quantity = "gift", domain.Q("1", "acre") }), "#/kind #/quantity/unit"},
		{"labels", goodPrint(), ""},
		{"no labels of no lot, again", &domain.LabelPrint{Reprint: true, Size: strings.Repeat("4", 21)}, "#/lot_id #/size #/copies #/reason"},

		{"habits", spoiled(goodHold, func(x *domain.Hold) {
			x.Note, x.LateReason, x.DoneAt = strings.Repeat("x", 4001), broken, time.Date(2026, 11, 28, 12, 0, 0, 0, time.UTC)
		}), "#/note #/late_reason #/done_at"},
		{"a note of many lines", spoiled(goodHold, func(x *domain.Hold) { x.Note = "first\r\n\tsecond" }), ""},
	} {
		err := domain.CheckRecord(c.record, dayOf("2026-11-25"), time.UTC)
		if got := pointers(err); got != c.want || (err == nil) != (c.want == "") {
			t.Errorf("%s %s: %q, want %q (%v)", c.record.Kind(), c.why, got, c.want, err)
		}
	}
}

// The instant of the act falls on the farm's day, not on the day in Greenwich.
func TestDoneAtIsJudgedInTheFarmsZone(t *testing.T) {
	t.Parallel()
	zone, err := domain.Zone("Pacific/Honolulu")
	if err != nil {
		t.Fatal(err)
	}
	hold := goodHold()
	hold.DoneAt = time.Date(2026, 11, 27, 9, 0, 0, 0, time.UTC) // 23:00 on the 26th on the farm
	if err := domain.CheckRecord(hold, dayOf("2026-11-25"), zone); err != nil {
		t.Errorf("tomorrow on the farm: %v", err)
	}
	if err := domain.CheckRecord(hold, dayOf("2026-11-25"), time.UTC); pointers(err) != "#/done_at" {
		t.Errorf("two days ahead: %v", err)
	}
}

func TestRecordsKnowTheirKindAndDay(t *testing.T) {
	t.Parallel()
	for kind, c := range map[string]struct {
		record domain.Record
		done   string
	}{
		"farm": {goodFarm(), ""}, "plot": {goodPlot(), ""}, "bed": {goodBed(), ""}, "bed-layout": {goodLayout(), "2026-11-01"},
		"bed-production": {&domain.BedProduction{On: dayOf("2026-11-24")}, "2026-11-24"}, "crop": {goodCrop(), ""},
		"planting": {goodPlanting(), "2026-07-01"}, "application": {goodApplication(), "2026-04-01"}, "grazing": {goodGrazing(), "2026-10-01"},
		"hold": {goodHold(), ""}, "hold-release": {&domain.Release{}, ""}, "harvest-lot": {goodLot(), "2026-11-24"},
		"disposal": {goodDisposal(), "2026-11-24"}, "label-print": {goodPrint(), ""},
		"harvest-refused": {&domain.HarvestRefused{Attempt: goodLot()}, "2026-11-24"},
	} {
		*c.record.Identity() = otherID
		if c.record.Kind() != kind || c.record.DoneOn().String() != c.done || *c.record.Identity() != otherID {
			t.Errorf("%s: %s on %q", kind, c.record.Kind(), c.record.DoneOn())
		}
		domain.HabitsOf(c.record).Note = "x"
		if domain.HabitsOf(c.record).Note != "x" {
			t.Errorf("%s keeps no note", kind)
		}
	}
}

func TestInvalidTellsAllFieldsInOneSentence(t *testing.T) {
	t.Parallel()
	err := domain.CheckRecord(&domain.Hold{}, dayOf("2026-11-25"), time.UTC)
	want := "2 fields need another look. First: Name exactly one thing to hold: bed_id, lot_id, input_lot_id, compost_batch_id or water_source_id."
	var e *domain.Error
	if !errors.As(err, &e) || e.Detail != want || !strings.HasPrefix(e.Error(), "invalid: #/on: ") {
		t.Errorf("%v", err)
	}
	if got := domain.NotFound("bed", "Lower 3").Error(); got != "not-found: There is no bed Lower 3 in this farm's book." {
		t.Errorf("%q", got)
	}
}

func TestHoldTargetIsNamed(t *testing.T) {
	t.Parallel()
	for want, on := range map[string]domain.HoldTarget{"bed": {BedID: someID}, "harvest-lot": {LotID: someID}, "input-lot": {InputLotID: someID}, "compost-batch": {CompostBatchID: someID}} {
		if kind, id := on.Target(); kind != want || id != someID {
			t.Errorf("%s: %s %s", want, kind, id)
		}
	}
}
