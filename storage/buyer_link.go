package storage

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"github.com/shopspring/decimal"

	"croftmark/domain"
)

// decideBuyerLink lets a link show only shipments to that buyer and lots that went to him.
func (w *writing) decideBuyerLink(l *domain.BuyerLink) error {
	refs, err := w.refs(append([]uuid.UUID{l.CustomerID}, l.ShipmentIDs...)...)
	if err != nil {
		return err
	}
	var p domain.Problems
	need(&p, refs, "/customer_id", "customer", l.CustomerID)
	for i, id := range l.ShipmentIDs {
		at := "/shipment_ids/" + itoa(i)
		if !need(&p, refs, at, "shipment", id) {
			continue
		}
		var s domain.Shipment
		if err := refs[id].into(&s); err != nil {
			return err
		}
		p.Check(s.CustomerID == l.CustomerID, at, "That shipment went to somebody else.")
	}
	if err := p.Err(); err != nil || len(l.Lots) == 0 {
		return err
	}
	return w.lotsOfBuyer(l)
}

// lotsOfBuyer finds the lots behind the codes. A lot that went to others only is answered like one that is not there.
func (w *writing) lotsOfBuyer(l *domain.BuyerLink) error {
	codes := make([]string, len(l.Lots))
	for i, text := range l.Lots {
		code, err := domain.ParseCode(text)
		if err != nil {
			return err
		}
		codes[i], l.Lots[i] = code.Lot, code.Lot
	}
	rows, err := w.tx.Query(w.ctx, `select l.code, l.id from lots l where l.farm_id = $1 and l.code = any($2)
		and exists (select from shipment_lines s where s.farm_id = $1 and s.lot_id = l.id and s.customer_id = $3)`, w.actor.FarmID, codes, l.CustomerID)
	if err != nil {
		return err
	}
	type lot struct {
		Code string
		ID   uuid.UUID
	}
	list, err := pgx.CollectRows(rows, pgx.RowToStructByPos[lot])
	if err != nil {
		return err
	}
	known := map[string]uuid.UUID{}
	for _, x := range list {
		known[x.Code] = x.ID
	}
	var p domain.Problems
	l.LotIDs = nil
	for i, code := range codes {
		id, ok := known[code]
		p.Check(ok, "/lots/"+itoa(i), "Nothing of lot %s went to that buyer.", code)
		l.LotIDs = append(l.LotIDs, id)
	}
	return p.Err()
}

// addressLength gives 160 random bits: more than anybody can try.
const addressLength = 32

// NewBuyerAddress makes the secret part of the address of a link; the one before ends. Only its hash is kept.
func (db *DB) NewBuyerAddress(r Reading, link uuid.UUID) (string, domain.BuyerLink, error) {
	l, err := db.openLink(r, link)
	if err != nil {
		return "", l, err
	}
	secret := randomKey(addressLength)
	hash := sha256.Sum256([]byte(secret))
	err = db.access(r.Ctx, r.Farm, func(tx pgx.Tx) error {
		_, err := tx.Exec(r.Ctx, `insert into buyer_addresses (farm_id, link_id, hash, made_at) values ($1, $2, $3, $4)
			on conflict (farm_id, link_id) do update set hash = excluded.hash, made_at = excluded.made_at`, r.Farm, link, hash[:], db.instant())
		return err
	})
	return secret, l, err
}

// openLink reads a link that still opens: neither void nor past its last day. What does not open is not found.
func (db *DB) openLink(r Reading, link uuid.UUID) (l domain.BuyerLink, err error) {
	none := domain.NotFound("buyer link", link.String())
	rec, err := db.ReadRecord(r.Ctx, r.Farm, "buyer-link", link)
	if err != nil {
		return l, err
	}
	if err := json.Unmarshal(rec.Body, &l); err != nil {
		return l, err
	}
	today, _, err := db.Today(r)
	if err == nil && (rec.Voided || today.After(l.ExpiresOn)) {
		return domain.BuyerLink{}, none
	}
	return l, err
}

// BuyerView is what a buyer sees through a link: what went to him and came back, and nothing of anybody else.
type BuyerView struct {
	Farm     uuid.UUID
	Customer string
	Expires  domain.Date
	Lines    []BuyerLine
}

// BuyerLine is so much of a lot on one paper.
type BuyerLine struct {
	LotCode   string
	Crates    []int
	Quantity  domain.Quantity
	At        time.Time
	Reference string
	Back      bool
}

// BuyerView opens a link by the secret part of its address. Wrong, void and ended addresses are all the same answer.
func (db *DB) BuyerView(ctx context.Context, secret string) (v BuyerView, err error) {
	hash := sha256.Sum256([]byte(secret))
	var link uuid.UUID
	err = db.pool.QueryRow(ctx, `select farm_id, link_id from croftmark_buyer_link($1)`, hash[:]).Scan(&v.Farm, &link)
	if err == pgx.ErrNoRows {
		return BuyerView{}, domain.NotFound("buyer link", "")
	}
	if err != nil {
		return BuyerView{}, translate(err)
	}
	r := Reading{ctx, v.Farm}
	l, err := db.openLink(r, link)
	if err != nil {
		return BuyerView{}, err
	}
	v.Expires = l.ExpiresOn
	err = db.read(ctx, v.Farm, func(tx pgx.Tx) error {
		if err := tx.QueryRow(ctx, `select body ->> 'name' from records where farm_id = $1 and id = $2`, v.Farm, l.CustomerID).Scan(&v.Customer); err != nil {
			return err
		}
		v.Lines, err = buyerLines(r, tx, l)
		return err
	})
	return v, err
}

// buyerLines reads what moved between the farm and the buyer of a link: of its shipments, with what came back of the lots
// on them, and of its lots.
func buyerLines(r Reading, tx pgx.Tx, l domain.BuyerLink) ([]BuyerLine, error) {
	rows, err := tx.Query(r.Ctx, `
		with shown as (
			select distinct lot_id from shipment_lines where farm_id = $1 and customer_id = $2 and (record_id = any($3) or lot_id = any($4)))
		select l.code, coalesce(array_agg(s.crate order by s.crate) filter (where s.crate > 0), '{}'), sum(s.quantity)::text, l.unit, s.at, s.reference, s.direction = 'back'
		from shipment_lines s join lots l on l.farm_id = $1 and l.id = s.lot_id
		where s.farm_id = $1 and s.customer_id = $2 and (s.record_id = any($3) or s.lot_id = any($4)
			or s.direction = 'back' and s.lot_id in (select lot_id from shown))
		group by s.record_id, l.code, l.unit, s.at, s.reference, s.direction order by s.at, l.code`,
		r.Farm, l.CustomerID, orNone(l.ShipmentIDs), orNone(l.LotIDs))
	if err != nil {
		return nil, err
	}
	return pgx.CollectRows(rows, func(row pgx.CollectableRow) (x BuyerLine, err error) {
		var quantity string
		if err := row.Scan(&x.LotCode, &x.Crates, &quantity, &x.Quantity.Unit, &x.At, &x.Reference, &x.Back); err != nil {
			return x, err
		}
		x.Quantity.Value = decimal.RequireFromString(quantity)
		return x, nil
	})
}

// orNone is an empty list instead of none, which SQL would take for unknown.
func orNone(ids []uuid.UUID) []uuid.UUID {
	if ids == nil {
		return []uuid.UUID{}
	}
	return ids
}
