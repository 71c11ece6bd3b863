package storage

import (
	"encoding/json"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"croftmark/domain"
)

// recordIn gives the record as one of its entries wrote it; a void writes none.
func recordIn(e *domain.Entry) (kind string, record json.RawMessage, err error) {
	switch e.EntryKind {
	case "void":
		return "", nil, nil
	case "correction":
		var body correctionBody
		err := json.Unmarshal(e.Body, &body)
		return body.RecordKind, body.Record, err
	}
	return e.EntryKind, e.Body, nil
}

// formerMove keeps the customer and the paper that a shipment was first written or corrected with.
func (b *packetBuilder) formerMove(e *domain.Entry) error {
	kind, record, err := recordIn(e)
	if err != nil || kind != "shipment" {
		return err
	}
	var s domain.Shipment
	if err := json.Unmarshal(record, &s); err != nil {
		return err
	}
	b.p.Former.Moves = append(b.p.Former.Moves, domain.PacketMove{ID: s.ID, Kind: domain.MoveShipment, CustomerID: s.CustomerID, Reference: s.Reference})
	return nil
}

// formerCustomers keeps every name and address under which the book has known the customers of the lots, also those whose
// shipments were voided or were somebody else's.
func (b *packetBuilder) formerCustomers(about map[uuid.UUID]uuid.UUID) error {
	var ids []uuid.UUID
	for _, customer := range about {
		ids = append(ids, customer)
	}
	for _, m := range b.p.Former.Moves {
		ids = append(ids, m.CustomerID)
	}
	rows, err := b.tx.Query(b.r.Ctx, `select leaf from book_entries where farm_id = $1 and record_id = any($2) order by seq`, b.r.Farm, ids)
	if err != nil {
		return err
	}
	entries, err := pgx.CollectRows(rows, scanEntry)
	if err != nil {
		return err
	}
	for _, e := range entries {
		kind, record, err := recordIn(e)
		if err != nil {
			return err
		}
		if kind != "customer" { // the reviews of it
			continue
		}
		var c domain.Customer
		if err := json.Unmarshal(record, &c); err != nil {
			return err
		}
		b.p.Former.Customers = append(b.p.Former.Customers, packetCustomer(&c))
	}
	return nil
}

func packetCustomer(c *domain.Customer) domain.PacketCustomer {
	return domain.PacketCustomer{ID: c.ID, Name: c.Name, Is: c.Is, Contact: c.Contact, Phone: c.Phone, Email: c.Email, Address: c.Address}
}
