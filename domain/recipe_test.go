package domain_test

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"croftmark/domain"

	"github.com/shopspring/decimal"
)

func num(s string) domain.Number { return domain.Given(dec(s)) }

func dec(s string) decimal.Decimal { return decimal.RequireFromString(s) }

// stuff is an ingredient with own moisture, carbon and nitrogen, percent.
func stuff(name, amount string, unit domain.Unit, moisture, carbon, nitrogen string) domain.Ingredient {
	return domain.Ingredient{Feedstock: name, Amount: domain.Q(amount, unit),
		MoisturePct: num(moisture), CarbonPct: num(carbon), NitrogenPct: num(nitrogen)}
}

// near fails unless the figure is known and within half a step of the want.
func near(t *testing.T, what string, got domain.Figure, want, step float64) {
	t.Helper()
	if !got.Known() {
		t.Errorf("%s: unknown, want %v", what, want)
		return
	}
	if f := got.Decimal(9).Decimal.InexactFloat64(); math.Abs(f-want) > step/2+1e-9 {
		t.Errorf("%s: %v, want %v", what, f, want)
	}
}

var (
	hen    = stuff("hen manure", "100", "lb", "69", "48", "8.0")
	cattle = stuff("cattle manure", "100", "lb", "81", "45.6", "2.4")
	straw  = stuff("straw", "1", "lb", "12", "56", "0.7")
	leaves = stuff("leaves", "1", "lb", "38", "48.6", "0.9")
)

// The worked examples of the calculations reference 1.4; each row names its source and mark.
func TestRecipeWorkedExampleMixes(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct {
		name                     string
		ingredients              []domain.Ingredient
		ratio, ratioStep         float64
		moisture, moistureStep   float64
		carbon, nitrogen, weight float64
	}{
		// Handout "How to calculate the C:N ratio of your compost mix" [verified]; percents as-is.
		{"E5 hay, scraps, coffee", []domain.Ingredient{stuff("my hay", "50", "lb", "0", "40", "1"),
			stuff("my scraps", "10", "lb", "0", "10", "1"), stuff("my coffee", "2", "lb", "0", "25", "1")},
			34.677, 0.001, 0, 0.1, 21.5, 0.62, 62},
		// us-rules 1.2 [computed].
		{"E8 manure and straw", []domain.Ingredient{stuff("manure", "1000", "kg", "80", "51.3", "2.7"),
			stuff("straw", "200", "kg", "12", "56", "0.7")}, 30.332, 0.001, 68.67, 0.01, 201.16 * 2.204622622, 6.632 * 2.204622622, 2645.547},
		// [computed].
		{"E9 horse and straw", []domain.Ingredient{stuff("horse", "100", "lb", "72", "48", "1.6"),
			stuff("straw", "10", "lb", "12", "56", "0.7")}, 36.044, 0.001, 66.55, 0.01, 0, 0, 110},
		// [computed]; densities and analyses of the shipped table.
		{"E12 by volume", []domain.Ingredient{{Feedstock: "horse manure general", Amount: domain.Q("3", "yd3")},
			{Feedstock: "straw general", Amount: domain.Q("2", "yd3")}}, 36.556, 0.001, 66.07, 0.01, 0, 0, 4591},
	} {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			m := domain.MixOf(tt.ingredients)
			near(t, "C:N", m.CarbonNitrogen, tt.ratio, tt.ratioStep)
			near(t, "moisture", m.MoisturePct, tt.moisture, tt.moistureStep)
			near(t, "weight", m.MassLb, tt.weight, 0.01)
			if tt.carbon > 0 {
				near(t, "carbon", m.CarbonLb, tt.carbon, 0.02)
				near(t, "nitrogen", m.NitrogenLb, tt.nitrogen, 0.002)
			}
		})
	}
}

// E1: Cornell, Composting in Schools, moisture page (copy) [verified].
func TestRecipeMoistureOfSample(t *testing.T) {
	t.Parallel()
	got, err := domain.MoistureOfSample(dec("14"), dec("6.3"), dec("4"))
	if err != nil {
		t.Fatal(err)
	}
	near(t, "E1", got, 77, 0)
	for _, bad := range [][3]string{{"4", "4", "4"}, {"14", "3.9", "4"}, {"14", "14.1", "4"}, {"14", "6", "-1"}} {
		if _, err := domain.MoistureOfSample(dec(bad[0]), dec(bad[1]), dec(bad[2])); err == nil {
			t.Errorf("weights %v: accepted", bad)
		}
	}
}

// E6: CIAS Compost Recipe Worksheet Key [verified] averages ratios to "around 30"; the mix is 32.6 or 20.7 [computed].
// E7: the worksheet's share of 0.816 litter gives a true C:N of 10.7 [computed].
func TestRecipeRatiosAreNotAveraged(t *testing.T) {
	t.Parallel()
	average := (2*15.0 + 65) / 3
	wet := domain.MixOf([]domain.Ingredient{stuff("manure", "2", "lb", "79", "40.5", "2.7"), stuff("stalks", "1", "lb", "12", "45.5", "0.7")})
	near(t, "E6 as it lies", wet.CarbonNitrogen, 32.6, 0.1)
	// The reference's 20.7 takes the two pounds and the one pound as dry matter.
	dry := domain.MixOf([]domain.Ingredient{stuff("manure", "2", "lb", "0", "40.5", "2.7"), stuff("stalks", "1", "lb", "0", "45.5", "0.7")})
	near(t, "E6 taken as dry", dry.CarbonNitrogen, 20.7, 0.1)
	if got := wet.CarbonNitrogen.Decimal(3).Decimal.InexactFloat64(); math.Abs(got-average) < 0.5 {
		t.Errorf("E6: %v is the average of the ratios %v", got, average)
	}
	litter := domain.MixOf([]domain.Ingredient{stuff("litter", "0.816", "lb", "25", "30", "4.0"), stuff("straw", "0.184", "lb", "10", "52", "0.4")})
	near(t, "E7", litter.CarbonNitrogen, 10.7, 0.1)
}

func TestRecipeSolvedAmounts(t *testing.T) {
	t.Parallel()
	grass := stuff("grass", "10", "kg", "77", "45", "2.4")
	cornellLeaves := stuff("leaves", "1", "kg", "35", "50", "0.75")
	sawdust := domain.Ingredient{Feedstock: "sawdust", Amount: domain.Q("400", "lb"), MoisturePct: num("0"), CarbonPct: num("60"), CarbonNitrogen: num("400")}
	lessSawdust := sawdust
	lessSawdust.Amount = domain.Q("320", "lb")
	urea := stuff("urea", "1", "lb", "0", "0", "46")
	for _, tt := range []struct {
		name    string
		got     domain.Supplement
		exact   []float64
		rounded []string
	}{
		// Cornell moisture page (copy) [verified].
		{"E2 leaves for 60 % moisture", domain.AddForMoisture([]domain.Ingredient{grass}, cornellLeaves, dec("60")), []float64{6.8}, []string{"6.8 kg"}},
		// Cornell C/N page; its numbers [memory].
		{"E3 leaves for 30:1", domain.AddForCarbonNitrogen([]domain.Ingredient{grass}, cornellLeaves, dec("30")), []float64{3.474}, []string{"3.5 kg"}},
		// Extension Ask an Expert 351921, Oregon, 2016 [verified]; it takes the sawdust as dry.
		{"E4 urea for sawdust", domain.AddForCarbonNitrogen([]domain.Ingredient{sawdust}, urea, dec("30")), []float64{16.087}, []string{"16.1 lb"}},
		{"E4 with 80 % sawdust", domain.AddForCarbonNitrogen([]domain.Ingredient{lessSawdust}, urea, dec("30")), []float64{12.870}, []string{"12.9 lb"}},
		// E10 to E13 [computed].
		{"E10 straw for 30:1", domain.AddForCarbonNitrogen([]domain.Ingredient{hen}, straw, dec("30")), []float64{193.25}, []string{"193.3 lb"}},
		{"E13 straw and water", domain.AddForBoth([]domain.Ingredient{hen}, straw, domain.Ingredient{Feedstock: "water"}, dec("30"), dec("58")),
			[]float64{193.25, 185.46}, []string{"193.3 lb", "185.5 lb"}},
		{"E11 leaves for 30:1", domain.AddForCarbonNitrogen([]domain.Ingredient{stuff("cattle", "500", "lb", "81", "45.6", "2.4")}, leaves, dec("30")),
			[]float64{187.28}, []string{"187.3 lb"}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			if !tt.got.Possible || len(tt.got.Exact) != len(tt.exact) {
				t.Fatalf("not solved: %+v", tt.got.Said)
			}
			for i := range tt.exact {
				near(t, "amount", tt.got.Exact[i], tt.exact[i], 0.01)
				if got := tt.got.Amounts[i].String(); got != tt.rounded[i] {
					t.Errorf("rounded: %s, want %s", got, tt.rounded[i])
				}
			}
		})
	}
	// E3 with its rounded 3.5 kg: R 30.064, M 66.1 % [computed].
	e3 := domain.AddForCarbonNitrogen([]domain.Ingredient{grass}, cornellLeaves, dec("30"))
	near(t, "E3 C:N", e3.Mix.CarbonNitrogen, 30.064, 0.001)
	near(t, "E3 moisture", e3.Mix.MoisturePct, 66.1, 0.1)
}

func TestRecipeWater(t *testing.T) {
	t.Parallel()
	strawed := straw
	strawed.Amount = domain.Q("193.25", "lb")
	base := []domain.Ingredient{hen, strawed}
	near(t, "E10 moisture", domain.MixOf(base).MoisturePct, 31.44, 0.01)
	s := domain.AddWater(base, dec("55")) // E10 [computed]: 153.55 lb, 18.4 gal
	if !s.Possible {
		t.Fatal(s.Said)
	}
	near(t, "water", s.Exact[0], 153.55, 0.02)
	if !strings.Contains(s.Said.En, "18.4 gal") || !strings.Contains(s.Said.Es, "18.4 gal") {
		t.Errorf("said %+v", s.Said)
	}
}

func TestRecipeImpossibleAnswersInWords(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct {
		name string
		got  domain.Supplement
		want string
	}{
		// E14 [computed]: straw -491.3, leaves +1,167; at 65 % still none.
		{"E14 at 60 %", domain.AddForBoth([]domain.Ingredient{cattle}, straw, leaves, dec("30"), dec("60")), "No mix of straw and leaves"},
		{"E14 at 65 %", domain.AddForBoth([]domain.Ingredient{cattle}, straw, leaves, dec("30"), dec("65")), "No mix of straw and leaves"},
		{"same side", domain.AddForCarbonNitrogen([]domain.Ingredient{straw}, leaves, dec("30")), "same side"},
		{"at the goal itself", domain.AddForMoisture([]domain.Ingredient{cattle}, leaves, dec("38")), "exactly at the goal"},
		{"the same material twice", domain.AddForBoth([]domain.Ingredient{cattle}, straw, straw, dec("30"), dec("60")), "cannot move both"},
		{"density unknown", domain.AddForMoisture([]domain.Ingredient{{Feedstock: "mystery", Amount: domain.Q("1", "yd3"), MoisturePct: num("50")}}, leaves, dec("60")), "bucket"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			if tt.got.Possible || len(tt.got.Amounts) > 0 {
				t.Errorf("gave %v", tt.got.Amounts)
			}
			if !strings.Contains(tt.got.Said.En, tt.want) || tt.got.Said.Es == "" {
				t.Errorf("said %+v, want %q", tt.got.Said, tt.want)
			}
		})
	}
	if s := domain.AddForMoisture([]domain.Ingredient{cattle}, straw, dec("81")); !s.Possible || len(s.Amounts) != 0 {
		t.Errorf("at the goal already: %+v", s)
	}
}

// The trap of the calculations reference 1.4 [computed]: rounded down to 50.7 lb the mix is 24.998:1 and fails.
func TestRecipeRoundsTowardTheSafeSide(t *testing.T) {
	t.Parallel()
	base := []domain.Ingredient{stuff("cattle", "300", "lb", "81", "45.6", "2.4")}
	s := domain.AddForCarbonNitrogen(base, leaves, dec("25"))
	near(t, "exact", s.Exact[0], 50.723, 0.001)
	if got := s.Amounts[0].String(); got != "50.8 lb" {
		t.Errorf("rounded to %s", got)
	}
	if ok, _ := s.Mix.OrganicRatio(); !ok {
		t.Errorf("the rounded mix fails: %s", s.Mix.CarbonNitrogen)
	}
	short := leaves
	short.Amount = domain.Q("50.7", "lb")
	m := domain.MixOf(append(base, short))
	if ok, known := m.OrganicRatio(); ok || !known {
		t.Errorf("50.7 lb passes at %s", m.CarbonNitrogen)
	}
	if got := m.CarbonNitrogen.Show(1, dec("25")); got == "25" {
		t.Error("24.998 is shown as 25")
	}
	// At the upper limit up would step over, so the amount goes down.
	up := domain.AddForCarbonNitrogen([]domain.Ingredient{cattle}, straw, dec("40"))
	if ok, _ := up.Mix.OrganicRatio(); !ok || !up.Possible {
		t.Errorf("goal 40: %+v gives %s", up.Amounts, up.Mix.CarbonNitrogen)
	}
}

// Ends included: 25 and 40 pass, 24.9 and 40.1 do not (us-rules 1.2; inclusive [interpretation]).
func TestRecipeOrganicRatioLimits(t *testing.T) {
	t.Parallel()
	for ratio, want := range map[string]bool{"24": false, "24.9": false, "24.999999": false, "25": true, "40": true, "40.000001": false, "40.1": false} {
		m := domain.MixOf([]domain.Ingredient{{Feedstock: "mix", Amount: domain.Q("7", "lb"), MoisturePct: num("33"), NitrogenPct: num("1.3"), CarbonNitrogen: num(ratio)}})
		if ok, known := m.OrganicRatio(); ok != want || !known {
			t.Errorf("C:N %s: ok %v known %v", ratio, ok, known)
		}
	}
}

func TestRecipeUnknownStaysUnknown(t *testing.T) {
	t.Parallel()
	whole := stuff("known", "10", "lb", "50", "45", "1.5")
	for _, tt := range []struct {
		name            string
		in              domain.Ingredient
		moisture, ratio bool
	}{
		{"no analysis", domain.Ingredient{Feedstock: "mystery", Amount: domain.Q("1", "lb")}, false, false},
		{"moisture only", domain.Ingredient{Feedstock: "mystery", Amount: domain.Q("1", "lb"), MoisturePct: num("50")}, true, false},
		{"volume without density", domain.Ingredient{Feedstock: "mystery", Amount: domain.Q("1", "yd3"), MoisturePct: num("50"), CarbonPct: num("45"), NitrogenPct: num("1")}, false, false},
		{"counted in crates", stuff("mystery", "3", "crate", "50", "45", "1"), false, false},
		{"table row without C:N", domain.Ingredient{Feedstock: "hay general", Amount: domain.Q("1", "lb")}, true, false},
		{"nothing lacking", domain.Ingredient{Feedstock: "horse manure general", Amount: domain.Q("1", "lb")}, true, true},
	} {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			m := domain.MixOf([]domain.Ingredient{whole, tt.in})
			if m.MoisturePct.Known() != tt.moisture || m.CarbonNitrogen.Known() != tt.ratio {
				t.Errorf("moisture %s, C:N %s", m.MoisturePct, m.CarbonNitrogen)
			}
			if (len(m.Missing) == 0) != (tt.moisture && tt.ratio) {
				t.Errorf("missing %v", m.Missing)
			}
		})
	}
	if m := domain.MixOf(nil); m.CarbonNitrogen.Known() || m.MoisturePct.Known() || m.MassLb.Known() || len(m.Missing) != 1 {
		t.Errorf("nothing at all: %+v", m)
	}
	if b, err := domain.MixOf(nil).CarbonNitrogen.MarshalJSON(); err != nil || string(b) != "null" {
		t.Errorf("unknown as JSON: %s %v", b, err)
	}
}

// Data quality (calculations reference 1.3 [computed]): typical sawdust is 106 % carbon, softwood bark 69 %.
func TestRecipeRefusesImpossiblePairs(t *testing.T) {
	t.Parallel()
	lb := domain.Q("10", "lb")
	for _, tt := range []struct {
		name  string
		in    domain.Ingredient
		known bool
	}{
		{"sawdust of the table", domain.Ingredient{Feedstock: "sawdust", Amount: lb}, false},
		{"softwood bark of the table", domain.Ingredient{Feedstock: "bark softwood", Amount: lb, MoisturePct: num("40")}, false},
		{"sawdust with carbon alone", domain.Ingredient{Feedstock: "sawdust", Amount: lb, CarbonPct: num("50")}, false},
		{"sawdust with carbon and nitrogen", domain.Ingredient{Feedstock: "sawdust", Amount: lb, CarbonPct: num("50"), NitrogenPct: num("0.2")}, true},
		{"implied 60", domain.Ingredient{Feedstock: "x", Amount: lb, MoisturePct: num("0"), NitrogenPct: num("2"), CarbonNitrogen: num("30")}, true},
		{"implied 60.02", domain.Ingredient{Feedstock: "x", Amount: lb, MoisturePct: num("0"), NitrogenPct: num("2"), CarbonNitrogen: num("30.01")}, false},
		{"implied 25", domain.Ingredient{Feedstock: "x", Amount: lb, MoisturePct: num("0"), NitrogenPct: num("5"), CarbonNitrogen: num("5")}, true},
		{"implied 24.95", domain.Ingredient{Feedstock: "x", Amount: lb, MoisturePct: num("0"), NitrogenPct: num("5"), CarbonNitrogen: num("4.99")}, false},
	} {
		if m := domain.MixOf([]domain.Ingredient{tt.in}); m.CarbonNitrogen.Known() != tt.known {
			t.Errorf("%s: C:N %s, missing %v", tt.name, m.CarbonNitrogen, m.Missing)
		}
	}
}

func TestRecipeExplainsItself(t *testing.T) {
	t.Parallel()
	m := domain.MixOf([]domain.Ingredient{{Feedstock: "horse manure general", Amount: domain.Q("100", "lb")}, straw})
	if !strings.Contains(m.Parts[0].Explained.En, "memory") {
		t.Errorf("the table's mark is not told: %s", m.Parts[0].Explained.En)
	}
	if !strings.Contains(m.Parts[1].Explained.En, "own figures") {
		t.Errorf("own figures are not told: %s", m.Parts[1].Explained.En)
	}
	if len(m.Explained) < 3 {
		t.Errorf("explained: %v", m.Explained)
	}
	for _, e := range m.Explained {
		if e.En == "" || e.Es == "" || strings.Contains(e.En+e.Es, "%!") {
			t.Errorf("%+v", e)
		}
	}
}

// Pile volumes: calculations reference 1.1 [computed].
func TestRecipePileVolume(t *testing.T) {
	t.Parallel()
	ft := func(s string) domain.Quantity { return domain.Q(s, "ft") }
	for _, tt := range []struct {
		size domain.PileSize
		want float64
	}{
		{domain.PileSize{Shape: domain.PileTriangle, Width: ft("10"), Height: ft("5"), Length: ft("60")}, 55.56},
		{domain.PileSize{Shape: domain.PileParabola, Width: ft("10"), Height: ft("5"), Length: ft("60")}, 74.07},
		{domain.PileSize{Shape: domain.PileTrapezoid, Width: ft("12"), Top: ft("4"), Height: ft("5"), Length: ft("40")}, 59.26},
		{domain.PileSize{Shape: domain.PileCone, Width: ft("12"), Height: ft("5")}, 6.98},
	} {
		got, err := tt.size.Volume()
		if err != nil {
			t.Fatal(err)
		}
		near(t, string(tt.size.Shape), got, tt.want, 0.01)
	}
	if _, err := (domain.PileSize{Shape: domain.PileTrapezoid, Width: ft("12"), Height: ft("5"), Length: ft("40")}).Volume(); err == nil {
		t.Error("a trapezoid without its top was accepted")
	}
	if _, err := (domain.PileSize{Shape: "cube", Width: ft("1"), Height: ft("1"), Length: ft("1")}).Volume(); err == nil {
		t.Error("an unknown shape was accepted")
	}
}

// The factor 40.39 lb/yd3 per net pound [computed]; procedure WSU Puyallup [verified].
func TestRecipeBucketDensity(t *testing.T) {
	t.Parallel()
	got, err := domain.BucketDensity(domain.Q("1", "lb"))
	if err != nil {
		t.Fatal(err)
	}
	near(t, "factor", got, 40.39, 0.01)
	mean, _ := domain.BucketDensity(domain.Q("24", "lb"), domain.Q("26", "lb"))
	near(t, "mean", mean, 25*40.394805, 0.001)
	if _, err := domain.BucketDensity(); err == nil {
		t.Error("no bucket was accepted")
	}
}

func TestFeedstockTable(t *testing.T) {
	t.Parallel()
	rows := domain.Feedstocks()
	if len(rows) != 53 {
		t.Errorf("%d rows, want 53", len(rows))
	}
	for _, r := range rows {
		if r.Name == "" || r.Mark == "" || r.Source == "" {
			t.Errorf("row without name, mark or source: %+v", r)
		}
	}
	horse, ok := domain.FeedstockByName(" Horse Manure General ")
	if !ok || !horse.NitrogenPct.Typical.Decimal.Equal(dec("1.6")) || horse.Origin != domain.OriginAnimal {
		t.Errorf("%v %+v", ok, horse)
	}
	scraps, _ := domain.FeedstockByName("food scraps or garbage")
	if scraps.Origin != domain.OriginUnknown {
		t.Errorf("scraps are %q: a person must say", scraps.Origin)
	}
}

func TestFeedstockOrigin(t *testing.T) {
	t.Parallel()
	yes, no := true, false
	straw := domain.Ingredient{Feedstock: "oat straw"}
	for _, tt := range []struct {
		name string
		in   []domain.Ingredient
		want domain.Origin
	}{
		{"plants of the table", []domain.Ingredient{straw}, domain.OriginPlant},
		{"nothing on file", nil, domain.OriginUnknown},
		{"not answered", []domain.Ingredient{straw, {Feedstock: "kitchen bucket"}}, domain.OriginUnknown},
		{"answered no", []domain.Ingredient{straw, {Feedstock: "kitchen bucket", AnimalOrigin: &no}}, domain.OriginPlant},
		{"answered yes", []domain.Ingredient{straw, {Feedstock: "oat straw", AnimalOrigin: &yes}}, domain.OriginAnimal},
		{"manure called plant", []domain.Ingredient{straw, {Feedstock: "sheep manure", AnimalOrigin: &no}}, domain.OriginAnimal},
		{"a delivery of manure called plant", []domain.Ingredient{straw, {Feedstock: "Old Mill mix", AnimalOrigin: &no, Delivery: &domain.Input{Category: domain.AgedManure}}}, domain.OriginAnimal},
		{"a delivery of manure called straw", []domain.Ingredient{{Feedstock: "oat straw", Delivery: &domain.Input{Category: domain.RawManure}}}, domain.OriginAnimal},
		{"leaves that animals had", []domain.Ingredient{{Feedstock: "oat straw", Delivery: &domain.Input{Category: domain.PlantMaterial, Species: "goats"}}}, domain.OriginAnimal},
		{"a delivery of leaves", []domain.Ingredient{{Feedstock: "Old Mill mix", AnimalOrigin: &no, Delivery: &domain.Input{Category: domain.PlantMaterial}}}, domain.OriginPlant},
	} {
		if got := domain.OriginOfAll(tt.in); got != tt.want {
			t.Errorf("%s: %q, want %q", tt.name, got, tt.want)
		}
	}
}

// What the name says of animals goes before the answer no: raw animal manure is manure whatever it is called (7 CFR
// 205.203(c)(1), 21 CFR 112.51(b)).
func TestIngredientNamesOfAnimals(t *testing.T) {
	t.Parallel()
	no := false
	for name, want := range map[string]domain.Origin{
		"cow manure": domain.OriginAnimal, "HORSE MANURE": domain.OriginAnimal, "chicken litter": domain.OriginAnimal, "estiércol de vaca": domain.OriginAnimal,
		"Gallinaza": domain.OriginAnimal, "sheep dung": domain.OriginAnimal, "pigeon droppings": domain.OriginAnimal, "sewage sludge": domain.OriginAnimal,
		"bonemeal": domain.OriginAnimal, "fish meal": domain.OriginAnimal, "feather meal": domain.OriginAnimal, "dried-blood": domain.OriginAnimal,
		"septage": domain.OriginAnimal, "humanure": domain.OriginAnimal, "night soil": domain.OriginAnimal, "leaf litter and chicken litter": domain.OriginAnimal,
		"leaf litter": domain.OriginPlant, "green manure": domain.OriginPlant, "wood shavings": domain.OriginPlant, "carbon-rich chips": domain.OriginPlant,
	} {
		in := domain.Ingredient{Feedstock: name, Amount: domain.Q("1", "lb"), AnimalOrigin: &no}
		if got := in.Origin(); got != want {
			t.Errorf("%s: %q, want %q", name, got, want)
		}
		var p domain.Problems
		in.Check(&p, "/ingredients/0")
		if refused := p.Err() != nil; refused != (want == domain.OriginAnimal) {
			t.Errorf("%s: refused %t (%v)", name, refused, p.Err())
		}
	}
	for _, row := range domain.Feedstocks() {
		if in := (domain.Ingredient{Feedstock: row.Name}); in.Origin() != row.Origin {
			t.Errorf("%s is %q in the table and %q by its name", row.Name, row.Origin, in.Origin())
		}
	}
}

func TestRecipeIngredientCheck(t *testing.T) {
	t.Parallel()
	var p domain.Problems
	no := false
	domain.Ingredient{Feedstock: "sheep manure", Amount: domain.Q("-1", "ft"), MoisturePct: num("101"),
		NitrogenPct: num("-1"), AnimalOrigin: &no}.Check(&p, "/ingredients/0")
	err, _ := p.Err().(*domain.Error)
	if err == nil || len(err.Fields) != 5 {
		t.Fatalf("%v", err)
	}
}

func TestRecipeNumberJSON(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]string{`"12.5"`: `"12.5"`, `12.5`: `"12.5"`, `null`: `null`, `0`: `"0"`} {
		var n domain.Number
		if err := json.Unmarshal([]byte(text), &n); err != nil {
			t.Errorf("%s: %v", text, err)
		}
		if b, _ := json.Marshal(n); string(b) != want {
			t.Errorf("%s came back as %s", text, b)
		}
	}
	for _, bad := range []string{`1e999999999`, `"1e9"`, `"x"`, `true`, `""`} {
		var n domain.Number
		if err := json.Unmarshal([]byte(bad), &n); err == nil {
			t.Errorf("%s was taken for %v", bad, n)
		}
	}
}
