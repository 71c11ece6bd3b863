package storage_test

import (
	"strings"
	"testing"

	"github.com/google/uuid"

	"croftmark/domain"
	"croftmark/storage"
)

func (f *field) binder(scope, crop string) domain.Binder {
	f.t.Helper()
	b, err := f.db.Binder(f.reading(), storage.BinderAsked{Scope: scope, From: day("2025-01-01"), To: day("2026-11-25"), Crop: crop})
	mustBe(f.t, err)
	return b
}

// recordsOf gives the records of a kind anywhere in a binder.
func recordsOf(b domain.Binder, kind string) (out []domain.BinderRecord) {
	for _, s := range b.Scope.Sections {
		for _, r := range s.Records {
			if r.Kind == kind {
				out = append(out, r)
			}
		}
	}
	return out
}

// What was late, corrected or void stands in the binder with what it said before and why.
func TestBinderShowsWhatWasChanged(t *testing.T) {
	t.Parallel()
	s := richFarm(t)
	spread := s.application(s.manure, "2026-02-10", "2026-02-10", s.beds[1])
	spread.LateReason = "found in the notebook"
	out, err := s.record(spread)
	mustBe(t, err)
	s.correct("application", out.ID, `{"incorporated_on": "2026-02-12"}`)
	b := s.binder("organic", "")
	found, voided := false, false
	for _, r := range recordsOf(b, "application") {
		voided = voided || r.Voided && r.Changes[0].Reason == "another bed"
		if r.ID != out.ID {
			continue
		}
		found = true
		if r.LateDays != 288 || r.LateWhy != "found in the notebook" || len(r.Changes) != 1 || strings.Join(r.Changes[0].Was, "") != "incorporated on: 2026-02-10" {
			t.Errorf("%+v", r)
		}
		if said := strings.Join(r.Says, "; "); !strings.Contains(said, "incorporated on: 2026-02-12") || !strings.Contains(said, "amount: 2 yd3") {
			t.Errorf("says %s", said)
		}
	}
	if !found || !voided {
		t.Errorf("corrected record shown %t, void one %t", found, voided)
	}
	late := false
	for _, g := range b.Gaps() {
		late = late || strings.Contains(g, "marked LATE")
	}
	if !late {
		t.Errorf("gaps %q do not tell the late records", b.Gaps())
	}
}

// Every lot of the crop is in the balance, in the lots it was packed into as well; nothing is left unexplained here.
func TestBinderExercise(t *testing.T) {
	t.Parallel()
	s := richFarm(t)
	var crop struct{ Name string }
	rec, err := s.db.ReadRecord(ctx, s.actor.FarmID, "crop", s.cropOf(s.lots[0].PlantingID))
	mustBe(t, err)
	mustBe(t, rec.Into(&crop))
	x := s.binder("organic", crop.Name).Exercise
	if x == nil || len(x.Balance) != 1 || x.Start == "" {
		t.Fatalf("%+v", x)
	}
	cut := domain.Q("0", "lb").Value
	for _, l := range x.Lots {
		if l.Root {
			v, err := l.Quantity.In("lb")
			mustBe(t, err)
			cut = cut.Add(v)
		} else if !l.Added.IsZero() { // what was packed with it from other crops has to be in the balance as well
			v, err := l.Added.In("lb")
			mustBe(t, err)
			cut = cut.Add(v)
		}
	}
	if b := x.Balance[0]; !b.Made.Equal(cut) || !b.OnHand.Add(b.Shipped).Sub(b.Returned).Add(b.Disposed).Add(b.Unexplained).Equal(b.Made) || b.Shipped.Sign() <= 0 {
		t.Errorf("balance %+v of %s lb cut and added", b, cut)
	}
	if x := s.binder("organic", "durian").Exercise; len(x.Gaps) == 0 || x.Start != "" {
		t.Errorf("a crop that was not cut: %+v", x)
	}
}

// A buyer does not learn who else buys, and nobody is shown private records.
func TestBinderWithholds(t *testing.T) {
	t.Parallel()
	r := newRich(t)
	for _, scope := range []string{"buyer", "organic", "produce-safety"} {
		b := r.binder(scope, "")
		all := map[uuid.UUID]bool{}
		for _, s := range b.Scope.Sections {
			for _, x := range s.Records {
				all[x.ID] = true
				if scope == "buyer" && strings.Contains(strings.Join(x.Says, " "), "Copper Ladle") {
					t.Errorf("the buyer's binder names a customer: %q", x.Says)
				}
			}
		}
		if all[r.illness] {
			t.Errorf("%s: the binder shows a private record", scope)
		}
		if b.Withheld == 0 {
			t.Errorf("%s: the binder does not say that something is withheld", scope)
		}
	}
}

// Every kind and sheet that a binder names is one of the book, and each scope has its sections.
func TestBinderScopesNameWhatThereIs(t *testing.T) {
	t.Parallel()
	known := kindsOf(t)
	for _, scope := range []string{"organic", "produce-safety", "buyer"} {
		b, ok := domain.BinderScopeNamed(scope)
		if !ok || len(b.Sections) < 5 {
			t.Fatalf("%s: %d sections", scope, len(b.Sections))
		}
		for _, s := range b.Sections {
			for _, k := range s.Kinds {
				if !has(known, k) {
					t.Errorf("%s names the kind %q", s.Title, k)
				}
			}
			for _, key := range s.Sheets {
				if _, ok := domain.BuiltInSheet(key); !ok {
					t.Errorf("%s names the sheet %q", s.Title, key)
				}
			}
		}
	}
}

func has(list []string, word string) bool {
	for _, w := range list {
		if w == word {
			return true
		}
	}
	return false
}
