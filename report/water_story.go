package report

import (
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"croftmark/domain"
)

// waterStory is the facts of a source in order of time, as chart and paper tell them.
type waterStory struct {
	f     *domain.WaterFacts
	at    time.Time
	zone  *time.Location
	taps  []string // as the domain folds their names; "" when something names none
	shown map[string]string
	tests []domain.WaterTest
	fails []waterWindow
}

// A waterWindow is a failure window with all uses that it holds for.
type waterWindow struct {
	domain.WaterFailureWindow
	uses []domain.WaterUse
	fit  time.Time // when the water of the tap was fit again; zero: not yet
}

func newWaterStory(f *domain.WaterFacts, at time.Time) *waterStory {
	s := &waterStory{f: f, at: at, zone: zoneOf(f.Zone), shown: map[string]string{}}
	s.tests = slices.Clone(f.Tests)
	slices.SortStableFunc(s.tests, func(a, b domain.WaterTest) int { return a.SampledAt.Compare(b.SampledAt) })
	for _, p := range f.Source.Points {
		s.note(p.Tap)
	}
	for _, t := range s.tests {
		s.note(t.Tap)
	}
	slices.Sort(s.taps)
	if len(s.taps) == 0 {
		s.note("")
	}
	s.windows()
	return s
}

// fold makes "Wash  tap" and "wash tap" one tap, as the domain does.
func fold(tap string) string { return strings.ToLower(strings.Join(strings.Fields(tap), " ")) }

func (s *waterStory) note(tap string) {
	key := fold(tap)
	if _, ok := s.shown[key]; !ok {
		s.shown[key] = tap
		s.taps = append(s.taps, key)
	}
}

// windows asks the domain for the failure windows of every use and joins those that are the same.
func (s *waterStory) windows() {
	for _, use := range s.uses() {
		for _, w := range domain.WaterFailureWindows(*s.f, use) {
			same := slices.IndexFunc(s.fails, func(x waterWindow) bool {
				return x.Tap == w.Tap && x.Failing == w.Failing && x.From.Equal(w.From) && x.To.Equal(w.To) && x.Stop == w.Stop
			})
			if same >= 0 {
				s.fails[same].uses = append(s.fails[same].uses, use)
				continue
			}
			s.fails = append(s.fails, waterWindow{WaterFailureWindow: w, uses: []domain.WaterUse{use}, fit: s.fitAgain(w, use)})
		}
	}
	slices.SortStableFunc(s.fails, func(a, b waterWindow) int { return s.test(a.Failing).SampledAt.Compare(s.test(b.Failing).SampledAt) })
}

func (s *waterStory) uses() []domain.WaterUse {
	if len(s.f.Source.Uses) == 0 {
		return domain.WaterUses
	}
	return s.f.Source.Uses
}

// fitAgain finds the good sample from which on the domain no longer holds the failing one against the tap.
func (s *waterStory) fitAgain(w domain.WaterFailureWindow, use domain.WaterUse) time.Time {
	failing := s.test(w.Failing)
	for _, t := range s.tests {
		if !t.SampledAt.After(failing.SampledAt) || t.SampledAt.After(s.at) || fold(t.Tap) != w.Tap || t.Finding() != domain.NoneDetected {
			continue
		}
		judged := domain.FitnessOfWater(*s.f, use, w.Tap, t.SampledAt)
		blamed := slices.ContainsFunc(judged.Reasons, func(r domain.Reason) bool {
			return r.Verdict != domain.Clear && slices.ContainsFunc(r.Records, func(ref domain.RecordRef) bool { return ref.ID == w.Failing })
		})
		if !blamed {
			return t.SampledAt
		}
	}
	return time.Time{}
}

func (s *waterStory) test(id uuid.UUID) domain.WaterTest {
	for _, t := range s.tests {
		if t.ID == id {
			return t
		}
	}
	return domain.WaterTest{}
}

func (s *waterStory) action(id uuid.UUID) domain.WaterAction {
	for _, a := range s.f.Actions {
		if a.ID == id {
			return a
		}
	}
	return domain.WaterAction{}
}

func (s *waterStory) day(at time.Time) domain.Date { return domain.DateIn(at, s.zone) }

// A waterEvent is a change of supply, a stop, a correction, or the moment the water was fit again.
type waterEvent struct {
	letter string
	at     time.Time
	tap    string // folded; "" for every tap
	said   string
	id     uuid.UUID
}

func (s *waterStory) events(t tongue) (list []waterEvent) {
	for _, c := range s.f.Changes {
		said := t.say("same water through other pipes", "la misma agua por otra tubería")
		if c.Is != "" {
			said = t.say("from here on: ", "desde aquí: ") + t.waterKind(c.Is)
		}
		list = append(list, waterEvent{at: c.At, tap: fold(c.Tap), said: said, id: c.ID})
	}
	for _, a := range s.f.Actions {
		said := t.say("use stopped", "uso detenido")
		if a.Corrective {
			said = t.say("cause corrected", "causa corregida")
		}
		if len(a.Uses) > 0 {
			said += ": " + t.uses(a.Uses)
		}
		list = append(list, waterEvent{at: a.At, tap: fold(a.Tap), said: said, id: a.ID})
	}
	for _, w := range s.fails {
		if w.fit.IsZero() || slices.ContainsFunc(list, func(e waterEvent) bool { return e.at.Equal(w.fit) && e.tap == w.Tap && e.id == uuid.Nil }) {
			continue
		}
		list = append(list, waterEvent{at: w.fit, tap: w.Tap, said: t.say("fit again after the failure", "apta otra vez después de la falla")})
	}
	list = slices.DeleteFunc(list, func(e waterEvent) bool { return e.at.After(s.at) })
	slices.SortStableFunc(list, func(a, b waterEvent) int { return a.at.Compare(b.at) })
	for i := range list {
		list[i].letter = letterOf(i)
	}
	return list
}

func (t tongue) uses(uses []domain.WaterUse) string {
	names := make([]string, len(uses))
	for i, u := range uses {
		names[i] = t.waterUse(u)
	}
	return strings.Join(names, ", ")
}
