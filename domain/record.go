package domain

import (
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"github.com/google/uuid"
)

// Habits are what every record accepts beside its own fields (21 CFR 112.161(a): who did it, when, and what was seen).
type Habits struct {
	// DoneAt is the instant of the act, when the record has no dated field of its own or the hour matters.
	DoneAt time.Time `json:"done_at,omitzero" doc:"When it was done (RFC 3339 with offset)."`
	// DoneBy is the person who did it; the caller when left out.
	DoneBy uuid.UUID `json:"done_by,omitzero" format:"uuid" doc:"Person who did it. Left out: the person signed in."`
	// DeviceAt is what the phone's clock said, kept beside the server's time and never used to reorder anything.
	DeviceAt time.Time `json:"device_at,omitzero" doc:"What the device's clock said when it was typed."`
	Note     string    `json:"note,omitempty" maxLength:"4000"`
	// Attachments are files by the SHA-256 of their content.
	Attachments []string `json:"attachments,omitempty" maxItems:"20" doc:"Files that belong to it: hashes as answered by /v1/attachments."`
	LateReason  string   `json:"late_reason,omitempty" maxLength:"1000" doc:"Why it is written down later than it was done."`
}

func (h *Habits) habits() *Habits { return h }

// Record is a noun of the book: one struct for the request, the entry's body and the answer, so that a word means the
// same in all three.
type Record interface {
	// Kind is the entry kind, for example "application".
	Kind() string
	// Identity gives access to the id; a record without one is given one by the write door.
	Identity() *uuid.UUID
	// Check notes everything that is wrong with the record taken alone, whatever the rest of the book says.
	Check(today Date, p *Problems)
	// DoneOn is the day of the act by the record's own dated field; zero when it has none.
	DoneOn() Date

	habits() *Habits
}

// HabitsOf gives the habits of any record.
func HabitsOf(r Record) *Habits { return r.habits() }

// CheckRecord runs the record's own checks and those that all records share.
func CheckRecord(r Record, today Date, zone *time.Location) error {
	var p Problems
	h := r.habits()
	checkText(&p, "/note", h.Note, 4000)
	checkText(&p, "/late_reason", h.LateReason, 1000)
	checkAttachments(&p, h.Attachments)
	if !h.DoneAt.IsZero() {
		checkDay(&p, "/done_at", DateIn(h.DoneAt, zone), today)
	}
	if h, ok := r.(Timed); ok && !h.HappenedAt().IsZero() {
		on := DateIn(h.HappenedAt(), zone)
		p.Check(!on.Before(earliest), "", "It is said to have happened in the year %d, which is too long ago. Check the year of its time.", h.HappenedAt().Year())
	}
	r.Check(today, &p)
	return p.Err()
}

// earliest is before any record a farm could still answer for; an older date is a slip of the thumb.
var earliest = NewDate(1950, time.January, 1)

// checkDay notes a day that cannot be: unset, in the future beyond tomorrow (a phone may be a zone ahead), or absurd.
func checkDay(p *Problems, pointer string, d, today Date) {
	switch {
	case d.IsZero():
		p.Add(pointer, "Give the day as YYYY-MM-DD.")
	case d.After(today.AddDays(1)):
		p.Add(pointer, "%s is in the future; today is %s. Write down what has been done, on the day it was done.", d, today)
	case d.Before(earliest):
		p.Add(pointer, "%s is too long ago. Check the year.", d)
	}
}

// checkOptionalDay is checkDay for a day that may be left out.
func checkOptionalDay(p *Problems, pointer string, d, today Date) {
	if !d.IsZero() {
		checkDay(p, pointer, d, today)
	}
}

// checkPlanDay is for days that may lie ahead, such as an expected first harvest.
func checkPlanDay(p *Problems, pointer string, d, today Date) {
	if !d.IsZero() && (d.Before(earliest) || d.After(today.AddDays(3*366))) {
		p.Add(pointer, "%s is too far away. Check the year.", d)
	}
}

// checkName notes a name that is missing, too long, or holds characters that cannot be printed.
func checkName(p *Problems, pointer, s string) {
	if strings.TrimSpace(s) == "" {
		p.Add(pointer, "Give a name.")
		return
	}
	checkText(p, pointer, s, 120)
	if strings.ContainsAny(s, "\n\r\t") {
		p.Add(pointer, "A name is one line without tabs.")
	}
	if strings.TrimSpace(s) != s {
		p.Add(pointer, "Take the blanks off the beginning and end of %q.", strings.TrimSpace(s))
	}
}

// checkText notes text that is too long, is not UTF-8, or holds control characters.
func checkText(p *Problems, pointer, s string, most int) {
	if !utf8.ValidString(s) {
		p.Add(pointer, "The text is not valid UTF-8. Type it again.")
		return
	}
	if n := utf8.RuneCountInString(s); n > most {
		p.Add(pointer, "%d characters is too long; %d fit.", n, most)
	}
	for _, r := range s {
		if unicode.IsControl(r) && r != '\n' && r != '\r' && r != '\t' {
			p.Add(pointer, "The text holds a control character. Type it again.")
			return
		}
	}
}

// checkOneOf notes a word that is not on the list.
func checkOneOf[T ~string](p *Problems, pointer string, word T, allowed ...T) {
	for _, a := range allowed {
		if word == a {
			return
		}
	}
	names := make([]string, len(allowed))
	for i, a := range allowed {
		names[i] = string(a)
	}
	p.Add(pointer, "%q is not one of: %s.", word, strings.Join(names, ", "))
}
