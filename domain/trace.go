package domain

import (
	"slices"
	"strings"

	"github.com/google/uuid"
)

// TraceNode is one thing in the answer to "where did this come from" or "where did this go".
type TraceNode struct {
	Kind  string    `json:"kind"` // harvest-lot, planting, bed, plot, application, grazing, input-lot, input, supplier
	ID    uuid.UUID `json:"id,omitzero"`
	Label string    `json:"label"`
	On    Date      `json:"on,omitzero"`
	// What was put on the ground, without the days that the label tells: a page writes days in its own way. IncorporatedOn is
	// when it was worked in, To the last day of animals; without them it is not worked in, or the animals are still there.
	What           string `json:"what,omitempty"`
	IncorporatedOn Date   `json:"incorporated_on,omitzero"`
	To             Date   `json:"to,omitzero"`
}

// TraceLink says that one node reached another, and how.
type TraceLink struct {
	From int    `json:"from"` // index into Nodes
	To   int    `json:"to"`
	How  string `json:"how"`
}

// TraceContact is a lot that may have been touched by what another left behind. It is never part of the chain.
type TraceContact struct {
	LotID uuid.UUID `json:"lot_id"`
	Lot   string    `json:"lot"`
	What  string    `json:"what"`
	How   string    `json:"how"`
}

// Trace is the whole answer as a graph. Links point the way the food goes: from supplier to ground to lot.
type Trace struct {
	Direction string      `json:"direction"` // back, forward
	Start     int         `json:"start"`
	Nodes     []TraceNode `json:"nodes"`
	Links     []TraceLink `json:"links"`
	// Possible are lots that are not in the chain: they used the same tank or line before the next clean, or may be in a crate
	// that lost its label.
	Possible []TraceContact `json:"possible_contact,omitempty"`
	// Gaps says in words what the book can't tell.
	Gaps []string `json:"gaps,omitempty"`

	at map[string]int
}

// Node adds a node once and gives its index.
func (t *Trace) Node(n TraceNode) int {
	key := n.Kind + "/" + n.ID.String() + "/" + n.Label
	if n.ID != uuid.Nil {
		key = n.Kind + "/" + n.ID.String()
	}
	if t.at == nil {
		t.at = map[string]int{}
	}
	if i, ok := t.at[key]; ok {
		return i
	}
	t.at[key] = len(t.Nodes)
	t.Nodes = append(t.Nodes, n)
	return len(t.Nodes) - 1
}

// Link joins two nodes once.
func (t *Trace) Link(from, to int, how string) {
	for _, l := range t.Links {
		if l.From == from && l.To == to && l.How == how {
			return
		}
	}
	t.Links = append(t.Links, TraceLink{from, to, how})
}

// Gap says once what the book can't tell.
func (t *Trace) Gap(text string) {
	if !slices.Contains(t.Gaps, text) {
		t.Gaps = append(t.Gaps, text)
	}
}

// Of lists the nodes of a kind.
func (t *Trace) Of(kind string) (out []TraceNode) {
	for _, n := range t.Nodes {
		if n.Kind == kind {
			out = append(out, n)
		}
	}
	return out
}

// Tree writes the trace as indented lines a person can read, from the start outwards; what stands above already is not
// told twice.
func (t *Trace) Tree() string {
	var b strings.Builder
	if len(t.Nodes) > 0 {
		t.branch(&b, t.Start, "", 0, map[int]bool{})
	}
	for _, c := range t.Possible {
		b.WriteString("possible contact: lot " + c.Lot + " " + c.What + ", " + c.How + "\n")
	}
	for _, gap := range t.Gaps {
		b.WriteString("gap: " + gap + "\n")
	}
	return b.String()
}

// dayWords say what happened on the day of a node.
var dayWords = map[string]string{"harvest-lot": "cut", "pack-lot": "packed", "planting": "planted", "bed": "laid out", "application": "spread",
	"input-lot": "received", "compost-batch": "built", "finding": "found", "grazing": "from", "shipment": "shipped", "return": "came back"}

// line is a node in words.
func (n TraceNode) line() string {
	text := strings.TrimSpace(strings.ReplaceAll(n.Kind, "-", " ") + " " + n.Label)
	if !n.On.IsZero() {
		text += " (" + strings.TrimSpace(dayWords[n.Kind]+" "+n.On.String()) + ")"
	}
	return text
}

func (t *Trace) branch(b *strings.Builder, node int, how string, depth int, seen map[int]bool) {
	n := t.Nodes[node]
	b.WriteString(strings.Repeat("  ", depth))
	if how != "" {
		b.WriteString(how + ": ")
	}
	b.WriteString(n.line())
	if seen[node] {
		b.WriteString(", as above\n")
		return
	}
	b.WriteString("\n")
	seen[node] = true
	for _, l := range t.Links {
		next := -1
		if t.Direction == "back" && l.To == node {
			next = l.From
		} else if t.Direction == "forward" && l.From == node {
			next = l.To
		}
		// The name of an input begins that of its deliveries: a line for it says nothing new.
		if next >= 0 && !(t.Nodes[next].Kind == "input" && strings.HasPrefix(n.Label, t.Nodes[next].Label)) {
			t.branch(b, next, l.How, depth+1, seen)
		}
	}
}
