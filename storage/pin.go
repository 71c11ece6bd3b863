package storage

import (
	"context"
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"fmt"
	"strings"
	"time"

	"github.com/google/uuid"
	"github.com/jackc/pgx/v5"
	"golang.org/x/crypto/argon2"

	"croftmark/domain"
)

// Argon2id with 19 MiB, two passes and one lane: the least that the OWASP Password Storage Cheat Sheet asks for [memory].
// A small computer on a farm does it in some tens of milliseconds. It does not make four digits strong against somebody
// who holds the database; the growing wait is what keeps a finder of the phone out.
const (
	argonMemory = 19 * 1024 // KiB
	argonPasses = 2
	argonLanes  = 1
	argonKey    = 32
	argonFormat = "$argon2id$v=%d$m=%d,t=%d,p=%d$"
)

// hashing bounds how many PINs are hashed at once, because each takes its memory.
var hashing = make(chan struct{}, 2)

func argon(pin string, salt []byte, passes, memory uint32, lanes uint8) []byte {
	hashing <- struct{}{}
	defer func() { <-hashing }()
	return argon2.IDKey([]byte(pin), salt, passes, memory, lanes, argonKey)
}

// hashPIN gives the text that is kept of a PIN.
func hashPIN(pin string) string {
	salt := make([]byte, 16)
	rand.Read(salt) // never fails, crypto/rand
	key := argon(pin, salt, argonPasses, argonMemory, argonLanes)
	return fmt.Sprintf(argonFormat, argon2.Version, argonMemory, argonPasses, argonLanes) +
		base64.RawStdEncoding.EncodeToString(salt) + "$" + base64.RawStdEncoding.EncodeToString(key)
}

// samePIN compares a PIN with what is kept of one, with the cost that was used then.
func samePIN(kept, pin string) (bool, error) {
	var version int
	var memory, passes uint32
	var lanes uint8
	parts := strings.Split(kept, "$")
	if len(parts) != 6 {
		return false, fmt.Errorf("a kept PIN has %d parts", len(parts))
	}
	if _, err := fmt.Sscanf(strings.Join(parts[:4], "$")+"$", argonFormat, &version, &memory, &passes, &lanes); err != nil {
		return false, fmt.Errorf("a kept PIN can't be read: %w", err)
	}
	salt, err := base64.RawStdEncoding.DecodeString(parts[4])
	if err != nil {
		return false, err
	}
	want, err := base64.RawStdEncoding.DecodeString(parts[5])
	if err != nil {
		return false, err
	}
	return subtle.ConstantTimeCompare(argon(pin, salt, passes, memory, lanes), want) == 1, nil
}

const setPIN = `insert into pins (farm_id, person_id, hash, set_at) values ($1, $2, $3, $4)
	on conflict (farm_id, person_id) do update set hash = excluded.hash, set_at = excluded.set_at, failures = 0, locked_until = null`

// SetPIN gives a person a PIN, or a new one; wrong tries before it are forgotten.
func (db *DB) SetPIN(ctx context.Context, actor Actor, person uuid.UUID, pin string) error {
	var p domain.Problems
	domain.CheckPIN(&p, "/pin", pin)
	if err := p.Err(); err != nil {
		return err
	}
	hash := hashPIN(pin)
	return db.access(ctx, actor.FarmID, func(tx pgx.Tx) error {
		var there bool
		err := tx.QueryRow(ctx, `select exists (select from records where farm_id = $1 and id = $2 and kind = 'person' and not voided)`, actor.FarmID, person).Scan(&there)
		if err != nil {
			return err
		}
		if !there {
			return domain.NotFound("person", person.String())
		}
		_, err = tx.Exec(ctx, setPIN, actor.FarmID, person, hash, db.instant())
		return err
	})
}

// Known is a person that a shared phone may offer to switch to.
type Known struct {
	ID       uuid.UUID
	Name     string
	Initials string
	Role     domain.Role
}

// WithPIN lists the people who can switch on a shared phone, by name.
func (db *DB) WithPIN(r Reading) (out []Known, err error) {
	err = db.read(r.Ctx, r.Farm, func(tx pgx.Tx) error {
		rows, err := tx.Query(r.Ctx, `select p.body, (select body ->> 'time_zone' from records where farm_id = $1 and id = $1)
			from pins k join records p on p.farm_id = k.farm_id and p.id = k.person_id
			where k.farm_id = $1 and not p.voided order by p.body ->> 'name', p.id`, r.Farm)
		if err != nil {
			return err
		}
		now := db.instant()
		people, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (k *Known, err error) {
			var body []byte
			var zone string
			if err := row.Scan(&body, &zone); err != nil {
				return nil, err
			}
			var a Actor
			var p domain.Person
			if active, err := a.become(body, false, zone, "", now); err != nil || !active {
				return nil, err
			}
			err = (ref{Body: body}).into(&p)
			return &Known{p.ID, p.Name, p.Initials, p.Role}, err
		})
		for _, k := range people {
			if k != nil {
				out = append(out, *k)
			}
		}
		return err
	})
	return out, err
}

// Switch puts a person at a shared phone, if the PIN is theirs. A wrong try is counted and makes the next one wait; the
// row is locked while it is looked at, so that tries at the same time are counted one by one.
func (db *DB) Switch(ctx context.Context, s Session, person uuid.UUID, pin string) error {
	now := db.instant()
	var refusal error
	err := db.access(ctx, s.FarmID, func(tx pgx.Tx) error {
		var kept string
		var failures int
		var locked *time.Time
		var body []byte
		var zone string
		err := tx.QueryRow(ctx, `select k.hash, k.failures, k.locked_until, p.body, (select body ->> 'time_zone' from records where farm_id = $1 and id = $1)
			from pins k join records p on p.farm_id = k.farm_id and p.id = k.person_id and not p.voided
			where k.farm_id = $1 and k.person_id = $2 for update of k`, s.FarmID, person).Scan(&kept, &failures, &locked, &body, &zone)
		if err == pgx.ErrNoRows {
			return domain.NotFound("person with a PIN", person.String())
		}
		if err != nil {
			return err
		}
		var a Actor
		if active, err := a.become(body, false, zone, s.Role, now); err != nil || !active {
			if err == nil {
				err = domain.NotFound("person with a PIN", person.String())
			}
			return err
		}
		if refusal = resting(failures, locked, now); refusal != nil {
			return nil
		}
		right, err := samePIN(kept, pin)
		if err != nil {
			return err
		}
		if !right {
			refusal = wrongPIN(failures + 1)
			_, err = tx.Exec(ctx, `update pins set failures = $3, locked_until = $4 where farm_id = $1 and person_id = $2`,
				s.FarmID, person, failures+1, orNull(now.Add(domain.PINDelay(failures+1))))
			return err
		}
		if _, err := tx.Exec(ctx, `update pins set failures = 0, locked_until = null where farm_id = $1 and person_id = $2`, s.FarmID, person); err != nil {
			return err
		}
		_, err = tx.Exec(ctx, `update sessions set person_id = $3, person_until = $4 where farm_id = $1 and id = $2`, s.FarmID, s.ID, person, now.Add(shiftTime))
		return err
	})
	if err != nil {
		return err
	}
	return refusal
}

// resting refuses a try before its time, whether it would have been right or not.
func resting(failures int, locked *time.Time, now time.Time) error {
	if failures >= domain.PINTries {
		return domain.Refuse(domain.CodeTooMany, "PIN ended", "After %d wrong tries this PIN has ended. Ask the owner for a new one.", failures)
	}
	if locked == nil || !now.Before(*locked) {
		return nil
	}
	wait := locked.Sub(now)
	e := domain.Refuse(domain.CodeTooMany, "Wait before the next try", "Too many wrong tries. Try again in %d seconds.", int(wait.Seconds())+1)
	e.After = wait
	return e
}

func wrongPIN(failures int) error {
	detail := "That is not the PIN of this person. Nobody new is at the phone."
	if wait := domain.PINDelay(failures); wait > 0 {
		detail = fmt.Sprintf("%s The next try can be made in %d seconds.", detail, int(wait.Seconds()))
	}
	return domain.Refuse(domain.CodeNotAllowed, "Wrong PIN", "%s", detail)
}
