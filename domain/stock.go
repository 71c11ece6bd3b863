package domain

import (
	"fmt"

	"github.com/google/uuid"
	"github.com/shopspring/decimal"
)

// Stock is what came in of a delivery or batch, what was used, and what should be left.
type Stock struct {
	Kind string     `json:"kind"`
	ID   uuid.UUID  `json:"id" format:"uuid"`
	Name string     `json:"name"`
	In   Quantity   `json:"in,omitzero" doc:"Left out: nobody wrote down how much there was."`
	Uses []Quantity `json:"-"`
	Used Quantity   `json:"used,omitzero"`
	Left Quantity   `json:"left,omitzero"`
	// Question is asked where the sums do not tell: more used than there was, or amounts that can't be compared.
	Question string `json:"question,omitempty"`
}

// Count adds the uses up in the unit that came in. More used than there was is a question, never a silent negative.
func (s *Stock) Count() {
	if s.In.IsZero() {
		if len(s.Uses) > 0 {
			s.Question = fmt.Sprintf("Nobody wrote down how much there was of %s. Write down the amount.", s.Name)
		}
		return
	}
	used := decimal.Zero
	for _, q := range s.Uses {
		v, err := q.In(s.In.Unit)
		if err != nil {
			s.Question = fmt.Sprintf("Some of %s was used in %s, but it came in %s: what is left can't be told. Give both in one kind of unit.", s.Name, q.Unit, s.In.Unit)
			return
		}
		used = used.Add(v)
	}
	s.Used, s.Left = Quantity{used, s.In.Unit}, Quantity{s.In.Value.Sub(used), s.In.Unit}
	if s.Left.Value.Sign() < 0 {
		s.Question = fmt.Sprintf("More of %s was used (%s %s) than there was (%s). Which record is wrong?", s.Name, used.Round(3), s.In.Unit, s.In)
	}
}
