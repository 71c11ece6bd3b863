package domain_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/uuid"

	"croftmark/domain"
)

// dueOn gives the day of a duty as text, with a star when it is overdue; empty when it is not in the list.
func dueOn(list []domain.Due, kind string) string {
	i := slices.IndexFunc(list, func(d domain.Due) bool { return d.Kind == kind })
	switch {
	case i < 0:
		return ""
	case list[i].Overdue:
		return list[i].On.String() + "*"
	}
	return list[i].On.String()
}

func dueFarm(exemption string, sets ...string) *domain.Farm {
	f := &domain.Farm{Exemption: exemption}
	for _, s := range sets {
		f.Standards = append(f.Standards, domain.AdoptedStandard{Set: s, From: dayOf("2020-01-01")})
	}
	return f
}

func dueFacts(farm *domain.Farm) *domain.DueFacts {
	return &domain.DueFacts{Farm: farm, Today: dayOf("2026-06-10"), Now: time.Date(2026, 6, 10, 16, 0, 0, 0, time.UTC)}
}

// Each duty by the published interval: inspection at least yearly (21 CFR 112.42(a)), assessment yearly (112.43), supplier's
// certificate at least yearly (112.60(b)(1)), training at least yearly (112.21, [memory]), four tests in a first year
// (112.44(b)), the exemption review each calendar year (112.7(b)), an answer to a traceback within 24 hours (1.1455(c)).
func TestWhenDutiesAreDue(t *testing.T) {
	t.Parallel()
	farm := dueFarm("", "us-produce-safety", "buyer-gap")
	well := uuid.Must(uuid.NewV7())
	wellFacts := func(uses ...domain.WaterUse) map[uuid.UUID]*domain.WaterFacts {
		return map[uuid.UUID]*domain.WaterFacts{well: {Source: domain.WaterSource{ID: well, Name: "Well", Is: domain.WaterUntreatedGround, Uses: uses}}}
	}
	for name, row := range map[string]struct {
		change     func(*domain.DueFacts)
		kind, want string
	}{
		"never inspected": {func(f *domain.DueFacts) { f.Waters = wellFacts() }, "water-inspection", "2026-06-10"},
		"inspected in spring": {func(f *domain.DueFacts) {
			f.Waters = wellFacts()
			f.Inspected = map[uuid.UUID]domain.Date{well: dayOf("2026-03-01")}
		}, "water-inspection", "2027-03-01"},
		"inspected the spring before": {func(f *domain.DueFacts) {
			f.Waters = wellFacts()
			f.Inspected = map[uuid.UUID]domain.Date{well: dayOf("2025-06-09")}
		}, "water-inspection", "2026-06-09*"},
		"assessment never":         {func(f *domain.DueFacts) { f.Waters = wellFacts(domain.UseIrrigationTouching) }, "water-assessment", "2026-06-10"},
		"assessment of wash water": {func(f *domain.DueFacts) { f.Waters = wellFacts(domain.UseWashing) }, "water-assessment", ""},
		"assessment last year": {func(f *domain.DueFacts) {
			f.Waters = wellFacts(domain.UseIrrigationTouching)
			f.Waters[well].Assessments = []domain.WaterAssessment{{MadeOn: dayOf("2025-07-01")}}
		}, "water-assessment", "2026-07-01"},
		"assessment of a very small farm": {func(f *domain.DueFacts) { // starts 2027-04-05
			f.Waters, f.Farm = wellFacts(domain.UseIrrigationTouching), dueFarm("", "us-produce-safety")
			f.Farm.Size = domain.FarmVerySmall
		}, "water-assessment", ""},
		"never tested":           {func(f *domain.DueFacts) { f.Waters = wellFacts(domain.UseWashing) }, "water-test", "2026-06-10"},
		"irrigation has no test": {func(f *domain.DueFacts) { f.Waters = wellFacts(domain.UseIrrigationTouching) }, "water-test", ""},
		"certificate": {func(f *domain.DueFacts) {
			f.Certificates = []domain.DueCertificate{{What: "Pellets", Paper: domain.Certificate{IssuedOn: dayOf("2025-07-02")}}}
		}, "input-certificate", "2026-07-02"},
		"certificate that ends": {func(f *domain.DueFacts) {
			f.Certificates = []domain.DueCertificate{{Paper: domain.Certificate{IssuedOn: dayOf("2025-07-02"), ExpiresOn: dayOf("2026-01-31")}}}
		}, "input-certificate", "2026-01-31*"},
		"certificate for two years": {func(f *domain.DueFacts) {
			f.Certificates = []domain.DueCertificate{{Paper: domain.Certificate{IssuedOn: dayOf("2025-07-02"), ExpiresOn: dayOf("2027-07-01")}}}
		}, "input-certificate", "2026-07-02"},
		"never trained": {func(f *domain.DueFacts) { f.People = []domain.DuePerson{{Name: "Ana"}} }, "training", "2026-06-10"},
		"trained":       {func(f *domain.DueFacts) { f.People = []domain.DuePerson{{Name: "Ana", Trained: dayOf("2026-03-02")}} }, "training", "2027-03-02"},
		"heap not read today": {func(f *domain.DueFacts) {
			f.Batches = []domain.DueBatch{{Code: "W1", LastReading: dayOf("2026-06-09")}}
		}, "reading", "2026-06-10"},
		"heap not read for days": {func(f *domain.DueFacts) {
			f.Batches = []domain.DueBatch{{Code: "W1", LastReading: dayOf("2026-06-07")}}
		}, "reading", "2026-06-08*"},
		"heap read today": {func(f *domain.DueFacts) {
			f.Batches = []domain.DueBatch{{Code: "W1", LastReading: dayOf("2026-06-10")}}
		}, "reading", ""},
		"heap never read":             {func(f *domain.DueFacts) { f.Batches = []domain.DueBatch{{Code: "W1"}} }, "reading", "2026-06-10"},
		"no drill yet":                {func(f *domain.DueFacts) {}, "recall-drill", "2026-06-10"},
		"drill last autumn":           {func(f *domain.DueFacts) { f.LastDrill = dayOf("2025-10-01") }, "recall-drill", "2026-10-01"},
		"drill nobody asks for":       {func(f *domain.DueFacts) { f.Farm = dueFarm("", "us-organic") }, "recall-drill", ""},
		"exemption of a covered farm": {func(f *domain.DueFacts) {}, "exemption-review", ""},
		"exemption":                   {func(f *domain.DueFacts) { f.Farm = dueFarm("qualified", "us-produce-safety") }, "exemption-review", "2026-12-31"},
		"exemption reviewed": {func(f *domain.DueFacts) {
			f.Farm, f.ExemptionReviewed = dueFarm("qualified", "us-produce-safety"), true
		}, "exemption-review", ""},
		"training of an exempt farm": {func(f *domain.DueFacts) {
			f.Farm = dueFarm("qualified", "us-produce-safety")
			f.People = []domain.DuePerson{{Name: "Ana"}}
		}, "training", ""},
		"well of an organic farm": {func(f *domain.DueFacts) { f.Farm = dueFarm("", "us-organic"); f.Waters = wellFacts() }, "water-test", ""},
		"traceback": {func(f *domain.DueFacts) {
			f.Requests = []domain.DueRequest{{AskedBy: "Inspector", On: dayOf("2026-06-11")}}
		}, "traceback-request", "2026-06-11"},
		"open reading": {func(f *domain.DueFacts) {
			f.OpenLogs = []domain.DueRecord{{What: "cold-room", On: dayOf("2026-06-09")}}
		}, "open-action", "2026-06-09*"},
	} {
		t.Run(name, func(t *testing.T) {
			f := dueFacts(farm)
			row.change(f)
			list := domain.DueList(f)
			if got := dueOn(list, row.kind); got != row.want {
				t.Errorf("%s due on %q, want %q", row.kind, got, row.want)
			}
			for _, d := range list {
				if d.Asks.Authority == "" || d.Asks.Citation == "" || d.Text.En == "" || d.Text.Es == "" || strings.Contains(d.Text.En+d.Text.Es, "{") {
					t.Errorf("%s does not say who asks for it, or what it is: %+v", d.Kind, d)
				}
			}
			if !slices.IsSortedFunc(list, func(a, b domain.Due) int { return a.On.DaysSince(b.On) }) {
				t.Error("not in the order of days")
			}
		})
	}
}

// A custom must not look like a law: readings, drills and open actions are nobody's law.
func TestWhoAsksForDuties(t *testing.T) {
	t.Parallel()
	f := dueFacts(dueFarm("", "us-organic", "us-produce-safety", "buyer-gap"))
	f.Batches = []domain.DueBatch{{Code: "W1"}}
	f.OpenLogs = []domain.DueRecord{{What: "cold-room"}}
	f.Actions = []domain.DueRecord{{What: "new seal", On: dayOf("2026-07-01")}}
	f.Requests = []domain.DueRequest{{AskedBy: "Inspector"}, {AskedBy: "Grocer", Buyer: true}}
	f.People = []domain.DuePerson{{Name: "Ana"}}
	want := map[string]domain.Authority{"reading": domain.Guidance, "open-action": domain.Guidance, "corrective-action": domain.FarmRule, "traceback-request": domain.Law,
		"traceback-buyer": domain.Buyer, "recall-drill": domain.Buyer, "training": domain.Law}
	for _, d := range domain.DueList(f) {
		if d.Asks.Authority != want[d.Kind] {
			t.Errorf("%s is asked for by %s, want %s", d.Kind, d.Asks.Authority, want[d.Kind])
		}
		delete(want, d.Kind)
	}
	for kind := range want {
		t.Errorf("%s is missing", kind)
	}
}
