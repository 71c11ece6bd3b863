package api

import (
	"context"
	"math"
	"net/http"
	"reflect"
	"time"

	"github.com/google/uuid"

	"croftmark/domain"
	"croftmark/storage"
)

// waterExtra is what a source's answer has beside its record.
type waterExtra struct {
	Statistics *waterStatistics      `json:"statistics,omitempty" doc:"The numbers some buyers still ask for; no longer federal."`
	Fitness    []domain.WaterFitness `json:"fitness"`
	Schedule   waterSchedule         `json:"schedule"`
	TestsDueOn domain.Date           `json:"tests_due_on,omitzero"`
	Failures   []waterWindow         `json:"failures,omitempty"`
	OutOfRange []washWindow          `json:"out_of_range,omitempty" doc:"Times in which treated water may have been too weak or too strong."`
	Caution    string                `json:"caution"`
}

type waterStatistics struct {
	N              int                   `json:"n"`
	GeometricMean  float64               `json:"geometric_mean"`
	ThresholdValue *float64              `json:"statistical_threshold_value,omitempty" doc:"Left out where one sample tells nothing about spread."`
	AtLeast        bool                  `json:"at_least,omitempty" doc:"Some result lay above the range: both values are minimums."`
	Needed         int                   `json:"samples_needed"`
	Outcome        domain.ProfileOutcome `json:"outcome"`
	DieOffDays     int                   `json:"die_off_days,omitempty"`
	WaitingMends   *bool                 `json:"waiting_mends,omitempty"`
	Said           []domain.LocalText    `json:"said,omitempty"`
	Reasons        []domain.Reason       `json:"reasons,omitempty"`
}

type waterSchedule struct {
	Plan    domain.WaterPlan `json:"plan"`
	Done    int              `json:"done"`
	Needed  int              `json:"needed"`
	Overdue bool             `json:"overdue"`
}

// waterWindow is the time of a failure in which the water may have been bad, and what it touched.
type waterWindow struct {
	Tap         string            `json:"tap"`
	From        time.Time         `json:"from,omitzero" doc:"Just after the last good sample; left out: no good sample is on record."`
	To          time.Time         `json:"to,omitzero" doc:"When use stopped; left out: still open."`
	SampledHere bool              `json:"sampled_here"`
	Failing     uuid.UUID         `json:"failing_test_id" format:"uuid"`
	LastGood    uuid.UUID         `json:"last_good_test_id,omitzero" format:"uuid"`
	Stop        uuid.UUID         `json:"stop_id,omitzero" format:"uuid"`
	Touched     []waterTouchedLot `json:"touched_lots"`
}

// washWindow is the time from the last good reading to the next good one, with a reading out of range between, and what
// was washed in it.
type washWindow struct {
	Tank     string            `json:"tank,omitempty"`
	From     time.Time         `json:"from,omitzero" doc:"Just after the last good reading; left out: there was none."`
	To       time.Time         `json:"to,omitzero" doc:"The next good reading; left out: none yet."`
	Readings []uuid.UUID       `json:"reading_ids"`
	Touched  []waterTouchedLot `json:"touched_lots"`
}

type waterTouchedLot struct {
	LotID     uuid.UUID       `json:"lot_id" format:"uuid"`
	Code      string          `json:"code"`
	Use       domain.WaterUse `json:"use"`
	Tap       string          `json:"tap,omitempty"`
	At        time.Time       `json:"at"`
	OnHand    domain.Quantity `json:"on_hand"`
	ShippedTo []string        `json:"shipped_to" doc:"Customers who got the lot, or something packed from it."`
}

func waterAnswer(w storage.Water) (waterExtra, error) {
	due := domain.WaterTestsDue(w.Facts, "", w.Now)
	x := waterExtra{Fitness: domain.AllWaterFitness(w.Facts, w.Now), TestsDueOn: due.DueOn,
		Schedule: waterSchedule{due.Plan, due.Done, due.Needed, due.Overdue}, Caution: domain.RecordHelper}
	for _, window := range domain.AllWaterFailureWindows(w.Facts) {
		x.Failures = append(x.Failures, windowAnswer(window, w.Touched))
	}
	for _, window := range domain.TreatmentIntervals(w.Facts.Treatments) {
		x.OutOfRange = append(x.OutOfRange, washAnswer(window, w.Touched))
	}
	zone := w.Facts.Zone
	profile, err := domain.IrrigationProfileOf(w.Facts.Source.Is, w.Facts.Tests, domain.DateIn(w.Now, zone), zone)
	if err != nil {
		return x, err
	}
	if profile.Statistics.N > 0 {
		x.Statistics = statisticsAnswer(profile)
	}
	return x, nil
}

func windowAnswer(w domain.WaterFailureWindow, touched []storage.TouchedLot) waterWindow {
	return waterWindow{Tap: w.Tap, From: w.From, To: w.To, SampledHere: w.SampledHere, Failing: w.Failing, LastGood: w.LastGood, Stop: w.Stop,
		Touched: touchedAnswer(touched, func(t storage.TouchedLot) bool { return w.Covers(t.Tap, t.At) })}
}

func washAnswer(w domain.WashInterval, touched []storage.TouchedLot) washWindow {
	return washWindow{Tank: w.Tank, From: w.From, To: w.To, Readings: w.Readings,
		Touched: touchedAnswer(touched, func(t storage.TouchedLot) bool { return w.Covers(t.Tank, t.At) })}
}

func touchedAnswer(touched []storage.TouchedLot, concerned func(storage.TouchedLot) bool) []waterTouchedLot {
	out := []waterTouchedLot{}
	for _, t := range touched {
		if concerned(t) {
			out = append(out, waterTouchedLot{t.LotID, t.Code, t.Use, t.Tap, t.At, t.Onhand, t.ShippedTo})
		}
	}
	return out
}

func statisticsAnswer(p domain.IrrigationProfile) *waterStatistics {
	s := p.Statistics
	out := &waterStatistics{N: s.N, GeometricMean: round3(s.GeometricMean), AtLeast: s.AtLeast, Needed: p.Needed, Outcome: p.Outcome, Said: s.Said, Reasons: p.Reasons}
	if s.ThresholdKnown {
		v := round3(s.ThresholdValue)
		out.ThresholdValue = &v
	}
	if p.DieOff.NeedLog > 0 {
		out.DieOffDays, out.WaitingMends = p.DieOff.Days, &p.DieOff.Fixable
	}
	return out
}

// round3 is for showing only; comparisons were made with the full value.
func round3(v float64) float64 { return math.Round(v*1000) / 1000 }

func (s *Server) enrichWater(ctx context.Context, id uuid.UUID) (any, error) {
	w, err := s.db.WaterSource(readingOf(ctx), id)
	if err != nil {
		return nil, err
	}
	return waterAnswer(w)
}

func (s *Server) registerWater() {
	of := []string{"source_id"}
	register[domain.WaterSource](s, collection{path: "water-sources", noun: "water source", create: domain.Lead, correct: domain.Lead,
		filters: []string{"kind"}, tag: "Water", extra: reflect.TypeFor[waterExtra](), enrich: s.enrichWater})
	register[domain.WaterTest](s, collection{path: "water-tests", noun: "water test", create: domain.Crew, correct: domain.Lead, filters: of, tag: "Water"})
	register[domain.WaterChange](s, collection{path: "water-changes", noun: "change of supply", create: domain.Lead, correct: domain.Lead, filters: of, tag: "Water"})
	register[domain.WaterPaper](s, collection{path: "water-certificates", noun: "paper of a public supply", create: domain.Lead, correct: domain.Lead, filters: of, tag: "Water"})
	register[domain.WaterInspection](s, collection{path: "water-inspections", noun: "water inspection", create: domain.Crew, correct: domain.Lead, filters: of, tag: "Water"})
	register[domain.WaterReview](s, collection{path: "water-assessments", noun: "water assessment", create: domain.Lead, correct: domain.Lead, filters: of, tag: "Water"})
	register[domain.WaterStop](s, collection{path: "water-actions", noun: "stop or correction of a water use", create: domain.Crew, correct: domain.Lead, filters: of, tag: "Water"})
	register[domain.WaterTreatment](s, collection{path: "water-treatments", noun: "reading of treated or wash water", create: domain.Crew, correct: domain.Lead, filters: of, tag: "Water"})
	register[domain.Irrigation](s, collection{path: "irrigations", noun: "irrigation", create: domain.Crew, correct: domain.Lead, filters: of, tag: "Water"})
	register[domain.Handling](s, collection{path: "handlings", noun: "washing, cooling or other handling of lots", create: domain.Crew, correct: domain.Lead, filters: of, tag: "Water"})
	s.registerDoses()
}

type doseRequest struct {
	Product   domain.ProductRow `json:"product"`
	TargetPPM domain.Number     `json:"target_ppm"`
	// MeasuredPPM is what is there already, for topping up.
	MeasuredPPM domain.Number   `json:"measured_ppm,omitzero"`
	Water       domain.Quantity `json:"water"`
}

type doseOutput struct {
	Body struct {
		Millilitres float64            `json:"millilitres,omitempty"`
		FluidOunces float64            `json:"fluid_ounces,omitempty"`
		Tablespoons float64            `json:"tablespoons,omitempty"`
		Grams       float64            `json:"grams,omitempty"`
		Ratio       float64            `json:"one_part_in" doc:"One part of product in so many parts of the whole."`
		Said        []domain.LocalText `json:"said"`
		Caution     string             `json:"caution"`
	}
}

const doseCaution = "A starting dose to measure against. The product's label is the law: use, rate, contact time and rinse come from it. Never mix acid or ammonia with chlorine."

func (s *Server) registerDoses() {
	op := s.operation(http.MethodPost, "/v1/sanitizer-doses", "sanitizer-dose", "Work out a starting dose of a sanitizer; nothing is written down", "Water", domain.Reader, nil)
	op.DefaultStatus = http.StatusOK
	handleBody(s, op, func(_ context.Context, _ *bodyInput, body *doseRequest) (*doseOutput, error) {
		var dose domain.Dose
		var err error
		if body.MeasuredPPM.Valid {
			dose, err = domain.TopUp(body.Product.Product(), body.MeasuredPPM.Decimal, body.TargetPPM.Decimal, body.Water)
		} else {
			dose, err = domain.DoseFor(body.Product.Product(), body.TargetPPM.Decimal, body.Water)
		}
		if err != nil {
			return nil, err
		}
		out := &doseOutput{}
		b := &out.Body
		b.Millilitres, b.FluidOunces, b.Tablespoons, b.Grams = round3(dose.Millilitres), round3(dose.FluidOunces()), round3(dose.Tablespoons()), round3(dose.Grams)
		b.Ratio, b.Said, b.Caution = round3(dose.Ratio), dose.Said, doseCaution
		return out, nil
	})
}
