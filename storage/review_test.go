package storage_test

import (
	"fmt"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/uuid"

	"croftmark/domain"
	"croftmark/storage"
)

// signFarm is a farm that answers to the produce safety rule, with a lead and a crew beside the owner.
type signFarm struct {
	*field
	lead, crew storage.Actor
}

func newSignFarm(t *testing.T) *signFarm {
	f := newField(t, storage.Config{}, "us-organic", "us-produce-safety")
	return &signFarm{f, f.person("Lee", domain.Lead), f.person("Cory", domain.Crew)}
}

func (f *signFarm) as(actor storage.Actor, r domain.Record) uuid.UUID {
	f.t.Helper()
	out, err := f.db.Record(ctx, actor, nil, r)
	mustBe(f.t, err)
	return out.ID
}

func (f *signFarm) cleaning(actor storage.Actor) uuid.UUID {
	f.t.Helper()
	return f.as(actor, logOf("cleaning", "2026-11-24", "places", `["Tank 1"]`, "method", `"brush"`, "checked", `"yes"`))
}

// waiting gives the families and records of the queue as one person sees it; a record the person can't sign has a star.
func (f *field) waiting(actor storage.Actor) (out []string) {
	f.t.Helper()
	list, err := f.db.ToSign(ctx, actor)
	mustBe(f.t, err)
	for _, x := range list {
		star := ""
		if x.Refusal != "" {
			star = "*"
		}
		out = append(out, x.Family.ID+star)
	}
	return out
}

func (f *field) wantWaiting(actor storage.Actor, want ...string) {
	f.t.Helper()
	if got := f.waiting(actor); !slices.Equal(got, want) {
		f.t.Errorf("waits for a signature: %v, want %v", got, want)
	}
}

// What 21 CFR 112.161(b) lists waits for a signature; what it does not list never does, whoever wrote it.
func TestTheQueueHoldsWhatTheRuleLists(t *testing.T) {
	t.Parallel()
	f := newSignFarm(t)
	well := f.well()
	f.as(f.crew, logOf("training", "2026-11-20", "people", fmt.Sprintf("[%q]", f.crew.PersonID), "topics", `["hygiene"]`, "trainer", `"Lee"`))
	f.cleaning(f.crew)
	f.as(f.crew, logOf("pests", "2026-11-24", "stations", `["1"]`, "found", `"nothing"`, "signs", `"no"`, "signs_on_product", `"no"`))
	f.as(f.lead, &domain.WaterReview{SourceID: well, MadeOn: day("2026-11-01"), Outcome: "adequate", Factors: "deep well"})
	pending := f.as(f.crew, f.sample(well, "", at("2026-11-20", 8), ""))
	f.as(f.crew, &domain.WaterTreatment{SourceID: well, TakenAt: at("2026-11-20", 8), PPM: number("60")})
	f.as(f.crew, &domain.WaterStop{SourceID: well, Act: "stopped", At: at("2026-11-21", 8), Reason: "cracked cap"})
	f.as(f.crew, &domain.WaterInspection{SourceID: well, MadeOn: day("2026-11-02"), Findings: "cap is cracked"})
	batch := f.write(&domain.CompostBatch{Code: "Heap 1", Method: domain.TurnedWindrow, StartedOn: day("2026-10-01"),
		Ingredients: []domain.Ingredient{{Feedstock: "straw general", Amount: domain.Q("10", "kg"), AnimalOrigin: new(bool)}}})
	f.spread(f.manure, "2026-10-01", "2026-10-02", f.bed)
	want := []string{"training", "cleaning", "water-assessment", "water-treatment", "water-action"}
	f.wantWaiting(f.actor, want...)
	want[2] = "water-assessment*" // the lead made it
	f.wantWaiting(f.lead, want...)

	// A result that came, and a batch that was cured, wait from then on.
	f.correct("water-test", pending, `{"result": {"qualifier": "<", "value": "1", "unit": "MPN/100mL"}, "reported_at": "2026-11-23T11:00:00-05:00"}`)
	f.as(f.lead, &domain.CompostCuring{BatchID: batch, StartedOn: day("2026-11-01")})
	want = append(want[:3], "water-test", "water-treatment", "water-action", "compost-batch")
	f.wantWaiting(f.lead, want...)
	f.correct("farm", f.actor.FarmID, `{"exemption": "qualified"}`)
	f.wantWaiting(f.lead) // an exempt farm is not asked by the law
	f.as(f.lead, logOf("exemption-review", "2026-11-24", "year", `"2026"`, "food_sales_year_1", `"90000"`, "food_sales_year_2", `"80000"`, "food_sales_year_3", `"70000"`,
		"direct_sales_share", `"80"`, "direct_is_more", `"yes"`, "limit_used", `"700000"`, "papers", `"binder 4"`, "still_qualifies", `"yes"`))
	f.wantWaiting(f.actor, "exemption-review")
	f.correct("farm", f.actor.FarmID, `{"exemption": "none", "standards": [{"set": "us-organic", "from": "2002-10-21"}]}`)
	f.wantWaiting(f.actor)

	// A buyer's wish waits for what it is.
	own := ownSheet()
	own.SecondSignature = &domain.SignatureRule{SheetSource: domain.SheetSource{Authority: domain.Buyer, Citation: "the grocer's terms"}}
	f.write(own)
	f.as(f.crew, logOf("egg-washing", "2026-11-20", "trays", `"3"`))
	list, err := f.db.ToSign(ctx, f.lead)
	if err != nil || len(list) != 1 || list[0].Family.Rule.Authority != domain.Buyer {
		t.Errorf("%+v, %v", list, err)
	}
}

func TestSigningManyAtOnce(t *testing.T) {
	t.Parallel()
	f := newSignFarm(t)
	var refs []domain.RecordRef
	for range 30 {
		refs = append(refs, domain.RecordRef{Kind: "log-entry", ID: f.cleaning(f.crew)})
	}
	leads := f.cleaning(f.lead)
	before := f.entries()
	_, _, err := f.db.ReviewAll(ctx, f.lead, nil, append(slices.Clone(refs), domain.RecordRef{Kind: "log-entry", ID: leads}, domain.RecordRef{Kind: "log-entry", ID: f.bed}), "")
	wantField(t, err, "#/records/30", "another lead or owner")
	wantField(t, err, "#/records/31", "There is no log entry")
	if f.entries() != before || len(f.waiting(f.lead)) != 31 {
		t.Fatalf("something was signed although some of it could not be")
	}
	mark := &domain.RequestMark{Key: "key:evening", Hash: "x"}
	out, replayed, err := f.db.ReviewAll(ctx, f.lead, mark, refs, "evening round")
	if err != nil || replayed || len(out) != 30 {
		t.Fatalf("%d signed, %v", len(out), err)
	}
	for i, r := range out {
		last, err := r.LatestReview()
		if err != nil || last.By != f.lead.PersonID || last.Own || r.ID != refs[i].ID {
			t.Errorf("record %d signed %+v, %v", i, last, err)
		}
	}
	if n := f.entries(); n != before+30 {
		t.Errorf("%d entries for 30 signatures", n-before)
	}
	again, replayed, err := f.db.ReviewAll(ctx, f.lead, mark, refs, "evening round")
	if err != nil || !replayed || len(again) != 30 || f.entries() != before+30 {
		t.Errorf("sent twice: %d, replayed %t, %v", len(again), replayed, err)
	}
	f.wantWaiting(f.lead, "cleaning*")
	f.wantWaiting(f.actor, "cleaning")
}

// Nobody signs what they did, typed or corrected themselves, while somebody else of the farm may; alone on the farm it is
// a second act with its own day.
func TestNobodySignsTheirOwn(t *testing.T) {
	t.Parallel()
	f := newSignFarm(t)
	sign := func(actor storage.Actor, id uuid.UUID) error {
		_, err := f.db.Review(ctx, actor, nil, "log-entry", id, "")
		return err
	}
	done := f.cleaning(f.lead)
	wantCode(t, sign(f.lead, done), domain.CodeNotAllowed)

	typed := logOf("cleaning", "2026-11-24", "places", `["Tank 1"]`, "method", `"brush"`, "checked", `"yes"`)
	typed.DoneBy = f.crew.PersonID
	wantCode(t, sign(f.lead, f.as(f.lead, typed)), domain.CodeNotAllowed) // typed it for the crew
	forLead := logOf("cleaning", "2026-11-24", "places", `["Tank 1"]`, "method", `"brush"`, "checked", `"yes"`)
	forLead.DoneBy = f.lead.PersonID
	wantCode(t, sign(f.lead, f.as(f.crew, forLead)), domain.CodeNotAllowed) // did it, and the crew typed it

	corrected := f.cleaning(f.crew)
	_, err := f.db.Correct(ctx, f.lead, nil, "log-entry", corrected, "a slip", []byte(`{"note": "north tank"}`))
	mustBe(t, err)
	wantCode(t, sign(f.lead, corrected), domain.CodeNotAllowed)
	mustBe(t, sign(f.actor, corrected))

	// Those who have left, and readers, are nobody else.
	alone := f.neighbour("us-produce-safety")
	id := alone.write(logOf("cleaning", "2026-11-24", "places", `["Tank 1"]`, "method", `"brush"`, "checked", `"yes"`))
	alone.wantWaiting(alone.actor, "cleaning")
	gone := &domain.Person{Name: "Gone", Initials: "G", Role: domain.Lead, EndsOn: day("2026-11-01")}
	alone.write(gone)
	before := alone.entries()
	_, err = alone.db.Review(ctx, alone.actor, nil, "log-entry", id, "")
	mustBe(t, err)
	if alone.entries() != before+1 {
		t.Error("the second act of the one person is not an entry of its own")
	}
	alone.wantWaiting(alone.actor)
	alone.correct("log-entry", id, `{"note": "changed"}`) // what was signed has changed: it waits again
	alone.wantWaiting(alone.actor, "cleaning")
}

// Two leads who both had a hand in a record do not lock it: either signs, and the signature says that it is two dated acts
// and not two persons. A third who had none takes that away from them.
func TestARecordThatEverySignerHadAHandIn(t *testing.T) {
	t.Parallel()
	f := newField(t, storage.Config{}, "us-produce-safety")
	lead := f.person("Lee", domain.Lead)
	wrote := f.write(logOf("cleaning", "2026-11-24", "places", `["Tank 1"]`, "method", `"brush"`, "checked", `"yes"`))
	_, err := f.db.Correct(ctx, lead, nil, "log-entry", wrote, "a slip", []byte(`{"note": "north tank"}`))
	mustBe(t, err)
	f.wantWaiting(f.actor, "cleaning")
	f.wantWaiting(lead, "cleaning")

	third := f.person("Thea", domain.Lead)
	f.wantWaiting(f.actor, "cleaning*")
	f.wantWaiting(lead, "cleaning*")
	f.wantWaiting(third, "cleaning")
	f.correct("person", third.PersonID, `{"ends_on": "2026-11-24"}`)
	out, err := f.db.Review(ctx, lead, nil, "log-entry", wrote, "")
	mustBe(t, err)
	if last, err := out.LatestReview(); err != nil || !last.Own || last.By != lead.PersonID {
		t.Errorf("the signature is %+v, %v", last, err)
	}
	if n := f.count(`select count(*) from book_entries where farm_id = $1 and kind = 'review' and leaf::jsonb #> '{body,own}' = 'true'`, f.actor.FarmID); n != 1 {
		t.Errorf("%d signatures in the book say that nobody else could sign", n)
	}
	before := f.dump()
	_, err = f.db.Rebuild(ctx, f.actor.FarmID, nil)
	mustBe(t, err)
	if diff := cmp.Diff(before, f.dump()); diff != "" {
		t.Errorf("rebuilt (-before +after):\n%s", diff)
	}
}

// What is signed under a batch is its readings and turnings, so whoever wrote one of them is not the second person.
func TestWhoTookTheReadingsDoesNotSignTheBatch(t *testing.T) {
	t.Parallel()
	f := newSignFarm(t)
	batch := f.counted("Heap 1") // all of it by the owner
	f.as(f.lead, &domain.CompostTurning{BatchID: batch, TurnedAt: at("2026-11-02", 9)})
	f.as(f.crew, &domain.CompostCuring{BatchID: batch, StartedOn: day("2026-11-03")})
	f.wantWaiting(f.lead, "compost-batch") // both had a hand in it
	other := f.person("Thea", domain.Lead)
	f.wantWaiting(f.lead, "compost-batch*")
	f.wantWaiting(f.actor, "compost-batch*")
	_, err := f.db.Review(ctx, f.lead, nil, "compost-batch", batch, "")
	wantCode(t, err, domain.CodeNotAllowed)
	out, err := f.db.Review(ctx, other, nil, "compost-batch", batch, "")
	mustBe(t, err)
	if last, err := out.LatestReview(); err != nil || last.Own || last.By != other.PersonID {
		t.Errorf("the signature is %+v, %v", last, err)
	}
}

// A reading that comes after the signature of a batch asks for a new one.
func TestABatchWaitsAgainAfterALaterEvent(t *testing.T) {
	t.Parallel()
	f := newSignFarm(t)
	batch := f.counted("Heap 1")
	f.write(&domain.CompostCuring{BatchID: batch, StartedOn: day("2026-11-01")})
	f.wantWaiting(f.lead, "compost-batch")
	_, _, err := f.db.ReviewAll(ctx, f.lead, nil, []domain.RecordRef{{Kind: "compost-batch", ID: batch}}, "")
	mustBe(t, err)
	f.wantWaiting(f.lead)
	f.write(&domain.CompostTurning{BatchID: batch, TurnedAt: at("2026-11-10", 9)})
	f.wantWaiting(f.lead, "compost-batch")
	_, err = f.db.Review(ctx, f.lead, nil, "compost-batch", batch, "")
	mustBe(t, err)
	f.wantWaiting(f.lead)
}

// Thirty signatures are one write: no more trips than one signature.
func TestSigningManyIsOneWrite(t *testing.T) {
	t.Parallel()
	c := newCounting(t)
	crew := c.person("Cory", domain.Crew)
	var refs []domain.RecordRef
	for range 30 {
		out, err := c.db.Record(ctx, crew, nil, logOf("cleaning", "2026-11-24", "places", `["Tank 1"]`, "method", `"brush"`, "checked", `"yes"`))
		mustBe(t, err)
		refs = append(refs, domain.RecordRef{Kind: "log-entry", ID: out.ID})
	}
	sign := func(refs []domain.RecordRef) func() error {
		return func() error { _, _, err := c.db.ReviewAll(ctx, c.actor, nil, refs, ""); return err }
	}
	one, many := c.trips("one signature", sign(refs[:1])), c.trips("many signatures", sign(refs[1:]))
	if many > one {
		t.Errorf("%d trips for one signature, %d for many", one, many)
	}
}
