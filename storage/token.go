package storage

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"croftmark/domain"
)

// Token is what is kept of a token: everything but itself.
type Token struct {
	ID        uuid.UUID
	PersonID  uuid.UUID
	Label     string
	Role      domain.Role // the most that may be done with it; whatever the person may do when empty
	CreatedAt time.Time
	ExpiresAt time.Time
	RevokedAt time.Time
}

// newSecret makes a credential and the hash that is kept of it. It has 160 random bits, so a plain hash is enough.
func newSecret(prefix string) (secret string, hash []byte) {
	raw := make([]byte, 20)
	rand.Read(raw) // never fails, crypto/rand
	secret = prefix + keyAlphabet.EncodeToString(raw)
	return secret, hashOf(secret)
}

func hashOf(secret string) []byte {
	sum := sha256.Sum256([]byte(secret))
	return sum[:]
}

// orNull gives null for no time.
func orNull(at time.Time) *time.Time {
	if at.IsZero() {
		return nil
	}
	return &at
}

func orZero(at *time.Time) time.Time {
	if at == nil {
		return time.Time{}
	}
	return *at
}

// access runs a change of who may come in. It adds nothing to the book; row-level security shows the one farm.
func (db *DB) access(ctx context.Context, farm uuid.UUID, fn func(pgx.Tx) error) error {
	return db.transact(ctx, farm, "begin", planEach, nil, fn)
}

// NewToken gives a person a token. Only its hash is kept.
func (db *DB) NewToken(ctx context.Context, actor Actor, t Token) (string, error) {
	token, hash := newSecret("cm_")
	if t.ID == uuid.Nil {
		t.ID = uuid.Must(uuid.NewV7())
	}
	err := db.access(ctx, actor.FarmID, func(tx pgx.Tx) error {
		tag, err := tx.Exec(ctx, `insert into tokens (hash, id, farm_id, person_id, label, created_at, expires_at, role)
			select $1, $2, farm_id, id, $5, $6, $7, nullif($8, '') from records where farm_id = $3 and id = $4 and kind = 'person' and not voided`,
			hash, t.ID, actor.FarmID, t.PersonID, t.Label, db.instant(), orNull(t.ExpiresAt), string(t.Role))
		if err == nil && tag.RowsAffected() == 0 {
			err = domain.NotFound("person", t.PersonID.String())
		}
		return err
	})
	if err != nil {
		return "", err
	}
	return token, nil
}

// Tokens lists the farm's tokens, newest first, with those that have ended.
func (db *DB) Tokens(r Reading) (out []Token, err error) {
	err = db.read(r.Ctx, r.Farm, func(tx pgx.Tx) error {
		rows, err := tx.Query(r.Ctx, `select id, person_id, label, coalesce(role, ''), created_at, expires_at, revoked_at
			from tokens where farm_id = $1 order by created_at desc, id desc`, r.Farm)
		if err != nil {
			return err
		}
		out, err = pgx.CollectRows(rows, func(row pgx.CollectableRow) (t Token, err error) {
			var expires, revoked *time.Time
			err = row.Scan(&t.ID, &t.PersonID, &t.Label, &t.Role, &t.CreatedAt, &expires, &revoked)
			t.ExpiresAt, t.RevokedAt = orZero(expires), orZero(revoked)
			return t, err
		})
		return err
	})
	return out, err
}

// RevokeToken ends a token, and with it the sessions it opened. What was written with it stays in the book. A token that
// has been revoked stays so.
func (db *DB) RevokeToken(ctx context.Context, actor Actor, id uuid.UUID) error {
	return db.access(ctx, actor.FarmID, func(tx pgx.Tx) error {
		tag, err := tx.Exec(ctx, `update tokens set revoked_at = coalesce(revoked_at, $3) where farm_id = $1 and id = $2`, actor.FarmID, id, db.instant())
		if err == nil && tag.RowsAffected() == 0 {
			err = domain.NotFound("token", id.String())
		}
		return err
	})
}

func notSignedIn() error {
	return domain.Refuse(domain.CodeNotSignedIn, "Sign in first", "This needs a token of a person of the farm; the one sent is unknown or has ended.")
}

// SignedIn finds who a token belongs to. An unknown, revoked or expired token, and a person whose time has ended, are
// all the same answer. It is one trip to the database.
func (db *DB) SignedIn(ctx context.Context, token string) (Actor, error) {
	var a Actor
	var bound domain.Role
	var expires *time.Time
	var body []byte
	var voided bool
	var zone string
	err := db.pool.QueryRow(ctx, `select farm_id, token_id, label, coalesce(role, ''), expires_at, person, voided, time_zone from croftmark_signed_in($1)`,
		hashOf(token)).Scan(&a.FarmID, &a.Shown.ID, &a.Shown.Label, &bound, &expires, &body, &voided, &zone)
	if err == pgx.ErrNoRows {
		return Actor{}, notSignedIn()
	}
	if err != nil {
		return Actor{}, translate(err)
	}
	a.Shown.ExpiresAt = orZero(expires)
	now := db.instant()
	if expires != nil && !now.Before(*expires) {
		return Actor{}, notSignedIn()
	}
	if active, err := a.become(body, voided, zone, bound, now); err != nil || !active {
		return Actor{}, orNotSignedIn(err)
	}
	return a, nil
}

func orNotSignedIn(err error) error {
	if err == nil {
		err = notSignedIn()
	}
	return err
}

// become fills in the person, unless their time has ended by the farm's calendar.
func (a *Actor) become(body []byte, voided bool, zone string, bound domain.Role, now time.Time) (active bool, err error) {
	var p domain.Person
	if err := (ref{Body: body}).into(&p); err != nil {
		return false, err
	}
	at, err := domain.Zone(zone)
	if err != nil {
		return false, err
	}
	a.PersonID, a.Role, a.Language = p.ID, p.Role.Lesser(bound), p.Language
	return !voided && p.Active(domain.DateIn(now, at)), nil
}
