package domain

import "github.com/google/uuid"

// Role says what a person may do. A signature always belongs to the person, never to the phone.
type Role string

const (
	Owner  Role = "owner"  // everything, including people and standards
	Lead   Role = "lead"   // records, corrections, releases, reviews
	Crew   Role = "crew"   // records
	Reader Role = "reader" // inspector or certifier: reads, until a day
)

var roleRank = map[Role]int{Reader: 1, Crew: 2, Lead: 3, Owner: 4}

// AtLeast reports whether the role includes another.
func (r Role) AtLeast(o Role) bool { return roleRank[r] >= roleRank[o] && roleRank[r] > 0 }

// Person is somebody of the farm, or somebody who reads its book until a day.
type Person struct {
	ID       uuid.UUID `json:"id,omitzero" format:"uuid"`
	Name     string    `json:"name" maxLength:"120"`
	Initials string    `json:"initials" maxLength:"6"`
	Role     Role      `json:"role" enum:"owner,lead,crew,reader"`
	Language string    `json:"language,omitempty" enum:"en,es"`
	EndsOn   Date      `json:"ends_on,omitzero" format:"date"`
	// PIN is taken out before anything is written down: it is in no entry, no table of the book and no export.
	PIN string `json:"-"`
	Habits
}

func (x *Person) Kind() string         { return "person" }
func (x *Person) Identity() *uuid.UUID { return &x.ID }
func (x *Person) DoneOn() Date         { return Date{} }

func (x *Person) Check(today Date, p *Problems) {
	checkName(p, "/name", x.Name)
	checkName(p, "/initials", x.Initials)
	checkText(p, "/initials", x.Initials, 6)
	checkOneOf(p, "/role", x.Role, Owner, Lead, Crew, Reader)
	if x.Language != "" {
		checkOneOf(p, "/language", x.Language, "en", "es")
	}
	if x.Role == Reader && x.EndsOn.IsZero() {
		p.Add("/ends_on", "A reader's access ends on a day: give it.")
	}
	checkPlanDay(p, "/ends_on", x.EndsOn, today)
	if x.PIN != "" {
		CheckPIN(p, "/pin", x.PIN)
	}
}

// Active reports whether the person's time has not ended on a day.
func (x *Person) Active(today Date) bool { return x.EndsOn.IsZero() || !x.EndsOn.Before(today) }

// Lesser gives the role that includes less; no role is no bound.
func (r Role) Lesser(o Role) Role {
	if o != "" && r.AtLeast(o) {
		return o
	}
	return r
}
