package storage

import (
	"context"

	"github.com/jackc/pgx/v5"

	"croftmark/domain"
)

// NewCalendarAddress makes the secret part of the address of the actor's own calendar; the one before ends. Only its hash
// is kept.
func (db *DB) NewCalendarAddress(ctx context.Context, actor Actor) (string, error) {
	secret := randomKey(addressLength)
	err := db.access(ctx, actor.FarmID, func(tx pgx.Tx) error {
		_, err := tx.Exec(ctx, `insert into calendar_addresses (farm_id, person_id, hash, made_at) values ($1, $2, $3, $4)
			on conflict (farm_id, person_id) do update set hash = excluded.hash, made_at = excluded.made_at`,
			actor.FarmID, actor.PersonID, hashOf(secret), db.instant())
		return err
	})
	return secret, err
}

// EndCalendarAddress ends the address of the actor's calendar, if there is one.
func (db *DB) EndCalendarAddress(ctx context.Context, actor Actor) error {
	return db.access(ctx, actor.FarmID, func(tx pgx.Tx) error {
		_, err := tx.Exec(ctx, `delete from calendar_addresses where farm_id = $1 and person_id = $2`, actor.FarmID, actor.PersonID)
		return err
	})
}

// CalendarOf finds whose calendar an address is. It opens nothing but the calendar, and shows no more than a reader sees;
// it ends with the person's time. Unknown and ended addresses are the same answer.
func (db *DB) CalendarOf(ctx context.Context, secret string) (a Actor, err error) {
	var body []byte
	var voided bool
	var zone string
	none := domain.NotFound("calendar", "at this address")
	err = db.pool.QueryRow(ctx, `select farm_id, person, voided, time_zone from croftmark_calendar($1)`, hashOf(secret)).Scan(&a.FarmID, &body, &voided, &zone)
	if err == pgx.ErrNoRows {
		return Actor{}, none
	}
	if err != nil {
		return Actor{}, translate(err)
	}
	active, err := a.become(body, voided, zone, domain.Reader, db.instant())
	if err == nil && !active {
		err = none
	}
	if err != nil {
		return Actor{}, err
	}
	return a, nil
}
