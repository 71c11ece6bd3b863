package storage_test

import (
	"cmp"
	"fmt"
	"maps"
	"os"
	"slices"
	"strconv"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"github.com/google/uuid"
	"github.com/shopspring/decimal"

	"croftmark/domain"
	"croftmark/storage"
)

// How many random farms are traced, and the seed of the first: farm n has the seed of the first plus n.
const (
	traceFarmsEnv = "CROFTMARK_TRACE_FARMS"
	traceSeedEnv  = "CROFTMARK_TRACE_SEED"
)

func numberFromEnv(t *testing.T, name string, otherwise int) int {
	text := os.Getenv(name)
	if text == "" {
		return otherwise
	}
	n, err := strconv.Atoi(text)
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	return n
}

// On any farm, every trace, recall and packet equals what a walk over plain maps finds, which were filled while the farm
// was written down and never read from the book.
func TestTraceProperty(t *testing.T) {
	t.Parallel()
	base := newField(t, storage.Config{})
	farms, seed := numberFromEnv(t, traceFarmsEnv, 20), numberFromEnv(t, traceSeedEnv, 1)
	var sum traceCount
	t.Run("farms", func(t *testing.T) {
		for n := range farms {
			t.Run(fmt.Sprint("seed ", seed+n), func(t *testing.T) {
				t.Parallel()
				m := newMaze(t, base, seed+n, &sum)
				defer func() {
					if t.Failed() {
						t.Logf("again with %s=%d %s=1", traceSeedEnv, seed+n, traceFarmsEnv)
					}
				}()
				m.live(70)
				m.checkTraces()
				m.checkStarts()
				m.checkBalances()
			})
		}
	})
	t.Logf("%d farms; %d traces, %d recalls and %d packets of %d lots compared; %d writes refused", farms, sum.traces.Load(), sum.recalls.Load(),
		sum.packets.Load(), sum.balanced.Load(), sum.refused.Load())
	for _, x := range []struct {
		what    string
		n       *atomic.Int64
		tenfold int64 // at least so many on ten farms
	}{
		{"lots", &sum.lots, 150}, {"packed from packed lots", &sum.repacked, 20}, {"mixed of several lots", &sum.mixed, 30}, {"split over several pack lots", &sum.split, 10},
		{"shipments", &sum.shipments, 50}, {"donations", &sum.donations, 8}, {"returns", &sum.returns, 15}, {"disposals", &sum.disposals, 8},
		{"uses of water", &sum.waters, 40}, {"voids", &sum.voids, 8}, {"corrections", &sum.corrections, 8},
	} {
		t.Logf("%d %s", x.n.Load(), x.what)
		if x.n.Load()*10 < x.tenfold*int64(farms) && farms >= 10 {
			t.Errorf("only %d %s on %d farms", x.n.Load(), x.what, farms)
		}
	}
}

type traceCount struct {
	lots, repacked, mixed, split, shipments, donations, returns, disposals, voids, corrections, waters, refused, traces, recalls, packets, balanced atomic.Int64
}

func nodesOf(t *domain.Trace, kinds ...string) set {
	out := set{}
	for _, kind := range kinds {
		for _, n := range t.Of(kind) {
			out[n.ID] = true
		}
	}
	return out
}

// same compares what a trace found with what the walk found, in words a person can read.
func (m *maze) same(of, what string, got, want set) {
	m.t.Helper()
	if maps.Equal(got, want) {
		return
	}
	list := func(a, b set) string {
		var out []string
		for id := range a {
			if l := m.byID[id]; l != nil && !b[id] {
				out = append(out, l.code)
			} else if !b[id] {
				out = append(out, id.String())
			}
		}
		slices.Sort(out)
		return strings.Join(out, " ")
	}
	m.t.Errorf("from %s: %d %s, want %d; too many: %s; missing: %s", of, len(got), what, len(want), list(got, want), list(want, got))
}

func (m *maze) sameBack(of string, t *domain.Trace, err error, start set) {
	m.t.Helper()
	mustBe(m.t, err)
	m.sum.traces.Add(1)
	want := m.back(start)
	m.same(of, "lots", nodesOf(t, "harvest-lot", "pack-lot"), want.lots)
	m.same(of, "beds", nodesOf(t, "bed"), want.beds)
	m.same(of, "deliveries", nodesOf(t, "input-lot"), want.deliveries)
	m.same(of, "heaps", nodesOf(t, "compost-batch"), want.batches)
}

func (m *maze) sameForward(of string, t *domain.Trace, err error, start set) {
	m.t.Helper()
	mustBe(m.t, err)
	m.sum.traces.Add(1)
	want := m.forward(start)
	m.same(of, "lots", nodesOf(t, "harvest-lot", "pack-lot"), want.lots)
	m.same(of, "shipments", nodesOf(t, "shipment"), want.shipments)
	m.same(of, "customers", nodesOf(t, "customer"), want.customers)
}

func (m *maze) traceFrom(s domain.TraceStart, forward bool) (*domain.Trace, error) {
	return m.db.TraceFrom(m.reading(), s, forward)
}

// checkTraces traces from every lot, a crate of each, every bed and every delivery, and back and forth.
func (m *maze) checkTraces() {
	reached := map[string]set{} // by kind and id: the lots that a forward trace finds
	forward := func(of string, id uuid.UUID, s domain.TraceStart, start set) {
		t, err := m.traceFrom(s, true)
		m.sameForward(of, t, err, start)
		reached[id.String()] = nodesOf(t, "harvest-lot", "pack-lot")
	}
	for _, l := range m.lots {
		forward("lot "+l.code, l.id, domain.TraceStart{Lot: l.code}, set{l.id: true})
	}
	for n, bed := range m.beds {
		forward(fmt.Sprint("bed ", n), bed, domain.TraceStart{BedID: bed}, m.onBed(bed))
	}
	for n, id := range m.deliveries {
		forward(fmt.Sprint("delivery ", n), id, domain.TraceStart{InputLotID: id}, m.ofDelivery(id))
		t, err := m.db.TraceForward(m.reading(), id)
		m.sameForward(fmt.Sprint("delivery ", n, " itself"), t, err, m.ofDelivery(id))
	}
	for n, id := range m.batches {
		start := m.where(func(l *mazeLot) bool {
			return slices.ContainsFunc(m.applications, func(a mazeApplication) bool { return a.batch == id && m.reaches(a, l) })
		})
		forward(fmt.Sprint("heap ", n), id, domain.TraceStart{CompostBatchID: id}, start)
		t, err := m.db.TraceForward(m.reading(), id)
		m.sameForward(fmt.Sprint("heap ", n, " itself"), t, err, start)
	}
	for _, l := range m.lots {
		t, err := m.db.TraceBack(m.reading(), l.code)
		m.sameBack("lot "+l.code, t, err, set{l.id: true})
		for _, crate := range l.crates {
			t, err := m.traceFrom(domain.TraceStart{Crate: crate}, false)
			m.sameBack("crate "+crate, t, err, set{l.id: true})
			for _, n := range t.Nodes {
				if lots, asked := reached[n.ID.String()]; asked && !lots[l.id] {
					m.t.Errorf("crate %s came from %s %s, which does not lead to it", crate, n.Kind, n.Label)
				}
			}
		}
	}
}

// starts are all the ways to ask that name something on this farm, with the lots each one names.
func (m *maze) starts() map[domain.TraceStart]set {
	out := map[domain.TraceStart]set{}
	for _, move := range m.moves {
		if move.reference != "" {
			out[domain.TraceStart{Reference: move.reference}] = m.movedWhere(func(x *mazeMove) bool { return x.reference == move.reference })
		}
		out[domain.TraceStart{CustomerID: move.customer, On: move.on}] = m.movedWhere(func(x *mazeMove) bool { return !x.back && x.customer == move.customer && x.on == move.on })
	}
	for _, w := range m.waters {
		middle := w.from.Add(w.to.Sub(w.from) / 2)
		for _, window := range [][2]time.Time{{w.from, w.to}, {middle, middle.Add(time.Hour)}, {w.to.Add(time.Second), w.to.AddDate(0, 0, 5)}, {middle.AddDate(0, 0, -5), middle}} {
			out[domain.TraceStart{WaterSourceID: m.well, From: window[0], To: window[1]}] = m.ofWater(window[0], window[1])
		}
	}
	for _, l := range m.lots {
		for _, on := range []domain.Date{l.from, l.to, l.to.AddDays(1)} {
			out[domain.TraceStart{Crop: l.name, On: on}] = m.ofCrop(l.name, on)
		}
	}
	return out
}

func (m *maze) checkStarts() {
	for s, lots := range m.starts() {
		of := fmt.Sprintf("reference %q, customer %s, crop %q on %s, water from %s to %s", s.Reference, s.CustomerID, s.Crop, s.On, s.From, s.To)
		t, err := m.traceFrom(s, false)
		m.sameBack(of, t, err, lots)
		t, err = m.traceFrom(s, true)
		m.sameForward(of, t, err, lots)
	}
}

// someStarts are a few ways to ask, always the same ones for a seed.
func (m *maze) someStarts() (out []domain.TraceStart, lots []set) {
	for range 4 {
		l := some(m, m.lots)
		out, lots = append(out, domain.TraceStart{Lot: l.code}), append(lots, set{l.id: true})
	}
	bed, delivery := some(m, m.beds), some(m, m.deliveries)
	out, lots = append(out, domain.TraceStart{BedID: bed}, domain.TraceStart{InputLotID: delivery}), append(lots, m.onBed(bed), m.ofDelivery(delivery))
	if len(m.moves) > 0 {
		move := some(m, m.moves)
		out = append(out, domain.TraceStart{CustomerID: move.customer, On: move.on})
		lots = append(lots, m.movedWhere(func(x *mazeMove) bool { return !x.back && x.customer == move.customer && x.on == move.on }))
	}
	return out, lots
}

func (m *maze) checkBalances() {
	starts, lots := m.someStarts()
	for n, s := range starts {
		recall := &domain.Recall{Start: s, Drill: true, Reason: "a drill"}
		m.write(recall)
		got, err := m.db.Recall(m.reading(), recall.ID)
		mustBe(m.t, err)
		m.sum.recalls.Add(1)
		m.checkRecall(got, lots[n])
		request := &domain.TracebackRequest{AskedBy: "Inspector", AskedAt: at("2026-11-24", 9), For: "authority", About: s}
		m.write(request)
		packet, err := m.db.Packet(m.reading(), request.ID)
		mustBe(m.t, err)
		m.sum.packets.Add(1)
		m.checkPacket(packet, lots[n])
	}
}

// checkRecall adds the scope up by hand: masses in pounds, counted things each in their own unit.
func (m *maze) checkRecall(got storage.Recalled, start set) {
	scope := m.down(start)
	of, ids, recipients := fmt.Sprintf("recall of %+v", got.Recall.Start), set{}, set{}
	for _, l := range got.Lots {
		ids[l.ID] = true
	}
	for _, r := range got.Recipients {
		recipients[r.CustomerID] = true
	}
	m.same(of, "lots", ids, scope)
	m.same(of, "customers", recipients, m.forward(start).customers)
	m.checkRecipients(of, got.Recipients, scope)
	type balance struct{ made, onHand, shipped, returned, disposed decimal.Decimal }
	want := map[domain.Unit]*balance{}
	in := func(v decimal.Decimal, from domain.Unit) (decimal.Decimal, domain.Unit) {
		if measure, _ := domain.MeasureOf(from); measure != domain.Mass {
			return v, from
		}
		lb, err := domain.Quantity{Value: v, Unit: from}.In("lb")
		mustBe(m.t, err)
		return lb, "lb"
	}
	for id := range scope {
		l := m.byID[id]
		_, unit := in(decimal.Zero, l.unit)
		b := want[unit]
		if b == nil {
			b = &balance{}
			want[unit] = b
		}
		plus := func(to *decimal.Decimal, v decimal.Decimal, from domain.Unit) {
			v, _ = in(v, from)
			*to = to.Add(v)
		}
		s := m.sums(l)
		if !l.packed() {
			plus(&b.made, l.made, l.unit)
		}
		for parent, q := range l.took {
			if !scope[parent.id] {
				plus(&b.made, q, parent.unit)
			}
		}
		plus(&b.onHand, s.onHand, l.unit)
		plus(&b.shipped, s.shipped, l.unit)
		plus(&b.returned, s.returned, l.unit)
		plus(&b.disposed, s.disposed.Add(l.culls), l.unit)
	}
	if len(got.Balance) != len(want) {
		m.t.Errorf("%s: %d balances, want %d", of, len(got.Balance), len(want))
	}
	for _, b := range got.Balance {
		w := cmp.Or(want[b.Unit], &balance{})
		unexplained := w.made.Sub(w.onHand).Sub(w.shipped).Add(w.returned).Sub(w.disposed)
		for name, pair := range map[string][2]decimal.Decimal{"made": {b.Made, w.made}, "on hand": {b.OnHand, w.onHand}, "shipped": {b.Shipped, w.shipped},
			"returned": {b.Returned, w.returned}, "disposed": {b.Disposed, w.disposed}} {
			if !near(pair[0], pair[1]) {
				m.t.Errorf("%s: %s %s %s, want %s", of, pair[0], b.Unit, name, pair[1])
			}
		}
		if sum := b.OnHand.Add(b.Shipped).Sub(b.Returned).Add(b.Disposed).Add(b.Unexplained); !nearly(sum, b.Made) || !nearly(b.Unexplained, unexplained) || b.Unexplained.Exponent() < -6 {
			m.t.Errorf("%s: %s %s made, %s add up with %s unexplained, want %s", of, b.Made, b.Unit, sum, b.Unexplained, unexplained)
		}
	}
}

// checkRecipients adds up what each customer is said to have got and sent back, lot by lot.
func (m *maze) checkRecipients(of string, recipients []domain.Recipient, scope set) {
	for _, r := range recipients {
		got := map[string]decimal.Decimal{}
		for _, g := range r.Got {
			key := fmt.Sprint(g.LotCode, g.Back)
			got[key] = got[key].Add(g.Quantity.Value)
		}
		for _, move := range m.moves {
			for _, part := range move.parts {
				if key := fmt.Sprint(part.lot.code, move.back); move.customer == r.CustomerID && scope[part.lot.id] {
					got[key] = got[key].Sub(part.quantity)
				}
			}
		}
		for key, rest := range got {
			if !rest.IsZero() {
				m.t.Errorf("%s: %s got or sent back %s of lot %s too much", of, r.Name, rest, key)
			}
		}
	}
}

// near allows for the twelfth digit of a conversion, no more.
func near(a, b decimal.Decimal) bool { return a.Sub(b).Abs().LessThan(decimal.New(1, -9)) }

// nearly allows for what is unexplained being rounded to a millionth.
func nearly(a, b decimal.Decimal) bool { return a.Sub(b).Abs().LessThan(decimal.New(1, -6)) }

func (m *maze) checkPacket(p *domain.Packet, start set) {
	m.t.Helper()
	of, ids := fmt.Sprintf("packet %s", p.Request.ID), set{}
	for _, l := range p.Lots {
		ids[l.ID] = true
	}
	scope := m.down(m.up(start))
	m.same(of, "lots", ids, scope)
	beds, deliveries := set{}, set{}
	for _, d := range p.InputLots {
		deliveries[d.ID] = true
	}
	for _, b := range p.Beds {
		beds[b.ID] = true
	}
	wantBeds := set{}
	for id := range scope {
		for _, bed := range m.byID[id].beds {
			wantBeds[bed] = true
		}
	}
	m.same(of, "beds", beds, wantBeds)
	m.same(of, "deliveries", deliveries, m.groundOf(scope).deliveries)
	for _, move := range p.Moves {
		if move.Kind != domain.MoveReturn && (move.CustomerID == m.customers[3]) != (move.Kind == domain.MoveDonation) {
			m.t.Errorf("%s: %s to customer %s; the food bank is %s", of, move.Kind, move.CustomerID, m.customers[3])
		}
	}
	for n, b := range p.Balance() {
		l := m.byID[p.Lots[n].ID]
		if l == nil || l.code != b.Lot {
			m.t.Errorf("%s balances lot %s, which is not of this farm", of, b.Lot)
			continue
		}
		m.sum.balanced.Add(1)
		s := m.sums(l)
		if !b.Closed() || b.Unit != l.unit || !b.Made.Equal(l.made) || !near(b.OnHand, s.onHand) || !near(b.PackedOn, s.packedOn) || !near(b.Shipped, s.shipped) ||
			!near(b.Returned, s.returned) || !near(b.Disposed, s.disposed) {
			m.t.Errorf("%s: balance %+v, want %s %s made, %+v", of, b, l.made, l.unit, s)
		}
	}
}
