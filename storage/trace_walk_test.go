package storage_test

import (
	"maps"
	"slices"
	"time"

	"github.com/google/uuid"
	"github.com/shopspring/decimal"

	"croftmark/domain"
)

// with is what a customer has of a lot, or of one crate of it.
func (m *maze) with(customer uuid.UUID, l *mazeLot, crate string) (has decimal.Decimal) {
	for _, move := range m.moves {
		for _, part := range move.parts {
			if move.customer != customer || part.lot != l || (crate != "" && part.crate != crate) {
				continue
			}
			if move.back {
				has = has.Sub(part.quantity)
			} else {
				has = has.Add(part.quantity)
			}
		}
	}
	return has
}

// mazeSums is where the quantity of one lot went, in its own unit.
type mazeSums struct{ onHand, packedOn, shipped, returned, disposed decimal.Decimal }

func (m *maze) sums(l *mazeLot) (s mazeSums) {
	for _, child := range m.lots {
		s.packedOn = s.packedOn.Add(child.took[l])
	}
	for _, move := range m.moves {
		for _, part := range move.parts {
			switch {
			case part.lot != l:
			case move.back:
				s.returned = s.returned.Add(part.quantity)
			default:
				s.shipped = s.shipped.Add(part.quantity)
			}
		}
	}
	for _, d := range m.disposals {
		if d.lot == l {
			s.disposed = s.disposed.Add(d.quantity)
		}
	}
	s.onHand = l.made.Sub(s.packedOn).Sub(s.shipped).Add(s.returned).Sub(s.disposed)
	return s
}

func (m *maze) onHand(l *mazeLot) decimal.Decimal { return m.sums(l).onHand }

// set is ids or lots by what they are.
type set map[uuid.UUID]bool

// up and down walk from lots to all that went in, and to all that was made of them.
func (m *maze) up(start set) set {
	out := maps.Clone(start)
	for grew := true; grew; {
		grew = false
		for _, l := range m.lots {
			for parent := range l.took {
				if out[l.id] && !out[parent.id] {
					out[parent.id], grew = true, true
				}
			}
		}
	}
	return out
}

func (m *maze) down(start set) set {
	out := maps.Clone(start)
	for grew := true; grew; {
		grew = false
		for _, l := range m.lots {
			for parent := range l.took {
				if out[parent.id] && !out[l.id] {
					out[l.id], grew = true, true
				}
			}
		}
	}
	return out
}

// ground is a bed and all beds under it.
func (m *maze) ground(bed uuid.UUID) set {
	out := set{bed: true}
	for _, old := range m.over[bed] {
		maps.Copy(out, m.ground(old))
	}
	return out
}

// groundList is the ground of a bed in the order in which the beds were laid.
func (m *maze) groundList(bed uuid.UUID) (out []uuid.UUID) {
	for _, b := range m.beds {
		if m.ground(bed)[b] {
			out = append(out, b)
		}
	}
	return out
}

// reaches reports that an application was on the ground of a lot by its last day.
func (m *maze) reaches(a mazeApplication, l *mazeLot) bool {
	for _, bed := range l.beds {
		if !a.on.After(l.to) && (m.ground(bed)[a.bed] || (a.plot != uuid.Nil && m.plotOf[bed] == a.plot)) {
			return true
		}
	}
	return false
}

// source gives the deliveries of an application.
func (m *maze) source(a mazeApplication) []uuid.UUID {
	if a.batch != uuid.Nil {
		return m.wentInto[a.batch]
	}
	return ids(a.delivery)
}

type backSets struct{ lots, beds, deliveries, batches set }

// back is everything behind lots, through all that they were packed from.
func (m *maze) back(start set) backSets { return m.groundOf(m.up(start)) }

// groundOf is everything behind some lots by themselves.
func (m *maze) groundOf(lots set) backSets {
	out := backSets{lots, set{}, set{}, set{}}
	for id := range out.lots {
		l := m.byID[id]
		for _, bed := range l.beds {
			maps.Copy(out.beds, m.ground(bed))
		}
		if seed := m.seedOf[l.planting]; seed != uuid.Nil {
			out.deliveries[seed] = true
		}
		for _, a := range m.applications {
			if !m.reaches(a, l) {
				continue
			}
			for _, id := range m.source(a) {
				out.deliveries[id] = true
			}
			if a.batch != uuid.Nil {
				out.batches[a.batch] = true
			}
		}
	}
	return out
}

type forwardSets struct{ lots, shipments, customers set }

func (m *maze) forward(start set) forwardSets {
	out := forwardSets{m.down(start), set{}, set{}}
	for _, move := range m.moves {
		for _, part := range move.parts {
			if out.lots[part.lot.id] {
				out.customers[move.customer] = true
				if !move.back {
					out.shipments[move.id] = true
				}
			}
		}
	}
	return out
}

// where gives the lots that something is true of.
func (m *maze) where(is func(*mazeLot) bool) set {
	out := set{}
	for _, l := range m.lots {
		if is(l) {
			out[l.id] = true
		}
	}
	return out
}

func (m *maze) movedWhere(is func(*mazeMove) bool) set {
	out := set{}
	for _, move := range m.moves {
		for _, part := range move.parts {
			if is(move) {
				out[part.lot.id] = true
			}
		}
	}
	return out
}

func (m *maze) onBed(bed uuid.UUID) set {
	return m.where(func(l *mazeLot) bool {
		return slices.ContainsFunc(l.beds, func(b uuid.UUID) bool { return m.ground(b)[bed] })
	})
}

// ofCrop gives the lots that were cut on a day of a crop, or packed on it under that name or with some of that crop in them.
func (m *maze) ofCrop(name string, on domain.Date) set {
	return m.where(func(l *mazeLot) bool {
		if on.Before(l.from) || on.After(l.to) {
			return false
		}
		for id := range m.up(set{l.id: true}) {
			if in := m.byID[id]; in.name == name && (in == l || !in.packed()) {
				return true
			}
		}
		return false
	})
}

// ofWater gives the lots that the well reached while it ran between two hours: those it was used on, and those cut from ground
// it went on. The book takes in what was cut on the day before as well.
func (m *maze) ofWater(from, to time.Time) set {
	return m.where(func(l *mazeLot) bool {
		return slices.ContainsFunc(m.waters, func(w mazeWater) bool {
			on := domain.DateIn(w.from, m.zone()).AddDays(-1)
			return !w.from.After(to) && !w.to.Before(from) && (w.lot == l.id || m.reaches(mazeApplication{bed: w.bed, plot: w.plot, on: on}, l))
		})
	})
}

func (m *maze) ofDelivery(id uuid.UUID) set {
	return m.where(func(l *mazeLot) bool {
		return m.seedOf[l.planting] == id || slices.ContainsFunc(m.applications, func(a mazeApplication) bool {
			return slices.Contains(m.source(a), id) && m.reaches(a, l)
		})
	})
}
