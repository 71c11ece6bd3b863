package storage

import (
	"context"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"

	"croftmark/domain"
)

// Session is a phone that stays signed in by a cookie, without the cookie's secret.
type Session struct {
	ID          uuid.UUID
	FarmID      uuid.UUID
	Label       string
	Role        domain.Role // the most that anybody may do on it
	Shared      bool
	PersonID    uuid.UUID // who is at the phone; nobody when nil
	PersonUntil time.Time
	OpenedBy    uuid.UUID // whose token opened it
	CreatedAt   time.Time
	ExpiresAt   time.Time
	EndedAt     time.Time // revoked or left; also set when the token behind it was revoked
}

// A shared phone forgets who is at it after a working day, so that nobody signs the next morning's records in the name of
// whoever packed up last.
const (
	sessionTime = 180 * 24 * time.Hour
	shiftTime   = 12 * time.Hour
)

// OpenSession opens a session for the phone of the person signed in, with a token. On a shared phone nobody is signed in
// yet. It ends with its token.
func (db *DB) OpenSession(ctx context.Context, actor Actor, s Session) (secret string, made Session, err error) {
	now := db.instant()
	s.ID, s.FarmID, s.OpenedBy = uuid.Must(uuid.NewV7()), actor.FarmID, actor.PersonID
	s.CreatedAt, s.ExpiresAt, s.PersonUntil = now, now.Add(sessionTime), now.Add(sessionTime)
	if ends := actor.Shown.ExpiresAt; !ends.IsZero() && ends.Before(s.ExpiresAt) {
		s.ExpiresAt = ends
	}
	person := &actor.PersonID
	if s.Shared {
		person, s.PersonUntil = nil, now
	} else {
		s.PersonID = actor.PersonID
	}
	secret, hash := newSecret("cs_")
	err = db.access(ctx, actor.FarmID, func(tx pgx.Tx) error {
		_, err := tx.Exec(ctx, `insert into sessions (farm_id, id, hash, token_id, role, shared, label, person_id, person_until, created_at, expires_at)
			values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)`,
			s.FarmID, s.ID, hash, actor.Shown.ID, string(s.Role), s.Shared, s.Label, person, s.PersonUntil, s.CreatedAt, s.ExpiresAt)
		return err
	})
	return secret, s, err
}

// Session finds the session of a cookie, and who is at the phone: an actor without a person when nobody is.
func (db *DB) Session(ctx context.Context, secret string) (s Session, a Actor, err error) {
	var body []byte
	var voided bool
	var zone string
	var token domain.Role
	err = db.pool.QueryRow(ctx, `select farm_id, session_id, label, role, coalesce(token_role, ''), shared, expires_at, person_until, person, voided, time_zone from croftmark_session($1)`,
		hashOf(secret)).Scan(&s.FarmID, &s.ID, &s.Label, &s.Role, &token, &s.Shared, &s.ExpiresAt, &s.PersonUntil, &body, &voided, &zone)
	now := db.instant()
	switch {
	case err == pgx.ErrNoRows || err == nil && !now.Before(s.ExpiresAt):
		return Session{}, Actor{}, notSignedIn()
	case err != nil:
		return Session{}, Actor{}, translate(err)
	}
	s.Role = s.Role.Lesser(token)
	a = Actor{FarmID: s.FarmID, Shown: Credential{ID: s.ID, Session: true, Shared: s.Shared, Label: s.Label, ExpiresAt: s.ExpiresAt}}
	nobody := a
	if body == nil || !now.Before(s.PersonUntil) {
		return s, nobody, nil
	}
	active, err := a.become(body, voided, zone, s.Role, now)
	if err != nil {
		return Session{}, Actor{}, err
	}
	if !active {
		if !s.Shared {
			return Session{}, Actor{}, notSignedIn()
		}
		return s, nobody, nil
	}
	s.PersonID = a.PersonID
	return s, a, nil
}

// Sessions lists the farm's sessions, newest first, with those that have ended.
func (db *DB) Sessions(r Reading) (out []Session, err error) {
	err = db.read(r.Ctx, r.Farm, func(tx pgx.Tx) error {
		rows, err := tx.Query(r.Ctx, `select s.id, s.farm_id, s.label, s.role, s.shared, s.person_id, s.person_until, t.person_id, s.created_at, s.expires_at,
				least(s.ended_at, t.revoked_at)
			from sessions s join tokens t on t.farm_id = s.farm_id and t.id = s.token_id where s.farm_id = $1 order by s.created_at desc, s.id desc`, r.Farm)
		if err != nil {
			return err
		}
		now := db.instant()
		out, err = pgx.CollectRows(rows, func(row pgx.CollectableRow) (s Session, err error) {
			var person *uuid.UUID
			var ended *time.Time
			err = row.Scan(&s.ID, &s.FarmID, &s.Label, &s.Role, &s.Shared, &person, &s.PersonUntil, &s.OpenedBy, &s.CreatedAt, &s.ExpiresAt, &ended)
			if person != nil && now.Before(s.PersonUntil) {
				s.PersonID = *person
			}
			s.EndedAt = orZero(ended)
			return s, err
		})
		return err
	})
	return out, err
}

// EndSession ends a session. What was written under it stays in the book.
func (db *DB) EndSession(ctx context.Context, actor Actor, id uuid.UUID) error {
	return db.access(ctx, actor.FarmID, func(tx pgx.Tx) error {
		tag, err := tx.Exec(ctx, `update sessions set ended_at = coalesce(ended_at, $3) where farm_id = $1 and id = $2`, actor.FarmID, id, db.instant())
		if err == nil && tag.RowsAffected() == 0 {
			err = domain.NotFound("session", id.String())
		}
		return err
	})
}

// Leave says that nobody is at a shared phone any more.
func (db *DB) Leave(ctx context.Context, s Session) error {
	return db.access(ctx, s.FarmID, func(tx pgx.Tx) error {
		_, err := tx.Exec(ctx, `update sessions set person_id = null, person_until = $3 where farm_id = $1 and id = $2`, s.FarmID, s.ID, db.instant())
		return err
	})
}
