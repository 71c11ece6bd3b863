package storage

import (
	"slices"
	"strings"

	"github.com/google/uuid"

	"croftmark/domain"
)

// hand is what a person did with the lots of a packet, and the last day of it.
type hand struct {
	did  []string
	last domain.Date
}

// handled notes who did something with a lot on a day.
func (b *packetBuilder) handled(people []uuid.UUID, did string, on domain.Date) {
	if b.hands == nil {
		b.hands = map[uuid.UUID]*hand{}
	}
	for _, id := range people {
		h := b.hands[id]
		if h == nil {
			h = &hand{}
			b.hands[id] = h
		}
		if !slices.Contains(h.did, did) {
			h.did = append(h.did, did)
		}
		h.last = domain.Later(h.last, on)
	}
}

// fillHands writes who handled the lots, by initials, with the last training on record before the last day of it.
func (b *packetBuilder) fillHands() error {
	var people []uuid.UUID
	var days []domain.Date
	for id, h := range b.hands {
		people, days = append(people, id), append(days, h.last)
	}
	rows, err := trainedBy(b.r, b.tx, people, days)
	if err != nil {
		return err
	}
	for _, x := range rows {
		h := b.hands[x.ID]
		b.p.People = append(b.p.People, domain.PacketPerson{Code: x.Initials, Did: strings.Join(h.did, ", "), TrainedOn: x.LastOn, LastOn: h.last})
	}
	slices.SortFunc(b.p.People, func(x, y domain.PacketPerson) int {
		return strings.Compare(x.Code+x.LastOn.String()+x.Did, y.Code+y.LastOn.String()+y.Did)
	})
	return nil
}
