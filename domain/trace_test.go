package domain_test

import (
	"testing"

	"croftmark/domain"
)

func TestTraceNamesEveryThingOnce(t *testing.T) {
	t.Parallel()
	var tr domain.Trace
	tr.Direction = "back"
	lot := tr.Node(domain.TraceNode{Kind: "harvest-lot", ID: someID, Label: "radish 1", On: dayOf("2026-08-08")})
	bed := tr.Node(domain.TraceNode{Kind: "bed", ID: otherID, Label: "Lower 3"})
	mill := tr.Node(domain.TraceNode{Kind: "supplier", Label: "Old Mill Dairy"})
	if tr.Node(domain.TraceNode{Kind: "bed", ID: otherID, Label: "Lower 3, renamed"}) != bed {
		t.Error("a bed is one node whatever it is called")
	}
	if tr.Node(domain.TraceNode{Kind: "supplier", Label: "Old Mill Dairy"}) != mill || tr.Node(domain.TraceNode{Kind: "supplier", Label: "New Mill"}) == mill {
		t.Error("a supplier without an id is told by name")
	}
	if tr.Node(domain.TraceNode{Kind: "planting", ID: otherID}) == bed {
		t.Error("a kind is part of the name")
	}
	tr.Link(bed, lot, "cut from")
	tr.Link(bed, lot, "cut from")
	tr.Link(mill, bed, "manure of")
	tr.Start, tr.Gaps = lot, []string{"no seed lot is written down"}
	if len(tr.Links) != 2 || len(tr.Of("supplier")) != 2 || len(tr.Of("crate")) != 0 {
		t.Errorf("%+v", tr)
	}
	want := "harvest lot radish 1 (cut 2026-08-08)\n  cut from: bed Lower 3\n    manure of: supplier Old Mill Dairy\ngap: no seed lot is written down\n"
	if got := tr.Tree(); got != want {
		t.Errorf("%s", got)
	}
	tr.Direction, tr.Start, tr.Gaps = "forward", mill, nil
	tr.Link(lot, mill, "returned to") // a graph that comes round ends all the same
	want = "supplier Old Mill Dairy\n  manure of: bed Lower 3\n    cut from: harvest lot radish 1 (cut 2026-08-08)\n      returned to: supplier Old Mill Dairy, as above\n"
	if got := tr.Tree(); got != want {
		t.Errorf("%s", got)
	}
}

func TestTreeLeavesOutWhatSaysNothingNew(t *testing.T) {
	t.Parallel()
	if got := (&domain.Trace{Direction: "back", Gaps: []string{"no lot"}}).Tree(); got != "gap: no lot\n" {
		t.Errorf("a trace of nothing: %q", got)
	}
	var tr domain.Trace
	tr.Direction = "back"
	lot := tr.Node(domain.TraceNode{Kind: "input-lot", ID: someID, Label: "Fish meal lot 7", On: dayOf("2026-03-01")})
	tr.Link(tr.Node(domain.TraceNode{Kind: "input", ID: otherID, Label: "Fish meal"}), lot, "is")
	if got, want := tr.Tree(), "input lot Fish meal lot 7 (received 2026-03-01)\n"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
	tr.Nodes[1].Label = "Feather meal"
	if got, want := tr.Tree(), "input lot Fish meal lot 7 (received 2026-03-01)\n  is: input Feather meal\n"; got != want {
		t.Errorf("%q, want %q", got, want)
	}
}
