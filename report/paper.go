package report

import (
	"strconv"
	"strings"
	"time"

	"github.com/google/uuid"

	"croftmark/domain"
)

// PageSize is the paper to print on, in points.
type PageSize struct{ Width, Height float64 }

var (
	Letter = PageSize{612, 792}
	A4     = PageSize{595.28, 841.89}
)

// Checkpoint is the state of the book that a paper was made from: whose book, how many entries, and the hash over them.
type Checkpoint struct {
	Origin string
	Size   int64
	Root   string
}

// Lines is the checkpoint as it is printed and as the QR symbol carries it: origin, size and root, a line each.
func (c Checkpoint) Lines() string {
	return c.Origin + "\n" + strconv.FormatInt(c.Size, 10) + "\n" + c.Root
}

func (c Checkpoint) given() bool { return c.Origin != "" && c.Root != "" }

// Signature is one signature that the book holds. The paper leaves room for ink whether or not there is one.
type Signature struct {
	Name string
	On   domain.Date
	Own  bool // the second signature of somebody who also had a hand in the record, because nobody else could sign
}

// Signatures are the two that the law asks for: of the person who did it, and of the supervisor who looked at it.
type Signatures struct{ DoneBy, ReviewedBy Signature }

// Paper is what all papers have in common. Farm and Made must be given.
type Paper struct {
	Farm, Address string
	Language      string   // "es"; anything else is English
	Size          PageSize // zero: letter
	Made          time.Time
	Checkpoint    Checkpoint
	// People are the names to print for the ids in the records.
	People     map[uuid.UUID]string
	Signatures Signatures
	// Gaps are told in the box of known gaps besides those that the paper finds itself.
	Gaps []string
}

// check refuses a paper that would not say whose it is or when it was made.
func (p Paper) check() error {
	var problems domain.Problems
	problems.Check(strings.TrimSpace(p.Farm) != "", "/farm", "A paper names the farm.")
	problems.Check(!p.Made.IsZero(), "/made", "A paper says when it was made.")
	return problems.Err()
}

func (p Paper) size() PageSize {
	if p.Size == (PageSize{}) {
		return Letter
	}
	return p.Size
}

func (p Paper) tongue() tongue { return tongue(p.Language == "es") }

// name is the person's name; an id that the caller gave no name for is said to be one.
func (p Paper) name(id uuid.UUID) string {
	if id == uuid.Nil {
		return p.tongue().say("not said", "no consta")
	}
	if n := p.People[id]; n != "" {
		return n
	}
	return p.tongue().say("person %s", "persona %s", id.String()[:8])
}
