package main

import (
	"testing"
	"time"
)

// runDemo runs the demo and gives its address as the owner sees it.
func runDemo(t *testing.T) caller {
	t.Helper()
	p := start(t, "demo", "--data", dataFolder(t), "--listen", "127.0.0.1:0")
	address := p.address()
	p.await(`demo farm ready: \d+ requests sent`, time.Minute)
	token := p.await(`(?m)^owner +\S.* (cm_[0-9A-Z]{32})$`, time.Second)[1]
	return caller{t, address, token}
}

// The demo farm has one heap that counted, one that failed and was used, and one that still runs; and a salad mix of
// three beds that went to four customers and partly came back.
func TestDemoCompostAndPacket(t *testing.T) {
	owner := runDemo(t)

	// Five turnings within fifteen days at or above 131 degF: 7 CFR 205.203(c)(2)(iii).
	type process struct {
		Set, Outcome string
		Days         []string `json:"counted_days"`
		Turnings     int      `json:"turnings_counted"`
	}
	var heaps []struct{ ID, Code string }
	owner.get("/v1/compost-batches", &heaps)
	standing := map[string]string{}
	organic := map[string]process{}
	for _, h := range heaps {
		var heap struct {
			Standing string
			Process  []process
		}
		owner.get("/v1/compost-batches/"+h.ID, &heap)
		standing[h.Code] = heap.Standing
		for _, p := range heap.Process {
			if p.Set == "us-organic" {
				organic[h.Code] = p
			}
		}
	}
	for code, want := range map[string]struct{ standing, outcome string }{
		"Windrow 1": {"treated", "met"}, "Windrow 2": {"untreated", "not-met"}, "Windrow 3": {"untreated", "running"},
	} {
		if standing[code] != want.standing || organic[code].Outcome != want.outcome {
			t.Errorf("%s is %s and %s, want %s and %s", code, standing[code], organic[code].Outcome, want.standing, want.outcome)
		}
	}
	if first := organic["Windrow 1"]; len(first.Days) != 15 || first.Turnings != 5 {
		t.Errorf("Windrow 1 counted %d days and %d turnings", len(first.Days), first.Turnings)
	}

	// The failed heap went on Brook 5 as what it was: raw manure, counted from the day it was worked in.
	var farm struct {
		Checks []struct {
			Bed, Crop, Verdict string
			ClearOn            string `json:"clear_on"`
		}
	}
	owner.get("/v1/harvest-check", &farm)
	waits := false
	for _, c := range farm.Checks {
		waits = waits || c.Bed == "Brook 5" && c.Crop == "Spinach" && c.Verdict == "wait" && c.ClearOn != ""
	}
	if !waits {
		t.Errorf("the spinach on the failed heap does not wait: %+v", farm.Checks)
	}

	var asked []struct{ ID, For string }
	owner.get("/v1/traceback-requests", &asked)
	for _, r := range asked {
		if r.For == "authority" {
			checkDemoPacket(t, owner, r.ID)
		}
	}
}

func checkDemoPacket(t *testing.T, owner caller, request string) {
	t.Helper()
	var packet struct {
		Lots, Beds, Customers []struct{ ID string }
		Moves                 []struct{ Kind string }
		Balance               []struct{ Lot, Question, Unexplained string }
	}
	owner.get("/v1/traceback-requests/"+request+"/packet.json", &packet)
	kinds := map[string]int{}
	for _, m := range packet.Moves {
		kinds[m.Kind]++
	}
	if len(packet.Lots) != 4 || len(packet.Beds) != 3 || len(packet.Customers) != 4 || kinds["shipment"]+kinds["donation"] != 4 || kinds["return"] != 1 {
		t.Errorf("%d lots, %d beds, %d customers, moves %v; want the mix and its three lots, three beds, four customers and one return",
			len(packet.Lots), len(packet.Beds), len(packet.Customers), kinds)
	}
}
