package domain

import "github.com/google/uuid"

// TraceNode is one thing in the answer to "where did this come from" or "where did this go".
type TraceNode struct {
	Kind  string    `json:"kind"` // harvest-lot, planting, bed, plot, application, grazing, input-lot, input, supplier
	ID    uuid.UUID `json:"id,omitzero"`
	Label string    `json:"label"`
	On    Date      `json:"on,omitzero"`
}

// TraceLink says that one node reached another, and how.
type TraceLink struct {
	From int    `json:"from"` // index into Nodes
	To   int    `json:"to"`
	How  string `json:"how"`
}

// Trace is the whole answer as a graph. Links point the way the food goes: from supplier to ground to lot.
type Trace struct {
	Direction string      `json:"direction"` // back, forward
	Start     int         `json:"start"`
	Nodes     []TraceNode `json:"nodes"`
	Links     []TraceLink `json:"links"`
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

// Of lists the nodes of a kind.
func (t *Trace) Of(kind string) (out []TraceNode) {
	for _, n := range t.Nodes {
		if n.Kind == kind {
			out = append(out, n)
		}
	}
	return out
}
